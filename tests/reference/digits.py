"""How far two numbers agree, for the outside checks."""

from __future__ import annotations

import math

__all__ = ["like", "matching_digits"]


def matching_digits(found: float, expected: float) -> float:
    """Return how many significant digits of two numbers agree, at most 16.

    That is −log10 of the relative difference; of the absolute one when 0 is expected.

    >>> round(matching_digits(3.1416, 3.14159), 1)
    5.5
    """
    difference = abs(found - expected) / (abs(expected) or 1.0)
    return 16.0 if difference < 1e-16 else -math.log10(difference)


def like(printed: str, found: float) -> str:
    """Write a number with as many decimals as a printed one has.

    >>> like("0.0754", 0.07543)
    '0.0754'
    """
    _, _, decimals = printed.partition(".")
    return f"{found:.{len(decimals)}f}"
