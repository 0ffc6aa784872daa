"""What somebody has worked through in self-study: one record, read back strictly, summed up."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from ..decision.typed import MistakeKind as Kind
from ..errors import ModelError, StoichkitError
from ..experiments.practice_labs import KINDS, LEVELS, PracticeLab, checked_id, new_id, practice
from ..text.document import Document
from ..text.parts import Bullets, Section, Table
from ..uncertainty import entry

_FORMAT, _VERSION = "stoichkit progress", 1
_MOST_BYTES = 1_000_000
_MOST_LABS = 2000
_COUNTS = ("questions", "answered", "hints")
CONCLUSION, PREDICTION = "the conclusion", "the prediction"
"""What can be missed beside a number."""
UNKNOWN = "a number without a known reason"
_TOPICS: dict[str, tuple[str, ...]] = {
    "masses by difference": (
        Kind.SIGN, Kind.ADDED, Kind.TARE, Kind.OTHER_READING, Kind.OTHER_TRIAL,
        Kind.SWAPPED_DIGITS, Kind.LAST_DIGIT,
    ),
    "molar masses": (
        Kind.ATOMIC_NUMBER, Kind.NEIGHBOUR, Kind.TWO_ATOMS, Kind.SUBSCRIPTS, Kind.WATER,
        Kind.OTHER_SUBSTANCE,
    ),
    "from masses to the mole ratio": (
        Kind.MULTIPLIED, Kind.INVERTED, Kind.LEFT_OUT, Kind.MASSES, Kind.TWICE, Kind.OTHER_STEP,
        Kind.CARRIED,
    ),
    "what a candidate requires": (
        Kind.CANDIDATE, Kind.COEFFICIENT, Kind.FRACTION, Kind.MISSING,
    ),
    "figures and units": (Kind.DECIMAL, Kind.PREFIX, Kind.EARLY, Kind.CELSIUS),
    "what readings can tell": (CONCLUSION, PREDICTION),
}  # fmt: skip
_SCENES = {
    "masses by difference": "oxide",
    "molar masses": "hydrate",
    "from masses to the mole ratio": "displaced",
    "what a candidate requires": "displaced",
    "figures and units": "gas",
}
"""The labs in which a topic is met most."""
_TRIES = 40


@dataclass(frozen=True, slots=True)
class LabDone:
    """What became of one lab.

    Attributes
    ----------
    lab : str
        Id of a practice lab, or title of another.
    level : int
        1 to 5; 0 for a lab without a level.
    questions, answered, hints : int
    missed : tuple of (str, int)
        Kinds of what was answered wrongly, and how often, in alphabetical order.
    predicted : str
        "" while nothing was predicted, then "right" or "wrong".
    """

    lab: str
    level: int = 0
    questions: int = 0
    answered: int = 0
    hints: int = 0
    missed: tuple[tuple[str, int], ...] = ()
    predicted: str = ""

    @property
    def misses(self) -> int:
        """How often something was answered wrongly."""
        return sum(count for _, count in self.missed)

    @property
    def finished(self) -> bool:
        """Whether all questions were answered."""
        return 0 < self.questions <= self.answered

    def with_missed(self, kind: str) -> LabDone:
        """Return it with one more wrong answer.

        >>> LabDone("86CAU28", 2).with_missed("upside down").missed
        (('upside down', 1),)
        """
        counts = Counter(dict(self.missed))
        counts[str(kind)] += 1
        return replace(self, missed=tuple(sorted(counts.items())))


@dataclass(frozen=True, slots=True)
class Progress:
    """All labs somebody has worked through, the last one last.

    >>> done = LabDone("86CAU28", 2, questions=15, answered=15)
    >>> Progress().with_lab(done).level
    3
    >>> Progress.from_json(Progress().with_lab(done).to_json()) == Progress().with_lab(done)
    True
    """

    labs: tuple[LabDone, ...] = ()

    def find(self, lab: str) -> LabDone | None:
        """Return what became of a lab; None if it was not begun."""
        return next((one for one in self.labs if one.lab == lab), None)

    def with_lab(self, done: LabDone) -> Progress:
        """Return the record with a lab put last, in the place of what it held of it."""
        others = tuple(one for one in self.labs if one.lab != done.lab)
        return Progress((*others, done)[-_MOST_LABS:])

    @property
    def level(self) -> int:
        """The level of the next lab: higher after one with hardly a miss, lower after many."""
        level = LEVELS[0]
        for one in self.labs:
            if one.level and one.finished:
                level = one.level
                if one.misses + one.hints <= 1:
                    level += 1
                elif one.misses + one.hints > one.questions // 2:
                    level -= 1
        return min(max(level, LEVELS[0]), LEVELS[-1])

    @property
    def topics(self) -> dict[str, int]:
        """How often something was missed, by topic, most first, in the last five labs."""
        counts: Counter[str] = Counter()
        for one in self.labs[-5:]:
            for kind, count in one.missed:
                for topic, kinds in _TOPICS.items():
                    if kind in kinds:
                        counts[topic] += count
        return dict(counts.most_common())

    def next_lab(self, number: int, kind: str = "") -> PracticeLab:
        """Return a lab of the level reached, of the kind in which most was missed.

        Parameters
        ----------
        number : int
            Whole number from 0; others give other labs.
        kind : str
            One of the kinds of :func:`.practice`; "" for any. Who begins gets a weighed lab.

        Examples
        --------
        >>> Progress().next_lab(7).level
        1
        """
        number = entry.whole("number", number, least=0)
        wanted = next((_SCENES[topic] for topic in self.topics if topic in _SCENES), "")
        kinds = (kind,) if kind else KINDS if self.labs else KINDS[:1]
        if wanted and not kind:
            kinds = (wanted,) if wanted in KINDS else KINDS[:1]
        first = None
        for more in range(_TRIES):
            at = kinds[(number + more) % len(kinds)]
            lab = practice(new_id(self.level, number + more, at))
            if self.find(lab.id) is not None:
                continue
            first = first or lab
            if not wanted or lab.scene == wanted:
                return lab
        return first or practice(new_id(self.level, number, kinds[0]))

    def summary(self) -> Document:
        """Return what was worked through and what is worth another look.

        >>> print(Progress().with_lab(LabDone("86CAU28", 2, 15, 15)).summary().text()[:23])
        What was worked through
        """
        done = sum(one.finished for one in self.labs)
        labs = f"{done} lab{'' if done == 1 else 's'} worked through to the end"
        begun = len(self.labs) - done
        opening = [f"{labs}{f', {begun} begun' if begun else ''}. Next level: {self.level} of 5."]
        told = [one for one in self.labs if one.predicted]
        if told:
            right = sum(one.predicted == "right" for one in told)
            opening.append(f"{right} of {len(told)} predictions of the balance were right.")
        rows = tuple(
            (
                one.lab, str(one.level or "–"), f"{one.answered} of {one.questions}",
                str(one.misses), str(one.hints),
            )
            for one in self.labs[-12:]
        )  # fmt: skip
        parts: list[Any] = []
        if rows:
            parts.append(Table(("Lab", "Level", "Answered", "Missed", "Hints"), rows))
        if topics := self.topics:
            parts.append("Missed in the last labs, most often first:")
            parts.append(Bullets(tuple(
                f"{topic}: {count} time{'' if count == 1 else 's'}"
                for topic, count in topics.items()
            )))  # fmt: skip
        elif rows:
            parts.append("Nothing was missed in the last labs.")
        return Document(
            "What was worked through",
            tuple(opening),
            (Section("Labs", tuple(parts)),) if parts else (),
        )

    # In and out

    def to_json(self) -> str:
        """Return the record as JSON."""
        labs = [
            {
                "lab": one.lab, "level": one.level, "questions": one.questions,
                "answered": one.answered, "hints": one.hints, "missed": dict(one.missed),
                "predicted": one.predicted,
            }
            for one in self.labs
        ]  # fmt: skip
        whole = {"format": _FORMAT, "version": _VERSION, "labs": labs}
        return json.dumps(whole, ensure_ascii=False, indent=1) + "\n"

    @staticmethod
    def from_json(text: str) -> Progress:
        """Read a record; what is not as it was written is refused as a whole.

        Raises
        ------
        ModelError
            If it is no such record, or a field is missing, unknown or of the wrong sort.

        Examples
        --------
        >>> Progress.from_json('{"format": "something else"}')
        Traceback (most recent call last):
        stoichkit.errors.ModelError: This is no record of progress...
        """
        entry.text("text", text)
        if len(text) > _MOST_BYTES:
            raise ModelError("The record is too long.", given=f"{len(text)} characters")
        try:
            found = json.loads(text, object_pairs_hook=_pairs, parse_constant=_no_constant)
        except (ValueError, RecursionError):
            found = None
        if not isinstance(found, dict) or found.get("format") != _FORMAT:
            raise ModelError(
                "This is no record of progress.", fix="Choose the JSON file that was saved here."
            )
        _only(found, ("format", "version", "labs"), "the record")
        if found["version"] != _VERSION or isinstance(found["version"], bool):
            raise ModelError(
                "This version of the record is not known.", given=str(found["version"]),
                allowed=str(_VERSION),
            )  # fmt: skip
        labs = found["labs"]
        if not isinstance(labs, list) or len(labs) > _MOST_LABS:
            raise ModelError("“labs” is not a list.", allowed=f"a list of at most {_MOST_LABS}")
        read = tuple(map(_lab, labs))
        if len({one.lab for one in read}) < len(read):
            raise ModelError("A lab stands twice in the record.")
        return Progress(read)


def _pairs(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        raise ValueError("a field stands twice")
    return found


def _no_constant(name: str) -> Any:
    raise ValueError(name)


def _only(table: Mapping[str, Any], names: tuple[str, ...], where: str) -> None:
    for name in names:
        if name not in table:
            raise ModelError(
                f"A field of {where} is missing.", given=name, allowed=", ".join(names)
            )
    for name in table:
        if name not in names:
            raise ModelError(
                f"A field of {where} is not known.", given=name, allowed=", ".join(names)
            )


def _lab(table: object) -> LabDone:
    if not isinstance(table, dict):
        raise ModelError("A lab of the record is not a table.", given=str(table))
    _only(table, ("lab", "level", *_COUNTS, "missed", "predicted"), "a lab")
    name, missed = table["lab"], table["missed"]
    if not isinstance(name, str) or not 0 < len(name) <= 200:
        raise ModelError("The name of a lab is not text.", given=str(name))
    for field, most in (("level", LEVELS[-1]), *((count, 10_000) for count in _COUNTS)):
        value = table[field]
        if not isinstance(value, int) or isinstance(value, bool) or not 0 <= value <= most:
            raise ModelError(
                f"“{field}” of a lab is no count.", given=str(value), allowed=f"0 to {most}"
            )
    if table["level"]:
        try:
            if practice(checked_id(name)).level != table["level"]:
                raise ModelError("The level is not that of the lab.", given=name)
        except StoichkitError as error:
            raise ModelError("A lab with a level has no such id.", given=name) from error
    if table["answered"] > table["questions"]:
        raise ModelError("More was answered than asked.", given=name)
    if table["predicted"] not in ("", "right", "wrong"):
        raise ModelError("“predicted” is not known.", given=str(table["predicted"]))
    kinds = {*map(str, Kind), CONCLUSION, PREDICTION, UNKNOWN}
    if not isinstance(missed, dict) or not set(missed) <= kinds:
        raise ModelError("What was missed is not known.", given=str(missed))
    for count in missed.values():
        if not isinstance(count, int) or isinstance(count, bool) or not 0 < count <= 10_000:
            raise ModelError("What was missed has no count.", given=str(count))
    questions, answered, hints = (table[field] for field in _COUNTS)
    return LabDone(
        name, table["level"], questions, answered, hints, tuple(sorted(missed.items())),
        table["predicted"],
    )  # fmt: skip
