"""The uncertainty budget as bars: what makes the discrepancy uncertain."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from ..decision.evidence import Evidence
from ..decision.sentences import BudgetLine, grouped_budget
from .look import BODY, INK, REST, SMALL, TRIAL
from .rays import label_of
from .scene import Item, Line, Polygon, Scene, Words
from .shapes import box, remarks
from .writing import clean, listed, number, text_width, wrapped


@dataclass(frozen=True, slots=True)
class BudgetPicture:
    """What the picture of the budget shows, as plain numbers and words.

    Attributes
    ----------
    candidate, label : str
        Name of the nearest candidate, and how the picture writes it.
    lines : tuple of BudgetLine
        Largest first.
    uncertainty_mmol : float
        Standard uncertainty of the discrepancy that the lines add up to.
    scatter : float
        Scatter between the trials over what the instruments explain, where it exceeds it
        beyond chance; 0 otherwise.
    """

    candidate: str
    label: str
    lines: tuple[BudgetLine, ...]
    uncertainty_mmol: float
    scatter: float

    @classmethod
    def of(cls, evidence: Evidence) -> BudgetPicture:
        """Return the picture of the budget of a lab.

        Examples
        --------
        >>> from stoichkit import assess, experiments
        >>> picture = BudgetPicture.of(assess(experiments.load("copper-silver")))
        >>> picture.candidate, round(sum(line.share for line in picture.lines), 6)
        ('copper(II)', 1.0)
        """
        lines = tuple(replace(o, label=clean(o.label)) for o in grouped_budget(evidence))
        scatter = evidence.scatter
        name = clean(evidence.nearest.name)
        return cls(
            candidate=name,
            label=label_of(name),
            lines=lines,
            uncertainty_mmol=math.sqrt(math.fsum(line.uncertainty_mmol**2 for line in lines)),
            scatter=scatter.ratio_of_spread if scatter is not None and scatter.excess else 0.0,
        )

    @property
    def note(self) -> str:
        """What the bars leave out; "" for nothing."""
        if not self.scatter:
            return ""
        return (
            f"Instruments only: the trials scatter {number(self.scatter, 2)} times as much as "
            "these sources explain, and the verdict takes the scatter into account."
        )

    @property
    def title(self) -> str:
        """What the bars are about."""
        return f"What makes the discrepancy from {self.label} uncertain, in percent of its variance"

    @property
    def alt_text(self) -> str:
        """The picture described for readers who do not see it.

        >>> line = BudgetLine("rounding of paper", "rounding", 5, 5, 0.1, 1.0)
        >>> print(BudgetPicture("SnO2", "SnO₂", (line,), 0.1, 0.0).alt_text)
        Bars: what makes the discrepancy from SnO2 uncertain, in percent of its variance
        (standard uncertainty 0.1 mmol): rounding of paper (5 trials) 100 %.
        """
        if not self.lines:
            return f"No source of uncertainty is known for the discrepancy from {self.candidate}."
        bars = listed((f"{line.words} {_share(line)}" for line in self.lines), most=20)
        text = (
            f"Bars: what makes the discrepancy from {self.candidate} uncertain, in percent of its "
            f"variance (standard uncertainty {number(self.uncertainty_mmol, 2)} mmol): {bars}."
        )
        return f"{text} {self.note}".rstrip()

    def scene(self, width: float = 480.0, height: float | None = None) -> Scene:
        """Lay out the bars; their height follows from them."""
        del height  # it follows from what is shown
        heads = wrapped(self.title, width - 24.0, BODY)
        notes = wrapped(self.note or ("" if self.lines else self.alt_text), width - 24.0, SMALL)
        column = max((text_width(line.words, SMALL) for line in self.lines), default=0.0)
        column = min(column, 0.56 * width)
        texts = [wrapped(line.words, column + 0.5, SMALL) for line in self.lines]
        pitch = SMALL + 2.0
        high = (
            len(heads) * (BODY + 3.0)
            + 8.0
            + sum(max(len(t), 1) * pitch + 5.0 for t in texts)
            + len(notes) * (SMALL + 4.0)
            + 6.0
        )
        items: list[Item] = []
        y = high
        for head in heads:
            y -= BODY + 3.0
            items.append(Words(12.0, y, head))
        y -= 8.0
        left = 12.0 + column + 8.0
        room = width - left - text_width("below 1 %", SMALL) - 16.0
        largest = max((line.share for line in self.lines), default=1.0)
        top = y
        for line, words in zip(self.lines, texts, strict=True):
            block = max(len(words), 1) * pitch
            middle = y - block / 2
            for i, text in enumerate(words):
                items.append(Words(left - 6.0, y - (i + 1) * pitch + 2.5, text, SMALL, "end"))
            end = left + max(room * line.share / largest, 0.6)
            fill = TRIAL if line.kind else REST
            items.append(Polygon(box(left, end, middle - 4.5, middle + 4.5), fill))
            items.append(Words(end + 5.0, middle - 0.36 * SMALL, _share(line), SMALL))
            y -= block + 5.0
        if self.lines:
            items.append(Line(((left, top), (left, y + 2.0)), INK, 0.8))
        items += remarks(notes, 12.0, y - SMALL - 3.0, SMALL + 3.0)
        return Scene(width, high, tuple(items), (0.0, width), (0.0, high))


def _share(line: BudgetLine) -> str:
    """Write a part of the variance in percent."""
    return "below 1 %" if line.share < 0.005 else f"{100 * line.share:.0f} %"
