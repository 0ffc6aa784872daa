"""How often a lab asks: fields, refusals, levels against printed ones, and the promise kept."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from stoichkit import assess, assess_class, assess_weighings, experiments
from stoichkit.classroom.verdict import class_verdict
from stoichkit.decision import VerdictKind, assumption_sentences, caveat_sentence, look_sentence
from stoichkit.decision.verdict import CaveatKind
from stoichkit.errors import ExperimentError, ModelError
from stoichkit.experiments import Looks, Variation, parse_experiment
from stoichkit.experiments.looks import constant_level, ever_excluded
from stoichkit.measurement import Balance
from stoichkit.planning import Plan, chances, simulate_labs
from tests.labs import RATIOS, lab, weighed

LAB = experiments.load("copper-silver")
PLANNED = replace(LAB, looks=Looks(planned=2, trials_each=2))


# S. J. Pocock, Biometrika 64 (1977) 191-199: levels a look for 5 % two-sided; from memory
@pytest.mark.parametrize(
    ("looks", "printed"), [(2, 0.0294), (3, 0.0221), (4, 0.0182), (5, 0.0158), (10, 0.0106)]
)
def test_constant_levels_are_those_printed(looks: int, printed: float) -> None:
    assert round(constant_level(looks, 0.05), 4) == printed
    used = Looks(planned=looks).level(0.05)
    assert printed - 0.00016 < used <= constant_level(looks, 0.05)


# P. Armitage, C. K. McPherson and B. C. Rowe, J. R. Stat. Soc. A 132 (1969) 235-244; from memory
@pytest.mark.parametrize(
    ("looks", "printed"), [(1, 0.05), (2, 0.083), (3, 0.107), (4, 0.126), (5, 0.142), (10, 0.193)]
)
def test_chances_of_repeated_tests_are_those_printed(looks: int, printed: float) -> None:
    assert round(ever_excluded(looks, 0.05), 3) == printed


@pytest.mark.parametrize("alpha", [0.5, 0.01, 0.0001])
def test_levels_keep_other_promises_too(alpha: float) -> None:
    level = Looks(planned=4).level(alpha)
    assert alpha / 4 < level < alpha
    assert ever_excluded(4, level) <= alpha
    rng = np.random.default_rng(1)
    sums = rng.standard_normal((20_000, 4)).cumsum(axis=1) / np.sqrt(np.arange(1, 5))
    from scipy.special import ndtri

    found = (np.abs(sums) > -ndtri(level / 2)).any(axis=1).mean()
    assert abs(found - alpha) < 4 * np.sqrt(alpha / 20_000) + 0.01 * alpha


def test_one_look_has_the_whole_of_it() -> None:
    assert constant_level(1, 0.05) == pytest.approx(0.05, rel=1e-9)
    for alpha in (0.5, 0.9):  # where a level lies near the whole
        assert ever_excluded(2, constant_level(2, alpha)) == pytest.approx(alpha, rel=1e-6)


def test_between_two_stages_the_plan_and_this_look_add_up() -> None:
    """Two looks of two trials: 5 % at 2 and 4 trials, 5 % and 2.94 % (printed above) at 3.

    One after the plan is a third look at the same level; with Student t three times 2.5 %.
    """
    plan = Looks(planned=2, trials_each=2)
    assert [plan.number(trials) for trials in (1, 2, 3, 4, 5)] == [1, 1, 2, 2, 3]
    assert plan.ever(2, 0.05) == plan.ever(4, 0.05) == 0.05
    assert plan.ever(1, 0.05) == plan.ever(3, 0.05) == pytest.approx(0.0794, abs=1.1e-4)
    assert plan.ever(5, 0.05) == ever_excluded(3, plan.level(0.05))
    assert plan.ever(5, 0.05, Variation(unknown=True)) == pytest.approx(0.075)


def test_no_chance_is_above_one() -> None:
    """With Student t so many looks exclude 5 % each at most: 19 of them 95 %, 21 would 105 %."""
    unknown = Variation(unknown=True)
    assert Looks(before=18).ever(30, 0.05, unknown) == pytest.approx(0.95)
    assert Looks(before=20).ever(30, 0.05, unknown) == 1.0


def test_levels_are_rounded_down_to_three_digits_however_small() -> None:
    """At least a fifth of the whole (Bonferroni); far out the looks hardly exclude together."""
    assert 2e-13 <= Looks(planned=5).level(1e-12) < 2.1e-13


def test_student_t_takes_an_equal_share() -> None:
    for variation in (Variation(unknown=True), Variation(relative=0.02, from_trials=5)):
        assert Looks(planned=4).level(0.05, variation) == 0.0125
        assert (
            "Bonferroni" in assumption_sentences(assess(replace(PLANNED, variation=variation)))[0]
        )
    assert Looks(planned=4).level(0.05, Variation(relative=0.02)) == 0.0182
    assert "Pocock" in assumption_sentences(assess(PLANNED))[0]


def test_a_file_says_how_often() -> None:
    for looks in (Looks(planned=5), Looks(planned=2, trials_each=3), Looks(before=2)):
        record = replace(LAB, looks=looks)
        assert parse_experiment(record.to_toml()) == record
        assert type(record).from_json(record.to_json()) == record
    assert "looks" not in LAB.to_toml()
    assert "trials_each" not in replace(LAB, looks=Looks(planned=5)).to_toml()


@pytest.mark.parametrize(
    ("lines", "field", "said"),
    [
        ("planned = 0", "looks.planned", "1 to 20"),
        ("planned = 2.5", "looks.planned", "whole number"),
        ('planned = "5"', "looks.planned", "whole number"),
        ("planned = 21", "looks.planned", "1 to 20"),
        ("planed = 3", "looks.planed", "Did you mean “planned”?"),
        ("trials_each = 2", "looks.planned", "trials_each = 2"),
        ("planned = 2\ntrials_each = 0", "looks.trials_each", "1 to 64"),
        ("planned = 2\nbefore = 1", "looks", "one of the two"),
        ("before = -1", "looks.before", "0 to 20"),
        ("", "looks.planned", "Leave the whole table out"),
    ],
)
def test_what_cannot_be_used_is_refused(lines: str, field: str, said: str) -> None:
    text = LAB.to_toml().replace("[instruments", f"[looks]\n{lines}\n\n[instruments", 1)
    with pytest.raises(ExperimentError) as caught:
        parse_experiment(text, "mine.toml")
    assert caught.value.field == field
    assert caught.value.path == "mine.toml"
    assert said in str(caught.value)


def test_a_number_in_place_of_the_table_is_refused() -> None:
    text = LAB.to_toml().replace("[instruments", "looks = 5\n\n[instruments", 1)
    with pytest.raises(ExperimentError, match=r"\[looks\], and write planned = 5"):
        parse_experiment(text)


def test_the_stricter_level_decides() -> None:
    rows = [(3.00, 2.97, 0.70, 0.78)]
    balance = Balance(readability_g=0.01, repeatability_g=0.01)
    once = lab(rows, balance)
    p = assess(once).candidates["copper(I)"].p_value
    coverage = 1 - 1.2 * p  # just excluded at one look
    alone, first = (
        assess(replace(once, coverage=coverage, looks=looks)) for looks in (None, Looks(planned=5))
    )
    assert not alone.candidates["copper(I)"].compatible
    assert first.candidates["copper(I)"].compatible
    assert first.verdict.kind is VerdictKind.NOT_TOLD_APART
    assert first.coverage > coverage == first.together == alone.together
    assert first.candidates["copper(I)"].p_value == p


def test_arrays_and_planning_judge_by_the_same_level() -> None:
    rng = np.random.default_rng(3)
    balance = Balance(readability_g=0.01, repeatability_g=0.005)
    tables = weighed(rng, 0.03, 2.0, 0.01, 0.5, (12, 3))
    looks = Looks(planned=3)
    many = assess_weighings(
        *tables, consumed="Cu", produced="Ag", candidates=RATIOS, balance=balance, looks=looks
    )
    assert many.coverage == pytest.approx(1 - looks.level(0.05))
    for i in range(12):
        one = assess(lab(np.stack([t[i] for t in tables], axis=1), balance, looks=looks))
        assert one.verdict.kind == many.kinds[i]
        assert one.verdict.candidates == many.candidates[i]
    plan = Plan(experiment=replace(LAB, looks=looks), consumed_mol=0.0003, trials=2)
    strict = chances(plan, "copper(II)").right
    plain = chances(replace(plan, experiment=LAB), "copper(II)").right
    counted = simulate_labs(plan, "copper(II)", labs=2000).counts.right / 2000
    assert strict < plain - 0.02
    assert abs(counted - strict) < 0.035


def test_the_verdict_says_which_look_it_is() -> None:
    assert look_sentence(assess(PLANNED)).startswith("Look 2 of 2 planned: each is judged at 2.93")
    assert look_sentence(assess(LAB)) == ""
    early = assess(replace(LAB, looks=Looks(planned=3, trials_each=3)))
    late = assess(replace(LAB, looks=Looks(planned=3)))
    never = assess(replace(LAB, looks=Looks(before=4)))
    said = []
    for evidence in (early, late, never):
        assert look_sentence(evidence) == ""
        (warning,) = (w for w in evidence.warnings if w.kind is CaveatKind.UNPLANNED_LOOK)
        said.append(caveat_sentence(warning, evidence))
    assert "stage 2 of 3 ends with 6 trials, and there are 4" in said[0]
    assert "7.2 % with this one, not 5 %" in said[0]  # 5 % and one look at 2.2 % more
    assert said[1].startswith("This is look 4, and 3 were planned. Asked 4 times")
    assert "This is look 5, and none was planned" in said[2]
    assert "in up to 14 % of labs, not 5 %" in said[2]
    kinds = {w.kind for one in (LAB, PLANNED) for w in assess(one).warnings}
    assert CaveatKind.UNPLANNED_LOOK not in kinds


def test_looks_are_for_one_lab_and_not_for_a_class() -> None:
    with pytest.raises(ModelError, match="judged once"):
        assess_class(experiments.class_file(), PLANNED)
    with pytest.raises(ModelError, match="judged once"):
        class_verdict(PLANNED)


@pytest.mark.parametrize("noise", [0.0, 1.0])
def test_the_truth_is_ever_excluded_no_oftener_than_promised(noise: float) -> None:
    labs, looks = 1500, 4
    rng = np.random.default_rng(7)
    tables = weighed(rng, 0.0437, 2.0, 0.01, noise, (labs, looks))
    balance = Balance(readability_g=0.01, repeatability_g=noise * 0.01, linearity_g=0.0,
                      calibration_relative=0.0)  # fmt: skip
    ever = {}
    for planned in (None, Looks(planned=looks)):
        out = np.zeros(labs, dtype=bool)
        for n in range(1, looks + 1):
            found = assess_weighings(
                *(t[:, :n] for t in tables), consumed="Cu", produced="Ag",
                candidates=RATIOS, balance=balance, looks=planned,
            )  # fmt: skip
            out |= ~found.compatible[:, 1]
        ever[planned] = float(out.mean())
    assert ever[Looks(planned=looks)] <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / labs)
    if noise:
        assert ever[None] > 0.075  # what the plan is for
