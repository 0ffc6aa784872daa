"""Slots of a sentence: how the text of one is read as people write it, and what may be suggested.

:mod:`stoichkit.experiments.own_ways` puts them together, :mod:`stoichkit.experiments.own` fills
them in.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any, TypeAlias

from .._common import nearest
from ..chemistry.candidates import (
    Candidate,
    check_candidates,
    from_equations,
    ion_of,
    oxidation_state,
)
from ..chemistry.elements import KNOWN, element_name, molar_mass_value, symbol_named
from ..chemistry.formula import parse_formula
from ..chemistry.oxidation import HIGHEST_CATION, NON_METALS, ROMAN
from ..chemistry.ratios import exact_ratio
from ..chemistry.usual import gas_named, state_in, usual_compounds, usual_states
from ..errors import ModelError
from ..measurement.base import AmountModel
from ..measurement.weighing import WEIGHINGS
from ..uncertainty.readings import parse_number
from .candidate_spec import CandidateSpec, candidate_in

Found: TypeAlias = Mapping[str, Any]
ARROW = re.compile("->|=>|→|⟶|⇌|⇄")
RATIO_LIKE = re.compile(r"[0-9 ]*[/:.,][0-9 ]+")
_MOST_ITEMS = 50
BESIDE = ", to compare with"


@dataclass(frozen=True, slots=True)
class Slot:
    """A gap in a sentence.

    Attributes
    ----------
    name : str
    label : str
        What it is, for a screen reader and for a question on a terminal.
    kind : str
        ``"choice"`` (one of the suggestions), ``"text"`` or ``"list"`` (several, with commas
        between; suggestions are items).
    default : str
        The text that stands in it at first.
    optional : bool
        Whether it may stay empty; what that means is said back.
    """

    name: str
    label: str
    kind: str = "text"
    default: str = ""
    optional: bool = False


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A text that a slot may take, and how it is shown."""

    text: str
    label: str


@dataclass(frozen=True, slots=True)
class Read:
    """What a text was read as: a value, the same in words (one for each item), and a remark."""

    value: Any
    said: tuple[str, ...]
    note: str = ""


@dataclass(frozen=True, slots=True)
class Rule:
    """How the text of one slot is read; ``needs`` are slots read before it."""

    slot: Slot
    read: Callable[[str, Found], Read]
    suggest: Callable[[Found], Sequence[Suggestion]]
    needs: tuple[str, ...] = ()
    blank: Callable[[Found], Read] | None = None


@dataclass(frozen=True, slots=True)
class Stated:
    """The two species and the candidates, as far as the sentence says them."""

    consumed: str
    produced: str
    spec: CandidateSpec


@dataclass(frozen=True, slots=True)
class Measured:
    """How both amounts are measured, in which order the readings are made, and those typed."""

    consumed: AmountModel
    produced: AmountModel
    order: tuple[str, ...]
    shared: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Recipe:
    """One way to say a lab; ``asks`` is the slot that holds the candidates."""

    key: str
    name: str
    template: str
    rules: tuple[Rule, ...]
    asks: str
    instruments: Mapping[str, Mapping[str, Any]]
    title: Callable[[Found], str]
    stated: Callable[[Found], Stated]
    measured: Callable[[Found], Measured]


# -- texts as people write them ---------------------------------------------------------------


def items_of(text: str) -> list[str]:
    """Split a list as it is typed: at commas, “or” and “and”, or at semicolons where there are any.

    >>> items_of("Fe2+, Fe3+ or iron(IV)"), items_of("1,5; 2")
    (['Fe2+', 'Fe3+', 'iron(IV)'], ['1,5', '2'])
    """
    marks = r"[;\n]" if ";" in text or "\n" in text else r",|\s+(?:or|and)\s+"
    return [item for part in re.split(marks, text) if (item := part.strip())]


def each(text: str, read: Callable[[str], tuple[Any, str]]) -> Read:
    """Read a list item by item; an item that cannot be read is named."""
    items = items_of(text)
    if len(items) > _MOST_ITEMS:
        raise ModelError(
            "The list is too long.", given=len(items), allowed=f"up to {_MOST_ITEMS} items"
        )
    found: dict[Any, str] = {}
    for item in items:
        value, said = read(item)
        found.setdefault(value, said)
    return Read(tuple(found), tuple(found.values()))


def _choice(text: str, known: Mapping[str, str]) -> Read:
    words = {words.casefold(): key for key, words in known.items()}
    typed = text.strip().casefold()
    key = typed if typed in known else words.get(typed)
    if key is None:
        allowed = "; ".join(known.values())
        raise ModelError(
            "This is none of the choices.",
            given=text,
            allowed=allowed,
            fix=nearest(typed, [*known, *words]),
        )
    return Read(key, (known[key],))


def choice(name: str, label: str, known: Mapping[str, str]) -> Rule:
    """Return the rule of a slot that takes one of several; the first is the default."""
    suggestions = tuple(Suggestion(key, words) for key, words in known.items())
    return Rule(
        Slot(name, label, "choice", suggestions[0].text),
        lambda text, _found: _choice(text, known),
        lambda _found: suggestions,
    )


def number(
    name: str,
    label: str,
    unit: str,
    *,
    blank: str = "",
    least: float = 0.0,
    above_zero: bool = False,
) -> Rule:
    """Return the rule of a slot that takes a number; its unit may be typed behind it.

    ``blank`` says what an empty slot means; without it the slot must be filled in.
    """

    def read(text: str, _found: Found) -> Read:
        plain = re.sub(rf"\s*{re.escape(unit)}$", "", text.strip(), flags=re.IGNORECASE)
        value = parse_number(plain, label).value
        if value < least or (above_zero and value == 0):
            allowed = f"above 0 {unit}" if above_zero else f"{least:g} {unit} or more"
            raise ModelError(f"The {label} is too small.", given=text, allowed=allowed)
        return Read(plain, (f"{plain} {unit}",))

    return Rule(
        Slot(name, label, "text", optional=bool(blank)),
        read,
        nothing,
        blank=(lambda _found: Read(None, (blank,))) if blank else None,
    )


def _element(text: str) -> str | None:
    """Return the symbol of an element typed by symbol or name, in capitals or not."""
    plain = text.strip()
    word = plain.capitalize()
    return symbol_named(plain) or (plain if plain in KNOWN else word if word in KNOWN else None)


def read_metal(text: str, _found: Found) -> Read:
    """Read a metal typed by symbol or English name.

    >>> read_metal("Iron", {}).value, read_metal("cu", {}).said
    ('Fe', ('copper (Cu)',))
    """
    symbol = _element(text)
    if symbol is None or symbol in NON_METALS:
        raise ModelError(
            "This is not a metal.",
            given=text,
            allowed="the symbol or English name of a metal, such as Fe or iron",
        )
    molar_mass_value(symbol)  # refuses what has no standard atomic weight
    return Read(symbol, (f"{element_name(symbol)} ({symbol})",))


def read_formula(text: str, _found: Found) -> Read:
    """Read a formula, or the English name of an element.

    >>> read_formula("CuSO4.5H2O", {}).said
    ('CuSO₄·5H₂O, 249.68 g/mol',)
    """
    symbol = symbol_named(text.strip())
    parsed = parse_formula(symbol or text)
    shown = f"{parsed.unicode()}, {molar_mass_value(parsed):.2f} g/mol"
    note = "“.” read as the dot of a hydrate" if "." in text else ""
    return Read(parsed.plain(), (shown,), note)


def read_gas(text: str, found: Found) -> Read:
    """Read a gas typed by formula or usual name.

    >>> read_gas("hydrogen", {}).value
    'H2'
    """
    return read_formula(gas_named(text), found)


def shown_ion(metal: str, state: int) -> str:
    """Write an ion of a metal: ``"Fe²⁺"``; by its oxidation number where no simple ion exists.

    >>> shown_ion("Fe", 2), shown_ion("Mn", 7)
    ('Fe²⁺', 'manganese(VII)')
    """
    if state > HIGHEST_CATION:
        return f"{element_name(metal)}({ROMAN[state - 1]})"
    return parse_formula(ion_of(metal, state)).unicode()


def named_state(metal: str, state: int) -> str:
    """Name a state of a metal in full.

    >>> named_state("Fe", 3)
    'iron(III), Fe³⁺'
    """
    name = f"{element_name(metal)}({ROMAN[state - 1]})"
    return name if state > HIGHEST_CATION else f"{name}, {shown_ion(metal, state)}"


def _usual_states(metal: str) -> tuple[int, ...]:
    """Return the usual states of a metal; beside a single one its neighbours, to compare with."""
    usual = usual_states().get(metal, ())
    if len(usual) > 1:
        return usual
    (one,) = usual or (2,)
    return tuple(s for s in (one - 1, one, one + 1) if 1 <= s <= HIGHEST_CATION)


def state_suggestions(metal: str) -> tuple[Suggestion, ...]:
    """Return the oxidation states to choose from, the usual ones first.

    >>> [one.label for one in state_suggestions("Zn")][:2]
    ['zinc(I), Zn⁺, to compare with', 'zinc(II), Zn²⁺']
    """
    usual = usual_states().get(metal, ())
    states = {*_usual_states(metal), 1, 2, 3, 4}
    return tuple(
        Suggestion(
            f"{metal}^{s}+",
            f"{named_state(metal, s)}{'' if s in usual else BESIDE}",
        )
        for s in sorted(states, key=lambda s: (s not in _usual_states(metal), s))
    )


def read_state(
    item: str,
    metal: str,
    species: tuple[str, str],
    state_of: Callable[[Fraction], Fraction],
) -> tuple[int, str]:
    """Read an oxidation state, or the mole ratio or equation that it leads to."""
    if ARROW.search(item):
        ratio = from_equations([item], consumed=species[0], produced=species[1])[0].ratio
    elif RATIO_LIKE.fullmatch(item):
        ratio = exact_ratio(item)
    else:
        salt = state_in(metal, item)
        state = oxidation_state(metal, item) if salt is None else salt
        return state, named_state(metal, state)
    found = state_of(ratio)
    if found.denominator != 1 or not 1 <= found <= len(ROMAN):
        raise ModelError(
            "This mole ratio is that of no whole oxidation state.",
            given=item,
            allowed="a ratio that belongs to a state from 1 to 9",
            fix=f"It would be a state of {found}.",
        )
    said = f"{named_state(metal, int(found))}, from n({species[1]})/n({species[0]}) = {ratio}"
    return int(found), said


def blank_states(metal: str) -> Read:
    """Return the states that are taken where none is typed.

    >>> blank_states("Cu").value
    (1, 2)
    """
    states = _usual_states(metal)
    said = tuple(named_state(metal, s) for s in states)
    return Read(states, said, "left empty: the usual ones, and their neighbours to compare with")


def weighed_by(name: str, label: str, *keys: str) -> Rule:
    """Return the rule of a slot for how something was weighed."""
    return choice(name, label, {key: WEIGHINGS[key].words for key in keys})


VIOLENT = ("Li", "Na", "K", "Ca", "Ba", "Ce", "Hg")
"""Metals that are not suggested: they react with water, or are too poisonous to handle."""


def metals(found: Found) -> tuple[Suggestion, ...]:
    """Return the metals to choose from, without one that the sentence names already."""
    other = found.get("metal")
    return tuple(
        Suggestion(metal, f"{metal}, {element_name(metal)}")
        for metal in usual_states()
        if metal not in VIOLENT and metal != other
    )


def formulas(*kinds: str) -> Callable[[Found], tuple[Suggestion, ...]]:
    """Return what suggests the formulas that tables of usual compounds are about."""

    def suggest(_found: Found) -> tuple[Suggestion, ...]:
        return tuple(
            Suggestion(one, ", ".join((parse_formula(one).unicode(), *names)))
            for kind in kinds
            for one, formulas in usual_compounds(kind).items()
            for names in (formulas if kind == "gas" else (),)
        )

    return suggest


def nothing(_found: Found) -> tuple[Suggestion, ...]:
    """Return no suggestions."""
    return ()


def suggested(*formulas: str) -> Callable[[Found], tuple[Suggestion, ...]]:
    """Return what suggests these formulas, whatever else the sentence says."""
    found = tuple(Suggestion(one, parse_formula(one).unicode()) for one in formulas)
    return lambda _found: found


def substance(name: str, label: str, suggest: Callable[[Found], Sequence[Suggestion]]) -> Rule:
    """Return the rule of a slot that takes a formula."""
    return Rule(Slot(name, label), read_formula, suggest)


CONSUMED = ("before and after", "alone", "in a dish", "by difference")
PRODUCED = ("on paper", "in a dish", "alone")


def read_general(text: str, consumed: str, produced: str) -> Read:
    """Read candidates as ratios, equations or formulas, with names or without."""

    def one(item: str) -> tuple[Candidate, str]:
        made = candidate_in(item, consumed, produced, consumed, produced)
        if made.name == f"ratio {item}":
            name = f"{made.ratio} {produced} per {consumed}"
            return replace(made, name=name), name
        said = f"{made.name}: {made.equation}" if made.equation else made.name
        return made, f"{said}, n({produced})/n({consumed}) = {made.ratio}"

    read = each(text, one)
    check_candidates(read.value)
    return read


def spec_of(candidates: Sequence[Candidate]) -> CandidateSpec:
    """Return how candidates are written down: as equations, if each has one."""
    if all(one.equation for one in candidates):
        return CandidateSpec("equations", {one.name: one.equation for one in candidates})
    return CandidateSpec.of(candidates)


def ratio_suggestions(
    found: Found, species: tuple[str, str], *ratios: str
) -> tuple[Suggestion, ...]:
    """Return mole ratios to choose from, once both species are known."""
    consumed, produced = (str(found.get(slot, "")) for slot in species)
    if not consumed or not produced:
        return ()
    return tuple(Suggestion(ratio, f"{ratio} {produced} per {consumed}") for ratio in ratios)


def general_rule(consumed: str, produced: str, *usual: str) -> Rule:
    """Return the rule of a slot for candidates of any kind between the species of two slots."""
    species = (consumed, produced)
    return Rule(
        Slot("candidates", "what may be true: mole ratios, equations or formulas", "list"),
        lambda text, found: read_general(text, found[consumed], found[produced]),
        lambda found: ratio_suggestions(found, species, *usual),
        species,
    )


def title_of(words: str, found: Found) -> str:
    """Fill the formulas of slots into words."""
    shown = {slot: v for slot, v in found.items() if isinstance(v, str) and f"{{{slot}}}" in words}
    return words.format(**{slot: parse_formula(v).unicode() for slot, v in shown.items()})
