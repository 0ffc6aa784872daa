"""A class that finds an amount by several routes: as one lab does, on the pooled means."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from stoichkit import assess, assess_class
from stoichkit.classroom.amounts import joined
from stoichkit.classroom.data import load_class
from stoichkit.classroom.evidence import evidence_of_groups
from stoichkit.classroom.sentences import by_route_sentence, class_route_sentences
from stoichkit.classroom.verdict import ClassCaveatKind, ClassVerdict, class_verdict
from stoichkit.decision.evidence import compare_routes
from stoichkit.decision.verdict import VerdictKind
from stoichkit.errors import ModelError
from stoichkit.experiments.record import Experiment
from stoichkit.experiments.store import parse_experiment
from stoichkit.measurement.base import AmountModel
from stoichkit.reports.classroom import class_report
from tests.measurement.test_routes import LAB
from tests.studies.class_routes import READINGS, Setting, simulated

EXPERIMENT = parse_experiment(LAB)


def record(groups: int, fault_mL: float = 0.0, *, in_one: bool = False) -> Experiment:
    """Return a class whose titrations are too high by so much."""
    setting = Setting(groups, 0.0, fault_mL, in_one=in_one)
    return simulated(setting, np.random.default_rng(7), EXPERIMENT)


def file_of(lab: Experiment) -> bytes:
    """Return the readings of a record as a class file, one group a trial."""
    lines = [",".join(("group", *READINGS))]
    lines += [
        ",".join((f"g{t.name}", *(t.readings[name][0] for name in READINGS))) for t in lab.trials
    ]
    return "\n".join(lines).encode()


def only(lab: Experiment, route: AmountModel) -> Experiment:
    """Return the class with one route, and the readings of that one."""
    names = {role.name for model in (route, lab.produced) for role in model.roles()}
    trials = [
        replace(t, readings={n: v for n, v in t.readings.items() if n in names}) for t in lab.trials
    ]
    return replace(lab, consumed=route, trials=tuple(trials))


@pytest.mark.parametrize("fault_mL", [0.0, 1.0])
def test_each_group_of_a_file_is_judged_as_that_lab_is(fault_mL: float) -> None:
    """So is a class of one group, which is no class."""
    lab = record(2, fault_mL)
    data = load_class(file_of(lab), EXPERIMENT)
    found = evidence_of_groups(data)
    for place, trial in enumerate(lab.trials):
        alone = assess(EXPERIMENT.with_trials([trial]))
        ps = [c.p_value for c in alone.candidates.values()]
        assert found.p_value[place].tolist() == pytest.approx(ps, abs=1e-12)
        assert found.verdict(f"g{trial.name}").candidates == alone.verdict.candidates
    single = assess_class(load_class(file_of(record(1, fault_mL)), EXPERIMENT))
    one = assess(EXPERIMENT.with_trials(record(1, fault_mL).trials))
    assert single.verdict is None
    assert single.group("g1").verdict.kind is one.verdict.kind
    assert [c.p_value for c in single.group("g1").candidates.values()] == [
        c.p_value for c in one.candidates.values()
    ]


def test_the_pooled_means_are_compared_as_those_of_one_lab_of_all_trials() -> None:
    lab = record(5, 0.1)
    (one,), (other,) = class_verdict(lab).agreements, compare_routes(lab)
    assert one.p_value == pytest.approx(other.p_value, rel=1e-9)
    assert one.amounts_mol == pytest.approx(other.amounts_mol, rel=1e-9)
    assert 0 < one.p_value < 1


def test_without_differences_the_readings_of_a_class_are_one_lab() -> None:
    """Where the scatter has no say, a class whose groups count alike is one lab of all trials."""
    for fault_mL in (0.0, 1.0):
        lab = record(4, fault_mL)
        found, evidence = class_verdict(lab, variation="none"), assess(lab)
        one, other = found.candidates["one to one"], evidence.candidates["one to one"]
        assert one.p_common == pytest.approx(other.p_value, rel=1e-9)
        assert one.tested_by == other.tested_by == ((1, 0) if fault_mL else (0, 0))


def test_routes_that_disagree_are_not_averaged() -> None:
    """Copper over zinc is 1.00 by weighing, and by a titration 1.5 mL too high about 0.93."""
    lab = record(6, 1.5)
    found = class_verdict(lab)
    by_each = [class_verdict(only(lab, route)) for route in lab.consumed.ways]
    assert found.verdict.kind is VerdictKind.NOT_TOLD_APART
    assert found.verdict.candidates == ("one to one", "thirteen to fourteen")
    assert by_each[0].verdict.candidates == ("one to one",)
    for name in found.verdict.candidates:
        largest = max(alone.candidates[name].p_value for alone in by_each)
        assert found.candidates[name].p_value == pytest.approx(largest)
    assert found.candidates["one to one"].tested_by == (1, 0)
    assert found.candidates["thirteen to fourteen"].tested_by == (2, 0)
    (caveat,) = (c for c in found.caveats if c.kind is ClassCaveatKind.ROUTES_DISAGREE)
    assert caveat.subject == "consumed"
    assert caveat.value < 1e-6
    for candidate in found.candidates.values():
        assert (float(candidate.candidate.ratio) in found.ratio_set) == candidate.compatible
    for outside in (0.85, 1.15):
        assert outside not in found.ratio_set
        assert found._test.p_value(outside, 1.0) < 0.05


def test_a_group_left_out_takes_its_fault_with_it() -> None:
    """One titration of five is 8 mL too high: without it the routes agree."""
    lab = record(5, 8.0, in_one=True)
    whole = class_verdict(lab)
    assert not whole.agreements[0].agree
    test = whole._test.without(lab.trials[0].name)
    assert test.agreements[0].agree
    assert len(test.each) == 1
    left = class_verdict(lab.with_trials(lab.trials[1:]))
    assert test.agreements[0].p_value == pytest.approx(left.agreements[0].p_value, rel=1e-9)
    assert whole.without[lab.trials[0].name].candidates == left.verdict.candidates
    kept = whole._test.without(lab.trials[1].name)
    again = class_verdict(lab.with_trials([t for t in lab.trials if t.name != lab.trials[1].name]))
    assert len(kept.each) == 3
    assert whole.without[lab.trials[1].name].candidates == again.verdict.candidates


def test_what_would_overturn_it_is_asked_by_every_route() -> None:
    def planted(gram: float) -> ClassVerdict:
        moved = lab
        for trial in lab.trials:
            read = float(trial.readings["paper + copper"][0]) + gram
            moved = moved.with_reading(trial.name, "paper + copper", f"{read:.4f}")
        return class_verdict(moved)

    lab = record(6, 1.5)
    found = class_verdict(lab)
    (mass,) = (f for f in found.overturned_by if f.unit == "g")
    assert mass.verdict.candidates != found.verdict.candidates
    assert planted(1.2 * -mass.size).verdict.candidates != found.verdict.candidates or (
        planted(1.2 * mass.size).verdict.candidates == mass.verdict.candidates
    )


def test_two_balances_of_a_class_have_as_many_routes() -> None:
    lab = record(4)
    first, second = lab.with_trials(lab.trials[:2]), lab.with_trials(lab.trials[2:])
    both = class_verdict([first, second])
    assert both.agreements[0].agree
    assert both.verdict.candidates == ("one to one",)
    with pytest.raises(ModelError, match="different routes"):
        class_verdict([first, only(second, second.consumed.ways[0])])


def test_the_report_of_a_class_says_what_each_route_gives() -> None:
    said = " ".join(
        class_report(assess_class(load_class(file_of(record(4)), EXPERIMENT))).text().split()
    )
    assert "was found by 2 routes" in said
    assert "they agree" in said
    result = assess_class(load_class(file_of(record(4, 1.5)), EXPERIMENT))
    assert result.verdict is not None
    far = " ".join(class_report(result).text().split())
    assert "Over all groups: The routes to n(Zn) disagree" in far
    assert "one to one with the amount consumed by route 1 alone" in far
    assert "they disagree" in " ".join(class_route_sentences(result.verdict, EXPERIMENT))
    assert by_route_sentence(result.verdict) in far
    record_of = joined({name: result.data.groups[name] for name in result.evidence.names})
    assert class_verdict(record_of).verdict.candidates == result.verdict.verdict.candidates
