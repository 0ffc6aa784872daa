"""How a person's server is started: in turn, within limits, and for whom.

What a process started on the same machine can be held to is set before it runs and passed on to
all that it starts: bytes of memory of each process, seconds of processor of each, size of a file,
and that the hub comes first. The sum over all processes of a person is not among them; that takes
containers.
"""

from __future__ import annotations

import asyncio
import ipaddress
import os
import resource
from collections.abc import AsyncIterator, Callable
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from jupyterhub.auth import DummyAuthenticator
from jupyterhub.spawner import LocalProcessSpawner, SimpleLocalProcessSpawner
from jupyterhub.utils import wait_for_http_server
from traitlets import Int, Unicode

from .handing import PERSON, hand_out

MEBI = 1024**2


def is_loopback(address: str) -> bool:
    """Return whether an address, or that of a URL, is reached from this machine alone.

    >>> [is_loopback(one) for one in ("http://127.0.0.1:8000", "http://localhost", "::1")]
    [True, True, True]
    >>> [is_loopback(one) for one in ("http://:8000", "http://0.0.0.0:80", "192.0.2.7", "")]
    [False, False, False, False]
    """
    host = urlsplit(address).hostname if "//" in address else address
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host or "").is_loopback
    except ValueError:
        return False


class TrialSignIn(DummyAuthenticator):
    """Anybody may come in under any name: for a trial on one machine, refused on all else.

    It looks at the address that the hub really uses, wherever that was set, and at where each
    person comes from, as far as proxies on the way say it.
    """

    def __init__(self, **given: Any) -> None:
        super().__init__(**given)
        self.username_pattern = f"^{PERSON.pattern}$"
        address = getattr(self.parent, "bind_url", "")
        if not is_loopback(address):
            raise SystemExit(
                "The trial sign-in asks for no password, so it is for this machine alone. Given: "
                f"{address or 'no address'}. Allowed: http://127.0.0.1 or http://localhost, with "
                "any port. For a course on a network choose COURSE_HUB_ACCOUNTS=system, or another "
                "sign-in, see binder/README.md."
            )

    async def authenticate(self, handler: Any, data: dict[str, str]) -> str | None:
        """Let a person in who comes from this machine."""
        said = handler.request.headers.get("X-Forwarded-For", "")
        on_the_way = [one.strip() for one in said.split(",") if one.strip()]
        if not all(map(is_loopback, (handler.request.remote_ip, *on_the_way))):
            self.log.warning("The trial sign-in was asked from %s; refused.", said)
            return None
        return data["username"]


class Queue:
    """Those whose servers are to start, and how many start at a time."""

    def __init__(self) -> None:
        self.waiting: list[object] = []
        self.starting: set[object] = set()
        self.changed = asyncio.Condition()

    async def enter(self, who: object, places: int) -> None:
        """Wait until it is somebody's turn."""
        self.waiting.append(who)
        try:
            async with self.changed:
                await self.changed.wait_for(
                    lambda: self.waiting[0] is who and len(self.starting) < places
                )
                self.starting.add(who)
        finally:
            self.waiting.remove(who)
            async with self.changed:
                self.changed.notify_all()

    async def leave(self, who: object) -> None:
        """Make room for the next."""
        self.starting.discard(who)
        async with self.changed:
            self.changed.notify_all()

    def before(self, who: object) -> int | None:
        """Return how many come before somebody; None for one who is not waiting."""
        return self.waiting.index(who) if who in self.waiting else None


QUEUE = Queue()


class InTurn(LocalProcessSpawner):
    """Starts in turn, within limits, with the notebooks in the person's folder."""

    places = Int(2, help="Servers that may start at a time.").tag(config=True)
    memory_MiB = Int(1024, help="Memory of each process.").tag(config=True)
    processor_s = Int(3600, help="Seconds of processor of each process.").tag(config=True)
    file_MiB = Int(200, help="Largest file that may be written.").tag(config=True)
    processes = Int(0, help="Processes and threads of an account; 0: no limit.").tag(config=True)
    kept = Unicode(help="Where it is written down what was handed out.").tag(config=True)

    async def start(self) -> tuple[str, int]:
        """Start when it is this person's turn, and let the next in when the server answers."""
        await QUEUE.enter(self, self.places)
        try:
            home = Path(self.get_env()["HOME"])
            written = hand_out(home, kept=Path(self.kept))
            self.log.info("Handed out to %s: %s", self.user.name, ", ".join(written) or "–")
            ip, port = await super().start()
            address = f"http://{ip}:{port}{self.server.base_url}"
            try:
                await wait_for_http_server(address, timeout=self.http_timeout)
            except TimeoutError:
                self.log.warning("The server of %s is slow.", self.user.name)
            return ip, port
        finally:
            await QUEUE.leave(self)

    def make_preexec_fn(self, name: str) -> Callable[[], None]:
        """Return what a process does before it becomes the person's server."""
        before = super().make_preexec_fn(name)
        limits = [
            (resource.RLIMIT_DATA, self.memory_MiB * MEBI),
            (resource.RLIMIT_CPU, self.processor_s),
            (resource.RLIMIT_FSIZE, self.file_MiB * MEBI),
            (resource.RLIMIT_CORE, 0),
        ]
        if self.processes:
            limits.append((resource.RLIMIT_NPROC, self.processes))

        def prepare() -> None:
            for kind, most in limits:
                _, hard = resource.getrlimit(kind)
                least = most if hard == resource.RLIM_INFINITY else min(most, hard)
                resource.setrlimit(kind, (least, least))
            os.nice(5)  # hub and proxy come first
            before()

        return prepare

    async def progress(self) -> AsyncIterator[dict[str, Any]]:
        """Say, on the page that waits, how many come before."""
        told = ""
        while True:
            before = QUEUE.before(self)
            if before is None:
                words, done = "Your server is starting.", 60
            elif before == 0:
                words, done = "You are the next.", 40
            else:
                people = "person comes" if before == 1 else "people come"
                words, done = f"{before} {people} before you.", max(30 - before, 5)
            if words != told:
                told = words
                yield {"progress": done, "message": words}
            await asyncio.sleep(1)


class TrialSpawner(InTurn, SimpleLocalProcessSpawner):
    """Servers of a trial: all run under the account of the hub, so that nobody is kept apart."""


class SystemSpawner(InTurn):
    """Servers of people who have an account on this machine; the hub runs as root."""
