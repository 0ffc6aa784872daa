"""Practice labs by hand: which scenes a level has, what is taken, its cautions, what is the lab."""

from __future__ import annotations

from dataclasses import replace

import pytest

from stoichkit.experiments.practice_labs import practice, practice_of
from stoichkit.measurement.displays import Ammeter, Balance, Barometer, Thermometer, Timer
from stoichkit.measurement.glassware import GraduatedCylinder


def test_a_difference_of_two_steps_is_still_asked() -> None:
    """Level 3, steps of 0.01 g: in trial 2 the residue weighs 21.32 - 21.30 = 0.02 g."""
    lab = practice("44VMCE9")
    assert (lab.level, lab.step_g, lab.truth) == (3, 0.01, "Na2CO3·7H2O")
    read = [" ".join(t[0] for t in trial.readings.values()) for trial in lab.experiment.trials]
    assert read == [
        "17.83 17.92 17.88",
        "21.30 21.38 21.32",
        "21.47 21.57 21.52",
        "20.51 20.61 20.55",
    ]


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("86CAU28", "use tongs and let it cool before weighing"),
        ("86CAU28", "Dusts of metal oxides are not to be breathed in"),
        ("H7NBTYK", "begin with a small flame and the lid ajar"),
        ("Z27MTAY", "no flame and no spark near it"),
        ("Z27MTAY", "let it go under a hood"),
        ("ZQ73JMY", "Fill the burette below eye level"),
        ("ZQ73JMY", "Sodium hydroxide solution burns skin and eyes: rinse splashes off at once"),
        ("ZTWZWKP", "Silver nitrate stains and burns skin"),
        ("ZCFXHTF", "switch off before touching the strip"),
        ("ZCFXHTF", "low-voltage supply"),
    ],
)
def test_each_kind_says_its_cautions(name: str, words: str) -> None:
    """Common practice, no source."""
    (caution,) = practice(name).experiment.cautions
    advice = " ".join(caution.advice)
    assert words in advice
    assert "Wear eye protection and gloves; ventilate." in advice
    assert caution.source.endswith("check the safety data sheets and local rules.")


def test_a_lab_of_which_any_part_is_changed_is_no_practice_lab() -> None:
    lab = practice("86CAU28").experiment
    changes = {
        "consumed": replace(lab.consumed, repeated=("crucible + metal",)),
        "produced": replace(lab.produced, repeated=("crucible + oxide",)),
        "instruments": {"balance": replace(lab.instruments["balance"], readability_g=0.1)},
        "trials": lab.trials[:-1],
    }  # fmt: skip
    assert practice_of(lab) is not None
    assert practice_of(replace(lab, about="Read it again.")) is not None
    for part, other in changes.items():
        assert practice_of(replace(lab, **{part: other})) is None, part
    assert practice_of(lab.with_candidates(lab.candidates[:1])) is None


@pytest.mark.parametrize(
    ("name", "strength", "half_width"), [("ZQ73JMY", 0.2, 0.001), ("ZTWZWKP", 0.5, 0.0025)]
)
def test_the_titrant_is_right_to_half_a_percent(
    name: str, strength: float, half_width: float
) -> None:
    record = practice(name).experiment
    titrant = record.produced.concentration  # type: ignore[union-attr]
    assert (titrant.mol_per_L, titrant.half_width_mol_per_L) == (strength, half_width)  # type: ignore[union-attr]
    assert f", {strength:.4f} mol/L to within 0.5 %." in record.about


def test_the_instruments_are_said_as_they_were_drawn() -> None:
    """Repeatability: half a step of balance and ammeter, a fifth of a graduation of the tube."""
    gas = practice("Z27MTAY").experiment.instruments
    assert gas["balance"] == Balance(readability_g=0.01, repeatability_g=0.005)
    assert gas["gas tube"] == GraduatedCylinder(
        capacity_mL=250,
        tolerance_mL=2.0,
        graduation_mL=2.0,
        resolution_mL=1.0,
        repeatability_mL=0.4,
        temperature_C=0.0,
    )
    room = (
        Thermometer(readability_C=0.1, tolerance_C=0.5, repeatability_C=0.05),
        Barometer(readability_kPa=0.1, tolerance_kPa=0.2, repeatability_kPa=0.05),
    )
    assert (gas["thermometer"], gas["barometer"]) == room
    charge = practice("ZCFXHTF").experiment.instruments
    assert charge["ammeter"] == Ammeter(
        readability_A=0.001, tolerance_relative=0.005, tolerance_A=0.0, repeatability_A=0.0005
    )
    assert charge["timer"] == Timer(readability_s=1.0, reaction_s=0.5, repeatability_s=0.5)
