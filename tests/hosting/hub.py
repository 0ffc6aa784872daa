"""A course on a JupyterHub: ``python -m tests.hosting.hub --people 20``.

Everybody signs in in the same instant, opens a notebook, has the screens drawn and types until a
verdict comes, as web requests and a web socket that send what a browser sends.
``COURSE_HUB_PYTHON`` names the Python of an environment with ``binder/hub/requirements.txt``, if
it is not this one; ``COURSE_HUB_PROXY`` the command of configurable-http-proxy. The result is in
``HUB.md``.
"""

from __future__ import annotations

import argparse
import asyncio
import json
import os
import platform
import re
import secrets
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import httpx
import psutil
from tornado.httpclient import HTTPRequest
from tornado.websocket import websocket_connect

from ..browser.conftest import free_port
from .crowd import MEBI, Person

ROOT = Path(__file__).parents[2]
CONFIG = ROOT / "binder" / "hub" / "jupyterhub_config.py"
NOTEBOOK = "readings-and-verdict.ipynb"
START_S, WAIT_S = 240, 300
LIMIT_MIB = 1024


def hub_python() -> str | None:
    """Return a Python that has JupyterHub; None if there is none."""
    named = os.environ.get("COURSE_HUB_PYTHON")
    return named or (sys.executable if find_spec("jupyterhub") else None)


def hub_proxy() -> str | None:
    """Return the command of the proxy; None if there is none."""
    here = ROOT / "node_modules" / ".bin" / "configurable-http-proxy"
    found = str(here) if here.exists() else shutil.which("configurable-http-proxy")
    return os.environ.get("COURSE_HUB_PROXY") or found


@dataclass(frozen=True)
class Hub:
    """A running hub: where it is reached, its folder, its process."""

    address: str
    folder: Path
    process_id: int
    log: Path

    @property
    def people(self) -> Path:
        """The folder that holds a folder for each person."""
        return self.folder / "people"


@contextmanager
def serve_hub(home: Path, *, at_once: int | None = None) -> Iterator[Hub]:
    """Run the hub of ``binder/hub`` on this machine only, until the block ends."""
    python, proxy = hub_python(), hub_proxy()
    assert python
    assert proxy
    folder, log = home / "hub", home / "hub.log"
    home.mkdir(parents=True, exist_ok=True)
    address = f"http://127.0.0.1:{free_port()}"
    paths = [str(ROOT), os.environ.get("PYTHONPATH", "")]
    environment = {
        **os.environ,
        "PYTHONPATH": os.pathsep.join(filter(None, paths)),
        "COURSE_HUB_ADDRESS": address,
        "COURSE_HUB_INNER_PORT": str(free_port()),
        "COURSE_HUB_PROXY_API": f"http://127.0.0.1:{free_port()}",
        "COURSE_HUB_PROXY": proxy,
        "COURSE_HUB_FOLDER": str(folder),
        "COURSE_HUB_MEMORY_MIB": str(LIMIT_MIB),
        "HOME": str(home),
    }
    if at_once is not None:
        environment["COURSE_HUB_AT_ONCE"] = str(at_once)
    command = [python, "-m", "jupyterhub", "-f", str(CONFIG)]
    with (
        log.open("wb") as written,
        subprocess.Popen(
            command, cwd=home, env=environment, stdout=written, stderr=written
        ) as process,
    ):
        try:
            _wait(address, process, log)
            yield Hub(address, folder, process.pid, log)
        finally:
            left = psutil.Process(process.pid).children(recursive=True)
            process.terminate()  # it ends the servers, and these their kernels
            try:
                process.wait(30)
            except subprocess.TimeoutExpired:
                process.kill()
            for one in psutil.wait_procs(left, 5)[1]:
                one.kill()


def _wait(address: str, process: subprocess.Popen[bytes], log: Path) -> None:
    end = time.monotonic() + START_S
    while time.monotonic() < end and process.poll() is None:
        try:
            if httpx.get(f"{address}/hub/login", timeout=10).status_code == 200:
                return
        except httpx.HTTPError:
            pass
        time.sleep(0.3)
    raise RuntimeError(f"the hub did not start: {log.read_text('utf-8')[-3000:]}")


@dataclass
class Visitor:
    """One person on the hub: signs in, waits, opens a notebook, types, hands in."""

    hub: Hub
    name: str
    token: str = ""
    said: list[str] = field(default_factory=list)
    times_s: dict[str, float] = field(default_factory=dict)
    screen: Person | None = None

    def __post_init__(self) -> None:
        self.client = httpx.AsyncClient(
            base_url=self.hub.address, follow_redirects=True, timeout=WAIT_S
        )

    async def sign_in(self) -> None:
        """Fill in the page of the sign-in, and wait until the server is there."""
        begun = time.perf_counter()
        await self.client.get("/hub/login")
        mark = self.client.cookies.get("_xsrf", path="/hub/")
        form = {"username": self.name, "password": "", "_xsrf": mark}
        page = await self.client.post("/hub/login", data=form)
        page.raise_for_status()
        mark = self.client.cookies.get("_xsrf", path="/hub/")
        answer = await self.client.post(
            f"/hub/api/users/{self.name}/tokens", json={}, headers={"X-XSRFToken": mark or ""}
        )
        answer.raise_for_status()
        self.token = answer.json()["token"]
        self.client.headers["Authorization"] = f"token {self.token}"
        await self._until_ready()
        self.times_s["server"] = time.perf_counter() - begun

    async def _until_ready(self) -> None:
        """Read what the page that waits shows."""
        async with self.client.stream(
            "GET", f"/hub/api/users/{self.name}/server/progress"
        ) as answer:
            async for line in answer.aiter_lines():
                if not line.startswith("data:"):
                    continue
                event = json.loads(line.removeprefix("data:"))
                self.said.append(event.get("message", ""))
                if event.get("failed"):
                    raise RuntimeError(f"no server for {self.name}: {event}")
                if event.get("ready"):
                    return

    async def api(self, method: str, path: str, **given: Any) -> Any:
        """Ask the person's own server."""
        answer = await self.client.request(method, f"/user/{self.name}/api/{path}", **given)
        if answer.status_code >= 400:
            raise RuntimeError(f"{method} {path} of {self.name}: {answer.text[:500]}")
        return answer.json() if answer.content else None

    async def open(self, notebook: str = NOTEBOOK) -> str:
        """Open a notebook, run it, and find its screen; return its headline."""
        begun = time.perf_counter()
        wanted = {
            "path": notebook,
            "name": notebook,
            "type": "notebook",
            "kernel": {"name": "python3"},
        }
        session = await self.api("POST", "sessions", json=wanted)
        self.times_s["kernel"] = time.perf_counter() - begun
        kernel = session["kernel"]["id"]
        address = self.hub.address.replace("http", "ws")
        socket = await websocket_connect(
            HTTPRequest(
                f"{address}/user/{self.name}/api/kernels/{kernel}/channels"
                f"?session_id={secrets.token_hex(8)}",
                headers={"Authorization": f"token {self.token}"},
            ),
            max_message_size=2**28,
        )
        self.screen = Person(socket)
        book = json.loads((self.hub.people / self.name / notebook).read_text("utf-8"))
        for cell in book["cells"]:
            if cell["cell_type"] == "code":
                await self.run("".join(cell["source"]))
        await self.screen.find_page()
        self.times_s["screens"] = time.perf_counter() - begun
        return self.headline

    async def run(self, code: str) -> str:
        """Run code in the kernel; return what it printed."""
        assert self.screen is not None
        content = {"code": code, "silent": False, "store_history": True, "allow_stdin": False}
        await self.screen.send("execute_request", content)
        printed, failed = "", ""
        while True:
            message = await self.screen.receive()
            kind, content = message["header"]["msg_type"], message["content"]
            if kind == "stream":
                printed += content["text"]
            elif kind == "error":
                failed = f"{content['ename']}: {content['evalue']}"
            elif kind == "execute_reply":
                return failed or printed

    @property
    def headline(self) -> str:
        """What the screen says above all."""
        assert self.screen is not None
        return json.dumps(self.screen.shown.get("verdict", ""), ensure_ascii=False)

    async def hand_in(self, name: str, html: str) -> None:
        """Put a page into the folder to be collected from, as the file browser does."""
        body = {"type": "file", "format": "text", "content": html}
        await self.api("PUT", f"contents/hand-in/{name}", json=body)

    async def leave(self) -> None:
        """Close the page."""
        if self.screen is not None:
            self.screen.socket.close()
        await self.client.aclose()


def memory_MiB(hub: Hub) -> dict[str, float]:
    """Return what each person takes, MiB: server and kernels, shared pages divided among all."""
    found: dict[str, float] = {}
    for process in psutil.Process(hub.process_id).children(recursive=True):
        try:
            name = process.environ().get("JUPYTERHUB_USER", "")
            if name:
                size = process.memory_full_info().pss / MEBI
                found[name] = found.get(name, 0.0) + size
        except (psutil.NoSuchProcess, psutil.AccessDenied):
            continue
    return found


def in_words(times: list[float]) -> str:
    ordered = sorted(times)
    return f"{ordered[0]:.1f} | {statistics.median(ordered):.1f} | {ordered[-1]:.1f}"


async def measure(hub: Hub, people: int) -> list[str]:
    """Let people come in the same instant; return the lines of the tables."""
    crowd = [Visitor(hub, f"person-{i:02}") for i in range(people)]
    lines = ["| seconds | first | median | last |", "|---|---|---|---|"]
    await asyncio.gather(*(one.sign_in() for one in crowd))
    lines.append(
        f"| signed in → own server there | {in_words([o.times_s['server'] for o in crowd])} |"
    )
    done = await asyncio.gather(*(one.open() for one in crowd), return_exceptions=True)
    wrong = [str(one) for one in done if isinstance(one, BaseException)]
    good = [one for one, how in zip(crowd, done, strict=True) if isinstance(how, str)]
    for what, words in (
        ("kernel", "notebook opened → kernel answers"),
        ("screens", "notebook opened → screens there"),
    ):
        lines.append(f"| {words} | {in_words([one.times_s[what] for one in good])} |")
    typing: list[float] = []
    for _ in range(5):
        typing += await asyncio.gather(*(one.screen.type_text() for one in good if one.screen))
        await asyncio.sleep(2)
    lines.append(
        f"| key pressed by all at once → verdict | {in_words([t / 1000 for t in typing])} |"
    )
    each = memory_MiB(hub)
    own = psutil.Process(hub.process_id)
    shared = sum(
        one.memory_full_info().pss / MEBI
        for one in [own, *own.children(recursive=True)]
        if one.status() != psutil.STATUS_ZOMBIE and not one.environ().get("JUPYTERHUB_USER")
    )
    told = [re.search(r"(\d+) p\w+ comes? before you", said) for one in crowd for said in one.said]
    longest = max((int(found[1]) for found in told if found), default=0)
    lines += [
        "",
        "| memory, MiB, shared pages divided among those who share them | median | largest |",
        "|---|---|---|",
        f"| of a person: server and one kernel | {statistics.median(each.values()):.0f} "
        f"| {max(each.values()):.0f} |",
        f"| hub, proxy and what ends idle servers | {shared:.0f} | |",
        f"| all together | {shared + sum(each.values()):.0f} | |",
        "",
        f"{len(good)} of {people} got a verdict."
        + (f" Others: {'; '.join(sorted(set(wrong)))[:300]}" if wrong else ""),
        f"The longest queue that was told: {longest} people.",
    ]
    for one in crowd:
        await one.leave()
    return lines


def main() -> None:
    """Read the command line, measure, and print the tables."""
    words = argparse.ArgumentParser(description="Measure a course on a JupyterHub.")
    words.add_argument("--people", type=int, default=20)
    words.add_argument(
        "--at-once", type=int, help="servers and kernels that start at a time; 0: all"
    )
    given = words.parse_args()
    if not hub_python() or not hub_proxy():
        raise SystemExit("JupyterHub or configurable-http-proxy is not installed; see this module.")
    with (
        tempfile.TemporaryDirectory() as name,
        serve_hub(Path(name), at_once=given.at_once) as hub,
    ):
        lines = asyncio.run(measure(hub, given.people))
    size = psutil.virtual_memory().total / 1024**3
    how = (
        "all start at once"
        if given.at_once == 0
        else f"{given.at_once or psutil.cpu_count()} start at a time"
    )
    print(
        f"{given.people} people, {how}; {psutil.cpu_count()} cores, {size:.0f} GiB, "
        f"{platform.system()}, Python {platform.python_version()}\n"
    )
    print("\n".join(lines))


if __name__ == "__main__":
    main()
