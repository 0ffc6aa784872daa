"""The verdict: what the compatibility of each candidate lets one say, with its own warnings."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from ..uncertainty import entry


class VerdictKind(StrEnum):
    """What the readings let one say about the candidates."""

    SINGLED_OUT = "singled_out"
    NOT_TOLD_APART = "not_told_apart"
    NONE_FITS = "none_fits"


class CaveatKind(StrEnum):
    """A reason to read the verdict with care."""

    NOT_RESOLVED = "the amount consumed is not told apart from zero"
    NOT_LINEAR = "first-order sensitivities fail the comparison of JCGM 101 clause 8"
    EXCESS_SCATTER = "the trials scatter more than the instruments explain"
    OVER_100 = "the yield is over 100 % beyond its uncertainty"
    SINGLE_TRIAL = "a single trial"
    DOMINANT_SOURCE = "one source dominates the budget"
    ASSUMPTION = "an assumption was made about an instrument"
    QUESTION = "a reading looks odd"


@dataclass(frozen=True, slots=True)
class Caveat:
    """One warning, as data; the report turns it into a sentence.

    Attributes
    ----------
    kind : CaveatKind
    subject : str
        What it is about: a source, a candidate, an instrument's assumption, a reading.
    value : float
        The figure behind it (a share, a percentage, a ratio of spreads); nan when there is none.
    """

    kind: CaveatKind
    subject: str = ""
    value: float = float("nan")


@dataclass(frozen=True, slots=True)
class Verdict:
    """What these readings say: one candidate, several not told apart, or none.

    Attributes
    ----------
    kind : VerdictKind
        ``"singled_out"``: exactly one candidate is compatible; ``"not_told_apart"``: two or
        more; ``"none_fits"``: none — look for a missing candidate or a systematic effect.
    candidates : tuple of str
        Names of the compatible candidates, in the order given.
    coverage : float
        Coverage probability at which they were tested.
    warnings : tuple of Caveat

    Examples
    --------
    >>> verdict_of([("copper(I)", False), ("copper(II)", True)], 0.95).kind.value
    'singled_out'
    """

    kind: VerdictKind
    candidates: tuple[str, ...]
    coverage: float
    warnings: tuple[Caveat, ...] = ()


def verdict_of(
    compatible: Iterable[tuple[str, bool]], coverage: float, warnings: Iterable[Caveat] = ()
) -> Verdict:
    """Return the verdict that follows from which candidates are compatible.

    >>> verdict_of([("copper(I)", False), ("copper(II)", True)], 0.95).kind
    <VerdictKind.SINGLED_OUT: 'singled_out'>
    """
    names = tuple(name for name, ok in compatible if ok)
    kind = {0: VerdictKind.NONE_FITS, 1: VerdictKind.SINGLED_OUT}.get(
        len(names), VerdictKind.NOT_TOLD_APART
    )
    return Verdict(kind, names, coverage, tuple(warnings))


_GRADES = (
    (3.0, "not worth more than a bare mention"),
    (20.0, "positive"),
    (150.0, "strong"),
)


def evidence_grade(likelihood_ratio: float) -> str:
    """Return the words printed beside a likelihood ratio of 1 or more.

    Source: R. E. Kass and A. E. Raftery, J. Am. Stat. Assoc. 90 (1995) 773-795, the scale by
    the ratio itself (1 to 3, 3 to 20, 20 to 150, above).

    >>> evidence_grade(12.0)
    'positive'
    """
    likelihood_ratio = entry.number("likelihood_ratio", likelihood_ratio, least=0, infinite=True)
    for limit, words in _GRADES:
        if likelihood_ratio <= limit:
            return words
    return "very strong"
