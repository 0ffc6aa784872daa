"""Agreement of a printed number with ours, in its digits."""

from __future__ import annotations

import pytest

from stoichkit.errors import ModelError
from stoichkit.reports.gallery import Comparison, comparison_table


@pytest.mark.parametrize(
    ("printed", "ours", "agrees", "matching", "rounded"),
    [
        ("0.300", 0.3004, True, 3, "0.300"),
        ("0.300", 0.3006, False, 2, "0.301"),
        ("22.4", 22.35, True, 3, "22.4"),
        ("-0.48", -0.4805, True, 2, "-0.48"),
        ("-0.48", 0.48, False, 0, "0.48"),
        ("1.5e-3", 0.00154, True, 2, "1.5e-3"),
        ("50000838", 50000838.4, True, 8, "50000838"),
        ("2.46e3", 2463.0, True, 3, "2.46e3"),
    ],
)
def test_digits(printed: str, ours: float, agrees: bool, matching: int, rounded: str) -> None:
    one = Comparison("what", printed, ours, "source")
    assert (one.agrees, one.matching) == (agrees, matching)
    assert one.rounded.lstrip("-") == rounded.lstrip("-")


def test_a_note_stands_beside_the_agreement() -> None:
    table = comparison_table("T", [Comparison("K", "1.3", 1.4, "s", "rounded first")])
    assert table.caption == "T: 0 of 1 in all printed digits"
    assert table.rows[0][3] == "1 digit; rounded first"


def test_what_is_no_number_is_refused() -> None:
    with pytest.raises(ModelError, match="not a number"):
        Comparison("what", "about 3", 3.0, "source")
    with pytest.raises(ModelError, match="`ours` is not a number"):
        Comparison("what", "3", float("nan"), "source")
