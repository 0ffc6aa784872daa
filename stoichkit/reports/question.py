"""One question of guided self-study, and what is said about an answer as typed."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from enum import StrEnum

from ..errors import ReadingError
from ..uncertainty import entry
from ..uncertainty.readings import Reading, parse_number

_UNIT = re.compile(r"^(.*?[0-9.,])\s*([A-Za-zµμ%°/·*⁻¹\- ]*[A-Za-z%])$")
_FRACTION = re.compile(r"([0-9]{1,4})\s*/\s*([1-9][0-9]{0,3})")
"""Read where figures are not asked for, as in 1/2 mol for one mole."""
_FACTORS = {
    "g": {"g": 1.0, "mg": 1e-3, "kg": 1e3},
    "mol": {"mol": 1.0, "mmol": 1e-3, "µmol": 1e-6, "umol": 1e-6},
    "mL": {"mL": 1.0, "ml": 1.0, "cm3": 1.0, "L": 1e3, "l": 1e3},
    "g/mol": {"g/mol": 1.0, "g mol-1": 1.0},
    "mol/L": {"mol/L": 1.0, "mol/l": 1.0, "M": 1.0},
    "kPa": {"kPa": 1.0, "Pa": 1e-3, "hPa": 0.1, "bar": 100.0},
    "K": {"K": 1.0},
    "C": {"C": 1.0, "As": 1.0, "A s": 1.0},
    "%": {"%": 1.0},
}
_SAME = 0.01
"""Answers this near to the value of a known mistake, relative, are taken for it."""
_GUARD_FIGURES = 2
"""More figures than this beyond what the readings give are pointed out."""


@dataclass(frozen=True, slots=True)
class Mistake:
    """A wrong value that a known mistake leads to, and what to check.

    Attributes
    ----------
    value : float
        In the unit of the question.
    words : str
    """

    value: float
    words: str


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
        reading, factor = _read(question, text)
    except ReadingError as error:
        return Feedback(FeedbackKind.UNREAD, str(error))
    return _check_number(question, reading, factor)


def _read(question: Question, text: str) -> tuple[Reading, float]:
    """Return the number, and the factor that its unit asks for."""
    plain = text.strip()
    if not question.figures and (share := _FRACTION.fullmatch(plain)):
        return parse_number(repr(int(share[1]) / int(share[2])), "answer"), 1.0
    found = _UNIT.fullmatch(plain)
    if found is None:
        return parse_number(plain, "answer"), 1.0
    number, unit = found[1], " ".join(found[2].split()).replace("μ", "µ")
    known = _FACTORS.get(question.unit, {question.unit: 1.0} if question.unit else {})
    if unit not in known:
        raise ReadingError(
            "The unit does not fit the question.",
            given=unit,
            allowed=", ".join(known) if known else "a number without a unit",
        )
    return parse_number(number, "answer"), known[unit]


def _figures_of(reading: Reading) -> int:
    """Count the significant figures that were typed; zeros in front do not count.

    >>> [_figures_of(parse_number(t)) for t in ("0.0120", "1.9e-3", "120", "0")]
    [3, 2, 3, 1]
    """
    mantissa = re.split("[eE]", reading.text.strip())[0]
    return max(len(re.sub("[^0-9]", "", mantissa).lstrip("0")), 1)


def _check_number(question: Question, reading: Reading, factor: float) -> Feedback:
    value = reading.value * factor
    slack = 1e-9 * max(abs(question.low), abs(question.high))
    if question.low - slack <= value <= question.high + slack:
        return _praise(question, _figures_of(reading))
    for mistake in question.mistakes:
        if abs(value - mistake.value) <= _SAME * abs(mistake.value):
            return Feedback(FeedbackKind.MISTAKE, f"Not yet. {mistake.words}")
    way = "larger" if value > question.high else "smaller"
    return Feedback(
        FeedbackKind.WRONG,
        f"Not yet: this is {way} than the answers accepted. A hint may help.",
    )


def _praise(question: Question, typed: int) -> Feedback:
    wanted = question.figures
    if wanted and typed > wanted + _GUARD_FIGURES:
        words = (
            f"Right, but {typed} figures claim more than the readings give: they support {wanted}."
        )
        return Feedback(FeedbackKind.FIGURES, words)
    if wanted and typed < wanted:
        words = f"Right, but the readings support {wanted} significant figures; you gave {typed}."
        return Feedback(FeedbackKind.FIGURES, words)
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
