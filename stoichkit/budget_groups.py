"""The budget of a discrepancy with its error sources merged over the trials."""

from __future__ import annotations

import math
from dataclasses import dataclass

from .evidence import Evidence

__all__ = ["BudgetLine", "grouped_budget"]

_SHOWN = 0.005
"""Shares below this are merged: they would read 0 %."""


@dataclass(frozen=True, slots=True)
class BudgetLine:
    """One class of error sources, merged over the trials.

    Attributes
    ----------
    label : str
        What the error is, e.g. ``"rounding of wire before"``; ``"others"`` for the rest.
    kind : str
        Class of source, e.g. ``"rounding"``; "" for the rest.
    trials : int
        In how many trials it occurs with an error of its own; 0 if all trials share one error.
    sources : int
        Number of elementary error sources merged.
    uncertainty_mmol : float
        Root sum of squares of their contributions to the discrepancy.
    share : float
        Part of the variance of the discrepancy, 0 to 1.
    """

    label: str
    kind: str
    trials: int
    sources: int
    uncertainty_mmol: float
    share: float

    @property
    def words(self) -> str:
        """The label with the number of trials or sources merged.

        >>> BudgetLine("rounding of paper", "rounding", 5, 5, 0.1, 0.2).words
        'rounding of paper (5 trials)'
        """
        if not self.kind:
            return f"{self.label} ({self.sources} sources)"
        return f"{self.label} ({self.trials} trials)" if self.trials > 1 else self.label


def grouped_budget(
    evidence: Evidence, name: str | None = None, *, most: int = 8
) -> tuple[BudgetLine, ...]:
    """Return the budget of the discrepancy from a candidate, merged over the trials.

    Errors of one kind at one reading count as one line however many trials there are.

    Parameters
    ----------
    evidence : Evidence
    name : str, optional
        A candidate; the nearest one if left out.
    most : int
        Lines before the rest is merged as "others", 1 or more; shares below half a percent are
        always merged.

    Returns
    -------
    tuple of BudgetLine
        Largest first, "others" last; shares add up to 1 unless there is no uncertainty at all.

    Raises
    ------
    ModelError
        If there is no candidate of that name.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> from stoichkit.evidence import assess
    >>> evidence = assess(experiments.load("copper-silver"))
    >>> grouped_budget(evidence)[0].words.split(" of ")[0]
    'repeatability'
    """
    lines = evidence.budget if name is None else evidence.budget_for(name)
    endings = [f", trial {trial.name}" for trial in evidence.experiment.trials]
    # a name may end like another one does: the longest ending is the right one
    endings.sort(key=len, reverse=True)
    groups: dict[tuple[str, str, bool], list[float]] = {}
    for line in lines:
        source = line.source
        ending = next((e for e in endings if source.label.endswith(e)), "")
        label = source.label.removesuffix(ending)
        entry = groups.setdefault((label, source.kind, bool(ending)), [0.0, 0.0, 0.0])
        entry[0] += 1.0
        entry[1] += line.uncertainty**2
        entry[2] += line.share
    merged = [
        BudgetLine(
            label,
            kind or "other",
            int(count) if own else 0,
            int(count),
            1000.0 * math.sqrt(variance),
            share,
        )
        for (label, kind, own), (count, variance, share) in groups.items()
    ]
    merged.sort(key=lambda line: -line.share)
    kept = [line for line in merged[: max(most, 1)] if line.share >= _SHOWN] or merged[:1]
    rest = merged[len(kept) :]
    if len(rest) < 2:  # one line more takes no more room than "others" would
        return tuple(merged)
    others = BudgetLine(
        "others",
        "",
        0,
        sum(line.sources for line in rest),
        math.sqrt(math.fsum(line.uncertainty_mmol**2 for line in rest)),
        math.fsum(line.share for line in rest),
    )
    return (*kept, others)
