"""Worked solution and its four forms.

Steps that a worked solution is made of: values with their figures, remarks, means, ratios.

The percent yield, worked out step by step.

The worked solution: every calculation from reading to verdict, and a short conclusion.

Figures follow the usual classroom rules (:mod:`stoichkit.reports.figures`); the uncertainty
stands beside them. The same text serves every way of measuring, since each amount model explains
its own steps.

The worked solution as a whole document: plain text, Markdown, HTML page or LaTeX document.
"""

from __future__ import annotations

import math
import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from .._common import check_ending, check_place, write_whole
from ..chemistry.equation import parse_equation
from ..decision.evidence import CandidateEvidence, Evidence, assess
from ..decision.sentences import verdict_sentences, yield_sentence
from ..decision.verdict import CaveatKind, VerdictKind
from ..errors import ModelError, StoichkitError
from ..experiments.parts import Trial
from ..experiments.record import Experiment
from ..text.document import Bullets, Table
from ..text.equations import Equation, Token, WorkedSection, rendered
from ..text.html import CaptionedTable, PagePart, PageSection, Subheading, html_page
from ..text.wording import (
    capitalised,
    joined,
    p_clause,
    shown_range,
    species_text,
    symbol,
    two_digits,
)
from ..uncertainty.readings import ErrorPool, parse_number
from ..uncertainty.sources import nominal, standard_uncertainty
from .figures import GUARD_DIGITS, Figured, Line, followed, written

__all__ = [
    "MOL",
    "conclusion_paragraph",
    "guarded",
    "mean_of",
    "ratio_equation",
    "remark_on",
    "style_of",
    "symbols_of",
    "worked_document",
    "worked_parts",
    "worked_section",
    "worked_sections",
    "worked_solution",
    "write_worked_solution",
    "yield_section",
]

MOL = "mol"


def remark_on(value: Figured, uncertainty: float, words: str = "") -> str:
    """Say after an equation what it is, its significant figures and its uncertainty."""
    notes = [words] if words else []
    unit = f" {value.unit}" if value.unit else ""
    if math.isfinite(value.figures):
        plural = "" if value.figures == 1 else "s"
        stated = written(value.value, value.decimals)
        notes.append(f"{value.figures:.0f} significant figure{plural}: {stated}{unit}")
    if uncertainty:
        notes.append(f"± {two_digits(uncertainty)}{unit}")
    return f"({'; '.join(notes)})" if notes else ""


def guarded(value: Figured, guard: int = GUARD_DIGITS) -> Token:
    """Write a value with its unit and so many digits more than count."""
    text = written(value.value, value.decimals + guard)
    return Token("number", f"{text} {value.unit}".strip())


def symbols_of(evidence: Evidence) -> tuple[str, str]:
    """Return the symbols of the amounts consumed and produced, such as ``n(Cu)``."""
    experiment = evidence.experiment
    return f"n({experiment.consumed.species})", f"n({experiment.produced.species})"


def ratio_equation(evidence: Evidence, a: Figured, b: Figured) -> Equation:
    """Divide the amount produced, ``b``, by the one consumed, ``a``."""
    consumed, produced = symbols_of(evidence)
    ratio = b.value / a.value
    size = math.floor(math.log10(abs(ratio))) + 1 if ratio else 1
    value = Figured(ratio, min(a.figures, b.figures) - size)
    slash = Token("sign", "/")
    left = (Token("symbol", produced), slash, Token("symbol", consumed))
    numbers = (guarded(b), slash, guarded(a))
    return Equation((left, numbers, (guarded(value),)), remark_on(value, 0.0, "mole ratio"))


def mean_of(mean: float, amounts: Sequence[Figured]) -> Figured:
    """Return the mean with the significant figures of the sum: how many there are is exact."""
    total = Figured(mean * len(amounts), min(one.decimals for one in amounts), MOL)
    if not mean or not math.isfinite(total.figures):
        return Figured(mean, total.decimals, MOL)
    return Figured(mean, total.figures - 1 - math.floor(math.log10(abs(mean))), MOL)


_MOST = 3


def yield_section(
    evidence: Evidence, decimals: tuple[float, float], name: str | None = None
) -> WorkedSection:
    """Return the percent yield of the mean amounts for one candidate, or for those that fit.
    >>> from stoichkit import experiments
    >>> section = yield_section(assess(experiments.load("copper-silver")), (4, 4))
    >>> section.parts[-1]
    'For copper(II) the percent yield is 103 %; 96 % to 112 % fits these readings (95 % coverage).'
    """
    if name is not None and name not in evidence.candidates:
        raise ModelError(
            "There is no such candidate.", given=name, allowed=", ".join(evidence.candidates)
        )
    fitting = evidence.verdict.candidates or (evidence.nearest.name,)
    names = fitting[:_MOST] if name is None else (name,)
    measured = evidence
    if evidence.experiment.recovery != (1.0, 1.0):
        plain = replace(evidence.experiment, recovery=(1.0, 1.0))
        measured = assess(plain, coverage=evidence.coverage)
    means = (
        Figured(nominal(measured.n_consumed), decimals[0], MOL),
        Figured(nominal(measured.n_produced), decimals[1], MOL),
    )
    parts: list[str | Equation] = []
    if measured is not evidence:
        parts.append("The amounts as measured count here, without the recovery allowance.")
    for one in names:
        if means[0].value > 0:
            parts += _steps(measured, measured.candidates[one], *means)
        parts.append(yield_sentence(evidence, one))
    return WorkedSection("Percent yield", tuple(parts))


def _steps(
    evidence: Evidence, tested: CandidateEvidence, used: Figured, made: Figured
) -> Iterator[Equation]:
    consumed, produced = (Token("symbol", text) for text in symbols_of(evidence))
    times, slash = Token("sign", "×"), Token("sign", "/")
    ratio = tested.candidate.ratio
    factor = Token("number", str(ratio) if ratio.denominator == 1 else f"({ratio})")
    full = _with_figures(float(ratio) * used.value, used.figures, MOL)
    theoretical = (Token("words", "theoretical"), produced)
    yield Equation(
        (theoretical, (factor, times, consumed), (factor, times, guarded(used)), (guarded(full),)),
        remark_on(full, 0.0, f"what {tested.name} gives in full"),
    )
    percent = _with_figures(100 * made.value / full.value, min(made.figures, full.figures), "%")
    hundred = Token("number", "100 %")
    yield Equation(
        (
            (Token("words", "percent yield"),),
            (hundred, times, produced, slash, *theoretical),
            (hundred, times, guarded(made), slash, guarded(full)),
            (guarded(percent),),
        ),
        remark_on(percent, 0.0, f"if the product is that of {tested.name}"),
    )


def _with_figures(value: float, figures: float, unit: str) -> Figured:
    size = math.floor(math.log10(abs(value))) + 1 if value else 1
    return Figured(value, figures - size, unit)


_MOST_TRIALS = 12
_MOST_CANDIDATES = 15
_RULES = (
    "Figures: a reading counts with the digits that were read. A sum or difference keeps the "
    "decimals of its least precise term, a product or quotient the significant figures of its "
    f"least precise factor. {GUARD_DIGITS} more digits (guard digits) are carried through and "
    "dropped only when a result is stated. What follows ± is the standard uncertainty from the "
    "instruments, which these rules do not give."
)


def worked_solution(
    experiment_or_evidence: Experiment | Evidence,
    *,
    trial: str | None = None,
    style: str = "text",
    yield_of: str | None = None,
) -> str:
    """Write every calculation from the readings to the verdict.

    Parameters
    ----------
    experiment_or_evidence : Experiment or Evidence
    trial : str, optional
        Name of the one trial to work through; all of them (the first 12) if left out. Means
        and verdict are those of the whole lab.
    style : str
        ``"text"``, ``"markdown"``, ``"html"`` or ``"latex"``; the last two are pieces for a
        page or document. ``"math"`` is one formula for ``IPython.display.Latex``.
    yield_of : str, optional
        Candidate whose percent yield is worked out; those that fit (at most 3), or the nearest,
        if left out.

    Returns
    -------
    str
        Ends with a line break.

    Raises
    ------
    ModelError
        If there is no such trial, style or candidate.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> text = worked_solution(experiments.load("copper-silver"), trial="bench 1")
    >>> at = text.index("m(Cu) =")
    >>> print(text[at : text.index("M(Cu) =")].strip())
    m(Cu) = wire before − wire after = 2.94 g − 2.82 g = 0.1200 g (mass of Cu; 2 significant
    figures: 0.12 g; ± 0.0082 g)
    """
    evidence = (
        experiment_or_evidence
        if isinstance(experiment_or_evidence, Evidence)
        else assess(experiment_or_evidence)
    )
    opening, sections = worked_parts(evidence, trial=trial, yield_of=yield_of)
    return rendered(style, f"Worked solution: {evidence.experiment.title}", opening, sections)


def worked_parts(
    evidence: Evidence, *, trial: str | None = None, yield_of: str | None = None
) -> tuple[list[str], list[WorkedSection]]:
    """Return the opening paragraphs and the sections of a worked solution, the verdict last.
    >>> from stoichkit import experiments
    >>> evidence = assess(experiments.load("copper-silver"))
    >>> [section.title for section in worked_parts(evidence, trial="bench 1")[1]]
    ['Trial bench 1', 'Amounts of the lab', 'Candidates', 'Percent yield', 'Verdict']
    """
    experiment = evidence.experiment
    names = [one.name for one in experiment.trials]
    if trial is not None and trial not in names:
        raise ModelError("There is no such trial.", given=trial, allowed=", ".join(names))
    chosen = [t for t in experiment.trials if trial in (None, t.name)]
    opening = ["The readings are invented, for practice."] if experiment.invented else []
    return [*opening, _RULES], list(_sections(evidence, chosen, yield_of))


def _sections(
    evidence: Evidence, chosen: list[Trial], yield_of: str | None
) -> Iterator[WorkedSection]:
    lines = {t.name: _lines_of(evidence, t) for t in evidence.experiment.trials}
    for one in chosen[:_MOST_TRIALS]:
        yield _trial_section(evidence, one, lines[one.name])
    means = tuple(
        mean_of(nominal(mean), [pair[side][-1].result for pair in lines.values()])
        for side, mean in enumerate((evidence.n_consumed, evidence.n_produced))
    )
    yield WorkedSection("Amounts of the lab", tuple(_amounts(evidence, lines, means)))
    yield WorkedSection("Candidates", tuple(_candidates(evidence, means)))
    yield yield_section(evidence, (means[0].decimals, means[1].decimals), yield_of)
    yield WorkedSection("Verdict", (verdict_sentences(evidence), conclusion_paragraph(evidence)))


Lines = tuple[tuple[Line, ...], tuple[Line, ...]]


def _lines_of(evidence: Evidence, trial: Trial) -> Lines:
    """Return the steps of the amounts consumed and produced in one trial."""
    experiment, pool = evidence.experiment, ErrorPool()
    values = experiment.quantities(trial, pool)
    read = {}
    for role in experiment.roles():
        if role.name not in values:
            continue
        texts = trial.readings.get(role.name) or experiment.shared_readings.get(role.name)
        value = nominal(values[role.name])
        if texts:
            read[role.name] = Figured(value, parse_number(texts[-1]).decimals, role.unit)
        else:  # one-mark glassware counts to the first digit of its uncertainty
            u = standard_uncertainty(values[role.name])
            shown = f"{u:.0e}" if u else "1e-15"
            read[role.name] = Figured(value, -int(shown.partition("e")[2]), role.unit)
    return (
        followed(experiment.consumed.explain(values, pool), read),
        followed(experiment.produced.explain(values, pool), read),
    )


def _equation(line: Line, species: str) -> Equation:
    words = line.words
    if words.endswith(f" of {species}"):
        words = words.removesuffix(species) + species_text(species)
    left = (Token("symbol", line.symbol),)
    if not line.formula:
        table = line.symbol.startswith(("M(", "p("))
        words += ", from the table" if table else ", as stated"
        exact = Figured(line.result.value, math.inf, line.result.unit)
        return Equation(
            (left, (guarded(line.result, 0),)), remark_on(exact, line.uncertainty, words)
        )
    sides = [left, line.formula, line.numbers]
    if len(line.numbers) > 1:
        sides.append((guarded(line.result),))
    return Equation(tuple(sides), remark_on(line.result, line.uncertainty, words))


def _trial_section(evidence: Evidence, trial: Trial, lines: Lines) -> WorkedSection:
    experiment = evidence.experiment
    units = {role.name: role.unit for role in experiment.roles()}
    rows = tuple(
        (name, ", then ".join(text.strip() for text in texts), units[name])
        for name, texts in (*experiment.shared_readings.items(), *trial.readings.items())
    )
    parts: list[str | Table | Equation] = [Table(("Reading", "As read", "Unit"), rows)]
    if any(len(texts) > 1 for texts in trial.readings.values()):
        parts.append("Of readings repeated to constant mass the last one counts.")
    for model, side in zip((experiment.consumed, experiment.produced), lines, strict=True):
        parts += [_equation(line, model.species) for line in side]
    a, b = (side[-1].result for side in lines)
    if a.value > 0:
        parts.append(ratio_equation(evidence, a, b))
    return WorkedSection(f"Trial {trial.name}", tuple(parts))


def _amounts(
    evidence: Evidence, lines: Mapping[str, Lines], means: tuple[Figured, ...]
) -> Iterator[str | Table | Equation]:
    consumed, produced = (
        symbol(m.species) for m in (evidence.experiment.consumed, evidence.experiment.produced)
    )
    low, high = evidence.experiment.recovery
    rows = []
    for name, pair in list(lines.items())[: 4 * _MOST_TRIALS]:
        rows.append((name, *(guarded(side[-1].result).text for side in pair)))
    yield Table(("Trial", f"{consumed} consumed", f"{produced} produced"), tuple(rows))
    if len(lines) > len(rows):
        yield f"{len(lines) - len(rows)} more trials are in the means but not in this table."
    if (low, high) != (1.0, 1.0):
        yield (
            f"The amounts produced are then corrected for the recovery allowance, {100 * low:g} % "
            f"to {100 * high:g} %: divided by the recovered fraction, and its width added to the "
            "uncertainty."
        )
    count = len(lines)
    a_u, b_u = (standard_uncertainty(n) for n in (evidence.n_consumed, evidence.n_produced))
    if count > 1:
        for side, (mean, u) in enumerate(zip(means, (a_u, b_u), strict=True)):
            left = (Token("words", "mean"), Token("symbol", symbols_of(evidence)[side]))
            words = f"sum of the {count} amounts / {count}"
            yield Equation((left, (Token("words", words),), (guarded(mean),)), remark_on(mean, u))
    if means[0].value > 0:
        yield ratio_equation(evidence, *means)


def _candidates(
    evidence: Evidence, means: tuple[Figured, ...]
) -> Iterator[str | Bullets | Equation]:
    consumed, produced = symbols_of(evidence)
    yield (
        "For each candidate the discrepancy D is the amount produced less the amount that the "
        "candidate gives from what was consumed. It is zero on average for the true candidate. p "
        "is the chance of a discrepancy at least as large if the candidate is true, from the exact "
        "distribution of the reading errors; a candidate with p below "
        f"{1 - evidence.coverage:.4g} is excluded."
    )
    tested = list(evidence.candidates.values())
    for one in sorted(tested, key=_distance)[:_MOST_CANDIDATES]:
        yield _discrepancy(one, consumed, produced, means, evidence.coverage)
    if len(tested) > _MOST_CANDIDATES:
        yield f"The other {len(tested) - _MOST_CANDIDATES} candidates are further off still."


def _distance(tested: CandidateEvidence) -> tuple[float, float]:
    """Return what sorts the nearest candidate first, also where every p-value is 0."""
    u = tested.standard_uncertainty_mol
    return -tested.p_value, abs(tested.discrepancy_mol) / u if u else math.inf


def _discrepancy(
    tested: CandidateEvidence,
    consumed: str,
    produced: str,
    means: tuple[Figured, ...],
    coverage: float,
) -> Equation:
    a, b = means
    ratio = tested.candidate.ratio
    factor = str(ratio) if ratio.denominator == 1 else f"({ratio})"
    given = Figured(float(ratio) * a.value, a.decimals, MOL)
    decimals = min(b.decimals, given.decimals)
    value = Figured(tested.discrepancy_mol, decimals, MOL)
    minus, times = Token("sign", "−"), Token("sign", "×")
    number = Token("number", factor)
    formula = (
        Token("symbol", produced), minus, number, times, Token("symbol", consumed),
    )  # fmt: skip
    numbers = (guarded(b), minus, number, times, guarded(a))
    verdict = "fits" if tested.compatible else "excluded"
    equation = _written(tested.candidate.equation)
    remark = (
        f"({tested.name}{f', {equation}' if equation else ''}; "
        f"± {two_digits(tested.standard_uncertainty_mol)} mol; "
        f"{p_clause(tested.p_value, coverage)}: {verdict})"
    )
    left = (Token("symbol", "D"),)
    return Equation((left, formula, numbers, (guarded(value),)), remark)


def _written(equation: str) -> str:
    if not equation:
        return ""
    try:
        found = parse_equation(equation)
    except StoichkitError:
        return equation
    sides = (" + ".join(term.unicode() for term in side) for side in (found.left, found.right))
    return " → ".join(sides)


def conclusion_paragraph(evidence: Evidence) -> str:
    """Write a short conclusion that says what is claimed and what is not.

    Parameters
    ----------
    evidence : Evidence

    Returns
    -------
    str
        Three to six sentences of plain text.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> text = conclusion_paragraph(assess(experiments.load("copper-silver-coarse")))
    >>> text.split(". ")[0]
    'From 4 trials, n(Ag)/n(Cu) lies between 0.9 and 5.5 (95 % coverage)'
    """
    experiment, verdict = evidence.experiment, evidence.verdict
    trials = len(evidence.amounts)
    made, used = symbol(experiment.produced.species), symbol(experiment.consumed.species)
    found = evidence.ratio_set
    cover = f"{100 * evidence.coverage:g} % coverage"
    count = "1 trial" if trials == 1 else f"{trials} trials"
    if found.kind == "bounded":
        marks = [c.ratio for c in evidence.candidates.values()]
        low, high = shown_range(found.low, found.high, marks)
        first = f"From {count}, {made}/{used} lies between {low} and {high} ({cover})."
    else:
        first = f"From {count}, {made}/{used} is not bounded on both sides ({cover})."
    names = list(verdict.candidates)
    out = [c.name for c in evidence.candidates.values() if not c.compatible]
    if verdict.kind is VerdictKind.SINGLED_OUT:
        claim = f"{capitalised(names[0])}, the only candidate considered, agrees with the readings."
        if out:
            others = joined(out) if len(out) <= 3 else f"the other {len(out)}"
            verb = "is" if len(out) == 1 else "are"
            claim = f"Of the candidates considered only {names[0]} agrees with the readings; "
            claim += f"{others} {verb} excluded."
        limit = (
            "This does not prove it: a product that was not considered, or an effect that shifts "
            "every trial alike, could give the same readings."
        )
    elif verdict.kind is VerdictKind.NOT_TOLD_APART:
        claim = f"The readings agree with {joined(names)} and do not tell them apart."
        claim += f" {capitalised(joined(out))} can be excluded." if 0 < len(out) <= 3 else ""
        limit = (
            "No choice between them is claimed; the nearest is not therefore the right one. A "
            "larger amount, more trials or a finer instrument could decide."
        )
    else:
        claim = "None of the candidates considered agrees with the readings."
        limit = (
            "No product is claimed. Either the product was not among the candidates, or a mistake "
            "or a physical effect (water, losses, residue) moved the readings; which of these is "
            "for further checks to show."
        )
    return " ".join([first, claim, limit, *_reservations(evidence)])


def _reservations(evidence: Evidence) -> Iterator[str]:
    kinds = {w.kind for w in evidence.warnings}
    if CaveatKind.SINGLE_TRIAL in kinds:
        yield "With a single trial nothing shows whether the result repeats."
    if CaveatKind.EXCESS_SCATTER in kinds:
        yield "The trials scatter more than the instruments explain, and this is allowed for."
    if CaveatKind.NOT_RESOLVED in kinds:
        yield "The amount consumed is too small to be told apart from zero."
    low, high = evidence.experiment.recovery
    if (low, high) != (1.0, 1.0):
        yield f"It is assumed that {100 * low:g} % to {100 * high:g} % of the product was weighed."


_ENDINGS = {".html": "html", ".md": "markdown", ".txt": "text", ".tex": "latex"}
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
    return _ENDINGS[check_ending(path, tuple(_ENDINGS)).suffix.lower()]


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
        As for :func:`stoichkit.reports.worked.worked_solution`.

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
    replace: bool = False,
) -> Path:
    """Write the worked solution to a file, whole or not at all.

    Parameters
    ----------
    evidence : Evidence
    path : str or path-like
        Ends in ``.html``, ``.md``, ``.txt`` or ``.tex``, which decides the style.
    trial, yield_of : str, optional
        As for :func:`stoichkit.reports.worked.worked_solution`.
    replace : bool
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
    style, target = style_of(path), check_place(path, replace=replace)
    text = worked_document(evidence, style, trial=trial, yield_of=yield_of)
    return write_whole(target, text.encode("utf-8"), replace=replace)


def worked_sections(
    evidence: Evidence, *, trial: str | None = None, yield_of: str | None = None
) -> tuple[list[str], list[PageSection]]:
    """Return the opening paragraphs and the sections of a worked solution, the verdict last."""
    opening, sections = worked_parts(evidence, trial=trial, yield_of=yield_of)
    found = []
    for section in sections:
        parts: list[PagePart] = []
        for part in section.parts:
            if isinstance(part, Table):
                caption = "Readings" if part.header[0] == "Reading" else "Amount in each trial"
                parts.append(CaptionedTable(caption, part.header, part.rows))
            else:
                parts.append(part)
        found.append(PageSection(section.title, tuple(parts)))
    return opening, found


def worked_section(
    evidence: Evidence, *, trial: str | None = None, title: str = "Worked solution"
) -> PageSection:
    """Return every calculation from the readings to the yield as one section, trial by trial.

    The verdict is left out, since a report begins with it; see :func:`worked_sections`.
    """
    opening, sections = worked_sections(evidence, trial=trial)
    parts: list[PagePart] = [opening[-1]]
    for section in sections[:-1]:
        parts += [Subheading(section.title), *section.parts]
    return PageSection(title, tuple(parts))
