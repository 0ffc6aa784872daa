"""Many people at once on one machine: ``python -m tests.hosting.crowd --people 20``.

Voilà serves a notebook; every person opens the page, which starts a kernel of their own, and types
into the first cell of the sheet. Each is a web socket that sends what a browser sends when a key
is pressed, so twenty browsers are not needed. The answer's time runs from the message that carries
the typed text to the message that carries the new verdict. The recorded result is in ``CROWD.md``.
"""

from __future__ import annotations

import argparse
import asyncio
import json
import platform
import random
import re
import secrets
import shutil
import statistics
import tempfile
import time
import uuid
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import psutil
from tornado.httpclient import AsyncHTTPClient
from tornado.websocket import WebSocketClientConnection, websocket_connect

from .servers import VoilaServer, serve_voila

ROOT = Path(__file__).parents[2]
NOTEBOOK = ROOT / "notebooks" / "readings-and-verdict.ipynb"
TEXTS = "12,94", "2.94"
"""Readings that change the verdict, typed in turn into the first cell."""
KERNEL = re.compile(r'"kernelId":\s*"([0-9a-f-]{36})"')
WAIT_S = 60
PAUSE_S = 2.0
VERSION = {"version": "1.0.0"}
"""Of the protocol by which a page asks for all widgets."""
MEBI = 1024**2


@dataclass
class Person:
    """One person's page: the socket, and the models of the field and of the verdict."""

    socket: WebSocketClientConnection
    session: str = field(default_factory=lambda: uuid.uuid4().hex)
    page_id: str = ""
    name: str = field(default_factory=lambda: secrets.token_hex(6))
    count: int = 0
    shown: dict[str, Any] = field(default_factory=dict)

    async def send(self, kind: str, content: dict[str, Any]) -> None:
        header = {
            "msg_id": uuid.uuid4().hex,
            "msg_type": kind,
            "session": self.session,
            "username": "person",
            "version": "5.3",
            "date": time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime()),
        }
        message = {"header": header, "parent_header": {}, "metadata": VERSION, "content": content}
        await self.socket.write_message(json.dumps({**message, "channel": "shell", "buffers": []}))

    async def receive(self) -> dict[str, Any]:
        """Return the next message; a binary one carries its JSON after a table of offsets."""
        raw = await asyncio.wait_for(self.socket.read_message(), WAIT_S)
        if raw is None:
            raise ConnectionError("the server closed the connection")
        if isinstance(raw, bytes):
            count = int.from_bytes(raw[:4], "big")
            ends = [int.from_bytes(raw[4 + 4 * i : 8 + 4 * i], "big") for i in range(count)]
            raw = raw[ends[0] : ends[1] if count > 1 else len(raw)].decode("utf-8")
        return dict(json.loads(raw))

    async def find_page(self) -> None:
        """Ask the kernel for its widgets, as a page does, and find the one of the screens."""
        channel = uuid.uuid4().hex
        control = {"comm_id": channel, "target_name": "jupyter.widget.control", "data": {}}
        opened = {"method": "request_states"}
        await self.send("comm_open", control)
        await self.send("comm_msg", {"comm_id": channel, "data": opened})
        while True:
            message = await self.receive()
            data = message["content"].get("data", {})
            if message["header"]["msg_type"] == "comm_msg" and data.get("method") == (
                "update_states"
            ):
                break
        found = [n for n, one in data["states"].items() if one["state"].get("key")]
        if not found:
            raise LookupError("the notebook shows no screen")
        self.page_id = found[0]
        await self.act("ready", {}, "picture")

    async def act(self, name: str, arguments: dict[str, Any], region: str) -> float:
        """Do something; return the milliseconds until a region of the answer has come."""
        self.count += 1
        action = {"page": self.name, "number": self.count, "name": name, "arguments": arguments}
        content = {"method": "custom", "content": action}
        begun = time.perf_counter()
        await self.send("comm_msg", {"comm_id": self.page_id, "data": content})
        while True:
            message = await self.receive()
            data = message["content"].get("data", {})
            answer = data.get("content", {}) if data.get("method") == "custom" else {}
            self.shown.update(answer.get("regions", {}))
            seen = answer.get("seen", {}).get(self.name, 0) >= self.count
            if seen and region in answer.get("regions", {}):
                return 1000 * (time.perf_counter() - begun)

    async def type_text(self) -> float:
        """Type the other of two texts; return the milliseconds until the verdict has changed."""
        to = [[TEXTS[(self.count + 1) % 2]]]
        cell = {"id": "sheet", "row": 0, "column": 0, "to": to}
        return await self.act("cells", cell, "verdict")


async def open_page(server: VoilaServer, name: str) -> tuple[Person, float]:
    """Open the page; return the person and the seconds until the whole page was there."""
    begun = time.perf_counter()
    answer = await AsyncHTTPClient().fetch(server.url(name), request_timeout=600)
    waited = time.perf_counter() - begun
    found = KERNEL.search(answer.body.decode("utf-8"))
    if not found:
        raise LookupError("the page names no kernel")
    address = f"ws://127.0.0.1:{server.port}/api/kernels/{found[1]}/channels"
    socket = await websocket_connect(
        f"{address}?session_id={secrets.token_hex(8)}", max_message_size=2**28
    )
    person = Person(socket)
    await person.find_page()
    return person, waited


@dataclass(frozen=True)
class Memory:
    """Memory of a group of processes, in MiB each."""

    resident: list[float]
    proportional: list[float]

    @classmethod
    def of(cls, processes: list[psutil.Process]) -> Memory:
        full = [process.memory_full_info() for process in processes]
        return cls([one.rss / MEBI for one in full], [one.pss / MEBI for one in full])


def kernels(server: VoilaServer) -> list[psutil.Process]:
    """Return the kernel processes of a server."""
    children = psutil.Process(server.process_id).children(recursive=True)
    return [p for p in children if "ipykernel_launcher" in " ".join(p.cmdline())]


async def steady(person: Person, rounds: int, chance: random.Random) -> list[float]:
    """Type now and then; return the milliseconds of each answer."""
    await asyncio.sleep(PAUSE_S * chance.random())
    times = []
    for _ in range(rounds):
        times.append(await person.type_text())
        await asyncio.sleep(PAUSE_S * (0.5 + chance.random()))
    return times


def in_words(times: list[float]) -> str:
    ordered = sorted(times)
    late = ordered[min(int(0.95 * len(ordered)), len(ordered) - 1)]
    return f"{statistics.median(times):.0f} | {late:.0f} | {ordered[-1]:.0f} | {len(times)}"


async def measure(server: VoilaServer, name: str, *, people: int, rounds: int) -> list[str]:
    """Let people come and type; return the lines of the table."""
    AsyncHTTPClient.configure(None, max_clients=people)
    first, alone_s = await open_page(server, name)
    alone = await steady(first, rounds, random.Random(0))
    begun = time.perf_counter()
    others = await asyncio.gather(*(open_page(server, name) for _ in range(people - 1)))
    together_s = time.perf_counter() - begun
    crowd = [first, *(person for person, _ in others)]
    for person in crowd:
        await person.type_text()
    chances = [random.Random(i) for i in range(people)]
    typing = await asyncio.gather(
        *(steady(person, rounds, chance) for person, chance in zip(crowd, chances, strict=True))
    )
    steadily = [time_ms for times in typing for time_ms in times]
    bursts = []
    for _ in range(rounds):
        bursts += await asyncio.gather(*(person.type_text() for person in crowd))
        await asyncio.sleep(PAUSE_S)
    running = kernels(server)
    own, main = Memory.of(running), Memory.of([psutil.Process(server.process_id)])
    for person in crowd:
        person.socket.close()
    total = sum(own.proportional) + sum(main.proportional)
    return [
        "| response, ms: typed text sent → new verdict received | median | 95 % | longest | n |",
        "|---|---|---|---|---|",
        f"| one person alone, a key every {PAUSE_S:g} s | {in_words(alone)} |",
        f"| {people} people, each a key every {PAUSE_S:g} s | {in_words(steadily)} |",
        f"| {people} people, all in the same instant, every {PAUSE_S:g} s | {in_words(bursts)} |",
        "",
        "| opening the page | s |",
        "|---|---|",
        f"| one person alone | {alone_s:.1f} |",
        f"| {people - 1} more at once, until the last has the page | {together_s:.1f} |",
        "",
        "| memory, MiB | median | largest |",
        "|---|---|---|",
        f"| resident, per kernel ({len(running)} kernels) | {statistics.median(own.resident):.0f} "
        f"| {max(own.resident):.0f} |",
        "| proportional (shared pages divided among those who share them), per kernel | "
        f"{statistics.median(own.proportional):.0f} | {max(own.proportional):.0f} |",
        f"| the server itself, proportional | {main.proportional[0]:.0f} | |",
        f"| all together, proportional, per person | {total / people:.0f} | |",
    ]


def main() -> None:
    """Read the command line, measure, and print the tables."""
    words = argparse.ArgumentParser(description="Measure many people at once on one machine.")
    words.add_argument("--people", type=int, default=20)
    words.add_argument("--rounds", type=int, default=10, help="changes that each person makes")
    words.add_argument("--notebook", type=Path, default=NOTEBOOK)
    given = words.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "notebooks"
        folder.mkdir()
        shutil.copy(given.notebook, folder)
        with serve_voila(folder, Path(name) / "home") as server:
            lines = asyncio.run(
                measure(
                    server,
                    given.notebook.name,
                    people=given.people,
                    rounds=given.rounds,
                )
            )
    size = psutil.virtual_memory().total / 1024**3
    print(
        f"{given.people} people, {given.notebook.name}; {psutil.cpu_count()} cores, {size:.0f} GiB,"
        f" {platform.system()}, Python {platform.python_version()}\n"
    )
    print("\n".join(lines))


if __name__ == "__main__":
    main()
