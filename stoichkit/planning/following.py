"""After today's readings: how many more trials, and of what kind, would settle the answer?

The truth is drawn among the candidates with the probability that each has after the readings
(:attr:`stoichkit.Evidence.chances`); further trials are drawn with amounts like those seen, put
beside the readings that are there, and judged by the same test. What all trials share (a solution,
a calibration) keeps the errors that the readings so far make likely.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from ..decision.arrays import four_weighings
from ..decision.evidence import Evidence, linear_amounts
from ..decision.linear import LinearAmounts
from ..decision.verdict import VerdictKind
from ..errors import ModelError
from ..experiments.parts import Variation
from ..measurement.displays import Balance
from ..uncertainty import entry
from ..uncertainty.montecarlo import draw
from ..uncertainty.readings import parse_number
from ..uncertainty.sources import Floats, nominal
from .design import with_readability
from .draws import Bench, Drawn, Verdicts, verdicts_of, verdicts_of_weighings
from .outcomes import Chances, chances_from, mixed
from .plan import MOST_TRIALS, Plan, chances, nominal_lab, truth_index

_TARGET, _MOST, _LABS, _SEED = 0.9, 6, 1000, 1
_LEAST_CHANCE = 0.005
"""Candidates less probable than that after the readings are not drawn."""
_SPREAD = 0.1
_RECOVERIES = 64


@dataclass(frozen=True, slots=True)
class FurtherTrials:
    """What further trials of one kind would come to, by how many there are.

    Attributes
    ----------
    trials : tuple of int
        Numbers of further trials looked at, rising; with planned looks those that end a stage.
    chances : tuple of Chances
        Of each verdict after that many, over the candidates that may be true.
    target : float
        Chance of a right answer asked for.
    consumed_mol : float
        Amount of the consumed species in each of them, mol.
    readability_g : float
        Display step of the coarsest balance they are weighed on, g; nan where nothing is weighed.
    """

    trials: tuple[int, ...]
    chances: tuple[Chances, ...]
    target: float
    consumed_mol: float
    readability_g: float

    @property
    def fewest(self) -> int | None:
        """The fewest further trials that reach the target; None if none looked at do."""
        pairs = zip(self.trials, self.chances, strict=True)
        return next((n for n, found in pairs if found.right >= self.target), None)


@dataclass(frozen=True, slots=True, eq=False)
class NextTrials:
    """After these readings, what more trials would come to.

    Attributes
    ----------
    evidence : Evidence
    target : float
        Chance of a right answer asked for.
    right_now : float
        Chance that the verdict as it stands is a right answer; 0 where it names no one candidate.
    alike : FurtherTrials
        More trials like those made, judged together with them.
    larger : FurtherTrials
        The same with ``larger_by`` times the amounts.
    finer : FurtherTrials or None
        Trials on a finer balance, judged without those made; None where nothing is weighed.
    larger_by : float
    """

    evidence: Evidence
    target: float
    right_now: float
    alike: FurtherTrials
    larger: FurtherTrials
    finer: FurtherTrials | None
    larger_by: float

    @property
    def ways(self) -> tuple[FurtherTrials, ...]:
        """The ways looked at: alike, with more of the reactant, on a finer balance."""
        return (self.alike, self.larger, *([self.finer] if self.finer is not None else []))


def next_trials(
    evidence: Evidence,
    *,
    target: float = _TARGET,
    most: int = _MOST,
    larger_by: float = 2.0,
    finer_g: float | None = None,
    labs: int = _LABS,
    seed: int = _SEED,
) -> NextTrials:
    """Return what 1, 2, 3 … more trials would come to, after the readings that are there.

    Parameters
    ----------
    evidence : Evidence
    target : float
        Chance of a right answer asked for, 0.05 to 0.999.
    most : int
        Most further trials looked at, 1 to 32.
    larger_by : float
        How many times the amounts, for trials with more of the reactant; above 1 to 1000.
    finer_g : float, optional
        Display step of the finer balance, g, above 0; a tenth of the coarsest in use if left out.
    labs : int
        Continuations drawn for each way, 100 to 100,000.
    seed : int
        0 to 2³² − 1; the same seed gives the same result.

    Returns
    -------
    NextTrials

    Raises
    ------
    ModelError
        If nothing can be judged, no candidate fits or there is only one, an amount cannot be varied
        (as by a pipette), or a number cannot be used.

    Notes
    -----
    One of the candidates is taken to be true. Trials alike and larger ones are simulated from a
    fixed seed (``Chances.labs`` says how many, ``Chances.standard_error`` how far that can be off);
    those on a finer balance are worked out as :func:`stoichkit.planning.chances` does. A right
    answer singles out the true candidate in one verdict after that many trials; a verdict after
    each of them is another look at every one. Each trial to come recovers as much as those made
    seem to, and differs from the others by as much as they do where that is unknown. The place of
    a vessel that serves all trials between two display steps is drawn anew. Labs that weigh both
    substances by difference on one balance are judged by :func:`stoichkit.assess_weighings`; others
    by the same test as it is at the amount planned
    (:func:`stoichkit.planning.draws.verdicts_of`).

    Examples
    --------
    >>> from stoichkit import assess, experiments
    >>> found = next_trials(assess(experiments.load("copper-silver-coarse")))
    >>> found.right_now, found.finer.fewest
    (0.0, 1)
    >>> found.alike.fewest is None or found.alike.fewest >= found.larger.fewest
    True
    """
    experiment = entry.record("evidence", evidence, Evidence).experiment
    target = entry.number("target", target, least=0.05, most=0.999)
    most = entry.whole("most", most, least=1, most=MOST_TRIALS // 2)
    larger_by = entry.number("larger_by", larger_by, above=1, most=1000)
    labs = entry.whole("labs", labs, least=100, most=100_000)
    seed = entry.whole("seed", seed, least=0, most=2**32 - 1)
    if finer_g is not None:
        finer_g = entry.number("finer_g", finer_g, above=0)
    shares = _shares(evidence)
    steps = [one.readability_g for one in experiment.instruments.values()
             if isinstance(one, Balance)]  # fmt: skip
    step = max(steps, default=math.nan)
    counts = _counts(evidence, most)

    def drawn(factor: float) -> FurtherTrials:
        parts: list[list[Chances]] = []
        weights, amounts = [], []
        for place, (name, share) in enumerate(shares.items()):
            number = max(round(share * labs), 1)
            after = _Continued(evidence, name, factor, counts[-1], number, (seed, place))
            parts.append([after.chances(n) for n in counts])
            weights.append(share)
            amounts.append(after.plan.consumed_mol)
        found = [mixed([one[i] for one in parts], weights) for i in range(len(counts))]
        mean = math.fsum(w * a for w, a in zip(weights, amounts, strict=True))
        return FurtherTrials(counts, tuple(found), target, mean, step)

    alike = drawn(1.0)
    finer = None
    if steps:
        fine = step / 10 if finer_g is None else finer_g
        finer = _on_finer(evidence, shares, fine, alike.consumed_mol, counts, target)
    verdict = evidence.verdict
    alone = verdict.kind is VerdictKind.SINGLED_OUT
    right_now = shares.get(verdict.candidates[0], 0.0) if alone else 0.0
    return NextTrials(evidence, target, right_now, alike, drawn(larger_by), finer, larger_by)


def _shares(evidence: Evidence) -> dict[str, float]:
    """Return the candidates that may be true, with the probability of each if one of them is."""
    kind, chances_now = evidence.verdict.kind, evidence.chances
    why, fix = "", "Find the fault first: see the slips and the causes in the report."
    if kind is VerdictKind.CANNOT_BE_JUDGED or chances_now is None:
        why = "These readings cannot be judged, so nothing can be said of further trials."
    elif kind is VerdictKind.NONE_FITS:
        why = "None of the candidates fits, and further trials cannot make one fit."
    elif len(evidence.candidates) == 1:
        why = "There is only one candidate, so no trial can tell it from another."
        fix = "Add the candidates it is to be told from."
    if why or chances_now is None:
        raise ModelError(why, given=kind.value, fix=fix)
    likely = {n: p for n, p in chances_now.by_candidate.items() if p >= _LEAST_CHANCE}
    total = math.fsum(likely.values())
    if not total:
        raise ModelError("No candidate is probable after these readings.", given=kind.value)
    return {name: p / total for name, p in likely.items()}


def _counts(evidence: Evidence, most: int) -> tuple[int, ...]:
    """Return the numbers of further trials to look at: where looks are planned, ends of stages."""
    made, looks = len(evidence.amounts), evidence.experiment.looks
    most = min(most, MOST_TRIALS - made)
    if most < 1:
        raise ModelError(
            "There are too many trials to look further.",
            given=made,
            allowed=f"at most {MOST_TRIALS - 1}",
        )
    every = tuple(range(1, most + 1))
    if looks is None:
        return every
    return tuple(n for n in every if looks.is_planned(made + n)) or every


def _on_finer(
    evidence: Evidence,
    shares: Mapping[str, float],
    step_g: float,
    consumed_mol: float,
    counts: tuple[int, ...],
    target: float,
) -> FurtherTrials:
    """Return the chances of a lab begun anew on a finer balance; no more trials than needed."""
    experiment = with_readability(evidence.experiment, step_g)
    plan = Plan(experiment=experiment, consumed_mol=consumed_mol, spread=_SPREAD)
    found: list[Chances] = []
    for trials in range(1, counts[-1] + 1):
        each = [chances(replace(plan, trials=trials), name) for name in shares]
        found.append(mixed(each, shares.values()))
        if found[-1].right >= target:
            break
    used = tuple(range(1, len(found) + 1))
    return FurtherTrials(used, tuple(found), target, consumed_mol, step_g)


class _Continued:
    """Labs with the readings that are there and further trials, if one candidate is true."""

    def __init__(
        self,
        evidence: Evidence,
        truth: str,
        factor: float,
        most: int,
        labs: int,
        seed: tuple[int, int],
    ) -> None:
        experiment = evidence.experiment
        self.evidence, self.labs = evidence, labs
        self.truth = truth_index(experiment, truth)
        now = linear_amounts(experiment, evidence.amounts)
        ratio = evidence.named(truth).ratio
        rng = np.random.default_rng([*seed, 0])
        recovered, middle = _recovered(now, ratio, experiment.recovery, labs, rng)
        weight, _ = now.along_ray(ratio * middle)
        amount = weight * now.mean_consumed + (1 - weight) * now.mean_produced / (ratio * middle)
        if not amount > 0:
            raise ModelError(
                "These readings do not show that anything reacted, so there is no amount to go on.",
                given=f"{1000 * amount:.3g} mmol",
                fix="Let more react; plan the amount with smallest_amount.",
            )
        differing = _variation_seen(evidence)
        self.plan = Plan(
            experiment=replace(experiment, variation=differing, looks=None),
            consumed_mol=factor * amount,
            trials=most,
            spread=_SPREAD,
        )
        bench = Bench(
            self.plan,
            nominal_lab(self.plan, truth, middle),
            self.plan.expected_readings(truth, recovered=middle),
            labs,
            int(rng.integers(2**31)),
            recovered / middle,
            known=_shared_errors(now, ratio * middle, labs, rng),
        )
        self.drawn = bench.drawn()

    def chances(self, further: int) -> Chances:
        """Return the chances of each verdict after so many of the trials drawn."""
        counts = self._judged(further).counts(self.truth)
        return chances_from((n / self.labs for n in counts), labs=self.labs)

    def _judged(self, further: int) -> Verdicts:
        experiment, shown = self.evidence.experiment, self.drawn.readings
        weighings = four_weighings(experiment)
        if weighings is not None and all(name in shown for name in weighings.names):
            tables = [self._with_made(name, further) for name in weighings.names]
            return verdicts_of_weighings(
                tables, experiment, weighings.balance, self.evidence.together
            )
        amounts = [
            np.hstack([np.broadcast_to(made, (self.labs, len(made))), drawn[:, :further]])
            for made, drawn in zip(
                np.array([[nominal(n) for n in pair] for pair in self.evidence.amounts]).T,
                (self.drawn.consumed, self.drawn.produced),
                strict=True,
            )
        ]
        trials = amounts[0].shape[1]
        together = replace(self.plan, experiment=replace(experiment, looks=None), trials=trials)
        linear = nominal_lab(together, experiment.candidates[self.truth].name)
        judged_as = replace(experiment, coverage=self.evidence.coverage, looks=None)
        return verdicts_of(Drawn({}, *amounts), judged_as, linear)

    def _with_made(self, name: str, further: int) -> Floats:
        """Return a reading of all trials: those made, the same in each lab, and those drawn."""
        made = [
            parse_number(trial.readings[name][-1], name).value
            for trial in self.evidence.experiment.trials
        ]
        kept = np.broadcast_to(made, (self.labs, len(made)))
        return np.hstack([kept, self.drawn.readings[name][:, :further]])


def _recovered(
    now: LinearAmounts,
    ratio: float,
    allowed: tuple[float, float],
    labs: int,
    rng: np.random.Generator,
) -> tuple[Floats, float]:
    """Draw what a lab recovers, as the readings so far make it likely; with its middle."""
    low, high = allowed
    if low == high:
        return np.full((labs, 1), low), low
    parts = np.linspace(low, high, _RECOVERIES)
    off = np.array([now.mean(ratio * f, 1.0) / now.distribution(ratio * f, 1.0).spread
                    for f in parts.tolist()])  # fmt: skip
    weight = np.exp((np.min(off**2) - off**2) / 2)
    weight /= weight.sum()
    return rng.choice(parts, (labs, 1), p=weight), float(parts @ weight)


def _variation_seen(evidence: Evidence) -> Variation | None:
    """Return how much further trials are taken to differ: as stated, or as those made do."""
    variation, scatter = evidence.experiment.variation, evidence.scatter
    if variation is not None and not variation.unknown:
        return variation
    more = scatter is not None and (scatter.excess or variation is not None)
    if not more or len(evidence.amounts) < 3:
        return None
    amounts = np.array([[nominal(n) for n in pair] for pair in evidence.amounts])
    d = amounts[:, 1] - evidence.nearest.tested_ratio * amounts[:, 0]
    now = linear_amounts(evidence.experiment, evidence.amounts)
    explained = len(d) * now.own_variance(evidence.nearest.tested_ratio, 1.0)
    left = float(d.var(ddof=1)) - explained
    made = abs(float(amounts[:, 1].mean()))
    if left <= 0 or not made:
        return None
    return Variation(relative=min(math.sqrt(left) / made, 0.5))


def _shared_errors(
    now: LinearAmounts, ratio: float, labs: int, rng: np.random.Generator
) -> dict[str, Floats]:
    """Draw the errors that all trials share, as the readings so far make them likely.

    Drawn freely, with a discrepancy that they and the trials' own errors make, and moved by as much
    as that is off the one found: exact where errors are normal, and for their first two moments
    elsewhere.
    """
    c = now.coefficients(ratio, 1.0)
    size = np.array([source.standard_uncertainty for source in now.sources])
    variance = float(np.sum((c * size) ** 2))
    shared = np.flatnonzero(now.shared)
    own = math.sqrt(max(variance - float(np.sum((c[shared] * size[shared]) ** 2)), 0.0))
    errors = {i: draw(now.sources[i], rng, labs) for i in shared.tolist()}
    made = own * rng.standard_normal(labs)
    for i, error in errors.items():
        made = made + c[i] * error
    off = (now.mean(ratio, 1.0) - made) / variance if variance else np.zeros(labs)
    return {now.sources[i].label: error + c[i] * size[i] ** 2 * off for i, error in errors.items()}
