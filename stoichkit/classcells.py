"""The cells of one column of readings: numbers with their decimals, and what is not a number."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from .amounts import Role
from .classunits import Unit, converted, number_and_unit
from .errors import StoichkitError
from .instruments import Instrument
from .readings import Reading, parse_number
from .shapes import Floats

__all__ = ["CellColumn", "Fault", "questions_in", "read_cells"]

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

    Parameters
    ----------
    cells : sequence of str
        Without spaces at either end.
    role : Role
        The reading the column holds.
    unit : Unit, optional
        Unit of the header; that of the role if left out.

    Returns
    -------
    CellColumn

    Examples
    --------
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

    Parameters
    ----------
    column : CellColumn
    used : ndarray of bool, shape (rows,)
    instrument : Instrument
        What the readings were made with.

    Examples
    --------
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
