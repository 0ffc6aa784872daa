"""What every measuring instrument shares: reading a scale or display, and the errors of that."""

from __future__ import annotations

import difflib
import math
from abc import ABC, abstractmethod
from collections.abc import Hashable, Iterable
from decimal import Decimal
from typing import ClassVar

from .errors import InstrumentError, ReadingError
from .readings import ErrorPool, Reading
from .uncertain import Number, Shape, error_source

__all__ = ["HALF_STEP", "Instrument", "nearest", "shared_limit", "show"]

HALF_STEP = "half the readability; common practice, no source"


def show(value: float) -> str:
    """Write a number briefly, without a needless power of ten.

    >>> show(0.00005), show(250.0)
    ('0.00005', '250')
    """
    return format(Decimal(f"{value:.10g}").normalize(), "f")


def require(
    instrument: str,
    field: str,
    value: object,
    *,
    positive: bool = False,
    below: float = math.inf,
) -> None:
    """Raise InstrumentError unless the value is a finite number of the allowed size."""
    number = isinstance(value, (int, float)) and not isinstance(value, bool)
    low = "above 0" if positive else "0 or more"
    allowed = f"a number {low}" + (f", below {show(below)}" if below < math.inf else "")
    if number:
        size = float(value)  # type: ignore[arg-type]
        if math.isfinite(size) and (size > 0 if positive else size >= 0) and size < below:
            return
    raise InstrumentError(
        f"The {field} of the {instrument} cannot be used.", given=value, allowed=allowed
    )


def nearest(word: object, known: Iterable[str]) -> str | None:
    """Return the sentence suggesting the nearest known word, or None."""
    close = difflib.get_close_matches(str(word), list(known), n=1)
    return f"Did you mean “{close[0]}”?" if close else None


def shared_limit(
    pool: ErrorPool, key: Hashable, label: str, kind: str, half_width: float
) -> Number:
    """Return the rectangular source of one instrument, made once per pool."""
    return pool.shared(
        key,
        lambda: error_source(label, kind=kind, shape=Shape.RECTANGULAR, scale=half_width),
    )


class Instrument(ABC):
    """A measuring instrument: turns a typed reading into a number with labelled error sources.

    Attributes
    ----------
    unit : str
        Unit of the readings.
    noun : str
        What the instrument is called in sentences.
    needs_reading : bool
        False for one-mark glassware, whose volume is its capacity.
    """

    __slots__ = ()
    unit: ClassVar[str]
    noun: ClassVar[str]
    needs_reading: ClassVar[bool] = True
    can_be_negative: ClassVar[bool] = False

    @property
    @abstractmethod
    def readability(self) -> float:
        """Smallest step that can be read, in ``unit``."""

    @property
    @abstractmethod
    def repeatability(self) -> float:
        """Standard deviation of repeated readings of one thing, in ``unit``."""

    @property
    def capacity(self) -> float | None:
        """Largest reading, in ``unit``; None when not stated."""
        return None

    @abstractmethod
    def describe(self) -> str:
        """Describe the instrument in one sentence."""

    @abstractmethod
    def assumptions(self) -> tuple[str, ...]:
        """List, as sentences, what was assumed because it was not stated."""

    def _own_errors(
        self, value: Number, *, name: str, label: str, pool: ErrorPool, delivery: str | None
    ) -> Number:
        """Add what is special to this kind of instrument to the value read."""
        raise NotImplementedError

    def quantity(
        self,
        reading: Reading | None,
        *,
        name: str,
        label: str,
        vessel: str = "",
        pool: ErrorPool,
        delivery: str | None = "",
    ) -> Number:
        """Return the reading with its error sources, in ``unit``.

        Call it once for each reading: rounding and repeatability are made anew by each call.

        Parameters
        ----------
        reading : Reading or None
            What was read; None for one-mark glassware.
        name : str
            Name of this instrument; sources that belong to the instrument itself (calibration,
            tolerance, temperature) are shared in the pool under it.
        label : str
            Name of the reading, unique within the assessment.
        vessel : str
            See :class:`stoichkit.uncertain.Source`.
        pool : ErrorPool
            Shared sources of this assessment.
        delivery : str or None
            Graduated glassware only. The tolerance limits the error of a volume, that is of a
            *difference* of two scale readings, so exactly one of the two carries it: the final
            reading under the name of the delivery, the initial one not at all (None).

        Returns
        -------
        uncertain number
            The value typed plus rounding (rectangular, half a step each way), repeatability
            (normal) and what the kind of instrument adds.

        Raises
        ------
        ReadingError
            If no reading is given.
        """
        if reading is None:
            raise ReadingError(
                f"The {self.noun} reading “{label}” is missing.",
                fix=f"Type what the {self.noun} showed, in {self.unit}.",
            )
        rounding = error_source(
            f"rounding of {label}",
            kind="rounding",
            shape=Shape.RECTANGULAR,
            scale=self.readability / 2,
            reading=label,
            vessel=vessel,
        )
        value = reading.value + rounding + self._repeat(label, vessel)
        return self._own_errors(value, name=name, label=label, pool=pool, delivery=delivery)

    def _repeat(self, label: str, vessel: str) -> Number:
        """Make the repeatability source of one reading or filling."""
        return error_source(
            f"repeatability of {label}",
            kind="repeatability",
            shape=Shape.NORMAL,
            scale=self.repeatability,
            reading=label,
            vessel=vessel,
        )

    def check(self, reading: Reading) -> tuple[str, ...]:
        """Return questions about a reading that this instrument is unlikely to have shown.

        Parameters
        ----------
        reading : Reading

        Returns
        -------
        tuple of str
            One sentence each; empty when nothing looks odd.

        Examples
        --------
        >>> from stoichkit.instruments import Balance
        >>> from stoichkit.readings import parse_number
        >>> Balance(readability_g=0.01).check(parse_number("20.1"))
        ('20.1 g has fewer decimals than this balance shows (2): was it 20.10 g?',)
        """
        value, step, unit = reading.value, self.readability, self.unit
        typed = f"{reading.text.strip()} {unit}"
        shown = _decimals(step)
        questions = []
        if abs(value / step - round(value / step)) > 1e-6:
            questions.append(
                f"{typed} is not a whole number of steps of {show(step)} {unit}: "
                f"was it read on this {self.noun}?"
            )
        elif reading.decimals < shown:
            questions.append(
                f"{typed} has fewer decimals than this {self.noun} shows ({shown}): "
                f"was it {value:.{shown}f} {unit}?"
            )
        elif reading.decimals > shown:
            questions.append(
                f"{typed} has more decimals than this {self.noun} shows ({shown}): "
                f"is {show(step)} {unit} the right step?"
            )
        if self.capacity is not None and value > self.capacity:
            questions.append(
                f"{typed} is beyond the capacity of this {self.noun} "
                f"({show(self.capacity)} {unit}): is a digit wrong?"
            )
        if value < 0 and not self.can_be_negative:
            questions.append(f"{typed} is negative: was the {self.noun} set to zero?")
        return tuple(questions)

    def _repeatability_assumption(self, stated: float | None, why: str) -> tuple[str, ...]:
        """Return the sentence about a repeatability that was not stated, if it was not."""
        if stated is not None:
            return ()
        return (
            f"The repeatability of the {self.noun} was not stated; "
            f"{show(self.repeatability)} {self.unit} is assumed ({why}).",
        )


def _decimals(step: float) -> int:
    """Count the decimals a display with this step shows."""
    exponent = Decimal(repr(step)).normalize().as_tuple().exponent
    return max(0, -int(exponent))
