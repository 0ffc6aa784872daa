"""What each reading of an experiment record is, and whether all of them are there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache

from .amounts import (
    AmountModel,
    PreparedSolution,
    Role,
    SolutionVolume,
    constant_mass,
    vessel_groups,
)
from .balance import Balance
from .errors import ExperimentError
from .experiment_parts import Trial, field_path, nearest
from .instruments import Instrument
from .readings import ErrorPool, parse_number
from .uncertain import Number

__all__ = [
    "assumptions_of",
    "check_readings",
    "merged_roles",
    "questions_about",
    "read_quantity",
    "roles_of",
]


@lru_cache(maxsize=64)
def roles_of(
    consumed: AmountModel, produced: AmountModel, instruments: Mapping[str, Instrument]
) -> tuple[Role, ...]:
    """Return the roles of a record; kept, since every assessment asks for them several times."""
    return merged_roles({"consumed": consumed, "produced": produced}, instruments)


def merged_roles(
    models: Mapping[str, AmountModel], instruments: Mapping[str, Instrument]
) -> tuple[Role, ...]:
    """Return the roles of both amounts without repeats, in the order the models name them.

    Weighings that the two amounts have in common join their vessels; the final reading of one
    delivery may be the initial one of the next.

    Parameters
    ----------
    models : mapping
        ``"consumed"`` and ``"produced"`` to their models.
    instruments : mapping
        Instruments by name.

    Raises
    ------
    ExperimentError
        If an instrument is not described or does not fit, one reading has two instruments, or
        two solutions have one name.

    Examples
    --------
    >>> from stoichkit.amounts import MassByDifference
    >>> salt = MassByDifference(species="MgSO4", heavier="residue", lighter="empty")
    >>> water = MassByDifference(species="H2O", heavier="crystals", lighter="residue")
    >>> roles = merged_roles({"consumed": salt, "produced": water}, {"balance": Balance()})
    >>> [(role.name, role.vessel_group) for role in roles]
    [('residue', 'empty'), ('empty', 'empty'), ('crystals', 'empty')]
    """
    groups = vessel_groups(models.values())
    found: dict[str, Role] = {}
    for side, model in models.items():
        for role in model.roles():
            _check_instrument(role, instruments, side)
            before = found.setdefault(role.name, role)
            if (before.instrument, before.unit) != (role.instrument, role.unit):
                raise ExperimentError(
                    f"The reading “{role.name}” is said to come from two instruments.",
                    field=side,
                    given=f"{before.instrument}, {role.instrument}",
                    fix="Name one of them, or give the two readings different names.",
                )
            found[role.name] = replace(
                before,
                vessel_group=groups.get(role.name, ""),
                repeated=before.repeated or role.repeated,
                optional=before.optional and role.optional,
                once=before.once or role.once,
                delivery=role.delivery if before.delivery is None else before.delivery,
            )
    _check_solutions(models)
    return tuple(found.values())


def _check_instrument(role: Role, instruments: Mapping[str, Instrument], side: str) -> None:
    instrument = instruments.get(role.instrument)
    if instrument is None:
        raise ExperimentError(
            f"The {role.quantity} “{role.name}” is read on an instrument that is not described.",
            field=side,
            given=role.instrument,
            allowed=", ".join(instruments) or "a table for each instrument",
            fix=nearest(role.instrument, instruments),
        )
    if instrument.unit != role.unit or instrument.needs_reading != role.needs_reading:
        raise ExperimentError(
            f"The {role.quantity} “{role.name}” cannot come from a {instrument.noun}.",
            field=side,
            given=role.instrument,
            allowed=f"an instrument for {role.quantity} in {role.unit}, "
            + ("with a scale or display" if role.needs_reading else "with one mark"),
        )


def _check_solutions(models: Mapping[str, AmountModel]) -> None:
    made = {
        side: model.concentration
        for side, model in models.items()
        if isinstance(model, SolutionVolume) and isinstance(model.concentration, PreparedSolution)
    }
    if len(made) == 2 and len(set(made.values())) == 2:
        names = [one.name for one in made.values()]
        if names[0] == names[1]:
            raise ExperimentError(
                "Two different solutions have the same name.",
                field="produced.concentration.name",
                given=names[0],
                fix="Give each solution a name of its own.",
            )


def check_readings(
    roles: Sequence[Role], shared: Mapping[str, tuple[str, ...]], trials: Sequence[Trial]
) -> None:
    """Raise ExperimentError unless every reading has a role and every role its reading.

    >>> weighing = Role(name="dish", instrument="balance", quantity="mass", unit="g")
    >>> check_readings([weighing], {}, [Trial("1", {"dosh": "1.00"})])
    Traceback (most recent call last):
    stoichkit.errors.ExperimentError: trials[1].dosh: No amount uses a reading of this name.
    Given: 1.00. Allowed: dish. Did you mean “dish”?
    """
    by_name = {role.name: role for role in roles}
    for name, texts in shared.items():
        _check_reading(by_name, name, texts, field_path("shared", name))
    seen: set[str] = set()
    for index, trial in enumerate(trials, start=1):
        if trial.name in seen:
            raise ExperimentError(
                "Two trials have the same name.",
                field=field_path("trials", index, "name"),
                given=trial.name,
                fix="Give each trial a name of its own.",
            )
        seen.add(trial.name)
        for name, texts in trial.readings.items():
            place = field_path("trials", index, name)
            _check_reading(by_name, name, texts, place)
            if name in shared:
                raise ExperimentError(
                    f"The reading “{name}” is given for all trials already.",
                    field=place,
                    given=", ".join(texts),
                    fix="Give it once: among the shared readings, or in each trial.",
                )
            if by_name[name].once:
                raise ExperimentError(
                    f"The reading “{name}” is made once for all trials.",
                    field=place,
                    given=", ".join(texts),
                    fix="Move it to the shared readings.",
                )
        for role in roles:
            _check_given(role, trial, index, shared, by_name)


def _check_reading(
    roles: Mapping[str, Role], name: str, texts: tuple[str, ...], place: str
) -> None:
    role = roles.get(name)
    known = [one.name for one in roles.values() if one.needs_reading]
    if role is None or not role.needs_reading:
        raise ExperimentError(
            "No amount uses a reading of this name."
            if role is None
            else "Nothing is read on glassware with one mark.",
            field=place,
            given=", ".join(texts),
            allowed=", ".join(known),
            fix=nearest(name, known),
        )
    if len(texts) > 1 and not role.repeated:
        raise ExperimentError(
            f"The reading “{name}” is made once, but {len(texts)} numbers are given.",
            field=place,
            given=", ".join(texts),
            fix=f"Keep one of them, or add “{name}” to the list “repeated” of its amount.",
        )


def _check_given(
    role: Role,
    trial: Trial,
    index: int,
    shared: Mapping[str, tuple[str, ...]],
    roles: Mapping[str, Role],
) -> None:
    if not role.needs_reading or role.optional or role.name in shared:
        return
    if role.name not in trial.readings:
        where = ("shared",) if role.once else ("trials", index)
        owner = "of all trials" if role.once else f"of trial {trial.name}"
        raise ExperimentError(
            f"The reading “{role.name}” {owner} is missing.",
            field=field_path(*where, role.name),
            allowed=f"{role.quantity} in {role.unit}, as typed",
            fix=nearest(role.name, [name for name in trial.readings if name not in roles]),
        )


def read_quantity(
    role: Role,
    texts: Sequence[str],
    owner: str,
    instruments: Mapping[str, Instrument],
    pool: ErrorPool,
) -> Number:
    """Return one reading, or one filling of glassware, with its error sources.

    Parameters
    ----------
    role : Role
    texts : sequence of str
        What was typed; the last number counts; empty for glassware with one mark.
    owner : str
        Name of the trial; "" for what serves all trials.
    instruments : mapping
        Instruments by name.
    pool : ErrorPool

    Examples
    --------
    >>> from stoichkit.uncertain import budget
    >>> weighing = Role(name="dish", instrument="balance", quantity="mass", unit="g")
    >>> balances = {"balance": Balance(readability_g=0.01)}
    >>> mass_g = read_quantity(weighing, ["30.10"], "2", balances, ErrorPool())
    >>> [line.label for line in budget(mass_g)]
    ['repeatability of dish, trial 2', 'rounding of dish, trial 2']
    """
    suffix = f", trial {owner}" if owner else ""
    return instruments[role.instrument].quantity(
        parse_number(texts[-1], role.name) if texts else None,
        name=role.instrument,
        label=f"{role.name}{suffix}",
        vessel=f"{role.vessel_group}{suffix}" if role.vessel_group else "",
        pool=pool,
        delivery=role.delivery,
    )


def assumptions_of(roles: Sequence[Role], instruments: Mapping[str, Instrument]) -> tuple[str, ...]:
    """Return what the instruments in use assume, each sentence once, with its instrument's name.

    >>> weighing = Role(name="dish", instrument="big one", quantity="mass", unit="g")
    >>> assumptions_of([weighing], {"big one": Balance(readability_g=0.1)})
    ('big one: The repeatability of the balance was not stated; 0.05 g is assumed (...).',)
    """
    found: dict[str, None] = {}
    for name in dict.fromkeys(role.instrument for role in roles):
        instrument = instruments[name]
        prefix = "" if name == instrument.noun else f"{name}: "
        found.update(dict.fromkeys(prefix + text for text in instrument.assumptions()))
    return tuple(found)


def questions_about(role: Role, texts: Sequence[str], instrument: Instrument) -> list[str]:
    """Return what looks odd about the numbers typed for one reading, and unfinished heating.

    >>> heated = Role(
    ...     name="residue", instrument="balance", quantity="mass", unit="g", repeated=True)
    >>> questions_about(heated, ["20.52"], Balance(readability_g=0.01))
    ['Only one weighing was made: was it heated, cooled and weighed again to constant mass?']
    """
    readings = [parse_number(text, role.name) for text in texts]
    asked = [question for one in readings for question in instrument.check(one)]
    if role.repeated and isinstance(instrument, Balance):
        if len(readings) < 2:
            asked.append(
                "Only one weighing was made: was it heated, cooled and weighed again to "
                "constant mass?"
            )
        elif not (settled := constant_mass(readings, instrument)).reached:
            asked.append(settled.sentence)
    return asked
