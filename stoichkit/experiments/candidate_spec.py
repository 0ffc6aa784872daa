"""How a list of candidates was written down, kept so that it can be saved as it was written."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from typing import Any

from .._common import FrozenMap, nearest
from ..chemistry.candidates import (
    Candidate,
    from_equations,
    from_formulas,
    hydrate_series,
    oxidation_state,
    oxidation_states,
    plain_ratios,
)
from ..chemistry.elements import KNOWN
from ..chemistry.formula import parse_formula
from ..chemistry.ratios import exact_ratio
from ..errors import ExperimentError, StoichkitError
from .parts import check_name, field_path, relocated

SPEC_KINDS = ("equations", "oxidation_states", "hydrate", "formulas", "ratios")
"""The ways to write candidates down; each is a table ``[candidates.KIND]`` in a file."""
_FIELDS = {
    "oxidation_states": {"metal": True, "states": True, "displaced": False},
    "hydrate": {"salt": True, "waters": False},
    "formulas": {"list": True, "consumed": False, "produced": False},
}
_RATIO_FIELDS = {"ratio": True, "equation": False, "consumed": False, "produced": False}


@dataclass(frozen=True, slots=True)
class CandidateSpec:
    """A list of candidates as it was written down.

    Parameters
    ----------
    kind : str
        One of :data:`SPEC_KINDS`.
    fields : mapping
        ``equations``: name to equation. ``oxidation_states``: ``metal``, ``states`` (2,
        "iron(II)", "Fe^2+" and so on), ``displaced``. ``hydrate``: ``salt``, ``waters`` (whole
        numbers, "1/2", 0.5). ``formulas``: ``list``, ``consumed``, ``produced``. ``ratios``:
        name to the ratio produced over consumed ("3/2", 1.5), or to a table with ``ratio``,
        ``equation``, ``consumed``, ``produced``.

    Raises
    ------
    ExperimentError
        If the kind or a field is not known, missing or of the wrong sort.

    Examples
    --------
    >>> spec = CandidateSpec("ratios", {"iron(II)": "1", "iron(III)": "3/2"})
    >>> [(c.name, str(c.ratio)) for c in spec.build("Fe", "Cu")]
    [('iron(II)', '1'), ('iron(III)', '3/2')]
    """

    kind: str
    fields: Mapping[str, Any]

    def __post_init__(self) -> None:
        if self.kind not in SPEC_KINDS:
            raise ExperimentError(
                "This way of stating candidates is not known.",
                field=field_path(str(self.kind)),
                allowed=", ".join(SPEC_KINDS),
                fix=nearest(self.kind, SPEC_KINDS),
            )
        if not isinstance(self.fields, Mapping):
            raise ExperimentError(
                "This is not a table.", field=self.kind, given=self.fields, allowed="a table"
            )
        if self.kind in _FIELDS:
            _check_keys(self.fields, _FIELDS[self.kind], self.kind)
        elif not self.fields:
            raise ExperimentError(
                "There is no candidate.", field=self.kind, allowed="at least one, with its name"
            )
        check = getattr(self, f"_check_{self.kind}")
        checked = {name: check(name, value) for name, value in self.fields.items()}
        if self.kind == "ratios" and any(isinstance(v, FrozenMap) for v in checked.values()):
            checked = {
                name: value if isinstance(value, FrozenMap) else FrozenMap({"ratio": value})
                for name, value in checked.items()
            }
        object.__setattr__(self, "fields", FrozenMap(checked))

    @classmethod
    def of(cls, candidates: Iterable[Candidate]) -> CandidateSpec:
        """Write down a finished list of candidates, one ratio each.

        >>> spec = CandidateSpec.of([Candidate("iron(III)", "3/2", "", "Fe", "Cu")])
        >>> dict(spec.fields["iron(III)"])
        {'ratio': '3/2', 'consumed': 'Fe', 'produced': 'Cu'}
        """
        tables = {}
        for one in candidates:
            table = {"ratio": str(one.ratio)}
            for name in ("equation", "consumed", "produced"):
                if getattr(one, name):
                    table[name] = getattr(one, name)
            tables[one.name] = table
        if all(len(table) == 1 for table in tables.values()):
            return cls("ratios", {name: table["ratio"] for name, table in tables.items()})
        return cls("ratios", tables)

    def build(self, consumed: str, produced: str) -> tuple[Candidate, ...]:
        """Return the candidates.

        Parameters
        ----------
        consumed, produced : str
            The species whose amounts are measured.

        Raises
        ------
        ExperimentError
            If an equation cannot be balanced, a formula cannot be read, two candidates have
            the same ratio, and so on; ``field`` says which.

        Examples
        --------
        >>> spec = CandidateSpec("hydrate", {"salt": "CuSO4", "waters": [3, 5]})
        >>> [candidate.name for candidate in spec.build("CuSO4", "H2O")]
        ['CuSO4·3H2O', 'CuSO4·5H2O']
        """
        return _build(self, tuple(self.fields), consumed, produced)

    def _check_equations(self, name: str, value: object) -> str:
        return _text(value, field_path(self.kind, name), "an equation in quotes")

    def _check_ratios(self, name: str, value: object) -> object:
        place = field_path(self.kind, name)
        if isinstance(value, Mapping):
            _check_keys(value, _RATIO_FIELDS, place)
            return FrozenMap(
                {
                    key: _ratio(part, f"{place}.ratio")
                    if key == "ratio"
                    else _text(part, f"{place}.{key}", "text")
                    for key, part in value.items()
                }
            )
        return _ratio(value, place)

    def _check_oxidation_states(self, name: str, value: object) -> object:
        place = field_path(self.kind, name)
        return _states_listed(value, place) if name == "states" else _text(value, place, "text")

    def _check_hydrate(self, name: str, value: object) -> object:
        place = field_path(self.kind, name)
        return _waters(value, place) if name == "waters" else _text(value, place, "text")

    def _check_formulas(self, name: str, value: object) -> object:
        place = field_path(self.kind, name)
        if name != "list":
            return _text(value, place, "text")
        if not _listed(value):
            raise ExperimentError(
                "This is not a list of formulas.",
                field=place,
                given=value,
                allowed='["SnO", "SnO2"]',
            )
        return tuple(
            _text(formula, field_path(self.kind, name, index), "a formula in quotes")
            for index, formula in enumerate(_listed(value), start=1)
        )


def _check_keys(given: Mapping[str, Any], known: Mapping[str, bool], place: str) -> None:
    for name in given:
        if name not in known:
            raise ExperimentError(
                "This field is not known.",
                field=f"{place}.{field_path(str(name))}",
                allowed=", ".join(known),
                fix=nearest(name, known),
            )
    for name, needed in known.items():
        if needed and name not in given:
            raise ExperimentError("This field is missing.", field=f"{place}.{name}")


def _text(value: object, place: str, allowed: str) -> str:
    if not isinstance(value, str):
        raise ExperimentError("This is not text.", field=place, given=value, allowed=allowed)
    return value


def _listed(value: object) -> tuple[Any, ...]:
    """Return the items of a list; none for anything else."""
    return tuple(value) if isinstance(value, (list, tuple, range)) else ()


def _ratio(value: object, place: str) -> str:
    """Return a ratio as text, as it was written."""
    if isinstance(value, int | float) and not isinstance(value, bool):
        return str(value)
    return _text(value, place, 'a ratio such as "3/2" or 1.5')


def _states_listed(value: object, place: str) -> tuple[int | str, ...]:
    """Return oxidation states as they were written; what they mean depends on the metal."""
    states = _listed(value)
    if not states or any(type(state) not in (int, str) for state in states):
        raise ExperimentError(
            "This is not a list of oxidation states.",
            field=place,
            given=value,
            allowed='whole numbers or texts, such as [1, 2, 3] or ["iron(II)", "Fe^3+"]',
        )
    return states


def _waters(value: object, place: str) -> tuple[int | str, ...]:
    """Return numbers of water molecules as they were written, after reading each."""
    numbers = _listed(value)
    if not numbers:
        raise ExperimentError(
            "This is not a list of numbers of water molecules.",
            field=place,
            given=value,
            allowed='whole numbers, short decimals and fractions, such as ["1/2", 1, 1.5]',
        )
    for index, number in enumerate(numbers, start=1):
        try:
            exact_ratio(number, "number of water molecules")
        except StoichkitError as error:
            raise relocated(error, field=f"{place}[{index}]") from error
    return tuple(n if type(n) is int else str(n) for n in numbers)


@lru_cache(maxsize=256)
def _build(
    spec: CandidateSpec, order: tuple[str, ...], consumed: str, produced: str
) -> tuple[Candidate, ...]:
    """Build the candidates once for each way, and order, of writing them down."""
    del order
    try:
        candidates = _BUILDERS[spec.kind](spec.fields, consumed, produced)
    except StoichkitError as error:
        raise relocated(error, field=_culprit(spec, consumed, produced)) from error
    for candidate in candidates:
        check_name(candidate.name, spec.kind, "a candidate")
    return candidates


def _culprit(spec: CandidateSpec, consumed: str, produced: str) -> str:
    """Return the place of the first entry that fails alone, or of the whole table."""
    if spec.kind in ("equations", "ratios"):
        for name, value in spec.fields.items():
            try:
                _BUILDERS[spec.kind]({name: value}, consumed, produced)
            except StoichkitError:
                return field_path(spec.kind, name)
    if spec.kind == "oxidation_states" and spec.fields["metal"] in KNOWN:
        for index, state in enumerate(spec.fields["states"], start=1):
            try:
                oxidation_state(spec.fields["metal"], state)
            except StoichkitError:
                return field_path(spec.kind, "states", index)
    return spec.kind


def _equations(fields: Mapping[str, Any], consumed: str, produced: str) -> tuple[Candidate, ...]:
    return from_equations(fields, consumed=consumed, produced=produced)


def _states(fields: Mapping[str, Any], consumed: str, produced: str) -> tuple[Candidate, ...]:
    del consumed, produced
    return oxidation_states(**fields)


def _hydrate(fields: Mapping[str, Any], consumed: str, produced: str) -> tuple[Candidate, ...]:
    del consumed, produced
    if "waters" not in fields:
        return hydrate_series(fields["salt"])
    return hydrate_series(fields["salt"], waters=fields["waters"])


def _formulas(fields: Mapping[str, Any], consumed: str, produced: str) -> tuple[Candidate, ...]:
    return from_formulas(
        fields["list"],
        consumed=fields.get("consumed", consumed),
        produced=fields.get("produced", produced),
    )


def _ratios(fields: Mapping[str, Any], consumed: str, produced: str) -> tuple[Candidate, ...]:
    del consumed, produced
    plain = {name: f if isinstance(f, str) else f["ratio"] for name, f in fields.items()}
    found = plain_ratios(plain)
    return tuple(
        one
        if isinstance(fields[one.name], str)
        else Candidate(
            one.name, one.ratio, **{k: v for k, v in fields[one.name].items() if k != "ratio"}
        )
        for one in found
    )


_BUILDERS = {
    "equations": _equations,
    "oxidation_states": _states,
    "hydrate": _hydrate,
    "formulas": _formulas,
    "ratios": _ratios,
}


_NAMED_RATIO = re.compile(r"(.+?)\s*=\s*([0-9]+(?:\s?[/:]\s?[0-9]+)?)")
_EQUALS = re.compile(r"(?<![<=])=(?![=>])")
_ARROW = re.compile(r"->|=>|→|⟶|⇌|⇄")
_NUMBER_LIKE = re.compile(r"[0-9.,/:\s+-]+")
_HYDRATE = re.compile(r"([0-9]*)(.+)·([0-9]*)H2O")
CANDIDATE_FORMS = "a line such as “copper(I) = 1”, “SnO2” or “copper(I) = Cu + Ag^+ -> Cu^+ + Ag”"
"""What a line may hold, for messages."""


@lru_cache(maxsize=512)
def candidate_in(
    line: str, consumed: str, produced: str, element_consumed: str, element_produced: str
) -> Candidate:
    """Read a candidate as it is typed on a line: a ratio, an equation or a formula, with a name.

    >>> one = candidate_in("copper(I) = Cu + Ag^+ -> Cu^+ + Ag", "Cu", "Ag", "Cu", "Ag")
    >>> one.name, str(one.ratio)
    ('copper(I)', '1')
    """
    match = _NAMED_RATIO.fullmatch(line)
    if match and not _ARROW.search(match[1]) and " + " not in match[1]:
        return plain_ratios({match[1]: match[2]})[0]
    equals = _EQUALS.search(line)
    name, rest = ("", line)
    if equals and not _ARROW.search(line[: equals.start()]) and " + " not in line[: equals.start()]:
        name, rest = line[: equals.start()].strip(), line[equals.end() :].strip()
    if not rest or (equals and not name and rest is not line):
        raise ExperimentError("The line is not complete.", given=line, allowed=CANDIDATE_FORMS)
    if _ARROW.search(rest) or _EQUALS.search(rest):
        equation: Mapping[str, str] | list[str] = {name: rest} if name else [rest]
        return from_equations(equation, consumed=consumed, produced=produced)[0]
    if _NUMBER_LIKE.fullmatch(rest):
        label = name or f"ratio {rest}"
        return plain_ratios({label: rest})[0]
    return _of_formula(name, rest, (consumed, produced), (element_consumed, element_produced))


def _of_formula(
    name: str, text: str, species: tuple[str, str], elements: tuple[str, str]
) -> Candidate:
    """Read a candidate given as the formula of the product, or of the hydrate heated."""
    try:
        plain = parse_formula(text).plain()
    except StoichkitError as error:
        raise ExperimentError(
            f"This is neither a ratio nor an equation nor a formula: {error.problem}",
            given=text,
            allowed=CANDIDATE_FORMS,
        ) from error
    water = _HYDRATE.fullmatch(plain)
    if water and (water[2], "H2O") == species:
        count = Fraction(int(water[3] or 1), int(water[1] or 1))
        found = hydrate_series(water[2], waters=[count])[0]
    else:
        found = from_formulas([text], consumed=elements[0], produced=elements[1])[0]
    return replace(found, name=name) if name else found
