"""The typed texts of the readings panel, exactly as typed, and the places they stand in."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from ..balance import Balance
from ..experiment import Experiment
from ..instrument_base import show
from .candidate_text import write_candidates

__all__ = [
    "ALL_TRIALS",
    "BalanceTexts",
    "Form",
    "Place",
    "Row",
    "TrialTexts",
    "copy_form",
    "describe_place",
    "form_of",
    "next_trial_name",
]

_NUMBERED = re.compile(r"(.*?)([0-9]{1,6})")

ALL_TRIALS = -1
"""Position of the readings that serve all trials."""


@dataclass(frozen=True, slots=True)
class Place:
    """One field of the form.

    Attributes
    ----------
    part : str
        ``"reading"``, ``"trial"``, ``"candidates"``, ``"readability"``, ``"repeatability"``,
        ``"coverage"``, ``"recovery_low"``, ``"recovery_high"``, ``"title"``, or ``"record"`` for
        what belongs to no field.
    trial : int
        Position of the trial, counted from 0; :data:`ALL_TRIALS` for none in particular.
    name : str
        Name of the reading or of the balance.
    """

    part: str
    trial: int = ALL_TRIALS
    name: str = ""


@dataclass(frozen=True, slots=True)
class Row:
    """One reading as the form asks for it.

    Attributes
    ----------
    name : str
    unit : str
    shared : bool
        Whether one value serves all trials.
    repeated : bool
        Whether several numbers may be typed, with semicolons or new lines between them.
    optional : bool
        Whether it may be left out.
    """

    name: str
    unit: str
    shared: bool = False
    repeated: bool = False
    optional: bool = False

    @property
    def label(self) -> str:
        """Name and unit.

        >>> Row("wire before", "g").label
        'wire before, g'
        """
        return f"{self.name}, {self.unit}"


@dataclass(slots=True)
class TrialTexts:
    """What is typed for one trial: reading name to text."""

    name: str
    group: str = ""
    readings: dict[str, str] = field(default_factory=dict)

    @property
    def empty(self) -> bool:
        """Whether nothing is typed for this trial."""
        return not any(text.strip() for text in self.readings.values())


@dataclass(slots=True)
class BalanceTexts:
    """What is typed for one balance, in g; an empty repeatability is one that is not stated."""

    readability_g: str
    repeatability_g: str


@dataclass(slots=True)
class Form:
    """Every text of the panel, as typed.

    Attributes
    ----------
    title : str
    invented : bool
        Whether the readings are invented.
    candidates : str
        One a line.
    coverage : str
    recovery_low, recovery_high : str
        Least and largest fraction of the product that is recovered and weighed as product.
    rows : tuple of Row
        The readings in the order they are made.
    balances : dict of str to BalanceTexts
        By the name of the instrument.
    shared : dict of str to str
        Readings that serve all trials.
    trials : list of TrialTexts
    """

    title: str
    invented: bool
    candidates: str
    coverage: str
    recovery_low: str
    recovery_high: str
    rows: tuple[Row, ...]
    balances: dict[str, BalanceTexts]
    shared: dict[str, str]
    trials: list[TrialTexts]


def form_of(experiment: Experiment) -> Form:
    """Return the form filled in with an experiment.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> form = form_of(experiments.load("hydrate-heating"))
    >>> form.trials[0].readings["crucible + residue"], form.balances["balance"].repeatability_g
    ('21.26; 21.17; 21.18', '0.005')
    """
    roles = {role.name: role for role in experiment.roles() if role.needs_reading}
    names = dict.fromkeys((*experiment.reading_names(), *roles))
    shared = {name for name in names if name in experiment.shared_readings or roles[name].once}
    rows = tuple(
        Row(name, role.unit, name in shared, role.repeated, role.optional)
        for name in names
        if (role := roles[name])
    )
    return Form(
        title=experiment.title,
        invented=experiment.invented,
        candidates=write_candidates(experiment),
        coverage=show(experiment.coverage),
        recovery_low=show(experiment.recovery[0]),
        recovery_high=show(experiment.recovery[1]),
        rows=rows,
        balances={
            name: BalanceTexts(
                show(one.readability_g),
                "" if one.repeatability_g is None else show(one.repeatability_g),
            )
            for name, one in experiment.instruments.items()
            if isinstance(one, Balance)
        },
        shared={
            row.name: "; ".join(experiment.shared_readings.get(row.name, ()))
            for row in rows
            if row.shared
        },
        trials=[
            TrialTexts(
                trial.name,
                trial.group,
                {
                    row.name: "; ".join(trial.readings.get(row.name, ()))
                    for row in rows
                    if not row.shared
                },
            )
            for trial in experiment.trials
        ],
    )


def copy_form(form: Form) -> Form:
    """Return a form with the same texts that does not change with the first.

    >>> from stoichkit import experiments
    >>> form = form_of(experiments.load("tin-oxide"))
    >>> copy_form(form) == form, copy_form(form).trials[0] is form.trials[0]
    (True, False)
    """
    return replace(
        form,
        balances={name: replace(texts) for name, texts in form.balances.items()},
        shared=dict(form.shared),
        trials=[replace(one, readings=dict(one.readings)) for one in form.trials],
    )


def describe_place(form: Form, place: Place) -> str:
    """Name a field in words.

    >>> from stoichkit import experiments
    >>> form = form_of(experiments.load("copper-silver"))
    >>> describe_place(form, Place("reading", 0, "wire before"))
    'bench 1, wire before'
    """
    trial = "all trials" if place.trial == ALL_TRIALS else form.trials[place.trial].name
    if place.part == "reading":
        return f"{trial}, {place.name}"
    if place.part == "trial":
        return trial
    words = {
        "coverage": "coverage probability",
        "record": "the experiment",
        "recovery_low": "least fraction recovered",
        "recovery_high": "largest fraction recovered",
    }
    return f"{place.name}, {place.part}" if place.name else words.get(place.part, place.part)


def next_trial_name(trials: Sequence[TrialTexts]) -> str:
    """Return a name for a new trial, counted on from the last one.

    >>> next_trial_name([TrialTexts("bench 1"), TrialTexts("bench 2")])
    'bench 3'
    """
    taken = {one.name for one in trials}
    match = _NUMBERED.fullmatch(trials[-1].name)
    stem, number = (match[1], int(match[2])) if match else ("trial ", len(taken))
    while (name := f"{stem}{number + 1}") in taken:
        number += 1
    return name
