"""What a panel shows now, as one page that needs no kernel, no server and no network.

The widgets of a panel are walked in their order. Results (sentences, tables, pictures with their
descriptions) are kept as they are, what was typed or chosen is written as text, and controls that
only do something (buttons, places to save to) are left out.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any

import ipywidgets

from ..._common import check_place, write_whole
from ...text.html import Cell, escaped, html_heading, html_page, html_table, shown_text
from ..kit.controls import Choice, LiveText, Slider, TextField

_KEEPING = re.compile(
    r"Save|What to save|Marks in CSV|Path of a file|A file of this name|Files of these names"
    r"|Text of an experiment"
)
"""Labels of what says where something is kept; it is no result and names folders."""
_HEADING = re.compile(r"<(/?)h([1-6])\b")
_TITLE = re.compile(r"<h2[^>]*>(.*?)</h2>", re.DOTALL)
_ONLY_HEADING = re.compile(r"\s*<h[1-6][^>]*>.*?</h[1-6]>\s*", re.DOTALL)
_NOTE = re.compile(r'\s*<p class="stoichkit-note">.*?</p>\s*', re.DOTALL)
_ROWS = re.compile(r"repeat\((\d+),")
_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; form-action 'none'"
_LOOK = """
body { margin: 0; padding: 16px; background: #ffffff;
  font-family: system-ui, "Liberation Sans", "DejaVu Sans", sans-serif; }
.stoichkit-panel { margin: 0 auto; }
.stoichkit-panel h1 { font-size: 20px; margin: 0 0 8px; }
.stoichkit-panel h2 { font-size: 16px; margin: 14px 0 2px; }
.stoichkit-panel svg, .stoichkit-panel img { max-width: 100%; height: auto; }
.stoichkit-panel dl { display: grid; grid-template-columns: fit-content(65%) minmax(4em, 1fr);
  gap: 2px 16px; margin: 6px 0; }
.stoichkit-panel dt { font-weight: 400; color: #4d4d4d; }
.stoichkit-panel dd { margin: 0; white-space: pre-wrap; overflow-wrap: anywhere; }
.stoichkit-panel th, .stoichkit-panel td { padding-right: 6px; }
@media (max-width: 760px) { .stoichkit-panel td { white-space: normal; } }
.stoichkit-panel .stoichkit-typed td { white-space: pre-wrap; }
.stoichkit-panel pre { max-height: none; }
@page { margin: 15mm 14mm; }
@media print {
  body { padding: 0; font-size: 10pt; }
  .stoichkit-panel { border: none; padding: 0; }
  .stoichkit-columns { display: block; }
  h1, h2, h3, caption { break-after: avoid; }
  tr, svg { break-inside: avoid; }
}
""".strip()


@dataclass(frozen=True, slots=True)
class _Typed:
    """A label and the text beside it; ``refusal`` is HTML of the panel."""

    label: str
    text: str
    refusal: str = ""


_Part = str | _Typed
"""HTML of the panel, or something typed or chosen."""


def panel_page(panel: ipywidgets.Widget, *, title: str = "", language: str = "en") -> str:
    """Write what a panel shows now as one HTML page without anything from elsewhere.

    >>> from stoichkit.widgets.panels.readings import readings_panel
    >>> panel = readings_panel("copper-silver")
    >>> page = panel_page(panel)
    >>> "single out copper(II)" in page, page.count('role="img"'), "<button" in page
    (True, 1, False)
    >>> panel.close()
    """
    body = "\n".join(_grouped(_without_empty_sections(list(_parts(panel)))))
    found = _TITLE.findall(body)
    if found and not title:
        title = shown_text(found[0])
        body = _TITLE.sub("", body, count=1)
    if len(found) <= 1:
        body = _HEADING.sub(lambda m: f"<{m[1]}h{max(int(m[2]) - 1, 2)}", body)
    style = (files("stoichkit.widgets.kit") / "panel.css").read_text("utf-8")
    words = title or "Panel"
    return html_page(
        words,
        f"{html_heading(words, 1)}\n{body}",
        style=f"{style}\n{_LOOK}",
        head=f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">\n',
        look="stoichkit-panel",
        language=language,
    )


def export_panel(
    panel: ipywidgets.Widget,
    path: str | os.PathLike[str],
    *,
    replace: bool = False,
    title: str = "",
    language: str = "en",
) -> Path:
    """Save what a panel shows now as one HTML file that can be read without a server.

    Title and language as for :func:`panel_page`; the name ends in ``.html``, and a file of that
    name is replaced only with ``replace=True``.

    Examples
    --------
    >>> import tempfile
    >>> from stoichkit.widgets.panels.readings import readings_panel
    >>> panel = readings_panel("tin-oxide")
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     export_panel(panel, f"{folder}/tin.html").name
    'tin.html'
    >>> export_panel(panel, "tin.pdf")
    Traceback (most recent call last):
    stoichkit.errors.DataFileError: The ending of the file name says no format. Given: tin.pdf.
    Allowed: a name that ends in .html or .htm. For paper or PDF, write .html and print it from a
    browser.
    >>> panel.close()
    """
    target = check_place(path, replace=replace, endings=(".html", ".htm"))
    page = panel_page(panel, title=title, language=language)
    return write_whole(target, page.encode("utf-8"), replace=replace)


def _parts(widget: ipywidgets.Widget) -> Iterator[_Part]:
    """Yield what a widget and those within it show, in their order."""
    if _hidden(widget):
        return
    for kind, reader in _READERS:
        if isinstance(widget, kind):
            for part in reader(widget):
                if isinstance(part, str) or not _KEEPING.match(part.label):
                    yield part
            return
    if not isinstance(widget, _CONTROLS):
        yield f"<p>(This part cannot be shown here: {escaped(type(widget).__name__)}.)</p>"


def _hidden(widget: ipywidgets.Widget) -> bool:
    layout = getattr(widget, "layout", None)
    return layout is not None and (layout.display == "none" or layout.visibility == "hidden")


def _pane(widget: Any) -> Iterator[_Part]:
    if widget.value.strip() and not _NOTE.fullmatch(widget.value):
        yield f"<div>{widget.value}</div>"


def _label(widget: Any) -> Iterator[_Part]:
    if widget.value:
        yield f"<p>{escaped(widget.value)}</p>"


def _live(widget: LiveText) -> Iterator[_Part]:
    if widget.text and not _KEEPING.match(widget.text):
        yield f'<p class="{escaped(widget.look)}">{escaped(widget.text)}</p>'


def _slider(widget: Slider) -> Iterator[_Part]:
    shown = widget.field if widget.refusal else widget.spoken or widget.texts[widget.position]
    yield _Typed(widget.label, shown, _refusal(widget.refusal))


def _text_field(widget: TextField) -> Iterator[_Part]:
    said = widget.below if widget.refused else ""
    yield _Typed(widget.description, widget.value, _refusal(said))


def _refusal(words: str) -> str:
    return f'<p class="stoichkit-refusal">{escaped(words)}</p>' if words else ""


def _typed(widget: Any) -> Iterator[_Part]:
    value = widget.value
    text = ("yes" if value else "no") if isinstance(value, bool) else str(value)
    yield _Typed(widget.description, text)


def _chosen(widget: Any) -> Iterator[_Part]:
    several = isinstance(widget.label, tuple)
    yield _Typed(widget.description, ", ".join(widget.label) if several else widget.label or "")


def _choice(widget: Choice) -> Iterator[_Part]:
    words = next((words for words, value in widget.options if value == widget.value), "")
    yield _Typed(widget.description, words)


def _box(widget: Any) -> Iterator[_Part]:
    classes = widget._dom_classes
    if "stoichkit-columns" in classes or "stoichkit-halves" in classes:
        look = "stoichkit-columns" if "stoichkit-columns" in classes else "stoichkit-halves"
        columns = [_without_empty_sections(list(_parts(child))) for child in widget.children]
        shown = ["\n".join(_grouped(column)) for column in columns if column]
        if shown:
            inner = "".join(f"<div>\n{column}\n</div>\n" for column in shown)
            yield f'<div class="{look}">\n{inner}</div>'
    else:
        for child in widget.children:
            yield from _parts(child)


def _grid(widget: Any) -> Iterator[_Part]:
    """Write a grid that is filled column by column as a table; its corner heads the rows."""
    rows = _ROWS.match(widget.layout.grid_template_rows or "")
    if widget.layout.grid_auto_flow != "column" or not rows:
        yield from _box(widget)
        return
    height = int(rows[1])
    cells = [_cell(child) for child in widget.children]
    columns = [cells[i : i + height] for i in range(0, len(cells), height)]
    padded = ((*column, *[""] * height)[:height] for column in columns)
    lines = ([Cell(cell) for cell in row] for row in zip(*padded, strict=True) if any(row))
    head, *body = lines
    yield html_table(head, body, look="stoichkit-typed", frame="stoichkit-readings")


def _cell(widget: ipywidgets.Widget) -> str:
    """Return what stands in one cell of a table; its label is in the heads."""
    if isinstance(widget, ipywidgets.HTML):
        return str(widget.value) if re.sub(r"<[^>]+>", "", widget.value).strip() else ""
    said = []
    for part in _parts(widget):
        said.append(part if isinstance(part, str) else escaped(part.text) + part.refusal)
    return "".join(said)


def _tabs(widget: Any) -> Iterator[_Part]:
    """Show the open tab; the others may rest and be out of date."""
    if widget.selected_index is not None:
        parts = list(_parts(widget.children[widget.selected_index]))
        if not any(isinstance(part, str) and "<h2" in part for part in parts):
            yield f"<h2>{escaped(widget.get_title(widget.selected_index))}</h2>"
        yield from parts


def _accordion(widget: Any) -> Iterator[_Part]:
    for i, child in enumerate(widget.children):
        yield f"<h3>{escaped(widget.get_title(i))}</h3>"
        yield from _parts(child)


_Reader = Callable[[Any], Iterator[_Part]]
_TYPED = (
    ipywidgets.Text,
    ipywidgets.Textarea,
    ipywidgets.Checkbox,
    ipywidgets.IntText,
    ipywidgets.FloatText,
    ipywidgets.BoundedIntText,
    ipywidgets.BoundedFloatText,
)
_CONTROLS = (ipywidgets.Button, ipywidgets.FileUpload, ipywidgets.ToggleButton, ipywidgets.Password)
_CHOICES = (
    ipywidgets.Dropdown,
    ipywidgets.RadioButtons,
    ipywidgets.Select,
    ipywidgets.SelectMultiple,
    ipywidgets.ToggleButtons,
)
_READERS: tuple[tuple[Any, _Reader], ...] = (
    (_CONTROLS, lambda _: iter(())),
    (LiveText, _live),
    (TextField, _text_field),
    (Slider, _slider),
    (Choice, _choice),
    (ipywidgets.HTML, _pane),
    (ipywidgets.Label, _label),
    (_TYPED, _typed),
    (_CHOICES, _chosen),
    (ipywidgets.GridBox, _grid),
    (ipywidgets.Tab, _tabs),
    (ipywidgets.Accordion, _accordion),
    (ipywidgets.Box, _box),
)
"""Readers of the kinds of widgets, the more special kinds first."""


def _level(part: _Part) -> int:
    """Return the level of a part that is a heading and nothing else, otherwise 0."""
    inner = part.removeprefix("<div>").removesuffix("</div>") if isinstance(part, str) else ""
    return int(inner.strip()[2]) if _ONLY_HEADING.fullmatch(inner) else 0


def _without_empty_sections(parts: list[_Part]) -> list[_Part]:
    """Leave out headings that nothing stands under."""
    kept: list[_Part] = []
    following = 1  # level of the next heading if nothing came in between, 0 if something did
    for part in reversed(parts):
        level = _level(part)
        if level and following and following <= level and level > 2:
            continue
        kept.append(part)
        following = level
    return kept[::-1]


def _grouped(parts: Iterable[_Part]) -> Iterator[str]:
    """Yield HTML; what was typed or chosen one after the other becomes one list."""
    pairs: list[str] = []
    for part in parts:
        if isinstance(part, _Typed):
            text = escaped(part.text) or "(empty)"
            pairs.append(f"<dt>{escaped(part.label)}</dt><dd>{text}{part.refusal}</dd>")
            continue
        if pairs:
            yield "<dl>\n" + "\n".join(pairs) + "\n</dl>"
            pairs = []
        yield part
    if pairs:
        yield "<dl>\n" + "\n".join(pairs) + "\n</dl>"
