"""What the page and Python say to each other is what is written down, whatever is asked for."""

from __future__ import annotations

import ast
import json
import re
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import stoichkit.text.document
from stoichkit import experiments
from stoichkit.errors import ModelError
from stoichkit.plots.scene import Line, Scene
from stoichkit.widgets.state.lab import LabState
from stoichkit.widgets.view import blocks as b
from stoichkit.widgets.view.frame import Frame, Region

from .protocol import PAGE, SCHEMA, opened, screens, wrong

BROKEN = "Something went wrong"


def kinds(name: str, tag: str = "kind") -> set[str]:
    return set(SCHEMA["$defs"][name]["properties"][tag]["enum"])


# Answers


@pytest.mark.parametrize("name", experiments.names())
def test_all_screens_of_every_ready_lab_say_what_is_written_down(name: str) -> None:
    sent: list[Any] = []
    lab = LabState(name, autosave=False)
    frame = opened(lab, sent.append)

    def act(action: str, **arguments: Any) -> None:
        message = {"page": "p", "number": len(sent) + 1, "name": action, "arguments": arguments}
        assert wrong("action", message) == []
        frame.act(message)

    act("ready")
    for key in screens():
        act("show", id=key)
    act("press", id="download")
    frame.show("readings")
    act("cells", id="sheet", row=0, column=0, to=[["<b>, "]])
    lab.close()
    for answer in sent:
        assert wrong("answer", answer) == []
        assert BROKEN not in json.dumps(answer)
    assert any(answer["files"] for answer in sent)
    assert sent[-1]["settled"]


def test_no_two_controls_of_a_page_have_one_name() -> None:
    """An action would reach the first of them."""
    lab = LabState("copper-silver", autosave=False)
    frame = opened(lab, lambda _: None)
    lab.classroom.open_invented()
    for key in screens():
        frame.act({"page": "", "number": 1, "name": "show", "arguments": {"id": key}})
        names = [name for made in frame._made_by.values() for name in made.handlers]
        assert len(names) > 5
        assert len(names) == len(set(names)), key
    lab.close()


def test_the_schema_refuses_what_is_not_written_down() -> None:
    good = {"kind": "field", "id": "a", "label": "A", "text": "", "refusal": "", "note": "",
            "lines": 0, "width": 0, "options": [], "bare": False, "enter": ""}  # fmt: skip
    answer: dict[str, Any] = {
        "seen": {"p": 1},
        "layout": {"screen": "s", "places": [["left", "r"]], "tabs": [["s", "S"]]},
        "regions": {"r": [{"kind": "row", "blocks": [good], "even": False}]},
        "said": {"text": "", "role": ""},
        "files": [], "focus": "", "settled": True,
    }  # fmt: skip
    assert wrong("answer", answer) == []
    for bad in ({"more": 1}, {"text": None}, {"kind": "fields"}, {"lines": -1}, {"label": ""}):
        answer["regions"]["r"][0]["blocks"] = [{**good, **bad}]
        assert wrong("answer", answer), bad
    for bad in ({"page": ""}, {"number": 0}, {"name": "eval"}, {"arguments": {"id": "a"}}):
        action = {"page": "p", "number": 1, "name": "set", "arguments": {"id": "a", "to": "x"}}
        assert wrong("action", action) == []
        assert wrong("action", {**action, **bad}), bad


# Kinds


def made_in_python() -> set[str]:
    """Return the kinds of all blocks and parts that are written in the views."""
    found = set()
    for path in (PAGE.parent / "view").glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Dict):
                found |= {
                    value.value
                    for key, value in zip(node.keys, node.values, strict=True)
                    if isinstance(key, ast.Constant) and key.value == "kind"
                    and isinstance(value, ast.Constant)
                }  # fmt: skip
    return found


def test_every_kind_has_a_schema_a_drawer_and_a_line_in_the_description() -> None:
    source = (PAGE / "blocks.js").read_text("utf-8")
    drawn = re.search(r"const Kinds = \{(.*?)\};", source, re.DOTALL)
    assert drawn is not None
    table = (PAGE / "protocol.md").read_text("utf-8").split("## Blocks")[1]
    made = made_in_python()
    assert len(made) >= 19
    assert made <= kinds("block")
    assert kinds("block") == set(re.findall(r"^  (\w+):", drawn[1], re.MULTILINE))
    assert kinds("block") == set(re.findall(r"^\| `(\w+)` \|", table, re.MULTILINE))
    for one in SCHEMA["$defs"]["block"]["allOf"]:
        line = next(x for x in table.splitlines() if x.startswith(f"| `{named(one, 'kind')}` |"))
        for field in one["then"]["properties"].keys() - {"kind"}:
            assert f"`{field}`" in line, f"{field} of {line}"


def needed(action: str) -> list[str]:
    """Return the arguments of an action."""
    rules = SCHEMA["$defs"]["action"]["allOf"]
    rule = next(one for one in rules if named(one, "name") == action)
    return list(rule["then"]["properties"]["arguments"]["properties"])


def named(rule: Any, tag: str) -> str:
    return str(rule["if"]["properties"][tag]["const"])


def test_every_part_and_item_has_a_drawer() -> None:
    blocks, picture = ((PAGE / f"{n}.js").read_text("utf-8") for n in ("blocks", "picture"))
    written = Path(stoichkit.text.document.__file__).read_text("utf-8")
    assert kinds("part") == set(re.findall(r'"kind": "(\w+)"', written))
    parts = blocks[blocks.index("function Part(") :].partition("\n}\n")[0]
    assert kinds("part") - {"paragraph"} == set(re.findall(r'case "(\w+)"', parts))
    items = picture[picture.index("function Item(") :].partition("\n}\n")[0]
    assert kinds("item", "is") == set(re.findall(r'case "(\w+)"', items))


def test_every_action_of_the_page_is_written_down() -> None:
    acts = {named(one, "name") for one in SCHEMA["$defs"]["action"]["allOf"]}
    assert acts == set(SCHEMA["$defs"]["action"]["properties"]["name"]["enum"])
    sources = "".join(path.read_text("utf-8") for path in PAGE.glob("*.js"))
    assert set(re.findall(r'link\.act\(\s*"(\w+)"', sources)) == acts
    table = (PAGE / "protocol.md").read_text("utf-8").split("## Answers")[0]
    assert set(re.findall(r"^\| `(\w+)` \|", table, re.MULTILINE)) - {"name"} == acts


# Hostile actions


class Every:
    """A screen with every control, which remembers what it was given."""

    key, title = "every", "Every"

    def __init__(self) -> None:
        self.got: list[Any] = []
        self.frame: Frame | None = None

    def regions(self) -> list[Region]:
        return [Region("all", "left", self.build), Region("late", "right", self.late, 2)]

    def late(self, make: b.Builder) -> list[b.Block]:
        del make
        return [b.words(f"{len(self.got)}")]

    def take(self, *what: Any) -> None:
        self.got.append(what)
        if what == ("refused",):
            raise ModelError("No.")

    def build(self, make: b.Builder) -> list[b.Block]:
        take = self.take
        scene = Scene(100.0, 50.0, (Line(((0.0, 0.0), (9.0, 9.0))),))
        spot = {"name": "a", "words": "a", "x": 1.0, "y": 1.0, "drag": True}
        return [
            make.field("field", "Field", str(self.got[-1:]), take),
            make.choice("choice", "Choice", "a", [("a", "A"), ("b", "B")], take),
            make.tick("tick", "Tick", True, take),
            make.button("button", "Button", take),
            make.file("file", "File", "", take),
            make.step("step", "Step", 0, ("a", "b", "c"), take),
            make.sheet("sheet", "Sheet", [{"label": "m", "unit": "g"}],
                       [{"name": "a", "cells": [b.cell("1")], "result": "", "refusal": ""}],
                       take, renamed=take),
            make.picture("pic", "Picture", "It shows.", scene, spots=[spot], moved=take, saved=take,
                         sized=take),
            make.progress("Working", "stop", take),
            make.table("Table", ("a",), [("1",), ("2",)], name="table", chosen=take),
        ]  # fmt: skip


IDS = ("field", "choice", "tick", "button", "file", "step", "sheet", "sheet:names",
       "pic", "pic:move", "pic:save", "pic:width", "stop", "table", "every", "gone", "__class__",
       "")  # fmt: skip
NAMES = (*SCHEMA["$defs"]["action"]["properties"]["name"]["enum"], "act", "__init__")
ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=9)
    | st.sampled_from(["a", "b", "\ud800", "\x00", "<script>", "refused", "AA=="]),
    lambda inner: st.lists(inner, max_size=3)
    | st.dictionaries(st.text(max_size=4), inner, max_size=3),
    max_leaves=9,
)  # fmt: skip
LIKELY = st.fixed_dictionaries(
    {"id": st.sampled_from(IDS)},
    optional={
        "to": ANYTHING | st.integers(-2, 4) | st.lists(st.lists(st.text(max_size=3)), max_size=3),
        "row": ANYTHING | st.integers(-1, 3),
        "column": ANYTHING | st.integers(-1, 3),
        "spot": ANYTHING | st.just("a"),
        "x": ANYTHING | st.floats(),
        "y": ANYTHING | st.floats(),
        "name": ANYTHING,
        "base64": ANYTHING,
    },
)
ACTIONS = st.fixed_dictionaries(
    {"name": st.sampled_from(NAMES), "arguments": LIKELY | ANYTHING},
    optional={"more": ANYTHING},
)
ALLOWED = {
    "field": str, "choice": ("a", "b"), "tick": bool, "step": (0, 1, 2), "table": (0, 1),
    "pic:save": str, "pic:width": int,
}  # fmt: skip


@settings(max_examples=150, deadline=None)
@given(st.lists(ACTIONS, min_size=1, max_size=6))
def test_no_action_does_harm_and_each_is_answered(actions: list[dict[str, Any]]) -> None:
    sent: list[Any] = []
    screen = Every()
    frame = Frame([screen], send=sent.append)
    frame.act({"page": "p", "number": 1, "name": "ready", "arguments": {}})
    for number, action in enumerate(actions, 2):
        before, done = len(sent), len(screen.got)
        frame.act({"page": "p", "number": number, **action})
        assert sent[before]["seen"] == {"p": number}
        assert BROKEN not in sent[before]["said"]["text"]
        arguments = action["arguments"]
        if len(screen.got) > done:
            assert isinstance(arguments, dict)
            used = {k: v for k, v in arguments.items() if k in needed(action["name"])}
            plain = {"page": "p", "number": number, "name": action["name"], "arguments": used}
            assert "\ud800" in repr(used) or wrong("action", plain) == []
            allowed = ALLOWED.get(arguments["id"], object)
            (*_, last) = screen.got[-1] or (None,)
            assert isinstance(last, allowed) if isinstance(allowed, type) else last in allowed
        elif action["name"] not in ("ready", "left", "show"):
            assert sent[before]["said"]["role"] == "refusal"
    for answer in sent:
        assert wrong("answer", answer) == []


@settings(max_examples=150, deadline=None)
@given(ANYTHING | st.fixed_dictionaries({}, optional={
    "page": ANYTHING, "number": ANYTHING, "name": ANYTHING, "arguments": ANYTHING}))  # fmt: skip
def test_what_is_no_action_is_answered_too(message: Any) -> None:
    sent: list[Any] = []
    Frame([Every()], send=sent.append).act(message)
    assert sent
    assert wrong("answer", sent[0]) == []
    assert BROKEN not in sent[0]["said"]["text"]


@pytest.mark.parametrize(
    ("name", "arguments"),
    [
        ("set", {"id": "candidates", "to": "copper(II) = 2\ud800"}),
        ("set", {"id": "candidates", "to": "=" * 1_000_001}),
        ("set", {"id": "candidates", "to": "a = " * 2000}),
        ("set", {"id": "start", "to": "../../etc/passwd"}),
        ("set", {"id": "add", "to": "x"}),
        ("press", {"id": "candidates"}),
        ("step", {"id": "step", "to": 10**30}),
        ("step", {"id": "step", "to": -1}),
        ("cells", {"id": "sheet", "row": 0, "column": 99, "to": [["1"]]}),
        ("cells", {"id": "sheet", "row": 99_999, "column": 0, "to": [["1"]]}),
        ("cells", {"id": "sheet", "row": 0, "column": 0, "to": [["1"] * 200] * 2000}),
        ("cells", {"id": "sheet", "row": 0, "column": 0, "to": [[]]}),
        ("cells", {"id": "sheet:names", "row": 99, "column": 0, "to": [["x"]]}),
        ("cells", {"id": "sheet:names", "row": 0, "column": 0, "to": [[""]]}),
        ("cells", {"id": "sheet:names", "row": 0, "column": 0, "to": [["<b>" * 100]]}),
        ("cells", {"id": "sheet:names", "row": 0, "column": 0, "to": [["bench 2"]]}),
        ("cells", {"id": "sheet", "row": 0, "column": 0, "to": [["nan"], ["1e999"], ["-0"]]}),
        ("move", {"id": "picture:move", "spot": "nobody", "x": 1.0, "y": 1.0}),
        ("move", {"id": "picture:move", "spot": "bench 1", "x": -1e8, "y": 1e8}),
        ("move", {"id": "picture:move", "spot": "bench 1", "x": float("nan"), "y": 1.0}),
        ("pick", {"id": "picture:width", "to": 10**9}),
        ("set", {"id": "picture:save", "to": "../x"}),
        ("show", {"id": "nothing"}),
        ("show", {"id": ["readings"]}),
    ],
)
def test_hostile_actions_on_the_readings(name: str, arguments: dict[str, Any]) -> None:
    sent: list[Any] = []
    lab = LabState("copper-silver", autosave=False)
    frame = opened(lab, sent.append)
    frame.show("readings")
    frame.act({"page": "p", "number": 1, "name": "ready", "arguments": {}})
    before = len(sent)
    frame.act({"page": "p", "number": 2, "name": name, "arguments": arguments})
    assert sent[before]["seen"] == {"p": 2}
    frame.act({"page": "q", "number": 1, "name": "ready", "arguments": {}})
    assert {"sheet", "verdict", "picture"} <= {n for one in sent[before:] for n in one["regions"]}
    for answer in sent[before:]:
        assert wrong("answer", answer) == []
        assert BROKEN not in json.dumps(answer, ensure_ascii=False)
    lab.close()


def test_a_part_that_fails_leaves_the_others(caplog: pytest.LogCaptureFixture) -> None:
    class Half(Every):
        def late(self, make: b.Builder) -> list[b.Block]:
            del make
            raise ZeroDivisionError

    sent: list[Any] = []
    Frame([Half()], send=sent.append).act({"page": "p", "number": 1, "name": "ready"})
    assert sent[0]["regions"].keys() == {"all"}
    assert sent[-1]["settled"]
    assert sent[-1]["regions"]["late"][0]["text"].startswith("This part cannot be shown.")
    assert "ZeroDivisionError" in caplog.text


def test_pages_that_did_something_last_are_remembered() -> None:
    sent: list[Any] = []
    frame = Frame([Every()], send=sent.append)
    for i in range(60):
        frame.act({"page": f"p{i}", "number": 1, "name": "ready", "arguments": {}})
        frame.act({"page": "mine", "number": i + 1, "name": "left", "arguments": {"id": ""}})
    assert sent[-1]["seen"]["mine"] == 60
    assert len(sent[-1]["seen"]) == 20
