"""The ratio set on a line: bounded, open, every ratio and empty, in numbers and in words."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from stoichkit.plots.look import BAR, TRIAL
from stoichkit.plots.ratio import RatioPicture
from stoichkit.plots.scene import Line, Polygon, Words
from stoichkit.plots.writing import text_width
from stoichkit.uncertainty.ratio_set import Interval

from .cases import NAMES, evidence


def picture(name: str) -> RatioPicture:
    return RatioPicture.of(evidence(name))


def texts(data: RatioPicture) -> list[str]:
    return [i.text for i in data.scene(480.0).items if isinstance(i, Words)]


@pytest.mark.parametrize(
    ("name", "kind", "words"),
    [
        ("copper-silver", "bounded", "1.92 to 2.24"),
        ("open", "no upper limit", "these readings put no upper limit on the ratio"),
        ("every ratio", "every ratio", "these readings put no limit on it"),
        ("empty", "empty", "none (this can only be when a mean amount is below zero)"),
    ],
)
def test_each_form_of_the_set_is_said_in_words(name: str, kind: str, words: str) -> None:
    data = picture(name)
    assert data.kind == kind
    assert words in data.words
    assert data.words in data.alt_text
    assert data.words in " ".join(texts(data))


@pytest.mark.parametrize("name", NAMES)
def test_written_limits_hold_exactly_the_compatible_candidates(name: str) -> None:
    data = picture(name)
    for interval in data.intervals:
        written = [t for t in data.words.replace(" to ", " ").split() if t[0].isdigit()]
        low = float(written[0]) if interval.low > 0 else 0.0
        high = float(written[-1]) if math.isfinite(interval.high) else math.inf
        for ray in data.rays:
            assert (low <= ray.at <= high) is ray.compatible


def test_what_cannot_be_judged_is_grey_and_says_so() -> None:
    data = picture("reversed")
    assert data.title.startswith("Not judged. Mole ratios that 95 % coverage would leave: 1.955")
    assert "These readings cannot be judged." in data.alt_text
    scene = data.scene(480.0)
    assert BAR not in {i.fill for i in scene.items if isinstance(i, Polygon)}
    assert TRIAL not in {i.ink for i in scene.items if isinstance(i, Line)}


def test_a_recovery_allowance_is_a_line_below_each_name() -> None:
    data = picture("recovery")
    ray = next(r for r in data.rays if r.compatible)
    assert ray.allowed is not None
    scene = data.scene(480.0)
    scale = (480.0 - 24.0) / data.end
    ends = [12.0 + scale * one for one in ray.allowed]
    drawn = [[x for x, _ in i.points] for i in scene.items if isinstance(i, Line)]
    assert any(xs == pytest.approx(ends) for xs in drawn if len(xs) == 2)
    assert "may have been recovered" in data.alt_text


@pytest.mark.parametrize(
    ("name", "arrow"), [("open", True), ("every ratio", True), ("eight", False)]
)
def test_open_end_is_an_arrow_with_words(name: str, arrow: bool) -> None:
    data = picture(name)
    scene = data.scene(480.0)
    tips = [i for i in scene.items if isinstance(i, Polygon) and len(i.points) == 3]
    assert bool(tips) is arrow
    assert ("no upper limit" in texts(data)) is arrow
    assert ("ends in an arrow" in data.alt_text) is arrow


def test_far_limit_is_cut_off_and_said() -> None:
    data = replace(picture("copper-silver"), intervals=(Interval(1.9, 5354.0),))
    assert "up to 5354" in texts(data)


def test_set_in_two_stretches_is_drawn_as_two_bars() -> None:
    data = replace(picture("copper-silver"), intervals=(Interval(0.0, 0.5), Interval(1.9, 2.1)))
    bars = [i for i in data.scene(480.0).items if isinstance(i, Polygon)]
    assert len(bars) == 2


def test_estimate_is_marked_or_the_reason_is_given() -> None:
    assert "estimate 2.068" in texts(picture("copper-silver"))
    assert any("is below zero" in t for t in texts(picture("empty")))
    assert any("not above zero" in t for t in texts(picture("every ratio")))
    assert any("not above zero" in t for t in texts(picture("negative")))


@pytest.mark.parametrize("name", NAMES)
def test_bar_is_where_the_set_is_and_ticks_where_the_candidates_are(name: str) -> None:
    data = picture(name)
    scene = data.scene(480.0)
    low, high = scene.x_limits

    def ratio_at(x: float) -> float:
        return low + (high - low) * x / scene.width

    bars = [i for i in scene.items if isinstance(i, Polygon) and len(i.points) == 4]
    assert len(bars) == len(data.intervals)
    for bar, interval in zip(bars, data.intervals, strict=True):
        xs = [ratio_at(p[0]) for p in bar.points]
        slack = 1.6 * (high - low) / scene.width
        assert min(xs) == pytest.approx(interval.low, abs=slack)
        assert max(xs) == pytest.approx(min(interval.high, data.end), abs=slack)
    upright = [
        ratio_at(i.points[0][0])
        for i in scene.items
        if isinstance(i, Line) and i.points[0][0] == i.points[-1][0] and i.width in (1.0, 1.8)
    ]
    for ray in data.rays:
        assert any(x == pytest.approx(ray.ratio, rel=1e-6) for x in upright)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("width", [480.0, 340.0])
def test_words_lie_within_the_picture(name: str, width: float) -> None:
    scene = picture(name).scene(width)
    for item in scene.items:
        if isinstance(item, Words):
            length = text_width(item.text, item.size, bold=item.bold)
            back = {"start": 0.0, "middle": 0.5, "end": 1.0}[item.anchor] * length
            end = item.x - back + length * math.cos(math.radians(item.angle))
            assert item.x - back >= -1, item
            assert end <= width + 3, item
            assert item.y >= 0
            assert item.y + item.size + length * math.sin(math.radians(item.angle)) <= (
                scene.height + 12
            )


def test_description_can_leave_the_candidates_out() -> None:
    data = picture("copper-silver")
    assert "copper(I)" in data.alt_text
    assert "copper(I)" not in data.summary
