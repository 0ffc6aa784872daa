"""Class files as they come: encodings, marks, number formats, and files that are refused."""

from __future__ import annotations

import gzip
import io
import os
import zipfile
from contextlib import suppress
from datetime import date
from pathlib import Path

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stoichkit.classroom import tables
from stoichkit.classroom.tables import (
    CellRows,
    Problem,
    _number_text,
    column_letter,
    read_table,
)
from stoichkit.errors import DataFileError, StoichkitError
from tests.classfiles import HEADER, ROWS, csv_bytes, saved, xlsx_bytes

TABLE = (HEADER, *ROWS)
ENCODINGS = ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32"]


@pytest.mark.parametrize("encoding", ENCODINGS)
@pytest.mark.parametrize("mark", [",", ";", "\t", "|"])
def test_every_encoding_with_every_mark(encoding: str, mark: str) -> None:
    assert read_table(csv_bytes(mark=mark, encoding=encoding)).rows == TABLE


@pytest.mark.parametrize("mark", [";", "\t", ","])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_decimal_commas_and_line_ends(mark: str, end: str) -> None:
    text = csv_bytes(mark=mark, decimal=",").decode().replace("\n", end)
    rows = read_table(text.encode()).rows
    assert rows[1] == ("red", "1", "2,94", "2,82", "0,75", "1,15")
    assert len(rows) == len(TABLE)


def test_windows_1252_is_read_and_said() -> None:
    table = read_table("Gruppe;Gerät\nGrün;1\n".encode("cp1252"))
    assert table.rows == (("Gruppe", "Gerät"), ("Grün", "1"))
    assert "Windows-1252" in str(table.problems[0])


def test_the_first_line_may_name_the_mark() -> None:
    table = read_table(b"sep=;\na;b\n1;2,5\n")
    assert table.rows == (("sep=", ""), ("a", "b"), ("1", "2,5"))


def test_quoted_cells_may_hold_marks_line_ends_and_quotes() -> None:
    table = read_table(b'a,b\n"1,5","two\nlines, ""so"""\n2,x\n')
    assert table.rows[1:] == (("1,5", 'two\nlines, "so"'), ("2", "x"))
    assert table.problems == ()


@pytest.mark.parametrize("place", range(1, 6))
@pytest.mark.parametrize("fault", ['"', '"x" '])
def test_a_stray_quote_costs_no_row(place: int, fault: str) -> None:
    lines = csv_bytes().decode().splitlines()
    lines[place] = fault + lines[place]
    table = read_table("\n".join(lines).encode())
    assert len(table.rows) == len(TABLE)
    assert [p.row for p in table.problems] == [place + 1]
    kept = [row for i, row in enumerate(table.rows) if i != place]
    assert kept == [row for i, row in enumerate(TABLE) if i != place]


def test_many_stray_quotes_end_in_plain_splitting() -> None:
    table = read_table(("a,b\n" + '"x"y,1\n' * 3000).encode())
    assert len(table.rows) == 3001


OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600)
REFUSED = {
    "old binary workbook": (OLE, "old binary format"),
    "workbook with a password": (OLE + "EncryptedPackage".encode("utf-16-le"), "password"),
    "pdf": (b"%PDF-1.7 ...", "PDF"),
    "gzip": (gzip.compress(b"a,b\n"), "compressed"),
    "web page": (b"<html><table><tr><td>1</td></tr></table></html>", "web page"),
    "rich text": (b"{\\rtf1 a}", "formatting"),
    "picture": (b"\x89PNG\r\n\x1a\n", "picture"),
    "nothing": (b"", "empty"),
    "only a byte order mark": (b"\xff\xfe", "no text"),
    "blank lines": (b"\n \n\n", "no text"),
    "cut workbook": (xlsx_bytes()[:900], "damaged"),
    "wide row": (b"a,b\n" + b"," * 2000 + b"\n", "too many columns"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_no_table_is_refused_with_a_reason(name: str) -> None:
    content, words = REFUSED[name]
    with pytest.raises(DataFileError, match=words):
        read_table(content)


def package(**parts: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as file:
        for name, content in parts.items():
            file.writestr(name.replace("__", "/").replace("_xml", ".xml"), content)
    return out.getvalue()


def test_zip_bombs_and_other_packages_are_refused() -> None:
    bomb = package(xl__workbook_xml=b"<x/>", xl__worksheets__sheet1_xml=b" " * 40_000_000)
    assert len(bomb) < 100_000
    with pytest.raises(DataFileError, match="unpacks to far too much"):
        read_table(bomb)
    with pytest.raises(DataFileError, match="unpacks to far too much"):
        read_table(package(xl__workbook_xml=b"<x/>", a_xml=b" " * 100_000), max_bytes=10_000)
    entities = b'<!DOCTYPE x [<!ENTITY a "aaaa">]><x>&a;</x>'
    with pytest.raises(DataFileError, match="entities"):
        read_table(package(xl__workbook_xml=entities))
    with pytest.raises(DataFileError, match="not an XLSX workbook"):
        read_table(package(mimetype=b"application/x", content_xml=b"<x/>"))
    with pytest.raises(DataFileError, match="damaged"):
        read_table(package(xl__workbook_xml=b"<x/>"))
    protected = bytearray(package(xl__workbook_xml=b"<x/>"))
    for mark, offset in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        protected[protected.index(mark) + offset] |= 1
    with pytest.raises(DataFileError, match="password"):
        read_table(bytes(protected))


def test_paths_are_checked(tmp_path: Path) -> None:
    file = tmp_path / "Klasse ä.csv"
    file.write_bytes(csv_bytes())
    before = file.stat()
    assert read_table(file).rows == read_table(str(file)).rows == TABLE
    assert read_table(file).source == "Klasse ä.csv"
    after = file.stat()
    assert (after.st_mtime_ns, after.st_size) == (before.st_mtime_ns, before.st_size)
    assert file.read_bytes() == csv_bytes()
    os.mkfifo(tmp_path / "pipe")
    for path, words in (
        (tmp_path / "none.csv", "no such file"),
        (tmp_path, "folder"),
        (tmp_path / "pipe", "pipe"),
        ("", "not a path"),
        ("a\0b", "cannot be opened"),
        ("group,trial\n" * 1000, "give it as bytes"),
    ):
        with pytest.raises(DataFileError, match=words):
            read_table(path)
    with pytest.raises(DataFileError, match="too large"):
        read_table(file, max_bytes=20)
    with pytest.raises(DataFileError, match="too large"):
        read_table(csv_bytes(), max_bytes=20)
    with pytest.raises(DataFileError, match="not a file"):
        read_table(3)  # type: ignore[arg-type]
    with pytest.raises(DataFileError, match="no sheets"):
        read_table(csv_bytes(), sheet="one")


def test_a_workbook_keeps_the_decimals_of_its_formats() -> None:
    assert read_table(xlsx_bytes()).rows[1:] == ROWS
    general = read_table(xlsx_bytes(number_format="General"))
    assert general.rows[2][4] == "0.7"
    assert any("zeros at the end are lost" in p.text for p in general.problems)
    longer = read_table(xlsx_bytes(number_format="0.0"))
    assert longer.rows[1][2] == "2.94"
    assert any("more decimals than the sheet shows" in p.text for p in longer.problems)


@pytest.mark.parametrize(
    ("value", "number_format", "text", "kept"),
    [
        (2.9, '0.00" g"', "2.90", "kept"),
        (2.9, "#,##0.00", "2.90", "kept"),
        (2.9, "0.000_);(0.000)", "2.900", "kept"),
        (2.9000000000000004, "General", "2.9", "lost"),
        (0.00123, "0.00E+00", "1.23e-03", "kept"),
        (20, "0", "20", "kept"),
        (20.4, "0", "20.4", "longer"),
        (0.05, "0%", "5 %", "kept"),
        (-1.5, "0.00", "-1.50", "kept"),
        (2.9, "[Red]0.00", "2.9", "lost"),
    ],
)
def test_number_formats(value: float, number_format: str, text: str, kept: str) -> None:
    assert _number_text(value, number_format) == (text, kept)


def test_dates_formulas_and_other_sheets_are_said() -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(["a", "b"])
    sheet.append([date(2024, 2, 1), "=1+1"])
    sheet.append([True, 2.5])
    book.create_sheet("about").append(["x"])
    table = read_table(saved(book))
    assert table.rows[1][1] == "=1+1"
    texts = [(p.row, p.column, p.text) for p in table.problems]
    assert any(row == 2 and column == "A" and "date" in text for row, column, text in texts)
    assert any(
        row == 2 and column == "B" and "no saved result" in text for row, column, text in texts
    )
    assert any("2 sheets" in text for _, _, text in texts)
    assert read_table(saved(book), sheet="about").rows == (("x",),)
    with pytest.raises(DataFileError, match="no sheet of that name"):
        read_table(saved(book), sheet="third")


def test_empty_sheets_and_formatted_blanks() -> None:
    book = openpyxl.Workbook()
    with pytest.raises(DataFileError, match="holds no cells"):
        read_table(saved(book))
    book.create_sheet("data").append(["a"])
    book["data"]["A50"].number_format = "0.00"
    book["data"]["C3"] = "x"
    assert read_table(saved(book)).rows == (("a",), (), ("", "", "x"))


@given(st.binary(max_size=400))
@settings(max_examples=300, deadline=None)
def test_any_bytes_are_read_or_refused(content: bytes) -> None:
    for start in (b"", b"a,b\n1,2\n", b"PK\x03\x04"):
        with suppress(StoichkitError):
            assert read_table(start + content).rows


def refusal(content: bytes, **limits: int) -> str:
    """Return how a table is refused; "" where it is read."""
    try:
        read_table(content, **limits)
    except DataFileError as error:
        return str(error)
    return ""


@pytest.mark.parametrize(
    ("most", "more", "words"),
    [
        (b"," * 999 + b"\nx\n", b"," * 1000 + b"\nx\n", "Row 1 has too many columns. Given: 1001."),
        (b'"a",' + b"," * 998 + b"\n", b'"a",' + b"," * 999 + b"\n", "too many columns"),
        (b"a\n" * 250_000, b"a\n" * 250_001, "up to 250,000"),
        ((b"," * 999 + b"\n") * 2000, (b"," * 999 + b"\n") * 2001, "too large"),
        ((b"a" * 99 + b"\n") * 100_000, (b"a" * 99 + b"\n") * 100_000 + b"a", "up to 10,000,000"),
        (b"a\n" + b"b" * 999_999 + b"\n", b"a\n" + b"b" * 1_000_001 + b"\n",
         "A cell holds far too much text"),
    ],
    ids=["columns", "columns of quoted cells", "rows", "cells", "characters", "a line"],
)  # fmt: skip
def test_how_large_a_table_may_be(most: bytes, more: bytes, words: str) -> None:
    assert refusal(most) == ""
    assert words in refusal(more)


def test_the_size_of_a_file_is_told_in_megabytes() -> None:
    """A megabyte is 10⁶ bytes (SI prefixes, BIPM brochure)."""
    content = b"a\n" * 1_250_000
    said = refusal(content, max_bytes=1_200_000)
    assert "Given: file, 2.5 MB. Allowed: up to 1.2 MB." in said
    assert refusal(csv_bytes(), max_bytes=len(csv_bytes())) == ""
    assert "too large" in refusal(csv_bytes(), max_bytes=len(csv_bytes()) - 1)


def test_what_unpacks_to_twenty_megabytes_is_no_bomb_by_its_ratio() -> None:
    """Spaces pack a thousandfold; from 20 MB on two hundredfold is too much."""
    for size, bomb in ((19_900_000, False), (20_100_000, True)):
        said = refusal(package(xl__workbook_xml=b"<x/>", spaces=b" " * size))
        assert ("unpacks to far too much" in said) is bomb
    for size, large in ((359_996, False), (359_997, True)):  # with <x/> six times 60,000
        said = refusal(package(xl__workbook_xml=b"<x/>", spaces=b" " * size), max_bytes=60_000)
        assert ("unpacks to far too much" in said) is large


def test_bytes_that_are_no_characters_are_told_with_their_row() -> None:
    """In UTF-16 a lone first half of a pair is no character."""
    text = "a,b\n1,".encode("utf-16-le") + b"\x00\xd8" + "\n2,3\n".encode("utf-16-le")
    table = read_table(b"\xff\xfe" + text)
    (odd,) = [p for p in table.problems if "not characters of UTF-16" in p.text]
    assert odd.row == 2
    assert len(table.rows) == 3


def test_a_mark_is_the_one_that_splits_a_header_into_most_words() -> None:
    for mark, text in (
        (",", "group,wire\nred,2\n"), (";", "group;wire, g\nred;2,5\n"), ("\t", "a\tb c\n1,5\t2\n"),
        ("|", "a|b\n1|2\n"), (";", "1,5;2,5\nname;word\n"),
    ):  # fmt: skip
        words = {"\t": "tabs", ";": "semicolons", ",": "commas", "|": "vertical bars"}[mark]
        assert read_table(text.encode()).layout.endswith(f"separated by {words}"), text


def test_places_in_a_file() -> None:
    whole = Problem(None, "", "Odd.")
    assert str(whole) == "File: Odd."
    full = Problem(4, "B (wire)", "Odd.", "x", "a number", "Set aside.", "Mon", "trial 2")
    assert full.place == "sheet “Mon”, row 4, trial 2, column B (wire)"
    assert str(full) == (
        "Sheet “Mon”, row 4, trial 2, column B (wire): Odd. Given: x. Allowed: a number. Set aside."
    )
    letters = [column_letter(n) for n in (0, 25, 26, 51, 52, 701, 702)]
    assert letters == ["A", "Z", "AA", "AZ", "BA", "ZZ", "AAA"]


def test_rows_of_cells_are_kept_as_they_were() -> None:
    even, odd = [("a", "b"), ("1", "2"), ("3", "4")], [("a",), (), ("1", "2", "3")]
    for rows in (even, odd, []):
        kept = CellRows.of(rows)
        assert (len(kept), list(kept), tuple(kept)) == (len(rows), rows, tuple(rows))
        assert kept == tuple(rows) == kept[:]
        assert kept.width == max(map(len, rows), default=0)
        assert kept.lengths.tolist() == [len(row) for row in rows]
        assert hash(kept) == hash(tuple(rows))
        for index in range(4):
            for first in range(len(rows) + 1):
                wanted = [row[index] if index < len(row) else "" for row in rows[first:]]
                assert kept.column(index, first) == wanted
    assert CellRows.of(even) != CellRows.of(odd)
    assert CellRows.of([("a",), ("b",)]) != CellRows.of([("a", "b")])
    assert CellRows.of(even)[-1] == ("3", "4")
    assert CellRows.of(even)[1:] == (("1", "2"), ("3", "4"))


def workbook(rows: int, columns: int = 1, *sheets: str) -> bytes:
    book = openpyxl.Workbook()
    for row in range(rows):
        book.active.append([f"c{row}"] * columns)
    for title in sheets:
        book.create_sheet(title).append(["x"])
    return saved(book)


def test_how_large_a_sheet_of_a_workbook_may_be(monkeypatch: pytest.MonkeyPatch) -> None:
    """With limits made small: ten rows, a dozen cells, gaps of three rows."""
    for name, most in (("_MAX_ROWS", 10), ("_MOST_CELLS", 12), ("_MAX_GAP", 3)):
        monkeypatch.setattr(tables, name, most)
    assert len(read_table(workbook(10)).rows) == 10
    assert "far too large" in refusal(workbook(11))
    assert len(read_table(workbook(4, 3)).rows) == 4
    assert "far too large" in refusal(workbook(5, 3))
    book = openpyxl.Workbook()
    book.active["A1"], book.active["A4"] = "a", "b"
    assert len(read_table(saved(book)).rows) == 4
    book.active["A8"] = "c"
    assert "far below all others" in refusal(saved(book))


def test_a_sheet_takes_no_longer_than_it_may(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tables, "_LONGEST_S", -1.0)
    assert "far too large" in refusal(workbook(3))


def test_the_other_sheets_are_named_in_two_hundred_characters() -> None:
    titles = [f"{n:02d}" + "s" * 28 for n in range(8)]  # 7 · 32 and the first, “Sheet”
    (note,) = [p for p in read_table(workbook(1, 1, *titles)).problems if "sheets" in p.text]
    assert note.text == "The workbook has 9 sheets."
    assert len(note.given) == 200
    assert note.given.startswith("Sheet, 00sss")


@pytest.mark.parametrize("start", ["<html>", "<!DOCTYPE html>", "<?xml version='1.0'?>", "<TABLE>"])
def test_a_web_page_is_refused_however_far_it_is_moved_in(start: str) -> None:
    for before in (b"", b"\xef\xbb\xbf", b"\r\n\t " * 500):
        with pytest.raises(DataFileError, match="web page"):
            read_table(before + start.encode() + b"<tr><td>1</td></tr>")
    assert read_table(f"group;note\nred;{start}\n".encode()).rows[1] == ("red", start)
