"""Steps that a worked solution is made of: values with their figures, remarks, means, ratios."""

from __future__ import annotations

import math
from collections.abc import Sequence

from .evidence import Evidence
from .figures import GUARD_DIGITS, Figured, Token, written
from .wording import two_digits
from .worked_styles import Equation

__all__ = ["MOL", "guarded", "mean_of", "ratio_equation", "remark_on", "symbols_of"]

MOL = "mol"


def remark_on(value: Figured, uncertainty: float, words: str = "") -> str:
    """Say after an equation what it is, its significant figures and its uncertainty."""
    notes = [words] if words else []
    unit = f" {value.unit}" if value.unit else ""
    if math.isfinite(value.figures):
        plural = "" if value.figures == 1 else "s"
        stated = written(value.value, value.decimals)
        notes.append(f"{value.figures:.0f} significant figure{plural}: {stated}{unit}")
    if uncertainty:
        notes.append(f"± {two_digits(uncertainty)}{unit}")
    return f"({'; '.join(notes)})" if notes else ""


def guarded(value: Figured, guard: int = GUARD_DIGITS) -> Token:
    """Write a value with its unit and so many digits more than count."""
    text = written(value.value, value.decimals + guard)
    return Token("number", f"{text} {value.unit}".strip())


def symbols_of(evidence: Evidence) -> tuple[str, str]:
    """Return the symbols of the amounts consumed and produced, such as ``n(Cu)``."""
    experiment = evidence.experiment
    return f"n({experiment.consumed.species})", f"n({experiment.produced.species})"


def ratio_equation(evidence: Evidence, a: Figured, b: Figured) -> Equation:
    """Divide the amount produced, ``b``, by the one consumed, ``a``."""
    consumed, produced = symbols_of(evidence)
    ratio = b.value / a.value
    size = math.floor(math.log10(abs(ratio))) + 1 if ratio else 1
    value = Figured(ratio, min(a.figures, b.figures) - size)
    slash = Token("sign", "/")
    left = (Token("symbol", produced), slash, Token("symbol", consumed))
    numbers = (guarded(b), slash, guarded(a))
    return Equation((left, numbers, (guarded(value),)), remark_on(value, 0.0, "mole ratio"))


def mean_of(mean: float, amounts: Sequence[Figured]) -> Figured:
    """Return the mean with the significant figures of the sum: how many there are is exact."""
    total = Figured(mean * len(amounts), min(one.decimals for one in amounts), MOL)
    if not mean or not math.isfinite(total.figures):
        return Figured(mean, total.decimals, MOL)
    return Figured(mean, total.figures - 1 - math.floor(math.log10(abs(mean))), MOL)
