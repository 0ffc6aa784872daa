"""Volumetric glassware and its published tolerances.

Pipette and flask have one mark; measuring cylinder and burette are graduated and read by eye.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import ClassVar

from .._common import data_table
from ..errors import InstrumentError, ReadingError
from ..uncertainty import entry
from ..uncertainty.readings import ErrorPool, Reading
from ..uncertainty.sources import Number, Shape, error_source
from .base import PRACTICE, Instrument, require, shared_limit, show

_RANK = {"read": 0, "rule": 1, "memory": 2}
_STATUS = {
    "read": "read in that table",
    "rule": "derived from that rule",
    "memory": "from memory, not checked against the document",
}


@dataclass(frozen=True, slots=True)
class PublishedTolerance:
    """One row of ``data/glassware.csv``.

    Attributes
    ----------
    kind, glass_class : str
        ``"cylinder"``, ``"pipette"``, ``"burette"`` or ``"flask"``; ``"A"`` or ``"B"``.
    capacity_mL, tolerance_mL : float
        Capacity and half-width of the error of a volume.
    graduation_mL : float or None
        Smallest graduation, where the table gives it.
    source, status : str
        Where it comes from; ``"read"``, ``"rule"`` or ``"memory"``.
    """

    kind: str
    capacity_mL: float
    glass_class: str
    tolerance_mL: float
    graduation_mL: float | None
    source: str
    status: str

    def sentence(self) -> str:
        """Say where the tolerance comes from and how far to trust it.

        >>> published_tolerance("pipette", 10, "A").sentence()
        'The tolerance of the pipette was not stated; ±0.02 mL is assumed for 10 mL class A
        (ASTM E969, in ...; read in that table). Published tables disagree: the figure printed
        on the glass wins.'
        """
        return (
            f"The tolerance of the {self.kind} was not stated; ±{show(self.tolerance_mL)} mL is "
            f"assumed for {show(self.capacity_mL)} mL class {self.glass_class} ({self.source}; "
            f"{_STATUS[self.status]}). Published tables disagree: the figure printed on the "
            "glass wins."
        )


@lru_cache(maxsize=1)
def _rows() -> tuple[PublishedTolerance, ...]:
    return tuple(
        PublishedTolerance(
            row["kind"],
            float(row["capacity_mL"]),
            row["glass_class"],
            float(row["tolerance_mL"]),
            float(row["graduation_mL"]) if row["graduation_mL"] else None,
            row["source"],
            row["status"],
        )
        for row in data_table("glassware.csv")
    )


def published_tolerance(kind: str, capacity_mL: float, glass_class: str) -> PublishedTolerance:
    """Return the published tolerance to assume for a piece of glassware.

    Tables read come before rules, rules before values from memory; among equals the largest
    tolerance is taken, then the coarsest graduation.

    Parameters
    ----------
    kind : str
        ``"cylinder"``, ``"pipette"``, ``"burette"`` or ``"flask"``.
    capacity_mL : float
        Nominal capacity in mL, one of those in the table.
    glass_class : str
        ``"A"`` or ``"B"``.

    Raises
    ------
    InstrumentError
        If the table has no such piece; the message lists the capacities it has.

    Examples
    --------
    >>> published_tolerance("burette", 50, "A").tolerance_mL
    0.05
    """
    entry.text("kind", kind, error=InstrumentError)
    entry.text("glass_class", glass_class, error=InstrumentError)
    capacity_mL = entry.number("capacity_mL", capacity_mL, above=0, error=InstrumentError)
    rows = [r for r in _rows() if r.kind == kind and r.glass_class == glass_class]
    found = [r for r in rows if r.capacity_mL == capacity_mL]
    if not found:
        known = ", ".join(show(c) for c in sorted({r.capacity_mL for r in rows}))
        raise InstrumentError(
            f"No published tolerance is at hand for a {show(capacity_mL)} mL {kind} "
            f"of class {glass_class}.",
            given=f"{show(capacity_mL)} mL",
            allowed=f"{known} mL" if known else None,
            fix="Or give tolerance_mL: the figure printed on the glass.",
        )
    return min(found, key=lambda r: (_RANK[r.status], -r.tolerance_mL, -(r.graduation_mL or 0)))


def published_graduation(kind: str, capacity_mL: float) -> float | None:
    """Return the coarsest published graduation for this capacity in mL, or None."""
    found = [r.graduation_mL for r in _rows() if r.kind == kind and r.capacity_mL == capacity_mL]
    return max((g for g in found if g is not None), default=None)


WATER_EXPANSION_PER_C = 2.1e-4
_SHAPES = ("triangular", "rectangular")


class Glassware(Instrument):
    """What all glassware shares: tolerance, and expansion of the liquid with temperature.

    A liquid measured at another temperature than the glass was calibrated for, 20 °C, has
    expanded by ``expansion_per_C`` for each degree; ``temperature_C`` is the half-width of the
    departure from 20 °C, one source for all volumes measured with this piece.
    """

    __slots__ = ()
    unit: ClassVar[str] = "mL"
    kind: ClassVar[str]
    figures: ClassVar[str] = "holds {capacity_mL} mL, right to {tolerance_mL} mL"
    capacity_matters: ClassVar[bool] = True
    when_full: ClassVar[str] = "Let less react, or refill"

    capacity_mL: float
    tolerance_mL: float | None
    glass_class: str
    repeatability_mL: float | None
    tolerance_shape: str
    temperature_C: float
    expansion_per_C: float

    def __post_init__(self) -> None:
        require(self, "capacity_mL", above=0)
        require(self, "temperature_C")
        require(self, "expansion_per_C", below=0.1)
        require(self, "repeatability_mL")
        of = f"the {self.noun}"
        entry.choice("glass_class", self.glass_class, ("A", "B"), of=of, error=InstrumentError)
        entry.choice("tolerance_shape", self.tolerance_shape, _SHAPES, of=of, error=InstrumentError)
        if self.tolerance_mL is None:
            self._published()
        else:
            require(self, "tolerance_mL", below=self.capacity_mL)

    def _published(self) -> PublishedTolerance:
        return published_tolerance(self.kind, self.capacity_mL, self.glass_class)

    @property
    def capacity(self) -> float | None:
        """Nominal capacity, mL."""
        return self.capacity_mL

    @property
    def tolerance(self) -> float:
        """Half-width of the error of a volume, mL; from published tables if not stated."""
        stated = self.tolerance_mL
        return self._published().tolerance_mL if stated is None else stated

    @property
    def named(self) -> str:
        """The piece in words: capacity, kind and class.

        >>> Pipette(capacity_mL=10.0).named
        '10 mL pipette, class B'
        """
        return f"{show(self.capacity_mL)} mL {self.noun}, class {self.glass_class}"

    def _tolerance_assumption(self) -> tuple[str, ...]:
        return () if self.tolerance_mL is not None else (self._published().sentence(),)

    def _temperature_assumption(self) -> tuple[str, ...]:
        if not self.temperature_C * self.expansion_per_C:
            return ()
        return (
            f"The liquid in the {self.noun} is within ±{show(self.temperature_C)} °C of 20 °C "
            f"and expands by {show(self.expansion_per_C)} per °C"
            + (
                " (water, EURACHEM/CITAC QUAM:2012 example A1)."
                if self.expansion_per_C == WATER_EXPANSION_PER_C
                else "."
            ),
        )

    def _own_errors(
        self, value: Number, *, name: str, label: str, pool: ErrorPool, delivery: str | None
    ) -> Number:
        del label
        delivery = delivery if self.needs_reading else ""
        expansion = shared_limit(
            pool,
            ("temperature", name),
            f"temperature of the liquid in {name}",
            "temperature",
            self.temperature_C * self.expansion_per_C,
        )
        warmed = value * (1 + expansion)
        if delivery is None:
            return warmed
        shape = Shape(self.tolerance_shape)
        words = f"tolerance of {name}" + (f" for {delivery}" if delivery else "")
        tolerance = pool.shared(
            ("tolerance", name, delivery),
            lambda: error_source(words, kind="tolerance", shape=shape, scale=self.tolerance),
        )
        return warmed + tolerance


@dataclass(frozen=True, slots=True, kw_only=True)
class OneMark(Glassware):
    """Glassware with one mark: its volume is its capacity, nothing is read."""

    needs_reading: ClassVar[bool] = False

    capacity_mL: float
    tolerance_mL: float | None = None
    glass_class: str = "B"
    repeatability_mL: float | None = None
    tolerance_shape: str = "triangular"
    temperature_C: float = 4.0
    expansion_per_C: float = WATER_EXPANSION_PER_C

    @property
    def readability(self) -> float:
        """0: nothing is read on one-mark glassware."""
        return 0.0

    @property
    def repeatability(self) -> float:
        """Standard deviation of repeated fillings, mL; a third of the tolerance if not stated."""
        return self.tolerance / 3 if self.repeatability_mL is None else self.repeatability_mL

    def check(self, reading: Reading) -> tuple[str, ...]:
        """Return the question whether a reading belongs to one-mark glassware at all."""
        return (
            f"{reading.text.strip()} mL was typed, but nothing is read on a {self.noun}: "
            f"its volume is its capacity, {show(self.capacity_mL)} mL.",
        )

    def _shown(self, reading: Reading | None, label: str, vessel: str) -> Number:
        """Return the capacity: tolerance and temperature are one source in all fillings."""
        del vessel
        if reading is not None:
            raise ReadingError(
                f"Nothing is read on a {self.noun}: its volume is its capacity.",
                given=reading.text,
                fix=f"Leave the reading “{label}” out, or use a cylinder or a burette.",
            )
        return self.capacity_mL

    def describe(self) -> str:
        """Describe the piece in one sentence."""
        return (
            f"A {self.named}, tolerance ±{show(self.tolerance)} mL, filled with a repeatability "
            f"of {self.repeatability:.2g} mL."
        )

    def assumptions(self) -> tuple[str, ...]:
        """List what was assumed because it was not stated."""
        sentences = self._tolerance_assumption() + self._temperature_assumption()
        if self.repeatability_mL is None:
            sentences += (
                f"The filling repeatability of the {self.noun} was not stated; "
                f"{self.repeatability:.2g} mL is assumed (a third of the tolerance; {PRACTICE}).",
            )
        return sentences


@dataclass(frozen=True, slots=True, kw_only=True)
class Pipette(OneMark):
    """A one-mark pipette: it delivers its capacity, nothing is read.

    Parameters
    ----------
    capacity_mL : float > 0
        Nominal capacity.
    tolerance_mL : float >= 0 or None
        Half-width of the error of the volume; the figure printed on the glass. None: looked up.
    glass_class : "A" or "B"
        Class for looking the tolerance up.
    repeatability_mL : float >= 0 or None
        Standard deviation of repeated fillings. None: a third of the tolerance.
    tolerance_shape : "triangular" or "rectangular"
        Triangular as in QUAM:2012 examples A1 and A2: values near the nominal one are likelier.
    temperature_C : float >= 0
        Half-width of the departure from 20 °C.
    expansion_per_C : float >= 0
        Volume expansion coefficient of the liquid; 2.1e-4 /°C is water in QUAM:2012.

    Raises
    ------
    InstrumentError
        If a figure is impossible, or the tolerance is left out and in no table.

    Examples
    --------
    >>> Pipette(capacity_mL=10.0, tolerance_mL=0.04).describe()
    'A 10 mL pipette, class B, tolerance ±0.04 mL, filled with a repeatability of 0.013 mL.'
    """

    noun: ClassVar[str] = "pipette"
    kind: ClassVar[str] = "pipette"

    capacity_mL: float = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class VolumetricFlask(OneMark):
    """A volumetric flask filled to its mark: it contains its capacity, nothing is read.

    Parameters
    ----------
    capacity_mL, tolerance_mL, glass_class, repeatability_mL, tolerance_shape : optional
        As for :class:`Pipette`; so are the errors raised.
    temperature_C, expansion_per_C : optional
        As for :class:`Pipette`.

    Examples
    --------
    The flask of the EURACHEM/CITAC guide QUAM:2012, example A1:

    >>> from stoichkit.uncertainty.readings import ErrorPool
    >>> from stoichkit.uncertainty.sources import standard_uncertainty
    >>> flask = VolumetricFlask(capacity_mL=100.0, tolerance_mL=0.1, repeatability_mL=0.02)
    >>> volume_mL = flask.quantity(name="flask", label="filling", pool=ErrorPool())
    >>> round(standard_uncertainty(volume_mL), 4)
    0.0665
    """

    noun: ClassVar[str] = "volumetric flask"
    kind: ClassVar[str] = "flask"

    capacity_mL: float = 100.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Graduated(Glassware):
    """Glassware with a scale read by eye between its graduations."""

    figures: ClassVar[str] = (
        "holds {capacity_mL} mL, is graduated in {graduation_mL} mL and right to {tolerance_mL} mL"
    )
    eye: ClassVar[float]
    """Standard deviation of reading it by eye, in graduations."""

    capacity_mL: float
    tolerance_mL: float | None = None
    glass_class: str = "B"
    graduation_mL: float | None = None
    resolution_mL: float | None = None
    repeatability_mL: float | None = None
    tolerance_shape: str = "triangular"
    temperature_C: float = 4.0
    expansion_per_C: float = WATER_EXPANSION_PER_C

    def __post_init__(self) -> None:
        Glassware.__post_init__(self)
        require(self, "graduation_mL", above=0)
        if self.graduation_mL is None and not published_graduation(self.kind, self.capacity_mL):
            raise InstrumentError(
                f"No published graduation is at hand for a {show(self.capacity_mL)} mL "
                f"{self.noun}.",
                fix="Give graduation_mL: the distance of two neighbouring marks.",
            )
        require(self, "resolution_mL", above=0)

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
            f"A {self.named}, tolerance ±{show(self.tolerance)} mL, graduated in "
            f"{show(self.graduation)} mL and read to {show(self.readability)} mL."
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
                f"graduation ({PRACTICE}).",
            )
        fraction = "a tenth" if self.eye == 0.1 else "a fifth"
        return (
            sentences
            + self._repeatability_assumption(
                self.repeatability_mL, f"{fraction} of a graduation; {PRACTICE}"
            )
            + self._temperature_assumption()
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class GraduatedCylinder(Graduated):
    """A measuring cylinder, also as a gas measuring tube.

    Volume = (reading + rounding + repeatability) × (1 + expansion) + tolerance. The tolerance
    holds at any mark and for the difference of any two (ISO 4788), so a difference of two
    readings carries it once: see ``delivery`` in :meth:`Instrument.quantity`. For a gas set
    ``temperature_C=0``: the gas law accounts for its temperature.

    Parameters
    ----------
    graduation_mL : float > 0 or None
        Distance of two neighbouring marks. None: looked up.
    resolution_mL : float > 0 or None
        Smallest step read by eye. None: a tenth of a graduation.
    repeatability_mL : float >= 0 or None
        Standard deviation of reading by eye. None: a fifth of a graduation.
    capacity_mL, tolerance_mL, glass_class, tolerance_shape, temperature_C, expansion_per_C
        As for :class:`Pipette`.

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


@dataclass(frozen=True, slots=True, kw_only=True)
class Burette(Graduated):
    """A burette: the volume delivered is the final less the initial reading.

    Each reading has its own rounding and its own error of reading by eye; the temperature
    acts on the volume delivered. The tolerance limits the error of a delivered volume, whatever
    its size, so each delivery carries one tolerance source, and the same one in every trial:
    repeating a titration over the same part of the scale does not average it away. See
    ``delivery`` in :meth:`Instrument.quantity`.

    Parameters
    ----------
    repeatability_mL : float >= 0 or None
        Standard deviation of reading by eye. None: a tenth of a graduation; two of these are
        the ±0.02 mL a textbook table gives for one reading of a 50 mL burette.
    capacity_mL, tolerance_mL, glass_class, graduation_mL, resolution_mL, tolerance_shape
        As for :class:`GraduatedCylinder`; so are the errors raised.
    temperature_C, expansion_per_C : float
        As for :class:`Pipette`.

    Examples
    --------
    >>> from stoichkit.uncertainty.readings import ErrorPool, parse_number
    >>> from stoichkit.uncertainty.sources import format_number
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
    least_share: ClassVar[float] = 0.3
    share_rule: ClassVar[str] = (
        "at least 30 % of the burette is to be used (USP General Chapter 31)"
    )

    capacity_mL: float = 50.0
