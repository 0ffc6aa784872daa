"""Student t with other errors beside it, in closed form, against the exact sum of all."""

from __future__ import annotations

import numpy as np
import pytest

from stoichkit.decision.linear import student_sum
from stoichkit.uncertainty.distribution import SumDistribution
from stoichkit.uncertainty.sources import Shape, Term


@pytest.mark.parametrize("dof", [1, 2, 3, 7, 11])
def test_the_closed_form_is_the_exact_sum(dof: int) -> None:
    """The distribution of the sum comes from its characteristic function, with SciPy's Bessel K."""
    rng = np.random.default_rng(dof)
    for _ in range(12):
        scales = rng.uniform(0.06, 0.5, 5)
        shapes = (
            Shape.RECTANGULAR,
            Shape.TRIANGULAR,
            Shape.NORMAL,
            Shape.NORMAL,
            Shape.RECTANGULAR,
        )
        beside = [Term(shape, float(s)) for shape, s in zip(shapes, scales, strict=True)]
        which = rng.permutation(5)[: int(rng.integers(1, 6))]
        terms = [*(beside[i] for i in which), Term(Shape.STUDENT_T, 1.0, float(dof))]
        value = float(rng.uniform(0.01, 6))
        assert student_sum(value, terms) == pytest.approx(
            SumDistribution(terms).two_sided(value), abs=1e-6
        )


def test_errors_far_below_the_scatter_shift_the_value() -> None:
    beside = Term(Shape.RECTANGULAR, 0.01)
    own = Term(Shape.STUDENT_T, 1.0, 3.0)
    exact = SumDistribution([beside, own]).two_sided(3.182)
    assert 0.05 <= exact < 0.0501
    assert exact <= student_sum(3.182, [beside, own]) < exact + 0.0005
