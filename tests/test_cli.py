"""The command line, run as a user runs it."""

from __future__ import annotations

import argparse
import contextlib
import doctest
import io
import os
import re
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree

import pytest

import stoichkit
from stoichkit import __main__ as command
from stoichkit import experiments
from stoichkit.bench.room import SetupComparison, compare_setups
from stoichkit.cli import shelf
from stoichkit.cli.classroom import add_class_parser, run_class
from stoichkit.errors import StoichkitError
from stoichkit.experiments.store import load_experiment
from stoichkit.planning.room import Balances, Room
from stoichkit.reports.lab import lab_report
from stoichkit.reports.worked import worked_solution
from tests import labs
from tests.classfiles import class_bytes, csv_bytes

ROOT = Path(stoichkit.__file__).parents[1]


def run(*arguments: str, folder: Path, encoding: str = "utf-8") -> subprocess.CompletedProcess[str]:
    """Run a command in this process, in a folder, on a console with an encoding."""
    console = [io.TextIOWrapper(io.BytesIO(), encoding=encoding, newline="\n") for _ in range(2)]
    with (
        contextlib.chdir(folder),
        contextlib.redirect_stdout(console[0]),
        contextlib.redirect_stderr(console[1]),
    ):
        try:
            code = command.main(list(arguments))
        except SystemExit as ended:  # from argparse
            code = int(ended.code or 0)
    shown = []
    for one in console:
        one.flush()
        shown.append(one.buffer.getvalue().decode(encoding))
    return subprocess.CompletedProcess(arguments, code, *shown)


def run_apart(
    *arguments: str, folder: Path, encoding: str = "utf-8"
) -> subprocess.CompletedProcess[str]:
    """Run a command as a user runs it, in a process of its own."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": encoding}
    return subprocess.run(
        [sys.executable, "-W", "error", "-m", "stoichkit", *arguments],
        cwd=folder,
        env=environment,
        capture_output=True,
        encoding=encoding,
        timeout=120,
    )


def refused(result: subprocess.CompletedProcess[str], *words: str, lines: int = 1) -> None:
    assert result.returncode == 2
    assert result.stdout == ""
    assert result.stderr.startswith("stoichkit: ")
    assert len(result.stderr.splitlines()) <= lines
    assert "Traceback" not in result.stderr
    for word in words:
        assert word in result.stderr


@pytest.fixture
def lab(tmp_path: Path) -> Path:
    """A folder with one experiment file in it."""
    (tmp_path / "lab.toml").write_text(experiments.read("copper-silver"), encoding="utf-8")
    return tmp_path


def left_over(folder: Path) -> list[Path]:
    return [path for path in folder.rglob("*") if ".part" in path.name]


def test_the_demonstration_shows_verdict_table_budget_and_the_coarse_balance(
    tmp_path: Path,
) -> None:
    result = run_apart(folder=tmp_path)

    assert result.returncode == 0
    assert result.stderr == ""
    assert "invented" in result.stdout.splitlines()[0]
    for words in (
        "These readings single out copper(II). Copper(I) is excluded",
        "These readings cannot tell copper(I) from copper(II).",
        "repeatability of wire after (4 trials)",
        "copper-silver.svg",
    ):
        assert words in result.stdout
    picture = tmp_path / "stoichkit-demo" / "copper-silver.svg"
    drawn = ElementTree.parse(picture).getroot()
    assert drawn.tag == "{http://www.w3.org/2000/svg}svg"
    assert "copper(II)" in drawn.attrib["aria-label"]
    assert max(map(len, result.stdout.splitlines())) <= 90
    assert not left_over(tmp_path)


def test_the_demonstration_without_a_picture_writes_nothing(tmp_path: Path) -> None:
    result = run("--no-picture", folder=tmp_path)

    assert result.returncode == 0
    assert "Picture" not in result.stdout
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("name", "begins"), [("here.svg", b"<?xml"), ("here.SVG", b"<?xml"), ("here.png", b"\x89PNG")]
)
def test_the_demonstration_puts_its_picture_where_told(
    tmp_path: Path, name: str, begins: bytes
) -> None:
    result = run("--picture", name, folder=tmp_path)

    assert result.returncode == 0
    assert (tmp_path / name).read_bytes().startswith(begins)
    assert [path.name for path in tmp_path.iterdir()] == [name]


@pytest.mark.parametrize("place", ["nowhere/here.png", "here.gif", "here"])
def test_a_picture_that_cannot_be_saved_is_refused(lab: Path, place: str) -> None:
    result = run("test", "lab.toml", "--picture", place, folder=lab)

    refused(result, place.rpartition("/")[2].removesuffix(".png"))
    assert not left_over(lab)


def test_a_report_in_text_is_that_of_the_library(lab: Path) -> None:
    result = run("test", "lab.toml", folder=lab)

    assert result.returncode == 0
    assert result.stderr == ""
    evidence = stoichkit.assess(load_experiment(lab / "lab.toml"))
    assert result.stdout == lab_report(evidence).text()
    assert [path.name for path in lab.iterdir()] == ["lab.toml"]


@pytest.mark.parametrize("name", experiments.names())
def test_every_ready_experiment_gives_an_honest_verdict(tmp_path: Path, name: str) -> None:
    assert command.main(["copy", name, str(tmp_path)]) == 0
    lab, place = str(tmp_path / f"{name}.toml"), str(tmp_path / "o.txt")
    assert command.main(["test", lab, "--output", place]) == 0
    text = (tmp_path / "o.txt").read_text(encoding="utf-8")
    assert "These readings" in text
    assert command.main(["test", name, "--output", str(tmp_path / "by name.txt")]) == 0
    assert (tmp_path / "by name.txt").read_text(encoding="utf-8") == text


def test_readings_that_cannot_be_judged_are_told_first(tmp_path: Path) -> None:
    """The exit code is 0, as for any honest verdict."""
    file = tmp_path / "reversed.toml"
    file.write_text(labs.lab(labs.REVERSED).to_toml(), encoding="utf-8")
    for name, first in (("test", "Verdict"), ("worked", "Verdict")):
        result = run(name, "reversed.toml", folder=tmp_path)
        assert result.returncode == 0
        assert result.stderr == ""
        words = " ".join(result.stdout.partition(f"{first}\n---")[2].split())
        assert "These readings cannot be judged: the amounts of Cu and Ag" in words
        assert "These readings single out" not in " ".join(result.stdout.split())
        assert ": fits)" not in result.stdout
        assert "not judged" in result.stdout


def test_coverage_decides(lab: Path) -> None:
    loose = run("test", "lab.toml", "--coverage", "0.5", folder=lab)

    assert loose.returncode == 0
    assert "Coverage probability 50 %" in loose.stdout


def test_markdown_links_its_picture_from_where_the_report_is(lab: Path) -> None:
    (lab / "out").mkdir()
    result = run(
        *("test", "lab.toml", "--format", "markdown"),
        *("--picture", "my lab.png", "--output", "out/report.md"),
        folder=lab,
    )

    assert (result.returncode, result.stdout, result.stderr) == (0, "", "")
    text = (lab / "out" / "report.md").read_text(encoding="utf-8")
    assert text.startswith("# Copper wire in silver nitrate\n")
    assert "](<../my%20lab.png>)" in text
    assert (lab / "my lab.png").exists()
    assert not left_over(lab)


@pytest.mark.parametrize("asked", [["--format", "html"], []])
def test_a_page_has_its_pictures_inside(lab: Path, asked: list[str]) -> None:
    result = run("test", "lab.toml", *asked, "--out", "report.html", folder=lab)

    assert (result.returncode, result.stdout, result.stderr) == (0, "", "")
    evidence = stoichkit.assess(load_experiment(lab / "lab.toml"))
    assert (lab / "report.html").read_text(encoding="utf-8") == lab_report(evidence).html()
    assert sorted(path.name for path in lab.iterdir()) == ["lab.toml", "report.html"]


@pytest.mark.parametrize(
    ("form", "ending"),
    [("text", "txt"), ("markdown", "md"), ("latex", "tex"), ("json", "json"), ("html", "htm")],
)
def test_every_form_is_written_by_name_and_by_ending(lab: Path, form: str, ending: str) -> None:
    report = lab_report(stoichkit.assess(load_experiment(lab / "lab.toml")))
    place = lab / f"r.{ending}"

    assert command.main(["test", str(lab / "lab.toml"), "--out", str(place)]) == 0
    assert place.read_text(encoding="utf-8") == report.written(form)
    other = lab / "by name.txt"
    asked = ["test", str(lab / "lab.toml"), "--format", form, "--out", str(other)]
    assert command.main(asked) == 0
    assert other.read_text(encoding="utf-8") == report.written(form)


def test_a_worked_solution_in_text_is_that_of_the_library(lab: Path) -> None:
    result = run("worked", "lab.toml", folder=lab)

    assert (result.returncode, result.stderr) == (0, "")
    evidence = stoichkit.assess(load_experiment(lab / "lab.toml"))
    assert result.stdout == worked_solution(evidence).text()
    assert max(map(len, result.stdout.splitlines())) <= 90


@pytest.mark.parametrize(
    ("ending", "form"),
    [(".txt", "text"), (".md", "markdown"), (".html", "html"), (".tex", "latex")],
)
def test_a_worked_solution_of_one_trial_is_written(lab: Path, ending: str, form: str) -> None:
    asked = ("--trial", "bench 2", "--yield-of", "copper(I)", "--out", f"w{ending}")
    result = run("worked", "lab.toml", *asked, folder=lab)

    assert (result.returncode, result.stdout, result.stderr) == (0, "", "")
    evidence = stoichkit.assess(load_experiment(lab / "lab.toml"))
    solution = worked_solution(evidence, trial="bench 2", yield_of="copper(I)")
    assert (lab / f"w{ending}").read_text(encoding="utf-8") == solution.written(form)
    assert not left_over(lab)


def test_the_form_asked_for_wins_over_the_ending(lab: Path) -> None:
    assert run("worked", "lab.toml", "--format", "text", "--out", "w.html", folder=lab).stderr == ""
    assert (lab / "w.html").read_text(encoding="utf-8").startswith("Worked solution: ")


def test_none_fits_is_an_honest_verdict_too(lab: Path) -> None:
    text = (lab / "lab.toml").read_text(encoding="utf-8")
    (lab / "lab.toml").write_text(text.replace("states = [1, 2]", "states = [3]"), encoding="utf-8")
    result = run("test", "lab.toml", folder=lab)

    assert result.returncode == 0
    assert "does not fit" in result.stdout


def test_list_names_every_ready_experiment_on_a_narrow_console(tmp_path: Path) -> None:
    result = run("list", folder=tmp_path)

    assert result.returncode == 0
    assert max(map(len, result.stdout.splitlines())) <= 90
    for name in experiments.names():
        assert any(line.startswith(f"{name} ") for line in result.stdout.splitlines())


def test_copy_to_a_folder_to_a_name_and_never_over_a_file(tmp_path: Path) -> None:
    assert run("copy", "tin-oxide", folder=tmp_path).returncode == 0
    assert run("copy", "tin-oxide", "mine.toml", folder=tmp_path).returncode == 0
    for name in ("tin-oxide.toml", "mine.toml"):
        assert load_experiment(tmp_path / name) == experiments.load("tin-oxide")
    (tmp_path / "mine.toml").write_text("precious", encoding="utf-8")

    refused(run("copy", "tin-oxide", "mine.toml", folder=tmp_path), "mine.toml", "--force")
    assert (tmp_path / "mine.toml").read_text(encoding="utf-8") == "precious"
    assert run("copy", "tin-oxide", "mine.toml", "--force", folder=tmp_path).returncode == 0
    assert load_experiment(tmp_path / "mine.toml") == experiments.load("tin-oxide")
    assert not left_over(tmp_path)


def test_copy_without_hard_links_still_spares_a_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def no_links(*_: object) -> None:
        raise OSError(95, "not supported")

    monkeypatch.setattr(os, "link", no_links)
    target = tmp_path / "mine.toml"

    assert command.main(["copy", "tin-oxide", str(target)]) == 0
    assert load_experiment(target) == experiments.load("tin-oxide")
    target.write_text("precious", encoding="utf-8")
    assert command.main(["copy", "tin-oxide", str(target)]) == 2
    assert target.read_text(encoding="utf-8") == "precious"
    assert "--force" in capsys.readouterr().err
    assert not left_over(tmp_path)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["copy", "copper-sliver"], ["copper-silver"]),
        (["copy", "tin-oxide", "no/such/folder.toml"], ["folder.toml", "cannot be written"]),
        (["copy"], ["NAME"]),
        (["test"], ["FILE"]),
        (["test", "no-such-file.toml"], ["no-such-file.toml", "cannot be read"]),
        (["test", "."], ["cannot be read"]),
        (["test", "lab.toml", "--coverage", "95"], ["95", "0.5 to 0.9999"]),
        (["test", "lab.toml", "--coverage", "nan"], ["0.5 to 0.9999"]),
        (["test", "lab.toml", "--coverage", "much"], ["much", "--coverage"]),
        (["test", "lab.toml", "--format", "pdf"], ["pdf", "markdown"]),
        (["test", "lab.toml", "--output", "no/such/report.txt"], ["report.txt"]),
        (["test", "lab.toml", "--output", "lab.toml"], ["same file"]),
        (["test", "lab.toml", "--output", "lab.toml", "--force"], ["same file"]),
        (["test", "lab.toml", "--output", "./x.png", "--picture", "x.png"], ["same file"]),
        (["test", "lab.toml", "--colour"], ["--colour"]),
        (["worked"], ["FILE"]),
        (["worked", "lab.toml", "--trial", "bench 9"], ["bench 9", "bench 1, bench 2"]),
        (["worked", "lab.toml", "--yield-of", "gold"], ["gold", "copper(I), copper(II)"]),
        (["worked", "lab.toml", "--format", "word"], ["word", "latex"]),
        (["worked", "lab.toml", "--out", "lab.pdf"], ["lab.pdf", ".html, .htm, .tex or .json"]),
        (["worked", "lab.toml", "--out", "lab.toml", "--force"], ["same file"]),
        (["--picture", "x.png", "test", "lab.toml"], ["demonstration"]),
        (["--picture", "x.png", "--no-picture"], ["--no-picture"]),
        (["--force", "test", "lab.toml"], ["demonstration"]),
        (["assay"], ["assay", "test"]),
    ],
)
def test_faults_are_told_in_a_line(lab: Path, arguments: list[str], words: list[str]) -> None:
    before = (lab / "lab.toml").read_bytes()

    refused(run(*arguments, folder=lab), *words)
    assert (lab / "lab.toml").read_bytes() == before
    assert [path.name for path in lab.iterdir()] == ["lab.toml"]


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", ["title"]),
        (b"title = ", ["line 1"]),
        (b"\xff\xfe\x00", ["UTF-8"]),
        (b'title = "x"\nreadings = 3\n', ["lab.toml"]),
    ],
)
def test_faulty_files_are_told_in_a_line(lab: Path, content: bytes, words: list[str]) -> None:
    (lab / "lab.toml").write_bytes(content)

    refused(run("test", "lab.toml", folder=lab), "lab.toml", *words)


def test_a_title_cannot_send_orders_to_the_terminal(lab: Path) -> None:
    text = (lab / "lab.toml").read_text(encoding="utf-8")
    text = text.replace("Copper wire in", r"\u001b]0;x\u0007Copper in", 1)
    (lab / "lab.toml").write_text(text, encoding="utf-8")
    result = run("test", "lab.toml", folder=lab)

    assert result.returncode == 0
    assert "\x1b" not in result.stdout


@pytest.mark.parametrize(
    ("encoding", "equation"),
    [
        ("ascii", "Cu + 2 Ag+ -> Cu2+ + 2 Ag"),
        ("cp1252", "Cu + 2 Ag+ -> Cu²+ + 2 Ag"),
        ("utf-8", "Cu + 2 Ag⁺ → Cu²⁺ + 2 Ag"),
    ],
)
def test_any_console_can_show_the_report(lab: Path, encoding: str, equation: str) -> None:
    start = run_apart if encoding == "cp1252" else run  # one of them as a user starts it
    result = start("test", "lab.toml", folder=lab, encoding=encoding)

    assert result.returncode == 0
    assert result.stderr == ""
    assert "These readings single out copper(II)." in result.stdout
    assert equation in result.stdout
    assert "?" not in result.stdout.replace("stable? (", "")


def test_a_file_is_utf8_whatever_the_console(lab: Path) -> None:
    result = run("test", "lab.toml", "--output", "o.txt", folder=lab, encoding="ascii")

    assert (result.returncode, result.stdout) == (0, "")
    assert "2 Ag⁺ → Cu²⁺ + 2 Ag" in (lab / "o.txt").read_text(encoding="utf-8")


@pytest.mark.skipif(os.name == "nt", reason="pipes break otherwise there")
@pytest.mark.parametrize("arguments", [["list"], ["test", "lab.toml"], ["--no-picture"]])
def test_a_reader_that_goes_away_is_no_fault(lab: Path, arguments: list[str]) -> None:
    read, write = os.pipe()
    os.close(read)
    process = subprocess.run(
        [sys.executable, "-m", "stoichkit", *arguments],
        cwd=lab,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=write,
        stderr=subprocess.PIPE,
        timeout=120,
    )
    os.close(write)

    assert process.returncode == 1
    assert process.stderr == b""


def test_version_and_help(tmp_path: Path) -> None:
    version = run("--version", folder=tmp_path)
    shown = run("--help", folder=tmp_path)

    assert (version.returncode, version.stdout) == (0, f"stoichkit {stoichkit.__version__}\n")
    assert shown.returncode == 0
    for word in ("test", "worked", "list", "copy", "--picture", "--no-picture", "--version"):
        assert word in shown.stdout


def test_the_keyboard_stops_it(monkeypatch: pytest.MonkeyPatch) -> None:
    def stopped(_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(shelf, "run_list", stopped)

    assert command.main(["list"]) == 130


def test_an_output_keeps_its_permissions(lab: Path) -> None:
    (lab / "o.txt").write_text("old", encoding="utf-8")
    (lab / "o.txt").chmod(0o640)

    asked = ["test", str(lab / "lab.toml"), "--output", str(lab / "o.txt"), "--force"]
    assert command.main(asked) == 0
    assert (lab / "o.txt").stat().st_mode & 0o777 == 0o640
    assert (lab / "o.txt").read_text(encoding="utf-8").startswith("Copper wire")


def test_the_docstring_is_right() -> None:
    assert doctest.testmod(command).failed == 0


def test_class_notebooks_and_guide(tmp_path: Path) -> None:
    shown = run("class", "--experiment", "copper-silver", "--out", "r.html", folder=tmp_path)
    assert shown.returncode == 0, shown.stderr
    assert "<html" in (tmp_path / "r.html").read_text("utf-8")
    copied = run("notebooks", "books", folder=tmp_path)
    assert copied.returncode == 0, copied.stderr
    assert (tmp_path / "books" / "self-study.ipynb").is_file()
    refused(run("notebooks", "books", folder=tmp_path), "of that name already", "books", "--force")
    assert "limits" in run("guide", folder=tmp_path).stdout.split()
    assert run("guide", "limits", folder=tmp_path).stdout.startswith("# Limits of this tool")
    refused(run("guide", "nothing", folder=tmp_path), "There is no page of that name")


def class_run(*arguments: str) -> None:
    parser = argparse.ArgumentParser()
    add_class_parser(parser.add_subparsers())
    run_class(parser.parse_args(["class", *arguments]))


@pytest.fixture
def file(tmp_path: Path) -> Path:
    place = tmp_path / "tuesday.csv"
    place.write_bytes(experiments.class_file())
    return place


LAB = ("--experiment", "copper-silver")


def test_without_a_place_the_report_is_shown(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    class_run(str(file), *LAB)
    out, err = capsys.readouterr()
    assert out.startswith("Copper wire in silver nitrate: report on a class")
    assert "plum stands out" in out
    assert err == ""


def test_without_a_file_the_invented_class_is_used_and_labelled(
    capsys: pytest.CaptureFixture[str],
) -> None:
    class_run(*LAB)
    assert "The readings are invented, for practice." in capsys.readouterr().out
    with pytest.raises(StoichkitError, match="no invented class"):
        class_run("--experiment", "tin-oxide")


def test_report_results_and_key_are_written_and_the_file_is_not_changed(
    file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out, results, key = (tmp_path / n for n in ("r.html", "results.xlsx", "key.csv"))
    class_run(str(file), *LAB, "--out", str(out), "--results", str(results), "--key", str(key))
    said = capsys.readouterr().out
    assert said.count("Written: ") == 3
    assert "single out copper(II)" in said
    assert out.read_text("utf-8").startswith("<!DOCTYPE html>")
    assert results.read_bytes().startswith(b"PK")
    assert "plum" in key.read_text("utf-8-sig")
    assert file.read_bytes() == experiments.class_file()


def test_one_group_gets_its_report_and_its_key_only(file: Path, tmp_path: Path) -> None:
    out, key = tmp_path / "teal.md", tmp_path / "key.csv"
    class_run(str(file), *LAB, "--group", "teal", "--out", str(out), "--key", str(key))
    assert "group teal" in out.read_text("utf-8")
    assert "amber" not in out.read_text("utf-8") + key.read_text("utf-8-sig")


def test_one_group_can_be_shown(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    class_run(str(file), *LAB, "--group", "plum")
    assert "Answer key" in capsys.readouterr().out


def test_codes_leave_no_name_but_in_their_own_key(
    file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    places = [tmp_path / n for n in ("r.html", "results.csv", "key.csv", "codes.csv")]
    options = ("--out", "--results", "--key", "--code-key")
    pairs = [text for pair in zip(options, map(str, places), strict=True) for text in pair]
    class_run(str(file), *LAB, "--codes", *pairs)
    *others, codes = (place.read_text("utf-8-sig") for place in places)
    for text in (*others, capsys.readouterr().out):
        assert not re.search(r"\b(plum|teal|tuesday)\b", text.replace(str(tmp_path), ""))
    assert "G07,plum" in codes


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("--out", "r.pdf"), r"\.txt, \.md, \.html"),
        (("--results", "r.docx"), "says no format"),
        (("--out", "r.html", "--results", "r.html"), "same file"),
        (("--out", "taken.html"), "--force"),
        (("--key", "tuesday.csv"), "same file"),
        (("--code-key", "codes.csv"), "--codes"),
        (("--group", "nobody", "--results", "new.csv"), "nobody"),
        (("--coverage", "2", "--results", "new.csv"), "coverage"),
    ],
)
def test_what_cannot_be_done_is_refused_before_anything_is_written(
    file: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    arguments: tuple[str, ...],
    message: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "taken.html").write_text("mine")
    before = {p.name: p.read_bytes() for p in tmp_path.iterdir()}
    with pytest.raises(StoichkitError, match=message):
        class_run(file.name, *LAB, *arguments)
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == before


def test_force_replaces(file: Path, tmp_path: Path) -> None:
    out = tmp_path / "r.html"
    out.write_text("old")
    file.write_bytes(csv_bytes())
    class_run(str(file), *LAB, "--out", str(out), "--force")
    assert out.read_text("utf-8") != "old"


def test_an_experiment_file_can_be_named(file: Path, tmp_path: Path) -> None:
    lab = tmp_path / "lab.toml"
    lab.write_text(experiments.read("copper-silver"), "utf-8")
    file.write_bytes(csv_bytes())
    class_run(str(file), "--experiment", str(lab), "--out", str(tmp_path / "r.md"))
    assert (tmp_path / "r.md").exists()
    with pytest.raises(StoichkitError):
        class_run(str(file), "--experiment", str(tmp_path / "none.toml"))


def test_how_much_the_groups_differ_can_be_said(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file.write_bytes(csv_bytes())
    for said, words in (
        ("1.5 %", "taken to differ by a standard deviation of 1.5 % of the product"),
        ("none", "taken to differ by nothing but their readings"),
        ("unknown", "How much the groups truly differ is taken as unknown"),
    ):
        class_run(str(file), *LAB, "--variation", said)
        assert words in " ".join(capsys.readouterr().out.split())
    with pytest.raises(StoichkitError, match=r"--variation: .*how much the groups differ"):
        class_run(str(file), *LAB, "--variation", "some")


def test_large_classes_tell_their_progress(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    place = tmp_path / "large.csv"
    place.write_bytes(class_bytes(51))
    class_run(str(place), *LAB, "--out", str(tmp_path / "r.html"))
    err = capsys.readouterr().err
    assert "100 % of 51 groups assessed" in err
    assert "50 % of 51 groups in the report" in err


def test_formula_says_what_was_read(tmp_path: Path) -> None:
    """The waters of a hydrate counted, an oxidation number no element, molar masses by hand.

    CuSO4·5H2O: 63.546 + 32.06 + 9 × 15.999 + 10 × 1.008 = 249.677 g/mol.
    """
    found = run("formula", "CuSO4.5H2O", "Fe(II)SO4", "CO", folder=tmp_path)
    assert found.returncode == 0
    hydrate, sulfate, monoxide = found.stdout.splitlines()
    assert hydrate.startswith("CuSO4.5H2O: copper 1, sulfur 1, oxygen 9, hydrogen 10; charge 0;")
    assert "249.68 g/mol; 5 H2O counted" in hydrate
    assert "(II) read as oxidation number, not as iodine or vanadium" in sulfate
    assert "iodine 1" not in sulfate
    assert "CO, not Co (cobalt)" in monoxide


def test_formula_refuses_what_it_cannot_read(tmp_path: Path) -> None:
    refused(run("formula", "Xy2", folder=tmp_path), "Xy2")


def test_the_report_says_how_formulas_were_read(tmp_path: Path) -> None:
    text = run("test", "tin-oxide", folder=tmp_path).stdout
    if "Formulas, as they were read" not in text:  # the short form of the command line
        text = lab_report(stoichkit.assess(experiments.load("tin-oxide"))).text()
    text = " ".join(text.split())
    assert "Formulas, as they were read: " in text
    assert "Sn: tin 1; charge 0; 118.71 g/mol" in text
    assert "SnO₂: tin 1, oxygen 2; charge 0; 150.71 g/mol" in text


def test_next_says_what_further_trials_would_come_to(
    lab: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from stoichkit.__main__ import main

    few = ["--most", "1", "--times", "3", "--readability", "0.02"]
    assert main(["next", "copper-silver-coarse", *few]) == 0
    text = capsys.readouterr().out
    assert text.startswith("What next: Copper wire in silver nitrate")
    assert "balance to 0.02 g, begun anew" in text
    assert "3 times the amount" in text
    target = lab / "next.html"
    assert main(["next", "copper-silver-coarse", *few, "--out", str(target)]) == 0
    assert "Chance of a right answer after further trials" in target.read_text("utf-8")
    assert main(["next", str(lab / "lab.toml"), "--target", "2"]) == 2
    assert "0.05 to 0.999" in capsys.readouterr().err


COPPER = ("--consumed", "Fe=7.3,6.2", "--produced", "Cu=53.4,54.7", "--balance", "0.1")
ANSWERS = "1\niron\n\nCu\n\n\n2, 3\n\n\n"
"""A metal lab with everything else as it is offered."""


def typed(text: str, *arguments: str, folder: Path) -> subprocess.CompletedProcess[str]:
    """Run a command in this process with these lines on its standard input."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sys, "stdin", io.StringIO(text))
        return run(*arguments, folder=folder)


def test_weighed_needs_no_file(tmp_path: Path) -> None:
    result = run("weighed", *COPPER, "--states", "2,3", folder=tmp_path)

    assert result.returncode == 0
    assert result.stderr == ""
    assert "These readings single out iron(II). Iron(III) is excluded" in result.stdout
    assert "2 Fe + 3 Cu²⁺ → 2 Fe³⁺ + 3 Cu" in result.stdout
    assert "copper(II) sulfate" in result.stdout  # its cautions
    assert list(tmp_path.iterdir()) == []


def test_weighed_saves_what_test_then_judges_alike(tmp_path: Path) -> None:
    more = ("--consumed", "Fe=7,1;6,0", "--produced", "Cu=52.0,53.2", "--states", "Fe2+;3/2")
    saved = run(
        "weighed", *COPPER, *more, "--save", "my-lab.toml", "--format", "json", "--output",
        "a.json", folder=tmp_path,
    )  # fmt: skip
    again = run("test", "my-lab.toml", "--output", "b.json", folder=tmp_path)

    assert (saved.returncode, again.returncode) == (0, 0)
    assert (tmp_path / "a.json").read_text() == (tmp_path / "b.json").read_text()
    lab = load_experiment(tmp_path / "my-lab.toml")
    assert lab.trials[1].readings["Fe before"] == ("7,1",)
    assert lab.instruments["balance"].readability == 0.1
    assert not lab.cautions  # they are found when it is shown
    assert not left_over(tmp_path)


def test_weighed_takes_any_substances(tmp_path: Path) -> None:
    result = run(
        "weighed", "--consumed", "NaHCO3=1.68", "--produced", "Na2CO3=1.06", "--candidates",
        "half = 1/2; 1", "--title", "Soda", folder=tmp_path,
    )  # fmt: skip
    assert result.stdout.startswith("Soda\n====")
    assert "single out half" in result.stdout


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--consumed", "7.3,6.2", "--produced", "Cu=1,2"), "--consumed does not name"),
        (("--consumed", "Fe=7.3,6.2", "--produced", "Cu=x,2"), "not a number"),
        (("--consumed", "Fe=7.3,6.2,1", "--produced", "Cu=1,2"), "two readings"),
        (("--consumed", "Rust=7.3,6.2", "--produced", "Cu=1,2"), "not a metal"),
        (("--consumed", "Fe=2,1", "--consumed", "Zn=2,1", "--produced", "Cu=1,2"), "One substance"),
        (("--consumed", "Fe=2,1", "--consumed", "Fe=2,1", "--produced", "Cu=1,2"), "as many"),
        ((*COPPER, "--states", "Cu2+"), "state of copper"),
        ((*COPPER, "--ion", "NaCl"), "ion"),
        ((*COPPER, "--balance", "good"), "balance_g"),
        ((*COPPER, "--save", "no such folder/lab.toml"), "No such file"),
        ((*COPPER, "--save", "a.txt", "--output", "a.txt"), "same file"),
    ],
)
def test_weighed_refuses_and_writes_nothing(
    tmp_path: Path, arguments: tuple[str, ...], words: str
) -> None:
    refused(run("weighed", *arguments, folder=tmp_path), words)
    assert list(tmp_path.iterdir()) == []


def test_weighed_replaces_a_file_only_by_force(tmp_path: Path) -> None:
    (tmp_path / "lab.toml").write_text("mine", encoding="utf-8")
    refused(run("weighed", *COPPER, "--save", "lab.toml", folder=tmp_path), "already")
    assert (tmp_path / "lab.toml").read_text(encoding="utf-8") == "mine"
    assert run("weighed", *COPPER, "--save", "lab.toml", "--force", folder=tmp_path).returncode == 0
    assert load_experiment(tmp_path / "lab.toml").trials


def test_new_asks_says_back_takes_readings_and_shows_the_verdict(tmp_path: Path) -> None:
    readings = "7.30\n6.18\n1.40\n2.67\n7.10\n5.99\n1.41\n2.67\n\n"
    result = typed(f"{ANSWERS}{readings}mine.toml\n", "new", folder=tmp_path)

    assert (result.returncode, result.stderr) == (0, "")
    for words in (
        "= iron (Fe)",
        "= Cu²⁺ (left empty: its usual ion)",
        "= iron(II), Fe²⁺, iron(III), Fe³⁺",
        "  2 Fe + 3 Cu²⁺ → 2 Fe³⁺ + 3 Cu",
        "A balance reading to 0.01 g",
        "Trial 2, paper + Cu, g: ",
        "These readings single out iron(II)",
        "Saved as mine.toml.",
    ):
        assert words in result.stdout
    lab = load_experiment(tmp_path / "mine.toml")
    assert [trial.name for trial in lab.trials] == ["1", "2"]
    assert lab.trials[0].readings["Fe before"] == ("7.30",)


def test_new_repeats_a_refused_question_with_the_reason(tmp_path: Path) -> None:
    readings = "7.30 g\n7.30\n6.18\n1.40\n\n2.67\n\n"
    faulty = "12\n1\nrust\n\niron\n9\n\nFe\nCu\n\n\nZn2+\n2, 3\n\n\n"
    result = typed(f"{faulty}{readings}", "new", "--save", "lab.toml", folder=tmp_path)

    assert result.returncode == 0
    for words in (
        "Not taken: This is none of them. Allowed: 1 to 9.",
        "Not taken: This is not a metal. Given: rust.",
        "Not taken: This is needed.",
        "Not taken: This is none of the choices. Given: 9.",
        "Not taken: The metal made is the one used up.",
        "Not taken: This is a state of zinc (Zn), not of Fe.",
        "letters behind the number",
        "Not taken: This reading is missing.",
    ):
        assert words in result.stdout
    assert load_experiment(tmp_path / "lab.toml").trials[0].readings["Fe before"] == ("7.30",)


NEW = {
    "hydrate": (
        "2\nCuSO4\n\n\n\n\n21.43\n23.93\n23.05; 23.03; 23.03\n",
        "single out CuSO4·5H2O",
    ),
    "oxide": ("oxide\nSn\n\n\n\n\n17.56\n18.75\n19.07; 19.07\n", "single out SnO2"),
    "gas": (
        "4\nMg\n\n\n\n20.0\n101.3\n\nno\n0.001\n\n\n\n\n\n\n\n\n\n0.036\n36.48\n",
        "single out magnesium(II)",
    ),
    "plating": ("5\nCu\n\n\n\n\n0.50\n1800.00\n9.17\n9.47\n", "single out copper(II)"),
    "titration": (
        "6\nC6H8O7\n\nNaOH\n0.1 mol/L\n0.0002\n\n1, 2, 3\nno\n0.001\n\n\n\n\n\n0.192\n0.10\n"
        "30.10\n",
        "single out 3 NaOH per C6H8O7",
    ),
    "precipitate": (
        "7\nCoCl2.6H2O\n\nCl-\nAgCl\n\n1, 2, 3\n\n\n0.48\n0.71\n1.29\n",
        "single out 2 Cl^- per CoCl2·6H2O",
    ),
    "dissolved": (
        "8\nFeCl3\n0.1\n\n2\nCl-\nAgCl\n\n2, 3\n\n\n20.00\n0.70\n1.56\n",
        "single out 3 Cl^- per FeCl3",
    ),
    "reaction": (
        "9\nNaHCO3\n2\nNa2CO3\n3\nhalf = 1/2, 1\n\nSoda\n1.68\n1.06\n",
        "single out half",
    ),
}


@pytest.mark.parametrize("way", NEW)
def test_new_knows_every_way(way: str, tmp_path: Path) -> None:
    lines, verdict = NEW[way]
    result = typed(lines, "new", "--save", "lab.toml", folder=tmp_path)
    assert (result.returncode, result.stderr) == (0, "")
    assert "Not taken" not in result.stdout
    assert verdict in " ".join(result.stdout.split())
    assert load_experiment(tmp_path / "lab.toml").trials


def test_new_without_readings_saves_a_lab_to_fill_in(tmp_path: Path) -> None:
    result = typed(f"{ANSWERS}\nlab.toml\n", "new", folder=tmp_path)
    assert result.returncode == 0
    assert "without readings yet" in result.stdout
    assert "Everybody in the room wears eye protection." in result.stdout
    assert "licensed practice decide." in " ".join(result.stdout.split())
    assert load_experiment(tmp_path / "lab.toml").trials == ()
    refused(run("test", "lab.toml", folder=tmp_path), "no readings yet", "Fe before")


def test_new_asks_again_for_the_name_of_a_file_that_is_there(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text("mine", encoding="utf-8")
    result = typed(f"{ANSWERS}\nmine.toml\nother.toml\n", "new", folder=tmp_path)
    assert "There is a file of that name already." in result.stdout
    assert (tmp_path / "mine.toml").read_text(encoding="utf-8") == "mine"
    assert (tmp_path / "other.toml").exists()


@pytest.mark.parametrize("lines", range(len(ANSWERS.splitlines()) + 4))
def test_new_stops_cleanly_where_the_input_ends(lines: int, tmp_path: Path) -> None:
    begun = [*ANSWERS.splitlines(), "7.30", "6.18", "1.40", "2.67"][:lines]
    result = typed("".join(f"{line}\n" for line in begun), "new", folder=tmp_path)
    assert result.returncode == 2
    assert "The input ended before" in result.stderr
    assert "Nothing was written." in result.stderr
    assert list(tmp_path.iterdir()) == []


def test_new_stops_cleanly_from_the_keyboard(tmp_path: Path) -> None:
    def stop(_question: str) -> str:
        raise KeyboardInterrupt

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("builtins.input", stop)
        result = run("new", "--save", "lab.toml", folder=tmp_path)
    assert result.returncode == 130
    assert "Stopped." in result.stderr
    assert list(tmp_path.iterdir()) == []


def test_new_reads_a_pipe_and_stops_at_bytes_that_are_no_text(tmp_path: Path) -> None:
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "utf-8"}
    result = subprocess.run(
        [sys.executable, "-W", "error", "-m", "stoichkit", "new", "--save", "lab.toml"],
        cwd=tmp_path,
        env=environment,
        input=b"1\nFe\xff\n",
        capture_output=True,
        timeout=120,
        check=False,
    )
    assert result.returncode == 2
    assert b"not text in the encoding" in result.stderr
    assert b"Traceback" not in result.stderr
    assert list(tmp_path.iterdir()) == []


def test_each_trial_may_have_a_balance_of_its_own(tmp_path: Path) -> None:
    second = ("--consumed", "Fe=7.31,6.19", "--produced", "Cu=53.41,54.68", "--balance", "0.01")
    found = run("weighed", *COPPER, *second, "--save", "lab.toml", folder=tmp_path)
    assert found.returncode == 0
    assert "Trial 2 alone leaves less uncertain than all together" in " ".join(found.stdout.split())
    lab = load_experiment(tmp_path / "lab.toml")
    assert [dict(trial.instruments) for trial in lab.trials] == [{}, {"balance": "balance 2"}]


# What is printed before a lab


def test_the_bench_plan_of_a_class(tmp_path: Path) -> None:
    result = run("bench", "copper-silver", "--groups", "12", "--mass", "0.12", folder=tmp_path)
    assert (result.returncode, result.stderr) == (0, "")
    assert result.stdout.startswith("Bench plan: Copper wire in silver nitrate\n")
    assert (
        "0.12 g of Cu (1.89 mmol) to react in each trial; 4 trials for each of 12" in result.stdout
    )
    page = run("bench", "copper-plating", "--moles", "0.002", "--out", "p.html", folder=tmp_path)
    assert page.returncode == 0
    assert "Copper" in (tmp_path / "p.html").read_text("utf-8")
    refused(run("bench", "copper-plating", "--mass", "1", folder=tmp_path), "reacting_mol")
    refused(
        run("bench", "copper-silver", "--mass", "1", "--moles", "1", folder=tmp_path), "not allowed"
    )


def test_a_data_sheet_goes_out_and_comes_back(tmp_path: Path) -> None:
    """Groups from a file, one of them called “mean”; filled in, the class reads it."""
    (tmp_path / "groups.txt").write_text("\ufeffmean\n=red\n\n'b'\n", encoding="utf-8")
    written = run(
        "sheet", "copper-silver", "--groups-file", "groups.txt", "--trials", "1", "--out", "s.csv",
        "--between", "semicolon", folder=tmp_path,
    )  # fmt: skip
    assert written.stdout == "Written: s.csv\n"
    lines = (tmp_path / "s.csv").read_text("utf-8-sig").splitlines()
    assert [line.partition(";")[0] for line in lines[2:]] == ["mean", "'=red", "''b'"]
    filled = [line.replace(";;;;", ";2,94;2,82;0,75;1,15") for line in lines]
    (tmp_path / "s.csv").write_text("\n".join(filled), encoding="utf-8")
    found = run("class", "s.csv", "--experiment", "copper-silver", folder=tmp_path)
    assert found.returncode == 0
    for group in ("mean", "=red", "'b'"):
        assert f"\n{group} " in found.stdout
    refused(run("sheet", "copper-silver", "--out", "s.csv", folder=tmp_path), "a file of that name")
    refused(run("sheet", "copper-silver", "--out", "s.pdf", folder=tmp_path), ".csv or .xlsx")
    book = run("sheet", "copper-silver", folder=tmp_path)
    assert book.stdout == "Written: copper-silver-sheet.xlsx\n"


def test_cards_stock_card_and_labels_are_written_together(tmp_path: Path) -> None:
    result = run("cards", "copper-silver", "--groups", "3", folder=tmp_path)
    assert result.stdout.splitlines()[:3] == [
        f"Written: copper-silver-{one}.html" for one in ("cards", "stock", "labels")
    ]
    cards = (tmp_path / "copper-silver-cards.html").read_text("utf-8")
    assert cards.count('<section class="card"') == 3
    before = sorted(tmp_path.iterdir())
    refused(run("cards", "copper-silver", folder=tmp_path), "a file of that name")
    again = run("cards", "copper-silver", "--only", "labels", "--force", folder=tmp_path)
    assert again.stdout.startswith("Written: copper-silver-labels.html\n")
    assert sorted(tmp_path.iterdir()) == before
    (tmp_path / "none.txt").write_text("\n \n")
    (tmp_path / "latin.txt").write_bytes(b"\xc4rger\n")
    for file, words in (("none.txt", "names no group"), ("latin.txt", "not in UTF-8")):
        bad = run("cards", "tin-oxide", "--groups-file", file, folder=tmp_path)
        refused(bad, words)
    refused(run("cards", "tin-oxide", "--groups-file", "no.txt", folder=tmp_path), "no.txt")
    assert not list(tmp_path.glob("tin*"))


def test_a_solution_is_said_with_its_glassware(tmp_path: Path) -> None:
    """0.5 mol/L × 0.25 L × 249.68 g/mol = 31.21 g."""
    result = run(
        "solution", "CuSO4.5H2O", "--concentration", "0.5", "--volume", "250", folder=tmp_path
    )
    assert "Weigh about 31.2 g of CuSO₄·5H₂O" in result.stdout
    assert "H318 Causes serious eye damage" in " ".join(result.stdout.split())
    better = run(
        "solution", "CuSO4.5H2O", "--concentration", "0.5", "--volume", "250", "--within", "0.1",
        folder=tmp_path,
    )  # fmt: skip
    assert "volumetric flask, class B, with a balance to 0.01 g is good enough" in " ".join(
        better.stdout.split()
    )
    refused(
        run("solution", "Xy2", "--concentration", "0.5", "--volume", "250", folder=tmp_path), "Xy2"
    )


PLAN = ["plan", "--metal", "Fe", "--states", "2,3", "--bath", "CuSO4.5H2O", "--benches", "12"]


def test_a_room_is_planned_without_a_file_or_a_trial(tmp_path: Path) -> None:
    found = run(*PLAN, "--balance", "0.1", "--balance", "0.01:2", "--minutes", "50",
                "--stock", "Fe=10", "--sort", "waste", folder=tmp_path)  # fmt: skip
    assert (found.returncode, found.stderr) == (0, "")
    said = " ".join(found.stdout.split())
    assert "Balances: one a bench that reads to 0.1 g and 2 that read to 0.01 g." in said
    assert "11.1 of 12 benches conclude on average" in said
    assert "10 benches to 0.1 g and 2 benches to 0.01 g" in said
    assert "iron, Fe: 17.5 g; more than is in stock" in said
    assert "Acetone is highly flammable" in said
    assert list(tmp_path.iterdir()) == []


@pytest.fixture(scope="module")
def compared() -> SetupComparison:
    """Set-ups worked out once: what changes from run to run is the place and the form."""
    return compare_setups(Room(12, (Balances.of("0.01"),)), ["Fe"], "CuSO4.5H2O", states=("2", "3"))


@pytest.mark.parametrize("ending", [".csv", ".xlsx", ".html", ".md", ".json"])
def test_the_set_ups_of_a_room_are_written_by_the_ending(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, compared: SetupComparison, ending: str
) -> None:
    monkeypatch.setattr("stoichkit.bench.room.compare_setups", lambda *_, **__: compared)
    asked = [*PLAN, "--balance", "0.01", "--output", f"room{ending}"]
    assert run(*asked, folder=tmp_path).returncode == 0
    assert (tmp_path / f"room{ending}").stat().st_size > 200
    again = run(*asked, folder=tmp_path)
    assert again.returncode == 2
    assert run(*asked, "--force", folder=tmp_path).returncode == 0


@pytest.mark.parametrize(
    ("more", "word"),
    [
        (["--balance", "fine"], "fine"),
        (["--balance", "0.01:"], "how many"),
        (["--balance", "0.01:x"], "how many"),
        (["--balance", "0.1", "--balance", "0.1"], "step of its own"),
        (["--trials", "0"], "trials"),
        (["--target", "2"], "target"),
        (["--stock", "Fe"], "Fe=50"),
        (["--metal", "rust"], "rust"),
        (["--output", "a.csv", "--format", "html"], "--format"),
    ],
)
def test_a_room_that_cannot_be_planned_is_told_in_a_line(
    tmp_path: Path, more: list[str], word: str
) -> None:
    found = run(*PLAN, *more, folder=tmp_path)
    assert found.returncode == 2
    assert word in found.stderr
    assert found.stderr.count("\n") == 1


def test_what_more_trials_would_add_to_a_class_is_told_when_asked_for(tmp_path: Path) -> None:
    found = run("class", "--experiment", "copper-silver", "--next", "--groups", "12",
                folder=tmp_path)  # fmt: skip
    assert (found.returncode, found.stderr) == (0, "")
    said = " ".join(found.stdout.split())
    assert "9 groups are in: the class concludes with a chance of 0.97" in said
    assert "Plum: 1 more trial on a balance that reads to 0.001 g" in said
    wrong = run("class", "--experiment", "copper-silver", "--groups", "12", folder=tmp_path)
    assert wrong.returncode == 2
    assert "--next" in wrong.stderr


def test_a_lab_is_read_from_standard_input(tmp_path: Path) -> None:
    given = experiments.read("copper-silver").encode()
    command_line = [sys.executable, "-m", "stoichkit", "test", "-"]
    found = subprocess.run(command_line, input=given, capture_output=True, check=False)
    assert found.returncode == 0
    assert b"These readings single out copper(II)" in found.stdout
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(b"title = \xff")))
        wrong = run("test", "-", folder=tmp_path)
    refused(wrong, "standard input, line 1: The file is not text in UTF-8")
    shell = f"{sys.executable} -m stoichkit test - <&-"
    closed = subprocess.run(shell, shell=True, capture_output=True, check=False)
    assert closed.returncode == 2
    assert b"Standard input is closed" in closed.stderr


@pytest.mark.parametrize(
    ("arguments", "closed"),
    [
        ("", ">&-"), ("", "2>&-"), ("", ">&- 2>&-"),
        ("test nothing", ">&-"), ("test nothing", "2>&-"), ("test nothing", ">&- 2>&-"),
        ("class --experiment copper-silver", ">&- 2>&-"),
    ],
)  # fmt: skip
def test_closed_outputs_are_no_fault(closed: str, arguments: str, tmp_path: Path) -> None:
    shell = f"{sys.executable} -m stoichkit {arguments} {closed}"
    found = subprocess.run(shell, shell=True, cwd=tmp_path, capture_output=True, check=False)
    assert found.returncode == (2 if "nothing" in arguments else 0)
    assert b"Traceback" not in found.stderr + found.stdout


def test_without_the_extra_for_notebooks_the_error_names_it() -> None:
    code = "import sys; sys.modules['anywidget'] = None; import stoichkit.widgets as w; w.toolkit"
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, check=False)
    assert found.returncode == 1
    assert b'pip install "stoichkit[notebook]"' in found.stderr.splitlines()[-1]
