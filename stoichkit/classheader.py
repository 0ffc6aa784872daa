"""One row of a class file taken as its header: which cell names which reading, in which unit."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from .amounts import Role
from .classtable import column_letter
from .classunits import Unit, known_unit, split_header

__all__ = ["GROUP", "TRIAL", "Column", "clean_text", "match_row", "with_unit"]

GROUP, TRIAL = "group", "trial"
_WORDS = {
    GROUP: ("group", "group name", "group no", "group number", "lab group", "bench", "bench no",
            "gruppe", "groupe", "grupo", "gruppo",
            "team", "pair", "table", "station", "students", "student", "names", "name"),
    TRIAL: ("trial", "trial no", "trial number", "run", "run no", "repeat", "replicate",
            "attempt", "versuch", "essai", "ensayo",
            "prova", "measurement", "no", "number", "#"),
}  # fmt: skip
_CLOSE = 0.8
_CLEARLY = 0.05
_NUMBERED = re.compile(r"(.+?)[\s,.#(]+(?:no )?[0-9]{1,2}(?:st|nd|rd|th)?\)?")
EXACT, ALIKE, NEAR, GIVEN = "exact", "same words", "close", "given"
_DEFUSED = re.compile(r"'(?=[=+\-@\t\r])")


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a class file and what it is taken for.

    Attributes
    ----------
    index : int
        From 0.
    header : str
    field : str
        Name of the reading, "group", "trial", or "" for a column that is not used.
    unit : Unit or None
        Unit written in the header, for readings.
    how : str
        ``"exact"``, ``"same words"``, ``"close"`` or ``"given"``; "" for a column not used.
    question : str
        What a person should confirm; "" for nothing.
    """

    index: int
    header: str
    field: str = ""
    unit: Unit | None = None
    how: str = ""
    question: str = ""

    @property
    def letter(self) -> str:
        """Letter of the column in a spreadsheet."""
        return column_letter(self.index)

    @property
    def label(self) -> str:
        """Letter and header, as problems name the column."""
        return f"{self.letter} ({self.header})" if self.header else self.letter


def _alike(text: str) -> str:
    """Return a name without differences of writing: capitals, spaces, "and" for "+"."""
    words = re.sub(r"[\s_]+", " ", text.casefold()).strip(" .:*")
    words = re.sub(r"\s*(?:\+|&|\band\b|\bwith\b)\s*", " + ", words)
    return re.sub(r"\s*-\s*", " ", words)


def clean_text(text: str) -> str:
    """Return a header on one line, without the mark that keeps a spreadsheet from acting on it."""
    plain = text.strip()
    if plain.startswith("'"):
        plain = _DEFUSED.sub("", plain, count=1)
    return " ".join(plain.split())


def match_row(
    row: Sequence[str], roles: Mapping[str, Role], given: Mapping[str, tuple[str, ...] | None]
) -> Iterator[Column]:
    """Match one row as if it were the header."""
    headers = [clean_text(cell) for cell in row]
    taken: dict[int, tuple[str, str]] = {}
    for field, names in given.items():
        for name in names or ():
            index = _column_named(name, headers)
            if index is not None and index not in taken:
                taken[index] = (field, GIVEN)
    free = [field for field in (*roles, GROUP, TRIAL) if field not in given]

    def take(index: int, field: str, how: str) -> None:
        taken[index] = (field, how)
        if not (field in roles and roles[field].repeated):
            free.remove(field)

    parts = [(header, split_header(header)[0]) for header in headers]
    for how, written in ((EXACT, str), (ALIKE, _alike)):
        for index, names in enumerate(parts):
            plain = [written(name) for name in names]
            for field in [f for f in free if f in roles]:
                stem = _NUMBERED.fullmatch(plain[1]) if roles[field].repeated else None
                if index not in taken and written(field) in (*plain, stem[1] if stem else None):
                    take(index, field, how)
    for field in (GROUP, TRIAL):
        for word in _WORDS[field]:
            where = [i for i, p in enumerate(parts) if i not in taken and _alike(p[0]) == word]
            if where and field in free:
                take(where[0], field, EXACT if headers[where[0]] == word else ALIKE)
    questions = {}
    for _, index, field, second in _close(parts, taken, free):
        if index in taken or field not in free:
            continue
        if second:
            questions[index] = (
                f"Column {column_letter(index)} (“{headers[index]}”) could be “{field}” or "
                f"“{second}”: which?"
            )
            continue
        take(index, field, NEAR)
        questions[index] = (
            f"Column {column_letter(index)} (“{headers[index]}”) was taken for “{field}”: is it?"
        )
    for index, header in enumerate(headers):
        field, how = taken.get(index, ("", ""))
        column = Column(index, header, field, None, how, questions.get(index, ""))
        yield with_unit(column, roles[field], split_header(header)[1]) if field in roles else column


def _column_named(name: str, headers: Sequence[str]) -> int | None:
    """Return the column of that header, or else of that letter."""
    wanted = clean_text(name)
    for written in (str, _alike):
        for index, header in enumerate(headers):
            if header and written(wanted) in (written(header), written(split_header(header)[0])):
                return index
    letters = name.strip().upper()
    if re.fullmatch(r"[A-Z]{1,3}", letters):
        index = 0
        for letter in letters:
            index = 26 * index + ord(letter) - 64
        return index - 1 if index <= len(headers) else None
    return None


def _close(
    parts: Sequence[tuple[str, str]], taken: Mapping[int, object], free: Sequence[str]
) -> list[tuple[float, int, str, str]]:
    """Return close matches, best first; the last item names a field that is as close, or ""."""
    found = []
    for index, (_, name) in enumerate(parts):
        if index in taken or not re.search(r"[^\W\d_]", name):
            continue
        matcher = difflib.SequenceMatcher(None, "", _alike(name))
        ranked = []
        for field in free:
            matcher.set_seq1(_alike(field))
            ranked.append((matcher.ratio(), field))
        ranked.sort(reverse=True)
        if ranked and ranked[0][0] >= _CLOSE:
            ratio, field = ranked[0]
            near = len(ranked) > 1 and ranked[1][0] > ratio - _CLEARLY
            found.append((ratio, index, field, ranked[1][1] if near else ""))
    return sorted(found, key=lambda item: (-item[0], item[1]))


def with_unit(column: Column, role: Role, text: str) -> Column:
    """Return the column with the unit of its header, or not used if that cannot be converted."""
    if not text:
        return column
    unit = known_unit(text)
    if unit is not None and unit.base == role.unit:
        return replace(column, unit=unit)
    if _alike(column.header) == _alike(role.name):
        return column
    return replace(
        column,
        field="",
        how="",
        question=f"Column {column.letter} (“{column.header}”) is in {text}, which cannot be turned "
        f"into {role.unit}: in which unit is “{role.name}”?",
    )
