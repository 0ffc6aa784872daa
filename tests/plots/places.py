"""What the tests of places on a picture measure with."""

from __future__ import annotations

from typing import Any

from stoichkit.plots.plane import Plane
from stoichkit.plots.scene import Item, Polygon, Scene

FRAME = Plane(300.0, 200.0, 50.0, 250.0, 40.0, 180.0, (0.0, 10.0), (0.0, 20.0), [(0.0, "0")])


def of_kind(items: Scene | list[Item], kind: Any) -> list[Any]:
    found = items.items if isinstance(items, Scene) else items
    return [item for item in found if isinstance(item, kind)]


def ends(area: Polygon) -> tuple[float, ...]:
    """Return left, right, low and high of a box."""
    xs, ys = zip(*area.points, strict=True)
    return min(xs), max(xs), min(ys), max(ys)
