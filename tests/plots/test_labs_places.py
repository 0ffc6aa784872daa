"""Places of simulated labs, of groups, of readings and of ratios, on frames of round numbers."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from stoichkit.decision.evidence import Evidence
from stoichkit.planning.simulation import Counts
from stoichkit.plots import class_groups, decision, labs
from stoichkit.plots.class_groups import ClassGroupsPicture, GroupRow
from stoichkit.plots.class_line import ClassLinePicture, GroupSpot
from stoichkit.plots.decision import Spot
from stoichkit.plots.labs import Dot, LabRay, LabsPicture
from stoichkit.plots.look import BAR, GREY, GRID, INK, MEAN, PALE, SMALL, TRIAL, WHITE
from stoichkit.plots.plane import Across, Plane
from stoichkit.plots.ratio import RatioPicture, _interval
from stoichkit.plots.rays import Ray
from stoichkit.plots.scene import Ellipse, Line, Mark, Polygon, Words
from stoichkit.plots.writing import number, text_width
from stoichkit.uncertainty.ratio_set import Interval

from .places import FRAME, ends, of_kind

NAN, INF = math.nan, math.inf


# -- simulated labs ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("values", "edges"),
    [
        ([0.0, 5.0], (0, 10)), ([0.0, 10.0], (0, 10)), ([0.0, 10.1], (0, 20)),
        ([1.0, 41.0], (0, 80)), ([-0.05, 5.0], (0, 10)), ([-0.06, 5.0], (-2.5, 10)),
        ([-2.5, 5.0], (-2.5, 10)), ([-2.6, 5.0], (-5, 10)), ([-10.0, 5.0], (-10, 10)),
        ([-15.0, 5.0], (-15, 20)), ([-15.1, 5.0], (-20, 20)), ([-3.0, -1.0], (-5, 10)),
    ],
)  # fmt: skip
def test_edges_are_doubled_and_go_below_zero_by_quarters(
    values: list[float], edges: tuple[float, float]
) -> None:
    """10 is wanted; up to 0.005 of it below zero is not seen."""
    assert labs._edges(np.array(values), 10.0) == pytest.approx(edges)


def test_a_mean_of_next_to_nothing_is_nothing() -> None:
    """A millionth of the distance at which dots are told apart."""
    assert labs._middle(np.array([2e-6]), 1.0) == 2e-6
    assert labs._middle(np.array([-2e-6]), 1.0) == -2e-6
    assert labs._middle(np.array([0.5e-6]), 1.0) == 0.0
    assert labs._middle(np.array([1.0, 2.0, 6.0]), 1.0) == 3.0


def test_dots_that_would_cover_one_another_are_one() -> None:
    """A picture of 400 by 800 has places 1 and 2 apart; the rarest verdict comes last."""
    across = np.array([10.0, 10.4, 30.0, 50.0, 10.2])
    up = np.array([20.0, 20.8, 60.0, 80.0, 20.0])
    kinds = ["right", "right", "right", "wrong", "none_fits"]
    found = labs._dots(across, up, kinds, (0.0, 400.0), (0.0, 800.0))
    assert found[0] == Dot(pytest.approx(10.2), pytest.approx(20.4), "right", 2)
    assert found[1] == Dot(30.0, 60.0, "right", 1)
    assert {one.kind for one in found[2:]} == {"wrong", "none_fits"}


def test_verdicts_of_labs_have_shapes_of_their_own() -> None:
    assert labs._mark("right", 10.0, 20.0, 3.0) == [Mark(10.0, 20.0, "circle", TRIAL, 3.0)]
    assert labs._mark("right", 10.0, 20.0, 1.7) == [Mark(10.0, 20.0, "circle", TRIAL, 2.0)]
    assert labs._mark("wrong", 10.0, 20.0, 3.0) == [Mark(10.0, 20.0, "diamond", MEAN, 5.0)]
    assert labs._mark("not_told_apart", 10.0, 20.0, 3.0) == [
        Ellipse((10.0, 20.0), (3.0, 0.0), (0.0, 3.0), GREY, 0.9)
    ]
    (square,) = labs._mark("cannot_be_judged", 10.0, 20.0, 3.0)
    assert square == Line(((7, 17), (13, 17), (13, 23), (7, 23), (7, 17)), GREY, 1.1)
    up, down = labs._mark("none_fits", 10.0, 20.0, 2.2)
    assert up == Line(((7.0, 17.0), (13.0, 23.0)), INK, 1.1)
    assert down == Line(((7.0, 23.0), (13.0, 17.0)), INK, 1.1)


def ray(ratio: float, name: str = "a") -> LabRay:
    return LabRay(name, name, ratio, ((ratio, 2.0), (ratio, 4.0)))


def simulated(*rays: LabRay, below: int = 0, truth: str = "a") -> LabsPicture:
    counts = Counts(right=6, wrong=1, not_told_apart=2, none_fits=1, cannot_be_judged=below)
    dots = (Dot(1.0, 2.0, "right", 6), Dot(3.0, 4.0, "wrong", 1))
    return LabsPicture("Cu", "Ag", truth, rays, dots, counts, (5.0, 10.0), (0.0, 10.0),
                       (0.0, 20.0), 0.95, "W.")  # fmt: skip


def test_larger_dots_stand_for_more_labs() -> None:
    """1.7 for one, growing as the root of their number, 9 at the most; 20 and 7 points a mmol."""
    data = simulated(ray(1.0))
    for count, size in ((4, 3.4), (25, 8.5), (29, 9.0), (400, 9.0)):
        (mark,) = data._dot(FRAME, Dot(5.0, 10.0, "right", count))
        assert isinstance(mark, Mark)
        assert (mark.x, mark.y, mark.size) == pytest.approx((150.0, 110.0, size))


def test_the_true_amounts_are_thick_ticks_inside_the_frame() -> None:
    assert simulated(ray(1.0))._expected(FRAME) == [
        Line(((150.0, 40.0), (150.0, 49.0)), INK, 2.4),
        Line(((50.0, 110.0), (59.0, 110.0)), INK, 2.4),
    ]


def test_up_to_four_candidates_have_dotted_lines_beside_their_rays() -> None:
    """A lab may lie 2 mmol (14 points) below the ray of ratio 1, and 4 (28) above it."""
    below, above, line = simulated(ray(1.0))._rays(FRAME)
    assert isinstance(below, Line)
    assert isinstance(above, Line)
    assert [*below.points[0], *below.points[1]] == pytest.approx([90.0, 40.0, 250.0, 96.0])
    assert [*above.points[0], *above.points[1]] == pytest.approx([50.0, 68.0, 250.0, 138.0])
    assert below[1:] == above[1:] == (PALE, 0.9, (1.5, 2.5))
    assert line == Line(((50.0, 40.0), (250.0, 110.0)), INK, 2.0)
    four = [ray(float(i), f"c{i}") for i in range(1, 5)]
    assert len([one for one in simulated(*four)._rays(FRAME) if one.dashes]) == 8  # type: ignore[union-attr]
    five = simulated(*four, ray(0.5), truth="c2")._rays(FRAME)
    assert not any(one.dashes for one in five)  # type: ignore[union-attr]
    assert [(one.ink, one.width) for one in five] == [(PALE, 1.0)] * 4 + [(INK, 2.0)]  # type: ignore[union-attr]


def test_labs_are_told_in_words() -> None:
    assert simulated(ray(1.0), ray(2.0, "b"), below=3).alt_text == (
        "Amounts plane with 7 simulated labs as dots; a is true: 5 mmol of Cu consumed and 10 mmol "
        "of Ag produced. The dots lie from 1 to 3 mmol across and from 2 to 4 mmol up, on 2 "
        "places. Each candidate is a ray through the origin with its mole ratio as slope: a 1, b "
        "2. Verdicts at 95 % coverage: 6 single out a (filled circles), 2 cannot tell (open "
        "circles), 1 fit no candidate (crosses), 1 single out a wrong candidate (diamonds), 3 "
        "cannot be judged (squares). W."
    )
    assert "squares" not in simulated(ray(1.0)).alt_text


def test_the_key_of_labs_counts_them() -> None:
    """Rows of 12.5 points; samples 6 and words 16 to the right of its edge."""
    items, height = simulated(ray(1.0))._key(60.0, 480.0)
    said = of_kind(items, Words)
    assert [one.text for one in said[:4]] == [
        "the true candidate is singled out: 6 of 10", "not told apart: 2 of 10",
        "none fits: 1 of 10", "a wrong one is singled out: 1 of 10",
    ]  # fmt: skip
    # both columns of 210 points hold their words: two rows, and the notes below
    assert [one.x for one in said[:4]] == [76.0, 286.0, 76.0, 286.0]
    notes = said[4:]
    assert height == (2 + len(notes)) * 12.5 + 4.0
    assert [one.y for one in said] == pytest.approx(
        [height - 10.0 - 12.5 * row for row in (0, 0, 1, 1, *range(2, 2 + len(notes)))]
    )
    assert " ".join(one.text for one in notes) == (
        "Larger marks stand for more labs. Thick ticks on the axes: the true amounts. Between its "
        "dotted lines a candidate is compatible at 95 %."
    )
    circle = of_kind(items, Mark)[0]
    assert (circle.x, circle.y, circle.size) == pytest.approx((66.0, said[0].y + 2.88, 3.0))
    one_column, _ = simulated(ray(1.0))._key(60.0, 271.0)
    assert {one.x for one in of_kind(one_column, Words)[:4]} == {76.0}
    from_edge, _ = simulated(ray(1.0))._key(60.0, 270.0)  # 210 or less: from 10 on
    assert {one.x for one in of_kind(from_edge, Words)[:4]} == {26.0}


def test_what_lies_below_zero_is_named_at_the_lower_right() -> None:
    below = replace(FRAME, x=(-2.0, 8.0))
    assert labs._below_zero(FRAME) == []
    *_, words = labs._below_zero(below)
    assert words == Words(246.0, 43.0, "shaded: below zero", SMALL, "end", ink=GREY)


# -- groups of a class ------------------------------------------------------------------------

AXIS = Across(100.0, 300.0, 0.0, 4.0)
"""50 points for each unit of the ratio."""


def row(
    ratio: float, *intervals: tuple[float, float], kind: str = "singled_out", name: str = "g",
    outlying: bool = False, slip: bool = False,
) -> GroupRow:  # fmt: skip
    return GroupRow(name, kind, ratio, intervals, outlying, slip)


def test_a_named_row_shows_its_set_with_ends_and_its_ratio() -> None:
    line, bar, low, high, mark = class_groups._row(row(2.0, (1.0, 3.0)), 50.0, AXIS, True, 13.0)
    assert line == Line(((100.0, 50.0), (300.0, 50.0)), GRID, 0.5)
    assert bar == Line(((150.0, 50.0), (250.0, 50.0)), BAR, 2.6)
    assert low == Line(((150.0, 47.0), (150.0, 53.0)), TRIAL, 1.0)
    assert high == Line(((250.0, 47.0), (250.0, 53.0)), TRIAL, 1.0)
    assert mark == Mark(200.0, 50.0, "circle", TRIAL, 3.4)
    grey = class_groups._row(row(2.0, (1.0, 3.0), kind="cannot_be_judged"), 50.0, AXIS, True, 13.0)
    assert [one.ink for one in grey[:4]] == [GRID, GRID, PALE, PALE]  # type: ignore[union-attr]


def test_a_set_that_goes_on_ends_in_a_tip_and_one_beyond_is_left_out() -> None:
    items = class_groups._row(row(2.0, (1.0, 5.0)), 50.0, AXIS, True, 13.0)
    (tip,) = of_kind(items, Polygon)
    assert tip.points == ((300.0, 46.5), (306.0, 50.0), (300.0, 53.5))
    assert len(of_kind(items, Line)) == 3  # the row, the bar and its lower end
    at_edge = class_groups._row(row(2.0, (1.0, 4.0)), 50.0, AXIS, True, 13.0)
    assert (len(of_kind(at_edge, Polygon)), len(of_kind(at_edge, Line))) == (0, 4)
    axis = Across(100.0, 300.0, 1.0, 5.0)
    for piece, count in (((5.1, 6.0), 1), ((0.0, 0.9), 1), ((5.0, 6.0), 3), ((0.0, 1.0), 3)):
        found = class_groups._row(row(NAN, piece), 50.0, axis, True, 13.0)
        assert len(of_kind(found, Line)) == count, piece


def test_a_ratio_beyond_the_axis_is_a_tip_that_points_to_it() -> None:
    (right,) = class_groups._row(row(4.1), 50.0, AXIS, False, 6.0)
    (left,) = class_groups._row(row(-0.1), 50.0, AXIS, False, 6.0)
    assert right == Polygon(((300.0, 46.5), (306.0, 50.0), (300.0, 53.5)), INK)
    assert left == Polygon(((100.0, 46.5), (94.0, 50.0), (100.0, 53.5)), INK)
    for ratio, x in ((4.0, 300.0), (0.0, 100.0)):
        (mark,) = class_groups._row(row(ratio), 50.0, AXIS, False, 6.0)
        assert mark == Mark(x, 50.0, "circle", TRIAL, 1.7)
    assert class_groups._row(row(NAN), 50.0, AXIS, False, 6.0) == []


def test_rows_of_a_strip_are_thinner_and_have_no_ends() -> None:
    """0.7 of their pitch, between 0.4 and 2."""
    for pitch, thick in ((2.0, 1.4), (0.2, 0.4), (6.0, 2.0)):
        bar, ring = class_groups._row(row(2.0, (1.0, 3.0), kind="not_told_apart"), 50.0, AXIS,
                                      False, pitch)[::2]  # fmt: skip
        assert isinstance(bar, Line)
        assert bar.width == pytest.approx(thick)
        assert ring == Ellipse((200.0, 50.0), (2.6, 0.0), (0.0, 2.6), TRIAL, 1.3)


def test_marks_of_groups_differ_in_shape() -> None:
    ground, ring = class_groups.group_mark("not_told_apart", 10.0, 20.0, 4.0)
    assert isinstance(ground, Polygon)
    assert (ends(ground), ground.fill) == (pytest.approx((6.6, 13.4, 16.6, 23.4)), WHITE)
    assert ring == Ellipse((10.0, 20.0), (4.0, 0.0), (0.0, 4.0), TRIAL, 1.3)
    (triangle,) = class_groups.group_mark("cannot_be_judged", 10.0, 20.0, 4.0)
    assert isinstance(triangle, Line)
    assert [*triangle.points[0], *triangle.points[1], *triangle.points[2]] == pytest.approx(
        [6.0, 17.2, 14.0, 17.2, 10.0, 24.0]
    )
    assert (triangle.ink, triangle.width) == (GREY, 1.3)
    up, down = class_groups.group_mark("none_fits", 10.0, 20.0, 4.0)
    assert up == Line(((6.0, 16.0), (14.0, 24.0)), INK, 1.5)
    assert down == Line(((6.0, 24.0), (14.0, 16.0)), INK, 1.5)
    area, edge, mark = class_groups.group_mark("singled_out", 10.0, 20.0, 4.0, outlying=True)
    corners = ((10.0, 12.5), (17.5, 20.0), (10.0, 27.5), (2.5, 20.0))
    assert area == Polygon(corners, WHITE)
    assert edge == Line((*corners, corners[0]), MEAN, 1.4)
    assert mark == Mark(10.0, 20.0, "circle", TRIAL, 4.0)
    assert len(class_groups.group_mark("not_told_apart", 0.0, 0.0, 4.0, outlying=True)) == 3


RAYS = (Ray("a", "a", 1.0, False, 0.001), Ray("b", "b", 2.0, True, 0.5))


def groups(*rows: GroupRow, named: bool = True, **more: Any) -> ClassGroupsPicture:
    counts = {kind: sum(one.kind == kind for one in rows) for kind, _ in class_groups._KEY}
    given = {"ratio": 2.0, "pooled": ((1.5, 2.5),), "x": (0.0, 4.0)} | more
    return ClassGroupsPicture("Cu", "Ag", 0.95, rows, named, RAYS, counts=counts, counted="C.",
                              **given)  # fmt: skip


def test_the_class_as_a_whole_is_a_thick_bar() -> None:
    """9 points high, below a line 1 below the groups, with a diamond at its ratio."""
    level, bar, mark, name = groups()._pooled(AXIS, 30.0, 44.0)
    assert level == Line(((100.0, 43.0), (300.0, 43.0)), GRID)
    assert isinstance(bar, Polygon)
    assert (ends(bar), bar.fill) == ((175.0, 225.0, 25.5, 34.5), TRIAL)
    assert mark == Mark(200.0, 30.0, "diamond", MEAN, 4.0)
    assert name == Words(94.0, pytest.approx(27.12), "the class", SMALL, "end", True)
    grey = groups(judged=False, pooled=((1.5, 9.0),), ratio=4.1)._pooled(AXIS, 30.0, 44.0)
    bar, tip = of_kind(grey, Polygon)
    assert (bar.fill, tip.fill) == (PALE, PALE)
    assert tip.points == ((300.0, 26.5), (306.0, 30.0), (300.0, 33.5))
    assert of_kind(grey, Mark) == []
    narrow = groups(pooled=((2.0, 2.01), (4.1, 5.0), (4.0, 4.0)))._pooled(AXIS, 30.0, 44.0)
    first, second = of_kind(narrow, Polygon)
    assert ends(first)[:2] == pytest.approx((200.25 - 0.75, 200.25 + 0.75))
    assert ends(second)[:2] == pytest.approx((299.25, 300.75))


def test_remarks_stand_beside_their_rows_or_apart_in_a_strip() -> None:
    places, said = [90.0, 88.0, 50.0], ["one", "two", ""]
    first, second = groups()._beside(places, said, 300.0)
    assert first == Words(307.0, pytest.approx(85.12), "two", SMALL)
    assert second == Words(307.0, pytest.approx(87.12), "one", SMALL)
    low, two, high, one = groups(named=False)._beside(places, said, 300.0)
    # 10 apart, and none above the highest place: 80 and 90
    assert low == Line(((300.0, 88.0), (305.0, 80.0)), MEAN, 0.6)
    assert high == Line(((300.0, 90.0), (305.0, 90.0)), MEAN, 0.6)
    assert two == Words(307.0, pytest.approx(77.12), "two", SMALL)
    assert one == Words(307.0, pytest.approx(87.12), "one", SMALL)


def test_remarks_name_the_group_in_a_strip() -> None:
    both = row(2.0, outlying=True, slip=True)
    assert groups()._remark(both) == "stands out, slip?"
    assert groups(named=False)._remark(both) == "g stands out, slip?"
    assert groups(named=False)._remark(row(2.0, slip=True)) == ""
    assert groups(named=False)._remark(replace(both, name="n" * 23)).startswith("n" * 21 + "… ")


@pytest.mark.parametrize(
    ("rows", "pooled", "found"),
    [
        ([row(1.5)], (), (0.94, 2.06)),  # 0.06 of 1 around both candidates
        ([row(2.9)], (), (0.886, 3.014)), ([row(3.0)], (), (0.88, 3.12)),
        ([row(3.1)], (), (0.88, 3.12)),  # beyond 1.5 times the largest ratio: up to there
        ([row(0.0)], (), (0.0, 2.12)), ([row(-1.0)], (), (0.94, 2.06)),
        ([row(NAN, (0.5, INF))], (), (0.35, 3.15)), ([row(1.5)], ((0.5, 2.5),), (0.38, 2.62)),
    ],
)  # fmt: skip
def test_the_axis_of_ratios_holds_the_candidates_and_what_is_near(
    rows: list[GroupRow], pooled: tuple[tuple[float, float], ...], found: tuple[float, float]
) -> None:
    assert class_groups._limits(rows, RAYS, pooled) == pytest.approx(found)


def test_an_axis_of_one_ratio_is_a_fifth_of_it() -> None:
    assert class_groups._limits([row(2.0)], RAYS[1:], ()) == pytest.approx((1.8, 2.2))


def test_notes_say_what_marks_are_missing() -> None:
    assert groups(row(2.0))._notes() == ""
    assert groups(row(2.0, (1.0, 3.0)), row(NAN))._notes() == (
        "Bars: mole ratios not excluded at 95 % coverage. Without a mark: nothing was consumed, so "
        "there is no ratio."
    )
    tip = "An arrow tip stands for a ratio beyond the axis."
    for ratio, said in ((4.1, tip), (-0.1, tip), (4.0, ""), (0.0, "")):
        assert groups(row(ratio))._notes() == said
    assert groups(row(2.0), named=False)._notes() == (
        "1 groups in order of their ratio, the smallest at the top."
    )
    assert groups(row(2.0), judged=False)._notes() == (
        "The class as a whole cannot be judged: its bar and the lines are grey."
    )


def test_the_pitch_of_a_strip_is_between_a_fifth_of_a_point_and_six() -> None:
    """420 points for all of them: 41 groups at 6, 100 at 4.2, and 4 more above."""
    for count, pitch in ((41, 6.0), (100, 4.2)):
        scene = groups(*[row(2.0)] * count, named=False).scene(480.0)
        circles = [m.y for m in of_kind(scene, Mark) if m.size == 1.7]
        assert circles[0] - circles[1] == pytest.approx(pitch)
    scene = groups(row(2.0), row(1.0)).scene(480.0)
    first, second = [m.y for m in of_kind(scene, Mark) if m.size == 3.4]
    assert first - second == 13.0


# -- the line through the groups --------------------------------------------------------------


def class_picture(
    *spots: GroupSpot, blank: bool = True, intercept: float = 4.0
) -> ClassLinePicture:
    band = ((0.0, 2.0, 6.0), (10.0, 11.0, 25.0))
    return ClassLinePicture("Cu", "Ag", 0.95, spots, RAYS, 1.4, intercept, 0.5, (2.0, 6.0), band,
                            blank, "W.", "V", (0.0, 10.0), (0.0, 20.0))  # fmt: skip


def spot(outlying: bool = False, name: str = "g", x: float = 5.0) -> GroupSpot:
    return GroupSpot(name, "singled_out", x, 10.0, 0.5, 2.0, outlying)


def test_a_group_has_bars_of_one_standard_uncertainty() -> None:
    """0.5 mmol is 10 points across, 2 mmol 14 up."""
    across, up, mark = class_picture(spot())._spot(FRAME, spot())
    assert across == Line(((140.0, 110.0), (160.0, 110.0)), TRIAL, 0.9)
    assert up == Line(((150.0, 96.0), (150.0, 124.0)), TRIAL, 0.9)
    assert mark == Mark(150.0, 110.0, "circle", TRIAL, 3.4)
    assert len(class_picture(*[spot()] * 60)._spot(FRAME, spot())) == 3
    assert class_picture(*[spot()] * 61)._spot(FRAME, spot()) == [
        Mark(150.0, 110.0, "circle", TRIAL, 2.0)
    ]


def test_a_group_that_stands_out_is_named_beside_its_mark() -> None:
    """9 to the right or, with less than the name and 12 to the edge, to the left; 11 below."""
    *_, name = class_picture(spot())._spot(FRAME, spot(True))
    assert name == Words(159.0, 99.0, "g", SMALL, "start", True)
    room = (200.0 - text_width("g", SMALL) - 12.0) / 20.0
    *_, name = class_picture(spot())._spot(FRAME, spot(True, x=room - 0.01))
    assert isinstance(name, Words)
    assert name.anchor == "start"
    *_, name = class_picture(spot())._spot(FRAME, spot(True, x=room + 0.01))
    assert name == Words(pytest.approx(50 + 20 * (room + 0.01) - 9), 99.0, "g", SMALL, "end", True)
    *_, name = class_picture(spot())._spot(FRAME, spot(True, "n" * 19))
    assert isinstance(name, Words)
    assert name.text == "n" * 17 + "…"


def test_the_blank_is_marked_where_the_line_meets_the_axis() -> None:
    """4 mmol, from 2 to 6: 68 points up, from 54 to 82; its words 14 below the upper edge."""
    interval, mark, pointer, words = class_picture()._intercept(FRAME)
    assert interval == Line(((50.0, 54.0), (50.0, 82.0)), MEAN, 3.0)
    assert mark == Mark(50.0, 68.0, "diamond", MEAN, 5.5)
    assert pointer == Line(((50.0, 68.0), (56.0, 82.0), (56.0, 166.0)), MEAN, 0.8)
    assert words == Words(60.0, 166.0, "blank 4.00 ± 0.50 mmol", SMALL, bold=True)
    *_, words = class_picture(blank=False)._intercept(FRAME)
    assert isinstance(words, Words)
    assert (words.text, words.bold) == ("blank 4.00 ± 0.50 mmol, not told from 0", False)
    _, mark, pointer, _ = class_picture(intercept=25.0)._intercept(FRAME)
    assert mark == Mark(50.0, 180.0, "diamond", MEAN, 5.5)
    assert isinstance(pointer, Line)
    assert pointer.points == ((50.0, 180.0), (56.0, 166.0), (56.0, 166.0))
    assert replace(class_picture(), band=())._intercept(FRAME) == []
    assert class_picture(intercept=NAN)._intercept(FRAME) == []


def test_the_line_and_its_band_stay_within_the_frame() -> None:
    (band,) = class_picture()._band(FRAME)
    assert isinstance(band, Polygon)
    assert band.points == ((50.0, 54.0), (250.0, 117.0), (250.0, 180.0), (50.0, 82.0))
    (line,) = class_picture()._line(FRAME)
    assert isinstance(line, Line)
    assert [*line.points[0], *line.points[1]] == pytest.approx([50.0, 68.0, 250.0, 166.0])
    assert (line.ink, line.width) == (MEAN, 2.0)


# -- readings ---------------------------------------------------------------------------------


def factor(*rays: Ray, intervals: tuple[Interval, ...] = (Interval(1.8, 2.3),)) -> float:
    """Of means 1 and 2 where only the second is uncertain, by 0.1: a ratio r is |2 − r| / 0.1."""
    found = SimpleNamespace(ratio_set=SimpleNamespace(intervals=intervals), coverage=0.95)
    return decision._factor(cast(Evidence, found), rays, (1.0, 2.0), (0.0, 0.0, 0.01))


def candidate(ratio: float, compatible: bool) -> Ray:
    return Ray("c", "c", ratio, compatible, 0.5)


def test_the_region_is_as_large_as_the_limits_say() -> None:
    """1.8 and 2.3 are 2 and 3 away, 2.5 on average; 1.959964 is the normal quantile (tables)."""
    assert factor() == pytest.approx(2.5)
    assert factor(intervals=(Interval(0.0, INF),)) == pytest.approx(1.959964, rel=1e-6)
    assert factor(intervals=(Interval(0.0, 2.3),)) == pytest.approx(3.0)
    assert factor(intervals=(Interval(2.0, 2.3),)) == pytest.approx(3.0)  # 2 is at no distance


def test_candidates_decide_on_which_side_of_the_region_they_are() -> None:
    """A millionth within it or beyond it, where the mean of both limits would say otherwise."""
    excluded, kept = candidate(2.2, False), candidate(1.73, True)
    assert factor(excluded) / 2.0 - 1 == pytest.approx(-1e-6, rel=1e-3)
    assert factor(kept) / 2.7 - 1 == pytest.approx(1e-6, rel=1e-3)
    assert factor(candidate(2.4, False), candidate(1.9, True)) == pytest.approx(2.5)
    assert factor(excluded, kept) == pytest.approx(2.5)  # no size would do for both


def test_a_region_crosses_the_rays_it_touches() -> None:
    """Half-widths 1 across and 2 up: at slope 0 it reaches from 4 to 8."""
    region = Spot("t", 3.0, 6.0, 1.0, 2.0, (1.0, 0.0), (0.0, 2.0))
    assert region.reach == (1.0, 2.0)
    # |6 − 3 r| ≤ √(r² + 4), which is equal at r = (18 ∓ √(324 − 256)) / 8 = 1.21922, 3.28078
    for ratio, crossed in ((1.2192, False), (1.2193, True), (3.2807, True), (3.2808, False)):
        assert region.crossed_by(ratio) is crossed


def test_a_region_has_the_size_of_its_covariance() -> None:
    """Variances 4 and 9 with a covariance of 3 mol²: 2 across, 1.5 along it, √6.75 beyond."""
    found = decision._spot("t", 5.0, 7.0, (4.0, 3.0, 9.0), 2.0)
    assert found.place == (5000.0, 7000.0)
    assert (found.consumed_u_mmol, found.produced_u_mmol) == (2000.0, 3000.0)
    assert found.u == pytest.approx((4000.0, 3000.0))
    assert found.v == pytest.approx((0.0, 2000.0 * math.sqrt(6.75)))
    assert decision._standard((4.0, 3.0, 9.0), 2.0) == pytest.approx(math.sqrt(13.0))
    assert decision._spot("t", 5.0, 7.0, (0.0, 0.0, 9.0), 2.0).u == (0.0, 0.0)


@pytest.mark.parametrize(
    ("place", "reach", "found"),
    [
        (5.0, 1.0, (0.0, 6.6)), (1.0, 2.0, (-1.16, 3.4)), (-4.0, 1.0, (-5.26, 2.15)),
        (0.0, 0.0, (0.0, 1.0)), (1.0, 1.0, (0.0, 2.2)),
    ],
)  # fmt: skip
def test_the_plane_begins_at_zero_or_a_little_below_what_is_less(
    place: float, reach: float, found: tuple[float, float]
) -> None:
    """A tenth above, 0.04 below; at least 0.3 of what is below zero lies above it."""
    one = Spot("t", place, 0.0, 1.0, 1.0, (reach, 0.0), (0.0, 0.0))
    assert decision._limits([one], 0) == pytest.approx(found)


def test_below_zero_is_named_where_there_is_room_for_the_words() -> None:
    """More than 11 points: they stand 9 in from the left and 3 up, 4 from the other edges."""
    for low, said in ((-11.0, 0), (-11.5, 1)):
        across = Plane(300.0, 200.0, 50.0, 250.0, 40.0, 180.0, (low, 200.0 + low), (0.0, 20.0), [])
        found = of_kind(decision._below_zero(across), Words)
        assert len(found) == said
        up = Plane(300.0, 200.0, 50.0, 250.0, 40.0, 180.0, (0.0, 10.0), (low, 140.0 + low), [])
        found += of_kind(decision._below_zero(up), Words)
        if said:
            assert found == [
                Words(59.0, 176.0, "below zero", SMALL, "end", False, GREY, 90.0),
                Words(246.0, 43.0, "below zero", SMALL, "end", False, GREY, 0.0),
            ]
    assert decision._below_zero(FRAME) == []


def test_samples_of_the_key_of_readings() -> None:
    """22 points wide, 2.88 above the baseline."""
    assert decision._sample("solid", 10.0, 50.0) == [Line(((10.0, 52.88), (32.0, 52.88)), INK, 1.8)]
    assert decision._sample("grey", 10.0, 50.0) == [Line(((10.0, 52.88), (32.0, 52.88)), PALE, 1.0)]
    (dashed,) = decision._sample("dashed", 10.0, 50.0)
    assert isinstance(dashed, Line)
    assert (dashed.ink, dashed.width, dashed.dashes) == (PALE, 1.0, (5.0, 3.0))
    for kind, ink, thick, size in (("circle", TRIAL, 0.9, 2.4), ("diamond", MEAN, 1.8, 4.0)):
        ring, mark = decision._sample(kind, 10.0, 50.0)
        assert ring == Ellipse((22.0, 52.88), (10.0, 0.0), (0.0, 4.5), ink, thick)
        assert mark == Mark(22.0, 52.88, kind, ink, pytest.approx(size))
        assert decision._sample(kind, 10.0, 50.0, judged=False)[1].ink == GREY  # type: ignore[union-attr]
    cell, mark = decision._sample("circle", 10.0, 50.0, cells=True)
    assert isinstance(cell, Polygon)
    assert ends(cell) == pytest.approx((12.0, 32.0, 48.38, 57.38))
    assert (cell.fill, cell.opacity, mark.x) == (TRIAL, 0.16, 22.0)  # type: ignore[union-attr]


def test_corners_where_an_outline_goes_straight_on_are_left_out() -> None:
    square = [(0.0, 0.0), (1.0, 0.0), (2.0, 0.0), (2.0, 2.0), (0.0, 2.0), (0.0, 1.0)]
    assert decision._corners(square) == ((0.0, 0.0), (2.0, 0.0), (2.0, 2.0), (0.0, 2.0))


# -- ratios -----------------------------------------------------------------------------------


def ratios(*intervals: Interval, estimate: float = 2.0, judged: bool = True) -> RatioPicture:
    return RatioPicture("Cu", "Ag", 0.95, "bounded", intervals, estimate, RAYS, 4.0, "W", judged)


@pytest.mark.parametrize(
    ("interval", "words"),
    [
        (Interval(0.0, INF), "0 or more"), (Interval(1.55, 2.45), "1.55 to 2.45"),
        (Interval(0.0, 2.45), "2.5 or less: these readings put no lower limit on it"),
        (Interval(1.55, INF), "1.6 or more: these readings put no upper limit on the ratio"),
        (Interval(1.5, 1.996), "1.500 to 1.996"), (Interval(5.0, 25.0), "5 to 25"),
    ],
)  # fmt: skip
def test_limits_have_digits_that_leave_the_candidates_on_their_side(
    interval: Interval, words: str
) -> None:
    """Two digits of the width (0.9: two decimals; 2.45: one); 1.996 would be 2.00 with two."""
    assert _interval(interval, RAYS) == words


def test_a_line_of_ratios_has_its_places() -> None:
    """12 points at each side of 424 leave 100 for each unit; the axis at 33, the bar at 74."""
    scene = ratios(Interval(1.5, 2.5)).scene(424.0)
    axis = next(one for one in of_kind(scene, Line) if one.points[0][1] == one.points[1][1] == 33.0)
    assert axis == Line(((12.0, 33.0), (412.0, 33.0)), INK, 1.0)
    (bar,) = of_kind(scene, Polygon)
    assert (ends(bar), bar.fill) == ((162.0, 262.0, 69.0, 79.0), BAR)
    sides = [one for one in of_kind(scene, Line) if one.width == 1.6]
    assert [one.points for one in sides] == [
        ((162.0, 66.0), (162.0, 82.0)), ((262.0, 66.0), (262.0, 82.0)),
    ]  # fmt: skip
    edges = [one.points for one in of_kind(scene, Line) if one.width == 0.9]
    assert edges == [((162.0, 69.0), (262.0, 69.0)), ((162.0, 79.0), (262.0, 79.0))]
    upright = [one.points for one in of_kind(scene, Line) if one.points[0][1] == 62.0]
    assert upright == [((112.0, 62.0), (112.0, 86.0)), ((212.0, 62.0), (212.0, 86.0))]
    (mark,) = of_kind(scene, Mark)
    assert mark == Mark(212.0, 58.0, "diamond", MEAN, 4.5)
    assert Line(((212.0, 74.0), (212.0, 58.0)), MEAN, 1.2) in scene.items
    words = {one.text: one for one in of_kind(scene, Words)}
    assert (words["estimate 2"].x, words["estimate 2"].y) == (212.0, 45.0)
    title = words["mole ratio n(Ag) / n(Cu)"]
    assert (title.x, title.y, title.anchor) == (212.0, 7.0, "middle")
    said = words["Mole ratios not excluded at 95 % coverage: W"]
    # names stand 86 + 9 + 9 + 4 up, 8 and a line of 12 above them
    assert (scene.height, said.x, said.y) == (128.0, 12.0, 116.0)
    assert scene.x_limits == pytest.approx((-0.12, 4.12))


def test_the_estimate_is_written_within_the_line() -> None:
    """Half of its words may lie to either side; beyond the end of the line it has an arrow."""
    half = text_width("estimate 0", SMALL) / 2
    words, _, mark = ratios(estimate=0.0)._estimate(12.0, 100.0, 412.0, 74.0)
    assert (words.x, mark.x) == (pytest.approx(12.0 + half), 12.0)  # type: ignore[union-attr]
    words, _, mark = ratios(estimate=4.0)._estimate(12.0, 100.0, 412.0, 74.0)
    assert (words.x, mark.x) == (pytest.approx(412.0 - half), 412.0)  # type: ignore[union-attr]
    (words,) = ratios(estimate=4.1)._estimate(12.0, 100.0, 412.0, 74.0)
    assert isinstance(words, Words)
    wide = text_width("estimate 4.1", SMALL) / 2
    assert (words.text, words.x) == ("estimate 4.1 →", pytest.approx(412.0 - wide - 8.0))
    (words,) = ratios(estimate=-0.5)._estimate(12.0, 100.0, 412.0, 74.0)
    assert words == Words(12.0, 45.0, "the estimate, −0.5, is below zero", SMALL, ink=GREY)
    _, line, mark = ratios(judged=False)._estimate(12.0, 100.0, 412.0, 74.0)
    assert (line.ink, mark.ink) == (GREY, GREY)  # type: ignore[union-attr]


def test_an_open_end_is_a_tip_and_words_beyond_it() -> None:
    bar, tip = of_kind(ratios(Interval(0.0, 4.1))._bars(12.0, 100.0, 412.0, 74.0), Polygon)
    assert ends(bar) == (12.0, 412.0, 69.0, 79.0)
    assert tip == Polygon(((412.0, 66.0), (420.0, 74.0), (412.0, 82.0)), TRIAL)
    items = ratios(Interval(0.0, 4.0))._bars(12.0, 100.0, 412.0, 74.0)
    assert len(of_kind(items, Polygon)) == 1
    assert [one.points[0][0] for one in of_kind(items, Line) if one.width == 1.6] == [412.0]
    wide = text_width("no upper limit", SMALL, bold=True)
    scene = ratios(Interval(1.0, INF)).scene(500.0)
    (said,) = [one for one in of_kind(scene, Words) if one.text == "no upper limit"]
    right = 500.0 - 12.0 - wide - 4.0
    assert (said.x, said.y) == pytest.approx((right + 10.0, 74.0 - 2.88))
    grey = ratios(Interval(1.0, INF), judged=False)._bars(12.0, 100.0, 412.0, 74.0)
    assert [one.fill for one in of_kind(grey, Polygon)] == [GRID, GREY]


@pytest.mark.parametrize(
    ("value", "text"),
    [(1.234e-5, "0.0000123"), (9.99e-6, "9.99e−06"), (1_234_567.0, "1234567"),
     (12_345_678.0, "1.23e+07"), (100.0, "100"), (1200.0, "1200")],
)  # fmt: skip
def test_very_small_and_very_large_numbers_have_powers(value: float, text: str) -> None:
    """From 10⁻⁵ to below 10⁷ a number is written out."""
    assert number(value) == text
