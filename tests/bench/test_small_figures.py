"""Figures and words on the bench plan that people act on, each worked out by hand.

Molar masses: Zn 65.38 g/mol, CuSO4·5H2O 249.68 g/mol (general knowledge of the trade).
"""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction
from types import SimpleNamespace

import pytest

from stoichkit import Plan, experiments
from stoichkit.bench import (
    bench_plan,
    cautions_for,
    lab_safety,
    reagent_data,
    setup_of,
    solution_card,
    stock_card,
)
from stoichkit.bench.cards import _all_cards
from stoichkit.bench.datasheet import Column, sheet_columns
from stoichkit.bench.dilutions import Dilution, dilute
from stoichkit.bench.dilutions import _cautions as _dilution_cautions
from stoichkit.bench.expectations import (
    Change,
    _share,
    capacity_checks,
    care_of,
    expectations_of,
    size_checks,
    vessel_checks,
)
from stoichkit.bench.plan import _range
from stoichkit.bench.reagent_data import _chosen, _note, _Row
from stoichkit.bench.reagents import (
    _make_up,
    _partner,
    batches,
    round_up,
    solution_in_excess,
)
from stoichkit.bench.recipes import percent, smallest_cylinder, typed
from stoichkit.bench.room import (
    Order,
    SetupComparison,
    Timing,
    _of_hundred,
    _saved,
    _tried,
    _visits,
    _with_bath,
    compare_setups,
    orders_of,
    queue_minutes,
    setup_sentences,
)
from stoichkit.bench.supply import Lab, Reagent, SharedSupply, Supply, default_supply
from stoichkit.chemistry.candidates import Candidate
from stoichkit.errors import ModelError
from stoichkit.experiments.parts import Caution
from stoichkit.measurement.concentration import KnownConcentration
from stoichkit.measurement.displays import Balance
from stoichkit.planning import Room, groups_in
from stoichkit.planning.room import AIMS

LAB = Lab(experiment=experiments.load("copper-silver"), consumed_mol=0.002, excess=1.2, runs=4)


def liquid(volume_mL: float) -> Reagent:
    return Reagent(
        name="bath", formula="CuSO4", provides="Cu²⁺", role="in excess", needed_mmol=(1, 1),
        volume_mL=volume_mL, measured_with="", for_class="",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("volume_mL", "beaker"),
    [(33, "50 mL"), (34, "100 mL"), (66, "100 mL"), (99, "150 mL"), (166, "250 mL"),
     (100, "150 mL"), (100.1, "250 mL"), (266, "400 mL"), (399, "600 mL"), (400, "600 mL"),
     (401, "1000 mL"), (666, "1000 mL")],
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


@pytest.mark.parametrize(
    ("total_mL", "kind", "count", "size_mL"),
    [
        (40, "flask", 1, 50), (50, "flask", 1, 50), (50.00000001, "flask", 1, 50),
        (51, "flask", 1, 100), (210, "flask", 1, 250), (260, "flask", 1, 500),
        (550, "cylinder", 1, 1000), (1000, "cylinder", 1, 1000), (1001, "flask", 3, 500),
        (1600, "flask", 2, 1000), (3000, "cylinder", 3, 1000),
    ],
)  # fmt: skip
def test_few_batches_with_little_left_over(
    total_mL: float, kind: str, count: int, size_mL: float
) -> None:
    """What is made counts, and each batch beyond the first as 0.35 of it.

    1001 mL: 3 × 500 × 1.7 = 2550, 2 × 1000 × 1.35 = 2700. 1600 mL: 2 × 1000 × 1.35 = 2700, and
    4 × 500 × 2.05 = 4100. 260 mL: 500, and 2 × 200 × 1.35 = 540. 550 mL: 1000, and
    2 × 500 × 1.35 = 1350.
    """
    assert batches(total_mL, kind) == (count, size_mL)


@pytest.mark.parametrize(
    ("volume_mL", "rounded_mL"),
    [(0.1, 10), (10, 10), (10.1, 15), (99, 100), (100, 100), (100.1, 110), (250, 250),
     (250.1, 300), (300.0000000001, 300), (301, 350)],
)  # fmt: skip
def test_volumes_are_rounded_up_to_what_a_cylinder_shows_well(
    volume_mL: float, rounded_mL: float
) -> None:
    """Steps of 5 mL to 100 mL, of 10 mL to 250 mL, of 50 mL beyond; 10 mL at least."""
    assert round_up(volume_mL) == rounded_mL


@pytest.mark.parametrize(
    ("relative", "text"),
    [(0.0, "0 %"), (-1.0, "0 %"), (0.00123, "0.12 %"), (0.0099, "0.99 %"), (0.01, "1.0 %"),
     (0.0123, "1.2 %"), (0.123, "12 %"), (1.23, "123 %")],
)  # fmt: skip
def test_two_digits_of_a_per_cent(relative: float, text: str) -> None:
    assert percent(relative) == text


@pytest.mark.parametrize(
    ("value", "step", "text"),
    [(1.236, 0.01, "1.24"), (1.236, 0.1, "1.2"), (1.236, 0.02, "1.24"), (7.4, 1.0, "7"),
     (0.004, 0.01, "0.00"), (0.0226, 0.0005, "0.0225")],
)  # fmt: skip
def test_the_nearest_that_an_instrument_shows(value: float, step: float, text: str) -> None:
    found = typed(value, step)
    assert (found.text, found.value, found.decimals) == (
        text, float(text), len(text.partition(".")[2])
    )  # fmt: skip


@pytest.mark.parametrize(("volume_mL", "size_mL"), [(4, 5), (5, 5), (5.1, 10), (1000, 1000)])
def test_the_smallest_cylinder_that_holds_it(volume_mL: float, size_mL: float) -> None:
    cylinder = smallest_cylinder(volume_mL)
    assert cylinder is not None
    assert cylinder.capacity_mL == size_mL
    assert smallest_cylinder(1001) is None


@pytest.mark.parametrize(
    ("mol_per_L", "dissolves"),
    [(6.84, True), (6.85, None), (12.0, None), (20.53, None), (20.54, False)],
)
def test_from_where_on_nothing_is_promised(
    monkeypatch: pytest.MonkeyPatch, mol_per_L: float, dissolves: bool | None
) -> None:
    """100 g of NaCl in 100 g of water (invented) are 500 g/L at least, or 8.556 mol/L, and 1000 g/L
    at most, 17.11 mol/L; the margin of a fifth makes that 6.845 and 20.53 mol/L."""
    row = {"g_per_100g_water": "100", "status": "memory"}
    monkeypatch.setattr(reagent_data, "_solubility_rows", lambda: {"NaCl": row})
    found = reagent_data.solubility("NaCl", mol_per_L)
    assert found.dissolves is dissolves
    assert found.limit_mol_per_L == pytest.approx(8.556, abs=1e-3)
    what = {True: "dissolves at 20", False: "does not dissolve", None: "is close to saturation"}
    assert what[dissolves] in found.sentence
    assert "(100 g of NaCl in 100 g of water, about 8.6 mol/L; from memory)" in found.sentence


@pytest.mark.parametrize(
    ("mol_per_L", "sentence"),
    [
        (None, ""),
        (0.5, "Statements for a solution below 1 mol/L. "),
        (1.0, "Statements for a solution from 1 mol/L on. "),
        (4.9, "Statements for a solution from 1 mol/L on. "),
        (5.0, "Statements for a solution from 5 mol/L on. "),
    ],
)
def test_a_note_says_for_which_strength_the_statements_are(
    mol_per_L: float | None, sentence: str
) -> None:
    """Rows for the solid, from 5, from 1 and from 0 mol/L (invented)."""

    def row(least: float | None, form: str = "solution") -> _Row:
        return _Row(("X",), ("x",), form, least, "Danger", ("H314",), (), "", "memory")

    rows = [row(None, "solid"), row(5.0), row(1.0), row(0.0)]
    chosen = _chosen(rows, mol_per_L)
    found = _note(chosen, rows, mol_per_L)
    assert found.removesuffix(reagent_data.CHECK) == sentence
    assert found.endswith(reagent_data.CHECK)


@pytest.mark.parametrize(
    ("form", "codes", "mol_per_L", "sentence"),
    [
        ("powder", ("H228",), None, "Statements for the powder. "),
        ("solid", ("H228",), None, ""),
        ("gas", ("H220",), None,
         "Statements for the gas as it forms; a gas cylinder also carries H280. "),
        ("gas", (), None, "Not classified as hazardous as far as remembered. "),
        ("liquid", ("H225",), 0.1,
         "The statements are those of the liquid; a dilute solution may carry fewer. "),
        ("solid", (), 0.1, "Not classified as hazardous as far as remembered. "),
    ],
)  # fmt: skip
def test_a_note_says_for_which_form_the_statements_are(
    form: str, codes: tuple[str, ...], mol_per_L: float | None, sentence: str
) -> None:
    only = _Row(("X",), ("x",), form, None, "", codes, (), "", "memory")
    assert _chosen([only], mol_per_L) is only
    found = _note(only, [only], mol_per_L)
    assert found.removesuffix(reagent_data.CHECK) == sentence


def test_what_cannot_be_made_up_is_taken_as_it_is_or_said() -> None:
    """Concentrated hydrochloric acid has 12 mol/L: from 1.05 times weaker on it is diluted."""
    strong = reagent_data.concentrated("HCl")
    assert strong is not None

    def made(times: float) -> tuple[object, tuple[str, ...]]:
        acid = Supply(species="H^+", solute="HCl", concentration_mol_per_L=strong.mol_per_L * times)
        return _make_up(LAB, acid, 500.0)

    assert made(1.0) == (None, ("Taken as it is: concentrated hydrochloric acid (37 %).",))
    assert made(0.96)[0] is None
    diluted, notes = made(0.94)
    assert isinstance(diluted, Dilution)
    assert notes == ()
    faint = Supply(species="Ag^+", solute="AgNO3", concentration_mol_per_L=1e-7)
    none, (why,) = _make_up(LAB, faint, 50.0)
    assert none is None
    assert why.startswith("It cannot be made up so: The mass to weigh is below one step")
    usual = Supply(species="Ag^+", solute="AgNO3")
    recipe, (many, _) = _make_up(LAB, usual, 1300.0)
    assert recipe is not None
    assert (recipe.volume_mL, many) == (500.0, "Make it up in 3 batches of 500 mL.")
    assert len(_make_up(LAB, usual, 500.0)[1]) == 1


@pytest.mark.parametrize(("strength", "acid", "said"), [
    (0.8, True, True), (0.79, True, False), (5.0, False, False)
])  # fmt: skip
def test_an_acid_that_may_burn_goes_into_the_water(strength: float, acid: bool, said: bool) -> None:
    stages = dilute(KnownConcentration(mol_per_L=1.0, name="stock"), 0.1).stages
    found = list(_dilution_cautions(stages, strength, strength / 10, acid))
    assert any(text.startswith("An acid goes into the water") for text in found) == said
    assert "Never pipette by mouth: use a pipette filler." in found


@pytest.mark.parametrize(
    ("target", "said"),
    [(0.1, ""), (0.1 / 1.0009, ""), (0.1 / 1.011, "1.1 % more"), (0.1 / 0.989, "1.1 % less")],
)
def test_how_far_the_sizes_are_off(target: float, said: str) -> None:
    """10 mL in 100 mL of 1 mol/L are 0.1 mol/L whatever was asked for; a thousandth is not said."""
    stages = dilute(KnownConcentration(mol_per_L=1.0, name="stock"), 0.1).stages
    found = [t for t in _dilution_cautions(stages, 1.0, target, False) if "sizes make" in t]
    assert found == ([f"The sizes make {said} than asked for."] if said else [])


@pytest.mark.parametrize(("smallest_mL", "good"), [(15.0, True), (14.9, False), (45.0, True)])
def test_a_burette_is_used_to_three_tenths_at_least(smallest_mL: float, good: bool) -> None:
    """Of a burette of 50 mL, 15 mL (USP 31, as the rule that is printed says)."""
    burette = experiments.load("acid-titration").instruments["burette"]
    expected = [
        SimpleNamespace(
            produced=Change("burette", size, "mL", 0.05),
            consumed=Change("crystals", 1.0, "g", 0.001),
            further=(),
        )
        for size in (smallest_mL, 46.0)
    ]
    check = _share("burette", burette, expected)  # type: ignore[arg-type]
    assert (check.subject, check.passed) == ("burette: volume used", good)
    share = f"The smallest volume expected is {2 * smallest_mL:.0f} % of its capacity; "
    assert check.text.startswith(share)
    assert check.text.endswith("." if good else ": let more react, or use a smaller burette.")
    assert ("let more react" in check.text) == (not good)
    sides = [
        SimpleNamespace(produced=expected[0].consumed, consumed=expected[0].produced, further=()),
        SimpleNamespace(
            produced=expected[0].consumed, consumed=expected[0].consumed,
            further=(expected[0].produced,),
        ),
    ]  # fmt: skip
    for side in sides:  # whichever amount is read on it, also by a further route
        assert _share("burette", burette, [side]).text.startswith(share)  # type: ignore[list-item]


def test_the_nearest_candidate_and_how_far_apart() -> None:
    """1, 2 and 4 mol of silver for each of copper, 2 mmol: 0.2157 g or 21.57 steps a mole."""
    lab = LAB.experiment.with_candidates(
        [Candidate(n, Fraction(r)) for n, r in (("one", 1), ("two", 2), ("four", 4))]
    )
    found = expectations_of(Plan(experiment=lab, consumed_mol=0.002))
    assert [one.nearest for one in found] == ["two", "one", "two"]
    assert [one.apart_steps for one in found] == pytest.approx([21.574, 21.574, 43.147], abs=2e-3)
    assert [one.ratio for one in found] == [1, 2, 4]
    assert found[2].product_mass_g == pytest.approx(4 * 0.002 * 107.868, rel=1e-5)
    assert found[0].consumed.size == pytest.approx(0.002 * 63.546, rel=1e-4)
    alone = expectations_of(
        Plan(experiment=lab.with_candidates(lab.candidates[:1]), consumed_mol=0.002)
    )
    assert (alone[0].nearest, alone[0].apart_steps, alone[0].apart_uncertainties) == ("", 0.0, 0.0)


@pytest.mark.parametrize(
    ("recovery", "between"),
    [((1.0, 1.0), 1.0), ((0.9, 1.0), 0.8), ((0.8, 1.2), 0.4), ((0.5, 1.0), 0.0)],
)
def test_what_may_be_recovered_brings_candidates_nearer(
    recovery: tuple[float, float], between: float
) -> None:
    """Of 2 at least 0.9 × 2, of 1 at most 1: 0.8 apart in place of 1; 0.5 × 2 reaches 1."""
    lab = replace(LAB.experiment, recovery=recovery)
    full = expectations_of(Plan(experiment=LAB.experiment, consumed_mol=0.002))
    found = expectations_of(Plan(experiment=lab, consumed_mol=0.002))
    for one, plain in zip(found, full, strict=True):
        assert one.apart_uncertainties == pytest.approx(between * plain.apart_uncertainties)


@pytest.mark.parametrize(("steps", "good"), [(20.0, True), (19.9, False), (300.0, True)])
def test_a_change_is_twenty_steps_at_least(steps: float, good: bool) -> None:
    large = Change("loss", 90.0, "g", 0.1)
    small, pipette = Change("gain", steps * 0.125, "g", 0.125), Change("p", 25.0, "mL", 0.0)
    expected = [
        SimpleNamespace(consumed=pipette, produced=one, further=(large,)) for one in (small, large)
    ]
    gain, loss = size_checks(expected)  # type: ignore[arg-type]
    assert (gain.subject, gain.passed, loss.passed) == ("size of gain", good, True)
    assert loss.text == "At least 90.0 g, 900 steps of 0.1 g."
    assert f", {steps:.3g} steps of 0.125 g" in gain.text
    assert gain.text.endswith("." if good else "Let more react, or use a finer instrument.")
    assert ("fewer than the 20 that keep rounding small" in gain.text) == (not good)


def test_what_is_ordered_by_hand() -> None:
    """3 trials and a tenth: 165 mL of 0.1 mol/L, made as 170 mL, hold 2.888 g of AgNO3."""
    salt = replace(liquid(50.0), formula="AgNO3", concentration_mol_per_L=0.1)
    copper = replace(liquid(0.0), formula="Cu", volume_mL=None, mass_g=2.0)
    unnamed = replace(salt, formula="")
    bought = replace(salt, concentration_mol_per_L=None)
    current = replace(copper, formula="e-", mass_g=None)
    air = replace(copper, formula="O2", mass_g=None)
    stock = Room(1, [0.01], stock_g={"AgNO3": 2.8878, "Cu": 6.6})
    made, wire, *liquids, gas = orders_of(
        stock, [salt, copper, unnamed, bought, current, replace(current, formula=""), air], 3
    )
    assert (made.volume_mL, made.mass_g) == (170.0, pytest.approx(0.017 * 169.873, rel=1e-4))
    assert wire.mass_g == pytest.approx(6.6)
    assert wire.in_stock is True  # all of it, though 1.1 × 3 × 2 is not quite 6.6 in a computer
    assert math.isnan(wire.volume_mL)
    for one in liquids:
        assert one.volume_mL == 170.0
        assert math.isnan(one.mass_g)
        assert one.in_stock is None
    assert math.isnan(gas.mass_g)
    assert math.isnan(gas.volume_mL)
    assert made.in_stock is (made.mass_g <= 2.8878)
    for least, enough in ((6.59, False), (6.601, True)):
        (order,) = orders_of(Room(1, [0.01], stock_g={"Cu": least}), [copper], 3)
        assert order.in_stock is enough


def side(aim: str, waste_mL: float, waste_g: float = 0.0, trials: int = 1) -> SimpleNamespace:
    return SimpleNamespace(
        reactant="Fe", balance="0.1 g", aim=aim, waste_mL=waste_mL, waste_g=waste_g,
        plan=SimpleNamespace(trials=trials), found=SimpleNamespace(bench_concludes=0.31),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("each", "together", "said"),
    [
        ((100.0, 5.0), (60.0, 5.0), "40 % less used solution"),
        ((100.0, 5.0), (94.0, 1.0), "6 % less used solution"),
        ((100.0, 5.0), (95.5, 1.0), ""),
        ((0.0, 10.0), (0.0, 4.0), "60 % less solids left over"),
        ((0.0, 0.0), (0.0, 0.0), ""),
    ],
)
def test_what_is_saved_where_the_class_concludes_together(
    each: tuple[float, float], together: tuple[float, float], said: str
) -> None:
    """Used solution counts; solids where there is none. Up to 5 % is not worth saying."""
    setups = (side(AIMS[0], *each), side(AIMS[1], *together), side(AIMS[0], 900.0, trials=2))
    found = list(_saved(SimpleNamespace(setups=setups)))  # type: ignore[arg-type]
    assert found == (
        [
            f"Fe on 0.1 g, 1 trial a bench: if only the class together has to conclude, there is "
            f"{said}; a bench by itself then concludes with a chance of 0.31."
        ]
        if said
        else []
    )


def test_the_least_that_will_do_is_the_least_of_all_trials() -> None:
    """0.3 g once is less than 0.2 g in each of two trials; what does not fit the time is last."""

    def one(mass_g: float, trials: int, fits: bool = True, aim: str = AIMS[0]) -> SimpleNamespace:
        return SimpleNamespace(
            reactant="Fe", balance="0.1 g", aim=aim, mass_g=mass_g, waste_mL=0, waste_g=0,
            plan=SimpleNamespace(trials=trials), timing=SimpleNamespace(fits=fits),
            found=SimpleNamespace(groups=(1,), benches=1, concluding=1.0, all_conclude=1.0),
        )  # fmt: skip

    def said(*setups: SimpleNamespace) -> list[str]:
        return list(setup_sentences(SimpleNamespace(target=0.9, setups=setups)))  # type: ignore[arg-type]

    start = "For a bench by itself to conclude with a chance of 0.9 or more, the least that will do"
    on = "on a balance that reads to 0.1 g."
    assert said(one(0.2, 2), one(0.3, 1)) == [f"{start} is 0.3 g of Fe a trial {on}"]
    assert said(one(0.2, 2), one(0.5, 1)) == [f"{start} is 0.2 g of Fe in each of 2 trials {on}"]
    assert said(one(0.2, 1, False), one(0.3, 1)) == [f"{start} is 0.3 g of Fe a trial {on}"]
    assert said(one(0.2, 1, False)) == [f"{start} is 0.2 g of Fe a trial {on}"]
    assert said(one(math.nan, 1)) == []
    (text,) = said(one(0.3, 1, aim=AIMS[1]))
    assert text.startswith("For the class together to conclude")


@pytest.mark.parametrize(
    ("of_hundred", "text"),
    [(99.96, "over 99.9"), (99.95, "over 99.9"), (99.94, "99.9"), (99.1, "99.1"), (99.0, "99"),
     (98.6, "99"), (50.4, "50")],
)  # fmt: skip
def test_not_all_of_a_hundred_are_right(of_hundred: float, text: str) -> None:
    assert _of_hundred(of_hundred) == text


def test_a_bath_of_two_units_holds_twice_the_ion() -> None:
    """Each Ag2SO4 gives two silver ions; what was stated of the ion stays."""
    (bath,) = _with_bath((), LAB.experiment, "Ag2SO4", 0.01)
    assert (bath.species, bath.solute, bath.units) == ("Ag^+", "Ag2SO4", 2)
    assert bath.concentration_mol_per_L == 0.01
    assert _with_bath((bath,), LAB.experiment, "AgNO3", 0.1) == (bath,)
    assert _with_bath((bath,), LAB.experiment, "  ", 0.1) == (bath,)


def test_time_that_is_needed_where_a_way_fits_and_where_none_does() -> None:
    minutes = {"in the oven": 90.0, "rinsed with acetone": 50.0, "weighed the next day": 40.0}
    for drying, needed, fits in (
        ("in the oven", 90.0, True), ("rinsed with acetone", 50.0, True), ("none", 40.0, False),
    ):  # fmt: skip
        timing = Timing(minutes, 12.0, drying)
        assert (timing.needed, timing.fits) == (needed, fits)


@pytest.mark.parametrize(
    ("name", "before", "after"),
    [
        ("copper-silver", 2, 2),  # wire, paper; wire, paper with silver
        ("copper-plating", 1, 1),  # strip; strip
        ("magnesium-gas", 1, 0),  # ribbon
        ("hydrate-heating", 2, 1),  # crucible, with crystals; with residue
    ],
)
def test_how_often_a_bench_walks_to_the_balance(name: str, before: int, after: int) -> None:
    assert _visits(experiments.load(name)) == (before, after)


def test_work_that_takes_no_time_takes_none() -> None:
    assert queue_minutes(1, 1, 0, 0, 0) == 0.0
    assert (
        queue_minutes(3, 1, 2, 0, 1) == 9.0
    )  # first visits 0–6, second visits in between: 9 in all
    for benches, balances in ((1000, 1), (1, 1000)):
        assert queue_minutes(benches, balances, 0, 0, 0) == 0.0
    for benches, balances in ((1001, 1), (1, 1001), (0, 1), (1, 0)):
        with pytest.raises(ModelError):
            queue_minutes(benches, balances, 0, 0, 0)
