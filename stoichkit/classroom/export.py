"""What is handed out of a class: results and answers of each group, rows, the key to codes."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Literal

from ..decision.answers import ACCEPTED, AnswerLine, answer_lines
from ..decision.verdict import Reason
from ..errors import ModelError
from ..experiments.record import Experiment
from ..text.sheets import Cell, Sheet, write_sheets
from ..text.wording import names_text
from ..uncertainty import entry
from .data import ClassData
from .evidence import REASON_WORDS, ClassEvidence
from .items import items_of
from .judging import MarkKind
from .marking import ClassMarks, GroupMarks
from .tables import Problem, place_in_words

_KIND_WORDS = {
    "singled_out": "singled out",
    "not_told_apart": "not told apart",
    "none_fits": "none fits",
    "cannot_be_judged": "cannot be judged",
}


def export_results(
    evidence: ClassEvidence,
    path: str | os.PathLike[str],
    *,
    replace: bool = False,
    delimiter: Literal[",", ";", "\t"] = ",",
    decimal: Literal[".", ","] = ".",
) -> Path:
    """Write the results of each group to a CSV, XLSX or HTML file.

    One row a group: trials, verdict (with the reason where it cannot be judged, or where nothing
    shows that anything reacted), compatible candidates, amounts, mole ratio, and p-value and
    percent yield for each candidate; groups that could not be assessed come last, with the
    reason as their verdict.

    Parameters
    ----------
    evidence : ClassEvidence
    path : path
        Ends in .csv, .xlsx or .html.
    replace : bool
        Whether a file of that name may be replaced.
    delimiter, decimal : str
        Marks of a CSV file.

    Raises
    ------
    DataFileError
        If there is a file of that name, or it cannot be written.

    Examples
    --------
    >>> import tempfile
    >>> from stoichkit import assess_class
    >>> text = "group,wire before,wire after,paper,paper + silver\\n@red,2.94,2.82,0.75,1.15\\n"
    >>> found = assess_class(text.encode(), "copper-silver")
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = export_results(found.evidence, f"{folder}/results.csv")
    ...     file.read_text("utf-8-sig").splitlines()[1][:39]
    "'@red,1,singled out,copper(II),0.001888"
    """
    entry.record("evidence", evidence, ClassEvidence)
    header = (
        "group",
        "trials",
        "verdict",
        "candidates that fit",
        "amount consumed / mol",
        "amount produced / mol",
        "mole ratio",
        *(f"p-value, {name}" for name in evidence.candidates),
        *(f"yield, {name} / %" for name in evidence.candidates),
    )
    rows: list[tuple[Cell, ...]] = [
        (group, trials, _verdict_words(kind, reason), ", ".join(fitting), a, b, ratio, *p, *percent)
        for group, trials, kind, reason, fitting, a, b, ratio, p, percent in zip(
            evidence.names,
            evidence.trials.tolist(),
            evidence.kinds,
            evidence.reasons,
            evidence.fitting,
            evidence.n_consumed_mol.tolist(),
            evidence.n_produced_mol.tolist(),
            evidence.ratio.tolist(),
            evidence.p_value.tolist(),
            evidence.percent_yield.tolist(),
            strict=True,
        )
    ]
    empty = [float("nan")] * (len(header) - 4)
    for name, why in evidence.not_assessed.items():
        rows.append((name, "", f"not assessed: {why}", "", *empty))
    title = f"Results by group ({100 * evidence.coverage:g} % coverage)"
    sheets = [Sheet(title, header, rows)]
    return write_sheets(
        path, sheets, replace=replace, delimiter=delimiter, decimal=decimal,
        check=evidence.names_kept.check,
    )  # fmt: skip


def _verdict_words(kind: str, reason: Reason | None) -> str:
    return _KIND_WORDS[kind] if reason is None else f"{_KIND_WORDS[kind]}: {REASON_WORDS[reason]}"


def export_rows(
    classdata: ClassData, path: str | os.PathLike[str], *, replace: bool = False
) -> Path:
    """Write what became of each row of the file, and the problems found, to an XLSX or CSV file.

    A CSV file holds the rows, with the problems of each in its last column. A file of that name
    is replaced only with ``replace=True``.

    Raises
    ------
    DataFileError
        If there is a file of that name, or it cannot be written.

    Examples
    --------
    >>> import tempfile
    >>> from stoichkit import experiments, load_class
    >>> text = "group,wire before,wire after,paper,paper + silver\\nred,2.94,2.82,0.75,1.15\\n"
    >>> data = load_class(text.encode(), experiments.load("copper-silver"))
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     print(export_rows(data, f"{folder}/rows.csv").read_text("utf-8-sig"))
    row,use,group,trial,reason,problems
    1,header,,,,
    2,used,red,1,,
    <BLANKLINE>
    """
    entry.record("classdata", classdata, ClassData)
    by_row: dict[tuple[str, int, str], list[str]] = {}
    for problem in classdata.problems:
        if problem.row is not None or problem.part:
            place = (problem.sheet, problem.row or 0, problem.part)
            by_row.setdefault(place, []).append(str(problem))
    rows = [
        (
            r.row if not (r.sheet or r.part) else r.place,
            str(r.use),
            r.group,
            r.trial,
            r.reason,
            " ".join(by_row.get((r.sheet, r.row, r.part), ())),
        )
        for r in classdata.rows
    ]
    problems = [
        (_where(p), p.column, p.text, p.given, p.allowed, p.done) for p in classdata.problems
    ]
    questions = [
        (q.key, q.where, q.text, q.changes, " or ".join(q.answers), q.answer, q.default)
        for q in classdata.questions
    ]
    return write_sheets(
        path,
        [
            Sheet("Rows", ("row", "use", "group", "trial", "reason", "problems"), rows),
            Sheet("Problems", ("row", "column", "problem", "given", "allowed", "done"), problems),
            *([Sheet("Questions", _ASKED, questions)] if questions else ()),
        ],
        replace=replace,
        check=classdata.names_kept.check,
    )


_ASKED = ("key", "rows", "question", "changes", "answers", "answer", "default")


def _where(problem: Problem) -> Cell:
    if problem.sheet or problem.part:
        return place_in_words(problem.sheet, problem.row, problem.part)
    return "" if problem.row is None else problem.row


def export_code_key(
    classdata: ClassData, path: str | os.PathLike[str], *, replace: bool = False
) -> Path:
    """Write which code stands for which group, to be kept apart from the results.

    Only the owner of the file may read it. A file of that name is replaced only with
    ``replace=True``.

    Raises
    ------
    ModelError
        If the groups were loaded under their names.
    DataFileError
        If there is a file of that name, or it cannot be written.

    Examples
    --------
    >>> import tempfile
    >>> from stoichkit import experiments, load_class
    >>> text = "group,wire before,wire after,paper,paper + silver\\nred,2.94,2.82,0.75,1.15\\n"
    >>> data = load_class(text.encode(), experiments.load("copper-silver"), codes=True)
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     export_code_key(data, f"{folder}/key.csv").read_text("utf-8-sig")
    'code,group\\nG01,red\\n'
    """
    if not entry.record("classdata", classdata, ClassData).key:
        raise ModelError(
            "There is no key to write: the groups have no codes.",
            fix="Load the file with codes=True.",
        )
    sheet = Sheet("Key to codes", ("code", "group"), [*classdata.key.items()])
    return write_sheets(path, [sheet], replace=replace, private=True)


def export_answer_key(
    classdata: ClassData,
    path: str | os.PathLike[str],
    *,
    replace: bool = False,
    groups: Iterable[str] | None = None,
    delimiter: Literal[",", ";", "\t"] = ",",
    decimal: Literal[".", ","] = ".",
) -> Path:
    """Write what each group should have calculated from its own readings, with accepted ranges.

    Parameters
    ----------
    classdata : ClassData
    path, replace, delimiter, decimal
        As for :func:`export_results`.
    groups : iterable of str, optional
        All if left out.

    Raises
    ------
    ModelError
        If there is no such group.
    DataFileError
        If there is a file of that name, or it cannot be written.

    Examples
    --------
    >>> import tempfile
    >>> from stoichkit import experiments, load_class
    >>> text = "group,wire before,wire after,paper,paper + silver\\nred,2.94,2.82,0.75,1.15\\n"
    >>> data = load_class(text.encode(), experiments.load("copper-silver"))
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = export_answer_key(data, f"{folder}/key.csv")
    ...     print(file.read_text("utf-8-sig").splitlines()[1])
    red,1,m(Cu),mass of Cu,wire before − wire after,0.12,g,0.12,2,0.00816497,0.12,0.12,
    """
    entry.record("classdata", classdata, ClassData)
    chosen = classdata.names if groups is None else entry.listed("groups", groups, str)
    known = set(classdata.names)
    for name in chosen:
        if name not in known:
            raise ModelError(
                "There is no such group.", given=name, allowed=names_text(classdata.names)
            )
    header = (
        "group", "trial", "symbol", "step", "formula", "value", "unit", "answer",
        "significant digits", "standard uncertainty", "accepted from", "accepted to", "note",
    )  # fmt: skip
    rows = [
        (name, *_answer_row(line))
        for name in chosen
        for line in answer_lines(classdata.groups[name])
    ]
    about = Sheet("About", ("how answers are accepted",), [(text,) for text in ACCEPTED])
    sheets = [Sheet("Answer key", header, rows), about]
    return write_sheets(
        path, sheets, replace=replace, delimiter=delimiter, decimal=decimal,
        check=classdata.names_kept.check,
    )  # fmt: skip


def _answer_row(line: AnswerLine) -> tuple[Cell, ...]:
    return (
        line.trial,
        line.symbol,
        line.words,
        line.formula,
        line.value,
        line.unit,
        line.answer,
        line.digits or "",
        line.standard_uncertainty,
        line.low,
        line.high,
        line.note,
    )


def export_answer_sheet(
    source: ClassData | Experiment,
    path: str | os.PathLike[str],
    *,
    replace: bool = False,
    delimiter: Literal[",", ";", "\t"] = ",",
) -> Path:
    """Write a blank sheet for answers: one row a group and trial, one column an item.

    What is asked once of a group has its place in the first row of the group. The cells of a
    workbook hold text, so that what is typed keeps its zeros.

    Parameters
    ----------
    source : ClassData or Experiment
        The class, or an experiment whose trials then stand for one group, its name left blank.
    path : path
        Ends in .csv, .xlsx or .html.
    replace : bool
        Whether a file of that name may be replaced.
    delimiter : str
        Mark between the cells of a CSV file.

    Raises
    ------
    ModelError
        If no trial has readings that can be worked on.
    DataFileError
        If there is a file of that name, or it cannot be written.

    Examples
    --------
    >>> import tempfile
    >>> from stoichkit import experiments, load_class
    >>> text = "group,wire before,wire after,paper,paper + silver\\nred,2.94,2.82,0.75,1.15\\n"
    >>> data = load_class(text.encode(), experiments.load("copper-silver"))
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = export_answer_sheet(data, f"{folder}/answers.csv")
    ...     for line in file.read_text("utf-8-sig").splitlines():
    ...         print(line[:70])
    group,trial,m(Cu): mass of Cu / g,n(Cu): amount of Cu / mol,m(Ag): mas
    red,1,,,,,,,
    """
    entry.record("source", source, ClassData, Experiment)
    items = items_of(source)
    groups = {"": source} if isinstance(source, Experiment) else source.groups
    rows: list[tuple[Cell, ...]] = []
    for name, record in groups.items():
        for place, trial in enumerate(record.trials):
            once = "" if place == 0 else "–"
            rows.append((name, trial.name, *("" if item.by_trial else once for item in items)))
    header = ("group", "trial", *(item.header for item in items))
    sheet = Sheet("Answers", header, rows, typed=True)
    about = Sheet("How to fill it in", ("",), [(text,) for text in _HOW_TO_ANSWER])
    check = source.names_kept.check if isinstance(source, ClassData) else None
    return write_sheets(path, [sheet, about], replace=replace, delimiter=delimiter, check=check)


_HOW_TO_ANSWER = (
    "One row a trial. Type numbers with the figures that the readings bear; guard digits do no "
    "harm.",
    "The unit of a column stands in its header; another one may stand behind a number: 120 mg.",
    "What is asked once of a group stands in its first row.",
    "Conclusion: single out X / cannot tell X from Y / fit none. That a candidate is the nearest "
    "is no conclusion.",
)


def export_grades(
    marks: ClassMarks,
    path: str | os.PathLike[str],
    *,
    replace: bool = False,
    delimiter: Literal[",", ";", "\t"] = ",",
    decimal: Literal[".", ","] = ".",
) -> Path:
    """Write the points of each group by item, the total and remarks to a CSV, XLSX or HTML file.

    A workbook and a page also hold every answer with what it was judged to be. With codes there
    is no name in the file.

    Parameters
    ----------
    marks : ClassMarks
    path, replace, delimiter, decimal
        As for :func:`export_results`.

    Raises
    ------
    DataFileError
        If there is a file of that name, or it cannot be written.

    Examples
    --------
    >>> import tempfile
    >>> from stoichkit import experiments, load_class
    >>> from stoichkit.classroom import mark_class
    >>> text = "group,wire before,wire after,paper,paper + silver\\nred,2.94,2.82,0.75,1.15\\n"
    >>> data = load_class(text.encode(), experiments.load("copper-silver"))
    >>> marks = mark_class(b"group,m(Cu),conclusion\\nred,0.12,copper(II)\\n", data)
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = export_grades(marks, f"{folder}/grades.csv")
    ...     print(file.read_text("utf-8-sig"))
    group,m(Cu),n(Cu),m(Ag),n(Ag),ratio,conclusion,percent yield,total,out of,remarks
    red,1,0,0,0,0,2,0,3,8,n(Cu) empty; m(Ag) empty; n(Ag) empty; ratio empty; percent yield empty
    <BLANKLINE>
    """
    entry.record("marks", marks, ClassMarks)
    header = ("group", *(item.key for item in marks.items), "total", "out of", "remarks")
    rows: list[tuple[Cell, ...]] = []
    each: list[tuple[Cell, ...]] = []
    for name, group in marks.groups.items():
        points: list[Cell] = []
        for item in marks.items:
            found = group.of(item.key)
            asked = any(mark.out_of for mark in found)
            points.append(round(sum(mark.points for mark in found), 4) if asked else "not asked")
        total, out_of = round(group.points, 4), round(group.out_of, 4)
        rows.append((name, *points, total, out_of, "; ".join(_grade_remarks(group))))
        for mark in group.marks:
            one = mark.judgement
            each.append(
                (name, one.trial, one.item, one.typed, one.answer, str(one.kind), mark.points,
                 mark.out_of, one.words)
            )  # fmt: skip
    heads = ("group", "trial", "item", "typed", "answer", "judged", "points", "out of", "remark")
    sheets = [Sheet("Grades", header, rows), Sheet("Every answer", heads, each)]
    return write_sheets(
        path, sheets, replace=replace, delimiter=delimiter, decimal=decimal,
        check=marks.data.names_kept.check,
    )  # fmt: skip


def _grade_remarks(group: GroupMarks) -> Iterator[str]:
    """Yield what to know about a group, then what its answers were where not simply right."""
    yield from group.remarks
    if not group.handed_in:
        return
    for mark in group.marks:
        one = mark.judgement
        if one.kind not in (MarkKind.RIGHT, MarkKind.NOT_ASKED):
            trial = f", trial {one.trial}" if len(group.of(one.item)) > 1 else ""
            yield f"{one.item}{trial} {one.kind}"
