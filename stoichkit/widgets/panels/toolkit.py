"""All panels on one experiment as tabs: a thin skin over a :class:`ToolkitState`."""

from __future__ import annotations

import os
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import ipywidgets

from ..._common import check_ending
from ...experiments.record import Experiment
from ...text.html import escaped
from ...uncertainty import entry
from ..kit.controls import LiveText, button, close_tree, guarded, row, style_sheet
from ..state.readings import Change
from ..state.toolkit import ToolkitState
from .balance import BalancePanel
from .causes import CausesPanel
from .chooser import ExperimentChooser, ExperimentKeeper
from .classroom import ClassPanel
from .plan import PlanPanel
from .readings import ReadingsPanel
from .worked import WorkedPanel

_MOST_WORDS = 44
_WEIGHING = 1
"""Position of the tab that needs an experiment with a balance."""


class Toolkit(ipywidgets.VBox):  # type: ignore[misc]
    """The panels as tabs, with one place to choose the experiment, to undo and to save.

    Only the panel of the chosen tab works; the others are made when they are first chosen, and
    rest while they cannot be seen.
    """

    def __init__(self, state: ToolkitState) -> None:
        self.state = state
        self.message = LiveText(role="alert", look="stoichkit-alert")
        self.notice = LiveText(look="stoichkit-status")
        self.panels: dict[int, Any] = {}
        self._own = LiveText()
        self._errors: dict[str, str] = {}
        self._passing = ""
        self._chooser: ExperimentChooser
        self._make_controls()
        self._builders: tuple[tuple[str, Callable[[], Any]], ...] = (
            ("Readings and verdict", lambda: ReadingsPanel(state.readings, chooser=False)),
            ("What the balance can tell", self._balance_panel),
            ("Plan a lab", lambda: PlanPanel(state.plan, chooser=False)),
            ("Causes", lambda: CausesPanel(state.causes)),
            ("Class", lambda: ClassPanel(state.readings, chooser=False)),
            ("Worked solution", lambda: WorkedPanel(state.readings, chooser=False)),
        )
        self._places = [ipywidgets.VBox() for _ in self._builders]
        self.tabs = ipywidgets.Tab(
            children=self._places,
            titles=[title for title, _ in self._builders],
            selected_index=0,
        )
        self.tabs.add_class("stoichkit-tabs")
        super().__init__(
            [
                style_sheet(),
                self.message,
                self._offer_box,
                self._chooser.box,
                self._save_box,
                row(self._undo, self._redo, self._afresh, self._forget),
                self.notice,
                self.tabs,
            ]
        )
        self.add_class("stoichkit-panel")
        self.add_class("stoichkit-toolkit")
        self._stops = [
            state.readings.subscribe(self._follow),
            state.history.subscribe(self._show_steps),
        ]
        state.subscribe(self._show_notes)
        self.tabs.observe(self._guard(self._turn), names="selected_index")
        self._guard(self._turn)({"old": None, "new": 0})
        self._follow(Change.FORM)
        self._show_steps()
        self._show_notes()
        self._show_restored()

    def __repr__(self) -> str:
        return (
            f"The stoichkit panels on “{self.state.readings.form.title}”: run this cell in a "
            "notebook to use them."
        )

    def close(self) -> None:
        """Close all panels with everything in them; what was typed is kept."""
        for stop in self._stops:
            stop()
        self.state.close()
        for panel in self.panels.values():
            panel.close()
        close_tree(self)
        for widget in (self._own, self._weigh_note):
            close_tree(widget)

    # Controls

    def _make_controls(self) -> None:
        self._own.observe(lambda change: self._say("", change["new"]), names="text")
        self._saving = ipywidgets.ToggleButton(description="Save …")
        self._saving.observe(self._guard(self._show_saving), names="value")
        self._chooser = ExperimentChooser(self.state.readings, self._own, (self._saving,))
        self._keeper = ExperimentKeeper(self.state.readings, self._own)
        self._save_box = ipywidgets.VBox(self._keeper.parts, layout={"display": "none"})
        self._undo = button("Undo", self._own, self._take_back)
        self._redo = button("Redo", self._own, self._do_again)
        self._afresh = button("Start afresh", self._own, self._start_afresh)
        self._afresh.layout.display = "none"
        self._offer = LiveText(look="stoichkit-status")
        self._offer_box = row(
            self._offer,
            button("Restore it", self._own, self._restore_offered),
            button("Leave it", self._own, self._leave_offered),
        )
        self._forget = button("Clear the messages", self._own, self._forget_errors)
        self._forget.layout.display = "none"
        self._weigh_note = ipywidgets.HTML()

    def _guard(self, function: Callable[[Any], object]) -> Callable[..., None]:
        return guarded(self._own, function)

    def _balance_panel(self) -> Any:
        balance = self.state.balance
        if balance is None or self.state.balance_problem:
            return None
        return BalancePanel(balance, chooser=False)

    # What the controls do

    def _show_saving(self, change: Any) -> None:
        self._save_box.layout.display = None if change["new"] else "none"

    def _take_back(self) -> None:
        self._notify(f"Undone: {self.state.history.undo()}.")

    def _do_again(self) -> None:
        self._notify(f"Done again: {self.state.history.redo()}.")

    def _notify(self, words: str) -> None:
        self._passing = self.notice.text = words

    def _forget_errors(self) -> None:
        self.state.notes.clear()
        for panel in self.panels.values():
            panel.message.text = ""
        self._errors.clear()
        self._say("", "")

    def _start_afresh(self) -> None:
        self.state.start_afresh()
        self._notify("Started afresh; undo brings back what was restored.")
        self._afresh.layout.display = "none"

    def _restore_offered(self) -> None:
        self.state.restore_offered()
        self._show_restored()

    def _leave_offered(self) -> None:
        self.state.leave_offered()
        self._show_restored()

    # One panel at a time

    def _turn(self, change: Any) -> None:
        """Make or wake the panel of the chosen tab; the one before rests."""
        for index, panel in self.panels.items():
            if index != change["new"]:
                panel.rest.sleep()
        index = change["new"]
        if index is None:
            return
        title, build = self._builders[index]
        if index not in self.panels and (panel := build()) is not None:
            self.panels[index] = panel
            panel.message.layout.display = "none"  # shown above the tabs
            panel.message.observe(partial(self._relay, title), names="text")
            self._say(title, panel.message.text)
            self._places[index].children = [panel]
        if index in self.panels:
            self.panels[index].rest.wake()
        self._show_weighing()

    def _show_weighing(self) -> None:
        """Say in its place why the panel on balances cannot follow the experiment."""
        problem = self.state.balance_problem
        self._weigh_note.value = f"<p>{escaped(problem)}</p>" if problem else ""
        panel = self.panels.get(_WEIGHING)
        wanted = (self._weigh_note,) if problem or panel is None else (panel,)
        if self._places[_WEIGHING].children != wanted:
            self._places[_WEIGHING].children = wanted

    def _relay(self, title: str, change: Any) -> None:
        self._say(title, change["new"])

    def _say(self, title: str, words: str) -> None:
        """Show the errors in force, each with the panel it comes from."""
        self._errors = {t: w for t, w in {**self._errors, title: words}.items() if w}
        self._forget.layout.display = None if self._errors else "none"
        self.message.text = " ".join(f"{t}: {w}" if t else w for t, w in self._errors.items())

    # What follows from a change

    def _follow(self, change: Change) -> None:
        if change is Change.FORM:
            self._chooser.follow()
        self._keeper.follow(loaded=change is Change.FORM)
        if self.tabs.selected_index == _WEIGHING and not self.state.balance_problem:
            self._turn({"new": _WEIGHING})  # its panel may be made only now
        self._show_weighing()

    def _show_steps(self) -> None:
        """Say on the buttons what they do; they stay usable, so that the focus stays on them."""
        history = self.state.history
        if self._passing and self.notice.text == self._passing and not history.can_redo:
            self._notify("")
        self._undo.description = _named("Undo", history.undo_words)
        self._redo.description = _named("Redo", history.redo_words)

    def _show_notes(self) -> None:
        self._say("Keeping what is typed", " ".join(self.state.notes))

    def _show_restored(self) -> None:
        offered = self.state.offered
        self._offer.text = f"There is what was {offered}." if offered else ""
        self._offer_box.layout.display = None if offered else "none"
        if self.state.restored:
            self.notice.text = f"Restored what was typed at {self.state.restored}."
            self._afresh.layout.display = None


def _named(verb: str, words: str) -> str:
    if not words:
        return f"{verb}: nothing"
    short = words if len(words) <= _MOST_WORDS else f"{words[: _MOST_WORDS - 1]}…"
    return f"{verb}: {short}"


def toolkit(
    experiment_or_name: Experiment | str | None = None,
    *,
    autosave: bool = True,
    folder: str | Path | None = None,
) -> Toolkit:
    """Return all panels as tabs on one experiment, for a notebook.

    What is typed is kept in a file in the hidden folder ``.stoichkit`` and restored when the
    toolkit is made again after a restart of the kernel. What another session typed is offered, and
    restored only when asked for. A page that serves many people from one folder without their own
    notebooks keeps nothing, unless a folder is given.

    Parameters
    ----------
    experiment_or_name : Experiment or str, optional
        A record, the name of a ready experiment, or the text of an experiment file; the ready
        experiment ``"copper-silver"`` if left out.
    autosave : bool
        Whether what is typed is kept and restored.
    folder : path-like, optional
        Where it is kept, instead of ``.stoichkit`` in the present folder.

    ``close()`` closes all of it; what is refused is as for :func:`readings_panel`.

    Examples
    --------
    >>> panels = toolkit("copper-silver", autosave=False)
    >>> panels.tabs.titles[0]
    'Readings and verdict'
    >>> panels.close()
    """
    source = "copper-silver" if experiment_or_name is None else experiment_or_name
    folder = None if folder is None else check_ending(folder, ())
    keep = entry.flag("autosave", autosave) and (folder is not None or not _many_people())
    return Toolkit(ToolkitState(source, autosave=keep, folder=folder))


def _many_people() -> bool:
    """Whether the page is served to anybody who opens it, each with a kernel of their own."""
    return os.environ.get("SERVER_SOFTWARE", "").startswith("voila")
