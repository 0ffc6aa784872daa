"""How far a verdict can be trusted, in words: what would overturn it, and how probable it is."""

from __future__ import annotations

import math

from ..text.wording import capitalised, joined, two_digits
from ..uncertainty import entry
from .evidence import Evidence
from .overturning import Fault, FaultKind
from .statement import concluded
from .verdict import VerdictKind

_CLOSE_STEPS = 2.0
_NAMED = 2
_ONE_IN = 1000


def trust_sentences(evidence: Evidence) -> list[str]:
    """Say what would overturn a verdict and how often such an answer is right.

    Nothing where nothing can be judged.

    >>> from stoichkit import assess, experiments
    >>> for sentence in trust_sentences(assess(experiments.load("copper-silver"))):
    ...     print(sentence)
    It stands unless one reading of “wire before” is 0.10 g too low or 0.11 g more Cu was used up
    in every trial than the readings show.
    Of labs that read like this, about 993 in 1,000 would be right to name copper(II).
    """
    found = entry.record("evidence", evidence, Evidence).overturned_by
    said = []
    if found:
        begun = {
            VerdictKind.SINGLED_OUT: "It stands unless",
            VerdictKind.NOT_TOLD_APART: "It would be another if",
            VerdictKind.NONE_FITS: "A candidate would fit if",
        }[evidence.verdict.kind]
        said.append(f"{begun} {joined([fault_words(f, evidence) for f in found[:_NAMED]], 'or')}.")
        close = [f for f in found if f.steps < _CLOSE_STEPS]
        if close and evidence.verdict.kind is VerdictKind.SINGLED_OUT:
            said.insert(0, "A fault of less than two display steps would change this.")
    chance = chance_sentence(evidence)
    return [*said, chance] if chance else said


def chance_sentence(evidence: Evidence) -> str:
    """Say how often the likeliest candidate would be right; "" where nothing can be judged.

    >>> from stoichkit import assess, experiments
    >>> print(chance_sentence(assess(experiments.load("copper-silver-coarse"))))
    Of labs that read like this, about 2 in 3 would be right to name copper(II) and about 1 in 3
    to name copper(I).
    """
    chances = evidence.chances
    if chances is None:
        return ""
    if evidence.verdict.kind is VerdictKind.NONE_FITS:
        return (
            f"Of labs that read like this, {out_of(chances.none)} would be right to say "
            "that none of the candidates is true."
        )
    known = evidence.verdict.candidates
    ordered = sorted(chances.by_candidate.items(), key=lambda item: -item[1])
    ordered = [(name, p) for name, p in ordered if name in known][:3]
    first, *others = [f"{out_of(p)} would be right to name {name}" for name, p in ordered]
    rest = [one.replace(" would be right", "") for one in others]
    return f"Of labs that read like this, {joined([first, *rest])}."


def out_of(chance: float) -> str:
    """Return a probability as so many in so many, coarser in the middle than at its ends.

    >>> [out_of(p) for p in (0.81, 0.5, 0.9993, 0.04)]
    ['about 4 in 5', 'about 1 in 2', 'about 999 in 1,000', 'about 4 in 100']
    >>> out_of(0.99996), out_of(0.0003)
    ('more than 999 in 1,000', 'fewer than 1 in 1,000')
    """
    if chance > 1 - 0.5 / _ONE_IN:
        return f"more than {_ONE_IN - 1} in {_ONE_IN:,}"
    if chance < 0.5 / _ONE_IN:
        return f"fewer than 1 in {_ONE_IN:,}"
    for whole in (2, 3, 4, 5, 10, 20, 100, _ONE_IN):
        part = round(chance * whole)
        off = abs(part / whole - chance)
        if 0 < part < whole and off <= min(chance, 1 - chance) / 8:
            return f"about {part} in {whole:,}"
    return f"about {round(chance * _ONE_IN)} in {_ONE_IN:,}"


def fault_words(fault: Fault, evidence: Evidence) -> str:
    """Say what a fault would be, as a clause after "unless" or "if"."""
    lab = evidence.experiment
    size = f"{two_digits(abs(fault.size))} {fault.unit}".strip()
    percent = f"{two_digits(100 * abs(fault.size))} %"
    made, used = lab.produced.species, lab.consumed.species
    kind = fault.kind
    if kind is FaultKind.REPEATABILITY:
        stated = "" if math.isnan(fault.times) else f", {two_digits(fault.times)} times the stated"
        return f"{fault.subject} repeats no better than {size}{stated}"
    if kind is FaultKind.PRODUCED:
        if fault.size < 0:
            return f"{size} of what was measured as {made} in every trial was something else"
        return f"{size} of {made} is missing from every trial"
    if kind is FaultKind.CONSUMED:
        more = "more" if fault.size > 0 else "less"
        return f"{size} {more} {used} was used up in every trial than the readings show"
    if kind is FaultKind.DRIFT:
        return f"{fault.subject} drifts by {size} from one reading to the next"
    if kind is FaultKind.CALIBRATION:
        other = lab.consumed.span.instrument
        return f"{fault.subject} and {other} disagree by {percent}"
    if kind is FaultKind.RECOVERY:
        low, high = lab.recovery
        if fault.size < 0:
            return f"only {two_digits(100 * (low + fault.size))} % of {made} was recovered"
        return f"{two_digits(100 * (high + fault.size))} % of {made} was weighed as such"
    if kind is FaultKind.ONE_READING:
        way = "low" if fault.size > 0 else "high"
        return f"one reading of “{fault.subject}” is {size} too {way}"
    return f"the trials differ by {percent} in what they recover"


def fault_rows(evidence: Evidence) -> list[tuple[str, str, str]]:
    """Return (fault, beside what is stated or displayed, what it would lead to), nearest first."""
    total = len(evidence.candidates)
    rows = []
    for fault in entry.record("evidence", evidence, Evidence).overturned_by:
        beside = ""
        if not math.isnan(fault.times):
            beside = f"{two_digits(fault.times)} times the stated"
        elif not math.isnan(fault.steps):
            beside = f"{two_digits(fault.steps)} display steps"
        led = capitalised(concluded(fault.verdict.candidates, total))
        rows.append((capitalised(fault_words(fault, evidence)), beside, led))
    return rows
