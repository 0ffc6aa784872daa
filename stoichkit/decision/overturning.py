"""What would overturn a verdict: of each kind of fault the smallest that would change it.

A candidate that would come in, or another left alone, overturns a verdict. That no candidate would
fit does not: it says that there can be no such fault if one of them is true.

No reading of one lab shows that a balance repeats twice as badly as stated, that every product
holds the same 0.2 g of water, or that the zero drifts. What can be said is how large such a fault
would have to be. Each is put into the readings (a shift), the instruments (a wider error) or the
allowance (a wider range). Its size is foretold from the largest discrepancy that each candidate
allows, then tried on both sides, and searched where it was foretold wrongly.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from ..measurement.displays import Balance
from ..uncertainty.digits import split_narrow, worst_position_tails
from ..uncertainty.distribution import student_p
from ..uncertainty.sources import Floats
from .linear import LinearAmounts, to_mean
from .verdict import Verdict, VerdictKind

if TYPE_CHECKING:
    from .evidence import Evidence
    from .ratio_test import RatioTest

Change = Callable[[LinearAmounts], LinearAmounts]
Way = Callable[[LinearAmounts], Floats]
"""Returns how both amounts of each trial change with one unit of a shift, shape (2, trials)."""

Judge = Callable[[Change, tuple[float, float], tuple[str, ...]], Verdict]
"""Returns the verdict of some candidates on other amounts, with an allowance for recovery."""

_PRECISION = 0.03
_BESIDE = 0.005
"""How far before and behind a size foretold it is tried."""
_GROWTH, _PROBE = 1.2, 1.3
_MOST_USUAL = 50.0
"""How many times a usual size a fault may be: what is larger is not met, and not named."""
_LARGEST = 0.4
"""The same for a fraction recovered, and for the variation of the trials."""
_NEXT = 1.05
"""Ratios up to this part further than the next on each side are looked at: others come in later."""
_GENEROUS = 1.3
"""Part by which a mean over its scatter may be off where trials share errors."""
_SPREADS, _PARTS = 6.0, 16
"""Standard uncertainties up to which the largest discrepancy is looked for first, in so many."""


class FaultKind(StrEnum):
    """What may be wrong without any reading showing it.

    A constant mass is the same amount too much, or too little, in one reading of every trial: the
    one that grows with what was produced, or with the reactant that was used up. Where that is no
    weighing it is a volume, a time or a current.
    """

    REPEATABILITY = "repeatability"
    PRODUCED = "constant mass on the product"
    CONSUMED = "constant mass on the metal"
    DRIFT = "drift"
    CALIBRATION = "calibration"
    RECOVERY = "recovery"
    ONE_READING = "one reading"
    VARIATION = "variation"


_USUAL = {
    FaultKind.REPEATABILITY: 1.0,  # twice the stated is one more of it
    FaultKind.PRODUCED: 2.0,
    FaultKind.CONSUMED: 2.0,
    FaultKind.DRIFT: 0.5,
    FaultKind.ONE_READING: 5.0,
    FaultKind.CALIBRATION: 0.002,
    FaultKind.RECOVERY: 0.05,
    FaultKind.VARIATION: 0.01,
}
"""A size met in teaching labs (common practice, no source), by which faults are put in order:
times the stated repeatability more, display steps, or a fraction."""


@dataclass(frozen=True, slots=True)
class Fault:
    """The smallest fault of one kind that would change a verdict.

    Attributes
    ----------
    kind : FaultKind
    subject : str
        The instrument, the reading or the species meant.
    size : float
        In ``unit``. What would have to be added to the reading, or to the fraction recovered:
        negative where it is less. A calibration is what would have to be added to the product.
    unit : str
        Unit of the reading; "" for a fraction.
    times : float
        How many times what is stated, or assumed because it is not; nan where that is nothing.
    steps : float
        How many display steps; nan for fractions.
    usual : float
        How many times a size that is met in teaching labs: the order of faults.
    verdict : Verdict
        What it would lead to.
    reading : str
        The reading that would have to be changed in every trial, or in the first; "" for the
        other kinds.
    """

    kind: FaultKind
    subject: str
    size: float
    unit: str
    times: float
    steps: float
    usual: float
    verdict: Verdict
    reading: str = ""


def overturning(evidence: Evidence, test: RatioTest, judge: Judge) -> tuple[Fault, ...]:
    """Return the smallest fault of each kind that would change a verdict, nearest first.

    A constant mass, one reading and a drift are tried both ways, as multiples of a display step.
    Faults of more than 50 times a size met in teaching labs are left out, and so are all where
    nothing can be judged.
    """
    if evidence.verdict.kind is VerdictKind.CANNOT_BE_JUDGED:
        return ()
    found = _Search(evidence, test, judge).faults()
    return tuple(sorted(found, key=lambda fault: fault.usual))


@dataclass(frozen=True, slots=True)
class _Shift:
    """Readings that all are off by multiples of one size."""

    kind: FaultKind
    subject: str
    reading: str
    way: Way
    unit: str = ""
    step: float = math.nan

    @property
    def unit_size(self) -> float:
        """What sizes are counted in: the display step, or a fraction."""
        return self.step if self.reading else 1.0

    @property
    def most(self) -> float:
        """The largest size looked for."""
        return _MOST_USUAL * _USUAL[self.kind]


class _Search:
    """One lab, and every way in which it may be off."""

    def __init__(self, evidence: Evidence, test: RatioTest, judge: Judge) -> None:
        self.evidence, self.experiment = evidence, evidence.experiment
        self.test, self.linear, self.alpha = test, test.linear, 1 - evidence.coverage
        self.recovery = self.experiment.recovery
        self._judge = judge
        self._limits: dict[float, float] = {}
        self.roles = {r.name: r for r in self.experiment.roles() if r.needs_reading}
        names = [n for n in self.experiment.reading_names() if n in self.roles]
        self.step = {name: self.linear.step_of(name) for name in names}
        self.order = [n for n in names if not math.isnan(self.step[n])]
        self.near = self._near()

    def _near(self) -> tuple[str, ...]:
        """Return the candidates that fit, and those whose ratios lie next to the one found."""
        candidates, found = self.evidence.candidates, self.evidence.ratio
        kept = {name for name, c in candidates.items() if c.compatible}
        out = [(c.ratio, name) for name, c in candidates.items() if name not in kept]
        above = sorted((r, name) for r, name in out if r > found)
        below = sorted(((-r, name) for r, name in out if not r > found))
        for side, limit in ((above, _NEXT), (below, 1 / _NEXT)):
            kept |= {name for r, name in side if r <= side[0][0] * limit}
        return tuple(name for name in candidates if name in kept)

    def faults(self) -> Iterator[Fault]:
        """Yield the smallest fault of each kind."""
        by_kind: dict[FaultKind, list[Fault]] = {}
        for fault in self._each():
            by_kind.setdefault(fault.kind, []).append(fault)
        for found in by_kind.values():
            yield min(found, key=lambda fault: fault.usual)

    def _each(self) -> Iterator[Fault]:
        """Yield the smallest fault of each kind and subject, of those that share their unit."""
        shifts = (*self._constant(), *self._one_reading(), *self._drift(), *self._scale())
        for kind in dict.fromkeys(shift.kind for shift in shifts):
            yield from self._smallest_shift([shift for shift in shifts if shift.kind is kind])
        yield from self._repeatability()
        yield from self._recovery()
        yield from self._variation()

    # -- shifts ------------------------------------------------------------------------------

    def _constant(self) -> Iterator[_Shift]:
        """Yield the same too much or too little in one reading of every trial."""
        sides = (
            (FaultKind.PRODUCED, self.experiment.produced),
            (FaultKind.CONSUMED, self.experiment.consumed),
        )
        for kind, amount in sides:
            name = amount.span.high or amount.span.low

            def way(linear: LinearAmounts, name: str = name) -> Floats:
                return linear.shift_of([name])

            yield from self._of_reading(kind, amount.species, name, way)

    def _one_reading(self) -> Iterator[_Shift]:
        """Yield one reading of the first trial: the one whose step moves the most."""
        name = max(self.order, key=self._leverage, default="")

        def way(linear: LinearAmounts) -> Floats:
            places = linear.readings_of(name)
            return linear.shift_of_reading(places[0]) if places else linear.shift_of([])

        yield from self._of_reading(FaultKind.ONE_READING, name, name, way)

    def _leverage(self, name: str) -> float:
        """Return how much one step of one reading moves the discrepancies."""
        shift = self.linear.shift_of_reading(self.linear.readings_of(name)[0]) * self.step[name]
        ratios = [self.evidence.candidates[n].ratio for n in self.near]
        return max(abs(float(shift[1].mean() - x * shift[0].mean())) for x in ratios)

    def _drift(self) -> Iterator[_Shift]:
        """Yield the zero of a balance moving on by the same from each weighing to the next."""
        for instrument, names, among in self._by_instrument():
            if len(names) > 1 and isinstance(self.experiment.instruments[instrument], Balance):

                def way(
                    linear: LinearAmounts,
                    names: list[str] = names,
                    among: frozenset[str] | None = among,
                ) -> Floats:
                    each = [i * linear.shift_of([name], among) for i, name in enumerate(names)]
                    return np.asarray(np.sum(each, axis=0))

                yield from self._of_reading(FaultKind.DRIFT, instrument, names[0], way, among)

    def _by_instrument(self) -> Iterator[tuple[str, list[str], frozenset[str] | None]]:
        """Yield each instrument with a display, its readings in the order they are made, labels.

        No labels where all trials were read on the same ones, so that every trial is meant.
        """
        lab = self.experiment
        if not any(trial.instruments for trial in lab.trials):
            for instrument in sorted({self.roles[n].instrument for n in self.order}):
                names = [n for n in self.order if self.roles[n].instrument == instrument]
                yield instrument, names, None
            return
        labels: dict[str, dict[str, list[str]]] = {}
        for trial in lab.trials:
            used = {role.name: role.instrument for role in lab.roles_in(trial)}
            for name in self.order:
                shared = self.roles[name].once or name in lab.shared_readings
                label = name if shared else f"{name}, trial {trial.name}"
                labels.setdefault(used[name], {}).setdefault(name, []).append(label)
        for instrument, found in sorted(labels.items()):
            yield instrument, [*found], frozenset(one for each in found.values() for one in each)

    def _of_reading(
        self,
        kind: FaultKind,
        subject: str,
        name: str,
        way: Way,
        among: frozenset[str] | None = None,
    ) -> Iterator[_Shift]:
        """Yield a shift if the reading has a display step, and it moves an amount."""
        step = self.step.get(name, math.nan) if among is None else self.linear.step_of(name, among)
        if not math.isnan(step) and way(self.linear).any():
            yield _Shift(kind, subject, name, way, self.roles[name].unit, step)

    def _scale(self) -> Iterator[_Shift]:
        """Yield how far two instruments may disagree; of a single one the calibration cancels."""
        one, other = (
            a.span.instrument for a in (self.experiment.consumed, self.experiment.produced)
        )
        if one != other:

            def way(linear: LinearAmounts) -> Floats:
                return np.stack([np.zeros(linear.trials), linear.produced])

            yield _Shift(FaultKind.CALIBRATION, other, "", way)

    def _smallest_shift(self, shifts: list[_Shift]) -> Iterator[Fault]:
        """Yield the smallest of shifts of one kind, both ways, that changes the verdict."""
        both = []
        for shift in shifts:
            for size in (shift.unit_size, -shift.unit_size):
                both.append((*self._expected(size * shift.way(self.linear)), size, shift))
        best = math.inf
        for low, high, inside, size, shift in sorted(both, key=lambda one: one[1]):

            def at(times: float, shift: _Shift = shift, size: float = size) -> Verdict:
                return self._verdict(lambda a: a.shifted(times * size * shift.way(a)))

            found = self._bracketed(at, low, high, inside, min(0.98 * best, shift.most))
            if found is None:
                continue
            best, verdict = found
            yield Fault(
                shift.kind, shift.subject, best * size, shift.unit, math.nan,
                best if shift.reading else math.nan, best / _USUAL[shift.kind], verdict,
                shift.reading,
            )  # fmt: skip

    def _expected(self, way: Floats) -> tuple[float, float, float]:
        """Return up to which multiple the verdict surely stays, from which it should be another.

        With it a multiple just beyond. They are foretold from the discrepancies that fit; where
        the trials would scatter too much before that, it may change earlier.
        """
        fits = {n: self._fits(self.evidence.candidates[n].ratio, way) for n in self.near}
        edges = sorted({edge for ends in fits.values() for edge in ends if 0 < edge < math.inf})
        now = {name for name in fits if self.evidence.candidates[name].compatible}
        high = inside = math.inf
        for size, following in zip(edges, [*edges[1:], math.inf], strict=False):
            inside = min(size * (1 + _BESIDE), (size + following) / 2)
            there = {name for name, (start, end) in fits.items() if start < inside < end}
            if there and there != now:
                high = size
                break
        if self.evidence.verdict.reason is not None:
            return min(high, 0.25), min(high, 1.0), min(inside, 1.0)
        low = self._scattered(way, high)
        if high == math.inf:
            high = inside = low
        return min(low, high), high, inside

    def _fits(self, ratio: float, way: Floats) -> tuple[float, float]:
        """Return between which multiples of a shift a candidate fits."""
        starts, ends = [], []
        for at in {ratio * part for part in self.test.widest}:
            slope = float(way[1].mean() - at * way[0].mean())
            if slope:
                now, limit = self.linear.mean(at, 1.0), self._limit(at)
                start, end = sorted((sign * limit - now) / slope for sign in (1.0, -1.0))
                starts.append(start)
                ends.append(end)
        return (min(starts), max(ends)) if starts else (math.inf, -math.inf)

    def _limit(self, ratio: float) -> float:
        """Return the largest discrepancy from a ratio that fits it by the readings' own errors."""
        if ratio in self._limits:
            return self._limits[ratio]
        blocks, rest = self.linear.blocks(ratio, 1.0)
        error = self.linear.distribution(ratio, 1.0)
        if blocks:
            wide, narrow = split_narrow(rest, blocks)
            low, width = 0.0, _SPREADS * error.spread
            for part in (width, width / _PARTS):
                x = low + part * np.arange(1, _PARTS + 1) / _PARTS
                p = worst_position_tails(x, blocks, wide, np.full(x.size, narrow))
                low += part / _PARTS * int(np.argmax(np.append(p < self.alpha, True)))
            found = low + width / _PARTS**2 / 2
        else:
            found = error.half_width(1 - self.alpha)
        self._limits[ratio] = found
        return found

    def _scattered(self, way: Floats, most: float) -> float:
        """Return from which multiple of a shift the scatter of the trials may change the verdict.

        At least, up to which multiple no candidate left out fits by their scatter. Infinite if
        there is none up to the most.
        """
        trials, most = self.linear.trials, min(most, 4 * _MOST_USUAL)
        if trials < 2:
            return math.inf
        sizes = np.geomspace(most / 2**10, most, 101)
        consumed = self.linear.consumed + sizes[:, None] * way[0]
        produced = self.linear.produced + sizes[:, None] * way[1]
        factors = to_mean(consumed, self.linear.own_consumed)
        d = []
        for one in (self.evidence.candidates[name] for name in self.near):
            if not one.compatible:
                d.append(factors * (produced - one.ratio * consumed))
        spread = [each.std(axis=1, ddof=1) / math.sqrt(trials) for each in d]
        fitting = np.zeros(sizes.size, dtype=np.bool_)
        for each, scale in zip(d, spread, strict=True):
            fitting |= np.abs(each.mean(axis=1)) <= _GENEROUS * self._student * scale
        for i in np.flatnonzero(fitting).tolist():
            scatter = self.linear.shifted(sizes[i] * way).scatter(self.recovery)
            if self.test.by_scatter or (scatter is not None and scatter.excess):
                return float(sizes[max(i - 1, 0)])
        return math.inf

    @cached_property
    def _student(self) -> float:
        """The largest value of Student's t that fits."""
        low, high, dof = 0.0, 2.0, self.linear.trials - 1
        while student_p(high, 0.0, 1.0, dof) > self.alpha:
            low, high = high, 2 * high
        while high - low > _PRECISION * high:
            middle = (low + high) / 2
            fits = student_p(middle, 0.0, 1.0, dof) > self.alpha
            low, high = (middle, high) if fits else (low, middle)
        return high

    # -- wider errors, wider allowances ------------------------------------------------------

    def _repeatability(self) -> Iterator[Fault]:
        """Yield of each instrument how much worse than stated it would have to repeat."""
        for instrument, names, among in self._by_instrument():
            step = self.linear.step_of(names[0], among)
            stated = self.linear.noise_of(names[0], among)

            def at(
                sigma: float, names: list[str] = names, among: frozenset[str] | None = among
            ) -> Verdict:
                noise = dict.fromkeys(names, sigma)
                return self._verdict(lambda a: a.repeating(noise, among))

            def weight(
                ratio: float, names: list[str] = names, among: frozenset[str] | None = among
            ) -> float:
                return self.linear.variance_of(names, ratio, among)

            most = stated + _MOST_USUAL * _USUAL[FaultKind.REPEATABILITY] * (stated or step)
            guess = max(self._wider(weight, stated), 1.05 * stated, step / 8)
            found = self._searched(at, guess, most, least=stated)
            if found:
                sigma, verdict = found
                more = (sigma - stated) / (stated or step)
                yield Fault(
                    FaultKind.REPEATABILITY, instrument, sigma, self.roles[names[0]].unit,
                    sigma / stated if stated else math.nan, sigma / step,
                    more / _USUAL[FaultKind.REPEATABILITY], verdict,
                )  # fmt: skip

    def _variation(self) -> Iterator[Fault]:
        """Yield how much the trials would have to vary, if that is not unknown anyway."""
        stated = self.experiment.variation
        if stated is not None and stated.unknown:
            return
        known = 0.0 if stated is None else stated.relative

        def at(part: float) -> Verdict:
            return self._verdict(lambda a: a.varying(part))

        weight = float((self.linear.produced**2).sum()) / self.linear.trials**2
        found = self._searched(at, self._wider(lambda _: weight, 0.0), _LARGEST)
        if found:
            more, verdict = found
            size = math.hypot(more, known)
            yield Fault(
                FaultKind.VARIATION, "", size, "", size / known if known else math.nan, math.nan,
                (size - known) / _USUAL[FaultKind.VARIATION], verdict,
            )  # fmt: skip

    def _wider(self, weight: Callable[[float], float], stated: float) -> float:
        """Return roughly how wide an error would have to be for a candidate left out to fit.

        ``weight`` is the variance of the discrepancy from a ratio for an error of 1.
        """
        found = math.inf
        for name in self.near:
            one = self.evidence.candidates[name]
            if not one.compatible and weight(one.ratio) > 0:
                u = one.standard_uncertainty_mol
                times = abs(one.discrepancy_mol) / self._limit(one.tested_ratio)
                square = stated**2 + (times**2 - 1) * u**2 / weight(one.ratio)
                found = min(found, math.sqrt(max(square, 0.0)))
        return found

    def _recovery(self) -> Iterator[Fault]:
        """Yield how much less, or more, of the product would have to be weighed as such."""
        low, high = self.recovery
        least, most = self.test.widest
        n_a, n_b = self.linear.mean_consumed, self.linear.mean_produced
        if n_a <= 0:
            return
        for sign in (-1.0, 1.0):
            parts = []
            for name in self.near:
                one = self.evidence.candidates[name]
                if one.compatible or sign * (n_b - one.ratio * n_a) < 0:
                    continue
                part = least if sign < 0 else most
                for _ in range(2):  # how much fits hangs on the ratio itself
                    part = (n_b - sign * self._limit(part * one.ratio)) / (one.ratio * n_a)
                parts.append(least - part if sign < 0 else part - most)

            def at(part: float, sign: float = sign) -> Verdict:
                wider = (low - part, high) if sign < 0 else (low, high + part)
                return self._verdict(lambda a: a, wider)

            limit = min(_LARGEST, low - 0.01) if sign < 0 else _LARGEST
            first = max(min(parts, default=math.inf), 1e-4)
            found = self._bracketed(at, first, first, first * (1 + _BESIDE), limit)
            if found:
                part, verdict = found
                yield Fault(
                    FaultKind.RECOVERY, self.experiment.produced.species, sign * part, "",
                    math.nan, math.nan, part / _USUAL[FaultKind.RECOVERY], verdict,
                )  # fmt: skip

    # -- searching ---------------------------------------------------------------------------

    def _verdict(self, change: Change, recovery: tuple[float, float] | None = None) -> Verdict:
        return self._judge(change, recovery or self.recovery, self.near)

    def _changed(self, verdict: Verdict) -> bool:
        return changed(verdict, self.evidence.verdict)

    def _bracketed(
        self, at: Callable[[float], Verdict], low: float, high: float, inside: float, most: float
    ) -> tuple[float, Verdict] | None:
        """Return the least size up to the most at which the verdict is another, and which.

        It should be another at ``inside``, just beyond ``high``, and surely is not below ``low``.
        """
        before, size = 0.0, low * (1 + _BESIDE)
        while size < min((1 - 2 * _BESIDE) * high, most):
            if self._changed(found := at(size)):
                return self._between(at, before, size, found)
            before, size = size, size * _PROBE
        if not inside < most:
            return None
        found = at(inside)
        if not self._changed(found):
            return self._searched(at, inside, most, least=inside)
        if self._changed(at((1 - 2 * _BESIDE) * high)):
            near = (1 - 3 * _PRECISION) * high  # foretold a little too large, most likely
            if before < near and not self._changed(at(near)):
                before = near
            return self._between(at, before, high, found)
        return high, found

    def _searched(
        self, at: Callable[[float], Verdict], guess: float, most: float, least: float = 0.0
    ) -> tuple[float, Verdict] | None:
        """Return the size about a guess from which the verdict is another, and which.

        None if it is not up to the most; at the least it is known to be the same.
        """
        if not guess < most:
            return None
        low, high, growth = least, max(guess, least * _GROWTH), _GROWTH
        found = at(high)
        while not self._changed(found):
            if high >= most or found.kind is VerdictKind.CANNOT_BE_JUDGED:
                return None
            low, growth = high, growth * _GROWTH
            high = min(high * growth, most)
            found = at(high)
        while low == least < (nearer := high / growth):  # the guess was too large
            here = at(nearer)
            if not self._changed(here):
                low = nearer
            elif nearer > _BESIDE * guess:
                high, found, growth = nearer, here, growth * _GROWTH
            else:
                return nearer, here
        return self._between(at, low, high, found)

    def _between(
        self, at: Callable[[float], Verdict], low: float, high: float, found: Verdict
    ) -> tuple[float, Verdict]:
        """Return where between two sizes the verdict becomes that found at the higher one."""
        return halved_in(at, (low, high), found, self.evidence.verdict, _PRECISION)


def changed(verdict: Verdict, before: Verdict) -> bool:
    """Return whether a candidate comes in, or another is left alone."""
    kinds = (VerdictKind.SINGLED_OUT, VerdictKind.NOT_TOLD_APART)
    return verdict.kind in kinds and (verdict.kind, verdict.candidates) != (
        before.kind,
        before.candidates,
    )


def halved_in(
    at: Callable[[float], Verdict],
    between: tuple[float, float],
    found: Verdict,
    before: Verdict,
    precision: float,
) -> tuple[float, Verdict]:
    """Return where between two sizes a verdict becomes that found at the higher one."""
    low, high = between
    while high - low > precision * high:
        middle = (low + high) / 2
        here = at(middle)
        if changed(here, before):
            high, found = middle, here
        else:
            low = middle
    return high, found
