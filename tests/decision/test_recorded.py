"""Every answer of the room on labs of every kind: a change is seen, whatever it changes.

That an answer is right is for the other tests here; see :mod:`tests.recorded`.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache, partial
from typing import Any

import numpy as np

from stoichkit import assess
from stoichkit.chemistry.candidates import plain_ratios
from stoichkit.decision import (
    accepted,
    answers,
    arrays,
    calculation,
    chances,
    formulas,
    linear,
    mistakes,
    overturning,
    ratio_test,
    routes,
    sentences,
    statement,
    trust,
    typed,
    verdict,
    yields,
)
from stoichkit.decision import evidence as evidence_
from stoichkit.experiments.looks import Looks
from stoichkit.experiments.parts import Variation
from stoichkit.experiments.record import Experiment
from stoichkit.measurement.displays import Balance
from stoichkit.uncertainty.readings import parse_number
from stoichkit.uncertainty.sources import Shape, uncertain_value
from tests.every_lab import EVERY, READY
from tests.recorded import Record, cases, each, tried

RECORD = Record(__file__, brief=(Experiment, evidence_.Evidence), leave=("experiment", "linear"))


@cache
def of(name: str) -> evidence_.Evidence:
    return assess(EVERY[name]())


def as_measured(name: str) -> object:
    found = of(name)
    lab, test = found.experiment, found._test
    amounts = test.linear
    ratio = found.nearest.ratio
    return {
        "amounts": found.amounts,
        "means": (found.n_consumed, found.n_produced, found.ratio),
        "candidates": found.candidates,
        "verdict": found.verdict,
        "scatter": found.scatter,
        "agreements": found.agreements,
        "coverage": (found.coverage, found.together, found.allowed_parts, found.allows_air),
        "p": [found.p_value(r) for r in (0.0, 0.5, ratio, 1.05 * ratio, 3 * ratio)],
        "p on average": [found.average_p_value(r) for r in (0.5, ratio, 1.05 * ratio)],
        "by scatter": [found.scatter_p_value(n) for n in found.candidates],
        "second opinion": found.second_opinion,
        "doubted": (found.doubted, found.unknown_but_alike),
        "ratio set": found.ratio_set,
        "recovery needed": {n: found.recovery_needed(n) for n in found.candidates},
        "discrepancy": found.discrepancy(1.5),
        "budget": [
            f"{one.source.label}: {one.uncertainty:.10g} {one.share:.10g}"
            for one in found.budget[:9]
        ],
        "changing": evidence_.still_changing(lab),
        "air": evidence_.air_of(lab, found.amounts),
        "likelihood": [test.likelihood(ratio), test.density(ratio), test.by_scatter],
        "linear": {
            "nothing reacted": amounts.nothing_reacted_p(ratio),
            "below zero": [amounts.below_zero(p) for p in (1e-4, 0.05, 0.4)],
            "noise share": amounts.noise_share(ratio, 1.0),
            "own": [amounts.own_variance(ratio, 1.0), amounts.own_scatter_p(ratio, 1.0)],
            "p": [amounts.p_value(ratio, 1.0), amounts.p_value(1.02 * ratio, 1.0, found.scatter)],
            "ray": amounts.along_ray(ratio)[0],
            "spread": amounts.distribution(ratio, 1.0).spread,
        },
    }


def in_words(name: str) -> object:
    found = of(name)
    names = list(found.candidates)
    return {
        "statement": statement.statement_of(found),
        "sentences": statement.verdict_sentences(found),
        "terms": statement.terms_used(statement.verdict_sentences(found)),
        "reason": statement.reason_sentences(found.verdict, found) if found.verdict.reason else "",
        "warnings": [sentences.caveat_sentence(one, found) for one in found.warnings],
        "second": sentences.second_opinion_sentence(found),
        "look": sentences.look_sentence(found),
        "ratio": sentences.ratio_sentence(found),
        "yields": {
            n: [
                sentences.yield_sentence(found, n),
                sentences.yield_words(found, n),
                sentences.compound_sentence(found, n),
                sentences.recovery_sentence(found, n),
            ]
            for n in names
        },
        "assumed": sentences.assumption_sentences(found),
        "allowed": sentences.allowed_words(found),
        "shares": sentences.reading_shares(found),
        "unit": sentences.amount_unit(found),
    }


def trusted(name: str) -> object:
    found = of(name)
    return {
        "grouped": [[one, one.words] for one in sentences.grouped_budget(found, most=3)],
        "all": len(sentences.grouped_budget(found, next(iter(found.candidates)), most=50)),
        "told": sentences.warning_sentences(found),
        "faults": found.overturned_by,
        "words": [
            trust.fault_words(one, found, times=t)
            for one in found.overturned_by
            for t in (True, False)
        ],
        "overturning": trust.overturning_sentence(found),
        "chances": found.chances,
        "chance": trust.chance_sentence(found),
        "prior": trust.prior_sentence(found),
        "close": trust.close_sentence(found),
        "trust": trust.trust_sentences(found),
        "tables": [trust.fault_table(found), trust.chance_table(found)],
    }


def blocks(name: str) -> object:
    """How the digits of displays are taken together."""
    found = of(name)
    amounts = found._test.linear
    return [
        [amounts.side_blocks(side) for side in (0, 1)],
        amounts.blocks(found.nearest.ratio, 1.0)[0],
    ]


def yielded(name: str) -> object:
    return {n: yields.yield_for(of(name), n) for n in of(name).candidates}


def key(name: str) -> object:
    return [[one, one.accepted] for one in answers.answer_lines(EVERY[name]())]


def mistaken(name: str) -> object:
    """Each step's wrong numbers with their reasons, and what follows from a wrong one."""
    lab = EVERY[name]()
    trial = lab.trials[0]
    lines = [one for one in answers.answer_lines(lab) if one.trial == trial.name]
    found = mistakes.Working(lab, trial, lines, float(lab.candidates[0].ratio))
    said: dict[str, Any] = {}
    for at, link in enumerate(found.links):
        said[f"{at} {link.symbol} = {link.line.value:.10g} {link.line.unit}"] = [
            f"{rank} {one.value:.9g} {one.kind.name}: {one.words}"
            for rank, one in found._ranked(at)
        ]
    last = len(found.links) - 1
    said["follows"] = [
        found.follows(last, {at: accepted.Own(1.1 * found.links[at].line.value, 0.01, right=True)})
        for at in range(last)
    ]
    own = accepted.Own(2.0 * found.links[last].line.value, 0.01)
    said["its own number is nothing that follows"] = found.follows(last, {last: own})
    said["reasons"] = [
        mistakes.told(reasons)
        for factor in (0.5, 2.0, 1000.0, 1.0004, 10.0)
        if (reasons := found.reasons(last - 2, factor * found.links[last - 2].line.value, 1e-6))
    ]
    return said


# -- numbers as typed -------------------------------------------------------------------------

TYPED = (
    "0.12",
    "0,12",
    "120",
    "1.9e-3",
    "1.9·10⁻³",
    "1.9x10^-3",
    "1/2",
    "2:1",
    "2.94-2.82",
    "2.94 − 2.82",
    "0.12/63.546",
    "(2.94-2.82)/63.546*2",
    "-0.5",
    "--1",
    "+3",
    "2^3",
    "2^-3",
    "2^0.5",
    "9^15^15",
    "1/0",
    "1/(2-2)",
    "",
    "much",
    "2.94-",
    "(2.94",
    "2.94)",
    "2..3",
    "1e999-1",
    "1e400",
    "1e-400-0",
    "1-" * 79 + "1",
    "1-" * 80 + "1",
    "(" * 40 + "1" + ")" * 40,
    "1 2",
    "²",
    "10^15*10^15",
    "10^15",
    "10^16",
    "0*5",
    "0.0",
    "00.50",
    "1.50+1.5",
    "3*1.5",
    "1,5*2",
    "1'000",
    "1 000.5",
    ".5",
    "5.",
    "1e3",
    "1E3",
    "0.1+0.2",
    "1/3",
    "200/3",
    "1e-5*3",
    "100-99.9",
)
UNITS = {
    "g": ("120 mg", "0.00012 kg", "0.12 grams", "5 mol", "0.12g"),
    "mol": ("1.9 mmol", "1900 µmol", "1900 umol", "0.0019 moles", "2 g"),
    "mL": ("25 ml", "25 cm3", "25 cm³", "0.025 L", "0.025 l", "25 mg"),
    "g/mol": ("63.5 g mol⁻¹", "63.5 g·mol^-1", "0.0635 kg/mol", "63.5 g / mol", "63.5 g"),
    "mol/L": ("0.1 M", "0.1 mol L⁻¹", "100 mmol/L", "0.1 mol/l", "0.1 mol"),
    "kPa": ("101325 Pa", "1013 hPa", "1.013 bar", "101.3 kPa", "760 mmHg"),
    "K": ("298 K", "25 °C"),
    "C": ("96 C", "96 A s", "96 As", "96 A·s"),
    "%": ("8 %", "8 percent", "8"),
    "": ("2", "2 g", "2:1"),
    "°C": ("21 °C", "21 K"),
}
SURE = (
    "2.1 ± 0.2",
    "2.10(15)",
    "2.10(15) g",
    "(2.1 ± 0.2) g",
    "2.1 g ± 0.2 g",
    "2.1 g ± 20 mg",
    "2.1 ± 8 %",
    "2.1",
    "± 0.2",
    "2.1 ± 0.2 ± 0.1",
    "2.1 +/- 0.2",
    "-2.1 ± 5%",
    "2100 mg ± 0.1 g",
)


def numbers_typed() -> object:
    return {
        "numbers": each(calculation.read_number, TYPED),
        "units": {u or "none": each(partial(_answer, u), some) for u, some in UNITS.items()},
        "sure": {u or "none": each(partial(_sure, u), SURE) for u in ("g", "", "%")},
        "figures": each(
            lambda t: accepted.figures_of(parse_number(t)),
            ["0.0120", "1.9e-3", "120", "0", "0.00", "100.", "-3.40"],
        ),
        "remarks": [accepted.figures_remark(t, w) for w in (0, 1, 2, 3) for t in range(1, 8)],
        "too few": [accepted.too_few(t, 3) for t in (1, 2)],
        "half": [
            accepted.half_unit(parse_number(t), f)
            for t in ("0.12", "120", "1e3")
            for f in (1.0, 1e-3)
        ],
        "own": [
            accepted.own_of(parse_number(t), 2.0, right=r)
            for t in ("0.12", "0", "9")
            for r in (True, False)
        ],
    }


def _answer(unit: str, text: str) -> object:
    reading, factor, named = typed.read_answer(text, unit)
    return f"{reading.value:.10g} × {factor:g} {named or '-'}, {reading.decimals} decimals"


def _sure(unit: str, text: str) -> object:
    value, sure, factor = typed.read_with_uncertainty(text, unit)
    return f"{value.value:.10g} ± {sure.value:.10g} ({sure.text}), × {factor:g}"


def judged() -> object:
    """How a typed number is taken beside the right one, at and about each limit."""
    right = {
        "two figures": accepted.Accepted.of(1.9637, 2),
        "one figure": accepted.Accepted.of(117.8, 1),
        "three below one": accepted.Accepted.of(0.01234, 3),
        "of rounded": accepted.Accepted.of(1.9637, 2, 0.02),
        "exact": accepted.Accepted(value=0.12, low=0.12, high=0.12, figures=2, exact=True),
        "table": accepted.Accepted(value=63.546, low=63.446, high=63.646),
        "nothing": accepted.Accepted(value=0.0, low=0.0, high=0.0, figures=1),
        "also": accepted.Accepted(value=2.0, low=1.9, high=2.1, also=(3.0,)),
        "below zero": accepted.Accepted.of(-4.56, 2),
    }
    texts = (
        "1.9637",
        "2.0",
        "1.9",
        "1.96",
        "2.06",
        "2.01",
        "2.02",
        "2",
        "1",
        "100",
        "110",
        "124",
        "118",
        "0.0123",
        "0.0124",
        "0.01",
        "0.012",
        "0.12",
        "0.120001",
        "0.13",
        "0.1",
        "63.5",
        "63.446",
        "63.64",
        "63.65",
        "64",
        "60",
        "0",
        "0.00",
        "3.05",
        "3.2",
        "-4.6",
        "-4.5",
        "4.6",
        "200",
        "120",
        "0.125",
        "1.8",
        "2.1",
        "1.86",
    )
    owns = (None, accepted.Own(2.1, 0.01, right=False), accepted.Own(2.1, 0.01, right=True))
    return {
        name: {
            "record": one,
            "fits": [
                [o and o.value, *(f"{t} {one.fit(parse_number(t), own=o).name}" for t in texts)]
                for o in owns
            ],
            "holds": [one.holds(v) for v in (0.0, 1.9, 1.95, 2.01, 2.0137, 2.1, 2.11, 63.6, 63.65)],
        }
        for name, one in right.items()
    }


# -- parts of the verdict ---------------------------------------------------------------------


def verdicts() -> object:
    names = "abc"
    found = {}
    for fits in range(8):
        marked = [(n, bool(fits >> i & 1)) for i, n in enumerate(names)]
        for reason in (None, *verdict.Reason):
            about = ("Cu",) if reason else ()
            one = verdict.verdict_of(marked, 0.95, reason=reason, about=about)
            found[f"{fits:03b} {reason and reason.value}"] = one
    return {
        "of": found,
        "grades": each(verdict.evidence_grade, [0, 1, 3, 3.01, 20, 20.1, 150, 150.1, 1e9]),
        "refused": tried(verdict.evidence_grade, -1),
        "concluded": [
            [
                statement.concluded(list("abcd"[:n]), t, one=o),
                statement.would(statement.concluded(list("abcd"[:n]), t), still=o),
            ]
            for n in range(4)
            for t in (1, 4)
            for o in (True, False)
        ],
        "below zero": [
            statement.below_zero_clause(
                verdict.verdict_of([], 0.95, reason=verdict.Reason.BELOW_ZERO, about=a)
            )
            for a in ((), ("Cu",), ("Cu", "H2O (trial 2)"))
        ],
        "kinds": {
            str(one): one.value
            for kind in (
                verdict.CaveatKind,
                verdict.DiagnosisKind,
                typed.MistakeKind,
                overturning.FaultKind,
            )
            for one in kind
        },
        "unplanned": [sentences.unplanned_sentence(n, 0.1073 * n, 0.05, 0.05) for n in (2, 3)],
        "routes": [sentences.routes_disagree("n(Zn)", p) for p in (0.002, 1e-7)],
        "out of": each(
            trust.out_of,
            [0, 1e-9, 1e-4, 0.004, 0.02, 0.1, 0.25, 0.333, 0.5, 0.7, 0.95, 0.99, 0.996, 0.99999, 1],
        ),
    }


def caveats() -> object:
    """Every warning, said of a lab that has it or not."""
    labs = [
        of(n) for n in ("good", "excess-scatter", "unknown-once", "unknown-alike", "magnesium-gas")
    ]
    said = {}
    for kind in verdict.CaveatKind:
        for value in (1.5, -1.5, 0.6, 0.0, float("inf")):
            if kind is verdict.CaveatKind.ROUTES_DISAGREE and value != 0.6:
                continue
            subjects = ("produced", "consumed", *sentences._ADVICE, "copper(II)")
            subjects = subjects if kind is verdict.CaveatKind.DOMINANT_SOURCE else subjects[:2]
            for subject in subjects:
                if kind is verdict.CaveatKind.DOMINANT_SOURCE and value != 0.6:
                    continue
                caveat = verdict.Caveat(kind, subject, value)
                for one in labs[: 1 if value not in (1.5, 0.6) else None]:
                    words = sentences.caveat_sentence(caveat, one)
                    said[words] = kind.name
    return sorted(f"{kind}: {words}" for words, kind in said.items())


# -- many labs at once ------------------------------------------------------------------------

GROUPS = np.array(
    [
        [[3.12, 2.65, 0.71, 2.30], [2.98, 2.61, 0.70, 1.96], [3.40, 2.80, 0.72, 2.76]],
        [[2.94, 2.84, 0.75, 1.02], [3.19, 3.09, 0.70, 1.09], [3.19, 3.09, 0.70, 1.02]],
        [[2.65, 3.12, 2.30, 0.71], [2.48, 2.95, 2.30, 0.70], [2.45, 2.95, 2.39, 0.70]],
        [[3.00, 2.98, 0.80, 0.80], [3.00, 2.99, 0.80, 0.81], [3.00, 2.98, 0.80, 0.81]],
        [[3.00, 3.00, 0.80, 0.80], [3.00, 3.00, 0.80, 0.80], [3.00, 3.00, 0.80, 0.80]],
    ]
)
SWITCHES: dict[str, dict[str, Any]] = {
    "plain": {},
    "recovery": {"recovery": (0.8, 1.02)},
    "stated": {"variation": Variation(relative=0.03)},
    "from trials": {"variation": Variation(relative=0.03, from_trials=5)},
    "unknown": {"variation": Variation(unknown=True)},
    "looks": {"looks": Looks(planned=3, trials_each=1)},
    "strict": {"coverage": 0.999},
}
BALANCES = {
    "noisy": Balance(readability_g=0.01, repeatability_g=0.01, linearity_g=0.02),
    "digits": Balance(readability_g=0.01, repeatability_g=0.0, linearity_g=0.0),
    "fine": Balance(readability_g=0.001, repeatability_g=0.001, linearity_g=0.0),
}


def many(balance: str, switch: str, trials: int) -> object:
    tables = [GROUPS[:, :trials, i] if trials > 1 else GROUPS[:, 0, i] for i in range(4)]
    found = arrays.assess_weighings(
        *tables,
        consumed="Cu",
        produced="Ag",
        candidates={"a": 1, "b": 2, "c": "5/2"},
        balance=BALANCES[balance],
        **SWITCHES[switch],
    )
    return [found, [found.verdict(i) for i in range(len(GROUPS))]]


def ratios(balance: str) -> object:
    given = {"consumed": "Cu", "produced": "AgCl", "balance": BALANCES[balance]}
    return [
        arrays.weighed_ratios(*(GROUPS[:, :, i] for i in range(4)), **given),
        arrays.weighed_ratios(*(GROUPS[:, 0, i] for i in range(4)), **given),
    ]


def refused_weighings() -> object:
    good = [[3.12], [2.65], [0.71], [2.30]]
    given: dict[str, Any] = {
        "consumed": "Cu",
        "produced": "Ag",
        "candidates": {"a": 1},
        "balance": BALANCES["noisy"],
    }

    def asked(tables: list[Any], **more: Any) -> Any:
        return tried(arrays.assess_weighings, *tables, **{**given, **more})

    return {
        "shapes": asked([*good[:3], [2.3, 2.4]]),
        "empty": asked([[], [], [], []]),
        "deep": asked([[[[1.0]]]] * 4),
        "nan": asked([*good[:3], [float("nan")]]),
        "infinite": asked([*good[:3], [float("inf")]]),
        "words": asked([*good[:3], ["much"]]),
        "no candidate": asked(good, candidates={}),
        "not candidates": asked(good, candidates=[1]),
        "coverage": [asked(good, coverage=c) for c in (0.4999, 0.99991, "x")],
        "recovery": [asked(good, recovery=r) for r in ((0.9, 0.8), (0, 1), (1,), (0.5, 9))],
        "variation": asked(good, variation=0.1),
        "looks": asked(good, looks=3),
        "balance": asked(good, balance=0.01),
        "formula": asked(good, consumed="Xx"),
        "ratios": [
            tried(arrays.weighed_ratios, *good, consumed=c, produced="Ag", balance=b)
            for c, b in ((3, BALANCES["fine"]), ("Cu", None))
        ],
    }


# -- yields -----------------------------------------------------------------------------------


def known(value: float, scale: float, shape: Shape = Shape.NORMAL, label: str = "") -> Any:
    return uncertain_value(value, label or f"of {value:g}", kind="other", shape=shape, scale=scale)


def quotients() -> object:
    pairs = {
        "plain": (known(1.59, 0.01), known(1.60, 0.01)),
        "rectangular": (known(1.59, 0.02, Shape.RECTANGULAR), known(1.60, 0.02, Shape.RECTANGULAR)),
        "wide": (known(1.59, 0.02), known(0.05, 0.04)),
        "over": (known(1.9, 0.02), known(1.6, 0.02)),
        "exact": (1.59, 1.60),
        "none": (known(0.0, 0.02), known(1.6, 0.02)),
        "below": (known(-0.3, 0.02), known(1.6, 0.02)),
        "triangular": (known(1.5, 0.2, Shape.TRIANGULAR), known(1.6, 0.1)),
    }
    found = {}
    for name, (a, b) in pairs.items():
        for coverage in (0.95, 0.8) if name == "plain" else (0.95,):
            made = tried(yields.percent_yield, a, b, coverage=coverage)
            error = tried(yields.percent_error, a, b, coverage=coverage)
            found[f"{name} {coverage}"] = [
                made,
                error,
                [
                    tried(one.p_value, v)
                    for one in (made, error)
                    for v in (0.0, 90.0, 110.0)
                    if not isinstance(one, str)
                ],
                [] if isinstance(made, str) else [made.probability_above(v) for v in (95.0, 100.0)],
            ]
    for name, (a, b) in {
        "zero": (1.0, 0.0),
        "nan": (float("nan"), 1.0),
        "text": ("1", 1.0),
        "negative": (1.0, -2.0),
    }.items():
        found[name] = [tried(yields.percent_yield, a, b), tried(yields.percent_error, a, b)]
    found["coverage"] = [tried(yields.percent_yield, 1.0, 1.0, coverage=c) for c in (0.4, 1.0)]
    return found


# -- small parts ------------------------------------------------------------------------------


def small() -> object:
    tree = formulas.tree_of("(a − b) / M × 2 + 1/2", "ab", ["M"])
    values = {"a": 3.0, "b": 1.0, "M": 4.0}

    def trees(text: str) -> object:
        try:
            return formulas.tree_of(text, ["a", "a + b"], ["M"])
        except formulas.NotKnown:
            return "not known"

    return {
        "tokens": formulas.tokens_of(
            "a + b − a × 2/3 / (M + 273.15 K) R F ?", ["a", "a + b"], ["M"]
        ),
        "tree": tree,
        "value": formulas.valued(tree, values),
        "trees": each(trees, ["a", "a + b + a", "a −", "(a", "a)", "a ? M", "", "1/2 × a", "a a"]),
        "plain": [
            formulas.is_plain_sum(formulas.tree_of(t, "abc", ()))
            for t in ("a", "a − b + c", "a × b", "a + R", "2 × a − b")
        ],
        "constants": formulas.CONSTANTS,
        "allowed": [
            ratio_test.allowed_ratios(f, 2.0, (0.5, 0.9)) for f in (0.5, 1.0, 1.5, 1.8, 2.5)
        ],
        "unexplained": linear.unexplained(
            np.array([[1.0, 1.1, 0.9], [1.0, 2.0, 0.0]]),
            np.array([[2.0, 1.8, 2.2], [2.0, 3.0, 0.5]]),
            (0.8, 1.0),
        ),
        "towards": [linear.towards(a, b) for a, b in ((0.0, 1.0), (1.0, 4.0), (2.0, 2.0))],
        "ratio": [
            tried(linear.ratio_found, a, b)
            for a, b in ((1.0, 2.0), (0.0, 1.0), (0.0, 0.0), (-1.0, 2.0), (1.0, -2.0))
        ],
        "excess": [
            linear.rounding_excess(s, single=o) for s in (0.0, 0.1, 0.3, 1.0) for o in (True, False)
        ],
        "student": [
            float(linear.student_sums(np.array([2.0]), np.array([[w]]), np.array([1.0]), d)[0])
            for w in (0.0, 0.5, 3.0)
            for d in (1, 4, 30)
        ],
        "landmarks": routes.landmarks(
            [of(n)._test.linear for n in ("good", "recovery", "reversed")]
        ),
        "changed": [
            overturning.changed(
                verdict.verdict_of([("a", a), ("b", b)], 0.95),
                verdict.verdict_of([("a", True), ("b", False)], 0.95),
            )
            for a in (True, False)
            for b in (True, False)
        ],
        "chances": chances.chances_of(
            {"a": 3.0, "b": 1.0},
            {"a": 1.0, "b": 2.0},
            lambda r: np.exp(-((r - 1.2) ** 2) / 0.02),
            (1.2, 0.7),
        ),
        "chances with recovery": chances.chances_of(
            {"a": 3.0, "b": 1.0},
            {"a": 1.0, "b": 2.0},
            lambda r: np.exp(-((r - 1.2) ** 2) / 0.02),
            (1.2, 0.7),
            (0.7, 0.9),
        ),
        "impossible": chances.chances_of(
            {"a": 0.0, "b": 0.0}, {"a": 1.0, "b": 2.0}, lambda _: 0.0, (1.2, 0.1)
        ),
        "mistakes": {
            "ratio": list(
                typed.ratio_mistakes(answers.answer_lines(EVERY["good"]())[-1], 0.4, 0.1)
            ),
            "percent": [*typed.percent_mistakes(80.0, 2.0), *typed.percent_mistakes(0.0, 2.0)],
            "thousand": {u: list(typed.thousand(2.0, u)) for u in typed.FACTORS},
            "steps": [
                list(typed.mistakes_of(line, lines[:i]))
                for name in ("good", "magnesium-gas", "hydrate-heating")
                for lines in [answers.answer_lines(EVERY[name]())[:9]]
                for i, line in enumerate(lines)
            ],
        },
        "factors": typed.FACTORS,
        "accepted": answers.ACCEPTED,
        "compared": evidence_.compare_discrepancy(EVERY["magnesium-gas"](), 1.0, 0.95).agrees,
        "fails": [
            evidence_.linearity_fails(EVERY[n](), 1.0, 0.95)
            for n in ("good", "magnesium-gas", "no-current", "practice-gas-5")
        ],
    }


def refused() -> object:
    found = of("good")
    lab = EVERY["good"]()
    return {
        "assess": [tried(assess, one) for one in (None, "good", lab.with_trials([]))],
        "coverage": [tried(assess, lab, coverage=c) for c in (0.4999, 0.99991, 1.0, "x")],
        "edges": [assess(lab, coverage=c).verdict for c in (0.5, 0.9999)],
        "named": [tried(found.named, n) for n in ("copper(III)", 3)],
        "p": [tried(found.p_value, r) for r in (-0.1, float("nan"), "x")],
        "average": tried(found.average_p_value, -1.0),
        "scatter": tried(found.scatter_p_value, "x"),
        "budget": [
            tried(found.budget_for, "x"),
            tried(sentences.grouped_budget, found, most=0),
            tried(sentences.grouped_budget, found, "x"),
        ],
        "asked again": [sentences.asked_again_sentence(found, n) for n in (0, 1, 3)],
        "again": [tried(sentences.asked_again_sentence, found, n) for n in (-1, 101, 1.5)],
        "sentences": [
            tried(f, None)
            for f in (
                sentences.ratio_sentence,
                sentences.look_sentence,
                sentences.assumption_sentences,
                statement.verdict_sentences,
                trust.trust_sentences,
                answers.answer_lines,
            )
        ],
        "four": [arrays.four_weighings(EVERY[n]()) for n in (*READY, "good", "sum-of-masses")],
        "plain ratios": [tried(plain_ratios, one) for one in ({}, {"a": 0}, {"a": "x"})],
    }


def of_labs(what: Callable[[str], object], names: Any) -> dict[str, Callable[[], object]]:
    return {name: partial(what, name) for name in names}


WITH_KEY = (
    "copper-silver",
    "magnesium-gas",
    "hydrate-heating",
    "acid-titration",
    "copper-plating",
    "tin-oxide",
    "shared-blank",
    "less-than-nothing",
    "nothing-read",
    "routes",
    "sum-of-masses",
    "averaged",
    "practice-gas-2",
    "practice-charge-4",
    "practice-titration-3",
)
TRUSTED = (
    "copper-silver",
    "copper-silver-coarse",
    "copper-plating",
    "tin-oxide",
    "none-fits",
    "over-100",
    "in-pieces",
    "no-upper-limit",
    "recovery",
    "excess-scatter",
    "strict",
    "reversed",
    "drifting",
    "nothing-shown",
    "doubted",
    "unknown",
    "unknown-alike",
    "looks-by-student",
    "stated",
    "two-balances",
    "routes-apart",
    "one-vessel",
    "averaged",
    "prior",
    "from-trials",
    "good",
    "consumed-nothing",
    "four-candidates",
    "practice-weighed-5",
    "practice-gas-2",
)
LONG = {"acid-titration", "practice-titration-5", "drifting", "many-trials", "own-vessels"}
"""Of these the verdict in words is enough."""
CASES = cases(
    measured=of_labs(as_measured, [name for name in EVERY if name not in LONG]),
    words=of_labs(in_words, EVERY),
    trust=of_labs(trusted, TRUSTED),
    blocks=of_labs(blocks, ("good", "two-balances", "one-vessel", "tin-oxide", "routes")),
    yields=of_labs(yielded, ("good", "recovery", "no-upper-limit", "reversed")),
    key=of_labs(key, WITH_KEY),
    mistakes=of_labs(mistaken, ("copper-silver", "magnesium-gas", "hydrate-heating")),
    many={
        f"{balance} {switch} {trials}": partial(many, balance, switch, trials)
        for balance in BALANCES
        for switch in SWITCHES
        for trials in (1, 3)
        if balance == "noisy" or switch in ("plain", "recovery", "unknown")
    },
    ratios={name: partial(ratios, name) for name in BALANCES},
    alone={
        "typed": numbers_typed,
        "judged": judged,
        "verdicts": verdicts,
        "caveats": caveats,
        "refused weighings": refused_weighings,
        "quotients": quotients,
        "small": small,
        "refused": refused,
    },
)

test_answers, test_nothing_else = RECORD.tests(CASES)
