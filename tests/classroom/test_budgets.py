"""Files that nobody typed end in a clear answer within 5 s and 300 MB, each in a process."""

from __future__ import annotations

import io
import os
import re
import subprocess
import sys
import zipfile
from pathlib import Path

import openpyxl
import pytest

from tests.classfiles import HEADER, ROWS, saved, xlsx_bytes

_READ = """
import re, sys, time
from pathlib import Path
from stoichkit import experiments
from stoichkit.classroom.data import load_class
from stoichkit.errors import DataFileError
lab = experiments.load("copper-silver")
start = time.process_time()
try:
    data = load_class(sys.argv[1], lab)
    words = f"read {data.uses}"
except DataFileError as error:
    words = f"refused {error}"
peak = int(re.search(r"VmHWM:\\s+(\\d+)", Path("/proc/self/status").read_text())[1]) / 1024
print(f"{time.process_time() - start} {peak} {words}")
"""


def stray() -> bytes:
    book = openpyxl.Workbook()
    for row in (HEADER, *ROWS):
        book.active.append(row)
    book.active.cell(1_048_576, 1, "x")
    return saved(book)


def changed(part: str, content: bytes) -> bytes:
    out = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(xlsx_bytes())) as old,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for name in {*old.namelist(), part}:
            new.writestr(name, content if name == part else old.read(name))
    return out.getvalue()


def huge_sheet() -> bytes:
    rows = b"".join(
        b'<row r="%d"><c r="A%d"><v>1</v></c></row>' % (n, n) for n in range(1, 1000001)
    )
    head = (
        b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
    )
    return changed("xl/worksheets/sheet1.xml", head + rows + b"</sheetData></worksheet>")


def long_cell() -> bytes:
    head = (
        b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
    )
    cell = b'<row r="1"><c r="A1" t="inlineStr"><is><t>%s</t></is></c></row>' % (b"ab" * 5_000_000)
    return changed("xl/worksheets/sheet1.xml", head + cell + b"</sheetData></worksheet>")


def many_words() -> bytes:
    head = (
        b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
    )
    rows = (
        b'<row r="%d"><c r="A%d" t="inlineStr"><is><t>%s</t></is></c></row>'
        % (n, n, os.urandom(300).hex().encode())
        for n in range(1, 40_001)
    )
    return changed("xl/worksheets/sheet1.xml", head + b"".join(rows) + b"</sheetData></worksheet>")


def far_right() -> bytes:
    book = openpyxl.Workbook()
    for row in (HEADER, *ROWS):
        book.active.append(row)
    book.active.cell(2, 16_384, "x")
    return saved(book)


ENV = {**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])}
LINE = b"red,1,2.94,2.82,0.75,1.15\n"
HEAD = (",".join(HEADER) + "\n").encode()
FILES = {
    "a stray cell in the last row": (stray, "far below"),
    "a cell of 10 MB": (long_cell, "far too much text"),
    "a million rows": (huge_sheet, "far too large"),
    "a text file of a million rows": (lambda: HEAD + LINE * 1_000_000, "too many rows"),
    "a text cell of 10 MB": (lambda: HEAD + LINE + b"x" * 10_000_000 + b"\n", "far too much text"),
    "a text file of millions of cells": (
        lambda: HEAD + (LINE[:-1] + b"," * 900 + b"\n") * 10_000, "far too large"),
    "the same in quotation marks": (
        lambda: HEAD + (b'"red"' + LINE[3:-1] + b"," * 900 + b"\n") * 10_000, "far too large"),
    "rows of thousands of cells": (
        lambda: HEAD + (LINE[:-1] + b"," * 9_000 + b"\n") * 900, "too many columns"),
    "a text file of long remarks": (
        lambda: HEAD + (LINE[:-1] + b"x" * 400 + b"\n") * 100_000, "far too much text"),
    "long remarks of wide characters": (
        lambda: HEAD + (LINE[:-1] + "\U0001f9ea".encode() * 100 + b"\n") * 110_000,
        "far too much text"),
    "a workbook of long remarks": (many_words, "far too much text"),
    "a stray cell in the last column": (far_right, "too many columns"),
    "one line of 49 MB": (lambda: b"a," * 24_500_000, "far too much text"),
    "a zip bomb": (
        lambda: changed("xl/worksheets/sheet1.xml", b" " * 200_000_000), "unpacks to far too much"),
    "strings that are too many": (
        lambda: changed("xl/sharedStrings.xml", os.urandom(25_000_000).hex().encode()),
        "far too much text"),
}  # fmt: skip


def measured(path: Path) -> tuple[float, float, str]:
    """Return seconds of the processor, the peak of memory in MB, and what was said."""
    found = subprocess.run(
        [sys.executable, "-c", _READ, str(path)],
        capture_output=True,
        text=True,
        check=True,
        env=ENV,
    ).stdout
    seconds, peak, said = re.fullmatch(r"(\S+) (\S+) (.*)\n?", found, re.DOTALL).groups()  # type: ignore[union-attr]
    return float(seconds), float(peak), " ".join(said.split())


@pytest.mark.parametrize("name", FILES)
def test_within_time_and_memory(name: str, tmp_path: Path) -> None:
    make, words = FILES[name]
    path = tmp_path / "class.bin"
    path.write_bytes(make())
    seconds, peak, said = measured(path)
    assert said.startswith("refused")
    assert words in said
    assert seconds < 5  # of the processor, so that others do not matter
    assert peak < 300


READ = {
    "a hundred thousand clean rows": lambda: (
        HEAD + b"".join(b"g%d,%d,2.94,2.82,0.75,1.15\n" % (n // 4, n % 4) for n in range(100_000))),
    "a quotation mark astray in every row": lambda: HEAD + (b'"' + LINE) * 50_000,
    "wide characters": lambda: (
        HEAD + (LINE[:-1] + ',"\U0001f9ea"\n'.encode()) * 50_000),
}  # fmt: skip


@pytest.mark.parametrize("name", READ)
def test_what_is_read_stays_within_them_too(name: str, tmp_path: Path) -> None:
    path = tmp_path / "class.csv"
    path.write_bytes(READ[name]())
    seconds, peak, said = measured(path)
    assert "rows" in said or said.startswith("read")
    assert seconds < 5
    assert peak < (200 if "clean" in name else 300)


def test_devices_and_pipes_are_no_files(tmp_path: Path) -> None:
    from stoichkit import experiments, load_class
    from stoichkit.errors import DataFileError

    os.mkfifo(tmp_path / "pipe")
    for path in ("/dev/zero", "/dev/tty", str(tmp_path / "pipe")):
        with pytest.raises(DataFileError, match=r"device or pipe|cannot be opened|no such file"):
            load_class(path, experiments.load("copper-silver"))


COMMAND = [sys.executable, "-m", "stoichkit", "class", "-", "--experiment", "copper-silver"]


def test_standard_input(tmp_path: Path) -> None:
    from tests.classfiles import csv_bytes

    found = subprocess.run(COMMAND, input=csv_bytes(), capture_output=True, env=ENV, cwd=tmp_path)
    assert found.returncode == 0, found.stderr
    assert b"3 groups" in found.stdout


def test_a_pipe_without_an_end(tmp_path: Path) -> None:
    with subprocess.Popen(["yes", LINE.decode().strip()], stdout=subprocess.PIPE) as endless:
        found = subprocess.run(
            COMMAND, stdin=endless.stdout, capture_output=True, env=ENV, cwd=tmp_path
        )
        endless.kill()
    assert found.returncode != 0
    assert b"too large" in found.stderr


def test_a_terminal_is_not_waited_for(tmp_path: Path) -> None:
    keyboard, terminal = os.openpty()
    try:
        found = subprocess.run(COMMAND, stdin=terminal, capture_output=True, env=ENV, cwd=tmp_path)
    finally:
        os.close(keyboard)
        os.close(terminal)
    assert found.returncode != 0
    assert b"Standard input is a terminal" in found.stderr
