"""The command ``class``: the file of a class to its report, results and answer key."""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path
from typing import Any

from .class_result import ClassResult, assess_class_data
from .classdata import ClassData
from .classevidence import Progress
from .errors import DataFileError, ModelError
from .experiment import Experiment

__all__ = ["add_class_parser", "run_class"]

_LARGE = 50
"""Classes of more groups tell their progress."""
_TABLES = (".csv", ".xlsx", ".html")


def add_class_parser(subparsers: Any) -> argparse.ArgumentParser:
    """Add the command to the subparsers of an argument parser, and return its parser.

    Examples
    --------
    >>> parser = argparse.ArgumentParser()
    >>> _ = add_class_parser(parser.add_subparsers())
    >>> parser.parse_args(["class", "class.csv", "--experiment", "copper-silver"]).codes
    False
    """
    parser: argparse.ArgumentParser = subparsers.add_parser(
        "class", help="assess the file of a class (CSV or XLSX), group by group and together"
    )
    parser.add_argument(
        "file",
        metavar="FILE",
        nargs="?",
        type=Path,
        help="readings, one row a trial; the invented class of the experiment if left out",
    )
    parser.add_argument(
        "--experiment",
        required=True,
        metavar="NAME_OR_FILE",
        help="a ready experiment, or an experiment file in TOML",
    )
    parser.add_argument("--coverage", type=float, help="coverage probability, 0.5 to 0.9999")
    parser.add_argument(
        "--out",
        metavar="PATH",
        type=Path,
        help="write the report to this .html or .md; it is shown as text if left out",
    )
    parser.add_argument("--group", metavar="NAME", help="report and answer key of one group only")
    parser.add_argument("--codes", action="store_true", help="call groups G01, G02, ... by codes")
    parser.add_argument(
        "--code-key", metavar="PATH", type=Path, help="which code is which group, to keep apart"
    )
    parser.add_argument(
        "--results", metavar="PATH", type=Path, help="results of each group (.csv, .xlsx, .html)"
    )
    parser.add_argument(
        "--key", metavar="PATH", type=Path, help="answer key of each group (.csv, .xlsx, .html)"
    )
    parser.add_argument("--note", default="", metavar="TEXT", help="a line below the title")
    parser.add_argument("--force", action="store_true", help="replace files that are there")
    return parser


def run_class(arguments: argparse.Namespace) -> None:
    """Do what the command line asks for; nothing is written if any name cannot be used.

    Parameters
    ----------
    arguments : argparse.Namespace
        As the parser of :func:`add_class_parser` returns it.

    Raises
    ------
    StoichkitError
        If the file, the experiment, a group or a place to write to cannot be used.
    """
    from .class_group_report import group_report_text, write_group_report
    from .class_report import class_report_text, write_class_report
    from .classdata import load_class
    from .classexport import export_answer_key, export_code_key, export_results

    _check_places(arguments)
    experiment = named_experiment(arguments.experiment)
    source, note = _source(arguments)
    data = load_class(source, experiment, codes=arguments.codes)
    assessing, told = _progress(data, "assessed"), _progress(data, "in the report")
    result = assess_class_data(data, coverage=arguments.coverage, progress=assessing)
    group: str | None = arguments.group
    written: list[Path] = []
    force = arguments.force
    if group is not None:
        result.group(group)  # refuse an unknown one before anything is written
    if arguments.out is not None and group is not None:
        out = write_group_report(result, group, arguments.out, replace_file=force, note=note)
        written.append(out)
    elif arguments.out is not None:
        out = write_class_report(
            result, arguments.out, replace_file=force, note=note, progress=told
        )
        written.append(out)
    if arguments.results is not None:
        written.append(export_results(result.evidence, arguments.results))
    if arguments.key is not None:
        groups = None if group is None else (group,)
        written.append(export_answer_key(data, arguments.key, groups=groups))
    if arguments.code_key is not None:
        written.append(export_code_key(data, arguments.code_key))
    if arguments.out is None:
        text = (
            class_report_text(result, note=note, progress=told)
            if group is None
            else group_report_text(result, group, note=note)
        )
        sys.stdout.write(text)
    else:
        sys.stdout.write(_short(result))
    for path in written:
        sys.stdout.write(f"Written: {path}\n")


def _short(result: ClassResult) -> str:
    from .class_sentences import class_verdict_sentences, groups_sentence
    from .layout import text_part

    return f"{text_part(class_verdict_sentences(result))}\n{text_part(groups_sentence(result))}\n"


def named_experiment(name: str) -> Experiment:
    """Return the experiment of a file, or the ready one of that name if there is no such file."""
    from .experiment_toml import load_experiment
    from .experiments import load, names

    ready = name in names() and not Path(name).exists()
    return load(name) if ready else load_experiment(name)


def _source(arguments: argparse.Namespace) -> tuple[Path | bytes, str]:
    """Return the file of the class, or the invented one, and the note below the title."""
    from .experiments import class_file

    if arguments.file is not None:
        return arguments.file, arguments.note
    return class_file(arguments.experiment), arguments.note or (
        "The readings are invented, for practice."
    )


def _check_places(arguments: argparse.Namespace) -> None:
    """Refuse to write over the class file, one file twice, or a file that is there."""
    from .class_report import checked_report_path

    if arguments.code_key is not None and not arguments.codes:
        raise ModelError("There is no key to codes without codes.", fix="Add --codes.")
    if arguments.out is not None:
        checked_report_path(arguments.out, replace_file=True)
    places = {
        "FILE": arguments.file,
        "--experiment": Path(arguments.experiment),
        "--out": arguments.out,
        "--results": arguments.results,
        "--key": arguments.key,
        "--code-key": arguments.code_key,
    }
    seen: dict[str, str] = {}
    for option, path in places.items():
        if path is None:
            continue
        other = seen.setdefault(os.path.realpath(path), option)
        if other != option:
            raise ModelError(
                f"{other} and {option} are the same file.",
                given=str(path),
                fix="Give another name.",
            )
        if not option.startswith("--") or option == "--experiment":
            continue
        if option != "--out" and path.suffix.casefold() not in _TABLES:
            raise DataFileError(
                f"The ending of the file name of {option} says no format.",
                given=path.name,
                allowed=", ".join(_TABLES),
            )
        if path.exists() and not arguments.force:
            raise DataFileError(
                "There is a file of that name already.",
                given=str(path),
                fix="Choose another name, or add --force to replace it.",
            )


def _progress(data: ClassData, what: str) -> Progress | None:
    """Return what tells the progress of a large class on stderr, at each tenth."""
    if len(data.names) <= _LARGE:
        return None
    last = 0

    def told(done: int, total: int) -> None:
        nonlocal last
        tenth = 10 * done // max(total, 1)
        if tenth != last:
            last = tenth
            sys.stderr.write(f"{10 * tenth} % of {len(data.names)} groups {what}\n")
            sys.stderr.flush()

    return told
