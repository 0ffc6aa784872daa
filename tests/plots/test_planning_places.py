"""Places in the pictures of plans, worked out by hand from chances, masses and display steps."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest

from stoichkit.planning.outcomes import Chances
from stoichkit.plots.look import (
    BODY,
    DASHES,
    DIM,
    FAINT,
    GREY,
    GRID,
    INK,
    MEAN,
    PALE,
    REST,
    SHADE,
    SMALL,
    TRIAL,
    WHITE,
)
from stoichkit.plots.planning import (
    ChancesPicture,
    CurvesPicture,
    MapPicture,
    _bar,
    _curve_label,
    _Frame,
    _log_ticks,
    _out_to,
    _shade,
    sample_of,
)
from stoichkit.plots.scene import Item, Line, Mark, Polygon, Scene, Words

NAN = math.nan


def words_of(items: Scene | list[Item]) -> list[Words]:
    found = items.items if isinstance(items, Scene) else items
    return [item for item in found if isinstance(item, Words)]


def named(items: Scene | list[Item], text: str) -> Words:
    (found,) = [one for one in words_of(items) if one.text == text]
    return found


def lines(items: Scene | list[Item]) -> list[Line]:
    found = items.items if isinstance(items, Scene) else items
    return [item for item in found if isinstance(item, Line)]


def areas(items: Scene | list[Item]) -> list[Polygon]:
    found = items.items if isinstance(items, Scene) else items
    return [item for item in found if isinstance(item, Polygon)]


def marks(items: Scene | list[Item]) -> list[Mark]:
    found = items.items if isinstance(items, Scene) else items
    return [item for item in found if isinstance(item, Mark)]


def ends(area: Polygon) -> list[float]:
    """Return left, right, low and high of a box."""
    xs, ys = zip(*area.points, strict=True)
    return [min(xs), max(xs), min(ys), max(ys)]


# -- bars -------------------------------------------------------------------------------------

# "0.50" is 3 × 0.63 + 0.40 = 2.29 ems of 8 points: 18.32 points
WIDE = 18.32


def test_a_bar_is_divided_by_its_chances() -> None:
    """From 100 to 450: 0.5, 0.2, 0.2 and 0.1 of 350 points; a bar is 15 high, its words 2.88
    (0.36 of their size) below its middle."""
    items = _bar(Chances(0.5, 0.1, 0.2, 0.2), 100.0, 450.0, 47.5, 99.0)
    boxes = [one for one in areas(items) if one.points[2][1] - one.points[0][1] == 15.0]
    sides = ((100, 275), (275, 345), (345, 415), (415, 450))
    assert [ends(one) for one in boxes] == [pytest.approx([*s, 47.5, 62.5]) for s in sides]
    assert [one.fill for one in boxes] == [TRIAL, SHADE, WHITE, MEAN]
    said = words_of(items)
    assert [one.text for one in said] == ["0.50", "0.20", "0.20", "0.10"]
    assert [one.x for one in said] == pytest.approx([187.5, 310, 380, 432.5])
    assert {one.y for one in said} == {55.0 - 0.36 * 8.0}
    assert {(one.anchor, one.size) for one in said} == {("middle", SMALL)}
    assert [one.ink for one in said] == [WHITE, INK, INK, INK]
    grounds = [one for one in areas(items) if one.points[2][1] - one.points[0][1] == 10.0]
    assert [ends(one) for one in grounds] == [
        pytest.approx([310 - 10.16, 310 + 10.16, 50, 60]),
        pytest.approx([432.5 - 10.16, 432.5 + 10.16, 50, 60]),
    ]
    assert {one.fill for one in grounds} == {WHITE}


def test_a_part_too_short_for_its_words_has_none() -> None:
    """Six points more than the words are wide: 24.32."""
    for length, count in ((97.2, 0), (97.4, 1)):  # a quarter of it is 24.30, 24.35
        items = _bar(Chances(0.75, 0.0, 0.25, 0.0), 0.0, length, 0.0, -90.0)
        assert [one.text for one in words_of(items)].count("0.25") == count
    drawn = [areas(_bar(Chances(0.5, 0.0, 0.5, 0.0), 0.0, w, 0.0, -9.0)) for w in (0.8, 0.79)]
    assert [len(one) for one in drawn] == [2, 0]  # from 0.4 points on


@pytest.mark.parametrize(
    ("target", "middle"),
    [
        (187.5 - WIDE / 2 - 4.05, 187.5), (187.5 - WIDE / 2 - 3.95, (174.39 + 275) / 2),
        (187.5 + WIDE / 2 + 4.05, 187.5), (187.5 + WIDE / 2 + 3.95, (100 + 200.61) / 2),
        (190.0, 145.0), (185.0, 230.0),
    ],
)  # fmt: skip
def test_words_of_a_bar_keep_clear_of_the_target(target: float, middle: float) -> None:
    """Nearer than 4 points to it they go to the middle of the longer side of the part."""
    items = _bar(Chances(0.5, 0.0, 0.5, 0.0), 100.0, 450.0, 0.0, target)
    assert words_of(items)[0].x == pytest.approx(middle)


def test_each_verdict_has_a_way_of_its_own() -> None:
    for part, fill in (("right", TRIAL), ("none_fits", WHITE), ("cannot_be_judged", PALE)):
        area, edge = sample_of(part, 1.0, 9.0, 2.0, 6.0)
        assert area == Polygon(((1, 2), (9, 2), (9, 6), (1, 6)), fill)
        assert edge == Line(((1, 2), (9, 2), (9, 6), (1, 6), (1, 2)), INK, 0.8)
    area, middle, _ = sample_of("wrong", 1.0, 9.0, 2.0, 6.0)
    assert middle == Line(((1.0, 4.0), (9.0, 4.0)), INK, 0.8)
    assert isinstance(area, Polygon)
    assert area.fill == MEAN
    area, *slanting, _ = sample_of("not_told_apart", 0.0, 8.0, 0.0, 4.0)
    assert isinstance(area, Polygon)
    assert area.fill == SHADE
    # every 4 points, from −4 on (which would be a point only), each rising by 4
    assert slanting == [
        Line(((0.0, 0.0), (4.0, 4.0)), PALE, 0.7), Line(((4.0, 0.0), (8.0, 4.0)), PALE, 0.7),
    ]  # fmt: skip


# "if this is true": 10 narrow letters and 5 others, 10 × 0.40 + 5 × 0.63 = 7.15 ems of 9 points
HEAD = 64.35
WIDTH = 350.0 + HEAD + 20.0 + 46.0
LEFT, RIGHT = HEAD + 20.0, HEAD + 370.0


def chances(*found: tuple[str, Chances], target: float = 0.9, width: float = WIDTH) -> Scene:
    return ChancesPicture.of(found, target).scene(width)


def test_rows_of_chances_have_their_places() -> None:
    """An axis of 350 points at 44, two rows of 22 above it up to 88, the target 3 higher."""
    scene = chances(("a", Chances(0.9, 0.02, 0.05, 0.03)), ("b", Chances(0.8, 0.1, 0.06, 0.04)))
    axis = next(t for t in lines(scene) if t.points[0][1] == t.points[1][1] == 44.0)
    assert [x for x, _ in axis.points] == pytest.approx([LEFT, RIGHT])
    assert axis[1:] == (INK, 1.0, None)
    for i in range(6):
        one = named(scene, f"{i / 5:.1f}")
        assert (one.x, one.y) == pytest.approx((LEFT + 70.0 * i, 31.0))
        tick = next(t for t in lines(scene) if t.points[0] == pytest.approx((one.x, 44.0)))
        assert tick.points[1] == pytest.approx((one.x, 40.0))
    title = named(scene, "chance of each verdict")
    assert (title.x, title.y, title.anchor) == (pytest.approx(LEFT + 175.0), 8.0, "middle")
    at = LEFT + 315.0
    white, dark = [t for t in lines(scene) if t.width in (3.0, 1.4)]
    for one, look in ((white, (WHITE, 3.0, None)), (dark, (INK, 1.4, DASHES))):
        assert one[1:] == look
        assert [*one.points[0], *one.points[1]] == pytest.approx([at, 44.0, at, 91.0])
    target = named(scene, "target 0.9")
    assert (target.x, target.y, target.anchor, target.bold) == (
        pytest.approx(at), 93.0, "middle", True,
    )  # fmt: skip
    right = named(scene, "right")
    assert (right.x, right.y, right.anchor, right.ink) == (WIDTH - 4.0, 93.0, "end", GREY)
    head = named(scene, "if this is true")
    assert (head.x, head.y, head.anchor) == (pytest.approx(LEFT - 6.0), 93.0, "end")
    # rows from 66 to 88 and from 44 to 66: bars 3.5 in, words 3.24 below their middle
    for name, middle in (("a", 77.0), ("b", 55.0)):
        one = named(scene, name)
        assert (one.x, one.y) == pytest.approx((LEFT - 6.0, middle - 0.36 * 9))
        assert one.size == BODY
    boxes = [one for one in areas(scene) if one.fill == TRIAL][:2]
    assert [ends(one) for one in boxes] == [
        pytest.approx([LEFT, LEFT + 315.0, 69.5, 84.5]),
        pytest.approx([LEFT, LEFT + 280.0, 47.5, 62.5]),
    ]
    shown = [one for one in words_of(scene) if one.x == pytest.approx(RIGHT + 5.0)]
    assert [(one.text, one.bold, one.anchor) for one in shown] == [
        ("0.90", True, "start"), ("0.80", False, "start"),
    ]  # fmt: skip


def test_the_key_stands_above_the_bars() -> None:
    """One row is 14 points and 6 around; the lower edge of the key is 16 above the rows."""
    one = chances(("a", Chances(0.9, 0.02, 0.05, 0.03)))
    said = [named(one, text) for text in ("not told apart", "none fits")]
    rows = len({item.y for item in words_of(one) if item.y > 80.0})
    assert one.height == 66.0 + 16.0 + 14.0 * rows + 6.0
    assert {item.y for item in said} <= {one.height - 8.0 - 4.0 - 14.0 * i for i in range(rows)}
    first = named(one, "the true one is singled out")
    assert (first.x, first.y) == (12.0 + 23.0, one.height - 12.0)
    sample = next(a for a in areas(one) if a.points[0][0] == 12.0)
    assert ends(sample) == [12.0, 30.0, one.height - 13.0, one.height - 5.0]


def test_what_cannot_be_judged_is_in_the_key_from_half_a_thousandth_on() -> None:
    for share, there in ((4.9e-4, False), (5e-4, True)):
        scene = chances(("a", Chances(0.9, 0.02, 0.05, 0.03 - share, share)))
        assert ("cannot be judged" in {one.text for one in words_of(scene)}) is there


def test_long_names_take_a_third_of_the_width_and_the_target_stays_inside() -> None:
    scene = chances(("a" * 22, Chances(0.9, 0.0, 0.1, 0.0)), target=1.0, width=200.0)
    axis = next(t for t in lines(scene) if t.points[0][1] == t.points[1][1] == 44.0)
    assert axis.points == ((90.0, 44.0), (154.0, 44.0))  # 0.35 of 200, and 20; 46 at the right
    # "target 1" is 4 × 0.63 + 4 × 0.40 = 4.12 ems of 8 points, of which half is 16.48
    assert named(scene, "target 1").x == pytest.approx(154.0 - 16.48)


# -- logarithmic axes -------------------------------------------------------------------------


def test_an_axis_of_powers_has_numbers_at_one_two_and_five() -> None:
    found = _log_ticks(0.5, 30.0)
    assert [value for value, _ in found] == pytest.approx(
        [0.5, 0.6, 0.7, 0.8, 0.9, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 20, 30]
    )
    assert [text for _, text in found if text] == ["0.5", "1", "2", "5", "10", "20"]
    # over more than three powers (−1 to 3 here) only at one
    assert [text for _, text in _log_ticks(0.5, 200.0) if text] == ["1", "10", "100"]
    assert [text for _, text in _log_ticks(1.0, 1000.0) if text][:3] == ["1", "2", "5"]
    assert [value for value, _ in _log_ticks(0.1, 1.0)][::9] == pytest.approx([0.1, 1.0])


def test_masses_have_their_places_on_a_scale_of_powers() -> None:
    frame = _Frame(50.0, 250.0, 40.0, 180.0, 1.0, 100.0)
    assert [frame.x(m) for m in (1.0, 10.0, 100.0)] == pytest.approx([50.0, 150.0, 250.0])
    assert frame.up("t") == Words(13.0, 110.0, "t", 9.0, "middle", angle=90.0)
    assert _out_to((0.0, 10.0), (50.0, 250.0), 300.0) == pytest.approx((-2.5, 12.5))


@pytest.mark.parametrize(
    ("level", "x", "y"),
    [(90.0, 100.0, 100.0), (100.0, 100.0, 100.0), (100.5, 236.24, 170.0), (175.0, 236.24, 170.0),
     (45.0, 63.76, 50.0)],
)  # fmt: skip
def test_a_curve_is_named_where_it_reaches_a_level(level: float, x: float, y: float) -> None:
    """ "0.1 g" is 3 × 0.63 + 2 × 0.40 = 2.69 ems of 8 points: 10.76 and 2 to either side of its
    place, and one more to the frame from 50 to 250."""
    frame = _Frame(50.0, 250.0, 40.0, 180.0, 1.0, 100.0)
    points = [(52.0, 50.0), (100.0, 100.0), (249.0, 170.0)]
    ground, words = _curve_label(points, level, "0.1 g", frame)
    assert isinstance(ground, Polygon)
    assert isinstance(words, Words)
    assert ends(ground) == pytest.approx([x - 12.76, x + 12.76, y - 5.0, y + 6.0])
    assert (words.x, words.y) == pytest.approx((x, y - 2.88))
    assert (words.anchor, words.bold, ground.fill) == ("middle", True, WHITE)


def test_shades_go_from_dark_to_white() -> None:
    assert [_shade(i, 5) for i in range(5)] == [REST, DIM, FAINT, SHADE, WHITE]
    assert [_shade(i, 3) for i in range(3)] == [REST, SHADE, WHITE]
    assert [_shade(i, 2) for i in range(2)] == [REST, WHITE]


# -- curves and map ---------------------------------------------------------------------------

MASSES, STEPS = np.array([0.1, 1.0, 10.0]), np.array([0.01, 0.1])
ROWS = np.array([[0.1, 0.6, 0.95], [0.25, 0.3, 0.9]])
MARKED = ((0.01, 1.0), (0.1, NAN))


def curves(marked: tuple[tuple[float, float], ...] = MARKED, trials: int = 1) -> CurvesPicture:
    return CurvesPicture("Cu", MASSES, STEPS, ROWS, 0.9, trials, marked, None, "W.")


def area(
    marked: tuple[tuple[float, float], ...] = MARKED,
    planned: tuple[float, float] | None = (1.0, 0.1),
    target: float = 0.9,
) -> MapPicture:
    return MapPicture("Cu", MASSES, STEPS, ROWS, target, 2, marked, planned, "W.")


def test_curves_have_their_places() -> None:
    """Across 46 to 464, a power of ten is 209; up 40 to 264, of which a chance of 1 is 216."""
    scene = curves().scene(480.0, 290.0)
    assert (scene.width, scene.height) == (480.0, 290.0)
    head = named(scene, "Chance of a right conclusion for the hardest candidate, 1 trial")
    assert (head.x, head.y, head.bold) == (12.0, 277.0, True)
    axis = named(scene, "mass of Cu to react in each trial / g")
    assert (axis.x, axis.y, axis.anchor) == (255.0, 12.0, "middle")
    up = named(scene, "chance of a right conclusion")
    assert (up.x, up.y, up.angle) == (13.0, 152.0, 90.0)
    assert Line(((46.0, 264.0), (464.0, 264.0), (464.0, 40.0)), GRID, 0.8) in lines(scene)
    assert Line(((46.0, 264.0), (46.0, 40.0), (464.0, 40.0)), INK, 1.0) in lines(scene)
    for i in range(6):
        text = f"{i / 5:.1f}"
        one = next(w for w in words_of(scene) if w.text == text and w.anchor == "end")
        assert (one.x, one.y) == pytest.approx((40.0, 40.0 + 43.2 * i - 2.88))
    for text, x in (("0.1", 46.0), ("1", 255.0), ("10", 464.0)):
        one = named(scene, text)
        assert (one.x, one.y) == pytest.approx((x, 27.0))
    (target,) = [one for one in lines(scene) if one.dashes == DASHES]
    assert [*target.points[0], *target.points[1]] == pytest.approx([46.0, 234.4, 464.0, 234.4])
    assert (target.ink, target.width) == (MEAN, 1.0)
    said = named(scene, "target 0.9")
    assert (said.x, said.y, said.bold) == (50.0, pytest.approx(237.4), True)
    first, second = [one for one in lines(scene) if one.ink == TRIAL]
    assert [p[0] for p in first.points] == pytest.approx([46.0, 255.0, 464.0])
    assert [p[1] for p in first.points] == pytest.approx([61.6, 169.6, 245.2])
    assert [p[1] for p in second.points] == pytest.approx([94.0, 104.8, 234.4])
    assert (first[2:], second[2:]) == ((2.0, None), (1.6, (7.0, 2.5)))
    (mark,) = marks(scene)  # of the first balance alone: the other one never reaches the target
    assert (mark.x, mark.y) == pytest.approx((255.0, 169.6))
    assert (mark.shape, mark.ink, mark.size) == ("diamond", INK, 4.0)
    assert named(scene, "0.01 g").x == pytest.approx(255.0)  # 0.30 is first met by 0.6
    assert named(scene, "0.1 g").y == pytest.approx(234.4 - 2.88)  # 0.52 by 0.9


def test_balances_are_named_at_three_heights_in_turn_and_five_are_shown() -> None:
    """A curve of four chances: at 0.30, 0.52, 0.70, and at 0.30 again."""
    masses, row = np.array([0.1, 1.0, 10.0, 100.0]), np.array([0.0, 0.3, 0.6, 0.8])
    steps = np.array([0.001, 0.01, 0.1, 1.0, 2.0, 5.0])
    marked = tuple((float(step), NAN) for step in steps)
    data = CurvesPicture("Cu", masses, steps, np.tile(row, (6, 1)), 0.9, 1, marked, None, "W.")
    scene = data.scene(480.0, 290.0)
    texts = ("0.001 g", "0.01 g", "0.1 g", "1 g", "2 g")
    heights = [named(scene, text).y + 2.88 for text in texts]
    assert heights == pytest.approx([40 + 216 * c for c in (0.3, 0.6, 0.8, 0.3, 0.6)])
    assert "5 g" not in {one.text for one in words_of(scene)}
    looks = [(one.width, one.dashes) for one in lines(scene) if one.ink == TRIAL]
    assert looks == [
        (2.0, None), (1.6, (7.0, 2.5)), (1.6, (2.0, 2.0)), (1.0, None), (1.0, (5.0, 5.0)),
    ]  # fmt: skip


def test_curves_are_told_at_five_masses() -> None:
    """The least, those after a quarter, a half and three quarters of the row, and the largest."""
    masses = np.array([1.0, 2, 3, 4, 5, 6, 7, 8])
    row = np.array([0.11, 0.2, 0.33, 0.4, 0.55, 0.6, 0.77, 0.88])
    data = CurvesPicture("Cu", masses, STEPS, np.array([row, row]), 0.9, 2, ((0.1, NAN),), None,
                         "W.")  # fmt: skip
    assert data.alt_text == (
        "Curves: chance of a right conclusion for the hardest candidate against the mass of Cu to "
        "react, 1 to 8 g, with 2 trials; one curve for each balance; target 0.9 as a dashed line. "
        "Read to 0.1 g: 0.11 at 1 g, 0.33 at 3 g, 0.55 at 5 g, 0.77 at 7 g, 0.88 at 8 g. W."
    )


def test_the_nearest_balance_of_the_map_gives_the_curve() -> None:
    """On a scale of powers: 0.03 lies nearer to 0.01 and 0.033 nearer to 0.1 (√0.001 = 0.0316)."""
    assert curves()._row(0.03).tolist() == ROWS[0].tolist()
    assert curves()._row(0.033).tolist() == ROWS[1].tolist()


def test_a_map_has_its_places() -> None:
    """Across 58 to 422, 182 for each power of ten; two balances share the height up to 304."""
    scene = area().scene(480.0, 330.0)
    frame = next(one for one in lines(scene) if one.width == 1.0 and len(one.points) == 3)
    (left, top), (_, bottom), (right, _) = frame.points
    assert (left, right, top) == (58.0, 422.0, 304.0)
    key_rows = {one.y for one in words_of(scene) if one.y < bottom - 30.0}
    assert bottom == 40.0 + 12.0 * len(key_rows) + 4.0
    half = (top - bottom) / 2
    cells = [one for one in areas(scene) if one.points[0][1] >= bottom]
    # edges half-way on the scale of powers: 0.1, 0.316, 3.16 and 10 g; 0.5 points overlap
    low, high = bottom, bottom + half
    assert [(one.fill, ends(one)) for one in cells] == [
        (REST, pytest.approx([58.0, 149.0, low, high + 0.5])),  # 0.1
        (FAINT, pytest.approx([149.0, 331.0, low, high + 0.5])),  # 0.6
        (DIM, pytest.approx([58.0, 331.0, high, top])),  # 0.25 and 0.3; 0.9 is white
    ]
    # 0.9 lies 0.3 of 0.35 between 0.6 at 1 g and 0.95 at 10 g; on the other row at 10 g
    (contour,) = [one for one in lines(scene) if one.width == 2.2]
    wanted = [240.0 + 182.0 * 0.3 / 0.35, low + half / 2, 422.0, high + half / 2]
    assert [*contour.points[0], *contour.points[1]] == pytest.approx(wanted)
    fine, coarse = [one for one in lines(scene) if one.dashes]
    for one, y, text in ((fine, wanted[1], "0.01 g"), (coarse, wanted[3], "0.1 g")):
        assert [*one.points[0], *one.points[1]] == pytest.approx([58.0, y, 422.0, y])
        assert one[1:] == (TRIAL, 1.2, DASHES)
        said = named(scene, text)
        assert (said.x, said.y) == pytest.approx((427.0, y - 2.88))
    circle, plan = marks(scene)[:2]
    assert (circle.x, circle.y) == pytest.approx((240.0, wanted[1]))
    assert circle[2:] == ("circle", TRIAL, 4.0)
    assert (plan.x, plan.y) == pytest.approx((240.0, wanted[3]))
    assert plan[2:] == ("diamond", MEAN, 6.0)
    for text, y in (("0.01", wanted[1]), ("0.1", wanted[3])):
        one = next(w for w in words_of(scene) if w.text == text and w.x == 52.0)
        assert one.y == pytest.approx(y - 2.88)
    up = named(scene, "readability of the balance / g")
    assert (up.x, up.y) == pytest.approx((13.0, (bottom + top) / 2))
    across, each = 2.0 / 364.0, 2.0 / (top - bottom)
    assert scene.x_limits == pytest.approx((-1 - 58 * across, 1 + 58 * across))
    assert scene.y_limits == pytest.approx((-2.5 - bottom * each, -0.5 + 26.0 * each))


def test_what_lies_off_the_map_is_left_out() -> None:
    """Display steps from 0.00316 to 0.316 g, masses from 0.1 to 10 g."""
    for planned, there in (
        ((0.1, 0.1), True), ((10.0, 0.1), True), ((0.09, 0.1), False), ((11.0, 0.1), False),
        ((1.0, 0.32), False), ((1.0, 0.31), True), ((1.0, 0.0031), False), ((1.0, 0.0032), True),
    ):  # fmt: skip
        found = marks(area((), planned).scene(480.0, 330.0))
        assert any(one.shape == "diamond" and one.size == 6.0 for one in found) is there
    for step, there in ((0.32, False), (0.31, True), (0.0031, False), (0.0032, True)):
        scene = area(((step, 1.0),), None).scene(480.0, 330.0)
        assert any(one.dashes for one in lines(scene)) is there
    assert "this plan" in {one.text for one in words_of(area().scene())}
    assert "this plan" not in {one.text for one in words_of(area((), None).scene())}


def test_levels_of_the_shade_keep_away_from_the_target() -> None:
    """By 0.02 at least, so that no band is too thin to be told."""
    assert area(target=0.9)._levels == [0.25, 0.5, 0.75, 0.9]
    assert area(target=0.76)._levels == [0.25, 0.5, 0.76]
    assert area(target=0.78)._levels == [0.25, 0.5, 0.75, 0.78]
    texts = [one.text for one in words_of(area(target=0.76).scene())]
    for text in ("below 0.25", "0.25 to 0.5", "0.5 to 0.76", "0.76 or more"):
        assert text in texts


def test_the_key_of_a_map_shows_its_shades_and_marks() -> None:
    scene = area().scene(480.0, 330.0)
    first = named(scene, "below 0.25")
    assert first.x == 30.0  # 12 at the left and 18 for the sample
    samples = [one for one in areas(scene) if one.points[0][1] < first.y + 1.0]
    assert ends(samples[0]) == pytest.approx([12.0, 26.0, first.y - 1.0, first.y + 8.0])
    assert [one.fill for one in samples] == [REST, DIM, FAINT, SHADE, WHITE]
    for text, ink in (("smallest mass enough on a balance at hand", TRIAL), ("this plan", MEAN)):
        said = named(scene, text)
        mark = next(one for one in marks(scene) if one.size == 4.0 and one.y == said.y + 3.0)
        found = [one for one in marks(scene) if one.y == said.y + 3.0 and one.ink == ink]
        assert [one.x for one in found] == pytest.approx([said.x - 11.0])
        assert mark.size == 4.0
    rows = sorted({one.y for one in words_of(scene) if one.y <= first.y}, reverse=True)
    assert all(a - b == 12.0 for a, b in pairwise(rows))


def test_a_map_is_told_in_words() -> None:
    assert area().alt_text == (
        "Map: across, mass of Cu to react, 0.1 to 10 g; up, readability of the balance, 0.01 g to "
        "0.1 g; both logarithmic; 2 trials. Shaded by the chance of a right conclusion for the "
        "hardest candidate: the darker, the smaller; white where it reaches the target, 0.9; a "
        "thick line at the target. The plan, 1 g on a balance read to 0.1 g, is a diamond. W."
    )
