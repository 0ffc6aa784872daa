"""Labs of one's own, each way of measuring, by keyboard alone."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from tests.own_labs import HEAD, LABS, MOST_INPUTS, Lab, enter

from .live import Live

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("lab", LABS, ids=lambda lab: lab.name)
def test_it_is_entered_and_judged(
    live: Callable[..., Live], lab: Lab, measured: Callable[[str], None]
) -> None:
    one = live()

    def wait(selector: str) -> None:
        one.settle()
        one.page.wait_for_selector(selector)

    inputs = enter(one.page, lab, wait)
    one.settle()
    assert lab.answer in one.text(HEAD)
    measured(f"{lab.name}: {len(inputs)} inputs: {'; '.join(inputs)}")
    assert len(inputs) <= MOST_INPUTS
