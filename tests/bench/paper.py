"""Labs that are hard to print, for tests of cards and labels."""

from __future__ import annotations

from dataclasses import replace

from stoichkit import experiments
from stoichkit.experiments.parts import Caution
from stoichkit.experiments.record import Experiment
from stoichkit.experiments.store import parse_experiment

NAMES = (
    "mean", "“Wide” WWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWW",
    "<b onclick=alert(1)>&amp;", "The group at the bench beside the second window from the left",
)  # fmt: skip
"""Long and hostile names of groups."""


def crowded(*, cautions: int = 12, advice: int = 6, notes: int = 12) -> Experiment:
    """Return a lab with long names, many cautions and long notes."""
    long = "paper with its silver, dried, cooled and weighed in the room beside the balances"
    text = experiments.read("copper-silver").replace('"paper + silver"', f'"{long[:80]}"')
    lab = parse_experiment(text, "lab.toml")
    sentence = "Keep it away from whatever burns, and have the sash of the hood down all the time."
    return replace(
        lab,
        title="A very long title of a laboratory exercise about copper and silver, " * 2,
        notes=tuple(f"Note {i}: {sentence} {sentence}" for i in range(notes)),
        cautions=tuple(
            Caution(
                subject=f"reagent number {i} with a long name",
                statements=(
                    "H314 Causes severe skin burns and eye damage",
                    "H330 Fatal if inhaled",
                ),
                advice=tuple(f"Advice {i}.{k}: {sentence}" for k in range(advice)),
                source="Invented, for a test.",
            )
            for i in range(cautions)
        ),
    )


def many_candidates() -> Experiment:
    """Return a lab with 24 candidates."""
    text = experiments.read("hydrate-heating")
    few = "waters = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12]"
    assert few in text
    return parse_experiment(text.replace(few, f"waters = {list(range(1, 25))}"), "lab.toml")
