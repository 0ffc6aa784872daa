"""What the commands print and write, recorded: says when it changes, not that it is right.

That it is right is for the other tests here and in ``tests/test_cli.py``. Long pages, which other
rooms answer for, are written with their first and last lines. How to write the record anew:
``tests/recorded.py``.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import os
import shlex
import sys
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import openpyxl

from stoichkit.__main__ import _parser, main
from tests.classfiles import ROWS, csv_bytes
from tests.classroom.test_marking import sheet
from tests.recorded import Record, by_name, cases

RECORD = Record(__file__)
WEIGHED = "weighed --consumed Fe=7.3,6.2 --produced Cu=53.4,54.7 --balance 0.1 --states 2,3"
FEW = "--class class.csv --experiment copper-silver"

# Commands parted by “;” are run one after the other in one folder.
COMMANDS = """
test copper-silver
test copper-silver --coverage 0.99
test copper-silver-coarse --output r.md; test copper-silver-coarse --output r.md; test copper-silver --output r.md --force
test copper-silver --picture p.svg --hand-in h.html
test copper-silver --picture p.txt
test copper-silver --hand-in h.md
test copper-silver --format json
test copper-silver --format markdown
test nothing
test nothing.toml
test copper-silver --coverage 2
test - < copper
test
--no-picture
--picture d.svg; --picture d.svg; --picture d.svg --force
WEIGHED
WEIGHED --save a.toml; test a.toml; WEIGHED --save a.toml; WEIGHED --save a.toml --force
WEIGHED --title T --repeatability 0.05 --ion CuSO4
WEIGHED --balance 0.01
WEIGHED --candidates 1;3/2
WEIGHED --repeatability x
weighed --consumed Fe=7.3,6.2 --consumed Fe=7.1,6.0 --produced Cu=53.4,54.7 --balance 0.1
weighed --consumed Mg=0.3 --produced O=0.2 --balance 0.01 --candidates "1;2"
weighed --consumed Fe=7.3 --produced Cu
weighed --consumed Fe=a,b --produced Cu=1,2
new < new
new --save n.toml < new; new --save n.toml < new; new --save n.toml --force < new
new < nothing
worked copper-silver --trial "bench 2"
worked copper-silver --yield-of "copper(I)" --output w.tex
worked copper-silver --trial x
worked hydrate-heating
next copper-silver-coarse --most 2 --target 0.8 --times 3 --readability 0.05
next copper-silver --most 1
next copper-silver-coarse --target 2
next copper-silver-coarse --most 0 --output n.txt
class --experiment copper-silver
class class.csv --experiment copper-silver
class class.csv --experiment copper-silver --group red
class class.csv --experiment copper-silver --group red --key k.csv --results r.csv --out r.txt
class class.csv --experiment copper-silver --key k.html --results r.xlsx; class class.csv --experiment copper-silver --key k.html; class class.csv --experiment copper-silver --key k.html --force
class class.csv --experiment copper-silver --codes --code-key c.csv
class class.csv --experiment copper-silver --code-key c.csv
class class.csv --experiment copper-silver --coverage 0.999 --variation none --note N.
class class.csv --experiment copper-silver --variation "5 %"
class class.csv --experiment copper-silver --variation much
class class.csv --experiment copper-silver --column "wire before=C" --sheet x
class class.csv --experiment copper-silver --group pink
class class.csv --experiment copper-silver --groups 5
class twice.csv --experiment copper-silver
class class.csv
class none.csv --experiment copper-silver
class class.csv --experiment gold
class - --experiment copper-silver < class
class class.csv --experiment copper-silver --choices c.toml
review --experiment copper-silver
review --experiment copper-silver --accept all --initials EK --reason why --save d.toml; review --experiment copper-silver --choices d.toml; mark answers.csv FEW
review class.csv --experiment copper-silver --set-aside red 1 --correct red 2 paper 0.71 --save d.toml
review class.csv --experiment copper-silver --set-aside red 1 --save d.toml; class class.csv --experiment copper-silver --choices d.toml; review class.csv --experiment copper-silver --choices d.toml --set-aside blue 1 --save d.toml --force
review --experiment copper-silver --accept 1 --initials EK
review --experiment copper-silver --accept 2 --accept 1
review --experiment copper-silver --accept 0
review --experiment copper-silver --accept 9
class class.csv --experiment copper-silver --answer a=b=c
class class.csv --experiment copper-silver --column "wire before=a=b"
mark strange.csv FEW
review --experiment copper-silver --accept x
review class.csv --experiment copper-silver --set-aside pink 1
review class.csv --experiment copper-silver --codes
answer-sheet FEW --out s.csv --rubric r.toml --pages p
answer-sheet FEW --out s.xlsx
answer-sheet FEW
answer-sheet FEW --out s.txt
mark answers.csv FEW
mark answers.csv FEW --grades g.csv --feedback f.md; mark answers.csv FEW --grades g.csv; mark answers.csv FEW --grades g.csv --force
answer-sheet FEW --rubric r.toml; mark answers.csv FEW --rubric r.toml --coverage 0.99
mark answers.csv FEW --codes
mark none.csv FEW
mark answers.csv FEW --feedback f.csv
mark answers.csv FEW --rubric none.toml
bench copper-silver --mass 0.12 --groups 6
bench copper-silver --moles 0.002 --excess 2 --trials 3 --output b.md
bench copper-plating --mass 1
bench copper-silver --mass 0
bench copper-silver --mass 1 --moles 1
sheet copper-silver; sheet copper-silver
sheet copper-silver --output s.csv --between semicolon --groups 2 --trials 1
sheet copper-silver --output s.csv --groups-file names.txt
sheet copper-silver --output s.csv --groups-file blank.txt
sheet copper-silver --output s.txt
cards copper-silver --groups 2; cards copper-silver --groups 2
cards copper-silver --only labels --folder f
cards copper-silver --only x
solution CuSO4.5H2O --concentration 0.1 --volume 250
solution CuSO4.5H2O --concentration 0.1 --volume 250 --within 0.2 --output s.txt
solution CuSO4.5H2O --concentration 9 --volume 250
solution CuSO4.5H2O --concentration 0.1 --volume 250 --within 200
plan --metal Fe --bath CuSO4.5H2O --states 2,3 --balance 0.1 --minutes 50 --stock Fe=50
plan --metal Fe --bath CuSO4.5H2O --states 2,3 --balance 0.1 --balance 0.01:1 --sort mass --output p.csv
plan --metal CaSO4 --candidates 1/2,2 --trials 1,2 --target 0.5 --format markdown
plan --metal Fe --bath CuSO4.5H2O --balance x
plan --metal Fe --bath CuSO4.5H2O --stock Fe
plan --metal Fe --bath CuSO4.5H2O --trials x
plan --metal Fe --bath CuSO4.5H2O --benches 0
formula CuSO4.5H2O "Fe^3+" water xx
formula NaCl
list
copy tin-oxide; copy tin-oxide; copy tin-oxide --force
copy tin-oxide own.toml
copy gold
notebooks n
guide
guide verdict
guide x
link copper-silver
link copper-silver --site "http://a.example/b#c"
link 86CAU28
link gold
site out --pyodide none
nonsense
"""  # noqa: E501
_NEW = "1\niron\n\nCu\n\n\n2, 3\n\n\n7.30\n6.18\n1.40\n2.67\n\n\n"
_MOST_LINES = 12


def settled(command: str) -> str:
    return command.replace("WEIGHED", WEIGHED).replace("FEW", FEW)


@contextlib.contextmanager
def folder() -> Iterator[Path]:
    """Work in a folder with a class file, answers and names."""
    before = Path.cwd()
    with TemporaryDirectory() as name:
        os.chdir(name)
        try:
            Path("class.csv").write_bytes(csv_bytes())
            Path("twice.csv").write_bytes(csv_bytes([*ROWS, ROWS[0]]))
            Path("answers.csv").write_bytes(sheet({"m(Cu)": "120", "ratio": "0.51"}))
            strange = sheet().replace(b"red,2,", b"red,9,")
            Path("strange.csv").write_bytes(strange)
            Path("names.txt").write_text("red\nblue\n\n", "utf-8")
            Path("blank.txt").write_text("\n", "utf-8")
            yield Path(name)
        finally:
            os.chdir(before)


def typed(name: str) -> io.TextIOWrapper:
    """Return what stands in standard input."""
    given = {"new": _NEW.encode(), "class": csv_bytes(), "copper": b"title = 3", "nothing": b""}
    return io.TextIOWrapper(io.BytesIO(given[name]), "utf-8")


def run(line: str) -> object:
    """Run commands and return what they print, and what then lies in the folder."""
    found: dict[str, object] = {}
    with folder() as here:
        there = {path.name for path in here.iterdir()}
        for number, command in enumerate(part for part in settled(line).split("; ")):
            words, _, given = command.partition(" < ")
            out, err = io.StringIO(), io.StringIO()
            before = sys.stdin
            sys.stdin = typed(given or "nothing")
            try:
                with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
                    try:
                        code: object = main(shlex.split(words))
                    except SystemExit as stop:
                        code = f"exit {stop.code}"
            finally:
                sys.stdin = before
            hidden = str(here.resolve())
            shown = [
                one.getvalue().replace(hidden, "HERE").replace(str(here), "HERE")
                for one in (out, err)
            ]
            found[f"{number + 1} ends with"] = code
            found[f"{number + 1} prints"] = in_short(shown[0])
            found[f"{number + 1} says"] = in_short(shown[1])
        new = sorted(
            path for path in here.rglob("*") if path.relative_to(here).parts[0] not in there
        )
        found["written"] = [of_file(path, here) for path in new if path.is_file()]
    return found


def in_short(text: str) -> str:
    lines = text.split("\n")
    if len(lines) <= 2 * _MOST_LINES:
        return text
    return "\n".join([*lines[:_MOST_LINES], f"… {len(lines)} lines …", *lines[-_MOST_LINES:]])


def of_file(path: Path, here: Path) -> str:
    """Return the name of a file, and of one of text its first lines."""
    name = str(path.relative_to(here))
    if path.suffix in (".csv", ".md", ".txt", ".toml"):
        return f"{name}: {'; '.join(path.read_text('utf-8-sig').splitlines()[:4])[:300]}"
    if path.suffix == ".xlsx":
        return f"{name}: {openpyxl.load_workbook(path).sheetnames}"
    return name


def options() -> object:
    """Return every option of every command, as the help shows it."""
    parser = _parser()
    found = {"": described(parser)}
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for name, one in action.choices.items():
                found[name] = described(one)
            found["commands"] = [f"{a.dest}: {a.help}" for a in action._choices_actions]
    return found


def described(parser: argparse.ArgumentParser) -> list[str]:
    return [
        f"{' '.join(a.option_strings) or a.dest} {a.metavar} {a.nargs} {a.default} "
        f"{list(a.choices) if a.choices and not isinstance(a.choices, dict) else ''} "
        f"{a.required}: {a.help}"
        for a in parser._actions
        if not isinstance(a, argparse._HelpAction)
    ] + [str(parser.description)]


LINES = COMMANDS.strip().split("\n")
CASES = cases(run=by_name(run, LINES), options={"all": options})

test_answers, test_nothing_else = RECORD.tests(CASES)
