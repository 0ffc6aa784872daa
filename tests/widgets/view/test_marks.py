"""Answers and marks on the screen “Class”: opened, marked beside the readings, handed out."""

from __future__ import annotations

import base64
import json

from tests.classfiles import csv_bytes

from .test_classroom import Page, walk

ANSWERS = b"""group,trial,m(Cu),n(Cu),m(Ag),n(Ag),ratio,conclusion
red,1,0.12,0.00189,0.40,0.00371,1.96,copper(II)
red,2,0.10,0.0016,0.36,0.0033,2.1,
green,1,0.10,0.00157,0.34,0.00315,0.50,copper(II)
"""


def opened(page: Page, name: str, content: bytes, to: str = "answers") -> None:
    page.do("file", id=to, name=name, base64=base64.b64encode(content).decode())


def table(page: Page, place: int = 0) -> dict[str, object]:
    return [b for b in walk(page.regions["marks"]) if b["kind"] == "table"][place]


def test_answers_are_marked_item_by_item_and_handed_out() -> None:
    """Red has everything right; green's ratio is upside down, 0.00157 / 0.00315."""
    page = Page()
    assert page.regions["marks"] == []
    page.upload(csv_bytes())
    opened(page, "answers.csv", ANSWERS)
    rows = {row[0]: row for row in table(page)["rows"]}  # type: ignore[attr-defined]
    head = list(table(page)["header"])  # type: ignore[call-overload]
    assert rows["red"][head.index("ratio")] == "1"
    assert rows["green"][head.index("ratio")] == "0"
    assert rows["blue"][-1] == "No answer was handed in."
    place = [row[0] for row in table(page)["rows"]].index("green")  # type: ignore[attr-defined]
    page.do("pick", id="marked", to=place)
    said = json.dumps(table(page, 1), ensure_ascii=False)
    assert "Answers of green" in said
    assert "upside down" in said
    page.press("hand-csv")
    page.press("hand-feedback")
    page.press("hand-grades")
    assert [name for name, _ in page.files] == ["grades.csv", "feedback.html", "grades.xlsx"]
    assert b"green," in page.files[0][1]
    assert "green:" in page.files[1][1].decode()


def test_the_first_group_shown_has_handed_something_in() -> None:
    page = Page()
    page.upload(csv_bytes())
    opened(page, "answers.csv", b"group,m(Cu)\ngreen,0.10\n")
    assert table(page, 1)["caption"] == "Answers of green"
    assert table(page)["selected"] == 2
    page.do("pick", id="marked", to=0)
    opened(page, "more.csv", b"group,m(Ag)\nblue,0.34\n")
    assert table(page, 1)["caption"] == "Answers of red"  # the one chosen stays


def test_a_rubric_counts_and_bad_files_lose_nothing() -> None:
    page = Page()
    page.upload(csv_bytes())
    opened(page, "answers.csv", ANSWERS)
    opened(page, "r.toml", b"[points]\nratio = 4\n", to="rubric")
    assert table(page)["header"] == ["Group", "ratio", "Points", "Out of", "Look at"]
    opened(page, "r.toml", b"[points]\nratios = 'x'\n", to="rubric")
    assert "not a number" in page.said
    opened(page, "other.csv", b"group,m(Cu)\npink,1\n")
    assert "Put the answers away" in page.text
    page.press("answers-away")
    assert not [b for b in walk(page.regions["marks"]) if b["kind"] == "table"]


def test_with_codes_marks_show_no_name() -> None:
    page = Page()
    page.upload(csv_bytes())
    page.do("tick", id="codes", to=True)
    opened(page, "red's answers.csv", ANSWERS)
    assert [row[0] for row in table(page)["rows"]] == ["G01", "G02", "G03"]  # type: ignore[attr-defined]
    assert "red" not in json.dumps(table(page)["rows"])
    assert "red's" not in json.dumps(page.regions["marks"])
