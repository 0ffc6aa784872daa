"""Panel “classroom”.

Lists from which the column of each reading of a class file is chosen.

What a class says, as pieces of HTML for the panel and for pages that read well without it.

What a class says, as the panel shows it: verdict first, then groups, then the class together.

Controls that save what a class says.

The panel “Class”: a thin skin over a :class:`ClassState`.
"""

from __future__ import annotations

import threading
from collections.abc import Mapping
from functools import partial
from pathlib import Path
from typing import Any, NoReturn

import ipywidgets

from ... import experiments
from ...classroom.columns import GROUP, TRIAL
from ...classroom.evidence import STOPPED, Progress
from ...classroom.line import class_diagnosis, group_diagnosis
from ...classroom.result import ClassResult
from ...classroom.sentences import class_verdict_sentences, file_sentence
from ...errors import StoichkitError
from ...experiments.record import Experiment
from ...reports.classroom import class_report, slip_lines
from ...reports.sections import (
    candidates_section,
    causes_section,
    ratio_section,
    verdict_section,
    yield_section,
)
from ...reports.worked import worked_section
from ...text.parts import Bullets, Section, Strong
from ...text.wording import symbol
from ..kit.controls import (
    Choice,
    Field,
    LiveText,
    Panel,
    button,
    close_tree,
    columns,
    guarded,
    halves,
    heading,
    row,
)
from ..kit.work import Report, Rest, Work
from ..state.classroom import (
    AUTOMATIC,
    KINDS,
    MARKS,
    ClassChange,
    ClassState,
    Found,
    GroupTable,
    class_target,
    ratio_sets,
    saveable,
    write_class,
)
from ..state.form import refusal_of
from ..state.readings import ReadingsState
from .chooser import ANY_FILE, ready_choice
from .html import (
    about_html,
    answers_html,
    groups_html,
    instruments_html,
    paragraph,
    parts_html,
    preview_html,
    problems_html,
    section_html,
)

_NONE = ""
_WORDS = {GROUP: "Column of the group", TRIAL: "Column of the trial"}


class ColumnChoices:
    """One list of columns for each reading, the group and the trial."""

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


CLASS_PARTS = (
    "verdict", "look at", "pictures", "groups", "pooled", "line", "outlook", "file", "assumptions",
)  # fmt: skip
"""Names of the pieces that :func:`class_parts` returns, in their order."""
_WHERE = {
    "Verdict of the class": "verdict",
    "Groups to look at": "look at",
    "The groups beside the candidates": "pictures",
    "Group by group": "groups",
    "The groups pooled": "pooled",
    "Straight line and blank": "line",
    "What more groups or other instruments would add": "outlook",
    "The file": "file",
    "What the verdict of the class assumes": "assumptions",
    "Cautions": "assumptions",
}
_LAST = "assumptions"


def class_parts(
    result: ClassResult, *, static: bool = False, progress: Progress | None = None
) -> Mapping[str, str]:
    """Return the sections of the report on a class as pieces of HTML.

    >>> from stoichkit import experiments
    >>> from stoichkit.classroom import assess_class
    >>> found = class_parts(assess_class(experiments.class_file(), "copper-silver"))
    >>> "stands out" in found["look at"], found["pictures"].count('role="img"')
    (True, 1)
    """
    found = dict.fromkeys(CLASS_PARTS, "")
    for section in class_report(result, progress=progress).sections:
        where = _WHERE.get(section.title, _LAST)
        if where == "verdict":
            parts = [p for p in section.parts if static or not isinstance(p, Strong)]
            found[where] += parts_html(parts, static=static)
        else:
            found[where] += section_html(section, static=static)
    return found


def class_page(result: ClassResult, *names: str) -> str:
    """Return pieces of the report on a class as HTML that reads well without a kernel.

    >>> from stoichkit import experiments
    >>> from stoichkit.classroom import assess_class
    >>> found = assess_class(experiments.class_file(), "copper-silver")
    >>> class_page(found, "verdict")[:47]
    '<p class="first"><strong>Together the 9 groups '
    """
    found = class_parts(result, static=True)
    return "".join(found[name] for name in names or CLASS_PARTS)


def group_html(
    result: ClassResult,
    name: str,
    *,
    worked: bool = False,
    answers: bool = False,
    static: bool = False,
) -> str:
    """Show one group of a class: verdict, slips, ratio set, candidates, yield, causes.

    >>> from stoichkit import experiments
    >>> from stoichkit.classroom import assess_class
    >>> found = assess_class(experiments.class_file(), "copper-silver")
    >>> "may be transposed" in group_html(found, "plum")
    True
    """
    not_assessed = result.evidence.not_assessed.get(name)
    if not_assessed is not None:
        return paragraph(f"{name} was not assessed: {not_assessed}")
    evidence = result.group(name)
    found, slips = group_diagnosis(result, name), slip_lines(result, name)
    none = "No slip was found beside the other trials of the class."
    words = (
        verdict_section(evidence, title=f"{name}: verdict", diagnosis=found, trust=False),
        Section("Slips in the readings", (Bullets(slips) if slips else none,)),
        yield_section(evidence),
    )
    left = "".join(section_html(section, static=static) for section in words)
    right = section_html(ratio_section(evidence), static=static)
    more = [candidates_section(evidence), causes_section(evidence, diagnosis=found)]
    more += [worked_section(evidence)] if worked else []
    text = f'<div class="stoichkit-columns"><div>{left}</div><div>{right}</div></div>'
    text += "".join(section_html(s, static=static) for s in more if s is not None)
    if answers:
        text += "<h4>Answer key</h4>" + answers_html(evidence.experiment)
    return text


_LATER = ("pictures", "pooled", "line", "outlook", "assumptions")


class ClassResults:
    """The panes that show a class and the controls that choose what of it is shown."""

    def __init__(self, state: ClassState, area: LiveText) -> None:
        self._state = state
        self._filling = False
        self.verdict = LiveText(look="stoichkit-verdict")
        self.diagnosis = LiveText(look="stoichkit-note")
        self.status = LiveText(look="stoichkit-status")
        self.opening, self.preview, self.problems = (_pane() for _ in range(3))
        self.groups, self.detail = _pane(), _pane()
        self._later = {name: _pane() for name in _LATER}
        self.order = Choice("Order of the groups", [(words, words) for words in GroupTable.ORDERS])
        self.order.observe(guarded(area, lambda c: self._chosen("order", c["new"])), names="value")
        self.part = Field(
            "Only groups whose name holds", "", lambda text: self._chosen("part", text), area
        )
        self.more = button("Show more groups", area, state.show_more)
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
        return [heading("Verdict of the class"), self.verdict, self.diagnosis, self.status]

    def _make_rest(self) -> ipywidgets.VBox:
        """Return the pictures, the groups, the group chosen and the class together."""
        later = self._later
        parts = [
            columns(later["pictures"], later["line"]),
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
            self.problems.value = self.diagnosis.text = ""
            self.verdict.text = (
                "There is no verdict yet."
                if opened
                else "Open the file of a class, or load the invented one."
            )
        else:
            self.verdict.text = class_verdict_sentences(result)
            self.diagnosis.text = class_diagnosis(result).sentence
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


class ClassKeeper:
    """Saves results, answer key and reports of a class."""

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
        save = button("Save", area, self._save)
        self.parts = [
            heading("Save"),
            halves(self._kind, self._marks),
            self._target.box,
            self._replace,
            row(save),
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
            target = class_target(self._state, self._kind.value, text, replace=True)
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
            class_target(self._state, kind, path, replace=replace)
        except StoichkitError as error:
            self._not_saved(error)
        self._saved.text = "Being written …"
        self._work.start(
            lambda report: write_class(
                self._state,
                kind,
                path,
                marks=self._marks.value,
                replace=replace,
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


_PAUSE_S = 0.3
_FILE = frozenset({ClassChange.FILE, ClassChange.MATCHING})


class ClassPanel(Panel):
    """Open the file of a class; see what each group and the class as a whole can say."""

    def __init__(self, state: ClassState | ReadingsState, *, chooser: bool = True) -> None:
        self.state = state if isinstance(state, ClassState) else ClassState(state)
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
        parts = [*self._reading(), self.results.rest, *self.keeper.parts]
        super().__init__("Class", lambda: self.state.experiment.title, columns(left, right), *parts)
        self.add_class("stoichkit-class")
        self.rest: Rest[frozenset[ClassChange]] = Rest(self._follow, frozenset.union)
        told = self.state.subscribe(lambda change: self.rest(frozenset({change})))
        self._stops += [self._work.stop, self.keeper.stop, told, self.state.stop_following]
        guarded(self.message, self._follow)(frozenset({ClassChange.RECORD, ClassChange.FILE}))

    # Controls

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

    What is given and refused is as for :func:`readings_panel`; ``close()`` closes all of it.

    Examples
    --------
    >>> panel = class_panel("copper-silver")
    >>> panel.state.open_invented()
    >>> panel.results.verdict.text
    'Together the 9 groups single out copper(II). Copper(I) is excluded (p < 0.0001).'
    >>> panel.close()
    """
    return ClassPanel(ClassState(experiment_or_name))
