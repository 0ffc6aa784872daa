"""The blank class data sheet: headers that can be read back, checked cells, harmless text."""

from __future__ import annotations

import csv
import io
import sys
import zipfile
from dataclasses import replace as changed
from pathlib import Path

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stoichkit import experiments
from stoichkit._common import write_whole
from stoichkit.bench.datasheet import (
    column_header,
    datasheet_bytes,
    read_header,
    sheet_columns,
    sheet_rows,
    write_datasheet,
    xlsx_bytes,
)
from stoichkit.errors import DataFileError, ExperimentError
from stoichkit.experiments.parts import Trial, check_name
from stoichkit.experiments.record import Experiment
from stoichkit.text.sheets import defused, sheet_mark, undefused

FORMULA = '=HYPERLINK("x","y")'
TRIGGERS = "=+-@\t\r＝＋－＠"


def csv_rows(path: Path, delimiter: str = ",") -> list[list[str]]:
    mark, *rows = csv.reader(io.StringIO(path.read_text("utf-8-sig")), delimiter=delimiter)
    assert mark == [sheet_mark()]
    return rows


def hostile() -> Experiment:
    """A lab whose reading, instrument and caution texts look like formulas."""
    text = experiments.read("tin-oxide").replace('"crucible + tin"', "'" + FORMULA + "'")
    text = text.replace('title = "Which', 'title = "=Which')
    return experiments_parse(text)


def experiments_parse(text: str) -> Experiment:
    from stoichkit.experiments.store import parse_experiment

    return parse_experiment(text, "lab.toml")


def usable_name(name: str) -> bool:
    try:
        check_name(name, "", "a reading")
    except ExperimentError:
        return False
    return True


@given(st.text(min_size=1, max_size=80), st.sampled_from(["g", "mL", "°C", "kPa", "A", "s"]))
def test_reading_a_header_inverts_writing_it(name: str, unit: str) -> None:
    if usable_name(name):
        header = column_header(name, unit)
        assert read_header(header) == (name, unit)
        assert read_header(f"  {header} ") == (name, unit)
        assert header[0] not in TRIGGERS


@given(st.text())
def test_neutralising_is_undone_and_leaves_nothing_active(text: str) -> None:
    safe = defused(text)
    assert undefused(safe) == text
    assert not safe.startswith(tuple(TRIGGERS))


@pytest.mark.parametrize("header", ["", "wire", "wire/g", " / g", "wire / kg", "wire / ", "g", 3])
def test_other_headers_are_refused(header: object) -> None:
    with pytest.raises(DataFileError, match="does not end in a unit"):
        read_header(header)  # type: ignore[arg-type]


@pytest.mark.parametrize("name", experiments.names())
def test_columns_cover_every_reading_once(name: str) -> None:
    lab = experiments.load(name)
    columns = sheet_columns(lab)
    assert [c.name for c in columns] == list(lab.reading_names())
    for column in columns:
        assert read_header(column.header) == (column.name, column.unit)
        typed = lab.trials[0].readings.get(column.name) or lab.shared_readings[column.name]
        assert len(typed[-1].partition(".")[2]) == column.decimals, "as the record writes it"
        assert column.shared == (column.name in lab.shared_readings)


@pytest.mark.parametrize("name", experiments.names())
def test_csv_opens_with_all_rows_blank(name: str, tmp_path: Path) -> None:
    lab = experiments.load(name)
    path = write_datasheet(lab, tmp_path / "sheet.csv", groups=["Ä", "B"], trials=3)

    assert path.read_bytes().startswith(b"\xef\xbb\xbf")
    header, *rows = csv_rows(path)
    assert header[:2] == ["group", "trial"]
    assert [read_header(h)[0] for h in header[2:]] == list(lab.reading_names())
    assert [row[:2] for row in rows] == [[g, t] for g in ("Ä", "B") for t in ("1", "2", "3")]
    assert all(cell == "" for row in rows for cell in row[2:])
    assert all(len(row) == len(header) for row in rows)


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_csv_with_another_delimiter(delimiter: str, tmp_path: Path) -> None:
    lab = experiments.load("tin-oxide")
    path = write_datasheet(lab, tmp_path / "s.csv", groups=["a,b;c"], delimiter=delimiter)
    rows = csv_rows(path, delimiter)
    assert rows[1][0] == "a,b;c"
    assert all(len(row) == 5 for row in rows)


@pytest.mark.parametrize("name", experiments.names())
def test_xlsx_has_checked_cells_and_a_frozen_header(name: str, tmp_path: Path) -> None:
    lab = experiments.load(name)
    path = write_datasheet(lab, tmp_path / "sheet.xlsx", groups=2, trials=2)

    book = openpyxl.load_workbook(path)
    assert book.sheetnames == ["readings", "about"]
    sheet = book["readings"]
    assert sheet.freeze_panes == "C3"
    assert sheet["A1"].value == sheet_mark()
    header = [cell.value for cell in sheet[2]]
    columns = sheet_columns(lab)
    assert header == ["group", "trial", *(c.header for c in columns)]
    assert [tuple(c.value for c in row[:2]) for row in sheet.iter_rows(min_row=3)] == [
        *sheet_rows(2, 2)
    ]
    checks = sheet.data_validations.dataValidation
    assert len(checks) == len(columns)
    for number, (check, column) in enumerate(zip(checks, columns, strict=True), start=3):
        letter = openpyxl.utils.get_column_letter(number)
        assert str(check.sqref) == f"{letter}3:{letter}6"
        assert check.type == "decimal"
        negative = column.unit == "°C"
        assert check.operator == ("between" if negative else "greaterThanOrEqual")
        assert len(check.prompt) <= 255
        assert len(check.promptTitle) <= 32
        assert len(check.error) <= 255
        cell = sheet[f"{letter}3"]
        assert cell.value is None
        assert len(cell.number_format.partition(".")[2]) == column.decimals
    about = " ".join(str(c.value) for row in book["about"] for c in row if c.value)
    for column in columns:
        assert column.instrument in about
    for caution in lab.cautions:
        assert caution.subject in about
    assert "safety data sheet" in about


def test_one_group_of_three_trials_unless_said_otherwise(tmp_path: Path) -> None:
    lab = experiments.load("tin-oxide")
    three = [("group 1", "1"), ("group 1", "2"), ("group 1", "3")]
    assert list(sheet_rows()) == three
    path = write_datasheet(lab, tmp_path / "sheet.csv")
    assert [tuple(row[:2]) for row in csv_rows(path)[1:]] == three
    assert datasheet_bytes(lab, ".csv") == path.read_bytes()


def test_a_column_is_as_wide_as_its_header_needs_within_limits() -> None:
    """Seven tenths of a digit's width a letter and three besides, from 12 to 24."""
    widths = {5: 12, 12: 12, 13: 12.1, 20: 17, 29: 23.3, 30: 24, 40: 24}
    lab = experiments.load("tin-oxide")
    (column, *_) = sheet_columns(lab)
    columns = [changed(column, header="x" * letters) for letters in widths]
    data = xlsx_bytes(lab, columns, [("group 1", "1")])
    sheet = openpyxl.load_workbook(io.BytesIO(data))["readings"]
    found = [sheet.column_dimensions[letter].width for letter in "ABCDEFGHI"]
    assert found == pytest.approx([12, 12, *widths.values()])


@pytest.mark.parametrize(("letters", "height"), [(109, 15), (110, 30)])
def test_a_row_across_the_sheet_is_whole_lines_high(letters: int, height: float) -> None:
    """15 points a line, and a line more for every 110 letters; the columns are 143 digits wide."""
    lab = changed(experiments.load("tin-oxide"), title="x" * letters)
    book = openpyxl.load_workbook(io.BytesIO(datasheet_bytes(lab, ".xlsx", trials=1)))
    assert book["about"].row_dimensions[1].height == height
    assert "A1:F1" in [str(cells) for cells in book["about"].merged_cells.ranges]


def test_text_that_looks_like_a_formula_stays_text(tmp_path: Path) -> None:
    lab = hostile()
    groups = ["=1+1", "+x", "-x", "@x", "'=x"]
    path = write_datasheet(lab, tmp_path / "s.xlsx", groups=groups, trials=["=2"])
    for sheet in openpyxl.load_workbook(path):
        for row in sheet:
            for cell in row:
                assert cell.data_type != "f", cell.value
                assert not str(cell.value or "").startswith(("=", "+", "-", "@"))
    with zipfile.ZipFile(path) as parts:
        for part in parts.namelist():
            assert b"<f>" not in parts.read(part)
    text = write_datasheet(lab, tmp_path / "s.csv", groups=groups, trials=["=2"])
    for row in csv_rows(text):
        assert not any(cell.startswith(("=", "+", "-", "@")) for cell in row)
    assert [undefused(row[0]) for row in csv_rows(text)[1:]] == groups
    assert read_header(csv_rows(text)[0][3]) == (FORMULA, "g")


def test_the_filled_sheet_reads_back_as_the_record(tmp_path: Path) -> None:
    """Type the readings of a record into its sheet, read them by header, get the same trials."""
    lab = experiments.load("copper-silver")
    names = [trial.name for trial in lab.trials]
    path = write_datasheet(lab, tmp_path / "s.xlsx", groups=["all"], trials=names)
    book = openpyxl.load_workbook(path)
    sheet = book["readings"]
    for i, trial in enumerate(lab.trials, start=3):
        for j, column in enumerate(sheet_columns(lab), start=3):
            sheet.cell(row=i, column=j).value = float(trial.readings[column.name][-1])
    book.save(path)

    rows = list(openpyxl.load_workbook(path)["readings"].iter_rows(min_row=2, values_only=True))
    fields = [read_header(str(h)) for h in rows[0][2:]]
    decimals = {c.name: c.decimals for c in sheet_columns(lab)}
    trials = [
        Trial(
            str(row[1]),
            {
                name: (f"{value:.{decimals[name]}f}",)
                for (name, _), value in zip(fields, row[2:], strict=True)
            },
        )
        for row in rows[1:]
    ]
    assert lab.with_trials(trials).trials == lab.trials


@pytest.mark.parametrize(
    ("keywords", "says"),
    [
        ({"groups": 0}, "`groups` is out of range"),
        ({"trials": True}, "`trials` is not a whole number"),
        ({"groups": "abc"}, "list of names"),
        ({"groups": ["a", "a"]}, "only once"),
        ({"groups": []}, "at least one"),
        ({"groups": [" a"]}, "name of a group"),
        ({"trials": ["a\nb"]}, "name of a trial"),
        ({"groups": 5000, "trials": 2}, "too many rows"),
        ({"delimiter": "|"}, "delimiter"),
    ],
)
def test_impossible_sheets_are_refused(keywords: dict, says: str, tmp_path: Path) -> None:
    with pytest.raises(DataFileError, match=says):
        write_datasheet(experiments.load("tin-oxide"), tmp_path / "s.csv", **keywords)
    assert list(tmp_path.iterdir()) == []


def test_another_ending_is_refused(tmp_path: Path) -> None:
    with pytest.raises(DataFileError, match=r"\.csv or \.xlsx"):
        write_datasheet(experiments.load("tin-oxide"), tmp_path / "s.ods")


def test_without_openpyxl_it_says_what_to_do(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "openpyxl", None)
    with pytest.raises(DataFileError, match="pip install openpyxl"):
        write_datasheet(experiments.load("tin-oxide"), tmp_path / "s.xlsx")
    assert write_datasheet(experiments.load("tin-oxide"), tmp_path / "s.csv").exists()


def test_a_file_is_written_whole_or_stays_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "s.csv"
    path.write_text("before")
    path.chmod(0o600)

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr("os.replace", full)
        with pytest.raises(DataFileError, match="No space left"):
            write_whole(path, b"after", replace=True)
    assert path.read_text() == "before"
    assert list(tmp_path.iterdir()) == [path]
    write_whole(path, b"after", replace=True)
    assert path.read_text() == "after"
    assert path.stat().st_mode & 0o777 == 0o600
