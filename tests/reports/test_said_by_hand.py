"""What reports say, cut short or count, on cases worked out by hand."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest

from stoichkit import assess, assess_class, experiments, load_class
from stoichkit.classroom.judging import Judgement, MarkKind
from stoichkit.classroom.marking import GroupMarks, Mark, mark_class
from stoichkit.classroom.result import ClassResult
from stoichkit.classroom.review import Review
from stoichkit.decision.answers import answer_lines
from stoichkit.decision.mistakes import Working
from stoichkit.decision.typed import MistakeKind
from stoichkit.decision.verdict import Reason, VerdictKind, verdict_of
from stoichkit.errors import ModelError
from stoichkit.experiments.practice_labs import new_id, practice
from stoichkit.experiments.record import Experiment
from stoichkit.experiments.store import parse_experiment
from stoichkit.measurement.displays import Balance
from stoichkit.plots.class_groups import GroupRow
from stoichkit.reports import following
from stoichkit.reports.classroom import _cannot_be_judged, _stretches
from stoichkit.reports.feedback import _points, feedback_pages
from stoichkit.reports.following import ClassFollowing, class_following, following_section
from stoichkit.reports.hand_in import _readings, hand_in_page
from stoichkit.reports.progress import CONCLUSION, PREDICTION, UNKNOWN, LabDone, Progress
from stoichkit.reports.review import decisions_section
from stoichkit.reports.sections import amounts_section
from stoichkit.reports.study import _Course
from stoichkit.reports.worked import _candidates, _worked, worked_in_short
from stoichkit.text.document import Document
from stoichkit.text.parts import Part, Section
from tests.classfiles import ROWS, csv_bytes
from tests.decision.test_averaged import LAB as AVERAGED
from tests.labs import RATIOS, lab
from tests.reports.test_study import ZINC

ONE = (2.94, 2.82, 0.75, 1.15)
SILVER = "copper-silver"
COARSE = Balance(readability_g=0.1)
OWN = LabDone("Copper wire", 0, 14, 3)
"""A lab of no level, not worked through to its end."""


@pytest.fixture(scope="module")
def result() -> ClassResult:
    """Return a class of one group, with one trial."""
    return assess_class(csv_bytes(ROWS[:1]), SILVER)


def text_of(parts: tuple[Part, ...]) -> str:
    return " ".join(Document("Title", (), (Section("Parts", parts),)).text().split())


# -- a class


def test_up_to_three_groups_that_cannot_be_judged_are_each_told_why() -> None:
    verdict = verdict_of([], 0.95, reason=Reason.BELOW_ZERO, about=("Ag",))
    kind = str(VerdictKind.CANNOT_BE_JUDGED)

    def said(*names: str) -> list[str]:
        """Return what is said of a class of these groups and of one that is fine."""
        kinds = (*(kind for _ in names), str(VerdictKind.SINGLED_OUT))
        evidence = SimpleNamespace(names=(*names, "fine"), kinds=kinds)
        found: Any = SimpleNamespace(
            evidence=evidence, group=lambda _: SimpleNamespace(verdict=verdict)
        )
        return list(_cannot_be_judged(found))

    why = (
        "these readings cannot be judged: the amount of Ag comes out below zero, beyond what the "
        "instruments explain. Check which reading is subtracted from which."
    )
    assert said("a", "b", "c") == [f"a: {why}", f"b: {why}", f"c: {why}"]
    assert said("a", "b", "c", "d") == [
        "4 groups cannot be judged, because an amount is below zero or a mass was still changing: "
        "a, b, c and d. Look at the report of the group."
    ]


@pytest.mark.parametrize(
    ("stretches", "said"),
    [
        (((1.91738, 2.24154),), "1.92 to 2.24"), (((2.0, math.inf),), "2.0 or more"),
        (((0.0, math.inf),), "every ratio"), (((-0.5, math.inf),), "every ratio"),
        (((0.5, math.inf),), "0.50 or more"), (((0.0, 1.5),), "0.0 to 1.5"), ((), "none"),
        (((0.5, 1.5), (3.0, math.inf)), "0.5 to 1.5; 3.0 or more"),
    ],
)  # fmt: skip
def test_the_ratios_that_a_group_leaves(
    stretches: tuple[tuple[float, float], ...], said: str
) -> None:
    """Two figures of the width of a range, or of its lower end where it has no upper one."""
    row = GroupRow("red", "not_told_apart", 2.0, stretches, outlying=False, slip=False)
    assert _stretches(row, []) == said


def test_doubtful_groups_are_named_up_to_twelve_and_the_rest_counted(result: ClassResult) -> None:
    def said(groups: int) -> str:
        names = tuple(f"g{n}" for n in range(1, groups + 1))
        found = Review(result, None, None, {}, names, ())
        return str(decisions_section((), found).parts[-1])

    which = (
        "Doubtful are groups with a reading that looks mistyped, or of which a trial was decided"
    )
    assert said(2) == f"{which} on: g1 and g2."
    assert said(12).endswith("g10, g11 and g12.")
    assert said(14).endswith("g11, g12 and 2 more.")


# -- feedback


def test_a_group_that_is_not_there_is_refused_with_those_that_are() -> None:
    marks = mark_class(b"group,ratio\nred,2\n", load_class(csv_bytes(), experiments.load(SILVER)))
    with pytest.raises(ModelError) as caught:
        feedback_pages(marks, groups=["pink"])
    assert (caught.value.given, caught.value.allowed) == ("pink", "red, blue and green")


def test_points_are_lost_however_few() -> None:
    def said(points: float) -> str:
        judged = Judgement("a", "1", "7", MarkKind.CARRIED, "right a", "")
        return _points(GroupMarks("red", (Mark(judged, points, 1.0),)))

    assert said(1.0) == "All that could be earned."
    assert said(0.999) == "What would have been right: a (right after an earlier error): right a."


# -- what more trials would add


def test_four_trials_more_are_looked_at_unless_asked_otherwise(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """0.01 g of copper and 0.02 g of silver leave both candidates."""
    unsure = assess_class(csv_bytes([("red", "1", "2.94", "2.93", "0.75", "0.77")]), SILVER)
    asked = []

    def further(_: object, **given: object) -> SimpleNamespace:
        asked.append(given)
        return SimpleNamespace()

    monkeypatch.setattr(following, "next_trials", further)
    assert [*class_following(unsure).groups] == ["red"]
    assert asked == [{"target": 0.9, "most": 4, "finer_g": None, "labs": 300}]


def test_a_group_in_which_nothing_reacted_is_not_looked_at() -> None:
    """Wire and paper are as heavy as before."""
    idle = assess_class(csv_bytes([("red", "1", "2.94", "2.94", "0.75", "0.75")]), SILVER)
    assert class_following(idle, labs=100).not_asked == {
        "red": "these readings do not show that anything reacted, so there is no amount to go on"
    }


def test_the_section_on_further_trials_has_a_title(result: ClassResult) -> None:
    found = ClassFollowing(result, 0.9, None, {}, {})
    assert following_section(found).title == "What more trials would add"
    assert following_section(found, title="Later").title == "Later"


# -- a lab


def test_trials_beyond_the_fortieth_are_counted_where_they_have_no_row() -> None:
    assert len([*_readings(lab([ONE] * 40))]) == 1
    evidence = assess(lab([ONE] * 41))
    page = hand_in_page(evidence, blank=True).sections[1]
    assert page.parts[1] == "1 more trial is judged but not in this table."
    *_, said = amounts_section(evidence).parts
    assert str(said).endswith(" 1 more trial is in the mean but not in this table.")


def test_candidates_beyond_the_fifteenth_are_counted() -> None:
    def said(candidates: int) -> str:
        ratios = {f"c{n}": str(n) for n in range(1, candidates + 1)}
        evidence = assess(lab([(2.9, 2.8, 0.7, 1.1)], COARSE, ratios))
        *_, last = _candidates(evidence, _worked(evidence)[1])
        return str(last)

    assert "further off" not in said(15)
    assert said(16) == "1 more candidate is further off still."


def test_the_factor_of_an_allowance_has_four_decimals_where_nothing_was_consumed() -> None:
    """What is multiplied by zero bears no figures of its own."""
    evidence = assess(lab([(3.0, 3.0, 0.7, 0.7)], COARSE, RATIOS, recovery=(0.8, 1.0)))
    parts = tuple(_candidates(evidence, _worked(evidence)[1]))
    assert "D = n(Ag) − 1.0000 × 2 × n(Cu) = 0.0000 mol − 1.0000 × 2 × 0.000 mol" in text_of(parts)


def test_the_mean_of_two_weighings_is_worked_out() -> None:
    """(0.84 + 0.85) / 2 = 0.845; of a single weighing of paper and copper there is no mean."""
    record = AVERAGED.replace('["0.84", "0.85", "0.84"]', '["0.84", "0.85"]')
    record = record.replace('["1.16", "1.15", "1.16"]', '"1.16"')
    said = text_of(worked_in_short(assess(parse_experiment(record))))
    assert "paper = (0.84 g + 0.85 g) / 2 = 0.845 g (mean of 2 readings)" in said
    assert "− paper = 1.16 g − 0.845 g = 0.315 g" in said
    assert said.count("mean of ") == 1


# -- guided questions


def course(experiment: Experiment) -> _Course:
    """Return the questions about the only trial."""
    (trial,), lines = experiment.trials, list(answer_lines(experiment))
    evidence = assess(experiment)
    required = float(evidence.nearest.candidate.ratio)
    return _Course(evidence, trial, lines, Working(experiment, trial, lines, required))


def test_questions_write_a_substance_with_its_signs() -> None:
    words = [question.words for question in course(parse_experiment(ZINC)).steps()]
    assert words[1] == "What is the amount of CuSO₄ in trial 1, in mol?"


def test_how_sure_a_ratio_below_one_is_is_asked_too() -> None:
    """1.274 g of CuSO4 and 0.392 g of Cu: 0.00617 / 0.00798 = 0.773."""
    found = course(parse_experiment(ZINC))
    assert found.ratio.value == pytest.approx(0.773, abs=5e-4)
    assert [question.key for question in found.resolution()] == ["display step", "how sure"]


def test_a_percentage_has_three_figures_at_most() -> None:
    """1.2411 g of copper: 0.0195307 mol; 4.2100 g of silver: 0.0390291 mol of 0.0390614."""
    fine = Balance(readability_g=0.0001)
    *_, percent = course(lab([(3.1234, 1.8823, 0.71, 4.92)], fine)).candidate()
    assert (percent.key, percent.answer) == ("percent", "99.9 %")


# -- progress


def test_after_trouble_with_molar_masses_the_weighed_lab_of_that_number_is_given() -> None:
    """Where it heats a hydrate, in which molar masses are met most."""
    missed = Progress((replace(OWN, missed=((str(MistakeKind.SUBSCRIPTS), 1),)),))
    own = {number: practice(new_id(1, number, "weighed")) for number in range(5)}
    hydrates = {number: one for number, one in own.items() if one.scene == "hydrate"}
    assert {number % 2 for number in hydrates} == {0, 1}
    for number, one in hydrates.items():
        assert missed.next_lab(number).id == one.id


def test_kinds_of_labs_follow_each_other() -> None:
    """Weighed, then a gas, then a titration, then charge; one already begun is passed over."""
    first = Progress((OWN,)).next_lab(0)
    assert first.scene in ("displaced", "oxide", "hydrate")
    assert Progress((OWN, LabDone(first.id))).next_lab(0).scene == "gas"


def kept(**change: object) -> str:
    whole = json.loads(Progress((OWN,)).to_json())
    whole["labs"][0] |= change
    return json.dumps(whole)


def test_everything_there_is_may_be_missed() -> None:
    every = {*map(str, MistakeKind), CONCLUSION, PREDICTION, UNKNOWN}
    (found,) = Progress.from_json(kept(missed=dict.fromkeys(every, 1))).labs
    assert found.misses == len(every)


@pytest.mark.parametrize(
    "text", [kept(lab="x" * 201), kept(questions="x" * 201), kept(predicted="x" * 201)]
)
def test_what_is_refused_is_shown_by_its_first_sixty_characters(text: str) -> None:
    with pytest.raises(ModelError, match=r"Given: x{59}…\."):
        Progress.from_json(text)
