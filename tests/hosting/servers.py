"""Servers for the tests and for the measurement: Voilà, and plain files."""

from __future__ import annotations

import functools
import http.server
import os
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..browser.conftest import free_port

__all__ = ["VoilaServer", "serve_files", "serve_voila"]

ROOT = Path(__file__).parents[2]
START_S = 60
UNWANTED = ("@jupyter-notebook/lab-extension", "@voila-dashboards/jupyterlab-preview")
"""Parts of JupyterLab that a page of Voilà has no use for and fails to load."""


@dataclass(frozen=True)
class VoilaServer:
    """A running Voilà."""

    port: int
    process_id: int

    def url(self, name: str) -> str:
        """Return the address of a notebook."""
        return f"http://127.0.0.1:{self.port}/voila/render/{name}"


@contextmanager
def serve_voila(folder: Path, home: Path) -> Iterator[VoilaServer]:
    """Serve the notebooks of a folder, on this machine only, until the block ends.

    Each page has a kernel of its own; one that nobody looks at any more is ended.
    """
    port = free_port()
    home.mkdir(parents=True, exist_ok=True)
    paths = [str(ROOT), os.environ.get("PYTHONPATH", "")]
    environment = {
        **os.environ,
        "PYTHONPATH": os.pathsep.join(filter(None, paths)),
        "JUPYTER_CONFIG_DIR": str(home / "config"),
        "JUPYTER_RUNTIME_DIR": str(home / "runtime"),
        "IPYTHONDIR": str(home / "ipython"),
    }
    command = [
        *(sys.executable, "-m", "voila", str(folder), "--no-browser"),
        *("--Voila.ip=127.0.0.1", f"--port={port}", "--Voila.port_retries=0"),
        f"--VoilaConfiguration.extension_denylist={list(UNWANTED)}",
    ]
    log = home / "voila.log"
    with (
        log.open("wb") as written,
        subprocess.Popen(
            command, cwd=folder, env=environment, stdout=written, stderr=written
        ) as process,
    ):
        try:
            _wait(port, process, log)
            yield VoilaServer(port, process.pid)
        finally:
            process.terminate()
            try:
                process.wait(20)
            except subprocess.TimeoutExpired:
                process.kill()


def _wait(port: int, process: subprocess.Popen[bytes], log: Path) -> None:
    end = time.monotonic() + START_S
    while time.monotonic() < end and process.poll() is None:
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=10):
                return
        except (urllib.error.URLError, ConnectionError, TimeoutError):
            time.sleep(0.2)
    raise RuntimeError(f"Voilà did not start: {log.read_text('utf-8')[-2000:]}")


class _Quiet(http.server.SimpleHTTPRequestHandler):
    def log_message(self, format: str, *args: Any) -> None:
        """Write no log."""


@contextmanager
def serve_files(folder: Path, asked: Callable[[str], object] = lambda _: None) -> Iterator[str]:
    """Serve a folder as plain files, on this machine only; the value is the address.

    ``asked`` is told every path before its file is sent, which it may delay.
    """

    class Told(_Quiet):
        def do_GET(self) -> None:
            asked(self.path.partition("?")[0])
            super().do_GET()

    handler = functools.partial(Told, directory=str(folder))
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler)
    server.daemon_threads = True
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_address[1]}"
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
