"""Drying to constant mass: limits that cover, and no claim where there is nothing to tell."""

from __future__ import annotations

import math

import numpy as np
import pytest

from stoichkit.diagnosis.constant_mass import drying
from stoichkit.diagnosis.sentences import drying_sentence
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
