"""The installed page is what its sources make, small, of the right types, and loads nothing."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest

from .bundle import PAGE, ROOT, SITE, STATIC, VERSION, built, main, stale, tool

TYPES = ("--noEmit", "--allowJs", "--noImplicitAny", "false", "--target", "es2022",
         "--module", "esnext", "--moduleResolution", "bundler",
         "--lib", "es2022,dom,dom.iterable")  # fmt: skip

needs_esbuild = pytest.mark.skipif(
    tool("esbuild") is None, reason=f"no esbuild: npm install --no-save esbuild@{VERSION}"
)
needs_tsc = pytest.mark.skipif(
    tool("tsc") is None, reason="no TypeScript: npm install --no-save typescript"
)


@needs_esbuild
def test_the_installed_files_are_what_the_sources_make(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert stale() == []
    assert main(["--check"]) == 0
    for name, content in built().items():
        (tmp_path / name).write_bytes(content)
    (tmp_path / "page.js").write_bytes(built()["page.js"] + b"\n")
    monkeypatch.setattr("tests.page.bundle.STATIC", tmp_path)
    assert main(["--check"]) == 1
    assert "page.js; run python -m tests.page.bundle" in capsys.readouterr().out


def test_it_is_small() -> None:
    assert sum(path.stat().st_size for path in STATIC.iterdir()) <= 150_000
    assert {path.name for path in STATIC.iterdir()} == {"page.js", "site.js", "page.css"}


def test_it_loads_nothing_and_writes_no_html_of_its_own() -> None:
    script, style = ((STATIC / name).read_text("utf-8") for name in ("page.js", "page.css"))
    assert not re.findall(r"\bimport\b|\bfetch\(|XMLHttpRequest|WebSocket|\beval\(", script)
    assert {"http://www.w3.org/2000/svg", "http://www.w3.org/1999/xhtml"} >= set(
        re.findall(r"https?://[\w./]+", script)
    )
    assert not re.findall(r"url\(|@import|https?:", style)
    for path in (*PAGE.glob("*.js"), *SITE.glob("*.js")):
        text = path.read_text("utf-8")
        assert text.startswith("// @ts-check\n"), path.name
        assert not re.findall(r"innerHTML|outerHTML|insertAdjacent|document\.write", text)
    assert "preact" in (PAGE / "vendor" / "LICENSES.txt").read_text("utf-8").casefold()


@needs_tsc
def test_the_sources_have_the_types_that_they_say() -> None:
    done = subprocess.run(
        [str(tool("tsc")), *TYPES, "widget.js"], cwd=PAGE, capture_output=True, text=True
    )
    assert done.stdout == ""
    assert done.returncode == 0


@needs_tsc
@pytest.mark.parametrize("name", ["site.js", "worker.js", "memory.js", "service-worker.js"])
def test_so_have_those_of_the_page_without_a_server(name: str) -> None:
    done = subprocess.run(
        [str(tool("tsc")), *TYPES, name], cwd=SITE, capture_output=True, text=True
    )
    assert done.stdout == ""


@needs_tsc
def test_a_wrong_type_is_found(tmp_path: Path) -> None:
    text = (PAGE / "link.js").read_text("utf-8")
    wrong = tmp_path / "link.js"
    wrong.write_text(text.replace("this.number = 0;", 'this.number = "";'), "utf-8")
    done = subprocess.run([str(tool("tsc")), *TYPES, str(wrong)], capture_output=True, text=True)
    assert "error TS" in done.stdout


def test_what_the_continuous_checks_install_is_what_is_needed() -> None:
    text = (ROOT / ".ci" / "run").read_text("utf-8")
    assert f" esbuild@{VERSION} " in text
