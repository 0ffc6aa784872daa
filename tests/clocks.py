"""An event loop with a clock of its own, so that no test waits for seconds to pass."""

from __future__ import annotations

import asyncio
import selectors
import threading
import time
from collections.abc import Callable, Coroutine
from typing import Any, TypeVar

T = TypeVar("T")


class _Selector(selectors.DefaultSelector):
    """Waits only while a thread works; otherwise the clock jumps to what is to be done next."""

    def __init__(self) -> None:
        super().__init__()
        self.now = 0.0

    def select(self, timeout: float | None = None) -> list[tuple[selectors.SelectorKey, int]]:
        found = super().select(0)
        if found or timeout == 0:
            return found
        if timeout is None or any(t.name == "stoichkit-work" for t in threading.enumerate()):
            start = time.monotonic()
            found = super().select(0.002 if timeout is None else min(timeout, 0.002))
            self.now += time.monotonic() - start
        else:
            self.now += max(timeout, 0.0)
        return found


class Clocked(asyncio.SelectorEventLoop):
    """A loop that takes no time of its own: ``time`` tells what would have passed."""

    def __init__(self) -> None:
        self.selector = _Selector()
        super().__init__(self.selector)

    def time(self) -> float:
        return self.selector.now


def run(scene: Callable[[], Coroutine[Any, Any, T]]) -> T:
    """Run a scene to its end on such a loop.

    >>> async def scene() -> float:
    ...     await asyncio.sleep(3600)
    ...     return asyncio.get_running_loop().time()
    >>> run(scene) >= 3600
    True
    """
    with asyncio.Runner(loop_factory=Clocked) as runner:
        return runner.run(scene())
