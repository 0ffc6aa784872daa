"""What must hold in an experiment record, and what each of its readings is."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from typing import Any, TypeVar

from .._common import FrozenMap, nearest
from ..chemistry.candidates import Candidate, check_candidates
from ..chemistry.formula import parse_formula
from ..errors import ExperimentError, FormulaError, StoichkitError
from ..measurement.base import AmountModel, Instrument, Role
from ..measurement.displays import Balance
from ..measurement.registry import vessel_groups
from ..measurement.weighing import constant_mass, refuse_both
from ..uncertainty import entry
from ..uncertainty.readings import ErrorPool, Reading, mean_reading, parse_number
from ..uncertainty.sources import Number
from .candidate_spec import CandidateSpec
from .looks import Looks
from .parts import (
    Prior,
    Trial,
    Variation,
    check_name,
    check_text,
    field_path,
    frozen_readings,
    relocated,
)

MAX_CANDIDATES = 200
MIN_RECOVERY = 0.001
MAX_RECOVERY = 10.0
T = TypeVar("T")


def check_head(
    title: object, about: object, invented: object, models: tuple[object, object]
) -> None:
    """Raise ExperimentError unless the plain fields and the two amount models can be used.

    >>> check_head("", "", False, (None, None))
    Traceback (most recent call last):
    stoichkit.errors.ExperimentError: title: This text is empty. Allowed: at least one letter.
    """
    check_text(title, "title", required=True)
    if len(str(title).splitlines()) > 1:
        raise ExperimentError("A title is one line.", field="title", given=title)
    check_text(about, "about")
    entry.flag("invented", invented, error=ExperimentError)
    for side, model in zip(("consumed", "produced"), models, strict=True):
        if not isinstance(model, AmountModel):
            raise ExperimentError("This is not an amount model.", field=side, given=model)
        check_formulas(model, side)


def check_formulas(model: AmountModel, side: str) -> None:
    """Raise ExperimentError unless every formula of an amount model can be read.

    >>> from stoichkit.measurement.weighing import MassByDifference
    >>> check_formulas(MassByDifference(species="cu", heavier="wire"), "consumed")
    Traceback (most recent call last):
    stoichkit.errors.ExperimentError: consumed.species: ... Given: cu. ...
    """
    for name, formula in model.formulas().items():
        try:
            parse_formula(formula)
        except FormulaError as error:
            raise relocated(error, field=f"{side}.{name}") from error


def checked_recovery(
    value: object, *, error: type[StoichkitError] = ExperimentError
) -> tuple[float, float]:
    """Return the recovery allowance as two floats, least first.

    >>> checked_recovery([0.9, 1])
    (0.9, 1.0)
    """
    allowed = (
        f"least and largest fraction, {MIN_RECOVERY:g} <= least <= largest <= {MAX_RECOVERY:g}; "
        "[1.0, 1.0] for all of it"
    )
    limits: Any = {"allowed": allowed, "least": MIN_RECOVERY, "most": MAX_RECOVERY, "error": error}
    if isinstance(value, (tuple, list)) and [*map(type, value)] == [float, float]:
        low, high = value  # as records hold it: no array, and so no NumPy, is needed
        inside = low >= MIN_RECOVERY and high <= MAX_RECOVERY
    else:
        inside = False
    if not inside:
        low, high = entry.array("recovery", value, size=2, **limits).tolist()
    if low > high:
        raise entry.refusal(error, "recovery", "begins with the largest", value, allowed)
    return low, high


def checked_variation(
    value: Any, *, error: type[StoichkitError] = ExperimentError
) -> Variation | None:
    """Return the variation between trials if it is one, or None.

    >>> checked_variation(0.02)
    Traceback (most recent call last):
    stoichkit.errors.ExperimentError: variation: This is not a variation. Given: 0.02. ...
    """
    if value is not None and not isinstance(value, Variation):
        allowed = 'Variation(relative="1.5 %") or Variation(unknown=True)'
        raise entry.refusal(error, "variation", "is not a variation", value, allowed)
    return value


def checked_prior(value: Any, candidates: Iterable[Candidate]) -> Prior | None:
    """Return what is thought of the candidates before the readings, or None.

    >>> checked_prior(0.05, [])
    Traceback (most recent call last):
    stoichkit.errors.ExperimentError: prior: This is not a prior. Given: 0.05. ...
    """
    if value is not None and not isinstance(value, Prior):
        allowed = 'Prior({"copper(II)": 3}, none=0.05)'
        raise entry.refusal(ExperimentError, "prior", "is not a prior", value, allowed)
    if value is not None:
        value.shares(c.name for c in candidates)
    return value


def checked_looks(value: Any, *, error: type[StoichkitError] = ExperimentError) -> Looks | None:
    """Return how often the verdict is asked for if it says that, or None.

    >>> checked_looks(5)
    Traceback (most recent call last):
    stoichkit.errors.ExperimentError: looks: This is not a plan of looks. Given: 5. ...
    """
    if value is not None and not isinstance(value, Looks):
        allowed = "Looks(planned=5) or Looks(before=2)"
        raise entry.refusal(error, "looks", "is not a plan of looks", value, allowed)
    return value


def checked_coverage(value: object, *, error: type[StoichkitError] = ExperimentError) -> float:
    """Return the coverage probability as a float.

    >>> checked_coverage(0.99)
    0.99
    """
    return entry.number("coverage", value, least=0.5, most=0.9999, error=error)


def checked_items(values: Any, kind: type[T], field: str, least: int, most: int) -> tuple[T, ...]:
    """Return a list as a tuple after checking how many items it has and their type.

    >>> checked_items(["a", "b"], str, "notes", 0, 9)
    ('a', 'b')
    """
    items = entry.listed(field, values, error=ExperimentError)
    for index, item in enumerate(items, start=1):
        if not isinstance(item, kind):
            raise ExperimentError(
                f"This is not a {kind.__name__}.", field=field_path(field, index), given=item
            )
    if not least <= len(items) <= most:
        raise ExperimentError(
            f"There is no item in “{field}”." if not items else f"There are too many {field}.",
            field=field,
            given=len(items),
            allowed=f"{least} to {most}",
        )
    return items


def checked_instruments(values: Any) -> FrozenMap[str, Instrument]:
    """Return the instruments as a read-only mapping after checking names and types.

    >>> from stoichkit.measurement.displays import Timer
    >>> list(checked_instruments({"timer": Timer()}))
    ['timer']
    """
    if not isinstance(values, Mapping):
        raise ExperimentError(
            "The instruments are not a table.",
            field="instruments",
            given=values,
            allowed="name of each instrument and its description",
        )
    for name, instrument in values.items():
        check_name(name, "instruments", "an instrument")
        if not isinstance(instrument, Instrument):
            raise ExperimentError(
                "This is not an instrument.",
                field=field_path("instruments", name),
                given=instrument,
            )
    return FrozenMap(values)


def checked_shared(values: Any) -> FrozenMap[str, tuple[str, ...]]:
    """Return the readings that serve all trials, each as a tuple of typed texts.

    >>> checked_shared({"room temperature": "21,4"})["room temperature"]
    ('21,4',)
    """
    try:
        return frozen_readings(values, "all trials")
    except ExperimentError as error:
        raise relocated(error, field="shared") from error


def checked_candidates(
    values: Any, spec: CandidateSpec | None, consumed: str, produced: str
) -> tuple[tuple[Candidate, ...], CandidateSpec]:
    """Return the candidates and how they are written down, after checking that they fit.

    >>> from fractions import Fraction
    >>> one = Candidate("iron(II)", Fraction(1), consumed="Fe", produced="Ag")
    >>> checked_candidates([one], None, "Fe", "Cu")
    Traceback (most recent call last):
    stoichkit.errors.ExperimentError: candidates."iron(II)": The ratio of candidate “iron(II)”
    is about Ag, but the amount produced is that of Cu. ...
    """
    candidates = checked_items(values, Candidate, "candidates", 1, MAX_CANDIDATES)
    for candidate in candidates:
        place = field_path("candidates", candidate.name)
        check_name(candidate.name, place, "a candidate")
        for side, measured in (("consumed", consumed), ("produced", produced)):
            stated = getattr(candidate, side)
            if stated and not _same_species(stated, measured):
                raise ExperimentError(
                    f"The ratio of candidate “{candidate.name}” is about {stated}, but the "
                    f"amount {side} is that of {measured}.",
                    field=place,
                    given=stated,
                    allowed=measured,
                    fix="Write candidates with the species whose amounts are measured.",
                )
    if spec is not None:
        entry.record("candidate_spec", spec, CandidateSpec, error=ExperimentError)
    try:
        check_candidates(candidates)
        spec = CandidateSpec.of(candidates) if spec is None else spec
        entry.record("candidate_spec", spec, CandidateSpec, error=ExperimentError)
        if spec.build(consumed, produced) != candidates:
            raise ExperimentError(
                "The candidates are not those that candidate_spec describes.",
                given=", ".join(one.name for one in candidates),
                fix="Leave candidate_spec out, or use with_candidates().",
            )
    except StoichkitError as error:
        raise relocated(error, field="candidates") from error
    return candidates, spec


def _same_species(stated: str, measured: str) -> bool:
    """Return whether two texts mean one species; states such as (aq) do not count."""
    try:
        one, other = parse_formula(stated), parse_formula(measured)
    except FormulaError:
        return stated == measured
    return one.counts == other.counts and one.charge == other.charge


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

    >>> from stoichkit.measurement.weighing import MassByDifference
    >>> salt = MassByDifference(species="MgSO4", heavier="residue", lighter="empty")
    >>> water = MassByDifference(species="H2O", heavier="crystals", lighter="residue")
    >>> roles = merged_roles({"consumed": salt, "produced": water}, {"balance": Balance()})
    >>> [(role.name, role.vessel_group) for role in roles]
    [('residue', 'empty'), ('empty', 'empty'), ('crystals', 'empty')]
    """
    groups = vessel_groups(models.values())
    same = {
        groups[role.name]
        for model in models.values()
        for role in model.roles()
        if role.same_vessel and role.vessel_group
    }
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
                same_vessel=groups.get(role.name) in same,
                repeated=before.repeated or role.repeated,
                averaged=before.averaged or role.averaged,
                optional=before.optional and role.optional,
                once=before.once or role.once,
                delivery=role.delivery if before.delivery is None else before.delivery,
            )
    both = tuple(role.name for role in found.values() if role.repeated and role.averaged)
    refuse_both(both, _where_averaged(models, both))
    _check_solutions(models)
    return tuple(found.values())


def _where_averaged(models: Mapping[str, AmountModel], names: Sequence[str]) -> str:
    """Return the field that names the first of these readings as averaged."""
    sides = (s for s, m in models.items() for r in m.roles() if r.averaged and r.name in names)
    return f"{next(sides, '')}.averaged"


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
    ways = [way for model in models.values() for way in model.ways]
    solutions = [way.solution.made_up for way in ways if way.solution]
    made = {one for one in solutions if one}
    names = {one.name for one in made}
    if len(names) < len(made):
        raise ExperimentError(
            "Two different solutions have the same name.",
            field="produced.concentration.name",
            given=names.pop(),
            fix="Give each solution a name of its own.",
        )


def checked_order(value: object, roles: Sequence[Role]) -> tuple[str, ...]:
    """Return names of readings in the order they are made, each known and there once.

    >>> weighing = Role(name="dish", instrument="balance", quantity="mass", unit="g")
    >>> checked_order(["dosh"], [weighing])
    Traceback (most recent call last):
    stoichkit.errors.ExperimentError: order: No amount uses a reading of this name. Given: dosh.
    Allowed: dish. Did you mean “dish”?
    """
    order = entry.listed("order", value, str, error=ExperimentError)
    known = [role.name for role in roles if role.needs_reading]
    for name in order:
        if name not in known or order.count(name) > 1:
            raise ExperimentError(
                "A reading is named twice."
                if name in known
                else "No amount uses a reading of this name.",
                field="order",
                given=name,
                allowed=", ".join(known),
                fix="Name it once." if name in known else nearest(name, known),
            )
    return order


def check_readings(
    roles: Sequence[Role],
    shared: Mapping[str, tuple[str, ...]],
    trials: Sequence[Trial],
    instruments: Mapping[str, Instrument] = FrozenMap(),
) -> None:
    """Raise ExperimentError unless every reading has a role and every role its reading.

    Instruments of a trial's own are ones of the record, for the same kind of reading.

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
        _check_own_instruments(trial, index, roles, instruments)
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


def _check_own_instruments(
    trial: Trial, index: int, roles: Sequence[Role], instruments: Mapping[str, Instrument]
) -> None:
    """Raise ExperimentError unless what a trial was read on instead can stand in its place."""
    in_use = [*dict.fromkeys(role.instrument for role in roles)]
    for name, other in trial.instruments.items():
        place = field_path("trials", index, "instruments", name)
        if name not in in_use:
            raise ExperimentError(
                "No reading is made on an instrument of this name.",
                field=place,
                given=name,
                allowed=", ".join(in_use),
                fix=nearest(name, in_use),
            )
        alike = [
            one
            for one, made in instruments.items()
            if type(made) is type(instruments[name]) and made.unit == instruments[name].unit
        ]
        if other not in alike:
            raise ExperimentError(
                f"This cannot stand in the place of “{name}”.",
                field=place,
                given=other,
                allowed=", ".join(alike),
                fix=nearest(other, alike)
                or "Describe the other instrument in a table of its own, of the same kind.",
            )


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
    if len(texts) > 1 and not role.takes_several:
        lists = (
            f", or add “{name}” to a list of its amount: “repeated” (dried to constant mass, the "
            "last counts) or “averaged” (one thing weighed several times, the mean counts)"
        )
        raise ExperimentError(
            f"The reading “{name}” is made once, but {len(texts)} numbers are given.",
            field=place,
            given=", ".join(texts),
            fix=f"Keep one of them{lists if role.quantity == 'mass' else ''}.",
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


def read_value(role: Role, texts: Sequence[str]) -> Reading:
    """Return the number that counts of those typed for a reading: the last, or the mean.

    >>> heated = Role(
    ...     name="residue", instrument="balance", quantity="mass", unit="g", repeated=True)
    >>> read_value(heated, ["20.52", "20.36"]).value
    20.36
    """
    if role.averaged:
        return mean_reading([parse_number(text, role.name) for text in texts])
    return parse_number(texts[-1], role.name)


def read_quantity(
    role: Role,
    texts: Sequence[str],
    owner: str,
    instruments: Mapping[str, Instrument],
    pool: ErrorPool,
    *,
    first: str = "",
) -> Number:
    """Return one reading, or one filling of glassware, with its error sources.

    ``first`` is the first trial in which a vessel was used that is the same thing in several.

    >>> from stoichkit.uncertainty.sources import budget
    >>> weighing = Role(name="dish", instrument="balance", quantity="mass", unit="g")
    >>> balances = {"balance": Balance(readability_g=0.01)}
    >>> mass_g = read_quantity(weighing, ["30.10"], "2", balances, ErrorPool())
    >>> [line.label for line in budget(mass_g)]
    ['repeatability of dish, trial 2', 'rounding of dish, trial 2']
    """
    suffix = f", trial {owner}" if owner else ""
    place = f", trial {first}" if owner and role.same_vessel and first else suffix
    return instruments[role.instrument].quantity(
        read_value(role, texts) if texts else None,
        name=role.instrument,
        label=f"{role.name}{suffix}",
        vessel=f"{role.vessel_group}{place}" if role.vessel_group else "",
        pool=pool,
        delivery=role.delivery,
        repeats=len(texts) if role.averaged and texts else 1,
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


_BEYOND = 5.0
"""Standard deviations of a difference beyond which two weighings are not of one thing."""


def vessel_question(name: str, texts: Sequence[str], balance: Instrument) -> str:
    """Return what to ask where a vessel that is said to be the same weighs differently; or "".

    >>> vessel_question("paper", ["0.75", "0.70"], Balance(readability_g=0.01))
    'It weighs 0.70 g to 0.75 g, more apart than the balance explains: is it the same thing?'
    >>> vessel_question("paper", ["0.75", "0.76"], Balance(readability_g=0.01))
    ''
    """
    if len(texts) < 2 or not isinstance(balance, Balance):
        return ""
    read = sorted((parse_number(text, name).value, text) for text in texts)
    (least, low), (most, high) = read[0], read[-1]
    noise = _BEYOND * math.sqrt(2) * balance.repeatability
    if most - least <= balance.readability_g * (1 + 1e-9) + noise:
        return ""
    apart = "more apart than the balance explains"
    return f"It weighs {low} g to {high} g, {apart}: is it the same thing?"


def questions_about(role: Role, texts: Sequence[str], instrument: Instrument) -> list[str]:
    """Return what looks odd about the numbers typed for one reading.

    Also heating that may not be finished, and weighings to be averaged that are not of one thing.

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
    if role.averaged and (apart := vessel_question(role.name, texts, instrument)):
        asked.append(apart)
    return asked
