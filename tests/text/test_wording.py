"""Ranges, tables and formulas as a report writes them, each by hand."""

from __future__ import annotations

import pytest

from stoichkit.errors import StoichkitError
from stoichkit.text.latex import equation_latex, math_document, math_heading, math_part
from stoichkit.text.parts import Equation, Picture, Table, Token
from stoichkit.text.plain import text_part, text_widths
from stoichkit.text.wording import shown_range


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
    assert text_widths([["", "b"], ["", "y" * 100]]) == [0, 86]
    words = ["magnesium(III)", "uncertainties", "a very long header of many words", "to order, mL"]
    assert text_widths([words * 3]) == [14, 13, 6, 6] * 3, "words of 16 are whole in a wide table"
    assert text_widths([["x" * 17] * 9]) == [16] * 9, "longer ones are broken"
    rows = text_part(Table(("n", "say"), (("7", "word " * 30),))).split("\n")
    assert max(map(len, rows)) <= 88
    assert rows[1] == "-  " + "-" * 85


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
