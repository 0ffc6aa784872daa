"""The pages of the guide: their examples run, and they name what they rest on."""

from __future__ import annotations

import doctest
import re
from pathlib import Path

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
    root = Path(__file__).parents[2]
    named = {
        m for n in guide.pages() for m in re.findall(r"`([\w/.-]+\.(?:py|md))`", guide.page(n))
    }
    assert named
    assert all((root / one).is_file() for one in named), named


def test_what_was_measured_stands_in_the_records() -> None:
    root = Path(__file__).parents[2]
    rows = re.findall(r"^\| .+? \| (.+?) \| (`tests.+?) \|$", guide.page("limits"), re.MULTILINE)
    assert len(rows) == 7
    figures = []
    for said, where in rows:
        records = " ".join((root / one).read_text("utf-8") for one in re.findall("`(.+?)`", where))
        if "168" in said:
            records += (root / "tests/studies/calibration.md").read_text("utf-8")
        for figure in re.findall(r"\d[\d.,]*\d", said.split("1.1 of")[0]):
            assert re.search(rf"\b{re.escape(figure)}\b", records), (figure, where)
            figures.append(figure)
    assert len(figures) >= 8


def test_no_such_page() -> None:
    with pytest.raises(DataFileError, match="limits"):
        guide.page("../README")
