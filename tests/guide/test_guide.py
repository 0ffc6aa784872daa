"""The pages of the guide: their examples run, and they name what they rest on."""

from __future__ import annotations

import doctest
import re

import pytest

from stoichkit import guide
from stoichkit.errors import DataFileError


@pytest.mark.parametrize("name", guide.pages())
def test_examples_of_a_page_run(name: str) -> None:
    text = guide.page(name)
    test = doctest.DocTestParser().get_doctest(text, {}, name, name, 0)
    found = doctest.DocTestRunner(optionflags=doctest.ELLIPSIS).run(test)
    assert found.failed == 0
    assert found.attempted or name == "limits"


@pytest.mark.parametrize("name", guide.pages())
def test_a_page_has_one_title_and_headings_in_order(name: str) -> None:
    levels = [len(m) for m in re.findall(r"^(#+) ", guide.page(name), re.MULTILINE)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert set(levels) == {1, 2}


def test_files_that_a_page_names_exist() -> None:
    from pathlib import Path

    root = Path(__file__).parents[2]
    named = {
        m for n in guide.pages() for m in re.findall(r"`([\w/.-]+\.(?:py|md))`", guide.page(n))
    }
    assert named
    assert all((root / one).is_file() for one in named), named


def test_no_such_page() -> None:
    with pytest.raises(DataFileError, match="limits"):
        guide.page("../README")
