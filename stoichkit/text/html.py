"""Headings, paragraphs, tables, equations and pictures as one self-contained page to print.

Parts hold plain text only; every character of it is escaped here. The one exception is the SVG of
a picture, which comes from :mod:`stoichkit.plots`. The page loads nothing from elsewhere, names
its language, and prints on A4 and on Letter paper.
"""

from __future__ import annotations

import html
from collections.abc import Iterable
from dataclasses import dataclass

from ..errors import ModelError
from .document import Bullets, Section, Table
from .equations import Equation, equation_html, equation_text

__all__ = [
    "CaptionedTable",
    "PagePart",
    "PageSection",
    "Picture",
    "Strong",
    "Subheading",
    "html_page",
    "to_layout",
]


@dataclass(frozen=True, slots=True)
class CaptionedTable:
    """A table of plain text with a caption; the first cell of each row names the row."""

    caption: str
    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Strong:
    """A paragraph that is to be read first."""

    text: str


@dataclass(frozen=True, slots=True)
class Subheading:
    """A heading within a section."""

    text: str


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture with its description.

    Attributes
    ----------
    svg : str
        An ``svg`` element with ``role="img"`` and an ``aria-label``, as :mod:`stoichkit.plots`
        writes it; it is put into the page as it is.
    alt_text : str
        The description, shown in its place where there are no pictures.
    caption : str
        A line below the picture; "" for none.
    """

    svg: str
    alt_text: str
    caption: str = ""


PagePart = str | Bullets | CaptionedTable | Strong | Subheading | Picture | Equation
"""A paragraph, a list, a table, a heading within the section, a picture or an equation."""


@dataclass(frozen=True, slots=True)
class PageSection:
    """A heading with paragraphs (str), lists, tables and pictures below it, at least one."""

    title: str
    parts: tuple[PagePart, ...]


_SHORT_TABLE = 6
"""Tables of no more rows are kept on one page."""
_SHORT_CELL = 8
"""Cells of no more characters, such as "< 0.0001", are kept on one line."""
_STYLE = """
:root { color-scheme: light; }
* { box-sizing: border-box; }
body { font: 11pt/1.45 system-ui, "Liberation Sans", "DejaVu Sans", sans-serif; color: #111;
  background: #fff; max-width: 190mm; margin: 0 auto; padding: 8mm 6mm;
  overflow-wrap: break-word; }
h1 { font-size: 17pt; line-height: 1.2; margin: 0 0 4mm; }
h2 { font-size: 12.5pt; margin: 7mm 0 2mm; border-bottom: 0.4mm solid #444; padding-bottom: 1mm;
  break-after: avoid; }
p, ul { margin: 0 0 2.5mm; }
ul { padding-left: 6mm; }
li { margin-bottom: 1mm; }
.table { overflow-x: auto; margin: 0 0 4mm; }
table { border-collapse: collapse; width: 100%; font-size: 9.5pt; line-height: 1.3; }
caption { text-align: left; font-weight: 600; padding: 1mm 0; break-after: avoid; }
th, td { border: 0.2mm solid #777; padding: 1mm 1.6mm; text-align: left; vertical-align: top; }
thead th { background: #ececec; print-color-adjust: exact; -webkit-print-color-adjust: exact; }
tbody th { font-weight: 600; }
.whole { white-space: nowrap; }
tr, .short { break-inside: avoid; }
tbody tr:first-child { break-before: avoid; }
thead { display: table-header-group; }
h3 { font-size: 11pt; margin: 4mm 0 1.5mm; break-after: avoid; }
.first { font-size: 12.5pt; font-weight: 600; border-left: 1.2mm solid #0072b2;
  padding: 2mm 3mm; background: #f1f5f9; break-inside: avoid; text-wrap: pretty;
  print-color-adjust: exact; -webkit-print-color-adjust: exact; }
figure { margin: 0 0 4mm; break-inside: avoid; }
figure svg { width: 100%; max-width: 165mm !important; height: auto; }
figcaption { font-size: 9.5pt; color: #333; }
.equation { margin: 0 0 2.5mm; padding-left: 8mm; text-indent: -8mm; break-inside: avoid; }
.equation span { display: inline-block; text-indent: 0; padding-right: 0.35em; }
.equation small { display: block; text-indent: 0; font-size: 9.5pt; color: #333; }
@page { margin: 15mm 14mm; }
@media print {
  body { max-width: none; margin: 0; padding: 0; font-size: 10pt; }
  table, .equation small, figcaption { font-size: 8.5pt; }
  .table { overflow: visible; }
  figure svg { max-width: 140mm !important; }
  li, p { orphans: 2; widows: 2; }
}
""".strip()


def _clean(text: str) -> str:
    """Put text on one line, replace unprintable characters, and escape it."""
    line = " ".join(text.split())
    shown = "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in line)
    return html.escape(shown)


def html_page(
    title: str,
    opening: Iterable[str],
    sections: Iterable[PageSection],
    *,
    language: str = "en",
) -> str:
    """Write a document as one HTML page without anything from elsewhere.

    Parameters
    ----------
    title : str
    opening : iterable of str
        Paragraphs between the title and the first section.
    sections : iterable of PageSection
    language : str
        Language tag of the text.

    Returns
    -------
    str
        Ends with a line break.

    Examples
    --------
    >>> table = CaptionedTable("Marks", ("who", "how many"), (("<b>", "2"),))
    >>> page = html_page("Title", ["Words."], [PageSection("First", (table,))])
    >>> page.count("<caption>Marks</caption>"), "&lt;b&gt;" in page, "<b>" in page
    (1, True, False)
    """
    body = [f"<h1>{_clean(title)}</h1>", *(f"<p>{_clean(text)}</p>" for text in opening)]
    for section in sections:
        body.append(f"<section>\n<h2>{_clean(section.title)}</h2>")
        body += [_part(part) for part in section.parts]
        body.append("</section>")
    content = "\n".join(body)
    return (
        f'<!DOCTYPE html>\n<html lang="{html.escape(language)}">\n<head>\n'
        '<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{_clean(title)}</title>\n<style>\n{_STYLE}\n</style>\n</head>\n"
        f"<body>\n<main>\n{content}\n</main>\n</body>\n</html>\n"
    )


def _part(part: PagePart) -> str:
    if isinstance(part, str):
        return f"<p>{_clean(part)}</p>"
    if isinstance(part, Bullets):
        items = "\n".join(f"<li>{_clean(item)}</li>" for item in part.items)
        return f"<ul>\n{items}\n</ul>"
    if isinstance(part, Strong):
        return f'<p class="first">{_clean(part.text)}</p>'
    if isinstance(part, Subheading):
        return f"<h3>{_clean(part.text)}</h3>"
    if isinstance(part, Picture):
        return _figure(part)
    if isinstance(part, Equation):
        return equation_html(part)
    return _table(part)


def _figure(part: Picture) -> str:
    if not part.svg.startswith("<svg ") or "aria-label=" not in part.svg.partition(">")[0]:
        raise ModelError(
            "This is not a picture for a page.",
            given=part.svg[:40],
            allowed="an svg element with a description",
            fix="Use the functions of stoichkit.plots that return SVG.",
        )
    caption = f"\n<figcaption>{_clean(part.caption)}</figcaption>" if part.caption else ""
    return f"<figure>\n{part.svg}{caption}\n</figure>"


def _table(part: CaptionedTable) -> str:
    head = "".join(f'<th scope="col">{_clean(cell)}</th>' for cell in part.header)
    rows = "\n".join(
        f'<tr><th scope="row">{_clean(row[0])}</th>'
        + "".join(_cell(cell) for cell in row[1:])
        + "</tr>"
        for row in part.rows
    )
    kind = "table short" if len(part.rows) <= _SHORT_TABLE else "table"
    return (
        f'<div class="{kind}" tabindex="0" role="group" aria-label="{_clean(part.caption)}">\n'
        f"<table>\n<caption>{_clean(part.caption)}</caption>\n"
        f"<thead><tr>{head}</tr></thead>\n<tbody>\n{rows}\n</tbody>\n</table>\n</div>"
    )


def _cell(text: str) -> str:
    look = ' class="whole"' if len(text) <= _SHORT_CELL else ""
    return f"<td{look}>{_clean(text)}</td>"


def to_layout(sections: Iterable[PageSection]) -> list[Section]:
    """Return the same sections for plain text or Markdown, with pictures in words.

    A caption becomes a paragraph, and a heading within a section begins a section of its own.

    >>> table = CaptionedTable("Marks", ("who",), (("a",),))
    >>> to_layout([PageSection("First", (table,))])[0].parts
    ('Marks:', Table(header=('who',), rows=(('a',),)))
    >>> [s.title for s in to_layout([PageSection("First", ("x", Subheading("more"), "y"))])]
    ['First', 'First: more']
    """
    found = []
    for section in sections:
        title, parts = section.title, list[str | Bullets | Table]()
        for part in section.parts:
            if isinstance(part, Subheading):
                if parts:
                    found.append(Section(title, tuple(parts)))
                title, parts = f"{section.title}: {part.text}", []
            else:
                parts += _plain(part)
        found.append(Section(title, tuple(parts)))
    return found


def _plain(part: PagePart) -> list[str | Bullets | Table]:
    """Return one part, other than a heading, in words."""
    if isinstance(part, CaptionedTable):
        return [f"{part.caption}:", Table(part.header, part.rows)]
    if isinstance(part, Picture):
        return [f"Picture. {part.alt_text}"]
    if isinstance(part, Equation):
        return [equation_text(part)]
    if isinstance(part, Strong | Subheading):
        return [part.text]
    return [part]
