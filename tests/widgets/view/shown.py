"""A page without a browser: what a frame shows, and what is done on it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from stoichkit.widgets.view.frame import File, Frame, Screen

Block = dict[str, Any]


class Shown:
    """What one screen shows, as a page that draws what it is sent would have it."""

    def __init__(self, screen: Screen, **frame: Any) -> None:
        self.regions: dict[str, list[Block]] = {}
        self.files: list[Any] = []
        self.said = ""
        self._number = 0
        self.frame = Frame([screen], send=self._receive, **frame)
        screen.frame = self.frame
        self.act("ready")

    def _receive(self, answer: dict[str, Any]) -> None:
        answer = json.loads(json.dumps(answer, allow_nan=False))
        places = {name for _, name in answer["layout"]["places"]}
        self.regions = {k: v for k, v in self.regions.items() if k in places}
        self.regions |= answer["regions"]
        self.files += answer["files"]
        self.said = answer["said"]["text"]

    def act(self, name: str, **given: Any) -> None:
        """Do something as the page would."""
        self._number += 1
        self.frame.act({"page": "p", "number": self._number, "name": name, "arguments": given})

    def blocks(self, kind: str = "", region: str = "") -> Iterator[Block]:
        """Return all blocks, of one kind or in one region, those within others too."""
        for name, blocks in self.regions.items():
            if not region or name == region:
                yield from (b for b in _within(blocks) if not kind or b.get("kind") == kind)

    def text(self, region: str = "") -> str:
        """Return all words that are shown, but for those in pictures."""
        return " ".join(_words(b) for b in self.blocks(region=region))

    def control(self, name: str) -> Block:
        """Return the control of a name or with a label."""
        found = [b for b in self.blocks() if "id" in b and name in (b["id"], b.get("label"))]
        assert len(found) == 1, f"{len(found)} controls are called {name}"
        return found[0]

    def has(self, name: str) -> bool:
        """Whether there is a control of a name or with a label."""
        return any(name in (b.get("id"), b.get("label")) for b in self.blocks() if "id" in b)

    def press(self, name: str) -> None:
        """Press a button."""
        block = self.control(name)
        assert block.get("enabled", True), f"{name} cannot be pressed"
        self.act("press", id=block["id"])

    def type(self, name: str, text: str) -> None:
        """Type a text, or choose one of several."""
        self.act("set", id=self.control(name)["id"], to=text)

    def file(self) -> File:
        """Return the newest file that was handed over."""
        import base64

        one = self.files[-1]
        return File(one["name"], one["type"], base64.b64decode(one["base64"]))


def _within(blocks: list[Any]) -> Iterator[Block]:
    for block in blocks:
        if isinstance(block, dict):
            yield block
            yield from _within(block.get("blocks", []))


def _words(block: Block) -> str:
    parts = [block.get(k, "") for k in ("text", "label", "headline", "refusal", "note", "summary",
                                        "caption", "words")]  # fmt: skip
    if isinstance(block.get("words"), list):
        parts[-1] = " ".join(block["words"])
    parts += [str(one) for one in block.get("items", []) if isinstance(one, str)]
    parts += [" ".join(row) for row in block.get("rows", []) if isinstance(row, list)]
    parts += block.get("header", []) if block.get("kind") == "table" else []
    if block.get("kind") == "document":
        parts.append(json.dumps([block["opening"], block["sections"]], ensure_ascii=False))
    return " ".join(parts)
