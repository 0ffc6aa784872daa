"""Cards and labels to print: each whole on its page or in its field, on A4 and on Letter paper.

Nothing is cut to make a card fit. How high its content becomes is worked out from the widths of
letters, and the largest type is taken in which it fits; whoever makes cards asks :func:`type_size`
first, and puts on a further card what does not fit on one.
"""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby, pairwise

from ..errors import ModelError
from .document import Document
from .html import Cell, escaped, html_heading, html_page, html_part, html_table
from .parts import Bullets, Field, Part, Section, Strong, Subheading, Table, one_line

WIDTH_MM, HEIGHT_MM = 184.0, 254.0
"""What is printed on: narrower than A4 and lower than Letter, margins taken off."""
BOX = "□"
"""One digit to be written; drawn as a box on paper, and left as this sign in a text."""
_SIZES_PT = (10.5, 10.0, 9.5, 9.0, 8.5, 8.0)
_LABEL_PT = (11.0, 10.0, 9.0, 8.5, 8.0, 7.5, 7.0)
_FIELDS = ((3, 8), (2, 4), (1, 4), (1, 2), (1, 1))
"""Columns and rows of a sheet of labels, the smallest labels first."""
_GAP_MM = 2.0
_PAD_MM = 2.0
_MM = 25.4 / 72
_LINE = 1.25
_BOX_MM, _ROW_MM, _WRITE_MM = 4.2, 7.4, 9.0
_NAMES_MM = 52.0
_WIDE, _NARROW = frozenset("mwMW@%—…"), frozenset("iljftrI.,:;'|!()[] -")
_STYLE = f"""
:root {{ color-scheme: light; }}
* {{ box-sizing: border-box; }}
body {{ font: 10pt/{_LINE} "Liberation Sans", Arial, Helvetica, sans-serif; color: #111;
  background: #fff; margin: 0 auto; width: {WIDTH_MM + 8:g}mm; padding: 4mm;
  overflow-wrap: anywhere; }}
h1 {{ font-size: 15pt; margin: 0 0 3mm; }}
.card {{ width: {WIDTH_MM:g}mm; break-after: page; break-inside: avoid; }}
.card:last-child, .sheet:last-child {{ break-after: auto; }}
.card h2 {{ font-size: 1.35em; line-height: 1.2; margin: 0 0 0.3em; }}
.card h3 {{ font-size: 1.05em; line-height: 1.2; margin: 0.6em 0 0.2em; }}
.card p, .card ul, .label p, .label ul {{ margin: 0 0 0.3em; }}
.card p.first, .label p.first {{ font-weight: 600; }}
ul {{ padding-left: 4mm; }}
li {{ margin: 0 0 0.1em; }}
table {{ border-collapse: collapse; width: 100%; table-layout: fixed; margin: 1mm 0 2mm; }}
th, td {{ border: 0.2mm solid #666; padding: 0.4mm 1mm; text-align: left; height: {_ROW_MM}mm;
  vertical-align: middle; font-weight: 400; }}
thead th {{ background: #ececec; font-weight: 600; print-color-adjust: exact;
  -webkit-print-color-adjust: exact; }}
table.boxed th:first-child, table.boxed td:first-child {{ width: {_NAMES_MM:g}mm; }}
.digits {{ white-space: nowrap; }}
.digits i {{ display: inline-block; width: {_BOX_MM - 0.2}mm; height: 5.4mm; margin-right: 0.2mm;
  border: 0.25mm solid #555; vertical-align: middle; }}
.digits b {{ display: inline-block; min-width: 1.6mm; text-align: center; }}
.lines {{ display: flex; gap: 5mm; margin: 0 0 1mm; }}
.lines p {{ flex: 1; min-width: 0; border-bottom: 0.25mm solid #555; min-height: {_WRITE_MM}mm;
  margin: 0; font-size: 0.9em; }}
.sheet {{ width: {WIDTH_MM:g}mm; height: {HEIGHT_MM:g}mm; display: grid; gap: {_GAP_MM}mm;
  break-after: page; break-inside: avoid; }}
.label {{ border: 0.25mm dashed #777; padding: {_PAD_MM}mm; min-width: 0; min-height: 0; }}
.label h2 {{ font-size: 1.2em; line-height: 1.2; margin: 0 0 0.2em; }}
@page {{ margin: 11mm 12mm; }}
@media screen {{ .card {{ padding-bottom: 8mm; margin-bottom: 8mm; border-bottom: 1px solid #777; }}
  .sheet {{ margin-bottom: 8mm; }} }}
@media print {{ body {{ padding: 0; margin: 0; width: {WIDTH_MM:g}mm; }} h1 {{ display: none; }} }}
""".strip()


# How much room text takes


@lru_cache(maxsize=2048)
def _em(letter: str) -> float:
    """Return about how wide a letter is, in ems of a sans serif type, rather too much."""
    if unicodedata.east_asian_width(letter) in "WF":
        return 1.0
    if letter in _WIDE:
        return 0.92
    if letter in _NARROW:
        return 0.33
    return 0.73 if letter.isupper() else 0.565


def _lines(text: str, width_mm: float, size_pt: float) -> int:
    """Return in how many lines a text is set, words broken only where they are too long."""
    room = max(width_mm / (size_pt * _MM), 1.0)
    count, used = 1, 0.0
    for word in one_line(text).split(" "):
        wide = sum(map(_em, word))
        if used and used + wide > room:
            count, used = count + 1, 0.0
        if wide > room:  # a line of it holds a letter, or all but the place of one
            more = math.ceil(wide / max(room - 1.0, 1.0)) - 1
            count, used = count + more, room
        else:
            used += wide + 0.3
    return count


def _height_mm(parts: Sequence[Part], width_mm: float, size_pt: float) -> float:
    """Return how high parts become, mm."""
    em = size_pt * _MM
    total = 0.0
    for run in _runs(parts):
        match run[0]:
            case Field():
                each = (width_mm - 5 * (len(run) - 1)) / len(run)
                words = max(_lines(one.words, each, 0.9 * size_pt) for one in run)  # type: ignore[union-attr]
                total += max(_WRITE_MM, words * _LINE * 0.9 * em + 4.0) + 1.0
            case str(text):
                total += _lines(text, width_mm, size_pt) * _LINE * em + 0.3 * em
            case Strong(text):
                total += _lines(text, 0.93 * width_mm, size_pt) * _LINE * em + 0.3 * em
            case Subheading(text):
                total += _lines(text, 0.9 * width_mm, 1.05 * size_pt) * 1.27 * em + 0.85 * em
            case Bullets(items):
                count = sum(_lines(item, width_mm - 4.5, size_pt) for item in items)
                total += (count * _LINE + 0.1 * len(items) + 0.3) * em
            case Table():
                total += _table_mm(run[0], width_mm, size_pt) + 3.0
            case _:
                raise ModelError(
                    "A card holds words, lists, tables and lines to be filled in.",
                    given=type(run[0]).__name__,
                )
    return total


def _table_mm(table: Table, width_mm: float, size_pt: float) -> float:
    """Return how high a table becomes, mm; its first column has a width of its own."""
    others = max(len(table.header) - 1, 1)
    each = (width_mm - _NAMES_MM) / others - 2.4
    total = 0.0
    for row in (table.header, *table.rows):
        lines = max(
            1 if BOX in cell else _lines(cell, each if i else _NAMES_MM - 2.4, size_pt)
            for i, cell in enumerate(row)
        )
        total += max(_ROW_MM, lines * _LINE * size_pt * _MM + 1.2) + 0.2
    return total


def boxes_mm(text: str) -> float:
    """Return how wide boxes for digits become, mm.

    >>> boxes_mm("□□.□")
    14.2
    """
    return round(sum(_BOX_MM if c == BOX else 1.6 for c in text), 1)


def columns_for(boxes: str) -> int:
    """Return how many columns of such boxes stand side by side on a card, at least one."""
    return max(int((WIDTH_MM - _NAMES_MM) / (boxes_mm(boxes) + 2.6)), 1)


def _runs(parts: Sequence[Part]) -> Iterator[list[Part]]:
    """Yield the parts one by one, lines to be filled in that follow each other together."""
    for is_field, group in groupby(parts, key=lambda one: isinstance(one, Field)):
        if is_field:
            fields = list(group)
            yield from (fields[i : i + 3] for i in range(0, len(fields), 3))
        else:
            yield from ([one] for one in group)


def type_size(section: Section) -> float | None:
    """Return the size of type, in points, in which a card fits on its page; None for none.

    >>> type_size(Section("Group 1", ("Read the balance.",)))
    10.5
    >>> type_size(Section("Group 1", ("Read the balance. " * 900,))) is None
    True
    """
    for size in _SIZES_PT:
        title = _lines(section.title, 0.9 * WIDTH_MM, 1.35 * size) * 1.2 * 1.35 + 0.41
        if title * size * _MM + _height_mm(section.parts, WIDTH_MM, size) <= HEIGHT_MM - 4:
            return size
    return None


def packed(title: str, items: Iterable[str]) -> tuple[Section, ...]:
    """Return a list of sentences on as few cards as hold it, numbered if there are several.

    A sentence too long for a card of its own goes on on the next.
    """
    cards: list[list[str]] = [[]]
    queue = list(items)
    while queue:
        item = queue.pop(0)
        tried = Section(f"{title} 99 of 99", (Bullets((*cards[-1], item)),))
        if type_size(tried) is not None:
            cards[-1].append(item)
        elif cards[-1]:
            cards.append([])
            queue.insert(0, item)
        else:
            middle = len(item) // 2
            near = item.find(" ", middle, middle + len(item) // 4)
            at = max(near, middle)  # a word longer than a card is cut
            queue[:0] = [f"{item[:at]} …", f"… {item[at:].strip()}"]
    found = [Bullets(tuple(card)) for card in cards if card]
    numbered = len(found) > 1
    return tuple(
        Section(f"{title}, {i} of {len(found)}" if numbered else title, (one,))
        for i, one in enumerate(found, 1)
    )


# The pages


@dataclass(frozen=True, slots=True, repr=False)
class Cards(Document):
    """A document of which each section is printed as one card on a page of its own.

    Raises
    ------
    ModelError
        When written as HTML, if a card does not fit on its page.

    Examples
    --------
    >>> cards = Cards("Cards", (), (Section("Group 1", ("Wire: □□.□□ g",)),))
    >>> cards.html().count('class="card"'), cards.text().count("□")
    (1, 4)
    """

    def html(self) -> str:
        """Write one page to print, card by card; it loads nothing."""
        return html_page(self.title, self._body(), style=_STYLE)

    def _body(self) -> str:
        written = [html_heading(self.title, 1), *(html_part(one) for one in self.opening)]
        for section in self.sections:
            size = type_size(section)
            if size is None:
                raise ModelError(
                    "A card does not fit on one page.",
                    given=section.title,
                    allowed=f"{HEIGHT_MM:g} mm in type of {_SIZES_PT[-1]:g} points",
                    fix="Put a part of it on another card.",
                )
            written.append(
                f'<section class="card" style="font-size:{size:g}pt">\n'
                f"{html_heading(section.title, 2)}\n{_html(section.parts)}\n</section>"
            )
        return "\n".join(written)


@dataclass(frozen=True, slots=True, repr=False)
class Labels(Document):
    """A document of which each section is a label; sheets hold as many as fit, small ones first.

    Raises
    ------
    ModelError
        When written as HTML, if a label is larger than a sheet.

    Examples
    --------
    >>> labels = Labels("Labels", (), tuple(Section(f"Group {i}", ("wire",)) for i in range(25)))
    >>> page = labels.html()
    >>> page.count('class="label"'), page.count('class="sheet"')
    (25, 2)
    """

    def html(self) -> str:
        """Write one page to print, sheet by sheet; it loads nothing."""
        written = [html_heading(self.title, 1), *(html_part(one) for one in self.opening)]
        by_field: dict[tuple[int, int], list[str]] = {field: [] for field in _FIELDS}
        for section in self.sections:
            field, size = _field_of(section)
            by_field[field].append(
                f'<section class="label" style="font-size:{size:g}pt">\n'
                f"{html_heading(section.title, 2)}\n{_html(section.parts)}\n</section>"
            )
        _fill_gaps(by_field)
        for (columns, rows), labels in by_field.items():
            grid = (
                f"grid-template-columns:repeat({columns},minmax(0,1fr));"
                f"grid-template-rows:repeat({rows},minmax(0,1fr))"
            )
            for i in range(0, len(labels), columns * rows):
                body = "\n".join(labels[i : i + columns * rows])
                written.append(f'<div class="sheet" style="{grid}">\n{body}\n</div>')
        return html_page(self.title, "\n".join(written), style=_STYLE)


def _fill_gaps(by_field: dict[tuple[int, int], list[str]]) -> None:
    """Put the labels of a last sheet into free fields of larger ones, if they all fit there."""
    for (columns, rows), (wider, longer) in pairwise(_FIELDS):
        small, large = by_field[columns, rows], by_field[wider, longer]
        left = len(small) % (columns * rows)
        if large and left <= -len(large) % (wider * longer):
            large += small[len(small) - left :]
            del small[len(small) - left :]


def _field_of(section: Section) -> tuple[tuple[int, int], float]:
    """Return the smallest field that holds a label, and the largest type in which it does."""
    for columns, rows in _FIELDS:
        inner = 2 * _PAD_MM + 0.5
        width = (WIDTH_MM - (columns - 1) * _GAP_MM) / columns - inner
        height = (HEIGHT_MM - (rows - 1) * _GAP_MM) / rows - inner
        for size in _LABEL_PT:
            title = _lines(section.title, 0.92 * width, 1.2 * size) * 1.2 * 1.2 + 0.24
            longest = max(map(len, section.title.split()), default=0)
            broken = longest * 0.6 * 1.2 * size * _MM > width and size > _LABEL_PT[-1]
            if not broken and title * size * _MM + _height_mm(section.parts, width, size) <= height:
                return (columns, rows), size
    raise ModelError(
        "A label is larger than a sheet of paper.",
        given=section.title,
        fix="Shorten its text.",
    )


def _html(parts: Sequence[Part]) -> str:
    """Write the parts of a card or label."""
    return "\n".join(map(_run_html, _runs(parts)))


def _run_html(run: Sequence[Part]) -> str:
    match run[0]:
        case Field():
            lines = (f"<p>{escaped(_said(one))}</p>" for one in run if isinstance(one, Field))
            return f'<div class="lines">{"".join(lines)}</div>'
        case Table(header, rows, caption):
            cells = [(name, *map(_cell, others)) for name, *others in rows]
            return html_table(header, cells, caption, look="boxed")
        case Strong(text):
            return f'<p class="first">{escaped(one_line(text))}</p>'
        case _:
            return html_part(run[0])


def _said(field: Field) -> str:
    return one_line(f"{field.label}: {field.value}".strip())


def _cell(text: str) -> str | Cell:
    """Draw the digits to be written as boxes; other cells stay text."""
    if BOX not in text:
        return text
    boxes = "".join("<i></i>" if c == BOX else f"<b>{escaped(c)}</b>" for c in text)
    words = escaped(f"{text.count(BOX)} digits to write")
    return Cell(f'<span class="digits" role="img" aria-label="{words}">{boxes}</span>')
