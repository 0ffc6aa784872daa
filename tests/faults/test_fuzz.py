"""Every reader that is fuzzed takes its first texts and a few changes of them; see FUZZ.md."""

from __future__ import annotations

import os

import pytest

from tests.faults.fuzz import TARGETS, plain


@pytest.mark.parametrize("target", TARGETS)
def test_a_reader_refuses_what_it_cannot_read_and_nothing_else(target: str) -> None:
    here = os.getcwd()
    try:
        plain(target, len(TARGETS[target][1]) + (1 if target == "page" else 8))
    finally:
        os.chdir(here)  # command lines are tried in a folder of their own
