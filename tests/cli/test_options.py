"""What single options of the commands do, and what is said of them."""

from __future__ import annotations

import io
import re
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

from stoichkit import experiments
from stoichkit.__main__ import main
from stoichkit.experiments.address import lab_in
from stoichkit.experiments.store import load_experiment
from tests.classfiles import HEADER, ROWS, csv_bytes

LAB = ["--experiment", "copper-silver"]
WEIGHED = ["weighed", "--consumed", "Fe=7.3,6.2", "--produced", "Cu=53.4,54.7", "--balance", "0.1",
           "--states", "2,3"]  # fmt: skip


@pytest.fixture(autouse=True)
def _here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def said(capsys: pytest.CaptureFixture[str]) -> str:
    return " ".join(capsys.readouterr().out.split())


def refused(arguments: list[str], *words: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(arguments) == 2
    shown = capsys.readouterr().err
    assert shown.startswith("stoichkit: ")
    assert shown.count("\n") == 1
    for word in words:
        assert word in shown


def test_columns_of_other_names_are_pointed_out(capsys: pytest.CaptureFixture[str]) -> None:
    """The class of ``ROWS`` whose wire is in columns of no telling name."""
    names = (*HEADER[:2], "start / g", "end / g", *HEADER[4:])
    Path("plain.csv").write_bytes(csv_bytes())
    Path("other.csv").write_bytes(csv_bytes(header=names))
    assert main(["class", "plain.csv", *LAB]) == 0
    plain = capsys.readouterr().out.partition("\n\n")[2].replace("plain.csv", "")
    pairs = ["--column", "wire before=start / g", "--column", "wire after = D"]
    assert main(["class", "other.csv", *LAB, *pairs]) == 0
    other = capsys.readouterr().out.partition("\n\n")[2].replace("other.csv", "")
    assert "single out copper(II)" in other
    assert (
        other.partition("Groups")[2].split("\n")[:8] == plain.partition("Groups")[2].split("\n")[:8]
    )


def test_a_question_about_the_file_is_answered_by_its_key(
    capsys: pytest.CaptureFixture[str],
) -> None:
    Path("twice.csv").write_bytes(csv_bytes([*ROWS, ROWS[0]]))
    assert main(["class", "twice.csv", *LAB]) == 0
    asked = re.findall("--answer “(.*?)”", capsys.readouterr().err)
    assert asked
    assert main(["class", "twice.csv", *LAB, "--answer", asked[-1]]) == 0
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize("option", ["--column", "--answer"])
@pytest.mark.parametrize("text", ["wire before", "=C", " =C", "wire before=", "wire before= "])
def test_what_is_no_pair_is_refused(
    option: str, text: str, capsys: pytest.CaptureFixture[str]
) -> None:
    form = {"--column": "READING=COLUMN", "--answer": "KEY=ANSWER"}[option]
    refused(["class", *LAB, option, text], f"{option} is not a pair", f"Allowed: {form}.",
            capsys=capsys)  # fmt: skip


def test_a_terminal_and_a_closed_input_are_no_class(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    terminal = io.StringIO()
    monkeypatch.setattr(terminal, "isatty", lambda: True)
    for one in (terminal, None):
        monkeypatch.setattr(sys, "stdin", one)
        refused(["class", "-", *LAB], "Standard input is a terminal", capsys=capsys)
    refused(["test", "-"], "Standard input is closed", capsys=capsys)


def test_a_class_is_piped_in(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(csv_bytes())))
    assert main(["class", "-", *LAB, "--note", "Invented."]) == 0
    shown = said(capsys)
    assert "Invented." in shown
    assert "for practice" not in shown
    assert "copper(II)" in shown


@pytest.mark.parametrize(
    ("option", "text"),
    [("--consumed", "7.3,6.2"), ("--consumed", "=7.3,6.2"), ("--produced", "53.4,54.7"),
     ("--produced", " =53.4,54.7")],
)  # fmt: skip
def test_the_option_without_a_substance_is_named(
    option: str, text: str, capsys: pytest.CaptureFixture[str]
) -> None:
    given = {"--consumed": "Fe=7.3,6.2", "--produced": "Cu=53.4,54.7"} | {option: text}
    refused(["weighed", *(word for pair in given.items() for word in pair)],
            f"{option} does not name a substance", capsys=capsys)  # fmt: skip


def test_where_a_lab_was_saved_is_said_below_a_report_on_the_screen_only(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main([*WEIGHED, "--save", "a.toml"]) == 0
    assert capsys.readouterr().out.endswith("\n\nSaved as a.toml.\n")
    assert main([*WEIGHED, "--save", "b.toml", "--output", "b.txt"]) == 0
    assert capsys.readouterr().out == ""
    assert main([*WEIGHED, "--save", "c.toml", "--format", "json"]) == 0
    assert "Saved as" not in capsys.readouterr().out
    assert main(WEIGHED) == 0
    assert "Saved as" not in capsys.readouterr().out
    assert load_experiment("a.toml") == load_experiment("c.toml")


def test_a_new_lab_is_saved_under_the_name_offered(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = "1\niron\n\nCu\n\n\n2, 3\n\n\n7.30\n6.18\n1.40\n2.67\n\n\n"
    monkeypatch.setattr(sys, "stdin", io.StringIO(lines))
    assert main(["new"]) == 0
    assert "Saved as my-lab.toml." in capsys.readouterr().out
    assert load_experiment("my-lab.toml").trials[0].readings["Fe after"] == ("6.18",)


def test_pages_alone_are_written_one_for_each_group_and_numbered_from_one(
    capsys: pytest.CaptureFixture[str],
) -> None:
    Path("class.csv").write_bytes(csv_bytes())
    command = ["answer-sheet", "--class", "class.csv", *LAB, "--pages", "new/pages"]
    assert main(command) == 0
    pages = sorted(Path("new/pages").iterdir())
    assert [page.name for page in pages] == [f"answers-{n}.html" for n in (1, 2, 3)]
    for page, group in zip(pages, ("red", "blue", "green"), strict=True):
        assert group in page.read_text("utf-8")
    capsys.readouterr()
    refused(command, "answers-1.html", "--force", capsys=capsys)
    assert main([*command, "--force"]) == 0


def test_one_of_sheet_pages_and_rubric_is_enough(capsys: pytest.CaptureFixture[str]) -> None:
    for option, name in (("--out", "s.csv"), ("--rubric", "r.toml")):
        assert main(["answer-sheet", *LAB, option, name]) == 0
        assert capsys.readouterr().out == f"Written: {name}\n"
    refused(["answer-sheet", *LAB], "Nothing is to be written", capsys=capsys)


def test_marks_are_said_with_a_dash_where_nothing_is_to_be_looked_at(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Blue: 3.14 − 3.03 = 0.11 g; of the others nothing was handed in."""
    Path("class.csv").write_bytes(csv_bytes(ROWS[2:3]))
    Path("answers.csv").write_text("group,trial,m(Cu)\nblue,1,0.11\n", "utf-8")
    assert main(["mark", "answers.csv", "--class", "class.csv", *LAB]) == 0
    shown = capsys.readouterr().out
    assert shown.endswith("\n")
    row = next(line for line in shown.splitlines() if line.startswith("blue"))
    assert row.split()[:2] == ["blue", "1"]


@pytest.mark.parametrize(
    ("command", "words"),
    [
        ("solution", ["--concentration MOL_PER_L wanted, mol/L", "--volume ML wanted, mL"]),
        ("bench", ["--mass G mass to react in each trial, g;", "--moles MOL the same as an amount,"
                   " mol,", "1.2 if left out"]),
        ("weighed", ["its mass in g before and after", "mass in g of its empty", "balance, g; 0.01"
                     " if left out", "balance, g; half a step"]),
        ("next", ["balance, g; a tenth"]),
    ],
)  # fmt: skip
def test_units_and_defaults_are_in_the_help(
    command: str, words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit):
        main([command, "--help"])
    shown = said(capsys)
    for one in words:
        assert one in shown


def test_what_the_help_calls_the_default_is_the_default(
    capsys: pytest.CaptureFixture[str],
) -> None:
    for left_out, said_too in (
        (["bench", "copper-silver", "--mass", "0.1"], ["--excess", "1.2", "--groups", "1"]),
        (WEIGHED[:5] + WEIGHED[7:], ["--balance", "0.01"]),
    ):
        assert main(left_out) == 0
        alone = capsys.readouterr().out
        assert main([*left_out, *said_too]) == 0
        assert capsys.readouterr().out == alone
    assert "0.005 g is assumed" in " ".join(alone.split())


@pytest.mark.parametrize("text", ["1.5", "²", "-1", "two"])
def test_trials_are_a_whole_number(text: str, capsys: pytest.CaptureFixture[str]) -> None:
    refused(["plan", "--metal", "Fe", "--bath", "CuSO4.5H2O", "--benches", "2",
             f"--trials={text}"], "not a whole number", capsys=capsys)  # fmt: skip


@pytest.mark.parametrize("text", ["Fe", "=50", " =50"])
def test_a_stock_is_a_substance_and_its_mass(text: str, capsys: pytest.CaptureFixture[str]) -> None:
    refused(["plan", "--metal", "Fe", "--bath", "CuSO4.5H2O", "--benches", "2", "--stock", text],
            "Allowed: Fe=50", capsys=capsys)  # fmt: skip


def test_a_correction_keeps_what_was_typed(capsys: pytest.CaptureFixture[str]) -> None:
    Path("class.csv").write_bytes(csv_bytes())
    correct = ["review", "class.csv", *LAB, "--initials", "EK", "--correct"]
    assert main([*correct, "blue", "2", "paper", "0.71", "--save", "c.toml"]) == 0
    kept = Path("c.toml").read_text("utf-8")
    assert '"0.70"' in kept
    assert '"0.71"' in kept
    capsys.readouterr()
    refused([*correct, "pink", "1", "paper", "0.71"], "no such reading", "a group and trial as in",
            capsys=capsys)  # fmt: skip
    refused([*correct, "blue", "2", "papr", "0.71"], "no such reading",
            "Allowed: wire before, wire after, paper, paper + silver.", capsys=capsys)  # fmt: skip


def test_a_link_opens_the_lab_it_names(capsys: pytest.CaptureFixture[str]) -> None:
    """Behind the site's own address, whatever stood behind its # before."""
    for lab, end in (("tin-oxide", "lab=tin-oxide"), ("86CAU28", "practice=86CAU28")):
        assert main(["link", lab, "--site", "https://lab.example/page#old"]) == 0
        assert capsys.readouterr().out == f"https://lab.example/page#{end}\n"
    text = experiments.read("tin-oxide").replace('title = "', 'title = "My ', 1)
    Path("mine.toml").write_text(text, "utf-8")
    assert main(["link", "mine.toml"]) == 0
    assert lab_in(capsys.readouterr().out.strip().removeprefix("#")) == load_experiment("mine.toml")


def test_the_size_of_a_site_is_in_megabytes(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """12 300 000 bytes are 12.3 MB: a megabyte is 10⁶ bytes (SI prefixes, BIPM brochure)."""
    made = SimpleNamespace(folder=Path("out"), all_bytes=12_300_000, first_bytes=4_560_000,
                           version="abc", notes=("No workbooks.",))  # fmt: skip
    monkeypatch.setattr("stoichkit.widgets.site.build.build_site", lambda *_, **__: made)
    assert main(["site", "out", "--pyodide", "there"]) == 0
    shown = capsys.readouterr().out
    assert shown.startswith("out: 12.3 MB, of which the first answer needs 4.6 MB; version abc.\n")
    assert "\nNo workbooks.\n" in shown
