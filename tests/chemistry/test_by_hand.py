"""Limits, places and refusals of formulas and equations, each worked out by hand."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import pytest

from stoichkit.chemistry import equation
from stoichkit.chemistry.candidates import Candidate
from stoichkit.chemistry.equation import balance_equation, check_balance, parse_equation
from stoichkit.chemistry.formula import parse_formula, write_html, write_plain
from stoichkit.chemistry.oxidation import charge_sum
from stoichkit.chemistry.usual import state_in
from stoichkit.errors import EquationError, FormulaError, ModelError


def _said(work: Callable[..., object], *given: object) -> str:
    with pytest.raises((EquationError, FormulaError)) as refused:
        work(*given)
    return str(refused.value)


@pytest.mark.parametrize("field", ["equation", "consumed", "produced"])
def test_what_a_candidate_says_of_its_reaction_is_text(field: str) -> None:
    with pytest.raises(ModelError, match=field):
        Candidate("a", Fraction(1), **{field: 5})  # type: ignore[arg-type]
    assert getattr(Candidate("a", Fraction(1), **{field: "Cu"}), field) == "Cu"


# -- equations ----------------------------------------------------------------------------------


def test_an_equation_has_at_most_ten_thousand_characters() -> None:
    """Spaces count: “H2 + O2 -> H2O” has 14."""
    assert len(parse_equation("H2 + O2 -> H2O" + " " * 9_986).left) == 2
    with pytest.raises(EquationError, match="at most 10,000 characters"):
        parse_equation("H2 + O2 -> H2O" + " " * 9_987)


def test_a_coefficient_is_at_most_a_thousand_million() -> None:
    assert parse_equation("1000000000 H2 -> H").left[0].coefficient == 10**9
    with pytest.raises(EquationError, match="from 1 to 1,000,000,000"):
        parse_equation("1000000001 H2 -> H")


@pytest.mark.parametrize("text", ["Cu + Cu -> Fe", "Fe -> Cu + Cu", "Fe + Ag -> Zn + Cu + Cu"])
def test_a_species_twice_on_one_side_is_to_be_written_once(text: str) -> None:
    assert "Cu stands twice on one side." in _said(parse_equation, text)
    assert _said(parse_equation, text).endswith("Write it once.")


@pytest.mark.parametrize("text", ["Cu -> Cu", "Fe + Cu -> Cu", "Cu + Fe -> Ag + Cu"])
def test_a_species_on_both_sides_is_to_be_left_out(text: str) -> None:
    assert "Cu stands on both sides." in _said(parse_equation, text)
    assert _said(parse_equation, text).endswith("Leave out what does not change.")


def test_an_element_on_one_side_alone_is_none_on_the_other() -> None:
    """One atom against none, and a charge of one against none."""
    assert check_balance("CuO -> Cu") == ("O: 1 on the left, 0 on the right",)
    assert check_balance("Cu -> CuO") == ("O: 0 on the left, 1 on the right",)
    assert check_balance("Cu^+ -> Cu") == ("charge: +1 on the left, 0 on the right",)
    assert check_balance("Cu -> Cu^+") == ("charge: 0 on the left, +1 on the right",)


def test_what_a_side_has_is_listed_in_up_to_sixty_characters_each() -> None:
    for typed, shown in (("C" * 60, "C" * 60), ("C" * 61, "C" * 59 + "…")):
        ratio = balance_equation(f"{typed} -> C").ratio
        assert _said(ratio, "C", "Na").endswith(f"Allowed: {shown}.")


def test_a_name_without_a_state_is_first_the_species_without_one() -> None:
    """Of ten waters nine are written without a state; a state typed is never left out."""
    reaction = balance_equation("2 CuSO4·5H2O -> 2 CuSO4(s) + 9 H₂O + H2O(g)")
    for name, ratio in (("H2O", "9/2"), ("H₂O(g)", "1/2"), ("CuSO4", "1"), ("CuSO4(s)", "1")):
        assert reaction.ratio(name, "CuSO4·5H2O") == Fraction(ratio)
    assert "has no CuSO4(aq)" in _said(reaction.ratio, "CuSO4(aq)", "CuSO4·5H2O")


@pytest.mark.parametrize(
    ("text", "balanced"),
    [
        ("Fe + CuCl2 -> FeCl3 + Cu", "2 Fe + 3 CuCl2 -> 2 FeCl3 + 3 Cu"),
        ("Cu + Ag^+ -> Cu^2+ + Ag", "Cu + 2 Ag^+ -> Cu^2+ + 2 Ag"),
        ("CuSO4·5H2O -> CuSO4 + H2O", "CuSO4·5H2O -> CuSO4 + 5 H2O"),
    ],
)
def test_usual_equations_are_balanced_one_number_after_the_other(
    text: str, balanced: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As on paper, so that nothing is loaded for them."""

    def not_needed(*_: object) -> None:
        raise AssertionError("the null space was asked for")

    monkeypatch.setattr(equation, "_null_space", not_needed)
    assert balance_equation(text).text() == balanced


def test_what_takes_no_part_and_what_stands_wrong_are_told_apart() -> None:
    """Each rest is one reaction by itself, worked out on paper."""
    for text, why in (
        ("H2 + O2 + CuCl -> H2O + CuCl2", "CuCl, CuCl2 would take no part (“2 H2 + O2 -> 2 H2O”)"),
        ("CO2 -> CO + C", "C would have to stand on the other side (“CO2 + C -> 2 CO”)"),
        (
            "CO + C + CuCl -> CO2 + CuCl2",
            "CuCl, CuCl2 would take no part and C would have to stand on the other side "
            "(“2 CO -> C + CO2”)",
        ),
    ):
        assert f"cannot be balanced as written: {why}." in _said(balance_equation, text)


@pytest.mark.parametrize("text", ["CO + C^+ -> CO2", "H2^+ + O2 + CuCl -> H2O + CuCl2"])
def test_elements_that_balance_only_with_a_species_moved_or_idle_are_not_shown(text: str) -> None:
    """2 CO -> C + CO2 has carbon on the other side; 2 H2 + O2 -> 2 H2O has no copper."""
    assert "elements can be balanced but the charge cannot" in _said(balance_equation, text)


def test_an_equation_in_an_explanation_has_up_to_three_hundred_characters() -> None:
    """“X^+ -> X” has 6 characters beside the two X, “X^2+ -> X” has 7; 2 · 147 = 294."""
    x = "C" * 147
    assert f"of “{x}^+ -> {x}”." in _said(balance_equation, f"{x}^+ -> {x}")
    cut = f"{x}^2+ -> {'C' * 145}…"  # 147 + 7 + 145 = 299 and the sign
    assert f"of “{cut}”." in _said(balance_equation, f"{x}^2+ -> {x}")


# -- formulas -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "place"), [("Fe3+", 2), ("SO42-", 2), ("  Fe3+", 4), ("Cu2+(aq)", 2), ("FeSCN2+", 5)]
)
def test_a_charge_of_two_readings_is_found_at_its_digits(text: str, place: int) -> None:
    with pytest.raises(FormulaError, match="two ways") as refused:
        parse_formula(text)
    assert refused.value.position == place
    assert text[place].isdigit()
    assert not text[place - 1].isdigit()


@pytest.mark.parametrize("text", ["³+", "  ³+", "³+(aq)", "+", " + ", "+(aq)"])
def test_a_charge_without_a_body_stands_alone(text: str) -> None:
    assert "A charge stands alone." in _said(parse_formula, text)


@pytest.mark.parametrize(
    ("charge", "plain", "html"),
    [
        (2, "X^2+", "X<sup>2+</sup>"),
        (1, "X^+", "X<sup>+</sup>"),
        (0, "X", "X"),
        (-1, "X^-", "X<sup>−</sup>"),
        (-2, "X^2-", "X<sup>2−</sup>"),
        (-12, "X^12-", "X<sup>12−</sup>"),
    ],
)
def test_a_charge_of_one_is_a_sign_alone_and_none_is_not_written(
    charge: int, plain: str, html: str
) -> None:
    assert write_plain("X", charge, "") == plain
    assert write_html("X", charge, "") == html


def test_an_oxidation_number_stands_behind_an_element_with_its_number_of_atoms() -> None:
    """The longest is a symbol of two letters with 10^9, of which each takes one oxide at II."""
    many = parse_formula("Fe1000000000(II)O1000000000")
    assert many.composition == (("Fe", 10**9), ("O", 10**9))
    assert "and no element stands before it" in _said(parse_formula, "(II)O")


def test_thirteen_letters_of_an_oxidation_number_are_shown_as_twelve() -> None:
    thirteen, twelve = "I" * 13, "I" * 12
    assert f"“Iron({twelve})” is a name" in _said(parse_formula, f"Iron({thirteen})")
    assert f"“[{twelve}]” could be" in _said(parse_formula, f"Fe[{thirteen}]")
    assert f"“({twelve})” is no oxidation number" in _said(parse_formula, f"Fe({thirteen})")


@pytest.mark.parametrize(
    ("text", "place"),
    [("CuSO4· ·5H2O", 7), ("CuSO4·   ·5H2O", 9), ("CuSO4·  (s)", 6), ("CuSO4·3·H2O", 7),
     ("CuSO4· 3 ·H2O", 9)],
)  # fmt: skip
def test_nothing_but_spaces_or_a_number_beside_a_dot_is_refused(text: str, place: int) -> None:
    """The place is the next dot, or the first character behind the body."""
    with pytest.raises(FormulaError, match="Something is missing beside the dot") as refused:
        parse_formula(text)
    assert refused.value.position == place


def test_spaces_around_a_dot_and_its_number_do_not_count() -> None:
    """CuSO4 and five waters: 1 Cu, 1 S, 4 + 5 O, 2 · 5 H."""
    for text in ("CuSO4·5H2O", "CuSO4  ·  5H2O", " CuSO4 ·5H2O (s)", "1CuSO4·5H2O"):
        assert parse_formula(text).composition == (("Cu", 1), ("S", 1), ("O", 9), ("H", 10))
        assert parse_formula(text).hydrate_waters == 5


@pytest.mark.parametrize(
    ("text", "meant"),
    [("NaCL", "Cl"), ("fe", "Fe or F"), ("CuSO4·l", ""), ("CuSO4·5cl", "Cl or C"),
     ("co", "Co or CO or C"), ("u", "U"), ("CuSO4·5h2o", "H"), ("NaL", "")],
)  # fmt: skip
def test_what_a_wrong_letter_may_mean(text: str, meant: str) -> None:
    """An element of the letter and its neighbour, two of one letter each, or the letter alone."""
    said = _said(parse_formula, text)
    assert "is not an element symbol" in said
    assert said.endswith(f"Did you mean {meant}?") if meant else "Did you mean" not in said


# -- charges ------------------------------------------------------------------------------------


def test_a_numeral_that_stands_for_no_number_leaves_the_charge_unknown() -> None:
    """Four strokes are no numeral; with IV and two oxides the sum is 4 − 2 · 2 = 0."""
    assert charge_sum("Fe(IIII)O2") is None
    assert charge_sum("Fe(IV)O2") == 0
    assert charge_sum("Fe2(III)O3") == 2 * 3 - 3 * 2


@pytest.mark.parametrize(
    ("metal", "salt", "state"),
    [
        ("Fe", "Fe2(SO4)3", 3),
        ("Fe", "Fe3O4", None),
        ("Cu", "Cu2O", 1),
        ("Cu", "CuO", 2),
        ("Xx", "CuO", None),
        ("(", "CuO", None),
    ],
)
def test_the_state_of_a_metal_is_a_whole_number_or_none(
    metal: str, salt: str, state: int | None
) -> None:
    """Of the other ions: 3 · 2 for two iron; 4 · 2 for three, not a whole number each."""
    assert state_in(metal, salt) == state


@pytest.mark.parametrize(
    ("metal", "salt", "state"),
    [
        ("Ca", "2CaSO4·H2O", 2),
        ("Cd", "3CdSO4·8H2O(s)", 2),
        ("Cu", "CuCO3·Cu(OH)2", 2),
        ("Pb", "2PbCO3·Pb(OH)2", 2),
        ("Cu", "H2O·CuSO4", 2),
        ("Fe", "FeO·Fe2O3", None),
        ("Cu", "CuSO4·CuWO4", None),
        ("Fe", "CuSO4·5H2O", None),
        ("Cu", "CuCl2^-", None),
    ],
)
def test_the_state_of_a_metal_is_that_of_each_part_of_a_formula_with_dots(
    metal: str, salt: str, state: int | None
) -> None:
    """Sulfate, carbonate and two hydroxides are 2−; FeO has iron(II), Fe2O3 has iron(III).

    An ion is no salt: CuCl2^- is of copper(I), which two chlorides alone do not tell.
    """
    assert state_in(metal, salt) == state
