"""The line of diagnosis: the planted fault is named, and the advice follows from it."""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest

from stoichkit import assess, experiments
from stoichkit.decision.evidence import Evidence
from stoichkit.decision.verdict import Caveat, CaveatKind, DiagnosisKind, Reason, VerdictKind
from stoichkit.diagnosis import line
from stoichkit.diagnosis.line import (
    _by_reading,
    _clear,
    _explained,
    _farthest,
    _limited,
    _mistyped,
    _scattered,
    _shifted,
    _unjudged,
    diagnose,
)
from stoichkit.diagnosis.slips import TURNED_ROUND, Slip, SlipKind, corrected, find_slips
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


def test_a_shift_beyond_the_recovery_stated_is_told_from_the_end_that_it_passes() -> None:
    """1 g Cu gives 2 · 107.8682 / 63.546 = 3.395 g Ag: 3.3115 g, the mean, are 97.54 % of it.

    97.54 / 90 = 1.0838. Of 1.697 g, the half, 1.019 g are 60.0 %, and 60 / 70 = 0.857.
    """
    fine = Balance(readability_g=0.001, repeatability_g=0.001)
    much = lab([(3.0, 2.0, 0.7, 4.01), (3.1, 2.1, 0.7, 4.013)], fine, recovery=(0.7, 0.9))
    found = assess(much).diagnosis
    said = "All trials are shifted alike: 8.4 % more Ag than copper(II), the nearest candidate, "
    assert found.sentence.startswith(f"{said}would give with 90 % of it recovered. Could be: ")
    assert found.shift == pytest.approx(0.0838, abs=1e-4)
    assert "product not dry" in found.effects
    assert "product left in the vessel or the filtrate" not in found.effects

    little = lab([(3.0, 2.0, 0.7, 1.719), (3.1, 2.1, 0.7, 1.719)], fine, recovery=(0.7, 0.9))
    said = "All trials are shifted alike: 14 % less Ag than copper(I), the nearest candidate, "
    found = assess(little).diagnosis
    assert found.sentence.startswith(f"{said}would give with 70 % of it recovered. Could be: ")
    assert "product left in the vessel or the filtrate" in found.effects


def test_trials_that_agree_far_from_every_candidate_are_shifted_whatever_might_vary() -> None:
    """0.8 · 1.6975 g Ag of 1 g Cu is 20 % less than copper(I) gives and 60 % less than copper(II).

    Ratios of 0.70, 0.80 and 0.90: mean 0.80, s = 0.10, off copper(I) by t = 0.20/(0.10/√3) = 3.5,
    p = 0.07; off copper(II) by 20.8, p = 0.002. At a coverage of 90 % both are excluded, the first
    by a narrow margin.
    """
    fine = Balance(readability_g=0.001, repeatability_g=0.001)

    def found(parts: Sequence[float], coverage: float = 0.95, **fields: Any) -> Evidence:
        used = (0.8, 1.0, 1.27)
        rows = [
            (3.0, 3 - a, 0.7, 0.7 + part * 1.6975 * a) for a, part in zip(used, parts, strict=True)
        ]
        made = lab(rows, fine, variation=Variation(unknown=True), **fields)
        return assess(made, coverage=coverage)

    for agree in ((0.8, 0.8, 0.8), (0.799, 0.801, 0.8)):
        shifted = found(agree)
        assert shifted.nearest.name == "copper(I)"
        assert shifted.diagnosis.kind is DiagnosisKind.SHIFTED
        assert shifted.diagnosis.shift == pytest.approx(-0.2, abs=2e-3)
    apart = found((0.7, 0.8, 0.9), 0.9)
    assert apart.candidates["copper(I)"].p_value == pytest.approx(0.074, abs=0.003)
    assert apart.candidates["copper(II)"].p_value == pytest.approx(0.0023, abs=2e-4)
    assert apart.diagnosis.kind is DiagnosisKind.SCATTERED

    # of what the recovery allows, 70 % to 90 %, the end nearest to the lab
    less = found((0.6, 0.6, 0.6), recovery=(0.7, 0.9))
    assert [one.tested_ratio for one in less.candidates.values()] == pytest.approx(
        [0.7, 1.4], rel=2e-3
    )  # air allows 0.14 % less


def test_a_product_of_nothing_and_nothing_of_a_product() -> None:
    """Of no copper no silver is made: no slip of a unit is looked for that would leave nothing."""
    fine = Balance(readability_g=0.001, repeatability_g=0.001)
    of_nothing = assess(lab([(3.0, 3.0, 0.7, 1.7)] * 3, fine)).diagnosis
    assert of_nothing.kind is DiagnosisKind.SHIFTED
    assert of_nothing.sentence == (
        "There is a product, but nothing shows that any Cu was used up: look at the readings of "
        "Cu, and let more react."
    )
    nothing = assess(lab([(3.0, 2.0, 0.7, 0.7)] * 3, fine)).diagnosis
    assert nothing.kind is DiagnosisKind.SHIFTED
    assert nothing.sentence.startswith(
        "All trials are shifted alike: 100 % less Ag than copper(I), the nearest candidate, would"
    )


def test_trials_that_do_not_agree_and_miss_a_candidate_closely_are_no_shift() -> None:
    """98.14, 98.50 and 98.86 % of what copper(II) gives: mean 1.50 % below it, s = 0.36 %.

    A reading is known to 0.001 g and half a step, so the difference of 1 g to 0.15 %: the scatter
    has chi-squared 2 · (0.36/0.153)² = 11, p = 0.004. Air may explain 0.14 of the 1.50 %:
    t = 1.36/(0.36/√3) = 6.5, p = 0.023.
    """
    rows = [(3.0, 2.0, 0.7, 0.7 + 3.3950 * part) for part in (0.9814, 0.985, 0.9886)]
    fine = Balance(readability_g=0.001, repeatability_g=0.001)
    found = assess(lab(rows, fine, variation=Variation(unknown=True)))
    assert found.nearest.p_value == pytest.approx(0.023, abs=0.003)
    assert found.diagnosis.kind is DiagnosisKind.NEAR_MISS


@pytest.mark.parametrize(
    ("experiment", "kind", "says"),
    [
        (experiments.load("copper-silver-coarse"), DiagnosisKind.LIMITED, "steps of 0.01 g"),
        (lab([(3.00, 2.98, 0.80, 0.80)]), DiagnosisKind.NOTHING_REACTED, "let more react"),
        (crucible("22.7028", "22.7005", "22.6994"), DiagnosisKind.NOT_CONSTANT, "weigh again"),
        (
            two((0.64, 0.31), (0.56, 0.30), variation=Variation(unknown=True)),
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


def judged(kind: VerdictKind, p: float = 0.5, scatter_p: float | None = None, **said: Any) -> Any:
    scatter = None if scatter_p is None else SimpleNamespace(p_value=scatter_p)
    verdict = SimpleNamespace(kind=kind, **{"warnings": (), "reason": None, **said})
    return SimpleNamespace(verdict=verdict, scatter=scatter, nearest=SimpleNamespace(p_value=p))


def test_corrections_explain_a_lab_that_neither_scatters_nor_is_far_off_any_more() -> None:
    before = judged(VerdictKind.NONE_FITS)
    fits, none = VerdictKind.SINGLED_OUT, VerdictKind.NONE_FITS
    for after, explained in (
        (None, True),
        (judged(fits, p=0.0001), True),
        (judged(fits, scatter_p=0.02), True),
        (judged(fits, scatter_p=0.0199), False),
        (judged(none, p=0.002), True),
        (judged(none, p=0.00199), False),
        (judged(none, p=0.5, scatter_p=0.01), False),
        (judged(fits, warnings=(Caveat(CaveatKind.NOTHING_SHOWN),)), False),
        (judged(fits, warnings=(Caveat(CaveatKind.NOT_LINEAR),)), True),
        (judged(fits, reason=Reason.NOTHING_REACTED), False),
    ):
        assert _explained(before, after) is explained
    assert _explained(judged(VerdictKind.CANNOT_BE_JUDGED), judged(none, p=0.0, scatter_p=0.0))


def trials(*made: float, used: float = 1.0) -> Any:
    """Return trials that each used as many moles."""
    names = [SimpleNamespace(name=f"bench {i + 1}") for i in range(len(made))]
    return SimpleNamespace(
        amounts=[(used, one) for one in made],
        ratio=sum(made) / len(made) / used if used else math.inf,
        experiment=SimpleNamespace(trials=names),
        scatter=None,
    )


def test_the_farthest_is_named_of_three_trials_or_more() -> None:
    """Off by 0.1, 0.1 and −0.2 of a mean of 2; by 0.4 and −0.2 twice of 2.1; by −1.2 of 2.2."""
    assert _farthest(trials(2.1, 2.1, 1.8)) == "bench 3"
    assert _farthest(trials(2.5, 1.9, 1.9)) == "bench 1"
    assert _farthest(trials(1.0, 2.9, 2.8)) == "bench 1"
    assert _farthest(trials(2.1, 1.8)) == ""
    assert _farthest(trials(2.1, 2.1, 1.8, used=0.0)) == ""


@pytest.mark.parametrize(
    ("p", "excess", "spread", "words"),
    [
        (0.0009, True, 3.14, "scatter 3.1 times as much as their readings explain, bench 3 most"),
        (0.0009, True, 1.5, "scatter 1.5 times as much as their readings explain, bench 3 most"),
        (0.0009, True, 1.0, "scatter by more than their readings explain, bench 3 most of all."),
        (0.0009, True, math.inf, "scatter by more than any error of their readings, bench 3 most"),
        (0.001, True, 3.0, ""),
        (0.0009, False, 3.0, ""),
    ],
)
def test_how_much_trials_scatter_is_said(p: float, excess: bool, spread: float, words: str) -> None:
    evidence = trials(2.1, 2.1, 1.8)
    evidence.scatter = SimpleNamespace(p_value=p, excess=excess, ratio_of_spread=spread)
    found = _scattered(evidence, [])
    assert (found is None) == (not words)
    if found is not None:
        assert words in found.sentence
        assert (found.trial, found.spread) == ("bench 3", spread)
    apart = _scattered(evidence, [Slip(kind=SlipKind.OUTLYING, trial="bench 1")])
    assert apart is not None
    assert "bench 1 most of all" in apart.sentence
    evidence.scatter = None
    assert _scattered(evidence, []) is None
    alone = _scattered(evidence, [Slip(kind=SlipKind.OUTLYING, trial="bench 1")])
    assert alone is not None
    assert "by more than any error of their readings, bench 1 most of all" in alone.sentence
    assert math.isnan(alone.spread)


def off(ratio: float, p: float, count: int = 2, causes: int = 0) -> Any:
    return SimpleNamespace(
        verdict=SimpleNamespace(kind=VerdictKind.NONE_FITS),
        nearest=SimpleNamespace(
            candidate=SimpleNamespace(name="two", ratio=2), name="two", p_value=p
        ),
        scatter=None,
        warnings=(),
        ratio=ratio,
        coverage=0.95,
        amounts=[(1.0, ratio)] * count,
        experiment=SimpleNamespace(
            produced=SimpleNamespace(species="Ag"), recovery=(1.0, 1.0), variation=None
        ),
        causes=[
            SimpleNamespace(explains=i >= 0, effect=SimpleNamespace(name=f"effect {i}"))
            for i in range(-1, causes)
        ],
    )


@pytest.mark.parametrize(
    ("ratio", "count", "causes", "sentence"),
    [
        (2.2, 2, 1, "All trials are shifted alike: 10 % more Ag than two, the nearest candidate, "
         "would give. Could be: effect 0; or a candidate that is not listed."),
        (1.8, 1, 3, "The trial is shifted: 10 % less Ag than two, the nearest candidate, would "
         "give. Could be: effect 0, effect 1 or effect 2; or a candidate that is not listed."),
        (2.5, 2, 5, "All trials are shifted alike: 25 % more Ag than two, the nearest candidate, "
         "would give. Could be: effect 0, effect 1, effect 2 or 2 more; or a candidate that is "
         "not listed."),
        (2.5, 3, 0, "All trials are shifted alike: 25 % more Ag than two, the nearest candidate, "
         "would give. No effect known for this kind of lab explains it: look for a missing "
         "candidate."),
    ],
)  # fmt: skip
def test_a_shift_is_said_with_at_most_three_effects(
    monkeypatch: pytest.MonkeyPatch, ratio: float, count: int, causes: int, sentence: str
) -> None:
    monkeypatch.setattr(line, "causes_for", lambda evidence, _name, **_: evidence.causes)
    found = _shifted(off(ratio, 0.00199, count, causes))
    assert found is not None
    assert found.sentence == sentence
    assert found.shift == pytest.approx(ratio / 2 - 1)
    assert found.effects == tuple(f"effect {i}" for i in range(causes))
    near = _shifted(off(ratio, 0.002))
    assert near is not None
    assert near.kind is DiagnosisKind.NEAR_MISS
    assert near.sentence.startswith("two is missed by a narrow margin (")
    fitting = off(ratio, 0.0)
    fitting.verdict.kind = VerdictKind.SINGLED_OUT
    assert _shifted(fitting) is None


@pytest.mark.parametrize(
    ("kind", "u_mmol", "advice"),
    [
        ("rounding", 4.0, "about 13 times as much Cu, or steps of 0.0001 g in place of 0.01 g, "
         "would tell a and b apart"),
        ("repeatability", 2.0, "about 6.5 times as much Cu, or steps of 0.001 g in place of 0.01 "
         "g, would tell a and b apart"),
        ("linearity", 2.0, "about 6.5 times as much Cu, or steps of 0.001 g in place of 0.01 g, "
         "would tell a and b apart"),
        ("tolerance", 2.0, "let more Cu react"),
        ("rounding", 0.369, "one or two more trials should be enough"),
        ("tolerance", 0.369, "one or two more trials should be enough"),
        ("tolerance", 0.370, "let more Cu react"),
        ("rounding", 0.370, "about 1.2 times as much Cu, or steps of 0.001 g in place of 0.01 g, "
         "would tell a and b apart"),
        ("rounding", 308.0, "let more Cu react"),
    ],
)  # fmt: skip
def test_how_much_more_or_how_much_finer_is_worked_out(
    monkeypatch: pytest.MonkeyPatch, kind: str, u_mmol: float, advice: str
) -> None:
    """3.25 standard uncertainties between candidates 0.5 apart, 2 mmol of copper: a gap of 1 mmol.

    4 mmol: 13 times too much, so two powers of ten finer; 2 mmol: 6.5 times, one. 0.369 mmol are
    1.199 times, 0.370 mmol 1.2025 times; 308 mmol are 1001 times.
    """
    made = experiments.load("copper-silver")
    first = SimpleNamespace(share=0.6, kind=kind, words="the rounding")
    evidence: Any = SimpleNamespace(
        experiment=made, budget=[first], n_consumed=0.002,
        nearest=SimpleNamespace(standard_uncertainty_mol=u_mmol / 1000),
    )  # fmt: skip
    monkeypatch.setattr(line, "grouped_budget", lambda _: [first])
    shares = {"paper": 0.2, "wire after": 0.7, "wire before": 0.1}
    monkeypatch.setattr(line, "reading_shares", lambda _: shares)
    found = _by_reading(evidence, "a and b", 0.5)
    assert found.sentence == (
        f"Limited by the balance: 70 % of what is uncertain is in reading “wire after”; {advice}."
    )
    assert found.readings == ("wire after",)
    for fewer in ({}, {"paper": 0.59}):
        monkeypatch.setattr(line, "reading_shares", lambda _, fewer=fewer: fewer)
        assert _by_reading(evidence, "a and b", 0.5).sentence == (
            "Limited by the rounding: it makes up 60 % of what is uncertain, so that is where a "
            "better figure helps most."
        )
    monkeypatch.setattr(line, "reading_shares", lambda _: {"paper": 0.6})
    assert "in reading “paper”" in _by_reading(evidence, "a and b", 0.5).sentence
    evidence.budget = []
    assert _by_reading(evidence, "a and b", 0.5).sentence == "a and b are not told apart."


def test_where_nothing_was_consumed_more_must_react(monkeypatch: pytest.MonkeyPatch) -> None:
    first = SimpleNamespace(share=0.6, kind="rounding", words="the rounding")
    monkeypatch.setattr(line, "grouped_budget", lambda _: [first])
    monkeypatch.setattr(line, "reading_shares", lambda _: {"paper": 0.7})
    for consumed in (0.0, -0.001):
        evidence: Any = SimpleNamespace(
            experiment=experiments.load("copper-silver"), budget=[first], n_consumed=consumed,
            nearest=SimpleNamespace(standard_uncertainty_mol=0.001),
        )  # fmt: skip
        assert _by_reading(evidence, "a and b", 0.5).sentence.endswith("; let more Cu react.")


def slip(kind: SlipKind, *names: str, rule: str = "", trial: str = "2") -> Slip:
    return Slip(
        kind=kind, trial=trial, readings=names, typed=("1.34",) * len(names),
        corrected=("3.14",) * len(names), rule=rule,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("slips", "what"),
    [
        ([slip(SlipKind.TRANSPOSED, "a")],
         "One reading looks mistyped in trial 2: “a” reads 1.34 and may have been 3.14"),
        ([slip(SlipKind.SWAPPED, "a", "b", trial="")],
         "Two readings look swapped in every trial: “a” and “b”"),
        ([slip(SlipKind.SWAPPED, "a", "b", rule=TURNED_ROUND)],
         "Both differences look the wrong way round in trial 2: “a” and “b”"),
        ([slip(SlipKind.UNIT, "a", "b")],
         "Readings look mistyped in trial 2 (another unit): “a” and “b”"),
        ([slip(SlipKind.UNIT, "a"), slip(SlipKind.TARE, "b"), slip(SlipKind.TARE, "b", trial="3")],
         "One reading looks mistyped in trial 2: “a” reads 1.34 and may have been 3.14 "
         "(1 more below)"),
    ],
)  # fmt: skip
def test_what_looks_mistyped_is_said(slips: list[Slip], what: str) -> None:
    found = _mistyped(judged(VerdictKind.NONE_FITS), slips, None)
    assert found.sentence == f"{what}. Check the notebook; nothing was changed."
    assert (found.trial, found.readings) == (slips[0].trial, slips[0].readings)
    assert (found.typed, found.corrected) == (slips[0].typed, slips[0].corrected)


@pytest.mark.parametrize(
    ("kind", "reason", "names", "led"),
    [
        (VerdictKind.CANNOT_BE_JUDGED, None, (), "could still not be judged"),
        (VerdictKind.NOT_TOLD_APART, Reason.NOTHING_REACTED, (),
         "would not show that anything reacted"),
        (VerdictKind.NONE_FITS, None, (), "would still fit none of the candidates"),
        (VerdictKind.SINGLED_OUT, None, ("two",), "would single out two"),
    ],
)  # fmt: skip
def test_where_corrections_lead_is_said(
    kind: VerdictKind, reason: Reason | None, names: tuple[str, ...], led: str
) -> None:
    evidence: Any = SimpleNamespace(candidates={"one": 1, "two": 2})
    verdict: Any = SimpleNamespace(kind=kind, reason=reason, candidates=names)
    found = _mistyped(evidence, [slip(SlipKind.TRANSPOSED, "a")], verdict)
    assert found.sentence.endswith(
        f" Corrected, these readings {led}. Check the notebook; nothing was changed."
    )
    assert found.if_corrected is verdict


def test_what_cannot_be_judged_is_said_apart_from_what_was_still_changing() -> None:
    changing: Any = SimpleNamespace(reason=Reason.NOT_CONSTANT, about=("a", "b"))
    found = _unjudged(changing)
    assert (found.kind, found.readings) == (DiagnosisKind.NOT_CONSTANT, ("a", "b"))
    assert found.sentence.startswith("Not constant: the mass was still changing at a and b. Heat,")
    below = _unjudged(SimpleNamespace(reason=Reason.BELOW_ZERO))  # type: ignore[arg-type]
    assert below.kind is DiagnosisKind.CANNOT_BE_JUDGED
    assert "amount below zero" in below.sentence


def test_what_is_said_where_nothing_points_to_a_fault() -> None:
    def said(kind: VerdictKind, count: int, excess: bool | None = None) -> str:
        scatter = None if excess is None else SimpleNamespace(excess=excess)
        verdict = SimpleNamespace(kind=kind)
        it: Any = SimpleNamespace(scatter=scatter, verdict=verdict, amounts=[(1, 1)] * count)
        return _clear(it).sentence

    one, two_ = VerdictKind.SINGLED_OUT, VerdictKind.NOT_TOLD_APART
    second = "No reading points to a fault; a second trial would show whether it repeats."
    assert said(one, 1) == second
    assert said(one, 2) == said(two_, 1) == said(one, 2, False) == "No reading points to a fault."
    assert "as those of 1 lab in 100 without a fault do" in said(one, 2, True)


def test_what_limits_is_asked_without_the_allowance_and_without_the_variation(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Of three candidates the two that lie nearest to each other are not told apart."""
    made = replace(
        lab([(2.94, 2.80, 0.75, 0.99)], FINE, {"a": "1", "b": "3", "c": "4"}),
        recovery=(0.5, 1.0), variation=Variation(unknown=True),
    )  # fmt: skip
    ratios = {"c": 4.0, "a": 1.0, "b": 3.0}
    evidence: Any = SimpleNamespace(
        verdict=SimpleNamespace(kind=VerdictKind.NOT_TOLD_APART, candidates=("c", "a", "b")),
        candidates={n: SimpleNamespace(name=n, ratio=r) for n, r in ratios.items()},
        experiment=made,
    )
    asked: list[Experiment] = []

    def alone(experiment: Experiment) -> bool:
        asked.append(experiment)
        return False

    monkeypatch.setattr(line, "_alone", alone)
    monkeypatch.setattr(line, "_by_reading", lambda _e, two, gap: (two, gap))
    assert _limited(evidence) == ("b and c", 1.0)
    assert asked == [replace(made, recovery=(1.0, 1.0)), replace(made, variation=None)]
    monkeypatch.setattr(line, "_alone", lambda experiment: experiment.recovery == (1.0, 1.0))
    found = _limited(evidence)
    assert found is not None
    assert "Limited by the recovery stated, 50 % to 100 %" in found.sentence
    evidence.experiment = replace(made, recovery=(1.0, 1.0))
    again = _limited(evidence)
    assert again is not None
    assert "how few trials there are" in again.sentence
    evidence.verdict.kind = VerdictKind.SINGLED_OUT
    assert _limited(evidence) is None
