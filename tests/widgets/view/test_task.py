"""Long work of a screen: progress, stopping, beginning again, and who is answered."""

from __future__ import annotations

import asyncio
import time
from typing import Any

import pytest

from stoichkit.errors import ModelError
from stoichkit.widgets.kit.work import Report
from stoichkit.widgets.view.blocks import Builder
from stoichkit.widgets.view.task import Task
from tests import clocks


def kinds(task: Task[Any]) -> list[str]:
    return [block["kind"] for block in task.blocks(Builder())]


def endless(report: Report) -> int:
    for i in range(10_000):
        report(f"step {i}")
        time.sleep(0.005)
    return 0


def test_work_is_stopped_and_begun_again() -> None:
    async def scene() -> list[Any]:
        changed: list[float] = []
        task: Task[int] = Task("long", lambda: changed.append(time.monotonic()))
        task.want("key", endless)
        await asyncio.sleep(0.4)
        make = Builder()
        (block,) = task.blocks(make)
        seen: list[Any] = [block["words"].startswith("step "), len(changed)]
        make.handlers["long:stop"]()
        seen += [task.running, kinds(task)]
        task.want("key", endless)  # it was stopped for this: it is not begun unasked
        seen.append(task.running)
        make = Builder()
        task.blocks(make)
        make.handlers["long:again"]()
        seen.append(task.running)
        task.forget()
        return [*seen, task.running, task.blocks(Builder())]

    progress, shown, *rest = clocks.run(scene)
    assert progress
    assert 1 <= shown <= 4  # not at every step
    assert rest == [False, ["row"], False, True, False, []]


def test_a_refusal_and_a_fault_are_both_said(caplog: pytest.LogCaptureFixture) -> None:
    def refuse(_: Report) -> int:
        raise ModelError("Too much.", fix="Take less.")

    def fail(_: Report) -> int:
        raise ZeroDivisionError("by nothing")

    task: Task[int] = Task("t", lambda: None)
    task.start("a", refuse)
    assert task.blocks(Builder())[0] == {
        "kind": "words", "text": "Too much. Take less.", "role": "refusal",
    }  # fmt: skip
    assert not caplog.records
    task.start("b", fail)
    assert "by nothing" in task.blocks(Builder())[0]["text"]
    assert caplog.records[0].exc_info is not None


def test_what_is_found_is_for_the_newest_key_only() -> None:
    task: Task[str] = Task("t", lambda: None)
    given: list[str] = []
    task.start(1, lambda _: "one", done=given.append)
    task.want(1, lambda _: "never")
    assert (task.result, task.found_for, given) == ("one", 1, ["one"])
    task.want(2, lambda _: "two")
    assert (task.result, task.found_for) == ("two", 2)
