"""Is a candidate product stable beside the metals present? Standard potentials, kept apart.

What is found here is independent of the readings: it stands beside the verdict and is never mixed
into it. Its limits are large (:data:`LIMITS`), so it may call a candidate unlikely, not impossible.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from .candidates import Candidate
from .equation import parse_equation
from .errors import ModelError
from .experiment import Experiment
from .formula import Formula, parse_formula
from .potentials import Cell, Couple, cell, combined_potential_V, couple, couples, table

__all__ = [
    "LIMITS",
    "Cell",
    "Couple",
    "RedoxFinding",
    "SpotTest",
    "cell",
    "combined_potential_V",
    "couple",
    "couples",
    "ion_formed",
    "metals_present",
    "redox_findings",
    "spot_tests",
    "suggested_tests",
]

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

    Examples
    --------
    >>> from stoichkit.candidates import from_equations, oxidation_states
    >>> [ion_formed(c) for c in oxidation_states("Fe", [2, 3])]
    ['Fe^2+', 'Fe^3+']
    >>> ion_formed(*from_equations(["Cu + AgNO3 -> Cu(NO3)2 + Ag"], consumed="Cu", produced="Ag"))
    'Cu^2+'
    """
    if candidate.consumed == "e-":
        return _ion_in(candidate, candidate.produced, reactants=True)
    return _ion_in(candidate, candidate.consumed, reactants=False)


def _ion_in(candidate: Candidate, element: str, *, reactants: bool) -> str:
    """Return the ion of an element on one side of a candidate's equation; "" if there is none."""
    if not candidate.equation or not element:
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
        units = {counts.get(symbol, 0) / n for symbol, n in parts.items()}
        if counts.keys() == parts.keys() and len(units) == 1 and not formula.charge:
            state = units.pop() * charge / atoms
            if state == int(state) >= 1:
                return f"{element}^{int(state) if state > 1 else ''}+"
    return ""


def metals_present(experiment: Experiment) -> tuple[str, ...]:
    """Return the metals that are there while the candidate's ion is in solution.

    >>> from stoichkit import experiments
    >>> metals_present(experiments.load("copper-silver"))
    ('Cu', 'Ag')
    """
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
    for candidate in experiment.candidates:
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
    return tuple(SpotTest(**row) for row in table("spot_tests.csv") if row["ion"] == ion)


def suggested_tests(experiment: Experiment) -> tuple[tuple[str, SpotTest], ...]:
    """Return the spot tests that would confirm each candidate, with its name.

    >>> from stoichkit import experiments
    >>> [(name, test.ion) for name, test in suggested_tests(experiments.load("copper-silver"))]
    [('copper(I)', 'Cu^+'), ('copper(II)', 'Cu^2+')]
    """
    return tuple(
        (candidate.name, test)
        for candidate in experiment.candidates
        for test in spot_tests(ion_formed(candidate))
    )
