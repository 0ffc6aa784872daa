"""A class file and its groups as pieces of HTML: every text of the file is escaped."""

from __future__ import annotations

import base64
import html
import math
from collections.abc import Iterable, Sequence

from ..answerkey import ACCEPTED, AnswerLine, answer_lines
from ..classcolumns import Preview
from ..classheader import GROUP, TRIAL
from ..classtable import Problem
from ..experiment import Experiment
from ..layout import Bullets
from ..page import CaptionedTable, PagePart, PageSection, Picture, Strong, Subheading
from ..worked_styles import equation_html
from .class_table import GroupLine

__all__ = [
    "HIDDEN",
    "MOST_PROBLEMS",
    "answers_html",
    "groups_html",
    "list_html",
    "paragraph",
    "parts_html",
    "preview_html",
    "problems_html",
    "section_html",
    "table_html",
]

HIDDEN = "(hidden)"
MOST_PROBLEMS = 200
_MOST_COLUMNS = 40
_MOST_CELL = 60
_MOST_LINES = 400


def paragraph(text: str, look: str = "") -> str:
    """Write a paragraph; text alone is escaped.

    >>> paragraph("1 < 2", "stoichkit-note")
    '<p class="stoichkit-note">1 &lt; 2</p>'
    """
    kind = f' class="{look}"' if look else ""
    return f"<p{kind}>{html.escape(text)}</p>"


def list_html(items: Iterable[str]) -> str:
    """Write a list of texts."""
    return f"<ul>{''.join(f'<li>{html.escape(item)}</li>' for item in items)}</ul>"


def table_html(
    caption: str, header: Sequence[str], rows: Iterable[Sequence[str]], *, scrolled: bool = False
) -> str:
    """Write a table that scrolls sideways where it is too wide; the first cell names its row.

    Parameters
    ----------
    caption : str
    header : sequence of str
    rows : iterable of sequence of str
    scrolled : bool
        Whether a long table also scrolls up and down.

    Examples
    --------
    >>> table_html("c", ("a", "b"), [("<1>", "2")])[-71:]
    '<tr><th scope="row">&lt;1&gt;</th><td>2</td></tr></tbody></table></div>'
    """
    head = "".join(f'<th scope="col">{html.escape(cell)}</th>' for cell in header)
    body = []
    for name, *cells in rows:
        inner = "".join(f"<td>{html.escape(cell)}</td>" for cell in cells)
        body.append(f'<tr><th scope="row">{html.escape(name)}</th>{inner}</tr>')
    look = "stoichkit-wide stoichkit-long" if scrolled else "stoichkit-wide"
    label = html.escape(caption, quote=True)
    return (
        f'<div class="{look}" tabindex="0" role="group" aria-label="{label}">'
        f"<table><caption>{html.escape(caption)}</caption><thead><tr>{head}</tr></thead>"
        f"<tbody>{''.join(body)}</tbody></table></div>"
    )


def section_html(section: PageSection, *, static: bool = False) -> str:
    """Write a section of a report within a panel, its heading below those of the panel.

    Parameters
    ----------
    section : PageSection
    static : bool
        Whether pictures are to be ``img`` elements, for a page without a kernel.

    Examples
    --------
    >>> section_html(PageSection("A & B", ("<i>", Bullets(("x",)))))
    '<h4>A &amp; B</h4><p>&lt;i&gt;</p><ul><li>x</li></ul>'
    """
    return f"<h4>{html.escape(section.title)}</h4>{parts_html(section.parts, static=static)}"


def parts_html(parts: Iterable[PagePart], *, static: bool = False) -> str:
    """Write what stands below the heading of a section."""
    return "".join(_picture(p) if static and isinstance(p, Picture) else _part(p) for p in parts)


def _picture(part: Picture) -> str:
    data = base64.b64encode(part.svg.encode()).decode("ascii")
    alt = html.escape(part.alt_text, quote=True)
    return f'<img alt="{alt}" style="max-width:100%" src="data:image/svg+xml;base64,{data}">'


def _part(part: PagePart) -> str:
    if isinstance(part, str):
        return paragraph(part)
    if isinstance(part, Strong):
        return f"<p><strong>{html.escape(part.text)}</strong></p>"
    if isinstance(part, Subheading):
        return f"<h5>{html.escape(part.text)}</h5>"
    if isinstance(part, Bullets):
        return list_html(part.items)
    if isinstance(part, CaptionedTable):
        return table_html(part.caption, part.header, part.rows)
    if isinstance(part, Picture):
        return part.svg + (paragraph(part.caption, "stoichkit-note") if part.caption else "")
    return equation_html(part)


def preview_html(preview: Preview, *, codes: bool = False) -> str:
    """Show the first rows of a file below what each column is taken for.

    Parameters
    ----------
    preview : Preview
    codes : bool
        Whether cells that may name a person are hidden.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> from stoichkit.classdata import preview_class
    >>> text = "bench,wire before,wire after,paper,paper + silver\\n<red>,2.94,2.82,0.75,1.15"
    >>> found = preview_class(text.encode(), experiments.load("copper-silver"))
    >>> "&lt;red&gt;" in preview_html(found), "red" in preview_html(found, codes=True)
    (True, False)
    """
    columns = preview.matched[:_MOST_COLUMNS]
    readings = [bool(c.field) and c.field != GROUP for c in columns]
    open_to_all = [r and c.field != TRIAL for r, c in zip(readings, columns, strict=True)]
    taken = []
    for column in columns:
        unit = f" ({column.unit.words})" if column.unit and not column.unit.same else ""
        taken.append(f"{column.field or 'not used'}{unit}")
    rows: list[tuple[str, ...]] = [("taken for", *taken)]
    for number, cells in enumerate(preview.sample, preview.first_row):
        padded = [*cells, *[""] * len(columns)][: len(columns)]
        shown = [
            HIDDEN if codes and cell.strip() and not seen else cell.strip()[:_MOST_CELL]
            for cell, seen in zip(padded, open_to_all, strict=True)
        ]
        rows.append((f"row {number}", *shown))
    head = [column.label[:_MOST_CELL] for column in columns]
    if codes:
        head = [c.label if c.field else c.letter for c in columns]
    more = len(preview.matched) - len(columns)
    caption = "First rows of the file" + (f"; {more} more columns are not shown" if more else "")
    return table_html(caption, ("Column", *head), rows)


def problems_html(problems: Sequence[Problem], shown: int = MOST_PROBLEMS) -> str:
    """List what a person should look at in a file, and what was done about it.

    >>> found = Problem(3, "C (paper)", "No number.", "<b>", "a number", "Set aside.")
    >>> problems_html([found]).count("<td>"), "&lt;b&gt;" in problems_html([found])
    (5, True)
    """
    if not problems:
        return paragraph("There is nothing to look at: every row was used as it stands.")
    rows = [
        (
            "file" if p.row is None else str(p.row),
            p.column or "–",
            p.text,
            p.given or "–",
            p.allowed or "–",
            _for_panel(p.done) or "–",
        )
        for p in problems[:shown]
    ]
    more = len(problems) - len(rows)
    caption = "What to look at in the file" + (f" (the first {len(rows)})" if more else "")
    header = ("Row", "Column", "Problem", "Given", "Allowed", "What was done")
    said = paragraph(f"{more} more are in the list of rows that can be saved.") if more else ""
    return table_html(caption, header, rows, scrolled=len(rows) > 12) + said


def _for_panel(text: str) -> str:
    """Name the controls of the panel instead of arguments of a function."""
    return text.replace("confirm with columns=…", "confirm or correct it above").replace(
        "give sheet=… for another one", "type the name of another one above"
    )


def groups_html(lines: Sequence[GroupLine], order: str, total: int, ratio: str) -> str:
    """Show groups as a table.

    Parameters
    ----------
    lines : sequence of GroupLine
    order : str
        In words.
    total : int
        Groups there are, shown or not.
    ratio : str
        The mole ratio as a symbol.
    """
    if not lines:
        return paragraph("No group has a name that holds this text.")
    sets = any(line.ratio_set for line in lines)
    header = ["Group", "Trials", "By itself", ratio, "Best p", "Yield", "Look at"]
    header[4:4] = ["Not excluded"] if sets else []
    rows = []
    for line in lines:
        row = [line.name, line.trials, line.verdict, line.ratio, line.p, line.percent_yield]
        row[4:4] = [line.ratio_set] if sets else []
        rows.append([cell or "–" for cell in (*row, line.remarks)])
    count = f"{len(rows)} of {total} groups" if len(rows) < total else f"{total} groups"
    return table_html(f"{count}, {order}", header, rows, scrolled=len(rows) > 12)


def answers_html(experiment: Experiment) -> str:
    """Show what a group should have calculated from its own readings, and what to accept.

    >>> from stoichkit import experiments
    >>> answers_html(experiments.load("tin-oxide")).count("<caption>")
    1
    """
    lines = answer_lines(experiment)
    header = ("Trial", "Step", "Calculation", "Answer", "Accepted")
    rows = [_answer(line) for line in lines[:_MOST_LINES]]
    more = len(lines) - len(rows)
    said = paragraph(f"{more} more lines are in the answer key that can be saved.") if more else ""
    return (
        table_html("What this group should have calculated", header, rows)
        + said
        + list_html(ACCEPTED)
    )


def _answer(line: AnswerLine) -> tuple[str, ...]:
    known = not math.isnan(line.value)
    unit = f" {line.unit}" if line.unit else ""
    answer = f"{line.answer or f'{line.value:.6g}'}{unit}" if known else line.note
    accepted = f"{line.low:.4g} to {line.high:.4g}{unit}" if known else "–"
    step = f"{line.symbol}, {line.words}" if line.symbol else line.words
    return (line.trial, step or "–", line.formula or "given", answer, accepted)
