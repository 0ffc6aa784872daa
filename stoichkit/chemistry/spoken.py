"""What a formula was read as, in words: elements by name, charge, molar mass, assumptions."""

from __future__ import annotations

import re
from collections.abc import Iterator

from ..errors import FormulaError
from .elements import element_name, molar_mass_value
from .formula import Formula, parse_formula
from .oxidation import NUMERAL

_STATES = {"s": "solid", "l": "liquid", "g": "gas", "aq": "dissolved in water"}
_PAIRS = (("CO", "Co"), ("NO", "No"), ("HF", "Hf"), ("CS", "Cs"))
_ALIKE = {**dict(_PAIRS), **{metal: pair for pair, metal in _PAIRS}}


def understood(formula: str | Formula) -> str:
    """Say what a formula was read as, so that its writer can see whether it was meant.

    Parameters
    ----------
    formula : str or Formula
        See `parse_formula`.

    Returns
    -------
    str
        Atoms of each element by name, charge, molar mass in g/mol (two decimals), then what was
        assumed: waters counted, how a dot, an oxidation number or a look-alike was read.

    Raises
    ------
    FormulaError
        If the formula cannot be read.

    Examples
    --------
    >>> print(understood("CuSO4.5H2O"))
    copper 1, sulfur 1, oxygen 9, hydrogen 10; charge 0; 249.68 g/mol; 5 H2O counted; “.” read as
    the dot of a hydrate, not as a decimal point
    >>> understood("Cu(II)")
    'copper 1; charge 2+; 63.55 g/mol; (II) read as oxidation number, not as iodine or vanadium'
    >>> understood("CO")
    'carbon 1, oxygen 1; charge 0; 28.01 g/mol; CO, not Co (cobalt)'
    """
    parsed = formula if isinstance(formula, Formula) else parse_formula(formula)
    if parsed.is_electron:
        return "electron; charge 1-"
    charge = f"{abs(parsed.charge)}{'+' if parsed.charge > 0 else '-'}" if parsed.charge else "0"
    parts = [
        ", ".join(f"{element_name(symbol)} {count}" for symbol, count in parsed.composition),
        f"charge {charge}",
    ]
    try:
        parts.append(f"{molar_mass_value(parsed) + 1e-9:.2f} g/mol")  # 55.845 to 55.85
    except FormulaError as error:  # an element without a standard atomic weight
        parts.append(f"no molar mass: {error.problem.partition(':')[0]}")
    return "; ".join([*parts, *_assumed(parsed)])


def _assumed(parsed: Formula) -> Iterator[str]:
    """Yield what had to be assumed to read a formula."""
    text, plain = parsed.text, parsed.plain()
    if parsed.state:
        yield _STATES[parsed.state]
    if parsed.hydrate_waters:
        yield f"{parsed.hydrate_waters} H2O counted"
    if "." in text:
        yield "“.” read as the dot of a hydrate, not as a decimal point"
    for numeral in re.finditer(NUMERAL, text):
        yield f"{numeral[0].strip()} read as oxidation number, not as iodine or vanadium"
    if beside := re.search("[IV]{2,}", plain):
        yield f"{beside[0]} read as elements; an oxidation number stands in round brackets"
    if other := _ALIKE.get(plain):
        yield f"{plain}, not {other} ({_named(other)})"


def _named(formula: str) -> str:
    """Name the elements of a look-alike."""
    return " and ".join(element_name(symbol) for symbol in parse_formula(formula).counts)
