"""With codes no name is left in what is handed out or shown; what is written is searched."""

from __future__ import annotations

import io
import pickle
import stat
import zipfile
from pathlib import Path

import openpyxl
import pytest

from stoichkit import experiments, load_class
from stoichkit.__main__ import main
from stoichkit.classroom.choices import Choices, Decision
from stoichkit.classroom.privacy import check_no_names, without_names
from stoichkit.errors import DataFileError
from tests.classfiles import ROWS, csv_bytes, saved

LAB = experiments.load("copper-silver")
NAMES = ("Zora Quill", "Xeno Fenn", "Yoke Okoro")
HEADER = ("group", "Zora's remark", "wire before / g", "wire after / g", "paper / g",
          "paper + silver / g")  # fmt: skip


def file_with(names: tuple[str, ...], *, book: bool = False) -> bytes:
    """Return a class with names in cells, headers, remarks, cells of readings and sheets."""
    rows = [
        (names[0], f"{names[0]} spilled", *ROWS[0][2:]),
        (names[0], "", *ROWS[1][2:]),
        (names[1], "", *ROWS[2][2:]),
        (names[1], "", *ROWS[2][2:]),  # a copy, which is asked about
        (names[1], "", *ROWS[3][2:5], f"ask {names[1]}"),
        (names[2], f"with {names[0]}", *ROWS[4][2:]),
        (names[2].upper(), "", "2.99", "2.88", "0.72", "1.09"),
        (f"mean of {names[0]}", "", "3.99", "2.88", "0.72", "1.09"),
    ]
    header = (HEADER[0], f"remark of {names[0]}", *HEADER[2:])
    if not book:
        return csv_bytes(rows, header)
    made = openpyxl.Workbook()
    made.active.title = names[0][:20]
    for row in (header, *rows):
        made.active.append(row)
    made.create_sheet(names[1][:20]).append(["x"])
    return saved(made)


def everything(path: Path) -> str:
    content = path.read_bytes()
    if content.startswith(b"PK"):
        with zipfile.ZipFile(io.BytesIO(content)) as package:
            content = b"".join(package.read(n) for n in package.namelist())
    return content.decode("utf-8", "replace")


@pytest.mark.parametrize("book", [False, True])
def test_no_name_is_in_any_output(
    book: bool, tmp_path: Path, capsys: pytest.CaptureFixture
) -> None:
    source = tmp_path / ("Zora Quill.xlsx" if book else "Zora Quill.csv")
    source.write_bytes(file_with(NAMES, book=book))
    outputs = {"--out": "r.html", "--results": "r.xlsx", "--key": "k.csv", "--code-key": "c.csv"}
    options = [part for o, n in outputs.items() for part in (o, str(tmp_path / n))]
    assert main(["class", str(source), "--experiment", "copper-silver", "--codes", *options]) == 0
    said = "".join(capsys.readouterr()).replace(str(tmp_path), "")
    handed = said + "".join(everything(tmp_path / n) for n in ("r.html", "r.xlsx", "k.csv"))
    for name in NAMES:
        for word in name.split():
            assert word.casefold() not in handed.casefold()
    assert "Zora Quill" in (tmp_path / "c.csv").read_text("utf-8-sig")
    assert stat.S_IMODE((tmp_path / "c.csv").stat().st_mode) == 0o600


def test_a_key_is_private_also_in_place_of_one_that_was_not(tmp_path: Path) -> None:
    from stoichkit.classroom import export_code_key

    key = tmp_path / "key.csv"
    key.write_text("old")
    key.chmod(0o644)
    export_code_key(load_class(file_with(NAMES), LAB, codes=True), key, replace=True)
    assert stat.S_IMODE(key.stat().st_mode) == 0o600


@pytest.mark.parametrize("others", [("A", "mean", "is"), ("silver", "G02", "copper"),
                                    ("Max", "trial", "none fits")])  # fmt: skip
@pytest.mark.parametrize("book", [False, True])
def test_what_is_made_does_not_depend_on_the_names(others: tuple[str, ...], book: bool) -> None:
    """Names that are ordinary words cannot be searched for: other names give the same output."""
    plain = [(f"x{n}y", *row[1:]) for n, row in enumerate(ROWS)]
    named = [
        (others[n % 3] + ("" if n < 3 else "bcde"[n - 3]), *row[1:]) for n, row in enumerate(ROWS)
    ]
    if {"mean", "Max"} & {*others}:
        named = [(f"{row[0]}'s bench", *row[1:]) for row in named]
    shown = []
    for rows in (plain, named):
        data = load_class(csv_bytes(rows), LAB, codes=True).without_key()
        shown.append(f"{data} {data.rows} {data.problems} {data.questions} {dict(data.groups)}")
    assert shown[0] == shown[1]
    del book


def test_nothing_that_is_kept_holds_a_name() -> None:
    for book in (False, True):
        decision = Decision("Zora Quill", "2", "set aside", reason="Xeno Fenn said so")
        chosen = Choices(decisions=(decision,), left_out=("Xeno Fenn",) if book else ())
        data = load_class(file_with(NAMES, book=book), LAB, codes=True, choices=chosen)
        (kept,) = data.choices.decisions
        assert (kept.group, kept.reason) == ("G01", "G02 said so")
        shown = pickle.dumps(data.without_key()).decode("latin-1") + str(vars(data.without_key()))
        for word in ("Zora", "Quill", "Xeno", "Fenn", "Yoke", "Okoro"):
            assert word.casefold() not in shown.casefold()


def test_messages_hold_no_name_either() -> None:
    content = csv_bytes([("Zora", "1", "2")], ("who is Zora", "m1", "m2"))
    with pytest.raises(DataFileError) as caught:
        load_class(content, LAB, codes=True)
    assert "Zora" not in str(caught.value)
    assert "--column" in str(caught.value)


def test_a_name_in_the_note_is_refused_before_anything_is_written(
    tmp_path: Path, capsys: pytest.CaptureFixture
) -> None:
    source = tmp_path / "class.csv"
    source.write_bytes(file_with(NAMES))
    out = tmp_path / "r.html"
    code = main(["class", str(source), "--experiment", "copper-silver", "--codes", "--out",
                 str(out), "--note", "thanks to xeno  fenn"])  # fmt: skip
    assert code != 0
    assert not out.exists()
    said = " ".join(capsys.readouterr().err.split())
    assert "would hold a name" in said
    assert "Xeno" not in said


def test_which_names_are_looked_for() -> None:
    key = {"G01": "Zora", "G02": "A", "G03": "mean", "G04": "silver", "G05": "Zoë Kim"}
    ordinary = b"A mean of silver weighed by G01; Zorax and Kim are others."
    check_no_names(ordinary, key, LAB, "The report")
    for text in ("by ZORA.", "zoe\u0308 KIM", "<b>Zo&euml; Kim</b>", '<img alt="Zora">'):
        with pytest.raises(DataFileError, match="codes only"):
            check_no_names(text.encode(), key, LAB, "The report")
    assert without_names("Zora and zora, not Zorax", key) == "G01 and G01, not Zorax"
