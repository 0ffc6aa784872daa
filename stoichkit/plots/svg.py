"""Hand-written SVG of the scenes: sharp, small, and about 100 times faster than matplotlib."""

from __future__ import annotations

import html
from typing import TYPE_CHECKING

from .decision import DecisionPicture, decision_alt_text, decision_data
from .plane import decision_scene
from .ratio import RatioPicture, ratio_alt_text, ratio_data, ratio_scene
from .scene import Ellipse, Item, Line, Mark, Polygon, Scene, Words, ellipse_points
from .style import BACKGROUND, FONT, HEADING, clean, percent, wrapped

if TYPE_CHECKING:
    from ..evidence import Evidence

__all__ = ["live_svg", "picture_svg", "scene_svg"]

_WIDTH = 480.0
_PLANE = 330.0


def _xml(text: str) -> str:
    return html.escape(clean(text), quote=True)


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


def title_scene(data: DecisionPicture, width: float) -> Scene:
    """Lay out the verdict in a few words as the heading of a picture."""
    text = f"{data.headline} ({percent(data.coverage)} coverage)"
    lines = wrapped(text, (width - 24.0) / 1.1, HEADING)
    height = len(lines) * (HEADING + 4.0) + 8.0
    words = tuple(
        Words(12.0, height - 4.0 - (i + 1) * (HEADING + 4.0) + 3.0, line, HEADING, "start", True)
        for i, line in enumerate(lines)
    )
    return Scene(width, height, words, (0.0, width), (0.0, height))


def picture_svg(decision: DecisionPicture, ratio: RatioPicture, *, width_px: int = 640) -> str:
    """Write the amounts plane and the ratio set as one inline SVG element; see :func:`live_svg`."""
    scenes = (
        title_scene(decision, _WIDTH),
        decision_scene(decision, _WIDTH, _PLANE),
        ratio_scene(ratio, _WIDTH),
    )
    alt_text = f"{decision_alt_text(decision)} {ratio_alt_text(ratio, with_candidates=False)}"
    return scene_svg(scenes, alt_text=alt_text, title=decision.headline, width_px=width_px)


def live_svg(evidence: Evidence, *, width_px: int = 640) -> str:
    """Return the amounts plane and the ratio set as inline SVG, fast enough for live panels.

    Parameters
    ----------
    evidence : Evidence
    width_px : int
        Largest width on the page, in CSS pixels; 480 or more keeps the text legible.

    Returns
    -------
    str
        An ``svg`` element with ``role="img"`` and the description of both pictures as its
        ``aria-label``.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> from stoichkit.evidence import assess
    >>> live_svg(assess(experiments.load("copper-silver")))[:48]
    '<svg xmlns="http://www.w3.org/2000/svg" role="im'
    """
    return picture_svg(decision_data(evidence), ratio_data(evidence), width_px=width_px)
