"""The way from readings to candidates: cells of possible amounts, the fan of their ratios, rays."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ..decision.evidence import Evidence
from ..errors import ModelError
from ..experiments.parts import Trial
from ..experiments.record import Experiment
from ..planning.design import with_readability
from ..planning.plan import Plan
from ..planning.telling import plan_of, step_of
from ..uncertainty import entry
from .decision import digit_cell
from .look import BAR, INK, SMALL, TRIAL
from .plane import Plane
from .rays import Ray, fewer, label_of, ray_lines
from .scene import Item, Line, Mark, Point, Polygon, Scene
from .shapes import box, key
from .writing import clean, listed, number, shown_species, wrapped

_MOST_LABELS = 12


@dataclass(frozen=True, slots=True)
class CellsPicture:
    """Cells of possible amounts with candidates as rays, without saying which of them fit.

    Attributes
    ----------
    title, consumed, produced : str
    rays : tuple of Ray
        In rising order, all drawn alike; () while they are not to be seen.
    cells : tuple of tuple of (float, float)
        Corners, mmol.
    points : tuple of (float, float)
        The middle of each cell, mmol.
    fan : (float, float) or None
        Least and largest ratio that the readings leave open.
    note : str
        What is to be seen, in a sentence.
    """

    title: str
    consumed: str
    produced: str
    rays: tuple[Ray, ...]
    cells: tuple[tuple[Point, ...], ...]
    points: tuple[Point, ...]
    fan: tuple[float, float] | None
    note: str

    @classmethod
    def of(cls, evidence: Evidence, *, fan: bool = True, rays: bool = True) -> CellsPicture:
        """Return the picture of readings.

        Parameters
        ----------
        evidence : Evidence
        fan, rays : bool
            Whether the ratios left open, and the candidates, are drawn.

        Examples
        --------
        >>> from stoichkit import assess, experiments
        >>> picture = CellsPicture.of(assess(experiments.load("copper-silver")))
        >>> len(picture.cells), [round(r, 2) for r in picture.fan]
        (4, [1.92, 2.24])
        >>> "fits" in picture.alt_text or "excluded" in picture.alt_text
        False
        """
        entry.record("evidence", evidence, Evidence)
        lab, found = evidence.experiment, evidence.ratio_set
        low, high = found.low, found.high
        shown = fan and math.isfinite(low)
        parts = [
            "A cell holds the amounts that show the same digits as one trial; nothing in the "
            "readings tells where in it the truth lies."
        ]
        if shown:
            parts.append(
                "The fan holds the ratios that all trials together leave open, repeatability "
                "included."
            )
        if rays:
            parts.append("A candidate whose ray lies in the fan is left; one outside is not.")
        return cls(
            clean(lab.title, limit=90),
            shown_species(lab.consumed.species),
            shown_species(lab.produced.species),
            _plain_rays(lab) if rays else (),
            tuple(digit_cell(a, b) for a, b in evidence.amounts),
            tuple((1000 * float(a.n), 1000 * float(b.n)) for a, b in evidence.amounts),
            (low, high) if shown else None,
            " ".join(parts),
        )

    @classmethod
    def planned(
        cls,
        experiment: Experiment,
        *,
        consumed_mol: float | None = None,
        step_g: float | None = None,
    ) -> CellsPicture:
        """Return the picture of one trial still to be made, for each candidate taken as true.

        Parameters
        ----------
        experiment : Experiment
        consumed_mol : float, optional
            Amount meant to react, mol; the mean of the readings if left out.
        step_g : float, optional
            Step of the display, g; that of the lab if left out.

        Raises
        ------
        ModelError
            If nothing is weighed, or no amount is known.

        Examples
        --------
        >>> from stoichkit import experiments
        >>> lab = experiments.load("copper-silver")
        >>> fine, coarse = (CellsPicture.planned(lab, consumed_mol=0.002, step_g=s)
        ...                 for s in (0.01, 0.1))
        >>> [len(one.cells) for one in (fine, coarse)], fine.parted, coarse.parted
        ([2, 2], True, False)
        """  # fmt: skip
        plan = plan_of(experiment, consumed_mol)
        step = step_of(experiment) if step_g is None else step_g
        if math.isnan(step):
            raise ModelError("Nothing is weighed in this lab.", given=experiment.title)
        lab = with_readability(experiment, step)
        changed = Plan(experiment=lab, consumed_mol=plan.consumed_mol, spread=0.0)
        cells, points = [], []
        for candidate in experiment.candidates:
            expected = changed.expected_readings(candidate.name)
            names = lab.example().readings
            typed = {
                name: tuple(f"{expected[name]:.6f}" for _ in texts)
                for name, texts in names.items()
                if name in expected
            }
            ((a, b),) = lab.with_trials([Trial("1", typed)]).amounts()
            cells.append(digit_cell(a, b))
            points.append((1000 * float(a.n), 1000 * float(b.n)))
        return cls(
            f"One trial read to {number(step)} g",
            shown_species(lab.consumed.species),
            shown_species(lab.produced.species),
            _plain_rays(lab),
            tuple(cells),
            tuple(points),
            None,
            f"With steps of {number(step)} g each cell holds all amounts that one trial could not "
            "tell from the middle of the cell. Two candidates part where neither ray crosses the "
            "cell of the other.",
        )

    @property
    def parted(self) -> bool:
        """Whether no ray crosses the cell of another candidate."""
        return all(
            not _crosses(corners, ray.ratio)
            for corners, (a, b) in zip(self.cells, self.points, strict=True)
            for ray in self.rays
            if abs(b - ray.ratio * a) > 1e-3 * abs(b)
        )

    @property
    def alt_text(self) -> str:
        """The picture described for readers who do not see it."""
        a, b = self.consumed, self.produced
        parts = [
            f"Amounts plane: {a} consumed across, {b} produced up, in mmol.",
            f"{len(self.cells)} cell{'s' if len(self.cells) != 1 else ''} of possible amounts:",
        ]
        words = []
        for corners, (x, y) in list(zip(self.cells, self.points, strict=True))[:8]:
            if corners:
                left, right = min(p[0] for p in corners), max(p[0] for p in corners)
                low, high = min(p[1] for p in corners), max(p[1] for p in corners)
                words.append(
                    f"{number(left)} to {number(right)} across and {number(low)} to "
                    f"{number(high)} up"
                )
            else:
                words.append(f"{number(x)} across and {number(y)} up")
        parts.append("; ".join(words) + ".")
        if self.fan is not None:
            high_words = "without end" if math.isinf(self.fan[1]) else f"to {number(self.fan[1])}"
            parts.append(f"The fan of ratios goes from {number(self.fan[0])} {high_words}.")
        if self.rays:
            named = [f"{ray.name} with slope {number(ray.ratio)}" for ray in self.rays]
            parts.append(f"Rays through the origin: {listed(named)}.")
        return " ".join(parts)

    def scene(self, width: float = 480.0, height: float | None = None) -> Scene:
        """Lay out the amounts plane: 300 by 240 points or more, 320 high if nothing is said."""
        height = 320.0 if height is None else height
        corners = [p for cell in self.cells for p in cell] + list(self.points)
        x = (0.0, 1.12 * max(max(p[0] for p in corners), 1e-9))
        y = (0.0, 1.12 * max(max(p[1] for p in corners), 1e-9))
        middle = sum(p[1] for p in self.points) / max(sum(p[0] for p in self.points), 1e-12)
        tags = [ray.tag for ray in fewer(self.rays, _MOST_LABELS, middle)]
        entries = [("cell", "possible amounts")]
        if self.fan is not None:
            entries.append(("fan", "ratios left open"))
        if self.rays:
            entries.append(("ray", "candidate"))

        def foot(left: float) -> tuple[list[Item], float]:
            room = width - left
            return key(
                entries, _sample, room, left=left, indent=27.0, around=(27.0, 12.0),
                pitch=SMALL + 4.0, margins=(2.0, 2.0), notes=wrapped(self.note, room - 4.0, SMALL),
            )  # fmt: skip

        plane = Plane.fitted(tags, x, y, (width, height), foot, spare=12.0)
        return plane.scene(
            self._fan(plane),
            plane.axes(self.consumed, self.produced),
            ray_lines(self.rays, plane, start=0.0),
            plane.labels,
            self._cells(plane),
            plane.foot,
        )

    def _fan(self, plane: Plane) -> list[Item]:
        if self.fan is None:
            return []
        low, high = self.fan
        (x, y) = plane.x[1], plane.y[1]
        edge = [(x, low * x) if low * x <= y else (y / low, y)]
        top = (0.0, y) if math.isinf(high) else ((x, high * x) if high * x <= y else (y / high, y))
        if edge[0][0] == x and top[1] == y and top != (x, y):
            edge.append((x, y))
        edge.append(top)
        return [Polygon([plane.at(0.0, 0.0), *(plane.at(*p) for p in edge)], BAR, "", 0.45)]

    def _cells(self, plane: Plane) -> list[Item]:
        items: list[Item] = []
        for corners, point in zip(self.cells, self.points, strict=True):
            if corners:
                items.append(Polygon([plane.at(*p) for p in corners], TRIAL, TRIAL, 0.2))
            items.append(Mark(*plane.at(*point), "circle", TRIAL, 2.4))
        return items


def _plain_rays(experiment: Experiment) -> tuple[Ray, ...]:
    """Return the candidates as rays that all look alike."""
    rays = (
        Ray(clean(c.name), label_of(clean(c.name)), float(c.ratio), True, 1.0)
        for c in experiment.candidates
    )
    return tuple(sorted(rays, key=lambda ray: ray.ratio))


def _crosses(corners: Sequence[Point], ratio: float) -> bool:
    """Whether a ray crosses a cell."""
    sides = [b - ratio * a for a, b in corners]
    return bool(sides) and min(sides) <= 0 <= max(sides)


def _sample(kind: str, x: float, y: float) -> list[Item]:
    middle = y + 0.36 * SMALL
    if kind == "ray":
        return [Line(((x, middle), (x + 22.0, middle)), INK, 1.8)]
    corners = box(x + 2.0, x + 22.0, middle - 4.5, middle + 4.5)
    if kind == "fan":
        return [Polygon(corners, BAR, "", 0.45)]
    return [Polygon(corners, TRIAL, TRIAL, 0.2), Mark(x + 12.0, middle, "circle", TRIAL, 2.4)]
