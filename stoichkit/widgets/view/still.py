"""What is on a screen, as HTML that needs neither scripts nor a kernel.

A saved notebook shows it where the screen was, and what a screen shows can be kept as a page.
Results, what was typed and what was chosen are written; what only does something is left out.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from ...plots.render import scene_svg
from ...plots.scene import Scene
from ...text.html import html_image, html_part
from ...text.parts import Bullets, Part, Strong, Subheading, Table
from .blocks import Block, Builder
from .frame import Frame

_MOST_ROWS = 60
Drawn = tuple[Scene, str, str]
"""A scene with its title and its description."""


def still_html(frame: Frame) -> str:
    """Return the screen that a frame shows as HTML, every text escaped, pictures as images.

    >>> from stoichkit.widgets.state.lab import LabState
    >>> from stoichkit.widgets.view.readings import ReadingsScreen
    >>> page = still_html(Frame([ReadingsScreen(LabState("tin-oxide", autosave=False))]))
    >>> "single out SnO2" in page, page.count("<img "), "<script" in page
    (True, 1, False)
    """
    order = {"right": 0, "wide": 1, "left": 2}
    screen = frame.screens[frame.shown]
    own = getattr(screen, "still_regions", None)  # a screen that asks must not show its answers
    regions = [one for one in (own() if own else frame.regions()) if one.place in order]
    found: list[str] = []
    for region in sorted(regions, key=lambda one: order[one.place]):
        make = Builder()
        found += _written(region.build(make), make.scenes)
    return "\n".join(found)


def _written(blocks: Iterable[Block], scenes: Mapping[str, Drawn]) -> Iterator[str]:
    for block in blocks:
        if block["kind"] == "picture" and block["id"] in scenes:
            scene, title, alt = scenes[block["id"]]
            yield html_image(scene_svg(scene, title, alt), alt)
        elif block["kind"] == "document":
            for part in _document(block):
                yield part if isinstance(part, _Drawn) else html_part(part, level=4)
        elif "blocks" in block and block["kind"] != "verdict":
            if summary := block.get("summary"):
                yield html_part(Subheading(summary), level=4)
            yield from _written(block["blocks"], scenes)
        else:
            yield from (html_part(part, level=4) for part in _parts(block))
            yield from _written(block.get("blocks", ()), scenes)


class _Drawn(str):
    """HTML of a picture."""


def _parts(block: Block) -> Iterator[Part]:
    """Yield what a block says, as parts of a document."""
    match block["kind"]:
        case "heading":
            yield Subheading(block["text"])
        case "words" if block["text"]:
            yield Strong(block["text"]) if block["role"] == "strong" else str(block["text"])
        case "list" if block["items"]:
            yield Bullets(tuple(block["items"]))
        case "verdict":
            yield Strong(block["headline"])
        case "field" if block["text"].strip():
            yield f"{block['label']}: {block['text']}"
        case "choice":
            shown = dict(map(tuple, block["options"]))
            yield f"{block['label']}: {shown.get(block['value'], block['value'])}"
        case "tick" if block["on"]:
            yield f"{block['label']}."
        case "step":
            yield f"{block['label']} {block['words'][block['value']]}"
        case "sentence":
            yield "".join(map(_word, block["parts"]))
        case "candidates":
            rows = [(one["name"], one["standing"], one["p"], one["yield"]) for one in block["rows"]]
            yield Table(("Candidate", "Standing", "p", "Yield"), tuple(rows))
        case "table" if block["rows"]:
            rows = [tuple(row) for row in block["rows"]]
            yield Table(tuple(block["header"]), tuple(rows[:_MOST_ROWS]), block["caption"])
            if len(rows) > _MOST_ROWS:
                yield f"{len(rows) - _MOST_ROWS} more rows are left out here."
        case "sheet":
            yield from _sheet(block)


def _word(block: Block) -> str:
    """Return a part of a sentence as text."""
    if block["kind"] == "choice":
        return str(dict(map(tuple, block["options"])).get(block["value"], block["value"]))
    return str(block["text"]) or "…"


def _sheet(block: Block) -> Iterator[Part]:
    heads = [one["label"] + (f", {one['unit']}" if one["unit"] else "") for one in block["columns"]]
    result = [block["result"]] if block["result"] else []
    rows = [
        (
            row["name"],
            *(cell["text"] for cell in row["cells"]),
            *([row["result"]] if result else []),
        )
        for row in block["rows"][:_MOST_ROWS]
    ]
    yield Table(("trial", *heads, *result), tuple(rows), block["label"])


def _document(block: Block) -> Iterator[Part | _Drawn]:
    """Yield the parts of a document that stands in a screen as data."""
    if block["titled"] and block["title"]:
        yield Subheading(block["title"])
    yield from block["opening"]
    for section in block["sections"]:
        if section["title"]:
            yield Subheading(section["title"])
        for part in section["parts"]:
            match part["kind"]:
                case "strong":
                    yield Strong(part["text"])
                case "subheading":
                    yield Subheading(part["text"])
                case "list":
                    yield Bullets(tuple(part["items"]))
                case "table":
                    rows = tuple(tuple(row) for row in part["rows"])
                    yield Table(tuple(part["header"]), rows, part["caption"])
                case "equation":
                    yield " = ".join(part["sides"]) + (
                        f". {part['remark']}" if part["remark"] else ""
                    )
                case "picture":
                    yield _Drawn(html_image(part["svg"], part["alt_text"]))
                case _:
                    yield part.get("text", "")
