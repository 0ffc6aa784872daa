"""What to do besides weighing: drying, waiting, cooling, and when a mass counts as constant."""

from __future__ import annotations

from collections.abc import Iterator

from .amounts import (
    AmountModel,
    Charge,
    GasVolume,
    MassByDifference,
    Precipitate,
    SolutionVolume,
    constant_mass,
)
from .balance import Balance
from .bench_parts import Check, Reagent, loses_mass
from .experiment import Experiment
from .formula import parse_formula
from .graduated import Burette
from .instrument_base import show
from .readings import Reading

__all__ = ["constant_mass_rule", "drying_steps", "vessel_checks", "waiting_steps"]

_BEAKERS_ML = (50, 100, 150, 250, 400, 600, 1000)
_PRACTICE = "common practice, no source"


def constant_mass_rule(balance: Balance) -> str:
    """Say when a mass counts as constant on a balance.

    Parameters
    ----------
    balance : Balance

    Source
    ------
    The limit of :func:`stoichkit.amounts.constant_mass`.

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

    Parameters
    ----------
    experiment : Experiment

    Returns
    -------
    tuple of str
        Empty when nothing is weighed.

    Examples
    --------
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

    Parameters
    ----------
    experiment : Experiment

    Examples
    --------
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

    Parameters
    ----------
    reagents : tuple of Reagent

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
