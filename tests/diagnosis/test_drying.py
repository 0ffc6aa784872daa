"""Drying to constant mass: limits that cover, and no claim where there is nothing to tell."""

from __future__ import annotations

import math

import numpy as np
import pytest

from stoichkit.diagnosis.constant_mass import Drying, _next, drying
from stoichkit.diagnosis.sentences import _in_steps, drying_sentence
from stoichkit.errors import ModelError, ReadingError
from stoichkit.measurement.displays import Balance

BALANCE = Balance(readability_g=0.001)


def typed(times, masses):
    return [(t, f"{m:.3f}") for t, m in zip(times, masses, strict=True)]


def test_the_limits_cover_the_water_left() -> None:
    """150 simulated dryings, three speeds: 95 % coverage within sampling error."""
    rng = np.random.default_rng(11)
    inside = total = believed_wrongly = 0
    for tau in (5.0, 12.0, 40.0):
        times = np.array([0, 10, 20, 30, 45, 60.0])
        for _ in range(50):
            end, water = rng.uniform(1, 2), rng.uniform(0.1, 0.5)
            masses = end + water * np.exp(-times / tau) + rng.normal(0, 0.0005, times.size)
            found = drying(typed(times, masses), BALANCE)
            left = water * math.exp(-times[-1] / tau)
            inside += found.water_low_g <= left <= found.water_high_g
            believed_wrongly += found.settled and left > found.limit_g
            total += 1
    assert inside / total > 0.95 - 3 * math.sqrt(0.05 * 0.95 / total)
    assert believed_wrongly == 0


def test_agreeing_weighings_do_not_prove_dryness() -> None:
    found = drying([(0, "1.842"), (1, "1.842"), (2, "1.842")], BALANCE)
    assert found.constant
    assert not found.settled
    assert math.isinf(found.water_high_g)
    assert "no upper limit" in drying_sentence(found)


def test_a_finished_drying_is_believed() -> None:
    masses = ["1.842", "1.571", "1.469", "1.433", "1.413", "1.412", "1.412"]
    found = drying(list(zip((0, 10, 20, 30, 60, 80, 100), masses, strict=True)), BALANCE)
    assert found.constant
    assert found.settled
    assert math.isnan(found.next_min)
    assert "No further weighing" in drying_sentence(found)


def test_two_weighings_tell_nothing_about_what_is_left() -> None:
    found = drying([(0, "1.842"), (10, "1.700")], BALANCE)
    assert not found.constant
    assert math.isnan(found.water_left_g)
    assert found.next_min == 20
    assert "cannot tell" in drying_sentence(found)


def test_a_straight_line_has_no_end_in_sight() -> None:
    found = drying([(0, "1.850"), (10, "1.840"), (20, "1.830"), (30, "1.820")], BALANCE)
    assert math.isinf(found.water_high_g)
    assert math.isnan(found.water_left_g)
    assert found.next_min == 60


def test_weighings_that_go_up_and_down_are_not_fitted() -> None:
    found = drying([(0, "1.850"), (10, "1.700"), (20, "1.790"), (30, "1.640")], BALANCE)
    assert not found.consistent
    assert not found.settled
    assert "even approach" in drying_sentence(found)


def test_time_of_the_next_weighing_follows_the_speed() -> None:
    for tau in (8.0, 20.0):
        times = np.array([0, 10, 20, 30, 40.0])
        found = drying(typed(times, 1.4 + 0.5 * np.exp(-times / tau)), BALANCE)
        assert found.time_constant_min == pytest.approx(tau, rel=0.05)
        left = found.water_left_g * math.exp(-(found.next_min - 40) / tau)
        assert left <= 0.3 * found.limit_g


@pytest.mark.parametrize(
    "weighings", [[], [(0, "1.0")], [(10, "1.0"), (10, "1.0")], [(10, "1.0"), (5, "1.0")]]
)
def test_faulty_times_are_refused(weighings) -> None:
    with pytest.raises(ModelError, match="weighings"):
        drying(weighings, BALANCE)


def test_a_mass_that_is_no_number_is_refused() -> None:
    with pytest.raises(ReadingError):
        drying([(0, "1.0"), (1, "one")], BALANCE)


def test_two_weighings_do_not_tell_how_much_is_left() -> None:
    found = drying([(0, "1.842"), (10, "1.571")], Balance(readability_g=0.001))
    assert "Two weighings cannot tell how much water is left." in drying_sentence(found)


def test_when_the_clock_was_started_does_not_matter() -> None:
    masses = ["1.848", "1.672", "1.565", "1.500"]
    first, later = (
        drying(list(zip((at, at + 5, at + 10, at + 15), masses, strict=True)), BALANCE)
        for at in (0, 5000)
    )
    for name in ("water_left_g", "water_low_g", "water_high_g", "time_constant_min"):
        assert getattr(later, name) == pytest.approx(getattr(first, name), rel=1e-5)
    assert later.next_min == pytest.approx(first.next_min + 5000, rel=1e-6)
    assert later.consistent == first.consistent


@pytest.mark.parametrize(
    ("left_g", "tau_min", "limit_g", "next_min"),
    [
        (0.05, 10.0, 0.002, 65 + 46.0517),  # 4 × 0.05 / 0.002 = 100, whose logarithm is 4.60517
        (0.0001, 10.0, 0.002, 65 + 10.0),  # 0.2: one time constant at least
        (math.nan, math.nan, 0.002, 65 + 60.0),  # as long again as from 5 to 65
        (0.0, math.nan, 0.002, 65 + 60.0),
    ],
)
def test_when_to_weigh_next_by_hand(
    left_g: float, tau_min: float, limit_g: float, next_min: float
) -> None:
    found = _next(np.array([5.0, 30.0, 65.0]), left_g, tau_min, limit_g)
    assert found == pytest.approx(next_min, abs=1e-3)


@pytest.mark.parametrize(
    ("value_g", "step_g", "text"),
    [
        (3.4, 1.0, "3 g"), (0.4, 1.0, "less than 1 g"), (13.0, 10.0, "13 g"),
        (0.04, 0.1, "less than 0.1 g"), (0.06, 0.1, "0.1 g"), (0.123, 0.02, "0.12 g"),
        (0.0049, 0.001, "0.005 g"), (0.0002, 0.0001, "0.0002 g"),
    ],
)  # fmt: skip
def test_a_mass_has_the_digits_of_its_balance(value_g: float, step_g: float, text: str) -> None:
    assert _in_steps(value_g, step_g) == text


def result(**fields: object) -> Drying:
    usual = {
        "constant": False, "change_g": -0.017, "limit_g": 0.002, "water_left_g": 0.005,
        "water_low_g": 0.003, "water_high_g": 0.008, "time_constant_min": 10.0, "settled": False,
        "next_min": 69.6, "consistent": True, "step_g": 0.001,
    }  # fmt: skip
    return Drying(**(usual | fields))  # type: ignore[arg-type]


def test_what_is_said_of_drying() -> None:
    first = "Not yet constant: the last change was −0.017 g, and the balance resolves 0.002 g."
    about = "About 0.005 g of water is left (0.003 g to 0.008 g, 95 % coverage)."
    assert drying_sentence(result()) == f"{first} {about} Weigh next at about 70 min."
    dry = drying_sentence(result(constant=True, settled=True))
    assert dry == (
        f"{first.replace('Not yet constant', 'Constant')} {about} No further weighing is needed."
    )
    narrow = drying_sentence(result(water_low_g=0.0048, water_high_g=0.0052))
    assert "About 0.005 g of water is left (95 % coverage)." in narrow
    none = drying_sentence(result(water_left_g=0.0001, water_low_g=0.0, water_high_g=0.002))
    assert "Less than 0.001 g of water is left (less than 0.001 g to 0.002 g, 95 %" in none
    assert "resolves 0.003 g" in drying_sentence(result(limit_g=0.0021))  # whole steps, upwards
    assert "resolves 0.002 g" in drying_sentence(result(limit_g=0.002 * (1 + 1e-12)))
    for fields, words in (
        ({"consistent": False}, "do not follow an even approach"),
        ({"water_high_g": math.nan}, "Two weighings cannot tell how much water is left."),
        ({"water_high_g": math.inf}, "put no upper limit on the water left"),
    ):
        assert words in drying_sentence(result(**fields))


def test_constant_mass_is_believed_only_if_no_more_than_the_limit_can_be_left() -> None:
    """Each of the three is needed: agreement, an even approach, an upper limit that is small."""
    slow = drying([(0, "1.500"), (10, "1.490"), (20, "1.481"), (21, "1.480")], BALANCE)
    assert slow.constant
    assert slow.water_high_g > slow.limit_g
    assert not slow.settled
    assert not math.isnan(slow.next_min)


@pytest.mark.parametrize(
    ("before", "repeatability_g", "consistent"),
    [
        (2, 0.0, False),  # 2/3 / (1/12) = 8.00
        (2, 0.0001, False),  # 2/3 / (1/100 + 1/12) = 7.14
        (2, 0.0002, True),  # 2/3 / (4/100 + 1/12) = 5.41
        (3, 0.0, False),  # 3/4 / (1/12) = 9.00
        (3, 0.0001, False),  # 3/4 / (1/100 + 1/12) = 8.04
        (3, 0.0002, True),  # 3/4 / (4/100 + 1/12) = 6.08
        (4, 0.0, False),  # 4/5 / (1/12) = 9.60
        (4, 0.0001, True),  # 4/5 / (1/100 + 1/12) = 8.57
    ],
)
def test_a_mass_that_rises_is_no_drying_beyond_the_one_per_cent_point(
    before: int, repeatability_g: float, consistent: bool
) -> None:
    """One step more than n weighings that agree: squares about the mean of n / (n + 1) steps².

    No water leaving explains a rise, so that is χ², over u² = s² + d²/12. Three numbers are fitted,
    and one degree of freedom is the least. The 1 % points are 6.635 for one degree of freedom and
    9.210 for two (any table of χ²).
    """
    texts = [*["1.000"] * before, "1.001"]
    weighings = list(zip(range(0, 10 * len(texts), 10), texts, strict=True))
    balance = Balance(readability_g=0.001, repeatability_g=repeatability_g)
    assert drying(weighings, balance).consistent == consistent
