"""Balance, thermometer, barometer, ammeter and timer.

Also pressure in kilopascals from the other units found on barometers.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields, replace
from typing import ClassVar

from ..uncertainty.readings import ErrorPool
from ..uncertainty.sources import Number, Shape, error_source
from .base import PRACTICE, Instrument, require, shared_limit, show

_REACTION_S = 0.2
_ABOVE_ZERO = ("readability", "capacity")


class Display(Instrument):
    """An instrument whose figures are fields named with its unit, such as ``readability_g``.

    A figure of None is assumed: half the readability for the repeatability.
    """

    __slots__ = ()
    suffix: ClassVar[str]
    """How the unit stands in the names of the fields."""

    def __post_init__(self) -> None:
        for field in fields(self):  # type: ignore[arg-type]
            figure, _, unit = field.name.rpartition("_")
            above = 0.0 if figure in _ABOVE_ZERO else -math.inf
            below = 1.0 if unit == "relative" else math.inf
            require(self, field.name, above=above, below=below)

    def _figure(self, name: str) -> float | None:
        """Return a figure as it was stated; None where it was not."""
        value: float | None = getattr(self, f"{name}_{self.suffix}")
        return value

    @property
    def readability(self) -> float:
        """Smallest step that is shown or read, in ``unit``."""
        return self._figure("readability") or 0.0

    @property
    def repeatability(self) -> float:
        """Standard deviation of repeated readings, in ``unit``; half a step if not stated."""
        stated = self._figure("repeatability")
        return self.readability / 2 if stated is None else stated

    def assumptions(self) -> tuple[str, ...]:
        """List what was assumed because it was not stated."""
        return self._repeatability_assumption(
            self._figure("repeatability"), f"half the readability; {PRACTICE}"
        )

    def _with_calibration(
        self, value: Number, relative: float, name: str, pool: ErrorPool
    ) -> Number:
        """Return the value with a relative error that all readings of the instrument share."""
        if not relative:
            return value
        label = f"calibration of {name}"
        return value * (
            1 + shared_limit(pool, ("calibration", name), label, "calibration", relative)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Balance(Display):
    """A balance: mass in grams from a display.

    Mass = (reading + rounding + repeatability + linearity) × (1 + calibration). The linearity
    error is made anew for each weighing, so a difference of two weighings carries it twice, as
    in the EURACHEM/CITAC guide QUAM:2012, example A2; the calibration error is one source in
    all weighings on this balance. Air buoyancy is corrected where
    the density of what is weighed is stated (:mod:`stoichkit.measurement.buoyancy`).

    Parameters
    ----------
    readability_g : float > 0
        Step of the display.
    repeatability_g : float >= 0 or None
        Standard deviation of repeated weighings. None: half the readability is assumed and
        listed among the assumptions; 0: no scatter beyond the digits.
    linearity_g : float >= 0
        Half-width of the linearity error of one weighing (rectangular).
    calibration_relative : float >= 0, < 1
        Half-width of the relative calibration error (rectangular).
    capacity_g : float > 0 or None
        Largest load.

    Raises
    ------
    InstrumentError
        If a figure is negative, not finite, or a readability is 0.

    Examples
    --------
    >>> from stoichkit.uncertainty.readings import ErrorPool, parse_number
    >>> from stoichkit.uncertainty.sources import format_number
    >>> balance, pool = Balance(readability_g=0.01, repeatability_g=0.0), ErrorPool()
    >>> mass_g = balance.quantity(
    ...     parse_number("2.30"), name="balance", label="strip", pool=pool)
    >>> format_number(mass_g, unit="g")
    '2.3000 ± 0.0029 g'
    >>> Balance(readability_g=0.1).assumptions()
    ('The repeatability of the balance was not stated; 0.05 g is assumed (half the ...).',)
    """

    unit: ClassVar[str] = "g"
    suffix: ClassVar[str] = "g"
    noun: ClassVar[str] = "balance"
    figures: ClassVar[str] = "shows steps of {readability_g} g and repeats to {repeatability_g} g"
    capacity_matters: ClassVar[bool] = True

    readability_g: float = 0.01
    repeatability_g: float | None = None
    linearity_g: float = 0.0
    calibration_relative: float = 0.0
    capacity_g: float | None = None

    @property
    def capacity(self) -> float | None:
        """Largest load, g."""
        return self.capacity_g

    def read_to(self, readability_g: float) -> Balance:
        """Return a balance that shows another step, its other errors as many steps as before.

        A repeatability that was not stated stays not stated.

        >>> Balance(readability_g=0.01, repeatability_g=0.005).read_to(0.1).repeatability_g
        0.05
        """
        factor = readability_g / self.readability_g
        stated = self.repeatability_g
        return replace(
            self,
            readability_g=readability_g,
            repeatability_g=None if stated is None else stated * factor,
            linearity_g=self.linearity_g * factor,
        )

    def describe(self) -> str:
        """Describe the balance in one sentence.

        >>> Balance(readability_g=0.001, repeatability_g=0.001, linearity_g=0.002).describe()
        'A balance reading to 0.001 g, repeatability 0.001 g, linearity ±0.002 g.'
        """
        parts = [
            f"A balance reading to {show(self.readability_g)} g",
            f"repeatability {show(self.repeatability)} g",
        ]
        if self.linearity_g:
            parts.append(f"linearity ±{show(self.linearity_g)} g")
        if self.calibration_relative:
            parts.append(f"calibration ±{show(100 * self.calibration_relative)} %")
        if self.capacity_g is not None:
            parts.append(f"capacity {show(self.capacity_g)} g")
        return ", ".join(parts) + "."

    def _own_errors(
        self, value: Number, *, name: str, label: str, pool: ErrorPool, delivery: str | None
    ) -> Number:
        del delivery
        linearity = error_source(
            f"linearity at {label}",
            kind="linearity",
            shape=Shape.RECTANGULAR,
            scale=self.linearity_g,
        )
        return self._with_calibration(value + linearity, self.calibration_relative, name, pool)


class Meter(Display):
    """An instrument whose tolerance is one error common to all its readings."""

    __slots__ = ()

    @property
    def tolerance(self) -> float:
        """Half-width of the instrument's own error, in ``unit``; one step if not stated."""
        stated = self._figure("tolerance")
        return self.readability if stated is None else stated

    def describe(self) -> str:
        """Describe the instrument in one sentence."""
        article = "An" if self.noun[0] in "aeiou" else "A"
        return (
            f"{article} {self.noun} reading to {show(self.readability)} {self.unit}, "
            f"repeatability {show(self.repeatability)} {self.unit}, "
            f"tolerance ±{show(self.tolerance)} {self.unit}."
        )

    def assumptions(self) -> tuple[str, ...]:
        """List what was assumed because it was not stated."""
        sentences = Display.assumptions(self)
        if self._figure("tolerance") is None:
            sentences += (
                f"The tolerance of the {self.noun} was not stated; ±{show(self.tolerance)} "
                f"{self.unit} is assumed (one step of its scale; {PRACTICE}).",
            )
        return sentences

    def _own_errors(
        self, value: Number, *, name: str, label: str, pool: ErrorPool, delivery: str | None
    ) -> Number:
        del label, delivery
        return value + shared_limit(
            pool, ("tolerance", name), f"tolerance of {name}", "tolerance", self.tolerance
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Thermometer(Meter):
    """A thermometer: temperature in degrees Celsius.

    Parameters
    ----------
    readability_C : float > 0
        Smallest step read.
    tolerance_C : float >= 0 or None
        Half-width of its own error (rectangular), one source in all its readings. None: one
        step of its scale is assumed.
    repeatability_C : float >= 0 or None
        Standard deviation of repeated readings. None: half the readability is assumed.

    Raises
    ------
    InstrumentError
        If a figure is negative, not finite, or the readability is 0.

    Examples
    --------
    >>> Thermometer(readability_C=0.5, tolerance_C=0.5, repeatability_C=0).describe()
    'A thermometer reading to 0.5 °C, repeatability 0 °C, tolerance ±0.5 °C.'
    """

    unit: ClassVar[str] = "°C"
    suffix: ClassVar[str] = "C"
    noun: ClassVar[str] = "thermometer"
    usual: ClassVar[float] = 20.0
    figures: ClassVar[str] = "shows steps of {readability_C} °C and is right to {tolerance_C} °C"
    can_be_negative: ClassVar[bool] = True

    readability_C: float = 0.1
    tolerance_C: float | None = None
    repeatability_C: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Barometer(Meter):
    """A barometer: pressure in kilopascals.

    Readings in other units are turned into kilopascals with :func:`kPa_from_torr` and its
    sisters; the readability is turned in the same way.

    Parameters
    ----------
    readability_kPa, tolerance_kPa, repeatability_kPa : float, optional
        As for :class:`Thermometer`, in kPa; so are the errors raised.

    Examples
    --------
    >>> Barometer(readability_kPa=0.1, tolerance_kPa=0.2).repeatability
    0.05
    """

    unit: ClassVar[str] = "kPa"
    suffix: ClassVar[str] = "kPa"
    noun: ClassVar[str] = "barometer"
    usual: ClassVar[float] = 101.3
    figures: ClassVar[str] = (
        "shows steps of {readability_kPa} kPa and is right to {tolerance_kPa} kPa"
    )

    readability_kPa: float = 0.1
    tolerance_kPa: float | None = None
    repeatability_kPa: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Ammeter(Meter):
    """An ammeter: current in amperes, with a tolerance in percent of the reading and in amperes.

    Parameters
    ----------
    readability_A, tolerance_A, repeatability_A : float, optional
        As for :class:`Thermometer`, in A; ``tolerance_A`` is the constant part of its own error.
        So are the errors raised.
    tolerance_relative : float >= 0, < 1
        Half-width of the relative error (rectangular), e.g. 0.01 for "1 % of reading".

    Examples
    --------
    >>> Ammeter(readability_A=0.01, tolerance_relative=0.015, tolerance_A=0.02).tolerance
    0.02
    """

    unit: ClassVar[str] = "A"
    suffix: ClassVar[str] = "A"
    noun: ClassVar[str] = "ammeter"
    usual: ClassVar[float] = 0.5
    figures: ClassVar[str] = "shows steps of {readability_A} A and is right to {tolerance_A} A"

    readability_A: float = 0.01
    tolerance_relative: float = 0.0
    tolerance_A: float | None = None
    repeatability_A: float | None = None

    def _own_errors(
        self, value: Number, *, name: str, label: str, pool: ErrorPool, delivery: str | None
    ) -> Number:
        value = Meter._own_errors(self, value, name=name, label=label, pool=pool, delivery=delivery)
        return self._with_calibration(value, self.tolerance_relative, name, pool)


@dataclass(frozen=True, slots=True, kw_only=True)
class Timer(Display):
    """A timer started and stopped by hand: time in seconds.

    Parameters
    ----------
    readability_s : float > 0
        Step of the display.
    reaction_s : float >= 0 or None
        Half-width of the error of pressing the key (rectangular), once at the start and once
        at the stop. None: 0.2 s is assumed.
    repeatability_s : float >= 0 or None
        Standard deviation of repeated timings beyond that. None: half the readability.

    Raises
    ------
    InstrumentError
        If a figure is negative, not finite, or the readability is 0.

    Examples
    --------
    >>> Timer(readability_s=1.0).describe()
    'A timer reading to 1 s, repeatability 0.5 s, started and stopped within ±0.2 s.'
    """

    unit: ClassVar[str] = "s"
    suffix: ClassVar[str] = "s"
    noun: ClassVar[str] = "timer"
    usual: ClassVar[float] = 600.0
    figures: ClassVar[str] = "shows steps of {readability_s} s"

    readability_s: float = 0.01
    reaction_s: float | None = None
    repeatability_s: float | None = None

    @property
    def reaction(self) -> float:
        """Half-width of the error of pressing the key once, s."""
        return _REACTION_S if self.reaction_s is None else self.reaction_s

    def describe(self) -> str:
        """Describe the timer in one sentence."""
        return (
            f"A timer reading to {show(self.readability_s)} s, repeatability "
            f"{show(self.repeatability)} s, started and stopped within ±{show(self.reaction)} s."
        )

    def assumptions(self) -> tuple[str, ...]:
        """List what was assumed because it was not stated."""
        sentences = Display.assumptions(self)
        if self.reaction_s is None:
            sentences += (
                f"The timer is assumed to be started and stopped by hand within "
                f"±{show(self.reaction)} s ({PRACTICE}).",
            )
        return sentences

    def _own_errors(
        self, value: Number, *, name: str, label: str, pool: ErrorPool, delivery: str | None
    ) -> Number:
        del name, pool, delivery
        for moment in ("start", "stop"):
            value = value + error_source(
                f"{moment} of {label}",
                kind="reaction time",
                shape=Shape.RECTANGULAR,
                scale=self.reaction,
            )
        return value


def kPa_from_torr(pressure_torr: Number) -> Number:
    """Turn torr into kilopascals: 760 torr is 101.325 kPa exactly.

    >>> round(kPa_from_torr(745), 3)
    99.325
    """
    return pressure_torr * (101.325 / 760)


def kPa_from_mmHg(pressure_mmHg: Number) -> Number:
    """Turn conventional millimetres of mercury into kilopascals: 0.133322387415 kPa each.

    The factor (13 595.1 kg/m³ × 9.80665 m/s² × 1 mm) is from memory, recomputed.

    >>> round(kPa_from_mmHg(742.5), 3)
    98.992
    """
    return pressure_mmHg * 0.133322387415


def kPa_from_atm(pressure_atm: Number) -> Number:
    """Turn standard atmospheres into kilopascals: 101.325 kPa each, exactly.

    >>> kPa_from_atm(1)
    101.325
    """
    return pressure_atm * 101.325


def kPa_from_hPa(pressure_hPa: Number) -> Number:
    """Turn hectopascals (millibars) into kilopascals: 0.1 kPa each, exactly.

    >>> kPa_from_hPa(1000)
    100.0
    """
    return pressure_hPa / 10
