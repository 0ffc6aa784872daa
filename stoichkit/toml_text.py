"""Writing plain tables as TOML (version 1.0); the standard library only reads it."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

from .errors import ExperimentError

__all__ = ["write_toml"]

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_CLOSING = re.compile(r'"(?="|\Z)')
_WIDTH = 96
_ESCAPES = {"\\": "\\\\", "\b": "\\b", "\t": "\\t", "\f": "\\f", "\r": "\\r"}


def write_toml(tables: Mapping[str, Any]) -> str:
    """Write nested dicts and lists of text, numbers and truth values as TOML.

    Text of several lines is written as such; a list of dicts becomes an array of tables.

    Parameters
    ----------
    tables : mapping
        Keys are text.

    Raises
    ------
    ExperimentError
        If a value has no TOML form here.

    Examples
    --------
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
