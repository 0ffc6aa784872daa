r"""The worked solution as a whole document: plain text, Markdown, HTML page or LaTeX document."""

from __future__ import annotations

import os
from pathlib import Path

from .atomic_file import write_whole
from .errors import DataFileError
from .evidence import Evidence
from .page import html_page
from .report_parts import worked_sections
from .worked import worked_solution

__all__ = ["style_of", "worked_document", "write_worked_solution"]

_ENDINGS = {".txt": "text", ".md": "markdown", ".html": "html", ".tex": "latex"}
_PREAMBLE = r"""\documentclass[11pt]{article}
\usepackage[T1]{fontenc}
\usepackage{textcomp}
\usepackage{amsmath}
\usepackage[margin=20mm]{geometry}
\setlength{\parindent}{0pt}
\setlength{\parskip}{4pt}
\raggedright
\begin{document}
"""


def style_of(path: str | os.PathLike[str]) -> str:
    """Return the style that the ending of a name stands for.

    Raises
    ------
    DataFileError
        If it stands for none.

    Examples
    --------
    >>> style_of("lab.tex")
    'latex'
    """
    target = Path(path)
    style = _ENDINGS.get(target.suffix.lower())
    if style is None:
        raise DataFileError(
            "A worked solution cannot be written in this form.",
            given=target.name,
            allowed="a name that ends in .html, .md, .txt or .tex",
        )
    return style


def worked_document(
    evidence: Evidence, style: str, *, trial: str | None = None, yield_of: str | None = None
) -> str:
    """Write the worked solution as a document of its own.

    Parameters
    ----------
    evidence : Evidence
    style : str
        ``"text"``, ``"markdown"``, ``"html"`` (a self-contained page) or ``"latex"`` (a document
        that needs only packages of every LaTeX installation).
    trial, yield_of : str, optional
        As for :func:`stoichkit.worked.worked_solution`.

    Returns
    -------
    str
        Ends with a line break.

    Raises
    ------
    ModelError
        If there is no such style, trial or candidate.

    Examples
    --------
    >>> from stoichkit import assess, experiments
    >>> evidence = assess(experiments.load("copper-silver"))
    >>> worked_document(evidence, "html", trial="bench 1")[:15]
    '<!DOCTYPE html>'
    """
    if style == "html":
        opening, sections = worked_sections(evidence, trial=trial, yield_of=yield_of)
        return html_page(f"Worked solution: {evidence.experiment.title}", opening, sections)
    text = worked_solution(evidence, trial=trial, style=style, yield_of=yield_of)
    if style == "latex":
        return f"{_PREAMBLE}\n{text}\n\\end{{document}}\n"
    return text


def write_worked_solution(
    evidence: Evidence,
    path: str | os.PathLike[str],
    *,
    trial: str | None = None,
    yield_of: str | None = None,
    replace_file: bool = False,
) -> Path:
    """Write the worked solution to a file, whole or not at all.

    Parameters
    ----------
    evidence : Evidence
    path : str or path-like
        Ends in ``.html``, ``.md``, ``.txt`` or ``.tex``, which decides the style.
    trial, yield_of : str, optional
        As for :func:`stoichkit.worked.worked_solution`.
    replace_file : bool
        Whether a file that is there may be replaced.

    Returns
    -------
    pathlib.Path
        The file written.

    Raises
    ------
    DataFileError
        If the name ends in something else, a file of that name exists, or it cannot be written.
    ModelError
        If there is no such trial or candidate.

    Examples
    --------
    >>> import tempfile
    >>> from stoichkit import assess, experiments
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     write_worked_solution(assess(experiments.load("tin-oxide")), f"{folder}/a.tex").name
    'a.tex'
    """
    target, style = Path(path), style_of(path)
    if target.exists() and not replace_file:
        raise DataFileError(
            "A file of this name exists already; it was not changed.",
            given=str(target),
            fix="Choose another name, or allow the file to be replaced (replace_file=True).",
        )
    text = worked_document(evidence, style, trial=trial, yield_of=yield_of)
    return write_whole(target, text.encode("utf-8"))
