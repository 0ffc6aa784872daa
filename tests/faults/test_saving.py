"""Saving: a file is written whole or not at all, whatever happens meanwhile, and none unasked."""

from __future__ import annotations

import errno
import multiprocessing
import os
import signal
import socket
import stat
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest

import stoichkit
from stoichkit import experiments
from stoichkit._common import check_place, write_whole
from stoichkit.classroom.export import export_code_key
from stoichkit.errors import StoichkitError
from stoichkit.guide.notebooks import copy_notebooks
from stoichkit.widgets.kit.saving import Autosave

LAB = experiments.load("copper-silver")


def _picture(path: Path) -> object:
    return stoichkit.plots.save_picture(
        stoichkit.assess(LAB), path.with_suffix(".svg"), replace=True
    )


SAVERS: dict[str, Callable[[Path], object]] = {
    "experiment": lambda path: stoichkit.save_experiment(LAB, path, replace=True),
    "picture": _picture,
    "bytes": lambda path: write_whole(path, b"new", replace=True),
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
        "write_whole(sys.argv[1], b'x' * 100_000, replace=True)"
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


def test_a_read_only_folder_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    """An administrator may write anywhere, and is another user meanwhile."""
    with TemporaryDirectory() as folder:
        target = Path(folder) / "lab.toml"
        Path(folder).chmod(0o555)
        root = os.geteuid() == 0
        if root:
            os.seteuid(65534)
        try:
            with pytest.raises(StoichkitError, match="Permission denied"):
                stoichkit.save_experiment(LAB, target)
        finally:
            if root:
                os.seteuid(0)
            Path(folder).chmod(0o755)
        assert os.listdir(folder) == []

        monkeypatch.setattr(os, "access", lambda *_: False)  # said before the work begins too
        with pytest.raises(StoichkitError, match="Permission denied"):
            check_place(target)


def test_a_saver_killed_in_the_middle_leaves_a_whole_file(tmp_path: Path) -> None:
    target = tmp_path / "lab.bin"
    code = (
        "import sys, itertools; from stoichkit._common import write_whole\n"
        "print('ready', flush=True)\n"
        "for i in itertools.count():\n"
        "    write_whole(sys.argv[1], bytes([i % 256]) * 2_000_000, replace=True)"
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
        write_whole(path, bytes([mark]) * 300_000, replace=True)


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
        list(pool.map(lambda _: stoichkit.save_experiment(LAB, target, replace=True), range(24)))
    assert stoichkit.load_experiment(target) == LAB
    assert [p.name for p in tmp_path.iterdir()] == ["lab.toml"]


def test_a_link_is_followed_and_stays_a_link(tmp_path: Path) -> None:
    real = tmp_path / "real.toml"
    real.write_text("old", "utf-8")
    link = tmp_path / "link.toml"
    link.symlink_to(real)
    with pytest.raises(StoichkitError, match="of that name already"):
        stoichkit.save_experiment(LAB, link)
    assert real.read_text("utf-8") == "old"
    stoichkit.save_experiment(LAB, link, replace=True)
    assert link.is_symlink()
    assert stoichkit.load_experiment(real) == LAB


def test_notebooks_are_not_half_copied(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: Any) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    for call in ("link", "replace"):
        monkeypatch.setattr(os, call, full)
    with pytest.raises(StoichkitError, match="No space"):
        copy_notebooks(tmp_path / "new")
    assert list((tmp_path / "new").iterdir()) == []


# What is no file


def _folder(path: Path) -> None:
    path.mkdir()


def _pipe(path: Path) -> None:
    os.mkfifo(path)


def _socket(path: Path) -> None:
    with socket.socket(socket.AF_UNIX) as made:
        here = Path.cwd()
        os.chdir(path.parent)  # the name of a socket may not be long
        try:
            made.bind(path.name)
        finally:
            os.chdir(here)


def _device(path: Path) -> None:
    """A device as /dev/null is one; only an administrator may make it, and not everywhere."""
    try:
        os.mknod(path, 0o666 | stat.S_IFCHR, os.makedev(1, 3))
    except PermissionError:
        pytest.skip("no devices can be made here")


def _link_to_nothing(path: Path) -> None:
    path.symlink_to(path.with_name("nothing.toml"))


ODD: dict[str, Callable[[Path], None]] = {
    "a folder": _folder,
    "a pipe": _pipe,
    "a socket": _socket,
    "a device": _device,
    "a link that leads nowhere": _link_to_nothing,
}


@pytest.mark.parametrize("linked", [False, True], ids=["itself", "through a link"])
@pytest.mark.parametrize("kind", ODD)
def test_only_files_are_written(kind: str, linked: bool, tmp_path: Path) -> None:
    odd = tmp_path / "odd.toml"
    ODD[kind](odd)
    target = odd
    if linked:
        target = tmp_path / "link.toml"
        target.symlink_to(odd)
    before = {path: path.lstat() for path in tmp_path.iterdir()}
    for replace in (False, True):
        for save in (check_place, lambda p, replace: write_whole(p, b"new", replace=replace)):
            with pytest.raises(StoichkitError, match=f"This is {kind}, not a file"):
                save(target, replace=replace)
        with pytest.raises(StoichkitError, match=f"This is {kind}, not a file"):
            stoichkit.save_experiment(LAB, target, replace=replace)
    after = {path: path.lstat() for path in tmp_path.iterdir()}
    assert {p: (s.st_ino, s.st_mode) for p, s in before.items()} == {
        p: (s.st_ino, s.st_mode) for p, s in after.items()
    }


def test_a_link_in_a_circle_and_a_name_no_file_can_have(tmp_path: Path) -> None:
    circle = tmp_path / "circle"
    circle.symlink_to(circle)
    for target, why in (
        (circle, "Too many levels of symbolic links"),
        (tmp_path / "a\0b", "embedded null byte"),
        (tmp_path / ("n" * 300), "File name too long"),
        (tmp_path / "no" / "a", "No such file or directory"),
        (tmp_path / "circle" / "a", "Too many levels of symbolic links"),
    ):
        for save in (check_place, lambda path: write_whole(path, b"new")):
            with pytest.raises(StoichkitError, match=f"cannot be written: {why}"):
                save(target)
    assert [path.name for path in tmp_path.iterdir()] == ["circle"]


# Nothing is replaced unasked


def test_a_file_is_replaced_only_on_purpose(tmp_path: Path) -> None:
    target = tmp_path / "a.csv"
    assert write_whole(target, b"one") == target
    for save in (check_place, lambda path: write_whole(path, b"two")):
        with pytest.raises(StoichkitError, match="replace=True, --force") as caught:
            save(target)
        assert caught.value.given == str(target)
    assert target.read_bytes() == b"one"
    assert check_place(target, replace=True) == target
    write_whole(target, b"two", replace=True)
    assert target.read_bytes() == b"two"
    assert [path.name for path in tmp_path.iterdir()] == ["a.csv"]


@pytest.fixture(params=["hard links", "refused", "unknown"])
def links(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whether files can have two names: yes, not in this file system, not in this Python."""

    def refuse(*_: Any) -> None:
        raise OSError(errno.EOPNOTSUPP, "Operation not supported")

    if request.param == "refused":
        monkeypatch.setattr(os, "link", refuse)
    elif request.param == "unknown":
        monkeypatch.delattr(os, "link")


@pytest.mark.usefixtures("links")
def test_a_new_file_is_whole_whatever_the_file_system(tmp_path: Path) -> None:
    target = write_whole(tmp_path / "a.bin", b"x" * 100_000)
    assert target.read_bytes() == b"x" * 100_000
    assert target.stat().st_nlink == 1
    assert os.listdir(tmp_path) == ["a.bin"]


@pytest.mark.usefixtures("links")
def test_a_file_that_appears_meanwhile_is_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Somebody else writes the file after the check, while ours goes to the disk."""
    target, sync = tmp_path / "a.csv", os.fsync

    def theirs(number: int) -> None:
        sync(number)
        target.write_bytes(b"theirs")

    monkeypatch.setattr(os, "fsync", theirs)
    with pytest.raises(StoichkitError, match="of that name already"):
        write_whole(target, b"ours")
    assert target.read_bytes() == b"theirs"
    assert os.listdir(tmp_path) == ["a.csv"]


@pytest.mark.usefixtures("links")
def test_of_many_who_want_a_new_name_one_gets_it(tmp_path: Path) -> None:
    target = tmp_path / "a.bin"

    def save(mark: int) -> int | None:
        try:
            write_whole(target, bytes([mark]) * 200_000)
        except StoichkitError:
            return None
        return mark

    with ThreadPoolExecutor(8) as pool:
        (got,) = [mark for mark in pool.map(save, range(24)) if mark is not None]
    assert target.read_bytes() == bytes([got]) * 200_000
    assert os.listdir(tmp_path) == ["a.bin"]


@pytest.mark.parametrize("calls", [("fsync",), ("link", "replace")])
def test_a_full_disk_leaves_nothing_of_a_new_file(
    calls: tuple[str, ...], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: Any) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    for call in calls:
        monkeypatch.setattr(os, call, full)
    with pytest.raises(StoichkitError, match="No space left on device"):
        write_whole(tmp_path / "a.bin", b"new")
    assert os.listdir(tmp_path) == []


@pytest.mark.parametrize("replace", [False, True])
def test_a_stop_in_the_middle_leaves_nothing(
    replace: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stopped(*_: Any) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", stopped)
    with pytest.raises(KeyboardInterrupt):
        write_whole(tmp_path / "a.bin", b"new", replace=replace)
    assert os.listdir(tmp_path) == []


def test_a_folder_that_cannot_be_synced_does_no_harm(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    sync = os.fsync

    def only_files(number: int) -> None:
        if stat.S_ISDIR(os.fstat(number).st_mode):
            raise OSError(errno.EINVAL, "Invalid argument")
        sync(number)

    monkeypatch.setattr(os, "fsync", only_files)
    assert write_whole(tmp_path / "a.bin", b"new").read_bytes() == b"new"


# Endings and permissions


def test_endings(tmp_path: Path) -> None:
    for name in ("a.CSV", "a.Xlsx"):
        assert check_place(tmp_path / name, endings=(".csv", ".xlsx")).name == name
    for name in ("a", "a.csv.txt", "a.html", ".csv"):
        for save in (check_place, lambda path, endings: write_whole(path, b"", endings=endings)):
            with pytest.raises(StoichkitError, match=r"\.csv or \.xlsx\.$") as caught:
                save(tmp_path / name, endings=(".csv", ".xlsx"))
            assert caught.value.given == name
    with pytest.raises(StoichkitError, match=r"ends in \.html\. For paper or PDF"):
        check_place("a.pdf", endings=(".html",))
    assert os.listdir(tmp_path) == []


@pytest.fixture
def open_mask() -> Iterator[None]:
    before = os.umask(0o027)
    yield
    os.umask(before)


def _mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


@pytest.mark.usefixtures("open_mask", "links")
def test_permissions(tmp_path: Path) -> None:
    new = write_whole(tmp_path / "a", b"1")
    assert _mode(new) == 0o640  # 0666 less the 0027 of this process
    new.chmod(0o604)
    assert _mode(write_whole(new, b"2", replace=True)) == 0o604
    assert _mode(write_whole(tmp_path / "own", b"1", private=True)) == 0o600
    assert _mode(write_whole(new, b"3", replace=True, private=True)) == 0o600


def test_what_others_may_not_read_is_never_open(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nor is the temporary file, while it is written."""
    closed, seen, sync = tmp_path / "closed", [], os.fsync
    closed.write_bytes(b"1")
    closed.chmod(0o600)

    def look(number: int) -> None:
        sync(number)
        if stat.S_ISREG(os.fstat(number).st_mode):
            seen.append(stat.S_IMODE(os.fstat(number).st_mode))

    monkeypatch.setattr(os, "fsync", look)
    write_whole(closed, b"2", replace=True)
    write_whole(tmp_path / "new", b"2", private=True)
    assert seen == [0o600, 0o600]


def test_what_names_people_is_for_its_owner_only(tmp_path: Path) -> None:
    data = stoichkit.load_class(experiments.class_file(), LAB, codes=True)
    for ending in (".csv", ".xlsx", ".html"):
        assert _mode(export_code_key(data, tmp_path / f"key{ending}")) == 0o600
    saver = Autosave(tmp_path / ".kept", "k", lambda: {"mass": "2.9"}, print)
    saver.changed()
    assert _mode(saver.path) == 0o600
    saver.close()
