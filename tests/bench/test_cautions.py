"""Hazard statements by reagent: complete, cautious, and never silent about the unknown."""

from __future__ import annotations

import csv
import re
from importlib.resources import files

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stoichkit import experiments
from stoichkit.bench.reagent_data import (
    _rows,
    advice,
    base_formula,
    cautions_for,
    hazard_statement,
)
from stoichkit.chemistry.formula import parse_formula
from stoichkit.errors import ModelError

DATA = files("stoichkit") / "data"
WANTED = [
    "HCl",
    "H2SO4",
    "HNO3",
    "AgNO3",
    "CuSO4",
    "CuCl2",
    "NaOH",
    "Mg",
    "Zn",
    "Fe",
    "Al",
    "Sn",
    "BaCl2",
    "I2",
    "H2",
    "NO2",
    "Pb(NO3)2",
    "NH3",
    "C2H5OH",
    "KMnO4",
    "K2Cr2O7",
]
STRONGER = {"H411": "H410", "H412": "H410"}
"""Where the table may carry a stronger statement than a record."""


def table(name: str) -> list[dict[str, str]]:
    return list(csv.DictReader((DATA / name).read_text("utf-8").splitlines()))


@pytest.mark.parametrize("formula", WANTED)
def test_each_common_reagent_is_there_with_everything(formula: str) -> None:
    found = cautions_for(formula)

    assert found.known
    assert found.signal_word in ("Danger", "Warning") or not found.statements
    assert found.precautions
    assert found.waste
    assert "safety data sheet and local rules" in found.source
    assert "memory" in found.source
    assert all(re.fullmatch(r"H[234]\d\d [A-Z].+[^.]", text) for text in found.statements)


def test_every_row_of_the_table_can_be_used() -> None:
    for row in _rows():
        assert all(hazard_statement(code) for code in row.codes)
        assert set(row.care) <= set(advice("care"))
        assert row.waste in advice("waste")
        assert row.status == "memory"
        assert bool(row.signal) == bool(row.codes), "a signal word goes with statements"
        for formula in row.formulas:
            assert parse_formula(formula).charge == 0
        own = [r for r in _rows() if r.formulas == row.formulas]
        bands = [r.from_mol_per_L for r in own if r.from_mol_per_L is not None]
        assert bands == sorted(bands, reverse=True), "strongest first"
        assert not bands or bands[-1] == 0, "the weakest band reaches down to 0"


def test_names_are_unique_and_lead_to_the_same_row() -> None:
    owner: dict[str, tuple[str, ...]] = {}
    for row in _rows():
        for name in row.names:
            assert owner.setdefault(name.casefold(), row.formulas) == row.formulas
            assert cautions_for(name.upper()).name == row.names[0]


def test_codes_of_the_table_are_codes_of_the_ghs() -> None:
    """H200 to H290 physical, H300 to H373 health, H400 to H420 environment (GHS, annex 3)."""
    codes = [row["code"] for row in table("hazard_statements.csv")]
    assert codes == sorted(set(codes))
    assert all(
        "H200" <= c <= "H290" or "H300" <= c <= "H373" or "H400" <= c <= "H420" for c in codes
    )


@pytest.mark.parametrize("name", experiments.names())
def test_statements_of_the_ready_experiments_agree_with_the_table(name: str) -> None:
    """The wording is the same, and the table says no less than the record for its reagents."""
    for caution in experiments.load(name).cautions:
        for statement in caution.statements:
            assert statement == hazard_statement(statement[:4])
        subject = re.split(r",| in | for ", caution.subject)[0]
        strength = re.search(r"([0-9.]+) mol/L", caution.subject)
        found = cautions_for(
            subject, concentration_mol_per_L=float(strength[1]) if strength else None
        )
        if found.known and "phenolphthalein" not in subject:  # its solvent is what is listed
            table_codes = {s[:4] for s in found.statements}
            for statement in caution.statements:
                code = statement[:4]
                assert {code, STRONGER.get(code, code)} & table_codes, (caution.subject, code)


def test_the_unknown_is_said_to_be_unknown() -> None:
    found = cautions_for("unobtainium dust")

    assert not found.known
    assert found.statements == ()
    assert "does not mean that there are none" in found.note
    assert "no hazard" not in " ".join([*found.precautions, found.waste, found.note]).lower()
    assert found.as_caution().advice


@given(st.text(min_size=1, max_size=80))
def test_any_text_gets_an_answer_or_an_explanation(text: str) -> None:
    if not text.strip():
        with pytest.raises(ModelError, match="missing"):
            cautions_for(text)
        return
    found = cautions_for(text)
    assert found.known or found.precautions
    assert found.as_caution().source


@given(
    st.sampled_from([r.formulas[0] for r in _rows() if r.from_mol_per_L is not None]),
    st.floats(1e-6, 20),
    st.floats(1e-6, 20),
)
def test_a_stronger_solution_never_carries_a_weaker_signal(f: str, a: float, b: float) -> None:
    rank = {"": 0, "Warning": 1, "Danger": 2}
    low, high = sorted((a, b))
    weak = cautions_for(f, concentration_mol_per_L=low)
    strong = cautions_for(f, concentration_mol_per_L=high)
    assert rank[weak.signal_word] <= rank[strong.signal_word]
    unstated = cautions_for(f)
    assert rank[unstated.signal_word] >= rank[strong.signal_word]


def test_a_solution_of_a_solid_keeps_the_statements_of_the_solid() -> None:
    solid = cautions_for("AgNO3")
    dilute = cautions_for("AgNO3", concentration_mol_per_L=0.01)
    assert dilute.statements == solid.statements
    assert "may carry fewer" in dilute.note


@pytest.mark.parametrize("bad", [0, -1.0, float("nan"), float("inf"), True, "1"])
def test_a_concentration_must_be_above_zero(bad: object) -> None:
    with pytest.raises(ModelError, match="`concentration_mol_per_L` is"):
        cautions_for("HCl", concentration_mol_per_L=bad)  # type: ignore[arg-type]


def test_an_unknown_code_is_refused() -> None:
    with pytest.raises(ModelError, match="H999"):
        hazard_statement("H999")


@pytest.mark.parametrize(
    ("typed", "base"),
    [
        ("CuSO4·5H2O", "CuSO4"),
        ("2CaSO4.H2O", "CaSO4"),
        ("NaCl(aq)", "NaCl"),
        ("H2O", "H2O"),
        ("Cu^2+", "Cu^2+"),
    ],
)
def test_crystal_water_and_state_do_not_matter(typed: str, base: str) -> None:
    assert base_formula(typed) == base


def test_the_table_knows_the_usual_reagents() -> None:
    known = {row.formulas[0] for row in _rows()}
    assert len(known) >= 60
    assert {"AgNO3", "HCl", "Mg", "NO2"} <= known
