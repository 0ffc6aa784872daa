"""The panel “Self-study”: a thin skin over a :class:`StudyState`."""

from __future__ import annotations

import time
from functools import partial
from typing import Any

import ipywidgets

from ...experiments.record import Experiment
from ...reports.question import FeedbackKind
from ...text.html import Cell, escaped, html_table
from ..kit.controls import Choice, Field, LiveText, Panel, button, columns, guarded, heading, row
from ..state.study import Answered, StudyState
from .html import about_html, instruments_html

_LATE_S = 0.5
"""A text this soon after a press was typed before it: the press can overtake it on its way."""
_LOOK = {
    FeedbackKind.RIGHT: "stoichkit-status stoichkit-right",
    FeedbackKind.FIGURES: "stoichkit-status stoichkit-right",
    FeedbackKind.MISTAKE: "stoichkit-status stoichkit-wrong",
    FeedbackKind.WRONG: "stoichkit-status stoichkit-wrong",
    FeedbackKind.UNREAD: "stoichkit-status",
}


class StudyPanel(Panel):
    """Answer guided questions about a lab, from its readings to the verdict."""

    def __init__(self, state: StudyState) -> None:
        self.state = state
        self.progress = LiveText(look="stoichkit-verdict")
        self.questions = tuple(
            QuestionBox(state, number, self.message) for number in range(len(state.answers))
        )
        lab = ipywidgets.VBox(
            [
                heading("The lab"),
                ipywidgets.HTML(about_html(state.experiment)),
                ipywidgets.HTML(readings_html(state.experiment)),
                ipywidgets.HTML(instruments_html(state.experiment)),
            ]
        )
        lab.add_class("stoichkit-beside")
        course = ipywidgets.VBox(list(self._course()))
        title = state.experiment.title
        super().__init__(f"Self-study: {title}", lambda: title, columns(lab, course))
        self._name = "Self-study"
        state.subscribe(self._follow)
        self._follow(0)

    def _course(self) -> Any:
        yield self.progress
        topic = ""
        for box, one in zip(self.questions, self.state.answers, strict=True):
            if one.question.topic != topic:
                topic = one.question.topic
                yield heading(topic)
            yield box.box

    def _follow(self, number: int) -> None:
        self.progress.text = f"{self.state.progress}."
        self.questions[number].show()


class QuestionBox:
    """One question with its field or choices, its buttons, and what is said about the answer."""

    def __init__(self, state: StudyState, number: int, area: LiveText) -> None:
        self._state, self._number, self._area = state, number, area
        self.feedback = LiveText(look="stoichkit-status")
        self.hints = ipywidgets.HTML(layout={"display": "none"})
        question = state.answers[number].question
        label = f"{number + 1}. {question.words}"
        if question.choices:
            self.input, entry = self._choices(label, question.several)
        else:
            field = Field(label, "", self._typed, area)
            self.input, entry = field.input, field.box
        self._checked_at = -_LATE_S
        self.check = button(f"Check answer {number + 1}", self._area, self._check)
        self.hint = button(
            f"Hint for question {number + 1}", self._area, partial(state.hint, number)
        )
        buttons = row(self.check, self.hint)
        self.box = ipywidgets.VBox([entry, buttons, self.feedback, self.hints])
        self.box.add_class("stoichkit-question")

    def _check(self) -> None:
        self._checked_at = time.monotonic()
        self._state.check(self._number)

    def _typed(self, text: str) -> None:
        """Take over a text; one that was on its way when the button was pressed is checked."""
        self._state.type(self._number, text)
        if time.monotonic() - self._checked_at < _LATE_S:
            self._state.check(self._number)

    def _choices(self, label: str, several: bool) -> tuple[Any, ipywidgets.Widget]:
        """Return what is chosen from, and the box it stands in."""
        question = self._state.answers[self._number].question
        words = ipywidgets.HTML(f"<p>{escaped(label)}</p>")
        if several:
            boxes = [ipywidgets.Checkbox(description=c, indent=False) for c in question.choices]
            for one in boxes:
                one.observe(guarded(self._area, lambda _: self._chosen(boxes)), names="value")
            note = ipywidgets.HTML('<p class="stoichkit-note">Tick none if none is.</p>')
            self._state.type(self._number, "none")
            return boxes, ipywidgets.VBox([words, *boxes, note])
        options = [("– choose –", ""), *((c, c) for c in question.choices)]
        pick = Choice("Your conclusion", options, "")
        pick.observe(
            guarded(self._area, lambda change: self._state.type(self._number, change["new"])),
            names="value",
        )
        return pick, ipywidgets.VBox([words, pick])

    def _chosen(self, boxes: list[ipywidgets.Checkbox]) -> None:
        chosen = [one.description for one in boxes if one.value]
        self._state.type(self._number, "; ".join(chosen) or "none")

    def show(self) -> None:
        """Show what was said about the answer, and the hints asked for."""
        one: Answered = self._state.answers[self._number]
        said = one.feedback
        self.feedback.text = "" if said is None else said.words
        self.feedback.look = "stoichkit-status" if said is None else _LOOK[said.kind]
        items = "".join(f"<li>{escaped(words)}</li>" for words in one.shown_hints)
        self.hints.value = f"<ol>{items}</ol>" if items else ""
        self.hints.layout.display = None if items else "none"
        self.hint.disabled = not one.more_hints


def readings_html(experiment: Experiment) -> str:
    """Show the readings of an experiment as a table, one column a trial.

    >>> from stoichkit import experiments
    >>> readings_html(experiments.load("tin-oxide")).count('<th scope="col">')
    5
    """
    units = {role.name: role.unit for role in experiment.roles()}
    trials = experiment.trials
    shared: dict[str, list[str | Cell]] = {
        name: [Cell(escaped(f"{'; '.join(texts)} (all)"), span=len(trials))]
        for name, texts in experiment.shared_readings.items()
    }
    own: dict[str, list[str | Cell]] = {
        name: ["; ".join(t.readings.get(name, ())) for t in trials]
        for name in dict.fromkeys(n for t in trials for n in t.readings)
    }
    rows = [(f"{name}, {units[name]}", *cells) for name, cells in {**shared, **own}.items()]
    return html_table(("Reading", *(t.name for t in trials)), rows, "Readings")


def study_panel(experiment_or_name: Experiment | str = "copper-silver") -> StudyPanel:
    """Return the panel “Self-study” for a notebook.

    What is given and refused is as for :func:`readings_panel`; ``close()`` closes all of it.

    Examples
    --------
    >>> panel = study_panel("tin-oxide")
    >>> panel.progress.text
    '0 of 13 answered.'
    >>> panel.close()
    """
    return StudyPanel(StudyState(experiment_or_name))
