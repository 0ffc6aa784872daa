"""Figures and words on the bench plan that people act on, each worked out by hand.

Molar masses: Zn 65.38 g/mol, CuSO4·5H2O 249.68 g/mol (general knowledge of the trade).
"""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import pytest

from stoichkit import Plan, experiments
from stoichkit.bench import (
    bench_plan,
    cautions_for,
    lab_safety,
    setup_of,
    solution_card,
    stock_card,
)
from stoichkit.bench.cards import _all_cards
from stoichkit.bench.datasheet import Column, sheet_columns
from stoichkit.bench.dilutions import dilute
from stoichkit.bench.expectations import (
    Change,
    capacity_checks,
    care_of,
    expectations_of,
    vessel_checks,
)
from stoichkit.bench.plan import _range
from stoichkit.bench.reagents import _partner, solution_in_excess
from stoichkit.bench.room import Order, SetupComparison, _tried, compare_setups, setup_sentences
from stoichkit.bench.supply import Lab, Reagent, SharedSupply, default_supply
from stoichkit.errors import ModelError
from stoichkit.experiments.parts import Caution
from stoichkit.measurement.concentration import KnownConcentration
from stoichkit.measurement.displays import Balance
from stoichkit.planning import Room, groups_in

LAB = Lab(experiment=experiments.load("copper-silver"), consumed_mol=0.002, excess=1.2, runs=4)


def liquid(volume_mL: float) -> Reagent:
    return Reagent(
        name="bath", formula="CuSO4", provides="Cu²⁺", role="in excess", needed_mmol=(1, 1),
        volume_mL=volume_mL, measured_with="", for_class="",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("volume_mL", "beaker"),
    [(33, "50 mL"), (34, "100 mL"), (66, "100 mL"), (99, "150 mL"), (166, "250 mL"),
     (266, "400 mL"), (399, "600 mL"), (401, "1000 mL"), (666, "1000 mL")],
)  # fmt: skip
def test_the_beaker_is_the_smallest_that_is_filled_to_two_thirds_at_most(
    volume_mL: float, beaker: str
) -> None:
    """Usual sizes: common practice, no source."""
    (check,) = vessel_checks((liquid(volume_mL),))
    assert check.passed
    assert f"A {beaker} beaker is filled to at most two thirds" in check.text


def test_a_volume_that_no_beaker_holds_is_pointed_out() -> None:
    """300 mL and 367 mL are 667 mL, just more than two thirds of 1000 mL."""
    (check,) = vessel_checks((liquid(300), liquid(367)))
    assert check.passed is False
    assert "Solutions of one trial: 667 mL. No usual beaker up to 1000 mL holds this" in check.text


@pytest.mark.parametrize(("capacity_g", "good"), [(2.9, False), (500.0, True), (None, None)])
def test_a_balance_is_compared_with_the_largest_reading(
    capacity_g: float | None, good: bool | None
) -> None:
    """2 mmol of copper react from a wire of about 3 g: the wire before is the heaviest."""
    lab = LAB.experiment.with_instrument(
        "balance", Balance(readability_g=0.01, capacity_g=capacity_g)
    )
    expected = expectations_of(Plan(experiment=lab, consumed_mol=0.002))
    (check,) = capacity_checks(lab, expected)
    assert check.passed is good
    assert "The largest reading expected is “wire before”" in check.text
    if good is False:
        assert "beyond its capacity of 2.9 g." in check.text
        assert check.text.endswith(", or use a larger one.")
    elif good:
        assert check.text.endswith(" g, within 500 g.")


def test_a_change_without_a_step_is_written_as_it_is() -> None:
    """A pipette of 25 mL has no scale."""
    taken = Change("volume", 25.0, "mL", 0.0)
    assert (taken.text, taken.steps) == ("25 mL", math.inf)
    assert Change("volume", 25.0, "mL", 0.1).text == "25.0 mL"


@pytest.mark.parametrize(
    ("mol_per_L", "water", "then"),
    [
        (0.1, "the 100 mL volumetric flask (class A)", ""),
        (1.0, "a heat-proof beaker", "rinse it into the 100 mL volumetric flask (class A), "),
    ],
)
def test_the_steps_of_a_dilution_say_what_goes_where(
    mol_per_L: float, water: str, then: str
) -> None:
    """A tenth of the strength in 100 mL: 10 mL of it; 40 mL of water are 0.4 of the flask."""
    stock = KnownConcentration(mol_per_L=mol_per_L, name="stock")
    first, second, label = dilute(stock, mol_per_L / 10, volume_mL=100).steps
    assert first == f"Put about 40 mL of pure water into {water}."
    assert second == (
        "Measure 10 mL of stock with the 10 mL pipette (class A), add it slowly to the water, let "
        f"it come to 20 °C, {then}fill to the 100 mL mark and mix."
    )
    assert label.startswith("Label it: solute, 0.")
    assert "mol/L, date, hazards." in label


def test_how_many_times_over_a_solution_is_taken() -> None:
    """10 mL of 2 mol/L are 20 mmol, 4.4 times 4.5 mmol; 5.4 mmol would be 2.7 mL."""
    acid = solution_in_excess(LAB, default_supply("H^+"), "H⁺", (1.5, 4.5), 0.0054)
    assert acid.amount == "10 mL"
    assert acid.notes[0] == "4.4 times what the neediest candidate takes."


def test_a_solid_in_excess_is_weighed_out_by_its_molar_mass() -> None:
    """1.2 × 2 × 2 mmol of zinc are 0.3138 g; four runs and a tenth in reserve 1.381 g."""
    zinc = _partner(
        LAB, SharedSupply(supply=default_supply("Zn"), species=("Zn",), moles={"a": 1.0, "b": 2.0})
    )
    assert zinc.mass_g == pytest.approx(1.2 * 2 * 0.002 * 65.38, rel=1e-4)
    assert zinc.for_class == "1.38 g"
    assert zinc.needed_mmol == pytest.approx((2.0, 4.0))
    assert zinc.measured_with == "to 0.01 g"


def test_what_has_no_usual_source_is_said_in_moles() -> None:
    """1.1 × 4 × 1.2 × 2 mmol are 10.56 mmol."""
    found = _partner(LAB, SharedSupply(supply=None, species=("Tl^+",), moles={"a": 1.0}))
    assert found.name == "Tl⁺: source not known here"
    assert (found.measured_with, found.for_class) == ("to be decided", "10.6 mmol")
    assert found.mass_g is None


def test_a_wire_is_taken_well_above_what_reacts() -> None:
    """What is left of the first wire, 2.82 g, and the 0.12 g that react."""
    plan = bench_plan(LAB.experiment, reacting_mass_g=0.12)
    wire = next(one for one in plan.reagents if one.formula == "Cu")
    assert wire.notes[0] == (
        "Take a piece well above the 0.12 g that are to react, and lift it out when about that "
        "much is used up."
    )
    after = float(LAB.experiment.trials[0].readings["wire after"][-1])
    assert wire.mass_g == pytest.approx(after + 0.12)
    assert wire.needed_mmol == pytest.approx((1.888, 1.888), rel=1e-3)


def test_an_order_says_grams_and_millilitres() -> None:
    salt = {"name": "bath", "formula": "CuSO4.5H2O"}
    assert Order(**salt, mass_g=12.31, volume_mL=250.0).words.startswith("bath: 250 mL (12.4 g of ")
    assert Order(**salt, mass_g=12.31, volume_mL=math.nan).words == "bath: 12.4 g"
    assert Order(**salt, mass_g=math.nan, volume_mL=250.0).words == "bath: 250 mL"
    nothing = Order(**salt, mass_g=math.nan, volume_mL=math.nan, in_stock=False)
    assert nothing.words == "bath: as the procedure says; more than is in stock"


def test_two_benches_are_counted_and_one_is_not() -> None:
    plan = Plan(experiment=experiments.load("copper-silver"), consumed_mol=0.002)
    for benches in (1, 2):
        room = Room(benches, [0.01], minutes=600)
        found = SetupComparison(room, 0.9, (setup_of(room, groups_in(room, plan)),))
        said = " ".join(setup_sentences(found))
        assert (f"of {benches} benches conclude on average" in said) == (benches > 1)
        first, second = found.tables()
        assert (*first.header, *second.header[4:]) == tuple(found.header)
        assert first.header[:4] == second.header[:4]
        assert [len(table.rows[0]) for table in (first, second)] == [
            len(table.header) for table in (first, second)
        ]


def test_a_search_says_what_it_looks_for() -> None:
    said: list[str] = []
    compare_setups(Room(1, [0.01]), [experiments.load("copper-silver")], progress=said.append)
    assert said
    for words in said:
        assert words.startswith("Looking for the smallest mass: ")
    _tried(said.append, "Cu for each bench", 0.1234)
    assert said[-1] == "Looking for the smallest mass: Cu for each bench, 0.123 g …"


@pytest.mark.parametrize("reagent", ["", "  ", None, 3])
def test_a_reagent_that_is_missing_is_not_unknown(reagent: object) -> None:
    """Else a blank would be said to have no known hazards."""
    with pytest.raises(ModelError, match="The reagent is missing"):
        cautions_for(reagent)  # type: ignore[arg-type]


def test_statements_of_the_table_are_added_to_those_of_a_record_once() -> None:
    known = cautions_for("AgNO3")
    codes = [text.split()[0] for text in known.statements]
    own = next(text for text in known.statements if text.startswith("H314"))
    typed = Caution(subject="silver nitrate", statements=(own,), source="Invented.")
    found = lab_safety(replace(LAB.experiment, cautions=(typed,))).cautions
    (silver,) = (one for one in found if one.subject.startswith("silver nitrate"))
    assert sorted(text.split()[0] for text in silver.statements) == sorted(codes)
    added = ", ".join(code for code in codes if code != "H314")
    assert f"Added from the built-in table: {added}." in silver.advice


@pytest.mark.parametrize(
    ("mol_per_L", "signal", "irritates", "burns"),
    [(0.5, "Warning", False, False), (4.0, "Warning", True, False), (12.0, "Danger", False, True)],
)
def test_a_stronger_acid_burns(mol_per_L: float, signal: str, irritates: bool, burns: bool) -> None:
    """Hydrochloric acid: H319 and H315 from 10 % (2.9 mol/L), H314 from 25 % (7.7 mol/L) (memory of
    the harmonised classification, Regulation (EC) 1272/2008, annex VI)."""
    found = cautions_for("HCl", concentration_mol_per_L=mol_per_L)
    codes = [text.split()[0] for text in found.statements]
    assert found.signal_word == signal
    assert ({"H315", "H319"} <= set(codes)) == irritates
    assert ("H314" in codes) == burns


def test_current_is_asked_for_in_moles_of_electrons() -> None:
    plan = bench_plan(experiments.load("copper-plating"), reacting_mol=0.002)
    current = next(one for one in plan.reagents if one.provides == "e⁻")
    assert current.needed_mmol == pytest.approx((2.0, 2.0))


def test_a_need_is_a_range_only_where_candidates_differ() -> None:
    needs = [SimpleNamespace(needed_mmol=pair) for pair in ((2.0, 2.0), (2.0, 4.0), (2.0, 2.0001))]
    assert [_range(one) for one in needs] == ["2", "2 to 4", "2"]  # type: ignore[arg-type]


def test_a_solution_that_no_way_makes_is_refused_with_the_reason() -> None:
    """0.1 L of 1e-6 mol/L are 6 µg of NaCl, far below a step of 1 mg."""
    with pytest.raises(ModelError, match="below one step"):
        solution_card("NaCl", 1e-6, 100)


def test_what_does_not_fit_on_a_card_leaves_it_in_its_order() -> None:
    plan = bench_plan(LAB.experiment)
    titles = [
        {one.title.split(",")[0] for one in _all_cards(plan, ["red"], [["trial 1"]], n).sections}
        for n in range(4)
    ]
    assert [
        sum(any(title.startswith(start) for title in found) for start in
            ("Take care", "How it is done", "Waste and hazards"))
        for found in titles
    ] == [0, 1, 2, 3]  # fmt: skip


def test_batches_are_said_to_be_made_alike() -> None:
    """60 groups of 4 trials take 50 mL each, 13.2 L with the reserve: more than one flask."""
    few, many = (" ".join(stock_card(LAB.experiment, groups=n).text().split()) for n in (1, 60))
    assert "each made in the same way" in many
    assert " batches of " in many
    assert "1 batch of " in few
    assert "each made in the same way" not in few


def test_a_reading_that_nothing_is_expected_of_counts_as_nothing() -> None:
    empty = SimpleNamespace(readings=(), candidate="any")
    lab = LAB.experiment.with_instrument("balance", Balance(readability_g=0.01, capacity_g=10))
    (check,) = capacity_checks(lab, [empty])  # type: ignore[list-item]
    assert "“wire before”, 0 g, within 10 g." in check.text


def test_of_two_balances_each_has_its_own_rule_of_constant_mass() -> None:
    ready = experiments.load("copper-silver")
    rough = {**ready.instruments, "rough": Balance(readability_g=0.1)}
    two = replace(ready, instruments=rough, produced=replace(ready.produced, instrument="rough"))
    alone, apart = " ".join(care_of(ready)[0]), " ".join(care_of(two)[0])
    assert "balance: " not in alone
    assert "rough: " in apart


def test_one_reading_has_one_column_and_a_mean_of_three_has_three() -> None:
    (column, *_) = sheet_columns(experiments.load("copper-silver"))
    assert column.apart() == (column,)
    fields = {f: getattr(column, f) for f in column.__slots__ if f != "repeats"}
    assert Column(**fields).apart() == (column,)
    names = [one.name for one in replace(column, repeats=3).apart()]
    assert names == ["wire before 1", "wire before 2", "wire before 3"]
