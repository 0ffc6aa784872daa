"""The state of the readings panel: what is typed stays, what cannot be used is refused."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from stoichkit import experiments
from stoichkit.decision.evidence import assess
from stoichkit.decision.sentences import asked_again_sentence
from stoichkit.decision.verdict import CaveatKind, VerdictKind
from stoichkit.errors import ExperimentError
from stoichkit.experiments import Looks
from stoichkit.experiments.parts import Prior
from stoichkit.experiments.store import load_experiment, parse_experiment
from stoichkit.widgets.state.form import ALL_TRIALS, Place
from stoichkit.widgets.state.readings import MAX_TRIALS, Change, ReadingsState

BEFORE = Place("reading", 0, "wire before")


def kinds(state: ReadingsState) -> set[CaveatKind]:
    assert state.evidence is not None
    return {warning.kind for warning in state.evidence.warnings}


@pytest.mark.parametrize("name", experiments.names())
def test_every_ready_experiment_comes_back_from_the_form_as_it_was(name: str) -> None:
    state = ReadingsState(name)
    lab = experiments.load(name)
    assert state.outcome.refusals == {}
    assert parse_experiment(state.to_toml()) == lab

    state.set_coverage("0.9")
    state.set_coverage("0.95")
    assert state.outcome.current
    assert parse_experiment(state.to_toml()) == lab
    assert [row.name for row in state.form.rows] == list(lab.reading_names())


def test_a_reading_changes_the_verdict() -> None:
    state = ReadingsState("copper-silver")
    state.set_reading(0, "wire before", "3.94")
    assert state.evidence is not None
    assert state.evidence.verdict.kind is not VerdictKind.SINGLED_OUT
    same = assess(experiments.load("copper-silver").with_reading("bench 1", "wire before", "3.94"))
    for name, one in same.candidates.items():
        assert state.evidence.candidates[name].p_value == one.p_value


@pytest.mark.parametrize(
    "text",
    ["abc", "", "2.9.4", "1,234.5", "2.94 g", "२.९", "1e999", "--1", "nan", "<b>2</b>", "9" * 400],
)
def test_what_is_no_number_is_kept_and_refused_and_the_last_evidence_stays(text: str) -> None:
    state = ReadingsState("copper-silver")
    before = state.evidence
    state.set_reading(0, "wire before", text)
    assert state.form.trials[0].readings["wire before"] == text
    assert list(state.outcome.refusals) == [BEFORE]
    assert state.outcome.refusals[BEFORE].problem.endswith(".")
    assert state.evidence is before
    assert not state.outcome.current
    with pytest.raises(ExperimentError, match="bench 1, wire before"):
        state.to_toml()

    state.set_reading(0, "wire before", "2.94")
    assert state.outcome.current


def test_a_first_text_that_is_refused_still_leaves_the_evidence_of_what_was_loaded() -> None:
    state = ReadingsState("copper-silver")
    state.set_reading(0, "wire before", "x")  # before anything was asked for
    assert state.evidence is not None
    assert state.evidence.verdict.candidates == ("copper(II)",)


def test_a_half_typed_number_is_not_what_stays() -> None:
    state = ReadingsState("copper-silver")
    before = state.evidence
    for end in range(1, 7):
        state.set_reading(0, "wire before", "2.95 g"[:end])
        assert state.evidence is not None
        assert state.outcome.current == (end < 6)
    assert state.evidence is before

    state.set_reading(0, "wire before", "2.95")
    after = state.evidence
    assert after is not before
    state.set_reading(0, "wire after", "2.8 g")
    assert state.evidence is after
    state.set_coverage("?")
    assert state.evidence is after


def test_a_decimal_comma_and_last_zeros_are_kept() -> None:
    state = ReadingsState("copper-silver")
    state.set_reading(0, "wire before", "2,90")
    assert state.outcome.current
    assert state.experiment.trials[0].readings["wire before"] == ("2,90",)


def test_nothing_is_clamped() -> None:
    state = ReadingsState("copper-silver")
    state.set_reading(0, "wire before", "250.00")  # beyond the capacity of 200 g
    assert state.experiment.trials[0].readings["wire before"] == ("250.00",)
    assert CaveatKind.QUESTION in kinds(state)


def test_all_refusals_are_shown_at_once_each_at_its_place() -> None:
    state = ReadingsState("copper-silver")
    state.set_reading(0, "wire before", "x")
    state.set_reading(2, "paper", "")
    state.set_candidates("copper(I) = 1.67")
    state.set_coverage("95")
    state.set_balance(readability_g="0", repeatability_g="small")
    state.set_title(" ")
    assert set(state.outcome.refusals) == {
        BEFORE,
        Place("reading", 2, "paper"),
        Place("candidates"),
        Place("coverage"),
        Place("readability", name="balance"),
        Place("title"),
    }
    assert all(state.describe(place) for place in state.outcome.refusals)
    assert "Line 1" in str(state.outcome.refusals[Place("candidates")])
    state.set_balance(readability_g="0,1")
    assert Place("repeatability", name="balance") in state.outcome.refusals


def test_repeated_weighings_stand_in_one_field() -> None:
    state = ReadingsState("hydrate-heating")
    place = Place("reading", 0, "crucible + residue")
    state.set_reading(0, place.name, "21,26; 21,17;21,18;")
    assert state.experiment.trials[0].readings[place.name] == ("21,26", "21,17", "21,18")
    assert state.outcome.current

    state.set_reading(0, place.name, "21,26\n21,17\n")
    assert state.experiment.trials[0].readings[place.name] == ("21,26", "21,17")

    state.set_reading(0, place.name, "21.26 21.17")
    assert "semicolon" in state.outcome.refusals[place].advice
    state.set_reading(0, place.name, "21.26; 21.17")
    state.set_reading(0, "crucible", "19.88; 19.87")
    assert "once" in state.outcome.refusals[Place("reading", 0, "crucible")].problem


def test_readings_for_all_trials_are_typed_once() -> None:
    state = ReadingsState("magnesium-gas")
    state.set_reading(ALL_TRIALS, "room temperature", "25,0")
    assert state.outcome.current
    assert state.experiment.shared_readings["room temperature"] == ("25,0",)
    state.set_reading(ALL_TRIALS, "room temperature", "warm")
    assert list(state.outcome.refusals) == [Place("reading", ALL_TRIALS, "room temperature")]


def test_readings_that_cannot_be_are_refused_at_their_trial() -> None:
    state = ReadingsState("magnesium-gas")
    state.set_reading(ALL_TRIALS, "room pressure", "1.0")  # less than that of water vapour
    (place,) = state.outcome.refusals
    assert place.part in ("trial", "reading")
    assert state.evidence is not None


def test_trials_are_added_and_removed() -> None:
    state = ReadingsState("copper-silver")
    for _ in range(3):
        state.remove_trial()
    assert CaveatKind.SINGLE_TRIAL in kinds(state)
    with pytest.raises(ExperimentError, match="One trial"):
        state.remove_trial()

    state.add_trial()  # brings back what was typed
    assert state.form.trials[1].readings["wire before"] == "3.19"
    assert CaveatKind.SINGLE_TRIAL not in kinds(state)


def test_a_new_trial_counts_when_its_readings_are_typed() -> None:
    state = ReadingsState("copper-silver")
    state.add_trial()
    assert state.form.trials[-1].name == "bench 5"
    assert state.outcome.left_out == ("bench 5",)
    assert state.outcome.current

    state.set_reading(4, "wire before", "3.00")
    assert {place.name for place in state.outcome.refusals} == {
        "wire after",
        "paper",
        "paper + silver",
    }
    for name, text in (("wire after", "2.90"), ("paper", "0.70"), ("paper + silver", "1.04")):
        state.set_reading(4, name, text)
    assert state.outcome.current
    assert len(state.experiment.trials) == 5
    assert len(parse_experiment(state.to_toml()).trials) == 5


def test_an_empty_trial_in_the_middle_is_left_out_and_faults_keep_their_place() -> None:
    state = ReadingsState("copper-silver")
    for name in state.form.trials[0].readings:
        state.set_reading(0, name, " ")
    assert state.outcome.left_out == ("bench 1",)
    assert [trial.name for trial in state.experiment.trials] == ["bench 2", "bench 3", "bench 4"]
    state.set_reading(2, "paper", "?")
    assert list(state.outcome.refusals) == [Place("reading", 2, "paper")]


def test_a_form_without_readings_is_refused() -> None:
    state = ReadingsState("copper-silver")
    for index in range(4):
        for name in state.form.trials[index].readings:
            state.set_reading(index, name, "")
    assert "no readings" in str(state.outcome.refusals[Place("trial", 0)])


def test_there_is_a_largest_number_of_trials() -> None:
    state = ReadingsState("copper-silver")
    for _ in range(MAX_TRIALS - 4):
        state.add_trial()
    assert len({trial.name for trial in state.form.trials}) == MAX_TRIALS
    with pytest.raises(ExperimentError, match="no more trials"):
        state.add_trial()
    lab = experiments.load("copper-silver")
    many = lab.with_trials(
        type(lab.trials[0])(str(i), lab.trials[0].readings) for i in range(MAX_TRIALS + 1)
    )
    with pytest.raises(ExperimentError, match="too many"):
        state.load(many)
    assert len(state.form.trials) == MAX_TRIALS


def test_a_coarser_balance_tells_less() -> None:
    state = ReadingsState("copper-silver")
    state.remove_trial()
    state.remove_trial()
    assert state.evidence is not None
    assert state.evidence.verdict.kind is VerdictKind.SINGLED_OUT
    state.set_balance(readability_g="0.1", repeatability_g="")
    assert state.outcome.current
    assert CaveatKind.ASSUMPTION in kinds(state)
    assert state.evidence.verdict.kind is VerdictKind.NOT_TOLD_APART
    state.set_balance(repeatability_g="0")
    assert CaveatKind.ASSUMPTION not in kinds(state)


@pytest.mark.parametrize(("text", "value"), [("99 %", 0.99), ("0,9", 0.9), (" 0.999 ", 0.999)])
def test_the_coverage_is_a_fraction_or_a_percentage(text: str, value: float) -> None:
    state = ReadingsState("copper-silver")
    state.set_coverage(text)
    assert state.evidence is not None
    assert state.evidence.coverage == value


def test_candidates_that_did_not_change_keep_their_equations() -> None:
    state = ReadingsState("copper-silver")
    state.set_candidates("copper(III) = 3\ncopper(II) = 2\n\ncopper(I) = 1")
    found = state.experiment.candidates
    assert [(one.name, bool(one.equation)) for one in found] == [
        ("copper(III)", False),
        ("copper(II)", True),
        ("copper(I)", True),
    ]
    assert parse_experiment(state.to_toml()).candidates == found


def test_an_unknown_trial_or_reading_is_an_error_of_the_caller() -> None:
    state = ReadingsState("copper-silver")
    with pytest.raises(ExperimentError, match="no such reading"):
        state.set_reading(0, "wire", "1")
    for trial in (4, -2):  # the four trials are 0 to 3; -1 stands for all
        with pytest.raises(ExperimentError, match=r"no such trial.*Allowed: 0 to 3\b"):
            state.set_reading(trial, "wire before", "1")
    with pytest.raises(ExperimentError, match="no balance"):
        state.set_balance("scale", readability_g="1")


def test_a_source_that_cannot_be_loaded_changes_nothing() -> None:
    state = ReadingsState("copper-silver")
    state.set_reading(0, "wire before", "2.95")
    for source in ("no-such-lab", "title = 1\n", "not TOML\n"):
        with pytest.raises(ExperimentError):
            state.load(source, name="lab.toml")
    assert state.form.trials[0].readings["wire before"] == "2.95"


def test_subscribers_hear_of_each_change_once() -> None:
    state = ReadingsState("copper-silver")
    heard: list[Change] = []
    state.subscribe(heard.append)
    state.set_reading(0, "wire before", "2.95")
    state.set_reading(0, "wire before", "2.95")
    state.add_trial()
    state.load("tin-oxide")
    assert heard == [Change.TEXT, Change.TRIALS, Change.FORM]


def test_saving_keeps_what_is_there(tmp_path: Path) -> None:
    state = ReadingsState("copper-silver")
    state.set_title("Our own wire")
    state.set_invented(False)
    written = state.save(str(tmp_path / "ours"))
    assert written == tmp_path / "ours.toml"
    assert load_experiment(written) == state.experiment
    assert (state.experiment.title, state.experiment.invented) == ("Our own wire", False)
    state.set_coverage("0.99")
    state.save(str(tmp_path / "ours"))  # its own file
    assert load_experiment(written).coverage == 0.99

    other = tmp_path / "theirs.toml"
    other.write_text("theirs", "utf-8")
    with pytest.raises(ExperimentError, match="exists already"):
        state.save(str(other))
    assert other.read_text("utf-8") == "theirs"
    state.save(str(other), replace=True)
    assert load_experiment(other) == state.experiment
    nowhere = tmp_path / "nowhere.toml"
    nowhere.symlink_to(tmp_path / "nothing.toml")
    with pytest.raises(ExperimentError, match="a link that leads nowhere"):
        state.save(str(nowhere), replace=True)
    nowhere.unlink()
    state.set_coverage("?")
    with pytest.raises(ExperimentError, match="coverage probability"):
        state.save(str(other))
    assert sorted(path.name for path in tmp_path.iterdir()) == ["ours.toml", "theirs.toml"]


def test_other_candidates_leave_out_the_weights_of_those_gone() -> None:
    lab = experiments.load("copper-silver")
    stated = replace(lab, prior=Prior({"copper(II)": 3, "copper(I)": 2}, none=0.1))
    state = ReadingsState(stated)
    assert state.experiment.prior == stated.prior
    state.set_candidates("copper(I) = 1\nother = 3/2")
    assert not state.outcome.refusals
    assert state.experiment.prior == Prior({"copper(I)": 2}, none=0.1)


def test_verdicts_with_fewer_trials_are_remembered_while_trials_are_added() -> None:
    state = ReadingsState("copper-silver")
    assert state.earlier_looks == 0
    state.add_trial()
    assert state.earlier_looks == 0  # nothing is typed there yet
    typed = {"wire before": "3.00", "wire after": "2.90", "paper": "0.70", "paper + silver": "1.04"}
    for name, text in typed.items():
        state.set_reading(4, name, text)
    assert state.earlier_looks == 1
    assert state.evidence is not None
    said = asked_again_sentence(state.evidence, state.earlier_looks)
    assert "asked 2 times" in said
    assert "up to 8.3 % of labs, not 5 %" in said
    state.set_reading(4, "paper", "0.71")  # a correction is no further look
    assert state.earlier_looks == 1
    state.remove_trial()
    assert state.earlier_looks == 0
    planned = replace(state.base, looks=Looks(planned=5))
    state.load(planned)
    assert state.earlier_looks == 0
    assert state.evidence.experiment.looks == Looks(planned=5)
    assert asked_again_sentence(state.evidence, 3) == ""


@pytest.mark.parametrize("name", ["", "<b>" * 40, "a\nb", "bench 1"])
def test_a_name_that_no_trial_can_have_is_refused_beside_the_trial(name: str) -> None:
    state = ReadingsState("copper-silver")
    state.rename_trial(1, name)
    assert list(state.outcome.refusals) == [Place("trial", 1)]
    assert state.form.trials[1].name == name
    assert state.evidence is not None
    state.rename_trial(1, " run 2 ")
    assert state.outcome.current
    assert state.experiment.trials[1].name == "run 2"


@pytest.mark.parametrize("name", ["copper-silver", "hydrate-heating", "magnesium-gas"])
def test_a_lab_without_readings_shows_an_empty_trial_to_fill(name: str) -> None:
    lab = experiments.load(name)
    state = ReadingsState(replace(lab, trials=(), order=lab.reading_names()))
    assert state.evidence is None
    assert [trial.name for trial in state.form.trials] == ["trial 1", "trial 2", "trial 3"]
    for reading, texts in lab.trials[0].readings.items():
        state.set_reading(0, reading, "; ".join(texts))
    assert state.evidence is not None
    assert state.experiment.trials[0].readings == lab.trials[0].readings


def test_a_block_of_cells_fits_into_the_sheet_or_is_refused() -> None:
    """Four columns; two hundred trials at most."""
    state = ReadingsState("copper-silver")
    with pytest.raises(ExperimentError, match=r"wider.*2 columns from column 4 on.*at most 1"):
        state.set_cells(0, 3, [["1", "2"]])
    state.set_cells(0, 2, [["0.75", "1.15"]])
    with pytest.raises(ExperimentError, match=r"too many trials.*Given: 201.*at most 200"):
        state.set_cells(199, 0, [["1"], ["2"]])
    state.set_cells(199, 0, [["3.00"]])
    assert len(state.form.trials) == 200
    assert state.history.undo_words == "added a trial"
    state.undo()
    assert len(state.form.trials) == 4
    state.set_cells(3, 0, [["3.01"], ["3.02"]])
    assert state.history.undo_words == "pasted 2 readings"
    assert [one.readings["wire before"] for one in state.form.trials[3:]] == ["3.01", "3.02"]
    assert state.form.trials[4].name == "bench 5"
