"""Both sides of limits that reports keep, and single numbers in them, worked out by hand.

Molar masses in g/mol: Cu 63.546, Ag 107.8682, Mg 24.305, CuSO4 159.602, AgCl 143.32 (standard
atomic weights, from memory).
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest

from stoichkit import assess, assess_class, experiments
from stoichkit.classroom.result import ClassResult
from stoichkit.decision.accepted import Accepted
from stoichkit.decision.verdict import VerdictKind
from stoichkit.diagnosis.slips import Slip, SlipKind
from stoichkit.experiments.practice_labs import new_id
from stoichkit.experiments.record import Experiment
from stoichkit.experiments.store import parse_experiment
from stoichkit.measurement.displays import Balance
from stoichkit.plots.class_groups import ClassGroupsPicture
from stoichkit.reports import classroom, following, progress
from stoichkit.reports.feedback import _limits, question_of
from stoichkit.reports.figures import written
from stoichkit.reports.following import class_following
from stoichkit.reports.hand_in import _candidate_table
from stoichkit.reports.progress import LabDone, Progress
from stoichkit.reports.question import Question, check, now_you
from stoichkit.reports.sections import needs_causes
from stoichkit.reports.study import lesson
from stoichkit.reports.worked import worked_in_short
from stoichkit.text.parts import Table
from tests.classfiles import csv_bytes
from tests.labs import RATIOS, lab
from tests.reports.test_study import ZINC

SILVER = "copper-silver"
CHLORIDE = """
title = "Silver chloride from silver nitrate (invented)"
[instruments.balance]
kind = "balance"
readability_g = 0.001
[instruments.burette]
kind = "burette"
capacity_mL = 50
tolerance_mL = 0.05
graduation_mL = 0.1
resolution_mL = 0.01
[consumed]
kind = "solution"
species = "Ag^+"
final = "after"
initial = "before"
[consumed.concentration]
kind = "known"
name = "silver nitrate"
mol_per_L = 0.1
standard_mol_per_L = 0.0001
[produced]
kind = "mass by difference"
species = "AgCl"
heavier = "solid"
[candidates.ratios]
"one" = "1"
"half" = "1/2"
[[trials]]
name = "1"
before = "0.00"
after = "8.60"
solid = "0.123"
"""


def questions(experiment: Experiment) -> dict[str, Question]:
    return {question.key: question for question in lesson(experiment)}


# -- a class


@pytest.fixture(scope="module")
def result() -> ClassResult:
    """Return a class of one group whose two further trials have no weighing of the paper."""
    rows = [
        ("red", "1", "2.94", "2.82", "0.75", "1.15"),
        ("red", "2", "2.94", "2.82", "", "1.15"),
        ("red", "3", "2.94", "2.82", "", "1.15"),
    ]
    return assess_class(csv_bytes(rows), SILVER)


def test_as_many_groups_as_may_be_have_a_table(
    result: ClassResult, monkeypatch: pytest.MonkeyPatch
) -> None:
    rows = ClassGroupsPicture.of(result)
    monkeypatch.setattr(classroom, "MOST_SETS", 1)
    assert any(isinstance(part, Table) for part in classroom._table(result, rows))
    monkeypatch.setattr(classroom, "MOST_SETS", 0)
    (said,) = classroom._table(result, rows)
    assert str(said).startswith("The table of 1 groups is left out here")


def test_of_what_is_odd_in_a_file_sixty_are_listed_and_the_rest_counted(
    result: ClassResult,
) -> None:
    def last(count: int) -> object:
        problems = (result.data.problems * count)[:count]
        data = replace(result.data, problems=problems)
        return [*classroom._file(replace(result, data=data))][-1]

    assert isinstance(listed := last(60), Table)
    assert len(listed.rows) == 60
    assert last(61) == "1 more problem is not listed here."


def test_what_could_explain_a_class_is_told_of_the_three_nearest_candidates(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def causes(_: object, *, names: Sequence[str], **__: object) -> list[str]:
        return list(names)

    monkeypatch.setattr(classroom, "causes_section", causes)
    for name in ("assess", "joined", "class_diagnosis"):
        monkeypatch.setattr(classroom, name, lambda *_, **__: None)
    p_values = {"one": 0.01, "two": 0.04, "three": 0.02, "four": 0.009}
    verdict = SimpleNamespace(
        verdict=SimpleNamespace(kind=VerdictKind.NONE_FITS), groups=(), coverage=0.95,
        candidates={name: SimpleNamespace(p_value=p) for name, p in p_values.items()},
    )  # fmt: skip
    found: Any = SimpleNamespace(verdict=verdict)
    assert classroom._causes(found) == ["two", "three", "one"]


def test_a_group_that_cannot_be_judged_looks_for_its_fault_before_further_trials() -> None:
    """Paper with silver is lighter than paper."""
    below = assess_class(csv_bytes([("red", "1", "2.94", "2.82", "0.75", "0.60")]), SILVER)
    assert class_following(below, labs=100).not_asked == {
        "red": "its readings cannot be judged: find the fault first"
    }


def test_twelve_groups_that_do_not_conclude_are_looked_at_unless_asked_otherwise(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """0.01 g of copper and 0.02 g of silver leave both candidates."""
    unsure = assess_class(
        csv_bytes([(f"g{n}", "1", "2.94", "2.93", "0.75", "0.77") for n in range(1, 14)]), SILVER
    )
    monkeypatch.setattr(following, "next_trials", lambda *_, **__: SimpleNamespace())
    found = class_following(unsure, labs=100)
    assert [*found.groups] == [f"g{n}" for n in range(1, 13)]
    assert found.not_asked == {"g13": "it was not looked at"}


# -- feedback


def test_the_one_reading_on_a_coarse_balance_has_all_of_the_variance() -> None:
    """Salt: 0.1 g of 159.6 g/mol, 6e-4 mol; copper: 0.0001 g of 63.5 g/mol, 2e-6 mol."""
    coarse = '[instruments.coarse]\nkind = "balance"\nreadability_g = 0.1\n[consumed]\n'
    source = ZINC.replace("0.001", "0.0001").replace("[consumed]\n", coarse)
    source = source.replace('heavier = "salt"', 'heavier = "salt"\ninstrument = "coarse"')
    source = source.replace('"1.274"', '"1.3"').replace('"0.392"', '"0.3920"')
    said = _limits(assess(parse_experiment(source)), ())
    assert said.startswith("The reading “salt”, with 100 % of the variance of what decides.")


@pytest.mark.parametrize(
    ("row", "recovery", "said"),
    [
        # 0.50 g of copper with two of silver each give 1.70 g: 1.81 g are 107 % of it, 1.61 g 95 %,
        # 1.50 g 88 %
        ((3.40, 2.90, 0.70, 2.51), (1.0, 1.0), "more Ag than copper(II)"),
        ((3.40, 2.90, 0.70, 2.31), (1.0, 1.0), "less Ag than copper(II)"),
        ((3.40, 2.90, 0.70, 2.31), (0.5, 0.9), "more Ag than copper(II)"),
        ((3.40, 2.90, 0.70, 2.20), (0.98, 1.0), "less Ag than copper(II)"),
        # two grams of silver from no copper at all
        ((3.00, 3.00, 0.70, 2.70), (1.0, 1.0), "more Ag than copper(II)"),
    ],
)
def test_the_question_says_whether_too_much_or_too_little_was_found(
    row: tuple[float, ...], recovery: tuple[float, float], said: str
) -> None:
    asked = question_of(assess(lab([row], recovery=recovery)))
    allowed = "" if recovery == (1.0, 1.0) else " with any recovery allowed"
    assert asked.startswith(f"You found {said}, the nearest candidate, would give{allowed}. Name")


def test_a_slip_is_noticed_before_the_next_step() -> None:
    slip = Slip(kind=SlipKind.DECIMAL, trial="bench 1", typed=("7.5",), corrected=("0.75",))
    assert question_of(assess(experiments.load(SILVER)), [slip]) == (
        "How could you have noticed at the bench, before the next step, that this reading cannot "
        "be right?"
    )


# -- a lab


def test_causes_are_looked_for_of_the_three_nearest_where_none_fits() -> None:
    """Found are 2.13: off by 0.13 of two, 0.87 of three, 1.87 of four and 1.13 of one.

    Off r, an amount is unsure in proportion to √((r/63.5)² + (1/107.9)²): 0.018 of one, 0.064 of
    four, by which four is nearer than one.
    """
    ratios = {"one": "1", "two": "2", "three": "3", "four": "4"}
    found = assess(lab([(3.40, 2.90, 0.70, 2.51)], ratios=ratios))
    assert needs_causes(found) == ("two", "three", "four")


def test_the_candidates_are_tested_at_the_coverage_asked_for() -> None:
    evidence = assess(lab([(2.94, 2.82, 0.75, 1.15)]), coverage=0.9)
    assert _candidate_table(evidence).caption == "Candidates, tested at 90 % coverage"


def test_glassware_counts_to_the_first_digit_of_its_uncertainty() -> None:
    """25 mL within 0.06 mL are unsure by 0.06/√3 mL = 0.03 mL: two decimals, 25.00 mL."""
    pipette = """[instruments."25 mL pipette"]
kind = "pipette"
capacity_mL = 25
tolerance_mL = 0.06
[consumed]
"""
    source = CHLORIDE.replace("[consumed]\n", pipette)
    source = source.replace('final = "after"\ninitial = "before"', 'pipette = "25 mL pipette"')
    source = source.replace('before = "0.00"\nafter = "8.60"\n', "")
    said = str(worked_in_short(assess(parse_experiment(source))))
    assert "4 significant figures: 25.00 mL" in said


def test_a_mantissa_becomes_one_only_where_it_rounds_up_to_ten() -> None:
    """Of 9.62 and 9.96 only the second is 10.0 with one decimal; with two neither is."""
    assert written(0.0000962, 7) == "9.62 × 10⁻⁵"
    assert written(0.0000962, 6) == "9.6 × 10⁻⁵"
    assert written(0.0000996, 6) == "1.00 × 10⁻⁴"
    assert written(0.0000996, 7) == "9.96 × 10⁻⁵"


# -- progress


def test_a_lab_of_one_question_is_finished_and_one_of_none_is_not() -> None:
    assert LabDone("own", questions=1, answered=1).finished
    assert not LabDone("own", questions=0, answered=0).finished
    assert (LabDone("own").misses, LabDone("own").hints) == (0, 0)


def test_a_lab_of_the_highest_level_can_be_read_again() -> None:
    hardest = Progress((LabDone(new_id(5, 3, "weighed"), 5, 14, 14),))
    assert Progress.from_json(hardest.to_json()) == hardest
    assert json.loads(hardest.to_json())["labs"][0]["level"] == 5


def test_where_all_labs_that_are_tried_were_begun_the_first_comes_again(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(progress, "_TRIES", 1)
    begun = new_id(1, 7, "gas")
    assert Progress((LabDone(begun, 1, 14, 0),)).next_lab(7, "gas").id == begun


# -- a question


def test_a_value_may_be_off_by_its_least_uncertainty_and_no_more() -> None:
    """Halves and quarters are exact in the computer, so that 2.5 is off by 0.5 exactly."""
    question = Question(
        key="sure", topic="", words="", answer="", hints=(), unit="",
        number=Accepted(value=2.0, low=1.75, high=2.25), uncertainty=(0.5, 1.0),
    )  # fmt: skip
    assert check(question, "2.5 ± 0.5").words == "Right."
    assert check(question, "1.5 ± 0.5").words == "Right."
    assert "larger than what" in check(question, "2.51 ± 0.50").words


def test_a_known_mistake_is_known_in_another_unit() -> None:
    """63.546 g/mol / 0.25 mol = 254.184, typed as so many thousand mg."""
    said = now_you("", 15.8865, "g", typed="254184 mg", mistakes={"Multiply.": 254.184})
    assert said == "Not yet. Multiply."


def test_what_is_no_choice_is_shown_by_its_first_sixty_characters() -> None:
    question = Question(
        key="choice", topic="", words="", answer="", hints=(), choices=("one", "two"),
        right=frozenset({"one"}),
    )  # fmt: skip
    assert f"Given: {'x' * 60}. Allowed: one; two." in check(question, "x" * 60).words
    assert f"Given: {'x' * 60}. Allowed: one; two." in check(question, "x" * 61).words


# -- guided study


def test_a_percentage_with_the_figures_of_the_readings_is_written_once() -> None:
    """0.40/107.8682 / (2 × 0.12/63.546) = 0.982; with one figure less it would be 1 × 10²."""
    assert questions(experiments.load(SILVER))["percent"].answer == "98 %"


def test_of_a_gas_the_amount_required_is_asked() -> None:
    """0.031 g of magnesium / 24.305 g/mol = 0.001275 mol; two figures."""
    question = questions(experiments.load("magnesium-gas"))["expected"]
    assert question.words.startswith("How many mol of H₂ ")
    assert (question.answer, question.unit) == ("0.0013 mol", "mol")


def test_a_mass_required_has_the_figures_of_the_amount_but_four_at_most() -> None:
    """1.2743/159.602 × 63.546 = 0.50737; 0.00860 L × 0.1 mol/L × 143.32 g/mol = 0.12326 g."""
    fine = ZINC.replace("0.001", "0.0001").replace("1.274", "1.2743").replace("0.392", "0.5074")
    assert questions(parse_experiment(fine))["expected"].answer == "0.5074 g"
    assert questions(parse_experiment(CHLORIDE))["expected"].answer == "0.123 g"


def test_where_nothing_was_made_no_percentage_is_asked() -> None:
    asked = questions(lab([(3.00, 2.90, 0.70, 0.70)]))
    assert {"ratio", "required ratio", "conclusion"} <= {*asked}
    assert not {"expected", "percent", "display step", "how sure"} & {*asked}


def test_a_ratio_that_is_unsure_by_tens_has_no_decimals() -> None:
    """0.01 g of copper and 1.00 g of silver: 1.00/107.8682 × 63.546/0.01 = 58.9.

    Each reading is unsure by √(0.01²/12 + 0.005²) g = 0.00577 g, the copper by √2 of it: 82 % of
    0.01 g, and of 58.9 that is 48.
    """
    coarse = Balance(readability_g=0.01, repeatability_g=0.005)
    assert questions(lab([(3.00, 2.99, 0.70, 1.70)], coarse))["how sure"].answer == "59 ± 48"


def test_the_last_digit_of_whole_readings_can_be_shifted() -> None:
    """64/63.546 / (160/159.602) = 1.0046; with 65 g of copper 1.0203, with 161 g of salt 0.9984."""
    whole = ZINC.replace("0.001", "1").replace("1.274", "160").replace("0.392", "64")
    question = questions(parse_experiment(whole))["display step"]
    assert "“copper” differed by one in its last digit (1 g)" in question.words
    assert question.answer == "0.016"


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({}, "the rays of copper(I) and copper(II) both cross"),
        ({"copper(III)": "3"}, "the rays of copper(I), copper(II) and copper(III) all cross"),
    ],
)
def test_two_rays_both_cross_and_three_all_cross(more: dict[str, str], said: str) -> None:
    """0.02 g of copper and 0.05 g of silver, each to a hundredth, leave every ratio from 1 to 3."""
    unsure = lab([(2.94, 2.92, 0.75, 0.80)], ratios=RATIOS | more)
    replies = questions(unsure)["conclusion"].replies.values()
    assert any(said in reply for reply in replies)
