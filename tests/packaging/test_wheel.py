"""The wheel carries everything that is needed, and nothing of this machine."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest

from .check import ROOT, lowest, missing
from .tested_with import FILE, named

BUILD = "from hatchling.build import build_wheel; print(build_wheel(__import__('sys').argv[1]))"


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    pytest.importorskip("hatchling", reason="hatchling is not installed")
    folder = tmp_path_factory.mktemp("wheel")
    done = subprocess.run(
        [sys.executable, "-c", BUILD, str(folder)], cwd=ROOT, capture_output=True, text=True,
        check=True,
    )  # fmt: skip
    return folder / done.stdout.strip().splitlines()[-1]


def test_nothing_is_missing_and_nothing_too_much(wheel: Path) -> None:
    assert missing(wheel) == []
    with zipfile.ZipFile(wheel) as content:
        names = content.namelist()
        assert not [n for n in names if n.startswith(("tests", "binder")) or "__pycache__" in n]
        for name in names:
            data = content.read(name)
            for place in (str(ROOT), str(Path.home())):
                assert len(place) < 4 or f"{place}/".encode() not in data, name
    assert any(n.endswith("self-study.ipynb") for n in names)


def test_the_wheel_alone_shows_the_demonstration(wheel: Path, tmp_path: Path) -> None:
    """Unpacked elsewhere, with the packages of this environment."""
    with zipfile.ZipFile(wheel) as content:
        content.extractall(tmp_path / "site")
    done = subprocess.run(
        [sys.executable, "-m", "stoichkit", "--no-picture"], cwd=tmp_path / "site",
        env={**os.environ, "PYTHONPATH": str(tmp_path / "site")}, capture_output=True, text=True,
        check=True,
    )  # fmt: skip
    assert "single out copper(II)" in done.stdout


def test_lowest_versions() -> None:
    assert lowest("numpy>=2.0") == "numpy==2.0.*"
    assert lowest("anywidget>=0.9.13") == "anywidget==0.9.13"


def test_every_package_named_has_a_version_it_was_tested_with() -> None:
    lines = FILE.read_text("utf-8").splitlines()
    assert re.fullmatch(r"# Python 3\.\d+", lines[0])
    pinned = dict(line.split("==") for line in lines[1:])
    assert {*named()} <= pinned.keys()
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    for line in project["dependencies"]:
        name, least = line.split(">=")
        assert [*map(int, pinned[name].split(".")[:2])] >= [*map(int, least.split("."))], name


def test_addresses_of_the_project_name_no_host() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    assert project["urls"]
    assert all(one.startswith("urn:stoichkit:") for one in project["urls"].values())
