"""What a class says: the one record from which headline, tables and pictures take their words."""

from __future__ import annotations

from collections.abc import Sequence

from ..decision.statement import Standing, Statement, concluded, excluded_sentence, said_of
from ..decision.verdict import Reason, Verdict, VerdictKind
from ..experiments.parts import Variation
from ..text.wording import capitalised, joined, names_text, p_clause, species_text
from ..uncertainty import entry
from .amounts import DIFFERENCE_LEVEL
from .evidence import REASON_WORDS
from .verdict import Basis, ClassVerdict

MOST_LEFT_OUT = 60
"""Classes up to so many groups are put together again without each group."""
_MOST_TOLD = 4


def statement_of_class(verdict: ClassVerdict) -> Statement:
    """Return what a class says, in words.

    >>> from stoichkit import experiments
    >>> from stoichkit.classroom.verdict import class_verdict
    >>> found = statement_of_class(class_verdict(experiments.load("copper-silver")))
    >>> found.title, found.standings["copper(I)"].status
    ('Singled out: copper(II)', 'excluded')
    >>> found.headline
    'Together the 4 groups single out copper(II). Copper(I) is excluded (p < 0.0001).'
    """
    entry.record("verdict", verdict, ClassVerdict)
    judged = verdict.verdict.kind is not VerdictKind.CANNOT_BE_JUDGED
    standings = {}
    for c in verdict.candidates.values():
        status = "fits" if c.compatible else "excluded"
        clause = p_clause(c.p_value, verdict.coverage)
        standings[c.name] = Standing(
            c.name, status if judged else "not judged", "–", clause, c.p_value
        )
    unless = "groups truly differ" if _doubted(verdict) else ""
    return said_of(verdict.verdict, _headline(verdict, standings), standings, unless)


def _doubted(verdict: ClassVerdict) -> bool:
    """Say whether the readings decide, and the scatter of the groups leaves more open."""
    second = verdict.by_scatter
    if second is None or verdict.basis is not Basis.COMMON or not verdict.opinions_differ:
        return False
    return not {*second.candidates} <= {*verdict.verdict.candidates}


def _headline(verdict: ClassVerdict, standings: dict[str, Standing]) -> str:
    """Say what the groups together let one say about the candidates."""
    count = f"the {groups_text(len(verdict.groups))}"
    if verdict.verdict.reason is not None:
        return _reason_sentences(verdict, standings, count)
    differ = f" {opinions_sentence(verdict)}" if verdict.opinions_differ else ""
    names = list(verdict.verdict.candidates)
    best = verdict.nearest
    clause = p_clause(best.p_value, verdict.coverage)
    if not names and len(verdict.candidates) == 1:
        return (
            f"The only candidate given, {best.name}, does not fit {count} together ({clause})."
            f"{differ}"
        )
    if not names:
        return (
            f"None of the candidates fits {count} together. The nearest is {best.name} "
            f"({clause}).{differ}"
        )
    if len(verdict.candidates) == 1:
        return (
            f"Together {count} fit {names[0]} ({clause}). It is the only candidate given, so "
            f"nothing could be excluded: add the candidates it is to be told from.{differ}"
        )
    found = concluded_by(verdict.verdict, len(verdict.candidates))
    out = excluded_sentence(standings, verdict.coverage)
    return f"Together {count} {found}. {out}{differ}"


def _reason_sentences(verdict: ClassVerdict, standings: dict[str, Standing], count: str) -> str:
    """Say why the verdict of a class is not what its compatible candidates make it."""
    found = verdict.verdict
    if found.reason is Reason.NOTHING_REACTED:
        (name,) = found.candidates
        out = excluded_sentence(standings, verdict.coverage)
        return (
            f"Together {count} do not show that anything reacted: of the candidates only {name} "
            f"fits, but so does that nothing happened. {out}"
        )
    owned = [_owner(about, verdict.groups) for about in found.about]
    if found.reason is Reason.BELOW_ZERO:
        about = _of_groups([(species_text(species), name) for species, name in owned])
        amount = f"amounts of {about} come" if len(owned) > 1 else f"amount of {about} comes"
        why = (
            f"the {amount} out below zero, beyond what the instruments explain. Check which "
            "reading is subtracted from which."
        )
    else:
        about = _of_groups(owned)
        why = (
            f"the mass was still changing at {about}, and what is left to go would change the "
            "verdict. It may not have reached its end yet, or may have passed it (decomposition, "
            "spattering)."
        )
    said = f"Together {count} cannot be judged: {why}"
    guilty = list(dict.fromkeys(name for _, name in owned if name))
    if len(guilty) == 1 and 2 < len(verdict.groups) <= MOST_LEFT_OUT:
        (name,) = guilty
        rest = concluded_by(verdict.without[name], len(verdict.candidates))
        said += f" Without {name} the others {rest}."
    return said


def _owner(about: str, groups: Sequence[str]) -> tuple[str, str]:
    """Split what a reason is about into the thing and its group, "" for all groups.

    >>> _owner("Cu, bench 1", ["1", "bench 1"]), _owner("dish, dried", ["a"])
    (('Cu', 'bench 1'), ('dish, dried', ''))
    """
    owners = [name for name in groups if about.endswith(f", {name}")]
    name = max(owners, key=len, default="")
    return (about.removesuffix(f", {name}"), name) if name else (about, "")


def _of_groups(owned: Sequence[tuple[str, str]]) -> str:
    """Write things with their groups, each thing once.

    >>> _of_groups([("Cu", "red"), ("Ag", "red")]), _of_groups([("Cu", "red"), ("Ag", "blue")])
    ('Cu and Ag of red', 'Cu (red) and Ag (blue)')
    """
    groups: dict[str, list[str]] = {}
    for thing, name in owned:
        groups.setdefault(thing, []).extend([name] if name else [])
    several = list(groups.values())
    if all(names == several[0] for names in several):
        return joined(list(groups)) + (f" of {names_text(several[0])}" if several[0] else "")
    return joined([f"{t} ({names_text(n)})" if n else t for t, n in groups.items()])


def concluded_by(verdict: Verdict, total: int, *, one: bool = False) -> str:
    """Say what a verdict is, of several groups or of one, among ``total`` candidates.

    >>> from stoichkit.decision.verdict import verdict_of
    >>> concluded_by(verdict_of([("SnO", True), ("SnO2", False)], 0.95), 2)
    'single out SnO'
    """
    if verdict.kind is VerdictKind.CANNOT_BE_JUDGED:
        return "cannot be judged"
    if verdict.reason is Reason.NOTHING_REACTED:
        return f"{'does' if one else 'do'} not show that anything reacted"
    return concluded(verdict.candidates, total, one=one)


def by_itself(fitting: tuple[str, ...], reason: Reason | None, total: int) -> str:
    """Say what one group finds by itself, among ``total`` candidates, in a cell of a table.

    >>> by_itself(("SnO",), None, 2), by_itself((), None, 2), by_itself((), Reason.BELOW_ZERO, 2)
    ('singles out SnO', 'fits no candidate', 'cannot be judged: an amount is below zero')
    """
    if reason is Reason.NOTHING_REACTED:
        return f"{REASON_WORDS[reason]} (of the candidates only {fitting[0]} fits)"
    if reason is not None:
        return f"cannot be judged: {REASON_WORDS[reason]}"
    if len(fitting) > _MOST_TOLD:
        return f"cannot tell {len(fitting)} candidates apart"
    return concluded(fitting, total, one=True)


def _alike(verdict: ClassVerdict) -> str:
    """Begin a clause with how much the groups would differ for the readings to decide."""
    variation = verdict.variation
    if isinstance(variation, Variation) and not variation.unknown:
        return f"if the groups differ by the {100 * variation.relative:.3g} % stated"
    return "if the groups differ by nothing but their readings"


def _taken(verdict: ClassVerdict) -> str:
    """Begin a sentence with how much the groups were stated to differ."""
    variation = verdict.variation
    if isinstance(variation, Variation):
        return f"The groups were stated to differ by {100 * variation.relative:.3g} %"
    return "The groups were taken to differ by nothing but their readings"


def differ_p(verdict: ClassVerdict) -> str:
    """Write the p-value of the groups differing by no more than is taken for granted."""
    return p_clause(verdict.heterogeneity.p_heterogeneity, 1 - DIFFERENCE_LEVEL)


def opinions_sentence(verdict: ClassVerdict) -> str:
    """Say what the readings alone and the scatter of the groups alone lead to; "" for neither.

    Where the groups differ by more than was stated, that is said in its place.

    >>> from stoichkit import assess_class, experiments
    >>> print(opinions_sentence(assess_class(experiments.class_file(), "copper-silver").verdict))
    Both ways of judging agree: if the groups differ by nothing but their readings, and judged by
    their scatter alone, they single out copper(II).
    """
    second = verdict.by_scatter
    if verdict.verdict.reason is not None:
        return ""
    total = len(verdict.candidates)
    first = concluded_by(verdict.by_readings, total)
    if second is None:
        return (
            "The groups agree exactly, so there is no scatter to judge by: the readings alone "
            "decide."
        )
    if verdict.refuted:
        same = "" if verdict.opinions_differ else f" Judged either way, they {first}."
        return (
            f"{_taken(verdict)}, but they differ by more ({differ_p(verdict)}), so their scatter "
            f"counts.{same}"
        )
    if verdict.opinions_differ:
        return (
            f"{capitalised(_alike(verdict))}, they {first}; judged by their scatter alone, they "
            f"{concluded_by(second, total)}."
        )
    return (
        f"Both ways of judging agree: {_alike(verdict)}, and judged by their scatter alone, they "
        f"{first}."
    )


def groups_text(count: int) -> str:
    """Count groups.

    >>> groups_text(1), groups_text(2)
    ('1 group', '2 groups')
    """
    return f"{count} group" if count == 1 else f"{count} groups"
