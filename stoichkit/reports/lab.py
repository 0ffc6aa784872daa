"""The report on one lab, from the verdict to the details."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..decision.evidence import Evidence
from ..errors import ModelError
from ..text.document import Document
from ..uncertainty import entry
from .sections import (
    about_section,
    amounts_section,
    assumptions_section,
    budget_section,
    candidates_section,
    causes_section,
    cautions_section,
    next_section,
    ratio_section,
    slips_section,
    stability_section,
    trust_section,
    verdict_section,
    words_section,
    yield_section,
)
from .worked import worked_section

if TYPE_CHECKING:
    from ..planning.following import NextTrials


def lab_report(
    evidence: Evidence,
    *,
    title: str | None = None,
    note: str = "",
    pictures: bool = True,
    picture_file: str = "",
    causes: bool = True,
    worked: bool = True,
    following: NextTrials | None = None,
) -> Document:
    """Return the report on a lab, which begins with the verdict and ends with the cautions.

    Parameters
    ----------
    evidence : Evidence
    title : str, optional
        That of the experiment if left out.
    note : str
        A paragraph below the title, such as a date.
    pictures : bool
        Whether there are pictures of the amounts plane, the ratio set and the budget; they are
        drawn in HTML and described in the other forms.
    picture_file : str
        Path or address, relative to the report, of a file with the first picture, to which
        Markdown refers.
    causes : bool
        Whether to say what could explain the discrepancy, if no candidate fits or the yield is
        off, and what standard potentials say.
    worked : bool
        Whether to include the worked solution of every trial (the first 12).
    following : NextTrials, optional
        What further trials would come to, from :func:`stoichkit.planning.next_trials` of the same
        evidence, which takes a second; a section says it.

    Returns
    -------
    Document
        Save it as ``.txt``, ``.md``, ``.html`` (one page to print), ``.tex`` or ``.json``.

    Examples
    --------
    >>> from stoichkit import assess, experiments
    >>> report = lab_report(assess(experiments.load("copper-silver")))
    >>> text = report.text()
    >>> print(text[: text.index("No reading points")].rstrip())
    Copper wire in silver nitrate
    =============================
    <BLANKLINE>
    The readings are invented, for practice.
    <BLANKLINE>
    Verdict
    -------
    <BLANKLINE>
    These readings single out copper(II). Copper(I) is excluded (p < 0.0001).
    >>> page = report.html()
    >>> page[:15], page.count("<h1>"), page.count('role="img"')
    ('<!DOCTYPE html>', 1, 2)
    """
    experiment = entry.record("evidence", evidence, Evidence).experiment
    entry.texts(title="" if title is None else title, note=note, picture_file=picture_file)
    entry.flags(pictures=pictures, causes=causes, worked=worked)
    if following is not None:
        _check_same(evidence, following)
    invented = ["The readings are invented, for practice."] if experiment.invented else []
    sections = (
        verdict_section(evidence),
        None if following is None else next_section(following),
        candidates_section(evidence),
        ratio_section(evidence, pictures=pictures, file=picture_file),
        trust_section(evidence),
        slips_section(evidence),
        yield_section(evidence),
        amounts_section(evidence),
        budget_section(evidence, pictures=pictures),
        causes_section(evidence) if causes else None,
        stability_section(evidence) if causes else None,
        worked_section(evidence) if worked else None,
        about_section(evidence),
        assumptions_section(evidence),
        cautions_section(experiment),
    )
    *told, cautions = (section for section in sections if section is not None)
    words = words_section(told)
    return Document(
        title or experiment.title,
        (*([note] if note.strip() else []), *invented),
        (*told, *([words] if words else []), cautions),
    )


def _check_same(evidence: Evidence, following: NextTrials) -> None:
    if _evidence_of(following) is not evidence:
        raise ModelError(
            "What further trials would come to is about other readings.",
            given=following.evidence.experiment.title,
            fix="Give next_trials the evidence of this report.",
        )


def _evidence_of(following: NextTrials) -> Evidence:
    from ..planning.following import NextTrials

    return entry.record("following", following, NextTrials).evidence


def next_report(following: NextTrials) -> Document:
    """Return the verdict and what further trials would come to, on a page of its own.

    >>> from stoichkit import assess, experiments
    >>> from stoichkit.planning import next_trials
    >>> found = next_trials(assess(experiments.load("copper-silver-coarse")), most=2)
    >>> [section.title for section in next_report(found).sections]
    ['Verdict', 'What next', 'Cautions']
    """
    evidence = _evidence_of(following)
    experiment = evidence.experiment
    invented = ("The readings are invented, for practice.",) if experiment.invented else ()
    sections = (
        verdict_section(evidence), next_section(following), cautions_section(experiment, short=True)
    )  # fmt: skip
    return Document(f"What next: {experiment.title}", invented, sections)
