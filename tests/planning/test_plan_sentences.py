"""Sentences about plans: digits on the right side of the target, and the right reasons."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stoichkit import experiments
from stoichkit.planning.design import design_map, with_readability
from stoichkit.planning.outcomes import Chances
from stoichkit.planning.plan import Plan, operating_characteristic
from stoichkit.planning.questions import (
    coarsest_balance,
    fewest_trials,
    largest_recovery,
    smallest_amount,
)
from stoichkit.planning.sentences import (
    amount_label,
    amount_text,
    answer_sentences,
    chance_text,
    chances_sentence,
    chances_table,
    consumed_molar_mass,
    hardest_sentence,
    map_sentence,
    meaning_sentence,
    noise_limited,
    sample_cost_sentence,
    setting_sentence,
    step_text,
    three_digits,
)
from stoichkit.planning.simulation import simulate_labs

SILVER = experiments.load("copper-silver")
SMALL = Plan(experiment=SILVER, consumed_mol=0.0005)


@given(st.floats(0, 1), st.sampled_from([0.5, 0.9, 0.95, 0.99]))
def test_shown_chance_stands_on_the_right_side_of_the_target(p: float, target: float) -> None:
    text = chance_text(p, target)
    if text.startswith(("below", "above")):
        assert p < 5e-4 or p > 1 - 5e-4
        return
    if abs(p - target) > 1e-8:
        assert (float(text) >= target) == (p >= target)
    assert float(text) == pytest.approx(p, abs=0.0051)


@given(st.floats(1e-6, 1e5))
def test_three_digits_round_up_when_told_to(value: float) -> None:
    assert float(three_digits(value, up=True)) >= value * (1 - 1e-8)
    assert float(three_digits(value)) == pytest.approx(value, rel=0.00501)
    assert "e" not in three_digits(value)


@pytest.mark.parametrize("step", [1.0, 0.5, 0.2, 0.1, 0.05, 0.01, 0.002, 0.0001, 0.00001])
def test_steps_are_written_as_on_a_display(step: float) -> None:
    assert float(step_text(step).removesuffix(" g")) == step
    assert "e" not in step_text(step)


def test_amounts_of_electrons_are_in_mmol() -> None:
    plating = experiments.load("copper-plating")
    plan = Plan(experiment=plating, consumed_mol=0.0032)
    assert amount_text(plan) == "3.2 mmol of electrons"
    assert amount_label(plating).endswith(", mmol")
    assert consumed_molar_mass(plating) == 1000.0
    assert consumed_molar_mass(SILVER) == pytest.approx(63.546, abs=0.005)


def test_setting_says_what_is_planned() -> None:
    plan = replace(SMALL, trials=4, spread=0.0, experiment=replace(SILVER, recovery=(0.9, 1.1)))
    text = setting_sentence(plan)
    assert text.startswith("4 trials, each with 0.0318 g of Cu exactly, on a balance that reads")
    assert "Between 0.9 and 1.1 of the product is recovered: any part in between." in text


def test_target_above_the_coverage_is_explained() -> None:
    found = operating_characteristic(replace(SMALL, consumed_mol=0.01))
    assert hardest_sentence(found, 0.9).startswith("Enough: ")
    text = hardest_sentence(found, 0.98)
    assert text.startswith("Not enough: ")
    assert "a higher chance needs a higher coverage probability" in text
    assert "coverage probability" not in hardest_sentence(operating_characteristic(SMALL), 0.9)


def test_chances_are_named_in_sentence_and_table() -> None:
    found = Chances(0.6, 0.01, 0.36, 0.03)
    text = chances_sentence("SnO", found)
    assert [float(n) for n in re.findall(r"0\.\d+", text)] == [0.6, 0.36, 0.03, 0.01]
    table = chances_table([("SnO", found)], 0.9)
    assert len(table.header) == len(table.rows[0]) == 6
    mean = chances_table([("SnO", found)], average={"SnO": replace(found, right=0.7)})
    assert mean.header[2] == "right, on average over the recovery"
    assert mean.rows[0][:3] == ("SnO", "0.60", "0.70")
    assert "cannot be judged, 0.02" in chances_sentence(
        "SnO", replace(found, cannot_be_judged=0.02)
    )


def test_every_answer_gives_the_chance_at_it_and_one_step_short() -> None:
    for answer in (
        smallest_amount(SMALL),
        fewest_trials(SMALL),
        largest_recovery(replace(SMALL, consumed_mol=0.004)),
    ):
        assert answer.short is not None
        text = answer_sentences(answer)
        mean = ""
        if answer.question == "recovery":
            mean = f" (on average {chance_text(answer.at.average_right)})"
        assert f"then {chance_text(answer.at.right, 0.9)}{mean}; " in text
        assert f"it is {chance_text(answer.short.right, 0.9)}, short of 0.9." in text


def test_smallest_mass_is_not_rounded_down() -> None:
    answer = smallest_amount(SMALL)
    shown = float(re.search(r"([0-9.]+) g of Cu", answer_sentences(answer))[1])
    assert answer.value <= shown < 1.01 * answer.value


def test_why_no_number_of_trials_is_enough() -> None:
    allowed = replace(SILVER, recovery=(0.6, 1.5))
    answer = fewest_trials(Plan(experiment=allowed, consumed_mol=0.005))
    text = answer_sentences(answer)
    assert text.startswith("No number of trials is enough: what may be recovered makes one ")
    assert text.endswith("; the chance stays below 0.001.")
    assert not noise_limited(answer)


def test_more_trials_that_would_go_on_helping_are_not_said_to_level_off() -> None:
    coarse = with_readability(SILVER, 0.1)
    answer = fewest_trials(Plan(experiment=coarse, consumed_mol=0.0005))
    assert not answer.reached
    assert noise_limited(answer)
    text = answer_sentences(answer)
    assert "levels off" not in text
    assert "64 trials are not enough" in text


def test_no_balance_and_no_allowance() -> None:
    tiny = replace(SMALL, consumed_mol=1e-8)
    text = answer_sentences(coarsest_balance(tiny, readabilities_g=[0.1, 0.01]))
    assert text.startswith("No balance is fine enough: ")
    assert answer_sentences(largest_recovery(SMALL)).startswith("No recovery allowance can be")
    first = answer_sentences(coarsest_balance(replace(SMALL, consumed_mol=0.5)))
    assert first.endswith("Nothing coarser was tried.")


def test_cost_of_a_coarser_balance() -> None:
    """Weighings alone scale with the display step: ten times the step, ten times the sample."""
    fine = smallest_amount(SMALL)
    coarse = smallest_amount(
        replace(SMALL, experiment=with_readability(SILVER, 0.1), consumed_mol=0.005)
    )
    assert " needs 10 times the sample " in sample_cost_sentence(fine, coarse, 0.01, 0.1)
    never = replace(fine, value=math.nan)
    assert "no sample is large enough" in sample_cost_sentence(never, coarse, 0.01, 0.1)
    assert "cannot be made up for" in sample_cost_sentence(fine, never, 0.01, 0.1)


@pytest.mark.parametrize(
    ("amount", "begins"),
    [(0.00002, "Most labs cannot tell"), (0.0004, "More labs"), (0.005, "Nearly all labs")],
)
def test_meaning_follows_the_counts(amount: float, begins: str) -> None:
    labs = simulate_labs(replace(SMALL, consumed_mol=amount), "copper(II)")
    text = meaning_sentence(labs)
    assert text.startswith(begins)
    assert f"{labs.counts.right} " in text or labs.counts.right == 0


def test_map_says_where_the_target_is_out_of_reach() -> None:
    found = design_map(
        SILVER, masses_g=np.geomspace(0.01, 0.1, 8), readabilities_g=[0.001, 0.01, 0.1]
    )
    text = map_sentence(found, SILVER, [0.001, 0.1])
    assert "on a balance that reads to 0.001 g" in text
    assert "On a balance that reads to 0.1 g no mass from 0.01 g to 0.1 g" in text
    assert map_sentence(found, SILVER, []) == "Target: a chance of 0.9 with 1 trial."
