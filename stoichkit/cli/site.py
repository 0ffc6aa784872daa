"""Commands about the page without a server: writing it, and links that open a lab on it."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any


def add_parsers(commands: Any) -> None:
    """Add the commands to the subparsers of an argument parser."""
    site = commands.add_parser(
        "site", help="write all screens as a folder of plain files, with Python in the browser"
    )
    site.set_defaults(run=run_site)
    site.add_argument("out", metavar="OUT", type=Path, help="new or empty folder for the site")
    site.add_argument(
        "--pyodide",
        metavar="FOLDER",
        type=Path,
        required=True,
        help="a copy of the public Pyodide distribution; what is needed is copied from it",
    )
    site.add_argument("--force", action="store_true", help="replace a site that is there")

    link = commands.add_parser("link", help="print the link that opens a lab on such a site")
    link.set_defaults(run=run_link)
    link.add_argument(
        "lab",
        metavar="LAB",
        help="a ready lab, the id of a practice lab, or an experiment file in TOML",
    )
    link.add_argument(
        "--site", metavar="ADDRESS", default="", help="address of the site, put before it"
    )


def run_site(options: argparse.Namespace) -> None:
    """Write the site, and say how large it is and how to look at it."""
    from ..widgets.site.build import build_site

    made = build_site(options.out, options.pyodide, replace=options.force)
    print(
        f"{made.folder}: {made.all_bytes / 1e6:.1f} MB, of which the first answer needs "
        f"{made.first_bytes / 1e6:.1f} MB; version {made.version}."
    )
    for note in made.notes:
        print(note)
    print(f"To look at it: python -m http.server --bind 127.0.0.1 --directory {made.folder}")


def run_link(options: argparse.Namespace) -> None:
    """Print the link to a lab."""
    from ..errors import ExperimentError
    from ..experiments.address import fragment_of
    from ..experiments.practice_labs import checked_id, practice
    from .common import named_experiment

    try:
        lab = practice(checked_id(options.lab)).experiment
    except ExperimentError:
        lab = named_experiment(options.lab)
    print(f"{options.site.partition('#')[0]}#{fragment_of(lab, options.lab)}")
