"""Vapour pressure and density of water, from a table of IAPWS values."""

from __future__ import annotations

import csv
import math
from collections.abc import Sequence
from functools import lru_cache
from importlib.resources import files

from .errors import ReadingError
from .readings import ErrorPool
from .uncertain import Number, Shape, error_source, nominal

__all__ = ["water_density_g_per_mL", "water_vapour_pressure_kPa"]

VAPOUR_PRESSURE_RELATIVE = 5e-4
DENSITY_RELATIVE = 1e-5


@lru_cache(maxsize=1)
def _table() -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return ln(vapour pressure/kPa) and density in g/mL at 0, 1, 2, … °C."""
    text = (files("stoichkit") / "data" / "water.csv").read_text(encoding="utf-8")
    rows = list(csv.DictReader(text.splitlines()))
    return (
        tuple(math.log(float(row["vapour_pressure_Pa"]) / 1000) for row in rows),
        tuple(float(row["density_kg_per_m3"]) / 1000 for row in rows),
    )


def _cubic(table: Sequence[float], x: float) -> tuple[float, float]:
    """Interpolate a table at unit steps; return the value and its slope, both continuous.

    Piecewise cubic with central differences as slopes at the points of the table.
    """
    last = len(table) - 1
    i = min(int(x), last - 1)
    s = x - i

    def slope(j: int) -> float:
        if j == 0:
            return (-3 * table[0] + 4 * table[1] - table[2]) / 2
        if j == last:
            return (3 * table[last] - 4 * table[last - 1] + table[last - 2]) / 2
        return (table[j + 1] - table[j - 1]) / 2

    rise, left, right = table[i + 1] - table[i], slope(i), slope(i + 1)
    c2, c3 = 3 * rise - 2 * left - right, left + right - 2 * rise
    return table[i] + s * (left + s * (c2 + s * c3)), left + s * (2 * c2 + 3 * s * c3)


def _checked(temperature_C: Number) -> float:
    """Return the temperature as a float, or say that the table does not reach it."""
    t, top = nominal(temperature_C), len(_table()[0]) - 1
    if not 0 <= t <= top:
        raise ReadingError(
            "The temperature is outside the table of water properties.",
            given=f"{t:g} °C",
            allowed=f"0 to {top} °C",
            fix="Check that the temperature was read in °C.",
        )
    return t


def water_vapour_pressure_kPa(temperature_C: Number, pool: ErrorPool) -> Number:
    """Return the vapour pressure of water over liquid water, in kPa.

    The sensitivity to the temperature is carried to first order. The table itself is taken as
    known to ±0.05 % (rectangular): that covers the spread between the IAPWS formulations and
    the handbook column it was compared with.

    Parameters
    ----------
    temperature_C : uncertain number or float
        0 to 99 °C.
    pool : ErrorPool
        Keeps the table's error one source within an assessment.

    Raises
    ------
    ReadingError
        If the temperature is outside the table.

    Notes
    -----
    Source: IAPWS Industrial Formulation 1997, saturation line (see ``data/README.md``).

    Examples
    --------
    >>> from stoichkit.uncertain import nominal
    >>> round(nominal(water_vapour_pressure_kPa(25.0, ErrorPool())), 4)
    3.1697
    """
    t = _checked(temperature_C)
    log_p, slope = _cubic(_table()[0], t)
    p = math.exp(log_p)
    table_error = pool.shared(
        "water vapour pressure",
        lambda: error_source(
            "table of water vapour pressure",
            kind="table",
            shape=Shape.RECTANGULAR,
            scale=VAPOUR_PRESSURE_RELATIVE,
        ),
    )
    return p * (1 + table_error) + p * slope * (temperature_C - t)


def water_density_g_per_mL(temperature_C: Number, pool: ErrorPool) -> Number:
    """Return the density of pure water at 101.325 kPa, in g/mL.

    The sensitivity to the temperature is carried to first order; the table itself is taken as
    known to ±0.001 % (rectangular).

    Parameters
    ----------
    temperature_C : uncertain number or float
        0 to 99 °C.
    pool : ErrorPool
        Keeps the table's error one source within an assessment.

    Raises
    ------
    ReadingError
        If the temperature is outside the table.

    Notes
    -----
    Source: IAPWS-95 (see ``data/README.md``).

    Examples
    --------
    >>> from stoichkit.uncertain import nominal
    >>> round(nominal(water_density_g_per_mL(20.0, ErrorPool())), 6)
    0.998207
    """
    t = _checked(temperature_C)
    density, slope = _cubic(_table()[1], t)
    table_error = pool.shared(
        "water density",
        lambda: error_source(
            "table of water density",
            kind="table",
            shape=Shape.RECTANGULAR,
            scale=DENSITY_RELATIVE,
        ),
    )
    return density * (1 + table_error) + slope * (temperature_C - t)
