"""Is a candidate product stable beside the metals present? Standard potentials, spot tests.

What is found here is independent of the readings: it stands beside the verdict and is never mixed
into it. Its limits are large (:data:`LIMITS`), so it may call a candidate unlikely, not impossible.

Cell potentials and equilibrium constants follow the usual relations E = E(cathode) − E(anode) and
ln K = z F E / (R T) (OpenStax Chemistry 2e, 17.3 and 17.4). The table is
``data/potentials.csv``; each row names its source.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from .._common import data_table
from ..chemistry.candidates import Candidate
from ..chemistry.equation import balance_equation, parse_equation
from ..chemistry.formula import Formula, parse_formula
from ..errors import EquationError, ModelError
from ..experiments.record import Experiment
from ..measurement.base import FARADAY_C_PER_MOL, GAS_CONSTANT_J_PER_MOL_K
from ..uncertainty import entry

PREFERRED = "OpenStax Chemistry 2e Appendix L"
_KELVIN = 298.15
_NUMBERS = {"electrons": int, "potential_V": float}
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
    rows: Iterable[dict[str, Any]] = data_table("potentials.csv")
    return tuple(
        Couple(**row | {name: make(row[name]) for name, make in _NUMBERS.items()}) for row in rows
    )


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
    entry.text("oxidised", oxidised)
    entry.text("reduced", reduced)
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
    """Return the potential of a reduction made in several steps, Σ z E / Σ z."""
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

        >>> daniell = cell(couple("Cu^2+", "Cu"), couple("Zn^2+", "Zn"))
        >>> round(daniell.potential_at_V(100.0), 3)
        1.04
        """
        quotient = entry.number("quotient", quotient, above=0)
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
    entry.record("cathode", cathode, Couple)
    entry.record("anode", anode, Couple)
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


LIMITS = (
    "Standard potentials hold at 25 °C and 1 mol/L in water; real solutions are more dilute.",
    "Complexes shift them: chloride, ammonia and cyanide hold copper(I), for one, in solution.",
    "A reaction that is possible may be too slow to see, or stopped by a skin of oxide.",
    "Published tables differ by some hundredths of a volt, for manganese by 0.16 V.",
)
"""What has to be said beside every finding."""
_ANIONS = {
    "Cl": 1, "Br": 1, "I": 1, "F": 1, "NO3": 1, "CH3COO": 1, "ClO4": 1, "SO4": 2,
}  # fmt: skip
"""Ions of usual soluble salts and their charge; others are not looked through."""


@dataclass(frozen=True, slots=True)
class RedoxFinding:
    """What standard potentials say about one candidate.

    Attributes
    ----------
    candidate : str
    ion : str
        The ion the candidate stands for.
    kind : str
        ``"formation"``: the reaction of the candidate itself; ``"reduction"``: the ion with a
        metal that is present; ``"disproportionation"``: the ion with itself.
    cell : Cell
    against : bool
        Whether it speaks against the candidate (within :data:`LIMITS`).
    """

    candidate: str
    ion: str
    kind: str
    cell: Cell
    against: bool


def ion_formed(candidate: Candidate) -> str:
    """Return the ion of the consumed metal that a candidate stands for; "" if it is not told.

    Where electrons are consumed, the ion that is discharged.
    """
    if candidate.consumed == "e-":
        return _ion_in(candidate, candidate.produced, reactants=True)
    return _ion_in(candidate, candidate.consumed, reactants=False)


def _ion_in(candidate: Candidate, element: str, *, reactants: bool) -> str:
    """Return the ion of an element on one side of a candidate's equation; "" if there is none."""
    if not candidate.equation:
        return ""
    equation = parse_equation(candidate.equation)
    for term in equation.left if reactants else equation.right:
        ion = _cation(term.formula, element)
        if ion:
            return ion
    return ""


def _cation(formula: Formula, element: str) -> str:
    """Return a simple ion of the element as it is or in one of the usual salts."""
    counts = dict(formula.counts)
    atoms = counts.pop(element, 0)
    if not atoms:
        return ""
    if not counts and formula.charge > 0:
        return formula.plain().removesuffix(f"({formula.state})")
    for anion, charge in _ANIONS.items():
        parts = parse_formula(anion).counts
        if formula.charge or counts.keys() != parts.keys():
            continue
        units, *others = {counts[symbol] / n for symbol, n in parts.items()}
        state = units * charge / atoms
        if not others and state == int(state) >= 1:
            return f"{element}^{int(state) if state > 1 else ''}+"
    return ""


def metals_present(experiment: Experiment) -> tuple[str, ...]:
    """Return the metals that are there while the candidate's ion is in solution."""
    known = {c.reduced for c in couples()}
    species = (experiment.consumed.species, experiment.produced.species)
    return tuple(s for s in species if s in known and s.isalpha())


@lru_cache(maxsize=1)
def _best() -> tuple[Couple, ...]:
    """Return one row for each couple of the table."""
    pairs = dict.fromkeys((c.oxidised, c.reduced) for c in couples() if not c.medium)
    return tuple(couple(*pair) for pair in pairs)


def redox_findings(experiment: Experiment) -> tuple[RedoxFinding, ...]:
    """Say what standard potentials have for or against each candidate.

    Parameters
    ----------
    experiment : Experiment

    Returns
    -------
    tuple of RedoxFinding
        By candidate; empty for those whose ion is not told or not in the table. Never part of
        the verdict.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> for found in redox_findings(experiments.load("copper-silver")):
    ...     print(found.candidate, found.kind, found.cell.equation,
    ...           f"{found.cell.potential_V:+.3f} V", found.against)
    copper(I) formation Cu + Ag^+ -> Cu^+ + Ag +0.279 V False
    copper(I) disproportionation 2 Cu^+ -> Cu + Cu^2+ +0.368 V True
    copper(II) formation Cu + 2 Ag^+ -> Cu^2+ + 2 Ag +0.463 V False
    copper(II) reduction Cu^2+ + Cu -> 2 Cu^+ -0.368 V False
    copper(II) reduction Cu^2+ + Ag -> Cu^+ + Ag^+ -0.647 V False
    """
    found = []
    for candidate in entry.record("experiment", experiment, Experiment).candidates:
        ion = ion_formed(candidate)
        if not ion:
            continue
        made = _formation(candidate, ion)
        reacting = [("formation", made)] if made is not None else []
        for metal in metals_present(experiment):
            by_metal = _reduction(ion, metal)
            reacting += [("reduction", by_metal)] if by_metal is not None else []
        with_itself = _disproportionation(ion)
        reacting += [("disproportionation", with_itself)] if with_itself is not None else []
        for kind, one in reacting:
            against = one.direction == ("backward" if kind == "formation" else "forward")
            found.append(RedoxFinding(candidate.name, ion, kind, one, against))
    return tuple(found)


def _formation(candidate: Candidate, ion: str) -> Cell | None:
    """Return the cell of the candidate's own reaction, if both couples are known."""
    taken = (
        candidate.produced.removesuffix("2") if candidate.produced == "H2" else (candidate.produced)
    )
    displaced = _ion_in(candidate, taken, reactants=True)
    if not displaced or candidate.consumed == "e-":
        return None
    try:
        cathode = couple(displaced, candidate.produced)
        made = cell(cathode, couple(ion, candidate.consumed))
    except ModelError:
        return None
    # a balanced ionic equation of the candidate's own is easier to recognise
    own = parse_equation(candidate.equation)
    ionic = all(t.formula.charge or len(t.formula.counts) == 1 for t in (*own.left, *own.right))
    if not ionic:
        return made
    return Cell(made.cathode, made.anode, candidate.equation, made.electrons, made.potential_V)


def _reduction(ion: str, metal: str) -> Cell | None:
    """Return the cell in which a metal reduces the ion to a lower ion, its best way."""
    cathodes = [c for c in _best() if c.oxidised == ion and "^" in c.reduced]
    anodes = [c for c in _best() if c.reduced == metal and c.oxidised != ion]
    pairs = [cell(c, a) for c in cathodes for a in anodes]
    return max(pairs, key=lambda one: one.potential_V, default=None)


def _disproportionation(ion: str) -> Cell | None:
    down = [c for c in _best() if c.oxidised == ion]
    up = [c for c in _best() if c.reduced == ion]
    if not down or not up:
        return None
    return max((cell(c, a) for c in down for a in up), key=lambda one: one.potential_V)


@dataclass(frozen=True, slots=True)
class SpotTest:
    """A quick test for an ion in solution.

    Attributes
    ----------
    ion, reagent, seen : str
        What is tested for, with what, and what a positive test looks like.
    misled_by, cautions, source : str
    """

    ion: str
    reagent: str
    seen: str
    misled_by: str
    cautions: str
    source: str


def spot_tests(ion: str) -> tuple[SpotTest, ...]:
    """Return the spot tests the table has for an ion.

    >>> [test.seen for test in spot_tests("Fe^3+")]
    ['deep blue precipitate', 'blood-red colour']
    """
    entry.text("ion", ion)
    return tuple(SpotTest(**row) for row in data_table("spot_tests.csv") if row["ion"] == ion)


def suggested_tests(experiment: Experiment) -> tuple[tuple[str, SpotTest], ...]:
    """Return the spot tests that would confirm each candidate, with its name.

    >>> from stoichkit import experiments
    >>> [(name, test.ion) for name, test in suggested_tests(experiments.load("copper-silver"))]
    [('copper(I)', 'Cu^+'), ('copper(II)', 'Cu^2+')]
    """
    return tuple(
        (candidate.name, test)
        for candidate in entry.record("experiment", experiment, Experiment).candidates
        for test in spot_tests(ion_formed(candidate))
    )
