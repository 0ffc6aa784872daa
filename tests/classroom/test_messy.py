"""Class files as people make them: each row is used, asked about, or refused with what to do.

Every case states by hand what must become of each reading: the readings in use by group and
trial, how many rows wait and for which kinds of question, or the words of the refusal.
"""

from __future__ import annotations

import io
from collections import Counter
from collections.abc import Callable, Sequence
from typing import Any

import openpyxl
import pytest

from stoichkit import experiments, load_class
from stoichkit.classroom.choices import Choices
from stoichkit.classroom.data import ClassData
from stoichkit.classroom.records import RowUse
from stoichkit.errors import DataFileError
from tests.classfiles import HEADER, ROWS, csv_bytes, saved

LAB = experiments.load("copper-silver")
NAMES = ("wire before", "wire after", "paper", "paper + silver")
CLEAN = {(g, t): tuple(r) for g, t, *r in ROWS}
RED = {k: v for k, v in CLEAN.items() if k[0] == "red"}
TWO = ["red,1,2.94,2.82,0.75,1.15", "blue,1,3.14,3.03,0.73,1.12"]
FIRST = {("red", "1"): CLEAN["red", "1"], ("blue", "1"): CLEAN["blue", "1"]}
HEAD = ",".join(HEADER)
PLAIN = "group,trial,wire before,wire after,paper,paper + silver"


def used(data: ClassData) -> dict[tuple[str, str], tuple[str, ...]]:
    return {
        (name, trial.name): tuple(trial.readings[n][-1] for n in NAMES)
        for name, group in data.groups.items()
        for trial in group.trials
    }


def text(*lines: str, mark: str = ",") -> bytes:
    return "\n".join(lines).replace(",", mark).encode()


def clean_lines() -> list[str]:
    return [",".join(row) for row in ROWS]


def book(*sheets: tuple[str, Sequence[Sequence[Any]]], then: Callable[[Any], None] | None = None,
         number_format: str = "0.00") -> bytes:  # fmt: skip
    made = openpyxl.Workbook()
    made.remove(made.active)
    for title, rows in sheets:
        sheet = made.create_sheet(title)
        for row in rows:
            sheet.append([_cell(one) for one in row])
        for cells in sheet.iter_rows():
            for cell in cells:
                if isinstance(cell.value, float):
                    cell.number_format = number_format
    if then is not None:
        then(made)
    return saved(made)


def _cell(one: Any) -> Any:
    try:
        return float(one) if "." in str(one) else one
    except ValueError:
        return one


TABLE = (HEADER, *ROWS)


def merged(made: Any) -> None:
    sheet = made.worksheets[0]
    for span in ("A1:A2", "B1:B2", "C1:D1", "E1:F1"):
        sheet.merge_cells(span)


def hide_rows(made: Any) -> None:
    for row in (3, 5):
        made.worksheets[0].row_dimensions[row].hidden = True


def hide_column(made: Any) -> None:
    made.worksheets[0].column_dimensions["E"].hidden = True


def hide_sheet(made: Any) -> None:
    made.worksheets[1].sheet_state = "hidden"


MEANS = [
    "red,1,2.94,2.82,0.75,1.15", "red,2,3.19,3.09,0.70,1.06", "red,3,2.87,2.75,0.72,1.13",
    "{},,3.00,2.89,0.72,1.11",
    "blue,1,3.14,3.03,0.73,1.12", "blue,2,2.95,2.83,0.70,1.13", "blue,3,3.20,3.09,0.78,1.14",
    "{},,3.10,2.98,0.74,1.13",
]  # fmt: skip
SIX = {
    ("red", "1"): ("2.94", "2.82", "0.75", "1.15"), ("red", "2"): ("3.19", "3.09", "0.70", "1.06"),
    ("red", "3"): ("2.87", "2.75", "0.72", "1.13"), ("blue", "1"): ("3.14", "3.03", "0.73", "1.12"),
    ("blue", "2"): ("2.95", "2.83", "0.70", "1.13"),
    ("blue", "3"): ("3.20", "3.09", "0.78", "1.14"),
}  # fmt: skip


def means(red: str, blue: str) -> bytes:
    lines = list(MEANS)
    lines[3], lines[7] = lines[3].format(red), lines[7].format(blue)
    return text(HEAD, *lines)


WIDE = "group,wire before 1,wire after 1,paper 1,paper + silver 1,wire before 2,wire after 2,paper 2,paper + silver 2"  # noqa: E501
WIDE_ROWS = ["red,2.94,2.82,0.75,1.15,3.19,3.09,0.70,1.06",
             "blue,3.14,3.03,0.73,1.12,2.95,2.83,0.70,1.13",
             "green,3.02,2.92,0.71,1.05,,,,"]  # fmt: skip
TURNED = ["group,red,red,blue,blue,green", "trial,1,2,1,2,1",
          "wire before / g,2.94,3.19,3.14,2.95,3.02", "wire after / g,2.82,3.09,3.03,2.83,2.92",
          "paper / g,0.75,0.70,0.73,0.70,0.71",
          "paper + silver / g,1.15,1.06,1.12,1.13,1.05"]  # fmt: skip

# name: (file, readings in use, rows that wait, kinds of open questions)
READ: dict[str, tuple[bytes, dict[tuple[str, str], tuple[str, ...]], int, str]] = {
    "clean": (csv_bytes(), CLEAN, 0, ""),
    "clean workbook": (book(("Data", TABLE)), CLEAN, 0, ""),
    "semicolons and decimal commas": (
        csv_bytes(mark=";", decimal=","),
        {k: tuple(x.replace(".", ",") for x in v) for k, v in CLEAN.items()}, 0, ""),
    "title and blank lines above": (text("Lab 3, Tuesday", "", HEAD, *clean_lines()), CLEAN, 0, ""),
    "units below the header": (text(PLAIN, ",,g,g,g,g", *clean_lines()), CLEAN, 0, ""),
    "units in brackets below": (text(PLAIN, "-,-,[g],[g],(g),(g)", *clean_lines()), CLEAN, 0, ""),
    "units below, said so": (text(PLAIN, "unit,,in g,in g,in g,in g", *clean_lines()), CLEAN, 0,
                             ""),
    "milligrams below the header": (
        text(PLAIN, ",,mg,mg,mg,mg", "red,1,2940,2820,750,1150", "blue,1,3140,3030,730,1120"),
        {("red", "1"): ("2.940", "2.820", "0.750", "1.150"),
         ("blue", "1"): ("3.140", "3.030", "0.730", "1.120")}, 0, ""),
    # averages
    "mean in the group column": (means("mean", "mean"), SIX, 0, ""),
    "avg": (means("avg", "Avg."), SIX, 0, ""),
    "average with a colon": (means("Average:", "AVERAGE"), SIX, 0, ""),
    "diameter sign": (means("Ø", "⌀"), SIX, 0, ""),
    "Mittelwert": (means("Mittel", "Mittelwert"), SIX, 0, ""),
    "moyenne": (means("moyenne", "Moyenne"), SIX, 0, ""),
    "mean of a named group": (means("red mean", "mean (blue)"), SIX, 0, ""),
    "class average Ø red": (means("Ø red", "Ø blue"), SIX, 0, ""),
    "unlabelled means": (means("", ""), SIX, 2, "average average"),
    "means under new groups": (means("x1", "x2"), SIX, 2, "average average"),
    "mean in the trial column": (
        text(HEAD, *MEANS[:3], "red,mean,3.00,2.89,0.72,1.11"),
        {k: v for k, v in SIX.items() if k[0] == "red"}, 0, ""),
    "mean in a column of remarks": (
        text("remark," + HEAD, *("," + m for m in MEANS[:3]), "mean,red,4,3.00,2.89,0.72,1.11"),
        {k: v for k, v in SIX.items() if k[0] == "red"}, 1, "average"),
    "mean of everything at the end": (
        text(HEAD, *(m for m in MEANS if m[0] != "{"), "all,1,3.05,2.94,0.73,1.12"), SIX, 1,
        "average"),
    "mean with more digits": (
        text(HEAD, *MEANS[:3], "red,4,3.0000,2.8867,0.7233,1.1133"),
        {k: v for k, v in SIX.items() if k[0] == "red"}, 1, "average"),
    "a person called Max": (
        text(HEAD, "Max,1,2.94,2.82,0.75,1.15", "Ann,1,3.14,3.03,0.73,1.12"),
        {("Ann", "1"): CLEAN["blue", "1"]}, 1, "average"),
    "standard deviations": (
        text(HEAD, *clean_lines(), "SD,,0.10,0.11,0.02,0.04"), CLEAN, 0, ""),
    # copies
    "block pasted twice": (text(HEAD, *clean_lines(), *clean_lines()), CLEAN, 5, "copy"),
    "one row twice": (text(HEAD, *clean_lines(), clean_lines()[2]), CLEAN, 1, "copy"),
    "row twice without trials": (
        text("group," + ",".join(HEADER[2:]), "red,2.94,2.82,0.75,1.15", "red,2.94,2.82,0.75,1.15"),
        {("red", "1"): CLEAN["red", "1"]}, 1, "copy"),
    "same number, other readings": (
        text(HEAD, "red,1,2.94,2.82,0.75,1.15", "red,1,3.19,3.09,0.70,1.06"),
        {("red", "1"): CLEAN["red", "1"], ("red", "1 (row 3)"): CLEAN["red", "2"]}, 0, ""),
    # a thousand times off
    "milligrams under grams": (
        text(HEAD, "red,1,2940,2820,750,1150", "blue,1,3140,3030,730,1120"), {}, 2,
        "scale scale scale scale"),
    "one column in milligrams": (
        text(HEAD, "red,1,2.94,2.82,750,1.15", "blue,1,3.14,3.03,730,1.12"), {}, 2, "scale"),
    "one row in milligrams": (
        text(HEAD, *clean_lines(), "teal,1,2940,2820,750,1150"), CLEAN, 1,
        "scale scale scale scale"),
    "commas between thousands of milligrams": (
        text("group;trial;wire before [mg];wire after [mg];paper [mg];paper + silver [mg]",
             "red;1;2,940;2,820;750;1,150", "blue;1;3,140;3,030;730;1,120"), {}, 2,
        "scale scale scale"),
    # names
    "capitals and spaces": (
        text(HEAD, "Red,1,2.94,2.82,0.75,1.15", "red ,2,3.19,3.09,0.70,1.06",
             "RED,3,2.87,2.75,0.71,1.13"),
        {("Red", "1"): CLEAN["red", "1"], ("Red", "2"): CLEAN["red", "2"],
         ("Red", "3"): ("2.87", "2.75", "0.71", "1.13")}, 0, ""),
    "zero width space": (
        text(HEAD, "red,1,2.94,2.82,0.75,1.15", "re\u200bd,2,3.19,3.09,0.70,1.06"), RED, 0, ""),
    "composed and decomposed": (
        text(HEAD, "Gr\u00fcn,1,2.94,2.82,0.75,1.15", "Gru\u0308n,2,3.19,3.09,0.70,1.06"),
        {("Gr\u00fcn", t): v for (_, t), v in RED.items()}, 0, ""),
    "no-break space": (
        text(HEAD, "bench 1,1,2.94,2.82,0.75,1.15", "bench\u00a01,2,3.19,3.09,0.70,1.06"),
        {("bench 1", t): v for (_, t), v in RED.items()}, 0, ""),
    "numbers with a space stay apart": (
        text(HEAD, "1 1,1,2.94,2.82,0.75,1.15", "11,1,3.19,3.09,0.70,1.06"),
        {("1 1", "1"): CLEAN["red", "1"], ("11", "1"): CLEAN["red", "2"]}, 0, ""),
    "group named once": (
        text(HEAD, "red,1,2.94,2.82,0.75,1.15", ",2,3.19,3.09,0.70,1.06"), RED, 0, ""),
    # columns
    "two columns of one heading": (
        text(HEAD + ",paper / g", "red,1,2.94,2.82,0.75,1.15,0.76",
             "blue,1,3.14,3.03,0.73,1.12,0.74"), {}, 2, "column"),
    "two columns alike": (
        text(HEAD + ",paper / g", "red,1,2.94,2.82,0.75,1.15,0.75",
             "blue,1,3.14,3.03,0.73,1.12,0.73"), FIRST, 0, ""),
    "a misspelt heading": (
        text("group,trial,wire befor,wire after,paper,paper + silver", *TWO), FIRST, 0, ""),
    "two balances": (
        text(HEAD + ",balance", TWO[0] + ",A", TWO[1] + ",B"), {}, 2, "balance"),
    "one balance": (text(HEAD + ",balance", TWO[0] + ",A", TWO[1] + ",A"), FIRST, 0, ""),
    "a balance of another step": (
        text(HEAD + ",balance", TWO[0] + ",0.001 g", TWO[1] + ",0.001 g"), FIRST, 0, ""),
    "the balance of the lab": (
        text(HEAD + ",balance", TWO[0] + ",0.01 g", TWO[1] + ",0.01 g"), FIRST, 0, ""),
    # shapes
    "trials side by side": (text(WIDE, *WIDE_ROWS), CLEAN, 0, ""),
    "side by side, trial first": (
        text("group,trial 1 wire before,trial 1 wire after,trial 1 paper,trial 1 paper + silver,"
             "trial 2 wire before,trial 2 wire after,trial 2 paper,trial 2 paper + silver",
             *WIDE_ROWS), CLEAN, 0, ""),
    "side by side in brackets with units": (
        text("group," + ",".join(f"{n} (trial {t}) / g" for t in (1, 2) for n in NAMES),
             *WIDE_ROWS), CLEAN, 0, ""),
    "side by side by reading": (
        text("group," + ",".join(f"{n} {t}" for n in NAMES for t in (1, 2)),
             "red,2.94,3.19,2.82,3.09,0.75,0.70,1.15,1.06",
             "blue,3.14,2.95,3.03,2.83,0.73,0.70,1.12,1.13",
             "green,3.02,,2.92,,0.71,,1.05,"), CLEAN, 0, ""),
    "trials above readings": (
        text("group,Trial 1,,,,Trial 2,,,", "," + ",".join([*NAMES, *NAMES]), *WIDE_ROWS),
        {(g, f"Trial {t}"): v for (g, t), v in CLEAN.items()}, 0, ""),
    "header of two rows": (
        text("group,trial,wire,,paper,", ",,before / g,after / g,/ g,+ silver / g", *clean_lines()),
        CLEAN, 0, ""),
    "merged header": (
        book(("Data", (("group", "trial", "wire", None, "paper", None),
                       (None, None, "before / g", "after / g", "/ g", "+ silver / g"), *ROWS)),
             then=merged), CLEAN, 0, ""),
    "turned round": (text(*TURNED), CLEAN, 0, ""),
    "turned round workbook": (book(("Data", [line.split(",") for line in TURNED])), CLEAN, 0, ""),
    "no header": (text(*clean_lines()), {}, 5, "order"),
    "no header, no trials": (
        text("red,2.94,2.82,0.75,1.15", "blue,3.14,3.03,0.73,1.12"), {}, 2, "order"),
    # workbooks
    "hidden rows": (
        book(("Data", TABLE), then=hide_rows),
        {k: CLEAN[k] for k in (("red", "1"), ("blue", "1"), ("green", "1"))}, 2, "hidden"),
    "hidden column": (book(("Data", TABLE), then=hide_column), CLEAN, 0, ""),
    "two sheets": (
        book(("Monday", TABLE[:3]), ("Tuesday", (HEADER, *ROWS[2:]))), RED, 3, "sheet"),
    "a hidden sheet": (
        book(("Monday", TABLE[:3]), ("old", (HEADER, *ROWS[2:])), then=hide_sheet), RED, 3,
        "sheet"),
    "notes before the readings": (
        book(("Notes", (("what we did",), ("weighed", "twice"))), ("Data", TABLE)), CLEAN, 0, ""),
    "a sheet that lacks a column": (
        book(("Monday", TABLE[:3]), ("Tuesday", [row[:5] for row in (HEADER, *ROWS[2:])])), RED, 3,
        "sheet"),
    "numbers without a format": (
        book(("Data", TABLE), number_format="General"),
        {k: tuple(f"{float(x):.15g}" for x in v) for k, v in CLEAN.items()}, 0, ""),
}  # fmt: skip


@pytest.mark.parametrize("name", READ)
def test_every_row_is_used_or_asked_about(name: str) -> None:
    content, readings, waiting, kinds = READ[name]
    data = load_class(content, LAB)
    assert used(data) == readings
    assert data.waiting == waiting
    assert Counter(q.kind.value for q in data.open_questions) == Counter(kinds.split())
    for record in data.rows:
        if record.use is RowUse.SET_ASIDE:
            assert record.reason
    for asked in data.open_questions:
        assert asked.rows or asked.where
        assert asked.answers
        assert asked.text.rstrip().endswith(("?", "."))
        assert asked.changes


REFUSED: dict[str, tuple[bytes, str]] = {
    "no column for a reading": (text("group,trial,wire before,wire after,paper", "red,1,2,1,3"),
                                "--column"),
    "nothing named": (text("a,b", "x,y"), "--column"),
    "volumes for masses": (text(PLAIN.replace("paper,", "paper / mL,"), *TWO), "in mL"),
    "only a header": (text(HEAD), "No row"),
    "readings in words": (text(HEAD, "red,1,two,three,four,five"), "No row"),
    "cells run on": (text(HEAD, "red,1," + "9" * 2_000_000), "far too much text"),
    "a row far below": (book(("Data", TABLE), then=lambda b: b.worksheets[0].cell(
        1_048_576, 1, "x")), "far below"),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_what_cannot_be_read_is_refused_with_what_to_do(name: str) -> None:
    content, words = REFUSED[name]
    with pytest.raises(DataFileError, match=words) as caught:
        load_class(content, LAB)
    assert "columns={" not in str(caught.value)
    assert caught.value.fix


# --- answers -------------------------------------------------------------------------------

SCALED = {k: tuple(f"{x}0" for x in v) for k, v in FIRST.items()}
ANSWERED: dict[str, tuple[str, str, dict[tuple[str, str], tuple[str, ...]]]] = {
    "averages are averages": ("unlabelled means", "an average", SIX),
    "averages are trials": (
        "unlabelled means", "a trial",
        {**SIX, ("red", "4"): ("3.00", "2.89", "0.72", "1.11"),
         ("blue", "4"): ("3.10", "2.98", "0.74", "1.13")}),
    "a copy": ("one row twice", "a copy", CLEAN),
    "no copy": ("one row twice", "a trial", {**CLEAN, ("blue", "1 (row 7)"): CLEAN["blue", "1"]}),
    "milligrams": ("milligrams under grams", "1000 times smaller", SCALED),
    "grams indeed": ("one column in milligrams", "as typed",
                     {("red", "1"): ("2.94", "2.82", "750", "1.15"),
                      ("blue", "1"): ("3.14", "3.03", "730", "1.12")}),
    "a comma between thousands": ("commas between thousands of milligrams", "1000 times larger",
                                  SCALED),
    "hidden rows are trials": ("hidden rows", "use", CLEAN),
    "hidden rows are not": ("hidden rows", "leave out",
                            {k: CLEAN[k] for k in (("red", "1"), ("blue", "1"), ("green", "1"))}),
    "both sheets": ("two sheets", "read", CLEAN),
    "one sheet": ("two sheets", "leave out", RED),
    "in this order": ("no header", "in this order", CLEAN),
    "the first of two columns": ("two columns of one heading", "E", FIRST),
    "the second of two columns": (
        "two columns of one heading", "G",
        {("red", "1"): ("2.94", "2.82", "0.76", "1.15"),
         ("blue", "1"): ("3.14", "3.03", "0.74", "1.12")}),
    "balances alike": ("two balances", "as the record says", FIRST),
    "one balance": ("two balances", "only 2", {("blue", "1"): CLEAN["blue", "1"]}),
    "Max is a person": ("a person called Max", "a trial",
                        {("Ann", "1"): CLEAN["blue", "1"], ("Max", "1"): CLEAN["red", "1"]}),
}  # fmt: skip


@pytest.mark.parametrize("name", ANSWERED)
def test_an_answer_does_what_it_says(name: str) -> None:
    case, answer, readings = ANSWERED[name]
    content = READ[case][0]
    asked = load_class(content, LAB).open_questions
    data = load_class(content, LAB, choices=Choices(answers={q.key: answer for q in asked}))
    assert used(data) == readings
    assert data.waiting == 0
    assert {q.answer for q in data.questions if q.key in {a.key for a in asked}} == {answer}


def test_spellings_may_be_said_to_be_two_groups() -> None:
    content = READ["zero width space"][0]
    (asked,) = load_class(content, LAB).questions
    assert asked.default == "one group"
    assert not asked.waits
    data = load_class(content, LAB, choices=Choices(answers={asked.key: "groups apart"}))
    assert len(data.names) == 2


def test_an_answer_goes_with_the_readings_and_not_with_the_row_alone() -> None:
    content = READ["one row twice"][0]
    (asked,) = load_class(content, LAB).open_questions
    chosen = Choices(answers={asked.key: "a copy"})
    other = text(HEAD, *clean_lines(), clean_lines()[3])
    data = load_class(other, LAB, choices=chosen)
    assert data.waiting == 1
    assert any("not asked" in p.text for p in data.problems)


def test_a_wrong_answer_is_refused() -> None:
    content = READ["one row twice"][0]
    (asked,) = load_class(content, LAB).open_questions
    with pytest.raises(DataFileError, match="“a copy” or “a trial”"):
        load_class(content, LAB, choices=Choices(answers={asked.key: "perhaps"}))


def test_sheets_and_columns_can_be_chosen() -> None:
    content = READ["two sheets"][0]
    both = load_class(content, LAB, choices=Choices(sheets=("Monday", "Tuesday")))
    assert used(both) == CLEAN
    assert both.rows[4].place == "sheet “Tuesday”, row 2"
    one = load_class(content, LAB, choices=Choices(left_out=("Monday",)))
    assert used(one) == {k: v for k, v in CLEAN.items() if k[0] != "red"}
    with pytest.raises(DataFileError, match="Did you mean “Monday”"):
        load_class(content, LAB, choices=Choices(sheets=("Munday",)))
    with pytest.raises(DataFileError, match=r"leave out every sheet.*at least one sheet"):
        load_class(content, LAB, choices=Choices(left_out=("Monday", "Tuesday")))


def test_balances_are_kept_for_later() -> None:
    content = READ["two balances"][0]
    (asked,) = load_class(content, LAB).open_questions
    data = load_class(content, LAB, choices=Choices(answers={asked.key: "as the record says"}))
    assert data.balances == {("red", "1"): "A", ("blue", "1"): "B"}


def test_rows_of_other_shapes_say_where_they_stood() -> None:
    wide = load_class(READ["trials side by side"][0], LAB)
    assert [r.place for r in wide.rows if r.group == "red"] == ["row 2, trial 1", "row 2, trial 2"]
    turned = load_class(READ["turned round"][0], LAB)
    assert [r.place for r in turned.rows if r.group == "red"] == ["column B", "column C"]
    spoilt = text(*TURNED).replace(b"0.71", b"0.7l")
    (problem,) = [p for p in load_class(spoilt, LAB).problems if "number" in p.text]
    assert problem.place == "column F, column row 5 (paper / g)"


def test_clean_classes_ask_nothing() -> None:
    """2000 classes of readings drawn at random, 12 groups with three trials, no averages.

    Those asked about show means to the digits by chance: one in fifty may, as is stated.
    """
    import numpy as np

    from stoichkit.classroom.questions import averages

    rng = np.random.default_rng(4)
    asked = 0
    for _ in range(2000):
        values = {n: np.round(rng.normal(3, 0.1, 36), 2) for n in NAMES}
        decimals = {n: np.full(36, 2) for n in NAMES}
        groups = np.repeat(np.arange(12), 3)
        asked += bool(averages(values, decimals, groups, np.zeros(36, dtype=bool)))
    assert asked <= 40


def test_nothing_of_this_depends_on_where_the_file_is() -> None:
    for content, readings, *_ in READ.values():
        data = load_class(io.BytesIO(content).getvalue(), LAB)
        assert used(data) == readings


def test_rows_without_a_group_are_told_of_never_taken_silently() -> None:
    """They count to the group above, and each is named; behind a blank row it is asked again."""
    lines = [HEAD, "red,1,2.94,2.82,0.75,1.15", ",2,3.19,3.09,0.70,1.06", "",
             ",3,3.14,3.03,0.73,1.12", "blue,1,2.95,2.83,0.70,1.13"]  # fmt: skip
    data = load_class(text(*lines), LAB)
    assert {name: len(group.trials) for name, group in data.groups.items()} == {"red": 3, "blue": 1}
    told = [p for p in data.problems if p.text == "Group cells are empty."]
    assert [(p.given, p.done) for p in told] == [
        ("rows 3, 5", "Each of these rows was counted to the group named above it.")
    ]
    asked = [p for p in data.problems if "is it still the same group?" in p.text]
    assert [(p.row, p.done) for p in asked] == [(5, "The row was counted to the group above, red.")]


def test_rows_above_the_first_group_are_set_aside() -> None:
    lines = [HEAD, ",1,2.94,2.82,0.75,1.15", "blue,1,2.95,2.83,0.70,1.13"]
    data = load_class(text(*lines), LAB)
    assert list(data.groups) == ["blue"]
    (row,) = [row for row in data.rows if row.use is RowUse.SET_ASIDE]
    assert row.reason == "no group"
