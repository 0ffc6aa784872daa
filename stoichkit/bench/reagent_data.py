"""Hazard statements and usual precautions by reagent; the safety data sheet has the last word.

The table is short, written from memory and kept on the cautious side. A reagent that is not in
it is reported as unknown, never as harmless. Also solubility in water at about 20 °C, heat of
dissolving, and concentrated stock solutions.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from .._common import data_table
from ..chemistry.elements import molar_mass_value
from ..chemistry.formula import parse_formula
from ..errors import FormulaError, ModelError
from ..experiments.parts import Caution
from ..measurement.concentration import KnownConcentration
from ..uncertainty import entry

CHECK = "Check the safety data sheet and local rules before use."
_FORMS = {"solid": "the solid", "powder": "the powder", "liquid": "the liquid", "gas": "the gas"}
_HYDRATE = re.compile(r"[0-9]*(.+?)(?:·.*)?")


@dataclass(frozen=True, slots=True, kw_only=True)
class ReagentCautions:
    """What is known here about the hazards of one reagent.

    Attributes
    ----------
    reagent : str
        As asked for.
    name : str
        Its usual name; the reagent as asked for when it is not known.
    known : bool
        False: nothing is known here, which does not mean that there is no hazard.
    signal_word : str
        GHS signal word, ``"Danger"`` or ``"Warning"``; "" for none or not known.
    statements : tuple of str
        GHS hazard statements, code first.
    precautions : tuple of str
        Protection and handling, one sentence each.
    waste : str
        What to do with what is left, one sentence.
    note : str
        Which form or concentration the statements are for, and what is missing.
    status : str
        ``"memory"``: recalled, not checked against a document; "" when not known.
    """

    reagent: str
    name: str
    known: bool
    signal_word: str
    statements: tuple[str, ...]
    precautions: tuple[str, ...]
    waste: str
    note: str
    status: str

    @property
    def source(self) -> str:
        """Where the statements come from and what to check.

        >>> cautions_for("AgNO3").source
        'Statements from memory; check the safety data sheet and local rules.'
        """
        if not self.known:
            return "No entry in the table of this toolkit; see the safety data sheet."
        return "Statements from memory; check the safety data sheet and local rules."

    def as_caution(self) -> Caution:
        """Return the same as an entry for an experiment record.

        >>> cautions_for("C2H5OH").as_caution().subject
        'ethanol'
        """
        signal = (f"Signal word: {self.signal_word}.",) if self.signal_word else ()
        advice = (*signal, *self.precautions, self.waste, self.note)
        return Caution(
            subject=self.name,
            statements=self.statements,
            advice=tuple(text for text in advice if text),
            source=self.source,
        )


@dataclass(frozen=True, slots=True)
class _Row:
    formulas: tuple[str, ...]
    names: tuple[str, ...]
    form: str
    from_mol_per_L: float | None
    signal: str
    codes: tuple[str, ...]
    care: tuple[str, ...]
    waste: str
    status: str


@lru_cache(maxsize=1)
def _statements() -> Mapping[str, str]:
    return {row["code"]: row["statement"] for row in data_table("hazard_statements.csv")}


@lru_cache(maxsize=2)
def advice(kind: str) -> Mapping[str, str]:
    """Return the sentences about care or about waste, by the words of the table of hazards."""
    return {r["key"]: r["sentence"] for r in data_table("advice.csv") if r["kind"] == kind}


@lru_cache(maxsize=1)
def _rows() -> tuple[_Row, ...]:
    return tuple(
        _Row(
            tuple(row["formula"].split("|")),
            tuple(row["names"].split("|")),
            row["form"],
            float(row["from_mol_per_L"]) if row["from_mol_per_L"] else None,
            row["signal"],
            tuple(row["codes"].split()),
            tuple(row["care"].split()),
            row["waste"],
            row["status"],
        )
        for row in data_table("hazards.csv")
    )


def hazard_statement(code: str) -> str:
    """Return a GHS hazard statement in full, code first.

    Parameters
    ----------
    code : str
        ``"H314"`` and the like; letters after the number are ignored.

    Raises
    ------
    ModelError
        If the code is not in the table.

    Source
    ------
    Globally Harmonized System (GHS), annex 3; wording from memory, British spelling.

    Examples
    --------
    >>> hazard_statement("H314")
    'H314 Causes severe skin burns and eye damage'
    """
    words = _statements().get(code[:4]) if isinstance(code, str) else None
    if words is None:
        raise ModelError(
            "There is no hazard statement of that code in the table.",
            given=code,
            allowed=f"{min(_statements())} to {max(_statements())}, those in use here",
        )
    return f"{code} {words}"


def base_formula(formula: str) -> str:
    """Return a formula without crystal water and without its state, for looking it up."""
    parsed = parse_formula(formula)
    plain = parsed.plain().removesuffix(f"({parsed.state})" if parsed.state else "")
    match = _HYDRATE.fullmatch(plain)
    assert match is not None
    return match[1] if parsed.hydrate_waters else plain


def _find(reagent: str) -> list[_Row]:
    wanted = " ".join(reagent.split()).casefold()
    found = [row for row in _rows() if wanted in {name.casefold() for name in row.names}]
    if found:
        return found
    try:
        formula = base_formula(reagent)
    except FormulaError:
        return []
    return [row for row in _rows() if formula in row.formulas]


def cautions_for(reagent: str, *, concentration_mol_per_L: float | None = None) -> ReagentCautions:
    """Return what is known here about the hazards of a reagent.

    A concentration picks the strongest row that it reaches. Where the table has rows for the
    solid only, the solid's statements are given for every solution; without a concentration the
    strongest row is given. Both are on the cautious side.

    Parameters
    ----------
    reagent : str
        Formula (crystal water does not matter) or name, e.g. ``"CuSO4.5H2O"``, ``"acetone"``.
    concentration_mol_per_L : float > 0, optional
        Concentration of a solution.

    Returns
    -------
    ReagentCautions
        With ``known=False`` when the table has no such reagent.

    Raises
    ------
    ModelError
        If the reagent is no text, or the concentration is not above 0.

    Source
    ------
    ``data/hazards.csv``: from memory of usual safety data sheets.

    Examples
    --------
    >>> found = cautions_for("HCl", concentration_mol_per_L=12)
    >>> found.signal_word, found.statements[1]
    ('Danger', 'H314 Causes severe skin burns and eye damage')
    >>> cautions_for("OsO4").note
    'Nothing is known here about the hazards of OsO₄. That does not mean that there are none...'
    """
    if not isinstance(reagent, str) or not reagent.strip():
        raise ModelError("The reagent is missing.", given=reagent, allowed="a formula or a name")
    c = concentration_mol_per_L
    c = None if c is None else entry.number("concentration_mol_per_L", c, above=0)
    rows = _find(reagent)
    if not rows:
        return _unknown(reagent)
    row = _chosen(rows, c)
    return ReagentCautions(
        reagent=reagent,
        name=row.names[0],
        known=True,
        signal_word=row.signal,
        statements=tuple(hazard_statement(code) for code in row.codes),
        precautions=tuple(advice("care")[key] for key in row.care),
        waste=advice("waste")[row.waste],
        note=_note(row, rows, c),
        status=row.status,
    )


def _unknown(reagent: str) -> ReagentCautions:
    try:
        shown = parse_formula(reagent).unicode()
    except FormulaError:
        shown = " ".join(reagent.split())
    shown = shown[:60]
    return ReagentCautions(
        reagent=reagent,
        name=shown,
        known=False,
        signal_word="",
        statements=(),
        precautions=("Wear eye protection and gloves, and work as with a hazardous reagent.",),
        waste="Find out how it is disposed of before work begins.",
        note=f"Nothing is known here about the hazards of {shown}. That does not mean that there "
        f"are none. {CHECK}",
        status="",
    )


def _chosen(rows: list[_Row], concentration: float | None) -> _Row:
    if concentration is None:
        return rows[0]  # the table lists the strongest form first
    bands = [row for row in rows if row.from_mol_per_L is not None]
    if not bands:
        return rows[0]
    reached = [row for row in bands if (row.from_mol_per_L or 0.0) <= concentration]
    return max(reached, key=lambda row: row.from_mol_per_L or 0.0)


def _note(row: _Row, rows: list[_Row], concentration: float | None) -> str:
    """Say what the statements are for: the form, or the range of concentrations."""
    unclassified = "" if row.codes else "Not classified as hazardous as far as remembered. "
    stronger = [r.from_mol_per_L for r in rows if r.from_mol_per_L]
    if row.from_mol_per_L:
        form = f"Statements for a solution from {row.from_mol_per_L:g} mol/L on. "
    elif row.from_mol_per_L == 0:
        form = f"Statements for a solution below {min(stronger):g} mol/L. " if stronger else ""
    elif row.form == "gas" and row.codes:
        form = "Statements for the gas as it forms; a gas cylinder also carries H280. "
    elif concentration is not None and row.codes:
        form = (
            f"The statements are those of {_FORMS[row.form]}; a dilute solution may carry fewer. "
        )
    else:
        form = f"Statements for {_FORMS[row.form]}. " if row.form == "powder" else ""
    return f"{unclassified}{form}{CHECK}"


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


@dataclass(frozen=True, slots=True)
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


@lru_cache(maxsize=1)
def _solubility_rows() -> Mapping[str, dict[str, str]]:
    return {row["formula"]: row for row in data_table("solubility.csv")}


@lru_cache(maxsize=1)
def _stocks() -> Mapping[str, dict[str, str]]:
    return {row["formula"]: row for row in data_table("concentrated.csv")}


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
    mol_per_L = entry.number("mol_per_L", mol_per_L, above=0)
    shown, base = parse_formula(formula).plain(), base_formula(formula)
    row = _solubility_rows().get(base)
    if row is None:
        text = f"The solubility of {shown} is not known here: look it up, or try it first."
        return Solubility(formula, mol_per_L, None, None, text, "")
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
    return Solubility(formula, mol_per_L, dissolves, least, text, row["status"])


def heat_caution(formula: str) -> str:
    """Say what dissolving does to the temperature, "" where nothing is known.

    For a hydrate nothing is said about the weak heating of the salt without water.
    """
    row = _solubility_rows().get(base_formula(formula))
    heat = "" if row is None else row["heat"]
    if heat == "heats" and parse_formula(formula).hydrate_waters:
        return ""
    return _HEAT.get(heat, "")


def concentrated(formula: str) -> KnownConcentration | None:
    """Return the usual concentrated solution of an acid or of ammonia, or None.

    Its concentration, mass fraction × density / molar mass, is taken as known to ±3 %. Usual
    strengths and densities are from memory (``data/concentrated.csv``); the label wins.
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
