"""From an experiment's readings to evidence: which candidates do they exclude?

For candidate k the discrepancy D_k = n_produced − r_k n_consumed has mean zero whatever the
unknown amount reacted, and is linear in the readings: no ratio distribution and no division by
a small number (the idea of E. C. Fieller, J. R. Stat. Soc. B 16 (1954) 175-185).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from .._common import FrozenMap, supplied
from ..chemistry.candidates import Candidate
from ..errors import ExperimentError, ModelError, StoichkitError
from ..experiments.checks import checked_coverage
from ..experiments.parts import Trial, Variation
from ..experiments.record import Experiment
from ..measurement.base import Models
from ..measurement.buoyancy import NEGLIGIBLE, NOTHING, matters
from ..measurement.displays import Balance
from ..measurement.weighing import constant_mass
from ..uncertainty import entry
from ..uncertainty.ratio_set import RatioSet, invert
from ..uncertainty.readings import ErrorPool, parse_number
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
from .chances import Chances, chances_of
from .linear import BELOW_ZERO_LEVEL, LinearAmounts, Scatter
from .overturning import Change, Fault, overturning
from .ratio_test import RatioTest
from .routes import Agreement, landmarks, route_pairs, ways_alone
from .verdict import Caveat, CaveatKind, Diagnosis, Reason, Verdict, VerdictKind, verdict_of

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
    from ..uncertainty.montecarlo import FewDraws, draw, tolerance_of

    first_order = _discrepancy(experiment, ratio)
    rng = FewDraws(1)

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
_CLEARLY = 0.9
"""Uncertainty of some trials over that of all from which on it is worth saying."""
_MOST_CHANGES = 10
"""A changing mass may go on by so many times its last change."""


@dataclass(frozen=True, slots=True)
class CandidateEvidence:
    """What the readings say about one candidate.

    Attributes
    ----------
    candidate : Candidate
    discrepancy_mol : float
        Mean over the trials of n_produced − r n_consumed at the ratio tested; zero on average if
        the candidate is true.
    tested_ratio : float
        The ratio tested: the candidate's own or, with a recovery allowance, the one of those it
        allows that agrees best with the readings.
    standard_uncertainty_mol : float
        First-order standard uncertainty of the discrepancy.
    p_value : float
        Chance of a discrepancy at least as large if the candidate is true, at the worst position
        of the amounts between two display steps; the largest over the recovery allowed and, where
        the variation between trials is unknown, not below that by the trials' own scatter.
    p_value_average : float
        The same, averaged over those positions.
    compatible : bool
        Whether ``p_value`` is at least 1 − coverage.
    likelihood_per_mol : float
        Density of the discrepancy at the observed value, which equals the marginal likelihood
        with a flat prior on the amount reacted; averaged over the recovery allowed with equal
        weight.
    relative_likelihood : float
        Likelihood over that of the likeliest candidate, 0 to 1.
    tested_mol : (float, float)
        Mean amounts (n_consumed, n_produced) that the discrepancy is of.
    tested_by : (int, int)
        By which route to each they are, counted from 1; 0 for all together. Where routes disagree,
        everything here is by the one, or all together, that agrees best with the candidate.
    """

    candidate: Candidate
    discrepancy_mol: float
    tested_ratio: float
    standard_uncertainty_mol: float
    p_value: float
    p_value_average: float
    compatible: bool
    likelihood_per_mol: float
    relative_likelihood: float
    tested_mol: tuple[float, float]
    tested_by: tuple[int, int]

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
        Coverage probability of this verdict. Where looks are planned it is that of one look.
    amounts : tuple of (n_consumed, n_produced)
        Uncertain numbers in mol, one pair a trial, as measured.
    candidates : mapping of str to CandidateEvidence
        By name, in the order given.
    verdict : Verdict
    scatter : Scatter or None
        Scatter between trials against the instruments; None for a single trial.
    agreements : tuple of Agreement
        For each pair of routes to one amount, whether they agree; none where there is one route.
    together : float
        Coverage probability over all planned looks together; ``coverage`` where none are.

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
    agreements: tuple[Agreement, ...]
    together: float
    _test: RatioTest = field(repr=False)

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

    @property
    def allows_air(self) -> bool:
        """Whether the buoyancy of air is allowed for as a bounded unknown."""
        return any(test.allows_air for test in (self._test, *self._test.alone))

    @property
    def allowed_parts(self) -> tuple[float, float]:
        """Least and largest factor of a candidate's ratio allowed, by its recovery and by air."""
        return self._test.allowed_parts

    def discrepancy(self, ratio: float) -> Number:
        """Return the mean of n_produced − ratio × n_consumed, mol, with its sources."""
        return self.n_produced - ratio * self.n_consumed

    def p_value(self, ratio: float) -> float:
        """Return the p-value of any mole ratio as measured, 0 or more, as for a candidate."""
        ratio = entry.number("ratio", ratio, least=0)
        return self._test.p_value(ratio, 1.0)

    def average_p_value(self, ratio: float) -> float:
        """Return the same, averaged over the positions of the amounts between display steps."""
        ratio = entry.number("ratio", ratio, least=0)
        return self._test.error(ratio).two_sided(self._linear.mean(ratio, 1.0))

    @cached_property
    def ratio_set(self) -> RatioSet:
        """Every mole ratio as measured that the readings do not exclude.

        A candidate is compatible exactly when some ratio is in it that its recovery, and the
        buoyancy of air where it matters, allow.
        """
        known = [(c.tested_ratio, c.compatible) for c in self.candidates.values()]
        alpha = 1 - self.coverage
        tests = (self._test, *self._test.alone)
        marks = landmarks([test.linear for test in tests])
        known += [(r, self._test.p_value(r, 1.0) >= alpha) for r in marks]
        estimate = (self._linear.mean_produced, self._linear.mean_consumed)
        return invert(self._test.p_value, estimate, known, self.coverage)

    def scatter_p_value(self, name: str) -> float:
        """Return the p-value of a candidate by the scatter of the trials alone (Student t).

        The largest over the recovery allowed. It holds whatever the trials truly differ by; nan
        for a single trial, and where all trials read exactly alike.

        Raises
        ------
        ModelError
            If there is no candidate of that name.
        """
        return self._test.scatter_p(self.named(name).ratio)

    @cached_property
    def second_opinion(self) -> Verdict | None:
        """The verdict by the scatter of the trials alone, where their variation is not stated.

        None where it is, where there is no scatter to judge by, and where nothing can be judged.
        """
        verdict, alpha = self.verdict, 1 - self.coverage
        if self.experiment.variation is not None or verdict.kind is VerdictKind.CANNOT_BE_JUDGED:
            return None
        found = [(name, self.scatter_p_value(name)) for name in self.candidates]
        if any(math.isnan(p) for _, p in found):
            return None
        return verdict_of(((name, p >= alpha) for name, p in found), self.coverage)

    @cached_property
    def finer_alone(self) -> Evidence | None:
        """The evidence of the trials on one set of instruments alone, if it is less uncertain.

        All trials count alike in the mean, so that some on a coarse balance can make it worse than
        those on a fine one are by themselves. None where all were read on the same instruments.
        """
        lab, ratio = self.experiment, self.nearest.tested_ratio
        alike: dict[tuple[tuple[str, str], ...], list[Trial]] = {}
        for trial in lab.trials:
            alike.setdefault(tuple(sorted(trial.instruments.items())), []).append(trial)
        if len(alike) < 2 or not math.isfinite(ratio):
            return None

        alone = [lab.with_trials(trials) for trials in alike.values()]
        spreads = [linear_amounts(one).distribution(ratio, 1.0).spread for one in alone]
        least = min(spreads)
        if least > _CLEARLY * self._linear.distribution(ratio, 1.0).spread:
            return None
        finest = alone[spreads.index(least)]
        return assess(replace(finest, looks=None), coverage=self.coverage)

    @property
    def unknown_but_alike(self) -> bool:
        """Whether the variation is unknown and no scatter shows it, so that the readings decide."""
        variation = self.experiment.variation
        if variation is None or not variation.unknown:
            return False
        return any(math.isnan(self.scatter_p_value(name)) for name in self.candidates)

    @property
    def doubted(self) -> bool:
        """Whether the second opinion leaves a candidate open that the readings exclude.

        The opposite does not count: errors that act alike in all trials (digits, calibration) do
        not show in their scatter.
        """
        second = self.second_opinion
        return second is not None and not {*second.candidates} <= {*self.verdict.candidates}

    @cached_property
    def chances(self) -> Chances | None:
        """How probable each candidate is, and that none is true; None where nothing can be judged.

        Before the readings as the experiment's prior says: if it says nothing, all candidates
        alike and 5 % for none of them.
        """
        if self.verdict.kind is VerdictKind.CANNOT_BE_JUDGED:
            return None
        likelihoods = {name: c.likelihood_per_mol for name, c in self.candidates.items()}
        ratios = {name: c.ratio for name, c in self.candidates.items()}
        n_a = self._linear.mean_consumed
        reach = 7 * self.nearest.standard_uncertainty_mol / n_a if n_a > 0 else math.inf
        tests = (self._test, *self._test.alone)

        def density(ratio: float) -> float:
            return max(test.density(ratio) for test in tests)

        experiment = self.experiment
        return chances_of(
            likelihoods, ratios, density, (self.ratio, reach), experiment.recovery, experiment.prior
        )

    @cached_property
    def overturned_by(self) -> tuple[Fault, ...]:
        """The smallest fault of each kind that would change the verdict, nearest first.

        Empty where nothing can be judged.

        >>> from stoichkit import experiments
        >>> nearest = assess(experiments.load("copper-silver")).overturned_by[0]
        >>> nearest.kind.value, nearest.verdict.kind.value
        ('one reading', 'not_told_apart')
        """
        return overturning(self, self._test, self._verdict_if)

    def _verdict_if(
        self, change: Change, recovery: tuple[float, float], names: tuple[str, ...]
    ) -> Verdict:
        """Return the verdict of some candidates on other amounts, the masses being constant."""
        tests = [self._test.changed(change, recovery)]
        if self.agreements:  # which routes agree may change, too
            again = compare_routes(self.experiment, change)
            tests += [one.changed(change, recovery) for one in _alone(self.experiment, again)]
        alpha, linear = 1 - self.coverage, tests[0].linear
        found = [
            (name, *max(test.nearly(self.candidates[name].ratio, alpha) for test in tests))
            for name in names
        ]
        reason = None
        if linear.below_zero(BELOW_ZERO_LEVEL):
            reason = Reason.BELOW_ZERO
        fitting = [tested for _, p, tested in found if p >= alpha]
        lone = len(fitting) == 1 < len(self.candidates)
        if reason is None and lone and linear.nothing_reacted_p(fitting[0]) > alpha:
            reason = Reason.NOTHING_REACTED
        return verdict_of(
            ((name, p >= alpha) for name, p, _ in found), self.coverage, reason=reason
        )

    @cached_property
    def diagnosis(self) -> Diagnosis:
        """What most likely stands behind the verdict; see :func:`stoichkit.diagnosis.diagnose`."""
        found: Diagnosis = supplied("diagnose")(self)
        return found

    @cached_property
    def nearest(self) -> CandidateEvidence:
        """The compatible candidate with the largest p-value; if none fits, the one least far off.

        Far in standard uncertainties of the discrepancy: where the scatter of the trials decides,
        the p-values of all candidates are alike once each is far from trials that agree.
        """
        return max(
            self.candidates.values(),
            key=lambda c: (
                c.p_value if c.compatible else 0.0,
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
        return budget_of(self._linear.parts(self.named(name).tested_ratio, 1.0))

    def recovery_needed(self, name: str) -> tuple[float, float]:
        """Return which recovered fractions of the product would make a candidate compatible.

        The readings then test the ratio f × r. 1 means that everything produced was weighed and
        nothing else.

        Returns
        -------
        (float, float)
            Least and largest fraction; (nan, nan) when none would do, and an infinite second
            value when there is no upper limit.
        """
        ratio = self.named(name).ratio
        return self.ratio_set.low / ratio, self.ratio_set.high / ratio

    @property
    def _linear(self) -> LinearAmounts:
        return self._test.linear

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
        out. The true candidate is excluded at most 1 − coverage of the time; where the experiment
        plans several looks, over all of them together.

    Returns
    -------
    Evidence

    Raises
    ------
    ModelError
        If the coverage cannot be used.
    ExperimentError
        If there are no readings yet, or they are physically impossible.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> evidence = assess(experiments.load("copper-silver"))
    >>> evidence.verdict.kind.value, evidence.verdict.candidates
    ('singled_out', ('copper(II)',))
    """
    entry.record("experiment", experiment, Experiment)
    if not experiment.trials:
        raise ExperimentError(
            "This lab has no readings yet.",
            field="trials",
            allowed="at least one trial",
            fix=f"Read in each trial: {', '.join(experiment.reading_names())}.",
        )
    coverage = experiment.coverage if coverage is None else coverage
    together = checked_coverage(coverage, error=ModelError)
    coverage = experiment.coverage_each(together)
    plain = _judged(experiment, coverage)
    reason, about, settled = _reason(experiment, plain, coverage)
    verdict = verdict_of(
        ((c.name, c.compatible) for c in plain.candidates), coverage, reason=reason, about=about
    )
    evidence = Evidence(
        experiment=experiment,
        coverage=coverage,
        amounts=plain.amounts,
        candidates=FrozenMap({c.name: c for c in plain.candidates}),
        verdict=verdict,
        scatter=plain.test.scatter,
        agreements=plain.agreements,
        together=together,
        _test=plain.test,
    )
    caveats = [*_nothing_shown(evidence), *settled, *_caveats(evidence)]
    object.__setattr__(evidence, "verdict", replace(verdict, warnings=tuple(caveats)))
    return evidence


@dataclass(frozen=True, slots=True)
class _Judged:
    """Every candidate tested against the readings as they stand."""

    amounts: tuple[tuple[Number, Number], ...]
    test: RatioTest
    candidates: tuple[CandidateEvidence, ...]
    agreements: tuple[Agreement, ...]

    @property
    def compatible(self) -> tuple[str, ...]:
        return tuple(c.name for c in self.candidates if c.compatible)


def _judged(experiment: Experiment, coverage: float) -> _Judged:
    amounts = trial_amounts(experiment)
    agreements = compare_routes(experiment)
    test = _test_of(experiment, amounts, alone=_alone(experiment, agreements))
    tested = [_tested(c, test, coverage) for c in experiment.candidates]
    likeliest = max(c.likelihood_per_mol for c in tested)
    if likeliest > 0:
        tested = [replace(c, relative_likelihood=c.likelihood_per_mol / likeliest) for c in tested]
    return _Judged(amounts, test, tuple(tested), agreements)


def _test_of(
    experiment: Experiment,
    amounts: Sequence[tuple[Number, Number]],
    models: Models | None = None,
    *,
    alone: Sequence[RatioTest] = (),
    by: tuple[int, int] = (0, 0),
) -> RatioTest:
    """Return the test of an experiment, or of one of the routes to its amounts."""
    air, fine = air_of(experiment, amounts, models)
    return RatioTest(
        linear_amounts(experiment, amounts),
        experiment.variation,
        experiment.recovery,
        air=air,
        fine=fine,
        alone=alone,
        by=by,
    )


def compare_routes(experiment: Experiment, change: Change | None = None) -> tuple[Agreement, ...]:
    """Test for each amount of several routes whether they agree, two at a time.

    See :meth:`stoichkit.decision.routes.RoutePair.compared`. ``change`` returns other amounts, to
    ask whether the routes would still agree.

    >>> from stoichkit import experiments
    >>> compare_routes(experiments.load("copper-silver"))
    ()
    """
    entry.record("experiment", experiment, Experiment)
    found = []
    for pair in route_pairs((experiment.consumed, experiment.produced)):
        amounts = experiment.amounts_by(*pair.models, ErrorPool())
        linear = linear_amounts(experiment, amounts)
        air, _ = air_of(experiment, amounts, pair.models)
        found.append(pair.compared(linear if change is None else change(linear), air))
    return tuple(found)


def _alone(experiment: Experiment, agreements: Sequence[Agreement]) -> list[RatioTest]:
    """Return the test by each route alone of the amounts whose routes disagree."""
    models = (experiment.consumed, experiment.produced)
    return [
        _test_of(experiment, trial_amounts(experiment, ways), ways, by=by)
        for ways, by in ways_alone(models, agreements)
    ]


def _reason(
    experiment: Experiment, plain: _Judged, coverage: float
) -> tuple[Reason | None, tuple[str, ...], list[Caveat]]:
    """Return why the verdict is not simply what the compatible candidates make it.

    With it what the reason is about, and a warning where a mass was still changing but the
    verdict would stay.
    """
    below = plain.test.linear.below_zero(BELOW_ZERO_LEVEL)
    if below:
        species = (experiment.consumed.species, experiment.produced.species)
        whole = {side for side, trial in below if trial is None}
        names = [
            species[side] if trial is None else _of_trial(species[side], experiment.trials[trial])
            for side, trial in below
            if trial is None or side not in whole
        ]
        return Reason.BELOW_ZERO, tuple(names), []
    changing = still_changing(experiment)
    if changing:
        about = tuple(f"{name} (trial {trial})" if trial else name for trial, name, _ in changing)
        further = dried_further(experiment, changing)
        found = {plain.compatible, *(_fitting(e, coverage) for e in further)}
        if len(found) > 1 or not plain.compatible:
            return Reason.NOT_CONSTANT, about, []
    nothing = len(plain.compatible) == 1 and len(plain.candidates) > 1
    if nothing:
        (fits,) = (c for c in plain.candidates if c.compatible)
        nothing = plain.test.linear.nothing_reacted_p(fits.tested_ratio) > 1 - coverage
    settled = [Caveat(CaveatKind.STILL_CHANGING, name) for name in about] if changing else []
    return (Reason.NOTHING_REACTED if nothing else None), (), settled


def _of_trial(name: str, trial: Trial) -> str:
    """Name an amount or a reading of one trial."""
    return f"{name} (trial {trial.name})"


def still_changing(experiment: Experiment) -> list[tuple[str, str, float]]:
    """Return the repeated weighings that had not become constant.

    Each as (trial or "" for all, name of the reading, last change in g): the change is more than
    the balance explains.

    >>> from stoichkit import experiments
    >>> still_changing(experiments.load("hydrate-heating"))
    []
    """
    found = []
    everything = (experiment.shared_readings, *(t.readings for t in experiment.trials))
    if all(len(texts) < 2 for readings in everything for texts in readings.values()):
        return []
    for role in experiment.roles():
        if not role.repeated or not isinstance(experiment.instruments[role.instrument], Balance):
            continue
        name = role.instrument
        if role.name in experiment.shared_readings:
            series = [("", experiment.shared_readings[role.name], name)]
        else:
            series = [
                (t.name, t.readings.get(role.name, ()), t.instruments.get(name, name))
                for t in experiment.trials
            ]
        for trial, texts, used in series:
            balance = experiment.instruments[used]
            if len(texts) > 1 and isinstance(balance, Balance):
                step = constant_mass([parse_number(t, role.name) for t in texts], balance)
                if not step.reached:
                    found.append((trial, role.name, step.change_g))
    return found


def dried_further(
    experiment: Experiment, changing: Sequence[tuple[str, str, float]]
) -> Iterator[Experiment | None]:
    """Yield the experiment as if the masses had gone on changing, to ten times the last change.

    ``changing`` is as :func:`still_changing` returns it; None where a mass would be none that can
    be read.
    """
    for share in range(1, _MOST_CHANGES + 1):
        try:
            yield _further(experiment, changing, share)
        except StoichkitError:
            yield None


def _fitting(experiment: Experiment | None, coverage: float) -> tuple[str, ...]:
    """Return which candidates fit a record; none where its masses cannot be read."""
    try:
        return () if experiment is None else _judged(experiment, coverage).compatible
    except StoichkitError:
        return ()


def _further(
    experiment: Experiment, changing: Sequence[tuple[str, str, float]], share: int
) -> Experiment:
    """Return the record with the last of each changing mass moved on by so many changes."""
    further = experiment
    for trial, name, change in changing:
        readings = (
            experiment.shared_readings
            if not trial
            else next(t for t in experiment.trials if t.name == trial).readings
        )
        texts = readings[name]
        last = parse_number(texts[-1], name).value + share * change
        further = further.with_reading(trial, name, [*texts[:-1], f"{last:.9f}"])
    return further


def linear_amounts(
    experiment: Experiment, amounts: Sequence[tuple[Number, Number]] | None = None
) -> LinearAmounts:
    """Return the amounts of all trials of an experiment, ready for testing any ratio."""
    pairs = trial_amounts(experiment) if amounts is None else amounts
    return LinearAmounts(pairs, _role_of(experiment))


def trial_amounts(
    experiment: Experiment, models: Models | None = None
) -> tuple[tuple[Number, Number], ...]:
    """Return the amounts of each trial; a stated variation is one more error a trial.

    ``models`` are other ways from the same readings, such as one of several routes.

    >>> from stoichkit import experiments
    >>> len(trial_amounts(experiments.load("copper-silver")))
    4
    """
    consumed, produced = models or (experiment.consumed, experiment.produced)
    pairs = experiment.amounts_by(consumed, produced, ErrorPool())
    variation = experiment.variation
    if variation is None or variation.unknown:
        return tuple(pairs)
    return tuple(
        (a, b * variation_factor(variation, f"variation between trials, trial {trial.name}"))
        for (a, b), trial in zip(pairs, experiment.trials, strict=True)
    )


def air_of(
    experiment: Experiment,
    amounts: Sequence[tuple[Number, Number]],
    models: Models | None = None,
) -> tuple[tuple[float, float], bool]:
    """Return by which factors air may have changed the ratio as measured, and if that matters.

    It does where a mass could change by more than half a display step. ``models`` are other ways
    from the same readings, such as one of several routes.

    >>> from stoichkit import experiments
    >>> lab = experiments.load("copper-silver")
    >>> (low, high), fine = air_of(lab, lab.amounts())
    >>> round(low, 4), round(high, 4), fine
    (0.9986, 1.0014, False)
    """
    models = models or (experiment.consumed, experiment.produced)
    bounds, fine, negligible = [], False, True
    for side, model in enumerate(models):
        bounds.append(model.unknown_air())
        most = max(abs(nominal(pair[side])) for pair in amounts)
        for way in model.ways:
            mass_g = way.expected_mass_g(most) if way.unknown_air() != NOTHING else None
            if mass_g is not None:
                step_g = _finest(experiment, way.span.instrument)
                fine = fine or matters(mass_g, step_g)
                negligible = negligible and not matters(mass_g, step_g, NEGLIGIBLE)
    if negligible:
        return NOTHING, False
    (low_a, high_a), (low_b, high_b) = bounds
    return (low_a / high_b, high_a / low_b), fine


def _finest(experiment: Experiment, name: str) -> float:
    """Return the smallest step that any trial was read with in the place of one instrument."""
    used = {name, *(trial.instruments.get(name, name) for trial in experiment.trials)}
    return min(experiment.instruments[one].readability for one in used)


def variation_factor(variation: Variation, label: str) -> Number:
    """Return 1 with a stated variation as its one error source.

    >>> variation_factor(Variation(relative="1.5 %"), "variation").std_dev
    0.015
    """
    return uncertain_value(
        1.0,
        label,
        kind="variation",
        shape=Shape.NORMAL if math.isinf(variation.dof) else Shape.STUDENT_T,
        scale=variation.relative,
        dof=variation.dof,
    )


def _role_of(experiment: Experiment) -> dict[str, str]:
    names = [role.name for role in experiment.roles()]
    return {f"{name}, trial {trial.name}": name for trial in experiment.trials for name in names}


def _tested(candidate: Candidate, test: RatioTest, coverage: float) -> CandidateEvidence:
    """Test a candidate by all routes and, where they disagree, by each: the largest p counts."""
    found = [_tested_by(candidate, one, coverage) for one in (test, *test.alone)]
    return max(found, key=lambda one: (one.p_value, one.likelihood_per_mol))


def _tested_by(candidate: Candidate, test: RatioTest, coverage: float) -> CandidateEvidence:
    ratio = float(candidate.ratio)
    p, nearest = test.candidate(ratio, 1 - coverage)
    error = test.error(nearest)
    discrepancy = test.linear.mean(nearest, 1.0)
    return CandidateEvidence(
        candidate=candidate,
        discrepancy_mol=discrepancy,
        tested_ratio=nearest,
        standard_uncertainty_mol=error.spread,
        p_value=p,
        p_value_average=error.two_sided(discrepancy),
        compatible=p >= 1 - coverage,
        likelihood_per_mol=test.likelihood(ratio, error),
        relative_likelihood=0.0,
        tested_mol=(test.linear.mean_consumed, test.linear.mean_produced),
        tested_by=test.by,
    )


def _nothing_shown(evidence: Evidence) -> list[Caveat]:
    """Warn where no product is told apart from zero, or no amount along a ray that fits."""
    verdict, alpha = evidence.verdict, 1 - evidence.coverage
    if verdict.reason is not None:
        return []  # which says more
    if verdict.kind is VerdictKind.NONE_FITS:
        nothing = evidence._test.p_value(0.0, 1.0) >= alpha
    else:
        fitting = [evidence.candidates[name] for name in verdict.candidates]
        chances = (evidence._linear.nothing_reacted_p(c.tested_ratio) for c in fitting)
        nothing = all(p > alpha for p in chances)
    return [Caveat(CaveatKind.NOTHING_SHOWN)] if nothing else []


def _caveats(evidence: Evidence) -> Sequence[Caveat]:
    experiment, linear = evidence.experiment, evidence._linear
    found = []
    near_zero = linear.p_value(1.0, 0.0) >= 1 - evidence.coverage
    below = evidence.verdict.reason is Reason.BELOW_ZERO  # which says more than this warning
    if near_zero or (linear.mean_consumed <= 0 and not below):
        value = math.nan if near_zero else 1e3 * linear.mean_consumed  # below zero, mmol
        found.append(Caveat(CaveatKind.NOT_RESOLVED, experiment.consumed.species, value))
    if linearity_fails(experiment, evidence.nearest.ratio, evidence.coverage):
        found.append(Caveat(CaveatKind.NOT_LINEAR, evidence.nearest.name))
    for side in dict.fromkeys(one.side for one in evidence.agreements if not one.agree):
        p = min(one.p_value for one in evidence.agreements if one.side == side)
        found.append(Caveat(CaveatKind.ROUTES_DISAGREE, side, p))
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
        over = linear.mean(nearest.ratio, 1.0) > 0
        over = over and evidence._test.p_value(nearest.ratio, 1.0) < 1 - evidence.coverage
        kind = CaveatKind.OVER_100 if over else CaveatKind.OVER_RECOVERY
        found.append(Caveat(kind, nearest.name, percent))
    if linear.trials == 1:
        found.append(Caveat(CaveatKind.SINGLE_TRIAL))
    looks = experiment.looks
    if looks is not None and not looks.is_planned(linear.trials):
        ever = looks.ever(linear.trials, 1 - evidence.together, experiment.variation)
        found.append(Caveat(CaveatKind.UNPLANNED_LOOK, "", ever))
    if evidence.finer_alone is not None:
        found.append(Caveat(CaveatKind.FINER_ALONE))
    if evidence.unknown_but_alike:
        found.append(Caveat(CaveatKind.UNKNOWN_VARIATION))
    if evidence.verdict.kind is not VerdictKind.CANNOT_BE_JUDGED:  # nothing would be gained
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
        if source.kind == "variation":  # one source a trial
            name = "variation between trials"
        shares[name] = shares.get(name, 0.0) + line.share
    if not shares:
        return []
    name, share = max(shares.items(), key=lambda item: item[1])
    return [Caveat(CaveatKind.DOMINANT_SOURCE, name, share)] if share > _DOMINANT else []
