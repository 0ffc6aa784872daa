"""What would overturn the verdict of a class: few groups left out, or one fault in all of them."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..chemistry.elements import molar_mass_value
from ..decision.overturning import changed, halved_in
from ..decision.verdict import Verdict, VerdictKind

if TYPE_CHECKING:
    from .verdict import ClassTest, ClassVerdict

_PRECISION = 0.02
_LARGEST = 0.5
"""A scale that is off by more than half is no fault any more."""
MASS, SCALE = "constant mass on the product", "scale"


@dataclass(frozen=True, slots=True)
class ClassFault:
    """The smallest fault of one kind, alike in every trial of a class, that changes its verdict.

    Attributes
    ----------
    kind : str
        ``"constant mass on the product"`` or ``"scale"``.
    size : float
        What would have to be added to the product of every trial, in ``unit``, or to it as a
        fraction of itself.
    unit : str
        "g", "mmol" where no product with a molar mass is named, or "" for a fraction.
    verdict : Verdict
        What it would lead to.
    """

    kind: str
    size: float
    unit: str
    verdict: Verdict


def class_faults(found: ClassVerdict, test: ClassTest) -> Iterator[ClassFault]:
    """Yield the smallest constant mass and the smallest error of scale that change a verdict.

    A candidate fits surely where the mean discrepancy from it is zero: between that and nothing
    the size is halved in.
    """
    if found.verdict.kind is VerdictKind.CANNOT_BE_JUDGED:
        return
    linear = found.amounts.linear
    product = found.produced
    per_mol, unit = (molar_mass_value(product), "g") if product else (1e3, "mmol")
    rivals = [float(c.candidate.ratio) for c in found.candidates.values() if not c.compatible]
    near = _next(rivals, found.ratio)
    needed = [-linear.mean(ratio, 1.0) for ratio in near]
    shifts = [(mol, mol * per_mol) for mol in needed]
    made = linear.mean_produced
    scales = [(mol / made, mol / made) for mol in needed if made > 0]
    for kind, sizes, named in ((MASS, shifts, unit), (SCALE, scales, "")):
        best: ClassFault | None = None
        for inner, outer in sizes:
            if kind == SCALE and abs(inner) > _LARGEST:
                continue

            def at(part: float, inner: float = inner, kind: str = kind) -> Verdict:
                size = part * inner
                add, times = (size, 1.0) if kind == MASS else (0.0, 1.0 + size)
                return _judged(test.shifted(add, times), found)

            part, verdict = _least(at, found.verdict)
            if verdict is not None and (best is None or part * abs(outer) < abs(best.size)):
                best = ClassFault(kind, part * outer, named, verdict)
        if best is not None:
            yield best


def _judged(test: ClassTest, found: ClassVerdict) -> Verdict:
    """Return what a test of other amounts says of the candidates of a class."""
    return test.verdict([c.candidate for c in found.candidates.values()], found.coverage)


def _next(ratios: Sequence[float], found: float) -> list[float]:
    """Return the ratios next above and below the one found."""
    above = [r for r in ratios if r > found]
    below = [r for r in ratios if r <= found]
    return [*([min(above)] if above else []), *([max(below)] if below else [])]


def _least(at: Callable[[float], Verdict], before: Verdict) -> tuple[float, Verdict | None]:
    """Return the least part at which a verdict is another, which it should be at 1."""
    found = at(1.0)
    if not changed(found, before):
        return math.nan, None
    return halved_in(at, (0.0, 1.0), found, before, _PRECISION)


def fewest_groups(found: ClassVerdict, test: ClassTest) -> tuple[tuple[str, ...], Verdict | None]:
    """Return the fewest groups without which the verdict is another, and that verdict.

    Those that speak most against the next candidate are left out one after another, down to two
    groups; () if that changes nothing. With a single group all are tried.
    """
    if found.verdict.kind is VerdictKind.CANNOT_BE_JUDGED:
        return (), None
    single = {n: v for n, v in found.without.items() if changed(v, found.verdict)}
    if single:
        name = min(single)
        return (name,), single[name]
    rivals = [float(c.candidate.ratio) for c in found.candidates.values() if not c.compatible]
    best: tuple[tuple[str, ...], Verdict | None] = ((), None)
    for ratio in _next(rivals, found.ratio) or [found.ratio]:
        amounts = found.amounts
        d = dict(zip(amounts.names, amounts.discrepancies(ratio, 1.0).tolist(), strict=True))
        order = sorted(d, key=d.__getitem__, reverse=math.fsum(d.values()) >= 0)
        most = len(best[0]) - 1 if best[0] else len(order) - 2
        left = test
        for count in range(1, most + 1):
            left = left.without(order[count - 1])
            verdict = _judged(left, found)
            if changed(verdict, found.verdict):
                best = tuple(order[:count]), verdict
                break
    return best
