"""The budget: merged over the trials without losing variance."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from stoichkit.decision.evidence import assess
from stoichkit.decision.sentences import grouped_budget
from stoichkit.errors import ModelError
from stoichkit.measurement.displays import Balance
from stoichkit.plots.budget import BudgetPicture
from stoichkit.plots.scene import Polygon, Words
from tests.labs import lab

from .cases import NAMES, evidence


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("most", [1, 3, 8])
def test_shares_add_up_whatever_is_merged(name: str, most: int) -> None:
    lines = grouped_budget(evidence(name), most=most)
    assert math.fsum(line.share for line in lines) == pytest.approx(1.0, abs=1e-9)
    assert sum(line.sources for line in lines) == len(evidence(name).budget)
    assert len(lines) <= most + 1
    shares = [line.share for line in lines if line.kind]
    assert shares == sorted(shares, reverse=True)
    total = math.fsum(line.uncertainty_mmol**2 for line in lines)
    for line in lines:
        assert line.uncertainty_mmol**2 / total == pytest.approx(line.share, abs=1e-9)


def test_lines_are_merged_over_trials_by_kind_and_reading() -> None:
    lines = {line.label: line for line in grouped_budget(evidence("copper-silver"))}
    merged = lines["rounding of wire before"]
    assert (merged.trials, merged.sources, merged.kind) == (4, 4, "rounding")
    assert merged.words == "rounding of wire before (4 trials)"
    by_hand = math.fsum(
        line.share
        for line in evidence("copper-silver").budget
        if line.label.startswith("rounding of wire before, trial ")
    )
    assert merged.share == pytest.approx(by_hand, rel=1e-12)


def test_shared_sources_are_not_counted_as_trials() -> None:
    lines = grouped_budget(evidence("acid-titration"))
    shared = next(line for line in lines if line.kind == "concentration")
    assert shared.trials == 0
    assert "trials" not in shared.words


def test_small_rest_is_merged_and_its_sources_counted() -> None:
    lines = grouped_budget(evidence("hydrate-heating"))
    assert lines[-1].label == "others"
    assert lines[-1].words == f"others ({lines[-1].sources} sources)"
    assert all(line.share >= 0.005 for line in lines[:-1])


def test_budget_of_a_named_candidate_and_of_none() -> None:
    found = evidence("copper-silver")
    first = grouped_budget(found, "copper(I)")
    assert first != grouped_budget(found)
    with pytest.raises(ModelError, match="no such candidate"):
        grouped_budget(found, "copper(IX)")


def test_description_lists_every_bar() -> None:
    data = BudgetPicture.of(evidence("copper-silver"))
    text = data.alt_text
    assert text.startswith("Bars: what makes the discrepancy from copper(II) uncertain")
    for line in data.lines:
        assert line.words in text


def test_scatter_beyond_the_instruments_is_said() -> None:
    data = BudgetPicture.of(evidence("scatter"))
    assert data.scatter > 1
    assert "Instruments only" in data.alt_text
    assert "Instruments only" in " ".join(
        i.text for i in data.scene(480.0).items if isinstance(i, Words)
    )
    assert BudgetPicture.of(evidence("copper-silver")).note == ""


@pytest.mark.parametrize("name", NAMES)
def test_bars_are_as_long_as_their_shares(name: str) -> None:
    data = BudgetPicture.of(evidence(name))
    scene = data.scene(480.0)
    bars = [i for i in scene.items if isinstance(i, Polygon)]
    lengths = [bar.points[1][0] - bar.points[0][0] for bar in bars]
    assert len(bars) == len(data.lines)
    for line, length in zip(data.lines, lengths, strict=True):
        expected = lengths[0] * line.share / data.lines[0].share
        assert length == pytest.approx(max(expected, 0.6), abs=0.01)
    for item in scene.items:
        if isinstance(item, Words):
            assert 0 <= item.y <= scene.height - item.size / 2


def test_long_labels_are_broken_into_lines() -> None:
    long = "a balance with a long name that nobody could read in one line of a small picture"
    made = lab([(3.12, 2.95, 0.71, 1.29)], Balance(readability_g=0.01))
    scene = BudgetPicture.of(assess(made)).scene(300.0)
    plain = scene.height
    data = BudgetPicture.of(assess(made))
    lines = tuple(replace(line, label=long) for line in data.lines)
    assert replace(data, lines=lines).scene(300.0).height > plain
