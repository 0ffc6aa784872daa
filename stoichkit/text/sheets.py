"""Tables written to CSV, XLSX and HTML so that nothing in a cell acts, and whole or not at all."""

from __future__ import annotations

import csv
import io
import math
import os
import re
import zipfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any, Literal, TypeAlias

from .._common import check_place, write_whole
from ..errors import DataFileError
from ..uncertainty import entry
from .html import Cell as HtmlCell
from .html import html_heading, html_page, html_table

Cell: TypeAlias = str | int | float
"""Text is neutralised; a number is written as a number, nan as an empty cell."""
ENDINGS = (".csv", ".xlsx", ".html")
"""That the name of a file of tables may have."""
_ACTING = re.compile(r"\s*[=+\-@＝＋－＠]")
_MAX_CELL = 32_000
_STYLE = (
    "body{font:1rem/1.5 system-ui,sans-serif;color:#1a1a1a;background:#fff;margin:2rem}"
    "table{border-collapse:collapse;margin-bottom:2rem}"
    "caption{text-align:left;font-weight:600;padding:.5rem 0}"
    "th,td{border:1px solid #767676;padding:.25rem .5rem;text-align:left;vertical-align:top}"
    "td.n{text-align:right;font-variant-numeric:tabular-nums}"
    "@media print{body{margin:0}thead{display:table-header-group}}"
)


_SHEET_MARK = "stoichkit data sheet"
_SHEET_VERSION = 1
_MARK_LOOKED_AT = 3
_TRIGGERS = tuple("=+-@\t\r\n＝＋－＠'")
_FIXED_DATE = b"2000-01-01T00:00:00Z"


def sheet_mark() -> str:
    """Return what stands in the first cell of a blank data sheet, so that a reader knows it.

    >>> sheet_mark()
    'stoichkit data sheet 1'
    """
    return f"{_SHEET_MARK} {_SHEET_VERSION}"


def header_of_own(rows: Sequence[Sequence[object]]) -> int:
    """Return the index of the header of a data sheet that this toolkit wrote; 0 for other tables.

    >>> header_of_own([("stoichkit data sheet 1",), ("group", "trial")])
    1
    >>> header_of_own([("group", "trial")]), header_of_own([("stoichkit data sheet 2",)])
    (0, 0)
    """
    for index, row in enumerate(rows[:_MARK_LOOKED_AT]):
        if row and str(row[0]).strip() == sheet_mark() and index + 1 < len(rows):
            return index + 1
    return 0


def delimiter_of_own(lines: Sequence[str]) -> str:
    """Return what stands between the cells of such a data sheet as CSV; "" for other files.

    >>> delimiter_of_own(["stoichkit data sheet 1", "group;trial;wire / g"])
    ';'
    """
    for above, line in pairwise(lines[: _MARK_LOOKED_AT + 1]):
        if above.strip('"').startswith(sheet_mark()):
            match = re.match(r'"?group"?(.)"?trial"?\1', line)
            return match[1] if match else ""
    return ""


def defused(text: str) -> str:
    """Return text that a spreadsheet does not take for a formula, so that it can be undone.

    Text that begins like a formula, or with an apostrophe, gets an apostrophe in front.

    >>> defused("=1+1"), defused("wire"), undefused(defused("'=x"))
    ("'=1+1", 'wire', "'=x")
    """
    return f"'{text}" if text.startswith(_TRIGGERS) else text


def undefused(text: str) -> str:
    """Return what :func:`defused` was given."""
    return text[1:] if text.startswith("'") and text.startswith(_TRIGGERS, 1) else text


def workbook_bytes(book: Any) -> bytes:
    """Return a workbook as bytes, which are the same for the same content: no dates of today."""
    made, fixed = io.BytesIO(), io.BytesIO()
    book.save(made)
    dates = re.compile(rb"(<dcterms:(?:created|modified)[^>]*>)[^<]*")
    with zipfile.ZipFile(made) as package, zipfile.ZipFile(fixed, "w") as out:
        for name in package.namelist():
            data = package.read(name)
            if name == "docProps/core.xml":
                data = dates.sub(rb"\g<1>" + _FIXED_DATE, data)
            part = zipfile.ZipInfo(name)  # of 1980
            part.create_system, part.compress_type = 0, zipfile.ZIP_DEFLATED
            out.writestr(part, data)
    return fixed.getvalue()


@dataclass(frozen=True, slots=True)
class Sheet:
    """One table with a title.

    Attributes
    ----------
    title : str
    header : tuple of str
    rows : sequence of sequence of Cell
    typed : bool
        Whether the cells of a workbook are text, so that what is typed there keeps its zeros.
    """

    title: str
    header: tuple[str, ...]
    rows: Sequence[Sequence[Cell]]
    typed: bool = False


def neutralised(text: str) -> str:
    """Return text that no spreadsheet takes for a formula, and that any file can hold.

    Tabs and line ends become spaces. Text that then begins with = + - or @ gets an apostrophe in
    front; the class loader takes it off again.

    >>> neutralised("=2+3"), neutralised("-5"), neutralised("red bench")
    ("'=2+3", "'-5", 'red bench')
    """
    plain = _printable(text)
    return f"'{plain}" if _ACTING.match(plain) else plain


def _printable(text: str) -> str:
    """Replace characters that no file can hold, and cut what is too long."""
    plain = "".join(c if c.isprintable() else " " if c.isspace() else "\ufffd" for c in text)
    return plain if len(plain) <= _MAX_CELL else f"{plain[:_MAX_CELL]}…"


def write_sheets(
    path: str | os.PathLike[str],
    sheets: Sequence[Sheet],
    *,
    replace: bool = False,
    private: bool = False,
    delimiter: Literal[",", ";", "\t"] = ",",
    decimal: Literal[".", ","] = ".",
    check: Callable[[bytes], object] | None = None,
) -> Path:
    """Write tables to a file, whole or not at all.

    Parameters
    ----------
    path : path
        Ends in .csv (the first table only), .xlsx or .html.
    sheets : sequence of Sheet
        At least one.
    replace : bool
        Whether a file of that name may be replaced.
    private : bool
        Whether only its owner may read the file.
    delimiter, decimal : str
        Marks of a CSV file: ",", ";" or a tab between cells; "." or "," in numbers.
    check : callable, optional
        Called with the content before it is written; it raises an error to refuse.

    Raises
    ------
    DataFileError
        If the ending or the marks cannot be used, there is a file of that name, or it cannot be
        written.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     written = write_sheets(
    ...         f"{folder}/a.csv", [Sheet("a", ("group", "ratio"), [("=red", 1.5)])],
    ...         delimiter=";", decimal=",")
    ...     written.read_text("utf-8-sig")
    "group;ratio\\n'=red;1,5\\n"
    """
    entry.flags(private=private)
    for name, mark in (("delimiter", delimiter), ("decimal", decimal)):
        entry.text(name, mark, error=DataFileError)
    if not entry.listed("sheets", sheets, Sheet, error=DataFileError):
        raise DataFileError("There is no table to write.", allowed="at least one")
    if check is not None:
        entry.function("check", check, "check(content)", error=DataFileError)
    place = check_place(path, replace=replace, endings=ENDINGS)
    ending = place.suffix.casefold()
    if ending == ".csv":
        marks = (delimiter, decimal)
        if marks not in [(";", ","), ("\t", ","), *((d, ".") for d in ",;\t")]:
            raise DataFileError(
                "The marks of the CSV file cannot be used.",
                given=f"{delimiter!r} between cells, {decimal!r} in numbers",
                allowed='",", ";" or tab between cells; "." or "," in numbers, not both commas',
            )
        content = _csv(sheets[0], delimiter, decimal)
    elif ending == ".xlsx":
        content = _xlsx(sheets)
    else:
        content = _html(sheets)
    if check is not None:
        check(content)
    return write_whole(place, content, replace=replace, private=private)


def _number(value: float) -> float | int | None:
    """Return a number with six significant digits; None where there is none."""
    if isinstance(value, int):
        return value
    return float(f"{value:.6g}") if math.isfinite(value) else None


def _written(cell: Cell, decimal: str) -> str:
    """Write a cell for a CSV file."""
    if isinstance(cell, str):
        return neutralised(cell)
    value = _number(cell)
    return "" if value is None else f"{value:.6g}".replace(".", decimal)


def _csv(sheet: Sheet, delimiter: str, decimal: str) -> bytes:
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=delimiter, lineterminator="\n")
    writer.writerow([neutralised(text) for text in sheet.header])
    writer.writerows([_written(cell, decimal) for cell in row] for row in sheet.rows)
    return out.getvalue().encode("utf-8-sig")


def _xlsx(sheets: Sequence[Sheet]) -> bytes:
    book = workbook_package().Workbook(write_only=True)
    for sheet in sheets:
        title = re.sub(r"[\\/*?:\[\]]", " ", sheet.title)[:31] or "table"
        page = book.create_sheet(title)
        page.freeze_panes = "A2"
        page.append([_for_xlsx(text) for text in sheet.header])
        for row in sheet.rows:
            cells = [_for_xlsx(cell) for cell in row]
            page.append([_as_text(page, cell) for cell in cells] if sheet.typed else cells)
    return workbook_bytes(book)


def _for_xlsx(cell: Cell) -> str | float | int | None:
    """Return what a cell of a workbook holds."""
    if not isinstance(cell, str):
        return _number(cell)
    return neutralised(cell)


def _as_text(page: Any, value: str | float | int | None) -> Any:
    """Return a cell in which a spreadsheet keeps what is typed."""
    from openpyxl.cell import WriteOnlyCell

    cell = WriteOnlyCell(page, value)
    cell.number_format = "@"
    return cell


def _html(sheets: Sequence[Sheet]) -> bytes:
    title = _printable(sheets[0].title)
    tables = (
        html_table(
            map(_printable, sheet.header),
            (map(_for_html, row) for row in sheet.rows),
            _printable(sheet.title),
            named=False,
        )
        for sheet in sheets
    )
    body = "\n".join((html_heading(title, 1), *tables))
    return html_page(title, body, style=_STYLE).encode("utf-8")


def _for_html(cell: Cell) -> str | HtmlCell:
    """Return a cell of a page, numbers to the right."""
    return _printable(cell) if isinstance(cell, str) else HtmlCell(_written(cell, "."), "n")


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
