"""Simulated and hand-made labs for tests: copper consumed, silver produced, on one balance."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from stoichkit import experiments
from stoichkit.chemistry.candidates import hydrate_series, plain_ratios
from stoichkit.experiments.parts import Trial
from stoichkit.experiments.record import Experiment
from stoichkit.measurement.displays import Balance
from stoichkit.measurement.weighing import MassByDifference

ROLES = ("wire before", "wire after", "paper", "paper + silver")
RATIOS = {"copper(I)": "1", "copper(II)": "2"}


REVERSED = [(2.65, 3.12, 2.30, 0.71), (2.48, 2.95, 2.30, 0.70), (2.45, 2.95, 2.39, 0.70)]
"""Three trials with both differences the wrong way round."""


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


def as_dense_as_weights(experiment: Experiment) -> Experiment:
    """Return a lab whose masses air does not change: both are as dense as weights, 8.0 g/cm³."""
    sides = {
        side: replace(getattr(experiment, side), density_g_per_cm3=8.0)
        for side in ("consumed", "produced")
    }
    return replace(experiment, **sides)


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


def two(made_g: tuple[float, float], used_g: tuple[float, float], **fields: Any) -> Experiment:
    """Iron in copper sulfate, twice: iron(II) makes 1 copper for each iron, iron(III) 3/2."""
    names = ("iron before", "iron after", "paper", "paper + copper")
    rows = [(3.00, 3.00 - u, 0.80, 0.80 + m) for m, u in zip(made_g, used_g, strict=True)]
    return Experiment(
        title="Iron in copper sulfate (invented)",
        consumed=MassByDifference(species="Fe", heavier=names[0], lighter=names[1]),
        produced=MassByDifference(species="Cu", heavier=names[3], lighter=names[2]),
        instruments={"balance": Balance(readability_g=0.01)},
        candidates=plain_ratios({"iron(II)": "1", "iron(III)": "3/2"}),
        trials=[
            Trial(str(i), {n: f"{v:.2f}" for n, v in zip(names, row, strict=True)})
            for i, row in enumerate(rows, start=1)
        ],
        **fields,
    )


def crucible(*heated: str, **fields: Any) -> Experiment:
    """Barium chloride crystals, 1.5240 g: the dihydrate would lose 0.2248 g of water.

    M(2 H2O) / M(BaCl2·2H2O) = 36.030 / 244.257 = 0.14751.
    """
    ready = experiments.load("hydrate-heating")
    readings = {
        "crucible": "21.4070", "crucible + crystals": "22.9310", "crucible + residue": heated,
    }  # fmt: skip
    given: dict[str, Any] = {"instruments": {"balance": Balance(readability_g=0.0001)}} | fields
    return replace(
        ready,
        title="Barium chloride (invented)",
        consumed=replace(ready.consumed, species="BaCl2"),
        candidates=hydrate_series("BaCl2", waters=[1, 2, 3, 4]),
        candidate_spec=None,
        trials=(Trial("1", readings),),
        **given,
    )


_IRON = """
title = "Iron in copper sulfate"
invented = true

[instruments.balance]
kind = "balance"
readability_g = 0.01
repeatability_g = REPEATS

[consumed]
kind = "mass by difference"
species = "Fe"
heavier = "nail before"
lighter = "nail after"

[produced]
kind = "mass by difference"
species = "Cu"
heavier = "paper + copper"
lighter = "paper"
SAME
[candidates.oxidation_states]
metal = "Fe"
states = ["iron(II)", "iron(III)"]
"""


def iron_text(repeatability_g: float, product: str = "") -> str:
    """Return the file of iron in copper sulfate without trials; ``product`` says more of copper."""
    return _IRON.replace("REPEATS", str(repeatability_g)).replace("SAME", product)
