"""Command line: ``python -m stoichkit`` shows a demonstration; see ``--help``.

Exit codes: 0 for any honest verdict, 1 if the reader of the output went away, 2 for bad input,
130 if stopped from the keyboard.
"""

from __future__ import annotations

import argparse
import codecs
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NoReturn

from . import __version__
from .cli import (
    DEMO_PICTURE,
    add_class_parser,
    run_class,
    run_copy,
    run_demo,
    run_formula,
    run_guide,
    run_list,
    run_new,
    run_next,
    run_notebooks,
    run_test,
    run_weighed,
    run_worked,
)
from .errors import StoichkitError
from .text.document import FORMS

_DEMO_OPTIONS = "--picture, --no-picture and --force"
_PLAIN = {
    **dict(zip("₀₁₂₃₄₅₆₇₈₉", "0123456789", strict=True)),
    **dict(zip("⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻", "0123456789+-", strict=True)),
    "→": "->",
    "±": "+/-",
    "−": "-",
    "–": "-",
    "—": "-",
    "×": "x",
    "·": ".",
    "≥": ">=",
    "≤": "<=",
    "“": '"',
    "”": '"',
    "‘": "'",
    "’": "'",
    "…": "...",
    "°": " deg ",
    "µ": "u",
}


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit code.

    >>> main(["test", "no-such-file.toml"])
    2
    """
    _make_output_safe()
    try:
        parser = _parser()
        options = parser.parse_args(arguments)
        if options.command and (options.demo_picture or options.no_picture or options.demo_force):
            parser.error(f"{_DEMO_OPTIONS} before a command are for the demonstration")
        _COMMANDS[options.command](options)
        sys.stdout.flush()
    except StoichkitError as error:
        return _fail(str(error))
    except BrokenPipeError:
        # nobody reads any more: keep the interpreter from complaining when it closes stdout
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
    except OSError as error:
        where = f"{error.filename}: " if error.filename else ""
        return _fail(f"{where}{error.strerror or error}. Check the name, the folder and the disk.")
    except KeyboardInterrupt:
        _fail("Stopped.")
        return 130
    return 0


def _fail(message: str) -> int:
    print(f"stoichkit: {' '.join(message.split())}", file=sys.stderr)
    return 2


class _Parser(argparse.ArgumentParser):
    """An argument parser whose complaints fit on two lines."""

    def error(self, message: str) -> NoReturn:
        sys.exit(_fail(f"{message}. See: {self.prog} --help"))


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="python -m stoichkit",
        description="Which candidate products do these readings exclude? "
        "Without a command: a demonstration with invented readings.",
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"stoichkit {__version__}")
    picture = parser.add_mutually_exclusive_group()
    picture.add_argument(
        "--picture",
        dest="demo_picture",
        metavar="PATH",
        type=Path,
        help="where the demonstration puts its picture (.svg or .png); "
        f"{DEMO_PICTURE} if left out, which is drawn anew each time",
    )
    picture.add_argument("--no-picture", action="store_true", help="draw no picture")
    parser.add_argument(
        "--force", dest="demo_force", action="store_true", help="replace PATH if it is there"
    )
    commands = parser.add_subparsers(metavar="COMMAND", parser_class=_Parser, dest="command")

    test = commands.add_parser("test", help="test the candidates of an experiment file")
    test.add_argument("file", metavar="FILE", help="experiment in TOML, or a ready one")
    test.add_argument("--picture", metavar="PATH", type=Path, help="draw to this .png or .svg")
    test.add_argument(
        "--hand-in",
        metavar="PATH",
        type=Path,
        help="write claim, evidence and reasoning to this .html, to add a name and print",
    )
    _add_common(test, "the report")

    weighed = commands.add_parser(
        "weighed", help="test what was weighed, typed here: no file is needed"
    )
    weighed.add_argument(
        "--consumed",
        action="append",
        required=True,
        metavar="Fe=BEFORE,AFTER",
        help="what was used up, and its mass in g before and after; one mass if weighed alone. "
        "Again for each further trial",
    )
    weighed.add_argument(
        "--produced",
        action="append",
        required=True,
        metavar="Cu=EMPTY,FULL",
        help="what was made, and the mass in g of its empty paper or vessel and with it; one mass "
        "if weighed alone. Again for each further trial",
    )
    weighed.add_argument(
        "--states",
        default="",
        metavar="LIST",
        help="oxidation states that may have formed, such as 2,3 or Fe2+,Fe3+; the usual ones, "
        "and neighbours, if left out",
    )
    weighed.add_argument(
        "--candidates",
        default="",
        metavar="LIST",
        help="in their place mole ratios made/used or equations, with semicolons between",
    )
    weighed.add_argument(
        "--ion", default="", metavar="ION", help="ion in the solution, such as Cu2+ or CuSO4"
    )
    weighed.add_argument(
        "--balance", default="0.01", metavar="G", help="step of the balance, g; 0.01 if left out"
    )
    weighed.add_argument(
        "--repeatability", metavar="G", help="scatter of the balance, g; half a step if left out"
    )
    weighed.add_argument("--title", default="", metavar="TEXT", help="title of the lab")
    weighed.add_argument(
        "--save", metavar="PATH", type=Path, help="write the lab to this file, for other commands"
    )
    _add_common(weighed, "the report")

    new = commands.add_parser(
        "new", help="ask for a lab of any kind and its readings, save it and show the verdict"
    )
    new.add_argument(
        "--save", metavar="PATH", type=Path, help="file to write; asked for if left out"
    )
    new.add_argument("--force", action="store_true", help="replace a file that is there")
    new.set_defaults(output=None, coverage=None)

    worked = commands.add_parser("worked", help="work out an experiment file step by step")
    worked.add_argument("file", metavar="FILE", help="experiment in TOML, or a ready one")
    worked.add_argument("--trial", metavar="NAME", help="the one trial to work through")
    worked.add_argument("--yield-of", metavar="CANDIDATE", help="whose percent yield to work out")
    _add_common(worked, "the worked solution")

    following = commands.add_parser(
        "next", help="say how many more trials, and of what kind, would settle the answer"
    )
    following.add_argument("file", metavar="FILE", help="experiment in TOML, or a ready one")
    following.add_argument(
        "--target", type=float, help="chance of a right answer, 0.05 to 0.999; 0.9 if left out"
    )
    following.add_argument("--most", type=int, help="most further trials; 6 if left out")
    following.add_argument(
        "--times",
        dest="larger_by",
        type=float,
        help="how many times the amounts, for larger trials; 2 if left out",
    )
    following.add_argument(
        "--readability",
        dest="finer_g",
        metavar="G",
        type=float,
        help="display step of a finer balance, g; a tenth of the one used if left out",
    )
    _add_common(following, "it")

    add_class_parser(commands)

    formula = commands.add_parser(
        "formula", help="say what formulas are read as, with their molar masses"
    )
    formula.add_argument("formulas", metavar="FORMULA", nargs="+", help='such as "CuSO4.5H2O"')

    commands.add_parser("list", help="list the ready experiments")

    copy = commands.add_parser("copy", help="copy a ready experiment to start from")
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
    notebooks.add_argument("folder", metavar="FOLDER", nargs="?", type=Path, default=Path())
    notebooks.add_argument("--force", action="store_true", help="replace notebooks that are there")

    guide = commands.add_parser("guide", help="read a page: verdict, limits, what numbers mean")
    guide.add_argument("page", metavar="PAGE", nargs="?", help="its name; all names if left out")
    return parser


def _add_common(parser: argparse.ArgumentParser, what: str) -> None:
    parser.add_argument("--coverage", type=float, help="coverage probability, 0.5 to 0.9999")
    parser.add_argument(
        "--format",
        choices=tuple(FORMS),
        help="that of the output's ending (.txt, .md, .html, .tex, .json), text if left out",
    )
    parser.add_argument(
        "--output", "--out", metavar="PATH", type=Path, help=f"write {what} to this file"
    )
    parser.add_argument("--force", action="store_true", help="replace files that are there")


_COMMANDS: dict[str | None, Callable[[argparse.Namespace], None]] = {
    None: run_demo,
    "test": run_test,
    "weighed": run_weighed,
    "new": run_new,
    "worked": run_worked,
    "next": run_next,
    "class": run_class,
    "formula": run_formula,
    "list": run_list,
    "copy": run_copy,
    "notebooks": run_notebooks,
    "guide": run_guide,
}


def _make_output_safe() -> None:
    """Let a console that lacks a character show a plain one instead of stopping."""
    codecs.register_error("stoichkit-plain", _plain)
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="stoichkit-plain")


def _plain(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    lost = error.object[error.start : error.end]
    return "".join(_PLAIN.get(c, "?") for c in lost), error.end


if __name__ == "__main__":
    sys.exit(main())
