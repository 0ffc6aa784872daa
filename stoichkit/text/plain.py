"""Parts of a page as plain text and as Markdown, in which text of users never acts."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable
from typing import assert_never, get_args
from urllib.parse import quote

from ..uncertainty import entry
from .parts import (
    Bullets,
    Equation,
    Field,
    Part,
    Picture,
    Strong,
    Subheading,
    Table,
    Token,
    one_line,
)

_WIDTH = 88
_NARROWEST, _LONG_WORD = 8, 16
"""Characters of the narrowest columns, and of words that are not broken in a wide table."""
_MARKS = "=-~"
_ACTIVE = re.compile(r"[#&<>\\`*_\[\]|~$^]|:(?=//)|@|(?i:w)(?=(?i:ww)\.)")
_START = re.compile(r"[-+](?=[\s-]|$)|[=:]|\d+[.)](?=\s|$)")
_NAMED = {"&": "&amp;", "<": "&lt;", ">": "&gt;"}


def text_heading(text: str, level: int) -> str:
    """Write a heading of level 1 to 3, underlined.

    >>> print(text_heading("First", 2))
    First
    -----
    """
    lines = textwrap.wrap(one_line(text), _WIDTH)
    return "\n".join([*lines, _MARKS[level - 1] * max(len(line) for line in lines)])


def text_part(part: Part) -> str:
    """Write a part as plain text, at most 88 columns wide; a picture as its description.

    >>> print(text_part(Table(("a", "long name"), (("1", "x"),), "Things")))
    Things:
    <BLANKLINE>
    a  long name
    -  ---------
    1  x
    """
    entry.record("part", part, *get_args(Part))
    match part:
        case str(text) | Strong(text):
            return _wrapped(text)
        case Subheading(text):
            return text_heading(text, 3)
        case Bullets(items):
            return "\n".join(_wrapped(item, "- ") for item in items)
        case Equation():
            return _wrapped(_equation(part))
        case Picture() | Field():
            return _wrapped(part.words)
        case Table(_, _, caption):
            return f"{_wrapped(f'{caption}:')}\n\n{_table(part)}" if caption else _table(part)
        case _:
            assert_never(part)


def _wrapped(text: str, indent: str = "") -> str:
    """Break a paragraph into lines."""
    return textwrap.fill(
        one_line(text), _WIDTH, initial_indent=indent, subsequent_indent=" " * len(indent)
    )


def _table(table: Table) -> str:
    """Write a table, long cells over several lines."""
    rows = [[one_line(cell) for cell in row] for row in (table.header, *table.rows)]
    widths = text_widths(rows)
    lines = []
    for number, row in enumerate(rows):
        cells = [textwrap.wrap(cell, w) or [""] for cell, w in zip(row, widths, strict=True)]
        for i in range(max(len(cell) for cell in cells)):
            shown = (cell[i] if i < len(cell) else "" for cell in cells)
            padded = (text.ljust(w) for text, w in zip(shown, widths, strict=True))
            lines.append("  ".join(padded).rstrip())
        if number == 0:
            lines.append("  ".join("-" * w for w in widths))
    return "\n".join(lines)


def text_widths(rows: list[list[str]]) -> list[int]:
    """Return widths of columns in which a table fits, the widest narrowed: headers first.

    Usual words are never broken, even if the table is too wide then.

    >>> text_widths([["name", "what it is"], ["a", "word " * 30]])
    [4, 82]
    """
    columns = list(zip(*rows, strict=True))
    widths = [max(1, *map(len, column)) for column in columns]
    floors = [max(1, _longest(column), *map(len, column[1:])) for column in columns]
    words = [max(min(_longest(column), _LONG_WORD), _NARROWEST) for column in columns]
    room = _WIDTH - 2 * (len(widths) - 1)
    for limits in (floors, list(map(min, floors, words))):
        while sum(widths) > room:
            slack = [w if w > limit else 0 for w, limit in zip(widths, limits, strict=True)]
            if not any(slack):
                break
            widths[slack.index(max(slack))] -= 1
    return widths


def _longest(cells: Iterable[str]) -> int:
    return max(len(word) for cell in cells for word in cell.split() or [""])


def equation_sides(equation: Equation) -> list[str]:
    """Write what stands between the equals signs of an equation.

    >>> equation_sides(Equation(((Token("symbol", "n(H2O)"),), (Token("number", "2 mol"),))))
    ['n(H₂O)', '2 mol']
    """
    return equation.written(_token)


def _token(token: Token) -> str:
    """Write a token with subscripts and superscripts."""
    species = token.species
    return f"{species[0]}({species[1].unicode()})" if species else token.words


def _equation(equation: Equation) -> str:
    """Write an equation with its remark on one line."""
    return f"{' = '.join(equation_sides(equation))} {equation.remark}".strip()


def escaped_markdown(text: str) -> str:
    """Write text so that it is shown as it stands and never acts as Markdown or HTML.

    >>> escaped_markdown("1. <b>*a*</b> | $x$")
    '1&#46; &lt;b&gt;&#42;a&#42;&lt;/b&gt; &#124; &#36;x&#36;'
    """
    plain = _ACTIVE.sub(lambda m: _NAMED.get(m[0]) or f"&#{ord(m[0])};", one_line(text))
    start = _START.match(plain)
    if start is None:
        return plain
    marked = start[0]
    return f"{marked[:-1]}&#{ord(marked[-1])};{plain[start.end() :]}"


def markdown_heading(text: str, level: int) -> str:
    """Write a heading.

    >>> markdown_heading("a_b", 2)
    '## a&#95;b'
    """
    return f"{'#' * level} {escaped_markdown(text)}"


def markdown_part(part: Part) -> str:
    """Write a part as Markdown; a picture as its description, or as a link to its file.

    >>> print(markdown_part(Table(("who", "how many"), (("Ag", "2"),))))
    | who | how many |
    | --- | --- |
    | Ag | 2 |
    """
    entry.record("part", part, *get_args(Part))
    match part:
        case str(text):
            return escaped_markdown(text)
        case Strong(text):
            return f"**{escaped_markdown(text)}**"
        case Subheading(text):
            return markdown_heading(text, 3)
        case Bullets(items):
            return "\n".join(f"- {escaped_markdown(item)}" for item in items)
        case Equation():
            return escaped_markdown(_equation(part))
        case Field():
            return escaped_markdown(part.words)
        case Picture(_, alt_text, caption, file):
            if not file:
                return escaped_markdown(part.words)
            target = quote(file.replace("\\", "/"), safe="/:;,+=")
            shown = f"![{escaped_markdown(alt_text)}](<{target}>)"
            return f"{shown}\n\n{escaped_markdown(caption)}" if caption else shown
        case Table(header, rows, caption):
            cells = [[escaped_markdown(cell) for cell in row] for row in (header, *rows)]
            cells.insert(1, ["---"] * len(header))
            table = "\n".join(f"| {' | '.join(row)} |" for row in cells)
            return f"{escaped_markdown(caption)}:\n\n{table}" if caption else table
        case _:
            assert_never(part)
