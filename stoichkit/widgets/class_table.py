"""The groups of a class as a table: put in order, filtered, a part of it shown."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from ..class_result import ClassResult
from ..plots.class_groups import MOST_SETS
from ..ratio_set import RatioSet
from ..wording import joined, p_text, shown_range

__all__ = ["GroupLine", "GroupTable", "ratio_sets"]


@dataclass(frozen=True, slots=True)
class GroupLine:
    """One group as a row of the table, as text.

    Attributes
    ----------
    name, trials, verdict, ratio, ratio_set, p, percent_yield, remarks : str
        ``ratio_set`` says which ratios the group does not exclude, once that is known; ``p`` is
        that of the candidate that fits best; ``percent_yield`` has one for each that fits.
    """

    name: str
    trials: str
    verdict: str
    ratio: str
    ratio_set: str
    p: str
    percent_yield: str
    remarks: str


class GroupTable:
    """The groups of a class, to be put in order.

    Parameters
    ----------
    result : ClassResult

    Attributes
    ----------
    ratio_sets : mapping of str to str
        Ratios that each group does not exclude, in words, as far as they are known.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> from stoichkit.class_result import assess_class_file
    >>> table = GroupTable(assess_class_file(experiments.class_file(), "copper-silver"))
    >>> table.names("mole ratio, smallest first", "")[:2], table.names("as in the file", "AL")
    (('plum', 'coral'), ('coral', 'teal'))
    >>> line = table.line("plum")
    >>> line.verdict, line.ratio, line.remarks
    ('cannot tell copper(I) and copper(II)', '1.50', 'stands out, slip?')
    >>> table.first_to_look_at
    'plum'
    """

    ORDERS: ClassVar[tuple[str, ...]] = (
        "as in the file",
        "p of the best candidate, smallest first",
        "mole ratio, smallest first",
        "mole ratio, largest first",
    )
    STEP: ClassVar[int] = 200
    """So many groups are shown at first, and more each time more are asked for."""

    def __init__(self, result: ClassResult) -> None:
        self.result = result
        self.ratio_sets: Mapping[str, str] = {}
        self._index = {name: i for i, name in enumerate(result.evidence.names)}

    def __contains__(self, name: str) -> bool:
        return name in self._index or name in self.result.evidence.not_assessed

    @property
    def first_to_look_at(self) -> str:
        """A group that stands out, has a slip or fits no candidate, or else the first one."""
        evidence = self.result.evidence
        verdict = self.result.verdict
        for name in (*(verdict.outlying if verdict is not None else ()), *self.result.slips):
            return str(name)
        for name, kind in zip(evidence.names, evidence.kinds, strict=True):
            if kind == "none_fits":
                return name
        return next(iter(evidence.names), "")

    def names(self, order: str, part: str) -> tuple[str, ...]:
        """Return the names of the groups in an order, those that were not assessed last.

        Parameters
        ----------
        order : str
            One of ``ORDERS``.
        part : str
            Text that a name must hold, in capitals or not; "" for all.
        """
        evidence = self.result.evidence
        keys = {
            self.ORDERS[1]: evidence.p_value.max(axis=1) if len(evidence) else np.zeros(0),
            self.ORDERS[2]: evidence.ratio,
            self.ORDERS[3]: -evidence.ratio,
        }
        listed = list(evidence.names)
        if order in keys:
            listed = [evidence.names[i] for i in np.argsort(keys[order], kind="stable").tolist()]
        listed += evidence.not_assessed
        wanted = part.strip().casefold()
        return tuple(name for name in listed if wanted in name.casefold())

    def line(self, name: str) -> GroupLine:
        """Return the row of one group.

        Raises
        ------
        KeyError
            If there is no such group.
        """
        evidence = self.result.evidence
        if name not in self._index:
            reason = evidence.not_assessed[name]
            return GroupLine(name, "", "not assessed", "", "", "", "", reason)
        i = self._index[name]
        fitting = evidence.fitting[i]
        ratio = float(evidence.ratio[i])
        yields = {
            candidate: f"{percent:.1f} %"
            for candidate, percent, fits in zip(
                evidence.candidates,
                evidence.percent_yield[i].tolist(),
                evidence.compatible[i].tolist(),
                strict=True,
            )
            if fits and math.isfinite(percent)
        }
        shown = [text if len(yields) == 1 else f"{text} ({one})" for one, text in yields.items()]
        return GroupLine(
            name=name,
            trials=str(int(evidence.trials[i])),
            verdict=_verdict(fitting),
            ratio="" if math.isnan(ratio) else f"{ratio:#.3g}".rstrip("."),
            ratio_set=self.ratio_sets.get(name, ""),
            p=p_text(float(evidence.p_value[i].max()), evidence.coverage),
            percent_yield=", ".join(shown),
            remarks=", ".join(self._remarks(name)),
        )

    def _remarks(self, name: str) -> list[str]:
        verdict = self.result.verdict
        words = ["stands out"] if verdict is not None and name in verdict.outlying else []
        return [*words, "slip?"] if name in self.result.slips else words


def _verdict(fitting: tuple[str, ...]) -> str:
    if not fitting:
        return "none fits"
    if len(fitting) == 1:
        return f"{fitting[0]} singled out"
    if len(fitting) > 4:
        return f"cannot tell {len(fitting)} candidates apart"
    return f"cannot tell {joined(list(fitting))}"


def ratio_sets(result: ClassResult) -> Mapping[str, str]:
    """Return the ratios that each group does not exclude, in words.

    They are worked out for classes up to the size whose picture shows them.

    >>> from stoichkit import experiments
    >>> from stoichkit.class_result import assess_class_file
    >>> found = ratio_sets(assess_class_file(experiments.class_file(), "copper-silver"))
    >>> found["plum"], found["teal"]
    ('every ratio', '1.86 to 2.21')
    """
    names = result.evidence.names
    if len(names) > MOST_SETS:
        return {}
    marks = [float(c.ratio) for c in result.experiment.candidates]
    return {name: _stretches(result.groups[name].ratio_set, marks) for name in names}


def _stretches(found: RatioSet, marks: Sequence[float]) -> str:
    said = []
    for piece in found.intervals:
        a, b = shown_range(piece.low, piece.high, marks)
        said.append(f"{a} to {b}" if b else "every ratio" if piece.low <= 0 else f"{a} or more")
    return "; ".join(said) or "none"
