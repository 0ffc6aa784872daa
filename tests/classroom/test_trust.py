"""What would overturn the verdict of a class, and how probable its candidates are."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from stoichkit import assess, assess_class, experiments
from stoichkit.classroom import class_trust_sentences, class_verdict
from stoichkit.classroom.amounts import amounts_from_arrays
from stoichkit.experiments.parts import Prior

AMOUNTS = ([1.0, 1.0, 1.0, 1.0, 1.0, 1.0], [1.02, 0.99, 1.01, 1.0, 0.98, 1.0], 0.0, 0.05)
RATIOS = {"one": 1, "two": 2}


def known():
    """Six groups whose amounts differ by nothing but normal readings of 0.05 in the product."""
    used, made, u_used, u_made = AMOUNTS
    given = amounts_from_arrays(used, made, 1e-6, u_made)
    assert u_used == 0
    return class_verdict(given, candidates=RATIOS, variation="none")


def test_a_constant_mass_and_a_scale_by_hand():
    """u of the mean is 0.05 / √6 = 0.0204; “two” fits from 2 − 1.96 u on, and “one” no longer."""
    found = known()
    assert found.verdict.candidates == ("one",)
    (mass,) = found.overturned_by  # twice as much is no fault of a scale any more
    needed = 2 - 1.96 * 0.05 / 6**0.5 - 1.0
    assert mass.size / 1e3 == pytest.approx(needed, rel=0.02)  # mmol for each mol
    assert mass.verdict.candidates == ("two",)
    assert mass.unit == "mmol"

    used, made, _, u_made = AMOUNTS
    given = amounts_from_arrays(used, made, 1e-6, u_made)
    close = class_verdict(given, candidates={"one": 1, "more": "13/10"}, variation="none")
    scale = close.overturned_by[1]
    # both amounts and their errors grow by 1 + s: (1 + s)(1 + 1.96 u) = 1.3
    assert scale.kind == "scale"
    assert scale.size == pytest.approx(1.3 / (1 + 1.96 * 0.05 / 6**0.5) - 1, rel=0.03)
    assert scale.verdict.candidates == ("more",)


def test_faults_planted_in_the_amounts():
    found = known()
    (fault, *_) = found.overturned_by
    for part, same in ((0.9, True), (1.1, False)):
        more = [b + part * fault.size / 1e3 for b in AMOUNTS[1]]
        other = class_verdict(
            amounts_from_arrays(AMOUNTS[0], more, 1e-6, 0.05), candidates=RATIOS, variation="none"
        )
        assert ("two" not in other.verdict.candidates) == same or other.verdict.candidates == ()


def test_two_groups_that_decide():
    """Two precise groups exclude “two”; the others, with few amounts, cannot."""
    used = [1.0, 1.0, 0.02, 0.02, 0.02]
    made = [1.0, 1.01, 0.03, 0.03, 0.03]
    given = amounts_from_arrays(used, made, 1e-6, 0.05)
    found = class_verdict(given, candidates=RATIOS, variation="none")
    assert found.verdict.candidates == ("one",)
    assert set(found.hangs_on) == {"1", "2"}
    assert found.without_those.candidates == ("one", "two")
    assert found.deciding_groups == {}


def test_chances_are_those_of_one_lab_with_the_same_readings():
    experiment = experiments.load("copper-silver")
    whole, alone = class_verdict(experiment, variation="none"), assess(experiment)
    assert whole.chances.none == pytest.approx(alone.chances.none, rel=1e-3)
    stated = replace(experiment, prior=Prior(none=0.5))
    assert class_verdict(stated, variation="none").chances.none > 10 * whole.chances.none
    assert class_verdict(experiment).chances is None


def test_sentences_of_a_class():
    result = assess_class(experiments.class_file(), "copper-silver")
    said = " ".join(class_trust_sentences(result))
    assert "7 of 9 would have to be left out before the others cannot tell" in said
    assert "is not said, because the groups may differ by an unknown amount" in said


def test_a_sharp_likelihood_within_a_wide_recovery_is_not_stepped_over() -> None:
    """By hand, with all weight of the readings at 1.8: 2 allows 1 to 2, so 1.8 counts 1/1. None of
    them: true ratios from 1.8 to 3.6 lead there, each T with 1/(T/2), over ln T of 0.5 to 4."""
    n = [1.0, 1.1, 0.9, 1.05, 1.0]
    given = amounts_from_arrays(n, [1.8 * amount for amount in n], 0.0005, 0.0005)
    found = class_verdict(given, candidates=RATIOS, recovery=(0.5, 1.0), variation="none")
    assert found.chances is not None
    none = 2 * (1 / 1.8 - 1 / 3.6) / math.log(8)
    odds = (0.95 / 2) / (0.05 * none)
    assert found.chances.by_candidate["two"] == pytest.approx(odds / (1 + odds), rel=1e-4)
    assert found.chances.by_candidate["one"] == 0.0


def test_none_of_the_candidates_is_as_likely_as_ratios_near_the_one_found() -> None:
    """By hand: four groups with a mean of 0.1 mol and a ratio of 2, all amounts to u = 50 µmol.

    The mean discrepancy from 2 has the uncertainty s = u √(1 + 2²) / √4, so that “two” counts
    0.95/2 · 1/(s √(2π)). Other ratios r, spread over ln r from 0.5 to 4, count 0.05 / ln 8 times
    the integral of the same normal density over dr/r: 1/0.1 of it over dr, at r = 2.
    """
    n = [0.08, 0.12, 0.09, 0.11]
    given = amounts_from_arrays(n, [2 * amount for amount in n], 5e-5, 5e-5)
    found = class_verdict(given, candidates=RATIOS, variation="none")
    assert found.chances is not None
    two = 0.95 / 2 / (5e-5 * math.sqrt(5) / 2 * math.sqrt(2 * math.pi))
    none = 0.05 / math.log(8) / 0.1 / 2
    assert found.chances.none == pytest.approx(none / (two + none), rel=1e-3)
    assert found.chances.by_candidate["two"] == pytest.approx(two / (two + none), rel=1e-6)


def test_where_amounts_cancel_the_surer_discrepancy_is_likelier() -> None:
    """The mean discrepancy is 0 from every ratio r, with an uncertainty as √(1 + r²)."""
    given = amounts_from_arrays([0.01, -0.01], [0.01, -0.01], 0.02, 0.02)
    found = class_verdict(given, candidates=RATIOS, variation="none").chances
    assert found is not None
    odds = found.by_candidate["one"] / found.by_candidate["two"]
    assert odds == pytest.approx(math.sqrt(5 / 2), rel=1e-9)
