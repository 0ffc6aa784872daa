"""One question of guided self-study, and what is said about an answer as typed."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum

from ..decision.accepted import (
    Accepted,
    Fit,
    Own,
    figures_of,
    figures_remark,
    half_unit,
    own_of,
    too_few,
)
from ..decision.mistakes import Working, best, told
from ..decision.typed import Mistake, MistakeKind, read_answer, read_with_uncertainty, thousand
from ..errors import ReadingError
from ..uncertainty import entry
from ..uncertainty.readings import Reading

_ROUNDED = 0.005
"""What follows from an earlier number of which only the value is known is so wide, relative."""


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
    number : Accepted
        The unrounded answer, and which numbers are right; of nan for a choice.
    answer : str
        The answer in words, shown afterwards.
    hints : tuple of str
        From a nudge to the whole way.
    uncertainty : (float, float) or None
        Where value ± uncertainty is asked for: the uncertainties accepted.
    mistakes : tuple of Mistake
        Known mistakes whose values are not accepted, the likelier first.
    working : Working or None
        The calculation in which a mistake is looked for.
    symbol : str
        The step of it that is asked for.
    choices : tuple of str
        For a choice: what can be chosen.
    right : frozenset of str
        For a choice: what must be chosen, nothing else.
    several : bool
        Whether any number of choices may be chosen.
    replies : mapping of str to str
        For a choice: what is said about each wrong one; with several, what is said where it was
        missed or wrongly taken.
    """

    key: str
    topic: str
    words: str
    answer: str
    hints: tuple[str, ...]
    unit: str = ""
    number: Accepted = field(default_factory=Accepted)
    uncertainty: tuple[float, float] | None = None
    mistakes: tuple[Mistake, ...] = ()
    choices: tuple[str, ...] = ()
    right: frozenset[str] = field(default_factory=frozenset)
    several: bool = False
    replies: Mapping[str, str] = field(default_factory=dict)
    working: Working | None = field(default=None, compare=False, repr=False)
    symbol: str = ""


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
    mistakes : tuple of MistakeKind
        What the mistake is taken for, the likeliest first; () where none was found.
    own : Own or None
        The number typed, in the unit of the question; None where there is none.
    """

    kind: FeedbackKind
    words: str
    mistakes: tuple[MistakeKind, ...] = ()
    own: Own | None = None

    @property
    def accepted(self) -> bool:
        """Whether the answer counts as right.

        >>> Feedback(FeedbackKind.FIGURES, "Right, but …").accepted
        True
        """
        return self.kind in (FeedbackKind.RIGHT, FeedbackKind.FIGURES)


def check(question: Question, text: str, own: Mapping[str, float | Own] | None = None) -> Feedback:
    """Say whether an answer is right, and if it is not, what to look at.

    Parameters
    ----------
    question : Question
    text : str
        As typed: a number with decimal point or comma, its unit may follow; for a choice the
        names with semicolons between them, or "none". A power of ten, a quotient or a calculation
        such as ``2.94 - 2.82`` is worked out.
    own : mapping of str to Own or float, optional
        Numbers typed for earlier steps, by their symbols: what follows from a wrong one is told,
        what follows from right ones is right. A value alone stands for a wrong one.

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
    ...     hints=("Subtract.",), unit="g", number=Accepted.of(0.12, 2),
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
    known = _own(own)
    if not text.strip():
        return Feedback(FeedbackKind.UNREAD, "Type an answer first.")
    if question.choices:
        return _check_choice(question, text)
    try:
        if question.uncertainty is not None:
            return _check_uncertainty(question, text)
        reading, factor, _ = read_answer(text, question.unit)
    except ReadingError as error:
        return Feedback(FeedbackKind.UNREAD, str(error))
    return _check_number(question, reading, factor, known)


def _own(own: Mapping[str, float | Own] | None) -> dict[str, Own]:
    """Return the numbers typed for earlier steps, checked."""
    found = {} if own is None else entry.mapping("own", own, "{symbol of a step: number}")
    return {
        entry.text("own", name): one
        if isinstance(one, Own)
        else Own(entry.number(f"own of {name}", one), _ROUNDED, right=False)
        for name, one in found.items()
    }


def now_you(
    words: str,
    value: float,
    unit: str = "",
    *,
    typed: str = "",
    figures: int = 3,
    mistakes: Mapping[str, float] | None = None,
) -> str:
    """Ask for a number that was worked out here, and say what is to be said of an answer.

    Parameters
    ----------
    words : str
        The question.
    value : float
        The right answer, unrounded; it is shown nowhere.
    unit : str
        Its unit; "" for a plain number.
    typed : str
        The answer as typed; "" asks the question.
    figures : int
        Significant figures that what is given bears, 1 to 12.
    mistakes : mapping of str to float
        What known mistakes lead to, by what is said about them.

    Raises
    ------
    ModelError
        If an argument cannot be used.

    Examples
    --------
    >>> now_you("What is the mass of 0.25 mol of Cu?", 15.8865, "g")
    'What is the mass of 0.25 mol of Cu? Type your answer between the quotes and run the cell.'
    >>> now_you("", 15.8865, "g", typed="0.25*63.546")
    'Right.'
    >>> now_you("", 15.8865, "g", typed="254", mistakes={"Multiply.": 63.546 / 0.25})
    'Not yet. Multiply.'
    """
    entry.text("words", words)
    value = entry.number("value", value)
    figures = entry.whole("figures", figures, least=1, most=12)
    entry.text("unit", unit)
    if not entry.text("typed", typed).strip():
        return f"{words} Type your answer between the quotes and run the cell."
    given = {} if mistakes is None else entry.mapping("mistakes", mistakes, "{words: value}")
    known = tuple(
        Mistake(entry.number("mistakes", wrong), entry.text("mistakes", said))
        for said, wrong in given.items()
    )
    question = Question(
        key="now you", topic="", words=words, answer="", hints=(), unit=unit,
        number=Accepted.of(value, figures), mistakes=(*known, *thousand(value, unit)),
    )  # fmt: skip
    return check(question, typed).words


def _check_number(
    question: Question, reading: Reading, factor: float, own: Mapping[str, Own]
) -> Feedback:
    working, asked, typed = question.working, question.number, figures_of(reading)
    follows: Own | None = None
    if working is not None:
        steps = {working.at(name): one for name, one in own.items() if working.has(name)}
        follows = working.follows(working.at(question.symbol), steps)
    fit = asked.fit(reading, factor, follows)
    if fit is Fit.RIGHT:
        found = _praise(question, typed)
    elif fit is Fit.CARRIED:
        words = (
            "Not yet, but it follows from an earlier answer of yours that was not right: go "
            "back to that one; the way from there is right."
        )
        found = Feedback(FeedbackKind.MISTAKE, words, (MistakeKind.CARRIED,))
    elif fit is Fit.FEW:
        words = f"Not yet: {too_few(typed, asked.figures)}"
        found = Feedback(FeedbackKind.WRONG, words, (MistakeKind.EARLY,))
    else:
        found = _reasoned(question, reading, factor)
    return replace(found, own=own_of(reading, factor, right=fit is Fit.RIGHT))


def _reasoned(question: Question, reading: Reading, factor: float) -> Feedback:
    """Say what gives a number that is not accepted."""
    value, half = reading.value * factor, half_unit(reading, factor)
    found = best(enumerate(question.mistakes), value, half)
    if (working := question.working) is not None:
        found = working.reasons(working.at(question.symbol), value, half) or found
    if found:
        kinds = tuple(one.kind for one in found)
        return Feedback(FeedbackKind.MISTAKE, f"Not yet. {told(found)}", kinds)
    way = "larger" if value > question.number.value else "smaller"
    words = f"Not yet: this is {way} than what the readings give, and no usual mistake leads to it."
    return Feedback(FeedbackKind.WRONG, f"{words} A hint may help.")


def _check_uncertainty(question: Question, text: str) -> Feedback:
    """Compare value ± uncertainty: from one standard uncertainty to what holds everything."""
    if not any(sign in text for sign in ("±", "+-", "+/-", "+−", "(")):
        return Feedback(
            FeedbackKind.UNREAD,
            "Give the value and how sure it is: write it as 2.1 ± 0.2.",
        )
    value, sure, factor = read_with_uncertainty(text, question.unit)
    assert question.uncertainty is not None
    least, most = question.uncertainty
    given, size = value.value * factor, sure.value * factor
    if abs(given - question.number.value) > max(
        least, question.number.high - question.number.value
    ):
        return _reasoned(question, value, factor)
    if size < least:
        words = (
            "Not yet: this claims more than the display can show. Each reading may be off by half "
            "a step either way, and repeats no better than the balance does."
        )
        return Feedback(FeedbackKind.WRONG, words, (MistakeKind.OTHER,))
    if size > most:
        words = (
            "Not yet: this gives away more than needed. The errors of several readings rarely all "
            "go one way as far as they can."
        )
        return Feedback(FeedbackKind.WRONG, words, (MistakeKind.OTHER,))
    if abs(sure.decimals - value.decimals) > 1:
        words = "Right, but value and uncertainty should end at the same decimal."
        return Feedback(FeedbackKind.FIGURES, words)
    return Feedback(FeedbackKind.RIGHT, "Right.")


def _praise(question: Question, typed: int) -> Feedback:
    if remark := figures_remark(typed, question.number.figures):
        return Feedback(FeedbackKind.FIGURES, f"Right, but {remark}.")
    if question.number.figures == 1 and typed > 1:
        return Feedback(FeedbackKind.RIGHT, "Right. The readings bear one figure of it.")
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
        words = question.replies.get(next(iter(chosen), ""), "")
        return Feedback(FeedbackKind.WRONG, f"Not yet. {words or 'A hint may help.'}")
    missed, extra = question.right - chosen, chosen - question.right
    words = "Not yet:"
    if missed:
        words += f" {len(missed)} more belong{'s' if len(missed) == 1 else ''} to it"
    if extra:
        words += f"{' and' if missed else ''} {len(extra)} of these "
        words += f"do{'es' if len(extra) == 1 else ''} not"
        words += " belong to it" if not missed else ""
    # one reply only, so that the other candidates are still to be thought about
    first = next((n for n in question.choices if n in missed | extra and n in question.replies), "")
    return Feedback(
        FeedbackKind.WRONG, f"{words}. {question.replies.get(first, 'A hint may help.')}"
    )
