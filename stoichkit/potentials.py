"""Standard potentials: couples, what two of them make, and steps put together.

Cell potentials and equilibrium constants follow the usual relations E = E(cathode) − E(anode) and
ln K = z F E / (R T) (OpenStax Chemistry 2e, 17.3 and 17.4). The table is
``data/potentials.csv``; each row names its source.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files

from .amount_base import FARADAY_C_PER_MOL, GAS_CONSTANT_J_PER_MOL_K
from .equation import balance_equation
from .errors import EquationError, ModelError

__all__ = ["Cell", "Couple", "cell", "combined_potential_V", "couple", "couples", "table"]

PREFERRED = "OpenStax Chemistry 2e Appendix L"
_KELVIN = 298.15
_DECISIVE_V = 0.05
"""Cell potentials nearer to zero than this decide nothing: tables differ by as much."""


@dataclass(frozen=True, slots=True)
class Couple:
    """A half-reaction, written as a reduction, with its standard potential.

    Attributes
    ----------
    oxidised, reduced : str
        Formulas of the two states.
    electrons : int
        Electrons taken up in the half-reaction as written in the table.
    potential_V : float
        Against the standard hydrogen electrode at 25 °C.
    medium, source, status : str
        Solution it was stated for ("" for none); where it comes from; ``"read"``,
        ``"memory"`` or ``"calculated"``.
    """

    oxidised: str
    reduced: str
    electrons: int
    potential_V: float
    medium: str
    source: str
    status: str


@lru_cache(maxsize=1)
def couples() -> tuple[Couple, ...]:
    """Return every row of the table; one couple may have rows from several sources.

    >>> sorted({c.potential_V for c in couples() if (c.oxidised, c.reduced) == ("Fe^2+", "Fe")})
    [-0.447, -0.44, -0.409]
    """
    return tuple(
        Couple(
            row["oxidised"],
            row["reduced"],
            int(row["electrons"]),
            float(row["potential_V"]),
            row["medium"],
            row["source"],
            row["status"],
        )
        for row in table("potentials.csv")
    )


def table(name: str) -> list[dict[str, str]]:
    """Return the rows of a CSV table of the package.

    >>> table("spot_tests.csv")[0]["ion"]
    'Fe^2+'
    """
    text = (files("stoichkit") / "data" / name).read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))


def couple(oxidised: str, reduced: str) -> Couple:
    """Return the couple of two states, from one table where that has it.

    Where no table has it but two steps lead from one state to the other, it is calculated from
    them (status ``"calculated"``): steps read in one table are better than a value from memory.

    Raises
    ------
    ModelError
        If the couple is not in the table and cannot be calculated.

    Examples
    --------
    >>> couple("Cu^2+", "Cu").potential_V
    0.337
    >>> iron = couple("Fe^3+", "Fe")
    >>> round(iron.potential_V, 3), iron.status
    (-0.041, 'calculated')
    """
    found = _known(oxidised, reduced)
    if found is not None and found.source == PREFERRED:
        return found
    for step in couples():
        if step.oxidised == oxidised and step.source == PREFERRED:
            rest = _known(step.reduced, reduced)
            if rest is not None and rest.source == PREFERRED:
                potential = combined_potential_V(
                    [(step.potential_V, step.electrons), (rest.potential_V, rest.electrons)]
                )
                total = step.electrons + rest.electrons
                by = f"from {oxidised}/{step.reduced} and {rest.oxidised}/{reduced}, {PREFERRED}"
                return Couple(oxidised, reduced, total, potential, "", by, "calculated")
    if found is None:
        raise ModelError(
            "The table has no standard potential for this couple.",
            given=f"{oxidised} / {reduced}",
            allowed=", ".join(sorted({f"{c.oxidised}/{c.reduced}" for c in couples()})),
        )
    return found


def _known(oxidised: str, reduced: str) -> Couple | None:
    """Return the best row: the preferred table, then what was read, then without a medium."""
    rows = [c for c in couples() if (c.oxidised, c.reduced) == (oxidised, reduced)]
    return min(
        rows,
        key=lambda c: (c.source != PREFERRED, c.status != "read", bool(c.medium)),
        default=None,
    )


def combined_potential_V(steps: Iterable[tuple[float, int]]) -> float:
    """Return the potential of a reduction made in several steps, Σ z E / Σ z.

    Parameters
    ----------
    steps : iterable of (potential in V, electrons)

    Raises
    ------
    ModelError
        If the electrons do not add up to a number other than 0.

    Examples
    --------
    >>> round(combined_potential_V([(0.153, 1), (0.521, 1)]), 3)
    0.337
    """
    pairs = list(steps)
    total = sum(electrons for _, electrons in pairs)
    if not total:
        raise ModelError("No electrons are passed in these steps.", given=pairs)
    return sum(potential * electrons for potential, electrons in pairs) / total


@dataclass(frozen=True, slots=True)
class Cell:
    """A reaction made of two half-reactions.

    Attributes
    ----------
    cathode, anode : Couple
        The couple that is reduced, and the one that is oxidised.
    equation : str
        Balanced equation; "" where water or acid takes part, or a species is on both sides.
    electrons : int
        Passed in the equation as written.
    potential_V : float
        Above 0 where the reaction goes as written under standard conditions.
    """

    cathode: Couple
    anode: Couple
    equation: str
    electrons: int
    potential_V: float

    @property
    def log10_K(self) -> float:
        """Decadic logarithm of the equilibrium constant at 25 °C."""
        joules = self.electrons * FARADAY_C_PER_MOL * self.potential_V
        return joules / (GAS_CONSTANT_J_PER_MOL_K * _KELVIN * math.log(10))

    @property
    def gibbs_energy_kJ_per_mol(self) -> float:
        """Standard Gibbs energy of the equation as written, kJ/mol."""
        return -self.electrons * FARADAY_C_PER_MOL * self.potential_V / 1000

    def potential_at_V(self, quotient: float) -> float:
        """Return the potential at another reaction quotient than 1, 25 °C (Nernst equation).

        Parameters
        ----------
        quotient : float > 0
            Reaction quotient of the equation as written, concentrations in mol/L.

        Raises
        ------
        ModelError
            If the quotient is not above 0.

        Examples
        --------
        >>> daniell = cell(couple("Cu^2+", "Cu"), couple("Zn^2+", "Zn"))
        >>> round(daniell.potential_at_V(100.0), 3)
        1.04
        """
        if not quotient > 0:
            raise ModelError("The reaction quotient cannot be used.", given=quotient,
                             allowed="above 0")  # fmt: skip
        slope = GAS_CONSTANT_J_PER_MOL_K * _KELVIN / (self.electrons * FARADAY_C_PER_MOL)
        return self.potential_V - slope * math.log(quotient)

    @property
    def direction(self) -> str:
        """``"forward"``, ``"backward"``, or ``"undecided"`` within 0.05 V of zero."""
        if abs(self.potential_V) < _DECISIVE_V:
            return "undecided"
        return "forward" if self.potential_V > 0 else "backward"


def cell(cathode: Couple, anode: Couple) -> Cell:
    """Put two half-reactions together.

    Examples
    --------
    >>> silver_iron = cell(couple("Ag^+", "Ag"), couple("Fe^2+", "Fe"))
    >>> silver_iron.equation, round(silver_iron.potential_V, 3), round(silver_iron.log10_K, 1)
    ('2 Ag^+ + Fe -> 2 Ag + Fe^2+', 1.247, 42.1)
    """
    electrons = math.lcm(cathode.electrons, anode.electrons)
    left = dict.fromkeys((cathode.oxidised, anode.reduced))
    right = dict.fromkeys((cathode.reduced, anode.oxidised))
    text = ""
    if not left.keys() & right.keys():
        try:
            text = balance_equation(f"{' + '.join(left)} -> {' + '.join(right)}").text()
        except EquationError:  # water or acid takes part
            text = ""
    return Cell(cathode, anode, text, electrons, cathode.potential_V - anode.potential_V)
