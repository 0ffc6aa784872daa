"""Drying to constant mass: is it constant, how much water may be left, when to weigh next.

The mass is taken to approach its end exponentially, m(t) = m_end + w exp(−(t − t_last) / τ),
where w is the water left at the last weighing. For a given τ the other two follow by linear least
squares; τ is found with scipy, and the limits of w are where χ² has risen by the 95 % point for
one degree of freedom (profile likelihood), not a linear approximation.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..errors import ModelError
from ..measurement.displays import Balance
from ..measurement.weighing import constant_mass
from ..uncertainty import entry
from ..uncertainty.readings import Reading, parse_number
from ..uncertainty.sources import Floats

_RISE = 3.841458820694124
"""95 % point of chi-squared with one degree of freedom."""
_FASTEST, _SLOWEST = 0.05, 1e3
"""Time constants looked at, in spans between the first and the last weighing."""
_GRID = 400
_FEWEST = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Drying:
    """What successive weighings say about the water still to go.

    Attributes
    ----------
    constant : bool
        Whether the last two weighings agree within what the balance resolves.
    change_g, limit_g : float
        Last weighing less the one before; the change the balance cannot tell from none.
    water_left_g : float
        Best estimate of the water left at the last weighing; nan when it cannot be told.
    water_low_g, water_high_g : float
        95 % limits; the upper one is infinite when these weighings put no limit on it, and both
        are nan with fewer than three weighings.
    time_constant_min : float
        Time in which the water left falls to 1/e; nan when it cannot be told.
    settled : bool
        Whether no more water than ``limit_g`` can be left: constant mass that can be believed.
    next_min : float
        Time, on the clock of the readings, at which to weigh next; nan when settled.
    consistent : bool
        Whether the weighings follow such an approach at all (chi-squared, 1 %).
    step_g : float
        Step of the balance: no digit below it is worth writing.
    """

    constant: bool
    change_g: float
    limit_g: float
    water_left_g: float
    water_low_g: float
    water_high_g: float
    time_constant_min: float
    settled: bool
    next_min: float
    consistent: bool
    step_g: float


def drying(weighings: Sequence[tuple[float, str]], balance: Balance) -> Drying:
    """Say whether a product has been dried to constant mass, and what may be left.

    Parameters
    ----------
    weighings : sequence of (time in min, mass in g as typed)
        Two or more, in order of time; time spent drying, cooling left out.
    balance : Balance

    Raises
    ------
    ModelError
        If there are fewer than two weighings or the times do not rise.
    ReadingError
        If a mass cannot be read.

    Notes
    -----
    Two weighings that agree do not show that nothing is left: a product that dries slowly hardly
    changes in a short time. That is what ``water_high_g`` is for.

    Examples
    --------
    >>> found = drying(
    ...     [(0, "1.842"), (10, "1.571"), (20, "1.469"), (30, "1.433"), (45, "1.416")],
    ...     Balance(readability_g=0.001))
    >>> found.constant, round(found.water_left_g, 3), round(found.time_constant_min)
    (False, 0.005, 10)
    >>> found.next_min > 45
    True
    """
    entry.record("balance", balance, Balance)
    weighings = entry.listed("weighings", weighings, tuple, list)
    times, readings = _checked(weighings)
    masses = np.array([reading.value for reading in readings])
    step = constant_mass(readings, balance)
    u = math.sqrt(balance.repeatability**2 + balance.readability**2 / 12)
    left, low, high, tau, consistent = _fit(times, masses, u)
    settled = step.reached and consistent and high <= step.limit_g
    return Drying(
        constant=step.reached,
        change_g=step.change_g,
        limit_g=step.limit_g,
        water_left_g=left,
        water_low_g=low,
        water_high_g=high,
        time_constant_min=tau,
        settled=settled,
        next_min=math.nan if settled else _next(times, left, tau, step.limit_g),
        consistent=consistent,
        step_g=balance.readability,
    )


def _checked(weighings: Sequence[tuple[float, str]]) -> tuple[Floats, list[Reading]]:
    for pair in weighings:
        if len(pair) != 2:
            raise entry.refusal(
                ModelError, "weighings", "has an item that is not a pair", pair, '(10, "1.842")'
            )
    times = entry.array("weighings", [time for time, _ in weighings], allowed="times in min")
    if len(times) < 2 or not (np.diff(times) > 0).all():
        raise ModelError(
            "The weighings cannot be used.",
            given=", ".join(f"{t:g} min" for t in times) or "no weighings",
            allowed="two or more, each at a later time than the one before",
        )
    return times, [parse_number(text, "mass") for _, text in weighings]


def _fit(times: Floats, masses: Floats, u: float) -> tuple[float, float, float, float, bool]:
    """Return water left, its limits, the time constant, and whether the fit is good enough."""
    if len(times) < _FEWEST:
        return math.nan, math.nan, math.nan, math.nan, True
    from scipy.optimize import brentq, minimize_scalar
    from scipy.special import chdtri

    span = float(times[-1] - times[0])
    grid = np.linspace(math.log(_FASTEST * span), math.log(_SLOWEST * span), _GRID)
    chi2 = np.array([_chi2(times, masses, u, x) for x in grid])
    best = int(chi2.argmin())
    around = (grid[max(best - 1, 0)], grid[min(best + 1, _GRID - 1)])
    found = minimize_scalar(lambda x: _chi2(times, masses, u, x), bounds=around, method="bounded")
    chosen = float(found.x) if found.fun <= chi2[best] else float(grid[best])
    level = _chi2(times, masses, u, chosen) + _RISE
    left = max(_line(times, masses, u, chosen)[1], 0.0)
    over = chi2 > level
    ends = []
    for outside in (grid[:best][over[:best]][-1:], grid[best + 1 :][over[best + 1 :]][:1]):
        for edge in outside:
            inner, outer = sorted((chosen, float(edge)))
            ends.append(brentq(lambda x: _chi2(times, masses, u, x) - level, inner, outer))
        if not len(outside):
            ends.append(float(grid[-1] if ends else grid[0]))
    low, high = _limits(times, masses, u, np.linspace(ends[0], ends[1], _GRID), level)
    limit = chdtri(max(len(times) - 3, 1), 0.01)
    consistent = bool(level - _RISE <= limit)
    if chi2[-1] <= level:  # a straight line, or no change at all, fits: no end is in sight
        return math.nan, low, math.inf, math.nan, consistent
    return left, low, high, math.exp(chosen) if left > 0 else math.nan, consistent


def _chi2(times: Floats, masses: Floats, u: float, log_tau: float) -> float:
    """Return the least χ² with this time constant and no negative amount of water."""
    chi2, left, own = _line(times, masses, u, log_tau)
    return chi2 + (min(left, 0.0) / own) ** 2


def _line(times: Floats, masses: Floats, u: float, log_tau: float) -> tuple[float, float, float]:
    """Return χ², the water left at the last weighing (of any sign), its standard uncertainty."""
    shape = np.exp((times[-1] - times) / math.exp(log_tau))
    centred = shape - shape.mean()
    spread = float(centred @ centred)
    left = float(centred @ masses) / spread
    residual = masses - masses.mean() - left * centred
    return float(residual @ residual) / u**2, left, u / math.sqrt(spread)


def _limits(
    times: Floats, masses: Floats, u: float, logs: Floats, level: float
) -> tuple[float, float]:
    """Return least and largest water left over all time constants with χ² below the level.

    For one time constant χ² is a parabola in the water left, so its limits follow exactly.
    """
    ends = []
    for log_tau in logs:
        chi2, left, own = _line(times, masses, u, float(log_tau))
        reach = own * math.sqrt(max(level - chi2, 0.0))
        ends += [left - reach, left + reach]
    return max(min(ends), 0.0), max(*ends, 0.0)


def _next(times: Floats, left: float, tau: float, limit_g: float) -> float:
    """Return when the water left should have fallen to a quarter of what the balance resolves.

    Without an estimate, after as long again as from the first weighing to the last.
    """
    last = float(times[-1])
    if math.isnan(tau):
        return last + float(times[-1] - times[0])
    wait = tau * math.log(max(4 * left / limit_g, math.e))
    return last + wait
