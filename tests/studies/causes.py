"""Is a planted effect, or a planted slip, found again, and is a clean lab left alone?

Labs of copper in silver nitrate (silver weighed), of tin turned to oxide and of hydrates heated
are simulated reading by reading, with one known effect or one known mistake.

    python -m tests.studies.causes                  # the full study, prints Markdown
    python -m tests.studies.causes --labs 40        # quick
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from stoichkit import experiments
from stoichkit.chemistry.elements import molar_mass_value
from stoichkit.decision.evidence import assess, linear_amounts
from stoichkit.diagnosis.causes import causes_for
from stoichkit.diagnosis.slips import SlipKind, find_slips
from stoichkit.experiments.parts import Trial
from stoichkit.experiments.record import Experiment
from stoichkit.measurement.displays import Balance

CU, AG, SN, OXYGEN = (molar_mass_value(s) for s in ("Cu", "Ag", "Sn", "O"))
SALT, WATER = molar_mass_value("MgSO4"), molar_mass_value("H2O")
Readings = dict[str, float]
"""True readings in g, before the display."""


@dataclass(frozen=True)
class Design:
    """One kind of lab."""

    name: str
    template: str
    truth: str
    step_g: float
    trials: int


DESIGNS = (
    Design("silver, 0.01 g", "copper-silver", "copper(II)", 0.01, 4),
    Design("silver, 0.001 g", "copper-silver", "copper(II)", 0.001, 4),
    Design("silver, 0.1 g", "copper-silver", "copper(II)", 0.1, 4),
    Design("silver, 0.01 g, 2 trials", "copper-silver", "copper(II)", 0.01, 2),
    Design("silver, 0.01 g, 1 trial", "copper-silver", "copper(II)", 0.01, 1),
    Design("tin oxide, 0.001 g", "tin-oxide", "SnO2", 0.001, 4),
    Design("hydrate, 0.01 g", "hydrate-heating", "MgSO4·7H2O", 0.01, 3),
)


def true_readings(design: Design, rng: np.random.Generator) -> Readings:
    """Return the readings of one trial without any error, g."""
    if design.template == "copper-silver":
        used, wire, paper = rng.uniform(0.3, 0.8), rng.uniform(2, 4), rng.uniform(0.6, 0.9)
        made = used / CU * 2 * AG
        return {
            "wire before": wire,
            "wire after": wire - used,
            "paper": paper,
            "paper + silver": paper + made,
        }
    vessel, mass = rng.uniform(17, 22), rng.uniform(0.6, 1.3)
    if design.template == "tin-oxide":
        gained = 2 * mass / SN * OXYGEN
        whole = vessel + mass
        return {"crucible": vessel, "crucible + tin": whole, "crucible + oxide": whole + gained}
    salt = 1.5 * mass
    water = 7 * salt / SALT * WATER
    return {
        "crucible": vessel,
        "crucible + crystals": vessel + salt + water,
        "crucible + residue": vessel + salt,
    }


def lab(
    design: Design,
    rng: np.random.Generator,
    plant: Callable[[Readings], None] | None = None,
) -> Experiment:
    """Return a simulated lab whose true readings were changed by an effect."""
    template = experiments.load(design.template)
    balance = Balance(readability_g=design.step_g, repeatability_g=design.step_g / 2)
    decimals = max(0, round(-np.log10(design.step_g)))
    trials = []
    for i in range(design.trials):
        readings = true_readings(design, rng)
        if plant is not None:
            plant(readings)
        step = design.step_g
        noisy = {k: v + rng.normal(0, step / 2) for k, v in readings.items()}
        texts = {k: f"{round(v / step) * step:.{decimals}f}" for k, v in noisy.items()}
        trials.append(Trial(str(i + 1), texts))
    return replace(template, trials=tuple(trials), instruments={"balance": balance})


def effects(design: Design, size_g: float) -> dict[str, Callable[[Readings], None]]:
    """Return what each effect of this size does to the true readings of a lab."""

    def add(**changes: float) -> Callable[[Readings], None]:
        def plant(readings: Readings) -> None:
            for name, sign in changes.items():
                readings[name.replace("_plus_", " + ").replace("_", " ")] += sign * size_g

        return plant

    if design.template == "copper-silver":
        return {
            "wet product": add(paper_plus_silver=1),
            "residue salt": add(paper_plus_silver=1),
            "lost product": add(paper_plus_silver=-1),
            "product on metal": add(wire_after=1, paper_plus_silver=-1),
            "metal in product": add(wire_after=-1, paper_plus_silver=1),
            "damp vessel": add(paper=1),
            "metal dissolved": add(wire_after=-1),
            "damp metal": add(wire_after=1),
        }
    if design.template == "tin-oxide":
        return {
            "wet oxide": add(crucible_plus_oxide=1),
            "unfinished oxidation": add(crucible_plus_oxide=-1),
            "smoke": add(crucible_plus_oxide=-1),
        }
    return {
        "water left": add(crucible_plus_residue=1),
        "spitting": add(crucible_plus_residue=-1),
        "decomposed": add(crucible_plus_residue=-1),
        "dried out": add(crucible_plus_crystals=-1),
        "damp crystals": add(crucible_plus_crystals=1),
    }


@dataclass(frozen=True)
class Planted:
    """A lab with one mistake: where, and what was there before."""

    experiment: Experiment
    trial: str
    right: dict[str, str]


def plant_slip(clean: Experiment, kind: SlipKind, rng: np.random.Generator) -> Planted | None:
    """Return the lab with one mistake of this kind; None where it would change nothing."""
    trial = clean.trials[rng.integers(len(clean.trials))]
    typed = {name: texts[-1] for name, texts in trial.readings.items()}
    names = list(typed)
    name = names[rng.integers(len(names))]
    step = clean.instruments["balance"].readability
    text, changed = typed[name], {}
    if kind is SlipKind.TRANSPOSED:
        places = [i for i, c in enumerate(text) if c.isdigit()]
        at = rng.integers(len(places) - 1)
        i, j = places[at], places[at + 1]
        if text[i] == text[j]:
            return None
        changed = {name: text[:i] + text[j] + text[i + 1 : j] + text[i] + text[j + 1 :]}
    elif kind is SlipKind.SWAPPED:
        model = (clean.consumed, clean.produced)[rng.integers(2)]
        changed = {model.heavier: typed[model.lighter], model.lighter: typed[model.heavier]}
    elif kind is SlipKind.UNIT:
        changed = {name: f"{1000 * float(text):.0f}"}
    elif kind is SlipKind.DECIMAL:
        changed = {name: text.replace(".", "").lstrip("0")}
    elif kind is SlipKind.TARE:
        heavier, vessel = {
            "copper-silver": ("paper + silver", "paper"),
            "tin-oxide": ("crucible + oxide", "crucible"),
            "hydrate-heating": ("crucible + residue", "crucible"),
        }[template_of(clean)]
        net = float(typed[heavier]) - float(typed[vessel])
        changed = {heavier: f"{net:.{max(0, round(-np.log10(step)))}f}"}
    changed = {k: v for k, v in changed.items() if float(v) != float(typed[k])}
    if not changed:
        return None
    lab_with = clean
    for key, value in changed.items():
        lab_with = lab_with.with_reading(trial.name, key, value)
    return Planted(lab_with, trial.name, {k: typed[k] for k in changed})


def template_of(experiment: Experiment) -> str:
    return {"Ag": "copper-silver", "O": "tin-oxide"}.get(
        experiment.produced.species, "hydrate-heating"
    )


def detectable(planted: Planted, truth: str, level: float = 0.01) -> bool:
    """Return whether the mistake can be seen at the slip level.

    The trial alone must exclude the truth, and so must its difference from the mean of the
    others, which a common effect would leave unchanged; without others, every candidate must
    be excluded.
    """
    experiment = planted.experiment
    limit = level / (2 * len(experiment.trials))
    mine = [t for t in experiment.trials if t.name == planted.trial]
    others = [t for t in experiment.trials if t.name != planted.trial]
    alone = assess(experiment.with_trials(mine)).candidates
    names = [truth] if others else list(alone)
    if any(alone[n].p_value >= limit for n in names):
        return False
    if not others:
        return True
    (own_a, own_b), *rest = experiment.with_trials([*mine, *others]).amounts()
    pair = own_a - sum(a for a, _ in rest) / len(rest), own_b - sum(b for _, b in rest) / len(rest)
    return linear_amounts(experiment, [pair]).p_value(alone[truth].ratio, 1.0) < limit


def right_value(planted: Planted, found: tuple) -> list[bool]:
    """Return, for each slip named with a corrected value, whether it is the planted one."""
    wanted = {k: float(v) for k, v in planted.right.items()}
    return [
        slip.trial == planted.trial
        and {n: float(t) for n, t in zip(slip.readings, slip.corrected, strict=True)} == wanted
        for slip in found
        if slip.corrected
    ]


def clean_row(design: Design, labs: int, seed: int) -> dict[str, int]:
    """Count the clean labs that are accused of anything."""
    rng = np.random.default_rng(seed)
    found = [find_slips(lab(design, rng)) for _ in range(labs)]
    return {"labs": labs, "accused": sum(bool(f) for f in found)}


def slip_row(design: Design, kind: SlipKind, labs: int, seed: int) -> dict[str, int]:
    """Count how often a planted mistake is named, with the value that was there before."""
    rng = np.random.default_rng(seed)
    count = dict.fromkeys(("labs", "detectable", "named", "first", "flagged"), 0)
    while count["labs"] < labs:
        planted = plant_slip(lab(design, rng), kind, rng)
        if planted is None:
            continue
        count["labs"] += 1
        if not detectable(planted, design.truth):
            continue
        count["detectable"] += 1
        slips = find_slips(planted.experiment)
        marks = right_value(planted, slips)
        count["named"] += any(marks)
        count["first"] += bool(marks and marks[0])
        count["flagged"] += any(s.trial == planted.trial for s in slips)
    return count


def effect_row(design: Design, key: str, size_g: float, labs: int, seed: int) -> dict[str, float]:
    """Count how often a planted effect is among the possible ones, and its amount in the range."""
    rng = np.random.default_rng(seed)
    count = dict.fromkeys(("labs", "excluded", "listed", "covered", "accused"), 0)
    others = 0
    for _ in range(labs):
        experiment = lab(design, rng, effects(design, size_g)[key])
        evidence = assess(experiment)
        causes = causes_for(evidence, design.truth)
        mine = next(c for c in causes if c.effect.key == key)
        count["labs"] += 1
        count["excluded"] += not evidence.candidates[design.truth].compatible
        count["listed"] += mine.possible
        count["covered"] += mine.low <= size_g <= mine.high
        others += sum(c.possible for c in causes)
        count["accused"] += any(s.corrected for s in find_slips(experiment))
    return count | {"possible": others / labs}


def rows(labs: int) -> Iterator[str]:
    """Yield the Markdown tables line by line."""
    kinds = (
        SlipKind.TRANSPOSED,
        SlipKind.SWAPPED,
        SlipKind.UNIT,
        SlipKind.DECIMAL,
        SlipKind.TARE,
    )
    yield "## Clean labs\n\n| lab | trials | labs | accused | % |\n|---|---|---|---|---|"
    for i, design in enumerate(DESIGNS):
        n = 10 * labs if design.template == "copper-silver" else 2 * labs
        found = clean_row(design, n, 10 + i)
        share = 100 * found["accused"] / found["labs"]
        counts = f"{found['labs']} | {found['accused']} | {share:.2f}"
        yield f"| {design.name} | {design.trials} | {counts} |"
    yield (
        "\n## Planted slips\n\n| lab | slip | labs | detectable % | named % | right one first % | "
        "trial flagged % |\n|---|---|---|---|---|---|---|"
    )
    for i, design in enumerate(DESIGNS):
        for j, kind in enumerate(kinds):
            c = slip_row(design, kind, labs, 1000 + 50 * i + j)
            seen = c["detectable"] or 1
            yield (
                f"| {design.name} | {kind.name.lower()} | {c['labs']} "
                f"| {100 * c['detectable'] / c['labs']:.1f} | {100 * c['named'] / seen:.1f} "
                f"| {100 * c['first'] / seen:.1f} | {100 * c['flagged'] / seen:.1f} |"
            )
    yield (
        "\n## Planted effects\n\n| lab | effect | size, steps | labs | truth excluded % | listed "
        "as possible % | its amount in the range % | possible effects, mean | a slip named % |"
        "\n|---|---|---|---|---|---|---|---|---|"
    )
    for i, design in enumerate(DESIGNS):
        if design.trials < 3 and "1 trial" not in design.name:
            continue
        for j, key in enumerate(effects(design, 0.0)):
            for k, steps in enumerate((3, 12)):
                seed = 5000 + 90 * i + 9 * j + k
                found = effect_row(design, key, steps * design.step_g, labs, seed)
                counts = (found[w] for w in ("excluded", "listed", "covered", "accused"))
                share = [100 * count / labs for count in counts]
                yield (
                    f"| {design.name} | {key} | {steps} | {labs} | {share[0]:.1f} | {share[1]:.1f} "
                    f"| {share[2]:.1f} | {found['possible']:.1f} | {share[3]:.1f} |"
                )


def main() -> None:
    """Run the study and print its tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--labs", type=int, default=300)
    labs = parser.parse_args().labs
    start = time.perf_counter()
    for line in rows(labs):
        print(line, flush=True)
    print(f"\nTook {time.perf_counter() - start:.0f} s.")


if __name__ == "__main__":
    main()
