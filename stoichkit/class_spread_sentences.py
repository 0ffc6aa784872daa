"""How far the groups of a class agree: differences between them, and groups that stand out.

Nothing here is escaped: a renderer escapes every sentence as a whole.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from .class_result import ClassResult
from .classline import DIFFERENCE_LEVEL
from .classverdict import ClassVerdict
from .pooling import OUTLYING_LEVEL, pool
from .verdict import Verdict, VerdictKind
from .wording import joined, p_clause, two_digits

__all__ = [
    "MOST_LEFT_OUT",
    "differ_sentence",
    "heterogeneity_sentence",
    "leave_one_out_sentence",
    "names_text",
    "outlying_rule",
    "outlying_sentence",
]

MOST_LEFT_OUT = 60
"""Classes up to so many groups are put together again without each group."""
_MOST_NAMES = 12
_FEW = 8


def names_text(names: Sequence[str], *, most: int = _MOST_NAMES) -> str:
    """Write a list of groups; those beyond ``most`` are counted.

    >>> names_text(["red", "blue"]), names_text(["a", "b", "c"], most=2)
    ('red and blue', 'a, b and 1 more')
    """
    listed = list(names)
    if len(listed) <= most:
        return joined(listed)
    return f"{', '.join(listed[:most])} and {len(listed) - most} more"


def heterogeneity_sentence(verdict: ClassVerdict) -> str:
    """Say whether the groups differ by more than their readings explain, and by how much.

    >>> from stoichkit.classamounts import amounts_from_arrays
    >>> from stoichkit.classverdict import class_verdict
    >>> one = amounts_from_arrays([1.0, 2.1, 2.9, 4.2], [1.01, 2.07, 2.9, 4.17], 0.02, 0.02)
    >>> print(heterogeneity_sentence(class_verdict(one, candidates={"one": 1, "two": 2})))
    The groups agree within their readings: Q = 1.13 for 3 degrees of freedom (p = 0.77), I² = 0 %,
    τ² = 0 in the mole ratio.
    """
    h = verdict.heterogeneity
    word = "degree" if h.dof == 1 else "degrees"
    p = p_clause(h.p_heterogeneity, 1 - DIFFERENCE_LEVEL)
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
        f"The groups differ by more than their readings explain: {figures}. About "
        f"{100 * h.i_squared:.0f} % of the variance between them is not from reading the "
        f"instruments.{_without_outlying(verdict)}"
    )


def differ_sentence(verdict: ClassVerdict) -> str:
    """Say in one sentence, without the figures of the test, that the groups differ.

    >>> from stoichkit import experiments
    >>> from stoichkit.class_result import assess_class_file
    >>> found = assess_class_file(experiments.class_file(), "copper-silver")
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
        f"The groups differ by more than their readings explain{size}. Find out what was done "
        f"differently from group to group.{_without_outlying(verdict)}"
    )


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
    """State the rule by which a group is said to stand out.

    >>> from stoichkit.classamounts import amounts_from_arrays
    >>> from stoichkit.classverdict import class_verdict
    >>> one = amounts_from_arrays([1.0, 2.1, 2.9], [1.01, 2.07, 2.9], 0.02, 0.02)
    >>> "0.05 / 3" in outlying_rule(class_verdict(one, candidates={"one": 1, "two": 2}))
    True
    """
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

    >>> from stoichkit import experiments
    >>> from stoichkit.class_result import assess_class_file
    >>> found = assess_class_file(experiments.class_file(), "copper-silver")
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

    >>> from stoichkit import experiments
    >>> from stoichkit.class_result import assess_class_file
    >>> found = assess_class_file(experiments.class_file(), "copper-silver")
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
    said = joined([f"without {name} it {_short_verdict(v)}" for name, v in deciding.items()])
    return f"The verdict hangs on {names_text(list(deciding))}: {said}."


def _short_verdict(verdict: Verdict) -> str:
    if verdict.kind is VerdictKind.NONE_FITS:
        return "fits no candidate"
    if verdict.kind is VerdictKind.SINGLED_OUT:
        return f"singles out {verdict.candidates[0]}"
    return f"cannot tell {joined(list(verdict.candidates))} apart"
