"""The verdict of a class: pooled test, line, blank, stability, outlook, and coverage."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from stoichkit import experiments
from stoichkit.classroom.amounts import (
    BlankKind,
    ClassAmounts,
    amounts_from_arrays,
    amounts_of,
    class_line,
    joined,
)
from stoichkit.classroom.outlook import class_outlook
from stoichkit.classroom.result import assess_class
from stoichkit.classroom.sentences import class_verdict_sentences, line_sentence
from stoichkit.classroom.verdict import (
    Basis,
    ClassCaveatKind,
    ClassVerdict,
    class_verdict,
)
from stoichkit.decision.evidence import assess
from stoichkit.decision.verdict import Reason
from stoichkit.errors import ExperimentError, ModelError
from stoichkit.experiments.parts import Trial
from stoichkit.experiments.record import Experiment
from stoichkit.measurement.displays import Balance
from stoichkit.planning.plan import Plan, chances
from stoichkit.uncertainty.sources import Shape, standard_uncertainty, uncertain_value
from tests.classfiles import csv_bytes
from tests.labs import lab

COPPER = {"copper(I)": 1, "copper(II)": 2}
BALANCE = Balance(readability_g=0.01, repeatability_g=0.005, calibration_relative=0.002)


def readings(
    rng: np.random.Generator, groups: int, *, blank_g: float = 0.0, gain: float = 1.0
) -> np.ndarray:
    """Return readings of a class with varied amounts, copper 0.1 to 0.5 g, in rows of ROLES.

    Copper(II) is true; the balance shows ``gain`` times the mass, to 0.01 g, with noise.
    """
    reacting = rng.uniform(0.1, 0.5, groups)
    wire, paper = rng.uniform(2, 4, groups), rng.uniform(0.5, 1.0, groups)
    silver = 2 * reacting / 63.546 * 107.8682 + blank_g
    true = np.array([wire, wire - reacting, paper, paper + silver])
    return np.round((true * gain + rng.normal(0, 0.005, true.shape)) / 0.01).T * 0.01


def record(table: np.ndarray, **fields: object) -> Experiment:
    return lab(table.tolist(), BALANCE, **fields)


def kinds(found: ClassVerdict) -> set[ClassCaveatKind]:
    return {c.kind for c in found.caveats}


def test_the_common_effect_is_the_exact_test_over_all_trials() -> None:
    """All groups' trials in one record give the same p-values as assessing that record."""
    whole = record(readings(np.random.default_rng(1), 8))
    found, evidence = class_verdict(whole, variation="none"), assess(whole)
    assert class_verdict([whole]).ratio == found.ratio
    assert class_verdict(replace(whole, coverage=0.9)).coverage == 0.9

    assert found.basis is Basis.COMMON
    assert found.verdict.candidates == ("copper(II)",)
    for name, one in found.candidates.items():
        assert one.p_value == one.p_common == pytest.approx(evidence.candidates[name].p_value)
    assert found.ratio == pytest.approx(evidence.ratio)
    assert 2.0 in found.ratio_set
    assert 1.0 not in found.ratio_set
    assert found.groups == tuple(str(i) for i in range(1, 9))


def test_groups_are_read_from_the_trials() -> None:
    """Three trials a group: twelve trials make four groups with means of three."""
    table = readings(np.random.default_rng(2), 12)
    whole = record(table)
    named = [replace(t, group=f"bench {i // 3}") for i, t in enumerate(whole.trials)]
    amounts = amounts_of(assess(whole.with_trials(named)))

    assert amounts.names == ("bench 0", "bench 1", "bench 2", "bench 3")
    each = assess(whole).amounts
    mean = sum(a for a, _ in each[:3]) / 3
    assert amounts.consumed[0] == pytest.approx(mean.nominal_value)
    found = class_verdict(amounts, candidates=COPPER)
    assert found.verdict.candidates == ("copper(II)",)


def test_joining_the_records_of_groups() -> None:
    whole = record(readings(np.random.default_rng(2), 6))
    parts = {
        f"group {i}": whole.with_trials([replace(t, name="1") for t in whole.trials[i : i + 1]])
        for i in range(6)
    }
    together = joined(parts)

    assert [t.name for t in together.trials][:2] == ["group 0: 1", "group 1: 1"]
    one, other = class_verdict(together), class_verdict(whole)
    assert one.candidates["copper(II)"].p_value == other.candidates["copper(II)"].p_value
    parts["group 3"] = parts["group 3"].with_instrument("balance", Balance(readability_g=0.1))
    mixed = joined(parts)
    assert [t.instruments for t in mixed.trials] == [
        {"balance": "balance 0.1 g"} if i == 3 else {} for i in range(6)
    ]
    parts["group 3"] = replace(parts["group 3"], recovery=(0.9, 1.0))
    with pytest.raises(ExperimentError, match=r"recovery.*group 3 differs"):
        joined(parts)
    with pytest.raises(ExperimentError, match="no group"):
        joined({})


def test_a_constant_blank_masquerades_and_the_line_sees_it() -> None:
    """Iron in copper sulfate, 0.4 g of water in every filter: iron(III) without a line.

    Invented: iron reacts to iron(II), 1 mol of copper a mole; groups use 0.2 to 1.6 g of iron.
    """
    iron = np.array([0.2, 0.4, 0.6, 0.8, 1.0, 1.2, 1.4, 1.6]) / 55.845
    copper = iron * 1.0 + 0.4 / 63.546
    rng = np.random.default_rng(3)
    u_a, u_b = 0.01 / 55.845, 0.01 / 63.546
    class_ = amounts_from_arrays(
        iron + rng.normal(0, u_a, 8), copper + rng.normal(0, u_b, 8), u_a, u_b
    )
    found = class_verdict(class_, candidates={"iron(II)": 1, "iron(III)": "3/2"}, produced="Cu")
    assert found.by_readings.candidates == found.by_scatter.candidates == ("iron(II)",)

    assert found.candidates["iron(II)"].p_common < 1e-9
    assert found.basis is Basis.LINE
    assert found.verdict.candidates == ("iron(II)",)
    assert found.ratio == pytest.approx(1.0, abs=0.03)
    assert found.blank is not None
    assert found.blank.kind is BlankKind.GAIN
    assert abs(found.blank.mass_g - 0.4) < 3 * found.blank.u_g < 0.08
    low, high = found.blank.interval_mol
    assert low < 0.4 / 63.546 < high
    assert ClassCaveatKind.BLANK in kinds(found)
    assert 1.0 in found.ratio_set
    assert 1.5 not in found.ratio_set
    alike = np.array([0.900, 0.905]) / 55.845
    near_mean = amounts_from_arrays(
        alike, alike + 0.45 / 63.546, 4 * u_a, 4 * u_b
    )  # two groups with alike amounts: nothing shows the blank, and iron(III) fits
    assert class_verdict(
        near_mean, candidates={"iron(II)": 1, "iron(III)": "3/2"}
    ).verdict.candidates == ("iron(III)",)


def test_a_blank_from_readings_in_grams() -> None:
    found = class_verdict(record(readings(np.random.default_rng(4), 14, blank_g=0.08)))

    assert found.basis is Basis.LINE
    assert found.verdict.candidates == ("copper(II)",)
    assert found.blank is not None
    assert found.blank.mass_g == pytest.approx(0.08, abs=3 * found.blank.u_g)
    lost = class_verdict(record(readings(np.random.default_rng(4), 14, blank_g=-0.08)))
    assert lost.blank is not None
    assert lost.blank.kind is BlankKind.LOSS


def test_a_smaller_blank_is_a_caveat() -> None:
    """Between the two levels the pooled test still decides, and says what is likely."""
    n = np.array([1.0, 2.0, 3.0, 4.0])
    found = class_verdict(amounts_from_arrays(n, 2 * n + 0.055, 0.01, 0.01), candidates=COPPER)

    assert found.blank is not None
    assert 0.001 < found.blank.p_value < 0.05
    assert found.basis is not Basis.LINE
    assert ClassCaveatKind.POSSIBLE_BLANK in kinds(found)


def test_one_group_with_a_slip() -> None:
    """Group 7 wrote its last reading 0.3 g too high: flagged, kept, and it decides the verdict."""
    table = readings(np.random.default_rng(5), 8)
    table[6, 3] += 0.30
    found = class_verdict(record(table))

    assert tuple(found.outlying) == ("7",)
    assert found.outlying["7"] > 5
    assert {ClassCaveatKind.OUTLYING, ClassCaveatKind.HETEROGENEOUS} <= kinds(found)
    assert found.basis is Basis.SCATTER
    assert found.heterogeneity.i_squared > 0.8
    assert "7" in found.groups
    assert set(found.without) == set(found.groups)
    alone = class_verdict(record(np.delete(table, 6, axis=0)))
    assert found.without["7"].candidates == alone.verdict.candidates == ("copper(II)",)
    assert found.line is not None
    assert found.line.inflated


def test_the_group_that_decides_is_named() -> None:
    """Four groups, one far off: nothing is told apart with it, copper(II) without it."""
    n = np.array([0.9, 1.0, 1.1, 1.0])
    found = class_verdict(
        amounts_from_arrays(n, [1.80, 2.01, 2.20, 0.60], 0.02, 0.02), candidates=COPPER
    )

    assert found.verdict.candidates == ("copper(I)", "copper(II)")
    assert {k: v.candidates for k, v in found.deciding_groups.items()} == {"4": ("copper(II)",)}
    assert (
        class_verdict(amounts_from_arrays([1, 2], [2, 4], 0.1, 0.1), candidates=COPPER).without
        == {}
    )


def test_groups_that_truly_differ() -> None:
    """Recoveries scatter by 5 %: random effects keep the truth, the common effect would not."""
    n = np.linspace(0.8, 1.2, 10)
    recovered = 2 * n * (1 + 0.08 * np.array([1, 1, -1, 1, -1, 1, 1, -1, 1, 1]))
    found = class_verdict(amounts_from_arrays(n, recovered, 0.005, 0.01), candidates=COPPER)

    assert found.basis is Basis.SCATTER
    assert found.candidates["copper(II)"].p_common < 0.01
    assert found.verdict.candidates == ("copper(II)",)
    assert found.ratio_spread == pytest.approx(0.155, abs=0.03)
    assert 2.0 in found.ratio_set
    pooled = found.candidates["copper(II)"].pooled
    assert pooled.tau > 0.1
    assert pooled.method == "paule-mandel"


def test_alike_amounts_give_no_line() -> None:
    found = class_verdict(experiments.load("copper-silver"))

    assert found.line is None
    assert found.blank is None
    assert "spread" in found.no_line
    assert all(math.isnan(c.p_slope) for c in found.candidates.values())
    assert ClassCaveatKind.NO_LINE in kinds(found)
    two = amounts_from_arrays([1, 2], [2, 4], 0.01, 0.01)
    assert class_line(two) == (None, "There are fewer than three groups.")
    assert ClassCaveatKind.FEW_GROUPS in kinds(class_verdict(two, candidates=COPPER))


def test_an_amount_not_told_apart_from_zero() -> None:
    found = class_verdict(
        amounts_from_arrays([0.01, 0.02, -0.01], [0.02, 0.03, 0.01], 0.02, 0.02), candidates=COPPER
    )
    assert ClassCaveatKind.NOT_RESOLVED in kinds(found)
    assert len(found.verdict.candidates) == 2
    assert math.isinf(found.ratio_set.high)


def test_what_groups_share_is_not_averaged_away() -> None:
    """100 groups and one stock solution known to 2 %: the pooled uncertainty stays near 2 %."""
    n = np.linspace(0.5, 1.5, 100)
    rng = np.random.default_rng(6)
    measured = 1.03 * (2 * n + rng.normal(0, 0.02, 100))
    shared = amounts_from_arrays(n, measured, 0.001, 0.02, shared_produced=0.02)
    found = class_verdict(shared, candidates=COPPER)
    naive = class_verdict(amounts_from_arrays(n, measured, 0.001, 0.02), candidates=COPPER)

    pooled = found.candidates["copper(II)"].pooled
    assert pooled.shared_uncertainty == pytest.approx(0.02 * 2.06, rel=0.02)
    assert pooled.standard_uncertainty < 0.005
    assert found.verdict.candidates == ("copper(II)",)
    assert naive.verdict.candidates == ()
    assert found.line is not None
    assert found.line.u_slope_shared == pytest.approx(0.02 * 2.06, rel=0.02)
    assert found.candidates["copper(II)"].p_slope > 0.05


def test_correlation_within_groups_is_that_of_the_arrays() -> None:
    amounts = amounts_from_arrays([1, 2, 3], [2, 4, 6], 0.1, 0.2, correlation=[0.5, -0.5, 0.9])

    for r, both, pairs in zip(
        (0.5, -0.5, 0.9), amounts.own.both, amounts.groups.values(), strict=True
    ):
        assert both == pytest.approx(r * 0.1 * 0.2)
        ((a, b),) = pairs
        assert standard_uncertainty(a) == pytest.approx(0.1)
        assert standard_uncertainty(b) == pytest.approx(0.2)
        assert standard_uncertainty(b - 2 * a) == pytest.approx(
            0.2 * math.sqrt(2 - 2 * r), abs=1e-9
        )
    assert amounts.own.along(2.0, 1.0)[0] == pytest.approx(0.04)


def test_groups_of_very_unequal_uncertainty_are_weighted() -> None:
    """One group on a coarse balance does not drown three good ones."""
    n = np.array([1.0, 1.2, 1.4, 1.0])
    u = np.array([0.01, 0.01, 0.01, 1.0])
    found = class_verdict(
        amounts_from_arrays(n, 2 * n + [0, 0.01, -0.01, 0.8], u, u), candidates=COPPER
    )

    assert found.verdict.candidates == ("copper(II)",)
    assert found.ratio == pytest.approx(2.0, abs=0.01)
    plain = class_verdict(
        amounts_from_arrays(n[3:].repeat(2), [2.8, 2.8], 1.0, 1.0), candidates=COPPER
    )
    assert len(plain.verdict.candidates) == 2


def test_two_balances_share_no_calibration() -> None:
    """The same class on one and on two balances with a large calibration error and a stated
    recovery: the second record's sources are its own, atomic weights stay shared."""
    table = readings(np.random.default_rng(7), 8)
    poor = Balance(readability_g=0.01, repeatability_g=0.005, calibration_relative=0.05)
    first = lab(table[:4].tolist(), poor)
    second = lab(table[4:].tolist(), poor)
    renamed = second.with_trials([replace(t, name=f"b{t.name}") for t in second.trials])
    whole = lab(table.tolist(), poor)
    one, two = class_verdict(whole), class_verdict([first, renamed])

    labels = [s.label for s in two.amounts.shared_sources]
    assert labels.count("calibration of balance") == 2
    assert [s.label for s in one.amounts.shared_sources].count("calibration of balance") == 1
    assert len(labels) - 2 == len(one.amounts.shared_sources) - 1
    assert two.verdict.candidates == ("copper(II)",)
    with pytest.raises(ModelError, match="one name"):
        class_verdict([first, second])
    other = renamed.with_candidates(experiments.load("copper-silver").candidates[:1])
    with pytest.raises(ModelError, match="different candidates"):
        class_verdict([first, other])
    with pytest.raises(ModelError, match="no experiment"):
        class_verdict([])


def test_plain_uncertain_numbers() -> None:
    def amount(value: float) -> object:
        return uncertain_value(value, "n", kind="other", shape=Shape.NORMAL, scale=0.01)

    groups = {f"g{i}": [(amount(v), amount(2 * v))] for i, v in enumerate((1.0, 1.5, 2.0))}
    found = class_verdict(groups, candidates=COPPER, coverage=0.99)

    # every group has the ratio 2: there is no scatter, whatever the amounts are
    assert found.by_scatter is None
    assert math.isnan(found.candidates["copper(I)"].p_scatter)
    assert found.verdict.candidates == found.by_readings.candidates == ("copper(II)",)
    assert ClassCaveatKind.NO_SCATTER in kinds(found)

    # by hand: ratios 1.9, 2 and 2.1 are off copper(I) by 0.9, 1 and 1.1, t = 1 / (0.1 / √3) = 17.3,
    # p = 0.0033; Student t for two degrees of freedom at 99 % is 9.92 (JCGM 100, Table G.2)
    groups = {
        f"g{i}": [(amount(v), amount(r * v))]
        for i, (v, r) in enumerate(((1.0, 1.9), (1.5, 2.0), (2.0, 2.1)))
    }
    found = class_verdict(groups, candidates=COPPER, coverage=0.99)
    assert found.candidates["copper(I)"].p_scatter == pytest.approx(0.0033, abs=1e-4)
    assert found.candidates["copper(II)"].p_scatter == pytest.approx(1, abs=1e-6)
    assert found.verdict.candidates == ("copper(II)",)

    groups = {f"g{i}": [(amount(v), amount(2 * v))] for i, v in enumerate((1.0, 1.5, 2.0))}
    found = class_verdict(groups, candidates=COPPER, coverage=0.99, variation="none")
    assert found.verdict.candidates == ("copper(II)",)
    assert found.coverage == 0.99
    assert found.heterogeneity.q == pytest.approx(0, abs=1e-20)
    assert found.blank is not None
    assert math.isnan(found.blank.mass_g)


@pytest.mark.parametrize(
    ("act", "words"),
    [
        (lambda: ClassAmounts({}), "do not make up a class"),
        (lambda: ClassAmounts({"a": [(1.0, 2.0)]}), "do not make up a class"),
        (lambda: ClassAmounts({"a": [(1.0, 2.0)], "b": []}), "do not make up a class"),
        (lambda: ClassAmounts({"a": [(1.0, 2.0)], "b": [(1.0, 2.0)]}), "no uncertainty of its own"),
        (lambda: amounts_from_arrays([1, 2], [1], 0.1, 0.1), "do not match"),
        (lambda: amounts_from_arrays([1, 2], [1, 2], 0.1, 0.1, names=["a", "a"]), "names"),
        (lambda: amounts_from_arrays([1, 2], [1, 2], 0.1, 0.1, correlation=2), "correlation"),
        (
            lambda: amounts_from_arrays([1, 2], [1, 2], -0.1, 0.1),
            "`scale` of “amount consumed, group 1”",
        ),
        (lambda: amounts_from_arrays([1, 2], [1, 2], 0.1, 0.1).without("9"), "no such group"),
    ],
)
def test_refusals_say_why(act: object, words: str) -> None:
    with pytest.raises(ModelError, match=words):
        act()  # type: ignore[operator]


def test_refusals_of_the_verdict_and_outlook() -> None:
    amounts = amounts_from_arrays([1, 2], [2, 4], 0.1, 0.1)
    with pytest.raises(ModelError, match="coverage"):
        class_verdict(amounts, candidates=COPPER, coverage=0.2)
    with pytest.raises(ModelError, match="no candidate"):
        class_verdict(amounts, candidates=[])
    with pytest.raises(ModelError, match="no candidate"):
        class_verdict(amounts)
    with pytest.raises(ModelError, match="no rival"):
        class_outlook(class_verdict(amounts, candidates={"copper(II)": 2}))
    found = class_verdict(amounts, candidates=COPPER)
    with pytest.raises(ModelError, match="no such candidate"):
        class_outlook(found, truth="copper(III)")
    with pytest.raises(ModelError, match=r"`target`.*below 0\.95"):
        class_outlook(found, target=0.95)


def test_uncertainty_falls_as_the_root_of_the_groups_until_the_shared_part() -> None:
    few = amounts_from_arrays([1.0, 1.1, 0.9], [1.9, 2.3, 1.8], 0.3, 0.9, shared_produced=0.08)
    found = class_verdict(few, candidates=COPPER, variation="none")
    outlook = class_outlook(found, truth="copper(II)")

    for row in outlook.rows[:-1]:
        expected = math.sqrt(outlook.own_u_mol**2 / row.groups + outlook.shared_u_mol**2)
        assert row.u_mol == pytest.approx(expected)
    assert [row.groups for row in outlook.rows] == [3, 6, 12, 24, math.inf]
    assert outlook.rows[-1].u_mol == outlook.shared_u_mol == pytest.approx(0.08 * 2, rel=0.02)
    assert [r.chance for r in outlook.rows] == sorted(r.chance for r in outlook.rows)
    assert outlook.largest_shared == "shared calibration of the amounts produced"
    needed = outlook.groups_needed

    def u(groups: float) -> float:
        return math.sqrt(outlook.own_u_mol**2 / groups + outlook.shared_u_mol**2)

    assert (
        outlook.discrepancy_mol / u(needed)
        >= 1.959964 + 1.43953
        > outlook.discrepancy_mol / u(needed - 1)
    )


def test_no_number_of_groups_is_enough_but_other_balances_are() -> None:
    """A shared error of half the gap: only independent copies of its source help."""
    n = np.linspace(0.5, 1.5, 12)
    class_ = amounts_from_arrays(n, 2 * n, 0.01, 0.01, shared_produced=0.25)
    outlook = class_outlook(class_verdict(class_, candidates=COPPER))

    assert math.isnan(outlook.groups_needed)
    assert outlook.rows[-1].chance < 0.9
    assert 2 <= outlook.copies_needed <= 5
    tight = class_outlook(
        class_verdict(amounts_from_arrays([1, 1.1], [2, 2.2], 0.5, 0.9), candidates=COPPER)
    )
    assert math.isnan(tight.copies_needed)
    assert tight.largest_shared == ""


def test_a_finer_balance_reduces_only_what_is_read() -> None:
    small = [(2.00, 1.99, 0.70, 0.73), (2.10, 2.08, 0.71, 0.76), (2.05, 2.04, 0.72, 0.76)]
    outlook = class_outlook(class_verdict(record(np.array(small))), truth="copper(II)")

    assert outlook.finer.groups == 3
    assert outlook.finer.u_mol == pytest.approx(outlook.rows[0].u_mol / 10, rel=0.05)
    assert outlook.finer.chance > outlook.rows[0].chance
    arrays = amounts_from_arrays([1, 1.1], [2, 2.2], 0.5, 0.9)
    same = class_outlook(class_verdict(arrays, candidates=COPPER))
    assert same.finer.u_mol == pytest.approx(same.rows[0].u_mol)


@pytest.mark.parametrize("groups", [2, 4, 8])
def test_outlook_agrees_with_the_planner(groups: int) -> None:
    """Chances from normal errors against the planner's exact digits: within 0.08."""
    consumed_mol = 0.03 / 63.546
    rows = [(2.00, 1.97, 0.70, 0.80)] * groups
    whole = lab(rows, Balance(readability_g=0.01, repeatability_g=0.01))
    outlook = class_outlook(class_verdict(whole, variation="none"), truth="copper(II)")
    plan = Plan(experiment=whole, consumed_mol=consumed_mol, trials=groups, spread=0.5)

    assert outlook.rows[0].chance == pytest.approx(chances(plan, "copper(II)").right, abs=0.08)


@pytest.mark.parametrize(
    ("blank_g", "groups"),
    [
        pytest.param(0.0, 6, marks=pytest.mark.slow),
        pytest.param(0.0, 15, marks=pytest.mark.slow),
        (0.15, 15),
    ],
)
def test_the_truth_is_kept_in_simulated_classes(blank_g: float, groups: int) -> None:
    """Readings rounded by the display, varied amounts, one calibration; with and without a blank.

    The true candidate is excluded at most 5 % of the time within sampling error (60 classes).
    """
    rng = np.random.default_rng(9)
    classes, excluded, slope, right = 60, 0, 0, 0
    for _ in range(classes):
        gain = 1 + rng.uniform(-1, 1) * 0.002
        table = readings(rng, groups, blank_g=blank_g, gain=gain)
        found = class_verdict(record(table))
        excluded += not found.candidates["copper(II)"].compatible
        slope += found.candidates["copper(II)"].p_slope < 0.05
        right += found.verdict.candidates == ("copper(II)",)
    limit = 0.05 + 3 * math.sqrt(0.05 * 0.95 / classes)
    assert slope / classes < limit
    assert excluded / classes < limit
    assert right / classes > 0.85


@pytest.mark.parametrize("classes", [75, pytest.param(150, marks=pytest.mark.slow)])
def test_the_truth_is_kept_with_shared_errors_that_matter(classes: int) -> None:
    """Arrays: 8 groups, 2 % shared by all amounts produced, correlated errors."""
    rng = np.random.default_rng(10)
    counts = dict.fromkeys(("p_value", "p_common", "p_slope"), 0)
    for _ in range(classes):
        n = rng.uniform(0.5, 1.5, 8)
        e = rng.normal(size=(2, 8))
        produced = (2 * n + 0.02 * (0.3 * e[0] + math.sqrt(0.91) * e[1])) * (
            1 + rng.normal(0, 0.02)
        )
        class_ = amounts_from_arrays(
            n + 0.01 * e[0], produced, 0.01, 0.02, correlation=0.3, shared_produced=0.02
        )
        one = class_verdict(class_, candidates=COPPER).candidates["copper(II)"]
        for name in counts:
            counts[name] += getattr(one, name) < 0.05
    for count in counts.values():
        assert count / classes < 0.05 + 3.5 * math.sqrt(0.05 * 0.95 / classes)
    assert counts["p_common"] / classes > 0.05 - 3.5 * math.sqrt(0.05 * 0.95 / classes)


def test_a_trial_keeps_its_group_in_the_record() -> None:
    """The group of a trial is written and read back, so that a class is one file."""
    whole = record(readings(np.random.default_rng(11), 4))
    named = whole.with_trials(
        [replace(t, group="red") for t in whole.trials[:2]]
        + [Trial(t.name, t.readings, "blue") for t in whole.trials[2:]]
    )
    assert amounts_of(assess(named)).names == ("red", "blue")
    assert Experiment.from_json(named.to_json()) == named


def test_a_class_that_consumed_less_than_nothing_fits_no_candidate() -> None:
    """Before and after exchanged: an amount far below zero, so nothing can be judged."""
    amounts = amounts_from_arrays([-0.63, -1.10], [4.9, 2.1], 0.11, 0.06)
    found = class_verdict(amounts, candidates={"copper(I)": 1, "copper(II)": 2})

    assert found.basis is Basis.SCATTER
    assert found.candidates["copper(II)"].p_scatter > 0.05
    assert found.verdict.kind.value == "cannot_be_judged"
    assert found.verdict.reason is Reason.BELOW_ZERO
    assert found.verdict.about[0] == "what was consumed"
    assert found.ratio_spread > 0


@pytest.mark.parametrize("order", [("one", "two", "four"), ("four", "two", "one")])
def test_the_nearest_candidate_is_named_where_every_p_is_zero(order: tuple[str, ...]) -> None:
    """Ratios of 2.5 in every group: 0.5 from "two", 1.5 from the others, whatever their order."""
    ratios = {"one": 1, "two": 2, "four": 4}
    listed = {name: ratios[name] for name in order}
    n = np.array([1.0, 2.0, 3.0, 9.0])
    for variation in ("none", "unknown"):
        class_ = amounts_from_arrays(n, 2.5 * n, 1e-9, 1e-9)
        found = class_verdict(class_, candidates=listed, variation=variation)
        assert {c.p_common for c in found.candidates.values()} == {0.0}
        if variation == "none":
            assert {c.p_value for c in found.candidates.values()} == {0.0}
            assert found.nearest.name == "two"
            assert class_outlook(found).truth == "two"
            assert "not even two (p" in line_sentence(found)
    blank = amounts_from_arrays(n, 2.5 * n + 1.0, 1e-9, 1e-9)
    line = class_verdict(blank, candidates=listed, variation="none")
    assert line.basis is Basis.LINE
    assert line.nearest.name == "two"


def test_the_headline_names_the_nearest_where_every_p_is_zero() -> None:
    fine = Balance(readability_g=0.0001, repeatability_g=0.0001)
    silver = [m * 2.5 / 63.546 * 107.8682 for m in (1.0, 1.1, 1.2)]  # a ratio of 2.5
    rows = [(5.0, 5.0 - m, 1.0, 1.0 + s) for m, s in zip((1.0, 1.1, 1.2), silver, strict=True)]
    record = lab(rows, fine, {"one": "1", "two": "2", "four": "4"})
    written = [("g" + t.name, "1", *(r[0] for r in t.readings.values())) for t in record.trials]
    found = assess_class(csv_bytes(written), record, variation="none")
    assert "The nearest is two (p < 0.0001)." in class_verdict_sentences(found)
