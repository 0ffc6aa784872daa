"""Build wheel and source archive, and test the wheel alone in a clean environment.

    python -m tests.packaging.check --newest     # whatever pip resolves
    python -m tests.packaging.check --oldest     # the lower bounds of pyproject.toml

Needs an index of packages. The core of the tests runs against the installed wheel, without browser.
"""

from __future__ import annotations

import argparse
import re
import shutil
import subprocess
import sys
import tempfile
import tomllib
import zipfile
from pathlib import Path

ROOT = Path(__file__).parents[2]
CORE = ("chemistry/test_formula", "chemistry/test_equation", "decision/test_evidence",
        "decision/test_weighings", "reports/test_report", "test_cli", "experiments/test_experiment",
        "experiments/test_ready_experiments", "planning/test_planning", "diagnosis/test_causes",
        "reports/test_study", "reports/test_class_report")  # fmt: skip
PARTS = ("data/", "experiments/", "guide/", "notebooks/", "widgets/static/page.js",
         "widgets/static/site.js", "widgets/site/index.html", "widgets/site/site.css",
         "widgets/site/icon.svg", "widgets/site/worker.js", "widgets/site/service-worker.js",
         "widgets/static/page.css", "widgets/page/vendor/LICENSES.txt", "widgets/page/protocol.md",
         "py.typed")  # fmt: skip


def lowest(requirement: str) -> str:
    """Return a requirement pinned to its lower bound.

    >>> lowest("numpy>=2.0")
    'numpy==2.0.*'
    """
    name, _, version = requirement.partition(">=")
    return f"{name}=={version}.*" if version.count(".") < 2 else f"{name}=={version}"


def build(folder: Path) -> Path:
    """Build the wheel from the unpacked source archive, so that both are tested."""
    tools = folder / "tools"
    run(sys.executable, "-m", "venv", tools)
    run(tools / "bin/pip", "install", "-q", "build")
    run(tools / "bin/python", "-m", "build", "--sdist", "--outdir", folder / "dist", ROOT)
    archive = next((folder / "dist").glob("*.tar.gz"))
    run(tools / "bin/pip", "wheel", "-q", "--no-deps", "-w", folder / "dist", archive)
    return next((folder / "dist").glob("*.whl"))


def missing(wheel: Path) -> list[str]:
    """Return what a wheel should hold and does not."""
    with zipfile.ZipFile(wheel) as content:
        names = content.namelist()
    return [p for p in PARTS if not any(n.startswith(f"stoichkit/{p}") for n in names)]


def run(*command: object, cwd: Path | None = None) -> str:
    print("+", " ".join(map(str, command)), flush=True)
    done = subprocess.run([str(c) for c in command], cwd=cwd, capture_output=True, text=True)
    if done.returncode:
        print(done.stdout[-3000:], done.stderr[-3000:], sep="\n")
        raise SystemExit(f"failed: {command[0]}")
    return done.stdout


def main(argv: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__, prog="python -m tests.packaging.check")
    which = parser.add_mutually_exclusive_group(required=True)
    which.add_argument("--oldest", action="store_true")
    which.add_argument("--newest", action="store_true")
    options = parser.parse_args(argv)
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    needed = [*project["dependencies"], *project["optional-dependencies"]["notebook"]]
    needed += project["optional-dependencies"]["xlsx"]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        wheel = build(folder)
        if lost := missing(wheel):
            raise SystemExit(f"the wheel lacks {', '.join(lost)}")
        home = folder / "clean"
        run(sys.executable, "-m", "venv", home)
        # matplotlib 3.8 calls names of pyparsing that newer ones deprecate
        pins = [*map(lowest, needed), "pyparsing<3.2"] if options.oldest else needed
        run(
            home / "bin/pip",
            "install",
            "-q",
            wheel,
            *pins,
            "pytest>=8",
            "hypothesis>=6.100",
            "statsmodels>=0.14",
        )
        empty = folder / "empty"
        empty.mkdir()
        shown = run(home / "bin/python", "-m", "stoichkit", cwd=empty)
        assert "single out copper(II)" in shown
        run(home / "bin/python", "-m", "stoichkit", "notebooks", "books", cwd=empty)
        away = folder / "away"
        shutil.copytree(ROOT / "tests", away / "tests")
        shutil.copytree(ROOT / "notebooks", away / "notebooks")
        files = [f"tests/{one}.py" for one in CORE]
        switches = ["-q", "-p", "no:cacheprovider", "-m", "not browser and not slow"]
        out = run(home / "bin/python", "-m", "pytest", *switches, *files, cwd=away)
        print("\n".join(out.strip().splitlines()[-3:]))
        listed = run(home / "bin/pip", "list", "--format=freeze")
        wanted = {re.split("[>=]", n)[0].lower() for n in needed}
        print(" ".join(x for x in listed.split() if x.split("==")[0].lower() in wanted))
    return 0


if __name__ == "__main__":
    sys.exit(main())
