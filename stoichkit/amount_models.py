"""Amounts from gas volume and from electric charge."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from .amount_base import (
    FARADAY_C_PER_MOL,
    GAS_CONSTANT_J_PER_MOL_K,
    AmountModel,
    Role,
    Step,
    check_fraction,
    check_pair,
    check_text,
    delivered_volume_mL,
    get,
    times,
)
from .errors import ExperimentError, ReadingError
from .readings import ErrorPool
from .uncertain import Number, nominal
from .water import water_vapour_pressure_kPa

__all__ = ["Charge", "GasVolume"]

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
    >>> from stoichkit.readings import ErrorPool
    >>> from stoichkit.uncertain import nominal
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
        check_text(
            self,
            species=self.species,
            final=self.final,
            temperature=self.temperature,
            pressure=self.pressure,
            instrument=self.instrument,
            thermometer=self.thermometer,
            barometer=self.barometer,
        )
        check_pair("final", self.final, "initial", self.initial)
        check_fraction("factor", self.factor)
        if not isinstance(self.over_water, bool):
            raise ExperimentError(
                "Say whether the gas was collected over water.",
                field="over_water",
                given=self.over_water,
                allowed="true or false",
            )

    def roles(self) -> tuple[Role, ...]:
        """Return the scale readings, the temperature and the pressure."""
        scale = [
            Role(
                name=self.final,
                instrument=self.instrument,
                quantity="gas volume",
                unit="mL",
                delivery=self.final,
            )
        ]
        if self.initial:
            scale.append(
                Role(
                    name=self.initial,
                    instrument=self.instrument,
                    quantity="gas volume",
                    unit="mL",
                    delivery=None,
                )
            )
        return (
            *scale,
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
        formula = f"{self.final} − {self.initial}" if self.initial else self.final
        kelvin = t + ZERO_CELSIUS_K
        steps = [
            Step("V", "gas volume", formula, volume, "mL"),
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
        steps.append(
            Step(
                f"n({s})",
                f"amount of {s}",
                f"{pressure_symbol} × V / (R × T){times(self.factor)}",
                amount,
                "mol",
            )
        )
        return tuple(steps)


@dataclass(frozen=True, slots=True, kw_only=True)
class Charge(AmountModel):
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
    >>> from stoichkit.readings import ErrorPool
    >>> model = Charge(species="e-", current="I", time="t")
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
        check_text(
            self,
            species=self.species,
            current=self.current,
            time=self.time,
            ammeter=self.ammeter,
            timer=self.timer,
        )
        z = self.electrons
        if isinstance(z, bool) or not isinstance(z, int) or z < 1:
            raise ExperimentError(
                "The number of electrons must be a whole number.",
                field="electrons",
                given=z,
                allowed="1 or more",
            )

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
        return (
            Step("Q", "electric charge", f"{self.current} × {self.time}", charge, "C"),
            Step(
                f"n({s})",
                f"amount of {s}",
                "Q / F" if z == 1 else f"Q / ({z} × F)",
                charge / (z * FARADAY_C_PER_MOL),
                "mol",
            ),
        )
