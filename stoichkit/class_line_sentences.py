"""What the straight line through the amounts of a class says, and its intercept as a blank."""

from __future__ import annotations

import math
from collections.abc import Sequence

from .classline import Blank, BlankKind
from .classverdict import ClassCandidate, ClassVerdict
from .experiment import Experiment
from .wording import joined, p_clause, plus_minus, shown_range, species_text

__all__ = ["blank_sentences", "line_sentence"]


def line_sentence(verdict: ClassVerdict) -> str:
    """Say what the straight line through the amounts of the groups shows, or why there is none.

    >>> from stoichkit import experiments
    >>> from stoichkit.class_result import assess_class_file
    >>> found = assess_class_file(experiments.class_file(), "copper-silver")
    >>> print(line_sentence(found.verdict))
    The straight line through the amounts of the groups, with the errors of both, has the slope
    1.93 ± 0.33, which fits copper(II) (p = 0.84) and not copper(I) (p = 0.0024). The points
    scatter about it 2.7 times as much as their readings explain, and its uncertainties are
    widened by that.
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

    >>> from stoichkit import experiments
    >>> from stoichkit.class_result import assess_class_file
    >>> found = assess_class_file(experiments.class_file(), "copper-silver")
    >>> print(blank_sentences(found.verdict.blank, found.experiment))
    Blank: the line meets the axis at +0.04 ± 0.63 mmol of Ag, that is +0.005 ± 0.067 g. That is not
    told apart from zero (p = 0.95): no constant blank is seen, but one of −0.15 g to 0.16 g
    would not show.
    """
    if blank is None:
        return "Blank: not known, since there is no line."
    made = species_text(experiment.produced.species)
    value = _signed(1e3 * blank.amount_mol, 1e3 * blank.u_mol)
    size = f"{value} mmol of {made}"
    low, high = (1e3 * end for end in blank.interval_mol)
    unit = "mmol"
    if math.isfinite(blank.mass_g):
        size += f", that is {_signed(blank.mass_g, blank.u_g)} g"
        gram = blank.u_g / blank.u_mol if blank.u_mol else math.nan
        if math.isfinite(gram):
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


def _signed(value: float, uncertainty: float) -> str:
    text = plus_minus(value, uncertainty)
    return text if value < 0 else f"+{text}"
