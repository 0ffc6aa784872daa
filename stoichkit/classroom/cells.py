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
_WHOLE, _DIGITS = 12, 15  # of a plain number: never larger than a reading may be, and exact
_POWERS = np.array([float(10**n) for n in range(_DIGITS + 1)])
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
        return cls([""] * count, *_no_numbers(count))

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
            typed = several(self.texts[row])
            self._put(row, [parse_number(converted(one, unit), "cell") for one in typed], role)

    def _put(self, row: int, read: Sequence[Reading], role: Role) -> None:
        """Keep what was read in one cell; the last reading counts, or the mean."""
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
    """Read the numbers of one column; those that are plain numbers all at once, as that is fast."""
    if unit is None or unit.same:
        column, others = _plain(cells)
    else:
        column, others = Cells.empty(len(cells)), range(len(cells))
    for row in others:
        cell = cells[row]
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
            column._put(row, read, role)
    return column


def _plain(cells: Sequence[str]) -> tuple[Cells, Sequence[int]]:
    """Read the cells that hold nothing but a plain number; say which hold something else.

    Numbers of one length with the mark at one place are read together. Their digits are a whole
    number below 2^53, as is the power of ten that it is divided by: the quotient is the nearest
    double, as of ``float``.
    """
    column = Cells(list(cells), *_no_numbers(len(cells)))
    joined = "\n".join([*cells, ""])
    if joined.count("\n") > len(cells):
        joined = "\n".join([*(cell.replace("\n", "?") for cell in cells), ""])
    code = np.frombuffer(joined.encode("utf-8", "surrogatepass"), dtype=np.uint8)
    ends = np.flatnonzero(code == ord("\n"))
    lengths = np.diff(ends, prepend=-1) - 1
    read = lengths == 0
    for length in np.flatnonzero(np.bincount(lengths[lengths <= _DIGITS + 1])).tolist():
        of_length = np.flatnonzero(lengths == length)
        block = code[(ends[of_length] - length)[:, None] + np.arange(length)]
        digits = block - np.uint8(ord("0"))
        is_digit = digits < 10
        whole = np.where(is_digit.all(axis=1), length, is_digit.argmin(axis=1) if length else 0)
        for place in np.flatnonzero(np.bincount(whole)).tolist():
            decimals = max(length - place - 1, 0)
            if not 0 < place <= _WHOLE or place == length - 1:
                continue
            here = np.flatnonzero(whole == place)
            if decimals:
                rest = is_digit[here, place + 1 :].all(axis=1)
                here = here[rest & np.isin(block[here, place], [ord("."), ord(",")])]
            shown = np.delete(digits[here], range(place, length - decimals), axis=1)
            rows = of_length[here]
            column.values[rows] = shown @ _POWERS[place + decimals - 1 :: -1] / _POWERS[decimals]
            column.decimals[rows] = decimals
            read[rows] = True
    others = np.flatnonzero(~read).tolist()
    for row in others:
        column.texts[row] = ""
    return column, others


def _no_numbers(count: int) -> tuple[Floats, NDArray[np.int64]]:
    return np.full(count, np.nan), np.zeros(count, dtype=np.int64)


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
    values = column.values
    used = used & ~np.isnan(values)
    ratio = values / step
    off = np.abs(ratio - np.round(ratio)) > 1e-6
    shown = next(n for n in range(30) if abs(step * 10**n - round(step * 10**n)) < 1e-6)
    above = np.inf if instrument.capacity is None else instrument.capacity
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
