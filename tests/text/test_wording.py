"""Ranges, tables and formulas as a report writes them, each by hand."""

from __future__ import annotations

import pytest

from stoichkit.errors import StoichkitError
from stoichkit.text.latex import (
    equation_latex,
    latex_part,
    math_document,
    math_heading,
    math_part,
)
from stoichkit.text.parts import Equation, Picture, Table, Token
from stoichkit.text.plain import text_part, text_widths
from stoichkit.text.wording import (
    capitalised,
    joined,
    magnitude,
    number_text,
    p_clause,
    p_text,
    plus_minus,
    reaction_text,
    shown_range,
    symbol,
    two_digits,
)


@pytest.mark.parametrize(
    ("low", "high", "marks", "shown"),
    [
        (1.0004, 1.2, (1.1,), ("1.00", "1.20")),
        (1.0004, 1.2, (1.1, 1.0), ("1.0004", "1.2000")),  # one mark that is kept is not enough
        (1.0004, 1.2, (1.0, 1.1), ("1.0004", "1.2000")),
        (1.0000000001, 1.2, (1.0,), ("1.000000000", "1.200000000")),  # nine decimals at most
        (0.7, 40.0, (), ("1", "40")),
        (12.0, 15.0, (), ("12.0", "15.0")),
        (2.5, float("inf"), (), ("2.5", "")),
        (99_999.4, 123_456.0, (), ("99999", "123000")),  # three digits from 100 000 on
        (100_000.0, 123_456.0, (), ("100000", "123000")),
        (-123_456.0, -99_999.0, (), ("-123000", "-99999")),
        (5.0, 5.0, (), ("5.0", "5.0")),
        (0.0, 0.0, (), ("0.0", "0.0")),
        (0.0004, 0.0004, (), ("0.00040", "0.00040")),
        (3.0, 2.0, (), ("3.0", "2.0")),
        (1.0, 1.00000000001, (), ("1.000000000", "1.000000000")),
        (0.94, 2.0, (0.96,), ("0.9", "2.0")),
        (0.94, 2.0, (0.93,), ("0.94", "2.00")),
        # an end that is itself a mark is within the range, and is shown so
        (1.0004, 1.2, (1.0004,), ("1.00", "1.20")),
        (1.006, 1.2, (1.006,), ("1.006", "1.200")),
        (1.0, 1.196, (1.196,), ("1.00", "1.20")),
        (1.0, 1.194, (1.194,), ("1.000", "1.194")),
    ],
)
def test_a_range_has_digits_that_suit_its_width_and_keep_its_marks(
    low: float, high: float, marks: tuple[float, ...], shown: tuple[str, str]
) -> None:
    assert shown_range(low, high, marks) == shown


def test_columns_give_way_from_the_widest_to_their_words() -> None:
    """88 columns less two for each gap between columns; a header's words stay whole."""
    assert text_widths([["n", "say"], ["7", "x" * 200]]) == [1, 85]
    assert text_widths([["a", "b", "c"], ["x" * 60, "y" * 60, "z"]]) == [41, 42, 1]
    assert text_widths([["", "b"], ["", "y" * 100]]) == [1, 85]
    # a header gives way before cells do, to its words and not beyond
    assert text_widths([["word " * 12, "b"], ["12345", "y" * 80]]) == [6, 80]
    assert text_widths([["a b c", "b"], ["1", "y" * 85]]) == [1, 85]
    assert text_widths([["abc d e", "b"], ["1", "y" * 82]]) == [4, 82]
    assert text_widths([["abc d e", "b"], ["1", "y" * 84]]) == [3, 83]
    # cells of short words give way to eight letters: 11 columns have 68 of the 88 columns
    assert text_widths([["a"] * 11, ["to be or not to be"] * 11]) == [8] * 11
    words = ["magnesium(III)", "uncertainties", "a very long header of many words", "to order, mL"]
    assert text_widths([words * 3]) == [14, 13, 6, 6] * 3, "words of 16 are whole in a wide table"
    assert text_widths([["x" * 17] * 9]) == [16] * 9, "longer ones are broken"
    rows = text_part(Table(("n", "say"), (("7", "word " * 30),))).split("\n")
    assert max(map(len, rows)) <= 88
    assert rows[1] == "-  " + "-" * 85


def test_a_column_may_be_empty() -> None:
    """It is one letter wide, as much as its line below the header."""
    assert text_part(Table(("", "b"), (("", "x"),))) == "   b\n-  -\n   x"
    assert text_part(Table(("a", ""), ())) == "a\n-  -"
    rows = text_part(Table(("", "b", ""), (("", "y" * 100, ""),))).split("\n")
    assert rows[1] == "-  " + "-" * 82 + "  -"


def test_symbols_signs_and_units_of_a_formula() -> None:
    sides = (
        (Token("symbol", "m1"), Token("sign", "−"), Token("symbol", "V")),
        (Token("number", "−2.5 × 10⁻³ mol"),),
    )
    assert equation_latex(Equation(sides)) == r"m_{1} - V = -2.5\times10^{-3}\,\text{mol}"
    assert equation_latex(Equation(((Token("number", "7"),), (Token("words", "a"),)))).startswith(
        "7 = "
    )


def test_rows_of_one_formula_for_a_notebook() -> None:
    assert math_heading("Title", 1) == r"\textbf{Title}"
    assert math_heading("Part", 2) == r"\\ \textbf{Part}"
    assert math_part("50 % of Cu²⁺") == r"\text{50 }\%\text{ of Cu}{}^{2+}"
    assert math_document("x") == "$$\\begin{array}{l}\nx\n\\end{array}$$\n"


@pytest.mark.parametrize("svg", ['<p aria-label="x">', "<svg >", '<svg ><g aria-label="x"/></svg>'])
def test_a_picture_is_an_svg_with_a_description(svg: str) -> None:
    with pytest.raises(StoichkitError):
        Picture(svg, "what is seen")
    assert Picture('<svg role="img" aria-label="x"></svg>', "what is seen").svg


def test_a_picture_that_is_refused_is_quoted_by_its_first_forty_characters() -> None:
    with pytest.raises(StoichkitError, match=f"Given: '?{'x' * 40}(?!x)"):
        Picture("x" * 100, "what is seen")


@pytest.mark.parametrize(
    ("p", "coverage", "text"),
    [
        (0.4177, 0.95, "0.42"), (1.0, 0.95, "1.00"), (0.0001, 0.95, "0.00010"),
        (0.00009999, 0.95, "< 0.0001"), (0.05, 0.95, "0.050"), (0.049999, 0.95, "0.049999"),
        (0.0501, 0.95, "0.050"), (0.0099, 0.99, "0.0099"), (0.00999, 0.99, "0.00999"),
        (0.01, 0.99, "0.010"), (0.1, 0.95, "0.10"), (0.0234, 0.95, "0.023"),
        (0.0499999999996, 0.95, "0.0499999999996"), (0.0500000000004, 0.95, "0.050"),
        (0.0499999999998, 0.9500000000004, "0.0499999999998"),  # whose twelve decimals count
        (0.00999, 0.95, "0.010"), (0.0996, 0.95, "0.10"), (0.0994, 0.95, "0.099"),
        (0.049999, 0.9, "0.050"), (0.09999, 0.9, "0.09999"),
    ],
)  # fmt: skip
def test_a_p_value_stands_on_its_side_of_the_limit(p: float, coverage: float, text: str) -> None:
    """Two digits, two decimals at least, more where they would cross 1 − coverage."""
    assert p_text(p, coverage) == text
    assert p_clause(p, coverage) == (f"p {text}" if text[0] == "<" else f"p = {text}")


def test_a_p_value_stands_on_its_side_of_five_per_cent_unless_told() -> None:
    assert (p_text(0.049999), p_clause(0.049999)) == ("0.049999", "p = 0.049999")
    assert (p_text(0.00999), p_clause(0.09999)) == ("0.010", "p = 0.10")


@pytest.mark.parametrize(
    ("value", "text"),
    [(0.0, "0"), (-1.0, "0"), (0.0999, "0.10"), (0.0994, "0.099"), (9.96, "10"), (9.94, "9.9"),
     (99.6, "100"), (1234.0, "1234")],
)  # fmt: skip
def test_two_digits_without_a_power_of_ten(value: float, text: str) -> None:
    assert two_digits(value) == text


def test_the_power_of_ten_is_that_of_what_is_shown() -> None:
    assert [magnitude(v, 2) for v in (0.994, 0.996, 9.94, 9.96, -99.6)] == [-1, 0, 0, 1, 2]
    assert magnitude(9.6, 1) == magnitude(9.6, 0) == 1


def test_words_of_a_sentence() -> None:
    assert [joined(list("abc")[:n]) for n in (1, 2, 3)] == ["a", "a and b", "a, b and c"]
    assert joined(["a", "b"], "or") == "a or b"
    for text in ("", "aB", "pH is", "x = 2", "NaCl", "2 g", "Ab"):
        assert capitalised(text) == text
    for text, said in (("a", "A"), ("ab", "Ab"), ("of two", "Of two"), ("étain", "Étain")):
        assert capitalised(text) == said


def test_numbers_with_and_without_an_uncertainty() -> None:
    assert plus_minus(1.89151, 0.0745638) == "1.892 ± 0.075"
    assert plus_minus(-1.5, 0.0) == plus_minus(-1.5, float("nan")) == number_text(-1.5) == "−1.5"
    assert symbol("SO4^2-") == "n(SO₄²⁻)"
    assert reaction_text("nothing of the kind") == "nothing of the kind"
    assert reaction_text("2 H2 + O2 -> 2 H2O") == "2 H₂ + O₂ → 2 H₂O"


@pytest.mark.parametrize(("letters", "broken"), [(79, False), (80, True)])
def test_a_table_of_more_than_a_line_has_its_cells_broken(letters: int, broken: bool) -> None:
    """84 letters, of which each of two columns takes two more: 1 + 79 + 4."""
    text = latex_part(Table(("a", "b"), (("c", "x" * letters),)))
    assert text.startswith(r"\begin{longtable}{P{" if broken else r"\begin{longtable}{ll}")
