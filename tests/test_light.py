"""A first answer needs NumPy, uncertainties and our own tables, nothing else that takes long.

Every ready lab is light. SciPy is loaded for the lab whose trials scatter in excess (the Bessel
function of a Student t beside other errors) and where an error has the arcsine shape (J0); sympy
for an equation in which no coefficient follows from the others one by one; matplotlib for PNG.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from stoichkit import experiments

HEAVY = {"scipy", "sympy", "matplotlib", "periodictable", "pandas", "ipywidgets", "mpmath"}
NEEDED = {"_common", "errors", "uncertainty", "chemistry", "measurement", "experiments", "decision"}
"""Rooms that a verdict is made in; ``text`` is for sentences."""


def loaded_by(code: str, folder: Path | None = None) -> set[str]:
    """Return the modules that a fresh process holds after running the code."""
    ends = "\nimport json, sys\nsys.stderr.write(json.dumps(sorted(sys.modules)))"
    done = subprocess.run(
        [sys.executable, "-c", code + ends], capture_output=True, text=True, check=True, cwd=folder
    )
    return set(json.loads(done.stderr))


def heavy(modules: set[str]) -> set[str]:
    return {name.partition(".")[0] for name in modules} & HEAVY


EACH = """
import sys, stoichkit
HEAVY, NAMES = {heavy!r}, {names!r}
for name in NAMES:
{lines}
    loaded = HEAVY & {{module.partition(".")[0] for module in sys.modules}}
    assert not loaded, f"{{name}} loads {{loaded}}"
"""
"""All labs in one process: what is loaded stays, so each is asked what it has added."""


def each_lab(*lines: str) -> str:
    """Return the code that does something with the name of every ready lab."""
    body = "\n".join(f"    {line}" for line in lines)
    return EACH.format(heavy=HEAVY, names=experiments.names(), lines=body)


def test_from_a_ready_lab_to_its_verdict() -> None:
    """The ratio set and the budget are part of the verdict's evidence."""
    modules = loaded_by(
        each_lab(
            "evidence = stoichkit.assess(stoichkit.experiments.load(name))",
            "assert evidence.verdict.kind and evidence.ratio_set and evidence.budget",
        )
    )
    assert not heavy(modules)
    rooms = {m.split(".")[1] for m in modules if m.startswith("stoichkit.")}
    assert rooms <= NEEDED, rooms - NEEDED


def test_a_lab_that_only_weighs_waits_for_no_other_way_to_measure() -> None:
    modules = loaded_by("import stoichkit; stoichkit.experiments.load('copper-silver')")
    others = {"glassware", "concentration", "gas_and_charge"}
    assert not {m for m in modules if m.removeprefix("stoichkit.measurement.") in others}


def test_from_a_file_to_the_report(tmp_path: Path) -> None:
    for name in experiments.names():
        (tmp_path / f"{name}.toml").write_text(experiments.read(name), encoding="utf-8")
    modules = loaded_by(
        each_lab(
            "evidence = stoichkit.assess(stoichkit.load_experiment(f'{name}.toml'))",
            "assert stoichkit.lab_report(evidence).text()",
        ),
        tmp_path,
    )
    assert not heavy(modules)


def test_the_demonstration(tmp_path: Path) -> None:
    modules = loaded_by("import stoichkit.__main__\nstoichkit.__main__.main([])", tmp_path)
    assert not heavy(modules)
    assert (tmp_path / "stoichkit-demo" / "copper-silver.svg").exists()


def test_this_test_sees_what_is_loaded() -> None:
    assert heavy(loaded_by("import scipy.special, sympy")) >= {"scipy", "sympy"}
    with pytest.raises(subprocess.CalledProcessError) as found:
        loaded_by(each_lab("if name == 'tin-oxide': import scipy"))
    assert "tin-oxide loads {'scipy'}" in found.value.stderr


def test_formulas_readings_and_records_need_no_numpy() -> None:
    """As in a kernel in the browser that has none."""
    from tests.hosting.lite_cells import CALCULATED, WIDGETS

    code = f"import sys\nsys.modules['numpy'] = None\n{CALCULATED}"
    if pytest.importorskip("ipywidgets"):
        code += WIDGETS.split("alert, line")[0]
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert "249.677" in done.stdout
