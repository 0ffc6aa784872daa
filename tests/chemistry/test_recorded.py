"""Formulas, equations, candidates and refusals of the room: a change is seen, whatever it changes.

That an answer is right is for the other tests here; see :mod:`tests.recorded`.
"""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction
from functools import partial
from typing import Any

from stoichkit.chemistry import (
    candidates,
    elements,
    equation,
    formula,
    limiting,
    oxidation,
    ratios,
    spoken,
    usual,
)
from stoichkit.uncertainty.sources import Shape, budget, nominal, uncertain_value
from tests.recorded import Record, cases, each, tried

RECORD = Record(__file__)

FORMULAS: dict[str, tuple[str, ...]] = {
    "plain": (
        "Cu",
        "H2O",
        "NaCl",
        "CuSO4",
        "Fe2(SO4)3",
        "K4[Fe(CN)6]",
        "[Co(NH3)6]Cl3",
        "C6H12O6",
        "Ca(OH)2",
        "NH4NO3",
        "((CH3)2CO)2",
        "D2O",
        "T2",
        "{[Cr(H2O)6]}Cl3",
        "Al2(SO4)3",
    ),
    "hydrates": (
        "CuSO4.5H2O",
        "CuSO4·5H2O",
        "CuSO4*5H2O",
        "CuSO4 . 5 H2O",
        "2CaSO4.H2O",
        "CaSO4·½H2O",
        "CaSO4.1/2H2O",
        "CaSO4.0.5H2O",
        "Na2CO3•10H2O",
        "MgCl2∙6H2O",
        "CuSO4.xH2O",
        "CuSO4.",
        ".5H2O",
        "CuSO4.H2O",
        "CuSO4.12H2O",
        "CuSO4.5H2O.2NH3",
        "CuSO4..5H2O",
        "CuSO4·0H2O",
    ),
    "ions": (
        "Cu^2+",
        "Cu2+",
        "Cu²⁺",
        "Cu+2",
        "Cu^+2",
        "Cu++",
        "SO4^2-",
        "SO4 2-",
        "SO₄²⁻",
        "OH-",
        "OH^-",
        "H+",
        "H3O+",
        "e-",
        "e^-",
        "NH4+",
        "Fe(III)",
        "Mn(VII)",
        "Mn(IV)",
        "Mn(V)",
        "Hg(I)",
        "Cl(I)",
        "Cu(II)",
        "Cu^{2+}",
        "MnO4-",
        "Hg2^2+",
        "Cu^0",
        "Cu^99+",
        "Cu^+-",
        "Cu^",
        "Cl−",
        "PO4---",
        "Fe3+(aq)",
        "[Fe(CN)6]^3-",
        "[Fe(CN)6]3-",
    ),
    "states": ("H2O(l)", "NaCl(aq)", "CO2 (g)", "Cu(s)", "H2O(x)", "NaCl(AQ)", "(s)", "H2(g)(g)"),
    "spelling": (
        "h2o",
        "NACL",
        "cuso4",
        "naoh",
        "co",
        "CO",
        "Co",
        "hf",
        "HF",
        "Hf",
        "no",
        "NO",
        "fe2o3",
        "H₂O",
        "C O2",
        " H2O ",
        "H2 O",
        "Н2О",
        "agno3",
        "Sn02",
        "Cuso4",
        "CUSO4",
        "mgo",
        "PbS",
        "PBS",
        "h20",
    ),
    "refused": (
        "",
        " ",
        "x",
        "Xx",
        "H2O)",
        "(H2O",
        "H(2)O",
        "2H2O",
        "H2O!",
        "H-O",
        "()",
        "H()2",
        "H0",
        "H00",
        "H2.5O",
        "C9999999",
        "H" * 300,
        "(" * 60 + "H" + ")" * 60,
        "H2O\n",
        "NaCl2+3",
        "Cu(II",
        "Cu(VIIII)",
        "1/2",
        "CuSO4.5",
        "Uuu",
        "J",
        "H_2O",
        "$H_2O$",
        "\\ce{H2O}",
        "<b>H</b>",
        "H2SO4 98%",
        "12",
        "+",
        "-",
    ),
}


def formulas(name: str) -> object:
    def one(text: str) -> object:
        found = tried(formula.parse_formula, text)
        if isinstance(found, str):
            return found
        mass = tried(elements.molar_mass, found)
        return [
            found.text,
            found.composition,
            found.charge,
            found.state,
            found.hydrate_waters,
            [found.plain(), found.unicode(), found.html(), found.latex()],
            found.is_electron,
            mass
            if isinstance(mass, str)
            else f"{nominal(mass):.10g} ± {mass.std_dev:.6g}"
            if hasattr(mass, "std_dev")
            else nominal(mass),
            spoken.understood(text),
            tried(formula.split_formula, text),
        ]

    return {text[:40]: one(text) for text in FORMULAS[name]}


EQUATIONS = (
    "Cu + 2 Ag^+ -> Cu^2+ + 2 Ag",
    "Cu + Ag+ -> Cu2+ + Ag",
    "H2 + O2 -> H2O",
    "2H2+O2=2H2O",
    "2 H2 + O2 → 2 H2O",
    "Fe + O2 --> Fe2O3",
    "C3H8 + O2 => CO2 + H2O",
    "MnO4^- + Fe^2+ + H^+ -> Mn^2+ + Fe^3+ + H2O",
    "Cr2O7^2- + e^- + H^+ -> Cr^3+ + H2O",
    "CuSO4.5H2O -> CuSO4 + H2O",
    "H2O(l) -> H2(g) + O2(g)",
    "NaHCO3 -> Na2CO3 + H2O + CO2",
    "K4[Fe(CN)6] + H2SO4 + H2O -> K2SO4 + FeSO4 + (NH4)2SO4 + CO",
    "C + O2 -> CO + CO2",
    "H2 -> O2",
    "H2 + O2",
    "-> H2O",
    "H2O ->",
    "",
    "x",
    "a -> b",
    "H2 + -> H2O",
    "H2 + O2 -> H2O -> H2",
    "1/2 O2 + H2 -> H2O",
    "0.5 O2 + H2 -> H2O",
    "0 H2 + O2 -> H2O",
    "-1 H2 -> H2",
    "H2 + H2 -> H4",
    "Cu -> Cu",
    "Cu + Xx -> Cu",
    "3 Cu + 8 HNO3 -> 3 Cu(NO3)2 + 2 NO + 4 H2O",
    "CH4 + 2O2 <=> CO2 + 2H2O",
    "2 Al + 6 H+ -> 2 Al3+ + 3 H2",
    "Al + HCl = AlCl3 + H2",
    "O3 -> O2",
    "99999999 H2 + O2 -> H2O",
    "Na + Cl2 -> NaCl2",
    "Ag+ + Cl- ⟶ AgCl",
    "Zn+Cu2+->Zn2++Cu",
    " + ".join(["H2"] * 60) + " -> H2",
    "2 H2 + O2 -> H2O",
    "C + O2 + H2 + N2 -> CO + CO2 + H2O + NO + NO2 + NH3",
    "H2 + O2 -> 2 H2O",
)


def equations() -> object:
    def one(text: str) -> object:
        parsed, made = tried(equation.parse_equation, text), tried(equation.balance_equation, text)
        said: list[Any] = [
            parsed
            if isinstance(parsed, str)
            else [
                [f"{t.coefficient} {t.name}" for t in parsed.left],
                [f"{t.coefficient} {t.name}" for t in parsed.right],
                parsed.numbered,
            ],
            tried(equation.check_balance, text),
            tried(equation.is_balanced, text),
            made
            if isinstance(made, str)
            else [
                made.text(),
                made.unicode(),
                made.latex(),
                made.coefficients,
            ],
        ]
        if not isinstance(made, str):
            names = [*made.coefficients, "Xx"]
            said.append([tried(made.ratio, p, names[0]) for p in names[1:]])
            said.append([[t.text(), t.unicode(), t.latex()] for t in made.reactants])
        return said

    return {text[:70]: one(text) for text in EQUATIONS}


def element_table() -> object:
    symbols = (
        "H",
        "Li",
        "C",
        "O",
        "F",
        "Na",
        "Cl",
        "Cu",
        "Ag",
        "Sn",
        "Tc",
        "Pb",
        "U",
        "Og",
        "Xx",
        "cu",
        "",
        3,
    )
    names = (
        "copper",
        "Copper",
        "tin",
        "sulphur",
        "sulfur",
        "aluminum",
        "aluminium",
        "caesium",
        "rust",
        "",
        "copper ",
        "kupfer",
        "cooper",
    )
    return {
        "every": {
            s: [
                f"{elements.atomic_weight_value(s):.8g}",
                elements.atomic_weight_range(s),
                elements.element_name(s),
                [[b.label, b.uncertainty] for b in budget(elements.atomic_weight(s))],
            ]
            for s in sorted(elements.KNOWN)
            if not isinstance(tried(elements.atomic_weight, s), str)
        },
        "asked": [
            [
                tried(f, s)
                for f in (
                    elements.atomic_weight_value,
                    elements.atomic_weight_range,
                    elements.element_name,
                )
            ]
            for s in symbols
        ],
        "refused": [tried(elements.atomic_weight, s) for s in symbols],
        "named": each(elements.symbol_named, names),
        "masses": [
            tried(elements.molar_mass_value, f) for f in ("H2O", "Tc", "e-", "x", 3, "TcO2", "OH")
        ],
        "water": [
            [b.label, b.coefficient, b.uncertainty] for b in budget(elements.molar_mass("H2O"))
        ],
    }


# -- candidates -------------------------------------------------------------------------------


def built() -> object:
    metals = (
        ("Cu", [1, 2]),
        ("Cu", ["I", "II"]),
        ("Cu", ["Cu^+", "copper(II)"]),
        ("Cu", ["Cu2+", "Fe2+"]),
        ("Cu", [0]),
        ("Cu", [-1]),
        ("Cu", [9]),
        ("Cu", []),
        ("Cu", [2, 2]),
        ("Cu", ["much"]),
        ("Cu", [1.5]),
        ("Cu", "12"),
        ("Xx", [1]),
        ("Cl", [1]),
        ("Hg", ["Hg2^2+", 2]),
        ("Fe", ["ferrous"]),
        ("Cu", [True]),
    )
    return {
        "states": [tried(candidates.oxidation_states, m, s) for m, s in metals]
        + [
            tried(candidates.oxidation_states, "Zn", [2, 1], displaced=d)
            for d in ("Ag^+", "Ag", "Cl^-", "Cu^2+", "x", "Al3+", "SO4^2-", "Hg2^2+")
        ],
        "state": [
            tried(candidates.oxidation_state, m, s)
            for m in ("Cu", "Fe")
            for s in (
                2,
                "2",
                "+2",
                "2+",
                "II",
                "ii",
                "Cu2+",
                "Cu^2+",
                "copper(II)",
                "Cu(II)",
                "iron(III)",
                "IIII",
                "",
                "x",
                2.0,
                2.5,
                None,
                "CuO",
                "Cu²⁺",
                "copper (ii)",
                "cuprous",
                "10",
                "VIII",
                "0",
            )
        ],
        "ions": [
            tried(candidates.ion_of, m, s) for m, s in (("Cu", 2), ("Cu", 1), ("Hg", 1), ("Fe", 3))
        ],
        "hydrates": [
            tried(candidates.hydrate_series, s, **k)
            for s, k in (
                ("CuSO4", {"waters": [1, 3, 5]}),
                ("CaSO4", {"waters": ["1/2", 0.5, 2]}),
                ("CaSO4", {"waters": [Fraction(1, 2), "2"]}),
                ("CuSO4", {"waters": []}),
                ("CuSO4", {"waters": [0]}),
                ("CuSO4", {"waters": [-1]}),
                ("CuSO4", {"waters": [100]}),
                ("CuSO4", {"waters": ["x"]}),
                ("CuSO4.5H2O", {}),
                ("Cu^2+", {}),
                ("x", {}),
                ("CuSO4", {"waters": [0.3333]}),
                ("CuSO4", {}),
                ("CuSO4", {"waters": 5}),
            )
        ],
        "binary": [
            tried(candidates.binary_series, *a, **k)
            for a, k in (
                (("Sn", "O"), {}),
                (("Fe", "Cl"), {"max_metal": 1, "max_partner": 3}),
                (("Sn", "Sn"), {}),
                (("Sn", "H2O"), {}),
                (("Sn", "O"), {"max_metal": 0}),
                (("Sn", "O"), {"max_partner": 99}),
                (("x", "O"), {}),
            )
        ],
        "formulas": [
            tried(candidates.from_formulas, f, consumed=c, produced=p)
            for f, c, p in (
                (["SnO", "SnO2"], "Sn", "O"),
                (["SnO", "Sn2O2"], "Sn", "O"),
                (["SnO", "SnO"], "Sn", "O"),
                ([], "Sn", "O"),
                (["PbO"], "Sn", "O"),
                (["SnO"], "SnO", "O"),
                (["SnO"], "Sn", "Sn"),
                (["x"], "Sn", "O"),
                (["Sn"], "Sn", "O"),
                ("SnO", "Sn", "O"),
                (["Fe2O3", "Fe3O4"], "Fe", "O"),
                (["SnO^2+"], "Sn", "O"),
            )
        ],
        "equations": [
            tried(candidates.from_equations, e, consumed=c, produced=p)
            for e, c, p in (
                (["Cu + Ag^+ -> Cu^+ + Ag", "Cu + 2Ag+ -> Cu2+ + 2Ag"], "Cu", "Ag"),
                ({"one": "Cu + Ag^+ -> Cu^+ + Ag"}, "Cu", "Ag"),
                ({"": "Cu + Ag^+ -> Cu^+ + Ag"}, "Cu", "Ag"),
                (["Cu -> Ag"], "Cu", "Ag"),
                (["Cu + Ag^+ -> Cu^+ + Ag"], "Zn", "Ag"),
                ([], "Cu", "Ag"),
                (["Cu + Ag^+ -> Cu^+ + Ag"] * 2, "Cu", "Ag"),
                ("Cu -> Ag", "Cu", "Ag"),
                ([3], "Cu", "Ag"),
                (["Cu + Ag^+ -> Cu^+ + Ag"], "Ag", "Cu"),
            )
        ],
        "ratios": [
            tried(candidates.plain_ratios, r, **k)
            for r, k in (
                ({"a": 1, "b": "3/2", "c": 0.5, "d": Fraction(2, 3), "e": "2,25", "f": "3:4"}, {}),
                ({"a": 1, "b": 1}, {}),
                ({}, {}),
                ({"a": 0}, {}),
                ({"a": -1}, {}),
                ({"a": "x"}, {}),
                ({"": 1}, {}),
                ({3: 1}, {}),
                ([1], {}),
                ({"a": 0.6667}, {}),
                ({"a": 1}, {"consumed": "Cu"}),
                ({"a" * 300: 1}, {}),
                ({"a\nb": 1}, {}),
                ({"a": 1e9}, {}),
                ({"a": math.nan}, {}),
            )
        ],
        "checked": [
            tried(candidates.check_candidates, c)
            for c in (
                candidates.plain_ratios({"a": 1}),
                [],
                [3],
                candidates.plain_ratios({"a": 1}) * 2,
            )
        ],
        "one": [
            tried(candidates.Candidate, *a)
            for a in (
                ("a", Fraction(1)),
                ("", Fraction(1)),
                ("a", 0.5),
                ("a", "x"),
                (3, Fraction(1)),
                ("a", Fraction(-1)),
            )
        ],
        "exact": each(
            ratios.exact_ratio,
            [
                1,
                2.5,
                "3/2",
                "3:2",
                "1.5",
                "1,5",
                " 2 ",
                "0.6667",
                0.6667,
                0.3333,
                "1/3",
                "2/0",
                "0",
                0,
                -1,
                "x",
                "",
                None,
                True,
                "1e3",
                Decimal("1.5"),
                Fraction(7, 3),
                math.inf,
                math.nan,
                "1/2/3",
                10**9,
                "½",
                1e-9,
                "-1/2",
                "10001",
                1 / 3,
                2 / 3,
                "0.67",
                0.67,
                "1.333",
                "a/b",
            ],
        ),
    }


def usual_things() -> object:
    salts = (
        ("Cu", "CuSO4"),
        ("Cu", "CuSO4.5H2O"),
        ("Cu", "CuCl"),
        ("Fe", "Fe2(SO4)3"),
        ("Ag", "AgNO3"),
        ("Fe", "FeCl3"),
        ("Cu", "NaCl"),
        ("Cu", "Cu"),
        ("Cu", "x"),
        ("Cu", "Cu^2+"),
        ("Fe", "Fe3O4"),
        ("Fe", "K4[Fe(CN)6]"),
        ("Sn", "SnO2"),
        ("Pb", "Pb(NO3)2"),
        ("Cu", "CuFeS2"),
    )
    return {
        "states": usual.usual_states(),
        "compounds": {
            k: tried(usual.usual_compounds, k)
            for k in ("oxide", "salt", "gas", "hydrate", "x", "acid", "precipitate", "base")
        },
        "gases": [
            tried(usual.gas_named, g)
            for g in ("hydrogen", "H2", "oxygen", "carbon dioxide", "x", "CO2", "")
        ],
        "in salts": {f"{m} in {s}": tried(usual.state_in, m, s) for m, s in salts},
        "roman": each(
            oxidation.from_roman,
            ["I", "II", "IV", "IX", "iv", "IIII", "VIII", "X", "", "A", "XI", "VI"],
        ),
        "charges": each(
            oxidation.charge_sum,
            [
                "SO4",
                "NO3",
                "Cl",
                "Cl2",
                "(SO4)3",
                "OH",
                "O",
                "x",
                "NH4",
                "PO4",
                "CO3",
                "H2O",
                "CN",
                "Cr2O7",
                "MnO4",
                "C2H3O2",
                "",
            ],
        ),
        "spoken": each(
            spoken.understood,
            [
                "cuso4",
                "CuSO4.5H2O",
                "Fe2(SO4)3",
                "Cu2+",
                "co",
                "H2O(l)",
                "e-",
                "2CaSO4.H2O",
                "[Co(NH3)6]Cl3",
            ],
        ),
    }


def limits() -> object:
    reaction = equation.balance_equation("Cu + Ag^+ -> Cu^2+ + Ag")

    def known(value: float, u: float) -> Any:
        return (
            uncertain_value(value, f"{value}", kind="o", shape=Shape.NORMAL, scale=u)
            if u
            else value
        )

    sets: dict[str, Any] = {
        "exact": {"Cu": 0.5, "Ag^+": 0.8},
        "other": {"Cu": 0.2, "Ag^+": 0.8},
        "equal": {"Cu": 0.4, "Ag^+": 0.8},
        "uncertain": {"Cu": known(0.41, 0.01), "Ag^+": known(0.8, 0.02)},
        "far": {"Cu": known(0.9, 0.01), "Ag^+": known(0.8, 0.02)},
        "one": {"Cu": 0.5},
        "none": {},
        "zero": {"Cu": 0.0, "Ag^+": 0.8},
        "negative": {"Cu": -0.1, "Ag^+": 0.8},
        "unknown": {"Cu": 0.5, "Zn": 1.0},
        "product": {"Cu": 0.5, "Ag": 1.0},
        "text": {"Cu": "x", "Ag^+": 1.0},
        "nan": {"Cu": math.nan, "Ag^+": 1.0},
        "list": [0.5, 0.8],
        "written": {"Cu": 0.5, "Ag+": 0.8},
    }
    yields = {
        f"{name} {product}": tried(limiting.theoretical_yield, reaction, amounts, product)
        for name, amounts in sets.items()
        for product in (
            ("Ag", "Cu^2+", "Zn", "Cu", "") if name in ("exact", "uncertain") else ("Ag",)
        )
    }
    return {
        "limiting": {n: tried(limiting.limiting_reactant, reaction, a) for n, a in sets.items()},
        "yields": yields,
        "not a reaction": tried(limiting.limiting_reactant, "Cu -> Ag", sets["exact"]),
    }


CASES = cases(
    formulas={name: partial(formulas, name) for name in FORMULAS},
    alone={
        "equations": equations,
        "elements": element_table,
        "built": built,
        "usual": usual_things,
        "limits": limits,
    },
)

test_answers, test_nothing_else = RECORD.tests(CASES)
