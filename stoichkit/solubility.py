"""Solubility in water at about 20 °C, heat of dissolving, and concentrated stock solutions."""

from __future__ import annotations

import csv
import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files

from .amounts import KnownConcentration
from .cautions import base_formula
from .elements import molar_mass_value
from .errors import ModelError
from .formula import parse_formula

__all__ = ["Solubility", "concentrated", "heat_caution", "solubility"]

_MARGIN = 0.2
"""Relative margin on either side of a tabulated solubility, which is from memory."""
_STOCK_HALF_WIDTH = 0.03
_HEAT = {
    "heats": "It warms the water when it dissolves without its crystal water.",
    "heats strongly": "It heats the water strongly when it dissolves: add it in small portions, "
    "with stirring, in a vessel that stands heat; never in the volumetric flask.",
    "cools": "It cools the water when it dissolves: let the solution come to room temperature "
    "before filling to the mark.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Solubility:
    """Whether a solution of that concentration can be made at about 20 °C.

    Attributes
    ----------
    formula : str
        The solute as asked for.
    mol_per_L : float
        The concentration asked for.
    dissolves : bool or None
        None: not known, or too close to saturation to say.
    limit_mol_per_L : float or None
        Concentration that is reached for certain when the solution is saturated; the density
        is taken as at least 1 g/mL. None: not in the table.
    sentence : str
        The same in words, with the status of the figure.
    status : str
        ``"memory"``; "" when the table has no such solute.
    """

    formula: str
    mol_per_L: float
    dissolves: bool | None
    limit_mol_per_L: float | None
    sentence: str
    status: str


def _table(name: str) -> list[dict[str, str]]:
    text = (files("stoichkit") / "data" / name).read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))


@lru_cache(maxsize=1)
def _rows() -> Mapping[str, dict[str, str]]:
    return {row["formula"]: row for row in _table("solubility.csv")}


@lru_cache(maxsize=1)
def _stocks() -> Mapping[str, dict[str, str]]:
    return {row["formula"]: row for row in _table("concentrated.csv")}


def solubility(formula: str, mol_per_L: float) -> Solubility:
    """Say whether a salt dissolves to a given concentration at about 20 °C.

    A saturated solution of S grams in 100 g of water holds between 1000·S/(100 + S) g/L
    (density 1 g/mL or more) and 10·S g/L (at most 1 kg of water in a litre); in between, and
    within 20 % of either, nothing is promised.

    Parameters
    ----------
    formula : str
        The solute; crystal water does not matter.
    mol_per_L : float > 0

    Raises
    ------
    FormulaError
        If the formula cannot be read.
    ModelError
        If the concentration cannot be used.

    Source
    ------
    ``data/solubility.csv``: handbook values from memory.

    Examples
    --------
    >>> solubility("AgNO3", 0.1).dissolves, solubility("BaSO4", 0.1).dissolves
    (True, False)
    >>> solubility("CuSO4.5H2O", 1.3).sentence
    'CuSO4·5H2O at 1.3 mol/L is close to saturation at 20 °C (...; from memory): try it first.'
    >>> solubility("GeCl2", 0.1).sentence
    'The solubility of GeCl2 is not known here: look it up, or try it first.'
    """
    if not (math.isfinite(mol_per_L) and mol_per_L > 0):
        raise ModelError(
            "The concentration in mol/L cannot be used.", given=mol_per_L, allowed="above 0"
        )
    shown, base = parse_formula(formula).plain(), base_formula(formula)
    row = _rows().get(base)
    if row is None:
        return Solubility(
            formula=formula,
            mol_per_L=mol_per_L,
            dissolves=None,
            limit_mol_per_L=None,
            sentence=f"The solubility of {shown} is not known here: look it up, or try it first.",
            status="",
        )
    grams = float(row["g_per_100g_water"])
    molar = molar_mass_value(base)
    least, most = 1000 * grams / (100 + grams) / molar, 10 * grams / molar
    status = "from memory" if row["status"] == "memory" else row["status"]
    figure = f"{grams:g} g of {base} in 100 g of water, about {least:.2g} mol/L; {status}"
    what = f"{shown} at {mol_per_L:g} mol/L"
    if mol_per_L <= (1 - _MARGIN) * least:
        dissolves, text = True, f"{what} dissolves at 20 °C ({figure})."
    elif mol_per_L > (1 + _MARGIN) * most:
        dissolves, text = False, f"{what} does not dissolve at 20 °C ({figure})."
    else:
        dissolves = None
        text = f"{what} is close to saturation at 20 °C ({figure}): try it first."
    return Solubility(
        formula=formula,
        mol_per_L=mol_per_L,
        dissolves=dissolves,
        limit_mol_per_L=least,
        sentence=text,
        status=row["status"],
    )


def heat_caution(formula: str) -> str:
    """Say what dissolving does to the temperature, "" where nothing is known.

    For a hydrate nothing is said about the weak heating of the salt without water.

    Parameters
    ----------
    formula : str

    Examples
    --------
    >>> heat_caution("KNO3")[:36]
    'It cools the water when it dissolves'
    >>> heat_caution("MgSO4.7H2O"), heat_caution("NaCl")
    ('', '')
    """
    row = _rows().get(base_formula(formula))
    heat = "" if row is None else row["heat"]
    if heat == "heats" and parse_formula(formula).hydrate_waters:
        return ""
    return _HEAT.get(heat, "")


def concentrated(formula: str) -> KnownConcentration | None:
    """Return the usual concentrated solution of an acid or of ammonia, or None.

    Its concentration, mass fraction × density / molar mass, is taken as known to ±3 %.

    Parameters
    ----------
    formula : str

    Source
    ------
    ``data/concentrated.csv``: usual strengths and densities, from memory; the label wins.

    Examples
    --------
    >>> acid = concentrated("HCl")
    >>> acid.name, round(acid.mol_per_L, 1)
    ('concentrated hydrochloric acid (37 %)', 12.0)
    >>> concentrated("NaCl") is None
    True
    """
    row = _stocks().get(base_formula(formula))
    if row is None:
        return None
    percent, density = float(row["mass_percent"]), float(row["density_g_per_mL"])
    mol_per_L = 10 * percent * density / molar_mass_value(row["formula"])
    return KnownConcentration(
        mol_per_L=mol_per_L,
        half_width_mol_per_L=_STOCK_HALF_WIDTH * mol_per_L,
        name=f"{row['name']} ({percent:g} %)",
    )
