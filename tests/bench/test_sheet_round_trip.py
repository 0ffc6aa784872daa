"""A data sheet that was filled in is read back exactly, whatever its groups are called."""

from __future__ import annotations

import csv
import io
import time
import zipfile

import openpyxl
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from stoichkit import experiments, load_class
from stoichkit.bench.datasheet import datasheet_bytes
from stoichkit.text.sheets import Sheet, header_of_own, sheet_mark, write_sheets

LAB = experiments.load("copper-silver")
READINGS = ("2.90", "2.80", "0.75", "1.10")
TRICKY = [
    "mean", "Average", "total", "'quoted'", '"quoted"', "=1+1", "-", "+x", "@x", "''", "a;b;c;d",
    "a,b", "sep=;", "Ärger", "A\u0308rger", "red", "Red", "a  b", "１", "group", "trial", "2.94",
    "x" * 80, "W" * 80, "1e5", "n/a", "wire before / g", "_x0041_",
]  # fmt: skip
names = st.text(
    st.characters(exclude_categories=("C", "Z"), include_characters=" "), min_size=1, max_size=80
).filter(lambda text: text == text.strip() and text.isprintable() and text)


def filled_csv(data: bytes, delimiter: str = ",") -> bytes:
    """Type the same readings into every row."""
    rows = list(csv.reader(io.StringIO(data.decode("utf-8-sig"), newline=""), delimiter=delimiter))
    for row in rows[2:]:
        row[2:] = [r.replace(".", ",") if delimiter == ";" else r for r in READINGS]
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=delimiter).writerows(rows)
    return out.getvalue().encode("utf-8-sig")


def filled_xlsx(data: bytes) -> bytes:
    book = openpyxl.load_workbook(io.BytesIO(data))
    for row in book["readings"].iter_rows(min_row=3, min_col=3):
        for cell, text in zip(row, READINGS, strict=True):
            cell.value = float(text)
    return saved(book)


def saved(book: openpyxl.Workbook) -> bytes:
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def check(data: bytes, groups: list[str], trials: list[str]) -> None:
    found = load_class(data, LAB)
    assert list(found.names) == groups
    for name in groups:
        read = found.groups[name].trials
        assert [one.name for one in read] == trials
        for one in read:
            texts = [one.readings[n][0].replace(",", ".") for n in LAB.reading_names()]
            assert tuple(texts) == READINGS
    assert found.problems == ()


@example(TRICKY, ["1", "mean"], ",")
@example(TRICKY, ["=2", "sum"], ";")
@given(
    st.lists(names, min_size=1, max_size=6, unique=True),
    st.lists(names, min_size=1, max_size=3, unique=True),
    st.sampled_from([",", ";", "\t"]),
)
@settings(max_examples=60, deadline=None)
def test_csv_reads_back_exactly(groups: list[str], trials: list[str], mark: str) -> None:
    data = datasheet_bytes(LAB, ".csv", groups=groups, trials=trials, delimiter=mark)
    check(filled_csv(data, mark), groups, trials)


@example(TRICKY, ["1", "mean"])
@given(
    st.lists(names, min_size=1, max_size=5, unique=True),
    st.lists(names, min_size=1, max_size=3, unique=True),
)
@settings(max_examples=25, deadline=None)
def test_xlsx_reads_back_exactly(groups: list[str], trials: list[str]) -> None:
    check(filled_xlsx(datasheet_bytes(LAB, ".xlsx", groups=groups, trials=trials)), groups, trials)


def test_two_sheets_of_ours_in_one_workbook() -> None:
    """Two classes in one workbook: both are read, or the one that is named."""
    book = openpyxl.load_workbook(
        io.BytesIO(filled_xlsx(datasheet_bytes(LAB, ".xlsx", groups=["mean"], trials=2)))
    )
    other = openpyxl.load_workbook(
        io.BytesIO(filled_xlsx(datasheet_bytes(LAB, ".xlsx", groups=["'b'"], trials=3)))
    )["readings"]
    second = book.create_sheet("class 2")
    for row in other.iter_rows():
        for cell in row:
            copy = second.cell(cell.row, cell.column, cell.value)
            copy.number_format = cell.number_format
    data = saved(book)

    both = load_class(data, LAB)
    assert (both.names, both.problems, both.questions) == (("mean", "'b'"), (), ())
    assert [len(both.groups[name].trials) for name in both.names] == [2, 3]
    chosen = load_class(data, LAB, sheet="class 2")
    assert (chosen.names, chosen.problems) == (("'b'",), ())
    assert len(chosen.groups["'b'"].trials) == 3


def test_our_sheet_is_read_wherever_it_stands() -> None:
    book = openpyxl.load_workbook(io.BytesIO(filled_xlsx(datasheet_bytes(LAB, ".xlsx", groups=2))))
    book.create_sheet("remarks", 0).append(["wire before", "wire after", "paper"])
    found = load_class(saved(book), LAB)
    assert found.names == ("group 1", "group 2")
    assert [problem.sheet for problem in found.problems] == []


def test_a_mean_typed_below_our_sheet_is_no_group() -> None:
    """A row that was added by hand has no number of a trial."""
    rows = filled_csv(datasheet_bytes(LAB, ".csv", groups=["a"])).decode("utf-8-sig")
    found = load_class(f"{rows}mean,,2.90,2.80,0.75,1.10\r\n".encode(), LAB)
    assert found.names == ("a",)
    assert "looks like a mean" in str(found.problems[0])


def test_a_sheet_for_another_lab_is_read_like_any_other() -> None:
    data = datasheet_bytes(experiments.load("tin-oxide"), ".csv")
    with pytest.raises(Exception, match="No row of the file names a reading"):
        load_class(data, LAB)


def test_without_the_mark_names_are_read_with_care() -> None:
    """The same rows without the mark: a mean is a mean, and "Red" is "red"."""
    rows = filled_csv(datasheet_bytes(LAB, ".csv", groups=["mean", "red", "Red"], trials=1))
    text = rows.decode("utf-8-sig").partition("\n")[2]
    found = load_class(text.encode(), LAB)
    assert found.names == ("red",)


def test_what_was_averaged_and_what_is_shared_find_their_columns() -> None:
    lab = experiments.load("magnesium-gas")
    data = datasheet_bytes(lab, ".csv", groups=["average"], trials=1).decode("utf-8-sig")
    values = dict(lab.shared_readings) | dict(lab.trials[0].readings)
    typed = [values[name][-1] for name in lab.reading_names()]
    found = load_class(f"{data.rstrip(chr(13) + chr(10) + ',')},{','.join(typed)}".encode(), lab)
    assert found.names == ("average",)


def test_the_same_input_gives_the_same_workbook() -> None:
    first = datasheet_bytes(LAB, ".xlsx", groups=2)
    time.sleep(2.1)  # a zip file holds times to two seconds
    assert datasheet_bytes(LAB, ".xlsx", groups=2) == first
    with zipfile.ZipFile(io.BytesIO(first)) as package:
        assert {one.date_time for one in package.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        assert package.read("docProps/core.xml").count(b"2000-01-01T00:00:00Z") == 2


def test_exports_are_the_same_every_time_too(tmp_path) -> None:
    sheet = Sheet("a", ("group",), [("red",)])
    one, two = (write_sheets(tmp_path / f"{i}.xlsx", [sheet]).read_bytes() for i in "ab")
    assert one == two
    assert header_of_own([(sheet_mark(),), ("group",)]) == 1
