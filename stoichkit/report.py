"""The report: the evidence as plain text or Markdown, the verdict first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from .budget_groups import grouped_budget
from .equation import parse_equation
from .errors import StoichkitError
from .evidence import CandidateEvidence, Evidence
from .layout import (
    Bullets,
    Section,
    Table,
    escaped_markdown,
    markdown_document,
    markdown_picture,
    text_document,
)
from .sentences import (
    assumption_sentences,
    caveat_sentence,
    ratio_sentence,
    recovery_sentence,
    verdict_sentences,
    yield_sentence,
)
from .verdict import evidence_grade
from .wording import (
    amount_unit,
    joined,
    number_text,
    p_text,
    plus_minus,
    species_text,
    symbol,
    two_digits,
)

__all__ = [
    "amount_parts",
    "budget_table",
    "candidate_parts",
    "candidate_table",
    "caution_parts",
    "report_markdown",
    "report_text",
    "yield_parts",
]

_MOST_TRIALS = 40
_MOST_EQUATIONS = 12
_MOST_YIELDS = 6
_SAFETY = "These notes do not replace the safety data sheet: check it and your local rules first."


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


def candidate_table(evidence: Evidence) -> Table:
    """Return the table of candidates, in the order given.

    >>> from stoichkit import assess, experiments
    >>> for row in candidate_table(assess(experiments.load("copper-silver"))).rows:
    ...     print(row)
    ('copper(I)', '1', '1.892 ± 0.075', '< 0.0001', 'excluded', '< 0.0001', 'very strong')
    ('copper(II)', '2', '0.12 ± 0.13', '0.44', 'fits', '1', 'likeliest')
    """
    experiment = evidence.experiment
    produced, consumed = symbol(experiment.produced.species), symbol(experiment.consumed.species)
    factor, unit = amount_unit(evidence)
    header = (
        "Candidate",
        f"{produced}/{consumed}",
        f"Discrepancy, {unit}",
        "p",
        "Verdict",
        "Relative likelihood",
        "Evidence against it",
    )
    tested = evidence.candidates.values()
    comparable = len(tested) > 1 and any(c.relative_likelihood == 1 for c in tested)
    rows = []
    for c in tested:
        likelihood, words = _likelihood(c, comparable)
        rows.append(
            (
                c.name,
                _ratio_text(c.candidate.ratio),
                plus_minus(factor * c.discrepancy_mol, factor * c.standard_uncertainty_mol),
                p_text(c.p_value, evidence.coverage),
                "fits" if c.compatible else "excluded",
                likelihood,
                words,
            )
        )
    return Table(header, tuple(rows))


def _ratio_text(ratio: Fraction) -> str:
    return str(ratio) if ratio.denominator <= 12 else f"{float(ratio):.6g}"


def _likelihood(tested: CandidateEvidence, comparable: bool) -> tuple[str, str]:
    """Return the relative likelihood and the printed words for it."""
    relative = tested.relative_likelihood
    if not comparable:
        return "–", "–"
    if relative == 1:
        return "1", "likeliest"
    if relative < 1e-4:
        return "< 0.0001", evidence_grade(1e4)
    return f"{relative:.2g}", evidence_grade(1 / relative)


def candidate_parts(
    evidence: Evidence, *, most_equations: int = _MOST_EQUATIONS
) -> Iterator[str | Table | Bullets]:
    """Return the table of candidates, what its columns mean, and the equations."""
    table = candidate_table(evidence)
    yield table
    produced, consumed = table.header[1].split("/")
    text = (
        f"Discrepancy: the mean of {produced} − ratio × {consumed} with its standard uncertainty; "
        "zero on average for the true candidate. p: the chance of a discrepancy at least as "
        f"large if the candidate is true; below {1 - evidence.coverage:.4g} it is excluded."
    )
    if any(row[6] == "likeliest" for row in table.rows):
        text += (
            " Relative likelihood: against the likeliest candidate, with a flat prior on the "
            "amount reacted; in words on the scale of Kass and Raftery (1995). It compares the "
            "candidates with each other only and does not replace the verdict."
        )
    yield text
    equations = [
        f"{c.name}: {_equation(c.candidate.equation)}"
        for c in evidence.candidates.values()
        if c.candidate.equation
    ]
    if 0 < len(equations) <= most_equations:
        yield Bullets(tuple(equations))


def _equation(text: str) -> str:
    try:
        found = parse_equation(text)
    except StoichkitError:
        return text
    sides = (" + ".join(term.unicode() for term in side) for side in (found.left, found.right))
    return " → ".join(sides)


def yield_parts(evidence: Evidence) -> Iterator[str]:
    """Say what the percent yield is for each candidate that fits, or for the nearest."""
    experiment = evidence.experiment
    produced = species_text(experiment.produced.species)
    consumed = species_text(experiment.consumed.species)
    yield (
        f"Percent yield: {produced} measured, against what the {consumed} used up gives if the "
        "candidate is true."
    )
    names = evidence.verdict.candidates or (evidence.nearest.name,)
    for name in names[:_MOST_YIELDS]:
        yield yield_sentence(evidence, name)
    if len(names) > _MOST_YIELDS:
        yield f"Left out here: {joined(list(names[_MOST_YIELDS:]))}."


def amount_parts(evidence: Evidence) -> Iterator[str | Table]:
    """Return the amounts of each trial, at most 40, with their means."""
    experiment = evidence.experiment
    factor, unit = amount_unit(evidence)
    produced, consumed = symbol(experiment.produced.species), symbol(experiment.consumed.species)
    rows: list[tuple[str, ...]] = [
        (trial.name, number_text(factor * a), number_text(factor * b))
        for trial, (a, b) in zip(experiment.trials, evidence.amounts, strict=True)
    ]
    left_out = len(rows) - _MOST_TRIALS
    if left_out > 0:
        rows = rows[:_MOST_TRIALS]
    if len(evidence.amounts) > 1:
        mean = evidence.n_consumed, evidence.n_produced
        rows.append(("mean", *(number_text(factor * amount) for amount in mean)))
    header = ("Trial", f"{consumed} consumed, {unit}", f"{produced} produced, {unit}")
    yield Table(header, tuple(rows))
    text = "Each with its standard uncertainty from the instruments."
    if left_out > 0:
        text += f" {left_out} more trials are in the mean but not in this table."
    yield text


def budget_table(evidence: Evidence) -> Table:
    """Return the budget of the discrepancy from the nearest candidate, merged over the trials.

    >>> from stoichkit import assess, experiments
    >>> budget_table(assess(experiments.load("copper-silver"))).rows[0]
    ('repeatability of wire after (4 trials)', '0.079', '34.5 %')
    """
    factor, unit = amount_unit(evidence)
    rows = tuple(
        (
            line.words,
            two_digits(factor * line.uncertainty_mmol / 1000.0),
            f"{100 * line.share:.1f} %" if line.share >= 5e-4 else "< 0.1 %",
        )
        for line in grouped_budget(evidence)
    )
    return Table(("Source", f"Standard uncertainty, {unit}", "Share of the variance"), rows)


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


def caution_parts(evidence: Evidence) -> Iterator[str | Bullets]:
    """Return the cautions recorded for the experiment, and what they do not replace."""
    cautions = evidence.experiment.cautions
    if cautions:
        yield Bullets(
            tuple(
                f"{c.subject}: {_run_on(c.statements)}{' '.join(c.advice)} ({c.source})"
                for c in cautions
            )
        )
    else:
        yield "No cautions are recorded for this experiment."
    yield _SAFETY


def _run_on(statements: Sequence[str]) -> str:
    return f"{'; '.join(statements)}. " if statements else ""
