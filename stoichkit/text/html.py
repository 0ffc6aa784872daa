"""Parts of a page as HTML, and a page that loads nothing: the only place where HTML is escaped.

Whoever puts text into HTML uses :func:`escaped`, and whoever writes a table :func:`html_table`.
Pages name their language, print on A4 and on Letter paper, and follow a dark screen.
"""

from __future__ import annotations

import base64
import html
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from html.parser import HTMLParser
from typing import assert_never

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

_SHORT_TABLE = 6
"""Tables of no more rows are kept on one page."""
_SHORT_CELL = 8
"""Cells of no more characters, such as "< 0.0001", are kept on one line."""
_STYLE = """
:root { color-scheme: light; --ink: #111; --soft: #333; --line: #777; --paper: #fff;
  --head: #ececec; --first: #f1f5f9; --mark: #0072b2; }
@media screen and (prefers-color-scheme: dark) { :root { color-scheme: dark; --ink: #eaeaea;
  --soft: #c8c8c8; --line: #8c8c8c; --paper: #161616; --head: #2c2c2c; --first: #1c2733;
  --mark: #56b4e9; } }
* { box-sizing: border-box; }
body { font: 11pt/1.45 system-ui, "Liberation Sans", "DejaVu Sans", sans-serif; color: var(--ink);
  background: var(--paper); max-width: 190mm; margin: 0 auto; padding: 8mm 6mm;
  overflow-wrap: break-word; }
h1 { font-size: 17pt; line-height: 1.2; margin: 0 0 4mm; }
h2 { font-size: 12.5pt; margin: 7mm 0 2mm; border-bottom: 0.4mm solid var(--line);
  padding-bottom: 1mm; break-after: avoid; }
p, ul { margin: 0 0 2.5mm; }
ul { padding-left: 6mm; }
li { margin-bottom: 1mm; }
.stoichkit-wide { overflow-x: auto; margin: 0 0 4mm; }
table { border-collapse: collapse; width: 100%; font-size: 9.5pt; line-height: 1.3; }
caption { text-align: left; font-weight: 600; padding: 1mm 0; break-after: avoid; }
th, td { border: 0.2mm solid var(--line); padding: 1mm 1.6mm; text-align: left;
  vertical-align: top; }
thead th { background: var(--head); print-color-adjust: exact; -webkit-print-color-adjust: exact; }
tbody th, .first strong { font-weight: 600; }
.whole { white-space: nowrap; }
tr, .short { break-inside: avoid; }
tbody tr:first-child { break-before: avoid; }
thead { display: table-header-group; }
h3 { font-size: 11pt; margin: 4mm 0 1.5mm; break-after: avoid; }
.first { font-size: 12.5pt; border-left: 1.2mm solid var(--mark);
  padding: 2mm 3mm; background: var(--first); break-inside: avoid; text-wrap: pretty;
  print-color-adjust: exact; -webkit-print-color-adjust: exact; }
figure { margin: 0 0 4mm; break-inside: avoid; }
figure svg { width: 100%; min-width: 140mm; max-width: 165mm !important; height: auto; }
figcaption { font-size: 9.5pt; color: var(--soft); }
.field { display: inline-block; margin-right: 8mm; break-inside: avoid; }
.field input { font: inherit; color: inherit; background: transparent; width: 55mm;
  max-width: 100%; padding: 1mm; border: 0.3mm solid var(--line); border-radius: 0; }
.field .typed { display: inline-block; min-width: 42mm; min-height: 1.45em; padding: 0.6mm 1mm;
  border-bottom: 0.3mm solid var(--line); background: var(--first); }
.equation { margin: 0 0 2.5mm; padding-left: 8mm; text-indent: -8mm; break-inside: avoid; }
.equation span { display: inline-block; text-indent: 0; padding-right: 0.35em; }
.equation small { display: block; text-indent: 0; font-size: 9.5pt; color: var(--soft); }
@page { margin: 15mm 14mm; }
@media print {
  body { max-width: none; margin: 0; padding: 0; font-size: 10pt; }
  table, .equation small, figcaption, sub, sup { font-size: 9pt; }
  .field .typed { background: transparent; }
  .field input { border-width: 0 0 0.3mm; outline: none; }
  .stoichkit-wide { overflow: visible; }
  figure svg { max-width: 140mm !important; }
  li, p { orphans: 2; widows: 2; }
}
""".strip()


def escaped(text: str) -> str:
    """Write text so that a browser shows it and runs none of it; white space stays as it is.

    >>> escaped('<b onclick="x">&\\x1b')
    '&lt;b onclick=&quot;x&quot;&gt;&amp;\N{REPLACEMENT CHARACTER}'
    """
    if not text.isprintable():
        text = "".join(
            c if c.isprintable() or c.isspace() else "\N{REPLACEMENT CHARACTER}" for c in text
        )
    return html.escape(text)


def shown_text(piece: str) -> str:
    """Return what a browser shows of a piece of HTML.

    >>> shown_text("<b>1 &lt; 2</b>")
    '1 < 2'
    """
    return html.unescape(re.sub(r"<[^>]+>", "", piece))


def html_page(
    title: str,
    body: str,
    *,
    style: str = _STYLE,
    head: str = "",
    look: str = "",
    language: str = "en",
) -> str:
    """Write a page around a body, which is HTML already.

    Parameters
    ----------
    title, body : str
    style : str
        CSS.
    head : str
        HTML that stands in the head of the page.
    look : str
        Class of the main part.
    language : str
        Language tag of the text.

    Examples
    --------
    >>> page = html_page("1 < 2", "<p>Words.</p>")
    >>> page[:15], page.count("<title>1 &lt; 2</title>")
    ('<!DOCTYPE html>', 1)
    """
    return (
        f'<!DOCTYPE html>\n<html lang="{escaped(language)}">\n<head>\n'
        f'<meta charset="utf-8">\n{head}'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{_line(title)}</title>\n<style>\n{style}\n</style>\n</head>\n"
        f"<body>\n<main{_class(look)}>\n{body}\n</main>\n</body>\n</html>\n"
    )


def _line(text: str) -> str:
    """Put text on one line and escape it."""
    return escaped(one_line(text))


def _class(look: str) -> str:
    """Return the attribute that names a class; nothing for none."""
    return f' class="{escaped(look)}"' if look else ""


def html_heading(text: str, level: int) -> str:
    """Write a heading.

    >>> html_heading("A & B", 2)
    '<h2>A &amp; B</h2>'
    """
    return f"<h{level}>{_line(text)}</h{level}>"


def html_list(items: Iterable[str]) -> str:
    """Write a list of texts.

    >>> html_list(["a < b"])
    '<ul>\\n<li>a &lt; b</li>\\n</ul>'
    """
    lines = "\n".join(f"<li>{_line(item)}</li>" for item in items)
    return f"<ul>\n{lines}\n</ul>"


def html_image(svg: str, alt_text: str) -> str:
    """Write a picture as an ``img`` element with its description.

    >>> html_image("<svg/>", 'a "plane"')[:31]
    '<img alt="a &quot;plane&quot;" '
    """
    data = base64.b64encode(svg.encode()).decode("ascii")
    return (
        f'<img alt="{escaped(alt_text)}" style="max-width:100%" '
        f'src="data:image/svg+xml;base64,{data}">'
    )


@dataclass(frozen=True, slots=True)
class Cell:
    """A cell of a table that is HTML already, its class, and over how many columns it goes."""

    html: str
    look: str = ""
    span: int = 1


def html_table(
    header: Iterable[str | Cell],
    rows: Iterable[Iterable[str | Cell]],
    caption: str = "",
    *,
    look: str = "",
    frame: str = "",
    named: bool = True,
) -> str:
    """Write a table; an empty cell of the header or of the first column heads nothing.

    Parameters
    ----------
    header, rows : iterable of str or Cell
        Text is escaped.
    caption : str
        Text; "" for none.
    look : str
        Class of the table.
    frame : str
        Class of a frame in which a table that is too wide moves sideways; "" for none.
    named : bool
        Whether the first cell of each row names the row.

    Examples
    --------
    >>> print(html_table(("a", "b"), [("<1>", Cell("<i>2</i>", "n"))], "c"))
    <table>
    <caption>c</caption>
    <thead><tr><th scope="col">a</th><th scope="col">b</th></tr></thead>
    <tbody>
    <tr><th scope="row">&lt;1&gt;</th><td class="n"><i>2</i></td></tr>
    </tbody>
    </table>
    """
    head = "".join(_cell(cell, "col") for cell in header)
    lines = []
    for row in rows:
        cells = (_cell(cell, "" if i or not named else "row") for i, cell in enumerate(row))
        lines.append(f"<tr>{''.join(cells)}</tr>")
    said = f"<caption>{_line(caption)}</caption>\n" if caption else ""
    body = "\n".join(lines)
    table = (
        f"<table{_class(look)}>\n{said}<thead><tr>{head}</tr></thead>\n"
        f"<tbody>\n{body}\n</tbody>\n</table>"
    )
    if not frame:
        return table
    label = f' aria-label="{_line(caption)}"' if caption else ""
    return f'<div{_class(frame)} tabindex="0" role="group"{label}>\n{table}\n</div>'


def _cell(cell: str | Cell, scope: str) -> str:
    """Write a cell that heads a column (``"col"``), a row (``"row"``) or nothing."""
    made = cell if isinstance(cell, Cell) else Cell(_line(cell))
    kind = "th" if scope and made.html else "td"
    wide = f' colspan="{made.span}"' if made.span > 1 else ""
    heads = f' scope="{scope}"' if kind == "th" else ""
    return f"<{kind}{heads}{_class(made.look)}{wide}>{made.html}</{kind}>"


def html_part(part: Part, *, level: int = 3) -> str:
    """Write a part; ``level`` is that of a heading within the section.

    >>> html_part(Equation(((Token("symbol", "n(Cu)"),), (Token("number", "2 mol"),)), "(<)"))
    '<p class="equation"><span><i>n</i>(Cu)</span> <span>= 2 mol</span> <small>(&lt;)</small></p>'
    """
    match part:
        case str(text):
            return f"<p>{_line(text)}</p>"
        case Strong(text):
            return f'<p class="first"><strong>{_line(text)}</strong></p>'
        case Subheading(text):
            return html_heading(text, level)
        case Bullets(items):
            return html_list(items)
        case Table(header, rows, caption):
            cells = [(name, *map(_whole, others)) for name, *others in rows]
            short = " short" if len(rows) <= _SHORT_TABLE else ""
            return html_table(header, cells, caption, frame=f"stoichkit-wide{short}")
        case Equation(_, remark):
            chain = "</span> <span>= ".join(part.written(_token))
            said = f" <small>{_line(remark)}</small>" if remark else ""
            return f'<p class="equation"><span>{chain}</span>{said}</p>'
        case Picture(svg, _, caption):
            said = f"\n<figcaption>{_line(caption)}</figcaption>" if caption else ""
            frame = '<div class="stoichkit-wide" tabindex="0" role="group" aria-label="Picture">'
            return f"<figure>\n{frame}\n{svg}\n</div>{said}\n</figure>"
        case Field(label, value, item, trial) if item:
            about = f'data-item="{_line(item)}" data-trial="{_line(trial)}"'
            name = _line(f"{label}, trial {trial}" if trial else label)
            return (
                f'<p class="field">{_line(label)} <span class="typed" role="textbox" tabindex="0" '
                f'contenteditable="true" spellcheck="false" aria-label="{name}" {about}>'
                f"{_line(value)}</span></p>"
            )
        case Field(label, value):
            typed = f'<input type="text" autocomplete="off" value="{_line(value)}">'
            return f'<p class="field"><label>{_line(label)} {typed}</label></p>'
        case _:
            assert_never(part)


def _whole(cell: str) -> str | Cell:
    """Keep a short cell on one line."""
    return Cell(_line(cell), "whole") if len(cell) <= _SHORT_CELL else cell


def _token(token: Token) -> str:
    """Write a token of an equation, quantities in italics."""
    if species := token.species:
        return f"<i>{_line(species[0])}</i>({species[1].html()})"
    quantity = token.kind == "symbol" and not token.text[:1].isdigit()  # 273.15 K is none
    return f"<i>{_line(token.text)}</i>" if quantity else _line(token.words)


def typed_fields(markup: str) -> list[tuple[str, str, str]]:
    """Read (item, trial, text) of the fields in a page that a browser saved.

    Only the text of fields is read; all else in the page is passed over, and nothing in it acts.
    A page without fields gives none.

    >>> page = html_part(Field("Mass", "0.12 <b>", "m(Cu)", "1"))
    >>> typed_fields(page)
    [('m(Cu)', '1', '0.12 <b>')]
    """
    if "data-item=" not in markup:
        return []
    reader = _Fields()
    plain = re.sub("<(?=<)", " ", markup).replace("<![", "<! [")  # at which the parser stops
    reader.feed(plain)
    reader.close()
    reader.end()
    return reader.found


_MOST_FIELDS = 5000
_VOID = {
    "area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "wbr",
}  # fmt: skip


class _Fields(HTMLParser):
    """Collects the text of elements that are fields."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.found: list[tuple[str, str, str]] = []
        self._open: tuple[str, str] | None = None
        self._depth = 0
        self._text: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given: Mapping[str, str | None] = dict(attrs)
        if self._open is not None:
            if tag in _VOID:
                self._text.append(" ")
            else:
                self._depth += 1
            return
        item = given.get("data-item")
        if item is None or len(self.found) >= _MOST_FIELDS:
            return
        self._open, self._depth, self._text = (item, given.get("data-trial") or ""), 1, []
        if tag in _VOID:
            self._text = [given.get("value") or ""]
            self.end()

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in _VOID:
            self.handle_endtag(tag)

    def handle_endtag(self, tag: str) -> None:
        if self._open is not None and tag not in _VOID:
            self._depth -= 1
            self._text.append(" ")
            if self._depth <= 0:
                self.end()

    def handle_data(self, data: str) -> None:
        if self._open is not None:
            self._text.append(data)

    def end(self) -> None:
        """Keep the field that was read."""
        if self._open is None:
            return
        self.found.append((*self._open, " ".join("".join(self._text).split())))
        self._open = None
