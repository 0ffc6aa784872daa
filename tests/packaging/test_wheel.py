"""The wheel carries everything that is needed, and nothing of this machine."""

from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from .check import ROOT, lowest, missing

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
