"""Hand-out, collecting and turns of a course on a hub, without a hub."""

from __future__ import annotations

import asyncio
import csv
import doctest
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from binder.hub.course_hub import handing
from stoichkit.errors import DataFileError

from .hub import ROOT

HUB = ROOT / "binder" / "hub"


@pytest.fixture
def notebooks(tmp_path: Path) -> Path:
    folder = tmp_path / "notebooks"
    folder.mkdir()
    for name in ("one", "two"):
        (folder / f"{name}.ipynb").write_text(f'{{"name": "{name}"}}', "utf-8")
    return folder


@pytest.fixture
def people(tmp_path: Path) -> Path:
    folder = tmp_path / "hub" / "people"
    folder.mkdir(parents=True)
    return folder


def books(home: Path) -> dict[str, str]:
    return {one.name: one.read_text("utf-8") for one in sorted(home.glob("*.ipynb"))}


def test_an_update_stands_beside_what_was_worked_on(notebooks: Path, people: Path) -> None:
    home = people / "amber"
    assert handing.hand_out(home, notebooks=notebooks) == ("one.ipynb", "two.ipynb")
    assert (home / handing.HAND_IN).is_dir()
    assert home.stat().st_mode & 0o077 == 0
    (home / "one.ipynb").write_text("my work", "utf-8")
    (home / "two.ipynb").unlink()
    assert handing.hand_out(home, notebooks=notebooks) == ("two.ipynb",)
    assert books(home)["one.ipynb"] == "my work"
    (notebooks / "one.ipynb").write_text("better", "utf-8")
    for written in (("one (2).ipynb",), ()):  # once
        assert handing.hand_out(home, notebooks=notebooks) == written
    assert books(home) == {
        "one.ipynb": "my work", "one (2).ipynb": "better", "two.ipynb": '{"name": "two"}',
    }  # fmt: skip
    (notebooks / "one.ipynb").write_text("best", "utf-8")
    assert handing.hand_out(home, notebooks=notebooks) == ("one (3).ipynb",)


def test_nothing_is_written_through_a_link(notebooks: Path, people: Path, tmp_path: Path) -> None:
    home = people / "amber"
    home.mkdir()
    outside = tmp_path / "outside"
    (home / "one.ipynb").symlink_to(outside)  # leads nowhere yet
    assert handing.hand_out(home, notebooks=notebooks) == ("one (2).ipynb", "two.ipynb")
    assert not outside.exists()
    (people / "coral").symlink_to(tmp_path)
    with pytest.raises(DataFileError, match="no folder"):
        handing.hand_out(people / "coral", notebooks=notebooks)
    for name in ("..", "Amber", "a/b", "", "-x", "a" * 41):
        with pytest.raises(DataFileError, match="name of a person"):
            handing.check_person(name)


def test_all_that_was_handed_in_is_in_one_folder(
    notebooks: Path, people: Path, tmp_path: Path
) -> None:
    for name in ("amber", "coral", "fern"):
        handing.hand_out(people / name, notebooks=notebooks)
    (people / "amber" / "hand-in" / "answers.html").write_text("<p>1", "utf-8")
    (people / "amber" / "hand-in" / "=1+1;.HTML").write_text("<p>2", "utf-8")
    (people / "amber" / "hand-in" / "notes.txt").write_text("not a page", "utf-8")
    (people / "coral" / "hand-in" / "answers.html").write_text("<p>3", "utf-8")
    found = handing.collect(people, tmp_path / "collected")
    assert found == handing.Collected(3, 6, ("amber", "coral"), ("fern",), ())
    pages = {one.name: one.read_text("utf-8") for one in (tmp_path / "collected/pages").iterdir()}
    assert pages == {
        "amber--answers.html": "<p>1", "amber--_1_1_.HTML": "<p>2", "coral--answers.html": "<p>3",
    }  # fmt: skip
    assert books(tmp_path / "collected/notebooks/fern")["two.ipynb"] == '{"name": "two"}'
    with (tmp_path / "collected/list.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 9
    assert {row["person"] for row in rows if row["kind"] == "page"} == {"amber", "coral"}
    with pytest.raises(DataFileError, match="collected there already"):
        handing.collect(people, tmp_path / "collected")


def test_what_is_no_file_of_the_persons_own_is_left(
    notebooks: Path, people: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Links to files of others, pipes that would wait for ever, and files without end."""
    monkeypatch.setattr(handing, "MOST_BYTES", 1000)
    for name in ("amber", "coral", "fern"):
        handing.hand_out(people / name, notebooks=notebooks)
    theirs = people / "coral" / "hand-in" / "answers.html"
    theirs.write_text("<p>theirs", "utf-8")
    mine = people / "amber" / "hand-in"
    (mine / "a.html").symlink_to(theirs)
    os.link(theirs, mine / "b.html")
    os.mkfifo(mine / "c.html")
    (mine / "d.html").mkdir()
    (mine / "e.html").write_bytes(b"x" * 1001)
    (people / "fern" / "hand-in").rmdir()
    (people / "fern" / "hand-in").symlink_to(people / "coral" / "hand-in")
    found = handing.collect(people, tmp_path / "collected")
    assert found.people == ()  # the one of coral has two names now, so whose it is cannot be told
    assert len(found.problems) == 7
    for letter in "abcde":
        assert any(f"amber: {letter}.html" in one for one in found.problems), letter
    assert not any((tmp_path / "collected/pages").iterdir())


def test_the_commands(people: Path, tmp_path: Path) -> None:
    def said(*arguments: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, str(HUB / "course_hub" / "handing.py"), *arguments],
            capture_output=True,
            text=True,
            check=False,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
        )

    out = said("hand-out", "--people", str(people), "amber", "coral")
    assert out.returncode == 0, out.stderr
    assert "amber: can-the-balance-tell.ipynb" in out.stdout
    again = said("hand-out", "--people", str(people))
    assert again.stdout == "amber: nothing new\ncoral: nothing new\n"
    into = tmp_path / "collected"
    back = said("collect", "--people", str(people), "--into", str(into))
    assert "0 pages of 0 people" in back.stdout
    assert "No page of: amber, coral." in back.stdout
    wrong = said("collect", "--people", str(people), "--into", str(into))
    assert (wrong.returncode, wrong.stdout) == (2, "")
    assert "Give another folder" in wrong.stderr


def test_the_examples_hold() -> None:
    assert doctest.testmod(handing, optionflags=doctest.ELLIPSIS).failed == 0


# Kernels one after the other


def test_places_are_shared_by_processes_and_given_up_by_the_dead(tmp_path: Path) -> None:
    """Two hold the two places for good; the third has its turn when one of them is killed."""
    pytest.importorskip("jupyter_server", reason="jupyter_server is not installed")
    from binder.hub.course_hub.kernels import place

    code = (
        "import asyncio, sys; from pathlib import Path\n"
        "from binder.hub.course_hub.kernels import place\n"
        "async def hold():\n"
        "    async with place(Path(sys.argv[1]), 2) as number:\n"
        "        print(number, flush=True)\n"
        "        await asyncio.sleep(60)\n"
        "asyncio.run(hold())\n"
    )
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    holders = []
    try:
        for number in ("0", "1"):
            one = subprocess.Popen(
                [sys.executable, "-c", code, str(tmp_path)],
                stdout=subprocess.PIPE, text=True, env=environment,
            )  # fmt: skip
            holders.append(one)
            assert one.stdout is not None
            assert one.stdout.readline().strip() == number

        async def third() -> int:
            async def waiting() -> int:
                async with place(tmp_path, 2) as found:
                    return found

            task = asyncio.create_task(waiting())
            await asyncio.sleep(0.5)
            assert not task.done()
            holders[1].kill()
            return await task

        assert asyncio.run(third()) == 1
    finally:
        for one in holders:
            one.kill()
            one.communicate()


def test_no_more_kernels_than_a_person_may_have(tmp_path: Path) -> None:
    """Real kernels: the second is refused with what to do, and there is room after the first."""
    pytest.importorskip("jupyter_server", reason="jupyter_server is not installed")
    from tornado.web import HTTPError

    from binder.hub.course_hub.kernels import Kernels

    async def course() -> None:
        kernels = Kernels(most=1, places=1, folder=str(tmp_path), root_dir=str(tmp_path))
        first = await kernels.start_kernel()
        with pytest.raises(HTTPError, match="Shut one down first"):
            await kernels.start_kernel()
        await kernels.shutdown_kernel(first, now=True)
        second = await kernels.start_kernel()
        await kernels.shutdown_kernel(second, now=True)

    asyncio.run(course())


# The files


def test_requirements_are_pinned() -> None:
    lines = (HUB / "requirements.txt").read_text("utf-8").splitlines()
    pins = [line for line in lines if line and not line.startswith("#")]
    assert all(re.fullmatch(r"[\w.-]+==[\d.]+", pin) for pin in pins)
    assert {pin.split("==")[0] for pin in pins} == {"jupyterhub", "jupyterhub-idle-culler"}
