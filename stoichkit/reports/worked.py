"""The worked solution: every calculation from reading to verdict, and a short conclusion.

Figures follow the usual classroom rules (:mod:`stoichkit.reports.figures`); the uncertainty
stands beside them. The same text serves every way of measuring, since each amount model explains
its own steps.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from ..bench.cautions import lab_safety
from ..decision.evidence import CandidateEvidence, Evidence, assess
from ..decision.sentences import (
    air_sentences,
    allowed_words,
    look_sentence,
    ratio_sentence,
    route_sentences,
    second_opinion_sentence,
    yield_sentence,
)
from ..decision.statement import below_zero_clause, nothing_shown, statement_of, verdict_sentences
from ..decision.trust import overturning_sentence
from ..decision.verdict import CaveatKind, Diagnosis, Reason, VerdictKind
from ..errors import ModelError
from ..experiments.checks import read_value
from ..experiments.parts import Trial
from ..experiments.record import Experiment
from ..measurement.base import Role
from ..text.document import Document
from ..text.parts import Equation, Part, Section, Subheading, Table, Token
from ..text.wording import (
    capitalised,
    joined,
    magnitude,
    more_are,
    p_clause,
    reaction_text,
    shown_range,
    species_text,
    symbol,
    two_digits,
)
from ..uncertainty import entry
from ..uncertainty.readings import ErrorPool, Reading, mean_reading, parse_number
from ..uncertainty.sources import nominal, standard_uncertainty
from .figures import GUARD_DIGITS, Figured, Line, followed, guarded, written

_MOL = "mol"
_MOST_TRIALS = 12
_MOST_CANDIDATES = 15
_MOST_YIELDS = 3
_RULES = (
    "Figures: a reading counts with the digits that were read. A sum or difference keeps the "
    "decimals of its least precise term, a product or quotient the significant figures of its "
    f"least precise factor. {GUARD_DIGITS} more digits (guard digits) are carried through, unless "
    "they would be zeros that nobody read, and dropped only when a result is stated. What follows "
    "± is the standard uncertainty from the instruments, which these rules do not give."
)


def _remark_on(value: Figured, uncertainty: float, words: str = "") -> str:
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


def _with_figures(value: float, figures: float, unit: str) -> Figured:
    """Return a value of which so many figures count."""
    size = magnitude(value, int(figures)) + 1 if value and math.isfinite(figures) else 1
    return Figured(value, figures - size, unit)


def _guarded(value: Figured, guard: int = GUARD_DIGITS) -> Token:
    """Write a value with its unit and so many digits more than count."""
    return Token("number", f"{guarded(value, guard)} {value.unit}".strip())


def _symbols_of(evidence: Evidence) -> tuple[str, str]:
    """Return the symbols of the amounts consumed and produced, such as ``n(Cu)``."""
    experiment = evidence.experiment
    return f"n({experiment.consumed.species})", f"n({experiment.produced.species})"


def _ratio_equation(evidence: Evidence, a: Figured, b: Figured) -> Equation:
    """Divide the amount produced, ``b``, by the one consumed, ``a``."""
    consumed, produced = _symbols_of(evidence)
    value = _with_figures(b.value / a.value, min(a.figures, b.figures), "")
    slash = Token("sign", "/")
    left = (Token("symbol", produced), slash, Token("symbol", consumed))
    numbers = (_guarded(b), slash, _guarded(a))
    return Equation((left, numbers, (_guarded(value),)), _remark_on(value, 0.0, "mole ratio"))


def _mean_of(mean: float, amounts: Sequence[Figured]) -> Figured:
    """Return the mean with the significant figures of the sum: how many there are is exact."""
    total = Figured(mean * len(amounts), min(one.decimals for one in amounts), _MOL)
    return _with_figures(mean, total.figures, _MOL) if mean else replace(total, value=mean)


def _yield_section(
    evidence: Evidence, decimals: tuple[float, float], name: str | None = None
) -> Section:
    """Return the percent yield of the mean amounts for one candidate, or for those that fit."""
    if name is not None and name not in evidence.candidates:
        raise ModelError(
            "There is no such candidate.", given=name, allowed=", ".join(evidence.candidates)
        )
    fitting = evidence.verdict.candidates or (evidence.nearest.name,)
    names = fitting[:_MOST_YIELDS] if name is None else (name,)
    means = (
        Figured(nominal(evidence.n_consumed), decimals[0], _MOL),
        Figured(nominal(evidence.n_produced), decimals[1], _MOL),
    )
    parts: list[Part] = []
    for one in names:
        if means[0].value > 0:
            parts += _steps(evidence, evidence.candidates[one], *means)
        parts.append(yield_sentence(evidence, one))
    return Section("Percent yield", tuple(parts))


def _steps(
    evidence: Evidence, tested: CandidateEvidence, used: Figured, made: Figured
) -> Iterator[Equation]:
    """Work out the theoretical and the percent yield of a candidate."""
    consumed, produced = (Token("symbol", text) for text in _symbols_of(evidence))
    times, slash = Token("sign", "×"), Token("sign", "/")
    ratio = tested.candidate.ratio
    factor = Token("number", str(ratio) if ratio.denominator == 1 else f"({ratio})")
    full = _with_figures(float(ratio) * used.value, used.figures, _MOL)
    theoretical = (Token("words", "theoretical"), produced)
    yield Equation(
        (
            theoretical,
            (factor, times, consumed),
            (factor, times, _guarded(used)),
            (_guarded(full),),
        ),
        _remark_on(full, 0.0, f"what {tested.name} gives in full"),
    )
    percent = _with_figures(100 * made.value / full.value, min(made.figures, full.figures), "%")
    hundred = Token("number", "100 %")
    yield Equation(
        (
            (Token("words", "percent yield"),),
            (hundred, times, produced, slash, *theoretical),
            (hundred, times, _guarded(made), slash, _guarded(full)),
            (_guarded(percent),),
        ),
        _remark_on(percent, 0.0, f"if the product is that of {tested.name}"),
    )


def worked_solution(
    evidence_or_experiment: Evidence | Experiment,
    *,
    trial: str | None = None,
    yield_of: str | None = None,
) -> Document:
    """Return every calculation from the readings to the verdict.

    Parameters
    ----------
    evidence_or_experiment : Evidence or Experiment
    trial : str, optional
        Name of the one trial to work through; all of them (the first 12) if left out. Means
        and verdict are those of the whole lab.
    yield_of : str, optional
        Candidate whose percent yield is worked out; those that fit (at most 3), or the nearest,
        if left out.

    Returns
    -------
    Document
        Save it as ``.txt``, ``.md``, ``.html`` or ``.tex``.

    Raises
    ------
    ModelError
        If there is no such trial or candidate.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> solution = worked_solution(experiments.load("copper-silver"), trial="bench 1")
    >>> [section.title for section in solution.sections]
    ['Trial bench 1', 'Amounts of the lab', 'Candidates', 'Percent yield', 'Verdict', 'Cautions']
    >>> text = solution.text()
    >>> at = text.index("m(Cu) =")
    >>> print(text[at : text.index("M(Cu) =")].strip())
    m(Cu) = wire before − wire after = 2.94 g − 2.82 g = 0.12 g (mass of Cu; 2 significant
    figures: 0.12 g; ± 0.0082 g)
    """
    given = evidence_or_experiment
    entry.record("evidence_or_experiment", given, Evidence, Experiment)
    entry.texts(trial="" if trial is None else trial, yield_of="" if yield_of is None else yield_of)
    evidence = given if isinstance(given, Evidence) else assess(given)
    experiment = evidence.experiment
    names = [one.name for one in experiment.trials]
    if trial is not None and trial not in names:
        raise ModelError("There is no such trial.", given=trial, allowed=", ".join(names))
    chosen = [t for t in experiment.trials if trial in (None, t.name)]
    invented = ["The readings are invented, for practice."] if experiment.invented else []
    beside = look_sentence(evidence), second_opinion_sentence(evidence)
    said = (verdict_sentences(evidence), evidence.diagnosis.sentence, *filter(None, beside))
    last = Section("Verdict", (*said, conclusion_paragraph(evidence)))
    return Document(
        f"Worked solution: {experiment.title}",
        (*invented, _RULES),
        (*_sections(evidence, chosen, yield_of), last, lab_safety(experiment).in_short()),
    )


def worked_section(evidence: Evidence, *, title: str = "Worked solution") -> Section:
    """Return every calculation from the readings to the yield as one section, trial by trial.

    The verdict is left out, since a report begins with it; see :func:`worked_solution`.
    """
    parts: list[Part] = [_RULES]
    for section in _sections(evidence, list(evidence.experiment.trials), None):
        parts += [Subheading(section.title), *section.parts]
    return Section(title, tuple(parts))


def worked_in_short(evidence: Evidence) -> tuple[Part, ...]:
    """Return the steps of the first trial, and those from the amounts of all to their mole ratio.

    >>> from stoichkit import experiments
    >>> parts = worked_in_short(assess(experiments.load("copper-silver")))
    >>> parts[0]
    'Trial bench 1; the others are worked out in the same way.'
    """
    trials = evidence.experiment.trials
    lines, means = _worked(evidence)
    more = "; the others are worked out in the same way" if len(trials) > 1 else ""
    return (
        f"Trial {trials[0].name}{more}.",
        *_steps_of(evidence, trials[0], lines[trials[0].name]),
        *_mean_steps(evidence, means),
    )


def trial_ratios(evidence: Evidence) -> tuple[str, ...]:
    """Return the mole ratio of each trial with the figures that count; "–" for nothing used up.

    >>> from stoichkit import experiments
    >>> trial_ratios(assess(experiments.load("copper-silver")))[:2]
    ('2.0', '2.1')
    """
    lines, _ = _worked(evidence)
    found = []
    for used, made in ((pair[0][-1].result, pair[1][-1].result) for pair in lines.values()):
        if used.value > 0:
            ratio = _with_figures(made.value / used.value, min(used.figures, made.figures), "")
            found.append(written(ratio.value, ratio.decimals))
        else:
            found.append("–")
    return tuple(found)


def as_read(role: Role, texts: Sequence[str]) -> str:
    """Write what was read for one quantity, once or several times.

    >>> role = Role(name="dish", instrument="balance", quantity="mass", unit="g", repeated=True)
    >>> as_read(role, ["2.95 ", "2.94"])
    '2.95, then 2.94'
    """
    return (", " if role.averaged else ", then ").join(text.strip() for text in texts)


def _worked(evidence: Evidence) -> tuple[dict[str, _Lines], tuple[Figured, ...]]:
    """Return the steps of each trial, and the mean amounts consumed and produced."""
    lines = {t.name: _lines_of(evidence, t) for t in evidence.experiment.trials}
    return lines, tuple(
        _mean_of(nominal(mean), [pair[side][-1].result for pair in lines.values()])
        for side, mean in enumerate((evidence.n_consumed, evidence.n_produced))
    )


def _sections(evidence: Evidence, chosen: list[Trial], yield_of: str | None) -> Iterator[Section]:
    """Yield the trials, the amounts of the lab, the candidates and the yield."""
    lines, means = _worked(evidence)
    for one in chosen[:_MOST_TRIALS]:
        yield _trial_section(evidence, one, lines[one.name])
    yield Section("Amounts of the lab", tuple(_amounts(evidence, lines, means)))
    yield Section("Candidates", tuple(_candidates(evidence, means)))
    yield _yield_section(evidence, (means[0].decimals, means[1].decimals), yield_of)


_Lines = tuple[tuple[Line, ...], tuple[Line, ...]]


def _lines_of(evidence: Evidence, trial: Trial) -> _Lines:
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
            read[role.name] = Figured(value, read_value(role, texts).decimals, role.unit)
        else:  # one-mark glassware counts to the first digit of its uncertainty
            u = standard_uncertainty(values[role.name])
            shown = f"{u:.0e}" if u else "1e-15"
            read[role.name] = Figured(value, -int(shown.partition("e")[2]), role.unit)
    means = {name for name, _ in _averaged(experiment, trial)}
    return (
        followed(experiment.consumed.explain(values, pool), read, means),
        followed(experiment.produced.explain(values, pool), read, means),
    )


def _averaged(experiment: Experiment, trial: Trial) -> Iterator[tuple[str, tuple[Reading, ...]]]:
    """Yield the readings of a trial of which the mean counts, each with what was read."""
    for role in experiment.roles():
        texts = trial.readings.get(role.name) or experiment.shared_readings.get(role.name, ())
        if role.averaged and len(texts) > 1:
            yield role.name, tuple(parse_number(text, role.name) for text in texts)


def _mean_equation(name: str, readings: Sequence[Reading], unit: str) -> Equation:
    """Work out the mean of readings of one thing."""
    mean = mean_reading(readings)
    value = Figured(mean.value, mean.decimals, unit)
    shown = " + ".join(f"{written(one.value, one.decimals)} {unit}" for one in readings)
    total = Token("number", f"({shown}) / {len(readings)}")
    words = f"mean of {len(readings)} readings"
    return Equation(((Token("name", name),), (total,), (_guarded(value),)), f"({words})")


def _equation(line: Line, species: str) -> Equation:
    """Write a step of an amount as an equation."""
    words = line.words
    if words.endswith(f" of {species}"):
        words = words.removesuffix(species) + species_text(species)
    left = (Token("symbol", line.symbol),)
    if not line.formula:
        table = line.symbol.startswith(("M(", "p("))
        words += ", from the table" if table else ", as stated"
        exact = Figured(line.result.value, math.inf, line.result.unit)
        return Equation(
            (left, (_guarded(line.result, 0),)), _remark_on(exact, line.uncertainty, words)
        )
    sides = [left, line.formula, line.numbers]
    if len(line.numbers) > 1:
        sides.append((_guarded(line.result),))
    return Equation(tuple(sides), _remark_on(line.result, line.uncertainty, words))


def _trial_section(evidence: Evidence, trial: Trial, lines: _Lines) -> Section:
    """Return the readings of a trial and the steps to its amounts and ratio."""
    experiment = evidence.experiment
    roles = {role.name: role for role in experiment.roles()}
    rows = tuple(
        (name, as_read(roles[name], texts), roles[name].unit)
        for name, texts in (*experiment.shared_readings.items(), *trial.readings.items())
    )
    table = Table(("Reading", "As read", "Unit"), rows, "Readings")
    return Section(f"Trial {trial.name}", (table, *_steps_of(evidence, trial, lines)))


def _steps_of(evidence: Evidence, trial: Trial, lines: _Lines) -> Iterator[Part]:
    """Yield the steps from the readings of a trial to its amounts and ratio."""
    experiment = evidence.experiment
    units = {role.name: role.unit for role in experiment.roles()}
    means = dict(_averaged(experiment, trial))
    if any(len(texts) > 1 and name not in means for name, texts in trial.readings.items()):
        yield "Of readings repeated to constant mass the last one counts."
    for name, read in means.items():
        yield _mean_equation(name, read, units[name])
    for model, side in zip((experiment.consumed, experiment.produced), lines, strict=True):
        for line in side:
            yield _equation(line, model.species)
    a, b = (side[-1].result for side in lines)
    if a.value > 0:
        yield _ratio_equation(evidence, a, b)


def _amounts(
    evidence: Evidence, lines: Mapping[str, _Lines], means: tuple[Figured, ...]
) -> Iterator[Part]:
    """Return the amounts of all trials, their means and the mole ratio."""
    consumed, produced = (
        symbol(m.species) for m in (evidence.experiment.consumed, evidence.experiment.produced)
    )
    low, high = evidence.experiment.recovery
    rows = []
    for name, pair in list(lines.items())[: 4 * _MOST_TRIALS]:
        rows.append((name, *(_guarded(side[-1].result).text for side in pair)))
    header = ("Trial", f"{consumed} consumed", f"{produced} produced")
    yield Table(header, tuple(rows), "Amount in each trial")
    if len(lines) > len(rows):
        left_out = more_are(len(lines) - len(rows), "trial")
        yield f"{left_out} in the means but not in this table."
    if (low, high) != (1.0, 1.0):
        yield (
            f"Between {100 * low:g} % and {100 * high:g} % of the product was recovered, so each "
            "candidate is tested at the one of these fractions that agrees best with the readings."
        )
    experiment = evidence.experiment
    yield from route_sentences(evidence)
    yield from air_sentences(evidence)
    yield from dict.fromkeys((*experiment.consumed.remarks(), *experiment.produced.remarks()))
    yield from _mean_steps(evidence, means)


def _mean_steps(evidence: Evidence, means: tuple[Figured, ...]) -> Iterator[Equation]:
    """Yield the mean amounts and their mole ratio."""
    count = len(evidence.amounts)
    a_u, b_u = (standard_uncertainty(n) for n in (evidence.n_consumed, evidence.n_produced))
    if count > 1:
        for side, (mean, u) in enumerate(zip(means, (a_u, b_u), strict=True)):
            left = (Token("words", "mean"), Token("symbol", _symbols_of(evidence)[side]))
            words = f"sum of the {count} amounts / {count}"
            yield Equation((left, (Token("words", words),), (_guarded(mean),)), _remark_on(mean, u))
    if means[0].value > 0:
        yield _ratio_equation(evidence, *means)


def _candidates(evidence: Evidence, means: tuple[Figured, ...]) -> Iterator[Part]:
    """Return the discrepancy of each candidate, the nearest first."""
    consumed, produced = _symbols_of(evidence)
    variation, scatter = evidence.experiment.variation, evidence.scatter
    excess = scatter is not None and scatter.excess
    own = variation is not None and variation.unknown and not evidence.unknown_but_alike
    source = "exact distribution of the reading errors" + (
        ", or from Student t by the trials' own scatter, whichever is larger"
        if own or excess
        else ""
    )
    yield (
        "For each candidate the discrepancy D is the amount produced less the amount that the "
        "candidate gives from what was consumed. It is zero on average for the true candidate. p "
        "is the chance of a discrepancy at least as large if the candidate is true, from the "
        f"{source}; a candidate with p below "
        f"{1 - evidence.coverage:.4g} is excluded."
    )
    if evidence.verdict.kind is VerdictKind.CANNOT_BE_JUDGED:
        yield "Here that is worked out but not judged; see the verdict."
    if allowed := allowed_words(evidence):
        yield f"The factor put before a ratio is {allowed}, at the value allowed that agrees best."
    tested = list(evidence.candidates.values())
    for one in sorted(tested, key=_distance)[:_MOST_CANDIDATES]:
        yield _discrepancy(evidence, one, consumed, produced, means)
    if (more := len(tested) - _MOST_CANDIDATES) > 0:
        yield f"{more_are(more, 'candidate')} further off still."


def _distance(tested: CandidateEvidence) -> tuple[float, float]:
    """Return what sorts the nearest candidate first, also where every p-value is 0."""
    u = tested.standard_uncertainty_mol
    return -tested.p_value, abs(tested.discrepancy_mol) / u if u else math.inf


def _discrepancy(
    evidence: Evidence,
    tested: CandidateEvidence,
    consumed: str,
    produced: str,
    means: tuple[Figured, ...],
) -> Equation:
    """Work out the discrepancy of a candidate, at the value allowed that agrees best."""
    a, b = (
        replace(mean, value=value) for mean, value in zip(means, tested.tested_mol, strict=True)
    )
    ratio = tested.candidate.ratio
    factor = str(ratio) if ratio.denominator == 1 else f"({ratio})"
    given = Figured(tested.tested_ratio * a.value, a.decimals, _MOL)
    decimals = min(b.decimals, given.decimals)
    if evidence.experiment.recovery != (1.0, 1.0) or tested.tested_ratio != float(ratio):
        places = 4
        if given.value > 0:  # the factor needs more, for the equation to come out
            shown = int(decimals) + GUARD_DIGITS
            places = max(places, shown + math.floor(math.log10(given.value)) + 2)
        factor = f"{tested.tested_ratio / float(ratio):.{places}f} × {factor}"
    value = Figured(tested.discrepancy_mol, decimals, _MOL)
    minus, times = Token("sign", "−"), Token("sign", "×")
    number = Token("number", factor)
    formula = (
        Token("symbol", produced), minus, number, times, Token("symbol", consumed),
    )  # fmt: skip
    numbers = (_guarded(b), minus, number, times, _guarded(a))
    verdict = "fits" if tested.compatible else "excluded"
    if evidence.verdict.kind is VerdictKind.CANNOT_BE_JUDGED:
        verdict = "not judged"
    equation = reaction_text(tested.candidate.equation)
    routes = "".join(
        f", with {name} by route {route} alone"
        for name, route in zip((consumed, produced), tested.tested_by, strict=True)
        if route
    )
    remark = (
        f"({tested.name}{f', {equation}' if equation else ''}{routes}; "
        f"± {two_digits(tested.standard_uncertainty_mol)} mol; "
        f"{p_clause(tested.p_value, evidence.coverage)}: {verdict})"
    )
    left = (Token("symbol", "D"),)
    return Equation((left, formula, numbers, (_guarded(value),)), remark)


def conclusion_paragraph(evidence: Evidence) -> str:
    """Write a short conclusion that says what is claimed and what is not.

    Parameters
    ----------
    evidence : Evidence

    Returns
    -------
    str
        Four to seven sentences of plain text; one names the nearest faults that would overturn it.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> text = conclusion_paragraph(assess(experiments.load("copper-silver-coarse")))
    >>> text.split(". ")[0]
    'From 4 trials, n(Ag)/n(Cu) lies between 0.9 and 5.5 (95 % coverage)'
    """
    entry.record("evidence", evidence, Evidence)
    overturned = overturning_sentence(evidence, "This verdict")
    return f"{conclusion_with(evidence, evidence.diagnosis)} {overturned}".rstrip()


def conclusion_with(evidence: Evidence, diagnosis: Diagnosis) -> str:
    """Write the same with a diagnosis found beside others, and without what would overturn it."""
    experiment, verdict = evidence.experiment, evidence.verdict
    if verdict.kind is VerdictKind.CANNOT_BE_JUDGED:
        return _unjudged(evidence, diagnosis)
    trials = len(evidence.amounts)
    made, used = symbol(experiment.produced.species), symbol(experiment.consumed.species)
    found = evidence.ratio_set
    cover = f"{100 * evidence.coverage:g} % coverage"
    count = "1 trial" if trials == 1 else f"{trials} trials"
    if found.kind == "bounded":
        marks = [c.tested_ratio for c in evidence.candidates.values()]
        low, high = shown_range(found.low, found.high, marks)
        first = f"From {count}, {made}/{used} lies between {low} and {high} ({cover})."
    elif found.kind == "in pieces":
        said = ratio_sentence(evidence)
        first = f"From {count}: {said[0].lower()}{said[1:]}"
    else:
        first = f"From {count}, {made}/{used} is not bounded on both sides ({cover})."
    claim = statement_of(evidence).claim
    limit = _limit(evidence, diagnosis)
    return " ".join([first, claim, limit, *_reservations(evidence)])


def _limit(evidence: Evidence, diagnosis: Diagnosis) -> str:
    """Say what is not claimed."""
    verdict = evidence.verdict
    if diagnosis.mistyped:
        return "Nothing rests on this until the reading that looks mistyped has been checked."
    if verdict.kind is VerdictKind.SINGLED_OUT:
        return (
            "This does not prove it: a product that was not considered, or an effect that shifts "
            "every trial alike, could give the same readings."
        )
    if verdict.reason is Reason.NOTHING_REACTED:
        return f"{capitalised(verdict.candidates[0])} is therefore not claimed."
    if verdict.kind is VerdictKind.NOT_TOLD_APART:
        return (
            "No choice between them is claimed; the nearest is not therefore the right one. A "
            "larger amount, more trials or a finer instrument could decide."
        )
    if nothing_shown(evidence):
        made = symbol(evidence.experiment.produced.species)
        return f"No product is claimed: {made} is not told apart from zero."
    return (
        "No product is claimed. Either the product was not among the candidates, or a mistake "
        "or a physical effect (water, losses, residue) moved the readings; which of these is "
        "for further checks to show."
    )


def _unjudged(evidence: Evidence, diagnosis: Diagnosis) -> str:
    """Write the conclusion where nothing can be judged."""
    verdict, trials = evidence.verdict, len(evidence.amounts)
    count = "1 trial" if trials == 1 else f"{trials} trials"
    claim = statement_of(evidence).claim
    if verdict.reason is Reason.BELOW_ZERO:
        limit = (
            _limit(evidence, diagnosis)
            if diagnosis.mistyped
            else "Two readings may have been swapped, or subtracted the wrong way round, or "
            "something else was on the balance; put the readings right, or repeat the experiment."
        )
        return (
            f"From {count} nothing can be concluded: {below_zero_clause(verdict)}. {claim} {limit}"
        )
    limit = (
        _limit(evidence, diagnosis)
        if diagnosis.mistyped
        else "What is left to go may be too little or too much: the product may not be dry, or may "
        "have decomposed or spattered."
    )
    return (
        f"From {count} nothing can be concluded yet: the mass was still changing at "
        f"{joined(list(verdict.about))}. {claim} {limit}"
    )


def _reservations(evidence: Evidence) -> Iterator[str]:
    """Say what the conclusion depends on."""
    kinds = {w.kind for w in evidence.warnings}
    if CaveatKind.NOTHING_SHOWN in kinds:
        yield "Nothing shows that anything reacted."
    if evidence.doubted:
        yield "This takes for granted that the trials differ by nothing but their readings."
    if CaveatKind.STILL_CHANGING in kinds:
        yield "A mass was still changing, but whatever is left to go leads to the same verdict."
    if CaveatKind.ROUTES_DISAGREE in kinds:
        yield "Routes to one amount disagree, so what any of them allows is left open."
    if CaveatKind.SINGLE_TRIAL in kinds:
        yield "With a single trial nothing shows whether the result repeats."
    if CaveatKind.EXCESS_SCATTER in kinds:
        yield "The trials scatter more than the instruments explain, and this is allowed for."
    unresolved = next((w for w in evidence.warnings if w.kind is CaveatKind.NOT_RESOLVED), None)
    if unresolved is not None and unresolved.value < 0:
        yield "The amount consumed comes out below zero, beyond what the instruments explain."
    elif unresolved is not None:
        yield "The amount consumed is too small to be told apart from zero."
    low, high = evidence.experiment.recovery
    if (low, high) != (1.0, 1.0):
        share = f"{100 * low:g} % to {100 * high:g} % of the product"
        yield f"It is assumed that {share} was {evidence.experiment.produced.verb}."
