"""What self-study holds: the answers as typed, what was said about them, hints shown.

It asks about the record of a shared :class:`.ReadingsState`: after a reading has changed the same
questions have other answers, so that what was answered is checked anew.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from ...errors import ModelError, StoichkitError
from ...experiments.record import Experiment
from ...reports.question import Feedback, Question, check
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


class StudyState(Telling[int]):
    """Questions about one lab, answered one by one in any order.

    >>> state = StudyState("copper-silver")
    >>> state.type(0, "0,12")
    >>> state.check(0).words, state.progress
    ('Right.', '1 of 13 answered')
    >>> state.readings.set_reading(0, "wire before", "3.94")
    >>> state.progress, state.answers[0].text
    ('0 of 13 answered', '0,12')
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
        self.readings.subscribe(self._follow)
        self.readings.history.join(_PART, lambda: self.notes, self.restore)
        if not isinstance(source, ReadingsState) and not self.answers:
            raise ModelError(self.problem)

    def _follow(self, change: Change) -> None:
        if change is Change.FORM and not self.readings.history.restoring:
            self._other = True

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
        return Notes(self.at if self._answers else self._kept.at, questions)

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
            one.text, one.hints = note.text, min(note.hints, len(one.question.hints) + 1)
            one.feedback = check(one.question, note.text) if note.checked else None
            right = one.feedback is not None and one.feedback.accepted
            one.solved = right or (note.solved and not anew)
        self.at = min(max(notes.at, 0), max(len(self._answers) - 1, 0))

    def tables(self) -> dict[str, Any]:
        """Return what is remembered, to be written as JSON."""
        notes = self.notes
        found = {k: [n.text, n.hints, n.checked, n.solved] for k, n in notes.questions}
        return {"at": notes.at, "questions": found}

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
        self.restore(Notes(at if isinstance(at, int) else 0, tuple(found)))

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
        one.feedback = check(one.question, "none" if none else one.text)
        one.solved = one.solved or one.feedback.accepted
        self._tell(number)
        return one.feedback

    def hint(self, number: int) -> str:
        """Show one more hint, at last the answer; "" when all are shown."""
        one = self._answer(number)
        if not one.more_hints:
            return ""
        self.readings.history.record(f"asked for a hint to question {number + 1}")
        one.hints += 1
        self._tell(number)
        return one.shown_hints[-1]

    def _answer(self, number: int) -> Answered:
        if not 0 <= number < len(self.answers):
            raise ModelError(
                "There is no such question.", given=number, allowed=f"0 to {len(self.answers) - 1}"
            )
        return self.answers[number]
