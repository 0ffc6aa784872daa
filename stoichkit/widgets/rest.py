"""Panels that cannot be seen rest: what they missed is shown when they are seen again."""

from __future__ import annotations

from collections.abc import Callable
from typing import Generic, TypeVar

__all__ = ["Rest"]

C = TypeVar("C")


class Rest(Generic[C]):
    """Hands changes on to a panel, or keeps them together while it rests.

    Parameters
    ----------
    follow : callable
        Shows a change.
    together : callable
        Returns the one of two changes that stands for both.
    pause : callable, optional
        Called when the panel falls asleep, to stop what it is working out; returns the change
        that has it worked out again, or None if nothing was stopped.

    Attributes
    ----------
    resting : bool

    Examples
    --------
    >>> shown = []
    >>> rest = Rest(shown.append, max)
    >>> rest(1)
    >>> rest.sleep()
    >>> rest(3); rest(2)
    >>> shown
    [1]
    >>> rest.wake()
    >>> shown
    [1, 3]
    """

    def __init__(
        self,
        follow: Callable[[C], object],
        together: Callable[[C, C], C],
        pause: Callable[[], C | None] = lambda: None,
    ) -> None:
        self._follow, self._together, self._pause = follow, together, pause
        self._missed: list[C] = []  # one change at most
        self.resting = False

    def __call__(self, change: C) -> None:
        """Show a change, or keep it for later."""
        if self.resting:
            self._missed = [self._together(one, change) for one in self._missed] or [change]
        else:
            self._follow(change)

    def sleep(self) -> None:
        """Show nothing from now on."""
        if self.resting:
            return
        self.resting = True
        stopped = self._pause()
        if stopped is not None:
            self(stopped)

    def wake(self) -> None:
        """Show what was missed, and every change from now on."""
        self.resting = False
        missed, self._missed = self._missed, []
        for change in missed:
            self._follow(change)
