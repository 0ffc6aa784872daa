"""What several commands share: places to write to, forms, the experiment named."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from .._common import check_place, write_whole
from ..errors import DataFileError, ModelError
from ..text.document import FORMS

if TYPE_CHECKING:
    from ..decision.evidence import Evidence
    from ..experiments.record import Experiment

PICTURES = (".svg", ".png")
HANDED_IN = (".html", ".htm")
PAGES = (".txt", ".md", ".html", ".htm", ".tex", ".json")


def add_common(parser: argparse.ArgumentParser, what: str) -> None:
    """Add the options of commands that write one page."""
    parser.add_argument("--coverage", type=float, help="coverage probability, 0.5 to 0.9999")
    parser.add_argument(
        "--format",
        choices=tuple(FORMS),
        help="that of the output's ending (.txt, .md, .html, .tex, .json), text if left out",
    )
    parser.add_argument(
        "--output", "--out", metavar="PATH", type=Path, help=f"write {what} to this file"
    )
    parser.add_argument("--force", action="store_true", help="replace files that are there")


def form_asked(options: argparse.Namespace) -> str:
    """Return the form asked for, that of the output's ending, or plain text."""
    from ..text.document import form_of

    asked: str | None = options.format
    return asked or (form_of(options.output) if options.output is not None else "text")


def assessed(options: argparse.Namespace) -> Evidence:
    """Return the evidence of the experiment named."""
    from ..decision.evidence import assess

    return assess(named_experiment(options.file), coverage=options.coverage)


def put(text: str, options: argparse.Namespace) -> None:
    """Print a text, or write it to a file."""
    if options.output is None:
        print(text, end="")
    else:
        write_whole(options.output, text.encode("utf-8"), replace=options.force)


def named_experiment(name: str) -> Experiment:
    """Return the experiment of a file, or the ready one of that name if there is no such file.

    ``-`` is the text of a file on standard input.
    """
    from ..experiments import load, names
    from ..experiments.fields import MAX_BYTES
    from ..experiments.store import experiment_in, load_experiment

    if name == "-":
        return experiment_in(typed_in(MAX_BYTES), "standard input")
    ready = name in names() and not Path(name).exists()
    return load(name) if ready else load_experiment(name)


def add_experiment(parser: argparse.ArgumentParser) -> None:
    """Add the option that names the experiment of a class."""
    parser.add_argument(
        "--experiment",
        required=True,
        metavar="NAME_OR_FILE",
        help="a ready experiment, or an experiment file in TOML",
    )


def class_source(file: Path | None, experiment: str) -> Path | bytes:
    """Return the file of a class, or the invented class of a ready experiment."""
    from ..experiments import class_file

    return class_file(experiment) if file is None else file


def typed_in(most_bytes: int) -> bytes:
    """Return what stands on standard input, at most one byte more than is allowed."""
    if sys.stdin is None:
        raise DataFileError("Standard input is closed.", given="-", fix="Name a file.")
    return sys.stdin.buffer.read(most_bytes + 1)


def check_places(
    inputs: Mapping[str, str | Path | None],
    outputs: Mapping[str, tuple[Path | None, Sequence[str]]],
    *,
    replace: bool,
) -> None:
    """Refuse before any work to write over an input, one file twice, or a file that is there.

    Inputs and outputs go by their names on the command line; an output has the endings allowed.
    """
    seen = {_identity(path): name for name, path in inputs.items() if path is not None}
    for name, (path, endings) in outputs.items():
        if path is None:
            continue
        other = seen.setdefault(_identity(path), name)
        if other != name:
            raise ModelError(
                f"{other} and {name} are the same file.", given=str(path), fix="Give another name."
            )
        check_place(path, replace=replace, endings=endings)


def _identity(path: str | Path) -> object:
    """Return what two names of one file have in common, whether it is there or not."""
    try:
        found = os.stat(path)
    except OSError:
        return os.path.normcase(os.path.realpath(path))
    return found.st_dev, found.st_ino


def save_picture(evidence: Evidence, path: Path, *, replace: bool) -> None:
    """Draw the result of a lab to a file."""
    from ..plots import result

    result.save_picture(evidence, path, replace=replace)
