"""The words beside a likelihood ratio, and what the likelihood is.

Scale: R. E. Kass and A. E. Raftery, J. Am. Stat. Assoc. 90 (1995) 773-795, table of B and of
2 ln B, read in the manual of the R package pcal, which cites it. The two columns are rounded
separately (2 ln 3 = 2.197); the column of B is the one used.
"""

from __future__ import annotations

import math

import pytest
from digits import like, matching_digits
from scipy import integrate

from stoichkit.decision.verdict import evidence_grade
from stoichkit.uncertainty.distribution import distribution_of
from stoichkit.uncertainty.sources import Number, Shape, uncertain_value

TABLE = [
    # B from, to, 2 ln B to, words
    (1, 3, 2, "not worth more than a bare mention"),
    (3, 20, 6, "positive"),
    (20, 150, 10, "strong"),
    (150, math.inf, math.inf, "very strong"),
]


@pytest.mark.parametrize(("low", "high", "twice_log", "words"), TABLE)
def test_grades(low: float, high: float, twice_log: float, words: str) -> None:
    """Just inside both ends of each class of B, and at its middle."""
    del twice_log
    middle = low * 10 if math.isinf(high) else math.sqrt(low * high)
    inside = [low * 1.001, middle, min(high * 0.999, 1e300)]

    assert [evidence_grade(b) for b in inside] == [words] * 3


@pytest.mark.parametrize(("low", "high", "twice_log", "words"), TABLE[:-1])
def test_both_columns_of_the_table_agree_as_printed(
    low: float, high: float, twice_log: float, words: str
) -> None:
    """The printed limits of 2 ln B are those of B, rounded to a whole number."""
    del low, words
    assert like("2", 2 * math.log(high)) == str(twice_log)


def test_ends_of_the_scale() -> None:
    assert evidence_grade(1.0) == TABLE[0][3]
    assert evidence_grade(math.inf) == "very strong"


def amounts(shape: Shape) -> tuple[Number, Number]:
    """Amounts consumed and produced that do not share a source, in mmol."""
    consumed = uncertain_value(5.0, "consumed", kind="other", shape=shape, scale=0.4)
    produced = uncertain_value(9.3, "produced", kind="other", shape=shape, scale=0.7)
    return consumed, produced


@pytest.mark.parametrize("shape", [Shape.NORMAL, Shape.TRIANGULAR])
@pytest.mark.parametrize("ratio", [1.5, 2.0])
def test_density_is_the_marginal_likelihood_with_a_flat_prior(shape: Shape, ratio: float) -> None:
    """∫ f_A(a − n) f_B(b − r n) dn = f_D(b − r a), by numerical integration: 9 digits."""
    consumed, produced = amounts(shape)
    error_a, error_b = distribution_of(consumed), distribution_of(produced)

    def joint(n: float) -> float:
        return float(error_a.pdf(5.0 - n) * error_b.pdf(9.3 - ratio * n))

    corners = sorted(
        {5.0 + k * 0.4 for k in (-1, 0, 1)} | {(9.3 + k * 0.7) / ratio for k in (-1, 0, 1)}
    )
    expected, _ = integrate.quad(joint, 2.0, 8.0, points=corners, epsabs=1e-13, limit=400)

    found = float(distribution_of(produced - ratio * consumed).pdf(9.3 - ratio * 5.0))
    assert matching_digits(found, expected) > 9
