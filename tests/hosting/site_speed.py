"""How fast the page without a server is, and what it needs: ``python -m tests.hosting.site_speed``.

Chromium opens the site of a whole Pyodide from this machine: with nothing kept, and again with all
files kept by the service worker. An edit runs from the key to the frame in which the new verdict
is drawn. Memory is that of the page's process with Python in it. Beside it stands a bare page of
the same Pyodide that imports NumPy and does nothing else. The record is in ``SITE.md``.
"""

from __future__ import annotations

import argparse
import os
import statistics
import tempfile
import time
from pathlib import Path
from typing import Any

import psutil

from stoichkit.widgets.site.build import build_site

from ..browser.harness import running_browser
from .pyodide_full import whole_pyodide
from .servers import serve_files

MEBI = 1024**2
EDIT = """async (text) => {
  const cell = document.querySelector('[data-control="sheet 0 0"]');
  const shown = () => document.querySelector(".r-sheet td.result").textContent;
  const before = shown();
  const begun = performance.now();
  cell.focus();
  cell.value = text;
  cell.dispatchEvent(new Event("input", { bubbles: true }));
  while (shown() === before) await new Promise((done) => requestAnimationFrame(done));
  return performance.now() - begun;
}"""
"""The ratio of the trial comes with the verdict, in one answer, and changes with each text."""
BARE = {
    "index.html": """<!DOCTYPE html><title>NumPy alone</title><body><script type="module">
        new Worker("worker.js", { type: "module" }).onmessage = () => {
          const words = document.createElement("p");
          words.className = "headline";
          words.textContent = "NumPy is there.";
          document.body.append(words);
        };</script>""",
    "worker.js": """const { loadPyodide } = await import("./pyodide/pyodide.mjs");
        const python = await loadPyodide({ packages: ["numpy"] });
        python.runPython("import numpy");
        postMessage("");""",
}


def pages() -> list[psutil.Process]:
    """Return the processes of pages; a new page may get one that is older than it."""
    found = []
    for one in psutil.Process().children(recursive=True):
        try:
            if "--type=renderer" in one.cmdline():
                found.append(one)
        except psutil.Error:
            continue
    return found


def largest_mib() -> float:
    """Return the memory of the largest page, MiB, its share of shared pages counted."""
    return max((one.memory_full_info().pss / MEBI for one in pages()), default=float("nan"))


def cpu_s() -> dict[int, float]:
    """Return the processor time of each process of a page so far, s."""
    return {one.pid: sum(one.cpu_times()[:2]) for one in pages()}


def visited(page: Any, address: str) -> tuple[float, float, float]:
    """Return seconds to the first verdict, processor seconds, and memory then, MiB."""
    before = cpu_s()
    begun = time.perf_counter()
    page.goto(address)
    page.locator(".headline").wait_for()
    seconds = time.perf_counter() - begun
    used = sum(after - before.get(pid, 0.0) for pid, after in cpu_s().items())
    return seconds, used, largest_mib()


def complete(page: Any) -> None:
    script = "() => document.getElementById('background').textContent.startsWith('Kept in')"
    page.wait_for_function(script)


def edits(page: Any, number: int) -> list[float]:
    """Return how long edits took until their ratio was drawn, ms."""
    found = []
    for i in range(number):
        found.append(page.evaluate(EDIT, f"2.9{(i % 8) + 1}" if i % 8 != 3 else "2.99"))
        page.wait_for_function("() => document.querySelector('.page.settled')")
    return found


def bare(folder: Path, source: Path) -> Path:
    """Write the page that does nothing but import NumPy."""
    folder.mkdir()
    for name, text in BARE.items():
        (folder / name).write_text(text, "utf-8")
    (folder / "pyodide").symlink_to(source, target_is_directory=True)
    return folder


def main(argv: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__, prog="python -m tests.hosting.site_speed")
    parser.add_argument("--visits", type=int, default=5)
    options = parser.parse_args(argv)
    from playwright import sync_api

    source = whole_pyodide()
    if source is None:
        raise SystemExit("no Pyodide with NumPy: name one in PYODIDE_DISTRIBUTION")
    with tempfile.TemporaryDirectory() as name, running_browser(sync_api) as browser:
        site = build_site(Path(name) / "site", source)
        asked: list[str] = []
        peer = bare(Path(name) / "bare", source)
        with serve_files(site.folder, asked.append) as address, serve_files(peer) as other:
            cold, warm, alone, typed, full = [], [], [], [], []
            for _ in range(options.visits):
                context = browser.new_context(viewport={"width": 1440, "height": 900})
                page = context.new_page()
                page.set_default_timeout(120_000)
                cold.append(visited(page, f"{address}/"))
                complete(page)
                page.close()
                page = context.new_page()
                page.set_default_timeout(120_000)
                warm.append(visited(page, f"{address}/"))
                complete(page)
                typed += edits(page, 12)
                full.append(largest_mib())
                context.close()
                context = browser.new_context()
                page = context.new_page()
                page.set_default_timeout(120_000)
                alone.append(visited(page, f"{other}/"))
                context.close()
    load = os.getloadavg()[0]
    print(f"{options.visits} visits, load of the machine {load:.1f} on {os.cpu_count()} processors")
    print(f"files: {site.first_bytes / 1e6:.1f} MB first, {site.all_bytes / 1e6:.1f} MB in all")
    for note in site.notes:
        print(note)
    rows = {"nothing kept": cold, "all kept": warm, "NumPy alone, no verdict": alone}
    for words, row in rows.items():
        seconds, used, memory = (statistics.median(column) for column in zip(*row, strict=True))
        print(f"{words}: {seconds:.1f} s, processor {used:.1f} s, {memory:.0f} MiB")
    print(f"edit to verdict {statistics.median(typed):.0f} ms (largest {max(typed):.0f})")
    print(f"with SciPy loaded {statistics.median(full):.0f} MiB")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
