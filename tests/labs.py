"""Simulated and hand-made labs for tests: copper consumed, silver produced, on one balance."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from stoichkit.chemistry.candidates import plain_ratios
from stoichkit.experiments.parts import Trial
from stoichkit.experiments.record import Experiment
from stoichkit.measurement.displays import Balance
from stoichkit.measurement.weighing import MassByDifference

ROLES = ("wire before", "wire after", "paper", "paper + silver")
RATIOS = {"copper(I)": "1", "copper(II)": "2"}


def text(value_g: float, step_g: float) -> str:
    """Write a reading with the decimals that a display of this step shows."""
    decimals = max(0, -int(np.floor(np.log10(step_g) + 1e-9)))
    return f"{value_g:.{decimals}f}"


def lab(
    rows: Sequence[Sequence[float]],
    balance: Balance | None = None,
    ratios: Mapping[str, str] = RATIOS,
    **fields: Any,
) -> Experiment:
    """Return a lab; each row is wire before, wire after, paper, paper + silver in g."""
    balance = balance or Balance(readability_g=0.01)
    return Experiment(
        title="Copper wire in silver nitrate (invented)",
        invented=True,
        consumed=MassByDifference(species="Cu", heavier=ROLES[0], lighter=ROLES[1]),
        produced=MassByDifference(species="Ag", heavier=ROLES[3], lighter=ROLES[2]),
        instruments={"balance": balance},
        candidates=plain_ratios(ratios),
        trials=[
            Trial(
                str(i),
                {n: text(v, balance.readability_g) for n, v in zip(ROLES, row, strict=True)},
            )
            for i, row in enumerate(rows, 1)
        ],
        **fields,
    )


def weighed(
    rng: np.random.Generator,
    mass_g: Any,
    ratio: float,
    step_g: float,
    noise: float,
    shape: tuple[int, ...],
) -> list[np.ndarray]:
    """Return displayed readings in g, in the order of ROLES, each of the given shape."""
    reacting = np.broadcast_to(np.asarray(mass_g, dtype=float), shape)
    made = reacting / 63.546 * ratio * 107.8682
    wire, paper = rng.uniform(2, 4, shape), rng.uniform(0.5, 1.0, shape)
    true = (wire, wire - reacting, paper, paper + made)
    return [np.round((t + rng.normal(0, noise * step_g, shape)) / step_g) * step_g for t in true]
