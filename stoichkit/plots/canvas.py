"""Draw a scene on matplotlib axes; matplotlib is imported only when that is asked for."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from .scene import Ellipse, Item, Mark, Polygon, Scene, Words, ellipse_points
from .style import BACKGROUND, FONT

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes

__all__ = ["paint", "size_of"]


def size_of(ax: Axes) -> tuple[float, float]:
    """Return the width and height of axes in points."""
    inch = ax.figure.dpi
    return 72.0 * float(ax.bbox.width) / inch, 72.0 * float(ax.bbox.height) / inch


def paint(ax: Axes, scene: Scene) -> None:
    """Draw a scene from the upper left corner of the axes on, and set their limits to match.

    Parameters
    ----------
    ax : matplotlib Axes
        Their frame and ticks are switched off: the scene brings its own.
    scene : Scene
    """
    from matplotlib.transforms import Affine2D

    width, height = size_of(ax)
    ax.axis("off")
    ax.set_xlim(*_stretched(scene.x_limits, width / scene.width, from_end=False))
    ax.set_ylim(*_stretched(scene.y_limits, height / scene.height, from_end=True))
    place = Affine2D().translate(0.0, height - scene.height).scale(1 / width, 1 / height)
    for order, item in enumerate(scene.items):
        artist = _artist(item)
        artist.set_transform(place + ax.transAxes)
        artist.set_zorder(1.0 + order * 1e-4)
        artist.set_clip_on(False)
        ax.add_artist(artist)


def _artist(item: Item) -> Artist:
    """Return the matplotlib artist of one item, in points."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import PathPatch
    from matplotlib.patches import Polygon as Area
    from matplotlib.path import Path

    if isinstance(item, Words):
        return _text(item)
    if isinstance(item, Mark):
        circle = item.shape == "circle"
        return Line2D(
            [item.x],
            [item.y],
            linestyle="none",
            marker="o" if circle else "D",
            markersize=item.size * (2.0 if circle else 1.414),
            markerfacecolor=item.ink,
            markeredgecolor=BACKGROUND,
            markeredgewidth=0.8,
        )
    if isinstance(item, Polygon):
        return Area(item.points, closed=True, facecolor=item.fill, edgecolor="none")
    if isinstance(item, Ellipse):
        codes = [Path.MOVETO, *[Path.CURVE4] * 12]
        return PathPatch(
            Path(ellipse_points(item), codes),
            facecolor=(*_rgb(item.ink), item.opacity),
            edgecolor=item.ink,
            linewidth=item.width,
        )
    xs, ys = zip(*item.points, strict=True)
    line = Line2D(xs, ys, color=item.ink, linewidth=item.width, solid_capstyle="butt")
    if item.dashes is not None:  # matplotlib counts dashes in line widths
        line.set_linestyle((0.0, tuple(d / item.width for d in item.dashes)))
        line.set_dash_capstyle("butt")
    return line


def _text(item: Words) -> Artist:
    from matplotlib.text import Text

    side: dict[str, Literal["left", "center", "right"]] = {
        "start": "left",
        "middle": "center",
        "end": "right",
    }
    return Text(
        item.x,
        item.y,
        item.text,
        fontsize=item.size,
        color=item.ink,
        fontfamily=FONT,
        fontweight="bold" if item.bold else "normal",
        horizontalalignment=side[item.anchor],
        verticalalignment="baseline",
        rotation=item.angle,
        rotation_mode="anchor",
        parse_math=False,
        usetex=False,
    )


def _stretched(
    limits: tuple[float, float], factor: float, *, from_end: bool
) -> tuple[float, float]:
    """Extend limits where the axes are larger than the scene, which keeps its upper left corner."""
    low, high = limits
    span = (high - low) * factor
    return (high - span, high) if from_end else (low, low + span)


def _rgb(ink: str) -> tuple[float, float, float]:
    r, g, b = (int(ink[i : i + 2], 16) / 255 for i in (1, 3, 5))
    return r, g, b
