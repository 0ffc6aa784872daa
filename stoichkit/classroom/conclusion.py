"""What a typed conclusion says: which candidates it names, and that it singles out, or cannot."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from ..chemistry.elements import symbol_named
from ..chemistry.oxidation import from_roman
from ..decision.verdict import VerdictKind

_LONGEST = 2000
_CANNOT_TELL = re.compile(
    r"(cannot|can't|can not|could not|couldn't|unable|not possible|impossible)\b.{0,40}?"
    r"(tell|told|distinguish|decide|separate|say|know|choose|differentiate)"
    r"|not told apart|undecided|indistinguishable|\beither\b|\bor\b|both (fit|agree|are possible)"
)
_NONE = re.compile(
    r"\bnone\b|\bneither\b|no candidate|not any|nothing fits|fits? nothing|does not fit any"
)
_UNJUDGED = re.compile(r"cannot be judged|can't be judged|not judged|below zero|no conclusion")
_NOTHING = re.compile(r"nothing (has )?reacted|no reaction|not show that anything reacted")
_NEAREST = re.compile(r"nearest|closest|most likely|likeliest|more likely|best|probably|maybe")
_FIRMLY = re.compile(r"single|only|exclu|ruled out|must be|is told from")
_OUT = re.compile(r"exclu|ruled? out|reject|\bnot\b|isn't|isnt|does(n't| not) fit|cannot be\b")
_KEPT = re.compile(
    r"(cannot|can't|can not|could not|\bnot) (be )?(excluded?|ruled? out|reject(ed)?)"
)
_CLAUSE = re.compile(r"[;,.:]|\bbut\b|\bso\b|\bwhile\b|\band\b(?![^,;]*\b(?:are|were)\b)")
_HEADING = re.compile(r"\b(excluded|ruled out|rejected)\s*:")
"""What follows is excluded: its colon ends no clause."""
_ROMAN = re.compile(r"(?P<name>[A-Za-z]+)\((?P<number>[IVX]+)\)")


@dataclass(frozen=True, slots=True)
class Conclusion:
    """What a typed conclusion says.

    Attributes
    ----------
    kind : VerdictKind or None
        None where it cannot be made out.
    names : frozenset of str
        Candidates that it leaves; empty where it names none.
    nearest : bool
        Whether it only says which candidate is nearest or likeliest.
    nothing_reacted : bool
    """

    kind: VerdictKind | None
    names: frozenset[str] = frozenset()
    nearest: bool = False
    nothing_reacted: bool = False


def read_conclusion(text: str, candidates: Sequence[str]) -> Conclusion:
    """Make out what a typed conclusion says.

    Parameters
    ----------
    text : str
        Such as "single out iron(II)", "cannot tell iron(II) from iron(III)" or "fit none"; only
        the name of a candidate counts as singled out.
    candidates : sequence of str
        Names of all candidates.

    Examples
    --------
    >>> names = ["copper(I)", "copper(II)"]
    >>> for typed in ("copper (II)", "Cannot tell copper(I) from Cu2+", "it fits none", "hm"):
    ...     found = read_conclusion(typed, names)
    ...     print(found.kind, sorted(found.names))
    singled_out ['copper(II)']
    not_told_apart ['copper(I)', 'copper(II)']
    none_fits []
    None []
    >>> read_conclusion("The nearest is copper(II)", names).nearest
    True
    """
    plain = _plain(text)
    plain, named = _with_names(plain, candidates)
    if _NOTHING.search(plain):
        return Conclusion(VerdictKind.NOT_TOLD_APART, frozenset(named), nothing_reacted=True)
    if _UNJUDGED.search(plain):
        return Conclusion(VerdictKind.CANNOT_BE_JUDGED)
    if _CANNOT_TELL.search(plain) and len(named) != 1:
        return Conclusion(VerdictKind.NOT_TOLD_APART, frozenset(named))
    if _NONE.search(plain):
        return Conclusion(VerdictKind.NONE_FITS)
    left = [name for name in named if name not in _ruled_out(plain, candidates)]
    if len(left) == 1:
        near = bool(_NEAREST.search(plain)) and not _FIRMLY.search(plain)
        return Conclusion(VerdictKind.SINGLED_OUT, frozenset(left), nearest=near)
    if len(left) > 1:
        return Conclusion(VerdictKind.NOT_TOLD_APART, frozenset(left))
    if named:  # all that are named are excluded
        rest = frozenset(candidates) - frozenset(named)
        kind = VerdictKind.NONE_FITS if not rest else None
        if len(rest) == 1:
            kind = VerdictKind.SINGLED_OUT
        return Conclusion(kind, rest if kind is VerdictKind.SINGLED_OUT else frozenset())
    return Conclusion(None)


def _plain(text: str) -> str:
    """Return text in one way of writing: capitals, raised and lowered figures, spaces, dots."""
    plain = unicodedata.normalize("NFKC", text[:_LONGEST]).casefold()
    plain = plain.replace("’", "'").replace("⋅", "·").replace("∙", "·").replace("*", "·")
    plain = re.sub(r"\s+", " ", plain).strip()
    plain = _KEPT.sub("kept", plain)
    return re.sub(r"(?<=[a-z]) (?=\([ivx]+\))", "", plain)


def _written(name: str) -> Iterator[str]:
    """Yield the ways in which a candidate may be written."""
    yield _plain(name)
    if match := _ROMAN.fullmatch(name):
        roman = match["number"].casefold()
        element, number = match["name"], from_roman(match["number"])
        yield f"{element.casefold()} {roman}"
        if number:
            yield f"{element.casefold()}({number})"
            yield f"{element.casefold()} {number}"
            if symbol := symbol_named(element):
                charge = "" if number == 1 else str(number)
                yield from (f"{symbol}{c}+".casefold() for c in {charge, str(number)})
                yield f"{symbol}^{charge}+".casefold()
                yield f"{symbol}({roman})".casefold()


def _with_names(plain: str, candidates: Sequence[str]) -> tuple[str, list[str]]:
    """Put a mark in the place of each candidate, the longest first; return those found."""
    ways = [(way, place) for place, name in enumerate(candidates) for way in _written(name)]
    found: set[int] = set()
    for way, place in sorted(ways, key=lambda pair: -len(pair[0])):
        pattern = rf"(?<![\w·]){re.escape(way)}(?![\w·])"
        plain, count = re.subn(pattern, f"<{place}>", plain)
        if count:
            found.add(place)
    return plain, [candidates[place] for place in sorted(found)]


def _ruled_out(plain: str, candidates: Sequence[str]) -> set[str]:
    """Return the candidates of clauses that rule them out."""
    out: set[str] = set()
    for clause in _CLAUSE.split(_HEADING.sub(r"\1", plain)):
        where = _OUT.search(clause)
        if where is not None:
            for match in re.finditer(r"<(\d+)>", clause):
                # "copper(II), not copper(I)": what stands before "not" is kept
                if where[0] != "not" or match.start() > where.start() or "fit" in clause:
                    out.add(candidates[int(match[1])])
    return out
