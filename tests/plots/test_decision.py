"""The amounts plane: its numbers agree with the evidence, and its description says what is seen."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from uncertainties import covariance_matrix

from stoichkit.plots.decision import DecisionPicture
from stoichkit.plots.look import DASHES, GREY, GRID, INK, SHADE
from stoichkit.plots.scene import Ellipse, Line, Mark, Polygon, Words
from stoichkit.plots.writing import text_width

from .cases import NAMES, evidence


def picture(name: str) -> DecisionPicture:
    return DecisionPicture.of(evidence(name))


@pytest.mark.parametrize("name", NAMES)
def test_a_ray_crosses_the_region_exactly_when_its_candidate_is_compatible(name: str) -> None:
    data, found = picture(name), evidence(name)
    assert data.exact
    for ray in data.rays:
        assert ray.compatible is data.spots[-1].crossed_by(ray.at)
    judged = {r.name for r in data.rays if r.compatible and r.judged}
    assert judged == set(found.verdict.candidates)


def test_what_cannot_be_judged_is_grey_and_says_so() -> None:
    for name, words in (
        ("reversed", "Cannot be judged: Cu and Ag below zero"),
        ("drifting", "Cannot be judged: mass still changing at crucible + residue (trial 1)"),
    ):
        data = picture(name)
        assert not data.judged
        assert data.headline == words
        assert data.alt_text.startswith(f"Amounts plane. {words}, at 95 % coverage.")
        scene = data.scene()
        inks = {i.ink for i in scene.items if isinstance(i, Ellipse)}
        inks |= {i.ink for i in scene.items if isinstance(i, Mark)}
        assert inks == {GREY}
        assert not any(i.bold for i in scene.items if isinstance(i, Words))
        lines = [i for i in scene.items if isinstance(i, Line)]
        assert not any(i.dashes or (i.ink == INK and i.width >= 1.8) for i in lines)
        shown = " ".join(i.text for i in scene.items if isinstance(i, Words))
        assert "candidate, not judged" in shown
        assert "cannot be judged, so no ray counts" in shown
        assert "is compatible" not in shown


def test_a_doubt_is_in_the_headline() -> None:
    data = picture("doubted")
    assert data.headline == "Singled out: iron(II), unless the trials truly differ"
    assert data.headline in data.alt_text


def test_a_recovery_allowance_is_a_band_below_each_ray() -> None:
    """The mean of 85 % to 100 % recovered lies in the band of copper(II), off its ray."""
    data = picture("recovery")
    ray = next(r for r in data.rays if r.compatible)
    assert ray.allowed == pytest.approx((1.7, 2.0))
    assert not data.spots[-1].crossed_by(ray.ratio)
    scene = data.scene()
    bands = [i for i in scene.items if isinstance(i, Polygon)]
    assert [band.fill for band in bands] == [SHADE, GRID]  # the excluded one below
    assert "From 85 % to 100 % of the product may have been recovered" in data.alt_text
    assert "is crossed by the band of copper(II)" in data.alt_text


@pytest.mark.parametrize("name", ["copper-silver", "hydrate-heating", "acid-titration"])
def test_region_agrees_with_the_covariance_matrix_of_uncertainties(name: str) -> None:
    """Outside check: uncertainties.covariance_matrix, of the package uncertainties."""
    data, found = picture(name), evidence(name)
    assert data.mean is not None
    assert not (found.scatter and found.scatter.excess)
    pairs = [(data.mean, (found.n_consumed, found.n_produced), data.factor)]
    pairs += [
        (spot, pair, data.trial_factor)
        for spot, pair in zip(data.trials, found.amounts, strict=True)
    ]
    for spot, amounts, factor in pairs:
        expected = np.array(covariance_matrix(amounts)) * 1e6
        axes = np.array([spot.u, spot.v]).T / factor
        np.testing.assert_allclose(axes @ axes.T, expected, rtol=1e-9, atol=1e-18)
        assert spot.consumed_u_mmol == pytest.approx(math.sqrt(expected[0, 0]), rel=1e-9)


@pytest.mark.parametrize("name", ["scatter", "shared fault", "copper-silver", "tin-oxide"])
def test_half_width_along_each_candidate_is_the_evidence_s_uncertainty(name: str) -> None:
    data, found = picture(name), evidence(name)
    spot = data.spots[-1]
    for candidate in found.candidates.values():
        r = candidate.tested_ratio
        half = math.hypot(spot.u[1] - r * spot.u[0], spot.v[1] - r * spot.v[0])
        expected = 1000 * data.factor * candidate.standard_uncertainty_mol
        # sources below 1e-4 of the whole are merged in the exact distribution
        assert half == pytest.approx(expected, rel=1e-5)


@pytest.mark.parametrize("name", ["copper-silver", "copper-silver-coarse", "eight", "no noise"])
def test_rays_at_the_limits_of_the_ratio_set_touch_the_region(name: str) -> None:
    spot = picture(name).spots[-1]
    for interval in evidence(name).ratio_set.intervals:
        for limit, outwards in ((interval.low, -1), (interval.high, 1)):
            width = interval.high - interval.low
            assert spot.crossed_by(limit - outwards * 0.05 * width)
            assert not spot.crossed_by(limit + outwards * 0.05 * width)


def test_trials_keep_the_region_of_the_instruments_when_they_scatter_too_much() -> None:
    data = picture("scatter")
    assert data.trial_factor == pytest.approx(1.959964, rel=1e-6)  # normal table, 95 %
    assert data.mean is not None
    assert data.mean.reach[0] > data.trials[0].reach[0]


def test_single_trial_has_no_mean() -> None:
    data = picture("open")
    assert data.mean is None
    assert len(data.trials) == 1
    assert not data.resolved


@pytest.mark.parametrize("name", NAMES)
def test_description_names_verdict_axes_and_every_candidate(name: str) -> None:
    data = picture(name)
    text = data.alt_text
    assert f"amount of {data.consumed} consumed in mmol" in text
    assert f"amount of {data.produced} produced in mmol" in text
    assert f"at {100 * data.coverage:g} % coverage" in text
    if not data.judged:
        grey = text.split("Candidates, none of which is judged (grey): ")[1]
        assert all(ray.name in grey for ray in data.rays)
        assert "Compatible" not in text
        assert "Excluded" not in text
        return
    solid = text.split("Compatible (solid): ")[1].split("Excluded (dashed): ")
    if name != "sixty":
        for ray in data.rays:
            assert ray.name in solid[0 if ray.compatible else 1]
    assert "below zero" in text or all(
        v >= r for s in data.spots for v, r in zip(s.place, s.reach, strict=True)
    )


def test_description_of_the_ready_lab() -> None:
    text = picture("copper-silver").alt_text
    assert text.startswith("Amounts plane. Singled out: copper(II), at 95 % coverage.")
    assert "Compatible (solid): copper(II) 2. Excluded (dashed): copper(I) 1." in text
    assert "Mean of the trials: 1.770 ± 0.064 mmol across and 3.662 ± 0.038 mmol up." in text
    assert "is crossed by the ray of copper(II)" in text


def test_description_says_that_an_amount_is_not_told_from_zero() -> None:
    text = picture("open").alt_text
    assert "A region reaches below zero; that part is shaded." in text
    assert "The amount of Cu consumed is not told apart from zero." in text


def inside(point: tuple[float, float], width: float, height: float) -> bool:
    return -1 <= point[0] <= width + 1 and -1 <= point[1] <= height + 1


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize(("width", "height"), [(480.0, 330.0), (340.0, 280.0)])
def test_everything_lies_within_the_picture(name: str, width: float, height: float) -> None:
    scene = picture(name).scene(width, height)
    for item in scene.items:
        if isinstance(item, Line):
            assert all(inside(p, width, height) for p in item.points), item
        elif isinstance(item, Ellipse):
            reach = math.hypot(item.u[0], item.v[0]), math.hypot(item.u[1], item.v[1])
            for sign in (-1, 1):
                corner = (item.centre[0] + sign * reach[0], item.centre[1] + sign * reach[1])
                assert inside(corner, width, height), item
        elif isinstance(item, Words) and item.angle == 0:
            length = text_width(item.text, item.size, bold=item.bold)
            start = item.x - {"start": 0.0, "middle": 0.5, "end": 1.0}[item.anchor] * length
            assert inside((start, item.y), width, height), item
            assert inside((start + 0.97 * length, item.y + item.size), width, height), item


@pytest.mark.parametrize("name", ["copper-silver", "eight", "hydrate-heating", "sixty"])
def test_labels_of_rays_do_not_collide(name: str) -> None:
    data = picture(name)
    scene = data.scene(480.0, 330.0)
    names = {ray.label for ray in data.rays}
    labels = [i for i in scene.items if isinstance(i, Words) and i.text in names]
    assert len(labels) == min(len(data.rays), 20)
    aside = sorted(i.y for i in labels if i.angle == 0 and i.anchor == "start")
    assert all(b - a >= 9.0 for a, b in pairwise(aside))
    slanted = sorted(i.x for i in labels if i.angle)
    assert all((b - a) * math.sin(math.radians(35)) >= 9.0 for a, b in pairwise(slanted))
    level = sorted((i for i in labels if i.anchor == "middle"), key=lambda i: i.x)
    for a, b in pairwise(level):
        half = text_width(a.text, a.size, bold=a.bold) / 2
        assert a.x + half < b.x - text_width(b.text, b.size, bold=b.bold) / 2


def test_left_out_labels_are_counted() -> None:
    scene = picture("sixty").scene(480.0, 330.0)
    words = " ".join(i.text for i in scene.items if isinstance(i, Words))
    assert "40 rays are not labelled" in words


@pytest.mark.parametrize("name", ["copper-silver", "open"])
def test_rays_meet_at_zero_and_differ_by_more_than_colour(name: str) -> None:
    data = picture(name)
    scene = data.scene(480.0, 330.0)
    x, y = (
        -limits[0] / (limits[1] - limits[0]) * size
        for limits, size in ((scene.x_limits, scene.width), (scene.y_limits, scene.height))
    )
    from_zero = [
        i
        for i in scene.items
        if isinstance(i, Line)
        and i.points[0] == pytest.approx((x, y), abs=1e-6)
        and i.points[-1][0] > x + 30
        and i.points[-1][1] > y + 30
    ]
    solid = [i for i in from_zero if i.dashes is None]
    dashed = [i for i in from_zero if i.dashes == DASHES]
    assert len(solid) == sum(ray.compatible for ray in data.rays)
    assert len(dashed) == sum(not ray.compatible for ray in data.rays)
    assert all(s.width > d.width for s in solid for d in dashed)
    for ray in data.rays:
        slopes = [
            (i.points[-1][1] - y)
            / (i.points[-1][0] - x)
            * (scene.y_limits[1] - scene.y_limits[0])
            / scene.height
            / ((scene.x_limits[1] - scene.x_limits[0]) / scene.width)
            for i in (solid if ray.compatible else dashed)
        ]
        assert any(s == pytest.approx(ray.ratio, rel=1e-6) for s in slopes)
