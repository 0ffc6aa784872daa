"""What the commands of the command line do; :mod:`stoichkit.__main__` reads their options."""

# ruff: noqa: T201 - printing is what a command is for

from __future__ import annotations

import argparse
import os
import secrets
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from .errors import ModelError

if TYPE_CHECKING:
    from .evidence import Evidence

__all__ = [
    "DEMO_PICTURE",
    "run_copy",
    "run_demo",
    "run_guide",
    "run_list",
    "run_notebooks",
    "run_test",
    "run_worked",
]

_DEMO = "copper-silver"
_COARSE = "copper-silver-coarse"
DEMO_PICTURE = Path("stoichkit-demo") / f"{_DEMO}.png"
_PICTURE_FORMS = (".png", ".svg")


def run_demo(options: argparse.Namespace) -> None:
    """Show a ready lab with its verdict, table and budget, and what a coarser balance does."""
    from .evidence import assess
    from .experiments import load
    from .layout import text_part
    from .report import budget_table, candidate_table
    from .sentences import verdict_sentences

    picture: Path | None = None if options.no_picture else options.demo_picture or DEMO_PICTURE
    if picture is not None:
        _check_picture(picture)
    evidence = assess(load(_DEMO))
    print(f"{evidence.experiment.title}: a demonstration with invented readings\n")
    print(text_part(verdict_sentences(evidence)), end="\n\n")
    print(text_part(candidate_table(evidence)), end="\n\n")
    print(f"Where the uncertainty of the discrepancy from {evidence.nearest.name} comes from:\n")
    print(text_part(budget_table(evidence)), end="\n\n")
    coarse = assess(load(_COARSE))
    print("The same lab on a balance that shows 0.1 g instead of 0.01 g:")
    print(text_part(verdict_sentences(coarse)), end="\n\n")
    if picture is not None:
        if picture == DEMO_PICTURE:
            picture.parent.mkdir(exist_ok=True)
        _save_picture(evidence, picture)
        print(f"Picture: {picture}")
    print(f"Next: python -m stoichkit copy {_DEMO} my-lab.toml, change the readings, then")
    print("      python -m stoichkit test my-lab.toml")


def run_test(options: argparse.Namespace) -> None:
    """Test the candidates of an experiment file, and write the report."""
    picture: Path | None = options.picture
    if picture is not None:
        _check_picture(picture)
    _check_distinct({"FILE": Path(options.file), "--picture": picture, "--output": options.output})
    evidence = _assessed(options)
    if picture is not None:
        _save_picture(evidence, picture)
    _put(_report(evidence, options), options.output)


def run_worked(options: argparse.Namespace) -> None:
    """Write the worked solution of an experiment file."""
    from .worked_document import style_of, worked_document

    _check_distinct({"FILE": Path(options.file), "--output": options.output})
    style = options.style or (style_of(options.output) if options.output else "text")
    evidence = _assessed(options)
    text = worked_document(evidence, style, trial=options.trial, yield_of=options.yield_of)
    _put(text, options.output)


def _assessed(options: argparse.Namespace) -> Evidence:
    from .class_command import named_experiment
    from .evidence import assess

    return assess(named_experiment(options.file), coverage=options.coverage)


def _put(text: str, output: Path | None) -> None:
    """Print a text, or write it to a file."""
    if output is None:
        print(text, end="")
    else:
        _write(output, lambda place: place.write_bytes(text.encode("utf-8")))


def _report(evidence: Evidence, options: argparse.Namespace) -> str:
    from .report import report_markdown, report_text

    page = options.output is not None and options.output.suffix.lower() in (".html", ".htm")
    form = options.format or ("html" if page else "text")
    if form == "html":
        from .lab_report import lab_report_html

        return lab_report_html(evidence)
    if form == "text":
        return report_text(evidence)
    if options.picture is None:
        return report_markdown(evidence)
    from .plots import result_alt_text

    home = options.output.parent if options.output is not None else Path()
    try:
        where = os.path.relpath(options.picture, home)
    except ValueError:  # another drive
        where = options.picture.resolve().as_uri()
    return report_markdown(evidence, picture=where, alt_text=result_alt_text(evidence))


def run_list(options: argparse.Namespace) -> None:
    """List the ready experiments."""
    del options
    from .experiments import load, names
    from .layout import Table, text_part

    rows = []
    for name in names():
        experiment = load(name)
        readings = "invented" if experiment.invented else "as recorded"
        rows.append((name, experiment.title, str(len(experiment.candidates)), readings))
    print(text_part(Table(("Name", "What it is", "Candidates", "Readings"), tuple(rows))))


def run_copy(options: argparse.Namespace) -> None:
    """Copy a ready experiment to a file."""
    from .experiments import read

    text = read(options.name)
    target: Path = options.destination
    if target.is_dir():
        target = target / f"{options.name}.toml"
    _write(target, lambda place: place.write_bytes(text.encode("utf-8")), replace=options.force)
    print(f"Copied to {target}")


def _check_picture(path: Path) -> None:
    if path.suffix.lower() not in _PICTURE_FORMS:
        raise ModelError(
            "A picture cannot be saved in this form.",
            given=path.name,
            allowed=f"a name that ends in {' or '.join(_PICTURE_FORMS)}",
        )


def _check_distinct(paths: dict[str, Path | None]) -> None:
    """Refuse to write one file over another of the same run."""
    seen: dict[str, str] = {}
    for name, path in paths.items():
        if path is None:
            continue
        other = seen.setdefault(os.path.realpath(path), name)
        if other != name:
            raise ModelError(
                f"{other} and {name} are the same file.", given=str(path), fix="Give another name."
            )


def _save_picture(evidence: Evidence, path: Path) -> None:
    from .plots import save_picture

    _write(path, lambda place: save_picture(evidence, place))


def _write(path: Path, write: Callable[[Path], object], *, replace: bool = True) -> None:
    """Write a file whole or not at all, through a temporary file beside it."""
    temporary = path.with_name(f".{secrets.token_hex(8)}.part{path.suffix}")
    try:
        write(temporary)
        if replace:
            if path.exists():
                temporary.chmod(path.stat().st_mode & 0o777)
            os.replace(temporary, path)
        else:
            _place_new(temporary, path)
    except FileExistsError:
        raise ModelError(
            "There is a file of that name already.",
            given=str(path),
            fix="Choose another name, or add --force to replace it.",
        ) from None
    except OSError as error:
        reason = error.strerror or error
        raise OSError(error.errno, f"The file cannot be written: {reason}", str(path)) from error
    finally:
        temporary.unlink(missing_ok=True)


def _place_new(temporary: Path, path: Path) -> None:
    """Give a finished file its name unless that is taken."""
    try:
        os.link(temporary, path)
    except FileExistsError:
        raise
    except OSError:  # a file system without hard links
        with open(path, "xb") as file:
            file.write(temporary.read_bytes())


def run_notebooks(options: argparse.Namespace) -> None:
    """Copy the notebooks that come with the package."""
    from .shipped_notebooks import copy_notebooks

    for path in copy_notebooks(options.folder, replace_file=options.force):
        print(path)


def run_guide(options: argparse.Namespace) -> None:
    """Print a page of the guide, or the names of all."""
    from .guide import page, pages

    print("\n".join(pages()) if options.page is None else page(options.page).rstrip())
