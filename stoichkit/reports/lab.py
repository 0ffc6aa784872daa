"""Report on one lab.

The report: the evidence as plain text or Markdown, the verdict first.

The report on one lab: one self-contained HTML page to print, or Markdown.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

from .._common import check_place, write_whole
from ..decision.evidence import Evidence
from ..decision.sentences import (
    assumption_sentences,
    caveat_sentence,
    ratio_sentence,
    recovery_sentence,
    verdict_sentences,
)
from ..text.document import (
    Bullets,
    Section,
    Table,
    escaped_markdown,
    markdown_document,
    markdown_picture,
    text_document,
)
from ..text.html import PageSection, html_page, to_layout
from .sections import (
    about_section,
    amount_parts,
    amounts_section,
    assumptions_section,
    budget_section,
    budget_table,
    candidate_parts,
    candidates_section,
    causes_section,
    caution_parts,
    cautions_section,
    pictures_section,
    slips_section,
    stability_section,
    verdict_section,
    yield_parts,
    yield_section,
)
from .worked import worked_section

__all__ = [
    "lab_report_html",
    "lab_report_markdown",
    "report_markdown",
    "report_text",
    "write_lab_report",
]


def report_text(evidence: Evidence) -> str:
    """Write the report as plain text, at most 90 columns wide.

    Parameters
    ----------
    evidence : Evidence

    Returns
    -------
    str
        Ends with a line break.

    Examples
    --------
    >>> from stoichkit import assess, experiments
    >>> text = report_text(assess(experiments.load("copper-silver")))
    >>> print(text[: text.index("Candidates")])
    Copper wire in silver nitrate
    =============================
    <BLANKLINE>
    The readings are invented, for practice.
    <BLANKLINE>
    These readings single out copper(II). Copper(I) is excluded (p < 0.0001).
    <BLANKLINE>
    """
    return text_document(evidence.experiment.title, _opening(evidence), _sections(evidence))


def report_markdown(
    evidence: Evidence, *, picture: str | None = None, alt_text: str | None = None
) -> str:
    """Write the report as Markdown in which user text cannot act as markup.

    Parameters
    ----------
    evidence : Evidence
    picture : str, optional
        Path or address of a picture to show below the verdict, relative to the report.
    alt_text : str, optional
        What the picture shows, for readers who do not see it; the verdict if left out.

    Returns
    -------
    str
        Ends with a line break.

    Examples
    --------
    >>> from stoichkit import assess, experiments
    >>> text = report_markdown(assess(experiments.load("copper-silver")), picture="lab.png")
    >>> print(text[: text.index("## ")])
    # Copper wire in silver nitrate
    <BLANKLINE>
    The readings are invented, for practice.
    <BLANKLINE>
    **These readings single out copper(II). Copper(I) is excluded (p &lt; 0.0001).**
    <BLANKLINE>
    ![These readings single out copper(II). Copper(I) is excluded (p &lt; 0.0001).](<lab.png>)
    """
    *notes, verdict = _opening(evidence)
    opening = [escaped_markdown(text) for text in notes]
    opening.append(f"**{escaped_markdown(verdict)}**")
    if picture is not None:
        opening.append(markdown_picture(picture, alt_text or verdict))
    return markdown_document(evidence.experiment.title, opening, _sections(evidence))


def _opening(evidence: Evidence) -> list[str]:
    """Return what comes first; the last paragraph is the verdict."""
    invented = ["The readings are invented, for practice."] if evidence.experiment.invented else []
    return [*invented, verdict_sentences(evidence)]


def _sections(evidence: Evidence) -> Iterator[Section]:
    yield Section("Candidates", tuple(candidate_parts(evidence)))
    yield Section("Mole ratio", (ratio_sentence(evidence),))
    yield Section("Yield", tuple(yield_parts(evidence)))
    excluded = [c.name for c in evidence.candidates.values() if not c.compatible]
    if excluded:
        lines = tuple(recovery_sentence(evidence, name) for name in excluded)
        yield Section("What would make the excluded candidates fit", (Bullets(lines),))
    yield Section("Amounts", tuple(amount_parts(evidence)))
    yield Section("Where the uncertainty comes from", tuple(_budget(evidence)))
    said = tuple(caveat_sentence(caveat, evidence) for caveat in evidence.warnings)
    yield Section("Warnings", (Bullets(said) if said else "There are no warnings.",))
    yield Section("What the verdict assumes", (Bullets(tuple(assumption_sentences(evidence))),))
    experiment = evidence.experiment
    if experiment.about.strip() or experiment.notes:
        parts: list[str | Bullets] = [experiment.about] if experiment.about.strip() else []
        parts += [Bullets(experiment.notes)] if experiment.notes else []
        yield Section("About the experiment", tuple(parts))
    yield Section("Cautions", tuple(caution_parts(evidence)))


def _budget(evidence: Evidence) -> Iterator[str | Table]:
    if not evidence.budget:
        yield "No source of error is stated, so nothing allows for a discrepancy."
        return
    yield (
        f"Budget of the discrepancy from {evidence.nearest.name}, the nearest candidate; errors "
        "of one kind are merged over the trials."
    )
    yield budget_table(evidence)
    if evidence.scatter is not None and evidence.scatter.excess:
        yield (
            "These are the instruments alone; the scatter between trials, which they do not "
            "explain, comes on top."
        )


_ENDINGS = {".html": "html", ".htm": "html", ".md": "markdown"}


def lab_report_html(
    evidence: Evidence,
    *,
    title: str | None = None,
    pictures: bool = True,
    causes: bool = True,
    worked: bool = True,
) -> str:
    """Write the report as one HTML page that loads nothing and prints on A4 and Letter paper.

    It begins with the verdict and the conclusion, and ends with the cautions.

    Parameters
    ----------
    evidence : Evidence
    title : str, optional
        Title of the page; that of the experiment if left out.
    pictures : bool
        Whether to draw the amounts plane, the ratio set and the budget.
    causes : bool
        Whether to say what could explain the discrepancy, if no candidate fits or the yield is
        off, and what standard potentials say.
    worked : bool
        Whether to include the worked solution of every trial (the first 12); without it there
        is a table of the amounts.

    Returns
    -------
    str
        Ends with a line break.

    Examples
    --------
    >>> from stoichkit import assess, experiments
    >>> page = lab_report_html(assess(experiments.load("copper-silver")))
    >>> page[:15], page.count("<h1>"), page.count('role="img"')
    ('<!DOCTYPE html>', 1, 2)
    """
    sections = list(_page_sections(evidence, pictures, causes, worked))
    return html_page(title or evidence.experiment.title, _page_opening(evidence), sections)


def lab_report_markdown(
    evidence: Evidence,
    *,
    title: str | None = None,
    pictures: bool = True,
    causes: bool = True,
    worked: bool = True,
) -> str:
    """Write the report as Markdown in which user text cannot act as markup.

    Parameters
    ----------
    evidence : Evidence
    title : str, optional
        Title; that of the experiment if left out.
    pictures : bool
        Whether to describe the pictures of the page in words.
    causes, worked : bool
        As for :func:`lab_report_html`.

    Returns
    -------
    str
        Ends with a line break.

    Examples
    --------
    >>> from stoichkit import assess, experiments
    >>> text = lab_report_markdown(assess(experiments.load("copper-silver")))
    >>> [line for line in text.splitlines() if line.startswith("#")][:3]
    ['# Copper wire in silver nitrate', '## Verdict', '## Candidates']
    """
    sections = to_layout(_page_sections(evidence, pictures, causes, worked))
    opening = [escaped_markdown(text) for text in _page_opening(evidence)]
    return markdown_document(title or evidence.experiment.title, opening, sections)


def write_lab_report(
    evidence: Evidence,
    path: str | os.PathLike[str],
    *,
    replace: bool = False,
    title: str | None = None,
    pictures: bool = True,
    causes: bool = True,
    worked: bool = True,
) -> Path:
    """Write the report to a file, whole or not at all.

    Parameters
    ----------
    evidence : Evidence
    path : str or path-like
        Ends in ``.html`` or ``.md``, which decides the form.
    replace : bool
        Whether a file that is there may be replaced.
    title, pictures, causes, worked
        As for :func:`lab_report_html`.

    Returns
    -------
    pathlib.Path
        The file written.

    Raises
    ------
    DataFileError
        If the name ends in something else, a file of that name exists, or it cannot be written.

    Examples
    --------
    >>> import tempfile
    >>> from stoichkit import assess, experiments
    >>> evidence = assess(experiments.load("copper-silver"))
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     write_lab_report(evidence, f"{folder}/report.html").name
    'report.html'
    >>> write_lab_report(evidence, "report.pdf")
    Traceback (most recent call last):
    stoichkit.errors.DataFileError: The ending of the file name says no format. Given: report.pdf.
    Allowed: a name that ends in .html, .htm or .md. For paper or PDF, write .html and print it
    from a browser.
    """
    target = check_place(path, replace=replace, endings=tuple(_ENDINGS))
    form = _ENDINGS[target.suffix.lower()]
    write = lab_report_html if form == "html" else lab_report_markdown
    text = write(evidence, title=title, pictures=pictures, causes=causes, worked=worked)
    return write_whole(target, text.encode("utf-8"), replace=replace)


def _page_opening(evidence: Evidence) -> list[str]:
    return ["The readings are invented, for practice."] if evidence.experiment.invented else []


def _page_sections(
    evidence: Evidence, pictures: bool, causes: bool, worked: bool
) -> Iterator[PageSection]:
    """Yield the sections in the order in which a tired reader needs them."""
    yield verdict_section(evidence)
    yield candidates_section(evidence)
    if pictures:
        yield pictures_section(evidence)
    yield slips_section(evidence)
    yield yield_section(evidence)
    yield budget_section(evidence, pictures=pictures)
    if causes:
        for section in (causes_section(evidence), stability_section(evidence)):
            if section is not None:
                yield section
    yield worked_section(evidence) if worked else amounts_section(evidence)
    about = about_section(evidence)
    if about is not None:
        yield about
    yield assumptions_section(evidence)
    yield cautions_section(evidence)
