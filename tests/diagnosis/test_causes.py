"""What an effect would have to amount to, checked against the test it inverts."""

from __future__ import annotations

import math
from copy import copy
from dataclasses import replace
from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pytest

from stoichkit import experiments
from stoichkit.chemistry.elements import molar_mass
from stoichkit.decision.evidence import assess, linear_amounts
from stoichkit.diagnosis.causes import (
    Combination,
    _clipped,
    _limits,
    _mean_reading,
    _prepared,
    _region,
    causes_for,
    combine,
    compatibility_limit_mol,
)
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
    made, used = (0.64, 0.29), (0.56, 0.30)
    unknown = Variation(unknown=True)
    linear = linear_amounts(two(made, used))
    found = compatibility_limit_mol(linear, 1.5, 0.05, variation=unknown)
    # ratios 1.00436 and 0.84952: mean 0.92694, half their difference 0.07742; of the means 0.95033,
    # which is 12.706 · 0.07742 + 0.02339 over 1.5 where the mean of the ratios is at its limit
    assert found == pytest.approx(1.00708 * sum(used) / 2 / 55.845, rel=2e-3)
    assert compatibility_limit_mol(linear, 1.5, 0.05) < 0.5 * found
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


@pytest.mark.parametrize(
    "index", [pytest.param(0, marks=pytest.mark.slow), 5, pytest.param(6, marks=pytest.mark.slow)]
)
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


@pytest.mark.parametrize(
    ("key", "needed", "most", "fraction", "of", "change"),
    [
        ("wet product", 0.8513, 1.70, 0.5007, "produced", 1),
        ("lost product", -0.8513, 0.8487, -0.5007, "produced", -1),
        ("damp vessel", -0.8513, 0.80, -0.5007, "produced", -1),
        ("product on metal", 1.2205, 2.50, 0.7179, "produced", 1),
        ("metal in product", -1.2205, 0.50, -0.7179, "produced", -1),
        ("metal dissolved", -0.5015, 0.50, -1.0030, "consumed", -1),
        ("damp metal", 0.5015, 2.50, 1.0030, "consumed", 1),
    ],
)
def test_what_each_effect_would_have_to_be_by_hand(
    key: str, needed: float, most: float, fraction: float, of: str, change: int
) -> None:
    """0.50 g of Cu, 7.868 mmol, and 1.70 g of Ag, 15.760 mmol: copper(I) is missed by 7.892 mmol.

    A gram on the silver is 9.2706 mmol, one on the copper 15.7366 mmol: 7.892 / 9.2706 = 0.8513 g
    and 7.892 / 15.7366 = 0.5015 g; on one and off the other 7.892 / (15.7366 − 9.2706) = 1.2205 g.
    No more can be weighed beside the silver than the 1.70 g, nor lost than 7.868 mmol of it, 0.8487
    g; what is on the wire left is at most its 2.50 g, what is in the paper its 0.80 g.
    """
    causes = causes_for(assess(lab([(3.00, 2.50, 0.80, 2.50)])), "copper(I)")
    (cause,) = (c for c in causes if c.effect.key == key)
    assert cause.needed == pytest.approx(needed, abs=1e-4)
    assert cause.most == pytest.approx(most, abs=1e-4)
    assert cause.fraction == pytest.approx(fraction, abs=1e-4)
    assert (cause.fraction_of, cause.ratio_change) == (of, change)
    assert cause.low < cause.needed < cause.high
    assert cause.low + cause.high == pytest.approx(2 * cause.needed)
    each = cause.fraction / cause.needed
    assert cause.fraction_low == pytest.approx(each * cause.low)
    assert cause.fraction_high == pytest.approx(each * cause.high)
    assert cause.kind == ("possible" if needed > 0 else "wrong way")


def test_the_five_words_for_what_becomes_of_a_candidate() -> None:
    (cause, *_) = causes_for(assess(lab([(3.00, 2.50, 0.80, 2.50)])), "copper(I)")
    for fields, kind in (
        ({"low": 1.0, "high": 2.0, "most": 1.0}, "possible"),
        ({"low": 1.0, "high": 2.0, "most": 1.0, "fits_without": True}, "free"),
        ({"low": 1.0, "high": 2.0, "most": 0.9}, "too much"),
        ({"low": -2.0, "high": -1.0, "most": 5.0}, "wrong way"),
        ({"low": -2.0, "high": 0.0, "most": 5.0}, "possible"),
        ({"low": 0.0, "high": 0.0, "most": -1.0}, "too much"),
        ({"needed": math.nan}, "unmoved"),
    ):
        assert replace(cause, **fields).kind == kind  # type: ignore[arg-type]
    for change, turn in ((1, "too large"), (-1, "too small"), (0, "no different")):
        assert replace(cause, ratio_change=change).turn == turn


@pytest.mark.parametrize(("alpha", "quantile"), [(0.05, 1.959964), (0.01, 2.575829)])
def test_of_normal_errors_the_limit_is_a_quantile_of_the_normal(
    alpha: float, quantile: float
) -> None:
    """Fifty steps of noise: rounding is nothing beside it. Two-sided points: any table."""
    noisy = lab(GOOD, Balance(readability_g=0.001, repeatability_g=0.05))
    linear = linear_amounts(noisy, noisy.amounts())
    limit = compatibility_limit_mol(linear, 2.0, alpha)
    assert limit == pytest.approx(quantile * linear.distribution(2.0, 1.0).spread, rel=1e-3)


def test_what_is_judged_without_an_allowance_is_judged_once() -> None:
    evidence = assess(lab(GOOD))
    assert _prepared(evidence, "copper(II)")[0] is evidence
    allowed = assess(replace(lab(GOOD), recovery=(0.9, 1.0)))
    plain, tested, *_ = _prepared(allowed, "copper(II)")
    assert plain.experiment.recovery == (1.0, 1.0)
    assert tested == evidence.named("copper(II)")


def test_what_bounds_an_effect_by_hand() -> None:
    """2 mol consumed, 3 mol produced, two to one: 4 mol can have been made.

    A gram adds 0.5 mol to what was consumed and takes 0.25 mol from what was made: of the 4 mol it
    leaves 4 − 2 × 0.5, so that 0.25 + 2 × 0.5 a gram is used of 4. An oxide of at most half a gram
    for each gram of product, 0.25 mol a gram: 0.5 / 0.25 = 2 g for each mole of it really there.
    """

    def rows(alpha: float, beta: float, **most: object) -> list[tuple[tuple[float, ...], float]]:
        fields = {"most_per_product": math.inf, "most_per_consumed": math.inf, "most_reading": ""}
        effect = SimpleNamespace(**(fields | most))
        return _limits(lab(GOOD), 2.0, (2.0, 3.0), [(effect, alpha, beta)])  # type: ignore[list-item]

    assert rows(0.5, -0.25) == [((0.5,), 2.0), ((0.0,), 3.0), ((1.25,), 4.0)]
    assert rows(0.5, 0.25) == [((0.5,), 2.0), ((0.25,), 3.0)]
    assert rows(0.0, 0.25, most_per_product=0.5)[2] == ((1.5,), 6.0)
    assert rows(0.25, 0.0, most_per_consumed=0.5)[2] == ((1.5,), 4.0)
    mean_g = (2.65 + 2.61 + 2.80) / 3
    ((uses,), room) = rows(0.0, 0.25, most_reading="consumed.lighter")[2]
    assert (uses, room) == (1.0, pytest.approx(mean_g))
    assert _mean_reading(lab(GOOD), "produced.heavier") == pytest.approx((2.30 + 1.96 + 2.76) / 3)
    two_effects = [
        (SimpleNamespace(most_per_product=1.0, most_per_consumed=math.inf, most_reading=""), 0, b)
        for b in (0.5, 0.25)
    ]
    both = _limits(lab(GOOD), 2.0, (2.0, 3.0), two_effects)  # type: ignore[arg-type]
    assert both == [
        ((0, 0), 2.0), ((0.5, 0.25), 3.0),
        ((1 + 2 * 0.5, 2 * 0.25), 6.0), ((4 * 0.5, 1 + 4 * 0.25), 12.0),
    ]  # fmt: skip


def test_pairs_of_amounts_that_fit_and_that_can_be() -> None:
    """2 a − b = 1 within 0.5; a + b <= 1, neither below nothing."""
    pair = Combination(
        effects=(), candidate="", gains_mol=(2.0, -1.0), discrepancy_mol=1.0, limit_mol=0.5,
        limits=(((1.0, 1.0), 1.0),), line=(), band=(),
    )  # type: ignore[arg-type]  # fmt: skip
    for a, b, fits in (
        (0.5, 0.0, True), (0.75, 0.0, True), (0.76, 0.0, False), (0.25, 0.0, True),
        (0.24, 0.0, False), (0.5, 0.5, True), (0.5, 0.51, False),
    ):  # fmt: skip
        assert pair.compatible(a, b) is fits
    for a, b, can in (
        (0.5, 0.5, True), (0.5, 0.51, False), (0.0, 0.0, True), (-0.1, 0.0, False),
        (0.0, -0.1, False), (1.0, 0.0, True),
    ):  # fmt: skip
        assert pair.possible(a, b) is can


def test_the_region_of_what_is_possible_by_hand() -> None:
    """a <= 2, b <= 1 and a + b <= 2: a corner is cut off. Below nothing nothing is possible."""
    box = [((1.0, 0.0), 2.0), ((0.0, 1.0), 1.0)]
    cut = _region([*box, ((1.0, 1.0), 2.0)])
    assert set(cut) == {(0.0, 0.0), (2.0, 0.0), (1.0, 1.0), (0.0, 1.0)}
    assert len(cut) == 4
    assert _region([((1.0, 0.0), -1.0), ((0.0, 1.0), 2.0)]) == []
    # 2 a − b <= 1 bounds a by what b is: from 0.5 at b = 0 to 1 at b = 1
    leaning = _region([*box, ((2.0, -1.0), 1.0)])
    assert set(leaning) == {(0.0, 0.0), (0.5, 0.0), (1.0, 1.0), (0.0, 1.0)}


def test_a_corner_on_the_line_stays_whatever_a_computer_makes_of_it() -> None:
    """0.1 + 0.2 is not quite 0.3 in a computer; the square is cut at a <= 0.5 in its middle."""
    triangle = [(0.0, 0.0), (0.1 + 0.2, 0.3), (0.0, 0.3)]
    assert _clipped(triangle, (1.0, -1.0), 0.0) == triangle
    square = [(0.0, 0.0), (1.0, 0.0), (1.0, 2.0), (0.0, 2.0)]
    assert set(_clipped(square, (1.0, 0.0), 0.5)) == {(0, 0), (0.5, 0), (0.5, 2), (0, 2)}
    assert set(_clipped(square, (-1.0, 0.0), -0.25)) == {(0.25, 0), (1, 0), (1, 2), (0.25, 2)}
    assert _clipped(square, (1.0, 0.0), -1.0) == []
    assert _clipped([], (1.0, 0.0), 1.0) == []
