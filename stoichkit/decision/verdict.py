"""The verdict: what the compatible candidates let one say, its warnings and its diagnosis."""

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
    CANNOT_BE_JUDGED = "cannot_be_judged"


class Reason(StrEnum):
    """Why a verdict is not simply what the compatible candidates make it."""

    BELOW_ZERO = "below_zero"
    """An amount lies below zero beyond what the instruments explain: nothing can be judged."""
    NOT_CONSTANT = "not_constant"
    """A mass was still changing: what is left to go would change the verdict."""
    NOTHING_REACTED = "nothing_reacted"
    """One candidate fits, but so does that nothing reacted: it is not singled out."""


class CaveatKind(StrEnum):
    """A reason to read the verdict with care."""

    NOTHING_SHOWN = "nothing shows that anything reacted"
    NOT_RESOLVED = "the amount consumed is not told apart from zero"
    NOT_LINEAR = "first-order sensitivities fail the comparison of JCGM 101 clause 8"
    ROUTES_DISAGREE = "routes to one amount disagree"
    EXCESS_SCATTER = "the trials scatter more than the instruments explain"
    OVER_100 = "the yield is over 100 % beyond its uncertainty"
    OVER_RECOVERY = "the yield is over the recovery stated, but not over 100 %"
    SINGLE_TRIAL = "a single trial"
    UNPLANNED_LOOK = "the verdict was asked for oftener than planned"
    FINER_ALONE = "trials on the finer instruments alone tell more"
    UNKNOWN_VARIATION = "nothing shows how much the trials differ"
    STILL_CHANGING = "a mass was still changing, which does not change the verdict"
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
        more, or one while nothing shows that anything reacted; ``"none_fits"``: none — look for a
        missing candidate or a systematic effect; ``"cannot_be_judged"``: the readings contradict
        what every candidate takes for granted (``reason`` says what), and no candidate is named.
    candidates : tuple of str
        Names of the compatible candidates, in the order given.
    coverage : float
        Coverage probability at which they were tested; with planned looks that of one look.
    warnings : tuple of Caveat
    reason : Reason or None
        Why the verdict is not simply what the compatible candidates make it.
    about : tuple of str
        What the reason is about: the species and trial below zero, or the readings that were
        still changing.

    Examples
    --------
    >>> verdict_of([("copper(I)", False), ("copper(II)", True)], 0.95).kind.value
    'singled_out'
    """

    kind: VerdictKind
    candidates: tuple[str, ...]
    coverage: float
    warnings: tuple[Caveat, ...] = ()
    reason: Reason | None = None
    about: tuple[str, ...] = ()


def verdict_of(
    compatible: Iterable[tuple[str, bool]],
    coverage: float,
    *,
    reason: Reason | None = None,
    about: Iterable[str] = (),
) -> Verdict:
    """Return the verdict that follows from which candidates are compatible.

    A reason outranks them: below zero or still changing, nothing can be judged; where nothing
    shows that anything reacted, a lone candidate is not told apart from that.

    >>> verdict_of([("copper(I)", False), ("copper(II)", True)], 0.95).kind
    <VerdictKind.SINGLED_OUT: 'singled_out'>
    >>> verdict_of([("copper(II)", True)], 0.95, reason=Reason.BELOW_ZERO, about=("Cu",)).kind
    <VerdictKind.CANNOT_BE_JUDGED: 'cannot_be_judged'>
    """
    names = tuple(name for name, ok in compatible if ok)
    kind = {0: VerdictKind.NONE_FITS, 1: VerdictKind.SINGLED_OUT}.get(
        len(names), VerdictKind.NOT_TOLD_APART
    )
    if reason is Reason.NOTHING_REACTED and kind is not VerdictKind.SINGLED_OUT:
        reason = None  # several fit, or none: that nothing reacted adds nothing
    if reason is Reason.NOTHING_REACTED:
        kind = VerdictKind.NOT_TOLD_APART
    elif reason is not None:
        kind, names = VerdictKind.CANNOT_BE_JUDGED, ()
    return Verdict(kind, names, coverage, (), reason, tuple(about) if reason else ())


class DiagnosisKind(StrEnum):
    """What most likely stands behind a verdict."""

    MISTYPED = "one reading looks mistyped"
    SHIFTED = "all trials shifted alike"
    SCATTERED = "trials scatter"
    LIMITED = "limited by the balance"
    """Or by another instrument, a stock, the recovery stated or the number of trials."""
    NOTHING_REACTED = "nothing reacted"
    NOT_CONSTANT = "not constant"
    CANNOT_BE_JUDGED = "cannot be judged"
    NEAR_MISS = "nothing fits, by a narrow margin"
    CLEAR = "clear"


@dataclass(frozen=True, slots=True, kw_only=True)
class Diagnosis:
    """What most likely stands behind a verdict, in one line.

    :func:`stoichkit.diagnosis.diagnose` finds it.

    Attributes
    ----------
    kind : DiagnosisKind
    sentence : str
        The line below the headline: what it is, and what to do about it.
    trial : str
        The trial meant; "" for all of them, or none in particular.
    readings : tuple of str
        The readings meant: mistyped, still changing, or what limits the conclusion.
    typed, corrected : tuple of str
        Of mistyped readings what was typed and what it may have been.
    if_corrected : Verdict or None
        The verdict if every reading that looks mistyped were corrected.
    effects : tuple of str
        Names of the effects that could shift all trials so.
    shift : float
        By what part the product is more (or, below zero, less) than the nearest candidate gives;
        nan where nothing is shifted.
    spread : float
        How many times what the instruments explain the trials scatter; nan where they do not.
    """

    kind: DiagnosisKind
    sentence: str
    trial: str = ""
    readings: tuple[str, ...] = ()
    typed: tuple[str, ...] = ()
    corrected: tuple[str, ...] = ()
    if_corrected: Verdict | None = None
    effects: tuple[str, ...] = ()
    shift: float = float("nan")
    spread: float = float("nan")

    @property
    def mistyped(self) -> bool:
        """Whether a reading is to be looked at before anything is made of the others."""
        return self.kind is DiagnosisKind.MISTYPED


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
