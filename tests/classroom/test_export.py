"""What is handed out: nothing in a cell acts, and files are whole or not there."""

from __future__ import annotations

import csv
import io
import sys
from pathlib import Path

import openpyxl
import pytest

from stoichkit import experiments
from stoichkit.classroom.data import load_class
from stoichkit.classroom.evidence import evidence_of_groups
from stoichkit.classroom.export import (
    export_answer_key,
    export_code_key,
    export_results,
    export_rows,
)
from stoichkit.decision.answers import answer_lines
from stoichkit.errors import DataFileError, ModelError
from stoichkit.experiments.record import Experiment
from stoichkit.text.sheets import Sheet, neutralised, write_sheets
from tests.classfiles import ROWS, csv_bytes, xlsx_bytes

LAB = experiments.load("copper-silver")
BOOK = xlsx_bytes()
EVIL = (
    '=HYPERLINK("http://x.invalid")', "+1", "-2+3", "@SUM(1)", "\t=1", "\r=1", " =1", "＝1",
    "<script>alert(1)</script>", 'a"b', "a;b,c\nd", "\x00x",
)  # fmt: skip


def read_csv(path: Path, mark: str = ",") -> list[list[str]]:
    return list(csv.reader(io.StringIO(path.read_text("utf-8-sig")), delimiter=mark))


@pytest.mark.parametrize("text", EVIL)
@pytest.mark.parametrize("ending", ["csv", "xlsx", "html"])
def test_no_cell_acts(text: str, ending: str, tmp_path: Path) -> None:
    path = write_sheets(tmp_path / f"a.{ending}", [Sheet("t", (text,), [(text, -1.5)])])
    if ending == "csv":
        cells = [row[0] for row in read_csv(path)]
    elif ending == "xlsx":
        sheet = openpyxl.load_workbook(path).active
        cells = [sheet["A1"].value, sheet["A2"].value]
        assert sheet["A2"].data_type == "s"
        assert sheet["B2"].value == -1.5
    else:
        page = path.read_text("utf-8")
        assert "<script>" not in page
        assert 'lang="en"' in page
        assert "<caption>" in page
        return
    for cell in cells:
        assert not cell.lstrip().startswith(("=", "+", "-", "@", "＝"))


def test_names_survive_being_exported_and_loaded_again(tmp_path: Path) -> None:
    names = ["=1+1", "-x", "@red", "Grün", "a,b", "'=quoted"]
    rows = [(n, "1", *ROWS[0][2:]) for n in names]
    data = load_class(csv_bytes(rows), LAB)
    file = export_results(evidence_of_groups(data), tmp_path / "r.csv")
    assert [row[0] for row in read_csv(file)[1:]] == [neutralised(n) for n in data.names]
    again = load_class(csv_bytes([(neutralised(r[0]), *r[1:]) for r in rows]), LAB)
    assert again.names == data.names


@pytest.mark.parametrize(("mark", "decimal"), [(",", "."), (";", ","), ("\t", ",")])
def test_results_say_what_the_evidence_says(mark: str, decimal: str, tmp_path: Path) -> None:
    evidence = evidence_of_groups(load_class(csv_bytes(), LAB))
    file = export_results(evidence, tmp_path / "r.csv", delimiter=mark, decimal=decimal)  # type: ignore[arg-type]
    header, *rows = read_csv(file, mark)
    assert len(rows) == len(evidence)
    for i, row in enumerate(rows):
        cells = dict(zip(header, row, strict=True))
        assert cells["group"] == evidence.names[i]
        assert cells["verdict"].replace(" ", "_") == evidence.kinds[i]
        number = float(cells["mole ratio"].replace(decimal, "."))
        assert number == pytest.approx(evidence.ratio[i], rel=1e-5)
        p = float(cells["p-value, copper(I)"].replace(decimal, "."))
        assert p == pytest.approx(evidence.p_value[i, 0], rel=1e-5)


def test_groups_that_were_not_assessed_are_in_the_results(tmp_path: Path) -> None:
    lab = experiments.load("magnesium-gas")
    content = (
        b"group,ribbon,gas volume,room temperature,room pressure\n"
        b"red,0.031,31.46,21.4,100.8\nblue,0.035,35.98,21.4,1.0\n"
    )
    evidence = evidence_of_groups(load_class(content, lab))
    rows = read_csv(export_results(evidence, tmp_path / "r.csv"))
    assert rows[2][0] == "blue"
    assert rows[2][2].startswith("not assessed: ")
    assert set(rows[2][3:]) == {""}


def test_rows_and_problems_are_exported_in_full(tmp_path: Path) -> None:
    rows = [*ROWS, ("red", "3", "2.9O", "2.82", "0.75", "1.15")]
    data = load_class(csv_bytes(rows), LAB)
    book = openpyxl.load_workbook(export_rows(data, tmp_path / "rows.xlsx"))
    assert book.sheetnames == ["Rows", "Problems"]
    assert book["Rows"].max_row == len(data.rows) + 1
    assert book["Problems"].max_row == len(data.problems) + 1
    assert book["Rows"]["B8"].value == "set aside"


def test_the_code_key_is_written_apart_and_nowhere_else(tmp_path: Path) -> None:
    rows = [("Zora Quill", "1", *ROWS[0][2:]), ("Abel Fenn", "1", *ROWS[2][2:])]
    data = load_class(csv_bytes(rows), LAB, codes=True)
    key = export_code_key(data, tmp_path / "key.csv")
    assert read_csv(key)[1:] == [["G01", "Zora Quill"], ["G02", "Abel Fenn"]]
    for file in (
        export_results(evidence_of_groups(data), tmp_path / "r.csv"),
        export_rows(data, tmp_path / "rows.csv"),
        export_answer_key(data, tmp_path / "answers.html"),
    ):
        assert "Quill" not in file.read_text("utf-8")
    with pytest.raises(ModelError, match="codes=True"):
        export_code_key(load_class(csv_bytes(), LAB), tmp_path / "none.csv")


def test_files_are_whole_or_not_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    sheet = [Sheet("t", ("a",), [("old",)])]
    path = write_sheets(tmp_path / "a.csv", sheet)
    path.chmod(0o640)
    before = path.read_bytes()

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.replace", full)
    with pytest.raises(DataFileError, match="No space left"):
        write_sheets(path, [Sheet("t", ("a",), [("new",)])], replace=True)
    monkeypatch.undo()
    assert path.read_bytes() == before
    assert [p.name for p in tmp_path.iterdir()] == ["a.csv"]
    write_sheets(path, [Sheet("t", ("a",), [("new",)])], replace=True)
    assert path.stat().st_mode & 0o777 == 0o640
    with pytest.raises(DataFileError, match="cannot be written"):
        write_sheets(tmp_path / "no" / "a.csv", sheet)
    with pytest.raises(DataFileError, match="ending"):
        write_sheets(tmp_path / "a.doc", sheet)
    with pytest.raises(DataFileError, match="marks"):
        write_sheets(tmp_path / "b.csv", sheet, decimal=",")


def test_without_openpyxl_workbooks_are_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "openpyxl", None)
    with pytest.raises(DataFileError, match="use a CSV file"):
        load_class(BOOK, LAB)
    with pytest.raises(DataFileError, match="use a CSV file"):
        write_sheets(tmp_path / "a.xlsx", [Sheet("t", ("a",), [])])


def test_the_answer_key_of_a_class(tmp_path: Path) -> None:
    data = load_class(csv_bytes(), LAB)
    header, *rows = read_csv(export_answer_key(data, tmp_path / "k.csv", groups=["red"]))
    assert {row[0] for row in rows} == {"red"}
    record: Experiment = data.groups["red"]
    assert len(rows) == len(answer_lines(record))
    assert header[-3:] == ["accepted from", "accepted to", "note"]
    book = openpyxl.load_workbook(export_answer_key(data, tmp_path / "k.xlsx"))
    assert book.sheetnames == ["Answer key", "About"]
    with pytest.raises(ModelError, match="no such group"):
        export_answer_key(data, tmp_path / "k.csv", groups=["rad"])
