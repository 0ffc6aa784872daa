"""The self-study panel: nothing typed is lost, hints come one by one, feedback is shown."""

from __future__ import annotations

import json
import math
from types import SimpleNamespace

import pytest

from stoichkit import experiments
from stoichkit.decision.typed import MistakeKind
from stoichkit.errors import ExperimentError, ModelError
from stoichkit.experiments.practice_labs import PracticeLab, practice
from stoichkit.planning.plan import Plan, chances
from stoichkit.widgets.state import study
from stoichkit.widgets.state.study import Guess, Note, Notes, StudyState

pytest.importorskip("ipywidgets", reason="ipywidgets is not installed")


def test_hints_come_one_by_one_and_end_with_the_answer() -> None:
    state = StudyState("copper-silver")
    shown = []
    while words := state.hint(0):
        shown.append(words)

    assert shown == [
        "It is wire before − wire after.",
        "wire before = 2.94; wire after = 2.82.",
        "The answer is 0.12 g",
    ]
    assert not state.answers[0].solved


def test_text_is_kept_and_feedback_belongs_to_it() -> None:
    state = StudyState(experiments.load("tin-oxide"))
    heard: list[int] = []
    state.subscribe(heard.append)
    state.type(0, "much")
    assert state.check(0).kind == "not read"
    assert state.answers[0].text == "much"
    state.type(0, "0.643")
    assert state.answers[0].feedback is None
    assert state.check(0).accepted
    state.type(0, "1")
    assert state.answers[0].solved
    assert heard == [0, 0, 0, 0, 0]
    assert state.progress.startswith("1 of ")


def test_wrong_numbers_and_names_are_refused() -> None:
    with pytest.raises(ModelError, match="no such question"):
        StudyState().type(99, "1")
    with pytest.raises(ExperimentError):
        StudyState("unobtainium")


# Practice labs


def state_on(lab: PracticeLab) -> StudyState:
    state = StudyState("copper-silver")
    state.open_practice(lab.id)
    return state


def finish(state: StudyState) -> None:
    for number, one in enumerate(state.answers):
        question = one.question
        text = "; ".join(question.right) if question.choices else question.answer
        state.type(number, text.split(" = ")[0].split(" ≈ ")[0])
        assert state.check(number).accepted, question.words


def test_readings_are_hidden_until_something_was_predicted() -> None:
    state = state_on(practice(2, level=2))
    assert state.hidden
    with pytest.raises(ModelError, match="how often this balance will tell"):
        state.predict()
    with pytest.raises(ModelError, match="no such choice"):
        state.guess("certainly")
    state.guess(Guess.OFTEN)
    state.place(1)
    assert state.placed_g == state.steps_g[1]
    state.predict()
    assert not state.hidden
    other = state_on(practice(3, level=2))
    other.leave_prediction_out()
    assert not other.hidden
    assert not StudyState("copper-silver").hidden  # a ready lab is shown as it was


def test_a_prediction_is_compared_with_what_was_worked_out() -> None:
    """The share is that of the plan, averaged over the candidates."""
    lab = practice(2, level=2)
    state = state_on(lab)
    plan = Plan(
        experiment=lab.experiment,
        consumed_mol=lab.consumed_mol,
        trials=len(lab.experiment.trials),
        spread=0.15,
    )
    shares = [chances(plan, one.name).right for one in lab.experiment.candidates]
    share = sum(shares) / len(shares)
    assert state.foretold is not None
    assert state.foretold.share == pytest.approx(share)
    state.guess(Guess.of(share))
    state.predict()
    finish(state)
    words = state.compared()
    assert f"about {100 * share:.0f} in 100" in words[0]
    assert words[1].endswith("so it is.")
    done = state.progress_record.find(lab.id)
    assert done is not None
    assert (done.finished, done.misses, done.predicted) == (True, 0, "right")
    wrong = state_on(lab)
    wrong.guess(next(one for one in Guess if one is not Guess.of(share)))
    wrong.predict()
    finish(wrong)
    for _ in range(3):  # shown again and again, written down once
        assert "it is “" in wrong.compared()[1]
    done = wrong.progress_record.find(lab.id)
    assert done is not None
    assert (dict(done.missed), done.predicted) == ({"the prediction": 1}, "wrong")


def test_what_was_missed_is_written_down_and_chooses_the_next_lab() -> None:
    lab = practice(2, level=2)
    state = state_on(lab)
    state.leave_prediction_out()
    value = state.answers[0].question.number.value
    state.type(0, f"{-value:.6g}")
    assert state.check(0).mistakes == (MistakeKind.SIGN,)
    state.hint(0)
    done = state.progress_record.find(lab.id)
    assert done is not None
    assert (done.missed, done.hints, done.answered) == (
        (("subtracted the wrong way round", 1),),
        1,
        0,
    )
    finish(state)
    state.next_lab(5)
    assert state.practice is not None
    assert (state.practice.level, state.practice.scene) == (2, "oxide")
    assert state.hidden
    assert state.answers[0].text == ""


def test_an_earlier_error_is_carried_forward() -> None:
    state = StudyState("copper-silver")
    state.type(2, "0.0025")  # in place of 0.00189 mol
    assert not state.check(2).accepted
    state.type(6, f"{0.0037082 / 0.0025:.3f}")
    assert state.check(6).mistakes == (MistakeKind.CARRIED,)
    assert "follows from an earlier answer" in state.check(6).words
    state.type(2, "0.0019")
    state.check(2)
    assert state.check(6).mistakes != (MistakeKind.CARRIED,)


def test_progress_goes_on_in_another_kernel_and_from_the_browser() -> None:
    state = state_on(practice(2, level=2))
    state.guess(Guess.SELDOM)
    state.predict()
    finish(state)
    text = state.progress_record.to_json()
    kept = json.loads(json.dumps(state.tables()))
    other = state_on(practice(2, level=2))
    other.restore_tables(kept)
    assert other.progress_record == state.progress_record
    assert not other.hidden
    assert other.finished
    page = StudyState("tin-oxide")
    page.keep_progress("nonsense")
    assert page.progress_record.labs == ()
    page.keep_progress(text)
    assert page.progress_record == state.progress_record
    with pytest.raises(ModelError):
        page.load_progress("{}")
    assert page.progress_record == state.progress_record


def test_ids_as_typed() -> None:
    state = StudyState("copper-silver")
    for text in ("", "nothing", practice(1).id[:-1] + "?"):
        with pytest.raises(ExperimentError):
            state.open_practice(text)
    assert state.practice is None
    assert state.experiment.title == experiments.load("copper-silver").title


def test_the_limits_of_a_guess_are_those_of_its_words() -> None:
    """Nine of ten is nearly always; five of ten is not seldom."""
    assert [Guess.of(share) for share in (0.9, 0.8999, 0.5, 0.4999)] == [
        Guess.NEARLY_ALWAYS,
        Guess.OFTEN,
        Guess.OFTEN,
        Guess.SELDOM,
    ]


def test_a_step_that_was_not_placed_is_that_of_the_lab() -> None:
    """Steps of 0.001 g to 0.1 g in 1-2-5, seven in all, around its own 0.01 g."""
    state = StudyState("copper-silver")
    assert (state.prediction.step, state.placed_g) == (-1, 0.01)
    for place, step_g in ((0, 0.001), (1, 0.002), (6, 0.1), (7, 0.01), (-1, 0.01)):
        state.place(place)
        assert state.placed_g == step_g


@pytest.mark.parametrize(
    ("best", "end"),
    [
        (0.01, "Nearly all do with steps of 0.01 g or finer."),
        (0.1, "Nearly all do with steps of 0.1 g, the coarsest looked at."),
        (math.nan, "None of these steps makes nearly all labs tell."),
    ],
)
def test_what_is_said_of_a_prediction(
    monkeypatch: pytest.MonkeyPatch, best: float, end: str
) -> None:
    """85 of 100 labs tell on the lab's own balance, 93 with steps of 0.001 g: both made up."""
    found = SimpleNamespace(
        share=0.85, told={0.001: 0.93}.__getitem__, coarsest_g=best, steps_g=(0.001, 0.01, 0.1)
    )
    monkeypatch.setattr(study, "foretold", lambda *_: found)
    state = StudyState("copper-silver")
    state.guess(Guess.OFTEN)
    state.place(0)
    state.predict()
    assert state.compared() == (
        "Of labs of this design about 85 in 100 single out the truth; the others mostly cannot "
        "tell.",
        "You said “often, but not always: in five to nine labs of ten”: so it is.",
        "You placed the parting at steps of 0.001 g; with those 93 labs in 100 would tell. " + end,
    )


def test_the_question_that_was_shown_is_one_of_the_fourteen() -> None:
    state = StudyState("copper-silver")
    assert len(state.answers) == 14
    for at, shown in ((-5, 0), (0, 0), (13, 13), (14, 13), (99, 13)):
        state.restore(Notes(at))
        assert state.at == shown


def test_more_hints_than_there_are_show_all_and_the_answer() -> None:
    state = StudyState("copper-silver")
    key = state.answers[0].question.key  # two hints, then the answer
    for hints, shown, more in ((2, 2, True), (3, 3, False), (9, 3, False)):
        state.restore(Notes(0, ((key, Note(hints=hints)),)))
        assert len(state.answers[0].shown_hints) == shown
        assert state.answers[0].more_hints is more
