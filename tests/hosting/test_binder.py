"""The files for a hosted notebook are ones that a builder accepts; nothing is built here."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
BINDER = ROOT / "binder"


def pins() -> list[str]:
    lines = (BINDER / "requirements.txt").read_text("utf-8").splitlines()
    return [line for line in lines if line and not line.startswith("#")]


def test_every_requirement_is_pinned_and_stoichkit_comes_from_here() -> None:
    *others, last = pins()
    assert last == "."
    assert all(re.fullmatch(r"[\w.-]+==[\d.]+", pin) for pin in others)
    pinned = {pin.split("==")[0].lower() for pin in others}
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    extras = project["optional-dependencies"]
    wanted = [*project["dependencies"], *extras["notebook"], *extras["xlsx"]]
    assert {re.split(r"[>=<]", one)[0].lower() for one in wanted} <= pinned
    assert "voila" in pinned


def test_the_python_is_a_supported_one() -> None:
    found = re.fullmatch(r"python-(3\.\d+)\n", (BINDER / "runtime.txt").read_text("utf-8"))
    assert found
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    assert f"Programming Language :: Python :: {found[1]}" in project["classifiers"]


def test_a_builder_plans_the_image(tmp_path: Path) -> None:
    """repo2docker reads the files and writes its plan; its engine is not needed for that."""
    beside = Path(sys.executable).parent / "jupyter-repo2docker"
    command = str(beside) if beside.exists() else shutil.which("jupyter-repo2docker")
    if command is None:
        pytest.skip("repo2docker is not installed: pip install jupyter-repo2docker")
    for name in ("binder", "stoichkit", "notebooks"):
        shutil.copytree(ROOT / name, tmp_path / name)
    for name in ("pyproject.toml", "README.md", "LICENSE"):
        shutil.copy(ROOT / name, tmp_path / name)
    done = subprocess.run(
        [command, "--no-build", "--debug", str(tmp_path)],
        capture_output=True,
        text=True,
        check=False,
    )
    plan = done.stdout + done.stderr
    assert done.returncode == 0, plan[-2000:]
    copied = plan.index("COPY --chown=0:0 src/ ${REPO_DIR}/")
    installed = plan.index('pip install --no-cache-dir -r "binder/requirements.txt"')
    assert copied < installed, "stoichkit itself is installed from the copied files"
    python = (BINDER / "runtime.txt").read_text("utf-8").strip().removeprefix("python-")
    assert f"Building conda environment for python={python}" in plan


@pytest.mark.slow
def test_the_pins_can_be_installed_together() -> None:
    python = f"python-{sys.version_info[0]}.{sys.version_info[1]}"
    if python != (BINDER / "runtime.txt").read_text("utf-8").strip():
        pytest.skip("needs the Python of binder/runtime.txt")
    done = subprocess.run(
        [
            *(sys.executable, "-m", "pip", "install", "--dry-run", "--ignore-installed"),
            *("-r", "binder/requirements.txt"),
        ],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-2000:]
    would = done.stdout.rsplit("Would install", 1)[1]
    for pin in pins()[:-1]:
        assert f"{pin.replace('==', '-').lower()}" in would.lower().replace("_", "-"), pin
    assert "stoichkit-" in would
