"""Atomic weights with their uncertainty, and molar masses made from them.

Values are the standard atomic weights as held by the ``periodictable`` package, kept as a table in
``data/elements.csv``: the full value for most elements, the abridged value where the standard is a
range (Prohaska et al., Pure Appl. Chem. 94 (2022) 573, 2021 table). The published ± is taken as
the half-width of a rectangular distribution, as the EURACHEM/CITAC guide QUAM does in its example
A2.

For the elements with a range the ± of the abridged value is used, not half the range: the
abridged value is rounded and need not lie in the middle. Sulfur is 32.06 ± 0.02 for the range
32.059 to 32.076; half the range, 0.0085, about 32.06 would leave out its upper part.

Each element's error is one shared source, so molar masses that contain the same element are
correlated as they should be. The mass of electrons is neglected in ions (0.0005 g/mol for each
charge, below the uncertainty of most atomic weights).
"""

from __future__ import annotations

from functools import lru_cache

from .._common import data_table
from ..errors import FormulaError
from ..uncertainty import entry
from ..uncertainty.sources import Number, Shape, as_drawn, lasting_value
from .formula import SYMBOLS, Formula, parse_formula

KNOWN = frozenset(SYMBOLS)
"""All element symbols; those of `atomic_weight` are the ones with a standard value."""
_values: dict[str, float] = {}
_weights: dict[str, Number] = {}


@lru_cache(maxsize=1)
def _table() -> dict[str, dict[str, str]]:
    """The row of each element."""
    return {row["symbol"]: row for row in data_table("elements.csv")}


def _known(symbol: str) -> str:
    """Return the symbol if it has a standard atomic weight; explain if not."""
    if entry.text("symbol", symbol, error=FormulaError) not in KNOWN:
        raise FormulaError(
            "This is not an element symbol.", given=symbol, allowed="a symbol like Fe, case counts"
        )
    if symbol not in _values:
        weight = _table()[symbol]["weight"]
        if not weight:
            raise FormulaError(
                f"{element_name(symbol).capitalize()} ({symbol}) has no standard atomic weight: it "
                "has no characteristic isotopic composition on Earth.",
                given=symbol,
                allowed="elements with a standard atomic weight",
            )
        _values[symbol] = float(weight)
    return symbol


def _half_width(symbol: str) -> float:
    """The published ± of a standard atomic weight."""
    return float(_table()[_known(symbol)]["half_width"])


def atomic_weight(symbol: str) -> Number:
    """Return the standard atomic weight of an element, the same uncertain number every time.

    Parameters
    ----------
    symbol : str
        Element symbol.

    Returns
    -------
    uncertain number
        Relative atomic mass, numerically g/mol. Its source is labelled ``"atomic weight of
        Cu"``, of kind ``"atomic weight"``, rectangular.

    Raises
    ------
    FormulaError
        If the symbol is unknown or the element has no standard atomic weight (Tc, Pm, Po, ...).

    Examples
    --------
    >>> from stoichkit.uncertainty.sources import format_number
    >>> format_number(atomic_weight("Cu"))
    '63.5460 ± 0.0017'
    >>> atomic_weight("Cu") is atomic_weight("Cu")
    True
    """
    found = _weights.get(entry.text("symbol", symbol, error=FormulaError))
    if found is None:
        made = lasting_value(
            atomic_weight_value(symbol),
            f"atomic weight of {symbol}",
            kind="atomic weight",
            shape=Shape.RECTANGULAR,
            scale=_half_width(symbol),
        )
        found = _weights.setdefault(symbol, made)  # one object even if two threads ask at once
    return as_drawn(found)


def atomic_weight_value(symbol: str) -> float:
    """Return the standard (or abridged) atomic weight without its uncertainty.

    >>> atomic_weight_value("Fe")
    55.845
    """
    return _values[_known(symbol)]


def atomic_weight_range(symbol: str) -> tuple[float, float] | None:
    """Return the range of an element whose standard atomic weight is one (2021), else None.

    >>> atomic_weight_range("S")
    (32.059, 32.076)
    >>> atomic_weight_range("Fe") is None
    True
    """
    row = _table()[_known(symbol)]
    return (float(row["lower"]), float(row["upper"])) if row["lower"] else None


def element_name(symbol: str) -> str:
    """Return the IUPAC English name in lower case.

    >>> element_name("Fe"), element_name("Al")
    ('iron', 'aluminium')
    """
    if entry.text("symbol", symbol, error=FormulaError) not in KNOWN:
        raise FormulaError(
            "This is not an element symbol.", given=symbol, allowed="a symbol like Fe, case counts"
        )
    return _table()[symbol]["name"]


@lru_cache(maxsize=1)
def _symbols() -> dict[str, str]:
    """Return the symbol of every English name, also as it is spelled elsewhere."""
    other = {"aluminum": "Al", "cesium": "Cs", "sulphur": "S"}
    return {element_name(symbol): symbol for symbol in SYMBOLS} | other


def symbol_named(name: str) -> str | None:
    """Return the symbol of the element of an English name, None if there is none.

    >>> symbol_named("iron"), symbol_named("Aluminum"), symbol_named("ferrous")
    ('Fe', 'Al', None)
    """
    return _symbols().get(name.lower())


def _matter(formula: str | Formula) -> Formula:
    """Read the formula and refuse the electron."""
    parsed = formula if isinstance(formula, Formula) else parse_formula(formula)
    if parsed.is_electron:
        raise FormulaError(
            "The electron has no molar mass here: electron masses are neglected.",
            given=parsed.text,
            allowed="a formula with atoms",
        )
    return parsed


def molar_mass(formula: str | Formula) -> Number:
    """Return the molar mass in g/mol with its uncertainty.

    Parameters
    ----------
    formula : str or Formula
        See `parse_formula`. The charge of an ion does not change the result.

    Returns
    -------
    uncertain number
        In g/mol; depends on the shared source of each element's atomic weight.

    Raises
    ------
    FormulaError
        If the formula cannot be read or contains an element without a standard atomic weight.

    Examples
    --------
    >>> from stoichkit.uncertainty.sources import format_number
    >>> format_number(molar_mass("CuSO4.5H2O"), unit="g/mol")
    '249.677 ± 0.013 g/mol'
    >>> from uncertainties import std_dev
    >>> std_dev(molar_mass("CuO") - molar_mass("Cu") - molar_mass("O"))
    0.0
    """
    return sum(
        (count * atomic_weight(symbol) for symbol, count in _matter(formula).composition), 0.0
    )


def molar_mass_value(formula: str | Formula) -> float:
    """Return the molar mass in g/mol as a plain number; the fast path without uncertainty.

    >>> round(molar_mass_value("Fe2O3"), 3)
    159.687
    """
    composition = _matter(formula).composition
    try:
        return sum([count * _values[symbol] for symbol, count in composition])
    except KeyError:
        return sum([count * _values[_known(symbol)] for symbol, count in composition])
