"""Whose reading each row of a class file holds, or why it was not used."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from ..errors import StoichkitError
from ..experiments.checks import read_value
from ..experiments.record import MAX_TRIALS, Experiment
from ..measurement.base import Instrument, Role
from ..text.sheets import header_of_own, undefused
from ..uncertainty.readings import Reading, mean_reading, parse_number
from ..uncertainty.sources import Floats
from .columns import GROUP, TRIAL, Column, Preview, Unit, clean_text, converted, number_and_unit
from .tables import Problem, TextTable

Typed: TypeAlias = str | tuple[str, ...]
"""A reading as typed; a tuple where several were typed one after the other."""
_MAX_NAME = 80
_SET_ASIDE = "The row was set aside."
_SUMMARY = {
    "average", "avg", "count", "max", "maximum", "mean", "median", "min", "minimum", "range",
    "rsd", "s.d.", "sd", "st dev", "standard deviation", "std", "std dev", "stdev", "sum", "total",
}  # fmt: skip


class RowUse(StrEnum):
    """What became of a row of the file."""

    USED = "used"
    SET_ASIDE = "set aside"
    BLANK = "blank"
    ABOVE = "above the header"
    HEADER = "header"
    UNITS = "units"


@dataclass(frozen=True, slots=True)
class RowRecord:
    """What became of one row.

    Attributes
    ----------
    row : int
        As a spreadsheet numbers it.
    use : RowUse
    group, trial : str
        Where its readings went; "" unless it was used.
    reason : str
        Why it was set aside.
    """

    row: int
    use: RowUse
    group: str = ""
    trial: str = ""
    reason: str = ""


@dataclass(slots=True)
class ClassRows:
    """The rows of a class file, sorted out."""

    first_row: int  # of the file; what place 0 of the next three stands for
    group_of: NDArray[np.intp]  # place of the group of each row in use; -1 for others
    trials: list[str]  # name of the trial of each row in use
    readings: dict[str, _Cells]  # by the name of the reading
    groups: tuple[str, ...]  # in the order of the file; codes if asked for
    uses: list[RowUse]  # of all rows of the file
    reasons: dict[int, str]  # why rows were set aside, by row of the file
    problems: list[Problem]
    key: dict[str, str] = field(default_factory=dict)  # code to name; empty unless asked for

    def record(self, row: int) -> RowRecord:
        """Return what became of one row of the file, counted from 1."""
        use = self.uses[row - 1]
        if use is RowUse.USED:
            index = row - self.first_row
            return RowRecord(row, use, self.groups[self.group_of[index]], self.trials[index])
        return RowRecord(row, use, reason=self.reasons.get(row, ""))


def read_rows(
    table: TextTable, preview: Preview, experiment: Experiment, *, codes: bool = False
) -> ClassRows:
    """Sort out the rows of a table whose columns are matched; no row is lost, none repaired."""
    rows = _Rows(table, preview, experiment, hide_names=codes)
    rows.note_the_columns()
    rows.read_cells()
    rows.find_groups()
    rows.name_trials()
    rows.check_what_is_read_once()
    rows.drop_empty_groups()
    rows.ask_about_readings()
    return rows.sorted_out(codes=codes)


class _Rows:
    """The rows below the header while they are sorted out, counted from 0."""

    def __init__(
        self, table: TextTable, preview: Preview, experiment: Experiment, *, hide_names: bool
    ) -> None:
        self.table, self.preview, self.experiment = table, preview, experiment
        self.hide_names = hide_names
        self.first_row = preview.first_row
        self.own = 0 < header_of_own(table.rows) == preview.header_row - 1
        """Whether it is a data sheet of ours: its names stand exactly as they were given."""
        self.data = table.rows[self.first_row - 1 :]
        above = table.rows[preview.header_row - 1] if preview.header_row else ()
        self.header = _stripped(above)
        while self.header and not self.header[-1]:
            self.header = self.header[:-1]
        self.roles = {role.name: role for role in experiment.roles() if role.needs_reading}
        self.problems: list[Problem] = []
        # what the cells hold
        self.readings: dict[str, _Cells] = {}
        self.faults: dict[int, list[Problem]] = {}
        self.filled: list[bool] = []
        self.has_groups, self.group_cells = self._names_in(GROUP)
        self.has_trials, self.trial_cells = self._names_in(TRIAL)
        # what becomes of them
        count = len(self.data)
        self.names: list[str] = []
        self.group_of = np.full(count, -1, dtype=np.intp)
        self.trials = [""] * count
        self.uses = [RowUse.USED] * count
        self.reasons: dict[int, str] = {}

    def _names_in(self, name: str) -> tuple[bool, list[str]]:
        """Return whether there is a column of groups or trials, and its cells."""
        columns = self.preview.of(name)
        if not columns:
            return False, [""] * len(self.data)
        read = undefused if self.own else clean_text
        return True, [read(cell) for cell in self._cells(columns[0])]

    def _cells(self, column: Column) -> list[str]:
        i = column.index
        try:
            cells = [row[i] for row in self.data]
        except IndexError:
            cells = [row[i] if i < len(row) else "" for row in self.data]
        return list(map(str.strip, cells))

    def _tell(
        self,
        index: int | None,
        text: str,
        *,
        column: str = "",
        given: str = "",
        allowed: str = "",
        done: str = _SET_ASIDE,
    ) -> None:
        """List a problem of a row, or of the file."""
        row = None if index is None else index + self.first_row
        self.problems.append(Problem(row, column, text, given, allowed, done))

    def _set_aside(self, index: int, reason: str, text: str = "", **more: str) -> None:
        """Take a row out of use, and say so unless it is said already."""
        self.group_of[index] = -1
        self.uses[index] = RowUse.SET_ASIDE
        self.reasons[index] = reason
        if text:
            self._tell(index, text, **more)

    def _shown(self, text: str) -> str:
        """Return text that may name a person, on one line, or "" if names are hidden."""
        return "" if self.hide_names else " ".join(text.split())[:80]

    def _named(self, name: str) -> str:
        return f", {self._shown(name)}" if self._shown(name) else ""

    def _label(self, column: Column) -> str:
        """Return letter and header of a column; one without a use may be headed by a name."""
        return column.letter if self.hide_names and not column.field else column.label

    def note_the_columns(self) -> None:
        """Say what was decided about the file as a whole and about its columns."""
        letters = {column.letter: column for column in self.preview.matched}
        for problem in self.table.problems:
            column = letters.get(problem.column)
            if problem.row is None and problem.column:
                if column is None or column.field in ("", GROUP, TRIAL):
                    continue  # how a column without readings stores its numbers
                self.problems.append(replace(problem, column=column.label))
            else:
                label = problem.column if column is None else self._label(column)
                given = self._shown(problem.given)
                self.problems.append(replace(problem, column=label, given=given))
        for column in self.preview.matched:
            unit = column.unit
            if column.question:
                done = "It was used so" if column.field else "The column was not used"
                done += "; confirm with columns=…."
                self._tell(None, column.question, column=self._label(column), done=done)
            elif not column.field:
                filled = sum(map(bool, self._cells(column)))
                if filled and (column.header or self.header):
                    self._tell(
                        None,
                        "The column is not a reading of this experiment.",
                        column=self._label(column),
                        given=f"text in {filled} rows",
                        done="It was not used.",
                    )
            if column.field and unit is not None and not unit.same:
                self._tell(
                    None,
                    "The column is in another unit.",
                    column=column.label,
                    given=unit.symbol,
                    done=f"Its numbers were converted: {unit.words}.",
                )
        if not self.has_groups:
            done = "one group" if self.has_trials else "a group of its own for each row"
            self._tell(None, "No column names the groups.", done=f"Read as {done}.")

    def read_cells(self) -> None:
        """Read the columns of readings; note the faults of each row, and whether it has text."""
        all_cells: list[list[str]] = []

        def fault(label: str, f: _Remark) -> None:
            row = f.row + self.first_row
            problem = Problem(row, label, f.text, f.given, f.allowed, _SET_ASIDE)
            self.faults.setdefault(f.row, []).append(problem)

        for name, role in self.roles.items():
            columns = self.preview.of(name)
            faulty: set[int] = set()
            for column in columns:
                all_cells.append(self._cells(column))
                one = _read_cells(all_cells[-1], role, column.unit)
                for f in one.faults:
                    fault(column.label, f)
                    faulty.add(f.row)
                for r in one.remarks:
                    self._tell(
                        r.row,
                        r.text,
                        column=column.label,
                        given=r.given,
                        done="The number was used.",
                    )
                readings = self.readings
                readings[name] = readings[name].then(one, role) if name in readings else one
            if columns and not role.optional and name not in self.experiment.shared_readings:
                allowed = f"{role.quantity} in {role.unit}"
                for index in np.flatnonzero(np.isnan(self.readings[name].values)).tolist():
                    if index not in faulty:
                        fault(columns[0].label, _Remark(index, "The cell is empty.", "", allowed))
        self.filled = list(map(any, zip(*all_cells, strict=True)))

    def find_groups(self) -> None:
        """Give each row its use and its group.

        An empty group cell takes the name above it, as in a sheet where only the first row of a
        group carries the name. Rows with faults, without readings, and rows of means and totals
        are set aside.
        """
        spellings: dict[int, set[str]] = {}
        index_of: dict[str, int] = {}
        known: dict[str, int] = {}
        for index, owner in enumerate(self._owners()):
            if owner is None:
                continue
            group = known.get(owner)
            if group is None:
                alike = owner if self.own else owner.casefold()
                group = index_of.setdefault(alike, len(self.names))
                if group == len(self.names):
                    self.names.append(owner)
                else:
                    spellings.setdefault(group, {self.names[group]}).add(owner)
                known[owner] = group
            self.group_of[index] = group
        for group, variants in spellings.items():
            self._tell(
                None,
                "A group is written in several ways.",
                given=self._shown(", ".join(sorted(variants))),
                done=f"Read as one group{self._named(self.names[group])}.",
            )
        if not (self.own and all(map(_is_usable, self.names))):
            self.names = _distinct(self.names)

    def _owners(self) -> list[str | None]:
        """Return the group of each row in use as its cell has it; None for other rows."""
        owners: list[str | None] = [None] * len(self.data)
        current, gap = "", False
        taken_over: list[int] = []
        for index, filled in enumerate(self.filled):
            group = self.group_cells[index]
            if not filled:
                gap = self._without_readings(index)
                current = group or current
                continue
            if self._holds_no_trial(index, group):
                continue
            if not self.has_groups:
                current = "all" if self.has_trials else f"row {index + self.first_row}"
            elif group:
                current = group
            elif not current:
                self._set_aside(
                    index, "no group", "The row has no group, and none stands above it."
                )
                continue
            else:
                taken_over.append(index)
                if gap:
                    self._tell(
                        index,
                        "The group cell is empty after a blank row: is it still the same group?",
                        done=f"The row was counted to the group above{self._named(current)}.",
                    )
            gap = False
            if index in self.faults:
                self.problems += self.faults[index]
                self._set_aside(index, self.faults[index][0].text)
                continue
            owners[index] = current
        if taken_over:
            shown = ", ".join(str(index + self.first_row) for index in taken_over[:20])
            more = f" and {len(taken_over) - 20} more" if len(taken_over) > 20 else ""
            self._tell(
                None,
                "Group cells are empty.",
                given=f"rows {shown}{more}",
                done="Each of these rows was counted to the group named above it.",
            )
        return owners

    def _without_readings(self, index: int) -> bool:
        """Record a row without readings; say whether it is blank."""
        cells = list(filter(None, _stripped(self.data[index])))
        if not cells:
            self.uses[index] = RowUse.BLANK
            return True
        self._set_aside(
            index, "no reading", "The row holds no reading.", given=self._shown(" | ".join(cells))
        )
        return False

    def _holds_no_trial(self, index: int, group: str) -> bool:
        """Set aside a row that is no trial: a repeated header, a mean, a row out of line."""
        cells, width = self.data[index], len(self.header)
        if index in self.faults and width and _stripped(cells)[:width] == self.header:
            self.uses[index] = RowUse.HEADER
            return True
        label = group or self.trial_cells[index]
        printed = self.own and group and self.trial_cells[index]
        if label.casefold().strip(" .:") in _SUMMARY and not printed:
            self._set_aside(
                index,
                "mean, total or the like",
                "The row looks like a mean, a total or the like.",
                given=label,
                done="The row was set aside; if this is a group, give it another name.",
            )
            return True
        if width and any(cell.strip()[:1].isdigit() for cell in cells[width:]):
            self._set_aside(
                index,
                "more cells than the header",
                "The row has more cells than the header.",
                given=self._shown(" | ".join(cells)),
                allowed=f"{width} cells",
                done="The row was set aside. Are its decimal commas also the marks between cells? "
                "Then save the sheet with semicolons or tabs.",
            )
            return True
        return False

    def name_trials(self) -> None:
        """Name the trials as their cells do, or else number them; names in a group all differ."""
        taken: list[set[str]] = [set() for _ in self.names]
        for index, group in enumerate(self.group_of.tolist()):
            if group < 0:
                continue
            names = taken[group]
            if len(names) >= MAX_TRIALS:
                self._set_aside(
                    index,
                    "too many trials",
                    "The group has too many trials.",
                    given=self._shown(self.names[group]),
                    allowed=f"up to {MAX_TRIALS}",
                )
                continue
            typed = "" if self.hide_names else self.trial_cells[index]
            kept = self.own and _is_usable(typed)
            name = typed if typed and kept else _usable_name(typed) or str(len(names) + 1)
            if name in names:
                new = f"{name[:60]} (row {index + self.first_row})"
                while new in names:
                    new += "*"
                if typed:
                    self._tell(
                        index,
                        "The group has a trial of this name already.",
                        given=self._shown(typed),
                        done=f"The row was used as trial “{new}”. Is it a copy?",
                    )
                name = new
            names.add(name)
            self.trials[index] = name

    def check_what_is_read_once(self) -> None:
        """Set aside rows whose value differs from the first of their group, where it must not."""
        for name, column in self.readings.items():
            if not self.roles[name].once:
                continue
            label = self.preview.of(name)[0].label
            first: dict[int, float] = {}
            for index, group in enumerate(self.group_of.tolist()):
                value = float(column.values[index])
                if group < 0 or np.isnan(value):
                    continue
                if first.setdefault(group, value) != value:
                    self._set_aside(
                        index,
                        "another value of what is read once",
                        "This is read once for all trials of a group, but the row has another "
                        "value.",
                        column=label,
                        given=str(column.texts[index]),
                        allowed=f"{first[group]:g}, as in the first row of the group",
                    )

    def drop_empty_groups(self) -> None:
        """Leave out groups whose rows were all set aside."""
        kept = np.bincount(self.group_of[self.group_of >= 0], minlength=len(self.names)) > 0
        if not kept.all():
            new = np.append(np.cumsum(kept) - 1, -1)
            self.group_of = new[self.group_of]
            self.names = [name for name, keep in zip(self.names, kept, strict=True) if keep]

    def ask_about_readings(self) -> None:
        """Ask about readings in use that the instrument cannot show, or not so."""
        used = self.group_of >= 0
        for name, column in self.readings.items():
            instrument = self.experiment.instruments[self.roles[name].instrument]
            label = self.preview.of(name)[-1].label
            for q in _questions_in(column, used, instrument):
                self._tell(q.row, q.text, column=label, given=q.given, done="It was used as typed.")

    def sorted_out(self, *, codes: bool) -> ClassRows:
        """Return what was found, under codes or names."""
        width = max(2, len(str(len(self.names))))
        coded = {f"G{i:0{width}}": name for i, name in enumerate(self.names, 1)} if codes else {}
        return ClassRows(
            first_row=self.first_row,
            group_of=self.group_of,
            trials=self.trials,
            readings=self.readings,
            groups=tuple(coded or self.names),
            uses=[*self._uses_above(), *self.uses],
            reasons={index + self.first_row: text for index, text in self.reasons.items()},
            problems=sorted(self.problems, key=lambda p: p.row or 0),
            key=coded,
        )

    def _uses_above(self) -> list[RowUse]:
        """Return the uses of the rows before the first one below the header."""
        known = {self.preview.header_row: RowUse.HEADER, self.preview.units_row: RowUse.UNITS}
        return [
            known.get(number) or (RowUse.ABOVE if any(_stripped(row)) else RowUse.BLANK)
            for number, row in enumerate(self.table.rows[: self.first_row - 1], 1)
        ]


def _stripped(cells: Sequence[str]) -> tuple[str, ...]:
    return tuple(cell.strip() for cell in cells)


def _distinct(names: Sequence[str]) -> list[str]:
    """Return printable names, all different."""
    taken: set[str] = set()
    repeats: Counter[str] = Counter()
    found = []
    for name in names:
        plain = stem = _usable_name(name)
        while plain in taken:
            repeats[stem] += 1
            plain = f"{stem[: _MAX_NAME - 12]} ({repeats[stem] + 1})"
        taken.add(plain)
        found.append(plain)
    return found


def _is_usable(name: str) -> bool:
    """Return whether a name can stay as it is."""
    return name.isprintable() and len(name) <= _MAX_NAME


def _usable_name(text: str) -> str:
    """Return a name on one line, printable and at most 80 characters long."""
    plain = " ".join(text.split())
    if plain.isprintable() and len(plain) <= _MAX_NAME:
        return plain
    plain = "".join(c if c.isprintable() else "\ufffd" for c in plain)
    return plain if len(plain) <= _MAX_NAME else f"{plain[: _MAX_NAME - 1].rstrip()}…"


# The cells of one column: numbers with their decimals, and what is not a number.

_PLAIN = re.compile(r"(?:(?:[0-9]{1,20}(?:\.[0-9]{1,15})?)?\n)*+")
_ABSENT = {
    "-", "--", "–", "—", "n/a", "na", "n.a.", "nan", "none", "null", "missing", "absent", "?",
}  # fmt: skip
_LISTED = 20


@dataclass(frozen=True, slots=True)
class _Remark:
    """What is odd about one cell; the row counts from 0 within the column."""

    row: int
    text: str
    given: str = ""
    allowed: str = ""


@dataclass(slots=True)
class _Cells:
    """Readings of one column."""

    texts: list[Typed]  # as typed, in the unit of the instrument; "" where there is none
    values: Floats  # the last one typed in each cell, or the mean; nan where there is none
    decimals: NDArray[np.int64]  # of the text that the value was read from
    faults: list[_Remark] = field(default_factory=list)  # cells that hold no number
    remarks: list[_Remark] = field(default_factory=list)  # cells that hold more than a number

    def then(self, later: _Cells, role: Role) -> _Cells:
        """Return this column with the readings of a later one put after its own, row by row."""
        both = [
            one if not two else two if not one else (*several(one), *several(two))
            for one, two in zip(self.texts, later.texts, strict=True)
        ]
        second = ~np.isnan(later.values)
        values = np.where(second, later.values, self.values)
        if role.averaged:
            for row in np.flatnonzero(second & ~np.isnan(self.values)).tolist():
                values[row] = read_value(role, several(both[row])).value
        return _Cells(
            both,
            values,
            np.where(second, later.decimals, self.decimals),
            self.faults + later.faults,
            self.remarks + later.remarks,
        )


def several(typed: Typed) -> tuple[str, ...]:
    """Return the readings typed in one place as a tuple."""
    return (typed,) if isinstance(typed, str) else typed


def _read_cells(cells: Sequence[str], role: Role, unit: Unit | None = None) -> _Cells:
    """Read the numbers of one column; one of plain numbers is read at once, as it is fast."""
    same = unit is None or unit.same
    joined = "\n".join(cells) + "\n"
    in_line = joined.count("\n") == len(cells)  # no cell of several lines
    if same and in_line and _PLAIN.fullmatch(joined.replace(",", ".")):
        joined = joined.replace(",", ".")
        plain = joined.split("\n")[:-1]
        values = [float(text or "nan") for text in plain]
        return _Cells(list(cells), np.array(values), _decimals(joined))
    count = len(cells)
    column = _Cells([""] * count, np.full(count, np.nan), np.zeros(count, dtype=np.int64))
    for row, cell in enumerate(cells):
        if not cell:
            continue
        if cell.casefold() in _ABSENT:
            if not role.optional:
                column.faults.append(_Remark(row, "The reading is marked as missing.", cell))
            continue
        pieces = [p.strip() for p in re.split(r"[;\n]", cell)] if role.takes_several else [cell]
        try:
            read = [_one(piece, role, unit, row, column) for piece in pieces if piece]
        except StoichkitError as error:
            allowed = str(error.allowed or "")
            column.faults.append(_Remark(row, error.problem, cell[:60], allowed))
            continue
        if read:
            column.texts[row] = read[0].text if len(read) == 1 else tuple(r.text for r in read)
            column.values[row] = mean_reading(read).value if role.averaged else read[-1].value
            column.decimals[row] = read[-1].decimals
    return column


def _decimals(joined: str) -> NDArray[np.int64]:
    """Count the decimals of plain numbers, one a line."""
    code = np.frombuffer(joined.encode("ascii"), dtype=np.uint8)
    ends, points = np.flatnonzero(code == ord("\n")), np.flatnonzero(code == ord("."))
    decimals = np.zeros(ends.size, dtype=np.int64)
    line = np.searchsorted(ends, points)
    decimals[line] = ends[line] - points - 1
    return decimals


def _one(piece: str, role: Role, unit: Unit | None, row: int, column: _Cells) -> Reading:
    """Read one number, with the unit of the header or one behind it."""
    split = number_and_unit(piece)
    if split is not None and split[1].base == role.unit:
        piece, unit = split
        words = "" if unit.same else f" ({unit.words})"
        said = f"The unit stands behind the number; it was read as such{words}."
        column.remarks.append(_Remark(row, said, f"{piece} {unit.symbol}"))
    if unit is not None and not unit.same:
        parse_number(piece, "cell")
        piece = converted(piece, unit)
    return parse_number(piece, "cell")


def _questions_in(column: _Cells, used: NDArray[np.bool_], instrument: Instrument) -> list[_Remark]:
    """Return what looks odd about the readings in use; the most common kinds are summed up."""
    step = instrument.readability
    used = used & ~np.isnan(column.values)
    ratio = np.where(used, column.values, 0.0) / step
    off = np.abs(ratio - np.round(ratio)) > 1e-6
    shown = next(n for n in range(30) if abs(step * 10**n - round(step * 10**n)) < 1e-6)
    above = np.inf if instrument.capacity is None else instrument.capacity
    values = np.where(used, column.values, 0.0)
    kinds = (
        (used & off, False),
        (used & ~off & (column.decimals < shown), True),
        (used & ~off & (column.decimals > shown), True),
        (used & (values > above), False),
        (used & (values < 0) & (not instrument.can_be_negative), False),
    )
    found: dict[_Remark, None] = {}
    for mask, summed in kinds:
        rows = np.flatnonzero(mask).tolist()
        listed = rows[: 1 if summed else _LISTED]
        for number, row in enumerate(listed, 1):
            text = several(column.texts[row])[-1]
            asked = instrument.check(parse_number(text, "cell"))
            left = len(rows) - len(listed)
            more = f" ({len(rows)} cells)" if left and number == len(listed) else ""
            asked = asked[:1] if summed else asked
            found.update((_Remark(row, f"{question}{more}", text), None) for question in asked)
    return list(found)
