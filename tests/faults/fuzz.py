"""Coverage-guided fuzzing of everything that reads what people type or files they bring.

    python -m tests.faults.fuzz formula --runs 1000000     # one reader
    python -m tests.faults.fuzz --list

Needs atheris (``pip install atheris``), which is not among the test requirements. A reader may
refuse a text with a StoichkitError and nothing else; another exception, a text that takes longer
than ten seconds or a process over 1 GB is a finding, and its text is written beside. Recorded in
FUZZ.md.
"""

from __future__ import annotations

import argparse
import base64
import random
import re
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from stoichkit import experiments
from stoichkit.errors import StoichkitError

ROOT = Path(__file__).parents[2]
FORMULAS = (
    "H2O",
    "CuSO4.5H2O",
    "K4[Fe(CN)6].3H2O",
    "SO4^2-(aq)",
    "Fe{3+}",
    "e-",
    "Fe₂O₃",
    "(NH4)2SO4",
    "Fe(II)SO4",
)
EQUATIONS = (
    "Fe + CuCl2 -> FeCl3 + Cu", "H2 + O2 = H2O", "Cu + 2 Ag^+ -> Cu^2+ + 2 Ag",
    "MnO4^- + H2C2O4 + H^+ -> Mn^2+ + CO2 + H2O", "2 H2 + O2 → 2 H2O",
)  # fmt: skip
NUMBERS = ("20.10", "20,10", "-1.5e-3", "+0", "1e300", "−3", "1,234.5", "0x10", "nan", "１")
HEADERS = ("wire before [mg]", "paper / g", "m (g)", "Volume in mL", "p, kPa", "T °C", "mass_g")
CLASS = (
    "group,trial,wire before [g],wire after [g],paper [g],paper + silver [g]\n"
    "red,1,2.94,2.82,0.75,1.15\nblue,1,3.19,3.09,0.70,1.06\n",
    "Gruppe;wire before;wire after;paper;paper + silver\nrot;2,94;2,82;0,75;1,15\n;2,94;;0,7;\n",
    "name\twire before\twire after\tpaper\tpaper + silver\n=1+1\t2.94\t2.82\t0.75\t1.15\n",
)
CANDIDATES = ("copper(I) = 1\ncopper(II) = 2", "Cu + 2 Ag^+ -> Cu^2+ + 2 Ag", "x = 3/2", "Ag2O")


def _formula() -> Callable[[str], object]:
    from stoichkit.chemistry.formula import parse_formula

    return parse_formula.__wrapped__ if hasattr(parse_formula, "__wrapped__") else parse_formula


def _equation() -> Callable[[str], object]:
    from stoichkit.chemistry.equation import parse_equation

    return parse_equation


def _balance() -> Callable[[str], object]:
    from stoichkit.chemistry.equation import balance_equation

    return balance_equation


def _number() -> Callable[[str], object]:
    from stoichkit.uncertainty.readings import parse_number

    return parse_number


def _header() -> Callable[[str], object]:
    from stoichkit.classroom.columns import converted, number_and_unit, split_header

    def read(text: str) -> None:
        split_header(text)
        found = number_and_unit(text)
        if found is not None:
            converted(*found)

    return read


def _toml() -> Callable[[str], object]:
    from stoichkit.experiments.store import parse_experiment

    return parse_experiment


def _candidates() -> Callable[[str], object]:
    from stoichkit.widgets.state.form import read_candidates

    lab = experiments.load("copper-silver")
    return lambda text: read_candidates(text, lab)


def _csv() -> Callable[[bytes], object]:
    from stoichkit.classroom.data import load_class, preview_class

    lab = experiments.load("copper-silver")

    def read(content: bytes) -> None:
        preview_class(content, lab)
        load_class(content, lab)

    return read


def _choices() -> Callable[[str], object]:
    from stoichkit.classroom.choices import parse_choices

    def read(text: str) -> None:
        found = parse_choices(text)
        assert parse_choices(found.to_toml()) == found

    return read


_SHEET = (
    '<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><cols>'
    '<col min="2" max="2" hidden="1"/></cols><sheetData><row r="1"><c r="A1" t="s"><v>0</v></c>'
    '<c r="B1" t="inlineStr"><is><t>wire before</t></is></c><c r="C1" t="s"><v>1</v></c>'
    '<c r="D1" t="s"><v>2</v></c><c r="E1" t="s"><v>3</v></c></row><row r="2" hidden="1">'
    '<c r="A2" t="s"><v>4</v></c><c r="B2"><v>2.94</v></c><c r="C2"><f>1+1</f><v>2.82</v></c>'
    '<c r="D2"><v>0.75</v></c><c r="E2"><v>1.15</v></c></row></sheetData>'
    '<mergeCells count="1"><mergeCell ref="A1:B1"/></mergeCells></worksheet>',
)
_STRINGS = (
    '<sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><si><t>group</t></si>'
    "<si><t>wire after</t></si><si><t>paper</t></si><si><r><t>paper + </t></r><r><t>silver</t></r>"
    "</si><si><t>red</t></si></sst>"
)


_SHARED = (
    '<Override PartName="/xl/sharedStrings.xml" ContentType="application/vnd.openxmlformats-'
    'officedocument.spreadsheetml.sharedStrings+xml"/>'
)


def _xlsx() -> Callable[[bytes], object]:
    """Put what is tried in place of the sheet of a workbook, its strings, or some of its bytes."""
    import io
    import zipfile

    import openpyxl

    from stoichkit.classroom.data import load_class

    lab = experiments.load("copper-silver")
    made = io.BytesIO()
    book = openpyxl.Workbook()
    book.active.append(["group"])
    book.save(made)
    with zipfile.ZipFile(made) as old:
        parts = {name: old.read(name) for name in old.namelist()}
    parts["xl/worksheets/sheet1.xml"] = _SHEET[0].encode()
    parts["xl/sharedStrings.xml"] = _STRINGS.encode()
    kinds = parts["[Content_Types].xml"].decode().replace("</Types>", f"{_SHARED}</Types>")
    parts["[Content_Types].xml"] = kinds.encode()

    def packed(changed: dict[str, bytes]) -> bytes:
        out = io.BytesIO()
        with zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as new:
            for name, content in {**parts, **changed}.items():
                new.writestr(name, content)
        return out.getvalue()

    whole = packed({})

    def read(content: bytes) -> None:
        kind, body = content[:1], content[1:]
        if kind == b"<":
            load_class(packed({"xl/worksheets/sheet1.xml": content}), lab)
        elif kind == b"s":
            load_class(packed({"xl/sharedStrings.xml": body}), lab)
        elif len(body) > 3:  # some bytes of the package are others
            place = int.from_bytes(body[:3], "big") % len(whole)
            load_class(whole[:place] + body[3:] + whole[place + len(body) - 3 :], lab)

    return read


_CHOICES = (
    'format = 1\n[columns]\npaper = "E"\ntrial = []\n[sheets]\nread = ["Monday"]\n'
    'leave = ["Notes"]\n[sheets.columns.Monday]\npaper = ["F"]\n[answers]\n"copy:3:ab" = "a copy"\n'
    '[answers.x]\nanswer = "yes"\ninitials = "EK"\n[[decisions]]\ngroup = "red"\ntrial = "1"\n'
    'kind = "corrected"\nreading = "paper"\ntyped = "7.0"\ncorrected = "0.70"\nreason = "x"\n',
    'format = 1\n[[decisions]]\ngroup = "a"\ntrial = "b"\nkind = "set aside"\n',
)
_ACTIONS = (
    "ready\nset 0 2.94\nset 1 x\npress 2\ntick 3 on\nstep 4 1\nshow plan\nset 0 0.1\npress 5\n",
    "show classroom\nfile 0 group,trial\npress 1\npick 0 3\ncells 2 0 0 1.2\tx\nleft\nundo\n",
    "show study\nset 0 0,5\nset 1 2:1\npress 0\nmove 0 spot 1.5 2\nshow why\npick 1 1\n",
    "show readings\ncells 0 0 0 2.94\t2.82\t0.75\t1.15\nset 3 <b>&\nshow working\npress 0\n",
)
"""Each line an action: its name, the place of a control among those shown, and what it is given."""
_SLOW = ("still", "print", "download")
"""Controls that write whole documents, left out because each takes a second."""


def _page() -> Callable[[str], object]:
    """Do what a page asks for; whatever is said to have gone wrong is a finding."""
    import json
    import logging

    from stoichkit.widgets.state.lab import LabState
    from stoichkit.widgets.view.frame import _BROKEN
    from tests.widgets.view.protocol import opened

    logging.disable(logging.CRITICAL)

    def read(text: str) -> None:
        lab = LabState("copper-silver", autosave=False)
        frame = opened(lab, lambda answer: answers.append(answer))
        answers: list[object] = []
        try:
            for number, line in enumerate(text.splitlines()[:12], start=1):
                name, _, rest = line.partition(" ")
                answers.clear()
                frame.act(_action(frame, number, name, rest))
                assert _BROKEN not in json.dumps(answers, ensure_ascii=False), line
        finally:
            frame.close()
            lab.close()

    return read


def _action(frame: Any, number: int, name: str, rest: str) -> dict[str, object]:
    """Return the message of a page that a line stands for."""
    controls = [key for made in frame._made_by.values() for key in made.handlers]
    controls = [key for key in controls if not any(word in key for word in _SLOW)]
    place, _, given = rest.partition(" ")
    known = place.isascii() and place.isdigit() and controls
    key = controls[int(place[:6]) % len(controls)] if known else place
    to: object = given
    more: dict[str, object] = {}
    if name == "tick":
        to = given == "on"
    elif name in ("step", "pick"):
        to = int(given[:6]) if given.isascii() and given.isdigit() else given
    elif name == "cells":
        row, _, cells = given.partition(" ")
        column, _, text = cells.partition(" ")
        more = {"row": len(row), "column": len(column)}
        to = [line.split("\t") for line in text.split("|")]
    elif name == "move":
        more = {"spot": given[:8], "x": float(len(given)), "y": float(len(rest))}
    elif name == "file":
        more = {
            "name": "x.csv",
            "base64": base64.b64encode(given.encode("utf-8", "replace")).decode(),
        }
    arguments = {"id": key, "to": to, **more}
    return {"page": "p", "number": number, "name": name, "arguments": arguments}


def _answer() -> Callable[[str], object]:
    """Read an answer as it is typed, in every unit that an answer may have."""
    from stoichkit.decision.typed import FACTORS, read_answer, read_with_uncertainty

    units = ("", *FACTORS)

    def read(text: str) -> None:
        unit = units[len(text) % len(units)]
        for how in (read_answer, read_with_uncertainty):
            try:
                how(text, unit)
            except StoichkitError:
                continue

    return read


def _answers() -> Callable[[bytes], object]:
    """Read a sheet or a page of answers that came back."""
    from stoichkit.classroom.handed_in import load_answers
    from stoichkit.classroom.items import items_of

    items = items_of(experiments.load("copper-silver"))
    return lambda content: load_answers(content, items)


_ANSWERS = (
    "group,trial,m(Cu) / mg,n(Cu),conclusion\nred,1,120,0.0019,copper(II)\n,2,0.10,,\n",
    '<html><body data-stoichkit="1"><p data-group="">red</p><div contenteditable data-item="m(Cu)" '
    'data-trial="1">0.12</div></body></html>',
    "MIME-Version: 1.0\nContent-Type: text/html\n\n<p contenteditable data-item=x>1</p>",
)


def _command() -> Callable[[str], object]:
    """Run a command line in an empty folder; its messages go nowhere."""
    import contextlib
    import io
    import os
    import shlex

    from stoichkit.__main__ import main as run

    place = tempfile.mkdtemp()
    for name in ("copper-silver", "magnesium-gas"):
        (Path(place) / f"{name}.toml").write_text(experiments.read(name), "utf-8")
    (Path(place) / "class.csv").write_text(CLASS[0], "utf-8")
    os.chdir(place)

    def read(text: str) -> None:
        try:
            words = shlex.split(text.replace("\0", ""))[:12]
        except ValueError:
            return
        if (
            not words
            or words[0] not in _QUICK
            or any(".." in w or w.startswith("/") for w in words)
        ):
            return
        with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
            try:
                code = run(words)
            except SystemExit as left:
                code = left.code
        assert code in (0, 2, None), code

    return read


_QUICK = ("test", "weighed", "formula", "list", "name", "--version")
"""Commands that answer within a second and write no file unless they are told to."""
_COMMANDS = (
    "test copper-silver.toml", "formula CuSO4.5H2O", "list", "test class.csv --trial x",
    "weighed --consumed Fe=7.30,6.21 --produced Cu=0.75,2.00 --states 2,3 --balance 0.01",
    "test copper-silver --coverage 0.99", "weighed --consumed Fe=1.12 --candidates 1;3/2",
)  # fmt: skip
_TOML_SEEDS = tuple(experiments.read(name) for name in experiments.names())
TARGETS: dict[str, tuple[Callable[[], Callable[..., object]], tuple[str, ...], bool]] = {
    "formula": (_formula, FORMULAS, False),
    "number": (_number, NUMBERS, False),
    "equation": (_equation, EQUATIONS, False),
    "balance": (_balance, EQUATIONS, False),
    "header": (_header, HEADERS, False),
    "toml": (_toml, _TOML_SEEDS, False),
    "csv": (_csv, CLASS, True),
    "xlsx": (_xlsx, (*_SHEET, f"s{_STRINGS}", "p\x00\x00\x10abcd"), True),
    "choices": (_choices, _CHOICES, False),
    "candidates": (_candidates, CANDIDATES, False),
    "page": (_page, _ACTIONS, False),
    "answer": (_answer, (*NUMBERS, "120 mg", "2.1 ± 0.2 g", "1.2·10⁻¹ g", "2:1", "3/4 mol"), False),
    "answers": (_answers, _ANSWERS, True),
    "command": (_command, _COMMANDS, False),
}
"""Name: what makes the reader, texts to begin with, whether it takes bytes."""


def words_of(seeds: tuple[str, ...]) -> list[str]:
    """Return the words of the seeds, for the dictionary of the fuzzer."""
    found = {w for seed in seeds for w in re.findall(r"[^\s]{2,20}", seed)}
    return sorted(w for w in found if re.fullmatch(r"[!#-\[\]-~]+", w))[:500]


def plain(target: str, runs: int, seed: int = 1) -> float:
    """Try the first texts of a reader, then random changes of them; return the longest time, s."""
    make, seeds, takes_bytes = TARGETS[target]
    read, drawn, longest = make(), random.Random(f"{target} {seed}"), 0.0
    pieces = [
        *words_of(seeds),
        "\0",
        "\n",
        "é",
        "−",
        ",",
        ".",
        "1e9",
        "-",
        "(",
        "\ud800",
        "\t",
        " ",
    ]
    for number in range(runs):
        text = seeds[number % len(seeds)]
        for _ in range(0 if number < len(seeds) else drawn.randint(1, 4)):
            start = drawn.randrange(len(text) + 1)
            end = start + drawn.choice((0, 0, 1, 3, 20))
            text = text[:start] + drawn.choice((*pieces, text[start:end] * 2)) + text[end:]
        started = time.monotonic()
        try:
            read(text.encode("utf-8", "replace") if takes_bytes else text)
        except StoichkitError:
            pass
        except BaseException:
            print(f"finding in {target}: {text!r}", file=sys.stderr)
            raise
        longest = max(longest, time.monotonic() - started)
    return longest


def main(argv: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__, prog="python -m tests.faults.fuzz")
    parser.add_argument("target", nargs="?", choices=sorted(TARGETS))
    parser.add_argument("--runs", type=int, default=100_000)
    parser.add_argument("--longest", type=int, default=4096, help="bytes of a text")
    parser.add_argument("--plain", action="store_true", help="random changes, without coverage")
    parser.add_argument("--list", action="store_true")
    options = parser.parse_args(argv)
    if options.list or options.target is None:
        print("\n".join(TARGETS))
        return 0
    if options.plain:
        started = time.monotonic()
        slowest = plain(options.target, options.runs)
        seconds = time.monotonic() - started
        print(f"{options.target}: {options.runs} texts in {seconds:.0f} s, slowest {slowest:.2f} s")
        return 0
    try:
        import atheris
    except ImportError:
        print("Fuzzing needs atheris: pip install atheris", file=sys.stderr)
        return 2
    make, seeds, takes_bytes = TARGETS[options.target]
    with atheris.instrument_imports(include=["stoichkit"], enable_loader_override=False):
        for name in [n for n in sys.modules if n.startswith("stoichkit.") or n == "stoichkit"]:
            del sys.modules[name]  # imported again, so that its branches are counted
        read = make()
        from stoichkit.errors import StoichkitError as Refused

    def one(data: bytes) -> None:
        try:
            read(data if takes_bytes else data.decode("utf-8", "surrogateescape"))
        except (Refused, StoichkitError):
            return

    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        (place / "corpus").mkdir()
        for number, seed in enumerate(seeds):
            (place / "corpus" / f"{number}").write_bytes(seed.encode())
        (place / "words").write_text("".join(f'"{w}"\n' for w in words_of(seeds)), "utf-8")
        atheris.Setup(
            [
                "fuzz", str(place / "corpus"), f"-runs={options.runs}", f"-dict={place / 'words'}",
                "-timeout=10", "-rss_limit_mb=1024", "-print_final_stats=1",
                f"-max_len={options.longest}",
                f"-artifact_prefix={Path.cwd()}/found-{options.target}-",
            ],
            one,
        )  # fmt: skip
        atheris.Fuzz()
    return 0


if __name__ == "__main__":
    sys.exit(main())
