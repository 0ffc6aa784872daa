"""What a substance usually forms: ions of a metal, hydrates of a salt, oxides, gases.

Suggestions to choose from, never limits: anything else can be typed. The ions are those of the
table of standard potentials; hydrates, oxides, gases and precipitates are from memory
(``data/README.md``).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import lru_cache

from .._common import FrozenMap, data_table
from ..errors import FormulaError
from ..uncertainty import entry
from .formula import parse_formula
from .oxidation import NON_METALS, charge_sum

_ION = re.compile(r"([A-Z][a-z]?)([0-9]*)\^([0-9]*)\+")
_GAS_OF = {"hydrogen": "H2", "oxygen": "O2", "nitrogen": "N2", "chlorine": "Cl2"}


@lru_cache(maxsize=1)
def usual_states() -> Mapping[str, tuple[int, ...]]:
    """Return the charges of the ions that each metal forms in water, by its symbol.

    >>> states = usual_states()
    >>> states["Fe"], states["Cu"], states["Zn"]
    ((2, 3), (1, 2), (2,))
    """
    found: dict[str, set[int]] = {}
    for row in data_table("potentials.csv"):
        for species in (row["oxidised"], row["reduced"]):
            ion = _ION.fullmatch(species)
            if ion and ion[1] not in NON_METALS:
                charge = int(ion[3] or 1) // int(ion[2] or 1)
                found.setdefault(ion[1], set()).add(charge)
    return FrozenMap({metal: tuple(sorted(found[metal])) for metal in sorted(found)})


@lru_cache(maxsize=4)
def usual_compounds(kind: str) -> Mapping[str, tuple[str, ...]]:
    """Return what is usual of a kind: hydrate, oxide, gas or precipitate.

    Parameters
    ----------
    kind : str
        ``"hydrate"``: numbers of water by salt; ``"oxide"``: formulas by metal; ``"gas"``: name by
        formula; ``"precipitate"``: formula of the solid by ion.

    Examples
    --------
    >>> usual_compounds("hydrate")["CaSO4"], usual_compounds("oxide")["Fe"]
    (('1/2', '2'), ('FeO', 'Fe3O4', 'Fe2O3'))
    """
    entry.choice("kind", kind, ("hydrate", "oxide", "gas", "precipitate"))
    rows = [row for row in data_table("usual_compounds.csv") if row["kind"] == kind]
    return FrozenMap(
        {
            row["of"]: (row["formulas"],) if kind == "gas" else tuple(row["formulas"].split())
            for row in rows
        }
    )


def gas_named(text: str) -> str:
    """Return the formula of a gas typed as its formula or its usual name.

    >>> gas_named("hydrogen"), gas_named("carbon dioxide"), gas_named("H2"), gas_named("C2H6")
    ('H2', 'CO2', 'H2', 'C2H6')
    """
    names = {names[0]: formula for formula, names in usual_compounds("gas").items()}
    return {**_GAS_OF, **names}.get(text.strip().lower(), text.strip())


def state_in(metal: str, salt: str) -> int | None:
    """Return the oxidation state of a metal in a salt, by the charges of the other ions.

    None where those are not known here, where it is not a whole number, or where two parts of a
    formula with dots give two.

    >>> state_in("Cu", "CuSO4.5H2O"), state_in("Ag", "AgNO3"), state_in("Fe", "Fe2(SO4)3")
    (2, 1, 3)
    >>> state_in("Ca", "2CaSO4·H2O"), state_in("Cu", "CuCO3·Cu(OH)2")
    (2, 2)
    >>> state_in("Cu", "NaCl") is None
    True
    """
    entry.text("metal", metal)
    try:
        parsed = parse_formula(salt)
    except FormulaError:
        return None
    if parsed.charge:
        return None
    parts = [part.lstrip("0123456789") for part in parsed.plain().split("·")]
    states = {_state_in_part(metal, part) for part in parts if metal in parse_formula(part).counts}
    return states.pop() if len(states) == 1 else None


def _state_in_part(metal: str, part: str) -> int | None:
    atoms = parse_formula(part).counts[metal]
    others = charge_sum(re.sub(rf"{metal}(?![a-z])[0-9]*", "", part))
    if others is None or others >= 0 or others % atoms:
        return None
    return -others // atoms
