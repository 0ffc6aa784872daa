"""A picture on a screen: as wide as there is room for, and saved as a file."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from ...plots.render import svg
from ...plots.scene import Picture, Scene
from .blocks import Block, Builder
from .frame import Frame

SCALE = 1.5
"""CSS pixels for one point of a picture: its smallest letters are then 12 px high."""
LEAST_PX, MOST_PX = 320, 1100


def spot(name: str, words: str, at: tuple[float, float], *, drag: bool = False) -> Block:
    """Return what can be pointed at: its place is in the numbers of the axes."""
    return {"name": name, "words": words, "x": at[0], "y": at[1], "drag": drag}


class Drawn:
    """One picture of a screen, which knows how wide the page is.

    Parameters
    ----------
    name : str
        Its name on the screen, and at the end of the file it is saved as.
    heights : (float, float), optional
        Least and largest height of a plane, in points; left out where the height follows from what
        is shown.
    share : float
        Height of a plane for its width, between these heights.
    file : str
        What the name of its file ends in, if not its own.
    most_px : int
        Greatest width, in CSS pixels.

    Examples
    --------
    >>> from stoichkit.planning.outcomes import Chances
    >>> from stoichkit.plots.planning import ChancesPicture
    >>> drawn = Drawn("chances")
    >>> picture = ChancesPicture.of([("SnO2", Chances(0.93, 0.004, 0.046, 0.02))], 0.9)
    >>> make = Builder()
    >>> drawn.block(make, picture, None, "tin")["width"]
    466.7
    >>> make.handlers["chances:width"](600); drawn.block(make, picture, None, "tin")["width"]
    400.0
    """

    def __init__(
        self,
        name: str,
        heights: tuple[float, float] | None = None,
        *,
        share: float = 0.72,
        file: str = "",
        most_px: int = MOST_PX,
    ) -> None:
        self.name, self._heights, self._share = name, heights, share
        self._file, self._most_px = file or name, most_px
        self.width_px = 700
        self._laid_out: tuple[Picture, float, Scene] | None = None

    @property
    def width(self) -> float:
        """Width of the scene, in points."""
        return self.width_px / SCALE

    def block(
        self,
        make: Builder,
        picture: Picture,
        frame: Frame | None,
        lab: str,
        *,
        spots: Sequence[Block] = (),
        moved: Callable[[str, float, float], object] | None = None,
        hint: str = "",
        picks: bool = False,
        title: str | None = None,
    ) -> Block:
        """Return the picture as a block.

        ``lab`` begins the name of its file; ``title`` is that of the file, if not the picture's.
        """
        height = None
        if self._heights is not None:
            height = min(max(self._share * self.width, self._heights[0]), self._heights[1])

        def save(kind: str) -> None:
            if frame is not None:
                ending = "png" if kind == "png" else "svg"  # the page draws it from the SVG
                text = svg(picture, document=True, title=title)
                frame.hand_over(f"{lab}-{self._file}.{ending}", "image/svg+xml", text.encode())

        if self._laid_out is None or not (
            self._laid_out[0] is picture and self._laid_out[1] == self.width
        ):
            self._laid_out = picture, self.width, picture.scene(self.width, height)
        return make.picture(
            self.name, picture.title, picture.alt_text, self._laid_out[2],
            spots=spots, moved=moved, saved=save, sized=self._sized, hint=hint, picks=picks,
        )  # fmt: skip

    def _sized(self, width_px: int) -> None:
        self.width_px = min(max(width_px, LEAST_PX), self._most_px)
