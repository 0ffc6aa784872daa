"""The in-browser site: it is built, its versions are met, it runs with no server or network.

The copy of Pyodide in these tests has no NumPy (see ``pyodide_copy``), so verdicts are not worked
out here; everything before them is.
"""

from __future__ import annotations

import importlib.util
import json
import re
import shutil
import tomllib
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from stoichkit import experiments
from stoichkit.chemistry.elements import molar_mass
from stoichkit.uncertainty.sources import format_number

from ..browser.conftest import RUN_ALL
from ..browser.harness import holds
from .lite_cells import notebook_text
from .pyodide_copy import STAND_INS, locked, make_copy
from .servers import serve_files

ROOT = Path(__file__).parents[2]
LITE = ROOT / "binder" / "lite"
START_MS = 120_000


def lines(path: Path) -> dict[str, str]:
    """Return the pins of a requirements file."""
    pins = (line.split("==") for line in path.read_text("utf-8").splitlines() if "==" in line)
    return {name.lower().replace("_", "-"): version for name, version in pins}


def builder() -> ModuleType:
    spec = importlib.util.spec_from_file_location("stoichkit_lite_build", LITE / "build.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def meets(version: str, wanted: str) -> bool:
    """Say whether a version is at least the one wanted, as in ``>=2.0``."""
    least = re.fullmatch(r">=([\d.]+)", wanted)
    assert least, wanted
    numbers = [[int(n) for n in re.findall(r"\d+", one)] for one in (version, least[1])]
    return numbers[0] >= numbers[1]


def required() -> dict[str, str]:
    """Return what stoichkit requires: names with their bounds."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    named = [*project["dependencies"], *project["optional-dependencies"]["notebook"]]
    pairs = (re.fullmatch(r"([\w.-]+?)(>=.*)", one) for one in named)
    return {pair[1].lower(): pair[2] for pair in pairs if pair}


def test_bounds_are_compared_as_numbers() -> None:
    assert meets("3.10.8", ">=3.8")
    assert not meets("3.10.8", ">=3.11")
    assert meets("2.0.0", ">=2.0")


def test_every_requirement_is_carried_or_in_the_distribution(pyodide: Path) -> None:
    packages = locked(pyodide)
    carried = lines(LITE / "wheels.txt")
    wanted = required()
    wanted.pop("jupyterlab")  # the site is its own front end
    assert set(STAND_INS) <= set(wanted)
    for name, bound in wanted.items():
        assert (name in carried) != (name in packages), name
        version = carried.get(name) or packages[name]["version"]
        assert meets(version, bound), f"{name} {version} does not meet {bound}"


def test_python_and_pyodide_are_the_ones_the_kernel_names(pyodide: Path) -> None:
    info = json.loads((pyodide / "pyodide-lock.json").read_text("utf-8"))["info"]
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    assert meets(info["python"], project["requires-python"])
    assert info["python"].startswith(f"{builder().BROWSER_PYTHON}.")
    assert f"Programming Language :: Python :: {builder().BROWSER_PYTHON}" in project["classifiers"]


def test_hosted_and_in_browser_versions_are_the_same() -> None:
    """What is pinned in more than one place is pinned alike."""
    pins = [lines(p) for p in (ROOT / "binder" / "requirements.txt", LITE / "requirements.txt")]
    carried = lines(LITE / "wheels.txt")
    for other in pins:
        shared = carried.keys() & other.keys()
        assert shared
        assert {name: carried[name] for name in shared} == {name: other[name] for name in shared}


@dataclass(frozen=True)
class Site:
    """The site as plain files, and where they are served."""

    folder: Path
    address: str


@pytest.fixture(scope="module")
def site(tools: Path, pyodide: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    work = tmp_path_factory.mktemp("site")
    copy = make_copy(pyodide, work / "pyodide")
    notebooks = work / "notebooks"
    notebooks.mkdir()
    (notebooks / "probe.ipynb").write_text(notebook_text(), "utf-8")
    for path in (ROOT / "notebooks").glob("*.ipynb"):
        (notebooks / path.name).write_bytes(path.read_bytes())
    out = builder().build(work / "out", pyodide=copy, tools=tools, notebooks=notebooks)
    settings = json.loads((out / "jupyter-lite.json").read_text("utf-8"))
    settings["jupyter-config-data"]["exposeAppInBrowser"] = True
    (out / "jupyter-lite.json").write_text(json.dumps(settings), "utf-8")
    with serve_files(out) as address:
        yield Site(out, address)


@pytest.mark.slow  # built with packages of an index; test_site.py tries the other page
def test_the_site_carries_what_it_needs(site: Site) -> None:
    wheels = sorted(path.name for path in (site.folder / "pypi").glob("*.whl"))
    assert all(name.endswith("-none-any.whl") for name in wheels)
    assert len(wheels) == len(lines(LITE / "wheels.txt")) + 1
    own = next(path for path in (site.folder / "pypi").glob("stoichkit-*.whl"))
    with zipfile.ZipFile(own) as archive:
        names = archive.namelist()
        about = archive.read(next(n for n in names if n.endswith("/WHEEL"))).decode()
    assert "Root-Is-Purelib: true" in about
    assert not [name for name in names if name.endswith((".so", ".pyd", ".dylib"))]
    for wanted in ("widgets/static/page.js", "data/elements.csv", "experiments/tin-oxide.toml"):
        assert f"stoichkit/{wanted}" in names
    listed = (site.folder / "api" / "contents" / "all.json").read_text("utf-8")
    for path in (ROOT / "notebooks").glob("*.ipynb"):
        assert f'"{path.name}"' in listed
        copy = json.loads((site.folder / "files" / path.name).read_text("utf-8"))
        code = [cell for cell in copy["cells"] if cell["cell_type"] == "code"]
        assert "".join(code[0]["source"]) == builder().FIRST_CODE
        assert code[1]["outputs"], "the results are there before anything runs"


def test_a_folder_that_is_not_empty_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "kept.txt").write_text("kept", "utf-8")
    with pytest.raises(SystemExit, match="not empty"):
        builder().build(tmp_path)
    with pytest.raises(SystemExit, match=r"no pyodide-lock\.json"):
        builder().build(tmp_path / "new", pyodide=tmp_path)


def test_paths_may_be_relative(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The tools run in a folder of their own, where a relative path would mean another place."""
    module = builder()
    commands: list[list[str]] = []

    def run(command: list[str], *, cwd: Path | None = None) -> None:
        commands.append(command)
        for part in command:
            if part.startswith("--output-dir="):
                assert cwd is not None
                target = cwd / part.partition("=")[2]
                shutil.copytree(cwd / "static", target / "static")

    monkeypatch.setattr(module, "run", run)
    monkeypatch.setattr(module.venv, "create", lambda folder, **_: Path(folder).mkdir())
    monkeypatch.chdir(tmp_path)
    (tmp_path / "copy").mkdir()
    (tmp_path / "copy" / "pyodide-lock.json").write_text("{}", "utf-8")
    (tmp_path / "elsewhere").mkdir()
    module.main(["elsewhere/out", "--pyodide", "copy", "--tools", "tools"])
    assert (tmp_path / "elsewhere" / "out" / "static" / "pyodide" / "pyodide-lock.json").is_file()
    assert commands
    assert all(Path(command[0]).is_absolute() for command in commands)


@pytest.mark.slow
@pytest.mark.browser
def test_it_runs_in_the_browser_with_no_server_and_no_network(
    site: Site, browser: Any, shot: Any, violations: Any
) -> None:
    context = browser.new_context(viewport={"width": 1200, "height": 1400})
    asked: list[str] = []
    errors: list[str] = []
    context.on("request", lambda request: asked.append(request.url))
    page = context.new_page()
    page.set_default_timeout(START_MS)
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.on(
        "console",
        lambda said: (
            errors.append(f"{said.text} {said.location['url']}")
            if said.type == "error" and not said.location["url"].endswith("/favicon.ico")
            else None
        ),
    )
    page.goto(f"{site.address}/notebooks/index.html?path=probe.ipynb")
    page.wait_for_function("() => window.jupyterapp?.shell?.currentWidget?.sessionContext")
    page.evaluate(RUN_ALL)
    shown = page.locator(".jp-OutputArea-output", has_text="RESULT").first
    shown.wait_for()
    result = json.loads(shown.inner_text().split("RESULT", 1)[1])
    lab = experiments.load("copper-silver")
    consumed, produced = lab.amounts()[0]
    assert result == {
        "python": [3, 14],
        "platform": "emscripten",
        "molar_mass": format_number(molar_mass("CuSO4.5H2O"), unit="g/mol"),
        "equation": "Cu + 2 Ag^+ -> Cu^2+ + 2 Ag",
        "candidates": [candidate.name for candidate in lab.candidates],
        "amounts": [format_number(1000 * one, unit="mmol") for one in (consumed, produced)],
        "same": True,
        "kept": True,
        "threads": False,
    }
    box = page.get_by_role("textbox", name="Reading, g", exact=True)
    box.focus()
    page.keyboard.type("12,94")
    page.get_by_text("read 12.94").wait_for()
    page.keyboard.type("x")
    page.locator(".stoichkit .said").filter(has_text="12,94x").wait_for()
    holds(box, "12,94x")
    page.get_by_role("slider", name="Readability", exact=True).focus()
    page.keyboard.press("ArrowRight")
    page.get_by_text("worked out for 2").wait_for()
    shot(page.locator(".stoichkit"), "in-the-browser")
    here = (site.address, "blob:", "data:")
    assert [url for url in asked if not url.startswith(here)] == []
    assert errors == []
    assert violations(page, ".stoichkit") == []
    context.close()
