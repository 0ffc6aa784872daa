"""What more groups and more trials would add to a class that is still at work."""

from __future__ import annotations

import dataclasses

import pytest

from stoichkit import assess, assess_class, class_report
from stoichkit.classroom import class_outlook
from stoichkit.classroom.outlook import OutlookRow
from stoichkit.classroom.result import ClassResult
from stoichkit.errors import ModelError
from stoichkit.experiments import class_file, load
from stoichkit.planning import next_trials
from stoichkit.planning.following import FurtherTrials, NextTrials
from stoichkit.planning.outcomes import Chances
from stoichkit.reports import class_following, following_sentences
from stoichkit.reports.following import ClassFollowing, following_section


@pytest.fixture(scope="module")
def result() -> ClassResult:
    return assess_class(class_file(), "copper-silver")


@pytest.fixture(scope="module")
def coarse() -> ClassResult:
    return assess_class(class_file(), load("copper-silver-coarse"))


def test_the_groups_that_do_not_conclude_are_looked_at_and_no_others(result: ClassResult) -> None:
    found = class_following(result, groups=12, labs=100)
    open_groups = {
        name for name, kind in zip(result.evidence.names, result.evidence.kinds, strict=True)
        if kind != "singled_out"
    }  # fmt: skip
    assert {*found.groups, *found.not_asked} == open_groups
    assert "find the fault first" in found.not_asked["slate"]
    said = list(following_sentences(found))
    outlook = class_outlook(result.verdict, groups=12)
    assert said[0] == (
        f"9 groups are in: the class concludes with a chance of {outlook.rows[0].chance:.2f} if "
        f"copper(II) is true; when all 12 are in, with {outlook.later.chance:.2f}."
    )
    assert said[1].startswith("Plum: 1 more trial on a balance that reads to 0.001 g")


def test_what_is_said_of_a_group_is_what_further_trials_of_it_come_to(result: ClassResult) -> None:
    found = class_following(result, labs=200, most=3)
    alone = next_trials(assess(result.group("plum").experiment), labs=200, most=3)
    assert found.groups["plum"].alike.fewest == alone.alike.fewest
    assert found.groups["plum"].finer is not None
    assert alone.finer is not None
    assert found.groups["plum"].finer.chances == alone.finer.chances


def test_it_stops_when_told_and_says_who_was_not_looked_at(coarse: ClassResult) -> None:
    calls: list[tuple[int, int]] = []

    def progress(done: int, total: int) -> bool:
        calls.append((done, total))
        return done == 1

    found = class_following(coarse, labs=100, most=1, progress=progress)
    assert len(found.groups) == 1
    assert len(found.not_asked) == calls[0][1] - 1
    assert {*found.not_asked.values()} == {"stopped before it was looked at"}
    some = class_following(coarse, labs=100, most=1, most_groups=1)
    assert len(some.groups) == 1
    assert "was not looked at" in list(following_sentences(some))[-1]


def test_a_group_that_no_few_trials_help_is_told_so(coarse: ClassResult) -> None:
    found = class_following(coarse, labs=100, most=1, most_groups=1, finer_g=0.1)
    said = list(following_sentences(found))
    assert "not even 1 more trial would be enough: at best 0." in said[1]


def test_more_groups_make_the_class_surer(coarse: ClassResult) -> None:
    found = coarse.verdict
    assert found is not None
    few, many = (class_outlook(found, groups=n).later for n in (len(found.groups), 40))
    assert few is not None
    assert many is not None
    assert few.chance == pytest.approx(class_outlook(found).rows[0].chance)
    assert many.u_mol < few.u_mol
    assert class_outlook(found).later is None
    with pytest.raises(ModelError):
        class_outlook(found, groups=2)
    with pytest.raises(ModelError):
        class_following(coarse, groups=2)


def test_the_report_of_the_class_has_it_when_asked_for(result: ClassResult) -> None:
    found = class_following(result, labs=100, most=2)
    report = class_report(result, pictures=False, following=found)
    section = next(s for s in report.sections if s.title == "What more trials would add")
    assert section.parts[0].items[0].startswith("9 groups are in")
    titles = [s.title for s in class_report(result, pictures=False).sections]
    assert "What more trials would add" not in titles


def test_a_class_that_concludes_group_by_group_needs_nothing(result: ClassResult) -> None:
    found = class_following(result, labs=100, most=1)
    settled = dataclasses.replace(found, groups={}, not_asked={})
    assert list(following_sentences(settled))[-1] == "Every group concludes by itself."


def further(*chances: float, step: float = 0.01) -> FurtherTrials:
    """Return further trials, 1, 2, 3 …, with these chances of a right answer in 100 labs."""
    found = tuple(Chances(one, 0.0, 1 - one, 0.0, labs=100) for one in chances)
    return FurtherTrials(tuple(range(1, len(found) + 1)), found, 0.9, 0.002, step)


def after(
    result: ClassResult,
    alike: FurtherTrials,
    larger: FurtherTrials,
    finer: FurtherTrials | None = None,
) -> NextTrials:
    return NextTrials(result.group("plum"), 0.9, 0.0, alike, larger, finer, 2.0)


def said_of(result: ClassResult, *groups: NextTrials, **not_asked: str) -> list[str]:
    """Return what is said of groups amber and blue in a class without an outlook."""
    named = dict(zip(("amber", "blue"), groups, strict=False))
    return following_sentences(ClassFollowing(result, 0.9, None, named, not_asked))


def test_the_fewest_further_trials_are_told_first(result: ClassResult) -> None:
    few, many = further(0.95, 0.96, 0.97), further(0.2, 0.5, 0.91)
    none = further(0.1, 0.2, 0.3)
    fine = further(0.2, 0.93, 0.94, step=0.001)
    three = "3 more trials like those made (chance 0.91)"
    twice = "1 more trial with 2 times the amount (chance 0.95)"
    finer = (
        "2 more trials on a balance that reads to 0.001 g, judged without those made (chance 0.93)"
    )
    end = "would let it conclude too."
    assert said_of(result, after(result, many, few)) == [f"Amber: {twice} or {three} {end}"]
    assert said_of(result, after(result, many, few, fine)) == [
        f"Amber: {twice}, {finer} or {three} {end}"
    ]
    assert said_of(result, after(result, none, none, fine)) == [f"Amber: {finer} {end}"]
    both = after(result, none, few)
    assert said_of(result, both, both) == [f"Amber and blue: {twice} {end}"]


def test_where_none_is_enough_the_best_is_told(result: ClassResult) -> None:
    low, high = further(0.8, 0.1, 0.3), further(0.1, 0.2, 0.45)
    assert said_of(result, after(result, low, high)) == [
        "Amber: not even 3 more trials would be enough: at best 0.45, with 2 times the amount."
    ]
    assert said_of(result, after(result, further(0.5), further(0.4))) == [
        "Amber: not even 1 more trial would be enough: at best 0.50, like those made."
    ]


def test_groups_not_looked_at_stand_together_by_reason(result: ClassResult) -> None:
    said = said_of(
        result, plum="it was not looked at", red="it was not looked at", teal="it is full"
    )
    assert said == ["Plum and red: it was not looked at.", "Teal: it is full."]


@pytest.mark.parametrize(
    ("later", "more"), [(None, ""), (9, ""), (10, "; when all 10 are in, with 0.99")]
)
def test_the_chance_of_the_class_is_told_with_that_of_all_groups(
    result: ClassResult, later: float | None, more: str
) -> None:
    outlook = result.outlook
    assert outlook is not None
    outlook = dataclasses.replace(
        outlook,
        truth="copper(II)",
        rows=(OutlookRow(9, 1e-5, 0.8), *outlook.rows[1:]),
        later=None if later is None else OutlookRow(later, 1e-6, 0.99),
    )
    found = ClassFollowing(result, 0.9, outlook, {}, {})
    assert following_sentences(found) == [
        f"9 groups are in: the class concludes with a chance of 0.80 if copper(II) is true{more}.",
        "Every group concludes by itself.",
    ]


def test_the_sampling_error_is_told_where_trials_were_drawn(result: ClassResult) -> None:
    """At 100 labs √(0.5 · 0.5 / 100) = 0.05 is the largest of these; at 0.9 it is 0.03."""
    one = after(result, further(0.9), further(0.5))
    found = ClassFollowing(result, 0.9, None, {"a": one}, {})
    (lines,) = following_section(found).parts
    assert "(standard error up to 0.05)" in lines.items[-1]  # type: ignore[union-attr]
    assert lines.items[-1].endswith("ask once, after the last of them.")  # type: ignore[union-attr]
    (settled,) = following_section(ClassFollowing(result, 0.9, None, {}, {})).parts
    assert settled.items == ("Every group concludes by itself.",)  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("good", "bad"),
    [
        ({"target": 0.05}, {"target": 0.04}), ({"target": 0.94}, {"target": 0.95}),
        ({"most_groups": 60}, {"most_groups": 61}), ({"most_groups": 1}, {"most_groups": 0}),
        ({"most": 1}, {"most": 0}), ({}, {"most": 33}), ({"labs": 100}, {"labs": 99}),
        ({}, {"labs": 100_001}), ({"groups": 1000}, {"groups": 1001}),
        ({"groups": 9}, {"groups": 8}), ({}, {"finer_g": 0.0}),
    ],
)  # fmt: skip
def test_the_limits_of_what_is_asked_for(
    result: ClassResult, good: dict[str, float], bad: dict[str, float]
) -> None:
    """No group is looked at where it is stopped before the first."""
    asked = {"labs": 100, "most": 1, "progress": lambda *_: True}
    found = class_following(result, **{**asked, **good})  # type: ignore[arg-type]
    assert found.not_asked["plum"] == "stopped before it was looked at"
    with pytest.raises(ModelError):
        class_following(result, **{**asked, **bad})  # type: ignore[arg-type]
