"""The evidence of all groups: at once or one by one, alike, stopped, and refused with a reason."""

from __future__ import annotations

import numpy as np
import pytest

from stoichkit import experiments
from stoichkit.classroom.data import load_class
from stoichkit.classroom.evidence import evidence_of_groups, weighings_of
from stoichkit.decision.evidence import assess
from stoichkit.decision.yields import yield_for
from stoichkit.errors import ModelError
from tests.classfiles import check_accounts, csv_bytes
from tests.labs import weighed

LAB = experiments.load("copper-silver")


def simulated(groups: int, trials: int, seed: int = 5) -> bytes:
    rng = np.random.default_rng(seed)
    tables = weighed(rng, rng.uniform(0.05, 0.4, (groups, 1)), 2.0, 0.01, 0.8, (groups, trials))
    rows = [
        (f"g{g}", str(t), *(f"{table[g, t]:.2f}" for table in tables))
        for g in range(groups)
        for t in range(trials - g % 2)
    ]
    return csv_bytes(rows)


@pytest.mark.parametrize("recovery", [(1.0, 1.0), (0.9, 1.02)])
def test_all_at_once_equals_one_by_one(recovery: tuple[float, float]) -> None:
    """p-values equal to 1e-9, amounts, yields and verdicts, for unequal numbers of trials."""
    from dataclasses import replace

    lab = replace(LAB, recovery=recovery)
    data = load_class(simulated(20, 3), lab)
    found = evidence_of_groups(data)
    assert found.at_once
    for i, name in enumerate(data.names):
        one = assess(data.groups[name])
        assert found.p_value[i] == pytest.approx(
            [c.p_value for c in one.candidates.values()], abs=1e-9
        )
        assert found.kinds[i] == one.verdict.kind
        assert found.verdict(name).candidates == one.verdict.candidates == found.fitting[i]
        wanted = [yield_for(one, c).estimate for c in found.candidates]
        measured = found.percent_yield[i]
        assert np.isnan(wanted).all() or measured == pytest.approx(wanted, rel=1e-9)
    assert sum(found.counts.values()) == 20
    assert sum(found.singled_out.values()) == found.counts["singled_out"]


@pytest.mark.parametrize("name", ["hydrate-heating", "magnesium-gas", "acid-titration"])
def test_other_labs_go_one_by_one(name: str) -> None:
    lab = experiments.load(name)
    names = [n for n in lab.reading_names() if n not in lab.shared_readings]
    rows = [
        ("red" if i < 2 else "blue", trial.name, *("; ".join(trial.readings[n]) for n in names))
        for i, trial in enumerate(lab.trials)
    ]
    units = {role.name: role.unit for role in lab.roles()}
    content = csv_bytes(rows, ("group", "trial", *(f"{n} / {units[n]}" for n in names)))
    data = load_class(content, lab)
    check_accounts(content, data, lab)
    assert weighings_of(lab) is None
    seen: list[tuple[int, int]] = []
    found = evidence_of_groups(data, progress=lambda done, total: seen.append((done, total)))
    assert seen == [(1, 2), (2, 2)]
    assert not found.at_once
    one = assess(data.groups["red"])
    assert found.p_value[0].tolist() == [c.p_value for c in one.candidates.values()]
    stopped = evidence_of_groups(data, progress=lambda done, total: done < total)
    assert stopped.names == ("red",)
    assert "stopped" in stopped.not_assessed["blue"]


def test_impossible_groups_are_named_with_the_reason() -> None:
    lab = experiments.load("magnesium-gas")
    content = (
        b"group,ribbon,gas volume,room temperature,room pressure\n"
        b"red,0.031,31.46,21.4,100.8\nblue,0.035,35.98,21.4,1.0\n"
    )
    found = evidence_of_groups(load_class(content, lab))
    assert found.names == ("red",)
    assert "pressure" in found.not_assessed["blue"]
    with pytest.raises(ModelError, match="no evidence of this group"):
        found.verdict("blue")


def test_coverage_is_checked_and_used() -> None:
    data = load_class(csv_bytes(), LAB)
    with pytest.raises(ModelError, match="coverage"):
        evidence_of_groups(data, coverage=1.0)
    wide = evidence_of_groups(data, coverage=0.9999)
    assert wide.compatible.sum() > evidence_of_groups(data, coverage=0.5).compatible.sum()
