"""Every public name says what it takes, gives and refuses, with an example that runs.

The rule: every name in ``stoichkit.__all__`` has a docstring with an example and names each of its
parameters; a function also has sections Parameters (if it takes any), Returns, and Raises where its
own body raises. Every name of a module without a leading
underscore has a docstring. Units stand in names or
beside them: a parameter that is a bare "mass", "volume", "time" or "temperature" is refused.
"""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import re
from typing import Any

import pytest

import stoichkit

NAMES = sorted(
    name
    for name in stoichkit.__all__
    if name != "__version__" and not inspect.ismodule(getattr(stoichkit, name))
)
BARE = {"mass", "volume", "time", "temperature", "pressure", "concentration", "current"}
READING_NAMES = {"ElectricCharge", "GasVolume", "SolutionVolume"}
"""Models whose fields hold names of readings, not quantities."""


def parameters_of(thing: Any) -> list[str]:
    return [p for p in inspect.signature(thing).parameters if not p.startswith("_")]


def own_modules() -> list[str]:
    found = []
    for module in pkgutil.walk_packages(stoichkit.__path__, "stoichkit."):
        if not module.name.endswith("__main__") and ".notebooks" not in module.name:
            found.append(module.name)
    return found


@pytest.mark.parametrize("name", NAMES)
def test_a_public_name_has_an_example_and_names_its_parameters(name: str) -> None:
    thing = getattr(stoichkit, name)
    text = inspect.getdoc(thing) or ""
    assert text.strip().splitlines()[0].endswith((".", ":", "?")) or "\n\n" in text
    assert ">>>" in text, "no example"
    for parameter in parameters_of(thing):
        if parameter not in ("options", "args", "kwargs"):
            assert re.search(rf"(?<![\w.]){re.escape(parameter)}(?!\w)", text), parameter


@pytest.mark.parametrize("name", [n for n in NAMES if inspect.isfunction(getattr(stoichkit, n))])
def test_a_public_function_has_its_sections(name: str) -> None:
    thing = getattr(stoichkit, name)
    text = inspect.getdoc(thing) or ""
    if parameters_of(thing):
        assert "Parameters\n-----" in text
    assert "Returns\n-----" in text
    if re.search(r"^\s+raise ", inspect.getsource(thing), re.MULTILINE):
        assert "Raises\n-----" in text


@pytest.mark.parametrize("name", NAMES)
def test_quantities_have_units_in_their_names(name: str) -> None:
    if name not in READING_NAMES:
        assert not set(parameters_of(getattr(stoichkit, name))) & BARE


@pytest.mark.parametrize("name", own_modules())
def test_every_name_of_a_module_has_a_docstring(name: str) -> None:
    module = importlib.import_module(name)
    assert (module.__doc__ or "").strip()
    for one, thing in vars(module).items():
        own = getattr(thing, "__module__", "") == module.__name__ and not one.startswith("_")
        if own and (inspect.isfunction(thing) or inspect.isclass(thing)):
            assert (thing.__doc__ or "").strip(), one
