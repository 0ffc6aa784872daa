"""The cells of one column: numbers with their decimals, and what is not a number."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from ..errors import StoichkitError
from ..experiments.checks import read_value
from ..measurement.base import Instrument, Role
from ..uncertainty.readings import Reading, mean_reading, parse_number
from ..uncertainty.sources import Floats
from .columns import Unit, converted, number_and_unit

Typed: TypeAlias = str | tuple[str, ...]
"""A reading as typed; a tuple where several were typed one after the other."""
_PLAIN = re.compile(r"(?:(?:[0-9]{1,20}(?:\.[0-9]{1,15})?)?\n)*+")
_ABSENT = {
    "-", "--", "–", "—", "n/a", "na", "n.a.", "nan", "none", "null", "missing", "absent", "?",
}  # fmt: skip
_LISTED = 20


@dataclass(frozen=True, slots=True)
class Remark:
    """What is odd about one cell; the row counts from 0 within the column."""

    row: int
    text: str
    given: str = ""
    allowed: str = ""


@dataclass(slots=True)
class Cells:
    """Readings of one column."""

    texts: list[Typed]  # as typed, in the unit of the instrument; "" where there is none
    values: Floats  # the last one typed in each cell, or the mean; nan where there is none
    decimals: NDArray[np.int64]  # of the text that the value was read from
    faults: list[Remark] = field(default_factory=list)  # cells that hold no number
    remarks: list[Remark] = field(default_factory=list)  # cells that hold more than a number

    @classmethod
    def empty(cls, count: int) -> Cells:
        """Return a column without readings."""
        return cls([""] * count, np.full(count, np.nan), np.zeros(count, dtype=np.int64))

    def followed_by(self, below: Cells) -> Cells:
        """Return this column with another one below it; faults and remarks are left out."""
        return Cells(
            self.texts + below.texts,
            np.concatenate([self.values, below.values]),
            np.concatenate([self.decimals, below.decimals]),
        )

    def rescale(self, rows: Sequence[int], unit: Unit, role: Role) -> None:
        """Convert what was typed in some rows as if it were in another unit."""
        for row in rows:
            read = [parse_number(converted(one, unit), "cell") for one in several(self.texts[row])]
            self.texts[row] = read[0].text if len(read) == 1 else tuple(r.text for r in read)
            self.values[row] = mean_reading(read).value if role.averaged else read[-1].value
            self.decimals[row] = read[-1].decimals

    def then(self, later: Cells, role: Role) -> Cells:
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
        return Cells(
            both,
            values,
            np.where(second, later.decimals, self.decimals),
            self.faults + later.faults,
            self.remarks + later.remarks,
        )


def several(typed: Typed) -> tuple[str, ...]:
    """Return the readings typed in one place as a tuple."""
    return (typed,) if isinstance(typed, str) else typed


def read_cells(cells: Sequence[str], role: Role, unit: Unit | None = None) -> Cells:
    """Read the numbers of one column; one of plain numbers is read at once, as it is fast."""
    same = unit is None or unit.same
    joined = "\n".join(cells) + "\n"
    in_line = joined.count("\n") == len(cells)  # no cell of several lines
    if same and in_line and _PLAIN.fullmatch(joined.replace(",", ".")):
        joined = joined.replace(",", ".")
        plain = joined.split("\n")[:-1]
        values = [float(text or "nan") for text in plain]
        return Cells(list(cells), np.array(values), _decimals(joined))
    column = Cells.empty(len(cells))
    for row, cell in enumerate(cells):
        if not cell:
            continue
        if cell.casefold() in _ABSENT:
            if not role.optional:
                column.faults.append(Remark(row, "The reading is marked as missing.", cell))
            continue
        pieces = [p.strip() for p in re.split(r"[;\n]", cell)] if role.takes_several else [cell]
        try:
            read = [_one(piece, role, unit, row, column) for piece in pieces if piece]
        except StoichkitError as error:
            allowed = str(error.allowed or "")
            column.faults.append(Remark(row, error.problem, cell[:60], allowed))
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


def _one(piece: str, role: Role, unit: Unit | None, row: int, column: Cells) -> Reading:
    """Read one number, with the unit of the header or one behind it."""
    split = number_and_unit(piece)
    if split is not None and split[1].base == role.unit:
        piece, unit = split
        words = "" if unit.same else f" ({unit.words})"
        said = f"The unit stands behind the number; it was read as such{words}."
        column.remarks.append(Remark(row, said, f"{piece} {unit.symbol}"))
    if unit is not None and not unit.same:
        parse_number(piece, "cell")
        piece = converted(piece, unit)
    return parse_number(piece, "cell")


def remarks_on(column: Cells, used: NDArray[np.bool_], instrument: Instrument) -> list[Remark]:
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
    found: dict[Remark, None] = {}
    for mask, summed in kinds:
        rows = np.flatnonzero(mask).tolist()
        listed = rows[: 1 if summed else _LISTED]
        for number, row in enumerate(listed, 1):
            text = several(column.texts[row])[-1]
            asked = instrument.check(parse_number(text, "cell"))
            left = len(rows) - len(listed)
            more = f" ({len(rows)} cells)" if left and number == len(listed) else ""
            asked = asked[:1] if summed else asked
            found.update((Remark(row, f"{question}{more}", text), None) for question in asked)
    return list(found)
