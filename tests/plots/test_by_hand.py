"""Places in pictures that stand for numbers, each worked out by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from stoichkit import experiments
from stoichkit.classroom.result import assess_class
from stoichkit.planning.outcomes import Chances
from stoichkit.plots import CellsPicture, ChancesPicture
from stoichkit.plots.class_line import ClassLinePicture, _ends
from stoichkit.plots.plane import spread
from stoichkit.plots.planning import _crossing
from stoichkit.plots.render import _round
from stoichkit.plots.scene import Ellipse, Line, Scene, stacked
from stoichkit.plots.writing import number


def test_the_mass_at_the_target_lies_between_two_on_a_scale_of_powers() -> None:
    """Half of the way from 0.5 to 1.0, from 1 g to 10 g: √10 g."""
    masses, chances = np.array([0.1, 1.0, 10.0, 100.0]), np.array([0.2, 0.5, 1.0, 1.0])
    assert _crossing(masses, chances, 0.75) == pytest.approx(math.sqrt(10))
    assert _crossing(masses, chances, 0.5) == pytest.approx(1.0)
    assert math.isnan(_crossing(masses, chances / 2, 0.75))
    assert math.isnan(_crossing(masses, chances, 0.1))  # met by the smallest already


@pytest.mark.parametrize(
    ("wanted", "placed"),
    [
        ([5.0, 5.0, 5.0], [0.0, 10.0, 20.0]),
        ([100.0, 100.0], [90.0, 100.0]),
        ([40.0, 44.0, 90.0], [37.0, 47.0, 90.0]),
        ([50.0], [50.0]),
    ],
)
def test_names_are_moved_apart_as_little_as_possible(
    wanted: list[float], placed: list[float]
) -> None:
    """Ten apart between 0 and 100: two at 40 and 44 go to 42 ∓ 5."""
    assert spread(wanted, 10.0, 0.0, 100.0) == pytest.approx(placed)


def test_a_round_mark_is_round() -> None:
    """Four cubic curves follow a circle to 0.03 % of its radius (textbooks, from memory)."""
    points = _round(Ellipse((3.0, 4.0), (2.0, 0.0), (0.0, 2.0), "#000000", 1.0))
    assert len(points) == 13
    assert points[0] == points[-1] == (5.0, 4.0)
    for i in range(0, 12, 3):
        p = np.array(points[i : i + 4])
        for t in np.linspace(0, 1, 11):
            weights = [(1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3]
            x, y = np.array(weights) @ p
            assert math.hypot(x - 3.0, y - 4.0) == pytest.approx(2.0, rel=3e-4)
    quarters = [points[i] for i in (0, 3, 6, 9)]
    assert quarters == [(5.0, 4.0), (3.0, 6.0), (1.0, 4.0), (3.0, 2.0)]


def test_scenes_stand_below_one_another() -> None:
    """Of heights 10 and 30 with a gap of 4: the first from 38 up, the second from 4 up to 34."""
    one = Scene(9.0, 10.0, (Line(((0.0, 0.0), (9.0, 10.0)), "#000000", 1.0),))
    two = Scene(9.0, 30.0, (Line(((0.0, 0.0), (9.0, 30.0)), "#000000", 1.0),))
    whole = stacked([one, two], 4.0)
    assert (whole.width, whole.height) == (9.0, 48.0)
    ends = [[point[1] for point in item.points] for item in whole.items if isinstance(item, Line)]
    assert ends == [[38.0, 48.0], [4.0, 34.0]]


def test_the_band_of_the_line_is_that_of_its_slope_and_intercept() -> None:
    """Variance at x: u(a)² + x² u(b)² + 2 x cov(a, b), and what all groups share at its most;
    half-width with Student t where the scatter widened it (York et al. 2004, Am. J. Phys. 72,
    367, for the line; the band follows by propagation)."""
    from scipy.stats import norm, t

    result = assess_class(experiments.class_file(), "copper-silver")
    assert result.verdict is not None
    line = result.verdict.line
    assert line is not None
    picture = ClassLinePicture.of(result)
    factor = t.ppf(0.975, line.dof) if line.inflated else norm.ppf(0.975)
    assert picture.band[-1][0] == pytest.approx(picture.x[1])
    for x_mmol, low, high in picture.band:
        x = x_mmol / 1000
        own = line.u_intercept**2 + (x * line.u_slope) ** 2 + 2 * x * line.covariance
        half = factor * math.hypot(
            math.sqrt(max(own, 0.0)), line.u_intercept_shared + x * line.u_slope_shared
        )
        middle = 1000 * (line.intercept + line.slope * x)
        assert (low + high) / 2 == pytest.approx(middle)
        assert (high - low) / 2 == pytest.approx(1000 * half)


def test_the_picture_of_amounts_ends_a_little_beyond_them() -> None:
    assert _ends([2.0, 5.0], [1.0]) == pytest.approx((0.0, 5.4))
    assert _ends([2.0], [-0.5]) == pytest.approx((-0.54, 2.16))


def test_amounts_of_a_plan_are_in_millimoles() -> None:
    """2 mmol of copper make 2 mmol or 4 mmol of silver, as Cu⁺ or Cu²⁺."""
    found = CellsPicture.planned(experiments.load("copper-silver"), consumed_mol=0.002)
    assert [tuple(round(v, 2) for v in point) for point in found.points] == [(2, 2), (2, 4)]


def test_many_candidates_name_the_worst_chance_of_a_wrong_answer() -> None:
    chances = [(f"c{i}", Chances(0.5, 0.01 * i, 0.4 - 0.01 * i, 0.1)) for i in range(1, 10)]
    assert "at the most: 0.09" in ChancesPicture.of(chances, 0.9).alt_text


@pytest.mark.parametrize(
    ("value", "text"),
    [(1.0, "1"), (0.0, "0"), (1.5, "1.5"), (12.345, "12.3"), (0.00123456, "0.00123"),
     (-0.5, "−0.5"), (math.inf, "infinite"), (-math.inf, "−infinite")],
)  # fmt: skip
def test_numbers_in_pictures_have_three_figures(value: float, text: str) -> None:
    assert number(value) == text
