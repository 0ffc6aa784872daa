"""Whoever wants to know is told of each change."""

from __future__ import annotations

from collections.abc import Callable
from typing import Generic, TypeVar

T = TypeVar("T")


class Telling(Generic[T]):
    """Something that others follow: they are told what has changed, in the order they came.

    >>> from stoichkit.widgets.state.readings import ReadingsState
    >>> state, heard = ReadingsState(), []
    >>> stop = state.subscribe(heard.append)
    >>> state.set_coverage("99 %")
    >>> stop()
    >>> state.set_coverage("95 %")
    >>> heard
    [<Change.TEXT: 'a text was typed'>]
    """

    def __init__(self) -> None:
        self._subscribers: list[Callable[[T], object]] = []

    def subscribe(self, callback: Callable[[T], object]) -> Callable[[], None]:
        """Have a function called after each change; the function returned ends that."""
        self._subscribers.append(callback)

        def stop() -> None:
            if callback in self._subscribers:
                self._subscribers.remove(callback)

        return stop

    def _tell(self, change: T) -> None:
        for callback in tuple(self._subscribers):
            callback(change)
