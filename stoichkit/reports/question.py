"""One question of guided self-study, and what is said about an answer as typed."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from enum import StrEnum

from ..decision.typed import SAME, Mistake, figures_of, figures_remark, read_answer
from ..errors import ReadingError
from ..uncertainty import entry
from ..uncertainty.readings import Reading


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """A question about one lab, with the answer that the library calculates.

    Attributes
    ----------
    key : str
        Short name, unique in a lesson.
    topic : str
        Heading under which it stands, e.g. ``"Amount of Cu"``.
    words : str
        The question.
    unit : str
        Unit of the answer; "" for a plain number or a choice.
    value, low, high : float
        Unrounded answer, and the answers accepted; nan for a choice.
    figures : int
        Significant figures that the readings give it; 0 where that is not asked.
    answer : str
        The answer in words, shown afterwards.
    hints : tuple of str
        From a nudge to the whole way.
    mistakes : tuple of Mistake
        Known mistakes whose values are not accepted.
    choices : tuple of str
        For a choice: what can be chosen.
    right : frozenset of str
        For a choice: what must be chosen, nothing else.
    several : bool
        Whether any number of choices may be chosen.
    """

    key: str
    topic: str
    words: str
    answer: str
    hints: tuple[str, ...]
    unit: str = ""
    value: float = float("nan")
    low: float = float("nan")
    high: float = float("nan")
    figures: int = 0
    mistakes: tuple[Mistake, ...] = ()
    choices: tuple[str, ...] = ()
    right: frozenset[str] = field(default_factory=frozenset)
    several: bool = False


class FeedbackKind(StrEnum):
    """What an answer is."""

    RIGHT = "right"
    FIGURES = "right, but not its figures"
    MISTAKE = "a known mistake"
    WRONG = "not accepted"
    UNREAD = "not read"


@dataclass(frozen=True, slots=True)
class Feedback:
    """What is said about an answer.

    Attributes
    ----------
    kind : FeedbackKind
    words : str
    """

    kind: FeedbackKind
    words: str

    @property
    def accepted(self) -> bool:
        """Whether the answer counts as right.

        >>> Feedback(FeedbackKind.FIGURES, "Right, but …").accepted
        True
        """
        return self.kind in (FeedbackKind.RIGHT, FeedbackKind.FIGURES)


def check(question: Question, text: str) -> Feedback:
    """Say whether an answer is right, and if it is not, what to look at.

    Parameters
    ----------
    question : Question
    text : str
        As typed: a number with decimal point or comma, its unit may follow; for a choice the
        names with semicolons between them, or "none".

    Returns
    -------
    Feedback
        An answer that cannot be read is not an error but a feedback of kind ``UNREAD``.

    Raises
    ------
    ModelError
        If ``text`` is not text.

    Examples
    --------
    >>> question = Question(
    ...     key="m", topic="Mass", words="What mass of Cu was used up?", answer="0.12 g",
    ...     hints=("Subtract.",), unit="g", value=0.12, low=0.11, high=0.13, figures=2,
    ...     mistakes=(Mistake(-0.12, "A mass used up is before minus after."),),
    ... )
    >>> for typed in ("0,12 g", "120 mg", "-0.12", "0.1200001", "12 cm", "much"):
    ...     print(check(question, typed).kind)
    right
    right
    a known mistake
    right, but not its figures
    not read
    not read
    """
    entry.record("question", question, Question)
    entry.text("text", text)
    if not text.strip():
        return Feedback(FeedbackKind.UNREAD, "Type an answer first.")
    if question.choices:
        return _check_choice(question, text)
    try:
        reading, factor, _ = read_answer(text, question.unit)
    except ReadingError as error:
        return Feedback(FeedbackKind.UNREAD, str(error))
    return _check_number(question, reading, factor)


def _check_number(question: Question, reading: Reading, factor: float) -> Feedback:
    value = reading.value * factor
    slack = 1e-9 * max(abs(question.low), abs(question.high))
    if question.low - slack <= value <= question.high + slack:
        return _praise(question, figures_of(reading))
    for mistake in question.mistakes:
        if abs(value - mistake.value) <= SAME * abs(mistake.value):
            return Feedback(FeedbackKind.MISTAKE, f"Not yet. {mistake.words}")
    way = "larger" if value > question.high else "smaller"
    return Feedback(
        FeedbackKind.WRONG,
        f"Not yet: this is {way} than the answers accepted. A hint may help.",
    )


def _praise(question: Question, typed: int) -> Feedback:
    if remark := figures_remark(typed, question.figures):
        return Feedback(FeedbackKind.FIGURES, f"Right, but {remark}.")
    return Feedback(FeedbackKind.RIGHT, "Right.")


def _check_choice(question: Question, text: str) -> Feedback:
    """Compare chosen names, whatever their case and order."""
    known = {name.casefold(): name for name in question.choices}
    parts = [part.strip() for part in re.split(r"[;\n]", text) if part.strip()]
    if [part.casefold() for part in parts] == ["none"] and "none" not in known:
        parts = []
    strange = [part for part in parts if part.casefold() not in known]
    if strange:
        allowed = "; ".join(question.choices) + ("; none" if question.several else "")
        words = f"This is not one of the choices. Given: {strange[0][:60]}. Allowed: {allowed}."
        return Feedback(FeedbackKind.UNREAD, words)
    chosen = {known[part.casefold()] for part in parts}
    if chosen == question.right:
        return Feedback(FeedbackKind.RIGHT, "Right.")
    if not question.several:
        return Feedback(FeedbackKind.WRONG, "Not yet. A hint may help.")
    missed, extra = len(question.right - chosen), len(chosen - question.right)
    words = "Not yet:"
    if missed:
        words += f" {missed} more belong{'s' if missed == 1 else ''} to it"
    if extra:
        words += f"{' and' if missed else ''} {extra} of these do{'es' if extra == 1 else ''} not"
        words += " belong to it" if not missed else ""
    return Feedback(FeedbackKind.WRONG, f"{words}. A hint may help.")
