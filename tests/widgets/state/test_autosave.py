"""What is typed is on the disk within a second; what another session typed is asked for."""

from __future__ import annotations

import asyncio
import gc
import json
import os
import stat
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from datetime import datetime, timedelta
from itertools import pairwise
from pathlib import Path
from types import SimpleNamespace

import pytest

from stoichkit.widgets.kit import saving
from stoichkit.widgets.kit.saving import FOLDER, Autosave, Found, Session, key_of, offers
from stoichkit.widgets.state.toolkit import ToolkitState
from tests import clocks

KEY = key_of("copper-silver")
Enter = Callable[..., None]


@pytest.fixture
def enter(monkeypatch: pytest.MonkeyPatch) -> Enter:
    """Return a function after which this process stands for another kernel, notebook or person."""

    def as_session(kernel: str, notebook: str = "", person: str = "") -> None:
        monkeypatch.setattr(saving, "_PROCESS", kernel)
        monkeypatch.setenv("JPY_SESSION_NAME", notebook)
        monkeypatch.setenv("JUPYTERHUB_USER", person)

    as_session("first")
    return as_session


def typed(folder: Path, title: str) -> ToolkitState:
    """Type a title in a session that goes on running."""
    state = ToolkitState("copper-silver", folder=folder)
    state.readings.set_title(title)
    return state


def silence(path: Path, for_s: float = saving.LIVES_S + 1) -> None:
    """Have a file not touched for some time, as after a crash."""
    then = time.time() - for_s
    os.utime(path, (then, then))


def content(title: str, **other: object) -> bytes:
    """Return a file of typed texts as another session leaves it."""
    state = ToolkitState("copper-silver", autosave=False)
    state.readings.set_title(title)
    tables = {
        "format": saving.FORMAT,
        "saved": datetime.now().isoformat(),
        "session": {"kernel": "k", "owner": "o", "notebook": ""},
        "running": False,
        "typed": state._tables(),
    }
    return json.dumps({**tables, **other}).encode()


def files(folder: Path) -> list[Path]:
    return sorted(folder.glob("typed-*.json"))


def test_what_was_typed_is_restored_to_the_letter(tmp_path: Path) -> None:
    first = ToolkitState("copper-silver", folder=tmp_path)
    assert files(tmp_path) == []  # nothing typed, nothing written
    first.readings.set_reading(0, "wire before", "2,94 g")
    first.readings.set_recovery(low="90 %")
    first.readings.set_candidates("copper(I) = 1\n\ncopper(II) = 2\nodd = 3/2")
    first.plan.set("trials", "four")
    first.causes.set_weighings("10 1.571\n20 1.5")
    first.causes.set_residue("AgNO_3!")
    first.close()

    typed_at = minute(tmp_path)
    second = ToolkitState("copper-silver", folder=tmp_path)
    assert second.restored == typed_at
    assert second.readings.form == first.readings.form
    assert second.readings.evidence.verdict == first.readings.evidence.verdict
    assert second.plan.texts == first.plan.texts
    assert second.causes.choices == first.causes.choices
    assert second.notes == []

    second.start_afresh()
    assert second.readings.form.trials[0].readings["wire before"] == "2.94"
    assert second.plan.texts["trials"] == "4"
    second.history.undo()
    assert second.readings.form == first.readings.form
    assert second.causes.choices == first.causes.choices
    second.history.undo()
    assert second.readings.form.trials[0].readings["wire before"] == "2.94"
    second.close()


def test_another_experiment_that_was_opened_is_restored(tmp_path: Path) -> None:
    first = ToolkitState("copper-silver", folder=tmp_path)
    first.readings.load("hydrate-heating")
    first.readings.remove_trial()
    first.readings.set_reading(0, "crucible", "?")
    first.close()
    second = ToolkitState("copper-silver", folder=tmp_path)
    assert second.readings.name == "hydrate-heating"
    assert second.readings.form == first.readings.form
    second.readings.add_trial()
    assert second.readings.form.trials[-1].readings != {}
    second.close()


def test_nothing_is_restored_for_another_experiment_or_without_a_change(tmp_path: Path) -> None:
    first = ToolkitState("copper-silver", folder=tmp_path)
    first.readings.set_coverage("0.9")
    first.readings.set_coverage("0.95")
    first.close()
    for source in ("tin-oxide", "copper-silver"):
        other = ToolkitState(source, folder=tmp_path)
        assert (other.restored, other.history.can_undo) == ("", False)
        other.close()


def test_two_sessions_write_files_of_their_own(tmp_path: Path) -> None:
    one = ToolkitState("copper-silver", folder=tmp_path)
    other = ToolkitState("copper-silver", folder=tmp_path)
    one.readings.set_title("one")
    other.readings.set_title("other")
    one.readings.set_title("one again")
    assert len(files(tmp_path)) == 2
    later = ToolkitState("copper-silver", folder=tmp_path)
    assert later.readings.form.title == "one again"  # the newest
    later.readings.set_title("third")
    for state in (one, other, later):
        state.close()
    titles = {json.loads(p.read_text())["typed"]["readings"]["form"]["title"]
              for p in files(tmp_path)}  # fmt: skip
    assert titles == {"one again", "other", "third"}


ABOUT = (
    b'{"format": 2, "saved": "2099-01-01T10:00:00", "running": false, '
    b'"session": {"kernel": "", "owner": "", "notebook": ""}, "typed": '
)


@pytest.mark.parametrize(
    "damaged",
    [
        b"",
        b"{",
        b"\xff\xfe",
        b"[]",
        b'{"format": 9}',
        b'{"format": 2}',
        ABOUT.replace(b"2099-", b"yesterday") + b"{}}",
        ABOUT.replace(b'"owner"', b'"other"') + b"{}}",
        ABOUT + b"[]}",
        ABOUT + b"{}}",
        ABOUT + b'{"readings": {"form": 1}}}',
        ABOUT + b'{"readings": {"experiment": "%s"}}}' % (b"[" * 100_000),
        b"[" * 100_000,
    ],
)
def test_a_damaged_file_is_said_and_kept_aside_and_the_one_before_restored(
    tmp_path: Path, damaged: bytes
) -> None:
    typed(tmp_path, "kept").close()
    path = tmp_path / f"typed-{KEY}-abc.json"
    path.write_bytes(damaged)
    silence(path)
    state = ToolkitState("copper-silver", folder=tmp_path)
    assert state.readings.form.title == "kept"
    assert len(state.notes) == 1
    assert "could not be restored" in state.notes[0]
    assert path.with_name(f"{path.name}.damaged").read_bytes() == damaged
    assert len(files(tmp_path)) == 1
    state.close()


def test_behind_one_s_own_file_that_cannot_be_restored_comes_the_one_before(
    tmp_path: Path,
) -> None:
    for title in ("oldest", "kept", "newest"):
        typed(tmp_path, title).close()
    newest = offers(tmp_path, KEY)[0]
    text = newest.path.read_text()
    newest.path.write_text(text.replace('"trials": [', '"trials": 3, "x": ['))
    state = ToolkitState("copper-silver", folder=tmp_path)
    assert state.readings.form.title == "kept"
    assert len(state.notes) == 1
    assert newest.path.with_name(f"{newest.path.name}.damaged").exists()
    state.close()


def test_what_cannot_be_read_here_but_is_in_use_stays_in_its_place(tmp_path: Path) -> None:
    """A session of another version of the program may write in another way."""
    path = tmp_path / f"typed-{KEY}-abc.json"
    path.write_bytes(content("x", format=9))
    state = ToolkitState("copper-silver", folder=tmp_path)
    assert state.notes[0].endswith("The file was left as it is.")
    assert files(tmp_path) == [path]
    state.close()


@pytest.mark.skipif(not hasattr(os, "getuid") or os.getuid() == 0, reason="root may read all")
def test_what_another_person_keeps_closed_is_passed_over(tmp_path: Path) -> None:
    path = tmp_path / f"typed-{KEY}-abc.json"
    path.write_bytes(content("theirs"))
    path.chmod(0)
    state = ToolkitState("copper-silver", folder=tmp_path)
    assert (state.offered, state.notes) == ("", [])
    state.close()
    assert path.exists()


# Whose work it is


def test_its_own_work_is_restored_unasked_also_while_it_runs(tmp_path: Path) -> None:
    """The cell run again; or a kernel that crashed this moment and was started anew."""
    running = typed(tmp_path, "mine")
    typed_at = minute(tmp_path)
    again = ToolkitState("copper-silver", folder=tmp_path)
    assert (again.readings.form.title, again.offered) == ("mine", "")
    assert again.restored == typed_at
    running.close()
    again.close()


@pytest.mark.parametrize(
    ("then", "now", "ended", "ours"),
    [
        (("a", "/x/lab.ipynb"), ("b", "/x/lab.ipynb"), "closed", True),  # server started again
        (("a", "/x/lab.ipynb"), ("b", "/x/lab.ipynb"), "silent", True),  # it crashed a while ago
        (("a", "/x/lab.ipynb"), ("b", "/x/lab.ipynb"), "no", False),  # two kernels on a notebook
        (("a", "/x/lab.ipynb"), ("b", "/x/two.ipynb"), "no", False),  # two notebooks
        (("a", "/x/lab.ipynb"), ("b", "/y/lab.ipynb"), "closed", False),
        (("a", "/x/lab.ipynb"), ("b", ""), "closed", False),
        (("a", ""), ("b", ""), "closed", False),  # nobody says which notebook
        (("a", "/x/lab.ipynb", "eve"), ("b", "/x/lab.ipynb", "ada"), "closed", False),
        (("a", "/x/lab.ipynb", "ada"), ("b", "/x/lab.ipynb", "ada"), "closed", True),
    ],
)
def test_what_another_session_typed_is_asked_for(
    tmp_path: Path,
    enter: Enter,
    then: tuple[str, ...],
    now: tuple[str, ...],
    ended: str,
    ours: bool,
) -> None:
    enter(*then)
    before = typed(tmp_path, "there")
    if ended == "closed":
        before.close()
    (path,) = files(tmp_path)
    if ended == "silent":
        silence(path)
    kept = path.read_bytes()
    enter(*now)
    state = ToolkitState("copper-silver", folder=tmp_path)
    (found,) = offers(tmp_path, KEY)
    assert (found.living, found.ours) == (ended == "no", ours)
    if ours:
        assert (state.readings.form.title, state.offered) == ("there", "")
    else:
        assert (state.restored, state.history.can_undo) == ("", False)
        assert state.readings.form.title != "there"
        clock = f"typed at {found.saved:%H:%M} in another session"
        assert state.offered.startswith(clock)
        assert state.offered.endswith(", which is still running") == (ended == "no")
        assert ("(lab.ipynb)" in state.offered) == bool(then[1])
        first = state.readings.form.title
        state.restore_offered()
        assert (state.readings.form.title, state.offered) == ("there", "")
        assert state.restored == f"{found.saved:%H:%M}"
        state.history.undo()
        assert state.readings.form.title == first
    assert path.read_bytes() == kept
    state.close()
    before.close()


def test_the_kernel_is_known_by_its_connection_file(monkeypatch: pytest.MonkeyPatch) -> None:
    app = SimpleNamespace(
        initialized=lambda: True,
        instance=lambda: SimpleNamespace(connection_file="/run/kernel-1b2c.json"),
    )
    monkeypatch.setitem(
        sys.modules, "ipykernel.kernelapp", SimpleNamespace(IPKernelApp=app)  # type: ignore[arg-type]
    )  # fmt: skip
    assert saving.Session.present().kernel == "kernel-1b2c"
    app.initialized = lambda: False
    assert str(os.getpid()) in saving.Session.present().kernel


def test_what_is_left_stays_and_is_offered_until_something_is_typed(
    tmp_path: Path, enter: Enter
) -> None:
    typed(tmp_path, "there").close()
    kept = {path: path.read_bytes() for path in files(tmp_path)}
    for _ in range(2):
        enter("second")
        state = ToolkitState("copper-silver", folder=tmp_path)
        assert state.offered
        state.leave_offered()
        assert (state.offered, state.restored) == ("", "")
        state.restore_offered()  # nothing is offered any more
        assert not state.history.can_undo
        state.close()
    assert {path: path.read_bytes() for path in files(tmp_path)} == kept
    typed(tmp_path, "here").close()
    last = ToolkitState("copper-silver", folder=tmp_path)
    assert (last.readings.form.title, last.offered) == ("here", "")
    last.close()


def test_an_older_file_is_offered_behind_one_that_cannot_be_restored(
    tmp_path: Path, enter: Enter
) -> None:
    for title in ("older", "newer"):
        typed(tmp_path, title).close()
    newest = offers(tmp_path, KEY)[0].path
    newest.write_text(newest.read_text().replace('"trials": [', '"trials": 3, "x": ['))
    enter("second")
    state = ToolkitState("copper-silver", folder=tmp_path)
    assert len(state.notes) == 1
    state.restore_offered()
    assert state.readings.form.title == "older"
    state.close()


def test_what_is_on_the_screen_already_is_not_offered(tmp_path: Path, enter: Enter) -> None:
    typed(tmp_path, "same").close()
    enter("second")
    typed(tmp_path, "same").close()
    enter("third", "/x/lab.ipynb")
    typed(tmp_path, "same").close()
    enter("first")
    state = ToolkitState("copper-silver", folder=tmp_path)
    assert (state.readings.form.title, state.offered) == ("same", "")
    state.close()


# Whether a session runs


def test_a_busy_session_goes_on_touching_its_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(saving, "BEAT_S", 0.01)
    saver = Autosave(tmp_path, "k", dict, print)
    until(lambda: threads() == 0)  # nothing typed, nothing touched
    saver.changed()
    silence(saver.path)
    end = time.monotonic() + 10
    while not offers(tmp_path, "k")[0].living and time.monotonic() < end:
        pass  # as a long calculation
    assert offers(tmp_path, "k")[0].living
    saver.path.unlink()
    time.sleep(0.05)
    assert files(tmp_path) == []  # what somebody removed is not put back
    saver.changed()
    assert len(files(tmp_path)) == 1
    saver.close()
    until(lambda: threads() == 0)


def minute(folder: Path) -> str:
    """Return the minute that the last file was written in, which is not long ago."""
    last = max(files(folder), key=lambda one: one.stat().st_mtime)
    saved = datetime.fromisoformat(json.loads(last.read_text("utf-8"))["saved"])
    assert timedelta(0) <= datetime.now() - saved < timedelta(minutes=2)
    return f"{saved:%H:%M}"


def threads() -> int:
    return sum(one.name == "stoichkit-beat" for one in threading.enumerate())


def until(true: Callable[[], bool]) -> None:
    end = time.monotonic() + 10
    while not true() and time.monotonic() < end:
        time.sleep(0.01)
    assert true()


def test_a_session_that_is_forgotten_is_not_kept_alive(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(saving, "BEAT_S", 0.01)
    saver = Autosave(tmp_path, "k", dict, print)
    saver.changed()
    del saver
    gc.collect()
    until(lambda: threads() == 0)


TYPES = """
import os, signal, sys
from pathlib import Path
from stoichkit.widgets.kit.saving import Autosave, offers
saver = Autosave(Path(sys.argv[1]), "k", lambda: {"mass": "2"}, print)
saver.changed()
if sys.argv[2] == "fork":
    pid = os.fork()
    if not pid:
        sys.exit()
    os.waitpid(pid, 0)
    print(offers(Path(sys.argv[1]), "k")[0].living)
if sys.argv[2] == "killed":
    os.kill(os.getpid(), signal.SIGKILL)
"""


@pytest.mark.skipif(not hasattr(os, "fork"), reason="processes are copied on Unix only")
@pytest.mark.parametrize(("end", "living"), [("exit", False), ("killed", True), ("fork", False)])
def test_a_process_says_that_it_ends_if_it_can(tmp_path: Path, end: str, living: bool) -> None:
    done = subprocess.run(
        [sys.executable, "-c", TYPES, str(tmp_path), end], capture_output=True, text=True
    )
    assert done.stdout == ("True\n" if end == "fork" else "")
    (found,) = offers(tmp_path, "k")
    assert (found.tables, found.living, found.ours) == ({"mass": "2"}, living, False)
    silence(found.path)
    assert not offers(tmp_path, "k")[0].living


def test_the_end_is_not_taken_for_typing(tmp_path: Path) -> None:
    saver = Autosave(tmp_path, "k", dict, print)
    saver.changed()
    before = offers(tmp_path, "k")[0].saved
    saver.close()
    assert offers(tmp_path, "k")[0].saved == before


def test_a_slow_write_does_not_replace_a_newer_one(tmp_path: Path) -> None:
    """A thread may still hold older texts when the session ends."""
    saver = Autosave(tmp_path, "k", lambda: {"n": saver._taken}, print)
    older = saver._data()
    saver.changed()
    saver._write(*older)
    assert offers(tmp_path, "k")[0].tables == {"n": 2}
    saver.close()
    saver._write(*older)
    (found,) = offers(tmp_path, "k")
    assert (found.tables, found.living) == ({"n": 3}, False)


def test_a_folder_that_cannot_be_written_is_said_once(tmp_path: Path) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("in the way")
    state = ToolkitState("copper-silver", folder=blocked)
    state.readings.set_title("a")
    state.readings.set_title("b")
    assert len(state.notes) == 1
    assert "not being kept" in state.notes[0]
    assert state.readings.form.title == "b"
    state.close()
    assert blocked.read_text() == "in the way"


def test_writing_is_at_most_every_second_and_beside_the_loop(tmp_path: Path) -> None:
    taken = []

    async def typing() -> None:
        clock = asyncio.get_running_loop().time
        saver = Autosave(
            tmp_path, "k", lambda: taken.append(clock()) or {"n": len(taken)}, print, clock=clock
        )
        for _ in range(50):
            saver.changed()
            await asyncio.sleep(0.1)
        await asyncio.sleep(5)
        assert 2 <= len(taken) <= 6  # fewer where a disk is slow
        assert all(b - a > 0.99 for a, b in pairwise(taken))
        (found,) = offers(tmp_path, "k")
        assert (found.tables["n"], found.living) == (len(taken), True)
        saver.close()

    clocks.run(typing)
    (found,) = offers(tmp_path, "k")
    assert (found.tables["n"], found.living) == (len(taken), False)


def test_files_are_removed_of_ended_sessions_of_the_same_owner_only(
    tmp_path: Path, enter: Enter
) -> None:
    (tmp_path / "typed-other-1.json").write_text("{}")
    enter("first", "/x/other.ipynb")
    another = Autosave(tmp_path, "k", lambda: {"n": -2}, print)
    another.changed()
    another.close()
    enter("first", "/x/lab.ipynb")
    running = Autosave(tmp_path, "k", lambda: {"n": -1}, print)
    running.changed()
    damaged = tmp_path / "typed-k-damaged.json"
    damaged.write_text("{")
    for number in range(saving.MOST_FILES + 5):
        saver = Autosave(tmp_path, "k", lambda number=number: {"n": number}, print)
        saver.changed()
        saver.close()
    assert damaged.exists()
    damaged.unlink()
    left = [one.tables["n"] for one in offers(tmp_path, "k")]
    assert left == [*range(saving.MOST_FILES + 4, 4, -1), -1, -2]
    assert (tmp_path / "typed-other-1.json").exists()
    silence(running.path)
    last = Autosave(tmp_path, "k", lambda: {"n": 99}, print)
    last.changed()
    assert not running.path.exists()  # taken for ended: not touched for long
    running.changed()  # it was not: it writes its file again
    assert running.path.exists()
    for saver in (running, last):
        saver.close()


@pytest.mark.skipif(os.name == "nt", reason="permissions of Unix")
def test_files_and_folder_are_for_their_owner_only(tmp_path: Path) -> None:
    def mode(path: Path) -> int:
        return stat.S_IMODE(path.stat().st_mode)

    before = os.umask(0)
    try:
        opened = tmp_path / "a" / FOLDER
        opened.mkdir(parents=True, mode=0o755)
        named = tmp_path / "named by a user"
        named.mkdir(mode=0o755)
        for folder in (tmp_path / FOLDER, opened, tmp_path / "new", named):
            saver = Autosave(folder, "k", dict, print)
            saver.changed()
            saver.close()
            assert mode(saver.path) == 0o600
            assert mode(folder) == (0o755 if folder == named else 0o700)
    finally:
        os.umask(before)


def test_the_folder_is_hidden_beside_the_notebook(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    state = ToolkitState("copper-silver")
    state.readings.set_title("x")
    state.close()
    assert len(files(tmp_path / FOLDER)) == 1


@pytest.mark.parametrize(
    ("kernel", "owner", "notebook", "living", "ours"),
    [
        ("k", "me", "a.ipynb", True, True),  # this very session
        ("k", "other", "", True, True),
        ("old", "me", "a.ipynb", False, True),  # the same person and notebook, ended
        ("old", "me", "a.ipynb", True, False),  # still running
        ("old", "other", "a.ipynb", False, False),
    ],
)
def test_whose_work_it_is(kernel: str, owner: str, notebook: str, living: bool, ours: bool) -> None:
    here = Session("k", "me", "a.ipynb")
    assert here.owns(Session(kernel, owner, notebook), living) is ours
    nameless = Session("k", "me", "")  # nobody says which notebook it is
    assert nameless.owns(Session(kernel, owner, notebook), living) is (kernel == "k")


@pytest.mark.parametrize(
    ("ours", "living", "notebook", "words"),
    [
        (True, True, "a.ipynb", "typed at 09:05"),
        (False, False, "a.ipynb", "typed at 09:05 in another session (a.ipynb)"),
        (False, True, "", "typed at 09:05 in another session, which is still running"),
    ],
)
def test_where_something_was_typed(ours: bool, living: bool, notebook: str, words: str) -> None:
    found = Found({}, datetime(2026, 3, 1, 9, 5), Path("x"), Session("k", "o", notebook), living,
                  ours)  # fmt: skip
    assert found.words(datetime(2026, 3, 1, 23, 59)) == words
    day = found.words(datetime(2026, 3, 2, 0, 0))
    assert day.startswith("typed at 09:05 on 2026-03-01")
