"""What each command does.

What the commands of the command line do; :mod:`stoichkit.__main__` reads their options.

The command ``class``: the file of a class to its report, results and answer key.
"""

from __future__ import annotations

import argparse
import os
import secrets
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from .errors import DataFileError, ModelError

if TYPE_CHECKING:
    from .classroom.data import ClassData
    from .classroom.evidence import Progress
    from .classroom.result import ClassResult
    from .decision.evidence import Evidence
    from .experiments.record import Experiment

__all__ = [
    "DEMO_PICTURE",
    "add_class_parser",
    "run_class",
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
DEMO_PICTURE = Path("stoichkit-demo") / f"{_DEMO}.svg"
_PICTURE_FORMS = (".png", ".svg")


def run_demo(options: argparse.Namespace) -> None:
    """Show a ready lab with its verdict, table and budget, and what a coarser balance does."""
    from .decision.evidence import assess
    from .decision.sentences import verdict_sentences
    from .experiments import load
    from .reports.sections import budget_table, candidate_table
    from .text.document import text_part

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
        _save_demo(evidence, picture)
        print(f"Picture: {picture}")
    print(f"Next: python -m stoichkit copy {_DEMO} my-lab.toml, change the readings, then")
    print("      python -m stoichkit test my-lab.toml")


def _save_demo(evidence: Evidence, path: Path) -> None:
    """Save the picture of the demonstration; as SVG without waiting for matplotlib."""
    if path.suffix.lower() == ".png":
        _save_picture(evidence, path)
    else:
        from .plots.result import live_svg

        _write(path, lambda place: place.write_text(live_svg(evidence), encoding="utf-8"))


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
    from .reports.worked import style_of, worked_document

    _check_distinct({"FILE": Path(options.file), "--output": options.output})
    style = options.style or (style_of(options.output) if options.output else "text")
    evidence = _assessed(options)
    text = worked_document(evidence, style, trial=options.trial, yield_of=options.yield_of)
    _put(text, options.output)


def _assessed(options: argparse.Namespace) -> Evidence:
    from .decision.evidence import assess

    return assess(named_experiment(options.file), coverage=options.coverage)


def _put(text: str, output: Path | None) -> None:
    """Print a text, or write it to a file."""
    if output is None:
        print(text, end="")
    else:
        _write(output, lambda place: place.write_bytes(text.encode("utf-8")))


def _report(evidence: Evidence, options: argparse.Namespace) -> str:
    from .reports.lab import report_markdown, report_text

    page = options.output is not None and options.output.suffix.lower() in (".html", ".htm")
    form = options.format or ("html" if page else "text")
    if form == "html":
        from .reports.lab import lab_report_html

        return lab_report_html(evidence)
    if form == "text":
        return report_text(evidence)
    if options.picture is None:
        return report_markdown(evidence)
    from .plots.result import result_alt_text

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
    from .text.document import Table, text_part

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
    from .plots.result import save_picture

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
    from .guide.notebooks import copy_notebooks

    for path in copy_notebooks(options.folder, replace_file=options.force):
        print(path)


def run_guide(options: argparse.Namespace) -> None:
    """Print a page of the guide, or the names of all."""
    from .guide import page, pages

    print("\n".join(pages()) if options.page is None else page(options.page).rstrip())


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
    from .classroom.data import load_class
    from .classroom.export import export_answer_key, export_code_key, export_results
    from .classroom.result import assess_class_data
    from .reports.classroom import (
        class_report_text,
        group_report_text,
        write_class_report,
        write_group_report,
    )

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
    from .classroom.sentences import class_verdict_sentences, groups_sentence
    from .text.document import text_part

    return f"{text_part(class_verdict_sentences(result))}\n{text_part(groups_sentence(result))}\n"


def named_experiment(name: str) -> Experiment:
    """Return the experiment of a file, or the ready one of that name if there is no such file."""
    from .experiments import load, names
    from .experiments.store import load_experiment

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
    from .reports.classroom import checked_report_path

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
