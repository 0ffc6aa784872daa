"""Error sources, budgets, simulated readings and the writing of numbers."""

from __future__ import annotations

import math
import re
import threading
from collections.abc import Callable
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from uncertainties import ufloat

from stoichkit.chemistry.elements import atomic_weight, molar_mass
from stoichkit.errors import ModelError, StoichkitError
from stoichkit.uncertainty.sources import (
    Number,
    Shape,
    Source,
    as_drawn,
    budget,
    budget_of,
    contributions,
    error_source,
    format_number,
    is_uncertain,
    nominal,
    simulated,
    standard_uncertainty,
    uncertain_value,
)


def normal(value: float, label: str = "x", scale: float = 1.0) -> Number:
    return uncertain_value(value, label, kind="other", shape=Shape.NORMAL, scale=scale)


# -- making sources ---------------------------------------------------------------------------


def test_the_source_is_kept_with_the_number() -> None:
    x = uncertain_value(
        2.5,
        "rounding of gross",
        kind="rounding",
        shape=Shape.STUDENT_T,
        scale=0.05,
        dof=4,
        reading="gross",
        vessel="beaker",
    )

    ((source, coefficient),) = contributions(x)
    assert nominal(x) == 2.5
    assert coefficient == 1.0
    assert (source.label, source.kind, source.shape) == (
        "rounding of gross",
        "rounding",
        Shape.STUDENT_T,
    )
    assert (source.scale, source.dof, source.reading, source.vessel) == (
        0.05,
        4.0,
        "gross",
        "beaker",
    )


def test_a_shape_may_be_given_by_its_name() -> None:
    x = uncertain_value(0.0, "x", kind="other", shape="triangular", scale=6.0)  # type: ignore[arg-type]

    assert standard_uncertainty(x) == pytest.approx(math.sqrt(6))
    assert contributions(x)[0][0].shape is Shape.TRIANGULAR


@pytest.mark.parametrize(
    ("shape", "u"),
    [
        (Shape.RECTANGULAR, 6 / math.sqrt(3)),
        (Shape.TRIANGULAR, 6 / math.sqrt(6)),
        (Shape.ARCSINE, 6 / math.sqrt(2)),
        (Shape.NORMAL, 6.0),
        (Shape.STUDENT_T, 6.0),
    ],
)
def test_standard_uncertainty_of_each_shape(shape: Shape, u: float) -> None:
    assert Source("x", "other", shape, 6.0).standard_uncertainty == pytest.approx(u, rel=1e-14)
    x = error_source("x", kind="other", shape=shape, scale=6.0, dof=3)
    assert standard_uncertainty(x) == pytest.approx(u, rel=1e-14)
    assert nominal(x) == 0.0


def test_no_error_gives_an_exact_number() -> None:
    x = uncertain_value(2, "x", kind="other", shape=Shape.NORMAL, scale=0)

    assert type(x) is float
    assert (x, standard_uncertainty(x), contributions(x), budget(x)) == (2.0, 0.0, (), ())
    assert not is_uncertain(x)
    assert is_uncertain(normal(2.0))


@pytest.mark.parametrize("scale", [-1e-9, math.nan, math.inf])
def test_sizes_that_cannot_be_used(scale: float) -> None:
    with pytest.raises(ModelError, match="`scale` of “flask”") as caught:
        normal(1.0, "flask", scale)
    assert caught.value.allowed == "a finite number, 0 or more"


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_values_that_cannot_be_used(value: float) -> None:
    with pytest.raises(ModelError, match=r"`value` of “flask” is not (a number|finite)"):
        normal(value, "flask")


@pytest.mark.parametrize("dof", [0.99, 0.0, -3.0, math.nan])
def test_degrees_of_freedom_that_cannot_be_used(dof: float) -> None:
    with pytest.raises(ModelError, match="`dof` of “scatter”") as caught:
        error_source("scatter", kind="scatter", shape=Shape.STUDENT_T, scale=1.0, dof=dof)
    assert isinstance(caught.value, StoichkitError)
    assert caught.value.allowed == "a number, 1 or more"


# -- propagation ------------------------------------------------------------------------------


def test_one_source_twice_is_not_two_sources() -> None:
    shared = normal(0.0, "shared")

    assert standard_uncertainty(shared - shared) == 0.0
    assert standard_uncertainty(shared + shared) == pytest.approx(2.0)
    assert standard_uncertainty(normal(0.0) + normal(0.0)) == pytest.approx(math.sqrt(2))


def test_equal_labels_do_not_make_one_source() -> None:
    total = normal(0.0, "same") + normal(0.0, "same")

    assert len(contributions(total)) == 2
    assert len({id(source) for source, _ in contributions(total)}) == 2


def test_a_source_that_cancels_is_not_listed() -> None:
    shared, own = normal(0.0, "shared"), normal(0.0, "own")

    assert [s.label for s, _ in contributions((shared + own) - shared)] == ["own"]


def test_sensitivity_coefficients_of_a_product_and_a_quotient() -> None:
    a, b = normal(3.0, "a"), normal(2.0, "b")

    assert {s.label: c for s, c in contributions(5 * a * b)} == pytest.approx({"a": 10, "b": 15})
    assert {s.label: c for s, c in contributions(a / b)} == pytest.approx({"a": 0.5, "b": -0.75})


COEFFICIENTS = st.one_of(st.just(0.0), st.floats(1e-6, 50), st.floats(-50, -1e-6))


@settings(max_examples=80, deadline=None)
@given(
    st.lists(
        st.tuples(COEFFICIENTS, st.floats(0.001, 100), st.sampled_from(list(Shape))),
        min_size=1,
        max_size=6,
    )
)
def test_budget_of_a_linear_combination(parts: list[tuple[float, float, Shape]]) -> None:
    """Squares add up to the variance, shares to 1, and the largest comes first."""
    total = sum(
        c * uncertain_value(1.0, str(i), kind="other", shape=shape, scale=scale, dof=9)
        for i, (c, scale, shape) in enumerate(parts)
    )
    lines = budget(total)
    used = [(str(i), c) for i, (c, _, _) in enumerate(parts) if c]

    assert sorted((line.label, line.coefficient) for line in lines) == sorted(used)
    squares = math.fsum(line.uncertainty**2 for line in lines)
    assert math.sqrt(squares) == pytest.approx(standard_uncertainty(total), rel=1e-9)
    if lines:
        assert math.fsum(line.share for line in lines) == pytest.approx(1.0)
        sizes = [line.uncertainty for line in lines]
        assert sizes == sorted(sizes, reverse=True)
        for line in lines:
            expected = abs(line.coefficient) * line.source.standard_uncertainty
            assert line.uncertainty == pytest.approx(expected)
            assert line.share == pytest.approx(line.uncertainty**2 / squares)


def test_budget_of_pairs_leaves_out_what_adds_nothing() -> None:
    source = Source("x", "other", Shape.NORMAL, 2.0)

    assert budget_of([(source, 0.0)]) == ()
    ((line),) = budget_of([(source, -3.0), (source, 0.0)])
    assert (line.coefficient, line.uncertainty, line.share) == (-3.0, 6.0, 1.0)


def test_a_foreign_uncertain_number_is_refused() -> None:
    with pytest.raises(ModelError, match="unlabelled uncertainty") as caught:
        contributions(normal(1.0) + ufloat(1.0, 0.1, tag="mine"))
    assert "uncertain_value()" in str(caught.value)


@pytest.mark.parametrize("value", [2, 2.0, Fraction(4, 2)])
def test_exact_numbers(value: Any) -> None:
    assert nominal(value) == 2.0
    assert isinstance(nominal(value), float)
    assert standard_uncertainty(value) == 0.0
    assert contributions(value) == ()


def test_nominal_of_simulated_readings_is_their_mean() -> None:
    assert nominal(np.array([1.0, 2.0, 6.0])) == 3.0


# -- simulation -------------------------------------------------------------------------------


def test_simulated_sources_are_replaced_within_the_block_only() -> None:
    def mass() -> Number:
        return normal(2.0, "m", 0.5)

    with simulated(lambda source: np.array([-1.0, 0.0, 1.0]) * source.scale):
        drawn = mass()
    after = mass()

    assert drawn.tolist() == [1.5, 2.0, 2.5]
    assert is_uncertain(after)


def test_simulation_ends_after_an_error() -> None:
    with pytest.raises(KeyError), simulated(lambda _: 0.0):
        raise KeyError

    assert is_uncertain(normal(1.0))


def test_simulations_can_be_nested() -> None:
    with simulated(lambda _: 1.0):
        with simulated(lambda _: 2.0):
            inner = normal(0.0)
        outer = normal(0.0)

    assert (inner, outer) == (2.0, 1.0)


def test_simulation_stays_in_its_thread() -> None:
    seen: list[bool] = []

    with simulated(lambda _: 0.0):
        thread = threading.Thread(target=lambda: seen.append(is_uncertain(normal(1.0))))
        thread.start()
        thread.join()

    assert seen == [True]


def test_a_kept_variable_is_drawn_once_in_a_block() -> None:
    """Atomic weights are kept between calculations: one draw serves every use in a block."""
    rng = np.random.default_rng(1)
    calls: list[str] = []

    def draw(source: Source) -> Any:
        calls.append(source.label)
        return rng.normal(size=4)

    with simulated(draw):
        first = as_drawn(atomic_weight("Cu"))
        oxide, copper = molar_mass("CuO"), molar_mass("Cu")
        again = as_drawn(atomic_weight("Cu"))

    assert calls.count("atomic weight of Cu") == 1
    assert (first == again).all()
    assert (np.asarray(copper) == first).all()
    assert np.std(oxide - copper) > 0  # oxygen has its own draw
    assert as_drawn(atomic_weight("Cu")) is atomic_weight("Cu")


def test_a_new_block_draws_anew() -> None:
    rng = np.random.default_rng(1)

    def once() -> Any:
        with simulated(lambda _: rng.normal(size=3)):
            return as_drawn(atomic_weight("Cu"))

    assert (once() != once()).all()


def test_no_error_is_not_drawn() -> None:
    def never(source: Source) -> Any:
        raise AssertionError(source)

    with simulated(never):
        assert normal(3.0, "exact", 0.0) == 3.0


@pytest.mark.parametrize(
    "calculation",
    [
        lambda a, b: 3 * a - 2 * b,
        lambda a, b: a - b + a,
        lambda a, b: 0.5 * (a + b) - b,
    ],
)
def test_linear_calculations_agree_with_first_order(
    calculation: Callable[[Number, Number], Number],
) -> None:
    """With exactly one unit of error in one source at a time, simulation gives the sensitivity."""
    for chosen in ("a", "b"):

        def draw(source: Source, chosen: str = chosen) -> float:
            return float(source.label == chosen)

        first = calculation(normal(5.0, "a"), normal(7.0, "b"))
        with simulated(draw):
            shifted = calculation(normal(5.0, "a"), normal(7.0, "b"))

        coefficient = {s.label: c for s, c in contributions(first)}[chosen]
        assert shifted - nominal(first) == pytest.approx(coefficient, abs=1e-12)


# -- writing ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "u", "text"),
    [
        (0.02766, 0.00031, "0.02766 ± 0.00031"),
        (2.3, 0.0028868, "2.3000 ± 0.0029"),
        (63.546, 0.0017, "63.5460 ± 0.0017"),
        (1.0, 0.0996, "1.00 ± 0.10"),  # 0.0996 rounds up into another decade
        (1.0, 0.0994, "1.000 ± 0.099"),
        (12.0, 9.96, "12 ± 10"),
        (500.0, 12.3, "500 ± 12"),
        (12345.0, 250.0, "(1.234 ± 0.025)e+4"),
        (500.0, 99.6, "(5.0 ± 1.0)e+2"),
        (-0.5, 0.02, "-0.500 ± 0.020"),
        (0.0, 0.004, "0.0000 ± 0.0040"),
        (3e-14, 2e-16, "(3.000 ± 0.020)e-14"),
    ],
)
def test_numbers_are_written_with_two_digits_of_uncertainty(
    value: float, u: float, text: str
) -> None:
    assert format_number(normal(value, "x", u)) == text


def test_digits_and_unit() -> None:
    x = normal(2.34567, "x", 0.01234)

    assert format_number(x, digits=1) == "2.35 ± 0.01"
    assert format_number(x, digits=3, unit="mmol") == "2.3457 ± 0.0123 mmol"


@pytest.mark.parametrize(
    ("value", "text"), [(4, "4"), (Fraction(1, 3), "0.333333"), (1e-9, "1e-09"), (2.5, "2.5")]
)
def test_exact_numbers_are_written_without_uncertainty(value: Any, text: str) -> None:
    assert format_number(value) == text
    assert format_number(value, unit="g") == f"{text} g"


@settings(max_examples=150, deadline=None)
@given(st.floats(-1e6, 1e6), st.floats(1e-9, 1e6))
def test_what_is_written_can_be_read_back(value: float, u: float) -> None:
    """Estimate within half a unit of its last digit, uncertainty within 5 %, decimals equal."""
    text = format_number(normal(value, "x", u))

    match = re.fullmatch(
        r"\(?(-?[0-9]+(?:\.([0-9]+))?) ± ([0-9]+(?:\.([0-9]+))?)(?:\)e([+-][0-9]+))?", text
    )
    assert match, text
    power = 10.0 ** int(match[5] or 0)
    assert len(match[2] or "") == len(match[4] or "")
    assert float(match[3]) * power == pytest.approx(u, rel=0.051)
    unit = 10.0 ** -len(match[2] or "") * power
    assert float(match[1]) * power == pytest.approx(value, abs=0.51 * unit + 1e-12 * abs(value))


def test_identity_not_content_makes_two_sources_the_same() -> None:
    one, other = (Source("rounding", "rounding", Shape.RECTANGULAR, 0.005) for _ in range(2))

    assert one != other
    assert len({one, other, one}) == 2


@pytest.mark.parametrize("dof", [1, 1.5, 2, math.inf])
def test_one_degree_of_freedom_is_enough(dof: float) -> None:
    """1 or more: two readings have one (JCGM 100:2008, 4.2.1 and G.3.3)."""
    e = error_source("scatter", kind="scatter", shape=Shape.STUDENT_T, scale=0.3, dof=dof)

    assert contributions(e)[0][0].dof == dof
    assert standard_uncertainty(e) == 0.3
    with pytest.raises(ModelError, match="1 or more"):
        error_source("scatter", kind="scatter", shape=Shape.STUDENT_T, scale=0.3, dof=0.999)


def test_a_budget_of_nothing_is_empty() -> None:
    assert budget_of([]) == ()


@pytest.mark.parametrize(
    ("value", "u", "digits", "text"),
    [
        (2e-10, 1.2e-11, 2, "0.000000000200 ± 0.000000000012"),
        (2e-11, 1.2e-12, 2, "(2.00 ± 0.12)e-11"),
        (7.0, 1.2, 2, "7.0 ± 1.2"),
        (70.0, 12.0, 2, "70 ± 12"),
        (700.0, 120.0, 2, "(7.0 ± 1.2)e+2"),
        (0.0, 300.0, 1, "(0 ± 3)e+2"),
        (0.0, 960.0, 1, "(0 ± 10)e+2"),
        (600.0, 300.0, 1, "(6 ± 3)e+2"),
        (6000.0, 300.0, 1, "(6.0 ± 0.3)e+3"),
    ],
)
def test_twelve_decimals_are_written_out_and_digits_without_meaning_are_not(
    value: float, u: float, digits: int, text: str
) -> None:
    x = uncertain_value(value, "x", kind="other", shape=Shape.NORMAL, scale=u)
    assert format_number(x, digits=digits) == text
