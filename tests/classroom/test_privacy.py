"""With codes no name is left in what is handed out or shown; what is written is searched."""

from __future__ import annotations

import copy
import io
import pickle
import stat
import zipfile
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest

from stoichkit import assess_class, class_report, experiments, load_class
from stoichkit.__main__ import main
from stoichkit.classroom import (
    export_answer_key,
    export_answer_sheet,
    export_grades,
    export_results,
    export_rows,
    mark_class,
)
from stoichkit.classroom.choices import Choices, Decision, load_choices, save_choices
from stoichkit.classroom.data import ClassData
from stoichkit.classroom.privacy import KeptNames, without_names
from stoichkit.classroom.review import decided
from stoichkit.errors import DataFileError
from stoichkit.reports import feedback_pages, group_report
from tests.classfiles import HEADER as CLASS_HEADER
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


@pytest.mark.parametrize("others", [("A", "mean", "is"), ("silver", "Q02", "copper"),
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
    key = {
        "G01": "Zora",
        "G02": "A",
        "G03": "mean",
        "G04": "silver",
        "G05": "Zoë Kim",
        "G06": "Bo",
        "G07": "Uma",
    }
    ordinary = b"A mean of silver weighed by G01; Zorax, Kim and Bo are others."
    names = KeptNames(key, LAB)
    names.check(ordinary)
    for text in ("by ZORA.", "zoe\u0308 KIM", "<b>Zo&euml; Kim</b>", '<img alt="Zora">', "of Uma"):
        with pytest.raises(DataFileError, match="codes only"):
            names.check(text)
    assert without_names("Zora and zora, not Zorax", key) == "G01 and G01, not Zorax"


# Whatever is made of it


def coded_with_a_name() -> ClassData:
    """Return a class read with codes, beside which somebody wrote a name."""
    return replace(load_class(file_with(NAMES), LAB, codes=True), source="of Zora Quill.csv")


def test_everything_made_of_it_refuses_to_be_written_with_a_name(tmp_path: Path) -> None:
    data = coded_with_a_name()
    result = assess_class(data)
    assert result.coded
    report = class_report(result, note="Zora Quill was ill.")
    for ending in (".html", ".md", ".txt", ".tex", ".json"):
        with pytest.raises(DataFileError, match="the name of G01"):
            report.save(tmp_path / f"report{ending}")
    for write in (report.text, report.html, report.markdown, report.latex, report._repr_html_):
        with pytest.raises(DataFileError, match="codes only"):
            write()
    with pytest.raises(DataFileError, match="codes only"):
        group_report(result, "G01", note="Xeno Fenn was ill.").save(tmp_path / "group.html")
    marks = mark_class(b"group,m(Cu),conclusion\nZora Quill,0.12,as Yoke Okoro says\n", data)
    with pytest.raises(DataFileError, match="the name of G03"):
        export_grades(marks, tmp_path / "grades.xlsx")
    with pytest.raises(DataFileError, match="codes only"):
        feedback_pages(marks).save(tmp_path / "feedback.html")
    for thing in (data, data.without_key(), result, report, marks):
        with pytest.raises(DataFileError, match="codes only"):
            pickle.dumps(thing)
    with pytest.raises(DataFileError, match="codes only"):
        replace(class_report(assess_class(load_class(file_with(NAMES), LAB, codes=True))),
                opening=("for yoke  okoro",)).text()  # fmt: skip
    assert list(tmp_path.iterdir()) == []


def test_what_holds_no_name_is_written_and_pickled_without_the_key(tmp_path: Path) -> None:
    data = load_class(file_with(NAMES), LAB, codes=True)
    result = assess_class(data)
    export_results(result.evidence, tmp_path / "results.csv")
    export_answer_key(data, tmp_path / "key.xlsx")
    export_answer_sheet(data, tmp_path / "answers.xlsx")
    export_rows(data, tmp_path / "rows.xlsx")
    report = class_report(result)
    report.save(tmp_path / "report.html")
    for thing in (data, result, result.evidence, report):
        content = pickle.dumps(thing)
        for name in NAMES:
            assert name.split()[0].casefold().encode() not in content.lower()
    again = pickle.loads(pickle.dumps(data))
    assert again.names == data.names
    assert dict(again.key) == {}
    assert pickle.loads(pickle.dumps(report)).text() == report.text()
    assert pickle.loads(pickle.dumps(result)).evidence.names == result.evidence.names
    assert copy.copy(data.names_kept) is copy.deepcopy(data.names_kept) is data.names_kept
    plain = assess_class(load_class(file_with(NAMES), LAB))
    assert "Zora Quill" in class_report(plain, pictures=False).text()


# Choices beside it


def test_a_choices_file_with_codes_holds_no_name_and_both_are_understood(
    tmp_path: Path, capsys: pytest.CaptureFixture
) -> None:
    rows = [("Zora Quill", "first", *ROWS[0][2:]), ("Zora Quill", "second", *ROWS[1][2:]),
            ("Xeno Fenn", "first", *ROWS[2][2:]), ("Yoke Okoro", "1", *ROWS[3][2:])]  # fmt: skip
    content = csv_bytes(rows, CLASS_HEADER)
    by_name = Decision("Zora Quill", "second", "set aside", reason="Xeno Fenn spilled it")
    by_code = Decision("G02", "1", "used")
    chosen = Choices(columns={"paper": "paper / g"}, decisions=(by_name, by_code))
    coded = load_class(content, LAB, codes=True, choices=chosen)
    plain = load_class(content, LAB, choices=chosen)
    assert [d.identity for d in coded.choices.decisions] == [("G01", "2"), ("G02", "1")]
    assert [d.identity for d in plain.choices.decisions] == [
        ("Zora Quill", "second"), ("Xeno Fenn", "first"),
    ]  # fmt: skip
    assert [len(t) for t in (decided(coded).rows, decided(plain).rows)] == [5, 5]
    assert decided(coded).trial_counts.tolist() == decided(plain).trial_counts.tolist() == [1, 1, 1]
    source, saved_as = tmp_path / "class.csv", tmp_path / "c.toml"
    source.write_bytes(content)
    save_choices(coded.choices_kept(chosen), saved_as)
    text = saved_as.read_text("utf-8")
    for name in NAMES:
        assert name.split()[0] not in text
    assert "G02 spilled it" in text
    again = load_class(content, LAB, choices=load_choices(saved_as))
    assert [d.identity for d in again.choices.decisions] == [
        ("Zora Quill", "second"), ("Xeno Fenn", "first"),
    ]  # fmt: skip
    assert main(["review", str(source), "--experiment", "copper-silver", "--codes", "--choices",
                 str(saved_as), "--set-aside", "G03", "1", "--reason", "Yoke Okoro was ill",
                 "--save", str(tmp_path / "d.toml")]) == 0  # fmt: skip
    both = capsys.readouterr().out + (tmp_path / "d.toml").read_text("utf-8")
    assert "G03 was ill" in (tmp_path / "d.toml").read_text("utf-8")
    assert "Quill" not in both
    with pytest.raises(DataFileError, match="the name of G01"):
        coded.choices_kept(Choices(left_out=("Zora Quill",)))


def test_a_code_is_never_the_name_of_another_group() -> None:
    rows = [("G02", *ROWS[0][1:]), ("G01", *ROWS[2][1:]), ("teal", *ROWS[4][1:])]
    coded = load_class(csv_bytes(rows), LAB, codes=True)
    assert dict(coded.key) == {"K01": "G02", "K02": "G01", "K03": "teal"}
    chosen = Choices(decisions=(Decision("G01", "1", "set aside"),))
    kept = load_class(csv_bytes(rows), LAB, codes=True, choices=chosen).choices.decisions
    assert kept[0].group == "K02"


def test_an_answer_changes_no_code() -> None:
    """Red's one row waits, then counts: blue is G02 both times."""
    content = csv_bytes([("red", *ROWS[0][1:], "A"), *((*r, "0.01 g") for r in ROWS[2:])],
                        (*CLASS_HEADER, "balance"))  # fmt: skip
    waits = load_class(content, LAB, codes=True)
    assert dict(waits.key) == {"G02": "blue", "G03": "green"}
    answers = {waits.open_questions[0].key: "as the record says"}
    counts = load_class(content, LAB, codes=True, choices=Choices(answers=answers))
    assert dict(counts.key) == {"G01": "red", "G02": "blue", "G03": "green"}
