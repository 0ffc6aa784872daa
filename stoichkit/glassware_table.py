"""Published tolerances of volumetric glassware."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files

from .errors import InstrumentError
from .instrument_base import show

__all__ = ["PublishedTolerance", "published_tolerance"]

_RANK = {"read": 0, "rule": 1, "memory": 2}
_STATUS = {
    "read": "read in that table",
    "rule": "derived from that rule",
    "memory": "from memory, not checked against the document",
}


@dataclass(frozen=True, slots=True)
class PublishedTolerance:
    """One row of ``data/glassware.csv``.

    Attributes
    ----------
    kind, glass_class : str
        ``"cylinder"``, ``"pipette"``, ``"burette"`` or ``"flask"``; ``"A"`` or ``"B"``.
    capacity_mL, tolerance_mL : float
        Capacity and half-width of the error of a volume.
    graduation_mL : float or None
        Smallest graduation, where the table gives it.
    source, status : str
        Where it comes from; ``"read"``, ``"rule"`` or ``"memory"``.
    """

    kind: str
    capacity_mL: float
    glass_class: str
    tolerance_mL: float
    graduation_mL: float | None
    source: str
    status: str

    def sentence(self) -> str:
        """Say where the tolerance comes from and how far to trust it.

        >>> published_tolerance("pipette", 10, "A").sentence()
        'The tolerance of the pipette was not stated; ±0.02 mL is assumed for 10 mL class A
        (ASTM E969, in ...; read in that table). Published tables disagree: the figure printed
        on the glass wins.'
        """
        return (
            f"The tolerance of the {self.kind} was not stated; ±{show(self.tolerance_mL)} mL is "
            f"assumed for {show(self.capacity_mL)} mL class {self.glass_class} ({self.source}; "
            f"{_STATUS[self.status]}). Published tables disagree: the figure printed on the "
            "glass wins."
        )


@lru_cache(maxsize=1)
def _rows() -> tuple[PublishedTolerance, ...]:
    text = (files("stoichkit") / "data" / "glassware.csv").read_text(encoding="utf-8")
    return tuple(
        PublishedTolerance(
            row["kind"],
            float(row["capacity_mL"]),
            row["glass_class"],
            float(row["tolerance_mL"]),
            float(row["graduation_mL"]) if row["graduation_mL"] else None,
            row["source"],
            row["status"],
        )
        for row in csv.DictReader(text.splitlines())
    )


def published_tolerance(kind: str, capacity_mL: float, glass_class: str) -> PublishedTolerance:
    """Return the published tolerance to assume for a piece of glassware.

    Tables read come before rules, rules before values from memory; among equals the largest
    tolerance is taken, then the coarsest graduation.

    Parameters
    ----------
    kind : str
        ``"cylinder"``, ``"pipette"``, ``"burette"`` or ``"flask"``.
    capacity_mL : float
        Nominal capacity in mL, one of those in the table.
    glass_class : str
        ``"A"`` or ``"B"``.

    Raises
    ------
    InstrumentError
        If the table has no such piece; the message lists the capacities it has.

    Examples
    --------
    >>> published_tolerance("burette", 50, "A").tolerance_mL
    0.05
    """
    rows = [r for r in _rows() if r.kind == kind and r.glass_class == glass_class]
    found = [r for r in rows if r.capacity_mL == capacity_mL]
    if not found:
        known = ", ".join(show(c) for c in sorted({r.capacity_mL for r in rows}))
        raise InstrumentError(
            f"No published tolerance is at hand for a {show(capacity_mL)} mL {kind} "
            f"of class {glass_class}.",
            given=f"{show(capacity_mL)} mL",
            allowed=f"{known} mL" if known else None,
            fix="Or give tolerance_mL: the figure printed on the glass.",
        )
    return min(found, key=lambda r: (_RANK[r.status], -r.tolerance_mL, -(r.graduation_mL or 0)))


def published_graduation(kind: str, capacity_mL: float) -> float | None:
    """Return the coarsest published graduation for this capacity in mL, or None.

    >>> published_graduation("cylinder", 10)
    0.2
    """
    found = [r.graduation_mL for r in _rows() if r.kind == kind and r.capacity_mL == capacity_mL]
    return max((g for g in found if g is not None), default=None)
