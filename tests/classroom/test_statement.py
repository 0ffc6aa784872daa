"""One record of what a class says: headline, tables and pictures never disagree."""

from __future__ import annotations

import random

import pytest

from stoichkit.classroom.data import load_class
from stoichkit.classroom.result import ClassResult, assess_class
from stoichkit.classroom.sentences import class_verdict_sentences
from stoichkit.classroom.statement import by_itself, statement_of_class
from stoichkit.decision.statement import standings_of, statement_of
from stoichkit.decision.verdict import VerdictKind
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
