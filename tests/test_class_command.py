"""The command ``class``: what it writes, and what it refuses before it writes anything."""

from __future__ import annotations

import argparse
import re
from pathlib import Path

import pytest

from stoichkit import experiments
from stoichkit.class_command import add_class_parser, run_class
from stoichkit.errors import StoichkitError
from tests.plots.test_class import class_bytes


def run(*arguments: str) -> None:
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
    run(str(file), *LAB)
    out, err = capsys.readouterr()
    assert out.startswith("Copper wire in silver nitrate: report on a class")
    assert "plum stands out" in out
    assert err == ""


def test_without_a_file_the_invented_class_is_used_and_labelled(
    capsys: pytest.CaptureFixture[str],
) -> None:
    run(*LAB)
    assert "The readings are invented, for practice." in capsys.readouterr().out
    with pytest.raises(StoichkitError, match="no invented class"):
        run("--experiment", "tin-oxide")


def test_report_results_and_key_are_written_and_the_file_is_not_changed(
    file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out, results, key = (tmp_path / n for n in ("r.html", "results.xlsx", "key.csv"))
    run(str(file), *LAB, "--out", str(out), "--results", str(results), "--key", str(key))
    said = capsys.readouterr().out
    assert said.count("Written: ") == 3
    assert "single out copper(II)" in said
    assert out.read_text("utf-8").startswith("<!DOCTYPE html>")
    assert results.read_bytes().startswith(b"PK")
    assert "plum" in key.read_text("utf-8-sig")
    assert file.read_bytes() == experiments.class_file()


def test_one_group_gets_its_report_and_its_key_only(file: Path, tmp_path: Path) -> None:
    out, key = tmp_path / "teal.md", tmp_path / "key.csv"
    run(str(file), *LAB, "--group", "teal", "--out", str(out), "--key", str(key))
    assert "group teal" in out.read_text("utf-8")
    assert "amber" not in out.read_text("utf-8") + key.read_text("utf-8-sig")


def test_one_group_can_be_shown(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(str(file), *LAB, "--group", "plum")
    assert "Answer key" in capsys.readouterr().out


def test_codes_leave_no_name_but_in_their_own_key(
    file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    places = [tmp_path / n for n in ("r.html", "results.csv", "key.csv", "codes.csv")]
    options = ("--out", "--results", "--key", "--code-key")
    pairs = [text for pair in zip(options, map(str, places), strict=True) for text in pair]
    run(str(file), *LAB, "--codes", *pairs)
    *others, codes = (place.read_text("utf-8-sig") for place in places)
    for text in (*others, capsys.readouterr().out):
        assert not re.search(r"\b(plum|teal|tuesday)\b", text.replace(str(tmp_path), ""))
    assert "G07,plum" in codes


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("--out", "r.pdf"), r"\.html or \.md"),
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
        run(file.name, *LAB, *arguments)
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == before


def test_force_replaces(file: Path, tmp_path: Path) -> None:
    out = tmp_path / "r.html"
    out.write_text("old")
    run(str(file), *LAB, "--out", str(out), "--force")
    assert out.read_text("utf-8") != "old"


def test_an_experiment_file_can_be_named(file: Path, tmp_path: Path) -> None:
    lab = tmp_path / "lab.toml"
    lab.write_text(experiments.read("copper-silver"), "utf-8")
    run(str(file), "--experiment", str(lab), "--out", str(tmp_path / "r.md"))
    assert (tmp_path / "r.md").exists()
    with pytest.raises(StoichkitError):
        run(str(file), "--experiment", str(tmp_path / "none.toml"))


def test_large_classes_tell_their_progress(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    place = tmp_path / "large.csv"
    place.write_bytes(class_bytes(60))
    run(str(place), *LAB, "--out", str(tmp_path / "r.html"))
    err = capsys.readouterr().err
    assert "100 % of 60 groups assessed" in err
    assert "50 % of 60 groups in the report" in err
