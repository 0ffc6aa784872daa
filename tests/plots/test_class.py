"""Pictures of a class: numbers that agree with it, all of it inside, told in words as well."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from itertools import pairwise
from xml.etree import ElementTree

import pytest

from stoichkit import experiments
from stoichkit.classroom.result import ClassResult, assess_class
from stoichkit.errors import ModelError
from stoichkit.plots.class_groups import MOST_NAMED, ClassGroupsPicture
from stoichkit.plots.class_line import ClassLinePicture
from stoichkit.plots.render import svg
from stoichkit.plots.scene import Ellipse, Line, Mark, Polygon, Scene, Words
from stoichkit.plots.writing import text_width
from tests.classfiles import ROWS, class_bytes, csv_bytes

SIZES = [8, 30, 60]


@cache
def class_of(groups: int, name: str = "bench {}", gain_g: float = 0.0) -> ClassResult:
    return assess_class(class_bytes(groups, name=name, gain_g=gain_g), "copper-silver")


@cache
def demo() -> ClassResult:
    return assess_class(experiments.class_file(), "copper-silver")


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
            yield from ((start, item.y), (start + length, item.y + item.size))


def words_of(scene: Scene) -> list[str]:
    return [item.text for item in scene.items if isinstance(item, Words)]


def assert_inside(scene: Scene) -> None:
    for x, y in points(scene):
        assert -1.0 <= x <= scene.width + 1.0
        assert -1.0 <= y <= scene.height + 1.0


@pytest.mark.parametrize("groups", SIZES)
@pytest.mark.parametrize("width", [300.0, 480.0])
def test_everything_stays_inside(groups: int, width: float) -> None:
    result = class_of(groups)
    assert_inside(ClassGroupsPicture.of(result).scene(width))
    assert_inside(ClassLinePicture.of(result).scene(width, 300.0))


@pytest.mark.parametrize("groups", SIZES)
def test_rows_are_the_groups_with_their_ratios_and_sets(groups: int) -> None:
    result = class_of(groups)
    data = ClassGroupsPicture.of(result)
    evidence = result.evidence
    by_name = {row.name: row for row in data.rows}
    assert set(by_name) == set(evidence.names)
    for i, name in enumerate(evidence.names):
        row = by_name[name]
        assert row.ratio == pytest.approx(evidence.ratio[i])
        assert row.kind == evidence.kinds[i]
        inside = [any(a <= ray.ratio <= b for a, b in row.intervals) for ray in data.rays]
        fits = [ray.name in evidence.fitting[i] for ray in data.rays]
        assert inside == fits


def test_large_classes_are_an_ordered_strip_of_bounded_height_without_names() -> None:
    data = ClassGroupsPicture.of(class_of(60))
    assert not data.named
    ratios = [row.ratio for row in data.rows]
    assert ratios == sorted(ratios)
    scene = data.scene(480.0)
    assert scene.height < 650
    assert not any(text.startswith("bench") for text in words_of(scene))
    assert any("in order of their ratio" in text for text in words_of(scene))
    named = ClassGroupsPicture.of(class_of(MOST_NAMED)).scene(480.0)
    assert "bench 40" in words_of(named)


def test_names_in_rows_do_not_overlap() -> None:
    scene = ClassGroupsPicture.of(class_of(30)).scene(480.0)
    heights = sorted(
        item.y for item in scene.items if isinstance(item, Words) and item.text.startswith("bench")
    )
    assert min(b - a for a, b in pairwise(heights)) >= 9.0


def test_a_group_that_stands_out_has_another_shape_and_words() -> None:
    scene = ClassGroupsPicture.of(demo()).scene(480.0)
    assert "stands out, slip?" in words_of(scene)
    assert "stands out: 1" in words_of(scene)
    line = ClassLinePicture.of(demo()).scene(480.0, 330.0)
    assert "plum" in words_of(line)
    assert "plum" in ClassGroupsPicture.of(demo()).alt_text
    assert "plum" in ClassLinePicture.of(demo()).alt_text


def test_kinds_of_verdicts_are_counted_in_the_key() -> None:
    words = words_of(ClassGroupsPicture.of(demo()).scene(480.0))
    assert "singles out one candidate: 7 of 9" in words
    assert "cannot tell: 1 of 9" in words
    assert "fits none: 1 of 9" in words


def test_alt_texts_tell_the_verdict_the_class_and_the_candidates() -> None:
    data = ClassGroupsPicture.of(demo())
    alt = data.alt_text
    assert "7 of 9 groups single out" in alt
    assert "copper(II) 2" in alt
    verdict = demo().verdict
    assert verdict is not None
    assert f"{verdict.ratio_set.low:.2f}".rstrip("0") in alt
    line = ClassLinePicture.of(demo()).alt_text
    assert "slope" in line
    assert "not told apart from zero" in line


def test_the_band_holds_the_line_and_narrows_with_more_groups() -> None:
    few, many = ClassLinePicture.of(class_of(8)), ClassLinePicture.of(class_of(60))
    for data in (few, many):
        for x, low, high in data.band:
            assert low < data.intercept_mmol + data.slope * x < high
    assert min(c - b for _, b, c in many.band) < min(c - b for _, b, c in few.band)
    half = (few.band[0][2] - few.band[0][1]) / 2
    assert half == pytest.approx(
        (few.intercept_range_mmol[1] - few.intercept_range_mmol[0]) / 2, rel=0.05
    )


def test_a_blank_is_marked_and_named() -> None:
    data = ClassLinePicture.of(class_of(30, "bench {}", 0.05))
    assert data.blank
    assert data.intercept_mmol == pytest.approx(1e3 * 0.05 / 107.868, rel=0.25)
    words = words_of(data.scene(480.0, 330.0))
    assert any(text.startswith("blank ") and "not told" not in text for text in words)
    none = words_of(ClassLinePicture.of(class_of(30)).scene(480.0, 330.0))
    assert any("not told from 0" in text for text in none)


def test_without_a_line_the_picture_says_so() -> None:
    alike = assess_class(csv_bytes(ROWS), "copper-silver")
    data = ClassLinePicture.of(alike)
    assert data.band == ()
    assert "No straight line was drawn." in words_of(data.scene(480.0, 330.0))


def test_without_a_verdict_there_are_groups_but_no_line() -> None:
    one = assess_class(csv_bytes(ROWS[:2]), "copper-silver")
    data = ClassGroupsPicture.of(one)
    assert "the class" not in words_of(data.scene(480.0))
    assert "of 1 group, one row" in data.alt_text
    assert "none of which is judged (grey)" in data.alt_text
    assert "There is no verdict of the class as a whole: the lines are grey." in data._notes()
    with pytest.raises(ModelError, match="no verdict"):
        ClassLinePicture.of(one)


def test_groups_that_consumed_nothing_have_no_mark_but_a_row() -> None:
    rows = [*ROWS, ("grey", "1", "2.90", "2.90", "0.70", "0.71")]
    data = ClassGroupsPicture.of(assess_class(csv_bytes(rows), "copper-silver"))
    scene = data.scene(480.0)
    assert "grey" in words_of(scene)
    assert any("nothing was consumed" in text for text in words_of(scene))
    assert_inside(scene)


def test_progress_is_told_and_can_stop_the_sets() -> None:
    told: list[tuple[int, int]] = []
    ClassGroupsPicture.of(demo(), progress=lambda done, total: told.append((done, total)))
    assert told == [(i, 9) for i in range(1, 10)]
    short = ClassGroupsPicture.of(demo(), progress=lambda done, _total: done >= 2)
    assert sum(bool(row.intervals) for row in short.rows) == 2


def test_hostile_names_are_text_only() -> None:
    result = class_of(8, '<script>alert("{}")</script>&')
    data = ClassGroupsPicture.of(result)
    root = ElementTree.fromstring(svg(data))
    assert not [e for e in root.iter() if "script" in e.tag]
    assert any("<script>" in (e.text or "") for e in root.iter())
