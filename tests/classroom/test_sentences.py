"""What is said about a class: true to the figures, whatever the class looks like."""

from __future__ import annotations

import re
from functools import cache

import numpy as np
import pytest

from stoichkit import experiments
from stoichkit.classroom.amounts import BlankKind, amounts_from_arrays
from stoichkit.classroom.outlook import class_outlook
from stoichkit.classroom.pooled import WAYS, pooled_ratios
from stoichkit.classroom.result import ClassResult, assess_class
from stoichkit.classroom.sentences import (
    basis_sentence,
    blank_sentences,
    candidate_class_sentence,
    class_assumptions,
    class_caveat_sentence,
    class_ratio_sentence,
    class_verdict_sentences,
    file_sentence,
    groups_sentence,
    heterogeneity_sentence,
    leave_one_out_sentence,
    line_sentence,
    not_assessed_sentences,
    outlook_sentences,
    outlying_rule,
)
from stoichkit.classroom.statement import opinions_sentence
from stoichkit.classroom.verdict import (
    Basis,
    ClassCaveat,
    ClassCaveatKind,
    ClassVerdict,
    class_verdict,
)
from stoichkit.reports.classroom import class_report
from stoichkit.text.wording import names_text
from stoichkit.uncertainty.pooling import pool
from tests.classfiles import ROWS, csv_bytes

CANDIDATES = {"copper(I)": 1, "copper(II)": 2}
LAB = experiments.load("copper-silver")


@cache
def demo(*, codes: bool = False) -> ClassResult:
    return assess_class(experiments.class_file(), LAB, codes=codes)


def verdict_of(produced: list[float], consumed: list[float], u: float = 0.02) -> ClassVerdict:
    amounts = amounts_from_arrays(consumed, produced, u / 2, u)
    return class_verdict(amounts, candidates=CANDIDATES, produced="Ag")


AGREEING = verdict_of([2.01, 4.0, 5.98, 8.01], [1.0, 2.0, 3.0, 4.0])
BLANKED = verdict_of([2.51, 4.5, 6.48, 8.51, 10.5, 12.49], [1.0, 2.0, 3.0, 4.0, 5.0, 6.0])
DOUBTFUL = verdict_of([2.51, 4.5, 6.48, 8.51], [1.0, 2.0, 3.0, 4.0])
LOSING = verdict_of([1.51, 3.5, 5.48, 7.51], [1.0, 2.0, 3.0, 4.0])
DIFFERING = verdict_of([1.8, 4.4, 5.4, 8.6, 10.0], [1.0, 2.0, 3.0, 4.0, 5.0])
TWO = verdict_of([2.0, 2.02], [1.0, 1.01])


def test_the_verdict_names_every_candidate_and_the_number_of_groups() -> None:
    said = class_verdict_sentences(demo())
    assert "9 groups" in said
    assert "single out copper(II)" in said
    assert "Copper(I) is excluded" in said


def test_a_single_group_is_no_class_and_says_so() -> None:
    one = assess_class(csv_bytes(ROWS[:2]), LAB)
    assert one.verdict is None
    assert class_verdict_sentences(one).startswith("There is no verdict of the class")
    assert "Only red was assessed" in class_verdict_sentences(one)
    assert "one group cannot show how much groups differ" in class_verdict_sentences(one)
    assert groups_sentence(one) == "By itself red singles out copper(II)."
    assert class_verdict_sentences(one).endswith("By itself red singles out copper(II).")
    assert "1 of 1" not in class_report(one, pictures=False).text()


def test_groups_that_cannot_tell_and_candidates_that_none_fit() -> None:
    coarse = [(g, t, a[:-1], b[:-1], c[:-1], d[:-1]) for g, t, a, b, c, d in ROWS[2:]]
    lost = [(g, t, a, b, c, f"{float(c) + 0.01:.2f}") for g, t, a, b, c, _ in ROWS]
    nothing = assess_class(csv_bytes(lost), LAB)
    assert class_verdict_sentences(nothing).startswith("None of the candidates fits the 3 groups")
    assert "3 fit none" in groups_sentence(nothing)
    blurred = assess_class(csv_bytes(coarse), experiments.load("copper-silver-coarse"))
    assert "cannot tell copper(I) from copper(II)" in class_verdict_sentences(blurred)
    assert "No candidate is excluded." in class_verdict_sentences(blurred)


def test_one_candidate_is_not_singled_out_from_anything() -> None:
    lab = LAB.with_candidates(LAB.candidates[1:])
    one = assess_class(csv_bytes(), lab)
    assert "the only candidate given" in class_verdict_sentences(one)
    assert one.outlook is None


def test_the_basis_follows_the_rule() -> None:
    stated = class_verdict(AGREEING.amounts, candidates=CANDIDATES, variation="none")
    contradicted = class_verdict(DIFFERING.amounts, candidates=CANDIDATES, variation="none")
    assert "readings alone, as" in basis_sentence(stated)
    assert "slope" in basis_sentence(BLANKED)
    # four points on a line 25 uncertainties above zero: by their scatter t is below 31.6 (p 0.001)
    assert DOUBTFUL.basis is Basis.EITHER
    assert "whichever excludes less" in basis_sentence(DOUBTFUL)
    assert DOUBTFUL.verdict.candidates == ("copper(II)",)  # the pooled mean excludes it
    assert DOUBTFUL.candidates["copper(II)"].p_common < 1e-6
    assert 2.0 in DOUBTFUL.ratio_set
    assert "by how much is unknown" in basis_sentence(DIFFERING)
    assert "by more than their readings and what was stated" in basis_sentence(contradicted)
    assert [v.basis for v in (stated, BLANKED, AGREEING, DIFFERING, contradicted)] == [
        Basis.COMMON,
        Basis.LINE,
        Basis.SCATTER,
        Basis.SCATTER,
        Basis.SCATTER,
    ]


def test_both_opinions_stand_beside_the_verdict_and_in_the_headline_where_they_differ() -> None:
    """Two groups: t for one degree of freedom is 12.71 (JCGM 100, Table G.2)."""
    two = [(g, t, *rest) for g, t, *rest in ROWS if g in ("red", "blue")]
    found = assess_class(csv_bytes(two), LAB)
    assert found.verdict is not None
    assert found.verdict.by_readings.candidates == ("copper(II)",)
    said = class_verdict_sentences(found)
    if found.verdict.opinions_differ:
        assert "If the groups differ by nothing but their readings, they single out" in said
        assert "judged by their scatter alone, they cannot tell copper(I) from" in said
    agreeing = opinions_sentence(AGREEING)
    assert agreeing.startswith("Both ways of judging agree: if the groups differ by nothing")
    stated = class_verdict(AGREEING.amounts, candidates=CANDIDATES, variation="3 %")
    assert "if the groups differ by the 3 % stated" in opinions_sentence(stated)


@pytest.mark.parametrize(
    ("variation", "taken", "counts", "caveat"),
    [
        (
            "none",
            "were taken to differ by nothing but their",
            "they differ by more",
            "of them holds",
        ),
        ("1 %", "were stated to differ by 1 %, but they", "they differ by more", "of them holds"),
        ("30 %", "If the groups differ by the 30 % stated", "only where it shows", "show whether"),
        ("unknown", "differ by nothing but their readings,", "taken as unknown", "state how much"),
    ],
)
def test_a_stated_variation_that_the_groups_refute_is_said_to_be_refuted(
    variation: str, taken: str, counts: str, caveat: str
) -> None:
    """Product 0 % to 13 % short of copper(II), by the readings none fits; or 5 %, all alike."""
    alike = variation == "30 %"
    produced = [1.9, 1.9, 1.91, 1.89, 1.9] if alike else [1.96, 1.74, 2.0, 1.84, 1.97]
    rows = [
        (f"b{i}", "1", "3.12", "2.12", "0.70", f"{0.70 + 1.6975 * ratio:.2f}")
        for i, ratio in enumerate(produced)
    ]
    result = assess_class(csv_bytes(rows), LAB, variation=variation)
    found = result.verdict
    assert found is not None
    assert found.opinions_differ
    assert found.refuted is (variation in ("none", "1 %"))
    said = class_verdict_sentences(result)
    assert taken in said
    assumed = list(class_assumptions(found, LAB))
    assert sum(counts in one for one in assumed) == 1
    much = "if they differ as stated" if variation == "30 %" else "however much its groups"
    assert much in assumed[0]
    (second,) = (c for c in found.caveats if c.kind is ClassCaveatKind.SECOND_OPINION)
    assert caveat in class_caveat_sentence(second, result)
    if found.refuted:
        assert "if the groups differ by nothing" not in said.lower()
        assert "or state how much" not in class_caveat_sentence(second, result)
    if variation == "1 %":
        assert "than their readings and the 1 % stated explain" in heterogeneity_sentence(found)


def test_heterogeneity_gives_the_figures_of_the_pooling() -> None:
    for found, words in ((AGREEING, "agree within"), (DIFFERING, "differ by more")):
        said = heterogeneity_sentence(found)
        assert words in said
        q = float(re.search(r"Q = ([\d.]+)", said)[1])  # type: ignore[index]
        assert q == pytest.approx(found.heterogeneity.q, rel=0.006)
        i_squared = float(re.search(r"I² = (\d+) %", said)[1])  # type: ignore[index]
        assert i_squared == pytest.approx(100 * found.heterogeneity.i_squared, abs=0.5)
    assert "τ² = 0 in" in heterogeneity_sentence(AGREEING)


def test_leaving_the_outlying_group_aside_is_tested_not_guessed() -> None:
    verdict = demo().verdict
    assert verdict is not None
    assert list(verdict.outlying) == ["plum"]
    x, y = verdict.amounts.best_direction()
    keep = [i for i, name in enumerate(verdict.groups) if name != "plum"]
    d, v = verdict.amounts.discrepancies(x, y)[keep], verdict.amounts.own.along(x, y)[keep]
    p = pool(d, v, method="common", interval="normal").p_heterogeneity
    assert f"Leaving plum aside, the others agree (p = {p:.2f})" in heterogeneity_sentence(verdict)


def test_the_blank_is_a_gain_a_loss_or_not_seen() -> None:
    gain, loss, none = (blank_sentences(v.blank, LAB) for v in (BLANKED, LOSING, AGREEING))
    assert BlankKind.GAIN.value in gain
    assert "wet filter paper" in gain
    assert BlankKind.LOSS.value in loss
    assert "not told apart from zero" in none
    assert "would not show" in none
    grams = float(re.search(r"that is \+([\d.]+) ±", gain)[1])  # type: ignore[index]
    assert BLANKED.blank is not None
    # M(Ag) = 107.868 g/mol (IUPAC 2021, from memory)
    assert grams == pytest.approx(107.868 * BLANKED.blank.amount_mol, rel=0.02)
    assert "no line" in blank_sentences(None, LAB)


def test_the_line_says_which_candidates_its_slope_fits_or_why_there_is_none() -> None:
    assert "fits copper(II)" in line_sentence(BLANKED)
    assert "not copper(I)" in line_sentence(BLANKED)
    assert line_sentence(TWO).startswith("No straight line was drawn")
    off = verdict_of([3.0, 6.0, 9.0], [1.0, 2.0, 3.0])
    assert "fits none of the candidates" in line_sentence(off)


def test_leaving_groups_out_says_on_which_the_verdict_hangs() -> None:
    stated = class_verdict(AGREEING.amounts, candidates=CANDIDATES, variation="none")
    assert "hangs on no single group" in leave_one_out_sentence(stated)
    assert "hangs on no single group" in leave_one_out_sentence(AGREEING)
    # ratios of 1.95, 2.0 and 2.3: of the first and the last t = 1.125 / 0.175 = 6.4, p = 0.10
    scattered = verdict_of([1.95, 2.0, 2.3], [1.0, 1.0, 1.0])
    assert "without 2 it cannot tell" in leave_one_out_sentence(scattered)
    assert "With two groups" in leave_one_out_sentence(TWO)
    three = verdict_of([1.42, 1.55, 40.0], [0.8, 0.9, 20.0], 0.9)
    hanging = class_verdict(three.amounts, candidates=CANDIDATES, variation="none")
    assert hanging.deciding_groups
    said = leave_one_out_sentence(hanging)
    assert said.startswith("The verdict hangs on ")
    assert all(f"without {name} it " in said for name in hanging.deciding_groups)


def test_large_classes_are_not_put_together_without_each_group() -> None:
    n = np.linspace(1, 5, 61)
    large = verdict_of((2 * n).tolist(), n.tolist())
    assert "was not tried" in leave_one_out_sentence(large)
    assert "without" not in large.__dict__


def test_the_rule_for_outlying_groups_gives_the_limit() -> None:
    assert "0.05 / 4" in outlying_rule(AGREEING)
    assert "fewer than 8" in outlying_rule(AGREEING)
    assert "neither" in outlying_rule(TWO)


@pytest.mark.parametrize("kind", list(ClassCaveatKind))
def test_every_caveat_has_its_own_sentence(kind: ClassCaveatKind) -> None:
    subject = {"OUTLYING": "plum", "DISAGREE": "copper(II)", "NO_LINE": "There are two."}
    caveat = ClassCaveat(kind, subject.get(kind.name, ""), 3.0)
    said = class_caveat_sentence(caveat, demo())
    others = {
        class_caveat_sentence(ClassCaveat(k, subject.get(k.name, ""), 3.0), demo())
        for k in ClassCaveatKind
        if k is not kind
    }
    assert said.endswith(".")
    assert said not in others
    assert "nan" not in said


def test_each_candidate_has_the_p_values_of_each_test() -> None:
    for tested in AGREEING.candidates.values():
        said = candidate_class_sentence(tested, AGREEING)
        assert ("fits" in said) is tested.compatible
        assert said.count("p ") == 3
    assert "slope" not in candidate_class_sentence(TWO.candidates["copper(I)"], TWO)


def test_the_ratio_sentence_shows_candidates_on_their_side() -> None:
    for found in (AGREEING, BLANKED, DIFFERING):
        said = class_ratio_sentence(found, LAB)
        low, high = (float(x) for x in re.search(r"from ([\d.]+) to ([\d.]+)", said).groups())  # type: ignore[union-attr]
        for one in found.candidates.values():
            assert (low <= float(one.candidate.ratio) <= high) is one.compatible
    assert "slope of the line" in class_ratio_sentence(BLANKED, LAB)


def test_pooled_ratios_agree_with_the_pooling_they_come_from() -> None:
    for found in (AGREEING, DIFFERING):
        ways = pooled_ratios(found)
        assert [one.way for one in ways] == [way for way, _, _ in WAYS]
        for one in ways:
            assert one.interval[0] < one.ratio < one.interval[1]
        common, laird, mandel, knapp, floored = ways
        assert common.tau == 0
        assert floored.standard_uncertainty >= knapp.standard_uncertainty
        assert floored.standard_uncertainty >= mandel.standard_uncertainty * (1 - 1e-12)
        assert mandel.tau == pytest.approx(found.ratio_spread)
        assert laird.ratio == pytest.approx(found.ratio, rel=0.1)
    uneven = amounts_from_arrays([1, 2, 3, 4], [1.8, 4.4, 5.4, 8.6], 0.01, [0.1, 0.02, 0.3, 0.05])
    ways = pooled_ratios(class_verdict(uneven, candidates=CANDIDATES))
    assert len({one.tau for one in ways}) == 3


def test_the_outlook_says_what_would_be_enough_or_that_nothing_is() -> None:
    few = amounts_from_arrays([1.0, 1.2], [1.8, 1.9], 0.2, 0.6, shared_produced=0.05)
    said = list(outlook_sentences(class_outlook(class_verdict(few, candidates=CANDIDATES))))
    assert "7 like these would reach" in " ".join(said)
    shared = amounts_from_arrays([1.0, 1.2], [1.8, 1.9], 0.2, 0.3, shared_produced=0.4)
    outlook = class_outlook(class_verdict(shared, candidates=CANDIDATES))
    words = " ".join(outlook_sentences(outlook))
    assert "no number is enough" in words
    assert outlook.largest_shared in words
    enough = " ".join(outlook_sentences(class_outlook(AGREEING)))
    assert "not needed" in enough


def test_the_file_is_accounted_for_and_codes_hide_its_name() -> None:
    said = file_sentence(demo())
    numbers = [int(n) for n in re.findall(r"\d+", said.partition("has ")[2])]
    assert numbers[0] == sum(numbers[1:])
    assert "demo.csv" not in file_sentence(demo(codes=True))


def test_groups_that_could_not_be_assessed_are_told_with_the_reason() -> None:
    stopped = assess_class(csv_bytes(), LAB, progress=lambda done, _total: done >= 1)
    assert stopped.verdict is None
    assert "stopped" in class_verdict_sentences(stopped)
    lab = experiments.load("tin-oxide")
    header = ("group", *lab.reading_names())
    trial = {**lab.shared_readings, **lab.trials[0].readings}
    row = [trial[name][-1] for name in header[1:]]
    swapped = [*row]
    swapped[-2:] = row[:-3:-1]
    rows = [("good", *row), ("also", *row), ("bad", *swapped)]
    mixed = assess_class(csv_bytes(rows, header), lab)
    for name, reason in mixed.evidence.not_assessed.items():
        assert any(name in said and reason[1:] in said for said in not_assessed_sentences(mixed))


def test_assumptions_name_what_the_groups_share() -> None:
    verdict = demo().verdict
    assert verdict is not None
    assumed = list(class_assumptions(verdict, demo().experiment))
    assert any("atomic weight of Ag" in said for said in assumed)
    assert not any("density" in said or "recovered" in said for said in assumed)


def test_names_are_counted_beyond_the_most() -> None:
    assert names_text([str(i) for i in range(15)]).endswith("and 3 more")


def test_slips_of_groups_with_one_trial_are_seen_beside_the_class() -> None:
    rows = [(g + t, "1", *rest) for g, t, *rest in ROWS]
    rows[1] = ("red2", "1", "3.91", *rows[1][3:])  # 3.19 as it was read
    found = assess_class(csv_bytes(rows), LAB)
    assert list(found.slips) == ["red2"]
    assert any(slip.corrected == ("3.19",) for slip in found.slips["red2"])
    assert {slip.trial for slip in found.slips["red2"]} == {"1"}
