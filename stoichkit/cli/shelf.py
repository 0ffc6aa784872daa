"""Commands about what comes with the package: ready labs, notebooks, guide; and formulas."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from .._common import write_whole


def add_parsers(commands: Any) -> None:
    """Add the commands to the subparsers of an argument parser."""
    formula = commands.add_parser(
        "formula", help="say what formulas are read as, with their molar masses"
    )
    formula.set_defaults(run=run_formula)
    formula.add_argument("formulas", metavar="FORMULA", nargs="+", help='such as "CuSO4.5H2O"')

    listed = commands.add_parser("list", help="list the ready experiments")
    listed.set_defaults(run=run_list)

    copy = commands.add_parser("copy", help="copy a ready experiment to start from")
    copy.set_defaults(run=run_copy)
    copy.add_argument("name", metavar="NAME", help="one that “list” shows")
    copy.add_argument(
        "destination",
        metavar="DESTINATION",
        nargs="?",
        type=Path,
        default=Path(),
        help="file or folder; this folder if left out",
    )
    copy.add_argument("--force", action="store_true", help="replace a file that is there")

    notebooks = commands.add_parser("notebooks", help="copy the notebooks to a folder")
    notebooks.set_defaults(run=run_notebooks)
    notebooks.add_argument("folder", metavar="FOLDER", nargs="?", type=Path, default=Path())
    notebooks.add_argument("--force", action="store_true", help="replace notebooks that are there")

    guide = commands.add_parser("guide", help="read a page: verdict, limits, what numbers mean")
    guide.set_defaults(run=run_guide)
    guide.add_argument("page", metavar="PAGE", nargs="?", help="its name; all names if left out")


def run_formula(options: argparse.Namespace) -> None:
    """Print what each formula was read as."""
    from ..chemistry.spoken import understood

    for formula in options.formulas:
        print(f"{formula}: {understood(formula)}")


def run_list(options: argparse.Namespace) -> None:
    """List the ready experiments."""
    del options
    from ..experiments import load, names
    from ..text.parts import Table
    from ..text.plain import text_part

    rows = []
    for name in names():
        experiment = load(name)
        readings = "invented" if experiment.invented else "as recorded"
        rows.append((name, experiment.title, str(len(experiment.candidates)), readings))
    print(text_part(Table(("Name", "What it is", "Candidates", "Readings"), tuple(rows))))


def run_copy(options: argparse.Namespace) -> None:
    """Copy a ready experiment to a file."""
    from ..experiments import read

    text = read(options.name)
    target: Path = options.destination
    if target.is_dir():
        target = target / f"{options.name}.toml"
    write_whole(target, text.encode("utf-8"), replace=options.force)
    print(f"Copied to {target}")


def run_notebooks(options: argparse.Namespace) -> None:
    """Copy the notebooks that come with the package."""
    from ..guide.notebooks import copy_notebooks

    for path in copy_notebooks(options.folder, replace=options.force):
        print(path)


def run_guide(options: argparse.Namespace) -> None:
    """Print a page of the guide, or the names of all."""
    from ..guide import page, pages

    print("\n".join(pages()) if options.page is None else page(options.page).rstrip())
