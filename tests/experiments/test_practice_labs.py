"""Practice labs: one id, one lab, everywhere; typing errors noticed; readings as the model says."""

from __future__ import annotations

import itertools
import os
import statistics
import subprocess
import sys

import pytest

from stoichkit import assess
from stoichkit.chemistry.elements import molar_mass_value
from stoichkit.errors import ExperimentError, ModelError
from stoichkit.experiments.practice_labs import (
    ALPHABET,
    LEVELS,
    FaultKind,
    checked_id,
    new_id,
    practice,
    practice_of,
)
from stoichkit.experiments.store import parse_experiment
from stoichkit.uncertainty.sources import nominal

LABS = [practice(number, level=number % 5 + 1) for number in range(120)]


def test_the_same_id_is_the_same_lab_in_another_process() -> None:
    """Written down once: a change of these readings would break every id that was shared."""
    lab = practice("86CAU28")
    first = {name: texts[0] for name, texts in lab.experiment.trials[0].readings.items()}
    assert lab.experiment.title == "Practice lab 86CAU28: tin ignited in air"
    assert first == {"crucible": "21.14", "crucible + metal": "21.61", "crucible + oxide": "21.76"}
    assert (lab.level, lab.truth, len(lab.experiment.trials)) == (2, "SnO2", 3)
    code = (
        "from stoichkit.experiments.practice_labs import practice;"
        "lab = practice('86CAU28');"
        "print({n: t[0] for n, t in lab.experiment.trials[0].readings.items()}, lab.truth)"
    )
    environment = {**os.environ, "PYTHONHASHSEED": "12345"}
    found = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, env=environment
    )
    assert found.stdout.strip() == f"{first} {lab.truth}"


def test_every_mistyped_letter_and_every_swap_is_noticed() -> None:
    good = new_id(3, 41)
    assert checked_id(f" {good[:3].lower()}-{good[3:]} ") == good
    wrong = [good[:i] + c + good[i + 1 :] for i, c in itertools.product(range(7), ALPHABET)]
    wrong += [good[:i] + good[i + 1] + good[i] + good[i + 2 :] for i in range(6)]
    for text in {*wrong} - {good}:
        with pytest.raises(ExperimentError, match="mistyped"):
            checked_id(text)
    for text in ("", "ABC", good + "2", good[:6] + "0", "O" + good[1:], good[:6] + "é"):
        with pytest.raises(ExperimentError):
            checked_id(text)


def test_numbers_and_levels() -> None:
    assert [practice(5, level=level).level for level in LEVELS] == list(LEVELS)
    assert practice(5).level == 1
    for bad in (-1, 1.5, True):
        with pytest.raises(ModelError):
            practice(bad)  # type: ignore[arg-type]
    with pytest.raises(ModelError):
        practice(1, level=6)
    with pytest.raises(ExperimentError, match="holds its level"):
        practice(new_id(1, 1), level=2)


def test_a_lab_is_recognised_until_it_is_changed() -> None:
    lab = LABS[3]
    again = practice_of(parse_experiment(lab.experiment.to_toml()))
    assert again is not None
    assert again.id == lab.id
    name, texts = next(iter(lab.experiment.trials[0].readings.items()))
    changed = lab.experiment.with_reading(lab.experiment.trials[0].name, name, texts[0] + "1")
    assert practice_of(changed) is None


def test_labs_are_invented_labelled_and_answerable() -> None:
    kinds = set()
    for lab in LABS:
        record = lab.experiment
        assert record.invented
        assert "invented" in record.about
        assert record.cautions
        assert lab.truth in [one.name for one in record.candidates]
        assert all(nominal(a) > 0 and nominal(b) > 0 for a, b in record.amounts())
        assert len({one.id for one in LABS}) == len(LABS)
        kinds.add(lab.scene)
        if lab.level < 3:
            assert lab.fault is None
    assert kinds == {"displaced", "oxide", "hydrate"}
    assert {one.fault.kind for one in LABS if one.fault} == {*FaultKind}


def test_what_lies_on_the_pan_has_the_true_ratio() -> None:
    """Worked out from the true masses by hand, without the amount models."""
    for lab in LABS:
        if lab.fault is not None and lab.fault.kind is not FaultKind.SWAPPED:
            continue
        record = lab.experiment
        ratio = next(float(c.ratio) for c in record.candidates if c.name == lab.truth)
        for masses in lab.masses_g:
            used = masses[record.consumed.heavier] - masses[record.consumed.lighter]  # type: ignore[union-attr]
            made = masses[record.produced.heavier] - masses[record.produced.lighter]  # type: ignore[union-attr]
            amounts = [
                mass / molar_mass_value(one.species)
                for mass, one in ((used, record.consumed), (made, record.produced))
            ]
            assert amounts[1] / amounts[0] == pytest.approx(ratio, rel=2e-4)


def test_readings_scatter_as_the_balance_says() -> None:
    """Repeatability of half a step and the rounding of a display: √(1/4 + 1/12) steps."""
    errors = [
        (float(texts[0]) - masses[name]) / lab.step_g
        for lab in (practice(n, level=n % 2 + 1) for n in range(300))
        for trial, masses in zip(lab.experiment.trials, lab.masses_g, strict=True)
        for name, texts in trial.readings.items()
    ]
    assert len(errors) > 3000
    assert statistics.fmean(errors) == pytest.approx(0, abs=0.04)
    assert statistics.pstdev(errors) == pytest.approx((1 / 4 + 1 / 12) ** 0.5, rel=0.04)


def test_the_truth_is_seldom_excluded_without_a_fault() -> None:
    sound = [lab for lab in LABS if lab.fault is None][:60]
    out = sum(not assess(one.experiment).candidates[one.truth].compatible for one in sound)
    assert out <= 6


def test_a_swapped_reading_is_the_one_that_is_told() -> None:
    swapped = [one for one in LABS if one.fault is not None and one.fault.kind is FaultKind.SWAPPED]
    assert swapped
    for lab in swapped:
        assert lab.fault is not None
        trial = next(t for t in lab.experiment.trials if t.name == lab.fault.trial)
        found = [n for n in trial.readings if f"“{n}”" in lab.fault.words]
        assert len(found) == 1
        written = trial.readings[found[0]][0]
        true_g = lab.masses_g[lab.experiment.trials.index(trial)][found[0]]
        assert lab.fault.words.endswith(f"{written} was written.")
        assert abs(float(written) - true_g) > 3 * lab.step_g
