"""Long work beside the screens, later work, and one callback at a time; without Jupyter.

A kernel may hand the messages of widgets to two threads. The callbacks of the screens all change
the same states, so each takes its turn. Long calculations run in a thread, step by step, and can be
stopped at any step. What is slow is put off until the quick answer is on its way; only the newest
is done.

In a browser's worker there are no threads, and packages may still be on their way. Long work then
runs in turns of the loop, where that can be, and what needs such a package waits and goes on by
itself.
"""

from __future__ import annotations

import asyncio
import contextvars
import logging
import threading
from collections.abc import Callable
from typing import Any, TypeAlias, TypeVar

TURN = threading.RLock()
"""To be held while the state of a screen is changed or shown; re-entrant, never waited under."""
_logger = logging.getLogger(__name__)
T = TypeVar("T")
Report: TypeAlias = Callable[[str], None]
"""What a task calls at every step, in words for the user; it raises :class:`Stopped`."""


def silent(words: str) -> None:
    """Report nothing, for a task that is waited for."""
    del words


class Stopped(Exception):
    """The task was told to stop."""


class NotYet(Exception):
    """What is needed is on its way; whoever waits for it goes on when :func:`arrived` is called."""


_waiting: list[Callable[[], object]] = []


def wait_for_arrival(function: Callable[[], object]) -> None:
    """Have a function called once, when something has arrived."""
    _waiting.append(function)


def arrived() -> None:
    """Let all go on that wait; what needs more waits again.

    >>> said = []
    >>> def task(report):
    ...     if not said:
    ...         raise NotYet("on its way")
    ...     return "done"
    >>> Work().start(task, done=said.append, failed=print, progress=said.append)
    >>> arrived()
    >>> said
    ['on its way', 'done']
    """
    waiting, _waiting[:] = _waiting[:], []
    for function in waiting:
        function()


class Breath:
    """What lets others have their turn where long work cannot run in a thread."""

    take: Callable[[], object] = staticmethod(lambda: None)


class Work:
    """Runs one task at a time; a new one stops the one before.

    In a running event loop, such as that of a notebook kernel, the task runs in a thread and what
    it reports is shown by the loop, so that widgets are only touched there. Where threads cannot be
    started it runs in the loop a moment later; without a loop, at once.

    Examples
    --------
    >>> said = []
    >>> def count(report):
    ...     for i in range(3):
    ...         report(f"step {i}")
    ...     return 3
    >>> Work().start(count, done=said.append, failed=said.append, progress=said.append)
    >>> said
    ['step 0', 'step 1', 'step 2', 3]
    """

    def __init__(self) -> None:
        self._current: _Job | None = None
        self._delayed: asyncio.TimerHandle | None = None
        self._next: _Job | None = None

    @property
    def running(self) -> bool:
        """Whether a task is running or waiting to be started."""
        return self._current is not None or self._delayed is not None

    def start(
        self,
        task: Callable[[Report], T],
        *,
        done: Callable[[T], object],
        failed: Callable[[Exception], object],
        progress: Callable[[str], object] = lambda _: None,
        delay_s: float = 0.0,
    ) -> None:
        """Run a task, and stop the one before."""
        self.stop()
        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:
            self._begin(_Job(self, task, done, failed, progress, None))
            return
        job = _Job(self, task, done, failed, progress, loop)
        self._next = job
        if delay_s:
            self._delayed = loop.call_later(delay_s, self._begin, job)
        else:
            self._begin(job)

    def _begin(self, job: _Job) -> None:
        with TURN:
            if job.stopped:
                return
            self._delayed, self._next, self._current = None, None, job
        if job.loop is not None:
            try:
                threading.Thread(target=job.run, daemon=True, name="stoichkit-work").start()
            except RuntimeError:  # no threads in this kind of kernel: what is shown goes out first
                loop, job.loop = job.loop, None
                loop.call_later(PAUSE_S, job.run, context=job.context)
            return
        job.run()

    def stop(self) -> None:
        """Tell the task to stop at its next step; nothing of it is shown any more."""
        if self._delayed is not None:
            self._delayed.cancel()
            self._delayed = None
        if self._next is not None:
            self._next.stopped = True
            self._next = None
        if self._current is not None:
            self._current.stopped = True
            self._current = None


class _Job:
    """One task with the functions that show what comes of it."""

    def __init__(
        self,
        work: Work,
        task: Callable[[Report], Any],
        done: Callable[[Any], object],
        failed: Callable[[Exception], object],
        progress: Callable[[str], object],
        loop: asyncio.AbstractEventLoop | None,
    ) -> None:
        self.work, self.task, self.loop = work, task, loop
        self.done, self.failed, self.progress = done, failed, progress
        # a kernel answers whoever asked, which it knows from the context
        self.context = contextvars.copy_context()
        self.stopped = False

    def run(self) -> None:
        """Run the task to its end."""
        if self.stopped:
            return
        try:
            result = self.task(self._report)
        except Stopped:
            return
        except NotYet as reason:
            self._show(self.progress, str(reason))
            wait_for_arrival(lambda: self.work._begin(self))
        except Exception as error:  # noqa: BLE001 - shown by the screen, whatever it is
            if not self.stopped:
                self._show(self._end, self.failed, error)
        else:
            self._show(self._end, self.done, result)

    def _report(self, words: str) -> None:
        if self.stopped:
            raise Stopped
        self._show(self.progress, words)
        if self.loop is None:
            Breath.take()
            if self.stopped:
                raise Stopped

    def _show(self, function: Callable[..., object], *arguments: Any) -> None:
        """Have the loop call a function, unless the task has been stopped by then."""
        if self.loop is None:
            function(*arguments)
            return
        try:
            self.loop.call_soon_threadsafe(
                self._unless_stopped, function, *arguments, context=self.context
            )
        except RuntimeError:  # the loop was closed while the task ran
            self.stopped = True

    def _unless_stopped(self, function: Callable[..., object], *arguments: Any) -> None:
        with TURN:
            if not self.stopped:
                function(*arguments)

    def _end(self, function: Callable[[Any], object], result: Any) -> None:
        if self.work._current is self:
            self.work._current = None
        function(result)


PAUSE_S = 0.001
"""Long enough for the message with the quick answer to leave the kernel."""


class Later:
    """Calls a function a moment later; one that is asked for again meanwhile is called once.

    One that needs what is on its way is called again when that is here. Without a running event
    loop, as in a script, it is called at once.

    Examples
    --------
    >>> said = []
    >>> Later()(lambda: said.append("drawn"))
    >>> said
    ['drawn']
    """

    def __init__(self, pause_s: float = PAUSE_S) -> None:
        self.pause_s = pause_s
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
                if self._wanted is not wanted:
                    return
                self._waiting = None
                try:
                    function()
                except NotYet:
                    wait_for_arrival(begin)

        self._waiting = loop.call_later(self.pause_s, begin)

    def stop(self) -> None:
        """Forget what waits."""
        self._wanted = None
        if self._waiting is not None:
            self._waiting.cancel()
            self._waiting = None
