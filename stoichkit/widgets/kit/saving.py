"""Files named by a user; autosave.

Where an experiment file is written, from the name as typed, and whether it may be.

What was typed is kept in a file of its own, and found again after the kernel was restarted.
Nothing is sent anywhere; folder and files can be read by their owner only.

A *session* is one kernel. It is known by the name of its connection file, which stays the same
when the kernel is restarted, also after a crash, and differs between two kernels on one notebook;
outside a kernel a session is one process. Its *owner* is a person (the name at a hub, else the
user of the system) with a notebook (``JPY_SESSION_NAME``, where the server sets it). While a
session runs it touches its files every ten seconds, in a thread, so that a long calculation does
not make it look dead; when it ends it says so in them. A file not touched for a minute and a half
is of a session that ended without a word. Where there are no threads nothing is touched. A page
whose Python runs in the browser names its session itself, in ``STOICHKIT_SESSION``.

Restored unasked is what this very session typed (the cell run again, the page reloaded, the
kernel restarted), and what the same person typed in the same notebook in a session that has
ended (the server started again, a hosted machine put away and brought back). Asked for is all
else: another notebook, or the same one under its old name; a second kernel on the same notebook;
another person in a shared folder; and any earlier session where nobody says which notebook it is.

Every screen writes a file of its own, so that two never write over each other. Only files of the
same owner are removed, the oldest first, and never one of a running session.
"""

from __future__ import annotations

import asyncio
import atexit
import hashlib
import json
import os
import secrets
import sys
import threading
import time
import weakref
from collections.abc import Callable, Collection, Mapping, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from ..._common import check_ending, write_whole
from ...errors import DataFileError, ExperimentError, StoichkitError
from .work import TURN, NotYet, Report, Work


def target_path(text: str, bare: str = ".toml") -> Path:
    """Return the full name of the file that a typed name means; a bare one gets this ending.

    >>> target_path(" my lab ").name
    'my lab.toml'
    """
    plain = text.strip()
    allowed = f"a name such as my-lab{bare}"
    if not plain or plain[-1] in "/\\" or Path(plain).name in ("", "..") or "\0" in plain:
        raise ExperimentError("This does not name a file.", given=plain or None, allowed=allowed)
    try:
        path = Path(plain).expanduser()
        path = path if path.suffix else path.with_name(f"{path.name}{bare}")
        return path.parent.resolve() / path.name
    except (OSError, RuntimeError, ValueError) as error:
        raise ExperimentError(
            f"This cannot be the name of a file: {error}.", given=plain, allowed=allowed
        ) from error


def free_target(
    path: str,
    own: Collection[Path],
    *,
    replace: bool,
    endings: Sequence[str] = (),
    bare: str = ".toml",
) -> Path:
    """Return the full name of a file that is new, one's own, or may be replaced."""
    target = check_ending(target_path(path, bare), endings)
    if target.exists() and target not in own and not replace:
        raise ExperimentError(
            "A file of this name exists already; it was not changed.",
            path=str(target),
            fix="Choose another name, or tick that the file may be replaced.",
        )
    return target


def suggested_path(name: str) -> str:
    """Return a name for an experiment file that no ready experiment has.

    >>> suggested_path("tin-oxide"), suggested_path("my-lab.toml"), suggested_path("")
    ('my-tin-oxide.toml', 'my-lab.toml', 'my-experiment.toml')
    """
    stem = Path(name).stem or "experiment"
    return f"{stem}.toml" if stem.startswith("my-") else f"my-{stem}.toml"


FOLDER = ".stoichkit"
"""Name of the hidden folder beside the notebook."""
FORMAT = 2
EVERY_S = 1.0
"""Shortest time between two writes."""
BEAT_S = 10.0
"""Time after which a running session touches its files again."""
LIVES_S = 90.0
"""A session that has touched its file within this time is taken for running; some network disks
tell the time of a file only after a minute."""
MOST_BYTES = 5_000_000
MOST_FILES = 20
"""Older files of sessions that have ended are removed, among those of one owner."""
_PROCESS = secrets.token_hex(6)


@dataclass(frozen=True, slots=True)
class Session:
    """Who writes: the kernel, its owner, and the notebook's name for people."""

    kernel: str
    owner: str
    notebook: str

    @classmethod
    def present(cls) -> Session:
        """Return the session in which this is called."""
        notebook = os.environ.get("JPY_SESSION_NAME", "")
        user = str(os.getuid()) if hasattr(os, "getuid") else os.environ.get("USERNAME", "")
        person = os.environ.get("JUPYTERHUB_USER") or user
        owner = hashlib.sha256(f"{person}\0{notebook}".encode()).hexdigest()[:12]
        named = os.environ.get("STOICHKIT_SESSION") or _kernel_name()
        return cls(named or f"{_PROCESS}-{os.getpid()}", owner, notebook and Path(notebook).name)

    def owns(self, other: Session, living: bool) -> bool:
        """Whether what another session typed is this one's own work."""
        same_notebook = bool(self.notebook) and self.owner == other.owner
        return self.kernel == other.kernel or (same_notebook and not living)


def _kernel_name() -> str:
    """Return what a kernel keeps when it is restarted; "" where there is none."""
    module = sys.modules.get("ipykernel.kernelapp")
    if module is None or not module.IPKernelApp.initialized():
        return ""
    return Path(module.IPKernelApp.instance().connection_file).stem


@dataclass(frozen=True, slots=True)
class Found:
    """What was typed in an earlier session, or is being typed in another one."""

    tables: Mapping[str, Any]
    saved: datetime
    path: Path
    session: Session
    living: bool
    """Whether the session that wrote it still runs."""
    ours: bool
    """Whether it is this session's own work, to be restored without asking."""

    def words(self, now: datetime) -> str:
        """Say when and where it was typed.

        >>> there = Session("k", "o", "lab.ipynb")
        >>> found = Found({}, datetime(2026, 3, 1, 9, 5), Path("x"), there, True, False)
        >>> found.words(datetime(2026, 3, 1, 11, 0))
        'typed at 09:05 in another session (lab.ipynb), which is still running'
        """
        time_words = f"typed at {said_time(self.saved, now)}"
        if self.ours:
            return time_words
        name = f" ({self.session.notebook})" if self.session.notebook else ""
        running = ", which is still running" if self.living else ""
        return f"{time_words} in another session{name}{running}"


def key_of(source: str) -> str:
    """Return the part of a file name that belongs to what is opened.

    >>> key_of("tin-oxide") == key_of("tin-oxide"), key_of("tin-oxide") == key_of("x = 1")
    (True, False)
    """
    return hashlib.sha256(source.encode()).hexdigest()[:12]


def said_time(saved: datetime, now: datetime) -> str:
    """Say when something was saved: the time, and the date if it was not today.

    >>> said_time(datetime(2026, 3, 1, 9, 5), datetime(2026, 3, 1, 11, 0))
    '09:05'
    >>> said_time(datetime(2026, 3, 1, 9, 5), datetime(2026, 3, 2, 11, 0))
    '09:05 on 2026-03-01'
    """
    text = saved.strftime("%H:%M")
    return text if saved.date() == now.date() else f"{text} on {saved.date().isoformat()}"


_UNUSABLE = (StoichkitError, ValueError, KeyError, TypeError, RecursionError)
"""What reading or restoring a damaged file may raise."""


def offers(folder: Path, key: str, say: Callable[[str], object] = lambda _: None) -> list[Found]:
    """Return what was typed earlier under this key, the newest first.

    A damaged file is kept under a name that ends in ``.damaged``, and ``say`` is told. One that
    this user may not read is passed over.
    """
    found, damaged = _look(folder, key)
    for path, error in damaged.items():
        say(put_aside(path, error, living=_fresh(path)))
    return found


def _look(folder: Path, key: str) -> tuple[list[Found], dict[Path, Exception]]:
    """Return the files of a key, the newest first, and what is wrong with the damaged ones."""
    here, found = Session.present(), []
    damaged: dict[Path, Exception] = {}
    with suppress(OSError):
        for path in sorted(folder.glob(f"typed-{key}-*.json")):
            try:
                found.append(_read(path, here))
            except OSError:
                continue
            except _UNUSABLE as error:
                damaged[path] = error
    return sorted(found, key=lambda one: one.saved, reverse=True), damaged


def _read(path: Path, here: Session) -> Found:
    if path.stat().st_size > MOST_BYTES:
        raise ValueError("it is too large")
    tables = json.loads(path.read_text("utf-8"))
    if not isinstance(tables, dict) or tables.get("format") != FORMAT:
        raise ValueError("it is not a file of typed texts")
    typed, names = tables["typed"], tables["session"]
    if not isinstance(typed, dict):
        raise ValueError("it holds no texts")
    session = Session(*(str(names[name]) for name in Session.__slots__))
    living = tables["running"] is True and _fresh(path)
    saved = datetime.fromisoformat(tables["saved"]).replace(tzinfo=None)
    return Found(typed, saved, path, session, living, here.owns(session, living))


def _fresh(path: Path) -> bool:
    """Whether a file was touched a short time ago."""
    try:
        return time.time() - path.stat().st_mtime < LIVES_S
    except OSError:
        return False


def put_aside(path: Path, error: Exception, *, living: bool) -> str:
    """Keep a file that cannot be used under another name; return what to say about it.

    That of a running session, which may write in another way, stays where it is.
    """
    aside = path.with_name(f"{path.name}.damaged")
    words = f"What was typed earlier could not be restored from {path.name} ({error})."
    try:
        if not living:
            path.replace(aside)
            return f"{words} The file was kept as {aside}."
    except OSError:
        pass
    return f"{words} The file was left as it is."


class Earlier:
    """What was typed earlier: one's own work is restored, that of another session offered.

    The newest comes first; one that cannot be restored is put aside for the next. What another
    session typed before one's own newest work is not offered.

    Parameters
    ----------
    folder, key : Path, str
        As for :class:`Autosave`.
    differs : callable
        Whether restoring these tables would change anything; it raises a ``StoichkitError`` if
        they cannot be restored.
    give : callable
        Restores tables.
    say : callable
        Is told what went wrong, in words for the user.

    Examples
    --------
    >>> import tempfile
    >>> typed = {}
    >>> with tempfile.TemporaryDirectory() as place:
    ...     saver = Autosave(Path(place), "k", lambda: {"mass": "2,9x"}, print)
    ...     saver.changed()
    ...     saver.close()
    ...     earlier = Earlier(Path(place), "k", lambda tables: True, typed.update, print)
    >>> typed, earlier.offered
    ({'mass': '2,9x'}, None)
    """

    def __init__(
        self,
        folder: Path,
        key: str,
        differs: Callable[[Mapping[str, Any]], bool],
        give: Callable[[Mapping[str, Any]], object],
        say: Callable[[str], object],
    ) -> None:
        self._differs, self._give, self._say = differs, give, say
        self._others: list[Found] = []
        self.restored: Found | None = None
        for found in offers(folder, key, say):
            if not found.ours:
                self._others.append(found)
            elif (new := self._new(found)) is not None:
                if new:
                    self._restore(found)
                break
        self._next()

    @property
    def offered(self) -> Found | None:
        """What another session typed and nobody has answered yet."""
        return self._others[0] if self._others else None

    def restore(self) -> None:
        """Restore what is offered; the file stays as it is."""
        if self._others:
            self._restore(self._others[0])
            self.leave()

    def leave(self) -> None:
        """Offer nothing more; the files stay as they are."""
        self._others.clear()

    def _next(self) -> None:
        """Come to what can be restored and is not on the screen already."""
        while self._others and not self._new(self._others[0]):
            del self._others[0]

    def _new(self, found: Found) -> bool | None:
        """Return whether something would change; None if it cannot be restored."""
        try:
            return self._differs(found.tables)
        except _UNUSABLE as error:
            self._say(put_aside(found.path, error, living=found.living))
            return None

    def _restore(self, found: Found) -> None:
        self._give(found.tables)
        self.restored = found


class Autosave:
    """Writes what is typed into a file, at most every second, and shows that it still runs.

    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as place:
    ...     saver = Autosave(Path(place), "k", lambda: {"mass": "2,9x"}, print)
    ...     saver.changed()
    ...     (found,) = offers(Path(place), "k")
    ...     saver.close()
    ...     (ended,) = offers(Path(place), "k")
    >>> found.tables, found.ours, found.living, ended.living
    ({'mass': '2,9x'}, True, True, False)
    """

    def __init__(
        self,
        folder: Path,
        key: str,
        take: Callable[[], Mapping[str, Any]],
        say: Callable[[str], object],
        *,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self.path = folder / f"typed-{key}-{secrets.token_hex(6)}.json"
        self._key, self._take, self._say, self._clock = key, take, say, clock
        self._session, self._process = Session.present(), os.getpid()
        self._work = Work()
        self._waiting: asyncio.TimerHandle | None = None
        self._dirty = self._said = self._closed = False
        self._last, self._saved = -EVERY_S, datetime.now()
        self._lock, self._taken, self._written = threading.Lock(), 0, 0
        self._ended = threading.Event()
        itself = weakref.WeakMethod(self.close)
        self._at_exit = lambda: (itself() or (lambda: None))()
        atexit.register(self._at_exit)

    def changed(self) -> None:
        """Have what is typed written soon; at once where there is no event loop."""
        if self._closed:
            return
        self._dirty, self._saved = True, datetime.now()
        if self._waiting is not None:
            return
        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:
            self.flush()
            return
        wait = max(0.05, self._last + EVERY_S - self._clock())
        self._waiting = loop.call_later(wait, self._begin)

    def flush(self) -> None:
        """Write now what has changed since the last time."""
        if not self._dirty:
            return
        self._stop_waiting()
        try:
            self._write(*self._data())
        except (DataFileError, TypeError, ValueError) as error:
            self._failed(error)

    def close(self) -> None:
        """Write what is left and that the session has ended, and nothing any more."""
        if self._closed or os.getpid() != self._process:  # a copy of the process is another one
            return
        self._closed = True
        self._ended.set()
        self._dirty |= self.path.exists()
        self.flush()
        self._stop_waiting()
        self._work.stop()
        atexit.unregister(self._at_exit)

    def _stop_waiting(self) -> None:
        if self._waiting is not None:
            self._waiting.cancel()
            self._waiting = None

    def _data(self) -> tuple[int, bytes]:
        """Return what is to be written, with its number."""
        self._dirty, self._last = False, self._clock()
        self._taken += 1
        tables = {
            "format": FORMAT,
            "saved": self._saved.isoformat(),
            "session": asdict(self._session),
            "running": not self._closed,
            "typed": self._take(),
        }
        return self._taken, json.dumps(tables, ensure_ascii=False, indent=1).encode()

    def _begin(self) -> None:
        """Write in a thread, so that a slow disk keeps nobody from typing."""
        self._waiting = None
        if self._work.running:
            self.changed()
            return
        try:
            with TURN:
                number, data = self._data()
        except NotYet:
            self.changed()
            return
        except Exception as error:  # noqa: BLE001 - said once, whatever it is
            self._failed(error)
            return

        def write(_: Report) -> None:
            self._write(number, data)

        self._work.start(write, done=lambda _: None, failed=self._failed)

    def _write(self, number: int, data: bytes) -> None:
        """Write a file, unless a newer one has been written meanwhile."""
        with self._lock:
            if number < self._written:
                return
            _make_folder(self.path.parent)
            write_whole(self.path, data, replace=True, private=True)
            first, self._written = not self._written, number
        if first:
            self._remove_old()
            if not self._closed:
                _keep_beating(weakref.WeakMethod(self.beat), self._ended)

    def _remove_old(self) -> None:
        """Remove files of this owner's sessions that have ended, but for the newest."""
        found, _ = _look(self.path.parent, self._key)
        same = [one for one in found if one.session.owner == self._session.owner]
        for old in same[MOST_FILES:]:
            if not old.living:
                with suppress(OSError):
                    old.path.unlink()

    def beat(self) -> None:
        """Show that the session still runs; a file that somebody has removed stays so."""
        with suppress(OSError):
            os.utime(self.path)

    def _failed(self, error: Exception) -> None:
        if not self._said:
            self._said = True
            self._say(
                f"What you type is not being kept for a restart of the kernel: {error} "
                "Everything else goes on working; save the experiment file."
            )


def _make_folder(folder: Path) -> None:
    """Make a folder that only its owner may read; a folder that was named by a user stays open."""
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        if folder.name == FOLDER and folder.stat().st_mode & 0o077:
            folder.chmod(0o700)
    except OSError as error:
        raise DataFileError(
            f"The folder cannot be made: {error.strerror or error}.", given=str(folder)
        ) from error


def _keep_beating(beat: weakref.WeakMethod[Callable[[], None]], ended: threading.Event) -> None:
    """Have a file touched until its session ends, also while the session is busy."""

    def touch() -> None:
        while not ended.wait(BEAT_S):
            now = beat()
            if now is None:
                return
            now()
            del now

    with suppress(RuntimeError):  # no threads in this kind of kernel
        threading.Thread(target=touch, daemon=True, name="stoichkit-beat").start()
