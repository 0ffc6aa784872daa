"""Undo and redo over everything that takes part, step by step, each step with its name."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Hashable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from typing import Any

from ...errors import ExperimentError

MOST_STEPS = 200
"""Most steps that can be undone; the oldest are forgotten."""


@dataclass(frozen=True, slots=True)
class _Step:
    """One change: what it was, and how everything stood on its other side."""

    words: str
    state: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class _Part:
    take: Callable[[], Any]
    give: Callable[[Any], object]


class History:
    """Remembers how everything stood before each change.

    What is to be remembered joins as a part, with a function that returns how it stands (a value
    that nothing changes afterwards) and one that brings such a value back.

    >>> texts = {"mass": "1"}
    >>> history = History()
    >>> history.join("texts", lambda: dict(texts), texts.update)
    >>> for typed in ("1.", "1.2"):
    ...     history.record("typed the mass", key="mass")
    ...     texts["mass"] = typed
    >>> history.undo(), texts, history.can_undo, history.redo(), texts
    ('typed the mass', {'mass': '1.2'}, False, 'typed the mass', {'mass': '1.2'})
    """

    def __init__(self, most: int = MOST_STEPS) -> None:
        self._parts: dict[str, _Part] = {}
        self._done: deque[_Step] = deque(maxlen=most)
        self._undone: list[_Step] = []
        self._open: Hashable | None = None
        self._subscribers: list[Callable[[], object]] = []
        self.restoring = self.grouped = False

    @property
    def can_undo(self) -> bool:
        """Whether there is a step to undo."""
        return bool(self._done)

    @property
    def can_redo(self) -> bool:
        """Whether there is a step to redo."""
        return bool(self._undone)

    @property
    def undo_words(self) -> str:
        """What :meth:`undo` would take back, "" for nothing."""
        return self._done[-1].words if self._done else ""

    @property
    def redo_words(self) -> str:
        """What :meth:`redo` would do again, "" for nothing."""
        return self._undone[-1].words if self._undone else ""

    def join(self, name: str, take: Callable[[], Any], give: Callable[[Any], object]) -> None:
        """Have a part remembered from now on; one of the same name gives way."""
        self._parts[name] = _Part(take, give)

    def leave(self, name: str) -> None:
        """Have a part remembered no longer."""
        self._parts.pop(name, None)

    def subscribe(self, callback: Callable[[], object]) -> Callable[[], None]:
        """Have a function called when the steps have changed; the function returned ends that."""
        self._subscribers.append(callback)

        def stop() -> None:
            if callback in self._subscribers:
                self._subscribers.remove(callback)

        return stop

    def record(self, words: str, *, key: Hashable | None = None) -> None:
        """Remember how everything stands; to be called just before a change."""
        if self.restoring or self.grouped or (key is not None and key == self._open):
            return
        self._done.append(_Step(words, self._take()))
        self._undone.clear()
        self._open = key
        self._tell()

    @contextmanager
    def as_one(self) -> Iterator[None]:
        """Have all changes within belong to the step that was recorded last."""
        before, self.grouped = self.grouped, True
        try:
            yield
        finally:
            self.grouped = before

    @contextmanager
    def whole(self, *broken_off: type[Exception]) -> Iterator[None]:
        """Have everything stand as before if what is done within is broken off by such an error.

        >>> texts = {"mass": "1"}
        >>> history = History()
        >>> history.join("texts", lambda: dict(texts), texts.update)
        >>> try:
        ...     with history.whole(KeyError):
        ...         history.record("typed the mass")
        ...         texts["mass"] = "2"
        ...         texts["volume"]
        ... except KeyError:
        ...     print(texts["mass"], history.can_undo)
        1 False
        """
        before, done, undone, key = self._take(), list(self._done), list(self._undone), self._open
        try:
            yield
        except broken_off:
            self._give(before, broken_off)  # whoever is told of it may be broken off again
            self._done.clear()
            self._done.extend(done)
            self._undone, self._open = undone, key
            self._tell()
            raise

    def settle(self) -> None:
        """End the step that is being typed, as when the focus moves on."""
        self._open = None

    def undo(self) -> str:
        """Take the last step back; return what it was."""
        if not self._done:
            raise ExperimentError("There is nothing to undo.")
        return self._go(self._done, self._undone)

    def redo(self) -> str:
        """Do the step again that was undone last; return what it was."""
        if not self._undone:
            raise ExperimentError("There is nothing to redo.")
        return self._go(self._undone, self._done)

    def _go(self, source: Any, target: Any) -> str:
        step: _Step = source.pop()
        target.append(_Step(step.words, self._take()))
        self._open = None
        try:
            self._give(step.state)
        finally:
            self._tell()
        return step.words

    def _give(
        self, state: Mapping[str, Any], passed_over: tuple[type[Exception], ...] = ()
    ) -> None:
        """Bring all parts back to how they stood."""
        self.restoring = True
        try:
            for name, part in tuple(self._parts.items()):
                if name in state and part.take() != state[name]:
                    with suppress(*passed_over):
                        part.give(state[name])
        finally:
            self.restoring = False

    def _take(self) -> dict[str, Any]:
        """Return how everything stands; a part that has not changed is kept once only."""
        last = self._done[-1].state if self._done else {}
        found = {}
        for name, part in self._parts.items():
            taken = part.take()
            found[name] = last[name] if name in last and last[name] == taken else taken
        return found

    def _tell(self) -> None:
        for callback in tuple(self._subscribers):
            callback()
