"""The texts of the readings screen exactly as typed, and the evidence that follows from them.

Where a text is refused, the reason stands beside its place and the last evidence stays.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from ...chemistry.candidates import (
    Candidate,
    check_candidates,
)
from ...decision.evidence import Evidence, assess
from ...errors import ExperimentError, Refusal, StoichkitError
from ...experiments.candidate_spec import CANDIDATE_FORMS, CandidateSpec, candidate_in
from ...experiments.checks import checked_coverage, checked_recovery
from ...experiments.parts import Trial, Variation, field_path, relocated
from ...experiments.record import Experiment
from ...measurement.base import Instrument, show
from ...measurement.displays import Balance
from ...uncertainty.readings import parse_number


def write_candidates(experiment: Experiment) -> str:
    """Write the candidates of an experiment, one a line.

    >>> from stoichkit import experiments
    >>> print(write_candidates(experiments.load("copper-silver")))
    copper(I) = 1
    copper(II) = 2
    """
    return "\n".join(_lines(experiment))


def _lines(experiment: Experiment) -> dict[str, Candidate]:
    """Return the candidates of a record by the line that stands for each."""
    spec = experiment.candidate_spec
    equations: Mapping[str, str] = spec.fields if spec and spec.kind == "equations" else {}
    return {
        f"{one.name} = {equations.get(one.name, str(one.ratio))}": one
        for one in experiment.candidates
    }


def read_candidates(text: str, experiment: Experiment) -> tuple[Candidate, ...]:
    """Read candidates typed one a line; a line that was not changed keeps its candidate whole.

    >>> from stoichkit import experiments
    >>> lab = experiments.load("copper-silver")
    >>> found = read_candidates("copper(II) = 2\\nCu + AgNO3 -> CuNO3 + Ag\\nodd = 3/2", lab)
    >>> [(one.name, str(one.ratio)) for one in found]
    [('copper(II)', '2'), ('CuNO3', '1'), ('odd', '3/2')]
    >>> read_candidates("copper(II) = two", lab)
    Traceback (most recent call last):
    stoichkit.errors.ExperimentError: line 1: ...
    """
    known = _lines(experiment)
    consumed, produced = experiment.consumed.species, experiment.produced.species
    spec = experiment.candidate_spec
    elements = spec.fields if spec and spec.kind == "formulas" else {}
    found = []
    for number, line in enumerate(text.splitlines(), start=1):
        plain = line.strip()
        if not plain:
            continue
        try:
            found.append(
                known.get(plain)
                or candidate_in(
                    plain,
                    consumed,
                    produced,
                    elements.get("consumed", consumed),
                    elements.get("produced", produced),
                )
            )
        except StoichkitError as error:
            raise relocated(error, field=f"line {number}") from error
    if not found:
        raise ExperimentError("There is no candidate.", allowed=CANDIDATE_FORMS)
    try:
        return check_candidates(found)
    except StoichkitError as error:
        raise relocated(error) from error


def spec_of(candidates: tuple[Candidate, ...], experiment: Experiment) -> CandidateSpec:
    """Return how candidates are to be written down: as they were, if they are the same.

    >>> from stoichkit import experiments
    >>> lab = experiments.load("copper-silver")
    >>> spec_of(lab.candidates, lab).kind, spec_of(lab.candidates[:1], lab).kind
    ('oxidation_states', 'ratios')
    """
    before = experiment.candidate_spec
    if before is not None and candidates == experiment.candidates:
        return before
    if before is not None and before.kind == "equations" and all(c.equation for c in candidates):
        return CandidateSpec(
            "equations", {c.name: before.fields.get(c.name, c.equation) for c in candidates}
        )
    return CandidateSpec.of(candidates)


_NUMBERED = re.compile(r"(.*?)([0-9]{1,6})")
EMPTY_TRIALS = 3
"""Rows of a lab that has no readings yet."""
ALL_TRIALS = -1
"""Position of the readings that serve all trials."""
WEIGHED_ON = "instruments"
"""Name of the column that says on which of several balances a trial was weighed."""


@dataclass(frozen=True, slots=True)
class Place:
    """One field of the form."""

    part: str
    trial: int = ALL_TRIALS
    name: str = ""


@dataclass(frozen=True, slots=True)
class Row:
    """One reading as the form asks for it."""

    name: str
    unit: str
    shared: bool = False
    several: bool = False
    optional: bool = False

    @property
    def label(self) -> str:
        """Name and unit.

        >>> Row("wire before", "g").label, Row(WEIGHED_ON, "").label
        ('wire before, g', 'weighed on')
        """
        return f"{self.name}, {self.unit}" if self.unit else self.heading

    @property
    def heading(self) -> str:
        """What stands above the column."""
        return "weighed on" if self.name == WEIGHED_ON else self.name


@dataclass(slots=True)
class TrialTexts:
    """What is typed for one trial: reading name to text."""

    name: str
    group: str = ""
    readings: dict[str, str] = field(default_factory=dict)

    @property
    def empty(self) -> bool:
        """Whether no reading is typed for this trial."""
        return not any(t.strip() for name, t in self.readings.items() if name != WEIGHED_ON)


@dataclass(slots=True)
class BalanceTexts:
    """What is typed for one balance, in g; an empty repeatability is one that is not stated."""

    readability_g: str
    repeatability_g: str


@dataclass(slots=True)
class Form:
    """Every text of the screen, as typed."""

    title: str
    invented: bool
    candidates: str
    coverage: str
    recovery_low: str
    recovery_high: str
    variation: str
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
        Row(name, role.unit, name in shared, role.takes_several, role.optional)
        for name in names
        if (role := roles[name])
    )
    if len(balances_to_choose(experiment)) > 1:
        rows = (*rows, Row(WEIGHED_ON, "", optional=True))
    return Form(
        title=experiment.title,
        invented=experiment.invented,
        candidates=write_candidates(experiment),
        coverage=show(experiment.coverage),
        recovery_low=show(experiment.recovery[0]),
        recovery_high=show(experiment.recovery[1]),
        variation=write_variation(experiment.variation),
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
        trials=_trials_of(experiment, [row.name for row in rows if not row.shared]),
    )


def _trials_of(experiment: Experiment, names: Sequence[str]) -> list[TrialTexts]:
    """Return the trials of an experiment; empty ones to be typed into where it has none."""
    found = [
        TrialTexts(
            trial.name,
            trial.group,
            {
                name: _weighed_on(trial, experiment)
                if name == WEIGHED_ON
                else "; ".join(trial.readings.get(name, ()))
                for name in names
            },
        )
        for trial in experiment.trials
    ]
    numbers = range(1, EMPTY_TRIALS + 1)
    return found or [TrialTexts(f"trial {i}", "", dict.fromkeys(names, "")) for i in numbers]


def balances_to_choose(experiment: Experiment) -> tuple[str, ...]:
    """Return the balances that a trial may be weighed on, that of the amounts first.

    None where the amounts use two balances: then each is the one of its readings.

    >>> from stoichkit import experiments
    >>> balances_to_choose(experiments.load("copper-silver"))
    ('balance',)
    """
    made = experiment.instruments
    used = {r.instrument for r in experiment.roles() if isinstance(made[r.instrument], Balance)}
    if len(used) != 1:
        return ()
    others = (n for n, one in made.items() if isinstance(one, Balance) and n not in used)
    return (*used, *others)


def _weighed_on(trial: Trial, experiment: Experiment) -> str:
    usual = balances_to_choose(experiment)[0]
    return trial.instruments.get(usual, usual)


_FROM_TRIALS = re.compile(r"(.+?)\s+from\s+([0-9]{1,6})\s+trials", re.IGNORECASE)


def write_variation(variation: Variation | None) -> str:
    """Write how much trials truly differ, as it is typed; "" if not at all.

    >>> write_variation(Variation(relative=0.015, from_trials=8))
    '1.5 % from 8 trials'
    """
    if variation is None:
        return ""
    if variation.unknown:
        return "unknown"
    text = f"{show(100 * variation.relative)} %"
    known = variation.from_trials
    return text if known is None else f"{text} from {known} trials"


def read_variation(text: str) -> Variation | None:
    """Read how much trials truly differ; None for an empty text.

    >>> read_variation("unknown").unknown, read_variation("0,02").relative, read_variation(" ")
    (True, 0.02, None)
    >>> read_variation("1.5 % from 8 trials") == Variation(relative="1.5 %", from_trials=8)
    True
    """
    plain = text.strip()
    if not plain or plain.casefold() == "none":
        return None
    if plain.casefold() == "unknown":
        return Variation(unknown=True)
    match = _FROM_TRIALS.fullmatch(plain)
    share = _share(match[1] if match else plain, "relative standard deviation")
    return Variation(relative=share, from_trials=int(match[2]) if match else None)


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
        return f"{trial}, {Row(place.name, '').heading}"
    if place.part == "trial":
        return trial
    words = {
        "coverage": "coverage probability",
        "record": "the experiment",
        "recovery_low": "least fraction recovered",
        "recovery_high": "largest fraction recovered",
        "variation": "variation between trials",
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


_BETWEEN = re.compile(r"[;\n]")


@dataclass(frozen=True, slots=True)
class Outcome:
    """What follows from the form."""

    experiment: Experiment
    evidence: Evidence | None
    refusals: Mapping[Place, Refusal]
    left_out: tuple[str, ...] = ()

    @property
    def current(self) -> bool:
        """Whether the evidence is that of the form as it stands."""
        return not self.refusals


def refusal_of(error: StoichkitError, *, line: bool = True) -> Refusal:
    """Return an error as a refusal, without the name of the field it stands beside.

    >>> refusal_of(ExperimentError("There is no arrow.", field="line 2", given="x")).problem
    'Line 2: There is no arrow.'
    """
    found = Refusal.of(error)
    field = getattr(error, "field", None)
    if line and field and field.startswith("line "):
        return replace(found, problem=f"{field.capitalize()}: {found.problem}")
    return found


def evaluate(form: Form, base: Experiment, last: Outcome | None) -> Outcome:
    """Make a record of the form and assess it; keep the last evidence if that is not possible.

    >>> from stoichkit import experiments
    >>> from stoichkit.widgets.state.form import form_of
    >>> lab = experiments.load("copper-silver")
    >>> evaluate(form_of(lab), lab, None).evidence.verdict.candidates
    ('copper(II)',)
    """
    reader = _Reader(form, base)
    left_out = tuple(one.name for one in form.trials if one.empty)
    fields = reader.fields()
    before = (last.experiment, last.evidence) if last else (base, None)
    if not reader.refusals:
        try:
            experiment = replace(base, **fields)
            return Outcome(experiment, assess(experiment), {}, left_out)
        except StoichkitError as error:
            reader.refusals[reader.place_of(error)] = refusal_of(error)
    return Outcome(*before, reader.refusals, left_out)


class _Reader:
    """Reads the form field by field and gathers the refusals."""

    def __init__(self, form: Form, base: Experiment) -> None:
        self.form, self.base = form, base
        self.refusals: dict[Place, Refusal] = {}
        self.used = [i for i, one in enumerate(form.trials) if not one.empty]

    def fields(self) -> dict[str, Any]:
        """Return the fields of the record, complete if nothing was refused."""
        form = self.form
        candidates, spec = self._candidates()
        if not form.title.strip():
            self.refusals[Place("title")] = Refusal("The title is empty.", "Type one line.")
        if not self.used:
            self.refusals[Place("trial", 0)] = Refusal(
                "There are no readings yet.", "Type what the instruments showed."
            )
        return {
            "title": form.title.strip(),
            "invented": form.invented,
            "coverage": self._coverage(),
            "recovery": self._recovery(),
            "variation": self._variation(),
            "candidates": candidates,
            "candidate_spec": spec,
            "prior": self.base.prior and self.base.prior.among(c.name for c in candidates),
            "instruments": {**self.base.instruments, **self._balances()},
            "shared_readings": self._readings(form.shared, ALL_TRIALS),
            "trials": tuple(self._trial(form.trials[index], index) for index in self.used),
        }

    def place_of(self, error: StoichkitError) -> Place:
        """Return the field that an error about the whole record belongs to."""
        where = getattr(error, "field", None) or ""
        for number, index in enumerate(self.used, start=1):
            for row in self.form.rows:
                path = field_path("trials", number, row.name)
                if where == path or where.startswith(f"{path}["):
                    return Place("reading", index, row.name)
            path = field_path("trials", number)
            if where == path or where.startswith(f"{path}."):
                return Place("trial", index)
        for row in self.form.rows:
            if where.startswith(field_path("shared", row.name)):
                return Place("reading", ALL_TRIALS, row.name)
        for part in ("candidates", "coverage", "title"):
            if where.startswith(part):
                return Place(part)
        return Place("record")

    def _candidates(self) -> tuple[tuple[Candidate, ...], CandidateSpec | None]:
        try:
            found = read_candidates(self.form.candidates, self.base)
            return found, spec_of(found, self.base)
        except StoichkitError as error:
            self.refusals[Place("candidates")] = refusal_of(error)
            return (), None

    def _coverage(self) -> float:
        try:
            return checked_coverage(_share(self.form.coverage, "coverage probability"))
        except StoichkitError as error:
            self.refusals[Place("coverage")] = refusal_of(error)
            return self.base.coverage

    def _recovery(self) -> tuple[float, float]:
        limits = []
        for part in ("recovery_low", "recovery_high"):
            try:
                value = _share(getattr(self.form, part), "fraction")
                checked_recovery((value, value))
            except StoichkitError as error:
                self.refusals[Place(part)] = Refusal(
                    refusal_of(error).problem, "Allowed: above 0, at most 10; 1 for all of it."
                )
            else:
                limits.append(value)
        if len(limits) < 2:
            return self.base.recovery
        low, high = limits
        if low > high:
            self.refusals[Place("recovery_high")] = Refusal(
                "The largest fraction is below the least.", f"Allowed: {low:g} or more."
            )
        return low, high

    def _variation(self) -> Variation | None:
        try:
            return read_variation(self.form.variation)
        except StoichkitError as error:
            self.refusals[Place("variation")] = refusal_of(error)
            return self.base.variation

    def _balances(self) -> dict[str, Instrument]:
        found: dict[str, Instrument] = {}
        for name, texts in self.form.balances.items():
            balance = self.base.instruments[name]
            assert isinstance(balance, Balance)
            found[name] = self._balance(name, texts, balance)
        return found

    def _balance(self, name: str, texts: BalanceTexts, balance: Balance) -> Balance:
        place = Place("readability", name=name)
        try:
            step = parse_number(texts.readability_g, "readability").value
            balance = replace(balance, readability_g=step)
            place = Place("repeatability", name=name)
            typed = texts.repeatability_g
            spread = parse_number(typed, "repeatability").value if typed.strip() else None
            return replace(balance, repeatability_g=spread)
        except StoichkitError as error:
            self.refusals[place] = refusal_of(error)
            return balance

    def _readings(self, typed: Mapping[str, str], trial: int) -> dict[str, tuple[str, ...]]:
        """Return the readings typed for one trial, or for all, and refuse what is no number."""
        found = {}
        for row in self.form.rows:
            if row.name not in typed or row.name == WEIGHED_ON:
                continue
            try:
                texts = _numbers(typed[row.name], row)
                if texts:
                    found[row.name] = texts
            except StoichkitError as error:
                self.refusals[Place("reading", trial, row.name)] = refusal_of(error)
        return found

    def _trial(self, typed: TrialTexts, index: int) -> Trial | None:
        """Return a trial; None for one that is refused."""
        readings = self._readings(typed.readings, index)
        used = self._used(typed.readings.get(WEIGHED_ON, ""), index)
        try:
            return Trial(typed.name.strip(), readings, typed.group, used)
        except StoichkitError as error:
            self.refusals[Place("trial", index)] = refusal_of(error)
            return None

    def _used(self, text: str, index: int) -> dict[str, str]:
        """Return the instruments of a trial's own: a balance by its name, its number or its step.

        Those of kinds that the sheet has no column for stay as they are in the record.
        """
        known = balances_to_choose(self.base)
        kept = {t.name: t.instruments for t in self.base.trials}
        found = dict(kept.get(self.form.trials[index].name, {}))
        if len(known) < 2:
            return found
        found.pop(known[0], None)
        plain = text.strip().casefold().replace(",", ".").removesuffix("g").strip()
        steps = {name: self.form.balances[name].readability_g for name in known}
        same_step = [name for name, step in steps.items() if _same_number(step, plain)]
        by_name = {name.casefold(): name for name in known}
        by_name |= {str(place): name for place, name in enumerate(known, start=1)}
        if text.strip().casefold() in by_name:
            found[known[0]] = by_name[text.strip().casefold()]
        elif len(same_step) == 1:
            found[known[0]] = same_step[0]
        elif plain:
            shown = ", ".join(f"{place} or {name}" for place, name in enumerate(known, start=1))
            self.refusals[Place("reading", index, WEIGHED_ON)] = Refusal(
                "There are several balances of this step."
                if same_step
                else "There is no balance of this name.",
                f"Allowed: {shown}.",
            )
        return found


def _same_number(one: str, other: str) -> bool:
    try:
        return parse_number(one).value == parse_number(other).value
    except StoichkitError:
        return False


def _share(text: str, what: str) -> float:
    """Read a number that may be given in percent."""
    plain = text.strip()
    value = parse_number(plain.removesuffix("%"), what).value
    return round(value / 100, 12) if plain.endswith("%") else value


def _numbers(text: str, row: Row) -> tuple[str, ...]:
    """Return the numbers of one field, as typed; none for an optional one left empty."""
    parts = [part.strip() for part in _BETWEEN.split(text)]
    while len(parts) > 1 and not parts[-1]:
        parts.pop()
    if parts == [""]:
        if row.optional:
            return ()
        raise ExperimentError("This reading is missing.", allowed=f"a number in {row.unit}")
    if len(parts) > 1 and not row.several:
        raise ExperimentError("This reading is made once.", given=text, fix="Type one number.")
    for part in parts:
        try:
            parse_number(part)
        except StoichkitError as error:
            if row.several and " " in part and error.fix:
                raise ExperimentError(
                    error.problem,
                    given=text,
                    fix="Put a semicolon or a new line between repeated weighings.",
                ) from error
            raise
    return tuple(parts)
