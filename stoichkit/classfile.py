"""A table of class readings from a file: CSV or XLSX bytes to cells as text, nothing interpreted.

Every row of the file is kept under the number a spreadsheet shows beside it, and the digits that
were typed are kept as far as the file holds them. The file itself is only read.
"""

from __future__ import annotations

import codecs
import csv
import io
import os
import re
import stat
from collections.abc import Iterable, Sequence
from itertools import islice
from pathlib import PurePath
from typing import TypeAlias

from .classtable import MAX_COLUMNS, MAX_ROWS, Problem, TextTable
from .errors import DataFileError

__all__ = ["MAX_BYTES", "FileSource", "read_table"]

FileSource: TypeAlias = str | os.PathLike[str] | bytes | bytearray | memoryview
"""A path, or the content of a file as bytes."""

MAX_BYTES = 50_000_000
_MARKS = ("\t", ";", ",", "|")
_MARK_WORDS = {"\t": "tabs", ";": "semicolons", ",": "commas", "|": "vertical bars"}
_LOOKED_AT = 60
_MOST_BROKEN = 1000
_BYTE_ORDER_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig", "UTF-8"),
    (codecs.BOM_UTF32_LE, "utf-32", "UTF-32"),
    (codecs.BOM_UTF32_BE, "utf-32", "UTF-32"),
    (codecs.BOM_UTF16_LE, "utf-16", "UTF-16"),
    (codecs.BOM_UTF16_BE, "utf-16", "UTF-16"),
)
_OTHER_FILES = (
    (b"%PDF", "a PDF document"),
    (b"\x1f\x8b", "a compressed file"),
    (b"7z\xbc\xaf", "a compressed file"),
    (b"Rar!", "a compressed file"),
    (b"{\\rtf", "a text document with formatting"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"GIF8", "a picture"),
    (b"SQLite format 3", "a database"),
)
_SAVE_AS = "Open it in a spreadsheet and save the sheet as XLSX or as CSV."


def read_table(
    path_or_bytes: FileSource, *, sheet: str | None = None, max_bytes: int = MAX_BYTES
) -> TextTable:
    """Read the cells of a CSV or XLSX file as text.

    What kind of file it is follows from its content, not from its name.

    Parameters
    ----------
    path_or_bytes : path or bytes
        The file, or its content.
    sheet : str, optional
        Name of the sheet of an XLSX file; the first one with cells if left out.
    max_bytes : int
        Largest file that is read, bytes. An XLSX file may unpack to six times as much.

    Returns
    -------
    TextTable

    Raises
    ------
    DataFileError
        If there is no such file, it is too large, or it is neither CSV nor XLSX.

    Examples
    --------
    >>> table = read_table("Gruppe;Draht / g\\nrot;2,90\\n".encode("utf-16"))
    >>> table.layout
    'CSV, UTF-16, separated by semicolons'
    >>> table.rows
    (('Gruppe', 'Draht / g'), ('rot', '2,90'))
    """
    name, content = _content(path_or_bytes, max_bytes)
    if content.startswith(b"PK\x03\x04"):
        from .classxlsx import read_xlsx

        return read_xlsx(content, name, sheet, max_bytes)
    _refuse_other_files(content, name)
    if sheet is not None:
        raise DataFileError(
            "A CSV file has no sheets.", given=sheet, fix="Leave the name of the sheet out."
        )
    return _read_csv(content, name)


def _content(source: FileSource, max_bytes: int) -> tuple[str, bytes]:
    """Return the name and the content of a file that is not too large."""
    if isinstance(source, (bytes, bytearray, memoryview)):
        content, name = bytes(source), ""
    elif isinstance(source, (str, os.PathLike)):
        name, content = _content_of_path(source, max_bytes)
    else:
        raise DataFileError(
            "This is not a file.", given=source, allowed="a path, or the content as bytes"
        )
    if len(content) > max_bytes:
        raise _too_large(name, len(content), max_bytes)
    if not content:
        raise DataFileError("The file is empty.", given=name or None, fix="Check its name.")
    return name, content


def _content_of_path(source: str | os.PathLike[str], max_bytes: int) -> tuple[str, bytes]:
    path = os.fspath(source)
    if not isinstance(path, str) or not path.strip():
        raise DataFileError("This is not a path.", given=path, allowed="the name of a file")
    name = PurePath(path).name
    try:
        found = os.stat(path)
        if not stat.S_ISREG(found.st_mode):
            kind = "a folder" if stat.S_ISDIR(found.st_mode) else "a device or pipe"
            raise DataFileError(
                f"This is {kind}, not a file.", given=path, allowed="a CSV or XLSX file"
            )
        if found.st_size > max_bytes:
            raise _too_large(name, found.st_size, max_bytes)
        with open(path, "rb") as file:
            return name, file.read(max_bytes + 1)
    except FileNotFoundError:
        raise DataFileError(
            "There is no such file.", given=path, fix="Check the folder and the ending."
        ) from None
    except (OSError, ValueError) as error:
        if isinstance(error, DataFileError):
            raise
        reason = getattr(error, "strerror", None) or str(error)
        raise DataFileError(
            f"The file cannot be opened: {reason}.",
            given=path,
            fix="To read a text instead of a file, give it as bytes: text.encode().",
        ) from error


def _too_large(name: str, size: int, max_bytes: int) -> DataFileError:
    return DataFileError(
        "The file is too large.",
        given=f"{name or 'file'}, {size / 1e6:.1f} MB",
        allowed=f"up to {max_bytes / 1e6:g} MB",
        fix="Leave other sheets and pictures out, or raise max_bytes.",
    )


def _refuse_other_files(content: bytes, name: str) -> None:
    if content.startswith(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"):
        if "EncryptedPackage".encode("utf-16-le") in content:
            raise DataFileError(
                "The workbook is protected by a password.",
                given=name or None,
                fix="Open it, remove the password, and save it again as XLSX.",
            )
        raise DataFileError(
            "This is a workbook in the old binary format.",
            given=name or None,
            allowed="XLSX or CSV",
            fix=_SAVE_AS,
        )
    for start, what in _OTHER_FILES:
        if content.startswith(start):
            raise DataFileError(
                f"This is {what}.", given=name or None, allowed="XLSX or CSV", fix=_SAVE_AS
            )
    head = content[:1000].lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    if re.match(rb"<(!doctype|html|table|\?xml|meta)", head):
        raise DataFileError(
            "This is a web page or another marked-up text, whatever its name says.",
            given=name or None,
            allowed="XLSX or CSV",
            fix=_SAVE_AS,
        )


def _decoded(content: bytes) -> tuple[str, str, list[Problem]]:
    """Return the text, the encoding in words, and what is uncertain about it."""
    for mark, codec, words in _BYTE_ORDER_MARKS:
        if content.startswith(mark):
            return _with_replacement(content, codec, words)
    zeros = content[:4000].count(0)
    if zeros > len(content[:4000]) / 4:
        even = content[:4000:2].count(0)
        codec = "utf-16-be" if even > zeros / 2 else "utf-16-le"
        return _with_replacement(content, codec, "UTF-16")
    try:
        return content.decode("utf-8"), "UTF-8", []
    except UnicodeDecodeError:
        text, words, problems = _with_replacement(content, "cp1252", "Windows-1252")
    odd = next((line for line in text.splitlines() if not line.isascii()), "")
    guessed = Problem(
        None,
        "",
        "The file is not in UTF-8; it was read as Windows-1252.",
        given=odd.strip()[:60],
        done="Check the letters with accents; save the file as “CSV UTF-8” if they are wrong.",
    )
    return text, words, [guessed, *problems]


def _with_replacement(content: bytes, codec: str, words: str) -> tuple[str, str, list[Problem]]:
    try:
        return content.decode(codec), words, []
    except UnicodeDecodeError:
        pass
    text = content.decode(codec, errors="replace")
    row = text[: text.index("\ufffd")].count("\n") + 1 if "\ufffd" in text else None
    problem = Problem(
        row,
        "",
        f"Some bytes are not characters of {words}.",
        done="They are shown as \ufffd; cells that hold one are not numbers.",
    )
    return text, words, [problem]


def _read_csv(content: bytes, name: str) -> TextTable:
    text, encoding, problems = _decoded(content)
    lines = list(io.StringIO(text, newline=""))
    if not text.strip():
        raise DataFileError("The file holds no text.", given=name or None, fix="Check its name.")
    if len(lines) > MAX_ROWS:
        raise DataFileError(
            "The file has too many rows.", given=len(lines), allowed=f"up to {MAX_ROWS}"
        )
    stated = re.fullmatch(r"sep=(.)\s*", lines[0], re.IGNORECASE)
    mark = stated[1] if stated and stated[1] in _MARKS else _delimiter(lines)
    rows, broken = _split(lines, mark)
    problems += broken
    widest = max(map(len, rows), default=0)
    if widest > MAX_COLUMNS:
        row = next(i for i, cells in enumerate(rows, 1) if len(cells) > MAX_COLUMNS)
        raise DataFileError(
            f"Row {row} has too many columns.", given=widest, allowed=f"up to {MAX_COLUMNS}"
        )
    layout = f"CSV, {encoding}, separated by {_MARK_WORDS[mark]}"
    return TextTable(name, layout, tuple(map(tuple, rows)), tuple(problems))


_HAS_LETTER = re.compile(r"[^\W\d_]")


def _delimiter(lines: Sequence[str]) -> str:
    """Return the mark that splits some row near the top into the most words, as a header has."""
    head = [line for line in islice(lines, 10 * _LOOKED_AT) if line.strip()][:_LOOKED_AT]

    def words(mark: str) -> tuple[int, int]:
        others = [m for m in _MARKS[:3] if m != mark]
        best = cells = 0
        for row in csv.reader(_bounded(head), delimiter=mark, skipinitialspace=True):
            named = [c for c in row if _HAS_LETTER.search(c) and not any(m in c for m in others)]
            best = max(best, len(named))
            cells += len(row)
        return best, cells

    return max(_MARKS, key=words) if head else ","


def _bounded(lines: Iterable[str]) -> list[str]:
    """Return the lines cut short, so that no field is too long for the reader."""
    return [line[:2000] for line in lines]


def _split(lines: list[str], mark: str) -> tuple[list[list[str]], list[Problem]]:
    """Split lines into cells; a row with a stray quotation mark is split without regard to it."""
    rows: list[list[str]] = []
    problems: list[Problem] = []
    start = 0
    while start < len(lines):
        reader = csv.reader(
            islice(lines, start, None), delimiter=mark, strict=True, skipinitialspace=True
        )
        used = 0
        try:
            for cells in reader:
                if reader.line_num > used + 1 and _swallowed(cells, mark):
                    break
                rows.append(cells)
                used = reader.line_num
            else:
                break
        except csv.Error:
            pass
        bad = lines[start + used].rstrip("\r\n")
        start += used + 1
        rows.append([cell.strip().strip('"') for cell in bad.split(mark)])
        problems.append(
            Problem(
                len(rows),
                "",
                "A quotation mark is not closed, or stands inside a cell.",
                given=bad[:60],
                allowed='cells in quotation marks "…", each closed in its row',
                done="The row was split without regard to quotation marks.",
            )
        )
        if len(problems) >= _MOST_BROKEN:
            rows += [line.rstrip("\r\n").split(mark) for line in lines[start:]]
            break
    return rows, problems


def _swallowed(cells: list[str], mark: str) -> bool:
    """Say whether a cell of several lines holds whole rows, because a quotation mark is stray."""
    pieces = (piece for cell in cells if "\n" in cell for piece in cell.split("\n"))
    return any(piece.count(mark) > 1 for piece in pieces)
