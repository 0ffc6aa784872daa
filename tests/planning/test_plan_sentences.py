"""Sentences about plans: digits on the right side of the target, and the right reasons."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stoichkit import experiments
from stoichkit.experiments.parts import Variation
from stoichkit.planning.design import design_map, with_readability
from stoichkit.planning.outcomes import Chances
from stoichkit.planning.plan import (
    NOTHING,
    OperatingCharacteristic,
    Plan,
    operating_characteristic,
)
from stoichkit.planning.questions import (
    RECOVERY,
    Answer,
    coarsest_balance,
    fewest_trials,
    largest_recovery,
    smallest_amount,
)
from stoichkit.planning.sentences import (
    _mistaken,
    _reason,
    _two,
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
    single_answer_sentence,
    step_text,
    three_digits,
    wrong_sentence,
)
from stoichkit.planning.simulation import Counts, SimulatedLabs, simulate_labs

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


@pytest.mark.parametrize(
    ("chance", "target", "text"),
    [
        (0.0, 0.0, "below 0.001"), (0.000499, 0.0, "below 0.001"), (0.0005, 0.0, "0.001"),
        (0.9995, 0.0, "1.000"), (0.99951, 0.0, "above 0.999"), (1.0, 0.0, "above 0.999"),
        (0.0099, 0.0, "0.010"), (0.01, 0.0, "0.01"), (0.99, 0.0, "0.99"), (0.991, 0.0, "0.991"),
        (0.8973, 0.9, "0.897"), (0.89996, 0.9, "0.89996"), (0.9, 0.9, "0.90"), (0.904, 0.9, "0.90"),
    ],
)  # fmt: skip
def test_a_chance_on_either_side_of_each_limit(chance: float, target: float, text: str) -> None:
    assert chance_text(chance, target) == text


@pytest.mark.parametrize(
    ("value", "nearest", "up"),
    [
        (0.06174, "0.0617", "0.0618"), (250.0, "250", "250"), (1234.4, "1234", "1235"),
        (0.1, "0.1", "0.1"), (0.1001, "0.1", "0.101"), (9.999, "10", "10"), (1.0, "1", "1"),
        (0.0318, "0.0318", "0.0318"), (12.3, "12.3", "12.3"), (100.4, "100", "101"),
    ],
)  # fmt: skip
def test_three_digits_by_hand(value: float, nearest: str, up: str) -> None:
    assert three_digits(value) == nearest
    assert three_digits(value, up=True) == up


def test_a_setting_names_everything_that_matters() -> None:
    one = replace(SMALL, trials=1)
    assert setting_sentence(one).startswith("1 trial with 0.0318 g of Cu to within 10 %, on a")
    lab = replace(SILVER, variation=Variation(relative=0.025, from_trials=6))
    assert setting_sentence(replace(SMALL, experiment=lab)).endswith(
        " What is recovered differs from trial to trial by 2.5 % (standard deviation, known from 6 "
        "trials)."
    )
    exact = replace(SILVER, variation=Variation(relative=0.025))
    assert setting_sentence(replace(SMALL, experiment=exact)).endswith("(standard deviation).")
    unknown = replace(SILVER, variation=Variation(unknown=True))
    assert "is unknown: each lab is judged by its own scatter" in setting_sentence(
        replace(SMALL, experiment=unknown)
    )
    assert "at 95 % coverage." in setting_sentence(SMALL)
    assert "recovered" not in setting_sentence(SMALL)


def characteristic(
    right: float, *, wrong: float = 0.0, labs: int = 0, plan: Plan = SMALL
) -> OperatingCharacteristic:
    """Return chances of two candidates of which the first is the harder."""
    return OperatingCharacteristic(
        plan,
        {
            "copper(I)": ((1.0, Chances(right, wrong, 1 - right - wrong, 0.0, labs=labs)),),
            "copper(II)": ((1.0, Chances((1 + right) / 2, 0.0, 0.0, 0.0, labs=labs)),),
        },
    )


@pytest.mark.parametrize(
    ("right", "target", "begins", "coverage"),
    [
        (0.9, 0.9, "Enough: if copper(I) is true, the hardest to single out, the chance of a right "
         "conclusion is 0.90; 0.9 is wanted.", False),
        (0.899, 0.9, "Not enough: if copper(I) is true", False),
        (0.94, 0.95, "Not enough: ", False),
        (0.94, 0.951, "Not enough: ", True),
        (0.96, 0.96, "Enough: ", False),
    ],
)  # fmt: skip
def test_whether_a_plan_is_enough(right: float, target: float, begins: str, coverage: bool) -> None:
    text = hardest_sentence(characteristic(right), target)
    assert text.startswith(begins)
    assert ("keeps the true candidate in only 95 % of labs at worst" in text) == coverage
    assert "on average" not in text
    assert "simulated" not in text


def test_how_precise_simulated_chances_are() -> None:
    """√(0.5 × 0.5 / 10000) = 0.005; of 0.75 it is 0.0043: the larger one is said."""
    text = hardest_sentence(characteristic(0.5, labs=10_000), 0.9)
    assert text.endswith(
        " The chances are those of 10,000 simulated labs for each candidate and recovery (standard "
        "error up to 0.005)."
    )
    sure = hardest_sentence(characteristic(1.0, labs=20_000), 0.9)
    assert "20,000 simulated labs" in sure
    assert "up to 0.0001)" in sure


def test_a_recovery_is_named_with_the_average_over_it() -> None:
    allowed = replace(SMALL, experiment=replace(SILVER, recovery=(0.8, 1.0)))
    two = tuple((f, Chances(p, 0.0, 1 - p, 0.0)) for f, p in ((0.8, 0.4), (1.0, 0.8)))
    found = OperatingCharacteristic(allowed, {"copper(I)": two})
    text = hardest_sentence(found, 0.9)
    assert (
        "conclusion is, at the worst of what may be recovered, 0.40 (on average 0.60); 0.9" in text
    )


@pytest.mark.parametrize(
    ("wrong", "words"),
    [(0.02, "at most 0.02,"), (0.0001, "below 0.001,"), (0.0005, "at most 0.001,")],
)
def test_how_often_the_wrong_one_is_named(wrong: float, words: str) -> None:
    text = wrong_sentence(characteristic(0.5, wrong=wrong))
    assert text == (
        f"The chance that a lab names the wrong candidate is {words} whichever is true."
    )


@pytest.mark.parametrize(
    ("right", "wrong", "words"),
    [
        (0.9, 0.0004, "more than 99.9"),  # 1.85 / 1.8504 = 99.978 %
        (0.9, 0.01, "about 99.5"),  # 1.85 / 1.86 = 99.46 %
        (0.9, 0.02, "about 98.9"),
        (0.8, 0.1, "about 94"),  # 1.7 / 1.8 = 94.4 %
    ],
)
def test_of_a_hundred_single_answers(right: float, wrong: float, words: str) -> None:
    text = single_answer_sentence(characteristic(right, wrong=wrong))
    shown = words if words != "about 98.9" else "about 99"
    assert f"that single out a candidate, {shown} name the true one" in text


def test_a_chance_that_labs_cannot_be_judged_is_said_from_a_thousandth_on() -> None:
    for last, said in ((0.0005, True), (0.000499, False)):
        text = chances_sentence("x", Chances(0.5, 0.1, 0.3, 0.1, last))
        assert ("; that it cannot be judged, 0.001." in text) == said
    table = chances_table([("x", Chances(0.5, 0.1, 0.2, 0.05, 0.15))])
    assert table.rows == (("x", "0.50", "0.20", "0.05", "0.10", "0.15"),)
    assert table.header[2:] == (
        "not told apart", "none fits", "wrong: another singled out", "cannot be judged",
    )  # fmt: skip


def labs_of(*numbers: int, truth: str = "copper(II)") -> SimulatedLabs:
    """Return labs by right, wrong, not told apart, none fits, cannot be judged."""
    found: Any = SimpleNamespace(counts=Counts(*numbers), truth=truth, plan=SMALL)
    return found


@pytest.mark.parametrize(
    ("numbers", "text"),
    [
        ((90, 0, 10, 0), "Nearly all labs find the truth: 90 of 100 single out copper(II)."),
        ((89, 0, 11, 0), "More labs than not find the truth: 89 of 100 single out copper(II); 11 "
         "cannot tell."),
        ((50, 0, 50, 0), "More labs than not find the truth: 50 of 100 single out copper(II); 50 "
         "cannot tell."),
        ((49, 1, 50, 0), "Most labs cannot tell: 50 of 100 fit more than one candidate. The "
         "candidates lie closer together than these readings can see. Copper(II) is true, but only "
         "49 labs can say so."),
        ((1, 0, 99, 0), "Most labs cannot tell: 99 of 100 fit more than one candidate. The "
         "candidates lie closer together than these readings can see. Copper(II) is true, but only "
         "1 lab can say so."),
        ((0, 0, 100, 0), "Most labs cannot tell: 100 of 100 fit more than one candidate. The "
         "candidates lie closer together than these readings can see. Copper(II) is true, but no "
         "lab can say so."),
        ((49, 2, 49, 0), "Labs disagree: 49 of 100 single out copper(II), 49 cannot tell."),
    ],
)  # fmt: skip
def test_what_counts_of_labs_mean(
    monkeypatch: pytest.MonkeyPatch, numbers: tuple[int, ...], text: str
) -> None:
    monkeypatch.setattr("stoichkit.planning.sentences.entry.record", lambda _n, v, *_: v)
    assert meaning_sentence(labs_of(*numbers)) == text


def test_where_nothing_reacted_no_answer_is_right(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("stoichkit.planning.sentences.entry.record", lambda _n, v, *_: v)
    for wrong, some in ((0, "none"), (7, "7")):
        labs = labs_of(0, wrong, 96 - wrong, 4, truth=NOTHING)
        assert meaning_sentence(labs) == (
            f"Nothing reacted in these labs, and {some} of 100 single out a candidate all the "
            f"same; {96 - wrong} cannot tell. 4 find that none fits."
        )


def test_mistakes_are_said_from_one_in_fifty_on() -> None:
    assert _mistaken(Counts(96, 2, 0, 2), 0.95) == []
    said = _mistaken(Counts(93, 3, 0, 3, 1), 0.95)
    assert said[0] == "3 would name the wrong candidate."
    assert said[1] == (
        "3 find that none fits: the test may exclude the true candidate by chance in up to 5 % of "
        "labs."
    )
    assert said[2].startswith("1 cannot be judged: an amount comes out below zero")


def answer(question: str, value: float, **fields: Any) -> Answer:
    usual: dict[str, Any] = {
        "unit": "g", "target": 0.9, "at": characteristic(0.93),
        "short": characteristic(0.84), "limiting": "the balance", "limiting_share": 0.62,
        "shared_share": 0.1,
    }  # fmt: skip
    return Answer(question, value, **(usual | fields))


THEN = "The chance of a right conclusion is then 0.93"


@pytest.mark.parametrize(
    ("given", "text"),
    [
        (answer("amount", 0.04), f"Smallest mass to react: 0.0318 g of Cu. {THEN}; with 0.0318 g "
         "of Cu it is 0.84, short of 0.9."),
        (answer("amount", 0.04, short=None, at=characteristic(0.93, plan=replace(SMALL, trials=2))),
         f"Smallest mass to react: 0.0318 g of Cu in each trial. {THEN}."),
        (answer("amount", 0.04, unit="mol", short=None),
         f"Smallest amount of electrons: 0.0318 g of Cu. {THEN}."),
        (answer("amount", math.nan, at=characteristic(0.4)),
         "No mass to react is enough: the balance makes up 62 % of the variance; the chance at the "
         "largest tried, 0.0318 g of Cu, is 0.40, short of 0.9."),
        (answer("trials", 2.0),
         f"Fewest trials: 2. {THEN}; with 1 trial it is 0.84, short of 0.9."),
        (answer("trials", 3.0),
         f"Fewest trials: 3. {THEN}; with 2 trials it is 0.84, short of 0.9."),
        (answer("trials", 1.0, short=None), f"Fewest trials: 1. {THEN}."),
        (answer("trials", math.nan, at=characteristic(0.4, plan=replace(SMALL, trials=64))),
         "64 trials are not enough: the chance is then 0.40, and the balance makes up 62 % of the "
         "variance. More of the reactant or a finer balance helps sooner."),
        (answer("trials", math.nan, at=characteristic(0.4), shared_share=0.5),
         "No number of trials is enough: the balance makes up 62 % of the variance and is shared "
         "by all trials; the chance levels off at 0.40."),
        (answer("trials", math.nan, at=characteristic(0.0), shared_share=0.5),
         "No number of trials is enough: the balance makes up 62 % of the variance and is shared "
         "by all trials; the chance stays below 0.001."),
        (answer("balance", 0.01), f"Coarsest balance: one that reads to 0.01 g. {THEN}; with the "
         "next coarser one it is 0.84, short of 0.9."),
        (answer("balance", 0.01, short=None), "Coarsest balance: one that reads to 0.01 g. "
         f"{THEN}. Nothing coarser was tried."),
        (answer("balance", math.nan, at=characteristic(0.4)), "No balance is fine enough: even "
         "with the finest tried the chance is 0.40, since the balance makes up 62 % of the "
         "variance."),
        (answer("recovery", math.nan, at=characteristic(0.4)), "No recovery allowance can be "
         "afforded: even without any the chance is 0.40, short of 0.9."),
        (answer("recovery", 0.0), f"No allowance for losses can be afforded. {THEN}; with the "
         "least it is 0.84, short of 0.9."),
    ],
)  # fmt: skip
def test_answers_in_words(given: Answer, text: str) -> None:
    assert answer_sentences(given) == text


def test_the_largest_allowance_in_words() -> None:
    allowed = replace(SMALL, experiment=replace(SILVER, recovery=(0.955, 1.045)))
    found = answer("recovery", 0.045, at=characteristic(0.93, plan=allowed))
    text = answer_sentences(found)
    assert text.startswith(
        "Largest recovery allowance: ±4.5 %, product weighed between 0.955 and 1.045 times what "
        "was made. The chance of a right conclusion is then 0.93 (on average "
    )
    assert text.endswith("; with 0.5 % more it is 0.84, short of 0.9.")
    assert not answer_sentences(replace(found, short=None)).endswith("short of 0.9.")


@pytest.mark.parametrize(
    ("fields", "text"),
    [
        ({"limiting": ""}, "the width of the test makes up 62 % of the variance"),
        ({"limiting_share": 0.994}, "the balance makes up 99 % of the variance"),
        ({"limiting_share": 0.995}, "the balance makes up over 99 % of the variance"),
        ({"shared_share": 0.5}, "the balance makes up 62 % of the variance and is shared by all "
         "trials"),
        ({"shared_share": 0.499}, "the balance makes up 62 % of the variance"),
        ({"limiting": RECOVERY}, "what may be recovered makes one candidate look like another, "
         "whatever is read"),
        ({"target": 0.96}, "at 95 % coverage the test may exclude the truth in up to 5 % of labs "
         "(ask for a smaller chance or more coverage)"),
        ({"target": 0.95}, "the balance makes up 62 % of the variance"),
    ],
)  # fmt: skip
def test_what_stands_in_the_way(fields: dict[str, Any], text: str) -> None:
    assert _reason(answer("trials", math.nan, **fields)) == text


@pytest.mark.parametrize(
    ("coarse_g", "cost"),
    [
        (0.0419, "needs no larger sample: other errors matter more (0.0318 g of Cu instead of "
         "0.0318 g of Cu)."),
        (0.042, "needs 1.1 times the sample for the same chance: 0.0318 g of Cu instead of 0.0318 "
         "g of Cu."),
        (0.4, "needs 10 times the sample for the same chance: 0.0318 g of Cu instead of 0.0318 g "
         "of Cu."),
    ],
)  # fmt: skip
def test_what_a_coarser_balance_costs(coarse_g: float, cost: str) -> None:
    """Of 0.04 g, 0.0419 g are 1.0475 times, 0.042 g 1.05 times."""
    fine, coarse = answer("amount", 0.04), answer("amount", coarse_g)
    tool = "A balance that reads to 0.1 g instead of 0.01 g"
    assert sample_cost_sentence(fine, coarse, 0.01, 0.1) == f"{tool} {cost}"
    assert [_two(v) for v in (1.04, 1.05001, 9.94, 9.95, 12.4)] == ["1.0", "1.1", "9.9", "10", "12"]


def test_a_map_says_where_the_average_is_reached_with_less() -> None:
    least = {0.01: 0.2, 0.1: 2.0, 1.0: math.nan}

    def smallest(step: float, *, average: bool = False) -> float:
        return least[step] / (2 if average else 1)

    found: Any = SimpleNamespace(
        trials=2, target=0.9, smallest_mass_g=smallest, masses_g=np.array([0.05, 5.0])
    )
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("stoichkit.planning.sentences.entry.record", lambda _n, v, *_: v)
        text = map_sentence(found, SILVER, [1.0, 0.1, 0.01])
        assert text == (
            "To reach a chance of 0.9 with 2 trials, react at least 0.2 g of Cu on a balance that "
            "reads to 0.01 g and 2 g on one that reads to 0.1 g, as far as this map is fine enough "
            "to tell. That holds at the worst of what may be recovered; on average over it 0.1 g "
            "is enough on a balance that reads to 0.01 g. On a balance that reads to 1 g no mass "
            "from 0.05 g to 5 g reaches a chance of 0.9."
        )
        found.smallest_mass_g = lambda step, **_: least[step]
        assert "on average" not in map_sentence(found, SILVER, [0.01])


@pytest.mark.parametrize(
    ("part", "words"),
    [(0.9995, "more than 99.9"), (0.9994, "about 99.9"), (0.991, "about 99.1"), (0.99, "about 99")],
)
def test_never_all_of_a_hundred(monkeypatch: pytest.MonkeyPatch, part: float, words: str) -> None:
    """99.95 would be written 100.0."""
    monkeypatch.setattr(OperatingCharacteristic, "right_of_single", part)
    assert f"candidate, {words} name" in single_answer_sentence(characteristic(0.5))
