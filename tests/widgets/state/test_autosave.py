"""What is typed is on the disk within a second, and no file of another session is touched."""

from __future__ import annotations

import asyncio
import json
import os
import time
from datetime import datetime
from itertools import pairwise
from pathlib import Path

import pytest

from stoichkit.widgets.kit import saving as autosave
from stoichkit.widgets.kit.saving import FOLDER, Autosave, find_newest, key_of
from stoichkit.widgets.state.toolkit import ToolkitState
from tests import clocks


def files(folder: Path) -> list[Path]:
    return sorted(folder.glob("typed-*.json"))


def test_what_was_typed_is_restored_to_the_letter(tmp_path: Path) -> None:
    first = ToolkitState("copper-silver", folder=tmp_path)
    assert files(tmp_path) == []  # nothing typed, nothing written
    first.readings.set_reading(0, "wire before", "2,94 g")
    first.readings.set_recovery(low="90 %")
    first.readings.set_candidates("copper(I) = 1\n\ncopper(II) = 2\nodd = 3/2")
    first.plan.set("trials", "four")
    first.balance.set_amount(0.2)
    first.causes.set_weighings("10 1.571\n20 1.5")
    first.causes.set_residue("AgNO_3!")
    first.close()

    second = ToolkitState("copper-silver", folder=tmp_path)
    assert second.restored == datetime.now().strftime("%H:%M")
    assert second.readings.form == first.readings.form
    assert second.readings.evidence.verdict == first.readings.evidence.verdict
    assert second.plan.texts == first.plan.texts
    assert second.balance.chosen() == first.balance.chosen()
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


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"{",
        b"\xff\xfe",
        b"[]",
        b'{"format": 9}',
        b'{"format": 1}',
        b'{"format": 1, "saved": "yesterday", "typed": {}}',
        b'{"format": 1, "saved": "2026-01-01T10:00:00", "typed": {}}',
        b'{"format": 1, "saved": "2026-01-01T10:00:00", "typed": {"readings": {"form": 1}}}',
        b"[" * 100_000,
    ],
)
def test_a_damaged_file_is_said_and_kept_aside(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / f"typed-{key_of('copper-silver')}-abc.json"
    path.write_bytes(content)
    state = ToolkitState("copper-silver", folder=tmp_path)
    assert len(state.notes) == 1
    assert "could not be restored" in state.notes[0]
    assert state.readings.evidence.verdict.candidates == ("copper(II)",)
    assert path.with_name(f"{path.name}.damaged").read_bytes() == content
    assert files(tmp_path) == []
    state.close()


def test_behind_a_damaged_file_the_one_before_is_restored(tmp_path: Path) -> None:
    first = ToolkitState("copper-silver", folder=tmp_path)
    first.readings.set_title("kept")
    first.close()
    newer = tmp_path / f"typed-{key_of('copper-silver')}-abc.json"
    newer.write_text("{")
    os.utime(newer, (time.time() + 5, time.time() + 5))
    state = ToolkitState("copper-silver", folder=tmp_path)
    assert state.readings.form.title == "kept"
    assert len(state.notes) == 1
    state.close()


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
        assert len(taken) > 1
        assert all(b - a > 0.99 for a, b in pairwise(taken))
        saver.close()

    clocks.run(typing)
    assert 5 <= len(taken) <= 6
    found, said = find_newest(tmp_path, "k")
    assert found is not None
    assert (found.tables["n"], said) == (len(taken), ())


def test_old_files_are_removed_and_others_are_not(tmp_path: Path) -> None:
    (tmp_path / "typed-other-1.json").write_text("{}")
    for number in range(autosave.MOST_FILES + 5):
        saver = Autosave(tmp_path, "k", lambda number=number: {"n": number}, print)
        saver.changed()
        saver.close()
    assert len(list(tmp_path.glob("typed-k-*.json"))) == autosave.MOST_FILES
    assert (tmp_path / "typed-other-1.json").exists()
    assert find_newest(tmp_path, "k")[0].tables["n"] == autosave.MOST_FILES + 4


def test_the_folder_is_hidden_beside_the_notebook(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    state = ToolkitState("copper-silver")
    state.readings.set_title("x")
    state.close()
    assert len(files(tmp_path / FOLDER)) == 1


def test_notebooks_do_not_share_what_was_typed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("JPY_SESSION_NAME", "/home/a.ipynb")
    state = ToolkitState("copper-silver", folder=tmp_path)
    state.readings.set_title("x")
    state.close()
    monkeypatch.setenv("JPY_SESSION_NAME", "/home/b.ipynb")
    other = ToolkitState("copper-silver", folder=tmp_path)
    assert other.restored == ""
    other.close()
