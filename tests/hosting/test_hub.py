"""Five people on the hub at once: signed in, a verdict each, a page handed in, collected, marked.

It takes a minute of a core and an environment that has JupyterHub (see :mod:`.hub`), so that it is
not part of every run: ``pytest -m slow tests/hosting/test_hub.py``.
"""

from __future__ import annotations

import asyncio
import csv
import os
import re
import subprocess
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from binder.hub.course_hub import handing
from stoichkit import assess, experiments, load_class
from stoichkit.__main__ import main
from stoichkit.reports.hand_in import hand_in_page

from ..browser.harness import expect_text
from .hub import CONFIG, NOTEBOOK, Hub, Visitor, hub_proxy, hub_python, memory_MiB, serve_hub

pytestmark = [pytest.mark.browser, pytest.mark.slow]

GROUPS = ("amber", "coral", "fern", "heron", "indigo")
CLASS = Path(experiments.__file__).parent / "copper-silver-class.csv"
TYPED = {"fern": {"m(Cu)": "0.08"}, "heron": {"m(Cu)": "0.15"}}
"""What two groups work out for their first trial: 3.23 − 3.15 is 0.08, 3.11 − 3.00 is 0.11."""
MOST_MIB = 300
STEP_MS = 240_000
WAITING = re.compile("Your server is starting|before you|You are the next")
HEADLINE = ".stoichkit .headline"


@pytest.fixture(scope="module")
def hub(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Hub]:
    if hub_python() is None:
        pytest.skip("no JupyterHub: pip install -r binder/hub/requirements.txt")
    if hub_proxy() is None:
        pytest.skip("no proxy: npm install --no-save configurable-http-proxy@5.3.0")
    with serve_hub(tmp_path_factory.mktemp("hub")) as found:
        yield found


def page_of(group: str) -> str:
    """Return the page of a group as a browser saves it after something was typed."""
    record = load_class(CLASS, experiments.load("copper-silver")).groups[group]
    html = hand_in_page(assess(record), name=group, blank=True).html()
    for item, text in TYPED.get(group, {}).items():
        mark = f'data-item="{item}" data-trial="1"'
        before, after = html.split(mark)
        head, rest = after.split(">", 1)
        html = f"{before}{mark}{head}>{text}{rest}"
    return html


@dataclass
class Course:
    """What became of everybody who came by web requests."""

    headlines: dict[str, str]
    changed: dict[str, str]
    printed: dict[str, str]
    memory: dict[str, float]
    waited: list[str]


async def one_person(visitor: Visitor) -> tuple[str, str, str]:
    await visitor.sign_in()
    headline = await visitor.open()
    assert visitor.screen is not None
    await visitor.screen.type_text()
    printed = await visitor.run("kept = bytearray(2 << 30)")
    await visitor.hand_in("answers.html", page_of(visitor.name))
    return headline, visitor.headline, printed


async def everybody(hub: Hub, names: tuple[str, ...]) -> Course:
    crowd = [Visitor(hub, name) for name in names]
    done = await asyncio.gather(*map(one_person, crowd))
    memory = memory_MiB(hub)
    for one in crowd:
        await one.leave()
    columns = [dict(zip(names, column, strict=True)) for column in zip(*done, strict=True)]
    return Course(*columns, memory, [said for one in crowd for said in one.said])


def in_a_browser(hub: Hub, browser: Any, name: str, shot: Any) -> str:
    """Sign in, wait and open a notebook with the mouse; return the headline of its screen."""
    context = browser.new_context(viewport={"width": 1400, "height": 3400})
    page = context.new_page()
    page.set_default_timeout(STEP_MS)
    page.goto(f"{hub.address}/hub/login?next=/user/{name}/lab/tree/{NOTEBOOK}")
    page.get_by_label("Username").fill(name)
    page.get_by_role("button", name="Sign in").click()
    page.get_by_text(WAITING).first.wait_for()
    shot(page, "hub-waiting")
    page.wait_for_selector(".jp-Notebook .jp-Cell")
    page.get_by_text("| Idle").wait_for()  # the kernel is connected
    page.get_by_role("menuitem", name="Run", exact=True).click()
    page.get_by_role("menuitem", name="Run All Cells", exact=True).click()
    expect_text(page, HEADLINE, "single out copper(II)")
    shot(page, "hub-lab")
    headline = str(page.locator(HEADLINE).inner_text())
    upload = hub.people / name / "hand-in" / "answers.html"
    upload.write_text(page_of(name), "utf-8")  # what a drag into the folder does
    context.close()
    return headline


def test_five_people_from_signing_in_to_marks(
    hub: Hub, browser: Any, shot: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    first, *others = GROUPS
    with ThreadPoolExecutor(1) as beside:  # the browser keeps this thread
        running = beside.submit(lambda: asyncio.run(everybody(hub, tuple(others))))
        seen = in_a_browser(hub, browser, first, shot)
        course = running.result(STEP_MS / 1000)

    assert "single out copper(II)" in seen
    for name in others:
        assert "single out copper(II)" in course.headlines[name]
        assert "cannot tell copper(I) from copper(II)" in course.changed[name]
        assert "MemoryError" in course.printed[name]
    assert {*others} <= {*course.memory}
    assert max(course.memory.values()) < MOST_MIB
    assert any("before you" in said or "next" in said for said in course.waited)

    handed_out = {path.name for path in (hub.people / first).glob("*.ipynb")}
    assert handed_out == {path.name for path in handing.NOTEBOOKS.glob("*.ipynb")}

    found = handing.collect(hub.people, tmp_path / "collected")
    assert (found.pages, found.people, found.problems) == (5, GROUPS, ())
    grades = tmp_path / "grades.csv"
    arguments = ["mark", str(tmp_path / "collected" / "pages"), "--class", str(CLASS)]
    assert main([*arguments, "--experiment", "copper-silver", "--grades", str(grades)]) == 0
    with grades.open(encoding="utf-8-sig", newline="") as file:
        rows = {row["group"]: row for row in csv.DictReader(file)}
    assert float(rows["fern"]["total"]) > 0
    assert float(rows["heron"]["total"]) == 0
    without = {name for name in GROUPS if "No answer was handed in" in rows[name]["remarks"]}
    assert without == {*GROUPS} - {*TYPED}
    with capsys.disabled():
        each = ", ".join(f"{name} {size:.0f}" for name, size in sorted(course.memory.items()))
        print(f"\nMiB a person: {each}")


@pytest.mark.parametrize("address", ["http://:8000", "http://0.0.0.0:8000", "http://192.0.2.7:80"])
def test_a_sign_in_without_password_is_for_this_machine_alone(address: str, tmp_path: Path) -> None:
    python = hub_python()
    if python is None:
        pytest.skip("no JupyterHub: pip install -r binder/hub/requirements.txt")
    done = subprocess.run(
        [python, "-m", "jupyterhub", "-f", str(CONFIG), f"--JupyterHub.bind_url={address}"],
        cwd=tmp_path,
        env={**os.environ, "COURSE_HUB_PROXY": "false"},
        capture_output=True,
        text=True,
        timeout=240,
        check=False,
    )
    assert done.returncode != 0
    assert "for this machine alone" in done.stderr
    assert address in done.stderr
