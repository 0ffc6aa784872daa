"""Formula to molar mass, and balancing equations, each read for the first time.

Peers: periodictable and molmass; chempy. The cache of formulas is emptied before each pass.
"""

from __future__ import annotations

import math
import warnings
from typing import Any

from stoichkit.chemistry import elements, formula
from stoichkit.chemistry.equation import balance_equation

from .measure import Row, best, missing, peer, show

_LIST = """
H2O NaCl CuSO4 AgNO3 Fe2O3 Fe3O4 CaCO3 Ca(OH)2 Al2(SO4)3 (NH4)2SO4 KMnO4 K2Cr2O7 H2SO4 HNO3 H3PO4
NaOH KOH Mg(OH)2 MgO CuO Cu2O PbO2 PbSO4 BaSO4 BaCl2 ZnSO4 ZnO SnO2 SnCl4 TiO2 SiO2 CO2 CO NO2 N2O4
NH3 CH4 C2H6 C2H5OH C6H12O6 C12H22O11 C6H6 C8H18 CH3COOH C6H5COOH Na2CO3 NaHCO3 Na2S2O3 K4Fe(CN)6
K3Fe(CN)6 Cu(NO3)2 Zn(NO3)2 Pb(NO3)2 Co(NO3)2 Ni(NO3)2 Cr2(SO4)3 MnO2 MnSO4 FeSO4 FeCl3 FeCl2 AlCl3
LiOH Li2CO3 KBr KI KClO3 NaClO P4O10 PCl5 SO2 SO3 H2S CS2 SF6 HF HCl HBr HI H2O2 Ca3(PO4)2
CaC2O4 H2C2O4 Na2C2O4 Bi2O3 Sb2S3 As2O3 CdS HgS Hg2Cl2 V2O5 WO3 MoO3 U3O8 La2O3 CeO2 Ag2O Ag2S
Cu(NH3)4SO4 Ni(NH3)6Cl2 Al(OH)3
"""
FORMULAS = _LIST.split()
EQUATIONS = (
    """
H2 + O2 -> H2O | Fe + O2 -> Fe2O3 | Al + HCl -> AlCl3 + H2 | C3H8 + O2 -> CO2 + H2O
KClO3 -> KCl + O2 | Fe2O3 + CO -> Fe + CO2 | NH3 + O2 -> NO + H2O | C2H6 + O2 -> CO2 + H2O
Cu + HNO3 -> Cu(NO3)2 + NO + H2O | KMnO4 + HCl -> KCl + MnCl2 + Cl2 + H2O
Ca(OH)2 + H3PO4 -> Ca3(PO4)2 + H2O | Al2(SO4)3 + NaOH -> Al(OH)3 + Na2SO4
K2Cr2O7 + HCl -> KCl + CrCl3 + Cl2 + H2O | FeS2 + O2 -> Fe2O3 + SO2
P4O10 + H2O -> H3PO4 | Na2S2O3 + I2 -> Na2S4O6 + NaI | C6H12O6 + O2 -> CO2 + H2O
Cu + AgNO3 -> Cu(NO3)2 + Ag | MgO + HCl -> MgCl2 + H2O | Mg + O2 -> MgO
""".replace("\n", " | ")
    .strip(" |")
    .split("|")
)


def _forget() -> None:
    formula._parse.cache_clear()


def ours_masses() -> list[float]:
    _forget()
    return [elements.molar_mass_value(f) for f in FORMULAS]


def ours_balanced() -> list[Any]:
    _forget()
    return [balance_equation(e) for e in EQUATIONS]


def _sides(text: str) -> tuple[set[str], set[str]]:
    left, right = text.split("->")
    return {s.strip() for s in left.split("+")}, {s.strip() for s in right.split("+")}


def _chempy_balanced(balance: Any) -> list[Any]:
    return [balance(*_sides(e)) for e in EQUATIONS]


def rows() -> list[Row]:
    out = []
    count = len(FORMULAS)
    expected = ours_masses()
    for name, target in (("molmass", 2.0), ("periodictable", math.nan)):
        module = peer(name)
        label = "formula to molar mass, first time; us a formula"
        if module is None:
            out.append(missing(label, name))
            continue
        read = (
            (lambda f, m=module: m.Formula(f).mass)
            if name == "molmass"
            else (lambda f, m=module: m.formula(f).mass)
        )
        for text, mine in zip(FORMULAS, expected, strict=True):  # tables of different years
            assert abs(read(text) - mine) < 2e-3 * mine, (name, text)
        mine, theirs = best(
            ours_masses, lambda r=read: [r(f) for f in FORMULAS], repeats=7, inner=3
        )
        out.append(Row(label, name, mine / count * 1e6, theirs / count * 1e6, target))
    out.append(_balancing())
    return out


def _balancing() -> Row:
    label = f"balancing, {len(EQUATIONS)} equations, text to coefficients; us an equation"
    if peer("chempy") is None:
        return missing(label, "chempy")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from chempy import balance_stoichiometry

        both = zip(ours_balanced(), _chempy_balanced(balance_stoichiometry), strict=True)
        for mine, (left, right) in both:
            theirs = {**left, **right}
            assert mine.coefficients == {k: int(v) for k, v in theirs.items()}, mine
        ours, other = best(
            ours_balanced, lambda: _chempy_balanced(balance_stoichiometry), repeats=3
        )
    n = len(EQUATIONS)
    return Row(label, "chempy", ours / n * 1e6, other / n * 1e6, 10)


def main() -> str:
    return show("Formulas and equations", rows())


if __name__ == "__main__":
    print(main())
