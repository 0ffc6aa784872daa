"""Timing of two ways in turn, and the table of ratios."""

from __future__ import annotations

import gc
import resource
import subprocess
import sys
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from importlib import import_module
from typing import Any

import numpy as np

__all__ = ["Row", "best", "exponent", "fresh", "missing", "peer", "process", "show"]


@dataclass(frozen=True)
class Row:
    """One line of the table: what was measured, and whether it is what was aimed at.

    Attributes
    ----------
    what, peer : str
    ours, theirs : float
        In ``unit``; nan where there is no peer.
    target : float
        Least ratio theirs / ours; or, where ``limit`` is set, the most that ``ours`` may be.
    limit : bool
    unit : str
    """

    what: str
    peer: str
    ours: float
    theirs: float
    target: float
    limit: bool = False
    unit: str = "us"
    note: str = ""

    @property
    def ratio(self) -> float:
        """How many times faster than the peer."""
        return self.theirs / self.ours

    @property
    def met(self) -> bool | None:
        """Whether the target was met; None where there is no figure."""
        value = self.ours if self.limit else self.ratio
        if np.isnan(value):
            return None
        return value <= self.target if self.limit else value >= self.target


def best(*ways: Callable[[], Any], repeats: int = 5, inner: int = 1) -> list[float]:
    """Return the best time of each way in seconds; the ways take turns."""
    found = [float("inf")] * len(ways)
    gc.collect()
    gc.disable()
    try:
        for _ in range(repeats):
            for i, way in enumerate(ways):
                start = time.perf_counter()
                for _ in range(inner):
                    way()
                found[i] = min(found[i], (time.perf_counter() - start) / inner)
    finally:
        gc.enable()
    return found


def exponent(sizes: Iterable[float], seconds: Iterable[float]) -> float:
    """Return the power of the size with which the time grows, by least squares on logarithms."""
    return float(np.polyfit(np.log([*sizes]), np.log([*seconds]), 1)[0])


def fresh(code: str, *arguments: str) -> str:
    """Run code in a new Python process and return what it prints."""
    command = [sys.executable, "-c", code, *arguments]
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout


def process(code: str, *arguments: str) -> tuple[float, float]:
    """Run code in a new Python process; return its wall and its processor time in seconds."""
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    fresh(code, *arguments)
    wall, after = time.perf_counter() - start, resource.getrusage(resource.RUSAGE_CHILDREN)
    return wall, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def peer(name: str) -> Any:
    """Return the module of a peer, or None if it is not installed."""
    try:
        return import_module(name)
    except ImportError:
        return None


def missing(what: str, name: str) -> Row:
    """Return the line of a peer that is not installed."""
    nan = float("nan")
    return Row(what, f"{name} (not installed)", nan, nan, nan)


def _figure(value: float) -> str:
    return "-" if np.isnan(value) else f"{value:.3g}" if value < 1000 else f"{value:,.0f}"


def show(title: str, rows: Iterable[Row]) -> str:
    """Return the rows as a Markdown table."""
    lines = [
        f"### {title}",
        "",
        "| what | unit | ours | peer | peer's | ratio | target | met |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for row in rows:
        ratio = "-" if np.isnan(row.theirs) else f"{row.ratio:,.3g}"
        target = "-" if np.isnan(row.target) else f"{row.target:g}"
        if target != "-":
            target = f"≤ {target} {row.unit}" if row.limit else f"≥ {target} ×"
        word = "-" if row.met is None or target == "-" else "yes" if row.met else "**NO**"
        cells = [row.what, row.unit, _figure(row.ours), row.peer or "-", _figure(row.theirs)]
        lines.append("| " + " | ".join([*cells, ratio, target, word]) + " |")
        if row.note:
            lines.append(f"| ↳ {row.note} | | | | | | | |")
    return "\n".join([*lines, ""])
