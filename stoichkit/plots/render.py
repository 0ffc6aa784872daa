"""Draw a scene on matplotlib axes; matplotlib is imported only when that is asked for."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from ..text.html import escaped
from .scene import (
    BACKGROUND,
    FONT,
    Ellipse,
    Item,
    Line,
    Mark,
    Polygon,
    Scene,
    Words,
    clean,
    ellipse_points,
)

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes

__all__ = ["paint", "scene_svg", "size_of"]


def size_of(ax: Axes) -> tuple[float, float]:
    """Return the width and height of axes in points."""
    inch = ax.figure.dpi
    return 72.0 * float(ax.bbox.width) / inch, 72.0 * float(ax.bbox.height) / inch


def paint(ax: Axes, scene: Scene) -> None:
    """Draw a scene from the upper left corner of the axes on, and set their limits to match."""
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


def _xml(text: str) -> str:
    return escaped(clean(text))


def _points(points: list[tuple[float, float]] | tuple[tuple[float, float], ...], h: float) -> str:
    return " ".join(f"{x:.1f},{h - y:.1f}" for x, y in points)


def _element(item: Item, h: float) -> str:
    """Write one item; ``h`` is the height at which y is 0, since y points down in SVG."""
    if isinstance(item, Line):
        dashes = f' stroke-dasharray="{item.dashes[0]} {item.dashes[1]}"' if item.dashes else ""
        return (
            f'<polyline points="{_points(tuple(item.points), h)}" fill="none" '
            f'stroke="{item.ink}" stroke-width="{item.width}"{dashes}/>'
        )
    if isinstance(item, Words):
        anchor = "" if item.anchor == "start" else f' text-anchor="{item.anchor}"'
        bold = ' font-weight="bold"' if item.bold else ""
        x, y = item.x, h - item.y
        turn = f' transform="rotate({-item.angle:g} {x:.1f} {y:.1f})"' if item.angle else ""
        return (
            f'<text x="{x:.1f}" y="{y:.1f}" font-size="{item.size:g}" fill="{item.ink}"'
            f"{anchor}{bold}{turn}>{_xml(item.text)}</text>"
        )
    if isinstance(item, Polygon):
        return f'<polygon points="{_points(tuple(item.points), h)}" fill="{item.fill}"/>'
    if isinstance(item, Ellipse):
        p = [f"{x:.2f} {h - y:.2f}" for x, y in ellipse_points(item)]
        curves = " ".join(f"C{p[i]} {p[i + 1]} {p[i + 2]}" for i in range(1, 13, 3))
        fill = (
            f'fill="{item.ink}" fill-opacity="{item.opacity:g}"'
            if item.opacity
            else ('fill="none"')
        )
        return (
            f'<path d="M{p[0]} {curves}Z" {fill} stroke="{item.ink}" stroke-width="{item.width}"/>'
        )
    return _mark(item, h)


def _mark(item: Mark, h: float) -> str:
    x, y, s = item.x, h - item.y, item.size
    look = f'fill="{item.ink}" stroke="{BACKGROUND}" stroke-width="0.8"'
    if item.shape == "circle":
        return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{s:g}" {look}/>'
    return (
        f'<path d="M{x:.1f} {y - s:.1f}L{x + s:.1f} {y:.1f}L{x:.1f} {y + s:.1f}'
        f'L{x - s:.1f} {y:.1f}Z" {look}/>'
    )


def scene_svg(scenes: tuple[Scene, ...], *, alt_text: str, title: str, width_px: int = 640) -> str:
    """Write scenes below one another as one inline SVG element.

    Parameters
    ----------
    scenes : tuple of Scene
        At least one, of one width.
    alt_text : str
        Becomes the ``aria-label``.
    title : str
        Becomes the ``title`` element, which browsers show as a tip.
    width_px : int
        Largest width on the page; it shrinks with its container.

    Returns
    -------
    str
        An ``svg`` element with ``role="img"``, without ids, so that any number of them can be
        on one page; everything typed by a user is escaped.
    """
    width = scenes[0].width
    height = sum(scene.height for scene in scenes)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-label="{_xml(alt_text)}" '
        f'viewBox="0 0 {width:g} {height:.1f}" width="{width_px}" '
        f'height="{width_px * height / width:.0f}" '
        'style="display:block;max-width:100%;height:auto" '
        f'font-family="{FONT}, Verdana, Arial, sans-serif">',
        f"<title>{_xml(title)}</title>",
        f'<rect width="{width:g}" height="{height:.1f}" fill="{BACKGROUND}"/>',
    ]
    top = 0.0
    for scene in scenes:
        top += scene.height
        parts += [_element(item, top) for item in scene.items]
    parts.append("</svg>")
    return "".join(parts)
