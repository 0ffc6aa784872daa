"""What of a class is written to files: never over another unasked, never over the class file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..class_group_report import write_group_report
from ..class_report import write_class_report
from ..classdata import ClassData
from ..classexport import export_answer_key, export_code_key, export_results, export_rows
from ..errors import DataFileError, ModelError
from .class_state import ClassState, Found
from .saving import free_target
from .work import Report, silent

__all__ = ["KINDS", "MARKS", "Kind", "class_target", "saveable", "write_class"]


@dataclass(frozen=True, slots=True)
class Kind:
    """One thing that can be saved.

    Attributes
    ----------
    words : str
    endings : tuple of str
        That the name of the file may have.
    name : str
        Name proposed for the file.
    """

    words: str
    endings: tuple[str, ...]
    name: str


_TABLE = (".xlsx", ".csv", ".html")
_PAGE = (".html", ".md")
KINDS: Mapping[str, Kind] = {
    "results": Kind("results of each group", _TABLE, "class-results.xlsx"),
    "key": Kind("answer key of each group", _TABLE, "answer-key.xlsx"),
    "report": Kind("report on the class", _PAGE, "class-report.html"),
    "group": Kind("report on the group chosen", _PAGE, "group-report.html"),
    "rows": Kind("what became of each row of the file", (".xlsx", ".csv"), "rows.xlsx"),
    "codes": Kind("key from codes to names", (".csv", ".xlsx"), "key-to-codes.csv"),
}
MARKS: Mapping[str, Mapping[str, Any]] = {
    "decimal point, comma between cells": {"delimiter": ",", "decimal": "."},
    "decimal comma, semicolon between cells": {"delimiter": ";", "decimal": ","},
}
"""Marks of CSV files, in words."""
_INVENTED = "The readings are invented, for practice."


def saveable(state: ClassState) -> Found:
    """Return what was worked out.

    Raises
    ------
    ModelError
        If there is nothing yet.
    """
    if state.found is None:
        raise ModelError(
            "There is nothing to save yet.", fix="Open a file and wait until it is worked out."
        )
    return state.found


def class_target(state: ClassState, kind: str, path: str, *, replace_file: bool = False) -> Path:
    """Return the full name of a file that may be written.

    Parameters
    ----------
    state : ClassState
    kind : str
        One of :data:`KINDS`.
    path : str
        As typed.
    replace_file : bool
        Whether a file of that name may be replaced; the class file never is.

    Raises
    ------
    DataFileError
        If the name has another ending, or is that of the class file.
    ExperimentError
        If it names no file, or the file exists.
    """
    endings = KINDS[kind].endings
    if not path.strip().casefold().endswith(endings):
        raise DataFileError(
            "This cannot be the name of such a file.",
            given=path.strip() or None,
            allowed=f"a name that ends in {', '.join(endings[:-1])} or {endings[-1]}",
        )
    target = free_target(path, (), replace_file=replace_file)
    if state.path is not None and target == state.path.resolve():
        raise DataFileError(
            "This is the file of the class, which is never written.",
            given=str(target),
            fix="Choose another name.",
        )
    return target


def write_class(
    state: ClassState,
    kind: str,
    path: str,
    *,
    marks: str = "",
    replace_file: bool = False,
    report: Report = silent,
) -> Path:
    """Write one of the things that can be saved of a class, whole or not at all.

    Parameters
    ----------
    state : ClassState
    kind : str
        One of :data:`KINDS`.
    path : str
        As typed; its ending decides the form.
    marks : str
        One of :data:`MARKS`, for CSV files; the first if left out.
    replace_file : bool
        Whether a file of that name may be replaced; the class file never is.
    report : callable
        Called with what is being done; may raise to stop.

    Returns
    -------
    pathlib.Path
        Full name of the file written.

    Raises
    ------
    StoichkitError
        If there is nothing to write yet, or the file may or can not be written.

    Examples
    --------
    >>> import tempfile
    >>> state = ClassState("copper-silver")
    >>> state.open_invented()
    >>> state.take(state.work_out())
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     write_class(state, "results", f"{folder}/a.csv").name
    'a.csv'
    """
    found = saveable(state)
    target = class_target(state, kind, path, replace_file=replace_file)
    result, written = found.result, MARKS[marks or next(iter(MARKS))]
    note = _INVENTED if state.invented else ""

    def progress(done: int, total: int) -> None:
        report(f"Writing the report: group {done} of {total} …")

    if kind == "results":
        return export_results(result.evidence, target, **written)
    if kind == "key":
        return export_answer_key(result.data, target, **written)
    if kind == "rows":
        return export_rows(result.data, target)
    if kind == "codes":
        return export_code_key(_coded(found.key), target)
    if kind == "report":
        return write_class_report(
            result, target, replace_file=replace_file, note=note, progress=progress
        )
    return write_group_report(result, state.group, target, replace_file=replace_file, note=note)


def _coded(key: ClassData | None) -> ClassData:
    if key is None:
        raise ModelError(
            "There is no key to write: the groups go by their names.",
            fix="Tick that codes stand for the names.",
        )
    return key
