"""Volumetric glassware: what all of it shares, and the pieces with one mark."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from .errors import InstrumentError, ReadingError
from .glassware_table import published_tolerance
from .instrument_base import Instrument, require, shared_limit, show
from .readings import ErrorPool, Reading
from .uncertain import Number, Shape, error_source

__all__ = ["Glassware", "Pipette", "VolumetricFlask"]

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

    capacity_mL: float
    tolerance_mL: float | None
    glass_class: str
    tolerance_shape: str
    temperature_C: float
    expansion_per_C: float
    repeatability_mL: float | None

    def _validate(self) -> None:
        require(self.noun, "capacity in mL", self.capacity_mL, positive=True)
        require(self.noun, "temperature departure in °C", self.temperature_C)
        require(self.noun, "expansion coefficient per °C", self.expansion_per_C, below=0.1)
        if self.repeatability_mL is not None:
            require(self.noun, "repeatability in mL", self.repeatability_mL)
        for field, value, allowed in (
            ("class", self.glass_class, ("A", "B")),
            ("tolerance shape", self.tolerance_shape, _SHAPES),
        ):
            if value not in allowed:
                raise InstrumentError(
                    f"The {field} of the {self.noun} is not known.",
                    given=value,
                    allowed=" or ".join(allowed),
                )
        if self.tolerance_mL is None:
            published_tolerance(self.kind, self.capacity_mL, self.glass_class)
        else:
            require(self.noun, "tolerance in mL", self.tolerance_mL, below=self.capacity_mL)

    @property
    def capacity(self) -> float | None:
        """Nominal capacity, mL."""
        return self.capacity_mL

    @property
    def tolerance(self) -> float:
        """Half-width of the error of a volume, mL; from published tables if not stated."""
        if self.tolerance_mL is not None:
            return self.tolerance_mL
        return published_tolerance(self.kind, self.capacity_mL, self.glass_class).tolerance_mL

    def _tolerance_assumption(self) -> tuple[str, ...]:
        if self.tolerance_mL is not None:
            return ()
        return (published_tolerance(self.kind, self.capacity_mL, self.glass_class).sentence(),)

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


class _OneMark(Glassware):
    """Glassware with one mark: its volume is its capacity, nothing is read."""

    __slots__ = ()
    needs_reading: ClassVar[bool] = False

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

    def quantity(
        self,
        reading: Reading | None = None,
        *,
        name: str,
        label: str,
        vessel: str = "",
        pool: ErrorPool,
        delivery: str | None = "",
    ) -> Number:
        """Return the volume of one filling in mL: capacity, filling repeatability, tolerance.

        Parameters are those of :meth:`Instrument.quantity`; leave ``reading`` out. The
        tolerance and the temperature are one source in all fillings of this piece.

        Raises
        ------
        ReadingError
            If a reading is given.
        """
        if reading is not None:
            raise ReadingError(
                f"Nothing is read on a {self.noun}: its volume is its capacity.",
                given=reading.text,
                fix=f"Leave the reading “{label}” out, or use a cylinder or a burette.",
            )
        del delivery
        value = self.capacity_mL + self._repeat(label, vessel)
        return self._own_errors(value, name=name, label=label, pool=pool, delivery="")

    def describe(self) -> str:
        """Describe the piece in one sentence."""
        return (
            f"A {show(self.capacity_mL)} mL {self.noun}, class {self.glass_class}, tolerance "
            f"±{show(self.tolerance)} mL, filled with a repeatability of "
            f"{self.repeatability:.2g} mL."
        )

    def assumptions(self) -> tuple[str, ...]:
        """List what was assumed because it was not stated."""
        sentences = self._tolerance_assumption() + self._temperature_assumption()
        if self.repeatability_mL is None:
            sentences += (
                f"The filling repeatability of the {self.noun} was not stated; "
                f"{self.repeatability:.2g} mL is assumed (a third of the tolerance; common "
                "practice, no source).",
            )
        return sentences


@dataclass(frozen=True, slots=True, kw_only=True)
class Pipette(_OneMark):
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
        Triangular as in QUAM:2012 example A1.
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
    tolerance_mL: float | None = None
    glass_class: str = "B"
    repeatability_mL: float | None = None
    tolerance_shape: str = "triangular"
    temperature_C: float = 4.0
    expansion_per_C: float = WATER_EXPANSION_PER_C

    def __post_init__(self) -> None:
        self._validate()


@dataclass(frozen=True, slots=True, kw_only=True)
class VolumetricFlask(_OneMark):
    """A volumetric flask filled to its mark: it contains its capacity, nothing is read.

    Parameters
    ----------
    capacity_mL, tolerance_mL, glass_class, repeatability_mL, tolerance_shape : optional
        As for :class:`Pipette`.
    temperature_C, expansion_per_C : optional
        As for :class:`Pipette`.

    Raises
    ------
    InstrumentError
        If a figure is impossible, or the tolerance is left out and in no table.

    Examples
    --------
    The flask of the EURACHEM/CITAC guide QUAM:2012, example A1:

    >>> from stoichkit.readings import ErrorPool
    >>> from stoichkit.uncertain import standard_uncertainty
    >>> flask = VolumetricFlask(capacity_mL=100.0, tolerance_mL=0.1, repeatability_mL=0.02)
    >>> volume_mL = flask.quantity(name="flask", label="filling", pool=ErrorPool())
    >>> round(standard_uncertainty(volume_mL), 4)
    0.0665
    """

    noun: ClassVar[str] = "volumetric flask"
    kind: ClassVar[str] = "flask"

    capacity_mL: float = 100.0
    tolerance_mL: float | None = None
    glass_class: str = "B"
    repeatability_mL: float | None = None
    tolerance_shape: str = "triangular"
    temperature_C: float = 4.0
    expansion_per_C: float = WATER_EXPANSION_PER_C

    def __post_init__(self) -> None:
        self._validate()
