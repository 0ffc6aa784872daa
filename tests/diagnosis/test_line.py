"""The line of diagnosis: the planted fault is named, and the advice follows from it."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from stoichkit import assess, experiments
from stoichkit.decision.verdict import DiagnosisKind, VerdictKind
from stoichkit.diagnosis.line import diagnose
from stoichkit.diagnosis.slips import corrected, find_slips
from stoichkit.experiments.parts import Variation
from stoichkit.experiments.record import Experiment
from stoichkit.measurement.displays import Balance
from tests.labs import REVERSED, crucible, lab, two
from tests.studies.diagnosis import KINDS, Kind
from tests.studies.diagnosis import lab as simulated

FINE = Balance(readability_g=0.01, repeatability_g=0.005)
SMALL = [one for i, one in enumerate(KINDS) if i in (0, 1, 3, 4, 6, 8)]
TYPED = experiments.load("copper-silver").with_reading("bench 3", "wire before", "1.34")


@pytest.mark.parametrize("kind", SMALL, ids=lambda kind: kind.name)
def test_a_planted_fault_is_named(kind: Kind) -> None:
    """A small part of the study, one lab of each kind."""
    assert assess(simulated(kind, random.Random(3))).diagnosis.kind is kind.right


def test_a_mistyped_reading_is_named_with_the_verdict_it_leads_to() -> None:
    found = assess(TYPED).diagnosis

    assert found.kind is DiagnosisKind.MISTYPED
    assert (found.trial, found.readings) == ("bench 3", ("wire before",))
    assert (found.typed, found.corrected) == (("1.34",), ("3.14",))
    assert found.if_corrected is not None
    assert found.if_corrected.candidates == ("copper(II)",)
    assert found.sentence == (
        "One reading looks mistyped in trial bench 3: “wire before” reads 1.34 and may have been "
        "3.14. Corrected, these readings would single out copper(II). Check the notebook; nothing "
        "was changed."
    )


def test_a_correction_is_made_in_every_trial_it_is_of() -> None:
    ready = experiments.load("copper-silver")
    columns = [
        replace(t, readings={**t.readings, "wire before": a, "wire after": b})
        for t in ready.trials
        for a, b in [(t.readings["wire after"], t.readings["wire before"])]
    ]
    mixed = ready.with_trials(columns)

    assert corrected(mixed, find_slips(mixed)[0]) == ready
    assert assess(mixed).diagnosis.sentence.startswith(
        "Two readings look swapped in every trial: “wire before” and “wire after”. Corrected, "
        "these readings would single out copper(II)."
    )
    assert "both differences" not in assess(lab(REVERSED)).diagnosis.sentence
    assert assess(lab(REVERSED)).diagnosis.sentence.startswith(
        "Both differences look the wrong way round in every trial"
    )


def test_a_shift_is_sized_with_the_effects_that_could_do_it() -> None:
    wet = lab([(3.00, 2.50, 0.80, 0.80 + 1.867), (3.10, 2.62, 0.75, 0.75 + 1.793)], FINE)
    found = assess(wet).diagnosis

    # 0.50 g Cu gives 0.50 / 63.546 * 2 * 107.8682 = 1.6975 g Ag: 1.867 g is 10.0 % more
    assert found.kind is DiagnosisKind.SHIFTED
    assert found.shift == pytest.approx(0.10, abs=0.005)
    assert "product not dry" in found.effects
    assert found.sentence.startswith("All trials are shifted alike: 10 % more Ag than copper(II)")


@pytest.mark.parametrize(
    ("experiment", "kind", "says"),
    [
        (experiments.load("copper-silver-coarse"), DiagnosisKind.LIMITED, "steps of 0.01 g"),
        (lab([(3.00, 2.98, 0.80, 0.80)]), DiagnosisKind.NOTHING_REACTED, "let more react"),
        (crucible("22.7028", "22.7005", "22.6994"), DiagnosisKind.NOT_CONSTANT, "weigh again"),
        (
            two((0.64, 0.34), (0.56, 0.30), variation=Variation(unknown=True)),
            DiagnosisKind.LIMITED,
            "how few trials",
        ),
        (
            lab([(2.94, 2.80, 0.75, 0.99)] * 2, FINE, {"a": "1", "b": "2"}, recovery=(0.5, 1)),
            DiagnosisKind.LIMITED,
            "recovery stated, 50 % to 100 %",
        ),
    ],
)
def test_what_else_stands_behind_a_verdict(
    experiment: Experiment, kind: DiagnosisKind, says: str
) -> None:
    found = assess(experiment).diagnosis
    assert found.kind is kind
    assert says in found.sentence


def test_a_narrow_miss_accuses_nobody() -> None:
    evidence = assess(lab([(2.94, 2.84, 0.75, 1.14), (3.19, 3.09, 0.70, 1.09)], FINE))
    assert evidence.verdict.kind is VerdictKind.NONE_FITS
    assert 0.002 < evidence.nearest.p_value < 0.05
    assert evidence.diagnosis.kind is DiagnosisKind.NEAR_MISS


def test_the_property_is_the_public_function_and_is_kept() -> None:
    evidence = assess(TYPED)
    assert evidence.diagnosis == diagnose(evidence)
    assert evidence.diagnosis is evidence.diagnosis
    assert diagnose(evidence, slips=()).kind is not DiagnosisKind.MISTYPED


def test_trials_that_scatter_are_told_with_the_farthest() -> None:
    """Silver of 0.40 g for each 0.12 g of copper, but 60 mg less and 70 mg more in two trials."""
    clean = [(2.94, 2.82, 0.75, 1.16), (3.19, 3.07, 0.70, 1.11), (3.14, 3.02, 0.73, 1.14)]
    rows = [
        (a, b, c, round(d + off, 2))
        for (a, b, c, d), off in zip(clean, (0, -0.1, 0.14), strict=True)
    ]
    found = assess(lab(rows, Balance(readability_g=0.01, repeatability_g=0.002))).diagnosis
    assert found.kind is DiagnosisKind.SCATTERED
    assert found.trial == "3"
    assert found.spread > 1
    assert found.sentence == (
        f"The trials scatter {found.spread:.2g} times as much as their readings explain, 3 most of "
        "all. Find out what was done differently from trial to trial: how long it reacted, how "
        "well it was washed and dried."
    )


def test_what_is_advised_is_enough_and_not_far_too_much() -> None:
    """Steps of 0.1 g: the finer step or the larger mass that is named does tell them apart."""
    coarse = experiments.load("copper-silver-coarse")
    found = assess(coarse).diagnosis
    assert "steps of 0.01 g in place of 0.1 g" in found.sentence
    times = float(found.sentence.split("about ")[1].split(" times")[0])
    assert 1.2 < times < 100
    a, b, ratio = 0.12, 0.12 / 63.546 * 2 * 107.868, times
    row = (3 + ratio * a, 3.0, 0.7, 0.7 + ratio * b)
    more = lab([row] * len(coarse.trials), Balance(readability_g=0.1))
    assert assess(more).verdict.candidates == ("copper(II)",)


def test_a_single_trial_without_a_fault_asks_for_a_second() -> None:
    found = assess(lab([(3.00, 2.50, 0.80, 2.50)], FINE)).diagnosis
    assert found.kind is DiagnosisKind.CLEAR
    assert found.sentence == (
        "No reading points to a fault; a second trial would show whether it repeats."
    )
    two_trials = assess(lab([(3.00, 2.50, 0.80, 2.50)] * 2, FINE)).diagnosis
    assert two_trials.sentence == "No reading points to a fault."
