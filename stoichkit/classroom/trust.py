"""How far the verdict of a class can be trusted, in words."""

from __future__ import annotations

from ..decision.statement import concluded
from ..decision.trust import out_of
from ..decision.verdict import VerdictKind
from ..text.wording import capitalised, joined, species_text, two_digits
from ..uncertainty import entry
from .overturning import MASS
from .result import ClassResult
from .verdict import Basis, ClassVerdict


def class_trust_sentences(result: ClassResult) -> list[str]:
    """Say on how many groups a verdict hangs, which fault in all would overturn it, how probable.

    Nothing without a verdict, or where the class cannot be judged.

    >>> from stoichkit import assess_class, experiments
    >>> found = assess_class(experiments.class_file(), "copper-silver")
    >>> for sentence in class_trust_sentences(found):
    ...     print(sentence)
    It hangs on no few groups: 7 of 9 would have to be left out before the others cannot tell
    copper(I) from copper(II).
    It stands unless 0.14 g of what counts as Ag in every trial is something else or 44 % of the Ag
    of every trial is something else.
    How often such an answer is right is not said, because the groups may differ by an unknown
    amount.
    """
    verdict = entry.record("result", result, ClassResult).verdict
    if verdict is None or verdict.verdict.kind is VerdictKind.CANNOT_BE_JUDGED:
        return []
    said = [_groups_sentence(verdict), _faults_sentence(result, verdict)]
    return [one for one in (*said, _chances_sentence(verdict)) if one]


def _groups_sentence(verdict: ClassVerdict) -> str:
    """Say on how many groups a verdict hangs."""
    names, then = verdict.hangs_on, verdict.without_those
    if not names or then is None:
        return "It hangs on no few groups: it stays as those that speak for it most are left out."
    count = len(names)
    found = concluded(then.candidates, len(verdict.candidates))
    if 2 * count > len(verdict.groups) and count > 1:
        return (
            f"It hangs on no few groups: {count} of {len(verdict.groups)} would have to be left "
            f"out before the others {found}."
        )
    whole = "one group" if count == 1 else f"{count} of {len(verdict.groups)} groups"
    return f"It hangs on {whole}: without {joined(list(names))} the others {found}."


def _faults_sentence(result: ClassResult, verdict: ClassVerdict) -> str:
    """Name the faults, alike in every group, that would overturn a verdict."""
    made = species_text(result.experiment.produced.species)
    words = []
    for fault in verdict.overturned_by:
        size = abs(fault.size)
        if fault.kind == MASS:
            amount = f"{two_digits(size)} {fault.unit}"
            words.append(
                f"{amount} of what counts as {made} in every trial is something else"
                if fault.size < 0
                else f"{amount} of {made} is missing from every trial"
            )
        else:
            gone = "is something else" if fault.size < 0 else "is missing"
            words.append(f"{two_digits(100 * size)} % of the {made} of every trial {gone}")
    if not words:
        return ""
    begun = {
        VerdictKind.SINGLED_OUT: "It stands unless",
        VerdictKind.NOT_TOLD_APART: "It would be another if",
    }.get(verdict.verdict.kind, "A candidate would fit if")
    return f"{begun} {joined(words, 'or')}."


def _chances_sentence(verdict: ClassVerdict) -> str:
    """Say how probable the candidates are, or why that is not said."""
    chances = verdict.chances
    if chances is None:
        why = (
            "a line with a blank decides"
            if verdict.basis in (Basis.LINE, Basis.EITHER)
            else "the groups may differ by an unknown amount"
        )
        return f"How often such an answer is right is not said, because {why}."
    if verdict.verdict.kind is VerdictKind.NONE_FITS:
        return (
            f"Of classes that read like this, {out_of(chances.none)} would be right to say that "
            "none of the candidates is true."
        )
    best = max(verdict.verdict.candidates, key=lambda name: chances.by_candidate[name])
    right = out_of(chances.by_candidate[best])
    return capitalised(f"of classes that read like this, {right} would be right to name {best}.")
