"""The frame: a view goes out, actions come in, only what has changed is sent."""

from __future__ import annotations

import base64
from typing import Any

import pytest

from stoichkit.errors import ModelError
from stoichkit.widgets.view.blocks import Builder, words
from stoichkit.widgets.view.frame import Frame, Region


class Two:
    """A screen with a quick region, a slow one, and one of each control."""

    key, title = "two", "Two"
    frame: Frame | None = None

    def __init__(self) -> None:
        self.texts: dict[str, Any] = {"a": "", "b": ""}
        self.calls: list[Any] = []

    def regions(self) -> list[Region]:
        return [
            Region("quick", "left", self.quick),
            Region("other", "left", lambda _: [words("always the same")]),
            Region("slow", "right", self.slow, 1),
        ]

    def quick(self, make: Builder) -> list[dict[str, Any]]:
        def typed(text: str) -> None:
            if text == "refused":
                raise ModelError("This cannot be used.", given=text)
            if text == "broken":
                raise RuntimeError("a defect")
            self.texts["a"] = text

        make.on("pic:move", lambda *at: self.calls.append(at))
        make.on("file", lambda name, data: self.calls.append((name, data)))
        make.on("cells", lambda *at: self.calls.append(at))
        return [
            make.field("a", "A", self.texts["a"], typed),
            make.tick("t", "T", False, self.calls.append),
            make.button("p", "P", lambda: self.calls.append("pressed")),
        ]

    def slow(self, make: Builder) -> list[dict[str, Any]]:
        del make
        return [words(f"slow {self.texts['a']}")]


@pytest.fixture
def sent() -> list[dict[str, Any]]:
    return []


@pytest.fixture
def frame(sent: list[dict[str, Any]]) -> Frame:
    found = Frame([Two()], send=sent.append)
    do(found, "ready")
    return found


def do(frame: Frame, action: str, number: int = 1, page: str = "p", **arguments: Any) -> None:
    frame.act({"page": page, "number": number, "name": action, "arguments": arguments})


def test_everything_is_sent_to_a_page_that_has_nothing(sent: list[dict[str, Any]]) -> None:
    do(Frame([Two()], send=sent.append), "ready")
    names = {name for answer in sent for name in answer["regions"]}
    assert names == {"quick", "other", "slow"}
    assert sent[0]["layout"]["places"] == [["left", "quick"], ["left", "other"], ["right", "slow"]]


def test_only_what_has_changed_is_sent_the_quick_first(
    frame: Frame, sent: list[dict[str, Any]]
) -> None:
    sent.clear()
    do(frame, "set", 2, id="a", to="x")
    assert [list(one["regions"]) for one in sent] == [["quick"], ["slow"]]
    assert sent[-1]["regions"]["slow"][0]["text"] == "slow x"
    sent.clear()
    do(frame, "set", 3, id="a", to="x")
    assert [list(one["regions"]) for one in sent] == [[], []]  # the last says that it is settled
    assert [one["settled"] for one in sent] == [False, True]
    assert sent[0]["seen"] == {"p": 3}


def test_the_answer_names_the_newest_action_of_each_page(
    frame: Frame, sent: list[dict[str, Any]]
) -> None:
    do(frame, "set", 7, id="a", to="x")
    do(frame, "set", 3, page="q", id="a", to="y")
    do(frame, "set", 5, id="a", to="late")
    assert sent[-1]["seen"] == {"p": 7, "q": 3}


def test_a_refusal_is_said_and_a_defect_is_no_silence(
    frame: Frame, sent: list[dict[str, Any]]
) -> None:
    do(frame, "set", 2, id="a", to="refused")
    assert sent[-1]["said"] == {
        "text": "This cannot be used. Given: refused.",
        "role": "refusal",
    }
    do(frame, "set", 3, id="a", to="broken")
    assert "should not have" in sent[-1]["said"]["text"]
    do(frame, "set", 4, id="a", to="fine")
    assert sent[-1]["said"]["text"] == ""


@pytest.mark.parametrize(
    ("name", "arguments"),
    [
        ("set", {"id": "a", "to": 3}),
        ("set", {"id": "a"}),
        ("tick", {"id": "t", "to": "yes"}),
        ("step", {"id": "t", "to": True}),
        ("cells", {"id": "cells", "row": -1, "column": 0, "to": [["x"]]}),
        ("cells", {"id": "cells", "row": 0, "column": 0, "to": [[3]]}),
        ("cells", {"id": "cells", "row": 0, "column": 0, "to": []}),
        ("move", {"id": "pic:move", "spot": "s", "x": float("nan"), "y": 0}),
        ("move", {"id": "pic:move", "spot": "s", "x": 1e300, "y": 0}),
        ("file", {"id": "file", "name": "x", "base64": "%%%"}),
        ("burn", {"id": "a"}),
        ("press", {"id": "gone"}),
        ("show", {"id": "nowhere"}),
    ],
)
def test_what_cannot_be_done_is_refused_and_calls_nothing(
    frame: Frame, sent: list[dict[str, Any]], name: str, arguments: dict[str, Any]
) -> None:
    do(frame, name, 2, **arguments)
    assert sent[-1]["said"]["role"] == "refusal" or sent[-2]["said"]["role"] == "refusal"
    screen = frame.screens["two"]
    assert isinstance(screen, Two)
    assert screen.calls == []
    assert screen.texts["a"] == ""


@pytest.mark.parametrize("message", [None, 3, "x", [], {}, {"page": 3, "number": "x", "name": {}}])
def test_a_message_that_is_none_is_answered(
    frame: Frame, sent: list[dict[str, Any]], message: object
) -> None:
    sent.clear()
    frame.act(message)
    assert sent


@pytest.mark.parametrize(
    ("number", "seen"),
    [(1, 1), (2**53 - 1, 2**53 - 1), (2**53, 0), (-1, 0), (True, 0), ("7", 0), (7.0, 0)],
)
def test_numbers_of_actions_go_as_far_as_a_page_can_count(
    sent: list[dict[str, Any]], number: Any, seen: int
) -> None:
    """Whole numbers of a page are exact up to 2⁵³ − 1 (ECMAScript: MAX_SAFE_INTEGER)."""
    do(Frame([Two()], send=sent.append), "ready", number)
    assert sent[-1]["seen"] == {"p": seen}


@pytest.mark.parametrize(
    ("cells", "taken"),
    [
        ([["x" * 10_000]], True),
        ([["x" * 10_001]], False),
        ([["x"] * 200], True),
        ([["x"] * 201], False),
        ([["x"]] * 2000, True),
        ([["x"]] * 2001, False),
        ([["x"], []], False),
    ],
)
def test_a_block_of_cells_has_2000_rows_200_columns_and_10000_letters_each_at_most(
    frame: Frame, cells: list[list[str]], taken: bool
) -> None:
    do(frame, "cells", 2, id="cells", row=0, column=0, to=cells)
    screen = frame.screens["two"]
    assert isinstance(screen, Two)
    assert screen.calls == ([(0, 0, cells)] if taken else [])


def test_each_control_gets_what_it_was_given(frame: Frame) -> None:
    do(frame, "press", 2, id="p")
    do(frame, "tick", 3, id="t", to=True)
    do(frame, "cells", 4, id="cells", row=1, column=2, to=[["a", "b"], ["c"]])
    do(frame, "move", 5, id="pic:move", spot="s", x=1, y=2.5)
    do(frame, "file", 6, id="file", name="x.csv", base64=base64.b64encode(b"a,b").decode())
    screen = frame.screens["two"]
    assert isinstance(screen, Two)
    assert screen.calls == [
        "pressed",
        True,
        (1, 2, [["a", "b"], ["c"]]),
        ("s", 1.0, 2.5),
        ("x.csv", b"a,b"),
    ]


def test_files_are_handed_over_once(frame: Frame, sent: list[dict[str, Any]]) -> None:
    frame.hand_over("lab.toml", "text/plain", b"x = 1")
    frame.changed()
    assert [one["files"] for one in sent if one["files"]] == [
        [{"name": "lab.toml", "type": "text/plain", "base64": "eCA9IDE="}]
    ]


def test_leaving_a_field_ends_the_step(sent: list[dict[str, Any]]) -> None:
    ended: list[str] = []
    frame = Frame([Two()], send=sent.append, left=lambda: ended.append("left"))
    do(frame, "left", 1, id="a")
    assert ended == ["left"]
    assert sent[-1]["said"]["text"] == ""


def test_the_width_of_a_picture_that_was_left_is_no_fault_of_anybody(
    frame: Frame, sent: list[dict[str, Any]]
) -> None:
    do(frame, "pick", 2, id="picture:width", to=700)
    assert [one["said"]["text"] for one in sent if one["said"]["text"]] == []
    do(frame, "pick", 3, id="picture", to=7)
    assert "no longer there" in sent[-1]["said"]["text"] + sent[-2]["said"]["text"]
