"""Amounts of all groups of a class: what is each group's own, what groups share, what follows.

A straight line through them has a constant blank as its intercept; groups that differ are pooled
with random effects, and some stand out.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence, Set
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike

from .._common import FrozenMap
from ..chemistry.elements import molar_mass_value
from ..decision.evidence import Evidence, trial_amounts, variation_factor
from ..decision.linear import SAME, LinearAmounts, rounding_excess, to_mean
from ..errors import ExperimentError, ModelError
from ..experiments.parts import Trial, Variation
from ..experiments.record import MAX_TRIALS, Experiment
from ..measurement.base import Instrument
from ..text.wording import names_text
from ..uncertainty import entry
from ..uncertainty.distribution import SumDistribution, student_tails
from ..uncertainty.pooling import OUTLYING_LEVEL, Pooled, deleted_residual, pool
from ..uncertainty.sources import (
    Floats,
    Number,
    Shape,
    Source,
    Term,
    contributions,
    nominal,
    terms_of,
    uncertain_value,
)
from ..uncertainty.straight_line import Line, fit_line

_EVEN = 1.5
_READING_KINDS = ("rounding", "repeatability", "linearity")
Pair = tuple[Number, Number]


@dataclass(frozen=True, slots=True, eq=False)
class _Variances:
    """Variances and covariance of the groups' amounts, shape (groups,) each, mol²."""

    consumed: Floats
    produced: Floats
    both: Floats

    def along(self, x: float, y: float) -> Floats:
        """Return the variance of y n_produced − x n_consumed."""
        return y * y * self.produced + x * x * self.consumed - 2 * x * y * self.both

    def without(self, place: int) -> _Variances:
        """Return the variances without one group."""
        return _Variances(*(np.delete(v, place) for v in (self.consumed, self.produced, self.both)))


class ClassAmounts:
    """Mean amounts of every group, with own and shared error sources kept apart.

    Parameters
    ----------
    groups : mapping of str to sequence of (n_consumed, n_produced)
        By group name: the uncertain amounts of its trials, mol. A source is shared when two
        groups use the same one: the same balance, stock solution, atomic weight.
    role_of : mapping of str to str, optional
        As :class:`stoichkit.decision.linear.LinearAmounts`.

    Raises
    ------
    ModelError
        If there are fewer than two groups, a group without trials, more than 1000 trials, or no
        group has an uncertainty of its own.

    Attributes
    ----------
    names : tuple of str
    consumed, produced : ndarray, shape (groups,)
        Mean amounts, mol.
    own, reading : variances of the groups' own errors: all of them, and those of reading
        displays (rounding, repeatability, linearity), which a finer balance would reduce.
    shared_sources : tuple of Source
        Sources that two groups or more use.
    linear : LinearAmounts
        All trials in one; its mean is the common-effect answer. Groups count equally, unless
        their uncertainties differ by more than half: then by inverse variance.
    """

    def __init__(
        self, groups: Mapping[str, Sequence[Pair]], role_of: Mapping[str, str] | None = None
    ) -> None:
        if role_of is not None:
            entry.mapping("role_of", role_of, "{reading: role}")
        given = entry.mapping("groups", groups, "{group: [(n_consumed, n_produced), …]}")
        self.groups = {name: _pairs(name, pairs) for name, pairs in given.items()}
        self.names = tuple(self.groups)
        trials = sum(len(pairs) for pairs in self.groups.values())
        if len(self.names) < 2 or not all(self.groups.values()) or trials > MAX_TRIALS:
            raise ModelError(
                "These groups do not make up a class.",
                given=f"{len(self.names)} groups, {trials} trials",
                allowed=f"two groups or more, each with a trial; {MAX_TRIALS} trials at most",
            )
        self.consumed, self.produced = np.array(
            [
                np.mean([[nominal(a), nominal(b)] for a, b in p], axis=0)
                for p in self.groups.values()
            ]
        ).T
        self._parts = [_mean_parts(pairs) for pairs in self.groups.values()]
        self._share_out()
        self._factors = self._weights()
        self._role_of = role_of
        self.linear = LinearAmounts(self._weighted(), role_of)

    def changed(self, add_mol: float = 0.0, times: float = 1.0) -> ClassAmounts:
        """Return the class if every trial had produced so many times as much, and so much more.

        >>> one = amounts_from_arrays([1, 2, 3], [2, 4, 6], 0.01, 0.02)
        >>> one.changed(0.5, times=2.0).produced.tolist()
        [4.5, 8.5, 12.5]
        """
        groups = {
            name: [(a, b * times + add_mol) for a, b in pairs]
            for name, pairs in self.groups.items()
        }
        return ClassAmounts(groups, self._role_of)

    def varied(self, variation: Variation) -> ClassAmounts:
        """Return the class with a stated variation from group to group as one more source each.

        >>> one = amounts_from_arrays([1, 2, 3], [2, 4, 6], 0.01, 0.02)
        >>> varied = one.varied(Variation(relative="3 %"))
        >>> (varied.own.produced - one.own.produced).round(4).tolist()
        [0.0036, 0.0144, 0.0324]
        """
        entry.record("variation", variation, Variation)
        groups = {}
        for name, pairs in self.groups.items():
            factor = variation_factor(variation, f"variation between groups, group {name}")
            groups[name] = [(a, b * factor) for a, b in pairs]
        return ClassAmounts(groups, self._role_of)

    def _share_out(self) -> None:
        """Split the sources of the groups' means into shared ones and each group's own."""
        parts = self._parts
        used = Counter(key for group in parts for key in group)
        shared = {key: s for group in parts for key, (s, _, _) in group.items() if used[key] > 1}
        self.shared_sources = tuple(shared.values())
        row = {key: i for i, key in enumerate(shared)}
        self._shared = np.zeros((2, len(shared), len(parts)))
        for column, group in enumerate(parts):
            for key, (_, a, b) in group.items():
                if key in row:
                    self._shared[:, row[key], column] = a, b
        own = [[v for k, v in group.items() if k not in row] for group in parts]
        self.own = _variances(own)
        self.reading = _variances([[v for v in g if v[0].kind in _READING_KINDS] for g in own])

    def _weights(self) -> Floats:
        """Return what scales the trials so that their mean is the weighted mean of the groups."""
        x, y = self.direction(self.consumed.mean(), self.produced.mean())
        variance = self.own.along(x, y)
        if not (variance > 0).all():
            raise ModelError(
                "A group has no uncertainty of its own, so the groups cannot be compared.",
                given=self.names[int(np.argmin(variance > 0))],
                fix="State the uncertainty of its readings.",
            )
        counts = np.array([len(pairs) for pairs in self.groups.values()])
        weights = 1 / variance
        factors = weights / weights.sum() * counts.sum() / counts
        if factors.max() <= _EVEN and factors.min() >= 1 / _EVEN:
            factors = counts.sum() / counts / len(counts)
        return np.ones(len(counts)) if np.allclose(factors, 1.0, rtol=1e-9) else factors

    def _weighted(self) -> list[Pair]:
        """Return all pairs, scaled so that their plain mean is the weighted mean of the groups."""
        if (self._factors == 1.0).all():
            return [pair for pairs in self.groups.values() for pair in pairs]
        return [
            (a * f, b * f)
            for f, pairs in zip(self._factors.tolist(), self.groups.values(), strict=True)
            for a, b in pairs
        ]

    @staticmethod
    def direction(consumed: float, produced: float) -> tuple[float, float]:
        """Return the direction (x, y) whose ratio x/y is that of these amounts."""
        size = math.hypot(consumed, produced)
        if not size:  # nothing reacted: no ratio is better than another
            return math.sqrt(0.5), math.sqrt(0.5)
        return float(produced) / size, float(consumed) / size

    def best_direction(self) -> tuple[float, float]:
        """Return the direction of the mean amounts over the class."""
        return self.direction(self.linear.mean_consumed, self.linear.mean_produced)

    def discrepancies(self, x: float, y: float) -> Floats:
        """Return y n_produced − x n_consumed of every group, mol."""
        return np.asarray(y * self.produced - x * self.consumed)

    def to_mean(self) -> Floats:
        """Return by what the discrepancies of the groups are multiplied to compare them."""
        return to_mean(self.consumed, np.sqrt(self.own.along(1.0, 0.0)))

    def shared_effects(self, x: float, y: float) -> Floats:
        """Return the sensitivity of each group's discrepancy to each shared source."""
        return np.asarray(y * self._shared[1] - x * self._shared[0])

    def shared_standard(self) -> tuple[Floats, Floats]:
        """Return the effect of one standard uncertainty of each shared source on the amounts.

        Shape (sources, groups) each, consumed and produced, mol.
        """
        u = np.array([s.standard_uncertainty for s in self.shared_sources])[:, None]
        return self._shared[0] * u, self._shared[1] * u

    def shared_terms(self, x: float, y: float, weights: Floats) -> tuple[Term, ...]:
        """Return the terms of the shared sources in the weighted mean discrepancy."""
        effects = (self.shared_effects(x, y) @ weights).tolist()
        return terms_of(zip(self.shared_sources, effects, strict=True))

    def without(self, group: str) -> ClassAmounts:
        """Return the class without one group.

        >>> one = amounts_from_arrays([1, 2, 3], [2, 4, 6], 0.01, 0.02)
        >>> one.without("2").names
        ('1', '3')
        """
        if entry.text("group", group) not in self.groups:
            raise ModelError("There is no such group.", given=group, allowed=names_text(self.names))
        if len(self.names) < 3:
            raise ModelError("There are too few groups to leave one out.", allowed="three or more")
        place = self.names.index(group)
        found = object.__new__(ClassAmounts)
        found._role_of = self._role_of
        found.groups = {name: pairs for name, pairs in self.groups.items() if name != group}
        found.names = tuple(found.groups)
        found.consumed = np.delete(self.consumed, place)
        found.produced = np.delete(self.produced, place)
        found._parts = [part for i, part in enumerate(self._parts) if i != place]
        left = Counter(key for part in found._parts for key in part)
        if all(left[id(source)] > 1 for source in self.shared_sources):
            found.shared_sources = self.shared_sources
            found._shared = np.delete(self._shared, place, axis=2)
            found.own, found.reading = self.own.without(place), self.reading.without(place)
        else:  # what only one group still uses is its own
            found._share_out()
        found._factors = found._weights()
        counts = [len(pairs) for pairs in self.groups.values()]
        start = sum(counts[:place])
        trials = [t for t in range(sum(counts)) if not start <= t < start + counts[place]]
        factors = found._factors / np.delete(self._factors, place)
        found.linear = self.linear.part(trials, np.repeat(factors, np.delete(counts, place)))
        return found


def _pairs(group: str, pairs: object) -> tuple[Pair, ...]:
    """Return the amounts of each trial of a group, all of them numbers."""
    name = f"group {group}"
    found = []
    for pair in entry.listed(name, pairs, tuple, list):
        if len(pair) != 2:
            raise entry.refusal(
                ModelError,
                name,
                "has a trial without two amounts",
                pair,
                "(n_consumed, n_produced)",
            )
        found.append((entry.quantity("n_consumed", pair[0]), entry.quantity("n_produced", pair[1])))
    return tuple(found)


def _mean_parts(pairs: Sequence[Pair]) -> dict[int, tuple[Source, float, float]]:
    """Return each source with its effect on a group's mean amounts, rounding at its widest."""
    found: dict[int, tuple[Source, float, float]] = {}
    for pair in pairs:
        for side, amount in enumerate(pair):
            for source, c in contributions(amount):
                _, a, b = found.get(id(source), (source, 0.0, 0.0))
                step = c / len(pairs)
                found[id(source)] = (source, a + step * (side == 0), b + step * (side == 1))
    return found


def _variances(groups: Sequence[Sequence[tuple[Source, float, float]]]) -> _Variances:
    rows = []
    for parts in groups:
        noise = {s.reading: s.scale for s, _, _ in parts if s.kind == "repeatability"}
        vessels = Counter(s.vessel for s, _, _ in parts if s.kind == "rounding" and s.vessel)
        consumed = produced = both = 0.0
        for s, a, b in parts:
            v = s.standard_uncertainty**2
            if s.kind == "rounding" and s.shape is Shape.RECTANGULAR:
                sigma = noise.get(s.reading, 0.0) / (2 * s.scale)
                v *= rounding_excess(sigma, single=vessels[s.vessel] < 2)
            consumed, produced, both = consumed + a * a * v, produced + b * b * v, both + a * b * v
        rows.append((consumed, produced, both))
    return _Variances(*np.array(rows, dtype=np.float64).T)


def amounts_from_arrays(
    n_consumed: ArrayLike,
    n_produced: ArrayLike,
    u_consumed: ArrayLike,
    u_produced: ArrayLike,
    *,
    correlation: ArrayLike = 0.0,
    shared_consumed: float = 0.0,
    shared_produced: float = 0.0,
    names: Iterable[str] | None = None,
) -> ClassAmounts:
    """Make up a class from one amount and standard uncertainty a group.

    >>> one = amounts_from_arrays([1, 2, 3], [2, 4, 6], 0.01, 0.02, shared_produced=0.001)
    >>> one.names, len(one.shared_sources)
    (('1', '2', '3'), 1)
    """
    given = {
        "n_consumed": n_consumed,
        "n_produced": n_produced,
        "u_consumed": u_consumed,
        "u_produced": u_produced,
        "correlation": correlation,
    }
    arrays = [entry.array(name, value) for name, value in given.items()]
    shape = arrays[0].shape
    if (
        len(shape) != 1
        or arrays[1].shape != shape
        or any(a.shape not in ((), shape) for a in arrays)
    ):
        raise ModelError(
            "The amounts of the groups do not match.",
            given=", ".join(str(a.shape) for a in arrays),
            allowed="lists of one length; uncertainties and correlations may be single numbers",
        )
    labels = [str(i + 1) for i in range(shape[0])] if names is None else [str(n) for n in names]
    if len(set(labels)) != shape[0]:
        raise ModelError("The names do not match the groups.", allowed="one name a group")
    r = arrays[4]
    if not (np.abs(r) <= 1).all():
        raise ModelError("A correlation cannot be used.", given=r.tolist(), allowed="−1 to 1")
    factors = [
        uncertain_value(1.0, label, kind="calibration", shape=Shape.NORMAL, scale=scale)
        for side, scale in (("consumed", shared_consumed), ("produced", shared_produced))
        for label in [f"shared calibration of the amounts {side}"]
    ]
    groups = {}
    rows = np.array([np.broadcast_to(a, shape) for a in arrays]).T.tolist()
    for label, (a, b, u_a, u_b, rho) in zip(labels, rows, strict=True):
        consumed = _normal(a, f"amount consumed, group {label}", u_a)
        rest = _normal(b, f"amount produced, group {label}", u_b * math.sqrt(1 - rho * rho))
        slope = rho * u_b / u_a if u_a else 0.0
        produced = rest + slope * (consumed - a)
        groups[label] = [(consumed * factors[0], produced * factors[1])]
    return ClassAmounts(groups)


def _normal(value: float, label: str, scale: float) -> Number:
    return uncertain_value(value, label, kind="other", shape=Shape.NORMAL, scale=scale)


def amounts_of(*labs: Evidence | Experiment) -> ClassAmounts:
    """Return the groups of one or more experiments, assessed or not, by the group of each trial.

    A trial without a group is a group of its own, by its own name. Experiments given apart share
    atomic weights but no instrument: give one for each balance of the class.

    Raises
    ------
    ModelError
        If there are fewer than two groups, or two experiments have trials or groups of one name.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> amounts_of(experiments.load("copper-silver")).names
    ('bench 1', 'bench 2', 'bench 3', 'bench 4')
    """
    found = []
    for lab in labs:
        if isinstance(lab, Experiment):
            found.append((lab, trial_amounts(lab)))
        else:
            evidence = entry.record("evidence", lab, Evidence)
            found.append((evidence.experiment, evidence.amounts))
    return put_together(found)


def put_together(found: Iterable[tuple[Experiment, Sequence[Pair]]]) -> ClassAmounts:
    """Return the groups of records with the amounts of their trials, as :func:`amounts_of` does.

    >>> from stoichkit import experiments
    >>> lab = experiments.load("copper-silver")
    >>> len(put_together([(lab, lab.amounts())]).names)
    4
    """
    groups: dict[str, list[Pair]] = {}
    roles: dict[str, str] = {}
    for number, (experiment, pairs) in enumerate(found, 1):
        names = [role.name for role in experiment.roles()]
        own: dict[str, list[Pair]] = {}
        for trial, pair in zip(experiment.trials, pairs, strict=True):
            own.setdefault(group_of(trial), []).append(pair)
        # digits of different instruments are different lattices, so their roles differ too
        here = {f"{n}, trial {t.name}": f"{n} ({number})" for t in experiment.trials for n in names}
        if repeated := sorted({*groups} & {*own}) or sorted({*roles} & {*here}):
            raise ModelError(
                "Two experiments of the class have trials or groups of one name.",
                given=repeated[0],
                fix="Give every trial and group of the class a name of its own.",
            )
        groups, roles = groups | own, roles | here
    return ClassAmounts(groups, roles)


def group_of(trial: Trial) -> str:
    """Return the name of the group of a trial; a trial without one is a group of its own.

    >>> group_of(Trial("1", {}, "red")), group_of(Trial("2", {}))
    ('red', '2')
    """
    return trial.group or trial.name


_SAME = (
    "consumed", "produced", "candidates", "recovery", "variation", "between_groups",
    "shared_readings",
)  # fmt: skip


def joined(experiments: Mapping[str, Experiment]) -> Experiment:
    """Return one record of the trials of several groups that did the same experiment.

    An instrument of one name and the same figures is then one instrument, shared by the class; one
    of other figures stands in its place in the trials of its group. Trials stand in the order of
    the groups, carry their group, and are named "group: trial"; a name that would be too long, or
    there twice, is shortened or numbered. An ExperimentError says which records differ in more
    than their trials and what they were read on.

    >>> from stoichkit import experiments
    >>> lab = experiments.load("tin-oxide")
    >>> both = joined({"red": lab, "blue": lab})
    >>> len(both.trials) == 2 * len(lab.trials), both.trials[-1].group
    (True, 'blue')
    """
    if not experiments:
        raise ExperimentError("There is no group.", allowed="one or more")
    first = next(iter(experiments.values()))
    instruments = dict(first.instruments)
    trials: list[Trial] = []
    taken: set[str] = set()
    for name, experiment in experiments.items():
        for field in _SAME:
            if getattr(experiment, field) != getattr(first, field):
                raise _apart(name, next(iter(experiments)), field)
        try:
            own = _read_on_others(experiment, instruments)
        except ExperimentError:
            raise _apart(name, next(iter(experiments)), "instruments") from None
        for trial in experiment.trials:
            shown = _joined_name(name, trial.name, taken)
            taken.add(shown)
            used = own | {base: own.get(one, one) for base, one in trial.instruments.items()}
            trials.append(Trial(shown, trial.readings, name, used))
    return replace(first, trials=tuple(trials), instruments=instruments)


def _apart(group: str, first: str, field: str) -> ExperimentError:
    return ExperimentError(
        "The groups cannot be joined into one class: their records differ.",
        field=field,
        given=f"group {group} differs from group {first}",
        fix="Assess the groups with other instruments apart; see amounts_of().",
    )


def _read_on_others(experiment: Experiment, instruments: dict[str, Instrument]) -> dict[str, str]:
    """Return which instruments of a class stand in the place of a group's own, by their names.

    Those that the class does not have yet are added. An ExperimentError is raised where one serves
    all trials of the group at once, or is of another kind.
    """
    roles = experiment.roles()
    at_once = {r.instrument for r in roles if r.once or r.name in experiment.shared_readings}
    used = {r.instrument for r in roles}
    used |= {name for trial in experiment.trials for name in trial.instruments.values()}
    found = {}
    for name, one in experiment.instruments.items():
        kept = instruments.setdefault(name, one)
        if kept == one or name not in used:
            continue
        if name in at_once or type(kept) is not type(one):
            raise ExperimentError("It cannot stand in the place of another.", field="instruments")
        same = (n for n, other in instruments.items() if other == one)
        new = next(same, f"{name} {one.readability:g} {one.unit}")
        while new in instruments and instruments[new] != one:
            new += "*"
        instruments[new] = one
        found[name] = new
    return found


def _joined_name(group: str, trial: str, taken: Set[str]) -> str:
    """Return a name for showing that no other trial has, of at most 80 characters.

    >>> _joined_name("red", "1", {"red: 1"}), len(_joined_name("x" * 80, "y" * 80, set()))
    ('red: 1 (2)', 75)
    """
    plain = f"{group}: {trial}"
    if len(plain) > _MOST_NAME:
        plain = f"{_shortened(group, 42)}: {_shortened(trial, 31)}"
    name, number = plain, 1
    while name in taken:
        number += 1
        name = f"{plain[: _MOST_NAME - 12].rstrip()} ({number})"
    return name


_MOST_NAME = 80


def _shortened(text: str, most: int) -> str:
    return text if len(text) <= most else f"{text[: most - 1].rstrip()}…"


DIFFERENCE_LEVEL = 0.1
"""Chance, from the readings alone, below which groups count as different; common practice for Q,
whose power is low."""
_LEAST_SPREAD = 3.0
"""Least standard deviation of the amounts consumed over their own uncertainty, for a line."""


class BlankKind(StrEnum):
    """What an intercept of the straight line would mean."""

    NOT_SEEN = "no constant blank is told apart from zero"
    GAIN = (
        "a constant gain whatever the amount: wet filter paper, residue or salt not washed out, "
        "or reactant that gained mass (wet, coated, oxidised) and so hid what reacted"
    )
    LOSS = (
        "a constant loss whatever the amount: product left in the vessel or washed through the "
        "filter, or reactant that was lost without reacting"
    )


@dataclass(frozen=True, slots=True)
class Blank:
    """The intercept of the line as a constant blank.

    Attributes
    ----------
    kind : BlankKind
        A gain or a loss if the p-value is below 1 − coverage.
    amount_mol, u_mol : float
        Intercept and its standard uncertainty, mol of product.
    interval_mol : (float, float)
    mass_g, u_g : float
        The same in g of product; nan where the product was not named.
    p_value : float
        Chance of an intercept at least as large without any blank.
    """

    kind: BlankKind
    amount_mol: float
    u_mol: float
    interval_mol: tuple[float, float]
    mass_g: float
    u_g: float
    p_value: float


def class_line(amounts: ClassAmounts, *, scatter: bool = True) -> tuple[Line | None, str]:
    """Return the line n_produced = blank + ratio × n_consumed, or why there is none.

    The line needs three groups or more, and amounts consumed that spread by at least three times
    their own uncertainty: with less the intercept is not told apart from the slope.

    Parameters
    ----------
    amounts : ClassAmounts
    scatter : bool
        Whether the scatter of the points about it counts beside what their readings explain, as
        it must where groups may truly differ.

    Returns
    -------
    (Line or None, str)
        The text is empty if there is a line.

    Examples
    --------
    >>> line, _ = class_line(amounts_from_arrays([1, 2, 3], [2.3, 4.3, 6.3], 0.01, 0.02))
    >>> round(line.slope, 3), round(line.intercept, 3)
    (2.0, 0.3)
    >>> class_line(amounts_from_arrays([1, 1, 1.01], [2, 2.1, 2], 0.01, 0.02))[1]
    'The amounts consumed do not spread over three times their uncertainty.'
    """
    x, own = entry.record("amounts", amounts, ClassAmounts).consumed, amounts.own
    entry.flags(scatter=scatter)
    if x.size < 3:
        return None, "There are fewer than three groups."
    if not _differ(x, own.consumed):
        return None, "The amounts consumed do not spread over three times their uncertainty."
    u_x, u_y = np.sqrt(own.consumed), np.sqrt(own.produced)
    size = u_x * u_y
    r = np.divide(own.both, size, out=np.zeros_like(size), where=size > 0)
    shared_x, shared_y = amounts.shared_standard()
    try:
        line = fit_line(x, amounts.produced, u_x, u_y, r, shared_x=shared_x, shared_y=shared_y)
    except ModelError as error:
        return None, error.problem
    if not line.converged:
        return None, "The fit of the line did not settle."
    return with_scatter(line) if scatter else (line, "")


def with_scatter(line: Line) -> tuple[Line | None, str]:
    """Return a class's line with its scatter counted, or why there is none.

    >>> line, _ = class_line(amounts_from_arrays([1, 2, 3], [2, 4.2, 6], 0.01, 0.02), scatter=False)
    >>> round(with_scatter(line)[0].tau, 2)
    0.16
    """
    try:
        line = line.with_inflation()
    except ModelError as error:
        return None, error.problem
    return (line, "") if line.converged else (None, "The fit of the line did not settle.")


def _differ(x: Floats, variance: Floats) -> bool:
    if not (variance > 0).all():
        return bool(np.ptp(x) > 0)
    w = variance.min() / variance
    squares = float(np.sum(w * (x - np.sum(w * x) / w.sum()) ** 2))
    return squares >= _LEAST_SPREAD**2 * float(variance.min()) * (x.size - 1)


def blank_of(line: Line, *, coverage: float = 0.95, produced: str = "") -> Blank:
    """Return the intercept of a class's line as a constant blank, in mol and g of product.

    >>> n_copper, n_silver = [0.002, 0.004, 0.006], [0.0045, 0.0085, 0.0125]
    >>> line, _ = class_line(amounts_from_arrays(n_copper, n_silver, 2e-5, 2e-5))
    >>> blank = blank_of(line, produced="Ag")
    >>> blank.kind.name, round(blank.mass_g, 3), round(blank.u_g, 3)
    ('GAIN', 0.054, 0.007)
    """
    p = line.intercept_p_value()
    u = line.u_intercept_total
    gram = molar_mass_value(produced) if produced else math.nan
    kind = BlankKind.NOT_SEEN
    if p < 1 - coverage:
        kind = BlankKind.GAIN if line.intercept > 0 else BlankKind.LOSS
    interval = line.intercept_interval(coverage=coverage)
    return Blank(kind, line.intercept, u, interval, line.intercept * gram, u * gram, p)


def scatter_test(amounts: ClassAmounts, x: float, y: float) -> tuple[Pooled, float]:
    """Test y n_produced − x n_consumed by the scatter of the groups alone: Student t.

    The groups' discrepancies, each as if all had consumed the mean amount
    (:func:`stoichkit.decision.linear.to_mean`), are pooled with random effects (Paule-Mandel) and
    the interval of Hartung and Knapp; with groups of equal uncertainty that is the t-test of one
    sample, which holds whatever the groups' true variances are (N. K. Bakirov and G. J. Székely,
    J. Math. Sci. 139 (2006) 6497-6505; from memory). Their weights therefore do not follow the
    amounts: that would exclude the truth in 7 to 8 % of classes of four groups. What the groups
    share keeps its exact shape.

    Returns
    -------
    (Pooled, float)
        The p-value is nan where the groups agree exactly: there is no scatter to judge by.

    Examples
    --------
    >>> pooled, p = scatter_test(amounts_from_arrays([1, 2, 3], [1.1, 1.9, 3.2], 0.1, 0.1), 1, 1)
    >>> round(pooled.mean, 3), round(p, 2)
    (0.067, 0.53)
    """
    entry.record("amounts", amounts, ClassAmounts)
    x, y = entry.number("x", x), entry.number("y", y)
    f = amounts.to_mean()
    d, v = f * amounts.discrepancies(x, y), amounts.own.along(x, y)
    pooled = pool(d, v, interval="hartung-knapp")
    if pooled.standard_uncertainty <= SAME * float(np.abs(d).max()):
        return pooled, math.nan
    shared = amounts.shared_terms(x, y, f * pooled.weights)
    if any(t.shape is not Shape.RECTANGULAR for t in shared):
        return pooled, SumDistribution([pooled.own_term, *shared]).two_sided(pooled.mean)
    half_widths = np.array([[0.0], *([t.scale] for t in shared)])
    value, scale = np.array([pooled.mean]), np.array([pooled.own_term.scale])
    return pooled, float(student_tails(value, half_widths, scale, pooled.dof)[0])


def outlying_groups(amounts: ClassAmounts) -> Mapping[str, float]:
    """Return the residuals of the groups that stand out from the ratio of the others.

    Studentised deleted residuals beyond the Bonferroni limit; none with two groups.

    >>> dict(outlying_groups(amounts_from_arrays([1, 2, 3], [1, 2, 3.1], 0.1, 0.1)))
    {}
    """
    count = len(amounts.names)
    found = {}
    for i, name in enumerate(amounts.names if count > 2 else ()):
        others = [j for j in range(count) if j != i]
        consumed, produced = amounts.consumed[others].mean(), amounts.produced[others].mean()
        x, y = amounts.direction(consumed, produced)
        d, v = amounts.discrepancies(x, y), amounts.own.along(x, y)
        rest = pool(d[others], v[others], interval="normal")
        residual, p = deleted_residual(float(d[i]), float(v[i]), rest)
        if p < OUTLYING_LEVEL / count:
            found[name] = residual
    return FrozenMap(found)
