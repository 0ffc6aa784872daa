"""Whatever writes a file asks the one writer: nothing is replaced unless it is said."""

from __future__ import annotations

import importlib
import inspect
import os
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest

import stoichkit
from stoichkit import __main__ as command
from stoichkit import experiments
from stoichkit.classroom.data import ClassData
from stoichkit.classroom.result import ClassResult, assess_class
from stoichkit.errors import StoichkitError
from tests.classfiles import csv_bytes
from tests.test_architecture import ROOMS

LAB = experiments.load("copper-silver")
TAKEN = "There is a file of that name already"


@cache
def evidence() -> stoichkit.Evidence:
    return stoichkit.assess(LAB)


@cache
def class_result() -> ClassResult:
    return assess_class(experiments.class_file(), LAB, codes=True)


@cache
def coded() -> ClassData:
    return stoichkit.load_class(experiments.class_file(), LAB, codes=True)


def marks() -> stoichkit.classroom.ClassMarks:
    data = class_result().data
    answers = f"group,conclusion\n{data.names[0]},none\n".encode()
    return stoichkit.classroom.mark_class(answers, data)


WRITERS: dict[str, tuple[str, Callable[..., object]]] = {
    "copy_notebooks": (
        "toolkit.ipynb",
        lambda path, **k: stoichkit.guide.copy_notebooks(path.parent, **k),
    ),
    "export_answer_key": (
        "a.csv",
        lambda path, **k: stoichkit.classroom.export_answer_key(class_result().data, path, **k),
    ),
    "export_answer_sheet": (
        "a.xlsx",
        lambda path, **k: stoichkit.classroom.export_answer_sheet(LAB, path, **k),
    ),
    "export_grades": (
        "a.csv",
        lambda path, **k: stoichkit.classroom.export_grades(marks(), path, **k),
    ),
    "export_code_key": (
        "a.csv",
        lambda path, **k: stoichkit.classroom.export_code_key(coded(), path, **k),
    ),
    "export_results": (
        "a.html",
        lambda path, **k: stoichkit.classroom.export_results(class_result().evidence, path, **k),
    ),
    "export_rows": (
        "a.xlsx",
        lambda path, **k: stoichkit.classroom.export_rows(class_result().data, path, **k),
    ),
    "save_choices": (
        "class.choices.toml",
        lambda path, **k: stoichkit.classroom.save_choices(
            stoichkit.classroom.Choices({"paper": "E"}), path, **k
        ),
    ),
    "save_experiment": ("a.toml", lambda path, **k: stoichkit.save_experiment(LAB, path, **k)),
    "save_picture": (
        "a.svg",
        lambda path, **k: stoichkit.plots.save_picture(evidence(), path, **k),
    ),
    "class_report": (
        "a.md",
        lambda path, **k: stoichkit.reports.class_report(class_result()).save(path, **k),
    ),
    "write_datasheet": ("a.csv", lambda path, **k: stoichkit.bench.write_datasheet(LAB, path, **k)),
    "group_report": (
        "a.html",
        lambda path, **k: stoichkit.reports.group_report(class_result(), "G01").save(path, **k),
    ),
    "hand_in_page": (
        "a.html",
        lambda path, **k: stoichkit.reports.hand_in_page(evidence()).save(path, **k),
    ),
    "lab_report": (
        "a.html",
        lambda path, **k: stoichkit.reports.lab_report(evidence()).save(path, **k),
    ),
    "write_sheets": (
        "a.csv",
        lambda path, **k: stoichkit.text.sheets.write_sheets(
            path, [stoichkit.text.sheets.Sheet("t", ("a",), [("b",)])], **k
        ),
    ),
    "worked_solution": (
        "a.tex",
        lambda path, **k: stoichkit.reports.worked_solution(evidence()).save(path, **k),
    ),
}


def test_every_public_name_that_writes_is_tried_here() -> None:
    public = set()
    for room in ("", *ROOMS):
        module = importlib.import_module(f"stoichkit.{room.replace('/', '.')}".rstrip("."))
        for name in getattr(module, "__all__", ()):
            value = getattr(module, name)
            says = inspect.isfunction(value) and "replace" in inspect.signature(value).parameters
            if says or name.partition("_")[0] in ("copy", "export", "save", "write"):
                public.add(name)
    documents = {*("class_report", "group_report", "hand_in_page", "lab_report", "worked_solution")}
    assert public == set(WRITERS) - documents


@pytest.mark.parametrize("name", WRITERS)
def test_nothing_is_replaced_unasked(name: str, tmp_path: Path) -> None:
    called, write = WRITERS[name]
    path = tmp_path / called
    path.write_bytes(b"mine")
    with pytest.raises(StoichkitError, match=TAKEN):
        write(path)
    assert path.read_bytes() == b"mine"
    assert os.listdir(tmp_path) == [called]

    write(path, replace=True)
    assert path.read_bytes() not in (b"mine", b"")
    path.unlink()
    os.mkfifo(path)
    with pytest.raises(StoichkitError, match="This is a pipe, not a file"):
        write(path, replace=True)
    assert path.is_fifo()


COMMANDS: dict[str, tuple[str, list[str]]] = {
    "demonstration": ("a.svg", ["--picture", "a.svg"]),
    "test --output": ("a.txt", ["test", "lab.toml", "--output", "a.txt"]),
    "test --hand-in": ("a.html", ["test", "lab.toml", "--hand-in", "a.html"]),
    "test --picture": ("a.svg", ["test", "lab.toml", "--picture", "a.svg"]),
    "worked": ("a.tex", ["worked", "lab.toml", "--out", "a.tex"]),
    "copy": ("a.toml", ["copy", "tin-oxide", "a.toml"]),
    "copy to a folder": ("tin-oxide.toml", ["copy", "tin-oxide", "."]),
    "notebooks": ("toolkit.ipynb", ["notebooks", "."]),
    "class --out": ("a.md", ["class", "--experiment", "lab.toml", "c.csv", "--out", "a.md"]),
    "class --results": (
        "a.csv",
        ["class", "--experiment", "lab.toml", "c.csv", "--results", "a.csv"],
    ),
    "class --key": ("a.xlsx", ["class", "--experiment", "lab.toml", "c.csv", "--key", "a.xlsx"]),
    "answer-sheet --out": (
        "a.csv",
        ["answer-sheet", "--class", "c.csv", "--experiment", "lab.toml", "--out", "a.csv"],
    ),
    "answer-sheet --rubric": (
        "a.toml",
        ["answer-sheet", "--class", "c.csv", "--experiment", "lab.toml", "--rubric", "a.toml"],
    ),
    "class --code-key": (
        "a.csv",
        ["class", "--experiment", "lab.toml", "c.csv", "--codes", "--code-key", "a.csv"],
    ),
}


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder of the commands, with an experiment and a class in it."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "lab.toml").write_text(experiments.read("copper-silver"), "utf-8")
    (tmp_path / "c.csv").write_bytes(csv_bytes())
    return tmp_path


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_replaces_only_with_force(
    name: str, here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    called, arguments = COMMANDS[name]
    (here / called).write_bytes(b"mine")
    before = contents(here)
    assert command.main(arguments) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert TAKEN in err
    assert called in err
    assert "--force" in err
    assert contents(here) == before

    assert command.main([*arguments, "--force"]) == 0
    assert (here / called).read_bytes() not in (b"mine", b"")
    (here / called).unlink()
    os.mkfifo(here / called)
    capsys.readouterr()
    assert command.main([*arguments, "--force"]) == 2
    assert "This is a pipe, not a file" in capsys.readouterr().err
    assert (here / called).is_fifo()


@pytest.mark.parametrize(
    ("arguments", "names"),
    [
        (["test", "lab.toml", "--output", "lab.toml"], "FILE and --output"),
        (["test", "lab.toml", "--output", "./lab.toml"], "FILE and --output"),
        (["test", "lab.toml", "--output", "soft.md"], "FILE and --output"),
        (["test", "lab.toml", "--output", "hard.md"], "FILE and --output"),
        (["test", "soft.md", "--output", "lab.toml"], "FILE and --output"),
        (["test", "lab.toml", "--picture", "n.svg", "--out", "./n.svg"], "--picture and --output"),
        (["test", "lab.toml", "--picture", "n.svg", "--out", "in/n.svg"], "--picture and --output"),
        (["worked", "lab.toml", "--out", "soft.md"], "FILE and --output"),
        (["class", "c.csv", "--experiment", "lab.toml", "--key", "c.csv"], "FILE and --key"),
        (
            ["class", "c.csv", "--experiment", "lab.toml", "--out", "soft.md"],
            "--experiment and --out",
        ),
        (
            ["class", "c.csv", "--experiment", "lab.toml", "--key", "n.csv", "--results", "n.csv"],
            "--results and --key",
        ),
    ],
)
def test_nothing_is_written_over_what_is_read_or_written_by_the_same_command(
    arguments: list[str], names: str, here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (here / "soft.md").symlink_to("lab.toml")
    (here / "in").symlink_to(here)
    os.link(here / "lab.toml", here / "hard.md")
    before = contents(here)
    for force in ([], ["--force"]):
        assert command.main([*arguments, *force]) == 2
        out, err = capsys.readouterr()
        assert out == ""
        assert f"{names} are the same file" in err
    assert contents(here) == before


def test_the_demonstration_draws_its_own_picture_anew(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    picture = tmp_path / "stoichkit-demo" / "copper-silver.svg"
    for _ in range(2):
        assert command.main([]) == 0
        assert b"<svg" in picture.read_bytes()
        picture.write_bytes(b"old")
    assert command.main(["--picture", "stoichkit-demo/copper-silver.svg"]) == 2
    assert picture.read_bytes() == b"old"
