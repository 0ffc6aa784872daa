"""Formulas of calculation steps: cut into names and signs, and worked out with other numbers.

The formulas are those that amount models write about themselves; nothing here is run as code.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
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


@dataclass(frozen=True, slots=True)
class Leaf:
    """A name of a reading or symbol, or a number, in the tree of a formula."""

    text: str
    is_number: bool = False


@dataclass(frozen=True, slots=True)
class Node:
    """Two parts of a formula with the sign between them: one of ``+ − × /``."""

    sign: str
    left: Tree
    right: Tree


Tree = Leaf | Node


class NotKnown(Exception):
    """A formula holds what is not known here."""


def tree_of(formula: str, names: Iterable[str], symbols: Iterable[str]) -> Tree:
    """Return the formula of a step as a tree.

    Raises
    ------
    NotKnown
        If it holds more than names, numbers, brackets and the four signs.

    Examples
    --------
    >>> tree_of("m / M", [], ["m", "M"])
    Node(sign='/', left=Leaf(text='m', is_number=False), right=Leaf(text='M', is_number=False))
    """
    reader = _Reader(tokens_of(formula, names, symbols))
    found = reader.sum()
    if not reader.at_end:
        raise NotKnown
    return found


def is_plain_sum(tree: Tree) -> bool:
    """Whether a tree holds names alone, added and subtracted.

    >>> [is_plain_sum(tree_of(one, "abc", ())) for one in ("a − b + c", "a − 2 × b", "a / b")]
    [True, False, False]
    """
    if isinstance(tree, Leaf):
        return tree.text not in CONSTANTS
    return tree.sign in "+−" and is_plain_sum(tree.left) and is_plain_sum(tree.right)


def valued(tree: Tree, values: Mapping[str, float]) -> float:
    """Work out a tree with these values of its names.

    Raises
    ------
    NotKnown
        If a value is missing.
    ZeroDivisionError
        If something is divided by zero.
    """
    if isinstance(tree, Node):
        left, right = valued(tree.left, values), valued(tree.right, values)
        match tree.sign:
            case "+":
                return left + right
            case "−":
                return left - right
            case "×":
                return left * right
            case _:
                return left / right
    if tree.is_number:
        try:
            return float(Fraction(tree.text))
        except ValueError:
            raise NotKnown from None
    if tree.text in values:
        return values[tree.text]
    if tree.text in CONSTANTS:
        return CONSTANTS[tree.text]
    raise NotKnown


class _Reader:
    """Sums, products and brackets, from left to right."""

    def __init__(self, tokens: Sequence[Token]) -> None:
        self._tokens, self._at = tokens, 0

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

    def sum(self) -> Tree:
        found = self._product()
        while sign := self._sign("+−"):
            found = Node(sign, found, self._product())
        return found

    def _product(self) -> Tree:
        found = self._one()
        while sign := self._sign("×/"):
            found = Node(sign, found, self._one())
        return found

    def _one(self) -> Tree:
        if self._sign("("):
            found = self.sum()
            if not self._sign(")"):
                raise NotKnown
            return found
        if self.at_end:
            raise NotKnown
        token = self._tokens[self._at]
        self._at += 1
        if token.kind not in ("name", "symbol", "number"):
            raise NotKnown
        return Leaf(token.text, token.kind == "number")
