"""What a class says, sentence by sentence, as plain text; reports and panels put them in order.

Nothing here is escaped: a renderer escapes every sentence as a whole.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from ..decision.routes import SIDES
from ..decision.sentences import agreement_sentences, routes_disagree
from ..decision.statement import would
from ..decision.verdict import VerdictKind
from ..experiments.parts import Variation
from ..experiments.record import Experiment
from ..measurement.buoyancy import NOTHING
from ..text.wording import (
    joined,
    names_text,
    p_clause,
    plus_minus,
    shown_range,
    species_text,
    symbol,
    two_digits,
)
from ..uncertainty import entry
from ..uncertainty.pooling import OUTLYING_LEVEL, pool
from ..uncertainty.ratio_set import Interval
from .amounts import DIFFERENCE_LEVEL, Blank, BlankKind
from .data import ClassData
from .outlook import ClassOutlook
from .records import RowUse
from .result import ClassResult
from .statement import (
    MOST_LEFT_OUT,
    concluded_by,
    differ_p,
    groups_text,
    statement_of_class,
)
from .verdict import (
    BLANK_LEVEL,
    LIKELY_BLANK_LEVEL,
    Basis,
    ClassCandidate,
    ClassCaveat,
    ClassCaveatKind,
    ClassVerdict,
)

_MOST_EXCLUDED = 3
_FEW = 8
_CANNOT = (VerdictKind.CANNOT_BE_JUDGED,)


def heterogeneity_sentence(verdict: ClassVerdict) -> str:
    """Say whether the groups differ by more than their readings explain, and by how much.

    >>> from stoichkit.classroom.amounts import amounts_from_arrays
    >>> from stoichkit.classroom.verdict import class_verdict
    >>> one = amounts_from_arrays([1.0, 2.1, 2.9, 4.2], [1.01, 2.07, 2.9, 4.17], 0.02, 0.02)
    >>> print(heterogeneity_sentence(class_verdict(one, candidates={"one": 1, "two": 2})))
    The groups agree within their readings: Q = 1.13 for 3 degrees of freedom (p = 0.77), I² = 0 %,
    τ² = 0 in the mole ratio.
    """
    h = verdict.heterogeneity
    word = "degree" if h.dof == 1 else "degrees"
    p = differ_p(verdict)
    spread = verdict.ratio_spread
    q = f"{h.q:.0f}" if h.q >= 100 else f"{h.q:.3g}"
    tau = two_digits(spread**2) if spread > 0 else "0"
    figures = (
        f"Q = {q} for {h.dof} {word} of freedom ({p}), I² = {100 * h.i_squared:.0f} %, "
        f"τ² = {tau} in the mole ratio"
    )
    if h.p_heterogeneity >= DIFFERENCE_LEVEL:
        return f"The groups agree within their readings: {figures}."
    return (
        f"The groups differ by more than {_explained(verdict)}: {figures}. About "
        f"{100 * h.i_squared:.0f} % of the variance between them is not from reading the "
        f"instruments.{_without_outlying(verdict)}"
    )


def differ_sentence(verdict: ClassVerdict) -> str:
    """Say in one sentence, without the figures of the test, that the groups differ.

    >>> from stoichkit import assess_class, experiments
    >>> found = assess_class(experiments.class_file(), "copper-silver")
    >>> print(differ_sentence(found.verdict))
    The groups differ by more than their readings explain, by a standard deviation of about 0.25
    in the mole ratio. Find out what was done differently from group to group. Leaving plum aside,
    the others agree (p = 0.46).
    """
    spread = verdict.ratio_spread
    size = (
        f", by a standard deviation of about {two_digits(spread)} in the mole ratio"
        if spread > 0
        else ""
    )
    return (
        f"The groups differ by more than {_explained(verdict)}{size}. Find out what was done "
        f"differently from group to group.{_without_outlying(verdict)}"
    )


def _explained(verdict: ClassVerdict) -> str:
    """Say what the groups may differ by before their scatter is called more than that."""
    variation = verdict.variation
    if isinstance(variation, Variation) and not variation.unknown:
        return f"their readings and the {100 * variation.relative:.3g} % stated explain"
    return "their readings explain"


def _without_outlying(verdict: ClassVerdict) -> str:
    """Say whether the groups agree once those that stand out are left aside."""
    rest = [i for i, name in enumerate(verdict.groups) if name not in verdict.outlying]
    if len(rest) == len(verdict.groups) or len(rest) < 2:
        return ""
    x, y = verdict.amounts.best_direction()
    d, v = verdict.amounts.discrepancies(x, y), verdict.amounts.own.along(x, y)
    p = pool(d[rest], v[rest], method="common", interval="normal").p_heterogeneity
    agree = "agree" if p >= DIFFERENCE_LEVEL else "still differ"
    return (
        f" Leaving {names_text(list(verdict.outlying))} aside, the others {agree} "
        f"({p_clause(p, 1 - DIFFERENCE_LEVEL)})."
    )


def outlying_rule(verdict: ClassVerdict) -> str:
    """State the rule by which a group is said to stand out."""
    count = len(verdict.groups)
    if count < 3:
        return "With two groups neither can be said to stand out."
    text = (
        "Rule: a group stands out if its distance from the pooled answer of the others, in "
        f"standard uncertainties, has p below {OUTLYING_LEVEL:g} / {count} (Bonferroni), so that "
        f"at most {100 * OUTLYING_LEVEL:g} % of classes without such a group show one. It stays "
        "in the pooled answer; two such groups can hide each other."
    )
    if count < _FEW:
        text += f" With fewer than {_FEW} groups that truly differ, more are marked than that."
    return text


def outlying_sentence(result: ClassResult, name: str) -> str:
    """Say how a group stands out from the others.

    >>> from stoichkit import assess_class, experiments
    >>> found = assess_class(experiments.class_file(), "copper-silver")
    >>> print(outlying_sentence(found, "plum"))
    plum stands out: too little product for what it consumed, by 6.9 standard uncertainties
    against the other groups. Look at its slips and at what it did differently before leaving it
    out.
    """
    verdict = result.verdict
    residual = verdict.outlying.get(name, math.nan) if verdict is not None else math.nan
    side = "much" if residual > 0 else "little"
    what = "its slips and at what it did" if name in result.slips else "what it did"
    return (
        f"{name} stands out: too {side} product for what it consumed, by {abs(residual):.1f} "
        f"standard uncertainties against the other groups. Look at {what} differently before "
        "leaving it out."
    )


def leave_one_out_sentence(verdict: ClassVerdict) -> str:
    """Say whether the verdict hangs on a single group.

    >>> from stoichkit import assess_class, experiments
    >>> found = assess_class(experiments.class_file(), "copper-silver")
    >>> leave_one_out_sentence(found.verdict)
    'The verdict hangs on no single group: it is the same without any one of them.'
    """
    count = len(verdict.groups)
    if count < 3:
        return "With two groups, none can be left out."
    if count > MOST_LEFT_OUT:
        return f"Leaving out one group at a time was not tried with more than {MOST_LEFT_OUT}."
    deciding = verdict.deciding_groups
    if not deciding:
        return "The verdict hangs on no single group: it is the same without any one of them."
    total = len(verdict.candidates)
    ways = [(name, concluded_by(v, total, one=True)) for name, v in deciding.items()]
    said = joined([f"without {name} it {found}" for name, found in ways])
    return f"The verdict hangs on {names_text(list(deciding))}: {said}."


def concluded_without(verdict: ClassVerdict, name: str) -> str:
    """Say what a class concludes without one group; "" where none can be left out.

    >>> from stoichkit import assess_class, experiments
    >>> found = assess_class(experiments.class_file(), "copper-silver").verdict
    >>> concluded_without(found, "plum")
    'Without plum the class would still single out copper(II).'
    """
    if not 2 < len(verdict.groups) <= MOST_LEFT_OUT or name not in verdict.groups:
        return ""
    rest, total = verdict.without[name], len(verdict.candidates)
    found = concluded_by(rest, total)
    same = (rest.kind, rest.candidates) == (verdict.verdict.kind, verdict.verdict.candidates)
    return f"Without {name} the class {would(found, still=same)}."


def line_sentence(verdict: ClassVerdict) -> str:
    """Say what the straight line through the amounts of the groups shows, or why there is none.

    >>> from stoichkit import assess_class, experiments
    >>> found = assess_class(experiments.class_file(), "copper-silver")
    >>> print(line_sentence(found.verdict))
    The straight line through the amounts of the groups, with the errors of both, has the slope
    1.64 ± 0.28, which fits copper(II) (p = 0.26) and copper(I) (p = 0.055). The points scatter
    about it 2.7 times as much as their readings explain, and its uncertainties are widened by
    that.
    """
    line = verdict.line
    if line is None:
        return f"No straight line was drawn, so a constant blank cannot be seen. {verdict.no_line}"
    coverage = verdict.coverage
    tested = verdict.candidates.values()
    fits = [c for c in tested if c.p_slope >= 1 - coverage]
    out = [c for c in tested if c.p_slope < 1 - coverage]
    said = (
        "The straight line through the amounts of the groups, with the errors of both, has the "
        f"slope {plus_minus(line.slope, line.u_slope_total)}"
    )
    out.sort(key=lambda c: abs(c.tested_ratio - line.slope))  # where all p are 0, the nearest first
    parts = [_with_p(group, coverage) for group in (fits, out)]
    if fits:
        said += f", which fits {parts[0]}{f' and not {parts[1]}' if out else ''}"
    elif out:
        said += f", which fits none of the candidates, not even {_with_p(out, coverage, most=1)}"
    said += "."
    if line.inflated:
        said += (
            f" The points scatter about it {line.scatter:.1f} times as much as their readings "
            "explain, and its uncertainties are widened by that."
        )
    return said


def _with_p(tested: Sequence[ClassCandidate], coverage: float, *, most: int = 4) -> str:
    if not tested:
        return ""
    ranked = sorted(tested, key=lambda c: -c.p_slope)[:most]
    shown = [f"{c.name} ({p_clause(c.p_slope, coverage)})" for c in ranked]
    rest = len(tested) - len(shown)
    return joined(shown) + (f" (and {rest} more)" if rest and most > 1 else "")


def blank_sentences(blank: Blank | None, experiment: Experiment) -> str:
    """Say what the intercept of the line means as a constant blank.

    >>> from stoichkit import assess_class, experiments
    >>> found = assess_class(experiments.class_file(), "copper-silver")
    >>> print(blank_sentences(found.verdict.blank, found.experiment))
    Blank: the line meets the axis at +0.57 ± 0.52 mmol of Ag, that is +0.062 ± 0.056 g. That is not
    told apart from zero (p = 0.31): no constant blank is seen, but one of −0.07 g to 0.19 g
    would not show.
    """
    if blank is None:
        return "Blank: not known, since there is no line."
    low, high = (1e3 * end for end in blank.interval_mol)
    unit, size = "mmol", blank_size(blank, experiment, also_mmol=True)
    gram = blank.u_g / blank.u_mol if blank.u_mol else math.nan
    if math.isfinite(blank.mass_g) and math.isfinite(gram):
        low, high = (gram * end for end in blank.interval_mol)
        unit = "g"
    a, b = shown_range(low, high, [0.0])
    said = f"Blank: the line meets the axis at {size}."
    p = p_clause(blank.p_value)
    if blank.kind is BlankKind.NOT_SEEN:
        ends = f"{a.replace('-', '−')} {unit} to {b} {unit}"
        return (
            f"{said} That is not told apart from zero ({p}): no constant blank is seen, but one of "
            f"{ends} would not show."
        )
    return f"{said} That differs from zero ({p}). It means {blank.kind}."


def blank_size(blank: Blank, experiment: Experiment, *, also_mmol: bool = False) -> str:
    """Say how large a blank is, in g of the product or, where that has no mass, in mmol."""
    made = species_text(experiment.produced.species)
    mass = f"{_signed(blank.mass_g, blank.u_g)} g" if math.isfinite(blank.mass_g) else ""
    if mass and not also_mmol:
        return f"{mass} of {made}"
    mmol = f"{_signed(1e3 * blank.amount_mol, 1e3 * blank.u_mol)} mmol of {made}"
    return f"{mmol}, that is {mass}" if mass else mmol


def _signed(value: float, uncertainty: float) -> str:
    text = plus_minus(value, uncertainty)
    return text if value < 0 else f"+{text}"


def _ratio_symbol(experiment: Experiment) -> str:
    return f"{symbol(experiment.produced.species)}/{symbol(experiment.consumed.species)}"


def _cover(coverage: float) -> str:
    return f"{100 * coverage:g} % coverage"


def class_verdict_sentences(result: ClassResult) -> str:
    """Say what the groups together let one say about the candidates.

    >>> from stoichkit import assess_class, experiments
    >>> found = assess_class(experiments.class_file(), "copper-silver")
    >>> class_verdict_sentences(found)
    'Together the 9 groups single out copper(II). Copper(I) is excluded (p < 0.0001).'
    """
    verdict = entry.record("result", result, ClassResult).verdict
    waits = waiting_sentence(result.data)
    if verdict is not None:
        return f"{statement_of_class(verdict).headline} {waits}".rstrip()
    said = f"There is no verdict of the class as a whole. {result.no_verdict}"
    said = f"{said} {groups_sentence(result)}" if len(result.evidence) == 1 else said
    return f"{said} {waits}".rstrip()


def waiting_sentence(classdata: ClassData) -> str:
    """Say how many rows of the file wait for an answer; "" if none does.

    >>> from stoichkit import experiments, load_class
    >>> text = "group,trial,wire before,wire after,paper,paper + silver\\n"
    >>> text += "red,1,2.94,2.82,0.75,1.15\\n" * 2
    >>> waiting_sentence(load_class(text.encode(), experiments.load("copper-silver")))
    '1 row of the file waits for an answer and is not counted here (1 question).'
    """
    rows, asked = classdata.waiting, len(classdata.open_questions)
    if not rows:
        return ""
    many = "1 row of the file waits" if rows == 1 else f"{rows} rows of the file wait"
    count = "1 question" if asked == 1 else f"{asked} questions"
    return f"{many} for an answer and {'is' if rows == 1 else 'are'} not counted here ({count})."


def groups_sentence(result: ClassResult) -> str:
    """Say how many groups, each by itself, reach which verdict.

    >>> from stoichkit import assess_class, experiments
    >>> print(groups_sentence(assess_class(experiments.class_file(), "copper-silver")))
    Each by itself: 7 of 9 groups single out a candidate (copper(II) 7), 1 cannot tell, 1 fits
    none.
    """
    evidence = entry.record("result", result, ClassResult).evidence
    counts = evidence.counts
    total = len(evidence)
    if total == 1:
        (name,) = evidence.names
        found = concluded_by(result.group(name).verdict, len(evidence.candidates), one=True)
        return f"By itself {name} {found}."
    alone = ", ".join(f"{name} {n}" for name, n in evidence.singled_out.items() if n)
    one = counts["singled_out"]
    parts = [
        f"{one} of {groups_text(total)} {'singles' if one == 1 else 'single'} out a candidate"
        + (f" ({alone})" if alone else "")
    ]
    if n := counts["not_told_apart"]:
        parts.append(f"{n} cannot tell")
    if n := counts["none_fits"]:
        parts.append(f"{n} {'fits' if n == 1 else 'fit'} none")
    if n := counts["cannot_be_judged"]:
        named = [g for g, k in zip(evidence.names, evidence.kinds, strict=True) if k in _CANNOT]
        parts.append(f"{n} cannot be judged ({names_text(named, most=_MOST_EXCLUDED)})")
    text = f"Each by itself: {', '.join(parts)}."
    if n := len(evidence.not_assessed):
        text += f" {groups_text(n)} could not be assessed."
    return text


def class_ratio_sentence(verdict: ClassVerdict, experiment: Experiment) -> str:
    """Say which mole ratios fit the class.

    >>> from stoichkit import assess_class, experiments
    >>> found = assess_class(experiments.class_file(), "copper-silver")
    >>> print(class_ratio_sentence(found.verdict, found.experiment))
    Mole ratios n(Ag)/n(Cu) from 1.77 to 2.20 fit the class (95 % coverage); the mean amounts give
    1.96.
    """
    ratio, cover = _ratio_symbol(experiment), _cover(verdict.coverage)
    marks = [float(c.candidate.ratio) for c in verdict.candidates.values()]
    found = verdict.ratio_set
    if not found.intervals:
        return f"No mole ratio {ratio} from 0 up fits the class ({cover})."
    if found.kind != "bounded":
        pieces = joined([_stretch(piece, marks) for piece in found.intervals])
        return f"Mole ratios {ratio} {pieces} fit the class ({cover})."
    low, high = shown_range(found.low, found.high, marks)
    estimate = f"{verdict.ratio:.{len(low.partition('.')[2])}f}"
    source = "the slope of the line is" if verdict.basis is Basis.LINE else "the mean amounts give"
    said = f"Mole ratios {ratio} from {low} to {high} fit the class ({cover}); {source} {estimate}."
    fitting = [c for c in verdict.candidates.values() if c.name in verdict.verdict.candidates]
    moved = [c for c in fitting if float(c.candidate.ratio) not in found]
    if not moved:
        return said
    names = joined([f"{c.name} fits at {ratio_tested(c)}" for c in moved])
    return f"{said} These are ratios as measured: with {allowance_text(verdict)}, {names}."


def ratio_tested(tested: ClassCandidate) -> str:
    """Write the ratio at which a candidate was tested."""
    return f"{tested.tested_ratio:.6g}"


def allowance_text(verdict: ClassVerdict) -> str:
    """Name what lets a candidate fit at another ratio than its own; "" for nothing."""
    parts = ["the recovery stated"] if verdict.recovery != (1.0, 1.0) else []
    parts += ["the buoyancy of air"] if verdict.air != NOTHING else []
    return f"{joined(parts)} allowed for" if parts else ""


def _stretch(piece: Interval, marks: Sequence[float]) -> str:
    low, high = shown_range(piece.low, piece.high, marks)
    return f"from {low if piece.low > 0 else '0'} {f'to {high}' if high else 'up'}"


def basis_sentence(verdict: ClassVerdict) -> str:
    """Say which of the answers the verdict rests on, and why."""
    if verdict.basis is Basis.LINE:
        return (
            "The verdict rests on the slope of the straight line, because its intercept differs "
            f"from zero (p below {BLANK_LEVEL:g}): a constant blank would shift the mean ratio but "
            "not the slope."
        )
    if verdict.basis is Basis.EITHER:
        return (
            "The verdict rests on the mean of the groups and on the slope of the straight line, "
            "whichever excludes less: by the readings a constant blank is there, by the scatter "
            "of the groups it is likely but not certain."
        )
    if verdict.basis is Basis.SCATTER and not verdict.stated:
        return (
            "The verdict rests on the readings and on the scatter of the groups, whichever "
            "excludes less: groups do differ, and by how much is unknown."
        )
    if verdict.basis is Basis.SCATTER:
        return (
            "The verdict rests on the readings and on the scatter of the groups, whichever "
            "excludes less: the groups differ by more than their readings and what was stated "
            f"explain (p below {DIFFERENCE_LEVEL:g})."
        )
    return (
        "The verdict rests on the readings alone, as how much the groups differ was stated, and "
        "they agree with that."
    )


def candidate_class_sentence(tested: ClassCandidate, verdict: ClassVerdict) -> str:
    """Say what the class says about one candidate, by each of the tests.

    >>> from stoichkit import assess_class, experiments
    >>> found = assess_class(experiments.class_file(), "copper-silver").verdict
    >>> print(candidate_class_sentence(found.candidates["copper(II)"], found))
    copper(II) fits: p = 0.33 by the readings, p = 0.67 by the scatter of the groups, p = 0.26 for
    the slope of the line.
    """
    coverage = verdict.coverage
    said = [
        f"{p_clause(tested.p_common, coverage)} by the readings",
    ]
    if not math.isnan(tested.p_scatter):
        said.append(f"{p_clause(tested.p_scatter, coverage)} by the scatter of the groups")
    if not math.isnan(tested.p_slope):
        said.append(f"{p_clause(tested.p_slope, coverage)} for the slope of the line")
    return f"{tested.name} {'fits' if tested.compatible else 'is excluded'}: {', '.join(said)}."


def by_route_sentence(verdict: ClassVerdict) -> str:
    """Say by which routes each candidate is tested; "" unless some routes disagree.

    >>> from stoichkit import assess_class, experiments
    >>> by_route_sentence(assess_class(experiments.class_file(), "copper-silver").verdict)
    ''
    """
    if all(one.agree for one in verdict.agreements):
        return ""
    said = []
    for tested in verdict.candidates.values():
        by = [
            f"the amount {side} by route {route} alone"
            for side, route in zip(SIDES, tested.tested_by, strict=True)
            if route
        ]
        said.append(f"{tested.name} with {joined(by) if by else 'all routes together'}")
    return f"Each candidate is tested by what agrees best with it: {joined(said)}."


def class_route_sentences(verdict: ClassVerdict, experiment: Experiment) -> list[str]:
    """Say of an amount found by several routes what each gives of the class, and if they agree.

    >>> from stoichkit import assess_class, experiments
    >>> found = assess_class(experiments.class_file(), "copper-silver")
    >>> class_route_sentences(found.verdict, found.experiment)
    []
    """
    models = (experiment.consumed, experiment.produced)
    return agreement_sentences(verdict.agreements, models, 1e3, "mmol")


def class_caveat_sentence(caveat: ClassCaveat, result: ClassResult) -> str:
    """Say one warning of the verdict of a class, and what to do about it."""
    kind = caveat.kind
    kinds = ClassCaveatKind
    verdict = result.verdict
    if kind is kinds.ROUTES_DISAGREE:
        lab = result.experiment
        model = lab.consumed if caveat.subject == "consumed" else lab.produced
        return f"Over all groups: {routes_disagree(symbol(model.species), caveat.value)}"
    if kind is kinds.OUTLYING:
        return outlying_sentence(result, caveat.subject)
    if kind is kinds.HETEROGENEOUS and verdict is not None:
        return differ_sentence(verdict)
    if kind is kinds.NO_LINE:
        return (
            "A constant blank (wet paper, residue, a constant loss) cannot be seen in this class. "
            f"{caveat.subject} Let groups use different amounts."
        )
    if kind is kinds.BLANK and verdict is not None:
        return f"A constant blank was found. {blank_sentences(verdict.blank, result.experiment)}"
    if kind is kinds.POSSIBLE_BLANK:
        return (
            "A constant blank is likely but not certain, and it may have moved the pooled ratio: "
            "dry to constant mass, run a blank, or use amounts further apart."
        )
    if kind is kinds.DISAGREE:
        return (
            f"The slope of the line excludes {caveat.subject}, which the pooled amounts single "
            f"out ({p_clause(caveat.value)}): suspect a blank, and do not rest the case on either."
        )
    if kind is kinds.FEW_GROUPS:
        return (
            f"With {groups_text(int(caveat.value))} the variation between groups is poorly known: "
            "more groups would make the verdict safer."
        )
    if kind is kinds.SECOND_OPINION and verdict is not None and verdict.refuted:
        return (
            "By the readings alone the verdict would be another. The scatter of the groups counts, "
            "because they differ by more than was stated: do not rest the case on few groups, and "
            "find out whether what was stated of them holds."
        )
    if kind is kinds.SECOND_OPINION and verdict is not None and verdict.stated:
        return (
            "By the scatter of the groups alone the verdict would be another. The readings decide, "
            "because how much the groups differ was stated: with more groups the scatter would "
            "show whether that holds."
        )
    if kind is kinds.SECOND_OPINION:
        return (
            "The readings alone and the scatter of the groups alone lead to different verdicts: "
            "take more groups, or state how much groups differ if earlier classes have shown it "
            "(between_groups of [variation] in the experiment file)."
        )
    if kind is kinds.NO_SCATTER:
        return (
            "The groups agree exactly, so their scatter cannot show how much they differ: the "
            "readings alone decide."
        )
    return (
        "The amount consumed is not told apart from zero, or below it: let more react, and check "
        "which reading is subtracted from which."
    )


def class_assumptions(verdict: ClassVerdict, experiment: Experiment) -> Iterator[str]:
    """Yield what the verdict of a class takes for granted."""
    percent = 100 * verdict.coverage
    as_stated = verdict.stated and not verdict.refuted
    yield (
        f"Coverage probability {percent:g} %: a true candidate is excluded at most "
        f"{100 - percent:.4g} % of the time, for each group by itself if its trials differ as "
        "stated, and for the class "
        f"{'if they differ as stated' if as_stated else 'however much its groups truly differ'}."
    )
    yield _variation_sentence(verdict)
    yield from _allowances(verdict, experiment)
    shared = [s.label for s in verdict.amounts.shared_sources]
    if shared:
        text = f"Errors that the groups share are not averaged away: {names_text(shared, most=4)}."
        yield f"{text} An instrument of one name is one instrument, used by all groups."
    yield "A fault that is proportional to the amount and the same in all groups shows nowhere."
    yield (
        "The slope of the line decides if its intercept differs from zero with p below "
        f"{BLANK_LEVEL:g}; else the mean discrepancy of all groups; both where that holds by the "
        f"readings alone, and with the scatter of the groups only with p below "
        f"{LIKELY_BLANK_LEVEL:g}."
    )
    yield "No group was left out and no reading corrected; rows that cannot be read were set aside."


def _allowances(verdict: ClassVerdict, experiment: Experiment) -> Iterator[str]:
    """Yield what the recovery and the buoyancy of air allow each candidate."""
    if verdict.recovery != (1.0, 1.0):
        low, high = verdict.recovery
        yield (
            f"Between {100 * low:g} % and {100 * high:g} % of the product was recovered and "
            "weighed: each candidate is tested at the ratio in that range that agrees best."
        )
    if verdict.air != NOTHING:
        low, high = verdict.air
        models = (experiment.consumed, experiment.produced)
        names = joined([species_text(m.substance) for m in models if m.unknown_air() != NOTHING])
        ends = f"{100 * (low - 1):+.2f} % to {100 * (high - 1):+.2f} %".replace("-", "−")
        yield (
            f"No density is stated of {names}, so the buoyancy of air may have changed the mole "
            f"ratio of all groups alike, by {ends}: each candidate is tested at the value in that "
            "range that agrees best. State density_g_per_cm3 in the experiment file to narrow it."
        )


def _variation_sentence(verdict: ClassVerdict) -> str:
    """Say how much the groups are taken to differ, and whether their scatter bears that out."""
    variation = verdict.variation
    counts = "their scatter counts only where it shows more than that."
    if verdict.refuted:
        counts = f"they differ by more ({differ_p(verdict)}), so their scatter counts."
    if isinstance(variation, str):
        return (
            "The groups are taken to differ by nothing but their readings, or what was stated of "
            f"their trials; {counts}"
        )
    if variation.unknown:
        return (
            "How much the groups truly differ is taken as unknown. Where earlier classes have "
            "shown it, state it: between_groups of [variation] in the experiment file."
        )
    known = "" if variation.from_trials is None else f", known from {variation.from_trials} earlier"
    return (
        f"The groups are taken to differ by a standard deviation of {100 * variation.relative:.3g} "
        f"% of the product{known}; {counts}"
    )


def outlook_sentences(outlook: ClassOutlook, *, instruments: bool = True) -> Iterator[str]:
    """Yield what more groups and, unless left out, finer or other instruments would add.

    >>> from stoichkit.classroom.amounts import amounts_from_arrays
    >>> from stoichkit.classroom import class_outlook, class_verdict
    >>> few = amounts_from_arrays([1.0, 1.2], [1.8, 1.9], 0.2, 0.6, shared_produced=0.05)
    >>> found = class_verdict(few, candidates={"copper(I)": 1, "copper(II)": 2})
    >>> for sentence in outlook_sentences(class_outlook(found)):
    ...     print(sentence)
    If copper(II) is true, the chance that 2 groups like these single it out from copper(I), its
    hardest rival, is 0.12.
    More groups: 7 like these would reach a chance of 0.9.
    Finer instruments: with every display ten times finer the same groups would reach 0.12.
    """
    now = outlook.rows[0]
    yield (
        f"If {outlook.truth} is true, the chance that {now.groups:g} groups like these single it "
        f"out from {outlook.rival}, its hardest rival, is {_chance(now.chance)}."
    )
    enough = now.chance >= outlook.target
    yield _more_groups(outlook, enough)
    if instruments:
        yield _finer(outlook, enough)
    if enough or not instruments:
        return
    if outlook.largest_shared and outlook.shared_u_mol**2 > 0.1 * now.u_mol**2:
        if math.isnan(outlook.copies_needed):
            yield (
                f"Another instrument or stock: {outlook.largest_shared} is the largest error that "
                "the groups share, but sharing it between more copies would not be enough."
            )
        elif outlook.copies_needed > 1:
            yield (
                f"Another instrument or stock: {outlook.largest_shared} is the largest error that "
                f"the groups share; spread over {outlook.copies_needed:.0f} independent copies "
                f"the same groups would reach {outlook.target:g}."
            )


def _more_groups(outlook: ClassOutlook, enough: bool) -> str:
    limit = outlook.rows[-1]
    if enough:
        return (
            f"More groups: not needed for this question. With {outlook.rows[1].groups:g} the "
            "standard uncertainty of the pooled discrepancy would fall from "
            f"{two_digits(1e3 * outlook.rows[0].u_mol)} mmol to "
            f"{two_digits(1e3 * outlook.rows[1].u_mol)} mmol."
        )
    if math.isnan(outlook.groups_needed):
        return (
            f"More groups: no number is enough. The chance levels off at {_chance(limit.chance)}, "
            f"short of {outlook.target:g}, because all groups share {outlook.largest_shared}."
        )
    return (
        f"More groups: {outlook.groups_needed:.0f} like these would reach a chance of "
        f"{outlook.target:g}."
    )


def _finer(outlook: ClassOutlook, enough: bool) -> str:
    head = "Finer instruments: with every display ten times finer"
    if not enough:
        return f"{head} the same groups would reach {_chance(outlook.finer.chance)}."
    u, now = 1e3 * outlook.finer.u_mol, 1e3 * outlook.rows[0].u_mol
    if u > 0.9 * now:
        return (
            "Finer instruments: they would hardly help, since the displays add little to what "
            "differs between the groups."
        )
    return f"{head} it would fall to {two_digits(u)} mmol."


def _chance(value: float) -> str:
    return "below 0.01" if value < 0.01 else f"{value:.2f}"


def file_sentence(result: ClassResult) -> str:
    """Say how many rows of the file were used and what became of the others.

    >>> from stoichkit import assess_class, experiments
    >>> print(file_sentence(assess_class(experiments.class_file(), "copper-silver")))
    The file (CSV, UTF-8, separated by commas) has 20 rows: 17 used, 2 set aside, 1 header. It was
    not changed.
    """
    data = result.data
    order = (
        RowUse.USED,
        RowUse.WAITING,
        RowUse.SET_ASIDE,
        RowUse.HEADER,
        RowUse.UNITS,
        RowUse.ABOVE,
        RowUse.BLANK,
    )
    parts = [f"{data.uses[use]} {use}" for use in order if data.uses.get(use)]
    name = f"The file {data.source}" if data.source and not result.coded else "The file"
    total = sum(data.uses.values())
    return f"{name} ({data.layout}) has {total} rows: {', '.join(parts)}. It was not changed."


def balances_sentence(data: ClassData) -> str:
    """Say which groups were weighed on other balances than the lab's; "" if none was.

    >>> from stoichkit import experiments, load_class
    >>> text = "group,wire before,wire after,paper,paper + silver,balance\\n"
    >>> text += "red,2.94,2.82,0.75,1.15,\\nblue,2.9,2.7,0.8,1.5,0.1 g\\n"
    >>> print(balances_sentence(load_class(text.encode(), experiments.load("copper-silver"))))
    Weighed on a balance reading to 0.1 g: blue. All others: on that of the lab, to 0.01 g.
    """
    by_balance: dict[str | None, list[str]] = {}
    for group, name in zip(data.names, data.weighed_on, strict=True):
        by_balance.setdefault(name, []).append(group)
    others = {name: groups for name, groups in by_balance.items() if name != ""}
    if not others:
        return ""
    said = []
    for name, groups in others.items():
        step = "" if name is None else f"a balance reading to {data.balance(name).readability:g} g"
        said.append(f"{step or 'several balances'}: {names_text(groups)}")
    rest = f" All others: on that of the lab, to {data.balance('').readability:g} g."
    return f"Weighed on {'; on '.join(said)}.{rest if '' in by_balance else ''}"


def not_assessed_sentences(result: ClassResult) -> Iterator[str]:
    """Yield why groups could not be assessed, those with one reason together."""
    by_reason: dict[str, list[str]] = {}
    for name, reason in result.evidence.not_assessed.items():
        by_reason.setdefault(reason, []).append(name)
    for reason, names in by_reason.items():
        yield f"Not assessed: {names_text(names)}. {reason[:1].upper()}{reason[1:]}"
