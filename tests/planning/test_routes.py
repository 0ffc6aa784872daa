"""Plans that find an amount by several routes: each is worked back from a reading of its own."""

from __future__ import annotations

import math

import numpy as np
import pytest

from stoichkit import assess
from stoichkit.bench.plan import bench_plan
from stoichkit.decision.evidence import compare_routes
from stoichkit.errors import ModelError
from stoichkit.experiments.parts import Trial
from stoichkit.experiments.record import Experiment
from stoichkit.experiments.store import parse_experiment
from stoichkit.measurement.gas_and_charge import GasVolume
from stoichkit.measurement.routes import Routes
from stoichkit.measurement.weighing import MassByDifference
from stoichkit.planning.following import next_trials
from stoichkit.planning.plan import Plan, chances
from stoichkit.planning.questions import smallest_amount
from stoichkit.planning.simulation import simulate_labs
from stoichkit.uncertainty.readings import ErrorPool
from stoichkit.uncertainty.sources import nominal
from tests.measurement.test_routes import LAB
from tests.studies.class_routes import READINGS

EXPERIMENT = parse_experiment(LAB)
TRUTH = "one to one"


def test_each_route_gives_the_amount_planned() -> None:
    """By hand: 2 mmol of zinc are 0.13076 g, and 8 mL of a 0.25 mol/L solution."""
    plan = Plan(experiment=EXPERIMENT, consumed_mol=0.002)
    read = plan.expected_readings(TRUTH)
    assert read["strip before"] - read["strip after"] == pytest.approx(0.002 * 65.38, abs=1e-4)
    assert read["burette after"] - read["burette before"] == pytest.approx(8.0, abs=0.01)
    assert read["paper + copper"] - read["paper"] == pytest.approx(0.002 * 63.546, abs=1e-4)
    trial = Trial("1", {name: (f"{value:.12g}",) for name, value in read.items()})
    lab = EXPERIMENT.with_trials([trial])
    for way in lab.consumed.ways:
        assert nominal(lab.amounts_by(way, lab.produced, ErrorPool())[0][0]) == pytest.approx(0.002)
    (one,) = compare_routes(lab)
    assert one.amounts_mol[0] == pytest.approx(one.amounts_mol[1])


def drawn(plan: Plan, rng: np.random.Generator) -> Experiment:
    """Return one lab of a plan by the record of its instruments, apart from the planning code."""
    strength, tolerance_mL = 0.25 + rng.normal(0, 0.0005), rng.triangular(-0.05, 0, 0.05)
    trials = []
    for number in range(plan.trials):
        n = plan.consumed_mol * (1 + plan.spread * rng.uniform(-1, 1))
        start, paper, zero = rng.uniform(3, 4), rng.uniform(0.6, 0.8), rng.uniform(0.1, 0.6)
        masses = np.array([start, start - n * 65.38, paper, paper + n * 63.546])
        masses += rng.normal(0, 0.0005, 4)
        volume, drops = 1e3 * n / strength - tolerance_mL, rng.normal(0, 0.02, 2)
        shown = [f"{mass:.3f}" for mass in masses]
        shown += [f"{zero + drops[0]:.2f}", f"{zero + volume + drops[1]:.2f}"]
        trials.append(Trial(str(number + 1), dict(zip(READINGS, shown, strict=True))))
    return plan.experiment.with_trials(trials)


@pytest.mark.parametrize(
    ("mmol", "trials"), [pytest.param(0.5, 1, marks=pytest.mark.slow), (0.4, 2)]
)
def test_the_chances_are_those_of_labs_that_are_assessed(mmol: float, trials: int) -> None:
    """Beside three sigma 0.01 is granted: sound routes that disagree by chance are left out."""
    plan = Plan(experiment=EXPERIMENT, consumed_mol=mmol / 1000, trials=trials)
    rng, labs = np.random.default_rng(3), 150
    found = [assess(drawn(plan, rng)).verdict.candidates for _ in range(labs)]
    right = sum(names == (TRUTH,) for names in found) / labs
    none = sum(names == () for names in found) / labs
    planned = chances(plan, TRUTH)
    assert planned.labs
    for seen, said in ((right, planned.right), (none, planned.none_fits)):
        sigma = math.sqrt(max(said * (1 - said), 0.01) / labs)
        assert abs(seen - said) <= 3 * sigma + 0.01
    simulated = simulate_labs(plan, TRUTH, labs=5000).counts.right / 5000
    assert simulated == pytest.approx(planned.right, abs=0.025)


def test_two_routes_need_no_more_than_the_better_one() -> None:
    """Weights by the uncertainties: the mean is less uncertain than either route."""
    plan = Plan(experiment=EXPERIMENT, consumed_mol=0.0005)
    by_mass = parse_experiment(
        LAB.replace('species = "Zn"', 'species = "Zn"\nweights = [0.999, 0.001]', 1)
    )
    alone = chances(Plan(experiment=by_mass, consumed_mol=0.0005), TRUTH).right
    assert chances(plan, TRUTH).right > alone + 0.1


def test_questions_further_trials_and_the_bench_plan_take_routes() -> None:
    plan = Plan(experiment=EXPERIMENT, consumed_mol=0.005)
    answer = smallest_amount(plan)
    assert 0.02 < answer.value < 0.08  # g of zinc; 0.5 mmol, 0.033 g, gives 0.60
    rng = np.random.default_rng(1)
    few = drawn(Plan(experiment=EXPERIMENT, consumed_mol=0.0003, trials=1), rng)
    further = next_trials(assess(few), most=3, labs=400)
    assert further.larger.chances[-1].right > 0.5
    text = bench_plan(EXPERIMENT, reacting_mol=0.005).markdown()
    assert "size of strip before − strip after" in text
    assert "size of burette after − burette before" in text
    assert "The smallest volume expected is 40 % of its capacity" in " ".join(text.split())


def test_a_reading_that_two_routes_share_sets_neither() -> None:
    one = MassByDifference(species="Zn", heavier="strip before", lighter="strip after")
    other = MassByDifference(species="Zn", heavier="strip before", lighter="strip again")
    both = Routes(species="Zn", routes=(one, other))
    assert [both.set_by(way) for way in both.ways] == ["strip after", "strip again"]
    with pytest.raises(ModelError, match="no one reading sets it"):
        both.main_reading()
    gas = [
        GasVolume(species="H2", final="volume", temperature=t, pressure="p")
        for t in ("warm", "cold")
    ]
    with pytest.raises(ModelError, match="Route 2 to the amount of H2 cannot be varied") as caught:
        Routes(species="H2", routes=gas).set_by(gas[1])
    assert "volume, which another route reads too" in str(caught.value)
