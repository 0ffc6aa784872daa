"""Limits: no route apart, nothing finite, no lower limit, a part recovered, no line."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from stoichkit import assess, experiments
from stoichkit.chemistry.elements import molar_mass
from stoichkit.decision.answers import answer_lines
from stoichkit.decision.arrays import _Lab, _shared
from stoichkit.decision.evidence import Evidence, air_of
from stoichkit.decision.formulas import Leaf
from stoichkit.decision.linear import rounding_excess
from stoichkit.decision.mistakes import REQUIRED, MistakeKind, Working, _said, best, told
from stoichkit.decision.routes import ways_alone
from stoichkit.decision.sentences import grouped_budget, ratio_sentence
from stoichkit.decision.typed import Mistake, ratio_mistakes
from stoichkit.decision.yields import Quotient
from stoichkit.errors import ModelError, StoichkitError
from stoichkit.experiments.record import Experiment
from stoichkit.measurement.displays import Balance
from tests.labs import lab


def test_no_route_is_looked_at_alone_where_all_agree() -> None:
    record = experiments.load("copper-silver")
    assert ways_alone((record.consumed, record.produced), ()) == []


@pytest.mark.parametrize("wrong", [{"numerator": math.inf}, {"denominator": math.nan}])
def test_a_quotient_of_what_is_not_finite_is_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(ModelError, match="not a finite number"):
        Quotient(**{"numerator": 1.0, "denominator": 1.0, "parts": (), **wrong})


@pytest.mark.parametrize(
    ("noise", "pair", "single"),
    [
        # 1 + ½ exp(−4π² s²): 0.3948 at a tenth of a step, 1.5791 at a fifth
        (0.0, 1.5, 3.0), (0.1, 1 + 0.5 * 0.67383, 1 + 2 * 0.67383),
        (0.2, 1 + 0.5 * 0.20616, 1 + 2 * 0.20616),
    ],
)  # fmt: skip
def test_excess_of_rounding_dies_out_as_the_first_harmonic(
    noise: float, pair: float, single: float
) -> None:
    assert rounding_excess(noise, single=False) == pytest.approx(pair, abs=2e-5)
    assert rounding_excess(noise, single=True) == pytest.approx(single, abs=4e-5)


def test_what_atomic_weights_do_to_a_ratio() -> None:
    """Cu 63.546 ± 0.003 and Ag 107.8682 ± 0.0002 (IUPAC, from memory), taken as rectangular.

    Relative standard uncertainties are 0.003/√3/63.546 = 2.726e-5 and 1.0705e-6; a species on
    both sides leaves nothing.
    """
    shared = _shared("Cu", "Ag")
    assert shared.factor == pytest.approx(63.546 / 107.8682)
    by_name = dict(zip(shared.names, shared.relative[:, 0].tolist(), strict=True))
    (copper,) = (v for name, v in by_name.items() if "copper" in name or "Cu" in name)
    (silver,) = (v for name, v in by_name.items() if "silver" in name or "Ag" in name)
    assert copper == pytest.approx(2.726e-5, rel=1e-3)
    assert silver == pytest.approx(-1.0705e-6, rel=1e-3)
    assert shared.square == pytest.approx(2.726e-5**2 + 1.0705e-6**2, rel=2e-3)
    assert _shared("Cu", "Cu").square == pytest.approx(0.0, abs=1e-20)


def test_a_sentence_about_ratios_says_which_part_may_be_recovered() -> None:
    record = replace(experiments.load("copper-silver"), recovery=(0.9, 0.98))
    said = " ".join(ratio_sentence(assess(record)).split())
    assert "its ratio times a recovered part from 90 % to 98 % is among them" in said


def test_a_ratio_without_a_lower_limit_is_said_to_have_none() -> None:
    """0.01 g of silver on a balance that shows 0.01 g may be none at all; 1 g of copper reacted."""
    evidence = assess(lab([(3.00, 2.00, 0.70, 0.71)], Balance(readability_g=0.01)))
    (whole,) = evidence.ratio_set.intervals
    assert whole.low <= 0
    assert "no lower limit" in ratio_sentence(evidence)
    assert "every ratio from 0 to" in " ".join(ratio_sentence(evidence).split())


def test_a_budget_of_no_line_is_refused_by_its_name() -> None:
    with pytest.raises(StoichkitError, match="most"):
        grouped_budget(assess(experiments.load("copper-silver")), most=0)


@pytest.mark.parametrize(("noise_g", "linearity_g"), [(0.008, 0.0), (0.0005, 0.0), (0.008, 0.02)])
@pytest.mark.parametrize("trials", [1, 3])
def test_from_which_mass_on_something_reacted(
    trials: int, noise_g: float, linearity_g: float
) -> None:
    """Against simulated errors: rounding, repeatability and linearity of four weighings a trial.

    Along the ray of the ratio 2 the amount is the mean of both, weighted by the inverse squares of
    what an error in grams does to each; it shows where its error is that large in 5 % of labs.
    """
    balance = Balance(readability_g=0.01, repeatability_g=noise_g, linearity_g=linearity_g)
    per_a, per_b = 1 / 63.546, 1 / (2 * 107.8682)
    weight = per_b**2 / (per_a**2 + per_b**2)
    rng = np.random.default_rng(7)

    def difference() -> np.ndarray:
        shape = (200_000, trials, 2)
        one = rng.uniform(-0.005, 0.005, shape) + rng.normal(0, noise_g, shape)
        one += rng.uniform(-1, 1, shape) * linearity_g
        return (one[..., 0] - one[..., 1]).mean(axis=1)

    error = weight * per_a * difference() + (1 - weight) * per_b * difference()
    limit_g = float(np.quantile(error, 0.95)) / per_a  # of copper, with silver to match
    grams = limit_g * np.array([[0.97], [1.03]]) + np.zeros((2, trials))
    silver = grams * per_a / per_b
    found = _Lab(
        [3.0 + grams, 3.0 + 0 * grams, 0.7 + 0 * grams, 0.7 + silver],
        (molar_mass("Cu"), molar_mass("Ag")), balance, None,
    ).nothing_reacted(np.array([2.0, 2.0]), 0.05)  # fmt: skip
    assert found.tolist() == [True, False]


def working(name: str, required: float) -> Working:
    record = experiments.load(name)
    trial = record.trials[0]
    lines = [one for one in answer_lines(record) if one.trial == trial.name]
    return Working(record, trial, lines, required)


def kinds(found: Working, symbol: str, value: float) -> list[MistakeKind]:
    return [one.kind for one in found.reasons(found.at(symbol), value, abs(value) * 2e-4)]


def test_what_a_candidate_requires_and_what_goes_wrong_on_the_way() -> None:
    """Required is n(Cu) × 2 × M(Ag); upside down a quarter of it, without ratio half."""
    found = working("copper-silver", 2.0)
    right = found.right
    assert right[REQUIRED] == pytest.approx(right["n(Cu)"] * 2 * 107.8682, rel=1e-6)
    assert MistakeKind.INVERTED in kinds(found, REQUIRED, right[REQUIRED] / 4)
    assert MistakeKind.COEFFICIENT in kinds(found, REQUIRED, right[REQUIRED] / 2)
    assert MistakeKind.OTHER_STEP in kinds(found, "n(Ag)", right["m(Ag)"])


def test_what_is_required_of_a_gas_is_an_amount() -> None:
    found = working("magnesium-gas", 1.0)
    assert found.right[REQUIRED] == pytest.approx(found.right["n(Mg)"], rel=1e-9)


def on_two_balances(coarse_g: float, fine_g: float) -> Experiment:
    """Two equal trials; the balance of the second repeats to ``fine_g``, the other to more."""
    rows = [(9.0, 8.0, 0.7, 0.7 + 1.0 / 63.546 * 2 * 107.8682)] * 2
    record = lab(rows, Balance(readability_g=0.001, repeatability_g=coarse_g))
    balances = {
        **record.instruments, "fine": Balance(readability_g=0.001, repeatability_g=fine_g)
    }  # fmt: skip
    first, second = record.trials
    trials = (first, replace(second, instruments={"balance": "fine"}))
    return replace(record, instruments=balances, trials=trials)


@pytest.mark.parametrize(("coarse_g", "alone"), [(0.0195, False), (0.0202, True)])
def test_trials_on_a_finer_balance_alone(coarse_g: float, alone: bool) -> None:
    """Worth saying where they leave 90 % of the uncertainty of all, or less.

    The mean of two has √(s² + f²)/2, so f is 0.9 of that where s = √(4/0.81 − 1) f = 1.985 f.
    """
    found = assess(on_two_balances(coarse_g, 0.01)).finer_alone
    assert (found is not None) is alone
    if found is not None:
        (trial,) = found.experiment.trials
        assert trial.instruments == {"balance": "fine"}
    assert assess(lab([(9.0, 8.0, 0.7, 4.095)] * 2)).finer_alone is None


@pytest.mark.parametrize(("mass_g", "step_g", "fine"), [
    # about 0.1 % of a mass, against half a display step
    (0.2, 0.01, False), (20.0, 0.01, True), (0.2, 0.0001, True), (20.0, 1.0, False),
])  # fmt: skip
def test_air_matters_where_one_trial_is_heavy_enough(
    mass_g: float, step_g: float, fine: bool
) -> None:
    """The heaviest of the trials counts, whichever it is, and the finer of the balances."""
    light, heavy = 0.01 * step_g, mass_g
    amounts = [(m / 63.546, 2 * m / 63.546) for m in (light, heavy)]
    record = lab([(9.0, 8.0, 1.0, 4.0)], Balance(readability_g=step_g))
    for given in (amounts, amounts[::-1]):
        assert air_of(record, given)[1] is fine
    assert air_of(record, [(-a, -b) for a, b in amounts])[1] is fine
    assert air_of(record, [(light / 63.546, light / 63.546)]) == ((1.0, 1.0), False)


def picked(*ranked: tuple[int, float, MistakeKind], value: float, half: float) -> list[MistakeKind]:
    found = best([(rank, Mistake(v, kind.name, kind)) for rank, v, kind in ranked], value, half)
    return [one.kind for one in found]


TWICE, SIGN, EARLY = MistakeKind.TWICE, MistakeKind.SIGN, MistakeKind.EARLY


@pytest.mark.parametrize(("value", "half", "taken"), [
    (2.04, 0.05, True), (2.0501, 0.05, False), (1.9501, 0.05, True), (-2.0, 0.05, False),
    # of one figure: half a unit of 0.5 is a quarter, but no more than a twentieth is allowed
    (2.09, 0.5, True), (2.11, 0.5, False),
    # of three figures or more: what was rounded on the way, up to 0.3 %
    (2.0059, 0.0005, True), (2.0061, 0.0005, False), (1.9941, 0.0199, True), (2.04, 0.0199, False),
])  # fmt: skip
def test_how_near_a_number_must_be_to_what_a_mistake_gives(
    value: float, half: float, taken: bool
) -> None:
    assert bool(picked((20, 2.0, TWICE), value=value, half=half)) is taken
    assert bool(picked((20, -2.0, TWICE), value=-value, half=half)) is taken


def test_which_mistakes_are_told() -> None:
    """The one met within the digits typed first, then by rank, then the nearer; at most two."""
    assert picked((50, 2.0, TWICE), (0, 2.003, SIGN), value=2.0, half=0.001) == [TWICE]
    assert picked((20, 2.0, TWICE), (0, 2.0, SIGN), value=2.0, half=0.05) == [SIGN, TWICE]
    assert picked((20, 2.04, TWICE), (20, 2.0, SIGN), value=2.0, half=0.05) == [SIGN, TWICE]
    assert picked((0, 2.0, SIGN), (25, 2.0, TWICE), value=2.0, half=0.05) == [SIGN, TWICE]
    assert picked((0, 2.0, SIGN), (26, 2.0, TWICE), value=2.0, half=0.05) == [SIGN]
    assert picked((0, 2.0, SIGN), (5, 2.0, SIGN), value=2.0, half=0.05) == [SIGN]
    three = ((0, 2.0, SIGN), (5, 2.0, SIGN), (9, 2.0, EARLY), (10, 2.0, TWICE))
    assert picked(*three, value=2.0, half=0.05) == [SIGN, EARLY]
    assert picked(value=2.0, half=0.05) == []
    words = [Mistake(2.0, "Twice it is."), Mistake(2.0, "The sign is wrong.")]
    assert told(words) == "Twice it is. Or: the sign is wrong."
    assert told(words[:1]) == "Twice it is."


def test_parts_of_a_formula_as_they_are_said() -> None:
    """Names of readings in quotation marks; symbols of two letters, numbers and brackets not."""
    assert _said(Leaf("ab", False)) == "ab"
    assert _said(Leaf("abc", False)) == "“abc”"
    assert _said(Leaf("n(Cu)", False)) == "n(Cu)"
    assert _said(Leaf("1000", True)) == "1000"


def test_no_ratio_of_masses_where_nothing_was_used_up() -> None:
    line = answer_lines(experiments.load("copper-silver"))[-1]
    kinds = {one.kind for one in ratio_mistakes(line, 0.5, 0.0)}
    assert MistakeKind.MASSES not in kinds
    assert {one.kind for one in ratio_mistakes(line, 0.0, 0.5)} >= {MistakeKind.MASSES}
    assert [
        one.value for one in ratio_mistakes(line, 0.5, 0.25) if one.kind is MistakeKind.MASSES
    ] == [2.0]


def test_a_known_part_recovered_is_a_ratio_of_its_own() -> None:
    """90 % recovered, no more and no less: the density of 1.8 for a candidate of 2."""
    evidence = assess(lab([(3.12, 2.65, 0.71, 2.15)] * 2, recovery=(0.9, 0.9)))
    assert evidence._test.likelihood(2.0) == pytest.approx(evidence._test.density(1.8))
    assert evidence._test.likelihood(2.0) != pytest.approx(evidence._test.density(2 / 0.9))


def test_where_a_mistake_in_an_earlier_step_is_looked_for() -> None:
    """Ranks by hand: 100 for an earlier step, 12 more for what stands in a table, 5 for what is
    looked up for the step itself; two atoms of oxygen come just before “twice” (20)."""
    work = working("tin-oxide", 2.0)
    oxygen, tin, made = (work.at(symbol) for symbol in ("M(O)", "M(Sn)", "n(O)"))
    ratio = work.at("r")
    assert work._cost(MistakeKind.TWO_ATOMS, oxygen, made) == 19
    assert work._cost(MistakeKind.TWO_ATOMS, tin, ratio) == 26 + 100
    assert work._cost(MistakeKind.ATOMIC_NUMBER, oxygen, made) == 24 + 5
    assert work._cost(MistakeKind.ATOMIC_NUMBER, oxygen, ratio) == 24 + 100
    assert work._cost(MistakeKind.SIGN, made, ratio) == 0 + 100
    assert work._cost(MistakeKind.LAST_DIGIT, made, ratio) == 32 + 130


@pytest.mark.parametrize(("first", "second", "names"), [
    (0.06, 0.04, ("copper(I)",)), (0.04, 0.06, ("copper(II)",)), (0.01, 0.04, ()),
    (0.5, 0.06, ("copper(I)", "copper(II)")), (math.nan, 0.5, None), (0.5, math.nan, None),
])  # fmt: skip
def test_a_second_opinion_by_scatter_alone(
    monkeypatch: pytest.MonkeyPatch, first: float, second: float, names: tuple[str, ...] | None
) -> None:
    """A candidate fits from p = 0.05 on; there is none where one of them cannot be asked."""
    by_scatter = {"copper(I)": first, "copper(II)": second}
    monkeypatch.setattr(Evidence, "scatter_p_value", lambda _, name: by_scatter[name])
    found = assess(experiments.load("copper-silver")).second_opinion
    assert (found if found is None else found.candidates) == names
