"""CSV and XLSX bytes to cells as text, nothing interpreted.

Every row of the file is kept under the number a spreadsheet shows beside it, and the digits that
were typed are kept as far as the file holds them. The file itself is only read.

A workbook stores 2.90 as 2.9 and keeps the zero only as a number format, so a cell in the
"General" format has lost it. Formulas are not evaluated: their last saved result counts.
"""

from __future__ import annotations

import codecs
import csv
import io
import os
import re
import stat
import time
import warnings
import zipfile
import zlib
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from itertools import pairwise
from pathlib import PurePath
from typing import Any, TypeAlias, overload

import numpy as np
from numpy.typing import NDArray

from ..errors import DataFileError
from ..text.sheets import delimiter_of_own, workbook_package
from ..uncertainty import entry

_MAX_ROWS = 250_000
_MAX_COLUMNS = 1000
_MOST_CELLS = 2_000_000
_MOST_CHARACTERS = 10_000_000
_MAX_GAP = 10_000
_LONGEST_CELL = 32_767  # what a spreadsheet cell holds at most (common practice, no source)
_LONGEST_LINE = 1_000_000
_LONGEST_S = 60.0
_CHUNK = 1 << 20


@dataclass(frozen=True, slots=True)
class Problem:
    """Something in a class file that a person should look at, and what was done about it.

    Attributes
    ----------
    row : int or None
        Row as a spreadsheet numbers it, from 1; None for the file as a whole.
    column : str
        Letter and header of the column, such as ``"C (wire before / g)"``; "" for a whole row.
    text : str
        One sentence: what is odd.
    given, allowed : str
        What the cell holds, and what it may hold; "" where that says nothing.
    done : str
        One sentence: what was done.
    sheet, part : str
        Sheet, where several are read; which trial of the row, where it holds several.

    Examples
    --------
    >>> print(Problem(7, "C (wire before / g)", "The cell is not a number.", "2.9O",
    ...               "a number such as 2.90", "The row was set aside."))
    Row 7, column C (wire before / g): The cell is not a number. Given: 2.9O. Allowed: a number
    such as 2.90. The row was set aside.
    """

    row: int | None
    column: str
    text: str
    given: str = ""
    allowed: str = ""
    done: str = ""
    sheet: str = ""  # of a workbook of which several sheets are read
    part: str = ""  # of the row, where it holds several trials; or a column instead of a row

    @property
    def place(self) -> str:
        """Where it is: sheet, row and column in words."""
        column = f"column {self.column}" if self.column else ""
        where = place_in_words(self.sheet, self.row, self.part)
        return ", ".join(part for part in (where, column) if part) or "file"

    def __str__(self) -> str:
        parts = [f"{self.place[0].upper()}{self.place[1:]}: {self.text}"]
        if self.given:
            parts.append(f"Given: {self.given}.")
        if self.allowed:
            parts.append(f"Allowed: {self.allowed}.")
        return " ".join([*parts, self.done]).rstrip()


def place_in_words(sheet: str, row: int | None, part: str = "") -> str:
    """Say where in a file something stands; "" for the file as a whole.

    >>> place_in_words("Monday", 7, "trial 2"), place_in_words("", None, "column C")
    ('sheet “Monday”, row 7, trial 2', 'column C')
    """
    parts = (f"sheet “{sheet}”" if sheet else "", "" if row is None else f"row {row}", part)
    return ", ".join(one for one in parts if one)


class CellRows(Sequence[tuple[str, ...]]):
    """Rows of cells, which need not be equally long, kept as one list of all cells.

    A row is made when it is asked for, a column is a slice: a hundred thousand rows are one object.

    >>> rows = CellRows.of([("a", "b"), (), ("1", "2", "3")])
    >>> rows[2], len(rows), rows.width, rows.column(1), rows.column(1, first=2)
    (('1', '2', '3'), 3, 3, ['b', '', '2'], ['2'])
    """

    __slots__ = ("_cells", "_ends")

    def __init__(self, cells: list[str], ends: NDArray[np.intp] | Sequence[int]) -> None:
        """Take all cells, and behind how many of them each row ends."""
        self._cells = cells
        self._ends = np.concatenate([np.zeros(1, np.intp), np.asarray(ends, dtype=np.intp)])

    @classmethod
    def of(cls, rows: Iterable[Sequence[str]]) -> CellRows:
        """Return rows that are there already."""
        cells: list[str] = []
        ends: list[int] = []
        for row in rows:
            cells += row
            ends.append(len(cells))
        return cls(cells, ends)

    @property
    def lengths(self) -> NDArray[np.intp]:
        """How many cells each row has."""
        return np.diff(self._ends)

    @property
    def width(self) -> int:
        """How many cells the longest row has."""
        return int(self.lengths.max(initial=0))

    def column(self, index: int, first: int = 0) -> list[str]:
        """Return the cells of one column, from a row on; "" in rows that are too short."""
        ends = self._ends[first:]
        lengths = np.diff(ends)
        if not lengths.size:
            return []
        if (lengths == lengths[0]).all():
            width = int(lengths[0])
            if index >= width:
                return [""] * lengths.size
            return self._cells[int(ends[0]) + index :: width]
        cells = self._cells
        return [cells[a + index] if a + index < b else "" for a, b in pairwise(ends.tolist())]

    def __len__(self) -> int:
        return len(self._ends) - 1

    @overload
    def __getitem__(self, index: int) -> tuple[str, ...]: ...

    @overload
    def __getitem__(self, index: slice) -> tuple[tuple[str, ...], ...]: ...

    def __getitem__(self, index: int | slice) -> tuple[str, ...] | tuple[tuple[str, ...], ...]:
        places = range(len(self))[index]
        if isinstance(places, range):
            return tuple(self[place] for place in places)
        return tuple(self._cells[self._ends[places] : self._ends[places + 1]])

    def __iter__(self) -> Iterator[tuple[str, ...]]:
        return (tuple(self._cells[a:b]) for a, b in pairwise(self._ends.tolist()))

    def __eq__(self, other: object) -> bool:
        if isinstance(other, CellRows):
            return self._cells == other._cells and np.array_equal(self._ends, other._ends)
        return isinstance(other, tuple) and tuple(self) == other

    def __hash__(self) -> int:
        return hash(tuple(self))

    def __repr__(self) -> str:
        return repr(tuple(self))


@dataclass(frozen=True, slots=True)
class TextTable:
    """The cells of a file, or of one sheet of a workbook, as text."""

    source: str  # name of the file; "" for bytes
    layout: str  # how it was read, such as "CSV, UTF-8, separated by semicolons"
    rows: CellRows  # from row 1 on
    problems: tuple[Problem, ...] = ()  # what was odd about the file itself
    sheet: str = ""  # its title; "" where there are no sheets
    number: int = 1  # place of the sheet in the workbook
    hidden: bool = False  # the sheet as a whole
    hidden_rows: frozenset[int] = frozenset()  # from 1
    hidden_columns: frozenset[int] = frozenset()  # from 0
    merged: tuple[tuple[int, int, int, int], ...] = ()  # first row, column, last row, column from 0


def column_letter(index: int) -> str:
    """Return the letters by which a spreadsheet calls a column, counted from 0.

    >>> column_letter(0), column_letter(25), column_letter(26)
    ('A', 'Z', 'AA')
    """
    letters = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def _noted(text: str, *, row: int | None = None, column: int | None = None, **more: str) -> Problem:
    """Return a problem of a row, a column or the file as a whole."""
    return Problem(row, "" if column is None else column_letter(column), text, **more)


FileSource: TypeAlias = str | os.PathLike[str] | bytes | bytearray | memoryview
"""A path, or the content of a file as bytes."""
MAX_BYTES = 50_000_000
_MARKS = ("\t", ";", ",", "|")
_MARK_WORDS = {"\t": "tabs", ";": "semicolons", ",": "commas", "|": "vertical bars"}
_LOOKED_AT = 60
_HEAD = 10 * _LOOKED_AT
_MOST_BROKEN = 1000
_BYTE_ORDER_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig", "UTF-8"),
    (codecs.BOM_UTF32_LE, "utf-32", "UTF-32"),
    (codecs.BOM_UTF32_BE, "utf-32", "UTF-32"),
    (codecs.BOM_UTF16_LE, "utf-16", "UTF-16"),
    (codecs.BOM_UTF16_BE, "utf-16", "UTF-16"),
)
_OLD_WORKBOOK = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_OTHER_FILES = (
    (_OLD_WORKBOOK, "a workbook in the old binary format"),
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
    """Read the cells of a CSV or XLSX file as text; its content says which of them it is.

    An XLSX file may unpack to six times ``max_bytes``. A DataFileError says what is wrong with
    a file that cannot be read.

    >>> table = read_table("Gruppe;Draht / g\\nrot;2,90\\n".encode("utf-16"))
    >>> table.layout
    'CSV, UTF-16, separated by semicolons'
    >>> table.rows
    (('Gruppe', 'Draht / g'), ('rot', '2,90'))
    """
    max_bytes = entry.whole("max_bytes", max_bytes, least=0, error=DataFileError)
    if sheet is not None:
        entry.text("sheet", sheet, error=DataFileError)
    name, content = file_content(path_or_bytes, max_bytes)
    found = _sheets(name, content, sheet, max_bytes)
    chosen = found[0]
    if len(found) > 1:
        note = _noted(
            f"The workbook has {len(found)} sheets.",
            given=", ".join(one.sheet for one in found)[:200],
            done=f"Only “{chosen.sheet}” was read; give sheet=… for another one.",
        )
        chosen = replace(chosen, problems=(*chosen.problems, note))
    return chosen


def read_sheets(
    path_or_bytes: FileSource, *, sheet: str | None = None, max_bytes: int = MAX_BYTES
) -> tuple[TextTable, ...]:
    """Read all sheets of a workbook that hold cells, or the one named; of a CSV file its table.

    Parameters and errors are those of :func:`read_table`.

    >>> [table.sheet for table in read_sheets(b"group;paper")]
    ['']
    """
    max_bytes = entry.whole("max_bytes", max_bytes, least=0, error=DataFileError)
    if sheet is not None:
        entry.text("sheet", sheet, error=DataFileError)
    name, content = file_content(path_or_bytes, max_bytes)
    return _sheets(name, content, sheet, max_bytes)


def _sheets(name: str, content: bytes, sheet: str | None, max_bytes: int) -> tuple[TextTable, ...]:
    if content.startswith(b"PK\x03\x04"):
        return _read_xlsx(content, name, sheet, max_bytes)
    _refuse_other_files(content, name)
    if sheet is not None:
        raise DataFileError(
            "A CSV file has no sheets.", given=sheet, fix="Leave the name of the sheet out."
        )
    return (_read_csv(content, name),)


def file_content(source: FileSource, max_bytes: int) -> tuple[str, bytes]:
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


def _too_wide(row: int, columns: int) -> DataFileError:
    return DataFileError(
        f"Row {row} has too many columns.", given=columns, allowed=f"up to {_MAX_COLUMNS}"
    )


def _refuse_other_files(content: bytes, name: str) -> None:
    if content.startswith(_OLD_WORKBOOK) and "EncryptedPackage".encode("utf-16-le") in content:
        raise DataFileError(
            "The workbook is protected by a password.",
            given=name or None,
            fix="Open it, remove the password, and save it again as XLSX.",
        )
    what = next((words for start, words in _OTHER_FILES if content.startswith(start)), "")
    if re.match(rb"[\xef\xbb\xbf\s]*<(!doctype|html|table|\?xml|meta)", content, re.IGNORECASE):
        what = "a web page or another marked-up text, whatever its name says"
    if what:
        raise DataFileError(
            f"This is {what}.", given=name or None, allowed="XLSX or CSV", fix=_SAVE_AS
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
        return _streamed(content, "utf-8"), "UTF-8", []
    except UnicodeDecodeError:
        text, words, problems = _with_replacement(content, "cp1252", "Windows-1252")
    odd = next((line for line in text.splitlines() if not line.isascii()), "")
    guessed = _noted(
        "The file is not in UTF-8; it was read as Windows-1252.",
        given=odd.strip()[:60],
        done="Check the letters with accents; save the file as “CSV UTF-8” if they are wrong.",
    )
    return text, words, [guessed, *problems]


def _with_replacement(content: bytes, codec: str, words: str) -> tuple[str, str, list[Problem]]:
    try:
        return _streamed(content, codec), words, []
    except UnicodeDecodeError:
        pass
    text = _streamed(content, codec, "replace")
    row = text[: text.index("\ufffd")].count("\n") + 1 if "\ufffd" in text else None
    problem = _noted(
        f"Some bytes are not characters of {words}.",
        row=row,
        done="They are shown as \ufffd; cells that hold one are not numbers.",
    )
    return text, words, [problem]


def _streamed(content: bytes, codec: str, errors: str = "strict") -> str:
    """Return the text of a file, decoded in pieces; refuse what no class has typed on the way."""
    decoder = codecs.getincrementaldecoder(codec)(errors)
    pieces: list[str] = []
    rows = line = size = 0
    for start in range(0, len(content), _CHUNK):
        last = start + _CHUNK >= len(content)
        pieces.append(decoder.decode(content[start : start + _CHUNK], last))
        ends = re.split(r"[\r\n]", pieces[-1])
        rows += max(pieces[-1].count("\n"), pieces[-1].count("\r"))
        line += len(ends[0])
        longest = max(line, *map(len, ends))
        line = len(ends[-1]) if len(ends) > 1 else line
        size += len(pieces[-1])
        if rows > _MAX_ROWS:
            raise _too_long(rows)
        if longest > _LONGEST_LINE:
            raise _cell_too_long(longest)
        if size > _MOST_CHARACTERS:
            raise _too_much_text(size)
    return "".join(pieces)


def _read_csv(content: bytes, name: str) -> TextTable:
    text, encoding, problems = _decoded(content)
    if not text or text.isspace():
        raise DataFileError("The file holds no text.", given=name or None, fix="Check its name.")
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    head = [f"{line}\n" for line in text.split("\n", _HEAD)[:_HEAD]]
    stated = re.fullmatch(r"sep=(.)\s*", head[0], re.IGNORECASE)
    mark = delimiter_of_own(head) or (
        stated[1] if stated and stated[1] in _MARKS else _delimiter(head)
    )
    rows = _split_plainly(text, mark)
    if rows is None:
        rows, broken = _split(re.findall("[^\n]*\n|[^\n]+", text), mark)
        problems += broken
    layout = f"CSV, {encoding}, separated by {_MARK_WORDS[mark]}"
    return TextTable(name, layout, rows, tuple(problems))


def _too_long(rows: int) -> DataFileError:
    return DataFileError(
        "The file has too many rows.",
        given=f"{rows:,} or more",
        allowed=f"up to {_MAX_ROWS:,}",
        fix="Split it, or leave out what is not a reading of this class.",
    )


def _cell_too_long(size: int) -> DataFileError:
    return DataFileError(
        "A cell holds far too much text.",
        given=f"about {size:,} characters",
        allowed=f"up to {_LONGEST_CELL:,} characters a cell",
        fix="Take it out, or copy the columns of readings to a new file.",
    )


def _too_much_text(size: int) -> DataFileError:
    return DataFileError(
        "The file holds far too much text.",
        given=f"{size:,} characters or more",
        allowed=f"up to {_MOST_CHARACTERS:,} characters",
        fix="Copy the columns of readings to a new file.",
    )


_HAS_LETTER = re.compile(r"[^\W\d_]")


def _delimiter(lines: Sequence[str]) -> str:
    """Return the mark that splits some row near the top into the most words, as a header has."""
    # cut short, so that no field is too long for the reader
    head = [line[:2000] for line in lines if line.strip()][:_LOOKED_AT]

    def words(mark: str) -> tuple[int, int]:
        others = [m for m in _MARKS[:3] if m != mark]
        best = cells = 0
        for row in csv.reader(head, delimiter=mark, skipinitialspace=True):
            named = [c for c in row if _HAS_LETTER.search(c) and not any(m in c for m in others)]
            best = max(best, len(named))
            cells += len(row)
        return best, cells

    return max(_MARKS, key=words) if head else ","


def _split_plainly(text: str, mark: str) -> CellRows | None:
    """Split lines at every mark; None where the rules of CSV may say otherwise.

    They may where there is a quotation mark, a blank line, or a space before a cell.
    """
    odd = ('"', "\n\n", "\n ", f"{mark} ")
    if text.startswith(("\n", " ")) or any(one in text for one in odd):
        return None
    if not text.endswith("\n"):
        text += "\n"
    code = np.frombuffer(text.encode("utf-8", "surrogatepass"), dtype=np.uint8)
    ends = np.flatnonzero(code == ord("\n"))
    stops = np.flatnonzero((code == ord("\n")) | (code == ord(mark)))
    ends = np.searchsorted(stops, ends) + 1
    lengths = np.diff(ends, prepend=0)
    if lengths.max() > _MAX_COLUMNS:
        raise _too_wide(int(np.argmax(lengths > _MAX_COLUMNS)) + 1, int(lengths.max()))
    if stops.size > _MOST_CELLS:
        raise _sheet_too_large(lengths.size, stops.size)
    cells = text.replace("\n", mark).split(mark)
    cells.pop()
    return CellRows(cells, ends)


def _split(lines: list[str], mark: str) -> tuple[CellRows, list[Problem]]:
    """Split lines into cells; a row with a stray quotation mark is split without regard to it."""
    all_cells: list[str] = []
    ends: list[int] = []
    problems: list[Problem] = []

    def add(cells: list[str]) -> None:
        if len(cells) > _MAX_COLUMNS:
            raise _too_wide(len(ends) + 1, len(cells))
        all_cells.extend(cells)
        ends.append(len(all_cells))
        if len(all_cells) > _MOST_CELLS:
            raise _sheet_too_large(len(ends), len(all_cells))

    start = 0
    while True:
        rest = map(lines.__getitem__, range(start, len(lines)))
        reader = csv.reader(rest, delimiter=mark, strict=True, skipinitialspace=True)
        used = 0
        try:
            for cells in reader:
                if reader.line_num > used + 1 and _swallowed(cells, mark):
                    break
                add(cells)
                used = reader.line_num
            else:
                break
        except csv.Error:
            pass
        bad = lines[start + used].rstrip("\n")
        start += used + 1
        add([cell.strip().strip('"') for cell in bad.split(mark)])
        problems.append(
            _noted(
                "A quotation mark is not closed, or stands inside a cell.",
                row=len(ends),
                given=bad[:60],
                allowed='cells in quotation marks "…", each closed in its row',
                done="The row was split without regard to quotation marks.",
            )
        )
        if len(problems) >= _MOST_BROKEN:
            for line in lines[start:]:
                add(line.rstrip("\n").split(mark))
            break
    return CellRows(all_cells, ends), problems


def _swallowed(cells: list[str], mark: str) -> bool:
    """Say whether a cell of several lines holds whole rows, because a quotation mark is stray."""
    pieces = (piece for cell in cells if "\n" in cell for piece in cell.split("\n"))
    return any(piece.count(mark) > 1 for piece in pieces)


_UNPACKED = 6
_RATIO, _RATIO_FROM = 200, 20_000_000
_LONGEST_RUN = 200_000  # bytes between two tags: a cell of 32,767 characters, written as entities
_MOST_TEXT = 40_000_000  # bytes of all shared strings
_FIXED = re.compile(r"#?[#,]*0(?:\\?\.(0+))?(?:\\? |\"[^\"]*\"|_.|\[[^\]]*\])*")
_SCIENTIFIC = re.compile(r"0(?:\.(0+))?E\+0+")


def _read_xlsx(
    content: bytes, name: str, sheet: str | None, max_bytes: int
) -> tuple[TextTable, ...]:
    """Read the sheets of a workbook that hold cells, or the one named."""
    looks = _check_package(content, name, _UNPACKED * max_bytes)
    openpyxl = workbook_package()
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # about styles and extensions this has no use for
            book = openpyxl.load_workbook(
                io.BytesIO(content), read_only=True, data_only=True, keep_links=False
            )
            try:
                return _chosen_sheets(book, content, name, sheet, looks)
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


def _check_package(content: bytes, name: str, limit: int) -> dict[str, _Looks]:
    """Refuse what is not a safe workbook; say how each of its sheets looks, by its part."""
    looks: dict[str, _Looks] = {}
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as package:
            names = {item.filename for item in package.infolist()}
            _check_kind(package, names, name)
            total = sum(item.file_size for item in package.infolist())
            if total > limit or (total > _RATIO_FROM and total > _RATIO * len(content)):
                raise DataFileError(
                    "The workbook unpacks to far too much.",
                    given=f"{len(content) / 1e6:.1f} MB unpack to {total / 1e6:.0f} MB",
                    allowed=f"up to {limit / 1e6:g} MB, and {_RATIO} times its size",
                    fix="Copy the sheet to a new workbook, or raise max_bytes if you trust it.",
                )
            for item in package.infolist():
                if item.filename.endswith((".xml", ".rels")):
                    looks[item.filename] = _scan(package, item, name)
                if item.filename.endswith("sharedStrings.xml") and item.file_size > _MOST_TEXT:
                    raise _cell_too_long(item.file_size)
    except DataFileError:
        raise
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, RuntimeError, ValueError) as error:
        raise DataFileError(
            "The workbook is damaged or cut short.",
            given=name or None,
            fix="Copy or download it again, or save the sheet as CSV.",
        ) from error
    return looks


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


_ROW_TAG = re.compile(rb"<(?:\w{1,9}:)?row[\s/>]")
_CELL_TAG = re.compile(rb"<(?:\w{1,9}:)?c[\s/>]")
_ROW_NUMBER = re.compile(rb"<(?:\w{1,9}:)?row\s[^<>]{0,200}?\br=[\"'](\d{1,9})[\"']")


def _sheet_too_large(rows: int, cells: int) -> DataFileError:
    return DataFileError(
        "The sheet is far too large.",
        given=f"{rows:,} rows, {cells:,} cells or more",
        allowed=f"up to {_MAX_ROWS:,} rows and {_MOST_CELLS:,} cells",
        fix="Delete the empty but formatted rows and columns, or save the sheet as CSV.",
    )


def _far_below(row: int, last: int) -> DataFileError:
    return DataFileError(
        "A cell stands far below all others.",
        given=f"row {row:,}, after row {last:,}",
        allowed=f"up to {_MAX_GAP:,} empty rows between two that are filled",
        fix="Go to that row, delete it and those above it up to the readings, and save the file.",
    )


@dataclass(slots=True)
class _Looks:
    """What a sheet is besides its cells."""

    formulas: bool = False
    hidden_rows: set[int] = field(default_factory=set)
    hidden_columns: set[int] = field(default_factory=set)
    merged: list[tuple[int, int, int, int]] = field(default_factory=list)

    def note(self, text: bytes) -> None:
        """Look at some whole tags."""
        self.formulas |= any(tag in text for tag in (b"<f>", b"<f ", b"<f/"))
        for tag in _COLUMN_TAG.findall(text) if b"hidden=" in text else ():
            span = {k: int(v) for k, v in _SPAN.findall(tag)}
            if _HIDDEN.search(tag) and b"min" in span:
                last = min(span.get(b"max", span[b"min"]), _MAX_COLUMNS)
                self.hidden_columns |= set(range(span[b"min"] - 1, last))
        for tag in _HIDDEN_ROW.findall(text) if b"hidden=" in text else ():
            number = _NUMBER_OF_ROW.search(tag)
            if number and _HIDDEN.search(tag):
                self.hidden_rows.add(int(number[1]))
        for left, top, right, bottom in _MERGED.findall(text):
            if len(self.merged) < _MOST_MERGED:
                corners = (int(top) - 1, _index_of(left), int(bottom) - 1, _index_of(right))
                self.merged.append(corners)


def _scan(package: zipfile.ZipFile, entry: zipfile.ZipInfo, name: str) -> _Looks:
    """Read one part through, which checks it; refuse document types; note how a sheet looks."""
    rest, looks = b"", _Looks()
    is_sheet = entry.filename.startswith("xl/worksheets/")
    rows = cells = last = 0
    with package.open(entry) as part:
        while chunk := part.read(_CHUNK):
            text = rest + chunk
            end = max(text.rfind(b"<"), 0)
            text, rest = text[:end], text[end:]  # whole tags, with what stands behind them
            longest = max(len(rest), *map(len, text.split(b"<")))
            if longest > _LONGEST_RUN:
                raise _cell_too_long(longest)
            if is_sheet:
                rows += len(_ROW_TAG.findall(text))
                cells += len(_CELL_TAG.findall(text))
                if rows > _MAX_ROWS or cells > _MOST_CELLS:
                    raise _sheet_too_large(rows, cells)
                for number in map(int, _ROW_NUMBER.findall(text)):
                    if number > last + _MAX_GAP:
                        raise _far_below(number, last)
                    last = max(last, number)
                looks.note(text)
            if b"\0" in chunk:  # tags of two bytes a character would not be seen here
                raise DataFileError(
                    "A part of the workbook is not written in UTF-8.",
                    given=f"{name} {entry.filename}".strip(),
                    fix="Open it in a spreadsheet and save it again.",
                )
            if b"<!DOCTYPE" in text:
                raise DataFileError(
                    "The workbook defines entities of its own, which could unpack to anything.",
                    given=f"{name} {entry.filename}".strip(),
                    fix="Open it in a spreadsheet and save it again.",
                )
    return looks


def _chosen_sheets(
    book: Any, content: bytes, name: str, sheet: str | None, all_looks: Mapping[str, _Looks]
) -> tuple[TextTable, ...]:
    sheets = {one.title: one for one in book.worksheets}
    if sheet is not None and sheet not in sheets:
        raise DataFileError(
            "There is no sheet of that name.", given=sheet, allowed=", ".join(sheets) or "none"
        )
    found = []
    for number, (title, one) in enumerate(sheets.items(), 1):
        if sheet is not None and title != sheet:
            continue
        rows, problems = _cells(one)
        if not rows:
            continue
        looks = all_looks.get(getattr(one, "_worksheet_path", "").lstrip("/"), _Looks())
        if any(part.formulas for part in all_looks.values()):
            rows, more = _with_formulas(rows, content, title)
            problems += more
        found.append(
            TextTable(
                name,
                f"XLSX, sheet “{title}”",
                CellRows.of(rows),
                tuple(problems),
                sheet=title,
                number=number,
                hidden=getattr(one, "sheet_state", "visible") != "visible",
                hidden_rows=frozenset(looks.hidden_rows),
                hidden_columns=frozenset(looks.hidden_columns),
                merged=tuple(looks.merged),
            )
        )
    if not found:
        raise DataFileError("The workbook holds no cells.", given=name or None)
    return tuple(found)


_HIDDEN = re.compile(rb"\shidden=[\"'](?:1|true)[\"']")
_COLUMN_TAG = re.compile(rb"<(?:\w{1,9}:)?col\s[^<>]{0,400}>")
_HIDDEN_ROW = re.compile(rb"<(?:\w{1,9}:)?row\s[^<>]{0,400}>")
_SPAN = re.compile(rb"\b(min|max)=[\"'](\d{1,6})[\"']")
_NUMBER_OF_ROW = re.compile(rb"\sr=[\"'](\d{1,9})[\"']")
_MERGED = re.compile(
    rb"<(?:\w{1,9}:)?mergeCell\s[^<>]{0,100}?ref=[\"']"
    rb"\$?([A-Z]{1,3})\$?(\d{1,7}):\$?([A-Z]{1,3})\$?(\d{1,7})[\"']"
)
_MOST_MERGED = 2000


def _index_of(letters: bytes) -> int:
    index = 0
    for letter in letters:
        index = 26 * index + letter - 64
    return index - 1


def _cells(sheet: Any) -> tuple[list[list[str]], list[Problem]]:
    """Return the rows up to the last one with text, and one problem for each way of reading."""
    sheet.reset_dimensions()
    rows: list[list[str]] = []
    used = seen = size = 0
    lost: Counter[int] = Counter()
    longer: Counter[int] = Counter()
    dates: list[tuple[int, int, str]] = []
    until = time.process_time() + _LONGEST_S  # whatever else the machine does
    for number, row in enumerate(sheet.iter_rows(), 1):
        seen += len(row)
        if number > used + _MAX_GAP and any(cell.value is not None for cell in row):
            raise _far_below(number, used)
        if number > 2 * _MAX_ROWS or seen > 3 * _MOST_CELLS or time.process_time() > until:
            raise _sheet_too_large(number, seen)
        texts = []
        for column, cell in enumerate(row):
            value = cell.value
            if value is None:
                texts.append("")
            elif type(value) is str:
                texts.append(value)
            elif type(value) is float or type(value) is int:
                text, kept = _number_text(value, cell.number_format)
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
        if len(texts) > _MAX_COLUMNS:
            raise _too_wide(number, len(texts))
        size += sum(map(len, texts))
        if size > _MOST_CHARACTERS:
            raise _too_much_text(size)
        if texts:
            rows += [[] for _ in range(number - 1 - len(rows))]
            rows.append(texts)
            used = number
    return rows, list(_remarks(lost, longer, dates))


def _numbers(count: int) -> str:
    return f"{count} numbers have" if count > 1 else "One number has"


def _remarks(
    lost: Counter[int],
    longer: Counter[int],
    dates: list[tuple[int, int, str]],
) -> Iterator[Problem]:
    for column, count in sorted(lost.items()):
        yield _noted(
            f"{_numbers(count)} no number format, so zeros at the end are lost: 2.90 is stored as "
            "2.9.",
            column=column,
            allowed="a number format with the decimals of the instrument, such as 0.00",
            done="The numbers were read as they are stored.",
        )
    for column, count in sorted(longer.items()):
        yield _noted(
            f"{_numbers(count)} more decimals than the sheet shows.",
            column=column,
            done="All stored decimals were read.",
        )
    for number, column, text in dates[:20]:
        yield _noted(
            "The spreadsheet holds a date, a time or a logical value here.",
            row=number,
            column=column,
            given=text,
            allowed="a number",
            done="It was read as the text shown here; type it again if it was a reading.",
        )


def _number_text(value: float, number_format: str) -> tuple[str, str]:
    """Write a stored number with the decimals that its format shows; say if they are all."""
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
                    _noted(
                        "A formula has no saved result, and formulas are not worked out here.",
                        row=index + 1,
                        column=column,
                        given=formula[:60],
                        done="The cell is not a number; open the workbook in a spreadsheet and "
                        "save it, or type the number.",
                    )
                )
    finally:
        book.close()
    if used:
        problems.append(
            _noted(
                f"{used} cells are formulas." if used > 1 else "One cell is a formula.",
                done="What was used is the result as it was last saved.",
            )
        )
    return rows, problems
