"""One thing weighed several times in a trial: the mean counts, and its rounding is that of one."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from stoichkit import assess
from stoichkit.bench.datasheet import sheet_columns, write_datasheet
from stoichkit.bench.plan import bench_plan
from stoichkit.classroom.data import load_class
from stoichkit.classroom.evidence import weighings_of
from stoichkit.decision.evidence import linear_amounts
from stoichkit.diagnosis.slips import find_slips
from stoichkit.errors import ExperimentError
from stoichkit.experiments.parts import Trial
from stoichkit.experiments.record import Experiment
from stoichkit.experiments.store import parse_experiment
from stoichkit.measurement.displays import Balance
from stoichkit.planning.plan import Plan, chances
from stoichkit.reports.study import lesson
from stoichkit.reports.worked import worked_solution
from stoichkit.uncertainty.digits import split_narrow, worst_position_tails
from stoichkit.uncertainty.readings import ErrorPool
from stoichkit.uncertainty.sources import nominal, standard_uncertainty
from tests.labs import iron_text
from tests.studies.real_labs import limit

Floats = NDArray[np.float64]
STEP_G = 0.01
LAB = (
    iron_text(0.005, 'averaged = ["paper", "paper + copper"]')
    + """
[[trials]]
name = "1"
"nail before" = "3.00"
"nail after" = "2.72"
"paper" = ["0.84", "0.85", "0.84"]
"paper + copper" = ["1.16", "1.15", "1.16"]
"""
)
LAB_RECORD = parse_experiment(LAB)
NAMES = ("nail before", "nail after", "paper", "paper + copper")


def lab(counts: tuple[int, int, int, int], noise: float) -> Experiment:
    """Return a lab in which each thing is weighed so many times; noise in display steps."""
    texts = dict(zip(NAMES, ("3.00", "2.72", "0.84", "1.16"), strict=True))
    readings = {n: (texts[n],) * k for n, k in zip(NAMES, counts, strict=True)}
    both = replace(LAB_RECORD.consumed, averaged=NAMES[:2])
    balance = Balance(readability_g=STEP_G, repeatability_g=noise * STEP_G)
    record = replace(LAB_RECORD, consumed=both, trials=[Trial("1", readings)])
    return record.with_instrument("balance", balance)


def excluded(
    counts: tuple[int, int, int, int], noise: float, labs: int, *, judged: Experiment | None = None
) -> float:
    """Return how often the truth is excluded at the worst of 16 fixed pairs of amounts.

    The errors of a mean do not depend on the amounts, so the limits of one lab serve for all.
    ``judged`` is another lab than the one simulated, whose limits are used.
    """
    rng = np.random.default_rng(3)
    linear = linear_amounts(judged or lab(counts, noise))
    blocks, rest = linear.blocks(1.0, 1.0)
    wide, narrow = split_narrow(rest, blocks)
    molar_g = (55.845, 63.546)

    def mean(true_g: Floats, count: int) -> Floats:
        shown = true_g[:, None] + noise * STEP_G * rng.standard_normal((labs, count))
        return np.asarray((np.round(shown / STEP_G) * STEP_G).mean(axis=1))

    worst = 0.0
    for first in (0.0, 0.25, 0.5, 0.75):
        for second in (0.0, 0.25, 0.5, 0.75):
            d = np.zeros(labs)
            for sign, part, (one, other), molar in (
                (-1, first, counts[:2], molar_g[0]), (1, second, counts[3:1:-1], molar_g[1])
            ):  # fmt: skip
                vessel, mass = rng.uniform(20, 21, labs), (30 + part) * STEP_G
                found = mean(vessel + mass, one) - mean(vessel, other)
                d += sign * (found - mass) / molar
            p = worst_position_tails(d, blocks, wide, np.full(labs, narrow))
            worst = max(worst, float((p < 0.05).mean()))
    return worst


@pytest.mark.parametrize("noise", [0.0, 0.2, 0.5, 1.0])
@pytest.mark.parametrize("counts", [(1, 1, 3, 3), (3, 1, 2, 3)])
def test_the_truth_is_excluded_at_most_as_often_as_stated(
    counts: tuple[int, int, int, int], noise: float
) -> None:
    labs = 4000
    assert excluded(counts, noise, labs) <= limit(labs)


def test_taken_as_independent_the_promise_would_be_broken() -> None:
    """Nine equal readings are one: on a display three times as fine the truth is often excluded."""
    fine = replace(lab((1, 1, 1, 1), 0.0), instruments={"balance": Balance(
        readability_g=STEP_G / 3, repeatability_g=0.0)})  # fmt: skip
    counts = (9, 9, 9, 9)
    assert excluded(counts, 0.0, 1000) <= limit(1000)
    assert excluded(counts, 0.0, 1000, judged=fine) > 0.3


def test_the_uncertainty_of_a_mean_by_hand() -> None:
    """(1/12 + 1/4 / 3)^½ of a step after three weighings, (1/12 + 1/4)^½ after one."""
    values = LAB_RECORD.quantities(LAB_RECORD.trials[0], ErrorPool())
    assert nominal(values["paper"]) == pytest.approx((0.84 + 0.85 + 0.84) / 3, abs=1e-12)
    assert standard_uncertainty(values["paper"]) / STEP_G == pytest.approx(0.408, abs=5e-4)
    assert standard_uncertainty(values["nail after"]) / STEP_G == pytest.approx(0.577, abs=5e-4)
    noiseless = lab((1, 1, 3, 1), 0.0)
    values = noiseless.quantities(noiseless.trials[0], ErrorPool())
    same = [standard_uncertainty(values[n]) for n in ("paper", "paper + copper")]
    assert same == pytest.approx([STEP_G / math.sqrt(12)] * 2)


def test_one_weighing_of_what_may_be_averaged_is_a_plain_reading() -> None:
    once, plain = lab((1, 1, 1, 1), 0.5), parse_experiment(
        LAB.replace('averaged = ["paper", "paper + copper"]\n', "")
        .replace('["0.84", "0.85", "0.84"]', '"0.84"').replace('["1.16", "1.15", "1.16"]', '"1.16"')
    )  # fmt: skip
    assert not once.questions()
    for name, found in assess(once).candidates.items():
        assert found.p_value == assess(plain).candidates[name].p_value


def test_more_weighings_exclude_a_wrong_candidate_sooner() -> None:
    once, often = (assess(lab((k, k, k, k), 1.0)).candidates["iron(III)"] for k in (1, 5))
    assert often.p_value < once.p_value / 3


def test_the_file_keeps_it_and_contradictions_are_refused() -> None:
    assert parse_experiment(LAB_RECORD.to_toml()) == LAB_RECORD
    assert Experiment.from_json(LAB_RECORD.to_json()) == LAB_RECORD
    refused = (
        ('averaged = ["paper", "paper + copper"]', 'averaged = ["papper"]',
         ["produced.averaged", "papper", "paper + copper, paper", "Did you mean “paper”"]),
        ('averaged = ["paper",', 'repeated = ["paper"]\naveraged = ["paper",',
         ["produced.averaged", "Given: paper", "not in both", "heated or dried"]),
        ('averaged = ["paper", "paper + copper"]', 'averaged = ["paper", "paper"]', ["twice"]),
        ('averaged = ["paper", "paper + copper"]', "averaged = 3", ["produced.averaged", "list"]),
        ('averaged = ["paper", ', "averaged = [",
         ["trials[1].paper", "made once, but 3 numbers", "“repeated”", "“averaged”"]),
    )  # fmt: skip
    for old, new, said in refused:
        with pytest.raises(ExperimentError) as caught:
            parse_experiment(LAB.replace(old, new))
        assert all(words in str(caught.value) for words in said), str(caught.value)


def test_a_shared_weighing_cannot_be_dried_for_one_amount_and_averaged_for_the_other() -> None:
    hydrate = LAB_RECORD.to_toml().replace('lighter = "nail after"', 'lighter = "paper"\n'
                                           'repeated = ["paper"]')  # fmt: skip
    with pytest.raises(ExperimentError, match=r"produced\.averaged: .*Given: paper"):
        parse_experiment(hydrate.replace('"nail after" = "2.72"\n', ""))


def test_repeats_that_are_not_of_one_thing_are_asked_about() -> None:
    assert not LAB_RECORD.questions()
    odd = LAB_RECORD.with_reading("1", "paper", ("0.84", "0.48", "0.84"))
    (asked,) = odd.questions()
    assert (asked.reading, asked.text[:24]) == ("paper", "It weighs 0.48 g to 0.84")


def test_both_differences_the_wrong_way_round_are_still_seen() -> None:
    read = LAB_RECORD.trials[0].readings
    turned = {a: read[b] for a, b in zip(NAMES, (NAMES[1], NAMES[0], NAMES[3], NAMES[2]),
                                         strict=True)}  # fmt: skip
    slips = find_slips(LAB_RECORD.with_trials([Trial("1", turned)]))
    assert any(set(slip.readings) == {*NAMES} and slip.candidate == "iron(II)" for slip in slips)


def test_the_worked_solution_works_out_the_mean() -> None:
    text = " ".join(worked_solution(LAB_RECORD).text().split())
    assert "paper = (0.84 g + 0.85 g + 0.84 g) / 3 = 0.8433 g (mean of 3 readings)" in text
    assert "= 1.1567 g − 0.8433 g = 0.3133 g" in text
    assert "0.84, 0.85, 0.84" in text
    assert "repeated to constant mass" not in text
    assert "Of the weighings of “paper” and “paper + copper” in a trial the mean counts" in text


def test_the_bench_plan_the_sheet_and_a_class_know_it(tmp_path) -> None:  # type: ignore[no-untyped-def]
    plan = Plan(experiment=LAB_RECORD, consumed_mol=0.005)
    text = " ".join(bench_plan(plan).markdown().split())
    assert text.count("each trial, weighed 3 times for a mean") == 2
    assert "between two weighings take it off" in text
    assert [c.repeats for c in sheet_columns(LAB_RECORD)] == [1, 1, 3, 3]
    sheet = write_datasheet(LAB_RECORD, tmp_path / "sheet.csv", groups=2, trials=1)
    mark, header, first, second = sheet.read_text(encoding="utf-8-sig").splitlines()
    assert header.endswith("paper 1 / g,paper 2 / g,paper 3 / g,paper + copper 1 / g,"
                           "paper + copper 2 / g,paper + copper 3 / g")  # fmt: skip
    cells = "3.00,2.72,0.84,0.85,0.84,1.16,1.15,1.16"
    rows = (row.split(",,")[0] + f",{cells}" for row in (first, second))
    filled = "\n".join([mark, header, *rows])
    read = load_class(filled.encode(), LAB_RECORD)
    assert read.groups["group 1"].trials[0].readings == LAB_RECORD.trials[0].readings
    assert read.arrays().values["paper"].tolist() == [[pytest.approx(2.53 / 3)]] * 2
    joined = "group,nail before,nail after,paper,paper + copper\na,3.00,2.72,0.84; 0.86,1.16\n"
    assert load_class(joined.encode(), LAB_RECORD).arrays().values["paper"].tolist() == [[0.85]]
    assert weighings_of(LAB_RECORD) is None  # not the quick way, which takes one number each


def test_a_plan_counts_the_weighings() -> None:
    """The chance is that of a balance whose scatter is divided by √n, for all four readings."""
    often, once = (
        chances(Plan(experiment=lab((k,) * 4, s), consumed_mol=0.0012, spread=0.0), "iron(III)")
        for k, s in ((4, 1.0), (1, 0.5))
    )
    assert often.right == pytest.approx(once.right, abs=1e-9)
    assert often.right > chances(
        Plan(experiment=lab((1,) * 4, 1.0), consumed_mol=0.0012, spread=0.0), "iron(III)"
    ).right + 0.05  # fmt: skip


def test_questions_about_the_lab_use_the_mean() -> None:
    asked = lesson(LAB_RECORD)
    assert any("0.8433" in hint for one in asked for hint in one.hints)
