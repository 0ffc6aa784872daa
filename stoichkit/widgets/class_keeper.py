"""Controls that save what a class says."""

from __future__ import annotations

from pathlib import Path
from typing import Any, NoReturn

import ipywidgets

from ..errors import StoichkitError
from .choice import Choice
from .chooser import row
from .class_results import halves
from .class_saving import KINDS, MARKS, class_target, saveable, write_class
from .class_state import ClassState
from .evaluation import refusal_of
from .fields import Field, LiveText, guarded, heading
from .work import Work

__all__ = ["ClassKeeper"]


class ClassKeeper:
    """Saves results, answer key and reports of a class.

    Parameters
    ----------
    state : ClassState
    area : LiveText
        Shows errors.

    Attributes
    ----------
    parts : list of widgets
        To be put into a panel.
    """

    def __init__(self, state: ClassState, area: LiveText) -> None:
        self._state, self._area = state, area
        self._work = Work()
        self._saved = LiveText()
        kinds = [(kind.words, name) for name, kind in KINDS.items()]
        self._kind = Choice("What to save", kinds, "report")
        self._kind.observe(guarded(area, self._propose), names="value")
        self._marks = Choice("Marks in CSV files", [(words, words) for words in MARKS])
        self._target = Field("Save as", "", self._show_target, area)
        self._replace = ipywidgets.Checkbox(
            description="A file of this name may be replaced", indent=False
        )
        self._propose({"new": "report"})
        button = ipywidgets.Button(description="Save")
        button.on_click(guarded(area, lambda _: self._save()))
        self.parts = [
            heading("Save"),
            halves(self._kind, self._marks),
            self._target.box,
            self._replace,
            row(button),
            self._saved,
        ]

    def forget(self) -> None:
        """Forget what was saved of another file."""
        self._saved.text = ""

    def stop(self) -> None:
        """Stop what is being written."""
        self._work.stop()

    def _propose(self, change: Any) -> None:
        """Propose a name for what is to be saved, unless one was typed."""
        if self._target.input.value in ("", *(kind.name for kind in KINDS.values())):
            self._target.show(KINDS[change["new"]].name)
        else:
            self._show_target(self._target.input.value)

    def _show_target(self, text: str) -> None:
        """Say which file is meant, or why none."""
        self._saved.text = ""
        try:
            target = class_target(self._state, self._kind.value, text, replace_file=True)
        except StoichkitError as error:
            self._target.refuse(refusal_of(error))
        else:
            self._target.note = f"Full name: {target}"
            self._target.refuse(None)

    def _save(self) -> None:
        self._saved.text = ""
        kind, path, replace = self._kind.value, self._target.input.value, self._replace.value
        try:
            saveable(self._state)
            class_target(self._state, kind, path, replace_file=replace)
        except StoichkitError as error:
            self._not_saved(error)
        self._saved.text = "Being written …"
        self._work.start(
            lambda report: write_class(
                self._state,
                kind,
                path,
                marks=self._marks.value,
                replace_file=replace,
                report=report,
            ),
            done=guarded(self._area, self._show_saved),
            failed=guarded(self._area, self._not_saved),
            progress=self._say_saving,
        )

    def _show_saved(self, written: Path) -> None:
        self._saved.text = f"Saved: {written}"

    def _not_saved(self, error: Exception) -> NoReturn:
        self._saved.text = f"Not saved. {error}"
        raise error

    def _say_saving(self, words: str) -> None:
        self._saved.text = words
