"""Builders of candidate lists: exact ratios that agree with the equations they carry."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import pytest

from stoichkit.chemistry.candidates import (
    Candidate,
    binary_series,
    check_candidates,
    from_equations,
    from_formulas,
    hydrate_series,
    oxidation_states,
    plain_ratios,
)
from stoichkit.chemistry.equation import balance_equation, is_balanced
from stoichkit.chemistry.formula import parse_formula
from stoichkit.errors import EquationError, FormulaError, ModelError

HALF = Fraction(1, 2)


def ratios(candidates: tuple[Candidate, ...]) -> dict[str, Fraction]:
    return {candidate.name: candidate.ratio for candidate in candidates}


@pytest.mark.parametrize("name", ["", "  ", None])
def test_a_candidate_needs_a_name(name: str) -> None:
    with pytest.raises(ModelError, match="name"):
        Candidate(name, Fraction(1))


@pytest.mark.parametrize("ratio", [0.67, 0, Fraction(0), Fraction(-1, 2), "2/0"])
def test_a_ratio_is_an_exact_positive_fraction(ratio: Fraction) -> None:
    with pytest.raises(ModelError, match="mole ratio"):
        Candidate("a", ratio)


def test_candidates_must_differ() -> None:
    one, other = Candidate("a", Fraction(1)), Candidate("b", Fraction(1))
    with pytest.raises(ModelError, match="a and b cannot be told apart"):
        check_candidates([one, other])
    with pytest.raises(ModelError, match="same name"):
        check_candidates([one, Candidate("a", Fraction(2))])
    with pytest.raises(ModelError, match="no candidate"):
        check_candidates([])
    assert check_candidates([one]) == (one,)


def test_from_equations_with_names() -> None:
    made = from_equations(
        {"iron(II)": "Fe + CuCl2 -> FeCl2 + Cu", "iron(III)": "2Fe + 3CuCl2 -> 2FeCl3 + 3Cu"},
        consumed="Fe",
        produced="Cu",
    )
    assert ratios(made) == {"iron(II)": Fraction(1), "iron(III)": Fraction(3, 2)}
    assert made[1].equation == "2 Fe + 3 CuCl2 -> 2 FeCl3 + 3 Cu"
    assert (made[0].consumed, made[0].produced) == ("Fe", "Cu")


def test_from_equations_without_names() -> None:
    made = from_equations(
        iter(["Cu + Ag^+ -> Cu^+ + Ag(s)", "Cu + Ag^+ -> Cu^2+ + Ag(s)"]),
        consumed="Cu",
        produced="Ag",
    )
    assert ratios(made) == {"Cu^+": Fraction(1), "Cu^2+": Fraction(2)}


def test_from_equations_refuses() -> None:
    with pytest.raises(ModelError, match="`equations` is not a list"):
        from_equations("Fe + O2 -> FeO", consumed="Fe", produced="FeO")
    with pytest.raises(EquationError, match="no FeO"):
        from_equations(["Fe + O2 -> Fe2O3"], consumed="Fe", produced="FeO")
    with pytest.raises(ModelError, match="told apart"):
        from_equations(
            ["Fe + CuCl2 -> FeCl2 + Cu", "Fe + CuSO4 -> FeSO4 + Cu"], consumed="Fe", produced="Cu"
        )


@pytest.mark.parametrize(
    ("metal", "displaced", "produced", "expected"),
    [
        ("Fe", "Cu^2+", "Cu", {"iron(II)": Fraction(1), "iron(III)": Fraction(3, 2)}),
        ("Cu", "Ag^+", "Ag", {"copper(I)": Fraction(1), "copper(II)": Fraction(2)}),
        ("Mg", "H^+", "H2", {"magnesium(I)": HALF, "magnesium(II)": Fraction(1)}),
        ("Al", "Cu²⁺", "Cu", {"aluminium(III)": Fraction(3, 2)}),
        ("Zn", "Hg2^2+", "Hg", {"zinc(II)": Fraction(2)}),
        ("Hg", "Ag^+", "Ag", {"mercury(I)": Fraction(1), "mercury(II)": Fraction(2)}),
    ],
)
def test_oxidation_states(
    metal: str, displaced: str, produced: str, expected: dict[str, Fraction]
) -> None:
    numeral = {"(I)": 1, "(II)": 2, "(III)": 3}
    states = [numeral[name[name.index("(") :]] for name in expected]
    made = oxidation_states(metal, states, displaced=displaced)
    assert ratios(made) == expected
    for candidate in made:
        assert (candidate.consumed, candidate.produced) == (metal, produced)
        assert is_balanced(candidate.equation)
        assert balance_equation(candidate.equation).ratio(produced, metal) == candidate.ratio


def test_no_ionic_equation_beyond_state_four() -> None:
    made = oxidation_states("Mn", range(2, 8))
    assert [bool(candidate.equation) for candidate in made] == [True] * 3 + [False] * 3
    assert made[-1].name == "manganese(VII)"
    assert made[-1].ratio == Fraction(7, 2)


@pytest.mark.parametrize(
    "call",
    [
        lambda: oxidation_states("Cl", [1]),
        lambda: oxidation_states("iron", [1]),
        lambda: oxidation_states("Fe", [0]),
        lambda: oxidation_states("Fe", [10]),
        lambda: oxidation_states("Fe", [2.5]),
        lambda: oxidation_states("Fe", [True]),
        lambda: oxidation_states("Fe", []),
        lambda: oxidation_states("Fe", [2, 2]),
        lambda: oxidation_states("Fe", [2], displaced="Fe^3+"),
        lambda: oxidation_states("Fe", [2], displaced="Cl^-"),
        lambda: oxidation_states("Fe", [2], displaced="NH4^+"),
        lambda: oxidation_states("Fe", [2], displaced="e-"),
        lambda: hydrate_series("CuSO4·5H2O"),
        lambda: hydrate_series("SO4^2-"),
        lambda: hydrate_series("CuSO4(s)"),
        lambda: hydrate_series("CuSO4", waters=[0]),
        lambda: hydrate_series("CuSO4", waters=[-1]),
        lambda: hydrate_series("CuSO4", waters=[0.67]),
        lambda: hydrate_series("CuSO4", waters=[]),
        lambda: binary_series("Sn", "Sn"),
        lambda: binary_series("Sn", "O", max_metal=0),
        lambda: binary_series("Sn", "O", max_partner=21),
        lambda: from_formulas("SnO", consumed="Sn", produced="O"),
        lambda: from_formulas(["SnO", "SnCl2"], consumed="Sn", produced="O"),
        lambda: from_formulas(["FeO", "Fe2O2"], consumed="Fe", produced="O"),
        lambda: plain_ratios({"a": "0.67"}),
        lambda: plain_ratios({"a": 0.67}),
        lambda: plain_ratios({"a": "0/1"}),
        lambda: plain_ratios({"a": "1/0"}),
        lambda: plain_ratios({"a": "1/2/3"}),
        lambda: plain_ratios({"a": True}),
        lambda: plain_ratios({"a": 0}),
        lambda: plain_ratios({"a": Fraction(-1)}),
        lambda: plain_ratios({"a": "9" * 5000}),
        lambda: plain_ratios({}),
    ],
)
def test_refusals(call: Callable[[], object]) -> None:
    with pytest.raises(ModelError):
        call()


def test_unreadable_formulas_are_refused_as_such() -> None:
    with pytest.raises(FormulaError):
        oxidation_states("Fe", [2], displaced="Cu2+")
    with pytest.raises(FormulaError):
        hydrate_series("cuso4")
    with pytest.raises(FormulaError):
        binary_series("Sn", "x")


def test_hydrate_series() -> None:
    made = hydrate_series("CuSO4")
    assert [candidate.ratio for candidate in made] == list(range(1, 13))
    assert made[0].name == "CuSO4·H2O"
    assert made[4].name == "CuSO4·5H2O"
    for candidate in made:
        assert parse_formula(candidate.name).hydrate_waters == candidate.ratio
        assert is_balanced(candidate.equation)
        reaction = balance_equation(candidate.equation)
        assert reaction.ratio("H2O", candidate.name) == candidate.ratio
        assert (candidate.consumed, candidate.produced) == ("CuSO4", "H2O")


def test_hemihydrate() -> None:
    half, two = hydrate_series("CaSO4", waters=[HALF, 2])
    assert (half.name, half.ratio) == ("2CaSO4·H2O", HALF)
    assert half.equation == "1 2CaSO4·H2O -> 2 CaSO4 + H2O"
    assert is_balanced(half.equation)
    assert two.name == "CaSO4·2H2O"


def test_binary_series() -> None:
    made = binary_series("Sn", "O", max_metal=3, max_partner=4)
    values = [candidate.ratio for candidate in made]
    assert values == sorted(set(values))
    assert ratios(made)["Sn3O4"] == Fraction(4, 3)
    assert ratios(made)["SnO4"] == 4
    for candidate in made:
        assert is_balanced(candidate.equation)
        counts = parse_formula(candidate.name).counts
        assert Fraction(counts["O"], counts["Sn"]) == candidate.ratio


def test_from_formulas() -> None:
    made = from_formulas(["FeCl2", "FeCl3"], consumed="Fe", produced="Cl")
    assert ratios(made) == {"FeCl2": Fraction(2), "FeCl3": Fraction(3)}
    assert made[1].equation == "2 Fe + 3 Cl2 -> 2 FeCl3"
    ternary = from_formulas(["CuSO4", "Cu2SO4"], consumed="Cu", produced="S")
    assert [candidate.equation for candidate in ternary] == ["", ""]


def test_plain_ratios() -> None:
    made = plain_ratios(
        {"a": "1/1", "b": "3:2", "c": 2, "d": Fraction(1, 3), "e": " 4 / 3 "},
        consumed="Fe",
        produced="Cu",
    )
    assert [str(candidate.ratio) for candidate in made] == ["1", "3/2", "2", "1/3", "4/3"]
    assert {(c.consumed, c.produced, c.equation) for c in made} == {("Fe", "Cu", "")}
