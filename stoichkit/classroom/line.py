"""One line under the verdict of a class, and of a group: what most likely stands behind it."""

from __future__ import annotations

import math

from ..decision.verdict import Diagnosis, DiagnosisKind, Reason, VerdictKind
from ..diagnosis.line import SHIFT_LEVEL, diagnose, nothing_used, shift_in_words
from ..text.wording import joined, names_text, p_clause, species_text
from ..uncertainty import entry
from .amounts import BlankKind
from .result import ClassResult
from .sentences import blank_size, concluded_without, differ_sentence
from .verdict import Basis, ClassCaveatKind, ClassVerdict

_NOTHING = "Nothing shows that anything reacted: see whether it did, and let more react."


def group_diagnosis(result: ClassResult, name: str) -> Diagnosis:
    """Say in one line what stands behind the verdict of one group, its slips those of the class.

    Raises
    ------
    ModelError
        If there is no such group, or it was not assessed.

    Examples
    --------
    >>> from stoichkit import assess_class, experiments
    >>> found = assess_class(experiments.class_file(), "copper-silver")
    >>> group_diagnosis(found, "plum").kind.value, group_diagnosis(found, "coral").kind.value
    ('one reading looks mistyped', 'clear')
    """
    evidence = entry.record("result", result, ClassResult).group(name)
    return diagnose(evidence, slips=result.slips.get(name, ()))


def class_diagnosis(result: ClassResult) -> Diagnosis:
    """Say in one line what most likely stands behind the verdict of a class.

    Parameters
    ----------
    result : ClassResult

    Returns
    -------
    Diagnosis

    Examples
    --------
    >>> from stoichkit import assess_class, experiments
    >>> print(class_diagnosis(assess_class(experiments.class_file(), "copper-silver")).sentence)
    Readings of plum look mistyped: look at them first, in the list below. Without plum the class
    would still single out copper(II).
    """
    verdict = entry.record("result", result, ClassResult).verdict
    shared = next((slip for slip in result.shared_slips if slip.corrected), None)
    if shared is not None:
        names = joined([f"“{name}”" for name in shared.readings])
        return _line(
            DiagnosisKind.MISTYPED,
            f"Readings look mistyped alike in every group: {names}. Put the columns right before "
            "anything is made of them.",
            readings=shared.readings,
        )
    mistyped = [name for name, slips in result.slips.items() if any(s.corrected for s in slips)]
    if mistyped:
        rest = ""
        if verdict is not None and len(mistyped) == 1:
            rest = concluded_without(verdict, mistyped[0])
        return _line(
            DiagnosisKind.MISTYPED,
            f"Readings of {names_text(mistyped)} look mistyped: look at them first, in the list "
            f"below.{rest and f' {rest}'}",
        )
    if verdict is None and len(result.evidence) == 1:
        return group_diagnosis(result, result.evidence.names[0])
    if verdict is None:
        return _line(DiagnosisKind.CLEAR, "No reading points to a fault.")
    return _of_verdict(result, verdict)


def _line(kind: DiagnosisKind, sentence: str, readings: tuple[str, ...] = ()) -> Diagnosis:
    return Diagnosis(kind=kind, sentence=sentence, readings=readings)


def _of_verdict(result: ClassResult, verdict: ClassVerdict) -> Diagnosis:
    """Say what stands behind the verdict of a class in which nothing looks mistyped."""
    found, kinds = verdict.verdict, DiagnosisKind
    if found.reason is Reason.BELOW_ZERO:
        text = "No slip of the pen explains the amount below zero: look at the columns of the file."
        return _line(kinds.CANNOT_BE_JUDGED, text)
    if found.reason is Reason.NOT_CONSTANT:
        text = "Not constant: a mass was still changing. Heat, cool and weigh again."
        return _line(kinds.NOT_CONSTANT, text)
    if found.reason is Reason.NOTHING_REACTED:
        return _line(kinds.NOTHING_REACTED, _NOTHING)
    nearest, by_line = verdict.nearest, verdict.basis in (Basis.LINE, Basis.EITHER)
    differ = verdict.groups_differ
    if found.kind is VerdictKind.NONE_FITS:
        # where the groups agree, what scatter there might have been says nothing
        missed_by = nearest.p_value if differ or by_line else nearest.p_common
        if missed_by < SHIFT_LEVEL:
            if any(one.kind is ClassCaveatKind.NOT_RESOLVED for one in verdict.caveats):
                consumed = species_text(result.experiment.consumed.species)
                return _line(kinds.SHIFTED, nothing_used(consumed))
            shift, off = shift_in_words(result.experiment, verdict.ratio, nearest.candidate)
            who, besides = "All groups are shifted alike", ""
            if differ:
                who = "The groups are off by more than they differ"
                besides = f" {differ_sentence(verdict)}"
            text = (
                f"{who}: {off}. Look for what they have in common, or for a candidate that is not "
                f"listed.{besides}"
            )
            return Diagnosis(kind=kinds.SHIFTED, sentence=text, shift=shift)
        if not differ:
            text = (
                f"{nearest.name} is missed by a narrow margin "
                f"({p_clause(nearest.p_value, verdict.coverage)}): take more groups before looking "
                "for a fault."
            )
            return _line(kinds.NEAR_MISS, text)
    blank = verdict.blank
    if verdict.basis is Basis.LINE and blank is not None and blank.kind is not BlankKind.NOT_SEEN:
        text = (
            f"All groups are off by the same amount, {blank_size(blank, result.experiment)}. It "
            f"means {blank.kind}."
        )
        return _line(kinds.SHIFTED, text)
    if differ:
        return _line(kinds.SCATTERED, differ_sentence(verdict))
    if verdict.nothing_shown:
        return _line(kinds.NOTHING_REACTED, _NOTHING)
    if found.kind is VerdictKind.NOT_TOLD_APART:
        return _line(kinds.LIMITED, _limited(result, verdict))
    return _line(kinds.CLEAR, "No reading points to a fault.")


def _limited(result: ClassResult, verdict: ClassVerdict) -> str:
    """Say what keeps the candidates that fit a class from being told apart."""
    outlook = result.outlook
    if verdict.by_readings.kind is VerdictKind.SINGLED_OUT:
        return (
            "Limited by how few groups there are to show how much groups differ: by the readings "
            "alone one candidate would be left. Take more groups."
        )
    if outlook is None or math.isnan(outlook.groups_needed):
        return (
            "Limited by what all groups share: more groups alone would not tell the candidates "
            "apart."
        )
    return (
        f"Limited by the readings: about {outlook.groups_needed:.0f} groups like these would tell "
        "the candidates apart."
    )
