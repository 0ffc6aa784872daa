"""Commands about the answers of a class: answer-sheet, mark."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..errors import ModelError
from .common import (
    PAGES,
    add_experiment,
    check_places,
    class_source,
    named_experiment,
)

if TYPE_CHECKING:
    from ..classroom.data import ClassData
    from ..classroom.marking import ClassMarks

_MOST_SAID = 20


def add_parsers(commands: Any) -> None:
    """Add the commands to the subparsers of an argument parser."""
    sheet = commands.add_parser(
        "answer-sheet", help="write a blank sheet, or blank pages, for what a class works out"
    )
    sheet.set_defaults(run=run_answer_sheet)
    _add_class(sheet)
    sheet.add_argument(
        "--out", metavar="PATH", type=Path, help="sheet to write (.csv, .xlsx or .html)"
    )
    sheet.add_argument(
        "--pages",
        metavar="FOLDER",
        type=Path,
        help="a page to hand in for each group, its blanks to be filled in a browser",
    )
    sheet.add_argument(
        "--rubric", metavar="PATH", type=Path, help="write a rubric to edit to this .toml"
    )
    sheet.add_argument("--force", action="store_true", help="replace files that are there")

    mark = commands.add_parser(
        "mark", help="mark the answers of a class, with a grade file and feedback by group"
    )
    mark.set_defaults(run=run_mark)
    mark.add_argument(
        "answers",
        metavar="ANSWERS",
        nargs="+",
        type=Path,
        help="the answer sheet (.csv, .xlsx), pages handed in (.html), or a folder of them",
    )
    _add_class(mark)
    mark.add_argument(
        "--rubric", metavar="PATH", type=Path, help="points by item, in TOML; one each if left out"
    )
    mark.add_argument("--sheet", metavar="NAME", help="sheet of a workbook of answers")
    mark.add_argument("--coverage", type=float, help="coverage probability, 0.5 to 0.9999")
    mark.add_argument(
        "--grades", metavar="PATH", type=Path, help="write points by group (.csv, .xlsx, .html)"
    )
    mark.add_argument(
        "--feedback",
        metavar="PATH",
        type=Path,
        help="write half a page for each group (.html to print; .md, .txt, .tex, .json)",
    )
    mark.add_argument("--force", action="store_true", help="replace files that are there")


def _add_class(parser: argparse.ArgumentParser) -> None:
    """Add the options that say which class it is."""
    parser.add_argument(
        "--class",
        dest="class_file",
        metavar="FILE",
        type=Path,
        help="readings of the class (.csv, .xlsx); the invented class of the experiment if left "
        "out",
    )
    add_experiment(parser)
    parser.add_argument(
        "--choices",
        metavar="PATH",
        type=Path,
        help="what was chosen about the file, with decisions on single trials, in TOML",
    )
    parser.add_argument("--codes", action="store_true", help="call groups G01, G02, ... by codes")


def _loaded(options: argparse.Namespace) -> ClassData:
    """Load the class that the options name, with the decisions of its choices applied."""
    from ..classroom.choices import load_choices
    from ..classroom.data import load_class
    from ..classroom.review import decided

    experiment = named_experiment(options.experiment)
    choices = None if options.choices is None else load_choices(options.choices)
    source = class_source(options.class_file, options.experiment)
    return decided(load_class(source, experiment, codes=options.codes, choices=choices))


def run_answer_sheet(options: argparse.Namespace) -> None:
    """Write a blank sheet, blank pages, a rubric to edit."""
    from .._common import check_place
    from ..classroom.export import export_answer_sheet
    from ..classroom.items import items_of
    from ..classroom.rubric import Rubric
    from ..decision.evidence import assess
    from ..reports.hand_in import hand_in_page
    from ..text.sheets import ENDINGS

    if options.out is None and options.pages is None and options.rubric is None:
        raise ModelError(
            "Nothing is to be written.", fix="Add --out, --pages or --rubric with a name."
        )
    inputs = {"--class": options.class_file, "--experiment": options.experiment,
              "--choices": options.choices}  # fmt: skip
    outputs = {"--out": (options.out, ENDINGS), "--rubric": (options.rubric, (".toml",))}
    check_places(inputs, outputs, replace=options.force)
    data = _loaded(options)
    written: list[Path] = []
    pages: list[tuple[str, Path]] = []
    if options.pages is not None:
        width = len(str(len(data.names)))
        for number, name in enumerate(data.names, 1):
            place = options.pages / f"answers-{number:0{width}}.html"
            pages.append((name, place))
        options.pages.mkdir(parents=True, exist_ok=True)
        for _, place in pages:
            check_place(place, replace=options.force)
    if options.out is not None:
        written.append(export_answer_sheet(data, options.out, replace=options.force))
    for name, place in pages:
        page = hand_in_page(assess(data.groups[name]), name=name, blank=True)
        written.append(page.save(place, replace=options.force))
    if options.rubric is not None:
        rubric = Rubric.for_items(items_of(data), title=data.experiment.title)
        written.append(rubric.save(options.rubric, replace=options.force))
    for path in written:
        sys.stdout.write(f"Written: {path}\n")


def run_mark(options: argparse.Namespace) -> None:
    """Mark answers, and write grades and feedback."""
    from ..classroom.export import export_grades
    from ..classroom.marking import mark_class
    from ..classroom.result import assess_class
    from ..reports.feedback import feedback_pages
    from ..text.sheets import ENDINGS

    inputs = {
        "--class": options.class_file,
        "--experiment": options.experiment,
        "--choices": options.choices,
        "--rubric": options.rubric,
        **{f"ANSWERS {n}": path for n, path in enumerate(options.answers, 1)},
    }
    outputs = {"--grades": (options.grades, ENDINGS), "--feedback": (options.feedback, PAGES)}
    check_places(inputs, outputs, replace=options.force)
    data = _loaded(options)
    marks = mark_class(
        options.answers, data, rubric=options.rubric, coverage=options.coverage, sheet=options.sheet
    )
    written: list[Path] = []
    if options.grades is not None:
        written.append(export_grades(marks, options.grades, replace=options.force))
    if options.feedback is not None:
        result = assess_class(data, coverage=options.coverage)
        pages = feedback_pages(marks, result=result)
        written.append(pages.save(options.feedback, replace=options.force))
    sys.stdout.write(_said(marks))
    for path in written:
        sys.stdout.write(f"Written: {path}\n")


def _said(marks: ClassMarks) -> str:
    """Return points by group, and what to look at, as plain text."""
    from ..text.parts import Bullets, Table
    from ..text.plain import text_part

    rows = tuple(
        (name, f"{group.points:.4g}", f"{group.out_of:.4g}", " ".join(group.remarks) or "–")
        for name, group in marks.groups.items()
    )
    said = [text_part(Table(("Group", "Points", "Out of", "Look at"), rows[:_MOST_SAID]))]
    if len(rows) > _MOST_SAID:
        said.append(text_part(f"{len(rows) - _MOST_SAID} more groups are in the grade file."))
    if marks.problems:
        lines = tuple(map(str, marks.problems[:_MOST_SAID]))
        said.append(text_part(Bullets(lines)))
    return "\n\n".join(said) + "\n"
