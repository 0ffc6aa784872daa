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
from stoichkit.cli import add_class_parser, run_class
from stoichkit.errors import StoichkitError
from stoichkit.experiments.store import load_experiment
from stoichkit.reports.lab import lab_report
from stoichkit.reports.worked import worked_solution
from tests import labs
from tests.classfiles import class_bytes

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
    result = run_apart("test", "lab.toml", folder=lab, encoding=encoding)

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

    monkeypatch.setitem(command._COMMANDS, "list", stopped)

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
    class_run(str(file), *LAB, "--out", str(out), "--force")
    assert out.read_text("utf-8") != "old"


def test_an_experiment_file_can_be_named(file: Path, tmp_path: Path) -> None:
    lab = tmp_path / "lab.toml"
    lab.write_text(experiments.read("copper-silver"), "utf-8")
    class_run(str(file), "--experiment", str(lab), "--out", str(tmp_path / "r.md"))
    assert (tmp_path / "r.md").exists()
    with pytest.raises(StoichkitError):
        class_run(str(file), "--experiment", str(tmp_path / "none.toml"))


def test_how_much_the_groups_differ_can_be_said(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
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
    place.write_bytes(class_bytes(60))
    class_run(str(place), *LAB, "--out", str(tmp_path / "r.html"))
    err = capsys.readouterr().err
    assert "100 % of 60 groups assessed" in err
    assert "50 % of 60 groups in the report" in err


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
