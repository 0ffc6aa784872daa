"""What the screen “Why” holds: the lab of the readings screen, what is chosen here, what is found.

Plain Python without Jupyter. Successive weighings are typed as lines of time and mass.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any

from ...chemistry.formula import parse_formula
from ...decision.evidence import CandidateEvidence, Evidence
from ...decision.sentences import compound_sentence, yield_sentence
from ...decision.verdict import Diagnosis, VerdictKind
from ...diagnosis.causes import Cause, Combination, causes_for, combine
from ...diagnosis.constant_mass import Drying, drying
from ...diagnosis.effects import effects_for
from ...diagnosis.line import slips_of
from ...diagnosis.slips import Slip
from ...diagnosis.stability import RedoxFinding, SpotTest, redox_findings, suggested_tests
from ...errors import FormulaError, ModelError, ReadingError, Refusal, StoichkitError
from ...experiments.record import Experiment
from ...measurement.displays import Balance
from ...uncertainty.readings import parse_number
from ..kit.telling import Telling
from ..kit.work import Report, silent
from .form import Outcome, refusal_of
from .readings import Change, ReadingsState


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What is to be found out."""

    evidence: Evidence
    candidate: str
    residue: str = ""
    pair: tuple[str, str] = ("", "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Findings:
    """What was found."""

    question: Question
    diagnosis: Diagnosis
    slips: tuple[Slip, ...]
    yields: tuple[tuple[str, str], ...]
    causes: tuple[Cause, ...]
    combination: Combination | None
    redox: tuple[RedoxFinding, ...]
    tests: tuple[tuple[str, SpotTest], ...]

    def answers(self, question: Question) -> bool:
        """Return whether this is what there is to be found for a question."""
        mine = self.question
        return (
            mine.evidence is question.evidence
            and (mine.candidate, mine.residue) == (question.candidate, question.residue)
            and question.pair in (("", ""), mine.pair)
        )


def find(question: Question, report: Report = silent, *, known: Findings | None = None) -> Findings:
    """Find slips, yields, causes and what potentials say.

    >>> from stoichkit import assess, experiments
    >>> lab = assess(experiments.load("copper-silver"))
    >>> found = find(Question(evidence=lab, candidate="copper(I)"))
    >>> found.question.pair, len(found.causes), found.slips
    (('wet product', 'product on metal'), 9, ())
    """
    evidence = question.evidence
    experiment = evidence.experiment
    if known is None or known.question.evidence is not evidence:
        report("Looking for slips …")
        slips = slips_of(experiment)
        report("Working out the yields …")
        yields = tuple(
            (name, f"{yield_sentence(evidence, name)} {compound_sentence(evidence, name)}".strip())
            for name in evidence.candidates
        )
        redox, tests = redox_findings(experiment), suggested_tests(experiment)
    else:
        slips, yields = known.slips, known.yields
        redox, tests = known.redox, known.tests
    report("Working out the effects …")
    causes = causes_for(evidence, question.candidate, residue=question.residue)
    by_key = {cause.effect.key: cause.effect for cause in causes}
    pair = question.pair
    if pair[0] == pair[1] or not {*pair} <= by_key.keys():
        pair = usual_pair(causes)
    combination = None
    if all(pair):
        combination = combine(evidence, question.candidate, by_key[pair[0]], by_key[pair[1]])
    return Findings(
        question=Question(
            evidence=evidence,
            candidate=question.candidate,
            residue=question.residue,
            pair=pair,
        ),
        diagnosis=evidence.diagnosis,
        slips=slips,
        yields=yields,
        causes=causes,
        combination=combination,
        redox=redox,
        tests=tests,
    )


def usual_candidate(evidence: Evidence) -> str:
    """Return the candidate to begin with: the nearest that the readings exclude.

    When they exclude none or all, or cannot be judged, the nearest of all.

    >>> from stoichkit import assess, experiments
    >>> usual_candidate(assess(experiments.load("copper-silver")))
    'copper(I)'
    """
    excluded = [one for one in evidence.candidates.values() if not one.compatible]
    unclear = VerdictKind.NONE_FITS, VerdictKind.CANNOT_BE_JUDGED
    if not excluded or evidence.verdict.kind in unclear:
        return evidence.nearest.name

    def distance(one: CandidateEvidence) -> float:
        u = one.standard_uncertainty_mol
        return abs(one.discrepancy_mol) / u if u else math.inf

    return min(excluded, key=distance).name


def usual_pair(causes: Sequence[Cause]) -> tuple[str, str]:
    """Return the keys of the two effects to begin with; empty ones where there are not two.

    Those that make the candidate fit come first, and of the others those that act in another
    way than the first one.
    """
    ranked = sorted(causes, key=lambda cause: (not cause.explains, not cause.possible))
    if len(ranked) < 2:
        return "", ""
    first = ranked[0].effect
    other = [c.effect for c in ranked[1:] if c.effect.actions != first.actions]
    return first.key, (other[0] if other else ranked[1].effect).key


MAX_WEIGHINGS = 100
"""Most weighings that are read."""
_BETWEEN = re.compile(r"\s*;\s*|,\s+|\s+")
"""A comma alone is a decimal comma."""


@dataclass(frozen=True, slots=True)
class DryingOutcome:
    """What follows from the lines typed."""

    found: Drying | None = None
    refusal: Refusal | None = None
    questions: tuple[str, ...] = ()


def read_weighings(text: str) -> list[tuple[float, str]]:
    """Read lines of a time in min and a mass in g.

    >>> read_weighings("0 1.842; \\n\\n10; 1,571\\n20, 1.469")
    [(0.0, '1.842'), (10.0, '1,571'), (20.0, '1.469')]
    """
    lines = [(i, line.strip()) for i, line in enumerate(text.splitlines(), start=1)]
    lines = [(i, line) for i, line in lines if line]
    if len(lines) > MAX_WEIGHINGS:
        raise ReadingError(
            "There are too many weighings.", given=len(lines), allowed=f"at most {MAX_WEIGHINGS}"
        )
    found = []
    for i, line in lines:
        parts = [part for part in _BETWEEN.split(line) if part]
        if len(parts) != 2:
            raise ReadingError(
                f"Line {i}: this is not a time and a mass.",
                given=line,
                allowed="two numbers, min and g, with a space or a semicolon between them",
            )
        try:
            time_min = parse_number(parts[0], "time").value
            parse_number(parts[1], "mass")
        except StoichkitError as error:
            raise ReadingError(
                f"Line {i}: {error.problem}",
                given=error.given,
                allowed=error.allowed,
                fix=error.fix,
            ) from error
        found.append((time_min, parts[1]))
    return found


def weighed(text: str, balance: Balance | None) -> DryingOutcome:
    """Say what the lines typed tell about dryness; nothing is said while they are empty.

    >>> weighed("0 20.52\\n10 20.36\\n20 20.35", Balance(readability_g=0.01)).found.constant
    True
    >>> print(weighed("0 20.52\\n10 a", Balance(readability_g=0.01)).refusal)
    Line 2: The mass is not a number. Given: a. Allowed: digits with at most one decimal mark...
    """
    if not text.strip():
        return DryingOutcome()
    if balance is None:
        return DryingOutcome(refusal=Refusal("This lab has no balance."))
    try:
        weighings = read_weighings(text)
        found = drying(weighings, balance)
    except StoichkitError as error:
        return DryingOutcome(refusal=refusal_of(error))
    odd = [q for _, mass in weighings for q in balance.check(parse_number(mass, "mass"))]
    return DryingOutcome(found, None, tuple(dict.fromkeys(odd)))


_PART = "causes"
"""Name under which the choices are remembered in the history."""


class CausesChange(StrEnum):
    """What subscribers are told has changed."""

    DRYING = "the weighings of the drying, or their balance"
    CHOICE = "the candidate, the residue or the two effects"
    READINGS = "the readings"
    LOADED = "everything: another lab, or what was remembered"


@dataclass(frozen=True, slots=True)
class Choices:
    """What is typed and chosen for one lab, exactly as typed."""

    candidate: str = ""
    residue: str = ""
    pair: tuple[str, str] = ("", "")
    weighings: str = ""
    balance: str = ""


class CausesState(Telling[CausesChange]):
    """The lab, the chosen candidate and effects, and the typed weighings of the drying.

    >>> state = CausesState("copper-silver")
    >>> state.candidate, state.verdict_current
    ('copper(I)', True)
    >>> state.set_residue("AgNO_3!")
    >>> state.residue_refusal is not None, state.choices.residue, state.residue
    (True, 'AgNO_3!', '')
    """

    def __init__(self, readings: ReadingsState | Experiment | str = "copper-silver") -> None:
        self.readings = readings if isinstance(readings, ReadingsState) else ReadingsState(readings)
        self.choices = Choices()
        super().__init__()
        self._outcome: Callable[[], Outcome] = lambda: self.readings.outcome
        self._good_residue = ""
        self._stop = self.readings.subscribe(self._follow)
        self.readings.history.join(_PART, lambda: self.choices, self.restore)

    def look_at(self, outcome: Callable[[], Outcome]) -> None:
        """Find the causes of another outcome than that of the readings as typed."""
        self._outcome = outcome

    def stop(self) -> None:
        """Stop listening to the readings, and leave their history."""
        self._stop()
        self.readings.history.leave(_PART)

    # The lab

    @property
    def evidence(self) -> Evidence | None:
        """Evidence of the readings, or of what is looked at in their place."""
        return self._outcome().evidence

    @property
    def experiment(self) -> Experiment:
        """The record that the evidence is of."""
        return self._outcome().experiment

    @property
    def verdict_current(self) -> bool:
        """Whether the evidence is that of the texts as they stand."""
        return self.readings.outcome.current

    @property
    def candidates(self) -> tuple[str, ...]:
        """Names of the candidates that can be chosen."""
        return () if self.evidence is None else tuple(self.evidence.candidates)

    @property
    def candidate(self) -> str:
        """The chosen candidate; :func:`.usual_candidate` until one is chosen; "" if none is."""
        if self.choices.candidate in self.candidates:
            return self.choices.candidate
        return usual_candidate(self.evidence) if self.evidence is not None else ""

    @property
    def effects(self) -> tuple[tuple[str, str], ...]:
        """Key and name of the effects that can occur in this lab."""
        return tuple((one.key, one.name) for one in effects_for(self.experiment))

    @property
    def question(self) -> Question | None:
        """What there is to be found; None while there is no evidence."""
        if self.evidence is None:
            return None
        return Question(
            evidence=self.evidence,
            candidate=self.candidate,
            residue=self.residue,
            pair=self.choices.pair,
        )

    def choose(self, candidate: str) -> None:
        """Take another candidate."""
        if candidate not in self.candidates:
            raise ModelError(
                "There is no such candidate.", given=candidate, allowed=", ".join(self.candidates)
            )
        self._change(CausesChange.CHOICE, f"chose {candidate}", candidate=candidate)

    def combine(self, key_a: str, key_b: str) -> None:
        """Take two other effects to be combined."""
        keys = [key for key, _ in self.effects]
        for key in (key_a, key_b):
            if key not in keys:
                raise ModelError(
                    "There is no such effect in this lab.", given=key, allowed=", ".join(keys)
                )
        if key_a == key_b:
            raise ModelError("Both effects are the same.", fix="Choose two different ones.")
        self._change(CausesChange.CHOICE, "chose two effects", pair=(key_a, key_b))

    def pick(self, place: int, key: str, shown: tuple[str, str]) -> None:
        """Take another effect for the first (0) or the second (1) of the two that are shown.

        The one that stands in the other place changes places with it.

        >>> state = CausesState("copper-silver")
        >>> state.pick(1, "wet product", ("wet product", "damp metal"))
        >>> state.choices.pair
        ('damp metal', 'wet product')
        """
        pair = [*shown]
        if key == pair[1 - place]:
            pair.reverse()
        else:
            pair[place] = key
        self.combine(pair[0], pair[1])

    @property
    def leaves_salt(self) -> bool:
        """Whether poor washing can leave a salt in the product.

        >>> CausesState("copper-silver").leaves_salt, CausesState("tin-oxide").leaves_salt
        (True, False)
        """
        return "residue salt" in dict(self.effects)

    # The residue

    def set_residue(self, text: str) -> None:
        """Take over the formula of the salt as typed; an empty one is none in particular."""
        self._change(CausesChange.CHOICE, "typed the residue", residue=text)

    @property
    def residue(self) -> str:
        """The last formula typed that could be used."""
        return self._good_residue

    @property
    def residue_refusal(self) -> Refusal | None:
        """Why the formula typed cannot be used; None if it can."""
        try:
            self._residue_formula()
        except FormulaError as error:
            return refusal_of(error)
        return None

    def _residue_formula(self) -> str:
        typed = self.choices.residue.strip()
        if not typed:
            return ""
        formula = parse_formula(typed)
        if formula.charge:
            raise FormulaError(
                "The formula has a charge, and a salt has none.",
                given=typed,
                fix="Type all of its ions, such as AgNO3.",
            )
        return typed

    # Drying

    @property
    def dries(self) -> bool:
        """Whether anything in this lab is brought to a constant mass.

        >>> CausesState("tin-oxide").dries, CausesState("magnesium-gas").dries
        (True, False)
        """
        lab = self.experiment
        sides = (("consumed", lab.consumed), ("produced", lab.produced))
        return any(model.care(lab.setting(side)).balance for side, model in sides)

    @property
    def balances(self) -> tuple[str, ...]:
        """Names of the balances of this lab."""
        instruments = self.experiment.instruments.items()
        return tuple(name for name, one in instruments if isinstance(one, Balance))

    @property
    def balance(self) -> str:
        """The balance chosen for drying; the first one until one is chosen, "" without any."""
        if self.choices.balance in self.balances:
            return self.choices.balance
        return next(iter(self.balances), "")

    def set_weighings(self, text: str) -> None:
        """Take over the lines of time and mass as typed; see :func:`.read_weighings`."""
        self._change(CausesChange.DRYING, "typed the drying", weighings=text)

    def set_balance(self, name: str) -> None:
        """Take another balance for the drying."""
        if name not in self.balances:
            raise ModelError(
                "There is no balance of that name.",
                given=name,
                allowed=", ".join(self.balances) or None,
            )
        self._change(CausesChange.DRYING, f"chose {name} for the drying", balance=name)

    @property
    def drying(self) -> DryingOutcome:
        """What the weighings typed say about dryness.

        >>> state = CausesState("tin-oxide")
        >>> state.set_weighings("0 1.842; 10 1.571")
        >>> print(state.drying.refusal.problem)
        Line 1: this is not a time and a mass.
        """
        balance = self.experiment.instruments.get(self.balance)
        found = balance if isinstance(balance, Balance) else None
        return weighed(self.choices.weighings, found)

    # Changes

    def restore(self, choices: Choices) -> None:
        """Bring back what was typed and chosen."""
        self.choices, self._good_residue = choices, ""
        self._keep_residue()
        self._tell(CausesChange.LOADED)

    def _change(self, change: CausesChange, words: str, **fields: Any) -> None:
        """Take over a field unless it is as it was; texts typed on are one step to undo."""
        changed = replace(self.choices, **fields)
        if changed == self.choices:
            return
        typed = fields.keys() & {"residue", "weighings"}
        self.readings.history.record(words, key=(_PART, *typed) if typed else None)
        self.choices = changed
        self._keep_residue()
        self._tell(change)

    def _keep_residue(self) -> None:
        if self.residue_refusal is None:
            self._good_residue = self._residue_formula()

    def _follow(self, change: Change) -> None:
        """Pass a change of the readings on; another lab has choices of its own."""
        if change is Change.FORM:
            self.restore(Choices())
        else:
            self._tell(CausesChange.READINGS)
