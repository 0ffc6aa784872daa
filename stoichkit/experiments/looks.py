"""How often a lab asks for its verdict, and what is judged each time so that the promise holds.

Who asks after every stage, and stops when one candidate is left, gives the truth several chances to
be excluded. With k looks at equal stages and one constant level the chance is that of a sum of
normal errors ever leaving ±c√k; it follows by integrating its density over the stages one after the
other (P. Armitage, C. K. McPherson and B. C. Rowe, J. R. Stat. Soc. A 132 (1969) 235-244), and the
level that keeps it at 5 % is that of S. J. Pocock (Biometrika 64 (1977) 191-199).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import ROUND_DOWN, Context
from functools import lru_cache
from statistics import NormalDist

from ..errors import ExperimentError
from ..uncertainty import entry
from .parts import Variation

MOST_LOOKS = 20
_MOST_EACH = 64
_NODES = 96
_HALVINGS = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class Looks:
    """How often the verdict is asked for while trials are added.

    Attributes
    ----------
    planned : int or None
        Looks planned before the lab, 1 to 20: one after each stage. The promise then holds over
        all of them together.
    trials_each : int
        Trials that each stage adds, 1 to 64; which look it is follows from the trials.
    before : int
        How often it was asked before without a plan, with fewer trials, 1 to 20; in place of
        ``planned``. Nothing is made good: the verdict says what that does to the promise.

    Raises
    ------
    ExperimentError
        If both or neither of ``planned`` and ``before`` are stated, or a number cannot be used.

    Examples
    --------
    >>> looks = Looks(planned=5, trials_each=2)
    >>> looks.number(4), looks.level(0.05)
    (2, 0.0158)
    >>> Looks(planned=2, before=1)
    Traceback (most recent call last):
    stoichkit.errors.ExperimentError: looks: The looks are said to be planned and not planned.
    Given: planned = 2, before = 1. Allowed: one of the two. ...
    """

    planned: int | None = None
    trials_each: int = 1
    before: int = 0

    def __post_init__(self) -> None:
        planned, each, before = self.planned, self.trials_each, self.before
        if planned is not None:
            planned = entry.whole(
                "looks.planned", planned, least=1, most=MOST_LOOKS, error=ExperimentError
            )
        each = entry.whole("looks.trials_each", each, least=1, most=_MOST_EACH,
                           error=ExperimentError)  # fmt: skip
        before = entry.whole(
            "looks.before", before, least=0, most=MOST_LOOKS, error=ExperimentError
        )
        entry.kept(self, planned=planned, trials_each=each, before=before)
        if planned is not None and before:
            raise ExperimentError(
                "The looks are said to be planned and not planned.",
                field="looks",
                given=f"planned = {planned}, before = {before}",
                allowed="one of the two",
                fix="Leave out “before” if this lab keeps to its plan, else “planned”.",
            )
        if planned is None and (each != 1 or not before):
            raise ExperimentError(
                "It is not said how many looks are planned, or were taken before.",
                field="looks.planned",
                given=f"trials_each = {each}" if each != 1 else None,
                allowed=f"planned = 1 to {MOST_LOOKS}, with or without trials_each; or before = 1 "
                f"to {MOST_LOOKS}, for looks without a plan",
                fix="Leave the whole table out if the verdict is asked for once.",
            )

    def number(self, trials: int) -> int:
        """Return which look it is with so many trials, counted from 1."""
        return self.before + 1 if self.planned is None else -(-trials // self.trials_each)

    def is_planned(self, trials: int) -> bool:
        """Return whether a look with so many trials is one of those planned.

        >>> [Looks(planned=2, trials_each=3).is_planned(n) for n in (3, 4, 6, 9)]
        [True, False, True, False]
        """
        if self.planned is None or trials % self.trials_each:
            return False
        return self.number(trials) <= self.planned

    @property
    def most_trials(self) -> int | None:
        """Trials at the last look planned; None without a plan."""
        return None if self.planned is None else self.planned * self.trials_each

    def level(self, alpha: float, variation: Variation | None = None) -> float:
        """Return below which p a candidate is excluded at each look.

        ``alpha`` is what all planned looks may exclude the truth at together. Where Student t
        decides (the variation between trials is unknown or was estimated) it is ``alpha`` over the
        looks, a proved bound (Bonferroni); elsewhere that of :func:`constant_level`, rounded down
        to three digits. Without a plan it is ``alpha``.

        >>> Looks(planned=5).level(0.05, Variation(unknown=True)), Looks(before=4).level(0.05)
        (0.01, 0.05)
        """
        if self.planned is None or self.planned == 1:
            return alpha
        if by_student(variation):
            return alpha / self.planned
        exact = constant_level(self.planned, alpha)
        return float(Context(prec=3, rounding=ROUND_DOWN).create_decimal(exact))

    def ever(self, trials: int, alpha: float, variation: Variation | None = None) -> float:
        """Return at most how often the truth is excluded at some look up to this one.

        ``alpha`` itself at a planned look. Beyond the plan, and without one, for normal errors and
        equal stages; between two stages the sum of what the plan and this look may exclude.

        >>> round(Looks(before=4).ever(5, 0.05), 3), round(Looks(planned=2).ever(3, 0.05), 3)
        (0.142, 0.065)
        """
        if self.is_planned(trials):
            return alpha
        level = self.level(alpha, variation)
        number = self.number(trials)
        if self.planned is not None and number <= self.planned:
            return alpha + level
        if by_student(variation):
            return min(1.0, number * level)
        return ever_excluded(number, level)


def by_student(variation: Variation | None) -> bool:
    """Return whether Student t decides, for which no constant level is worked out.

    >>> by_student(None), by_student(Variation(relative=0.02, from_trials=8))
    (False, True)
    """
    return variation is not None and (variation.unknown or math.isfinite(variation.dof))


def ever_excluded(looks: int, level: float) -> float:
    """Return the chance that the truth is excluded at one of so many equal stages or more.

    >>> [round(ever_excluded(k, 0.05), 3) for k in (1, 2, 3, 5, 10)]
    [0.05, 0.083, 0.107, 0.142, 0.193]
    """
    return _ever_outside(looks, NormalDist().inv_cdf(1 - level / 2))


@lru_cache(maxsize=64)
def constant_level(looks: int, alpha: float) -> float:
    """Return the level a look at which so many exclude the truth ``alpha`` of the time together.

    For normal errors and stages of equally many trials; errors that all trials share make the
    looks more alike, and it rarer.

    >>> [round(constant_level(k, 0.05), 4) for k in (2, 3, 4, 5, 10)]
    [0.0294, 0.0221, 0.0182, 0.0158, 0.0106]
    """
    low = NormalDist().inv_cdf(1 - alpha / 2)
    high = NormalDist().inv_cdf(1 - alpha / looks / 2)
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if _ever_outside(looks, middle) > alpha else (low, middle)
    return math.erfc(high / math.sqrt(2))


def _ever_outside(looks: int, limit: float) -> float:
    """Return P(|S_k| > limit √k for some k up to ``looks``), S_k a sum of k normal errors."""
    import numpy as np  # records need it no earlier

    from ..uncertainty.distribution import legendre

    node, weight = legendre(_NODES)
    scale = 1 / math.sqrt(2 * math.pi)
    s = limit * (1 + node) / 2  # by symmetry the upper half is enough
    density = scale * np.exp(-s * s / 2)
    mass = limit / 2 * weight * density
    for k in range(2, looks + 1):
        reach = limit * math.sqrt(k)
        at = reach * (1 + node) / 2
        kernel = np.exp(-((at[:, None] - s) ** 2) / 2) + np.exp(-((at[:, None] + s) ** 2) / 2)
        mass = reach / 2 * weight * (scale * kernel @ mass)
        s = at
    return 1 - 2 * float(mass.sum())
