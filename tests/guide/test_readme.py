"""README.md: what it shows is run, what it prints is printed, what it names is there."""

from __future__ import annotations

import io
import re
import shlex
import shutil
from pathlib import Path

import pytest

from stoichkit.__main__ import main
from stoichkit.decision import VerdictKind
from stoichkit.guide.notebooks import notebook_names
from tests.classfiles import csv_bytes
from tests.classroom.test_review import SWAPPED
from tests.test_marking_way import ANSWERS

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text("utf-8")
BLOCKS = re.findall(r"^```(\w*)\n(.*?)^```", README, re.MULTILINE | re.DOTALL)
COMMANDS = [
    line.split("#")[0].strip()
    for _, block in BLOCKS
    for line in block.splitlines()
    if "python -m stoichkit" in line
]
EXAMPLES = [block for language, block in BLOCKS if language == "python"]


def put(folder: Path, command: str) -> list[str]:
    """Put what a command needs into the folder; return its arguments."""
    arguments = shlex.split(command.split("python -m stoichkit", 1)[1])
    if "my.toml" in arguments and arguments[0] != "copy":
        assert main(["copy", "copper-silver", "my.toml", "--force"]) == 0
    if "readings.csv" in arguments:
        (folder / "readings.csv").write_bytes(csv_bytes(SWAPPED))
    if "answers.csv" in arguments and arguments[0] == "mark":
        (folder / "answers.csv").write_text(ANSWERS, "utf-8")
    return arguments


def test_every_kind_of_block_is_tried() -> None:
    assert {language for language, _ in BLOCKS} == {"", "python"}
    assert len(COMMANDS) == 14
    assert len(EXAMPLES) == 3


@pytest.mark.parametrize("command", COMMANDS, ids=lambda c: c.split("stoichkit", 1)[1][:24].strip())
def test_a_command_does_what_it_says(
    command: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    arguments = put(tmp_path, command)
    if arguments[:1] == ["new"]:
        monkeypatch.setattr("sys.stdin", io.StringIO(""))  # asks; nobody answers
        assert main(arguments) == 2
        assert "1" in capsys.readouterr().out
        return
    assert main(arguments) == 0
    printed = capsys.readouterr().out
    assert printed.strip()
    named = {a for a in arguments[1:] if re.fullmatch(r"[\w.-]+\.(html|toml|csv)", a)}
    assert named <= {one.name for one in tmp_path.iterdir()}


def test_what_the_main_command_prints(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main([]) == 0
    printed = capsys.readouterr().out
    (shown,) = (block for _, block in BLOCKS if block.startswith("These readings single out"))
    for part in shown.split("...\n"):
        assert part.strip() in printed
    assert any(one.suffix == ".svg" or one.suffix == ".png" for one in tmp_path.rglob("*.*"))


def test_the_python_examples(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """They are run one after the other, as a reader would."""
    monkeypatch.chdir(tmp_path)
    main(["copy", "copper-silver", "my.toml"])
    names: dict[str, object] = {}
    for block in EXAMPLES:
        exec(compile(block, "README.md", "exec"), names)
    kinds = re.search(r"evidence.verdict.kind  # (.*)", README)
    assert kinds is not None
    assert set(re.findall(r'"(\w+)"', kinds[1])) == {kind.value for kind in VerdictKind}


def test_what_is_named_is_there() -> None:
    for name in re.findall(r"\]\(([^)#]+)\)", README):
        assert (ROOT / name).exists(), name
    for name in re.findall(r"^\| `([\w-]+)` \|", README, re.MULTILINE):
        assert f"{name}.ipynb" in notebook_names(), name
    for name in re.findall(r"`(tests/[\w/]+\.(?:py|md))`", README):
        assert (ROOT / name).is_file(), name


def test_the_table_of_ways_to_decide_is_the_record() -> None:
    record = (ROOT / "tests/studies/calibration.md").read_text("utf-8")
    rows = r"^\| [a-z][\w% -]*\| ([\d.]+) \| ([\d.]+) \| ([\d.]+) \| ([\d.]+) \|$"
    shown, recorded = (re.findall(rows, text, re.MULTILINE) for text in (README, record))
    assert shown == recorded
    assert len(shown) == 5
    settings, cells, labs, limit = re.search(
        r"(\d+) settings, (\d+) cells, (\d+) labs a cell; limit .* = ([\d.]+) %", record
    ).groups()  # type: ignore[union-attr]
    for said in (f"{settings} settings", f"{int(cells):,} cells", f"{int(labs):,} labs",
                 f"above {limit} %"):  # fmt: skip
        assert said in README


def test_the_command_of_the_tests_is_that_of_the_automatic_run() -> None:
    run = (ROOT / ".ci/run").read_text("utf-8")
    assert "tests:start" in run
    assert "README.md" in run
    assert shutil.which("bash")
    needs = re.search(r'requires-python = ">=(3\.\d+)"', (ROOT / "pyproject.toml").read_text())
    assert needs is not None
    assert f"Python {needs[1]} or newer" in README
