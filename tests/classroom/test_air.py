"""The buoyancy of air in a class: one bounded unknown for all groups, as for the trials of one.

A body of density ρ in air of density a is shown as m (1 − a/ρ) / (1 − a/8.0) on a balance adjusted
with weights of 8.0 g/cm³ (OIML D 28, conventional value of the result of weighing in air; from
memory), a = 0.0012 g/cm³.
"""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from stoichkit.classroom.amounts import amounts_from_arrays
from stoichkit.classroom.result import assess_class
from stoichkit.classroom.sentences import class_assumptions, class_ratio_sentence
from stoichkit.classroom.verdict import Basis, class_verdict
from stoichkit.decision.evidence import assess
from stoichkit.experiments.record import Experiment
from stoichkit.measurement.displays import Balance
from stoichkit.plots.class_groups import ClassGroupsPicture
from stoichkit.reports.classroom import class_report
from tests.classfiles import csv_bytes
from tests.labs import as_dense_as_weights, lab

FINE = Balance(readability_g=0.0001, repeatability_g=0.0001)
COARSE = Balance(readability_g=0.01, repeatability_g=0.004)
AIR = 0.0012


def shown(mass_g: np.ndarray, density_g_per_cm3: float) -> np.ndarray:
    return mass_g * (1 - AIR / density_g_per_cm3) / (1 - AIR / 8.0)


def class_of(
    groups: int,
    balance: Balance = FINE,
    *,
    consumed: float,
    produced: float,
    off: float = 1.0,
    copper_g: float = 1.0,
) -> Experiment:
    """Return a record, a trial a group, copper(II) true, with densities in g/cm³.

    Each consumes ``copper_g`` to 30 % more; the mole ratio is ``off`` times 2.
    """
    rng = np.random.default_rng(4)
    copper = copper_g * rng.uniform(1.0, 1.3, groups)
    silver = 2 * off * copper / 63.546 * 107.8682
    wire, paper = rng.uniform(4, 5, groups), rng.uniform(0.7, 0.8, groups)
    read = [wire, wire - shown(copper, consumed), paper, paper + shown(silver, produced)]
    noise = rng.normal(0, balance.repeatability, (4, groups))
    return lab(np.transpose(np.array(read) + noise).tolist(), balance)


def stated(record: Experiment, consumed: float, produced: float) -> Experiment:
    return replace(
        record,
        consumed=replace(record.consumed, density_g_per_cm3=consumed),
        produced=replace(record.produced, density_g_per_cm3=produced),
    )


@pytest.mark.parametrize("densities", [(8.96, 0.95), (0.95, 10.5)])
def test_the_truth_is_kept_whatever_the_densities_are(densities: tuple[float, float]) -> None:
    """With both densities stated the class finds the same, and with none it allows for both."""
    consumed, produced = densities
    record = class_of(6, consumed=consumed, produced=produced)
    for variation in ("none", "unknown"):
        found = class_verdict(record, variation=variation)
        assert found.verdict.candidates == ("copper(II)",)
        assert found.air == pytest.approx((0.99859, 1.00141), abs=1e-5)
        fits = found.candidates["copper(II)"]
        assert fits.tested_ratio == pytest.approx(found.ratio)
        assert fits.tested_ratio in found.ratio_set
        assert found.ratio == pytest.approx(
            2 * (1 - AIR / produced) / (1 - AIR / consumed), abs=2e-4
        )
        ignored = class_verdict(as_dense_as_weights(record), variation=variation)
        assert ignored.verdict.candidates == ()
        assert ignored.air == (1.0, 1.0)
        known = class_verdict(stated(record, consumed, produced), variation=variation)
        assert known.verdict.candidates == ("copper(II)",)
        assert known.air == (1.0, 1.0)
        assert known.candidates["copper(II)"].tested_ratio == 2.0
        assert known.ratio == pytest.approx(2.0, abs=2e-4)
    assert all(v.candidates == ("copper(II)",) for v in found.without.values())


def test_air_explains_a_seventh_of_a_per_cent_and_no_more() -> None:
    """At 0.9 g/cm³ and air 10 % heavier: 0.00132 (1/0.9 − 1/8.0) = 0.130 %; 0.011 % at 22."""
    for off, fits in ((1.0013, True), (1.0017, False), (0.9987, True), (0.9983, False)):
        found = class_verdict(class_of(8, consumed=8.0, produced=8.0, off=off), variation="none")
        assert (found.verdict.candidates == ("copper(II)",)) is fits


def test_the_class_is_judged_as_the_same_trials_of_one_group() -> None:
    record = class_of(5, consumed=8.96, produced=1.0)
    found, evidence = class_verdict(record, variation="none"), assess(record)
    assert evidence.allows_air
    assert found.basis is Basis.COMMON
    for name, one in found.candidates.items():
        alone = evidence.candidates[name]
        assert one.p_value == pytest.approx(alone.p_value)
        assert one.tested_ratio == pytest.approx(alone.tested_ratio)


def test_many_groups_on_a_coarse_balance_are_not_told_apart_from_air() -> None:
    """60 groups average the digits of 0.01 g out, but not what air does to all of them."""
    record = class_of(60, COARSE, consumed=8.0, produced=8.0, copper_g=0.8, off=1.002)
    found = class_verdict(record, variation="none")
    without = class_verdict(as_dense_as_weights(record), variation="none")
    assert without.verdict.candidates == ()
    assert found.verdict.candidates == ("copper(II)",)
    assert found.air != (1.0, 1.0)
    true = class_of(60, COARSE, consumed=8.0, produced=8.0, copper_g=0.8)
    plain = class_verdict(true, variation="none")
    assert plain.air == (1.0, 1.0)  # it decides nothing
    same = class_verdict(as_dense_as_weights(true), variation="none")
    p = [v.candidates["copper(II)"].p_value for v in (plain, same)]
    assert p[0] == pytest.approx(p[1], rel=1e-6)


def test_records_of_several_balances_share_the_air() -> None:
    record = class_of(6, consumed=8.96, produced=0.95)
    renamed = [replace(trial, name=f"{trial.name} b") for trial in record.trials[3:]]
    parts = [record.with_trials(record.trials[:3]), record.with_trials(renamed)]
    found = class_verdict(parts)
    assert found.verdict.candidates == ("copper(II)",)
    assert found.air == pytest.approx((0.99859, 1.00141), abs=1e-5)


def test_amounts_given_as_numbers_are_taken_as_corrected() -> None:
    amounts = amounts_from_arrays([1.0, 1.1, 0.9], [2.003, 2.2033, 1.8027], 1e-4, 1e-4)
    found = class_verdict(amounts, candidates={"one": 1, "two": 2}, variation="none")
    assert found.air == (1.0, 1.0)
    assert found.verdict.candidates == ()


def test_the_report_says_at_which_ratio_a_candidate_was_tested_and_why() -> None:
    record = class_of(4, consumed=8.96, produced=0.95)
    names = list(record.trials[0].readings)
    rows = [
        (f"bench {t.name}", "1", *(t.readings[name][0] for name in names)) for t in record.trials
    ]
    result = assess_class(csv_bytes(rows), record)
    verdict = result.verdict
    assert verdict is not None
    ratio = class_ratio_sentence(verdict, result.experiment)
    assert "ratios as measured: with the buoyancy of air allowed for, copper(II) fits at" in ratio
    inside = class_verdict(class_of(4, consumed=8.0, produced=8.0))
    assert "as measured" not in class_ratio_sentence(inside, record)  # 2 itself is in the range
    assumed = list(class_assumptions(verdict, result.experiment))
    (air,) = (said for said in assumed if said.startswith("No density is stated of Cu and Ag"))
    assert "of all groups alike, by −0.14 % to +0.14 %" in air
    said = class_report(result).text()
    assert "Tested at" in said
    assert f"{verdict.candidates['copper(II)'].tested_ratio:.6g}" in said
    picture = ClassGroupsPicture.of(result)
    assert picture.rays[1].compatible
    ends = re.findall(r"from (1\.9\d+) to (1\.9\d+)", picture.alt_text)
    assert len(ends) == 2  # the groups, and the class below them
    assert all(float(low) < float(high) < 2 for low, high in ends)

    half = stated(record, 8.96, 8.0)
    half = replace(half, produced=record.produced, recovery=(0.98, 1.0))
    one = class_verdict(half)
    (air,) = (s for s in class_assumptions(one, half) if s.startswith("No density"))
    assert air.startswith("No density is stated of Ag, so")
    assert any(
        s.startswith("Between 98 % and 100 % of the product") for s in class_assumptions(one, half)
    )
    assert "with the recovery stated and the buoyancy of air allowed" in class_ratio_sentence(
        one, half
    )
