"""The result of a lab as one picture: for a page, as a matplotlib figure, and as a file.

matplotlib is imported only for a figure or a PNG, and pyplot never.
"""

from __future__ import annotations

import io
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from .._common import check_place, write_whole
from ..decision.evidence import Evidence
from ..uncertainty import entry
from .budget import BudgetPicture
from .decision import DecisionPicture
from .look import HEADING, WHITE
from .ratio import RatioPicture
from .render import paint, svg
from .scene import Scene, Words, stacked
from .writing import clean, percent, wrapped

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_WIDTH = 480.0
_LOWEST_PLANE = 240.0


@dataclass(frozen=True, slots=True)
class ResultPicture:
    """The verdict in a few words, the amounts plane, the ratio set and the budget in one picture.

    Attributes
    ----------
    decision : DecisionPicture
    ratio : RatioPicture
    budget : BudgetPicture or None
        None leaves it out.
    """

    decision: DecisionPicture
    ratio: RatioPicture
    budget: BudgetPicture | None = None

    @classmethod
    def of(cls, evidence: Evidence, *, budget: bool = True) -> ResultPicture:
        """Return the picture of the result of a lab, with or without the budget.

        Examples
        --------
        >>> from stoichkit import assess, experiments
        >>> ResultPicture.of(assess(experiments.load("copper-silver"))).title
        'Singled out: copper(II)'
        """
        bars = BudgetPicture.of(evidence) if entry.flag("budget", budget) else None
        return cls(DecisionPicture.of(evidence), RatioPicture.of(evidence), bars)

    @property
    def title(self) -> str:
        """The verdict in a few words."""
        return self.decision.headline

    @property
    def alt_text(self) -> str:
        """The pictures described for readers who do not see them."""
        words = [self.decision.alt_text, self.ratio.summary]
        return " ".join(words if self.budget is None else [*words, self.budget.alt_text])

    def parts(self, width: float = _WIDTH, height: float | None = None) -> dict[str, Scene]:
        """Return the scenes that stand below one another, each by its name.

        Parameters
        ----------
        width, height : float
            Of all together, in points; the amounts plane takes what height the others leave it.
        """
        upper, lower = {"title": self._heading(width)}, {"ratio": self.ratio.scene(width)}
        plane = 330.0
        if self.budget is not None:
            lower["budget"] = self.budget.scene(width)
            plane = 345.0
        if height is not None:
            rest = [scene.height + self.gap for scene in (*upper.values(), *lower.values())]
            plane = max(height - sum(rest) - self.gap, _LOWEST_PLANE)
        return upper | {"decision": self.decision.scene(width, plane)} | lower

    @property
    def gap(self) -> float:
        """Points left free below each part."""
        return 0.0 if self.budget is None else 10.0

    def scene(self, width: float = _WIDTH, height: float | None = None) -> Scene:
        """Lay out all parts below one another; coordinates are points."""
        return stacked(self.parts(width, height).values(), self.gap)

    def _heading(self, width: float) -> Scene:
        """Lay out the verdict in a few words."""
        text = f"{self.title} ({percent(self.decision.coverage)} coverage)"
        lines = wrapped(text, (width - 24.0) / 1.1, HEADING)
        height = len(lines) * (HEADING + 4.0) + 8.0
        words = tuple(
            Words(12.0, height - 4.0 - (i + 1) * (HEADING + 4.0) + 3.0, line, HEADING, bold=True)
            for i, line in enumerate(lines)
        )
        return Scene(width, height, words, (0.0, width), (0.0, height))


def live_svg(evidence: Evidence, *, width_px: int = 640) -> str:
    """Return the amounts plane and the ratio set as inline SVG, fast enough for live panels.

    Parameters
    ----------
    evidence : Evidence
    width_px : int
        Largest width on the page, in CSS pixels; see :func:`stoichkit.plots.render.svg`.

    Examples
    --------
    >>> from stoichkit import assess, experiments
    >>> live_svg(assess(experiments.load("copper-silver")))[:48]
    '<svg xmlns="http://www.w3.org/2000/svg" role="im'
    """
    return svg(ResultPicture.of(evidence, budget=False), width_px=width_px)


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
    >>> from stoichkit import assess, experiments
    >>> figure = result_figure(assess(experiments.load("copper-silver")))
    >>> [ax.get_label() for ax in figure.axes]
    ['title', 'decision', 'ratio', 'budget']
    """
    return _figure(ResultPicture.of(evidence))


def _figure(picture: ResultPicture) -> Figure:
    """Draw a result, each part on axes of its own with data coordinates."""
    from matplotlib.figure import Figure

    scenes = picture.parts()
    height = sum(scene.height + picture.gap for scene in scenes.values())
    with _own_look():
        figure = Figure(figsize=(_WIDTH / 72.0, height / 72.0), facecolor=WHITE, dpi=96)
        top = height
        for name, scene in scenes.items():
            top -= scene.height
            rectangle = (0.0, top / height, 1.0, scene.height / height)
            paint(figure.add_axes(rectangle, label=name), scene)
            top -= picture.gap
    return figure


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
        "savefig.facecolor": WHITE,
        "savefig.transparent": False,
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
    from matplotlib.figure import Figure

    entry.record("figure", figure, Figure)
    entry.texts(title=title, alt_text=alt_text)
    dpi = entry.whole("dpi", dpi, least=30, most=1200)
    words = {"Title": clean(title), "Description": clean(alt_text), "Software": "stoichkit"}
    out = io.BytesIO()
    with _own_look():
        figure.savefig(
            out, format="png", dpi=dpi, metadata={key: text for key, text in words.items() if text}
        )
    return out.getvalue()


def save_picture(
    evidence: Evidence, path: str | Path, *, replace: bool = False, dpi: int = 192
) -> Path:
    """Save the picture of a result, budget included, with its description inside the file.

    Parameters
    ----------
    evidence : Evidence
    path : str or Path
        Ends in ``.png`` (text fields Title and Description) or ``.svg`` (elements title and
        desc, and ``aria-label``). SVG needs no matplotlib.
    replace : bool
        Whether a file of that name may be replaced.
    dpi : int
        Pixels per inch of a PNG, 30 to 1200.

    Returns
    -------
    Path
        Where it was saved.

    Raises
    ------
    DataFileError
        If the name ends in something else, there is a file of that name, or it cannot be
        written; one that was there before is kept then.
    ModelError
        If the resolution cannot be used.
    """
    dpi = entry.whole("dpi", dpi, least=30, most=1200)
    target = check_place(path, replace=replace, endings=(".png", ".svg"))
    picture, title = ResultPicture.of(evidence), evidence.experiment.title
    if target.suffix.lower() == ".svg":
        data = svg(picture, title=title, document=True).encode()
    else:
        data = png_bytes(_figure(picture), title=title, alt_text=picture.alt_text, dpi=dpi)
    return write_whole(target, data, replace=replace)
