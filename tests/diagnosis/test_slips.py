"""Slips are named when they are there, with the right value, and clean labs are left alone."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from stoichkit import experiments
from stoichkit.decision.evidence import assess
from stoichkit.diagnosis.sentences import slip_sentence
from stoichkit.diagnosis.slips import (
    SlipKind,
    find_slips,
    off_grid,
    shared_suspects,
    shown,
    suspects,
)
from stoichkit.errors import ModelError
from stoichkit.measurement.displays import Balance
from tests.labs import REVERSED, lab
from tests.studies.causes import DESIGNS, clean_row, effect_row, slip_row

ROWS = [
    (3.12, 2.65, 0.71, 2.30),
    (2.98, 2.61, 0.70, 1.96),
    (3.40, 2.80, 0.72, 2.76),
    (3.21, 2.57, 0.74, 2.91),
]


@pytest.mark.parametrize("name", experiments.names())
def test_the_ready_labs_have_no_slips(name: str) -> None:
    assert find_slips(experiments.load(name)) == ()


def one(trial: str, **changes: str):
    clean = lab(ROWS)
    for name, text in changes.items():
        clean = clean.with_reading(trial, name.replace("_plus_", " + ").replace("_", " "), text)
    return clean


def test_both_differences_the_wrong_way_round_are_one_slip() -> None:
    """Each swap alone leaves the other amount negative."""
    (slip,) = find_slips(lab(REVERSED))
    assert slip.kind is SlipKind.SWAPPED
    assert slip.trial == ""
    assert dict(zip(slip.readings, slip.corrected, strict=True)) == {
        "wire before": "3.12", "wire after": "2.65", "paper + silver": "2.30", "paper": "0.71",
    }  # fmt: skip
    assert "both differences may be the wrong way round" in slip_sentence(slip, trials=3)
    found = find_slips(lab([*ROWS[:3], REVERSED[0]]))
    assert [(s.trial, s.kind, s.candidate) for s in found] == [
        ("4", SlipKind.SWAPPED, "copper(II)")
    ]


@pytest.mark.parametrize(
    ("changes", "kind", "right"),
    [
        ({"paper_plus_silver": "9.16"}, SlipKind.TRANSPOSED, ("1.96",)),
        ({"wire_before": "2.61", "wire_after": "2.98"}, SlipKind.SWAPPED, None),
        ({"wire_before": "2980"}, SlipKind.UNIT, ("2.98",)),
        ({"paper_plus_silver": "1.26"}, SlipKind.TARE, ("1.96",)),
        ({"paper_plus_silver": "196"}, SlipKind.DECIMAL, ("1.96",)),
        ({"wire_before": "9.28"}, SlipKind.TRANSPOSED, ("2.98",)),
    ],
)
def test_each_kind_is_named_with_its_value(
    changes: dict[str, str], kind: SlipKind, right: tuple[str, ...] | None
) -> None:
    experiment = one("2", **changes)
    found = find_slips(experiment)
    assert found
    assert {slip.trial for slip in found} == {"2"}
    clean = lab(ROWS).trials[1].readings
    wanted = [
        slip for slip in found if slip.corrected == tuple(clean[name][-1] for name in slip.readings)
    ]
    assert wanted
    assert wanted[0].kind is kind
    assert wanted[0].candidate == "copper(II)"
    assert right is None or wanted[0].corrected == right
    assert wanted[0].p_typed < 0.01 / 8
    assert wanted[0].p_corrected >= 0.01
    assert experiment.trials[1].readings == one("2", **changes).trials[1].readings  # unchanged


def test_a_reading_off_the_grid_is_named_always() -> None:
    found = find_slips(one("1", paper="0.705"))
    assert [(s.kind, s.trial, s.readings, s.typed) for s in found] == [
        (SlipKind.OFF_GRID, "1", ("paper",), ("0.705",))
    ]
    assert found[0].corrected in (("0.70",), ("0.71",))


def test_what_cannot_be_seen_is_not_named() -> None:
    """Equal digits, a change within the noise, and the same shift in both weighings."""
    clean = lab(ROWS)
    small = one("1", wire_before="3.13")
    alike = one("1", paper="1.71", paper_plus_silver="3.30")
    for experiment in (clean, small, alike):
        assert find_slips(experiment) == ()
    texts = {"wire before": ("3.33",)}
    digits = [
        s
        for s in suspects(clean, replace(clean.trials[0], readings=texts))
        if s.kind is SlipKind.TRANSPOSED
    ]
    assert digits == []


def test_an_effect_alike_in_every_trial_accuses_nobody() -> None:
    rows = [(a, b, c, d + 0.12) for a, b, c, d in ROWS]
    found = find_slips(lab(rows))
    assert all(not slip.corrected for slip in found)
    assert not assess(lab(rows)).verdict.candidates


def test_too_heavy_everywhere_is_said_once() -> None:
    rows = [(a, b, c, d + 1.5) for a, b, c, d in ROWS]
    (found,) = find_slips(lab(rows))
    assert found.kind is SlipKind.OVERWEIGHT
    assert found.trial == ""


def test_an_outlying_trial_without_a_correction_stands_apart() -> None:
    rows = [*ROWS[:3], (3.21, 2.57, 0.74, 2.07)]
    found = find_slips(lab(rows))
    assert found
    assert {s.trial for s in found} == {"4"}
    assert found[0].kind is SlipKind.OUTLYING or found[0].corrected


def test_the_same_mistake_in_every_trial_is_found() -> None:
    rows = [(b, a, c, d) for a, b, c, d in ROWS]
    found = find_slips(lab(rows))
    assert found[0].kind is SlipKind.SWAPPED
    assert found[0].trial == ""
    assert set(found[0].readings) == {"wire before", "wire after"}


def test_a_pressure_in_another_unit_is_found_even_where_nothing_can_be_calculated() -> None:
    gas = experiments.load("magnesium-gas")
    for typed in ("1008.0", "100800", "1.0"):
        found = find_slips(gas.with_reading("", "room pressure", typed))
        if typed == "1.0":  # below the vapour pressure of water: impossible as typed
            assert any(s.corrected == ("101.3",) for s in found)  # 1.0 atm
        else:
            assert any(s.corrected == ("100.8",) and s.trial == "" for s in found)
    warm = gas.with_reading("", "room temperature", "294.6")
    assert any(s.rule == "K" for s in shared_suspects(warm))


def test_impossible_readings_in_one_trial_do_not_stop_the_search() -> None:
    broken = one("3", wire_before="2.80", wire_after="3.40")
    (first, *_) = find_slips(broken)
    assert first.kind is SlipKind.SWAPPED


def test_a_single_trial_says_that_an_effect_could_do_the_same() -> None:
    experiment = lab(ROWS[:1]).with_reading("1", "wire before", "1.32")
    found = find_slips(experiment)
    assert found
    assert "single trial" in slip_sentence(found[0], trials=1)
    assert "single trial" not in slip_sentence(found[0], trials=4)


def test_sentences_of_every_kind_can_be_written() -> None:
    experiments_with = [
        one("1", paper="0.705"),
        one("2", wire_before="2.61", wire_after="2.98"),
        one("2", wire_before="2980"),
        lab([(a, b, c, d + 1.5) for a, b, c, d in ROWS]),
    ]
    for experiment in experiments_with:
        for slip in find_slips(experiment):
            text = slip_sentence(slip, trials=4)
            assert text.endswith(".")
            assert "nan" not in text


def test_what_a_reading_might_have_been() -> None:
    assert shown(Decimal("2.9400"), 0.01) == "2.94"
    assert shown(Decimal("2.945"), 0.01) is None
    silver = experiments.load("copper-silver")
    odd = silver.with_reading("bench 2", "paper", "0.705")
    assert list(off_grid(odd)) == [("bench 2", "paper", "0.705", "0.70")]
    first = suspects(silver, silver.trials[0])[0]
    assert first.changes == (("wire before", "2.82"), ("wire after", "2.94"))
    gas = experiments.load("magnesium-gas").with_reading("", "room pressure", "1008.0")
    changes = [s.changes for s in shared_suspects(gas) if s.rule == "hPa"]
    assert changes == [(("room pressure", "100.8"),)]


def test_a_level_that_cannot_be_used_is_refused() -> None:
    with pytest.raises(ModelError):
        find_slips(lab(ROWS), level=0.0)


def test_clean_labs_are_accused_at_most_one_in_a_hundred() -> None:
    """A small run of the study: 200 labs, no more than 1 % plus three standard deviations."""
    found = [clean_row(DESIGNS[i], 50, seed=20 + i) for i in (0, 1, 2, 4)]
    assert sum(f["accused"] for f in found) <= 2 + 3 * 1.4


@pytest.mark.parametrize("kind", list(SlipKind)[1:6])
def test_planted_slips_are_named(kind: SlipKind) -> None:
    """A small run of the study: of those that can be seen, 95 % are named with their value."""
    found = slip_row(DESIGNS[0], kind, 25, seed=7)
    assert found["detectable"] >= 20
    assert found["named"] >= 0.95 * found["detectable"] - 0.5
    assert found["flagged"] >= found["named"]


def test_planted_effects_are_not_called_slips() -> None:
    found = [effect_row(DESIGNS[0], "wet product", s, 15, seed=8) for s in (0.03, 0.12)]
    assert sum(f["accused"] for f in found) <= 1


RECOVERED = [
    (4.94, 3.82, 0.75, 4.36),  # 95 % of 3.80 g, by hand from 107.868 and 63.546 g/mol
    (5.19, 4.09, 0.75, 4.30),
    (5.14, 4.03, 0.75, 4.33),
]


def test_a_recovery_allowance_is_known_to_the_search_for_slips() -> None:
    """A gram too much is seen in a lab that recovers 95 %; none of its clean trials is accused."""
    clean = replace(lab(RECOVERED), recovery=(0.9, 1.0))
    assert find_slips(clean) == ()
    (slip,) = find_slips(clean.with_reading("2", "paper + silver", "5.30"))
    assert (slip.trial, slip.kind) == ("2", SlipKind.OVERWEIGHT)


def test_more_product_than_the_ratio_is_no_slip_where_it_is_allowed() -> None:
    """106 % within an allowance to 110 %; and 100.07 %, which the buoyancy of air explains."""
    rows = [(4.94, 3.82, 0.75, 4.78), (5.19, 4.09, 0.75, 4.71)]
    assert [s.kind for s in find_slips(lab(rows))] == [SlipKind.OVERWEIGHT]
    assert find_slips(replace(lab(rows), recovery=(1.0, 1.1))) == ()
    fine = [(4.9412, 3.8212, 0.7512, 4.5561), (5.1912, 4.0912, 0.7012, 4.4381)]
    balance = Balance(readability_g=0.0001, repeatability_g=0.0001)
    assert find_slips(lab(fine, balance)) == ()


def test_kelvin_typed_for_degrees_celsius() -> None:
    """21.40 °C is 294.55 K."""
    gas = experiments.load("magnesium-gas")
    trial = gas.trials[0]
    typed = replace(trial, readings={**trial.readings, "room temperature": ("294.55",)})
    if "room temperature" not in trial.readings:
        typed = replace(trial, readings={})
        gas = gas.with_reading("", "room temperature", "294.55")
    found = [*suspects(gas, typed), *shared_suspects(gas)]
    kelvin = [one for one in found if one.rule == "K"]
    assert [one.names for one in kelvin] == [("room temperature",)]
    assert float(kelvin[0].changes[0][1]) == pytest.approx(21.4, abs=0.051)
    assert kelvin[0].kind is SlipKind.UNIT
