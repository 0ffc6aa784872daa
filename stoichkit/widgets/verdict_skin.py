"""The panel “Readings and verdict”: a thin skin over a :class:`ReadingsState`."""

from __future__ import annotations

import html
from collections.abc import Callable
from functools import partial
from typing import Any

import ipywidgets

from ..errors import ExperimentError
from ..experiment import Experiment
from ..report import report_markdown
from .chooser import ExperimentChooser, ExperimentKeeper, row
from .evaluation import Outcome
from .fields import Field, LiveText, close_tree, guarded, heading, style_sheet
from .form import Place
from .later import Later
from .readings_table import ReadingsTable
from .rest import Rest
from .result_html import about_html, instruments_html
from .result_view import ResultView
from .state import Change, ReadingsState, together

__all__ = ["ReadingsPanel", "readings_panel"]


class ReadingsPanel(ipywidgets.VBox):  # type: ignore[misc]
    """Type readings, candidates and instruments; see which candidates they exclude.

    Parameters
    ----------
    state : ReadingsState
        Holds what is typed and what follows from it.
    chooser : bool
        Whether an experiment is opened and saved here, not elsewhere.

    Attributes
    ----------
    state : ReadingsState
    message : LiveText
        Shows what went wrong in a callback.
    rest : Rest
        Put to sleep while the panel cannot be seen.
    """

    def __init__(self, state: ReadingsState, *, chooser: bool = True) -> None:
        self.state = state
        self.message = LiveText(role="alert", look="stoichkit-alert")
        self._results = ResultView()
        self._about, self._instruments = ipywidgets.HTML(), ipywidgets.HTML()
        self._report = ipywidgets.HTML()
        self._chooser = ExperimentChooser(state, self.message) if chooser else None
        self._keeper = ExperimentKeeper(state, self.message) if chooser else None
        self._shared = ReadingsTable(state, self.message, shared=True)
        self._table = ReadingsTable(state, self.message, shared=False)
        self._fields: dict[Place, Field] = {}
        self._balances = ipywidgets.VBox(layout={"width": "100%"})
        self._later = Later()
        self._invented = ipywidgets.Checkbox(description="The readings are invented", indent=False)
        self._invented.observe(
            self._guard(lambda change: state.set_invented(change["new"])), names="value"
        )
        inputs = ipywidgets.VBox([*self._opening(), *self._entry()])
        columns = ipywidgets.Box([inputs, self._results.box])
        columns.add_class("stoichkit-columns")
        title = ipywidgets.HTML("<h2>Readings and verdict</h2>")
        more, keeping = self._results.more, self._keeping()
        super().__init__([style_sheet(), title, self.message, columns, more, *keeping])
        self.add_class("stoichkit-panel")
        self.rest = Rest(self._follow, together)
        self._stop = state.subscribe(self.rest)
        self._follow(Change.FORM)

    def __repr__(self) -> str:
        return (
            f"Panel “Readings and verdict” on “{self.state.form.title}”: run this cell in a "
            "notebook to use it."
        )

    def close(self) -> None:
        """Close the panel with everything in it."""
        self._later.stop()
        self._stop()
        close_tree(self)

    # Controls

    def _opening(self) -> list[ipywidgets.Widget]:
        chooser = [] if self._chooser is None else [self._chooser.box]
        return [heading("Experiment"), *chooser, self._about]

    def _entry(self) -> list[ipywidgets.Widget]:
        state = self.state
        candidates = self._add_field(
            Place("candidates"),
            "Candidates, one a line",
            state.set_candidates,
            lines=4,
            note="name = ratio n(produced)/n(consumed), such as 3/2; an equation; or a formula",
        )
        coverage = self._add_field(
            Place("coverage"), "Coverage probability", state.set_coverage, note="0.95 or 95 %"
        )
        low = self._add_field(
            Place("recovery_low"),
            "Least fraction of the product recovered",
            lambda text: state.set_recovery(low=text),
            note="1: nothing is lost",
        )
        high = self._add_field(
            Place("recovery_high"),
            "Largest fraction (above 1: water or residue)",
            lambda text: state.set_recovery(high=text),
        )
        buttons = row(
            self._button("Add a trial", state.add_trial),
            self._button("Remove the last trial", state.remove_trial),
        )
        hint = ipywidgets.HTML(
            '<p class="stoichkit-note">Type what the display shows, with all its zeros; a decimal '
            "comma will do. Repeated weighings of one thing: 21.26; 21.17; 21.18</p>"
        )
        return [
            heading("Readings"),
            hint,
            self._shared.box,
            self._table.box,
            buttons,
            _halves(
                [heading("Candidates"), candidates.box, coverage.box],
                [heading("Instruments"), self._balances, self._instruments],
            ),
            heading("Recovery of the product"),
            _halves([low.box], [high.box]),
        ]

    def _keeping(self) -> list[ipywidgets.Widget]:
        title = self._add_field(Place("title"), "Title", self.state.set_title)
        parts = [] if self._keeper is None else self._keeper.parts
        show = row(self._button("Show report", self._show_report))
        return [heading("Keep"), title.box, self._invented, *parts, show, self._report]

    def _add_field(
        self,
        place: Place,
        label: str,
        change: Callable[[str], None],
        *,
        value: str = "",
        lines: int = 0,
        note: str = "",
    ) -> Field:
        field = Field(
            label,
            value,
            change,
            self.message,
            lines=lines,
            note=note,
            on_leave=self.state.history.settle,
        )
        self._fields[place] = field
        return field

    def _button(self, words: str, action: Callable[[], object]) -> ipywidgets.Button:
        button = ipywidgets.Button(description=words)
        button.on_click(self._guard(lambda _: action()))
        return button

    def _guard(self, function: Callable[[Any], object]) -> Callable[..., None]:
        return guarded(self.message, function)

    # What the controls do

    def _set_readability(self, name: str, text: str) -> None:
        self.state.set_balance(name, readability_g=text)

    def _set_repeatability(self, name: str, text: str) -> None:
        self.state.set_balance(name, repeatability_g=text)

    def _show_report(self) -> None:
        evidence = self.state.evidence
        if evidence is None or not self.state.outcome.current:
            raise ExperimentError(
                "A report needs a form that can be used.",
                fix="Correct the fields marked as not used.",
            )
        text = html.escape(report_markdown(evidence))
        self._report.value = (
            "<h3>Report (Markdown)</h3>"
            f'<pre tabindex="0" role="region" aria-label="Report as Markdown text">{text}</pre>'
        )

    # What follows from a change of the state

    def _follow(self, change: Change) -> None:
        """Show the state: the verdict at once, the refusals, then the slower parts."""
        outcome = self.state.outcome
        self._results.show_verdict(self.state)
        self._show_texts()
        if change is Change.FORM:
            self._fill()
        elif change is Change.TRIALS:
            for widget in self._table.fit():
                close_tree(widget)
        self._shared.show(outcome)
        self._table.show(outcome)
        for place, field in self._fields.items():
            field.refuse(outcome.refusals.get(place))
        if self._keeper is not None:
            self._keeper.follow(loaded=change is Change.FORM)
        self._later(guarded(self.message, partial(self._show_rest, outcome), clear=False))

    def _show_rest(self, outcome: Outcome) -> None:
        self._results.show_rest(outcome.evidence)
        self._instruments.value = instruments_html(outcome.experiment)
        self._report.value = ""

    def _show_texts(self) -> None:
        """Show the texts of the state where they were not typed here, as after undo."""
        form = self.state.form
        for place, field in self._fields.items():
            if not place.name:
                field.show(getattr(form, place.part))
            elif place.name in form.balances:  # else these fields are about to be made anew
                field.show(getattr(form.balances[place.name], f"{place.part}_g"))
        if self._invented.value != form.invented:
            self._invented.value = form.invented

    def _fill(self) -> None:
        """Make the fields anew that depend on the experiment."""
        form = self.state.form
        if self._chooser is not None:
            self._chooser.follow()
        self._about.value = about_html(self.state.experiment)
        self._fields[Place("candidates")].input.rows = min(form.candidates.count("\n") + 2, 14)
        old = [*self._shared.rebuild(), *self._table.rebuild(), *self._fill_balances()]
        for widget in old:
            close_tree(widget)

    def _fill_balances(self) -> list[ipywidgets.Widget]:
        old = list(self._balances.children)
        self._fields = {p: f for p, f in self._fields.items() if not p.name}
        rows = []
        for name, texts in self.state.form.balances.items():
            step = self._add_field(
                Place("readability", name=name),
                f"{name}: readability, g",
                partial(self._set_readability, name),
                value=texts.readability_g,
            )
            spread = self._add_field(
                Place("repeatability", name=name),
                f"{name}: repeatability, g",
                partial(self._set_repeatability, name),
                value=texts.repeatability_g,
                note="empty: half the readability is assumed; 0: digits only",
            )
            rows.append(row(step.box, spread.box))
        self._balances.children = rows
        return old


def readings_panel(experiment_or_name: Experiment | str = "copper-silver") -> ReadingsPanel:
    """Return the panel “Readings and verdict” for a notebook.

    Parameters
    ----------
    experiment_or_name : Experiment or str
        A record, the name of a ready experiment, or the text of an experiment file.

    Returns
    -------
    ReadingsPanel
        A widget; its ``state`` is a :class:`.ReadingsState`, and ``close()`` closes all of it.

    Raises
    ------
    ExperimentError
        If there is no such experiment, or the text is faulty.

    Examples
    --------
    >>> panel = readings_panel("tin-oxide")
    >>> panel.state.evidence.verdict.kind.value
    'singled_out'
    >>> panel.close()
    """
    return ReadingsPanel(ReadingsState(experiment_or_name))


def _halves(*parts: list[ipywidgets.Widget]) -> ipywidgets.Box:
    box = ipywidgets.Box([ipywidgets.VBox(part) for part in parts])
    box.add_class("stoichkit-halves")
    return box
