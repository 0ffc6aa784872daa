"""What more groups and more trials would add to a class that is still at work."""

from __future__ import annotations

import dataclasses

import pytest

from stoichkit import assess, assess_class, class_report
from stoichkit.classroom import class_outlook
from stoichkit.classroom.result import ClassResult
from stoichkit.errors import ModelError
from stoichkit.experiments import class_file, load
from stoichkit.planning import next_trials
from stoichkit.reports import class_following, following_sentences


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
