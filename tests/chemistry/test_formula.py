"""Reading formulas: what is accepted, what is refused and why, and how the work grows."""

from __future__ import annotations

import pickle
import re
import sys
from collections.abc import Callable
from types import FrameType
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stoichkit.chemistry.formula import (
    MAX_CHARACTERS,
    MAX_COUNT,
    SYMBOLS,
    Formula,
    _parse,
    parse_formula,
)
from stoichkit.errors import FormulaError, StoichkitError

CASES = [
    ("Fe2O3", {"Fe": 2, "O": 3}),
    ("Fe₂O₃", {"Fe": 2, "O": 3}),
    ("  NaCl\n", {"Na": 1, "Cl": 1}),
    ("CO", {"C": 1, "O": 1}),
    ("Co", {"Co": 1}),
    ("Ca(OH)2", {"Ca": 1, "O": 2, "H": 2}),
    ("Al2(SO4)3", {"Al": 2, "S": 3, "O": 12}),
    ("K4[Fe(CN)6]", {"K": 4, "Fe": 1, "C": 6, "N": 6}),
    ("[Co(NH3)6]Cl3", {"Co": 1, "N": 6, "H": 18, "Cl": 3}),
    ("CH3COOH", {"C": 2, "H": 4, "O": 2}),
    ("C12H22O11", {"C": 12, "H": 22, "O": 11}),
    ("((H))", {"H": 1}),
    ("[(H2)2]3", {"H": 12}),
    ("H1000000000", {"H": 10**9}),
]


@pytest.mark.parametrize(("text", "counts"), CASES)
def test_counts(text: str, counts: dict[str, int]) -> None:
    assert dict(parse_formula(text).counts) == counts
    assert list(parse_formula(text).counts) == list(counts)  # order of first appearance


@pytest.mark.parametrize("dot", ["·", "•", "⋅", "∙", ".", "*", " · ", " . "])
def test_every_hydrate_dot(dot: str) -> None:
    """“CuSO4.5H2O” is five waters; elsewhere it has been read as CuSO(4.5)H2O."""
    formula = parse_formula(f"CuSO4{dot}5H2O")
    assert dict(formula.counts) == {"Cu": 1, "S": 1, "O": 9, "H": 10}
    assert formula.hydrate_waters == 5
    assert formula.plain() == "CuSO4·5H2O"


@pytest.mark.parametrize(
    ("text", "counts", "waters"),
    [
        ("BaCl2.2H2O", {"Ba": 1, "Cl": 2, "H": 4, "O": 2}, 2),
        ("K4[Fe(CN)6]·3H2O", {"K": 4, "Fe": 1, "C": 6, "N": 6, "H": 6, "O": 3}, 3),
        ("3CdSO4·8H2O", {"Cd": 3, "S": 3, "O": 20, "H": 16}, 8),
        ("2CaSO4·H2O", {"Ca": 2, "S": 2, "O": 9, "H": 2}, 1),
        ("CuSO4.H2O", {"Cu": 1, "S": 1, "O": 5, "H": 2}, 1),
        ("2MgCO3·Mg(OH)2·3H2O", {"Mg": 3, "C": 2, "O": 11, "H": 8}, 3),
        ("CaCl2·8NH3", {"Ca": 1, "Cl": 2, "N": 8, "H": 24}, 0),
        ("H2O", {"H": 2, "O": 1}, 0),
    ],
)
def test_parts_joined_by_dots(text: str, counts: dict[str, int], waters: int) -> None:
    formula = parse_formula(text)
    assert dict(formula.counts) == counts
    assert formula.hydrate_waters == waters


@pytest.mark.parametrize(
    ("text", "charge", "plain"),
    [
        ("Fe^3+", 3, "Fe^3+"),
        ("Fe^{3+}", 3, "Fe^3+"),
        ("Fe{3+}", 3, "Fe^3+"),
        ("Fe{+3}", 3, "Fe^3+"),
        ("Fe³⁺", 3, "Fe^3+"),
        ("Fe³+", 3, "Fe^3+"),
        ("Fe^+", 1, "Fe^+"),
        ("Fe3^+", 1, "Fe3^+"),
        ("Fe₃+", 1, "Fe3^+"),
        ("NH4+", 1, "NH4^+"),
        ("NH₄⁺", 1, "NH4^+"),
        ("NO3-", -1, "NO3^-"),
        ("MnO4−", -1, "MnO4^-"),
        ("MnO4–", -1, "MnO4^-"),
        ("OH-", -1, "OH^-"),
        ("[Ag(NH3)2]+", 1, "[Ag(NH3)2]^+"),
        ("SO4^2-", -2, "SO4^2-"),
        ("SO4^2−", -2, "SO4^2-"),
        ("SO₄²⁻", -2, "SO4^2-"),
        ("[Fe(CN)6]^4-", -4, "[Fe(CN)6]^4-"),
        ("Hg2^2+", 2, "Hg2^2+"),
    ],
)
def test_charges(text: str, charge: int, plain: str) -> None:
    assert parse_formula(text).charge == charge
    assert parse_formula(text).plain() == plain


@pytest.mark.parametrize("text", ["e-", "e^-", "e⁻", "e−", "e{-}", " e- "])
def test_electron(text: str) -> None:
    electron = parse_formula(text)
    assert electron.is_electron
    assert (electron.charge, dict(electron.counts), electron.plain()) == (-1, {}, "e-")
    assert electron.unicode() == "e⁻"


@pytest.mark.parametrize("state", ["s", "l", "g", "aq"])
def test_states(state: str) -> None:
    formula = parse_formula(f"Fe^3+ ({state})")
    assert (formula.state, formula.charge, formula.plain()) == (state, 3, f"Fe^3+({state})")
    assert parse_formula(f"CuSO4·5H2O({state})").hydrate_waters == 5


def test_state_is_not_a_group() -> None:
    assert parse_formula("C(S)").counts["S"] == 1
    assert parse_formula("C(s)").state == "s"


@pytest.mark.parametrize(
    ("text", "spellings"),
    [
        ("Fe3+", "Fe^3+ or Fe3^+"),
        ("O2-", "O^2- or O2^-"),
        ("Cu2+(aq)", "Cu^2+ or Cu2^+"),
        ("SO42-", "SO4^2- or SO42^-"),
        ("Cr2O72-", "Cr2O7^2- or Cr2O72^-"),
        ("VO2+", "VO^2+ or VO2^+"),
        ("FeSCN2+", "FeSCN^2+ or FeSCN2^+"),
        ("Fe3−", "Fe^3- or Fe3^-"),
    ],
)
def test_ambiguous_charge_names_both_spellings(text: str, spellings: str) -> None:
    with pytest.raises(FormulaError, match="two ways") as caught:
        parse_formula(text)
    assert caught.value.allowed == spellings
    for spelling in spellings.split(" or "):
        parse_formula(spelling)


@pytest.mark.parametrize(
    ("text", "position", "words"),
    [
        ("", 0, "empty"),
        ("   ", 0, "empty"),
        ("fe", 0, "Did you mean Fe?"),
        ("co", 0, "Did you mean Co or CO?"),
        ("NACL", 1, "Did you mean Na?"),
        ("CuSO4·5h2o", 7, "not an element"),
        ("Xx2", 0, "“Xx” is not an element"),
        ("Uuo", 0, "“Uu” is not an element"),
        ("H2O3x", 4, "“x” is not an element"),
        ("D2O", 0, "isotope"),
        ("HT", 1, "isotope"),
        ("Fe0", 2, "starts with zero"),
        ("Fe02", 2, "starts with zero"),
        ("Fe0.95O", 2, "starts with zero"),
        ("Fe₀", 2, "starts with zero"),
        ("Fe2₃", 3, "nothing before it"),
        ("Fe()2", 3, "empty"),
        ("Fe((O))[]", 8, "empty"),
        ("Fe(O", 2, "never closed"),
        ("Fe)O", 2, "not open"),
        ("Fe(O]2", 4, "not open"),
        ("(3)", 1, "nothing before it"),
        ("2H2O", 0, "before the formula"),
        ("2", 0, "before the formula"),
        ("CuSO4.", 5, "missing beside the dot"),
        (".5H2O", 0, "missing beside the dot"),
        ("CuSO4..5H2O", 6, "missing beside the dot"),
        ("CaSO4·0.5H2O", 6, "starts with zero"),
        ("CaSO4·½H2O", 6, "U\\+00BD"),
        ("Fe1.5O2", 3, "decimal point"),
        ("Fe 2O3", 2, "space"),
        ("Fe\n2O3", 2, "space"),
        ("Fe^3", 2, "charge"),
        ("Fe^0+", 2, "charge"),
        ("Fe^3+2", 2, "charge"),
        ("Fe{3+", 2, "charge"),
        ("Fe^3+}", 2, "charge"),
        ("Fe^3+O", 2, "charge"),
        ("Fe^123+", 2, "charge"),
        ("Cu++", 2, "charge"),
        ("H2+O2", 2, "space on both sides"),
        ("⁺", 0, "charge stands alone"),
        ("+", 0, "charge stands alone"),
        ("^2+", 0, "charge stands alone"),
        ("(s)", 0, "state label stands alone"),
        ("Fe(x)", 2, "no oxidation number"),
        ("Fe２", 2, "U\\+FF12"),
        ("Fe٢", 2, "U\\+0662"),
        ("Fe@5", 2, "U\\+0040"),
        ("Fe\u202eO", 2, "U\\+202E"),
        ("Fe1000000001", 2, "too large"),
        ("Fe" + "9" * 5000, 2, "too large"),
        ("(((H1000000000)1000)1000)1000", 24, "too many"),
        ("__import__('os')", 0, "cannot be read"),
    ],
)
def test_refusals_say_where_and_why(text: str, position: int, words: str) -> None:
    with pytest.raises(FormulaError, match=words) as caught:
        parse_formula(text)
    assert caught.value.position == position


@pytest.mark.parametrize("value", [None, 3, b"Fe", ["Fe"]])
def test_only_text(value: Any) -> None:
    with pytest.raises(FormulaError, match="text"):
        parse_formula(value)


def test_length_limit() -> None:
    assert parse_formula("H" * MAX_CHARACTERS).counts["H"] == MAX_CHARACTERS
    with pytest.raises(FormulaError, match="10,001 characters"):
        parse_formula("H" * (MAX_CHARACTERS + 1))


def test_any_nesting() -> None:
    depth = (MAX_CHARACTERS - 1) // 2
    assert dict(parse_formula("(" * depth + "H" + ")" * depth).counts) == {"H": 1}
    mixed = "([" * (depth // 2) + "Fe" + "])" * (depth // 2 - 1) + "])"
    assert dict(parse_formula(mixed[:MAX_CHARACTERS]).counts) == {"Fe": 1}
    with pytest.raises(FormulaError, match="too many"):
        parse_formula("(" * 100 + "H" + ")2" * 100)


def test_written_forms() -> None:
    formula = parse_formula("K4[Fe(CN)6]*3H2O(s)")
    assert formula.plain() == "K4[Fe(CN)6]·3H2O(s)"
    assert formula.unicode() == "K₄[Fe(CN)₆]·3H₂O(s)"
    assert formula.html() == "K<sub>4</sub>[Fe(CN)<sub>6</sub>]·3H<sub>2</sub>O(s)"
    assert formula.latex() == r"\mathrm{K_{4}[Fe(CN)_{6}]\cdot 3H_{2}O\,(s)}"
    assert parse_formula("3CdSO4.8H2O").unicode() == "3CdSO₄·8H₂O"
    assert parse_formula("Fe{3+}").html() == "Fe<sup>3+</sup>"
    assert parse_formula("Fe{2-}").latex() == r"\mathrm{Fe^{2-}}"


@pytest.mark.parametrize("text", ["K4[Fe(CN)6].3H2O(s)", "[Fe(CN)6]^3-(aq)", "SO4^2-", "e-"])
def test_latex_is_understood_by_mathtext(text: str) -> None:
    from matplotlib.mathtext import MathTextParser

    parsed = MathTextParser("path").parse(f"${parse_formula(text).latex()}$")
    assert parsed.width > 0


def test_record_is_frozen_hashable_and_pickles() -> None:
    formula = parse_formula("Fe2O3")
    assert {formula: 1}[pickle.loads(pickle.dumps(formula))] == 1
    with pytest.raises(AttributeError):
        formula.charge = 2  # type: ignore[misc]
    with pytest.raises(TypeError):
        formula.counts["Fe"] = 3  # type: ignore[index]


def test_118_symbols() -> None:
    import periodictable

    table = sorted((e.number, e.symbol) for e in periodictable.elements if 1 <= e.number <= 118)
    assert tuple(symbol for _, symbol in table) == SYMBOLS


# --- properties --------------------------------------------------------------------------------

Tree = tuple[str, dict[str, int]]


def _number(n: int) -> str:
    return str(n) if n > 1 else ""


def _atom(symbol: str, n: int) -> Tree:
    return f"{symbol}{_number(n)}", {symbol: n}


def _join(parts: list[Tree]) -> Tree:
    counts: dict[str, int] = {}
    for _, inner in parts:
        for symbol, n in inner.items():
            counts[symbol] = counts.get(symbol, 0) + n
    return "".join(text for text, _ in parts), counts


def _group(inner: Tree, n: int, square: bool) -> Tree:
    left, right = "[]" if square else "()"
    text = inner[0] if inner[0].strip("IV") else f"{inner[0]}1"  # (IV) is an oxidation number
    return f"{left}{text}{right}{_number(n)}", {s: n * k for s, k in inner[1].items()}


atoms = st.builds(_atom, st.sampled_from(SYMBOLS), st.integers(1, 99))
bodies = st.recursive(
    atoms,
    lambda inner: st.builds(
        _join,
        st.lists(
            st.one_of(inner, st.builds(_group, inner, st.integers(1, 9), st.booleans())),
            min_size=1,
            max_size=4,
        ),
    ),
    max_leaves=12,
)


@given(bodies, st.integers(-9, 9), st.sampled_from(["", "s", "l", "g", "aq"]), st.integers(0, 12))
@settings(max_examples=200, deadline=None)
def test_round_trips(body: Tree, charge: int, state: str, waters: int) -> None:
    text, counts = body
    counts = dict(counts)
    if waters:
        text += f".{_number(waters)}H2O"
        counts["H"] = counts.get("H", 0) + 2 * waters
        counts["O"] = counts.get("O", 0) + waters
    if charge:
        text += f"^{_number(abs(charge))}{'+' if charge > 0 else '-'}"
    formula = parse_formula(text + (f"({state})" if state else ""))
    assert dict(formula.counts) == counts
    assert (formula.charge, formula.state, formula.hydrate_waters) == (charge, state, waters)
    for write in (Formula.plain, Formula.unicode):
        again = parse_formula(write(formula))
        assert again.composition == formula.composition
        assert (again.charge, again.state, again.hydrate_waters) == (charge, state, waters)
        assert again.plain() == formula.plain()


@given(st.text(alphabet="FeOHClSDIVX()[]0123456789.·*+-^{}₂³⁺ −saqegl\n<>&\"'", max_size=25))
@settings(max_examples=400, deadline=None)
def test_any_text_gives_a_formula_or_an_explanation(text: str) -> None:
    try:
        formula = parse_formula(text)
    except StoichkitError as error:
        assert isinstance(error, FormulaError)  # noqa: PT017
        assert error.position is not None  # noqa: PT017
        assert 0 <= error.position <= len(text)  # noqa: PT017
    else:
        assert parse_formula(formula.plain()).composition == formula.composition
        assert re.fullmatch("[A-Za-z0-9()[\\]·+−]+", re.sub("</?su[bp]>", "", formula.html()))
        assert all(0 < n <= MAX_COUNT * MAX_CHARACTERS for n in formula.counts.values())


# --- growth of the work ------------------------------------------------------------------------


def _lines_run(text: str) -> int:
    """Count the Python lines executed inside the parser."""
    lines = 0

    def local(_frame: FrameType, event: str, _arg: object) -> Callable[..., Any]:
        nonlocal lines
        lines += event == "line"
        return local

    def trace(frame: FrameType, _event: str, _arg: object) -> Callable[..., Any] | None:
        return local if "stoichkit" in frame.f_code.co_filename else None

    _parse.cache_clear()
    before = sys.gettrace()
    sys.settrace(trace)
    try:
        parse_formula(text)
    finally:
        sys.settrace(before)
    return lines


@pytest.mark.parametrize(
    "make",
    [
        lambda n: "H" * n,
        lambda n: "Fe2(SO4)3" * (n // 9),
        lambda n: "(" * (n // 2 - 1) + "H" + ")" * (n // 2 - 1),
        lambda n: "".join(SYMBOLS[:20]) + "·H2O" * (n // 4),
        lambda n: "Fe(II)O" * (n // 7),
        lambda n: "(" * (n // 3) + "".join(SYMBOLS[:20]) + ")" * (n // 3),
    ],
)
def test_work_grows_in_proportion_to_length(make: Callable[[int], str]) -> None:
    small, large = _lines_run(make(2000)), _lines_run(make(8000))
    assert large < 4.4 * small
