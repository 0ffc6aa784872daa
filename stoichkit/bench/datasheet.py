"""A blank class data sheet: one row a trial, one column a reading, as CSV or XLSX.

The workbook has cells that check what is typed, and a sheet about it.
"""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from dataclasses import replace as changed
from pathlib import Path
from typing import Any

from .._common import check_place, write_whole
from ..errors import DataFileError
from ..experiments.record import Experiment
from ..measurement.base import Instrument, show
from ..measurement.registry import KINDS
from ..text.parts import Bullets
from ..text.sheets import defused, sheet_mark, undefused, workbook_bytes
from ..uncertainty import entry
from .cautions import lab_safety

GROUP, TRIAL = "group", "trial"
"""Headers of the first two columns."""
_SEPARATOR = " / "
_MOST_ROWS = 5000
_MOST_NAME = 80
_DELIMITERS = (",", ";", "\t")


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One reading of the data sheet.

    Attributes
    ----------
    name, unit : str
        Name of the reading and unit of its instrument.
    header : str
        Text of the header cell; :func:`read_header` inverts it.
    instrument : str
        The instrument in a sentence.
    readability : float
        Step of the scale or display, in ``unit``.
    decimals : int
        Decimals to record.
    least : float or None
        Smallest value that is allowed; None where readings may be negative.
    shared : bool
        Whether all trials share the reading.
    repeated : bool
        Whether it is repeated to constant mass; the last weighing counts.
    repeats : int
        How many weighings of one thing are averaged; 1 for most readings.
    """

    name: str
    unit: str
    header: str
    instrument: str
    readability: float
    decimals: int
    least: float | None
    shared: bool
    repeated: bool
    repeats: int = 1

    @property
    def hint(self) -> str:
        """What to type, in a sentence."""
        example = f"{0:.{self.decimals}f}"
        places = "no decimals" if self.decimals == 0 else f"{self.decimals} decimals ({example})"
        text = f"In {self.unit}, with {places}, every zero included."
        if self.repeated:
            text += " Repeated to constant mass: type the last weighing."
        if self.repeats > 1:
            text += f" Weighed {self.repeats} times; the mean counts."
        if self.shared:
            text += " The same in every row."
        return text

    def apart(self) -> tuple[Column, ...]:
        """Return a column for each weighing of which the mean counts; itself for one reading."""
        if self.repeats == 1:
            return (self,)
        names = [f"{self.name} {i + 1}" for i in range(self.repeats)]
        return tuple(changed(self, name=n, header=column_header(n, self.unit)) for n in names)


def column_header(name: str, unit: str) -> str:
    """Return the header of a reading's column."""
    return defused(f"{name}{_SEPARATOR}{unit}")


def read_header(header: str) -> tuple[str, str]:
    """Return the reading's name and unit that a column header states.

    Parameters
    ----------
    header : str
        As :func:`column_header` writes it; spaces around the whole are ignored.

    Raises
    ------
    DataFileError
        If the header does not end in a slash with a space on both sides and a known unit.

    Examples
    --------
    >>> read_header("beaker / lid / g")
    ('beaker / lid', 'g')
    >>> read_header("wire before")
    Traceback (most recent call last):
    stoichkit.errors.DataFileError: This column header does not end in a unit. Given: wire before.
    Allowed: name / unit, with the unit one of g, mL, °C, kPa, A, s.
    """
    text = undefused(header.strip()) if isinstance(header, str) else ""
    name, slash, unit = text.rpartition(_SEPARATOR)
    units = tuple(dict.fromkeys(instrument.unit for instrument in KINDS.values()))
    if not slash or not name or unit not in units:
        raise DataFileError(
            "This column header does not end in a unit.",
            given=header,
            allowed=f"name / unit, with the unit one of {', '.join(units)}",
        )
    return name, unit


def _decimals(instrument: Instrument) -> int:
    return len(show(instrument.readability).partition(".")[2])


def sheet_columns(experiment: Experiment) -> tuple[Column, ...]:
    """Return the columns of the data sheet after group and trial, in bench order.

    Readings that all trials share have a column too, so that each row is complete.

    Parameters
    ----------
    experiment : Experiment

    Examples
    --------
    >>> from stoichkit import experiments
    >>> [column.header for column in sheet_columns(experiments.load("copper-plating"))]
    ['current / A', 'time / s', 'strip before / g', 'strip after / g']
    """
    entry.record("experiment", experiment, Experiment)
    roles = {role.name: role for role in experiment.roles() if role.needs_reading}
    order = [*experiment.reading_names()]
    order += [name for name in roles if name not in order]
    found = []
    for name in order:
        role = roles[name]
        instrument = experiment.instruments[role.instrument]
        found.append(
            Column(
                name=name,
                unit=role.unit,
                header=column_header(name, role.unit),
                instrument=f"{role.instrument}: {instrument.describe()}",
                readability=instrument.readability,
                decimals=_decimals(instrument),
                least=None if instrument.can_be_negative else 0.0,
                shared=role.once or name in experiment.shared_readings,
                repeated=role.repeated,
                repeats=experiment.repeats(name),
            )
        )
    return tuple(found)


def sheet_rows(
    groups: int | Iterable[str] = 1, trials: int | Iterable[str] = 3
) -> tuple[tuple[str, str], ...]:
    """Return group and trial of each row."""
    group_names = row_names("group", groups, "group ")
    trial_names = row_names("trial", trials, "")
    if len(group_names) * len(trial_names) > _MOST_ROWS:
        raise DataFileError(
            "The data sheet would have too many rows.",
            given=f"{len(group_names)} groups of {len(trial_names)} trials",
            allowed=f"at most {_MOST_ROWS} rows",
        )
    return tuple((group, trial) for group in group_names for trial in trial_names)


def row_names(what: str, given: int | Iterable[str], prefix: str) -> tuple[str, ...]:
    """Return names of groups or trials: as many as counted, or those given, all different."""
    if isinstance(given, str):
        allowed = "a whole number, or a list of names"
        raise entry.refusal(DataFileError, f"{what}s", "is not a list of names", given, allowed)
    if not isinstance(given, Iterable) or entry.plain(given) is not None:
        count = entry.whole(f"{what}s", given, least=1, most=_MOST_ROWS, error=DataFileError)
        return tuple(f"{prefix}{i + 1}" for i in range(count))
    names = entry.listed(f"{what}s", given, error=DataFileError)
    for name in names:
        good = isinstance(name, str) and name == name.strip() and name.isprintable()
        if not good or not 1 <= len(name) <= _MOST_NAME:
            raise DataFileError(
                f"This cannot be the name of a {what}.",
                given=name,
                allowed=f"1 to {_MOST_NAME} printable characters, no space at either end",
            )
    if not names or len(set(names)) < len(names):
        raise DataFileError(
            f"The names of the {what}s cannot be used.",
            given=", ".join(names),
            allowed="at least one, each only once",
        )
    return names


def write_datasheet(
    experiment: Experiment,
    path: str | os.PathLike[str],
    *,
    replace: bool = False,
    groups: int | Iterable[str] = 1,
    trials: int | Iterable[str] = 3,
    delimiter: str = ",",
) -> Path:
    """Write a blank data sheet for a class: one row a trial, one column a reading.

    What is averaged has a column for each weighing, numbered.

    Parameters
    ----------
    experiment : Experiment
    path : str or path-like
        Ends in ``.csv`` or ``.xlsx``. XLSX needs the package openpyxl.
    replace : bool
        Whether a file of that name may be replaced.
    groups, trials : int or iterable of str
        How many, or their names.
    delimiter : str
        CSV only: comma, semicolon (for spreadsheets with decimal commas) or tab.

    Returns
    -------
    pathlib.Path
        The file written, whole or not at all.

    Raises
    ------
    DataFileError
        If the ending, the delimiter, a group or a trial cannot be used, there is a file of that
        name, it cannot be written, or openpyxl is missing.

    Notes
    -----
    CSV is UTF-8 with a byte order mark, so that spreadsheets show ° and µ. Text that a
    spreadsheet would take for a formula begins with an apostrophe; see :func:`read_header`. The
    first cell marks the sheet as a data sheet of this toolkit, so that
    :func:`stoichkit.classroom.load_class` takes every name in it exactly as it was printed. The
    same input gives the same bytes.

    Examples
    --------
    >>> import tempfile
    >>> from stoichkit import experiments
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = write_datasheet(
    ...         experiments.load("tin-oxide"), f"{folder}/tin.csv", groups=2, trials=1)
    ...     print(file.read_text(encoding="utf-8-sig"))
    stoichkit data sheet 1
    group,trial,crucible / g,crucible + tin / g,crucible + oxide / g
    group 1,1,,,
    group 2,1,,,
    <BLANKLINE>
    """
    target = check_place(path, replace=replace, endings=(".csv", ".xlsx"))
    data = datasheet_bytes(
        experiment, target.suffix.lower(), groups=groups, trials=trials, delimiter=delimiter
    )
    return write_whole(target, data, replace=replace)


def datasheet_bytes(
    experiment: Experiment,
    ending: str,
    *,
    groups: int | Iterable[str] = 1,
    trials: int | Iterable[str] = 3,
    delimiter: str = ",",
) -> bytes:
    """Return what :func:`write_datasheet` writes into a file that ends in .csv or .xlsx.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> datasheet_bytes(experiments.load("tin-oxide"), ".csv", trials=1).decode("utf-8-sig")
    'stoichkit data sheet 1\\r\\ngroup,trial,crucible / g,crucible + tin / g,crucible...'
    """
    entry.record("experiment", experiment, Experiment, error=DataFileError)
    if ending not in (".csv", ".xlsx"):
        raise DataFileError(
            "There is no such form of data sheet.", given=ending, allowed=".csv or .xlsx"
        )
    rows = sheet_rows(groups, trials)
    columns = tuple(one for column in sheet_columns(experiment) for one in column.apart())
    if not isinstance(delimiter, str) or delimiter not in _DELIMITERS:
        raise DataFileError(
            "That `delimiter` cannot be used.",
            given=repr(delimiter) if isinstance(delimiter, str) else delimiter,
            allowed="a comma, a semicolon or a tab",
        )
    if ending == ".csv":
        return _csv_bytes(columns, rows, delimiter)
    return xlsx_bytes(experiment, columns, rows)


def _csv_bytes(
    columns: tuple[Column, ...], rows: tuple[tuple[str, str], ...], delimiter: str
) -> bytes:
    text = io.StringIO(newline="")
    writer = csv.writer(text, delimiter=delimiter, lineterminator="\r\n")
    writer.writerow([sheet_mark()])
    writer.writerow([GROUP, TRIAL, *(column.header for column in columns)])
    blank = [""] * len(columns)
    for group, trial in rows:
        writer.writerow([defused(group), defused(trial), *blank])
    return text.getvalue().encode("utf-8-sig")


_LONGEST_PROMPT = 240
_LONGEST_TITLE = 32
_BORDER = "FF777777"
_HEAD = "FFECECEC"


def xlsx_bytes(
    experiment: Experiment, columns: Sequence[Column], rows: Sequence[tuple[str, str]]
) -> bytes:
    """Return a workbook with the sheets ``readings`` and ``about``."""
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
    for page in book.worksheets:
        page.page_setup.orientation = "landscape"
        page.page_setup.fitToWidth, page.page_setup.fitToHeight = 1, 0
        page.sheet_properties.pageSetUpPr.fitToPage = True
    book.properties.creator = "stoichkit"
    return workbook_bytes(book)


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
    _put(sheet.cell(row=1, column=1), sheet_mark())
    sheet.cell(row=1, column=1).font = Font(italic=True, color=_BORDER)
    for number, header in enumerate(headers, start=1):
        cell = sheet.cell(row=2, column=number)
        _put(cell, header)
        cell.font = Font(bold=True)
        cell.fill = PatternFill("solid", fgColor=_HEAD)
        cell.border = box
        cell.alignment = Alignment(wrap_text=True, vertical="top")
        letter = get_column_letter(number)
        sheet.column_dimensions[letter].width = min(max(len(header) * 0.7 + 3, 12), 24)
    for i, names in enumerate(rows, start=3):
        for number, name in enumerate(names, start=1):
            cell = sheet.cell(row=i, column=number)
            _put(cell, defused(name))
            cell.border = box
        for number, column in enumerate(columns, start=3):
            cell = sheet.cell(row=i, column=number)
            cell.number_format = f"0.{'0' * column.decimals}" if column.decimals else "0"
            cell.border = box
    for number, column in enumerate(columns, start=3):
        letter = get_column_letter(number)
        check = _validation(column)
        check.add(f"{letter}3:{letter}{len(rows) + 2}")
        sheet.add_data_validation(check)
    sheet.freeze_panes = "C3"
    sheet.print_title_rows = "1:2"


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

    for i, cells in enumerate(_about(experiment, columns), start=1):
        for number, text in enumerate(cells, start=1):
            cell = sheet.cell(row=i, column=number)
            _put(cell, defused(text))
            cell.alignment = Alignment(wrap_text=True, vertical="top")
        if len(cells) == 1:
            sheet.merge_cells(start_row=i, start_column=1, end_row=i, end_column=6)
            sheet.row_dimensions[i].height = 15.0 * (1 + len(cells[0]) // 110)
    for cell in (*sheet[1], *sheet[2]):  # title and header
        cell.font = Font(bold=True)
    for letter, width in zip("ABCDEF", (26, 9, 44, 14, 10, 40), strict=True):
        sheet.column_dimensions[letter].width = width


def _about(experiment: Experiment, columns: Sequence[Column]) -> Iterator[tuple[str, ...]]:
    yield (experiment.title,)
    yield ("reading", "unit", "instrument", "readability", "decimals", "how to record it")
    for c in columns:
        yield (c.name, c.unit, c.instrument, show(c.readability), str(c.decimals), c.hint)
    yield (
        "Write down what the instrument shows, with every zero. Leave a cell empty when there is "
        "no reading; never write a guess.",
    )
    for part in lab_safety(experiment).section().parts:
        lines = part.items if isinstance(part, Bullets) else (str(part),)
        yield from ((line,) for line in lines)
