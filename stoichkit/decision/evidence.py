"""From an experiment's readings to evidence: which candidates do they exclude?

For candidate k the discrepancy D_k = n_produced − r_k n_consumed has mean zero whatever the
unknown amount reacted, and is linear in the readings: no ratio distribution and no division by
a small number (the idea of E. C. Fieller, J. R. Stat. Soc. B 16 (1954) 175-185).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from .._common import FrozenMap
from ..chemistry.candidates import Candidate
from ..errors import ModelError
from ..experiments.checks import checked_coverage
from ..experiments.record import Experiment
from ..uncertainty import entry
from ..uncertainty.ratio_set import RatioSet, invert
from ..uncertainty.readings import ErrorPool
from ..uncertainty.sources import (
    Contribution,
    Number,
    Shape,
    Source,
    budget_of,
    nominal,
    simulated,
    standard_uncertainty,
    uncertain_value,
)
from .linear import LinearAmounts, Scatter
from .verdict import Caveat, CaveatKind, Verdict, VerdictKind, verdict_of

if TYPE_CHECKING:
    from ..uncertainty.montecarlo import Comparison

_SCREEN = 200


def _discrepancy(experiment: Experiment, ratio: float) -> Any:
    pairs = experiment.amounts(ErrorPool())
    total = sum(b - ratio * a for a, b in pairs)
    return total / len(pairs)


def linearity_fails(experiment: Experiment, ratio: float, coverage: float) -> bool:
    """Return whether the discrepancy from a ratio fails the comparison of JCGM 101 clause 8.

    Pairs of opposite errors show the part that first order leaves out without the noise of the
    part it keeps; only where that part could matter is the full Monte Carlo comparison made.
    Weighings alone are linear but for the atomic weights and are passed at once.

    >>> from stoichkit import experiments
    >>> linearity_fails(experiments.load("magnesium-gas"), 1.0, 0.95)
    False
    """
    if experiment.consumed.is_linear and experiment.produced.is_linear:
        return False
    from ..uncertainty.montecarlo import draw, tolerance_of

    first_order = _discrepancy(experiment, ratio)
    rng = np.random.default_rng(np.random.SFC64(1))

    def pairs(source: Source) -> Any:
        half = draw(source, rng, _SCREEN)
        return np.concatenate([half, -half])

    with simulated(pairs):
        values = np.asarray(_discrepancy(experiment, ratio))
    if values.ndim == 0:
        return False
    even = 0.5 * (values[:_SCREEN] + values[_SCREEN:]) - nominal(first_order)
    limit = tolerance_of(standard_uncertainty(first_order))
    if float(np.quantile(np.abs(even), 0.95)) <= limit:
        return False
    return not compare_discrepancy(experiment, ratio, coverage).agrees


def compare_discrepancy(experiment: Experiment, ratio: float, coverage: float) -> Comparison:
    """Compare first order with an adaptive Monte Carlo for the discrepancy from a ratio."""
    from ..uncertainty.montecarlo import compare_first_order, propagate

    result = propagate(lambda: _discrepancy(experiment, ratio), coverage=coverage)
    return compare_first_order(_discrepancy(experiment, ratio), result)


_DOMINANT = 0.5


@dataclass(frozen=True, slots=True)
class CandidateEvidence:
    """What the readings say about one candidate.

    Attributes
    ----------
    candidate : Candidate
    discrepancy_mol : float
        Mean over the trials of n_produced − r n_consumed; zero on average if the candidate is
        true.
    standard_uncertainty_mol : float
        First-order standard uncertainty of the discrepancy.
    p_value : float
        Chance of a discrepancy at least as large if the candidate is true, at the worst position
        of the amounts between two display steps.
    p_value_average : float
        The same, averaged over those positions.
    compatible : bool
        Whether ``p_value`` is at least 1 − coverage.
    likelihood_per_mol : float
        Density of the discrepancy at the observed value, which equals the marginal likelihood
        with a flat prior on the amount reacted.
    relative_likelihood : float
        Likelihood over that of the likeliest candidate, 0 to 1.
    """

    candidate: Candidate
    discrepancy_mol: float
    standard_uncertainty_mol: float
    p_value: float
    p_value_average: float
    compatible: bool
    likelihood_per_mol: float
    relative_likelihood: float

    @property
    def name(self) -> str:
        """Name of the candidate."""
        return self.candidate.name

    @property
    def ratio(self) -> float:
        """Mole ratio n_produced / n_consumed of the candidate."""
        return float(self.candidate.ratio)


@dataclass(frozen=True, eq=False)
class Evidence:
    """Everything the readings say, with the verdict and its warnings.

    Attributes
    ----------
    experiment : Experiment
    coverage : float
    amounts : tuple of (n_consumed, n_produced)
        Uncertain numbers in mol, one pair a trial; the recovery allowance is in n_produced.
    candidates : mapping of str to CandidateEvidence
        By name, in the order given.
    verdict : Verdict
    scatter : Scatter or None
        Scatter between trials against the instruments; None for a single trial.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> found = assess(experiments.load("copper-silver"))
    >>> found.verdict.kind.value, found.nearest.name, len(found.budget) > 10
    ('singled_out', 'copper(II)', True)
    """

    experiment: Experiment
    coverage: float
    amounts: tuple[tuple[Number, Number], ...]
    candidates: Mapping[str, CandidateEvidence]
    verdict: Verdict
    scatter: Scatter | None
    _linear: LinearAmounts = field(repr=False)

    @property
    def warnings(self) -> tuple[Caveat, ...]:
        """Warnings of the verdict."""
        return self.verdict.warnings

    @property
    def ratio(self) -> float:
        """Mole ratio of the mean amounts, n_produced / n_consumed; infinite or nan for zero."""
        n_a, n_b = self._linear.mean_consumed, self._linear.mean_produced
        return n_b / n_a if n_a else math.copysign(math.inf, n_b) if n_b else math.nan

    @property
    def n_consumed(self) -> Number:
        """Mean amount consumed over the trials, mol, with its sources."""
        return sum(a for a, _ in self.amounts) / len(self.amounts)

    @property
    def n_produced(self) -> Number:
        """Mean amount produced over the trials, mol, with its sources."""
        return sum(b for _, b in self.amounts) / len(self.amounts)

    def discrepancy(self, ratio: float) -> Number:
        """Return the mean of n_produced − ratio × n_consumed, mol, with its sources."""
        return self.n_produced - ratio * self.n_consumed

    def p_value(self, ratio: float) -> float:
        """Return the p-value of any mole ratio, 0 or more, as for a candidate."""
        ratio = entry.number("ratio", ratio, least=0)
        return self._linear.p_value(ratio, 1.0, self.scatter)

    @cached_property
    def ratio_set(self) -> RatioSet:
        """Every mole ratio that the readings do not exclude; exactly the compatible candidates."""
        known = [(c.ratio, c.compatible) for c in self.candidates.values()]
        estimate = (self._linear.mean_produced, self._linear.mean_consumed)

        def p_value(x: float, y: float) -> float:
            return self._linear.p_value(x, y, self.scatter)

        return invert(p_value, estimate, known, self.coverage)

    @cached_property
    def nearest(self) -> CandidateEvidence:
        """The candidate with the largest p-value; if all are 0, the least |discrepancy| over u."""
        return max(
            self.candidates.values(),
            key=lambda c: (
                c.p_value,
                c.relative_likelihood,
                -abs(c.discrepancy_mol) / (c.standard_uncertainty_mol or math.inf),
            ),
        )

    @cached_property
    def budget(self) -> tuple[Contribution, ...]:
        """Uncertainty budget of the discrepancy from the nearest candidate, largest first."""
        return self.budget_for(self.nearest.name)

    def budget_for(self, name: str) -> tuple[Contribution, ...]:
        """Return the uncertainty budget of the discrepancy from one candidate, largest first.

        Raises
        ------
        ModelError
            If there is no candidate of that name.
        """
        return budget_of(self._linear.parts(self.named(name).ratio, 1.0))

    def recovery_needed(self, name: str) -> tuple[float, float]:
        """Return which recovered fractions of the product would make a candidate compatible.

        The recovered fraction f is taken as exactly known; the readings then test the ratio
        f × r. 1 means that everything produced was weighed and nothing else.

        Returns
        -------
        (float, float)
            Least and largest fraction; (nan, nan) when none would do, and an infinite second
            value when there is no upper limit.
        """
        ratio = self.named(name).ratio
        low, high = self._without_recovery
        return low / ratio, high / ratio

    @cached_property
    def _without_recovery(self) -> tuple[float, float]:
        """Limits of the ratio set if everything produced was weighed."""
        if self.experiment.recovery == (1.0, 1.0):
            found = self.ratio_set
        else:
            from dataclasses import replace

            plain = replace(self.experiment, recovery=(1.0, 1.0))
            found = assess(plain, coverage=self.coverage).ratio_set
        return found.low, found.high

    def named(self, name: str) -> CandidateEvidence:
        """Return what the readings say about one candidate.

        Raises
        ------
        ModelError
            If there is no candidate of that name.
        """
        if entry.text("name", name) not in self.candidates:
            raise ModelError(
                "There is no such candidate.", given=name, allowed=", ".join(self.candidates)
            )
        return self.candidates[name]


def assess(experiment: Experiment, *, coverage: float | None = None) -> Evidence:
    """Test every candidate of an experiment against its readings.

    Parameters
    ----------
    experiment : Experiment
    coverage : float, optional
        Coverage probability, 0.5 to 0.9999; that of the experiment (0.95 unless stated) if left
        out. The true candidate is excluded at most 1 − coverage of the time.

    Returns
    -------
    Evidence

    Raises
    ------
    ModelError
        If the coverage cannot be used.
    ExperimentError
        If readings are physically impossible.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> evidence = assess(experiments.load("copper-silver"))
    >>> evidence.verdict.kind.value, evidence.verdict.candidates
    ('singled_out', ('copper(II)',))
    """
    entry.record("experiment", experiment, Experiment)
    coverage = experiment.coverage if coverage is None else coverage
    coverage = checked_coverage(coverage, error=ModelError)
    amounts = _amounts(experiment)
    linear = linear_amounts(experiment, amounts)
    scatter = linear.scatter()
    tested = [_tested(c, linear, scatter, coverage) for c in experiment.candidates]
    likeliest = max(c.likelihood_per_mol for c in tested)
    if likeliest > 0:
        tested = [_relative(c, likeliest) for c in tested]
    verdict = verdict_of(((c.name, c.compatible) for c in tested), coverage)
    evidence = Evidence(
        experiment=experiment,
        coverage=coverage,
        amounts=amounts,
        candidates=FrozenMap({c.name: c for c in tested}),
        verdict=verdict,
        scatter=scatter,
        _linear=linear,
    )
    warned = Verdict(verdict.kind, verdict.candidates, coverage, tuple(_caveats(evidence)))
    object.__setattr__(evidence, "verdict", warned)
    return evidence


def linear_amounts(
    experiment: Experiment, amounts: Sequence[tuple[Number, Number]] | None = None
) -> LinearAmounts:
    """Return the amounts of all trials of an experiment, ready for testing any ratio."""
    pairs = _amounts(experiment) if amounts is None else amounts
    return LinearAmounts(pairs, _role_of(experiment))


def _amounts(experiment: Experiment) -> tuple[tuple[Number, Number], ...]:
    """Return the amounts of each trial, with the recovery allowance in the produced ones."""
    low, high = experiment.recovery
    pairs = experiment.amounts(ErrorPool())
    if (low, high) == (1.0, 1.0):
        return tuple(pairs)
    correction = uncertain_value(
        (1 / low + 1 / high) / 2,
        "recovery allowance",
        kind="recovery",
        shape=Shape.RECTANGULAR,
        scale=(1 / low - 1 / high) / 2,
    )
    return tuple((a, b * correction) for a, b in pairs)


def _role_of(experiment: Experiment) -> dict[str, str]:
    names = [role.name for role in experiment.roles()]
    return {f"{name}, trial {trial.name}": name for trial in experiment.trials for name in names}


def _tested(
    candidate: Candidate, linear: LinearAmounts, scatter: Scatter | None, coverage: float
) -> CandidateEvidence:
    ratio = float(candidate.ratio)
    discrepancy = linear.mean(ratio, 1.0)
    p = linear.p_value(ratio, 1.0, scatter)
    error = (
        linear.scatter_distribution(ratio, 1.0, scatter)
        if scatter is not None and scatter.excess
        else linear.distribution(ratio, 1.0)
    )
    return CandidateEvidence(
        candidate=candidate,
        discrepancy_mol=discrepancy,
        standard_uncertainty_mol=error.spread,
        p_value=p,
        p_value_average=error.two_sided(discrepancy),
        compatible=p >= 1 - coverage,
        likelihood_per_mol=float(error.pdf(discrepancy)) if error.terms else 0.0,
        relative_likelihood=0.0,
    )


def _relative(tested: CandidateEvidence, likeliest: float) -> CandidateEvidence:
    from dataclasses import replace

    return replace(tested, relative_likelihood=tested.likelihood_per_mol / likeliest)


def _caveats(evidence: Evidence) -> Sequence[Caveat]:
    experiment, linear = evidence.experiment, evidence._linear
    found = []
    near_zero = linear.p_value(1.0, 0.0) >= 1 - evidence.coverage
    if near_zero or linear.mean_consumed <= 0:
        value = math.nan if near_zero else 1e3 * linear.mean_consumed  # below zero, mmol
        found.append(Caveat(CaveatKind.NOT_RESOLVED, experiment.consumed.species, value))
    if linearity_fails(experiment, evidence.nearest.ratio, evidence.coverage):
        found.append(Caveat(CaveatKind.NOT_LINEAR, evidence.nearest.name))
    scatter = evidence.scatter
    if scatter is not None and scatter.excess:
        found.append(Caveat(CaveatKind.EXCESS_SCATTER, "", scatter.ratio_of_spread))
    nearest = evidence.nearest
    if (
        evidence.verdict.kind is VerdictKind.NONE_FITS
        and nearest.discrepancy_mol > 0
        and linear.mean_consumed > 0
    ):
        percent = 100 * linear.mean_produced / (nearest.ratio * linear.mean_consumed)
        found.append(Caveat(CaveatKind.OVER_100, nearest.name, percent))
    if linear.trials == 1:
        found.append(Caveat(CaveatKind.SINGLE_TRIAL))
    found += _dominant(evidence)
    found += [Caveat(CaveatKind.ASSUMPTION, text) for text in experiment.assumptions()]
    found += [Caveat(CaveatKind.QUESTION, str(q)) for q in experiment.questions()]
    return found


def _dominant(evidence: Evidence) -> list[Caveat]:
    """Name the class of sources that makes up most of the variance, if one does."""
    shares: dict[str, float] = {}
    roles = _role_of(evidence.experiment)
    for line in evidence.budget:
        source = line.source
        name = (
            f"{source.kind} of {roles[source.reading]}" if source.reading in roles else source.label
        )
        shares[name] = shares.get(name, 0.0) + line.share
    if not shares:
        return []
    name, share = max(shares.items(), key=lambda item: item[1])
    return [Caveat(CaveatKind.DOMINANT_SOURCE, name, share)] if share > _DOMINANT else []
