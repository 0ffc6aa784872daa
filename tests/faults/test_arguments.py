"""Whatever is given for an argument, what comes is a result or a refusal that can be read."""

from __future__ import annotations

import importlib
import inspect
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from stoichkit.errors import StoichkitError

from .calls import CALLS

WRONG = (
    None, True, "x", b"x", float("nan"), float("inf"), -1, 1j, object(), [], {}, [None], ["x"],
    (1, 2, 3), date(2026, 1, 1), Decimal("NaN"), np.ma.masked, np.array([1.0, 2.0]),
    np.ma.array([1.0], mask=[True]),
)  # fmt: skip
SLOW = {"planning.largest_recovery", "planning.smallest_amount"}


def _call(key: str, given: dict[str, Any]) -> object:
    room, name = key.split(".")
    called = getattr(importlib.import_module(f"stoichkit.{room}"), name)
    several = [
        given.pop(parameter.name)
        for parameter in inspect.signature(called).parameters.values()
        if parameter.kind == parameter.VAR_POSITIONAL
    ]
    return called(*several, **given)


def _arguments(key: str) -> list[str]:
    room, name = key.split(".")
    parameters = inspect.signature(
        getattr(importlib.import_module(f"stoichkit.{room}"), name)
    ).parameters.values()
    return [one.name for one in parameters if one.kind != one.VAR_KEYWORD]


@pytest.mark.parametrize("key", CALLS)
def test_any_argument_is_used_or_refused(
    key: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    if key == "experiments.load_experiment":
        (tmp_path / "lab.toml").write_text(CALLS["experiments.parse_experiment"]["text"], "utf-8")
    if key not in SLOW:
        _call(key, dict(CALLS[key]))
    for argument in _arguments(key):
        for wrong in WRONG:
            try:
                _call(key, {**CALLS[key], argument: wrong})
            except StoichkitError:
                continue
            except Exception as error:  # noqa: BLE001
                pytest.fail(f"{argument}={wrong!r}: {type(error).__name__}: {error}")
