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
import warnings
import zipfile
import zlib
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import islice
from pathlib import PurePath
from typing import Any, TypeAlias

from ..errors import DataFileError
from ..text.sheets import workbook_package
from ..uncertainty import entry

_MAX_ROWS = 1_048_576
_MAX_COLUMNS = 1000


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

    @property
    def place(self) -> str:
        """Where it is: row and column in words."""
        column = f"column {self.column}" if self.column else ""
        row = "" if self.row is None else f"row {self.row}"
        return ", ".join(part for part in (row, column) if part) or "file"

    def __str__(self) -> str:
        parts = [f"{self.place[0].upper()}{self.place[1:]}: {self.text}"]
        if self.given:
            parts.append(f"Given: {self.given}.")
        if self.allowed:
            parts.append(f"Allowed: {self.allowed}.")
        return " ".join([*parts, self.done]).rstrip()


@dataclass(frozen=True, slots=True)
class TextTable:
    """The cells of a file as text."""

    source: str  # name of the file; "" for bytes
    layout: str  # how it was read, such as "CSV, UTF-8, separated by semicolons"
    rows: tuple[tuple[str, ...], ...]  # from row 1 on; they need not be equally long
    problems: tuple[Problem, ...] = ()  # what was odd about the file itself


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
    if content.startswith(b"PK\x03\x04"):
        return _read_xlsx(content, name, sheet, max_bytes)
    _refuse_other_files(content, name)
    if sheet is not None:
        raise DataFileError(
            "A CSV file has no sheets.", given=sheet, fix="Leave the name of the sheet out."
        )
    return _read_csv(content, name)


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
    head = content[:1000].lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    if re.match(rb"<(!doctype|html|table|\?xml|meta)", head):
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
        return content.decode("utf-8"), "UTF-8", []
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
        return content.decode(codec), words, []
    except UnicodeDecodeError:
        pass
    text = content.decode(codec, errors="replace")
    row = text[: text.index("\ufffd")].count("\n") + 1 if "\ufffd" in text else None
    problem = _noted(
        f"Some bytes are not characters of {words}.",
        row=row,
        done="They are shown as \ufffd; cells that hold one are not numbers.",
    )
    return text, words, [problem]


def _read_csv(content: bytes, name: str) -> TextTable:
    text, encoding, problems = _decoded(content)
    lines = list(io.StringIO(text, newline=""))
    if not text.strip():
        raise DataFileError("The file holds no text.", given=name or None, fix="Check its name.")
    if len(lines) > _MAX_ROWS:
        raise DataFileError(
            "The file has too many rows.", given=len(lines), allowed=f"up to {_MAX_ROWS}"
        )
    stated = re.fullmatch(r"sep=(.)\s*", lines[0], re.IGNORECASE)
    mark = stated[1] if stated and stated[1] in _MARKS else _delimiter(lines)
    rows, broken = _split(lines, mark)
    problems += broken
    widest = max(map(len, rows), default=0)
    if widest > _MAX_COLUMNS:
        row = next(i for i, cells in enumerate(rows, 1) if len(cells) > _MAX_COLUMNS)
        raise _too_wide(row, widest)
    layout = f"CSV, {encoding}, separated by {_MARK_WORDS[mark]}"
    return TextTable(name, layout, tuple(map(tuple, rows)), tuple(problems))


_HAS_LETTER = re.compile(r"[^\W\d_]")


def _delimiter(lines: Sequence[str]) -> str:
    """Return the mark that splits some row near the top into the most words, as a header has."""
    # cut short, so that no field is too long for the reader
    head = [line[:2000] for line in lines[: 10 * _LOOKED_AT] if line.strip()][:_LOOKED_AT]

    def words(mark: str) -> tuple[int, int]:
        others = [m for m in _MARKS[:3] if m != mark]
        best = cells = 0
        for row in csv.reader(head, delimiter=mark, skipinitialspace=True):
            named = [c for c in row if _HAS_LETTER.search(c) and not any(m in c for m in others)]
            best = max(best, len(named))
            cells += len(row)
        return best, cells

    return max(_MARKS, key=words) if head else ","


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
            _noted(
                "A quotation mark is not closed, or stands inside a cell.",
                row=len(rows),
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


_UNPACKED = 6
_RATIO, _RATIO_FROM = 200, 20_000_000
_MOST_CELLS = 30_000_000
_CHUNK = 1 << 20
_FIXED = re.compile(r"#?[#,]*0(?:\\?\.(0+))?(?:\\? |\"[^\"]*\"|_.|\[[^\]]*\])*")
_SCIENTIFIC = re.compile(r"0(?:\.(0+))?E\+0+")


def _read_xlsx(content: bytes, name: str, sheet: str | None, max_bytes: int) -> TextTable:
    """Read one sheet of a workbook."""
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


def _check_package(content: bytes, name: str, limit: int) -> bool:
    """Refuse what is not a safe workbook; say whether any sheet holds formulas."""
    formulas = False
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
                    formulas |= _scan(package, item, name)
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
            _noted(
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
        if number > _MAX_ROWS or seen > _MOST_CELLS:
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
        yield _noted(
            f"{count} numbers have no number format, so zeros at their end are lost: 2.90 is "
            "stored as 2.9.",
            column=column,
            allowed="a number format with the decimals of the instrument, such as 0.00",
            done="The numbers were read as they are stored.",
        )
    for column, count in sorted(longer.items()):
        yield _noted(
            f"{count} numbers have more decimals than the sheet shows.",
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
                f"{used} cells are formulas.",
                done="Their results were used as they were last saved.",
            )
        )
    return rows, problems
