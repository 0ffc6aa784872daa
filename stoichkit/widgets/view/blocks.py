"""What a screen is made of: blocks of plain data, with what is to be called when they are used.

A block is a dict that JSON can hold; ``page/protocol.md`` describes each kind and
``page/protocol.schema.json`` is what the tests check. The page draws any block anywhere, so a
screen is written in Python alone.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from ...errors import ModelError, Refusal
from ...plots.look import roles
from ...plots.scene import Ellipse, Item, Line, Mark, Polygon, Scene, Words
from ...text.document import Document
from ...text.parts import Part, Section, Table

if TYPE_CHECKING:  # a page alone needs no more than what it draws
    from ...decision.statement import Standing

Block = dict[str, Any]
Handler = Callable[..., object]


class Builder:
    """Makes the blocks of a screen and remembers what each control calls.

    >>> typed = []
    >>> make = Builder()
    >>> make.field("mass", "Mass, g", "2.94", typed.append)["kind"]
    'field'
    >>> make.handlers["mass"]("2.95"); typed
    ['2.95']
    """

    def __init__(self) -> None:
        self.handlers: dict[str, Handler] = {}
        self.actions: dict[str, str] = {}
        self.scenes: dict[str, tuple[Scene, str, str]] = {}
        """The pictures as they were laid out, each with its title and its description."""

    def on(self, name: str, call: Handler, action: str = "") -> str:
        """Remember what a control calls, and on which action ("" for any); return its name."""
        self.handlers[name], self.actions[name] = call, action
        return name

    def field(
        self,
        name: str,
        label: str,
        text: str,
        typed: Callable[[str], object],
        *,
        refusal: Refusal | None = None,
        note: str = "",
        lines: int = 0,
        width: int = 0,
        options: Iterable[tuple[str, str]] = (),
        bare: bool = False,
        enter: str = "",
    ) -> Block:
        """Return a field for a text, one line or several.

        ``bare``: its label is only spoken; ``enter``: the button that Enter presses.
        """
        return {
            "kind": "field", "id": self.on(name, typed, "set"), "label": label, "text": text,
            "refusal": said(refusal), "note": note, "lines": lines, "width": width,
            "options": [list(one) for one in options], "bare": bare, "enter": enter,
        }  # fmt: skip

    def choice(
        self,
        name: str,
        label: str,
        value: str,
        options: Iterable[tuple[str, str]],
        chosen: Callable[[str], object],
        *,
        bare: bool = False,
    ) -> Block:
        """Return a list of which one is chosen: pairs of a value and what is shown for it."""
        offered = [list(one) for one in options]
        values = {one for one, _ in offered}

        def choose(to: str) -> object:
            if to not in values:
                raise ModelError("This is not offered here.", given=to, fix="Choose from the list.")
            return chosen(to)

        return {
            "kind": "choice", "id": self.on(name, choose, "set"), "label": label, "value": value,
            "options": offered, "bare": bare,
        }  # fmt: skip

    def tick(self, name: str, label: str, on: bool, ticked: Callable[[bool], object]) -> Block:
        """Return a box to tick."""
        return {"kind": "tick", "id": self.on(name, ticked, "tick"), "label": label, "on": on}

    def button(
        self,
        name: str,
        label: str,
        pressed: Callable[[], object],
        *,
        enabled: bool = True,
        look: str = "plain",
        spoken: str = "",
    ) -> Block:
        """Return a button; ``look`` is "plain", "main", "quiet" or "tab"."""
        return {
            "kind": "button", "id": self.on(name, pressed, "press"), "label": label,
            "enabled": enabled, "look": look, "spoken": spoken,
        }  # fmt: skip

    def chip(
        self,
        name: str,
        label: str,
        text: str,
        blocks: Sequence[Block],
        *,
        refused: bool = False,
    ) -> Block:
        """Return a setting that opens in place: its label, how it stands, and its controls."""
        return {
            "kind": "chip", "id": name, "label": label, "text": text, "blocks": list(blocks),
            "refused": refused,
        }  # fmt: skip

    def file(
        self, name: str, label: str, accept: str, given: Callable[[str, bytes], object]
    ) -> Block:
        """Return a control that hands over a file: its name and its bytes."""
        return {
            "kind": "file", "id": self.on(name, given, "file"), "label": label, "accept": accept,
        }  # fmt: skip

    def step(
        self,
        name: str,
        label: str,
        value: int,
        words: Sequence[str],
        moved: Callable[[int], object],
        *,
        own: int = -1,
        note: str = "",
    ) -> Block:
        """Return a control that moves along named places; ``own`` is the one to come back to."""
        return {
            "kind": "step", "id": self.on(name, _among(len(words), moved), "step"),
            "label": label, "value": value, "words": list(words), "own": own, "note": note,
        }  # fmt: skip

    def sheet(
        self,
        name: str,
        label: str,
        columns: Sequence[Mapping[str, str]],
        rows: Sequence[Block],
        typed: Callable[[int, int, list[list[str]]], object],
        *,
        renamed: Callable[[int, str], object] | None = None,
        result: str = "",
        grows: bool = True,
    ) -> Block:
        """Return a sheet of cells: ``typed`` gets row, column and the texts of a block of cells.

        Each row is a dict with ``name``, ``cells`` (see :func:`cell`), ``result`` and ``refusal``.
        ``renamed`` gets a row and its new name.
        """

        def fill(row: int, column: int, texts: list[list[str]]) -> object:
            if column >= len(columns) or (row >= len(rows) and not grows):
                raise ModelError("There is no such cell.", given=f"row {row}, column {column}")
            return typed(row, column, texts)

        def rename(row: int, _: int, texts: list[list[str]]) -> object:
            assert renamed is not None
            return renamed(row, texts[0][0])

        names = "" if renamed is None else self.on(f"{name}:names", rename, "cells")
        return {
            "kind": "sheet", "id": self.on(name, fill, "cells"), "label": label,
            "columns": [dict(one) for one in columns], "rows": list(rows), "result": result,
            "grows": grows, "names": names,
        }  # fmt: skip

    def picture(
        self,
        name: str,
        title: str,
        alt: str,
        scene: Scene,
        *,
        spots: Sequence[Block] = (),
        moved: Callable[[str, float, float], object] | None = None,
        saved: Callable[[str], object] | None = None,
        sized: Callable[[int], object] | None = None,
        hint: str = "",
        picks: bool = False,
    ) -> Block:
        """Return a picture: lines, areas, marks and words, with what can be pointed at.

        Each spot is a dict with ``name``, ``words``, ``x``, ``y`` (in the numbers of the axes)
        and ``drag``. ``moved`` gets the name of a spot and where it was dragged to; ``saved`` gets
        "svg" or "png"; ``sized`` gets the width in CSS pixels that there is for the picture, now
        and whenever it changes. ``hint`` says what can be done while nothing is pointed at.
        ``picks``: ``moved`` is called as well for a spot that is pressed and, with the spot that
        can be dragged, for a place that is clicked.
        """
        self.scenes[name] = scene, title, alt
        if moved is not None:
            self.on(f"{name}:move", moved, "move")
        if saved is not None:
            self.on(f"{name}:save", saved, "set")
        if sized is not None:
            self.on(f"{name}:width", sized, "pick")
        return {
            "kind": "picture", "id": name, "title": title, "alt": alt, **scene_data(scene),
            "spots": list(spots), "moves": moved is not None, "saves": saved is not None,
            "sizes": sized is not None, "hint": hint, "picks": picks,
        }  # fmt: skip

    def kept(self, name: str, place: str, text: str, found: Callable[[str], object]) -> Block:
        """Return a text that the browser keeps under the name of a place, and shows to nobody.

        ``found`` gets what the browser had kept there when the page is opened.
        """
        return {"kind": "kept", "id": self.on(name, found, "set"), "place": place, "text": text}

    def progress(self, words: str, name: str, stop: Callable[[], object]) -> Block:
        """Return how far long work is, with a button that stops it."""
        return {"kind": "progress", "words": words, "id": self.on(name, stop, "press")}

    def table(
        self,
        caption: str,
        header: Sequence[str],
        rows: Iterable[Sequence[str]],
        *,
        name: str = "",
        chosen: Callable[[int], object] | None = None,
        selected: int = -1,
        looks: Sequence[str] = (),
        prose: bool = False,
    ) -> Block:
        """Return a table whose first column names the rows, which can be chosen if so wished.

        ``looks`` gives each row "" or "faint" or "warning"; ``prose``: its cells are words, not
        numbers.
        """
        cells = [list(row) for row in rows]
        if chosen is not None:
            self.on(name, _among(len(cells), chosen), "pick")
        return {
            "kind": "table", "id": name if chosen is not None else "", "caption": caption,
            "header": list(header), "rows": cells, "selected": selected, "looks": list(looks),
            "prose": prose,
        }  # fmt: skip


def _among(number: int, call: Callable[[int], object]) -> Callable[[int], object]:
    """Return a function that refuses what is none of so many places."""

    def checked(to: int) -> object:
        if not 0 <= to < number:
            raise ModelError("There is no such place.", given=to, allowed=f"0 to {number - 1}")
        return call(to)

    return checked


def said(refusal: Refusal | None) -> str:
    """Return a refusal in words, "" for none."""
    return "" if refusal is None else str(refusal)


def heading(text: str, level: int = 3) -> Block:
    """Return a heading."""
    return {"kind": "heading", "text": text, "level": level}


def words(text: str, role: str = "plain", *, spoken: bool = False) -> Block:
    """Return a paragraph, ``spoken`` when it changes.

    ``role`` is "plain", "strong", "note", "warning", "refusal", "good" or "status" (spoken when
    it changes).
    """
    return {"kind": "words", "text": text, "role": role, **({"spoken": True} if spoken else {})}


def row(*blocks: Block, even: bool = False) -> Block:
    """Return blocks side by side, as far as there is room; ``even``: in columns of one width."""
    return {"kind": "row", "blocks": list(blocks), "even": even}


def details(summary: str, blocks: Sequence[Block], *, opened: bool = False) -> Block:
    """Return blocks that are shown when asked for."""
    return {"kind": "details", "summary": summary, "blocks": list(blocks), "opened": opened}


def answer_card(headline: str, look: str, blocks: Sequence[Block]) -> Block:
    """Return a verdict with what stands below it.

    ``look`` is "current", "unjudged", "waits", "what if" or "none".
    """
    return {"kind": "verdict", "headline": headline, "look": look, "blocks": list(blocks)}


def candidate_row(standing: Standing, *, fits: bool, percent_yield: str = "") -> Block:
    """Return the row of a candidate: its standing in words, and its p-value as a bar."""
    return {
        "name": standing.name, "standing": standing.status, "p": standing.p,
        "share": min(max(standing.p_value, 0.0), 1.0), "fits": fits,
        "yield": percent_yield,
    }  # fmt: skip


def candidate_list(rows: Iterable[Block], *, stale: bool = False) -> Block:
    """Return the rows of candidates; ``stale``: they are older than what is typed."""
    return {"kind": "candidates", "rows": list(rows), "stale": stale}


def sentence(*parts: str | Block) -> Block:
    """Return a sentence to complete: words with controls between them."""
    return {"kind": "sentence", "parts": [
        {"kind": "words", "text": one, "role": "plain"} if isinstance(one, str) else one
        for one in parts
    ]}  # fmt: skip


def bullets(items: Iterable[str]) -> Block:
    """Return a list of sentences."""
    return {"kind": "list", "items": list(items)}


def source(label: str, text: str) -> Block:
    """Return a text as it is written in a file, line by line."""
    return {"kind": "source", "label": label, "text": text}


def copying(label: str, text: str) -> Block:
    """Return a button that copies a text, without asking Python."""
    return {"kind": "copy", "label": label, "text": text}


def cell(
    text: str, *, refusal: Refusal | None = None, mark: str = "", note: str = "", lines: int = 0
) -> Block:
    """Return a cell of a sheet; ``mark`` is "", "suspect" or "what if", ``note`` says why."""
    return {"text": text, "refusal": said(refusal), "mark": mark, "note": note, "lines": lines}


def document(page: Document | Section | Part, *, titled: bool = True) -> Block:
    """Return a document, a section of one, or one part, as the page draws it."""
    whole = page if isinstance(page, Document) else None
    if whole is None:
        section = page if isinstance(page, Section) else Section("", (page,))  # type: ignore[arg-type]
        whole = Document("", (), (section,))
    return {"kind": "document", "titled": titled, **whole.data()}


def plain_table(found: Table, make: Builder | None = None) -> Block:
    """Return a table of a document as a block of its own."""
    return (make or Builder()).table(found.caption, found.header, found.rows)


def scene_data(scene: Scene) -> Block:
    """Return a scene as plain data; colours go by their roles, so that a theme can choose them.

    >>> scene_data(Scene(9.0, 9.0, (Line(((0.0, 0.0), (9.0, 9.0))),)))["items"]
    [{'is': 'line', 'at': [0.0, 9.0, 9.0, 0.0], 'ink': 'ink', 'width': 1.0}]
    """
    return {
        "width": round(scene.width, 1),
        "height": round(scene.height, 1),
        "limits": [*scene.x_limits, *scene.y_limits],
        "items": [_item(one, scene.height) for one in scene.items],
    }


def _item(item: Item, h: float) -> Block:
    """Return one item, y pointing down."""
    if isinstance(item, Line):
        dashes = {"dashes": list(item.dashes)} if item.dashes else {}
        look = {"ink": roles(item.ink), "width": item.width, **dashes}
        return {"is": "line", "at": _flat(item.points, h), **look}
    if isinstance(item, Words):
        return {
            "is": "words", "at": [round(item.x, 1), round(h - item.y, 1)], "text": item.text,
            "size": item.size, "anchor": item.anchor, "bold": item.bold, "ink": roles(item.ink),
            "angle": -item.angle,
        }  # fmt: skip
    if isinstance(item, Polygon):
        edge = {"edge": roles(item.edge)} if item.edge else {}
        look = {"ink": roles(item.fill), "opacity": item.opacity, **edge}
        return {"is": "area", "at": _flat(item.points, h), **look}
    if isinstance(item, Ellipse):
        (x, y), u, v = item.centre, item.u, item.v
        numbers = [x, h - y, u[0], -u[1], v[0], -v[1]]
        return {
            "is": "ellipse", "at": [round(n, 2) for n in numbers], "ink": roles(item.ink),
            "width": item.width, "opacity": item.opacity,
        }  # fmt: skip
    if isinstance(item, Mark):
        at = [round(item.x, 1), round(h - item.y, 1)]
        return {"is": item.shape, "at": at, "ink": roles(item.ink), "size": item.size}
    raise ModelError("This cannot be drawn.", given=type(item).__name__)


def _flat(points: Iterable[tuple[float, float]], h: float) -> list[float]:
    return [round(n, 1) for x, y in points for n in (x, h - y)]
