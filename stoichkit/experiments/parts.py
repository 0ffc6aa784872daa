"""The parts of an experiment record: trials, cautions, questions, and how a field is named."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, TypeAlias

from .._common import FrozenMap, nearest
from ..errors import ExperimentError, StoichkitError
from ..uncertainty import entry
from ..uncertainty.readings import parse_number

RESERVED = ("name", "group", "instruments")
"""Names that no reading may have, because a trial uses them itself."""
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_STATEMENT = re.compile(r"(EU)?H[0-9]{3}[A-Za-z]{0,2}( .+)?", re.DOTALL)
_HALF = re.compile("[\ud800-\udfff]")
_MAX_NAME = 80


def field_path(*steps: str | int) -> str:
    """Write the place of a field as a dotted path; list items count from 1.

    >>> field_path("trials", 2, "beaker + product")
    'trials[2]."beaker + product"'
    """
    path = ""
    for step in steps:
        if isinstance(step, int):
            path += f"[{step}]"
        else:
            key = step if _BARE.fullmatch(step) else json.dumps(step, ensure_ascii=False)
            path += f".{key}" if path else key
    return path


def relocated(
    error: StoichkitError, *, field: str | None = None, path: str | None = None
) -> ExperimentError:
    """Return the same fault as an ExperimentError that names its file and field.

    A field the error names already is put below ``field``.

    >>> print(relocated(StoichkitError("It is negative.", given="-1"), field="consumed.charge"))
    consumed.charge: It is negative. Given: -1.
    """
    problem = error.problem
    if isinstance(error, ExperimentError):
        place = ", ".join(part for part in (error.path, error.field) if part)
        problem = problem.removeprefix(f"{place}: ")
        path = path or error.path
        inner = error.field
        if inner and field:
            field = f"{field}{inner}" if inner.startswith("[") else f"{field}.{inner}"
        else:
            field = inner or field
    return ExperimentError(
        problem,
        path=path,
        field=field,
        given=error.given,
        allowed=error.allowed,
        fix=error.fix,
    )


def check_text(value: object, field: str, *, required: bool = False) -> None:
    """Raise ExperimentError unless the value is text that can be saved."""
    if not isinstance(value, str):
        raise ExperimentError("This is not text.", field=field, given=value, allowed="text")
    if required and not value.strip():
        raise ExperimentError("This text is empty.", field=field, allowed="at least one letter")
    if _HALF.search(value):
        raise ExperimentError(
            "This text holds half of a character and cannot be saved.",
            field=field,
            given=ascii(value),
            fix="Type it again.",
        )


def check_name(value: object, field: str, what: str) -> None:
    """Raise ExperimentError unless the value can name something in tables and messages."""
    check_text(value, field)
    assert isinstance(value, str)
    if not value or value != value.strip() or len(value) > _MAX_NAME or not value.isprintable():
        raise ExperimentError(
            f"This cannot be the name of {what}.",
            field=field,
            given=value,
            allowed=f"1 to {_MAX_NAME} printable characters, no space at either end",
        )


def frozen_readings(
    readings: Mapping[str, str | Iterable[str]], owner: str
) -> FrozenMap[str, tuple[str, ...]]:
    """Return the readings with each value a tuple of the numbers as typed, all readable."""
    if not isinstance(readings, Mapping):
        raise ExperimentError(
            "The readings are not a table.",
            given=readings,
            allowed="reading name and number as typed",
        )
    frozen = {}
    for name, typed in readings.items():
        check_name(name, "", "a reading")
        if name in RESERVED:
            raise ExperimentError(
                "A reading cannot have this name, which a trial uses itself.",
                field=field_path(name),
                fix="Give the reading another name.",
            )
        frozen[name] = frozen_texts(typed, name, owner)
    return FrozenMap(frozen)


def frozen_texts(typed: str | Iterable[str], name: str, owner: str) -> tuple[str, ...]:
    """Return the numbers of one reading as typed, after checking that each can be read."""
    place = field_path(name)
    try:
        texts = (typed,) if isinstance(typed, str) else tuple(typed)
    except TypeError:
        raise ExperimentError(
            "This is not a reading.",
            field=place,
            given=typed,
            allowed='a number as typed, such as "20.10", or a list of them',
        ) from None
    if not texts:
        raise ExperimentError(
            "The list of readings is empty.", field=place, allowed="at least one number"
        )
    for index, text in enumerate(texts, start=1):
        try:
            parse_number(text, f"reading “{name}” of {owner}")
        except StoichkitError as error:
            spot = place if len(texts) == 1 else f"{place}[{index}]"
            raise relocated(error, field=spot) from error
    return texts


@dataclass(frozen=True, slots=True)
class Trial:
    """One run of the experiment: its readings, as typed.

    Parameters
    ----------
    name : str
        Names the trial; different for each trial of an experiment.
    readings : mapping of str to str or sequence of str
        Reading name to the number as typed, or to several numbers one after the other
        (heated to constant mass). Kept as tuples of texts, so "1.50" stays "1.50".
    group : str, optional
        Who did it, when several groups share one record.
    instruments : mapping of str to str, optional
        Where the trial was read on other instruments than the amounts name: the name there, and
        that of the instrument used in its place.

    Raises
    ------
    ExperimentError
        If a name is not usable or a text is not a number.

    Examples
    --------
    >>> trial = Trial("1", {"copper before": "1.50", "tube": ["9,81", "9,80"]})
    >>> trial.readings["copper before"], trial.readings["tube"]
    (('1.50',), ('9,81', '9,80'))
    """

    name: str
    readings: Mapping[str, tuple[str, ...]]
    group: str = ""
    instruments: Mapping[str, str] = FrozenMap()

    def __post_init__(self) -> None:
        check_name(self.name, "name", "a trial")
        check_text(self.group, "group")
        readings = frozen_readings(self.readings, f"trial {self.name}")
        object.__setattr__(self, "readings", readings)
        if not isinstance(self.instruments, Mapping):
            raise ExperimentError(
                "The instruments of a trial are not a table.",
                field="instruments",
                given=self.instruments,
                allowed="the name that an amount uses, and that of the instrument used instead",
            )
        for one in (*self.instruments, *self.instruments.values()):
            check_name(one, "instruments", "an instrument")
        used = {name: other for name, other in self.instruments.items() if other != name}
        object.__setattr__(self, "instruments", FrozenMap(used))


def trials_of(
    columns: Mapping[str, Iterable[str | Iterable[str]]],
    names: Iterable[str],
    order: Sequence[str],
) -> tuple[Trial, ...]:
    """Return the trials that columns of readings stand for, with their readings in an order.

    >>> trials_of({"b": ["2", "4"], "a": ["1", ["3", "3"]]}, ["x", "y"], ["a", "b"])[1]
    Trial(name='y', readings=FrozenMap({'a': ('3', '3'), 'b': ('4',)}), group='', ...)
    """
    given = entry.mapping(
        "readings", columns, "{reading: [as typed in each trial]}", error=ExperimentError
    )
    typed = {
        name: entry.listed(f"readings of {name}", texts, error=ExperimentError)
        for name, texts in given.items()
    }
    called = entry.listed("names", names, str, error=ExperimentError)
    rows = len(called) or max(map(len, typed.values()), default=0)
    for name, texts in typed.items():
        if len(texts) != rows:
            raise ExperimentError(
                f"“{name}” is given for {len(texts)} trials, and there are {rows}.",
                field=field_path("trials", min(len(texts), rows) + 1, name),
                allowed="one text for each trial",
                fix='Write "" where an optional reading was not made.',
            )
    names_of_trials = called or tuple(str(number) for number in range(1, rows + 1))
    placed = [*(n for n in order if n in typed), *(n for n in typed if n not in order)]
    found = []
    for row, trial in enumerate(names_of_trials):
        own = {name: typed[name][row] for name in placed if typed[name][row] != ""}
        try:
            found.append(Trial(trial, own))
        except ExperimentError as error:
            raise relocated(error, field=field_path("trials", row + 1)) from error
    return tuple(found)


def with_changed_reading(
    trials: tuple[Trial, ...], trial: str, name: str, text: str | Iterable[str]
) -> tuple[Trial, ...]:
    """Return the trials with one reading of the trial of that name changed.

    >>> old = (Trial("1", {"dish": "30.10"}), Trial("2", {"dish": "31.00"}))
    >>> with_changed_reading(old, "2", "dish", "31.05")[1].readings["dish"]
    ('31.05',)
    """
    names = [one.name for one in trials]
    if entry.text("trial", trial, error=ExperimentError) not in names:
        raise ExperimentError(
            "There is no trial of that name.",
            field="trials",
            given=trial,
            allowed=", ".join(names),
            fix=nearest(trial, names),
        )
    index = names.index(trial)
    changed: Any = {**trials[index].readings, name: text}
    try:
        new = replace(trials[index], readings=changed)
    except ExperimentError as error:
        raise relocated(error, field=field_path("trials", index + 1)) from error
    return (*trials[:index], new, *trials[index + 1 :])


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """What to take care of with one reagent or step; the safety data sheet has the last word.

    Parameters
    ----------
    subject : str
        The reagent (with its concentration) or the step.
    statements : tuple of str
        GHS hazard statements, code first: ``"H314 Causes severe skin burns and eye damage"``.
    advice : tuple of str
        Protection, ventilation, waste.
    source : str
        Where the statements come from, with read/memory status, and what to check.

    Raises
    ------
    ExperimentError
        If a text is empty, a statement does not begin with its code, or the source is missing.

    Examples
    --------
    >>> Caution(subject="silver nitrate, 0.1 mol/L",
    ...         statements=("H315 Causes skin irritation",),
    ...         advice=("Wear gloves.",),
    ...         source="From memory; check the safety data sheet and local rules.").statements
    ('H315 Causes skin irritation',)
    """

    subject: str
    statements: tuple[str, ...] = ()
    advice: tuple[str, ...] = ()
    source: str = ""

    def __post_init__(self) -> None:
        check_text(self.subject, "subject", required=True)
        for name in ("statements", "advice"):
            texts = texts_of(getattr(self, name), name)
            object.__setattr__(self, name, texts)
        for index, statement in enumerate(self.statements, start=1):
            if not _STATEMENT.fullmatch(statement):
                raise ExperimentError(
                    "A hazard statement begins with its GHS code.",
                    field=field_path("statements", index),
                    given=statement,
                    allowed='a code, then its words, such as "H315 Causes skin irritation"',
                )
        check_text(self.source, "source", required=True)
        if not self.statements and not self.advice:
            raise ExperimentError(
                "A caution says nothing.", field="advice", allowed="statements, advice or both"
            )


def texts_of(values: object, field: str) -> tuple[str, ...]:
    """Return a list of non-empty texts as a tuple, or raise ExperimentError."""
    texts = entry.listed(field, values, error=ExperimentError)
    for index, text in enumerate(texts, start=1):
        check_text(text, field_path(field, index), required=True)
    return texts


@dataclass(frozen=True, slots=True)
class Question:
    """Something odd about a reading that only the person at the bench can answer.

    Attributes
    ----------
    trial : str
        Name of the trial; "" for a reading that all trials share.
    reading : str
        Name of the reading.
    text : str
        The question as a sentence.

    Examples
    --------
    >>> print(Question("2", "crucible", "20.1 g has few decimals: was it 20.10 g?"))
    Trial 2, crucible: 20.1 g has few decimals: was it 20.10 g?
    """

    trial: str
    reading: str
    text: str

    def __str__(self) -> str:
        place = f"Trial {self.trial}" if self.trial else "All trials"
        return f"{place}, {self.reading}: {self.text}"


_MOST_VARIATION = 0.5
_MOST_EARLIER = 10_000
_ALLOWED_VARIATION = f'above 0, up to {_MOST_VARIATION:g}, or a percentage such as "1.5 %"'


@dataclass(frozen=True, slots=True, kw_only=True)
class Variation:
    """How much the trials truly differ in what is recovered and weighed as product.

    Attributes
    ----------
    relative : float
        Standard deviation of the recovered fraction from trial to trial, relative; above 0 to
        0.5, or a percentage as text, ``"1.5 %"``. 0 where it is unknown.
    from_trials : int or None
        How many earlier trials that figure came from, 2 or more: the verdict then uses Student t
        with one degree of freedom less. None: exactly known.
    unknown : bool
        Nothing is known of it: the verdict rests on the trials' own scatter as well.

    Raises
    ------
    ExperimentError
        If both or neither are stated, or a figure cannot be used.

    Examples
    --------
    >>> Variation(relative="1.5 %", from_trials=8).relative
    0.015
    >>> Variation(unknown=True, relative=0.02)
    Traceback (most recent call last):
    stoichkit.errors.ExperimentError: variation: The variation is stated and said to be unknown.
    Given: relative = 0.02, unknown = true. Allowed: one of the two. ...
    """

    relative: float = 0.0
    from_trials: int | None = None
    unknown: bool = False

    def __post_init__(self) -> None:
        unknown = entry.flag("variation.unknown", self.unknown, error=ExperimentError)
        relative, count = _fraction_of(self.relative), self.from_trials
        if count is not None:
            count = entry.whole(
                "variation.from_trials", count, least=2, most=_MOST_EARLIER, error=ExperimentError
            )
        entry.kept(self, relative=relative, from_trials=count, unknown=unknown)
        stated = [f"relative = {relative:g}"] if relative else []
        stated += [f"from_trials = {count}"] if count is not None else []
        if unknown and stated:
            raise ExperimentError(
                "The variation is stated and said to be unknown.",
                field="variation",
                given=", ".join([*stated, "unknown = true"]),
                allowed="one of the two",
                fix="Leave out “unknown”, or “relative” and “from_trials”.",
            )
        if not unknown and not relative:
            raise ExperimentError(
                "The variation between trials is neither stated nor said to be unknown.",
                field="variation.relative",
                given=", ".join(stated) or None,
                allowed=f"{_ALLOWED_VARIATION}; or unknown = true",
                fix="Leave the whole variation out if the trials differ by nothing but readings.",
            )

    @property
    def dof(self) -> float:
        """Degrees of freedom of the stated figure; infinite where it is exactly known."""
        return math.inf if self.from_trials is None else self.from_trials - 1.0


SHARE_FOR_NONE = 0.05
"""What is thought of “none of these” before the readings, unless it is stated."""


@dataclass(frozen=True, slots=True)
class Prior:
    """What is thought of the candidates before the readings.

    It has no say in the verdict: only in how probable each candidate is after the readings.

    Parameters
    ----------
    weights : mapping of str to float
        Shares of candidates by name, in any unit, 0 or more; 1 for those that are not named.
    none : float
        Probability that none of them is true, 0 to below 1.

    Raises
    ------
    ExperimentError
        If a weight or the share cannot be used.

    Examples
    --------
    >>> Prior({"copper(II)": 3}).shares(["copper(I)", "copper(II)"])
    {'copper(I)': 0.25, 'copper(II)': 0.75}
    >>> Prior(none=1)
    Traceback (most recent call last):
    stoichkit.errors.ExperimentError: prior.none: This number cannot be used. Given: 1. Allowed: a
    number from 0 to below 1, such as 0.05. It is the share kept for the case that ...
    """

    weights: Mapping[str, float] = FrozenMap()
    none: float = SHARE_FOR_NONE

    def __post_init__(self) -> None:
        given = entry.mapping(
            "prior.weights",
            self.weights,
            "a weight for each candidate’s name",
            error=ExperimentError,
        )
        weights = {
            name: _thought(
                weight,
                field_path("prior", "weights", name),
                math.inf,
                "a number of 0 or more",
                "Only the ratios of the weights count: 1 and 3 say three times as likely.",
            )
            for name, weight in given.items()
        }
        none = _thought(
            self.none,
            "prior.none",
            1.0,
            "a number from 0 to below 1, such as 0.05",
            "It is the share kept for the case that no candidate is true; 0 says it cannot be.",
        )
        entry.kept(self, weights=FrozenMap(weights), none=none)

    def among(self, names: Iterable[str]) -> Prior:
        """Return the same without the weights of what is not among these.

        >>> Prior({"copper(II)": 3}).among(["copper(I)"])
        Prior(weights=FrozenMap({}), none=0.05)
        """
        kept = {name: self.weights[name] for name in names if name in self.weights}
        return Prior(kept if any(kept.values()) else {}, self.none)

    def shares(self, names: Iterable[str]) -> dict[str, float]:
        """Return the shares of candidates before the readings, which add up to 1.

        Raises
        ------
        ExperimentError
            If a weight is that of no candidate, or all weights are 0.
        """
        found = {name: self.weights.get(name, 1.0) for name in names}
        for name in self.weights:
            if name not in found:
                raise ExperimentError(
                    "There is no such candidate.",
                    field=field_path("prior", "weights", name),
                    given=name,
                    allowed=", ".join(found),
                    fix=nearest(name, tuple(found)) or "Leave this weight out.",
                )
        total = sum(found.values())  # infinite where it is too large
        if not 0 < total < math.inf:
            raise ExperimentError(
                "All weights are 0." if total == 0 else "The weights are too large to be added.",
                field="prior.weights",
                given=", ".join(f"{name} = {weight:g}" for name, weight in found.items()),
                allowed="numbers of 0 or more, at least one of them above 0",
                fix="Give weight to what may be true; 1 each says that all are alike.",
            )
        return {name: weight / total for name, weight in found.items()}


def _thought(value: object, field: str, below: float, allowed: str, fix: str) -> float:
    """Return a number of a prior, 0 or more and below a limit."""
    try:
        return entry.number(field, value, least=0, below=below, error=ExperimentError)
    except ExperimentError as error:
        raise ExperimentError(
            "This number cannot be used.", field=field, given=value, allowed=allowed, fix=fix
        ) from error


NO_VARIATION = "none"
"""Says of the groups of a class that they differ by nothing but their readings."""
Between: TypeAlias = Variation | str | None
"""How much the groups of a class differ: a variation, ``"none"``, or None where it is not said."""


def checked_between(value: object, field: str = "variation.between_groups") -> Between:
    """Return how much the groups of a class differ, from how it may be written.

    >>> checked_between("1.5 %").relative, checked_between("unknown").unknown
    (0.015, True)
    >>> checked_between("none"), checked_between(None)
    ('none', None)
    >>> checked_between("a lot")
    Traceback (most recent call last):
    stoichkit.errors.ExperimentError: variation.between_groups: This does not say how much the
    groups differ. Given: a lot. Allowed: a percentage such as "1.5 %", above 0 to 50 %; "unknown";
    or "none", if they differ by nothing but their readings.
    """
    word = value.strip().lower() if isinstance(value, str) else ""
    if value is None or isinstance(value, Variation):
        return value
    if word == NO_VARIATION:
        return NO_VARIATION
    if word == "unknown":
        return Variation(unknown=True)
    try:
        relative = _fraction_of(value)
    except ExperimentError:
        relative = 0.0
    if not relative:
        raise ExperimentError(
            "This does not say how much the groups differ.",
            field=field,
            given=value,
            allowed=f'a percentage such as "1.5 %", above 0 to {100 * _MOST_VARIATION:g} %; '
            f'"unknown"; or "{NO_VARIATION}", if they differ by nothing but their readings',
        )
    return Variation(relative=relative)


def _fraction_of(value: object) -> float:
    """Return a fraction from 0 to the most allowed, typed as a number or as a percentage."""
    place = "variation.relative"
    if not isinstance(value, str):
        number = entry.number(place, value, error=ExperimentError)
    else:
        text = value.strip()
        percent = text.endswith("%")
        try:
            number = parse_number(text.removesuffix("%"), "variation").value
        except StoichkitError as error:
            raise ExperimentError(
                error.problem, field=place, given=value, allowed=_ALLOWED_VARIATION
            ) from error
        number = number / 100 if percent else number
    if 0 <= number <= _MOST_VARIATION:
        return number
    meant = _MOST_VARIATION < number <= 100 * _MOST_VARIATION
    raise ExperimentError(
        "The variation between trials cannot be used.",
        field=place,
        given=value,
        allowed=_ALLOWED_VARIATION,
        fix=f'Did you mean "{number:g} %"?' if meant else None,
    )
