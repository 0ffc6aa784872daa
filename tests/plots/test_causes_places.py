"""Places in the pictures of causes: 4 points for each per cent, or a frame of 200 by 140 points."""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any, cast

import pytest

from stoichkit.diagnosis.causes import Combination
from stoichkit.plots.causes import (
    CombinationPicture,
    EffectBar,
    EffectsPicture,
    _bar_items,
    _head,
    _kept,
    _lines,
    _reach,
    _sample,
    _short,
    _title,
)
from stoichkit.plots.look import BAR, BODY, GREY, GRID, INK, PALE, SHADE, SMALL, TRIAL, WHITE
from stoichkit.plots.plane import Across
from stoichkit.plots.scene import Line, Mark, Polygon, Words
from stoichkit.plots.writing import text_width

from .places import FRAME, ends, of_kind

ACROSS = Across(34.0, 474.0, 0.0, 110.0)
NAN, INF = math.nan, math.inf


def bar(
    kind: str = "possible", needed: float = 60.0, low: float = 50.0, high: float = 75.0,
    most: float = 100.0, *, name: str = "wet", of: str = "product", words: str = "possible: 1 g",
) -> EffectBar:  # fmt: skip
    return EffectBar(name, kind, needed, low, high, most, of, words)


def drawn(one: EffectBar) -> tuple[list[Any], list[Any], list[Any], list[Any]]:
    """Return filled boxes, white (hatched) boxes, tips and diamonds of a bar at 100 to 109."""
    items = _bar_items(one, 100.0, ACROSS)
    boxes = [p for p in of_kind(items, Polygon) if len(p.points) == 4]
    filled = [ends(p) for p in boxes if p.fill == TRIAL]
    hatched = [ends(p) for p in boxes if p.fill == WHITE]
    tips = [(p.points[1][0], p.fill) for p in of_kind(items, Polygon) if len(p.points) == 3]
    return filled, hatched, tips, [(m.x, m.y) for m in of_kind(items, Mark)]


def test_a_possible_range_is_filled_within_what_is_possible() -> None:
    filled, hatched, tips, exact = drawn(bar())
    assert filled == [(234.0, 334.0, 100.0, 109.0)]
    assert (hatched, tips) == ([], [])
    assert exact == [(274.0, 104.5)]
    ground = of_kind(_bar_items(bar(), 100.0, ACROSS), Polygon)[0]
    assert (ends(ground), ground.fill) == ((34.0, 434.0, 100.0, 109.0), SHADE)


def test_a_range_is_cut_where_no_more_is_possible() -> None:
    filled, hatched, _, _ = drawn(bar(most=60.0))
    assert filled == [(234.0, 274.0, 100.0, 109.0)]
    assert hatched == [(274.0, 334.0, 100.0, 109.0)]
    filled, hatched, _, _ = drawn(bar("too much", most=25.0))
    assert filled == []
    assert hatched == [(234.0, 334.0, 100.0, 109.0)]
    assert drawn(bar(most=75.0))[1] == []


def test_a_range_begins_at_nothing() -> None:
    filled, hatched, _, exact = drawn(bar("free", -5.0, -10.0, 50.0))
    assert filled == [(34.0, 234.0, 100.0, 109.0)]
    assert (hatched, exact) == ([], [])
    assert drawn(bar("free", 0.0, -10.0, 50.0))[3] == [(34.0, 104.5)]


def test_what_goes_on_beyond_the_axis_ends_in_a_tip() -> None:
    """Tips are 6 points long, from 1.5 beyond the axis, which ends at 474."""
    assert drawn(bar(high=110.0, needed=110.0))[2:] == ([], [(474.0, 104.5)])
    assert drawn(bar(high=110.5, needed=110.5, most=109.0))[2:] == ([(481.5, INK)], [])
    assert drawn(bar(most=110.0))[2] == []
    assert drawn(bar(most=110.5))[2] == [(481.5, PALE)]
    open_end = of_kind(_bar_items(bar(most=110.5), 100.0, ACROSS), Line)[0]
    assert open_end.points == [(474, 100), (34, 100), (34, 109), (474, 109)]
    shut = of_kind(_bar_items(bar(most=100.0), 100.0, ACROSS), Line)[0]
    assert shut.points == ((434, 100), (34, 100), (34, 109), (434, 109), (434, 100))


def test_the_wrong_direction_is_an_arrow_to_the_left() -> None:
    items = _bar_items(bar("wrong way", -30.0, -40.0, -20.0), 100.0, ACROSS)
    shaft = Line(((29.0, 104.5), (33.0, 104.5)), GREY, 1.4)
    assert shaft in items
    head = next(p for p in of_kind(items, Polygon) if len(p.points) == 3)
    assert head.points == ((29.0, 100.5), (22.0, 104.5), (29.0, 108.5))
    assert (head.fill, of_kind(items, Mark)) == (WHITE, [])
    edge = next(one for one in of_kind(items, Line) if one.width == 1.1)
    assert (edge.points, edge.ink) == ((*head.points, head.points[0]), GREY)


def test_what_is_not_known_has_no_range() -> None:
    for one in (bar(low=-INF), bar(high=INF), bar(low=NAN, high=NAN), bar(high=-1.0, low=-2.0)):
        assert drawn(one) == ([], [], [], [])
    for most in (NAN, 0.0):
        items = _bar_items(bar("unmoved", NAN, NAN, NAN, most), 100.0, ACROSS)
        assert items == []
    assert drawn(bar("free", 0.0, 0.0, 0.0))[0] == [(32.8, 35.2, 100.0, 109.0)]  # 2.4 at least


def test_a_narrow_range_is_made_wide_enough_to_be_seen() -> None:
    """2.4 points about its middle, 50.05 % at 234.2, and within the axis."""
    (found,), _, _, _ = drawn(bar(low=50.0, high=50.1))
    assert found == pytest.approx((233.0, 235.4, 100.0, 109.0))
    (found,), _, _, _ = drawn(bar(low=109.9, high=110.0, most=110.0))
    assert found == pytest.approx((471.6, 474.0, 100.0, 109.0))


def test_name_and_words_share_a_line_if_there_is_room() -> None:
    """Baselines are 8.8 points below the top of a line of 12; there are 10 at each side."""
    ground, name, words = _head(bar(), ["wet"], 200.0, 12.0, 492.0)
    assert isinstance(ground, Polygon)
    assert (ends(ground), ground.fill) == ((34.0, 482.0, 188.0, 200.0), WHITE)
    assert name == Words(38.0, pytest.approx(191.2), "wet", SMALL, bold=True, ink=INK)
    assert words == Words(482.0, pytest.approx(191.2), "possible: 1 g", SMALL, "end", ink=INK)
    ground, *names, words = _head(bar("too much"), ["w", "x"], 200.0, 36.0, 492.0)
    assert isinstance(ground, Polygon)
    assert ends(ground) == (34.0, 482.0, 164.0, 200.0)
    assert names == [
        Words(38.0, pytest.approx(y), text, SMALL, ink=GREY)
        for text, y in (("w", 191.2), ("x", 179.2))
    ]
    assert words == Words(38.0, pytest.approx(167.2), "possible: 1 g", SMALL, ink=GREY)
    *_, words = _head(bar(), ["w", "x"], 200.0, 24.0, 492.0)
    assert isinstance(words, Words)
    assert (words.x, words.y) == pytest.approx((482.0, 179.2))


def test_words_take_a_line_of_their_own_where_both_are_too_wide() -> None:
    """14 points lie between them, and 48 of the width are for margins, the zone and an edge."""
    both = text_width("wet", SMALL, bold=True) + text_width("possible: 1 g", SMALL) + 14.0
    assert _lines(["wet"], bar(), both + 48.1) == 1
    assert _lines(["wet"], bar(), both + 47.9) == 2
    assert _lines(["first", "wet"], bar(), both + 47.9) == 3


def test_effects_stand_below_one_another() -> None:
    """Of 100 % at the most the axis goes to 110 %: 440 points from 34 on if 492 are wide.

    A row is 12 for its words, 9 for the bar and 7 free.
    """
    data = EffectsPicture("X", False, (bar(high=100.0), bar("free", 0.0, -10.0, 50.0)))
    scene = data.scene(492.0)
    axis = next(one for one in of_kind(scene, Line) if one.width == 1.0)
    assert [x for x, _ in axis.points] == [10.0, 474.0]
    bottom = axis.points[0][1]
    key = [w for w in of_kind(scene, Words) if w.x > 30 and w.y < bottom - 29.0 + 1.0]
    rows = {w.y for w in key if w.text in ("fits exactly", "possible amounts", "wrong direction",
            "makes it fit, and is possible", "would make it fit, not possible")}  # fmt: skip
    assert bottom == 15.0 * len(rows) + 6.0 + 12.0 + 20.0
    top = bottom + 56.0
    assert scene.height == top + 14.0 + 13.0
    (title,) = [w for w in of_kind(scene, Words) if w.text == "What would make X fit"]
    assert (title.x, title.y, title.bold) == (10.0, scene.height - 14.0, True)
    zone = of_kind(scene, Polygon)[0]
    assert (ends(zone), zone.fill) == ((10.0, 34.0, bottom, top), SHADE)
    zero = next(one for one in of_kind(scene, Line) if one.width == 1.2)
    assert zero.points == ((34.0, bottom), (34.0, top))
    filled = [
        ends(p) for p in of_kind(scene, Polygon) if p.fill == TRIAL and p.points[0][1] > bottom
    ]
    assert filled == [
        pytest.approx((234.0, 434.0, top - 21.0, top - 12.0)),
        pytest.approx((34.0, 234.0, top - 49.0, top - 40.0)),
    ]
    assert data.places(492.0) == [
        pytest.approx((274.0, top - 16.5)), pytest.approx((34.0, top - 44.5)),
    ]  # fmt: skip
    label = "amount in each trial, % of what was measured as product"
    (said,) = [w for w in of_kind(scene, Words) if w.text == label]
    assert (said.x, said.y, said.anchor) == (242.0, bottom - 26.0, "middle")
    grid = [one for one in of_kind(scene, Line) if one.ink == GRID and one.width == 0.7]
    # 440 points have room for eight numbers, 55 each: every 20 %, 80 points apart
    assert [one.points[0][0] for one in grid] == pytest.approx([34 + 80.0 * i for i in range(6)])
    assert {(one.points[0][1], one.points[1][1]) for one in grid} == {(bottom, top)}


@pytest.mark.parametrize(
    ("bars", "end"),
    [
        ([bar(high=100.0)], 110.0), ([bar(high=250.0)], 275.0), ([bar(high=900.0)], 275.0),
        ([bar(high=20.0), bar(high=40.0)], 44.0), ([bar(high=-5.0, most=50.0)], 55.0),
        ([bar(high=-5.0, most=300.0)], 110.0), ([bar(high=INF, most=50.0)], 55.0),
        ([bar(high=NAN, most=NAN)], 110.0), ([bar(high=0.0, most=0.0)], 110.0), ([], 110.0),
        ([bar(high=-1.0, most=80.0), bar(high=30.0, most=90.0)], 33.0),
    ],
)  # fmt: skip
def test_the_axis_reaches_a_tenth_further_than_the_ranges(
    bars: list[EffectBar], end: float
) -> None:
    """But to 250 % at the most; without a range as far as is possible, up to 100 %."""
    assert EffectsPicture("X", False, tuple(bars))._axis_end() == pytest.approx(end)


def test_it_is_said_what_the_percentages_are_of() -> None:
    mixed = EffectsPicture("X", True, (bar(), bar(name="damp", of="consumed")))
    assert [mixed._name(one) for one in mixed.bars] == ["wet", "damp (% of consumed)"]
    assert mixed._axis_label() == (
        "amount in each trial, % of what was measured as product (or of consumed, where it says so)"
    )
    alone = EffectsPicture("X", True, (bar(of="consumed"),))
    assert alone._axis_label() == "amount in each trial, % of what was consumed"
    assert alone._name(alone.bars[0]) == "wet"


def test_effects_are_told_by_what_they_come_to() -> None:
    data = EffectsPicture(
        "X", True,
        (bar(), bar(name="b", words="possible: 2 g"), bar("wrong way", name="c", words="no"),
         bar("unmoved", name="d", words="changes nothing"),
         bar("free", name="e", words="not needed; up to 1 g fits"),
         bar("too much", name="f", words="not possible: 3 g needed, 2 g at most")),
    )  # fmt: skip
    assert data.alt_text == (
        "Bars: the amount of each of 6 effects that would make X fit, in per cent of what was "
        "measured, beside the amounts that are possible. X fits without any of them. Possible "
        "alone: wet (1 g); b (2 g). Not needed, but allowed: e (up to 1 g fits). More than the "
        "masses allow: f (3 g needed, 2 g at most). In the wrong direction: c. Without influence: "
        "d."
    )
    assert _short(bar(words="changes nothing")) == "changes nothing"
    assert _title("a" * 41, True) == "a" * 39 + "… fits; how much is allowed"
    assert _title("a" * 40, False) == f"What would make {'a' * 40} fit"


# -- two effects ------------------------------------------------------------------------------


def plane(
    line: tuple[tuple[float, float], ...] = (), band: tuple[tuple[float, float], ...] = (),
    fits: bool = False, **more: Any,
) -> CombinationPicture:  # fmt: skip
    given = {"x": (0.0, 10.0), "y": (0.0, 20.0), "limits": ()} | more
    return CombinationPicture("X", fits, ("a", "b"), ("g", "mL"), line=line, band=band, words="W.",
                              **given)  # fmt: skip


@pytest.mark.parametrize(
    ("end", "place", "start", "level"),
    [
        ((5.0, 10.0), (150.0, 110.0), 158.0, 116.0),
        ((5.0, 20.0), (150.0, 180.0), 158.0, 168.0),  # 12 below the upper edge at the most
        ((5.0, 0.0), (150.0, 40.0), 158.0, 46.0),
        ((5.0, -1.0), (150.0, 33.0), 158.0, 45.0),  # and 5 above the lower one
        ((9.0, 10.0), (230.0, 110.0), None, 116.0),
    ],
)
def test_ends_of_the_line_say_their_amounts_within_the_frame(
    end: tuple[float, float], place: tuple[float, float], start: float | None, level: float
) -> None:
    """8 points to the right of the mark or, where 12 and the words do not fit, to the left."""
    mark, ground, words = plane((end,))._ends(FRAME)
    assert mark == Mark(*place, "diamond", INK, 5.0)
    assert isinstance(words, Words)
    assert isinstance(ground, Polygon)
    wide = text_width(words.text, SMALL)
    start = place[0] - 8.0 - wide if start is None else start
    assert (words.x, words.y, words.anchor) == (pytest.approx(start), pytest.approx(level), "start")
    assert ends(ground) == pytest.approx((start - 2, start + wide + 2, level - 2.5, level + 8.0))
    assert ground.fill == WHITE


def test_amounts_at_the_ends_have_two_digits_and_their_units() -> None:
    (_, _, words) = plane(((1.234, 0.0567),))._ends(FRAME)
    assert isinstance(words, Words)
    assert words.text == "1.2 g; 0.057 mL"
    wide = text_width("6.1 g; 5.0 mL", SMALL)
    last = (250.0 - 12.0 - wide - 50.0) / 20.0  # with this much across there is just room
    for a, right in ((last - 0.01, True), (last + 0.01, False)):
        mark, _, said = plane(((a, 5.0),))._ends(FRAME)
        assert isinstance(said, Words)
        assert isinstance(mark, Mark)
        assert len(said.text) == len("6.1 g; 5.0 mL")
        assert (said.x > mark.x) is right


def test_no_possible_pair_is_said_in_the_middle() -> None:
    """Short words where half of the long ones, and 10 points, are more than half of the frame."""
    long, short = "no possible pair of amounts makes it fit", "no possible pair fits"
    half = text_width(long, BODY) / 2
    for room, said in ((half + 10.1, long), (half + 9.9, short)):
        ground, words = plane()._nothing(150.0, 110.0, room)
        assert isinstance(ground, Polygon)
        assert words == Words(150.0, 110.0, said, BODY, "middle")
        out = text_width(said, BODY) / 2 + 5.0
        assert ends(ground) == pytest.approx((150 - out, 150 + out, 105.0, 123.0))
    _, words = plane(fits=True)._nothing(150.0, 110.0, 5.0)
    assert isinstance(words, Words)
    assert words.text == "no room for these effects"


def test_the_plane_leaves_room_for_titles_numbers_and_key() -> None:
    data = plane(((0.0, 10.0), (5.0, 0.0)), ((0.0, 8.0), (0.0, 12.0), (6.0, 0.0), (4.0, 0.0)))
    scene = data.scene(480.0, 330.0)
    frame = next(one for one in of_kind(scene, Line) if one.width == 1.0 and len(one.points) == 3)
    (left, top), (_, bottom), (right, _) = frame.points
    assert (right, top) == (466.0, 330.0 - 14.0 - 11.0)
    # the widest number is "20", 1.26 ems of 8 points; one line of 12 and 16 points beside it
    assert left == pytest.approx(12.0 + 16.0 + 10.08)
    key = {w.y for w in of_kind(scene, Words)
           if w.text in ("fits exactly", "fits within the uncertainty",
                         "more than the masses allow")}  # fmt: skip
    assert bottom == 15.0 * len(key) + 6.0 + 18.0 + 12.0
    (a,) = [w for w in of_kind(scene, Words) if w.text == "a / g in each trial"]
    assert (a.x, a.y, a.anchor) == (pytest.approx((left + right) / 2), bottom - 25.0, "middle")
    (b,) = [w for w in of_kind(scene, Words) if w.text == "b / mL in each trial"]
    assert (b.x, b.y, b.angle) == (12.0, pytest.approx((bottom + top) / 2), 90.0)
    line = next(one for one in of_kind(scene, Line) if one.width == 2.2)
    assert [*line.points[0], *line.points[1]] == pytest.approx(
        [left, (bottom + top) / 2, (left + right) / 2, bottom]
    )
    (title,) = [w for w in of_kind(scene, Words) if w.text == "What would make X fit"]
    assert (title.x, title.y) == (10.0, 316.0)
    assert data.alt_text == (
        "Plane: across, the amount of a, 0 to 10 g; up, b, 0 to 20 mL. W. The pairs that still fit "
        "form a band about it; they reach up to 6 g across and 12 mL up."
    )
    assert plane().alt_text == "Plane: across, the amount of a, 0 to 10 g; up, b, 0 to 20 mL. W."


def test_what_the_masses_allow_is_white_and_what_fits_is_filled() -> None:
    """a + b ≤ 10 leaves of a frame of 10 by 20 the triangle below it."""
    data = plane(band=((0.0, 8.0), (0.0, 9.0), (4.0, 0.0)), limits=(((1.0, 1.0), 10.0),))
    white, edge, band, around = data._areas(FRAME)
    assert isinstance(white, Polygon)
    assert {*white.points} == {(50.0, 40.0), (250.0, 40.0), (50.0, 110.0)}
    assert (white.fill, band.fill) == (WHITE, BAR)  # type: ignore[union-attr]
    assert (edge.ink, around.ink) == (PALE, TRIAL)  # type: ignore[union-attr]
    assert band.points == [(50.0, 96.0), (50.0, 103.0), (130.0, 40.0)]  # type: ignore[union-attr]
    assert (edge.width, around.width) == (0.9, 0.9)  # type: ignore[union-attr]


def test_a_corner_on_the_limit_is_kept() -> None:
    square = ((0.0, 0.0), (2.0, 0.0), (2.0, 2.0), (0.0, 2.0))
    assert {*_kept(square, (1.0, 1.0), 2.0)} == {(0.0, 0.0), (2.0, 0.0), (0.0, 2.0)}
    assert {*_kept(square, (1.0, 0.0), 0.5)} == {(0.0, 0.0), (0.5, 0.0), (0.5, 2.0), (0.0, 2.0)}
    assert _kept(square, (1.0, 1.0), 9.0) == list(square)
    assert _kept(square, (1.0, 1.0), -1.0) == []


@pytest.mark.parametrize(
    ("band", "limits", "reach"),
    [
        ([(1.0, 0.0), (3.0, 5.0)], (), (3.0, 5.0)),
        ([(0.0, 0.0), (0.0, 5.0)], (((2.0, 1.0), 8.0), ((1.0, 0.0), 3.0)), (3.0, 5.0)),
        ([], (((2.0, 1.0), 8.0), ((0.0, 1.0), 3.0)), (4.0, 3.0)),
        ([], (((2.0, 0.0), 0.0),), (1.0, 1.0)), ([], (((2.0, 1.0), -3.0),), (1.0, 1.0)),
    ],
)  # fmt: skip
def test_an_axis_reaches_as_far_as_what_fits_or_else_what_is_possible(
    band: list[tuple[float, float]], limits: Any, reach: tuple[float, float]
) -> None:
    found = cast(Combination, SimpleNamespace(band=band, limits=limits))
    assert (_reach(found, 0), _reach(found, 1)) == reach


def test_samples_of_the_key_are_seventeen_wide() -> None:
    """From 1.5 below a baseline to 7 above it; diamonds in the middle."""
    for kind, fill, edge in (("fits", TRIAL, TRIAL), ("band", BAR, TRIAL), ("shade", SHADE, PALE)):
        area, outline = _sample(kind, 10.0, 50.0)
        assert isinstance(area, Polygon)
        assert isinstance(outline, Line)
        assert (ends(area), area.fill) == ((10.0, 27.0, 48.5, 57.0), fill)
        assert (outline.ink, outline.width) == (edge, 0.9)
    assert _sample("exact", 10.0, 50.0) == [Mark(18.5, 52.75, "diamond", INK, 4.6)]
    assert _sample("line", 10.0, 50.0) == [Line(((10.0, 52.75), (27.0, 52.75)), INK, 2.2)]
    shaft, head, _ = _sample("wrong", 10.0, 50.0)
    assert shaft == Line(((20.0, 52.75), (24.0, 52.75)), GREY, 1.4)
    assert isinstance(head, Polygon)
    assert head.points == ((20.0, 48.75), (13.0, 52.75), (20.0, 56.75))
    area, outline = _sample("trough", 10.0, 50.0)
    assert isinstance(area, Polygon)
    assert (ends(area), area.fill) == ((10.0, 27.0, 48.5, 57.0), SHADE)
    area, *slanting, _ = _sample("impossible", 0.0, 1.5)
    assert isinstance(area, Polygon)
    assert (ends(area), area.fill) == ((0.0, 17.0, 0.0, 8.5), WHITE)
    # lines every 3.5 points from −8.5 on that are longer than 0.3: −5 to 16 by 3.5
    assert len(slanting) == 7
