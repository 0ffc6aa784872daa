"""One line under every verdict: what most likely stands behind it, and what to do about it.

What is found first is said, in this order: a reading that looks mistyped, an amount below zero or a
mass that was still changing, trials that scatter, all trials shifted alike, nothing that shows a
reaction, an instrument that limits the answer, nothing at all. A lab without a fault is accused of
one in at most 1 % of cases: slips at 1 %, shifts at ``SHIFT_LEVEL``, scatter at ``SCATTER_LEVEL``
(each of them less, since display readings are taken at their worst position).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import pairwise

from ..chemistry.candidates import Candidate
from ..decision.evidence import Evidence, assess
from ..decision.sentences import grouped_budget, reading_shares
from ..decision.statement import concluded, would
from ..decision.verdict import (
    CaveatKind,
    Diagnosis,
    DiagnosisKind,
    Reason,
    Verdict,
    VerdictKind,
)
from ..errors import StoichkitError
from ..experiments.record import Experiment
from ..text.wording import joined, p_clause, shown_range, species_text, two_digits
from ..uncertainty import entry
from ..uncertainty.sources import nominal
from .causes import causes_for
from .slips import TURNED_ROUND, Slip, SlipKind, corrected, find_slips

SHIFT_LEVEL = 0.002
"""Every candidate must be this improbable before all trials are said to be shifted."""
SCATTER_LEVEL = 0.001
"""Chance of the scatter below which trials are said to scatter, if the verdict allows for it."""
STILL_SCATTERS = 0.02
"""Chance of the scatter below which trials do not agree, as they stand or with slips corrected."""
_MOST_EFFECTS = 3
_ENOUGH = 3.25
"""Standard uncertainties between two candidates that are told apart 9 times in 10 at 95 %."""
_MORE_HELPS = ("rounding", "repeatability", "linearity")


@lru_cache(maxsize=64)
def slips_of(experiment: Experiment) -> tuple[Slip, ...]:
    """Return what :func:`find_slips` does at its usual level, and remember it.

    >>> from stoichkit import experiments
    >>> slips_of(experiments.load("copper-silver"))
    ()
    """
    return find_slips(experiment)


def diagnose(evidence: Evidence, *, slips: Iterable[Slip] | None = None) -> Diagnosis:
    """Say in one line what most likely stands behind a verdict, and what to do about it.

    Parameters
    ----------
    evidence : Evidence
    slips : iterable of Slip, optional
        Those of its readings if they were looked for beside others, as those of a class are;
        looked for among its own trials if left out.

    Returns
    -------
    Diagnosis
        With its ``kind``, one ``sentence``, the reading or the effects meant and, for a slip, the
        verdict if it were corrected. ``Evidence.diagnosis`` is the same.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> lab = experiments.load("copper-silver")
    >>> diagnose(assess(lab)).kind.value
    'clear'
    >>> found = diagnose(assess(lab.with_reading("bench 3", "wire before", "1.34")))
    >>> found.kind.value, found.readings, found.corrected, found.if_corrected.candidates
    ('one reading looks mistyped', ('wire before',), ('3.14',), ('copper(II)',))
    """
    entry.record("evidence", evidence, Evidence)
    every = slips_of(evidence.experiment) if slips is None else entry.listed("slips", slips, Slip)
    mistyped = [slip for slip in every if slip.corrected]
    if mistyped:
        corrected_to = _if_corrected(evidence, mistyped)
        off_grid = any(slip.kind is SlipKind.OFF_GRID for slip in mistyped)
        if off_grid or _explained(evidence, corrected_to):
            verdict = None if corrected_to is None else corrected_to.verdict
            return _mistyped(evidence, mistyped, verdict)
    if evidence.verdict.kind is VerdictKind.CANNOT_BE_JUDGED:
        return _unjudged(evidence.verdict)
    return (
        _scattered(evidence, every)
        or _shifted(evidence)
        or _nothing(evidence)
        or _limited(evidence)
        or _clear(evidence)
    )


def _explained(evidence: Evidence, corrected_to: Evidence | None) -> bool:
    """Return whether corrections put a lab right; one that scatters anyhow was not mistyped.

    Nor is one put right in which nothing is left that reacted: that fits every candidate.
    """
    if corrected_to is None or evidence.verdict.kind is VerdictKind.CANNOT_BE_JUDGED:
        return True
    if _nothing_reacted(corrected_to.verdict):
        return False
    scatter = corrected_to.scatter
    if scatter is not None and scatter.p_value < STILL_SCATTERS:
        return False
    none = corrected_to.verdict.kind is VerdictKind.NONE_FITS
    return not none or corrected_to.nearest.p_value >= SHIFT_LEVEL


def _mistyped(evidence: Evidence, slips: Sequence[Slip], verdict: Verdict | None) -> Diagnosis:
    """Name the first slip, and the verdict with the first correction of every trial."""
    first, owners = slips[0], list(dict.fromkeys(slip.trial for slip in slips))
    where = f" in trial {first.trial}" if first.trial else " in every trial"
    names = joined([f"“{name}”" for name in first.readings])
    if len(first.readings) == 1:
        what = (
            f"One reading looks mistyped{where}: {names} reads {first.typed[0]} and may have been "
            f"{first.corrected[0]}"
        )
    elif first.kind is SlipKind.SWAPPED and first.rule != TURNED_ROUND:
        what = f"Two readings look swapped{where}: {names}"
    elif first.kind is SlipKind.SWAPPED:
        what = f"Both differences look the wrong way round{where}: {names}"
    else:
        what = f"Readings look mistyped{where} ({first.kind}): {names}"
    if len(owners) > 1:
        what += f" ({len(owners) - 1} more below)"
    then = "Check the notebook; nothing was changed."
    if verdict is not None:
        led = (
            "could still not be judged"
            if verdict.kind is VerdictKind.CANNOT_BE_JUDGED
            else "would not show that anything reacted"
            if verdict.reason is Reason.NOTHING_REACTED
            else would(concluded(verdict.candidates, len(evidence.candidates)))
            if verdict.candidates
            else "would still fit none of the candidates"
        )
        then = f"Corrected, these readings {led}. {then}"
    return Diagnosis(
        kind=DiagnosisKind.MISTYPED,
        sentence=f"{what}. {then}",
        trial=first.trial,
        readings=first.readings,
        typed=first.typed,
        corrected=first.corrected,
        if_corrected=verdict,
    )


def _if_corrected(evidence: Evidence, slips: Sequence[Slip]) -> Evidence | None:
    """Return the evidence with the first correction of every trial; None if it cannot be read."""
    experiment, done = evidence.experiment, set[str]()
    try:
        for slip in slips:
            if slip.trial in done and slip.kind is not SlipKind.OFF_GRID:
                continue
            done.add(slip.trial)
            experiment = corrected(experiment, slip)
        return assess(experiment, coverage=evidence.together)
    except StoichkitError:
        return None


def _unjudged(verdict: Verdict) -> Diagnosis:
    if verdict.reason is Reason.NOT_CONSTANT:
        return Diagnosis(
            kind=DiagnosisKind.NOT_CONSTANT,
            sentence=(
                f"Not constant: the mass was still changing at {joined(list(verdict.about))}. "
                "Heat, cool and weigh again until two weighings agree."
            ),
            readings=verdict.about,
        )
    return Diagnosis(
        kind=DiagnosisKind.CANNOT_BE_JUDGED,
        sentence=(
            "No single slip of the pen explains the amount below zero: look whether the readings "
            "of a whole column stand in the place of another."
        ),
    )


def _scattered(evidence: Evidence, slips: Sequence[Slip]) -> Diagnosis | None:
    """Say that the trials scatter, and which stands apart from its fellows, if one does."""
    apart = next((slip.trial for slip in slips if slip.kind is SlipKind.OUTLYING), "")
    scatter = evidence.scatter
    excess = scatter is not None and scatter.excess and scatter.p_value < SCATTER_LEVEL
    if not apart and not excess:
        return None
    spread = scatter.ratio_of_spread if scatter is not None else math.nan
    farthest = apart or _farthest(evidence)
    most = f", {farthest} most of all" if farthest else ""
    if not math.isfinite(spread):
        size = "by more than any error of their readings"
    elif spread > 1:
        size = f"{spread:.2g} times as much as their readings explain"
    else:
        size = "by more than their readings explain"
    return Diagnosis(
        kind=DiagnosisKind.SCATTERED,
        sentence=(
            f"The trials scatter {size}{most}. Find out what was done differently from trial to "
            "trial: how long it reacted, how well it was washed and dried."
        ),
        trial=farthest,
        spread=spread,
    )


def _farthest(evidence: Evidence) -> str:
    """Return the trial farthest from the ratio of the mean amounts; "" of two."""
    if len(evidence.amounts) < 3 or not math.isfinite(evidence.ratio):
        return ""
    off = [nominal(b) - evidence.ratio * nominal(a) for a, b in evidence.amounts]
    place = max(range(len(off)), key=lambda i: abs(off[i]))
    return evidence.experiment.trials[place].name


def _shifted(evidence: Evidence) -> Diagnosis | None:
    """Say by how much all trials are off where no candidate fits, and what could do that."""
    if evidence.verdict.kind is not VerdictKind.NONE_FITS:
        return None
    nearest, ratio = evidence.nearest, evidence.ratio
    if _missed_by(evidence) >= SHIFT_LEVEL:
        clause = p_clause(nearest.p_value, evidence.coverage)
        return Diagnosis(
            kind=DiagnosisKind.NEAR_MISS,
            sentence=(
                f"{nearest.name} is missed by a narrow margin ({clause}), as happens now and then "
                "to a lab without a fault: make more trials before looking for one."
            ),
        )
    if any(one.kind is CaveatKind.NOT_RESOLVED for one in evidence.warnings):
        text = nothing_used(species_text(evidence.experiment.consumed.species))
        return Diagnosis(kind=DiagnosisKind.SHIFTED, sentence=text)
    shift, off = shift_in_words(evidence.experiment, ratio, nearest.candidate)
    who = "All trials are shifted alike" if len(evidence.amounts) > 1 else "The trial is shifted"
    allowed = evidence.experiment.recovery != (1.0, 1.0)
    causes = causes_for(evidence, nearest.name, beyond_recovery=allowed)
    found = [cause for cause in causes if cause.explains]
    names = tuple(cause.effect.name for cause in found)
    shown = list(names[:_MOST_EFFECTS])
    if len(names) > _MOST_EFFECTS:
        shown.append(f"{len(names) - _MOST_EFFECTS} more")
    could = (
        f"Could be: {joined(shown, 'or')}; or a candidate that is not listed."
        if names
        else "No effect known for this kind of lab explains it: look for a missing candidate."
    )
    return Diagnosis(
        kind=DiagnosisKind.SHIFTED,
        sentence=f"{who}: {off}. {could}",
        effects=names,
        shift=shift,
    )


def nothing_used(consumed: str) -> str:
    """Say what stands behind a product of which nothing seems to have been made."""
    return (
        f"There is a product, but nothing shows that any {consumed} was used up: look at the "
        f"readings of {consumed}, and let more react."
    )


def _missed_by(evidence: Evidence) -> float:
    """Return the p-value by which the nearest candidate is excluded.

    By the readings alone where the trials agree: what scatter there might have been says nothing
    of a lab far off every candidate.
    """
    experiment, scatter = evidence.experiment, evidence.scatter
    unknown = experiment.variation is not None and experiment.variation.unknown
    if not unknown or scatter is None or scatter.p_value < STILL_SCATTERS:
        return evidence.nearest.p_value
    return assess(replace(experiment, variation=None)).nearest.p_value


def shift_in_words(experiment: Experiment, ratio: float, candidate: Candidate) -> tuple[float, str]:
    """Return by which part of it a ratio is off a candidate's, and that in words.

    With a recovery stated it is told from the end of it that the ratio passes.
    """
    full = float(candidate.ratio)
    least, most = experiment.recovery
    part = min(max(ratio / full, least), most)
    shift = ratio / (full * part) - 1
    more = "more" if shift > 0 else "less"
    made = species_text(experiment.produced.species)
    recovered = "" if part == 1 else f" with {two_digits(100 * part)} % of it recovered"
    off = f"{two_digits(100 * abs(shift))} % {more} {made}"
    return shift, f"{off} than {candidate.name}, the nearest candidate, would give{recovered}"


def _nothing_reacted(verdict: Verdict) -> bool:
    """Return whether the verdict, or a warning of it, is that nothing shows a reaction."""
    shown = CaveatKind.NOTHING_SHOWN not in (one.kind for one in verdict.warnings)
    return not shown or verdict.reason is Reason.NOTHING_REACTED


def _nothing(evidence: Evidence) -> Diagnosis | None:
    if not _nothing_reacted(evidence.verdict):
        return None
    return Diagnosis(
        kind=DiagnosisKind.NOTHING_REACTED,
        sentence=(
            "Nothing shows that anything reacted: see whether it did, and let more react before "
            "anything else is changed."
        ),
    )


def _limited(evidence: Evidence) -> Diagnosis | None:
    """Say what keeps the candidates that fit from being told apart."""
    if evidence.verdict.kind is not VerdictKind.NOT_TOLD_APART:
        return None
    fitting = [evidence.candidates[name] for name in evidence.verdict.candidates]
    fitting.sort(key=lambda one: one.ratio)
    (low, high) = min(pairwise(fitting), key=lambda pair: pair[1].ratio - pair[0].ratio)
    two = f"{low.name} and {high.name}"
    experiment = evidence.experiment
    if experiment.recovery != (1.0, 1.0) and _alone(replace(experiment, recovery=(1.0, 1.0))):
        least, most = experiment.recovery
        a, b = shown_range(100 * least, 100 * most)
        return Diagnosis(
            kind=DiagnosisKind.LIMITED,
            sentence=(
                f"Limited by the recovery stated, {a} % to {b} %: with all of the product "
                "recovered one candidate would be left. Find out how much is lost."
            ),
        )
    unknown = experiment.variation is not None and experiment.variation.unknown
    if unknown and _alone(replace(experiment, variation=None)):
        return Diagnosis(
            kind=DiagnosisKind.LIMITED,
            sentence=(
                "Limited by how few trials there are to show how much they differ: by the "
                "readings alone one candidate would be left. Make more trials."
            ),
        )
    return _by_reading(evidence, two, high.ratio - low.ratio)


def _alone(experiment: Experiment) -> bool:
    """Return whether a record singles out a candidate."""
    return assess(experiment).verdict.kind is VerdictKind.SINGLED_OUT


def _by_reading(evidence: Evidence, two: str, gap: float) -> Diagnosis:
    """Name the reading or the source that limits the answer, and how much finer it must be."""
    experiment = evidence.experiment
    shares = sorted(reading_shares(evidence).items(), key=lambda item: -item[1])
    first = grouped_budget(evidence)[0] if evidence.budget else None
    if first is None:
        return Diagnosis(kind=DiagnosisKind.LIMITED, sentence=f"{two} are not told apart.")
    if not shares or shares[0][1] < first.share:
        return Diagnosis(
            kind=DiagnosisKind.LIMITED,
            sentence=(
                f"Limited by {first.words}: it makes up {100 * first.share:.0f} % of what is "
                "uncertain, so that is where a better figure helps most."
            ),
        )
    name, share = shares[0]
    role = next(role for role in experiment.roles() if role.name == name)
    n_a, u = nominal(evidence.n_consumed), evidence.nearest.standard_uncertainty_mol
    factor = _ENOUGH * u / (gap * n_a) if n_a > 0 else math.inf
    used = species_text(experiment.consumed.species)
    help_ = f"let more {used} react"
    if first.kind in _MORE_HELPS and 1.2 < factor < 1000:
        step = experiment.instruments[experiment.read_on(name)[0]].readability
        finer = step / 10 ** math.ceil(math.log10(factor))
        help_ = (
            f"about {two_digits(factor)} times as much {used}, or steps of {finer:.12g} "
            f"{role.unit} in place of {step:g} {role.unit}, would tell {two} apart"
        )
    elif factor <= 1.2:
        help_ = "one or two more trials should be enough"
    return Diagnosis(
        kind=DiagnosisKind.LIMITED,
        sentence=(
            f"Limited by the {experiment.read_on(name)[0]}: {100 * share:.0f} % of what is "
            f"uncertain is in reading “{name}”; {help_}."
        ),
        readings=(name,),
    )


def _clear(evidence: Evidence) -> Diagnosis:
    if evidence.scatter is not None and evidence.scatter.excess:
        text = (
            "The trials scatter somewhat more than their readings explain, as those of 1 lab in "
            "100 without a fault do; no reading points to one."
        )
    elif evidence.verdict.kind is VerdictKind.SINGLED_OUT and len(evidence.amounts) == 1:
        text = "No reading points to a fault; a second trial would show whether it repeats."
    else:
        text = "No reading points to a fault."
    return Diagnosis(kind=DiagnosisKind.CLEAR, sentence=text)
