"""Sections of a lab's report on cases made for the purpose: what is listed, left out and said."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from types import SimpleNamespace
from typing import Any

import pytest

from stoichkit import assess, experiments
from stoichkit.decision.evidence import Evidence
from stoichkit.decision.verdict import Diagnosis, DiagnosisKind
from stoichkit.measurement.displays import Balance
from stoichkit.reports import sections
from stoichkit.reports.sections import (
    _cause_row,
    _likelihood,
    _off,
    amounts_section,
    budget_table,
    candidate_table,
    candidates_section,
    limiting_sentence,
    needs_causes,
    ratio_text,
    slips_section,
    yield_section,
)
from stoichkit.text.parts import Bullets, Table
from tests.labs import lab
from tests.odd_labs import evidence_of

READY = experiments.load("copper-silver")
CLEAR = Diagnosis(kind=DiagnosisKind.CLEAR, sentence="No reading points to a fault.")


@pytest.mark.parametrize(
    ("ratio", "text"),
    [("2", "2"), ("3/2", "3/2"), ("11/12", "11/12"), ("12/13", "0.923077"), ("1/3", "1/3")],
)
def test_a_ratio_is_a_fraction_up_to_twelfths(ratio: str, text: str) -> None:
    assert ratio_text(Fraction(ratio)) == text


Shares = Callable[[dict[str, float], float], str]


@pytest.fixture
def said(monkeypatch: pytest.MonkeyPatch) -> Shares:
    """Return what is said to limit a conclusion, given readings' shares and the largest source."""
    evidence = evidence_of("copper-silver")

    def limits(shares: dict[str, float], largest: float) -> str:
        line = SimpleNamespace(label="rounding", share=largest, words="rounding of the display")
        monkeypatch.setattr(sections, "reading_shares", lambda _: shares)
        monkeypatch.setattr(sections, "grouped_budget", lambda _: [line])
        monkeypatch.setattr(sections, "caveat_sentence", lambda *_: "Why: take a finer one.")
        return limiting_sentence(evidence, CLEAR)

    return limits


WHOLE = "of the variance of the discrepancy from copper(II)"


def test_the_reading_that_limits_most_is_named(said: Shares) -> None:
    """A second one too, from nine tenths of the first on."""
    end = "The largest single kind of error is rounding of the display: take a finer one."
    first = f"The reading that limits the conclusion most is wire, with 50 % {WHOLE}"
    assert said({"paper": 0.44, "wire": 0.5}, 0.3) == f"{first}. {end}"
    assert said({"paper": 0.45, "wire": 0.5}, 0.3) == (f"{first}, closely followed by paper. {end}")
    assert said({"wire": 0.5}, 0.5) == f"{first}. {end}"


def test_what_is_no_reading_may_limit_more(said: Shares) -> None:
    first = f"What limits the conclusion most is rounding of the display, with 60 % {WHOLE}"
    assert said({"paper": 0.1, "wire": 0.5}, 0.6) == (
        f"{first}: take a finer one. Among the readings it is wire."
    )
    assert said({}, 0.6) == f"{first}: take a finer one."


def test_where_nothing_is_concluded_no_reading_limits_it() -> None:
    assert limiting_sentence(evidence_of("drifting"), CLEAR).startswith("Nothing is concluded")
    mistyped = replace(CLEAR, kind=DiagnosisKind.MISTYPED)
    assert limiting_sentence(evidence_of("copper-silver"), mistyped).startswith(
        "While a reading looks mistyped"
    )


@pytest.mark.parametrize(
    ("low", "high", "off"),
    [(0.9, 1.1, False), (1.0, 1.2, False), (0.8, 1.0, False), (0.7, 0.9, True), (1.01, 1.2, True),
     (math.nan, math.nan, False)],
)  # fmt: skip
def test_a_yield_is_off_where_all_of_it_does_not_fit(low: float, high: float, off: bool) -> None:
    evidence: Any = SimpleNamespace(recovery_needed=lambda _: (low, high))
    assert _off(evidence, "x") is off


def test_for_which_candidates_causes_are_looked_for() -> None:
    assert needs_causes(evidence_of("copper-silver")) == ()
    assert needs_causes(evidence_of("none fits")) == ("copper(II)", "copper(I)")
    fits = evidence_of("recovery")  # 0.27 g where copper(II) gives 0.34 g: four fifths of it
    assert needs_causes(fits) == ("copper(II)",)
    below = evidence_of("reversed")
    assert set(needs_causes(below)) == {
        name for name, one in below.candidates.items() if not one.compatible
    }


def many(number: int) -> Evidence:
    """Return the evidence of readings that fit each of so many candidates of ratio 1, 2, 3 …"""
    ratios = {f"c{n}": str(n) for n in range(1, number + 1)}
    return assess(lab([(2.9, 2.8, 0.7, 1.1)], Balance(readability_g=0.1), ratios))


def test_six_yields_are_written_and_the_rest_named() -> None:
    for number in (6, 7, 8):
        evidence = many(number)
        fit = evidence.verdict.candidates
        assert len(fit) == number
        parts = [one for one in yield_section(evidence).parts if isinstance(one, str)]
        left = [one for one in parts if one.startswith("Left out here: ")]
        wanted = {6: [], 7: ["Left out here: c7."], 8: ["Left out here: c7 and c8."]}[number]
        assert left == wanted


def test_what_would_make_the_excluded_fit_is_told_where_it_is_judged() -> None:
    head = "What would make the excluded candidates fit:"
    assert head in yield_section(evidence_of("copper-silver")).parts
    assert head not in yield_section(evidence_of("drifting")).parts
    assert head not in yield_section(evidence_of("no upper limit")).parts


def test_slips_are_listed_or_said_not_to_be_there() -> None:
    (none,) = slips_section(evidence_of("copper-silver")).parts
    assert str(none).endswith("A slip that moves every trial alike cannot be seen.")
    (below,) = slips_section(evidence_of("reversed")).parts
    assert "moves every trial alike" not in str(below)
    (found,) = slips_section(evidence_of("transposed")).parts
    assert isinstance(found, Bullets)
    assert "1.34" in found.items[0]


def amounts(trials: int) -> tuple[Table, str]:
    ready = READY.with_trials(replace(READY.trials[0], name=f"t{n}") for n in range(1, trials + 1))
    table, text = amounts_section(assess(ready)).parts
    assert isinstance(table, Table)
    return table, str(text)


def test_forty_trials_have_a_row_and_the_rest_are_counted() -> None:
    table, text = amounts(1)
    assert [row[0] for row in table.rows] == ["t1"]
    assert table.caption == "Amounts consumed and produced"
    table, text = amounts(40)
    assert [row[0] for row in table.rows][-2:] == ["t40", "mean"]
    assert "more trials" not in text
    table, text = amounts(42)
    assert [row[0] for row in table.rows][-2:] == ["t40", "mean"]
    assert text.endswith(" 2 more trials are in the mean but not in this table.")
    assert table.rows[0][1:] == table.rows[1][1:]


def test_the_table_of_candidates_says_at_which_coverage() -> None:
    assert candidate_table(evidence_of("copper-silver")).caption == (
        "Candidates, tested at 95 % coverage"
    )
    text = candidates_section(evidence_of("copper-silver")).parts[1]
    assert "below 0.05 it is excluded." in str(text)
    assert "Relative likelihood: against the likeliest" in str(text)
    strict = evidence_of("strict")
    assert candidate_table(strict).caption == "Candidates, tested at 99.99 % coverage"
    assert "below 0.0001 it is excluded." in str(candidates_section(strict).parts[1])
    alone = candidates_section(evidence_of("one candidate")).parts[1]
    assert "Relative likelihood" not in str(alone)


@pytest.mark.parametrize(
    ("values", "shown"),
    [((1.0, 0.25), ("1", "0.25")), ((1.0, 9.9e-5), ("1", "< 0.0001")),
     ((1.0, 1e-4), ("1", "0.0001")), ((1.0,), ("–",)), ((0.0, 0.0), ("–", "–"))],
)  # fmt: skip
def test_relative_likelihoods_as_they_are_written(
    values: tuple[float, ...], shown: tuple[str, ...]
) -> None:
    tested: list[Any] = [SimpleNamespace(relative_likelihood=value) for value in values]
    evidence: Any = SimpleNamespace(candidates=dict(enumerate(tested)))
    assert tuple(_likelihood(evidence, one) for one in tested) == shown


def test_what_an_effect_needs_is_told_in_its_unit_and_as_a_share() -> None:
    """Twice 0.05 g are 10 % of the amount, so that 0.02 g to 0.04 g are 2 % to 4 %."""
    effect = SimpleNamespace(name="wet product", unit="g", check="Dry it again.")
    cause: Any = SimpleNamespace(
        effect=effect, possible_range=(0.02, 0.04), needed=0.1, fraction=0.1,
        fraction_of="produced", turn="both larger",
    )  # fmt: skip
    name, needed, turn, check = _cause_row(cause)
    assert (name, turn, check) == ("wet product", "both larger", "Dry it again.")
    assert needed.startswith("0.020 g to 0.040 g; 2.0 % to 4.0 % of the amount produced")
    for nothing in ({"needed": 0.0}, {"fraction": math.nan}):
        bare = SimpleNamespace(**{**vars(cause), **nothing})
        assert "%" not in _cause_row(bare)[1]  # type: ignore[arg-type]


def test_a_share_below_a_thousandth_is_said_to_be_below_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """To a tenth of a percent 0.05 % is 0.1 %; what is less is not."""
    lines = [
        SimpleNamespace(words=f"s{n}", uncertainty_mmol=1.0, share=share)
        for n, share in enumerate((0.5, 0.0123, 5e-4, 4.99e-4))
    ]
    monkeypatch.setattr(sections, "grouped_budget", lambda _: lines)
    table = budget_table(evidence_of("copper-silver"))
    assert [row[2] for row in table.rows] == ["50.0 %", "1.2 %", "0.1 %", "< 0.1 %"]
    assert table.header[1] == "Standard uncertainty, mmol"
    assert table.rows[0][1] == "1.0"
