"""The schema of what the page and Python say to each other, and all screens that there are."""

from __future__ import annotations

import importlib
import json
import pkgutil
from functools import cache
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
    """Return what the schema finds wrong with an action or an answer, once written as JSON."""
    found = []
    whole = json.loads(json.dumps(message, ensure_ascii=False, allow_nan=False).encode())
    for error in _validator(name).iter_errors(whole):
        deepest = error
        while deepest.context:
            deepest = max(deepest.context, key=lambda one: len(one.absolute_path))
        found.append(f"{'/'.join(map(str, deepest.absolute_path))}: {deepest.message[:200]}")
    return found


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
    head = Head(lab)
    frame = Frame(made, head=head.region, send=send, left=lab.history.settle, **how)
    for one in (*made, head):
        one.frame = frame
    return frame
