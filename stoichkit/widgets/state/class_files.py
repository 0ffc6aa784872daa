"""What of a class is written to files: never over another unasked, never over the class file.

With codes each file is searched for names before it is written, by what was read with codes.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from ...classroom.choices import save_choices
from ...classroom.data import ClassData
from ...classroom.export import export_answer_key, export_code_key, export_results, export_rows
from ...classroom.result import ClassResult
from ...errors import DataFileError, ModelError
from ...reports.classroom import class_report, group_report
from ...reports.following import ClassFollowing
from ..kit.saving import free_target
from ..kit.work import Report, silent
from .classroom import ClassState


@dataclass(frozen=True, slots=True)
class Kind:
    """One thing that can be saved."""

    words: str
    endings: tuple[str, ...]
    name: str


_TABLE = (".xlsx", ".csv", ".html")
_PAGE = (".html", ".md", ".txt", ".tex")
KINDS: Mapping[str, Kind] = {
    "results": Kind("results of each group", _TABLE, "class-results.xlsx"),
    "key": Kind("answer key of each group", _TABLE, "answer-key.xlsx"),
    "report": Kind("report on the class", _PAGE, "class-report.html"),
    "group": Kind("report on the group chosen", _PAGE, "group-report.html"),
    "rows": Kind("what became of each row of the file", (".xlsx", ".csv"), "rows.xlsx"),
    "choices": Kind("choices made about the file", (".toml",), "class.choices.toml"),
    "codes": Kind("key from codes to names", (".csv", ".xlsx"), "key-to-codes.csv"),
}
MARKS: Mapping[str, Mapping[str, Any]] = {
    "decimal point, comma between cells": {"delimiter": ",", "decimal": "."},
    "decimal comma, semicolon between cells": {"delimiter": ";", "decimal": ","},
}
"""Marks of CSV files, in words."""
_INVENTED = "The readings are invented, for practice."


def saveable(state: ClassState) -> tuple[ClassResult, ClassData | None]:
    """Return what was worked out, and the data with the key to the codes if there are any."""
    if state.found is None or state.found.result is None:
        raise ModelError(
            "There is nothing to save yet.", fix="Open a file and wait until it is worked out."
        )
    return state.found.result, state.found.key


def class_target(state: ClassState, kind: str, path: str, *, replace: bool = False) -> Path:
    """Return the full name of a file that may be written."""
    target = free_target(path, (), replace=replace, endings=KINDS[kind].endings)
    if state.path is not None and os.path.realpath(target) == os.path.realpath(state.path):
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
    replace: bool = False,
    report: Report = silent,
    following: ClassFollowing | None = None,
) -> Path:
    """Write one of the things that can be saved of a class, whole or not at all.

    The report on the class has what more trials would add, if given, and the verdicts side by side
    where something was decided.

    >>> import tempfile
    >>> state = ClassState("copper-silver")
    >>> state.open_invented()
    >>> state.take(state.work_out())
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     write_class(state, "results", f"{folder}/a.csv").name
    'a.csv'
    """
    if kind == "choices":
        target = class_target(state, kind, path, replace=replace)
        chosen = state.class_choices()
        if state.codes:
            if state.found is None:
                raise ModelError(
                    "With codes the choices are saved once the class was read.",
                    fix="Wait until it is worked out.",
                )
            chosen = state.found.data.choices_kept(chosen)
        return save_choices(chosen, target, replace=replace, private=state.codes)
    result, coded = saveable(state)
    target = class_target(state, kind, path, replace=replace)
    written = MARKS[marks or next(iter(MARKS))]
    note = _INVENTED if state.invented else ""
    review = state.found.review if state.found is not None and state.decisions else None

    def progress(done: int, total: int) -> None:
        report(f"Writing the report: group {done} of {total} …")

    if kind == "codes":
        return export_code_key(_coded(coded), target, replace=replace)
    if kind == "results":
        return export_results(result.evidence, target, replace=replace, **written)
    if kind == "key":
        return export_answer_key(result.data, target, replace=replace, **written)
    if kind == "rows":
        return export_rows(result.data, target, replace=replace)
    if kind == "report":
        document = class_report(
            result, note=note, progress=progress, following=following, review=review
        )
    else:
        document = group_report(result, state.group, note=note)
    return document.save(target, replace=replace)


def class_content(
    state: ClassState,
    kind: str,
    ending: str,
    *,
    marks: str = "",
    report: Report = silent,
    following: ClassFollowing | None = None,
) -> tuple[str, bytes]:
    """Return name and content of one of the things that can be saved, to be handed over.

    >>> state = ClassState("copper-silver")
    >>> state.open_invented()
    >>> state.take(state.work_out())
    >>> name, content = class_content(state, "results", ".csv")
    >>> name, content[:20].decode("utf-8-sig")
    ('class-results.csv', 'group,trials,verd')
    """
    name = Path(KINDS[kind].name).with_suffix(ending).name
    with TemporaryDirectory() as folder:
        place = f"{folder}/{name}"
        written = write_class(state, kind, place, marks=marks, report=report, following=following)
        return name, written.read_bytes()


def _coded(key: ClassData | None) -> ClassData:
    if key is None:
        raise ModelError(
            "There is no key to write: the groups go by their names.",
            fix="Tick that codes stand for the names.",
        )
    return key
