"""Typed numbers and the pool of shared error sources."""

from __future__ import annotations

import contextlib
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stoichkit.errors import ReadingError
from stoichkit.uncertainty.readings import MAX_LENGTH, ErrorPool, parse_number
from stoichkit.uncertainty.sources import Shape, error_source


@pytest.mark.parametrize(
    ("text", "value", "decimals"),
    [
        ("20.10", 20.10, 2),
        ("20,10", 20.10, 2),
        ("1,234", 1.234, 3),
        ("20", 20.0, 0),
        ("20.", 20.0, 0),
        (".5", 0.5, 1),
        ("-0.03", -0.03, 2),
        ("−0,03", -0.03, 2),
        ("–0.03", -0.03, 2),
        ("+1.5", 1.5, 1),
        ("1.50e-3", 0.0015, 5),
        ("1,5E3", 1500.0, -2),
        ("1e−2", 0.01, 2),
        ("007.0", 7.0, 1),
        ("  2.3\t", 2.3, 1),
        ("\u00a02.3\u202f", 2.3, 1),
        ("0.000", 0.0, 3),
    ],
)
def test_accepted(text: str, value: float, decimals: int) -> None:
    reading = parse_number(text)

    assert reading.value == value
    assert reading.decimals == decimals
    assert reading.text == text


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "is empty"),
        (" \u00a0", "is empty"),
        ("1,234.5", "more than one decimal mark"),
        ("1.234,5", "more than one decimal mark"),
        ("1,234,567", "more than one decimal mark"),
        ("1.2.3", "more than one decimal mark"),
        ("1 234", "space inside"),
        ("12.3 g", "letters behind"),
        ("12.3g", "letters behind"),
        ("12e", "letters behind"),
        ("0x10", "letters behind"),
        ("1_000", "not a number"),
        ("nan", "not a number"),
        ("NaN", "not a number"),
        ("inf", "not a number"),
        ("-Infinity", "not a number"),
        (",", "not a number"),
        ("-", "not a number"),
        ("e5", "not a number"),
        ("--1", "not a number"),
        ("1+1", "not a number"),
        ("=1", "not a number"),
        ("25 °C", "not a number"),
        ("\uff11\uff12", "digits other than"),
        ("٣", "digits other than"),
        ("1²", "digits other than"),
        ("1e999", "too large or too small"),
        ("1e-999", "too large or too small"),
        ("1" * (MAX_LENGTH + 1), "too long"),
        ("__import__('os')", "not a number"),
    ],
)
def test_refused_with_a_reason(text: str, words: str) -> None:
    with pytest.raises(ReadingError, match=words) as caught:
        parse_number(text, "mass of the strip")

    assert "The mass of the strip" in str(caught.value)
    assert caught.value.allowed is not None or caught.value.fix is not None


def test_a_number_that_is_not_text_is_refused() -> None:
    """A float has already lost its last zeros."""
    with pytest.raises(ReadingError, match="in quotes"):
        parse_number(20.1)  # type: ignore[arg-type]


def test_zero_has_no_sign() -> None:
    assert str(parse_number("-0.00").value) == "0.0"


@given(st.integers(-(10**9), 10**9), st.integers(0, 6), st.sampled_from(".,"))
def test_fixed_point_round_trip(units: int, decimals: int, mark: str) -> None:
    value = units / 10**decimals
    text = f"{value:.{decimals}f}"

    reading = parse_number(text.replace(".", mark))

    assert reading.value == float(text)
    assert reading.decimals == decimals


@given(st.text(max_size=60))
def test_any_text_gives_a_finite_number_or_a_reading_error(text: str) -> None:
    with contextlib.suppress(ReadingError):
        assert math.isfinite(parse_number(text).value)


def test_long_text_is_quoted_only_in_part() -> None:
    with pytest.raises(ReadingError) as caught:
        parse_number("9" * 100_000)

    assert len(str(caught.value)) < 200


def test_pool_makes_a_source_once() -> None:
    made = []

    def make() -> object:
        made.append(error_source("zero", kind="calibration", shape=Shape.NORMAL, scale=1.0))
        return made[-1]

    pool = ErrorPool()

    assert pool.shared(("calibration", "a"), make) is pool.shared(("calibration", "a"), make)
    assert pool.shared(("calibration", "b"), make) is not made[0]
    assert len(made) == 2


def test_pools_are_independent() -> None:
    def make() -> object:
        return error_source("zero", kind="calibration", shape=Shape.NORMAL, scale=1.0)

    assert ErrorPool().shared("a", make) is not ErrorPool().shared("a", make)


def test_pool_keeps_a_made_value_that_is_false() -> None:
    pool = ErrorPool()
    assert pool.shared("exact", lambda: 0.0) == 0.0
    assert pool.shared("exact", lambda: 1.0) == 0.0
