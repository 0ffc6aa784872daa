"""What the self-study panel holds: the answers as typed, what was said about them, hints shown."""

from __future__ import annotations

from dataclasses import dataclass

from ...errors import ModelError
from ...experiments.record import Experiment
from ...reports.question import Feedback, Question, check
from ...reports.study import lesson
from ..kit.telling import Telling
from .readings import read_source


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


class StudyState(Telling[int]):
    """Questions about one lab, answered one by one in any order.

    >>> state = StudyState("copper-silver")
    >>> state.type(0, "0,12")
    >>> state.check(0).words, state.progress
    ('Right.', '1 of 13 answered')
    """

    def __init__(self, source: Experiment | str = "copper-silver") -> None:
        super().__init__()
        self.experiment, _ = read_source(source)
        self.answers = tuple(Answered(question) for question in lesson(self.experiment))

    @property
    def progress(self) -> str:
        """How many questions were answered."""
        solved = sum(one.solved for one in self.answers)
        return f"{solved} of {len(self.answers)} answered"

    def type(self, number: int, text: str) -> None:
        """Take over an answer as typed; it is not checked yet."""
        one = self._answer(number)
        if one.text != text:
            one.text, one.feedback = text, None
            self._tell(number)

    def check(self, number: int) -> Feedback:
        """Check the answer to a question."""
        one = self._answer(number)
        one.feedback = check(one.question, one.text)
        one.solved = one.solved or one.feedback.accepted
        self._tell(number)
        return one.feedback

    def hint(self, number: int) -> str:
        """Show one more hint, at last the answer; "" when all are shown."""
        one = self._answer(number)
        if not one.more_hints:
            return ""
        one.hints += 1
        self._tell(number)
        return one.shown_hints[-1]

    def _answer(self, number: int) -> Answered:
        if not 0 <= number < len(self.answers):
            raise ModelError(
                "There is no such question.", given=number, allowed=f"0 to {len(self.answers) - 1}"
            )
        return self.answers[number]
