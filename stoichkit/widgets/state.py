"""What the readings panel holds: the typed texts, the last good evidence, and what is refused.

Plain Python without Jupyter. Nothing typed is lost or changed; what cannot be used is refused
with its reason, and the evidence from before that field was touched stays until everything can be
used again. (A text half typed may be a number too, so the evidence of the moment before would
depend on the speed of typing.)
"""

from __future__ import annotations

import re
from collections.abc import Callable
from enum import StrEnum
from pathlib import Path

from .. import experiments
from ..errors import ExperimentError
from ..evidence import Evidence
from ..experiment import Experiment
from ..experiment_toml import parse_experiment, save_experiment
from .evaluation import Outcome, evaluate
from .form import ALL_TRIALS, Form, Place, TrialTexts, form_of
from .saving import target_path

__all__ = ["MAX_TRIALS", "Change", "ReadingsState"]

MAX_TRIALS = 30
"""Most trials that the panel shows; more than that belong in a table of class data."""

_NUMBERED = re.compile(r"(.*?)([0-9]{1,6})")


class Change(StrEnum):
    """What subscribers are told has changed."""

    FORM = "another experiment was loaded"
    TRIALS = "a trial was added or removed"
    TEXT = "a text was typed"


class ReadingsState:
    """The texts typed into the readings panel and what follows from them.

    Parameters
    ----------
    source : Experiment or str
        A record, the name of a ready experiment, or the text of an experiment file.

    Attributes
    ----------
    form : Form
        Every text as typed; change it through the methods, which tell the subscribers.
    name : str
        Name of the ready experiment or file that was loaded, "" for a record.

    Raises
    ------
    ExperimentError
        If there is no such experiment, or the text is faulty.

    Examples
    --------
    >>> state = ReadingsState("copper-silver")
    >>> state.set_reading(0, "wire before", "2,94 g")
    >>> print(state.outcome.refusals[Place("reading", 0, "wire before")].problem)
    The reading has letters behind the number.
    >>> state.evidence.verdict.candidates, state.outcome.current
    (('copper(II)',), False)
    >>> state.form.trials[0].readings["wire before"]
    '2,94 g'
    """

    form: Form
    name: str
    _base: Experiment
    _outcome: Outcome | None
    _before: Outcome | None
    _edited: Place | None
    _stale: bool

    def __init__(self, source: Experiment | str = "copper-silver") -> None:
        self._subscribers: list[Callable[[Change], None]] = []
        self._removed: list[TrialTexts] = []
        self._saved: set[Path] = set()
        self.load(source)

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
    def experiment(self) -> Experiment:
        """The last record that could be made of the form."""
        return self.outcome.experiment

    def subscribe(self, callback: Callable[[Change], None]) -> Callable[[], None]:
        """Have a function called after each change; the function returned ends that.

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

    def load(self, source: Experiment | str, *, name: str = "") -> None:
        """Show another experiment; the texts typed so far go.

        Parameters
        ----------
        source : Experiment or str
            A record, the name of a ready experiment, or the text of an experiment file.
        name : str, optional
            Name of the file that the text comes from.

        Raises
        ------
        ExperimentError
            If there is no such experiment, the text is faulty or there are more than
            :data:`MAX_TRIALS` trials; nothing has changed then.
        """
        if isinstance(source, Experiment):
            experiment = source
        elif "\n" in source or "=" in source:
            experiment = parse_experiment(source, name)
        else:
            experiment, name = experiments.load(source.strip()), source.strip()
        if len(experiment.trials) > MAX_TRIALS:
            raise ExperimentError(
                "There are too many trials for this panel.",
                field="trials",
                given=len(experiment.trials),
                allowed=f"at most {MAX_TRIALS}",
                fix="Use assess() for the whole, or keep fewer trials in the file.",
            )
        self._base, self.form, self.name = experiment, form_of(experiment), name
        self._outcome, self._stale = None, False
        self._before = self._edited = None
        self._removed.clear()
        self._tell(Change.FORM)

    def set_reading(self, trial: int, name: str, text: str) -> None:
        """Take over what is typed for one reading.

        Parameters
        ----------
        trial : int
            Position of the trial, counted from 0; -1 for a reading that serves all trials.
        name : str
            Name of the reading.
        text : str
            As typed; repeated weighings with semicolons or new lines between them.

        Raises
        ------
        ExperimentError
            If there is no such trial or reading.
        """
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
            self._begin(Place("reading", trial, name))
            texts[name] = text
            self._changed(Change.TEXT)

    def set_candidates(self, text: str) -> None:
        """Take over the candidates, one a line; see :func:`.candidate_text.read_candidates`."""
        self._set_field("candidates", text)

    def set_coverage(self, text: str) -> None:
        """Take over the coverage probability: ``0.95``, ``0,95`` or ``95 %``."""
        self._set_field("coverage", text)

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
        """Take over the figures of one balance, in g as typed.

        Parameters
        ----------
        name : str
            Name of the instrument.
        readability_g, repeatability_g : str, optional
            None leaves the text as it is; an empty repeatability is one that is not stated.

        Raises
        ------
        ExperimentError
            If there is no balance of that name.
        """
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
                self._begin(Place(part, name=name))
                setattr(texts, f"{part}_g", text)
                self._changed(Change.TEXT)

    def add_trial(self) -> None:
        """Add a trial: the last one removed with its texts, or an empty one.

        Raises
        ------
        ExperimentError
            If the panel shows as many as it can.

        Examples
        --------
        >>> state = ReadingsState("copper-silver")
        >>> state.add_trial()
        >>> state.form.trials[-1].name, state.outcome.left_out
        ('bench 5', ('bench 5',))
        """
        trials = self.form.trials
        if len(trials) >= MAX_TRIALS:
            raise ExperimentError(
                "The panel shows no more trials.", allowed=f"at most {MAX_TRIALS}"
            )
        self._begin(None)
        if self._removed:
            trials.append(self._removed.pop())
        else:
            readings = {row.name: "" for row in self.form.rows if not row.shared}
            trials.append(TrialTexts(self._next_name(), trials[-1].group, readings))
        self._changed(Change.TRIALS)

    def remove_trial(self) -> None:
        """Remove the last trial; its texts come back with :meth:`add_trial`.

        Raises
        ------
        ExperimentError
            If it is the only one.
        """
        if len(self.form.trials) == 1:
            raise ExperimentError("One trial is needed.", fix="Type other readings over it.")
        self._begin(None)
        self._removed.append(self.form.trials.pop())
        self._changed(Change.TRIALS)

    def to_toml(self) -> str:
        """Write the form as the text of an experiment file, without trials that are empty.

        Raises
        ------
        ExperimentError
            If something typed cannot be used: it would be lost.
        """
        outcome = self.outcome
        if not outcome.current:
            place, refusal = next(iter(outcome.refusals.items()))
            raise ExperimentError(
                f"The form cannot be saved yet: {self.describe(place)}: {refusal}",
                fix="Correct the fields marked as not used.",
            )
        return outcome.experiment.to_toml()

    def save(self, path: str, *, replace_file: bool = False) -> Path:
        """Write an experiment file, whole or not at all.

        Parameters
        ----------
        path : str
            Name of the file, see :func:`.saving.target_path`.
        replace_file : bool
            Whether a file that this form has not written itself may be replaced.

        Returns
        -------
        pathlib.Path
            Full name of the file written.

        Raises
        ------
        ExperimentError
            If something typed cannot be used, or the file exists or cannot be written.
        """
        self.to_toml()  # refuses a form that cannot be used
        target = target_path(path)
        if target.exists() and target not in self._saved and not replace_file:
            raise ExperimentError(
                "A file of this name exists already; it was not changed.",
                path=str(target),
                fix="Choose another name, or tick that the file may be replaced.",
            )
        save_experiment(self.outcome.experiment, target)
        self._saved.add(target)
        return target

    @property
    def suggested_path(self) -> str:
        """Name for an experiment file that no ready experiment has.

        >>> ReadingsState("tin-oxide").suggested_path
        'my-tin-oxide.toml'
        """
        stem = Path(self.name).stem or "experiment"
        return f"{stem}.toml" if stem.startswith("my-") else f"my-{stem}.toml"

    def describe(self, place: Place) -> str:
        """Name a field in words.

        >>> ReadingsState().describe(Place("reading", 0, "wire before"))
        'bench 1, wire before'
        """
        trial = "all trials" if place.trial == ALL_TRIALS else self.form.trials[place.trial].name
        if place.part == "reading":
            return f"{trial}, {place.name}"
        if place.part == "trial":
            return trial
        words = {"coverage": "coverage probability", "record": "the experiment"}
        return f"{place.name}, {place.part}" if place.name else words.get(place.part, place.part)

    def _set_field(self, name: str, value: str | bool) -> None:
        if getattr(self.form, name) != value:
            self._begin(Place(name))
            setattr(self.form, name, value)
            self._changed(Change.TEXT)

    def _begin(self, place: Place | None) -> None:
        """Keep the evidence as it is before another field, or the trials, are changed."""
        if self._before is None or place is None or place != self._edited:
            if self.outcome.current:
                self._before = self.outcome
            self._edited = place

    def _changed(self, change: Change) -> None:
        self._stale = True
        self._tell(change)

    def _tell(self, change: Change) -> None:
        for callback in tuple(self._subscribers):
            callback(change)

    def _next_name(self) -> str:
        """Return a name for a new trial, counted on from the last one."""
        last = self.form.trials[-1].name
        taken = {one.name for one in self.form.trials}
        match = _NUMBERED.fullmatch(last)
        stem, number = (match[1], int(match[2])) if match else ("trial ", len(taken))
        while (name := f"{stem}{number + 1}") in taken:
            number += 1
        return name
