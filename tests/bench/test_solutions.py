"""Making up and diluting solutions, and which glassware is good enough."""

from __future__ import annotations

import csv
import math
from importlib.resources import files

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stoichkit.bench.dilutions import (
    dilute,
    dilutions_by_glassware,
    good_enough,
    recipes_by_glassware,
)
from stoichkit.bench.reagent_data import concentrated, heat_caution, solubility
from stoichkit.bench.recipes import prepare_solution, smallest_cylinder, standard_sizes
from stoichkit.chemistry.elements import molar_mass_value
from stoichkit.errors import ModelError, StoichkitError
from stoichkit.measurement.concentration import KnownConcentration
from stoichkit.measurement.displays import Balance
from stoichkit.measurement.glassware import GraduatedCylinder, VolumetricFlask
from stoichkit.uncertainty.sources import nominal, standard_uncertainty

STOCK = KnownConcentration(mol_per_L=1.0, half_width_mol_per_L=0.0005)


@given(
    st.sampled_from(["AgNO3", "CuSO4.5H2O", "NaCl", "KHC8H4O4"]),
    st.floats(0.01, 2.0),
    st.floats(20, 2000),
)
def test_a_recipe_makes_what_was_asked_for_within_half_a_step(
    solute: str, c: float, volume_mL: float
) -> None:
    recipe = prepare_solution(solute, c, volume_mL)

    step = 0.005 / (molar_mass_value(solute) * recipe.volume_mL / 1000)
    assert abs(nominal(recipe.concentration_mol_per_L) - c) <= step * (1 + 1e-9)
    assert recipe.volume_mL >= volume_mL
    assert recipe.volume_mL in standard_sizes("flask")
    assert round(recipe.mass_g, 2) == recipe.mass_g


def test_the_budget_by_hand() -> None:
    """1.70 g AgNO3 in a 100 mL class A flask; every part worked out apart from the code."""
    recipe = prepare_solution("AgNO3", 0.1, 100, glass_class="A")

    weighing = math.sqrt(2) * math.hypot(0.005, 0.01 / math.sqrt(12)) / 1.70
    flask = math.hypot(0.08 / math.sqrt(6), 0.08 / 3) / 100
    warmth = 4 * 2.1e-4 / math.sqrt(3)
    molar = math.hypot(0.0002, 0.001, 3 * 0.001) / math.sqrt(3) / 169.8722
    expected = math.hypot(weighing, flask, warmth, molar)
    assert recipe.relative_uncertainty == pytest.approx(expected, rel=2e-5)
    assert recipe.limited_by.startswith("the weighing (98 %")
    assert sum(line.share for line in recipe.budget) == pytest.approx(1)


def test_purity_takes_more_solid_and_adds_its_uncertainty() -> None:
    pure = prepare_solution("NaCl", 0.5, 1000)
    less = prepare_solution("NaCl", 0.5, 1000, purity=0.98, purity_half_width=0.01)
    assert less.mass_g == pytest.approx(pure.mass_g / 0.98, abs=0.006)
    assert less.limited_by.startswith("the purity")
    relative = less.relative_uncertainty**2 - pure.relative_uncertainty**2
    assert math.sqrt(relative) == pytest.approx(0.01 / math.sqrt(3) / 0.98, rel=1e-3)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("NaCl", 0.0, 100), "concentration"),
        (("NaCl", 0.1, -1), "volume"),
        (("Ag^+", 0.1, 100), "charge"),
        (("NaCl", 0.1, 5000), "portions"),
        (("NaCl", 0.00001, 100), "below one step"),
    ],
)
def test_impossible_recipes_are_refused(arguments: tuple, says: str) -> None:
    with pytest.raises(ModelError, match=says):
        prepare_solution(*arguments)


def test_a_flask_that_is_too_small_is_refused() -> None:
    with pytest.raises(ModelError, match="too small"):
        prepare_solution("NaCl", 0.1, 120, flask=VolumetricFlask(capacity_mL=100))


def test_a_coarse_balance_and_a_small_balance_are_pointed_out() -> None:
    few = prepare_solution("NaCl", 0.1, 100, balance=Balance(readability_g=0.1))
    assert any("6 steps" in text for text in few.cautions)
    heavy = prepare_solution("NaCl", 1.0, 1000, balance=Balance(readability_g=0.01, capacity_g=50))
    assert any("beyond the capacity" in text for text in heavy.cautions)


@pytest.mark.parametrize(("mass_g", "said"), [(0.99, True), (1.0, False), (5.84, False)])
def test_few_steps_are_fewer_than_a_hundred(mass_g: float, said: bool) -> None:
    """1.00 g on a balance to 0.01 g is 100 steps; NaCl 58.44 g/mol (memory), in 1 L."""
    recipe = prepare_solution("NaCl", mass_g / 58.44, 1000, balance=Balance(readability_g=0.01))
    assert recipe.mass_g == mass_g
    found = [text for text in recipe.cautions if "steps of the balance" in text]
    assert bool(found) == said
    if said:
        assert found[0].startswith("Only 99 steps of the balance are weighed")


def test_a_cylinder_measures_ten_of_its_steps_at_least() -> None:
    stock = KnownConcentration(mol_per_L=1.0, half_width_mol_per_L=0.0, name="stock")
    step = smallest_cylinder(1.0).readability
    for steps in (10, 11):
        made = dilute(stock, steps * step / 100, volume_mL=100, glassware="cylinder")
        assert made.stages[0].taken_mL == pytest.approx(steps * step)
    with pytest.raises(ModelError, match="too small for a measuring cylinder"):
        dilute(stock, 9 * step / 100, volume_mL=100, glassware="cylinder")


def test_only_what_is_too_heavy_is_weighed_in_portions() -> None:
    """0.5 mol/L in 1 L is 29.22 g of NaCl."""
    for capacity_g, said in ((29.0, True), (29.21, True), (29.22, False), (30.0, False)):
        balance = Balance(readability_g=0.01, capacity_g=capacity_g)
        cautions = prepare_solution("NaCl", 0.5, 1000, balance=balance).cautions
        assert any("in portions" in text for text in cautions) == said


def test_a_cylinder_makes_any_volume_and_is_worse_than_a_flask() -> None:
    cylinder = prepare_solution("NaCl", 0.5, 80, flask=GraduatedCylinder(capacity_mL=100))
    assert cylinder.volume_mL == 80
    assert cylinder.relative_uncertainty > prepare_solution("NaCl", 0.5, 80).relative_uncertainty


@pytest.mark.parametrize("volume_mL", [25, 50, 100, 250, 500, 1000])
def test_better_glassware_is_never_worse(volume_mL: float) -> None:
    found = [r.relative_uncertainty for r in recipes_by_glassware("NaCl", 1.0, volume_mL).values()]
    assert len(found) == 4
    assert found == sorted(found, reverse=True)
    diluted = [
        d.relative_uncertainty
        for d in dilutions_by_glassware(STOCK, 0.1, volume_mL=max(volume_mL, 100)).values()
    ]
    assert diluted == sorted(diluted, reverse=True)


def test_good_enough_names_the_first_that_reaches_or_the_best() -> None:
    ways = recipes_by_glassware("NaCl", 1.0, 250)
    loose = good_enough(ways, 0.01)
    assert loose.first is not None
    assert loose.first.name == "cylinder, class B"
    strict = good_enough(ways, 1e-5)
    assert strict.first is None
    assert "None of these reaches 0.0010 %" in strict.sentence
    assert "volumetric flask, class A" in strict.sentence
    for comparison in (loose, strict):
        for way in comparison.ways:
            assert way.reaches == (way.relative_uncertainty <= comparison.relative_target)
    with pytest.raises(ModelError, match="nothing to compare"):
        good_enough({}, 0.01)
    with pytest.raises(ModelError, match="above 0"):
        good_enough(ways, 0)


@given(st.sampled_from(["A", "B"]), st.floats(0.001, 0.4), st.sampled_from([50, 100, 250]))
def test_a_dilution_uses_standard_sizes_and_comes_close(
    glass_class: str, ratio: float, volume_mL: float
) -> None:
    found = dilute(STOCK, ratio, volume_mL=volume_mL, glass_class=glass_class, closeness=0.5)
    product = 1.0
    for stage in found.stages:
        assert stage.taken_mL in standard_sizes("pipette", glass_class)
        assert stage.made_mL in standard_sizes("flask", glass_class)
        assert stage.taken_mL < stage.made_mL
        product *= stage.factor
    assert nominal(found.concentration_mol_per_L) == pytest.approx(product)
    assert abs(product / ratio - 1) <= 0.5
    assert found.volume_mL >= volume_mL
    assert len(found.stages) <= 2


def test_a_concentration_no_pieces_make_is_refused_with_the_nearest() -> None:
    with pytest.raises(ModelError, match=r"the nearest is 0\.03125 mol/L"):
        dilute(STOCK, 0.033)


@pytest.mark.parametrize(
    ("target", "sizes"),
    [(0.1, [(10, 100)]), (0.5, [(50, 100)]), (0.04, [(10, 250)]), (0.002, [(1, 500)])],
)
def test_round_dilutions_take_the_obvious_pieces(
    target: float, sizes: list[tuple[float, float]]
) -> None:
    found = dilute(STOCK, target)
    assert [(s.taken_mL, s.made_mL) for s in found.stages] == sizes


def test_one_pipette_used_twice_keeps_its_tolerance_error() -> None:
    found = dilute(STOCK, 0.0001)
    assert len(found.stages) == 2
    names = [line.label for line in found.budget if line.source.kind == "tolerance"]
    assert len(names) == len(set(names))


def test_the_error_of_the_stock_is_carried_on() -> None:
    stock = prepare_solution("NaCl", 1.0, 100)
    found = dilute(stock, 0.1)
    ratio = found.concentration_mol_per_L / stock.concentration_mol_per_L
    assert standard_uncertainty(ratio) < standard_uncertainty(found.concentration_mol_per_L) / 0.9
    again = dilute(found, 0.01)
    assert again.relative_uncertainty > found.relative_uncertainty > stock.relative_uncertainty


@pytest.mark.parametrize(
    ("arguments", "keywords", "says"),
    [
        ((STOCK, 1.0), {}, "weaker"),
        ((STOCK, 2.0), {}, "weaker"),
        ((STOCK, 0.1), {"volume_mL": 1e5}, "portions"),
        ((STOCK, 0.1), {"glassware": "bucket"}, "pipette or cylinder"),
        ((STOCK, 0.1), {"glass_class": "C"}, "A or B"),
        ((STOCK, 0.1), {"closeness": 0}, "closeness"),
        ((0.5, 0.1), {}, "`stock` is not a Stock.*KnownConcentration"),
        ((STOCK, 1e-5), {"glassware": "cylinder"}, "too small"),
    ],
)
def test_impossible_dilutions_are_refused(arguments: tuple, keywords: dict, says: str) -> None:
    with pytest.raises(ModelError, match=says):
        dilute(*arguments, **keywords)


def test_an_acid_goes_into_water_and_never_straight_into_the_flask() -> None:
    stock = concentrated("HCl")
    assert stock is not None
    found = dilute(stock, 2.0, volume_mL=250, glassware="cylinder")
    assert any("acid goes into the water" in text for text in found.cautions)
    assert "heat-proof beaker" in found.steps[0]
    weak = dilute(KnownConcentration(mol_per_L=0.1), 0.01)
    assert not any("acid" in text for text in weak.cautions)
    assert any("pipette filler" in text for text in weak.cautions)


def test_strong_heat_of_dissolving_is_said() -> None:
    cautions = " ".join(prepare_solution("NaOH", 0.1, 250).cautions)
    assert "heats the water strongly" in cautions
    assert "H314" in cautions
    assert heat_caution("NaCl") == ""


# -- solubility ----------------------------------------------------------------------------


def test_every_row_of_the_solubility_table_answers_both_ways() -> None:
    text = (files("stoichkit") / "data" / "solubility.csv").read_text("utf-8")
    rows = list(csv.DictReader(text.splitlines()))
    assert len({row["formula"] for row in rows}) == len(rows) >= 40
    for row in rows:
        assert row["status"] == "memory"
        at_limit = 10 * float(row["g_per_100g_water"]) / molar_mass_value(row["formula"])
        assert solubility(row["formula"], at_limit / 20).dissolves is True
        assert solubility(row["formula"], at_limit * 1.3).dissolves is False
        assert "from memory" in solubility(row["formula"], at_limit).sentence


@pytest.mark.parametrize(
    ("formula", "ksp", "ions"), [("AgCl", 1.8e-10, 2), ("BaSO4", 1.1e-10, 2), ("CaCO3", 3.4e-9, 2)]
)
def test_hardly_soluble_salts_agree_with_their_solubility_products(
    formula: str, ksp: float, ions: int
) -> None:
    """s = Ksp^(1/2), without ion pairs or hydrolysis; Ksp at 25 °C of textbooks, from memory.

    Carbonate takes up protons from water, so its salt dissolves about twice as well as that.
    """
    saturated = solubility(formula, 1.0).limit_mol_per_L
    assert saturated is not None
    assert saturated == pytest.approx(ksp ** (1 / ions), rel=1.3 if formula == "CaCO3" else 0.15)


def test_the_promise_stays_below_saturated_brine() -> None:
    """Saturated brine at 20 °C: 26.4 % NaCl, 1.20 g/mL, so 5.4 mol/L; handbooks, from memory."""
    brine = 1200 * 0.264 / molar_mass_value("NaCl")
    found = solubility("NaCl", brine)
    assert found.dissolves is None
    assert found.limit_mol_per_L == pytest.approx(1000 * 35.9 / 135.9 / molar_mass_value("NaCl"))
    assert found.limit_mol_per_L < brine < 10 * 35.9 / molar_mass_value("NaCl")
    assert solubility("AgNO3", 4.0).dissolves is None


def test_an_unknown_solubility_is_not_a_yes() -> None:
    found = solubility("GeCl2", 0.1)
    assert found.dissolves is None
    assert found.limit_mol_per_L is None
    with pytest.raises(StoichkitError):
        solubility("NaCl", 0)


@pytest.mark.parametrize(
    ("formula", "mol_per_L"),
    [("HCl", 12.0), ("HNO3", 14.4), ("H2SO4", 18.0), ("CH3COOH", 17.4), ("NH3", 13.4)],
)
def test_concentrated_reagents_have_their_usual_strength(formula: str, mol_per_L: float) -> None:
    """Common practice, from memory: bottles of 37 % HCl are called 12 mol/L, and so on."""
    found = concentrated(formula)
    assert found is not None
    assert found.mol_per_L == pytest.approx(mol_per_L, rel=0.015)


def test_sizes_of_an_unknown_kind_are_refused() -> None:
    with pytest.raises(StoichkitError, match="not known"):
        standard_sizes("bucket")
