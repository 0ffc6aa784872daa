"""The parts of a bench plan, each on its own, on small cases worked out by hand."""

from __future__ import annotations

from fractions import Fraction

from stoichkit import experiments
from stoichkit.bench.cautions import also_named, cautions_of, unknown_of, waste_of
from stoichkit.bench.datasheet import column_header, sheet_columns, sheet_rows
from stoichkit.bench.dilutions import dilutions_by_glassware, good_enough, recipes_by_glassware
from stoichkit.bench.expectations import (
    Change,
    capacity_checks,
    expectations_of,
    size_checks,
    vessel_checks,
)
from stoichkit.bench.reagent_data import base_formula, heat_caution
from stoichkit.bench.reagents import measured_solution, reagents_of, round_up, solution_in_excess
from stoichkit.bench.recipes import (
    filled,
    limiting_part,
    percent,
    relative_uncertainty,
    smallest_cylinder,
    standard_sizes,
    typed,
)
from stoichkit.bench.supply import (
    Check,
    Lab,
    Needs,
    Reagent,
    balance_of,
    default_supply,
    find_supply,
    needs_of,
    shared_supplies,
    supplies_by_species,
)
from stoichkit.chemistry.candidates import Candidate
from stoichkit.chemistry.elements import molar_mass
from stoichkit.measurement.concentration import KnownConcentration
from stoichkit.measurement.glassware import VolumetricFlask
from stoichkit.planning.plan import Plan
from stoichkit.text.sheets import undefused
from stoichkit.text.wording import reaction_text
from stoichkit.uncertainty.readings import ErrorPool
from stoichkit.uncertainty.sources import standard_uncertainty


def bench(name: str, consumed_mol: float) -> Lab:
    return Lab(experiment=experiments.load(name), consumed_mol=consumed_mol, excess=1.2, runs=4)


def test_numbers_as_they_are_written_and_rounded() -> None:
    assert [round_up(v) for v in (3.0, 41.2, 101.0)] == [10.0, 45.0, 110.0]
    assert typed(1.69873, 0.01).text == "1.70"
    assert [percent(v) for v in (0.00123, 0.0)] == ["0.12 %", "0 %"]
    assert relative_uncertainty(2.0) == 0.0
    assert limiting_part(1.0 / molar_mass("NaCl")) == ("the molar mass", 1.0)
    assert Change("wire before − wire after", 0.1127, "g", 0.01).text == "0.11 g"
    assert Check("balance", None, "Its capacity is not stated.").mark == "not known"


def test_glassware_of_standard_sizes() -> None:
    assert standard_sizes("pipette", "A") == (1.0, 5.0, 10.0, 25.0, 50.0, 100.0)
    cylinder = smallest_cylinder(30)
    assert cylinder is not None
    assert cylinder.capacity_mL == 50.0
    flask = VolumetricFlask(capacity_mL=100.0, tolerance_mL=0.1, repeatability_mL=0.02)
    volume_mL = filled(flask, 100.0, "flask", ErrorPool())
    assert round(standard_uncertainty(volume_mL), 4) == 0.0665  # QUAM:2012, example A1


def test_ways_by_glassware() -> None:
    found = recipes_by_glassware("NaCl", 0.5, 250)
    assert {name: f"{100 * r.relative_uncertainty:.2f} %" for name, r in found.items()} == {
        "cylinder, class B": "0.38 %",
        "cylinder, class A": "0.26 %",
        "volumetric flask, class B": "0.13 %",
        "volumetric flask, class A": "0.12 %",
    }
    stock = KnownConcentration(mol_per_L=1.0, half_width_mol_per_L=0.0005)
    compared = good_enough(dilutions_by_glassware(stock, 0.1), 0.0015)
    assert [way.name for way in compared.ways if way.reaches] == ["pipette and flask, class A"]


def test_how_reactants_come() -> None:
    assert default_supply("H^+").words == "hydrochloric acid, 2 mol/L"
    assert [default_supply(s).form for s in ("CuCl2", "Zn", "O2")] == ["solution", "solid", "air"]
    assert list(supplies_by_species([default_supply("Ag+")])) == ["Ag^+"]
    salt = find_supply("Cl^-", {})
    assert salt is not None
    assert salt.solute == "NaCl"
    assert find_supply("Tl^+", {}) is None
    assert base_formula("CuSO4.5H2O(s)") == "CuSO4"
    assert base_formula("Ag^+") == "Ag^+"
    assert heat_caution("KNO3").startswith("It cools the water when it dissolves")
    assert [heat_caution(s) for s in ("MgSO4.7H2O", "NaCl")] == ["", ""]


def test_how_much_each_candidate_needs() -> None:
    copper = Candidate("copper(II)", Fraction(2), "Cu + 2 Ag^+ -> Cu^2+ + 2 Ag")
    needs = needs_of(copper, "Cu")
    assert needs is not None
    assert dict(needs.partners) == {"Ag^+": Fraction(2)}
    assert reaction_text(copper.equation) == "Cu + 2 Ag⁺ → Cu²⁺ + 2 Ag"
    hydrate = needs_of(Candidate("h", Fraction(7), "MgSO4.7H2O -> MgSO4 + 7 H2O"), "MgSO4")
    assert hydrate is not None
    assert hydrate.sample == ("MgSO4·7H2O", Fraction(1))
    two_halves = needs_of(Candidate("g", Fraction(2), "N2O4 -> 2 NO2"), "NO2")
    assert two_halves is not None  # made of the same elements, half a mole for each of NO2
    assert two_halves.sample == ("N2O4", Fraction(1, 2))
    assert (
        needs_of(Candidate("o", Fraction(1), "N2 + O2 -> 2 NO"), "NO") is None
    )  # neither holds it
    one = Needs(candidate="I", partners={"Cu^+": Fraction(1)})
    two = Needs(candidate="II", partners={"Cu^2+": Fraction(1, 2)})
    (bath,) = shared_supplies([one, two], {})
    assert bath.supply is not None
    assert (bath.supply.solute, bath.species) == ("CuSO4.5H2O", ("Cu^+", "Cu^2+"))
    assert dict(bath.moles) == {"I": 1.0, "II": 0.5}


def test_reagents() -> None:
    gas = bench("magnesium-gas", 0.0015)
    acid = solution_in_excess(gas, default_supply("H^+"), "H⁺", (1.5, 4.5), 0.0054)
    assert acid.amount == "10 mL"
    assert acid.measured_with == "10 mL measuring cylinder"
    assert acid.for_class == "45 mL"
    titration = bench("acid-titration", 0.0007)
    base = titration.experiment.produced
    portion = base.portion(titration.experiment.setting("produced"))
    assert portion is not None
    assert base.solution is not None
    found = measured_solution(titration, base, base.solution, portion, (0.0007, 0.0021))
    assert found.amount == "21.3 mL"
    lab = bench("copper-silver", 0.002)
    needs = [n for n in (needs_of(c, "Cu") for c in lab.experiment.candidates) if n is not None]
    assert [(r.name, r.role, r.amount) for r in reagents_of(lab, needs, {})] == [
        ("copper, Cu", "in excess, what is used up is weighed", "2.95 g"),
        ("silver nitrate solution, 0.1 mol/L", "in excess", "50 mL"),
    ]
    balance = balance_of(experiments.load("tin-oxide"))
    assert balance is not None
    assert balance.readability_g == 0.001


def test_expectations_and_checks() -> None:
    fine = Plan(experiment=experiments.load("copper-silver"), consumed_mol=0.002)
    steps = [f"{found.produced.steps:.0f}" for found in expectations_of(fine)]
    assert steps == ["22", "43"]  # 2 mmol of Cu: 0.216 g or 0.431 g of Ag
    coarse = Plan(experiment=experiments.load("copper-silver-coarse"), consumed_mol=0.002)
    assert [check.passed for check in size_checks(expectations_of(coarse))] == [False, False]
    lab = experiments.load("magnesium-gas")
    expected = expectations_of(Plan(experiment=lab, consumed_mol=0.0015))
    marks = [(check.subject, check.mark) for check in capacity_checks(lab, expected)]
    assert marks == [("balance", "not known"), ("gas tube", "LOOK")]
    bath = Reagent(
        name="bath",
        formula="CuSO4",
        provides="Cu²⁺",
        role="in excess",
        needed_mmol=(1, 1),
        volume_mL=50.0,
        measured_with="",
        for_class="",
    )
    assert "A 100 mL beaker" in next(vessel_checks((bath,))).text


def test_cautions_and_waste() -> None:
    tin = experiments.load("tin-oxide")
    assert cautions_of(tin, ())[-1].subject == "tin(IV) oxide"
    assert also_named(tin, ()) == ("nitric acid", "nitrogen dioxide")
    assert unknown_of(experiments.load("magnesium-gas"), ()) == ("Mg⁺", "Mg³⁺")
    assert waste_of(experiments.load("copper-silver"), ())[0].startswith("copper: Collect the ")


def test_the_sheet() -> None:
    assert column_header("wire before", "g") == "wire before / g"
    assert undefused("'=1+1") == "=1+1"
    assert undefused("wire") == "wire"
    assert sheet_rows(1, ["a", "b"]) == (("group 1", "a"), ("group 1", "b"))
    assert len(sheet_columns(experiments.load("tin-oxide"))) == 3


def test_a_sample_is_weighed_for_the_candidate_that_holds_least() -> None:
    """10 mmol held once or twice in a unit: 10 or 5 mmol of CuSO4·5H2O, 2.497 g or 1.248 g."""
    lab = bench("hydrate-heating", 0.01)
    needs = [
        Needs(candidate=name, partners={}, sample=("CuSO4.5H2O", Fraction(1, n)))
        for name, n in (("one", 1), ("two", 2))
    ]
    solid = reagents_of(lab, needs, {})[0]
    assert solid.needed_mmol == (5.0, 10.0)
    assert solid.mass_g is not None
    assert round(solid.mass_g, 3) == 2.497
    assert solid.notes[0].startswith("1.25 to 2.5 g hold the planned ")
    assert (solid.role, solid.for_class) == ("limiting", "11 g")  # 1.1 × 4 × 2.497 g
