"""How far a verdict can be trusted, in words: what would overturn it, and how probable it is."""

from __future__ import annotations

import math

from ..text.parts import Table
from ..text.wording import capitalised, joined, species_text, two_digits
from ..uncertainty import entry
from .evidence import Evidence
from .overturning import Fault, FaultKind
from .statement import concluded
from .verdict import VerdictKind

CLOSE_STEPS = 2.0
"""Display steps below which a fault in the readings is said to be close."""
_NAMED, _MOST_NAMED = 2, 3
_ONE_IN = 1000
_SHIFTS = (FaultKind.PRODUCED, FaultKind.CONSUMED, FaultKind.ONE_READING, FaultKind.DRIFT)
_BEGUN = {
    VerdictKind.SINGLED_OUT: "{} stands unless",
    VerdictKind.NOT_TOLD_APART: "{} would be another if",
    VerdictKind.NONE_FITS: "A candidate would fit if",
}


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
    said = [close_sentence(evidence), overturning_sentence(evidence), chance_sentence(evidence)]
    return [sentence for sentence in said if sentence]


def close_sentence(evidence: Evidence) -> str:
    """Warn of a candidate singled out that a fault of less than two display steps would overturn.

    "" for any other verdict.
    """
    found = entry.record("evidence", evidence, Evidence).overturned_by
    close = [f for f in found if f.kind in _SHIFTS and f.steps < CLOSE_STEPS]
    if evidence.verdict.kind is not VerdictKind.SINGLED_OUT or not close:
        return ""
    return "This hangs on the last digits: a fault of less than two display steps would change it."


def overturning_sentence(evidence: Evidence, verdict: str = "It") -> str:
    """Name the two nearest faults that would overturn a verdict; "" where nothing can be judged.

    ``verdict`` is what the sentence calls it.

    >>> from stoichkit import assess, experiments
    >>> print(overturning_sentence(assess(experiments.load("tin-oxide"))))
    It stands unless one reading of “crucible + tin” is 0.073 g too low or “crucible + tin” reads
    0.071 g too low in every trial.
    """
    found = entry.record("evidence", evidence, Evidence).overturned_by
    verdict = entry.text("verdict", verdict)
    kind = evidence.verdict.kind
    if kind is VerdictKind.CANNOT_BE_JUDGED:
        return ""
    if not found:
        return "No fault of a size met in such labs would change this."
    near = joined([fault_words(fault, evidence) for fault in found[:_NAMED]], "or")
    return f"{_BEGUN[kind].format(verdict)} {near}."


def chance_sentence(evidence: Evidence) -> str:
    """Say how often the likeliest candidate would be right; "" where nothing can be judged.

    >>> from stoichkit import assess, experiments
    >>> print(chance_sentence(assess(experiments.load("copper-silver-coarse"))))
    Of labs that read like this, about 2 in 3 would be right to name copper(II) and about 1 in 3
    to name copper(I).
    """
    chances = entry.record("evidence", evidence, Evidence).chances
    if chances is None:
        return ""
    if evidence.verdict.kind is VerdictKind.NONE_FITS:
        return (
            f"Of labs that read like this, {out_of(chances.none)} would be right to say "
            "that none of the candidates is true."
        )
    known = evidence.verdict.candidates
    ordered = sorted(chances.by_candidate.items(), key=lambda item: -item[1])
    ordered = [(name, p) for name, p in ordered if name in known][:_MOST_NAMED]
    first, *others = [f"{out_of(p)} would be right to name {name}" for name, p in ordered]
    rest = [one.replace(" would be right", "") for one in others]
    return f"Of labs that read like this, {joined([first, *rest])}."


def prior_sentence(evidence: Evidence) -> str:
    """Say what was thought of the candidates before the readings; "" where nothing can be judged.

    >>> from stoichkit import assess, experiments
    >>> print(prior_sentence(assess(experiments.load("copper-silver"))))
    Before the readings all candidates were taken to be equally probable, with 5 % for none of them.
    """
    chances = entry.record("evidence", evidence, Evidence).chances
    if chances is None:
        return ""
    none = f"{100 * chances.prior.none:.3g} % for none of them"
    if not chances.prior.weights:
        return (
            "Before the readings all candidates were taken to be equally probable, with "
            f"{none}{'' if evidence.experiment.prior is None else ', as the experiment states'}."
        )
    shares = chances.prior.shares(chances.by_candidate)
    left = 1 - chances.prior.none
    stated = [f"{100 * left * share:.3g} % for {name}" for name, share in shares.items()]
    return f"Before the readings the experiment states {joined([*stated, none])}."


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


def fault_words(fault: Fault, evidence: Evidence, *, times: bool = True) -> str:
    """Say what a fault would be, as a clause after "unless" or "if".

    ``times``: with how many times what is stated that is.
    """
    beside = _times(fault, evidence) if times else ""
    lab, kind = evidence.experiment, fault.kind
    size = f"{two_digits(abs(fault.size))} {fault.unit}".strip()
    percent = f"{two_digits(100 * abs(fault.size))} %"
    made = species_text(lab.produced.species)
    used = species_text(lab.consumed.species)
    off = "low" if fault.size > 0 else "high"
    if kind is FaultKind.REPEATABILITY:
        return f"the {fault.subject} repeats worse than {size}{beside}"
    if kind in (FaultKind.PRODUCED, FaultKind.CONSUMED):
        both = {lab.consumed.span.high, lab.consumed.span.low} & {
            lab.produced.span.high,
            lab.produced.span.low,
        }
        if fault.reading in both or fault.unit != "g":  # or it is no mass of one substance
            return f"“{fault.reading}” reads {size} too {off} in every trial"
        if kind is FaultKind.CONSUMED:
            more = "more" if fault.size > 0 else "less"
            return f"{size} {more} {used} was used up in every trial than the readings show"
        if fault.size < 0:
            return f"{size} of what was weighed as {made} in every trial was something else"
        return f"{size} of {made} is missing from every trial"
    if kind is FaultKind.DRIFT:
        return f"the {fault.subject} drifts by {size} from each weighing to the next"
    if kind is FaultKind.CALIBRATION:
        return f"the {fault.subject} and the {lab.consumed.span.instrument} disagree by {percent}"
    if kind is FaultKind.RECOVERY:
        low, high = lab.recovery
        if fault.size < 0:
            return f"only {two_digits(100 * (low + fault.size))} % of the {made} was recovered"
        return f"{100 * (high + fault.size):.0f} % of the {made} there was has been measured"
    if kind is FaultKind.ONE_READING:
        one = "one reading of " if len(lab.trials) > 1 else ""
        return f"{one}“{fault.subject}” is {size} too {off}"
    return f"the trials differ by {percent} in what they recover{beside}"


def _times(fault: Fault, evidence: Evidence) -> str:
    """Say how many times what is stated, or assumed, a fault would be; "" where that is nothing."""
    if math.isnan(fault.times):
        return ""
    instrument = evidence.experiment.instruments.get(fault.subject)
    assumed = instrument is not None and any(
        "repeatability" in one for one in instrument.assumptions()
    )
    return f", {two_digits(fault.times)} times the {'assumed' if assumed else 'stated'}"


def fault_table(evidence: Evidence) -> Table:
    """Return the faults that would overturn a verdict, nearest first.

    Columns: the fault, how large that is beside what is stated or displayed, and what the readings
    would then do.

    >>> from stoichkit import assess, experiments
    >>> fault_table(assess(experiments.load("copper-silver"))).rows[0]
    ('One reading of “wire before” is 0.10 g too low', '10 display steps',
    'cannot tell copper(I) from copper(II)')
    """
    total = len(entry.record("evidence", evidence, Evidence).candidates)
    rows = []
    for fault in evidence.overturned_by:
        beside = _times(fault, evidence).removeprefix(", ")
        if not beside and not math.isnan(fault.steps):
            steps = two_digits(fault.steps)
            beside = f"{steps} display step{'' if steps == '1.0' else 's'}"
        led = concluded(fault.verdict.candidates, total)
        words = fault_words(fault, evidence, times=False)
        rows.append((capitalised(words), beside or "–", led))
    header = ("Fault", "That is", "The readings then")
    return Table(header, tuple(rows), "The smallest fault of each kind")


def chance_table(evidence: Evidence) -> Table | None:
    """Return how probable each candidate is, before and after; None where nothing can be judged.

    >>> from stoichkit import assess, experiments
    >>> chance_table(assess(experiments.load("copper-silver-coarse"))).rows[-1]
    ('none of them', '5 %', '3.8 %')
    """
    chances = entry.record("evidence", evidence, Evidence).chances
    if chances is None:
        return None
    before = {n: (1 - chances.prior.none) * s for n, s in chances.prior.shares(
        chances.by_candidate).items()}  # fmt: skip
    least = math.ulp(0.0)  # readings make nothing impossible, if too small to be a number
    rows = [
        (name, _percent(before[name]), _percent(max(p, least if before[name] else 0.0)))
        for name, p in chances.by_candidate.items()
    ]
    rows.append(("none of them", _percent(chances.prior.none), _percent(chances.none)))
    header = ("Candidate", "Probability before", "After the readings")
    return Table(header, tuple(rows), "How probable each candidate is")


def _percent(p: float) -> str:
    if p < 0.0005:
        return "< 0.05 %" if p else "0 %"
    if 0.9995 <= p < 1:
        return "> 99.95 %"
    return f"{100 * p:.1f}".removesuffix(".0") + " %"
