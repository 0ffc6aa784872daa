"""What became of each row of a class file, as records; and what a sheet is while it is read."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from ..errors import DataFileError
from ..text.sheets import header_of_own
from .balances import Balances
from .cells import Cells
from .choices import AnswerGiven
from .columns import Preview
from .questions import Question
from .shapes import Shaped
from .tables import Problem, place_in_words


class RowUse(StrEnum):
    """What became of a row of the file."""

    USED = "used"
    WAITING = "waiting"
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
        As a spreadsheet numbers it; 0 where a column holds what a row holds elsewhere.
    use : RowUse
    group, trial : str
        Where its readings went; "" unless it was used.
    reason : str
        Why it was set aside, or what it waits for.
    sheet, part : str
        Sheet, where several are read; which trial of the row, or which column.
    """

    row: int
    use: RowUse
    group: str = ""
    trial: str = ""
    reason: str = ""
    sheet: str = ""
    part: str = ""

    @property
    def place(self) -> str:
        """Where it is, in words."""
        return place_in_words(self.sheet, self.row or None, self.part)


@dataclass(slots=True)
class Part:
    """One sheet of a file, or the table of one that has none, while it is read."""

    shaped: Shaped
    sheet: str = ""  # as places name it; "" where one sheet is read
    asked: tuple[Question, ...] = ()  # questions about all of its rows
    unread: bool = False  # its columns are not known
    start: int = 0  # index of its first row below the header among all rows
    _columns: dict[int, list[str]] = field(default_factory=dict)

    @property
    def preview(self) -> Preview:
        """Its columns as matched."""
        return self.shaped.preview

    @property
    def count(self) -> int:
        """How many rows stand below the header."""
        return max(len(self.shaped.table.rows) - self.preview.first_row + 1, 0)

    @property
    def places(self) -> range:
        """Its rows below the header among all rows."""
        return range(self.start, self.start + self.count)

    @property
    def lengths(self) -> NDArray[np.intp]:
        """How many cells each row below the header has."""
        return self.shaped.table.rows.lengths[self.preview.first_row - 1 :]

    def row(self, index: int) -> tuple[str, ...]:
        """Return one of its rows by its place among all rows."""
        return self.shaped.table.rows[self.preview.first_row - 1 + index - self.start]

    def column(self, index: int) -> list[str]:
        """Return the cells of a column below the header, without spaces around them."""
        if index not in self._columns:
            cells = self.shaped.table.rows.column(index, self.preview.first_row - 1)
            self._columns[index] = list(map(str.strip, cells))
        return self._columns[index]

    @property
    def own(self) -> bool:
        """Whether it is a data sheet of ours: its names stand exactly as they were given."""
        return 0 < header_of_own(self.shaped.table.rows) == self.preview.header_row - 1

    @property
    def prefix(self) -> str:
        """What goes before a row in the key of a question."""
        number = self.shaped.table.number
        return f"{number}/" if self.sheet or number > 1 else ""


@dataclass(frozen=True, slots=True)
class Span:
    """Which rows of the file the places of the readings stand for; without any text of it."""

    sheet: str
    above: tuple[RowUse, ...]  # of the rows before the first one below the header
    start: int
    count: int
    origins: tuple[tuple[int | None, str], ...] | None

    def origin(self, place: int) -> tuple[int | None, str]:
        """Return row and part of a row of the table, counted from 0."""
        return (place + 1, "") if self.origins is None else self.origins[place]


@dataclass(slots=True)
class ClassRows:
    """The rows of a class file, sorted out."""

    spans: tuple[Span, ...]
    group_of: NDArray[np.intp]  # place of the group of each row in use; -1 for others
    trials: list[str]  # name of the trial of each row in use
    readings: dict[str, Cells]  # by the name of the reading
    groups: tuple[str, ...]  # in the order of the file; codes if asked for
    uses: list[RowUse]  # of all rows below the headers
    reasons: dict[int, str]  # why rows were set aside or wait
    problems: list[Problem]
    questions: tuple[Question, ...]
    balances: dict[int, str]  # what a column says of the balance of a row
    weighed: Balances  # what was understood of it
    key: dict[str, str] = field(default_factory=dict)  # code to name; empty unless asked for
    coded_trials: dict[tuple[str, str], str] = field(default_factory=dict)  # with the key only
    named: tuple[str, ...] = ()  # without codes: all groups, those that are left out too
    named_of: NDArray[np.intp] = field(default_factory=lambda: np.zeros(0, dtype=np.intp))

    def trial_behind(self, name: str, number: str) -> str:
        """Return the name of the trial of a group whose number it would have with codes."""
        rows = np.flatnonzero(self.named_of == self.named.index(name))
        place = int(number) - 1 if number.isdecimal() else -1
        return self.trials[rows[place]] if 0 <= place < len(rows) else number

    def records(self) -> Iterator[RowRecord]:
        """Yield what became of every row of the file."""
        for span in self.spans:
            for place, use in enumerate(span.above):
                row, part = span.origin(place)
                yield RowRecord(row or 0, use, sheet=span.sheet, part=part)
            for index in range(span.start, span.start + span.count):
                row, part = span.origin(len(span.above) + index - span.start)
                use, where = self.uses[index], (span.sheet, part)
                if use is RowUse.USED:
                    group = self.groups[self.group_of[index]]
                    yield RowRecord(row or 0, use, group, self.trials[index], "", *where)
                else:
                    yield RowRecord(row or 0, use, "", "", self.reasons.get(index, ""), *where)

    def counts(self) -> Counter[str]:
        """Return how many rows were used, set aside and so on."""
        found = Counter(str(use) for span in self.spans for use in span.above)
        found.update(map(str, self.uses))
        return found


def answered(asked: Question, answers: Mapping[str, AnswerGiven]) -> Question:
    """Return a question with the answer given to it.

    Raises
    ------
    DataFileError
        If the answer is none of those possible.

    Examples
    --------
    >>> from stoichkit.classroom.questions import QuestionKind
    >>> asked = Question("copy:3", QuestionKind.COPY, "A copy?", (3,), "…", ("a trial", "a copy"))
    >>> answered(asked, {"copy:3": AnswerGiven("a copy")}).answer
    'a copy'
    """
    given = answers.get(asked.key)
    if given is None:
        return asked
    if given.answer not in asked.answers:
        raise DataFileError(
            f"This is no answer to the question {asked.key}: {asked.text}",
            given=given.answer,
            allowed=" or ".join(f"“{one}”" for one in asked.answers),
            fix="Correct it in the choices, under [answers], or with --answer.",
        )
    return replace(asked, answer=given.answer)
