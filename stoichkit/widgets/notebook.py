"""The page in a notebook: one widget over a frame, whatever its screens are.

The page (``page/``, bundled into ``static/``) draws what :class:`.view.frame.Frame` sends and sends
back what is done; nothing else travels.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import anywidget
import traitlets

from .view.frame import Frame, Region, Screen, new_name

STATIC = Path(__file__).parent / "static"


class PageWidget(anywidget.AnyWidget):
    """The page in a notebook: what a frame shows, and what is done on it.

    Parameters
    ----------
    screens : sequence of Screen
    head : Region, optional
    after : callable
        Called after each action.
    left : callable
        Called when a field is left.
    """

    _esm = STATIC / "page.js"
    _css = STATIC / "page.css"
    key = traitlets.Unicode("").tag(sync=True)

    def __init__(
        self,
        screens: Sequence[Screen],
        *,
        head: Region | None = None,
        after: Callable[[], object] = lambda: None,
        left: Callable[[], object] = lambda: None,
    ) -> None:
        super().__init__(key=new_name())
        self.frame = Frame(screens, head=head, send=self._answer, after=after, left=left)
        for one in screens:
            one.frame = self.frame
        self.on_msg(self._received)

    def _answer(self, answer: dict[str, Any]) -> None:
        self.send(answer)

    def _received(self, _: Any, content: Any, buffers: Any) -> None:
        del buffers
        self.frame.act(content)

    def close(self) -> None:
        """End the widget; nothing is sent any more."""
        self.frame.close()
        super().close()
