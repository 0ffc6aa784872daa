"""The report on a class: one self-contained HTML page to print, or Markdown."""

from __future__ import annotations

import os
from pathlib import Path

from .atomic_file import write_whole
from .class_report_parts import class_sections
from .class_result import ClassResult
from .classevidence import Progress
from .errors import DataFileError
from .layout import escaped_markdown, markdown_document, text_document
from .page import html_page, to_layout

__all__ = [
    "checked_report_path",
    "class_report_html",
    "class_report_markdown",
    "class_report_text",
    "write_class_report",
]

_HTML = (".html", ".htm")


def class_report_html(
    result: ClassResult,
    *,
    title: str | None = None,
    note: str = "",
    pictures: bool = True,
    progress: Progress | None = None,
) -> str:
    """Write the report on a class as one HTML page that loads nothing and prints well.

    Parameters
    ----------
    result : ClassResult
        For a report without names make it with ``codes=True``.
    title : str, optional
        That of the experiment if left out.
    note : str
        A paragraph below the title, such as a date or that the readings are invented.
    pictures : bool
    progress : callable, optional
        Called with the number of groups done and of all; return True to stop.

    Returns
    -------
    str
        Ends with a line break.

    Raises
    ------
    ModelError
        If it was stopped.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> from stoichkit.class_result import assess_class_file
    >>> page = class_report_html(assess_class_file(experiments.class_file(), "copper-silver"))
    >>> page[:15], page.count("<h1>"), page.count('role="img"')
    ('<!DOCTYPE html>', 1, 2)
    """
    sections = list(class_sections(result, pictures=pictures, progress=progress))
    return html_page(_title(result, title), _opening(result, note), sections)


def class_report_markdown(
    result: ClassResult,
    *,
    title: str | None = None,
    note: str = "",
    pictures: bool = True,
    progress: Progress | None = None,
) -> str:
    """Write the report on a class as Markdown, pictures in words; see :func:`class_report_html`.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> from stoichkit.class_result import assess_class_file
    >>> found = assess_class_file(experiments.class_file(), "copper-silver")
    >>> class_report_markdown(found, title="Tuesday *class*").splitlines()[0]
    '# Tuesday &#42;class&#42;'
    """
    sections = to_layout(class_sections(result, pictures=pictures, progress=progress))
    opening = [escaped_markdown(text) for text in _opening(result, note)]
    return markdown_document(_title(result, title), opening, sections)


def class_report_text(
    result: ClassResult, *, note: str = "", progress: Progress | None = None
) -> str:
    """Write the report on a class as plain text, at most 88 columns wide, without pictures.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> from stoichkit.class_result import assess_class_file
    >>> found = assess_class_file(experiments.class_file(), "copper-silver")
    >>> class_report_text(found).splitlines()[6]
    'Together the 9 groups single out copper(II). Copper(I) is excluded (p < 0.0001).'
    """
    sections = to_layout(class_sections(result, pictures=False, progress=progress))
    return text_document(_title(result, None), _opening(result, note), sections)


def write_class_report(
    result: ClassResult,
    path: str | os.PathLike[str],
    *,
    replace_file: bool = False,
    title: str | None = None,
    note: str = "",
    pictures: bool = True,
    progress: Progress | None = None,
) -> Path:
    """Write the report on a class to a file, whole or not at all.

    Parameters
    ----------
    result : ClassResult
    path : str or path-like
        Ends in ``.html`` or ``.md``, which decides the form.
    replace_file : bool
        Whether a file that is there may be replaced.
    title, note, pictures, progress
        As for :func:`class_report_html`.

    Returns
    -------
    pathlib.Path
        The file written.

    Raises
    ------
    DataFileError
        If the name ends in something else, a file of that name exists, or it cannot be written.
    ModelError
        If it was stopped.

    Examples
    --------
    >>> import tempfile
    >>> from stoichkit import experiments
    >>> from stoichkit.class_result import assess_class_file
    >>> found = assess_class_file(experiments.class_file(), "copper-silver")
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     write_class_report(found, f"{folder}/class.md").name
    'class.md'
    """
    target = checked_report_path(path, replace_file=replace_file)
    write = class_report_html if target.suffix.lower() in _HTML else class_report_markdown
    text = write(result, title=title, note=note, pictures=pictures, progress=progress)
    return write_whole(target, text.encode("utf-8"))


def checked_report_path(path: str | os.PathLike[str], *, replace_file: bool = False) -> Path:
    """Return the path of a report if a report can be written there.

    Raises
    ------
    DataFileError
        If the name does not end in .html or .md, or a file of that name exists.

    Examples
    --------
    >>> checked_report_path("class.pdf")
    Traceback (most recent call last):
    stoichkit.errors.DataFileError: A report cannot be written in this form. Given: class.pdf.
    Allowed: a name that ends in .html or .md. For paper or PDF, write .html and print it from a
    browser.
    """
    target = Path(path)
    if target.suffix.lower() not in (*_HTML, ".md"):
        raise DataFileError(
            "A report cannot be written in this form.",
            given=target.name,
            allowed="a name that ends in .html or .md",
            fix="For paper or PDF, write .html and print it from a browser.",
        )
    if target.exists() and not replace_file:
        raise DataFileError(
            "A file of this name exists already; it was not changed.",
            given=str(target),
            fix="Choose another name, or allow the file to be replaced (replace_file=True).",
        )
    return target


def _title(result: ClassResult, title: str | None) -> str:
    return title or f"{result.experiment.title}: report on a class"


def _opening(result: ClassResult, note: str) -> list[str]:
    said = [note] if note.strip() else []
    if result.coded:
        said.append("Groups go by codes; no names are in this report.")
    return said
