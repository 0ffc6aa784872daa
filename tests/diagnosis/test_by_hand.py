"""What a diagnosis says and counts, against other calculations and small cases."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from stoichkit import assess, experiments
from stoichkit.chemistry.formula import parse_formula
from stoichkit.decision.evidence import Evidence
from stoichkit.decision.sentences import reading_shares
from stoichkit.decision.verdict import DiagnosisKind
from stoichkit.diagnosis.causes import Cause, Combination, _limits, causes_for
from stoichkit.diagnosis.constant_mass import drying
from stoichkit.diagnosis.effects import effect_named
from stoichkit.diagnosis.line import SCATTER_LEVEL, _if_corrected, diagnose, slips_of
from stoichkit.diagnosis.sentences import (
    _needed,
    _part,
    _possible,
    cause_sentence,
    causes_paragraph,
    combination_sentence,
    effects_table,
    slip_sentence,
)
from stoichkit.diagnosis.slips import (
    TURNED_ROUND,
    Slip,
    SlipKind,
    _between,
    _Judged,
    _judged,
    find_slips,
    slip_in,
)
from stoichkit.diagnosis.stability import _cation, cell, couple
from stoichkit.measurement.concentration import KnownConcentration
from stoichkit.measurement.displays import Balance
from tests.labs import lab
from tests.odd_labs import evidence_of

FINE = Balance(readability_g=0.01, repeatability_g=0.002)


def by_profile(times: list[float], masses: list[float], u: float) -> tuple[float, float, float]:
    """Return least χ² and the least and largest water left within 3.841 of it.

    m(t) = c + w exp(-(t - t_last) / τ). For each w the best c and τ are looked for, and then the w
    where χ² has risen by 3.841, the 95 % point of χ² with one degree of freedom (tables).
    """
    from scipy.optimize import brentq, minimize_scalar

    t, m = np.array(times), np.array(masses)

    def chi2(left: float) -> float:
        def of(log_tau: float) -> float:
            rest = m - left * np.exp((t[-1] - t) / math.exp(log_tau))
            return float((((rest - rest.mean()) / u) ** 2).sum())

        return float(minimize_scalar(of, bounds=(1.0, 4.0), method="bounded",
                                     options={"xatol": 1e-9}).fun)  # fmt: skip

    best = minimize_scalar(chi2, bounds=(1e-4, 0.3), method="bounded", options={"xatol": 1e-9})

    def over(left: float) -> float:
        return chi2(left) - float(best.fun) - 3.841

    return float(best.fun), brentq(over, 1e-4, best.x), brentq(over, best.x, 0.3)


@pytest.mark.parametrize("repeatability_g", [0.0, 0.0005])
def test_the_limits_of_the_water_left_are_those_of_a_profile(repeatability_g: float) -> None:
    """The rounding of a step d has the standard uncertainty d/√12 (JCGM 100:2008, F.2.2.1).

    0.1 g left after 15 min of drying with a time constant of 10 min: 1.4 + 0.1 exp((15 − t)/10) g.
    """
    times, masses = [0, 5, 10, 15], ["1.848", "1.672", "1.565", "1.500"]
    balance = Balance(readability_g=0.001, repeatability_g=repeatability_g)
    found = drying(list(zip(times, masses, strict=True)), balance)
    u = math.hypot(repeatability_g, 0.001 / math.sqrt(12))
    chi2, low, high = by_profile([float(t) for t in times], [float(m) for m in masses], u)
    assert found.water_low_g == pytest.approx(low, rel=1e-4)
    assert found.water_high_g == pytest.approx(high, rel=1e-4)
    assert found.water_low_g < 0.1 < found.water_high_g
    assert found.consistent == (chi2 <= 6.635)  # 1 % point, one degree of freedom (tables)


def test_a_possible_range_begins_at_nothing() -> None:
    """A candidate that fits does so without any effect: the range holds 0, and nothing below."""
    evidence = assess(experiments.load("copper-silver"))
    causes = [c for c in causes_for(evidence, "copper(II)") if c.possible]
    assert causes
    for cause in causes:
        assert cause.low < 0
        assert cause.possible_range == (0.0, min(cause.high, cause.most))
    for cause in causes_for(evidence, "copper(I)"):
        if not cause.possible:
            assert all(map(math.isnan, cause.possible_range))


def test_more_is_too_large_and_less_too_small() -> None:
    """Silver that is not dry weighs more; silver that is lost weighs less."""
    causes = {c.effect.key: c for c in causes_for(assess(experiments.load("copper-silver")),
                                                  "copper(I)")}  # fmt: skip
    assert causes["wet product"].turn == "too large"
    assert causes["lost product"].turn == "too small"


def test_metals_are_called_by_their_names() -> None:
    effects = experiments.load("copper-silver")
    words = effect_named(effects, "product on metal").mechanism
    assert "silver" in words.casefold()
    assert "Ag" not in words


def scattered(off: float) -> Evidence:
    rows = [(2.94, 2.82, 0.75, 1.16), (3.19, 3.07, 0.70, 1.11), (3.14, 3.02, 0.73, 1.14)]
    return assess(
        lab(
            [(a, b, c, d + s * off) for (a, b, c, d), s in zip(rows, (0, -1, 1), strict=True)], FINE
        )
    )


def test_one_lab_in_a_hundred_scatters_so_without_a_fault() -> None:
    """Between 1 in 1000 and 1 in 100 nobody is accused; beyond, the scatter is named."""
    kinds = {}
    for steps in range(1, 9):
        evidence = scattered(steps * 0.01)
        assert evidence.scatter is not None
        kinds[evidence.scatter.p_value] = evidence.diagnosis
    for p, found in kinds.items():
        if 0.001 <= p < 0.01:
            assert found.kind is DiagnosisKind.CLEAR
            assert "as those of 1 lab in 100 without a fault do" in found.sentence
        elif p >= 0.01:
            assert "somewhat" not in found.sentence
        else:
            assert found.kind is DiagnosisKind.SCATTERED
    assert any(0.001 <= p < 0.01 for p in kinds)
    assert SCATTER_LEVEL == 0.001


def test_too_little_is_said_to_be_less() -> None:
    """0.98 g of copper give 0.98/63.546 × 2 × 107.868 = 3.327 g of silver: 3.00 g is 9.8 % less."""
    rows = [(3.00, 2.50, 0.80, 2.33), (3.10, 2.62, 0.75, 2.22)]
    found = assess(lab(rows, Balance(readability_g=0.01, repeatability_g=0.005))).diagnosis
    assert found.kind is DiagnosisKind.SHIFTED
    assert found.shift == pytest.approx(-0.098, abs=0.0005)
    assert found.sentence.startswith("All trials are shifted alike: 9.8 % less Ag than copper(II)")


def test_a_coarse_balance_asks_for_more_metal() -> None:
    sentence = assess(experiments.load("copper-silver-coarse")).diagnosis.sentence
    assert " times as much Cu, or steps of 0.01 g in place of 0.1 g, would tell" in sentence


def test_a_solution_hardly_known_is_what_limits() -> None:
    """Half as strong or half as strong again: two and three moles are not told apart by it."""
    titration = experiments.load("acid-titration")
    vague = replace(
        titration,
        produced=replace(
            titration.produced,
            concentration=KnownConcentration(
                name="sodium hydroxide solution", mol_per_L=0.0987, standard_mol_per_L=0.03
            ),
        ),
    )
    found = assess(vague).diagnosis
    assert found.kind is DiagnosisKind.LIMITED
    assert "sodium hydroxide solution" in found.sentence
    assert found.sentence.endswith(
        "% of what is uncertain, so that is where a better figure helps most."
    )


def test_a_lab_without_trials_has_no_slips() -> None:
    empty = experiments.load("copper-silver").with_trials([])
    assert find_slips(empty) == ()
    assert slips_of(empty) == ()


def test_a_common_slip_is_not_in_a_trial_without_its_reading() -> None:
    gas = experiments.load("magnesium-gas")
    shared = Slip(kind=SlipKind.UNIT, trial="", readings=("room pressure",), rule="hPa")
    assert "room pressure" in gas.shared_readings
    assert slip_in(gas, gas.trials[0], shared) is None


ROWS = [(3.12, 2.65, 0.71, 2.30), (2.98, 2.61, 0.70, 1.96), (3.40, 2.80, 0.72, 2.76)]


def test_an_amount_below_zero_fits_no_candidate() -> None:
    """0.47 g less than nothing was used up, on a balance that reads to 0.01 g."""
    whole = lab([*ROWS, (2.65, 3.12, 0.71, 2.30)])
    wrong = _judged(whole, whole.trials[3])
    assert wrong.p_zero < 1e-6
    assert max(wrong.p.values()) <= wrong.p_zero
    assert _judged(whole, whole.trials[0]).p_zero == 1.0


def test_nothing_used_and_nothing_made_is_no_correction() -> None:
    """3.21 for 3.12 would leave no copper used up and no silver made, which fits any ratio."""
    found = find_slips(lab([*ROWS, (3.12, 3.21, 0.71, 0.71)]))
    assert found
    assert all(slip.readings != ("wire after",) or slip.corrected != ("3.12",) for slip in found)


def test_every_reading_off_the_grid_is_put_right_and_of_others_the_first() -> None:
    """Steps of 0.01 g: no display shows 0.705 g or 3.125 g."""
    odd = lab(ROWS).with_reading("1", "paper", "0.705").with_reading("1", "wire before", "3.125")
    slips = find_slips(odd)
    assert {slip.readings for slip in slips} == {("paper",), ("wire before",)}
    put_right = _if_corrected(assess(odd), slips)
    assert put_right is not None
    texts = put_right.experiment.trials[0].readings
    assert texts["paper"][-1] in ("0.70", "0.71")
    assert texts["wire before"][-1] in ("3.12", "3.13")
    silver = experiments.load("copper-silver")
    one = Slip(kind=SlipKind.TRANSPOSED, trial="bench 1", readings=("paper",), corrected=("0.57",))
    two = replace(one, readings=("wire after",), corrected=("2.28",))
    first = _if_corrected(assess(silver), [one, two])
    assert first is not None
    assert first.experiment == silver.with_reading("bench 1", "paper", "0.57")


def test_a_ratio_lies_between_two_recoveries_if_their_discrepancies_differ_in_sign() -> None:
    """Used 1: no part between 1.2 and 1.9 made is twice that; some between 1.9 and 2.1 is."""

    def linear(made: float) -> SimpleNamespace:
        return SimpleNamespace(mean=lambda x, y: y * made - x, p_value=lambda _x, _y: 0.0)

    assert not _between([linear(1.2), linear(1.9)], 2.0, 0.001)  # type: ignore[list-item]
    assert _between([linear(1.9), linear(2.1)], 2.0, 0.001)  # type: ignore[list-item]


@pytest.mark.parametrize(("fits", "words"), [(True, "any amount"), (False, "no amount")])
def test_an_effect_that_moves_nothing_needs_any_amount_or_none(fits: bool, words: str) -> None:
    cause = SimpleNamespace(kind="unmoved", fits_without=fits, effect=SimpleNamespace(unit="g"))
    assert _needed(cause) == words  # type: ignore[arg-type]


def test_a_reading_the_display_cannot_show_is_named_even_if_it_explains_nothing() -> None:
    """Three trials scatter beyond their balance whatever the first reading was.

    Another slip that leaves the scatter as it is explains nothing, and is passed over.
    """
    scattered = evidence_of("excess scatter")
    given = {"trial": "1", "readings": ("wire before",), "typed": ("2.94",), "corrected": ("2.94",)}
    off = Slip(kind=SlipKind.OFF_GRID, **given)  # type: ignore[arg-type]
    turned = Slip(kind=SlipKind.TRANSPOSED, **given)  # type: ignore[arg-type]
    assert diagnose(scattered, slips=[off]).kind is DiagnosisKind.MISTYPED
    assert diagnose(scattered, slips=[turned]).kind is not DiagnosisKind.MISTYPED


@pytest.mark.parametrize("electrons", [1, 2])
def test_a_gram_of_hydrogen_takes_the_electrons_of_its_atoms(electrons: int) -> None:
    """2 H⁺ + 2 e⁻ → H2, 2.016 g/mol (memory): 0.992 mol of electrons for each gram."""
    ready = experiments.load("copper-plating")
    charged = replace(ready, consumed=replace(ready.consumed, electrons=electrons))
    (action,) = effect_named(charged, "hydrogen evolved").actions
    assert (action.side, action.place) == ("consumed", "moles")
    assert action.per_unit == pytest.approx(2 / (2.016 * electrons), rel=1e-3)


def test_only_a_slip_of_readings_of_the_trial_is_in_it() -> None:
    made = experiments.load("copper-silver")
    common = {"kind": SlipKind.SWAPPED, "trial": ""}
    here = Slip(**common, readings=("paper + silver", "paper"), rule="paper + silver, paper")
    other = Slip(**common, readings=("paper", "room pressure"), rule="paper, room pressure")
    assert slip_in(made, made.trials[0], here) is not None
    assert slip_in(made, made.trials[0], other) is None


def test_a_trial_that_cannot_be_judged_has_consumed_nothing_that_counts() -> None:
    """Silver of −0.05 g: nothing fits, and no amount of it is compared with others."""
    made = lab([(2.94, 2.84, 0.75, 0.70)], FINE)
    found = _judged(made, made.trials[0])
    assert not found.fits(0.01)
    assert found.consumed_mol == pytest.approx(0.10 / 63.546, rel=1e-3)
    assert _Judged({}).consumed_mol == 0.0


def test_the_share_said_is_the_largest_of_a_reading() -> None:
    """To a whole per cent, of the budget of the discrepancy from the nearest candidate."""
    seen = 0
    for name in ("copper-silver-coarse", "coarse, two trials", "no upper limit", "in pieces"):
        evidence = evidence_of(name)
        found = diagnose(evidence)
        if found.kind is DiagnosisKind.LIMITED and found.readings:
            parts = reading_shares(evidence)
            assert f": {100 * max(parts.values()):.0f} % of what is uncertain" in found.sentence
            assert sum(parts.values()) < 1.0 + 1e-9
            seen += 1
    assert seen


def test_an_effect_is_possible_up_to_the_most_there_is_and_from_nothing_on() -> None:
    (cause, *_) = causes_for(evidence_of("copper-silver"), "copper(I)")
    for low, high, most, possible in (
        (1.0, 2.0, 1.0, True), (1.0, 2.0, 0.99, False), (-1.0, 0.0, 5.0, True),
        (-1.0, -1e-9, 5.0, False), (0.0, 0.0, 0.0, True),
    ):  # fmt: skip
        made = replace(cause, low=low, high=high, most=most)
        assert made.possible is possible
        assert made.explains is (possible and not made.fits_without)


def test_what_an_oxide_holds_bounds_the_effect() -> None:
    """At most 0.5 g for each mole consumed that moves 0.01 mol a gram: 50 g for the 2 mol."""
    effect = SimpleNamespace(most_per_product=math.inf, most_per_consumed=0.5, most_reading="")
    found = _limits(None, 1.0, (2.0, 3.0), [(effect, 0.01, 0.0)])  # type: ignore[arg-type, list-item]
    (uses,), room = found[-1]
    assert uses == pytest.approx(1 + 50 * 0.01)
    assert room == pytest.approx(50 * 2.0)


def test_one_end_of_the_recovery_that_fits_is_enough() -> None:
    def end(mean: float, p: float) -> SimpleNamespace:
        return SimpleNamespace(mean=lambda *_: mean, p_value=lambda *_: p)

    assert _between([end(1.0, 0.5), end(2.0, 0.001)], 1.0, 0.01)  # type: ignore[list-item]
    assert _between([end(1.0, 0.001), end(-2.0, 0.001)], 1.0, 0.01)  # type: ignore[list-item]
    assert not _between([end(1.0, 0.009), end(2.0, 0.001)], 1.0, 0.01)  # type: ignore[list-item]
    assert _between([end(1.0, 0.01)], 1.0, 0.01)  # type: ignore[list-item]


def test_a_potential_decides_from_fifty_millivolts_on_to_both_sides() -> None:
    """Tables differ by some hundredths of a volt; where to draw the line is our choice."""
    daniell = cell(couple("Cu^2+", "Cu"), couple("Zn^2+", "Zn"))
    for potential_V, said in (
        (0.05, "forward"), (-0.05, "backward"), (0.0499, "undecided"), (-0.0499, "undecided"),
        (0.0, "undecided"),
    ):  # fmt: skip
        assert replace(daniell, potential_V=potential_V).direction == said


@pytest.mark.parametrize(
    ("salt", "ion"),
    [
        ("CuCl2", "Cu^2+"), ("CuBr", "Cu^+"), ("CuI", "Cu^+"), ("CuF2", "Cu^2+"),
        ("Cu(NO3)2", "Cu^2+"), ("Cu(CH3COO)2", "Cu^2+"), ("Cu(ClO4)2", "Cu^2+"),
        ("CuSO4", "Cu^2+"), ("Cu2SO4", "Cu^+"), ("Fe2(SO4)3", "Fe^3+"), ("FeCl3", "Fe^3+"),
    ],
)  # fmt: skip
def test_the_ion_of_a_salt_follows_from_its_anions(salt: str, ion: str) -> None:
    """Charges of usual anions: general knowledge of the trade."""
    assert _cation(parse_formula(salt), ion.partition("^")[0]) == ion


def cause(**fields: object) -> Cause:
    """Return 0.2 g of water, 0.1 g to 0.3 g, at most 0.8 g, of 0.4 g of silver."""
    (wet, *_) = causes_for(evidence_of("copper-silver"), "copper(I)")
    usual = {
        "needed": 0.2, "low": 0.1, "high": 0.3, "most": 0.8, "fraction": 0.5, "fraction_low": 0.25,
        "fraction_high": 0.75, "fraction_of": "produced", "ratio_change": 1, "fits_without": False,
    }  # fmt: skip
    return replace(wet, **(usual | fields))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({}, "copper(I) would fit with 0.10 g to 0.30 g of water in each trial, 25 % to 75 % of "
         "what was measured as product. It makes the ratio and the yield too large."),
        ({"ratio_change": -1, "most": 0.25, "fraction_of": "consumed"},
         "copper(I) would fit with 0.10 g to 0.25 g of water in each trial, 25 % to 62 % of what "
         "was consumed. It makes the ratio and the yield too small."),
        ({"fits_without": True, "low": -0.1, "ratio_change": 0},
         "copper(I) fits without it, and with up to 0.30 g of water in each trial (75 % of what "
         "was measured as product)."),
        ({"needed": math.nan}, "it does not change how well copper(I) fits."),
        ({"low": -0.3, "high": -0.1}, "it cannot make copper(I) fit, because it acts in the wrong "
         "direction. It makes the ratio and the yield too large."),
        ({"most": 0.05}, "copper(I) would need at least 0.10 g of water in each trial, and no more "
         "than 0.050 g is possible. It makes the ratio and the yield too large."),
    ],
)  # fmt: skip
def test_how_much_of_an_effect_is_said(fields: dict[str, object], sentence: str) -> None:
    assert cause_sentence(cause(**fields)) == f"Product not dry: {sentence}"


@pytest.mark.parametrize(
    ("fields", "needed", "possible"),
    [
        ({}, "0.20 g exactly; 0.10 g to 0.30 g fits, 25 % to 75 % of the product measured",
         "Yes: the masses allow up to 0.80 g."),
        ({"needed": -0.1, "low": -0.3, "fraction_low": -0.75, "fits_without": True,
          "fraction_of": "consumed"},
         "none exactly; 0.00 g to 0.30 g fits, 0 % to 75 % of what was consumed",
         "Yes, but not needed: it fits without. The masses allow up to 0.80 g."),
        ({"needed": -0.2, "low": -0.3, "high": -0.1}, "−0.20 g, which cannot be",
         "No: it acts in the wrong direction."),
        ({"most": 0.05}, "0.20 g exactly; 0.10 g to 0.30 g fits, 25 % to 75 % of the product "
         "measured", "No: the masses allow 0.050 g at most."),
        ({"most": math.inf, "fraction_high": math.inf}, "0.20 g exactly; 0.10 g to 0.30 g fits",
         "Yes: the masses allow up to no end in sight."),
        ({"fraction_low": 0.5, "fraction_high": 0.501},
         "0.20 g exactly; 0.10 g to 0.30 g fits, 50 % of the product measured",
         "Yes: the masses allow up to 0.80 g."),
    ],
)  # fmt: skip
def test_a_row_of_the_table_of_effects(
    fields: dict[str, object], needed: str, possible: str
) -> None:
    made = cause(**fields)
    assert (_needed(made), _possible(made)) == (needed, possible)


def test_a_part_is_that_of_what_was_measured() -> None:
    """0.5 for 0.2 g: 2.5 for each gram."""
    assert _part(cause(), 0.1, 0.3) == "25 % to 75 % of what was measured as product"
    assert _part(cause(), 0.1, 0.1) == "25 % of what was measured as product"
    for fields in ({"needed": 0.0}, {"fraction": math.nan}):
        assert _part(cause(**fields), 0.1) == "a part that cannot be stated"


def test_effects_are_summed_up_also_where_there_is_one() -> None:
    alone = causes_paragraph([cause()])
    assert alone.startswith("copper(I) does not fit as the readings stand. 1 of 1 effects could")
    no = {"low": -0.3, "high": -0.1}
    assert "None of the 1 effects known" in causes_paragraph([cause(**no)])
    assert "1 of 2 effects could make it fit alone: product not dry." in causes_paragraph(
        [cause(**no), cause()]
    )
    fits = causes_paragraph([cause(fits_without=True)])
    assert fits == "copper(I) fits as the readings stand; no effect is needed."
    assert causes_paragraph([]) == "No effect is known for this kind of lab."
    table = effects_table([cause()])
    assert table.caption == "Effects on copper(I), one at a time"
    assert [row[0] for row in table.rows] == ["Product not dry"]
    assert effects_table([]).caption == ""


def test_two_effects_together_are_said() -> None:
    lab_ = experiments.load("copper-silver")
    pair = tuple(effect_named(lab_, key) for key in ("wet product", "lost product"))

    def said(line: tuple[tuple[float, float], ...], band: bool = True) -> str:
        return combination_sentence(
            Combination(
                effects=pair, candidate="two", gains_mol=(1, 1), discrepancy_mol=0, limit_mol=0,
                limits=(), line=line, band=((0.0, 0.0),) if band else (),
            )  # type: ignore[arg-type]
        )  # fmt: skip

    assert said(((0.2, 1e-9), (0.4, 0.12))) == (
        "two would fit exactly with 0.20 g (product not dry) and none (product left in the vessel "
        "or the filtrate), with 0.40 g and 0.12 g, or with any pair evenly in between."
    )
    assert "and none (" not in said(((0.2, 1.1e-9), (0.4, 0.12)))
    for line in ((), ((0.2, 0.0), (0.2, 0.0))):
        assert said(line).endswith("but with none exactly.")
    assert said((), band=False).startswith("No possible amounts of product not dry and product")


@pytest.mark.parametrize(
    ("fields", "trials", "sentence"),
    [
        ({"kind": SlipKind.TRANSPOSED}, 2,
         "Trial 1, paper: 1.34 does not agree with the other readings; two digits may be "
         "transposed. With 3.14 the trial fits two. Check the digits in the notebook; nothing was "
         "changed."),
        ({"kind": SlipKind.UNIT, "rule": "mg", "alternatives": 2}, 1,
         "Trial 1, paper: 1.34 does not agree with the other readings; it may be in another unit "
         "(mg). With 3.14 the trial fits two. 2 corrections would do. There is a single trial, so "
         "a physical effect could do the same. Check the unit on the display; nothing was "
         "changed."),
        ({"kind": SlipKind.SWAPPED, "trial": "", "readings": ("a", "b"), "typed": ("1", "2"),
          "corrected": ("2", "1")}, 2,
         "All trials, a and b: 1 and 2 do not agree with the other readings; two readings may be "
         "swapped. With 2 and 1 every trial fits (the values are those of the first) two. Check "
         "in the notebook which was read first; nothing was changed."),
        ({"kind": SlipKind.SWAPPED, "rule": TURNED_ROUND}, 2,
         "Trial 1, paper: 1.34 does not agree with the other readings; both differences may be "
         "the wrong way round. With 3.14 the trial fits two. Check in the notebook which was read "
         "first; nothing was changed."),
        ({"kind": SlipKind.OFF_GRID}, 1,
         "Trial 1, paper: 1.34 cannot be right; the display cannot show this value. Nearest: "
         "3.14. Check it against the notebook, and which instrument was used; nothing was "
         "changed."),
        ({"kind": SlipKind.OVERWEIGHT}, 2,
         "Trial 1, paper (1.34): more product than any candidate allows for what was consumed. "
         "Suspect water, residue, a lost reading of what was consumed, or a missing candidate."),
        ({"kind": SlipKind.OVERWEIGHT, "readings": (), "trial": "", "rule": "measured"}, 2,
         "All trials: more product than any candidate allows for what was consumed. Suspect "
         "something else taken for it, a lost reading of what was consumed, or a missing "
         "candidate."),
        ({"kind": SlipKind.OUTLYING}, 2,
         "Trial 1: it stands apart from its fellows, and no single correction puts it right. Find "
         "out what was different in this trial before leaving it out."),
    ],
)  # fmt: skip
def test_a_slip_is_said_with_what_to_check(
    fields: dict[str, object], trials: int, sentence: str
) -> None:
    usual = {
        "trial": "1", "readings": ("paper",), "typed": ("1.34",), "corrected": ("3.14",),
        "candidate": "two",
    }  # fmt: skip
    assert slip_sentence(Slip(**(usual | fields)), trials=trials) == sentence  # type: ignore[arg-type]
