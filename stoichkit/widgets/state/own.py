"""A lab of one's own: the sentence as it is being completed, and what becomes of the readings."""

from __future__ import annotations

from dataclasses import dataclass, replace

from ...errors import ExperimentError
from ...experiments.own import Sentence, Understood, Way, understood, way_named, ways
from .readings import ReadingsState

_PART = "own lab"
_FIRST = "displacement"


@dataclass(frozen=True, slots=True)
class Draft:
    """The sentence, whether it is being completed, and whether the readings belong to it."""

    sentence: Sentence
    open: bool = False
    used: bool = False


class OwnLab:
    """The sentence that says what was weighed.

    >>> readings = ReadingsState("copper-silver")
    >>> own = OwnLab(readings)
    >>> own.begin()
    >>> for slot, text in (("metal", "Fe"), ("product", "Cu"), ("states", "2, 3")):
    ...     own.set(slot, text)
    >>> own.use()
    >>> readings.form.rows[0].name, len(readings.form.trials), own.open
    ('Fe before', 3, False)
    >>> readings.undo(), readings.form.rows[0].name
    ('began a lab of your own', 'wire before')
    """

    def __init__(self, readings: ReadingsState) -> None:
        self.readings = readings
        self._draft = Draft(Sentence(_FIRST))
        self._known: tuple[Sentence, Understood] | None = None
        readings.history.join(_PART, lambda: self._draft, self._restore)

    def _restore(self, draft: Draft) -> None:
        self._draft = draft

    @property
    def open(self) -> bool:
        """Whether the sentence is being completed."""
        return self._draft.open

    @property
    def used(self) -> bool:
        """Whether the readings are those of the sentence."""
        return self._draft.used

    @property
    def sentence(self) -> Sentence:
        """What is typed so far."""
        return self._draft.sentence

    @property
    def way(self) -> Way:
        """How the sentence reads."""
        return way_named(self.sentence.way)

    @property
    def ways(self) -> tuple[Way, ...]:
        """Every way to say a lab."""
        return ways()

    @property
    def understood(self) -> Understood:
        """What the sentence means so far."""
        if self._known is None or self._known[0] != self.sentence:
            self._known = self.sentence, understood(self.sentence)
        return self._known[1]

    def begin(self) -> None:
        """Start to say a new lab."""
        self._open("opened the sentence of a new lab", used=False)

    def change(self) -> None:
        """Start to say otherwise what was weighed; readings of the same names will be kept."""
        self._open("opened the sentence of the lab", used=self.used)

    def _open(self, words: str, *, used: bool) -> None:
        if not self.open:
            self.readings.history.record(words)
            self._draft = replace(self._draft, open=True, used=used)

    def cancel(self) -> None:
        """Leave the lab as it is; what was typed into the sentence stays in it."""
        if self.open:
            self.readings.history.record("closed the sentence of a new lab")
            self._draft = replace(self._draft, open=False)

    def choose(self, way: str) -> None:
        """Take another way of measuring; texts of slots that both have stay."""
        if way == self.sentence.way:
            return
        names = {slot.name for slot in way_named(way).slots}
        kept = {n: text for n, text in self.sentence.slots.items() if n in names}
        self.readings.history.record("chose another way of measuring")
        self._draft = replace(self._draft, sentence=Sentence(way, kept))

    def set(self, slot: str, text: str) -> None:
        """Take over the text of a slot as typed."""
        if self.sentence.text(slot) == text:
            return
        changed = self.sentence.with_text(slot, text)
        label = next(one.label for one in self.way.slots if one.name == slot)
        self.readings.history.record(f"typed the {label}", key=(_PART, slot))
        self._draft = replace(self._draft, sentence=changed)

    def use(self) -> None:
        """Open the lab that the sentence says.

        Readings typed before are kept where the lab has a reading of that name; undo brings back
        the others.
        """
        found = self.understood
        if found.experiment is None:
            refused = next(iter(found.refusals.items()), None)
            said = f" {refused[0]}: {refused[1]}" if refused else ""
            missing = ", ".join(found.missing)
            raise ExperimentError(
                f"The sentence is not complete yet.{said}",
                allowed=f"a text for {missing}" if missing else None,
                fix="Complete it, or cancel.",
            )
        history = self.readings.history
        history.record("changed what was weighed" if self.used else "began a lab of your own")
        with history.as_one():
            self.readings.load(found.experiment, name="my-lab.toml", keep=self.used)
            self._draft = replace(self._draft, open=False, used=True)

    def forget(self) -> None:
        """The readings are those of another lab now, which the sentence does not say."""
        self._draft = replace(self._draft, open=False, used=False)
