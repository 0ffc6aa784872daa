"""Which column of a class file holds which reading: found by header, for a person to confirm."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from .amounts import Role
from .classheader import (
    ALIKE,
    EXACT,
    GIVEN,
    GROUP,
    NEAR,
    TRIAL,
    Column,
    clean_text,
    match_row,
    with_unit,
)
from .classtable import TextTable, column_letter
from .classunits import known_unit
from .errors import DataFileError
from .experiment import Experiment
from .experiment_parts import nearest
from .readings import parse_number

__all__ = ["ColumnMap", "Preview", "match_columns"]

ColumnMap: TypeAlias = Mapping[str, str | Sequence[str] | None]
"""Reading name, "group" or "trial" to the header or the letter of its column; None for none."""

_LOOKED_AT = 60
_SCORE = {EXACT: 4, ALIKE: 4, NEAR: 1, GIVEN: 4}


@dataclass(frozen=True, slots=True)
class Preview:
    """The proposed matching of columns, to be confirmed or overridden before loading.

    Attributes
    ----------
    source, layout : str
        See :class:`stoichkit.classtable.TextTable`.
    header_row : int
        Row of the header as a spreadsheet numbers it; 0 where there is none.
    units_row : int
        Row of units below the header; 0 where there is none.
    matched : tuple of Column
        All columns from the left.
    missing : tuple of str
        Readings every trial needs that no column holds.
    sample : tuple of tuple of str
        The first five rows below the header.
    """

    source: str
    layout: str
    header_row: int
    units_row: int
    matched: tuple[Column, ...]
    missing: tuple[str, ...]
    sample: tuple[tuple[str, ...], ...]

    @property
    def first_row(self) -> int:
        """First row that may hold readings."""
        return max(self.header_row, self.units_row) + 1

    @property
    def questions(self) -> tuple[str, ...]:
        """What a person should confirm."""
        return tuple(column.question for column in self.matched if column.question)

    @property
    def columns(self) -> dict[str, tuple[str, ...]]:
        """The matching as letters of columns; change it and give it to ``load_class``."""
        found: dict[str, tuple[str, ...]] = {}
        for column in self.matched:
            if column.field:
                found[column.field] = (*found.get(column.field, ()), column.letter)
        return found

    def of(self, field: str) -> tuple[Column, ...]:
        """Return the columns that hold one reading, the group or the trial."""
        return tuple(column for column in self.matched if column.field == field)

    def __str__(self) -> str:
        lines = [f"{self.source or 'table'} ({self.layout}), header in row {self.header_row}"]
        for c in self.matched:
            unit = f", {c.unit.words}" if c.unit and not c.unit.same else ""
            lines.append(f"  {c.label} -> {c.field or 'not used'}{unit}")
        lines += [f"  missing: {name}" for name in self.missing]
        return "\n".join([*lines, *(f"  ? {text}" for text in self.questions)])


def match_columns(
    table: TextTable, experiment: Experiment, columns: ColumnMap | None = None
) -> Preview:
    """Find the header and match its columns to the readings of an experiment.

    Parameters
    ----------
    table : TextTable
    experiment : Experiment
        Its readings are looked for; its own trials do not matter.
    columns : mapping, optional
        What a person says: reading name, "group" or "trial" to the header or the letter of a
        column (several for a repeated reading); None for a column that is not there.

    Returns
    -------
    Preview

    Raises
    ------
    DataFileError
        If no row names a reading, or ``columns`` names what is not there.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> from stoichkit.classfile import read_table
    >>> lab = experiments.load("copper-silver")
    >>> text = "Autumn course\\nBench;Wire  before [mg];wire after / g;paper;paper and silver\\n"
    >>> print(match_columns(read_table(text.encode()), lab))
    table (CSV, UTF-8, separated by semicolons), header in row 2
      A (Bench) -> group
      B (Wire before [mg]) -> wire before, 1 mg = 0.001 g
      C (wire after / g) -> wire after
      D (paper) -> paper
      E (paper and silver) -> paper + silver
    """
    roles = {role.name: role for role in experiment.roles() if role.needs_reading}
    given = _checked(columns or {}, roles)
    best: tuple[Column, ...] = ()
    best_score, header = 0, -1
    for index, row in enumerate(table.rows[:_LOOKED_AT]):
        if len([cell for cell in row if cell.strip()]) < min(2, len(roles)):
            continue
        found = tuple(match_row(row, roles, given))
        score = _score(found, roles)
        if score > best_score:
            best, best_score, header = found, score, index
        if best_score >= _SCORE[EXACT] * len(roles) + 2:
            break
    if header < 0:
        best, header = _without_header(table, roles, given)
    _check_given(given, best)
    best = _widened(best, table)
    units, best = _units_row(table.rows[header + 1 : header + 2], best, roles)
    needed = [r.name for r in roles.values() if not r.optional]
    have = {column.field for column in best}
    start = header + 1 + units
    return Preview(
        table.source,
        table.layout,
        header + 1,
        (header + 2) if units else 0,
        best,
        tuple(n for n in needed if n not in have and n not in experiment.shared_readings),
        table.rows[start : start + 5],
    )


def _checked(columns: ColumnMap, roles: Mapping[str, Role]) -> dict[str, tuple[str, ...] | None]:
    """Return the mapping a person gave, with every value a tuple or None."""
    found: dict[str, tuple[str, ...] | None] = {}
    for field, where in columns.items():
        if field not in roles and field not in (GROUP, TRIAL):
            known = [GROUP, TRIAL, *roles]
            raise DataFileError(
                "There is no reading of this name to match a column to.",
                given=field,
                allowed=", ".join(known),
                fix=nearest(field, known),
            )
        names = (where,) if isinstance(where, str) else where
        if names is not None and (
            not names or not all(isinstance(one, str) and one.strip() for one in names)
        ):
            raise DataFileError(
                f"The column for “{field}” is not named.",
                given=where,
                allowed="its header or its letter, or None for no column",
            )
        if names is not None and len(names) > 1 and not (field in roles and roles[field].repeated):
            raise DataFileError(
                f"Several columns are given for “{field}”, which is one number.",
                given=", ".join(names),
                allowed="one column",
            )
        found[field] = None if names is None else tuple(names)
    return found


def _check_given(given: Mapping[str, tuple[str, ...] | None], found: Sequence[Column]) -> None:
    for field, names in given.items():
        here = sum(column.field == field and column.how == GIVEN for column in found)
        if names is not None and here < len(names):
            headers = [column.header for column in found if column.header]
            raise DataFileError(
                f"There is no column of this name for “{field}”, or it is given twice.",
                given=", ".join(names),
                allowed=", ".join(headers)[:300] or None,
                fix=nearest(names[0], headers) or "Give its header or its letter.",
            )


def _score(columns: Sequence[Column], roles: Mapping[str, Role]) -> int:
    readings = [c for c in columns if c.field in roles and c.header]
    if not readings or any(_is_number(c.header) for c in readings):
        return 0
    return sum(_SCORE[c.how] for c in readings) + sum(c.field in (GROUP, TRIAL) for c in columns)


def _widened(columns: tuple[Column, ...], table: TextTable) -> tuple[Column, ...]:
    """Add the columns to the right of the header in which some row has text."""
    widest = max(map(len, table.rows), default=0)
    return (*columns, *(Column(index, "") for index in range(len(columns), widest)))


def _units_row(
    below: Sequence[Sequence[str]], columns: tuple[Column, ...], roles: Mapping[str, Role]
) -> tuple[bool, tuple[Column, ...]]:
    """Take the units from a row of nothing else below the header."""
    cells = [cell.strip().strip("()[]") for cell in below[0]] if below else []
    filled = [cell for cell in cells if cell]
    if not filled or any(known_unit(cell) is None for cell in filled):
        return False, columns
    return True, tuple(
        with_unit(column, roles[column.field], cells[column.index])
        if column.field in roles and column.index < len(cells)
        else column
        for column in columns
    )


def _without_header(
    table: TextTable, roles: Mapping[str, Role], given: Mapping[str, tuple[str, ...] | None]
) -> tuple[tuple[Column, ...], int]:
    """Use the letters a person gave, and begin at the first row with numbers in those columns."""
    width = max(map(len, table.rows), default=0)
    letters = [column_letter(index) for index in range(width)]
    where = {
        letters.index(name.strip().upper()): field
        for field, names in given.items()
        for name in names or ()
        if name.strip().upper() in letters
    }
    numeric = [index for index, field in where.items() if field in roles]
    for start, row in enumerate(table.rows[:_LOOKED_AT] if numeric else ()):
        if all(index < len(row) and _is_number(row[index]) for index in numeric):
            header = [clean_text(c) for c in table.rows[start - 1]] if start else []
            header += [""] * (width - len(header))
            return tuple(
                Column(i, header[i], where.get(i, ""), None, GIVEN if i in where else "")
                for i in range(width)
            ), start - 1
    shown = next((row for row in table.rows if len([c for c in row if c.strip()]) > 1), ())
    raise DataFileError(
        "No row of the file names a reading of this experiment.",
        given=" | ".join(" ".join(cell.split()) for cell in shown) or "no cells",
        allowed=f"a header row with {', '.join(roles)}",
        fix="Give the columns by letter: columns={…}.",
    )


def _is_number(text: str) -> bool:
    try:
        parse_number(text)
    except ValueError:
        return False
    return True
