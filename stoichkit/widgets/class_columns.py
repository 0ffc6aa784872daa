"""Lists from which the column of each reading of a class file is chosen."""

from __future__ import annotations

from functools import partial

import ipywidgets

from ..classheader import GROUP, TRIAL
from .choice import Choice
from .class_state import AUTOMATIC, ClassState
from .fields import LiveText, close_tree, guarded

__all__ = ["ColumnChoices"]

_NONE = ""
_WORDS = {GROUP: "Column of the group", TRIAL: "Column of the trial"}


class ColumnChoices:
    """One list of columns for each reading, the group and the trial.

    Parameters
    ----------
    state : ClassState
    area : LiveText
        Shows errors.

    Attributes
    ----------
    box : ipywidgets.Box
        To be put into a panel.
    lists : dict of str to Choice
        By field.
    """

    def __init__(self, state: ClassState, area: LiveText) -> None:
        self._state, self._area = state, area
        self._filling = False
        self.lists: dict[str, Choice] = {}
        self.box = ipywidgets.Box([])
        self.box.add_class("stoichkit-lists")

    def show(self) -> None:
        """Show the matching of the state."""
        fields = self._state.fields if self._state.opened else ()
        if tuple(self.lists) != fields:
            self._rebuild(fields)
        self._filling = True
        try:
            for field, one in self.lists.items():
                choice = self._state.choices.get(field, AUTOMATIC)
                one.offer(self._options(field), _NONE if choice is None else choice)
        finally:
            self._filling = False

    def _options(self, field: str) -> tuple[tuple[str, str], ...]:
        preview = self._state.preview
        own = preview.of(field) if preview is not None else ()
        by_header = "by its header"
        if field not in self._state.choices and preview is not None:
            by_header = f"{', '.join(column.label for column in own) or 'none'}, by its header"
        columns = ((label, letter) for letter, label in self._state.columns())
        return ((by_header, AUTOMATIC), *columns, ("– no column –", _NONE))

    def _rebuild(self, fields: tuple[str, ...]) -> None:
        old = self.box.children
        units = {role.name: role for role in self._state.experiment.roles()}
        self.lists = {}
        for field in fields:
            role = units.get(field)
            words = f"Column of {field}" + (f", {role.unit}" if role is not None else "")
            one = Choice(_WORDS.get(field, words), [("by its header", AUTOMATIC)])
            one.observe(guarded(self._area, partial(self._choose, field)), names="value")
            self.lists[field] = one
        self.box.children = tuple(self.lists.values())
        for widget in old:
            close_tree(widget)

    def _choose(self, field: str, change: dict[str, str]) -> None:
        if not self._filling:
            self._state.set_column(field, None if change["new"] == _NONE else change["new"])
