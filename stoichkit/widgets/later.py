"""What is slow is put off until the quick answer is on its way; only the newest is done."""

from __future__ import annotations

import asyncio
from collections.abc import Callable

from .turns import TURN

__all__ = ["Later"]

PAUSE_S = 0.001
"""Long enough for the message with the quick answer to leave the kernel."""


class Later:
    """Calls a function a moment later; one that is asked for again meanwhile is called once.

    Without a running event loop, as in a script, it is called at once.

    Examples
    --------
    >>> said = []
    >>> Later()(lambda: said.append("drawn"))
    >>> said
    ['drawn']
    """

    def __init__(self) -> None:
        self._waiting: asyncio.TimerHandle | None = None
        self._wanted: object = None

    def __call__(self, function: Callable[[], object]) -> None:
        """Call a function in a moment, instead of the one that waits."""
        self.stop()
        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:
            function()
            return

        wanted = self._wanted = object()

        def begin() -> None:
            with TURN:
                if self._wanted is wanted:
                    self._waiting = None
                    function()

        self._waiting = loop.call_later(PAUSE_S, begin)

    def stop(self) -> None:
        """Forget what waits."""
        self._wanted = None
        if self._waiting is not None:
            self._waiting.cancel()
            self._waiting = None
