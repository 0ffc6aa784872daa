"""Commands for what is printed before a lab: bench plan, data sheet, cards, a solution."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..errors import DataFileError
from ..text.document import FORMS
from .common import check_places, form_asked, named_experiment, put

if TYPE_CHECKING:
    from ..bench.plan import BenchPlan

_MARKS = {"comma": ",", "semicolon": ";", "tab": "\t"}
_PRINTED = ("cards", "stock", "labels")


def add_parsers(commands: Any) -> None:
    """Add the commands to the subparsers of an argument parser."""
    bench = commands.add_parser(
        "bench", help="plan the bench of a lab: reagents, expected readings, cautions, waste"
    )
    bench.set_defaults(run=run_bench)
    _add_lab(bench)
    _add_amounts(bench)
    _add_output(bench, "the bench plan")

    sheet = commands.add_parser("sheet", help="write a blank data sheet for a class (CSV or XLSX)")
    sheet.set_defaults(run=run_sheet)
    _add_lab(sheet)
    sheet.add_argument(
        "--output",
        "--out",
        metavar="PATH",
        type=Path,
        help="file to write, .csv or .xlsx; FILE-sheet.xlsx if left out",
    )
    sheet.add_argument(
        "--between",
        choices=tuple(_MARKS),
        default="comma",
        help="what stands between the cells of a CSV file; comma if left out",
    )
    sheet.add_argument("--force", action="store_true", help="replace a file that is there")

    cards = commands.add_parser(
        "cards", help="write bench cards for the groups, the stock card and labels, to print"
    )
    cards.set_defaults(run=run_cards)
    _add_lab(cards)
    _add_amounts(cards)
    cards.add_argument("--only", choices=_PRINTED, help="one of the three; all of them if left out")
    cards.add_argument(
        "--folder", metavar="PATH", type=Path, default=Path(), help="where the pages are written"
    )
    cards.add_argument("--force", action="store_true", help="replace files that are there")

    solution = commands.add_parser(
        "solution", help="say how a solution is made up, and which glassware is good enough"
    )
    solution.set_defaults(run=run_solution)
    solution.add_argument("solute", metavar="FORMULA", help='the solid, such as "CuSO4.5H2O"')
    solution.add_argument(
        "--concentration", required=True, type=float, metavar="MOL_PER_L", help="wanted, mol/L"
    )
    solution.add_argument("--volume", required=True, type=float, metavar="ML", help="wanted, mL")
    solution.add_argument(
        "--within",
        type=float,
        metavar="PERCENT",
        help="how well its concentration has to be known, standard uncertainty in per cent; "
        "1 if left out",
    )
    _add_output(solution, "it")


def _add_lab(parser: argparse.ArgumentParser) -> None:
    """Add the lab, and for whom it is printed."""
    parser.add_argument("file", metavar="FILE", help="experiment in TOML, or a ready one")
    groups = parser.add_mutually_exclusive_group()
    groups.add_argument("--groups", type=int, help="number of groups; 1 if left out")
    groups.add_argument(
        "--groups-file", metavar="PATH", type=Path, help="names of the groups, one a line"
    )
    parser.add_argument("--trials", type=int, help="trials of each group; as in FILE if left out")


def _add_amounts(parser: argparse.ArgumentParser) -> None:
    """Add how much is to react."""
    amount = parser.add_mutually_exclusive_group()
    amount.add_argument(
        "--mass", metavar="G", type=float, help="mass to react in each trial, g; as in FILE if "
        "left out"
    )  # fmt: skip
    amount.add_argument(
        "--moles", metavar="MOL", type=float, help="the same as an amount, mol, as for electrons"
    )
    parser.add_argument(
        "--excess", type=float, default=1.2, help="how many times over; 1.2 if left out"
    )


def _add_output(parser: argparse.ArgumentParser, what: str) -> None:
    """Add where a page is written, and in which form."""
    parser.add_argument(
        "--format",
        choices=tuple(FORMS),
        help="that of the output's ending (.txt, .md, .html, .tex, .json), text if left out",
    )
    parser.add_argument(
        "--output", "--out", metavar="PATH", type=Path, help=f"write {what} to this file"
    )
    parser.add_argument("--force", action="store_true", help="replace files that are there")


def _groups(options: argparse.Namespace) -> int | list[str]:
    """Return how many groups there are, or their names from a file."""
    path: Path | None = options.groups_file
    if path is None:
        return 1 if options.groups is None else int(options.groups)
    try:
        lines = path.read_text("utf-8-sig").splitlines()
    except UnicodeDecodeError:
        raise DataFileError(
            "The names of the groups are not in UTF-8.",
            given=str(path),
            fix="Save the file as UTF-8 text, one name a line.",
        ) from None
    names = [line.strip() for line in lines if line.strip()]
    if not names:
        raise DataFileError("The file names no group.", given=str(path), allowed="one name a line")
    return names


def _plan(options: argparse.Namespace, groups: int | list[str]) -> BenchPlan:
    from ..bench.plan import bench_plan

    return bench_plan(
        named_experiment(options.file),
        reacting_mass_g=options.mass,
        reacting_mol=options.moles,
        excess=options.excess,
        trials=options.trials,
        groups=groups if isinstance(groups, int) else len(groups),
    )


def run_bench(options: argparse.Namespace) -> None:
    """Write the bench plan of a lab."""
    inputs = {"FILE": options.file, "--groups-file": options.groups_file}
    check_places(inputs, {"--output": (options.output, ())}, replace=options.force)
    form = form_asked(options)
    put(_plan(options, _groups(options)).written(form), options)


def run_sheet(options: argparse.Namespace) -> None:
    """Write a blank data sheet."""
    from ..bench.datasheet import write_datasheet

    place: Path = options.output or Path(f"{Path(options.file).stem}-sheet.xlsx")
    inputs = {"FILE": options.file, "--groups-file": options.groups_file}
    check_places(inputs, {"--output": (place, (".csv", ".xlsx"))}, replace=options.force)
    lab = named_experiment(options.file)
    trials = options.trials if options.trials is not None else len(lab.trials) or 3
    mark = _MARKS[options.between]
    written = write_datasheet(
        lab, place, replace=options.force, groups=_groups(options), trials=trials, delimiter=mark
    )
    print(f"Written: {written}")


def run_cards(options: argparse.Namespace) -> None:
    """Write bench cards, stock card and labels as pages to print."""
    from ..bench.cards import bench_cards, labels, stock_card

    make = {"cards": bench_cards, "stock": stock_card, "labels": labels}
    stem = Path(options.file).stem
    wanted = _PRINTED if options.only is None else (options.only,)
    places = {one: options.folder / f"{stem}-{one}.html" for one in wanted}
    inputs = {"FILE": options.file, "--groups-file": options.groups_file}
    outputs = {one: (place, (".html",)) for one, place in places.items()}
    check_places(inputs, outputs, replace=options.force)
    groups = _groups(options)
    plan = _plan(options, groups)
    names = None if isinstance(groups, int) else groups
    pages = {one: make[one](plan, groups=names) for one in wanted}  # all, before any is written
    for one, page in pages.items():
        print(f"Written: {page.save(places[one], replace=options.force)}")
    print("Open each in a browser and print it on A4 or Letter paper.")


def run_solution(options: argparse.Namespace) -> None:
    """Write how a solution is made up."""
    from ..bench.cards import solution_card

    check_places({}, {"--output": (options.output, ())}, replace=options.force)
    form = form_asked(options)
    within = {} if options.within is None else {"relative_target": options.within / 100}
    card = solution_card(options.solute, options.concentration, options.volume, **within)
    put(card.written(form), options)
