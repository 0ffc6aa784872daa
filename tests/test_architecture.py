"""Imports run in one direction, stay light, and the public names are what is documented."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import stoichkit

PACKAGE = Path(stoichkit.__file__).parent
LAYERS = (
    ("errors", "frozen_map", "toml_text"),
    ("guide",),
    ("atomic_file",),
    ("shipped_notebooks",),
    ("uncertain", "readings", "pressure_units"),
    ("shapes",),
    ("distribution", "digit_tables"),
    ("digit_sums",),
    ("montecarlo", "digits"),
    ("charge", "markup"),
    ("formula",),
    ("elements", "reaction"),
    ("equation", "candidate"),
    ("candidates",),
    ("instrument_base", "glassware_table", "water"),
    ("balance", "meters", "glassware", "graduated"),
    ("instruments",),
    ("amount_base",),
    ("weighed_amounts", "amount_models", "concentrations"),
    ("amount_fields",),
    ("amounts",),
    ("candidate_spec", "experiment_parts"),
    ("experiment_checks", "experiment_roles"),
    ("experiment",),
    ("experiment_fields",),
    ("experiment_toml",),
    ("experiments", "student_data"),
    ("classtable",),
    ("classxlsx",),
    ("classfile", "classsheets", "classunits"),
    ("classheader", "classcells", "classgroups"),
    ("classcolumns", "answerkey"),
    ("classrows",),
    ("classdata",),
    ("ratio_set", "verdict"),
    ("pooling", "york"),
    ("student", "vessels"),
    ("linear", "linearity"),
    ("evidence", "weighings"),
    ("ratio_arrays",),
    ("effects", "slip_kinds", "potentials"),
    ("causes", "slips", "constant_mass", "redox"),
    ("figures",),
    ("classamounts",),
    ("classline", "classrandom"),
    ("classverdict",),
    ("classoutlook",),
    ("classevidence",),
    ("classexport",),
    ("lattices",),
    ("outcomes",),
    ("planning",),
    ("design_grid",),
    ("planning_questions",),
    ("simulation",),
    ("quotient", "reactants"),
    ("yields",),
    ("wording", "layout", "budget_groups"),
    ("plan_sentences",),
    ("answer_sentences",),
    ("sentences",),
    ("report",),
    ("worked_styles",),
    ("worked_steps",),
    ("worked_yield",),
    ("worked", "cause_sentences", "study_question"),
    ("study_mistakes",),
    ("study",),
    ("cautions", "page"),
    ("solubility", "solution_parts"),
    ("recipe",),
    ("dilution",),
    ("solutions",),
    ("datasheet", "datasheet_xlsx"),
    ("bench_supply", "bench_parts"),
    ("bench_needs", "bench_solutions", "bench_readings"),
    ("bench_reagents", "bench_steps", "bench_safety"),
    ("bench", "bench_document"),
    ("class_result", "class_pooled"),
    ("class_line_sentences", "class_spread_sentences"),
    ("class_sentences",),
    ("class_outlook_sentences",),
    ("plots",),
    ("report_parts",),
    ("lab_report", "gallery", "worked_document"),
    ("class_report_parts",),
    ("class_report",),
    ("class_group_report",),
    ("class_command",),
    ("widgets",),
    ("commands",),
    ("__main__",),
)
LEVEL = {name: i for i, layer in enumerate(LAYERS) for name in layer}
ONLY_IN = {
    "matplotlib": ("plots",),
    "ipywidgets": ("widgets",),
    "anywidget": ("widgets",),
    "traitlets": ("widgets",),
    "IPython": ("widgets",),
    "sympy": ("equation", "report", "sentences"),
    "periodictable": ("elements", "formula"),
    "pandas": (),
}


DEFERRED = {("experiment", "experiment_toml")}
"""Methods that hand the whole record to its writer; imported when called."""


def module_of(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imports(path: Path) -> list[tuple[str, int, bool]]:
    """Return (dotted name, relative level, inside a function) of every import in a file."""
    tree = ast.parse(path.read_text("utf-8"))
    inner = {
        node
        for function in ast.walk(tree)
        if isinstance(function, ast.FunctionDef | ast.AsyncFunctionDef)
        for node in ast.walk(function)
    }
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found += [(alias.name, 0, node in inner) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            if node.module:
                found.append((node.module, node.level, node in inner))
            else:
                found += [(alias.name, node.level, node in inner) for alias in node.names]
    return found


SOURCES = sorted(p for p in PACKAGE.rglob("*.py") if p.name != "__init__.py" or p.parent != PACKAGE)


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_imports_point_downwards(path: Path) -> None:
    here = module_of(path)
    assert here in LEVEL, f"give {here} a place in LAYERS"
    depth = len(path.relative_to(PACKAGE).parts)
    for name, level, inside in imports(path):
        if level == depth or (level == 0 and name.split(".")[0] == "stoichkit"):
            target = name.removeprefix("stoichkit.").split(".")[0]
            if target in ("stoichkit", "__version__", here) or (
                inside and (here, target) in DEFERRED
            ):
                continue
            assert LEVEL[target] <= LEVEL[here], f"{here} may not import {target}"


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_heavy_packages_stay_where_they_belong(path: Path) -> None:
    here = module_of(path)
    for name, level, inside in imports(path):
        top = name.split(".")[0]
        if level == 0 and top in ONLY_IN:
            assert here in ONLY_IN[top], f"{here} may not import {top}"
        if level == 0 and top in ("scipy", "sympy", "periodictable"):
            assert inside, f"{here}: import {top} inside the function that needs it"


def test_no_file_is_too_long_and_none_runs_user_text() -> None:
    for path in SOURCES:
        text = path.read_text("utf-8")
        assert text.count("\n") <= 400, f"{path.name} is over 400 lines"
        for word in ("matplotlib.pyplot", "sympify(", "parse_expr(", " eval("):
            assert word not in text, f"{path.name} uses {word}"
        if path.name != "uncertain.py":
            assert "ufloat(" not in text, f"{path.name} makes its own uncertain numbers"


def test_import_is_light() -> None:
    code = (
        "import sys, stoichkit; "
        "heavy = {'matplotlib','sympy','ipywidgets','scipy','pandas','numpy'} & set(sys.modules); "
        "assert not heavy, heavy; assert 'assess' in dir(stoichkit)"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


def test_every_public_name_loads_and_says_what_it_is() -> None:
    for name in stoichkit.__all__:
        if name != "__version__":
            assert getattr(stoichkit, name).__doc__, name
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        stoichkit.nothing  # noqa: B018


def test_no_public_name_is_also_a_module() -> None:
    """Otherwise importing the module would put it in the place of the name."""
    modules = {path.stem for path in PACKAGE.glob("*.py")} | {
        path.parent.name for path in PACKAGE.glob("*/__init__.py")
    }
    assert not (set(stoichkit.__all__) & modules) - {"experiments", "guide", "plots", "widgets"}
