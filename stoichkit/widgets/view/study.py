"""The screen “Study”: the questions of a lab one by one, checked, with hints."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from ...decision.statement import verdict_sentences
from ...decision.trust import trust_sentences
from ...experiments.record import Experiment
from ...reports.question import FeedbackKind
from ..state.lab import LabState
from ..state.study import Answered
from .blocks import Block, Builder, bullets, details, heading, row, words
from .cautions import cautions_blocks
from .frame import Frame, Region

_LOOK = {
    FeedbackKind.RIGHT: "good",
    FeedbackKind.FIGURES: "good",
    FeedbackKind.MISTAKE: "warning",
    FeedbackKind.WRONG: "warning",
    FeedbackKind.UNREAD: "plain",
}


class StudyScreen:
    """Self-study: from raw readings to the verdict."""

    key, title = "study", "Study"

    def __init__(self, lab: LabState, frame: Frame | None = None) -> None:
        self.lab, self.frame = lab, frame
        self.state = lab.study

    def regions(self) -> Sequence[Region]:
        """Return the regions, in their order."""
        return (
            Region("question", "left", self.question),
            Region("end", "left", self.end, 2),
            Region("asked-about", "right", self.asked_about),
            Region("course", "right", self.course),
        )

    # The question

    def question(self, make: Builder) -> list[Block]:
        """Show one question, with what was said about its answer."""
        state = self.state
        if not state.answers:
            return [
                words("There is nothing to ask about yet.", "strong"),
                words(state.problem, "refusal"),
            ]
        at, one = state.at, state.answers[state.at]
        said = one.feedback
        last = at == len(state.answers) - 1
        return [
            words(f"Question {at + 1} of {len(state.answers)} · {one.question.topic}", "note"),
            heading(one.question.words, 2),
            *self._entry(make, at, one),
            row(
                make.button("study:check", "Check", partial(self._check, at), look="main"),
                make.button(
                    "study:hint", "Hint", partial(state.hint, at), enabled=one.more_hints
                ),
                make.button("study:back", "Back", partial(self._go, at - 1), enabled=at > 0),
                make.button("study:next", "Next", partial(self._go, at + 1), enabled=not last),
            ),
            words("" if said is None else said.words, _LOOK[said.kind] if said else "plain",
                  spoken=True),
            *([bullets(one.shown_hints)] if one.hints else []),
        ]  # fmt: skip

    def _entry(self, make: Builder, at: int, one: Answered) -> list[Block]:
        """Return what the answer is typed in, or chosen from."""
        question = one.question
        if question.several:
            ticks = [
                make.tick(
                    f"study:{at}:{i}", choice, choice in one.chosen,
                    partial(self.state.tick, at, choice),
                )
                for i, choice in enumerate(question.choices)
            ]  # fmt: skip
            return [*ticks, words("Tick none if none is.", "note")]
        typed = partial(self.state.type, at)
        if question.choices:
            offered = [("", "– choose –"), *((c, c) for c in question.choices)]
            value = one.text if one.text in question.choices else ""
            return [make.choice(f"study:{at}", "Your conclusion", value, offered, typed)]
        unit = f", {question.unit}" if question.unit else ""
        return [
            make.field(
                f"study:{at}", f"Your answer{unit}", one.text, typed, width=18,
                enter="study:check", note="a decimal comma will do; the unit may follow",
            )
        ]  # fmt: skip

    def _check(self, at: int) -> None:
        right = self.state.check(at).accepted
        if right and self.frame is not None and at < len(self.state.answers) - 1:
            self.frame.focus = "study:next"

    def _go(self, to: int) -> None:
        self.state.go(to)
        if self.frame is not None:
            several = self.state.answers[to].question.several
            self.frame.focus = f"study:{to}:0" if several else f"study:{to}"

    # How far it is

    def course(self, make: Builder) -> list[Block]:
        """Show all questions, and which of them are answered."""
        state = self.state
        if not state.answers:
            return []
        rows = [
            (f"{i + 1}. {one.question.topic}", _standing(one))
            for i, one in enumerate(state.answers)
        ]
        return [
            make.table(
                f"{state.progress}.", ("Question", "Answer"), rows, name="study:course",
                chosen=self._go, selected=state.at,
            )
        ]  # fmt: skip

    def end(self, make: Builder) -> list[Block]:
        """Say at the end what the readings tell, what limits that, and what would overturn it."""
        del make
        evidence = self.lab.readings.evidence
        if not self.state.finished or evidence is None:
            return []
        return [
            heading("All answered"),
            words(verdict_sentences(evidence), "strong"),
            words(evidence.diagnosis.sentence, "diagnosis"),
            *(words(text, "trust") for text in trust_sentences(evidence)),
        ]

    # What it is about

    def asked_about(self, make: Builder) -> list[Block]:
        """Show the lab: its scenario, readings and instruments."""
        lab = self.state.experiment
        blocks = [heading("The lab")]
        if lab.invented:
            blocks.append(words("The readings are invented.", "strong"))
        if lab.about.strip():
            blocks.append(words(" ".join(lab.about.split())))
        header, rows = readings_table(lab)
        blocks.append(make.table("Readings", header, rows))
        in_use = bullets(lab.instruments_in_words())
        blocks.append(details("Instruments in use", [in_use], opened=True))
        return [*blocks, *cautions_blocks(lab)]


def _standing(one: Answered) -> str:
    if one.solved:
        return "answered" if one.hints <= len(one.question.hints) else "answered, after the answer"
    if one.feedback is not None:
        return "not yet"
    return "typed, not checked" if one.text.strip() else "–"


def readings_table(lab: Experiment) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Return the readings of a lab as a table with one column a trial: its header and its rows.

    >>> from stoichkit import experiments
    >>> header, rows = readings_table(experiments.load("tin-oxide"))
    >>> header, rows[0]
    (('Reading', '1', '2', '3', '4'), ('crucible, g', '17.561', '17.897', '17.659', '17.593'))
    """
    units = {role.name: role.unit for role in lab.roles()}
    rows = [
        (f"{name}, {units[name]} (all trials)", *(len(lab.trials) * ("; ".join(texts),)))
        for name, texts in lab.shared_readings.items()
    ]
    own = dict.fromkeys(name for trial in lab.trials for name in trial.readings)
    rows += [
        (f"{name}, {units[name]}", *("; ".join(t.readings.get(name, ())) for t in lab.trials))
        for name in own
    ]
    return ("Reading", *(trial.name for trial in lab.trials)), rows
