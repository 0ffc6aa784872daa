"""Guided self-study: questions about one lab, from raw readings to the verdict.

Every answer, and every value that a known mistake leads to, is calculated by the library from the
readings of the experiment; nothing is typed in. The known mistakes are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from decimal import Decimal

from ..chemistry.elements import atomic_weight_value
from ..chemistry.formula import parse_formula
from ..decision.answers import AnswerLine, answer_lines
from ..decision.evidence import Evidence, assess
from ..decision.formulas import tokens_of
from ..decision.sentences import ratio_sentence
from ..decision.statement import reason_sentences, verdict_sentences
from ..decision.typed import (
    Mistake,
    mistakes_of,
    percent_mistakes,
    ratio_mistakes,
    thousand,
)
from ..decision.verdict import Reason, VerdictKind
from ..errors import ExperimentError, StoichkitError
from ..experiments.checks import read_value
from ..experiments.parts import Trial
from ..experiments.record import Experiment
from ..text.wording import joined, p_clause, species_text, symbol
from ..uncertainty.readings import parse_number
from .figures import written
from .question import Question

_NEAR = 0.02
"""A mistake nearer than this to an accepted answer, relative, cannot be told from it."""


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


def _accepted_range(value: float, figures: int) -> tuple[float, float]:
    """Return the answers accepted: within one unit of the last figure shown."""
    unit = float(Decimal(1).scaleb(-max(_last_place(value, figures), 0)))
    return value - unit, value + unit


def _apart(question: Question) -> Question:
    """Keep mistakes whose values are not accepted and not near to being so."""
    kept = []
    for one in question.mistakes:
        margin = _NEAR * abs(one.value)
        if one.value + margin < question.low or one.value - margin > question.high:
            kept.append(one)
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
            course = _Course(evidence, trial, own)
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
                words=f"What is the {line.words}{where}, in {line.unit}?",
                answer=_answer_text(line),
                hints=tuple(self._hints(line)),
                unit=line.unit,
                value=line.value,
                low=line.low,
                high=line.high,
                figures=line.digits,
                mistakes=tuple(mistakes_of(line, self.lines[: self.lines.index(line)])),
            )
        yield self._ratio_question()

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
        line, nan = self.ratio, float("nan")
        consumed, produced = self.experiment.consumed.species, self.experiment.produced.species
        masses = {o.symbol: o.value for o in self.lines if o.unit == "g"}
        top, bottom = (masses.get(f"m({one})", nan) for one in (produced, consumed))
        return Question(
            key="ratio",
            topic="Mole ratio",
            words=f"What is the mole ratio {symbol(produced)} / {symbol(consumed)} of this trial?",
            answer=_answer_text(line),
            hints=(
                "Divide the amount produced by the amount consumed, both in mol and unrounded.",
                f"{self.amount_mol(produced):.5g} mol / {self.amount_mol(consumed):.5g} mol.",
            ),
            value=line.value,
            low=line.low,
            high=line.high,
            figures=line.digits,
            mistakes=tuple(ratio_mistakes(line, top, bottom)),
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
            value=float(ratio),
            low=0.995 * float(ratio),
            high=1.005 * float(ratio),
            mistakes=(
                Mistake(1 / float(ratio), "This is upside down: ask for one mole consumed."),
            ),
        )
        a, b = self.amount_mol(consumed), self.amount_mol(produced)
        if a <= 0 or b <= 0:
            return
        expected, unit = float(ratio) * a, "mol"
        mistakes = [
            Mistake(a, "The coefficients of the equation are missing."),
            Mistake(a / float(ratio), "The mole ratio was used upside down."),
        ]
        masses = {o.symbol: o for o in self.lines if o.unit == "g/mol"}
        if (molar := masses.get(f"M({produced})")) is not None:
            mistakes = [Mistake(one.value * molar.value, one.words) for one in mistakes]
            mistakes.append(Mistake(expected, "This is the amount in mol; the question is for g."))
            expected, unit = expected * molar.value, "g"
        figures = min(self.ratio.digits, 4)
        low, high = _accepted_range(expected, figures)
        yield Question(
            key="expected",
            topic="What a candidate requires",
            words=(
                f"How many {unit} of {species_text(produced)} does {tested.name} require from the "
                f"{species_text(consumed)} of this trial?"
            ),
            answer=f"{_rounded(expected, figures)} {unit}",
            hints=(
                f"Multiply the amount of {species_text(consumed)} by the mole ratio required"
                + (", then by the molar mass." if unit == "g" else "."),
                f"{a:.5g} mol × {ratio}" + (f" × {molar.value:.5g} g/mol." if molar else "."),
            ),
            unit=unit,
            value=expected,
            low=low,
            high=high,
            figures=figures,
            mistakes=(*mistakes, *thousand(expected, unit)),
        )
        yield self._percent(tested.name, float(ratio), a, b)

    def _percent(self, name: str, ratio: float, a: float, b: float) -> Question:
        produced = species_text(self.experiment.produced.species)
        value, figures = 100 * b / (ratio * a), min(self.ratio.digits, 3)
        low, high = _accepted_range(value, figures)
        return Question(
            key="percent",
            topic="What a candidate requires",
            words=f"What percentage of the {produced} that {name} requires was found?",
            answer=f"{_rounded(value, figures)} %",
            hints=(
                "Found divided by required, times 100 %.",
                f"100 % × {b:.5g} mol / ({ratio:.4g} × {a:.5g} mol).",
            ),
            unit="%",
            value=value,
            low=low,
            high=high,
            figures=figures,
            mistakes=tuple(percent_mistakes(value, ratio)),
        )

    # What one display step does

    def resolution(self) -> Iterator[Question]:
        changes = {
            name: found
            for name in self.trial.readings
            if (found := self._shifted(name)) is not None and found[1]
        }
        if not changes:
            return
        name, (step, change) = max(changes.items(), key=lambda item: abs(item[1][1]))
        size = abs(change)
        role = next(r for r in self.experiment.roles() if r.name == name)
        yield Question(
            key="display step",
            topic="What the instruments can resolve",
            words=(
                f"By how much would the mole ratio of this trial change if “{name}” differed by "
                f"one in its last digit ({step} {role.unit})? Give the size of the change."
            ),
            answer=f"{size:.2g}",
            hints=(
                "Work the ratio out again with the changed reading, and subtract.",
                f"The ratio was {self.ratio.value:.4g}; with the last digit of “{name}” raised "
                f"by one it is {self.ratio.value + change:.4g}.",
            ),
            value=size,
            low=0.9 * size,
            high=1.1 * size,
            mistakes=(
                Mistake(self.ratio.value + change, "This is the new ratio: subtract the old."),
            ),
        )

    def _shifted(self, name: str) -> tuple[Decimal, float] | None:
        """Return the last digit's worth of a reading, and what it changes the ratio by."""
        texts = self.trial.readings[name]
        role = next(r for r in self.experiment.roles() if r.name == name)
        kept = 0 if role.averaged else len(texts) - 1  # a mean moves with all of its readings
        readings = [parse_number(text, name) for text in texts]
        step = Decimal(1).scaleb(-readings[-1].decimals)
        moved = [
            f"{Decimal(repr(one.value)) + step:.{max(one.decimals, 0)}f}" for one in readings[kept:]
        ]
        try:
            alone = self.experiment.with_trials([self.trial])
            changed = alone.with_reading(self.trial.name, name, (*texts[:kept], *moved))
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
    )
