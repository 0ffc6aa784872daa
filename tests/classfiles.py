"""Class files for tests: copper and silver weighings as CSV and XLSX (invented); what must hold."""

from __future__ import annotations

import io
import random
from collections.abc import Sequence
from typing import Any

import openpyxl

from stoichkit.classroom.data import ClassData
from stoichkit.classroom.records import RowUse
from stoichkit.classroom.tables import read_table
from stoichkit.experiments.record import Experiment
from stoichkit.uncertainty.readings import parse_number

HEADER = (
    "group", "trial", "wire before / g", "wire after / g", "paper / g", "paper + silver / g",
)  # fmt: skip
ROWS = (
    ("red", "1", "2.94", "2.82", "0.75", "1.15"),
    ("red", "2", "3.19", "3.09", "0.70", "1.06"),
    ("blue", "1", "3.14", "3.03", "0.73", "1.12"),
    ("blue", "2", "2.95", "2.83", "0.70", "1.13"),
    ("green", "1", "3.02", "2.92", "0.71", "1.05"),
)


def csv_bytes(
    rows: Sequence[Sequence[str]] = ROWS,
    header: Sequence[str] = HEADER,
    *,
    mark: str = ",",
    encoding: str = "utf-8",
    decimal: str = ".",
) -> bytes:
    """Return a CSV file; cells that hold the mark are quoted."""
    lines = []
    for row in (header, *rows):
        cells = [c.replace(".", decimal) if c[:1].isdigit() else c for c in row]
        lines.append(mark.join(f'"{c}"' if mark in c or "\n" in c else c for c in cells))
    return ("\n".join(lines) + "\n").encode(encoding)


def class_bytes(groups: int, *, name: str = "bench {}", gain_g: float = 0.0) -> bytes:
    """Return readings of copper(II), invented, with a fixed gain of product if asked for."""
    chance = random.Random(groups)
    rows = []
    for group in range(groups):
        copper = 0.05 + 0.2 * (group % 7) / 7
        wire, paper = chance.uniform(2.9, 3.3), chance.uniform(0.68, 0.76)
        silver = copper / 63.546 * 2 * 107.868 + gain_g
        weighed = (wire, wire - copper, paper, paper + silver)
        shown = [f"{m + chance.gauss(0, 0.004):.2f}" for m in weighed]
        rows.append((name.format(group + 1), "1", *shown))
    return csv_bytes(rows)


def xlsx_bytes(
    rows: Sequence[Sequence[Any]] = ROWS,
    header: Sequence[Any] = HEADER,
    *,
    number_format: str = "0.00",
) -> bytes:
    """Return a workbook with numbers stored as numbers, in one format from the third column on."""
    book = openpyxl.Workbook()
    sheet = book.active
    for row in (header, *rows):
        sheet.append([_number(cell) for cell in row])
    for cells in sheet.iter_rows(min_row=2, min_col=3):
        for cell in cells:
            cell.number_format = number_format
    return saved(book)


def saved(book: openpyxl.Workbook) -> bytes:
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _number(cell: Any) -> Any:
    try:
        return float(cell)
    except (TypeError, ValueError):
        return cell


def check_accounts(content: bytes, data: ClassData, lab: Experiment) -> None:
    """Every row is accounted for, every fault located, and every group is a usable record."""
    table = read_table(content)
    assert [r.row for r in data.rows] == list(range(1, len(table.rows) + 1))
    places = {p.row for p in data.problems}
    for record, cells in zip(data.rows, table.rows, strict=True):
        text = any(cell.strip() for cell in cells)
        assert text or record.use in (RowUse.BLANK, RowUse.SET_ASIDE)
        assert (record.use is RowUse.USED) == bool(record.group and record.trial)
        if record.use is RowUse.WAITING:
            assert any(q.waits and q.text == record.reason for q in data.questions)
        if record.use is RowUse.SET_ASIDE:
            assert record.reason
            assert record.row in places
    used = [r for r in data.rows if r.use is RowUse.USED]
    assert len(used) == data.uses.get("used", 0) == data.trial_counts.sum()
    assert set(data.groups) == {r.group for r in used} == set(data.names)
    for name in data.names[:20]:
        group = data.groups[name]
        wanted = [r.trial for r in used if r.group == name]
        assert [trial.name for trial in group.trials] == wanted
        for trial in group.trials:
            for role in lab.roles():
                if not role.optional and role.needs_reading and role.name in trial.readings:
                    parse_number(trial.readings[role.name][-1])
