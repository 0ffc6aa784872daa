"""What making up and diluting a solution share: standard sizes, and what limits the result."""

from __future__ import annotations

import math
from functools import lru_cache

from .errors import InstrumentError, ModelError
from .glassware import Pipette, VolumetricFlask
from .graduated import GraduatedCylinder
from .instrument_base import show
from .readings import ErrorPool, Reading
from .uncertain import Number, Source, budget, nominal, standard_uncertainty

__all__ = [
    "check_positive",
    "filled",
    "limiting_part",
    "percent",
    "relative_uncertainty",
    "smallest_cylinder",
    "standard_sizes",
    "three_digits",
    "typed",
]

_SIZES_ML = (1.0, 2.0, 5.0, 10.0, 20.0, 25.0, 50.0, 100.0, 200.0, 250.0, 500.0, 1000.0, 2000.0)
_MADE = {"pipette": Pipette, "flask": VolumetricFlask, "cylinder": GraduatedCylinder}
_PARTS = {"atomic weight": "the molar mass", "purity": "the purity of the solid"}


@lru_cache(maxsize=16)
def standard_sizes(kind: str, glass_class: str = "B") -> tuple[float, ...]:
    """Return the capacities, mL, that are made and have a published tolerance.

    Parameters
    ----------
    kind : str
        ``"pipette"`` (one mark), ``"flask"`` or ``"cylinder"``.
    glass_class : str
        ``"A"`` or ``"B"``.

    Raises
    ------
    InstrumentError
        If there is no such kind.

    Source
    ------
    ``data/glassware.csv``.

    Examples
    --------
    >>> standard_sizes("pipette", "A")
    (1.0, 5.0, 10.0, 25.0, 50.0, 100.0)
    """
    made = _MADE.get(kind)
    if made is None:
        raise InstrumentError(
            "That kind of glassware is not known here.", given=kind, allowed=", ".join(_MADE)
        )
    found = []
    for size in _SIZES_ML:
        try:
            made(capacity_mL=size, glass_class=glass_class)
        except InstrumentError:
            continue  # not in the table of published tolerances
        found.append(size)
    return tuple(found)


def check_positive(what: str, value: object) -> float:
    """Return a finite number above 0, or raise ModelError that names it.

    >>> check_positive("volume in mL", 100)
    100.0
    """
    number = isinstance(value, int | float) and not isinstance(value, bool)
    if not number or not math.isfinite(value) or value <= 0:  # type: ignore[arg-type, operator]
        raise ModelError(f"The {what} cannot be used.", given=value, allowed="above 0")
    return float(value)  # type: ignore[arg-type]


def typed(value: float, step: float) -> Reading:
    """Return the nearest value an instrument with that step can show, as a reading.

    >>> typed(1.69873, 0.01).text
    '1.70'
    """
    decimals = len(show(step).partition(".")[2])
    text = f"{round(value / step) * step:.{decimals}f}"
    return Reading(float(text), text, decimals)


def filled(
    piece: VolumetricFlask | Pipette | GraduatedCylinder,
    volume_mL: float,
    label: str,
    pool: ErrorPool,
) -> Number:
    """Return the volume measured once with a piece of glassware, mL, with its error sources.

    >>> from stoichkit.uncertain import standard_uncertainty
    >>> flask = VolumetricFlask(capacity_mL=100.0, tolerance_mL=0.1, repeatability_mL=0.02)
    >>> round(standard_uncertainty(filled(flask, 100.0, "flask", ErrorPool())), 4)
    0.0665
    """
    name = f"{show(piece.capacity_mL)} mL {piece.noun}, class {piece.glass_class}"
    if isinstance(piece, GraduatedCylinder):
        reading = typed(volume_mL, piece.readability)
        return piece.quantity(reading, name=name, label=label, pool=pool, delivery=label)
    return piece.quantity(name=name, label=label, pool=pool)


def smallest_cylinder(volume_mL: float, glass_class: str = "B") -> GraduatedCylinder | None:
    """Return the smallest standard measuring cylinder that holds a volume, or None.

    >>> smallest_cylinder(30).capacity_mL
    50.0
    """
    for size in standard_sizes("cylinder", glass_class):
        if volume_mL <= size:
            return GraduatedCylinder(capacity_mL=size, glass_class=glass_class)
    return None


def relative_uncertainty(value: Number) -> float:
    """Return the relative standard uncertainty of a number above 0.

    >>> relative_uncertainty(2.0)
    0.0
    """
    return standard_uncertainty(value) / nominal(value)


def three_digits(value: float) -> str:
    """Write a number with three significant digits and no power of ten.

    >>> three_digits(1442.3), three_digits(0.01234), three_digits(19.09)
    ('1440', '0.0123', '19.1')
    """
    return show(float(f"{value:.3g}"))


def percent(relative: float) -> str:
    """Write a relative uncertainty in per cent with two significant digits.

    >>> percent(0.00123)
    '0.12 %'
    """
    if relative <= 0:
        return "0 %"
    places = max(1 - math.floor(math.log10(100 * relative)), 0)
    return f"{100 * relative:.{places}f} %"


def _part(source: Source) -> str:
    if source.kind in _PARTS:
        return _PARTS[source.kind]
    if source.kind == "concentration":
        return "the stock solution"
    text = f"{source.label} {source.reading}"
    return "the weighing" if "boat" in text or "balance" in text else "the glassware"


def limiting_part(value: Number) -> tuple[str, float]:
    """Return what contributes most to the variance of a concentration, and its share.

    Returns
    -------
    (str, float)
        One of "the weighing", "the glassware", "the molar mass", "the purity of the solid" and
        "the stock solution"; share 0 to 1. ("nothing stated", 0.0) for an exact number.

    Examples
    --------
    >>> from stoichkit.elements import molar_mass
    >>> limiting_part(1.0 / molar_mass("NaCl"))
    ('the molar mass', 1.0)
    """
    shares: dict[str, float] = {}
    for line in budget(value):
        part = _part(line.source)
        shares[part] = shares.get(part, 0.0) + line.share
    if not shares:
        return "nothing stated", 0.0
    name = max(shares, key=lambda part: shares[part])
    return name, shares[name]
