"""The screens of a lab in a notebook, a few parts of them alone, and what a saved one shows."""

from __future__ import annotations

from collections.abc import Sequence
from importlib import import_module
from pathlib import Path
from typing import Any

import traitlets

from ..decision.statement import verdict_sentences
from ..experiments.record import Experiment
from ..text.html import escaped, html_heading
from .kit.work import TURN, Later
from .notebook import PageWidget
from .state.lab import LabState
from .view.every import SCREENS, screens_of
from .view.frame import Screen
from .view.head import Head
from .view.parts import Parts
from .view.readings import ReadingsScreen
from .view.still import still_html

_STILL_S = 1.0


class LabScreen(PageWidget):
    """Screens of one lab in a notebook.

    Attributes
    ----------
    experiment : Experiment
        The record that the answer is of; can be observed.
    evidence : Evidence or None
    verdict : Verdict or None
    lab : LabState
        What all screens share.
    """

    experiment = traitlets.Any(None, allow_none=True)
    evidence = traitlets.Any(None, allow_none=True)
    verdict = traitlets.Any(None, allow_none=True)

    def __init__(
        self, lab: LabState, screens: Sequence[Screen], head: Head | None, *, still: bool = True
    ) -> None:
        super().__init__(
            screens,
            head=head.region if head is not None else None,
            after=self._after,
            left=lab.history.settle,
        )
        if head is not None:
            head.frame = self.frame
        self.lab = lab
        self._still: Any = None
        self._wants_still = still
        self._draw_still = Later(_STILL_S)
        self._stop = lab.subscribe(self._told)
        self._mine = False
        self._share()

    # Others who show the same lab

    def _after(self) -> None:
        self._mine = True
        try:
            self.lab.tell()
        finally:
            self._mine = False

    def _told(self, _: None) -> None:
        self._share()
        if self._still is not None:
            self._draw_still(self._renew_still)
        if not self._mine:
            self.frame.changed()

    def _share(self) -> None:
        outcome = self.lab.outcome
        if self.evidence is not outcome.evidence:
            self.experiment, self.evidence = outcome.experiment, outcome.evidence
            self.verdict = self.lab.verdict

    # What a saved notebook shows

    def _repr_mimebundle_(self, **more: Any) -> Any:
        bundle = super()._repr_mimebundle_(**more)
        data = bundle[0] if isinstance(bundle, tuple) else bundle
        if data is not None:
            data["text/plain"] = self.words
        return bundle

    @property
    def words(self) -> str:
        """The answer as plain text; of a screen that asks, only how far it is."""
        screen = self.frame.screens[self.frame.shown]
        if said := getattr(screen, "still_words", ""):
            return str(said)
        if self.lab.evidence is None:
            return "There is no verdict yet."
        title = self.lab.experiment.title
        return f"{title}: {verdict_sentences(self.lab.evidence)}"

    def _ipython_display_(self) -> None:
        _show(self._repr_mimebundle_()[0], raw=True)
        if self._wants_still:
            self._still = _show(_html(self.still_html()), display_id=True)

    def still_html(self) -> str:
        """Return what is shown as HTML that needs neither scripts nor a kernel."""
        return (
            f'<div data-stoichkit-still="{escaped(self.key)}">'
            f"{html_heading(self.lab.experiment.title, 3)}{still_html(self.frame)}"
            "<p><em>This is how the screen stood. To go on, run the cell above again: what was "
            "typed comes back.</em></p></div>"
        )

    def _renew_still(self) -> None:
        if self._still is not None:
            with TURN:
                self._still.update(_html(self.still_html()))

    def close(self) -> None:
        """End the widget; what was typed is written."""
        self._stop()
        self._draw_still.stop()
        super().close()


def _show(*things: Any, **how: Any) -> Any:
    return import_module("IPython.display").display(*things, **how)


def _html(text: str) -> Any:
    return import_module("IPython.display").HTML(text)


Folder = str | Path | None
Source = Experiment | str | LabState | LabScreen
"""What a screen can be opened on: a record, a name, a file; what shows a lab shares it."""


def lab_of(source: Source, *, autosave: bool = True, folder: Folder = None) -> LabState:
    """Return the lab that a source stands for; the same one where it is shown already.

    >>> lab = lab_of("tin-oxide", autosave=False)
    >>> lab_of(lab) is lab
    True
    """
    if isinstance(source, LabScreen):
        return source.lab
    if isinstance(source, LabState):
        return source
    return LabState(source, autosave=autosave, folder=folder)


def toolkit(
    source: Source = "copper-silver", *, autosave: bool = True, folder: Folder = None
) -> LabScreen:
    """Show all screens on one lab: readings, why, plan, class, working, study.

    Parameters
    ----------
    source : Experiment, str, LabState or LabScreen
        A record, the name of a ready lab, a file (``"my-lab.toml"``), or what shows a lab already.
    autosave : bool
        Whether what is typed is kept for a restart of the kernel.
    folder : str or path
        Where it is kept; ``.stoichkit`` beside the notebook if left out.
    """
    return _opened(source, tuple(SCREENS), autosave, folder)


def _opened(source: Source, keys: Sequence[str], autosave: bool, folder: Folder) -> LabScreen:
    lab = lab_of(source, autosave=autosave, folder=folder)
    return LabScreen(lab, screens_of(lab, keys), Head(lab))


def readings_panel(
    source: Source = "copper-silver", *, autosave: bool = True, folder: Folder = None
) -> LabScreen:
    """Show readings, verdict and picture of a lab."""
    return _opened(source, ("readings",), autosave, folder)


def causes_panel(
    source: Source = "copper-silver", *, autosave: bool = True, folder: Folder = None
) -> LabScreen:
    """Show what could explain a discrepancy: slips, causes with amounts, drying, stability."""
    return _opened(source, ("why",), autosave, folder)


def plan_panel(
    source: Source = "copper-silver", *, autosave: bool = True, folder: Folder = None
) -> LabScreen:
    """Show what a lab still to be done would tell, and plan it."""
    return _opened(source, ("plan",), autosave, folder)


def class_panel(
    source: Source = "copper-silver", *, autosave: bool = True, folder: Folder = None
) -> LabScreen:
    """Show the results of a class."""
    return _opened(source, ("class",), autosave, folder)


def worked_panel(
    source: Source = "copper-silver", *, autosave: bool = True, folder: Folder = None
) -> LabScreen:
    """Show the worked solution of a lab."""
    return _opened(source, ("working",), autosave, folder)


def study_panel(
    source: Source = "copper-silver", *, autosave: bool = True, folder: Folder = None
) -> LabScreen:
    """Ask the questions of a lab one by one."""
    return _opened(source, ("study",), autosave, folder)


def _parts(source: Source, names: Sequence[str]) -> LabScreen:
    lab = lab_of(source, autosave=False)
    return LabScreen(lab, [Parts(ReadingsScreen(lab), names)], None, still=False)


def readings_sheet(source: Source = "copper-silver") -> LabScreen:
    """Show the sheet of readings alone."""
    return _parts(source, ("sheet",))


def lab_settings(source: Source = "copper-silver") -> LabScreen:
    """Show what was weighed, the candidates, instruments and assumptions alone."""
    return _parts(source, ("lab", "chips"))


def verdict_card(source: Source = "copper-silver") -> LabScreen:
    """Show the verdict alone, with the candidates as rows."""
    return _parts(source, ("verdict", "candidates"))


def amounts_picture(source: Source = "copper-silver") -> LabScreen:
    """Show the picture of the amounts alone."""
    return _parts(source, ("picture",))


def balance_step(source: Source = "copper-silver") -> LabScreen:
    """Show the control for the step of the balance alone."""
    return _parts(source, ("step", "could"))


def trust_lines(source: Source = "copper-silver") -> LabScreen:
    """Show the diagnosis and what would overturn the verdict alone."""
    return _parts(source, ("why",))
