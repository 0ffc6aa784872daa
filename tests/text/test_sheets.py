"""Cells of tables and data sheets: what acts, what is cut, how numbers are written, by hand."""

from __future__ import annotations

import math
import os
import zipfile
from pathlib import Path

import pytest

from stoichkit.errors import DataFileError
from stoichkit.text.sheets import (
    Sheet,
    _number,
    _written,
    defused,
    delimiter_of_own,
    header_of_own,
    neutralised,
    sheet_mark,
    undefused,
    workbook_package,
    write_sheets,
)


@pytest.mark.parametrize("start", "=+-@＝＋－＠")
def test_nothing_that_begins_like_a_formula_acts(start: str) -> None:
    """OWASP, “CSV injection”: = + - @ (memory), and the same signs as full-width letters."""
    assert neutralised(f"{start}1") == f"'{start}1"
    assert neutralised(f"\t {start}1") == f"'  {start}1"
    assert neutralised(f"a{start}1") == f"a{start}1"
    assert defused(f"{start}1") == f"'{start}1"
    assert undefused(f"'{start}1") == f"{start}1"


def test_what_was_defused_comes_back_and_other_text_stays() -> None:
    for text in ("\tx", "\rx", "\nx", "'x", "''x", "'=x", "=x"):
        assert defused(text) == f"'{text}"
        assert undefused(defused(text)) == text
    for text in ("", "x", " =x", "5"):
        assert defused(text) == text
    assert undefused("'x") == "'x"
    assert undefused("'") == "'"


def test_a_cell_holds_what_any_file_can_hold() -> None:
    """A cell of a workbook takes 32,767 characters; beyond 32,000 it is cut, and says so."""
    assert neutralised("a\tb\nc\x00\x1bd") == "a b c\ufffd\ufffdd"
    for length in (31_999, 32_000):
        assert neutralised("x" * length) == "x" * length
    assert neutralised("x" * 32_001) == "x" * 32_000 + "…"


@pytest.mark.parametrize(
    ("value", "number", "point", "comma"),
    [
        (1.23456789, 1.23457, "1.23457", "1,23457"), (-0.5, -0.5, "-0.5", "-0,5"),
        (12345678, 12345678, "1.23457e+07", "1,23457e+07"), (3, 3, "3", "3"),
        (math.nan, None, "", ""), (math.inf, None, "", ""), (-math.inf, None, "", ""),
    ],
)  # fmt: skip
def test_numbers_have_six_digits_and_none_is_an_empty_cell(
    value: float, number: float | None, point: str, comma: str
) -> None:
    assert _number(value) == number
    assert (_written(value, "."), _written(value, ",")) == (point, comma)


def test_which_marks_go_together(tmp_path: Path) -> None:
    sheet = Sheet("a", ("group", "=x"), [("=red", 1.5), ("b;c", math.nan)])
    for number, (delimiter, decimal) in enumerate(
        [(",", "."), (";", "."), ("\t", "."), (";", ","), ("\t", ",")]
    ):
        place = tmp_path / f"{number}.csv"
        write_sheets(place, [sheet], delimiter=delimiter, decimal=decimal)  # type: ignore[arg-type]
        lines = place.read_text("utf-8-sig").split("\n")
        quoted = '"b;c"' if delimiter == ";" else "b;c"
        assert lines[0] == f"group{delimiter}'=x"
        assert lines[1] == f"'=red{delimiter}1{decimal}5"
        assert lines[2] == f"{quoted}{delimiter}"
    for delimiter, decimal in ((",", ","), ("|", "."), (";", ";"), ("", ".")):
        with pytest.raises(DataFileError, match="marks of the CSV file"):
            write_sheets(tmp_path / "x.csv", [sheet], delimiter=delimiter, decimal=decimal)  # type: ignore[arg-type]
    with pytest.raises(DataFileError, match="no table"):
        write_sheets(tmp_path / "x.csv", [])
    assert not (tmp_path / "x.csv").exists()


def test_a_workbook_has_a_sheet_each_with_text_that_stays_text(tmp_path: Path) -> None:
    """Names of sheets have 31 characters at most, and none of \\ / * ? : [ ] (memory)."""
    sheets = [
        Sheet("a/b:c" + "x" * 40, ("h", "=i"), [("=1+1", 2.5), ("t", 7), ("u", math.nan)]),
        Sheet("", ("h",), [("007",)], typed=True),
    ]
    book = workbook_package().load_workbook(write_sheets(tmp_path / "a.xlsx", sheets))
    first, second = book.worksheets
    assert first.title == "a b c" + "x" * 26
    assert second.title == "table"
    assert first.freeze_panes == second.freeze_panes == "A2"
    rows = [[cell.value for cell in row] for row in first.iter_rows()]
    assert rows == [["h", "'=i"], ["'=1+1", 2.5], ["t", 7], ["u", None]]
    assert all(cell.data_type != "f" for row in first.iter_rows() for cell in row)
    assert (second["A2"].value, second["A2"].number_format) == ("007", "@")
    assert first["A2"].number_format == "General"


def test_a_workbook_says_nothing_of_the_day_or_the_machine(tmp_path: Path) -> None:
    """PKWARE APPNOTE 4.4.2.2, 4.4.5 and 4.4.6: host 0, method 8 (deflated), dates from 1980 on."""
    sheets = [Sheet("a", ("h",), [("x",)])]
    with zipfile.ZipFile(write_sheets(tmp_path / "a.xlsx", sheets)) as package:
        for part in package.infolist():
            assert part.date_time == (1980, 1, 1, 0, 0, 0)
            assert (part.create_system, part.compress_type) == (0, 8)
        assert package.read("docProps/core.xml").count(b">2000-01-01T00:00:00Z<") == 2


def test_a_page_has_numbers_to_the_right(tmp_path: Path) -> None:
    place = tmp_path / "a.html"
    write_sheets(place, [Sheet("T", ("a", "b"), [("<i>", 1.5)]), Sheet("U", ("c",), [])])
    page = place.read_text("utf-8")
    assert '<td>&lt;i&gt;</td><td class="n">1.5</td>' in page
    assert page.index("<h1>T</h1>") < page.index("<caption>T</caption>")
    assert page.index("<caption>T</caption>") < page.index("<caption>U</caption>")


def test_what_is_written_is_checked_first(tmp_path: Path) -> None:
    seen: list[bytes] = []

    def refuse(content: bytes) -> None:
        seen.append(content)
        raise DataFileError("A name is in it.")

    with pytest.raises(DataFileError, match="A name"):
        write_sheets(tmp_path / "a.csv", [Sheet("a", ("x",), [("y",)])], check=refuse)
    assert seen == ["\ufeffx\ny\n".encode()]
    assert not (tmp_path / "a.csv").exists()


def test_only_a_private_file_is_for_its_owner_alone(tmp_path: Path) -> None:
    before = os.umask(0o022)
    try:
        usual = write_sheets(tmp_path / "a.csv", [Sheet("a", ("x",), [])])
        private = write_sheets(tmp_path / "b.csv", [Sheet("a", ("x",), [])], private=True)
    finally:
        os.umask(before)
    assert usual.stat().st_mode & 0o777 == 0o644
    assert private.stat().st_mode & 0o777 == 0o600


@pytest.mark.parametrize("above", [0, 1, 2, 3])
def test_a_sheet_of_ours_is_known_by_its_mark_in_the_first_three_rows(above: int) -> None:
    """The header stands below the mark; a mark further down, or the last row, is a table's own."""
    head, mark = "group;trial;wire / g", sheet_mark()
    rows = [("note",)] * above + [(f" {mark} ",), ("group", "trial"), ("a", "1")]
    assert header_of_own(rows) == (above + 1 if above < 3 else 0)
    lines = ["note"] * above + [f'"{mark}";;', head]
    assert delimiter_of_own(lines) == (";" if above < 3 else "")
    assert header_of_own(rows[: above + 1]) == 0
    assert header_of_own([(), *rows[above:]]) == 2
    assert delimiter_of_own(lines[: above + 1]) == ""


@pytest.mark.parametrize(
    ("header", "delimiter"),
    [("group,trial,x", ","), ('"group"\t"trial"\tx', "\t"), ("group,trial", ""), ("g,t,x", "")],
)
def test_what_stands_between_cells_is_read_from_the_header(header: str, delimiter: str) -> None:
    assert delimiter_of_own([sheet_mark(), header]) == delimiter
    assert delimiter_of_own(["other", header]) == ""
