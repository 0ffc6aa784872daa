"""Cells of an XLSX workbook as text, with the decimals that its number formats show.

A workbook stores 2.90 as 2.9 and keeps the zero only as a number format, so a cell in the
"General" format has lost it. Formulas are not evaluated: their last saved result counts.
"""

from __future__ import annotations

import io
import re
import warnings
import zipfile
import zlib
from collections import Counter
from collections.abc import Iterator
from functools import lru_cache
from typing import Any

from .classtable import MAX_COLUMNS, MAX_ROWS, Problem, TextTable, column_letter
from .errors import DataFileError

__all__ = ["number_text", "read_xlsx", "workbook_package"]

_UNPACKED = 6
_RATIO, _RATIO_FROM = 200, 20_000_000
_MOST_CELLS = 30_000_000
_CHUNK = 1 << 20
_FIXED = re.compile(r"#?[#,]*0(?:\\?\.(0+))?(?:\\? |\"[^\"]*\"|_.|\[[^\]]*\])*")
_SCIENTIFIC = re.compile(r"0(?:\.(0+))?E\+0+")


def read_xlsx(content: bytes, name: str, sheet: str | None, max_bytes: int) -> TextTable:
    """Read one sheet of a workbook; called by :func:`stoichkit.classfile.read_table`.

    Parameters
    ----------
    content : bytes
    name : str
        Name of the file, for messages.
    sheet : str or None
        Name of the sheet; None for the first one with cells.
    max_bytes : int
        The workbook may unpack to six times as much.

    Raises
    ------
    DataFileError
        If this is not a workbook, it is damaged, or it unpacks to too much.

    Examples
    --------
    >>> import io, openpyxl
    >>> book = openpyxl.Workbook()
    >>> book.active.append(["wire before / g", 2.9])
    >>> book.active["B1"].number_format = "0.00"
    >>> file = io.BytesIO()
    >>> book.save(file)
    >>> read_xlsx(file.getvalue(), "class.xlsx", None, 50_000_000).rows
    (('wire before / g', '2.90'),)
    """
    formulas = _check_package(content, name, _UNPACKED * max_bytes)
    openpyxl = workbook_package()
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # about styles and extensions this has no use for
            book = openpyxl.load_workbook(
                io.BytesIO(content), read_only=True, data_only=True, keep_links=False
            )
            try:
                return _chosen_sheet(book, content, name, sheet, formulas)
            finally:
                book.close()
    except DataFileError:
        raise
    except Exception as error:  # a damaged workbook can fail anywhere in openpyxl
        raise DataFileError(
            f"The workbook is damaged: {type(error).__name__}.",
            given=name or None,
            fix="Open it in a spreadsheet and save it again as XLSX, or save the sheet as CSV.",
        ) from error


def workbook_package() -> Any:
    """Return the package that reads and writes workbooks, or say that it is not installed."""
    try:
        import openpyxl
    except ImportError:
        raise DataFileError(
            "Workbooks need the package openpyxl, which is not installed.",
            fix="Install it (pip install openpyxl), or use a CSV file.",
        ) from None
    return openpyxl


def _check_package(content: bytes, name: str, limit: int) -> bool:
    """Refuse what is not a safe workbook; say whether any sheet holds formulas."""
    formulas = False
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as package:
            names = {entry.filename for entry in package.infolist()}
            _check_kind(package, names, name)
            total = sum(entry.file_size for entry in package.infolist())
            if total > limit or (total > _RATIO_FROM and total > _RATIO * len(content)):
                raise DataFileError(
                    "The workbook unpacks to far too much.",
                    given=f"{len(content) / 1e6:.1f} MB unpack to {total / 1e6:.0f} MB",
                    allowed=f"up to {limit / 1e6:g} MB, and {_RATIO} times its size",
                    fix="Copy the sheet to a new workbook, or raise max_bytes if you trust it.",
                )
            for entry in package.infolist():
                if entry.filename.endswith((".xml", ".rels")):
                    formulas |= _scan(package, entry, name)
    except DataFileError:
        raise
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, RuntimeError, ValueError) as error:
        raise DataFileError(
            "The workbook is damaged or cut short.",
            given=name or None,
            fix="Copy or download it again, or save the sheet as CSV.",
        ) from error
    return formulas


def _check_kind(package: zipfile.ZipFile, names: set[str], name: str) -> None:
    if any(entry.flag_bits & 1 for entry in package.infolist()):
        raise DataFileError(
            "The file is protected by a password.",
            given=name or None,
            fix="Save it again without a password.",
        )
    if "xl/workbook.xml" in names:
        return
    what = "a workbook in a binary format" if "xl/workbook.bin" in names else "not an XLSX workbook"
    raise DataFileError(
        f"This is {what}.",
        given=name or None,
        allowed="XLSX or CSV",
        fix="Open it in a spreadsheet and save it as XLSX, or the sheet as CSV.",
    )


def _scan(package: zipfile.ZipFile, entry: zipfile.ZipInfo, name: str) -> bool:
    """Read one part through, which checks it; refuse document types; look for formulas."""
    tail, found = b"", False
    with package.open(entry) as part:
        while chunk := part.read(_CHUNK):
            text = tail + chunk
            if b"<!DOCTYPE" in text or b"<!ENTITY" in text:
                raise DataFileError(
                    "The workbook defines entities of its own, which could unpack to anything.",
                    given=f"{name} {entry.filename}".strip(),
                    fix="Open it in a spreadsheet and save it again.",
                )
            found = found or b"<f>" in text or b"<f " in text or b"<f/" in text
            tail = text[-16:]
    return found and entry.filename.startswith("xl/worksheets/")


def _chosen_sheet(
    book: Any, content: bytes, name: str, sheet: str | None, formulas: bool
) -> TextTable:
    sheets = {one.title: one for one in book.worksheets}
    if sheet is not None and sheet not in sheets:
        raise DataFileError(
            "There is no sheet of that name.", given=sheet, allowed=", ".join(sheets) or "none"
        )
    for title in [sheet] if sheet is not None else sheets:
        rows, problems = _cells(sheets[title])
        if rows:
            break
    else:
        raise DataFileError("The workbook holds no cells.", given=name or None)
    others = [other for other in sheets if other != title]
    if others and sheet is None:
        problems.append(
            Problem(
                None,
                "",
                f"The workbook has {len(sheets)} sheets.",
                given=", ".join(sheets)[:200],
                done=f"Only “{title}” was read; give sheet=… for another one.",
            )
        )
    if formulas:
        rows, found = _with_formulas(rows, content, title)
        problems += found
    return TextTable(
        name, f"XLSX, sheet “{title}”", tuple(tuple(row) for row in rows), tuple(problems)
    )


def _cells(sheet: Any) -> tuple[list[list[str]], list[Problem]]:
    """Return the rows up to the last one with text, and one problem for each way of reading."""
    sheet.reset_dimensions()
    rows: list[list[str]] = []
    used = seen = 0
    lost: Counter[int] = Counter()
    longer: Counter[int] = Counter()
    dates: list[tuple[int, int, str]] = []
    for number, row in enumerate(sheet.iter_rows(), 1):
        seen += len(row)
        if number > MAX_ROWS or seen > _MOST_CELLS:
            raise DataFileError(
                "The sheet is far too large.",
                given=f"{number} rows, {seen} cells",
                allowed=f"up to {_MOST_CELLS} cells",
                fix="Delete the empty but formatted rows and columns, or save the sheet as CSV.",
            )
        texts = []
        for column, cell in enumerate(row):
            value = cell.value
            if value is None:
                texts.append("")
            elif type(value) is str:
                texts.append(value)
            elif type(value) is float or type(value) is int:
                text, kept = number_text(value, cell.number_format)
                texts.append(text)
                if kept == "lost":
                    lost[column] += 1
                elif kept == "longer":
                    longer[column] += 1
            else:
                texts.append(str(value))
                dates.append((number, column, str(value)))
        while texts and not texts[-1]:
            texts.pop()
        if len(texts) > MAX_COLUMNS:
            raise DataFileError(
                f"Row {number} has too many columns.",
                given=len(texts),
                allowed=f"up to {MAX_COLUMNS}",
            )
        rows.append(texts)
        if texts:
            used = number
    del rows[used:]
    return rows, list(_remarks(lost, longer, dates))


def _remarks(
    lost: Counter[int],
    longer: Counter[int],
    dates: list[tuple[int, int, str]],
) -> Iterator[Problem]:
    for column, count in sorted(lost.items()):
        yield Problem(
            None,
            column_letter(column),
            f"{count} numbers have no number format, so zeros at their end are lost: 2.90 is "
            "stored as 2.9.",
            allowed="a number format with the decimals of the instrument, such as 0.00",
            done="The numbers were read as they are stored.",
        )
    for column, count in sorted(longer.items()):
        yield Problem(
            None,
            column_letter(column),
            f"{count} numbers have more decimals than the sheet shows.",
            done="All stored decimals were read.",
        )
    for number, column, text in dates[:20]:
        yield Problem(
            number,
            column_letter(column),
            "The spreadsheet holds a date, a time or a logical value here.",
            given=text,
            allowed="a number",
            done="It was read as the text shown here; type it again if it was a reading.",
        )


def number_text(value: float, number_format: str) -> tuple[str, str]:
    """Write a stored number with the decimals that its format shows.

    Parameters
    ----------
    value : float
    number_format : str
        As the workbook has it, such as ``"0.00"`` or ``"General"``.

    Returns
    -------
    (str, str)
        The number, and ``"kept"`` where the format tells the decimals, ``"lost"`` where it does
        not (zeros at the end may be missing), ``"longer"`` where more decimals are stored than
        shown.

    Examples
    --------
    >>> number_text(2.9, "0.00"), number_text(2.9, "General"), number_text(2.937, "0.00")
    (('2.90', 'kept'), ('2.9', 'lost'), ('2.937', 'longer'))
    """
    how = _shown_as(number_format)
    plain = format(value, ".15g")
    if how == "%":
        return f"{format(100 * value, '.15g')} %", "kept"
    if not how:
        return plain, "lost"
    shown = format(value, how)
    if abs(float(shown) - value) > 1e-9 * abs(value):
        return plain, "longer"
    return shown, "kept"


@lru_cache(maxsize=256)
def _shown_as(number_format: str) -> str:
    """Return how a number format shows numbers: ".2f", ".2e", "%", or "" if it does not say."""
    if fixed := _FIXED.fullmatch(number_format.split(";")[0]):
        return f".{len(fixed[1] or '')}f"
    if power := _SCIENTIFIC.fullmatch(number_format):
        return f".{len(power[1] or '')}e"
    return "%" if number_format.endswith("%") else ""


def _with_formulas(
    rows: list[list[str]], content: bytes, title: str
) -> tuple[list[list[str]], list[Problem]]:
    """Put the text of a formula where its result was not saved, and say that results are used."""
    book = workbook_package().load_workbook(io.BytesIO(content), read_only=True, keep_links=False)
    problems = []
    used = 0
    try:
        sheet = book[title]
        sheet.reset_dimensions()
        for index, row in enumerate(sheet.iter_rows()):
            for column, cell in enumerate(row):
                if cell.data_type != "f":
                    continue
                texts = rows[index] if index < len(rows) else []
                if column < len(texts) and texts[column]:
                    used += 1
                    continue
                rows += [[] for _ in range(index + 1 - len(rows))]
                rows[index] += [""] * (column + 1 - len(rows[index]))
                rows[index][column] = formula = str(cell.value)
                problems.append(
                    Problem(
                        index + 1,
                        column_letter(column),
                        "A formula has no saved result, and formulas are not worked out here.",
                        given=formula[:60],
                        done="The cell is not a number; open the workbook in a spreadsheet and "
                        "save it, or type the number.",
                    )
                )
    finally:
        book.close()
    if used:
        problems.append(
            Problem(
                None,
                "",
                f"{used} cells are formulas.",
                done="Their results were used as they were last saved.",
            )
        )
    return rows, problems
