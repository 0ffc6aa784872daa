"""Command line: ``python -m stoichkit`` shows a demonstration; see ``--help``.

Exit codes: 0 for any honest verdict, 1 if the reader of the output went away, 2 for bad input,
130 if stopped from the keyboard.
"""

from __future__ import annotations

import argparse
import codecs
import os
import secrets
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from . import __version__
from .errors import ModelError, StoichkitError

if TYPE_CHECKING:
    from .evidence import Evidence

__all__ = ["main"]

_DEMO = "copper-silver"
_COARSE = "copper-silver-coarse"
_PICTURE = Path("stoichkit-demo") / f"{_DEMO}.png"
_PICTURE_FORMS = (".png", ".svg")

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

    Parameters
    ----------
    arguments : sequence of str, optional
        Those of the process if left out.

    Examples
    --------
    >>> main(["test", "no-such-file.toml"])
    2
    """
    _make_output_safe()
    try:
        parser = _parser()
        options = parser.parse_args(arguments)
        if options.command and (options.demo_picture or options.no_picture):
            parser.error("--picture and --no-picture before a command are for the demonstration")
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
        help=f"where the demonstration puts its picture (.png or .svg; default {_PICTURE})",
    )
    picture.add_argument("--no-picture", action="store_true", help="draw no picture")
    commands = parser.add_subparsers(metavar="COMMAND", parser_class=_Parser, dest="command")

    test = commands.add_parser("test", help="test the candidates of an experiment file")
    test.add_argument("file", metavar="FILE", help="experiment in TOML")
    test.add_argument("--coverage", type=float, help="coverage probability, 0.5 to 0.9999")
    test.add_argument("--format", choices=("text", "markdown"), default="text")
    test.add_argument("--picture", metavar="PATH", type=Path, help="draw to this .png or .svg")
    test.add_argument("--output", metavar="PATH", type=Path, help="write the report to this file")

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
    return parser


def _demo(options: argparse.Namespace) -> None:
    from .evidence import assess
    from .experiments import load
    from .layout import text_part
    from .report import budget_table, candidate_table
    from .sentences import verdict_sentences

    picture: Path | None = None if options.no_picture else options.demo_picture or _PICTURE
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
        if picture == _PICTURE:
            picture.parent.mkdir(exist_ok=True)
        _save_picture(evidence, picture)
        print(f"Picture: {picture}")
    print(f"Next: python -m stoichkit copy {_DEMO} my-lab.toml, change the readings, then")
    print("      python -m stoichkit test my-lab.toml")


def _test(options: argparse.Namespace) -> None:
    from .evidence import assess
    from .experiment_toml import load_experiment
    from .experiments import names

    if options.file in names() and not Path(options.file).exists():
        raise ModelError(
            "That is a ready experiment, not a file.",
            given=options.file,
            fix=f"Copy it first: python -m stoichkit copy {options.file}",
        )
    picture: Path | None = options.picture
    if picture is not None:
        _check_picture(picture)
    _check_distinct({"FILE": Path(options.file), "--picture": picture, "--output": options.output})
    evidence = assess(load_experiment(options.file), coverage=options.coverage)
    if picture is not None:
        _save_picture(evidence, picture)
    text = _report(evidence, options)
    if options.output is None:
        print(text, end="")
    else:
        _write(options.output, lambda place: place.write_bytes(text.encode("utf-8")))


def _report(evidence: Evidence, options: argparse.Namespace) -> str:
    from .report import report_markdown, report_text

    if options.format == "text":
        return report_text(evidence)
    if options.picture is None:
        return report_markdown(evidence)
    from .plots import result_alt_text

    home = options.output.parent if options.output is not None else Path()
    try:
        where = os.path.relpath(options.picture, home)
    except ValueError:  # another drive
        where = options.picture.resolve().as_uri()
    return report_markdown(evidence, picture=where, alt_text=result_alt_text(evidence))


def _list(options: argparse.Namespace) -> None:
    del options
    from .experiments import load, names
    from .layout import Table, text_part

    rows = []
    for name in names():
        experiment = load(name)
        readings = "invented" if experiment.invented else "as recorded"
        rows.append((name, experiment.title, str(len(experiment.candidates)), readings))
    print(text_part(Table(("Name", "What it is", "Candidates", "Readings"), tuple(rows))))


def _copy(options: argparse.Namespace) -> None:
    from .experiments import read

    text = read(options.name)
    target: Path = options.destination
    if target.is_dir():
        target = target / f"{options.name}.toml"
    _write(target, lambda place: place.write_bytes(text.encode("utf-8")), replace=options.force)
    print(f"Copied to {target}")


_COMMANDS: dict[str | None, Callable[[argparse.Namespace], None]] = {
    None: _demo,
    "test": _test,
    "list": _list,
    "copy": _copy,
}


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
    from .plots import save_picture

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
