"""Marks against calculations by hand: copper wire in silver nitrate, invented readings.

Red, trial 1: 2.94 − 2.82 = 0.12 g Cu, 0.12 / 63.546 = 0.0018884 mol; 1.15 − 0.75 = 0.40 g Ag,
0.40 / 107.8682 = 0.0037082 mol; ratio 1.9637. Trial 2: 0.10 g, 0.0015737 mol; 0.36 g,
0.0033374 mol; ratio 2.1208. Means: 0.0035228 / 0.00173105 = 2.0351; percent yield of copper(II)
101.8 %.
"""

from __future__ import annotations

import contextlib
import io
from dataclasses import replace
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from stoichkit import experiments, load_class
from stoichkit.classroom import MarkKind, Rubric, items_of, load_rubric, mark_class
from stoichkit.classroom.conclusion import read_conclusion
from stoichkit.classroom.data import ClassData
from stoichkit.classroom.export import export_answer_sheet, export_grades
from stoichkit.classroom.handed_in import Answer
from stoichkit.classroom.judging import Judgement
from stoichkit.classroom.judging import judged as judged_alone
from stoichkit.classroom.tables import read_table
from stoichkit.decision.accepted import Accepted, Own
from stoichkit.decision.evidence import assess
from stoichkit.decision.typed import MistakeKind
from stoichkit.decision.verdict import VerdictKind
from stoichkit.errors import DataFileError, ModelError
from stoichkit.experiments.practice_labs import KINDS, practice
from stoichkit.experiments.record import Experiment
from stoichkit.measurement import Balance
from stoichkit.reports.hand_in import hand_in_page
from stoichkit.reports.question import check
from stoichkit.reports.study import lesson
from tests.classfiles import csv_bytes

LAB = experiments.load("copper-silver")
HEAD = "group,trial,m(Cu),n(Cu),m(Ag),n(Ag),ratio,mean ratio,conclusion,percent yield"
RIGHT = {
    1: ["0.12", "0.00189", "0.40", "0.00371", "1.96", "2.04", "copper(II)", "102"],
    2: ["0.10", "0.0016", "0.36", "0.0033", "2.1", "", "", ""],
}
COLUMNS = HEAD.split(",")[2:]


def the_class(**more: Any) -> ClassData:
    return load_class(csv_bytes(), LAB, **more)


def sheet(trial_1: dict[str, str] | None = None, trial_2: dict[str, str] | None = None) -> bytes:
    """Return the answers of red, right but for these."""
    lines = [HEAD]
    for trial, changes in ((1, trial_1), (2, trial_2)):
        row = dict(zip(COLUMNS, RIGHT[trial], strict=True)) | (changes or {})
        lines.append(f"red,{trial}," + ",".join(row.values()))
    return ("\n".join(lines) + "\n").encode()


def judged(answers: bytes, item: str, trial: str = "1", data: ClassData | None = None) -> Judgement:
    marks = mark_class(answers, data or the_class())
    return next(
        m.judgement for m in marks.groups["red"].of(item) if m.judgement.trial in (trial, "")
    )


def test_all_right_earns_all_points() -> None:
    marks = mark_class(sheet(), the_class())
    red = marks.groups["red"]
    assert {mark.kind for mark in red.marks} == {MarkKind.RIGHT}
    assert (red.points, red.out_of) == (pytest.approx(9), pytest.approx(9))
    assert marks.groups["blue"].points == 0
    assert marks.groups["blue"].remarks == ("No answer was handed in.",)


@pytest.mark.parametrize(
    ("item", "typed", "kind", "words"),
    [
        ("m(Cu)", "0.12 g", MarkKind.RIGHT, ""),
        ("m(Cu)", "120 mg", MarkKind.RIGHT, ""),
        ("m(Cu)", "120", MarkKind.UNIT, "right in mg"),
        ("m(Cu)", "-0.12", MarkKind.MISTAKE, "sign"),
        ("m(Cu)", "2.94", MarkKind.MISTAKE, "“wire before” itself"),
        ("m(Cu)", "5.76", MarkKind.MISTAKE, "were added"),  # 2.94 + 2.82
        ("m(Ag)", "1.15", MarkKind.MISTAKE, "“paper + silver” itself"),
        ("m(Cu)", "1.79", MarkKind.MISTAKE, "in the place of “wire after”"),  # 2.94 − 1.15
        ("m(Cu)", "0.15", MarkKind.WRONG, "larger"),
        ("m(Cu)", "much", MarkKind.UNREAD, "not a number"),
        ("m(Cu)", "12 cm", MarkKind.UNREAD, "unit does not fit"),
        ("m(Cu)", "", MarkKind.EMPTY, ""),
        ("m(Ag)", "0.4", MarkKind.FIGURES, "support 2 significant figures"),
        ("n(Cu)", "0.0018884", MarkKind.FIGURES, "5 figures claim more"),
        ("n(Cu)", "1.9e-3", MarkKind.RIGHT, ""),
        ("n(Cu)", "1.89 mmol", MarkKind.RIGHT, ""),
        ("n(Cu)", "7.6255", MarkKind.MISTAKE, "You multiplied"),  # 0.12 × 63.546
        ("n(Cu)", "529.6", MarkKind.MISTAKE, "upside down"),  # 63.546 / 0.12
        ("n(Cu)", "0.12", MarkKind.MISTAKE, "This is the mass"),
        ("n(Cu)", "0.00094", MarkKind.MISTAKE, "half what it should be"),
        ("ratio", "0.51", MarkKind.MISTAKE, "upside down"),  # 1 / 1.9637
        ("ratio", "3.33", MarkKind.MISTAKE, "ratio of the masses"),  # 0.40 / 0.12
        ("percent yield", "1.02", MarkKind.MISTAKE, "fraction"),
    ],
)
def test_one_answer(item: str, typed: str, kind: MarkKind, words: str) -> None:
    later = {"n(Cu)": "", "n(Ag)": "", "ratio": "", "mean ratio": "", "percent yield": ""}
    found = judged(sheet({**(later if item != "percent yield" else {}), item: typed}), item)
    assert found.kind is kind, found
    assert words in found.words


def test_an_error_is_carried_forward_to_the_end() -> None:
    """By hand: 0.21 g for 0.12 (digits turned) gives 0.0033047 mol, ratio 1.1221; means
    0.0035228 / 0.0024392 = 1.4442; of copper(II) 72.2 %."""
    wrong = {"m(Cu)": "0.21", "n(Cu)": "0.00330", "ratio": "1.12", "mean ratio": "1.44",
             "percent yield": "72"}  # fmt: skip
    red = mark_class(sheet(wrong), the_class()).groups["red"]
    kinds = {(m.judgement.item, m.judgement.trial): m.kind for m in red.marks}
    assert kinds["m(Cu)", "1"] is MarkKind.WRONG
    for item in ("n(Cu)", "ratio"):
        assert kinds[item, "1"] is MarkKind.CARRIED
        assert kinds[item, "2"] is MarkKind.RIGHT
    assert kinds["m(Ag)", "1"] is MarkKind.RIGHT
    assert kinds["mean ratio", ""] is MarkKind.CARRIED
    assert kinds["percent yield", ""] is MarkKind.CARRIED
    assert red.points == pytest.approx(8.5)  # half of the point for m(Cu) is lost
    right = {**wrong, "n(Cu)": "0.00189"}  # the right amount from a wrong mass is right
    assert judged(sheet(right), "n(Cu)").kind is MarkKind.RIGHT
    assert judged(sheet(right), "ratio").kind is MarkKind.WRONG


def test_a_step_after_an_empty_one_is_carried_forward() -> None:
    """0.21 g, no amount: the ratio of 0.0033047 mol is 1.1221 still."""
    wrong = {"m(Cu)": "0.21", "n(Cu)": "", "ratio": "1.1"}
    assert judged(sheet(wrong), "ratio").kind is MarkKind.CARRIED


def test_a_step_from_a_rounded_answer_is_right() -> None:
    """0.0019 and 0.0037 are right to two figures; their quotient is 1.95."""
    rounded = {"n(Cu)": "0.0019", "n(Ag)": "0.0037", "ratio": "1.95"}
    assert judged(sheet(rounded), "ratio").kind is MarkKind.RIGHT


def test_the_tolerance_is_as_wide_as_the_readings() -> None:
    """0.120 / 63.546 is 0.00188839 to three figures, from 0.12 g 0.0019 to two."""
    fine_lab = replace(LAB, instruments={"balance": Balance(readability_g=0.001)})
    fine = load_class(csv_bytes([["red", "1", "2.940", "2.820", "0.750", "1.150"]]), fine_lab)
    accepted = (MarkKind.RIGHT, MarkKind.FIGURES)
    for typed, coarsely, finely in (
        ("0.00189", True, True),
        ("0.0019", True, True),  # to fewer figures than the finer balance bears, and rightly
        ("0.00193", True, False),
        ("0.00197", False, False),
    ):
        answers = f"group,n(Cu)\nred,{typed}\n".encode()
        assert (judged(answers, "n(Cu)").kind in accepted) is coarsely, typed
        assert (judged(answers, "n(Cu)", data=fine).kind in accepted) is finely, typed


def test_a_difference_of_readings_is_exact() -> None:
    """2.94 − 2.82 is 0.12, whatever the balance leaves open."""
    for typed, kind in (
        ("0.12", MarkKind.RIGHT), ("0.120", MarkKind.RIGHT), ("0.13", MarkKind.MISTAKE),
        ("0.123", MarkKind.WRONG), ("0.11", MarkKind.MISTAKE),
    ):  # fmt: skip
        assert judged(f"group,m(Cu)\nred,{typed}\n".encode(), "m(Cu)").kind is kind, typed


@pytest.mark.parametrize(
    "lab",
    [
        *(experiments.load(one) for one in ("copper-silver", "copper-silver-coarse", "tin-oxide",
                                            "magnesium-gas", "acid-titration")),
        *(practice(number, level=number + 1, kind=KINDS[number]).experiment for number in range(4)),
    ],
    ids=lambda lab: lab.title,
)  # fmt: skip
def test_marking_and_self_study_judge_a_number_alike(lab: Experiment) -> None:
    alone = lab.with_trials(lab.trials[:1])
    evidence, items = assess(alone), {item.key: item for item in items_of(alone)}
    trial, seen = alone.trials[0].name, set()
    for question in lesson(alone):
        item = "ratio" if question.key == "ratio" else question.symbol
        if item not in items or question.uncertainty is not None:
            continue
        right, figures = question.number.value, question.number.figures
        typed = [f"{right:.{count - 1}e}" for count in range(1, figures + 3)]
        typed += [f"{part * right:.{figures}e}" for part in (0.9, 0.95, 0.99, 1.01, 1.06, 1.5)]
        for text in typed:
            answer = Answer("red", trial, item, text, "row 2")
            (found,) = (
                one for one in judged_alone(evidence, [items[item]], {(trial, item): answer})
            )
            accepted = check(question, text).accepted
            assert (found.kind in (MarkKind.RIGHT, MarkKind.FIGURES)) is accepted, (text, question)
            seen.add(accepted)
    assert seen == {True, False}


def test_what_follows_from_right_answers_is_right_in_self_study_too() -> None:
    """0.0019 and 0.0037 are right to two figures; to four, their quotient is 1.947."""
    ratio = next(one for one in lesson(LAB) if one.key == "ratio")
    assert not check(replace(ratio, number=Accepted.of(1.9637, 4)), "1.947").accepted
    own = {"n(Cu)": Own(0.0019, 0.026), "n(Ag)": Own(0.0037, 0.014)}
    four = replace(ratio, number=Accepted.of(1.9637, 4))
    assert check(four, "1.947", own).accepted
    wrong = {**own, "n(Cu)": Own(0.0033, 0.015, right=False)}
    assert check(four, "1.121", wrong).mistakes == (MistakeKind.CARRIED,)
    unrounded = check(four, "1.124", wrong)  # 0.0037082 / 0.0033, from the unrounded amount
    assert unrounded.mistakes == (MistakeKind.CARRIED,)
    assert not check(four, "1.121", wrong).accepted


@pytest.mark.parametrize(
    ("typed", "kind", "names"),
    [
        ("single out copper(II)", VerdictKind.SINGLED_OUT, {"copper(II)"}),
        ("Copper (II), copper(I) is excluded", VerdictKind.SINGLED_OUT, {"copper(II)"}),
        ("Excluded: copper(I)", VerdictKind.SINGLED_OUT, {"copper(II)"}),
        ("Ruled out : copper(I). Copper(II) is left", VerdictKind.SINGLED_OUT, {"copper(II)"}),
        ("copper(II) and not copper(I)", VerdictKind.SINGLED_OUT, {"copper(II)"}),
        ("not copper(I)", VerdictKind.SINGLED_OUT, {"copper(II)"}),
        ("It was Cu²⁺", VerdictKind.SINGLED_OUT, {"copper(II)"}),
        ("Cu+", VerdictKind.SINGLED_OUT, {"copper(I)"}),
        ("cannot tell copper(I) from copper(II)", VerdictKind.NOT_TOLD_APART,
         {"copper(I)", "copper(II)"}),
        ("either copper I or copper II", VerdictKind.NOT_TOLD_APART, {"copper(I)", "copper(II)"}),
        ("copper(II) fits and copper(I) cannot be excluded", VerdictKind.NOT_TOLD_APART,
         {"copper(I)", "copper(II)"}),
        ("we can't tell", VerdictKind.NOT_TOLD_APART, set()),
        ("They fit none", VerdictKind.NONE_FITS, set()),
        ("copper(I) and copper(II) are excluded", VerdictKind.NONE_FITS, set()),
        ("cannot be judged", VerdictKind.CANNOT_BE_JUDGED, set()),
        ("nothing reacted", VerdictKind.NOT_TOLD_APART, set()),
        ("the wire turned grey", None, set()),
    ],
)  # fmt: skip
def test_conclusions_as_students_write_them(
    typed: str, kind: VerdictKind | None, names: set[str]
) -> None:
    found = read_conclusion(typed, ["copper(I)", "copper(II)"])
    assert (found.kind, set(found.names)) == (kind, names)


def test_a_hydrate_is_not_taken_for_its_salt() -> None:
    names = ["MgSO4·H2O", "MgSO4·6H2O", "MgSO4·7H2O"]
    assert read_conclusion("it is MgSO₄*7H2O", names).names == {"MgSO4·7H2O"}
    assert read_conclusion("MgSO4", names).kind is None


def test_the_nearest_alone_is_no_conclusion() -> None:
    found = judged(sheet({"conclusion": "the nearest is copper(II)"}), "conclusion")
    assert found.kind is MarkKind.MISTAKE
    assert "always the nearest" in found.words
    assert judged(sheet({"conclusion": "copper(I)"}), "conclusion").kind is MarkKind.WRONG
    assert judged(sheet({"conclusion": "hm"}), "conclusion").kind is MarkKind.UNREAD


def test_readings_that_cannot_tell_want_that_said() -> None:
    """With 0.03 g Cu and 0.08 g Ag (ratio 1.57) neither candidate is excluded."""
    data = load_class(csv_bytes([["red", "1", "2.94", "2.91", "0.75", "0.83"]]), LAB)
    assert set(assess(data.groups["red"]).verdict.candidates) == {"copper(I)", "copper(II)"}
    said = {
        "cannot tell copper(I) from copper(II)": MarkKind.RIGHT,
        "cannot tell them apart": MarkKind.RIGHT,
        "copper(II)": MarkKind.MISTAKE,
        "fit none": MarkKind.WRONG,
    }
    for typed, kind in said.items():
        answers = f"group,conclusion\nred,{typed}\n".encode()
        assert judged(answers, "conclusion", data=data).kind is kind, typed


def test_a_conclusion_follows_from_the_ratio_of_the_group() -> None:
    """Ratio upside down (0.49 for 2.04): no candidate asks for that little silver."""
    wrong = {"ratio": "0.51", "mean ratio": "0.4", "conclusion": "fit none", "percent yield": ""}
    assert judged(sheet(wrong), "conclusion").kind is MarkKind.CARRIED


def test_nobody_is_asked_for_what_comes_out_below_zero() -> None:
    rows = [
        ["red", "1", "2.94", "2.82", "0.75", "0.70"],
        ["red", "2", "3.19", "3.09", "0.70", "1.06"],
    ]
    data = load_class(csv_bytes(rows), LAB)
    red = mark_class(sheet({"m(Ag)": "-0.05"}), data).groups["red"]
    kinds = {(m.judgement.item, m.judgement.trial): m for m in red.marks}
    assert kinds["m(Ag)", "1"].kind is MarkKind.NOT_ASKED
    assert kinds["m(Ag)", "1"].out_of == 0
    assert kinds["m(Ag)", "2"].out_of == 1  # the other trial has the whole point
    assert "below zero in trial 1" in red.remarks[0]
    assert not [m.judgement.answer for m in red.marks if m.judgement.answer.startswith(("-", "−"))]


def test_the_rubric_decides_the_points(tmp_path: Path) -> None:
    text = """
carried_forward = 0.5
figures_off = 0.1
[points]
"m(Cu)" = 2
"n(Cu)" = 4
conclusion = 3
"""
    (tmp_path / "rubric.toml").write_text(text)
    wrong = {"m(Cu)": "0.21", "n(Cu)": "0.003304746"}
    red = mark_class(sheet(wrong), the_class(), rubric=tmp_path / "rubric.toml").groups["red"]
    points = {(m.judgement.item, m.judgement.trial): m.points for m in red.marks}
    assert points == {
        ("m(Cu)", "1"): 0,
        ("m(Cu)", "2"): 1,
        ("n(Cu)", "1"): pytest.approx(2 * (0.5 - 0.1)),
        ("n(Cu)", "2"): 2,
        ("conclusion", ""): 3,
    }
    assert red.out_of == 9
    assert Rubric.parse(Rubric.for_items(items_of(LAB)).toml()) == Rubric.for_items(items_of(LAB))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "No item has points"),
        ("[points]\nratio = 1\n[x", "not TOML"),
        ("[points]\nratio = '1'", "points.ratio: This is not a number"),
        ("[points]\nratio = true", "points.ratio: This is not a number"),
        ("[points]\nratio = -1", "out of range. Given: -1"),
        ("[points]\nratio = nan", "out of range"),
        ("[points]\nratio = 0", "No item earns points"),
        ("carried = 1\n[points]\nratio = 1", "Did you mean “carried_forward”?"),
        ("carried_forward = 2\n[points]\nratio = 1", "Allowed: 0 to 1"),
        ("title = 3\n[points]\nratio = 1", "title: This is not text"),
        ("points = 3", "No item has points"),
        ("x" * 60_000, "too large"),
        ("a." * 2000 + "b = 1", "no field"),
    ],
)
def test_a_rubric_is_read_strictly(text: str, said: str) -> None:
    with pytest.raises(DataFileError, match="Rubric") as caught:
        Rubric.parse(text)
    assert said in str(caught.value)
    with pytest.raises(ModelError, match="Did you mean “ratio”"):
        mark_class(sheet(), the_class(), rubric=Rubric(points={"ratios": 1}))
    with pytest.raises(DataFileError, match="cannot be read"):
        load_rubric("no such file.toml")


def test_the_blank_sheet_comes_back_filled_in(tmp_path: Path) -> None:
    data = the_class()
    for name in ("a.csv", "a.xlsx"):
        file = export_answer_sheet(data, tmp_path / name)
        table = read_table(file)
        assert table.rows[0] == ("group", "trial", *(item.header for item in items_of(data)))
        assert [row[:2] for row in table.rows[1:]] == [
            ("red", "1"), ("red", "2"), ("blue", "1"), ("blue", "2"), ("green", "1"),
        ]  # fmt: skip
    book = openpyxl.load_workbook(tmp_path / "a.xlsx")
    page = book["Answers"]
    for place, text in enumerate(RIGHT[1], 3):
        assert page.cell(2, place).number_format == "@"
        page.cell(2, place).value = text
    page.cell(3, 5).value = 0.4  # a number: its zeros are lost
    out = io.BytesIO()
    book.save(out)
    red = mark_class(out.getvalue(), data).groups["red"]
    first = [m for m in red.marks if m.judgement.trial in ("1", "")]
    assert {m.kind for m in first} == {MarkKind.RIGHT}


def test_lost_zeros_are_not_missing_figures() -> None:
    book = openpyxl.Workbook()
    page = book.worksheets[0]
    page.append(["group", "m(Ag)", "m(Cu)"])
    page.append(["red", 0.4, "0.1"])
    out = io.BytesIO()
    book.save(out)
    data = load_class(csv_bytes([["red", "1", "2.94", "2.84", "0.75", "1.15"]]), LAB)
    assert judged(out.getvalue(), "m(Ag)", data=data).kind is MarkKind.RIGHT
    assert judged(out.getvalue(), "m(Cu)", data=data).kind is MarkKind.FIGURES


def test_headers_in_another_unit_and_other_groups() -> None:
    text = "Group,m(Cu) [mg],Mole ratio n(Ag) / n(Cu),seat\nRED,120,1.96,4\npink,1,2,3\n"
    data = load_class(csv_bytes([["red", "1", "2.94", "2.82", "0.75", "1.15"]]), LAB)
    marks = mark_class(text.encode(), data)
    kinds = {m.judgement.item: m.kind for m in marks.groups["red"].marks}
    assert (kinds["m(Cu)"], kinds["ratio"]) == (MarkKind.RIGHT, MarkKind.RIGHT)
    said = " ".join(map(str, marks.problems))
    assert "The class has no such group. Given: pink" in said
    assert "The column is not asked for" in said
    for bad in (b"group,m(Cu)\npink,1\n", b"group,nothing\nred,1\n", b"m(Cu)\n1\n"):
        with pytest.raises(DataFileError):
            mark_class(bad, data)


def test_codes_keep_names_out_of_marks_and_grades(tmp_path: Path) -> None:
    rows = [["Zora Quill", "1", "2.94", "2.82", "0.75", "1.15"]]
    data = load_class(csv_bytes(rows), LAB, codes=True)
    answers = b"group,m(Cu)\nZora Quill,0.12\nAbel Fenn,3\n"
    marks = mark_class(answers, data)
    assert marks.groups["G01"].points == 1
    text = export_grades(marks, tmp_path / "g.csv").read_text("utf-8-sig")
    assert text.splitlines()[1].startswith("G01,1,")
    everything = text + repr(marks) + str(marks.problems) + repr(marks.groups)
    assert "Zora" not in everything
    assert "Abel" not in everything
    assert mark_class(b"group,m(Cu)\nG01,0.12\n", data).groups["G01"].points == 1


def test_nothing_handed_in_acts_in_the_grades(tmp_path: Path) -> None:
    name = '=HYPERLINK("http://x")'
    quoted = '"' + name.replace('"', '""') + '"'
    head = "group,wire before,wire after,paper,paper + silver"
    data = load_class(f"{head}\n{quoted},2.94,2.82,0.75,1.15\n".encode(), LAB)
    typed = f"group,m(Cu),conclusion\n{quoted},=1+1,<script>alert(1)</script>\n".encode()
    marks = mark_class(typed, data)
    for ending in (".csv", ".html", ".xlsx"):
        file = export_grades(marks, tmp_path / f"g{ending}")
        if ending == ".xlsx":
            cells = [
                c.value for s in openpyxl.load_workbook(file) for r in s.iter_rows() for c in r
            ]
            assert not [c for c in cells if isinstance(c, str) and c.startswith(("=", "+", "@"))]
        else:
            text = file.read_text("utf-8-sig")
            assert "<script" not in text.lower() or ending == ".csv"
            assert "\n=" not in text


# Pages


def page_of(group: str = "red", **answers: str) -> str:
    """Return a blank page filled in as a browser saves it."""
    html = hand_in_page(assess(the_class().groups["red"]), name=group, blank=True).html()
    for (item, trial), typed in _keys(answers):
        mark = f'data-item="{item}" data-trial="{trial}">'
        assert html.count(mark) == 1, mark
        html = html.replace(mark, mark + typed)
    return html


def _keys(answers: dict[str, str]) -> list[tuple[tuple[str, str], str]]:
    found = []
    for trial in (1, 2):
        for key, text in zip(COLUMNS, RIGHT[trial], strict=True):
            if text:
                once = key in ("mean ratio", "conclusion", "percent yield")
                found.append(((key, "" if once else str(trial)), answers.get(key, text)))
    return found


def test_a_page_that_was_filled_in_is_marked() -> None:
    marks = mark_class(page_of().encode(), the_class())
    assert {mark.kind for mark in marks.groups["red"].marks} == {MarkKind.RIGHT}
    wrong = page_of(conclusion="<b>copper(I)</b><script>alert(1)</script>&nbsp;")
    found = judged(wrong.encode(), "conclusion")
    assert found.kind is MarkKind.UNREAD or found.kind is MarkKind.WRONG
    assert "<" not in found.typed


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16"])
def test_a_page_saved_by_an_editor_with_its_mark_is_read(encoding: str) -> None:
    marks = mark_class(page_of().encode(encoding), the_class())
    assert marks.groups["red"].points == pytest.approx(9)


def test_a_folder_of_pages_and_a_single_file_of_a_browser(tmp_path: Path) -> None:
    (tmp_path / "one.html").write_text(page_of(), "utf-8")
    parts = (
        "From: <Saved>\r\nMIME-Version: 1.0\r\n"
        'Content-Type: multipart/related; type="text/html"; boundary="=_b"\r\n\r\n--=_b\r\n'
        "Content-Type: text/html\r\nContent-Transfer-Encoding: 8bit\r\n\r\n"
    )
    blue = page_of("blue") + "\r\n--=_b--\r\n"
    (tmp_path / "two.mhtml").write_bytes((parts + blue).encode())
    marks = mark_class(tmp_path, the_class())
    assert marks.groups["red"].points == pytest.approx(9)
    assert marks.groups["blue"].handed_in


def test_a_page_that_the_program_worked_out_holds_no_answers() -> None:
    html = hand_in_page(assess(the_class().groups["red"]), name="red").html().encode()
    with pytest.raises(DataFileError, match="no fields for answers"):
        mark_class(html, the_class())
    with pytest.raises(DataFileError, match="does not name its group"):
        mark_class(page_of("").encode(), the_class())


@pytest.mark.parametrize(
    "page",
    [
        "<html>" + "<" * 1000,
        "<html>" + "<![" * 1000,
        "<html data-item=",
        "<!-- data-item=",
        "<html><p data-item='group'>red<p data-item='m(Cu)' data-trial='1'>" + "<div>" * 5000,
        "<html>\x00<b data-item='group'>red</b><b data-item='\ud7ff'>1</b>",
    ],
)
def test_hostile_pages_are_refused_or_read_and_never_act(page: str) -> None:
    with contextlib.suppress(DataFileError):
        mark_class(page.encode("utf-8", "surrogatepass"), the_class())


def test_what_is_odd_about_answers_is_said_with_its_row_and_column() -> None:
    text = b"group,trial,m(Cu)\nred,9,0.12\npink,1,0.1\nred,1,0.12\nred,1,0.13\n"
    said = [str(one) for one in mark_class(text, the_class()).problems]
    assert (
        "Row 2, column C: Group red has no such trial. Given: 9. Allowed: 1, 2. Its answers were "
        "not marked."
    ) in said
    assert (
        "Row 3, column C: The class has no such group. Given: pink. Its answers were not marked."
    ) in said
    assert (
        "Row 5, column C: Group red answered m(Cu) twice. Given: 0.13. The first counts: 0.12."
    ) in said
