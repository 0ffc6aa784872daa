"""Parts of planning, each against a calculation by hand.

Molar masses: Cu 63.546, Ag 107.868 g/mol (general knowledge of the trade).
"""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from stoichkit import experiments
from stoichkit.decision.verdict import VerdictKind
from stoichkit.errors import ModelError
from stoichkit.experiments.parts import Variation
from stoichkit.measurement.displays import Balance
from stoichkit.planning import draws, questions, room, telling
from stoichkit.planning.classes import (
    Groups,
    _between,
    _checked,
    _Class,
    _direction,
    _weights,
    pooled,
)
from stoichkit.planning.design import (
    DesignMap,
    _covered,
    _cubics,
    _Curve,
    _few,
    _nodes,
    design_map,
)
from stoichkit.planning.following import (
    FurtherTrials,
    NextTrials,
    _counts,
    _shares,
    _variation_seen,
)
from stoichkit.planning.outcomes import (
    Chances,
    Displays,
    _count,
    _differing,
    _evenly,
    _patterns,
    cells_of,
    mixed,
)
from stoichkit.planning.plan import OperatingCharacteristic, Plan, least, nominal_lab
from stoichkit.planning.questions import (
    _geometric,
    _whole_steps,
    coarsest_balance,
    fewest_trials,
    first_enough,
    largest_recovery,
    smallest_amount,
)
from stoichkit.planning.room import (
    AIMS,
    Balances,
    Room,
    RoomPlan,
    groups_in,
    smallest_in_room,
)
from stoichkit.planning.sentences import _amount_answer, _fewest, _reason
from stoichkit.planning.simulation import Counts, simulate_labs
from stoichkit.planning.strips import (
    Band,
    Strips,
    _Varied,
    alarm_share,
    allowed_ratios,
    between,
    end_of,
)
from stoichkit.planning.telling import STEPS_G, Foretold, plan_of, step_of, steps_around
from stoichkit.uncertainty.distribution import SumDistribution
from stoichkit.uncertainty.sources import Shape, Term

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


ONE_OF = ("copper(I)", "copper(II)")


def two(first: float, second: float, *, wrong: float = 0.0) -> OperatingCharacteristic:
    """Return chances of two candidates: of the first at one recovery, of the second at two."""
    return OperatingCharacteristic(
        Plan(experiment=SILVER, consumed_mol=0.002),
        {
            ONE_OF[0]: ((1.0, Chances(first, wrong, 1 - first - wrong, 0.0)),),
            ONE_OF[1]: (
                (0.9, Chances(second, 0.0, 1 - second, 0.0)), (1.0, Chances(1.0, 0.0, 0.0, 0.0)),
            ),
        },
    )  # fmt: skip


def test_what_a_plan_promises_is_the_least_of_all() -> None:
    """0.8 always; 0.5 at one recovery and 1 at the other, 0.75 on average."""
    found = two(0.8, 0.5, wrong=0.04)
    assert (found.hardest, found.right, found.average_right) == (ONE_OF[1], 0.5, 0.75)
    assert found.wrong == 0.04
    assert two(0.4, 0.5).hardest == ONE_OF[0]
    sure, less = Chances(0.5, 0.1, 0.4, 0.0), Chances(0.5, 0.2, 0.3, 0.0)
    assert least(((0.8, sure), (1.0, less))) is less  # of equals the one that errs more
    assert least(((0.8, Chances(0.4, 0.0, 0.6, 0.0)), (1.0, less))).right == 0.4


def test_an_average_of_chances_by_hand() -> None:
    one, other = Chances(0.8, 0.1, 0.1, 0.0, labs=10), Chances(0.4, 0.2, 0.1, 0.2, 0.1, labs=20)
    even, weighed = mixed([one, other]), mixed([one, other], [0.75, 0.25])
    assert (even.right, even.wrong, even.none_fits) == pytest.approx((0.6, 0.15, 0.1))
    assert (weighed.right, weighed.cannot_be_judged) == pytest.approx((0.7, 0.025))
    assert even.labs == 30


@pytest.mark.parametrize("first", range(1, 12))
def test_the_first_that_is_enough_is_found(first: int) -> None:
    sizes = [0.01 * n for n in range(1, 12)]
    assert first_enough(sizes, lambda place: sizes[place] >= 0.01 * first - 1e-9) == first - 1
    assert first_enough(sizes, lambda _: False) is None


def test_steps_looked_at_lie_one_percent_apart_beyond_a_hundred() -> None:
    found = _whole_steps(250.0)
    assert found[:100] == list(range(1, 101))
    assert found[100:] == [*range(101, 200), *range(200, 251, 2)]
    assert _whole_steps(3.0) == [1, 2, 3]
    assert _whole_steps(2.9) == [1, 2]


def foretold(monkeypatch: pytest.MonkeyPatch, right: Any) -> list[Plan]:
    """Have the chance of a plan be what a function says of it; return the plans asked."""
    asked: list[Plan] = []

    def of(plan: Plan) -> Any:
        asked.append(plan)
        return SimpleNamespace(right=right(plan), plan=plan)

    monkeypatch.setattr(questions, "operating_characteristic", of)
    monkeypatch.setattr(questions, "_answer", lambda *given: given)
    return asked


@pytest.mark.parametrize("enough", [1, 2, 3, 5, 8, 11, 12])
def test_the_fewest_trials_by_their_definition(
    monkeypatch: pytest.MonkeyPatch, enough: int
) -> None:
    foretold(monkeypatch, lambda plan: 0.9 if plan.trials >= enough else 0.5)
    plan = Plan(experiment=SILVER, consumed_mol=0.002)
    _, value, _, target, at, short = fewest_trials(plan, target=0.9, most=12)  # type: ignore[misc]
    assert (value, target, at.plan.trials) == (enough, 0.9, enough)
    assert (short is None) == (enough == 1)
    assert short is None or short.plan.trials == enough - 1


def test_where_no_number_of_trials_is_enough_the_best_is_kept(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """0.5 of one, 0.8 of two, less of more."""
    chance = {1: 0.5, 2: 0.8, 4: 0.7, 6: 0.6}
    foretold(monkeypatch, lambda plan: chance[plan.trials])
    plan = Plan(experiment=SILVER, consumed_mol=0.002)
    _, value, _, _, at, short = fewest_trials(plan, most=6)  # type: ignore[misc]
    assert math.isnan(value)
    assert (at.plan.trials, short) == (2, None)


@pytest.mark.parametrize(("enough", "value"), [(0.1, 0.1), (0.05, 0.01), (0.005, 0.005)])
def test_the_coarsest_balance_by_its_definition(
    monkeypatch: pytest.MonkeyPatch, enough: float, value: float
) -> None:
    def right(plan: Plan) -> float:
        return 0.9 if step_of(plan.experiment) <= enough else 0.89

    foretold(monkeypatch, right)
    plan = Plan(experiment=SILVER, consumed_mol=0.002)
    found = coarsest_balance(plan, readabilities_g=[0.01, 0.1, 0.005])
    _, step, unit, _, at, short = found  # type: ignore[misc]
    assert (step, unit, step_of(at.plan.experiment)) == (value, "g", value)
    coarser = {0.1: None, 0.01: 0.1, 0.005: 0.01}[value]
    assert (None if short is None else step_of(short.plan.experiment)) == coarser
    foretold(monkeypatch, lambda _: 0.89)
    _, never, _, _, at, short = coarsest_balance(plan, readabilities_g=[0.01, 0.1])  # type: ignore[misc]
    assert math.isnan(never)
    assert (step_of(at.plan.experiment), short) == (0.01, None)


@pytest.mark.parametrize("side", ["both", "losses", "gains"])
@pytest.mark.parametrize("most", [0.0, 0.005, 0.12, 0.495])
def test_the_largest_allowance_by_its_definition(
    monkeypatch: pytest.MonkeyPatch, side: str, most: float
) -> None:
    def width(plan: Plan) -> float:
        low, high = plan.experiment.recovery
        assert side == "both" or (high if side == "losses" else low) == 1.0
        assert side != "both" or high - 1 == pytest.approx(1 - low)
        return max(high - 1, 1 - low)

    foretold(monkeypatch, lambda plan: 0.9 if width(plan) <= most + 1e-9 else 0.8)
    plan = Plan(experiment=SILVER, consumed_mol=0.002)
    _, value, _, _, at, short = largest_recovery(plan, side=side)  # type: ignore[misc]
    assert value == pytest.approx(most)
    assert width(at.plan) == pytest.approx(most)
    assert width(short.plan) == pytest.approx(most + 0.005)
    foretold(monkeypatch, lambda _: 0.9)
    _, value, _, _, _, short = largest_recovery(plan, side=side)  # type: ignore[misc]
    assert (value, short) == (0.5, None)


@pytest.mark.parametrize(("enough_g", "answer_g"), [(0.01, 0.01), (0.034, 0.04), (0.5, 0.5)])
def test_the_smallest_amount_by_its_definition(
    monkeypatch: pytest.MonkeyPatch, enough_g: float, answer_g: float
) -> None:
    """Whole steps of the balance of 0.01 g."""
    foretold(monkeypatch, lambda p: 0.9 if p.consumed_mass_g >= enough_g - 1e-9 else 0.89)
    plan = Plan(experiment=SILVER, consumed_mol=0.002)
    _, value, unit, _, at, short = smallest_amount(plan)  # type: ignore[misc]
    assert (value, unit) == (pytest.approx(answer_g), "g")
    assert at.plan.consumed_mass_g == pytest.approx(answer_g)
    assert (short is None) == (answer_g == 0.01)
    assert short is None or short.plan.consumed_mass_g == pytest.approx(answer_g - 0.01)


def test_what_a_room_comes_to_by_hand() -> None:
    """Ten benches with 0.8 and 0.5, two with 0.6 and 0.9: 9.2 and 6.8 conclude on average.

    That all do has a chance of 0.8¹⁰ 0.6² and 0.5¹⁰ 0.9², the smaller of which counts. On average
    over what may be recovered 0.75 and 0.95 of the second: right 10 (0.8 + 0.75) + 2 (0.6 + 0.95),
    wrong 10 × 0.04 + 2 × 0.1.
    """
    plan = Plan(experiment=SILVER, consumed_mol=0.002)
    each = two(0.8, 0.5, wrong=0.04), two(0.6, 0.9, wrong=0.1)
    found = RoomPlan((Groups(plan, 10), Groups(plan, 2)), each, None)
    assert (found.benches, found.concluding) == (12, pytest.approx(6.8))
    assert found.bench_concludes == pytest.approx(6.8 / 12)
    assert found.all_conclude == pytest.approx(0.5**10 * 0.9**2)
    assert found.wrong == 0.1
    right, wrong = 10 * 1.55 + 2 * 1.55, 10 * 0.04 + 2 * 0.1
    assert found.right_of_single == pytest.approx(right / (right + wrong))
    assert math.isnan(found.class_concludes)
    assert replace(found, together=two(0.7, 0.65)).class_concludes == 0.65
    none = replace(found, each=(two(0.0, 0.0),) * 2)
    assert none.all_conclude == 0.0


@pytest.mark.parametrize(
    ("typed", "words"),
    [("0.01: 2", "2 that read to 0.01 g"), ("0.1: 1", "1 that reads to 0.1 g"),
     ("1", "one a bench that reads to 1 g"), ("0.000001", "one a bench that reads to 0.000001 g")],
)  # fmt: skip
def test_balances_as_they_are_typed(typed: str, words: str) -> None:
    made = Balances.of(typed)
    assert (made.typed, made.words) == (typed, words)
    for wrong in ("0.01:", "0.01: two", "0.01: -1", "0.01: ²"):
        with pytest.raises(ModelError, match="how many balances"):
            Balances.of(wrong)
    assert Room(3, [Balances(0.01, 5)]).number_of(Balances(0.01, 5)) == 3


def test_a_map_says_the_smallest_mass_and_the_hardest_candidate() -> None:
    """Two candidates, two recoveries, two balances, three masses."""
    masses, steps = np.array([0.1, 0.2, 0.4]), np.array([0.01, 0.1])
    each = np.zeros((2, 2, 2, 3))
    each[0, 0], each[0, 1] = [[0.5, 0.9, 1], [0.1, 0.2, 0.8]], [[0.9, 1, 1], [0.5, 0.6, 1]]
    each[1, 0], each[1, 1] = [[0.6, 0.8, 1], [0.3, 0.1, 0.9]], [[1, 1, 1], [0.7, 0.9, 1]]
    found = DesignMap.of(masses, steps, each, 0.9, 2)
    assert found.chance.tolist() == [[0.5, 0.8, 1.0], [0.1, 0.1, 0.8]]
    assert found.hardest.tolist() == [[0, 1, 0], [0, 1, 0]]
    assert found.average == pytest.approx(np.array([[0.7, 0.9, 1.0], [0.3, 0.4, 0.9]]))
    assert found.smallest_mass_g(0.01) == 0.4
    assert math.isnan(found.smallest_mass_g(0.1))
    assert found.smallest_mass_g(0.011, average=True) == 0.2  # the nearest step, as a factor
    assert found.smallest_mass_g(0.09, average=True) == 0.4


def test_intervals_that_overlap_are_counted_once() -> None:
    low = np.array([[2.0, 0.0, 5.0, 0.5], [0.0, 1.0, 2.0, 3.0]])
    high = np.array([[3.0, 2.5, 6.0, 1.0], [1.0, 2.0, 3.0, 4.0]])
    assert _covered(low.copy(), high.copy()).tolist() == [4.0, 4.0]
    assert _covered(low[:, :1].copy(), high[:, :1].copy()).tolist() == [1.0, 1.0]


def test_a_cubic_is_met_everywhere_and_fewer_points_by_less() -> None:
    cube = {i: float(i**3 - 2 * i) for i in (0, 2, 3, 7, 9)}
    assert _cubics(cube, range(10)) == pytest.approx([i**3 - 2 * i for i in range(10)])
    assert _cubics({0: 1.0, 4: 3.0}, [0, 1, 2, 4]) == pytest.approx([1.0, 1.5, 2.0, 3.0])
    assert _cubics({3: 0.5}, [0, 3, 9]) == pytest.approx([0.5, 0.5, 0.5])


def test_how_many_amounts_make_up_a_curve() -> None:
    """Each once, or as many as are allowed in equal ratios; more where digits are sharp."""
    assert _few(np.array([4.0, 1.0, 2.0, 4.0]), 3).tolist() == [1.0, 2.0, 4.0]
    assert _few(np.array([8.0, 1.0, 2.0, 4.0]), 3) == pytest.approx([1.0, math.sqrt(8), 8.0])
    x = np.geomspace(1.0, 100.0, 6000)

    def size(repeatability_g: float, spread: float) -> int:
        lab = SILVER.with_instrument(
            "balance", Balance(readability_g=0.01, repeatability_g=repeatability_g)
        )
        return _nodes(lab, x, spread).size

    assert (size(0.003, 0.05), size(0.0029, 0.05), size(0.003, 0.049)) == (301, 601, 5000)


def test_a_design_is_looked_at_from_its_own_step_outwards(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nearly all labs tell to a certain step: coarser ones are tried, or finer ones."""
    plan = Plan(experiment=SILVER, consumed_mol=0.002)
    steps = (0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1)
    for told_to, own, coarsest in (
        (0.02, 0.01, 0.02), (0.1, 0.01, 0.1), (0.01, 0.01, 0.01), (0.005, 0.01, 0.005),
        (0.001, 0.1, 0.001), (0.0001, 0.01, math.nan),
    ):  # fmt: skip
        monkeypatch.setattr(telling, "_told", lambda _p, s, to=told_to: 0.9 if s <= to else 0.899)
        found = Foretold(plan, own, steps).coarsest_g
        assert found == coarsest or (math.isnan(found) and math.isnan(coarsest))


@pytest.mark.parametrize(
    ("own", "around"),
    [
        (0.01, (0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1)),
        (0.0001, (0.0001, 0.0002, 0.0005, 0.001)), (0.5, (0.05, 0.1, 0.2, 0.5)),
        (0.03, (0.002, 0.005, 0.01, 0.03, 0.05, 0.1, 0.2)),  # nearer to 0.02 as a factor
        (10.0, (0.05, 0.1, 0.2, 10.0)),
    ],
)  # fmt: skip
def test_steps_around_that_of_a_lab(own: float, around: tuple[float, ...]) -> None:
    lab = SILVER.with_instrument("balance", Balance(readability_g=own))
    assert steps_around(lab) == around
    assert len(STEPS_G) == 12


def test_a_design_that_was_done_is_planned_as_it_was() -> None:
    """The mean of the amounts that reacted; 15 % apart; nothing that reacted is refused."""
    made = plan_of(SILVER)
    amounts = [float(a.n) if hasattr(a, "n") else float(a) for a, _ in SILVER.amounts()]
    assert made.consumed_mol == pytest.approx(sum(amounts) / len(amounts))
    assert (made.trials, made.spread) == (len(SILVER.trials), 0.15)
    assert plan_of(SILVER, 0.003).consumed_mol == 0.003
    with pytest.raises(ModelError, match="nothing to foretell"):
        plan_of(SILVER.with_trials([]))


def test_groups_of_one_class_plan_one_lab() -> None:
    plan = Plan(experiment=SILVER, consumed_mol=0.002)
    assert _checked([Groups(plan, 2)])[0].number == 2
    long = replace(plan, trials=50)
    assert _checked([Groups(long, 20)])
    for groups in ([Groups(plan, 1)], [Groups(plan, 60), Groups(plan, 1)], [Groups(long, 21)]):
        with pytest.raises(ModelError, match="do not make up a class"):
            _checked(groups)
    other = replace(plan, experiment=replace(SILVER, recovery=(0.9, 1.0)))
    with pytest.raises(ModelError, match="do not plan the same lab") as refused:
        _checked([Groups(plan, 2), Groups(other, 2)])
    assert "recovery of" in str(refused.value)


def test_weights_of_groups_are_even_unless_they_differ_by_more_than_half() -> None:
    """Weights over the even one: 1.9 × 2 / 2.9 = 1.31 and 0.69 stay within 1.5 and 1/1.5; of 2.1
    × 2 / 3.1 = 1.35 and 0.645 the second does not; 2 × 3.1 / 4.1 = 1.51 does not either."""
    for variance, even in ((1.9, True), (2.1, False), (3.1, False)):
        found = _weights(np.array([1.0, variance]), np.array([1, 1]))
        by_hand = [variance / (variance + 1), 1 / (variance + 1)]
        assert found == pytest.approx([0.5, 0.5] if even else by_hand)
    apart = _weights(np.array([4.0, 1.0]), np.array([3, 1]))
    assert apart == pytest.approx([0.25 / 1.75, 1 / 1.75])
    assert apart @ [3, 1] == pytest.approx(1.0)


def test_classes_are_pooled_by_paule_and_mandel() -> None:
    """1, 2 and 6 with variances 1, 1, 2: τ² makes the weighed sum of squares 2, the degrees of
    freedom; at τ² = 0 it is 10.4. Where it is below 2 at once τ² is 0."""
    y, v = np.array([1.0, 2.0, 6.0]), np.array([1.0, 1.0, 2.0])
    (mean,), (scale,) = pooled(y[None], v)

    def q(tau2: float) -> tuple[float, float, float]:
        w = 1 / (v + tau2)
        middle = float((w * y).sum() / w.sum())
        return float((w * (y - middle) ** 2).sum()), middle, float(w.sum())

    low, high = 0.0, 100.0
    for _ in range(80):
        half = (low + high) / 2
        low, high = (half, high) if q(half)[0] > 2 else (low, half)
    assert mean == pytest.approx(q(low)[1])
    assert scale == pytest.approx(math.sqrt(1 / q(low)[2]))
    near = np.array([1.0, 1.5, 1.2])
    (mean,), (scale,) = pooled(near[None], v)
    w = 1 / v
    by_hand = float((w * near).sum() / w.sum())
    assert mean == pytest.approx(by_hand)
    assert scale == pytest.approx(math.sqrt((w * (near - by_hand) ** 2).sum() / (2 * w.sum())))


def test_by_how_much_groups_truly_differ() -> None:
    def stated(between: object) -> float:
        return _between(SimpleNamespace(between_groups=between))  # type: ignore[arg-type]

    assert stated(None) == 0.0
    assert stated(Variation(unknown=True)) == 0.0
    assert stated(Variation(relative=0.03)) == 0.03


def test_how_far_amounts_lie_from_what_two_ratios_allow() -> None:
    """At 1 mol between 3 and 4: above 2.5 by 0.5, below 5 by 1, within 2 to 3.5 by nothing."""
    band = Band(np.array([1.0]), np.array([3.0]), np.array([4.0]))
    for low, high, away in ((2.0, 2.5, 0.5), (5.0, 6.0, 1.0), (2.0, 3.5, 0.0), (3.5, 3.5, 0.0)):
        assert band.distance(low, high) == pytest.approx(away)
    assert replace(band, error_mol=0.1).distance(2.0, 2.5) == pytest.approx(0.25)
    assert replace(band, error_mol=1.0).distance(2.0, 2.5) == 0.0
    below = Band(np.array([-1.0]), np.array([-3.0]), np.array([-3.0]))
    assert below.distance(1.0, 2.0) == pytest.approx(1.0)  # −2 to −1 at −1 mol


def test_ratios_from_both_ends_of_what_is_recovered() -> None:
    assert allowed_ratios(2.0, (0.9, 0.9)).tolist() == [[1.8], [1.8]]
    low, high = allowed_ratios(2.0, (0.5, 1.5))
    assert (low[0], low[-1], high[0], high[-1]) == (1.0, 3.0, 3.0, 1.0)


def test_an_error_reaches_to_its_bound_or_so_many_deviations() -> None:
    """Of a rectangle of ±2, 2; of a normal error with 2, five times that."""
    flat = SumDistribution([Term(Shape.RECTANGULAR, 2.0)])
    normal = SumDistribution([Term(Shape.NORMAL, 2.0)])
    assert end_of(flat, 5) == pytest.approx(2.0)
    assert end_of(flat, 1) == pytest.approx(2.0 / math.sqrt(3))
    assert end_of(normal, 5) == pytest.approx(10.0)


def test_edges_of_strips_sorted_by_hand() -> None:
    """Strips 0 to 3 (true) and 2 to 4: alone, both, the other alone. Up to 1 nothing is shown."""
    lower, upper = np.array([0.0, 2.0]), np.array([3.0, 4.0])
    true = np.array([True, False])
    edges, alone, several, mine = between(lower, upper, np.array([1.0, 3.5]), true)
    assert edges.tolist() == [0.0, 1.0, 2.0, 3.0, 3.5, 4.0]
    assert alone.tolist() == [False, True, False, False, True]
    assert several.tolist() == [True, False, True, True, False]
    assert mine.tolist() == [True, True, True, False, False]


def test_edges_of_a_candidate_are_those_of_its_ratios() -> None:
    """Below ratios 1 and 2 with limits of 0.5 and 3 mol, above 2 with 0.25 mol."""
    strips = Strips(
        np.array([[[1.0, 2.0], [2.0, 2.0]]]), np.array([[[[0.5, 3.0], [0.25, 0.25]]]]),
        np.array([]), (0.0, 0.0), np.array([[0.5, 0.5, 1.0]]), np.array([0]),
    )  # fmt: skip
    lower, upper = strips.edges(np.array([2.0, 4.0]))
    assert lower.tolist() == [[1.0], [3.5]]  # min(2 − 0.5, 4 − 3); min(4 − 0.5, 8 − 3)
    assert upper.tolist() == [[4.25], [8.25]]
    wider = strips.at_least(np.array([[[1.0, 1.0], [1.0, 1.0]]]))
    assert wider.edges(np.array([4.0]))[0].tolist() == [[3.0]]
    assert wider.edges(np.array([4.0]))[1].tolist() == [[9.0]]
    *_, cut = strips.regions(np.array([1.0]))
    assert cut is not None
    assert cut.tolist() == [[1.0]]  # 0.5 × 1 + 0.5 y = 1
    assert strips.regions(np.array([4.0]))[2] is None  # −2, below the strip


def test_amounts_between_two_steps_are_filled_evenly() -> None:
    assert _evenly(4) == pytest.approx([-0.75, -0.25, 0.25, 0.75])
    usual: dict[str, Any] = {"trials": 1, "amounts_steps": (10.0, 20.0), "step_mol": (1.0, 1.0)}
    quiet = Displays(**usual, noise=((0.1, 0.1), (0.1, 0.1)))
    noisy = Displays(**usual, noise=((0.3, 0.3), (0.3, 0.3)))
    assert _count(quiet, 1.0, 0.0) == 1
    assert _count(quiet, 1.0, 0.1) == 64  # 2 × 0.1 × 20 × 16
    assert _count(noisy, 1.0, 0.1) == 24  # 0.42 steps of noise: 2 × 0.1 × 20 × 6
    assert _count(noisy, 0.1, 0.1) == 5
    assert _count(quiet, 100.0, 0.1) == 801


def test_digits_matter_up_to_four_hundred_steps() -> None:
    """Of 20 steps ± 10 %: 4 + 2.5 × 4.5 × 0.1 √2 + 2 = 7.59 steps; 52 trials are 394.7, 53 402."""
    for trials, coarse in ((52, True), (53, False)):
        displays = Displays(
            trials=trials, amounts_steps=(10.0, 20.0), step_mol=(1.0, 1.0),
            noise=((0.1, 0.1), (0.1, 0.1)),
        )  # fmt: skip
        assert displays.coarse(0.1) is coarse
    one = replace(displays, trials=1)
    assert one.sigma(0) == pytest.approx(0.1 * math.sqrt(2))
    assert one.reach(0) == pytest.approx(1 + 4.5 * 0.1 * math.sqrt(2))
    assert replace(one, shared_noise=0.2).sigma(1) == pytest.approx(math.sqrt(0.06))


def test_digits_near_a_place_and_their_errors() -> None:
    first, errors = _patterns(np.array([3.3]), 1.5)
    assert first.tolist() == [1]  # floor(3.3 − 1.5)
    assert errors == pytest.approx(np.array([[-2.3, -1.3, -0.3, 0.7, 1.7]]))


def test_cells_of_an_error_hold_all_of_it() -> None:
    """A rectangle of ±1 in four cells: a quarter each, about −0.75 to 0.75."""
    centres, weights = cells_of(SumDistribution([Term(Shape.RECTANGULAR, 1.0)]), 4)
    assert centres == pytest.approx([-0.75, -0.25, 0.25, 0.75])
    assert weights == pytest.approx([0.25] * 4, abs=1e-3)
    assert weights.sum() == pytest.approx(1.0)
    for empty in (cells_of(SumDistribution([]), 4), cells_of(SumDistribution([]), 1)):
        assert [part.tolist() for part in empty] == [[0.0], [1.0]]


def test_further_trials_differ_by_what_those_made_do() -> None:
    """Two trials show no variation; a stated one is taken as it is."""
    stated = Variation(relative=0.02)

    def seen(variation: object, excess: bool, amounts: int) -> object:
        return _variation_seen(
            SimpleNamespace(
                experiment=SimpleNamespace(variation=variation),
                scatter=SimpleNamespace(excess=excess),
                amounts=[(1.0, 2.0)] * amounts,
            )  # type: ignore[arg-type]
        )

    assert seen(stated, False, 1) is stated
    assert seen(None, False, 5) is None
    assert seen(None, True, 2) is None
    assert seen(Variation(unknown=True), True, 2) is None


def test_the_ways_of_going_on_are_listed_in_order() -> None:
    alike, larger, finer = (
        FurtherTrials((1,), (Chances(p, 0.0, 1 - p, 0.0),), 0.9, 0.002, 0.01)
        for p in (0.1, 0.2, 0.3)
    )
    found = NextTrials(None, 0.9, 0.0, alike, larger, finer, 2.0)  # type: ignore[arg-type]
    assert found.ways == (alike, larger, finer)
    assert replace(found, finer=None).ways == (alike, larger)


def test_a_trial_below_zero_is_one_of_all_amounts_and_the_mean(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """One in 1000 labs, shared by both amounts of three trials and their means: 1 / 8000 each."""
    levels = []

    def limit(_blocks: object, _rest: object, level: float) -> float:
        levels.append(level)
        return 0.5

    monkeypatch.setattr(draws, "limit_of", limit)
    one: Any = SimpleNamespace(blocks=lambda *_: ((), ()))
    fine = np.full((4, 3), 1.0)
    consumed, produced = fine.copy(), fine.copy()
    consumed[1, 2], produced[2, 0], produced[3, 1] = -0.5, -0.51, -0.49
    found = draws.trials_below(draws.Drawn({}, consumed, produced), one, 3)
    assert found.tolist() == [False, False, True, False]
    assert levels == pytest.approx([draws.BELOW_ZERO_LEVEL / 8] * 2)
    levels.clear()
    assert not draws.trials_below(draws.Drawn({}, fine, fine), one, 3).any()
    assert levels == []


@pytest.mark.parametrize(
    ("recovery", "at", "alike"),
    [((0.5, 1.0), 0.5, True), ((0.51, 1.0), 0.51, False), ((0.8, 1.25), 0.8, False),
     ((0.7, 1.5), 0.7, True)],
)  # fmt: skip
def test_what_is_recovered_stands_in_the_way_where_it_makes_candidates_alike(
    recovery: tuple[float, float], at: float, alike: bool
) -> None:
    """Half of two is one: as much as all of one. 0.7 × 2 = 1.4 is less than 1.5 × 1; 1.6 is more
    than 1.25."""
    lab = replace(SILVER, recovery=recovery)
    worst = ((at, Chances(0.1, 0.0, 0.9, 0.0)), (1.0, Chances(0.8, 0.0, 0.2, 0.0)))
    easy = ((1.0, Chances(0.9, 0.0, 0.1, 0.0)),)
    found = OperatingCharacteristic(
        Plan(experiment=lab, consumed_mol=0.002), {ONE_OF[0]: easy, ONE_OF[1]: worst}
    )
    answer = questions._answer("amount", 1.0, "g", 0.9, found, None)
    assert (answer.limiting == questions.RECOVERY) == alike
    assert not alike or (answer.limiting_share, answer.shared_share) == (1.0, 1.0)
    assert alike or 0 < answer.limiting_share < 1


@pytest.mark.parametrize("spread", [0.0, 0.1])
def test_trials_that_truly_differ_spread_as_variances_add_up(spread: float) -> None:
    """20 steps made of 10 used, 5 % apart from trial to trial: (0.05 × 20)² = 1; two roundings 1/6
    (JCGM 100:2008, F.2.2.1) and two readings of 0.1 steps, 0.02; even within ±10 %, 2² / 3."""
    made = _differing(
        Displays(
            trials=1, amounts_steps=(10.0, 20.0), step_mol=(1.0, 1.0),
            noise=((0.1, 0.1), (0.1, 0.1)), variation=0.05,
        ),
        spread,
    )  # fmt: skip
    p = made.p[0].sum(axis=0)
    digits = made.first[0, 1] + np.arange(p.size)
    mean = float(p @ digits)
    assert p.sum() == pytest.approx(1.0)
    assert mean == pytest.approx(20.0, abs=0.02)
    by_hand = 1 + 1 / 6 + 0.02 + (spread * 20) ** 2 / 3
    assert float(p @ (digits - mean) ** 2) == pytest.approx(by_hand, rel=0.02)


def test_without_a_spread_a_curve_is_worked_out_everywhere(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Then digits make it jump, and nothing between two amounts can be foretold."""
    monkeypatch.setattr(_Curve, "_everywhere", lambda _: "everywhere")
    monkeypatch.setattr(_Curve, "_coarse", lambda _: {0: 0.5})
    one = _Curve(None, 0.0499, np.ones(1), None)  # type: ignore[arg-type]
    assert one.filled() == "everywhere"
    assert replace(one, spread=0.05).filled().tolist() == [0.5]


def test_where_no_mass_is_enough_for_a_class_there_is_none(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(room, "first_enough", lambda *_: None)
    plan = Plan(experiment=SILVER, consumed_mol=0.002)
    assert math.isnan(smallest_in_room([Groups(plan, 2)], aim=AIMS[1], classes=100))
    monkeypatch.setattr(room, "first_enough", lambda *_: 4)
    assert smallest_in_room([Groups(plan, 2)], aim=AIMS[1], classes=100) == pytest.approx(0.005)
    with pytest.raises(ModelError, match="kind"):
        groups_in(Room(2, [0.1]), plan, 0.1)  # type: ignore[arg-type]


def test_all_of_one_is_as_much_as_half_of_two() -> None:
    """The other way round: with one true and all recovered, half of two fits as well."""
    lab = replace(SILVER, recovery=(0.5, 1.0))
    worst = ((0.5, Chances(0.8, 0.0, 0.2, 0.0)), (1.0, Chances(0.1, 0.0, 0.9, 0.0)))
    easy = ((1.0, Chances(0.9, 0.0, 0.1, 0.0)),)
    found = OperatingCharacteristic(
        Plan(experiment=lab, consumed_mol=0.002), {ONE_OF[0]: worst, ONE_OF[1]: easy}
    )
    answer = questions._answer("amount", 1.0, "g", 0.9, found, None)
    assert answer.limiting == questions.RECOVERY
