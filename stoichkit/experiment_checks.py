"""What must hold in an experiment record, each check with the field it is about."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any, TypeVar

from .amounts import AmountModel
from .candidate_spec import CandidateSpec
from .candidates import Candidate, check_candidates
from .errors import ExperimentError, FormulaError, StoichkitError
from .experiment_parts import check_name, check_text, field_path, frozen_readings, relocated
from .formula import parse_formula
from .frozen_map import FrozenMap
from .instruments import Instrument

__all__ = [
    "MAX_CANDIDATES",
    "check_formulas",
    "check_head",
    "checked_candidates",
    "checked_coverage",
    "checked_instruments",
    "checked_items",
    "checked_recovery",
    "checked_shared",
]

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
    if not isinstance(invented, bool):
        raise ExperimentError("This is neither true nor false.", field="invented", given=invented)
    for side, model in zip(("consumed", "produced"), models, strict=True):
        if not isinstance(model, AmountModel):
            raise ExperimentError("This is not an amount model.", field=side, given=model)
        check_formulas(model, side)


def check_formulas(model: AmountModel, side: str) -> None:
    """Raise ExperimentError unless every formula of an amount model can be read.

    >>> from stoichkit.amounts import MassByDifference
    >>> check_formulas(MassByDifference(species="cu", heavier="wire"), "consumed")
    Traceback (most recent call last):
    stoichkit.errors.ExperimentError: consumed.species: ... Given: cu. ...
    """
    concentration = getattr(model, "concentration", None)
    for owner, place, name in (
        (model, side, "species"),
        (model, side, "precipitate"),
        (concentration, f"{side}.concentration", "solute"),
    ):
        formula = getattr(owner, name, None)
        if formula is not None:
            try:
                parse_formula(formula)
            except FormulaError as error:
                raise relocated(error, field=f"{place}.{name}") from error


def _is_number(value: object) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value)


def checked_recovery(value: Any) -> tuple[float, float]:
    """Return the recovery allowance as two floats, least first.

    >>> checked_recovery([0.9, 1])
    (0.9, 1.0)
    """
    pair = value if isinstance(value, (tuple, list)) else ()
    if (
        len(pair) != 2
        or not all(_is_number(part) for part in pair)
        or not MIN_RECOVERY <= pair[0] <= pair[1] <= MAX_RECOVERY
    ):
        raise ExperimentError(
            "The recovery cannot be used.",
            field="recovery",
            given=value,
            allowed=f"least and largest fraction, {MIN_RECOVERY:g} <= least <= largest <= "
            f"{MAX_RECOVERY:g}; [1.0, 1.0] for all of it",
        )
    return float(pair[0]), float(pair[1])


def checked_coverage(value: Any) -> float:
    """Return the coverage probability as a float.

    >>> checked_coverage(0.99)
    0.99
    """
    if not _is_number(value) or not 0.5 <= value <= 0.9999:
        raise ExperimentError(
            "The coverage probability cannot be used.",
            field="coverage",
            given=value,
            allowed="0.5 to 0.9999 (0.95 for 95 %)",
        )
    return float(value)


def checked_items(values: Any, kind: type[T], field: str, least: int, most: int) -> tuple[T, ...]:
    """Return a list as a tuple after checking how many items it has and their type.

    >>> checked_items(["a", "b"], str, "notes", 0, 9)
    ('a', 'b')
    """
    if isinstance(values, (str, Mapping)) or not isinstance(values, Iterable):
        raise ExperimentError("This is not a list.", field=field, given=values)
    items = tuple(values)
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

    >>> from stoichkit.instruments import Timer
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

    Parameters
    ----------
    values : iterable of Candidate
    spec : CandidateSpec or None
        None: each candidate is written down with its ratio.
    consumed, produced : str
        Species whose amounts are measured.

    Raises
    ------
    ExperimentError
        If there are none or too many, two are alike, one is about other species, or they are
        not those that the description gives.

    Examples
    --------
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
    try:
        check_candidates(candidates)
        spec = CandidateSpec.of(candidates) if spec is None else spec
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
