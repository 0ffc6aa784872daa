"""The amounts plane: candidates as rays through the origin, trials as points with regions."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import partial
from statistics import NormalDist

from ..decision.evidence import Evidence
from ..decision.verdict import CaveatKind, VerdictKind
from ..uncertainty import entry
from ..uncertainty.sources import Number, contributions, nominal
from .look import GREY, INK, MEAN, PALE, SMALL, TRIAL
from .plane import Plane
from .rays import (
    Ray,
    candidate_line,
    fewer,
    headline,
    ray_lines,
    rays_in_words,
    rays_of,
    recovery_bands,
    recovery_in_words,
)
from .scene import Ellipse, Item, Line, Mark, Point, Polygon, Scene, Words
from .shapes import box, key
from .writing import clean, listed, number, percent, shown_species, with_uncertainty, wrapped

_Covariance = tuple[float, float, float]
_MOST_LABELS = 20
_MOST_REGIONS = 60


@dataclass(frozen=True, slots=True)
class Spot:
    """A point of the amounts plane with its region, an ellipse; everything in mmol.

    Attributes
    ----------
    name : str
    consumed_mmol, produced_mmol : float
        The estimate.
    consumed_u_mmol, produced_u_mmol : float
        First-order standard uncertainties.
    u, v : (float, float)
        The region is estimate + u cos t + v sin t.
    """

    name: str
    consumed_mmol: float
    produced_mmol: float
    consumed_u_mmol: float
    produced_u_mmol: float
    u: tuple[float, float]
    v: tuple[float, float]

    @property
    def place(self) -> tuple[float, float]:
        """The two amounts, mmol."""
        return self.consumed_mmol, self.produced_mmol

    @property
    def reach(self) -> tuple[float, float]:
        """Half-width and half-height of the region, mmol."""
        return math.hypot(self.u[0], self.v[0]), math.hypot(self.u[1], self.v[1])

    def crossed_by(self, ratio: float) -> bool:
        """Return whether the line of slope ``ratio`` through the origin crosses the region."""
        half_width = math.hypot(self.u[1] - ratio * self.u[0], self.v[1] - ratio * self.v[0])
        return abs(self.produced_mmol - ratio * self.consumed_mmol) <= half_width

    def __str__(self) -> str:
        across = with_uncertainty(self.consumed_mmol, self.consumed_u_mmol)
        up = with_uncertainty(self.produced_mmol, self.produced_u_mmol)
        return f"{across} mmol across and {up} mmol up"


@dataclass(frozen=True, slots=True)
class DecisionPicture:
    """What the picture of the amounts plane shows, as plain numbers and words.

    Attributes
    ----------
    title : str
        Title of the experiment.
    headline, spoken : str
        The verdict in a few words, names as written in the picture and as given.
    kind : VerdictKind
    coverage : float
    consumed, produced : str
        The two substances as written on the axes.
    rays : tuple of Ray
        In rising order of slope.
    trials : tuple of Spot
    mean : Spot or None
        Mean of the trials; None for a single one.
    factor : float
        Size of the region of the mean (of the trial, if there is one): it is the ellipse at
        that many standard uncertainties of the first-order covariance of the two amounts. The
        factor is that of the exact test at the limits of the ratio set, so that a ray which
        crosses the region is compatible, and one that misses it is excluded.
    trial_factor : float
        The same for the trials: equal to ``factor``, but the normal quantile where the mean's
        region is taken from the scatter between the trials.
    exact : bool
        Whether crossing the region and being compatible agree for every candidate.
    nearest : str
        Name of the candidate with the largest p-value.
    resolved : bool
        Whether the amount consumed is told apart from zero.
    cells : tuple of tuple of (float, float)
        Corners of the cell of each trial, mmol; empty where regions are drawn.
    """

    title: str
    headline: str
    spoken: str
    kind: VerdictKind
    coverage: float
    consumed: str
    produced: str
    rays: tuple[Ray, ...]
    trials: tuple[Spot, ...]
    mean: Spot | None
    factor: float
    trial_factor: float
    exact: bool
    nearest: str
    resolved: bool
    cells: tuple[tuple[Point, ...], ...] = ()

    @classmethod
    def of(cls, evidence: Evidence, *, cells: bool = False) -> DecisionPicture:
        """Return the picture of the amounts plane of a lab.

        Parameters
        ----------
        evidence : Evidence
            What :func:`stoichkit.assess` returned.
        cells : bool
            Whether each trial is drawn as the cell of amounts that its displays cannot tell
            apart, in place of its region.

        Examples
        --------
        >>> from stoichkit import assess, experiments
        >>> picture = DecisionPicture.of(assess(experiments.load("copper-silver")))
        >>> [(ray.name, ray.compatible) for ray in picture.rays]
        [('copper(I)', False), ('copper(II)', True)]
        """
        entry.record("evidence", evidence, Evidence)
        experiment, verdict = evidence.experiment, evidence.verdict
        rays = rays_of(evidence)
        scatter = evidence.scatter
        excess = scatter is not None and scatter.excess
        inflation = scatter.ratio_of_spread**2 if scatter is not None and excess else 1.0
        mean_a, mean_b = nominal(evidence.n_consumed), nominal(evidence.n_produced)
        mean_covariance = _mean_covariance(evidence.amounts, inflation)
        factor = _factor(evidence, rays, (mean_a, mean_b), mean_covariance)
        quantile = NormalDist().inv_cdf(0.5 + evidence.coverage / 2)
        trial_factor = quantile if excess else factor
        mean = _spot("mean", mean_a, mean_b, mean_covariance, factor)
        single = len(evidence.amounts) == 1
        trials = tuple(
            _spot(clean(t.name), nominal(a), nominal(b), _mean_covariance([(a, b)]), trial_factor)
            for t, (a, b) in zip(experiment.trials, evidence.amounts, strict=True)
        )
        return cls(
            title=clean(experiment.title, limit=90),
            headline=headline(evidence),
            spoken=headline(evidence, written=str),
            kind=verdict.kind,
            coverage=evidence.coverage,
            consumed=shown_species(experiment.consumed.species),
            produced=shown_species(experiment.produced.species),
            rays=rays,
            trials=trials,
            mean=None if single else mean,
            factor=factor,
            trial_factor=trial_factor,
            nearest=clean(evidence.nearest.name),
            resolved=all(w.kind is not CaveatKind.NOT_RESOLVED for w in verdict.warnings),
            exact=all(mean.crossed_by(ray.at) is ray.compatible for ray in rays),
            cells=tuple(digit_cell(a, b) for a, b in evidence.amounts)
            if entry.flag("cells", cells)
            else (),
        )

    @property
    def spots(self) -> tuple[Spot, ...]:
        """All points, the mean last."""
        return self.trials if self.mean is None else (*self.trials, self.mean)

    @property
    def ratio(self) -> float:
        """Ratio of the (mean) amounts; nan where the amount consumed is zero."""
        spot = self.spots[-1]
        return spot.produced_mmol / spot.consumed_mmol if spot.consumed_mmol else math.nan

    @property
    def judged(self) -> bool:
        """Whether the readings can be judged; if not, everything is grey."""
        return self.kind is not VerdictKind.CANNOT_BE_JUDGED

    @property
    def noun(self) -> str:
        """What the region belongs to that decides: the mean, or the only trial."""
        return "trial" if self.mean is None else "mean"

    @property
    def alt_text(self) -> str:
        """The picture described for readers who do not see it.

        >>> from stoichkit import assess, experiments
        >>> picture = DecisionPicture.of(assess(experiments.load("copper-silver")))
        >>> print(picture.alt_text[:61])
        Amounts plane. Singled out: copper(II), at 95 % coverage. Acr
        """
        a, b, centre = self.consumed, self.produced, self.spots[-1]
        parts = [
            f"Amounts plane. {self.spoken}, at {percent(self.coverage)} coverage.",
            f"Across: amount of {a} consumed in mmol; up: amount of {b} produced in mmol.",
            f"Each candidate is a ray through the origin with the slope n({b}) / n({a}).",
            rays_in_words(self.rays),
            _trials_in_words(self.trials),
        ]
        if self.mean is not None:
            parts.append(f"Mean of the trials: {self.mean}.")
        if words := recovery_in_words(self.rays):
            parts.append(words)
        crossed = [ray.name for ray in self.rays if centre.crossed_by(ray.at)]
        what = "band" if self.rays[0].allowed else "ray"
        those = f"the {what}{'s' if len(crossed) > 1 else ''} of {listed(crossed)}"
        parts.append(
            f"The region of the {self.noun}, the ellipse at {number(self.factor)} standard "
            f"uncertainties, is crossed by {those if crossed else f'no {what}'}."
        )
        nearest = next(ray for ray in self.rays if ray.name == self.nearest)
        off = centre.produced_mmol - nearest.ratio * centre.consumed_mmol
        where = f"{number(abs(off))} mmol {'above' if off > 0 else 'below'}" if off else "on"
        parts.append(f"The {self.noun} lies {where} the ray of {nearest.name}.")
        if any(v < r for s in self.spots for v, r in zip(s.place, s.reach, strict=True)):
            parts.append("A region reaches below zero; that part is shaded.")
        if not self.resolved:
            parts.append(f"The amount of {a} consumed is not told apart from zero.")
        return " ".join(parts)

    def scene(self, width: float = 480.0, height: float | None = None) -> Scene:
        """Lay out the amounts plane: 300 by 240 points or more, 330 high if nothing is said."""
        height = 330.0 if height is None else height
        x, y = _limits(self.spots, 0), _limits(self.spots, 1)
        ratio = self.ratio if math.isfinite(self.ratio) else 0.0
        tags = [ray.tag for ray in fewer(self.rays, _MOST_LABELS, ratio)]

        def foot(left: float) -> tuple[list[Item], float]:
            return self._key(left, width - left, x, y)

        plane = Plane.fitted(tags, x, y, (width, height), foot, spare=12.0)
        return plane.scene(
            _below_zero(plane),
            recovery_bands(self.rays, plane),
            plane.axes(self.consumed, self.produced),
            ray_lines(self.rays, plane),
            plane.labels,
            self._spots(plane),
            plane.foot,
        )

    def _spots(self, plane: Plane) -> list[Item]:
        """Draw the regions, then the marks."""
        dx, dy = plane.scale
        items: list[Item] = []

        def region(spot: Spot, ink: str, width: float, opacity: float) -> None:
            u, v = (spot.u[0] * dx, spot.u[1] * dy), (spot.v[0] * dx, spot.v[1] * dy)
            at = plane.at(*spot.place)
            items.append(Ellipse(at, u, v, ink if self.judged else GREY, width, opacity))

        many = len(self.trials) > 12
        for cell in filter(None, self.cells[:_MOST_REGIONS]):
            ink = TRIAL if self.judged else GREY
            items.append(Polygon([plane.at(*corner) for corner in cell], ink, ink, 0.16))
        if len(self.trials) <= _MOST_REGIONS and not self.cells:
            for spot in self.trials:
                region(spot, TRIAL, 0.5 if many else 0.9, 0.0 if many else 0.10)
        if self.mean is not None:
            region(self.mean, MEAN, 1.8, 0.0)
            ink = MEAN if self.judged else GREY
            items.append(Mark(*plane.at(*self.mean.place), "diamond", ink, 5.0))
        size, ink = 2.0 if many else 3.0, TRIAL if self.judged else GREY
        marks = [Mark(*plane.at(*spot.place), "circle", ink, size) for spot in self.trials]
        return [*items, *marks]

    def _key(
        self, left: float, room: float, x: tuple[float, float], y: tuple[float, float]
    ) -> tuple[list[Item], float]:
        """Return the key with its lines of explanation, and the height of both."""
        if not self.judged:
            rule = "These readings cannot be judged, so no ray counts as compatible or excluded"
        elif self.exact:
            ray = "band" if self.rays[0].allowed else "ray"
            rule = f"A {ray} that crosses the region of the {self.noun} is compatible"
        else:
            rule = f"The region of the {self.noun} shows roughly which rays are compatible"
        size = f"{number(self.factor)} standard uncertainties"
        if self.trial_factor != self.factor and self.mean is not None:
            size = f"mean: {size}, from the scatter; trials: {number(self.trial_factor)}"
        text = f"{rule} (first-order ellipse; {size})."
        if words := recovery_in_words(self.rays):
            text += f" {words}"
        across, up = self.spots[-1].reach
        if 400.0 * across < 5.0 * (x[1] - x[0]) and 250.0 * up < 5.0 * (y[1] - y[0]):
            text += f" The region of the {self.noun} is smaller than its mark."
        if len(self.trials) > _MOST_REGIONS:
            text += " Regions of the trials are left out."
        if len(self.rays) > _MOST_LABELS:
            text += f" {len(self.rays) - _MOST_LABELS} rays are not labelled."
        if self.cells:
            text += (
                " The cell of a trial holds the amounts that show the same digits, and differ in "
                "nothing else."
            )
        trials = len(self.trials)
        entries = [("circle", "trial" if trials == 1 else f"trial (of {trials})")]
        if not self.judged:
            entries.insert(0, ("grey", "candidate, not judged"))
        elif not all(ray.compatible for ray in self.rays):
            entries.insert(0, ("dashed", f"excluded at {percent(self.coverage)} coverage"))
        if self.judged and any(ray.compatible for ray in self.rays):
            entries.insert(0, ("solid", "compatible"))
        if self.mean is not None:
            entries.append(("diamond", "mean"))
        return key(
            entries,
            partial(_sample, judged=self.judged, cells=bool(self.cells)),
            room,
            left=left,
            indent=27.0,
            around=(27.0, 12.0),
            pitch=SMALL + 4.0,
            margins=(2.0, 2.0),
            notes=wrapped(text, room - 4.0, SMALL),
        )


def digit_cell(consumed: Number, produced: Number) -> tuple[Point, ...]:
    """Return the corners of the true amounts that displays cannot tell apart, mmol.

    Every reading may be off by half a display step either way, so that the cell is the sum of one
    segment for each; () where nothing is read from a display.

    Parameters
    ----------
    consumed, produced : uncertain number
        Amounts of one trial, mol.

    Returns
    -------
    tuple of (float, float)
        Corners in order, anticlockwise.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> (a, b), *_ = experiments.load("copper-silver").amounts()
    >>> [(round(x, 2), round(y, 2)) for x, y in digit_cell(a, b)]
    [(1.73, 3.62), (2.05, 3.62), (2.05, 3.8), (1.73, 3.8)]
    """
    steps: dict[int, list[float]] = {}
    for axis, amount in enumerate((consumed, produced)):
        for source, coefficient in contributions(amount):
            if source.kind == "rounding":
                pair = steps.setdefault(id(source), [0.0, 0.0])
                pair[axis] += 1000.0 * coefficient * source.scale
    segments = [(x, y) if (y, x) > (0.0, 0.0) else (-x, -y) for x, y in steps.values() if x or y]
    segments.sort(key=lambda s: math.atan2(s[1], s[0]))
    if not segments:
        return ()
    x = 1000.0 * nominal(consumed) - sum(s[0] for s in segments)
    y = 1000.0 * nominal(produced) - sum(s[1] for s in segments)
    corners = [(x, y)]
    for sign in (2.0, -2.0):
        for dx, dy in segments:
            x, y = x + sign * dx, y + sign * dy
            corners.append((x, y))
    return _corners(corners[:-1])


def _corners(points: Sequence[Point]) -> tuple[Point, ...]:
    """Leave out the points at which an outline goes straight on."""
    found = []
    for i, (x, y) in enumerate(points):
        (ax, ay), (bx, by) = points[i - 1], points[(i + 1) % len(points)]
        if abs((x - ax) * (by - y) - (y - ay) * (bx - x)) > 1e-12 * (abs(x) + abs(y)) ** 2:
            found.append((x, y))
    return tuple(found)


def _mean_covariance(
    amounts: Iterable[tuple[Number, Number]], inflation: float = 1.0
) -> _Covariance:
    """Return var(n_A), cov(n_A, n_B), var(n_B) of the mean over pairs, mol².

    The variance of sources that belong to one pair only is multiplied by ``inflation``.
    """
    pairs = list(amounts)
    sums: dict[int, list[float]] = {}
    for pair in pairs:
        here: set[int] = set()
        for side, amount in enumerate(pair):
            for source, coefficient in contributions(amount):
                entry = sums.setdefault(id(source), [0.0, 0.0, source.standard_uncertainty, 0.0])
                entry[side] += coefficient
                if id(source) not in here:
                    here.add(id(source))
                    entry[3] += 1.0
    aa = ab = bb = 0.0
    for a, b, standard, uses in sums.values():
        weight = standard * standard / len(pairs) ** 2 * (1.0 if uses > 1 else inflation)
        aa += a * a * weight
        ab += a * b * weight
        bb += b * b * weight
    return aa, ab, bb


def _standard(covariance: _Covariance, ratio: float) -> float:
    """Return the standard uncertainty of n_B − ratio n_A."""
    aa, ab, bb = covariance
    return math.sqrt(max(bb - 2 * ratio * ab + ratio * ratio * aa, 0.0))


def _factor(
    evidence: Evidence,
    rays: tuple[Ray, ...],
    mean: tuple[float, float],
    covariance: _Covariance,
) -> float:
    """Return how many standard uncertainties a ratio at the limit of the ratio set is away."""

    def distance(ratio: float) -> float:
        return abs(mean[1] - ratio * mean[0]) / (_standard(covariance, ratio) or math.nan)

    ends = (r for i in evidence.ratio_set.intervals for r in (i.low, i.high))
    limits = [d for r in ends if 0 < r < math.inf and math.isfinite(d := distance(r)) and d > 0]
    factor = NormalDist().inv_cdf(0.5 + evidence.coverage / 2)
    if limits:
        factor = math.fsum(limits) / len(limits)
    inside = max((distance(ray.at) for ray in rays if ray.compatible), default=0.0)
    outside = min((distance(ray.at) for ray in rays if not ray.compatible), default=math.inf)
    if inside < outside:  # the candidates decide where the two limits differ a little
        factor = min(max(factor, inside * (1 + 1e-6)), outside * (1 - 1e-6))
    return factor


def _spot(name: str, a: float, b: float, covariance: _Covariance, factor: float) -> Spot:
    aa, ab, bb = covariance
    sa, sb = math.sqrt(aa), math.sqrt(bb)
    along = ab / sa if sa else 0.0
    across = math.sqrt(max(bb - along * along, 0.0))
    size = 1000.0 * factor
    return Spot(
        name,
        1000.0 * a,
        1000.0 * b,
        1000.0 * sa,
        1000.0 * sb,
        (size * sa, size * along),
        (0.0, size * across),
    )


def _trials_in_words(trials: tuple[Spot, ...]) -> str:
    """Say where the trials lie; of many only between which amounts."""
    if len(trials) <= 6:
        return " ".join(f"Trial {spot.name}: {spot}." for spot in trials)
    across = [spot.consumed_mmol for spot in trials]
    up = [spot.produced_mmol for spot in trials]
    return (
        f"{len(trials)} trials, from {number(min(across))} to {number(max(across))} mmol across "
        f"and from {number(min(up))} to {number(max(up))} mmol up."
    )


def _limits(spots: Sequence[Spot], axis: int) -> tuple[float, float]:
    """Return the least and largest amount on an axis: from zero, lower only if a region is."""
    low = min(min(spot.place[axis] - spot.reach[axis] for spot in spots), 0.0)
    high = max(spot.place[axis] + spot.reach[axis] for spot in spots)
    high = max(high, -0.3 * low)  # room for the rays, wherever the points are
    if high == low:
        return 0.0, 1.0
    return (low - 0.04 * (high - low) if low < 0 else 0.0), high + 0.1 * (high - low)


def _below_zero(plane: Plane) -> list[Item]:
    """Shade and name what lies below zero, and draw the zero lines there."""
    items: list[Item] = []
    left, right, low, top = plane.left, plane.right, plane.bottom, plane.top
    zero_x, zero_y = plane.at(0.0, 0.0)
    look = Words(left + SMALL + 1, top - 4, "below zero", SMALL, "end", False, GREY, 90.0)
    items += plane.shade(0)
    if plane.x[0] < 0 and zero_x - left > SMALL + 3:
        items.append(look)
    items += plane.shade(1)
    if plane.y[0] < 0 and zero_y - low > SMALL + 3:
        items.append(look._replace(x=right - 4, y=low + 3, angle=0.0))
    return [*items, plane.zero_line(0, INK), plane.zero_line(1, INK)] if items else []


def _sample(
    kind: str, x: float, y: float, *, judged: bool = True, cells: bool = False
) -> list[Item]:
    """Draw one kind of line or mark for the key."""
    middle = y + 0.36 * SMALL
    if kind in ("solid", "dashed", "grey"):
        ends = ((x, middle), (x + 22.0, middle))
        if kind == "grey":
            return [Line(ends, PALE, 1.0)]
        return [candidate_line(ends, compatible=kind == "solid")]
    ink, size, thick = (TRIAL, 3.0, 0.9) if kind == "circle" else (MEAN, 5.0, 1.8)
    ink = ink if judged else GREY
    if cells and kind == "circle":
        corners = box(x + 2.0, x + 22.0, middle - 4.5, middle + 4.5)
        return [Polygon(corners, ink, ink, 0.16), Mark(x + 12.0, middle, kind, ink, size * 0.8)]
    return [
        Ellipse((x + 12.0, middle), (10.0, 0.0), (0.0, 4.5), ink, thick),
        Mark(x + 12.0, middle, kind, ink, size * 0.8),
    ]
