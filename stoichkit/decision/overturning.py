"""What would overturn a verdict: of each kind of fault the smallest that would change it.

A candidate that would come in, or another left alone, overturns a verdict. That no candidate would
fit does not: it says that there can be no such fault if one of them is true.

No reading of one lab shows that a balance repeats twice as badly as stated, that every product
holds the same 0.2 g of water, or that the zero drifts. What can be said is how large such a fault
would have to be. Each is put into the readings (a shift), the instruments (a wider error) or the
allowance (a wider range), and its size is searched until the verdict becomes another.
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
from ..uncertainty.sources import Floats
from .linear import LinearAmounts
from .verdict import Verdict, VerdictKind

if TYPE_CHECKING:
    from ..experiments.record import Experiment

Judge = Callable[[LinearAmounts, tuple[float, float]], Verdict]
"""Returns the verdict on amounts with an allowance for recovery."""

_PRECISION = 0.02
_GROWTH = 2.0
_MOST_STEPS = 2000.0
_LARGEST = 0.5
"""A calibration, a recovery or a variation off by more than half is no fault any more."""


class FaultKind(StrEnum):
    """What may be wrong without any reading showing it."""

    REPEATABILITY = "repeatability"
    PRODUCED = "constant amount on the product"
    CONSUMED = "constant amount on the reactant"
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
        In ``unit``; negative where the readings would have to be lower than they are.
    unit : str
        Unit of the reading; "" for a fraction.
    times : float
        How many times what is stated; nan where nothing is, or 0.
    steps : float
        How many display steps; nan for fractions and where nothing is displayed.
    usual : float
        How many times a size that is met in teaching labs: the order of faults.
    verdict : Verdict
        What it would lead to.
    """

    kind: FaultKind
    subject: str
    size: float
    unit: str
    times: float
    steps: float
    usual: float
    verdict: Verdict


def overturning(
    experiment: Experiment,
    linear: LinearAmounts,
    verdict: Verdict,
    judge: Judge,
) -> tuple[Fault, ...]:
    """Return the smallest fault of each kind that would change a verdict, nearest first.

    Faults too large to be met (2,000 display steps, half of a fraction) are left out, and so are
    all where nothing can be judged.
    """
    if verdict.kind is VerdictKind.CANNOT_BE_JUDGED:
        return ()
    search = _Search(experiment, linear, verdict, judge)
    found: dict[FaultKind, Fault] = {}
    for fault in search.faults():
        best = found.get(fault.kind)
        if best is None or fault.usual < best.usual:
            found[fault.kind] = fault
    return tuple(sorted(found.values(), key=lambda fault: fault.usual))


class _Search:
    """One lab, and every way in which it may be off."""

    def __init__(
        self, experiment: Experiment, linear: LinearAmounts, verdict: Verdict, judge: Judge
    ) -> None:
        self.experiment, self.linear, self.judge = experiment, linear, judge
        self.recovery, self.coverage = experiment.recovery, verdict.coverage
        self._now = _state(verdict)
        self.roles = {r.name: r for r in experiment.roles() if r.needs_reading}
        self.order = [n for n in experiment.reading_names() if n in self.roles]
        self.step = {name: linear.step_of(name) for name in self.order}

    def faults(self) -> Iterator[Fault]:
        """Yield the smallest fault of each kind and subject."""
        yield from self._shifts()
        yield from self._repeatability()
        yield from self._calibration()
        yield from self._fractions()

    def _shifts(self) -> Iterator[Fault]:
        sides = (
            (FaultKind.PRODUCED, self.experiment.produced),
            (FaultKind.CONSUMED, self.experiment.consumed),
        )
        for kind, amount in sides:
            name = amount.span.high or amount.span.low
            yield from self._steps(kind, amount.species, name, self.linear.shift_of([name]))
        one = max(self.order, key=self._leverage)
        shift = self.linear.shift_of_reading(self.linear.readings_of(one)[0])
        yield from self._steps(FaultKind.ONE_READING, one, one, shift)
        balances = {role.instrument for role in self.roles.values()}
        for instrument in sorted(balances):
            names = [n for n in self.order if self.roles[n].instrument == instrument]
            if len(names) > 1 and isinstance(self.experiment.instruments[instrument], Balance):
                shift = sum(
                    (i * self.linear.shift_of([name]) for i, name in enumerate(names)),
                    start=np.zeros((2, self.linear.trials)),
                )
                yield from self._steps(FaultKind.DRIFT, instrument, names[0], shift)

    def _leverage(self, name: str) -> float:
        """Return how much one step of one reading moves the discrepancies; 0 for no display."""
        places = self.linear.readings_of(name)
        if not places:
            return 0.0
        shift = self.linear.shift_of_reading(places[0]) * self.step[name]
        ratios = [float(c.ratio) for c in self.experiment.candidates]
        return max(abs(float(shift[1].mean() - x * shift[0].mean())) for x in ratios)

    def _steps(self, kind: FaultKind, subject: str, name: str, shift: Floats) -> Iterator[Fault]:
        """Yield the smallest shift of readings, both ways, that changes the verdict."""
        step = self.step.get(name, math.nan)
        if not shift.any() or math.isnan(step):
            return
        for sign in (1.0, -1.0):
            found = self._shift(sign * step * shift, 0.25, _MOST_STEPS)
            if found:
                steps, verdict = found
                yield Fault(
                    kind, subject, sign * steps * step, self.roles[name].unit, math.nan, steps,
                    steps / _USUAL[kind], verdict,
                )  # fmt: skip

    def _shift(self, way: Floats, first: float, most: float) -> tuple[float, Verdict] | None:
        """Return the least multiple of a change of both amounts that changes the verdict.

        Foretold from how large a discrepancy of each candidate fits, then tried on both sides;
        where that fails, as where the trials then scatter otherwise, it is searched.
        """

        def verdict_at(size: float) -> Verdict:
            return self.judge(self.linear.shifted(size * way), self.recovery)

        foretold = self._foretold(way)
        if 0 < foretold < most:
            after = verdict_at(foretold * (1 + _PRECISION / 2))
            if self._changed(after) and not self._changed(
                verdict_at(foretold * (1 - _PRECISION / 2))
            ):
                return foretold, after
        return self._smallest(verdict_at, first, most)

    def _foretold(self, way: Floats) -> float:
        """Return the least multiple at which the discrepancies of other candidates fit."""
        events = []
        for fits in self._fitting:
            x, largest, now = fits
            slope = float(way[1].mean() - x * way[0].mean())
            if slope:
                events += [(sign * largest - now) / slope for sign in (1.0, -1.0)]
        for size in sorted(e for e in events if e > 0):
            beyond = size * (1 + _PRECISION / 4)
            fitting = [
                abs(now + beyond * float(way[1].mean() - x * way[0].mean())) <= largest
                for x, largest, now in self._fitting
            ]
            if any(fitting) and fitting != self._fit_now:
                return size
        return math.inf

    @cached_property
    def _fit_now(self) -> list[bool]:
        return [abs(now) <= largest for _, largest, now in self._fitting]

    @cached_property
    def _fitting(self) -> list[tuple[float, float, float]]:
        """The ratio of each candidate, the largest discrepancy that fits it, and the one there is.

        Nothing where what a candidate allows is a range: there the sizes are searched.
        """
        if self.recovery[0] < self.recovery[1]:
            return []
        alpha, found = 1 - self.coverage, []
        for ratio in (float(c.ratio) for c in self.experiment.candidates):
            now = self.linear.mean(ratio, 1.0)

            def p_of(d: float, ratio: float = ratio, now: float = now) -> float:
                change = np.zeros((2, self.linear.trials))
                change[1] = d - now
                return self.linear.shifted(change).p_value(ratio, 1.0)

            low, high = 0.0, self.linear.distribution(ratio, 1.0).spread
            while p_of(high) >= alpha:
                low, high = high, 2 * high
            while high - low > _PRECISION / 8 * high:
                middle = (low + high) / 2
                low, high = (middle, high) if p_of(middle) >= alpha else (low, middle)
            found.append((ratio, high, now))
        return found

    def _repeatability(self) -> Iterator[Fault]:
        for instrument in sorted({role.instrument for role in self.roles.values()}):
            names = [n for n in self.order if self.roles[n].instrument == instrument]
            if not isinstance(self.experiment.instruments[instrument], Balance):
                continue
            step, stated = self.step[names[0]], self.linear.noise_of(names[0])
            first = stated or step / 8

            def verdict_at(times: float, names: list[str] = names, first: float = first) -> Verdict:
                other = self.linear.repeating(dict.fromkeys(names, times * first))
                return self.judge(other, self.recovery)

            found = self._smallest(verdict_at, 1.1 if stated else 1.0, _MOST_STEPS)
            if found:
                times, verdict = found
                usual = (times - 1) if stated else times * first / step
                yield Fault(
                    FaultKind.REPEATABILITY, instrument, times * first,
                    self.roles[names[0]].unit, times if stated else math.nan,
                    times * first / step, usual / _USUAL[FaultKind.REPEATABILITY], verdict,
                )  # fmt: skip

    def _calibration(self) -> Iterator[Fault]:
        """Yield how far two instruments may disagree; of a single one the calibration cancels."""
        one, other = (
            a.span.instrument for a in (self.experiment.consumed, self.experiment.produced)
        )
        if one == other:
            return
        shift = np.stack([np.zeros(self.linear.trials), self.linear.produced])
        for sign in (1.0, -1.0):
            found = self._shift(sign * shift, 0.0005, _LARGEST)
            yield from self._fraction(FaultKind.CALIBRATION, other, found, sign)

    def _fractions(self) -> Iterator[Fault]:
        low, high = self.recovery
        product = self.experiment.produced.species
        for sign in (-1.0, 1.0):

            def verdict_at(part: float, sign: float = sign) -> Verdict:
                wider = (low - part, high) if sign < 0 else (low, high + part)
                return self.judge(self.linear, wider)

            most = min(_LARGEST, low - 0.01) if sign < 0 else _LARGEST
            found = self._smallest(verdict_at, 0.002, most)
            yield from self._fraction(FaultKind.RECOVERY, product, found, sign)
        stated = self.experiment.variation
        if stated is None or not stated.unknown:
            known = 0.0 if stated is None else stated.relative

            def varied(part: float) -> Verdict:
                return self.judge(self.linear.varying(part), self.recovery)

            found = self._smallest(varied, 0.002, _LARGEST)
            yield from self._fraction(FaultKind.VARIATION, "", found, 1.0, stated=known)

    def _fraction(
        self, kind: FaultKind, subject: str, found: tuple[float, Verdict] | None,
        sign: float, stated: float = 0.0,
    ) -> Iterator[Fault]:  # fmt: skip
        """Yield a fraction that changes the verdict, if there is one."""
        if found:
            part, verdict = found
            times = math.hypot(part, stated) / stated if stated else math.nan
            yield Fault(
                kind, subject, sign * part, "", times, math.nan, part / _USUAL[kind], verdict
            )

    def _changed(self, verdict: Verdict) -> bool:
        """Return whether a verdict says something else about the candidates."""
        kinds = (VerdictKind.SINGLED_OUT, VerdictKind.NOT_TOLD_APART)
        return verdict.kind in kinds and _state(verdict) != self._now

    def _smallest(
        self, verdict_at: Callable[[float], Verdict], first: float, most: float
    ) -> tuple[float, Verdict] | None:
        """Return the smallest size at which the verdict is another, and which; None up to most."""
        low, high = 0.0, first
        while not self._changed(found := verdict_at(min(high, most))):
            if high >= most or found.kind is VerdictKind.CANNOT_BE_JUDGED:
                return None
            low, high = high, high * _GROWTH
        high = min(high, most)
        while high - low > _PRECISION * high:
            middle = (low + high) / 2
            here = verdict_at(middle)
            if self._changed(here):
                high, found = middle, here
            else:
                low = middle
        return high, found


def _state(verdict: Verdict) -> tuple[VerdictKind, tuple[str, ...]]:
    return verdict.kind, verdict.candidates
