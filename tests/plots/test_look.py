"""Layout helpers and the palette."""

from __future__ import annotations

import re
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import TextPath

from stoichkit.plots import look
from stoichkit.plots.look import BODY
from stoichkit.plots.plane import spread, tick_labels, ticks
from stoichkit.plots.writing import clean, number, text_width, with_uncertainty, wrapped


@given(
    st.lists(st.floats(0, 100), max_size=30),
    st.floats(0.1, 20),
)
def test_spread_keeps_order_distance_and_bounds(wanted: list[float], gap: float) -> None:
    wanted = sorted(wanted)
    placed = spread(wanted, gap, 0.0, 100.0)
    assert len(placed) == len(wanted)
    room = min(gap, 100.0 / max(len(wanted) - 1, 1))
    assert all(b - a >= room - 1e-9 for a, b in pairwise(placed))
    assert all(-1e-9 <= p <= 100.0 + 1e-9 for p in placed)


def test_spread_leaves_alone_what_is_apart() -> None:
    assert spread([1.0, 5.0, 9.0], 2.0, 0.0, 10.0) == [1.0, 5.0, 9.0]


@given(st.floats(1e-9, 1e9), st.floats(0, 1), st.integers(2, 12))
def test_ticks_are_few_round_and_inside(span: float, part: float, most: int) -> None:
    low, high = -part * span, (1 - part) * span
    found = ticks(low, high, most=most)
    assert 1 <= len(found) <= most
    slack = 1e-6 * span
    assert all(low - slack <= v <= high + slack for v in found)
    labels = tick_labels(found)
    assert len(set(labels)) == len(labels)


@pytest.mark.parametrize(
    "text",
    [
        "copper(II)",
        "MgSO₄·12H₂O",
        "amount of Ag produced / mmol",
        "0.0025",
        "triprotic",
        "repeatability of crucible + residue (4 trials)",
        "WWWWW",
        "illicit",
        "no upper limit",
    ],
)
@pytest.mark.parametrize("bold", [False, True])
def test_estimated_widths_are_those_of_the_font_and_rather_wide(text: str, bold: bool) -> None:
    """Outside check: the outlines of DejaVu Sans as matplotlib lays them out."""
    font = FontProperties(family="DejaVu Sans", weight="bold" if bold else "normal")
    true = TextPath((0, 0), text, size=BODY, prop=font).get_extents().width
    assert 0.93 * true <= text_width(text, BODY, bold=bold) <= 1.5 * true + 2


def luminance(ink: str) -> float:
    """Relative luminance, WCAG 2.2 (W3C Recommendation, 2023), from memory."""
    parts = [int(ink[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_contrast_is_enough_for_words_and_lines() -> None:
    """WCAG 2.2 success criteria 1.4.3 (words, 4.5 to 1) and 1.4.11 (graphics, 3 to 1)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    for ink in (look.INK, look.GREY, look.TRIAL):
        assert contrast(ink, look.WHITE) >= 4.5
    assert contrast(look.GREY, look.SHADE) >= 4.5
    for ink in (look.PALE, look.TRIAL, look.MEAN):
        assert contrast(ink, look.WHITE) >= 3.0


def test_colours_are_written_in_one_place() -> None:
    folder = Path(look.__file__).parent
    for path in folder.glob("*.py"):
        if path.name != "look.py":
            found = re.findall(r"#[0-9a-fA-F]{6}", path.read_text("utf-8"))
            assert not found, (path.name, found)


def test_numbers_keep_sensible_digits() -> None:
    assert number(1234567.0) == "1234567"
    assert number(float("inf")) == "infinite"
    assert number(float("nan")) == "not defined"
    assert with_uncertainty(-1.0, 0.0321) == "−1.000 ± 0.032"
    assert with_uncertainty(2.0, 0.0) == "2"
    assert with_uncertainty(123.4, 25.0) == "123 ± 25"


def test_wrapping_never_loses_a_word() -> None:
    text = "one two three four averyverylongwordindeed five"
    assert " ".join(wrapped(text, 60.0, 9.0)) == text
    assert wrapped("", 60.0, 9.0) == []


def test_cleaning_gives_one_printable_line() -> None:
    assert clean("a\u202eb\ufffe\x1b c\n d") == "a�b�� c d"
    assert clean("abcdef", limit=4) == "abc…"
