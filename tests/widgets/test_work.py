"""Long work beside a page: who is answered."""

from __future__ import annotations

import asyncio
import contextvars

from stoichkit.widgets.kit.work import Later, NotYet, Report, Work, arrived
from tests import clocks


def test_the_loop_answers_in_the_context_of_whoever_asked() -> None:
    """A kernel answers whom it finds in the context; that of a thread is empty."""
    asked: contextvars.ContextVar[str] = contextvars.ContextVar("asked", default="nobody")

    async def scene() -> list[str]:
        seen: list[str] = []
        asked.set("the page")
        work = Work()

        def task(report: Report) -> int:
            report("half way")
            return 1

        work.start(
            task,
            done=lambda _: seen.append(asked.get()),
            failed=lambda e: seen.append(str(e)),
            progress=lambda _: seen.append(asked.get()),
        )
        while work.running:
            await asyncio.sleep(0.01)
        return seen

    assert clocks.run(scene) == ["the page", "the page"]


def test_what_is_later_waits_for_what_is_on_its_way() -> None:
    """It is called again when that is here; the newest alone."""

    async def scene() -> list[str]:
        came: list[str] = []
        here: list[bool] = []
        failed: list[object] = []
        asyncio.get_running_loop().set_exception_handler(lambda _, what: failed.append(what))

        def needing(name: str) -> None:
            if not here:
                raise NotYet("on its way")
            came.append(name)

        one, other = Later(), Later()
        one(lambda: needing("replaced"))
        other(lambda: needing("waited"))
        await asyncio.sleep(0.01)
        one(lambda: needing("newest"))
        assert came == failed == []
        here.append(True)
        arrived()
        await asyncio.sleep(0.01)
        arrived()
        return came

    assert clocks.run(scene) == ["waited", "newest"]
