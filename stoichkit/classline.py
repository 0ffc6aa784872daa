"""The straight line through the amounts of a class, and its intercept as a constant blank."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from .classamounts import ClassAmounts
from .elements import molar_mass_value
from .errors import ModelError
from .shapes import Floats
from .york import Line, fit_line

__all__ = ["DIFFERENCE_LEVEL", "Blank", "BlankKind", "blank_of", "class_line"]

DIFFERENCE_LEVEL = 0.1
"""Chance, from the readings alone, below which groups count as different, or as scattered about a
line; common practice for Q, whose power is low. A false alarm costs little: the wider test."""
_LEAST_SPREAD = 3.0
"""Least standard deviation of the amounts consumed over their own uncertainty, for a line."""


class BlankKind(StrEnum):
    """What an intercept of the straight line would mean."""

    NOT_SEEN = "no constant blank is told apart from zero"
    GAIN = (
        "a constant gain whatever the amount: wet filter paper, residue or salt not washed out, "
        "or reactant that gained mass (wet, coated, oxidised) and so hid what reacted"
    )
    LOSS = (
        "a constant loss whatever the amount: product left in the vessel or washed through the "
        "filter, or reactant that was lost without reacting"
    )


@dataclass(frozen=True, slots=True)
class Blank:
    """The intercept of the line as a constant blank.

    Attributes
    ----------
    kind : BlankKind
        A gain or a loss if the p-value is below 1 − coverage.
    amount_mol, u_mol : float
        Intercept and its standard uncertainty, mol of product.
    interval_mol : (float, float)
    mass_g, u_g : float
        The same in g of product; nan where the product was not named.
    p_value : float
        Chance of an intercept at least as large without any blank.
    """

    kind: BlankKind
    amount_mol: float
    u_mol: float
    interval_mol: tuple[float, float]
    mass_g: float
    u_g: float
    p_value: float


def class_line(amounts: ClassAmounts) -> tuple[Line | None, str]:
    """Return the line n_produced = blank + ratio × n_consumed, or why there is none.

    The line needs three groups or more, and amounts consumed that spread by at least three times
    their own uncertainty: with less the intercept is not told apart from the slope. Where the
    points scatter about it by more than their readings explain (p below 0.1), its uncertainties
    are widened by the scatter.

    Parameters
    ----------
    amounts : ClassAmounts

    Returns
    -------
    (Line or None, str)
        The text is empty if there is a line.

    Examples
    --------
    >>> from stoichkit.classamounts import amounts_from_arrays
    >>> line, _ = class_line(amounts_from_arrays([1, 2, 3], [2.3, 4.3, 6.3], 0.01, 0.02))
    >>> round(line.slope, 3), round(line.intercept, 3)
    (2.0, 0.3)
    >>> class_line(amounts_from_arrays([1, 1, 1.01], [2, 2.1, 2], 0.01, 0.02))[1]
    'The amounts consumed do not spread over three times their uncertainty.'
    """
    x, own = amounts.consumed, amounts.own
    if x.size < 3:
        return None, "There are fewer than three groups."
    if not _differ(x, own.consumed):
        return None, "The amounts consumed do not spread over three times their uncertainty."
    u_x, u_y = np.sqrt(own.consumed), np.sqrt(own.produced)
    size = u_x * u_y
    r = np.divide(own.both, size, out=np.zeros_like(size), where=size > 0)
    shared_x, shared_y = amounts.shared_standard()
    try:
        line = fit_line(x, amounts.produced, u_x, u_y, r, shared_x=shared_x, shared_y=shared_y)
    except ModelError as error:
        return None, error.problem
    if not line.converged:
        return None, "The fit of the line did not settle."
    return line.with_inflation() if line.p_value < DIFFERENCE_LEVEL else line, ""


def _differ(x: Floats, variance: Floats) -> bool:
    if not (variance > 0).all():
        return bool(np.ptp(x) > 0)
    w = variance.min() / variance
    squares = float(np.sum(w * (x - np.sum(w * x) / w.sum()) ** 2))
    return squares >= _LEAST_SPREAD**2 * float(variance.min()) * (x.size - 1)


def blank_of(line: Line, *, coverage: float = 0.95, produced: str = "") -> Blank:
    """Return the intercept of a class's line as a constant blank, in mol and g of product.

    Parameters
    ----------
    line : Line
        Amounts in mol.
    coverage : float
    produced : str
        Formula of the product; "" gives no mass.

    Examples
    --------
    >>> from stoichkit.classamounts import amounts_from_arrays
    >>> n_copper, n_silver = [0.002, 0.004, 0.006], [0.0045, 0.0085, 0.0125]
    >>> line, _ = class_line(amounts_from_arrays(n_copper, n_silver, 2e-5, 2e-5))
    >>> blank = blank_of(line, produced="Ag")
    >>> blank.kind.name, round(blank.mass_g, 3), round(blank.u_g, 3)
    ('GAIN', 0.054, 0.007)
    """
    p = line.intercept_p_value()
    u = line.u_intercept_total
    gram = molar_mass_value(produced) if produced else math.nan
    kind = BlankKind.NOT_SEEN
    if p < 1 - coverage:
        kind = BlankKind.GAIN if line.intercept > 0 else BlankKind.LOSS
    interval = line.intercept_interval(coverage=coverage)
    return Blank(kind, line.intercept, u, interval, line.intercept * gram, u * gram, p)
