"""Limits in pictures, worked out by hand: just allowed, just refused."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from stoichkit import experiments
from stoichkit.errors import ModelError
from stoichkit.planning.design import DesignMap
from stoichkit.planning.outcomes import Chances
from stoichkit.planning.simulation import Counts
from stoichkit.plots import (
    BudgetPicture,
    CellsPicture,
    ChancesPicture,
    CurvesPicture,
    DecisionPicture,
    EffectsPicture,
    MapPicture,
    RatioPicture,
    ResultPicture,
)
from stoichkit.plots.decision import Spot
from stoichkit.plots.labs import Dot, LabRay, LabsPicture
from stoichkit.plots.look import INK, SMALL, TRIAL
from stoichkit.plots.plane import Plane, Tag
from stoichkit.plots.rays import Ray
from stoichkit.plots.scene import Ellipse, Line, Mark, Polygon, Scene, Words
from stoichkit.plots.writing import text_width
from stoichkit.uncertainty.ratio_set import Interval

from .cases import evidence
from .places import ends, of_kind
from .test_causes import causes

NAN, INF = math.nan, math.inf


def text_of(scene: Scene) -> str:
    return " ".join(one.text for one in of_kind(scene, Words))


# -- planes of amounts ------------------------------------------------------------------------


def test_names_above_a_narrow_frame_end_within_the_picture() -> None:
    """Rays of 2.5 and 2.6 leave a frame of 10 by 20 at 0.8 and 1 / 1.3 of its width.

    A name of 22 n is 22 × 0.63 × 9 = 124.74 points wide. The frame begins at 27 + 10.08 ("20" is
    1.26 ems of 8) = 37.08 and ends at 300 − 14 = 286: the rays leave it at 236.216 and 228.557.
    Slanting names are 11.7 / 0.574 = 20.383 apart: half of that to either side of 232.387, the
    right one at 242.578. It reaches 0.819 × 124.74 + 6 = 108.162 further, to 350.74, where 298 are
    allowed; so the frame ends 52.74 earlier, at 233.26. The names may not begin beyond 298 −
    108.162 = 189.838, nor are they moved further: 2 points right of it they are written.
    """
    tags = [Tag(ratio, "n" * 22, False, INK, INK) for ratio in (2.5, 2.6)]
    plane = Plane.fitted(tags, (0.0, 10.0), (0.0, 20.0), (300.0, 300.0), lambda _: ([], 0.0))
    assert (plane.left, plane.right) == pytest.approx((37.08, 233.26), abs=0.005)
    left, right = of_kind(list(plane.labels), Words)
    assert (left.angle, right.angle) == (35.0, 35.0)
    assert right.x == pytest.approx(191.838, abs=0.002)
    assert left.x == pytest.approx(191.838 - 20.383, abs=0.002)


@pytest.mark.parametrize(("name", "end"), [("n" * 10 + "l", 286.0), ("n" * 11, 284.343)])
def test_names_that_just_fit_leave_the_frame_as_it_is(name: str, end: float) -> None:
    """As above, 6.70 and 6.93 ems of 9 points: 60.30 and 62.37 wide. The right one begins at
    242.578 and reaches 49.386 + 6 or 51.081 + 6 further: to 297.964, or 1.659 beyond 298."""
    tags = [Tag(ratio, name, False, INK, INK) for ratio in (2.5, 2.6)]
    plane = Plane.fitted(tags, (0.0, 10.0), (0.0, 20.0), (300.0, 300.0), lambda _: ([], 0.0))
    assert plane.right == pytest.approx(end, abs=0.003)
    assert {one.angle for one in of_kind(list(plane.labels), Words)} == {35.0}


def test_a_region_that_a_ray_just_touches_is_crossed() -> None:
    """2 up to either side of 2: the level ray of ratio 0 touches it, and of 2.5 it does not."""
    for produced, crossed in ((2.0, True), (2.5, False)):
        spot = Spot("t", 3.0, produced, 1.0, 2.0, (1.0, 0.0), (0.0, 2.0))
        assert spot.crossed_by(0.0) is crossed


@pytest.mark.parametrize(("count", "drawn"), [(60, True), (61, False)])
def test_up_to_sixty_trials_have_regions(count: int, drawn: bool) -> None:
    """Of more than twelve trials the outlines are 0.5 thin, thinner than those of the key."""
    data = DecisionPicture.of(evidence("copper-silver"))
    scene = replace(data, trials=data.trials[:1] * count).scene()
    regions = [one for one in of_kind(scene, Ellipse) if one.width == 0.5]
    assert len(regions) == (60 if drawn else 0)
    assert ("Regions of the trials are left out." in text_of(scene)) is not drawn
    assert f"trial (of {count})" in text_of(scene)


@pytest.mark.parametrize(("count", "drawn"), [(60, 60), (61, 60)])
def test_sixty_cells_are_drawn(count: int, drawn: int) -> None:
    data = DecisionPicture.of(evidence("copper-silver"), cells=True)
    many = replace(data, trials=data.trials[:1] * count, cells=data.cells[:1] * count)
    # one more is the sample of the key
    cells = [one for one in of_kind(many.scene(), Polygon) if one.opacity == 0.16]
    assert len(cells) == drawn + 1


def cells(*slopes: float) -> CellsPicture:
    """Return one cell about 4 and 4 mmol: from 2 to 6 across, 2 to 6 up; slopes from 1/3 to 3."""
    rays = tuple(Ray(str(slope), str(slope), slope, True, 1.0) for slope in slopes)
    square = ((2.0, 2.0), (6.0, 2.0), (6.0, 6.0), (2.0, 6.0))
    return CellsPicture("T", "Cu", "Ag", rays, (square,), ((4.0, 4.0),), None, "N.")


@pytest.mark.parametrize(
    ("other", "parted"), [(3.0, False), (3.001, True), (0.333, True), (0.334, False)]
)
def test_two_candidates_part_if_the_other_ray_misses_the_cell(other: float, parted: bool) -> None:
    assert cells(1.0, other).parted is parted


def test_a_ray_at_the_lower_right_corner_still_crosses_the_cell() -> None:
    """From 2 to 8 across and 2 to 6 up: slope 1/4 meets (8, 2) and nothing else, exactly."""
    square = ((2.0, 2.0), (8.0, 2.0), (8.0, 6.0), (2.0, 6.0))
    assert not replace(cells(1.0, 0.25), cells=(square,)).parted
    assert replace(cells(1.0, 0.249), cells=(square,)).parted


@pytest.mark.parametrize(("slope", "parted"), [(1.0009, True), (1.0011, False), (1.01, False)])
def test_a_ray_within_a_thousandth_of_the_middle_is_the_one_of_the_cell(
    slope: float, parted: bool
) -> None:
    """The middle is known to the digits of the readings only; 1 % off is another candidate."""
    assert cells(1.0, slope).parted is parted


# -- simulated labs ---------------------------------------------------------------------------


def simulated(count: int) -> LabsPicture:
    rays = tuple(LabRay("a", "a", i + 1.0, ((1.0, 1.0), (1.0, 1.0))) for i in range(count))
    counts = Counts(right=6, wrong=1, not_told_apart=2, none_fits=1, cannot_be_judged=0)
    return LabsPicture("Cu", "Ag", "a", rays, (Dot(1.0, 2.0, "right", 6),), counts, (5.0, 10.0),
                       (0.0, 10.0), (0.0, 20.0), 0.95, "W.")  # fmt: skip


@pytest.mark.parametrize(("count", "said"), [(4, True), (5, False)])
def test_dotted_lines_are_explained_where_they_are_drawn(count: int, said: bool) -> None:
    scene = simulated(count).scene()
    assert ("Between its dotted lines a candidate is compatible" in text_of(scene)) is said
    assert any(one.dashes == (1.5, 2.5) for one in of_kind(scene, Line)) is said


def test_the_key_of_labs_has_two_columns_where_both_just_fit() -> None:
    """ "the true candidate is singled out: 6 of 10" is 42 letters, of which 19 are narrow (8
    spaces, t, t, r, i, t, i, i, l, t, the colon and f): 19 × 0.40 + 23 × 0.63 = 22.09 ems of 8
    points, 176.72. With 24 beside them a column is 200.72 wide."""
    widest = text_width("the true candidate is singled out: 6 of 10", SMALL)
    assert widest == pytest.approx(176.72)
    for width, columns in ((401.43, 1), (2.0 * (24.0 + widest), 2), (401.45, 2)):
        items, _ = simulated(1)._key(0.0, width)
        assert len({one.x for one in of_kind(items, Words)[:4]}) == columns, width


# -- causes -----------------------------------------------------------------------------------


def test_a_title_is_broken_where_its_bold_letters_would_not_fit() -> None:
    """ "What would make aa… fit" with 40 a: W and m are 1 em each, w 0.84, nine narrow ones
    (4 spaces, t, l, f, i, t) 0.40, and 48 others 0.63: 36.68 ems of 11 points, 403.48.

    Bold letters are a tenth wider: 0.9 of the room between margins of 10 is 403.48 from a width
    of 468.31 on.
    """
    for width, lines in ((468.2, 2), (468.4, 1)):
        scene = EffectsPicture("a" * 40, False, ()).scene(width)
        assert len([one for one in of_kind(scene, Words) if one.size == 11.0]) == lines


@pytest.mark.parametrize(
    ("low", "high", "most"),
    [(-INF, 4.0, 30.0), (-2.0, INF, 30.0), (0.0, 4.0, 30.0), (-2.0, 0.0, 30.0), (-INF, INF, NAN),
     (0.0, INF, NAN), (NAN, NAN, NAN)],
)  # fmt: skip
def test_what_is_possible_is_told_in_per_cent_from_an_end_that_is_known(
    low: float, high: float, most: float
) -> None:
    """0.05 of the product for each gram: 6 g at the most are 30 %."""
    cause = causes("copper-silver", "copper(I)")[0]
    shares = {"fraction_low": 0.05 * low, "fraction_high": 0.05 * high}
    needed = NAN if math.isnan(low) else 1.0
    given = replace(cause, needed=needed, low=low, high=high, most=6.0, **shares)
    (bar,) = EffectsPicture.of([given]).bars
    assert bar.most == pytest.approx(most, nan_ok=True)


# -- plans ------------------------------------------------------------------------------------


def test_the_target_of_a_picture_of_chances_is_a_chance() -> None:
    found = [("a", Chances(0.9, 0.02, 0.05, 0.03))]
    for target in (0.0, 1.0):
        assert ChancesPicture.of(found, target).target == target
    for target in (-0.01, 1.01):
        with pytest.raises(ModelError, match="target"):
            ChancesPicture.of(found, target)


def test_a_map_of_one_balance_is_one_row() -> None:
    """It fills the frame, whose middle is 0.01 g: ln 0.01 is −4.6052, half of 1 to either side."""
    masses, row = np.array([0.1, 1.0, 10.0]), np.array([[0.1, 0.2, 0.95]])
    picture = MapPicture("Cu", masses, np.array([0.01]), row, 0.9, 2, ((0.01, 10.0),), None, "W.")
    scene = picture.scene(480.0, 330.0)
    frame = next(one for one in of_kind(scene, Line) if one.width == 1.0 and len(one.points) == 3)
    (_, top), (_, bottom), _ = frame.points
    shaded = [one for one in of_kind(scene, Polygon) if one.points[0][1] >= bottom]
    assert [ends(one)[2:] for one in shaded] == [pytest.approx((bottom, top))]
    (mark,) = [one for one in of_kind(scene, Mark) if one.y > bottom]
    assert mark.y == pytest.approx((bottom + top) / 2)
    low, high = scene.y_limits
    at = [low + (high - low) * y / 330.0 for y in (bottom, top)]
    # decimal logarithms: −2 ∓ 0.5 × 0.43429
    assert at == pytest.approx([-2.21715, -1.78285], abs=1e-5)


def test_a_map_of_one_mass_is_refused_in_words() -> None:
    lab = experiments.load("copper-silver")

    def found(*masses_g: float) -> DesignMap:
        each = np.full((2, 1, 1, len(masses_g)), 0.5)
        return DesignMap.of(np.array(masses_g), np.array([0.01]), each, 0.9, 1)

    for kind in (MapPicture, CurvesPicture):
        with pytest.raises(ModelError, match=r"one mass only. Given: 0.1 g. Allowed: masses from"):
            kind.of(found(0.1), lab)
        assert kind.of(found(0.1, 1.0), lab).scene().width == 480.0


# -- ratios and results -----------------------------------------------------------------------


def ratio(*intervals: tuple[float, float], end: float = 0.005) -> RatioPicture:
    found = tuple(Interval(*one) for one in intervals)
    rays = (Ray("a", "a", 0.004, True, 0.5),)
    return RatioPicture("Cu", "Ag", 0.95, "bounded", found, NAN, rays, end, "W", True)


@pytest.mark.parametrize(
    ("intervals", "said"),
    [((), ""), (((0.001, 0.005),), ""), (((0.001, 0.0051),), "up to 0.0051"),
     (((0.0, 0.001), (0.002, 0.008)), "up to 0.008"), (((0.002, INF),), "no upper limit"),
     (((0.0, 0.001), (0.002, 0.003)), "")],
)  # fmt: skip
def test_only_what_goes_beyond_the_line_is_said_at_its_end(
    intervals: tuple[tuple[float, float], ...], said: str
) -> None:
    """A line of ratios up to 0.005, below a hundredth."""
    scene = ratio(*intervals).scene()
    beyond = [one.text for one in of_kind(scene, Words) if one.bold and one.ink == TRIAL]
    assert beyond == ([said] if said else [])
    (axis,) = [one for one in of_kind(scene, Line) if one.points[0][1] == one.points[1][1] == 33.0]
    assert (axis.points[1][0] == 468.0) is not said


def test_the_heading_of_a_result_has_its_place() -> None:
    """One line of 11 and 4 points with 4 above and below: its baseline 4 + 15 − 3 below the top."""
    heading = ResultPicture.of(evidence("copper-silver")).parts()["title"]
    (words,) = heading.items
    assert isinstance(words, Words)
    assert (words.x, words.y, words.bold) == (12.0, 7.0, True)
    assert words.text == "Singled out: copper(II) (95 % coverage)"
    assert (heading.width, heading.height) == (480.0, 23.0)


def test_what_has_no_scale_of_its_own_is_measured_in_points() -> None:
    """From 0 on, at the left and at the lower edge."""
    result = ResultPicture.of(evidence("copper-silver"))
    chances = ChancesPicture.of([("a", Chances(0.9, 0.02, 0.05, 0.03))], 0.9)
    masses, steps, rows = np.array([0.1, 1.0]), np.array([0.01]), np.array([[0.1, 0.95]])
    curves = CurvesPicture("Cu", masses, steps, rows, 0.9, 1, (), None, "W.")
    budget = BudgetPicture.of(evidence("copper-silver"))
    scenes = [one.scene() for one in (result, chances, curves, budget)]
    for scene in (*scenes, result.parts()["title"]):
        assert scene.x_limits == (0.0, scene.width)
        assert scene.y_limits == (0.0, scene.height)
