"""Every row of a class file: whose readings it holds, or why it was not used."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from .amounts import Role
from .classcells import CellColumn, questions_in, read_cells
from .classcolumns import Preview
from .classgroups import Grouping, RowTexts, group_rows
from .classheader import GROUP, TRIAL, Column, clean_text
from .classtable import SET_ASIDE, Problem, ProblemList, RowRecord, RowUse, TextTable
from .experiment import Experiment

__all__ = ["ClassRows", "read_rows"]


@dataclass(slots=True)
class ClassRows:
    """The rows of a class file, sorted out.

    Attributes
    ----------
    first_row : int
        Row of the file that index 0 stands for.
    groups : tuple of str
        Names in the order of the file; codes if asked for.
    group_of : ndarray of int, shape (rows,)
        Index of the group of each row in use; -1 for others.
    trials : list of str
        Name of the trial of each row in use.
    readings : dict of str to CellColumn
        By the name of the reading.
    uses : list of RowUse
        Of all rows of the file.
    reasons : dict of int to str
        Why rows were set aside, by row of the file.
    problems : list of Problem
    key : dict of str to str
        Code to name; empty unless asked for.
    """

    first_row: int
    groups: tuple[str, ...]
    group_of: NDArray[np.intp]
    trials: list[str]
    readings: dict[str, CellColumn]
    uses: list[RowUse]
    reasons: dict[int, str]
    problems: list[Problem]
    key: dict[str, str] = field(default_factory=dict)

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
    """Sort out the rows of a table whose columns are matched.

    Parameters
    ----------
    table : TextTable
    preview : Preview
        No reading may be missing in it.
    experiment : Experiment
    codes : bool
        Whether groups are called G01, G02, ... and no name is kept outside ``key``.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> from stoichkit.classcolumns import match_columns
    >>> from stoichkit.classfile import read_table
    >>> lab = experiments.load("copper-silver")
    >>> text = '''group,wire before,wire after,paper,paper + silver
    ... red,2.94,2.82,0.75,1.15
    ... ,3.01,2.9O,0.75,1.12
    ...
    ... blue,2.95,2.83,0.70,1.13'''
    >>> table = read_table(text.encode())
    >>> rows = read_rows(table, match_columns(table, lab), lab)
    >>> rows.groups, [str(use) for use in rows.uses]
    (('red', 'blue'), ['header', 'used', 'set aside', 'blank', 'used'])
    >>> print(rows.problems[1])
    Row 3, column C (wire after): The cell has letters behind the number. Given: 2.9O. Allowed:
    digits with at most one decimal mark, such as 20.10 or 20,10. The row was set aside.
    """
    found = ProblemList(preview.first_row, hide_names=codes)
    data = table.rows[preview.first_row - 1 :]
    roles = {role.name: role for role in experiment.roles() if role.needs_reading}
    header = _header(table, preview)
    _about_file(table, preview, data, header, found)
    readings, faults, filled = _readings(data, preview, roles, experiment, found)
    named = {
        name: [clean_text(cell) for cell in _cells(data, columns[0])] if columns else None
        for name in (GROUP, TRIAL)
        for columns in [preview.of(name)]
    }
    texts = RowTexts(data, filled, named[GROUP], named[TRIAL], header)
    done = group_rows(texts, faults, found)
    for name, column in readings.items():
        if roles[name].once:
            _check_once(preview.of(name)[0].label, column, done, found)
    _drop_empty_groups(done)
    used = done.group_of >= 0
    for name, column in readings.items():
        label = preview.of(name)[-1].label
        for q in questions_in(column, used, experiment.instruments[roles[name].instrument]):
            found.add(q.row, label, q.text, given=q.given, done="It was used as typed.")
    width = max(2, len(str(len(done.names))))
    key = {f"G{i:0{width}}": name for i, name in enumerate(done.names, 1)} if codes else {}
    return ClassRows(
        first_row=preview.first_row,
        groups=tuple(key or done.names),
        group_of=done.group_of,
        trials=done.trials,
        readings=readings,
        uses=[*_uses_above(table, preview), *done.uses],
        reasons={index + preview.first_row: text for index, text in done.reasons.items()},
        problems=sorted(found.items, key=lambda p: p.row or 0),
        key=key,
    )


def _cells(data: Sequence[Sequence[str]], column: Column) -> list[str]:
    i = column.index
    try:
        cells = [row[i] for row in data]
    except IndexError:
        cells = [row[i] if i < len(row) else "" for row in data]
    return list(map(str.strip, cells))


def _header(table: TextTable, preview: Preview) -> tuple[str, ...]:
    """Return the header row up to its last cell with text."""
    cells = table.rows[preview.header_row - 1] if preview.header_row else ()
    header = [cell.strip() for cell in cells]
    while header and not header[-1]:
        header.pop()
    return tuple(header)


def _uses_above(table: TextTable, preview: Preview) -> list[RowUse]:
    """Return the uses of the rows before the first one below the header."""
    uses = []
    for number, row in enumerate(table.rows[: preview.first_row - 1], 1):
        if number == preview.header_row:
            uses.append(RowUse.HEADER)
        elif number == preview.units_row:
            uses.append(RowUse.UNITS)
        else:
            uses.append(RowUse.ABOVE if any(map(str.strip, row)) else RowUse.BLANK)
    return uses


def _about_file(
    table: TextTable,
    preview: Preview,
    data: Sequence[Sequence[str]],
    header: tuple[str, ...],
    found: ProblemList,
) -> None:
    """Say what was decided about the file as a whole and about its columns."""
    letters = {column.letter: column for column in preview.matched}
    for problem in table.problems:
        column = letters.get(problem.column)
        if problem.row is None and problem.column:
            if column is None or column.field in ("", GROUP, TRIAL):
                continue  # how a column without readings stores its numbers
            found.items.append(replace(problem, column=column.label))
        else:
            label = problem.column if column is None else column.label
            found.items.append(replace(problem, column=label, given=found.name(problem.given)))
    for column in preview.matched:
        unit = column.unit
        if column.question:
            done = "It was used so" if column.field else "The column was not used"
            found.add(None, column.label, column.question, done=f"{done}; confirm with columns=….")
        elif not column.field:
            filled = sum(map(bool, _cells(data, column)))
            if filled and (column.header or header):
                found.add(
                    None,
                    column.label,
                    "The column is not a reading of this experiment.",
                    given=f"text in {filled} rows",
                    done="It was not used.",
                )
        if column.field and unit is not None and not unit.same:
            found.add(
                None,
                column.label,
                "The column is in another unit.",
                given=unit.symbol,
                done=f"Its numbers were converted: {unit.words}.",
            )
    if not preview.of(GROUP):
        done = "one group" if preview.of(TRIAL) else "a group of its own for each row"
        found.add(None, "", "No column names the groups.", done=f"Read as {done}.")


def _readings(
    data: Sequence[Sequence[str]],
    preview: Preview,
    roles: Mapping[str, Role],
    experiment: Experiment,
    found: ProblemList,
) -> tuple[dict[str, CellColumn], dict[int, list[Problem]], list[bool]]:
    """Read the columns of readings; return them, faults by row, and which rows hold any text."""
    readings: dict[str, CellColumn] = {}
    faults: dict[int, list[Problem]] = {}
    all_cells: list[list[str]] = []

    def fault(index: int, label: str, text: str, given: str, allowed: str) -> None:
        row = index + found.first_row
        problem = Problem(row, label, text, given, allowed, SET_ASIDE)
        faults.setdefault(index, []).append(problem)

    for name, role in roles.items():
        columns = preview.of(name)
        faulty: set[int] = set()
        for column in columns:
            all_cells.append(_cells(data, column))
            one = read_cells(all_cells[-1], role, column.unit)
            for f in one.faults:
                fault(f.row, column.label, f.text, f.given, f.allowed)
                faulty.add(f.row)
            for r in one.remarks:
                found.add(r.row, column.label, r.text, given=r.given, done="The number was used.")
            readings[name] = readings[name].then(one) if name in readings else one
        if columns and not role.optional and name not in experiment.shared_readings:
            for index in np.flatnonzero(np.isnan(readings[name].values)).tolist():
                if index not in faulty:
                    allowed = f"{role.quantity} in {role.unit}"
                    fault(index, columns[0].label, "The cell is empty.", "", allowed)
    filled = list(map(any, zip(*all_cells, strict=True)))
    return readings, faults, filled


def _check_once(label: str, column: CellColumn, done: Grouping, found: ProblemList) -> None:
    """Set aside rows whose value differs from the first of their group, where it must not."""
    first: dict[int, float] = {}
    for index, group in enumerate(done.group_of.tolist()):
        value = float(column.values[index])
        if group < 0 or np.isnan(value):
            continue
        if first.setdefault(group, value) != value:
            done.set_aside(index, "another value of what is read once")
            found.add(
                index,
                label,
                "This is read once for all trials of a group, but the row has another value.",
                given=str(column.texts[index]),
                allowed=f"{first[group]:g}, as in the first row of the group",
            )


def _drop_empty_groups(done: Grouping) -> None:
    """Leave out groups whose rows were all set aside."""
    kept = np.bincount(done.group_of[done.group_of >= 0], minlength=len(done.names)) > 0
    if not kept.all():
        new = np.append(np.cumsum(kept) - 1, -1)
        done.group_of = new[done.group_of]
        done.names = [name for name, keep in zip(done.names, kept, strict=True) if keep]
