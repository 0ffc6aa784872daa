"""What if: other readings and another balance, beside those that were typed."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from stoichkit import assess, experiments
from stoichkit.errors import ModelError
from stoichkit.planning.outcomes import Chances
from stoichkit.planning.plan import Plan
from stoichkit.plots.decision import digit_cell
from stoichkit.uncertainty.sources import nominal
from stoichkit.widgets.state.lab import LabState
from stoichkit.widgets.state.readings import ReadingsState
from stoichkit.widgets.state.whatif import STEPS_G, WhatIf, finer_sentence, rounded, step_text


@pytest.fixture
def lab() -> LabState:
    return LabState("copper-silver", autosave=False)


def typed(lab: LabState) -> list[dict[str, str]]:
    return [dict(one.readings) for one in lab.readings.form.trials]


@pytest.mark.parametrize(
    ("text", "step", "shown"),
    [
        ("2.94", "0.1", "2.9"),
        ("2.96", "0.1", "3.0"),
        ("2.95", "0.1", "3.0"),  # halves go to the even step: 29.5 to 30
        ("2.85", "0.1", "2.8"),
        ("2,94", "0.02", "2.94"),
        ("2.93", "0.02", "2.92"),
        ("2.94", "0.5", "3.0"),
        ("17.497", "0.05", "17.50"),
        ("no number", "0.1", "no number"),
        ("", "0.1", ""),
    ],
)
def test_a_coarser_display_is_worked_out_by_hand(text: str, step: str, shown: str) -> None:
    assert rounded(text, Decimal(step)) == shown


def test_a_coarser_balance_shows_rounded_readings_and_is_judged_by_them(lab: LabState) -> None:
    before = typed(lab)
    lab.whatif.set_step("0.1")
    trial = lab.whatif.form.trials[0].readings
    assert trial == {
        "wire before": "2.9",
        "wire after": "2.8",
        "paper": "0.8",
        "paper + silver": "1.2",
    }
    assert lab.experiment.instruments["balance"].readability == 0.1
    shown = lab.experiment
    by_hand = assess(shown)
    assert lab.evidence.verdict == by_hand.verdict
    assert typed(lab) == before
    assert lab.readings.evidence.experiment == experiments.load("copper-silver")


def test_one_undo_brings_the_own_readings_back(lab: LabState) -> None:
    lab.whatif.set_step("0.2")
    lab.whatif.set_step("0.5")  # one step of the slider after the other is one step of undo
    lab.history.undo()
    assert not lab.whatif.active
    assert lab.outcome is lab.readings.outcome


def test_a_finer_balance_leaves_the_verdict_and_tells_only_chances(lab: LabState) -> None:
    lab.whatif.set_step("0.001")
    assert lab.evidence is lab.readings.evidence
    assert "are not known" in lab.whatif.could_tell()
    assert lab.whatif.sentence == ""


def test_a_step_that_no_balance_has_is_refused(lab: LabState) -> None:
    with pytest.raises(ModelError, match="no such step"):
        lab.whatif.set_step("0.03")
    assert not lab.whatif.active


def test_the_last_reading_of_each_amount_follows_a_trial_that_is_moved(lab: LabState) -> None:
    # 2.94 g - 63.546 g/mol * 0.002 mol = 2.8129 g; 0.75 g + 107.868 g/mol * 0.004 mol = 1.1815 g
    lab.whatif.move("bench 1", 2.0, 4.0)
    assert lab.whatif.form.trials[0].readings["wire after"] == "2.81"
    assert lab.whatif.form.trials[0].readings["paper + silver"] == "1.18"
    assert lab.whatif.marks == {(0, "wire after"), (0, "paper + silver")}
    assert typed(lab)[0]["wire after"] == "2.82"
    assert lab.history.undo() == "moved bench 1"
    assert not lab.whatif.active


@pytest.mark.parametrize("name", experiments.names())
def test_a_moved_trial_lands_within_a_step_in_every_lab(name: str) -> None:
    state = ReadingsState(name)
    tried = WhatIf(state)
    evidence = state.evidence
    assert evidence is not None
    a, b = (1000 * nominal(one) for one in evidence.amounts[0])
    xs, ys = zip(*digit_cell(*evidence.amounts[0]), strict=True)
    tried.move(evidence.experiment.trials[0].name, 1.1 * a, 0.95 * b)
    moved = tried.outcome.evidence
    assert moved is not None
    x, y = (1000 * nominal(one) for one in moved.amounts[0])
    assert x == pytest.approx(1.1 * a, abs=(max(xs) - min(xs)) / 2)
    assert y == pytest.approx(0.95 * b, abs=(max(ys) - min(ys)) / 2)
    assert tried.sentence.startswith("What if ")


def test_no_reading_goes_below_zero(lab: LabState) -> None:
    lab.whatif.move("bench 1", 1e6, -1e6)
    readings = lab.whatif.form.trials[0].readings
    assert readings["wire after"] == "0.00"
    assert readings["paper + silver"] == "0.00"


def test_typing_ends_what_was_moved_but_not_the_balance_that_is_tried(lab: LabState) -> None:
    lab.whatif.set_step("0.1")
    lab.whatif.move("bench 1", 2.0, 4.0)
    lab.readings.set_reading(1, "wire before", "3.20")
    assert lab.whatif.tried.cells == {}
    assert lab.whatif.tried.step == "0.1"
    lab.readings.load("tin-oxide")
    assert not lab.whatif.active


def test_a_slip_is_shown_corrected_and_nothing_typed_changes(lab: LabState) -> None:
    lab.readings.set_reading(2, "wire before", "1.34")
    (slip,) = lab.slips()
    lab.whatif.show_corrected(slip)
    assert lab.whatif.form.trials[2].readings["wire before"] == "3.14"
    assert lab.evidence.verdict.candidates == ("copper(II)",)
    assert typed(lab)[2]["wire before"] == "1.34"


def test_other_spellings_of_a_reading_are_no_change(lab: LabState) -> None:
    lab.readings.set_reading(0, "wire before", " 2,94")
    lab.readings.set_reading(2, "wire before", "1.34")
    lab.whatif.show_corrected(lab.slips()[0])
    assert lab.whatif.marks == {(2, "wire before")}


def test_what_is_tried_is_said_and_marked(lab: LabState) -> None:
    """0.13 g of copper (63.546 g/mol) with 2.94 g before; 0.41 g of silver on 0.75 g of paper."""
    tried = lab.whatif
    assert (tried.sentence, tried.marks, tried.active) == ("", frozenset(), False)
    tried.move("bench 1", 1000 * 0.13 / 63.546, 1000 * 0.41 / 107.8682)
    assert dict(tried.tried.cells) == {(0, "wire after"): "2.81", (0, "paper + silver"): "1.16"}
    moved = "What if bench 1, wire after = 2.81 and bench 1, paper + silver = 1.16"
    assert tried.sentence == f"{moved}?"
    assert tried.marks == {(0, "wire after"), (0, "paper + silver")}
    tried.set_step("0.1")
    assert tried.sentence == f"{moved}, on a balance reading to 0.1 g?"
    assert tried.form.trials[0].readings["wire after"] == "2.8"
    assert tried.coarser
    tried.back()
    assert not tried.active
    tried.set_step("0.1")
    assert tried.sentence == "What if the balance read to 0.1 g?"
    tried.set_step("0.001")
    assert (tried.sentence, tried.coarser, tried.active) == ("", False, True)
    tried.set_step("0.01")  # one's own
    assert (tried.tried.step, tried.active) == ("", False)


def test_more_than_three_readings_are_counted(lab: LabState) -> None:
    amounts = 1000 * 0.13 / 63.546, 1000 * 0.41 / 107.8682
    lab.whatif.move("bench 1", *amounts)
    lab.whatif.move("bench 2", *amounts)
    assert len(lab.whatif.tried.cells) == 4
    assert lab.whatif.sentence.endswith(" and 1 more?")
    with pytest.raises(ModelError, match="no such trial"):
        lab.whatif.move("bench 9", *amounts)


def test_a_step_is_written_in_plain_digits() -> None:
    written = [step_text(step) for step in ("1e-4", "2e-1", "1", 0.05, Decimal("10"))]
    assert written == ["0.0001", "0.2", "1", "0.05", "10"]
    assert [step_text(step) for step in STEPS_G] == [
        "0.0001", "0.0002", "0.0005", "0.001", "0.002", "0.005", "0.01", "0.02", "0.05", "0.1",
        "0.2", "0.5", "1",
    ]  # fmt: skip


def test_labs_of_more_trials_than_are_planned_are_told_as_of_64(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A plan has at most 64 trials; a lab of 65 is told of as one of 64, not refused."""
    planned: list[int] = []

    def made_up(plan: Plan, _: str) -> Chances:
        planned.append(plan.trials)
        return Chances(0.75, 0.0, 0.25, 0.0)

    monkeypatch.setattr("stoichkit.planning.plan.chances", made_up)
    lab = experiments.load("copper-silver-coarse")
    many = lab.with_trials([replace(lab.trials[0], name=f"t{n}") for n in range(65)])
    assert "about 3 in 4 would single out copper" in finer_sentence(assess(many), "0.01")
    assert set(planned) == {64}
