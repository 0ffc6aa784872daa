"""How often is the true candidate excluded? Simulated labs against the stated 5 %.

Every lab is simulated as it would be done: vessels of arbitrary mass, each reading with
repeatability noise and rounded by the display, one calibration error for the balance. The reacting
mass is either exactly the same in every trial (the hard case, since digits then fall on a
lattice) or spread by ±10 %. The tool's own array function judges each lab; beside it stand the
plain continuous test, a continuity correction, picking the nearest candidate, and a first-order
95 % interval on the ratio.

    python -m tests.studies.calibration                    # the full study, prints Markdown
    python -m tests.studies.calibration --labs 2000 --quick
"""

from __future__ import annotations

import argparse
import math
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import product

import numpy as np

from stoichkit.chemistry.elements import molar_mass
from stoichkit.decision.arrays import assess_weighings
from stoichkit.measurement.displays import Balance
from stoichkit.uncertainty.distribution import SumDistribution
from stoichkit.uncertainty.sources import Shape, Term, nominal

STEP_G = 0.1
PAIRS = (
    ("Fe", "Cu", {"iron(II)": "1", "iron(III)": "3/2"}),
    ("Cu", "Ag", {"copper(I)": "1", "copper(II)": "2"}),
    ("Mg", "Ag", {"magnesium(I)": "1", "magnesium(II)": "2"}),
    ("Sn", "Cu", {"tin(II)": "1", "tin(IV)": "2"}),
)
REPEATABILITY = (0.0, 0.2, 0.3, 0.5, 1.0)
TRIALS = (1, 2, 4, 8)
METHODS = ("stoichkit", "continuous", "continuity", "nearest", "first order")


@dataclass(frozen=True)
class Setting:
    """One kind of lab; masses and noise in display steps."""

    pair: int
    repeatability: float
    truth: int
    trials: int
    calibration: float = 0.0
    linearity: float = 0.0


@dataclass
class Cell:
    """Counts for one setting and one reacting mass."""

    mass: float  # display steps; nan when spread
    labs: int
    excluded: dict[str, int] = field(default_factory=dict)
    right: dict[str, int] = field(default_factory=dict)
    wrong: dict[str, int] = field(default_factory=dict)


def settings(quick: bool) -> Iterator[Setting]:
    pairs = range(2) if quick else range(len(PAIRS))
    noises = (0.0, 0.5) if quick else REPEATABILITY
    trials = (1, 4) if quick else TRIALS
    for n, s, pair, truth in product(trials, noises, pairs, (0, 1)):
        yield Setting(pair, s, truth, n)
    if not quick:
        for pair, n in product(range(2), (1, 4)):
            yield Setting(pair, 0.5, 1, n, calibration=0.005)
            yield Setting(pair, 0.5, 0, n, linearity=2.0)


def weigh(
    rng: np.random.Generator, true_g: np.ndarray, setting: Setting, gain: np.ndarray
) -> np.ndarray:
    """Return displayed readings of true masses."""
    noise = rng.normal(0.0, setting.repeatability * STEP_G, true_g.shape)
    bend = rng.uniform(-1, 1, true_g.shape) * setting.linearity * STEP_G
    shown = np.round(((true_g + noise + bend) / gain) / STEP_G) * STEP_G
    return np.asarray(shown)


def simulate(setting: Setting, mass_steps: float, labs: int, seed: int, spread: bool) -> Cell:
    """Simulate labs of one setting and count what each way of deciding says."""
    rng = np.random.default_rng(np.random.SFC64(seed))
    consumed, produced, ratios = PAIRS[setting.pair]
    shape = (labs, setting.trials)
    m_a, m_b = nominal(molar_mass(consumed)), nominal(molar_mass(produced))
    reacting = np.full(shape, mass_steps * STEP_G)
    if spread:
        reacting = rng.uniform(0.9, 1.1, shape) * rng.uniform(0.5, 12.0, (labs, 1)) * STEP_G
    made = reacting / m_a * float(Fraction(list(ratios.values())[setting.truth])) * m_b
    gain = 1 + rng.uniform(-1, 1, (labs, 1)) * setting.calibration
    wire, tare = rng.uniform(20, 40, shape), rng.uniform(50, 80, shape)
    before = weigh(rng, wire, setting, gain)
    after = weigh(rng, wire - reacting, setting, gain)
    empty = weigh(rng, tare, setting, gain)
    full = weigh(rng, tare + made, setting, gain)
    balance = Balance(
        readability_g=STEP_G,
        repeatability_g=setting.repeatability * STEP_G,
        linearity_g=setting.linearity * STEP_G,
        calibration_relative=setting.calibration,
    )
    evidence = assess_weighings(
        before, after, empty, full,
        consumed=consumed, produced=produced, candidates=ratios, balance=balance,
    )  # fmt: skip
    names = list(ratios)
    compatible = {"stoichkit": evidence.compatible}
    compatible |= others(setting, evidence.n_consumed, evidence.n_produced, m_a, m_b, ratios)
    cell = Cell(math.nan if spread else mass_steps, labs)
    truth = setting.truth
    for method in METHODS:
        kept = compatible[method]
        alone = kept.sum(axis=1) == 1
        cell.excluded[method] = int((~kept[:, truth]).sum())
        cell.right[method] = int((alone & kept[:, truth]).sum())
        cell.wrong[method] = int((alone & ~kept[:, truth]).sum())
    assert len(names) == compatible["stoichkit"].shape[1]
    return cell


def others(
    setting: Setting, n_a: np.ndarray, n_b: np.ndarray, m_a: float, m_b: float, ratios: dict
) -> dict[str, np.ndarray]:
    """Return what four simpler ways of deciding keep."""
    n, s = setting.trials, setting.repeatability
    values = [float(Fraction(r)) for r in ratios.values()]
    plain, corrected = [], []
    for r in values:
        terms = []
        steps = (r * STEP_G / m_a / n, STEP_G / m_b / n)
        for c in steps:
            terms += [Term(Shape.RECTANGULAR, c / 2)] * (2 * n)
            terms += [Term(Shape.RECTANGULAR, c * setting.linearity)] * (2 * n)
            terms.append(Term(Shape.NORMAL, c * s * math.sqrt(2 * n)))
        half = SumDistribution(terms).half_width(0.95)
        shift = (sum(steps) if s < 0.3 else min(steps)) / 2
        d = np.abs(n_b - r * n_a)
        plain.append(d <= half)
        corrected.append(d <= half + shift)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = n_b / n_a
        each = STEP_G * math.sqrt(2 * (1 / 12 + s * s + setting.linearity**2 / 3) / n)
        u = np.abs(ratio) * np.hypot(each / m_a / n_a, each / m_b / n_b)
        first = np.column_stack([np.abs(ratio - r) <= 1.959964 * u for r in values])
        away = np.column_stack([np.abs(ratio - r) for r in values])
    away = np.where(np.isfinite(away), away, np.inf)
    nearest = np.zeros_like(first)
    nearest[np.arange(len(first)), away.argmin(axis=1)] = True
    first[~np.isfinite(u)] = True
    return {
        "continuous": np.column_stack(plain),
        "continuity": np.column_stack(corrected),
        "nearest": nearest,
        "first order": first,
    }


def limit(labs: int) -> float:
    """Return 5 % plus three standard deviations of the sampling error."""
    return 0.05 + 3 * math.sqrt(0.05 * 0.95 / labs)


def run(quick: bool, labs: int, masses: np.ndarray) -> list[tuple[Setting, list[Cell]]]:
    """Run every setting over the grid of fixed masses and once with spread masses."""
    results = []
    for i, setting in enumerate(settings(quick)):
        cells = [
            simulate(setting, float(m), labs, 1000 * i + j, False) for j, m in enumerate(masses)
        ]
        cells.append(simulate(setting, math.nan, labs, 1000 * i + 999, True))
        results.append((setting, cells))
        print(f"{i + 1} settings done", end="\r", file=sys.stderr, flush=True)
    return results


def table(results: list[tuple[Setting, list[Cell]]]) -> str:
    """Return the Markdown table: worst exclusion and mean chance of the right single answer."""
    head = (
        "| pair, truth | repeat. / step | trials | worst % (mass, steps) | spread % | "
        + " | ".join(f"{m}: worst %, right" for m in METHODS)
        + " |"
    )
    lines = [head, "|" + "---|" * (5 + len(METHODS))]
    for s, cells in results:
        consumed, produced, ratios = PAIRS[s.pair]
        name = f"{consumed}/{produced}, {list(ratios)[s.truth]}"
        if s.calibration:
            name += f", calibration ±{100 * s.calibration:g} %"
        if s.linearity:
            name += f", linearity ±{s.linearity:g} steps"
        fixed, spread = cells[:-1], cells[-1]
        worst = max(fixed, key=lambda c: c.excluded["stoichkit"])
        row = [
            name,
            f"{s.repeatability:g}",
            str(s.trials),
            f"{100 * worst.excluded['stoichkit'] / worst.labs:.2f} ({worst.mass:g})",
            f"{100 * spread.excluded['stoichkit'] / spread.labs:.2f}",
        ]
        for m in METHODS:
            high = max(c.excluded[m] / c.labs for c in cells)
            right = sum(c.right[m] for c in cells) / sum(c.labs for c in cells)
            row.append(f"{100 * high:.1f}, {right:.3f}")
        lines.append("| " + " | ".join(row) + " |")
    return "\n".join(lines)


def summary(results: list[tuple[Setting, list[Cell]]], labs: int) -> str:
    """Return the figures that matter: cells above the limit, and means over all settings."""
    cells = [c for _, group in results for c in group]
    bound = limit(labs)
    above = [c for c in cells if c.excluded["stoichkit"] / c.labs > bound]
    lines = [
        f"{len(results)} settings, {len(cells)} cells, {labs} labs a cell; "
        f"limit 5 % + 3 sigma = {100 * bound:.2f} %.",
        f"Cells in which stoichkit excluded the truth more often than the limit: {len(above)}.",
        "",
        "| method | worst cell: truth excluded % | mean: truth excluded % | right single answer % "
        "| wrong single answer % |",
        "|---|---|---|---|---|",
    ]
    for m in METHODS:
        total = sum(c.labs for c in cells)
        lines.append(
            f"| {m} | {100 * max(c.excluded[m] / c.labs for c in cells):.2f} "
            f"| {100 * sum(c.excluded[m] for c in cells) / total:.2f} "
            f"| {100 * sum(c.right[m] for c in cells) / total:.1f} "
            f"| {100 * sum(c.wrong[m] for c in cells) / total:.2f} |"
        )
    return "\n".join(lines)


def main(arguments: list[str] | None = None) -> int:
    """Run the study and print it; exit with 1 if the guarantee fails anywhere."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--labs", type=int, default=20_000)
    parser.add_argument("--quick", action="store_true")
    options = parser.parse_args(arguments)
    masses = np.arange(0.5, 12.01, 2.3 if options.quick else 0.25)
    start = time.perf_counter()
    results = run(options.quick, options.labs, masses)
    print(summary(results, options.labs))
    print()
    print(table(results))
    print(f"\nTook {time.perf_counter() - start:.0f} s.")
    bound = limit(options.labs)
    failed = any(c.excluded["stoichkit"] / c.labs > bound for _, cs in results for c in cs)
    return int(failed)


if __name__ == "__main__":
    sys.exit(main())
