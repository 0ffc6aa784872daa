"""Reading and balancing equations, and the reasons given where that is impossible."""

from __future__ import annotations

import subprocess
import sys
from fractions import Fraction
from math import gcd

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from stoichkit.chemistry.equation import (
    MAX_SPECIES,
    _null_space,
    _one_by_one,
    balance_equation,
    check_balance,
    is_balanced,
    parse_equation,
)
from stoichkit.chemistry.formula import SYMBOLS
from stoichkit.errors import EquationError, StoichkitError

ARROWS = ["->", "-->", "=>", "=", "→", "⟶", "⇌", "⇄", "<=>", "<->"]


@pytest.mark.parametrize("arrow", ARROWS)
def test_every_arrow(arrow: str) -> None:
    reaction = balance_equation(f"Fe + CuCl2 {arrow} FeCl3 + Cu")
    assert reaction.coefficients == {"Fe": 2, "CuCl2": 3, "FeCl3": 2, "Cu": 3}
    assert reaction.text() == "2 Fe + 3 CuCl2 -> 2 FeCl3 + 3 Cu"


@pytest.mark.parametrize("arrow", ["->", "→", "="])
def test_arrow_without_spaces_beside_a_charge(arrow: str) -> None:
    reaction = balance_equation(f"Ag^+ + Cl-{arrow}AgCl")
    assert reaction.coefficients == {"Ag^+": 1, "Cl-": 1, "AgCl": 1}


def test_names_stay_as_typed() -> None:
    reaction = balance_equation(" 2Fe³⁺(aq)  +\n Cu(s) -> Fe{2+}(aq) + 7 Cu²⁺(aq) ")
    assert reaction.coefficients == {"Fe³⁺(aq)": 2, "Cu(s)": 1, "Fe{2+}(aq)": 2, "Cu²⁺(aq)": 1}
    assert reaction.text() == "2 Fe^3+(aq) + Cu(s) -> 2 Fe^2+(aq) + Cu^2+(aq)"
    assert reaction.unicode() == "2 Fe³⁺(aq) + Cu(s) → 2 Fe²⁺(aq) + Cu²⁺(aq)"
    assert reaction.latex().startswith(r"2\,\mathrm{Fe^{3+}\,(aq)} + \mathrm{Cu\,(s)} \rightarrow")


def test_coefficients_are_a_copy() -> None:
    reaction = balance_equation("H2 + O2 -> H2O")
    reaction.coefficients["H2"] = 99
    assert reaction.coefficients["H2"] == 2


@pytest.mark.parametrize("text", ["2Fe + O2 -> FeO", "2 Fe + O2 -> FeO", "02 Fe + O2 -> FeO"])
def test_typed_coefficients(text: str) -> None:
    if text.startswith("0"):
        with pytest.raises(EquationError, match="coefficient of Fe"):
            parse_equation(text)
    else:
        equation = parse_equation(text)
        assert equation.numbered
        assert [term.coefficient for term in equation.left] == [2, 1]
        assert [term.name for term in equation.left] == ["Fe", "O2"]
    assert not parse_equation("Fe + O2 -> FeO").numbered


def test_formula_that_begins_with_a_number() -> None:
    reaction = balance_equation("CdSO4 + H2O -> 1 3CdSO4·8H2O")
    assert reaction.coefficients == {"CdSO4": 3, "H2O": 8, "3CdSO4·8H2O": 1}
    assert balance_equation(reaction.text()).coefficients == reaction.coefficients


def test_half_equations_with_electrons() -> None:
    reaction = balance_equation("MnO4- + H+ + e- -> Mn^2+ + H2O")
    assert list(reaction.coefficients.values()) == [1, 8, 5, 1, 4]
    assert reaction.ratio("Mn^2+", "e^-") == Fraction(1, 5)
    with pytest.raises(EquationError, match="charge: \\+2 on the left, 0 on the right"):
        balance_equation("Cu^2+ -> Cu")


def test_phase_change_keeps_both_states() -> None:
    assert balance_equation("H2O(l) -> H2O(g)").coefficients == {"H2O(l)": 1, "H2O(g)": 1}


def test_ratio_finds_species_in_any_spelling() -> None:
    reaction = balance_equation("Fe(s) + Cu^2+(aq) -> Fe^3+(aq) + Cu(s)")
    expected = Fraction(3, 2)
    for produced, consumed in [("Cu(s)", "Fe(s)"), ("Cu", "Fe"), ("Cu", "Fe(s)")]:
        assert reaction.ratio(produced, consumed) == expected
    assert reaction.ratio("Fe³⁺", "Cu{2+}") == Fraction(2, 3)


@pytest.mark.parametrize(
    ("produced", "consumed", "words"),
    [
        ("Fe", "Cu", "right side of the equation has no Fe"),
        ("Cu", "Ag", "left side of the equation has no Ag"),
        ("Cu(aq)", "Fe", "no Cu\\(aq\\)"),
        ("fe", "Fe", "produced cannot be read"),
    ],
)
def test_ratio_of_absent_species(produced: str, consumed: str, words: str) -> None:
    with pytest.raises(EquationError, match=words):
        balance_equation("Fe + CuCl2 -> FeCl3 + Cu").ratio(produced, consumed)


def test_ratio_needs_the_state_where_two_states_stand_on_one_side() -> None:
    reaction = balance_equation("2 CuSO4·5H2O -> 2 CuSO4 + 9 H2O(l) + H2O(g)")
    assert reaction.ratio("H2O(g)", "CuSO4·5H2O") == Fraction(1, 2)
    with pytest.raises(EquationError, match="more than one H2O"):
        reaction.ratio("H2O", "CuSO4·5H2O")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "no arrow"),
        ("Fe + Cu", "no arrow"),
        ("Fe -> Cu -> Ag", "more than one arrow"),
        ("-> Fe", "missing on the left"),
        ("Fe ->", "missing on the right"),
        ("Fe + -> Fe2", "missing on the left"),
        ("Fe + + Cu -> FeCu", "missing on the left"),
        ("3 -> Fe", "missing on the left"),
        ("1/2 O2 -> O", "not a whole number"),
        ("0.5 O2 -> O", "not a whole number"),
        ("½ O2 -> O", "not a whole number"),
        ("0 O2 -> O", "coefficient of O2"),
        ("99999999999 O2 -> O", "coefficient of O2"),
        ("H2+O2 -> H2O", "space on both sides"),
        ("fe + O2 -> FeO", "Did you mean Fe"),
        ("Fe3+ + Cu -> Fe2+ + Cu2+", "Fe\\^3\\+ or Fe3\\^\\+"),
        ("Fe + Fe + O2 -> FeO", "Fe stands twice on one side"),
        ("H2O + H₂O + Na -> NaOH", "H2O stands twice"),
        ("Fe + NaCl + O2 -> FeO + NaCl", "NaCl stands on both sides"),
        ("Fe -> Fe", "both sides"),
        ("NaCl -> Na + K", "Cl is only on the left; K is only on the right"),
        ("CO -> CO2", "No whole numbers balance C, O"),
        ("Fe + O2 + Cu -> FeO + CuO + Fe2O3", "independent reactions"),
        ("H2O2 + KMnO4 + H2SO4 -> MnSO4 + K2SO4 + O2 + H2O", "2 independent reactions"),
        ("Fe^2+ + Cu^2+ -> Fe^3+ + Cu^+ + Cu", "2 independent reactions"),
        ("H2 + O2 + HCl + Cl -> H2O", "Cl is only on the left"),
        ("H2 + O2 -> H2O + O", "independent reactions"),
        ("CO + C -> CO2", "C would have to stand on the other side"),
        ("FeCl2 + FeCl3 -> Fe", "Cl is only on the left"),
        ("FeO + Cu + O2 -> Fe2O3 + Cu2", "independent reactions"),
        ("C + O2 -> CO2 + SO2 + S", "S is only on the right"),
        ("Fe^2+ + I^- -> Fe^3+ + I2", "Fe\\^2\\+, Fe\\^3\\+ would have to stand on the other side"),
        ("SO2 + O2 -> SO3 + N2", "N is only on the right"),
    ],
)
def test_refusals_say_why(text: str, words: str) -> None:
    with pytest.raises(EquationError, match=words):
        balance_equation(text)


def test_idle_species_are_named() -> None:
    with pytest.raises(EquationError, match="CuCl, CuCl2 would take no part"):
        balance_equation("H2 + O2 + CuCl -> H2O + CuCl2")


def test_independent_reactions_are_shown_balanced() -> None:
    with pytest.raises(EquationError) as caught:
        balance_equation("Fe + CuCl2 -> FeCl2 + FeCl3 + Cu")
    shown = caught.value.problem.split("“")[1:]
    assert len(shown) == 2
    for part in shown:
        assert is_balanced(part.split("”")[0])


def test_typed_coefficients_settle_an_open_choice() -> None:
    text = "2 KMnO4 + 5 H2O2 + 3 H2SO4 -> 2 MnSO4 + K2SO4 + 5 O2 + 8 H2O"
    assert balance_equation(text).text() == text
    with pytest.raises(EquationError, match="independent"):
        balance_equation(text.replace("5 O2", "6 O2"))


def test_check_balance_names_the_elements() -> None:
    assert check_balance("2 Fe + 3 CuCl2 -> 2 FeCl3 + 3 Cu") == ()
    assert check_balance("Fe + CuCl2 -> FeCl3 + Cu") == ("Cl: 2 on the left, 3 on the right",)
    assert check_balance("Fe^3+ + Cu -> Fe^2+ + Cu^2+ + Ag") == (
        "Ag: 0 on the left, 1 on the right",
        "charge: +3 on the left, +4 on the right",
    )
    assert not is_balanced("Cu^2+ -> Cu")
    assert is_balanced("Cu^2+ + 2e- -> Cu")


def test_limits() -> None:
    many = " + ".join(SYMBOLS[:MAX_SPECIES])
    with pytest.raises(EquationError, match="41 species"):
        parse_equation(f"{many} -> Og")
    with pytest.raises(EquationError, match="limited length"):
        parse_equation("H" * 20_000)
    with pytest.raises(EquationError, match="text"):
        parse_equation(None)  # type: ignore[arg-type]


def test_explanations_stay_short() -> None:
    long = "".join(f"{symbol}9" for symbol in SYMBOLS)
    with pytest.raises(EquationError) as caught:
        balance_equation(f"{long} + H2 + {long}H2 -> {long}H8")
    assert len(str(caught.value)) < 1000


def test_no_user_text_reaches_an_evaluator() -> None:
    for text in ("__import__('os').getcwd() -> Fe", "N + S -> Q", "exit() = 1"):
        with pytest.raises(StoichkitError):
            balance_equation(text)


# --- properties --------------------------------------------------------------------------------

numbers = st.integers(1, 12)


@given(
    st.lists(st.sampled_from(SYMBOLS[2:80]), min_size=2, max_size=6, unique=True),
    st.data(),
)
@settings(max_examples=100, deadline=None)
def test_formation_from_the_elements(chosen: list[str], data: st.DataObject) -> None:
    """x1 A_a + x2 B_b + ... -> A_p B_q ...: always one solution, known in closed form."""
    sizes = [data.draw(numbers) for _ in chosen]
    wanted = [data.draw(numbers) for _ in chosen]
    left = [f"{s}{n if n > 1 else ''}" for s, n in zip(chosen, sizes, strict=True)]
    right = "".join(f"{s}{n if n > 1 else ''}" for s, n in zip(chosen, wanted, strict=True))
    shares = [Fraction(w, n) for w, n in zip(wanted, sizes, strict=True)]
    units = 1
    for share in shares:
        units = units * share.denominator // gcd(units, share.denominator)
    reaction = balance_equation(f"{' + '.join(left)} -> {right}")
    assert list(reaction.coefficients.values()) == [*(int(s * units) for s in shares), units]
    assert is_balanced(reaction.text())
    assert balance_equation(reaction.text()) == balance_equation(reaction.text())
    assert balance_equation(reaction.text()).coefficients == reaction.coefficients
    for name, share in zip(left, shares, strict=True):
        assert reaction.ratio(right, name) == 1 / share


@given(st.text(alphabet="FeOHCu234+-> =^·() ", max_size=30))
@settings(max_examples=200, deadline=None)
def test_any_text_gives_a_balanced_reaction_or_an_explanation(text: str) -> None:
    try:
        reaction = balance_equation(text)
    except EquationError as error:
        assert error.problem  # noqa: PT017
    else:
        assert is_balanced(reaction.text())
        assert all(number >= 1 for number in reaction.coefficients.values())


@given(
    st.integers(2, 5).flatmap(
        lambda columns: st.lists(
            st.lists(st.integers(-3, 3), min_size=columns, max_size=columns),
            min_size=1,
            max_size=5,
        )
    )
)
@example([[1, -1, 0], [2, 0, -1]])
@settings(max_examples=500, deadline=None)
def test_one_coefficient_after_the_other_gives_what_the_null_space_does(
    rows: list[list[int]],
) -> None:
    """Where it gives an answer, that is the only basis vector over the integers, by sympy."""
    columns = len(rows[0])
    numbers = _one_by_one(rows, columns)
    if numbers is None:
        return
    assert _null_space(rows, columns) == [numbers]
    assert all(n > 0 for n in numbers)


@pytest.mark.parametrize(
    ("text", "loads"),
    [
        ("Cu + Ag^+ -> Cu^2+ + Ag", False),
        ("Fe + CuCl2 -> FeCl3 + Cu", False),
        ("CuSO4·5H2O -> CuSO4 + H2O", False),
        ("MnO4^- + Fe^2+ + H^+ -> Mn^2+ + Fe^3+ + H2O", True),
    ],
)
def test_sympy_is_loaded_only_for_what_does_not_follow_at_once(text: str, loads: bool) -> None:
    code = (
        "import sys; from stoichkit.chemistry.equation import balance_equation; "
        f"balance_equation({text!r}); sys.exit('sympy' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == loads
