"""The same numbers from many threads and processes at once as from one."""

from __future__ import annotations

import multiprocessing
import sys
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from typing import Any

import numpy as np
import pytest

import stoichkit
from stoichkit import experiments

NAMES = experiments.names()


def assessed(name: str) -> tuple[Any, ...]:
    """Return the numbers of a lab, exactly."""
    found = stoichkit.assess(experiments.load(name))
    return (
        found.verdict.kind.value,
        tuple((c.name, c.p_value, c.discrepancy_mol) for c in found.candidates.values()),
        tuple((i.low, i.high) for i in found.ratio_set.intervals),
    )


@pytest.fixture
def quick_switches() -> Any:
    before = sys.getswitchinterval()
    sys.setswitchinterval(1e-5)
    yield
    sys.setswitchinterval(before)


@pytest.mark.usefixtures("quick_switches")
def test_threads_agree_to_the_last_bit() -> None:
    alone = {name: assessed(name) for name in NAMES}
    jobs = list(NAMES) * 4
    with ThreadPoolExecutor(8) as pool:
        for name, found in zip(jobs, pool.map(assessed, jobs), strict=True):
            assert found == alone[name], name


def test_fresh_processes_agree_to_the_last_bit() -> None:
    names = NAMES[:4]
    alone = [assessed(name) for name in names]
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(2, mp_context=context) as pool:
        assert list(pool.map(assessed, names)) == alone


@pytest.mark.usefixtures("quick_switches")
def test_arrays_of_labs_from_threads() -> None:
    rng = np.random.default_rng(7)
    before = np.round(3 + rng.uniform(0, 1, (2000, 2)), 2)
    after = np.round(before - 0.12, 2)
    tare = np.round(0.7 + rng.uniform(0, 0.1, (2000, 2)), 2)
    gross = np.round(tare + 0.40 + rng.normal(0, 0.01, (2000, 2)), 2)

    def run(_: int) -> Any:
        return stoichkit.assess_weighings(
            before, after, tare, gross, consumed="Cu", produced="Ag",
            candidates={"copper(I)": 1, "copper(II)": 2},
            balance=stoichkit.Balance(readability_g=0.01),
        ).p_value  # fmt: skip

    alone = run(0)
    with ThreadPoolExecutor(4) as pool:
        for found in pool.map(run, range(8)):
            np.testing.assert_array_equal(found, alone)


def test_formulas_and_molar_masses_from_threads() -> None:
    formulas = [f"C{n}H{2 * n + 2}O{n % 7 + 1}" for n in range(1, 300)]
    alone = [stoichkit.molar_mass(f).nominal_value for f in formulas]
    with ThreadPoolExecutor(8) as pool:
        found = list(pool.map(lambda f: stoichkit.molar_mass(f).nominal_value, formulas))
    assert found == alone
