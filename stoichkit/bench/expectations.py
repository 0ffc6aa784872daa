"""What each candidate would make the instruments show, and how far the candidates lie apart.

Also what to do besides reading: drying, waiting, cooling, and when a mass counts as constant.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from ..experiments.parts import Trial
from ..experiments.record import Experiment
from ..measurement.base import PRACTICE, AmountModel, Instrument, show
from ..measurement.weighing import constant_mass_rule
from ..planning.plan import Plan
from ..uncertainty.readings import ErrorPool
from ..uncertainty.sources import nominal, standard_uncertainty
from .datasheet import sheet_columns
from .recipes import three_digits, typed
from .supply import Check, Reagent

_FEW_STEPS = 20
_BEAKERS_ML = (50, 100, 150, 250, 400, 600, 1000)


@dataclass(frozen=True, slots=True)
class Change:
    """A difference that is read, with the step of its instrument.

    Attributes
    ----------
    what : str
        The reading or readings it follows from.
    size : float
        In ``unit``.
    unit : str
    step : float
        Step of the scale or display, in ``unit``; 0 for a pipette, on which nothing is read.
    """

    what: str
    size: float
    unit: str
    step: float

    @property
    def steps(self) -> float:
        """The change in steps of the scale or display; infinite for a pipette."""
        return self.size / self.step if self.step else math.inf

    @property
    def text(self) -> str:
        """Size as the instrument shows it, with its unit."""
        size = typed(self.size, self.step).text if self.step else show(self.size)
        return f"{size} {self.unit}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Expectation:
    """What one trial would show if one candidate were true.

    Attributes
    ----------
    candidate : str
    ratio : float
        n(produced) / n(consumed).
    consumed, produced : Change
        The two differences that are read; by the first route, where there are several.
    further : tuple of Change
        Those read by other routes.
    product_mass_g : float or None
        Mass of the product, where the product is weighed or a gas.
    readings : tuple of (str, str)
        Name of each reading and what its instrument would show, in bench order.
    nearest : str
        The other candidate nearest to it; "" if it is the only one.
    apart_steps : float
        Difference of the produced change from that of the nearest candidate, in steps.
    apart_uncertainties : float
        Distance from the nearest candidate in standard uncertainties of one trial, at the worst
        of what may be recovered.
    """

    candidate: str
    ratio: float
    consumed: Change
    produced: Change
    product_mass_g: float | None
    readings: tuple[tuple[str, str], ...]
    nearest: str
    apart_steps: float
    apart_uncertainties: float
    further: tuple[Change, ...] = ()


def expectations_of(plan: Plan) -> tuple[Expectation, ...]:
    """Return what one trial would show for each candidate, in order.

    Vessels, room temperature and the like are those of the record's first trial.
    """
    experiment = plan.experiment
    names = [c.name for c in experiment.candidates]
    values = {name: plan.expected_readings(name, fixed=True) for name in names}
    columns = sheet_columns(experiment)
    produced = {n: _change(experiment, experiment.produced, v) for n, v in values.items()}
    ratios = {c.name: float(c.ratio) for c in experiment.candidates}
    found = []
    for name in names:
        others = [n for n in names if n != name]
        nearest = min(others, key=lambda n, me=name: abs(ratios[n] - ratios[me]), default="")  # type: ignore[misc]
        found.append(
            Expectation(
                candidate=name,
                ratio=ratios[name],
                consumed=_change(experiment, experiment.consumed, values[name]),
                produced=produced[name],
                product_mass_g=experiment.produced.expected_mass_g(
                    ratios[name] * plan.consumed_mol
                ),
                readings=tuple(
                    (c.name, f"{typed(values[name][c.name], c.readability).text} {c.unit}")
                    for c in columns
                    if c.name in values[name]
                ),
                nearest=nearest,
                apart_steps=abs(produced[nearest].steps - produced[name].steps) if nearest else 0.0,
                apart_uncertainties=_apart(plan, values[name], ratios[name], ratios[nearest])
                if nearest
                else 0.0,
                further=tuple(
                    _change(experiment, way, values[name])
                    for model in (experiment.consumed, experiment.produced)
                    for way in model.ways[1:]
                ),
            )
        )
    return tuple(found)


def _change(experiment: Experiment, model: AmountModel, values: dict[str, float]) -> Change:
    """Return the difference that the amount follows from, or the volume that a pipette takes."""
    span = model.span
    instrument = experiment.instruments[span.instrument]
    if not span.high:
        return Change(span.what, instrument.capacity or 0.0, instrument.unit, 0.0)
    size = values[span.high] - (values[span.low] if span.low else 0.0)
    return Change(span.what, size, instrument.unit, instrument.readability)


def _apart(plan: Plan, values: dict[str, float], own: float, other: float) -> float:
    """Return how far another ratio is from expected readings, in standard uncertainties.

    What may be recovered brings them nearer: the least distance between what both allow counts.
    """
    experiment = plan.experiment
    low, high = experiment.recovery
    between = max(low * max(own, other) - high * min(own, other), 0.0)
    shared = experiment.shared_readings
    read = {n: v for n, v in values.items() if n not in shared}
    trial = Trial("1", {n: (f"{v:.15g}",) * experiment.repeats(n) for n, v in read.items()})
    ((consumed, produced),) = experiment.with_trials([trial]).amounts(ErrorPool())
    uncertainty = standard_uncertainty(produced - other * consumed)
    distance = between * nominal(consumed)
    return distance / uncertainty if uncertainty else float("inf")


def size_checks(expected: Sequence[Expectation]) -> Iterator[Check]:
    """Yield whether the changes to be read are many steps of their instruments."""
    for changes in zip(*((e.consumed, e.produced, *e.further) for e in expected), strict=True):
        smallest = min(changes, key=lambda change: change.steps)
        if not smallest.step:
            continue
        good = smallest.steps >= _FEW_STEPS
        steps = f"{three_digits(smallest.steps)} steps of {show(smallest.step)} {smallest.unit}"
        advice = (
            f": fewer than the {_FEW_STEPS} that keep rounding small ({PRACTICE}). Let more react, "
            "or use a finer instrument."
        )
        said = f"At least {smallest.text}, {steps}{'.' if good else advice}"
        yield Check(f"size of {smallest.what}", good, said)


def capacity_checks(experiment: Experiment, expected: Sequence[Expectation]) -> Iterator[Check]:
    """Yield whether the largest expected reading of each instrument is within its capacity."""
    largest: dict[str, tuple[float, str, str]] = {}
    for role in experiment.roles():
        if not (role.needs_reading and experiment.instruments[role.instrument].capacity_matters):
            continue
        for expectation in expected:
            text = dict(expectation.readings).get(role.name)
            value = float(text.split()[0]) if text else 0.0
            best = largest.get(role.instrument)
            if best is None or value > best[0]:
                largest[role.instrument] = (value, role.name, expectation.candidate)
    for name, (value, reading, candidate) in largest.items():
        instrument = experiment.instruments[name]
        yield _capacity(name, instrument, value, reading, candidate)
        if instrument.least_share:
            yield _share(name, instrument, expected)


def _capacity(
    name: str, instrument: Instrument, value: float, reading: str, candidate: str
) -> Check:
    unit, limit = instrument.unit, instrument.capacity
    found = f"The largest reading expected is “{reading}”, {show(value)} {unit}"
    if limit is None:
        said = f"{found}; the capacity of this {instrument.noun} is not stated: look it up."
        return Check(name, None, said)
    if value <= limit:
        return Check(name, True, f"{found}, within {show(limit)} {unit}.")
    beyond = f"{found} if {candidate} is true, beyond its capacity of {show(limit)} {unit}."
    return Check(name, False, f"{beyond} {instrument.when_full}, or use a larger one.")


def _share(name: str, instrument: Instrument, expected: Sequence[Expectation]) -> Check:
    unit = instrument.unit
    sizes = [e.produced.size for e in expected if e.produced.unit == unit]
    sizes = sizes or [e.consumed.size for e in expected if e.consumed.unit == unit]
    sizes = sizes or [c.size for e in expected for c in e.further if c.unit == unit]
    share = min(sizes, default=0.0) / (instrument.capacity or math.inf)
    good = share >= instrument.least_share
    advice = "." if good else f": let more react, or use a smaller {instrument.noun}."
    said = f"The smallest volume expected is {100 * share:.0f} % of its capacity"
    return Check(f"{name}: volume used", good, f"{said}; {instrument.share_rule}{advice}")


def care_of(experiment: Experiment) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return what is dried and when its mass counts as constant, and where to wait for what."""
    cares = (
        experiment.consumed.care(experiment.setting("consumed")),
        experiment.produced.care(experiment.setting("produced")),
    )
    balances = dict.fromkeys(care.balance for care in cares if care.balance)
    rules = [
        (f"{name}: " if len(balances) > 1 else "")
        + constant_mass_rule(experiment.instruments[name])
        for name in balances
    ]
    drying = dict.fromkeys((*cares[0].drying, *cares[1].drying, *rules))
    return tuple(drying), tuple(dict.fromkeys((*cares[0].waiting, *cares[1].waiting)))


def vessel_checks(reagents: tuple[Reagent, ...]) -> Iterator[Check]:
    """Yield which beaker holds the solutions of one trial, and whether each can be made up."""
    volumes = [r.volume_mL for r in reagents if r.volume_mL is not None]
    if volumes:
        total = sum(volumes)
        size = next((size for size in _BEAKERS_ML if total <= 2 / 3 * size), None)
        found = (
            f"No usual beaker up to {_BEAKERS_ML[-1]} mL holds this: use a stronger solution, or "
            "let less react."
            if size is None
            else f"A {size} mL beaker is filled to at most two thirds by them ({PRACTICE})."
        )
        said = f"Solutions of one trial: {total:.3g} mL. {found}"
        yield Check("vessel", size is not None, said)
    for reagent in reagents:
        made = reagent.preparation
        if made is None:
            continue
        off = made.relative_uncertainty
        yield Check(
            f"glassware for {reagent.name}",
            True,
            f"{made.glassware}; the concentration is then known to {100 * off:.2g} %, limited by "
            f"{made.limited_by}.",
        )
