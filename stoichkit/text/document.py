"""Headings, paragraphs, lists and tables, written as plain text or as Markdown.

Parts hold plain text only. It is made harmless here: on a terminal by replacing what acts on
it, in Markdown by writing every character that could act as markup as an entity.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable
from dataclasses import dataclass
from urllib.parse import quote

__all__ = [
    "Bullets",
    "Part",
    "Section",
    "Table",
    "escaped_markdown",
    "markdown_document",
    "markdown_part",
    "markdown_picture",
    "text_document",
    "text_part",
]

_WIDTH = 88
_NARROWEST = 8


@dataclass(frozen=True, slots=True)
class Bullets:
    """A list of sentences."""

    items: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """A table of plain text; every row is as long as the header."""

    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


Part = str | Bullets | Table
"""A paragraph, a list or a table."""


@dataclass(frozen=True, slots=True)
class Section:
    """A heading with paragraphs (str), lists and tables below it, at least one."""

    title: str
    parts: tuple[Part, ...]


def _clean(text: str) -> str:
    """Put text on one line and replace characters that act on a terminal or a page."""
    line = " ".join(text.split())
    return "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in line)


def text_document(title: str, opening: Iterable[str], sections: Iterable[Section]) -> str:
    """Write a document as plain text, at most 88 columns wide.

    Parameters
    ----------
    title : str
    opening : iterable of str
        Paragraphs between the title and the first section.
    sections : iterable of Section

    Examples
    --------
    >>> print(text_document("Title", ["Words."], [Section("First", (Bullets(("a", "b")),))]))
    Title
    =====
    <BLANKLINE>
    Words.
    <BLANKLINE>
    First
    -----
    <BLANKLINE>
    - a
    - b
    <BLANKLINE>
    """
    blocks = [_heading(title, "="), *(text_part(text) for text in opening)]
    for section in sections:
        blocks.append(_heading(section.title, "-"))
        blocks += [text_part(part) for part in section.parts]
    return "\n\n".join(blocks) + "\n"


def _heading(text: str, mark: str) -> str:
    lines = textwrap.wrap(_clean(text), _WIDTH)
    return "\n".join([*lines, mark * max(len(line) for line in lines)])


def _wrapped(text: str, indent: str = "") -> str:
    return textwrap.fill(
        _clean(text), _WIDTH, initial_indent=indent, subsequent_indent=" " * len(indent)
    )


def text_part(part: Part) -> str:
    """Write a paragraph, a list or a table as plain text.

    >>> print(text_part(Table(("a", "long name"), (("1", "x"),))))
    a  long name
    -  ---------
    1  x
    """
    if isinstance(part, str):
        return _wrapped(part)
    if isinstance(part, Bullets):
        return "\n".join(_wrapped(item, "- ") for item in part.items)
    rows = [[_clean(cell) for cell in row] for row in (part.header, *part.rows)]
    widths = _column_widths(rows)
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


def _column_widths(rows: list[list[str]]) -> list[int]:
    """Narrow the widest columns until the table fits: headers first, then cells."""
    columns = list(zip(*rows, strict=True))
    widths = [max(len(cell) for cell in column) for column in columns]
    words = [max((len(w) for w in column[0].split()), default=1) for column in columns]
    floors = [
        max(word, *(len(cell) for cell in column[1:]))
        for word, column in zip(words, columns, strict=True)
    ]
    room = _WIDTH - 2 * (len(widths) - 1)
    for limits in (floors, [min(floor, _NARROWEST) for floor in floors]):
        while sum(widths) > room:
            slack = [w if w > limit else 0 for w, limit in zip(widths, limits, strict=True)]
            if not any(slack):
                break
            widths[slack.index(max(slack))] -= 1
    return widths


_ACTIVE = re.compile(r"[#&<>\\`*_\[\]|~$^]|:(?=//)|@|(?i:w)(?=(?i:ww)\.)")
_START = re.compile(r"[-+](?=[\s-]|$)|[=:]|\d+[.)](?=\s|$)")
_NAMED = {"&": "&amp;", "<": "&lt;", ">": "&gt;"}


def escaped_markdown(text: str) -> str:
    """Write text so that it is shown as it stands and never acts as Markdown or HTML.

    >>> escaped_markdown("1. <b>*a*</b> | $x$")
    '1&#46; &lt;b&gt;&#42;a&#42;&lt;/b&gt; &#124; &#36;x&#36;'
    """
    plain = _ACTIVE.sub(lambda m: _NAMED.get(m[0]) or f"&#{ord(m[0])};", _clean(text))
    start = _START.match(plain)
    if start is None:
        return plain
    marked = start[0]
    return f"{marked[:-1]}&#{ord(marked[-1])};{plain[start.end() :]}"


def markdown_document(title: str, opening: Iterable[str], sections: Iterable[Section]) -> str:
    """Write a document as Markdown; paragraphs of the opening are Markdown already.

    >>> print(markdown_document("a_b", ["**Words.**"], [Section("First", ("x < y",))]))
    # a&#95;b
    <BLANKLINE>
    **Words.**
    <BLANKLINE>
    ## First
    <BLANKLINE>
    x &lt; y
    <BLANKLINE>
    """
    blocks = [f"# {escaped_markdown(title)}", *opening]
    for section in sections:
        blocks.append(f"## {escaped_markdown(section.title)}")
        blocks += [markdown_part(part) for part in section.parts]
    return "\n\n".join(blocks) + "\n"


def markdown_picture(where: str, alt_text: str) -> str:
    """Write a picture; the path or address is relative to the document.

    >>> markdown_picture("my lab.png", "A plane")
    '![A plane](<my%20lab.png>)'
    """
    target = quote(where.replace("\\", "/"), safe="/:;,+=")
    return f"![{escaped_markdown(alt_text)}](<{target}>)"


def markdown_part(part: Part) -> str:
    """Write one paragraph, list or table as Markdown.

    >>> print(markdown_part(Table(("who", "how many"), (("Ag", "2"),))))
    | who | how many |
    | --- | --- |
    | Ag | 2 |
    """
    if isinstance(part, str):
        return escaped_markdown(part)
    if isinstance(part, Bullets):
        return "\n".join(f"- {escaped_markdown(item)}" for item in part.items)
    rows = [[escaped_markdown(cell) for cell in row] for row in (part.header, *part.rows)]
    rows.insert(1, ["---"] * len(part.header))
    return "\n".join(f"| {' | '.join(row)} |" for row in rows)
