"""Groups that truly differ, recover a part, read below zero, react not at all, or are not dry."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from stoichkit import assess_class, experiments
from stoichkit.classroom import verdict as verdicts
from stoichkit.classroom.amounts import amounts_from_arrays, joined, scatter_test
from stoichkit.classroom.data import load_class
from stoichkit.classroom.evidence import evidence_of_groups
from stoichkit.classroom.export import export_results
from stoichkit.classroom.sentences import class_verdict_sentences, groups_sentence
from stoichkit.classroom.verdict import Basis, ClassCaveatKind, ClassVerdict, class_verdict
from stoichkit.decision.arrays import assess_weighings
from stoichkit.decision.evidence import assess
from stoichkit.decision.verdict import Reason
from stoichkit.errors import ExperimentError
from stoichkit.experiments.parts import Variation
from stoichkit.experiments.record import Experiment
from stoichkit.measurement.displays import Balance
from stoichkit.plots.class_groups import ClassGroupsPicture
from stoichkit.plots.class_line import ClassLinePicture
from stoichkit.reports.classroom import class_report
from stoichkit.widgets.state.classroom import GroupTable
from tests.classfiles import csv_bytes
from tests.labs import crucible, lab, weighed

LAB = experiments.load("copper-silver")
COPPER = {"copper(I)": 1, "copper(II)": 2}
BALANCE = Balance(readability_g=0.01, repeatability_g=0.005)
SOUND = [
    (f"g{i}", "1", "3.12", f"{2.65 + 0.01 * i:.2f}", "0.71", f"{2.30 - 0.02 * i:.2f}")
    for i in range(5)
]


def tables(groups: int, seed: int = 3) -> tuple[np.ndarray, ...]:
    """Return weighings of one class, a trial a group, copper(II) true."""
    rng = np.random.default_rng(seed)
    return weighed(rng, rng.uniform(0.1, 0.5, (1, 1)), 2.0, 0.01, 0.5, (1, groups))


@pytest.mark.parametrize("groups", [2, 4, 9])
def test_the_rule_is_that_of_trials_of_unknown_variation(groups: int) -> None:
    """One trial a group and alike amounts: each p-value equals that of arrays of trials."""
    given = tables(groups)
    arrays = assess_weighings(
        *given, consumed="Cu", produced="Ag", candidates=COPPER, balance=BALANCE,
        variation=Variation(unknown=True),
    )  # fmt: skip
    found = class_verdict(lab([tuple(row) for row in np.array(given)[:, 0, :].T], BALANCE))

    assert found.basis is Basis.SCATTER
    assert [c.p_value for c in found.candidates.values()] == pytest.approx(
        arrays.p_value[0].tolist(), abs=1e-6
    )


# JCGM 100:2008, Table G.2, t for 95 % and for 99 % (as in GUM's printed two decimals)
@pytest.mark.parametrize(
    ("groups", "t_95", "t_99"),
    [(2, 12.71, 63.66), (3, 4.30, 9.92), (4, 3.18, 5.84), (8, 2.36, 3.50)],
)
def test_the_scatter_is_tested_with_the_printed_students_t(
    groups: int, t_95: float, t_99: float
) -> None:
    d = np.linspace(-1, 1, groups) * 0.01
    u = float(d.std(ddof=1)) / math.sqrt(groups)
    for t, p in ((t_95, 0.05), (t_99, 0.01)):
        class_ = amounts_from_arrays(np.ones(groups), 2 + d + t * u, 1e-6, 1e-3)
        _, found = scatter_test(class_, 2.0, 1.0)
        assert found == pytest.approx(p, rel=0.01)  # t is printed to two decimals


def test_a_stated_variation_by_hand() -> None:
    """3 % from group to group adds (0.03 n)² / groups to the variance; normal, as it is exact."""
    n = np.array([1.0, 1.0, 1.0, 1.0])
    made = 2 * n * (1 + np.array([0.01, 0.03, 0.02, 0.04]))
    class_ = amounts_from_arrays(n, made, 0.001, 0.002)
    found = class_verdict(class_, candidates=COPPER, variation="3 %")
    u = math.sqrt((0.002**2 + (2 * 0.001) ** 2 + np.mean((0.03 * made) ** 2)) / 4)
    two_sided = math.erfc(np.mean(made - 2 * n) / u / math.sqrt(2))

    assert found.basis is Basis.COMMON
    assert found.candidates["copper(II)"].p_value == pytest.approx(two_sided, rel=1e-3)
    assert class_verdict(class_, candidates=COPPER, variation=0.03).ratio == found.ratio
    none = class_verdict(class_, candidates=COPPER, variation="none")
    assert none.by_readings.candidates == ()
    assert none.basis is Basis.SCATTER  # they plainly differ by more than nothing
    known = Variation(relative=0.03, from_trials=4)
    wider = class_verdict(class_, candidates=COPPER, variation=known)
    assert wider.candidates["copper(II)"].p_value > two_sided
    with pytest.raises(ExperimentError, match=r"variation.*how much the groups differ"):
        class_verdict(class_, candidates=COPPER, variation="much")


def test_the_record_says_how_much_groups_differ() -> None:
    """``between_groups`` counts; without it a variation stated between trials is all there is."""
    assert class_verdict(LAB).variation == Variation(unknown=True)
    trials = replace(LAB, variation=Variation(relative="2 %"))
    assert class_verdict(trials).variation == "none"
    assert class_verdict(replace(trials, between_groups="unknown")).variation.unknown
    stated = replace(LAB, between_groups="1.5 %")
    assert class_verdict(stated).variation == Variation(relative=0.015)
    assert class_verdict(stated, variation="none").variation == "none"
    assert Experiment.from_json(stated.to_json()) == stated
    unknown = replace(LAB, variation=Variation(unknown=True))
    assert class_verdict(unknown).variation.unknown
    with pytest.raises(ExperimentError, match="between_groups"):
        replace(LAB, between_groups="70 %")


def test_recovery_is_a_bounded_unknown_of_the_class() -> None:
    """A candidate fits exactly where its range of ratios meets the ratio set of the readings."""
    class_ = amounts_from_arrays([1.0, 1.1, 0.9, 1.05], [1.80, 1.99, 1.61, 1.90], 0.01, 0.01)
    plain = class_verdict(class_, candidates=COPPER)
    high = plain.ratio_set.high
    assert plain.verdict.candidates == ()
    for least, fits in ((high / 2 * 0.999, True), (high / 2 * 1.001, False)):
        found = class_verdict(class_, candidates=COPPER, recovery=(least, 1.0))
        assert found.candidates["copper(II)"].compatible is fits
    inside = class_verdict(class_, candidates=COPPER, recovery=(0.85, 1.0))
    assert inside.candidates["copper(II)"].tested_ratio == pytest.approx(inside.ratio)
    assert inside.verdict.candidates == ("copper(II)",)
    record = replace(LAB, recovery=(0.9, 1.0))
    assert class_verdict(record).candidates["copper(II)"].tested_ratio <= 2.0


def below() -> bytes:
    """Return a class of which g2 wrote the wire the wrong way round."""
    rows = [list(row) for row in SOUND]
    rows[2][2], rows[2][3] = rows[2][3], rows[2][2]
    return csv_bytes([tuple(row) for row in rows])


def test_a_group_below_zero_cannot_be_judged_nor_can_its_class(tmp_path: object) -> None:
    found = assess_class(below(), LAB)
    evidence = found.evidence
    assert evidence.kinds[2] == "cannot_be_judged"
    assert evidence.reasons == (None, None, Reason.BELOW_ZERO, None, None)
    assert evidence.fitting[2] == ()
    assert evidence.counts["cannot_be_judged"] == 1
    assert evidence.counts["singled_out"] == evidence.singled_out["copper(II)"] == 4
    assert "1 cannot be judged (g2)" in groups_sentence(found)

    verdict = found.verdict
    assert verdict is not None
    assert verdict.verdict.kind.value == "cannot_be_judged"
    assert verdict.verdict.about == ("Cu, g2",)
    assert {n: v.candidates for n, v in verdict.deciding_groups.items()} == {"g2": ("copper(II)",)}
    said = class_verdict_sentences(found)
    assert said.startswith(
        "Together the 5 groups cannot be judged: the amount of Cu of g2 comes out"
    )
    assert said.endswith("Without g2 the others single out copper(II).")

    text = class_report(found).markdown()
    assert "g2: these readings cannot be judged: the amount of Cu comes out below" in text
    assert "| cannot be judged: an amount is below zero |" in text
    assert "A constant blank was found" not in text.partition("Groups to look at")[0]
    assert "Yield if copper(II)" in text
    assert found.outlook is None
    picture = ClassGroupsPicture.of(found)
    assert not any(ray.judged for ray in picture.rays)
    assert "Candidates, none of which is judged (grey): copper(I) 1" in picture.alt_text
    assert "Compatible" not in picture.alt_text + ClassLinePicture.of(found).alt_text
    assert "the lines are grey" in picture._notes()
    assert "lines of the candidates are grey" in " ".join(ClassLinePicture.of(found)._notes())
    assert picture.rows[2].kind == "cannot_be_judged"
    assert not picture.judged
    assert "The class as a whole cannot be judged" in picture.alt_text
    table = GroupTable(found)
    assert table.line("g2").verdict == "cannot be judged: an amount is below zero"
    path = export_results(evidence, f"{tmp_path}/results.csv")
    assert "cannot be judged: an amount is below zero" in path.read_text("utf-8-sig")


def test_what_is_below_zero_is_named_once_with_its_groups_and_agrees_with_its_verb() -> None:
    """Both differences reversed in g2; in another class silver in g2 and g4; water in a hydrate."""
    rows = [list(row) for row in SOUND]
    for row in (rows[2], rows[4]):
        row[4], row[5] = row[5], row[4]
    silver = assess_class(csv_bytes([tuple(row) for row in rows]), LAB)
    assert "the amounts of Ag of g2 and g4 come out below" in class_verdict_sentences(silver)
    rows[2][2], rows[2][3] = rows[2][3], rows[2][2]
    mixed = class_verdict_sentences(assess_class(csv_bytes([tuple(row) for row in rows]), LAB))
    assert "the amounts of Cu (g2) and Ag (g2 and g4) come out below zero" in mixed
    rows[4][4], rows[4][5] = rows[4][5], rows[4][4]
    both = class_verdict_sentences(assess_class(csv_bytes([tuple(row) for row in rows]), LAB))
    assert "the amounts of Cu and Ag of g2 come out below zero" in both
    assert both.endswith("Without g2 the others single out copper(II).")

    hydrate = experiments.load("hydrate-heating")
    readings = hydrate.trials[0].readings
    gained = {**readings, "crucible + residue": ("25.00", "25.00")}
    all_rows = [
        (f"g{i}", "1", *map("; ".join, one.values()))
        for i, one in enumerate((readings, gained, readings))
    ]
    content = csv_bytes(all_rows, ("group", "trial", *readings))
    water = class_verdict_sentences(assess_class(content, hydrate))
    assert "the amount of H₂O of g1 comes out below zero" in water


def test_nothing_reacted_in_a_group_and_in_a_class() -> None:
    """Differences of a step or less, of which only one candidate fits (repeatability 0)."""
    exact = replace(LAB, instruments={**LAB.instruments})
    exact = exact.with_instrument("balance", Balance(readability_g=0.01, repeatability_g=0.0))
    rows = [(f"g{i}", "1", "3.12", "3.12", "0.71", "0.73") for i in range(2)]
    data = load_class(csv_bytes([*SOUND[:2], *[(f"n{g}", *r) for g, *r in rows]]), exact)
    evidence = evidence_of_groups(data)
    for i, name in enumerate(data.names):
        one = assess(data.groups[name]).verdict
        assert evidence.kinds[i] == one.kind
        assert evidence.reasons[i] == one.reason
        assert evidence.fitting[i] == one.candidates


def test_a_class_in_which_nothing_reacted_singles_out_nothing() -> None:
    """All readings alike: every candidate fits, and no group names one."""
    rows = [(f"g{i}", "1", "3.12", "3.12", "0.71", "0.71") for i in range(3)]
    found = assess_class(csv_bytes(rows), LAB)
    assert found.verdict is not None
    assert found.verdict.verdict.candidates == ("copper(I)", "copper(II)")
    assert found.evidence.counts["not_told_apart"] == 3


@pytest.mark.parametrize("recovery", [(1.0, 1.0), (0.9, 1.02)])
@pytest.mark.parametrize("trials", [1, 2])
def test_kinds_and_reasons_are_those_of_one_by_one(
    recovery: tuple[float, float], trials: int
) -> None:
    """Amounts about zero, of both signs, and large ones: as ``assess`` says of each group."""
    rng = np.random.default_rng(8)
    shape = (30, trials)
    reacting = rng.uniform(-0.05, 0.06, (30, 1)).round(3)
    given = weighed(rng, reacting, 2.0, 0.01, 0.4, shape)
    rows = [
        (f"g{g}", f"{t}", *(f"{table[g, t]:.2f}" for table in given))
        for g in range(30)
        for t in range(trials)
    ]
    data = load_class(csv_bytes(rows), replace(LAB, recovery=recovery))
    found = evidence_of_groups(data)
    for i, name in enumerate(data.names):
        one = assess(data.groups[name]).verdict
        assert (found.kinds[i], found.reasons[i]) == (one.kind, one.reason)
        assert found.fitting[i] == one.candidates
        assert found.verdict(name).kind is one.kind
    assert {"cannot_be_judged", "not_told_apart"} <= set(found.kinds)
    assert found.at_once


def test_a_class_that_is_not_dry_cannot_be_judged_unless_it_makes_no_difference() -> None:
    """The last heating of one group still took 0.08 g, of another class 0.00 g."""
    hydrate = experiments.load("hydrate-heating")
    dry = hydrate.with_trials(
        [replace(hydrate.trials[0], name=name, group=name) for name in ("a", "b", "c")]
    )
    wet = dry.with_reading("b", "crucible + residue", ["21.40", "21.28"])
    assert class_verdict(dry).verdict.reason is None
    found = class_verdict(wet)
    assert found.verdict.reason is Reason.NOT_CONSTANT
    assert found.verdict.about == ("crucible + residue, b",)
    assert found.without["b"].reason is None
    assert found.without["a"].reason is Reason.NOT_CONSTANT


def excluded_of(groups: int, true: float, classes: int) -> tuple[int, int]:
    """Return how many classes exclude the truth, by the rule and by the readings alone."""
    rng = np.random.default_rng(100 * groups + int(10 * true))
    lost = alone = 0
    for _ in range(classes):
        n = rng.uniform(0.8, 1.2, groups)
        u = 0.1
        made = 2 * n + u * math.sqrt(5) * true * rng.standard_normal(groups)
        class_ = amounts_from_arrays(
            n + u * rng.standard_normal(groups), made + u * rng.standard_normal(groups), u, u
        )
        found: ClassVerdict = class_verdict(class_, candidates=COPPER)
        lost += not found.candidates["copper(II)"].compatible
        alone += "copper(II)" not in found.by_readings.candidates
    return lost, alone


@pytest.mark.parametrize(
    ("groups", "true"),
    [
        pytest.param(4, 0.5, marks=pytest.mark.slow),
        (4, 2.0),
        pytest.param(8, 1.0, marks=pytest.mark.slow),
    ],
)
def test_the_truth_is_kept_by_groups_that_differ(groups: int, true: float) -> None:
    """``true`` in uncertainties of one group; the readings alone break the promise."""
    classes = 250
    lost, alone = excluded_of(groups, true, classes)
    limit = 0.05 + 3 * math.sqrt(0.05 * 0.95 / classes)
    assert lost / classes < limit
    if true >= 1:
        assert alone / classes > limit


def test_groups_without_scatter_leave_it_to_the_readings() -> None:
    rows = [(name, "1", *SOUND[0][2:]) for name in ("red", "blue")]
    found = class_verdict(
        joined({n: load_class(csv_bytes(rows), LAB).groups[n] for n in ("red", "blue")})
    )
    assert found.by_scatter is None
    assert found.verdict.candidates == found.by_readings.candidates == ("copper(II)",)
    assert ClassCaveatKind.NO_SCATTER in {c.kind for c in found.caveats}


def test_a_lone_candidate_does_not_stand_where_nothing_shows_that_anything_reacted() -> None:
    """One step of copper, none of silver, in both groups: copper(I) fits, and so does nothing."""
    rows = [
        ("red", "1", "3.12", "3.11", "0.71", "0.71"),
        ("blue", "1", "3.02", "3.01", "0.70", "0.70"),
    ]
    balance = Balance(readability_g=0.01, repeatability_g=0.003)
    found = assess_class(csv_bytes(rows), LAB.with_instrument("balance", balance))
    assert found.verdict is not None
    assert found.verdict.verdict.kind.value == "not_told_apart"
    assert found.verdict.verdict.reason is Reason.NOTHING_REACTED
    said = class_verdict_sentences(found)
    assert said.startswith("Together the 2 groups do not show that anything reacted: of the")


@pytest.mark.parametrize(
    ("recovery", "reason"), [((0.85, 1.05), None), ((0.97, 1.01), Reason.NOT_CONSTANT)]
)
def test_what_is_left_to_go_matters_where_it_changes_which_candidates_fit(
    recovery: tuple[float, float], reason: Reason | None
) -> None:
    """22.7092 g and still 1 mg at a heating: ten more make the ratio 2.09 at most, which lies
    within 0.85 to 1.05 of 2 (and not of 3), and beyond 0.97 to 1.01 of it.
    """
    lab = crucible("22.7102", "22.7092", recovery=recovery)
    groups = [replace(lab.trials[0], name=name, group=name) for name in ("a", "b", "c")]
    found = class_verdict(lab.with_trials(groups)).verdict
    assert found.reason is reason
    if reason is None:
        assert found.candidates == ("BaCl2·2H2O",)


def test_of_routes_that_disagree_the_one_that_excludes_least_counts(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Of those alike the one tested nearest to what was measured."""
    made = {
        name: SimpleNamespace(p_value=p, tested_ratio=ratio)
        for name, p, ratio in (("all", 0.2, 0.1), ("first", 0.5, 3.0), ("second", 0.5, 2.0))
    }
    monkeypatch.setattr(verdicts, "_tested_by", lambda _, name, __: made[name])
    test: Any = SimpleNamespace(each=tuple(made), distance=lambda ratio: ratio)
    candidate: Any = None
    assert verdicts._tested(candidate, test, 0.95) is made["second"]
