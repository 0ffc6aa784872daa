"""Parts of planning, each against a calculation by hand.

Molar masses: Cu 63.546, Ag 107.868 g/mol (general knowledge of the trade).
"""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from stoichkit import experiments
from stoichkit.decision.verdict import VerdictKind
from stoichkit.errors import ModelError
from stoichkit.experiments.parts import Variation
from stoichkit.measurement.displays import Balance
from stoichkit.planning.classes import Groups, _Class, _direction
from stoichkit.planning.design import design_map
from stoichkit.planning.following import FurtherTrials, _counts, _shares
from stoichkit.planning.outcomes import Chances
from stoichkit.planning.plan import Plan, nominal_lab
from stoichkit.planning.questions import _geometric, coarsest_balance, fewest_trials
from stoichkit.planning.sentences import _amount_answer, _fewest, _reason
from stoichkit.planning.simulation import Counts, simulate_labs
from stoichkit.planning.strips import Band, Strips, _Varied, alarm_share

CU, AG = 63.546, 107.868
SILVER = experiments.load("copper-silver")
COARSE = experiments.load("copper-silver-coarse")


@pytest.mark.parametrize("trials", [1, 2, 4])
@pytest.mark.parametrize("ratio", [1.0, 2.0])
def test_the_variance_of_a_group_is_that_of_its_four_readings(trials: int, ratio: float) -> None:
    """D = n(Ag) − r n(Cu), each of two readings: s² of one is 0.05² + 0.1²/12 g² (repeatability,
    and rounding to a step: JCGM 100:2008, F.2.2.1); of the mean of n trials it is 1/n of that."""
    made = _Class(
        [Groups(Plan(experiment=COARSE, consumed_mol=0.003, trials=trials), 3)], "copper(II)", 1.0
    )
    reading = 0.05**2 + 0.1**2 / 12
    by_hand = 2 * reading * (1 / AG**2 + ratio**2 / CU**2) / trials
    (found,) = made.variances(ratio, 1.0)
    assert found == pytest.approx(by_hand, rel=1e-3)


def test_the_direction_of_a_discrepancy_stands_across_the_amounts() -> None:
    """Amounts 3 and 4: the discrepancy of their own ratio, 0.6 n(made) − 0.8 n(used), is 0."""
    x, y = _direction(SimpleNamespace(mean_consumed=3.0, mean_produced=4.0))  # type: ignore[arg-type]
    assert (x, y) == pytest.approx((0.8, 0.6))
    assert y * 4.0 - x * 3.0 == pytest.approx(0.0)
    nothing = _direction(SimpleNamespace(mean_consumed=0.0, mean_produced=0.0))  # type: ignore[arg-type]
    assert nothing == pytest.approx((math.sqrt(0.5), math.sqrt(0.5)))


def test_each_lab_makes_what_it_is_said_to_have_recovered() -> None:
    """On a display of 0.1 mg, made over used is twice what was recovered, lab by lab."""
    lab = replace(
        SILVER.with_instrument("balance", Balance(readability_g=0.0001, repeatability_g=0.0)),
        recovery=(0.8, 1.0),
    )
    plan = Plan(experiment=lab, consumed_mol=0.01, spread=0.1)
    labs = simulate_labs(plan, "copper(II)", labs=200, seed=5)
    assert labs.recovered.min() < 0.82
    assert labs.recovered.max() > 0.98
    assert labs.produced_mol / labs.consumed_mol == pytest.approx(2 * labs.recovered, rel=2e-3)


def test_counts_of_labs_add_up() -> None:
    assert Counts(1, 2, 3, 4).labs == 10
    assert Counts(1, 2, 3, 4, 5).labs == 15


def test_amounts_looked_at_lie_one_percent_apart() -> None:
    """From 1e-7 mol to 10 mol: ln(10⁸) / ln(1.01) = 1851.3 steps."""
    amounts = _geometric(1.0)
    assert len(amounts) == 1851 + 1
    assert amounts[0] == pytest.approx(1e-7)
    assert amounts[-1] == pytest.approx(10.0, rel=0.01)
    assert np.diff(np.log(amounts)) == pytest.approx(math.log(1.01))
    assert _geometric(1000.0)[7] == pytest.approx(1000 * amounts[7])


def test_how_much_is_left_to_one_source_is_said_with_its_share() -> None:
    answer = fewest_trials(Plan(experiment=SILVER, consumed_mol=0.001))
    some = replace(answer, limiting="the balance", limiting_share=0.62, shared_share=0.1)
    assert _reason(some) == "the balance makes up 62 % of the variance"
    nearly = replace(some, limiting_share=0.996, shared_share=0.9)
    assert _reason(nearly) == (
        "the balance makes up over 99 % of the variance and is shared by all trials"
    )


def test_the_best_that_more_trials_come_to_is_said() -> None:
    found = tuple(Chances(p, 0.01, 0.99 - p, 0.0) for p in (0.2, 0.5, 0.4))
    way = FurtherTrials((1, 2, 3), found, 0.9, 0.002, 0.01)
    assert _fewest(way) == "not within 3 trials (chance at most 0.50)"
    assert _fewest(replace(way, target=0.45)) == "2 trials (chance 0.50)"


def test_a_variation_is_seen_through_the_spread_of_the_amounts() -> None:
    """A relative s of the product of one trial; amounts even within ±u of the plan have a mean
    square of 1 + u²/3 (n − 1)/n about their own mean, since a uniform ±1 has the variance 1/3."""
    lab = replace(SILVER, variation=Variation(relative=0.02))
    linear = nominal_lab(Plan(experiment=lab, consumed_mol=0.002, trials=3), "copper(II)", 1.0)
    band = Band(np.array([0.0018, 0.0022]), np.array([0.0036, 0.0044]), np.array([0.0037, 0.0045]))
    source = next(one for one in linear.sources if one.kind == "variation")
    for uneven in (0.0, 1.0):
        by_hand = source.scale * math.sqrt((1 + uneven**2 / 3 * 2 / 3) / 3)
        found = _Varied.of(linear, band, uneven)
        assert found.per_mol == pytest.approx(by_hand)
        # sixteen grades to a factor of two, from the least amount made to the largest
        ends = [math.ceil(16 * math.log2(by_hand * mol) - 1e-9) for mol in (0.0036, 0.0045)]
        assert (found.grades[0], found.grades[-1]) == tuple(ends)


def test_a_map_is_of_one_trial_with_amounts_a_tenth_apart_if_nothing_is_said() -> None:
    grid = {"masses_g": [0.05, 0.1], "readabilities_g": [0.01]}
    default = design_map(SILVER, **grid)  # type: ignore[arg-type]
    said = design_map(SILVER, **grid, trials=1, spread=0.1, target=0.9)  # type: ignore[arg-type]
    wider = design_map(SILVER, **grid, spread=0.3)  # type: ignore[arg-type]
    assert np.array_equal(default.chance, said.chance)
    assert not np.array_equal(default.chance, wider.chance)
    assert default.target == 0.9


def test_what_recovery_explains_makes_an_alarm_rarer() -> None:
    """Three trials: with two degrees of freedom P(χ² > x) = exp(−x/2), so that 1 % lies at
    −2 ln 0.01 = 9.210; trials apart by w standard deviations more alarm where √x is w larger."""
    linear = SimpleNamespace(
        trials=3, mean_consumed=0.002, noise_share=lambda *_: 1.0, own_variance=lambda *_: 1e-8 / 3
    )
    wide = 0.1 * 2.0 * 0.002 * math.sqrt(2 / 3 / 1e-8)
    by_hand = math.exp(-((math.sqrt(-2 * math.log(0.01)) + wide) ** 2) / 2)
    found = alarm_share(linear, 2.0, 0.1)  # type: ignore[arg-type]
    assert float(found) == pytest.approx(by_hand, rel=1e-9)
    assert float(alarm_share(linear, 2.0, 0.0)) == pytest.approx(0.01)  # type: ignore[arg-type]


def test_no_balance_at_hand_is_fine_enough_for_hardly_anything() -> None:
    tiny = Plan(experiment=SILVER, consumed_mol=1e-8)
    assert math.isnan(coarsest_balance(tiny, readabilities_g=[0.1]).value)


def test_an_amount_is_said_with_the_chance_one_step_short_of_it() -> None:
    answer = replace(
        fewest_trials(Plan(experiment=SILVER, consumed_mol=0.0005)), question="amount", unit="g"
    )
    assert answer.short is not None
    assert "; with 0.0318 g of Cu it is 0.84, short of 0.9." in _amount_answer(answer)
    assert "; with" not in _amount_answer(replace(answer, short=None))


@pytest.mark.parametrize("name", ["acid-titration", "magnesium-gas"])
def test_nothing_reacts_also_where_the_reactant_is_weighed_alone(name: str) -> None:
    """A reading worked back to nothing is 0, not what subtraction leaves of it."""
    lab = experiments.load(name)
    plan = Plan(experiment=lab, consumed_mol=0.0006)
    readings = plan.expected_readings("nothing reacted")
    assert readings[lab.consumed.roles()[0].name] == 0.0
    assert simulate_labs(plan, "nothing reacted", labs=20).counts.right == 0


def test_a_chance_that_rounds_to_more_than_one_has_no_sampling_error() -> None:
    assert Chances(1.0000000000000002, 0.0, 0.0, 0.0, labs=100).standard_error == 0.0
    assert Chances(0.5, 0.0, 0.5, 0.0, labs=100).standard_error == pytest.approx(0.05)


def test_further_trials_stay_within_the_most_a_lab_may_have() -> None:
    """A lab has 64 trials at most: after 60 of them four more can be looked at, after 64 none."""

    def counts(made: int, most: int = 6) -> tuple[int, ...]:
        lab = SimpleNamespace(looks=None)
        return _counts(SimpleNamespace(amounts=[0] * made, experiment=lab), most)  # type: ignore[arg-type]

    assert counts(3) == (1, 2, 3, 4, 5, 6)
    assert counts(60) == (1, 2, 3, 4)
    assert counts(63) == (1,)
    with pytest.raises(ModelError, match="too many trials") as refused:
        counts(64)
    assert "at most 63" in str(refused.value)


def test_where_no_candidate_is_probable_nothing_is_drawn() -> None:
    """Each of 250 candidates has a chance of 0.004, below the 0.005 that is drawn."""
    evidence = SimpleNamespace(
        verdict=SimpleNamespace(kind=VerdictKind.NOT_TOLD_APART),
        chances=SimpleNamespace(by_candidate={str(i): 0.004 for i in range(250)}),
        candidates={"a": 1, "b": 2},
    )
    with pytest.raises(ModelError, match="No candidate is probable"):
        _shares(evidence)  # type: ignore[arg-type]
    evidence.chances.by_candidate = {"a": 0.6, "b": 0.2, "c": 0.004}
    assert _shares(evidence) == pytest.approx({"a": 0.75, "b": 0.25})  # type: ignore[arg-type]


def test_a_variation_doubles_with_each_octave_of_grades() -> None:
    """Sixteen grades an octave; without digits half a grade less, as nothing is rounded up."""
    varied = _Varied(np.array([16.0]), np.array([]), 0.01, math.inf, 0)
    for digits, scale in ((True, 2.0), (False, 2.0 * 2 ** (-0.5 / 16))):
        (term,) = varied.terms(16.0, digits)
        assert term.scale == pytest.approx(scale, rel=1e-9)


def test_a_lab_without_a_strip_has_no_narrowest() -> None:
    ratios = np.ones((1, 2, 1))
    made = Strips(
        ratios, np.zeros((1, 1, 2, 1)), np.array([]), (0.0, 0.0), np.ones((1, 3)), np.array([0])
    )
    assert made.narrowest_mol == 0.0
    assert replace(made, limits_mol=np.full((1, 1, 2, 1), 0.5)).narrowest_mol == 0.5
    assert replace(made, ratios=2 * ratios, limits_mol=made.limits_mol + 0.5).narrowest_mol == 0.25
