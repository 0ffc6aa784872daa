"""The report on one group of a class: verdict, slips, worked solution and answer key."""

from __future__ import annotations

import math
import os
from collections.abc import Iterator
from pathlib import Path

from .answerkey import ACCEPTED, AnswerLine, answer_lines
from .atomic_file import write_whole
from .class_report import checked_report_path
from .class_report_parts import slip_lines
from .class_result import ClassResult
from .class_sentences import class_ratio_sentence, class_verdict_sentences, outlying_sentence
from .evidence import Evidence
from .layout import Bullets, escaped_markdown, markdown_document, text_document
from .page import CaptionedTable, PagePart, PageSection, html_page, to_layout
from .report_parts import (
    assumptions_section,
    budget_section,
    candidates_section,
    causes_section,
    cautions_section,
    pictures_section,
    verdict_section,
    worked_section,
    yield_section,
)
from .wording import shown_range

__all__ = [
    "group_report_html",
    "group_report_markdown",
    "group_report_text",
    "write_group_report",
]


def group_report_html(
    result: ClassResult,
    group: str,
    *,
    title: str | None = None,
    note: str = "",
    pictures: bool = True,
    answers: bool = True,
) -> str:
    """Write the report on one group as one HTML page that loads nothing and names no other group.

    Parameters
    ----------
    result : ClassResult
    group : str
    title : str, optional
        The experiment and the group if left out.
    note : str
        A paragraph below the title.
    pictures : bool
    answers : bool
        Whether to include the worked solution and the answer key.

    Returns
    -------
    str
        Ends with a line break.

    Raises
    ------
    ModelError
        If there is no such group, or it could not be assessed.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> from stoichkit.class_result import assess_class_file
    >>> found = assess_class_file(experiments.class_file(), "copper-silver")
    >>> page = group_report_html(found, "plum")
    >>> "two digits may be transposed" in page, "teal" in page
    (True, False)
    """
    evidence = result.group(group)
    sections = list(_sections(result, group, evidence, pictures, answers))
    return html_page(_title(result, group, title), _opening(note), sections)


def group_report_markdown(
    result: ClassResult,
    group: str,
    *,
    title: str | None = None,
    note: str = "",
    pictures: bool = True,
    answers: bool = True,
) -> str:
    """Write the report on one group as Markdown; see :func:`group_report_html`.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> from stoichkit.class_result import assess_class_file
    >>> found = assess_class_file(experiments.class_file(), "copper-silver")
    >>> group_report_markdown(found, "teal").splitlines()[0]
    '# Copper wire in silver nitrate: group teal'
    """
    evidence = result.group(group)
    sections = to_layout(_sections(result, group, evidence, pictures, answers))
    opening = [escaped_markdown(text) for text in _opening(note)]
    return markdown_document(_title(result, group, title), opening, sections)


def group_report_text(result: ClassResult, group: str, *, note: str = "") -> str:
    """Write the report on one group as plain text, at most 88 columns wide.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> from stoichkit.class_result import assess_class_file
    >>> found = assess_class_file(experiments.class_file(), "copper-silver")
    >>> group_report_text(found, "teal").splitlines()[0]
    'Copper wire in silver nitrate: group teal'
    """
    sections = to_layout(_sections(result, group, result.group(group), False, True))
    return text_document(_title(result, group, None), _opening(note), sections)


def write_group_report(
    result: ClassResult,
    group: str,
    path: str | os.PathLike[str],
    *,
    replace_file: bool = False,
    title: str | None = None,
    note: str = "",
    pictures: bool = True,
    answers: bool = True,
) -> Path:
    """Write the report on one group to a file, whole or not at all.

    Parameters
    ----------
    result : ClassResult
    group : str
    path : str or path-like
        Ends in ``.html`` or ``.md``.
    replace_file : bool
        Whether a file that is there may be replaced.
    title, note, pictures, answers
        As for :func:`group_report_html`.

    Returns
    -------
    pathlib.Path
        The file written.

    Raises
    ------
    DataFileError
        If the name ends in something else, a file of that name exists, or it cannot be written.
    ModelError
        If there is no such group.

    Examples
    --------
    >>> import tempfile
    >>> from stoichkit import experiments
    >>> from stoichkit.class_result import assess_class_file
    >>> found = assess_class_file(experiments.class_file(), "copper-silver")
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     write_group_report(found, "teal", f"{folder}/teal.html").name
    'teal.html'
    """
    target = checked_report_path(path, replace_file=replace_file)
    write = group_report_markdown if target.suffix.lower() == ".md" else group_report_html
    text = write(result, group, title=title, note=note, pictures=pictures, answers=answers)
    return write_whole(target, text.encode("utf-8"))


def _title(result: ClassResult, group: str, title: str | None) -> str:
    return title or f"{result.experiment.title}: group {group}"


def _opening(note: str) -> list[str]:
    return [note] if note.strip() else []


def _sections(
    result: ClassResult, group: str, evidence: Evidence, pictures: bool, answers: bool
) -> Iterator[PageSection]:
    yield verdict_section(evidence)
    yield PageSection("Slips in the readings", tuple(_slips(result, group)))
    if pictures:
        yield pictures_section(evidence)
    yield candidates_section(evidence)
    yield yield_section(evidence)
    causes = causes_section(evidence)
    if causes is not None:
        yield causes
    yield budget_section(evidence, pictures=pictures)
    yield PageSection("Beside the class", tuple(_beside(result, group)))
    if answers:
        yield worked_section(evidence)
        yield PageSection("Answer key", tuple(_key(evidence)))
    yield assumptions_section(evidence)
    yield cautions_section(evidence)


def _slips(result: ClassResult, group: str) -> Iterator[PagePart]:
    said = slip_lines(result, group)
    if said:
        yield Bullets(said)
    else:
        yield (
            "No slip was found: beside the other trials of the class, the readings of each trial "
            "can be right as they were typed."
        )


def _beside(result: ClassResult, group: str) -> Iterator[PagePart]:
    yield class_verdict_sentences(result)
    verdict = result.verdict
    if verdict is None:
        return
    yield class_ratio_sentence(verdict, result.experiment)
    if group in verdict.outlying:
        yield outlying_sentence(result, group)
    else:
        yield "This group does not stand out from the others."


def _key(evidence: Evidence) -> Iterator[PagePart]:
    lines = answer_lines(evidence.experiment)
    header = ("Trial", "Quantity", "Calculation", "Answer", "Accepted", "Unit")
    rows = tuple(_answer(line) for line in lines)
    yield CaptionedTable(
        "What this group should have calculated from its own readings", header, rows
    )
    yield Bullets(ACCEPTED)


def _answer(line: AnswerLine) -> tuple[str, ...]:
    if line.note or math.isnan(line.value):
        return (line.trial, line.words or "–", line.note or "–", "–", "–", line.unit or "–")
    answer = line.answer or f"{line.value:.6g}"
    low, high = shown_range(line.low, line.high, [line.value])
    accepted = f"{low} to {high}"
    return (
        line.trial,
        f"{line.words} {line.symbol}",
        line.formula or "given",
        answer,
        accepted,
        line.unit or "–",
    )
