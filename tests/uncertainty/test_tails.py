"""Normal, chi-squared and Student t probabilities in closed form, against SciPy and mpmath."""

from __future__ import annotations

import math
import subprocess
import sys

import mpmath
import numpy as np
import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from scipy.special import chdtrc, chdtri, ndtr, stdtr

from stoichkit.uncertainty import tails
from stoichkit.uncertainty.tails import (
    chi_squared_limit,
    chi_squared_tail,
    normal_cdf,
    student_cdf,
)


@given(st.integers(1, 1000), st.floats(0, 2700))
@example(1, 0.0)
@example(2, 0.0)
@example(1, 1e-300)
@example(200, 1300.0)
@example(999, 2700.0)
@settings(max_examples=1000, deadline=None)
def test_chi_squared_agrees_with_scipy_in_twelve_digits(dof: int, x: float) -> None:
    found = chi_squared_tail(x, dof)
    assert 0 <= found <= 1
    assert found == pytest.approx(float(chdtrc(dof, x)), rel=1e-12, abs=1e-300)


@pytest.mark.parametrize("dof", [1, 2, 3, 4, 7, 30, 101, 200])
@pytest.mark.parametrize("times", [0.01, 0.3, 1.0, 2.0, 5.0, 20.0])
def test_chi_squared_agrees_with_fifty_digits(dof: int, times: float) -> None:
    """Far out too, where 1 minus the distribution function would have no digits left."""
    with mpmath.workdps(50):
        x = min(dof * times, 1400.0)
        exact = mpmath.gammainc(mpmath.mpf(dof) / 2, mpmath.mpf(x) / 2, regularized=True)
    assert chi_squared_tail(x, dof) == pytest.approx(float(exact), rel=1e-12, abs=0)


def test_chi_squared_of_extreme_arguments() -> None:
    assert chi_squared_tail(math.inf, 1) == chi_squared_tail(1e300, 5) == 0.0
    assert chi_squared_tail(3000.0, 999) == 0.0
    assert chi_squared_tail(5100.0, 5000) == pytest.approx(0.159, abs=1e-3)  # by SciPy
    assert chi_squared_tail(1010.0, 1001) == pytest.approx(chi_squared_tail(1010, 1000), abs=0.02)


@given(st.floats(-37.5, 40))
@example(0.0)
@example(-8.3)
@example(8.3)
@settings(max_examples=1000, deadline=None)
def test_normal_agrees_with_scipy_in_twelve_digits(z: float) -> None:
    expected = float(ndtr(z))
    assert float(normal_cdf(np.array(z))) == pytest.approx(expected, rel=1e-12, abs=0)
    assert normal_cdf(np.array([z, 0.0]))[0] == pytest.approx(expected, rel=1e-12, abs=0)


@pytest.mark.parametrize("z", [-37.5, -20.1, -8.123, -3.3, -1.1, 0.3, 2.2, 8.2])
def test_normal_agrees_with_fifty_digits(z: float) -> None:
    with mpmath.workdps(50):
        exact = float(mpmath.ncdf(mpmath.mpf(z)))
    assert float(normal_cdf(np.array(z))) == pytest.approx(exact, rel=2e-13, abs=0)


def test_normal_where_nothing_is_left_and_of_no_number() -> None:
    z = np.array([[-np.inf, -38.7, -1e300], [np.inf, 8.4, 1e300]])
    assert normal_cdf(z).tolist() == [[0, 0, 0], [1, 1, 1]]
    assert normal_cdf(z).tolist() == ndtr(z).tolist()
    assert np.isnan(normal_cdf(np.array([np.nan, 0.0]))[0])
    assert normal_cdf(np.zeros((0, 3))).shape == (0, 3)


def test_many_values_give_what_few_do() -> None:
    """A large array is left to SciPy; which way is taken depends on the array alone."""
    z = np.linspace(-37, 8, tails._MANY + 1)
    together = normal_cdf(z)
    parts = np.concatenate([normal_cdf(z[:2000]), normal_cdf(z[2000:])])
    np.testing.assert_allclose(parts, together, rtol=1e-12, atol=0)
    assert (together == ndtr(z)).all()
    wide = np.concatenate([z[::2], np.full(10_000, 50.0)])  # what is sure does not count
    assert (normal_cdf(wide)[: z[::2].size] == normal_cdf(z[::2])).all()


def test_a_few_values_do_not_load_scipy() -> None:
    code = (
        "import sys, numpy as np; from stoichkit.uncertainty.tails import *; "
        "normal_cdf(np.linspace(-9, 9, 4000)); chi_squared_tail(7.0, 1000); "
        "sys.exit('scipy' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_very_near_to_zero_it_is_the_arc_tangent() -> None:
    t = 4.611755147910988e-10
    exact = 0.5 + math.atan(t) / math.pi
    assert float(student_cdf(np.array(t), 1)) == pytest.approx(exact, rel=1e-15)


@given(st.integers(1, 200), st.floats(-1e6, 1e6))
@example(1, 0.0)
@example(2, 1e6)
@example(200, -60.0)
@example(199, 3.3)
@settings(max_examples=1000, deadline=None)
def test_student_agrees_with_scipy_in_twelve_digits(dof: int, t: float) -> None:
    assume(t == 0 or abs(t) > 1e-5)  # nearer to 0 SciPy gives 0.5, which is right to nine digits
    expected = float(stdtr(dof, t))
    assert float(student_cdf(np.array(t), dof)) == pytest.approx(expected, rel=1e-12, abs=1e-300)
    assert student_cdf(np.array([t, 0.0]), dof)[0] == pytest.approx(expected, rel=1e-12, abs=1e-300)


@pytest.mark.parametrize("dof", [1, 2, 3, 4, 7, 30, 101, 200])
@pytest.mark.parametrize("t", [1e-9, 0.3, 1.0, 2.0, 3.29, 5.0, 20.0, 1e4])
def test_student_agrees_with_fifty_digits(dof: int, t: float) -> None:
    """Far out too, where 1 minus the middle would have no digits left."""
    with mpmath.workdps(50):
        x = mpmath.mpf(dof) / (dof + mpmath.mpf(t) ** 2)
        exact = mpmath.betainc(mpmath.mpf(dof) / 2, 0.5, 0, x, regularized=True) / 2
    assert float(student_cdf(np.array(-t), dof)) == pytest.approx(float(exact), rel=1e-12, abs=0)


@pytest.mark.parametrize(
    ("dof", "two_sided", "t"),
    [(1, 0.05, 12.706), (2, 0.05, 4.303), (3, 0.05, 3.182), (5, 0.05, 2.571), (10, 0.05, 2.228),
     (30, 0.05, 2.042), (120, 0.05, 1.980), (4, 0.01, 4.604), (4, 0.3173, 1.142)],
)  # fmt: skip
def test_student_agrees_with_printed_tables(dof: int, two_sided: float, t: float) -> None:
    """JCGM 100:2008, table G.2, and common tables of t (from memory); t has three decimals."""
    low, high = (2 * float(student_cdf(np.array(-(t + d)), dof)) for d in (0.0006, -0.0006))
    assert low <= two_sided <= high


def test_student_of_extreme_arguments() -> None:
    far = student_cdf(np.array([-math.inf, math.inf, -1e200, 1e300]), 3)
    assert far.tolist() == [0.0, 1.0, 0.0, 1.0]
    # P(t < -x) of one degree of freedom (a Cauchy variable) is 1/(pi x) far out
    assert float(student_cdf(np.array(-1e200), 1)) == pytest.approx(1e-200 / math.pi, rel=1e-12)
    assert float(student_cdf(np.array(-2.0), 2.5)) == pytest.approx(float(stdtr(2.5, -2.0)))
    assert float(student_cdf(np.array(-2.0), 1e6)) == pytest.approx(float(stdtr(1e6, -2.0)))


def test_student_of_one_lab_loads_no_scipy() -> None:
    code = (
        "import sys; from stoichkit.uncertainty import *;"
        "from stoichkit.uncertainty.distribution import student_p;"
        "print(student_p(2.5, 0.5, 1.0, 3), 'scipy' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.endswith(" False\n")


@pytest.mark.parametrize("dof", [1, 2, 3, 7, 60, 999, 1500])
@pytest.mark.parametrize("level", [0.5, 0.01, 1e-6])
def test_the_limit_of_chi_squared_is_where_its_tail_crosses_the_level(level, dof):
    limit = chi_squared_limit(level, dof)
    assert limit == pytest.approx(float(chdtri(dof, level)), rel=1e-12)
    assert chi_squared_tail(limit, dof) >= level > chi_squared_tail(limit * (1 + 1e-12), dof)
