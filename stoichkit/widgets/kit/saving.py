"""Files named by a user; autosave.

Where an experiment file is written, from the name as typed, and whether it may be.

What was typed is kept in a file of its own, and found again after the kernel was restarted.

Every session writes one file, so that two kernels in one folder never write over each other; the
newest file of the same notebook and experiment is the one that is restored. Nothing is sent
anywhere.
"""

from __future__ import annotations

import asyncio
import atexit
import hashlib
import json
import os
import secrets
import time
import weakref
from collections.abc import Callable, Collection, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from ..._common import check_ending, write_whole
from ...errors import DataFileError, ExperimentError
from .work import TURN, Report, Work


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
FORMAT = 1
EVERY_S = 1.0
"""Shortest time between two writes."""
MOST_BYTES = 5_000_000
MOST_FILES = 20
"""Older files of the same notebook and experiment are removed."""


@dataclass(frozen=True, slots=True)
class Found:
    """What was typed in an earlier session."""

    tables: Mapping[str, Any]
    saved: datetime
    path: Path


def key_of(source: str) -> str:
    """Return the part of a file name that belongs to a notebook and what it opens.

    >>> key_of("tin-oxide") == key_of("tin-oxide"), key_of("tin-oxide") == key_of("x = 1")
    (True, False)
    """
    notebook = os.environ.get("JPY_SESSION_NAME", "")
    return hashlib.sha256(f"{notebook}\0{source}".encode()).hexdigest()[:12]


def said_time(saved: datetime, now: datetime) -> str:
    """Say when something was saved: the time, and the date if it was not today.

    >>> said_time(datetime(2026, 3, 1, 9, 5), datetime(2026, 3, 1, 11, 0))
    '09:05'
    >>> said_time(datetime(2026, 3, 1, 9, 5), datetime(2026, 3, 2, 11, 0))
    '09:05 on 2026-03-01'
    """
    text = saved.strftime("%H:%M")
    return text if saved.date() == now.date() else f"{text} on {saved.date().isoformat()}"


def find_newest(folder: Path, key: str) -> tuple[Found | None, tuple[str, ...]]:
    """Return what the newest usable file holds, and what is to be said about damaged ones.

    A damaged file is kept under a name that ends in ``.damaged``, and the next one is looked at.
    """
    said: list[str] = []
    for path in _files(folder, key):
        try:
            return _read(path), tuple(said)
        except (OSError, ValueError, KeyError, TypeError, RecursionError) as error:
            said.append(put_aside(path, error))
    return None, tuple(said)


def _files(folder: Path, key: str) -> list[Path]:
    """Return the files of a key, the newest first."""
    found = []
    with suppress(OSError):
        for path in folder.glob(f"typed-{key}-*.json"):
            with suppress(OSError):
                found.append((path.stat().st_mtime_ns, path))
    return [path for _, path in sorted(found, reverse=True)]


def _read(path: Path) -> Found:
    if path.stat().st_size > MOST_BYTES:
        raise ValueError("it is too large")
    tables = json.loads(path.read_text("utf-8"))
    if not isinstance(tables, dict) or tables.get("format") != FORMAT:
        raise ValueError("it is not a file of typed texts")
    typed = tables["typed"]
    if not isinstance(typed, dict):
        raise ValueError("it holds no texts")
    return Found(typed, datetime.fromisoformat(tables["saved"]).replace(tzinfo=None), path)


def put_aside(path: Path, error: Exception) -> str:
    """Keep a file that cannot be used under another name; return what to say about it."""
    aside = path.with_name(f"{path.name}.damaged")
    words = f"What was typed earlier could not be restored from {path.name} ({error})."
    try:
        path.replace(aside)
    except OSError:
        return f"{words} The file was left as it is."
    return f"{words} The file was kept as {aside}."


class Autosave:
    """Writes what is typed into a file, at most every second.

    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as place:
    ...     saver = Autosave(Path(place), "k", lambda: {"mass": "2,9x"}, print)
    ...     saver.changed()
    ...     found, said = find_newest(Path(place), "k")
    >>> found.tables, said
    ({'mass': '2,9x'}, ())
    >>> saver.close()
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
        self._work = Work()
        self._waiting: asyncio.TimerHandle | None = None
        self._dirty = self._said = self._closed = False
        self._last = -EVERY_S
        itself = weakref.WeakMethod(self.flush)
        self._at_exit = lambda: (itself() or (lambda: None))()
        atexit.register(self._at_exit)

    def changed(self) -> None:
        """Have what is typed written soon; at once where there is no event loop."""
        if self._closed:
            return
        self._dirty = True
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
            self._write(self._data())
        except (DataFileError, TypeError, ValueError) as error:
            self._failed(error)

    def close(self) -> None:
        """Write what is left, and nothing any more."""
        self.flush()
        self._closed = True
        self._stop_waiting()
        self._work.stop()
        atexit.unregister(self._at_exit)

    def _stop_waiting(self) -> None:
        if self._waiting is not None:
            self._waiting.cancel()
            self._waiting = None

    def _data(self) -> bytes:
        self._dirty, self._last = False, self._clock()
        saved = datetime.now().isoformat(timespec="seconds")
        tables = {"format": FORMAT, "saved": saved, "typed": self._take()}
        return json.dumps(tables, ensure_ascii=False, indent=1).encode()

    def _begin(self) -> None:
        """Write in a thread, so that a slow disk keeps nobody from typing."""
        self._waiting = None
        if self._work.running:
            self.changed()
            return
        try:
            with TURN:
                data = self._data()
        except Exception as error:  # noqa: BLE001 - said once, whatever it is
            self._failed(error)
            return

        def write(_: Report) -> None:
            self._write(data)

        self._work.start(write, done=lambda _: None, failed=self._failed)

    def _write(self, data: bytes) -> None:
        folder = self.path.parent
        new = not self.path.exists()
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise DataFileError(
                f"The folder cannot be made: {error.strerror or error}.", given=str(folder)
            ) from error
        write_whole(self.path, data, replace=True, private=True)
        if new:
            for old in _files(folder, self._key)[MOST_FILES:]:
                with suppress(OSError):
                    old.unlink()

    def _failed(self, error: Exception) -> None:
        if not self._said:
            self._said = True
            self._say(
                f"What you type is not being kept for a restart of the kernel: {error} "
                "Everything else goes on working; save the experiment file."
            )
