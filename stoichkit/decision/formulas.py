"""Formulas of calculation steps: cut into names and signs, and worked out with other numbers.

The formulas are those that amount models write about themselves; nothing here is run as code.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction

from ..measurement.base import FARADAY_C_PER_MOL, GAS_CONSTANT_J_PER_MOL_K
from ..text.parts import Token

CONSTANTS = {"R": GAS_CONSTANT_J_PER_MOL_K, "F": FARADAY_C_PER_MOL, "273.15 K": 273.15}
"""Constants that formulas name, in the units of the steps."""


def tokens_of(formula: str, names: Iterable[str], symbols: Iterable[str]) -> tuple[Token, ...]:
    """Split the formula of a step into names of readings, symbols, numbers and signs.

    >>> [t.text for t in tokens_of("paper + silver − paper", ["paper", "paper + silver"], [])]
    ['paper + silver', '−', 'paper']
    """
    known = {name: "name" for name in names if name}
    known |= dict.fromkeys((*symbols, *CONSTANTS), "symbol")
    longest = sorted(known, key=len, reverse=True)
    found, at = [], 0
    while at < len(formula):
        match = next((word for word in longest if formula.startswith(word, at)), None)
        if match is not None:
            found.append(Token(known[match], match))
            at += len(match)
        elif formula[at].isspace():
            at += 1
        elif formula[at].isdigit():
            end = at
            while end < len(formula) and (formula[end].isdigit() or formula[end] in "./"):
                end += 1
            found.append(Token("number", formula[at:end]))
            at = end
        else:
            found.append(Token("sign", formula[at]))
            at += 1
    return tuple(found)


def worked_out(
    formula: str, readings: Mapping[str, float], symbols: Mapping[str, float]
) -> float | None:
    """Work out the formula of a step with these values of its readings and symbols.

    Returns None where a value is missing, something is divided by zero, or the formula holds what
    is not known here.

    >>> worked_out("m(Cu) / M(Cu)", {}, {"m(Cu)": 0.12, "M(Cu)": 60.0})
    0.002
    >>> worked_out("2 × (a − b)", {"a": 3.0, "b": 1.0}, {}), worked_out("a / b", {"a": 1.0}, {})
    (4.0, None)
    """
    reader = _Reader(tokens_of(formula, readings, symbols), {**CONSTANTS, **symbols, **readings})
    try:
        value = reader.sum()
    except (_NotRead, ZeroDivisionError, OverflowError):
        return None
    return value if reader.at_end and math.isfinite(value) else None


class _NotRead(Exception):
    """The formula holds what is not known here."""


class _Reader:
    """Sums, products and brackets, from left to right."""

    def __init__(self, tokens: Sequence[Token], values: Mapping[str, float]) -> None:
        self._tokens, self._values, self._at = tokens, values, 0

    @property
    def at_end(self) -> bool:
        return self._at == len(self._tokens)

    def _sign(self, among: str) -> str:
        """Take the next sign if it is one of these; else return nothing."""
        if not self.at_end:
            token = self._tokens[self._at]
            if token.kind == "sign" and token.text in among:
                self._at += 1
                return token.text
        return ""

    def sum(self) -> float:
        value = self._product()
        while sign := self._sign("+−"):
            other = self._product()
            value = value + other if sign == "+" else value - other
        return value

    def _product(self) -> float:
        value = self._one()
        while sign := self._sign("×/"):
            other = self._one()
            value = value * other if sign == "×" else value / other
        return value

    def _one(self) -> float:
        if self._sign("("):
            value = self.sum()
            if not self._sign(")"):
                raise _NotRead
            return value
        if self.at_end:
            raise _NotRead
        token = self._tokens[self._at]
        self._at += 1
        if token.text in self._values:
            return self._values[token.text]
        if token.kind == "number":
            try:
                return float(Fraction(token.text))
            except ValueError:
                raise _NotRead from None
        raise _NotRead
