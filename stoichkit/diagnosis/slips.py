"""Slips: readings that cannot be right as typed, and what they might have been.

A slip is a mistake that can be put right (two readings swapped, digits transposed, a wrong unit);
a physical effect is not (see :mod:`stoichkit.diagnosis.causes`). A corrected value is named only
when the trial as typed is clearly inconsistent with the candidates its fellow trials support, and
fits one of them once corrected. Nothing is changed: the record stays as typed.

"Clearly inconsistent" means a p-value below ``level`` divided by twice the number of trials, so a
lab without mistakes is accused at most ``level`` of the time, as far as the instruments are what
they are said to be. The trial must also differ from its fellows by more than that: an effect that
acts alike in every trial accuses nobody. A single trial has no fellows, and there a physical
effect can look like a slip.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum
from itertools import combinations, pairwise, product
from statistics import median

from ..decision.evidence import air_of, linear_amounts, trial_amounts
from ..decision.linear import LinearAmounts, ratio_found
from ..decision.ratio_test import allowed_ratios
from ..errors import ReadingError, StoichkitError
from ..experiments.checks import read_value
from ..experiments.parts import Trial
from ..experiments.record import Experiment
from ..measurement.base import Role
from ..uncertainty import entry
from ..uncertainty.readings import Reading, parse_number

MAX_MAGNITUDE = 9
UNITS = {
    "g": (("mg", "0.001"), ("kg", "1000")),
    "mL": (("L", "1000"), ("µL", "0.001")),
    "kPa": (("Pa", "0.001"), ("hPa", "0.1"), ("torr", "0.13332237"), ("atm", "101.325")),
    "A": (("mA", "0.001"),),
    "s": (("min", "60"),),
}
"""Other units in which a reading may have been typed, and what one of them is."""
TURNED_ROUND = "both differences"
"""What was done where first and last reading of both amounts are swapped."""
_KELVIN = Decimal("273.15")


class SlipKind(StrEnum):
    """What may have gone wrong with a reading."""

    OFF_GRID = "the display cannot show this"
    SWAPPED = "two readings swapped"
    TARE = "the tare was taken off already"
    UNIT = "another unit"
    DECIMAL = "decimal mark lost or moved"
    TRANSPOSED = "two digits transposed"
    OVERWEIGHT = "more product than any candidate allows"
    OUTLYING = "the trial stands apart from its fellows"


@dataclass(frozen=True, slots=True)
class Suspect:
    """One way to correct a trial: readings and what they might have been."""

    kind: SlipKind
    changes: tuple[tuple[str, str], ...]
    rule: str  # what was done, in words that are the same in every trial

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the readings changed."""
        return tuple(name for name, _ in self.changes)


def shown(value: Decimal, step: float) -> str | None:
    """Write a value as a display with this step shows it; None where it cannot."""
    grid = Decimal(repr(step))
    if value != value.quantize(grid) or value % grid or value.adjusted() > MAX_MAGNITUDE:
        return None
    return format(value.quantize(grid), "f")


def _nearest(value: Decimal, step: float) -> str:
    """Write the nearest value that a display with this step shows."""
    grid = Decimal(repr(step))
    return format((round(value / grid) * grid).quantize(grid), "f")


def _exact(reading: Reading) -> Decimal:
    return Decimal(reading.text.strip().replace(",", ".").replace("−", "-").replace("–", "-"))


def off_grid(
    experiment: Experiment,
) -> Iterator[tuple[str, str, str, str]]:
    """Yield (trial, reading, typed, nearest value shown) of readings off their display's grid."""
    everything: list[tuple[str, Mapping[str, tuple[str, ...]], Sequence[Role]]] = [
        ("", experiment.shared_readings, experiment.roles()),
        *((one.name, one.readings, experiment.roles_in(one)) for one in experiment.trials),
    ]
    for owner, readings, made in everything:
        roles = {role.name: role for role in made}
        for name, texts in readings.items():
            step = experiment.instruments[roles[name].instrument].readability
            for text in texts:
                reading = parse_number(text, name)
                if abs(reading.value / step - round(reading.value / step)) > 1e-6:
                    yield owner, name, text, _nearest(_exact(reading), step)


def suspects(experiment: Experiment, trial: Trial) -> list[Suspect]:
    """Return the ways in which the readings of one trial may have been mistyped."""
    sheet = _Sheet.of(experiment, trial.readings, experiment.roles_in(trial))
    groups = [(name,) for name in sheet.roles] + sheet.by_amount()
    groups += [tuple(n for n in sheet.roles if sheet.roles[n].unit == unit) for unit in UNITS]
    found = [*sheet.swapped(), *sheet.tared(), *sheet.scaled(groups)]
    return _once([*found, *(one for name in sheet.roles for one in sheet.digits(name))])


def shared_suspects(experiment: Experiment) -> list[Suspect]:
    """Return the ways in which readings shared by all trials may have been mistyped."""
    sheet = _Sheet.of(experiment, experiment.shared_readings, experiment.roles())
    return _once(
        one for name in sheet.roles for one in (*sheet.scaled([(name,)]), *sheet.digits(name))
    )


def _once(found: Iterable[Suspect]) -> list[Suspect]:
    """Keep the first of those that change the same readings to the same values."""
    kept: dict[tuple[tuple[str, str], ...], Suspect] = {}
    for suspect in found:
        if suspect.changes:
            kept.setdefault(tuple(sorted(suspect.changes)), suspect)
    order = list(SlipKind)
    return sorted(kept.values(), key=lambda s: (order.index(s.kind), len(s.changes)))


@dataclass(frozen=True, slots=True)
class _Sheet:
    """Readings as they were typed, of one trial or of all, and what each of them is."""

    experiment: Experiment
    roles: Mapping[str, Role]
    typed: Mapping[str, Reading]

    @staticmethod
    def of(
        experiment: Experiment, readings: Mapping[str, tuple[str, ...]], made: Sequence[Role]
    ) -> _Sheet:
        roles = {r.name: r for r in made if r.name in readings}
        typed = {name: read_value(role, readings[name]) for name, role in roles.items()}
        return _Sheet(experiment, roles, typed)

    def step(self, name: str) -> float:
        """Return the step of the display or scale of a reading."""
        return self.experiment.instruments[self.roles[name].instrument].readability

    def by_amount(self) -> list[tuple[str, ...]]:
        """Return the readings of each amount."""
        models = (self.experiment.consumed, self.experiment.produced)
        return [tuple(r.name for r in m.roles() if r.name in self.roles) for m in models]

    def swapped(self) -> Iterator[Suspect]:
        """Yield two readings of one instrument in each other's place."""
        pairs = [pair for names in self.by_amount() for pair in combinations(names, 2)]
        for one, other in [*pairs, *combinations(self.roles, 2)]:
            first, second = self.typed[one], self.typed[other]
            alike = self.roles[one].instrument == self.roles[other].instrument
            if alike and first.value != second.value:
                changes = ((one, second.text.strip()), (other, first.text.strip()))
                yield Suspect(SlipKind.SWAPPED, changes, f"{one}, {other}")
        yield from self._turned_round()

    def _turned_round(self) -> Iterator[Suspect]:
        """Yield both differences the wrong way round: first and last reading of each swapped."""
        models = (self.experiment.consumed, self.experiment.produced)
        names = [name for m in models for name in (m.span.high, m.span.low)]
        if len(set(names)) < len(names) or any(name not in self.roles for name in names):
            return
        high_a, low_a, high_b, low_b = names
        pairs = ((high_a, low_a), (low_a, high_a), (high_b, low_b), (low_b, high_b))
        changes = tuple((name, self.typed[other].text.strip()) for name, other in pairs)
        if all(self.typed[one].value != self.typed[other].value for one, other in pairs):
            yield Suspect(SlipKind.SWAPPED, changes, TURNED_ROUND)

    def tared(self) -> Iterator[Suspect]:
        """Yield readings of what is in a vessel with the vessel added."""
        models = (self.experiment.consumed, self.experiment.produced)
        pairs = [((m.span.high,), m.span.low) for m in models if m.weighed]
        everything: list[tuple[tuple[str, ...], str]] = [*pairs]
        for vessel in self.roles:
            roles = self.roles.items()
            inside = tuple(n for n, r in roles if r.vessel_group == vessel and n != vessel)
            everything += [((name,), vessel) for name in inside]
            everything.append((inside, vessel))
        for names, vessel in everything:
            if vessel not in self.roles or not names or any(n not in self.roles for n in names):
                continue
            added = _exact(self.typed[vessel])
            texts = [shown(_exact(self.typed[n]) + added, self.step(vessel)) for n in names]
            changes = tuple((n, t) for n, t in zip(names, texts, strict=True) if t is not None)
            if len(changes) == len(names):
                yield Suspect(SlipKind.TARE, changes, f"{', '.join(names)} without {vessel}")

    def scaled(self, groups: Iterable[tuple[str, ...]]) -> Iterator[Suspect]:
        """Yield groups of readings in other units, and single ones with the mark moved.

        Only powers of ten must fall on the grid of the display; other units are rounded to it.
        """
        for names in groups:
            for rule, factor in self._factors(names):
                exact = factor.normalize().as_tuple().digits == (1,)
                write = shown if exact else _nearest
                values = [_exact(self.typed[name]) * factor for name in names]
                texts = [write(v, self.step(n)) for n, v in zip(names, values, strict=True)]
                changes = tuple((n, t) for n, t in zip(names, texts, strict=True) if t is not None)
                if all(values) and len(changes) == len(names):
                    kind = SlipKind.DECIMAL if rule.startswith("×") else SlipKind.UNIT
                    yield Suspect(kind, changes, rule)

    def _factors(self, names: tuple[str, ...]) -> Iterator[tuple[str, Decimal]]:
        units = {self.roles[name].unit for name in names}
        if len(units) != 1:
            return
        for unit, factor in UNITS.get(units.pop(), ()):
            yield unit, Decimal(factor)
        if len(names) == 1:
            for factor in ("0.1", "0.01", "10", "100", "0.001", "0.0001"):
                yield f"× {factor}", Decimal(factor)

    def digits(self, name: str) -> Iterator[Suspect]:
        """Yield a reading with neighbouring digits swapped; kelvin for degrees Celsius."""
        typed, step = self.typed[name], self.step(name)
        if self.roles[name].unit == "°C" and _exact(typed) > 200:
            text = _nearest(_exact(typed) - _KELVIN, step)
            yield Suspect(SlipKind.UNIT, ((name, text),), "K")
        text = typed.text.strip()
        places = [i for i, c in enumerate(text) if c.isdecimal()]
        if "e" in text.lower():
            return
        for i, j in pairwise(places):
            if text[i] == text[j]:
                continue
            swapped = text[:i] + text[j] + text[i + 1 : j] + text[i] + text[j + 1 :]
            try:
                value = _exact(parse_number(swapped, name))
            except ReadingError:
                continue
            written = shown(value, step)
            if written is not None and value >= 0:
                yield Suspect(SlipKind.TRANSPOSED, ((name, written),), f"digits of {name}")


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
        What was done: the unit, the factor, the pair of readings; for too much product
        ``"measured"`` where it is not weighed.
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
    p_zero: float = 1.0  # of an amount consumed of zero, where it is not above zero

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
    entry.record("experiment", experiment, Experiment)
    level = entry.number("level", level, above=0, below=0.5)
    if not experiment.trials:
        return ()
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
        below = judged[i].p_zero < threshold  # no common effect makes an amount negative
        if below or _stands_apart(experiment, i, good, supported, threshold):
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
    air, _ = air_of(experiment, pairs)
    parts = dict.fromkeys(product(experiment.recovery, experiment.recovery, air))
    ratios = [float(c.ratio) for c in experiment.candidates if c.name in supported]
    # each trial recovered a part of its own; what air does is common to all of them
    ends = [
        linear_amounts(experiment, [(k * (own * own_a - mean * mean_a), own_b - mean_b)])
        for own, mean, k in parts
    ]
    return not any(_between(ends, ratio, threshold) for ratio in ratios)


def _between(ends: Sequence[LinearAmounts], ratio: float, threshold: float) -> bool:
    """Return whether a candidate fits one of these differences, or some between them."""
    signs = {linear.mean(ratio, 1.0) > 0 for linear in ends}
    return len(signs) > 1 or any(linear.p_value(ratio, 1.0) >= threshold for linear in ends)


def _judged(experiment: Experiment, trial: Trial, only: Iterable[str] | None = None) -> _Judged:
    """Test the candidates, within what recovery and air allow, on one trial alone.

    Nothing fits readings that are impossible.
    """
    names = None if only is None else set(only)
    try:
        alone = experiment.with_trials([trial])
        amounts = trial_amounts(alone)
    except StoichkitError:
        return _Judged({})
    linear = linear_amounts(alone, amounts)
    air, _ = air_of(alone, amounts)
    part = experiment.recovery[0] * air[0], experiment.recovery[1] * air[1]
    measured = ratio_found(linear.mean_consumed, linear.mean_produced)
    found, over = {}, True
    for candidate in experiment.candidates:
        if names is not None and candidate.name not in names:
            continue
        ratio = float(candidate.ratio)
        allowed = allowed_ratios(measured, ratio, part)
        found[candidate.name] = max(_near_p(linear, one) for one in allowed)
        over = over and linear.mean(ratio * part[1], 1.0) > 0
    consumed, against = linear.mean_consumed, 1.0
    if consumed <= 0:  # no candidate makes an amount consumed negative
        against = linear.p_value(1.0, 0.0)
        found = {name: min(p, against) for name, p in found.items()}
    return _Judged(found, consumed, over and consumed > 0, against)


def _near_p(linear: LinearAmounts, ratio: float) -> float:
    """Return the p-value of a ratio as measured; 0 for one too far off to be worth it."""
    near = abs(linear.mean(ratio, 1.0)) <= _FAR * linear.distribution(ratio, 1.0).spread
    return linear.p_value(ratio, 1.0) if near else 0.0


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
    for suspect in suspects(experiment, trial):
        again = _judged(experiment, _corrected(experiment, trial, suspect), supported)
        best = max(again.p, key=lambda name: again.p[name], default="")
        if not best or again.p[best] < _RESTORED or again.consumed_mol <= 0:
            continue
        away = abs(math.log(again.consumed_mol / usual)) if usual > 0 else -again.p[best]
        typed = _as_typed(experiment, trial.readings, suspect.names)
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


def _as_typed(
    experiment: Experiment, readings: Mapping[str, tuple[str, ...]], names: Iterable[str]
) -> tuple[str, ...]:
    """Return what counts of the texts of some readings: the last of each, or their mean."""
    means = {role.name: role for role in experiment.roles() if role.averaged}
    return tuple(
        read_value(means[n], readings[n]).text if n in means else readings[n][-1] for n in names
    )


def _corrected(experiment: Experiment, trial: Trial, suspect: Suspect) -> Trial:
    """Return a trial with the last of each reading corrected; all of those that are averaged."""
    changed = dict(trial.readings)
    for name, text in suspect.changes:
        changed[name] = _put_right(experiment, name, changed[name], text)
    return replace(trial, readings=changed)


def _put_right(
    experiment: Experiment, name: str, typed: tuple[str, ...], text: str
) -> tuple[str, ...]:
    """Return what was typed of one reading with the last corrected; all if they are averaged."""
    averaged = {role.name for role in experiment.roles() if role.averaged}
    return (text,) * len(typed) if name in averaged else (*typed[:-1], text)


def corrected(experiment: Experiment, slip: Slip) -> Experiment:
    """Return a record with the correction that a slip names, in every trial that it is of.

    Raises
    ------
    ExperimentError
        If a reading would be none that can be read.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> lab = experiments.load("copper-silver").with_reading("bench 3", "wire before", "1.34")
    >>> corrected(lab, find_slips(lab)[0]) == experiments.load("copper-silver")
    True
    """
    entry.record("experiment", experiment, Experiment)
    entry.record("slip", slip, Slip)
    changes = tuple(zip(slip.readings, slip.corrected, strict=True)) if slip.corrected else ()
    given = Suspect(slip.kind, changes, slip.rule)
    for name, text in changes:
        if not slip.trial and name in experiment.shared_readings:
            texts = _put_right(experiment, name, experiment.shared_readings[name], text)
            experiment = experiment.with_reading("", name, texts)
            given = Suspect(slip.kind, (), slip.rule)
    trials = []
    for trial in experiment.trials:
        suspect = given if trial.name == slip.trial else None
        if not slip.trial and given.changes:
            suspect = _alike(experiment, trial, slip)
        trials.append(trial if suspect is None else _corrected(experiment, trial, suspect))
    return experiment.with_trials(trials)


def _alike(experiment: Experiment, trial: Trial, slip: Slip) -> Suspect | None:
    """Return what a slip of all trials is in one of them, which has values of its own."""
    key = slip.kind, slip.readings, slip.rule
    found = suspects(experiment, trial)
    return next((s for s in found if (s.kind, s.names, s.rule) == key), None)


def slip_in(experiment: Experiment, trial: Trial, slip: Slip) -> Slip | None:
    """Return a slip made alike in all trials as it is in one; None where it is not in it.

    None too for a reading that serves all trials, which the record of the lab holds.

    >>> from stoichkit import experiments
    >>> lab = experiments.load("copper-silver")
    >>> common = Slip(kind=SlipKind.SWAPPED, trial="", readings=("paper + silver", "paper"),
    ...               rule="paper + silver, paper")
    >>> slip_in(lab, lab.trials[0], common).corrected
    ('0.75', '1.15')
    """
    entry.record("slip", slip, Slip)
    if any(name not in trial.readings for name in slip.readings):
        return None
    suspect = _alike(experiment, trial, slip)
    if suspect is None:
        return None
    typed = _as_typed(experiment, trial.readings, suspect.names)
    corrected = tuple(text for _, text in suspect.changes)
    return replace(slip, trial=trial.name, typed=typed, corrected=corrected)


def _overweight(experiment: Experiment, owner: str, trial: Trial, p_typed: float) -> Slip:
    name = experiment.produced.span.high
    here = (name,) if name in trial.readings else ()
    return Slip(
        kind=SlipKind.OVERWEIGHT,
        trial=owner,
        readings=here,
        typed=_as_typed(experiment, trial.readings, here),
        p_typed=p_typed,
        rule="" if experiment.produced.weighed else experiment.produced.verb,
    )


def _of_all(experiment: Experiment, judged: Sequence[_Judged]) -> list[Slip]:
    """Return the mistakes made alike in every trial that would make all of them fit."""
    trials = experiment.trials
    found: dict[tuple[str, ...], Slip] = {}
    for suspect in shared_suspects(experiment):
        changed = experiment
        for name, text in suspect.changes:
            changed = changed.with_reading("", name, text)
        typed = _as_typed(experiment, experiment.shared_readings, suspect.names)
        _add_common(found, changed, suspect, typed)
    if len(trials) > 1:
        alike = [{(s.kind, s.names, s.rule): s for s in suspects(experiment, t)} for t in trials]
        for key, suspect in alike[0].items():
            if suspect.kind is SlipKind.TRANSPOSED or any(key not in one for one in alike):
                continue
            pairs = zip(trials, alike, strict=True)
            again = [_corrected(experiment, t, one[key]) for t, one in pairs]
            changed = experiment.with_trials(again)
            typed = _as_typed(experiment, trials[0].readings, suspect.names)
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
    p_least = {c.name: math.inf for c in changed.candidates}
    for trial in changed.trials:
        again = _judged(changed, trial, p_least)
        p_least = {n: min(p_least[n], p) for n, p in again.p.items() if p >= _RESTORED}
        if not p_least or again.consumed_mol <= 0:
            return
    best = max(p_least, key=lambda name: p_least[name])
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
