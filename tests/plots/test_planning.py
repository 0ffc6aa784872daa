"""Pictures of plans: numbers that agree with the plan, all of it inside and told in words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import cache
from xml.etree import ElementTree

import numpy as np
import pytest

from stoichkit import experiments
from stoichkit.decision.evidence import assess
from stoichkit.planning.design import design_map, with_readability
from stoichkit.planning.outcomes import Chances
from stoichkit.planning.plan import Plan, operating_characteristic
from stoichkit.planning.simulation import simulate_labs
from stoichkit.plots.labs import Dot, LabRay, LabsPicture
from stoichkit.plots.look import TRIAL
from stoichkit.plots.planning import ChancesPicture, CurvesPicture, MapPicture, sample_of
from stoichkit.plots.render import svg
from stoichkit.plots.scene import Ellipse, Line, Mark, Picture, Polygon, Scene, Words
from stoichkit.plots.writing import text_width
from stoichkit.uncertainty.sources import nominal

SILVER = experiments.load("copper-silver")
LABS = [
    ("copper-silver", 0.5, 1.0, 1),
    ("copper-silver", 0.1, 1.0, 0),
    ("copper-silver", 0.01, 0.4, 1),
    ("copper-silver", 0.0001, 1.0, 0),
    ("hydrate-heating", 0.01, 0.05, 11),
    ("hydrate-heating", 0.01, 0.05, 0),
    ("magnesium-gas", 0.001, 0.2, 1),
    ("acid-titration", 0.001, 0.05, 2),
    ("copper-plating", 0.01, 0.1, 0),
    ("tin-oxide", 0.001, 0.02, 1),
]


@cache
def labs_picture(name: str, step_g: float, factor: float, truth: int) -> LabsPicture:
    experiment = with_readability(experiments.load(name), step_g)
    amount = factor * abs(nominal(assess(experiments.load(name)).n_consumed))
    plan = Plan(experiment=experiment, consumed_mol=amount, trials=1)
    return LabsPicture.of(simulate_labs(plan, experiment.candidates[truth].name))


def chances_of_ready(name: str, factor: float) -> list[tuple[str, Chances]]:
    experiment = experiments.load(name)
    amount = factor * abs(nominal(assess(experiment).n_consumed))
    found = operating_characteristic(Plan(experiment=experiment, consumed_mol=amount))
    return list(found.chances.items())


def points(scene: Scene) -> Iterable[tuple[float, float]]:
    for item in scene.items:
        if isinstance(item, Line | Polygon):
            yield from item.points
        elif isinstance(item, Mark):
            yield from ((item.x - item.size, item.y), (item.x + item.size, item.y + item.size))
        elif isinstance(item, Ellipse):
            yield item.centre
        elif isinstance(item, Words) and item.angle == 0:
            length = text_width(item.text, item.size, bold=item.bold)
            start = item.x - {"start": 0.0, "middle": 0.5, "end": 1.0}[item.anchor] * length
            yield start, item.y
            yield start + 0.9 * length, item.y + item.size


def assert_inside(scene: Scene) -> None:
    for x, y in points(scene):
        assert -2 <= x <= scene.width + 2, (x, y)
        assert -2 <= y <= scene.height + 2, (x, y)


def check_svg(picture: Picture) -> None:
    root = ElementTree.fromstring(svg(picture))
    assert root.get("role") == "img"
    assert root.get("aria-label") == picture.alt_text


@pytest.mark.parametrize("name", ["copper-silver", "magnesium-gas", "tin-oxide"])
@pytest.mark.parametrize("width", [360.0, 480.0])
def test_bars_are_as_long_as_the_chances(name: str, width: float) -> None:
    chances = chances_of_ready(name, 0.02)
    data = ChancesPicture.of(chances, 0.9)
    scene = data.scene(width)
    assert_inside(scene)
    axis = next(
        i
        for i in scene.items
        if isinstance(i, Line)
        and len(i.points) == 2
        and i.points[0][1] == i.points[1][1]
        and i.points[1][0] - i.points[0][0] > 100
    )
    length = axis.points[1][0] - axis.points[0][0]
    dark = [i.points for i in scene.items if isinstance(i, Polygon) and i.fill == TRIAL]
    bars = [p for p in dark if p[2][1] - p[1][1] == 15.0]  # samples in the key are lower
    wanted = [found.right * length for _, found in chances if found.right * length >= 0.4]
    assert [p[1][0] - p[0][0] for p in bars] == pytest.approx(wanted, abs=0.01)
    check_svg(data)


def test_verdicts_differ_by_more_than_colour() -> None:
    kinds = {}
    for part in ("right", "not_told_apart", "none_fits", "wrong"):
        items = sample_of(part, 0.0, 40.0, 0.0, 12.0)
        kinds[part] = (sum(isinstance(i, Line) for i in items), items[0].fill)
    lines = {part: count for part, (count, _) in kinds.items()}
    assert lines["not_told_apart"] > 5
    assert lines["wrong"] == 2
    assert lines["right"] == lines["none_fits"] == 1
    assert kinds["right"][1] != kinds["none_fits"][1]


def test_many_candidates_are_told_in_few_words() -> None:
    chances = [(f"c{i}", Chances(0.1 * i, 0.01, 0.9 - 0.1 * i, 0.09 - 0.01)) for i in range(9)]
    text = ChancesPicture.of(chances, 0.9).alt_text
    assert "c8 0.80" in text
    assert "at the most: 0.01" in text
    assert len(text) < 600


@pytest.mark.parametrize(("name", "step_g", "factor", "truth"), LABS)
def test_labs_lie_inside_and_are_counted(
    name: str, step_g: float, factor: float, truth: int
) -> None:
    data = labs_picture(name, step_g, factor, truth)
    assert sum(dot.labs for dot in data.dots) == 400
    for part in ("right", "wrong", "not_told_apart", "none_fits"):
        seen = sum(dot.labs for dot in data.dots if dot.kind == part)
        assert seen == getattr(data.counts, part)
    for dot in data.dots:
        assert data.x[0] <= dot.consumed_mmol <= data.x[1]
        assert data.y[0] <= dot.produced_mmol <= data.y[1]
    for size in ((480.0, 390.0), (400.0, 320.0), (233.0, 330.0)):
        scene = data.scene(*size)
        assert_inside(scene)
    check_svg(data)


def _between_its_lines(dot: Dot, ray: LabRay) -> bool:
    (least, under), (most, over) = ray.edges_mmol
    a, b = dot.consumed_mmol, dot.produced_mmol
    return least * a - 1.0001 * under <= b <= most * a + 1.0001 * over


def test_labs_where_nothing_reacts_and_an_allowance_are_drawn() -> None:
    """Squares for labs below zero, counted in the key; a wedge for what may be recovered."""
    allowed = replace(experiments.load("copper-silver"), recovery=(0.8, 1.0))
    labs = simulate_labs(Plan(experiment=allowed, consumed_mol=0.002), "nothing reacted")
    below = labs.verdicts.below_zero.copy()
    below[:3] = True
    data = LabsPicture.of(replace(labs, verdicts=replace(labs.verdicts, below_zero=below)))
    assert data.expected_mmol == (0.0, 0.0)
    assert data.title == "400 simulated labs, nothing reacted"
    assert data.counts.cannot_be_judged == below.sum()
    assert f"{below.sum()} cannot be judged (squares)" in data.alt_text
    assert "Nothing reacted in these labs" in data.words
    words = [i.text for i in data.scene().items if isinstance(i, Words)]
    assert f"cannot be judged: below zero: {below.sum()} of 400" in words
    assert [edge[0] for edge in data.rays[1].edges_mmol] == [1.6, 2.0]


@pytest.mark.parametrize(("name", "step_g", "factor", "truth"), LABS)
def test_a_lab_between_the_lines_of_one_candidate_only_singles_it_out(
    name: str, step_g: float, factor: float, truth: int
) -> None:
    """The dotted lines and the verdicts agree, up to what scatter and shared weights change."""
    data = labs_picture(name, step_g, factor, truth)
    agree = 0
    for dot in data.dots:
        kept = [ray.name for ray in data.rays if _between_its_lines(dot, ray)]
        kind = (
            "none_fits" if not kept
            else "not_told_apart" if len(kept) > 1
            else "right" if kept[0] == data.truth
            else "wrong"
        )  # fmt: skip
        agree += dot.labs * (kind == dot.kind)
    assert agree >= 390


def test_the_lattice_of_a_coarse_balance_is_seen() -> None:
    data = labs_picture("copper-silver", 0.1, 1.0, 0)
    columns = {round(dot.consumed_mmol, 6) for dot in data.dots}
    steps = np.diff(sorted(columns))
    assert len(data.dots) < 60
    np.testing.assert_allclose(steps, 1000 * 0.1 / 63.546, rtol=1e-3)  # one display step of copper


def test_edges_stay_while_the_balance_changes() -> None:
    fine, finer = (labs_picture("copper-silver", s, 1.0, 0) for s in (0.001, 0.0001))
    assert (fine.x, fine.y) == (finer.x, finer.y)
    assert fine.x[0] == 0.0


def test_alt_text_tells_what_the_labs_say() -> None:
    data = labs_picture("copper-silver", 0.1, 1.0, 0)
    text = data.alt_text
    assert "400 simulated labs" in text
    assert "copper(I) is true" in text
    assert f"{data.counts.not_told_apart} cannot tell (open circles)" in text
    assert "e−" not in text


@cache
def design():
    found = design_map(
        SILVER,
        masses_g=np.geomspace(0.0005, 3, 60),
        readabilities_g=np.geomspace(0.0001, 1, 33),
        trials=2,
    )
    asked = {"marked_g": [0.1, 0.01, 0.001], "planned": (0.05, 0.01)}
    return found, MapPicture.of(found, SILVER, **asked), CurvesPicture.of(found, SILVER, **asked)


def test_marks_of_the_map_are_those_of_the_design() -> None:
    found, data, _ = design()
    assert [step for step, _ in data.marked] == [0.001, 0.01, 0.1]
    for step, mass in data.marked:
        row = int(np.argmin(np.abs(np.log(found.readabilities_g / step))))
        column = int(np.flatnonzero(found.masses_g == mass)[0])
        assert found.chance[row, column] >= 0.9 > found.chance[row, column - 1]


def test_map_is_darker_where_the_chance_is_smaller() -> None:
    _, data, _ = design()
    scene = data.scene(480.0, 330.0)
    assert_inside(scene)
    key = [i.fill for i in scene.items if isinstance(i, Polygon)][-5:]
    grey = [int(fill[1:3], 16) for fill in key]
    assert grey == sorted(grey)
    assert len(set(grey)) == 5
    assert all(fill[1:3] == fill[3:5] == fill[5:7] for fill in key)
    check_svg(data)


def test_contour_runs_where_the_target_is_met() -> None:
    _, data, _ = design()
    scene = data.scene(480.0, 330.0)
    contour = max((i for i in scene.items if isinstance(i, Line)), key=lambda i: i.width)
    assert len(contour.points) > 20
    slope = np.polyfit(*np.array(contour.points).T, 1)[0]
    across = (480.0 - 116.0) / np.log(3 / 0.0005)
    up = (330.0 - 88.0) / (np.log(1 / 0.0001) * 33 / 32)
    assert slope == pytest.approx(up / across, rel=0.05)  # the smallest mass is so many steps


@pytest.mark.parametrize("size", [(480.0, 330.0), (233.0, 330.0)])
def test_a_map_says_where_its_numbers_are(size: tuple[float, float]) -> None:
    """The limits are logarithms: the circles of the balances at hand lead back to their masses."""
    _, data, curves = design()
    scene = data.scene(*size)
    assert_inside(scene)
    assert_inside(curves.scene(*size))
    (left, right), (low, high) = scene.x_limits, scene.y_limits
    marks = [i for i in scene.items if isinstance(i, Mark)]
    found = [
        (
            10 ** (left + one.x / scene.width * (right - left)),
            10 ** (low + one.y / scene.height * (high - low)),
        )
        for one in marks[:4]
    ]
    wanted = [(mass, step) for step, mass in data.marked] + [(0.05, 0.01)]
    np.testing.assert_allclose(found, wanted, rtol=1e-9)


def test_curves_differ_by_more_than_colour_and_are_labelled() -> None:
    _, _, data = design()
    scene = data.scene(480.0, 290.0)
    assert_inside(scene)
    curves = [i for i in scene.items if isinstance(i, Line) and len(i.points) > 10]
    assert len({(c.width, c.dashes) for c in curves}) == len(curves) == 3
    words = {i.text for i in scene.items if isinstance(i, Words)}
    assert {"0.001 g", "0.01 g", "0.1 g", "target 0.9"} <= words
    check_svg(data)


def test_descriptions_name_the_balances_and_the_plan() -> None:
    _, area, curves = design()
    assert "The plan, 0.05 g on a balance read to 0.01 g, is a diamond." in area.alt_text
    for step in ("0.001 g", "0.01 g", "0.1 g"):
        assert f"Read to {step}: " in curves.alt_text
        assert f"reads to {step}" in area.alt_text


def test_hostile_names_stay_text() -> None:
    bars = ChancesPicture.of([('<b>&"', Chances(0.5, 0.1, 0.3, 0.1))], 0.9)
    text = svg(bars)
    assert "<b>" not in text
    ElementTree.fromstring(text)
