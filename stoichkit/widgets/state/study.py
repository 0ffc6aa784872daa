"""What self-study holds: the answers as typed, what was said about them, hints shown.

It asks about the record of a shared :class:`.ReadingsState`: after a reading has changed the same
questions have other answers, so that what was answered is checked anew.
"""

from __future__ import annotations

import math
import secrets
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any

from ...decision.accepted import Own
from ...errors import ModelError, StoichkitError
from ...experiments.practice_labs import PracticeLab, checked_id, practice, practice_of
from ...experiments.record import Experiment
from ...planning.telling import NEARLY_ALWAYS, ONE_OF_TWO, Foretold, foretold, steps_around
from ...reports.progress import CONCLUSION, PREDICTION, UNKNOWN, LabDone, Progress
from ...reports.question import Feedback, FeedbackKind, Question, check
from ...reports.study import lesson
from ..kit.telling import Telling
from .readings import Change, ReadingsState

_PART = "study"


@dataclass(slots=True)
class Answered:
    """One question with what became of it."""

    question: Question
    text: str = ""
    feedback: Feedback | None = None
    hints: int = 0
    solved: bool = False

    @property
    def shown_hints(self) -> tuple[str, ...]:
        """The hints asked for so far; the answer itself comes last."""
        all_hints = (*self.question.hints, f"The answer is {self.question.answer}")
        return all_hints[: self.hints]

    @property
    def more_hints(self) -> bool:
        """Whether another hint can be asked for."""
        return self.hints <= len(self.question.hints)

    @property
    def chosen(self) -> frozenset[str]:
        """What is chosen of the choices."""
        return frozenset(self.text.split("; ")) & frozenset(self.question.choices)


class Guess(StrEnum):
    """How often a design is thought to tell."""

    NEARLY_ALWAYS = "nearly always: in nine labs of ten or more"
    OFTEN = "often, but not always: in five to nine labs of ten"
    SELDOM = "seldom: in less than one lab of two"

    @classmethod
    def of(cls, share: float) -> Guess:
        """Return what a share is called.

        >>> Guess.of(0.95).name, Guess.of(0.7).name, Guess.of(0.2).name
        ('NEARLY_ALWAYS', 'OFTEN', 'SELDOM')
        """
        if share >= NEARLY_ALWAYS:
            return cls.NEARLY_ALWAYS
        return cls.OFTEN if share >= ONE_OF_TWO else cls.SELDOM


@dataclass(frozen=True, slots=True)
class Prediction:
    """What was predicted before looking.

    Attributes
    ----------
    guess : str
        One of :class:`Guess`; "" for none yet.
    step : int
        Place among the steps at which the candidates are thought to part; -1 for that of the lab.
    made : bool
        Whether it was handed in.
    left_out : bool
        Whether the learner chose to look at once.
    """

    guess: str = ""
    step: int = -1
    made: bool = False
    left_out: bool = False


@dataclass(frozen=True, slots=True)
class Note:
    """What is remembered of one question."""

    text: str = ""
    hints: int = 0
    checked: bool = False
    solved: bool = False


_BLANK = Note()


@dataclass(frozen=True, slots=True)
class Notes:
    """What is remembered: the question shown, and what became of each by its key."""

    at: int = 0
    questions: tuple[tuple[str, Note], ...] = ()
    prediction: Prediction = Prediction()


class StudyState(Telling[int]):
    """Questions about one lab, answered one by one in any order.

    >>> state = StudyState("copper-silver")
    >>> state.type(0, "0,12")
    >>> state.check(0).words, state.progress
    ('Right.', '1 of 14 answered')
    >>> state.readings.set_reading(0, "wire before", "3.94")
    >>> state.progress, state.answers[0].text
    ('0 of 14 answered', '0,12')
    """

    def __init__(self, source: ReadingsState | Experiment | str = "copper-silver") -> None:
        super().__init__()
        self.readings = source if isinstance(source, ReadingsState) else ReadingsState(source)
        self.at = 0
        self.problem = ""
        self._asked: Experiment | None = None
        self._answers: tuple[Answered, ...] = ()
        self._kept = Notes()
        self._other = False
        self.prediction = Prediction()
        self.progress_record = Progress()
        self._foretold: tuple[Experiment, Foretold | None] | None = None
        self._practice: tuple[Experiment, PracticeLab | None] | None = None
        self.readings.subscribe(self._follow)
        self.readings.history.join(_PART, lambda: self.notes, self.restore)
        if not isinstance(source, ReadingsState) and not self.answers:
            raise ModelError(self.problem)

    def _follow(self, change: Change) -> None:
        if change is Change.FORM and not self.readings.history.restoring:
            self._other = True
            self.prediction = Prediction()

    @property
    def experiment(self) -> Experiment:
        """The record that is asked about."""
        return self.readings.experiment

    @property
    def answers(self) -> tuple[Answered, ...]:
        """The questions with what became of them; none while the lab cannot be asked about.

        ``problem`` then says why.
        """
        if self._asked is not self.experiment:
            self._kept = notes = self.notes
            self._asked, self._other = self.experiment, False
            try:
                self._answers = tuple(Answered(one) for one in lesson(self.experiment))
                self.problem = ""
            except StoichkitError as error:
                self._answers, self.problem = (), str(error)
            self._put(notes, anew=True)
        return self._answers

    @property
    def practice(self) -> PracticeLab | None:
        """The practice lab that is asked about; None for another lab, or one that was changed."""
        if self._practice is None or self._practice[0] is not self.experiment:
            self._practice = self.experiment, practice_of(self.experiment)
        return self._practice[1]

    @property
    def hidden(self) -> bool:
        """Whether readings are not to be seen yet: in a practice lab before the prediction."""
        said = self.prediction.made or self.prediction.left_out
        return self.practice is not None and not said

    # What is remembered

    @property
    def notes(self) -> Notes:
        """What is remembered; nothing of another lab."""
        if self._other:
            return Notes()
        found = dict(self._kept.questions)
        for one in self._answers:
            checked = one.feedback is not None
            found[one.question.key] = Note(one.text, one.hints, checked, one.solved)
        questions = tuple((k, note) for k, note in found.items() if note != _BLANK)
        at = self.at if self._answers else self._kept.at
        return Notes(at, questions, self.prediction)

    def restore(self, notes: Notes) -> None:
        """Bring back what was remembered."""
        answers = self.answers
        self._kept = notes
        self._put(notes)
        self._tell(self.at if answers else 0)

    def _put(self, notes: Notes, *, anew: bool = False) -> None:
        known = dict(notes.questions)
        for one in self._answers:
            note = known.get(one.question.key, _BLANK)
            one.text, one.hints = note.text, note.hints
            one.feedback = self._checked(one.question, note.text) if note.checked else None
            right = one.feedback is not None and one.feedback.accepted
            one.solved = right or (note.solved and not anew)
        self.at = min(max(notes.at, 0), max(len(self._answers) - 1, 0))
        self.prediction = notes.prediction

    def tables(self) -> dict[str, Any]:
        """Return what is remembered, to be written as JSON."""
        notes = self.notes
        found = {k: [n.text, n.hints, n.checked, n.solved] for k, n in notes.questions}
        said = notes.prediction
        return {
            "at": notes.at,
            "questions": found,
            "prediction": [said.guess, said.step, said.made, said.left_out],
            "progress": self.progress_record.to_json(),
        }

    def restore_tables(self, tables: object) -> None:
        """Bring back what was written; what is none of it is left out."""
        if not isinstance(tables, Mapping):
            return
        at, questions = tables.get("at"), tables.get("questions")
        found = []
        for key, values in questions.items() if isinstance(questions, Mapping) else ():
            match values:
                case [str(text), int(hints), bool(checked), bool(solved)]:
                    found.append((str(key), Note(text, max(hints, 0), checked, solved)))
        prediction = Prediction()
        match tables.get("prediction"):
            case [str(guess), int(step), bool(made), bool(left)] if guess in ("", *Guess):
                prediction = Prediction(guess, step, made, left)
        record = tables.get("progress")
        if isinstance(record, str):
            with suppress(StoichkitError):
                self.progress_record = Progress.from_json(record)
        self.restore(Notes(at if isinstance(at, int) else 0, tuple(found), prediction))

    # What is done

    @property
    def progress(self) -> str:
        """How many questions were answered."""
        solved = sum(one.solved for one in self.answers)
        return f"{solved} of {len(self.answers)} answered"

    @property
    def finished(self) -> bool:
        """Whether all questions were answered."""
        return bool(self.answers) and all(one.solved for one in self.answers)

    def go(self, number: int) -> None:
        """Show a question."""
        self._answer(number)
        self.at = number
        self._tell(number)

    def type(self, number: int, text: str) -> None:
        """Take over an answer as typed; it is not checked yet."""
        one = self._answer(number)
        if one.text != text:
            words = f"typed answer {number + 1}"
            self.readings.history.record(words, key=(_PART, one.question.key))
            one.text, one.feedback = text, None
            self._tell(number)

    def tick(self, number: int, choice: str, on: bool) -> None:
        """Choose, or give up, one of several choices."""
        one = self._answer(number)
        if choice not in one.question.choices:
            raise ModelError(
                "There is no such choice.", given=choice, allowed="; ".join(one.question.choices)
            )
        chosen = one.chosen | {choice} if on else one.chosen - {choice}
        self.type(number, "; ".join(c for c in one.question.choices if c in chosen))

    def check(self, number: int) -> Feedback:
        """Check the answer to a question; where several may be chosen, none chosen is "none"."""
        one = self._answer(number)
        none = one.question.several and not one.text.strip()
        one.feedback = found = self._checked(one.question, "none" if none else one.text)
        one.solved = one.solved or found.accepted
        missed = ""
        if found.kind in (FeedbackKind.MISTAKE, FeedbackKind.WRONG):
            missed = CONCLUSION if one.question.choices else UNKNOWN
            missed = str(found.mistakes[0]) if found.mistakes else missed
        self._note(missed)
        self._tell(number)
        return found

    def _checked(self, question: Question, text: str) -> Feedback:
        """Check an answer beside those typed before it."""
        own: dict[str, Own] = {}
        for one in self._answers:
            if one.question is question:
                break
            if one.question.symbol and one.feedback is not None and one.feedback.own is not None:
                own[one.question.symbol] = one.feedback.own
        return check(question, text, own)

    def _note(self, missed: str = "", *, hints: int = 0, predicted: str = "") -> None:
        """Write down in the record what became of this lab."""
        lab = self.practice
        name = lab.id if lab is not None else self.experiment.title[:200]
        done = self.progress_record.find(name) or LabDone(name, lab.level if lab else 0)
        if missed:
            done = done.with_missed(missed)
        self.progress_record = self.progress_record.with_lab(
            replace(
                done,
                questions=len(self._answers),
                answered=sum(one.solved for one in self._answers),
                hints=done.hints + hints,
                predicted=predicted or done.predicted,
            )
        )

    # Practice labs

    def open_practice(self, text: str) -> None:
        """Open the practice lab of an id.

        Raises
        ------
        ExperimentError
            If the id is none, or was mistyped.
        """
        self._open(practice(checked_id(text)))

    def next_lab(self, number: int | None = None, kind: str = "") -> None:
        """Open the next practice lab: by the level reached and what was missed.

        Raises
        ------
        ModelError
            If there is no such kind; "" is any.
        """
        if number is None:
            number = secrets.randbelow(10**9)
        self._open(self.progress_record.next_lab(number, kind))

    def _open(self, lab: PracticeLab) -> None:
        self.prediction = Prediction()
        self.readings.load(lab.experiment)
        self._tell(0)

    # Progress

    def load_progress(self, text: str) -> None:
        """Go on with a record that was saved.

        Raises
        ------
        ModelError
            If it is no such record; nothing is changed then.
        """
        self.progress_record = Progress.from_json(text)
        self._tell(self.at)

    def keep_progress(self, text: str) -> None:
        """Go on with what the page had kept, if it knows more labs than are known here."""
        with suppress(StoichkitError):
            found = Progress.from_json(text)
            if len(found.labs) > len(self.progress_record.labs):
                self.progress_record = found
                self._tell(self.at)

    # The prediction

    @property
    def steps_g(self) -> tuple[float, ...]:
        """Display steps that can be placed, g; () where nothing is weighed."""
        return steps_around(self.experiment)

    @property
    def placed_g(self) -> float:
        """The step that is placed, g."""
        steps = self.steps_g
        return steps[self._place] if steps else math.nan

    @property
    def _place(self) -> int:
        steps = self.steps_g
        if 0 <= self.prediction.step < len(steps):
            return self.prediction.step
        return min(3, len(steps) - 1)

    @property
    def foretold(self) -> Foretold | None:
        """How often this design would have told; None where that cannot be said."""
        if self._foretold is None or self._foretold[0] is not self.experiment:
            lab = self.practice
            try:
                found = foretold(self.experiment, None if lab is None else lab.consumed_mol)
            except StoichkitError:
                found = None
            self._foretold = self.experiment, found
        return self._foretold[1]

    def guess(self, text: str) -> None:
        """Say how often this balance will tell."""
        if text not in ("", *Guess):
            raise ModelError("There is no such choice.", given=text, allowed="; ".join(Guess))
        self._predict(replace(self.prediction, guess=text))

    def place(self, step: int) -> None:
        """Place the step of the balance at which the candidates part."""
        self._predict(replace(self.prediction, step=step))

    def predict(self) -> None:
        """Hand the prediction in; the readings are seen from then on.

        Raises
        ------
        ModelError
            If nothing was said yet.
        """
        if not self.prediction.guess:
            raise ModelError(
                "Say first how often this balance will tell.", allowed="; ".join(Guess)
            )
        self._predict(replace(self.prediction, step=self._place, made=True))

    def leave_prediction_out(self) -> None:
        """Look at the readings without a prediction."""
        self._predict(replace(self.prediction, left_out=True))

    def _predict(self, said: Prediction) -> None:
        self._answer(self.at)  # what was remembered of another lab is gone by then
        self.readings.history.record("predicted", key=(_PART, "prediction"))
        self.prediction = said
        self._tell(self.at)

    def compared(self) -> tuple[str, ...]:
        """Compare the prediction with what the design would tell, and write down whether it held.

        Returns () where the design cannot be worked out, or a ready lab was not predicted.
        """
        said = self.prediction
        if not said.made and self.practice is None:
            return ()  # nobody asked, and it takes a while
        found = self.foretold
        if found is None:
            return ()
        share = found.share
        words = [
            f"Of labs of this design about {100 * share:.0f} in 100 single out the truth; the "
            "others mostly cannot tell."
        ]
        if said.made:
            right = Guess.of(share) == said.guess
            words.append(
                f"You said “{said.guess}”: {'so it is' if right else 'it is “'}"
                + ("." if right else f"{Guess.of(share)}”.")
            )
            words.append(self._placed_words(found))
            self._note(
                "" if right or self._noted else PREDICTION,
                predicted="right" if right else "wrong",
            )
        return tuple(words)

    @property
    def _noted(self) -> bool:
        lab = self.practice
        done = self.progress_record.find(lab.id if lab else self.experiment.title[:200])
        return done is not None and bool(done.predicted)

    def _placed_words(self, found: Foretold) -> str:
        placed = self.placed_g
        words = (
            f"You placed the parting at steps of {placed:g} g; with those "
            f"{100 * found.told(placed):.0f} labs in 100 would tell."
        )
        best = found.coarsest_g
        if math.isnan(best):
            return f"{words} None of these steps makes nearly all labs tell."
        return f"{words} Nearly all do with steps of {best:g} g" + (
            " or finer." if best < found.steps_g[-1] else ", the coarsest looked at."
        )

    def hint(self, number: int) -> str:
        """Show one more hint, at last the answer; "" when all are shown."""
        one = self._answer(number)
        if not one.more_hints:
            return ""
        self.readings.history.record(f"asked for a hint to question {number + 1}")
        one.hints += 1
        self._note(hints=1)
        self._tell(number)
        return one.shown_hints[-1]

    def _answer(self, number: int) -> Answered:
        if not 0 <= number < len(self.answers):
            raise ModelError(
                "There is no such question.", given=number, allowed=f"0 to {len(self.answers) - 1}"
            )
        return self.answers[number]
