"""The command that reviews a class: suggested repairs, decisions, verdicts side by side."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..errors import ModelError
from .common import (
    add_experiment,
    check_places,
    class_source,
    named_experiment,
)

if TYPE_CHECKING:
    from ..classroom.choices import Decision
    from ..classroom.data import ClassData
    from ..classroom.review import Repair, Review

_ALL = "all"


def add_parsers(commands: Any) -> None:
    """Add the command to the subparsers of an argument parser."""
    parser = commands.add_parser(
        "review", help="suggest repairs of a class file, accept them, compare the verdicts"
    )
    parser.set_defaults(run=run_review)
    parser.add_argument(
        "file",
        metavar="FILE",
        nargs="?",
        type=Path,
        help="readings, one row a trial; the invented class of the experiment if left out",
    )
    add_experiment(parser)
    parser.add_argument(
        "--choices", metavar="PATH", type=Path, help="decisions made already, in TOML"
    )
    parser.add_argument(
        "--accept",
        action="append",
        default=[],
        metavar="NUMBER",
        help="accept the repair of this number in the list, or all; that of a mistake made "
        "alike in all trials corrects each of them; may be given again",
    )
    parser.add_argument(
        "--set-aside",
        action="append",
        default=[],
        nargs=2,
        metavar=("GROUP", "TRIAL"),
        help="set a trial aside; may be given again",
    )
    parser.add_argument(
        "--correct",
        action="append",
        default=[],
        nargs=4,
        metavar=("GROUP", "TRIAL", "READING", "VALUE"),
        help="what a reading should be; what was typed is kept beside it; may be given again",
    )
    parser.add_argument("--reason", default="", metavar="TEXT", help="why, for what is decided now")
    parser.add_argument("--initials", default="", metavar="WHO", help="who decides now")
    parser.add_argument(
        "--save", metavar="PATH", type=Path, help="write all decisions to this .toml"
    )
    parser.add_argument("--codes", action="store_true", help="call groups G01, G02, ... by codes")
    parser.add_argument("--force", action="store_true", help="replace a file that is there")


def run_review(options: argparse.Namespace) -> None:
    """Show repairs, take decisions, and show the verdicts side by side."""
    from dataclasses import replace

    from ..classroom.choices import Choices, Decision, DecisionKind, load_choices, save_choices
    from ..classroom.data import load_class
    from ..classroom.result import assess_class
    from ..classroom.review import as_typed, first_repairs, review_class, suggested_repairs

    inputs = {"FILE": options.file, "--experiment": options.experiment}
    if options.save != options.choices:  # decisions may be added to those that are there
        inputs["--choices"] = options.choices
    check_places(inputs, {"--save": (options.save, (".toml",))}, replace=options.force)
    experiment = named_experiment(options.experiment)
    choices = Choices() if options.choices is None else load_choices(options.choices)
    source = class_source(options.file, options.experiment)
    data = load_class(source, experiment, codes=options.codes, choices=choices)
    typed = assess_class(as_typed(data))
    repairs = suggested_repairs(typed)
    decisions = list(data.choices.decisions)
    wanted: list[Repair] = []
    for text in options.accept:
        if text.casefold() == _ALL:
            wanted += first_repairs(repairs)
        elif text.isdecimal() and 1 <= int(text) <= len(repairs):
            wanted.append(repairs[int(text) - 1])
        else:
            raise ModelError(
                "There is no repair of this number.",
                given=text,
                allowed=f"1 to {len(repairs)}, or all" if repairs else "none is suggested",
            )
    for repair in wanted:
        if not repair.accepted(decisions):
            decisions += repair.decisions(options.reason, options.initials)
    decisions += [
        Decision(group, trial, DecisionKind.SET_ASIDE, reason=options.reason,
                 initials=options.initials)
        for group, trial in options.set_aside
    ]  # fmt: skip
    decisions += [_correction(data, options, *one) for one in options.correct]
    choices = replace(choices, decisions=tuple(decisions))
    found = review_class(data, choices.decisions, typed=typed)
    sys.stdout.write(_said(found))
    if options.save is not None:
        path = save_choices(
            data.choices_kept(choices), options.save, replace=options.force, private=options.codes
        )
        sys.stdout.write(f"Written: {path}\n")


def _correction(
    data: ClassData, options: argparse.Namespace, group: str, trial: str, reading: str, value: str
) -> Decision:
    """Return the decision to correct a reading, with what was typed."""
    from ..classroom.choices import Decision, DecisionKind

    record = data.groups[group] if group in data.names else None
    named = [one for one in record.trials if one.name == trial] if record is not None else []
    if not named or reading not in named[0].readings:
        raise ModelError(
            "The class has no such reading in use.",
            given=f"{group}, {trial}, {reading}",
            allowed=", ".join(named[0].readings) if named else "a group and trial as in the file",
        )
    typed = named[0].readings[reading][-1]
    return Decision(
        group, trial, DecisionKind.CORRECTED, reading, typed, value,
        options.reason, options.initials,
    )  # fmt: skip


def _said(found: Review) -> str:
    """Return repairs, decisions and verdicts as plain text."""
    from ..reports.review import decision_table, side_by_side
    from ..text.parts import Table
    from ..text.plain import text_part

    rows = tuple(
        (str(number), one.group or "all", one.trial or f"all {len(one.each)}", one.words,
         str(one.slip.kind),
         "accepted" if one.accepted(found.decisions) else "–")
        for number, one in enumerate(found.repairs, 1)
    )  # fmt: skip
    said = []
    if rows:
        header = ("No.", "Group", "Trial", "Repair", "Why", "Decided")
        said.append(text_part(Table(header, rows, "Repairs that the readings suggest")))
    else:
        said.append("No repair is suggested.")
    if found.decisions:
        said.append(text_part(decision_table(found.decisions)))
    said.append(text_part(side_by_side(found)))
    return "\n\n".join(said) + "\n"
