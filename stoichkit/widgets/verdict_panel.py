"""The panel “Readings and verdict”: a thin skin over a :class:`ReadingsState`."""

from __future__ import annotations

import html
import tomllib
from collections.abc import Callable
from functools import partial
from typing import Any

import ipywidgets

from .. import experiments
from ..errors import ExperimentError
from ..experiment import Experiment
from ..experiment_toml import MAX_BYTES
from ..report import report_markdown
from .evaluation import refusal_of
from .fields import Field, LiveText, close_tree, guarded, heading, style_sheet
from .form import Place
from .readings_table import ReadingsTable
from .result_html import about_html, instruments_html
from .result_view import ResultView
from .saving import target_path
from .state import Change, ReadingsState

__all__ = ["ReadingsPanel", "readings_panel"]

_ANY_FILE = ""


class ReadingsPanel(ipywidgets.VBox):  # type: ignore[misc]
    """Type readings, candidates and instruments; see which candidates they exclude.

    Parameters
    ----------
    state : ReadingsState
        Holds what is typed and what follows from it.

    Attributes
    ----------
    state : ReadingsState
    message : LiveText
        Shows what went wrong in a callback.
    """

    def __init__(self, state: ReadingsState) -> None:
        self.state = state
        self.message = LiveText(role="alert", look="stoichkit-alert")
        self._results = ResultView()
        self._about, self._instruments = ipywidgets.HTML(), ipywidgets.HTML()
        self._report, self._saved = ipywidgets.HTML(), LiveText()
        self._shared = ReadingsTable(state, self.message, shared=True)
        self._table = ReadingsTable(state, self.message, shared=False)
        self._fields: dict[Place, Field] = {}
        self._balances = ipywidgets.VBox(layout={"width": "100%"})
        self._make_controls()
        inputs = ipywidgets.VBox([*self._opening(), *self._entry()])
        columns = ipywidgets.Box([inputs, self._results.box])
        columns.add_class("stoichkit-columns")
        title = ipywidgets.HTML("<h2>Readings and verdict</h2>")
        more, keeping = self._results.more, self._keeping()
        super().__init__([style_sheet(), title, self.message, columns, more, *keeping])
        self.add_class("stoichkit-panel")
        self._stop = state.subscribe(self._follow)
        self._follow(Change.FORM)

    def __repr__(self) -> str:
        return (
            f"Panel “Readings and verdict” on “{self.state.form.title}”: run this cell in a "
            "notebook to use it."
        )

    def close(self) -> None:
        """Close the panel with everything in it."""
        self._stop()
        close_tree(self)

    # Controls

    def _make_controls(self) -> None:
        ready = [(_title(name), name) for name in experiments.names()]
        self._choice = ipywidgets.Dropdown(
            options=[*ready, ("– a file of your own –", _ANY_FILE)],
            value=_ANY_FILE,
            description="Ready experiment (invented readings)",
            layout={"width": "100%"},
        )
        self._choice.add_class("stoichkit-pick")
        self._upload = ipywidgets.FileUpload(
            accept=".toml", multiple=False, description="Open a TOML file"
        )
        self._upload.observe(self._guard(self._open_file), names="value")
        self._pasted = ipywidgets.Textarea(
            description="Text of an experiment file",
            rows=6,
            layout={"width": "100%"},
            style={"description_width": "initial"},
        )
        self._paste = ipywidgets.ToggleButton(description="Paste a TOML text")
        self._paste.observe(self._guard(self._show_paste), names="value")
        self._paste_box = ipywidgets.VBox(
            [_labelled(self._pasted), _row(self._button("Open this text", self._open_text))],
            layout={"display": "none"},
        )
        self._path = Field("Save as", "", self._show_target, self.message)
        self._replace = ipywidgets.Checkbox(
            description="A file of this name may be replaced", indent=False
        )
        self._invented = ipywidgets.Checkbox(description="The readings are invented", indent=False)
        self._invented.observe(
            self._guard(lambda change: self.state.set_invented(change["new"])), names="value"
        )

    def _opening(self) -> list[ipywidgets.Widget]:
        row = _row(
            self._button("Open the ready experiment", self._open_ready), self._upload, self._paste
        )
        return [heading("Experiment"), self._choice, row, self._paste_box, self._about]

    def _entry(self) -> list[ipywidgets.Widget]:
        state = self.state
        self._add_field(
            Place("candidates"),
            "Candidates, one a line",
            state.set_candidates,
            lines=4,
            note="name = ratio n(produced)/n(consumed), such as 3/2; an equation; or a formula",
        )
        self._add_field(
            Place("coverage"),
            "Coverage probability",
            state.set_coverage,
            note="0.95 or 95 %",
        )
        buttons = _row(
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
                [
                    heading("Candidates"),
                    self._fields[Place("candidates")].box,
                    self._fields[Place("coverage")].box,
                ],
                [heading("Instruments"), self._balances, self._instruments],
            ),
        ]

    def _keeping(self) -> list[ipywidgets.Widget]:
        self._add_field(Place("title"), "Title", self.state.set_title)
        buttons = _row(
            self._button("Save experiment file", self._save),
            self._button("Show report", self._show_report),
        )
        return [
            heading("Keep"),
            self._fields[Place("title")].box,
            self._invented,
            self._path.box,
            self._replace,
            buttons,
            self._saved,
            self._report,
        ]

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
        field = Field(label, value, change, self.message, lines=lines, note=note)
        self._fields[place] = field
        return field

    def _button(self, words: str, action: Callable[[], object]) -> ipywidgets.Button:
        button = ipywidgets.Button(description=words)
        button.on_click(self._guard(lambda _: action()))
        return button

    def _guard(self, function: Callable[[Any], object]) -> Callable[..., None]:
        return guarded(self.message, function)

    # What the controls do

    def _open_ready(self) -> None:
        if self._choice.value == _ANY_FILE:
            raise ExperimentError("Choose a ready experiment from the list first.")
        self.state.load(self._choice.value)

    def _open_file(self, change: Any) -> None:
        if not change["new"]:
            return
        file = change["new"][0]
        data = bytes(file["content"])
        self._upload.value = ()
        if len(data) > MAX_BYTES:
            raise ExperimentError(
                "The file is too large to be an experiment record.",
                path=file["name"],
                given=f"{len(data):,} bytes",
                allowed=f"at most {MAX_BYTES:,} bytes",
            )
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError as error:
            raise ExperimentError(
                "The file is not text in UTF-8.", path=file["name"], fix="Save it again as UTF-8."
            ) from error
        self.state.load(f"{text}\n", name=file["name"])

    def _show_paste(self, change: Any) -> None:
        self._paste_box.layout.display = None if change["new"] else "none"

    def _open_text(self) -> None:
        self.state.load(f"{self._pasted.value}\n", name="")

    def _set_readability(self, name: str, text: str) -> None:
        self.state.set_balance(name, readability_g=text)

    def _set_repeatability(self, name: str, text: str) -> None:
        self.state.set_balance(name, repeatability_g=text)

    def _save(self) -> None:
        self._saved.text = ""
        written = self.state.save(self._path.input.value, replace_file=self._replace.value)
        self._saved.text = f"Saved: {written}"

    def _show_target(self, text: str) -> None:
        """Say which file is meant, so that what is saved where is seen beforehand."""
        self._saved.text = ""
        try:
            self._path.note = f"Full name: {target_path(text)}"
            self._path.refuse(None)
        except ExperimentError as error:
            self._path.refuse(refusal_of(error))

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
        """Show the state: the verdict first, the fields that changed, then the rest."""
        if change is Change.FORM:
            self._fill()
        elif change is Change.TRIALS:
            for widget in self._table.fit():
                close_tree(widget)
        outcome = self.state.outcome
        self._results.show(self.state)
        self._shared.show(outcome)
        self._table.show(outcome)
        for place, field in self._fields.items():
            field.refuse(outcome.refusals.get(place))
        self._instruments.value = instruments_html(outcome.experiment)
        self._report.value = ""
        self._saved.text = ""

    def _fill(self) -> None:
        """Fill every field anew with another experiment."""
        form = self.state.form
        ready = self.state.name in experiments.names()
        self._choice.value = self.state.name if ready else _ANY_FILE
        self._about.value = about_html(self.state.experiment)
        self._fields[Place("candidates")].input.value = form.candidates
        self._fields[Place("candidates")].input.rows = min(form.candidates.count("\n") + 2, 14)
        self._fields[Place("coverage")].input.value = form.coverage
        self._fields[Place("title")].input.value = form.title
        self._invented.value = form.invented
        self._path.input.value = self.state.suggested_path
        self._replace.value = False
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
            rows.append(_row(step.box, spread.box))
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


def _title(name: str) -> str:
    return f"{tomllib.loads(experiments.read(name))['title']} ({name})"


def _row(*widgets: ipywidgets.Widget) -> ipywidgets.Box:
    row = ipywidgets.Box(list(widgets))
    row.add_class("stoichkit-row")
    return row


def _halves(*parts: list[ipywidgets.Widget]) -> ipywidgets.Box:
    box = ipywidgets.Box([ipywidgets.VBox(part) for part in parts])
    box.add_class("stoichkit-halves")
    return box


def _labelled(widget: ipywidgets.Widget) -> ipywidgets.Box:
    box = ipywidgets.VBox([widget])
    box.add_class("stoichkit-labelled")
    return box
