"""How far can an answer be trusted? Printed sizes of faults planted; stated chances counted.

*Planted*: in simulated labs each fault of ``Evidence.overturned_by`` is put into the readings or
the instruments, at 0.9 and at 1.1 of the size printed: no other candidate may fit at the first,
and one must at the second. *Reliability*: over simulated labs whose truth is drawn from the prior
(5 % none of the candidates), how often the candidate said to have chance P is true.

    python -m tests.studies.trust                        # the full study, prints Markdown
    python -m tests.studies.trust --labs 20 --only planted
"""

from __future__ import annotations

import argparse
import itertools
import math
import random
import sys
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace

from stoichkit import Trial, assess
from stoichkit.chemistry.candidates import Candidate
from stoichkit.chemistry.elements import molar_mass_value
from stoichkit.decision.evidence import Evidence
from stoichkit.decision.overturning import Fault, FaultKind
from stoichkit.decision.verdict import VerdictKind
from stoichkit.experiments.parts import Variation
from stoichkit.experiments.record import Experiment
from stoichkit.measurement.displays import Balance
from stoichkit.measurement.weighing import MassByDifference

READINGS = ("wire before", "wire after", "paper", "paper + product")


@dataclass(frozen=True)
class Setting:
    """One kind of lab: pair of elements, ratios of the candidates, masses in display steps."""

    consumed: str
    produced: str
    ratios: tuple[str, ...]
    steps: float
    noise: float
    trials: int
    step_g: float = 0.01


SETTINGS = (
    Setting("Fe", "Cu", ("1", "3/2"), 4, 0.5, 1),
    Setting("Fe", "Cu", ("1", "3/2"), 20, 0.5, 3),
    Setting("Cu", "Ag", ("1", "2"), 3, 0.3, 2),
    Setting("Cu", "Ag", ("1", "2"), 30, 0.5, 3),
    Setting("Sn", "Cu", ("1", "2", "3/2"), 8, 1.0, 3),
    Setting("Mg", "Ag", ("1", "2"), 2, 0.2, 1),
)


def lab(setting: Setting, ratio: float, draw: random.Random) -> Experiment:
    """Return a simulated lab; what reacts is spread by half about the setting's mass."""
    per_gram = ratio * molar_mass_value(setting.produced) / molar_mass_value(setting.consumed)
    step, trials = setting.step_g, []
    places = max(0, -round(math.log10(step)))

    def shown(mass_g: float) -> str:
        noisy = mass_g + draw.gauss(0, setting.noise * step)
        return f"{round(noisy / step) * step:.{places}f}"

    for i in range(setting.trials):
        reacted = setting.steps * step * draw.uniform(0.75, 1.25)
        wire, paper = draw.uniform(2, 4), draw.uniform(0.5, 1)
        masses = (wire, wire - reacted, paper, paper + reacted * per_gram)
        readings = dict(zip(READINGS, map(shown, masses), strict=True))
        trials.append(Trial(f"{i + 1}", readings))
    balance = Balance(readability_g=step, repeatability_g=setting.noise * step)
    return Experiment(
        title="A simulated lab",
        invented=True,
        instruments={"balance": balance},
        consumed=MassByDifference(
            species=setting.consumed, heavier="wire before", lighter="wire after"
        ),
        produced=MassByDifference(
            species=setting.produced, heavier="paper + product", lighter="paper"
        ),
        candidates=[Candidate(f"ratio {r}", r) for r in setting.ratios],
        trials=trials,
    )


def planted(evidence: Evidence, fault: Fault, part: float) -> Evidence:
    """Return the evidence if a part of a fault is taken to be there."""
    experiment, size = evidence.experiment, part * fault.size
    order = experiment.reading_names()

    def moved(by: dict[str, float], most: int | None = None) -> Experiment:
        return experiment.with_trials(
            Trial(
                one.name,
                {
                    name: f"{float(texts[-1]) + by.get(name, 0.0) * (i < (most or 99)):.9f}"
                    for name, texts in one.readings.items()
                },
            )
            for i, one in enumerate(experiment.trials)
        )

    kind = fault.kind
    if kind is FaultKind.PRODUCED:
        changed = moved({experiment.produced.span.high: size})
    elif kind is FaultKind.CONSUMED:
        changed = moved({experiment.consumed.span.high: size})
    elif kind is FaultKind.DRIFT:
        changed = moved({name: i * size for i, name in enumerate(order)})
    elif kind is FaultKind.ONE_READING:
        changed = moved({fault.subject: size}, most=1)
    elif kind is FaultKind.REPEATABILITY:
        balance = experiment.instruments["balance"]
        assert isinstance(balance, Balance)
        changed = experiment.with_instrument("balance", replace(balance, repeatability_g=size))
    elif kind is FaultKind.RECOVERY:
        low, high = experiment.recovery
        wider = (low + size, high) if size < 0 else (low, high + size)
        changed = replace(experiment, recovery=wider)
    else:
        assert kind is FaultKind.VARIATION
        changed = replace(experiment, variation=Variation(relative=size))
    return assess(changed)


def differs(evidence: Evidence, other: Evidence) -> bool:
    """Return whether another candidate comes in or is left alone."""
    one, two = evidence.verdict, other.verdict
    if two.kind in (VerdictKind.NONE_FITS, VerdictKind.CANNOT_BE_JUDGED):
        return False
    return (one.kind, one.candidates) != (two.kind, two.candidates)


def planted_counts(labs: int) -> dict[FaultKind, list[int]]:
    """Return of each kind how many were tried, stayed at 0.9 and changed at 1.1."""
    counts: dict[FaultKind, list[int]] = defaultdict(lambda: [0, 0, 0])
    draw = random.Random(5)
    for setting in SETTINGS:
        for _ in range(math.ceil(labs / len(SETTINGS))):
            truth = draw.choice(setting.ratios)
            ratio = float(Candidate("x", truth).ratio)
            evidence = assess(lab(setting, ratio, draw))
            for fault in evidence.overturned_by:
                count = counts[fault.kind]
                count[0] += 1
                count[1] += not differs(evidence, planted(evidence, fault, 0.9))
                count[2] += differs(evidence, planted(evidence, fault, 1.1))
    return counts


EDGES = (0.0, 0.02, 0.1, 0.25, 0.5, 0.75, 0.9, 0.98, 1.0000001)


def reliability(setting: Setting, labs: int, seed: int) -> Iterator[tuple[float, bool]]:
    """Yield (stated chance, whether it is true) of every candidate, and none, of every lab."""
    draw = random.Random(seed)
    ratios = {f"ratio {r}": float(Candidate("x", r).ratio) for r in setting.ratios}
    low, high = math.log(min(ratios.values()) / 2), math.log(2 * max(ratios.values()))
    for _ in range(labs):
        if draw.random() < 0.05:
            truth, ratio = "", math.exp(draw.uniform(low, high))
        else:
            truth = draw.choice(list(ratios))
            ratio = ratios[truth]
        chances = assess(lab(setting, ratio, draw)).chances
        if chances is None:
            continue
        yield chances.none, truth == ""
        for name, p in chances.by_candidate.items():
            yield p, truth == name


def main(argv: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--labs", type=int, default=0, help="planted 200, reliability 3,400")
    parser.add_argument("--only", choices=("planted", "reliability"))
    options = parser.parse_args(argv)
    if options.only in (None, "planted"):
        print("## Faults planted\n\n| fault | labs | stays at 0.9 % | changes at 1.1 % |")
        print("|---|---|---|---|")
        for kind, (tried, stayed, changed) in planted_counts(options.labs or 200).items():
            print(f"| {kind.value} | {tried} | {100 * stayed / tried:.1f} | "
                  f"{100 * changed / tried:.1f} |", flush=True)  # fmt: skip
        print()
    if options.only in (None, "reliability"):
        print("## Stated chances\n\n| setting | chance stated | cases | mean stated % | true % |")
        print("|---|---|---|---|---|")
        for i, setting in enumerate(SETTINGS):
            found = list(reliability(setting, options.labs or 3400, seed=i))
            name = f"{setting.consumed}/{setting.produced}, {setting.steps:g} steps, "
            name += f"noise {setting.noise:g}, {setting.trials} trials"
            for low, high in itertools.pairwise(EDGES):
                here = [(p, true) for p, true in found if low <= p < high]
                if here:
                    mean = sum(p for p, _ in here) / len(here)
                    share = sum(true for _, true in here) / len(here)
                    print(f"| {name} | {low:g} to {min(high, 1):g} | {len(here)} | "
                          f"{100 * mean:.1f} | {100 * share:.1f} |", flush=True)  # fmt: skip
    return 0


if __name__ == "__main__":
    sys.exit(main())
