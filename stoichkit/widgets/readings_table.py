"""The table of typed readings: rows in the order they are made, one column a trial."""

from __future__ import annotations

import html
from collections.abc import Mapping
from functools import partial

import ipywidgets

from .evaluation import Outcome
from .fields import Field, LiveText
from .form import ALL_TRIALS, Place, Row
from .state import ReadingsState

__all__ = ["ReadingsTable"]


class ReadingsTable:
    """Text fields for the readings of every trial, or for those that serve all trials.

    The tab key walks down the readings of one trial, then goes on to the next. Only the
    columns that changed are made or closed when trials are added or removed.

    Parameters
    ----------
    state : ReadingsState
    area : LiveText
        Shows errors of the callbacks.
    shared : bool
        Whether to show the readings that serve all trials.

    Attributes
    ----------
    box : ipywidgets.GridBox
    """

    def __init__(self, state: ReadingsState, area: LiveText, *, shared: bool) -> None:
        self._state, self._area, self._shared = state, area, shared
        self._fields: dict[Place, Field] = {}
        self._notes: list[ipywidgets.HTML] = []
        self.box = ipywidgets.GridBox(
            layout={
                "grid_auto_flow": "column",
                "grid_template_columns": "minmax(9em, max-content)",
                "grid_auto_columns": "minmax(6.5em, 12em)",
                "grid_gap": "2px 8px",
                "width": "100%",
            }
        )
        self.box.add_class("stoichkit-readings")

    @property
    def rows(self) -> tuple[Row, ...]:
        """The readings shown."""
        return tuple(row for row in self._state.form.rows if row.shared == self._shared)

    def rebuild(self) -> list[ipywidgets.Widget]:
        """Make all fields anew for another experiment; return the widgets no longer used."""
        old = list(self.box.children)
        self._fields, self._notes = {}, []
        rows = self.rows
        self.box.layout.grid_template_rows = f"repeat({len(rows) + 2}, auto)"
        self.box.layout.display = None if rows else "none"
        corner = "For all trials" if self._shared else "Reading"
        labels = [_head(corner), *(_label(row.label) for row in rows), _label("")]
        self.box.children = (*labels, *self._new_columns())
        return old

    def fit(self) -> list[ipywidgets.Widget]:
        """Add or drop columns at the end; return the widgets no longer used."""
        height = len(self.rows) + 2
        wanted = height * (1 + self._wanted())
        old = list(self.box.children[wanted:])
        if old:
            self.box.children = self.box.children[:wanted]
            self._notes = self._notes[: self._wanted()]
            self._fields = {p: f for p, f in self._fields.items() if p.trial < self._wanted()}
        elif added := self._new_columns():
            self.box.children = (*self.box.children, *added)
        return old

    def show(self, outcome: Outcome) -> None:
        """Show each text, whether it is refused, and below each trial what holds."""
        form = self._state.form
        for place, field in self._fields.items():
            texts = form.shared if self._shared else form.trials[place.trial].readings
            field.show(texts[place.name])
            field.refuse(outcome.refusals.get(place), whole=False)
        if self._shared:
            return
        for index, note in enumerate(self._notes):
            name = self._state.form.trials[index].name
            refusal = outcome.refusals.get(Place("trial", index))
            if refusal is not None:
                text = f'<p class="stoichkit-refusal">Not used: {html.escape(str(refusal))}</p>'
            elif name in outcome.left_out:
                text = '<p class="stoichkit-note">Empty, left out</p>'
            else:
                text = ""
            if note.value != text:
                note.value = text

    def _wanted(self) -> int:
        return 1 if self._shared else len(self._state.form.trials)

    def _new_columns(self) -> list[ipywidgets.Widget]:
        """Make the columns that are not there yet."""
        added: list[ipywidgets.Widget] = []
        for index in range(len(self._notes), self._wanted()):
            if self._shared:
                added += self._column(ALL_TRIALS, "all trials", self._state.form.shared)
            else:
                trial = self._state.form.trials[index]
                added += self._column(index, trial.name, trial.readings)
        return added

    def _column(self, index: int, name: str, texts: Mapping[str, str]) -> list[ipywidgets.Widget]:
        column: list[ipywidgets.Widget] = [_head("" if self._shared else name)]
        for row in self.rows:
            field = Field(
                f"{name}: {row.label}",
                texts.get(row.name, ""),
                partial(self._state.set_reading, index, row.name),
                self._area,
                lines=2 if row.repeated else 0,
                label_hidden=True,
                on_leave=self._state.history.settle,
            )
            self._fields[Place("reading", index, row.name)] = field
            column.append(field.box)
        self._notes.append(ipywidgets.HTML())
        return [*column, self._notes[-1]]


def _head(text: str) -> ipywidgets.HTML:
    return ipywidgets.HTML(f'<div class="stoichkit-head">{html.escape(text)}</div>')


def _label(text: str) -> ipywidgets.HTML:
    return ipywidgets.HTML(f'<div class="stoichkit-name">{html.escape(text)}</div>')
