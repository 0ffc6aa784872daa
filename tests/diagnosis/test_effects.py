"""The catalogue of effects: which apply, what they add, and that its texts are complete."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from stoichkit import experiments
from stoichkit.chemistry.candidates import from_formulas
from stoichkit.chemistry.elements import molar_mass_value
from stoichkit.chemistry.formula import parse_formula
from stoichkit.diagnosis.effects import (
    NITRIDES,
    OXIDES,
    catalogue,
    effect_named,
    effects_for,
    moved_amounts,
    situation,
)
from stoichkit.errors import FormulaError, ModelError


def test_every_effect_says_what_it_is_and_how_to_check() -> None:
    keys = [effect.key for effect in catalogue()]
    assert len(set(keys)) == len(keys) >= 20
    for effect in catalogue():
        assert effect.mechanism.endswith(".")
        assert effect.check.endswith(".")
        assert effect.actions, effect.key
        assert effect.unit in ("g", "mL")
        for action in effect.actions:
            assert action.side in ("consumed", "produced")
            assert action.place in ("heavier", "lighter", "final", "mass", "moles")
            assert action.per_unit


@pytest.mark.parametrize("name", experiments.names())
def test_texts_are_filled_in_for_every_ready_lab(name: str) -> None:
    found = effects_for(experiments.load(name), residue="AgNO3")
    assert found
    for effect in found:
        for text in (effect.mechanism, effect.check, effect.substance, effect.name):
            assert "{" not in text


def test_each_lab_has_the_effects_of_its_kind_only() -> None:
    keys = {n: {e.key for e in effects_for(experiments.load(n))} for n in experiments.names()}
    assert "gas lost" in keys["magnesium-gas"]
    assert "wet product" not in keys["magnesium-gas"]
    assert {"water left", "decomposed", "dried out"} <= keys["hydrate-heating"]
    assert {"unfinished oxidation", "smoke"} <= keys["tin-oxide"]
    assert "hydrogen evolved" in keys["copper-plating"]
    assert "overshot" in keys["acid-titration"]
    assert "oxidised product" in keys["copper-plating"]
    assert "oxidised product" not in keys["copper-silver"]  # silver takes up no oxygen
    assert "metal dissolved" not in keys["tin-oxide"]


def test_what_the_set_up_excludes_is_not_listed() -> None:
    """A plated strip sees no filter paper and no empty vessel; a burette dries nothing."""
    words = {
        name: " ".join(
            f"{e.key} {e.name} {e.mechanism} {e.check}" for e in effects_for(experiments.load(name))
        )
        for name in experiments.names()
    }
    for word in ("paper", "filter", "vessel"):
        assert word not in words["copper-plating"], word
    assert "deposit lost" in words["copper-plating"]
    assert "deposit lost" not in words["copper-silver"]
    assert {"lost product", "damp vessel"} <= {
        e.key for e in effects_for(experiments.load("copper-silver"))
    }
    assert "not dry" not in words["acid-titration"] + words["magnesium-gas"]


def test_order_of_the_readings_tells_heating_off_from_taking_up() -> None:
    """Tin oxide and a hydrate share the same structure of weighings; the bench order differs."""
    assert "element taken up" in situation(experiments.load("tin-oxide"))
    assert "driven off" in situation(experiments.load("hydrate-heating"))


def test_a_shared_reading_moves_both_amounts() -> None:
    lab = experiments.load("hydrate-heating")
    consumed, produced = moved_amounts(lab, effect_named(lab, "water left"))
    assert 1 / consumed == pytest.approx(molar_mass_value("MgSO4"), rel=1e-9)
    assert -1 / produced == pytest.approx(molar_mass_value("H2O"), rel=1e-9)


def test_product_on_the_metal_moves_both_amounts() -> None:
    lab = experiments.load("copper-silver")
    consumed, produced = moved_amounts(lab, effect_named(lab, "product on metal"))
    assert (1 / consumed, 1 / produced) == pytest.approx((-63.546, -107.868), rel=1e-4)


def test_hydrogen_takes_two_moles_of_electrons() -> None:
    lab = experiments.load("copper-plating")
    consumed, produced = moved_amounts(lab, effect_named(lab, "hydrogen evolved"))
    assert consumed == pytest.approx(2 / molar_mass_value("H2"))
    assert produced == 0


def test_a_nitride_binds_metal_beside_its_nitrogen() -> None:
    """Mg3N2: 2 mol N (28.0 g) bind 3 mol Mg; the nitrogen is weighed as oxygen."""
    lab = experiments.load("tin-oxide")
    lab = replace(
        lab,
        consumed=replace(lab.consumed, species="Mg"),
        candidates=from_formulas(["MgO", "MgO2"], consumed="Mg", produced="O"),
        candidate_spec=None,
    )
    effect = effect_named(lab, "nitride")
    consumed, produced = moved_amounts(lab, effect)
    assert consumed == pytest.approx(1.5 / molar_mass_value("N"))
    assert produced == pytest.approx(1 / molar_mass_value("O"))


def test_an_oxide_bounds_the_oxygen_taken_up() -> None:
    lab = experiments.load("copper-plating")
    most = effect_named(lab, "oxidised product").most_per_product
    assert most == pytest.approx(molar_mass_value("O") / molar_mass_value("Cu"))
    hydrate = experiments.load("hydrate-heating")
    lost = effect_named(hydrate, "decomposed")
    assert lost.substance == "SO3"
    assert lost.most_per_consumed == pytest.approx(
        molar_mass_value("SO3") / molar_mass_value("MgSO4")
    )
    assert math.isinf(effect_named(hydrate, "spitting").most_per_consumed)


@pytest.mark.parametrize("table", [OXIDES, NITRIDES])
def test_the_compounds_of_the_tables_hold_their_metal(table: dict[str, str]) -> None:
    for metal, compound in table.items():
        assert metal in parse_formula(compound).counts


def test_faults_are_refused_with_what_is_allowed() -> None:
    lab = experiments.load("tin-oxide")
    with pytest.raises(ModelError, match="wet oxide"):
        effect_named(lab, "gas lost")
    with pytest.raises(FormulaError):
        effects_for(lab, residue="not a formula")


def test_a_gas_is_called_by_its_name() -> None:
    lost = effect_named(experiments.load("magnesium-gas"), "gas lost")
    assert lost.mechanism == (
        "Hydrogen that dissolved, leaked or never reached the tube was not measured."
    )
