"""What each mistake in a lab's calculation gives; every value is worked out by hand.

Bench 1 of the invented copper and silver lab: wire 2.94 g and 2.82 g, paper 0.75 g and with silver
1.15 g, so 0.12 g of Cu (63.546 g/mol) and 0.40 g of Ag (107.8682 g/mol); standard atomic weights
of IUPAC, from memory.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import pytest

from stoichkit import experiments
from stoichkit.decision.accepted import Own
from stoichkit.decision.answers import answer_lines
from stoichkit.decision.formulas import Leaf, Node
from stoichkit.decision.mistakes import (
    FOUND_OF_REQUIRED,
    REQUIRED,
    MistakeKind,
    Working,
    _lowered,
    _rounded,
    _said,
    _same,
    _table_mistakes,
    _turned,
)
from stoichkit.decision.typed import _molar_mass_mistakes

CU, AG = 63.546, 107.8682
USED, MADE = 0.12 / CU, 0.40 / AG
K = MistakeKind
FOLLOWS = "It follows from a wrong "


@cache
def working(name: str = "copper-silver", required: float | None = 2.0) -> Working:
    record = experiments.load(name)
    trial = record.trials[0]
    lines = [one for one in answer_lines(record) if one.trial == trial.name]
    return Working(record, trial, lines, required)


def given(
    symbol: str, kind: MistakeKind, wrong: str = "", name: str = "copper-silver"
) -> list[float]:
    """Return what mistakes of a kind give, made in the step itself or in a wrong earlier one."""
    found = working(name)._ranked(working(name).at(symbol))
    begin = f"{FOLLOWS}{wrong}: "
    return sorted(
        one.value for _, one in found if one.kind is kind
        and (one.words.startswith(begin) if wrong else not one.words.startswith(FOLLOWS))
    )  # fmt: skip


def about(*values: float) -> object:
    return pytest.approx(sorted(values), rel=1e-6, abs=1e-12)


@pytest.mark.parametrize(("kind", "values"), [
    (K.SIGN, [-0.12]),
    (K.PREFIX, [120, 0.00012]),
    (K.TARE, [2.94, 2.82]),
    (K.ADDED, [5.76]),
    (K.TWICE, [0.24, 0.06]),
    # 2.94 − 28.2, 2.94 − 0.282, 29.4 − 2.82, 0.294 − 2.82; and of 0.12 itself
    (K.DECIMAL, [-25.26, 2.658, 26.58, -2.526, 1.2, 0.012, 12, 0.0012]),
    # one and two hundredths off; a tenth, one and ten grams, as after a borrow
    (K.LAST_DIGIT, [0.13, 0.11, 0.14, 0.10, 0.22, 0.02, 1.12, -0.88, 10.12, -9.88]),
    # 2.94 less 2.94, 0.75 and 1.15; 0.75 and 1.15 less 2.82
    (K.OTHER_READING, [0, 2.19, 1.79, -2.07, -1.67]),
    # 2.94 less 3.09, 3.03, 2.83; 3.19, 3.14, 2.95 less 2.82
    (K.OTHER_TRIAL, [-0.15, -0.09, 0.11, 0.37, 0.32, 0.13]),
    # 2.94 less 8.22 and 2.28; 9.24 and 2.49 less 2.82
    (K.SWAPPED_DIGITS, [-5.28, 0.66, 6.42, -0.33]),
    (K.MULTIPLIED, []),
    (K.LEFT_OUT, []),
])  # fmt: skip
def test_what_goes_wrong_with_a_difference(kind: MistakeKind, values: list[float]) -> None:
    assert given("m(Cu)", kind) == about(*values)


@pytest.mark.parametrize(("kind", "values"), [
    (K.ATOMIC_NUMBER, [29]),
    (K.TWO_ATOMS, [2 * CU]),
    (K.OTHER_SUBSTANCE, [AG]),
    (K.EARLY, [64, 63.5]),
    # nickel and zinc, the elements 28 and 30
    (K.NEIGHBOUR, [58.6934, 65.38]),
    # 63.55 with 6 and 3, and with 3 and 5, turned; 5 and 5 are alike
    (K.SWAPPED_DIGITS, [36.55, 65.35]),
    (K.TWICE, []),
    (K.PREFIX, []),
])  # fmt: skip
def test_what_goes_wrong_with_a_molar_mass(kind: MistakeKind, values: list[float]) -> None:
    assert given("M(Cu)", kind) == about(*values)


@pytest.mark.parametrize(("kind", "values"), [
    (K.INVERTED, [CU / 0.12]),
    (K.MULTIPLIED, [0.12 * CU]),
    (K.PREFIX, [1000 * USED, USED / 1000]),
    (K.OTHER_SUBSTANCE, [0.12 / AG, 0.40 / CU]),
    (K.TWICE, [2 * USED, USED / 2]),
    (K.DECIMAL, [10 * USED, USED / 10, 100 * USED, USED / 100]),
    (K.LEFT_OUT, [0.12]),
    (K.LAST_DIGIT, []),
    (K.EARLY, []),  # a difference is exact, and a table has its decimals
])  # fmt: skip
def test_what_goes_wrong_with_an_amount(kind: MistakeKind, values: list[float]) -> None:
    assert given("n(Cu)", kind) == about(*values)


@pytest.mark.parametrize(("wrong", "kind", "values"), [
    ("M(Cu)", K.ATOMIC_NUMBER, [0.12 / 29]),
    ("M(Cu)", K.TWO_ATOMS, [0.06 / CU]),
    ("M(Cu)", K.NEIGHBOUR, [0.12 / 58.6934, 0.12 / 65.38]),
    ("M(Cu)", K.SWAPPED_DIGITS, [0.12 / 36.55, 0.12 / 65.35]),
    ("m(Cu)", K.SIGN, [-USED]),
    ("m(Cu)", K.TARE, [2.94 / CU, 2.82 / CU]),
    ("m(Cu)", K.ADDED, [5.76 / CU]),
    ("m(Cu)", K.LAST_DIGIT, [
        x / CU for x in (0.13, 0.11, 0.14, 0.10, 0.22, 0.02, 1.12, -0.88, 10.12, -9.88)
    ]),
    ("m(Cu)", K.OTHER_TRIAL, [x / CU for x in (-0.15, -0.09, 0.11, 0.37, 0.32, 0.13)]),
    ("m(Cu)", K.OTHER_STEP, []),  # what answers another question is not gone on with
])  # fmt: skip
def test_what_an_earlier_mistake_makes_of_an_amount(
    wrong: str, kind: MistakeKind, values: list[float]
) -> None:
    assert given("n(Cu)", kind, wrong) == about(*values)


def test_what_goes_wrong_with_a_ratio() -> None:
    ratio = MADE / USED
    assert given("r", K.INVERTED) == about(USED / MADE)
    assert given("r", K.MULTIPLIED) == about(MADE * USED)
    assert given("r", K.MASSES) == about(0.40 / 0.12)
    assert given("r", K.TWICE) == about(2 * ratio, ratio / 2)
    assert given("r", K.CANDIDATE) == about(1, 2)
    assert given("r", K.LEFT_OUT) == about(MADE)
    # 0.00370823 and 0.00188840 to one figure, 0.004 and 0.002, alone and both; to two 0.0037 and
    # 0.0019; the same by three and four decimals; two decimals leave nothing, so 0.00370823/0.00188
    early = [0.004 / USED, MADE / 0.002, 2, 0.0037 / USED, MADE / 0.0019, 0.0037 / 0.0019]
    assert given("r", K.EARLY) == about(*early)
    # of an earlier step the candidates are not asked: it is n(Cu) that is wrong
    assert given("r", K.INVERTED, "n(Cu)") == about(MADE / (CU / 0.12))
    assert given("r", K.MULTIPLIED, "n(Ag)") == about(0.40 * AG / USED)
    assert given("r", K.SIGN, "m(Ag)") == about()  # the same number as of m(Cu), said once
    assert given("r", K.SIGN, "m(Cu)") == about(-ratio)


def test_what_goes_wrong_with_what_is_required() -> None:
    need = 2 * USED * AG
    assert working().right[REQUIRED] == pytest.approx(need)
    assert given(REQUIRED, K.COEFFICIENT) == about(need / 2)
    assert given(REQUIRED, K.INVERTED) == about(need / 4)
    assert given(REQUIRED, K.CANDIDATE) == about(need / 2, need)
    assert given(REQUIRED, K.PREFIX) == about(1000 * need, need / 1000)
    divided = [2 * USED / AG, AG / (2 * USED), USED / 2 * AG, 2 / USED * AG]
    assert given(REQUIRED, K.MULTIPLIED) == about(*divided)
    assert given(REQUIRED, K.LEFT_OUT) == about(2 * USED, AG, USED * AG, 2 * AG)
    assert given(REQUIRED, K.OTHER_SUBSTANCE) == about(2 * USED * CU, 2 * MADE * AG)
    # 0.002 and 0.0019 mol
    assert given(REQUIRED, K.EARLY) == about(0.004 * AG, 0.0038 * AG)
    # the ratio found is no part of it
    assert given(REQUIRED, K.INVERTED, "r") == about()


def test_what_goes_wrong_with_a_percentage() -> None:
    need = 2 * USED * AG
    part = 100 * 0.40 / need
    assert working().right[FOUND_OF_REQUIRED] == pytest.approx(part)
    # upside down in percent, and with the 100 below
    assert given(FOUND_OF_REQUIRED, K.INVERTED) == about(100 * need / 0.40, need / 40)
    assert given(FOUND_OF_REQUIRED, K.FRACTION) == about(part / 100)
    assert given(FOUND_OF_REQUIRED, K.COEFFICIENT) == about(2 * part)
    assert given(FOUND_OF_REQUIRED, K.MISSING) == about(100 - part)
    assert given(FOUND_OF_REQUIRED, K.PREFIX) == about()
    # a hundredth is the fraction
    assert given(FOUND_OF_REQUIRED, K.DECIMAL) == about(10 * part, part / 10, 100 * part)
    assert given(FOUND_OF_REQUIRED, K.LEFT_OUT) == about(40, 100 / need, 0.40 / need)
    assert given(FOUND_OF_REQUIRED, K.MULTIPLIED) == about(40 * need, 100 / 0.40 / need, part / 1e4)
    assert given(FOUND_OF_REQUIRED, K.OTHER_SUBSTANCE) == about(12 / need, 40 / 0.12)


def ranks(symbol: str, kind: MistakeKind, wrong: str = "", name: str = "copper-silver") -> set[int]:
    found = working(name)._ranked(working(name).at(symbol))
    begin = f"{FOLLOWS}{wrong}: " if wrong else ""
    return {
        rank for rank, one in found
        if one.kind is kind and one.words.startswith(begin)
        and one.words.startswith(FOLLOWS) is bool(wrong)
    }  # fmt: skip


def test_how_soon_a_mistake_is_thought_of() -> None:
    """One in the step itself first, then one in what was looked up for it, then an earlier one."""
    assert ranks("n(Cu)", K.INVERTED) == {2}
    assert ranks("n(Cu)", K.ATOMIC_NUMBER, "M(Cu)") == {24 + 5}
    assert ranks("n(Cu)", K.TWO_ATOMS, "M(Cu)") == {26 + 5}  # copper has no molecules
    assert ranks("r", K.ATOMIC_NUMBER, "M(Cu)") == {24 + 100}
    assert ranks("r", K.NEIGHBOUR, "M(Ag)") == {48 + 100}
    assert ranks("n(Cu)", K.SIGN, "m(Cu)") == {100}
    assert ranks("n(Cu)", K.LAST_DIGIT, "m(Cu)") == {32 + 100 + 30}
    # values of steps before and of later ones
    assert [r for r, m in working()._ranked(3) if m.kind is K.OTHER_STEP] == 3 * [10] + 5 * [40]


def test_a_value_given_in_the_unit_needed_is_the_last_to_be_wrong() -> None:
    """0.0987 mol/L stands on the bottle: 12 later than a reading, and soonest for its own step."""
    name = "acid-titration"
    found = working(name)
    c, volume, amount, ratio = (found.at(s) for s in ("c", "V", "n(OH^-)", "r"))
    assert found._cost(K.DECIMAL, c, amount) == 22 + 12 + 5
    assert found._cost(K.DECIMAL, c, ratio) == 22 + 12 + 100
    assert found._cost(K.DECIMAL, volume, ratio) == 22 + 100
    assert ranks("n(C6H8O7)", K.OTHER_TRIAL, "", name) == {44 + 100}  # 0.119 g was read


@pytest.mark.parametrize(("symbol", "rank"), [("M(Cu)", 126), ("M(O)", 19), ("M(Cl)", 19)])
def test_molecules_of_two_atoms_are_thought_of_soon(symbol: str, rank: int) -> None:
    """Of an element whose molecules have two; just before the plain factor of two, which is 20."""
    found = working()
    at = found.at("M(Cu)")
    link = found.links[at]
    other = Working(found.experiment, found.trial, [one.line for one in found.links[:7]], None)
    other.links[at] = replace(link, line=replace(link.line, symbol=symbol))
    assert other._cost(K.TWO_ATOMS, at, other.at("r")) == rank
    assert other._cost(K.ATOMIC_NUMBER, at, other.at("r")) == 124


def test_units_that_turn_round_with_a_factor() -> None:
    """0.0987 mol/L × 18.86 mL: divided, with the thousandth made, left or turned round."""
    c, v = 0.0987, 18.86
    assert given("n(OH^-)", K.MULTIPLIED, name="acid-titration") == about(
        c / v / 1000, c / v, 1000 * c / v, v / c / 1000, v / c, 1000 * v / c
    )
    assert given("n(OH^-)", K.LEFT_OUT, name="acid-titration") == about(c / 1000, v / 1000)
    assert given("V", K.LAST_DIGIT, name="acid-titration") == about(
        *(18.86 + x for x in (0.01, -0.01, 0.02, -0.02, 0.1, -0.1, 1, -1, 10, -10))
    )
    assert given("V", K.PREFIX, name="acid-titration") == about(18860, 0.01886)
    # the acid has one, two or three protons, asked for its first
    assert given("r", K.CANDIDATE, name="acid-titration") == about(1, 2, 3)


def test_other_entries_of_the_table() -> None:
    """Water has 2 × 1 + 8 = 10 protons; the atomic weights of its neighbours are IUPAC's."""
    found: dict[MistakeKind, list[float]] = {}
    for one in _table_mistakes("H2O", 18.015):
        found.setdefault(one.kind, []).append(one.value)
    assert found[K.ATOMIC_NUMBER] == [10]
    assert found[K.TWICE] == [pytest.approx(9.0075)]
    assert found[K.SUBSCRIPTS] == [pytest.approx(17.007, abs=0.001)]
    # helium in the place of both hydrogens: + 2 (4.0026 − 1.008); nitrogen and fluorine of oxygen
    assert sorted(found[K.NEIGHBOUR]) == pytest.approx(
        [18.015 + 14.007 - 15.999, 18.015 + 18.9984 - 15.999, 18.015 + 2 * (4.0026 - 1.008)],
        abs=0.002,
    )
    assert 81 < found[K.SWAPPED_DIGITS][0] < 82
    kinds = {one.kind for one in _table_mistakes("H2O2", 34.014)}
    assert K.SUBSCRIPTS not in kinds
    assert K.TWICE in kinds
    assert K.TWICE in {one.kind for one in _table_mistakes("O2", 31.998)}
    assert K.TWICE in {one.kind for one in _table_mistakes("CuO", 79.545)}
    assert K.TWICE not in {one.kind for one in _table_mistakes("Cu", CU)}
    assert list(_table_mistakes("no formula", 1.0)) == []
    # lithium stands beside helium and beryllium (4.0026 and 9.0122)
    lithium = [m for m in _table_mistakes("Li", 6.94) if m.kind is K.NEIGHBOUR]
    assert [m.value for m in lithium] == pytest.approx([4.0026, 9.0122], abs=1e-3)
    assert ["helium" in m.words for m in lithium] == [True, False]
    assert ["beryllium" in m.words for m in lithium] == [False, True]


def test_two_digits_in_each_others_place() -> None:
    assert list(_turned("2.94")) == ["9.24", "2.49"]
    assert list(_turned(" 0,75 ")) == ["7.05", "0.57"]
    assert list(_turned("11.2")) == ["12.1"]
    assert list(_turned("−1.20")) == ["-2.10", "-1.02"]
    assert list(_turned("5")) == list(_turned("55")) == []


@pytest.mark.parametrize(("value", "how", "count", "rounded"), [
    (0.0018884, "figures", 1, 0.002), (0.0018884, "figures", 2, 0.0019),
    (0.0018884, "decimals", 3, 0.002), (0.0018884, "decimals", 2, 0.0018884),
    (123.45, "figures", 2, 120), (123.45, "decimals", 1, 123.5), (-123.45, "decimals", 1, -123.5),
    (0.0, "figures", 2, 0.0), (1.0, "figures", 1, 1.0), (0.25, "decimals", 1, 0.3),
])  # fmt: skip
def test_rounding_keeps_something(value: float, how: str, count: int, rounded: float) -> None:
    """Half goes up in size; what would become nothing is left as it is."""
    assert _rounded(value, how, count) == pytest.approx(rounded, rel=1e-12)


def test_when_two_numbers_are_the_same() -> None:
    """To a thousandth of a millionth of the larger, whichever comes first."""
    assert _same(1.0, 1.0 + 0.9e-9)
    assert _same(1.0 + 0.9e-9, 1.0)
    assert not _same(1.0, 1.0 + 1.2e-9)
    assert not _same(1.0 + 1.2e-9, 1.0)
    assert _same(1e6, 1e6 + 0.9e-3)
    assert not _same(1e6, 1e6 + 1.2e-3)
    assert not _same(1.0, -1.0)
    assert _same(0.0, 0.0)


def test_how_sentences_are_joined_and_parts_are_said() -> None:
    assert _lowered("You divided.") == "you divided."
    assert _lowered("OH has one.") == "OH has one."
    assert _lowered("A mass is missing.") == "a mass is missing."
    product = Node("×", Leaf("n(Cu)", False), Leaf("ν", False))
    assert _said(Node("/", product, Leaf("wire before", False))) == "((n(Cu) × ν) / “wire before”)"


def test_what_follows_from_ones_own_numbers() -> None:
    """0.21 g for 0.12 g: 0.21/63.546 mol, so a ratio of 12/21 of the right one."""
    found = working()
    mass, amount, ratio = (found.at(s) for s in ("m(Cu)", "n(Cu)", "r"))
    own = {mass: Own(0.21, 0.02, right=False)}
    after = found.follows(amount, own)
    assert after is not None
    assert (after.value, after.rounding, after.right) == (pytest.approx(0.21 / CU), 0.02, False)
    later = found.follows(ratio, own)
    assert later is not None
    assert later.value == pytest.approx(MADE / (0.21 / CU))
    # both amounts are one's own: what each was rounded by adds up, right as both are
    own = {amount: Own(0.0019, 0.026), found.at("n(Ag)"): Own(0.0037, 0.014)}
    both = found.follows(ratio, own)
    assert both is not None
    assert (both.value, both.right) == (pytest.approx(37 / 19), True)
    assert both.rounding == pytest.approx(0.04)
    # an own amount takes the place of what its own mass gives
    own = {mass: Own(0.21, 0.02, right=False), amount: Own(0.0019, 0.026)}
    one = found.follows(ratio, own)
    assert one is not None
    assert (one.value, one.right) == (pytest.approx(MADE / 0.0019), True)
    assert found.follows(ratio, {mass: Own(0.12, 0.04)}) is None  # the right number changes nothing
    assert found.follows(mass, own) is None  # nor does what comes after, or the step's own number
    assert found.follows(found.at("n(Ag)"), own) is None


def test_steps_are_told_by_their_symbols() -> None:
    found = working()
    assert [found.at(s) for s in ("m(Cu)", "n(Cu)", "r", REQUIRED, FOUND_OF_REQUIRED)] == [
        0, 2, 6, 7, 8
    ]  # fmt: skip
    assert found.has("r")
    assert not found.has("m(Au)")
    assert not working(required=None).has(REQUIRED)
    assert {n: r["wire after"] for n, r in found.others.items()} == {
        "bench 2": 3.09, "bench 3": 3.03, "bench 4": 2.83,
    }  # fmt: skip


@pytest.mark.parametrize(("symbol", "value", "words"), [
    ("m(Cu)", USED, "This is the amount of Cu; the question is for the mass of Cu in g."),
    ("n(Cu)", CU, "This is the molar mass of Cu; the question is for the amount of Cu in mol."),
    ("r", 0.12, "This is the mass of Cu; the question is for the mole ratio."),
    ("m(Cu)", 2 * USED * AG, "This is the mass required; the question is for the mass of Cu in g."),
])  # fmt: skip
def test_the_value_of_another_step_is_named(symbol: str, value: float, words: str) -> None:
    found = working()
    steps = [m for _, m in found._ranked(found.at(symbol)) if m.kind is K.OTHER_STEP]
    (one,) = [m for m in steps if math.isclose(m.value, value, rel_tol=1e-6)]
    assert one.words == words


def test_the_amount_used_is_not_another_step_of_an_amount_required() -> None:
    """It is what the coefficients left out give; of a mass required it is another step."""
    acid = working("acid-titration")
    at, used = acid.at(REQUIRED), acid.right["n(C6H8O7)"]
    of_amount = [m.value for _, m in acid._ranked(at) if m.kind is K.OTHER_STEP]
    assert not [v for v in of_amount if math.isclose(v, used, rel_tol=1e-6)]
    of_mass = [m.value for _, m in working()._ranked(7) if m.kind is K.OTHER_STEP]
    assert [v for v in of_mass if math.isclose(v, USED, rel_tol=1e-6)]


def test_the_whole_order_in_which_mistakes_are_thought_of() -> None:
    """From the slip of a sign to digits in each other's place; common practice, no source."""
    order = {
        ("m(Cu)", K.SIGN): 0, ("r", K.INVERTED): 2, ("r", K.MULTIPLIED): 4, ("m(Cu)", K.PREFIX): 6,
        ("r", K.MASSES): 8, (FOUND_OF_REQUIRED, K.FRACTION): 9, ("m(Cu)", K.TARE): 14,
        ("m(Cu)", K.ADDED): 16, ("M(Cu)", K.OTHER_SUBSTANCE): 18, (REQUIRED, K.COEFFICIENT): 18,
        ("r", K.TWICE): 20, ("r", K.DECIMAL): 22, ("M(Cu)", K.ATOMIC_NUMBER): 24,
        ("M(Cu)", K.TWO_ATOMS): 26, ("r", K.CANDIDATE): 28, ("r", K.LEFT_OUT): 30,
        (FOUND_OF_REQUIRED, K.MISSING): 30, ("m(Cu)", K.LAST_DIGIT): 32, ("r", K.EARLY): 34,
        ("m(Cu)", K.OTHER_READING): 40, ("m(Cu)", K.OTHER_TRIAL): 44, ("M(Cu)", K.NEIGHBOUR): 48,
        ("m(Cu)", K.SWAPPED_DIGITS): 52,
    }  # fmt: skip
    assert {(symbol, kind): ranks(symbol, kind) for symbol, kind in order} == {
        key: {rank} for key, rank in order.items()
    }
    assert ranks("M(C6H8O7)", K.SUBSCRIPTS, name="acid-titration") == {26}
    assert ranks("T", K.CELSIUS, name="magnesium-gas") == {12}


def test_a_candidate_or_another_question_is_not_gone_on_with() -> None:
    for symbol in ("r", REQUIRED, FOUND_OF_REQUIRED):
        found = [m for _, m in working()._ranked(working().at(symbol))]
        kinds = {m.kind for m in found if m.words.startswith(FOLLOWS)}
        assert kinds
        assert not kinds & {K.OTHER_STEP, K.CANDIDATE}


def words(symbol: str, kind: MistakeKind, value: float, name: str = "copper-silver") -> str:
    found = working(name)._ranked(working(name).at(symbol))
    (one,) = [
        m for _, m in found if m.kind is kind and math.isclose(m.value, value, rel_tol=1e-6)
    ]  # fmt: skip
    return one.words


def test_what_is_said_of_a_mistake() -> None:
    other = words("M(Cu)", K.OTHER_SUBSTANCE, AG)
    assert other == "This is the molar mass of Ag; that of Cu is needed."
    again = "A difference of two readings is exact: subtract again."
    assert words("m(Cu)", K.LAST_DIGIT, 0.13) == f"The last digit is off by one. {again}"
    assert words("m(Cu)", K.LAST_DIGIT, 0.10) == f"The last digit is off by two. {again}"
    borrow = "One digit is off by one, as after a borrow that was missed."
    assert words("m(Cu)", K.LAST_DIGIT, 0.22) == f"{borrow} {again}"
    turned = "Two digits of the value in the table stand in each other's place."
    assert words("M(Cu)", K.SWAPPED_DIGITS, 36.55) == turned
    slipped = "The decimal mark slipped by {}; the digits are right."
    assert words("m(Cu)", K.DECIMAL, 1.2) == slipped.format("one place")
    assert words("m(Cu)", K.DECIMAL, 0.0012) == slipped.format("two places")
    assert (
        words("m(Cu)", K.DECIMAL, 2.658) == "The decimal mark of “wire after” slipped by one place."
    )
    assert words("m(Cu)", K.TWICE, 0.24).startswith("This is twice what it should be.")
    assert words("m(Cu)", K.TWICE, 0.06).startswith("This is half what it should be.")
    assert words("m(Cu)", K.OTHER_READING, 2.19) == (
        "This comes of “paper” in the place of “wire after”."
    )
    assert words("m(Cu)", K.OTHER_TRIAL, -0.15) == "This comes of “wire after” of trial bench 2."
    assert words("r", K.CANDIDATE, 2).startswith("This is what copper(II) requires;")
    assert words(REQUIRED, K.MULTIPLIED, USED / 2 * AG) == "You divided by ν; it is a factor."
    assert words(REQUIRED, K.LEFT_OUT, 2 * USED) == "M(Ag) was left out."
    assert words(REQUIRED, K.LEFT_OUT, AG) == "(n(Cu) × ν) was left out."
    assert (
        words("M(Cu)", K.EARLY, 63.5) == "Rounded to 63.5 already; keep the decimals of the table."
    )


def test_no_percentage_of_nothing_found_and_nothing_required_of_nothing_used() -> None:
    record = experiments.load("copper-silver")
    for reading, typed, left in (("paper + silver", "0.75", True), ("wire after", "2.94", False)):
        changed = record.with_reading("bench 1", reading, typed)
        lines = [one for one in answer_lines(changed) if one.trial == "bench 1" and not one.note]
        found = Working(changed, changed.trials[0], lines, 2.0)
        assert found.has(REQUIRED) is left
        assert not found.has(FOUND_OF_REQUIRED)


def test_an_amount_is_divided_whichever_step_it_is() -> None:
    """What is said of n(Ag), which comes after five steps, is said of n(Cu), after two."""
    for symbol, mass, molar in (("n(Cu)", 0.12, CU), ("n(Ag)", 0.40, AG)):
        said = words(symbol, K.MULTIPLIED, mass * molar)
        assert said == "You multiplied; an amount is mass divided by molar mass."
        said = words(symbol, K.INVERTED, molar / mass)
        assert said == "This is upside down: divide the mass by molar mass."


@pytest.mark.parametrize(("species", "value", "once", "twice"), [
    # each atom once: H and O 17.007, Cu and O none left out, of glucose C, H and O 29.018
    ("H2O", 18.015, 17.007, None), ("CuO", 79.545, None, None), ("Cu", CU, None, 2 * CU),
    ("H2", 2.016, 1.008, None), ("C6H12O6", 180.156, 29.018, None), ("O", 15.999, None, 31.998),
])  # fmt: skip
def test_subscripts_and_molecules_of_two_atoms(
    species: str, value: float, once: float | None, twice: float | None
) -> None:
    found = {one.kind: one.value for one in _molar_mass_mistakes(species, value)}
    assert found.get(K.SUBSCRIPTS) == (None if once is None else pytest.approx(once, abs=2e-3))
    assert found.get(K.TWO_ATOMS) == (None if twice is None else pytest.approx(twice))


def test_the_water_of_a_hydrate() -> None:
    """Blue vitriol of 249.68 g/mol without five waters of 18.015: 159.6 g/mol (handbook)."""
    (one,) = [m for m in _molar_mass_mistakes("CuSO4·5H2O", 249.68) if m.kind is K.WATER]
    assert one.value == pytest.approx(159.6, abs=0.02)


def test_the_decimal_mark_of_a_molar_mass_may_slip() -> None:
    """Copper, 63.546 g/mol: 635.46 and 6.3546 one place, 6354.6 and 0.63546 two."""
    assert given("M(Cu)", K.DECIMAL) == about(635.46, 6.3546, 6354.6, 0.63546)
    assert given("M(Cu)", K.TWICE) == [], "the mass of two atoms is told as such, or not at all"
    found = working().reasons(working().at("M(Cu)"), 635.46, 0.005)
    assert "The decimal mark slipped by one place" in found[0].words
