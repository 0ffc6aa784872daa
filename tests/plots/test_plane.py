"""Axes and planes of amounts on a frame of round numbers: 200 points across, 140 up."""

from __future__ import annotations

import math

import pytest

from stoichkit.plots.look import BODY, INK, SHADE, SMALL
from stoichkit.plots.plane import (
    Across,
    Plane,
    Tag,
    marks_below,
    marks_left,
    tag_labels,
    tick_labels,
    ticks,
    up_marks,
)
from stoichkit.plots.scene import Item, Line, Polygon, Words
from stoichkit.plots.writing import text_width

from .places import FRAME

BELOW = Plane(300.0, 200.0, 50.0, 250.0, 40.0, 180.0, (-2.0, 8.0), (-5.0, 15.0), [])


@pytest.mark.parametrize(
    ("low", "high", "most", "found"),
    [
        (0.0, 10.0, 6, [0, 2, 4, 6, 8, 10]), (0.0, 10.0, 5, [0, 5, 10]), (0.0, 1.0, 2, [0, 1]),
        (-1.0, 1.0, 5, [-1, -0.5, 0, 0.5, 1]), (3.2, 4.8, 4, [3.5, 4, 4.5]),
        (0.0, 0.012, 7, [0, 0.002, 0.004, 0.006, 0.008, 0.010, 0.012]),
        (5.0, 5.0, 7, [5.0]), (6.0, 5.0, 7, [6.0]), (0.0, math.inf, 7, [0.0]),
    ],
)  # fmt: skip
def test_round_numbers_along_an_axis(
    low: float, high: float, most: int, found: list[float]
) -> None:
    assert ticks(low, high, most=most) == pytest.approx(found)


@pytest.mark.parametrize(
    ("values", "labels"),
    [
        ([0, 2, 4], ["0", "2", "4"]), ([0, 0.5], ["0.0", "0.5"]), ([0, 0.05], ["0.00", "0.05"]),
        ([-1, 0], ["−1", "0"]), ([0, 20], ["0", "20"]), ([3.0], ["3"]), ([], []),
        ([0, 1e-6], ["0.000000", "0.000001"]), ([9_999_998, 9_999_999], ["9999998", "9999999"]),
    ],
)  # fmt: skip
def test_numbers_along_an_axis_have_the_same_decimals(
    values: list[float], labels: list[str]
) -> None:
    assert tick_labels(values) == labels


def test_an_axis_across() -> None:
    axis = Across(50.0, 250.0, -10.0, 10.0)
    assert [axis.at(v) for v in (-10, 0, 10, -99, 99)] == [50.0, 150.0, 250.0, 50.0, 250.0]
    assert [axis.beyond(v) for v in (-10.01, -10, 10, 10.01)] == [True, False, False, True]
    # 200 points have room for three numbers, 55 points each
    assert axis.ticks() == [(50.0, "−10"), (150.0, "0"), (250.0, "10")]
    assert len(Across(50.0, 250.0 + 20.0, 0.0, 3.0).ticks()) == 4
    assert len(Across(50.0, 90.0, 0.0, 1.0).ticks()) == 2
    assert up_marks((0.0, 20.0), 225.0) == [(0.0, "0"), (5.0, "5"), (10.0, "10"), (15.0, "15"),
                                            (20.0, "20")]  # fmt: skip
    assert len(up_marks((0.0, 20.0), 45.0)) == 3


def test_ticks_with_numbers_are_longer() -> None:
    long, text, short = marks_below([(60.0, "1"), (70.0, "")], 40.0)
    assert isinstance(long, Line)
    assert isinstance(short, Line)
    assert long.points == ((60.0, 40.0), (60.0, 36.0))
    assert short.points == ((70.0, 40.0), (70.0, 38.0))
    assert text == Words(60.0, 35.0 - SMALL, "1", SMALL, "middle")
    long, text, short = marks_left([(60.0, "1"), (70.0, "")], 50.0)
    assert isinstance(long, Line)
    assert isinstance(short, Line)
    assert long.points == ((50.0, 60.0), (46.0, 60.0))
    assert short.points == ((50.0, 70.0), (48.0, 70.0))
    assert isinstance(text, Words)
    assert (text.x, text.anchor) == (44.0, "end")
    assert text.y == pytest.approx(60.0 - 0.36 * SMALL)


def test_amounts_have_their_places() -> None:
    """Ten across are 200 points, twenty up 140: 20 and 7 points each."""
    assert FRAME.scale == (20.0, 7.0)
    assert FRAME.at(0.0, 0.0) == (50.0, 40.0)
    assert FRAME.at(5.0, 10.0) == (150.0, 110.0)
    assert BELOW.at(0.0, 0.0) == (90.0, 75.0)
    scene = FRAME.scene()
    assert scene.x_limits == pytest.approx((-2.5, 12.5))
    assert scene.y_limits == pytest.approx((-40 / 7, 160 / 7))


@pytest.mark.parametrize(
    ("slope", "offset", "start", "ends"),
    [
        (2.0, 0.0, -math.inf, ((50, 40), (250, 180))),  # from corner to corner
        (4.0, 0.0, -math.inf, ((50, 40), (150, 180))),  # out at the top, at 5
        (1.0, 5.0, -math.inf, ((50, 75), (250, 145))),
        (-1.0, 5.0, -math.inf, ((50, 75), (150, 40))),  # down to zero at 5
        (0.0, 10.0, 4.0, ((130, 110), (250, 110))), (2.0, 0.0, 5.0, ((150, 110), (250, 180))),
        (2.0, 30.0, -math.inf, None), (2.0, 0.0, 10.0, None), (1.0, -10.0, -math.inf, None),
    ],
)  # fmt: skip
def test_what_of_a_line_is_within_the_frame(
    slope: float, offset: float, start: float, ends: tuple[tuple[float, float], ...] | None
) -> None:
    found = FRAME.segment(slope, offset, start=start)
    if ends is None:
        assert found == ()
    else:
        assert [*found[0], *found[1]] == pytest.approx([*ends[0], *ends[1]])


def test_what_lies_below_zero_is_shaded() -> None:
    assert FRAME.shade(0) == FRAME.shade(1) == []
    (across,), (up,) = BELOW.shade(0), BELOW.shade(1)
    assert isinstance(across, Polygon)
    assert isinstance(up, Polygon)
    assert across.fill == up.fill == SHADE
    assert {x for x, _ in across.points} == {50.0, 90.0}
    assert {y for _, y in across.points} == {40.0, 180.0}
    assert {x for x, _ in up.points} == {50.0, 250.0}
    assert {y for _, y in up.points} == {40.0, 75.0}
    assert BELOW.zero_line(0).points == ((90.0, 40.0), (90.0, 180.0))
    assert BELOW.zero_line(1).points == ((50.0, 75.0), (250.0, 75.0))


def tag(ratio: float, text: str = "a") -> Tag:
    return Tag(ratio, text, False, INK, INK)


def test_rays_are_named_where_they_leave_the_frame() -> None:
    """Ratio 1 leaves at 10 up, 110 points; near the lower edge a name stays half its height in."""
    line, words = FRAME._names_aside([tag(1.0)])
    assert isinstance(line, Line)
    assert isinstance(words, Words)
    assert line.points == ((250.0, 110.0), (259.0, 110.0))
    assert (words.x, words.anchor) == (262.0, "start")
    assert words.y == pytest.approx(110.0 - 0.36 * BODY)
    line, _ = FRAME._names_aside([tag(0.0)])
    assert isinstance(line, Line)
    assert line.points == ((250.0, 40.0), (259.0, 40.0 + BODY / 2))
    first, _, second, _ = FRAME._names_aside([tag(1.0), tag(1.01)])
    assert isinstance(first, Line)
    assert isinstance(second, Line)
    assert second.points[1][1] - first.points[1][1] == pytest.approx(1.3 * BODY)


def test_names_above_a_frame_stand_level_or_aslant() -> None:
    def at(ratio: float) -> float:
        return 50.0 + ratio

    items, height, reach = tag_labels([tag(50.0, "abc"), tag(150.0, "abc")], at, 180.0, 50.0, 250.0)
    line, words = items[:2]
    assert isinstance(line, Line)
    assert isinstance(words, Words)
    assert line.points == ((100.0, 180.0), (100.0, 189.0))
    assert (words.x, words.y, words.anchor, words.angle) == (100.0, 192.0, "middle", 0.0)
    assert height == 9.0 + BODY + 4.0
    assert reach == pytest.approx(200.0 + tag(1.0, "abc").width / 2)
    items, _, _ = tag_labels([tag(50.0, "a" * 30), tag(60.0, "b" * 30)], at, 180.0, 50.0, 250.0)
    words = items[1]
    assert isinstance(words, Words)
    assert (words.anchor, words.angle) == ("start", 35.0)
    assert words.y == 180.0 + 9.0 + 2.0
    assert tag_labels([], at, 180.0, 50.0, 250.0) == ([], 0.0, 50.0)


def test_a_frame_leaves_room_for_numbers_foot_and_names() -> None:
    """27 points and the widest number at the left, 40 and the foot below, 6 above."""
    asked: list[float] = []

    def foot(left: float) -> tuple[list[Item], float]:
        asked.append(left)
        return [Words(left, 3.0, "foot", SMALL)], 15.0

    size = (300.0, 200.0)
    bare = Plane.fitted([], (0.0, 10.0), (0.0, 20.0), size, foot)
    widest = max(text_width(text, SMALL) for _, text in bare.marks)
    assert (bare.left, bare.right, bare.bottom, bare.top) == (27.0 + widest, 286.0, 55.0, 194.0)
    assert asked == [bare.left]
    assert bare.labels == []
    assert Plane.fitted([], (0.0, 10.0), (0.0, 20.0), size, foot, spare=20.0).right == 280.0
    aside, above = tag(1.0, "one"), tag(4.0, "four")  # at 10 across: 10 up, and 40, beyond 20
    both = Plane.fitted([aside, above], (0.0, 10.0), (0.0, 20.0), size, foot)
    assert both.right == pytest.approx(300.0 - (aside.width + 12.0 + 4.0))
    assert both.top == pytest.approx(200.0 - (9.0 + BODY + 4.0) - 6.0)
    texts = {one.text: one for one in both.labels if isinstance(one, Words)}
    assert set(texts) == {"one", "four"}
    assert texts["one"].x == pytest.approx(both.right + 12.0)
    # the ray of 4 leaves at 5 across, in the middle of the frame
    assert texts["four"].x == pytest.approx((both.left + both.right) / 2)
    bold = Plane.fitted([aside], (0.0, 10.0), (0.0, 20.0), size, foot, all_bold=True)
    assert bold.right < both.right
    edge = Plane.fitted([tag(2.0)], (0.0, 10.0), (0.0, 20.0), size, foot)  # into the corner
    assert edge.right < 286.0
    assert edge.top == 194.0


def test_slanting_names_that_reach_beyond_the_page_make_the_frame_narrower() -> None:
    tags = [tag(n, "a rather long name") for n in (2.05, 2.1, 2.2)]
    size = (300.0, 200.0)
    found = Plane.fitted(tags, (0.0, 10.0), (0.0, 20.0), size, lambda _: ([], 0.0))
    names = [one for one in found.labels if isinstance(one, Words)]
    assert {one.angle for one in names} == {35.0}
    for one, named in zip(names, tags[::-1], strict=True):
        assert one.x + 0.819 * named.width <= 300.0
    assert found.right < 286.0
