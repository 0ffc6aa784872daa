"""The command that plans for a room: plan."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import Any

from ..errors import DataFileError, ModelError
from ..text.document import FORMS
from .common import check_places

_TABLES = (".csv", ".xlsx")
_SORTED = ("reactant", "mass", "bench", "class", "wrong", "order", "waste", "minutes")


def add_parsers(commands: Any) -> None:
    """Add the commands to the subparsers of an argument parser."""
    plan = commands.add_parser(
        "plan", help="compare set-ups for a room: no file and no trial is needed"
    )
    plan.set_defaults(run=run_plan)
    plan.add_argument(
        "--metal",
        action="append",
        required=True,
        metavar="FORMULA",
        help="what is used up, such as Fe; again for each further one. Without a bath a metal that "
        "is burnt to its oxide, or a salt whose crystals lose their water",
    )
    plan.add_argument(
        "--bath", default="", metavar="SALT", help="salt of the solution, such as CuSO4.5H2O"
    )
    plan.add_argument(
        "--states",
        default="",
        metavar="LIST",
        help="oxidation states that may have formed, such as 2,3; the usual ones, and neighbours, "
        "if left out",
    )
    plan.add_argument(
        "--candidates", default="", metavar="LIST", help="in their place oxides or numbers of water"
    )
    plan.add_argument(
        "--balance",
        action="append",
        metavar="G[:NUMBER]",
        help="step of a kind of balance in g, and how many there are; 0.01:2 for two that read to "
        "0.01 g, 0.1 for one at each bench; again for each kind. 0.01 if left out",
    )
    plan.add_argument("--benches", type=int, default=1, metavar="N", help="benches; 1 if left out")
    plan.add_argument("--minutes", type=float, metavar="MIN", help="minutes that there are")
    plan.add_argument(
        "--stock",
        action="append",
        default=[],
        metavar="FORMULA=G",
        help="what is in stock, such as Fe=50; again for each",
    )
    plan.add_argument(
        "--trials", default="1", metavar="LIST", help="trials a bench, such as 1,3; 1 if left out"
    )
    plan.add_argument(
        "--target",
        type=float,
        default=0.9,
        metavar="CHANCE",
        help="chance of a right conclusion asked for, 0.05 to 0.999; 0.9 if left out",
    )
    plan.add_argument("--sort", choices=_SORTED, help="by what the set-ups are sorted")
    plan.add_argument(
        "--format",
        choices=tuple(FORMS),
        help="that of the output's ending, text if left out",
    )
    plan.add_argument(
        "--output",
        "--out",
        metavar="PATH",
        type=Path,
        help="write to this file: .txt, .md, .html, .tex, .json, or a table as .csv or .xlsx",
    )
    plan.add_argument("--force", action="store_true", help="replace a file that is there")


def run_plan(options: argparse.Namespace) -> None:
    """Compare the set-ups of a room, and write them."""
    from ..bench.room import compare_setups
    from ..experiments.own_slots import items_of
    from ..planning.room import Balances, Room
    from ..text.document import form_of
    from .common import put

    output: Path | None = options.output
    check_places({}, {"--output": (output, ())}, replace=options.force)
    table = output is not None and output.suffix.casefold() in _TABLES
    if table and options.format is not None:
        raise DataFileError(
            "A table is not written in this form.", given=f"--format {options.format}",
            fix="Leave --format out for .csv and .xlsx.",
        )  # fmt: skip
    form = "text" if output is None or table else form_of(output)
    room = Room(
        options.benches,
        tuple(map(Balances.of, options.balance or ["0.01"])),
        minutes=options.minutes,
        stock_g=dict(_stock(text) for text in options.stock),
    )
    found = compare_setups(
        room,
        options.metal,
        options.bath,
        states=items_of(options.states),
        candidates=items_of(options.candidates),
        trials=[_whole(text) for text in items_of(options.trials)],
        target=options.target,
        progress=_told,
    )
    if options.sort is not None:
        found = found.sorted(options.sort)
    if output is not None and table:
        found.save(output, replace=options.force)
    else:
        put(found.document().written(options.format or form), options)


def _told(words: str) -> None:
    """Say on a terminal how far the work is, on one line."""
    if sys.stderr.isatty():
        sys.stderr.write(f"\r{words[:100]:<100}\r")
        sys.stderr.flush()


def _whole(text: str) -> int:
    """Return a whole number, 1 or more."""
    if not (text.strip().isascii() and text.strip().isdigit()):
        raise ModelError("This is not a whole number.", given=text, allowed="1, 2, 3 …")
    return int(text)


def _stock(text: str) -> tuple[str, float]:
    """Return a formula and its mass from a text like “Fe=50”."""
    from ..uncertainty.readings import parse_number

    formula, equals, mass = text.partition("=")
    if not equals or not formula.strip():
        raise ModelError("--stock does not say what and how much.", given=text, allowed="Fe=50")
    return formula.strip(), parse_number(mass, "--stock").value
