"""How a table of readings stands in a sheet; any other way becomes one row a trial.

Headers of two rows, one row a group with its trials side by side, a table turned round, none
at all. A table with one row a trial below its header stays as it is.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import zip_longest
from typing import TypeAlias

from ..errors import DataFileError
from ..experiments.record import Experiment
from ..measurement.base import Role
from .columns import (
    GROUP,
    TRIAL,
    ColumnMap,
    Preview,
    alike,
    clean_text,
    is_number,
    known_unit,
    match_columns,
    match_row,
    score_of,
    split_header,
)
from .tables import CellRows, TextTable, column_letter

_LOOKED_AT = 30
_MOST_TURNED = 1000
_HAS_LETTER = re.compile(r"[^\W\d_]")
_TAG = re.compile(
    r"(?:(?:trial|run|repeat|replicate|measurement|attempt|versuch|messung|essai|ensayo|prova|no|nr|"
    r"number|rep|t)\s*[.#:]?\s*)*#?\s*(\d{1,3}|[a-h])"
)
_UNIT_AND_TAG = re.compile(r"(.*\S)\s+(\d{1,3})")
_Origins: TypeAlias = tuple[tuple[int | None, str], ...]
_Made: TypeAlias = tuple[TextTable, _Origins | None, tuple[str, ...]]
"""A table that was made, where its rows stood, and what its columns are called."""


@dataclass(frozen=True, slots=True)
class Shaped:
    """A table with one row a trial, and where each of its rows stood.

    Attributes
    ----------
    table : TextTable
    preview : Preview
        Its columns as matched.
    origins : tuple of (int or None, str), or None
        Row as a spreadsheet numbers it, and which part of it, for each row of the table; None
        where every row is a row of the sheet.
    no_header : bool
        Whether the order of the columns had to be taken for what the header would say.
    """

    table: TextTable
    preview: Preview
    origins: _Origins | None = None
    no_header: bool = False

    def origin(self, index: int) -> tuple[int | None, str]:
        """Return row and part of a row of the table, counted from 0."""
        return (index + 1, "") if self.origins is None else self.origins[index]


def shaped(table: TextTable, experiment: Experiment, columns: ColumnMap | None = None) -> Shaped:
    """Return a table as one row a trial, with its columns matched as far as they can be.

    Raises
    ------
    DataFileError
        If nothing in it names a reading, whichever way it is read.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> from stoichkit.classroom.tables import read_table
    >>> text = "bench,red,blue\\nwire before,2.94,3.14\\nwire after,2.82,3.03\\n"
    >>> text += "paper,0.75,0.73\\npaper + silver,1.15,1.12\\n"
    >>> found = shaped(read_table(text.encode()), experiments.load("copper-silver"))
    >>> found.preview.shape, found.origin(1)
    ('turned round: one column a trial', (None, 'column B'))
    >>> found.table.rows[1]
    ('red', '2.94', '2.82', '0.75', '1.15')
    """
    roles = {role.name: role for role in experiment.roles() if role.needs_reading}
    order = {name: place for place, name in enumerate(experiment.reading_names())}
    needed = sorted(
        (n for n, r in roles.items() if not r.optional and n not in experiment.shared_readings),
        key=lambda name: order.get(name, len(order)),
    )
    for unfold, words in (
        (_side_by_side, "trials side by side in one row"),
        (_two_header_wide, "trials side by side in one row, below a header of two rows"),
    ):
        wide = unfold(table, roles, needed)
        if wide is not None:
            return _with_preview(*wide, experiment, columns, words)
    refused: DataFileError | None = None
    plain: Preview | None = None
    try:
        plain = match_columns(table, experiment, columns)
        if not plain.missing:
            return Shaped(table, plain)
    except DataFileError as error:
        refused = error
    for make, words in (
        (_one_header, "a header of two rows"),
        (_turned, "turned round: one column a trial"),
    ):
        other = make(table, roles, needed)
        if other is None:
            continue
        try:
            found = _with_preview(*other, experiment, columns, words)
        except DataFileError:
            continue
        if not found.preview.missing:
            return found
    if plain is None and not columns:
        bare = _bare(table, roles, needed)
        if bare is not None:
            preview = match_columns(table, experiment, bare)
            return Shaped(table, replace(preview, shape="no header"), no_header=True)
    if plain is None:
        assert refused is not None
        raise refused
    return Shaped(table, plain)


def _with_preview(
    table: TextTable,
    origins: _Origins | None,
    places: Sequence[str],
    experiment: Experiment,
    columns: ColumnMap | None,
    words: str,
) -> Shaped:
    named = {
        name: where
        for name, where in (columns or {}).items()
        if where is None or not isinstance(where, str) or len(where.strip()) > 2
    }  # letters are those of the sheet, not of the table made of it
    preview = match_columns(table, experiment, named)
    matched = tuple(
        replace(c, place=places[c.index]) if c.index < len(places) else c for c in preview.matched
    )
    return Shaped(table, replace(preview, matched=matched, shape=words), origins)


# Headers of two rows


def _one_header(
    table: TextTable, roles: Mapping[str, Role], _needed: Sequence[str]
) -> _Made | None:
    """Join two rows of header into one, if together they name more than each alone."""
    best, found, at = 0, None, 0
    for index, upper, lower in _pairs(table):
        for names in (_joined(upper, lower), _lower(upper, lower)):
            score = score_of(tuple(match_row(names, roles, {})), roles)
            if score > best:
                best, found, at = score, names, index
    if found is None:
        return None
    rows = (*table.rows[:at], (), tuple(found), *table.rows[at + 2 :])
    return replace(table, rows=CellRows.of(rows)), None, ()


def _pairs(table: TextTable) -> Iterator[tuple[int, list[str], list[str]]]:
    """Yield two rows at a time that may be a header, merged cells of the upper one filled."""
    width = max(map(len, table.rows[: _LOOKED_AT + 1]), default=0)
    for index in range(min(len(table.rows) - 1, _LOOKED_AT)):
        upper, lower = (_padded(table.rows[i], width) for i in (index, index + 1))
        named = sum(bool(_HAS_LETTER.search(cell)) for cell in lower)
        if named < 2 or any(map(is_number, upper)):
            continue
        yield index, _filled(upper, index, table), lower


def _padded(row: Sequence[str], width: int) -> list[str]:
    return [*map(clean_text, row), *[""] * (width - len(row))]


def _filled(upper: list[str], index: int, table: TextTable) -> list[str]:
    """Carry a cell of the upper row over those to its right that belong to it."""
    merged = [m for m in table.merged if m[0] <= index <= m[2] and m[3] > m[1]]
    filled = list(upper)
    if merged:
        for _, left, _, right in merged:
            for place in range(left, min(right + 1, len(filled))):
                filled[place] = filled[place] or upper[left]
        return filled
    for place in range(1, len(filled)):
        filled[place] = filled[place] or filled[place - 1]
    return filled


def _joined(upper: Sequence[str], lower: Sequence[str]) -> list[str]:
    return [f"{a} {b}".strip() if b else a for a, b in zip(upper, lower, strict=True)]


def _lower(upper: Sequence[str], lower: Sequence[str]) -> list[str]:
    return [b or a for a, b in zip(upper, lower, strict=True)]


# Trials side by side


def _side_by_side(
    table: TextTable, roles: Mapping[str, Role], needed: Sequence[str]
) -> _Made | None:
    """Return one row a trial of a table with numbered readings in one row a group."""
    for index, row in enumerate(table.rows[:_LOOKED_AT]):
        cells = [clean_text(cell) for cell in row]
        if sum(bool(_HAS_LETTER.search(cell)) for cell in cells) < 2 * len(needed):
            continue
        tags = [_tagged(cell, roles) for cell in cells]
        found = _unfolded(table, index, index, cells, tags, roles, needed)
        if found is not None:
            return found
    return None


def _two_header_wide(
    table: TextTable, roles: Mapping[str, Role], needed: Sequence[str]
) -> _Made | None:
    """Return one row a trial of a table whose upper header names trials, its lower readings."""
    for index, upper, lower in _pairs(table):
        tags = []
        for above, below in zip(upper, lower, strict=True):
            role, tag, unit = _tagged(below, roles)
            tags.append((role, tag or above, unit) if role else ("", "", ""))
            if not role:
                role, tag, unit = _tagged(above, roles)
                if role and below:
                    tags[-1] = (role, clean_text(below), unit)
        heads = [b or a for a, b in zip(upper, lower, strict=True)]
        found = _unfolded(table, index, index + 1, heads, tags, roles, needed)
        if found is not None:
            return found
    return None


def _tagged(header: str, roles: Mapping[str, Role]) -> tuple[str, str, str]:
    """Split a header into reading, number of the trial and unit; "" where there is none."""
    name, unit = split_header(header)
    text = alike(name)
    if not text:
        return "", "", ""
    tag = ""
    behind = _UNIT_AND_TAG.fullmatch(unit)
    if behind is not None and known_unit(behind[1]) is not None:
        unit, tag = behind[1], behind[2]
    for role in sorted(roles, key=len, reverse=True):
        plain = alike(role)
        if text == plain:
            return role, tag, unit
        found = re.search(rf"(?<!\w){re.escape(plain)}(?!\w)", text)
        if found is None:
            continue
        rest = f"{text[: found.start()]} {text[found.end() :]}".strip(" ()[]#.,:;-_/")
        number = _TAG.fullmatch(rest)
        return (role, number[1], unit) if number else ("", "", "")
    return "", "", ""


def _unfolded(
    table: TextTable,
    first: int,
    last: int,
    headers: Sequence[str],
    tags: Sequence[tuple[str, str, str]],
    roles: Mapping[str, Role],
    needed: Sequence[str],
) -> _Made | None:
    """Return one row for each trial of each row, if every trial has every reading it needs."""
    blocks: dict[str, dict[str, list[int]]] = {}
    units: dict[str, set[str]] = {}
    for place, (role, tag, unit) in enumerate(tags):
        if role and tag:
            blocks.setdefault(tag, {}).setdefault(role, []).append(place)
            units.setdefault(role, set()).add(unit)
    whole = {tag: block for tag, block in blocks.items() if all(n in block for n in needed)}
    if len(whole) < 2 or len(whole) < len(blocks) or any(len(u) > 1 for u in units.values()):
        return None
    if any(len(p) > 1 and not roles[r].takes_several for b in whole.values() for r, p in b.items()):
        return None
    used = {p for block in whole.values() for places in block.values() for p in places}
    rest = [place for place in range(len(headers)) if place not in used]
    names = [r for r in roles if any(r in block for block in whole.values())]
    head = [headers[place] for place in rest]
    head += ["trial", *(f"{n} / {u}" if (u := next(iter(units[n]))) else n for n in names)]
    trial_words = {alike(cell) for cell in head[: len(rest)]} & {"trial", "run"}
    if trial_words:
        return None
    rows: list[tuple[str, ...]] = [*table.rows[:first], *[()] * (last - first), tuple(head)]
    origins: list[tuple[int | None, str]] = [(n, "") for n in range(1, len(rows) + 1)]
    for number, row in enumerate(table.rows[last + 1 :], last + 2):
        cells = [*row, *[""] * (len(headers) - len(row))]
        kept = [cells[place] for place in rest]
        made = 0
        for tag, block in whole.items():
            readings = [_cell(cells, block.get(name, ())) for name in names]
            if any(cell.strip() for cell in readings):
                rows.append((*kept, tag, *readings))
                origins.append((number, tag if _HAS_LETTER.search(tag) else f"trial {tag}"))
                made += 1
        if not made:
            rows.append(tuple(kept) if any(map(str.strip, kept)) else ())
            origins.append((number, ""))
        beyond = [cell for cell in row[len(headers) :] if cell.strip()]
        if beyond:  # told as a row out of line
            rows.append((*kept, *[""] * (1 + len(names)), *beyond))
            origins.append((number, "beyond the header"))
    at = [
        ", ".join(column_letter(p) for block in whole.values() for p in block.get(name, ()))
        for name in names
    ]
    places = (*(column_letter(place) for place in rest), "trials", *at)
    return replace(table, rows=CellRows.of(rows)), tuple(origins), places


def _cell(cells: Sequence[str], places: Sequence[int]) -> str:
    return "; ".join(cells[place] for place in places if cells[place].strip())


# A table turned round


def _turned(table: TextTable, roles: Mapping[str, Role], needed: Sequence[str]) -> _Made | None:
    """Return the table with rows for columns, if a column names the readings."""
    width = table.rows.width
    if len(table.rows) > _MOST_TURNED or width > _MOST_TURNED or width < 2:
        return None
    turned = tuple(zip_longest(*table.rows, fillvalue=""))
    for column in turned[:5]:
        names = [_tagged(clean_text(cell), roles)[0] for cell in column]
        if all(name in names for name in needed):
            break
    else:
        return None
    origins = tuple((None, f"column {column_letter(i)}") for i in range(width))
    places = tuple(f"row {n}" for n in range(1, len(table.rows) + 1))
    rows = replace(
        table,
        rows=CellRows.of(turned),
        hidden_rows=frozenset(i + 1 for i in table.hidden_columns),
        hidden_columns=frozenset(n - 1 for n in table.hidden_rows),
        merged=(),
        problems=(),
    )
    return rows, origins, places


# No header


def _bare(
    table: TextTable, roles: Mapping[str, Role], needed: Sequence[str]
) -> dict[str, str] | None:
    """Return letters for the columns of a table without a header, by their order."""
    rows = [row for row in table.rows if any(cell.strip() for cell in row)]
    if not rows or len(roles) < 2:
        return None
    width = max(map(len, rows))
    part = rows[:200]
    numbers, texts = [], []
    for place in range(width):
        cells = [c for row in part if place < len(row) and (c := row[place].strip())]
        if cells and sum(map(is_number, cells)) * 10 >= 9 * len(cells):
            numbers.append(place)
        elif cells:
            texts.append(place)
    found = {}
    if len(numbers) == len(needed) + 1:
        counts = [row[numbers[0]].strip() for row in part if numbers[0] < len(row)]
        if not all(re.fullmatch(r"\d{1,3}", cell) for cell in counts if cell):
            return None
        found[TRIAL] = column_letter(numbers.pop(0))
    if len(numbers) != len(needed):
        return None
    before = [place for place in texts if place < numbers[0]]
    if before:
        found[GROUP] = column_letter(before[0])
    found |= {name: column_letter(p) for name, p in zip(needed, numbers, strict=True)}
    return found
