"""What each answer of one group is, judged against what follows from its own readings.

An answer is right where the answer key accepts it (:mod:`stoichkit.decision.accepted`), as in
self-study. A step is also right after an earlier error where it follows from the group's own
earlier answers. Nobody is asked for a step that comes out below zero.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import partial

from ..chemistry.elements import molar_mass_value
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
from ..decision.answers import AnswerLine, answer_lines
from ..decision.evidence import Evidence
from ..decision.mistakes import Working, best, told
from ..decision.typed import FACTORS, Mistake, percent_mistakes, ratio_mistakes, read_answer
from ..decision.verdict import Reason, VerdictKind
from ..errors import ReadingError
from ..experiments.parts import Trial
from ..text.wording import joined, magnitude
from ..uncertainty.readings import Reading
from ..uncertainty.sources import nominal
from .conclusion import read_conclusion
from .handed_in import Answer
from .items import CONCLUSION, CONCLUSION_WORDS, MEAN, PERCENT, RATIO, Item, steps_of

_NONE = float("nan")


class MarkKind(StrEnum):
    """What an answer is."""

    RIGHT = "right"
    CARRIED = "right after an earlier error"
    FIGURES = "right, but not its figures"
    UNIT = "right in another unit"
    MISTAKE = "a known mistake"
    WRONG = "wrong"
    UNREAD = "not read"
    EMPTY = "empty"
    NOT_ASKED = "not asked"


@dataclass(frozen=True, slots=True)
class Judgement:
    """What one answer is.

    Attributes
    ----------
    item, trial : str
        Key of the item, and the trial; "" for what is asked once of a group.
    typed : str
        As typed; "" for nothing.
    kind : MarkKind
    answer : str
        The right answer, with its unit; "" where nothing is asked.
    words : str
        What to say about it; "" for nothing.
    figures_off : bool
        Whether it has too many or too few figures.
    """

    item: str
    trial: str
    typed: str
    kind: MarkKind
    answer: str = ""
    words: str = ""
    figures_off: bool = False


Reasons = Callable[[float, float], Sequence[Mistake]]
"""What gives a number that is not right, told to so much either way."""


@dataclass(frozen=True, slots=True)
class _Asked:
    """A number that is asked for, as the readings and as the group's own answers give it."""

    number: Accepted
    unit: str
    answer: str
    own: Own | None
    reasons: Reasons


def judged(
    evidence: Evidence, items: Sequence[Item], answers: Mapping[tuple[str, str], Answer]
) -> tuple[Judgement, ...]:
    """Judge the answers of one group.

    Parameters
    ----------
    evidence : Evidence
        What the readings of the group say.
    items : sequence of Item
        What is asked.
    answers : mapping of (trial, item) to Answer
        The trial is "" for what is asked once of the group.

    Examples
    --------
    >>> from stoichkit import assess, experiments
    >>> from stoichkit.classroom.items import items_of
    >>> lab = experiments.load("copper-silver")
    >>> typed = Answer("red", "bench 1", "m(Cu)", "120 mg", "row 2")
    >>> found = judged(assess(lab), items_of(lab), {("bench 1", "m(Cu)"): typed})
    >>> found[0].kind.value, found[0].answer, found[1].kind.value
    ('right', '0.12 g', 'empty')
    """
    return tuple(_Group(evidence, items, answers).judgements())


class _Group:
    """The answers of one group while they are judged."""

    def __init__(
        self, evidence: Evidence, items: Sequence[Item], answers: Mapping[tuple[str, str], Answer]
    ) -> None:
        self.evidence, self.experiment = evidence, evidence.experiment
        self.items = {item.key: item for item in items}
        self.answers = answers
        self.lines = answer_lines(self.experiment)
        names = [trial.name for trial in self.experiment.trials]
        self.mean_line = next((o for o in reversed(self.lines) if o.trial not in names), None)
        self.own_amounts: list[tuple[Own, Own]] = []
        self.ratios: list[tuple[AnswerLine, Own]] = []

    def judgements(self) -> Iterator[Judgement]:
        for trial in self.experiment.trials:
            yield from self._trial(trial)
        mean: Own | None = None
        if MEAN in self.items and len(self.experiment.trials) > 1:
            found, mean = self._mean()
            yield found
        elif len(self.ratios) == 1:
            mean = self.ratios[0][1]
        if CONCLUSION in self.items:
            yield self._conclusion(mean)
        if PERCENT in self.items:
            yield self._percent(mean)

    # The steps of a trial

    def _trial(self, trial: Trial) -> Iterator[Judgement]:
        lines = [line for line in self.lines if line.trial == trial.name]
        asked = {id(line): key for key, line in steps_of(self.experiment, trial, lines)}
        if not asked:  # its readings cannot be used
            return
        working = Working(self.experiment, trial, lines)
        typed: dict[int, Own] = {}
        own: dict[str, Own] = {}
        for at, line in enumerate(lines):
            key = asked.get(id(line), "")
            follows = working.follows(at, typed)
            own[line.symbol] = follows or Own(line.value)
            if key in self.items and line.note:
                words = self._typed(trial.name, key)
                yield Judgement(key, trial.name, words, MarkKind.NOT_ASKED, words=line.note)
            elif key in self.items:
                reasons = partial(self._reasons, working, at, typed)
                question = _Asked(line.accepted, line.unit, _answer(line), follows, reasons)
                found, given = self._number(key, trial.name, question)
                yield found
                if given is not None and given is not follows:
                    typed[at] = own[line.symbol] = given
            if key == RATIO and not line.note:
                self.ratios.append((line, own[line.symbol]))
        models = self.experiment.consumed, self.experiment.produced
        amounts = [own.get(f"n({model.species})") for model in models]
        if amounts[0] is not None and amounts[1] is not None:
            self.own_amounts.append((amounts[0], amounts[1]))

    def _reasons(
        self, working: Working, at: int, typed: Mapping[int, Own], value: float, half: float
    ) -> Sequence[Mistake]:
        """Return what gives a number that is not right, from right and then from own values."""
        found = working.reasons(at, value, half)
        if found or not typed:
            return found
        lines = [
            line if (own := typed.get(i) or working.follows(i, typed)) is None or i >= at
            else replace(line, value=own.value)
            for i, line in enumerate(link.line for link in working.links[: at + 1])
        ]  # fmt: skip
        if (own := working.follows(at, typed)) is None:
            return ()
        lines[at] = replace(lines[at], value=own.value)
        return Working(self.experiment, working.trial, lines).reasons(at, value, half)

    def _typed(self, trial: str, key: str) -> str:
        answer = self.answers.get((trial, key))
        return answer.text if answer is not None else ""

    # A number

    def _number(self, key: str, trial: str, asked: _Asked) -> tuple[Judgement, Own | None]:
        """Judge a number; return also what the group goes on with."""
        answer = self.answers.get((trial, key))
        follows = asked.own
        if answer is None or not answer.text.strip():
            return Judgement(key, trial, "", MarkKind.EMPTY, asked.answer), follows
        text = answer.text
        unit = answer.unit or asked.unit
        try:
            reading, factor, typed_unit = read_answer(text, asked.unit)
        except ReadingError as error:
            words = str(error)
            return Judgement(key, trial, text, MarkKind.UNREAD, asked.answer, words), follows
        if not typed_unit and unit != asked.unit:
            factor, typed_unit = FACTORS[asked.unit][unit], unit
        kind, words = _kind(reading, factor, asked, bare=not typed_unit)
        off = ""
        if kind in (MarkKind.RIGHT, MarkKind.CARRIED, MarkKind.UNIT):
            off = _figures_off(reading, asked, answer.zeros_lost)
        if off and kind is MarkKind.RIGHT:
            kind = MarkKind.FIGURES
        words = " ".join(filter(None, (words, off)))
        found = Judgement(key, trial, text, kind, asked.answer, words, bool(off))
        if kind is MarkKind.UNIT:  # the number is right, and goes on as it is
            return found, follows
        # what a step carries on is free of earlier errors only if it is right itself
        good = kind in (MarkKind.RIGHT, MarkKind.FIGURES)
        return found, own_of(reading, factor, right=good)

    # What is asked once of a group

    def _mean(self) -> tuple[Judgement, Own | None]:
        line = self.mean_line
        typed = self._typed("", MEAN)
        if line is None or line.note:
            words = line.note if line is not None else "A trial has no mole ratio."
            return Judgement(MEAN, "", typed, MarkKind.NOT_ASKED, words=words), None
        own: Own | None = None
        value = line.value
        amounts, ratios = self.own_amounts, [own for _, own in self.ratios]
        if len(amounts) == len(self.experiment.trials):
            a, b = (sum(pair[side].value for pair in amounts) for side in (0, 1))
            parts = [one for pair in amounts for one in pair]
            if a > 0:
                rounding = max(one.rounding for one in parts)
                own = Own(b / a, rounding, all(one.right for one in parts))
                value = b / a
        mistakes = [*ratio_mistakes(replace(line, value=value), _NONE, _NONE)]
        mean = _NONE
        if len(ratios) == len(self.experiment.trials):
            mean = sum(one.value for one in ratios) / len(ratios)
            words = (
                "This is the mean of the ratios of the trials; divide the mean amounts, in "
                "which a trial with more substance counts for more."
            )
            mistakes.append(Mistake(mean, words))
        asked = _Asked(line.accepted, "", _answer(line), own, _known(line.accepted, mistakes))
        found, follows = self._number(MEAN, "", asked)
        wrong = found.kind in (MarkKind.WRONG, MarkKind.MISTAKE)
        if wrong and not all(one.right for one in ratios) and math.isfinite(mean):
            again = replace(asked, own=Own(mean, right=False))
            found, follows = self._number(MEAN, "", again)
        return found, follows if follows is not None else Own(line.value)

    def _conclusion(self, mean: Own | None) -> Judgement:
        verdict, typed = self.evidence.verdict, self._typed("", CONCLUSION)
        if verdict.reason is Reason.BELOW_ZERO:
            words = "An amount comes out below zero, so these readings cannot be judged."
            return Judgement(CONCLUSION, "", typed, MarkKind.NOT_ASKED, words=words)
        answer = _verdict_words(verdict.kind, verdict.candidates, verdict.reason)
        if not typed.strip():
            return Judgement(CONCLUSION, "", "", MarkKind.EMPTY, answer)
        names = tuple(self.evidence.candidates)
        found = read_conclusion(typed, names)
        if found.kind is None:
            words = f"It does not say which candidates are left. Allowed: {CONCLUSION_WORDS}."
            return Judgement(CONCLUSION, "", typed, MarkKind.UNREAD, answer, words)

        def says(kind: VerdictKind, left: Iterable[str]) -> bool:
            everything = kind is VerdictKind.NOT_TOLD_APART and not found.names
            named = {*left} == ({*names} if everything else found.names)
            return found.kind is kind and (named or kind not in _NAMING)

        nothing = verdict.reason is Reason.NOTHING_REACTED
        right = found.nothing_reacted if nothing else says(verdict.kind, verdict.candidates)
        if found.nearest:
            words = (
                "Some candidate is always the nearest. Say whether the readings exclude the "
                f"others: they {answer}."
            )
            return Judgement(CONCLUSION, "", typed, MarkKind.MISTAKE, answer, words)
        if right and not (found.nothing_reacted and not nothing):
            return Judgement(CONCLUSION, "", typed, MarkKind.RIGHT, answer)
        if mean is not None and not mean.right and mean.value > 0:
            kind, left = self._verdict_at(mean.value)
            if says(kind, left):
                words = f"It follows from the ratio of this group, {mean.value:.3g}."
                return Judgement(CONCLUSION, "", typed, MarkKind.CARRIED, answer, words)
        claimed_more = (
            found.kind is VerdictKind.SINGLED_OUT and verdict.kind is VerdictKind.NOT_TOLD_APART
        )
        if claimed_more and found.names <= {*verdict.candidates}:
            words = f"The readings do not go so far: they {answer}."
            return Judgement(CONCLUSION, "", typed, MarkKind.MISTAKE, answer, words)
        return Judgement(CONCLUSION, "", typed, MarkKind.WRONG, answer, f"They {answer}.")

    def _verdict_at(self, ratio: float) -> tuple[VerdictKind, tuple[str, ...]]:
        """Return what readings as wide as these would say at another mole ratio."""
        measured = self._ratio()
        scale = ratio / measured if measured > 0 else 1.0
        low, high = self.experiment.recovery
        pieces = self.evidence.ratio_set.intervals
        left = tuple(
            name
            for name, one in self.evidence.candidates.items()
            if any(
                low * one.ratio / scale <= piece.high and high * one.ratio / scale >= piece.low
                for piece in pieces
            )
        )
        if not left:
            return VerdictKind.NONE_FITS, ()
        kind = VerdictKind.SINGLED_OUT if len(left) == 1 else VerdictKind.NOT_TOLD_APART
        return kind, left

    def _ratio(self) -> float:
        a, b = nominal(self.evidence.n_consumed), nominal(self.evidence.n_produced)
        return b / a if a > 0 else _NONE

    def _percent(self, mean: Own | None) -> Judgement:
        line = self.mean_line or (self.ratios[0][0] if len(self.ratios) == 1 else None)
        typed = self._typed("", PERCENT)
        verdict = self.evidence.verdict
        if line is None or line.note or verdict.kind is VerdictKind.CANNOT_BE_JUDGED:
            words = "There is no yield, since these readings cannot be judged."
            return Judgement(PERCENT, "", typed, MarkKind.NOT_ASKED, words=words)
        names = tuple(self.evidence.candidates)
        fitting = verdict.candidates or (self.evidence.nearest.name,)
        concluded = read_conclusion(self._typed("", CONCLUSION), names).names
        named = tuple(n for n in concluded if n not in fitting) if len(concluded) == 1 else ()
        best: Judgement | None = None
        for name in (*fitting, *named):
            right = name in fitting
            for compound in (False, True):
                asked = self._yield_asked(line, name, mean, compound=compound, right=right)
                if asked is None:
                    continue
                found, _ = self._number(PERCENT, "", asked)
                if best is None or _RANK.index(found.kind) < _RANK.index(best.kind):
                    best = found
        assert best is not None
        return best

    def _yield_asked(
        self, line: AnswerLine, name: str, mean: Own | None, *, compound: bool, right: bool
    ) -> _Asked | None:
        """Return what is asked of the yield of a candidate, or of the compound it is part of."""
        ratio = float(self.evidence.candidates[name].candidate.ratio)
        situation = self.experiment.produced.situation(self.experiment.setting("produced"))
        if compound and "element taken up" not in situation:
            return None
        full = 0.0
        if compound:
            made, used = self.experiment.produced.species, self.experiment.consumed.species
            full = ratio * molar_mass_value(made) / molar_mass_value(used)

        def percent(r: float) -> float:
            part = r / ratio
            return 100 * ((1 + full * part) / (1 + full) if compound else part)

        figures = min(max(line.digits, 1), 3)
        value = percent(line.value)
        places = max(figures - 1 - magnitude(value, figures), 0)
        number, own = Accepted.of(value, figures), None
        if mean is not None and mean.value != line.value:
            own = replace(mean, value=percent(mean.value))
        if not right:  # of the candidate that the group concluded on
            own = Own(percent(line.value) if own is None else own.value, right=False)
            number = Accepted(figures=figures)
        mistakes = tuple(percent_mistakes(value, ratio)) if right else ()
        answer = f"{value:.{places}f} % ({name})"
        return _Asked(number, "%", answer, own, _known(number, mistakes))


_NAMING = (VerdictKind.SINGLED_OUT, VerdictKind.NOT_TOLD_APART)
_RANK = [
    MarkKind.RIGHT, MarkKind.FIGURES, MarkKind.CARRIED, MarkKind.UNIT, MarkKind.MISTAKE,
    MarkKind.WRONG, MarkKind.UNREAD, MarkKind.EMPTY, MarkKind.NOT_ASKED,
]  # fmt: skip
"""From best to worst, where an answer may be one of several."""


def _answer(line: AnswerLine) -> str:
    return f"{line.answer or f'{line.value:.4g}'} {line.unit}".strip()


def _known(number: Accepted, mistakes: Sequence[Mistake]) -> Reasons:
    """Return how to find a known mistake whose value is not accepted."""
    wrong = tuple(enumerate(one for one in mistakes if not number.holds(one.value)))
    return partial(best, wrong)


def _kind(reading: Reading, factor: float, asked: _Asked, *, bare: bool) -> tuple[MarkKind, str]:
    """Say what a number is, and what to say about it."""
    fit = asked.number.fit(reading, factor, asked.own)
    if fit is Fit.RIGHT:
        return MarkKind.RIGHT, ""
    if fit is Fit.CARRIED:
        return MarkKind.CARRIED, "It follows from an earlier answer that was not right."
    if bare:
        for unit, size in FACTORS.get(asked.unit, {}).items():
            again = asked.number.fit(reading, factor * size, asked.own)
            if size != 1 and again in (Fit.RIGHT, Fit.CARRIED):
                words = f"The number is right in {unit}; the answer is in {asked.unit}."
                return MarkKind.UNIT, words
    if fit is Fit.FEW:
        return MarkKind.WRONG, too_few(figures_of(reading), asked.number.figures)
    value = reading.value * factor
    if found := asked.reasons(value, half_unit(reading, factor)):
        return MarkKind.MISTAKE, told(found)
    if math.isnan(asked.number.value):
        return MarkKind.WRONG, ""
    way = "larger" if value > asked.number.value else "smaller"
    return MarkKind.WRONG, f"It is {way} than what the readings give."


def _figures_off(reading: Reading, asked: _Asked, zeros_lost: bool) -> str:
    """Say that an answer has too many or too few figures; "" where it has not."""
    typed, wanted = figures_of(reading), asked.number.figures
    if zeros_lost and typed < wanted:
        return ""  # a spreadsheet that drops zeros cannot say how many were typed
    said = figures_remark(typed, wanted)
    return f"{said[:1].upper()}{said[1:]}." if said else ""


def _verdict_words(kind: VerdictKind, names: Sequence[str], reason: Reason | None) -> str:
    """Write a conclusion as it is asked for.

    >>> _verdict_words(VerdictKind.NOT_TOLD_APART, ["a", "b", "c"], None)
    'cannot tell a, b and c apart'
    """
    if reason is Reason.NOTHING_REACTED:
        return "do not show that anything reacted"
    if kind is VerdictKind.SINGLED_OUT:
        return f"single out {names[0]}"
    if kind is VerdictKind.NOT_TOLD_APART:
        if len(names) == 2:
            return f"cannot tell {names[0]} from {names[1]}"
        return f"cannot tell {joined(list(names))} apart"
    return "fit none of the candidates" if kind is VerdictKind.NONE_FITS else "cannot be judged"
