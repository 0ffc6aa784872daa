"""Which sheets of a class file are read, and what is asked about a sheet as a whole."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from .._common import nearest
from ..errors import DataFileError
from ..experiments.record import Experiment
from ..text.sheets import header_of_own
from ..uncertainty import entry
from . import questions as asking
from .choices import AnswerGiven, Choices
from .columns import (
    ALIKE,
    COLUMNS_ALLOWED,
    EXACT,
    FIX_COLUMNS,
    GIVEN,
    Column,
    ColumnMap,
    Preview,
    alike,
    split_header,
)
from .questions import Question, QuestionKind
from .records import Part, answered
from .shapes import Shaped, shaped
from .tables import Problem, TextTable

IN_ORDER = "in this order"


def preview_of(
    tables: Sequence[TextTable],
    experiment: Experiment,
    columns: ColumnMap | None,
    choices: Choices,
) -> Preview:
    """Return the columns of the sheet that is read first, as far as they can be matched."""
    chosen = _chosen(tables, choices)
    first: DataFileError | None = None
    found: Preview | None = None
    for table in chosen:
        try:
            read = shaped(table, experiment, _columns(columns, choices, table))
        except DataFileError as error:
            first = first or error
            continue
        if not read.preview.missing:
            return read.preview
        found = found or read.preview
    if found is None:
        assert first is not None
        raise first
    return found


def parts_of(
    tables: Sequence[TextTable],
    experiment: Experiment,
    columns: ColumnMap | None,
    choices: Choices,
    *,
    codes: bool = False,
) -> tuple[list[Part], list[Problem]]:
    """Return the sheets to be read, and what to say of the others.

    Raises
    ------
    DataFileError
        If no sheet holds all readings, or the choices name one that is not there.
    """
    if any(header_of_own(table.rows) for table in tables):
        tables = [table for table in tables if table.sheet != "about"]  # that of our own workbook
    chosen = _chosen(tables, choices)
    if len(tables) == 1 or len(chosen) == 1 or choices.sheets:
        wanted = [_part(table, experiment, columns, choices, codes=codes) for table in chosen]
        return _named(wanted, codes=codes), _left(tables, chosen, codes=codes)
    parts, notes = [], _left(tables, chosen, codes=codes)
    rest: list[TextTable] = []
    for table in sorted(chosen, key=lambda one: one.hidden):
        try:
            part = _part(table, experiment, columns, choices, codes=codes)
        except DataFileError:
            rest.append(table)
        else:
            parts.append(part)
    if not parts:
        _part(chosen[0], experiment, columns, choices, codes=codes)
    kept = parts[:1]
    for part in parts[1:]:
        if part.own:  # it says itself that it is one of ours
            kept.append(part)
            continue
        asked = answered(
            _about_sheet(part.shaped.table, "holds readings too", (asking.READ_ANSWER, _LEAVE),
                         part.preview.first_row - 1, codes=codes),
            choices.answers,
        )  # fmt: skip
        if asked.answer == _LEAVE:
            kept[0].asked = (*kept[0].asked, replace(asked, rows=()))
            notes.append(_said(part.shaped.table, "It was left out, by the answer given.", codes))
        else:
            part.asked = (*part.asked, asked)
            kept.append(part)
    for table in rest:
        partial = _partly(table, experiment, columns, choices)
        if partial is None:
            done = "It holds no readings of this experiment and was not read."
            notes.append(_said(table, done, codes))
            continue
        words = f"looks like readings but has no column for {', '.join(partial.preview.missing)}"
        asked = answered(
            _about_sheet(table, words, (_LEAVE,), partial.preview.first_row - 1, codes=codes),
            choices.answers,
        )
        if asked.answer == _LEAVE:
            kept[0].asked = (*kept[0].asked, replace(asked, rows=()))
            notes.append(_said(table, "It was left out, by the answer given.", codes))
        else:
            kept.append(Part(partial, asked=(asked,), unread=True))
    return _named(kept, codes=codes), notes


_LEAVE = asking.LEAVE_ANSWER


def _columns(columns: ColumnMap | None, choices: Choices, table: TextTable) -> ColumnMap:
    """Return the columns given, and those chosen for what is not given."""
    chosen = choices.columns_of(table.sheet)
    if columns is None:
        return chosen
    given = entry.mapping("columns", columns, COLUMNS_ALLOWED, error=DataFileError)
    return {**chosen, **given}


def _chosen(tables: Sequence[TextTable], choices: Choices) -> list[TextTable]:
    """Return the sheets that the choices read, or do not leave out."""
    by_title = {table.sheet: table for table in tables}
    for title in (*choices.sheets, *choices.left_out):
        if title not in by_title:
            raise DataFileError(
                "The choices name a sheet that the file does not have, or that is empty.",
                given=title,
                allowed=", ".join(filter(None, by_title)) or "no sheets: it is a CSV file",
                fix=nearest(title, by_title) or "Correct [sheets] in the choices.",
            )
    found = [by_title[title] for title in choices.sheets]
    found = found or [t for t in tables if t.sheet not in choices.left_out]
    if not found:
        raise DataFileError(
            "The choices leave out every sheet.",
            given=", ".join(choices.left_out),
            allowed="at least one sheet that is read",
            fix="Correct [sheets] in the choices.",
        )
    return found


def _left(
    tables: Sequence[TextTable], chosen: Sequence[TextTable], *, codes: bool
) -> list[Problem]:
    left = [table for table in tables if all(table is not one for one in chosen)]
    return [_said(table, "It was left out, by choice.", codes) for table in left]


def _said(table: TextTable, done: str, codes: bool) -> Problem:
    filled = sum(any(map(str.strip, row)) for row in table.rows)
    sheet = str(table.number) if codes else table.sheet
    hidden = "hidden " if table.hidden else ""
    return Problem(None, "", f"Another {hidden}sheet has {filled} rows.", done=done, sheet=sheet)


def _about_sheet(
    table: TextTable, words: str, answers: tuple[str, ...], above: int, *, codes: bool
) -> Question:
    rows = tuple(n for n, row in enumerate(table.rows, 1) if n > above and any(map(str.strip, row)))
    name = str(table.number) if codes else table.sheet
    hidden = "hidden " if table.hidden else ""
    fix = "" if len(answers) > 1 else " Say its columns in the choices, or leave it out."
    ask = "is it part of this class?" if len(answers) > 1 else "shall it be left out?"
    return Question(
        f"sheet:{table.number}",
        QuestionKind.SHEET,
        f"The {hidden}sheet “{name}” {words}: {ask}{fix}",
        rows,
        f"Its {len(rows)} rows are used with the others, or left out.",
        answers,
        sheet=name,
    )


def _named(parts: list[Part], *, codes: bool) -> list[Part]:
    """Name the sheets of the parts, if there are several."""
    if len(parts) > 1:
        for part in parts:
            table = part.shaped.table
            part.sheet = str(table.number) if codes else table.sheet
    return parts


def _part(
    table: TextTable,
    experiment: Experiment,
    columns: ColumnMap | None,
    choices: Choices,
    *,
    codes: bool,
) -> Part:
    """Return a sheet with its columns matched, and what is to be asked about them."""
    given = _columns(columns, choices, table)
    read = shaped(table, experiment, given)
    prefix = f"{table.number}/" if table.number > 1 else ""
    asked, changed = _about_columns(read, given, choices, prefix, hide=codes)
    if changed:
        read = shaped(table, experiment, {**given, **changed})
    if read.preview.missing:
        raise missing(read.preview)
    return Part(read, asked=tuple(asked))


def _partly(
    table: TextTable, experiment: Experiment, columns: ColumnMap | None, choices: Choices
) -> Shaped | None:
    """Return a sheet that names several readings but not all."""
    try:
        read = shaped(table, experiment, _columns(columns, choices, table))
    except DataFileError:
        return None
    roles = {role.name for role in experiment.roles()}
    sure = {c.field for c in read.preview.matched if c.field in roles and c.how in (EXACT, ALIKE)}
    return read if len(sure) > 1 else None


def missing(preview: Preview) -> DataFileError:
    """Return the refusal of a table without a column for each reading."""
    free = [column.label for column in preview.matched if not column.field and column.header]
    return DataFileError(
        f"No column was found for {', '.join(f'“{name}”' for name in preview.missing)}.",
        given=f"columns not used: {', '.join(free) or 'none'}",
        allowed="a column for each reading",
        fix=" ".join([*preview.questions, FIX_COLUMNS]),
    )


# What is asked about the columns of a sheet


def _about_columns(
    read: Shaped, given: ColumnMap, choices: Choices, prefix: str, *, hide: bool
) -> tuple[list[Question], dict[str, str | None]]:
    """Return questions about columns, and what their answers change."""
    found: list[Question] = []
    changed: dict[str, str | None] = {}
    preview = read.preview
    letters = {c.field: c.letter for c in preview.matched if c.field}
    if read.no_header:
        order = ", ".join(f"{letter} {name}" for name, letter in letters.items())
        found.append(
            answered(
                Question(
                    f"order:{prefix}{asking.mark_of(letters.items())}",
                    QuestionKind.ORDER,
                    f"The table has no header: are its columns {order}?",
                    _rows_of(read),
                    "The rows are read so; else say the columns in the choices.",
                    (IN_ORDER,),
                ),
                choices.answers,
            )
        )
    for column in preview.matched:
        if not column.field or column.how == GIVEN or column.field in given:
            continue
        double = [other for other in preview.matched if _doubles(column, other, read)]
        if double:
            one = _which(read, column, double, prefix, choices.answers, hide=hide)
            found.append(one)
            if one.answer and one.answer != column.letter:
                changed[column.field] = one.answer
        elif column.index in read.table.hidden_columns:
            one = answered(
                Question(
                    f"hidden:{prefix}{column.letter}",
                    QuestionKind.HIDDEN,
                    f"Column {column.letter}, taken for “{column.field}”, is hidden in the sheet: "
                    "is it the right one?",
                    (),
                    "It is used, or another column must be named.",
                    (asking.USE_ANSWER, _LEAVE),
                    default=asking.USE_ANSWER,
                ),
                choices.answers,
            )
            found.append(one)
            if one.answer == _LEAVE:
                changed[column.field] = None
        elif column.question:
            one = _near(column, prefix, choices.answers, hide=hide)
            found.append(one)
            if one.answer == asking.NO:
                changed[column.field] = None
    return found, changed


def _near(
    column: Column, prefix: str, answers: Mapping[str, AnswerGiven], *, hide: bool
) -> Question:
    text = f"Column {column.letter} was taken for “{column.field}”: is it?"
    return answered(
        Question(
            f"column:{prefix}{column.letter}",
            QuestionKind.COLUMN,
            text if hide else column.question,
            (),
            "It is used so, or another column must be named.",
            (asking.YES, asking.NO),
            default=asking.YES,
        ),
        answers,
    )


def _doubles(column: Column, other: Column, read: Shaped) -> bool:
    """Say whether another column has the same heading and something else in it."""
    if other.field or not other.header or other.index == column.index:
        return False
    if alike(split_header(other.header)[0]) != alike(split_header(column.header)[0]):
        return False
    rows, first = read.table.rows, read.preview.first_row - 1
    pairs = zip(rows.column(column.index, first), rows.column(other.index, first), strict=True)
    return any(b.strip() and a.strip() != b.strip() for a, b in pairs)


def _which(
    read: Shaped,
    column: Column,
    double: Sequence[Column],
    prefix: str,
    answers: Mapping[str, AnswerGiven],
    *,
    hide: bool,
) -> Question:
    letters = (column.letter, *(one.letter for one in double))
    header = "" if hide else f" (“{column.header}”)"
    hidden = [c.letter for c in (column, *double) if c.index in read.table.hidden_columns]
    more = f" {' and '.join(hidden)} is hidden in the sheet." if hidden else ""
    return answered(
        Question(
            f"column:{prefix}{'+'.join(letters)}",
            QuestionKind.COLUMN,
            f"Columns {' and '.join(letters)} have one heading{header} and different contents."
            f"{more} Which holds “{column.field}”?",
            _rows_of(read),
            "The readings of that column are used.",
            letters,
        ),
        answers,
    )


def _rows_of(read: Shaped) -> tuple[int, ...]:
    first = read.preview.first_row - 1
    rows = read.table.rows[first:]
    found = (read.origin(first + n)[0] for n, row in enumerate(rows) if any(map(str.strip, row)))
    return tuple(dict.fromkeys(row for row in found if row))
