"""The state works, and is tested, in a process that cannot import ipywidgets."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).parent
BLOCKED = """
import sys
for name in ("ipywidgets", "anywidget", "traitlets", "IPython", "matplotlib"):
    sys.modules[name] = None
"""


def run(code: str) -> str:
    done = subprocess.run(
        [sys.executable, "-c", BLOCKED + code],
        capture_output=True,
        text=True,
        cwd=HERE.parents[1],
        timeout=120,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def test_the_tests_of_the_state_pass_without_ipywidgets() -> None:
    tests = ("state", "candidate_text")
    names = [str(HERE / "state" / f"test_{name}.py") for name in tests]
    out = run(
        f"import pytest; sys.exit(pytest.main(['-p', 'no:cacheprovider', '-n', '0', *{names!r}]))"
    )
    assert " passed" in out


def test_importing_stoichkit_does_not_import_ipywidgets() -> None:
    run("import stoichkit; from stoichkit.widgets import ReadingsState; ReadingsState().evidence")
