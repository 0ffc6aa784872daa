"""Why a typed number is wrong: a search over the lab's own calculation for what gives it.

Each step of the calculation is a tree over readings, table values and earlier steps. One mistake at
a time is made in one step: a difference turned round or added, something left out or taken from
another place, a wrong entry of a table, a slipped decimal, a value rounded early. What follows from
it is worked out to the step that is asked for, and compared with the number at the precision typed.
The mistakes are common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_UP, Decimal
from functools import cached_property
from itertools import pairwise

from ..chemistry.elements import KNOWN, atomic_weight_value, element_name, molar_mass_value
from ..chemistry.formula import SYMBOLS, parse_formula
from ..errors import FormulaError, StoichkitError
from ..experiments.checks import read_value
from ..experiments.parts import Trial
from ..experiments.record import Experiment
from ..text.wording import species_text
from ..uncertainty.readings import ErrorPool, Reading
from ..uncertainty.sources import nominal
from .accepted import Own
from .answers import AnswerLine
from .formulas import CONSTANTS, Leaf, Node, NotKnown, Tree, tree_of, valued
from .typed import (
    Mistake,
    MistakeKind,
    mistakes_of,
    percent_mistakes,
    ratio_mistakes,
    thousand,
)

_POWER = 1e-6
_LOOSE = 0.003
"""An answer of three figures or more may have been rounded on the way by so much, relative."""
_WIDEST = 0.05
"""A number typed with few figures is taken for no value further off than this, relative."""
_LATER = 100
"""What a mistake in an earlier step costs in rank."""
_GIVEN = 12
"""What a mistake in a value that is given costs in rank beside one that is made with it."""
_DIATOMIC = frozenset(("H", "N", "O", "F", "Cl", "Br", "I"))
_ALIKE = 25
"""Of two mistakes that give the number alike, the second is told too if so near in rank."""
REQUIRED, FOUND_OF_REQUIRED = "required", "percent"
"""Symbols of the steps that follow the mole ratio."""
_RANK = {
    MistakeKind.SIGN: 0, MistakeKind.INVERTED: 2, MistakeKind.MULTIPLIED: 4,
    MistakeKind.PREFIX: 6, MistakeKind.MASSES: 8, MistakeKind.OTHER_STEP: 10,
    MistakeKind.FRACTION: 9, MistakeKind.CELSIUS: 12, MistakeKind.TARE: 14,
    MistakeKind.ADDED: 16, MistakeKind.OTHER_SUBSTANCE: 18, MistakeKind.COEFFICIENT: 18,
    MistakeKind.TWICE: 20, MistakeKind.DECIMAL: 22, MistakeKind.ATOMIC_NUMBER: 24,
    MistakeKind.TWO_ATOMS: 26, MistakeKind.SUBSCRIPTS: 26, MistakeKind.WATER: 26,
    MistakeKind.CANDIDATE: 28, MistakeKind.LEFT_OUT: 30, MistakeKind.LAST_DIGIT: 32,
    MistakeKind.EARLY: 34, MistakeKind.OTHER_READING: 40, MistakeKind.OTHER_TRIAL: 44,
    MistakeKind.NEIGHBOUR: 48, MistakeKind.SWAPPED_DIGITS: 52, MistakeKind.MISSING: 30,
}  # fmt: skip
"""How soon a mistake is thought of where several give one number; the least comes first."""


@dataclass(frozen=True, slots=True)
class _Link:
    """One step of the calculation: what it is and how it follows from what stands before."""

    line: AnswerLine
    tree: Tree | None
    scale: float

    @property
    def symbol(self) -> str:
        return self.line.symbol


class Working:
    """The calculation of one trial, as steps in which a mistake can be made.

    Parameters
    ----------
    experiment : Experiment
    trial : Trial
    lines : sequence of AnswerLine
        The steps of that trial, the mole ratio last; none of them with a note.
    required : float, optional
        Mole ratio of the candidate of which amount or mass required and percentage are asked.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> from stoichkit.decision.answers import answer_lines
    >>> lab = experiments.load("copper-silver")
    >>> lines = [one for one in answer_lines(lab) if one.trial == "bench 1"]
    >>> working = Working(lab, lab.trials[0], lines)
    >>> ratio = working.at("r")
    >>> found = working.reasons(ratio, 0.509, 0.0005)
    >>> found[0].kind.value, found[0].words
    ('upside down', 'This is upside down: the ratio asked for is n(Ag) / n(Cu).')
    >>> working.reasons(ratio, 7.0e-6, 5e-8)[0].kind.value
    'multiplied'
    """

    def __init__(
        self,
        experiment: Experiment,
        trial: Trial,
        lines: Sequence[AnswerLine],
        required: float | None = None,
    ) -> None:
        self.experiment, self.trial = experiment, trial
        self.roles = {role.name: role for role in experiment.roles()}
        texts = {**experiment.shared_readings, **trial.readings}
        self.read: dict[str, Reading] = {
            name: read_value(self.roles[name], typed) for name, typed in texts.items()
        }
        self.readings = _values(experiment, trial)
        self.links: list[_Link] = []
        self.right: dict[str, float] = {}
        for line in lines:
            self._add(line)
        self.required = required
        if required is not None:
            self._further(required)
        self._found: dict[int, tuple[tuple[int, Mistake], ...]] = {}

    def _add(self, line: AnswerLine) -> None:
        tree: Tree | None = None
        scale = 1.0
        if line.formula:
            try:
                tree = tree_of(line.formula, self.readings, self.right)
                plain = valued(tree, {**self.right, **self.readings})
                scale = line.value / plain if plain else 1.0
                if plain and abs(math.log10(abs(scale)) - round(math.log10(abs(scale)))) > _POWER:
                    tree = None  # not what the formula says in words
                else:
                    scale = 10.0 ** round(math.log10(abs(scale)))
            except (NotKnown, ZeroDivisionError, ValueError):
                tree = None
        self.links.append(_Link(line, tree, scale))
        self.right[line.symbol] = line.value

    def _further(self, ratio: float) -> None:
        """Add what a candidate requires, and the part of it that was found."""
        made, used = self.experiment.produced.species, self.experiment.consumed.species
        amount = f"n({used})"
        if self.right.get(amount, 0.0) <= 0:
            return
        ratio_line = self.links[-1].line
        self.right["ν"] = ratio
        molar = f"M({made})"
        weighed = molar in self.right and f"m({made})" in self.right
        formula = f"{amount} × ν" + (f" × {molar}" if weighed else "")
        unit = "g" if weighed else "mol"
        value = self.right[amount] * ratio * (self.right[molar] if weighed else 1.0)
        nan = math.nan
        line = replace(
            ratio_line, symbol=REQUIRED, words=f"{'mass' if weighed else 'amount'} required",
            formula=formula, value=value, unit=unit, low=nan, high=nan,
        )  # fmt: skip
        self._add(line)
        found = f"m({made})" if weighed else f"n({made})"
        if self.right.get(found, 0.0) > 0:
            share = replace(
                line, symbol=FOUND_OF_REQUIRED, words="percentage found",
                formula=f"100 × {found} / {REQUIRED}", unit="%",
                value=100 * self.right[found] / value,
            )  # fmt: skip
            self._add(share)

    @cached_property
    def others(self) -> dict[str, dict[str, float]]:
        """Return the readings of the other trials."""
        return {
            one.name: _values(self.experiment, one)
            for one in self.experiment.trials
            if one is not self.trial
        }

    # What is asked for from outside

    def has(self, symbol: str) -> bool:
        """Whether there is such a step."""
        return any(link.symbol == symbol for link in self.links)

    def at(self, symbol: str) -> int:
        """Return where a step stands."""
        return next(i for i, link in enumerate(self.links) if link.symbol == symbol)

    def follows(self, at: int, own: Mapping[int, Own]) -> Own | None:
        """Return what a step gives with somebody's own earlier numbers; None if nothing changes.

        Steps are told by where they stand; see :meth:`at`.
        """
        values, changed = dict(self.right), dict[str, Own]()
        for i, link in enumerate(self.links[: at + 1]):
            used = [
                changed[name] for name in _names(link.tree or Leaf("", True)) if name in changed
            ]
            found = own.get(i) if i < at else None
            if found is None and used and (value := self._valued(link, values)) is not None:
                rounding = sum(one.rounding for one in used)
                found = Own(value, rounding, all(one.right for one in used))
            if found is None or _same(found.value, link.line.value):
                found = None
                changed.pop(link.symbol, None)
            else:
                changed[link.symbol] = found
            values[link.symbol] = link.line.value if found is None else found.value
        return found

    def reasons(self, at: int, value: float, half: float) -> tuple[Mistake, ...]:
        """Return the mistakes that give a number, the likeliest first; at most two.

        Parameters
        ----------
        at : int
            Where the step stands; see :meth:`at`.
        value, half : float
            The number in the unit of the step, and half a unit of its last figure.
        """
        return best(self._ranked(at), value, half)

    def _ranked(self, at: int) -> tuple[tuple[int, Mistake], ...]:
        if at not in self._found:
            found = sorted(self._search(at), key=lambda pair: pair[0])
            kept: dict[tuple[str, str], tuple[int, Mistake]] = {}
            for rank, one in found:
                if math.isfinite(one.value):
                    kept.setdefault((f"{one.value:.9g}", one.kind), (rank, one))
            self._found[at] = tuple(kept.values())
        return self._found[at]

    # The search

    def _search(self, at: int) -> Iterator[tuple[int, Mistake]]:
        target = self.links[at]
        for one in self._here(at):
            yield _RANK[one.kind], one
        for rank, one in self._elsewhere(at):
            yield rank, one
        for i in range(at):
            link = self.links[i]
            if link.line.formula in self.readings and link.tree is not None:
                where = ""  # read, not calculated
            else:
                where = f"It follows from a wrong {link.symbol}: "
            for one in self._here(i):
                if one.kind in (MistakeKind.OTHER_STEP, MistakeKind.CANDIDATE):
                    continue
                value = self._carried(i, one.value, at)
                if value is not None and not _same(value, target.line.value):
                    words = where + (_lowered(one.words) if where else one.words)
                    yield self._cost(one.kind, i, at), Mistake(value, words, one.kind)
        for one in self._early(at):
            yield _RANK[one.kind], one

    def _cost(self, kind: MistakeKind, start: int, end: int) -> int:
        """Return the rank of a mistake that was made in an earlier step."""
        link = self.links[start]
        if kind is MistakeKind.TWO_ATOMS and link.symbol[2:-1] in _DIATOMIC:
            return _RANK[MistakeKind.TWICE] - 1
        if kind is MistakeKind.LAST_DIGIT:  # it would have been seen there
            return _RANK[kind] + _LATER + 30
        rank = _RANK[kind]
        if link.tree is None and link.line.unit != "g/mol":
            rank += _GIVEN  # it stands in a table in the unit that is needed
        if link.tree is None and link.symbol in _names(self.links[end].tree or Leaf("", True)):
            return rank + 5  # looked up for this step
        return rank + _LATER

    def _carried(self, start: int, value: float, end: int) -> float | None:
        """Return what another value of one step makes of a later one; None if nothing."""
        values = dict(self.right)
        # a symbol may stand twice, once for each amount: what comes before the step counts
        for link in self.links[: start + 1]:
            values[link.symbol] = link.line.value
        values[self.links[start].symbol] = value
        changed = {self.links[start].symbol}
        for link in self.links[start + 1 : end + 1]:
            if link.tree is not None and changed & _names(link.tree):
                found = self._valued(link, values)
                if found is None:
                    return None
                values[link.symbol] = found
                changed.add(link.symbol)
            else:
                values[link.symbol] = link.line.value
                changed.discard(link.symbol)
        return values[self.links[end].symbol] if self.links[end].symbol in changed else None

    def _valued(
        self, link: _Link, values: Mapping[str, float], tree: Tree | None = None
    ) -> float | None:
        use = link.tree if tree is None else tree
        if use is None:
            return None
        try:
            found = valued(use, {**values, **self.readings}) * link.scale
        except (NotKnown, ZeroDivisionError, OverflowError):
            return None
        return found if math.isfinite(found) else None

    def _here(self, at: int) -> Iterator[Mistake]:
        """Yield what one mistake in a step makes of it."""
        link = self.links[at]
        line, before = link.line, [one.line for one in self.links[:at]]
        if line.unit == "g/mol":
            yield from mistakes_of(line, before)
            yield from _table_mistakes(line.symbol[2:-1], line.value)
            yield from self._other_molar(line)
            yield from _slipped(line)
            return
        if line.symbol == "r":
            made, used = self.experiment.produced.species, self.experiment.consumed.species
            masses = (self.right.get(f"m({one})", math.nan) for one in (made, used))
            yield from ratio_mistakes(line, *masses)
            for candidate in self.experiment.candidates:
                yield Mistake(
                    float(candidate.ratio), f"This is what {candidate.name} requires; the question "
                    "is what these readings give.", MistakeKind.CANDIDATE,
                )  # fmt: skip
        elif line.symbol == FOUND_OF_REQUIRED and self.required:
            yield from percent_mistakes(line.value, self.required)
            yield Mistake(
                100 - line.value, "This is the part that is missing (or too much); the question is "
                "for the part that was found.", MistakeKind.MISSING,
            )  # fmt: skip
        else:
            yield from mistakes_of(line, before)
        if line.symbol == REQUIRED:
            yield from thousand(line.value, line.unit)
            yield from self._coefficient(link)
        if link.tree is not None:
            yield from self._changed_trees(link)
        yield from _slipped(line)

    def _coefficient(self, link: _Link) -> Iterator[Mistake]:
        ratio = self.required or 1.0
        words = "The coefficients of the equation are missing."
        yield Mistake(link.line.value / ratio, words, MistakeKind.COEFFICIENT)
        words = "The mole ratio was used upside down."
        yield Mistake(link.line.value / ratio**2, words, MistakeKind.INVERTED)
        for one in self.experiment.candidates:
            yield Mistake(
                link.line.value / ratio * float(one.ratio), "The mole ratio is that of "
                f"{one.name}; another candidate was asked about.", MistakeKind.CANDIDATE,
            )  # fmt: skip

    def _other_molar(self, line: AnswerLine) -> Iterator[Mistake]:
        for link in self.links:
            if link.line.unit == "g/mol" and link.symbol != line.symbol:
                yield Mistake(
                    link.line.value, f"This is the molar mass of {species_text(link.symbol[2:-1])}"
                    f"; that of {species_text(line.symbol[2:-1])} is needed.",
                    MistakeKind.OTHER_SUBSTANCE,
                )  # fmt: skip

    def _changed_trees(self, link: _Link) -> Iterator[Mistake]:
        assert link.tree is not None
        values = dict(self.right)
        for tree, kind, words in _changes(link.tree):
            value = self._valued(link, values, tree)
            if value is None:
                continue
            yield Mistake(value, words, kind)
            if link.scale != 1 and kind in (MistakeKind.MULTIPLIED, MistakeKind.INVERTED):
                # the units turned round with it, or were left as they were read
                for times in (1, 2):
                    yield Mistake(value / link.scale**times, words, kind)
        for name in sorted(_names(link.tree)):
            yield from self._other_values(link, name)

    def _other_values(self, link: _Link, name: str) -> Iterator[Mistake]:
        """Yield what another value in the place of one name makes of a step."""
        found: list[tuple[float, MistakeKind, str]] = []
        if name in self.read:
            unit = self.roles[name].unit
            for other in self.read:
                if other != name and self.roles[other].unit == unit:
                    words = f"This comes of “{other}” in the place of “{name}”."
                    found.append((self.readings[other], MistakeKind.OTHER_READING, words))
            for trial, readings in self.others.items():
                if name in readings and name not in self.experiment.shared_readings:
                    words = f"This comes of “{name}” of trial {trial}."
                    found.append((readings[name], MistakeKind.OTHER_TRIAL, words))
            for text in _turned(self.read[name].text):
                words = f"This comes of {text} in the place of {self.read[name].text.strip()}: "
                words += f"two digits of “{name}” stand in each other's place."
                found.append((float(text), MistakeKind.SWAPPED_DIGITS, words))
            for factor in (10.0, 0.1):
                words = f"The decimal mark of “{name}” slipped by one place."
                found.append((factor * self.readings[name], MistakeKind.DECIMAL, words))
        else:
            units = {one.symbol: one.line.unit for one in self.links}
            for other, unit in units.items():
                both = other in _names(link.tree or Leaf("", True))
                if other in (REQUIRED, FOUND_OF_REQUIRED):
                    continue  # asked for later
                if other != name and unit and unit == units.get(name) and not both:
                    words = f"This comes of {other} in the place of {name}."
                    found.append((self.right[other], MistakeKind.OTHER_SUBSTANCE, words))
        for value, kind, words in found:
            changed = {**self.right, **self.readings, name: value}
            try:
                assert link.tree is not None
                yield Mistake(valued(link.tree, changed) * link.scale, words, kind)
            except (NotKnown, ZeroDivisionError):
                continue

    def _elsewhere(self, at: int) -> Iterator[tuple[int, Mistake]]:
        """Yield the values of other steps, which answer another question."""
        target = self.links[at]
        for i, link in enumerate(self.links):
            if i == at or _same(link.line.value, target.line.value):
                continue
            if link.line.unit == target.line.unit == "g/mol":
                continue  # told as another substance
            used = f"n({self.experiment.consumed.species})"
            if (target.symbol, link.symbol, target.line.unit) == (REQUIRED, used, "mol"):
                continue  # told as the coefficients left out
            name = _name_of(link)
            unit = f" in {target.line.unit}" if target.line.unit else ""
            words = f"This is the {name}; the question is for the {_name_of(target)}{unit}."
            near = 0 if i < at else 30
            rank = _RANK[MistakeKind.OTHER_STEP] + near
            yield rank, Mistake(link.line.value, words, MistakeKind.OTHER_STEP)

    def _early(self, at: int) -> Iterator[Mistake]:
        """Yield what rounding the steps before makes of a step."""
        target = self.links[at]
        steps = [
            (i, link)
            for i, link in enumerate(self.links[:at])
            if link.tree is not None
            and not link.line.exact
            and link.line.formula not in self.readings
        ]
        if target.tree is None:
            for places in (0, 1):
                value = _to_places(target.line.value, places)
                words = f"Rounded to {value:g} already; keep the decimals of the table."
                yield Mistake(value, words, MistakeKind.EARLY)
            return
        words = (
            "It was rounded on the way: carry two figures more than the readings give from step to "
            "step, and round at the end."
        )
        for how in (*(("figures", n) for n in (1, 2)), *(("decimals", n) for n in (2, 3, 4))):
            chosen = [[pair] for pair in steps] + ([steps] if len(steps) > 1 else [])
            for some in chosen:
                rounding = {link.symbol: how for _, link in some}
                found = self._with_rounding(at, rounding)
                if found is not None and not _same(found, target.line.value):
                    yield Mistake(found, words, MistakeKind.EARLY)

    def _with_rounding(self, at: int, places: Mapping[str, tuple[str, int]]) -> float | None:
        """Return what a step becomes when some steps before are rounded."""
        values = dict(self.right)
        for link in self.links[: at + 1]:
            value = link.line.value if link.tree is None else self._valued(link, values)
            if value is None:
                return None
            if link.symbol in places and link.symbol != self.links[at].symbol:
                value = _rounded(value, *places[link.symbol])
            values[link.symbol] = value
        return values[self.links[at].symbol]


def best(ranked: Iterable[tuple[int, Mistake]], value: float, half: float) -> tuple[Mistake, ...]:
    """Return the mistakes that give a number typed to ± ``half``, the likeliest first.

    >>> one = Mistake(2.0, "Twice.", MistakeKind.TWICE)
    >>> [len(best([(20, one)], typed, 0.05)) for typed in (2.0, 2.04, 2.2)]
    [1, 1, 0]
    """
    close = []
    for rank, one in ranked:
        off, size = abs(value - one.value), abs(one.value)
        tight = off <= min(half, _WIDEST * size) + 1e-9 * size
        if tight or off <= _LOOSE * size:
            close.append((not tight, rank, off, one))
    close.sort(key=lambda entry: entry[:3])
    if not close:
        return ()
    loose, rank, _, first = close[0]
    for other in close[1:]:
        if other[0] == loose and other[1] - rank <= _ALIKE and other[3].kind != first.kind:
            return first, other[3]
    return (first,)


def told(found: Sequence[Mistake]) -> str:
    """Say what gives a number, and what else may.

    >>> told([Mistake(2.0, "Twice it is."), Mistake(2.0, "The prefix is wrong.")])
    'Twice it is. Or: the prefix is wrong.'
    """
    first, *others = (one.words for one in found)
    return " ".join([first, *(f"Or: {_lowered(words)}" for words in others)])


def _values(experiment: Experiment, trial: Trial) -> dict[str, float]:
    try:
        values = experiment.quantities(trial, ErrorPool())
    except StoichkitError:
        return {}
    return {name: nominal(value) for name, value in values.items()}


def _names(tree: Tree) -> set[str]:
    """Return the names in a tree."""
    if isinstance(tree, Leaf):
        return set() if tree.is_number or tree.text in CONSTANTS else {tree.text}
    return _names(tree.left) | _names(tree.right)


def _said(tree: Tree) -> str:
    """Write a part of a formula."""
    if isinstance(tree, Leaf):
        plain = tree.is_number or tree.text.endswith(")") or len(tree.text) <= 2
        return tree.text if plain or tree.text in CONSTANTS else f"“{tree.text}”"
    return f"({_said(tree.left)} {tree.sign} {_said(tree.right)})"


def _changes(tree: Tree) -> Iterator[tuple[Tree, MistakeKind, str]]:
    """Yield trees with one mistake in them."""
    if isinstance(tree, Leaf):
        return
    left, right, sign = tree.left, tree.right, tree.sign
    a, b = _said(left), _said(right)
    if sign == "−":
        yield Node("−", right, left), MistakeKind.SIGN, f"It is {a} minus {b}, not the other way."
        yield Node("+", left, right), MistakeKind.ADDED, f"{a} and {b} were added: subtract them."
        yield left, MistakeKind.TARE, f"This comes of {a} itself: {b} was not subtracted."
        yield right, MistakeKind.TARE, f"This comes of {b} itself: it is to be subtracted from {a}."
    elif sign == "+":
        yield Node("−", left, right), MistakeKind.ADDED, f"{b} was subtracted: add it."
        yield left, MistakeKind.LEFT_OUT, f"{b} was left out."
    elif sign == "×":
        words = f"You divided by {b}; it is a factor."
        yield Node("/", left, right), MistakeKind.MULTIPLIED, words
        yield Node("/", right, left), MistakeKind.MULTIPLIED, f"You divided by {a}; it is a factor."
        yield left, MistakeKind.LEFT_OUT, f"{b} was left out."
        yield right, MistakeKind.LEFT_OUT, f"{a} was left out."
    else:
        words = f"You multiplied; it is {a} divided by {b}."
        yield Node("×", left, right), MistakeKind.MULTIPLIED, words
        words = f"This is upside down: it is {a} divided by {b}."
        yield Node("/", right, left), MistakeKind.INVERTED, words
        yield left, MistakeKind.LEFT_OUT, f"It was not divided by {b}."
    for one, kind, words in _changes(left):
        yield Node(sign, one, right), kind, words
    for one, kind, words in _changes(right):
        yield Node(sign, left, one), kind, words


def _slipped(line: AnswerLine) -> Iterator[Mistake]:
    """Yield slips that have nothing to do with the formula."""
    for power in (1, -1, 2, -2):
        places = "one place" if abs(power) == 1 else "two places"
        words = f"The decimal mark slipped by {places}; the digits are right."
        if line.unit == "%" and power == -2:
            continue  # the fraction
        yield Mistake(line.value * 10.0**power, words, MistakeKind.DECIMAL)
    words = "This is {} what it should be. {}"
    why = "Coefficients of an equation belong to what a candidate requires, not to a value read."
    if line.unit not in ("K", "g/mol"):
        yield Mistake(2 * line.value, words.format("twice", why), MistakeKind.TWICE)
        yield Mistake(line.value / 2, words.format("half", why), MistakeKind.TWICE)
    if line.exact and line.value:
        place = line.digits - 1 - math.floor(math.log10(abs(float(f"{line.value:.12g}"))))
        again = "A difference of two readings is exact: subtract again."
        for steps in (1, -1, 2, -2):
            value = line.value + steps * 10.0**-place
            off = "one" if abs(steps) == 1 else "two"
            yield Mistake(value, f"The last digit is off by {off}. {again}", MistakeKind.LAST_DIGIT)
        for power in range(-place + 1, 2):
            for way in (1, -1):
                value = line.value + way * 10.0**power
                words = f"One digit is off by one, as after a borrow that was missed. {again}"
                yield Mistake(value, words, MistakeKind.LAST_DIGIT)


def _table_mistakes(species: str, value: float) -> Iterator[Mistake]:
    """Yield what other entries of the table make of a molar mass."""
    try:
        counts = parse_formula(species).composition
    except FormulaError:
        return
    numbers = sum((SYMBOLS.index(s) + 1) * n for s, n in counts if s in KNOWN)
    words = "This is the atomic number, which counts protons; the atomic weight stands beside it."
    yield Mistake(float(numbers), words, MistakeKind.ATOMIC_NUMBER)
    if any(n > 1 for _, n in counts) or len(counts) > 1:
        words = "This is half of it: count the atoms of the formula again."
        yield Mistake(value / 2, words, MistakeKind.TWICE)
    for symbol, n in counts:
        at = SYMBOLS.index(symbol)
        for other in (at - 1, at + 1):
            if not 0 <= other < len(SYMBOLS):
                continue
            try:
                weight = atomic_weight_value(SYMBOLS[other])
            except FormulaError:
                continue
            found = value + n * (weight - atomic_weight_value(symbol))
            words = (
                f"This comes of {element_name(SYMBOLS[other])} in the place of "
                f"{element_name(symbol)}, its neighbour in the table."
            )
            yield Mistake(found, words, MistakeKind.NEIGHBOUR)
    if len(counts) == 2 and dict(counts) == {"H": 2, "O": 1}:
        words = "This is OH, with one hydrogen; water has two."
        yield Mistake(molar_mass_value("OH"), words, MistakeKind.SUBSCRIPTS)
    for text in _turned(f"{value:.2f}"):
        words = "Two digits of the value in the table stand in each other's place."
        yield Mistake(float(text), words, MistakeKind.SWAPPED_DIGITS)


def _turned(text: str) -> Iterator[str]:
    """Yield a number as typed with two neighbouring digits in each other's place."""
    plain = text.strip().replace(",", ".").replace("−", "-")
    places = [i for i, letter in enumerate(plain) if letter.isdigit()]
    for i, j in pairwise(places):
        if plain[i] != plain[j]:
            letters = list(plain)
            letters[i], letters[j] = letters[j], letters[i]
            try:
                float("".join(letters))
            except ValueError:
                continue
            yield "".join(letters)


def _name_of(link: _Link) -> str:
    if link.line.unit in ("g", "mol", "g/mol") and "(" in link.symbol:
        kind = {"m": "mass", "n": "amount", "M": "molar mass"}.get(link.symbol[0], "")
        if kind:
            return f"{kind} of {species_text(link.symbol[2:-1])}"
    return link.line.words


def _lowered(words: str) -> str:
    first = words.split(" ", 1)[0]
    return words if len(first) > 1 and first.isupper() else words[:1].lower() + words[1:]


def _same(one: float, other: float) -> bool:
    return abs(one - other) <= 1e-9 * max(abs(one), abs(other))


def _to_places(value: float, places: int) -> float:
    exact = Decimal(f"{value:.12g}").quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)
    return float(exact)


def _rounded(value: float, how: str, count: int) -> float:
    """Round to so many figures or decimals; a value is never rounded to nothing."""
    if not value:
        return value
    size = math.floor(math.log10(abs(value)))
    found = _to_places(value, count if how == "decimals" else count - 1 - size)
    return found or value
