"""The balance: mass from a display."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from .instrument_base import HALF_STEP, Instrument, require, shared_limit, show
from .readings import ErrorPool
from .uncertain import Number, Shape, error_source

__all__ = ["Balance"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Balance(Instrument):
    """A balance: mass in grams from a display.

    Mass = (reading + rounding + repeatability + linearity) × (1 + calibration). The linearity
    error is made anew for each weighing, so a difference of two weighings carries it twice, as
    in the EURACHEM/CITAC guide QUAM:2012, example A2; the calibration error is one source in
    all weighings on this balance. Air buoyancy is not corrected.

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
    >>> from stoichkit.readings import ErrorPool, parse_number
    >>> from stoichkit.uncertain import format_number
    >>> balance, pool = Balance(readability_g=0.01, repeatability_g=0.0), ErrorPool()
    >>> mass_g = balance.quantity(
    ...     parse_number("2.30"), name="balance", label="strip", pool=pool)
    >>> format_number(mass_g, unit="g")
    '2.3000 ± 0.0029 g'
    >>> Balance(readability_g=0.1).assumptions()
    ('The repeatability of the balance was not stated; 0.05 g is assumed (half the ...).',)
    """

    unit: ClassVar[str] = "g"
    noun: ClassVar[str] = "balance"

    readability_g: float = 0.01
    repeatability_g: float | None = None
    linearity_g: float = 0.0
    calibration_relative: float = 0.0
    capacity_g: float | None = None

    def __post_init__(self) -> None:
        require(self.noun, "readability in g", self.readability_g, positive=True)
        if self.repeatability_g is not None:
            require(self.noun, "repeatability in g", self.repeatability_g)
        require(self.noun, "linearity in g", self.linearity_g)
        require(self.noun, "relative calibration error", self.calibration_relative, below=1.0)
        if self.capacity_g is not None:
            require(self.noun, "capacity in g", self.capacity_g, positive=True)

    @property
    def readability(self) -> float:
        """Step of the display, g."""
        return self.readability_g

    @property
    def repeatability(self) -> float:
        """Standard deviation of repeated weighings, g; half the readability if not stated."""
        return self.readability_g / 2 if self.repeatability_g is None else self.repeatability_g

    @property
    def capacity(self) -> float | None:
        """Largest load, g."""
        return self.capacity_g

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

    def assumptions(self) -> tuple[str, ...]:
        """List what was assumed because it was not stated."""
        return self._repeatability_assumption(self.repeatability_g, HALF_STEP)

    def _own_errors(
        self, value: Number, *, name: str, label: str, pool: ErrorPool, delivery: str | None
    ) -> Number:
        del delivery
        value = value + error_source(
            f"linearity at {label}",
            kind="linearity",
            shape=Shape.RECTANGULAR,
            scale=self.linearity_g,
        )
        if not self.calibration_relative:
            return value
        calibration = shared_limit(
            pool,
            ("calibration", name),
            f"calibration of {name}",
            "calibration",
            self.calibration_relative,
        )
        return value * (1 + calibration)
