"""Every number of a bench plan worked out by hand, for a solid, a gas and a titration.

Molar masses in g/mol as every table has them (general knowledge of the trade): Cu 63.546, Ag
107.868, AgNO3 169.87, Mg 24.305, HCl 36.46, C6H8O7 192.12; R 8.314 J/(mol K); water at 21.4 °C
holds 2.55 kPa of vapour (memory).
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import pytest

from stoichkit import experiments
from stoichkit.bench.plan import BenchPlan, bench_plan
from stoichkit.experiments.store import parse_experiment
from stoichkit.measurement.displays import Balance
from stoichkit.text.parts import Bullets, Table
from tests.labs import iron_text

CU, AG = 63.546, 107.868


@lru_cache(maxsize=4)
def plan(name: str, **how: float) -> BenchPlan:
    return bench_plan(experiments.load(name), **how)  # type: ignore[arg-type]


def silver() -> BenchPlan:
    """0.12 g of copper in each of 4 trials of 6 groups."""
    return plan("copper-silver", reacting_mass_g=0.12, groups=6, trials=4)


def table(of: BenchPlan, title: str, place: int = 0) -> Table:
    (section,) = (one for one in of.sections if one.title == title)
    return [part for part in section.parts if isinstance(part, Table)][place]


def said(of: BenchPlan) -> str:
    return " ".join(of.text().split())


def test_what_is_planned() -> None:
    """0.12 / 63.546 = 1.888 mmol; without a mass the electrons are counted."""
    assert (
        "Planned: 0.12 g of Cu (1.89 mmol) to react in each trial; 4 trials for each of 6 groups; "
        "reagents in excess 1.2 times over."
    ) in said(silver())
    one = said(plan("copper-silver", reacting_mass_g=0.12, groups=1, trials=1))
    assert "1 trial for each of 1 group; reagents" in one
    assert " mmol of electrons to react" in said(plan("copper-plating", groups=2))


def test_reagents_of_a_displacement() -> None:
    """Ag⁺ from 1.888 to 3.777 mmol; × 1.2 / 0.1 = 45.3 mL, so 50 mL, 1.32 times over.

    24 runs × 1.1: 1320 mL, up to 1350 mL; the copper of the record weighs 2.94 g: 77.6 g.
    """
    shown = table(silver(), "Reagents")
    assert shown.caption == "Reagents; for the class: 24 runs and a tenth more"
    assert shown.header[2] == "Reacts in a trial, mmol"
    copper, nitrate = shown.rows
    assert copper[2:] == ("1.89", "2.94 g", "balance, to 0.01 g", "77.6 g")
    assert nitrate[2:] == ("1.89 to 3.78", "50 mL", "50 mL measuring cylinder", "1350 mL")
    text = said(silver())
    assert "1.3 times what the neediest candidate takes" in text
    assert "Make it up in 3 batches of 500 mL." in text


def test_a_solution_of_the_plan() -> None:
    """0.1 mol/L × 0.5 L × 169.87 g/mol = 8.49 g; three fifths of the water first."""
    text = said(silver())
    assert "Weigh about 8.49 g of AgNO₃ into a weighing boat" in text
    assert "with about 300 mL of pure water" in text
    assert "fill to the 500 mL mark" in text


def test_changes_and_readings_to_expect() -> None:
    """0.12 g × 107.868/63.546 = 0.2037 g of silver for each mole, 20.4 steps of 10 mg."""
    first, second = table(silver(), "Expected readings").rows
    assert first[:5] == ("copper(I)", "0.12 g", "0.20 g", "20.4", "0.204")
    assert second[:5] == ("copper(II)", "0.12 g", "0.41 g", "40.7", "0.407")
    assert (first[5], second[5]) == ("copper(II)", "copper(I)")
    assert first[6] == second[6] == "20.4"
    assert "how far the produced change lies from that of the nearest candidate" in said(silver())
    assert "below about 4 one trial often cannot tell the two" in said(silver())
    # 5 mg of repeatability and a step of 10 mg, twice for a difference; the other's ratio is tested
    u = (2 * (0.005**2 + 0.01**2 / 12)) ** 0.5
    for row, other in ((first, 2), (second, 1)):
        whole = u * (1 + (other * AG / CU) ** 2) ** 0.5
        assert float(row[7]) == pytest.approx(0.12 * AG / CU / whole, rel=5e-3)
    readings = table(silver(), "Expected readings", 1).rows
    assert readings[0][1:] == ("2.94", "2.82", "0.75", "0.95")
    assert readings[1][1:] == ("2.94", "2.82", "0.75", "1.16")


def test_checks_before_the_lab() -> None:
    """12 steps are fewer than 20; 50 mL fill a 100 mL beaker to less than two thirds."""
    marks = {row[0]: row[1:] for row in table(silver(), "Checks before the lab").rows}
    mark, text = marks["size of wire before − wire after"]
    assert mark == "LOOK"
    assert text.startswith("At least 0.12 g, 12 steps of 0.01 g: fewer than the 20 that keep")
    assert marks["size of paper + silver − paper"] == (
        "ok",
        "At least 0.20 g, 20.4 steps of 0.01 g.",
    )
    assert marks["balance"][0] == "ok"
    assert "“wire before”, 2.94 g, within 200 g" in marks["balance"][1]
    assert marks["vessel"][0] == "ok"
    assert "50 mL. A 100 mL beaker is filled to at most two thirds" in marks["vessel"][1]


@pytest.mark.parametrize(
    ("volume_mL", "beaker"), [(33, "50 mL"), (34, "100 mL"), (66, "100 mL"), (67, "150 mL")]
)
def test_the_beaker_is_never_full(volume_mL: float, beaker: str) -> None:
    """Two thirds of 50 mL are 33.3, of 100 mL 66.7."""
    from stoichkit.bench.expectations import vessel_checks
    from stoichkit.bench.supply import Reagent

    reagent = Reagent(
        name="water", formula="", provides="", role="", needed_mmol=(1, 1), volume_mL=volume_mL,
        measured_with="", for_class="",
    )  # fmt: skip
    (check,) = vessel_checks((reagent,))
    assert f"A {beaker} beaker" in check.text


def test_a_gas() -> None:
    """Mg 37.25 mg / 24.305 = 1.5326 mmol of H2; n R T / (p − p(H2O)) = 38.2 mL at 21.4 °C."""
    gas = plan("magnesium-gas", groups=3, trials=2)
    volume = 1.5326 * 8.314 * (273.15 + 21.4) / (100.8 - 2.55)
    found = {one.candidate: one for one in gas.expectations}
    assert found["magnesium(II)"].produced.size == pytest.approx(volume, rel=2e-3)
    assert found["magnesium(I)"].produced.size == pytest.approx(volume / 2, rel=2e-3)
    assert found["magnesium(III)"].produced.size == pytest.approx(1.5 * volume, rel=2e-3)
    assert found["magnesium(II)"].product_mass_g == pytest.approx(1.5326e-3 * 2.016, rel=1e-3)
    ribbon, acid = gas.reagents
    assert ribbon.for_class == "0.246 g"  # 6 runs × 1.1 × 37.25 mg
    assert (acid.volume_mL, acid.for_class) == (10.0, "70 mL")  # the least; 66 mL in steps of 5
    (tube,) = (check for check in gas.checks if check.subject == "gas tube")
    assert tube.passed is False
    assert "57.3 mL if magnesium(III) is true, beyond its capacity of 50 mL" in tube.text


def test_a_titration() -> None:
    """0.13675 g / 192.12 = 0.7118 mmol; / 0.0987 = 7.21 mL for each proton; three: 21.63 mL."""
    acid = plan("acid-titration", groups=3, trials=2)
    sizes = [one.produced.size for one in acid.expectations[:3]]
    assert sizes == pytest.approx([7.2116, 14.423, 21.635], rel=1e-3)
    base = acid.reagents[1]
    assert base.volume_mL == pytest.approx(21.635, rel=1e-3)
    assert base.for_class == "150 mL"  # 6 × 1.1 × 21.6 = 142.8 mL, in steps of 10
    (used,) = (check for check in acid.checks if check.subject == "burette: volume used")
    assert used.passed is False
    assert "14 % of its capacity; at least 30 %" in used.text


def test_a_millimole_of_acid_takes_one_to_three_of_base() -> None:
    """192.123 g/mol (6 × 12.011 + 8 × 1.008 + 7 × 15.999): 0.192123 g are 1 mmol."""
    base = plan("acid-titration", reacting_mass_g=0.192123).reagents[1]
    assert base.needed_mmol == pytest.approx((1.0, 3.0), rel=1e-5)
    assert base.volume_mL == pytest.approx(3.0 / 0.0987, rel=1e-5)


def test_what_a_trial_shows_is_the_same_however_many_there_are() -> None:
    """A record may have more trials than the 64 that a plan is asked for."""
    ready = experiments.load("copper-silver")
    trials = [replace(ready.trials[0], name=str(i + 1)) for i in range(65)]
    many = bench_plan(ready.with_trials(trials), reacting_mass_g=0.12)
    assert many.trials == 65
    assert [one.readings for one in many.expectations] == [
        one.readings for one in silver().expectations
    ]


def test_of_readings_that_are_as_large_the_first_is_named() -> None:
    """The wire weighs 2.94 g before whichever candidate is true; copper(I) is the first."""
    ready = experiments.load("copper-silver")
    small = ready.with_instrument("balance", Balance(readability_g=0.01, capacity_g=2))
    (check,) = (c for c in bench_plan(small, reacting_mass_g=0.12).checks if c.subject == "balance")
    assert check.passed is False
    assert "“wire before”, 2.94 g if copper(I) is true, beyond its capacity of 2 g" in check.text


@pytest.mark.parametrize(
    ("papers", "said"),
    [
        ('"0.84"', "each trial"),
        ('["0.84", "0.85"]', "each trial, weighed 2 times for a mean"),
        ('["0.84", "0.85", "0.84"]', "each trial, weighed 3 times for a mean"),
    ],
)
def test_what_is_weighed_twice_is_said_to_be(papers: str, said: str) -> None:
    trial = (
        f'[[trials]]\nname = "1"\n"nail before" = "3.00"\n"nail after" = "2.72"\n'
        f'"paper" = {papers}\n"paper + copper" = "1.16"\n'
    )
    averaged = 'averaged = ["paper", "paper + copper"]'
    record = bench_plan(parse_experiment(iron_text(0.005, averaged) + trial))
    when = {row[0]: row[4] for row in table(record, "What to record").rows}
    assert when["paper"] == said


def test_what_is_dried_and_when_its_mass_is_constant() -> None:
    """Both sides are spoken of: the wire that is left and the silver that is collected."""
    (section,) = (one for one in silver().sections if one.title.startswith("Drying"))
    (bullets,) = (part for part in section.parts if isinstance(part, Bullets))
    text = " ".join(bullets.items)
    assert "“wire after”" in text
    assert "“paper + silver”" in text
    assert "differ by no more than 0.01 g" in text


def test_a_bottle_holds_the_usual_salt_or_what_it_says() -> None:
    from stoichkit.bench.reagents import _usual_solute

    assert (_usual_solute("OH^-"), _usual_solute("VO2^+")) == ("NaOH", "VO2^+")
