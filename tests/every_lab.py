"""Labs of every kind, invented: the ready ones, odd ones, and one or two of each way to an amount.

``EVERY`` has a function that makes each anew, by a short name.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from stoichkit import experiments
from stoichkit.chemistry.candidates import plain_ratios
from stoichkit.experiments.looks import Looks
from stoichkit.experiments.parts import Prior, Trial, Variation
from stoichkit.experiments.practice_labs import practice
from stoichkit.experiments.record import Experiment
from stoichkit.experiments.store import parse_experiment
from stoichkit.measurement.displays import Ammeter, Balance, Timer
from stoichkit.measurement.gas_and_charge import ElectricCharge
from tests.decision.test_averaged import LAB as AVERAGED
from tests.decision.test_same_vessel import lab as in_one_vessel
from tests.labs import RATIOS, REVERSED, crucible, lab, two
from tests.measurement.test_routes import LAB as ROUTES
from tests.measurement.test_shared_blank import lab_of as with_blank
from tests.measurement.test_sum_of_masses import lab as sum_of_masses
from tests.measurement.test_titrated import LAB as TITRATED

FINE = Balance(readability_g=0.01, repeatability_g=0.005)
COARSE = Balance(readability_g=0.1)
DIGITS = Balance(readability_g=0.01, repeatability_g=0)
SCATTERED = [(2.94, 2.84, 0.75, 1.02), (3.19, 3.09, 0.70, 1.09), (3.19, 3.09, 0.70, 1.02)]
GOOD = [(3.12, 2.65, 0.71, 2.30), (2.98, 2.61, 0.70, 1.96), (3.40, 2.80, 0.72, 2.76)]
DOUBTED = ((0.64, 0.31), (0.56, 0.30))

ODD: dict[str, Callable[[], Experiment]] = {
    "none-fits": lambda: lab([(2.94, 2.84, 0.75, 1.02), (3.19, 3.09, 0.70, 0.96)], FINE),
    "over-100": lambda: lab([(2.94, 2.84, 0.75, 1.22), (3.19, 3.09, 0.70, 1.16)], FINE),
    "no-upper-limit": lambda: lab([(2.9, 2.8, 0.7, 1.2)], COARSE),
    "every-ratio": lambda: lab([(2.9, 2.8, 0.7, 0.9)], COARSE),
    "no-lower-limit": lambda: lab([(3.9, 2.8, 0.7, 0.9)], COARSE),
    "in-pieces": lambda: lab([(2.3, 2.5, 0.7, 0.8)], COARSE, {"a": "1", "b": "2", "c": "3"}),
    "nothing-read": lambda: lab([(2.9, 2.9, 0.7, 0.7)], COARSE),
    "less-than-nothing": lambda: lab([(2.94, 2.84, 0.95, 0.75)], FINE),
    "digits-only": lambda: lab([(2.94, 2.84, 0.75, 1.55)], DIGITS),
    "one-candidate": lambda: lab([(2.94, 2.84, 0.75, 1.09)], FINE, {"copper(II)": "2"}),
    "one-that-fails": lambda: lab([(2.94, 2.84, 0.75, 1.09)], FINE, {"copper(I)": "1"}),
    "recovery": lambda: lab([(2.94, 2.84, 0.75, 1.02)], FINE, recovery=(0.7, 0.9)),
    "excess-scatter": lambda: lab(SCATTERED, FINE),
    "many-trials": lambda: lab([(2.94, 2.84, 0.75, 1.09)] * 50, FINE),
    "strict": lambda: lab([(2.94, 2.84, 0.75, 1.09)], FINE, coverage=0.9999),
    "reversed": lambda: lab(REVERSED),
    "drifting": lambda: crucible("22.7028", "22.7005", "22.6994"),
    "nothing-shown": lambda: lab([(3.00, 2.98, 0.80, 0.80)]),
    "doubted": lambda: two(*DOUBTED),
    "unknown": lambda: two(*DOUBTED, variation=Variation(unknown=True)),
    "stated": lambda: two(*DOUBTED, variation=Variation(relative=0.02)),
}


def _made(record: Experiment, **changes: Any) -> Experiment:
    return replace(record, **changes)


def _two_balances() -> Experiment:
    record = lab(GOOD, Balance(readability_g=0.1, repeatability_g=0.05))
    fine = Balance(readability_g=0.001, repeatability_g=0.0005)
    exact = [
        Trial(
            f"fine {i}",
            {name: f"{float(t.readings[name][0]):.3f}" for name in t.readings},
            instruments={"balance": "fine balance"},
        )
        for i, t in enumerate(lab(GOOD, FINE).trials, 1)
    ]
    return replace(
        record,
        instruments={"balance": record.instruments["balance"], "fine balance": fine},
        trials=[*record.trials, *exact],
    )


def _scattered(recovery: tuple[float, float]) -> Experiment:
    """Two balances, and trials that differ by more than either of them explains."""
    record = _two_balances()
    record = replace(record, recovery=recovery)
    for trial, grams in (("fine 1", "2.900"), ("fine 3", "3.900")):
        record = record.with_reading(trial, "paper + silver", grams)
    return record


def _oxide(with_metal_g: str) -> Experiment:
    """Tin ignited on a balance of 0.1 g: much, or so little that no yield has an upper limit."""
    ready = experiments.load("tin-oxide")
    names = ready.reading_names()
    lighter = ready.consumed.reading("lighter")
    heavier = ready.consumed.reading("heavier")
    masses = {lighter: "17.6", heavier: with_metal_g}
    readings = {name: masses.get(name, f"{float(with_metal_g) + 0.3:.1f}") for name in names}
    return replace(
        ready,
        instruments=dict.fromkeys(ready.instruments, COARSE),
        shared_readings={},
        trials=[Trial("1", readings)],
    )


def _routes(apart_mL: float = 0.0) -> Experiment:
    record = parse_experiment(ROUTES)
    for trial, volume in (("1", 20.14), ("2", 20.34)):
        record = record.with_reading(trial, "burette after", f"{volume + apart_mL:.2f}")
    return record


def _no_current() -> Experiment:
    names = ("current", "time", "second current", "second time")
    return Experiment(
        title="No current for no time (invented)",
        invented=True,
        candidates=plain_ratios(RATIOS),
        trials=[Trial("1", dict(zip(names, ("0.00", "0") * 2, strict=True)))],
        consumed=ElectricCharge(species="Cu", current=names[0], time=names[1], electrons=2),
        produced=ElectricCharge(species="Ag", current=names[2], time=names[3]),
        instruments={"ammeter": Ammeter(readability_A=0.01), "timer": Timer(readability_s=1)},
    )


def _planned(planned: int, each: int, trials: int) -> Experiment:
    looks = Looks(planned=planned, trials_each=each)
    return lab([(2.94, 2.84, 0.75, 1.09)] * trials, FINE, looks=looks)


OTHER: dict[str, Callable[[], Experiment]] = {
    "two-balances": _two_balances,
    "routes": _routes,
    "routes-apart": lambda: _routes(1.5),
    "averaged": lambda: parse_experiment(AVERAGED),
    "one-vessel": lambda: in_one_vessel(True),
    "own-vessels": lambda: in_one_vessel(False),
    "shared-blank": lambda: with_blank(3),
    "sum-of-masses": sum_of_masses,
    "titrated": lambda: parse_experiment(TITRATED),
    "look-in-time": lambda: _planned(2, 2, 2),
    "look-one": lambda: _planned(1, 2, 2),
    "look-between": lambda: _planned(2, 2, 3),
    "look-too-many": lambda: _planned(1, 2, 4),
    "looks-too-many": lambda: _planned(2, 1, 3),
    "look-unplanned": lambda: lab([(2.94, 2.84, 0.75, 1.09)] * 3, FINE, looks=Looks(before=2)),
    "looks-by-student": lambda: _made(_planned(3, 2, 2), variation=Variation(unknown=True)),
    "prior": lambda: lab(
        [(2.9, 2.8, 0.7, 0.9)],
        COARSE,
        prior=Prior(weights={"copper(I)": 3, "copper(II)": 1}, none=0.2),
    ),
    "prior-sure": lambda: lab([(2.94, 2.84, 0.75, 1.05)], FINE, prior=Prior(none=0)),
    "unknown-once": lambda: two((0.34,), (0.30,), variation=Variation(unknown=True)),  # type: ignore[arg-type]
    "unknown-alike": lambda: two((0.34, 0.34), (0.30, 0.30), variation=Variation(unknown=True)),
    "from-trials": lambda: two(*DOUBTED, variation=Variation(relative=0.05, from_trials=6)),
    "scatter-alone": lambda: lab([(2.94, 2.84, 0.75, 1.02), (3.19, 3.09, 0.70, 1.12)], DIGITS),
    "over-recovery": lambda: lab(GOOD, FINE, recovery=(0.5, 0.9)),
    "recovery-over": lambda: lab(GOOD, FINE, recovery=(0.9, 1.2)),
    "air": lambda: lab(
        [(4.9412, 3.8212, 0.7512, 4.5561), (5.1912, 4.0912, 0.7012, 4.4381)],
        Balance(readability_g=0.0001, repeatability_g=0.0001),
    ),
    "settled": lambda: crucible("22.7075", "22.7064", recovery=(0.9, 1.1)),
    "heated": lambda: crucible("22.7096", "22.7063", "22.7063"),
    "good": lambda: lab(GOOD, FINE),
    "two-balances-scatter": lambda: _scattered((1.0, 1.0)),
    "two-balances-recovery": lambda: _scattered((0.7, 1.0)),
    "oxide-coarse": lambda: _oxide("18.8"),
    "oxide-hardly": lambda: _oxide("17.7"),
    "consumed-nothing": lambda: lab([(3.00, 3.00, 0.70, 1.70)], DIGITS),
    "no-current": _no_current,
    "four-candidates": lambda: lab(
        GOOD, FINE, {"a": "1", "b": "9/5", "c": "2", "d": "11/5", "e": "3"}
    ),
    "six-excluded": lambda: lab(GOOD, FINE, {n: str(i) for i, n in enumerate("abcdef", 3)}),
    "precise": lambda: lab(
        [(3.1200, 2.6500, 0.7100, 2.3050)] * 3,
        Balance(readability_g=0.0001, repeatability_g=0.0001),
    ),
    "kilograms": lambda: lab([(3120.0, 2650.0, 710.0, 2305.0)], Balance(readability_g=1)),
}
for _kind, _level in (
    ("weighed", 1),
    ("weighed", 5),
    ("gas", 2),
    ("gas", 5),
    ("titration", 3),
    ("titration", 5),
    ("charge", 4),
    ("charge", 5),
):
    OTHER[f"practice-{_kind}-{_level}"] = lambda kind=_kind, level=_level: (
        practice(  # type: ignore[misc]
            11, level=level, kind=kind
        ).experiment
    )
READY: dict[str, Callable[[], Experiment]] = {
    name: lambda name=name: experiments.load(name)  # type: ignore[misc]
    for name in experiments.names()
}
EVERY = {**READY, **ODD, **OTHER}
