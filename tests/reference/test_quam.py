"""EURACHEM/CITAC guide QUAM:2012, examples A1 and A2.

Inputs and unrounded results were read in the documentation of the GUM Tree Calculator (pages
CITAC_A1 and CITAC_A2), summary tables in the HTML edition of the guide (Tables A1.1 and A2.1).
Agreement is stated as matching digits, −log10 of the relative difference.
"""

from __future__ import annotations

import math

import pytest

from stoichkit.chemistry.elements import molar_mass
from stoichkit.measurement import weighing as weighed_amounts
from stoichkit.measurement.concentration import KnownConcentration, PreparedSolution, SolutionVolume
from stoichkit.measurement.displays import Balance
from stoichkit.measurement.glassware import Burette, VolumetricFlask
from stoichkit.measurement.weighing import MassByDifference
from stoichkit.uncertainty.readings import ErrorPool, parse_number
from stoichkit.uncertainty.sources import (
    Number,
    Shape,
    budget,
    nominal,
    standard_uncertainty,
    uncertain_value,
)

NO_DIGITS = 1e-9
"""A step so small that rounding adds nothing: the guide has no separate rounding source."""


def matching_digits(found: float, expected: float) -> float:
    """Return how many significant digits of two numbers agree."""
    return 16.0 if found == expected else -math.log10(abs(found / expected - 1))


def part(value: Number, *labels: str) -> float:
    """Return the combined contribution of the named sources."""
    found = [line.uncertainty for line in budget(value) if line.label in labels]
    assert len(found) == len(labels)
    return math.hypot(*found)


# -- A1: preparation of a cadmium calibration standard ---------------------------------------

FLASK = VolumetricFlask(
    capacity_mL=100.0, tolerance_mL=0.1, repeatability_mL=0.02, temperature_C=4.0
)
STANDARD = PreparedSolution(
    solute="Cd", heavier="m", purity=0.9999, purity_half_width=0.0001, name="standard"
)


def cadmium_mg_per_L(mass_g: Number, pool: ErrorPool) -> Number:
    """Return the mass concentration; the molar mass cancels as one shared source."""
    volume_mL = FLASK.quantity(name="flask", label="filling", pool=pool)
    steps = STANDARD.steps({"m": mass_g, "flask of standard": volume_mL}, pool)
    return steps[-1].value * molar_mass("Cd") * 1000


def test_a1_with_the_mass_as_the_guide_states_it() -> None:
    """c = 1002.7 mg/L; u = 0.835199 mg/L unrounded (printed 0.9, from u(V) rounded up)."""
    mass_g = uncertain_value(0.10028, "m", kind="weighing", shape=Shape.NORMAL, scale=0.00005)

    c = cadmium_mg_per_L(mass_g, ErrorPool())

    assert f"{nominal(c):.1f}" == "1002.7"
    assert matching_digits(standard_uncertainty(c), 0.835199) > 6
    assert part(c, "m") == pytest.approx(0.49995, abs=5e-6)
    assert part(c, "purity of standard") == pytest.approx(0.0579, abs=5e-5)
    assert part(c, "tolerance of flask") == pytest.approx(0.4094, abs=5e-5)
    assert part(c, "repeatability of filling") == pytest.approx(0.2005, abs=5e-5)
    temperature = "temperature of the liquid in flask"
    assert part(c, temperature) == pytest.approx(0.4863, abs=5e-5)
    volume = part(c, "tolerance of flask", "repeatability of filling", temperature)
    assert volume == pytest.approx(0.6665, abs=5e-5)


def test_a1_with_the_mass_weighed_on_a_balance() -> None:
    """A display of 0.01 mg adds its rounding: 0.8354 instead of 0.8352."""
    balance = Balance(readability_g=0.00001, repeatability_g=0.00005)
    pool = ErrorPool()
    mass_g = balance.quantity(parse_number("0.10028"), name="b", label="m", pool=pool)

    c = cadmium_mg_per_L(mass_g, pool)

    assert matching_digits(standard_uncertainty(c), 0.835199) > 3


def test_a1_volume_of_the_flask() -> None:
    """Flask: 0.041, 0.02 and 0.0485 mL give 0.07 mL (unrounded 0.0665)."""
    volume_mL = FLASK.quantity(name="flask", label="filling", pool=ErrorPool())

    assert standard_uncertainty(volume_mL) == pytest.approx(0.0665, abs=5e-5)
    assert part(volume_mL, "tolerance of flask") == pytest.approx(0.041, abs=5e-4)


# -- A2: standardising sodium hydroxide with potassium hydrogen phthalate ---------------------

ATOMS = (("C", 8, 12.0107, 0.0008), ("H", 5, 1.00794, 0.00007), ("O", 4, 15.9994, 0.0003))
KHP = MassByDifference(
    species="C8H5O4K",
    heavier="container and KHP",
    lighter="container less KHP",
    purity=1.0,
    purity_half_width=0.0005,
)
VOLUME = SolutionVolume(
    species="NaOH",
    concentration=KnownConcentration(mol_per_L=1.0),
    final="end",
    initial="start",
)


@pytest.fixture
def _guide_weights(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pin the atomic weights of the guide, whose limits it treats as rectangular."""
    molar = sum(
        count
        * uncertain_value(
            weight, f"weight {symbol}", kind="atomic weight", shape=Shape.RECTANGULAR, scale=limit
        )
        for symbol, count, weight, limit in (*ATOMS, ("K", 1, 39.0983, 0.0001))
    )
    assert nominal(molar) == pytest.approx(204.2212, abs=1e-9)
    assert standard_uncertainty(molar) == pytest.approx(0.0038, abs=5e-5)
    monkeypatch.setattr(weighed_amounts, "molar_mass", {KHP.species: molar}.__getitem__)


def hydroxide_mol_per_L(balance: Balance, burette: Burette) -> Number:
    """Return the concentration of the sodium hydroxide, with the guide's overall ``rep``.

    The two weighings are from memory; their difference, 0.3888 g, was read.
    """
    pool = ErrorPool()
    masses = {
        name: balance.quantity(parse_number(text), name="balance", label=name, pool=pool)
        for name, text in (("container and KHP", "60.5450"), ("container less KHP", "60.1562"))
    }
    volumes = {
        "end": burette.quantity(
            parse_number("18.64"), name="burette", label="end", pool=pool, delivery="end"
        ),
        "start": burette.quantity(
            parse_number("0.00"), name="burette", label="start", pool=pool, delivery=None
        ),
    }
    rep = uncertain_value(1.0, "rep", kind="scatter", shape=Shape.NORMAL, scale=0.0005)
    return KHP.amount(masses, pool) / (VOLUME.volume_mL(volumes) / 1000) * rep


def guide_burette(temperature_mL: float) -> Burette:
    """Return the 20 mL burette with the temperature term given as a standard uncertainty."""
    return Burette(
        capacity_mL=20.0,
        tolerance_mL=0.03,
        graduation_mL=0.1,
        resolution_mL=NO_DIGITS,
        repeatability_mL=0.0,
        temperature_C=temperature_mL * math.sqrt(3) / (18.64 * 2.1e-4),
    )


@pytest.mark.usefixtures("_guide_weights")
def test_a2_from_the_guides_own_parts() -> None:
    """c = 0.102136159706 mol/L, u = 0.000100500722 mol/L; the guide's u(V, T) is 0.006 mL."""
    balance = Balance(readability_g=NO_DIGITS, repeatability_g=0.0, linearity_g=0.00015)

    c = hydroxide_mol_per_L(balance, guide_burette(0.006))

    assert matching_digits(nominal(c), 0.102136159706) > 11
    assert matching_digits(standard_uncertainty(c), 0.000100500722) > 7
    assert part(c, "rep") == pytest.approx(5.107e-5, abs=5e-9)
    assert part(c, "purity of C8H5O4K") == pytest.approx(2.948e-5, abs=1e-8)
    assert part(c, "tolerance of burette for end") == pytest.approx(6.711e-5, abs=5e-9)
    assert part(c, "temperature of the liquid in burette") == pytest.approx(3.288e-5, abs=5e-9)
    weighings = [line.uncertainty for line in budget(c) if line.source.kind == "linearity"]
    assert weighings == pytest.approx([2.275e-5, 2.275e-5], abs=5e-9)
    assert part(c, "weight C") == pytest.approx(1.848e-6, abs=5e-10)


@pytest.mark.usefixtures("_guide_weights")
def test_a2_with_the_temperature_term_unrounded() -> None:
    """±3 °C at 95 % is 18.64 mL × 2.1e-4 × 3/1.96 = 0.00599 mL (the ±3 °C from memory)."""
    balance = Balance(readability_g=NO_DIGITS, repeatability_g=0.0, linearity_g=0.00015)

    c = hydroxide_mol_per_L(balance, guide_burette(18.64 * 2.1e-4 * 3 / 1.96))

    assert f"{nominal(c):.5f}" == "0.10214"
    assert f"{standard_uncertainty(c):.5f}" == "0.00010"
    assert matching_digits(standard_uncertainty(c), 0.000100500722) > 3.5


@pytest.mark.usefixtures("_guide_weights")
def test_a2_with_the_digits_of_the_balance_counted_too() -> None:
    """A display of 0.1 mg adds √2·0.05/√3 mg, which the guide has inside ``rep``."""
    plain = Balance(readability_g=NO_DIGITS, repeatability_g=0.0, linearity_g=0.00015)
    real = Balance(readability_g=0.0001, repeatability_g=0.0, linearity_g=0.00015)

    without, with_digits = (
        standard_uncertainty(hydroxide_mol_per_L(b, guide_burette(0.006))) for b in (plain, real)
    )

    added = math.sqrt(with_digits**2 - without**2) / 0.102136 * 0.3888
    assert added == pytest.approx(math.sqrt(2 / 3) * 0.00005, rel=1e-3)
    assert with_digits == pytest.approx(without, rel=0.01)
