"""What the causes panel asks about one lab, and what is found, apart from what is typed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ..causes import Cause, Combination, causes_for, combine
from ..evidence import CandidateEvidence, Evidence
from ..redox import RedoxFinding, SpotTest, redox_findings, suggested_tests
from ..sentences import yield_sentence
from ..slips import Slip, find_slips
from ..verdict import VerdictKind
from .work import Report, silent

__all__ = ["Findings", "Question", "find", "usual_candidate", "usual_pair"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What is to be found out.

    Attributes
    ----------
    evidence : Evidence
    candidate : str
        The candidate whose effects are asked for.
    residue : str
        Formula of the salt that poor washing would leave; "" for none in particular.
    pair : (str, str)
        Keys of the two effects to be combined; those that do not occur in this lab, or are the
        same, are replaced by the usual ones.
    """

    evidence: Evidence
    candidate: str
    residue: str = ""
    pair: tuple[str, str] = ("", "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Findings:
    """What was found.

    Attributes
    ----------
    question : Question
        With the pair of effects that was combined.
    slips : tuple of Slip
    yields : tuple of (str, str)
        Name of each candidate and the sentence on its yield.
    causes : tuple of Cause
        Of the candidate asked for.
    combination : Combination or None
        None in a lab with fewer than two effects.
    redox : tuple of RedoxFinding
    tests : tuple of (str, SpotTest)
        Candidate and spot test that would confirm it.
    """

    question: Question
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

    Parameters
    ----------
    question : Question
    report : callable
        Told what is being looked for.
    known : Findings, optional
        Of another question; what it says about the same evidence is taken over.

    Returns
    -------
    Findings

    Examples
    --------
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
        slips = find_slips(experiment)
        report("Working out the yields …")
        yields = tuple((name, yield_sentence(evidence, name)) for name in evidence.candidates)
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
        slips=slips,
        yields=yields,
        causes=causes,
        combination=combination,
        redox=redox,
        tests=tests,
    )


def usual_candidate(evidence: Evidence) -> str:
    """Return the candidate to begin with: the nearest that the readings exclude.

    When they exclude none, the nearest of all.

    >>> from stoichkit import assess, experiments
    >>> usual_candidate(assess(experiments.load("copper-silver")))
    'copper(I)'
    """
    excluded = [one for one in evidence.candidates.values() if not one.compatible]
    if not excluded or evidence.verdict.kind is VerdictKind.NONE_FITS:
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
