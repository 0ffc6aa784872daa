"""What a class says, as the panel shows it: verdict first, then groups, then the class together."""

from __future__ import annotations

from collections.abc import Mapping

import ipywidgets

from ..class_outlook_sentences import file_sentence
from ..class_result import ClassResult
from ..class_sentences import class_verdict_sentences
from ..wording import symbol
from .choice import Choice
from .chooser import row
from .class_html import groups_html, paragraph, preview_html, problems_html
from .class_state import ClassState
from .class_table import GroupTable
from .class_views import group_html
from .fields import Field, LiveText, guarded, heading

__all__ = ["ClassResults", "halves"]

_LATER = ("pictures", "pooled", "line", "outlook", "assumptions")


class ClassResults:
    """The panes that show a class and the controls that choose what of it is shown.

    Parameters
    ----------
    state : ClassState
    area : LiveText
        Shows errors.

    Attributes
    ----------
    verdict, status : LiveText
        The verdict of the class; what is being done, or whether it is up to date.
    opening, preview, problems, groups, detail : ipywidgets.HTML
    rest : ipywidgets.VBox
        Pictures, groups and the class together; hidden while there is no verdict.
    order, group : Choice
    part : Field
    worked, answers : ipywidgets.ToggleButton
    more : ipywidgets.Button
    """

    def __init__(self, state: ClassState, area: LiveText) -> None:
        self._state = state
        self._filling = False
        self.verdict = LiveText(look="stoichkit-verdict")
        self.status = LiveText(look="stoichkit-status")
        self.opening, self.preview, self.problems = (_pane() for _ in range(3))
        self.groups, self.detail = _pane(), _pane()
        self._later = {name: _pane() for name in _LATER}
        self.order = Choice("Order of the groups", [(words, words) for words in GroupTable.ORDERS])
        self.order.observe(guarded(area, lambda c: self._chosen("order", c["new"])), names="value")
        self.part = Field(
            "Only groups whose name holds", "", lambda text: self._chosen("part", text), area
        )
        self.more = ipywidgets.Button(description="Show more groups")
        self.more.on_click(guarded(area, lambda _: state.show_more()))
        self.group = Choice("Group", [("–", "")])
        self.group.observe(guarded(area, lambda c: self._chosen("group", c["new"])), names="value")
        self.worked = ipywidgets.ToggleButton(description="Worked solution")
        self.answers = ipywidgets.ToggleButton(description="Answer key")
        for toggle in (self.worked, self.answers):
            toggle.observe(guarded(area, lambda _: self.show_group()), names="value")
        self.rest = self._make_rest()
        self._parts: tuple[ClassResult | None, Mapping[str, str]] = (None, {})

    # Parts of the panel

    def first(self) -> list[ipywidgets.Widget]:
        """Return what an instructor reads first."""
        return [heading("Verdict of the class"), self.verdict, self.status]

    def _make_rest(self) -> ipywidgets.VBox:
        """Return the pictures, the groups, the group chosen and the class together."""
        later = self._later
        parts = [
            _several("stoichkit-columns", later["pictures"], later["line"]),
            heading("Groups"),
            halves(self.order, self.part.box),
            self.groups,
            row(self.more),
            heading("One group"),
            halves(self.group, ipywidgets.VBox([row(self.worked, self.answers)])),
            self.detail,
            heading("The class together"),
            later["pooled"],
            later["outlook"],
            later["assumptions"],
        ]
        return ipywidgets.VBox(parts, layout={"display": "none"})

    # Showing

    def show_file(self) -> None:
        """Show how the file is read, and forget what was worked out of another one."""
        state = self._state
        preview = state.preview
        self.preview.value = preview_html(preview, codes=state.codes) if preview else ""
        self.show_result()

    def show_result(self) -> None:
        """Show the verdict, the problems and the groups, or that there is nothing yet."""
        result = self._state.result
        self._show_parts()
        self.rest.layout.display = "none" if result is None else None
        self.verdict.look = "stoichkit-verdict" + ("" if result else " stoichkit-stale")
        if result is None:
            opened = self._state.opened
            self.problems.value = ""
            self.verdict.text = (
                "There is no verdict yet."
                if opened
                else "Open the file of a class, or load the invented one."
            )
        else:
            self.verdict.text = class_verdict_sentences(result)
            self.problems.value = paragraph(file_sentence(result)) + problems_html(
                result.data.problems
            )
        self.show_groups()
        self.show_group()

    def take_parts(self, result: ClassResult, parts: Mapping[str, str]) -> None:
        """Show the sections that take longer, if they are those of the result shown."""
        self._parts = (result, parts)
        self._show_parts()
        self.show_groups()

    def _show_parts(self) -> None:
        result, parts = self._parts
        if result is None or result is not self._state.result:
            parts = {}
        self.opening.value = parts.get("verdict", "") + parts.get("look at", "")
        for name, pane in self._later.items():
            pane.value = parts.get(name, "")

    def show_groups(self) -> None:
        """Show the table of groups, and from which of them one can be chosen."""
        state = self._state
        table, result = state.table, state.result
        shown = state.groups_shown()
        self._filling = True
        try:
            self.order.value = state.order
            self.part.show(state.part)
            names = shown if state.group in shown or not state.group else (state.group, *shown)
            options = [(_one_line(name), name) for name in names] or [("–", "")]
            self.group.offer(options, state.group if state.group in names else options[0][1])
        finally:
            self._filling = False
        if table is None or result is None:
            self.groups.value = ""
            self.more.disabled = True
            return
        total = len(table.names(state.order, state.part))
        made, used = result.experiment.produced.species, result.experiment.consumed.species
        lines = [table.line(name) for name in shown]
        ratio = f"{symbol(made)}/{symbol(used)}"
        self.groups.value = groups_html(lines, state.order, total, ratio)
        self.more.disabled = len(shown) >= total

    def show_group(self) -> None:
        """Show the group chosen."""
        state = self._state
        result, name = state.result, state.group
        if result is None or not name:
            self.detail.value = ""
            return
        self.detail.value = group_html(
            result, name, worked=self.worked.value, answers=self.answers.value
        )

    def _chosen(self, what: str, value: str) -> None:
        if self._filling:
            return
        if what == "order":
            self._state.set_order(value)
        elif what == "part":
            self._state.set_part(value)
        elif value:
            self._state.set_group(value)


def _one_line(name: str) -> str:
    return " ".join(name.split())[:80] or "(no name)"


def _pane() -> ipywidgets.HTML:
    return ipywidgets.HTML(layout={"width": "100%"})


def halves(*widgets: ipywidgets.Widget) -> ipywidgets.Box:
    """Return widgets in columns of equal width, below one another where there is no room."""
    return _several("stoichkit-halves", *map(_boxed, widgets))


def _boxed(widget: ipywidgets.Widget) -> ipywidgets.VBox:
    return ipywidgets.VBox([widget])


def _several(look: str, *widgets: ipywidgets.Widget) -> ipywidgets.Box:
    box = ipywidgets.Box(list(widgets))
    box.add_class(look)
    return box
