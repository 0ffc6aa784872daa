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


_TOML_SEEDS = tuple(experiments.read(name) for name in experiments.names())
TARGETS: dict[str, tuple[Callable[[], Callable[..., object]], tuple[str, ...], bool]] = {
    "formula": (_formula, FORMULAS, False),
    "number": (_number, NUMBERS, False),
    "equation": (_equation, EQUATIONS, False),
    "balance": (_balance, EQUATIONS, False),
    "header": (_header, HEADERS, False),
    "toml": (_toml, _TOML_SEEDS, False),
    "csv": (_csv, CLASS, True),
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
