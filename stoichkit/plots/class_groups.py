"""The mole ratios of all groups of a class beside the candidates, each with its ratio set."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ..classroom.evidence import Progress
from ..classroom.result import ClassResult
from ..classroom.sentences import groups_sentence
from ..classroom.statement import groups_text, statement_of_class
from ..decision.verdict import VerdictKind
from ..text.wording import shown_range
from ..uncertainty import entry
from .look import BAR, BODY, GREY, GRID, INK, MEAN, PALE, SMALL, TRIAL, WHITE
from .plane import Across, marks_below, spread, tag_labels
from .rays import Ray, fewer, label_of, rays_in_words
from .scene import Ellipse, Item, Line, Mark, Point, Polygon, Scene, Words
from .shapes import box, closed, cross, framed, key, remarks, tip, widened
from .writing import clean, listed, number, percent, shortened, shown_species, text_width, wrapped

MOST_NAMED = 40
"""Classes up to so many groups show a named row for each; larger ones an ordered strip."""
MOST_SETS = 400
"""Classes up to so many groups show the ratio set of each."""
_PITCH = 13.0
_STRIP = 420.0
"""Height of the strip of a large class, points."""
_MOST_LABELS = 12
_LONGEST = 22
_KEY = (
    ("singled_out", "singles out one candidate"),
    ("not_told_apart", "cannot tell"),
    ("none_fits", "fits none"),
    ("cannot_be_judged", "cannot be judged"),
)


@dataclass(frozen=True, slots=True)
class GroupRow:
    """One group.

    Attributes
    ----------
    name : str
    kind : str
        Its own verdict: ``"singled_out"``, ``"not_told_apart"``, ``"none_fits"`` or
        ``"cannot_be_judged"``.
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
    counted : str
        The verdicts of the groups in words.
    x : (float, float)
        Ratios at the ends of the axis.
    judged : bool
        Whether the class as a whole can be judged; if not, its bar is grey.
    whole : str
        The verdict of the class in a few words; "" without one.
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
    counted: str
    x: tuple[float, float]
    judged: bool = True
    whole: str = ""

    @classmethod
    def of(cls, result: ClassResult, *, progress: Progress | None = None) -> ClassGroupsPicture:
        """Return the picture of the groups of a class.

        Parameters
        ----------
        result : ClassResult
        progress : callable, optional
            Called with the number of ratio sets done and of all; return True to leave the rest
            out.

        Examples
        --------
        >>> from stoichkit import experiments
        >>> from stoichkit.classroom import assess_class
        >>> result = assess_class(experiments.class_file(), "copper-silver")
        >>> found = ClassGroupsPicture.of(result)
        >>> [(row.name, row.kind, row.remark) for row in found.rows][6:8]
        [('plum', 'not_told_apart', 'stands out, slip?'), ('slate', 'none_fits', '')]
        """
        if progress is not None:
            entry.function("progress", progress, "progress(done, total)")
        evidence, verdict = entry.record("result", result, ClassResult).evidence, result.verdict
        names = evidence.names
        ratios = evidence.ratio.tolist()
        sets: list[tuple[tuple[float, float], ...]] = [()] * len(names)
        for i, name in enumerate(names if len(names) <= MOST_SETS else ()):
            intervals = result.groups[name].ratio_set.intervals
            sets[i] = tuple((piece.low, piece.high) for piece in intervals)
            if progress is not None and progress(i + 1, len(names)) is True:
                break
        out = verdict.outlying if verdict is not None else {}
        slips = result.slips
        rows = [
            GroupRow(clean(name, limit=80), kind, ratio, found, name in out, name in slips)
            for name, kind, ratio, found in zip(names, evidence.kinds, ratios, sets, strict=True)
        ]
        named = len(rows) <= MOST_NAMED
        if not named:
            rows.sort(key=lambda row: (math.isnan(row.ratio), row.ratio))
        rays = class_rays(result)
        pieces = verdict.ratio_set.intervals if verdict is not None else ()
        pooled = tuple((piece.low, piece.high) for piece in pieces)
        return cls(
            consumed=shown_species(result.experiment.consumed.species),
            produced=shown_species(result.experiment.produced.species),
            coverage=evidence.coverage,
            rows=tuple(rows),
            named=named,
            rays=rays,
            ratio=verdict.ratio if verdict is not None else math.nan,
            pooled=pooled,
            counts=evidence.counts,
            counted=groups_sentence(result),
            x=_limits(rows, rays, pooled),
            judged=verdict is None or verdict.verdict.kind is not VerdictKind.CANNOT_BE_JUDGED,
            whole=whole_class(result),
        )

    @property
    def title(self) -> str:
        """The verdicts of the groups in words."""
        return self.counted

    @property
    def alt_text(self) -> str:
        """The picture described for readers who do not see it.

        >>> from stoichkit import experiments
        >>> from stoichkit.classroom import assess_class
        >>> result = assess_class(experiments.class_file(), "copper-silver")
        >>> print(ClassGroupsPicture.of(result).alt_text.partition(" Each")[0])
        Mole ratios n(Ag) / n(Cu) of 9 groups, one row each in the order of the file, with the
        ratios that each does not exclude at 95 % coverage, beside the candidates as upright lines.
        """
        order = "one row each in the order of the file"
        order = order if self.named else "in rising order, no names"
        if any(row.intervals for row in self.rows):
            order += f", with the ratios that each does not exclude at {percent(self.coverage)}"
            order += " coverage"
        count = groups_text(len(self.rows))
        parts = [
            f"Mole ratios n({self.produced}) / n({self.consumed}) of {count}, {order}, beside "
            "the candidates as upright lines.",
            self.counted,
        ]
        marks = [ray.ratio for ray in self.rays]
        known = [row.ratio for row in self.rows if math.isfinite(row.ratio)]
        if len(known) == 1:
            parts.append(f"Its ratio is {number(known[0])}.")
        elif known:
            parts.append(f"Ratios {_stretch(min(known), max(known), marks)}.")
        out = [row.name for row in self.rows if row.outlying]
        if out:
            parts.append(f"Standing out, as diamonds: {listed(out)}.")
        slips = [row.name for row in self.rows if row.slip]
        if slips:
            parts.append(f"With a reading that cannot be right: {listed(slips)}.")
        if self.whole:
            parts.append(f"{self.whole}.")
        if self.pooled:
            stretches = listed(_stretch(low, high, marks) for low, high in self.pooled)
            parts.append(f"The class as a whole, a thick bar below: {stretches}.")
        if not self.judged:
            parts.append("The class as a whole cannot be judged, so its bar is grey.")
        parts.append(rays_in_words(self.rays))
        return " ".join(parts)

    def scene(self, width: float = 480.0, height: float | None = None) -> Scene:
        """Lay out the groups, 300 points wide or more; the height follows from their number."""
        del height  # it follows from what is shown
        count = len(self.rows)
        pitch = _PITCH if self.named else min(6.0, max(_STRIP / count, 0.2))
        names = [shortened(row.name, _LONGEST) for row in self.rows] if self.named else []
        left = 12.0 + max(text_width(name, SMALL) for name in (*names, "the class"))
        left = min(left, 0.34 * width)
        said = [self._remark(row) for row in self.rows]
        room = max(text_width(text, SMALL) for text in (*said, ""))
        across = Across(left + 8.0, width - 14.0 - (room + 6.0 if room else 0.0), *self.x)
        foot, foot_height = self._key(width)
        notes = wrapped(self._notes(), width - 24.0, SMALL)
        base = foot_height + len(notes) * (SMALL + 4.0) + 44.0
        pooled = base + 14.0
        known = math.isfinite(self.ratio)
        bottom = pooled + 14.0 if known else base + 4.0
        top = bottom + count * pitch + 4.0
        shown = fewer(self.rays, _MOST_LABELS, self.ratio if self.ratio >= 0 else 0.0)
        labels, taken, _ = tag_labels(
            [ray.tag for ray in shown], across.at, top, across.left, across.right, limit=width
        )
        high = top + taken + 8.0
        axis = f"mole ratio n({self.produced}) / n({self.consumed})"
        upright = [(ray, across.at(ray.ratio)) for ray in self.rays]
        places = [top - 4.0 - (i + 0.5) * pitch for i in range(count)]
        items = [
            Line(((across.left, base), (across.right, base)), INK, 1.0),
            *marks_below(across.ticks(), base),
            Words((across.left + across.right) / 2, base - 28.0, axis, BODY, "middle"),
            *(ray.line(((x, base), (x, top))) for ray, x in upright),
            *labels,
            *(self._pooled(across, pooled, bottom) if known else ()),
        ]
        for row, y in zip(self.rows, places, strict=True):
            items += _row(row, y, across, self.named, pitch)
        for name, y in zip(names, places, strict=False):
            items.append(Words(across.left - 6.0, y - 0.36 * SMALL, name, SMALL, "end"))
        items += self._beside(places, said, across.right)
        items += [*remarks(notes, 12.0, base - 30.0 - SMALL - 5.0), *foot]
        return Scene(width, high, tuple(items), (0.0, width), (0.0, high))

    def _notes(self) -> str:
        """Return what the bars and marks mean."""
        said = []
        if any(row.intervals for row in self.rows):
            said.append(f"Bars: mole ratios not excluded at {percent(self.coverage)} coverage.")
        if not self.named:
            order = "groups in order of their ratio, the smallest at the top."
            said.append(f"{len(self.rows)} {order}")
        if not self.judged:
            said.append("The class as a whole cannot be judged: its bar and the lines are grey.")
        elif not all(ray.judged for ray in self.rays):
            said.append("There is no verdict of the class as a whole: the lines are grey.")
        if any(math.isnan(row.ratio) for row in self.rows):
            said.append("Without a mark: nothing was consumed, so there is no ratio.")
        if any(row.ratio < self.x[0] or row.ratio > self.x[1] for row in self.rows):
            said.append("An arrow tip stands for a ratio beyond the axis.")
        return " ".join(said)

    def _key(self, width: float) -> tuple[list[Item], float]:
        """Return the key with the number of groups of each verdict, and its height."""
        always = len(_KEY) - 1  # what cannot be judged only where there is any
        entries = [
            (kind, f"{said}: {self.counts[kind]} of {len(self.rows)}")
            for i, (kind, said) in enumerate(_KEY)
            if i < always or self.counts[kind]
        ]
        outlying = sum(row.outlying for row in self.rows)
        if outlying:
            entries.append(("", f"stands out: {outlying}"))

        def sample(kind: str, x: float, y: float) -> list[Item]:
            at = x + 6.0, y + 0.36 * SMALL
            return group_mark(kind, *at, 3.2) if kind else [closed(_diamond(*at, 5.5), MEAN, 1.4)]

        return key(
            entries, sample, width - 16.0, indent=15.0, around=(26.0, 0.0), margins=(3.0, 1.0)
        )

    def _remark(self, row: GroupRow) -> str:
        """Return what is written beside a row; in a strip only of groups that stand out."""
        if self.named or not row.remark:
            return row.remark
        return f"{shortened(row.name, _LONGEST)} {row.remark}" if row.outlying else ""

    def _beside(self, places: Sequence[float], said: Sequence[str], right: float) -> list[Item]:
        """Write remarks to the right of the rows, moved apart in a strip."""
        marked = [(y, text) for y, text in zip(places, said, strict=True) if text][::-1]
        wanted = [y for y, _ in marked]
        placed = wanted if self.named else spread(wanted, SMALL + 2.0, min(places), max(places))
        items: list[Item] = []
        x = right + 6.0
        for (y, text), at in zip(marked, placed, strict=True):
            if not self.named:
                items.append(Line(((right, y), (x - 1.0, at)), MEAN, 0.6))
            items.append(Words(x + 1.0, at - 0.36 * SMALL, text, SMALL))
        return items

    def _pooled(self, across: Across, y: float, bottom: float) -> list[Item]:
        """Draw the ratios that fit the class as a thick bar below the groups."""
        level = bottom - 1.0
        items: list[Item] = [Line(((across.left, level), (across.right, level)), GRID)]
        for low, high in self.pooled:
            if low > across.high or high < across.low:
                continue
            a, b = widened(across.at(low), across.at(high), 1.5)
            fill = TRIAL if self.judged else PALE
            items.append(Polygon(box(a, b, y - 4.5, y + 4.5), fill))
            if high > across.high:
                items.append(tip(across.right, y, 3.5, 6.0, fill))
        if not across.beyond(self.ratio):
            items.append(Mark(across.at(self.ratio), y, "diamond", MEAN, 4.0))
        name = Words(across.left - 6.0, y - 0.36 * SMALL, "the class", SMALL, "end", True)
        return [*items, name]


def _stretch(low: float, high: float, marks: Sequence[float]) -> str:
    """Write a stretch of ratios with digits that tell its ends apart, and from the candidates."""
    first, last = (end.replace("-", "−") for end in shown_range(low, high, marks))
    return f"from {first if low else '0'} {f'to {last}' if last else 'up'}"


def whole_class(result: ClassResult) -> str:
    """Return the verdict of a class in a few words, beginning with what it is of; "" without one.

    >>> from stoichkit import experiments
    >>> from stoichkit.classroom import assess_class
    >>> whole_class(assess_class(experiments.class_file(), "copper-silver"))
    'Verdict of the class. Singled out: copper(II)'
    """
    if result.verdict is None:
        return ""
    return f"Verdict of the class. {clean(statement_of_class(result.verdict).title)}"


def class_rays(result: ClassResult) -> tuple[Ray, ...]:
    """Return the candidates, compatible with the class or not, in rising order of their ratios.

    Without a verdict of the class, or where it cannot be judged, none of them is judged.
    """
    rays = []
    verdict = result.verdict
    said = {} if verdict is None else statement_of_class(verdict).standings
    for candidate in result.experiment.candidates:
        name, found = clean(candidate.name), said.get(candidate.name)
        judged = found is not None and found.status != "not judged"
        fits = found is None or not found.excluded
        p = found.p_value if found is not None and judged else math.nan
        rays.append(Ray(name, label_of(name), float(candidate.ratio), fits, p, judged))
    return tuple(sorted(rays, key=lambda ray: ray.ratio))


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


def group_mark(kind: str, x: float, y: float, size: float, *, outlying: bool = False) -> list[Item]:
    """Draw the mark of a group by the kind of its verdict; one that stands out gets a diamond.

    Kinds differ in shape: a full circle, an open circle, a cross, an open triangle.
    """
    items: list[Item] = []
    if outlying:
        items = framed(_diamond(x, y, size + 3.5), WHITE, MEAN, 1.4)
    if kind == "singled_out":
        return [*items, Mark(x, y, "circle", TRIAL, size)]
    if kind == "cannot_be_judged":
        return [*items, closed(_triangle(x, y, size), GREY, 1.3)]
    if kind == "none_fits":
        return [*items, *cross(x, y, size, 1.5)]
    if not outlying:
        s = 0.85 * size
        items.append(Polygon(box(x - s, x + s, y - s, y + s), WHITE))
    return [*items, Ellipse((x, y), (size, 0.0), (0.0, size), TRIAL, 1.3)]


def _triangle(x: float, y: float, size: float) -> tuple[Point, ...]:
    """Return the corners of a triangle that stands upright."""
    return (x - size, y - 0.7 * size), (x + size, y - 0.7 * size), (x, y + size)


def _diamond(x: float, y: float, size: float) -> tuple[Point, ...]:
    """Return the corners of a diamond."""
    return (x, y - size), (x + size, y), (x, y + size), (x - size, y)


def _row(row: GroupRow, y: float, across: Across, named: bool, pitch: float) -> list[Item]:
    """Draw one group: the ratios that it does not exclude, and its mark."""
    items: list[Item] = []
    if named:
        items.append(Line(((across.left, y), (across.right, y)), GRID, 0.5))
    thick = 2.6 if named else min(max(0.7 * pitch, 0.4), 2.0)
    bar, ends_in = (GRID, PALE) if row.kind == "cannot_be_judged" else (BAR, TRIAL)
    for low, high in row.intervals:
        if low > across.high or high < across.low:
            continue
        items.append(Line(((across.at(low), y), (across.at(high), y)), bar, thick))
        if named:
            ends = [across.at(end) for end in (low, high) if not across.beyond(end)]
            items += [Line(((x, y - 3.0), (x, y + 3.0)), ends_in, 1.0) for x in ends]
            if high > across.high:
                items.append(tip(across.right, y, 3.5, 6.0, ends_in))
    if math.isnan(row.ratio):
        return items
    if row.ratio > across.high:
        return [*items, tip(across.right, y, 3.5, 6.0, INK)]
    if row.ratio < across.low:
        return [*items, tip(across.left, y, 3.5, -6.0, INK)]
    size = 3.4 if named else (1.7 if row.kind == "singled_out" else 2.6)
    return [
        *items,
        *group_mark(row.kind, across.at(row.ratio), y, size, outlying=row.outlying),
    ]
