"""The buoyancy of air: what a balance shows, and the mass that it means.

A balance adjusted with weights of 8.0 g/cm³ shows the mass of weights that balance a body in air,
its conventional mass. A body of density ρ in air of density a has the true mass

    m = W · (1 − a / 8.0 g/cm³) / (1 − a / ρ).

For a difference of two weighings in one vessel W is the difference and ρ that of what was added or
taken away; the vessel's own buoyancy cancels. Source: OIML D 28 (2004), Conventional value of the
result of weighing in air, and OIML R 111-1 (2004), reference conditions 1.2 kg/m³ and 8000 kg/m³,
air density within 10 % (from memory).
"""

from __future__ import annotations

from typing import Any

from ..errors import ExperimentError
from ..uncertainty import entry
from ..uncertainty.readings import ErrorPool
from ..uncertainty.sources import Number
from .base import shared_limit

AIR_G_PER_CM3 = 0.0012
"""Density of air, 1.2 kg/m³: the reference value of OIML D 28."""
AIR_HALF_WIDTH_G_PER_CM3 = 0.00012
"""Limits of its error, 10 %: weather, temperature and up to about 900 m above the sea."""
WEIGHTS_G_PER_CM3 = 8.0
"""Density of the weights by which conventional mass is defined."""
LEAST_G_PER_CM3, MOST_G_PER_CM3 = 0.1, 25.0
"""Densities that can be stated."""
UNKNOWN_G_PER_CM3 = (0.9, 22.0)
"""What the density of a solid or liquid lies between if it is not stated."""
NOTHING = (1.0, 1.0)
"""No unknown factor."""


def checked_density(value: object) -> float | None:
    """Return a density as a number, or None if it is not stated.

    >>> checked_density(8.96)
    8.96
    >>> checked_density(8960)
    Traceback (most recent call last):
    stoichkit.errors.ExperimentError: density_g_per_cm3: This is out of range. Given: 8960.
    Allowed: a finite number from 0.1 to 25. Write it in g/cm³: 8.96 if it was in kg/m³.
    """
    if value is None:
        return None
    name = "density_g_per_cm3"
    found = entry.number(name, value, error=ExperimentError)
    if not LEAST_G_PER_CM3 <= found <= MOST_G_PER_CM3:
        in_kg = LEAST_G_PER_CM3 <= found / 1000 <= MOST_G_PER_CM3
        raise ExperimentError(
            "This is out of range.",
            field=name,
            given=f"{found:g}",
            allowed=f"a finite number from {LEAST_G_PER_CM3:g} to {MOST_G_PER_CM3:g}",
            fix=f"Write it in g/cm³: {found / 1000:g} if it was in kg/m³." if in_kg else None,
        )
    return found


def air_factor(density_g_per_cm3: float, air_g_per_cm3: Number = AIR_G_PER_CM3) -> Number:
    """Return the true mass over the mass shown.

    >>> round(air_factor(0.9982), 5), air_factor(8.0)
    (1.00105, 1.0)
    """
    return (1 - air_g_per_cm3 / WEIGHTS_G_PER_CM3) / (1 - air_g_per_cm3 / density_g_per_cm3)


def air_correction(density_g_per_cm3: float, pool: ErrorPool) -> Number:
    """Return the factor with its error: the density of the air is one source for all weighings."""
    air = AIR_G_PER_CM3 + shared_limit(
        pool, "density of air", "density of the air", "buoyancy", AIR_HALF_WIDTH_G_PER_CM3
    )
    return air_factor(density_g_per_cm3, air)


def unknown_factors() -> tuple[float, float]:
    """Return the least and largest factor at any density that is possible, in any such air.

    >>> low, high = unknown_factors()
    >>> round(1e3 * (low - 1), 3), round(1e3 * (high - 1), 3)
    (-0.105, 1.304)
    """
    light, heavy = UNKNOWN_G_PER_CM3
    air = AIR_G_PER_CM3 + AIR_HALF_WIDTH_G_PER_CM3  # the correction is largest in heavy air
    return float(air_factor(heavy, air)), float(air_factor(light, air))


NEGLIGIBLE = 1 / 48
"""Part of a display step that is never looked at: half a cell of the positions in the test."""


def matters(mass_g: Any, readability_g: float, part: float = 0.5) -> Any:
    """Say whether an unknown density could change a mass by more than a part of a display step.

    The mass may be an array.

    >>> matters(2.0, 0.01), matters(2.0, 0.0001)
    (False, True)
    """
    low, high = unknown_factors()
    return abs(mass_g) * max(1 - low, high - 1) > part * readability_g
