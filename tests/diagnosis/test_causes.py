"""What an effect would have to amount to, checked against the test it inverts."""

from __future__ import annotations

import math
from copy import copy
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from stoichkit import experiments
from stoichkit.chemistry.elements import molar_mass
from stoichkit.decision.evidence import assess, linear_amounts
from stoichkit.diagnosis.causes import causes_for, combine, compatibility_limit_mol
from stoichkit.diagnosis.effects import Action, effect_named
from stoichkit.diagnosis.sentences import (
    cause_sentence,
    causes_paragraph,
    check_sentence,
    combination_sentence,
)
from stoichkit.errors import ModelError
from stoichkit.experiments.parts import Variation
from stoichkit.measurement.displays import Balance
from tests.labs import lab, two
from tests.studies.causes import DESIGNS, effect_row, effects
from tests.studies.causes import lab as simulated_lab

GOOD = [(3.12, 2.65, 0.71, 2.30), (2.98, 2.61, 0.70, 1.96), (3.40, 2.80, 0.72, 2.76)]


def wet(extra_g: float) -> list[tuple[float, ...]]:
    return [(a, b, c, d + extra_g) for a, b, c, d in GOOD]


@pytest.mark.parametrize("name", experiments.names())
def test_zero_lies_in_the_range_exactly_when_the_candidate_is_compatible(name: str) -> None:
    evidence = assess(experiments.load(name))
    for candidate, tested in evidence.candidates.items():
        for cause in causes_for(evidence, candidate):
            assert (cause.low <= 0 <= cause.high) == tested.compatible
            assert cause.low <= cause.needed <= cause.high
            assert cause.most >= 0


def test_the_amount_needed_makes_the_discrepancy_zero_and_the_ends_are_on_the_limit() -> None:
    """Subtract the water from the readings themselves and run the whole test again."""
    lab_with_water = lab(wet(0.08))
    evidence = assess(lab_with_water)
    water = causes_for(evidence, "copper(II)")[0]

    def p_with(amount_g: float) -> float:
        pairs = [(a, b - amount_g / molar_mass("Ag")) for a, b in evidence.amounts]
        return linear_amounts(lab_with_water, pairs).p_value(2.0, 1.0, evidence.scatter)

    assert water.explains
    assert water.ratio_change == 1
    assert p_with(water.needed) == pytest.approx(1.0)
    width = water.high - water.low
    assert p_with(water.low + 0.02 * width) >= 0.05
    assert p_with(water.high - 0.02 * width) >= 0.05
    assert p_with(water.low - 0.02 * width) < 0.05
    assert p_with(water.high + 0.02 * width) < 0.05


def test_the_range_is_not_a_normal_approximation() -> None:
    """Digits alone bound the error: the limit is where the exact test turns, not at 1.96 u."""
    silver = linear_amounts(experiments.load("copper-silver"))
    assert silver.mean(1.0, 1.0) > compatibility_limit_mol(silver, 1.0, 0.05)
    sharp = Balance(readability_g=0.1, repeatability_g=0.0)
    linear = linear_amounts(lab([(3.1, 2.6, 0.7, 2.4)], sharp))
    limit = compatibility_limit_mol(linear, 2.0, 0.05)
    moved = copy(linear)
    moved.produced = linear.produced - linear.mean(2.0, 1.0) + limit
    assert moved.p_value(2.0, 1.0) >= 0.05
    moved.produced = moved.produced + 1e-3 * limit
    assert moved.p_value(2.0, 1.0) < 0.05
    assert abs(limit / (1.959964 * linear.distribution(2.0, 1.0).spread) - 1) > 0.02


def test_an_unknown_variation_widens_the_range_by_hand() -> None:
    """Two trials: the 95 % point of Student t with one degree of freedom is 12.706 (a table)."""
    made, used = (0.64, 0.34), (0.56, 0.30)
    unknown = Variation(unknown=True)
    linear = linear_amounts(two(made, used))
    d = [m / 63.546 - 1.5 * u / 55.845 for m, u in zip(made, used, strict=True)]
    scale = abs(d[0] - d[1]) / math.sqrt(2) / math.sqrt(2)  # s / √n
    found = compatibility_limit_mol(linear, 1.5, 0.05, variation=unknown)
    assert found == pytest.approx(12.706 * scale, rel=2e-3)
    assert compatibility_limit_mol(linear, 1.5, 0.05) < 0.05 * found
    evidence = assess(two(made, used, variation=unknown))
    assert all(cause.fits_without for cause in causes_for(evidence, "iron(III)"))


def test_impossible_amounts_are_called_impossible() -> None:
    """Silver cannot carry more water than it weighs; nothing can be lost that was not made."""
    evidence = assess(lab(GOOD))
    causes = {c.effect.key: c for c in causes_for(evidence, "copper(I)")}
    assert causes["wet product"].possible
    assert not causes["lost product"].possible  # it works the wrong way
    assert not causes["metal dissolved"].possible
    silver_g = np.mean([d - c for _, _, c, d in GOOD])
    copper_g = np.mean([a - b for a, b, _, _ in GOOD])
    assert causes["wet product"].most == pytest.approx(silver_g)
    assert causes["metal dissolved"].most == pytest.approx(copper_g)
    assert math.isnan(causes["lost product"].possible_range[0])


def test_fractions_refer_to_what_was_measured() -> None:
    evidence = assess(lab(wet(0.08)))
    water = causes_for(evidence, "copper(II)")[0]
    silver_g = np.mean([d - c for _, _, c, d in wet(0.08)])
    assert water.fraction == pytest.approx(water.needed / silver_g, rel=1e-6)
    assert water.fraction_of == "produced"


def test_an_allowance_for_recovery_is_left_out() -> None:
    rows = wet(0.08)
    plain = causes_for(assess(lab(rows)), "copper(II)")
    allowed = causes_for(assess(lab(rows, recovery=(0.9, 1.2))), "copper(II)")
    assert [c.needed for c in plain] == [c.needed for c in allowed]
    assert [c.low for c in plain] == [c.low for c in allowed]


def test_excess_scatter_widens_the_range() -> None:
    rough = [(a, b, c, d + s) for (a, b, c, d), s in zip(GOOD, (0.0, 0.12, -0.12), strict=True)]
    evidence = assess(lab(rough))
    assert evidence.scatter is not None
    assert evidence.scatter.excess
    wide = causes_for(evidence, "copper(II)")[0]
    narrow = causes_for(assess(lab(GOOD)), "copper(II)")[0]
    assert wide.high - wide.low > 5 * (narrow.high - narrow.low)


def test_combination_agrees_with_its_parts() -> None:
    """On each axis the band is the range of the effect alone; the line runs between the axes."""
    evidence = assess(lab(wet(0.2)))
    experiment = evidence.experiment
    water, metal = (effect_named(experiment, k) for k in ("wet product", "metal in product"))
    both = combine(evidence, "copper(II)", water, metal)
    alone = {c.effect.key: c for c in causes_for(evidence, "copper(II)")}
    cause = alone["wet product"]
    inside = 1e-9 * (cause.high - cause.low)
    for amount in (cause.low + inside, cause.needed, cause.high - inside):
        assert both.compatible(amount, 0.0)
    assert not both.compatible(cause.low * 0.99, 0.0)
    assert not both.compatible(cause.high * 1.01, 0.0)
    assert both.line[0][1] == pytest.approx(0.0, abs=1e-9)
    assert both.line[0][0] == pytest.approx(cause.needed)
    assert len(both.band) >= 3
    for a, b in (*both.band, *both.line):
        assert both.possible(a - 1e-9, b - 1e-9) or min(a, b) <= 1e-9
        assert abs(both.discrepancy_mol - both.gains_mol[0] * a - both.gains_mol[1] * b) <= (
            both.limit_mol * (1 + 1e-9)
        )


def test_combination_with_nothing_possible_is_empty() -> None:
    """Losses and dissolved metal both make the ratio too small: copper(I) needs the reverse."""
    evidence = assess(lab(GOOD))
    pair = [effect_named(evidence.experiment, k) for k in ("lost product", "metal dissolved")]
    found = combine(evidence, "copper(I)", *pair)
    assert found.band == ()
    assert found.line == ()
    assert not found.possible(-0.1, 0.0)


def test_water_and_salt_share_what_was_weighed() -> None:
    evidence = assess(lab(wet(0.2)))
    silver_g = np.mean([d - c for _, _, c, d in wet(0.2)])
    pair = [effect_named(evidence.experiment, k) for k in ("wet product", "residue salt")]
    found = combine(evidence, "copper(I)", *pair)
    assert found.possible(0.6 * silver_g, 0.3 * silver_g)
    assert not found.possible(0.6 * silver_g, 0.6 * silver_g)


def test_faults_are_refused() -> None:
    evidence = assess(lab(GOOD))
    water = effect_named(evidence.experiment, "wet product")
    with pytest.raises(ModelError, match="copper"):
        causes_for(evidence, "copper(V)")
    with pytest.raises(ModelError, match="different"):
        combine(evidence, "copper(I)", water, water)


def test_an_effect_that_changes_nothing_says_so() -> None:
    """A lab whose only candidate has ratio 1 and whose effect moves both amounts alike."""
    evidence = assess(lab(GOOD, ratios={"one": "1"}))
    effect = effect_named(evidence.experiment, "wet product")
    alike = replace(
        effect, actions=(Action("consumed", "moles"), Action("produced", "moles")), key="x"
    )
    found = combine(evidence, "one", alike, effect)
    assert found.gains_mol[0] == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("name", experiments.names())
def test_every_cause_can_be_said(name: str) -> None:
    evidence = assess(experiments.load(name))
    for candidate in list(evidence.candidates)[:7]:
        causes = causes_for(evidence, candidate)
        assert causes_paragraph(causes).endswith(".")
        for cause in causes:
            for text in (cause_sentence(cause), check_sentence(cause)):
                assert text.endswith(".")
                assert "nan" not in text
                assert "inf" not in text.split()
                assert "g of it " not in text
        for first, second in pairwise(causes):
            found = combine(evidence, candidate, first.effect, second.effect)
            assert combination_sentence(found).endswith(".")


@pytest.mark.parametrize("index", [0, 5, 6])
def test_planted_effects_are_found_again(index: int) -> None:
    """A small run of the study: the right effect is listed, and its amount is in the range."""
    design = DESIGNS[index]
    for key in effects(design, 0.0):
        found = effect_row(design, key, 12 * design.step_g, 5, seed=3)
        assert found["listed"] == found["labs"], key
        assert found["covered"] >= 4, key
        assert found["excluded"] >= 4, key


def test_the_study_plants_what_it_says() -> None:
    rng = np.random.default_rng(1)
    made = simulated_lab(DESIGNS[0], rng, effects(DESIGNS[0], 0.5)["wet product"])
    assert assess(made).ratio > 2.2
