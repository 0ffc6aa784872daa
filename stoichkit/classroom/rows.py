"""Whose reading each row holds, or why it was set aside.

The cells of one column of readings: numbers with their decimals, and what is not a number.

Rows of readings put together into groups and trials, by the names their cells carry.

Every row of a class file: whose readings it holds, or why it was not used.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from ..errors import StoichkitError
from ..experiments.record import Experiment
from ..measurement.base import Instrument, Role
from ..uncertainty.readings import Reading, parse_number
from ..uncertainty.sources import Floats
from .columns import GROUP, TRIAL, Column, Preview, Unit, clean_text, converted, number_and_unit
from .tables import SET_ASIDE, Problem, ProblemList, RowRecord, RowUse, TextTable

__all__ = [
    "CellColumn",
    "ClassRows",
    "Fault",
    "Grouping",
    "RowTexts",
    "group_rows",
    "questions_in",
    "read_cells",
    "read_rows",
    "usable_name",
]

Typed: TypeAlias = str | tuple[str, ...]
_PLAIN = re.compile(r"(?:(?:[0-9]{1,20}(?:\.[0-9]{1,15})?)?\n)*+")
_ABSENT = {
    "-",
    "--",
    "–",
    "—",
    "n/a",
    "na",
    "n.a.",
    "nan",
    "none",
    "null",
    "missing",
    "absent",
    "?",
}
_LISTED = 20


@dataclass(frozen=True, slots=True)
class Fault:
    """What is odd about one cell; the row counts from 0 within the column."""

    row: int
    text: str
    given: str = ""
    allowed: str = ""


@dataclass(slots=True)
class CellColumn:
    """Readings of one column.

    Attributes
    ----------
    texts : list of str or tuple of str
        As typed, in the unit of the instrument; "" where there is none. A tuple where several
        readings were typed one after the other.
    values : ndarray, shape (rows,)
        The last reading typed; nan where there is none.
    decimals : ndarray of int, shape (rows,)
        Of the text that ``values`` was read from.
    faults : list of Fault
        Cells that hold something other than a number.
    remarks : list of Fault
        Cells that were read although they hold more than a number.
    """

    texts: list[Typed]
    values: Floats
    decimals: NDArray[np.int64]
    faults: list[Fault] = field(default_factory=list)
    remarks: list[Fault] = field(default_factory=list)

    def then(self, later: CellColumn) -> CellColumn:
        """Return this column with the readings of a later one put after its own, row by row."""
        both = [
            one if not two else two if not one else (*_tuple(one), *_tuple(two))
            for one, two in zip(self.texts, later.texts, strict=True)
        ]
        second = ~np.isnan(later.values)
        return CellColumn(
            both,
            np.where(second, later.values, self.values),
            np.where(second, later.decimals, self.decimals),
            self.faults + later.faults,
            self.remarks + later.remarks,
        )


def _tuple(typed: Typed) -> tuple[str, ...]:
    return (typed,) if isinstance(typed, str) else typed


def read_cells(cells: Sequence[str], role: Role, unit: Unit | None = None) -> CellColumn:
    """Read the numbers of one column.
    >>> from stoichkit import experiments
    >>> role = experiments.load("copper-silver").roles()[0]
    >>> column = read_cells(["2.90", "", "2,9", "2940 mg", "2.9O"], role)
    >>> column.texts, column.decimals.tolist()
    (['2.90', '', '2,9', '2.940', ''], [2, 0, 1, 3, 0])
    >>> [(fault.row, fault.text) for fault in column.faults]
    [(4, 'The cell has letters behind the number.')]
    """
    same = unit is None or unit.same
    joined = "\n".join(cells) + "\n"
    in_line = joined.count("\n") == len(cells)  # no cell of several lines
    if same and in_line and _PLAIN.fullmatch(joined.replace(",", ".")):
        joined = joined.replace(",", ".")
        plain = joined.split("\n")[:-1]
        values = [float(text or "nan") for text in plain]
        return CellColumn(list(cells), np.array(values), _decimals(joined))
    count = len(cells)
    column = CellColumn([""] * count, np.full(count, np.nan), np.zeros(count, dtype=np.int64))
    for row, cell in enumerate(cells):
        if not cell:
            continue
        if cell.casefold() in _ABSENT:
            if not role.optional:
                column.faults.append(Fault(row, "The reading is marked as missing.", cell))
            continue
        pieces = [p.strip() for p in re.split(r"[;\n]", cell)] if role.repeated else [cell]
        try:
            read = [_one(piece, role, unit, row, column) for piece in pieces if piece]
        except StoichkitError as error:
            allowed = str(error.allowed or "")
            column.faults.append(Fault(row, error.problem, cell[:60], allowed))
            continue
        if read:
            column.texts[row] = read[0].text if len(read) == 1 else tuple(r.text for r in read)
            column.values[row] = read[-1].value
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


def _one(piece: str, role: Role, unit: Unit | None, row: int, column: CellColumn) -> Reading:
    """Read one number, with the unit of the header or one behind it."""
    split = number_and_unit(piece)
    if split is not None and split[1].base == role.unit:
        piece, unit = split
        words = "" if unit.same else f" ({unit.words})"
        said = f"The unit stands behind the number; it was read as such{words}."
        column.remarks.append(Fault(row, said, f"{piece} {unit.symbol}"))
    if unit is not None and not unit.same:
        parse_number(piece, "cell")
        piece = converted(piece, unit)
    return parse_number(piece, "cell")


def questions_in(
    column: CellColumn, used: NDArray[np.bool_], instrument: Instrument
) -> list[Fault]:
    """Return what looks odd about the readings in use; the most common kinds are summed up.
    >>> from stoichkit import experiments
    >>> lab = experiments.load("copper-silver")
    >>> column = read_cells(["2.90", "2.9", "2.9"], lab.roles()[0])
    >>> balance = lab.instruments["balance"]
    >>> [(q.row, q.text) for q in questions_in(column, column.values > 0, balance)]
    [(1, '2.9 g has fewer decimals than this balance shows (2): was it 2.90 g? (2 cells)')]
    """
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
    found: dict[Fault, None] = {}
    for mask, summed in kinds:
        rows = np.flatnonzero(mask).tolist()
        listed = rows[: 1 if summed else _LISTED]
        for number, row in enumerate(listed, 1):
            text = column.texts[row]
            text = text if isinstance(text, str) else text[-1]
            asked = instrument.check(parse_number(text, "cell"))
            left = len(rows) - len(listed)
            more = f" ({len(rows)} cells)" if left and number == len(listed) else ""
            asked = asked[:1] if summed else asked
            found.update((Fault(row, f"{question}{more}", text), None) for question in asked)
    return list(found)


MAX_TRIALS = 1000
_MAX_NAME = 80
_SUMMARY = {
    "average", "avg", "count", "max", "maximum", "mean", "median", "min", "minimum", "range",
    "rsd", "s.d.", "sd", "st dev", "standard deviation", "std", "std dev", "stdev", "sum", "total",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class RowTexts:
    """What the rows below the header hold besides readings.

    Attributes
    ----------
    cells : sequence of sequence of str
        All cells of each row.
    filled : sequence of bool
        Whether a column of readings holds text.
    groups, trials : sequence of str or None
        Group and trial cells; None without such a column.
    header : tuple of str
        Cells of the header row, up to its last one with text; () without a header.
    """

    cells: Sequence[Sequence[str]]
    filled: Sequence[bool]
    groups: Sequence[str] | None
    trials: Sequence[str] | None
    header: tuple[str, ...]


@dataclass(slots=True)
class Grouping:
    """Which group and trial each row below the header belongs to.

    Attributes
    ----------
    names : list of str
        Groups with at least one row in use, in the order of the file.
    group_of : ndarray of int, shape (rows,)
        Index of the group; -1 for rows not in use.
    trials : list of str
        Name of the trial of each row in use.
    uses : list of RowUse
    reasons : dict of int to str
        Why rows were set aside, by index.
    """

    names: list[str]
    group_of: NDArray[np.intp]
    trials: list[str]
    uses: list[RowUse]
    reasons: dict[int, str]

    def set_aside(self, index: int, reason: str) -> None:
        """Take a row out of use."""
        self.group_of[index] = -1
        self.uses[index] = RowUse.SET_ASIDE
        self.reasons[index] = reason


def usable_name(text: str) -> str:
    """Return a name on one line, printable and at most 80 characters long.

    >>> usable_name("red \\n  bench\\x00")
    'red bench\ufffd'
    """
    plain = " ".join(text.split())
    if plain.isprintable() and len(plain) <= _MAX_NAME:
        return plain
    plain = "".join(c if c.isprintable() else "\ufffd" for c in plain)
    return plain if len(plain) <= _MAX_NAME else f"{plain[: _MAX_NAME - 1].rstrip()}…"


def group_rows(
    rows: RowTexts, faults: Mapping[int, Sequence[Problem]], found: ProblemList
) -> Grouping:
    """Give each row its use, its group and its trial.

    An empty group cell takes the name above it, as in a sheet where only the first row of a
    group carries the name. Rows with faults, without readings, and rows of means and totals are
    set aside.
    >>> cells = [["red", "1.2"], ["", "1.3"], ["Mean", "1.25"], ["blue", "1.4"]]
    >>> texts = RowTexts(cells, [True] * 4, [row[0] for row in cells], None, ())
    >>> done = group_rows(texts, {}, ProblemList(2))
    >>> done.names, done.group_of.tolist(), done.trials
    (['red', 'blue'], [0, 0, -1, 1], ['1', '2', '', '1'])
    """
    count = len(rows.cells)
    done = Grouping([], np.full(count, -1, dtype=np.intp), [""] * count, [RowUse.USED] * count, {})
    owners = _owners(rows, faults, done, found)
    spellings: dict[int, set[str]] = {}
    index_of: dict[str, int] = {}
    known: dict[str, int] = {}
    for index, owner in enumerate(owners):
        if owner is None:
            continue
        group = known.get(owner)
        if group is None:
            group = index_of.setdefault(owner.casefold(), len(done.names))
            if group == len(done.names):
                done.names.append(owner)
            else:
                spellings.setdefault(group, {done.names[group]}).add(owner)
            known[owner] = group
        done.group_of[index] = group
    for group, variants in spellings.items():
        found.add(
            None,
            "",
            "A group is written in several ways.",
            given=found.name(", ".join(sorted(variants))),
            done=f"Read as one group{_named(found, done.names[group])}.",
        )
    done.names = _distinct(done.names)
    _name_trials(rows, done, found)
    return done


def _named(found: ProblemList, name: str) -> str:
    return f", {found.name(name)}" if found.name(name) else ""


def _distinct(names: Sequence[str]) -> list[str]:
    """Return printable names, all different."""
    taken: set[str] = set()
    repeats: Counter[str] = Counter()
    found = []
    for name in names:
        plain = stem = usable_name(name)
        while plain in taken:
            repeats[stem] += 1
            plain = f"{stem[: _MAX_NAME - 12]} ({repeats[stem] + 1})"
        taken.add(plain)
        found.append(plain)
    return found


def _owners(
    rows: RowTexts,
    faults: Mapping[int, Sequence[Problem]],
    done: Grouping,
    found: ProblemList,
) -> list[str | None]:
    """Return the group of each row in use as its cell has it; None for other rows."""
    owners: list[str | None] = [None] * len(rows.cells)
    current, gap = "", False
    taken_over: list[int] = []
    for index, filled in enumerate(rows.filled):
        group = rows.groups[index] if rows.groups is not None else ""
        if not filled:
            gap = _without_readings(index, rows, done, found)
            current = group or current
            continue
        if _set_aside(index, rows, group, faults, done, found):
            continue
        if rows.groups is None:
            current = "all" if rows.trials is not None else f"row {index + found.first_row}"
        elif group:
            current = group
        elif not current:
            done.set_aside(index, "no group")
            found.add(index, "", "The row has no group, and none stands above it.")
            continue
        else:
            taken_over.append(index)
            if gap:
                found.add(
                    index,
                    "",
                    "The group cell is empty after a blank row: is it still the same group?",
                    done=f"The row was counted to the group above{_named(found, current)}.",
                )
        gap = False
        if index in faults:
            found.items += faults[index]
            done.set_aside(index, faults[index][0].text)
            continue
        owners[index] = current
    if taken_over:
        shown = ", ".join(str(index + found.first_row) for index in taken_over[:20])
        more = f" and {len(taken_over) - 20} more" if len(taken_over) > 20 else ""
        found.add(
            None,
            "",
            "Group cells are empty.",
            given=f"rows {shown}{more}",
            done="Each of these rows was counted to the group named above it.",
        )
    return owners


def _without_readings(index: int, rows: RowTexts, done: Grouping, found: ProblemList) -> bool:
    """Record a row without readings; say whether it is blank."""
    cells = [cell.strip() for cell in rows.cells[index] if cell.strip()]
    if not cells:
        done.uses[index] = RowUse.BLANK
        return True
    done.set_aside(index, "no reading")
    found.add(index, "", "The row holds no reading.", given=found.name(" | ".join(cells)))
    return False


def _set_aside(
    index: int,
    rows: RowTexts,
    group: str,
    faults: Collection[int],
    done: Grouping,
    found: ProblemList,
) -> bool:
    """Set aside a row of readings that is none: a repeated header, a mean, a row out of line."""
    if index in faults and rows.header:
        cells = tuple(cell.strip() for cell in rows.cells[index])
        if cells[: len(rows.header)] == rows.header:
            done.uses[index] = RowUse.HEADER
            return True
    label = group or (rows.trials[index] if rows.trials is not None else "")
    if label.casefold().strip(" .:") in _SUMMARY:
        done.set_aside(index, "mean, total or the like")
        found.add(
            index,
            "",
            "The row looks like a mean, a total or the like.",
            given=label,
            done="The row was set aside; if this is a group, give it another name.",
        )
        return True
    width = len(rows.header)
    extra = rows.cells[index][width:] if width else ()
    if extra and any(cell.strip()[:1].isdigit() for cell in extra):
        done.set_aside(index, "more cells than the header")
        found.add(
            index,
            "",
            "The row has more cells than the header.",
            given=found.name(" | ".join(rows.cells[index])),
            allowed=f"{width} cells",
            done="The row was set aside. Are its decimal commas also the marks between cells? "
            "Then save the sheet with semicolons or tabs.",
        )
        return True
    return False


def _name_trials(rows: RowTexts, done: Grouping, found: ProblemList) -> None:
    """Name the trials as their cells do, or else number them; names in a group all differ."""
    taken: list[set[str]] = [set() for _ in done.names]
    for index, group in enumerate(done.group_of.tolist()):
        if group < 0:
            continue
        names = taken[group]
        if len(names) >= MAX_TRIALS:
            done.set_aside(index, "too many trials")
            found.add(
                index,
                "",
                "The group has too many trials.",
                given=found.name(done.names[group]),
                allowed=f"up to {MAX_TRIALS}",
            )
            continue
        typed = rows.trials[index] if rows.trials is not None and not found.hide_names else ""
        name = usable_name(typed) if typed else str(len(names) + 1)
        if name in names:
            new = f"{name[:60]} (row {index + found.first_row})"
            while new in names:
                new += "*"
            if typed:
                found.add(
                    index,
                    "",
                    "The group has a trial of this name already.",
                    given=found.name(typed),
                    done=f"The row was used as trial “{new}”. Is it a copy?",
                )
            name = new
        names.add(name)
        done.trials[index] = name


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
    >>> from stoichkit import experiments
    >>> from stoichkit.classroom.columns import match_columns
    >>> from stoichkit.classroom.tables import read_table
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
