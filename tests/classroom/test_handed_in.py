"""Answers out of sheets and pages, without a class: which cell or field is whose answer."""

from __future__ import annotations

from pathlib import Path

import pytest

from stoichkit.classroom.handed_in import Answer, load_answers
from stoichkit.classroom.items import Item
from stoichkit.errors import DataFileError

ITEMS = (
    Item("m(Cu)", "mass of Cu", "g", True), Item("ratio", "mole ratio", "", True),
    Item("conclusion", "which candidates", "", False),
)  # fmt: skip


def of_sheet(*lines: str) -> list[tuple[str, str, str, str]]:
    found = load_answers("\n".join(lines).encode(), ITEMS).answers
    return [(one.group, one.trial, one.item, one.text) for one in found]


def told(*lines: str) -> list[str]:
    return [str(one) for one in load_answers("\n".join(lines).encode(), ITEMS).problems]


def test_a_group_stands_until_the_next() -> None:
    rows = ("red,1,0.12,Cu2O", ",2,0.10,", "blue,,,CuO")
    assert of_sheet("group,trial,m(Cu),conclusion", *rows) == [
        ("red", "1", "m(Cu)", "0.12"), ("red", "1", "conclusion", "Cu2O"),
        ("red", "2", "m(Cu)", "0.10"), ("blue", "", "conclusion", "CuO"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    "header",
    ["m(Cu)", "mass of Cu", "M(CU): Mass  of_Cu", "m(Cu): mass of Cu / g", "m(Cu) [g]", "m(Cu) / g",
     "mass of Cu (in g)"],
)  # fmt: skip
def test_ways_to_head_a_column(header: str) -> None:
    found = load_answers(f"code,{header}\nred,0.12\n".encode(), ITEMS)
    (answer,) = found.answers
    assert (answer.item, answer.unit, answer.place) == ("m(Cu)", "", "row 2, column B")


def test_a_column_in_another_unit_says_so() -> None:
    for header, unit in (("m(Cu) / mg", "mg"), ("mass of Cu [kg]", "kg"), ("m(Cu) (in mg)", "mg")):
        (answer,) = load_answers(f"group,{header}\nred,120\n".encode(), ITEMS).answers
        assert (answer.item, answer.unit) == ("m(Cu)", unit)
    with pytest.raises(DataFileError, match="No column of the file is an item"):
        load_answers(b"group,m(Cu) / mol\nred,120\n", ITEMS)


def test_the_header_is_the_row_that_names_most() -> None:
    assert of_sheet("Answers of Monday", "group,ratio", "group,trial,ratio,conclusion",
                    "red,1,2.0,CuO") == [
        ("red", "1", "ratio", "2.0"), ("red", "1", "conclusion", "CuO"),
    ]  # fmt: skip
    high = ["x"] * 39 + ["group,ratio", "red,2.0"]
    assert of_sheet(*high) == [("red", "", "ratio", "2.0")]
    with pytest.raises(DataFileError):
        of_sheet("x", *high)  # in the forty-first row
    assert of_sheet("group,ratio,ratio", "red,2.0,3.0") == [("red", "", "ratio", "2.0")]


def test_what_is_odd_about_a_sheet_is_told() -> None:
    said = told("group,ratio,colour,", "red,2.0,blue,")
    assert "There is no column for this item. Given: m(Cu). It counts as empty." in said[0]
    assert "conclusion" in said[1]
    assert said[2] == "Column C (colour): The column is not asked for. Not used."
    assert len(said) == 3
    late = told("group,ratio,m(Cu),conclusion", ",2.0,,", "red,2.0,0.1,x")
    assert late == ["Row 2: The row has no group. It was not used."]
    with pytest.raises(DataFileError, match="No column names the groups"):
        told("trial,ratio", "1,2.0")
    with pytest.raises(DataFileError, match="No answers were found"):
        told("group,ratio", "red,")


def page(*fields: tuple[str, str, str], group: str = "red") -> str:
    body = f'<p data-item="group">{group}</p>' + "".join(
        f'<p data-item="{item}" data-trial="{trial}">{text}</p>' for item, trial, text in fields
    )
    return f"<!doctype html><html>{body}</html>"


FIELDS = (("m(Cu)", "1", "0.12"), ("conclusion", "", "CuO"), ("ratio", "1", ""))
EXPECTED = (
    Answer("red", "1", "m(Cu)", "0.12", "page"), Answer("red", "", "conclusion", "CuO", "page"),
)  # fmt: skip


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig"])
def test_a_page_with_or_without_a_byte_order_mark(encoding: str) -> None:
    assert load_answers(page(*FIELDS).encode(encoding), ITEMS).answers == EXPECTED


def test_a_page_that_a_browser_saved_with_its_pictures() -> None:
    """The text is the second of three parts."""
    part = "--=_b\r\nContent-Type: {}\r\nContent-Transfer-Encoding: 8bit\r\n\r\n{}\r\n"
    saved = (
        'MIME-Version: 1.0\r\nContent-Type: multipart/related; boundary="=_b"\r\n\r\n'
        + part.format("text/css", "p { color: red }") + part.format("text/html", page(*FIELDS))
        + part.format("text/html", page(("ratio", "1", "9"), group="blue")) + "--=_b--\r\n"
    )  # fmt: skip
    assert load_answers(saved.encode(), ITEMS).answers == EXPECTED


def test_fields_that_are_not_asked_for_are_told_up_to_twenty() -> None:
    strange = [(f"x{n}", "", "1") for n in range(25)]
    found = load_answers(page(*FIELDS, *strange).encode(), ITEMS)
    assert found.answers == EXPECTED
    assert len(found.problems) == 20
    assert found.problems[0].given == "x0"
    assert not load_answers(page(*FIELDS, ("x", "", "")).encode(), ITEMS).problems


def test_a_page_without_a_name_or_fields_is_not_used() -> None:
    with pytest.raises(DataFileError, match="does not name its group"):
        load_answers(page(*FIELDS, group="").encode(), ITEMS)
    with pytest.raises(DataFileError, match="no fields for answers"):
        load_answers(b"<html><p>0.12</p></html>", ITEMS)
    both = load_answers([page(*FIELDS, group="").encode(), page(*FIELDS).encode()], ITEMS)
    assert both.answers == EXPECTED
    assert len(both.problems) == 1


def test_a_page_has_two_megabytes_and_an_answer_two_thousand_characters() -> None:
    text = page(*FIELDS).encode()
    assert load_answers(text + b" " * (2_000_000 - len(text)), ITEMS).answers == EXPECTED
    with pytest.raises(DataFileError, match="up to 2 MB"):
        load_answers(text + b" " * (2_000_001 - len(text)), ITEMS)
    (long,) = load_answers(page(("conclusion", "", "x" * 2001)).encode(), ITEMS).answers
    assert len(long.text) == 2000


def test_the_pages_of_a_folder(tmp_path: Path) -> None:
    with pytest.raises(DataFileError, match="holds no pages"):
        load_answers(tmp_path, ITEMS)
    (tmp_path / "b.HTM").write_text(page(*FIELDS, group="blue"), "utf-8")
    (tmp_path / "a.html").write_text(page(*FIELDS), "utf-8")
    (tmp_path / "notes.txt").write_text("x", "utf-8")
    found = load_answers(tmp_path, ITEMS).answers
    assert [(one.group, one.place) for one in found] == [
        ("red", "a.html"), ("red", "a.html"), ("blue", "b.HTM"), ("blue", "b.HTM"),
    ]  # fmt: skip
