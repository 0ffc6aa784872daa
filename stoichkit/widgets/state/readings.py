"""State of the readings screen, snapshots, sources.

What an experiment can be opened from: a record, a name, or the text of a file.

How the readings stand at one moment, kept apart from what changes; to JSON and back.

The texts that a readings screen holds, what follows from them, and how they are remembered.

Nothing typed is lost or changed; what cannot be used is refused with its reason, and the evidence
from before that field was touched stays until everything can be used again. (A text half typed
may be a number too, so the evidence of the moment before would depend on the speed of typing.)

What the readings screen holds: the typed texts, the last good evidence, and what is refused.

Plain Python without Jupyter. Nothing typed is lost or changed; what cannot be used is refused
with its reason, and the evidence from before that field was touched stays until everything can be
used again. (A text half typed may be a number too, so the evidence of the moment before would
depend on the speed of typing.)
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from enum import StrEnum
from functools import lru_cache
from pathlib import Path
from typing import Any, TypeVar

from ... import experiments
from ...decision.evidence import Evidence
from ...errors import ExperimentError
from ...experiments.record import Experiment
from ...experiments.store import load_experiment, parse_experiment, save_experiment
from ...uncertainty import entry
from ..kit.history import History
from ..kit.saving import free_target, suggested_path
from ..kit.telling import Telling
from .form import (
    ALL_TRIALS,
    WEIGHED_ON,
    BalanceTexts,
    Form,
    Outcome,
    Place,
    TrialTexts,
    balances_to_choose,
    copy_form,
    describe_place,
    evaluate,
    form_of,
    next_trial_name,
)


def read_source(source: Experiment | str, name: str = "") -> tuple[Experiment, str]:
    """Return an experiment and the name it goes by: a ready one, a file, or the text of one.

    >>> read_source("tin-oxide")[1]
    'tin-oxide'
    """
    entry.record("experiment", source, Experiment, str, error=ExperimentError)
    if isinstance(source, Experiment):
        return source, name
    if "\n" not in source and source.strip().endswith(".toml"):
        path = Path(source.strip()).expanduser()
        return load_experiment(path), name or path.name
    if "\n" in source or "=" in source:
        return parse_experiment(source, name), name
    return experiments.load(source.strip()), source.strip()


MOST = 1000
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Snapshot:
    """All that a readings screen holds."""

    base: Experiment
    name: str
    form: Form
    good: Form | None = None
    removed: tuple[TrialTexts, ...] = ()


@lru_cache(maxsize=4)
def _json_of(base: Experiment) -> str:
    return base.to_json()


def snapshot_tables(snapshot: Snapshot) -> dict[str, Any]:
    """Return a snapshot as tables, lists and texts that JSON can hold.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> import json
    >>> lab = experiments.load("tin-oxide")
    >>> before = Snapshot(lab, "tin-oxide", form_of(lab))
    >>> snapshot_from(json.loads(json.dumps(snapshot_tables(before)))) == before
    True
    """
    return {
        "experiment": _json_of(snapshot.base),
        "name": snapshot.name,
        "form": _form_tables(snapshot.form),
        "good": None if snapshot.good is None else _form_tables(snapshot.good),
        "removed": [asdict(one) for one in snapshot.removed],
    }


def _form_tables(form: Form) -> dict[str, Any]:
    tables = asdict(form)
    del tables["rows"]  # they follow from the experiment
    return tables


def snapshot_from(tables: Any) -> Snapshot:
    """Return the snapshot that tables stand for, checked down to every text."""
    top = _table(tables)
    base = Experiment.from_json(_text(top.get("experiment")))
    good = top.get("good")
    return Snapshot(
        base,
        _text(top.get("name")),
        _form(top.get("form"), base),
        None if good is None else _form(good, base),
        tuple(_trial(one, form_of(base)) for one in _list(top.get("removed"))),
    )


def _form(value: Any, base: Experiment) -> Form:
    """Return a form with the fields of the record and the texts of a table."""
    found, tables = form_of(base), _table(value)
    trials = [_trial(one, found) for one in _list(tables.get("trials"))]
    balances = _same_names(tables.get("balances"), found.balances, _balance)
    if not trials or not isinstance(tables.get("invented"), bool):
        raise _damaged("trials, and whether they are invented")
    return Form(
        title=_text(tables.get("title")),
        invented=tables["invented"],
        candidates=_text(tables.get("candidates")),
        coverage=_text(tables.get("coverage")),
        recovery_low=_text(tables.get("recovery_low")),
        recovery_high=_text(tables.get("recovery_high")),
        variation=_text(tables.get("variation", found.variation)),
        rows=found.rows,
        balances=balances,
        shared=_same_names(tables.get("shared"), found.shared, _text),
        trials=trials,
    )


def _trial(value: Any, form: Form) -> TrialTexts:
    tables = _table(value)
    names = {row.name: "" for row in form.rows if not row.shared}
    readings = _same_names(tables.get("readings"), names, _text)
    return TrialTexts(_text(tables.get("name")), _text(tables.get("group")), readings)


def _balance(value: Any) -> BalanceTexts:
    tables = _table(value)
    return BalanceTexts(_text(tables.get("readability_g")), _text(tables.get("repeatability_g")))


def _same_names(value: Any, wanted: Mapping[str, object], read: Callable[[Any], T]) -> dict[str, T]:
    tables = _table(value)
    if set(tables) != set(wanted):
        raise _damaged(", ".join(wanted))
    return {name: read(tables[name]) for name in wanted}


def _table(value: Any) -> dict[str, Any]:
    if not isinstance(value, dict) or len(value) > MOST:
        raise _damaged("a table")
    return value


def _list(value: Any) -> list[Any]:
    if not isinstance(value, list) or len(value) > MOST:
        raise _damaged("a list")
    return value


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise _damaged("a text")
    return value


def _damaged(allowed: str) -> ExperimentError:
    return ExperimentError("What was kept of the typed texts is damaged.", allowed=allowed)


MAX_TRIALS = 200
"""Most trials that the screen shows; more than that belong in a table of class data."""


class Change(StrEnum):
    """What subscribers are told has changed."""

    FORM = "another experiment was loaded"
    TRIALS = "a trial was added or removed"
    TEXT = "a text was typed"


class HeldTexts(Telling[Change]):
    """The form of an experiment with its evidence, its history and who is told of changes."""

    form: Form
    name: str
    _base: Experiment
    _outcome: Outcome | None
    _before: Outcome | None
    _good: Form | None
    _edited: Place | None
    _stale: bool
    _looked_at: set[int]

    def __init__(
        self, source: Experiment | str = "copper-silver", *, history: History | None = None
    ) -> None:
        super().__init__()
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
        if self._outcome.current and self._outcome.evidence is not None:
            self._looked_at.add(len(self._outcome.evidence.amounts))
        return self._outcome

    @property
    def earlier_looks(self) -> int:
        """How many verdicts with fewer trials of this lab were worked out before.

        >>> from stoichkit.widgets.state.readings import ReadingsState
        >>> state = ReadingsState("copper-silver")
        >>> state.earlier_looks
        0
        """
        evidence = self.outcome.evidence
        trials = 0 if evidence is None else len(evidence.amounts)
        return sum(number < trials for number in self._looked_at)

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

    def _open(self, experiment: Experiment, name: str) -> None:
        self._base, self.form, self.name = experiment, form_of(experiment), name
        self._outcome, self._stale = None, False
        self._before = self._good = self._edited = None
        self._removed.clear()
        self._looked_at = set()

    def undo(self) -> str:
        """Take the last change back; return what it was.

        >>> from stoichkit.widgets.state.readings import ReadingsState
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
        """Do again what was undone last; return what it was."""
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
        if change is Change.FORM:
            self._looked_at = set()
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


def checked_source(source: Experiment | str, name: str) -> tuple[Experiment, str]:
    """Return an experiment with its name, if a screen can show it."""
    experiment, name = read_source(source, name)
    if len(experiment.trials) > MAX_TRIALS:
        raise ExperimentError(
            "There are too many trials for this screen.",
            field="trials",
            given=len(experiment.trials),
            allowed=f"at most {MAX_TRIALS}",
            fix="Use assess() for the whole, or keep fewer trials in the file.",
        )
    return experiment, name


class ReadingsState(HeldTexts):
    """The texts typed into the readings screen and what follows from them.

    >>> state = ReadingsState("copper-silver")
    >>> state.set_reading(0, "wire before", "2,94 g")
    >>> print(state.outcome.refusals[Place("reading", 0, "wire before")].problem)
    The reading has letters behind the number.
    >>> state.evidence.verdict.candidates, state.outcome.current
    (('copper(II)',), False)
    >>> state.form.trials[0].readings["wire before"]
    '2,94 g'
    """

    def load(self, source: Experiment | str, *, name: str = "", keep: bool = False) -> None:
        """Show another experiment; :meth:`undo` brings back what was typed before.

        ``keep``: texts typed for readings that the other experiment has too are taken over.
        """
        experiment, name = checked_source(source, name)
        self.history.record(f"opened {name or experiment.title}")
        before = self.form
        self._open(experiment, name)
        if keep:
            self._take_over(before)
        self._tell(Change.FORM)

    def _take_over(self, before: Form) -> None:
        """Take over the trials of another form, as far as the readings have the same names."""
        names = [row.name for row in self.form.rows if not row.shared]
        if any(name in one.readings for one in before.trials for name in names):
            self.form.trials = [
                replace(one, readings={name: one.readings.get(name, "") for name in names})
                for one in before.trials
            ]
        self.form.shared |= {
            name: text for name, text in before.shared.items() if name in self.form.shared
        }
        self._stale = True

    def set_reading(self, trial: int, name: str, text: str) -> None:
        """Take over what is typed for one reading."""
        if not ALL_TRIALS <= trial < len(self.form.trials):
            raise ExperimentError(
                "There is no such trial.", given=trial, allowed=f"0 to {len(self.form.trials) - 1}"
            )
        texts = self.form.shared if trial == ALL_TRIALS else self.form.trials[trial].readings
        if name not in texts:
            raise ExperimentError(
                "There is no such reading.", given=name, allowed=", ".join(texts) or None
            )
        if texts[name] != text:
            place = Place("reading", trial, name)
            owner = "all trials" if trial == ALL_TRIALS else self.form.trials[trial].name
            self._begin(place, f"typed {name}, {owner}")
            texts[name] = text
            self._changed(Change.TEXT)

    def set_candidates(self, text: str) -> None:
        """Take over the candidates, one a line; see :func:`.candidate_text.read_candidates`."""
        self._set_field("candidates", text)

    def set_coverage(self, text: str) -> None:
        """Take over the coverage probability: ``0.95``, ``0,95`` or ``95 %``."""
        self._set_field("coverage", text)

    def set_recovery(self, *, low: str | None = None, high: str | None = None) -> None:
        """Take over the least and the largest fraction of the product that is recovered."""
        for part, text in (("recovery_low", low), ("recovery_high", high)):
            if text is not None:
                self._set_field(part, text)

    def set_variation(self, text: str) -> None:
        """Take over how much trials truly differ: "", "1.5 %", "2 % from 8 trials" or "unknown"."""
        self._set_field("variation", text)

    def set_title(self, text: str) -> None:
        """Take over the title."""
        self._set_field("title", text)

    def set_invented(self, invented: bool) -> None:
        """Take over whether the readings are invented."""
        self._set_field("invented", bool(invented))

    def set_balance(
        self,
        name: str = "balance",
        *,
        readability_g: str | None = None,
        repeatability_g: str | None = None,
    ) -> None:
        """Take over the figures of one balance, in g as typed."""
        texts = self.form.balances.get(name)
        if texts is None:
            raise ExperimentError(
                "There is no balance of that name.",
                given=name,
                allowed=", ".join(self.form.balances) or None,
            )
        typed = {"readability": readability_g, "repeatability": repeatability_g}
        for part, text in typed.items():
            if text is not None and getattr(texts, f"{part}_g") != text:
                self._begin(Place(part, name=name), f"typed {name}, {part}")
                setattr(texts, f"{part}_g", text)
                self._changed(Change.TEXT)

    @property
    def can_add_balance(self) -> bool:
        """Whether trials could be weighed on another balance: the amounts name a single one."""
        return bool(balances_to_choose(self._base))

    @property
    def added_balances(self) -> tuple[str, ...]:
        """The balances that only some trials are weighed on."""
        return balances_to_choose(self._base)[1:]

    def add_balance(self) -> None:
        """Add a balance that trials may have been weighed on, with the figures of the first.

        >>> state = ReadingsState("copper-silver")
        >>> state.add_balance()
        >>> state.set_balance("balance 2", readability_g="0.001")
        >>> state.set_reading(0, WEIGHED_ON, "2")
        >>> dict(state.experiment.trials[0].instruments)
        {'balance': 'balance 2'}
        """
        usual = balances_to_choose(self._base)[0]
        name = next(
            one for n in itertools.count(2) if (one := f"balance {n}") not in self._base.instruments
        )
        self._begin(None, "added a balance")
        self._base = self._base.with_instrument(name, self._base.instruments[usual])
        self.form.balances[name] = replace(self.form.balances[usual])
        self._with_the_column()

    def remove_balance(self, name: str) -> None:
        """Remove a balance; trials weighed on it count as weighed on the usual one."""
        usual, *others = balances_to_choose(self._base)
        if name not in others:
            raise ExperimentError(
                "This balance cannot be removed.", given=name, allowed=", ".join(others) or None
            )
        self._begin(None, f"removed {name}")
        kept = {n: one for n, one in self._base.instruments.items() if n != name}
        trials = tuple(
            replace(t, instruments={}) if name in t.instruments.values() else t
            for t in self._base.trials
        )
        self._base = replace(self._base, instruments=kept, trials=trials)
        del self.form.balances[name]
        for trial in self.form.trials:
            if trial.readings[WEIGHED_ON].strip().casefold() == name.casefold():
                trial.readings[WEIGHED_ON] = usual
        self._with_the_column()

    def _with_the_column(self) -> None:
        """Show the column for the balance of each trial where there are several, and only then."""
        self.form.rows = form_of(self._base).rows
        names = [row.name for row in self.form.rows if not row.shared]
        for trial in (*self.form.trials, *self._removed):
            trial.readings = {name: trial.readings.get(name, "") for name in names}
        self._changed(Change.TRIALS)

    def set_cells(self, trial: int, column: int, texts: Sequence[Sequence[str]]) -> None:
        """Take over a block of readings, from a trial and a column on, as one step.

        Trials are added as they are needed; what would stand beside the sheet is refused, and
        then nothing is taken over.

        >>> state = ReadingsState("copper-silver")
        >>> state.set_cells(3, 2, [["0.71", "1.14"], ["0.72", "1.15"]])
        >>> state.form.trials[4].readings, state.undo(), len(state.form.trials)
        ({'wire before': '', 'wire after': '', 'paper': '0.72', 'paper + silver': '1.15'},
        'pasted 4 readings', 4)
        """
        names = [row.name for row in self.form.rows if not row.shared]
        widest = max((len(row) for row in texts), default=0)
        if column + widest > len(names):
            raise ExperimentError(
                "The block is wider than the sheet.",
                given=f"{widest} columns from column {column + 1} on",
                allowed=f"at most {len(names) - column}",
                fix="Paste it one column to the left, or fewer columns.",
            )
        if trial + len(texts) > MAX_TRIALS:
            raise ExperimentError(
                "That would be too many trials for this sheet.",
                given=trial + len(texts), allowed=f"at most {MAX_TRIALS}",
                fix="Put more than that into a table of a class.",
            )  # fmt: skip
        if len(texts) == 1 and len(texts[0]) == 1 and trial < len(self.form.trials):
            self.set_reading(trial, names[column], texts[0][0])
            return
        number = sum(map(len, texts))
        self._begin(None, f"pasted {number} readings" if number > 1 else "added a trial")
        trials = self.form.trials
        while len(trials) < trial + len(texts):
            empty = dict.fromkeys(names, "")
            trials.append(TrialTexts(next_trial_name(trials), trials[-1].group, empty))
        for i, row in enumerate(texts):
            trials[trial + i].readings |= dict(zip(names[column:], row, strict=False))
        self._changed(Change.TRIALS)

    def rename_trial(self, trial: int, text: str) -> None:
        """Take over the name of a trial."""
        if not 0 <= trial < len(self.form.trials):
            raise ExperimentError("There is no such trial.", given=trial)
        if self.form.trials[trial].name != text:
            self._begin(Place("trial", trial), "renamed a trial")
            self.form.trials[trial].name = text
            self._changed(Change.TEXT)

    def add_trial(self) -> None:
        """Add a trial: the last one removed with its texts, or an empty one.

        >>> state = ReadingsState("copper-silver")
        >>> state.add_trial()
        >>> state.form.trials[-1].name, state.outcome.left_out
        ('bench 5', ('bench 5',))
        """
        trials = self.form.trials
        if len(trials) >= MAX_TRIALS:
            raise ExperimentError(
                "The screen shows no more trials.", allowed=f"at most {MAX_TRIALS}"
            )
        self._begin(None, "added a trial")
        if self._removed:
            trials.append(self._removed.pop())
        else:
            readings = {row.name: "" for row in self.form.rows if not row.shared}
            trials.append(TrialTexts(next_trial_name(trials), trials[-1].group, readings))
        self._changed(Change.TRIALS)

    def remove_trial(self) -> None:
        """Remove the last trial; its texts come back with :meth:`add_trial`."""
        if len(self.form.trials) == 1:
            raise ExperimentError("One trial is needed.", fix="Type other readings over it.")
        self._begin(None, f"removed {self.form.trials[-1].name}")
        self._removed.append(self.form.trials.pop())
        self._changed(Change.TRIALS)

    def to_toml(self) -> str:
        """Write the form as the text of an experiment file, without trials that are empty."""
        outcome = self.outcome
        if not outcome.current:
            place, refusal = next(iter(outcome.refusals.items()))
            raise ExperimentError(
                f"The form cannot be saved yet: {self.describe(place)}: {refusal}",
                fix="Correct the fields marked as not used.",
            )
        return outcome.experiment.to_toml()

    def save(self, path: str, *, replace: bool = False) -> Path:
        """Write an experiment file, whole or not at all."""
        self.to_toml()  # refuses a form that cannot be used
        target = free_target(path, self._saved, replace=replace)
        save_experiment(self.outcome.experiment, target, replace=replace or target in self._saved)
        self._saved.add(target)
        return target

    @property
    def suggested_path(self) -> str:
        """Name for an experiment file that no ready experiment has.

        >>> ReadingsState("tin-oxide").suggested_path
        'my-tin-oxide.toml'
        """
        return suggested_path(self.name)

    def describe(self, place: Place) -> str:
        """Name a field in words.

        >>> ReadingsState().describe(Place("reading", 0, "wire before"))
        'bench 1, wire before'
        """
        return describe_place(self.form, place)

    def _set_field(self, name: str, value: str | bool) -> None:
        if getattr(self.form, name) != value:
            place = Place(name)
            said = "whether the readings are invented" if name == "invented" else ""
            self._begin(place, f"changed {said}" if said else f"typed the {self.describe(place)}")
            setattr(self.form, name, value)
            self._changed(Change.TEXT)
