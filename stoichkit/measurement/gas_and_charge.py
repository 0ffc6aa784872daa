"""Amounts from gas volume and from electric charge.

Also vapour pressure and density of water, from a table of IAPWS values.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from typing import Any

from .._common import data_table
from ..chemistry.elements import molar_mass_value
from ..errors import ExperimentError, ReadingError
from ..uncertainty import entry
from ..uncertainty.readings import ErrorPool
from ..uncertainty.sources import Number, is_uncertain, nominal
from .base import (
    FARADAY_C_PER_MOL,
    GAS_CONSTANT_J_PER_MOL_K,
    PRACTICE,
    AmountModel,
    Care,
    Portion,
    Role,
    Setting,
    Span,
    Step,
    amount_step,
    check_factor,
    check_pair,
    check_text,
    delivered_volume_mL,
    get,
    shared_limit,
    span_roles,
    times,
)

VAPOUR_PRESSURE_RELATIVE = 5e-4
DENSITY_RELATIVE = 1e-5


@lru_cache(maxsize=1)
def _table() -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return ln(vapour pressure/kPa) and density in g/mL at 0, 1, 2, … °C."""
    rows = data_table("water.csv")
    return (
        tuple(math.log(float(row["vapour_pressure_Pa"]) / 1000) for row in rows),
        tuple(float(row["density_kg_per_m3"]) / 1000 for row in rows),
    )


def _cubic(table: Sequence[float], x: float) -> tuple[float, float]:
    """Interpolate a table at unit steps; return the value and its slope, both continuous.

    Piecewise cubic with central differences as slopes at the points of the table.
    """
    last = len(table) - 1
    i = min(int(x), last - 1)
    s = x - i

    def slope(j: int) -> float:
        if j == 0:
            return (-3 * table[0] + 4 * table[1] - table[2]) / 2
        if j == last:
            return (3 * table[last] - 4 * table[last - 1] + table[last - 2]) / 2
        return (table[j + 1] - table[j - 1]) / 2

    rise, left, right = table[i + 1] - table[i], slope(i), slope(i + 1)
    c2, c3 = 3 * rise - 2 * left - right, left + right - 2 * rise
    return table[i] + s * (left + s * (c2 + s * c3)), left + s * (2 * c2 + 3 * s * c3)


def _checked(temperature_C: Number) -> tuple[float, Number]:
    """Return the temperature as a float and its error, or say that the table does not reach it."""
    if not is_uncertain(temperature_C) and not getattr(temperature_C, "ndim", 0):
        temperature_C = entry.number("temperature_C", temperature_C, error=ReadingError)
    t, top = nominal(temperature_C), len(_table()[0]) - 1
    if not 0 <= t <= top:
        raise ReadingError(
            "The temperature is outside the table of water properties.",
            given=f"{t:g} °C",
            allowed=f"0 to {top} °C",
            fix="Check that the temperature was read in °C.",
        )
    return t, temperature_C - t


def water_vapour_pressure_kPa(temperature_C: Number, pool: ErrorPool) -> Number:
    """Return the vapour pressure of water over liquid water, in kPa.

    The sensitivity to the temperature is carried to first order. The table itself is taken as
    known to ±0.05 % (rectangular): that covers the spread between the IAPWS formulations and
    the handbook column it was compared with.

    Parameters
    ----------
    temperature_C : uncertain number or float
        0 to 99 °C.
    pool : ErrorPool
        Keeps the table's error one source within an assessment.

    Raises
    ------
    ReadingError
        If the temperature is outside the table.

    Notes
    -----
    Source: IAPWS Industrial Formulation 1997, saturation line (see ``data/README.md``).

    Examples
    --------
    >>> from stoichkit.uncertainty.sources import nominal
    >>> round(nominal(water_vapour_pressure_kPa(25.0, ErrorPool())), 4)
    3.1697
    """
    entry.record("pool", pool, ErrorPool)
    t, departure = _checked(temperature_C)
    log_p, slope = _cubic(_table()[0], t)
    p = math.exp(log_p)
    what = "water vapour pressure"
    table_error = shared_limit(pool, what, f"table of {what}", "table", VAPOUR_PRESSURE_RELATIVE)
    return p * (1 + table_error) + p * slope * departure


def water_density_g_per_mL(temperature_C: Number, pool: ErrorPool) -> Number:
    """Return the density of pure water at 101.325 kPa, in g/mL.

    The sensitivity to the temperature is carried to first order; the table itself is taken as
    known to ±0.001 % (rectangular). Parameters and errors are those of
    :func:`water_vapour_pressure_kPa`.

    Notes
    -----
    Source: IAPWS-95 (see ``data/README.md``).

    Examples
    --------
    >>> from stoichkit.uncertainty.sources import nominal
    >>> round(nominal(water_density_g_per_mL(20.0, ErrorPool())), 6)
    0.998207
    """
    entry.record("pool", pool, ErrorPool)
    t, departure = _checked(temperature_C)
    density, slope = _cubic(_table()[1], t)
    what = "water density"
    table_error = shared_limit(pool, what, f"table of {what}", "table", DENSITY_RELATIVE)
    return density * (1 + table_error) + slope * departure


ZERO_CELSIUS_K = 273.15


@dataclass(frozen=True, slots=True, kw_only=True)
class GasVolume(AmountModel):
    """Amount from a gas volume: n = factor · (p − p_w) · V / (R · T), ideal gas.

    Over water the gas is taken as saturated with water vapour, and its total pressure as the
    one read: bring the water inside and outside the tube to one level first.

    Parameters
    ----------
    species : str
        What the amount is of; usually the gas.
    final, temperature, pressure : str
        Names of the readings: larger reading of the scale in mL, °C, kPa.
    initial : str
        Name of the smaller reading of the scale; "" when it started at zero.
    over_water : bool
        Whether the vapour pressure of water is subtracted.
    factor : Fraction or int
        Moles of the species for each mole of gas.
    instrument, thermometer, barometer : str
        Names of the instruments.

    Raises
    ------
    ExperimentError
        If a field cannot be used.

    Examples
    --------
    >>> from stoichkit.uncertainty.readings import ErrorPool
    >>> from stoichkit.uncertainty.sources import nominal
    >>> model = GasVolume(species="H2", final="V", temperature="t", pressure="p")
    >>> n = model.amount({"V": 48.2, "t": 21.0, "p": 100.9}, ErrorPool())
    >>> round(nominal(n) * 1000, 4)
    1.9395
    """

    species: str
    final: str
    temperature: str
    pressure: str
    initial: str = ""
    over_water: bool = True
    factor: Fraction | int = 1
    instrument: str = "cylinder"
    thermometer: str = "thermometer"
    barometer: str = "barometer"

    def __post_init__(self) -> None:
        check_text(self, "species", "final", "temperature", "pressure")
        check_text(self, "instrument", "thermometer", "barometer")
        check_pair("final", self.final, "initial", self.initial)
        check_factor(self)
        entry.kept(
            self, over_water=entry.flag("over_water", self.over_water, error=ExperimentError)
        )

    def roles(self) -> tuple[Role, ...]:
        """Return the scale readings, the temperature and the pressure."""
        return (
            *span_roles(self.span, "mL"),
            Role(
                name=self.temperature,
                instrument=self.thermometer,
                quantity="temperature",
                unit="°C",
            ),
            Role(name=self.pressure, instrument=self.barometer, quantity="pressure", unit="kPa"),
        )

    def _steps(self, values: Mapping[str, Number], pool: ErrorPool) -> tuple[Step, ...]:
        s = self.species
        volume = delivered_volume_mL(values, self.final, self.initial)
        t, p = get(values, self.temperature), get(values, self.pressure)
        if nominal(t) <= -ZERO_CELSIUS_K:
            raise ReadingError(
                "The temperature is below absolute zero.",
                given=f"{nominal(t):g} °C",
                allowed="above −273.15 °C",
                fix=f"Check the reading “{self.temperature}”.",
            )
        kelvin = t + ZERO_CELSIUS_K
        steps = [
            Step("V", "gas volume", self.span.what, volume, "mL"),
            Step("T", "temperature", f"{self.temperature} + 273.15 K", kelvin, "K"),
        ]
        pressure_symbol = "p"
        if self.over_water:
            vapour = water_vapour_pressure_kPa(t, pool)
            if nominal(vapour) >= nominal(p):
                raise ReadingError(
                    "The pressure is not above the vapour pressure of water at that temperature.",
                    given=f"{nominal(p):g} kPa",
                    allowed=f"above {nominal(vapour):.4g} kPa at {nominal(t):g} °C",
                    fix=f"Check that “{self.pressure}” is in kPa.",
                )
            p = p - vapour
            pressure_symbol = f"p({s})"
            steps.append(Step("p(H2O)", "vapour pressure of water", "", vapour, "kPa"))
            steps.append(
                Step(pressure_symbol, "dry gas pressure", f"{self.pressure} − p(H2O)", p, "kPa")
            )
        elif nominal(p) <= 0:
            raise ReadingError(
                "The pressure is not above 0.",
                given=f"{nominal(p):g} kPa",
                allowed="the absolute pressure, above 0 kPa",
                fix=f"Check the reading “{self.pressure}”: a gauge shows only the excess.",
            )
        amount = p * volume * 1e-3 / (GAS_CONSTANT_J_PER_MOL_K * kelvin) * float(self.factor)
        how = f"{pressure_symbol} × V / (R × T){times(self.factor)}"
        return (*steps, amount_step(s, how, amount))

    @classmethod
    def said_by(cls, kind: str) -> dict[str, Any]:
        """Return whether the words say that the gas is collected over water."""
        return {"over_water": kind == "gas over water"}

    @property
    def span(self) -> Span:
        """The readings of the scale."""
        return Span(self.final, self.initial, self.instrument, "gas volume")

    def expected_mass_g(self, amount_mol: float) -> float | None:
        """Return the mass of the gas, g."""
        return amount_mol * molar_mass_value(self.species)

    def portion(self, setting: Setting) -> Portion | None:
        """Return the gas."""
        found = AmountModel.portion(self, setting)
        return found and replace(found, measured_with="gas volume, temperature and pressure")

    def care(self, setting: Setting) -> Care:
        """Return the wait for room temperature, and the levelling of the water."""
        del setting
        wait = (
            "Wait until no more gas forms and the gas has room temperature, about 5 minutes "
            f"({PRACTICE})."
        )
        level = (
            "Bring the water inside and outside the tube to one level before reading, so that the "
            "pressure inside is the one outside."
        )
        return Care(waiting=(wait, level) if self.over_water else (wait,))

    def situation(self, setting: Setting) -> frozenset[str]:
        """Say of a product that it is a gas."""
        return frozenset({"gas collected"} if setting.is_product else ())


@dataclass(frozen=True, slots=True, kw_only=True)
class ElectricCharge(AmountModel):
    """Amount from electric charge at constant current: n = I · t / (z · F).

    Parameters
    ----------
    species : str
        What is deposited, dissolved or set free; ``"e-"`` with one electron for the charge.
    current, time : str
        Names of the readings, in A and s.
    electrons : int >= 1
        Electrons passed for each unit of the species.
    ammeter, timer : str
        Names of the instruments.

    Raises
    ------
    ExperimentError
        If a field cannot be used.

    Examples
    --------
    >>> from stoichkit.uncertainty.readings import ErrorPool
    >>> model = ElectricCharge(species="e-", current="I", time="t")
    >>> round(model.amount({"I": 10.23, "t": 3600.0}, ErrorPool()), 4)
    0.3817
    """

    species: str
    current: str
    time: str
    electrons: int = 1
    ammeter: str = "ammeter"
    timer: str = "timer"

    def __post_init__(self) -> None:
        check_text(self, "species", "current", "time", "ammeter", "timer")
        electrons = entry.whole(
            "electrons", self.electrons, least=1, most=1000, error=ExperimentError
        )
        entry.kept(self, electrons=electrons)

    def roles(self) -> tuple[Role, ...]:
        """Return the current and the time."""
        return (
            Role(name=self.current, instrument=self.ammeter, quantity="current", unit="A"),
            Role(name=self.time, instrument=self.timer, quantity="time", unit="s"),
        )

    def _steps(self, values: Mapping[str, Number], pool: ErrorPool) -> tuple[Step, ...]:
        del pool
        s, z = self.species, self.electrons
        charge = get(values, self.current) * get(values, self.time)
        how = "Q / F" if z == 1 else f"Q / ({z} × F)"
        return (
            Step("Q", "electric charge", f"{self.current} × {self.time}", charge, "C"),
            amount_step(s, how, charge / (z * FARADAY_C_PER_MOL)),
        )

    @property
    def span(self) -> Span:
        """The time; the current is kept constant."""
        return Span(self.time, "", self.timer, "time")

    @property
    def electrons_passed(self) -> int:
        """Electrons for each unit of the species."""
        return self.electrons

    def portion(self, setting: Setting) -> Portion | None:
        """Return the electric current."""
        if setting.is_product:
            return None
        return Portion(
            name="electric current",
            provides="e⁻",
            formula="",
            measured_with=f"{self.ammeter} and {self.timer}",
            notes=("Keep the current at the value noted; a supply with constant current helps.",),
        )

    def care(self, setting: Setting) -> Care:
        """Return how the current is timed."""
        del setting
        return Care(
            waiting=(
                "Start the timer and the current together; write the current down every few "
                "minutes, and stop both together.",
            )
        )

    def situation(self, setting: Setting) -> frozenset[str]:
        """Say of what is consumed that it is charge."""
        return frozenset() if setting.is_product else frozenset({"charge passed"})
