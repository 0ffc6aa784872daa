"""What single options of the commands do, and what is said of them."""

from __future__ import annotations

import io
import re
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from stoichkit import experiments
from stoichkit.__main__ import main
from stoichkit.classroom.marking import GroupMarks
from stoichkit.classroom.tables import Problem
from stoichkit.cli.classroom import _progress
from stoichkit.cli.marking import _MOST_SAID, _said
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


def test_the_progress_of_a_large_class_is_told_at_each_tenth(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Of 50 groups nothing is told; of 100 at the 10th, 20th … and once each."""
    few: Any = SimpleNamespace(names=range(50))
    more: Any = SimpleNamespace(names=range(51))
    many: Any = SimpleNamespace(names=range(100))
    assert _progress(few, "assessed") is None
    assert _progress(more, "assessed") is not None
    told = _progress(many, "assessed")
    assert told is not None
    for done in (1, 9, 10, 11, 19, 25, 100):
        assert not told(done, 100)
    assert capsys.readouterr().err.splitlines() == [
        "10 % of 100 groups assessed", "20 % of 100 groups assessed",
        "100 % of 100 groups assessed",
    ]  # fmt: skip


def marks_of(groups: int, problems: int = 0) -> Any:
    named = {f"g{n}": GroupMarks(f"g{n}", ()) for n in range(1, groups + 1)}
    odd = [Problem(n, "", f"Odd {n}.") for n in range(1, problems + 1)]
    return SimpleNamespace(groups=named, problems=odd)


def test_the_marks_of_as_many_groups_as_a_screen_holds_are_said() -> None:
    most = _MOST_SAID
    assert "more groups" not in _said(marks_of(most))
    more = _said(marks_of(most + 3))
    assert f"g{most} " in more
    assert f"g{most + 1} " not in more
    assert "3 more groups are in the grade file." in more
    assert "Odd" not in more
    odd = _said(marks_of(1, most + 1))
    assert f"Odd {most}." in odd
    assert f"Odd {most + 1}." not in odd


PLAN = ["plan", "--metal", "Fe", "--bath", "CuSO4.5H2O", "--benches", "2", "--trials", "1"]


@pytest.fixture
def compared(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Have no set-ups compared; return what is asked of what would be found."""
    asked: list[str] = []
    document = SimpleNamespace(written=lambda form: f"{form}\n")
    found = SimpleNamespace(
        document=lambda: document,
        sorted=lambda by: asked.append(f"sorted by {by}") or found,
        save=lambda place, *, replace: asked.append(f"saved as {place}, {replace}"),
    )
    monkeypatch.setattr("stoichkit.bench.room.compare_setups", lambda *_, **__: found)
    return asked


def test_a_table_of_set_ups_has_a_form_of_its_own(
    compared: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    refused([*PLAN, "--output", "t.csv", "--format", "text"], "not written in this form",
            "--format text", capsys=capsys)  # fmt: skip
    assert main([*PLAN, "--output", "t.csv"]) == 0
    assert main([*PLAN, "--output", "t.XLSX", "--force"]) == 0
    assert compared == ["saved as t.csv, False", "saved as t.XLSX, True"]
    assert main([*PLAN, "--output", "t.md"]) == 0
    assert Path("t.md").read_text("utf-8") == "markdown\n"
    assert main([*PLAN, "--format", "html", "--output", "t.txt"]) == 0
    assert Path("t.txt").read_text("utf-8") == "html\n"
    assert capsys.readouterr().out == ""


def test_set_ups_are_put_in_the_order_asked_for(
    compared: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(PLAN) == 0
    assert compared == []
    assert main([*PLAN, "--sort", "mass"]) == 0
    assert compared == ["sorted by mass"]
    assert capsys.readouterr().out == "text\ntext\n"


def test_a_sheet_has_the_trials_of_the_lab_or_three() -> None:
    def trials(name: str, *options: str) -> int:
        Path("sheet.csv").unlink(missing_ok=True)
        assert main(["sheet", name, "--output", "sheet.csv", *options]) == 0
        lines = Path("sheet.csv").read_text("utf-8-sig").splitlines()
        head = next(n for n, line in enumerate(lines) if line.startswith(("group,", "group;")))
        return len([line for line in lines[head + 1 :] if line])

    assert trials("copper-silver") == 4
    assert trials("copper-silver", "--trials", "2") == 2
    assert main(["weighed", *WEIGHED[1:], "--save", "iron.toml"]) == 0
    bare = Path("iron.toml").read_text("utf-8").partition("[[trials]]")[0]
    Path("bare.toml").write_text(bare, "utf-8")
    assert trials("bare.toml") == 3
    assert trials("bare.toml", "--trials", "1") == 1


def test_the_picture_of_a_demonstration_is_drawn_anew_and_no_other(
    capsys: pytest.CaptureFixture[str],
) -> None:
    for _ in range(2):
        assert main([]) == 0
    shown = capsys.readouterr().out
    assert "Picture: " in shown
    place = Path(re.findall("Picture: (.*)", shown)[0])
    assert place.exists()
    assert "eye protection" in shown
    assert main(["--no-picture"]) == 0
    assert "Picture: " not in capsys.readouterr().out
    assert main(["--picture", "own.svg"]) == 0
    capsys.readouterr()
    refused(["--picture", "own.svg"], "own.svg", capsys=capsys)
    assert main(["--picture", "own.svg", "--force"]) == 0


@pytest.mark.parametrize(
    ("text", "good"), [("1", True), ("2", False), ("0", False), ("all", True), ("one", False)]
)
def test_a_repair_is_accepted_by_its_number(
    text: str, good: bool, capsys: pytest.CaptureFixture[str]
) -> None:
    """One reading of blue has its digits exchanged: 1.34 for 3.14, one repair of its kind."""
    rows = [*ROWS[:2], ("blue", "1", "1.34", "3.03", "0.73", "1.12"), *ROWS[3:]]
    Path("class.csv").write_bytes(csv_bytes(rows))
    command = ["review", "class.csv", *LAB, "--initials", "EK"]
    assert main(command) == 0
    shown = capsys.readouterr().out
    assert shown.startswith("Repairs that the readings suggest")
    assert "accepted" not in shown
    numbers = [line.split()[0] for line in shown.splitlines() if line[:1].isdigit()]
    if good:
        assert main([*command, "--accept", text]) == 0
        assert "accepted" in capsys.readouterr().out
    elif text not in numbers:
        refused([*command, "--accept", text], "no repair of this number",
                f"Allowed: 1 to {len(numbers)}, or all.", capsys=capsys)  # fmt: skip
    Path("clean.csv").write_bytes(csv_bytes())
    assert main(["review", "clean.csv", *LAB]) == 0
    assert capsys.readouterr().out.startswith("No repair is suggested.")
    refused(["review", "clean.csv", *LAB, "--accept", "1"], "Allowed: none is suggested",
            capsys=capsys)  # fmt: skip


def test_the_guide_lists_its_pages_or_prints_one(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["guide"]) == 0
    names = capsys.readouterr().out.split()
    assert len(names) > 1
    assert main(["guide", names[0]]) == 0
    assert len(capsys.readouterr().out) > 200


def test_ready_labs_are_listed_as_invented_or_recorded(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["list"]) == 0
    lines = capsys.readouterr().out.splitlines()
    for name in experiments.names():
        lab = experiments.load(name)
        (line,) = [one for one in lines if one.split()[:1] == [name]]
        assert line.rstrip().endswith("invented" if lab.invented else "as recorded")
        assert str(len(lab.candidates)) in line.split()


def test_one_page_of_cards_or_all(capsys: pytest.CaptureFixture[str]) -> None:
    Path("here").mkdir()
    common = ["cards", "copper-silver", "--folder", "here"]
    assert main([*common, "--only", "stock"]) == 0
    assert [one.name for one in Path("here").iterdir()] == ["copper-silver-stock.html"]
    assert main([*common, "--force"]) == 0
    assert {one.name for one in Path("here").iterdir()} == {
        f"copper-silver-{one}.html" for one in ("cards", "stock", "labels")
    }
    capsys.readouterr()


def test_a_solution_may_be_wanted_within_so_many_percent(
    capsys: pytest.CaptureFixture[str],
) -> None:
    solution = ["solution", "NaCl", "--concentration", "0.1", "--volume", "100"]
    for options, words in (
        ([], "1.0 %"), (["--within", "0.2"], "0.20 %"), (["--within", "5"], "5.0 %"),
    ):  # fmt: skip
        assert main([*solution, *options]) == 0
        assert f"against the {words} required" in said(capsys)


def test_readings_with_decimal_commas_stand_between_semicolons(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main([*WEIGHED, "--save", "points.toml"]) == 0
    commas = [{"Fe=7.3,6.2": "Fe=7,3;6,2", "Cu=53.4,54.7": "Cu = 53,4 ; 54,7"}.get(one, one)
              for one in WEIGHED]  # fmt: skip
    assert main([*commas, "--save", "commas.toml"]) == 0
    capsys.readouterr()
    points, found = (load_experiment(f"{name}.toml").trials[0] for name in ("points", "commas"))
    assert points.readings["Fe before"] == ("7.3",)
    assert {n: [t.replace(",", ".") for t in texts] for n, texts in found.readings.items()} == {
        n: list(texts) for n, texts in points.readings.items()
    }


def test_decisions_are_added_to_their_own_file_and_to_no_other_name_of_it(
    capsys: pytest.CaptureFixture[str],
) -> None:
    Path("class.csv").write_bytes(csv_bytes())
    review = ["review", "class.csv", *LAB, "--initials", "EK"]
    assert main([*review, "--set-aside", "red", "1", "--save", "c.toml"]) == 0
    again = [*review, "--choices", "c.toml", "--set-aside", "blue", "1", "--force"]
    assert main([*again, "--save", "c.toml"]) == 0
    assert Path("c.toml").read_text("utf-8").count("set aside") == 2
    Path("link.toml").symlink_to("c.toml")
    capsys.readouterr()
    refused([*again, "--save", "link.toml"], "are the same file", capsys=capsys)


def test_a_new_lab_whose_input_ends_before_its_name_is_not_written(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = "1\niron\n\nCu\n\n\n2, 3\n\n\n7.30\n6.18\n1.40\n2.67\n\n"
    monkeypatch.setattr(sys, "stdin", io.StringIO(lines))
    refused(["new"], "The input ended before the file had a name. Nothing was written.",
            capsys=capsys)  # fmt: skip
    assert list(Path().glob("*.toml")) == []
