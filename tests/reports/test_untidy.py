"""Digits that were read and no more, and sentences that say what is there."""

from __future__ import annotations

import math

import pytest

from stoichkit import assess, experiments
from stoichkit.decision.sentences import compound_sentence
from stoichkit.diagnosis.causes import combine
from stoichkit.diagnosis.constant_mass import drying
from stoichkit.diagnosis.effects import effect_named
from stoichkit.diagnosis.sentences import combination_sentence, drying_sentence
from stoichkit.measurement.displays import Balance
from stoichkit.reports.figures import Figured, guarded, written
from stoichkit.reports.worked import conclusion_paragraph, worked_solution
from stoichkit.text.wording import two_digits
from tests.labs import lab


@pytest.mark.parametrize(
    ("value", "decimals", "figures"),
    [
        (0.9996, 3, 4),
        (0.9994, 3, 3),
        (2.94 - 1.94, 2, 3),
        (99.96, 1, 4),
        (0.004, 1, 1),
        (250, -1, 2),
    ],
)
def test_significant_figures_are_those_of_the_number_written(
    value: float, decimals: int, figures: int
) -> None:
    """0.9996 with three decimals is written 1.000: four figures, not three."""
    assert Figured(value, decimals).figures == figures


def test_rounding_up_to_the_next_power_of_ten_adds_no_digit() -> None:
    assert two_digits(0.0999) == "0.10"
    assert two_digits(9.96) == "10"
    assert written(996.0, -1) == "1.00 × 10³"
    assert written(-0.00009996, 7) == "−1.000 × 10⁻⁴"


def test_no_guard_zeros_are_written() -> None:
    assert guarded(Figured(0.1, 1, "g")) == "0.1"
    assert guarded(Figured(2.94 - 2.82, 2)) == "0.12"
    assert guarded(Figured(0.00188839, 4)) == "0.001888"
    assert guarded(Figured(107.8682, math.inf)) == "107.8682"
    text = worked_solution(experiments.load("copper-silver-coarse")).text()
    assert "= 2.9 g − 2.8 g = 0.1 g" in " ".join(text.split())


def test_an_amount_far_below_zero_is_not_called_too_small() -> None:
    """Wire and paper both gain: copper is −0.20 g, some 25 standard uncertainties below zero."""
    evidence = assess(lab([(2.80, 3.00, 0.80, 0.80)]))
    assert "too small" not in conclusion_paragraph(evidence)
    assert "below zero" in conclusion_paragraph(evidence)


def test_drying_writes_the_digits_that_the_balance_shows() -> None:
    weighings = [(0, "1.842"), (10, "1.571"), (20, "1.469"), (30, "1.433"), (45, "1.416")]
    said = drying_sentence(drying(weighings, Balance(readability_g=0.001)))
    assert "resolves 0.002 g. About 0.005 g of water is left (95 % coverage)" in said
    dry = [(0, "20.52"), (10, "20.36"), (20, "20.35"), (30, "20.35"), (40, "20.35")]
    assert "Less than 0.01 g of water is left" in drying_sentence(
        drying(dry, Balance(readability_g=0.01))
    )


def test_two_effects_are_told_by_their_names_and_amounts() -> None:
    ready = experiments.load("copper-silver")
    pair = [effect_named(ready, key) for key in ("wet product", "lost product")]
    said = combination_sentence(combine(assess(ready), "copper(I)", *pair))
    assert "g of product not dry" not in said
    assert "0.20 g (product not dry) and none (product left in the vessel" in said


def test_the_yield_of_the_oxide_itself_is_that_of_the_masses() -> None:
    """Oxide weighed over tin times 150.708 / 118.710, summed by hand over the four trials."""
    ready = experiments.load("tin-oxide")
    masses = [[float(texts[-1]) for texts in t.readings.values()] for t in ready.trials]
    oxide = sum(row[2] - row[0] for row in masses)
    tin = sum(row[1] - row[0] for row in masses)
    percent = 100 * oxide / (tin * 150.708 / 118.710)
    said = compound_sentence(assess(ready), "SnO2")
    assert f"{percent:.2f} %; 99.88 % to 100.10 % fits" in said
    assert compound_sentence(assess(experiments.load("copper-silver")), "copper(II)") == ""
