"""Every number the room works out, over grids of cases: a change is seen, whatever it changes.

That a number is right is for the other tests here; see :mod:`tests.recorded`.
"""

from __future__ import annotations

import itertools
import math
from decimal import Decimal
from fractions import Fraction
from functools import partial
from typing import Any

import numpy as np

from stoichkit.errors import ExperimentError, InstrumentError
from stoichkit.uncertainty import (
    digits,
    distribution,
    entry,
    montecarlo,
    pooling,
    ratio_set,
    readings,
    sources,
    straight_line,
    tails,
)
from stoichkit.uncertainty.digits import DigitBlock
from stoichkit.uncertainty.sources import Shape, Term
from tests.recorded import Record, cases, each, tried

RECORD = Record(__file__, leave=("samples", "ordered", "values"))


# -- numbers that come in ---------------------------------------------------------------------

GIVEN: tuple[Any, ...] = (
    0,
    1,
    -1,
    2.5,
    3.0,
    1e308,
    10**400,
    True,
    None,
    "1.5",
    "x",
    b"1",
    Decimal("1.5"),
    Decimal("NaN"),
    Fraction(1, 3),
    Fraction(10**400),
    float("nan"),
    float("inf"),
    -float("inf"),
    [1],
    {},
    1j,
    np.float64(2.0),
    np.int64(3),
    np.bool_(True),
    np.array(1.5),
    np.array([1.0]),
    {1, 2},
    object,
    np.ma.masked,
)
ARRAYS: tuple[Any, ...] = (
    [],
    [1],
    [1, 2.5],
    [[1, 2], [3, 4]],
    [[1, 2], [3]],
    [None],
    [True, False],
    ["1", "x"],
    [1, None],
    np.arange(3),
    np.array([1, np.nan]),
    [1, float("inf")],
    np.ma.masked_less([1.5, -9.0], 0),
    5,
    "x",
    None,
    [10**400],
    [Decimal("1.5"), Fraction(1, 2)],
    {1: 2},
    [1j],
    np.array(["a"]),
    [[[1]]],
    (1, 2),
    [-1.0, 0.0],
    range(3),
    [Decimal("NaN")],
)


def shown(values: tuple[Any, ...], function: Any, **limits: Any) -> list[str]:
    def one(value: Any) -> str:
        name = value.__name__ if isinstance(value, type) else repr(value)[:30]
        answer = tried(function, "thing", value, **limits)
        return f"{name}: {answer if isinstance(answer, str) else repr(answer)}"

    return [one(value) for value in values]


LIMITS: dict[str, dict[str, Any]] = {
    "none": {},
    "least and most": {"least": 0, "most": 2.5},
    "above and below": {"above": 0, "below": 2.5},
    "above and most": {"above": 1, "most": 3},
    "infinite": {"infinite": True, "least": 1},
    "of something": {"least": 2, "of": "the balance"},
    "of an experiment": {"above": 2, "error": ExperimentError},
    "of an instrument": {"below": 0, "error": InstrumentError},
}


def entered(name: str) -> object:
    return shown(GIVEN, entry.number, **LIMITS[name])


def entered_otherwise() -> object:
    names = (3, "A", "a", "Ax", None, True, "")
    return {
        "whole": [
            shown(GIVEN, entry.whole, **more)
            for more in ({}, {"least": 0}, {"most": 2}, {"least": 2, "most": 3})
        ],
        "exact": shown(GIVEN, entry.exact),
        "plain": each(lambda i: repr(entry.plain(GIVEN[i])), range(len(GIVEN))),
        "quantity": [
            shown(GIVEN, entry.quantity, **more)
            for more in ({}, {"least": 0, "most": 2}, {"above": 1})
        ],
        "array": [
            shown(ARRAYS, entry.array, **more)
            for more in (
                {},
                {"ndim": (1,)},
                {"ndim": (1, 2)},
                {"size": 2},
                {"empty": True},
                {"least": 0},
                {"above": 0, "most": 2},
                {"infinite": True},
                {"allowed": "a list of masses"},
                {"error": ExperimentError, "least": 0},
            )
        ],
        "text": shown(names, entry.text),
        "texts": [tried(entry.texts, a="x", b=b) for b in ("y", 3, b"y")],
        "flags": [tried(entry.flags, a=True, b=b) for b in (False, 1, "no", None)],
        "flag": shown((True, False, 1, 0, "no", None, np.bool_(True)), entry.flag),
        "choice": [tried(entry.choice, "glass", n, ("A", "B")) for n in names]
        + [tried(entry.choice, "glass", "C", ("A", "B"), of="a pipette")],
        "record": [
            tried(entry.record, "one", n, kind)
            for n in (3, Fraction(1, 2), None, Fraction)
            for kind in (Fraction, int)
        ],
        "listed": [
            tried(entry.listed, "list", n, str)
            for n in (["a"], ("a", "b"), "ab", [1], None, 3, {"a": 1}, (c for c in "ab"), b"a")
        ]
        + [tried(entry.listed, "list", [1, "a"])],
        "mapping": [
            tried(entry.mapping, "map", n, "{a: b}") for n in ({"a": 1}, [1], None, {1: 2})
        ],
        "function": [tried(entry.function, "f", n, "f(x)") is n for n in (abs, 3, None)],
        "refused function": tried(entry.function, "f", 3, "f(x)"),
        "refusals": [
            str(entry.refusal(kind, name, "is odd", 3, "even", fix, part=part, of=of))
            for kind in (InstrumentError, ExperimentError)
            for name in ("x_g", "a b")
            for fix, part, of in ((None, "", ""), ("Try 2.", "A row", "the table"))
        ],
    }


READ = (
    "20.10",
    " 20,10 ",
    "20",
    "1.50e-3",
    "1.5e3",
    "-3",
    "−3",
    "+3",
    "1,234.5",
    "1.2.3",
    "",
    " ",
    "x",
    ".",
    "5.",
    ".5",
    "1e",
    "1e400",
    "1e12",
    "1.1e12",
    "1e-15",
    "1e-16",
    "0",
    "0.000",
    "-0",
    "9" * 40,
    "9" * 41,
    "1 000",
    "1_000",
    "nan",
    "inf",
    "0x10",
    "½",
    "١",
    "1e+3",
    "–5",
    "12:30",
    "5 g",
    "1/2",
)


def read() -> object:
    numbers = [readings.parse_number(t) for t in ("21.43", "21.44", "21.4", "21.451")]
    return {
        "numbers": each(readings.parse_number, READ),
        "named": tried(readings.parse_number, "1,234.5", "mass of the crucible"),
        "not text": tried(readings.parse_number, 3.5),
        "means": [readings.mean_reading(numbers[:n]) for n in (1, 2, 3, 4)],
    }


# -- sources ----------------------------------------------------------------------------------

SHAPES = (Shape.NORMAL, Shape.RECTANGULAR, Shape.TRIANGULAR, Shape.STUDENT_T)


def source(shape: Shape, scale: float = 0.3, dof: float = math.inf, label: str = "one") -> Any:
    return sources.error_source(label, kind="other", shape=shape, scale=scale, dof=dof)


def made_of_sources() -> object:
    a, b = source(Shape.NORMAL, 3.0, label="a"), source(Shape.RECTANGULAR, 4.0, label="b")
    value = 2.5 + 2 * a - b
    z = np.array([0.0, 1e-5, 0.01, 0.5, 3.0, 20.0, 300.0])
    return {
        "standard": {
            f"{s.value} {dof}": tried(
                lambda s=s, d=dof: sources.standard_uncertainty(source(s, 0.3, d))
            )
            for s in SHAPES
            for dof in (math.inf, 3.0, 2.0, 1.0)
        },
        "refused": [
            tried(
                sources.error_source,
                *args,
                **{"kind": "other", "shape": Shape.NORMAL, "scale": 1.0, **more},
            )
            for args, more in (
                (("",), {}),
                (("a",), {"scale": -1.0}),
                (("a",), {"scale": 0.0}),
                (("a",), {"scale": "x"}),
                (("a",), {"shape": "round"}),
                (("a",), {"shape": "normal"}),
                ((3,), {}),
                (("a",), {"kind": 3}),
                (("a",), {"dof": 0.0}),
                (("a",), {"dof": -1.0}),
                (("a",), {"scale": math.inf}),
                (("a",), {"dof": 3.0}),
                (("a",), {"shape": Shape.STUDENT_T, "dof": 3.0}),
                (("a",), {"shape": Shape.STUDENT_T, "dof": math.inf}),
            )
        ],
        "nominal": [tried(sources.nominal, v) for v in (value, 3, 2.5, Decimal("1.5"))],
        "uncertainty": [sources.standard_uncertainty(v) for v in (value, 3)],
        "budget": [
            [one.label, one.coefficient, one.uncertainty, one.share]
            for one in sources.budget(value)
        ],
        "nothing": [sources.budget(3.0), sources.contributions(3.0), sources.contributions(a - a)],
        "uncertain": [sources.is_uncertain(v) for v in (value, 3, a - a)],
        "written": [
            sources.format_number(
                sources.uncertain_value(v, "x", kind="other", shape=Shape.NORMAL, scale=u),
                digits=d,
                unit=unit,
            )
            for v in (0.02766, -250.0, 0.0, 9.999e8)
            for u in (0.00031, 9.96, 1e3)
            for d, unit in ((1, ""), (2, "mol"))
        ],
        "written exactly": [sources.format_number(v, unit="g") for v in (4, 2.5, 1e-7, 1234567.0)],
        "refused digits": [tried(sources.format_number, value, digits=d) for d in (0, 9, 1.5)],
        "variance": [Term(s, 0.3, d).variance for s in SHAPES for d in (5.0, 30.0)],
        "factors": {
            f"{s.value} {d}": sources.characteristic_factor(s, d, z)
            for s in SHAPES
            for d in ((3.0, 7.0, 59.0, 61.0) if s is Shape.STUDENT_T else (math.inf,))
        },
        "merged": [
            sources.merged(some)
            for some in (
                [],
                [Term(Shape.NORMAL, 3.0), Term(Shape.NORMAL, 4.0)],
                [
                    Term(Shape.NORMAL, 1.0),
                    Term(Shape.RECTANGULAR, 1e-9),
                    Term(Shape.TRIANGULAR, 0.0),
                ],
                [
                    Term(Shape.STUDENT_T, 1.0, 3.0),
                    Term(Shape.NORMAL, 0.01),
                    Term(Shape.RECTANGULAR, 0.4),
                ],
            )
        ],
        "terms": sources.terms_of(sources.contributions(value)),
        "lasting": [
            tried(lambda: sources.lasting_value(1.0, "x", kind="o", shape=Shape.NORMAL, scale=0.1))
            is not None
        ],
    }


# -- distributions ----------------------------------------------------------------------------

SUMS: dict[str, list[Term]] = {
    "nothing": [],
    "normal": [Term(Shape.NORMAL, 0.7)],
    "rectangle": [Term(Shape.RECTANGULAR, 0.5)],
    "two rectangles": [Term(Shape.RECTANGULAR, 0.5), Term(Shape.RECTANGULAR, 0.2)],
    "equal rectangles": [Term(Shape.RECTANGULAR, 0.5)] * 4,
    "many rectangles": [Term(Shape.RECTANGULAR, 0.1 * i) for i in range(1, 15)],
    "triangle": [Term(Shape.TRIANGULAR, 0.5)],
    "mixed": [Term(Shape.RECTANGULAR, 0.5), Term(Shape.NORMAL, 0.2), Term(Shape.TRIANGULAR, 0.3)],
    "hardly normal": [Term(Shape.RECTANGULAR, 0.5), Term(Shape.NORMAL, 0.001)],
    "t": [Term(Shape.STUDENT_T, 0.3, 3.0)],
    "t of one": [Term(Shape.STUDENT_T, 0.3, 1.0)],
    "t beside": [
        Term(Shape.STUDENT_T, 0.3, 4.0),
        Term(Shape.RECTANGULAR, 0.5),
        Term(Shape.NORMAL, 0.1),
    ],
    "two t": [Term(Shape.STUDENT_T, 0.3, 4.0), Term(Shape.STUDENT_T, 0.1, 2.0)],
    "t of many": [Term(Shape.STUDENT_T, 0.3, 80.0), Term(Shape.RECTANGULAR, 0.2)],
}


def added(name: str) -> object:
    one = distribution.SumDistribution(SUMS[name])
    at = np.array([-1.3, -0.5, -0.21, 0.0, 0.05, 0.3, 0.5, 0.9, 1.9])
    return {
        "record": [one.variance, one.standard_deviation, one.spread, one.bound],
        "transform": one.characteristic_function([0.0, 0.7, 3.0, 40.0]),
        "cdf": one.cdf(at),
        "pdf": tried(one.pdf, at),
        "two-sided": [one.two_sided(x) for x in (0.0, -0.1, 0.3, 0.69, 0.7, 1.0, 3.0)],
        "half": [tried(one.half_width, c) for c in (0.5, 0.6827, 0.95, 0.9999)],
        "refused": [tried(one.half_width, c) for c in (0.0, 1.0, "x")],
    }


def tables() -> object:
    t = np.array([-40.0, -12.706, -4.3, -2.776, -1.0, -0.3, 0.0, 0.3, 2.0])
    return {
        "normal": tails.normal_cdf(np.array([-40.0, -8.0, -1.96, -0.5, 0.0, 0.5, 3.0, 9.0, 40.0])),
        "normal, many": [tails.normal_cdf(t, 1), tails.normal_cdf(t, 100)],
        "chi squared": [
            [x, dof, tails.chi_squared_tail(x, dof)]
            for x in (0.0, 0.1, 1.0, 3.841, 9.488, 60.0, 900.0)
            for dof in (1, 2, 3, 4, 9, 30, 101)
        ],
        "student": [
            [
                dof,
                tails.student_cdf(t, dof),
                tails.student_cdf(t, dof, 1),
                tails.student_cdf(t, dof, 100),
            ]
            for dof in (1, 2, 3, 4, 5, 10, 29.5, 200)
        ],
        "height": each(tails.student_height, [1, 2, 3.5, 10, 200, 1e9]),
        "legendre": [distribution.legendre(n) for n in (1, 2, 5)],
        "t and rectangles": [
            distribution.student_tails(np.array([x]), np.array([[0.5], [w]]), np.array([s]), dof)
            for x in (0.0, 0.4, 0.9, 3.0)
            for w in (0.01, 0.4)
            for s in (0.05, 0.6)
            for dof in (1, 2, 6)
        ],
        "t beyond a reach": [
            float(distribution.student_p(x, r, s, d))
            for x in (0.3, 2.5, 40.0)
            for r in (0.0, 0.5, 5.0)
            for s in (0.3, 1.0)
            for d in (1, 3, 20)
        ],
        "of": distribution.distribution_of(2.0 * source(Shape.NORMAL) + 3.0).half_width(0.95),
    }


# -- digits -----------------------------------------------------------------------------------

NOISES = (0.0, 0.03, 0.11, 0.25, 0.6)


def digit_blocks(kind: str, count: int) -> object:
    said: dict[str, Any] = {}
    for noise in NOISES[:: 2 if kind == "triple" else 1]:
        size = {"single": 1, "difference": 2, "triple": 3}[kind]
        steps = (0.1, 0.06) if kind == "triple" else (0.1,)
        alone = [noise] * size if size < 3 else [noise, noise, max(noise, 0.05)]
        for together in ((), (count,)) if count > 1 and kind != "single" else ((),):
            one = DigitBlock(kind, steps, tuple(alone), count, together)
            tested = [
                f"{digits.worst_position_tail(x, [one], rest):.10g}"
                for rest in ([], [Term(Shape.NORMAL, 0.02)], [Term(Shape.RECTANGULAR, 0.05)])
                for x in (0.0, 0.05, 0.1, 0.149, 0.151, 0.31, 1.2 * count)
            ]
            said[f"{noise} {together}"] = [
                [one.coefficients, one.variance, one.weight, one.reach],
                one.terms(),
                tested,
            ]
    return said


def several_blocks() -> object:
    pair, fine = (DigitBlock("difference", (s,), (n, n), 2) for s, n in ((0.1, 0.0), (0.013, 0.2)))
    single = DigitBlock("single", (0.05,), (0.1,), 3)
    triple = DigitBlock("triple", (0.1, 0.04), (0.1, 0.0, 0.2), 1)
    sets = {
        "two alike": [pair, pair],
        "two steps": [pair, fine],
        "three": [pair, fine, single],
        "whole ratio": [pair, DigitBlock("difference", (0.05,), (0.0, 0.0), 2)],
        "with a triple": [triple, fine],
        "singles": [single, single],
        "tiny": [pair, DigitBlock("difference", (1e-4,), (0.1, 0.1), 2)],
    }
    rest = [
        Term(Shape.RECTANGULAR, 0.02),
        Term(Shape.NORMAL, 0.0004),
        Term(Shape.STUDENT_T, 0.01, 3.0),
    ]
    x = np.array([0.02, 0.1, 0.16, 0.25, 0.4])
    return {
        "tails": {
            name: [
                digits.worst_position_tail(float(v), blocks, some)
                for some in ([], rest[:2])
                for v in x
            ]
            for name, blocks in sets.items()
        },
        "many": {
            name: digits.worst_position_tails(x, blocks, rest[:1], np.full(x.size, 0.001))
            for name, blocks in sets.items()
        },
        "no blocks": digits.worst_position_tail(0.1, [], rest),
        "apart": [digits.split_narrow(rest, blocks) for blocks in sets.values()],
        "rounded up": each(digits.rounded_up, [1.0, 1.001, 1.04, 1.05, 0.3, 7.0]),
        "reach": [digits.reach_of(t) for t in rest],
        "common": [digits.common_term(s, n) for s in (1.0, 6.0) for n in (0.0, 0.1, 0.4)],
        "bias": each(digits.bias_variance, [0.0, 0.05, 0.1, 0.2, 0.3, 0.5]),
        "together": [
            digits.bound_together(n, s)
            for n in ((0.0, 0.0), (0.2, 0.0), (0.5, 0.5))
            for s in ([3], [1, 1], [2, 1], [1])
        ],
        "distinct": digits.distinct(np.array([3, 1, 3, 2])),
        "hump": [
            digits.hump(np.array([-1.2, -0.5, -0.2, 0.0, 0.5, 0.9]), o, n)
            for o in (1, 2)
            for n in (0.0, 0.1, 0.7)
        ],
        "axes": [
            [a.p.shape, a.p, a.half().p.shape]
            for a in (
                digits.axis_table("single", (0.1,), 1),
                digits.axis_table("difference", (0.0, 0.0), 3),
                digits.axis_table("difference", (0.3, 0.1), 6),
                digits.axis_table("difference", (0.0, 0.0), 2, (2,)),
            )
        ],
    }


# -- pooling, lines, sets of ratios -----------------------------------------------------------

GROUPS = {
    "agreeing": ([1.98, 2.03, 2.01, 2.20], [0.0004, 0.0004, 0.0009, 0.0025]),
    "apart": ([0.9, 1.1, 1.3], [0.01, 0.01, 0.01]),
    "one far off": ([2.00, 2.02, 1.99, 2.01, 2.30], [0.0004] * 5),
    "alike": ([2.0, 2.0, 2.0], [0.01, 0.04, 0.01]),
    "two": ([1.0, 1.5], [0.01, 0.02]),
    "one": ([2.0], [0.04]),
    "many": (list(np.linspace(1.9, 2.1, 30)), [0.01, 0.001] * 15),
    "exact": ([1.0, 2.0, 3.0], [0.0, 0.0, 0.0]),
}


def pooled(name: str) -> object:
    said = {}
    for method, interval in itertools.product(
        ("paule-mandel", "fixed", "dersimonian-laird", "x"), ("hartung-knapp", "normal", "x")
    ):
        found = tried(pooling.pool, *GROUPS[name], method=method, interval=interval)
        said[f"{method} {interval}"] = (
            found
            if isinstance(found, str)
            else [
                found,
                found.p_value(2.0),
                [p.mean for p in tried(pooling.leave_one_out, found) if not isinstance(p, str)],
            ]
        )
    found = tried(pooling.pool, *GROUPS[name], shared_uncertainty=0.03, coverage=0.9)
    out = (
        [found]
        if isinstance(found, str)
        else [
            found,
            [found.p_value(v) for v in (1.9, 2.05, 3.0)],
            [tried(pooling.outlying, found, level=level) for level in (0.01, 0.05, 0.4)],
        ]
    )
    return [said, out]


def refused_pools() -> object:
    good = GROUPS["agreeing"]
    return [
        tried(pooling.pool, *a, **k)
        for a, k in (
            (([], []), {}),
            (([1.0], [0.1, 0.2]), {}),
            (([1.0], [-0.1]), {}),
            (([math.nan], [0.1]), {}),
            (good, {"coverage": 0.3}),
            (good, {"coverage": 1.0}),
            (good, {"shared_uncertainty": -1.0}),
            (good, {"shared_uncertainty": "x"}),
            ((["x"], [1.0]), {}),
        )
    ] + [tried(pooling.outlying, pooling.pool(*good), level=level) for level in (0.0, 1.0, "x")]


X, Y = [1.0, 2.0, 3.0, 4.0, 5.0], [2.1, 4.0, 6.1, 8.1, 9.8]
LINES: dict[str, dict[str, Any]] = {
    "plain": {},
    "inflated": {"inflate": True},
    "scattered": {"y": [2.0, 4.5, 5.7, 8.6, 9.4]},
    "scattered, inflated": {"y": [2.0, 4.5, 5.7, 8.6, 9.4], "inflate": True},
    "correlated": {"correlation": 0.5},
    "each correlated": {"correlation": [0.1, 0.2, -0.3, 0.4, 0.0]},
    "shared": {"shared_x": [[0.01] * 5], "shared_y": [[0.02, 0.01, 0.0, 0.01, 0.02]]},
    "shared, scattered": {
        "y": [2.0, 4.5, 5.7, 8.6, 9.4],
        "shared_y": [[0.05] * 5],
        "shared_x": [[0.0] * 5],
    },
    "exact x": {"u_x": [0.0] * 5},
    "steep": {"y": [200.0, 430.0, 590.0, 810.0, 1000.0], "u_y": [5.0] * 5},
    "falling": {"y": Y[::-1]},
}


def line(name: str) -> object:
    given = {"x": X, "y": Y, "u_x": [0.01] * 5, "u_y": [0.05] * 5, **LINES[name]}
    one = straight_line.fit_line(**given)
    slopes = (0.0, 1.5, 1.9, 1.95, 2.0, 2.1)
    directions = ((1.0, 0.0), (0.0, 1.0), (1.0, 2.0), (-1.0, 2.0))
    return {
        "line": one,
        "wide": one.with_inflation(),
        "p": [tried(one.slope_p_value, s) for s in slopes],
        "by scatter": [tried(one.scatter_p_value, s) for s in slopes],
        "directions": [tried(one.direction_p_value, *d) for d in directions],
        "intercept": [tried(one.intercept_p_value, v) for v in (0.0, 0.1, -0.5)],
        "intervals": [tried(one.intercept_interval, coverage=c) for c in (0.95, 0.8)],
        "slopes": [tried(one.slope_set, coverage=c) for c in (0.95, 0.8)],
    }


def refused_lines() -> object:
    good: dict[str, Any] = {"x": X, "y": Y, "u_x": [0.01] * 5, "u_y": [0.05] * 5}
    return [
        tried(straight_line.fit_line, **{**good, **one})
        for one in (
            {"x": [1.0]},
            {"x": [1.0] * 5},
            {"x": X[:2], "y": Y[:2], "u_x": [0.1] * 2, "u_y": [0.1] * 2},
            {"u_x": [0.0] * 5, "u_y": [0.0] * 5},
            {"u_y": [-0.1] * 5},
            {"correlation": 1.0},
            {"correlation": 1.5},
            {"correlation": [0.1]},
            {"x": ["a"] * 5},
            {"inflate": "yes"},
            {"shared_x": [0.1] * 5},
            {"shared_x": [[0.1]]},
            {"y": [math.nan] * 5},
            {"shared_y": [[0.1] * 5]},
            {"shared_x": [[-0.1] * 5], "shared_y": [[0.1] * 5]},
            {"y": [5.0] * 5},
        )
    ]


def ratio_sets() -> object:
    def by_normal(a: float, b: float, u: float) -> Any:
        def p(x: float, y: float) -> float:
            z = abs(y * b - x * a) / (u * math.hypot(x, y))
            return math.erfc(z / math.sqrt(2))

        return p

    found = {}
    for name, (a, b, u) in {
        "bounded": (1.0, 2.0, 0.1),
        "no upper limit": (0.1, 2.0, 0.1),
        "every": (0.01, 0.02, 0.1),
        "no lower limit": (1.0, 0.01, 0.1),
        "in pieces": (-0.1, 0.15, 0.06),
        "none": (1.0, -2.0, 0.1),
        "large": (1.0, 2000.0, 0.1),
    }.items():
        for coverage in (0.95, 0.8):
            known = [(r, by_normal(a, b, u)(r, 1.0) >= 1 - coverage) for r in (1.0, 2.0, 2.2)]
            one = ratio_set.invert(by_normal(a, b, u), (b, a), known, coverage)
            found[f"{name} {coverage}"] = [
                one,
                tried(lambda o=one: o.low),
                tried(lambda o=one: o.high),
                [r in one for r in (0.0, 1.0, 2.0, 2.5, 1e9)],
            ]
    whole = ratio_set.Interval(0.9, 1.1)
    return [found, [v in whole for v in (0.9, 1.1, 0.899, 1.101)]]


# -- Monte Carlo ------------------------------------------------------------------------------


def simulated() -> object:
    def square() -> Any:
        side = 2.0 + source(Shape.NORMAL, 0.1) + source(Shape.RECTANGULAR, 0.2, label="two")
        return side * side

    rng = np.random.default_rng(5)
    ordered = np.sort(rng.normal(0, 1, 1001))
    fixed = montecarlo.propagate(square, trials=20_000)
    return {
        "fixed": [fixed, montecarlo.propagate(square, trials=20_000, coverage=0.8, seed=3)],
        "settled": montecarlo.propagate(square, digits=1),
        "not settled": montecarlo.propagate(square, digits=3, most=60_000),
        "compared": [montecarlo.compare_first_order(square(), fixed, digits=d) for d in (1, 2)],
        "shortest": [montecarlo.shortest_interval(ordered, c) for c in (0.1, 0.5, 0.95, 0.9999)],
        "symmetric": [montecarlo.symmetric_interval(ordered, c) for c in (0.1, 0.5, 0.95, 0.9999)],
        "few": [
            montecarlo.shortest_interval(np.array([0.0, 1.0, 1.1, 1.2, 5.0]), c)
            for c in (0.4, 0.6, 0.9)
        ],
        "tolerance": [
            montecarlo.tolerance_of(u, d) for u in (0.054, 0.0996, 12.3, 0.0) for d in (1, 2)
        ],
        "drawn": {
            f"{s.value} {d}": montecarlo.draw(
                sources.Source("e", "other", s, 0.4, d), np.random.default_rng(1), 5
            )
            for s, d in (
                (Shape.NORMAL, math.inf),
                (Shape.RECTANGULAR, math.inf),
                (Shape.TRIANGULAR, math.inf),
                (Shape.STUDENT_T, 3.0),
            )
        },
        "refused": [
            tried(montecarlo.monte_carlo, f, **k)
            for f, k in (
                (3, {}),
                (lambda rng, n: rng.normal(0, 1, n), {"coverage": 0.0}),
                (lambda rng, n: rng.normal(0, 1, n), {"coverage": 1.0}),
                (lambda rng, n: rng.normal(0, 1, n), {"trials": 10}),
                (lambda rng, n: rng.normal(0, 1, n), {"trials": 1.5}),
                (lambda rng, n: rng.normal(0, 1, n), {"digits": 0}),
                (lambda rng, n: rng.normal(0, 1, n), {"seed": -1}),
                (lambda rng, n: rng.normal(0, 1, n), {"block": 1}),
                (lambda rng, n: rng.normal(0, 1, n), {"most": 1}),
                (lambda _, n: np.full(n, math.nan), {"trials": 20_000}),
                (lambda rng, n: rng.normal(0, 1, n - 1), {"trials": 20_000}),
                (lambda *_: "x", {"trials": 20_000}),
                (lambda *_: 3.0, {"trials": 20_000}),
            )
        ],
        "compare": tried(montecarlo.compare_first_order, 1.0, 3),
    }


CASES = cases(
    entered={name: partial(entered, name) for name in LIMITS},
    added={name: partial(added, name) for name in SUMS},
    digits={
        f"{kind} {count}": partial(digit_blocks, kind, count)
        for kind in ("single", "difference", "triple")
        for count in ((1, 2) if kind == "triple" else (1, 2, 5))
    },
    pooled={name: partial(pooled, name) for name in GROUPS},
    line={name: partial(line, name) for name in LINES},
    alone={
        "entered otherwise": entered_otherwise,
        "read": read,
        "sources": made_of_sources,
        "tables": tables,
        "several blocks": several_blocks,
        "refused pools": refused_pools,
        "refused lines": refused_lines,
        "ratio sets": ratio_sets,
        "simulated": simulated,
    },
)

test_answers, test_nothing_else = RECORD.tests(CASES)
