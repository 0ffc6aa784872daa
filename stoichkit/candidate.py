"""One candidate product with its exact mole ratio, and the check that candidates differ."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from .errors import ModelError

__all__ = ["Candidate", "check_candidates"]


@dataclass(frozen=True, slots=True)
class Candidate:
    """One product that might have formed.

    Attributes
    ----------
    name : str
        What the candidate is called in tables and plots.
    ratio : Fraction
        n(produced) / n(consumed), above 0.
    equation : str
        Balanced equation as plain text, ``""`` where none is given.
    consumed, produced : str
        The two substances whose amounts are measured, ``""`` where not stated.

    Raises
    ------
    ModelError
        If the name is empty or the ratio is not an exact number above 0.

    Examples
    --------
    >>> Candidate("iron(II)", Fraction(1), consumed="Fe", produced="Cu").ratio
    Fraction(1, 1)
    """

    name: str
    ratio: Fraction
    equation: str = ""
    consumed: str = ""
    produced: str = ""

    def __post_init__(self) -> None:
        if not isinstance(self.name, str) or not self.name.strip():
            raise ModelError("A candidate needs a name.", given=self.name, allowed="any text")
        if not isinstance(self.ratio, Fraction) or self.ratio <= 0:
            raise ModelError(
                f"The mole ratio of {self.name} cannot be used.",
                given=self.ratio,
                allowed="a Fraction above 0, n(produced) / n(consumed)",
            )


def check_candidates(candidates: Iterable[Candidate]) -> tuple[Candidate, ...]:
    """Return the candidates if they can be told apart by name and by ratio.

    Parameters
    ----------
    candidates : iterable of Candidate
        At least one.

    Raises
    ------
    ModelError
        If there are none, or two share a name or a ratio.

    Examples
    --------
    >>> check_candidates([Candidate("a", Fraction(1)), Candidate("b", Fraction(2, 2))])
    Traceback (most recent call last):
    ...
    stoichkit.errors.ModelError: The candidates a and b cannot be told apart: both have the mole
    ratio 1. Give one name to both, or measure something else.
    """
    checked = tuple(candidates)
    if not checked:
        raise ModelError("There is no candidate.", allowed="at least one")
    names: set[str] = set()
    ratios: dict[Fraction, str] = {}
    for candidate in checked:
        if candidate.name in names:
            raise ModelError(
                "Two candidates have the same name.",
                given=candidate.name,
                fix="Give each a name of its own.",
            )
        names.add(candidate.name)
        other = ratios.setdefault(candidate.ratio, candidate.name)
        if other != candidate.name:
            raise ModelError(
                f"The candidates {other} and {candidate.name} cannot be told apart: both have the "
                f"mole ratio {candidate.ratio}.",
                fix="Give one name to both, or measure something else.",
            )
    return checked
