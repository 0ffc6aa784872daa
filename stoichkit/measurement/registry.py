"""Instruments and ways to measure an amount by name, from and to the fields of a file.

The types are imported when their name is first asked for, so that a lab which only weighs does not
wait for burettes and gases.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, MutableMapping
from dataclasses import MISSING, Field, fields, is_dataclass
from fractions import Fraction
from importlib import import_module
from typing import TYPE_CHECKING, Any, TypeVar

from .._common import nearest
from ..errors import ExperimentError, InstrumentError, ModelError
from .base import AmountModel, Instrument

if TYPE_CHECKING:
    from .concentration import Concentration

T = TypeVar("T")


class _Types(MutableMapping[str, type[T]]):
    """Types by the words that name them, from “module.Type” in this package."""

    def __init__(self, where: Mapping[str, str]) -> None:
        self._where: dict[str, str | type[T]] = {**where}

    def __getitem__(self, word: str) -> type[T]:
        found = self._where[word]
        if isinstance(found, str):
            module, _, name = found.partition(".")
            found = self._where[word] = getattr(import_module(f".{module}", __package__), name)
        return found

    def __setitem__(self, word: str, made: type[T]) -> None:
        self._where[word] = made

    def __delitem__(self, word: str) -> None:
        del self._where[word]

    def __iter__(self) -> Iterator[str]:
        return iter(self._where)

    def __len__(self) -> int:
        return len(self._where)


KINDS: MutableMapping[str, type[Instrument]] = _Types(
    {
        "balance": "displays.Balance",
        "cylinder": "glassware.GraduatedCylinder",
        "pipette": "glassware.Pipette",
        "burette": "glassware.Burette",
        "flask": "glassware.VolumetricFlask",
        "thermometer": "displays.Thermometer",
        "barometer": "displays.Barometer",
        "ammeter": "displays.Ammeter",
        "timer": "displays.Timer",
    }
)
"""Every kind of instrument, by the word that names it in an experiment file."""


def make_instrument(kind: str, **values: object) -> Instrument:
    """Make an instrument from the name of its kind and its figures.

    Parameters
    ----------
    kind : str
        One of :data:`KINDS`.
    **values
        Fields of that kind; those left out keep their defaults.

    Raises
    ------
    InstrumentError
        If the kind or a field is not known (the message suggests the nearest), or a figure
        cannot be used.

    Examples
    --------
    >>> make_instrument("balance", readability_g=0.001).describe()
    'A balance reading to 0.001 g, repeatability 0.0005 g.'
    >>> make_instrument("balance", readibility_g=0.001)
    Traceback (most recent call last):
    stoichkit.errors.InstrumentError: A balance has no field of that name. Given: readibility_g.
    Allowed: readability_g, ... Did you mean “readability_g”?
    """
    made = KINDS.get(kind) if isinstance(kind, str) else None
    if made is None:
        raise InstrumentError(
            "That kind of instrument is not known.",
            given=kind,
            allowed=", ".join(KINDS),
            fix=nearest(kind, list(KINDS)),
        )
    known = [field.name for field in fields(made)]  # type: ignore[arg-type]
    for name in values:
        if name not in known:
            article = "An" if made.noun[0] in "aeiou" else "A"
            raise InstrumentError(
                f"{article} {made.noun} has no field of that name.",
                given=name,
                allowed=", ".join(known),
                fix=nearest(name, known),
            )
    return made(**values)


def instrument_fields(instrument: Instrument) -> dict[str, Any]:
    """Return the kind and every stated figure of an instrument, for saving.

    Fields left at their default are left out; ``make_instrument(**instrument_fields(x))``
    gives an instrument equal to ``x``.

    Raises
    ------
    InstrumentError
        If the object is not one of :data:`KINDS`.

    Examples
    --------
    >>> from stoichkit.measurement.displays import Balance
    >>> instrument_fields(Balance(readability_g=0.1, repeatability_g=0.0))
    {'kind': 'balance', 'readability_g': 0.1, 'repeatability_g': 0.0}
    """
    for kind, made in KINDS.items():
        if type(instrument) is made:
            return {"kind": kind, **_stated(instrument)}
    raise InstrumentError("That is not an instrument.", given=instrument, allowed=", ".join(KINDS))


_SEVERAL = "several routes"
MODELS: MutableMapping[str, type[AmountModel]] = _Types(
    {
        "mass by difference": "weighing.MassByDifference",
        "solution": "concentration.SolutionVolume",
        "gas over water": "gas_and_charge.GasVolume",
        "gas": "gas_and_charge.GasVolume",
        "charge": "gas_and_charge.ElectricCharge",
        "precipitate": "weighing.Precipitate",
        "sum of masses": "weighing.SumOfMasses",
        _SEVERAL: "routes.Routes",
    }
)
"""Every way to measure an amount, by the words that name it in an experiment file."""
CONCENTRATIONS: Mapping[str, type[Concentration]] = _Types(
    {
        "known": "concentration.KnownConcentration",
        "prepared": "concentration.PreparedSolution",
        "titrated": "concentration.TitratedSolution",
    }
)
"""The ways to state a concentration, by the word that names them."""
_ADDED: set[str] = set()


def register(words: str, made: type[Any]) -> None:
    """Make a way of measuring, or a kind of instrument, known to experiment files.

    Parameters
    ----------
    words : str
        What names it as ``kind``, not taken yet.
    made : class
        A frozen dataclass: a subclass of :class:`stoichkit.measurement.base.AmountModel` or of
        :class:`stoichkit.measurement.base.Instrument`.

    Raises
    ------
    ModelError
        If the words are taken or the class is no such dataclass.

    Examples
    --------
    >>> from stoichkit.measurement import ElectricCharge
    >>> register("silver coulometer", ElectricCharge)
    >>> from_fields("silver coulometer", {"species": "Ag", "current": "I", "time": "t"}).species
    'Ag'
    >>> unregister("silver coulometer")
    """
    if not isinstance(words, str) or not words.strip() or words in {*MODELS, *KINDS}:
        raise ModelError(
            "These words cannot name it.", given=words, allowed="words that name nothing else yet"
        )
    plain = made if isinstance(made, type) and is_dataclass(made) else object
    if not issubclass(plain, (AmountModel, Instrument)):
        raise ModelError(
            "This is neither a way of measuring nor an instrument.",
            given=made,
            allowed="a frozen dataclass, subclass of AmountModel or of Instrument",
        )
    known: MutableMapping[str, Any] = MODELS if issubclass(plain, AmountModel) else KINDS
    known[words] = made
    _ADDED.add(words)


def unregister(words: str) -> None:
    """Forget what :func:`register` made known; nothing happens if there is nothing.

    >>> unregister("silver coulometer")
    """
    if words in _ADDED:
        _ADDED.remove(words)
        MODELS.pop(words, None)
        KINDS.pop(words, None)


def from_fields(kind: str, values: Mapping[str, Any]) -> AmountModel:
    """Make a model from the words that name it and its fields, as read from a file.

    Parameters
    ----------
    kind : str
        One of :data:`MODELS`.
    values : mapping
        Its fields. A factor is a whole number or a text such as ``"1/2"``; a concentration is
        a table with ``kind = "known"``, ``"prepared"`` or ``"titrated"``; lists stand for tuples.

    Raises
    ------
    ExperimentError
        If the kind or a field is not known, is missing or cannot be used; ``field`` names it.

    Examples
    --------
    >>> from_fields("charge", {"species": "Cu", "current": "I", "time": "t", "electrons": 2})
    ElectricCharge(species='Cu', current='I', time='t', electrons=2, ammeter='ammeter',
    timer='timer')
    >>> from_fields("charge", {"species": "Cu", "curent": "I", "time": "t"})
    Traceback (most recent call last):
    stoichkit.errors.ExperimentError: curent: There is no field of that name in “charge”. ...
    """
    model = MODELS.get(kind) if isinstance(kind, str) else None
    if model is None:
        raise ExperimentError(
            "That way to measure an amount is not known.",
            field="kind",
            given=kind,
            allowed=", ".join(MODELS),
            fix=nearest(kind, MODELS),
        )
    prepared = dict(values)
    for name, said in model.said_by(kind).items():
        if prepared.setdefault(name, said) != said:
            raise ExperimentError(
                f"This contradicts the kind “{kind}”.", field=name, given=prepared[name]
            )
    if isinstance(prepared.get("concentration"), Mapping):
        prepared["concentration"] = _concentration(prepared["concentration"])
    if isinstance(prepared.get("routes"), (list, tuple)):
        prepared["routes"] = _routes(prepared["routes"], prepared.get("species"))
    return _build(kind, model, prepared, "")


def _routes(tables: Iterable[Any], species: object) -> list[Any]:
    """Make the routes to one amount, each from its table; the species may be left out."""
    made = []
    for place, table in enumerate(tables, start=1):
        if not isinstance(table, Mapping):
            made.append(table)
            continue
        fields = {"species": species, **table}
        kind = fields.pop("kind", None)
        if kind == _SEVERAL:
            raise ExperimentError(
                "A route is one way of measuring.",
                field=f"routes[{place}].kind",
                given=kind,
                allowed=", ".join(word for word in MODELS if word != _SEVERAL),
            )
        try:
            made.append(from_fields(kind, fields))
        except ExperimentError as error:
            inner = f".{error.field}" if error.field else ""
            raise _moved(error, f"routes[{place}]{inner}") from None
    return made


def _moved(error: ExperimentError, field: str) -> ExperimentError:
    """Return the same error at another field."""
    return ExperimentError(
        error.problem, field=field, given=error.given, allowed=error.allowed, fix=error.fix
    )


def _concentration(table: Mapping[str, Any]) -> Concentration:
    values = dict(table)
    kind = values.pop("kind", None)
    made = CONCENTRATIONS.get(kind) if isinstance(kind, str) else None
    if made is None:
        raise ExperimentError(
            "The kind of concentration is not known.",
            field="concentration.kind",
            given=kind,
            allowed=", ".join(CONCENTRATIONS),
        )
    return _build(str(kind), made, values, "concentration.")


def _build(kind: str, made: type[T], values: Mapping[str, Any], prefix: str) -> T:
    known: dict[str, Field[Any]] = {f.name: f for f in fields(made)}  # type: ignore[arg-type]
    for name in values:
        if name not in known:
            raise ExperimentError(
                f"There is no field of that name in “{kind}”.",
                field=prefix + str(name),
                allowed=", ".join(known),
                fix=nearest(name, known),
            )
    for name, field in known.items():
        if field.default is MISSING and name not in values:
            raise ExperimentError(f"The field is missing in “{kind}”.", field=prefix + name)
    converted = {name: _converted(prefix + name, value) for name, value in values.items()}
    try:
        return made(**converted)
    except ExperimentError as error:
        if not prefix or error.field is None:
            raise
        raise _moved(error, prefix + error.field) from None


def _converted(field: str, value: Any) -> Any:
    """Turn what a file can hold into what a model holds: lists to tuples, text to fraction."""
    if isinstance(value, (list, tuple)):
        return tuple(_converted(field, part) for part in value)
    if field.rpartition(".")[2] == "factor" and isinstance(value, str):
        top, slash, bottom = value.partition("/")
        parts = (top.strip(), bottom.strip() if slash else "1")
        if all(p.isascii() and p.isdigit() and len(p) <= 9 and int(p) > 0 for p in parts):
            return Fraction(int(parts[0]), int(parts[1]))
        raise ExperimentError(
            "The factor is not a ratio of whole numbers.",
            field=field,
            given=value,
            allowed='a whole number, or a fraction such as "1/2"',
        )
    return value


def to_fields(model: AmountModel) -> dict[str, Any]:
    """Return the kind and every field that differs from its default, for saving.

    ``from_fields(kind, the rest)`` gives a model equal to this one.

    Raises
    ------
    ExperimentError
        If the object is not one of :data:`MODELS`.

    Examples
    --------
    >>> from stoichkit.measurement.weighing import Precipitate
    >>> to_fields(Precipitate(species="Cl^-", precipitate="AgCl", heavier="solid"))
    {'kind': 'precipitate', 'species': 'Cl^-', 'precipitate': 'AgCl', 'heavier': 'solid'}
    """
    for kind, made in MODELS.items():
        if type(model) is made:
            said = made.said_by(kind)
            if all(getattr(model, name) == value for name, value in said.items()):
                stated = _stated(model)
                return {"kind": kind, **{n: v for n, v in stated.items() if n not in said}}
    raise ExperimentError("That is not a way to measure an amount.", given=model)


def _stated(record: Any) -> dict[str, Any]:
    """Return the fields that differ from their defaults, in forms a file can hold."""

    def plain(value: Any) -> Any:
        if isinstance(value, Fraction):
            return str(value)
        if type(value) in CONCENTRATIONS.values():
            word = next(word for word, made in CONCENTRATIONS.items() if type(value) is made)
            return {"kind": word, **_stated(value)}
        if isinstance(value, AmountModel):  # a route
            return to_fields(value)
        return [plain(part) for part in value] if isinstance(value, tuple) else value

    return {
        field.name: plain(getattr(record, field.name))
        for field in fields(record)
        if getattr(record, field.name) != field.default
    }


def vessel_groups(models: Iterable[AmountModel]) -> dict[str, str]:
    """Return, for each weighing, the name of the vessel it shares with others.

    Groups of several models that have a weighing in common are joined: in a hydrate lab the
    crucible empty, with hydrate and with residue are one group.

    Examples
    --------
    >>> from stoichkit.measurement.weighing import MassByDifference
    >>> water = MassByDifference(species="H2O", heavier="hydrate", lighter="residue")
    >>> salt = MassByDifference(species="CuSO4", heavier="residue", lighter="empty")
    >>> vessel_groups([water, salt])
    {'hydrate': 'residue', 'residue': 'residue', 'empty': 'residue'}
    """
    merged: dict[str, str] = {}

    def root(group: str) -> str:
        while group in merged:
            group = merged[group]
        return group

    group_of: dict[str, str] = {}
    for role in (role for model in models for role in model.roles() if role.vessel_group):
        mine = root(role.vessel_group)
        before = root(group_of.setdefault(role.name, mine))
        if before != mine:
            merged[mine] = before
    return {name: root(group) for name, group in group_of.items()}
