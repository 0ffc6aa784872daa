"""The schema of what the page and Python say to each other, and all screens that there are."""

from __future__ import annotations

import importlib
import json
import pkgutil
from collections.abc import Callable, Iterator
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

import pytest

from stoichkit.widgets import view
from stoichkit.widgets.state.lab import LabState
from stoichkit.widgets.view.frame import Frame
from stoichkit.widgets.view.head import Head

PAGE = Path(view.__file__).parents[1] / "page"
SCHEMA = json.loads((PAGE / "protocol.schema.json").read_text("utf-8"))


@cache
def _validator(name: str) -> Any:
    jsonschema = pytest.importorskip("jsonschema", reason="jsonschema is not installed")
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    return jsonschema.Draft202012Validator({**SCHEMA, "oneOf": [{"$ref": f"#/$defs/{name}"}]})


def wrong(name: str, message: Any) -> list[str]:
    """Return what the schema finds wrong with an action or an answer, once written as JSON.

    Blocks that were looked at before are not looked at again: most of a screen stays as it is.
    """
    whole = json.loads(_written(message))
    regions = whole.get("regions") if isinstance(whole, dict) else None
    if not isinstance(regions, dict) or not all(isinstance(one, list) for one in regions.values()):
        return list(_wrong(name, _written(whole)))
    blocks = [block for region in regions.values() for block in region]
    found = list(_wrong(name, _written({**whole, "regions": {key: [] for key in regions}})))
    return found + [fault for block in blocks for fault in _wrong("block", _written(block))]


def _written(message: Any) -> str:
    return json.dumps(message, ensure_ascii=False, allow_nan=False).encode().decode()


@lru_cache(maxsize=5000)
def _wrong(name: str, text: str) -> tuple[str, ...]:
    found = []
    for error in _validator(name).iter_errors(json.loads(text)):
        deepest = error
        while deepest.context:
            deepest = max(deepest.context, key=lambda one: len(one.absolute_path))
        found.append(f"{'/'.join(map(str, deepest.absolute_path))}: {deepest.message[:200]}")
    return tuple(found)


def screens() -> dict[str, Any]:
    """Return the class of every screen by its key."""
    found = {}
    for module in pkgutil.iter_modules(view.__path__):
        for thing in vars(importlib.import_module(f"{view.__name__}.{module.name}")).values():
            own = getattr(thing, "__module__", "").endswith(f"view.{module.name}")
            if own and getattr(thing, "__name__", "").endswith("Screen") and hasattr(thing, "key"):
                found[thing.key] = thing
    return found


def opened(lab: LabState, send: Any, **how: Any) -> Frame:
    """Return a frame with all screens and the head on a lab."""
    made = [screen(lab) for screen in screens().values()]
    made.sort(key=lambda one: one.key != "readings")  # the first is shown
    head = Head(lab)
    frame = Frame(made, head=head.region, send=send, left=lab.history.settle, **how)
    for one in (*made, head):
        one.frame = frame
    return frame


class Seen:
    """What a page without a browser has been sent, and what it does."""

    def __init__(self, lab: LabState, screen: str) -> None:
        self.lab, self.number = lab, 0
        self.regions: dict[str, Any] = {}
        self.files: list[dict[str, str]] = []
        self.said, self.focus = "", ""
        self.frame = opened(lab, self._receive)
        self.do("ready")
        self.do("show", id=screen)

    def _receive(self, answer: Any) -> None:
        assert wrong("answer", answer) == []
        self.regions |= answer["regions"]
        self.files += answer["files"]
        self.said = answer["said"]["text"] or self.said
        self.focus = answer["focus"] or self.focus

    def do(self, action: str, **arguments: Any) -> None:
        """Send an action."""
        self.number, self.said, self.focus = self.number + 1, "", ""
        message = {"page": "p", "number": self.number, "name": action, "arguments": arguments}
        assert wrong("action", message) == []
        self.frame.act(message)

    def all(self, kind: str, region: str = "") -> list[Any]:
        """Return the blocks of a kind, wherever they stand."""
        found = self.regions[region] if region else list(self.regions.values())
        return [one for one in walk(found) if isinstance(one, dict) and one.get("kind") == kind]

    def control(self, name: str) -> Any:
        """Return the block of a control."""
        blocks = walk(list(self.regions.values()))
        return next(one for one in blocks if isinstance(one, dict) and one.get("id") == name)

    def text(self, *regions: str) -> str:
        """Return all words of some regions, or of all."""
        found = [self.regions[name] for name in regions] or list(self.regions.values())
        return "\n".join(one for one in walk(found) if isinstance(one, str))


def opening(screen: str) -> Iterator[Callable[..., Seen]]:
    """Yield what opens a lab on a screen, for a fixture; the labs are closed at the end."""
    labs = []

    def opened_on(name: str = "copper-silver", folder: Path | None = None) -> Seen:
        lab = LabState(name, autosave=folder is not None, folder=folder)
        labs.append(lab)
        return Seen(lab, screen)

    yield opened_on
    for lab in labs:
        lab.close()


def walk(value: Any) -> Iterator[Any]:
    """Yield a value and all within it, in the order in which they are written."""
    left = [value]
    while left:
        one = left.pop()
        yield one
        if isinstance(one, dict):
            left.extend(reversed(one.values()))
        elif type(one) is list:
            left.extend(reversed(one))
