"""The texts that a readings panel holds, what follows from them, and how they are remembered.

Nothing typed is lost or changed; what cannot be used is refused with its reason, and the evidence
from before that field was touched stays until everything can be used again. (A text half typed
may be a number too, so the evidence of the moment before would depend on the speed of typing.)
"""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum
from pathlib import Path

from ..errors import ExperimentError
from ..evidence import Evidence
from ..experiment import Experiment
from .evaluation import Outcome, evaluate
from .form import Form, Place, TrialTexts, copy_form, form_of
from .snapshot import Snapshot
from .source import read_source
from .undo import History

__all__ = ["MAX_TRIALS", "Change", "HeldTexts", "checked_source", "together"]

MAX_TRIALS = 30
"""Most trials that the panel shows; more than that belong in a table of class data."""


class Change(StrEnum):
    """What subscribers are told has changed."""

    FORM = "another experiment was loaded"
    TRIALS = "a trial was added or removed"
    TEXT = "a text was typed"


def together(one: Change, other: Change) -> Change:
    """Return the change that stands for two.

    >>> together(Change.TEXT, Change.FORM).name
    'FORM'
    """
    order = tuple(Change)
    return min(one, other, key=order.index)


class HeldTexts:
    """The form of an experiment with its evidence, its history and those who are told of changes.

    Parameters
    ----------
    source : Experiment or str
        A record, the name of a ready experiment, or the text of an experiment file.
    history : History, optional
        Shared with other states, so that they are undone together; one of its own if left out.

    Raises
    ------
    ExperimentError
        If there is no such experiment, or the text is faulty.
    """

    form: Form
    name: str
    _base: Experiment
    _outcome: Outcome | None
    _before: Outcome | None
    _good: Form | None
    _edited: Place | None
    _stale: bool

    def __init__(
        self, source: Experiment | str = "copper-silver", *, history: History | None = None
    ) -> None:
        self._subscribers: list[Callable[[Change], None]] = []
        self._removed: list[TrialTexts] = []
        self._saved: set[Path] = set()
        self._open(*checked_source(source, ""))
        self.history = History() if history is None else history
        self.history.join("readings", self.snapshot, self.restore)

    @property
    def outcome(self) -> Outcome:
        """Evidence, refusals and trials left out; worked out when first asked for."""
        if self._outcome is None:
            self._outcome = evaluate(form_of(self._base), self._base, None)
        if self._stale:
            self._outcome = evaluate(self.form, self._base, self._before)
            self._stale = False
        return self._outcome

    @property
    def evidence(self) -> Evidence | None:
        """Evidence of the form, or from before the field was touched that is now refused."""
        return self.outcome.evidence

    @property
    def base(self) -> Experiment:
        """The record that was loaded."""
        return self._base

    @property
    def experiment(self) -> Experiment:
        """The last record that could be made of the form."""
        return self.outcome.experiment

    def subscribe(self, callback: Callable[[Change], None]) -> Callable[[], None]:
        """Have a function called after each change; the function returned ends that.

        >>> from stoichkit.widgets.state import ReadingsState
        >>> state, heard = ReadingsState(), []
        >>> stop = state.subscribe(heard.append)
        >>> state.set_coverage("99 %")
        >>> stop()
        >>> state.set_coverage("95 %")
        >>> heard
        [<Change.TEXT: 'a text was typed'>]
        """
        self._subscribers.append(callback)

        def stop() -> None:
            if callback in self._subscribers:
                self._subscribers.remove(callback)

        return stop

    def _open(self, experiment: Experiment, name: str) -> None:
        self._base, self.form, self.name = experiment, form_of(experiment), name
        self._outcome, self._stale = None, False
        self._before = self._good = self._edited = None
        self._removed.clear()

    def undo(self) -> str:
        """Take the last change back; return what it was.

        Raises
        ------
        ExperimentError
            If there is nothing to undo.

        Examples
        --------
        >>> from stoichkit.widgets.state import ReadingsState
        >>> state = ReadingsState("copper-silver")
        >>> state.set_reading(0, "wire before", "x")
        >>> state.load("tin-oxide")
        >>> state.undo(), state.form.trials[0].readings["wire before"]
        ('opened tin-oxide', 'x')
        >>> state.undo(), state.form.trials[0].readings["wire before"], state.can_undo
        ('typed wire before, bench 1', '2.94', False)
        """
        return self.history.undo()

    def redo(self) -> str:
        """Do again what was undone last; return what it was.

        Raises
        ------
        ExperimentError
            If there is nothing to redo.
        """
        return self.history.redo()

    @property
    def can_undo(self) -> bool:
        """Whether there is a change to undo."""
        return self.history.can_undo

    @property
    def can_redo(self) -> bool:
        """Whether there is a change to do again."""
        return self.history.can_redo

    def snapshot(self) -> Snapshot:
        """Return all that is held, as a value that does not change with the state."""
        removed = tuple(self._removed)
        return Snapshot(self._base, self.name, copy_form(self.form), self._good, removed)

    def restore(self, snapshot: Snapshot) -> None:
        """Bring back what was held; a verdict from before a refusal is worked out again."""
        base, form, before = snapshot.base, copy_form(snapshot.form), None
        outcome = evaluate(form, base, None)
        if not outcome.current:
            good = form_of(base) if snapshot.good is None else snapshot.good
            before = evaluate(good, base, None)
            outcome = evaluate(form, base, before)
        change = Change.TEXT if len(form.trials) == len(self.form.trials) else Change.TRIALS
        change = change if base == self._base else Change.FORM
        self._base, self.name, self.form, self._removed = (
            base,
            snapshot.name,
            form,
            list(snapshot.removed),
        )
        self._outcome, self._stale = outcome, False
        self._before, self._good, self._edited = before, snapshot.good, None
        self._tell(change)

    def _begin(self, place: Place | None, words: str) -> None:
        """Keep how things are before another field, or the trials, are changed."""
        if self._before is None or place is None or place != self._edited:
            if self.outcome.current:
                self._before, self._good = self.outcome, copy_form(self.form)
            self._edited = place
        self.history.record(words, key=place)

    def _changed(self, change: Change) -> None:
        self._stale = True
        self._tell(change)

    def _tell(self, change: Change) -> None:
        for callback in tuple(self._subscribers):
            callback(change)


def checked_source(source: Experiment | str, name: str) -> tuple[Experiment, str]:
    """Return an experiment with its name, if a panel can show it.

    Raises
    ------
    ExperimentError
        If there is none, it is faulty, or it has more than :data:`MAX_TRIALS` trials.
    """
    experiment, name = read_source(source, name)
    if len(experiment.trials) > MAX_TRIALS:
        raise ExperimentError(
            "There are too many trials for this panel.",
            field="trials",
            given=len(experiment.trials),
            allowed=f"at most {MAX_TRIALS}",
            fix="Use assess() for the whole, or keep fewer trials in the file.",
        )
    return experiment, name
