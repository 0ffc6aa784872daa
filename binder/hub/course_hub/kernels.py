"""Kernels of one person's server: a few at a time on the whole machine, and not too many each.

A kernel needs a core for about two seconds before it answers. Twenty of them in the same instant
on two cores all wait for one another, and pages give up. So each takes one of a few places, which
are locked files that all servers share, and holds it until the kernel has answered.
"""

from __future__ import annotations

import asyncio
import fcntl
import os
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from pathlib import Path
from typing import Any

from jupyter_server.services.kernels.kernelmanager import AsyncMappingKernelManager
from tornado.web import HTTPError
from traitlets import Int, Unicode

_LOOK_S = 0.1
_READY_S = 60


@asynccontextmanager
async def place(folder: Path, places: int) -> AsyncIterator[int]:
    """Hold one of a few places that processes share; whoever dies gives it up.

    Parameters
    ----------
    folder : path
        Where the locked files lie; it has to be there.
    places : int

    Yields
    ------
    int
        Number of the place.
    """
    flags = os.O_RDWR | os.O_CREAT | os.O_NOFOLLOW | os.O_CLOEXEC
    files = [os.open(folder / f"place-{i}", flags, 0o666) for i in range(places)]
    try:
        while True:
            for i, file in enumerate(files):
                with suppress(BlockingIOError):
                    fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
                    yield i
                    return
            await asyncio.sleep(_LOOK_S)
    finally:
        for file in files:  # a lock ends with its file
            os.close(file)


class Kernels(AsyncMappingKernelManager):
    """Starts kernels one after the other, and no more than a person may have."""

    most = Int(4, help="Kernels that a person may have at a time.").tag(config=True)
    places = Int(2, help="Kernels that may start at a time on this machine.").tag(config=True)
    folder = Unicode(help="Folder of the places, shared by all servers.").tag(config=True)

    async def start_kernel(self, **given: Any) -> str:  # type: ignore[override]
        """Start a kernel as soon as there is a place, and wait until it answers."""
        known = given.get("kernel_id")
        if known is not None and known in self:
            return str(await super().start_kernel(**given))
        if len(self) >= self.most:
            raise HTTPError(
                409,
                f"{self.most} kernels are running, which is all that one person may have here. "
                "Shut one down first: the list “Running” at the left shows them.",
            )
        async with place(Path(self.folder), self.places):
            found = str(await super().start_kernel(**given))
            await self._answers(found)
        return found

    async def _answers(self, kernel_id: str) -> None:
        client = self.get_kernel(kernel_id).client()
        client.start_channels()
        try:
            await client.wait_for_ready(timeout=_READY_S)
        except RuntimeError as error:  # the page says so too
            self.log.warning("Kernel %s does not answer: %s", kernel_id, error)
        finally:
            client.stop_channels()
