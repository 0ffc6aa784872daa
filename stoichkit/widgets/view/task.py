"""Long work that a screen shows: how far it is, a button that stops it, and what came of it."""

from __future__ import annotations

import logging
import time
from collections.abc import Callable
from typing import Any, Generic, TypeVar

from ...errors import StoichkitError
from ..kit.work import Report, Work
from .blocks import Block, Builder, row, words

_logger = logging.getLogger(__name__)
_OFTEN_S = 0.15
"""How far the work is, is shown at most so often."""
T = TypeVar("T")


class Task(Generic[T]):
    """One piece of long work at a time; a new one takes the place of the one before.

    Parameters
    ----------
    name : str
        Begins the names of its buttons.
    changed : callable
        Called whenever there is something new to be shown.
    delay_s : float
        How long typing must rest before work that is wanted begins.

    Examples
    --------
    >>> task = Task("count", lambda: None)
    >>> task.want(3, lambda report: report("counting") or 1 + 2)
    >>> task.result, task.found_for, task.running
    (3, 3, False)
    """

    def __init__(self, name: str, changed: Callable[[], object], *, delay_s: float = 0.0) -> None:
        self.name, self._changed, self._delay_s = name, changed, delay_s
        self._work = Work()
        self._task: Callable[[Report], T] | None = None
        self._done: Callable[[T], object] = lambda _: None
        self.stopped = False
        self.key: Any = None
        self._starting = False
        self._shown = 0.0
        self.result: T | None = None
        self.found_for: Any = None
        self.words = self.problem = ""

    @property
    def running(self) -> bool:
        """Whether the work is under way."""
        return self._work.running

    def want(self, key: Any, task: Callable[[Report], T]) -> None:
        """Begin the work for a key, unless it was begun for it before, whatever came of it."""
        if self.result is not None and key == self.found_for:
            if key != self.key:  # back to what is known: what was begun meanwhile is not needed
                self._work.stop()
                self.key, self.words, self.problem, self.stopped = key, "", "", False
        elif self._task is None or key != self.key:
            self.start(key, task, delay_s=self._delay_s)

    def start(
        self,
        key: Any,
        task: Callable[[Report], T],
        *,
        delay_s: float = 0.0,
        done: Callable[[T], object] = lambda _: None,
    ) -> None:
        """Begin the work; what is found is for a key, and is also given to ``done``."""
        self.key, self._task, self._done, self.stopped = key, task, done, False
        self.words, self.problem = "Being worked out …", ""

        def found(result: T) -> None:
            self.result, self.found_for, self.words = result, key, ""
            done(result)
            self._show()

        self._starting = True
        try:
            self._work.start(
                task, done=found, failed=self._failed, progress=self._progress, delay_s=delay_s
            )
        finally:
            self._starting = False

    def stop(self, words: str = "Stopped.", *, again: bool = True) -> None:
        """Stop the work; what was found before stays. ``again``: whether it can be begun anew."""
        if self.running:
            self._work.stop()
            self.words, self.stopped = words, again
            if not again:
                self._task = None

    def again(self) -> None:
        """Begin anew what was stopped."""
        if self._task is not None:
            self.start(self.key, self._task, done=self._done)

    def forget(self) -> None:
        """Stop, and forget what was found."""
        self._work.stop()
        self._task = self.key = self.result = self.found_for = None
        self.words = self.problem = ""
        self.stopped = False

    def blocks(self, make: Builder) -> list[Block]:
        """Show how far the work is, that it was stopped, or why nothing came of it."""
        if self.running:
            return [make.progress(self.words, f"{self.name}:stop", self.stop)]
        if self.problem:
            return [words(self.problem, "refusal")]
        if self.stopped:
            again = make.button(f"{self.name}:again", "Begin again", self.again)
            return [row(words(self.words, "status"), again)]
        return [words(self.words, "status")] if self.words else []

    def _progress(self, said: str) -> None:
        self.words = said
        now = time.monotonic()
        if now - self._shown >= _OFTEN_S:
            self._shown = now
            self._show()

    def _failed(self, error: Exception) -> None:
        self.words, self.problem = "", str(error)
        if not isinstance(error, StoichkitError):
            _logger.error("work failed", exc_info=error)
            self.problem = f"This could not be worked out. {error}"
        self._show()

    def _show(self) -> None:
        """Have the screen shown anew, unless it is just being made."""
        if not self._starting:
            self._changed()
