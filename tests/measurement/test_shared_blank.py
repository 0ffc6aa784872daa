"""One blank titration subtracted from every trial: one error, which more trials do not reduce."""

from __future__ import annotations

import math

import pytest

from stoichkit import assess
from stoichkit.experiments.record import Experiment
from stoichkit.experiments.store import parse_experiment
from stoichkit.uncertainty.readings import ErrorPool
from stoichkit.uncertainty.sources import contributions, nominal, standard_uncertainty

HEAD = """
title = "How many acid groups has the solid acid?"
invented = true

[instruments.balance]
kind = "balance"
readability_g = 0.0001

[instruments.burette]
kind = "burette"
capacity_mL = 25
tolerance_mL = 0.03
resolution_mL = 0.01
repeatability_mL = 0.02
temperature_C = 0

[consumed]
kind = "mass by difference"
species = "C4H6O4"
heavier = "crystals"

[produced]
kind = "solution"
species = "OH^-"
final = "burette"
initial = "blank"

[produced.concentration]
kind = "known"
name = "sodium hydroxide solution"
mol_per_L = 0.1

[candidates.ratios]
"monoprotic" = 1
"diprotic" = 2

[shared]
"blank" = "0.42"
"""
# succinic acid, 118.09 g/mol (handbook value, from memory): 0.1181 g takes 20.00 mL, and 0.42 mL
TRIALS = (("0.1181", "20.42"), ("0.1150", "19.90"), ("0.1203", "20.79"), ("0.1177", "20.35"))


def lab_of(trials: int) -> Experiment:
    return parse_experiment(
        HEAD
        + "".join(
            f'\n[[trials]]\nname = "{i}"\ncrystals = "{mass}"\nburette = "{volume}"\n'
            for i, (mass, volume) in enumerate(TRIALS[:trials], start=1)
        )
    )


def test_the_blank_is_subtracted_from_every_trial() -> None:
    amounts = [produced for _, produced in lab_of(4).amounts(ErrorPool())]
    by_hand = [2.000e-3, 1.948e-3, 2.037e-3, 1.993e-3]  # 0.1 mol/L × (V − 0.42 mL)
    assert [nominal(n) for n in amounts] == pytest.approx(by_hand, rel=1e-9)
    assert assess(lab_of(4)).verdict.candidates == ("diprotic",)


def test_its_errors_are_the_same_in_every_trial() -> None:
    first, second = (produced for _, produced in lab_of(2).amounts(ErrorPool()))
    shared = {s for s, _ in contributions(first)} & {s for s, _ in contributions(second)}
    labels = {s.label for s in shared}
    assert {"rounding of blank", "repeatability of blank"} <= labels
    assert not any("of burette, trial" in label for label in labels)
    apart = {s.label for s, c in contributions(first - second) if abs(c) > 1e-12}
    assert not any(label.endswith("of blank") for label in apart)


@pytest.mark.parametrize("trials", [1, 2, 4])
def test_more_trials_do_not_average_it_out(trials: int) -> None:
    """By hand, mL: each titration 0.02 and 0.01/√12 of its own; the blank and 0.03/√6 for all."""
    each = 0.02**2 + 0.01**2 / 12
    expected = 1e-4 * math.sqrt(each / trials + each + 0.03**2 / 6)
    mean = sum(produced for _, produced in lab_of(trials).amounts(ErrorPool())) / trials
    assert standard_uncertainty(mean) == pytest.approx(expected, rel=1e-3)
