"""Guided self-study: questions about one lab, from raw readings to the verdict.

Every answer, and every value that a known mistake leads to, is calculated by the library from the
readings of the experiment; nothing is typed in. The known mistakes are common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from decimal import Decimal

from ..chemistry.elements import atomic_weight_value
from ..chemistry.formula import parse_formula
from ..decision.accepted import Accepted
from ..decision.answers import AnswerLine, answer_lines
from ..decision.evidence import CandidateEvidence, Evidence, assess
from ..decision.formulas import tokens_of
from ..decision.mistakes import FOUND_OF_REQUIRED, REQUIRED, Working
from ..decision.sentences import ratio_sentence
from ..decision.statement import reason_sentences, verdict_sentences
from ..decision.typed import Mistake, MistakeKind
from ..decision.verdict import Reason, VerdictKind
from ..errors import ExperimentError, StoichkitError
from ..experiments.checks import read_value
from ..experiments.parts import Trial
from ..experiments.record import Experiment
from ..text.wording import joined, p_clause, species_text, symbol
from ..uncertainty.readings import parse_number
from .figures import written
from .question import Question

_SURE = (0.6, 3.5)
"""Uncertainties accepted, in standard uncertainties: from one rounded down to all at their ends.

With four display readings that enter alike the ends lie at √12 = 3.5 standard uncertainties.
"""


def _answer_text(line: AnswerLine) -> str:
    """Write the answer to a step with its unit."""
    text = line.answer or f"{line.value:.6g}"
    return f"{text} {line.unit}".strip()


def _last_place(value: float, figures: int) -> int:
    """Return the decimals that so many figures leave."""
    return figures - 1 - Decimal(repr(value)).adjusted()


def _rounded(value: float, figures: int) -> str:
    """Write a value with so many significant figures, whole numbers without a power of ten."""
    return written(value, max(_last_place(value, figures), 0))


def _shown(value: float, figures: int, unit: str) -> str:
    """Write an answer; where it has more digits than the readings bear, also with theirs."""
    text = f"{_rounded(value, figures)} {unit}".strip()
    if _last_place(value, figures) >= 0:
        return text
    return f"{text} ≈ {written(value, _last_place(value, figures))} {unit}".strip()


def _apart(question: Question) -> Question:
    """Keep the mistakes that are not accepted as right."""
    kept = (one for one in question.mistakes if not question.number.holds(one.value))
    return replace(question, mistakes=tuple(kept))


_CONCLUSIONS: dict[VerdictKind | Reason, str] = {
    VerdictKind.SINGLED_OUT: "the readings single out one candidate",
    VerdictKind.NOT_TOLD_APART: "the readings cannot tell some candidates apart",
    VerdictKind.NONE_FITS: "the readings fit none of the candidates",
    VerdictKind.CANNOT_BE_JUDGED: "the readings cannot be judged",
    Reason.NOTHING_REACTED: "nothing shows that anything reacted",
}


def lesson(experiment: Experiment) -> tuple[Question, ...]:
    """Return guided questions about a lab, in the order in which they are answered.

    Parameters
    ----------
    experiment : Experiment
        With readings of at least one trial that can be calculated; the first such is used for
        the steps, all of them for the verdict.

    Returns
    -------
    tuple of Question
        The steps to both amounts and the mole ratio, what a candidate requires, expected amount
        and percent yield, the effect of one display step, and the verdict.

    Raises
    ------
    ExperimentError
        If no trial can be calculated, or too few to reach a verdict.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> for question in lesson(experiments.load("copper-silver"))[:3]:
    ...     print(question.words, "->", question.answer)
    What is the mass of Cu in trial bench 1, in g? -> 0.12 g
    What is the molar mass of Cu, in g/mol? -> 63.546 g/mol
    What is the amount of Cu in trial bench 1, in mol? -> 0.0019 mol
    """
    evidence = assess(experiment)
    lines = answer_lines(experiment)
    for trial in experiment.trials:
        own = [line for line in lines if line.trial == trial.name]
        if own and not any(line.note for line in own):
            required = float(evidence.nearest.candidate.ratio)
            course = _Course(evidence, trial, own, Working(experiment, trial, own, required))
            asked = (*course.steps(), *course.candidate(), *course.resolution())
            return (*map(_apart, asked), *_verdict(evidence))
    raise ExperimentError(
        "No trial has a mole ratio to work on.",
        given=experiment.title,
        fix="Check which reading is subtracted from which.",
    )


@dataclass(frozen=True, slots=True)
class _Course:
    """The questions about one trial."""

    evidence: Evidence
    trial: Trial
    lines: list[AnswerLine]
    working: Working

    @property
    def experiment(self) -> Experiment:
        return self.evidence.experiment

    @property
    def ratio(self) -> AnswerLine:
        return self.lines[-1]

    def amount_mol(self, species: str) -> float:
        return next(line.value for line in self.lines if line.symbol == f"n({species})")

    # From the readings to the mole ratio

    def steps(self) -> Iterator[Question]:
        for line in self.lines[:-1]:
            table = not line.digits
            if line.formula in self._readings() or (table and line.unit != "g/mol"):
                continue  # read or given, not calculated
            where = "" if table else f" in trial {self.trial.name}"
            topic = "Consumed" if self._is_consumed(line) else "Produced"
            yield Question(
                key=f"step {line.symbol} {topic.lower()}",
                topic=topic,
                words=f"What is the {self._said(line)}{where}, in {line.unit}?",
                answer=_answer_text(line),
                hints=tuple(self._hints(line)),
                unit=line.unit,
                number=line.accepted,
                working=self.working,
                symbol=line.symbol,
            )
        yield self._ratio_question()

    @staticmethod
    def _said(line: AnswerLine) -> str:
        """Return what a step is, its substance with the signs that it is written with."""
        species = line.symbol[2:-1]
        if species and line.words.endswith(f" of {species}"):
            return f"{line.words.removesuffix(species)}{species_text(species)}"
        return line.words

    def _is_consumed(self, line: AnswerLine) -> bool:
        last = f"n({self.experiment.consumed.species})"
        names = [one.symbol for one in self.lines]
        return self.lines.index(line) <= names.index(last)

    def _hints(self, line: AnswerLine) -> Iterator[str]:
        if line.unit == "g/mol":
            yield "Add the atomic weights, each as often as the formula has that atom."
            species = line.symbol[2:-1]
            counts = parse_formula(species).composition
            parts = [f"{n} × {atomic_weight_value(s):.3f}" for s, n in counts]
            yield f"{species_text(species)}: {' + '.join(parts)} g/mol."
            return
        if not line.formula:
            yield "This value is given with the experiment or stands in a table; look it up there."
            yield f"It is {line.value:.4g} {line.unit}."
            return
        yield f"It is {line.formula}."
        values = {one.symbol: f"{one.value:.5g} {one.unit}" for one in self.lines}
        roles = {role.name: role for role in self.experiment.roles()}
        readings = {n: read_value(roles[n], t).text for n, t in self._readings().items()}
        known = {**readings, **values}
        used = {t.text for t in tokens_of(line.formula, readings, values)}
        shown = [f"{name} = {text}" for name, text in known.items() if name in used]
        yield f"{'; '.join(shown)}." if shown else f"The result is near {line.value:.2g}."

    def _readings(self) -> dict[str, tuple[str, ...]]:
        return {**self.experiment.shared_readings, **self.trial.readings}

    def _ratio_question(self) -> Question:
        line = self.ratio
        consumed, produced = self.experiment.consumed.species, self.experiment.produced.species
        return Question(
            key="ratio",
            topic="Mole ratio",
            words=f"What is the mole ratio {symbol(produced)} / {symbol(consumed)} of this trial?",
            answer=_answer_text(line),
            hints=(
                "Divide the amount produced by the amount consumed, both in mol and unrounded.",
                f"{self.amount_mol(produced):.5g} mol / {self.amount_mol(consumed):.5g} mol.",
            ),
            number=line.accepted,
            working=self.working,
            symbol=line.symbol,
        )

    # What a candidate requires

    def candidate(self) -> Iterator[Question]:
        tested = self.evidence.nearest
        consumed, produced = self.experiment.consumed.species, self.experiment.produced.species
        ratio = tested.candidate.ratio
        yield Question(
            key="required ratio",
            topic="What a candidate requires",
            words=(
                f"Taking {tested.name} as true: how many moles of {species_text(produced)} "
                f"belong to one mole of {species_text(consumed)}?"
            ),
            answer=f"{ratio}" if ratio.denominator == 1 else f"{ratio} = {float(ratio):.4g}",
            hints=(
                "Write the balanced equation, or count the charges that are exchanged, and "
                "compare the coefficients.",
                tested.candidate.equation or f"The coefficients stand as {ratio} to 1.",
            ),
            number=Accepted(
                value=float(ratio), low=0.995 * float(ratio), high=1.005 * float(ratio)
            ),
            mistakes=(
                Mistake(
                    1 / float(ratio),
                    "This is upside down: ask for one mole consumed.",
                    MistakeKind.INVERTED,
                ),
                Mistake(
                    self.ratio.value,
                    "This is what the readings give; the question is what the candidate requires.",
                    MistakeKind.OTHER_STEP,
                ),
                *(
                    Mistake(
                        float(one.candidate.ratio),
                        f"This is what {one.name} requires.",
                        MistakeKind.CANDIDATE,
                    )
                    for one in self.evidence.candidates.values()
                    if one.candidate.ratio != ratio
                ),
                Mistake(2 * float(ratio), "This is twice what it should be.", MistakeKind.TWICE),
                Mistake(float(ratio) / 2, "This is half what it should be.", MistakeKind.TWICE),
            ),
            symbol="ν",
        )
        a, b = self.amount_mol(consumed), self.amount_mol(produced)
        if not b:  # of nothing there is no percentage
            return
        expected, unit = float(ratio) * a, "mol"
        masses = {o.symbol: o for o in self.lines if o.unit == "g/mol"}
        molar = masses.get(f"M({produced})")
        if molar is not None:
            expected, unit = expected * molar.value, "g"
        digits = next(one.digits for one in self.lines if one.symbol == f"n({consumed})")
        figures = min(digits or 4, 4)
        yield Question(
            key="expected",
            topic="What a candidate requires",
            words=(
                f"How many {unit} of {species_text(produced)} does {tested.name} require from the "
                f"{species_text(consumed)} of this trial?"
            ),
            answer=_shown(expected, figures, unit),
            hints=(
                f"Multiply the amount of {species_text(consumed)} by the mole ratio required"
                + (", then by the molar mass." if unit == "g" else "."),
                f"{a:.5g} mol × {ratio}" + (f" × {molar.value:.5g} g/mol." if molar else "."),
            ),
            unit=unit,
            number=Accepted.of(expected, figures),
            working=self.working if self._asks(REQUIRED, unit) else None,
            symbol=REQUIRED,
        )
        yield self._percent(tested.name, float(ratio), a, b)

    def _percent(self, name: str, ratio: float, a: float, b: float) -> Question:
        produced = species_text(self.experiment.produced.species)
        value, figures = 100 * b / (ratio * a), min(self.ratio.digits, 3)
        return Question(
            key="percent",
            topic="What a candidate requires",
            words=f"What percentage of the {produced} that {name} requires was found?"
            + (" The readings bear one figure of it." if figures == 1 else ""),
            answer=_shown(value, figures, "%"),
            hints=(
                "Found divided by required, times 100 %.",
                f"100 % × {b:.5g} mol / ({ratio:.4g} × {a:.5g} mol).",
            ),
            unit="%",
            number=Accepted.of(value, figures),
            working=self.working if self._asks(FOUND_OF_REQUIRED, "%") else None,
            symbol=FOUND_OF_REQUIRED,
        )

    def _asks(self, symbol: str, unit: str) -> bool:
        """Whether the calculation has a step in this unit."""
        return any(o.symbol == symbol and o.line.unit == unit for o in self.working.links)

    # What one display step does

    def resolution(self) -> Iterator[Question]:
        changes = {
            name: found
            for name in self.trial.readings
            if (found := self._shifted(name, 1)) is not None and found[1]
        }
        if changes and self.ratio.value > 0:
            name, (step, change) = max(changes.items(), key=lambda item: abs(item[1][1]))
            yield self._display_step(name, step, change)
        if self.ratio.value > 0:
            yield self._how_sure()

    def _display_step(self, name: str, step: Decimal, change: float) -> Question:
        lowered = self._shifted(name, -1)
        changed = [change] if lowered is None or not lowered[1] else [change, lowered[1]]
        sizes = [abs(one) for one in changed]
        size, ratio = abs(change), self.ratio.value
        role = next(r for r in self.experiment.roles() if r.name == name)
        return Question(
            key="display step",
            topic="What the instruments can resolve",
            words=(
                f"By how much would the mole ratio of this trial change if “{name}” differed by "
                f"one in its last digit ({step} {role.unit})? Give the size of the change."
            ),
            answer=f"{size:.2g}",
            hints=(
                "Work the ratio out again with the changed reading, and subtract.",
                f"The ratio was {ratio:.4g}; with the last digit of “{name}” raised "
                f"by one it is {ratio + change:.4g}.",
            ),
            number=Accepted(
                value=size, low=0.9 * size, high=1.1 * size, also=tuple(sizes[1:])
            ),
            mistakes=(
                *(
                    Mistake(
                        ratio + one,
                        "This is the new ratio: subtract the old.",
                        MistakeKind.OTHER_STEP,
                    )
                    for one in changed
                ),
                Mistake(ratio, "This is the old ratio.", MistakeKind.OTHER_STEP),
                *(
                    Mistake(
                        100 * one / ratio,
                        "This is the change in percent; the question is for its size.",
                        MistakeKind.FRACTION,
                    )
                    for one in sizes
                ),
                *(
                    Mistake(
                        one / ratio,
                        "This is the change divided by the ratio; the question is for its size.",
                        MistakeKind.FRACTION,
                    )
                    for one in sizes
                ),
                Mistake(
                    float(step),
                    f"This is the change of the reading, in {role.unit}; work out what it does to "
                    "the ratio.",
                    MistakeKind.OTHER_STEP,
                ),
                *(
                    Mistake(
                        10.0**power * one, "The decimal mark slipped by one place.",
                        MistakeKind.DECIMAL,
                    )
                    for power in (1, -1)
                    for one in sizes
                ),
            ),
        )  # fmt: skip

    def _how_sure(self) -> Question:
        value, u = self.ratio.value, self.ratio.standard_uncertainty
        place = max(1 - Decimal(repr(u)).adjusted(), 0)
        return Question(
            key="how sure",
            topic="What the instruments can resolve",
            words=(
                "How sure is the mole ratio of this trial? Write it as value ± uncertainty: what "
                "its readings leave open, by the steps and the repeatability of the instruments."
            ),
            answer=f"{value:.{place}f} ± {u:.{place}f}",
            hints=(
                "See how far the ratio moves for half a step of each reading, square these, add "
                "them and take the root; one that holds everything is at most the plain sum.",
                f"The standard uncertainty is near {100 * u / value:.2g} % of the ratio.",
            ),
            number=self.ratio.accepted,
            uncertainty=(_SURE[0] * u, _SURE[1] * u),
            working=self.working,
            symbol=self.ratio.symbol,
        )

    def _shifted(self, name: str, by: int) -> tuple[Decimal, float] | None:
        """Return the last digit's worth of a reading, and what it changes the ratio by."""
        readings = [parse_number(text, name) for text in self.trial.readings[name]]
        step = Decimal(1).scaleb(-readings[-1].decimals)
        # a mean moves with all of them; of a series the last counts alone
        moved = [str(Decimal(repr(one.value)) + by * step) for one in readings]
        try:
            alone = self.experiment.with_trials([self.trial])
            changed = alone.with_reading(self.trial.name, name, moved)
            line = next(o for o in answer_lines(changed) if o.symbol == "r")
        except (StoichkitError, StopIteration):
            return None
        return None if line.note else (step, line.value - self.ratio.value)


def _verdict(evidence: Evidence) -> Iterator[Question]:
    tested = list(evidence.candidates.values())
    level = f"{100 * evidence.coverage:g} %"
    asked = "Which candidates do the readings exclude"
    if evidence.verdict.kind is VerdictKind.CANNOT_BE_JUDGED:
        asked = "Which candidates would the readings exclude as they stand"
    required = "; ".join(f"{c.name} {c.candidate.ratio}" for c in tested)
    excluded = [c.name for c in tested if not c.compatible]
    yield Question(
        key="excluded",
        topic="The verdict",
        words=(
            f"All trials together: {ratio_sentence(evidence)} The candidates require: {required}. "
            f"{asked} at {level} coverage?"
        ),
        answer=joined(excluded) if excluded else "none",
        hints=(
            "A candidate is excluded when the ratio it requires is not among those that fit.",
            "; ".join(f"{c.name}: {p_clause(c.p_value, evidence.coverage)}" for c in tested)
            + f". Below {1 - evidence.coverage:.4g} is excluded.",
        ),
        choices=tuple(c.name for c in tested),
        right=frozenset(excluded),
        several=True,
        replies={c.name: _standing_reply(evidence, c) for c in tested},
    )
    verdict, kept = evidence.verdict, len(tested) - len(excluded)
    hints = (
        "Count the candidates that are not excluded. That one of them is the nearest does not "
        "count.",
        f"Not excluded: {kept}.",
    )
    said: VerdictKind | Reason = verdict.kind
    if verdict.reason is not None:
        hints = (
            "Before the candidates are counted: did both amounts come out above zero, and had "
            "every mass become constant?",
            reason_sentences(verdict),
        )
        said = verdict.reason if verdict.reason in _CONCLUSIONS else verdict.kind
    yield Question(
        key="conclusion",
        topic="The verdict",
        words="What may you conclude from that?",
        answer=verdict_sentences(evidence),
        hints=hints,
        choices=tuple(_CONCLUSIONS.values()),
        right=frozenset({_CONCLUSIONS[said]}),
        replies=_conclusion_replies(evidence, said),
    )


def _standing_reply(evidence: Evidence, tested: CandidateEvidence) -> str:
    """Say why a candidate is excluded, or is not."""
    found = evidence.ratio_set
    if not math.isfinite(found.low):
        return "No ratio fits these readings, so that none is left."
    high = "without end" if math.isinf(found.high) else f"to {found.high:.3g}"
    fitting = f"those that fit, from {found.low:.3g} {high}"
    requires = f"{tested.name} requires {tested.candidate.ratio}"
    if tested.compatible:
        return f"{requires}, which is among {fitting}: its ray crosses the region of the amounts."
    return f"{requires}, which is not among {fitting}: its ray misses the region of the amounts."


def _conclusion_replies(evidence: Evidence, said: VerdictKind | Reason) -> dict[str, str]:
    """Say of each conclusion why it does not follow."""
    kept = [species_text(c.name) for c in evidence.candidates.values() if c.compatible]
    nearest = evidence.nearest.name
    replies: dict[VerdictKind | Reason, str] = {
        VerdictKind.CANNOT_BE_JUDGED: "Both amounts came out above zero, and nothing shows that a "
        "mass was not yet constant: these readings can be judged.",
        Reason.NOTHING_REACTED: "Both amounts are told apart from zero: something reacted.",
    }
    if said is VerdictKind.NOT_TOLD_APART:
        replies[VerdictKind.SINGLED_OUT] = (
            f"Nearest is not the same as singled out: the rays of {joined(kept)} all cross the "
            "region of amounts that your readings leave open. Which one lies nearest is chance."
            if len(kept) > 2
            else f"Nearest is not the same as singled out: the rays of {joined(kept)} both cross "
            "the region of amounts that your readings leave open. Which one lies nearer is chance."
        )
        replies[VerdictKind.NONE_FITS] = (
            "None fits only where every ray misses the region; here some rays cross it."
        )
    elif said is VerdictKind.SINGLED_OUT:
        replies[VerdictKind.NOT_TOLD_APART] = (
            "Two candidates are not told apart only where the rays of both cross the region of "
            "the amounts. Count the rays that do: here it is one."
        )
        replies[VerdictKind.NONE_FITS] = (
            "A mean beside a ray is no miss: what counts is whether the ray crosses the region "
            "that the readings leave open, and one does."
        )
    elif said is VerdictKind.NONE_FITS:
        replies[VerdictKind.SINGLED_OUT] = (
            f"The nearest, {nearest}, is excluded too: its ray misses the region. Being nearest "
            "of those thought of does not make it right."
        )
        replies[VerdictKind.NOT_TOLD_APART] = (
            "No ray crosses the region, so none is left to be told apart. Look for a slip or a "
            "loss, or for a candidate nobody has thought of."
        )
    else:
        why = reason_sentences(evidence.verdict)
        for kind in (VerdictKind.SINGLED_OUT, VerdictKind.NOT_TOLD_APART, VerdictKind.NONE_FITS):
            replies[kind] = f"Before candidates are counted: {why}"
        for other in (VerdictKind.CANNOT_BE_JUDGED, Reason.NOTHING_REACTED):
            replies[other] = why
    return {_CONCLUSIONS[kind]: words for kind, words in replies.items() if kind != said}
