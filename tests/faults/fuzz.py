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
import re
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

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
}
"""Name: what makes the reader, texts to begin with, whether it takes bytes."""


def words_of(seeds: tuple[str, ...]) -> list[str]:
    """Return the words of the seeds, for the dictionary of the fuzzer."""
    found = {w for seed in seeds for w in re.findall(r"[^\s]{2,20}", seed)}
    return sorted(w for w in found if w.isascii() and '"' not in w and "\\" not in w)[:500]


def main(argv: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__, prog="python -m tests.faults.fuzz")
    parser.add_argument("target", nargs="?", choices=sorted(TARGETS))
    parser.add_argument("--runs", type=int, default=100_000)
    parser.add_argument("--longest", type=int, default=4096, help="bytes of a text")
    parser.add_argument("--list", action="store_true")
    options = parser.parse_args(argv)
    if options.list or options.target is None:
        print("\n".join(TARGETS))
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
