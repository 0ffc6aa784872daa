"""What the screens show, recorded: says when it changes, not that it is right.

That it is right is for the other tests here. On each screen every control is used in turn, without
a page: fields get good and bad texts, ticks and choices are tried, buttons pressed. Written down is
what is said, which regions change, the words that were not there before, and one number in which
every place, size and word has a part. How to write the record anew: ``tests/recorded.py``.
"""

from __future__ import annotations

import base64
import itertools
import json
import math
import os
import re
from collections.abc import Callable, Iterator
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest

from stoichkit import experiments
from stoichkit.experiments.record import Experiment
from stoichkit.widgets.state.lab import LabState
from tests.classfiles import ROWS, csv_bytes
from tests.odd_labs import ODD
from tests.recorded import Record, cases

from .protocol import opened, screens, walk

RECORD = Record(__file__)
_MOST_WORDS = 60
_EACH = 8
"""Controls tried in one case, on a screen opened anew."""
TEXTS = {
    "amount": ("0,05", "0", "x"), "trials": ("3", "400"), "balance": ("0.1", "zero"),
    "variation": ("3 %", "unknown", "-1", "much"), "coverage": ("0.99", "2"),
    "path": ("mine.toml", ""), "id": ("86CAU28", "ABC"), "recovery": ("0.9", "x"),
    "repeat": ("0.01", "x"), "spread": ("0.2", "2"), "target": ("0.8", "2"),
    "readability": ("0.1", "x"),
}  # fmt: skip
PLAIN = ("2", "", "x")
NOT_PRESSED = ("setups",)
"""It takes seconds, and what it shows is recorded with the bench."""


class Walk:
    """A lab on a screen, what is done there and what then changes."""

    def __init__(self, screen: str, lab: str | Experiment) -> None:
        self.lab = LabState(lab, autosave=False)
        self.regions: dict[str, Any] = {}
        self.layout: dict[str, Any] = {}
        self.files: list[str] = []
        self.said, self.number = "", 0
        self.known: set[str] = set()
        self.found: list[object] = []
        self.changed: list[str] = []
        self.frame = opened(self.lab, self.receive)
        self.do("ready")
        self.do("show", id=screen)

    def receive(self, answer: Any) -> None:
        answer = json.loads(json.dumps(answer, allow_nan=False))
        self.layout = answer["layout"]
        places = {name for _, name in self.layout["places"]}
        self.regions = {k: v for k, v in self.regions.items() if k in places} | answer["regions"]
        self.changed += answer["regions"]
        self.files += [f"{f['name']}: {len(f['base64']) // 400}" for f in answer["files"]]
        self.said = answer["said"]["text"] or self.said

    def do(self, action: str, **arguments: Any) -> None:
        """Send an action, and keep what follows from it."""
        self.number += 1
        self.said, self.changed, self.files = "", [], []
        self.frame.act({"page": "p", "number": self.number, "name": action, "arguments": arguments})
        told = {k: v for k, v in arguments.items() if k != "base64"}
        new = [w for w in self.words() if w not in self.known]
        self.known.update(new)
        self.found.append(
            {
                "do": f"{action} {told}",
                "said": plain(self.said),
                "files": self.files,
                "changed": sorted(set(self.changed)),
                "new": [plain(w) for w in dict.fromkeys(new)][:_MOST_WORDS],
                "mixed": self.mixed(),
            }
        )

    def words(self) -> Iterator[str]:
        for name in sorted(self.regions):
            for one in walk(self.regions[name]):
                if isinstance(one, str) and (" " in one or any(c.isdigit() for c in one)):
                    yield one

    def mixed(self) -> str:
        """Return one number in which every number and word on the page has a part."""
        shown = [value_of(one) if isinstance(one, str) else float(one) for one in self.values()]
        total = math.fsum(one * math.cos(i) for i, one in enumerate(shown))
        return f"{len(shown)} values, {total:.1f}"

    def values(self) -> Iterator[str | float]:
        for name in sorted(self.regions):
            for one in walk(self.regions[name]):
                if isinstance(one, str | int | float):
                    yield one

    def controls(self) -> list[dict[str, Any]]:
        found = {}
        for name in sorted(self.regions):
            if name == "head" and len(self.regions) > 1:
                continue
            for one in walk(self.regions[name]):
                if isinstance(one, dict) and one.get("id") and "kind" in one:
                    found.setdefault(one["id"], one)
        return list(found.values())

    def use(self, control: dict[str, Any]) -> None:
        """Do with a control what people do."""
        name, kind = control["id"], control["kind"]
        if kind in ("field", "chip"):
            texts = next((t for part, t in TEXTS.items() if part in name), PLAIN)
            for text in (*texts, control.get("text", "")):
                self.do("set", id=name, to=text)
            self.do("left", id=name)
        elif kind == "choice":
            for value, _ in control["options"][:3]:
                self.do("set", id=name, to=value)
        elif kind == "tick":
            for to in (not control["on"], control["on"]):
                self.do("tick", id=name, to=to)
        elif kind == "step":
            for to in (0, len(control["words"]) - 1, control["value"]):
                self.do("step", id=name, to=to)
        elif kind == "button" and control.get("enabled", True) and name not in NOT_PRESSED:
            self.do("press", id=name)
        elif kind == "table":
            for to in range(min(2, len(control["rows"]))):
                self.do("pick", id=name, to=to)
        elif kind == "sheet":
            for text in ("1.34", "x", "", "2.94"):
                self.do("cells", id=name, row=0, column=0, to=[[text]])
        elif kind == "picture":
            for spot in control.get("spots", [])[:2]:
                self.do("move", id=f"{name}:move", x=0.1, y=0.2, spot=spot["name"])
        elif kind == "file":
            content = base64.b64encode(csv_bytes([*ROWS, ROWS[0]])).decode()
            self.do("file", id=name, name="class.csv", base64=content)


def value_of(text: str) -> int:
    """Return a number made of the letters of a text."""
    return _value_of(text, os.getcwd())


@lru_cache(maxsize=20_000)
def _value_of(text: str, here: str) -> int:
    return sum(map(ord, plain(text, here))) % 1009


def plain(text: str, here: str = "") -> str:
    """Return a text without what differs from run to run."""
    text = text.replace(here or os.getcwd(), "HERE")
    if len(text) > 700:
        text = f"{text[:300]} … {len(text) // 50} …"
    return re.sub(r"\d{4}-\d\d-\d\d[ T]\d\d:\d\d(:\d\d)?", "WHEN", text)


def made(lab: str) -> str | Experiment:
    return lab if lab in experiments.names() else ODD[lab]()


def walked(
    screen: str, lab: str, part: int, prepare: Callable[[Walk], None] | None = None
) -> object:
    """Use some of the controls of a screen, one after the other."""
    one = Walk(screen, made(lab))
    try:
        if prepare is not None:
            prepare(one)
        if part:
            one.found.clear()
        for control in one.controls()[part * _EACH : (part + 1) * _EACH]:
            if any(c["id"] == control["id"] for c in one.controls()):
                one.use(control)
        return one.found
    finally:
        one.lab.close()


def opened_on(screen: str, lab: str) -> object:
    one = Walk(screen, made(lab))
    one.lab.close()
    return [one.layout, *one.found[1:]]


def with_class(page: Walk) -> None:
    """Open the invented class."""
    content = base64.b64encode(experiments.class_file()).decode()
    page.do("file", id="class-file", name="class.csv", base64=content)


def answered(page: Walk) -> None:
    """Begin the questions of the Study screen."""
    page.do("press", id="study:skip")


def head() -> object:
    """Use what stands above every screen."""
    one = Walk("readings", "copper-silver")
    try:
        one.do("cells", id="sheet", row=0, column=0, to=[["1.34"]])
        for control in list(
            {
                c["id"]: c
                for c in walk(one.regions["head"])
                if isinstance(c, dict) and c.get("id") and "kind" in c
            }.values()
        ):
            one.use(control)
        for name in ("undo", "undo", "redo", "restore", "nothing"):
            one.do("press", id=name)
        return one.found[2:]
    finally:
        one.lab.close()


PARTS = {"class": (0,), "plan": (0, 1, 3), "readings": (0, 1, 2), "study": (0, 1, 2),
         "why": (0,), "working": (0,)}  # fmt: skip
PREPARED: dict[str, tuple[str, Callable[[Walk], None], tuple[int, ...]]] = {
    "of a class": ("class", with_class, (0, 2, 4)), "answered": ("study", answered, (0, 1, 2)),
}  # fmt: skip
SCREENS = sorted(screens())
OTHERS = (
    "none fits",
    "reversed",
    "drifting",
    "recovery",
    "transposed",
    "nothing read",
    "magnesium-gas",
    "acid-titration",
)
CASES = cases(
    use={
        f"{screen} {part}": (lambda s=screen, p=part: walked(s, "copper-silver", p))
        for screen, parts in PARTS.items()
        for part in parts
    },
    prepared={
        f"{name} {part}": (lambda s=screen, p=part, m=make: walked(s, "copper-silver", p, m))
        for name, (screen, make, parts) in PREPARED.items()
        for part in parts
    },
    opened={
        f"{screen}, {lab}": (lambda s=screen, n=lab: opened_on(s, n))
        for screen in SCREENS
        for lab in OTHERS
        if (screen, lab) != ("plan", "drifting")  # its map takes long
    },
    head={"all": head},
)


@pytest.fixture(autouse=True)
def _here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Save in a folder of its own, and draw the same practice labs every time."""
    monkeypatch.chdir(tmp_path)
    drawn = itertools.count(7)
    monkeypatch.setattr("stoichkit.widgets.state.study.secrets.randbelow", lambda _: next(drawn))


test_answers, test_nothing_else = RECORD.tests(CASES)
