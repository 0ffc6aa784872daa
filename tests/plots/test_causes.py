"""Pictures of causes: lengths that agree with the amounts, told in words, apart without colour."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import pairwise
from xml.etree import ElementTree

import pytest

from stoichkit import experiments
from stoichkit.decision.evidence import Evidence, assess
from stoichkit.diagnosis.causes import Cause, causes_for, combine
from stoichkit.diagnosis.effects import effect_named
from stoichkit.plots.causes import CombinationPicture, EffectsPicture
from stoichkit.plots.look import BAR, TRIAL
from stoichkit.plots.render import svg
from stoichkit.plots.scene import Item, Line, Mark, Picture, Polygon, Scene, Words
from stoichkit.plots.writing import text_width
from tests.plots.cases import HOSTILE
from tests.plots.cases import evidence as case

LABS = [
    ("copper-silver", "copper(I)"),
    ("copper-silver", "copper(II)"),
    ("copper-silver-coarse", "copper(I)"),
    ("copper-plating", "copper(I)"),
    ("hydrate-heating", "MgSO4·3H2O"),
    ("magnesium-gas", "magnesium(III)"),
    ("acid-titration", "diprotic"),
    ("tin-oxide", "SnO"),
]


@cache
def lab(name: str) -> Evidence:
    return assess(experiments.load(name))


@cache
def causes(name: str, candidate: str) -> tuple[Cause, ...]:
    return causes_for(lab(name), candidate)


def bars(name: str, candidate: str) -> EffectsPicture:
    return EffectsPicture.of(causes(name, candidate))


def plane(name: str, candidate: str, *keys: str) -> CombinationPicture:
    pair = [effect_named(lab(name).experiment, key) for key in keys]
    return CombinationPicture.of(combine(lab(name), candidate, *pair))


def assert_inside(scene: Scene) -> None:
    for item in scene.items:
        points = getattr(item, "points", ())
        if isinstance(item, Words) and not item.angle:
            length = text_width(item.text, item.size, bold=item.bold)
            start = item.x - {"start": 0.0, "middle": 0.5, "end": 1.0}[item.anchor] * length
            points = ((start, item.y), (start + 0.9 * length, item.y + item.size))
        for x, y in points:
            assert -2 <= x <= scene.width + 2, item
            assert -2 <= y <= scene.height + 2, item


def check_svg(picture: Picture) -> None:
    root = ElementTree.fromstring(svg(picture))
    assert root.get("role") == "img"
    assert root.get("aria-label") == picture.alt_text


def filled(scene: Scene, ink: str) -> list[tuple[float, float]]:
    """Return the ends of the boxes of one colour, without those of the key."""
    found = [i.points for i in scene.items if isinstance(i, Polygon) and i.fill == ink]
    return [(p[0][0], p[1][0]) for p in found if p[2][1] - p[1][1] == pytest.approx(9.0)][
        : sum(i.text.startswith(("possible", "not needed")) for i in words(scene))
    ]


def words(scene: Scene) -> list[Words]:
    return [item for item in scene.items if isinstance(item, Words)]


@pytest.mark.parametrize(("name", "candidate"), LABS)
@pytest.mark.parametrize("width", [233.0, 360.0, 480.0])
def test_bars_lie_inside_and_are_described(name: str, candidate: str, width: float) -> None:
    data = bars(name, candidate)
    scene = data.scene(width)
    assert_inside(scene)
    check_svg(data)
    said = " ".join(one.text for one in words(scene))
    for bar in data.bars:
        assert bar.words in said
        assert bar.name in data.alt_text


@pytest.mark.parametrize(("name", "candidate"), LABS)
@pytest.mark.parametrize("width", [233.0, 304.0, 373.0, 480.0])
def test_words_do_not_lie_over_one_another(name: str, candidate: str, width: float) -> None:
    lines: dict[float, list[tuple[float, float]]] = {}
    for one in words(bars(name, candidate).scene(width)):
        length = text_width(one.text, one.size, bold=one.bold)
        start = one.x - {"start": 0.0, "middle": 0.5, "end": 1.0}[one.anchor] * length
        lines.setdefault(round(one.y, 1), []).append((start, start + length))
    for found in lines.values():
        found.sort()
        assert all(end <= start for (_, end), (start, _) in pairwise(found))


@pytest.mark.parametrize(("name", "candidate"), LABS)
def test_bars_are_pointed_at_where_their_diamonds_are(name: str, candidate: str) -> None:
    data = bars(name, candidate)
    for width in (233.0, 480.0):
        marks = [i for i in data.scene(width).items if isinstance(i, Mark)]
        at = dict(zip(data.bars, data.places(width), strict=True))
        right = width - 18.0
        exact = [place for bar, place in at.items() if bar.needed >= 0 and place[0] < right]
        for mark, (x, y) in zip(marks, exact, strict=False):
            assert (mark.x, mark.y) == pytest.approx((x, y))
        assert {x for bar, (x, _) in at.items() if bar.needed < 0} <= {34.0}


@pytest.mark.parametrize(("name", "candidate"), LABS)
def test_kinds_and_percentages_are_those_of_the_causes(name: str, candidate: str) -> None:
    for cause, bar in zip(causes(name, candidate), bars(name, candidate).bars, strict=True):
        assert (bar.kind in ("possible", "free")) == cause.possible
        assert (bar.kind == "possible") == cause.explains
        assert (bar.kind == "wrong way") == (cause.high < 0)
        assert bar.needed == pytest.approx(100 * cause.fraction)
        assert bar.most * cause.needed == pytest.approx(bar.needed * cause.most)
        assert bar.of == {"produced": "product", "consumed": "consumed"}[cause.fraction_of]


def test_filled_bars_are_as_long_as_the_possible_ranges() -> None:
    """The scale is read from the numbers of the axis."""
    data = bars("copper-silver", "copper(I)")
    scene = data.scene(480.0)
    ticks = {w.text: w.x for w in words(scene) if w.text in ("0", "100")}
    step = (ticks["100"] - ticks["0"]) / 100.0
    wanted = [
        (100 * c.fraction_low, 100 * c.fraction_high)
        for c in causes("copper-silver", "copper(I)")
        if c.explains
    ]
    found = [((a - ticks["0"]) / step, (b - ticks["0"]) / step) for a, b in filled(scene, TRIAL)]
    assert len(found) == 4
    for ends, right in zip(found, wanted, strict=True):
        assert ends == pytest.approx(right, abs=0.05)
    marks = [(i.x - ticks["0"]) / step for i in scene.items if isinstance(i, Mark)][:4]
    needed = [100 * c.fraction for c in causes("copper-silver", "copper(I)") if c.explains]
    assert marks == pytest.approx(needed, abs=0.05)


def test_an_effect_that_is_not_enough_is_hatched_and_says_so() -> None:
    wet = causes("copper-silver", "copper(I)")[0]
    scarce = replace(wet, most=0.5 * wet.low)
    data = EffectsPicture.of([scarce])
    assert data.bars[0].kind == "too much"
    assert data.bars[0].words == "not possible: 0.19 g needed, 0.094 g at most"
    scene = data.scene(480.0)
    slanting = [i for i in scene.items if isinstance(i, Line) and slants(i)]
    fits = EffectsPicture.of([wet]).scene(480.0)
    assert len(slanting) > len([i for i in fits.items if isinstance(i, Line) and slants(i)]) + 5
    assert filled(scene, TRIAL) == []
    assert "More than the masses allow: product not dry" in data.alt_text


def slants(item: Line) -> bool:
    (x0, y0), (x1, y1) = item.points[:2]
    return len(item.points) == 2 and x0 != x1 and y0 != y1


def test_part_of_a_range_that_is_possible_is_filled_and_the_rest_hatched() -> None:
    wet = causes("copper-silver", "copper(I)")[0]
    half = replace(wet, most=wet.needed)
    whole, part = (EffectsPicture.of([c]).scene(480.0) for c in (wet, half))
    (a, b), (c, d) = filled(whole, TRIAL)[0], filled(part, TRIAL)[0]
    assert (d - c) == pytest.approx((b - a) / 2, abs=0.1)


def test_nothing_measured_gives_words_without_bars() -> None:
    evidence = case("negative")
    found = causes_for(evidence, next(iter(evidence.candidates)))
    scene = EffectsPicture.of(found).scene(480.0)
    assert_inside(scene)
    assert len(words(scene)) > len(found)


def test_a_lab_without_effects_is_said_to_have_none() -> None:
    assert EffectsPicture.of([]).alt_text == "No effect is known for this kind of lab."
    assert_inside(EffectsPicture.of([]).scene(480.0))


PAIRS = [
    ("copper-silver", "copper(I)", "wet product", "residue salt"),
    ("copper-silver", "copper(I)", "lost product", "damp vessel"),
    ("copper-silver", "copper(II)", "wet product", "lost product"),
    ("copper-plating", "copper(I)", "deposit lost", "hydrogen evolved"),
    ("hydrate-heating", "MgSO4·3H2O", "decomposed", "spitting"),
    ("acid-titration", "diprotic", "overshot", "impure metal"),
]


@pytest.mark.parametrize("pair", PAIRS, ids=lambda p: f"{p[1]} {p[2]}")
@pytest.mark.parametrize("size", [(480.0, 330.0), (360.0, 300.0), (233.0, 330.0)])
def test_planes_lie_inside_and_are_described(
    pair: tuple[str, str, str, str], size: tuple[float, float]
) -> None:
    data = plane(*pair)
    scene = data.scene(*size)
    assert_inside(scene)
    check_svg(data)
    assert data.words in data.alt_text


@pytest.mark.parametrize("pair", PAIRS, ids=lambda p: f"{p[1]} {p[2]}")
def test_the_band_is_drawn_where_pairs_are_compatible_and_possible(
    pair: tuple[str, str, str, str],
) -> None:
    """Middle of the drawn band, turned back into amounts, against the combination itself."""
    name, candidate, *keys = pair
    found = combine(
        lab(name), candidate, *[effect_named(lab(name).experiment, key) for key in keys]
    )
    scene = CombinationPicture.of(found).scene(480.0, 330.0)
    areas = [i.points for i in scene.items if isinstance(i, Polygon) and i.fill == BAR][:-1]
    assert len(areas) == bool(found.band)
    for corners in areas:
        x = sum(p[0] for p in corners) / len(corners)
        y = sum(p[1] for p in corners) / len(corners)
        a = scene.x_limits[0] + x / scene.width * (scene.x_limits[1] - scene.x_limits[0])
        b = scene.y_limits[0] + y / scene.height * (scene.y_limits[1] - scene.y_limits[0])
        assert found.possible(a, b)
        assert found.compatible(a, b)


def test_a_pair_that_cannot_do_it_says_so_in_the_picture() -> None:
    data = plane("copper-silver", "copper(I)", "lost product", "damp vessel")
    assert not data.band
    said = [w.text for w in words(data.scene(480.0, 330.0))]
    assert "no possible pair of amounts makes it fit" in said
    assert data.alt_text.endswith("would make copper(I) fit.")


def test_no_room_is_not_told_as_if_the_candidate_did_not_fit() -> None:
    """With a slip, more copper was left than there had been: nothing was measured as consumed."""
    slipped = lab("copper-silver").experiment.with_reading("bench 3", "wire before", "1.34")
    pair = [effect_named(slipped, key) for key in ("wet product", "lost product")]
    data = CombinationPicture.of(combine(assess(slipped), "copper(II)", *pair))
    assert data.fits
    assert not data.band
    assert data.words.startswith("copper(II) fits without product not dry and product left")
    said = [w.text for w in words(data.scene(480.0, 330.0))]
    assert "no room for these effects" in said


def test_line_band_and_the_impossible_differ_by_more_than_colour() -> None:
    data = plane("copper-silver", "copper(I)", "wet product", "residue salt")
    scene = data.scene(480.0, 330.0)
    widths = {i.width for i in scene.items if isinstance(i, Line)}
    assert 2.2 in widths
    said = {w.text for w in words(scene)}
    assert {"fits exactly", "fits within the uncertainty", "more than the masses allow"} <= said
    assert "0.20 g; 0 g" in said


@pytest.mark.parametrize("candidate", list(HOSTILE))
def test_hostile_names_stay_text(candidate: str) -> None:
    evidence = case("hostile")
    found = causes_for(evidence, candidate, residue="AgNO3")
    data = EffectsPicture.of(found)
    pair = CombinationPicture.of(combine(evidence, candidate, found[0].effect, found[2].effect))
    for picture in (data, pair):
        scene, text = picture.scene(), svg(picture)
        assert "<b>" not in text
        assert "<img" not in text
        ElementTree.fromstring(text)
        assert_inside(scene)
        assert all(isinstance(item, Item) for item in scene.items)
