"""What a class says, sentence by sentence, as plain text; reports and panels put them in order.

Nothing here is escaped: a renderer escapes every sentence as a whole.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from .class_line_sentences import blank_sentences, line_sentence
from .class_result import ClassResult
from .class_spread_sentences import (
    differ_sentence,
    heterogeneity_sentence,
    leave_one_out_sentence,
    names_text,
    outlying_rule,
    outlying_sentence,
)
from .classline import DIFFERENCE_LEVEL
from .classverdict import (
    BLANK_LEVEL,
    Basis,
    ClassCandidate,
    ClassCaveat,
    ClassCaveatKind,
    ClassVerdict,
)
from .experiment import Experiment
from .ratio_set import Interval
from .wording import (
    capitalised,
    joined,
    p_clause,
    p_text,
    shown_range,
    symbol,
)

__all__ = [
    "basis_sentence",
    "blank_sentences",
    "candidate_class_sentence",
    "class_assumptions",
    "class_caveat_sentence",
    "class_ratio_sentence",
    "class_verdict_sentences",
    "groups_sentence",
    "heterogeneity_sentence",
    "leave_one_out_sentence",
    "line_sentence",
    "names_text",
    "outlying_rule",
    "outlying_sentence",
]

_MOST_EXCLUDED = 3


def _ratio_symbol(experiment: Experiment) -> str:
    return f"{symbol(experiment.produced.species)}/{symbol(experiment.consumed.species)}"


def _groups(count: int) -> str:
    return f"{count} group" if count == 1 else f"{count} groups"


def _cover(coverage: float) -> str:
    return f"{100 * coverage:g} % coverage"


def class_verdict_sentences(result: ClassResult) -> str:
    """Say what the groups together let one say about the candidates.

    >>> from stoichkit import experiments
    >>> from stoichkit.class_result import assess_class_file
    >>> found = assess_class_file(experiments.class_file(), "copper-silver")
    >>> class_verdict_sentences(found)
    'Together the 9 groups single out copper(II). Copper(I) is excluded (p < 0.0001).'
    """
    verdict = result.verdict
    if verdict is None:
        return f"There is no verdict of the class as a whole. {result.no_verdict}"
    count = f"the {_groups(len(verdict.groups))}"
    names = list(verdict.verdict.candidates)
    best = max(verdict.candidates.values(), key=lambda c: c.p_value)
    clause = p_clause(best.p_value, verdict.coverage)
    if not names:
        return (
            f"None of the candidates fits {count} together: look for a missing candidate, or for "
            f"a fault that all groups have in common. The nearest is {best.name} ({clause})."
        )
    if len(verdict.candidates) == 1:
        return (
            f"Together {count} fit {names[0]} ({clause}). It is the only candidate given, so "
            "nothing could be excluded: add the candidates it is to be told from."
        )
    out = _excluded([c for c in verdict.candidates.values() if not c.compatible], verdict.coverage)
    if len(names) == 1:
        return f"Together {count} single out {names[0]}. {out}"
    if len(names) == 2:
        return f"Together {count} cannot tell {names[0]} from {names[1]}. {out}"
    return f"Together {count} cannot tell {joined(names)} apart. {out}"


def _excluded(out: Sequence[ClassCandidate], coverage: float) -> str:
    if not out:
        return "No candidate is excluded."
    if len(out) > _MOST_EXCLUDED:
        largest = p_text(max(c.p_value for c in out), coverage)
        bound = f"each with p {largest}" if largest.startswith("<") else f"p at most {largest}"
        return f"The other {len(out)} candidates are excluded ({bound})."
    shown = [f"{c.name} ({p_clause(c.p_value, coverage)})" for c in out]
    if len(out) == 1:
        return capitalised(f"{out[0].name} is excluded ({p_clause(out[0].p_value, coverage)}).")
    return capitalised(f"{joined(shown)} are excluded.")


def groups_sentence(result: ClassResult) -> str:
    """Say how many groups, each by itself, reach which verdict.

    >>> from stoichkit import experiments
    >>> from stoichkit.class_result import assess_class_file
    >>> print(groups_sentence(assess_class_file(experiments.class_file(), "copper-silver")))
    Each by itself: 7 of 9 groups single out a candidate (copper(II) 7), 1 cannot tell, 1 fits
    none.
    """
    evidence = result.evidence
    counts = evidence.counts
    total = len(evidence)
    alone = ", ".join(f"{name} {n}" for name, n in evidence.singled_out.items() if n)
    one = counts["singled_out"]
    parts = [
        f"{one} of {_groups(total)} {'singles' if one == 1 else 'single'} out a candidate"
        + (f" ({alone})" if alone else "")
    ]
    if n := counts["not_told_apart"]:
        parts.append(f"{n} cannot tell")
    if n := counts["none_fits"]:
        parts.append(f"{n} {'fits' if n == 1 else 'fit'} none")
    text = f"Each by itself: {', '.join(parts)}."
    if n := len(evidence.not_assessed):
        text += f" {_groups(n)} could not be assessed."
    return text


def class_ratio_sentence(verdict: ClassVerdict, experiment: Experiment) -> str:
    """Say which mole ratios fit the class.

    >>> from stoichkit import experiments
    >>> from stoichkit.class_result import assess_class_file
    >>> found = assess_class_file(experiments.class_file(), "copper-silver")
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
    return f"Mole ratios {ratio} from {low} to {high} fit the class ({cover}); {source} {estimate}."


def _stretch(piece: Interval, marks: Sequence[float]) -> str:
    low, high = shown_range(piece.low, piece.high, marks)
    return f"from {low if piece.low > 0 else '0'} {f'to {high}' if high else 'up'}"


def basis_sentence(verdict: ClassVerdict) -> str:
    """Say which of the answers the verdict rests on, and why.

    >>> from stoichkit.classamounts import amounts_from_arrays
    >>> from stoichkit.classverdict import class_verdict
    >>> one = amounts_from_arrays([1.0, 2.1, 2.9, 4.2], [1.01, 2.07, 2.9, 4.17], 0.02, 0.02)
    >>> print(basis_sentence(class_verdict(one, candidates={"one": 1, "two": 2})))
    The verdict rests on a common effect: the groups agree within their readings, so all of them
    measure one ratio.
    """
    if verdict.basis is Basis.LINE:
        return (
            "The verdict rests on the slope of the straight line, because its intercept differs "
            f"from zero (p below {BLANK_LEVEL:g}): a constant blank would shift the mean ratio but "
            "not the slope."
        )
    if verdict.basis is Basis.RANDOM:
        return (
            "The verdict rests on random effects: the groups differ by more than their readings "
            f"explain (p below {DIFFERENCE_LEVEL:g}), so the variation between them widens every "
            "test."
        )
    return (
        "The verdict rests on a common effect: the groups agree within their readings, so all of "
        "them measure one ratio."
    )


def candidate_class_sentence(tested: ClassCandidate, verdict: ClassVerdict) -> str:
    """Say what the class says about one candidate, by each of the tests.

    >>> from stoichkit import experiments
    >>> from stoichkit.class_result import assess_class_file
    >>> found = assess_class_file(experiments.class_file(), "copper-silver").verdict
    >>> print(candidate_class_sentence(found.candidates["copper(II)"], found))
    copper(II) fits: p = 0.33 with a common effect, p = 0.67 with random effects, p = 0.84 for the
    slope of the line.
    """
    coverage = verdict.coverage
    said = [
        f"{p_clause(tested.p_common, coverage)} with a common effect",
        f"{p_clause(tested.p_random, coverage)} with random effects",
    ]
    if not math.isnan(tested.p_slope):
        said.append(f"{p_clause(tested.p_slope, coverage)} for the slope of the line")
    return f"{tested.name} {'fits' if tested.compatible else 'is excluded'}: {', '.join(said)}."


def class_caveat_sentence(caveat: ClassCaveat, result: ClassResult) -> str:
    """Say one warning of the verdict of a class, and what to do about it.

    >>> from stoichkit import experiments
    >>> from stoichkit.class_result import assess_class_file
    >>> found = assess_class_file(experiments.class_file(), "copper-silver")
    >>> class_caveat_sentence(found.verdict.caveats[1], found)[:18]
    'plum stands out: t'
    """
    kind = caveat.kind
    kinds = ClassCaveatKind
    verdict = result.verdict
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
            f"With {_groups(int(caveat.value))} the variation between groups is poorly known: more "
            "groups would make the verdict safer."
        )
    return (
        "The amount consumed is not told apart from zero, or below it: let more react, and check "
        "which reading is subtracted from which."
    )


def class_assumptions(verdict: ClassVerdict) -> Iterator[str]:
    """Yield what the verdict of a class takes for granted.

    >>> from stoichkit import experiments
    >>> from stoichkit.class_result import assess_class_file
    >>> found = assess_class_file(experiments.class_file(), "copper-silver")
    >>> len(list(class_assumptions(found.verdict)))
    5
    """
    percent = 100 * verdict.coverage
    yield (
        f"Coverage probability {percent:g} %: a true candidate is excluded at most "
        f"{100 - percent:.4g} % of the time for each group, and for a class whose groups differ by "
        "no more than their readings explain (more often where few groups truly differ)."
    )
    shared = [s.label for s in verdict.amounts.shared_sources]
    if shared:
        text = f"Errors that the groups share are not averaged away: {names_text(shared, most=4)}."
        yield f"{text} An instrument of one name is one instrument, used by all groups."
    yield "A fault that is proportional to the amount and the same in all groups shows nowhere."
    yield (
        "The line decides if its intercept differs from zero with p below "
        f"{BLANK_LEVEL:g}; else random effects count if the groups differ with p of Q below "
        f"{DIFFERENCE_LEVEL:g}; else a common effect."
    )
    yield "No group was left out and no reading corrected; rows that cannot be read were set aside."
