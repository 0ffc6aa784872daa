"""While a class is at work: what the groups that are in can say, and what more trials would add.

Joins the outlook of the class, whose number of groups may still grow, with further trials of the
groups that do not conclude by themselves (:func:`stoichkit.planning.next_trials`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from .._common import FrozenMap
from ..classroom.evidence import Progress
from ..classroom.outlook import ClassOutlook, class_outlook
from ..classroom.result import ClassResult
from ..decision.verdict import VerdictKind
from ..errors import ModelError
from ..planning.following import FurtherTrials, NextTrials, next_trials
from ..planning.sentences import chance_text, step_text
from ..text.parts import Bullets, Section
from ..text.wording import capitalised, joined, names_text
from ..uncertainty import entry

TITLE = "What more trials would add"
_TARGET, _MOST, _MOST_GROUPS, _LABS = 0.9, 4, 12, 300


@dataclass(frozen=True, eq=False)
class ClassFollowing:
    """What more groups and more trials would come to.

    Attributes
    ----------
    result : ClassResult
    target : float
        Chance of a right answer asked for.
    outlook : ClassOutlook or None
        That of the class; None where there is none.
    groups : mapping of str to NextTrials
        Further trials of the groups that do not conclude by themselves.
    not_asked : mapping of str to str
        Groups that do not conclude and were not asked of, and why.
    """

    result: ClassResult
    target: float
    outlook: ClassOutlook | None
    groups: Mapping[str, NextTrials]
    not_asked: Mapping[str, str]


def class_following(
    result: ClassResult,
    *,
    groups: int | None = None,
    target: float = _TARGET,
    most: int = _MOST,
    most_groups: int = _MOST_GROUPS,
    finer_g: float | None = None,
    labs: int = _LABS,
    progress: Progress | None = None,
) -> ClassFollowing:
    """Return what more groups, and more trials of the groups that do not conclude, would come to.

    Parameters
    ----------
    result : ClassResult
    groups : int, optional
        Groups that there will be when all are in; no fewer than there are.
    target : float
        Chance of a right answer asked for, 0.05 to below the coverage of the verdict.
    most : int
        Most further trials looked at, 1 to 32.
    most_groups : int
        Most groups looked at, 1 to 60, in the order of the file.
    finer_g : float, optional
        Display step of the finer balance, g; a tenth of the one in use if left out.
    labs : int
        Continuations drawn for each group and kind of trial, 100 to 100,000: with 300 a chance
        near 0.9 has a standard error of 0.02.
    progress : callable, optional
        Called with the number of groups done and of all; return True to stop: what is done by
        then is returned.

    Returns
    -------
    ClassFollowing

    Raises
    ------
    ModelError
        If a number cannot be used.

    Notes
    -----
    The chance of the class is that of :func:`stoichkit.classroom.class_outlook`: normal errors,
    groups like those that are in. Each group is looked at as a lab of its own.

    Examples
    --------
    >>> from stoichkit import assess_class, experiments
    >>> result = assess_class(experiments.class_file(), "copper-silver")
    >>> found = class_following(result, groups=12, labs=100)
    >>> list(found.groups), dict(found.not_asked)
    (['plum'], {'slate': 'its readings fit no candidate: find the fault first'})
    """
    entry.record("result", result, ClassResult)
    target = entry.number("target", target, least=0.05, below=result.evidence.coverage)
    most_groups = entry.whole("most_groups", most_groups, least=1, most=60)
    if groups is not None:
        groups = entry.whole("groups", groups, least=len(result.evidence), most=1000)
    most = entry.whole("most", most, least=1, most=32)
    labs = entry.whole("labs", labs, least=100, most=100_000)
    if finer_g is not None:
        finer_g = entry.number("finer_g", finer_g, above=0)
    if progress is not None:
        entry.function("progress", progress, "progress(done, total)")
    outlook = result.outlook
    if outlook is not None and result.verdict is not None:
        outlook = class_outlook(result.verdict, truth=outlook.truth, target=target, groups=groups)
    alone, unsure = VerdictKind.SINGLED_OUT, VerdictKind.NOT_TOLD_APART
    kinds = dict(zip(result.evidence.names, result.evidence.kinds, strict=True))
    asked = [name for name, kind in kinds.items() if kind == unsure]
    reasons = {
        name: "its readings fit no candidate: find the fault first"
        if kind == VerdictKind.NONE_FITS
        else "its readings cannot be judged: find the fault first"
        for name, kind in kinds.items()
        if kind not in (alone, unsure)
    }
    reasons |= dict.fromkeys(asked[most_groups:], "it was not looked at")
    found: dict[str, NextTrials] = {}
    asked = asked[:most_groups]
    for place, name in enumerate(asked):
        if progress is not None and progress(place, len(asked)) is True:
            reasons |= dict.fromkeys(asked[place:], "stopped before it was looked at")
            break
        try:
            found[name] = next_trials(
                result.group(name), target=target, most=most, finer_g=finer_g, labs=labs
            )
        except ModelError as error:
            reasons[name] = error.problem[:1].lower() + error.problem[1:].rstrip(".")
    return ClassFollowing(result, target, outlook, FrozenMap(found), FrozenMap(reasons))


def following_sentences(found: ClassFollowing) -> list[str]:
    """Say what the class will come to, then what each group that does not conclude would need.

    >>> from stoichkit import assess_class, experiments
    >>> result = assess_class(experiments.class_file(), "copper-silver")
    >>> print(following_sentences(class_following(result, labs=100))[0])
    9 groups are in: the class concludes with a chance of 0.97 if copper(II) is true.
    """
    return list(_sentences(entry.record("found", found, ClassFollowing)))


def _sentences(found: ClassFollowing) -> Iterator[str]:
    yield from _class_words(found)
    number = len(found.groups) + len(found.not_asked)
    if not number:
        yield "Every group concludes by itself."
        return
    by_words: dict[str, list[str]] = {}
    for name, after in found.groups.items():
        by_words.setdefault(_group_words(after), []).append(name)
    for words, names in by_words.items():
        yield f"{capitalised(names_text(names))}: {words}"
    by_reason: dict[str, list[str]] = {}
    for name, reason in found.not_asked.items():
        by_reason.setdefault(reason, []).append(name)
    for reason, names in by_reason.items():
        yield f"{capitalised(names_text(names))}: {reason}."


def _class_words(found: ClassFollowing) -> Iterator[str]:
    outlook = found.outlook
    if outlook is None:
        return
    now = outlook.rows[0]
    text = (
        f"{now.groups:g} groups are in: the class concludes with a chance of "
        f"{chance_text(now.chance, found.target)} if {outlook.truth} is true"
    )
    later = outlook.later
    if later is not None and later.groups > now.groups:
        text += (
            f"; when all {later.groups:g} are in, with {chance_text(later.chance, found.target)}"
        )
    yield f"{text}."


def _group_words(after: NextTrials) -> str:
    """Say which further trials would let a group conclude, the fewest first."""
    ways = [
        (after.alike, "like those made"),
        (after.larger, f"with {after.larger_by:g} times the amount"),
    ]
    if after.finer is not None:
        step = step_text(after.finer.readability_g)
        ways.append((after.finer, f"on a balance that reads to {step}, judged without those made"))
    enough = [(way.fewest, way, words) for way, words in ways if way.fewest is not None]
    if not enough:
        most, words = max(ways, key=lambda one: one[0].chances[-1].right)
        best = chance_text(most.chances[-1].right, after.target)
        return f"not even {_more_trials(most.trials[-1])} would be enough: at best {best}, {words}."
    enough.sort(key=lambda one: one[0])
    said = [
        f"{_more_trials(count)} {words} (chance {_chance_of(way, count)})"
        for count, way, words in enough
    ]
    return f"{joined(said, 'or')} would let it conclude too."


def _more_trials(count: int) -> str:
    return "1 more trial" if count == 1 else f"{count} more trials"


def _chance_of(way: FurtherTrials, count: int) -> str:
    return chance_text(way.chances[way.trials.index(count)].right, way.target)


def following_section(found: ClassFollowing, *, title: str = TITLE) -> Section:
    """Return what more groups and more trials would come to, as a section of a report."""
    said = (*following_sentences(found), *_precision(found))
    return Section(title, (Bullets(said),))


def _precision(found: ClassFollowing) -> Iterator[str]:
    errors = [c.standard_error for n in found.groups.values() for w in n.ways for c in w.chances]
    if errors:
        yield (
            "Each group is looked at as a lab of its own, one of the candidates being true. The "
            f"chances of further trials are simulated (standard error up to {max(errors):.1g}); "
            "decide on a number of trials, and ask once, after the last of them."
        )
