"""The panel “Class”: a thin skin over a :class:`ClassState`."""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from functools import partial
from typing import Any

import ipywidgets

from .. import experiments
from ..class_result import ClassResult
from ..classevidence import STOPPED
from ..experiment import Experiment
from .chooser import ANY_FILE, ready_choice, row
from .class_columns import ColumnChoices
from .class_keeper import ClassKeeper
from .class_results import ClassResults
from .class_state import ClassChange, ClassState, Found
from .class_table import ratio_sets
from .class_views import class_parts
from .fields import Field, LiveText, close_tree, guarded, heading, style_sheet
from .rest import Rest
from .result_html import about_html, instruments_html
from .state import ReadingsState
from .work import Report, Work

__all__ = ["ClassPanel", "class_panel"]

_PAUSE_S = 0.3
_FILE = frozenset({ClassChange.FILE, ClassChange.MATCHING})


class ClassPanel(ipywidgets.VBox):  # type: ignore[misc]
    """Open the file of a class; see what each group and the class as a whole can say.

    Parameters
    ----------
    state : ClassState or ReadingsState
        The latter is shared with other panels: its experiment holds for every group.
    chooser : bool
        Whether the panel has its own list of ready experiments.

    Attributes
    ----------
    state : ClassState
    message : LiveText
        Shows what went wrong in a callback.
    results : ClassResults
    choices : ColumnChoices
    keeper : ClassKeeper
    rest : Rest
        Lets the panel rest while it cannot be seen.
    """

    def __init__(self, state: ClassState | ReadingsState, *, chooser: bool = True) -> None:
        self.state = state if isinstance(state, ClassState) else ClassState(state)
        self.message = LiveText(role="alert", look="stoichkit-alert")
        self.results = ClassResults(self.state, self.message)
        self.choices = ColumnChoices(self.state, self.message)
        self.keeper = ClassKeeper(self.state, self.message)
        self._work = Work()
        self._stopping = threading.Event()
        self._filling = False
        self._choice = ready_choice() if chooser else None
        self._about, self._instruments = ipywidgets.HTML(), ipywidgets.HTML()
        self._file = LiveText(look="stoichkit-status")
        self._make_controls()
        choice = [] if self._choice is None else [self._choice]
        experiment = [heading("Experiment"), *choice, self._about, self._instruments]
        left = ipywidgets.VBox([*experiment, *self._opening()])
        right = ipywidgets.VBox(
            [*self.results.first(), row(self._stop, self._again), self.results.opening]
        )
        columns = ipywidgets.Box([left, right])
        columns.add_class("stoichkit-columns")
        title = ipywidgets.HTML("<h2>Class</h2>")
        super().__init__(
            [
                style_sheet(),
                title,
                self.message,
                columns,
                *self._reading(),
                self.results.rest,
                *self.keeper.parts,
            ]
        )
        self.add_class("stoichkit-panel")
        self.add_class("stoichkit-class")
        self.rest: Rest[frozenset[ClassChange]] = Rest(self._follow, frozenset.union)
        self._unsubscribe = self.state.subscribe(lambda change: self.rest(frozenset({change})))
        guarded(self.message, self._follow)(frozenset({ClassChange.RECORD, ClassChange.FILE}))

    def __repr__(self) -> str:
        return (
            f"Panel “Class” on “{self.state.experiment.title}”: run this cell in a notebook to "
            "use it."
        )

    def close(self) -> None:
        """Close the panel with everything in it, and stop what it is working out."""
        self._work.stop()
        self.keeper.stop()
        self._unsubscribe()
        self.state.stop_following()
        close_tree(self)

    # Controls

    def _button(self, words: str, action: Callable[[], object]) -> ipywidgets.Button:
        button = ipywidgets.Button(description=words)
        button.on_click(self._guard(lambda _: action()))
        return button

    def _guard(self, function: Callable[[Any], object]) -> Callable[..., None]:
        return guarded(self.message, function)

    def _make_controls(self) -> None:
        if self._choice is not None:
            self._choice.observe(self._guard(self._open_experiment), names="value")
        self._upload = ipywidgets.FileUpload(
            accept=".csv,.xlsx,.txt,.tsv", multiple=False, description="Open a CSV or XLSX file"
        )
        self._upload.observe(self._guard(self._open_upload), names="value")
        self._path = Field(
            "Path of a file",
            "",
            lambda _: None,
            self.message,
            note="in full, or beside the notebook; also for files too large to be sent here",
        )
        self._sheet = Field(
            "Sheet of the workbook",
            "",
            self._set_sheet,
            self.message,
            note="empty: the first one with cells",
        )
        self._codes = ipywidgets.Checkbox(
            description="Codes G01, G02, … instead of names", indent=False
        )
        self._codes.observe(
            self._guard(lambda change: self.state.set_codes(change["new"])), names="value"
        )
        self._stop = self._button("Stop", self._stop_work)
        self._again = self._button("Work it out again", self._begin)

    def _opening(self) -> list[ipywidgets.Widget]:
        return [
            heading("File of the class"),
            ipywidgets.HTML(
                '<p class="stoichkit-note">One row a trial, with a header; a column names the '
                "group. The file is only read, and nothing in it leaves this computer.</p>"
            ),
            row(self._upload, self._button("Load the invented class", self.state.open_invented)),
            self._path.box,
            row(self._button("Open this path", self._open_path)),
            self._sheet.box,
            self._codes,
            self._file,
        ]

    def _reading(self) -> list[ipywidgets.Widget]:
        return [
            heading("How the file is read"),
            self.results.preview,
            self.choices.box,
            self.results.problems,
        ]

    # What the controls do

    def _open_experiment(self, change: Any) -> None:
        if change["new"] != ANY_FILE and not self._filling:
            self.state.readings.load(change["new"])

    def _open_upload(self, change: Any) -> None:
        if not change["new"]:
            return
        file = change["new"][0]
        content, name = bytes(file["content"]), str(file["name"])
        self._upload.value = ()
        self.state.open_bytes(content, name)

    def _open_path(self) -> None:
        self.state.open_path(self._path.input.value)

    def _set_sheet(self, text: str) -> None:
        if not self._filling:
            self.state.set_sheet(text)

    # Working it out

    def _begin(self) -> None:
        """Work out what the class says, from the file as it is matched now."""
        state = self.state
        self._work.stop()
        state.found = state.table = None
        self.results.show_result()
        if not state.ready:
            self._say("" if state.refusal is None else f"Not worked out: {state.refusal}")
            return
        self._say("Being worked out …")
        self._stopping = threading.Event()
        self._work.start(
            partial(state.work_out, stopping=self._stopping.is_set),
            done=guarded(self.message, self._take),
            failed=guarded(self.message, self._failed),
            progress=self._say,
            delay_s=_PAUSE_S,
        )

    def _take(self, found: Found) -> None:
        self.state.take(found)
        self._say("The pictures and the class together are being worked out …")
        self._work.start(
            partial(_sections, found.result),
            done=guarded(self.message, self._show_parts),
            failed=guarded(self.message, self._failed),
            progress=self._say,
        )

    def _show_parts(self, found: tuple[Mapping[str, str], Mapping[str, str]]) -> None:
        parts, sets = found
        if self.state.table is not None:
            self.state.table.ratio_sets = sets
        result = self.state.result
        if result is not None:
            self.results.take_parts(result, parts)
        if self._stopping.is_set() and result is not None:
            left = sum(why == STOPPED for why in result.evidence.not_assessed.values())
            self._say(f"Stopped: {left} groups were not assessed. Slips are not all looked for.")
        else:
            self._say("Up to date.")

    def _failed(self, error: Exception) -> None:
        self._say(f"Not worked out: {error}")
        raise error

    def _say(self, words: str) -> None:
        self.results.status.text = words

    def _stop_work(self) -> None:
        """Stop at the next group and show what is done by then."""
        if not self._work.running:
            self._say("Nothing is being worked out.")
        elif self.state.found is None:
            self._stopping.set()
            self._say("Stopping after this step …")
        else:
            self._work.stop()
            self._say("Stopped: the pictures and the class together were not worked out.")

    # What follows from a change of the state

    def _follow(self, changes: frozenset[ClassChange]) -> None:
        """Show what has changed of the state."""
        if ClassChange.RECORD in changes:
            if self.state.follow_record():
                changes |= _FILE
            self._show_experiment()
        if changes & _FILE:
            self._show_file()
            self._begin()
        elif ClassChange.RESULT in changes:
            self.results.show_result()
        elif ClassChange.VIEW in changes:
            self.results.show_groups()
        if ClassChange.GROUP in changes:
            self.results.show_groups()
            self.results.show_group()

    def _show_experiment(self) -> None:
        state = self.state
        if self._choice is not None:
            known = state.readings.name in experiments.names()
            self._filling = True
            try:
                self._choice.value = state.readings.name if known else ANY_FILE
            finally:
                self._filling = False
        self._about.value = about_html(state.experiment)
        self._instruments.value = instruments_html(state.experiment)

    def _show_file(self) -> None:
        state = self.state
        self._filling = True
        try:
            self._codes.value = state.codes
            self._sheet.show(state.sheet)
        finally:
            self._filling = False
        workbook = state.sheet or (state.preview is not None and "XLSX" in state.preview.layout)
        self._sheet.box.layout.display = None if workbook else "none"
        self._file.text = _file_words(state)
        self.results.show_file()
        self.choices.show()
        self.keeper.forget()


def _sections(result: ClassResult, report: Report) -> tuple[Mapping[str, str], Mapping[str, str]]:
    """Work out the sections that take longer, and the ratio sets of the groups."""

    def progress(done: int, total: int) -> None:
        report(f"Ratios that group {done} of {total} does not exclude …")

    report("Putting the class together …")
    parts = class_parts(result, progress=progress)
    return parts, ratio_sets(result)


def _file_words(state: ClassState) -> str:
    if not state.opened:
        return "No file is open."
    name = "a file, its name not shown," if state.codes else state.file_name or "a file"
    layout = f" ({state.preview.layout})" if state.preview is not None else ""
    return f"Open: {name}{layout}."


def class_panel(experiment_or_name: Experiment | str = "copper-silver") -> ClassPanel:
    """Return the panel “Class” for a notebook.

    Parameters
    ----------
    experiment_or_name : Experiment or str
        A record, the name of a ready experiment, or the text of an experiment file.

    Returns
    -------
    ClassPanel
        A widget; its ``state`` is a :class:`.ClassState`, and ``close()`` closes all of it.

    Raises
    ------
    ExperimentError
        If there is no such experiment, or the text is faulty.

    Examples
    --------
    >>> panel = class_panel("copper-silver")
    >>> panel.state.open_invented()
    >>> panel.results.verdict.text
    'Together the 9 groups single out copper(II). Copper(I) is excluded (p < 0.0001).'
    >>> panel.close()
    """
    return ClassPanel(ClassState(experiment_or_name))
