"""What all instruments and all ways to an amount share.

Instruments: reading a scale or display, and the errors of that. Ways to an amount: the roles of
their readings, their steps and checks, and everything else that differs from way to way; the rooms
above ask the model and never what kind of model it is.
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING, Any, ClassVar

from ..chemistry.elements import molar_mass_value
from ..chemistry.formula import parse_formula
from ..errors import ExperimentError, InstrumentError, ModelError, ReadingError
from ..uncertainty import entry
from ..uncertainty.readings import ErrorPool, Reading
from ..uncertainty.sources import Number, Shape, Source, contributions, error_source

if TYPE_CHECKING:
    from .concentration import Concentration

PRACTICE = "common practice, no source"


def show(value: float) -> str:
    """Write a number briefly, without a needless power of ten.

    >>> show(0.00005), show(250.0)
    ('0.00005', '250')
    """
    return format(Decimal(f"{value:.10g}").normalize(), "f")


def require(
    instrument: Instrument, field: str, *, above: float = -math.inf, below: float = math.inf
) -> None:
    """Keep a figure of an instrument as a number, 0 or more; one that may be left out may be."""
    value = getattr(instrument, field)
    stated: Mapping[str, Any] = vars(type(instrument))["__dataclass_fields__"]
    if value is None and stated[field].default is None:
        return
    least = 0.0 if above < 0 else -math.inf
    of = f"the {instrument.noun}"
    found = entry.number(
        field, value, least=least, above=above, below=below, of=of, error=InstrumentError
    )
    entry.kept(instrument, **{field: found})


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
    capacity_matters : bool
        Whether a load can be too large for it, so that a plan checks its capacity.
    when_full : str
        What to do where more than its capacity is expected.
    least_share : float
        Part of its capacity to be used at least; ``share_rule`` says so, with the source.
    usual : float
        A reading to begin from where none was made yet, in ``unit``.
    figures : str
        What is asked of it when a lab is set up: words after its name, with fields in braces.
    """

    __slots__ = ()
    unit: ClassVar[str]
    noun: ClassVar[str]
    needs_reading: ClassVar[bool] = True
    can_be_negative: ClassVar[bool] = False
    capacity_matters: ClassVar[bool] = False
    when_full: ClassVar[str] = "Let less react"
    least_share: ClassVar[float] = 0.0
    share_rule: ClassVar[str] = ""
    usual: ClassVar[float] = 0.0
    figures: ClassVar[str] = ""

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
        reading: Reading | None = None,
        *,
        name: str,
        label: str,
        vessel: str = "",
        pool: ErrorPool,
        delivery: str | None = "",
        repeats: int = 1,
    ) -> Number:
        """Return the reading with its error sources, in ``unit``.

        Call it once for each reading: rounding and repeatability are made anew by each call.

        Parameters
        ----------
        reading : Reading or None
            What was read; None for one-mark glassware, whose capacity is filled.
        name : str
            Name of this instrument; sources that belong to the instrument itself (calibration,
            tolerance, temperature) are shared in the pool under it.
        label : str
            Name of the reading, unique within the assessment.
        vessel : str
            See :class:`stoichkit.uncertainty.sources.Source`.
        pool : ErrorPool
            Shared sources of this assessment.
        delivery : str or None
            Graduated glassware only. The tolerance limits the error of a volume, that is of a
            *difference* of two scale readings, so exactly one of the two carries it: the final
            reading under the name of the delivery, the initial one not at all (None).
        repeats : int
            Of how many readings of one thing it is the mean. Their repeatability averages out; what
            the display cannot show is the same in all of them and does not.

        Returns
        -------
        uncertain number
            The value typed plus rounding (rectangular, half a step each way), repeatability
            (normal) and what the kind of instrument adds.

        Raises
        ------
        ReadingError
            If no reading is given, or one for glassware on which nothing is read; if it is the
            mean of fewer than one.
        """
        if repeats != 1:  # nearly every reading is one
            repeats = entry.whole("repeats", repeats, least=1, error=ReadingError)
        value = self._shown(reading, label, vessel) + self._repeat(label, vessel, repeats)
        return self._own_errors(value, name=name, label=label, pool=pool, delivery=delivery)

    def _shown(self, reading: Reading | None, label: str, vessel: str) -> Number:
        """Return what was read with its rounding."""
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
        return reading.value + rounding

    def _repeat(self, label: str, vessel: str, repeats: int = 1) -> Number:
        """Make the repeatability source of a reading or filling, or of the mean of several."""
        return error_source(
            f"repeatability of {label}",
            kind="repeatability",
            shape=Shape.NORMAL,
            scale=self.repeatability / math.sqrt(repeats),
            reading=label,
            vessel=vessel,
        )

    def check(self, reading: Reading) -> tuple[str, ...]:
        """Return questions about a reading that this instrument is unlikely to have shown.

        One sentence each; none when nothing looks odd.

        >>> from stoichkit.measurement.displays import Balance
        >>> from stoichkit.uncertainty.readings import parse_number
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
        Unit of the instrument, such as ``"g"``, ``"mL"``, ``"°C"``, ``"kPa"``, ``"A"``, ``"s"``.
    vessel_group : str
        Weighings of the same vessel have the same group; "" for none.
    same_vessel : bool
        Whether that vessel is the same thing in every trial (of one group of people).
    repeated : bool
        Whether several successive readings may be typed; the last one counts.
    averaged : bool
        Whether several readings of one thing may be typed; their mean counts.
    optional : bool
        Whether the reading may be left out.
    needs_reading : bool
        False for one-mark glassware: nothing is typed.
    once : bool
        Whether one value serves all trials, as the weighing for a stock solution does.
    delivery : str or None
        See :meth:`stoichkit.measurement.base.Instrument.quantity`.

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
    same_vessel: bool = False
    repeated: bool = False
    averaged: bool = False
    optional: bool = False
    needs_reading: bool = True
    once: bool = False
    delivery: str | None = ""

    @property
    def takes_several(self) -> bool:
        """Whether several numbers may be typed for it."""
        return self.repeated or self.averaged


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


@dataclass(frozen=True, slots=True)
class Span:
    """The readings whose difference an amount follows from; the amount is linear in it.

    Attributes
    ----------
    high, low : str
        Names of the readings: ``low`` is "" for a scale set to zero, ``high`` is "" where nothing
        is read, because a pipette fixes the amount.
    instrument : str
        Name of the instrument of both.
    quantity : str
        What is read, in words.
    """

    high: str
    low: str
    instrument: str
    quantity: str

    @property
    def what(self) -> str:
        """The difference in words.

        >>> Span("wire before", "wire after", "balance", "mass").what
        'wire before − wire after'
        """
        if not self.high:
            return f"{self.quantity} of {self.instrument}"
        return f"{self.high} − {self.low}" if self.low else self.high


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """Where an amount stands in a lab: what its way of measuring cannot know by itself.

    Attributes
    ----------
    side : str
        ``"consumed"`` or ``"produced"``.
    other : AmountModel
        The other amount of the lab.
    order : tuple of str
        Names of all readings, in the order they are made.
    instruments : mapping of str to Instrument
    """

    side: str
    other: AmountModel
    order: tuple[str, ...]
    instruments: Mapping[str, Instrument]

    @property
    def is_product(self) -> bool:
        """Whether the amount is the one produced."""
        return self.side == "produced"

    def later(self, first: str, second: str) -> bool:
        """Say whether the first reading is made after the second."""
        place = {name: i for i, name in enumerate(self.order)}
        return place.get(first, 0) > place.get(second, 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Portion:
    """How a substance comes to the bench, and how it is measured out.

    Attributes
    ----------
    name, provides : str
        What is taken and which reactant it provides, in words.
    formula : str
        Formula of what is taken; "" where it has none, or none that the way of measuring knows.
    measured_with : str
    role : str
        What it is there for.
    solid : bool
        Whether it is taken as a solid, by mass.
    notes : tuple of str
    """

    name: str
    provides: str
    formula: str
    measured_with: str
    role: str = "limiting, measured"
    solid: bool = False
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Care:
    """What to do besides reading, in sentences.

    Attributes
    ----------
    waiting : tuple of str
        Where to wait, and for what, before a reading is taken.
    drying : tuple of str
        What is dried or heated before it is measured, and how long.
    balance : str
        Name of the balance on which a constant mass is to be reached; "" for none.
    """

    waiting: tuple[str, ...] = ()
    drying: tuple[str, ...] = ()
    balance: str = ""


class AmountModel(ABC):
    """A way to get an amount of substance from readings, and all that is special to it.

    A new way gives its readings (:meth:`roles`) and its calculation (:meth:`_steps`); everything
    else has a default that claims nothing, to be replaced where the way of measuring knows more.

    Attributes
    ----------
    species : str
        Formula of the substance whose amount is meant, e.g. ``"Cu"`` or ``"e-"``.
    weighed : bool
        Whether what is measured is weighed.
    is_linear : bool
        Whether the amount is linear in its readings, but for the atomic weights.
    """

    __slots__ = ()
    species: str
    weighed: ClassVar[bool] = False
    is_linear: ClassVar[bool] = False

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
            Uncertain numbers made by :meth:`stoichkit.measurement.base.Instrument.quantity`, by
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

    @property
    def ways(self) -> tuple[AmountModel, ...]:
        """The routes to the amount: itself, unless there are several."""
        return (self,)

    @property
    def parts(self) -> tuple[float, ...]:
        """The part of each of :attr:`ways` in the amount; together 1."""
        return (1.0,)

    def weighted(self, values: Mapping[str, Number], pool: ErrorPool) -> AmountModel:
        """Return the same; several routes with weights by their uncertainties at these values."""
        del values, pool
        return self

    # -- in an experiment file ---------------------------------------------------------------

    @classmethod
    def said_by(cls, kind: str) -> dict[str, Any]:
        """Return the fields that the words naming this way in a file say already."""
        del kind
        return {}

    def formulas(self) -> dict[str, str]:
        """Return every formula of the model, by the field it stands in."""
        return {"species": self.species}

    # -- its readings ------------------------------------------------------------------------

    @property
    def span(self) -> Span:
        """The difference of readings that the amount follows from: its first reading, if one."""
        roles = self.roles()
        first = next((role for role in roles if role.needs_reading and not role.once), None)
        if first is None:
            return Span("", "", roles[0].instrument, roles[0].quantity)
        return Span(first.name, "", first.instrument, first.quantity)

    @property
    def empty_vessels(self) -> tuple[str, ...]:
        """Names of the weighings of what holds something in another weighing."""
        return (self.span.low,) if self.weighed and self.span.low else ()

    def main_reading(self) -> str:
        """Return the name of the reading that grows with the amount.

        Raises
        ------
        ModelError
            If the amount is fixed by a pipette.
        """
        if not self.span.high:
            raise ModelError(
                f"The amount of {self.species} cannot be varied: no reading follows it.",
                fix="Plan with a burette instead of a pipette for this volume.",
            )
        return self.span.high

    def set_by(self, way: AmountModel) -> str:
        """Return the name of the reading that sets the amount by one of :attr:`ways`.

        A ModelError says if there is none, or if another way reads it too.
        """
        return way.main_reading()

    def reading(self, field: str) -> str:
        """Return the name of the reading in one of the model's own fields."""
        return str(getattr(self, field))

    def loses_mass(self, order: Sequence[str]) -> bool:
        """Say whether the amount is what one piece lost, by the order of the readings."""
        del order
        return False

    # -- what is measured --------------------------------------------------------------------

    @property
    def substance(self) -> str:
        """Formula of what is handled: the species, unless it is measured as something else."""
        return self.species

    @property
    def verb(self) -> str:
        """What is done with the substance, as sentences say it of a product."""
        return "weighed" if self.weighed else "measured"

    @property
    def excess_means(self) -> str:
        """What more of it than there can be would mean, in words."""
        return "something else was taken for it"

    @property
    def weighs_species(self) -> bool:
        """Whether the species itself is weighed."""
        return self.weighed and self.substance == self.species

    @property
    def plain_mass(self) -> bool:
        """Whether the amount is one difference of masses over the molar mass, and no more.

        Its vessel is then another one in each trial.
        """
        return False

    @property
    def electrons_passed(self) -> int:
        """Electrons passed for each unit of the species; 0 where no charge is measured."""
        return 0

    @property
    def solution(self) -> Concentration | None:
        """The solution whose volume is measured, if that is how it is done."""
        return None

    def solute_mol(self, amount_mol: float) -> float:
        """Return how much solute of :attr:`solution` goes with an amount of the species, mol."""
        return amount_mol

    def unknown_air(self) -> tuple[float, float]:
        """Return between which factors the buoyancy of air may change the amount, if unknown."""
        return (1.0, 1.0)

    def remarks(self) -> tuple[str, ...]:
        """Say, in sentences, what the steps and the verdict take for granted of this amount."""
        return ()

    # -- on the bench ------------------------------------------------------------------------

    def expected_mass_g(self, amount_mol: float) -> float | None:
        """Return the mass of the solid or gas that an amount stands for, g; None if it is none."""
        del amount_mol
        return None

    def mass_to_take_g(self, amount_mol: float) -> float:
        """Return the mass of solid to take for an amount, g."""
        return amount_mol * molar_mass_value(self.species)

    def portion(self, setting: Setting) -> Portion | None:
        """Return how the substance comes to the bench; None for what is only found there."""
        if setting.is_product:
            return None
        shown = parse_formula(self.species).unicode()
        names = dict.fromkeys(role.instrument for role in self.roles())
        return Portion(
            name=shown, provides=shown, formula=self.species, measured_with=" and ".join(names)
        )

    def care(self, setting: Setting) -> Care:
        """Return what to do besides reading: drying and waiting."""
        del setting
        return Care()

    # -- what can go wrong -------------------------------------------------------------------

    def situation(self, setting: Setting) -> frozenset[str]:
        """Return the words by which physical effects are chosen (``data/effects.csv``)."""
        del setting
        return frozenset()

    def effects(self, setting: Setting) -> tuple[Mapping[str, str], ...]:
        """Return effects of this way alone, each with the columns of ``data/effects.csv``."""
        del setting
        return ()


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


def span_roles(span: Span, unit: str, **more: Any) -> tuple[Role, ...]:
    """Return the readings of a span, which are made alike.

    Of two volumes read on a scale the final one carries the tolerance of the delivery.
    """
    first = Role(
        name=span.high,
        instrument=span.instrument,
        quantity=span.quantity,
        unit=unit,
        delivery=span.high if unit == "mL" else "",
        **more,
    )
    second = replace(first, name=span.low, delivery=None if unit == "mL" else "")
    return (first, second) if span.low else (first,)


def glass_role(name: str, glass: str, *, once: bool = False) -> Role:
    """Return a filling of one-mark glassware."""
    return Role(
        name=name, instrument=glass, quantity="volume", unit="mL", needs_reading=False, once=once
    )


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
    return purity + shared_limit(pool, ("purity", key), f"purity of {words}", "purity", half_width)


def check_text(model: object, *names: str) -> None:
    """Raise ExperimentError unless every field named is a non-empty text."""
    for field in names:
        entry.text(field, getattr(model, field), empty=False, error=ExperimentError)


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


def check_factor(model: Any) -> None:
    """Keep the factor of a model as an exact ratio above 0."""
    entry.kept(model, factor=entry.exact("factor", model.factor, error=ExperimentError))


def check_purity(model: Any) -> None:
    """Keep the purity of a model and its half-width, which is below it, as numbers up to 1."""
    purity = entry.number("purity", model.purity, above=0, most=1, error=ExperimentError)
    half_width = entry.number(
        "purity_half_width", model.purity_half_width, least=0, below=purity, error=ExperimentError
    )
    entry.kept(model, purity=purity, purity_half_width=half_width)


def amount_step(species: str, formula: str, amount_mol: Number) -> Step:
    """Return the last step of every way."""
    return Step(f"n({species})", f"amount of {species}", formula, amount_mol, "mol")


def times(factor: Fraction | int) -> str:
    """Write a stoichiometric factor as the end of a formula; nothing for 1."""
    return "" if factor == 1 else f" × {factor}"


Models = tuple[AmountModel, AmountModel]
"""How the amounts consumed and produced, in this order, follow from the readings."""
