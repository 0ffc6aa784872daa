"""JupyterLab on a free port, on temporary copies of the notebooks, and a headless Chromium.

The browser is the one that ``CHROMIUM`` names or that is found on the path. ``AXE_CORE`` may name
the file ``axe.min.js`` of axe-core; otherwise ``node_modules`` beside the package is searched
(``npm install --no-save axe-core``). ``STOICHKIT_SHOTS`` names a folder for screenshots.
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
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[2]
START_S = 60
STEP_MS = 30_000
SWITCHES = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
SETTINGS = {
    "notification": {"fetchNews": "false", "checkForUpdates": False},
    "themes": {"theme": "JupyterLab Light"},
}
RUN_ALL = """async () => {
  const app = window.jupyterapp;
  await app.restored;
  const notebook = app.shell.currentWidget;
  await notebook.context.ready;
  await notebook.sessionContext.ready;
  void app.commands.execute("notebook:run-all-cells");
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

    def use_theme(self, name: str) -> None:
        """Set the theme of pages opened from now on."""
        write_settings(self.settings, {**SETTINGS, "themes": {"theme": name}})


def write_settings(folder: Path, settings: dict[str, Any]) -> None:
    place = folder / "@jupyterlab" / "apputils-extension"
    place.mkdir(parents=True, exist_ok=True)
    for name, values in settings.items():
        (place / f"{name}.jupyterlab-settings").write_text(json.dumps(values), "utf-8")


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture(scope="package")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    pytest.importorskip("jupyterlab", reason="JupyterLab is not installed")
    home = tmp_path_factory.mktemp("jupyter")
    folder = home / "notebooks"
    folder.mkdir()
    settings = home / "settings"
    write_settings(settings, SETTINGS)
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


@pytest.fixture(scope="package")
def browser() -> Iterator[Any]:
    path = os.environ.get("CHROMIUM") or shutil.which("chromium")
    if not path:
        pytest.skip("no Chromium: install Debian's, or name one in CHROMIUM")
    playwright = pytest.importorskip("playwright.sync_api", reason="Playwright is not installed")
    with playwright.sync_playwright() as driver:
        chromium = driver.chromium.launch(executable_path=path, headless=True, args=SWITCHES)
        yield chromium
        chromium.close()


OpenNotebook = Callable[..., Any]


@pytest.fixture
def open_notebook(server: Server, browser: Any) -> Iterator[OpenNotebook]:
    """Return a function that opens a fresh copy of a notebook and runs it, if asked to."""
    contexts = []

    def opened(name: str, *, run: bool = True, width: int = 1400, height: int = 3400) -> Any:
        copy = f"{secrets.token_hex(4)}-{name}"
        shutil.copy(ROOT / "notebooks" / name, server.folder / copy)
        context = browser.new_context(viewport={"width": width, "height": height})
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(STEP_MS)
        page.goto(f"http://127.0.0.1:{server.port}/doc/tree/{copy}?token={server.token}")
        page.wait_for_selector(".jp-Notebook .jp-Cell")
        if run:
            page.wait_for_function("() => window.jupyterapp?.shell?.currentWidget?.sessionContext")
            page.evaluate(RUN_ALL)
        return page

    yield opened
    for context in contexts:
        context.close()
    for kernel in json.loads(server.request("/api/sessions")):
        server.request(f"/api/sessions/{kernel['id']}", "DELETE")


@pytest.fixture(scope="package")
def violations() -> Callable[[Any, str], list[str]]:
    """Return a function that lists what axe-core, a checker of accessibility rules, finds.

    Without axe-core it skips the rest of the test, so it is called last.
    """
    named = os.environ.get("AXE_CORE")
    path = Path(named) if named else ROOT / "node_modules" / "axe-core" / "axe.min.js"

    def found(page: Any, selector: str) -> list[str]:
        if not path.is_file():
            pytest.skip("no axe-core: npm install --no-save axe-core, or name it in AXE_CORE")
        page.add_script_tag(content=path.read_text("utf-8"))
        report = page.evaluate("(selector) => axe.run(selector)", selector)
        assert report["passes"], "axe-core looked at nothing"
        return [
            f"{one['id']} ({one['impact']}): {node['html'][:160]}"
            for one in report["violations"]
            for node in one["nodes"]
        ]

    return found


@pytest.fixture
def shot() -> Callable[[Any, str], None]:
    """Return a function that saves a screenshot if ``STOICHKIT_SHOTS`` names a folder."""
    folder = os.environ.get("STOICHKIT_SHOTS")

    def save(locator: Any, name: str) -> None:
        if folder:
            Path(folder).mkdir(parents=True, exist_ok=True)
            locator.screenshot(path=Path(folder) / f"{name}.png")

    return save
