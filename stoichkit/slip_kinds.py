"""Ways in which a reading is mistyped, and the values it might have been."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from itertools import combinations, pairwise

from .amounts import Role
from .errors import ReadingError
from .experiment import Experiment
from .instruments import Instrument
from .readings import Reading, parse_number

__all__ = ["SlipKind", "Suspect", "off_grid", "shared_suspects", "shown", "suspects"]

MAX_MAGNITUDE = 9
UNITS = {
    "g": (("mg", "0.001"), ("kg", "1000")),
    "mL": (("L", "1000"), ("µL", "0.001")),
    "kPa": (("Pa", "0.001"), ("hPa", "0.1"), ("torr", "0.13332237"), ("atm", "101.325")),
    "A": (("mA", "0.001"),),
    "s": (("min", "60"),),
}
"""Other units in which a reading may have been typed, and what one of them is."""
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
    """One way to correct a trial.

    Attributes
    ----------
    kind : SlipKind
    changes : tuple of (str, str)
        Reading name and the text it might have been.
    rule : str
        What was done, in words that are the same in every trial: ``"mg"``, ``"swapped"``.
    """

    kind: SlipKind
    changes: tuple[tuple[str, str], ...]
    rule: str

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the readings changed."""
        return tuple(name for name, _ in self.changes)


def shown(value: Decimal, step: float) -> str | None:
    """Write a value as a display with this step shows it; None where it cannot.

    >>> shown(Decimal("2.9400"), 0.01), shown(Decimal("2.945"), 0.01)
    ('2.94', None)
    """
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
    """Yield (trial, reading, typed, nearest value shown) of readings off their display's grid.

    >>> from stoichkit import experiments
    >>> lab = experiments.load("copper-silver").with_reading("bench 2", "paper", "0.705")
    >>> list(off_grid(lab))
    [('bench 2', 'paper', '0.705', '0.70')]
    """
    roles = {role.name: role for role in experiment.roles()}
    everything: list[tuple[str, Mapping[str, tuple[str, ...]]]] = [
        ("", experiment.shared_readings),
        *((trial.name, trial.readings) for trial in experiment.trials),
    ]
    for owner, readings in everything:
        for name, texts in readings.items():
            step = experiment.instruments[roles[name].instrument].readability
            for text in texts:
                reading = parse_number(text, name)
                if abs(reading.value / step - round(reading.value / step)) > 1e-6:
                    yield owner, name, text, _nearest(_exact(reading), step)


def suspects(experiment: Experiment, readings: Mapping[str, tuple[str, ...]]) -> list[Suspect]:
    """Return the ways in which the readings of one trial may have been mistyped.

    Parameters
    ----------
    experiment : Experiment
    readings : mapping of str to tuple of str
        The trial's own readings, as typed; of repeated ones the last counts.

    Returns
    -------
    list of Suspect
        Most usual first, each set of corrected values once. Values that the instrument could
        not show are left out.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> lab = experiments.load("copper-silver")
    >>> found = suspects(lab, lab.trials[0].readings)
    >>> found[0].changes
    (('wire before', '2.82'), ('wire after', '2.94'))
    """
    roles = {r.name: r for r in experiment.roles() if r.name in readings}
    typed = {name: parse_number(readings[name][-1], name) for name in roles}
    found: list[Suspect] = [*_swapped(experiment, roles, typed), *_tared(experiment, roles, typed)]
    groups: list[tuple[str, ...]] = [(name,) for name in roles]
    for model in (experiment.consumed, experiment.produced):
        groups.append(tuple(r.name for r in model.roles() if r.name in roles))
    groups += [tuple(n for n in roles if roles[n].unit == unit) for unit in UNITS]
    for names in groups:
        for rule, factor in _factors(roles, names):
            kind = SlipKind.DECIMAL if rule.startswith("×") else SlipKind.UNIT
            found += _changed(experiment, roles, typed, names, kind, rule, factor)
    for name, role in roles.items():
        found += _own(experiment.instruments[role.instrument], role, typed[name])
    return _once(found)


def shared_suspects(experiment: Experiment) -> list[Suspect]:
    """Return the ways in which readings shared by all trials may have been mistyped.

    >>> from stoichkit import experiments
    >>> lab = experiments.load("magnesium-gas").with_reading("", "room pressure", "1008.0")
    >>> [s.changes for s in shared_suspects(lab) if s.rule == "hPa"]
    [(('room pressure', '100.8'),)]
    """
    roles = {r.name: r for r in experiment.roles() if r.name in experiment.shared_readings}
    found: list[Suspect] = []
    for name, role in roles.items():
        typed = {name: parse_number(experiment.shared_readings[name][-1], name)}
        for rule, factor in _factors(roles, (name,)):
            kind = SlipKind.DECIMAL if rule.startswith("×") else SlipKind.UNIT
            found += _changed(experiment, roles, typed, (name,), kind, rule, factor)
        found += _own(experiment.instruments[role.instrument], role, typed[name])
    return _once(found)


def _once(found: Iterable[Suspect]) -> list[Suspect]:
    """Keep the first of those that change the same readings to the same values."""
    kept: dict[tuple[tuple[str, str], ...], Suspect] = {}
    for suspect in found:
        if suspect.changes:
            kept.setdefault(tuple(sorted(suspect.changes)), suspect)
    order = list(SlipKind)
    return sorted(kept.values(), key=lambda s: (order.index(s.kind), len(s.changes)))


def _swapped(
    experiment: Experiment, roles: Mapping[str, Role], typed: Mapping[str, Reading]
) -> Iterator[Suspect]:
    own = [
        tuple(role.name for role in model.roles() if role.name in roles)
        for model in (experiment.consumed, experiment.produced)
    ]
    pairs = [pair for names in own for pair in combinations(names, 2)]
    for one, other in [*pairs, *combinations(roles, 2)]:
        first, second = roles[one], roles[other]
        if first.instrument == second.instrument and typed[one].value != typed[other].value:
            texts = typed[other].text.strip(), typed[one].text.strip()
            yield Suspect(SlipKind.SWAPPED, ((one, texts[0]), (other, texts[1])), f"{one}, {other}")


def _tared(
    experiment: Experiment, roles: Mapping[str, Role], typed: Mapping[str, Reading]
) -> Iterator[Suspect]:
    """Add the vessel to readings of what is in it."""
    pairs: list[tuple[tuple[str, ...], str]] = []
    for model in (experiment.consumed, experiment.produced):
        heavier, lighter = getattr(model, "heavier", ""), getattr(model, "lighter", "")
        pairs.append(((heavier,), lighter))
    for vessel in roles:
        inside = tuple(n for n, r in roles.items() if r.vessel_group == vessel and n != vessel)
        pairs += [((name,), vessel) for name in inside]
        pairs.append((inside, vessel))
    for names, vessel in pairs:
        if vessel not in roles or not names or any(name not in roles for name in names):
            continue
        step = experiment.instruments[roles[vessel].instrument].readability
        texts = [shown(_exact(typed[n]) + _exact(typed[vessel]), step) for n in names]
        changes = tuple((n, t) for n, t in zip(names, texts, strict=True) if t is not None)
        if len(changes) == len(names):
            yield Suspect(SlipKind.TARE, changes, f"{', '.join(names)} without {vessel}")


def _factors(roles: Mapping[str, Role], names: tuple[str, ...]) -> Iterator[tuple[str, Decimal]]:
    units = {roles[name].unit for name in names}
    if len(units) != 1:
        return
    for unit, factor in UNITS.get(units.pop(), ()):
        yield unit, Decimal(factor)
    if len(names) == 1:
        for factor in ("0.1", "0.01", "10", "100", "0.001", "0.0001"):
            yield f"× {factor}", Decimal(factor)


def _changed(
    experiment: Experiment,
    roles: Mapping[str, Role],
    typed: Mapping[str, Reading],
    names: tuple[str, ...],
    kind: SlipKind,
    rule: str,
    factor: Decimal,
) -> Iterator[Suspect]:
    """Scale readings; only powers of ten must fall on the grid, other units are rounded to it."""
    exact = factor.normalize().as_tuple().digits == (1,)
    changes = []
    for name in names:
        step = experiment.instruments[roles[name].instrument].readability
        value = _exact(typed[name]) * factor
        text = shown(value, step) if exact else _nearest(value, step)
        if text is None or not value:
            return
        changes.append((name, text))
    yield Suspect(kind, tuple(changes), rule)


def _own(instrument: Instrument, role: Role, typed: Reading) -> Iterator[Suspect]:
    """Swap neighbouring digits; take kelvin for degrees Celsius."""
    if role.unit == "°C" and _exact(typed) > 200:
        text = _nearest(_exact(typed) - _KELVIN, instrument.readability)
        yield Suspect(SlipKind.UNIT, ((role.name, text),), "K")
    text = typed.text.strip()
    places = [i for i, c in enumerate(text) if c.isdecimal()]
    if "e" in text.lower():
        return
    for i, j in pairwise(places):
        if text[i] == text[j]:
            continue
        swapped = text[:i] + text[j] + text[i + 1 : j] + text[i] + text[j + 1 :]
        try:
            value = _exact(parse_number(swapped, role.name))
        except ReadingError:
            continue
        written = shown(value, instrument.readability)
        if written is not None and value >= 0:
            yield Suspect(SlipKind.TRANSPOSED, ((role.name, written),), f"digits of {role.name}")
