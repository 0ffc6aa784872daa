"""Limits of a table and what a workbook is said to hold, on both sides and counted by hand."""

from __future__ import annotations

import io
import zipfile

import openpyxl
import pytest

from stoichkit.classroom import tables
from stoichkit.classroom.tables import read_table
from stoichkit.errors import DataFileError
from tests.classfiles import saved


def refusal(content: bytes, **limits: int) -> str:
    """Return how a table is refused; "" where it is read."""
    try:
        read_table(content, **limits)
    except DataFileError as error:
        return str(error)
    return ""


def with_limits(monkeypatch: pytest.MonkeyPatch, **limits: int) -> None:
    for name, most in limits.items():
        monkeypatch.setattr(tables, name, most)


# -- text


@pytest.mark.parametrize("end", ["\n", "\r"])
def test_rows_lines_and_characters_are_counted_through_the_pieces_of_a_file(
    monkeypatch: pytest.MonkeyPatch, end: str
) -> None:
    """Read four bytes at a time: three rows, lines of six characters, twelve in all."""
    with_limits(monkeypatch, _CHUNK=4, _MAX_ROWS=3, _LONGEST_LINE=6, _MOST_CHARACTERS=12)

    def said(text: str) -> str:
        return refusal(text.replace("/", end).encode())

    assert said("a/b/c/") == ""
    assert "too many rows. Given: 4 or more. Allowed: up to 3." in said("a/b/c/d/")
    lines = ("abcdef/", "abcdefg/"), ("a/bcdefg/h", "a/bcdefgh/"), ("//abcdef", "//abcdefg")
    for most, more in lines:
        assert said(most) == ""
        assert "Given: about 7 characters." in said(more)
    assert said("abcde/fghijk") == ""
    assert "Given: 13 characters or more. Allowed: up to 12" in said("abcde/fghijk/")


def test_a_character_may_be_cut_by_two_pieces_but_not_by_the_end(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """é is C3 A9 in UTF-8 (RFC 3629); C3 alone is none, and Ã in Windows-1252."""
    with_limits(monkeypatch, _CHUNK=4)
    assert read_table(b"a,b\xc3\xa9c").rows == (("a", "béc"),)
    cut = read_table(b"a,b\xc3")
    assert cut.rows == (("a", "bÃ"),)
    assert "Windows-1252" in cut.layout


@pytest.mark.parametrize("first", ["a", '"a"'])
def test_cells_and_columns_are_counted_with_quotation_marks_and_without(
    monkeypatch: pytest.MonkeyPatch, first: str
) -> None:
    with_limits(monkeypatch, _MOST_CELLS=12, _MAX_COLUMNS=3)
    six = f"{first},b\n" * 6
    assert refusal(six.encode()) == ""
    assert "Given: 7 rows, 13 cells or more." in refusal(f"{six}{first}\n".encode())
    assert refusal(f"{first},b,c\n".encode()) == ""
    wide = f"{first},b,c\n{first},b,c,d\n"
    assert "Row 2 has too many columns. Given: 4." in refusal(wide.encode())


def test_a_long_cell_is_no_stray_quotation_mark() -> None:
    """The reader of CSV that quoted cells need takes 131,072 characters."""
    for size in (131_071, 131_072, 131_073, 200_000):
        table = read_table(b"a" * size + b",b\nc,d\n")
        assert [len(cell) for row in table.rows for cell in row] == [size, 1, 1, 1]
        assert table.problems == ()


def test_a_space_may_stand_before_a_quoted_cell() -> None:
    assert read_table(b'a,b\n1, "2,5"\n').rows == (("a", "b"), ("1", "2,5"))


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_a_quotation_mark_that_swallows_whole_rows_costs_none(end: str) -> None:
    """It is closed by the inch mark two rows below; a cell of two lines is no such thing."""
    text = 'a,b,c/1,2,"3/4,5,6/7,8,9"/"x/y",z,w/'
    table = read_table(text.replace("/", end).encode())
    rows = (("a", "b", "c"), ("1", "2", "3"), ("4", "5", "6"), ("7", "8", '9"'), ("x\ny", "z", "w"))
    assert table.rows == rows
    assert [p.row for p in table.problems] == [2]


def test_after_so_many_stray_quotation_marks_all_are_taken_for_text(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    with_limits(monkeypatch, _MOST_BROKEN=2)
    one = read_table(b'a,b\n"x"y,1\n"p,q",3\n')
    assert one.rows[2] == ("p,q", "3")
    two = read_table(b'a,b\n"x"y,1\n"x"y,2\n"p,q",3\n"x"y,4\n')
    assert two.rows[3:] == (('"p', 'q"', "3"), ('"x"y', "4"))
    assert [p.row for p in two.problems] == [2, 3]


def test_sixty_characters_of_a_broken_row_are_shown() -> None:
    line = '"x"' + "y" * 56
    for more, shown in (("z", line + "z"), ("zw", line + "z")):
        (problem,) = read_table(f"a,b\n{line}{more}\n".encode()).problems
        assert problem.given == shown


# -- workbooks


def declared(
    total: int = 0, *, payload: int = 0, part: bytes = b"<x/>", rest: str = "rest"
) -> bytes:
    """Return a package whose list of contents states so many bytes, whatever it really holds."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as file:
        file.writestr("xl/workbook.xml", part)
        file.writestr(rest, b" " * payload)
        file.infolist()[1].file_size = max(total - len(part), 0)
    return out.getvalue()


BOMB = "unpacks to far too much"


def test_from_twenty_megabytes_on_a_package_may_be_two_hundred_times_its_size() -> None:
    assert BOMB not in refusal(declared(20_000_000))
    assert BOMB in refusal(declared(20_000_001))
    size = len(declared(payload=150_000))
    for more, bomb in ((0, False), (1, True)):
        said = refusal(declared(200 * size + more, payload=150_000))
        assert (BOMB in said) is bomb


def test_a_package_may_unpack_to_six_times_the_size_of_a_file() -> None:
    """A megabyte is 10⁶ bytes (SI prefixes, BIPM brochure)."""
    assert BOMB not in refusal(declared(600_000), max_bytes=100_000)
    assert BOMB in refusal(declared(600_001), max_bytes=100_000)
    said = refusal(declared(30_000_000, payload=1_500_000), max_bytes=2_000_000)
    assert "Given: 1.5 MB unpack to 30 MB. Allowed: up to 12 MB, and 200 times its size." in said


def test_between_two_tags_stand_two_hundred_thousand_bytes() -> None:
    """With the tag, but for the mark that opens one where another follows."""
    for before, after in ((b"x>", b"</x>"), (b"<x>", b"")):
        filled = before + b"a" * (200_000 - len(before))
        opened = b"" if before.startswith(b"<") else b"<"
        assert "far too much text" not in refusal(declared(part=opened + filled + after))
        said = refusal(declared(part=opened + filled + b"a" + after))
        assert "A cell holds far too much text. Given: about 200,001 characters." in said


def test_the_shared_texts_of_a_workbook_may_be_forty_million_bytes() -> None:
    """And <x/>, four bytes, in another part."""
    for name, more, refused in (
        ("xl/sharedStrings.xml", 0, False), ("xl/sharedStrings.xml", 1, True), ("rest", 1, False),
    ):  # fmt: skip
        said = refusal(declared(40_000_004 + more, payload=199_990, rest=name))
        assert ("A cell holds far too much text." in said) is refused
        assert ("Given: about 40,000,001 characters." in said) is refused


def test_a_document_type_is_refused_with_its_entities_and_without() -> None:
    for inside in (b"", b' [<!ENTITY a "aaaa">]'):
        said = refusal(declared(part=b"<!DOCTYPE x" + inside + b"><x>&a;</x>"))
        assert "defines entities of its own" in said


def with_results(content: bytes, **results: str) -> bytes:
    """Return a workbook with results saved beside its formulas, by their cells."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(out, "w") as new:
        for name in old.namelist():
            text = old.read(name).decode()
            for cell, result in results.items():
                if name.endswith("sheet1.xml"):
                    start, found, rest = text.partition(f'<c r="{cell}"')
                    text = start + found + rest.replace("<v />", f"<v>{result}</v>", 1)
            new.writestr(name, text)
    return out.getvalue()


def test_results_of_formulas_are_counted_and_what_has_none_is_told() -> None:
    book = openpyxl.Workbook()
    for row in (("a", "b"), ("=1+1", "=2+2"), (1, "=3+3")):
        book.active.append(row)
    table = read_table(with_results(saved(book), A2="2", B2="4"))
    assert table.rows == (("a", "b"), ("2", "4"), ("1", "=3+3"))
    (missing,) = [p for p in table.problems if "no saved result" in p.text]
    assert (missing.row, missing.column, missing.given) == (3, "B", "=3+3")
    done = "What was used is the result as it was last saved."
    assert [p.done for p in table.problems if p.text == "2 cells are formulas."] == [done]
    none = read_table(saved(book))
    assert not [p for p in none.problems if "formulas." in p.text]
    one = read_table(with_results(saved(book), A2="2"))
    assert [p.done for p in one.problems if p.text == "One cell is a formula."] == [done]


def test_a_formula_without_a_result_stands_where_it_stood() -> None:
    """Sixty characters of it are shown: “=”, “1+” twenty-nine times, “1”."""
    book = openpyxl.Workbook()
    book.active["A1"], book.active["C4"] = "a", "=" + "1+" * 30 + "1"
    book.active["A5"] = "=C4"
    table = read_table(saved(book))
    assert table.rows == (("a",), (), (), ("", "", "=" + "1+" * 30 + "1"), ("=C4",))
    long, short = table.problems
    assert (long.row, long.column, long.given) == (4, "C", "=" + "1+" * 29 + "1")
    assert (short.row, short.column, short.given) == (5, "A", "=C4")


def test_one_number_is_told_as_one() -> None:
    """2.9 and 3.1 in the general format; 2.904 shown as 2.90."""
    book = openpyxl.Workbook()
    for row in (("a", "b", "c"), (2.9, 2.9, 2.904), ("x", 3.1, "x")):
        book.active.append(row)
    book.active["C2"].number_format = "0.00"
    said = [(p.column, p.text[:33]) for p in read_table(saved(book)).problems]
    assert said == [
        ("A", "One number has no number format, "),
        ("B", "2 numbers have no number format, "),
        ("C", "One number has more decimals than"),
    ]


def test_a_part_in_two_bytes_a_character_is_refused() -> None:
    """As its tags would not be seen, and what they unpack to not be counted."""
    content, out = saved(openpyxl.Workbook()), io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(out, "w") as new:
        for name in old.namelist():
            part = old.read(name)
            if name.endswith("sheet1.xml"):
                part = part.decode("utf-8").replace("UTF-8", "UTF-16").encode("utf-16")
            new.writestr(name, part)
    said = refusal(out.getvalue())
    assert said.startswith("A part of the workbook is not written in UTF-8.")
    assert "sheet1.xml" in said
