"""From the typed texts to evidence, or to the reason why a text is refused, field by field."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from ..balance import Balance
from ..candidate_spec import CandidateSpec
from ..candidates import Candidate
from ..errors import ExperimentError, StoichkitError
from ..evidence import Evidence, assess
from ..experiment import Experiment, Trial
from ..experiment_checks import checked_coverage, checked_recovery
from ..experiment_parts import field_path
from ..instruments import Instrument
from ..readings import parse_number
from .candidate_text import read_candidates, spec_of
from .form import ALL_TRIALS, BalanceTexts, Form, Place, Row, TrialTexts

__all__ = ["Outcome", "Refusal", "evaluate", "refusal_of"]

_BETWEEN = re.compile(r"[;\n]")


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why a field cannot be used.

    Attributes
    ----------
    problem : str
        One sentence, short enough to stand beside the field.
    advice : str
        What was given, what is allowed and what to do, "" if there is nothing to add.
    """

    problem: str
    advice: str = ""

    def __str__(self) -> str:
        return f"{self.problem} {self.advice}".strip()


@dataclass(frozen=True, slots=True)
class Outcome:
    """What follows from the form.

    Attributes
    ----------
    experiment : Experiment
        The last record that could be made of the form.
    evidence : Evidence or None
        Its evidence; None if nothing could be assessed yet.
    refusals : mapping of Place to Refusal
        Why the form as it stands cannot be used; empty if it can.
    left_out : tuple of str
        Names of trials in which nothing is typed.
    """

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

    Parameters
    ----------
    error : StoichkitError
    line : bool
        Whether to keep a field that is the number of a line.

    Examples
    --------
    >>> refusal_of(ExperimentError("There is no arrow.", field="line 2", given="x")).problem
    'Line 2: There is no arrow.'
    """
    problem = error.problem
    if isinstance(error, ExperimentError):
        place = ", ".join(part for part in (error.path, error.field) if part)
        problem = problem.removeprefix(f"{place}: ")
        if line and error.field and error.field.startswith("line "):
            problem = f"{error.field.capitalize()}: {problem}"
    plain = StoichkitError("", given=error.given, allowed=error.allowed, fix=error.fix)
    return Refusal(problem, str(plain).strip())


def evaluate(form: Form, base: Experiment, last: Outcome | None) -> Outcome:
    """Make a record of the form and assess it; keep the last evidence if that is not possible.

    Parameters
    ----------
    form : Form
    base : Experiment
        The record that was loaded; gives everything the form does not show.
    last : Outcome or None
        What is kept where the form cannot be used.

    Returns
    -------
    Outcome

    Examples
    --------
    >>> from stoichkit import experiments
    >>> from stoichkit.widgets.form import form_of
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
            "candidates": candidates,
            "candidate_spec": spec,
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
            if row.name not in typed:
                continue
            try:
                texts = _numbers(typed[row.name], row)
                if texts:
                    found[row.name] = texts
            except StoichkitError as error:
                self.refusals[Place("reading", trial, row.name)] = refusal_of(error)
        return found

    def _trial(self, typed: TrialTexts, index: int) -> Trial:
        return Trial(typed.name, self._readings(typed.readings, index), typed.group)


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
    if len(parts) > 1 and not row.repeated:
        raise ExperimentError("This reading is made once.", given=text, fix="Type one number.")
    for part in parts:
        try:
            parse_number(part)
        except StoichkitError as error:
            if row.repeated and " " in part and error.fix:
                raise ExperimentError(
                    error.problem,
                    given=text,
                    fix="Put a semicolon or a new line between repeated weighings.",
                ) from error
            raise
    return tuple(parts)
