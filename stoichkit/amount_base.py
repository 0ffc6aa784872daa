"""What every way of measuring an amount of substance shares: roles of readings, steps, checks."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from .errors import ExperimentError, ModelError
from .readings import ErrorPool
from .uncertain import Number, Shape, Source, contributions, error_source

__all__ = ["FARADAY_C_PER_MOL", "GAS_CONSTANT_J_PER_MOL_K", "AmountModel", "Role", "Step"]

GAS_CONSTANT_J_PER_MOL_K = 8.31446261815324
"""Molar gas constant R, exact since the 2019 SI (CODATA 2022)."""

FARADAY_C_PER_MOL = 96485.33212331001
"""Faraday constant F = e·N_A, exact since the 2019 SI (CODATA 2022)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Role:
    """One quantity a model needs, and how it is made.

    Attributes
    ----------
    name : str
        Name of the reading, the key under which the model looks for its value.
    instrument : str
        Name of the instrument it is made with.
    quantity : str
        What is read, in words.
    unit : str
        ``"g"``, ``"mL"``, ``"°C"``, ``"kPa"``, ``"A"`` or ``"s"``.
    vessel_group : str
        Weighings of the same vessel have the same group; "" for none.
    repeated : bool
        Whether several successive readings may be typed; the last one counts.
    optional : bool
        Whether the reading may be left out.
    needs_reading : bool
        False for one-mark glassware: nothing is typed.
    once : bool
        Whether one value serves all trials, as the weighing for a stock solution does.
    delivery : str or None
        See :meth:`stoichkit.instruments.Instrument.quantity`.

    Examples
    --------
    >>> Role(name="strip before", instrument="balance", quantity="mass", unit="g").once
    False
    """

    name: str
    instrument: str
    quantity: str
    unit: str
    vessel_group: str = ""
    repeated: bool = False
    optional: bool = False
    needs_reading: bool = True
    once: bool = False
    delivery: str | None = ""


@dataclass(frozen=True, slots=True)
class Step:
    """One line of a worked solution.

    Attributes
    ----------
    symbol : str
        What is calculated, e.g. ``"n(Cu)"``.
    words : str
        The same in words.
    formula : str
        How, in symbols, e.g. ``"m(Cu) / M(Cu)"``; "" for a value taken from a table.
    value : uncertain number or float
        The result.
    unit : str
        Its unit.

    Examples
    --------
    >>> Step("n(Cu)", "amount of Cu", "m(Cu) / M(Cu)", 0.1, "mol").unit
    'mol'
    """

    symbol: str
    words: str
    formula: str
    value: Number
    unit: str


class AmountModel(ABC):
    """A way to get an amount of substance from readings.

    Attributes
    ----------
    species : str
        Formula of the substance whose amount is meant, e.g. ``"Cu"`` or ``"e-"``.
    """

    __slots__ = ()
    species: str

    @abstractmethod
    def roles(self) -> tuple[Role, ...]:
        """Say which readings, and which one-mark glassware, the model needs."""

    @abstractmethod
    def _steps(self, values: Mapping[str, Number], pool: ErrorPool) -> tuple[Step, ...]:
        """Calculate step by step; the last step is the amount in mol."""

    def amount(self, values: Mapping[str, Number], pool: ErrorPool) -> Number:
        """Return the amount of ``species`` in mol.

        Parameters
        ----------
        values : mapping
            Uncertain numbers made by :meth:`stoichkit.instruments.Instrument.quantity`, by
            the names in :meth:`roles`.
        pool : ErrorPool
            Shared sources of this assessment.

        Raises
        ------
        ExperimentError
            If a value is missing.
        ReadingError
            If the readings are physically impossible.
        """
        return self._steps(values, pool)[-1].value

    def explain(
        self, values: Mapping[str, Number], pool: ErrorPool | None = None
    ) -> tuple[Step, ...]:
        """Return the steps from the readings to the amount, for a worked solution.

        Parameters and errors are those of :meth:`amount`.
        """
        return self._steps(values, ErrorPool() if pool is None else pool)


def get(values: Mapping[str, Number], name: str) -> Number:
    """Return a value by the name of its reading, or say which one is missing."""
    if name not in values:
        raise ExperimentError(
            "The reading is missing.", field=name, allowed=", ".join(sorted(values)) or None
        )
    return values[name]


def difference(values: Mapping[str, Number], high: str, low: str) -> Number:
    """Return a difference of two readings; the second may be "" for a scale set to zero."""
    return get(values, high) - get(values, low) if low else get(values, high)


def delivered_volume_mL(values: Mapping[str, Number], final: str, initial: str) -> Number:
    """Return final less initial reading of a scale, making sure the tolerance does not cancel."""
    if initial:
        both = _tolerances(get(values, final)) & _tolerances(get(values, initial))
        if both:
            raise ModelError(
                "The tolerance of the glassware would cancel in this difference.",
                given=f"{final} − {initial}",
                fix="Make the initial reading with quantity(…, delivery=None).",
            )
    return difference(values, final, initial)


def _tolerances(value: Number) -> set[Source]:
    return {source for source, _ in contributions(value) if source.kind == "tolerance"}


def purity_factor(
    pool: ErrorPool, key: object, words: str, purity: float, half_width: float
) -> Number:
    """Return the purity with its one rectangular source, shared in the pool under the key."""
    return purity + pool.shared(
        ("purity", key),
        lambda: error_source(
            f"purity of {words}", kind="purity", shape=Shape.RECTANGULAR, scale=half_width
        ),
    )


def check_text(model: object, **fields: object) -> None:
    """Raise ExperimentError unless every field is a non-empty text."""
    for field, value in fields.items():
        if not isinstance(value, str) or not value.strip():
            raise ExperimentError(
                f"“{type(model).__name__}” needs a text here.", field=field, given=value
            )


def check_pair(high_field: str, high: str, low_field: str, low: object) -> None:
    """Raise ExperimentError unless the second reading is another one, or "" for none."""
    if not isinstance(low, str):
        raise ExperimentError(
            "The name of a reading must be text.",
            field=low_field,
            given=low,
            allowed='a name, or "" when the scale was set to zero',
        )
    if low == high:
        raise ExperimentError(
            "A reading cannot be subtracted from itself.",
            field=low_field,
            given=low,
            allowed=f"another reading than {high_field}",
        )


def check_fraction(field: str, value: object) -> None:
    """Raise ExperimentError unless the value is a positive int or Fraction."""
    exact = isinstance(value, (int, Fraction)) and not isinstance(value, bool)
    if not exact or value <= 0:  # type: ignore[operator]
        raise ExperimentError(
            "The factor must be an exact positive ratio.",
            field=field,
            given=value,
            allowed='a whole number, or a fraction such as "1/2"',
        )


def check_purity(purity: object, half_width: object) -> None:
    """Raise ExperimentError unless 0 < purity <= 1 and 0 <= half-width < purity."""
    for field, value in (("purity", purity), ("purity_half_width", half_width)):
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise ExperimentError("A number is needed.", field=field, given=value)
    if not 0 < purity <= 1:  # type: ignore[operator]
        raise ExperimentError(
            "The purity is a mass fraction.",
            field="purity",
            given=purity,
            allowed="above 0, up to 1 (0.995 for 99.5 %)",
        )
    if not 0 <= half_width < purity:  # type: ignore[operator]
        raise ExperimentError(
            "The half-width of the purity cannot be used.",
            field="purity_half_width",
            given=half_width,
            allowed="0 or more, below the purity",
        )


def times(factor: Fraction | int) -> str:
    """Write a stoichiometric factor as the end of a formula; nothing for 1."""
    return "" if factor == 1 else f" × {factor}"
