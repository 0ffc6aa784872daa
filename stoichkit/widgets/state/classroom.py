"""State of the panel “classroom”, without Jupyter.

The file of a class and how its columns are matched to the readings of an experiment.

The file is read once and never written; nothing chosen by hand is lost when it cannot be used.

The groups of a class as a table: put in order, filtered, a part of it shown.

What the panel “Class” holds: a file, how its columns are matched, what was worked out of it.

Plain Python without Jupyter. The slow part, :meth:`ClassState.work_out`, changes nothing here, so
that it can run beside a panel.

What of a class is written to files: never over another unasked, never over the class file.
"""

from __future__ import annotations

import math
import os
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from enum import StrEnum
from pathlib import Path
from typing import Any, ClassVar

import numpy as np

from ... import experiments
from ...classroom.columns import GROUP, TRIAL, Preview, clean_text, match_columns
from ...classroom.data import ClassData, load_class
from ...classroom.export import export_answer_key, export_code_key, export_results, export_rows
from ...classroom.result import ClassResult, assess_class
from ...classroom.statement import by_itself
from ...classroom.tables import MAX_BYTES, TextTable, column_letter, read_table
from ...errors import DataFileError, ExperimentError, ModelError, Refusal
from ...experiments.record import Experiment
from ...plots.class_groups import MOST_SETS
from ...reports.classroom import class_report, group_report
from ...text.wording import p_text, shown_range
from ...uncertainty.ratio_set import RatioSet
from ..kit.saving import free_target
from ..kit.telling import Telling
from ..kit.work import Report, silent
from .form import refusal_of
from .readings import Change, ReadingsState

AUTOMATIC = "automatic"
"""The choice of a column that leaves the matching to the headers."""
_LOOKED_AT = 60
_MOST_SHOWN = 40


class ClassChange(StrEnum):
    """What subscribers are told has changed."""

    RECORD = "the experiment may be another"
    FILE = "another file was opened"
    MATCHING = "columns, sheet or codes were chosen"
    RESULT = "the class was worked out"
    VIEW = "another order, part or number of groups is shown"
    GROUP = "another group was chosen"


class ClassFile(Telling[ClassChange]):
    """A class file with its matching; told to subscribers when either changes."""

    def __init__(self, source: ReadingsState | Experiment | str) -> None:
        if not isinstance(source, ReadingsState):
            source = ReadingsState(source)
        self.readings = source
        self.experiment = source.experiment
        self._record = _record_of(self.experiment)
        super().__init__()
        self._content: bytes | None = None
        self._text: TextTable | None = None
        self._no_sheet: DataFileError | None = None
        self.path: Path | None = None
        self.invented = False
        self.file_name, self.sheet, self.codes = "", "", False
        self.choices: dict[str, str | None] = {}
        self.preview: Preview | None = None
        self.refusal: Refusal | None = None
        self.stop_following = source.subscribe(self._readings_changed)

    def forget(self) -> None:
        """Forget what followed from another matching."""

    def renamed(self) -> None:
        """Forget which groups were chosen, as they go by other names."""

    # Telling

    def _readings_changed(self, change: Change) -> None:
        del change
        self._tell(ClassChange.RECORD)

    def follow_record(self) -> bool:
        """Take over the experiment of the readings; return whether anything of it has changed.

        It is worked out here and not at every keystroke, as nobody may be looking.
        """
        experiment = self.readings.experiment
        record = _record_of(experiment)
        if record == self._record:
            return False
        self.experiment, self._record = experiment, record
        known = self.fields
        self.choices = {name: at for name, at in self.choices.items() if name in known}
        self._match()
        return True

    # The file

    @property
    def opened(self) -> bool:
        """Whether there is a file."""
        return self._text is not None

    def open_bytes(self, content: bytes, name: str = "") -> None:
        """Open the content of a CSV or XLSX file."""
        self._open(content, name)

    def open_path(self, text: str) -> None:
        """Open a CSV or XLSX file by its path; ``~`` is the home folder."""
        if not text.strip():
            raise DataFileError(
                "No file is named.", allowed="the path of a CSV or XLSX file", fix="Type it first."
            )
        try:
            path = Path(text.strip()).expanduser()
        except RuntimeError as error:
            raise DataFileError(f"There is no such folder: {error}.", given=text) from error
        self._open(_content(path), path.name, path=path)

    def open_invented(self) -> None:
        """Open the file of the invented class that comes with the experiment."""
        name, known = self.readings.name, experiments.class_names()
        if name not in known:
            raise ExperimentError(
                "No invented class comes with this experiment.",
                given=name or "an experiment of your own",
                allowed=", ".join(known),
                fix="Open a ready experiment that has one, or a file of your own.",
            )
        file_name = f"{name}-class.csv (invented)"
        self._open(experiments.class_file(name), file_name, invented=True)

    def _open(
        self, content: bytes, name: str, *, path: Path | None = None, invented: bool = False
    ) -> None:
        text = replace(read_table(content), source=name)
        self._content, self._text = content, text
        self.file_name, self.path, self.invented = name, path, invented
        self.sheet, self.choices, self._no_sheet = "", {}, None
        self.renamed()
        self._match()
        self._tell(ClassChange.FILE)

    def set_sheet(self, text: str) -> None:
        """Take over the name of the sheet of a workbook; "" for the first with cells."""
        if text == self.sheet:
            return
        self.sheet, self._no_sheet = text, None
        if self._content is None:
            return
        try:
            table = read_table(self._content, sheet=text.strip() or None)
        except DataFileError as error:
            self._no_sheet = error
        else:
            self._text = replace(table, source=self.file_name)
        self._match()
        self._tell(ClassChange.MATCHING)

    def set_codes(self, codes: bool) -> None:
        """Take over whether groups go by codes instead of names."""
        if codes != self.codes:
            self.codes = codes
            self.renamed()
            self._match()
            self._tell(ClassChange.MATCHING)

    # The matching

    @property
    def fields(self) -> tuple[str, ...]:
        """What columns can hold: "group", "trial" and the readings."""
        return (GROUP, TRIAL, *(r.name for r in self.experiment.roles() if r.needs_reading))

    def columns(self) -> tuple[tuple[str, str], ...]:
        """Return letter and label of every column of the file that holds text."""
        if self.preview is not None:
            return tuple((c.letter, c.label) for c in self.preview.matched)
        if self._text is None:
            return ()
        rows = self._text.rows[:_LOOKED_AT]
        heads = next((row for row in rows if sum(map(bool, map(str.strip, row))) > 1), ())
        found = []
        for index in range(max(map(len, rows), default=0)):
            letter = column_letter(index)
            head = clean_text(heads[index])[:_MOST_SHOWN] if index < len(heads) else ""
            found.append((letter, f"{letter} ({head})" if head else letter))
        return tuple(found)

    def set_column(self, field: str, choice: str | None) -> None:
        """Take over which column holds a reading, the group or the trial."""
        known = self.fields
        if field not in known:
            raise DataFileError("There is no such field.", given=field, allowed=", ".join(known))
        letters = [letter for letter, _ in self.columns()]
        if choice not in (None, AUTOMATIC, *letters):
            raise DataFileError("There is no such column.", given=choice, allowed=str(letters))
        if choice == self.choices.get(field, AUTOMATIC):
            return
        self.choices.pop(field, None)
        if choice != AUTOMATIC:
            self.choices[field] = choice
        self._match()
        self._tell(ClassChange.MATCHING)

    def _match(self) -> None:
        """Match the columns anew, and forget what followed from another matching."""
        self.forget()
        self.refusal = None
        if self._text is None:
            return
        try:
            if self._no_sheet is not None:
                raise self._no_sheet
            self._check_choices()
            self.preview = match_columns(self._text, self.experiment, self._chosen())
        except DataFileError as error:
            self.preview, self.refusal = None, refusal_of(error)
            return
        if self.preview.missing:
            names = ", ".join(f"“{name}”" for name in self.preview.missing)
            self.refusal = Refusal(
                f"No column was found for {names}.", "Choose it below, from the list of its name."
            )

    def _check_choices(self) -> None:
        owner: dict[str, str] = {}
        for field, letter in self.choices.items():
            if letter is not None and owner.setdefault(letter, field) != field:
                raise DataFileError(
                    f"Column {letter} is chosen for “{owner[letter]}” and for “{field}”.",
                    allowed="one use for each column",
                )

    def _chosen(self) -> dict[str, str | None]:
        """Return the choices in the words of the matching, in which a header goes before a letter.

        A column whose letter is the header of another is named by its own header.
        """
        rows = () if self._text is None else self._text.rows[:_LOOKED_AT]
        heads = {clean_text(cell).casefold() for row in rows for cell in row}
        names: dict[str, str | None] = {}
        for field, letter in self.choices.items():
            if letter is not None and letter.casefold() in heads and self.preview is not None:
                own = [c.header for c in self.preview.matched if c.letter == letter and c.header]
                names[field] = own[0] if own else letter
            else:
                names[field] = letter
        return names


def _record_of(experiment: Experiment) -> tuple[Any, ...]:
    """Return all of a record but its trials, to see whether anything of it has changed."""
    names = (field.name for field in fields(experiment) if field.name != "trials")
    return tuple(getattr(experiment, name) for name in names)


def _content(path: Path) -> bytes:
    """Return the content of a file; one that cannot be read is refused in the reader's words."""
    try:
        if path.is_file() and path.stat().st_size <= MAX_BYTES:
            return path.read_bytes()
    except OSError:
        pass  # the reader says why
    read_table(path)
    return path.read_bytes()


@dataclass(frozen=True, slots=True)
class GroupLine:
    """One group as a row of the table, as text."""

    name: str
    trials: str
    verdict: str
    ratio: str
    ratio_set: str
    p: str
    percent_yield: str
    remarks: str


class GroupTable:
    """The groups of a class, to be put in order.

    >>> from stoichkit import experiments
    >>> from stoichkit.classroom import assess_class
    >>> table = GroupTable(assess_class(experiments.class_file(), "copper-silver"))
    >>> table.names("mole ratio, smallest first", "")[:2], table.names("as in the file", "AL")
    (('plum', 'coral'), ('coral', 'teal'))
    >>> line = table.line("plum")
    >>> line.verdict, line.ratio, line.remarks
    ('cannot tell copper(I) from copper(II)', '1.50', 'stands out, slip?')
    >>> table.first_to_look_at
    'plum'
    """

    ORDERS: ClassVar[tuple[str, ...]] = (
        "as in the file",
        "p of the best candidate, smallest first",
        "mole ratio, smallest first",
        "mole ratio, largest first",
    )
    STEP: ClassVar[int] = 200
    """So many groups are shown at first, and more each time more are asked for."""

    def __init__(self, result: ClassResult) -> None:
        self.result = result
        self.ratio_sets: Mapping[str, str] = {}
        self._index = {name: i for i, name in enumerate(result.evidence.names)}

    def __contains__(self, name: str) -> bool:
        return name in self._index or name in self.result.evidence.not_assessed

    @property
    def first_to_look_at(self) -> str:
        """A group that stands out, has a slip, cannot be judged or fits none; else the first."""
        evidence = self.result.evidence
        verdict = self.result.verdict
        for name in (*(verdict.outlying if verdict is not None else ()), *self.result.slips):
            return str(name)
        for wanted in ("cannot_be_judged", "none_fits"):
            if wanted in evidence.kinds:
                return evidence.names[evidence.kinds.index(wanted)]
        return next(iter(evidence.names), "")

    def names(self, order: str, part: str) -> tuple[str, ...]:
        """Return the names of the groups in an order, those that were not assessed last."""
        evidence = self.result.evidence
        keys = {
            self.ORDERS[1]: evidence.p_value.max(axis=1) if len(evidence) else np.zeros(0),
            self.ORDERS[2]: evidence.ratio,
            self.ORDERS[3]: -evidence.ratio,
        }
        listed = list(evidence.names)
        if order in keys:
            listed = [evidence.names[i] for i in np.argsort(keys[order], kind="stable").tolist()]
        listed += evidence.not_assessed
        wanted = part.strip().casefold()
        return tuple(name for name in listed if wanted in name.casefold())

    def line(self, name: str) -> GroupLine:
        """Return the row of one group."""
        evidence = self.result.evidence
        if name not in self._index:
            reason = evidence.not_assessed[name]
            return GroupLine(name, "", "not assessed", "", "", "", "", reason)
        i = self._index[name]
        fitting = evidence.fitting[i]
        ratio = float(evidence.ratio[i])
        yields = {
            candidate: f"{percent:.1f} %"
            for candidate, percent, fits in zip(
                evidence.candidates,
                evidence.percent_yield[i].tolist(),
                evidence.compatible[i].tolist(),
                strict=True,
            )
            if fits and math.isfinite(percent)
        }
        shown = [text if len(yields) == 1 else f"{text} ({one})" for one, text in yields.items()]
        return GroupLine(
            name=name,
            trials=str(int(evidence.trials[i])),
            verdict=by_itself(fitting, evidence.reasons[i], len(evidence.candidates)),
            ratio="" if math.isnan(ratio) else f"{ratio:#.3g}".rstrip("."),
            ratio_set=self.ratio_sets.get(name, ""),
            p=p_text(float(evidence.p_value[i].max()), evidence.coverage),
            percent_yield=", ".join(shown),
            remarks=", ".join(self._remarks(name)),
        )

    def _remarks(self, name: str) -> list[str]:
        verdict = self.result.verdict
        words = ["stands out"] if verdict is not None and name in verdict.outlying else []
        return [*words, "slip?"] if name in self.result.slips else words


def ratio_sets(result: ClassResult) -> Mapping[str, str]:
    """Return the ratios that each group does not exclude, in words.

    They are worked out for classes up to the size whose picture shows them.

    >>> from stoichkit import experiments
    >>> from stoichkit.classroom import assess_class
    >>> found = ratio_sets(assess_class(experiments.class_file(), "copper-silver"))
    >>> found["plum"], found["teal"]
    ('every ratio', '1.86 to 2.21')
    """
    names = result.evidence.names
    if len(names) > MOST_SETS:
        return {}
    marks = [float(c.ratio) for c in result.experiment.candidates]
    return {name: _stretches(result.groups[name].ratio_set, marks) for name in names}


def _stretches(found: RatioSet, marks: Sequence[float]) -> str:
    said = []
    for piece in found.intervals:
        a, b = shown_range(piece.low, piece.high, marks)
        said.append(f"{a} to {b}" if b else "every ratio" if piece.low <= 0 else f"{a} or more")
    return "; ".join(said) or "none"


_EVERY_S = 0.1


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """What was worked out of a file."""

    result: ClassResult
    key: ClassData | None


class ClassState(ClassFile):
    """A class file, its matching to an experiment, and what follows from both.

    >>> state = ClassState("copper-silver")
    >>> state.open_invented()
    >>> state.preview.columns["paper"], state.refusal
    (('E',), None)
    >>> state.take(state.work_out())
    >>> state.result.verdict.verdict.candidates, state.group
    (('copper(II)',), 'plum')
    >>> state.set_column("trial", "E")
    >>> state.refusal.problem, state.result
    ('No column was found for “paper”.', None)
    """

    found: Found | None
    table: GroupTable | None

    def __init__(self, source: ReadingsState | Experiment | str = "copper-silver") -> None:
        super().__init__(source)
        self.found = self.table = None
        self.order, self.part, self.shown, self.group = GroupTable.ORDERS[0], "", 0, ""

    def forget(self) -> None:
        """Forget what followed from another matching."""
        self.found = self.table = None

    def renamed(self) -> None:
        """Forget which groups were chosen, as they go by other names."""
        self.part, self.group = "", ""

    # Working it out

    @property
    def ready(self) -> bool:
        """Whether there is something to be worked out."""
        return self.opened and self.refusal is None and self.found is None

    def work_out(
        self, report: Report = silent, stopping: Callable[[], bool] = lambda: False
    ) -> Found:
        """Load the rows as they are matched and work out what the class says."""
        if self._content is None or self.refusal is not None:
            problem = "No file is open." if self.refusal is None else self.refusal.problem
            raise DataFileError(problem, fix="Open a file, or correct how its columns are matched.")
        report("Reading the rows …")
        data = load_class(
            self._content,
            self.experiment,
            columns=self._chosen(),
            codes=self.codes,
            sheet=self.sheet.strip() or None,
        )
        data = replace(data, source=self.file_name)
        said, last = 0.0, -1

        def progress(done: int, total: int) -> bool:
            nonlocal said, last
            now, groups = time.monotonic(), total - 2
            if now - said >= _EVERY_S or (done >= groups and done != last):
                said, last = now, done
                together = "Looking for slips, and putting the groups together …"
                report(f"Group {done} of {groups} …" if done < groups else together)
            return stopping()

        result = assess_class(data, progress=progress)
        if not len(result.evidence) and not stopping():
            name, reason = next(iter(result.evidence.not_assessed.items()))
            raise DataFileError(f"No group can be assessed. {name}: {reason}")
        return Found(result, data if self.codes else None)

    def take(self, found: Found) -> None:
        """Show what was worked out."""
        self.found, self.table = found, GroupTable(found.result)
        self.shown = GroupTable.STEP
        if self.group not in found.result.evidence.names:
            self.group = self.table.first_to_look_at
        self._tell(ClassChange.RESULT)

    @property
    def result(self) -> ClassResult | None:
        """What was worked out of the file as it is matched now."""
        return None if self.found is None else self.found.result

    # Looking at it

    def groups_shown(self) -> tuple[str, ...]:
        """Return the names of the groups that are shown, in their order."""
        if self.table is None:
            return ()
        return self.table.names(self.order, self.part)[: self.shown]

    def set_order(self, order: str) -> None:
        """Take over the order of the groups, one of :attr:`GroupTable.ORDERS`."""
        if order not in GroupTable.ORDERS:
            allowed = ", ".join(GroupTable.ORDERS)
            raise ExperimentError("There is no such order.", given=order, allowed=allowed)
        self._view(order=order, shown=GroupTable.STEP)

    def set_part(self, text: str) -> None:
        """Show only groups whose names hold a text; "" for all."""
        self._view(part=text, shown=GroupTable.STEP)

    def show_more(self) -> None:
        """Show more groups."""
        self._view(shown=self.shown + GroupTable.STEP)

    def _view(self, **values: Any) -> None:
        for name, value in values.items():
            setattr(self, name, value)
        self._tell(ClassChange.VIEW)

    def set_group(self, name: str) -> None:
        """Look at one group closely."""
        if self.table is None or name not in self.table:
            raise ExperimentError("There is no such group.", given=name)
        if name != self.group:
            self.group = name
            self._tell(ClassChange.GROUP)


@dataclass(frozen=True, slots=True)
class Kind:
    """One thing that can be saved."""

    words: str
    endings: tuple[str, ...]
    name: str


_TABLE = (".xlsx", ".csv", ".html")
_PAGE = (".html", ".md")
KINDS: Mapping[str, Kind] = {
    "results": Kind("results of each group", _TABLE, "class-results.xlsx"),
    "key": Kind("answer key of each group", _TABLE, "answer-key.xlsx"),
    "report": Kind("report on the class", _PAGE, "class-report.html"),
    "group": Kind("report on the group chosen", _PAGE, "group-report.html"),
    "rows": Kind("what became of each row of the file", (".xlsx", ".csv"), "rows.xlsx"),
    "codes": Kind("key from codes to names", (".csv", ".xlsx"), "key-to-codes.csv"),
}
MARKS: Mapping[str, Mapping[str, Any]] = {
    "decimal point, comma between cells": {"delimiter": ",", "decimal": "."},
    "decimal comma, semicolon between cells": {"delimiter": ";", "decimal": ","},
}
"""Marks of CSV files, in words."""
_INVENTED = "The readings are invented, for practice."


def saveable(state: ClassState) -> Found:
    """Return what was worked out."""
    if state.found is None:
        raise ModelError(
            "There is nothing to save yet.", fix="Open a file and wait until it is worked out."
        )
    return state.found


def class_target(state: ClassState, kind: str, path: str, *, replace: bool = False) -> Path:
    """Return the full name of a file that may be written."""
    target = free_target(path, (), replace=replace, endings=KINDS[kind].endings)
    if state.path is not None and os.path.realpath(target) == os.path.realpath(state.path):
        raise DataFileError(
            "This is the file of the class, which is never written.",
            given=str(target),
            fix="Choose another name.",
        )
    return target


def write_class(
    state: ClassState,
    kind: str,
    path: str,
    *,
    marks: str = "",
    replace: bool = False,
    report: Report = silent,
) -> Path:
    """Write one of the things that can be saved of a class, whole or not at all.

    >>> import tempfile
    >>> state = ClassState("copper-silver")
    >>> state.open_invented()
    >>> state.take(state.work_out())
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     write_class(state, "results", f"{folder}/a.csv").name
    'a.csv'
    """
    found = saveable(state)
    target = class_target(state, kind, path, replace=replace)
    result, written = found.result, MARKS[marks or next(iter(MARKS))]
    note = _INVENTED if state.invented else ""

    def progress(done: int, total: int) -> None:
        report(f"Writing the report: group {done} of {total} …")

    if kind == "results":
        return export_results(result.evidence, target, replace=replace, **written)
    if kind == "key":
        return export_answer_key(result.data, target, replace=replace, **written)
    if kind == "rows":
        return export_rows(result.data, target, replace=replace)
    if kind == "codes":
        return export_code_key(_coded(found.key), target, replace=replace)
    if kind == "report":
        document = class_report(result, note=note, progress=progress)
    else:
        document = group_report(result, state.group, note=note)
    return document.save(target, replace=replace)


def _coded(key: ClassData | None) -> ClassData:
    if key is None:
        raise ModelError(
            "There is no key to write: the groups go by their names.",
            fix="Tick that codes stand for the names.",
        )
    return key
