"""Defects that people would act on are planted one by one, and a named test notices each."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.studies.mutants import mutants_of
from tests.studies.mutation import arguments

ROOT = Path(__file__).parents[1]


@pytest.mark.skipif(not hasattr(os, "fork"), reason="each defect needs a forked process")
def test_every_planted_defect_is_noticed() -> None:
    """In a process of its own, which has not loaded the package."""
    command = [sys.executable, "-m", "tests.studies.planted"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


def test_arguments_are_about_mutants_that_are_there() -> None:
    """An argument for a fault that cannot be planted any more is taken out of the list."""
    found: dict[str, set[str]] = {}
    for module, words in arguments():
        if module not in found:
            found[module] = {one.words for one in mutants_of(module)}
        assert words in found[module], (module, words)
    assert all(text.strip() for text in arguments().values())
