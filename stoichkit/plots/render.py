"""Draw any picture: as SVG, written by hand, or on matplotlib axes.

SVG is sharp, small and about 100 times faster than matplotlib, which is imported only when a
picture is drawn on axes. What a user typed is escaped here and nowhere else.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal

from ..text.html import escaped, html_image
from ..uncertainty import entry
from .look import FONT, WHITE
from .scene import (
    Ellipse,
    Item,
    Line,
    Mark,
    Picture,
    Point,
    Polygon,
    Scene,
    Words,
    checked_picture,
)
from .writing import clean

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes


def svg(
    picture: Picture,
    *,
    width_px: int = 640,
    width: float = 480.0,
    height: float | None = None,
    title: str | None = None,
    document: bool = False,
) -> str:
    """Write a picture as one SVG element.

    Parameters
    ----------
    picture : Picture
    width_px : int
        Largest width on the page, in CSS pixels; it shrinks with its container. 480 or more
        keeps the text legible.
    width, height : float
        Size of the scene in points; see :meth:`stoichkit.plots.scene.Picture.scene`.
    title : str, optional
        Becomes the ``title`` element, which browsers show as a tip; by default the title of the
        picture.
    document : bool
        Write a file of its own, with an XML declaration and the description as ``desc`` too.

    Returns
    -------
    str
        An ``svg`` element with ``role="img"`` and the description as its ``aria-label``, without
        ids, so that any number of them can be on one page; everything typed by a user is escaped.

    Examples
    --------
    >>> from stoichkit import assess, experiments
    >>> from stoichkit.plots import RatioPicture
    >>> svg(RatioPicture.of(assess(experiments.load("copper-silver"))))[:51]
    '<svg xmlns="http://www.w3.org/2000/svg" role="img" '
    """
    width_px = entry.whole("width_px", width_px, least=1, most=100_000)
    width = entry.number("width", width, least=1, most=100_000)
    if height is not None:
        height = entry.number("height", height, least=1, most=100_000)
    if title is not None:
        entry.text("title", title)
    document = entry.flag("document", document)
    scene = checked_picture(picture).scene(width, height)
    head = picture.title if title is None else title
    return scene_svg(scene, head, picture.alt_text, width_px=width_px, document=document)


def scene_svg(
    scene: Scene, title: str, alt_text: str, *, width_px: int = 640, document: bool = False
) -> str:
    """Write a scene that is laid out already, with its title and its description; see `svg`.

    >>> from .scene import Scene
    >>> scene_svg(Scene(9.0, 9.0, ()), "Nothing", "An empty picture.")[40:81]
    'role="img" aria-label="An empty picture."'
    """
    words, head = _xml(alt_text), _xml(title)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-label="{words}" '
        f'viewBox="0 0 {scene.width:g} {scene.height:.1f}" width="{width_px}" '
        f'height="{width_px * scene.height / scene.width:.0f}" '
        'style="display:block;max-width:100%;height:auto" '
        f'font-family="{FONT}, Verdana, Arial, sans-serif">',
        f"<title>{head}</title>",
        f"<desc>{words}</desc>" if document else "",
        f'<rect width="{scene.width:g}" height="{scene.height:.1f}" fill="{WHITE}"/>',
        *(_element(item, scene.height) for item in scene.items),
        "</svg>",
    ]
    text = "".join(parts)
    return f'<?xml version="1.0" encoding="utf-8"?>\n{text}\n' if document else text


def image_html(picture: Picture, *, title: str | None = None) -> str:
    """Return a picture as an ``img`` element with its description, which any notebook shows.

    Parameters
    ----------
    picture : Picture
    title : str, optional
        By default the title of the picture.

    Examples
    --------
    >>> from stoichkit import assess, experiments
    >>> from stoichkit.plots import RatioPicture
    >>> image_html(RatioPicture.of(assess(experiments.load("copper-silver"))))[:10]
    '<img alt="'
    """
    return html_image(svg(picture, title=title), checked_picture(picture).alt_text)


def _xml(text: str) -> str:
    """Write text as XML, for an element or an attribute."""
    return escaped(clean(text))


def _points(points: Sequence[Point], h: float) -> str:
    return " ".join(f"{x:.1f},{h - y:.1f}" for x, y in points)


def _element(item: Item, h: float) -> str:
    """Write one item; ``h`` is the height at which y is 0, since y points down in SVG."""
    if isinstance(item, Line):
        dashes = f' stroke-dasharray="{item.dashes[0]} {item.dashes[1]}"' if item.dashes else ""
        return (
            f'<polyline points="{_points(item.points, h)}" fill="none" '
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
        edge = f' stroke="{item.edge}" stroke-width="0.9"' if item.edge else ""
        fill = f' fill-opacity="{item.opacity:g}"' if item.opacity < 1 else ""
        return f'<polygon points="{_points(item.points, h)}" fill="{item.fill}"{fill}{edge}/>'
    if isinstance(item, Ellipse):
        p = [f"{x:.2f} {h - y:.2f}" for x, y in _round(item)]
        curves = " ".join(f"C{p[i]} {p[i + 1]} {p[i + 2]}" for i in range(1, 13, 3))
        fill = f'"{item.ink}" fill-opacity="{item.opacity:g}"' if item.opacity else '"none"'
        look = f'fill={fill} stroke="{item.ink}" stroke-width="{item.width}"'
        return f'<path d="M{p[0]} {curves}Z" {look}/>'
    x, y, s = item.x, h - item.y, item.size
    look = f'fill="{item.ink}" stroke="{WHITE}" stroke-width="0.8"'
    if item.shape == "circle":
        return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{s:g}" {look}/>'
    return (
        f'<path d="M{x:.1f} {y - s:.1f}L{x + s:.1f} {y:.1f}L{x:.1f} {y + s:.1f}'
        f'L{x - s:.1f} {y:.1f}Z" {look}/>'
    )


def _round(item: Ellipse) -> list[Point]:
    """Return the start and the twelve control points of four cubic curves round an ellipse."""
    (x, y), (ux, uy), (vx, vy) = item.centre, item.u, item.v
    k = 0.5522847498307936  # for a quarter circle as a cubic curve (error 0.03 %)
    turns = [
        (1, 0), (1, k), (k, 1), (0, 1), (-k, 1), (-1, k), (-1, 0),
        (-1, -k), (-k, -1), (0, -1), (k, -1), (1, -k), (1, 0),
    ]  # fmt: skip
    return [(x + p * ux + q * vx, y + p * uy + q * vy) for p, q in turns]


def draw(ax: Axes, picture: Picture) -> None:
    """Draw a picture on matplotlib axes, which it fills with all its numbers and words.

    Parameters
    ----------
    ax : matplotlib Axes
        Of the size that the picture is to have: set it before. At least 360 by 300 points, or as
        high as ``picture.scene(width).height`` where the height follows from what is shown. The
        limits are set so that more can be drawn on top in data coordinates: mmol on the planes
        of amounts, mole ratios across on the line of ratios, points on pictures made of rows.
    picture : Picture
    """
    from matplotlib.axes import Axes

    entry.record("ax", ax, Axes)
    paint(ax, checked_picture(picture).scene(*_size_of(ax)))


def _size_of(ax: Axes) -> tuple[float, float]:
    """Return the width and height of axes in points."""
    inch = ax.figure.dpi
    return 72.0 * float(ax.bbox.width) / inch, 72.0 * float(ax.bbox.height) / inch


def paint(ax: Axes, scene: Scene) -> None:
    """Draw a scene from the upper left corner of the axes on, and set their limits to match."""
    from matplotlib.transforms import Affine2D

    width, height = _size_of(ax)
    ax.axis("off")
    (low, high), (bottom, top) = scene.x_limits, scene.y_limits
    ax.set_xlim(low, low + (high - low) * (width / scene.width))
    ax.set_ylim(top - (top - bottom) * (height / scene.height), top)
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
            markeredgecolor=WHITE,
            markeredgewidth=0.8,
        )
    if isinstance(item, Polygon):
        face, edge = _shade(item.fill, item.opacity), item.edge or "none"
        return Area(item.points, closed=True, facecolor=face, edgecolor=edge, linewidth=0.9)
    if isinstance(item, Ellipse):
        path = Path(_round(item), [Path.MOVETO, *[Path.CURVE4] * 12])
        face = _shade(item.ink, item.opacity)
        return PathPatch(path, facecolor=face, edgecolor=item.ink, linewidth=item.width)
    xs, ys = zip(*item.points, strict=True)
    line = Line2D(xs, ys, color=item.ink, linewidth=item.width, solid_capstyle="butt")
    if item.dashes is not None:  # matplotlib counts dashes in line widths
        line.set_linestyle((0.0, tuple(d / item.width for d in item.dashes)))
        line.set_dash_capstyle("butt")
    return line


def _shade(colour: str, opacity: float) -> tuple[float, float, float, float]:
    r, g, b = (int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
    return r, g, b, opacity


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
