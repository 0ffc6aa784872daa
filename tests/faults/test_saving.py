"""Saving: a file is written whole or not at all, whatever happens meanwhile."""

from __future__ import annotations

import errno
import multiprocessing
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

import stoichkit
from stoichkit import _common, experiments
from stoichkit.errors import StoichkitError
from stoichkit.guide.notebooks import copy_notebooks

LAB = experiments.load("copper-silver")


def _picture(path: Path) -> object:
    return stoichkit.plots.save_picture(stoichkit.assess(LAB), path.with_suffix(".svg"))


SAVERS: dict[str, Callable[[Path], object]] = {
    "experiment": lambda path: stoichkit.save_experiment(LAB, path),
    "picture": _picture,
    "bytes": lambda path: _common.write_whole(path, b"new"),
}


@pytest.mark.parametrize("name", SAVERS)
@pytest.mark.parametrize("call", ["fsync", "replace"])
def test_a_full_disk_leaves_the_old_file(
    name: str, call: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "file.toml"
    for suffix in (".toml", ".svg"):
        target.with_suffix(suffix).write_text("old", "utf-8")
    before = sorted(p.name for p in tmp_path.iterdir())

    def full(*_: Any) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, call, full)
    with pytest.raises(StoichkitError, match="No space left on device"):
        SAVERS[name](target)
    monkeypatch.undo()

    assert sorted(p.name for p in tmp_path.iterdir()) == before
    assert {p.read_text("utf-8") for p in tmp_path.iterdir()} == {"old"}


def test_a_disk_that_is_really_full(tmp_path: Path) -> None:
    """A file may not grow beyond 4 kB in this process: the write itself fails."""
    target = tmp_path / "file.bin"
    target.write_bytes(b"old")
    code = (
        "import resource, signal, sys; from stoichkit._common import write_whole\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))\n"
        "write_whole(sys.argv[1], b'x' * 100_000)"
    )
    pytest.importorskip("resource", reason="no resource limits on this system")
    run = subprocess.run(
        [sys.executable, "-c", code, str(target)], capture_output=True, text=True, check=False
    )
    assert run.returncode == 1
    assert "DataFileError: The file cannot be written: File too large." in run.stderr
    assert target.read_bytes() == b"old"
    assert [p.name for p in tmp_path.iterdir()] == ["file.bin"]


@pytest.mark.parametrize("name", SAVERS)
def test_a_place_that_cannot_be_written_is_said(name: str, tmp_path: Path) -> None:
    """Below a file there can be no folder, not even for an administrator."""
    (tmp_path / "file").write_text("x", "utf-8")
    with pytest.raises(StoichkitError, match="cannot be written"):
        SAVERS[name](tmp_path / "file" / "lab.toml")


@pytest.mark.skipif(os.geteuid() == 0, reason="an administrator may write anywhere")
def test_a_read_only_folder_is_said(tmp_path: Path) -> None:
    tmp_path.chmod(0o555)
    try:
        with pytest.raises(StoichkitError, match="Permission denied"):
            stoichkit.save_experiment(LAB, tmp_path / "lab.toml")
    finally:
        tmp_path.chmod(0o755)


def test_a_saver_killed_in_the_middle_leaves_a_whole_file(tmp_path: Path) -> None:
    target = tmp_path / "lab.bin"
    code = (
        "import sys, itertools; from stoichkit._common import write_whole\n"
        "print('ready', flush=True)\n"
        "for i in itertools.count(): write_whole(sys.argv[1], bytes([i % 256]) * 2_000_000)"
    )
    for pause_s in (0.02, 0.05, 0.11):
        with subprocess.Popen(
            [sys.executable, "-c", code, str(target)], stdout=subprocess.PIPE
        ) as saver:
            assert saver.stdout is not None
            saver.stdout.readline()
            while not target.exists():
                time.sleep(0.001)
            time.sleep(pause_s)
            saver.send_signal(signal.SIGKILL)
        content = target.read_bytes()
        assert len(content) == 2_000_000
        assert len(set(content)) == 1


def _save_often(path: str, mark: int) -> None:
    for _ in range(30):
        _common.write_whole(path, bytes([mark]) * 300_000)


def test_two_savers_at_once_leave_the_file_of_one_of_them(tmp_path: Path) -> None:
    target = str(tmp_path / "lab.bin")
    context = multiprocessing.get_context("spawn")
    savers = [context.Process(target=_save_often, args=(target, mark)) for mark in (1, 2)]
    for one in savers:
        one.start()
    for one in savers:
        one.join()
    content = Path(target).read_bytes()
    assert len(content) == 300_000
    assert len(set(content)) == 1
    assert [p.name for p in tmp_path.iterdir()] == ["lab.bin"]


def test_threads_save_to_one_name(tmp_path: Path) -> None:
    target = tmp_path / "lab.toml"
    with ThreadPoolExecutor(8) as pool:
        list(pool.map(lambda _: stoichkit.save_experiment(LAB, target), range(24)))
    assert stoichkit.load_experiment(target) == LAB
    assert [p.name for p in tmp_path.iterdir()] == ["lab.toml"]


def test_a_link_is_followed_and_stays_a_link(tmp_path: Path) -> None:
    real = tmp_path / "real.toml"
    real.write_text("old", "utf-8")
    link = tmp_path / "link.toml"
    link.symlink_to(real)
    stoichkit.save_experiment(LAB, link)
    assert link.is_symlink()
    assert stoichkit.load_experiment(real) == LAB


def test_notebooks_are_not_half_copied(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: Any) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    with pytest.raises(StoichkitError, match="No space"):
        copy_notebooks(tmp_path / "new")
    assert list((tmp_path / "new").iterdir()) == []
