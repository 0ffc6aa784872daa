"""Run all benchmarks and print one table a topic: ``python -m tests.benchmarks``."""

from __future__ import annotations

from importlib import import_module

TOPICS = (
    "classes",
    "first",
    "propagation",
    "trials",
    "evidence",
    "design_map",
    "formulas",
    "growth",
    "trust",
    "page",
)

if __name__ == "__main__":
    for topic in TOPICS:
        print(import_module(f"tests.benchmarks.{topic}").main(), flush=True)
