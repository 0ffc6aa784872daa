"""The mole ratios of all groups of a class beside the candidates, each with its ratio set."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..class_result import ClassResult
from ..class_sentences import class_verdict_sentences, groups_sentence
from ..classevidence import Progress
from .rays import Ray, label_of, rays_in_words
from .style import clean, joined, number, percent, shown_species

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = [
    "ClassGroupsPicture",
    "GroupRow",
    "class_groups_alt_text",
    "class_groups_data",
    "class_rays",
    "draw_class_groups",
]

MOST_NAMED = 40
"""Classes up to so many groups show a named row for each; larger ones an ordered strip."""
MOST_SETS = 400
"""Classes up to so many groups show the ratio set of each."""


@dataclass(frozen=True, slots=True)
class GroupRow:
    """One group.

    Attributes
    ----------
    name : str
    kind : str
        Its own verdict: ``"singled_out"``, ``"not_told_apart"`` or ``"none_fits"``.
    ratio : float
        Of its mean amounts; nan where nothing was consumed.
    intervals : tuple of (float, float)
        Stretches of ratios that its readings do not exclude; () if not worked out.
    outlying : bool
        Whether it stands out from the others.
    slip : bool
        Whether a reading of it cannot be right as typed.
    """

    name: str
    kind: str
    ratio: float
    intervals: tuple[tuple[float, float], ...]
    outlying: bool
    slip: bool

    @property
    def remark(self) -> str:
        """What is written beside its row; "" for nothing."""
        words = ["stands out"] if self.outlying else []
        words += ["slip?"] if self.slip else []
        return ", ".join(words)


@dataclass(frozen=True, slots=True)
class ClassGroupsPicture:
    """What the picture of the groups shows.

    Attributes
    ----------
    consumed, produced : str
        The two substances.
    coverage : float
    rows : tuple of GroupRow
        In the order of the file, or of the ratio if ``named`` is False.
    named : bool
        Whether each row carries its name.
    rays : tuple of Ray
        The candidates in rising order, compatible with the class or not.
    ratio : float
        Of the class; nan without a verdict.
    pooled : tuple of (float, float)
        Stretches of ratios that the class does not exclude.
    counts : mapping of str to int
        Groups of each kind of verdict.
    headline, counted : str
        The verdict of the class and of its groups in words.
    x : (float, float)
        Ratios at the ends of the axis.
    """

    consumed: str
    produced: str
    coverage: float
    rows: tuple[GroupRow, ...]
    named: bool
    rays: tuple[Ray, ...]
    ratio: float
    pooled: tuple[tuple[float, float], ...]
    counts: Mapping[str, int]
    headline: str
    counted: str
    x: tuple[float, float]


def class_rays(result: ClassResult) -> tuple[Ray, ...]:
    """Return the candidates, compatible with the class or not, in rising order of their ratios.

    Without a verdict of the class all count as compatible.
    """
    rays = []
    tested = result.verdict.candidates if result.verdict is not None else {}
    for candidate in result.experiment.candidates:
        name = clean(candidate.name)
        found = tested.get(candidate.name)
        fits, p = (True, math.nan) if found is None else (found.compatible, found.p_value)
        rays.append(Ray(name, label_of(name), float(candidate.ratio), fits, p))
    return tuple(sorted(rays, key=lambda ray: ray.ratio))


def class_groups_data(
    result: ClassResult, *, progress: Progress | None = None
) -> ClassGroupsPicture:
    """Return what the picture of the groups shows.

    Parameters
    ----------
    result : ClassResult
    progress : callable, optional
        Called with the number of ratio sets done and of all; return True to leave the rest out.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> from stoichkit.class_result import assess_class_file
    >>> found = class_groups_data(assess_class_file(experiments.class_file(), "copper-silver"))
    >>> [(row.name, row.kind, row.remark) for row in found.rows][6:8]
    [('plum', 'not_told_apart', 'stands out, slip?'), ('slate', 'none_fits', '')]
    """
    evidence, verdict = result.evidence, result.verdict
    names = evidence.names
    low, high = result.experiment.recovery
    ratios = (evidence.ratio * (1 / low + 1 / high) / 2).tolist()
    sets: list[tuple[tuple[float, float], ...]] = [()] * len(names)
    for i, name in enumerate(names if len(names) <= MOST_SETS else ()):
        found = result.groups[name].ratio_set
        sets[i] = tuple((piece.low, piece.high) for piece in found.intervals)
        if progress is not None and progress(i + 1, len(names)) is True:
            break
    outlying = verdict.outlying if verdict is not None else {}
    rows = [
        GroupRow(clean(name, limit=80), kind, ratio, pieces, name in outlying, name in result.slips)
        for name, kind, ratio, pieces in zip(names, evidence.kinds, ratios, sets, strict=True)
    ]
    named = len(rows) <= MOST_NAMED
    if not named:
        rows.sort(key=lambda row: (math.isnan(row.ratio), row.ratio))
    rays = class_rays(result)
    pooled: tuple[tuple[float, float], ...] = ()
    if verdict is not None:
        pooled = tuple((piece.low, piece.high) for piece in verdict.ratio_set.intervals)
    ratio = verdict.ratio if verdict is not None else math.nan
    return ClassGroupsPicture(
        consumed=shown_species(result.experiment.consumed.species),
        produced=shown_species(result.experiment.produced.species),
        coverage=evidence.coverage,
        rows=tuple(rows),
        named=named,
        rays=rays,
        ratio=ratio,
        pooled=pooled,
        counts=evidence.counts,
        headline=clean(class_verdict_sentences(result)),
        counted=groups_sentence(result),
        x=_limits(rows, rays, pooled),
    )


def _limits(
    rows: list[GroupRow], rays: tuple[Ray, ...], pooled: tuple[tuple[float, float], ...]
) -> tuple[float, float]:
    """Return the ends of the axis: all candidates, and what is not far beyond them."""
    marks = [ray.ratio for ray in rays]
    last = 1.5 * max(marks)
    pieces = [piece for row in rows for piece in row.intervals]
    wanted = [*marks, *(end for piece in pooled for end in piece)]
    wanted += [row.ratio for row in rows]
    wanted += [end for piece in pieces for end in piece]
    inside = [v for v in wanted if 0 <= v <= last]
    inside += [last] if any(v > last for v in wanted) else []
    low, high = min(inside), max(inside)
    pad = 0.06 * (high - low) or 0.1 * high
    return max(low - pad, 0.0), high + pad


def class_groups_alt_text(data: ClassGroupsPicture) -> str:
    """Describe the picture of the groups for readers who do not see it.

    >>> from stoichkit import experiments
    >>> from stoichkit.class_result import assess_class_file
    >>> found = class_groups_data(assess_class_file(experiments.class_file(), "copper-silver"))
    >>> print(class_groups_alt_text(found).partition(" Each")[0])
    Mole ratios n(Ag) / n(Cu) of 9 groups, one row each in the order of the file, with the ratios
    that each does not exclude at 95 % coverage, beside the candidates as upright lines.
    """
    order = "one row each in the order of the file" if data.named else "in rising order, no names"
    sets = (
        f", with the ratios that each does not exclude at {percent(data.coverage)} coverage"
        if any(row.intervals for row in data.rows)
        else ""
    )
    known = [row.ratio for row in data.rows if math.isfinite(row.ratio)]
    parts = [
        f"Mole ratios n({data.produced}) / n({data.consumed}) of {len(data.rows)} groups, {order}"
        f"{sets}, beside the candidates as upright lines.",
        data.counted,
    ]
    if known:
        parts.append(f"Ratios from {number(min(known))} to {number(max(known))}.")
    out = [row.name for row in data.rows if row.outlying]
    if out:
        parts.append(f"Standing out, as diamonds: {joined(out)}.")
    slips = [row.name for row in data.rows if row.slip]
    if slips:
        parts.append(f"With a reading that cannot be right: {joined(slips)}.")
    if data.pooled:
        stretches = joined(f"{number(low)} to {number(high)}" for low, high in data.pooled)
        parts.append(f"The class as a whole, a thick bar below: {stretches}.")
    parts.append(rays_in_words(data.rays))
    return " ".join(parts)


def draw_class_groups(ax: Axes, data: ClassGroupsPicture) -> None:
    """Draw the groups on matplotlib axes, which they fill with all their words.

    Parameters
    ----------
    ax : matplotlib Axes
        At least 300 points wide, and as high as ``class_groups_scene(data, width).height`` to be
        used to the full.
    data : ClassGroupsPicture
    """
    from .canvas import paint, size_of
    from .class_groups_scene import class_groups_scene

    width, _ = size_of(ax)
    paint(ax, class_groups_scene(data, width))
