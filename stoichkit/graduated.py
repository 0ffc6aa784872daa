"""Graduated glassware: measuring cylinder and burette, read by eye."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from .errors import InstrumentError
from .glassware import WATER_EXPANSION_PER_C, Glassware
from .glassware_table import published_graduation
from .instrument_base import require, show

__all__ = ["Burette", "GraduatedCylinder"]


class _Graduated(Glassware):
    """Glassware with a scale read by eye between its graduations."""

    __slots__ = ()
    eye: ClassVar[float]

    graduation_mL: float | None
    resolution_mL: float | None

    def _validate_scale(self) -> None:
        if self.graduation_mL is not None:
            require(self.noun, "graduation in mL", self.graduation_mL, positive=True)
        elif published_graduation(self.kind, self.capacity_mL) is None:
            raise InstrumentError(
                f"No published graduation is at hand for a {show(self.capacity_mL)} mL "
                f"{self.noun}.",
                fix="Give graduation_mL: the distance of two neighbouring marks.",
            )
        if self.resolution_mL is not None:
            require(self.noun, "resolution in mL", self.resolution_mL, positive=True)

    @property
    def graduation(self) -> float:
        """Distance of two neighbouring marks, mL; from published tables if not stated."""
        if self.graduation_mL is not None:
            return self.graduation_mL
        return published_graduation(self.kind, self.capacity_mL) or 0.0

    @property
    def readability(self) -> float:
        """Smallest step read by eye, mL; a tenth of a graduation if not stated."""
        if self.resolution_mL is not None:
            return self.resolution_mL
        return float(f"{self.graduation / 10:.12g}")

    @property
    def repeatability(self) -> float:
        """Standard deviation of reading the scale by eye, mL."""
        if self.repeatability_mL is not None:
            return self.repeatability_mL
        return float(f"{self.graduation * self.eye:.12g}")

    def describe(self) -> str:
        """Describe the piece in one sentence."""
        return (
            f"A {show(self.capacity_mL)} mL {self.noun}, class {self.glass_class}, tolerance "
            f"±{show(self.tolerance)} mL, graduated in {show(self.graduation)} mL and read to "
            f"{show(self.readability)} mL."
        )

    def assumptions(self) -> tuple[str, ...]:
        """List what was assumed because it was not stated."""
        sentences = self._tolerance_assumption()
        if self.graduation_mL is None:
            sentences += (
                f"The graduation of the {self.noun} was not stated; {show(self.graduation)} mL "
                "is assumed, as in published tables.",
            )
        if self.resolution_mL is None:
            sentences += (
                f"The {self.noun} is read by eye to {show(self.readability)} mL, a tenth of a "
                "graduation (common practice, no source).",
            )
        fraction = "a tenth" if self.eye == 0.1 else "a fifth"
        return (
            sentences
            + self._repeatability_assumption(
                self.repeatability_mL, f"{fraction} of a graduation; common practice, no source"
            )
            + self._temperature_assumption()
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class GraduatedCylinder(_Graduated):
    """A measuring cylinder, also as a gas measuring tube.

    Volume = (reading + rounding + repeatability) × (1 + expansion) + tolerance. The tolerance
    holds at any mark and for the difference of any two (ISO 4788), so a difference of two
    readings carries it once: see ``delivery`` in :meth:`Instrument.quantity`. For a gas set
    ``temperature_C=0``: the gas law accounts for its temperature.

    Parameters
    ----------
    capacity_mL : float > 0
        Nominal capacity.
    tolerance_mL : float >= 0 or None
        Half-width of the error of a volume; the figure printed on the glass. None: looked up.
    glass_class : "A" or "B"
        Class for looking the tolerance up.
    graduation_mL : float > 0 or None
        Distance of two neighbouring marks. None: looked up.
    resolution_mL : float > 0 or None
        Smallest step read by eye. None: a tenth of a graduation.
    repeatability_mL : float >= 0 or None
        Standard deviation of reading by eye. None: a fifth of a graduation.
    tolerance_shape : "triangular" or "rectangular"
        Triangular as in QUAM:2012 example A1: values near the nominal one are more likely.
    temperature_C : float >= 0
        Half-width of the departure from 20 °C.
    expansion_per_C : float >= 0
        Volume expansion coefficient of the liquid; 2.1e-4 /°C is water in QUAM:2012.

    Raises
    ------
    InstrumentError
        If a figure is impossible, or left out and in no table.

    Examples
    --------
    >>> GraduatedCylinder(capacity_mL=50.0, glass_class="B").describe()
    'A 50 mL cylinder, class B, tolerance ±0.5 mL, graduated in 1 mL and read to 0.1 mL.'
    """

    noun: ClassVar[str] = "cylinder"
    kind: ClassVar[str] = "cylinder"
    eye: ClassVar[float] = 0.2

    capacity_mL: float = 100.0
    tolerance_mL: float | None = None
    glass_class: str = "B"
    graduation_mL: float | None = None
    resolution_mL: float | None = None
    repeatability_mL: float | None = None
    tolerance_shape: str = "triangular"
    temperature_C: float = 4.0
    expansion_per_C: float = WATER_EXPANSION_PER_C

    def __post_init__(self) -> None:
        self._validate()
        self._validate_scale()


@dataclass(frozen=True, slots=True, kw_only=True)
class Burette(_Graduated):
    """A burette: the volume delivered is the final less the initial reading.

    Each reading has its own rounding and its own error of reading by eye; the temperature
    acts on the volume delivered. The tolerance limits the error of a delivered volume, whatever
    its size, so each delivery carries one tolerance source, and the same one in every trial:
    repeating a titration over the same part of the scale does not average it away. See
    ``delivery`` in :meth:`Instrument.quantity`.

    Parameters
    ----------
    capacity_mL : float > 0
        Nominal capacity.
    tolerance_mL : float >= 0 or None
        Half-width of the error of a delivered volume; the figure printed on the glass. None:
        looked up.
    glass_class : "A" or "B"
        Class for looking the tolerance up.
    graduation_mL : float > 0 or None
        Distance of two neighbouring marks. None: looked up.
    resolution_mL : float > 0 or None
        Smallest step read by eye. None: a tenth of a graduation.
    repeatability_mL : float >= 0 or None
        Standard deviation of reading by eye. None: a tenth of a graduation; two of these are
        the ±0.02 mL a textbook table gives for one reading of a 50 mL burette.
    tolerance_shape : "triangular" or "rectangular"
        Triangular as in QUAM:2012 examples A1 and A2.
    temperature_C : float >= 0
        Half-width of the departure from 20 °C.
    expansion_per_C : float >= 0
        Volume expansion coefficient of the liquid; 2.1e-4 /°C is water in QUAM:2012.

    Raises
    ------
    InstrumentError
        If a figure is impossible, or left out and in no table.

    Examples
    --------
    >>> from stoichkit.readings import ErrorPool, parse_number
    >>> from stoichkit.uncertain import format_number
    >>> burette, pool = Burette(capacity_mL=50.0, glass_class="A"), ErrorPool()
    >>> final_mL = burette.quantity(parse_number("35.23"), name="burette", label="final",
    ...                             pool=pool, delivery="acid")
    >>> initial_mL = burette.quantity(parse_number("0.00"), name="burette", label="initial",
    ...                               pool=pool, delivery=None)
    >>> format_number(final_mL - initial_mL, unit="mL")
    '35.230 ± 0.030 mL'
    """

    noun: ClassVar[str] = "burette"
    kind: ClassVar[str] = "burette"
    eye: ClassVar[float] = 0.1

    capacity_mL: float = 50.0
    tolerance_mL: float | None = None
    glass_class: str = "B"
    graduation_mL: float | None = None
    resolution_mL: float | None = None
    repeatability_mL: float | None = None
    tolerance_shape: str = "triangular"
    temperature_C: float = 4.0
    expansion_per_C: float = WATER_EXPANSION_PER_C

    def __post_init__(self) -> None:
        self._validate()
        self._validate_scale()
