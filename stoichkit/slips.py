"""Slips: readings that cannot be right as typed, and what they might have been.

A slip is a mistake that can be put right (two readings swapped, digits transposed, a wrong unit);
a physical effect is not (see :mod:`stoichkit.causes`). A corrected value is named only when the
trial as typed is clearly inconsistent with the candidates its fellow trials support, and fits one
of them once corrected. Nothing is changed: the record stays as typed.

"Clearly inconsistent" means a p-value below ``level`` divided by twice the number of trials, so a
lab without mistakes is accused at most ``level`` of the time, as far as the instruments are what
they are said to be. The trial must also differ from its fellows by more than that: an effect that
acts alike in every trial accuses nobody. A single trial has no fellows, and there a physical
effect can look like a slip.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import median

from .errors import ModelError, StoichkitError
from .evidence import linear_amounts
from .experiment import Experiment, Trial
from .slip_kinds import SlipKind, Suspect, off_grid, shared_suspects, suspects

__all__ = ["Slip", "SlipKind", "find_slips"]

LEVEL = 0.01
"""Largest share of labs without mistakes that may be accused."""
_RESTORED = 0.01
_FAR = 10.0
"""Standard uncertainties beyond which a discrepancy is not worth an exact p-value."""
_ORDER = tuple(SlipKind)


@dataclass(frozen=True, slots=True, kw_only=True)
class Slip:
    """A reading that cannot be right as typed.

    Attributes
    ----------
    kind : SlipKind
    trial : str
        Name of the trial; "" for all trials.
    readings : tuple of str
        Names of the readings; empty when only the trial as a whole stands out.
    typed, corrected : tuple of str
        As typed, and what it might have been; ``corrected`` is empty when no single correction
        makes the trial fit. For all trials the values are those of the first.
    candidate : str
        The candidate that fits once corrected; "" for none.
    p_typed, p_corrected : float
        Largest p-value among the supported candidates as typed; that of the candidate once
        corrected (nan without one).
    alternatives : int
        How many corrections would make this trial fit, this one included.
    rule : str
        What was done: the unit, the factor, the pair of readings.
    """

    kind: SlipKind
    trial: str
    readings: tuple[str, ...] = ()
    typed: tuple[str, ...] = ()
    corrected: tuple[str, ...] = ()
    candidate: str = ""
    p_typed: float = float("nan")
    p_corrected: float = float("nan")
    alternatives: int = 1
    rule: str = ""


@dataclass(frozen=True, slots=True)
class _Judged:
    """One trial on its own: p-values by candidate, amounts, and whether all lie above."""

    p: Mapping[str, float]
    consumed_mol: float = 0.0
    over: bool = False

    def fits(self, threshold: float) -> set[str]:
        return {name for name, p in self.p.items() if p >= threshold}


def find_slips(experiment: Experiment, *, level: float = LEVEL) -> tuple[Slip, ...]:
    """Return the readings of an experiment that cannot be right as typed.

    Parameters
    ----------
    experiment : Experiment
    level : float
        Largest share of labs without mistakes that may be accused; above 0, below 0.5.

    Returns
    -------
    tuple of Slip
        For one trial the most usual kind first. A slip that leaves the trial consistent with
        its fellows cannot be seen: equal digits transposed, a change within the noise, the
        same error in two readings that are subtracted, or a single trial moved from one
        candidate to another.

    Raises
    ------
    ModelError
        If the level cannot be used.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> lab = experiments.load("copper-silver")
    >>> find_slips(lab)
    ()
    >>> slip, *_ = find_slips(lab.with_reading("bench 3", "wire before", "1.34"))
    >>> slip.kind.name, slip.trial, slip.readings, slip.corrected
    ('TRANSPOSED', 'bench 3', ('wire before',), ('3.14',))
    """
    if not 0 < level < 0.5:
        raise ModelError(
            "The share of labs that may be accused cannot be used.",
            given=level,
            allowed="above 0, below 0.5",
        )
    threshold = level / (2 * len(experiment.trials))
    judged = [_judged(experiment, trial) for trial in experiment.trials]
    fits = [one.fits(threshold) for one in judged]
    found: list[Slip] = []
    for i, trial in enumerate(experiment.trials):
        fellows = [names for j, names in enumerate(fits) if j != i]
        supported = _supported(experiment, fellows)
        if not supported or fits[i] & supported:
            continue
        good = [j for j, names in enumerate(fits) if j != i and names & supported]
        if _stands_apart(experiment, i, good, supported, threshold):
            others = [judged[j].consumed_mol for j in good]
            found += _of_trial(experiment, trial, judged[i], supported, others)
    if not any(fits):
        found += _of_all(experiment, judged)
    known = {(slip.trial, name) for slip in found for name in slip.readings if slip.corrected}
    grid = [
        Slip(
            kind=SlipKind.OFF_GRID,
            trial=owner,
            readings=(name,),
            typed=(typed,),
            corrected=(nearest,),
        )
        for owner, name, typed, nearest in off_grid(experiment)
        if (owner, name) not in known
    ]
    return (*grid, *found)


def _supported(experiment: Experiment, fellows: Sequence[set[str]]) -> set[str]:
    """Return the candidates that at least half of the other trials fit; all if there are none."""
    names = [c.name for c in experiment.candidates]
    if not fellows:
        return set(names)
    return {name for name in names if 2 * sum(name in one for one in fellows) >= len(fellows)}


def _stands_apart(
    experiment: Experiment, index: int, good: Sequence[int], supported: set[str], threshold: float
) -> bool:
    """Return whether a trial differs from its good fellows by more than a common effect would.

    The same effect in every trial shifts all discrepancies alike and cancels in the difference.
    """
    if not good:
        return True
    trials = experiment.trials
    try:
        pairs = experiment.with_trials([trials[i] for i in (index, *good)]).amounts()
    except StoichkitError:
        return True
    (own_a, own_b), *fellows = pairs
    mean_a = sum(a for a, _ in fellows) / len(fellows)
    mean_b = sum(b for _, b in fellows) / len(fellows)
    linear = linear_amounts(experiment, [(own_a - mean_a, own_b - mean_b)])
    ratios = [float(c.ratio) for c in experiment.candidates if c.name in supported]
    return all(linear.p_value(ratio, 1.0) < threshold for ratio in ratios)


def _judged(experiment: Experiment, trial: Trial, only: Iterable[str] | None = None) -> _Judged:
    """Test the candidates on one trial alone; nothing fits readings that are impossible."""
    names = None if only is None else set(only)
    try:
        linear = linear_amounts(experiment.with_trials([trial]))
    except StoichkitError:
        return _Judged({})
    found, over = {}, True
    for candidate in experiment.candidates:
        if names is not None and candidate.name not in names:
            continue
        ratio = float(candidate.ratio)
        discrepancy = linear.mean(ratio, 1.0)
        spread = linear.distribution(ratio, 1.0).spread
        near = abs(discrepancy) <= _FAR * spread
        found[candidate.name] = linear.p_value(ratio, 1.0) if near else 0.0
        over = over and discrepancy > 0
    consumed = linear.mean_consumed
    if consumed <= 0:  # no candidate makes an amount consumed negative
        against = linear.p_value(1.0, 0.0)
        found = {name: min(p, against) for name, p in found.items()}
    return _Judged(found, consumed, over and consumed > 0)


def _of_trial(
    experiment: Experiment,
    trial: Trial,
    judged: _Judged,
    supported: set[str],
    fellows_mol: Sequence[float],
) -> list[Slip]:
    """Return the corrections that make one trial fit, or say that it stands apart."""
    p_typed = max((judged.p.get(name, 0.0) for name in supported), default=0.0)
    usual = median(fellows_mol) if fellows_mol else 0.0
    ranked: list[tuple[tuple[int, float], Slip]] = []
    for suspect in suspects(experiment, trial.readings):
        again = _judged(experiment, _corrected(trial, suspect), supported)
        best = max(again.p, key=lambda name: again.p[name], default="")
        if not best or again.p[best] < _RESTORED or again.consumed_mol <= 0:
            continue
        away = abs(math.log(again.consumed_mol / usual)) if usual > 0 else 1 - again.p[best]
        typed = tuple(trial.readings[name][-1] for name in suspect.names)
        slip = Slip(
            kind=suspect.kind,
            trial=trial.name,
            readings=suspect.names,
            typed=typed,
            corrected=tuple(text for _, text in suspect.changes),
            candidate=best,
            p_typed=p_typed,
            p_corrected=again.p[best],
            rule=suspect.rule,
        )
        ranked.append(((_ORDER.index(suspect.kind), away), slip))
    if ranked:
        ranked.sort(key=lambda pair: pair[0])
        return [replace(slip, alternatives=len(ranked)) for _, slip in ranked]
    if judged.over:
        return [_overweight(experiment, trial.name, trial, p_typed)]
    if len(fellows_mol) >= 2:
        return [Slip(kind=SlipKind.OUTLYING, trial=trial.name, p_typed=p_typed)]
    return []


def _corrected(trial: Trial, suspect: Suspect) -> Trial:
    changed = dict(trial.readings)
    for name, text in suspect.changes:
        changed[name] = (*changed[name][:-1], text)
    return Trial(trial.name, changed, trial.group)


def _overweight(experiment: Experiment, owner: str, trial: Trial, p_typed: float) -> Slip:
    name = getattr(experiment.produced, "heavier", "") or getattr(experiment.produced, "final", "")
    here = (name,) if name in trial.readings else ()
    return Slip(
        kind=SlipKind.OVERWEIGHT,
        trial=owner,
        readings=here,
        typed=tuple(trial.readings[n][-1] for n in here),
        p_typed=p_typed,
    )


def _of_all(experiment: Experiment, judged: Sequence[_Judged]) -> list[Slip]:
    """Return the mistakes made alike in every trial that would make all of them fit."""
    trials = experiment.trials
    found: dict[tuple[str, ...], Slip] = {}
    for suspect in shared_suspects(experiment):
        changed = experiment
        for name, text in suspect.changes:
            changed = changed.with_reading("", name, text)
        typed = tuple(experiment.shared_readings[n][-1] for n in suspect.names)
        _add_common(found, changed, suspect, typed)
    if len(trials) > 1:
        alike = [
            {(s.kind, s.names, s.rule): s for s in suspects(experiment, t.readings)} for t in trials
        ]
        for key, suspect in alike[0].items():
            if suspect.kind is SlipKind.TRANSPOSED or any(key not in one for one in alike):
                continue
            pairs = zip(trials, alike, strict=True)
            changed = experiment.with_trials([_corrected(t, one[key]) for t, one in pairs])
            typed = tuple(trials[0].readings[n][-1] for n in suspect.names)
            _add_common(found, changed, suspect, typed)
    if found:
        return [replace(slip, alternatives=len(found)) for slip in found.values()]
    if len(trials) > 1 and all(one.over for one in judged):
        return [_overweight(experiment, "", trials[0], 0.0)]
    return []


def _add_common(
    found: dict[tuple[str, ...], Slip],
    changed: Experiment,
    suspect: Suspect,
    typed: tuple[str, ...],
) -> None:
    """Add a correction of every trial if one candidate then fits each of them."""
    names = {c.name for c in changed.candidates}
    p_least = dict.fromkeys(names, 1.0)
    for trial in changed.trials:
        again = _judged(changed, trial, names)
        names = {n for n in names if again.p.get(n, 0.0) >= _RESTORED}
        if not names or again.consumed_mol <= 0:
            return
        p_least = {n: min(p_least[n], again.p[n]) for n in names}
    best = max(names, key=lambda name: p_least[name])
    found[(suspect.kind, *suspect.names, suspect.rule)] = Slip(
        kind=suspect.kind,
        trial="",
        readings=suspect.names,
        typed=typed,
        corrected=tuple(text for _, text in suspect.changes),
        candidate=best,
        p_typed=0.0,
        p_corrected=p_least[best],
        rule=suspect.rule,
    )
