"""The way of one invented class by commands, from the plan to marks, as a person types them."""

from __future__ import annotations

import csv
import re
import time
from pathlib import Path

import pytest

from stoichkit.__main__ import main
from stoichkit.classroom import load_choices
from tests.classfiles import csv_bytes
from tests.classroom.test_review import ALIKE, SWAPPED

LAB = ["--experiment", "copper-silver"]
BEFORE = [
    ["plan", "--metal", "Cu", "--states", "1,2", "--bath", "AgNO3", "--balance", "0.01",
     "--benches", "4", "--trials", "2", "--minutes", "90", "--output", "plan.csv"],
    ["cards", "copper-silver", "--groups", "4"],
    ["sheet", "copper-silver", "--groups", "4", "--output", "blank-readings.csv"],
]  # fmt: skip
"""Commands that come before the readings."""
ANSWERS = """group,trial,m(Cu),n(Cu),m(Ag),n(Ag),ratio,mean ratio,conclusion,percent yield
red,1,0.12,0.00189,0.40,0.00371,1.96,2.04,copper(II),102
red,2,0.10,0.0016,0.36,0.0033,2.1,,,
blue,1,0.11,0.00173,0.39,0.00362,2.09,,single out copper(II),104
green,1,0.10,0.00157,0.34,0.00315,0.50,,copper(II),100
"""


def typed(*arguments: str, times: dict[str, float]) -> None:
    start = time.monotonic()
    assert main(list(arguments)) == 0
    times[arguments[0]] = time.monotonic() - start


def test_from_the_plan_to_marks(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Blue: 3.14 − 3.03 = 0.11 g, 0.001731 mol; 1.12 − 0.73 = 0.39 g, 0.003616 mol; ratio 2.09."""
    monkeypatch.chdir(tmp_path)
    Path("class.csv").write_bytes(csv_bytes(SWAPPED))
    Path("answers.csv").write_text(ANSWERS, "utf-8")
    times: dict[str, float] = {}
    for command in BEFORE:
        typed(*command, times=times)
    typed("review", "class.csv", *LAB, "--accept", "all", "--initials", "EK",
          "--reason", "columns swapped", "--save", "class.choices.toml", times=times)  # fmt: skip
    said = " ".join(capsys.readouterr().out.split())
    assert "As typed 4 Together the 4 groups cannot be judged" in said
    assert len(load_choices("class.choices.toml").decisions) == 4
    typed("class", "class.csv", *LAB, "--choices", "class.choices.toml", "--out", "report.md",
          times=times)  # fmt: skip
    assert capsys.readouterr().out.startswith("Together the 4 groups single out copper(II).")
    assert "columns swapped | EK" in Path("report.md").read_text("utf-8")
    same = ["--class", "class.csv", *LAB, "--choices", "class.choices.toml"]
    typed("answer-sheet", *same, "--out", "blank.csv", "--pages", "pages",
          "--rubric", "rubric.toml", times=times)  # fmt: skip
    assert len(list(Path("pages").iterdir())) == 4
    Path("rubric.toml").write_text(
        re.sub("figures_off = [0-9.]+", "figures_off = 0.5", Path("rubric.toml").read_text())
    )
    typed("mark", "answers.csv", *same, "--rubric", "rubric.toml", "--grades", "grades.csv",
          "--feedback", "feedback.html", times=times)  # fmt: skip
    with open("grades.csv", encoding="utf-8-sig", newline="") as file:
        grades = {row["group"]: row for row in csv.DictReader(file)}
    assert {name: row["total"] for name, row in grades.items()} == {
        "red": "9", "blue": "8", "green": "7", "teal": "0",
    }  # fmt: skip
    assert "ratio a known mistake" in grades["green"]["remarks"]
    assert "No answer was handed in" in grades["teal"]["remarks"]
    assert Path("feedback.html").read_text("utf-8").count('<section class="kept">') == 4
    with capsys.disabled():
        print(" ".join(f"{name} {seconds:.2f} s" for name, seconds in times.items()), end=" ")


def test_a_mistake_alike_in_all_trials_is_accepted_by_command(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("class.csv").write_bytes(csv_bytes(ALIKE))
    assert main(["review", "class.csv", *LAB]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "all 5" in said
    assert "0.75 → 1.15" in said
    assert main(["review", "class.csv", *LAB, "--accept", "1", "--initials", "EK",
                 "--save", "class.choices.toml"]) == 0  # fmt: skip
    assert len(load_choices("class.choices.toml").decisions) == 10
    assert "Every group is doubtful" in " ".join(capsys.readouterr().out.split())
    assert main(["class", "class.csv", *LAB, "--choices", "class.choices.toml"]) == 0
    assert "Together the 4 groups single out copper(II)." in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["review", "class.csv", *LAB, "--accept", "9"], "no repair of this number"),
        (["review", "class.csv", *LAB, "--set-aside", "red", "9"], "no such trial in use"),
        (["review", "class.csv", *LAB, "--correct", "red", "1", "papr", "1"], "no such reading"),
        (["review", "class.csv", *LAB, "--correct", "red", "1", "paper", "x"], "cannot be used"),
        (["answer-sheet", *LAB], "Nothing is to be written"),
        (["mark", "none.csv", *LAB], "no such file"),
        (["mark", "class.csv", "--class", "class.csv", *LAB], "No column of the file is an item"),
        (["mark", "bad.csv", "--class", "class.csv", *LAB], "No answer belongs to a group"),
        (["mark", "bad.csv", "--class", "class.csv", *LAB, "--rubric", "bad.csv"], "not TOML"),
    ],
)
def test_faults_are_told_in_a_line(
    arguments: list[str],
    said: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("class.csv").write_bytes(csv_bytes(SWAPPED))
    Path("bad.csv").write_text("group,m(Cu)\npink,1\n")
    assert main(arguments) == 2
    assert said in capsys.readouterr().err
