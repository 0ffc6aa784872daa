"""One record of what a class says: headline, tables and pictures never disagree."""

from __future__ import annotations

import random
from types import SimpleNamespace
from typing import Any

import pytest

from stoichkit.classroom.data import load_class
from stoichkit.classroom.result import ClassResult, assess_class
from stoichkit.classroom.sentences import class_verdict_sentences
from stoichkit.classroom.statement import _doubted, _headline, by_itself, statement_of_class
from stoichkit.classroom.verdict import Basis
from stoichkit.decision.statement import standings_of, statement_of
from stoichkit.decision.verdict import Reason, Verdict, VerdictKind
from stoichkit.measurement.displays import Balance
from stoichkit.plots.class_groups import ClassGroupsPicture
from stoichkit.plots.class_line import ClassLinePicture
from stoichkit.reports.classroom import class_report
from stoichkit.text.document import Document
from stoichkit.text.parts import Table
from stoichkit.widgets.state.classroom import GroupTable
from tests.labs import ROLES, lab

RATIOS = (
    {"a": "1", "b": "2"},
    {"a": "1", "b": "3/2", "c": "2"},
    {"a": "1"},
    {"a": "1", "b": "6/5", "c": "4/3", "d": "3/2", "e": "2", "f": "3"},
)
VARIATION = (None, "none", "3 %")


def random_class(seed: int) -> ClassResult:
    """Return a class of two to six groups with anything from no to a plain answer."""
    draw = random.Random(seed)
    step = draw.choice((0.01, 0.1))
    ratio = draw.choice((1.0, 1.33, 1.5, 2.0, 2.6))
    most, sign = draw.choice((3, 40)), draw.choice((1, 1, 1, -1))
    lines = [",".join(("group", *ROLES))]
    for number in range(draw.randint(2, 6)):
        used = sign * draw.uniform(0.5, most) * step
        made = used / 63.546 * ratio * 107.868 * draw.gauss(1, 0.02)
        masses = (6.0, 6.0 - used, 9.0, 9.0 + made)
        shown = [f"{round(m / step + draw.gauss(0, 0.5)) * step:.3f}" for m in masses]
        lines.append(",".join((f"g{number}", *shown)))
    record = lab([(3.0, 2.9, 0.7, 1.0)], Balance(readability_g=step), draw.choice(RATIOS))
    data = load_class("\n".join(lines).encode(), record)
    return assess_class(data, variation=draw.choice(VARIATION))


def tables(report: Document) -> dict[str, Table]:
    """Return the tables of a report by the first cell of their header."""
    return {
        part.header[0]: part
        for section in report.sections
        for part in section.parts
        if isinstance(part, Table)
    }


def agree(result: ClassResult) -> VerdictKind:
    """Compare what each place says of a class, of its candidates, and of each group."""
    assert result.verdict is not None
    said, verdict = statement_of_class(result.verdict), result.verdict.verdict
    report = class_report(result, pictures=False)
    only, judged = len(said.standings) == 1, verdict.kind is not VerdictKind.CANNOT_BE_JUDGED
    assert said.headline == class_verdict_sentences(result)
    assert said.headline == report.sections[0].parts[0].text
    assert said.title.startswith("Singled out") == ("single out" in said.headline.split(".")[0])
    assert said.title.startswith("Singled out") == (
        verdict.kind is VerdictKind.SINGLED_OUT and not only
    )
    assert ("only candidate" in said.title) == (only and judged)
    assert ("annot be judged" in said.title) == ("cannot be judged" in said.headline)
    assert ("cannot be judged" in said.headline) == (not judged)

    rows = {row[0]: row for row in tables(report)["Candidate"].rows}
    groups, line = ClassGroupsPicture.of(result), ClassLinePicture.of(result)
    for picture in (groups, line):
        assert f"{said.title}." in picture.alt_text
        for ray in picture.rays:
            one = said.standings[ray.name]
            assert ray.judged == (one.status != "not judged") == judged
            assert ray.compatible == (not one.excluded)
    for name, one in said.standings.items():
        assert rows[name][-1] == one.status
        assert one.excluded == (judged and name not in verdict.candidates)
        assert (name in said.names) == (name in verdict.candidates) or only
        if one.excluded and verdict.candidates and len(rows) <= 4:
            assert name.casefold() in said.headline.casefold()

    by_group = {row[0]: row for row in tables(report)["Group"].rows}
    panel = GroupTable(result)
    for name in result.evidence.names:
        evidence = result.group(name)
        mine = statement_of(evidence)
        words = by_itself(evidence.verdict.candidates, evidence.verdict.reason, len(said.standings))
        assert by_group[name][2] == panel.line(name).verdict == words
        assert ("singles out" in words) == mine.title.startswith("Singled out")
        assert ("fits no candidate" in words) == (evidence.verdict.kind is VerdictKind.NONE_FITS)
        assert {*standings_of(evidence)} == {*said.standings}
    return verdict.kind


def test_every_place_says_the_same_of_random_classes() -> None:
    assert len({agree(random_class(seed)) for seed in range(10)}) >= 3


@pytest.mark.parametrize("variation", VARIATION)
def test_a_doubt_of_the_readings_stands_in_the_title(variation: str | None) -> None:
    """Where the readings decide and the scatter leaves more open, few words say so too."""
    rows = [(3.00, 2.66, 0.70, 1.23), (3.00, 2.64, 0.70, 1.41), (3.00, 2.66, 0.70, 1.20)]
    lines = [",".join(("group", *ROLES))]
    lines += [",".join((f"g{i}", *(f"{m:.2f}" for m in row))) for i, row in enumerate(rows)]
    record = lab([(3.0, 2.9, 0.7, 1.0)], Balance(readability_g=0.01, repeatability_g=0.05),
                 {"a": "1", "b": "3/2"})  # fmt: skip
    result = assess_class(load_class("\n".join(lines).encode(), record), variation=variation)
    agree(result)
    assert result.verdict is not None
    said = statement_of_class(result.verdict)
    readings, scatter = result.verdict.by_readings, result.verdict.by_scatter
    more = scatter is not None and not {*scatter.candidates} <= {*readings.candidates}
    decides = result.verdict.basis.name == "COMMON"
    assert ("unless the groups truly differ" in said.title) == (more and decides)


def unjudged(reason: Reason, *about: str, groups: int = 3) -> str:
    """Return what is said of groups g0, g1, …, without each of which “one” is singled out."""
    names = [f"g{n}" for n in range(groups)]
    one = Verdict(VerdictKind.SINGLED_OUT, ("one",), 0.95)
    found: Any = SimpleNamespace(
        verdict=Verdict(VerdictKind.CANNOT_BE_JUDGED, (), 0.95, reason=reason, about=about),
        groups=names, candidates={"one": None, "two": None}, coverage=0.95,
        without=dict.fromkeys(names, one),
    )  # fmt: skip
    return _headline(found, {})


def test_why_a_class_cannot_be_judged() -> None:
    below = "come out below zero, beyond what the instruments explain"
    assert f"the amount of Cu of g0 {below.replace('come', 'comes')}" in unjudged(
        Reason.BELOW_ZERO, "Cu, g0"
    )
    assert f"the amounts of Cu of g0 and g1 {below}" in unjudged(
        Reason.BELOW_ZERO, "Cu, g0", "Cu, g1"
    )
    assert "the mass was still changing at dish of g1, and what" in unjudged(
        Reason.NOT_CONSTANT, "dish, g1"
    )


@pytest.mark.parametrize(("groups", "said"), [(2, False), (3, True), (60, True), (61, False)])
def test_the_others_are_judged_without_the_one_that_is_to_blame(groups: int, said: bool) -> None:
    """Two groups leave none to compare, and more than sixty are not left out one by one."""
    for reason in (Reason.BELOW_ZERO, Reason.NOT_CONSTANT):
        one = unjudged(reason, "Cu, g1", "Ag, g1", groups=groups)
        assert one.endswith(" Without g1 the others single out one.") is said
        assert "Without" not in unjudged(reason, "Cu, g0", "Ag, g1", groups=groups)
        assert "Without" not in unjudged(reason, "Cu", groups=groups)


@pytest.mark.parametrize(
    ("scatter", "doubted"),
    [((), False), (("one",), False), (("one", "two"), True), (("two",), True)],
)
def test_what_the_scatter_alone_leaves_open_is_a_doubt(
    scatter: tuple[str, ...], doubted: bool
) -> None:
    """The readings single out one; where the scatter decides already there is no doubt of it."""
    one = Verdict(VerdictKind.SINGLED_OUT, ("one",), 0.95)
    for basis in Basis:
        found: Any = SimpleNamespace(
            verdict=one, by_readings=one, basis=basis, opinions_differ=True,
            by_scatter=Verdict(VerdictKind.NOT_TOLD_APART, scatter, 0.95),
        )  # fmt: skip
        assert _doubted(found) is (doubted and basis is Basis.COMMON)
        found.by_scatter = None
        assert not _doubted(found)
