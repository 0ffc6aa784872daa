"""Practice labs by hand: which scenes a level has, what is taken, its cautions, what is the lab."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from stoichkit.errors import ExperimentError
from stoichkit.experiments import practice_labs
from stoichkit.experiments.practice_drawing import Lot
from stoichkit.experiments.practice_kinds import _acid, _Charge, _ends, _gap, _Gas, _nearest_two
from stoichkit.experiments.practice_labs import checked_id, practice, practice_of
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


ACID = _acid("KH2PO4", "potassium dihydrogen phosphate", 1, 2)
MAGNESIUM, COPPER = _Gas("Mg", ("1", "2")), _Charge("Cu", (1, 2))


@pytest.mark.parametrize(
    ("scene", "chosen", "inside", "outside"),
    [
        # One step of 0.1 mg is 0.0001 · 24500 / 24.305 = 0.1008 mL H2 for Mg(II), those of a tube
        # of 50 mL are 0.11 mL: N steps apart is N · 0.2108 mL for Mg(I), twice that for Mg(II);
        # 5 mL, a tenth of the tube, is 23.72 steps, and 35 mL, seven tenths, 83.0
        (MAGNESIUM, {"step": 100, "tube.capacity_mL": 50}, "23.8", "23.7"),
        (MAGNESIUM, {"step": 100, "tube.capacity_mL": 50}, "83.0", "83.1"),
        # 0.1 mg takes 0.0001 / 136.085 / 0.0001 = 0.00735 mL of 0.1 mol/L, the second hydrogen as
        # much again, and the burette has 0.11 mL: N steps are N · 0.1247 mL, from 4 to 34 mL
        (ACID, {"step": 100, "strength": 100_000}, "32.1", "32.0"),
        (ACID, {"step": 100, "strength": 100_000}, "136.3", "136.4"),
        # steps of 0.1 g and 1 mol/L: N · (0.11 mmol · 136.085 g/mol + 0.2 g) is 2 g at N = 9.304
        (ACID, {"step": 100_000, "strength": 1_000_000}, "9.30", "9.31"),
        # N steps of 0.1 mg (1.5737 µmol Cu) are N · 1.5737 / (0.5 - 0.005 N) µmol e- where 1 mA of
        # 0.2 A counts as well: 207.3 µmol, or 100 s, at 39.71; 11.193 mmol, or 5400 s, at 97.26513
        (COPPER, {"step": 100, "ammeter.step": 1000, "current": 200_000}, "39.72", "39.70"),
        (COPPER, {"step": 100, "ammeter.step": 1000, "current": 200_000}, "97.2650", "97.2653"),
        # steps of 10 mg are 0.1574 mmol Cu: three of Cu(II) take 6 · 0.1574 mmol e-, in 182 s at
        # 0.5 A; 2.5 steps apart nothing is left of the 0.5 where 0.1 A of 0.5 A counts as well
        (COPPER, {"step": 10_000, "ammeter.step": 100_000, "current": 500_000}, "1/2", "5/2"),
        # steps of 0.1 g at 2 A: N · 0.1 g / (0.5 - 0.0005 N) of Cu(I) is 2 g at N = 1000/101
        (COPPER, {"step": 100_000, "ammeter.step": 1000, "current": 2_000_000}, "1000/101", "9.91"),
    ],
)
def test_what_is_taken_can_be_measured(
    scene: Any, chosen: dict[str, int], inside: str, outside: str
) -> None:
    def has(apart: str) -> bool:
        def of(found: Any, name: str) -> Any:
            for part in name.split("."):
                found = getattr(found, part)
            return found

        taken = scene.set_ups(Fraction(apart))
        return any(all(of(one, n) == v for n, v in chosen.items()) for one in taken)

    assert has(inside)
    assert not has(outside)


def test_the_nearest_candidates_of_a_scene() -> None:
    """Of 1, 3 and 4: 4 - 3 = 1, which is 1/4 of 4; of 2, 4, 9 the least part is 1/2."""
    three = replace(ACID, ratios=(("c", "4"), ("a", "1"), ("b", "3")))
    assert (_nearest_two(three), _gap(three), _ends(three)) == ((3, 4), Fraction(1, 4), (1, 4))
    assert _gap(replace(ACID, ratios=(("a", "2"), ("b", "4"), ("c", "9")))) == Fraction(1, 2)


def test_a_lab_of_another_title_is_not_taken_for_a_practice_lab() -> None:
    lab = practice(7)
    for title in (f"{lab.id}: silver", lab.id, "Practice lab"):
        assert practice_of(replace(lab.experiment, title=title)) is None


def test_a_current_below_three_steps_of_the_ammeter_is_not_read() -> None:
    """0.5 A is five steps of 0.1 A, 0.2 A is two."""
    found = {(one.ammeter.step, one.current) for one in COPPER.set_ups(Fraction(1, 2))}
    assert (100_000, 500_000) in found
    assert (100_000, 200_000) not in found


def test_acids_are_named_by_the_hydrogen_ions_they_give() -> None:
    acid = _acid("C6H8O7", "citric acid", 1, 2, 3)
    assert acid.ratios == (("monoprotic", "1"), ("diprotic", "2"), ("triprotic", "3"))
    assert _acid("C12H6O12", "mellitic acid", 6).ratios == (("hexaprotic", "6"),)


def test_what_is_no_id_is_quoted_up_to_forty_letters() -> None:
    for typed in ("A" * 40, "A" * 41):
        with pytest.raises(ExperimentError, match="not the id of a practice lab") as refused:
            checked_id(typed)
        assert refused.value.given == "A" * 40


class Quiet(Lot):
    """A balance without noise."""

    def normal(self, sigma: int) -> int:
        del sigma
        return 0


@pytest.mark.parametrize(
    ("used", "made", "is_asked"), [(2, 1, True), (1, 1, False), (2, 0, False), (2, -1, False)]
)
def test_two_steps_used_up_and_one_made_are_asked_at_least(
    monkeypatch: pytest.MonkeyPatch, used: int, made: int, is_asked: bool
) -> None:
    def masses(scene: Any, *_: object) -> dict[str, int]:
        (heavy, light), (heavier, lighter) = practice_labs._differences(scene)
        found = {light: 20_000_000, heavy: 20_000_000 + used * 10_000}
        found.setdefault(lighter, 20_000_000)
        found[heavier] = found[lighter] + made * 10_000
        return found

    monkeypatch.setattr(practice_labs, "_size", lambda *_: (50_000, 10_000))
    monkeypatch.setattr(practice_labs, "_masses", masses)
    assert (practice_labs._tried("", 1, Quiet("a")) is not None) is is_asked


def test_what_is_taken_follows_from_the_two_candidates_that_are_nearest() -> None:
    """Of 1, 3 and 4 waters the last two.

    A step of CuSO4 (159.61 g/mol) counts 4-fold, one of water (18.015 g/mol) is
    159.61 / 18.015 = 8.860 of it: 12.860 steps are consumed, where 1 and 3 were nearest 5.93.
    """
    scene = practice_labs._Scene("hydrate", "CuSO4", "H2O", ("1", "3", "4"))
    consumed_ug, step = practice_labs._size(scene, 10, Lot("a"))
    assert consumed_ug / step == pytest.approx(12.860, abs=0.005)
