"""Groups beside candidates.

The mole ratios of all groups of a class beside the candidates, each with its ratio set.

Layout of the groups of a class in points.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from ..classroom.evidence import Progress
from ..classroom.result import ClassResult
from ..classroom.sentences import class_verdict_sentences, groups_sentence
from .rays import Ray, fewer, label_of, rays_in_words
from .scene import (
    BACKGROUND,
    BAR,
    BODY,
    DASHES,
    EXCLUDED_TEXT,
    GRID,
    INK,
    MEAN,
    SMALL,
    TRIAL,
    EdgeLabel,
    Ellipse,
    Item,
    Line,
    Mark,
    Polygon,
    Scene,
    Words,
    across_axis,
    clean,
    edge_labels,
    joined,
    number,
    percent,
    shortened,
    shown_species,
    spread,
    text_width,
    wrapped,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = [
    "ClassGroupsPicture",
    "GroupRow",
    "class_groups_alt_text",
    "class_groups_data",
    "class_groups_scene",
    "class_rays",
    "draw_class_groups",
    "group_mark",
    "verdict_key",
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
    >>> from stoichkit.classroom import assess_class
    >>> found = class_groups_data(assess_class(experiments.class_file(), "copper-silver"))
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
    >>> from stoichkit.classroom import assess_class
    >>> found = class_groups_data(assess_class(experiments.class_file(), "copper-silver"))
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
    """Draw the groups on matplotlib axes, which they fill with all their words."""
    from .render import paint, size_of

    width, _ = size_of(ax)
    paint(ax, class_groups_scene(data, width))


_PITCH = 13.0
_STRIP = 420.0
"""Height of the strip of a large class, points."""
_MOST_LABELS = 12
_LONGEST = 22
_KEY = (
    ("singled_out", "singles out one candidate"),
    ("not_told_apart", "cannot tell"),
    ("none_fits", "fits none"),
)


class _Across(NamedTuple):
    """The axis of ratios in points."""

    left: float
    right: float
    low: float
    high: float

    def at(self, ratio: float) -> float:
        """Return the place of a ratio, kept between both ends."""
        ratio = min(max(ratio, self.low), self.high)
        return self.left + (self.right - self.left) * (ratio - self.low) / (self.high - self.low)

    def beyond(self, ratio: float) -> bool:
        """Say whether a ratio lies beyond the ends."""
        return not self.low <= ratio <= self.high


def group_mark(kind: str, x: float, y: float, size: float, *, outlying: bool = False) -> list[Item]:
    """Draw the mark of a group by the kind of its verdict; one that stands out gets a diamond.

    Kinds differ in shape: a full circle, an open circle, a cross.
    """
    items: list[Item] = []
    if outlying:
        s = size + 3.5
        corners = ((x, y - s), (x + s, y), (x, y + s), (x - s, y))
        items.append(Polygon(corners, BACKGROUND))
        items.append(Line((*corners, corners[0]), MEAN, 1.4))
    if kind == "singled_out":
        items.append(Mark(x, y, "circle", TRIAL, size))
    elif kind == "not_told_apart":
        s = 0.85 * size
        dot = ((x - s, y - s), (x + s, y - s), (x + s, y + s), (x - s, y + s))
        items.append(Polygon(dot, BACKGROUND) if not outlying else Line((), INK))
        items.append(Ellipse((x, y), (size, 0.0), (0.0, size), TRIAL, 1.3))
    else:
        s = size
        items.append(Line(((x - s, y - s), (x + s, y + s)), INK, 1.5))
        items.append(Line(((x - s, y + s), (x + s, y - s)), INK, 1.5))
    return [item for item in items if not isinstance(item, Line) or item.points]


def verdict_key(
    data_counts: dict[str, int], total: int, left: float, width: float, *, outlying: int
) -> tuple[list[Item], float]:
    """Return the key with the number of groups of each verdict, above y = 0, and its height."""
    entries = [(k, f"{words}: {data_counts[k]} of {total}", False) for k, words in _KEY]
    if outlying:
        entries.append(("", f"stands out: {outlying}", True))
    rows: list[list[tuple[str, str, bool]]] = [[]]
    used = 0.0
    for entry in entries:
        length = 26.0 + text_width(entry[1], SMALL)
        if rows[-1] and used + length > width - left - 4.0:
            rows.append([])
            used = 0.0
        rows[-1].append(entry)
        used += length
    height = len(rows) * (SMALL + 6.0) + 4.0
    items: list[Item] = []
    y = height - SMALL - 3.0
    for row in rows:
        x = left
        for kind, words, stands_out in row:
            if stands_out:
                s = 5.5
                at = (x + 6.0, y + 0.36 * SMALL)
                corners = tuple((at[0] + a * s, at[1] + b * s) for a, b in _DIAMOND)
                items.append(Line((*corners, corners[0]), MEAN, 1.4))
            else:
                items += group_mark(kind, x + 6.0, y + 0.36 * SMALL, 3.2)
            items.append(Words(x + 15.0, y, words, SMALL))
            x += 26.0 + text_width(words, SMALL)
        y -= SMALL + 6.0
    return items, height


_DIAMOND = ((0, -1), (1, 0), (0, 1), (-1, 0))


def class_groups_scene(data: ClassGroupsPicture, width: float) -> Scene:
    """Lay out the picture of the groups.

    Parameters
    ----------
    data : ClassGroupsPicture
    width : float
        Width in points, at least 300; the height follows from it.
    """
    count = len(data.rows)
    pitch = _PITCH if data.named else min(6.0, max(_STRIP / count, 0.2))
    names = [shortened(row.name, _LONGEST) for row in data.rows] if data.named else []
    left = 12.0 + max([text_width(n, SMALL) for n in (*names, "the class")], default=0.0)
    left = min(left, 0.34 * width)
    remarks = [_remark(row, data.named) for row in data.rows]
    room = max(text_width(text, SMALL) for text in (*remarks, ""))
    across = _Across(left + 8.0, width - 14.0 - (room + 6.0 if room else 0.0), *data.x)
    outlying = sum(row.outlying for row in data.rows)
    key, key_height = verdict_key(dict(data.counts), count, 12.0, width, outlying=outlying)
    notes = _notes(data)
    said = [line for one in notes for line in wrapped(one, width - 24.0, SMALL)]
    base = key_height + len(said) * (SMALL + 4.0) + 44.0
    pooled = base + 14.0
    bottom = pooled + 14.0 if math.isfinite(data.ratio) else base + 4.0
    top = bottom + count * pitch + 4.0
    labelled = fewer(data.rays, _MOST_LABELS, data.ratio if data.ratio >= 0 else 0.0)
    edge = [
        EdgeLabel(across.at(ray.ratio), ray.label, ray.compatible, ray.text_ink) for ray in labelled
    ]
    labels, taken, _ = edge_labels(edge, top, across.left, across.right, limit=width)
    items: list[Item] = [
        Line(((across.left, base), (across.right, base)), INK, 1.0),
        *across_axis(data.x, (across.left, across.right), base)[0],
    ]
    title = f"mole ratio n({data.produced}) / n({data.consumed})"
    items.append(Words((across.left + across.right) / 2, base - 28.0, title, BODY, "middle"))
    for ray in data.rays:
        x = across.at(ray.ratio)
        dashes = None if ray.compatible else DASHES
        thick = 1.8 if ray.compatible else 1.0
        items.append(Line(((x, base), (x, top)), ray.ink, thick, dashes))
    items += labels
    if math.isfinite(data.ratio):
        items += _pooled(data, across, pooled, bottom)
    places = [top - 4.0 - (i + 0.5) * pitch for i in range(count)]
    for row, y in zip(data.rows, places, strict=True):
        items += _row(row, y, across, data.named, pitch)
    items += _beside(data, places, remarks, across, names)
    y = base - 30.0 - SMALL - 5.0
    for line in said:
        items.append(Words(12.0, y, line, SMALL, "start", False, EXCLUDED_TEXT))
        y -= SMALL + 4.0
    items += key
    return Scene(width, top + taken + 8.0, tuple(items), (0.0, width), (0.0, top + taken + 8.0))


def _notes(data: ClassGroupsPicture) -> list[str]:
    said = []
    if any(row.intervals for row in data.rows):
        said.append(f"Bars: mole ratios not excluded at {percent(data.coverage)} coverage.")
    if not data.named:
        said.append(f"{len(data.rows)} groups in order of their ratio, the smallest at the top.")
    if any(math.isnan(row.ratio) for row in data.rows):
        said.append("Without a mark: nothing was consumed, so there is no ratio.")
    if any(row.ratio < data.x[0] or row.ratio > data.x[1] for row in data.rows):
        said.append("An arrow tip stands for a ratio beyond the axis.")
    return [" ".join(said)] if said else []


def _remark(row: GroupRow, named: bool) -> str:
    if named or not row.remark:
        return row.remark
    return f"{shortened(row.name, _LONGEST)} {row.remark}" if row.outlying else ""


def _beside(
    data: ClassGroupsPicture,
    places: list[float],
    remarks: list[str],
    across: _Across,
    names: list[str],
) -> list[Item]:
    """Write names to the left of the rows and remarks to the right, moved apart in a strip."""
    items: list[Item] = []
    for name, y in zip(names, places, strict=False):
        items.append(Words(across.left - 6.0, y - 0.36 * SMALL, name, SMALL, "end"))
    marked = [(y, text) for y, text in zip(places, remarks, strict=True) if text][::-1]
    wanted = [y for y, _ in marked]
    bottom, top = min(places), max(places)
    placed = spread(wanted, SMALL + 2.0, bottom, top) if not data.named else wanted
    x = across.right + 6.0
    for (y, text), at in zip(marked, placed, strict=True):
        if not data.named:
            items.append(Line(((across.right, y), (x - 1.0, at)), MEAN, 0.6))
        items.append(Words(x + 1.0, at - 0.36 * SMALL, text, SMALL))
    return items


def _row(row: GroupRow, y: float, across: _Across, named: bool, pitch: float) -> list[Item]:
    items: list[Item] = []
    if named:
        items.append(Line(((across.left, y), (across.right, y)), GRID, 0.5))
    thick = 2.6 if named else min(max(0.7 * pitch, 0.4), 2.0)
    for low, high in row.intervals:
        if low > across.high or high < across.low:
            continue
        items.append(Line(((across.at(low), y), (across.at(high), y)), BAR, thick))
        if named:
            items += [_end(across, end, y) for end in (low, high) if not across.beyond(end)]
            if high > across.high:
                items.append(_tip(across.right, y, 1.0))
    if math.isnan(row.ratio):
        return items
    size = 3.4 if named else (1.7 if row.kind == "singled_out" else 2.6)
    if across.beyond(row.ratio):
        right = row.ratio > across.high
        x = across.right if right else across.left
        items.append(_tip(x, y, 1.0 if right else -1.0)._replace(fill=INK))
        return items
    items += group_mark(row.kind, across.at(row.ratio), y, size, outlying=row.outlying)
    return items


def _end(across: _Across, ratio: float, y: float) -> Line:
    x = across.at(ratio)
    return Line(((x, y - 3.0), (x, y + 3.0)), TRIAL, 1.0)


def _tip(x: float, y: float, way: float) -> Polygon:
    return Polygon(((x, y - 3.5), (x + 6.0 * way, y), (x, y + 3.5)), TRIAL)


def _pooled(data: ClassGroupsPicture, across: _Across, y: float, bottom: float) -> list[Item]:
    """Draw the ratios that fit the class as a thick bar below the groups."""
    items: list[Item] = [Line(((across.left, bottom - 1.0), (across.right, bottom - 1.0)), GRID)]
    for low, high in data.pooled:
        if low > across.high or high < across.low:
            continue
        a, b = across.at(low), across.at(high)
        if b - a < 1.5:
            a, b = (a + b) / 2 - 0.75, (a + b) / 2 + 0.75
        items.append(Polygon(((a, y - 4.5), (b, y - 4.5), (b, y + 4.5), (a, y + 4.5)), TRIAL))
        if high > across.high:
            items.append(_tip(across.right, y, 1.0))
    if not across.beyond(data.ratio):
        items.append(Mark(across.at(data.ratio), y, "diamond", MEAN, 4.0))
    words = Words(across.left - 6.0, y - 0.36 * SMALL, "the class", SMALL, "end", True)
    return [*items, words]
