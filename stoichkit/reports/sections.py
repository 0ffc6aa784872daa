"""Sections of the report on one lab, for that of a lab and those of a class and of a group."""

from __future__ import annotations

import math
from collections.abc import Iterable
from fractions import Fraction
from typing import TYPE_CHECKING

from ..bench.cautions import lab_safety
from ..chemistry.spoken import understood
from ..decision.evidence import CandidateEvidence, Evidence
from ..decision.sentences import (
    allowed_words,
    amount_unit,
    assumption_sentences,
    caveat_sentence,
    compound_sentence,
    grouped_budget,
    look_sentence,
    ratio_sentence,
    reading_shares,
    recovery_sentence,
    second_opinion_sentence,
    warning_sentences,
    yield_sentence,
)
from ..decision.statement import standings_of, terms_used, verdict_sentences
from ..decision.trust import (
    chance_sentence,
    chance_table,
    close_sentence,
    fault_table,
    overturning_sentence,
    prior_sentence,
)
from ..decision.verdict import Caveat, CaveatKind, Diagnosis, Reason, VerdictKind
from ..diagnosis.causes import Cause, causes_for
from ..diagnosis.line import slips_of
from ..diagnosis.sentences import (
    causes_paragraph,
    no_slip_sentence,
    redox_sentences,
    slip_sentence,
    spot_test_sentence,
)
from ..diagnosis.stability import redox_findings, suggested_tests
from ..experiments.record import Experiment
from ..plots.budget import BudgetPicture
from ..plots.render import svg
from ..plots.result import ResultPicture
from ..text.parts import Bullets, Part, Picture, Section, Strong, Subheading, Table
from ..text.plain import text_part
from ..text.wording import (
    capitalised,
    joined,
    more_are,
    number_text,
    p_text,
    plus_minus,
    reaction_text,
    shown_range,
    species_text,
    symbol,
    two_digits,
)
from .worked import conclusion_with

if TYPE_CHECKING:
    from ..planning.following import NextTrials

_MOST_WITH_CAUSES = 3
_MOST_EQUATIONS = 12
_MOST_TRIALS = 40
_MOST_YIELDS = 6
_MOST_FORMULAS = 15


def verdict_section(
    evidence: Evidence,
    *,
    title: str = "Verdict",
    diagnosis: Diagnosis | None = None,
    trust: bool = True,
) -> Section:
    """Return the verdict, its line of diagnosis, how far to trust it, conclusion and warnings.

    ``diagnosis`` is that of the evidence if left out.
    """
    diagnosis = diagnosis or evidence.diagnosis
    said = warning_sentences(evidence, diagnosis)
    close = close_sentence(evidence) if trust else ""
    parts: list[Part] = [
        Strong(verdict_sentences(evidence)), f"{close} {diagnosis.sentence}".strip()
    ]  # fmt: skip
    if look := look_sentence(evidence):
        parts.append(look)
    said_of = (overturning_sentence, chance_sentence) if trust else ()
    if far := " ".join(filter(None, (say(evidence) for say in said_of))):
        parts.append(far)
    if second := second_opinion_sentence(evidence):
        parts.append(second)
    parts.append(conclusion_with(evidence, diagnosis))
    if evidence.verdict.kind is VerdictKind.CANNOT_BE_JUDGED:
        parts.append(
            "The numbers below are those of the readings as they stand, for finding the fault; "
            "they are no verdict."
        )
    if said:
        parts += ["Warnings:", Bullets(tuple(said))]
    elif evidence.verdict.kind is not VerdictKind.CANNOT_BE_JUDGED:
        parts.append("There are no warnings.")
    return Section(title, tuple(parts))


def trust_section(evidence: Evidence) -> Section | None:
    """Return which faults would overturn the verdict, and how probable each candidate is.

    None where nothing can be judged.
    """
    chances = chance_table(evidence)
    if chances is None:
        return None
    faults = fault_table(evidence)
    parts: list[Part] = [
        "The readings do not show a fault that acts in every trial alike, nor an instrument that "
        "is worse than stated. So large it would have to be for another candidate to fit, or for "
        "one to be left alone; what is likeliest to be met comes first."
    ]
    parts.append(faults if faults.rows else "No fault of a size met in such labs would do that.")
    parts += [
        chances,
        f"{prior_sentence(evidence)} The readings then speak by their likelihood. These are "
        "chances of being right if instruments and trials are as stated; the verdict does not "
        "hang on them.",
    ]
    return Section("What would overturn it", tuple(parts))


def next_section(found: NextTrials, *, title: str = "What next") -> Section:
    """Return how many more trials, and of what kind, would settle the answer."""
    from ..planning.sentences import next_sentences, next_table  # few reports have it

    return Section(title, (Bullets(tuple(next_sentences(found))), next_table(found)))


def words_section(sections: Iterable[Section]) -> Section | None:
    """Return one sentence of help for each term that sections use; None for no term."""
    text = "".join(text_part(part) for section in sections for part in section.parts)
    said = tuple(str(term) for term in terms_used(text))
    return Section("Words used", (Bullets(said),)) if said else None


def candidates_section(evidence: Evidence) -> Section:
    """Return the table of candidates, what its columns mean, and the equations, at most twelve."""
    table = candidate_table(evidence)
    produced, consumed = table.header[1].split("/")
    text = (
        f"Discrepancy: the mean of {produced} − ratio × {consumed} with its standard uncertainty; "
        "zero on average for the true candidate. p: the chance of a discrepancy at least as "
        f"large if the candidate is true; below {1 - evidence.coverage:.4g} it is excluded."
    )
    if allowed := allowed_words(evidence):
        digits = 6 if evidence.allows_air else 4  # air changes a ratio by some parts in 10,000
        tested = [f"{c.name} at {c.tested_ratio:.{digits}g}" for c in evidence.candidates.values()]
        text += (
            f" Each candidate is tested at its ratio times {allowed}, at the value allowed that "
            f"agrees best: {joined(tested[:_MOST_EQUATIONS])}."
        )
    if any(row[6] == "likeliest" for row in table.rows):
        text += (
            " Relative likelihood: against the likeliest candidate, with a flat prior on the "
            "amount reacted; the last column says it in words, beside the likeliest that fits "
            "(bounds of Kass and Raftery, 1995). It compares the candidates with each other only "
            "and does not replace the verdict."
        )
    equations = tuple(
        f"{c.name}: {reaction_text(c.candidate.equation)}"
        for c in evidence.candidates.values()
        if c.candidate.equation
    )
    listed = [Bullets(equations)] if 0 < len(equations) <= _MOST_EQUATIONS else []
    return Section("Candidates", (table, text, *listed))


def ratio_section(evidence: Evidence, *, pictures: bool = True, file: str = "") -> Section:
    """Return the mole ratios that fit, with a picture; ``file`` holds the same for Markdown."""
    parts: list[Part] = [ratio_sentence(evidence)]
    if pictures:
        result = ResultPicture.of(evidence, budget=False)
        parts.append(Picture(svg(result), result.alt_text, file=file))
    return Section("Mole ratio", tuple(parts))


def slips_section(evidence: Evidence) -> Section:
    """Return the slips that were found, or that none was."""
    experiment = evidence.experiment
    trials = len(experiment.trials)
    found = [slip_sentence(slip, trials=trials) for slip in slips_of(experiment)]
    none = no_slip_sentence(evidence.verdict)
    if evidence.verdict.reason is not Reason.BELOW_ZERO:
        none += " A slip that moves every trial alike cannot be seen."
    return Section("Slips in the readings", (Bullets(tuple(found)) if found else none,))


def yield_section(evidence: Evidence) -> Section:
    """Return the percent yields, and what would make the excluded candidates fit."""
    experiment = evidence.experiment
    produced = species_text(experiment.produced.species)
    consumed = species_text(experiment.consumed.species)
    names = evidence.verdict.candidates or (evidence.nearest.name,)
    judged = evidence.verdict.kind is not VerdictKind.CANNOT_BE_JUDGED
    parts: list[Part] = [
        f"Percent yield: {produced} measured, against what the {consumed} used up gives if the "
        "candidate is true.",
        *(yield_sentence(evidence, name) for name in names[:_MOST_YIELDS]),
    ]
    parts += filter(None, (compound_sentence(evidence, name) for name in names[:_MOST_YIELDS]))
    if len(names) > _MOST_YIELDS:
        parts.append(f"Left out here: {joined(list(names[_MOST_YIELDS:]))}.")
    tested = evidence.candidates
    excluded = [name for name in _nearest_first(evidence) if not tested[name].compatible]
    if excluded and judged:
        lines = tuple(recovery_sentence(evidence, name) for name in excluded)
        parts += ["What would make the excluded candidates fit:", Bullets(lines)]
    return Section("Yield", tuple(parts))


def _nearest_first(evidence: Evidence) -> list[str]:
    """Return the names of the candidates, those that the readings fit best first."""

    def distance(one: CandidateEvidence) -> tuple[float, ...]:
        u = one.standard_uncertainty_mol or math.inf
        return -one.p_value, -one.relative_likelihood, abs(one.discrepancy_mol) / u

    return [one.name for one in sorted(evidence.candidates.values(), key=distance)]


def limiting_sentence(evidence: Evidence, diagnosis: Diagnosis | None = None) -> str:
    """Say which reading makes the conclusion most uncertain, and what to do about it."""
    diagnosis = diagnosis or evidence.diagnosis
    if diagnosis.mistyped:
        return (
            "While a reading looks mistyped, no other one limits the conclusion. The budget shows "
            "where the uncertainty of the discrepancy comes from."
        )
    if evidence.verdict.kind is VerdictKind.CANNOT_BE_JUDGED:
        return (
            "Nothing is concluded, so no reading limits it. The budget shows where the uncertainty "
            "of the discrepancy comes from."
        )
    if not evidence.budget:
        return "No source of error is stated, so nothing allows for a discrepancy."
    first = grouped_budget(evidence)[0]
    caveat = Caveat(CaveatKind.DOMINANT_SOURCE, first.label, first.share)
    advice = caveat_sentence(caveat, evidence).partition(": ")[2]
    whole = f"of the variance of the discrepancy from {evidence.nearest.name}"
    ordered = sorted(reading_shares(evidence).items(), key=lambda item: -item[1])
    if not ordered or ordered[0][1] < first.share:
        found = f"What limits the conclusion most is {first.words}, with {100 * first.share:.0f} %"
        among = f" Among the readings it is {ordered[0][0]}." if ordered else ""
        return f"{found} {whole}: {advice}{among}"
    (name, share), *others = ordered
    beside = ""
    if others and others[0][1] >= 0.9 * share:
        beside = f", closely followed by {others[0][0]}"
    return (
        f"The reading that limits the conclusion most is {name}, with {100 * share:.0f} % {whole}"
        f"{beside}. The largest single kind of error is {first.words}: {advice}"
    )


def budget_section(
    evidence: Evidence, *, pictures: bool = True, diagnosis: Diagnosis | None = None
) -> Section:
    """Return the reading that limits the conclusion, with the budget as a table and a picture."""
    title = "Which reading limits the conclusion"
    parts: list[Part] = [limiting_sentence(evidence, diagnosis)]
    data = BudgetPicture.of(evidence)
    if evidence.budget:
        parts += [budget_table(evidence), *([data.note] if data.note else [])]
    if evidence.budget and pictures:
        parts.append(Picture(svg(data, title=title), data.alt_text))
    return Section(title, tuple(parts))


def needs_causes(evidence: Evidence) -> tuple[str, ...]:
    """Return the candidates for which causes are to be looked for, the nearest first.

    Those are the nearest three when none fits, those of them that do not fit when nothing can be
    judged, and otherwise the ones that fit only with a recovery allowance.
    """
    names = _nearest_first(evidence)
    kind = evidence.verdict.kind
    if kind is VerdictKind.CANNOT_BE_JUDGED:
        names = [n for n in names if not evidence.candidates[n].compatible]
    elif kind is not VerdictKind.NONE_FITS:
        if evidence.experiment.recovery == (1.0, 1.0):
            return ()
        names = [n for n in names if evidence.candidates[n].compatible and _off(evidence, n)]
    return tuple(names[:_MOST_WITH_CAUSES])


def _off(evidence: Evidence, name: str) -> bool:
    """Return whether a yield of 100 % does not fit the readings."""
    low, high = evidence.recovery_needed(name)
    return not math.isnan(low) and not low <= 1.0 <= high


def causes_section(
    evidence: Evidence,
    *,
    names: Iterable[str] | None = None,
    title: str = "What could explain the discrepancy",
    diagnosis: Diagnosis | None = None,
) -> Section | None:
    """Return which effects could make candidates fit, those of `needs_causes` if none is named.

    One line while a reading looks mistyped; None if there is nothing to explain.
    """
    chosen = needs_causes(evidence) if names is None else tuple(names)
    if not chosen:
        return None
    if (diagnosis or evidence.diagnosis).mistyped:
        text = (
            "Effects are not listed while a reading looks mistyped: put that right first, or see "
            "that it stands in the notebook."
        )
        return Section(title, (text,))
    parts: list[Part] = []
    for name in chosen:
        found = causes_for(evidence, name)
        able = [cause for cause in found if cause.explains]
        parts += [Subheading(capitalised(name)), causes_paragraph(found)]
        if able:
            header = ("Effect", "Needed in each trial", "Makes ratio and yield", "To check")
            rows = tuple(_cause_row(cause) for cause in able)
            parts.append(Table(header, rows, f"Effects that could make {name} fit"))
    return Section(title, tuple(parts))


def _cause_row(cause: Cause) -> tuple[str, ...]:
    """Return a row of the table of effects."""
    least, most = cause.possible_range
    low, high = shown_range(least, most)
    unit = cause.effect.unit
    needed = f"{low} {unit} to {high} {unit}"
    if cause.needed and not math.isnan(cause.fraction):
        each = 100 * cause.fraction / cause.needed
        low, high = shown_range(each * least, each * most)
        needed += f"; {low} % to {high} % of the amount {cause.fraction_of}"
    return (cause.effect.name, needed, cause.turn, cause.effect.check)


def stability_section(evidence: Evidence) -> Section | None:
    """Return what standard potentials say, and spot tests for the candidates that fit.

    None if there is nothing to say; spot tests for all candidates if none fits, for none where
    nothing can be judged.
    """
    findings = redox_findings(evidence.experiment)
    named = evidence.verdict.candidates or tuple(evidence.candidates)
    tests = [
        spot_test_sentence(name, test)
        for name, test in suggested_tests(evidence.experiment)
        if name in named and evidence.verdict.kind is not VerdictKind.CANNOT_BE_JUDGED
    ]
    parts: list[Part] = []
    if findings:
        parts.append(Bullets(tuple(redox_sentences(findings))))
    if tests:
        parts += ["Spot tests that would confirm it:", Bullets(tuple(tests))]
    title = "Is the candidate stable? (independent of the readings)"
    return Section(title, tuple(parts)) if parts else None


def amounts_section(evidence: Evidence) -> Section:
    """Return the amounts of each trial with their uncertainty, at most 40, and the means."""
    experiment = evidence.experiment
    factor, unit = amount_unit(evidence)
    produced, consumed = symbol(experiment.produced.species), symbol(experiment.consumed.species)
    rows: list[tuple[str, ...]] = [
        (trial.name, number_text(factor * a), number_text(factor * b))
        for trial, (a, b) in zip(experiment.trials, evidence.amounts, strict=True)
    ]
    left_out = len(rows) - _MOST_TRIALS
    rows = rows[:_MOST_TRIALS]
    if len(evidence.amounts) > 1:
        mean = evidence.n_consumed, evidence.n_produced
        rows.append(("mean", *(number_text(factor * amount) for amount in mean)))
    header = ("Trial", f"{consumed} consumed, {unit}", f"{produced} produced, {unit}")
    text = "Each with its standard uncertainty from the instruments."
    if left_out > 0:
        text += f" {more_are(left_out, 'trial')} in the mean but not in this table."
    table = Table(header, tuple(rows), "Amounts consumed and produced")
    return Section("Amounts of substance", (table, text))


def assumptions_section(evidence: Evidence) -> Section:
    """Return what the verdict takes for granted, first of all about the instruments."""
    said = [
        caveat_sentence(one, evidence)
        for one in evidence.warnings
        if one.kind is CaveatKind.ASSUMPTION
    ]
    lines = Bullets((*said, *assumption_sentences(evidence)))
    return Section("What the verdict assumes", (lines,))


def _formulas_read(experiment: Experiment) -> tuple[str, ...]:
    """Say what the formulas of both amounts, and of the first candidates, were read as."""
    given = [f for m in (experiment.consumed, experiment.produced) for f in m.formulas().values()]
    spec = experiment.candidate_spec
    if spec is not None and spec.kind in ("formulas", "hydrate"):  # else any name may be given
        given += [c.name for c in experiment.candidates[:_MOST_FORMULAS]]
    said = {formula: understood(formula) for formula in given}
    return tuple(f"{species_text(formula)}: {words}" for formula, words in said.items())


def about_section(evidence: Evidence) -> Section | None:
    """Return what the record says about the experiment and its instruments; None for nothing."""
    experiment = evidence.experiment
    parts: list[Part] = [experiment.about] if experiment.about.strip() else []
    parts += [Bullets(experiment.notes)] if experiment.notes else []
    instruments = experiment.instruments_in_words()
    parts += ["Instruments:", Bullets(instruments)] if instruments else []
    parts += ["Formulas, as they were read:", Bullets(_formulas_read(experiment))]
    return Section("About the experiment", tuple(parts)) if parts else None


def cautions_section(experiment: Experiment, *, short: bool = False) -> Section:
    """Return the cautions of an experiment and of its reagents, with eye protection and waste.

    ``short`` leaves out the advice on each.
    """
    found = lab_safety(experiment)
    return found.in_short() if short else found.section()


def candidate_table(evidence: Evidence) -> Table:
    """Return the table of candidates, in the order given.

    >>> from stoichkit import assess, experiments
    >>> for row in candidate_table(assess(experiments.load("copper-silver"))).rows:
    ...     print(row[0], row[4:])
    copper(I) ('excluded', '< 0.0001', 'more than 150 times less likely')
    copper(II) ('fits', '1', 'likeliest')
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
        "In words",
    )
    standings = standings_of(evidence)
    rows = [
        (
            c.name,
            ratio_text(c.candidate.ratio),
            plus_minus(factor * c.discrepancy_mol, factor * c.standard_uncertainty_mol),
            p_text(c.p_value, evidence.coverage),
            standings[c.name].status,
            _likelihood(evidence, c),
            standings[c.name].likelihood,
        )
        for c in evidence.candidates.values()
    ]
    return Table(
        header, tuple(rows), f"Candidates, tested at {100 * evidence.coverage:g} % coverage"
    )


def ratio_text(ratio: Fraction) -> str:
    """Write a ratio as a fraction where that is short."""
    return str(ratio) if ratio.denominator <= 12 else f"{float(ratio):.6g}"


def _likelihood(evidence: Evidence, tested: CandidateEvidence) -> str:
    """Return the relative likelihood; "–" where there is nothing to compare."""
    every = evidence.candidates.values()
    if len(every) < 2 or all(c.relative_likelihood != 1 for c in every):
        return "–"
    relative = tested.relative_likelihood
    return "1" if relative == 1 else "< 0.0001" if relative < 1e-4 else f"{relative:.2g}"


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
    header = ("Source", f"Standard uncertainty, {unit}", "Share of the variance")
    name = evidence.nearest.name
    judged = evidence.verdict.kind is not VerdictKind.CANNOT_BE_JUDGED
    nearest = ", the nearest candidate," if judged else ""
    caption = f"Budget of the discrepancy from {name}{nearest} over all trials"
    return Table(header, rows, caption)
