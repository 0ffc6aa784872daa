"""Mole ratios of many weighed labs at once, each with its uncertainty budget."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from .elements import molar_mass
from .instruments import Balance
from .shapes import Floats
from .uncertain import contributions, nominal
from .weighings import checked_recovery, checked_tables

__all__ = ["WeighedRatios", "weighed_ratios"]

_BLOCK = 16384
_ROLES = ("consumed, before", "consumed, after", "tare", "gross")


@dataclass(frozen=True, slots=True, eq=False)
class WeighedRatios:
    """Mole ratios n_produced / n_consumed of many groups, to first order.

    Attributes
    ----------
    ratio : ndarray, shape (groups,)
        Ratio of the mean amounts over the trials; nan where nothing was consumed.
    standard_uncertainty : ndarray, shape (groups,)
    sources : tuple of str
        The four readings (rounding, repeatability and linearity together, over all trials), the
        atomic weights, and the recovery if there is an allowance.
    contributions : ndarray, shape (sources, groups)
        Signed effect of one standard uncertainty of each source on the ratio. The squares add up
        to that of ``standard_uncertainty``. What both amounts share acts once: the calibration
        of the balance cancels, and so does an element to the extent that both formulas hold it.
    """

    ratio: Floats
    standard_uncertainty: Floats
    sources: tuple[str, ...]
    contributions: Floats

    def __len__(self) -> int:
        return self.ratio.size

    @property
    def shares(self) -> Floats:
        """Part of each group's variance from each source, shape (sources, groups), 0 to 1."""
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.asarray((self.contributions / self.standard_uncertainty) ** 2)


def weighed_ratios(
    consumed_before_g: ArrayLike,
    consumed_after_g: ArrayLike,
    tare_g: ArrayLike,
    gross_g: ArrayLike,
    *,
    consumed: str,
    produced: str,
    balance: Balance,
    recovery: tuple[float, float] = (1.0, 1.0),
) -> WeighedRatios:
    """Return the mole ratio of every group with its standard uncertainty and budget.

    To first order, so a ratio whose amount consumed is not much larger than its uncertainty
    deserves no trust; :func:`stoichkit.assess_weighings` needs no such condition.

    Parameters
    ----------
    consumed_before_g, consumed_after_g, tare_g, gross_g, consumed, produced, balance, recovery
        As for :func:`stoichkit.assess_weighings`.

    Returns
    -------
    WeighedRatios

    Raises
    ------
    ReadingError
        If the shapes differ or a reading is not a finite number.
    ModelError
        If the recovery cannot be used.

    Examples
    --------
    >>> found = weighed_ratios([3.12], [2.65], [0.71], [2.30], consumed="Cu", produced="Ag",
    ...     balance=Balance(readability_g=0.01))
    >>> found.ratio.round(3).tolist(), found.standard_uncertainty.round(3).tolist()
    ([1.993], [0.036])
    >>> dict(zip(found.sources, found.shares[:, 0].round(3).tolist()))["consumed, before"]
    0.46
    """
    tables = checked_tables(consumed_before_g, consumed_after_g, tare_g, gross_g)
    low, high = checked_recovery(recovery)
    before, after, tare, gross = (t[:, 0] if t.shape[1] == 1 else t.mean(axis=1) for t in tables)
    gain = (1 / low + 1 / high) / 2
    per_gram, weights = _molar(consumed, produced)
    factor, relative = gain * per_gram, dict(weights)
    if low < high:
        relative["recovery"] = (1 / low - 1 / high) / 2 / gain / math.sqrt(3)
    d, s, k = balance.readability_g, balance.repeatability, balance.linearity_g
    u_g = math.sqrt((d * d / 12 + s * s + k * k / 3) / tables[0].shape[1])
    common = np.array([*relative.values()])[:, None]
    square = float(np.sum(common**2))

    table = np.empty((6 + len(relative), before.size))
    with np.errstate(invalid="ignore", divide="ignore"):
        for start in range(0, before.size, _BLOCK):  # small enough for the processor's cache
            here = slice(start, start + _BLOCK)
            r, u, first, second, third, fourth, *_ = block = table[:, here]
            over = before[here] - after[here]
            np.divide(u_g, over, out=over)
            np.subtract(gross[here], tare[here], out=r)
            r *= over
            r *= factor / u_g
            np.multiply(over, factor, out=fourth)
            np.negative(fourth, out=third)
            np.multiply(r, over, out=second)
            np.negative(second, out=first)
            np.multiply(r, common, out=block[6:])
            over *= over  # u² = r² (2 over² + square) + 2 (factor over)²
            over *= 2.0
            np.multiply(r, r, out=u)
            fixed = over * factor**2
            over += square
            u *= over
            u += fixed
            np.sqrt(u, out=u)
            if not np.isfinite(u).all():
                block[:, ~np.isfinite(u)] = np.nan
    return WeighedRatios(table[0], table[1], (*_ROLES, *relative), table[2:])


@lru_cache(maxsize=256)
def _molar(consumed: str, produced: str) -> tuple[float, tuple[tuple[str, float], ...]]:
    """Return the ratio of both molar masses, and its relative change by each source."""
    mass_a, mass_b = molar_mass(consumed), molar_mass(produced)
    relative: dict[str, float] = {}
    for molar, sign in ((mass_a, 1.0), (mass_b, -1.0)):
        for source, c in contributions(molar):
            effect = sign * c * source.standard_uncertainty / nominal(molar)
            relative[source.label] = relative.get(source.label, 0.0) + effect
    return nominal(mass_a) / nominal(mass_b), tuple(relative.items())
