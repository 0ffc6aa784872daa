"""A table of cells as text, and what a person should look at in it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

__all__ = [
    "MAX_COLUMNS",
    "MAX_ROWS",
    "Problem",
    "ProblemList",
    "RowRecord",
    "RowUse",
    "TextTable",
    "column_letter",
]

MAX_ROWS = 1_048_576
MAX_COLUMNS = 1000
SET_ASIDE = "The row was set aside."


@dataclass(frozen=True, slots=True)
class Problem:
    """Something in a class file that a person should look at, and what was done about it.

    Attributes
    ----------
    row : int or None
        Row as a spreadsheet numbers it, from 1; None for the file as a whole.
    column : str
        Letter and header of the column, such as ``"C (wire before / g)"``; "" for a whole row.
    text : str
        One sentence: what is odd.
    given, allowed : str
        What the cell holds, and what it may hold; "" where that says nothing.
    done : str
        One sentence: what was done.

    Examples
    --------
    >>> print(Problem(7, "C (wire before / g)", "The cell is not a number.", "2.9O",
    ...               "a number such as 2.90", "The row was set aside."))
    Row 7, column C (wire before / g): The cell is not a number. Given: 2.9O. Allowed: a number
    such as 2.90. The row was set aside.
    """

    row: int | None
    column: str
    text: str
    given: str = ""
    allowed: str = ""
    done: str = ""

    @property
    def place(self) -> str:
        """Where it is: row and column in words."""
        column = f"column {self.column}" if self.column else ""
        row = "" if self.row is None else f"row {self.row}"
        return ", ".join(part for part in (row, column) if part) or "file"

    def __str__(self) -> str:
        parts = [f"{self.place[0].upper()}{self.place[1:]}: {self.text}"]
        if self.given:
            parts.append(f"Given: {self.given}.")
        if self.allowed:
            parts.append(f"Allowed: {self.allowed}.")
        return " ".join([*parts, self.done]).rstrip()


@dataclass(frozen=True, slots=True)
class TextTable:
    """The cells of a file as text.

    Attributes
    ----------
    source : str
        Name of the file; "" for bytes.
    layout : str
        How it was read, such as ``"CSV, UTF-8, separated by semicolons"``.
    rows : tuple of tuple of str
        All rows from the first; row number 1 has index 0. Rows need not be equally long.
    problems : tuple of Problem
        What was odd about the file itself.
    """

    source: str
    layout: str
    rows: tuple[tuple[str, ...], ...]
    problems: tuple[Problem, ...] = ()


def column_letter(index: int) -> str:
    """Return the letters by which a spreadsheet calls a column, counted from 0.

    >>> column_letter(0), column_letter(25), column_letter(26)
    ('A', 'Z', 'AA')
    """
    letters = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


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


class ProblemList:
    """Problems found while the rows below a header are sorted out.

    Parameters
    ----------
    first_row : int
        Row of the file that index 0 stands for.
    hide_names : bool
        Whether text that may name a person is left out.

    Examples
    --------
    >>> found = ProblemList(2, hide_names=True)
    >>> found.add(0, "", "The row holds no reading.", given=found.name("red"))
    >>> print(found.items[0])
    Row 2: The row holds no reading. The row was set aside.
    """

    __slots__ = ("first_row", "hide_names", "items")

    def __init__(self, first_row: int, *, hide_names: bool = False) -> None:
        self.first_row, self.hide_names = first_row, hide_names
        self.items: list[Problem] = []

    def add(
        self,
        index: int | None,
        column: str,
        text: str,
        *,
        given: str = "",
        allowed: str = "",
        done: str = SET_ASIDE,
    ) -> None:
        """List a problem; the index counts rows from 0 below the header, None for the file."""
        row = None if index is None else index + self.first_row
        self.items.append(Problem(row, column, text, given, allowed, done))

    def name(self, text: str) -> str:
        """Return text that may name a person, on one line, or "" if names are hidden."""
        return "" if self.hide_names else " ".join(text.split())[:80]
