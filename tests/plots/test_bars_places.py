"""Places of the budget, of cells and of what is written as SVG or given to matplotlib."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from matplotlib.patches import PathPatch
from PIL import Image

from stoichkit.decision.evidence import assess
from stoichkit.decision.sentences import BudgetLine
from stoichkit.experiments import load
from stoichkit.plots import render
from stoichkit.plots.budget import BudgetPicture
from stoichkit.plots.cells import CellsPicture, _crosses, _sample
from stoichkit.plots.class_groups import ClassGroupsPicture, GroupRow
from stoichkit.plots.class_line import ClassLinePicture, GroupSpot
from stoichkit.plots.decision import DecisionPicture
from stoichkit.plots.look import BAR, INK, REST, SMALL, TRIAL
from stoichkit.plots.rays import Ray, fewer, rays_in_words, recovery_in_words
from stoichkit.plots.result import png_bytes, result_figure, save_picture
from stoichkit.plots.scene import Ellipse, Line, Mark, Polygon, Words, lifted
from stoichkit.plots.shapes import hatching, in_rows, widened
from stoichkit.plots.writing import text_width

from .cases import evidence
from .places import FRAME, ends, of_kind

RAYS = (Ray("a", "a", 1.0, False, 0.001), Ray("b", "b", 2.0, True, 0.5))


def budget(*shares: float, scatter: float = 0.0) -> BudgetPicture:
    """Return a picture of sources "s"; the last one stands for the others."""
    lines = [BudgetLine("s", "rounding", 0, 1, 0.1, share) for share in shares]
    if len(lines) > 1:
        lines[-1] = replace(lines[-1], kind="")
    return BudgetPicture("X", "X", tuple(lines), 0.12, scatter)


def test_bars_of_the_budget_have_their_places() -> None:
    """A row is 10 points and 5 free; below the heading of one line of 12 there are 8."""
    data = budget(0.75, 0.25)
    column = max(text_width(line.words, SMALL) for line in data.lines)
    foot = text_width("below 1 %", SMALL)
    left = 12.0 + column + 8.0
    width = left + 200.0 + foot + 16.0  # 200 points for the largest share
    heads = 1 if text_width(data.title, 9.0) <= width - 24.0 else 2
    scene = data.scene(width)
    assert scene.height == 12.0 * heads + 8.0 + 30.0 + 6.0
    top = scene.height - 12.0 * heads - 8.0
    first, second = of_kind(scene, Polygon)
    assert ends(first) == pytest.approx((left, left + 200.0, top - 9.5, top - 0.5))
    assert ends(second) == pytest.approx((left, left + 200.0 / 3, top - 24.5, top - 15.5))
    assert (first.fill, second.fill) == (TRIAL, REST)
    words = {one.text: one for one in of_kind(scene, Words)}
    assert (words["75 %"].x, words["75 %"].y) == pytest.approx((left + 205.0, top - 7.88))
    said = [one for one in of_kind(scene, Words) if one.anchor == "end"]
    assert [(one.x, one.y) for one in said] == [
        pytest.approx((left - 6.0, top - 7.5)), pytest.approx((left - 6.0, top - 22.5)),
    ]  # fmt: skip
    (axis,) = of_kind(scene, Line)
    assert [*axis.points[0], *axis.points[1]] == pytest.approx([left, top, left, top - 28.0])
    assert (axis.ink, axis.width) == (INK, 0.8)


def test_a_small_share_is_said_to_be_below_one_per_cent_and_still_seen() -> None:
    for share, text in ((0.005, "0 %"), (0.00499, "below 1 %"), (0.006, "1 %")):
        assert text in {one.text for one in of_kind(budget(1.0 - share, share).scene(), Words)}
    bars = of_kind(budget(0.9999, 0.0001).scene(), Polygon)
    assert ends(bars[1])[1] - ends(bars[1])[0] == pytest.approx(0.6)


def test_a_lab_without_a_source_has_words_in_place_of_bars() -> None:
    scene = budget().scene()
    assert of_kind(scene, Polygon) == of_kind(scene, Line) == []
    said = " ".join(one.text for one in of_kind(scene, Words))
    assert "No source of uncertainty is known for the discrepancy from X." in said
    assert scene.height == 12.0 + 8.0 + 12.0 + 6.0
    note = budget(1.0, scatter=2.34).note
    assert note.startswith("Instruments only: the trials scatter 2.3 times as much as these")


# -- cells ------------------------------------------------------------------------------------

SQUARE = ((4.0, 8.0), (6.0, 8.0), (6.0, 12.0), (4.0, 12.0))


def cells(fan: tuple[float, float] | None = None, *found: Any) -> CellsPicture:
    found = found or (SQUARE,)
    middles = ((5.0, 10.0),) * len(found)
    return CellsPicture("T", "Cu", "Ag", RAYS, found, middles, fan, "N.")


@pytest.mark.parametrize(
    ("fan", "corners"),
    [
        ((1.0, 1.5), [(50, 40), (250, 110), (250, 145)]),
        ((1.0, 4.0), [(50, 40), (250, 110), (250, 180), (150, 180)]),
        ((4.0, 5.0), [(50, 40), (150, 180), (130, 180)]),
        ((1.0, math.inf), [(50, 40), (250, 110), (250, 180), (50, 180)]),
        ((4.0, math.inf), [(50, 40), (150, 180), (50, 180)]),
        ((1.0, 2.0), [(50, 40), (250, 110), (250, 180)]), (None, None),
    ],
)  # fmt: skip
def test_a_fan_ends_at_the_edges_of_the_frame(
    fan: tuple[float, float] | None, corners: list[tuple[float, float]] | None
) -> None:
    """Slope 2 runs into the upper right corner of 10 by 20."""
    found = cells(fan)._fan(FRAME)
    if corners is None:
        assert found == []
        return
    (area,) = found
    assert isinstance(area, Polygon)
    assert [*area.points] == [pytest.approx(one) for one in corners]
    assert (area.fill, area.edge, area.opacity) == (BAR, "", 0.45)


def test_cells_are_drawn_round_their_middles() -> None:
    area, mark = cells()._cells(FRAME)
    assert isinstance(area, Polygon)
    assert (ends(area), area.fill, area.opacity) == ((130.0, 170.0, 96.0, 124.0), TRIAL, 0.2)
    assert mark == Mark(150.0, 110.0, "circle", TRIAL, 2.4)
    assert cells(None, ())._cells(FRAME) == [mark]


def test_cells_are_told_by_their_edges() -> None:
    assert cells((1.0, math.inf), SQUARE, ()).alt_text == (
        "Amounts plane: Cu consumed across, Ag produced up, in mmol. 2 cells of possible amounts: "
        "4 to 6 across and 8 to 12 up; 5 across and 10 up. The fan of ratios goes from 1 without "
        "end. Rays through the origin: a with slope 1, b with slope 2."
    )
    assert "1 cell of possible amounts" in cells((1.0, 2.0)).alt_text
    assert "The fan of ratios goes from 1 to 2." in cells((1.0, 2.0)).alt_text
    assert cells(None, *[SQUARE] * 9).alt_text.count("4 to 6 across") == 8


def test_a_ray_that_touches_a_corner_crosses_the_cell() -> None:
    """Slopes from 8 / 6 to 12 / 4."""
    crossed = {r: _crosses(SQUARE, r) for r in (1.33, 1.334, 2.0, 3.0, 3.001)}
    assert crossed == {1.33: False, 1.334: True, 2.0: True, 3.0: True, 3.001: False}
    assert not _crosses((), 2.0)


def test_samples_of_the_key_of_cells() -> None:
    assert _sample("ray", 10.0, 50.0) == [Line(((10.0, 52.88), (32.0, 52.88)), INK, 1.8)]
    (fan,) = _sample("fan", 10.0, 50.0)
    cell, mark = _sample("cell", 10.0, 50.0)
    for one in (fan, cell):
        assert isinstance(one, Polygon)
        assert ends(one) == pytest.approx((12.0, 32.0, 48.38, 57.38))
    assert mark == Mark(22.0, 52.88, "circle", TRIAL, 2.4)


def test_cells_have_an_eighth_of_room_around_them() -> None:
    """12 % beyond the largest amounts: 6.72 and 13.44 mmol at the corner of the frame."""
    scene = cells().scene(480.0, 320.0)
    frame = next(one for one in of_kind(scene, Line) if one.width == 1.0 and len(one.points) == 3)
    (left, top), (_, bottom), (right, _) = frame.points
    (low, high), (under, over) = scene.x_limits, scene.y_limits
    assert low + right / 480.0 * (high - low) == pytest.approx(6.72)
    assert low + left / 480.0 * (high - low) == pytest.approx(0.0, abs=1e-9)
    assert under + top / 320.0 * (over - under) == pytest.approx(13.44)
    assert under + bottom / 320.0 * (over - under) == pytest.approx(0.0, abs=1e-9)


def test_a_planned_cell_says_its_step_and_what_it_means() -> None:
    data = CellsPicture.planned(load("copper-silver"), consumed_mol=0.002, step_g=0.01)
    assert data.title == "One trial read to 0.01 g"
    assert data.note == (
        "With steps of 0.01 g each cell holds all amounts that one trial could not tell from the "
        "middle of the cell. Two candidates part where neither ray crosses the cell of the other."
    )


def test_titles_are_cut_at_ninety_letters() -> None:
    lab = load("copper-silver")
    for count, title in ((90, "t" * 90), (91, "t" * 89 + "…")):
        found = assess(replace(lab, title="t" * count))
        assert CellsPicture.of(found).title == title
        assert DecisionPicture.of(found).title == title


# -- words about groups and rays --------------------------------------------------------------


def test_notes_below_the_line_say_what_marks_there_are() -> None:
    def notes(*spots: GroupSpot, rays: tuple[Ray, ...] = RAYS) -> list[str]:
        nan = math.nan
        return ClassLinePicture("Cu", "Ag", 0.95, spots, rays, nan, nan, nan, (nan, nan), (), False,
                                "W.", "V", (0.0, 1.0), (0.0, 1.0))._notes()  # fmt: skip

    usual = GroupSpot("g", "singled_out", 1.0, 1.0, 0.1, 0.1, False)
    head = (
        "Points: groups; full circle: singles out one, open circle: cannot tell, cross: fits none"
    )
    bars, none = " Bars: one standard uncertainty.", "No straight line was drawn."
    assert notes(usual) == [f"{head}.{bars}", none]
    grey = replace(usual, kind="cannot_be_judged")
    assert notes(usual, grey) == [f"{head}, triangle: cannot be judged.{bars}", none]
    assert notes(usual, replace(usual, outlying=True)) == [
        f"{head}, in a diamond: stands out.{bars}", none,
    ]  # fmt: skip
    assert notes(*[usual] * 60) == [f"{head}.{bars}", none]
    assert notes(*[usual] * 61) == [f"{head}.", none]
    some = (RAYS[0], replace(RAYS[1], judged=False))
    assert notes(usual, rays=some) == [
        f"{head}.{bars} The class cannot be judged: the lines of the candidates are grey.", none,
    ]  # fmt: skip


def test_one_candidate_without_a_verdict_makes_the_lines_grey() -> None:
    some = (RAYS[0], replace(RAYS[1], judged=False))
    row = GroupRow("g", "singled_out", 1.0, (), False, False)
    for rays, said in (
        (some, "There is no verdict of the class as a whole: the lines are grey."), (RAYS, ""),
    ):  # fmt: skip
        data = ClassGroupsPicture("Cu", "Ag", 0.95, (row,), True, rays, 2.0, (), {}, "C.",
                                  (0.0, 4.0))  # fmt: skip
        assert data._notes() == said


def test_at_most_twenty_candidates_of_a_kind_are_listed() -> None:
    many = tuple(Ray(f"c{i}", f"c{i}", float(i), True, 0.5) for i in range(1, 23))
    assert "c20 20 and 2 more. Excluded (dashed): none." in rays_in_words(many)
    assert "more" not in rays_in_words(many[:20])
    grey = tuple(replace(one, judged=False) for one in many)
    assert rays_in_words(grey).endswith("c20 20 and 2 more.")
    assert "more" not in rays_in_words(grey[:20])
    assert recovery_in_words(()) == recovery_in_words(RAYS) == ""


def test_of_too_many_rays_those_compatible_or_nearest_are_named() -> None:
    rays = tuple(Ray(str(r), str(r), r, r == 9.0, 0.5) for r in (1.0, 2.0, 3.0, 9.0))
    assert [one.ratio for one in fewer(rays, 2, 2.9)] == [3.0, 9.0]
    assert [one.ratio for one in fewer(rays, 3, 1.4)] == [1.0, 2.0, 9.0]
    assert fewer(rays, 4, 1.0) is rays


@pytest.mark.parametrize(
    ("slope", "first"), [(0.75, 1), (0.3, 0), (5.0, 2), (-5.0, 0), (math.nan, 0)]
)
def test_of_fourteen_candidates_the_line_names_the_twelve_nearest(slope: float, first: int) -> None:
    """Ratios 0.1 to 1.4: from the slope on both sides, from zero where it is below or unknown."""
    rays = tuple(Ray(f"c{i}", f"c{i}", i / 10, False, 0.001) for i in range(1, 15))
    spots = (GroupSpot("g", "singled_out", 1.0, 1.0, 0.1, 0.1, False),)
    nan = math.nan
    data = ClassLinePicture("Cu", "Ag", 0.95, spots, rays, slope, nan, nan, (nan, nan), (), False,
                            "W.", "V", (0.0, 1.0), (0.0, 1.0))  # fmt: skip
    shown = {one.text for one in of_kind(data.scene(), Words)} & {one.label for one in rays}
    assert shown == {f"c{i}" for i in range(1 + first, 13 + first)}


# -- shapes and their writing -----------------------------------------------------------------


def test_shapes_of_round_numbers() -> None:
    """A line every 4 points from −4 on, rising by 4 within the box, but none shorter than 0.3."""
    assert hatching(0.0, 10.0, 0.0, 4.0, INK, 4.0) == [
        Line(((0.0, 0.0), (4.0, 4.0)), INK, 0.7), Line(((4.0, 0.0), (8.0, 4.0)), INK, 0.7),
        Line(((8.0, 0.0), (10.0, 2.0)), INK, 0.7),
    ]  # fmt: skip
    assert len(hatching(0.0, 8.29, 0.0, 4.0, INK, 4.0)) == 2
    assert len(hatching(0.0, 8.31, 0.0, 4.0, INK, 4.0)) == 3
    assert in_rows([40.0, 60.0, 50.0, 51.0], 100.0) == [[0, 1], [2], [3]]
    assert in_rows([200.0, 10.0], 100.0) == [[0], [1]]
    assert in_rows([], 100.0) == [[]]
    assert widened(10.0, 12.0, 2.0) == (10.0, 12.0)
    assert widened(10.0, 11.0, 2.0) == (9.5, 11.5)
    assert widened(19.0, 20.0, 2.0, 20.0) == (18.0, 20.0)


def test_everything_can_be_lifted() -> None:
    assert lifted(Words(1.0, 2.0, "a"), 3.0) == Words(1.0, 5.0, "a")
    assert lifted(Mark(1.0, 2.0, "circle", INK, 1.0), 3.0) == Mark(1.0, 5.0, "circle", INK, 1.0)
    assert lifted(Line(((1.0, 2.0), (3.0, 4.0))), 3.0) == Line(((1.0, 5.0), (3.0, 7.0)))
    ring = Ellipse((1.0, 2.0), (3.0, 0.0), (0.0, 3.0), INK, 1.0)
    assert lifted(ring, 3.0) == ring._replace(centre=(1.0, 5.0))


@pytest.mark.parametrize(
    ("item", "written"),
    [
        (Line(((1.0, 2.0), (3.0, 4.04)), INK, 1.5, (5.0, 3.0)),
         '<polyline points="1.0,98.0 3.0,96.0" fill="none" stroke="#1a1a1a" stroke-width="1.5" '
         'stroke-dasharray="5.0 3.0"/>'),
        (Words(1.0, 2.0, "a<", 9.0, "end", True, INK, 90.0),
         '<text x="1.0" y="98.0" font-size="9" fill="#1a1a1a" text-anchor="end" '
         'font-weight="bold" transform="rotate(-90 1.0 98.0)">a&lt;</text>'),
        (Words(1.0, 2.0, "a"), '<text x="1.0" y="98.0" font-size="9" fill="#1a1a1a">a</text>'),
        (Polygon(((1.0, 2.0), (3.0, 4.0)), INK, "#000000", 0.5),
         '<polygon points="1.0,98.0 3.0,96.0" fill="#1a1a1a" fill-opacity="0.5" '
         'stroke="#000000" stroke-width="0.9"/>'),
        (Polygon(((1.0, 2.0),), INK), '<polygon points="1.0,98.0" fill="#1a1a1a"/>'),
        (Mark(10.0, 20.0, "circle", INK, 3.0),
         '<circle cx="10.0" cy="80.0" r="3" fill="#1a1a1a" stroke="#ffffff" stroke-width="0.8"/>'),
        (Mark(10.0, 20.0, "diamond", INK, 3.0),
         '<path d="M10.0 77.0L13.0 80.0L10.0 83.0L7.0 80.0Z" fill="#1a1a1a" stroke="#ffffff" '
         'stroke-width="0.8"/>'),
    ],
)  # fmt: skip
def test_items_are_written_with_y_downwards(item: Any, written: str) -> None:
    """In a scene 100 points high."""
    assert render._element(item, 100.0) == written


def test_what_matplotlib_is_given() -> None:
    """Widths in points, dashes in line widths, a diamond √2 times its half-width."""
    mark = render._artist(Mark(10.0, 20.0, "circle", INK, 3.0))
    assert (mark.get_marker(), mark.get_markersize(), mark.get_markeredgewidth()) == ("o", 6.0, 0.8)  # type: ignore[attr-defined]
    mark = render._artist(Mark(10.0, 20.0, "diamond", INK, 3.0))
    assert mark.get_markersize() == pytest.approx(3.0 * math.sqrt(2.0), rel=1e-3)  # type: ignore[attr-defined]
    area = render._artist(Polygon(((0.0, 0.0), (1.0, 0.0), (1.0, 1.0)), "#ff0000", INK, 0.5))
    assert area.get_linewidth() == 0.9  # type: ignore[attr-defined]
    assert area.get_facecolor() == (1.0, 0.0, 0.0, 0.5)  # type: ignore[attr-defined]
    ring = render._artist(Ellipse((0.0, 0.0), (1.0, 0.0), (0.0, 1.0), INK, 1.3, 0.25))
    assert isinstance(ring, PathPatch)
    assert (ring.get_linewidth(), ring.get_facecolor()[3]) == (1.3, 0.25)
    line = render._artist(Line(((0.0, 0.0), (1.0, 1.0)), INK, 2.0, (5.0, 3.0)))
    assert line.get_linewidth() == 2.0  # type: ignore[attr-defined]
    words = render._artist(Words(1.0, 2.0, "a", 8.0, "middle", True, INK, 35.0))
    assert (words.get_ha(), words.get_rotation(), words.get_fontsize()) == ("center", 35.0, 8.0)  # type: ignore[attr-defined]


def test_a_picture_has_192_points_an_inch_if_nothing_is_said(tmp_path: Path) -> None:
    """480 points are 6⅔ inches: 1280 pixels."""
    lab = evidence("copper-silver")
    with Image.open(save_picture(lab, tmp_path / "a.png")) as image:
        assert image.size[0] == 1280
    (tmp_path / "b.png").write_bytes(png_bytes(result_figure(lab)))
    with Image.open(tmp_path / "b.png") as image:
        assert image.size[0] == 1280
