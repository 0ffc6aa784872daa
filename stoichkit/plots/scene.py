"""Scenes: a picture as a list of lines, areas, marks and words, with the origin lower left, y up.

Both renderers, matplotlib and SVG, draw the same scene, so that their pictures look alike. Sizes
are in points.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple, Protocol

from ..errors import ModelError
from ..uncertainty import entry
from .look import BODY, INK

Point = tuple[float, float]


class Line(NamedTuple):
    """An open line through points; ``dashes`` are points drawn and left out."""

    points: Sequence[Point]
    ink: str = INK
    width: float = 1.0
    dashes: tuple[float, float] | None = None


class Polygon(NamedTuple):
    """A filled area, with an outline if ``edge`` names its colour; ``opacity`` is of the fill."""

    points: Sequence[Point]
    fill: str
    edge: str = ""
    opacity: float = 1.0


class Ellipse(NamedTuple):
    """The points centre + u cos t + v sin t: an outline, and a light fill if ``opacity`` is set."""

    centre: Point
    u: Point
    v: Point
    ink: str
    width: float
    opacity: float = 0.0


class Mark(NamedTuple):
    """A filled ``"circle"`` or ``"diamond"`` with a white edge; ``size`` is its half-width."""

    x: float
    y: float
    shape: str
    ink: str
    size: float


class Words(NamedTuple):
    """A line of text on its baseline; ``angle`` in degrees about the anchor, anticlockwise."""

    x: float
    y: float
    text: str
    size: float = BODY
    anchor: str = "start"
    bold: bool = False
    ink: str = INK
    angle: float = 0.0


Item = Line | Polygon | Ellipse | Mark | Words


@dataclass(frozen=True, slots=True)
class Scene:
    """A picture ready to be rendered.

    Attributes
    ----------
    width, height : float
        Size in points.
    items : tuple of Item
        In drawing order.
    x_limits, y_limits : (float, float)
        Values of the pictured quantities at the left and right, lower and upper edge of the
        scene, so that more can be drawn on top in data coordinates.
    """

    width: float
    height: float
    items: tuple[Item, ...]
    x_limits: tuple[float, float] = (0.0, 1.0)
    y_limits: tuple[float, float] = (0.0, 1.0)


class Picture(Protocol):
    """What every picture is: numbers worked out, described in words, and laid out when asked.

    Pictures are frozen records that are made by their ``of`` from what the library found, and
    drawn by :func:`stoichkit.plots.render.svg` or :func:`stoichkit.plots.render.draw`.
    """

    @property
    def title(self) -> str:
        """What the picture is called."""

    @property
    def alt_text(self) -> str:
        """The picture described for readers who do not see it."""

    def scene(self, width: float = 480.0, height: float | None = None) -> Scene:
        """Lay the picture out.

        Parameters
        ----------
        width : float
            Width in points, 360 or more.
        height : float, optional
            Height in points; the usual one if left out. Pictures whose height follows from what
            they show take no notice of it: the height of the scene is what counts.
        """


def checked_picture(picture: Picture) -> Picture:
    """Return a picture if it is one; it is not asked for its words, which may take long."""
    if not callable(getattr(type(picture), "scene", None)):
        allowed = "a picture, such as DecisionPicture.of(evidence)"
        raise entry.refusal(ModelError, "picture", "is no picture", picture, allowed)
    return picture


def stacked(scenes: Iterable[Scene], gap: float = 0.0) -> Scene:
    """Put scenes of one width below one another, with a gap below each."""
    scenes = tuple(scenes)
    width, height = scenes[0].width, sum(scene.height + gap for scene in scenes)
    items: list[Item] = []
    top = 0.0
    for scene in scenes:
        top += scene.height
        items += [lifted(item, height - top) for item in scene.items]
        top += gap
    return Scene(width, height, tuple(items), (0.0, width), (0.0, height))


def lifted(item: Item, by: float) -> Item:
    """Return an item at a greater height."""
    if isinstance(item, Ellipse):
        return item._replace(centre=(item.centre[0], item.centre[1] + by))
    if isinstance(item, Words | Mark):
        return item._replace(y=item.y + by)
    return item._replace(points=tuple((x, y + by) for x, y in item.points))
