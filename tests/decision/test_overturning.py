"""What would overturn a verdict: by hand, against readings typed anew, over ways of measuring."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import pytest

from stoichkit import assess, experiments, parse_experiment
from stoichkit.decision.overturning import Fault, FaultKind
from stoichkit.decision.trust import (
    close_sentence,
    fault_table,
    overturning_sentence,
    trust_sentences,
)
from stoichkit.decision.verdict import VerdictKind
from stoichkit.experiments.parts import Variation
from stoichkit.measurement.displays import Balance

from ..labs import REVERSED, crucible, lab
from ..measurement.test_routes import LAB as TWO_ROUTES
from ..studies.trust import SETTINGS, moved, planted, planted_counts, reliability, said, stays

M_CU, M_AG = 63.546, 107.8682
SIGMA = 0.03
MADE, USED = 0.90, 0.265
"""The silver and copper weighed below in g: a mole ratio of 2.001."""


@cache
def smooth():
    """One trial on a balance that repeats to three display steps, so that digits do not count."""
    balance = Balance(readability_g=0.01, repeatability_g=SIGMA)
    return assess(lab([(3.12, 3.12 - 0.26, 0.71, 0.71 + 0.88)], balance))


def of(evidence, kind: FaultKind) -> Fault:
    (found,) = [fault for fault in evidence.overturned_by if fault.kind is kind]
    return found


def spread(ratio: float, sigma: float = SIGMA) -> float:
    """Standard uncertainty of D, each mass being a difference of two readings."""
    reading = math.sqrt(sigma**2 + 0.01**2 / 12)
    return math.sqrt(2) * reading * math.hypot(1 / M_AG, ratio / M_CU)


def test_a_mass_on_the_product_by_hand():
    """Copper(I) fits, and copper(II) no longer, when so much less silver was made."""
    evidence = smooth()
    assert said(evidence) == (VerdictKind.SINGLED_OUT, ("copper(II)",))
    made, used = 0.88 / M_AG, 0.26 / M_CU
    needed = (made - 1 * used - 1.96 * spread(1)) * M_AG
    fault = of(evidence, FaultKind.PRODUCED)
    assert -fault.size == pytest.approx(needed, rel=0.03)
    assert fault.unit == "g"
    assert fault.steps == pytest.approx(needed / 0.01, rel=0.03)
    assert fault.reading == "paper + silver"


def test_a_mass_on_the_metal_by_hand():
    used = (0.88 / M_AG - 1.96 * spread(1)) / 1 - 0.26 / M_CU
    fault = of(smooth(), FaultKind.CONSUMED)
    assert fault.size == pytest.approx(used * M_CU, rel=0.03)
    assert fault.unit == "g"


def test_a_worse_repeatability_by_hand():
    d = 0.88 / M_AG - 0.26 / M_CU
    low, high = SIGMA, 1.0
    while high - low > 1e-6:
        middle = (low + high) / 2
        low, high = (middle, high) if 1.96 * spread(1, middle) < d else (low, middle)
    fault = of(smooth(), FaultKind.REPEATABILITY)
    assert fault.size == pytest.approx(high, rel=0.03)
    assert fault.times == pytest.approx(high / SIGMA, rel=0.03)
    assert fault.steps == pytest.approx(high / 0.01, rel=0.03)
    assert fault.verdict.candidates == ("copper(I)", "copper(II)")


def test_a_drift_by_hand():
    """Readings come as wire before, after, paper, paper + silver: 0, 1, 2, 3 times the drift."""
    d, u = 0.88 / M_AG - 0.26 / M_CU, 1.96 * spread(1)
    # the copper used up changes by −1, the silver made by +1 times the drift
    each = 1 / M_AG + 1 / M_CU
    assert -of(smooth(), FaultKind.DRIFT).size == pytest.approx((d - u) / each, rel=0.03)


def test_a_recovery_by_hand():
    """Four candidates up to 4: with less recovered, 3 would leave as much as is found."""
    balance = Balance(readability_g=0.01, repeatability_g=0.01)
    ratios = {"two": "2", "three": "3"}
    evidence = assess(lab([(3.12, 3.12 - 0.26, 0.71, 0.71 + 0.88)], balance, ratios))
    made, used = 0.88 / M_AG, 0.26 / M_CU
    part = 1.0
    for _ in range(50):
        part = (made + 1.96 * spread(3 * part, 0.01)) / (3 * used)
    assert 1 + of(evidence, FaultKind.RECOVERY).size == pytest.approx(part, rel=0.01)


def test_nothing_where_nothing_can_be_judged():
    evidence = assess(lab(REVERSED))
    assert evidence.overturned_by == ()
    assert trust_sentences(evidence) == []
    assert overturning_sentence(evidence) == ""


def test_a_verdict_on_the_last_digits_says_so_in_the_second_line():
    from stoichkit.reports import lab_report

    evidence = assess(lab([(3.1, 2.8, 0.7, 1.7)] * 2, Balance(readability_g=0.1)))
    near = [f for f in evidence.overturned_by if f.kind in (FaultKind.PRODUCED, FaultKind.DRIFT)]
    assert evidence.verdict.kind is VerdictKind.SINGLED_OUT
    assert min(f.steps for f in near) < 2
    assert close_sentence(evidence).startswith("This hangs on the last digits")
    _, second = lab_report(evidence, pictures=False).sections[0].parts[:2]
    assert second.startswith(close_sentence(evidence))
    assert close_sentence(smooth()) == ""


WAYS = {
    **{name: (lambda name=name: experiments.load(name)) for name in experiments.names()},
    "dried": lambda: crucible("22.7061"),
    "one vessel": lambda: replace(
        experiments.load("copper-silver"),
        consumed=replace(
            experiments.load("copper-silver").consumed, same_vessel=("wire before", "wire after")
        ),
    ),
    "recovery": lambda: replace(experiments.load("copper-silver"), recovery=(0.9, 1.0)),
    "variation": lambda: replace(
        experiments.load("copper-silver"), variation=Variation(relative=0.02, from_trials=5)
    ),
    "unknown": lambda: replace(
        experiments.load("copper-silver"), variation=Variation(unknown=True)
    ),
    "digits only": lambda: experiments.load("copper-silver").with_instrument(
        "balance", Balance(readability_g=0.1, repeatability_g=0.0)
    ),
}


@pytest.mark.parametrize("way", WAYS)
def test_every_way_of_measuring_has_its_faults(way):
    """Nearest first, each one another verdict; readings typed anew at 0.9 and 1.1 confirm it."""
    evidence = assess(WAYS[way]())
    found = evidence.overturned_by
    assert [f.usual for f in found] == sorted(f.usual for f in found)
    assert len({f.kind for f in found}) == len(found)
    assert len(fault_table(evidence).rows) == len(found)
    for fault in found:
        assert math.isfinite(fault.size)
        assert fault.size
        assert (fault.verdict.kind, fault.verdict.candidates) != said(evidence)
        shared = fault.reading in evidence.experiment.shared_readings
        repeated = any(
            len(t.readings.get(fault.reading, "")) > 1 for t in evidence.experiment.trials
        )
        if fault.kind in (FaultKind.PRODUCED, FaultKind.CONSUMED) and not shared | repeated:
            assert stays(evidence, planted(evidence, fault, 0.9))
            assert said(planted(evidence, fault, 1.1)) != said(evidence)


def test_routes_that_would_disagree_keep_what_each_allows():
    evidence = assess(parse_experiment(TWO_ROUTES))
    assert evidence.agreements
    for fault in evidence.overturned_by:
        if fault.kind in (FaultKind.CONSUMED, FaultKind.PRODUCED):
            assert stays(evidence, planted(evidence, fault, 0.9))
            assert said(planted(evidence, fault, 1.1)) != said(evidence)


def test_planted_faults_in_a_few_simulated_labs():
    for kind, (tried, stayed, changed) in planted_counts(1).items():
        assert stayed == changed == tried, kind


def test_stated_chances_are_true_as_often_as_stated():
    """The likeliest candidates that are true are as many as their chances add up to."""
    for setting in (SETTINGS[0], SETTINGS[5]):
        likely = [(p, true) for p, true in reliability(setting, 10, seed=9) if p > 0.5]
        off = sum(true - p for p, true in likely)
        assert abs(off) < 4 * math.sqrt(sum(p * (1 - p) for p, _ in likely)) + 0.5


def test_a_planted_defect_would_be_seen():
    """The check itself: a size that is half as large changes nothing at 1.1."""
    evidence = smooth()
    fault = of(evidence, FaultKind.PRODUCED)
    half = replace(fault, size=fault.size / 2)
    assert stays(evidence, planted(evidence, half, 1.1))
    assert not stays(evidence, planted(evidence, replace(fault, size=1.3 * fault.size), 0.9))


def test_readings_typed_anew_are_moved():
    experiment = smooth().experiment
    changed = moved(experiment, lambda _, name, g: g + 0.5 * (name == "paper"))
    assert float(changed.trials[0].readings["paper"][0]) == pytest.approx(1.21)
