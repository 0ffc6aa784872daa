"""The command about a class."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..errors import DataFileError, ModelError
from .common import (
    PAGES,
    add_experiment,
    check_places,
    class_source,
    named_experiment,
    typed_in,
)

if TYPE_CHECKING:
    from ..classroom.choices import Choices
    from ..classroom.data import ClassData
    from ..classroom.evidence import Progress
    from ..classroom.result import ClassResult

_LARGE = 50
"""Classes of more groups tell their progress."""


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
        help="readings, one row a trial; - for standard input; the invented class of the "
        "experiment if left out",
    )
    add_experiment(parser)
    parser.add_argument(
        "--choices",
        metavar="PATH",
        type=Path,
        help="what was chosen about the file: columns, sheets, answers and decisions, in TOML",
    )
    parser.add_argument(
        "--column",
        metavar="READING=COLUMN",
        action="append",
        default=[],
        help="header or letter of the column of a reading, “group” or “trial”; again for others",
    )
    parser.add_argument("--sheet", metavar="NAME", help="the sheet of a workbook that is read")
    parser.add_argument(
        "--answer",
        metavar="KEY=ANSWER",
        action="append",
        default=[],
        help="answer to a question about the file, by its key; again for others",
    )
    parser.add_argument("--coverage", type=float, help="coverage probability, 0.5 to 0.9999")
    parser.add_argument(
        "--variation",
        metavar="SIZE",
        help="how much the groups truly differ: a percentage (standard deviation of the product "
        "from group to group), unknown, or none (by nothing but their readings); what the "
        "experiment says if left out, else unknown",
    )
    parser.add_argument(
        "--out",
        metavar="PATH",
        type=Path,
        help="write the report to this .html, .md, .txt, .tex or .json; shown as text if left out",
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
    parser.add_argument(
        "--next",
        dest="following",
        action="store_true",
        help="say in the report of the class how many more trials would let each group conclude",
    )
    parser.add_argument(
        "--groups",
        type=int,
        metavar="N",
        help="with --next: groups that there will be when all are in",
    )
    parser.add_argument("--note", default="", metavar="TEXT", help="a line below the title")
    parser.add_argument("--force", action="store_true", help="replace files that are there")
    parser.set_defaults(run=run_class)
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
    from ..classroom.choices import Choices, load_choices
    from ..classroom.data import load_class
    from ..classroom.export import export_answer_key, export_code_key, export_results
    from ..classroom.result import assess_class
    from ..classroom.review import review_class
    from ..experiments.parts import checked_between
    from ..reports.classroom import class_report, group_report
    from ..reports.following import class_following
    from ..text.sheets import ENDINGS

    if arguments.code_key is not None and not arguments.codes:
        raise ModelError("There is no key to codes without codes.", fix="Add --codes.")
    if arguments.groups is not None and not arguments.following:
        raise ModelError("How many groups there will be matters with --next.", fix="Add --next.")
    force = arguments.force
    outputs = {
        "--out": (arguments.out, PAGES),
        "--results": (arguments.results, ENDINGS),
        "--key": (arguments.key, ENDINGS),
        "--code-key": (arguments.code_key, ENDINGS),
    }
    inputs = {
        "FILE": arguments.file,
        "--experiment": arguments.experiment,
        "--choices": arguments.choices,
    }
    check_places(inputs, outputs, replace=force)
    between = checked_between(arguments.variation, "--variation")
    experiment = named_experiment(arguments.experiment)
    source, note = _source(arguments)
    choices = _with_answers(
        Choices() if arguments.choices is None else load_choices(arguments.choices),
        _pairs("--answer", arguments.answer),
    )
    data = load_class(
        source,
        experiment,
        codes=arguments.codes,
        choices=choices,
        columns=_pairs("--column", arguments.column) or None,
        sheet=arguments.sheet,
    )
    assessing, told = _progress(data, "assessed"), _progress(data, "in the report")
    result = assess_class(data, coverage=arguments.coverage, variation=between, progress=assessing)
    group: str | None = arguments.group
    written: list[Path] = []
    if group is None:
        following = (
            class_following(result, groups=arguments.groups) if arguments.following else None
        )
        found = None
        if data.choices.decisions:
            found = review_class(data, coverage=arguments.coverage, variation=between)
        report = class_report(result, note=note, progress=told, following=following, review=found)
    else:
        report = group_report(result, group, note=note)
    groups = None if group is None else (group,)
    text = report.text() if arguments.out is None else _short(result)
    data.names_kept.check(text)
    if arguments.out is not None:
        written.append(report.save(arguments.out, replace=force))
    if arguments.results is not None:
        written.append(export_results(result.evidence, arguments.results, replace=force))
    if arguments.key is not None:
        written.append(export_answer_key(result.data, arguments.key, replace=force, groups=groups))
    if arguments.code_key is not None:
        written.append(export_code_key(data, arguments.code_key, replace=force))
    sys.stdout.write(text)
    for asked in data.open_questions:
        sys.stderr.write(
            f"? {asked.text} Rows wait: {asked.where}. Answer with "
            + " or ".join(f"--answer “{asked.key}={one}”" for one in asked.answers)
            + ".\n"
        )
    for path in written:
        sys.stdout.write(f"Written: {path}\n")


def _pairs(option: str, given: Sequence[str]) -> dict[str, str]:
    """Return what stands before and behind the equals signs of an option given several times."""
    found = {}
    for text in given:
        name, equals, value = text.rpartition("=") if option == "--answer" else text.partition("=")
        if not equals or not name.strip() or not value.strip():
            raise ModelError(
                f"{option} is not a pair.",
                given=text,
                allowed="KEY=ANSWER" if option == "--answer" else "READING=COLUMN",
                fix="Put it in quotes if it holds spaces.",
            )
        found[name.strip()] = value.strip()
    return found


def _with_answers(choices: Choices, answers: Mapping[str, str]) -> Choices:
    from ..classroom.choices import AnswerGiven

    given = {key: AnswerGiven(text) for key, text in answers.items()}
    return replace(choices, answers={**choices.answers, **given}) if given else choices


def _is_input(arguments: argparse.Namespace) -> bool:
    return arguments.file is not None and str(arguments.file) == "-"


def _short(result: ClassResult) -> str:
    from ..classroom.line import class_diagnosis
    from ..classroom.sentences import class_verdict_sentences, groups_sentence
    from ..text.plain import text_part

    said = [class_verdict_sentences(result), class_diagnosis(result).sentence]
    if len(result.evidence) != 1:  # else it is said already
        said.append(groups_sentence(result))
    return "".join(f"{text_part(one)}\n" for one in said)


def _source(arguments: argparse.Namespace) -> tuple[Path | bytes, str]:
    """Return the file of the class, or the invented one, and the note below the title."""
    if _is_input(arguments):
        return _standard_input(), arguments.note
    invented = "The readings are invented, for practice." if arguments.file is None else ""
    return class_source(arguments.file, arguments.experiment), arguments.note or invented


def _standard_input() -> bytes:
    """Return what is piped in, up to the size of a class file."""
    from ..classroom.tables import MAX_BYTES

    if sys.stdin is None or sys.stdin.isatty():
        raise DataFileError(
            "Standard input is a terminal, not a file.",
            given="-",
            allowed="a CSV or XLSX file piped in, such as: … class - < class.csv",
        )
    return typed_in(MAX_BYTES)


def _progress(data: ClassData, what: str) -> Progress | None:
    """Return what tells the progress of a large class on stderr, at each tenth."""
    if len(data.names) <= _LARGE:
        return None
    last = 0

    def told(done: int, total: int) -> None:
        nonlocal last
        tenth = 10 * done // total
        if tenth != last:
            last = tenth
            sys.stderr.write(f"{10 * tenth} % of {len(data.names)} groups {what}\n")
            sys.stderr.flush()

    return told
