"""Significant figures by the usual classroom rules, followed through the steps of a calculation.

A sum or difference keeps the decimals of its least precise term; a product or quotient keeps the
significant figures of its least precise factor. Values from tables count with the decimals that
their uncertainty leaves; exact numbers count with as many as are needed. Common practice, no
source. The figures only say how a result is written: they are not its uncertainty.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Set
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from ..decision.formulas import tokens_of
from ..measurement.base import FARADAY_C_PER_MOL, GAS_CONSTANT_J_PER_MOL_K, Step
from ..text.parts import Token
from ..text.wording import magnitude, power_of_ten
from ..uncertainty.sources import Number, nominal, standard_uncertainty

GUARD_DIGITS = 2
"""Digits carried beyond the significant ones."""
_EXACT = math.inf
_CONSTANTS = {"R": _EXACT, "F": _EXACT, "273.15 K": 2.0}
_CONSTANT_TEXT = {
    "R": f"{GAS_CONSTANT_J_PER_MOL_K:.7g} kPa L/(mol K)",
    "F": f"{FARADAY_C_PER_MOL:.7g} C/mol",
}


@dataclass(frozen=True, slots=True)
class Figured:
    """A value with the place of its last significant digit.

    Attributes
    ----------
    value : float
    decimals : float
        Decimals that count; negative when the last counts for tens or more, infinite when exact.
    unit : str
    """

    value: float
    decimals: float
    unit: str = ""

    @property
    def figures(self) -> float:
        """Number of significant figures, at least 1."""
        if math.isinf(self.decimals) or not self.value:
            return self.decimals if math.isinf(self.decimals) else 1
        shown = round(self.value, int(self.decimals))  # 0.9996 with two decimals is 1.00
        return max(self.decimals + (math.floor(math.log10(abs(shown))) + 1 if shown else 0), 1)


@dataclass(frozen=True, slots=True)
class Line:
    """One calculated value: its symbol, the formula, the same with numbers, and the result.

    Attributes
    ----------
    symbol, words : str
    formula, numbers : tuple of Token
        Empty for a value taken from a table.
    result : Figured
    uncertainty : float
        Standard uncertainty, in the unit of the result; 0 for none.
    """

    symbol: str
    words: str
    formula: tuple[Token, ...]
    numbers: tuple[Token, ...]
    result: Figured
    uncertainty: float


def written(value: float, decimals: float) -> str:
    """Write a value with so many decimals; with a power of ten where that is clearer.

    >>> written(0.018884, 4), written(1234.0, -2), written(0.0000312, 6), written(107.8682, 3)
    ('0.0189', '1.2 × 10³', '3.1 × 10⁻⁵', '107.868')
    >>> written(996.0, -1), written(0.00009996, 7)
    ('1.00 × 10³', '1.000 × 10⁻⁴')
    """
    if math.isinf(decimals):
        return f"{value:.8g}".replace("-", "−")
    places = int(decimals)
    if value and (places < 0 or abs(value) < 1e-4):
        power = math.floor(math.log10(abs(value)))
        if abs(float(_rounded(value / 10.0**power, max(places + power, 0), "-"))) >= 10:
            power += 1
        mantissa = _rounded(value / 10.0**power, max(places + power, 0))
        return f"{mantissa} × {power_of_ten(power)}"
    return _rounded(value, max(places, 0))


def _rounded(value: float, places: int, minus: str = "−") -> str:
    """Round as in class, halves away from zero."""
    exact = Decimal(f"{value:.12g}").quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)
    return format(exact, "f").replace("-", minus)


def guarded(value: Figured, guard: int = GUARD_DIGITS) -> str:
    """Write a value with guard digits, but without those that are zeros nobody read.

    >>> guarded(Figured(0.1, 1, "g")), guarded(Figured(294.55, 1)), guarded(Figured(1.8884, 2))
    ('0.1', '294.55', '1.8884')
    """
    if math.isfinite(value.decimals):
        for fewer in range(guard):
            plain = _rounded(value.value, max(int(value.decimals) + fewer, 0), "-")
            if abs(float(plain) - value.value) <= 1e-9 * abs(value.value):
                guard = fewer
                break
    return written(value.value, value.decimals + guard)


def _decimals_for(value: float, figures: float, uncertainty: float) -> float:
    """Return the decimals that show so many figures of a value."""
    if math.isinf(figures):
        return figures
    if not value:
        return -math.floor(math.log10(uncertainty)) if uncertainty else 0
    return figures - 1 - magnitude(value, int(figures))


def followed(
    steps: Iterable[Step], readings: Mapping[str, Figured], means: Set[str] = frozenset()
) -> tuple[Line, ...]:
    """Follow significant figures through the steps of one amount.

    Of the readings ``means`` are calculated, and so are shown with guard digits.

    >>> from stoichkit.measurement.weighing import MassByDifference
    >>> model = MassByDifference(species="Cu", heavier="before", lighter="after")
    >>> steps = model.explain({"before": 2.94, "after": 2.82})
    >>> read = {"before": Figured(2.94, 2, "g"), "after": Figured(2.82, 2, "g")}
    >>> [(line.symbol, line.result.figures) for line in followed(steps, read)]
    [('m(Cu)', 2), ('M(Cu)', 5), ('n(Cu)', 2)]
    """
    known = dict(readings)
    symbols: list[str] = []
    worked = set(means)
    lines = []
    for step in steps:
        tokens = tokens_of(step.formula, readings, symbols)
        figured = _figured(step.value, tokens, known, step.unit)
        numbers = tuple(_numbers(tokens, known, worked))
        u = standard_uncertainty(step.value)
        lines.append(Line(step.symbol, step.words, tokens, numbers, figured, u))
        known[step.symbol] = figured
        if tokens:
            worked.add(step.symbol)
        symbols.append(step.symbol)
    return tuple(lines)


def _figured(
    value: Number, tokens: tuple[Token, ...], known: Mapping[str, Figured], unit: str
) -> Figured:
    """Return a result with the figures its operands leave."""
    size, u = nominal(value), standard_uncertainty(value)
    operands = [known[t.text] for t in tokens if t.text in known]
    if not tokens or not operands:
        decimals = -math.floor(math.log10(u)) if u else _EXACT
    elif len(tokens) == 1:
        decimals = operands[0].decimals
    elif any(t.kind == "sign" and t.text in "−+" for t in tokens):
        constants = [_CONSTANTS[t.text] for t in tokens if t.text in _CONSTANTS]
        decimals = min(*(o.decimals for o in operands), *constants, _EXACT)
    else:
        decimals = _decimals_for(size, min(o.figures for o in operands), u)
    return Figured(size, decimals, unit)


def _numbers(
    tokens: tuple[Token, ...], known: Mapping[str, Figured], worked: Set[str]
) -> Iterable[Token]:
    """Put values in the place of names; calculated ones with their guard digits."""
    for token in tokens:
        if token.text in known:
            found = known[token.text]
            text = guarded(found, GUARD_DIGITS if token.text in worked else 0)
            yield Token("number", f"{text} {found.unit}".strip())
        elif token.text in _CONSTANT_TEXT:
            yield Token("number", _CONSTANT_TEXT[token.text])
        else:
            yield token
