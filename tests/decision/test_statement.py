"""One record of a verdict: headline, table, picture and conclusion never disagree."""

from __future__ import annotations

import random

import pytest

from stoichkit import assess
from stoichkit.decision.evidence import Evidence
from stoichkit.decision.statement import standings_of, statement_of, terms_used
from stoichkit.decision.verdict import VerdictKind
from stoichkit.measurement.displays import Balance
from stoichkit.plots.decision import DecisionPicture
from stoichkit.reports.lab import lab_report
from stoichkit.reports.sections import candidate_table, verdict_section
from stoichkit.reports.worked import conclusion_paragraph
from tests.labs import REVERSED, lab, two

RATIOS = (
    {"a": "1", "b": "2"},
    {"a": "1", "b": "3/2", "c": "2"},
    {"a": "1"},
    {"a": "1", "b": "4/3"},
)


def random_lab(seed: int) -> Evidence:
    """Return the evidence of a lab with anything from no to a plain answer, or none at all."""
    draw = random.Random(seed)
    step = draw.choice((0.01, 0.1))
    ratio = draw.choice((1.0, 1.2, 1.33, 1.5, 2.0, 2.6))
    most = draw.choice((3, 25))
    rows = []
    for _ in range(draw.randint(1, 4)):
        used = draw.uniform(0, most) * step
        made = used / 63.546 * ratio * 107.868
        masses = (3.0, 3.0 - used, 0.7, 0.7 + made)
        rows.append([round(m / step + draw.gauss(0, 0.5)) * step for m in masses])
    return assess(lab(rows, Balance(readability_g=step), draw.choice(RATIOS)))


def agree(evidence: Evidence) -> None:
    """Compare what each place says of a verdict and its candidates."""
    said, verdict = statement_of(evidence), evidence.verdict
    picture, conclusion = DecisionPicture.of(evidence), conclusion_paragraph(evidence)
    only = len(evidence.candidates) == 1

    assert picture.spoken.replace(" and ", ", ") == said.title.replace(" and ", ", ")
    assert picture.spoken in picture.alt_text
    assert said.claim in conclusion
    assert said.headline == verdict_section(evidence).parts[0].text
    singled = verdict.kind is VerdictKind.SINGLED_OUT and not only
    assert evidence.doubted or ("single out" in said.headline) == singled
    assert said.title.startswith("Singled out") == singled
    assert (
        ("only candidate" in said.title)
        == ("only candidate" in said.claim)
        == (only and verdict.kind is not VerdictKind.CANNOT_BE_JUDGED)
    )
    rows = {row[0]: row for row in candidate_table(evidence).rows}
    for name, one in said.standings.items():
        assert rows[name][4] == one.status
        assert rows[name][6] == one.likelihood
        assert one.excluded == (name not in verdict.candidates and one.status != "not judged")
        assert (name in said.names) == (name in verdict.candidates) or only
        if one.excluded:
            assert one.likelihood != "likeliest"
            assert name not in [ray.name for ray in picture.rays if ray.compatible]
            if one.likelihood == "about as likely":
                assert one.status == "narrowly excluded"
        if one.status == "narrowly excluded" and verdict.reason is None:
            assert "narrowly" in said.headline
        if one.excluded and verdict.candidates and len(rows) <= 4 and not only:
            assert name.casefold() in said.headline.casefold()


def test_every_place_says_the_same_of_random_labs() -> None:
    kinds = set()
    for seed in range(10):
        evidence = random_lab(seed)
        kinds.add(evidence.verdict.kind)
        agree(evidence)
    assert len(kinds) >= 3


@pytest.mark.parametrize(
    "evidence",
    [
        assess(lab(REVERSED)),
        assess(lab([(3.00, 2.98, 0.80, 0.80)])),
        assess(two((0.64, 0.31), (0.56, 0.30))),
    ],
    ids=("reversed", "nothing reacted", "doubted"),
)
def test_every_place_says_the_same_of_odd_labs(evidence: Evidence) -> None:
    agree(evidence)


def test_a_narrow_exclusion_is_called_one_everywhere() -> None:
    """b is excluded with p just below 0.05 and hardly less likely than a: no place says more."""
    rows = [(3.00, 2.90, 0.70, 0.70 + made) for made in (0.245, 0.255)]
    found = [
        evidence
        for low in range(150, 186, 3)
        for evidence in [
            assess(
                lab(
                    rows,
                    Balance(readability_g=0.01, repeatability_g=0.005),
                    {"a": f"{low}/100", "b": f"{low + 5}/100"},
                )
            )
        ]
        if any(s.status == "narrowly excluded" for s in standings_of(evidence).values())
    ]
    assert found
    for evidence in found:
        assert ", narrowly)" in statement_of(evidence).headline
        agree(evidence)


def test_a_lone_candidate_is_never_singled_out() -> None:
    evidence = assess(lab([(2.94, 2.84, 0.75, 1.09)], None, {"copper(II)": "2"}))
    assert statement_of(evidence).title == "Fits: copper(II), the only candidate given"
    assert DecisionPicture.of(evidence).headline == statement_of(evidence).title


def test_each_term_used_has_one_sentence_of_help() -> None:
    report = lab_report(random_lab(3))
    (words,) = (s for s in report.sections if s.title == "Words used")
    said = words.parts[0].items
    assert len(said) >= 6
    assert all(one.endswith(".") and len(one) < 140 for one in said)
    assert len({one.partition(":")[0] for one in said}) == len(said)
    assert [t.name for t in terms_used("± 0.1, p = 0.3, Student t")] == [
        "p", "standard uncertainty", "Student t",
    ]  # fmt: skip
    assert not terms_used("copper and tin")
