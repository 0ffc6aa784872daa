"""What the page's worker does with Python, in Chromium, with a stand-in for Pyodide.

The stand-in is told when a lab needs what is on its way, and when it fails; what the worker says
and fetches is written down. :mod:`.test_site` has a whole Pyodide.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from stoichkit.widgets.site import build

from .servers import serve_files

pytestmark = pytest.mark.browser
STAND_IN = """
export async function loadPyodide() {
  let here = [];
  const kernel = {
    waits: false,
    give_back() {},
    open() {
      kernel.waits = here.length < NEEDED;
      if (FAILS) throw Object.assign(new Error("Traceback\\nModelError: no such thing"), FAILS);
    },
    expects: (name) => !here.includes(name),
    arrived(name) { here.push(name); kernel.open(); },
    act: () => here.length >= ANSWERS,
    arriving: { here() {} },
  };
  return {
    loadedPackages: { numpy: "default channel", scipy: "default channel" },
    async loadPackage() {},
    toPy: (one) => one,
    unpackArchive() {},
    FS: { writeFile() {} },
    runPython: (code) => (code.includes("Kernel(said") ? kernel : "/place"),
  };
}
"""
PAGE = """<!DOCTYPE html><title>worker</title><script type="module">
  window.said = [];
  const worker = new Worker("worker.js", { type: "module" });
  worker.onmessage = ({ data }) => {
    window.said.push([data.kind, data.text]);
    if (data.kind === "ready") worker.postMessage({ kind: "act", given: { number: 1 } });
  };
  const given = { session: "1", base: "", kept: "{}", fragment: "" };
  worker.postMessage({ kind: "start", given });
</script>"""
ENDED = "() => said.some(([kind]) => ['done', 'complete', 'failed', 'broken'].includes(kind))"


@pytest.fixture
def started(browser: Any, tmp_path: Path) -> Callable[..., tuple[list[list[Any]], list[str]]]:
    def start(
        needed: int = 0, answers: int = 0, fails: str = "null"
    ) -> tuple[list[list[Any]], list[str]]:
        """Return what the worker said, and what was asked of the server.

        The lab needs so many packages to be opened, and so many to be answered about.
        """
        folder = Path(build.__file__).parent
        (tmp_path / "pyodide").mkdir()
        for name in ("worker.js", "memory.js"):
            (tmp_path / name).write_bytes((folder / name).read_bytes())
        script = STAND_IN.replace("NEEDED", str(needed)).replace("FAILS", fails)
        script = script.replace("ANSWERS", str(answers))
        (tmp_path / "pyodide" / "pyodide.mjs").write_text(script, "utf-8")
        (tmp_path / "index.html").write_text(PAGE, "utf-8")
        for name in ("stoichkit.zip", "sympy.zip", "openpyxl.zip"):
            (tmp_path / name).write_bytes(b"")
        asked: list[str] = []
        with serve_files(tmp_path, asked.append) as address:
            page = browser.new_page()
            page.goto(f"{address}/index.html")
            page.wait_for_function(ENDED)
            said = page.evaluate("() => said")
            page.close()
        return said, asked

    return start


def test_a_lab_that_needs_nothing_more_is_shown_at_once(started: Any) -> None:
    said, asked = started()
    assert said[-2:] == [["ready", ""], ["done", 1]]
    assert "loading" not in {kind for kind, _ in said}
    assert "/sympy.zip" not in asked


def test_a_lab_is_waited_for_with_no_more_than_it_needs(started: Any) -> None:
    said, asked = started(needed=2)
    assert said[-2:] == [["ready", ""], ["done", 1]]
    assert [text for kind, text in said if kind == "loading"] == ["SciPy", "SymPy"]
    assert "/sympy.zip" in asked
    assert "/openpyxl.zip" not in asked


def test_what_an_answer_needs_is_loaded_though_nothing_is_shown_yet(started: Any) -> None:
    said, _ = started(answers=1)
    kinds = [kind for kind, _ in said]
    assert kinds.index("ready") < kinds.index("loading") < kinds.index("complete")


def test_an_error_of_python_is_told_at_once_and_nothing_is_loaded_for_it(started: Any) -> None:
    said, asked = started(fails='{ type: "ModelError" }')
    assert said[-1] == ["broken", "ModelError: no such thing"]
    assert "loading" not in {kind for kind, _ in said}
    assert "/sympy.zip" not in asked


def test_any_other_error_is_told_too(started: Any) -> None:
    said, _ = started(fails="{}")
    assert said[-1] == ["failed", "ModelError: no such thing"]
