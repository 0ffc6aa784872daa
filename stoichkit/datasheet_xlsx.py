"""The blank data sheet as a workbook: cells that check what is typed, and a sheet about it."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from typing import Any

from .datasheet import GROUP, TRIAL, Column, neutralised
from .errors import DataFileError
from .experiment import Experiment
from .instrument_base import show

__all__ = ["xlsx_bytes"]

_LONGEST_PROMPT = 240
_LONGEST_TITLE = 32
_BORDER = "FF777777"
_HEAD = "FFECECEC"


def xlsx_bytes(
    experiment: Experiment, columns: Sequence[Column], rows: Sequence[tuple[str, str]]
) -> bytes:
    """Return a workbook with the sheets ``readings`` and ``about``.

    Parameters
    ----------
    experiment : Experiment
    columns : sequence of Column
        See :func:`stoichkit.datasheet.sheet_columns`.
    rows : sequence of (group, trial)

    Raises
    ------
    DataFileError
        If the package openpyxl is missing.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> from stoichkit.datasheet import sheet_columns, sheet_rows
    >>> lab = experiments.load("tin-oxide")
    >>> xlsx_bytes(lab, sheet_columns(lab), sheet_rows(1, 1))[:2]
    b'PK'
    """
    try:
        from openpyxl import Workbook
    except ImportError as error:
        raise DataFileError(
            "Writing XLSX needs the package openpyxl, which is not installed.",
            fix="Install it with: pip install openpyxl. Or write a file that ends in .csv.",
        ) from error
    book = Workbook()
    sheet = book.active
    sheet.title = "readings"
    _fill_readings(sheet, columns, rows)
    _fill_about(book.create_sheet("about"), experiment, columns)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def _put(cell: Any, text: str) -> None:
    """Write text into a cell as text, whatever it begins with."""
    cell.value = "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in text)
    cell.data_type = "s"


def _fill_readings(sheet: Any, columns: Sequence[Column], rows: Sequence[tuple[str, str]]) -> None:
    from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
    from openpyxl.utils import get_column_letter

    line = Side(style="thin", color=_BORDER)
    box = Border(left=line, right=line, top=line, bottom=line)
    headers = [GROUP, TRIAL, *(column.header for column in columns)]
    for number, header in enumerate(headers, start=1):
        cell = sheet.cell(row=1, column=number)
        _put(cell, header)
        cell.font = Font(bold=True)
        cell.fill = PatternFill("solid", fgColor=_HEAD)
        cell.border = box
        cell.alignment = Alignment(wrap_text=True, vertical="top")
        letter = get_column_letter(number)
        sheet.column_dimensions[letter].width = min(max(len(header) * 0.7 + 3, 12), 24)
    for i, names in enumerate(rows, start=2):
        for number, name in enumerate(names, start=1):
            cell = sheet.cell(row=i, column=number)
            _put(cell, neutralised(name))
            cell.border = box
        for number, column in enumerate(columns, start=3):
            cell = sheet.cell(row=i, column=number)
            cell.number_format = f"0.{'0' * column.decimals}" if column.decimals else "0"
            cell.border = box
    for number, column in enumerate(columns, start=3):
        letter = get_column_letter(number)
        check = _validation(column)
        check.add(f"{letter}2:{letter}{len(rows) + 1}")
        sheet.add_data_validation(check)
    sheet.freeze_panes = "C2"
    sheet.print_title_rows = "1:1"
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.fitToWidth = 1
    sheet.page_setup.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True


def _validation(column: Column) -> Any:
    from openpyxl.worksheet.datavalidation import DataValidation

    negative = column.least is None
    check = DataValidation(
        type="decimal",
        operator="between" if negative else "greaterThanOrEqual",
        formula1="-1000" if negative else "0",
        formula2="10000" if negative else None,
        allow_blank=True,
        showErrorMessage=True,
        showInputMessage=True,
    )
    check.promptTitle = column.name[:_LONGEST_TITLE]
    check.prompt = f"{column.hint} {column.instrument}"[:_LONGEST_PROMPT]
    check.errorTitle = "Not a reading"
    sign = "" if negative else ", 0 or more"
    check.error = f"Type a number in {column.unit}{sign}, without its unit."
    return check


def _fill_about(sheet: Any, experiment: Experiment, columns: Sequence[Column]) -> None:
    from openpyxl.styles import Alignment, Font

    bold = []
    for i, cells in enumerate(_about(experiment, columns), start=1):
        if len(cells) > 1 or i == 1:
            bold.append(i)
        for number, text in enumerate(cells, start=1):
            cell = sheet.cell(row=i, column=number)
            _put(cell, neutralised(text))
            cell.alignment = Alignment(wrap_text=True, vertical="top")
        if len(cells) == 1:
            sheet.merge_cells(start_row=i, start_column=1, end_row=i, end_column=6)
            sheet.row_dimensions[i].height = 15.0 * (1 + len(cells[0]) // 110)
    for i in bold[:2]:
        for cell in sheet[i]:
            cell.font = Font(bold=True)
    for letter, width in zip("ABCDEF", (26, 9, 44, 14, 10, 40), strict=True):
        sheet.column_dimensions[letter].width = width
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.fitToWidth = 1
    sheet.page_setup.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True


def _about(experiment: Experiment, columns: Sequence[Column]) -> Iterator[tuple[str, ...]]:
    yield (experiment.title,)
    yield ("reading", "unit", "instrument", "readability", "decimals", "how to record it")
    for c in columns:
        yield (c.name, c.unit, c.instrument, show(c.readability), str(c.decimals), c.hint)
    yield (
        "Write down what the instrument shows, with every zero. Leave a cell empty when there is "
        "no reading; never write a guess.",
    )
    for caution in experiment.cautions:
        statements = f"{'; '.join(caution.statements)}. " if caution.statements else ""
        yield (f"{caution.subject}: {statements}{' '.join(caution.advice)} ({caution.source})",)
    yield ("These notes do not replace the safety data sheet: check it and your local rules.",)
