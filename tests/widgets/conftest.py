"""What one file says of a class is worked out once for all tests of a folder that look at it."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

import pytest

from stoichkit.widgets.state import classroom as states
from stoichkit.widgets.state.classroom import ClassState, Found, Together

_Known = dict[Any, Any]


@pytest.fixture(scope="session")
def known_classes() -> _Known:
    """What was worked out already, by all that decides it; none of it ever changes."""
    return {}


@pytest.fixture(autouse=True)
def _worked_out_once(known_classes: _Known, monkeypatch: pytest.MonkeyPatch) -> None:
    """Take what is known already, except beside other work and where it may be stopped."""
    work_out, together = ClassState.work_out, Together.of.__func__  # type: ignore[attr-defined]

    def found(
        state: ClassState, report: Any = states.silent, stopping: Callable[[], bool] | None = None
    ) -> Found:
        whenever = stopping is None or isinstance(
            getattr(stopping, "__self__", None), threading.Event
        )
        if not (whenever and _alone()) or state.refusal is not None:
            return work_out(state, report, *(() if stopping is None else (stopping,)))
        report("Reading the rows …")
        key = (
            states.assess_class, state._content, repr(state.experiment), state.variation,
            repr(state.class_choices()), repr(state._chosen()), state.codes, state.sheet,
            state.file_name,
        )  # fmt: skip
        if key not in known_classes:
            known_classes[key] = work_out(state)
        return known_classes[key]

    def put_together(cls: type[Together], result: Any, report: Any = states.silent) -> Together:
        if not _alone():
            return together(cls, result, report)
        report("Putting the class together …")
        if result not in known_classes:
            known_classes[result] = together(cls, result)
        return known_classes[result]

    monkeypatch.setattr(ClassState, "work_out", found)
    monkeypatch.setattr(Together, "of", classmethod(put_together))


def _alone() -> bool:
    return threading.current_thread() is threading.main_thread()
