"""What a verdict rests on, by hand: levels, routes, masses still changing, air, sentences."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from stoichkit import assess, assess_weighings, experiments
from stoichkit.decision.accepted import figures_of
from stoichkit.decision.answers import answer_lines
from stoichkit.decision.calculation import read_number
from stoichkit.decision.evidence import dried_further, still_changing
from stoichkit.decision.mistakes import best
from stoichkit.decision.sentences import caveat_sentence, yield_sentence
from stoichkit.decision.typed import Mistake, MistakeKind
from stoichkit.decision.verdict import Caveat, CaveatKind, Reason
from stoichkit.experiments.parts import Trial
from stoichkit.experiments.record import Experiment
from stoichkit.experiments.store import parse_experiment
from stoichkit.measurement.displays import Balance
from stoichkit.uncertainty.ratio_set import Interval, RatioSet
from tests.labs import as_dense_as_weights, crucible, lab

from ..measurement.test_routes import LAB as TWO_ROUTES

COPPER = experiments.load("copper-silver")

# -- the level of an amount below zero ---------------------------------------------------------


@pytest.mark.parametrize(("made_g", "below"), [(-0.048, False), (-0.051, True)])
def test_one_lab_in_a_thousand_is_called_below_zero(made_g: float, below: bool) -> None:
    """Each of two amounts has half of 0.001: 3.4808 standard deviations (normal table).

    Two weighings that repeat to 0.01 g, on steps of 0.001 g, differ by √2 √(0.01² + 0.001²/12),
    0.01415 g: the limit is 0.0492 g.
    """
    balance = Balance(readability_g=0.001, repeatability_g=0.01)
    row = (3.0, 2.7, 0.7, 0.7 + made_g)
    found = assess(lab([row], balance))
    assert (found.verdict.reason is Reason.BELOW_ZERO) is below
    many = assess_weighings(
        *([value] for value in row), consumed="Cu", produced="Ag", candidates={"two": 2},
        balance=balance,
    )  # fmt: skip
    assert many.below_zero.tolist() == [below]


# -- routes that disagree ----------------------------------------------------------------------


def test_all_that_one_of_two_routes_allows_is_in_the_set() -> None:
    """Copper over zinc: 1.00 by weighing, 5.0042/5.3825 = 0.93 by titration of 1.5 mL more."""
    record = parse_experiment(TWO_ROUTES.replace('"one to one" = 1\n', ""))
    record = record.with_reading("1", "burette after", "21.64")
    found = assess(record.with_reading("2", "burette after", "21.84"))
    titrated, together, weighed = found.ratio_set.intervals
    assert titrated.low < 0.9297 < titrated.high < 0.95
    assert 0.95 < together.low < together.high < 0.98  # by the mean of both
    assert 0.98 < weighed.low < 1.0 < weighed.high
    for end in (end for one in found.ratio_set.intervals for end in (one.low, one.high)):
        p = found.p_value(0.9999 * end), found.p_value(1.0001 * end)
        assert min(p) < 0.05 <= max(p)


# -- air ---------------------------------------------------------------------------------------


# -- air ---------------------------------------------------------------------------------------


def test_a_candidate_may_fit_only_with_the_buoyancy_of_air() -> None:
    """Unknown densities change 3.30 g of silver by 1.4 ‰ at most, less than half of 0.01 g."""
    balance = Balance(readability_g=0.01, repeatability_g=0.006)
    without = assess(as_dense_as_weights(lab([(20.0, 19.05, 1.0, 4.30)], balance)))
    assert without.candidates["copper(II)"].p_value < 0.05
    assert not without.allows_air
    found = assess(lab([(20.0, 19.05, 1.0, 4.30)], balance))
    assert found.candidates["copper(II)"].p_value >= 0.05
    assert found.allows_air
    assert 2.0 < found.candidates["copper(II)"].tested_ratio < 2.003
    inside = assess(lab([(20.0, 19.05, 1.0, 4.25)], balance))
    assert inside.candidates["copper(II)"].tested_ratio == 2.0  # it fits without
    assert not inside.allows_air


@pytest.mark.parametrize(("silver_g", "kind"), [
    ("2.32", CaveatKind.OVER_RECOVERY), ("2.46", CaveatKind.OVER_100),
    ("2.26", CaveatKind.OVER_RECOVERY),
])  # fmt: skip
def test_over_100_percent_is_said_only_beyond_its_uncertainty(
    silver_g: str, kind: CaveatKind
) -> None:
    """0.47 g of copper give 1.596 g of silver in full; of these 50 % to 80 % may be recovered.

    1.61 g (101 %) and 1.55 g (97 %) fit 100 %, to 0.01 g in 0.47 g; 1.75 g (110 %) does not.
    """
    record = lab([(3.12, 2.65, 0.71, float(silver_g))], recovery=(0.5, 0.8))
    (found,) = (c for c in assess(record).warnings if c.kind in (kind, CaveatKind.OVER_RECOVERY))
    assert found.kind is kind
    assert found.subject == "copper(II)"
    percent = 100 * (float(silver_g) - 0.71) / 107.8682 / (2 * 0.47 / 63.546)
    assert found.value == pytest.approx(percent, rel=1e-5)


# -- masses still changing -------------------------------------------------------------------


def heated(*trials: tuple[str, ...]) -> Experiment:
    """Return crystals heated in several trials, the residue weighed so many times in each."""
    record = crucible("22.7000")
    (one,) = record.trials
    return record.with_trials([
        Trial(str(i), {**one.readings, "crucible + residue": texts})
        for i, texts in enumerate(trials, start=1)
    ])  # fmt: skip


RESIDUE = "crucible + residue"


@pytest.mark.parametrize(("texts", "last_change_g"), [
    (("22.7000", "22.6900"), -0.01), (("22.7000", "22.7000"), None), (("22.6900", "22.7000"), 0.01),
    # only the last two count: constant at last, and no longer constant
    (("22.8000", "22.7000", "22.7000"), None), (("22.7000", "22.7000", "22.6900"), -0.01),
])  # fmt: skip
def test_a_mass_weighed_again_in_one_trial_of_two(
    texts: tuple[str, ...], last_change_g: float | None
) -> None:
    """What was weighed once has not changed."""
    expected = [] if last_change_g is None else [("2", RESIDUE, last_change_g)]
    assert still_changing(heated(("22.7000",), texts)) == expected
    assert still_changing(heated(("22.7000",), ("22.7000",))) == []


def test_a_mass_may_go_on_by_one_to_ten_changes() -> None:
    """From 22.6900 g on by 1, 2, … 10 times −0.0100 g; the other trial stays as it is."""
    record = heated(("22.7000",), ("22.8000", "22.7000", "22.6900"))
    masses = []
    for one in dried_further(record, still_changing(record)):
        assert one is not None
        assert one.trials[0].readings[RESIDUE] == ("22.7000",)
        *before, last = one.trials[1].readings[RESIDUE]
        assert before == ["22.8000", "22.7000"]
        masses.append(float(last))
    assert masses == pytest.approx([22.69 - 0.01 * i for i in range(1, 11)], abs=1e-9)


# -- sentences ---------------------------------------------------------------------------------


@pytest.mark.parametrize(("begins", "said"), [(999.0, True), (1001.0, False)])
def test_yields_that_begin_above_100_000_percent_are_left_out(begins: float, said: bool) -> None:
    """Of a ratio of 1, 1000 is 100,000 %."""
    evidence = assess(COPPER)
    evidence.__dict__["ratio_set"] = RatioSet((Interval(0.9, 1.1), Interval(begins, 5e3)), 0.95)
    words = yield_sentence(evidence, "copper(I)")
    assert "90 % to 110 %" in words
    assert ("500000" in words) is said
    evidence.__dict__["ratio_set"] = RatioSet((Interval(begins, 5e3),), 0.95)
    assert "500000" in yield_sentence(evidence, "copper(I)")


@pytest.mark.parametrize(("fine", "words"), [
    (1, ("Trial 2 alone leaves less uncertain", "judge by it alone")),
    (2, ("Trials 2 and 3 alone leave less uncertain", "judge by them alone")),
])  # fmt: skip
def test_the_trials_on_the_finer_balance_are_named(fine: int, words: tuple[str, str]) -> None:
    record = lab([(9.0, 8.0, 0.7, 4.095)] * (1 + fine), Balance(readability_g=0.1))
    record = record.with_instrument("fine", Balance(readability_g=0.001))
    first, *others = record.trials
    on_fine = [replace(one, instruments={"balance": "fine"}) for one in others]
    evidence = assess(record.with_trials([first, *on_fine]))
    text = caveat_sentence(Caveat(CaveatKind.FINER_ALONE), evidence)
    assert all(one in text for one in (*words, "before the readings were seen"))


# -- answers -----------------------------------------------------------------------------------


@pytest.mark.parametrize(("after", "silver", "note"), [
    ("2.95", "1.15", "No ratio: the amount consumed is below zero."),
    ("2.94", "1.15", "No ratio: nothing was consumed."),
    ("2.82", "0.70", "No ratio: the amount produced is below zero."),
    ("2.82", "0.75", ""),  # nothing made of something used up is a ratio of nothing
])  # fmt: skip
def test_why_no_ratio_is_asked(after: str, silver: str, note: str) -> None:
    """2.94 g of wire before, and 0.75 g of paper."""
    record = COPPER.with_reading("bench 1", "wire after", after)
    record = record.with_reading("bench 1", "paper + silver", silver)
    (line,) = (x for x in answer_lines(record) if (x.trial, x.symbol) == ("bench 1", "r"))
    assert line.note == note
    assert math.isnan(line.value) is bool(note)


PIPETTED = """
title = "Silver chloride from a measured volume"
invented = true
[instruments.balance]
kind = "balance"
readability_g = STEP
[instruments.pipette]
kind = "pipette"
capacity_mL = 25
[consumed]
kind = "solution"
species = "Ag^+"
pipette = "pipette"
[consumed.concentration]
kind = "known"
name = "silver nitrate solution"
mol_per_L = 0.1
standard_mol_per_L = 0.0005
[produced]
kind = "mass by difference"
species = "AgCl"
heavier = "paper + product"
lighter = "paper"
[candidates.ratios]
one = 1
half = "1/2"
[[trials]]
name = "1"
"paper" = "FIRST"
"paper + product" = "LAST"
"""


@pytest.mark.parametrize(("step", "first", "last", "ratio"), [
    ("0.1", "0.7", "1.1", "1"), ("0.01", "0.71", "1.07", "1.0"),
    ("0.001", "0.711", "1.071", "1.00"), ("0.0001", "0.7110", "1.0710", "1.005"),
])  # fmt: skip
def test_a_ratio_has_the_figures_of_what_was_read(
    step: str, first: str, last: str, ratio: str
) -> None:
    """25 mL of 0.1 mol/L are given; 0.360 g / 143.318 g/mol / 2.5 mmol = 1.0048 (0.4 g: 1.12)."""
    text = PIPETTED.replace("STEP", step).replace("FIRST", first).replace("LAST", last)
    *_, line = answer_lines(parse_experiment(text))
    assert (line.symbol, line.answer) == ("r", ratio)
    assert line.digits == len(ratio.replace(".", ""))


def test_a_ratio_of_what_is_given_alone_has_three_figures() -> None:
    """Two portions of 25 mL, of 0.1 mol/L each, with nothing to read."""
    start, end = PIPETTED.index("[consumed]"), PIPETTED.index("[produced]")
    other = PIPETTED[start:end].replace("consumed", "produced").replace("Ag^+", "Cl^-")
    after = PIPETTED[PIPETTED.index("[candidates") : PIPETTED.index('"paper" =')]
    text = PIPETTED[:end] + other.replace("silver nitrate", "salt") + after
    *_, line = answer_lines(parse_experiment(text.replace("STEP", "0.01")))
    assert (line.symbol, line.answer) == ("r", "1.00")


@pytest.mark.parametrize(("text", "shown", "figures"), [
    # a power has the figures of its base; the decimals are those of that place
    ("12^2", "1.4e+02", 2), ("4^2", "2e+01", 1), ("4^2-3^2", "7e+00", 1),
    ("3.0*10^2", "3.0e+02", 2), ("2*3.0", "6.00", 3),
    # an exact quotient has what it needs, at most three figures and two decimals from 1 on
    ("1/8", "0.125", 3), ("1/80", "0.0125", 3), ("7/4", "1.75", 3), ("27/8", "3.38", 3),
    ("81/8", "10.12", 4), ("1/3", "0.333", 3), ("1/30", "0.0333", 3), ("10/3", "3.33", 3),
])  # fmt: skip
def test_a_calculation_is_shown_with_its_figures(text: str, shown: str, figures: int) -> None:
    found = read_number(text)
    assert found.text == shown
    assert figures_of(found) == figures


def test_of_mistakes_that_are_alike_the_first_two_kinds_are_told() -> None:
    """Equal in rank and in distance they stay in their order; of one kind one is enough."""
    kinds = (MistakeKind.TWICE, MistakeKind.PREFIX, MistakeKind.TARE)
    first, second, third = (Mistake(2.0, kind.value, kind) for kind in kinds)
    assert best([(20, first), (20, second), (20, third)], 2.0, 0.05) == (first, second)
    again = Mistake(2.0, "again", MistakeKind.TWICE)
    assert best([(20, first), (20, again), (20, third)], 2.0, 0.05) == (first, third)
    assert best([(20, first), (20, again)], 2.0, 0.05) == (first,)
    # one that is thought of 25 places later is told beside it, and 26 places later it is not
    assert best([(45, second), (20, first)], 2.0, 0.05) == (first, second)
    assert best([(46, second), (20, first)], 2.0, 0.05) == (first,)


@pytest.mark.parametrize(("typed", "half", "given"), [
    (2.1, 0.1, True), (2.101, 0.1, False), (1.9, 0.1, True), (1.899, 0.1, False),
    (2.099, 0.5, True), (2.101, 0.5, False),  # a twentieth of 2 at the most, however coarse
    (2.0059, 1e-4, True), (2.0061, 1e-4, False),  # three thousandths of 2, however fine
    (2.0059, 0.0, True), (-2.0, 0.1, False),
])  # fmt: skip
def test_how_near_a_number_must_be_to_what_a_mistake_gives(
    typed: float, half: float, given: bool
) -> None:
    twice = Mistake(2.0, "Twice.", MistakeKind.TWICE)
    assert best([(20, twice)], typed, half) == ((twice,) if given else ())
    other = Mistake(typed, "Exactly.", MistakeKind.PREFIX)
    near = given and abs(typed - 2.0) <= min(half, 0.1) + 1e-6
    # what it agrees with to its last figure comes first, however late it is thought of
    assert best([(20, twice), (90, other)], typed, half)[0] == (twice if near else other)
