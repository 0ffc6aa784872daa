"""One substance, state or ratio in every spelling: read alike, or refused with the way to write it.

The counts and charges are written by hand. That (II) is an oxidation number, that it stands behind
its element and that the ion may also be written with its charge number: IUPAC, Nomenclature of
Inorganic Chemistry (2005), IR-5.4.2 (from memory).
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stoichkit.chemistry.candidates import (
    Candidate,
    hydrate_series,
    oxidation_state,
    oxidation_states,
    plain_ratios,
)
from stoichkit.chemistry.elements import element_name, symbol_named
from stoichkit.chemistry.equation import balance_equation
from stoichkit.chemistry.formula import SYMBOLS, parse_formula
from stoichkit.chemistry.oxidation import charge_sum, from_roman
from stoichkit.chemistry.ratios import exact_ratio
from stoichkit.chemistry.spoken import understood
from stoichkit.errors import FormulaError, ModelError

# --- oxidation numbers in formulas -------------------------------------------------------------

READ = [
    ("Cu(I)", {"Cu": 1}, 1, "Cu^+"),
    ("Cu(II)", {"Cu": 1}, 2, "Cu^2+"),
    ("Cu (II)", {"Cu": 1}, 2, "Cu^2+"),
    (" Cu  ( II ) ", {"Cu": 1}, 2, "Cu^2+"),
    ("Cu(ii)", {"Cu": 1}, 2, "Cu^2+"),
    ("Cu(Ⅱ)", {"Cu": 1}, 2, "Cu^2+"),
    ("Fe(ⅲ)", {"Fe": 1}, 3, "Fe^3+"),
    ("Sn(IV)", {"Sn": 1}, 4, "Sn^4+"),
    ("Sn(Ⅳ)", {"Sn": 1}, 4, "Sn^4+"),
    ("V(III)", {"V": 1}, 3, "V^3+"),
    ("Cu(II)(aq)", {"Cu": 1}, 2, "Cu^2+(aq)"),
    ("Cu (II) (aq)", {"Cu": 1}, 2, "Cu^2+(aq)"),
    ("Cu(II)^2+", {"Cu": 1}, 2, "Cu^2+"),
    ("Hg2(I)^2+", {"Hg": 2}, 2, "Hg2^2+"),
    ("Fe(II)SO4", {"Fe": 1, "S": 1, "O": 4}, 0, "FeSO4"),
    ("Fe (II) SO4", {"Fe": 1, "S": 1, "O": 4}, 0, "FeSO4"),
    ("Fe(II)SO4.7H2O", {"Fe": 1, "S": 1, "O": 11, "H": 14}, 0, "FeSO4·7H2O"),
    ("Fe2(III)O3", {"Fe": 2, "O": 3}, 0, "Fe2O3"),
    ("Fe₂(III)O₃", {"Fe": 2, "O": 3}, 0, "Fe2O3"),
    ("Fe(II)Fe2(III)O4", {"Fe": 3, "O": 4}, 0, "FeFe2O4"),
    ("Fe(III)OOH", {"Fe": 1, "O": 2, "H": 1}, 0, "FeOOH"),
    ("Fe(III)PO4", {"Fe": 1, "P": 1, "O": 4}, 0, "FePO4"),
    ("Cu2(I)O", {"Cu": 2, "O": 1}, 0, "Cu2O"),
    ("Cu(II)(NO3)2", {"Cu": 1, "N": 2, "O": 6}, 0, "Cu(NO3)2"),
    ("Cu(II)(CH3COO)2", {"Cu": 1, "C": 4, "H": 6, "O": 4}, 0, "Cu(CH3COO)2"),
    ("Hg2(I)Cl2", {"Hg": 2, "Cl": 2}, 0, "Hg2Cl2"),
    ("Mn(IV)O2", {"Mn": 1, "O": 2}, 0, "MnO2"),
    ("KMn(VII)O4", {"K": 1, "Mn": 1, "O": 4}, 0, "KMnO4"),
    ("K2Cr2(VI)O7", {"K": 2, "Cr": 2, "O": 7}, 0, "K2Cr2O7"),
    ("V2(V)O5", {"V": 2, "O": 5}, 0, "V2O5"),
    ("K3[Fe(III)(CN)6]", {"K": 3, "Fe": 1, "C": 6, "N": 6}, 0, "K3[Fe(CN)6]"),
    ("[Fe(II)(CN)6]^4-", {"Fe": 1, "C": 6, "N": 6}, -4, "[Fe(CN)6]^4-"),
    ("[Cu(II)(NH3)4]^2+", {"Cu": 1, "N": 4, "H": 12}, 2, "[Cu(NH3)4]^2+"),
    ("(NH4)2Fe(II)(SO4)2", {"N": 2, "H": 8, "Fe": 1, "S": 2, "O": 8}, 0, "(NH4)2Fe(SO4)2"),
    ("FeO·Fe2(III)O3", {"Fe": 3, "O": 4}, 0, "FeO·Fe2O3"),
    # iodine and vanadium
    ("Cu(I)I", {"Cu": 1, "I": 1}, 0, "CuI"),
    ("Cu(II)I2", {"Cu": 1, "I": 2}, 0, "CuI2"),
    ("CuI2", {"Cu": 1, "I": 2}, 0, "CuI2"),
    ("KI", {"K": 1, "I": 1}, 0, "KI"),
    ("Cu(IO3)2", {"Cu": 1, "I": 2, "O": 6}, 0, "Cu(IO3)2"),
    ("K(I3)", {"K": 1, "I": 3}, 0, "K(I3)"),
    ("I3^-", {"I": 3}, -1, "I3^-"),
    ("VI3", {"V": 1, "I": 3}, 0, "VI3"),
    ("(VO)SO4", {"V": 1, "O": 5, "S": 1}, 0, "(VO)SO4"),
]


@pytest.mark.parametrize(("text", "counts", "charge", "plain"), READ)
def test_a_numeral_adds_no_atoms(
    text: str, counts: dict[str, int], charge: int, plain: str
) -> None:
    formula = parse_formula(text)
    assert (dict(formula.counts), formula.charge, formula.plain()) == (counts, charge, plain)
    again = parse_formula(plain)
    assert (again.composition, again.charge) == (formula.composition, formula.charge)
    assert parse_formula(formula.unicode()).plain() == plain
    assert "(I" not in formula.html().replace("(IO", "").replace("(I<", "")


@pytest.mark.parametrize(
    ("text", "position", "words", "fix"),
    [
        (
            "Pb(I)2",
            5,
            "what the number behind it counts",
            "Write Pb2(I) if there are 2 Pb, or PbI2 for the iodide.",
        ),
        ("Cu(I)2O", 5, "what the number behind it counts", "Write Cu2(I)"),
        ("K2Cr(VI)2O7", 8, "what the number behind it counts", "Write Cr2(VI) if there are 2 Cr."),
        ("Hg2(I)2Cl2", 6, "what the number behind it counts", "Leave the oxidation number out."),
        ("(I)", 0, "not iodine or vanadium, and no element", "like CuI2"),
        ("(I)3", 0, "no element", "like CuI2"),
        (" (I)", 1, "no element", "like CuI2"),
        ("CuO· (II)", 5, "no element", "like CuI2"),
        ("K(OH)(I)", 5, "no element", "like CuI2"),
        ("Fe(II)(III)", 6, "no element", "like CuI2"),
        ("Cu[II]", 2, "oxidation number or symbols", "round brackets"),
        ("[I]^-", 0, "oxidation number or symbols", "round brackets"),
        ("Fe(IIII)", 2, "no oxidation number", ""),
        ("Fe(X)", 2, "no oxidation number", ""),
        ("CuⅡ", 2, "Roman numeral", "Cu(II)"),
        ("Fe(II)Cl3", 2, "does not fit FeCl3: the charges of the ions add up to -1", "FeCl3."),
        ("Fe(III)SO4·7H2O", 2, "add up to +1 instead of 0", "FeSO4."),
        ("FeO·Fe (II)2O3", 11, "what the number behind it counts", "Fe2(II)"),
        ("FeO·Fe2 (II)O3", 8, "add up to -2 instead of 0", "Fe2O3"),
        ("Fe(III)^2+", 2, "add up to +3 instead of +2", "only one of"),
        ("Fe(II)WO4", 2, "not known here", "FeWO4."),
        ("CaOH(I)", 4, "add up to +1 instead of 0", "CaOH."),
        ("Pb(" + " " * 900 + "I)" + "2" * 900, 905, "what the number behind", "PbI2222222222 for"),
        ("Fe(" + "I" * 900 + ")", 2, "“(IIIIIIIIIIII)” is no oxidation number", ""),
        ("Cr(VI)", 0, "no simple ion", "formula of the substance"),
        ("S(IV)", 0, "no simple ion", "formula of the substance"),
        ("Hg(I)", 0, "no simple ion", "Hg2^2+"),
        ("copper(II)", 0, "“copper(II)” is a name", "the symbol of copper"),
        ("iron(VI)", 0, "is a name", "the symbol of iron"),
        ("Iron (III) chloride", 0, "“Iron(III)” is a name", "like Fe^2+ for iron(II)"),
    ],
)
def test_what_a_numeral_cannot_mean_is_refused(
    text: str, position: int, words: str, fix: str
) -> None:
    with pytest.raises(FormulaError, match=re.escape(words)) as caught:
        parse_formula(text)
    assert caught.value.position == position
    assert caught.value.given == text
    assert caught.value.allowed
    assert fix in (caught.value.fix or "")


def test_equations_with_oxidation_numbers() -> None:
    reaction = balance_equation("Fe + Cu(II) -> Fe(III) + Cu")
    assert reaction.text() == "2 Fe + 3 Cu^2+ -> 2 Fe^3+ + 3 Cu"
    assert balance_equation("Fe(II)O + O2 -> Fe2(III)O3").text() == "4 FeO + O2 -> 2 Fe2O3"


@given(
    before=st.lists(st.sampled_from(["Cu", "Fe2", "O", "K", "(SO4)", "[", "(", "·", " ", "2"])),
    numeral=st.text("IVXivxⅠⅡⅣⅴ", min_size=1, max_size=5),
    inner=st.sampled_from(["", " "]),
    after=st.lists(st.sampled_from(["SO4", "O", "3", "Cl2", "]", ")", "^2+", "(aq)", " ", "H2O"])),
)
@settings(max_examples=400, deadline=None)
def test_no_roman_bracket_is_ever_iodine_or_vanadium(
    before: list[str], numeral: str, inner: str, after: list[str]
) -> None:
    for left, right in ("()", "[]"):
        text = f"{''.join(before)}{left}{inner}{numeral}{inner}{right}{''.join(after)}"
        try:
            formula = parse_formula(text)
        except FormulaError as error:
            assert 0 <= (error.position or 0) <= len(text)  # noqa: PT017
        else:
            assert not {"I", "V"} & set(formula.counts)
            assert parse_formula(formula.plain()).composition == formula.composition


def test_roman_numerals() -> None:
    written = ["I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX"]
    assert [from_roman(text) for text in written] == list(range(1, 10))
    assert [from_roman(text.lower()) for text in written] == list(range(1, 10))
    assert [from_roman(chr(0x2160 + n)) for n in range(9)] == list(range(1, 10))
    assert {from_roman(text) for text in ("", "IIII", "VV", "IIX", "X", "XI", "Ⅻ", "2")} == {None}


SALTS = """
    NaCl KI CaF2 MgSO4 Na2CO3 KNO3 AgNO3 Al2(SO4)3 (NH4)2SO4 NH4NO3 Ca(OH)2 Na3PO4 K2HPO4 KH2PO4
    NaHCO3 KHSO4 Na2SO3 Na2S2O3 NaNO2 KClO3 KClO4 NaClO KIO3 KBrO3 KMnO4 K2CrO4 K2Cr2O7 K2C2O4
    CH3COONa HCOONa KSCN KCN Na2S H2O HCl Zn(NO3)2 BaO Al2O3 Mg2P2O7 Ca(ClO2)2"""


@pytest.mark.parametrize("salt", SALTS.split())
def test_salts_are_neutral(salt: str) -> None:
    """The charges of the table add up to zero in salts every handbook lists (common knowledge)."""
    assert charge_sum(salt) == 0


# --- oxidation states of a stated metal --------------------------------------------------------


@pytest.mark.parametrize(
    "spelled",
    [2, "2", "+2", "2+", "II", "ii", "Ⅱ", "(II)", "iron(II)", "Iron(II)", "iron (II)", "iron II",
     "iron(2+)", "iron(2)", "Fe(II)", "Fe (II)", "Fe(ii)", "Fe^2+", "Fe2+", "Fe²⁺", "Fe{2+}",
     "Fe^{2+}", "Fe(2+)", "Fe+2", "fe2+", "Fe^2+(aq)", " Fe^2+ ", "２"],
)  # fmt: skip
def test_every_spelling_of_iron_two(spelled: int | str) -> None:
    assert oxidation_state("Fe", spelled) == 2
    assert oxidation_states("Fe", [spelled]) == oxidation_states("Fe", [2])


@pytest.mark.parametrize(
    ("metal", "spelled", "state"),
    [
        ("Ag", "Ag+", 1),
        ("Ag", "Ag^+", 1),
        ("Hg", "Hg2^2+", 1),
        ("Hg", "mercury(I)", 1),
        ("Al", "aluminium(III)", 3),
        ("Al", "aluminum(III)", 3),
        ("Cr", "Cr(VI)", 6),
        ("Mn", "manganese(VII)", 7),
        ("V", "V", 5),
        ("V", "V(V)", 5),
        ("V", "vanadium(IV)", 4),
        ("Os", "VIII", 8),
        ("Ir", "Ir(IX)", 9),
    ],
)
def test_states_of_other_metals(metal: str, spelled: str, state: int) -> None:
    assert oxidation_state(metal, spelled) == state


@pytest.mark.parametrize(
    ("spelled", "words", "fix"),
    [
        ("Cu^2+", "state of copper (Cu), not of Fe", "Write Fe^2+."),
        ("copper(II)", "state of copper (Cu)", "Write Fe^2+."),
        ("Sn(IV)", "state of tin (Sn)", "Write Fe^4+."),
        ("Hg2^2+", "state of mercury (Hg)", "Write Fe^1+."),
        (0, "from 1 to 9", "Leave it out."),
        ("0", "from 1 to 9", "Leave it out."),
        ("iron(0)", "from 1 to 9", "Leave it out."),
        (10, "from 1 to 9", ""),
        ("Fe^10+", "from 1 to 9", ""),
        ("Fe^2-", "from 1 to 9", ""),
        ("X", "cannot be read", ""),
        ("Fe2", "cannot be read", ""),
        ("FeO", "cannot be read", ""),
        ("FeII", "cannot be read", ""),
        ("ferrous", "cannot be read", ""),
        ("+", "cannot be read", ""),
        ("", "cannot be read", ""),
        ("9" * 5000, "cannot be read", ""),
        (2.0, "cannot be read", ""),
        (True, "cannot be read", ""),
        (None, "cannot be read", ""),
    ],
)
def test_states_that_cannot_be_used(spelled: Any, words: str, fix: str) -> None:
    with pytest.raises(ModelError, match=re.escape(words)) as caught:
        oxidation_state("Fe", spelled)
    assert caught.value.given == spelled
    assert caught.value.allowed == "whole numbers 1 to 9, or texts like iron(II), Fe^2+ or II"
    assert (caught.value.fix or "") == fix


def test_the_metal_itself_is_stated_by_its_symbol() -> None:
    with pytest.raises(ModelError, match=r"Write Fe\."):
        oxidation_states("iron", [2])
    with pytest.raises(ModelError, match="not the symbol of a metal") as caught:
        oxidation_states("chlorine", [2])
    assert caught.value.fix is None


def test_one_state_in_two_spellings_is_given_twice() -> None:
    with pytest.raises(ModelError, match="same name"):
        oxidation_states("Fe", [2, "Fe^2+"])


def test_names_and_symbols() -> None:
    assert [symbol_named(element_name(symbol)) for symbol in SYMBOLS] == list(SYMBOLS)
    assert [symbol_named(n) for n in ("Sulphur", "cesium", "caesium")] == ["S", "Cs", "Cs"]
    assert symbol_named("") is None


# --- ratios ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("written", "ratio"),
    [
        ("1.5", "3/2"), ("1,5", "3/2"), (1.5, "3/2"), ("1.50", "3/2"), ("3/2", "3/2"),
        ("3:2", "3/2"), (" 3 : 2 ", "3/2"), ("0.5", "1/2"), ("0,5", "1/2"), (".5", "1/2"),
        (0.5, "1/2"), ("1:2", "1/2"), ("1/2", "1/2"), ("2.25", "9/4"), ("1.25", "5/4"),
        ("0.75", "3/4"), (0.125, "1/8"), ("1.375", "11/8"), ("0.2", "1/5"), ("1.4", "7/5"),
        ("0.6", "3/5"), ("0.1", "1/10"), ("0.9", "9/10"), ("0.30", "3/10"), ("2:3", "2/3"),
        ("2", "2"), (2, "2"), (2.0, "2"), ("12.0", "12"), ("7", "7"), (Fraction(67, 100), "67/100"),
    ],
)  # fmt: skip
def test_exact_ratios(written: Any, ratio: str) -> None:
    assert str(exact_ratio(written)) == ratio
    assert plain_ratios({"a": written})[0].ratio == Fraction(ratio)
    assert Candidate("a", written).ratio == Fraction(ratio)
    assert hydrate_series("CaSO4", waters=[written])[0].ratio == Fraction(ratio)


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("0.67", "2/3"), ("0,67", "2/3"), (0.67, "2/3"), ("0.667", "2/3"), ("0.66", "2/3"),
        ("0.6667", "2/3"), (2 / 3, "2/3"), ("0.33", "1/3"), ("0.333", "1/3"), (1 / 3, "1/3"),
        ("1.33", "4/3"), ("1.67", "5/3"), ("1.66", "5/3"), (10 / 3, "10/3"), ("0.17", "1/6"),
        ("0.83", "5/6"), ("0.14", "1/7"), (1 / 7, "1/7"), ("2.33", "7/3"), ("0.08", "1/12"),
        ("0.12", "1/8"),
    ],
)  # fmt: skip
def test_a_rounded_decimal_is_asked_about(written: Any, meant: str) -> None:
    with pytest.raises(ModelError, match="rounded decimal") as caught:
        exact_ratio(written)
    assert (caught.value.fix or "").startswith(f"Did you mean {meant}?")
    for call in (
        lambda: plain_ratios({"a": written}),
        lambda: Candidate("a", written),
        lambda: hydrate_series("CaSO4", waters=[written]),
    ):
        with pytest.raises(ModelError, match=f"Did you mean {meant}"):
            call()


def test_a_decimal_near_no_simple_fraction() -> None:
    with pytest.raises(ModelError, match="rounded decimal") as caught:
        exact_ratio("1.234")
    assert caught.value.fix == "Write it as a fraction. 617/500 is taken if it is written so."


@pytest.mark.parametrize(
    ("written", "both"),
    [("0.3", "1/3 or 3/10"), (0.7, "2/3 or 7/10"), ("1,3", "4/3 or 13/10"), (1.7, "5/3 or 17/10")],
)
def test_a_tenth_that_may_be_a_third_is_asked_about(written: Any, both: str) -> None:
    with pytest.raises(ModelError, match="two ways") as caught:
        exact_ratio(written)
    assert caught.value.allowed == both


@pytest.mark.parametrize(
    "written",
    [0, -1, 0.0, -0.5, "0", "0.0", "-1.5", "1/0", "0/1", "1/2/3", "1.5/2", "1.", "1,5,0", "1e3",
     "x", "", None, True, float("nan"), float("inf"), 1e300, 1e-300, [1], "٣", "9" * 5000,
     Fraction(-1, 2)],
)  # fmt: skip
def test_what_is_no_ratio(written: Any) -> None:
    with pytest.raises(ModelError, match="The mole ratio of a cannot be read") as caught:
        plain_ratios({"a": written})
    assert caught.value.given is written
    assert "1.5" in str(caught.value.allowed)


@given(st.fractions(min_value=Fraction(1, 12), max_value=20, max_denominator=12))
@settings(max_examples=300, deadline=None)
def test_no_fraction_is_mistaken_for_another(ratio: Fraction) -> None:
    """However many of its decimals are typed, a fraction is itself, refused, or asked about."""
    for places in range(1, 9):
        typed = f"{float(ratio):.{places}f}"
        try:
            found = exact_ratio(typed)
        except ModelError as error:
            said = f"{error.allowed} {error.fix}"
            assert places < 3 or str(ratio) in said
        else:
            assert found == Fraction(typed)
            assert places < 2 or found == ratio or found.denominator <= 12


# --- said back ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("H2O", "hydrogen 2, oxygen 1; charge 0; 18.02 g/mol"),
        ("SO4^2-(aq)", "sulfur 1, oxygen 4; charge 2-; 96.06 g/mol; dissolved in water"),
        ("Fe^3+", "iron 1; charge 3+; 55.85 g/mol"),
        ("e-", "electron; charge 1-"),
        ("Co", "cobalt 1; charge 0; 58.93 g/mol; Co, not CO (carbon and oxygen)"),
        ("CO", "carbon 1, oxygen 1; charge 0; 28.01 g/mol; CO, not Co (cobalt)"),
        ("BaCl2·2H2O", "barium 1, chlorine 2, hydrogen 4, oxygen 2; charge 0; 244.26 g/mol; "
         "2 H2O counted"),
        ("CaCl2.H2O", "calcium 1, chlorine 2, hydrogen 2, oxygen 1; charge 0; 128.99 g/mol; "
         "1 H2O counted; “.” read as the dot of a hydrate, not as a decimal point"),
        ("Fe (II)SO4", "iron 1, sulfur 1, oxygen 4; charge 0; 151.90 g/mol; "
         "(II) read as oxidation number, not as iodine or vanadium"),
        ("CuII", "copper 1, iodine 2; charge 0; 317.35 g/mol; "
         "II read as elements; an oxidation number stands in round brackets"),
        ("TcO2", "technetium 1, oxygen 2; charge 0; no molar mass: "
         "Technetium (Tc) has no standard atomic weight"),
    ],
)  # fmt: skip
def test_understood(text: str, said: str) -> None:
    """Molar masses by hand from the 2021 atomic weights: H 1.008, O 15.999, S 32.06, Fe 55.845."""
    assert understood(text) == said
    assert understood(parse_formula(text)) == said


def test_a_refusal_says_what_was_read() -> None:
    with pytest.raises(ModelError, match=r"It was read as copper 1, sulfur 1, oxygen 9, hydrogen"):
        hydrate_series("CuSO4.5H2O")
    with pytest.raises(ModelError, match=r"…\.$"):
        hydrate_series("".join(SYMBOLS) + "·H2O")
