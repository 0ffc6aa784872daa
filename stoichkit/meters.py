"""Thermometer, barometer, ammeter and timer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from .instrument_base import HALF_STEP, Instrument, require, shared_limit, show
from .readings import ErrorPool
from .uncertain import Number, Shape, error_source

__all__ = ["Ammeter", "Barometer", "Thermometer", "Timer"]

_REACTION_S = 0.2


class _Meter(Instrument):
    """An instrument whose tolerance is one error common to all its readings."""

    __slots__ = ()

    @property
    def tolerance(self) -> float:
        """Half-width of the instrument's own error, in ``unit``."""
        raise NotImplementedError

    def describe(self) -> str:
        """Describe the instrument in one sentence."""
        article = "An" if self.noun[0] in "aeiou" else "A"
        return (
            f"{article} {self.noun} reading to {show(self.readability)} {self.unit}, "
            f"repeatability {show(self.repeatability)} {self.unit}, "
            f"tolerance ±{show(self.tolerance)} {self.unit}."
        )

    def _assumed(self, tolerance: float | None, repeatability: float | None) -> tuple[str, ...]:
        sentences = self._repeatability_assumption(repeatability, HALF_STEP)
        if tolerance is None:
            sentences += (
                f"The tolerance of the {self.noun} was not stated; ±{show(self.tolerance)} "
                f"{self.unit} is assumed (one step of its scale; common practice, no source).",
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
class Thermometer(_Meter):
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
    noun: ClassVar[str] = "thermometer"
    can_be_negative: ClassVar[bool] = True

    readability_C: float = 0.1
    tolerance_C: float | None = None
    repeatability_C: float | None = None

    def __post_init__(self) -> None:
        require(self.noun, "readability in °C", self.readability_C, positive=True)
        if self.tolerance_C is not None:
            require(self.noun, "tolerance in °C", self.tolerance_C)
        if self.repeatability_C is not None:
            require(self.noun, "repeatability in °C", self.repeatability_C)

    @property
    def readability(self) -> float:
        """Smallest step read, °C."""
        return self.readability_C

    @property
    def repeatability(self) -> float:
        """Standard deviation of repeated readings, °C."""
        return self.readability_C / 2 if self.repeatability_C is None else self.repeatability_C

    @property
    def tolerance(self) -> float:
        """Half-width of the thermometer's own error, °C."""
        return self.readability_C if self.tolerance_C is None else self.tolerance_C

    def assumptions(self) -> tuple[str, ...]:
        """List what was assumed because it was not stated."""
        return self._assumed(self.tolerance_C, self.repeatability_C)


@dataclass(frozen=True, slots=True, kw_only=True)
class Barometer(_Meter):
    """A barometer: pressure in kilopascals.

    Readings in other units are turned into kilopascals with :func:`kPa_from_torr` and its
    sisters; the readability is turned in the same way.

    Parameters
    ----------
    readability_kPa : float > 0
        Smallest step read.
    tolerance_kPa : float >= 0 or None
        Half-width of its own error (rectangular), one source in all its readings. None: one
        step of its scale is assumed.
    repeatability_kPa : float >= 0 or None
        Standard deviation of repeated readings. None: half the readability is assumed.

    Raises
    ------
    InstrumentError
        If a figure is negative, not finite, or the readability is 0.

    Examples
    --------
    >>> Barometer(readability_kPa=0.1, tolerance_kPa=0.2).repeatability
    0.05
    """

    unit: ClassVar[str] = "kPa"
    noun: ClassVar[str] = "barometer"

    readability_kPa: float = 0.1
    tolerance_kPa: float | None = None
    repeatability_kPa: float | None = None

    def __post_init__(self) -> None:
        require(self.noun, "readability in kPa", self.readability_kPa, positive=True)
        if self.tolerance_kPa is not None:
            require(self.noun, "tolerance in kPa", self.tolerance_kPa)
        if self.repeatability_kPa is not None:
            require(self.noun, "repeatability in kPa", self.repeatability_kPa)

    @property
    def readability(self) -> float:
        """Smallest step read, kPa."""
        return self.readability_kPa

    @property
    def repeatability(self) -> float:
        """Standard deviation of repeated readings, kPa."""
        stated = self.repeatability_kPa
        return self.readability_kPa / 2 if stated is None else stated

    @property
    def tolerance(self) -> float:
        """Half-width of the barometer's own error, kPa."""
        return self.readability_kPa if self.tolerance_kPa is None else self.tolerance_kPa

    def assumptions(self) -> tuple[str, ...]:
        """List what was assumed because it was not stated."""
        return self._assumed(self.tolerance_kPa, self.repeatability_kPa)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ammeter(_Meter):
    """An ammeter: current in amperes, with a tolerance in percent of the reading and in amperes.

    Parameters
    ----------
    readability_A : float > 0
        Step of the display.
    tolerance_relative : float >= 0, < 1
        Half-width of the relative error (rectangular), e.g. 0.01 for "1 % of reading".
    tolerance_A : float >= 0 or None
        Half-width of the constant error (rectangular). None: one step of the display is assumed.
    repeatability_A : float >= 0 or None
        Standard deviation of repeated readings. None: half the readability is assumed.

    Raises
    ------
    InstrumentError
        If a figure is negative, not finite, or the readability is 0.

    Examples
    --------
    >>> Ammeter(readability_A=0.01, tolerance_relative=0.015, tolerance_A=0.02).tolerance
    0.02
    """

    unit: ClassVar[str] = "A"
    noun: ClassVar[str] = "ammeter"

    readability_A: float = 0.01
    tolerance_relative: float = 0.0
    tolerance_A: float | None = None
    repeatability_A: float | None = None

    def __post_init__(self) -> None:
        require(self.noun, "readability in A", self.readability_A, positive=True)
        require(self.noun, "relative tolerance", self.tolerance_relative, below=1.0)
        if self.tolerance_A is not None:
            require(self.noun, "tolerance in A", self.tolerance_A)
        if self.repeatability_A is not None:
            require(self.noun, "repeatability in A", self.repeatability_A)

    @property
    def readability(self) -> float:
        """Step of the display, A."""
        return self.readability_A

    @property
    def repeatability(self) -> float:
        """Standard deviation of repeated readings, A."""
        return self.readability_A / 2 if self.repeatability_A is None else self.repeatability_A

    @property
    def tolerance(self) -> float:
        """Half-width of the constant part of the ammeter's own error, A."""
        return self.readability_A if self.tolerance_A is None else self.tolerance_A

    def assumptions(self) -> tuple[str, ...]:
        """List what was assumed because it was not stated."""
        return self._assumed(self.tolerance_A, self.repeatability_A)

    def _own_errors(
        self, value: Number, *, name: str, label: str, pool: ErrorPool, delivery: str | None
    ) -> Number:
        value = _Meter._own_errors(
            self, value, name=name, label=label, pool=pool, delivery=delivery
        )
        if not self.tolerance_relative:
            return value
        calibration = shared_limit(
            pool,
            ("calibration", name),
            f"calibration of {name}",
            "calibration",
            self.tolerance_relative,
        )
        return value * (1 + calibration)


@dataclass(frozen=True, slots=True, kw_only=True)
class Timer(Instrument):
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
    noun: ClassVar[str] = "timer"

    readability_s: float = 0.01
    reaction_s: float | None = None
    repeatability_s: float | None = None

    def __post_init__(self) -> None:
        require(self.noun, "readability in s", self.readability_s, positive=True)
        if self.reaction_s is not None:
            require(self.noun, "reaction time in s", self.reaction_s)
        if self.repeatability_s is not None:
            require(self.noun, "repeatability in s", self.repeatability_s)

    @property
    def readability(self) -> float:
        """Step of the display, s."""
        return self.readability_s

    @property
    def repeatability(self) -> float:
        """Standard deviation of repeated timings beyond the reaction time, s."""
        return self.readability_s / 2 if self.repeatability_s is None else self.repeatability_s

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
        sentences = self._repeatability_assumption(self.repeatability_s, HALF_STEP)
        if self.reaction_s is None:
            sentences += (
                f"The timer is assumed to be started and stopped by hand within "
                f"±{show(self.reaction)} s (common practice, no source).",
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
