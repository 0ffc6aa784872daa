"""Amounts of all trials as sums of error sources, ready for testing any mole ratio.

For a ratio r the discrepancy of one trial is D = n_produced − r n_consumed. In direction form,
``D = y n_produced − x n_consumed`` with x/y = r, so that an infinite ratio (y = 0) is as good as
any other. Everything here is linear in the readings' errors.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Container, Iterable, Mapping, Sequence
from copy import copy
from dataclasses import dataclass, replace
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from ..uncertainty.digits import (
    DIFFERENCE,
    SINGLE,
    TRIPLE,
    DigitBlock,
    bound_together,
    common_term,
    reach_of,
    worst_position_tail,
)
from ..uncertainty.distribution import SumDistribution, legendre, student_p, student_tails
from ..uncertainty.sources import (
    Floats,
    Number,
    Shape,
    Source,
    Term,
    contributions,
    nominal,
    terms_of,
)
from ..uncertainty.tails import chi_squared_tail

_Indices: TypeAlias = NDArray[np.intp]
SAME = 1e-6
"""Steps, or discrepancies of trials, that differ by less of their size count as equal."""
_TOWARDS = (0.0, 1 / 256, 1 / 64, 1 / 16, 1 / 4, 1.0)
"""Ratios looked at within a recovery allowance: parts of the way from its nearer end."""
_NARROW = 1 / 20
"""Reach of the errors beside a Student t, in its scales, up to which they only shift the value."""
BELOW_ZERO_LEVEL = 0.001
"""Chance, shared over all amounts of a lab, of being called below zero by bad luck alone."""
_MANY = 8
_SURE = 10.0
"""Standard uncertainties beyond which an amount is above zero, whatever the shape of its error."""
_THIRDS = 80
_WIDEST, _NODES = 2, 128


@dataclass(frozen=True, slots=True)
class Reading:
    """Where one display reading stands among the sources."""

    role: str
    vessel: str
    rounding: int
    noise: float
    repeatability: int
    step: float
    """The display step, in the unit of the reading: only readings of one step are alike."""


def display_readings(sources: Sequence[Source], role_of: Mapping[str, str]) -> tuple[Reading, ...]:
    """Pair the rounding and repeatability sources of each display reading.

    ``role_of`` gives the name of a reading without its trial.
    """
    rounding: dict[str, int] = {}
    noise: dict[str, int] = {}
    for i, s in enumerate(sources):
        if s.reading and s.kind == "rounding" and s.shape is Shape.RECTANGULAR:
            rounding[s.reading] = i
        elif s.reading and s.kind == "repeatability" and s.shape is Shape.NORMAL:
            noise[s.reading] = i
    found = []
    for label, i in rounding.items():
        j = noise.get(label, -1)
        step = 2 * sources[i].scale
        sigma = sources[j].scale / step if j >= 0 else 0.0
        # a shared reading appears in every trial at once: it is one reading, one block
        found.append(Reading(role_of.get(label, label), sources[i].vessel, i, sigma, j, step))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class Pairs:
    """Many vessels, each read twice: indices of both readings, and which vessels are alike."""

    first: _Indices
    second: _Indices
    alike: _Indices
    noise: tuple[tuple[float, float], ...]

    def blocks(self, steps: Floats) -> list[DigitBlock] | None:
        """Return the differences as blocks, or None if not all vessels hold one."""
        one, two = steps[self.first], steps[self.second]
        if (np.abs(one + two) > SAME * np.maximum(np.abs(one), np.abs(two))).any():
            return None
        used = one != 0
        counts = np.bincount(self.alike[used], minlength=len(self.noise)).tolist()
        squares = np.bincount(self.alike[used], one[used] ** 2, len(self.noise)).tolist()
        return [
            DigitBlock(DIFFERENCE, (math.sqrt(square / count),), noise, count)
            for square, count, noise in zip(squares, counts, self.noise, strict=True)
            if count
        ]


def pairs_of(display: Sequence[Reading]) -> Pairs | None:
    """Return the vessels of a class as arrays; None for few vessels, or not of two readings."""
    vessels: dict[str, list[tuple[str, float, float, int]]] = {}
    for i, r in enumerate(display):
        vessels.setdefault(r.vessel, []).append((r.role, r.noise, r.step, i))
    if len(vessels) < _MANY or "" in vessels:
        return None
    if any(len(members) != 2 for members in vessels.values()):
        return None
    found: dict[tuple[tuple[str, str], tuple[float, float], tuple[float, float]], int] = {}
    rows = []
    for members in vessels.values():
        (role, noise, step, i), (other, other_noise, other_step, j) = sorted(members)
        key = ((role, other), (noise, other_noise), (step, other_step))
        rows.append((i, j, found.setdefault(key, len(found))))
    first, second, alike_of = np.array(rows, dtype=np.intp).T
    return Pairs(first, second, alike_of, tuple(noise for _, noise, _ in found))


def grouped(
    members: list[tuple[Reading, float]],
) -> list[tuple[str, tuple[str, ...], tuple[float, ...], tuple[float, ...]]]:
    """Return (kind, roles, steps, noise) of the readings of one vessel."""
    if len(members) == 2:  # nearly every vessel, so the quick way
        (first, step), (second, other) = members
        if abs(step + other) <= SAME * max(abs(step), abs(other)):
            if second.role < first.role:
                first, second, step = second, first, other
            noise = (first.noise, second.noise)
            return [(DIFFERENCE, (first.role, second.role), (abs(step),), noise)]
    total = sum(step for _, step in members)
    largest = max(abs(step) for _, step in members)
    balanced = abs(total) <= SAME * largest
    if len(members) == 3 and balanced:
        # coefficients add to zero: the largest belongs to the reading shared by both differences
        ordered = sorted(members, key=lambda m: (abs(m[1]) == largest, m[0].role))
        (one, step_one), (two, step_two), (three, _) = ordered
        return [
            (
                TRIPLE,
                (one.role, two.role, three.role),
                (abs(step_one), abs(step_two)),
                (one.noise, two.noise, three.noise),
            )
        ]
    return [(SINGLE, (r.role,), (abs(step),), (r.noise,)) for r, step in members]


def trials_of(members: list[tuple[Reading, float]]) -> list[list[tuple[Reading, float]]]:
    """Return the readings of one vessel trial by trial.

    A vessel that is the same thing in several trials has several readings of each role, in the
    order of the trials; otherwise there is one trial.
    """
    by_role: dict[str, list[tuple[Reading, float]]] = {}
    for member in members:
        by_role.setdefault(member[0].role, []).append(member)
    if len(by_role) == len(members):
        return [members]
    if len({len(readings) for readings in by_role.values()}) > 1:
        return [[member] for member in members]  # no two of them can be set against each other
    return [list(readings) for readings in zip(*by_role.values(), strict=True)]


EXCESS_LEVEL = 0.01
"""Chance, from the instruments alone, below which scatter between trials counts as excess."""


@dataclass(frozen=True, slots=True)
class Scatter:
    """Scatter of the trials about one ratio, against what the instruments explain.

    Attributes
    ----------
    ratio_of_spread : float
        Observed standard deviation over that expected from the sources which differ from trial
        to trial.
    dof : int
        Trials less one.
    p_value : float
        Chance of at least this much scatter from the instruments alone (chi-squared).
    excess : bool
        Whether that chance is below ``EXCESS_LEVEL``, 0.01, even if each trial recovered what
        makes them agree best, within the allowance: a false alarm costs a conclusive lab (with
        two trials Student t is very wide), so it is kept rare.
    """

    ratio_of_spread: float
    dof: int
    p_value: float
    excess: bool


@dataclass(frozen=True, slots=True)
class SideBlock:
    """Display readings of one amount: the block, its readings' roles and signs, its sources."""

    block: DigitBlock
    roles: tuple[str, ...]
    signs: tuple[float, ...]
    sources: frozenset[int]


class LinearAmounts:
    """Mean amounts over trials, and the distribution of their discrepancy from any ratio.

    Parameters
    ----------
    pairs : sequence of (n_consumed, n_produced)
        Uncertain numbers in mol, one pair a trial.
    role_of : mapping of str to str, optional
        Name of the reading without its trial, for each label in ``Source.reading``: readings of
        one role in several trials are treated alike.
    """

    def __init__(
        self, pairs: Sequence[tuple[Number, Number]], role_of: Mapping[str, str] | None = None
    ) -> None:
        trials = len(pairs)
        index: dict[int, int] = {}
        sources: list[Source] = []
        entries: list[tuple[int, int, int, float]] = []
        for trial, pair in enumerate(pairs):
            for side, amount in enumerate(pair):
                for source, coefficient in contributions(amount):
                    column = index.setdefault(id(source), len(sources))
                    if column == len(sources):
                        sources.append(source)
                    entries.append((side, trial, column, coefficient))
        coefficients = np.zeros((2, trials, len(sources)))
        for side, trial, column, coefficient in entries:
            coefficients[side, trial, column] = coefficient
        amounts = np.array([[nominal(side) for side in pair] for pair in pairs]).T
        display = display_readings(sources, role_of or {})
        self._arrange(tuple(sources), coefficients, amounts, display)

    def _arrange(
        self,
        sources: tuple[Source, ...],
        coefficients: Floats,
        amounts: Floats,
        display: tuple[Reading, ...],
        variance: Floats | None = None,
        used: NDArray[np.bool_] | None = None,
    ) -> None:
        self.sources = sources
        self.trials = amounts.shape[1]
        self._a, self._b = coefficients
        self.consumed, self.produced = amounts
        self._used = (self._a != 0) | (self._b != 0) if used is None else used
        self.shared = np.count_nonzero(self._used, axis=0) > 1
        self._display = display
        self._rounding = np.array([r.rounding for r in self._display], dtype=np.intp)
        self._step = np.array([r.step for r in display])
        roles = {r.role for r in display}
        self.several_displays = len(roles) < len({(r.role, r.step) for r in display})
        """Whether some trials were read on displays of other steps than others."""
        self._pairs = pairs_of(self._display)
        self._variance = self._largest_variance() if variance is None else variance
        digital = {i for r in self._display for i in (r.rounding, r.repeatability) if i >= 0}
        self._smooth = [i for i in range(len(sources)) if i not in digital]
        self._varies = any(source.kind == "variation" for source in sources)
        self._mean = self._b.mean(axis=0), self._a.mean(axis=0)
        alike: dict[tuple[str, str, float], list[int]] = {}
        for i, r in enumerate(display):
            if r.vessel:
                alike.setdefault((r.vessel, r.role, r.step), []).append(i)
        self._alike = [np.array(which) for which in alike.values() if len(which) > 1]

    def part(self, trials: Sequence[int], factors: Floats) -> LinearAmounts:
        """Return some of the trials, both amounts of each multiplied by a factor above 0."""
        which = list(trials)
        used = self._used[which]
        kept = np.flatnonzero(used.any(axis=0))
        coefficients = np.stack([self._a[which][:, kept], self._b[which][:, kept]])
        place = {old: new for new, old in enumerate(kept.tolist())}
        display = tuple(
            Reading(
                r.role, r.vessel, place[r.rounding], r.noise, place.get(r.repeatability, -1), r.step
            )
            for r in self._display
            if r.rounding in place
        )
        vessels = {r.vessel for r in display}
        gone = {r.vessel for r in self._display if r.rounding not in place}
        found = object.__new__(LinearAmounts)
        found._arrange(
            tuple(self.sources[i] for i in place),
            coefficients * factors[:, None],
            np.stack([self.consumed[which], self.produced[which]]) * factors,
            display,
            # a vessel of which only some readings are left is another one
            self._variance[kept] if vessels.isdisjoint(gone) else None,
            used[:, kept],
        )
        return found

    def _with(
        self, sources: Sequence[Source], more: Floats | None, display: Sequence[Reading]
    ) -> LinearAmounts:
        """Return a copy with other sources; columns of coefficients of further ones come last."""
        coefficients = np.stack([self._a, self._b])
        if more is not None:
            coefficients = np.concatenate([coefficients, more], axis=2)
        found = object.__new__(LinearAmounts)
        amounts = np.stack([self.consumed, self.produced])
        found._arrange(tuple(sources), coefficients, amounts, tuple(display))
        return found

    def readings_of(self, role: str, among: Container[str] | None = None) -> list[int]:
        """Return where the readings of one role stand, one a trial or one for all.

        With ``among`` only those whose labels (:class:`Source`, ``reading``) are in it.
        """
        found = [i for i, r in enumerate(self._display) if r.role == role]
        if among is None:
            return found
        return [i for i in found if self.sources[self._rounding[i]].reading in among]

    def step_of(self, role: str, among: Container[str] | None = None) -> float:
        """Return the display step of a reading, in its unit; nan where nothing is displayed."""
        places = self.readings_of(role, among)
        return float(self._step[places[0]]) if places else math.nan

    def noise_of(self, role: str, among: Container[str] | None = None) -> float:
        """Return the standard deviation with which a reading repeats, in its unit."""
        places = self.readings_of(role, among)
        return self._display[places[0]].noise * float(self._step[places[0]]) if places else math.nan

    def variance_of(
        self, roles: Iterable[str], ratio: float, among: Container[str] | None = None
    ) -> float:
        """Return the variance of the mean discrepancy if readings of some roles repeat to 1."""
        places = [place for role in roles for place in self.readings_of(role, among)]
        c = self.coefficients(ratio, 1.0)[self._rounding[places]]
        return float(c @ c)

    def shift_of_reading(self, place: int) -> Floats:
        """Return how both amounts of each trial change with one reading, shape (2, trials)."""
        column = self._display[place].rounding
        return np.stack([self._a[:, column], self._b[:, column]])

    def shift_of(self, roles: Iterable[str], among: Container[str] | None = None) -> Floats:
        """Return how both amounts of each trial change if readings of some roles all grow alike."""
        out = np.zeros((2, self.trials))
        for role in roles:
            for place in self.readings_of(role, among):
                out += self.shift_of_reading(place)
        return out

    def shifted(self, mol: Floats) -> LinearAmounts:
        """Return the same lab with other amounts: what is added, shape (2, trials)."""
        found = copy(self)
        found.consumed, found.produced = self.consumed + mol[0], self.produced + mol[1]
        return found

    def repeating(
        self, noise: Mapping[str, float], among: Container[str] | None = None
    ) -> LinearAmounts:
        """Return the same lab with readings of some roles that repeat otherwise.

        ``noise`` is their standard deviation in the unit of the reading, above 0. From one display
        step on the digits are smeared out (their position changes a probability by less than
        exp(−2π²) of it, 3e-9), and the readings count as continuous.
        """
        sources, display, more = [*self.sources], [*self._display], []
        smooth = set()
        places = {place for role in noise for place in self.readings_of(role, among)}
        for i in sorted(places):
            one = self._display[i]
            sigma = noise[one.role]
            if one.repeatability >= 0:
                place = one.repeatability
                sources[place] = replace(sources[place], scale=sigma)
            else:
                place = len(sources)
                reading = self.sources[one.rounding].reading
                name = f"repeatability of {reading}"
                sources.append(Source(name, "repeatability", Shape.NORMAL, sigma, reading=reading))
                more.append(self.shift_of_reading(i))
            display[i] = replace(one, noise=sigma / one.step, repeatability=place)
            if display[i].noise >= 1:
                smooth.add(i)
        display = [r for i, r in enumerate(display) if i not in smooth]
        columns = np.stack(more, axis=-1) if more else None
        return self._with(sources, columns, display)

    def varying(self, relative: float) -> LinearAmounts:
        """Return the same lab if what is produced varies from trial to trial by so much more."""
        each = [
            Source("variation between trials", "variation", Shape.NORMAL, relative)
            for _ in range(self.trials)
        ]
        more = np.stack([np.zeros((self.trials,) * 2), np.diag(self.produced)])
        return self._with([*self.sources, *each], more, self._display)

    @property
    def mean_consumed(self) -> float:
        """Mean amount consumed over the trials, mol."""
        return float(self.consumed.mean())

    @property
    def mean_produced(self) -> float:
        """Mean amount produced over the trials, mol."""
        return float(self.produced.mean())

    def _largest_variance(self) -> Floats:
        """Variance of each source; of a rounding, the largest over positions between digits."""
        variance = np.array([s.standard_uncertainty for s in self.sources]) ** 2
        vessels = Counter(r.vessel for r in self._display if r.vessel)
        for r in self._display:
            variance[r.rounding] *= rounding_excess(r.noise, single=vessels[r.vessel] < 2)
        return variance

    def coefficients(self, x: float, y: float) -> Floats:
        """Return the sensitivity of the mean of D to each source, shape (sources,)."""
        return np.asarray(y * self._mean[0] - x * self._mean[1], dtype=np.float64)

    def parts(self, x: float, y: float) -> tuple[tuple[Source, float], ...]:
        """Return (source, sensitivity) of the mean of D."""
        return tuple(zip(self.sources, self.coefficients(x, y).tolist(), strict=True))

    def mean(self, x: float, y: float) -> float:
        """Return the mean over trials of D = y n_produced − x n_consumed, in mol."""
        return y * self.mean_produced - x * self.mean_consumed

    def distribution(self, x: float, y: float) -> SumDistribution:
        """Return the distribution of the error of the mean of D, averaged over digit positions."""
        c = self.coefficients(x, y)
        return SumDistribution([*self._terms(c, range(len(self.sources))), *self._common_terms(c)])

    def _common_terms(self, c: Floats) -> list[Term]:
        """Return what rounding errors of a vessel have in common that serves several trials."""
        found = []
        for which in self._alike:
            steps = (c[self._rounding] * self._step)[which]
            both = float(steps.sum() ** 2 - (steps**2).sum())
            term = common_term(both, self._display[which[0]].noise)
            if term.scale:
                found.append(term)
        return found

    def _terms(self, c: Floats, which: Iterable[int]) -> list[Term]:
        """Return the terms of some sources; the variation between trials is one term.

        Known from earlier trials it is one estimate for all, so its t is not averaged over them;
        a variation between groups known from other trials is another.
        """
        if not self._varies:
            return list(terms_of((self.sources[i], float(c[i])) for i in which))
        kept: list[tuple[Source, float]] = []
        squares: dict[float, float] = {}
        for i in which:
            source = self.sources[i]
            if source.kind == "variation":
                square = (float(c[i]) * source.scale) ** 2
                squares[source.dof] = squares.get(source.dof, 0.0) + square
            else:
                kept.append((source, float(c[i])))
        varied = [variation_term(math.sqrt(s), dof) for dof, s in squares.items() if s]
        return [*terms_of(kept), *varied]

    def blocks(self, x: float, y: float) -> tuple[list[DigitBlock], list[Term]]:
        """Split the error of the mean of D into display readings and everything else."""
        c = self.coefficients(x, y)
        rest = self._terms(c, self._smooth)
        if self._pairs is not None:
            differences = self._pairs.blocks(c[self._rounding] * self._step)
            if differences is not None:
                return differences, rest
        merged: dict[tuple[Any, ...], list[tuple[float, ...]]] = {}
        sizes: dict[tuple[Any, ...], list[int]] = {}
        for members in self._by_vessel(c[self._rounding] * self._step):
            here: dict[tuple[Any, ...], list[tuple[float, ...]]] = {}
            for trial in trials_of(members):
                shown = tuple(sorted({r.step for r, _ in trial}))
                for kind, roles, steps, noise in grouped(trial):
                    here.setdefault((kind, roles, noise, shown), []).append(steps)
            for key, found in here.items():
                merged.setdefault(key, []).extend(found)
                sizes.setdefault(key, []).append(len(found))
        blocks = []
        for key, steps_list in merged.items():
            kind, _, noise, _ = key
            rms = np.sqrt((np.asarray(steps_list) ** 2).mean(axis=0))
            together = () if kind == SINGLE else bound_together(noise, sizes[key])
            blocks.append(DigitBlock(kind, tuple(rms.tolist()), noise, len(steps_list), together))
        return blocks, rest

    @property
    def one_vessel(self) -> bool:
        """Whether a vessel serves several trials and its place between two steps matters."""
        sides = self.side_blocks(0) + self.side_blocks(1) if self._alike else []
        return any(side.block.together for side in sides)

    def _by_vessel(self, steps: Floats) -> Iterable[list[tuple[Reading, float]]]:
        """Return the readings of each vessel with their steps, those of no effect left out."""
        vessels: dict[str, list[tuple[Reading, float]]] = {}
        for reading, step in zip(self._display, steps.tolist(), strict=True):
            if step:
                # without a vessel a reading stands alone
                key = reading.vessel or f"\0{reading.rounding}"
                vessels.setdefault(key, []).append((reading, step))
        return vessels.values()

    def side_blocks(self, side: int) -> list[SideBlock]:
        """Return the display readings of the mean consumed (0) or produced (1) amount.

        Coarsest first. Sources outside these blocks are continuous.
        """
        mean = (self._a, self._b)[side].mean(axis=0)
        found: dict[tuple[Any, ...], SideBlock] = {}
        sizes: dict[tuple[Any, ...], Counter[str]] = {}
        for members in self._by_vessel(mean[self._rounding] * self._step):
            for trial in trials_of(members):
                self._note_trial(trial, found, sizes)
        return sorted(
            (
                replace(b, block=replace(b.block, together=bound_together(b.block.noise, counts)))
                if b.block.kind != SINGLE and max(counts) > 1
                else b
                for b, counts in ((b, [*sizes[key].values()]) for key, b in found.items())
            ),
            key=lambda b: -b.block.weight,
        )

    @staticmethod
    def _note_trial(
        members: list[tuple[Reading, float]],
        found: dict[tuple[Any, ...], SideBlock],
        sizes: dict[tuple[Any, ...], Counter[str]],
    ) -> None:
        """Add the readings of one vessel in one trial to the blocks of a side."""
        signs = {r.role: math.copysign(1.0, step) for r, step in members}
        indices = frozenset(i for r, _ in members for i in (r.rounding, r.repeatability) if i >= 0)
        shown = tuple(sorted({r.step for r, _ in members}))
        for kind, roles, steps, noise in grouped(members):
            key, count, taken = (kind, roles, shown), 1, indices
            if key in found:
                count, taken = found[key].block.count + 1, found[key].sources | indices
            block = DigitBlock(kind, steps, noise, count)
            found[key] = SideBlock(block, roles, tuple(signs[r] for r in roles), taken)
            sizes.setdefault(key, Counter())[members[0][0].vessel] += 1

    def mean_coefficients(self) -> tuple[Floats, Floats]:
        """Return the sensitivities of the mean consumed and produced amounts, (sources,) each."""
        return self._mean[1], self._mean[0]

    def own_variance(self, x: float, y: float) -> float:
        """Variance of the mean of D from the sources that differ from trial to trial."""
        c = self.coefficients(x, y)
        return float(np.sum((c**2 * self._variance)[~self.shared]))

    def p_value(self, x: float, y: float, scatter: Scatter | None = None) -> float:
        """Return the chance of a discrepancy at least as large, if x/y is the true ratio.

        Display readings are taken at their worst position between two digits. With excess
        scatter the larger of this and a Student t value from the scatter is returned.
        """
        discrepancy = self.mean(x, y)
        blocks, rest = self.blocks(x, y)
        p = worst_position_tail(self.with_grain(discrepancy, blocks), blocks, rest)
        if scatter is not None and scatter.excess:
            p = max(p, student_sum(discrepancy, self.scatter_terms(x, y, scatter)))
        return p

    def with_grain(self, discrepancy: Any, blocks: Sequence[DigitBlock]) -> Any:
        """Return discrepancies, one or an array, less half a step of the finer displays.

        Where trials were read on displays of several steps, only the coarsest two differences are
        taken digit by digit. The digits of the others leave the mean on a grid too, and a tail
        worked out as if they did not would count half of what lies on its edge.
        """
        if not self.several_displays:
            return discrepancy
        steps = [max(b.steps) for b in sorted(blocks, key=lambda b: -b.weight)[2:]]
        grain = max(steps, default=0.0) / 2
        return np.sign(discrepancy) * np.maximum(np.abs(discrepancy) - grain, 0.0)

    @property
    def own_consumed(self) -> Floats:
        """Standard uncertainty of the consumed amount of each trial, by what is its own."""
        variance: Floats = (self._a**2 * self._variance)[:, ~self.shared].sum(axis=1)
        return np.sqrt(variance)

    def own_scatter_p(self, x: float, y: float) -> float:
        """Return the Student t p-value that the trials' own discrepancies alone give to x/y.

        Each is taken as if all had consumed the mean amount (:func:`to_mean`). It holds at every
        true variation between the trials that is normal and in proportion to what they made. nan
        for a single trial, and where all ratios are exactly alike: there is no scatter to judge by.
        """
        if self.trials < 2:
            return math.nan
        f = to_mean(self.consumed, self.own_consumed)
        d = f * (y * self.produced - x * self.consumed)
        scale = float(d.std(ddof=1)) / math.sqrt(self.trials)
        if scale <= SAME * float(np.abs(d).max()):
            return math.nan
        own = Term(Shape.STUDENT_T, scale, float(self.trials - 1))
        c = f @ (y * self._b - x * self._a) / self.trials
        return student_sum(float(d.mean()), [*self._shared_terms(c), own])

    def along_ray(self, ratio: float) -> tuple[float, list[Term]]:
        """Return the weight of n_consumed in the amount along a ratio's ray, and its errors.

        The amount is the mean of n_consumed and n_produced / ratio with the least variance. Only
        errors of readings count: the others are parts of an amount that would be zero.
        """
        a, b = self._mean[1], self._mean[0] / ratio
        read = [i for i, s in enumerate(self.sources) if s.reading or s.kind == "linearity"]
        variance = self._variance[read]
        va, vb, both = (
            float(np.sum(p[read] * q[read] * variance)) for p, q in ((a, a), (b, b), (a, b))
        )
        apart = va + vb - 2 * both
        weight = min(max((vb - both) / apart, 0.0), 1.0) if apart > 0 else 0.5
        c = weight * a + (1 - weight) * b
        return weight, [*self._terms(c, read), *self._common_terms(c)]

    def nothing_reacted_p(self, ratio: float) -> float:
        """Return the chance of at least this amount along a ratio's ray if nothing had reacted.

        It is one-sided and averaged over the positions between two display steps.
        """
        a, b = self._mean[1], self._mean[0] / ratio
        amounts = (self.mean_consumed, self.mean_produced / ratio)
        if all(
            amount > 0 and amount * amount > _SURE**2 * float((c * c) @ self._variance)
            for amount, c in zip(amounts, (a, b), strict=True)
        ):
            return 0.0  # each alone is above zero, and so is every mean of both
        weight, terms = self.along_ray(ratio)
        return one_sided(weight * amounts[0] + (1 - weight) * amounts[1], terms)

    def below_zero(self, level: float) -> list[tuple[int, int | None]]:
        """Return which amounts are below zero beyond what their readings explain.

        Each is (0 for consumed or 1 for produced, the trial counted from 0 or None for the mean).
        The level is shared over all amounts looked at, so that nothing but bad luck of this size
        raises the alarm in a sound lab, even where nothing reacts.
        """
        if self.consumed.min() >= 0 and self.produced.min() >= 0:
            return []
        several = self.trials > 1
        level /= 2 * (self.trials + 1) if several else 2
        found: list[tuple[int, int | None]] = []
        for side, (mean, each) in enumerate(
            ((self.mean_consumed, self.consumed), (self.mean_produced, self.produced))
        ):
            way = 1 - side, side
            if mean < 0 and self.p_value(*way) < level:
                found.append((side, None))
            for trial in np.flatnonzero(each < 0).tolist() if several else ():
                if self.part([trial], np.ones(1)).p_value(*way) < level:
                    found.append((side, trial))
        return found

    def noise_share(self, x: float, y: float) -> float:
        """Share of the variance between trials that comes from sources with tails, 0 to 1."""
        c2 = self.coefficients(x, y) ** 2 * self._variance
        tails = np.array([s.shape in (Shape.NORMAL, Shape.STUDENT_T) for s in self.sources])
        own = float(c2[~self.shared].sum())
        return float(c2[~self.shared & tails].sum()) / own if own else 0.0

    def scatter_distribution(self, x: float, y: float, scatter: Scatter) -> SumDistribution:
        """Return the distribution with the trials' own sources replaced by their scatter."""
        return SumDistribution(self.scatter_terms(x, y, scatter))

    def scatter_terms(self, x: float, y: float, scatter: Scatter) -> list[Term]:
        """Return the shared sources' terms and, last, the Student t of the trials' scatter."""
        scale = scatter.ratio_of_spread * math.sqrt(self.own_variance(x, y))
        return [
            *self.shared_terms(x, y),
            Term(Shape.STUDENT_T, scale, float(scatter.dof)),
        ]

    def shared_terms(self, x: float, y: float) -> list[Term]:
        """Return the terms of what acts in several trials."""
        return self._shared_terms(self.coefficients(x, y))

    def _shared_terms(self, c: Floats) -> list[Term]:
        return [*self._terms(c, np.flatnonzero(self.shared).tolist()), *self._common_terms(c)]

    def scatter(self, recovery: tuple[float, float] = (1.0, 1.0)) -> Scatter | None:
        """Compare the scatter of the trials with the instruments; None for a single trial.

        What a recovery of its own in each trial, within the allowance, explains is no excess.
        """
        if self.trials < 2:
            return None
        size = math.hypot(self.mean_consumed, self.mean_produced)
        if size == 0:
            return None
        x, y = self.mean_produced / size, self.mean_consumed / size
        d = y * self.produced - x * self.consumed
        own = ((y * self._b - x * self._a) ** 2 * self._variance)[:, ~self.shared].sum(axis=1)
        dof = self.trials - 1
        if not own.any():
            return Scatter(math.inf, dof, 0.0, True) if d.any() else None
        if self.several_displays and own.all():  # each against its own display
            centre = float((d / own).sum() / (1 / own).sum())
            chi_squared = float(np.sum((d - centre) ** 2 / own))
        else:
            chi_squared = float(np.sum((d - d.mean()) ** 2) / own.mean())
        p = chi_squared_tail(chi_squared, dof)
        excess = p < EXCESS_LEVEL
        if excess and recovery[0] < recovery[1] and y > 0:
            left = float(unexplained(self.consumed[None], self.produced[None], recovery)[0])
            wide = own.max() if self.several_displays else own.mean()
            excess = chi_squared_tail(y * y * left / float(wide), dof) < EXCESS_LEVEL
        return Scatter(math.sqrt(chi_squared / dof), dof, p, excess)


def unexplained(consumed: Floats, produced: Floats, recovery: tuple[float, float]) -> Floats:
    """Return the squares of what no recovery explains, summed over the trials, mol².

    Parameters
    ----------
    consumed, produced : ndarray, shape (groups, trials)
        Amounts in mol.
    recovery : (float, float)
        Least and largest fraction recovered; each trial has its own.

    Returns
    -------
    ndarray, shape (groups,)
        The least, over all ratios r, of Σ (distance of n_produced from f r n_consumed)², where f
        is anything in the range: a convex function of r, so a search by thirds finds it.

    Examples
    --------
    >>> made = np.array([[0.9, 1.9], [0.8, 2.0]])
    >>> unexplained(np.array([[1.0, 2.0]] * 2), made, (0.9, 1.0)).round(4).tolist()
    [0.0, 0.0083]
    """
    low, high = recovery

    def squares(ratio: Floats) -> Floats:
        ends = ratio[:, None] * consumed * low, ratio[:, None] * consumed * high
        under, over = np.minimum(*ends) - produced, produced - np.maximum(*ends)
        return np.asarray((np.maximum(np.maximum(under, over), 0.0) ** 2).sum(axis=1))

    with np.errstate(divide="ignore", invalid="ignore"):
        each = np.where(consumed > 0, produced / consumed, 0.0)
    left, right = np.zeros(len(each)), np.maximum(each.max(axis=1), 0.0) / low
    for _ in range(_THIRDS):
        third = (right - left) / 3
        nearer = squares(left + third) <= squares(right - third)
        left, right = np.where(nearer, left, left + third), np.where(nearer, right - third, right)
    return squares((left + right) / 2)


def towards(near: float, far: float) -> tuple[float, ...]:
    """Return the ratios looked at within an allowance, from its nearer end to the other.

    >>> towards(1.8, 2.0)[0], towards(1.8, 2.0)[-1], len(towards(1.8, 2.0))
    (1.8, 2.0, 6)
    """
    return tuple(near + part * (far - near) for part in _TOWARDS)


def ratio_found(n_consumed: float, n_produced: float) -> float:
    """Return a mole ratio as measured, infinite where nothing was consumed.

    >>> ratio_found(1.0, 2.0), ratio_found(-0.1, 2.0), ratio_found(0.0, -2.0)
    (2.0, inf, -inf)
    """
    return n_produced / n_consumed if n_consumed > 0 else math.copysign(math.inf, n_produced)


def variation_term(scale: float, dof: float) -> Term:
    """Return the variation between trials as it acts on a mean: normal, or t if it was estimated.

    >>> variation_term(0.01, math.inf).shape.name, variation_term(0.01, 7.0).shape.name
    ('NORMAL', 'STUDENT_T')
    """
    return Term(Shape.NORMAL, scale) if math.isinf(dof) else Term(Shape.STUDENT_T, scale, dof)


def one_sided(amount: float, terms: Iterable[Term]) -> float:
    """Return the chance of at least this amount, in excess of zero, from errors alone.

    >>> one_sided(-0.1, []), round(one_sided(1.6449, [Term(Shape.NORMAL, 1.0)]), 3)
    (1.0, 0.05)
    """
    return 0.5 * SumDistribution(terms).two_sided(amount) if amount > 0 else 1.0


def to_mean(consumed: Floats, u: Floats) -> Floats:
    """Return what makes discrepancies of trials those of the mean amount; along the last axis.

    Trials of different amounts that agree in their ratio have different discrepancies from any
    other ratio, and the same ones for each mole consumed. 1 where an amount is not above ten
    times its standard uncertainty ``u`` by the readings: its ratio is hardly known.

    >>> to_mean(np.array([1.0, 2.0, 3.0]), np.array([0.09])).tolist()
    [2.0, 1.0, 0.6666666666666666]
    >>> to_mean(np.array([1.0, 2.0, 3.0]), np.array([0.1])).tolist()
    [1.0, 1.0, 1.0]
    """
    known = (consumed > 10 * u).all(axis=-1, keepdims=True)
    mean = consumed.mean(axis=-1, keepdims=True)
    return np.where(known, mean / np.where(known, consumed, 1.0), 1.0)


def student_sum(value: float, terms: Sequence[Term]) -> float:
    """Return the p-value of a sum whose last term is a Student t; small others shift the value."""
    *shared, own = terms
    reach = sum(reach_of(t) for t in shared)
    dof = int(own.dof)
    if reach <= own.scale * _NARROW:
        return float(student_p(value, reach, own.scale, dof))
    # a triangle is the sum of two rectangles half as wide
    widths = [t.scale for t in shared if t.shape is Shape.RECTANGULAR]
    for t in shared:
        widths += [t.scale / 2] * 2 if t.shape is Shape.TRIANGULAR else []
    widths = sorted(widths, reverse=True) or [0.0]
    rest = [t for t in shared if t.shape is Shape.NORMAL]
    if rest or len(widths) > _WIDEST + 1:
        rest += [Term(Shape.RECTANGULAR, width) for width in widths[_WIDEST:]]
        widths = widths[:_WIDEST]
    beside = SumDistribution(rest)
    plain = (Shape.RECTANGULAR, Shape.TRIANGULAR, Shape.NORMAL)
    if any(t.shape not in plain for t in shared) or beside.spread > 4 * own.scale:
        return SumDistribution(terms).two_sided(value)
    x, weight = np.array([abs(value)]), np.ones(1)
    if rest:
        node, weight = legendre(_NODES * math.ceil(beside.spread / own.scale))
        node = node * min(beside.bound, _SURE * beside.spread)
        weight, x = weight * beside.pdf(node), x - node
    half_widths = np.repeat(np.array(widths)[:, None], x.size, axis=1)
    tails = student_tails(np.abs(x), half_widths, np.full(x.size, own.scale), dof)
    # twice the chance of at least x, which is a tail above zero and the rest of one below
    upper = np.where(x >= 0, tails, 2.0 - tails)
    return float(weight @ upper / weight.sum())


def student_sums(values: Floats, half_widths: Floats, scales: Floats, dof: int) -> Floats:
    """Return :func:`student_sum` of many values beside rectangular terms, shape (values,).

    ``half_widths`` has shape (terms, values).

    >>> rectangle, t = Term(Shape.RECTANGULAR, 0.5), Term(Shape.STUDENT_T, 1.0, 3.0)
    >>> (many,) = student_sums(np.array([2.5]), np.array([[0.5]]), np.array([1.0]), 3)
    >>> bool(abs(many - student_sum(2.5, [rectangle, t])) < 1e-9)
    True
    """
    reach = half_widths.sum(axis=0)
    found: Floats = student_p(values, reach, scales, dof)
    wide = np.flatnonzero(reach > scales * _NARROW)
    if wide.size:
        found[wide] = student_tails(values[wide], half_widths[:, wide], scales[wide], dof)
    return found


def rounding_excess(noise: float, *, single: bool) -> float:
    """Return the largest variance of a rounding error at a fixed amount over its average, d²/12.

    For a difference of two readings without noise the variance at the worst position is 1/4
    against 1/6 of a squared step; single readings at several positions spread by up to 1/4
    against 1/12. Noise (in steps) lets the excess die out as the first harmonic of the grid does.

    >>> rounding_excess(0.0, single=False), round(rounding_excess(0.5, single=False), 3)
    (1.5, 1.0)
    """
    return 1.0 + (2.0 if single else 0.5) * math.exp(-4 * math.pi**2 * noise * noise)
