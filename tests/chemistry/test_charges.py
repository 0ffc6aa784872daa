"""Charges of ions, one by one, and the oxidation numbers that must fit them.

Ions and their charges are those of the IUPAC Recommendations 2005, Table IX, from memory; each is
held against a salt or an acid that every textbook has.
"""

from __future__ import annotations

import pytest

from stoichkit.chemistry.equation import _null_space
from stoichkit.chemistry.formula import parse_formula
from stoichkit.chemistry.oxidation import (
    HIGHEST_CATION,
    NON_METALS,
    ROMAN,
    charge_sum,
    from_roman,
)
from stoichkit.chemistry.ratios import exact_ratio
from stoichkit.errors import FormulaError, ModelError

NEUTRAL = """
HF HCl HBr HI H2O H2S LiF LiCl NaF NaCl NaBr NaI Na2O Na2S KF KCl KBr KI K2O RbCl CsCl AgF AgCl
AgBr AgI Ag2O Ag2S BeF2 BeO MgCl2 MgO MgS CaCl2 CaF2 CaO CaS SrCl2 SrO BaCl2 BaO ZnCl2 ZnO ZnS
CdCl2 CdS Al2O3 AlCl3 AlF3 Al2S3
NH4Cl (NH4)2S NaOH KCN KSCN NaHS NaNO2 AgNO3 NaHCO3 KHSO4 NaHSO3 NaH2PO4 NaClO NaClO2 KClO3
KClO4 KBrO3 KIO3 KMnO4 HCOONa CH3COONa AgC2H3O2 Ca(OH)2 Mg(NO3)2 Ca(HCO3)2 Zn(CH3COO)2
Na2CO3 Na2SO3 K2SO4 Na2S2O3 K2CrO4 K2Cr2O7 Na2C2O4 K2HPO4 CaCO3 BaSO4 Al2(SO4)3 Na3PO4 Ca3(PO4)2
Na4P2O7 (NH4)2SO4 (NH4)3PO4
"""


@pytest.mark.parametrize("salt", NEUTRAL.split())
def test_the_charges_of_a_salt_add_up_to_nothing(salt: str) -> None:
    assert charge_sum(salt) == 0


IONS = {
    0: "H2O NH3 CO",
    1: "H Li Na K Rb Cs Ag NH4",
    2: "Be Mg Ca Sr Ba Zn Cd",
    3: "Al",
    -1: "F Cl Br I OH CN SCN HS NO2 NO3 HCO3 HSO4 HSO3 H2PO4 ClO ClO2 ClO3 ClO4 BrO3 IO3 MnO4 HCOO "
    "CH3COO C2H3O2",
    -2: "O S CO3 SO3 SO4 S2O3 CrO4 Cr2O7 C2O4 HPO4",
    -3: "PO4",
    -4: "P2O7",
}


@pytest.mark.parametrize("charge", IONS)
def test_the_charge_of_each_ion(charge: int) -> None:
    for ion in IONS[charge].split():
        assert charge_sum(ion) == charge, ion
        assert charge_sum(f"({ion})3") == 3 * charge, ion
        assert charge_sum(f"[({ion})2]2") == 4 * charge, ion


def test_charges_of_an_element_with_its_number() -> None:
    for number, numeral in enumerate(ROMAN, start=1):
        assert charge_sum(f"Fe({numeral})") == number
        assert charge_sum(f"Fe3({numeral})") == 3 * number
        assert charge_sum(f"Fe2({numeral})O") == 2 * number - 2
        assert charge_sum(f"(Fe2({numeral})O)4Cl") == 4 * (2 * number - 2) - 1
    assert charge_sum("Fe") is None
    assert charge_sum("Fe(II)W") is None
    assert charge_sum("K3Fe(III)(CN)6") == 0
    assert charge_sum("[Cu(II)(NH3)4]SO4") == 0
    assert charge_sum("") == 0
    assert charge_sum("Cl2") == -2


def test_roman_numerals_from_one_to_nine() -> None:
    names = ["I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX"]
    assert [from_roman(name) for name in names] == [1, 2, 3, 4, 5, 6, 7, 8, 9]
    assert [from_roman(one) for one in ("", "X", "IIII", "VV", "1")] == [None] * 5
    assert from_roman("ⅷ") == 8
    assert from_roman("vii") == 7


@pytest.mark.parametrize(("numeral", "charge"), [("I", 1), ("II", 2), ("III", 3), ("IV", 4)])
def test_a_metal_with_its_number_is_its_ion(numeral: str, charge: int) -> None:
    assert parse_formula(f"Ti({numeral})").charge == charge
    assert parse_formula(f"Ti({numeral})").plain() == f"Ti^{charge if charge > 1 else ''}+"


def test_what_is_no_simple_ion_is_refused() -> None:
    """No cation of 5 or more, no positive ion of a non-metal, and mercury(I) is a pair."""
    assert HIGHEST_CATION == 4
    for text in ("V(V)", "Mn(VII)", "S(IV)", "Cl(I)", "H(I)"):
        with pytest.raises(FormulaError, match=r"no simple ion.*Write the formula"):
            parse_formula(text)
    with pytest.raises(FormulaError, match=r"Write Hg2\^2\+"):
        parse_formula("Hg(I)")
    assert parse_formula("Hg(II)").charge == 2
    with pytest.raises(FormulaError, match=r"up to \(IV\)"):
        parse_formula("V(V)")


@pytest.mark.parametrize("symbol", ["H", "C", "N", "O", "P", "S", "Cl", "Br", "Xe", "Si", "B"])
def test_non_metals(symbol: str) -> None:
    assert symbol in NON_METALS


@pytest.mark.parametrize("symbol", ["Na", "Fe", "Cu", "Al", "Sn", "Pb", "Hg", "Ge", "Sb"])
def test_metals_and_what_behaves_as_one(symbol: str) -> None:
    assert symbol not in NON_METALS
    assert parse_formula(f"{symbol}(II)").charge == 2


@pytest.mark.parametrize(("text", "sums"), [
    ("Fe(III)SO4", r"\+1 instead of 0"), ("Fe(II)Cl3", "-1 instead of 0"),
    ("Fe(II)SO4^2-", "0 instead of -2"), ("Fe2(II)O3", "-2 instead of 0"),
    ("CuSO4.Fe(III)Cl2", r"\+1 instead of 0"),
])  # fmt: skip
def test_a_number_that_does_not_fit_says_by_how_much(text: str, sums: str) -> None:
    with pytest.raises(FormulaError, match=sums):
        parse_formula(text)


@pytest.mark.parametrize(
    "text", ["Fe(II)SO4", "Fe2(III)O3", "K2Cr2(VI)O7", "CuSO4·Fe(II)Cl2", "K4[Fe(II)(CN)6]"]
)
def test_a_number_that_fits_adds_nothing(text: str) -> None:
    assert parse_formula(text).charge == 0


def test_a_bracket_of_one_metal_alone_is_refused_behind_a_number() -> None:
    with pytest.raises(FormulaError, match=r"Write Cr2\(VI\) if there are 2 Cr\."):
        parse_formula("Cr(VI)2O7")
    with pytest.raises(
        FormulaError, match=r"Write Cu2\(I\) if there are 2 Cu, or CuI2 for the iod"
    ):
        parse_formula("Cu(I)2")


def test_a_long_name_is_shown_up_to_thirty_letters() -> None:
    name = "a" * 40
    with pytest.raises(FormulaError) as refused:
        parse_formula(f"{name}(II)")
    said = str(refused.value)
    assert f"“{name[:30]}(II)” is a name" in said
    assert f"Write the symbol of {name[:30]};" in said


@pytest.mark.parametrize(("spaces", "read"), [(0, True), (1, True), (5, True)])
def test_the_element_stands_just_before_its_number(spaces: int, read: bool) -> None:
    assert (parse_formula("Cu" + " " * spaces + "(II)").charge == 2) is read


def test_the_largest_numbers_of_atoms() -> None:
    """A subscript up to 10^9, and up to 10^15 atoms of one element in all."""
    assert dict(parse_formula("H1000000000").counts) == {"H": 10**9}
    with pytest.raises(FormulaError, match="at most 1,000,000,000"):
        parse_formula("H1000000001")
    with pytest.raises(FormulaError, match="A number is too large"):
        parse_formula("H10000000000")
    assert dict(parse_formula("(H1000000)1000000000").counts) == {"H": 10**15}
    with pytest.raises(FormulaError, match=r"at most 10\^15"):
        parse_formula("(H1000001)1000000000")
    assert dict(parse_formula("CuSO4·1000000000H1000000").counts)["H"] == 10**15


@pytest.mark.parametrize(("written", "said"), [
    ("0.667", "Did you mean 2/3? 667/1000 is taken if it is written so."),
    ("0.0008", "Write it as a fraction."),  # 1/1250: more than three places
    ("0.6667", "Did you mean 2/3?"), ("1.3333333333", "Did you mean 4/3?"),
    ("0.6666", "Did you mean 2/3?"),  # cut off
    ("0.08333", "Did you mean 1/12?"), ("0.0769", "Write it as a fraction."),  # 1/13
    ("0.91667", "Did you mean 11/12?"),
])  # fmt: skip
def test_what_a_rounded_decimal_may_mean(written: str, said: str) -> None:
    """Fractions with a denominator up to 12; the decimal itself up to thousandths."""
    with pytest.raises(ModelError) as refused:
        exact_ratio(written)
    assert str(refused.value).endswith(f"decimals only if they are exact. {said}")


def test_decimals_of_three_places_are_exact_where_no_third_is_near() -> None:
    assert [str(exact_ratio(one)) for one in ("0.125", "0.375", "2.5", "0.1", "1.2", "0.1250")] == [
        "1/8", "3/8", "5/2", "1/10", "6/5", "1/8",
    ]  # fmt: skip
    with pytest.raises(ModelError, match="rounded decimal"):
        exact_ratio("0.0625")  # 1/16, in four places


def test_solutions_of_equations_are_written_with_most_numbers_above_nothing() -> None:
    """x + z = 0, y + z = 0, and two more that are nothing: (1, 1, −1, 0, 0), not the reverse."""
    rows = [[1, 0, 1, 0, 0], [0, 1, 1, 0, 0], [0, 0, 0, 1, 0], [0, 0, 0, 0, 1]]
    assert _null_space(rows, 5) == [[1, 1, -1, 0, 0]]
    assert _null_space([[2, -3, 0], [0, 0, 5]], 3) == [[3, 2, 0]]
    assert _null_space([[1, -1]], 2) == [[1, 1]]
    assert _null_space([], 2) == [[1, 0], [0, 1]]


def test_of_a_long_formula_the_last_forty_characters_are_shown() -> None:
    stem = "C" * 3 + "Na" * 25
    with pytest.raises(FormulaError) as refused:
        parse_formula(f"{stem}2+")
    last = "Na" * 20
    assert f"Allowed: {last}^2+ or {last}2^+." in str(refused.value)
