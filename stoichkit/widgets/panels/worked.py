"""The panel “Worked solution”: a thin skin over a :class:`.WorkedState`."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from typing import Any

import ipywidgets

from ... import experiments
from ...decision.statement import verdict_sentences
from ...experiments.record import Experiment
from ...text.html import escaped
from ..kit.controls import Choice, Field, LiveText, Panel, close_tree, guarded, halves, heading, row
from ..kit.work import Rest
from ..state.readings import Change, ReadingsState
from ..state.worked import ALL, STYLES, WorkedState
from .html import paragraph, section_html, verdict_look

_NO_FILE = ""
_OLDER = (
    '<p class="stoichkit-older">This is older: it is from before something was typed that cannot '
    "be used.</p>"
)


class WorkedPanel(Panel):
    """See the calculation step by step, and save it or the report of the lab."""

    def __init__(self, state: WorkedState | ReadingsState, *, chooser: bool = True) -> None:
        self.state = state if isinstance(state, WorkedState) else WorkedState(state)
        self.status = LiveText(look="stoichkit-status")
        self._conclusion = ipywidgets.HTML(layout={"width": "100%"})
        self._solution = ipywidgets.HTML(layout={"width": "100%"})
        self._saved = LiveText()
        self._filling = False
        self._make_controls()
        choice = [self._experiment] if chooser else []
        super().__init__(
            "Worked solution",
            lambda: self.state.readings.form.title,
            *(*choice, self.status, heading("Conclusion in words"), self._conclusion),
            *(heading("Step by step"), row(self._trial, self._yield, self._style)),
            *(self._solution, *self._keeping()),
        )
        self.rest = Rest(self._follow, _together)
        self._stops.append(self.state.readings.subscribe(self.rest))
        if not chooser:
            self._stops.append(lambda: close_tree(self._experiment))
        guarded(self.message, self._follow)(Change.FORM)

    # Controls

    def _make_controls(self) -> None:
        ready = [(f"{_title(name)} ({name})", name) for name in experiments.names()]
        self._experiment = self._choice(
            "Ready experiment (invented readings)",
            [("– an experiment of your own –", _NO_FILE), *ready],
            self._open,
        )
        self._trial = self._choice("Trial", [("All trials", ALL)], self.state.choose_trial)
        self._yield = self._choice(
            "Percent yield of", [("Those that fit", ALL)], self.state.choose_yield
        )
        self._style = self._choice(
            "Shown as", [(words, style) for style, words in STYLES.items()], self.state.choose_style
        )
        self._report_path = self._path("Save the report as", "ends in .html (to print) or .md")
        self._worked_path = self._path(
            "Save the worked solution as", "ends in .html, .md, .txt or .tex (LaTeX)"
        )
        self._replace = ipywidgets.Checkbox(
            description="Files of these names may be replaced", indent=False
        )

    def _choice(
        self, words: str, options: list[tuple[str, str]], choose: Callable[[str], object]
    ) -> Choice:
        made = Choice(words, options)

        def chosen(change: Any) -> None:
            if not self._filling:
                choose(change["new"])
                self._show()

        made.observe(guarded(self.message, chosen), names="value")
        return made

    def _path(self, words: str, note: str) -> Field:
        return Field(words, "", self._forget_saved, self.message, note=note)

    def _keeping(self) -> list[ipywidgets.Widget]:
        return [
            heading("Keep"),
            halves(self._report_path.box, self._worked_path.box),
            self._replace,
            row(
                self._button("Save the report", self._save_report),
                self._button("Save the worked solution", self._save_solution),
            ),
            self._saved,
        ]

    # What the controls do

    def _open(self, name: str) -> None:
        if name != _NO_FILE:
            self.state.readings.load(name)

    def _forget_saved(self, _: str) -> None:
        self._saved.text = ""

    def _save_report(self) -> None:
        self._saved.text = ""
        path = self._report_path.input.value
        written = self.state.save_report(path, replace=self._replace.value)
        self._saved.text = f"Saved: {written}"

    def _save_solution(self) -> None:
        self._saved.text = ""
        path = self._worked_path.input.value
        written = self.state.save_solution(path, replace=self._replace.value)
        self._saved.text = f"Saved: {written}"

    # What follows from a change of the state

    def _follow(self, change: Change) -> None:
        """Show the state after a change of the readings."""
        state = self.state
        if change is Change.FORM:
            state.begin()
            self._report_path.input.value = state.suggested("report")
            self._worked_path.input.value = state.suggested("worked")
            self._replace.value = False
        else:
            state.fit()
        self._fill()
        self._saved.text = ""
        self._show()

    def _fill(self) -> None:
        """Offer the experiments, trials and candidates that there are."""
        state = self.state
        self._filling = True
        try:
            name = state.readings.name
            self._experiment.value = name if name in experiments.names() else _NO_FILE
            trials = [*((f"Trial {name}", name) for name in state.trials), ("All trials", ALL)]
            self._trial.offer(trials, state.trial)
            candidates = [("Those that fit", ALL), *((n, n) for n in state.candidates)]
            self._yield.offer(candidates, state.yield_of)
        finally:
            self._filling = False

    def _show(self) -> None:
        state = self.state
        self.status.text = state.status()
        if state.evidence is None:
            self._conclusion.value = "<p>There is no conclusion yet.</p>"
            self._solution.value = ""
            return
        older = "" if state.current else _OLDER
        look = verdict_look(state.evidence, current=state.current)
        self._conclusion.value = (
            f'{older}<p class="{look}">{escaped(verdict_sentences(state.evidence))}</p>'
            f"{paragraph(state.evidence.diagnosis.sentence, 'stoichkit-note')}"
            f'<p class="stoichkit-conclusion">{escaped(state.conclusion())}</p>'
        )
        self._solution.value = older + self._written()

    def _written(self) -> str:
        document = self.state.document()
        if self.state.style == "html" and document is not None:
            parts = [*map(paragraph, document.opening), *map(section_html, document.sections)]
            return f'<article class="worked-solution">{"".join(parts)}</article>'
        words = f"Worked solution, {STYLES[self.state.style]}"
        text = escaped(self.state.solution())
        return (
            f'<pre class="stoichkit-source" tabindex="0" role="region" aria-label="{words}">'
            f"{text}</pre>"
        )


def worked_panel(experiment_or_name: Experiment | str = "copper-silver") -> WorkedPanel:
    """Return the panel “Worked solution” for a notebook.

    What is given and refused is as for :func:`readings_panel`; ``close()`` closes all of it.

    Examples
    --------
    >>> panel = worked_panel("tin-oxide")
    >>> panel.state.conclusion()[:26]
    'From 4 trials, n(O)/n(Sn) '
    >>> panel.close()
    """
    return WorkedPanel(WorkedState(experiment_or_name))


def _together(one: Change, other: Change) -> Change:
    return min(one, other, key=(Change.FORM, Change.TRIALS, Change.TEXT).index)


def _title(name: str) -> str:
    return str(tomllib.loads(experiments.read(name))["title"])
