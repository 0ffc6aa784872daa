"""The three pictures in one figure, saved or embedded with their description.

matplotlib is imported only when one of these functions is called, and pyplot never.
"""

from __future__ import annotations

import html
import io
import itertools
import re
import warnings
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..atomic_file import write_whole
from ..errors import DataFileError, ModelError
from ..evidence import Evidence
from .budget import budget_alt_text, budget_data, budget_scene
from .canvas import paint
from .decision import decision_alt_text, decision_data
from .plane import decision_scene
from .ratio import ratio_alt_text, ratio_data, ratio_scene
from .style import BACKGROUND, clean
from .svg import title_scene

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["png_bytes", "result_alt_text", "result_figure", "save_picture", "svg_of"]

_WIDTH = 480.0
_PLANE = 345.0
_GAP = 10.0
_counter = itertools.count(1)


def result_figure(evidence: Evidence) -> Figure:
    """Return one figure with the amounts plane, the ratio set and the budget.

    Parameters
    ----------
    evidence : Evidence

    Returns
    -------
    matplotlib Figure
        480 points (6.67 inches, 640 pixels at 96 dpi) wide, for A4 paper; it is not registered
        with pyplot. Its axes are labelled ``"decision"``, ``"ratio"`` and ``"budget"``.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> from stoichkit.evidence import assess
    >>> figure = result_figure(assess(experiments.load("copper-silver")))
    >>> [ax.get_label() for ax in figure.axes]
    ['title', 'decision', 'ratio', 'budget']
    """
    from matplotlib.figure import Figure

    decision = decision_data(evidence)
    scenes = {
        "title": title_scene(decision, _WIDTH),
        "decision": decision_scene(decision, _WIDTH, _PLANE),
        "ratio": ratio_scene(ratio_data(evidence), _WIDTH),
        "budget": budget_scene(budget_data(evidence), _WIDTH),
    }
    height = sum(scene.height + _GAP for scene in scenes.values())
    with _own_look():
        figure = Figure(figsize=(_WIDTH / 72.0, height / 72.0), facecolor=BACKGROUND, dpi=96)
        top = height
        for name, scene in scenes.items():
            top -= scene.height
            rectangle = (0.0, top / height, 1.0, scene.height / height)
            paint(figure.add_axes(rectangle, label=name), scene)
            top -= _GAP
    return figure


def result_alt_text(evidence: Evidence) -> str:
    """Describe the figure of :func:`result_figure` for readers who do not see it."""
    return " ".join(
        (
            decision_alt_text(decision_data(evidence)),
            ratio_alt_text(ratio_data(evidence), with_candidates=False),
            budget_alt_text(budget_data(evidence)),
        )
    )


@contextmanager
def _own_look() -> Iterator[None]:
    """Shield the pictures from a user's matplotlib settings."""
    import matplotlib as mpl

    settings: Any = {
        "figure.autolayout": False,
        "figure.constrained_layout.use": False,
        "lines.scale_dashes": True,
        "path.sketch": None,
        "savefig.bbox": None,
        "savefig.facecolor": BACKGROUND,
        "savefig.transparent": False,
        "svg.fonttype": "path",
        "svg.hashsalt": "stoichkit",
        "text.usetex": False,
    }
    with mpl.rc_context(settings), warnings.catch_warnings():
        # a letter that the font lacks becomes a box; the description has it
        warnings.filterwarnings("ignore", message=".*[Gg]lyph.*missing")
        yield


def png_bytes(figure: Figure, *, title: str = "", alt_text: str = "", dpi: int = 192) -> bytes:
    """Return a figure as PNG with its title and description in the file's text fields.

    Parameters
    ----------
    figure : matplotlib Figure
    title, alt_text : str
        Stored under the PNG keywords ``Title`` and ``Description``.
    dpi : int
        Pixels per inch, 30 to 1200; 96 gives a picture 640 pixels wide.

    Raises
    ------
    ModelError
        If the resolution cannot be used.
    """
    if not 30 <= dpi <= 1200:
        raise ModelError("The resolution cannot be used.", given=dpi, allowed="30 to 1200 dpi")
    words = {"Title": clean(title), "Description": clean(alt_text), "Software": "stoichkit"}
    out = io.BytesIO()
    with _own_look():
        figure.savefig(
            out, format="png", dpi=dpi, metadata={key: text for key, text in words.items() if text}
        )
    return out.getvalue()


def svg_of(
    picture: Figure | Callable[[Axes], object],
    alt_text: str,
    *,
    title: str = "",
    size_pt: tuple[float, float] = (_WIDTH, _PLANE),
) -> str:
    """Return a figure as an inline ``svg`` element for a web page.

    Parameters
    ----------
    picture : matplotlib Figure or callable
        A figure, or a function that draws on matplotlib axes, such as
        ``lambda ax: draw_decision(ax, data)``.
    alt_text : str
        Becomes the ``aria-label`` and the ``desc`` element.
    title : str
        Becomes the ``title`` element, which browsers show as a tip; none if left out.
    size_pt : (float, float)
        Width and height in points of the axes for a callable.

    Returns
    -------
    str
        With ``role="img"``, an opaque background, and ids that no other result of this function
        has, so that several can be on one page.
    """
    figure = _drawn(picture, size_pt)
    out = io.StringIO()
    nothing = dict.fromkeys(("Creator", "Date", "Format", "Type"))
    with _own_look():
        figure.savefig(out, format="svg", metadata=nothing)
    text = out.getvalue()
    body = text[text.index(">", text.index("<svg")) + 1 :]
    body = re.sub(r"<!--.*?-->|<metadata>.*?</metadata>", "", body, flags=re.DOTALL)
    own = f"picture{next(_counter)}-{zlib.crc32(body.encode()):x}-"
    body = re.sub(r'(\bid="|href="#|url\(#)', rf"\g<1>{own}", body)
    width, height = (72.0 * float(v) for v in figure.get_size_inches())
    words = html.escape(clean(alt_text), quote=True)
    head = f"<title>{html.escape(clean(title))}</title>" if title else ""
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f'role="img" aria-label="{words}" viewBox="0 0 {width:g} {height:g}" '
        f'width="{width / 0.75:.0f}" height="{height / 0.75:.0f}" '
        f'style="display:block;max-width:100%;height:auto">{head}<desc>{words}</desc>{body.strip()}'
    )


def _drawn(picture: Figure | Callable[[Axes], object], size_pt: tuple[float, float]) -> Figure:
    from matplotlib.figure import Figure

    if isinstance(picture, Figure):
        return picture
    width, height = size_pt
    with _own_look():
        figure = Figure(figsize=(width / 72.0, height / 72.0), facecolor=BACKGROUND, dpi=96)
        picture(figure.add_axes((0.0, 0.0, 1.0, 1.0)))
    return figure


def save_picture(evidence: Evidence, path: str | Path, *, dpi: int = 192) -> Path:
    """Save the figure of :func:`result_figure` with its description inside the file.

    Parameters
    ----------
    evidence : Evidence
    path : str or Path
        Ends in ``.png`` (text fields Title and Description) or ``.svg`` (elements title and
        desc, and ``aria-label``).
    dpi : int
        Pixels per inch of a PNG, 30 to 1200.

    Returns
    -------
    Path
        Where it was saved.

    Raises
    ------
    DataFileError
        If the name ends in something else, or the file cannot be written; one that was there
        before is kept then.
    ModelError
        If the resolution cannot be used.
    """
    target = Path(path)
    suffix = target.suffix.lower()
    if suffix not in (".png", ".svg"):
        raise DataFileError(
            "A picture cannot be saved in this form.",
            given=target.name,
            allowed="a name that ends in .png or .svg",
        )
    figure, alt_text = result_figure(evidence), result_alt_text(evidence)
    title = evidence.experiment.title
    if suffix == ".png":
        data = png_bytes(figure, title=title, alt_text=alt_text, dpi=dpi)
    else:
        document = svg_of(figure, alt_text, title=title)
        data = f'<?xml version="1.0" encoding="utf-8"?>\n{document}\n'.encode()
    return write_whole(target, data)
