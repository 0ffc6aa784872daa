"""Limits of ways to measure, on both sides of each: weights of routes, air, tables of water."""

from __future__ import annotations

import math
from collections.abc import Sequence

import pytest

from stoichkit.errors import ExperimentError, StoichkitError
from stoichkit.measurement import MassByDifference
from stoichkit.measurement.base import Setting
from stoichkit.measurement.buoyancy import (
    NEGLIGIBLE,
    air_correction,
    air_factor,
    checked_density,
    matters,
    unknown_factors,
)
from stoichkit.measurement.concentration import KnownConcentration, SolutionVolume
from stoichkit.measurement.displays import Balance, Timer
from stoichkit.measurement.gas_and_charge import (
    GasVolume,
    _cubic,
    water_density_g_per_mL,
    water_vapour_pressure_kPa,
)
from stoichkit.measurement.glassware import Burette, Pipette
from stoichkit.measurement.routes import Routes
from stoichkit.measurement.weighing import constant_mass
from stoichkit.uncertainty.readings import ErrorPool, parse_number
from stoichkit.uncertainty.sources import (
    Number,
    Shape,
    nominal,
    standard_uncertainty,
    uncertain_value,
)


def known(value: float, u: float) -> Number:
    return uncertain_value(value, "reading", kind="other", shape=Shape.NORMAL, scale=u)


def routes(sizes: Sequence[float], mass_g: float = 1.0, **fields: tuple[float, ...]) -> Routes:
    """The weights of as many routes as there are uncertainties, in g of zinc."""
    names = [f"route {i}" for i in range(len(sizes))]
    each = [MassByDifference(species="Zn", heavier=name) for name in names]
    values = {name: known(mass_g, u) for name, u in zip(names, sizes, strict=True)}
    return Routes(species="Zn", routes=each, **fields).weighted(values, ErrorPool())


def test_routes_count_by_the_inverse_square_of_their_uncertainty() -> None:
    """1 : 1/9 is 0.9 to 0.1; in thousandths, the largest takes what rounding leaves."""
    assert routes([1.0, 3.0]).weights == (0.9, 0.1)
    assert routes([3.0, 1.0]).weights == (0.1, 0.9)
    # thirds: 333 each, and the first of the largest has one more
    assert routes([2.0, 2.0, 2.0]).weights == (0.334, 0.333, 0.333)
    # 1 : 1/4 : 1/16 of 21/16: 16, 4 and 1 parts of 21
    assert routes([1.0, 2.0, 4.0]).weights == (0.762, 0.19, 0.048)
    # a hundredth of a hundredth: at least one thousandth
    assert routes([1.0, 100.0]).weights == (0.999, 0.001)


def test_a_route_without_an_error_leaves_the_weights_open() -> None:
    """Nothing can be divided by it. A mass of exactly nothing has no atomic weight either."""
    assert routes([0.0, 1.0], mass_g=0.0).weights == ()
    assert routes([1.0, 0.0], mass_g=0.0).weights == ()
    assert routes([1.0, 2.0], mass_g=0.0).weights == (0.8, 0.2)
    assert routes([1.0, 3.0], weights=(0.5, 0.5)).weights == (0.5, 0.5)


@pytest.mark.parametrize(("second", "right"), [
    (0.5, True), (0.5 + 0.9e-9, True), (0.5 + 1.1e-9, False), (0.505, False),
])  # fmt: skip
def test_stated_weights_add_up_to_one(second: float, right: bool) -> None:
    if right:
        assert len(routes([1.0, 1.0], weights=(0.5, second)).weights) == 2
        return
    with pytest.raises(ExperimentError, match="1"):
        routes([1.0, 1.0], weights=(0.5, second))


# -- air --------------------------------------------------------------------------------------


def test_what_air_does_to_a_mass_by_hand() -> None:
    """Weights of 8 g/cm³ in air of 0.0012: (1 − 0.00015)/(1 − 0.0012/ρ)."""
    assert air_factor(8.0) == 1.0
    assert air_factor(1.0) == pytest.approx(0.99985 / 0.9988)
    assert air_factor(20.0) == pytest.approx(0.99985 / 0.99994)
    factor = air_correction(1.0, ErrorPool())
    assert nominal(factor) == pytest.approx(0.99985 / 0.9988)
    # d/d(air) = 1/ρ − 1/8 to first order, times 0.00012/√3
    assert standard_uncertainty(factor) == pytest.approx(0.875 * 0.00012 / math.sqrt(3), rel=3e-3)


def test_densities_that_are_not_stated_lie_between_09_and_22() -> None:
    """In air of 0.00132, ten per cent above the usual: 0.999835/(1 − 0.00132/ρ)."""
    low, high = unknown_factors()
    assert low == pytest.approx(0.999835 / (1 - 0.00132 / 22), abs=1e-9)
    assert high == pytest.approx(0.999835 / (1 - 0.00132 / 0.9), abs=1e-9)


@pytest.mark.parametrize("sign", [1, -1])
def test_from_which_mass_on_air_matters(sign: int) -> None:
    """A change of 0.1304 % is half a step of 0.01 g for 3.834 g, a 48th of it for 0.1598 g."""
    change = 0.999835 / (1 - 0.00132 / 0.9) - 1
    for part, given in ((0.5, {}), (1 / 48, {"part": NEGLIGIBLE})):
        mass_g = part * 0.01 / change
        assert not matters(sign * 0.999 * mass_g, 0.01, **given)
        assert matters(sign * 1.001 * mass_g, 0.01, **given)
    assert 0.5 * 0.01 / change == pytest.approx(3.834, abs=0.01)


@pytest.mark.parametrize(("value", "right"), [
    (0.1, True), (0.0999, False), (25.0, True), (25.01, False), (8.96, True),
])  # fmt: skip
def test_densities_that_can_be_stated(value: float, right: bool) -> None:
    if right:
        assert checked_density(value) == value
        return
    with pytest.raises(ExperimentError, match=r"from 0\.1 to 25"):
        checked_density(value)


@pytest.mark.parametrize(("value", "in_kg"), [
    (100.0, True), (99.0, False), (25_000.0, True), (25_001.0, False), (-1.0, False),
])  # fmt: skip
def test_a_density_in_kilograms_is_recognised(value: float, in_kg: bool) -> None:
    with pytest.raises(ExperimentError) as refused:
        checked_density(value)
    assert ("if it was in kg/m³" in str(refused.value)) is in_kg
    assert checked_density(None) is None


# -- tables of water --------------------------------------------------------------------------


def test_a_table_is_followed_between_its_points() -> None:
    """A parabola is met exactly, with its slope; the cubic of 0, 0, 1, 0 by hand.

    At its second point the slope is ½, at the third 0, so that halfway it is
    ½ + (½ − 0)/8 = 0.5625, and rises by 1.5 − (½ + 0)/4 = 1.375.
    """
    parabola = [3.0 - 2 * x + 0.5 * x * x for x in range(6)]
    for x in (0.0, 0.3, 1.0, 2.75, 4.0, 4.9, 5.0):
        value, slope = _cubic(parabola, x)
        assert value == pytest.approx(3 - 2 * x + 0.5 * x * x)
        assert slope == pytest.approx(-2 + x)
    assert _cubic([0.0, 0.0, 1.0, 0.0], 1.5) == pytest.approx((0.5625, 1.375))
    # the first slope is (−3·0 + 4·0 − 1)/2, the last (3·0 − 4·1 + 0)/2
    assert _cubic([0.0, 0.0, 1.0, 0.0], 0.0)[1] == pytest.approx(-0.5)
    assert _cubic([0.0, 0.0, 1.0, 0.0], 3.0)[1] == pytest.approx(-2.0)


def test_the_uncertainty_of_what_is_taken_from_a_table() -> None:
    """Vapour pressure 5 parts in 10⁴, density 1 part in 10⁵, as limits; and the thermometer's.

    At 25 °C water has 3.1698 kPa (handbook, from memory), which rises by 0.1888 kPa/°C, and
    0.99705 g/mL, which falls by 0.000257 g/mL/°C.
    """
    pressure = water_vapour_pressure_kPa(25.0, ErrorPool())
    assert nominal(pressure) == pytest.approx(3.1698, abs=0.001)
    u = standard_uncertainty(pressure)
    assert u == pytest.approx(3.1698 * 5e-4 / math.sqrt(3), rel=1e-3)
    warm = water_vapour_pressure_kPa(known(25.0, 1.0), ErrorPool())
    assert standard_uncertainty(warm) == pytest.approx(0.1888, rel=0.01)
    density = water_density_g_per_mL(25.0, ErrorPool())
    assert nominal(density) == pytest.approx(0.99705, abs=1e-5)
    assert standard_uncertainty(density) == pytest.approx(0.99705e-5 / math.sqrt(3), rel=1e-3)
    warm = water_density_g_per_mL(known(25.0, 1.0), ErrorPool())
    assert standard_uncertainty(warm) == pytest.approx(0.000257, rel=0.01)


def test_a_pressure_of_nothing_is_refused_with_what_is_allowed() -> None:
    dry = GasVolume(species="H2", final="V", temperature="T", pressure="p", over_water=False)
    values = {"V": 40.0, "T": 21.0, "p": 0.0}
    with pytest.raises(StoichkitError, match="above 0 kPa"):
        dry.amount(values, ErrorPool())
    assert nominal(dry.amount({**values, "p": 1e-6}, ErrorPool())) > 0


# -- solutions, displays, drying --------------------------------------------------------------


def test_glass_that_delivers_drains_and_a_burette_is_run_slowly() -> None:
    acid = KnownConcentration(name="acid", mol_per_L=0.1)
    titrated = SolutionVolume(species="HCl", concentration=acid, final="end")
    measured = SolutionVolume(species="HCl", concentration=acid, pipette="pipette")
    instruments = {
        "burette": Burette(capacity_mL=50.0),
        "pipette": Pipette(capacity_mL=25.0),
    }
    setting = Setting(side="consumed", other=titrated, order=("end",), instruments=instruments)
    slowly = titrated.care(setting).waiting
    assert any("no faster than 0.5 mL/s" in text for text in slowly)
    assert any("stays for 30 seconds" in text for text in slowly)
    assert measured.care(setting).waiting == (
        "Let the glassware drain fully and read at eye level.",
    )


@pytest.mark.parametrize(("repeats_g", "limit_g"), [
    (0.0, 0.01),  # 2 √(2 × 0.01²/12) = 0.00816 is less than a step
    (0.003, 0.0117757), (0.02, 0.0571548),  # 2 √(2 (0.003² + 0.01²/12)) and so on
])  # fmt: skip
def test_when_a_mass_is_constant(repeats_g: float, limit_g: float) -> None:
    balance = Balance(readability_g=0.01, repeatability_g=repeats_g)

    def found(change: float) -> tuple[bool, float, str]:
        texts = ("20.900000", "20.100000", f"{20.1 + change:.6f}")
        said = constant_mass([parse_number(text) for text in texts], balance)
        return said.reached, said.limit_g, said.sentence

    for sign in (1, -1):
        reached, limit, sentence = found(sign * limit_g * 0.999)
        assert (reached, limit) == (True, pytest.approx(limit_g, rel=1e-5))
        assert sentence.startswith(f"Constant mass: the last change, {'+' if sign > 0 else '-'}")
        reached, _, sentence = found(sign * limit_g * 1.001)
        assert not reached
        assert "Heat, cool and weigh again" in sentence


def test_a_display_that_states_nothing_else_repeats_to_half_a_step() -> None:
    assert Balance(readability_g=0.01).repeatability == 0.005
    assert Balance(readability_g=0.01, repeatability_g=0.0).repeatability == 0.0
    assert Timer(readability_s=1.0).reaction == 0.2
    assert Timer(readability_s=1.0, reaction_s=0.0).reaction == 0.0
