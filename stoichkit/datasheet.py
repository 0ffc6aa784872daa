"""A blank class data sheet: one row a trial, one column a reading, as CSV or XLSX."""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from .atomic_file import write_whole
from .errors import DataFileError
from .experiment import Experiment
from .instrument_base import show
from .instruments import Instrument

__all__ = [
    "GROUP",
    "TRIAL",
    "Column",
    "column_header",
    "neutralised",
    "read_header",
    "sheet_columns",
    "sheet_rows",
    "unneutralised",
    "write_datasheet",
]

GROUP, TRIAL = "group", "trial"
"""Headers of the first two columns."""

_SEPARATOR = " / "
_UNITS = ("g", "mL", "°C", "kPa", "A", "s")
_TRIGGERS = "=+-@\t\r\n＝＋－＠"
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

    @property
    def hint(self) -> str:
        """What to type, in a sentence."""
        example = f"{0:.{self.decimals}f}"
        places = "no decimals" if self.decimals == 0 else f"{self.decimals} decimals ({example})"
        text = f"In {self.unit}, with {places}, every zero included."
        if self.repeated:
            text += " Repeated to constant mass: type the last weighing."
        if self.shared:
            text += " The same in every row."
        return text


def neutralised(text: str) -> str:
    """Return text that a spreadsheet does not take for a formula.

    Text that begins like a formula, or with an apostrophe, gets an apostrophe in front.

    >>> neutralised("=1+1"), neutralised("wire"), unneutralised(neutralised("'=x"))
    ("'=1+1", 'wire', "'=x")
    """
    return f"'{text}" if text[:1] and text[0] in _TRIGGERS + "'" else text


def unneutralised(text: str) -> str:
    """Return what :func:`neutralised` was given.

    >>> unneutralised("'=1+1"), unneutralised("wire")
    ('=1+1', 'wire')
    """
    marked = text[:1] == "'" and text[1:2] != "" and text[1] in _TRIGGERS + "'"
    return text[1:] if marked else text


def column_header(name: str, unit: str) -> str:
    """Return the header of a reading's column.

    >>> column_header("wire before", "g")
    'wire before / g'
    """
    return neutralised(f"{name}{_SEPARATOR}{unit}")


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
    text = unneutralised(header.strip()) if isinstance(header, str) else ""
    name, slash, unit = text.rpartition(_SEPARATOR)
    if not slash or not name or unit not in _UNITS:
        raise DataFileError(
            "This column header does not end in a unit.",
            given=header,
            allowed=f"name / unit, with the unit one of {', '.join(_UNITS)}",
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
            )
        )
    return tuple(found)


def sheet_rows(
    groups: int | Iterable[str] = 1, trials: int | Iterable[str] = 3
) -> tuple[tuple[str, str], ...]:
    """Return group and trial of each row.

    Parameters
    ----------
    groups, trials : int or iterable of str
        How many, or their names.

    Raises
    ------
    DataFileError
        If a number or a name cannot be used, or there would be more than 5000 rows.

    Examples
    --------
    >>> sheet_rows(2, ["a", "b"])
    (('group 1', 'a'), ('group 1', 'b'), ('group 2', 'a'), ('group 2', 'b'))
    """
    group_names = _names("group", groups, "group ")
    trial_names = _names("trial", trials, "")
    if len(group_names) * len(trial_names) > _MOST_ROWS:
        raise DataFileError(
            "The data sheet would have too many rows.",
            given=f"{len(group_names)} groups of {len(trial_names)} trials",
            allowed=f"at most {_MOST_ROWS} rows",
        )
    return tuple((group, trial) for group in group_names for trial in trial_names)


def _names(what: str, given: int | Iterable[str], prefix: str) -> tuple[str, ...]:
    if isinstance(given, int) and not isinstance(given, bool):
        if not 1 <= given <= _MOST_ROWS:
            raise DataFileError(
                f"The number of {what}s cannot be used.",
                given=given,
                allowed=f"1 to {_MOST_ROWS}",
            )
        return tuple(f"{prefix}{i + 1}" for i in range(given))
    if isinstance(given, str) or not isinstance(given, Iterable):
        raise DataFileError(
            f"The {what}s are not a list of names.", given=given, allowed="a number, or names"
        )
    names = tuple(given)
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
    groups: int | Iterable[str] = 1,
    trials: int | Iterable[str] = 3,
    delimiter: str = ",",
) -> Path:
    """Write a blank data sheet for a class: one row a trial, one column a reading.

    Parameters
    ----------
    experiment : Experiment
    path : str or path-like
        Ends in ``.csv`` or ``.xlsx``. XLSX needs the package openpyxl.
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
        If the ending, the delimiter, a group or a trial cannot be used, the file cannot be
        written, or openpyxl is missing.

    Notes
    -----
    CSV is UTF-8 with a byte order mark, so that spreadsheets show ° and µ. Text that a
    spreadsheet would take for a formula begins with an apostrophe; see :func:`read_header`.

    Examples
    --------
    >>> import tempfile
    >>> from stoichkit import experiments
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = write_datasheet(
    ...         experiments.load("tin-oxide"), f"{folder}/tin.csv", groups=2, trials=1)
    ...     print(file.read_text(encoding="utf-8-sig"))
    group,trial,crucible / g,crucible + tin / g,crucible + oxide / g
    group 1,1,,,
    group 2,1,,,
    <BLANKLINE>
    """
    target = Path(path)
    rows = sheet_rows(groups, trials)
    columns = sheet_columns(experiment)
    if delimiter not in _DELIMITERS:
        raise DataFileError(
            "That delimiter cannot be used.",
            given=repr(delimiter),
            allowed="a comma, a semicolon or a tab",
        )
    match target.suffix.lower():
        case ".csv":
            data = _csv_bytes(columns, rows, delimiter)
        case ".xlsx":
            from .datasheet_xlsx import xlsx_bytes

            data = xlsx_bytes(experiment, columns, rows)
        case _:
            raise DataFileError(
                "The kind of data sheet follows from the ending of its name.",
                given=target.name,
                allowed=".csv or .xlsx",
            )
    return write_whole(target, data)


def _csv_bytes(
    columns: tuple[Column, ...], rows: tuple[tuple[str, str], ...], delimiter: str
) -> bytes:
    text = io.StringIO(newline="")
    writer = csv.writer(text, delimiter=delimiter, lineterminator="\r\n")
    writer.writerow([GROUP, TRIAL, *(column.header for column in columns)])
    blank = [""] * len(columns)
    for group, trial in rows:
        writer.writerow([neutralised(group), neutralised(trial), *blank])
    return text.getvalue().encode("utf-8-sig")
