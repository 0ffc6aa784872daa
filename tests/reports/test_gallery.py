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
        ("22.4", 22.45, True, 3, "22.4"),  # half a unit of the last digit
        ("22.4", 22.4501, False, 2, "22.5"),
        ("1.5e-3", 0.00156, False, 1, "1.6e-3"),  # off by 4 %: 10^-1.4
        ("1.5e-3", 0.001551, False, 1, "1.6e-3"),
        ("0.0050", 0.00503, True, 2, "0.0050"),
        ("5", 5.4, True, 1, "5"),
        ("5", 5.6, False, 0, "6"),
        ("0.0", 0.04, True, 0, "0.0"),
        ("100", 100.3, True, 3, "100"),
        ("1e3", 1400.0, True, 1, "1e3"),
        ("−0.48", -0.4801, True, 2, "-0.48"),
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


def test_how_many_digits_agree_in_words() -> None:
    rows = [
        Comparison("a", "5", 5.4, "s"), Comparison("b", "5.0", 5.04, "s"),
        Comparison("c", "5", 5.6, "s"), Comparison("d", "5.0", 5.2, "s"),
        Comparison("e", "5.00", 5.01, "s", "from memory"),
    ]  # fmt: skip
    table = comparison_table("T", rows)
    assert [row[3] for row in table.rows] == [
        "its one digit", "all 2 digits", "0 digits", "1 digit", "2 digits; from memory",
    ]  # fmt: skip
    assert table.caption == "T: 2 of 5 in all printed digits"


def test_what_is_no_number_is_refused() -> None:
    with pytest.raises(ModelError, match="not a number"):
        Comparison("what", "about 3", 3.0, "source")
    with pytest.raises(ModelError, match="`ours` is not a number"):
        Comparison("what", "3", float("nan"), "source")
