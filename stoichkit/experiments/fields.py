"""An experiment record as plain tables, the form that both TOML and JSON write down, and back."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, NoReturn, TypeVar

from .._common import FrozenMap, nearest
from ..errors import ExperimentError, StoichkitError
from ..measurement.base import AmountModel, Instrument
from ..measurement.registry import from_fields, instrument_fields, make_instrument, to_fields
from .candidate_spec import SPEC_KINDS, CandidateSpec
from .checks import check_formulas
from .looks import Looks
from .parts import RESERVED, SHARE_FOR_NONE, Caution, Prior, Trial, Variation, field_path, relocated

if TYPE_CHECKING:
    from .record import Experiment

FORMAT = 1
"""Version of the form; a file without it is read as this one."""
T = TypeVar("T")
_FIELDS = (
    "format",
    "title",
    "about",
    "invented",
    "coverage",
    "recovery",
    "variation",
    "prior",
    "looks",
    "notes",
    "instruments",
    "consumed",
    "produced",
    "candidates",
    "shared",
    "order",
    "trials",
    "cautions",
)


class NumberText(str):
    """A number with a decimal point as it stands in a file, so that 1.50 keeps its last zero.

    >>> NumberText("1.50")
    '1.50'
    """

    __slots__ = ()


def to_tables(experiment: Experiment) -> dict[str, Any]:
    """Return the record as nested dicts and lists of texts and numbers.

    >>> from stoichkit import experiments
    >>> to_tables(experiments.load("copper-silver"))["candidates"]["oxidation_states"]["metal"]
    'Cu'
    """
    tables: dict[str, Any] = {"format": FORMAT, "title": experiment.title}
    if experiment.about:
        tables["about"] = experiment.about
    tables["invented"] = experiment.invented
    tables["coverage"] = experiment.coverage
    tables["recovery"] = list(experiment.recovery)
    if experiment.variation is not None:
        tables["variation"] = _variation_table(experiment.variation)
    if experiment.between_groups is not None:
        table = tables.setdefault("variation", {})
        table["between_groups"] = _between_value(experiment.between_groups)
    if experiment.prior is not None:
        tables["prior"] = _prior_table(experiment.prior)
    if experiment.looks is not None:
        tables["looks"] = _looks_table(experiment.looks)
    if experiment.notes:
        tables["notes"] = list(experiment.notes)
    if experiment.order:
        tables["order"] = list(experiment.order)
    tables["instruments"] = {
        name: instrument_fields(one) for name, one in experiment.instruments.items()
    }
    tables["consumed"] = to_fields(experiment.consumed)
    tables["produced"] = to_fields(experiment.produced)
    spec = experiment.candidate_spec or CandidateSpec.of(experiment.candidates)
    tables["candidates"] = {spec.kind: _plain(spec.fields)}
    if experiment.shared_readings:
        tables["shared"] = _readings(experiment.shared_readings)
    if experiment.trials:
        tables["trials"] = [
            {
                "name": trial.name,
                **({"group": trial.group} if trial.group else {}),
                **({"instruments": dict(trial.instruments)} if trial.instruments else {}),
                **_readings(trial.readings),
            }
            for trial in experiment.trials
        ]
    if experiment.cautions:
        tables["cautions"] = [_caution_table(one) for one in experiment.cautions]
    return tables


def _variation_table(variation: Variation) -> dict[str, Any]:
    if variation.unknown:
        return {"unknown": True}
    table: dict[str, Any] = {"relative": variation.relative}
    if variation.from_trials is not None:
        table["from_trials"] = variation.from_trials
    return table


def _prior_table(prior: Prior) -> dict[str, Any]:
    return {"none": prior.none, **({"weights": dict(prior.weights)} if prior.weights else {})}


def _between_value(between: Variation | str) -> Any:
    if isinstance(between, str):
        return between
    if between.unknown:
        return "unknown"
    return between.relative if between.from_trials is None else _variation_table(between)


def _looks_table(looks: Looks) -> dict[str, Any]:
    if looks.planned is None:
        return {"before": looks.before}
    each = {"trials_each": looks.trials_each} if looks.trials_each > 1 else {}
    return {"planned": looks.planned, **each}


def _looks(table: Any) -> Looks | None:
    known = ("planned", "trials_each", "before")
    if table is None:
        return None
    fields = _known_fields(table, "looks", known, "planned = 5")
    return Looks(**{name: _scalar(value, f"looks.{name}") for name, value in fields.items()})


def _variation(table: Any) -> Variation | None:
    known = ("relative", "from_trials", "unknown")
    if table is None:
        return None
    table = _variation_fields(table, "variation", (*known, "between_groups"))
    own = {
        name: _scalar(table[name], field_path("variation", name)) for name in known if name in table
    }
    return None if not own and "between_groups" in table else Variation(**own)


def _between(table: Any) -> Any:
    """Return what the table of the variation says of the groups of a class."""
    place = "variation.between_groups"
    value = table.get("between_groups") if isinstance(table, Mapping) else None
    if value is None or not isinstance(value, Mapping):
        return None if value is None else _scalar(value, place)
    named = _variation_fields(value, place, ("relative", "from_trials", "unknown"))
    return Variation(**{name: _scalar(named[name], f"{place}.{name}") for name in named})


def _prior(table: Any) -> Prior | None:
    if table is None:
        return None
    hint = "Weights of candidates stand below [prior.weights]."
    table = _known_fields(table, "prior", ("none", "weights"), "none = 0.05", hint)
    weights = table.get("weights", {})
    if not isinstance(weights, Mapping):
        raise ExperimentError(
            "This is not a table of weights.",
            field="prior.weights",
            given=_shown(weights),
            allowed="the name of a candidate and a number",
            fix='Begin it with a line [prior.weights], and write "copper(II)" = 3 below.',
        )
    given = {n: _scalar(w, field_path("prior", "weights", n)) for n, w in weights.items()}
    return Prior(given, _scalar(table.get("none", SHARE_FOR_NONE), "prior.none"))


def _variation_fields(table: Any, place: str, known: tuple[str, ...]) -> Mapping[str, Any]:
    """Return a table of the fields of a variation, none of them unknown."""
    return _known_fields(table, place, known, 'relative = "1.5 %"')


def _known_fields(
    table: Any, place: str, known: tuple[str, ...], example: str, hint: str = ""
) -> Mapping[str, Any]:
    """Return a table that holds known fields only; ``hint`` helps where no name is near."""
    if not isinstance(table, Mapping):
        raise ExperimentError(
            "This is not a table of fields.",
            field=place,
            given=_shown(table),
            allowed=", ".join(known),
            fix=f"Begin it with a line [{place}], and write {example} below.",
        )
    for name in table:
        if name not in known:
            raise ExperimentError(
                "This field is not known.",
                field=field_path(*place.split("."), name),
                allowed=", ".join(known),
                fix=nearest(name, known) or hint,
            )
    return table


def _readings(readings: Mapping[str, tuple[str, ...]]) -> dict[str, Any]:
    return {name: texts[0] if len(texts) == 1 else list(texts) for name, texts in readings.items()}


def _caution_table(caution: Caution) -> dict[str, Any]:
    table: dict[str, Any] = {"subject": caution.subject}
    for name in ("statements", "advice"):
        if texts := getattr(caution, name):
            table[name] = list(texts)
    return {**table, "source": caution.source}


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _plain(part) for key, part in value.items()}
    return [_plain(part) for part in value] if isinstance(value, tuple) else value


def from_tables(tables: Any) -> dict[str, Any]:
    """Return the arguments of a record from nested dicts and lists.

    ``experiments/FORMAT.md`` explains the fields. The record itself is made by who imports it:
    the record writes itself with this module.

    >>> from stoichkit import experiments
    >>> lab = experiments.load("tin-oxide")
    >>> type(lab)(**from_tables(to_tables(lab))) == lab
    True
    """
    _check_fields(tables, "")
    form = tables.get("format", FORMAT)
    if type(form) is not int or form != FORMAT:
        raise ExperimentError(
            "This form of experiment file is not known.",
            field="format",
            given=form,
            allowed=str(FORMAT),
            fix="It may come from a newer version of stoichkit.",
        )
    consumed = _amount(tables["consumed"], "consumed")
    produced = _amount(tables["produced"], "produced")
    spec = _candidates(tables["candidates"])
    with _at("candidates"):
        candidates = spec.build(consumed.species, produced.species)
    return {
        "title": _scalar(tables["title"], "title"),
        "about": _scalar(tables.get("about", ""), "about"),
        "invented": _scalar(tables.get("invented", False), "invented"),
        "coverage": _scalar(tables.get("coverage", 0.95), "coverage"),
        "recovery": _plain_list(tables.get("recovery", (1.0, 1.0)), "recovery"),
        "variation": _variation(tables.get("variation")),
        "between_groups": _between(tables.get("variation")),
        "prior": _prior(tables.get("prior")),
        "looks": _looks(tables.get("looks")),
        "notes": _plain_list(tables.get("notes", ()), "notes"),
        "instruments": _instruments(tables["instruments"]),
        "consumed": consumed,
        "produced": produced,
        "candidates": candidates,
        "candidate_spec": spec,
        "shared_readings": _shared(tables.get("shared", {})),
        "order": _plain_list(tables.get("order", ()), "order"),
        "trials": _each(tables.get("trials", []), "trials", _trial),
        "cautions": _each(tables.get("cautions", []), "cautions", _caution),
    }


def _check_fields(tables: Any, place: str) -> None:
    if not isinstance(tables, Mapping):
        raise ExperimentError("An experiment is a table of fields.", given=tables)
    for name in tables:
        if name not in _FIELDS:
            raise ExperimentError(
                "This field is not known.",
                field=place + field_path(name),
                allowed=", ".join(_FIELDS),
                fix=nearest(name, _FIELDS),
            )
    for name in ("title", "instruments", "consumed", "produced", "candidates"):
        if name not in tables:
            raise ExperimentError("This field is missing.", field=place + name)


@contextmanager
def _at(field: str) -> Iterator[None]:
    """Say of every fault inside that it is in this field."""
    try:
        yield
    except StoichkitError as error:
        raise relocated(error, field=field) from error


def _table(value: Any, field: str) -> Mapping[str, Any]:
    if not isinstance(value, Mapping):
        raise ExperimentError("This is not a table.", field=field, given=_shown(value))
    return value


def _shown(value: Any) -> Any:
    """Return a value as it is to be shown in a message."""
    return str(value) if isinstance(value, NumberText) else value


def _scalar(value: Any, field: str) -> Any:
    """Return text, number or truth value, numbers as float; refuse lists, tables and dates."""
    if isinstance(value, NumberText):
        return _number(value)
    if isinstance(value, (str, bool, int, float)):
        return value
    raise ExperimentError(
        "A text or a number is needed here.", field=field, given=value, allowed="one value"
    )


def _number(text: NumberText) -> float:
    return float(text.replace("_", ""))


def _plain_list(value: Any, field: str) -> Any:
    """Return a list as a tuple, numbers as float; anything else is left to be refused."""
    if isinstance(value, (list, tuple)):
        return tuple(
            _scalar(part, field_path(field, index)) for index, part in enumerate(value, start=1)
        )
    return _shown(value)


def _deep(value: Any, field: str) -> Any:
    """Return tables and lists with every number as float."""
    if isinstance(value, Mapping):
        return {key: _deep(part, f"{field}.{field_path(key)}") for key, part in value.items()}
    if isinstance(value, list):
        return [_deep(part, f"{field}[{index}]") for index, part in enumerate(value, start=1)]
    return _scalar(value, field)


def _each(value: Any, field: str, make: Callable[[Mapping[str, Any]], T]) -> tuple[T, ...]:
    if not isinstance(value, list):
        raise ExperimentError(
            "This is not a list of tables.",
            field=field,
            given=_shown(value),
            fix=f"Begin each with a line [[{field}]].",
        )
    made = []
    for index, table in enumerate(value, start=1):
        place = field_path(field, index)
        with _at(place):
            made.append(make(_table(table, "")))
    return tuple(made)


def _instruments(value: Any) -> dict[str, Instrument]:
    made = {}
    for name, table in _table(value, "instruments").items():
        place = field_path("instruments", name)
        fields = _deep(_table(table, place), place)
        if "kind" not in fields:
            raise ExperimentError(
                "This field is missing.",
                field=f"{place}.kind",
                allowed="the kind of instrument, such as “balance”",
            )
        with _at(place):
            made[name] = make_instrument(**fields)
    return made


def _amount(value: Any, field: str) -> AmountModel:
    fields = _deep(_table(value, field), field)
    if "routes" in fields:
        fields = _with_routes(fields, field)
    if "kind" not in fields:
        raise ExperimentError(
            "This field is missing.",
            field=f"{field}.kind",
            allowed="the way the amount is measured, such as “mass by difference”",
        )
    _check_shapes(fields, field)
    with _at(field):
        model = from_fields(fields.pop("kind"), fields)
    check_formulas(model, field)
    return model


def _with_routes(fields: dict[str, Any], field: str) -> dict[str, Any]:
    """Return an amount of several routes with its kind and, from its first route, its species."""
    place = f"{field}.routes"
    routes = fields["routes"]
    if not isinstance(routes, list):
        raise ExperimentError(
            "This is not a list of tables.",
            field=place,
            given=routes,
            fix=f"Begin each route with a line [[{place}]].",
        )
    for index, route in enumerate(routes, start=1):
        here = field_path(field, "routes", index)
        if "routes" in _table(route, here):
            raise ExperimentError(
                "A route is one way of measuring.",
                field=f"{here}.routes",
                allowed="a way of measuring without routes of its own",
            )
        _check_shapes(route, here)
    said = {"kind": _SEVERAL}
    if routes and "species" in routes[0]:
        said["species"] = routes[0]["species"]
    return {**said, **fields}


_SEVERAL = "several routes"
_LISTS = ("repeated", "averaged", "same_vessel", "plus", "minus")


def _check_shapes(fields: Mapping[str, Any], place: str) -> None:
    """Refuse lists and tables where an amount has single values, and the other way round."""
    for name, value in fields.items():
        here = f"{place}.{field_path(name)}"
        if name == "concentration":
            _check_shapes(_table(value, here), here)
        elif name in _LISTS:
            if not _is_texts(value):
                raise ExperimentError(
                    "This is not a list of readings.", field=here, given=value, allowed='["…"]'
                )
        elif name == "routes":
            continue  # looked at one by one already
        elif name == "weights":
            if not isinstance(value, list):
                raise ExperimentError(
                    "This is not a list of numbers.", field=here, given=value, allowed="[0.7, 0.3]"
                )
        elif name == "dilutions":
            if not isinstance(value, list) or not all(_is_texts(pair) for pair in value):
                raise ExperimentError(
                    "This is not a list of dilutions.",
                    field=here,
                    given=value,
                    allowed='[["pipette", "flask"]]',
                )
        elif isinstance(value, (list, dict)):
            raise ExperimentError(
                "A text or a number is needed here.", field=here, given=value, allowed="one value"
            )


def _is_texts(value: Any) -> bool:
    return isinstance(value, list) and all(isinstance(text, str) for text in value)


def _candidates(value: Any) -> CandidateSpec:
    table = _table(value, "candidates")
    if len(table) != 1:
        raise ExperimentError(
            "Candidates are stated in one way." if table else "There is no candidate.",
            field="candidates",
            given=", ".join(table) or None,
            allowed=f"one table, {' or '.join(f'[candidates.{kind}]' for kind in SPEC_KINDS)}",
        )
    ((kind, fields),) = table.items()
    with _at("candidates"):
        return CandidateSpec(kind, _deep(fields, field_path(kind)))


def _typed(value: Any, field: str) -> Any:
    """Return a reading as typed text, or a list of such."""
    if isinstance(value, list):
        return [_typed(part, f"{field}[{index}]") for index, part in enumerate(value, start=1)]
    if isinstance(value, NumberText):
        return value.replace("_", "")
    if isinstance(value, int) and not isinstance(value, bool):
        return str(value)
    if isinstance(value, str):
        return value
    raise ExperimentError(
        "This is not a reading.",
        field=field,
        given=value,
        allowed='a number as typed, such as "20.10", or a list of them',
    )


def _shared(value: Any) -> Any:
    table = _table(value, "shared")
    return {name: _typed(typed, field_path("shared", name)) for name, typed in table.items()}


def _trial(table: Mapping[str, Any]) -> Trial:
    if "name" not in table:
        raise ExperimentError("This field is missing.", field="name", allowed='a name, such as "1"')
    readings = {
        name: _typed(typed, field_path(name))
        for name, typed in table.items()
        if name not in RESERVED
    }
    name, group = (_label(table.get(key, ""), key) for key in ("name", "group"))
    own = table.get("instruments", {})
    if isinstance(own, Mapping):
        own = {key: _label(value, field_path("instruments", key)) for key, value in own.items()}
    return Trial(name, FrozenMap(readings), group, own)


def _label(value: Any, field: str) -> str:
    """Return a name; a whole number such as 1 is taken as text."""
    if isinstance(value, int) and not isinstance(value, bool):
        return str(value)
    if isinstance(value, NumberText) or not isinstance(value, str):
        raise ExperimentError(
            "This is not a name.", field=field, given=_shown(value), allowed="text in quotes"
        )
    return value


def _caution(table: Mapping[str, Any]) -> Caution:
    known = ("subject", "statements", "advice", "source")
    for name in table:
        if name not in known:
            raise ExperimentError(
                "This field is not known.",
                field=field_path(name),
                allowed=", ".join(known),
                fix=nearest(name, known),
            )
    for name in ("subject", "source"):
        if name not in table:
            raise ExperimentError("This field is missing.", field=name)
    make = {"subject": _scalar, "source": _scalar}
    return Caution(**{n: make.get(n, _plain_list)(value, n) for n, value in table.items()})


_BARE = re.compile(r"[A-Za-z0-9_-]+")
_CLOSING = re.compile(r'"(?="|\Z)')
_WIDTH = 96
_ESCAPES = {"\\": "\\\\", "\b": "\\b", "\t": "\\t", "\f": "\\f", "\r": "\\r"}


def write_toml(tables: Mapping[str, Any]) -> str:
    """Write nested dicts and lists of text, numbers and truth values as TOML.

    Text of several lines is written as such; a list of dicts becomes an array of tables.

    >>> print(write_toml({"title": "tin", "trials": [{"name": "1", "tube + tin": "9.80"}]}))
    title = "tin"
    <BLANKLINE>
    [[trials]]
    name = "1"
    "tube + tin" = "9.80"
    <BLANKLINE>
    """
    lines = list(_body(tables, ""))
    return "\n".join(lines).strip("\n") + "\n"


def _body(table: Mapping[str, Any], path: str) -> Iterator[str]:
    """Yield the lines of one table: its plain values first, then its tables."""
    for key, value in table.items():
        if not _is_table(value) and not _is_tables(value):
            yield from _assignment(_key(key), value)
    for key, value in table.items():
        inner = f"{path}.{_key(key)}" if path else _key(key)
        if _is_table(value):
            if not value or not all(_is_table(part) for part in value.values()):
                yield from ("", f"[{inner}]")
            yield from _body(value, inner)
        elif _is_tables(value):
            for part in value:
                yield from ("", f"[[{inner}]]")
                yield from _body(part, inner)


def _is_table(value: Any) -> bool:
    return isinstance(value, Mapping)


def _is_tables(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and all(_is_table(part) for part in value)


def _assignment(key: str, value: Any) -> Iterator[str]:
    line = f"{key} = {_value(value)}"
    if isinstance(value, list) and len(line) > _WIDTH:
        yield f"{key} = ["
        yield from (f"    {_value(part)}," for part in value)
        yield "]"
    else:
        yield line


def _key(key: str) -> str:
    return key if _BARE.fullmatch(key) else _text(key)


def _value(value: Any) -> str:
    if isinstance(value, str):
        return _long_text(value) if "\n" in value else _text(value)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, float)):
        return repr(value)
    if isinstance(value, list):
        return f"[{', '.join(_text(v) if isinstance(v, str) else _value(v) for v in value)}]"
    raise ExperimentError("This value cannot be written.", given=value)


def _escaped(text: str) -> str:
    return "".join(
        _ESCAPES.get(c) or (c if c >= " " and c != "\x7f" else f"\\u{ord(c):04X}") for c in text
    )


def _text(text: str) -> str:
    """Write text on one line."""
    return '"' + _escaped(text).replace('"', '\\"').replace("\\u000A", "\\n") + '"'


def _long_text(text: str) -> str:
    """Write text on several lines; the line break after the opening quotes does not count."""
    body = "\n".join(_escaped(line) for line in text.split("\n"))
    return '"""\n' + _CLOSING.sub(r'\\"', body) + '"""'


MAX_BYTES = 1_000_000
"""Largest experiment file that is read."""
_LINE = re.compile(r" ?\(at (?:line (\d+), column (\d+)|end of document)\)")
_LONG_KEY = re.compile(
    r"""(?<![\w-])(?:(?:[\w-]+|"[^"\n]*"|'[^'\n]*')[ \t]*\.[ \t]*){20}""", re.ASCII
)
_COMMA = re.compile(r"=\s*[+-]?[0-9]+,[0-9]+\s*(#.*)?$")


def toml_tables(text: str) -> dict[str, Any]:
    """Parse TOML, with what it says about a fault put in our words."""
    if not isinstance(text, str):
        raise ExperimentError("An experiment is read from text.", given=text)
    _check_size(len(text.encode("utf-8", "surrogatepass")))
    if found := _LONG_KEY.search(text):  # tomllib takes quadratic time over such a name
        raise ExperimentError(
            "A name has too many parts with dots between them.",
            field=f"line {text[: found.start()].count(chr(10)) + 1}",
            given=found[0],
            allowed="at most 20",
            fix="Write a name that has dots in it in quotes.",
        )
    try:
        return tomllib.loads(text.removeprefix("\ufeff"), parse_float=NumberText)
    except tomllib.TOMLDecodeError as error:
        _refuse_toml(text, error)
    except RecursionError:
        raise ExperimentError("Lists or tables are nested too deeply.") from None
    except ValueError as error:
        raise ExperimentError(f"A number in the file cannot be read: {error}.") from error


def _refuse_toml(text: str, error: tomllib.TOMLDecodeError) -> NoReturn:
    message = str(error)
    found = _LINE.search(message)
    lines = text.splitlines() or [""]
    number = int((found and found[1]) or len(lines))
    line = lines[min(number, len(lines)) - 1]
    fix = "Check quotes, brackets and equals signs in this line and the one before."
    if _COMMA.search(line):
        fix = 'A number with a decimal comma stands in quotes: "1,50".'
    elif "Cannot overwrite" in message or "twice" in message:
        fix = "A name may be given once in each table."
    raise ExperimentError(
        f"This is not TOML: {_LINE.sub('', message)}.",
        field=f"line {number}",
        given=line.strip() or None,
        fix=fix,
    ) from error


def _check_size(size: int) -> None:
    if size > MAX_BYTES:
        raise ExperimentError(
            "The file is too large to be an experiment record.",
            given=f"{size:,} bytes",
            allowed=f"at most {MAX_BYTES:,} bytes",
            fix="Keep class data with many groups in a table (CSV or XLSX).",
        )


def to_toml(experiment: Experiment) -> str:
    """Write the record as TOML; see :meth:`Experiment.to_toml`.

    >>> from stoichkit import experiments
    >>> to_toml(experiments.load("tin-oxide")).startswith("format = 1")
    True
    """
    return write_toml(to_tables(experiment))


def to_json(experiment: Experiment) -> str:
    """Write the record as JSON; see :meth:`Experiment.to_json`.

    >>> from stoichkit import experiments
    >>> to_json(experiments.load("tin-oxide")).splitlines()[1]
    '  "format": 1,'
    """
    return json.dumps(to_tables(experiment), ensure_ascii=False, indent=2) + "\n"


def parse_json(text: str) -> dict[str, Any]:
    """Return the arguments of a record that :func:`to_json` wrote.

    >>> from stoichkit import experiments
    >>> parse_json(to_json(experiments.load("tin-oxide")))["title"]
    'Which oxide does tin form?'
    """
    if not isinstance(text, str):
        raise ExperimentError("An experiment is read from text.", given=text)
    _check_size(len(text.encode("utf-8", "surrogatepass")))
    try:
        tables = json.loads(
            text,
            parse_float=NumberText,
            parse_constant=_refuse_constant,
            object_pairs_hook=_pairs,
        )
    except json.JSONDecodeError as error:
        raise ExperimentError(
            f"This is not JSON: {error.msg}.", field=f"line {error.lineno}"
        ) from error
    except RecursionError:
        raise ExperimentError("Lists or tables are nested too deeply.") from None
    except ExperimentError:
        raise
    except ValueError as error:
        raise ExperimentError(f"A number in the text cannot be read: {error}.") from error
    return from_tables(tables)


def _refuse_constant(word: str) -> NoReturn:
    raise ExperimentError("This is not a finite number.", given=word)


def _pairs(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Return one JSON object, refusing a name given twice."""
    table = dict(pairs)
    if len(table) < len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise ExperimentError("A name is given twice in one table.", given=twice)
    return table
