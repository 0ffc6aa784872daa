"""Command line: ``python -m stoichkit`` shows a demonstration; see ``--help``.

Exit codes: 0 for any honest verdict, 1 if the reader of the output went away, 2 for bad input,
130 if stopped from the keyboard.
"""

from __future__ import annotations

import argparse
import codecs
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import NoReturn

from . import __version__
from .cli import classroom, labs, marking, paper, planning, review, shelf, site
from .errors import StoichkitError

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
    _open_what_is_closed()
    _make_output_safe()
    try:
        parser = _parser()
        options = parser.parse_args(arguments)
        if options.command and (options.demo_picture or options.no_picture or options.demo_force):
            parser.error(f"{_DEMO_OPTIONS} before a command are for the demonstration")
        options.run(options)
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
        f"{labs.DEMO_PICTURE} if left out, which is drawn anew each time",
    )
    picture.add_argument("--no-picture", action="store_true", help="draw no picture")
    parser.add_argument(
        "--force", dest="demo_force", action="store_true", help="replace PATH if it is there"
    )
    parser.set_defaults(run=labs.run_demo)
    commands = parser.add_subparsers(metavar="COMMAND", parser_class=_Parser, dest="command")

    labs.add_parsers(commands)
    planning.add_parsers(commands)
    classroom.add_class_parser(commands)
    paper.add_parsers(commands)
    review.add_parsers(commands)
    marking.add_parsers(commands)
    shelf.add_parsers(commands)
    site.add_parsers(commands)
    return parser


def _open_what_is_closed() -> None:
    """Write to nowhere where a shell closed standard output or error (``>&-``)."""
    for name in ("stdout", "stderr"):
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115


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
