"""The ratio set on a line: which mole ratios the readings do not exclude, and the candidates."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ..decision.evidence import Evidence
from ..decision.verdict import VerdictKind
from ..uncertainty import entry
from ..uncertainty.ratio_set import Interval, RatioSet
from ..uncertainty.sources import nominal
from .look import BAR, BODY, GREY, GRID, INK, MEAN, SMALL, TRIAL
from .plane import Across, marks_below, tag_labels
from .rays import Ray, fewer, rays_in_words, rays_of, recovery_in_words
from .scene import Item, Line, Mark, Polygon, Scene, Words
from .shapes import box, tip, widened
from .writing import number, percent, shown_species, text_width, wrapped

_MOST_LABELS = 20
_BAR = 5.0


@dataclass(frozen=True, slots=True)
class RatioPicture:
    """What the picture of the ratio set shows, as plain numbers and words.

    Attributes
    ----------
    consumed, produced : str
        The two substances.
    coverage : float
    kind : str
        That of the ratio set: ``"bounded"``, ``"no upper limit"``, ``"no lower limit"``,
        ``"every ratio"`` or ``"empty"``.
    intervals : tuple of Interval
        Stretches of mole ratios n_produced / n_consumed that are not excluded.
    estimate : float
        Ratio of the mean amounts; nan where the amount consumed is not above zero.
    rays : tuple of Ray
        The candidates in rising order.
    end : float
        Largest ratio on the line.
    words : str
        The set in words.
    judged : bool
        Whether the readings can be judged; if not, everything is grey.
    """

    consumed: str
    produced: str
    coverage: float
    kind: str
    intervals: tuple[Interval, ...]
    estimate: float
    rays: tuple[Ray, ...]
    end: float
    words: str
    judged: bool

    @classmethod
    def of(cls, evidence: Evidence) -> RatioPicture:
        """Return the picture of the ratio set of a lab.

        Examples
        --------
        >>> from stoichkit import assess, experiments
        >>> RatioPicture.of(assess(experiments.load("copper-silver"))).words
        '1.92 to 2.24'
        """
        found, rays = entry.record("evidence", evidence, Evidence).ratio_set, rays_of(evidence)
        estimate = evidence.ratio if nominal(evidence.n_consumed) > 0 else math.nan
        last = max(ray.ratio for ray in rays)
        if found.intervals:
            last = max(last, 1.25 * found.low)
        wanted = [last]
        wanted += [min(r, 3 * last) for r in (estimate, found.high) if math.isfinite(r)]
        return cls(
            consumed=shown_species(evidence.experiment.consumed.species),
            produced=shown_species(evidence.experiment.produced.species),
            coverage=evidence.coverage,
            kind=found.kind,
            intervals=found.intervals,
            estimate=estimate,
            rays=rays,
            end=1.12 * max(wanted),
            words=_in_words(found, rays),
            judged=evidence.verdict.kind is not VerdictKind.CANNOT_BE_JUDGED,
        )

    @property
    def estimate_in_words(self) -> str:
        """The estimate, or why there is none that could be marked."""
        if not math.isfinite(self.estimate):
            return "no estimate: the amount consumed is not above zero"
        if self.estimate < 0:
            return f"the estimate, {number(self.estimate)}, is below zero"
        return f"estimate {number(self.estimate, 4)}"

    @property
    def title(self) -> str:
        """The coverage and the set in words."""
        if not self.judged:
            level = percent(self.coverage)
            return f"Not judged. Mole ratios that {level} coverage would leave: {self.words}"
        return f"Mole ratios not excluded at {percent(self.coverage)} coverage: {self.words}"

    @property
    def summary(self) -> str:
        """The description without the candidates, for use after a text that has them."""
        bar = ", drawn as a bar" if self.intervals else ""
        if any(interval.high > self.end for interval in self.intervals):
            bar += " that ends in an arrow"
        return (
            f"Line of mole ratios n({self.produced}) / n({self.consumed}) from 0 to "
            f"{number(self.end)}. {'' if self.judged else 'These readings cannot be judged. '}"
            f"Not excluded at {percent(self.coverage)} coverage: {self.words}"
            f"{bar}; {self.estimate_in_words}. Candidates as ticks."
        )

    @property
    def alt_text(self) -> str:
        """The picture described for readers who do not see it.

        >>> from stoichkit import assess, experiments
        >>> print(RatioPicture.of(assess(experiments.load("copper-silver"))).alt_text)
        Line of mole ratios n(Ag) / n(Cu) from 0 to 2.69. Not excluded at 95 % coverage: 1.92 to
        2.24, drawn as a bar; estimate 2.068. Candidates as ticks. Compatible (solid):
        copper(II) 2. Excluded (dashed): copper(I) 1.
        """
        more = recovery_in_words(self.rays, "a line below its name")
        return f"{self.summary} {rays_in_words(self.rays)}{f' {more}' if more else ''}"

    def scene(self, width: float = 480.0, height: float | None = None) -> Scene:
        """Lay out the line of ratios; its height follows from it."""
        del height  # it follows from what is shown
        beyond = ""
        for interval in self.intervals:  # only the last one may reach so far
            if interval.high > self.end:
                far = math.isinf(interval.high)
                beyond = "no upper limit" if far else f"up to {number(interval.high)}"
        left = 12.0
        right = width - (12.0 + (text_width(beyond, SMALL, bold=True) + 4.0 if beyond else 0.0))
        scale = (right - left) / self.end
        axis, bar = 33.0, 74.0
        shoulder = bar + 12.0
        shown = fewer(self.rays, _MOST_LABELS, self.estimate if self.estimate >= 0 else 0.0)
        tags = [ray.tag for ray in shown]
        names, taken, _ = tag_labels(
            tags, lambda ratio: left + scale * ratio, shoulder, left, width - 4.0, limit=width
        )
        lines = wrapped(self.title, width - 2 * left, BODY)
        high = shoulder + taken + 8.0 + len(lines) * (BODY + 3.0)
        items: list[Item] = [
            Words(left, high - (i + 1) * (BODY + 3.0), line) for i, line in enumerate(lines)
        ]
        items += self._bars(left, scale, right, bar)
        if beyond:
            items.append(
                Words(right + 10.0, bar - 0.36 * SMALL, beyond, SMALL, bold=True, ink=TRIAL)
            )
        for ray in self.rays:
            x = left + scale * ray.ratio
            items.append(ray.line(((x, bar - 12.0), (x, shoulder))))
            if ray.allowed is not None:
                ends = [min(left + scale * one, right) for one in ray.allowed]
                items.append(Line([(one, shoulder) for one in ends], INK, 1.0))
        items += [*names, *self._estimate(left, scale, right, bar)]
        items.append(Line(((left, axis), (right, axis)), INK, 1.0))
        items += marks_below(Across(left, right, 0.0, self.end).ticks(), axis)
        label = f"mole ratio n({self.produced}) / n({self.consumed})"
        items.append(Words((left + right) / 2, 7.0, label, BODY, "middle"))
        limits = (-left / scale, (width - left) / scale)
        return Scene(width, high, tuple(items), limits, (0.0, high))

    def _bars(self, left: float, scale: float, right: float, bar: float) -> list[Item]:
        """Draw the stretches that are not excluded."""
        items: list[Item] = [Line(((left, bar), (right, bar)), GRID, 0.8)]
        ink = TRIAL if self.judged else GREY
        for interval in self.intervals:
            x, end = left + scale * interval.low, min(left + scale * interval.high, right)
            x, end = widened(x, end, 1.5)
            low, high = bar - _BAR, bar + _BAR
            items.append(Polygon(box(x, end, low, high), BAR if self.judged else GRID))
            sides = [x] if interval.low > 0 else []
            if interval.high <= self.end:
                sides.append(end)
            else:
                items.append(tip(end, bar, 8.0, 8.0, ink))
            items += [Line(((x, y), (end, y)), ink, 0.9) for y in (low, high)]
            items += [Line(((s, bar - 8.0), (s, bar + 8.0)), ink, 1.6) for s in sides]
        return items

    def _estimate(self, left: float, scale: float, right: float, bar: float) -> list[Item]:
        """Mark the estimate and write it below its mark, or say why there is no mark."""
        words = self.estimate_in_words
        half = text_width(words, SMALL) / 2
        if not 0 <= self.estimate < math.inf:
            return [Words(left, bar - 29.0, words, SMALL, ink=GREY)]
        x = left + scale * self.estimate
        inside = x <= right
        if not inside:
            words, x, half = f"{words} →", right, half + 8.0
        at = min(max(x, left + half), right - half)
        items: list[Item] = [Words(at, bar - 29.0, words, SMALL, "middle")]
        if inside:  # below the bar, which may be narrower than the mark
            ink = MEAN if self.judged else GREY
            items.append(Line(((x, bar), (x, bar - 16.0)), ink, 1.2))
            items.append(Mark(x, bar - 16.0, "diamond", ink, 4.5))
        return items


def _in_words(found: RatioSet, rays: tuple[Ray, ...]) -> str:
    """Write the set with as many digits as show the same candidates inside."""
    if found.kind == "empty":
        return "none (this can only be when a mean amount is below zero)"
    if found.kind == "every ratio" and len(found.intervals) == 1:
        return "every ratio: these readings put no limit on it"
    texts = [_interval(interval, rays) for interval in found.intervals]
    return " and ".join(texts)


def _interval(interval: Interval, rays: tuple[Ray, ...]) -> str:
    bounded = [v for v in (interval.low, interval.high) if 0 < v < math.inf]
    if not bounded:
        return "0 or more"
    width = interval.high - interval.low if math.isfinite(interval.high) else interval.low
    start = max(1 - math.floor(math.log10(width)), 0) if width > 0 else 3
    decimals = start
    for decimals in range(start, start + 10):
        low, high = round(interval.low, decimals), round(interval.high, decimals)
        if all((low <= ray.at <= high) is (ray.at in interval) for ray in rays):
            break
    if math.isinf(interval.high):
        return (
            f"{interval.low:.{decimals}f} or more: these readings put no upper limit on the ratio"
        )
    if interval.low <= 0:
        return f"{interval.high:.{decimals}f} or less: these readings put no lower limit on it"
    return f"{interval.low:.{decimals}f} to {interval.high:.{decimals}f}"
