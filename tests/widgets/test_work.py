"""Long work beside a page: who is answered."""

from __future__ import annotations

import asyncio
import contextvars

from stoichkit.widgets.kit.work import Report, Work
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
