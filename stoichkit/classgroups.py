"""Rows of readings put together into groups and trials, by the names their cells carry."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .classtable import Problem, ProblemList, RowUse

__all__ = ["Grouping", "RowTexts", "group_rows", "usable_name"]

MAX_TRIALS = 1000
_MAX_NAME = 80
_SUMMARY = {
    "average", "avg", "count", "max", "maximum", "mean", "median", "min", "minimum", "range",
    "rsd", "s.d.", "sd", "st dev", "standard deviation", "std", "std dev", "stdev", "sum", "total",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class RowTexts:
    """What the rows below the header hold besides readings.

    Attributes
    ----------
    cells : sequence of sequence of str
        All cells of each row.
    filled : sequence of bool
        Whether a column of readings holds text.
    groups, trials : sequence of str or None
        Group and trial cells; None without such a column.
    header : tuple of str
        Cells of the header row, up to its last one with text; () without a header.
    """

    cells: Sequence[Sequence[str]]
    filled: Sequence[bool]
    groups: Sequence[str] | None
    trials: Sequence[str] | None
    header: tuple[str, ...]


@dataclass(slots=True)
class Grouping:
    """Which group and trial each row below the header belongs to.

    Attributes
    ----------
    names : list of str
        Groups with at least one row in use, in the order of the file.
    group_of : ndarray of int, shape (rows,)
        Index of the group; -1 for rows not in use.
    trials : list of str
        Name of the trial of each row in use.
    uses : list of RowUse
    reasons : dict of int to str
        Why rows were set aside, by index.
    """

    names: list[str]
    group_of: NDArray[np.intp]
    trials: list[str]
    uses: list[RowUse]
    reasons: dict[int, str]

    def set_aside(self, index: int, reason: str) -> None:
        """Take a row out of use."""
        self.group_of[index] = -1
        self.uses[index] = RowUse.SET_ASIDE
        self.reasons[index] = reason


def usable_name(text: str) -> str:
    """Return a name on one line, printable and at most 80 characters long.

    >>> usable_name("red \\n  bench\\x00")
    'red bench\ufffd'
    """
    plain = " ".join(text.split())
    if plain.isprintable() and len(plain) <= _MAX_NAME:
        return plain
    plain = "".join(c if c.isprintable() else "\ufffd" for c in plain)
    return plain if len(plain) <= _MAX_NAME else f"{plain[: _MAX_NAME - 1].rstrip()}…"


def group_rows(
    rows: RowTexts, faults: Mapping[int, Sequence[Problem]], found: ProblemList
) -> Grouping:
    """Give each row its use, its group and its trial.

    An empty group cell takes the name above it, as in a sheet where only the first row of a
    group carries the name. Rows with faults, without readings, and rows of means and totals are
    set aside.

    Parameters
    ----------
    rows : RowTexts
    faults : mapping of int to problems
        Readings that are missing or not numbers, by row.
    found : ProblemList
        Takes up what a person should know.

    Examples
    --------
    >>> cells = [["red", "1.2"], ["", "1.3"], ["Mean", "1.25"], ["blue", "1.4"]]
    >>> texts = RowTexts(cells, [True] * 4, [row[0] for row in cells], None, ())
    >>> done = group_rows(texts, {}, ProblemList(2))
    >>> done.names, done.group_of.tolist(), done.trials
    (['red', 'blue'], [0, 0, -1, 1], ['1', '2', '', '1'])
    """
    count = len(rows.cells)
    done = Grouping([], np.full(count, -1, dtype=np.intp), [""] * count, [RowUse.USED] * count, {})
    owners = _owners(rows, faults, done, found)
    spellings: dict[int, set[str]] = {}
    index_of: dict[str, int] = {}
    known: dict[str, int] = {}
    for index, owner in enumerate(owners):
        if owner is None:
            continue
        group = known.get(owner)
        if group is None:
            group = index_of.setdefault(owner.casefold(), len(done.names))
            if group == len(done.names):
                done.names.append(owner)
            else:
                spellings.setdefault(group, {done.names[group]}).add(owner)
            known[owner] = group
        done.group_of[index] = group
    for group, variants in spellings.items():
        found.add(
            None,
            "",
            "A group is written in several ways.",
            given=found.name(", ".join(sorted(variants))),
            done=f"Read as one group{_named(found, done.names[group])}.",
        )
    done.names = _distinct(done.names)
    _name_trials(rows, done, found)
    return done


def _named(found: ProblemList, name: str) -> str:
    return f", {found.name(name)}" if found.name(name) else ""


def _distinct(names: Sequence[str]) -> list[str]:
    """Return printable names, all different."""
    taken: set[str] = set()
    repeats: Counter[str] = Counter()
    found = []
    for name in names:
        plain = stem = usable_name(name)
        while plain in taken:
            repeats[stem] += 1
            plain = f"{stem[: _MAX_NAME - 12]} ({repeats[stem] + 1})"
        taken.add(plain)
        found.append(plain)
    return found


def _owners(
    rows: RowTexts,
    faults: Mapping[int, Sequence[Problem]],
    done: Grouping,
    found: ProblemList,
) -> list[str | None]:
    """Return the group of each row in use as its cell has it; None for other rows."""
    owners: list[str | None] = [None] * len(rows.cells)
    current, gap = "", False
    taken_over: list[int] = []
    for index, filled in enumerate(rows.filled):
        group = rows.groups[index] if rows.groups is not None else ""
        if not filled:
            gap = _without_readings(index, rows, done, found)
            current = group or current
            continue
        if _set_aside(index, rows, group, faults, done, found):
            continue
        if rows.groups is None:
            current = "all" if rows.trials is not None else f"row {index + found.first_row}"
        elif group:
            current = group
        elif not current:
            done.set_aside(index, "no group")
            found.add(index, "", "The row has no group, and none stands above it.")
            continue
        else:
            taken_over.append(index)
            if gap:
                found.add(
                    index,
                    "",
                    "The group cell is empty after a blank row: is it still the same group?",
                    done=f"The row was counted to the group above{_named(found, current)}.",
                )
        gap = False
        if index in faults:
            found.items += faults[index]
            done.set_aside(index, faults[index][0].text)
            continue
        owners[index] = current
    if taken_over:
        shown = ", ".join(str(index + found.first_row) for index in taken_over[:20])
        more = f" and {len(taken_over) - 20} more" if len(taken_over) > 20 else ""
        found.add(
            None,
            "",
            "Group cells are empty.",
            given=f"rows {shown}{more}",
            done="Each of these rows was counted to the group named above it.",
        )
    return owners


def _without_readings(index: int, rows: RowTexts, done: Grouping, found: ProblemList) -> bool:
    """Record a row without readings; say whether it is blank."""
    cells = [cell.strip() for cell in rows.cells[index] if cell.strip()]
    if not cells:
        done.uses[index] = RowUse.BLANK
        return True
    done.set_aside(index, "no reading")
    found.add(index, "", "The row holds no reading.", given=found.name(" | ".join(cells)))
    return False


def _set_aside(
    index: int,
    rows: RowTexts,
    group: str,
    faults: Collection[int],
    done: Grouping,
    found: ProblemList,
) -> bool:
    """Set aside a row of readings that is none: a repeated header, a mean, a row out of line."""
    if index in faults and rows.header:
        cells = tuple(cell.strip() for cell in rows.cells[index])
        if cells[: len(rows.header)] == rows.header:
            done.uses[index] = RowUse.HEADER
            return True
    label = group or (rows.trials[index] if rows.trials is not None else "")
    if label.casefold().strip(" .:") in _SUMMARY:
        done.set_aside(index, "mean, total or the like")
        found.add(
            index,
            "",
            "The row looks like a mean, a total or the like.",
            given=label,
            done="The row was set aside; if this is a group, give it another name.",
        )
        return True
    width = len(rows.header)
    extra = rows.cells[index][width:] if width else ()
    if extra and any(cell.strip()[:1].isdigit() for cell in extra):
        done.set_aside(index, "more cells than the header")
        found.add(
            index,
            "",
            "The row has more cells than the header.",
            given=found.name(" | ".join(rows.cells[index])),
            allowed=f"{width} cells",
            done="The row was set aside. Are its decimal commas also the marks between cells? "
            "Then save the sheet with semicolons or tabs.",
        )
        return True
    return False


def _name_trials(rows: RowTexts, done: Grouping, found: ProblemList) -> None:
    """Name the trials as their cells do, or else number them; names in a group all differ."""
    taken: list[set[str]] = [set() for _ in done.names]
    for index, group in enumerate(done.group_of.tolist()):
        if group < 0:
            continue
        names = taken[group]
        if len(names) >= MAX_TRIALS:
            done.set_aside(index, "too many trials")
            found.add(
                index,
                "",
                "The group has too many trials.",
                given=found.name(done.names[group]),
                allowed=f"up to {MAX_TRIALS}",
            )
            continue
        typed = rows.trials[index] if rows.trials is not None and not found.hide_names else ""
        name = usable_name(typed) if typed else str(len(names) + 1)
        if name in names:
            new = f"{name[:60]} (row {index + found.first_row})"
            while new in names:
                new += "*"
            if typed:
                found.add(
                    index,
                    "",
                    "The group has a trial of this name already.",
                    given=found.name(typed),
                    done=f"The row was used as trial “{new}”. Is it a copy?",
                )
            name = new
        names.add(name)
        done.trials[index] = name
