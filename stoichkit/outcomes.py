"""Chance of each verdict, from the joint distribution of both mean amounts.

Candidate k is compatible where |n_produced − r_k n_consumed| ≤ t_k: a strip in the plane of the
two mean amounts. Display readings put the amounts on a lattice, whose probabilities are summed
exactly; every other error is continuous. No random numbers.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .digit_tables import hump
from .distribution import SumDistribution
from .shapes import Floats

__all__ = ["Chances", "Lattice", "cells_of", "chances_of", "lattice_of", "point_of"]

_NODES_PER_STEP = 16
_REACH = 4.5
_SMALLEST = 1e-8
_TOLERANCE = 1e-4
"""Accuracy of continuous distribution functions here: chances are stated to 0.005."""


@dataclass(frozen=True, slots=True)
class Chances:
    """Chance of each verdict when one candidate is true; the four add up to 1.

    Attributes
    ----------
    right : float
        The true candidate is singled out.
    wrong : float
        Another candidate is singled out.
    not_told_apart : float
        Two or more candidates are compatible.
    none_fits : float
        No candidate is compatible.
    """

    right: float
    wrong: float
    not_told_apart: float
    none_fits: float


@dataclass(frozen=True, slots=True, eq=False)
class Lattice:
    """Joint probabilities of the mean amounts read from displays, in mol.

    Attributes
    ----------
    consumed, produced : ndarray, shapes (a,) and (b,)
    p : ndarray, shape (a, b)
    """

    consumed: Floats
    produced: Floats
    p: Floats


def _mass_nodes(steps: tuple[float, float], spread: float) -> tuple[Floats, Floats]:
    """Return relative amounts within ±spread and their weights, fine beside a display step."""
    if spread == 0:
        return np.ones(1), np.ones(1)
    count = max(5, math.ceil(2 * spread * max(steps) * _NODES_PER_STEP))
    count = min(count, 801)
    u = (np.arange(count) + 0.5) / count * 2 - 1
    return 1 + spread * u, np.full(count, 1 / count)


def _window(low: float, high: float, reach: float) -> Floats:
    return np.arange(math.floor(low - reach), math.ceil(high + reach) + 1, dtype=np.float64)


def lattice_of(
    amounts_steps: tuple[float, float],
    noise: tuple[tuple[float, ...], tuple[float, ...]],
    step_mol: tuple[float, float],
    *,
    trials: int,
    spread: float,
    shared_noise: float | None = None,
    shared_sign: float = -1.0,
) -> Lattice:
    """Return the probabilities of the mean amounts over equal trials, read from displays.

    Parameters
    ----------
    amounts_steps : (float, float)
        True amount consumed and produced, each in display steps of one trial.
    noise : two tuples of float
        Repeatability in steps of the readings of each amount: two each (a difference), one (a
        single reading); with ``shared_noise``, of the reading that is not shared.
    step_mol : (float, float)
        Change of the *mean* amount for one step in one trial, mol.
    trials : int
    spread : float
        The amount of each trial lies anywhere within this relative half-width; 0 to below 1.
    shared_noise : float, optional
        Repeatability in steps of a reading that belongs to both amounts (the residue between an
        empty and a full crucible).
    shared_sign : float
        −1 if that reading is added in the one amount and subtracted in the other, else 1.
    """
    x_a, x_b = amounts_steps
    scale, weight = _mass_nodes(amounts_steps, spread)
    reaches = []
    for sigmas in noise:
        every = [*sigmas, *([] if shared_noise is None else [shared_noise])]
        reaches.append(1.0 + _REACH * math.sqrt(math.fsum(s * s for s in every)))
    j_a = _window(x_a * scale[0], x_a * scale[-1], reaches[0])
    j_b = _window(x_b * scale[0], x_b * scale[-1], reaches[1])
    e_a = j_a[None, :] - x_a * scale[:, None]
    e_b = j_b[None, :] - x_b * scale[:, None]
    if shared_noise is None:
        p_a = hump(e_a, len(noise[0]), math.hypot(*noise[0]))
        p_b = hump(e_b, len(noise[1]), math.hypot(*noise[1]))
        p = (p_a * weight[:, None]).T @ p_b
    else:
        p = _shared(e_a, e_b, weight, noise[0][0], noise[1][0], shared_noise, shared_sign)
    if trials > 1:
        shape = [trials * (n - 1) + 1 for n in p.shape]
        p = np.fft.irfft2(np.fft.rfft2(p, s=shape) ** trials, s=shape)
    p = np.where(p > _SMALLEST, p, 0.0)
    rows, columns = np.flatnonzero(p.any(axis=1)), np.flatnonzero(p.any(axis=0))
    p = p[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    total_a = trials * j_a[0] + np.arange(rows[0], rows[-1] + 1)
    total_b = trials * j_b[0] + np.arange(columns[0], columns[-1] + 1)
    return Lattice(step_mol[0] * total_a, step_mol[1] * total_b, p / p.sum())


def _shared(
    e_a: Floats,
    e_b: Floats,
    weight: Floats,
    noise_a: float,
    noise_b: float,
    shared: float,
    sign: float,
) -> Floats:
    """Joint probabilities when one reading belongs to both amounts, summed over the masses."""
    span = 0.5 + math.ceil(_REACH * shared)
    per_step = 240 if min(noise_a, noise_b, shared) < 0.15 else 40
    cells = per_step * round(2 * span)
    z = ((np.arange(cells) + 0.5) / cells * 2 - 1) * span
    w = hump(z, 1, shared) * (2 * span / cells)
    out = np.zeros((e_a.shape[1], e_b.shape[1]))
    for a, b, mass in zip(e_a, e_b, weight, strict=True):
        one = hump(z[:, None] - a, 1, noise_a)
        other = hump(z[:, None] - sign * b, 1, noise_b)
        out += mass * ((one * w[:, None]).T @ other)
    return out


def point_of(consumed: Floats, produced: Floats, weight: Floats) -> Lattice:
    """Return certain pairs of mean amounts (mol) with their weights, as a lattice."""
    return Lattice(consumed, produced, np.diag(weight))


def cells_of(terms: SumDistribution, most: int = 33) -> tuple[Floats, Floats]:
    """Return centres and probabilities of equal cells of a continuous error."""
    if not terms.terms:
        return np.zeros(1), np.ones(1)
    edges = np.linspace(-1, 1, most + 1) * min(terms.bound, 5 * terms.standard_deviation)
    cumulative = SumDistribution(terms.terms, tolerance=_TOLERANCE).cdf(edges)
    cumulative[0], cumulative[-1] = 0.0, 1.0
    return 0.5 * (edges[1:] + edges[:-1]), np.diff(cumulative)


class _Step:
    """Distribution function of a continuous error, tabulated."""

    def __init__(self, error: SumDistribution) -> None:
        self.exact = not error.terms
        if not self.exact:
            error = SumDistribution(error.terms, tolerance=_TOLERANCE)
            end = min(error.bound, 6 * error.standard_deviation)
            self.x = np.linspace(-end, end, 513)
            self.y = error.cdf(self.x)

    def __call__(self, x: Floats) -> Floats:
        if self.exact:
            return (x >= 0).astype(np.float64)
        return np.asarray(np.interp(x, self.x, self.y, left=0.0, right=1.0))


def chances_of(
    lattice: Lattice,
    ratios: Sequence[float],
    limits_mol: Sequence[float],
    truth: int,
    *,
    consumed_error: SumDistribution,
    produced_error: SumDistribution,
) -> Chances:
    """Return the chance of each verdict.

    Parameters
    ----------
    lattice : Lattice
        Mean amounts without the continuous errors.
    ratios, limits_mol : sequences of float
        Ratio of each candidate, and the largest |D_k| that leaves it compatible, mol.
    truth : int
        Index of the true candidate.
    consumed_error, produced_error : SumDistribution
        Independent continuous errors of the mean amounts, mol.
    """
    r, t = np.asarray(ratios), np.asarray(limits_mol)
    shift, weight = cells_of(consumed_error)
    row, column = np.nonzero(lattice.p)
    p, n_a, n_b = lattice.p[row, column], lattice.consumed[row], lattice.produced[column]
    counts = np.zeros(4)
    tie = 1e-9 * float(t.max(initial=0.0))
    step = _Step(produced_error)
    for s, w in zip(shift, weight, strict=True):
        middle = r * (n_a + s)[:, None] - n_b[:, None]
        if step.exact:
            inside = np.abs(middle) <= t + tie
            counts += w * _tally(inside, truth, p)
        else:
            counts += w * _gaps(middle - t, middle + t, step, truth, p)
    right, wrong, several, none = (counts / counts.sum()).tolist()
    return Chances(right, wrong, several, none)


def _tally(inside: NDArray[np.bool_], truth: int, p: Floats) -> Floats:
    """Sum the weights of each kind of verdict; shape of inside (points, candidates)."""
    number = inside.sum(axis=1)
    right = (number == 1) & inside[:, truth]
    return np.array(
        [
            p @ right,
            p @ ((number == 1) & ~right),
            p @ (number > 1),
            p @ (number == 0),
        ]
    )


def _gaps(low: Floats, high: Floats, step: _Step, truth: int, p: Floats) -> Floats:
    """As :func:`_tally`, with the produced amount continuous between the ends of the strips."""
    ends = np.sort(np.concatenate([low, high], axis=1), axis=1)
    cumulative = step(ends)
    edge = np.zeros((len(p), 1))
    mass = np.diff(cumulative, prepend=edge, append=edge + 1, axis=1)
    middle = 0.5 * (ends[:, 1:] + ends[:, :-1])
    middle = np.concatenate([ends[:, :1] - 1, middle, ends[:, -1:] + 1], axis=1)
    out = np.zeros(4)
    for i in range(middle.shape[1]):
        here = middle[:, i : i + 1]
        out += _tally((here >= low) & (here <= high), truth, p * mass[:, i])
    return out
