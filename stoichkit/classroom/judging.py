"""What each answer of one group is, judged against what follows from its own readings.

An answer is right where the answer key accepts it, which is as wide as the readings are: one
standard uncertainty of the measurement model, or one unit of the last figure that the readings
bear. A step is also right after an earlier error where it follows from the group's own earlier
answers. Nobody is asked for a step that comes out below zero.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from ..chemistry.elements import molar_mass_value
from ..decision.answers import AnswerLine, answer_lines
from ..decision.evidence import Evidence
from ..decision.formulas import tokens_of, worked_out
from ..decision.typed import (
    FACTORS,
    SAME,
    Mistake,
    figures_of,
    figures_remark,
    mistakes_of,
    percent_mistakes,
    ratio_mistakes,
    read_answer,
)
from ..decision.verdict import Reason, VerdictKind
from ..diagnosis.slips import SlipKind, suspects
from ..errors import ReadingError, StoichkitError
from ..experiments.parts import Trial
from ..text.wording import joined, magnitude
from ..uncertainty.readings import ErrorPool, Reading
from ..uncertainty.sources import nominal
from .conclusion import read_conclusion
from .handed_in import Answer
from .items import CONCLUSION, CONCLUSION_WORDS, MEAN, PERCENT, RATIO, Item, steps_of

_POWER = 1e-4
"""Two values whose quotient is this near to a power of ten differ by units alone."""
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


@dataclass(frozen=True, slots=True)
class _Own:
    """A value as the group has it: its own answer, or what follows from one."""

    value: float
    rounding: float = 0.0  # relative, half a unit of the last figure typed
    right: bool = True  # whether no earlier error is in it


@dataclass(frozen=True, slots=True)
class _Asked:
    """A number that is asked for, as the readings and as the group's own answers give it."""

    value: float
    half: float  # accepted on both sides
    figures: int
    unit: str
    answer: str
    own: _Own | None = None
    own_half: float = 0.0
    mistakes: tuple[Mistake, ...] = ()
    exact_mistakes: tuple[Mistake, ...] = ()  # to be met to the last figure


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
        self.own_amounts: list[tuple[_Own, _Own]] = []
        self.ratios: list[tuple[AnswerLine, _Own]] = []

    def judgements(self) -> Iterator[Judgement]:
        for trial in self.experiment.trials:
            yield from self._trial(trial)
        mean: _Own | None = None
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
        own_lines = [line for line in self.lines if line.trial == trial.name]
        asked = {id(line): key for key, line in steps_of(self.experiment, trial, own_lines)}
        readings = self._readings(trial)
        right: dict[str, float] = {}
        own: dict[str, _Own] = {}
        before: list[AnswerLine] = []
        for line in own_lines:
            key = asked.get(id(line), "")
            follows = self._follows(line, readings, right, own)
            if key not in self.items:
                found = None
            elif line.note:
                found = Judgement(key, trial.name, self._typed(trial.name, key),
                                  MarkKind.NOT_ASKED, words=line.note)  # fmt: skip
            else:
                mistakes = list(self._mistakes(key, line, before, own))
                exact = tuple(self._misread(line, trial, readings, right))
                question = _asked(line, follows, mistakes, exact)
                found, follows = self._number(key, trial.name, question)
            if found is not None:
                yield found
            right[line.symbol] = line.value
            own[line.symbol] = follows if follows is not None else _Own(line.value)
            if key == RATIO and not line.note:
                self.ratios.append((line, own[line.symbol]))
            before.append(line)
        models = self.experiment.consumed, self.experiment.produced
        amounts = [own.get(f"n({model.species})") for model in models]
        if amounts[0] is not None and amounts[1] is not None:
            self.own_amounts.append((amounts[0], amounts[1]))

    def _readings(self, trial: Trial) -> dict[str, float]:
        try:
            values = self.experiment.quantities(trial, ErrorPool())
        except StoichkitError:
            return {}
        return {name: nominal(value) for name, value in values.items()}

    def _typed(self, trial: str, key: str) -> str:
        answer = self.answers.get((trial, key))
        return answer.text if answer is not None else ""

    def _follows(
        self,
        line: AnswerLine,
        readings: Mapping[str, float],
        right: Mapping[str, float],
        own: Mapping[str, _Own],
    ) -> _Own | None:
        """Return what a step gives with the group's own earlier values; None if they are right."""
        used = [t.text for t in tokens_of(line.formula, readings, own) if t.text in own]
        if line.note or not used or all(own[name].value == right[name] for name in used):
            return None
        plain = worked_out(line.formula, readings, right)
        again = worked_out(line.formula, readings, {n: one.value for n, one in own.items()})
        if not plain or again is None or not line.value:
            return None
        power = math.log10(abs(line.value / plain))
        if abs(power - round(power)) > _POWER:  # not what the formula says in words
            return None
        rounding = sum(own[name].rounding for name in used)
        return _Own(again * 10.0 ** round(power), rounding, all(own[name].right for name in used))

    def _mistakes(
        self, key: str, line: AnswerLine, before: Sequence[AnswerLine], own: Mapping[str, _Own]
    ) -> Iterator[Mistake]:
        """Yield what known mistakes make of a step, from right and from own values."""
        as_own = [replace(o, value=own[o.symbol].value) for o in before]
        for earlier in (before, as_own):
            if key == RATIO:
                yield from self._ratio_mistakes(line, earlier)
            else:
                yield from mistakes_of(line, earlier)
                yield from _molar_mistakes(line, earlier)

    def _ratio_mistakes(self, line: AnswerLine, before: Sequence[AnswerLine]) -> Iterator[Mistake]:
        made, used = self.experiment.produced.species, self.experiment.consumed.species
        values = {one.symbol: one.value for one in before}
        a, b = values.get(f"n({used})", 0.0), values.get(f"n({made})", 0.0)
        ratio = replace(line, value=b / a if a else 0.0)
        masses = (values.get(f"m({one})", _NONE) for one in (made, used))
        yield from ratio_mistakes(ratio, *masses)

    def _misread(
        self,
        line: AnswerLine,
        trial: Trial,
        readings: Mapping[str, float],
        right: Mapping[str, float],
    ) -> Iterator[Mistake]:
        """Yield what comes of a reading alone, of readings added, or of two swapped."""
        tokens = tokens_of(line.formula, readings, right)
        names = [t.text for t in tokens if t.kind == "name"]
        if len(names) < 2 or "−" not in line.formula:
            return
        for name in names:
            words = f"This is the reading “{name}” itself; the {line.words} is {line.formula}."
            yield Mistake(readings[name], words)
        yield Mistake(
            sum(readings[name] for name in names),
            f"The readings were added; the {line.words} is {line.formula}.",
        )
        try:
            found = suspects(self.experiment, trial)
        except StoichkitError:
            return
        for suspect in found:
            if suspect.kind is not SlipKind.SWAPPED or not {*suspect.names} & {*names}:
                continue
            changed = dict(readings)
            for name, text in suspect.changes:
                changed[name] = float(text.replace(",", ".").replace("−", "-"))
            value = worked_out(line.formula, changed, right)
            if value is not None:
                both = joined([f"“{name}”" for name in suspect.names])
                yield Mistake(value, f"This comes of {both} in each other's place.")

    # A number

    def _number(self, key: str, trial: str, asked: _Asked) -> tuple[Judgement, _Own | None]:
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
        value = reading.value * factor
        kind, words = _kind(value, reading, asked, bare=not typed_unit)
        off = ""
        if kind in (MarkKind.RIGHT, MarkKind.CARRIED, MarkKind.UNIT):
            off = _figures_off(reading, asked, answer.zeros_lost)
        if off and kind is MarkKind.RIGHT:
            kind = MarkKind.FIGURES
        words = " ".join(filter(None, (words, off)))
        found = Judgement(key, trial, text, kind, asked.answer, words, bool(off))
        if kind is MarkKind.UNIT:  # the number is right, and goes on as it is
            return found, follows
        good = kind in (MarkKind.RIGHT, MarkKind.FIGURES)
        # what a step carries on is free of earlier errors only if it is right itself
        rounding = 0.5 * 10.0**-reading.decimals * factor / abs(value) if value else 0.0
        return found, _Own(value, min(rounding, 1.0), good)

    # What is asked once of a group

    def _mean(self) -> tuple[Judgement, _Own | None]:
        line = self.mean_line
        typed = self._typed("", MEAN)
        if line is None or line.note:
            words = line.note if line is not None else "A trial has no mole ratio."
            return Judgement(MEAN, "", typed, MarkKind.NOT_ASKED, words=words), None
        own: _Own | None = None
        mistakes: list[Mistake] = []
        amounts, ratios = self.own_amounts, [own for _, own in self.ratios]
        if len(amounts) == len(self.experiment.trials):
            a, b = (sum(pair[side].value for pair in amounts) for side in (0, 1))
            parts = [one for pair in amounts for one in pair]
            if a > 0:
                own = _Own(
                    b / a,
                    max((one.rounding for one in parts), default=0.0),
                    all(one.right for one in parts),
                )
                mistakes += ratio_mistakes(replace(line, value=b / a), _NONE, _NONE)
        asked = _asked(line, own, mistakes, ())
        found, follows = self._number(MEAN, "", asked)
        if len(ratios) == len(self.experiment.trials):
            mean = sum(one.value for one in ratios) / len(ratios)
            wrong = found.kind in (MarkKind.WRONG, MarkKind.MISTAKE)
            if wrong and not all(one.right for one in ratios):
                again = replace(asked, own=_Own(mean, 0.0, False), own_half=asked.half)
                found, follows = self._number(MEAN, "", again)
            elif wrong and found.kind is MarkKind.WRONG:
                words = (
                    "This is the mean of the ratios of the trials; divide the mean amounts, in "
                    "which a trial with more substance counts for more."
                )
                exact = (Mistake(mean, words),)
                found, follows = self._number(MEAN, "", replace(asked, mistakes=exact))
        return found, follows if follows is not None else _Own(line.value)

    def _conclusion(self, mean: _Own | None) -> Judgement:
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

    def _percent(self, mean: _Own | None) -> Judgement:
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
        self, line: AnswerLine, name: str, mean: _Own | None, *, compound: bool, right: bool
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

        figures = max(line.digits, 1)
        value = percent(line.value)
        u = abs(percent(line.value + line.standard_uncertainty) - value)
        places = max(figures - 1 - magnitude(value, figures), 0)
        half = max(u, 10.0**-places)
        own = None
        if mean is not None and mean.value != line.value:
            own = _Own(percent(mean.value), mean.rounding, mean.right)
        if not right:  # of the candidate that the group concluded on
            own = _Own(percent(line.value if mean is None else mean.value), 0.0, False)
            value, half = _NONE, 0.0
        own_half = 0.0 if own is None else max(u, 10.0**-places) + abs(own.value) * own.rounding
        answer = f"{percent(line.value):.{places}f} % ({name})"
        mistakes = tuple(percent_mistakes(percent(line.value), ratio)) if right else ()
        return _Asked(value, half, figures, "%", answer, own, own_half, mistakes)


_NAMING = (VerdictKind.SINGLED_OUT, VerdictKind.NOT_TOLD_APART)
_RANK = [
    MarkKind.RIGHT, MarkKind.FIGURES, MarkKind.CARRIED, MarkKind.UNIT, MarkKind.MISTAKE,
    MarkKind.WRONG, MarkKind.UNREAD, MarkKind.EMPTY, MarkKind.NOT_ASKED,
]  # fmt: skip
"""From best to worst, where an answer may be one of several."""


def _asked(
    line: AnswerLine, own: _Own | None, mistakes: Iterable[Mistake], exact: tuple[Mistake, ...]
) -> _Asked:
    """Return what is asked of a step, with the width that its readings have."""
    half = line.high - line.value
    own_half = half
    if own is not None and line.value:
        # the same relative uncertainty, or a unit of the last figure that counts at this size
        unit = 10.0 ** (magnitude(own.value, line.digits) + 1 - line.digits)
        u = line.standard_uncertainty * abs(own.value / line.value)
        own_half = max(u, unit) + abs(own.value) * own.rounding
    text = f"{line.answer or f'{line.value:.4g}'} {line.unit}".strip()
    return _Asked(
        line.value, half, line.digits, line.unit, text, own, own_half, tuple(mistakes), exact
    )


def _kind(value: float, reading: Reading, asked: _Asked, *, bare: bool) -> tuple[MarkKind, str]:
    """Say what a number is, and what to say about it."""
    if _within(value, asked.value, asked.half):
        return MarkKind.RIGHT, ""
    own = asked.own
    if own is not None and _within(value, own.value, asked.own_half):
        if own.right:
            return MarkKind.RIGHT, ""
        return MarkKind.CARRIED, "It follows from an earlier answer that was not right."
    if bare:
        for unit, factor in FACTORS.get(asked.unit, {}).items():
            again = value * factor
            if factor != 1 and (
                _within(again, asked.value, asked.half)
                or (own is not None and _within(again, own.value, asked.own_half))
            ):
                words = f"The number is right in {unit}; the answer is in {asked.unit}."
                return MarkKind.UNIT, words
    step = 0.5 * 10.0**-reading.decimals * (1 + 1e-9)
    close: list[tuple[float, str]] = []
    for mistake in asked.mistakes:
        near = max(SAME * abs(mistake.value), step)
        if abs(value - mistake.value) <= near and not _within(
            mistake.value, asked.value, asked.half
        ):
            close.append((abs(value - mistake.value), mistake.words))
    for mistake in asked.exact_mistakes:
        if abs(value - mistake.value) <= min(step, SAME * abs(mistake.value) + 1e-12):
            close.append((abs(value - mistake.value), mistake.words))
    if close:
        return MarkKind.MISTAKE, min(close, key=lambda pair: pair[0])[1]
    if math.isnan(asked.value):
        return MarkKind.WRONG, ""
    way = "larger" if value > asked.value else "smaller"
    return MarkKind.WRONG, f"It is {way} than what the readings give."


def _within(value: float, middle: float, half: float) -> bool:
    return abs(value - middle) <= half * (1 + 1e-9)


def _figures_off(reading: Reading, asked: _Asked, zeros_lost: bool) -> str:
    """Say that an answer has too many or too few figures; "" where it has not."""
    typed, wanted = figures_of(reading), asked.figures
    if zeros_lost and typed < wanted:
        return ""  # a spreadsheet that drops zeros cannot say how many were typed
    said = figures_remark(typed, wanted)
    return f"{said[:1].upper()}{said[1:]}." if said else ""


def _molar_mistakes(line: AnswerLine, before: Sequence[AnswerLine]) -> Iterator[Mistake]:
    """Yield what a wrong molar mass makes of an amount."""
    last = before[-2:]
    if line.unit != "mol" or [one.unit for one in last] != ["g", "g/mol"]:
        return
    mass, molar = last
    for wrong in mistakes_of(molar, ()):
        if wrong.value > 0:
            yield Mistake(mass.value / wrong.value, f"The molar mass is wrong: {wrong.words}")


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
