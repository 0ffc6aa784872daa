"""A JupyterLab on a free port with notebooks to be opened in a headless Chromium.

The browser is the one that ``CHROMIUM`` names or that is found on the path. ``AXE_CORE`` may name
the file ``axe.min.js`` of axe-core; otherwise ``node_modules`` beside the package is searched
(``npm install --no-save axe-core``).
"""

from __future__ import annotations

import json
import os
import secrets
import shutil
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
START_S = 60
STEP_MS = 120_000
SWITCHES = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
LIGHT, DARK = "JupyterLab Light", "JupyterLab Dark"
SETTINGS = {
    "notification": {"fetchNews": "false", "checkForUpdates": False},
    "themes": {"theme": LIGHT},
}
PAGE = {"buildAvailable": False, "buildCheck": False}
"""Each page would have Node.js look whether JupyterLab should be built anew: seconds a page."""
RUN_ALL = """async () => {
  const app = window.jupyterapp;
  await app.restored;
  const notebook = app.shell.currentWidget;
  await notebook.context.ready;
  await notebook.sessionContext.ready;
  void app.commands.execute("notebook:run-all-cells");
}"""


CLOSE = """() => {
  for (const one of [...window.jupyterapp.shell.widgets("main")]) one.dispose();
}"""
SHOWN = """(path) => {
  const { shell } = window.jupyterapp;
  const ours = [...shell.widgets("main")].find((one) => one.context?.path === path);
  if (!ours?.sessionContext) return false;
  if (shell.currentWidget === ours) return true;
  shell.activateById(ours.id);
  return false;
}"""
"""A launcher may open where the notebook was that was closed, after ours: ours comes first."""
OPEN = """async ([path, theme]) => {
  const { commands } = window.jupyterapp;
  await commands.execute("apputils:change-theme", { theme });
  await commands.execute("docmanager:open", { path, factory: "Notebook" });
}"""


@dataclass(frozen=True)
class Server:
    """A running JupyterLab."""

    port: int
    token: str
    folder: Path
    settings: Path

    def request(self, path: str, method: str = "GET") -> bytes:
        """Ask the server, as its owner."""
        request = urllib.request.Request(
            f"http://127.0.0.1:{self.port}{path}",
            method=method,
            headers={"Authorization": f"token {self.token}"},
        )
        with urllib.request.urlopen(request, timeout=10) as answer:
            return bytes(answer.read())


def write_settings(folder: Path, settings: dict[str, Any]) -> None:
    place = folder / "@jupyterlab" / "apputils-extension"
    place.mkdir(parents=True, exist_ok=True)
    for name, values in settings.items():
        (place / f"{name}.jupyterlab-settings").write_text(json.dumps(values), "utf-8")


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def running_server(home: Path) -> Iterator[Server]:
    """Start JupyterLab with all its files in a folder, and end it."""
    folder = home / "notebooks"
    folder.mkdir()
    settings = home / "settings"
    write_settings(settings, SETTINGS)
    page = home / "config" / "labconfig" / "page_config.json"
    page.parent.mkdir(parents=True)
    page.write_text(json.dumps(PAGE), "utf-8")
    found = Server(free_port(), secrets.token_hex(16), folder, settings)
    environment = {
        **os.environ,
        "PYTHONPATH": os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")]).strip(":"),
        "JUPYTER_CONFIG_DIR": str(home / "config"),
        "JUPYTER_RUNTIME_DIR": str(home / "runtime"),
        "IPYTHONDIR": str(home / "ipython"),
        "JUPYTERLAB_SETTINGS_DIR": str(settings),
        "JUPYTERLAB_WORKSPACES_DIR": str(home / "workspaces"),
    }
    command = [
        *(sys.executable, "-m", "jupyterlab", "--no-browser", "--allow-root"),
        *("--ip=127.0.0.1", f"--port={found.port}", "--ServerApp.port_retries=0"),
        *(f"--IdentityProvider.token={found.token}", f"--ServerApp.root_dir={folder}"),
        "--LabApp.expose_app_in_browser=True",
    ]
    with (
        (home / "server.log").open("wb") as log,
        subprocess.Popen(command, cwd=folder, env=environment, stdout=log, stderr=log) as process,
    ):
        try:
            wait_for(found, process, home / "server.log")
            yield found
        finally:
            process.terminate()
            try:
                process.wait(20)
            except subprocess.TimeoutExpired:
                process.kill()


def wait_for(found: Server, process: subprocess.Popen[bytes], log: Path) -> None:
    end = time.monotonic() + START_S
    while time.monotonic() < end and process.poll() is None:
        try:
            found.request("/api/status")
        except (urllib.error.URLError, ConnectionError, TimeoutError):
            time.sleep(0.2)
        else:
            return
    raise RuntimeError(f"JupyterLab did not start: {log.read_text('utf-8')[-2000:]}")


def chromium_path() -> str | None:
    """Return where Chromium is, None if it is not there."""
    return os.environ.get("CHROMIUM") or shutil.which("chromium")


@contextmanager
def running_browser(playwright: Any) -> Iterator[Any]:
    """Start Chromium through a Playwright module, and end it with its driver."""
    with playwright.sync_playwright() as driver:
        chromium = driver.chromium.launch(
            executable_path=chromium_path(), headless=True, args=SWITCHES
        )
        yield chromium
        chromium.close()


def notebook_of(code: str) -> str:
    """Return a notebook with one cell."""
    cell = {
        "cell_type": "code",
        "execution_count": None,
        "id": "only",
        "metadata": {},
        "outputs": [],
        "source": code,
    }
    kernel = {"display_name": "Python 3", "language": "python", "name": "python3"}
    whole = {"cells": [cell], "metadata": {"kernelspec": kernel}, "nbformat": 4}
    return json.dumps({**whole, "nbformat_minor": 5})


class Pages:
    """Opens notebooks one after the other in one page: JupyterLab takes seconds to start in each.

    Parameters
    ----------
    server : Server
    browser : Playwright browser
    """

    def __init__(self, server: Server, browser: Any) -> None:
        self.server, self.browser = server, browser
        self.page: Any = None

    def open(
        self,
        name: str,
        *,
        code: str = "",
        run: bool = True,
        width: int = 1400,
        height: int = 3400,
        theme: str = LIGHT,
    ) -> Any:
        """Open a fresh copy of a notebook, or one with a single cell of code; run it.

        The one that was open is closed, and its kernel ended.
        """
        copy = f"{secrets.token_hex(4)}-{name}"
        target = self.server.folder / copy
        if code:
            target.write_text(notebook_of(code), "utf-8")
        else:
            shutil.copy(ROOT / "notebooks" / name, target)
        if self.page is None:
            self._start()
        self.close()
        self.page.set_viewport_size({"width": width, "height": height})
        self.page.evaluate(OPEN, [copy, theme])
        self.page.wait_for_selector(".jp-Notebook .jp-Cell")
        if run:
            self.page.wait_for_function(SHOWN, arg=copy)
            self.page.evaluate(RUN_ALL)
        return self.page

    def _start(self) -> None:
        (self.server.folder / "first.ipynb").write_text(notebook_of(""), "utf-8")
        self.page = self.browser.new_page()
        self.page.set_default_timeout(STEP_MS)
        address = f"http://127.0.0.1:{self.server.port}/doc/tree/first.ipynb"
        self.page.goto(f"{address}?token={self.server.token}")
        self.page.wait_for_selector(".jp-Notebook .jp-Cell")

    def close(self) -> None:
        """Close the notebook and end its kernel."""
        self.page.evaluate(CLOSE)
        for kernel in json.loads(self.server.request("/api/sessions")):
            self.server.request(f"/api/sessions/{kernel['id']}", "DELETE")


def axe_path() -> Path:
    """Return where axe-core, a checker of accessibility rules, would be."""
    named = os.environ.get("AXE_CORE")
    return Path(named) if named else ROOT / "node_modules" / "axe-core" / "axe.min.js"


def expect_text(page: Any, selector: str, text: str) -> None:
    """Wait until the first element that matches holds a text."""
    page.wait_for_function(
        "([s, t]) => document.querySelector(s)?.innerText.includes(t)", arg=[selector, text]
    )


def holds(control: Any, text: str) -> None:
    """Wait until a field, a list or a slider holds a text: it may follow what was awaited last."""
    from playwright.sync_api import expect

    if control.get_attribute("type") == "range":
        expect(control).to_have_attribute("aria-valuetext", text, timeout=STEP_MS)
    else:
        expect(control).to_have_value(text, timeout=STEP_MS)


def counts(found: Any, number: int) -> None:
    """Wait until a locator finds so many elements."""
    from playwright.sync_api import expect

    expect(found).to_have_count(number, timeout=STEP_MS)


def settles(panel: Any, script: str, patience_s: float = 20) -> list[str]:
    """Return what a script finds wrong with an element once it has settled; best: nothing."""
    end = time.monotonic() + patience_s
    while (found := panel.evaluate(script)) and time.monotonic() < end:
        time.sleep(0.1)
    return list(found)


def broken_rules(page: Any, selector: str, *, forbids_scripts: bool = False) -> list[str]:
    """Return what axe-core finds within an element; a page may forbid scripts put into it."""
    if forbids_scripts:
        page.evaluate(f"() => {{ {axe_path().read_text('utf-8')}\n }}")
    else:
        page.add_script_tag(content=axe_path().read_text("utf-8"))
    report = page.evaluate("(selector) => axe.run(selector)", selector)
    assert report["passes"], "axe-core looked at nothing"
    return [
        f"{one['id']} ({one['impact']}): {node['html'][:160]}"
        for one in report["violations"]
        for node in one["nodes"]
    ]


def saved_notebook(page: Any, folder: Path) -> dict[str, Any]:
    """Save the notebook that is open, with its outputs; return what stands in its file."""
    page.wait_for_timeout(2500)
    path = page.evaluate(
        """async () => {
          const { context } = window.jupyterapp.shell.currentWidget;
          await context.save();
          return context.path;
        }"""
    )
    return dict(json.loads((folder / path).read_text("utf-8")))
