"""Labs as they happen, each with numbers that can be checked by hand.

Molar masses used below, g/mol (read from a periodic table: Cu 63.546, Ag 107.868, Fe 55.845,
Mg 24.305, O 15.999, Ba 137.327, Cl 35.45, H 1.008). All readings are invented.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from stoichkit.chemistry.candidates import plain_ratios
from stoichkit.decision.arrays import assess_weighings
from stoichkit.decision.evidence import Evidence, assess
from stoichkit.decision.linear import unexplained
from stoichkit.decision.sentences import (
    assumption_sentences,
    ratio_sentence,
    second_opinion_sentence,
    yield_sentence,
)
from stoichkit.decision.statement import verdict_sentences
from stoichkit.decision.verdict import CaveatKind, Reason, VerdictKind
from stoichkit.decision.yields import yield_for
from stoichkit.diagnosis.slips import SlipKind, find_slips
from stoichkit.experiments.parts import Trial, Variation
from stoichkit.experiments.record import Experiment
from stoichkit.measurement.displays import Balance
from stoichkit.measurement.weighing import MassByDifference
from stoichkit.reports.worked import conclusion_paragraph
from tests.labs import REVERSED, as_dense_as_weights, crucible, lab, two

FINE = Balance(readability_g=0.001)
M_CU, M_AG, M_FE = 63.546, 107.868, 55.845


def kinds(evidence: Evidence) -> set[CaveatKind]:
    return {one.kind for one in evidence.warnings}


# -- recovery is a bounded unknown ------------------------------------------------------------


@pytest.mark.parametrize("recovered", [1.0, 0.925, 0.85])
def test_a_yield_anywhere_in_the_allowance_is_no_misfit(recovered: float) -> None:
    """1.000 g of copper gives 2 × 1.000 / 63.546 × 107.868 = 3.395 g of silver in full."""
    gross = round(0.800 + 3.395 * recovered, 3)
    found = assess(lab([(3.000, 2.000, 0.800, gross)], FINE, recovery=(0.85, 1.0)))

    assert found.verdict.kind is VerdictKind.SINGLED_OUT
    assert found.verdict.candidates == ("copper(II)",)
    assert found.candidates["copper(II)"].tested_ratio == pytest.approx(2 * recovered, abs=1e-3)


@pytest.mark.parametrize("recovered", [0.84, 1.01])
def test_a_yield_outside_the_allowance_fits_nothing(recovered: float) -> None:
    """One per cent of 3.395 g is 34 display steps: at either end the test is as sharp as ever."""
    gross = round(0.800 + 3.395 * recovered, 3)
    found = assess(lab([(3.000, 2.000, 0.800, gross)], FINE, recovery=(0.85, 1.0)))

    assert found.verdict.kind is VerdictKind.NONE_FITS


def spread(parts: tuple[float, ...], **fields: Any) -> Experiment:
    """Three trials of 1.000 g of copper of which so much of the silver was recovered."""
    rows = [(3.000, 2.000, 0.800, round(0.800 + 3.395 * part, 3)) for part in parts]
    return lab(rows, FINE, **fields)


def test_each_trial_recovers_its_own_part() -> None:
    """86 %, 92 % and 99 % lie within the allowance: no excess, and no wider than the readings."""
    found = assess(spread((0.86, 0.92, 0.99), recovery=(0.85, 1.0)))

    assert found.scatter is not None
    assert found.scatter.ratio_of_spread > 30
    assert not found.scatter.excess
    assert CaveatKind.EXCESS_SCATTER not in kinds(found)
    assert found.verdict.candidates == ("copper(II)",)
    # without the allowance the same trials scatter in excess, and within 99 % to 100 % too
    assert assess(spread((0.86, 0.92, 0.99))).scatter.excess  # type: ignore[union-attr]
    narrow = assess(spread((0.86, 0.92, 0.99), recovery=(0.99, 1.0)))
    assert narrow.scatter is not None
    assert narrow.scatter.excess


def test_what_no_recovery_explains_by_hand() -> None:
    """(0.9 r − 0.8)² + (2 − 2 r)² is least at r = 4.72 / 4.81."""
    r = 4.72 / 4.81
    expected = (0.9 * r - 0.8) ** 2 + (2 - 2 * r) ** 2
    found = unexplained(np.array([[1.0, 2.0]]), np.array([[0.8, 2.0]]), (0.9, 1.0))
    assert found[0] == pytest.approx(expected, rel=1e-9)
    # ratios that differ by no more than the allowance leave nothing
    assert unexplained(np.array([[1.0, 2.0]]), np.array([[0.9, 2.0]]), (0.9, 1.0))[0] < 1e-20


def test_arrays_explain_scatter_by_the_recovery_as_one_lab_does() -> None:
    for parts in ((0.86, 0.92, 0.99), (0.80, 0.92, 1.05)):
        one = spread(parts, recovery=(0.85, 1.0))
        rows = [[t.readings[n][0] for n in one.reading_names()] for t in one.trials]
        before, after, paper, gross = np.array(rows, dtype=float).T[:, None, :]
        many = assess_weighings(
            before, after, paper, gross, consumed="Cu", produced="Ag",
            candidates={"copper(I)": 1, "copper(II)": 2}, balance=FINE, recovery=(0.85, 1.0),
        )  # fmt: skip
        expected = [c.p_value for c in assess(one).candidates.values()]
        assert many.p_value[0].tolist() == pytest.approx(expected, abs=1e-9)


# -- the variation between trials -------------------------------------------------------------


def student_of_two(ratio: float, made_g: tuple[float, float], used_g: tuple[float, float]) -> float:
    """Two-sided Student t with one degree of freedom (Cauchy): 2/π arctan(1/t), t = mean √2 / s."""
    d = [m / M_CU / (u / M_FE) - ratio for m, u in zip(made_g, used_g, strict=True)]
    t = abs(d[0] + d[1]) / abs(d[0] - d[1])
    return 2 / math.pi * math.atan(1 / t)


def test_iron_with_two_trials_of_unlike_size_that_agree_leaves_no_doubt() -> None:
    """0.56 g and 0.30 g of iron make 0.64 g and 0.34 g of copper: ratios 1.004 and 0.996.

    Off 1.5 by 0.4956 and 0.5040: t = 0.9996 / 0.0084 = 120, p = 2/π · arctan(1/120) = 0.0053.
    """
    made, used = (0.64, 0.34), (0.56, 0.30)
    found = assess(two(made, used))
    assert found.verdict.candidates == ("iron(II)",)
    p = student_of_two(1.5, made, used)
    assert p == pytest.approx(0.0053, abs=5e-5)
    assert found.scatter_p_value("iron(III)") == pytest.approx(p, rel=1e-2)
    assert not found.doubted


def test_iron_with_two_trials_that_do_not_agree_is_singled_out_with_a_doubt() -> None:
    """0.56 g and 0.30 g of iron make 0.64 g and 0.31 g of copper: ratios 1.004 and 0.908.

    Off 1.5 by 0.4956 and 0.5919: t = 1.0875 / 0.0963 = 11.3, p = 2/π · arctan(1/11.3) = 0.0562.
    """
    made, used = (0.64, 0.31), (0.56, 0.30)
    found = assess(two(made, used))

    assert found.verdict.candidates == ("iron(II)",)
    p = student_of_two(1.5, made, used)
    assert p == pytest.approx(0.0562, abs=5e-5)
    assert found.scatter_p_value("iron(III)") == pytest.approx(p, rel=1e-3)
    assert found.second_opinion is not None
    assert found.second_opinion.candidates == ("iron(II)", "iron(III)")
    assert found.doubted
    said = verdict_sentences(found)
    assert said.startswith(
        "If the trials differ by nothing but their readings, these single out iron(II); judged by "
        "the scatter of the trials alone, they cannot tell iron(II) from iron(III). By the "
        "readings, iron(III) is excluded"
    )
    assert "state it (variation), or make more trials" in second_opinion_sentence(found)
    assert "This takes for granted that the trials differ by nothing" in conclusion_paragraph(found)
    assert "The trials differ by nothing but the errors of their readings." in (
        assumption_sentences(found)
    )


def test_iron_with_two_like_trials_leaves_no_doubt() -> None:
    """0.64 g and 0.65 g of copper from 0.56 g of iron: p of iron(III) is 0.010 by the scatter."""
    made, used = (0.64, 0.65), (0.56, 0.56)
    found = assess(two(made, used))

    p = student_of_two(1.5, made, used)
    assert p == pytest.approx(0.0102, abs=5e-5)
    assert found.scatter_p_value("iron(III)") == pytest.approx(p, rel=1e-2)
    assert not found.doubted
    assert second_opinion_sentence(found).endswith("the verdict is the same.")
    assert verdict_sentences(found).startswith("These readings single out iron(II).")


def test_unknown_variation_takes_the_larger_of_both() -> None:
    made, used = (0.64, 0.31), (0.56, 0.30)
    plain, unknown = assess(two(made, used)), assess(two(made, used, variation=UNKNOWN))

    assert unknown.verdict.kind is VerdictKind.NOT_TOLD_APART
    for name, one in unknown.candidates.items():
        both = plain.candidates[name].p_value, plain.scatter_p_value(name)
        assert one.p_value == pytest.approx(max(both), rel=1e-12)
    assert unknown.second_opinion is None
    assert second_opinion_sentence(unknown) == ""
    assert any("no p-value is smaller" in said for said in assumption_sentences(unknown))


UNKNOWN = Variation(unknown=True)


def test_one_trial_of_unknown_variation_says_that_it_cannot_show_it() -> None:
    found = assess(lab([(3.00, 2.53, 0.80, 2.40)], variation=UNKNOWN))

    assert found.verdict.candidates == ("copper(II)",)
    assert CaveatKind.UNKNOWN_VARIATION in kinds(found)
    assert found.second_opinion is None


def test_a_stated_variation_is_one_more_error_by_hand() -> None:
    """3 % of the silver from 1.000 g of copper is 0.10 g: 97 % recovered is one u away."""
    row = [(3.000, 2.000, 0.800, round(0.800 + 3.395 * 0.97, 3))]
    bare = assess(lab(row, FINE)).candidates["copper(II)"]
    stated, earlier = Variation(relative="3 %"), Variation(relative=0.03, from_trials=2)  # type: ignore[arg-type]
    known = assess(as_dense_as_weights(lab(row, FINE, variation=stated)))
    learned = assess(as_dense_as_weights(lab(row, FINE, variation=earlier)))

    assert not bare.compatible
    z = (1 / 0.97 - 1) / 0.03  # D over u, both as parts of what was weighed
    expected = math.erfc(z / math.sqrt(2))  # 0.303
    assert known.candidates["copper(II)"].p_value == pytest.approx(expected, abs=0.015)
    # from two earlier trials: Student t with one degree of freedom
    expected = 2 / math.pi * math.atan(1 / z)  # 0.49
    assert learned.candidates["copper(II)"].p_value == pytest.approx(expected, abs=0.015)


# -- below zero, and nothing reacted ----------------------------------------------------------


def test_three_trials_with_both_differences_reversed_cannot_be_judged() -> None:
    """−0.47 g of copper and −1.59 g of silver have the ratio of copper(II), and mean nothing."""
    found = assess(lab(REVERSED))

    assert found.candidates["copper(II)"].compatible  # the numbers stay
    assert found.verdict.kind is VerdictKind.CANNOT_BE_JUDGED
    assert found.verdict.reason is Reason.BELOW_ZERO
    assert found.verdict.candidates == ()
    assert found.verdict.about == ("Cu", "Ag")
    assert found.second_opinion is None
    for said in (verdict_sentences(found), conclusion_paragraph(found)):
        assert "the amounts of Cu and Ag come out below zero" in said
        assert "copper(" not in said
    assert "no percent yield can be stated" in yield_sentence(found, "copper(II)")
    assert ratio_sentence(found).startswith("This is no result")
    slips = find_slips(found.experiment)
    assert [(s.kind, s.candidate, len(s.readings)) for s in slips] == [
        (SlipKind.SWAPPED, "copper(II)", 4)
    ]


def test_one_reversed_trial_of_three_cannot_be_judged() -> None:
    """Its mean is above zero: 0.47, 0.47 and −0.50 g."""
    rows = [(3.12, 2.65, 0.71, 2.30), (2.95, 2.48, 0.70, 2.30), REVERSED[2]]
    found = assess(lab(rows))

    assert found.verdict.reason is Reason.BELOW_ZERO
    assert found.verdict.about == ("Cu (trial 3)", "Ag (trial 3)")


def test_a_small_negative_amount_is_bad_luck_and_no_slip() -> None:
    """One step of 0.01 g with 0.005 g of noise a reading is 1.2 u below zero."""
    found = assess(lab([(3.00, 3.01, 0.80, 0.80)]))

    assert found.verdict.kind is not VerdictKind.CANNOT_BE_JUDGED
    assert CaveatKind.NOT_RESOLVED in kinds(found)


def test_nothing_reacted_although_one_candidate_alone_fits() -> None:
    """0.02 g of copper less, no silver: along copper(I) 0.081 ± 0.065 mmol, p = 0.11 one-sided.

    u of a difference is √2 √(0.01²/12 + 0.005²) = 0.00816 g: 0.1285 mmol of Cu, 0.0757 of Ag.
    """
    found = assess(lab([(3.00, 2.98, 0.80, 0.80)]))

    va, vb = (1e3 * 0.0081650 / M_CU) ** 2, (1e3 * 0.0081650 / M_AG) ** 2
    amount = vb / (va + vb) * 1e3 * 0.02 / M_CU
    z = amount / math.sqrt(va * vb / (va + vb))
    assert z == pytest.approx(1.24, abs=0.01)
    p = 0.5 * math.erfc(z / math.sqrt(2))
    linear = found._test.linear
    assert linear.nothing_reacted_p(1.0) == pytest.approx(p, abs=2e-3)
    assert [n for n, c in found.candidates.items() if c.compatible] == ["copper(I)"]
    assert found.verdict.kind is VerdictKind.NOT_TOLD_APART
    assert found.verdict.reason is Reason.NOTHING_REACTED
    assert found.verdict.candidates == ("copper(I)",)
    assert verdict_sentences(found).startswith(
        "These readings do not show that anything reacted: they could be those of a lab in which "
        "nothing did. Of the candidates only copper(I) fits. Copper(II) is excluded"
    )
    assert "but nothing shows that anything reacted" in conclusion_paragraph(found)


@pytest.mark.parametrize("used_g", [0.01, 0.02, 0.03])
@pytest.mark.parametrize("made_g", [0.01, 0.02])
def test_the_amount_along_a_ray_by_hand(used_g: float, made_g: float) -> None:
    """The mean of both amounts with the least variance, against a normal distribution."""
    found = assess(lab([(3.00, 3.00 - used_g, 0.80, 0.80 + made_g)]))
    va, vb = (1e3 * 0.0081650 / M_CU) ** 2, (1e3 * 0.0081650 / M_AG) ** 2
    amount = (vb * 1e3 * used_g / M_CU + va * 1e3 * made_g / M_AG) / (va + vb)
    p = 0.5 * math.erfc(amount / math.sqrt(2 * va * vb / (va + vb)))
    assert found._test.linear.nothing_reacted_p(1.0) == pytest.approx(p, abs=1e-3, rel=0.05)
    assert p > 0


def test_less_silver_than_none_shows_no_reaction() -> None:
    """0.01 g of copper used and −0.02 g of silver made: copper(II) alone is not excluded."""
    found = assess(lab([(3.00, 2.99, 0.82, 0.80)]))

    assert [n for n, c in found.candidates.items() if c.compatible] == ["copper(II)"]
    assert found.verdict.reason is Reason.NOTHING_REACTED


def test_nothing_made_fits_none() -> None:
    """0.47 g of copper went and no silver came: that is a result, and its yield is 0 %."""
    found = assess(lab([(3.12, 2.65, 0.80, 0.80)]))

    assert found.verdict.kind is VerdictKind.NONE_FITS
    assert yield_for(found, "copper(II)").estimate == pytest.approx(0.0, abs=1e-9)


def test_ten_display_steps_are_above_zero() -> None:
    found = assess(lab([(3.00, 2.90, 0.80, 1.14)]))

    assert found.verdict.kind is VerdictKind.SINGLED_OUT


# -- drying -----------------------------------------------------------------------------------


def test_a_drifting_crucible_does_not_reject_the_dihydrate_outright() -> None:
    """22.9310 − 22.6994 = 0.2316 g lost, 6.8 mg too much, and still 1.1 mg from one to the next."""
    found = assess(crucible("22.7028", "22.7005", "22.6994"))

    assert not found.candidates["BaCl2·2H2O"].compatible
    lost_mol, left_mol = 0.2316 / 18.015, (1.5240 - 0.2316) / 208.227
    assert found.ratio == pytest.approx(lost_mol / left_mol, rel=1e-4)  # 2.071
    assert found.verdict.kind is VerdictKind.CANNOT_BE_JUDGED
    assert found.verdict.reason is Reason.NOT_CONSTANT
    assert found.verdict.about == ("crucible + residue (trial 1)",)
    said = verdict_sentences(found)
    assert "none of the candidates fits, but that does not count yet" in said
    assert "it may not have reached its end, or may have passed it (decomposition" in said
    assert "may not be dry, or may have decomposed" in conclusion_paragraph(found)


def test_a_fit_that_goes_on_drying_cannot_be_judged_either() -> None:
    """22.7062 g is the dihydrate to 0.0 mg; 1 mg more of loss would exclude it."""
    found = assess(crucible("22.7072", "22.7062"))

    assert found.candidates["BaCl2·2H2O"].compatible
    assert found.verdict.reason is Reason.NOT_CONSTANT
    assert "what is left to go would change which candidates fit" in verdict_sentences(found)


def test_a_constant_crucible_is_judged() -> None:
    fits, off = assess(crucible("22.7063", "22.7062")), assess(crucible("22.6995", "22.6994"))

    assert fits.verdict.candidates == ("BaCl2·2H2O",)
    assert off.verdict.kind is VerdictKind.NONE_FITS


def test_a_verdict_stands_if_whatever_is_left_leads_to_it() -> None:
    """Ten more milligrams make the ratio 2.09 at most, within 0.85 to 1.05 of 2 (but not of 3)."""
    heated = ("22.7102", "22.7092")
    found = assess(crucible(*heated, recovery=(0.85, 1.05)))

    assert found.verdict.candidates == ("BaCl2·2H2O",)
    assert CaveatKind.STILL_CHANGING in kinds(found)
    assert "A mass was still changing, but whatever is left" in conclusion_paragraph(found)
    # were only 1.9 to 2.1 waters allowed: 10 mg more is 0.2318 g, of 0.15 g too much, still within
    narrow = assess(crucible(*heated, recovery=(0.97, 1.01)))
    assert narrow.verdict.reason is Reason.NOT_CONSTANT


def test_a_mass_that_goes_on_far_below_nothing_is_no_error() -> None:
    """Ten times the last change is more than there is: the verdict is only that it changes."""
    for heated in (("22.9000", "21.5000"), ("1e12", "22.7062"), ("1e-14", "1e12")):
        found = assess(crucible(*heated))
        assert found.verdict.kind is VerdictKind.CANNOT_BE_JUDGED


# -- the yield of an oxide --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("species", "lighter", "expected"),
    [
        ("MgO", "crucible", 100 * 0.500 / (0.304 / 24.305 * 40.304)),
        ("O", "crucible + ribbon", 100 * 0.196 / (0.304 / 24.305 * 15.999)),
    ],
)
def test_the_yield_of_magnesium_oxide_by_hand(species: str, lighter: str, expected: float) -> None:
    """0.304 g of magnesium give 0.500 g of ash of 0.304 g / 24.305 × 40.304 = 0.5041 g: 99.2 %.

    As oxygen taken up it is 0.196 g of 0.2001 g, 97.9 %: the same readings, another question.
    """
    ash, ribbon = "crucible + ash", "crucible + ribbon"
    readings = {"crucible": "21.500", ribbon: "21.804", ash: ("22.001", "22.000")}
    oxide = assess(
        Experiment(
            title="Magnesium ribbon in air (invented)",
            consumed=MassByDifference(species="Mg", heavier=ribbon, lighter="crucible"),
            produced=MassByDifference(
                species=species, heavier=ash, lighter=lighter, repeated=(ash,)
            ),
            instruments={"balance": FINE},
            candidates=plain_ratios({"magnesium oxide": "1"}),
            trials=[Trial("1", readings)],
        )
    )
    found = yield_for(oxide, "magnesium oxide")
    assert found.estimate == pytest.approx(expected, abs=0.01)
    assert f"For magnesium oxide the percent yield is {expected:.1f} %" in yield_sentence(
        oxide, "magnesium oxide"
    )
