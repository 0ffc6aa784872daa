"""Answers that came back: from a sheet (CSV, XLSX) or from pages to hand in (HTML), as text.

A page is filled in without scripts: its fields are elements whose text can be edited, each with
the item and the trial it is for in attributes, so that a browser saves what was typed ("Save page
as", the complete page or a single file). Only the text of those fields is read; nothing in a page
or in a cell acts.
"""

from __future__ import annotations

import codecs
import email
import email.policy
import os
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from ..decision.typed import FACTORS
from ..errors import DataFileError
from ..text.html import typed_fields
from ..text.parts import ANSWER_GROUP
from ..uncertainty import entry
from .columns import clean_text
from .items import Item
from .tables import (
    MAX_BYTES,
    FileSource,
    Problem,
    TextTable,
    column_letter,
    file_content,
    read_table,
)

PAGES = (".html", ".htm", ".mhtml", ".mht")
"""Endings of pages to hand in."""
_MOST_PAGE_BYTES = 2_000_000
_MOST_PAGES = 2000
_MOST_TEXT = 2000
_MOST_HEADER = 300
_LOOKED_AT = 40
_GROUP = ("group", "code", "name", "bench", "team", "pair", "group or code")
_TRIAL = ("trial", "run", "repeat")
_UNIT = re.compile(r"(.*\S)\s*(?:/\s*(\S+)|\[\s*([^\[\]]+?)\s*\]|\(\s*in\s+([^()]+?)\s*\))")


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer as it was typed.

    Attributes
    ----------
    group, trial : str
        As typed; "" for a trial that is not named.
    item : str
        Key of the item.
    text : str
    place : str
        Where it stands, such as ``"row 5, column C"``.
    unit : str
        Unit of its column where that is another than the item's; "" else.
    zeros_lost : bool
        Whether the cell holds a number without a format, so that zeros at its end are lost.
    """

    group: str
    trial: str
    item: str
    text: str
    place: str
    unit: str = ""
    zeros_lost: bool = False


@dataclass(frozen=True, slots=True)
class HandedIn:
    """All answers of a class, and what a person should look at."""

    answers: tuple[Answer, ...]
    problems: tuple[Problem, ...]


def load_answers(
    source: FileSource | Sequence[FileSource],
    items: Sequence[Item],
    *,
    sheet: str | None = None,
    max_bytes: int = MAX_BYTES,
) -> HandedIn:
    """Read answers from a sheet, from pages to hand in, or from a folder of such pages.

    Parameters
    ----------
    source : path, bytes, or a sequence of them
        A CSV or XLSX file with one row a group (or trial), pages to hand in as HTML (or as the
        single file that a browser saves), or a folder that holds pages.
    items : sequence of Item
        What is asked; see :func:`stoichkit.classroom.items.items_of`.
    sheet : str, optional
        Sheet of an XLSX file.
    max_bytes : int
        Largest file that is read, bytes.

    Raises
    ------
    DataFileError
        If a file cannot be read, or holds no answers.

    Examples
    --------
    >>> items = [Item("m(Cu)", "mass of Cu", "g", True), Item("conclusion", "", "", False)]
    >>> text = "group,trial,m(Cu): mass of Cu / g,conclusion\\nred,1,0.12,copper(II)\\n,2,0.10,\\n"
    >>> for answer in load_answers(text.encode(), items).answers:
    ...     print(answer.group, answer.trial, answer.item, answer.text)
    red 1 m(Cu) 0.12
    red 1 conclusion copper(II)
    red 2 m(Cu) 0.10
    """
    if isinstance(source, str | os.PathLike | bytes | bytearray | memoryview):
        several: list[FileSource] = [source]
    else:
        several = list(entry.listed("answers", source, error=DataFileError))
    answers: list[Answer] = []
    problems: list[Problem] = []
    for one in _unfolded(several):
        name, content = file_content(one, max_bytes)
        if _is_page(content):
            found = _page(content, name, items)
        else:
            found = _sheet(read_table(content, sheet=sheet, max_bytes=max_bytes), items)
        answers += found.answers
        problems += found.problems
    if not answers:
        said = str(problems[0]) if problems else "No answer stands in it."
        raise DataFileError("No answers were found.", fix=said)
    return HandedIn(tuple(answers), tuple(problems))


def _unfolded(sources: Sequence[FileSource]) -> Iterator[FileSource]:
    """Yield files, in the place of a folder the pages in it."""
    for one in sources:
        if isinstance(one, str | os.PathLike) and os.path.isdir(one):
            pages = sorted(p for p in Path(os.fspath(one)).iterdir() if p.suffix.lower() in PAGES)
            if not pages or len(pages) > _MOST_PAGES:
                raise DataFileError(
                    "The folder holds no pages to hand in."
                    if not pages
                    else "The folder holds too many pages.",
                    given=str(one),
                    allowed=f"1 to {_MOST_PAGES} files that end in {', '.join(PAGES)}",
                )
            yield from pages
        else:
            yield one


# A sheet


def _sheet(table: TextTable, items: Sequence[Item]) -> HandedIn:
    """Read the answers of a sheet: one row a group and trial, one column an item."""
    head, columns = _header(table, items)
    owners = {what: at for at, (what, _) in columns.items() if what in ("group", "trial")}
    if "group" not in owners:
        raise DataFileError("No column names the groups.", allowed="a column headed “group”")
    lossy = {p.column for p in table.problems if p.row is None and p.column}
    asked = {item.key for item in items}
    problems = [
        Problem(None, "", "There is no column for this item.", item.key, "", "It counts as empty.")
        for item in items
        if item.key not in {what for what, _ in columns.values()}
    ]
    heads = table.rows[head]
    for at, text in enumerate(heads):
        if at not in columns and text.strip():
            where = f"{column_letter(at)} ({clean_text(text)[:40]})"
            problems.append(Problem(None, where, "The column is not asked for.", done="Not used."))
    answers: list[Answer] = []
    group = ""
    for number, cells in enumerate(table.rows[head + 1 :], head + 2):
        texts = {at: cells[at].strip() if at < len(cells) else "" for at in columns}
        group = clean_text(texts[owners["group"]]) or group
        trial = clean_text(texts[owners["trial"]]) if "trial" in owners else ""
        typed = [(at, clean_text(t)) for at, t in texts.items() if t and columns[at][0] in asked]
        if typed and not group:
            problems.append(Problem(number, "", "The row has no group.", done="It was not used."))
            continue
        for at, text in typed:
            letter = column_letter(at)
            what, unit = columns[at]
            place = f"row {number}, column {letter}"
            kept = Answer(group, trial, what, text[:_MOST_TEXT], place, unit, letter in lossy)
            answers.append(kept)
    return HandedIn(tuple(answers), tuple(problems))


def _header(table: TextTable, items: Sequence[Item]) -> tuple[int, dict[int, tuple[str, str]]]:
    """Return the place of the header, and what each of its columns holds, with another unit."""
    best: tuple[int, dict[int, tuple[str, str]]] = (0, {})
    for at, row in enumerate(table.rows[:_LOOKED_AT]):
        found: dict[int, tuple[str, str]] = {}
        for index, cell in enumerate(row):
            what = _what(clean_text(cell)[:_MOST_HEADER], items)
            if what is not None and what[0] not in {one for one, _ in found.values()}:
                found[index] = what
        if len(found) > len(best[1]):
            best = (at, found)
    if not [what for what, _ in best[1].values() if what not in ("group", "trial")]:
        raise DataFileError(
            "No column of the file is an item that was asked.",
            allowed="; ".join(item.header for item in items)[:400],
            fix="Fill in the answer sheet, whose header has all of them.",
        )
    return best


def _what(header: str, items: Sequence[Item]) -> tuple[str, str] | None:
    """Return what a header stands for, and its unit where that is another."""
    if header.casefold() in _GROUP:
        return "group", ""
    if header.casefold() in _TRIAL:
        return "trial", ""
    match = _UNIT.fullmatch(header)
    stem, unit = (match[1], match[2] or match[3] or match[4]) if match else (header, "")
    for item in items:
        names = {_alike(text) for text in (item.key, item.words, f"{item.key}: {item.words}")}
        if _alike(header) == _alike(item.header) or _alike(header) in names:
            return item.key, ""
        if _alike(stem) in names and unit in FACTORS.get(item.unit, {}):
            return item.key, "" if unit == item.unit else unit
    return None


def _alike(text: str) -> str:
    return re.sub(r"[\s_]+", " ", text.casefold()).strip(" .:")


# A page


def _is_page(content: bytes) -> bool:
    head = content[:2000]
    begins = _decoded(head).lstrip().lower()
    return begins.startswith(("<!doctype", "<html", "<!--")) or _is_single_file(head)


def _is_single_file(head: bytes) -> bool:
    """Whether a browser saved the page as one file of several parts."""
    head = head.lower()
    return b"multipart/related" in head and b"mime-version:" in head


def _page(content: bytes, name: str, items: Sequence[Item]) -> HandedIn:
    """Read the fields of a page."""
    shown = name or "page"
    if len(content) > _MOST_PAGE_BYTES:
        raise DataFileError(
            "The page is too large.", given=shown, allowed=f"up to {_MOST_PAGE_BYTES / 1e6:g} MB"
        )
    typed = [Answer("", trial, item, text, shown) for item, trial, text in _typed(content)]
    if not typed:
        said = (
            "The page has no fields for answers: its values were worked out by the program. Make "
            "it with blank fields."
        )
        return HandedIn((), (Problem(None, shown, said, done="It was not used."),))
    known = {item.key for item in items}
    fields = [one for one in typed if one.item in known and one.text]
    groups = [one.text for one in typed if one.item == ANSWER_GROUP and one.text]
    if not groups:
        said = "The page does not name its group."
        return HandedIn((), (Problem(None, shown, said, done="It was not used."),))
    answers = (replace(one, group=groups[0]) for one in fields)
    problems = [
        Problem(None, shown, "This is not asked for.", one.item[:60], done="It was not used.")
        for one in typed
        if one.text and one.item not in known and one.item != ANSWER_GROUP
    ]
    return HandedIn(tuple(answers), tuple(problems[:20]))


def _typed(content: bytes) -> list[tuple[str, str, str]]:
    return [
        (item, " ".join(trial.split()), text[:_MOST_TEXT])
        for item, trial, text in typed_fields(_markup(content))
    ]


def _markup(content: bytes) -> str:
    """Return the text of a page, out of the single file of several parts if it is one."""
    if _is_single_file(content[:2000]):
        message = email.message_from_bytes(content, policy=email.policy.default)
        for part in message.walk():
            if part.get_content_type() == "text/html":
                payload = part.get_payload(decode=True)
                content = payload if isinstance(payload, bytes) else b""
                break
    return _decoded(content)


def _decoded(content: bytes) -> str:
    wide = content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    return content.decode("utf-16" if wide else "utf-8-sig", errors="replace")
