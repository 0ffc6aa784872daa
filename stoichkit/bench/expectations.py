"""What instruments will show; drying and waiting.

What each candidate would make the instruments show, and how far the candidates lie apart.

What to do besides weighing: drying, waiting, cooling, and when a mass counts as constant.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from ..chemistry.elements import molar_mass_value
from ..chemistry.formula import parse_formula
from ..experiments.parts import Trial
from ..experiments.record import Experiment
from ..measurement.base import AmountModel, Instrument, show
from ..measurement.concentration import SolutionVolume
from ..measurement.displays import Balance
from ..measurement.gas_and_charge import Charge, GasVolume
from ..measurement.glassware import Burette
from ..measurement.registry import main_reading
from ..measurement.weighing import MassByDifference, Precipitate, constant_mass
from ..planning.plan import Plan
from ..uncertainty.readings import ErrorPool, Reading
from ..uncertainty.sources import nominal, standard_uncertainty
from .datasheet import Column, sheet_columns
from .recipes import three_digits, typed
from .supply import Check, Reagent, loses_mass

__all__ = [
    "Change",
    "Expectation",
    "capacity_checks",
    "constant_mass_rule",
    "drying_steps",
    "expectations_of",
    "record_columns",
    "size_checks",
    "vessel_checks",
    "waiting_steps",
]

_FEW_STEPS = 20
_LEAST_BURETTE_SHARE = 0.3


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
        """Size as the instrument shows it, with its unit.

        >>> Change("wire before − wire after", 0.1127, "g", 0.01).text
        '0.11 g'
        """
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
        The two differences that are read.
    product_mass_g : float or None
        Mass of the product, where the product is weighed or a gas.
    readings : tuple of (str, str)
        Name of each reading and what its instrument would show, in bench order.
    nearest : str
        The other candidate nearest to it; "" if it is the only one.
    apart_steps : float
        Difference of the produced change from that of the nearest candidate, in steps.
    apart_uncertainties : float
        Distance from the nearest candidate in standard uncertainties of one trial.
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


def expectations_of(plan: Plan) -> tuple[Expectation, ...]:
    """Return what one trial would show for each candidate, in order.

    Vessels, room temperature and the like are those of the record's first trial.
    >>> from stoichkit import experiments
    >>> lab = experiments.load("copper-silver")
    >>> for found in expectations_of(Plan(experiment=lab, consumed_mol=0.002)):
    ...     print(found.candidate, found.produced.text, f"{found.produced.steps:.0f} steps")
    copper(I) 0.22 g 22 steps
    copper(II) 0.43 g 43 steps
    """
    experiment = plan.experiment
    names = [c.name for c in experiment.candidates]
    values = {name: _expected(plan, name) for name in names}
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
                product_mass_g=_mass_g(experiment.produced, ratios[name] * plan.consumed_mol),
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
            )
        )
    return tuple(found)


def _expected(plan: Plan, truth: str) -> dict[str, float]:
    """Return the unrounded readings of one trial, also where a pipette fixes the amount."""
    experiment = plan.experiment
    if not getattr(experiment.consumed, "pipette", ""):
        return plan.expected_readings(truth)
    pool, trial, produced = ErrorPool(), experiment.trials[0], experiment.produced
    values = {k: nominal(v) for k, v in experiment.quantities(trial, pool).items()}
    ratio = next(float(c.ratio) for c in experiment.candidates if c.name == truth)
    low, high = experiment.recovery
    wanted = ratio * plan.consumed_mol * 2 / (1 / low + 1 / high)
    name = main_reading(produced)
    zero = nominal(produced.amount(values, pool))
    start = values[name]
    values[name] = start + 1.0  # the amount is linear in this reading
    slope = nominal(produced.amount(values, pool)) - zero
    values[name] = start + (wanted - zero) / slope
    named = {*trial.readings, *experiment.shared_readings}
    return {k: v for k, v in values.items() if k in named}


def _mass_g(model: AmountModel, amount_mol: float) -> float | None:
    if isinstance(model, MassByDifference | GasVolume):
        return amount_mol * molar_mass_value(model.species)
    if isinstance(model, Precipitate):
        return amount_mol / float(model.factor) * molar_mass_value(model.precipitate)
    return None


def _change(experiment: Experiment, model: AmountModel, values: dict[str, float]) -> Change:
    """Return the difference that the amount follows from."""
    pipette = getattr(model, "pipette", "")
    if pipette:
        capacity = experiment.instruments[pipette].capacity or 0.0
        return Change(f"volume of {pipette}", capacity, "mL", 0.0)
    high, low = _pair(model)
    name = _instrument_name(model)
    instrument = experiment.instruments[name]
    what = f"{high} − {low}" if low else high
    size = values[high] - (values[low] if low else 0.0)
    return Change(what, size, instrument.unit, instrument.readability)


def _pair(model: AmountModel) -> tuple[str, str]:
    if isinstance(model, MassByDifference | Precipitate):
        return model.heavier, model.lighter
    if isinstance(model, Charge):
        return model.time, ""
    assert isinstance(model, GasVolume | SolutionVolume)
    return model.final, model.initial


def _instrument_name(model: AmountModel) -> str:
    if isinstance(model, Charge):
        return model.timer
    assert isinstance(model, MassByDifference | Precipitate | GasVolume | SolutionVolume)
    return model.instrument


def _apart(plan: Plan, values: dict[str, float], own: float, other: float) -> float:
    """Return how far another ratio is from expected readings, in standard uncertainties."""
    experiment = plan.experiment
    shared = experiment.shared_readings
    trial = Trial("1", {n: (f"{v:.15g}",) for n, v in values.items() if n not in shared})
    ((consumed, produced),) = experiment.with_trials([trial]).amounts(ErrorPool())
    uncertainty = standard_uncertainty(produced - other * consumed)
    distance = abs(own - other) * nominal(consumed)
    return distance / uncertainty if uncertainty else float("inf")


def record_columns(experiment: Experiment) -> tuple[Column, ...]:
    """Return what is to be recorded; the same columns as the blank data sheet.

    >>> from stoichkit import experiments
    >>> record_columns(experiments.load("magnesium-gas"))[0].name
    'room temperature'
    """
    return sheet_columns(experiment)


def size_checks(experiment: Experiment, expected: Sequence[Expectation]) -> Iterator[Check]:
    """Yield whether the changes to be read are many steps of their instruments.

    >>> from stoichkit import experiments
    >>> lab = experiments.load("copper-silver-coarse")
    >>> expected = expectations_of(Plan(experiment=lab, consumed_mol=0.002))
    >>> [check.passed for check in size_checks(lab, expected)]
    [False, False]
    """
    del experiment
    for side in ("consumed", "produced"):
        changes = [getattr(e, side) for e in expected]
        smallest = min(changes, key=lambda change: change.steps)
        if not smallest.step:
            continue
        good = smallest.steps >= _FEW_STEPS
        yield Check(
            f"size of {smallest.what}",
            good,
            f"At least {smallest.text}, {three_digits(smallest.steps)} steps of "
            f"{show(smallest.step)} {smallest.unit}"
            + (
                "."
                if good
                else f": fewer than the {_FEW_STEPS} that keep rounding small (common practice, "
                "no source). Let more react, or use a finer instrument."
            ),
        )


def capacity_checks(experiment: Experiment, expected: Sequence[Expectation]) -> Iterator[Check]:
    """Yield whether the largest expected reading of each instrument is within its capacity.
    >>> from stoichkit import experiments
    >>> lab = experiments.load("magnesium-gas")
    >>> expected = expectations_of(Plan(experiment=lab, consumed_mol=0.0015))
    >>> for check in capacity_checks(lab, expected):
    ...     print(check.subject, check.mark)
    balance not known
    gas tube LOOK
    """
    largest: dict[str, tuple[float, str, str]] = {}
    for role in experiment.roles():
        if not role.needs_reading or role.unit not in ("g", "mL"):
            continue
        for expectation in expected:
            text = dict(expectation.readings).get(role.name)
            value = float(text.split()[0]) if text else 0.0
            best = largest.get(role.instrument, (-1.0, "", ""))
            if value > best[0]:
                largest[role.instrument] = (value, role.name, expectation.candidate)
    for name, (value, reading, candidate) in largest.items():
        yield _capacity(name, experiment.instruments[name], value, reading, candidate)
        burette = experiment.instruments[name]
        if isinstance(burette, Burette):
            yield _burette_share(name, burette, expected)


def _capacity(
    name: str, instrument: Instrument, value: float, reading: str, candidate: str
) -> Check:
    unit, limit = instrument.unit, instrument.capacity
    found = f"The largest reading expected is “{reading}”, {show(value)} {unit}"
    if limit is None:
        return Check(
            name,
            None,
            f"{found}; the capacity of this {instrument.noun} is not stated: look it up.",
        )
    if value <= limit:
        return Check(name, True, f"{found}, within {show(limit)} {unit}.")
    advice = "Let less react" if isinstance(instrument, Balance) else "Let less react, or refill"
    return Check(
        name,
        False,
        f"{found} if {candidate} is true, beyond its capacity of {show(limit)} {unit}. {advice}, "
        "or use a larger one.",
    )


def _burette_share(name: str, burette: Burette, expected: Sequence[Expectation]) -> Check:
    volumes = [e.produced.size for e in expected if e.produced.unit == "mL"]
    volumes = volumes or [e.consumed.size for e in expected if e.consumed.unit == "mL"]
    share = min(volumes, default=0.0) / burette.capacity_mL
    rule = "at least 30 % of the burette is to be used (USP General Chapter 31)"
    good = share >= _LEAST_BURETTE_SHARE
    return Check(
        f"{name}: volume used",
        good,
        f"The smallest volume expected is {100 * share:.0f} % of its capacity; {rule}"
        + ("." if good else ": let more react, or use a smaller burette."),
    )


_BEAKERS_ML = (50, 100, 150, 250, 400, 600, 1000)
_PRACTICE = "common practice, no source"


def constant_mass_rule(balance: Balance) -> str:
    """Say when a mass counts as constant on a balance.

    Source
    ------
    The limit of :func:`stoichkit.measurement.weighing.constant_mass`.

    Examples
    --------
    >>> constant_mass_rule(Balance(readability_g=0.01, repeatability_g=0.005))
    'The mass counts as constant when two weighings in a row differ by no more than 0.01 g
    (1 step of 0.01 g), ...'
    """
    same = Reading(0.0, "0", 0)
    limit = constant_mass([same, same], balance).limit_g
    step = balance.readability_g
    steps = int(limit / step + 1e-9)
    return (
        f"The mass counts as constant when two weighings in a row differ by no more than "
        f"{show(steps * step)} g ({steps} step{'s' if steps > 1 else ''} of {show(step)} g), which "
        f"is what this balance cannot tell from no change ({limit:.2g} g)."
    )


def _models(experiment: Experiment) -> tuple[AmountModel, AmountModel]:
    return experiment.consumed, experiment.produced


def drying_steps(experiment: Experiment) -> tuple[str, ...]:
    """Return what is dried or heated, how long, and when its mass counts as constant.
    >>> from stoichkit import experiments
    >>> print(drying_steps(experiments.load("hydrate-heating"))[0][:59])
    “crucible + residue”: heat it, first for about 10 minutes,
    """
    said: list[str] = []
    balances: dict[str, Balance] = {}
    for model in _models(experiment):
        if isinstance(model, MassByDifference | Precipitate):
            balance = experiment.instruments[model.instrument]
            assert isinstance(balance, Balance)
            said += _drying(experiment, model)
            lost = isinstance(model, MassByDifference) and loses_mass(model, experiment)
            dried = model is experiment.produced and model.lighter
            if model.repeated or lost or dried:
                balances[model.instrument] = balance
    for name, balance in balances.items():
        prefix = f"{name}: " if len(balances) > 1 else ""
        said.append(prefix + constant_mass_rule(balance))
    return tuple(dict.fromkeys(said)) if said else ()


def _drying(experiment: Experiment, model: MassByDifference | Precipitate) -> Iterator[str]:
    solid = model.precipitate if isinstance(model, Precipitate) else model.species
    shown = parse_formula(solid).unicode()
    for name in model.repeated:
        yield (
            f"“{name}”: heat it, first for about 10 minutes, then 5 minutes at a time ({_PRACTICE})"
            ", cool and weigh after each heating, until the mass is constant."
        )
    if model.repeated:
        return
    plated = isinstance(experiment.consumed, Charge) and model is experiment.produced
    lost = isinstance(model, MassByDifference) and loses_mass(model, experiment)
    if plated or lost:
        yield (
            f"“{model.lighter if lost else model.heavier}”: rinse it with water without rubbing, "
            "then, where the notes say so, with a little volatile solvent away from flames; dry "
            f"it for 5 to 10 minutes in air ({_PRACTICE}) and weigh, and weigh again after 5 "
            "minutes: it must not lose mass."
        )
    elif model is experiment.produced and model.lighter:
        yield (
            f"“{model.heavier}”: filter where there is a filter, wash with water until nothing "
            f"dissolved is left in the {shown}, dry it with what it is weighed on: in an oven at "
            "about 105 °C for an hour and then 15 minutes at a time, or overnight in air "
            f"({_PRACTICE}); let it cool, weigh, and go on until the mass is constant."
        )
        yield (
            f"“{model.lighter}”: bring what is weighed empty to constant mass in the same way; a "
            "filter paper holds a few per cent of moisture."
        )
    else:
        yield f"“{model.heavier}”: weigh it dry and clean; {shown} that is damp weighs too much."


def waiting_steps(experiment: Experiment) -> tuple[str, ...]:
    """Return where to wait, and for what, before a reading is taken.
    >>> from stoichkit import experiments
    >>> len(waiting_steps(experiments.load("magnesium-gas")))
    3
    """
    said: dict[str, None] = {}
    for model in _models(experiment):
        said.update(dict.fromkeys(_waiting(experiment, model)))
    return tuple(said)


def _waiting(experiment: Experiment, model: AmountModel) -> Iterator[str]:
    if isinstance(model, MassByDifference | Precipitate):
        if model.repeated:
            yield (
                "Let a hot vessel cool to room temperature in a desiccator, 15 to 20 minutes for "
                f"a crucible ({_PRACTICE}): warm air around it makes it seem lighter."
            )
        yield "Wait until the display of the balance is still; close its doors or shield it."
    elif isinstance(model, GasVolume):
        yield (
            "Wait until no more gas forms and the gas has room temperature, about 5 minutes "
            f"({_PRACTICE})."
        )
        if model.over_water:
            yield (
                "Bring the water inside and outside the tube to one level before reading, so that "
                "the pressure inside is the one outside."
            )
    elif isinstance(model, SolutionVolume):
        glass = experiment.instruments[model.pipette or model.instrument]
        if isinstance(glass, Burette):
            yield (
                "Burette: let it run no faster than 0.5 mL/s (USP General Chapter 31), and wait "
                f"30 seconds before each reading ({_PRACTICE})."
            )
            yield (
                "Titrate until the colour change stays for 30 seconds "
                f"({_PRACTICE}); do one quick run first to find the volume."
            )
        else:
            yield "Let the glassware drain fully and read at eye level."
    elif isinstance(model, Charge):
        yield (
            "Start the timer and the current together; write the current down every few minutes, "
            "and stop both together."
        )


def vessel_checks(reagents: tuple[Reagent, ...]) -> Iterator[Check]:
    """Yield which beaker holds the solutions of one trial, and whether each can be made up.

    Notes
    -----
    A beaker is filled to two thirds at most; common practice, no source.

    Examples
    --------
    >>> bath = Reagent(name="bath", formula="CuSO4", provides="Cu²⁺", role="in excess",
    ...                needed_mmol=(1, 1), volume_mL=50.0, measured_with="", for_class="")
    >>> next(vessel_checks((bath,))).text
    'Solutions of one trial: 50 mL. A 100 mL beaker is filled to at most two thirds by them...'
    """
    volumes = [r.volume_mL for r in reagents if r.volume_mL is not None]
    if volumes:
        total = sum(volumes)
        fitting = [size for size in _BEAKERS_ML if total <= 2 / 3 * size]
        said = f"Solutions of one trial: {total:.3g} mL. "
        if fitting:
            yield Check(
                "vessel",
                True,
                f"{said}A {fitting[0]} mL beaker is filled to at most two thirds by them "
                f"({_PRACTICE}).",
            )
        else:
            yield Check(
                "vessel",
                False,
                f"{said}No usual beaker up to {_BEAKERS_ML[-1]} mL holds this: use a stronger "
                "solution, or let less react.",
            )
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
