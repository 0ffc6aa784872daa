"""What a group is asked to work out from its own readings: items, each a column of answers."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from ..decision.answers import AnswerLine, answer_lines
from ..errors import ModelError
from ..experiments.parts import Trial
from ..experiments.record import Experiment
from ..uncertainty import entry
from .data import ClassData

RATIO, MEAN, CONCLUSION, PERCENT = "ratio", "mean ratio", "conclusion", "percent yield"
"""Keys of the items that every experiment has."""
CONCLUSION_WORDS = "single out X / cannot tell X from Y / fit none"


@dataclass(frozen=True, slots=True)
class Item:
    """One thing that is asked.

    Attributes
    ----------
    key : str
        Short name, unique in a class: the symbol of a step such as ``"m(Cu)"``, or ``"ratio"``,
        ``"mean ratio"``, ``"conclusion"``, ``"percent yield"``.
    words : str
        What is asked, such as ``"mass of Cu"``.
    unit : str
        Unit of the answer; "" for a plain number or words.
    by_trial : bool
        Whether it is asked of each trial; else once of the group.
    """

    key: str
    words: str
    unit: str
    by_trial: bool

    @property
    def header(self) -> str:
        """Header of its column.

        >>> Item("m(Cu)", "mass of Cu", "g", True).header
        'm(Cu): mass of Cu / g'
        """
        unit = f" / {self.unit}" if self.unit else ""
        return f"{self.key}: {self.words}{unit}" if self.words != self.key else self.key + unit


def items_of(source: ClassData | Experiment) -> tuple[Item, ...]:
    """Return what is asked in an experiment, in the order in which it is worked out.

    Parameters
    ----------
    source : ClassData or Experiment
        With readings of at least one trial.

    Raises
    ------
    ModelError
        If no trial has readings that can be worked on.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> [item.key for item in items_of(experiments.load("copper-silver"))]
    ['m(Cu)', 'n(Cu)', 'm(Ag)', 'n(Ag)', 'ratio', 'mean ratio', 'conclusion', 'percent yield']
    """
    entry.record("source", source, ClassData, Experiment)
    records = [source] if isinstance(source, Experiment) else list(source.groups.values())
    steps: dict[str, Item] = {}
    several = False
    for record in records:
        lines = answer_lines(record)
        several = several or len(record.trials) > 1
        for trial in record.trials:
            for key, line in steps_of(record, trial, lines):
                if key != RATIO:
                    steps.setdefault(key, Item(key, line.words, line.unit, True))
    if not steps:
        raise ModelError(
            "No trial has readings that can be worked on.",
            fix="Give a class, or an experiment with readings of one trial.",
        )
    lab = source if isinstance(source, Experiment) else source.experiment
    ratio = f"n({lab.produced.species}) / n({lab.consumed.species})"
    found = [*steps.values(), Item(RATIO, f"mole ratio {ratio}", "", True)]
    if several:
        found.append(Item(MEAN, f"of the mean amounts, {ratio}", "", False))
    found.append(Item(CONCLUSION, CONCLUSION_WORDS, "", False))
    return (*found, Item(PERCENT, PERCENT, "%", False))


def steps_of(
    experiment: Experiment, trial: Trial, lines: Iterable[AnswerLine]
) -> Iterator[tuple[str, AnswerLine]]:
    """Yield the steps of a trial that are worked out, not read or looked up, with their keys."""
    read = {*experiment.shared_readings, *trial.readings}
    taken: set[str] = set()
    for line in lines:
        if line.trial != trial.name or not line.symbol:
            continue
        key = RATIO if line.symbol == "r" else line.symbol
        if key in taken:
            key = f"{key} made"
        taken.add(key)
        if line.formula and line.formula not in read:
            yield key, line
