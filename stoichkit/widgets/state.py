"""What the readings panel holds: the typed texts, the last good evidence, and what is refused.

Plain Python without Jupyter. Nothing typed is lost or changed; what cannot be used is refused
with its reason, and the evidence from before that field was touched stays until everything can be
used again. (A text half typed may be a number too, so the evidence of the moment before would
depend on the speed of typing.)
"""

from __future__ import annotations

from pathlib import Path

from ..errors import ExperimentError
from ..experiment import Experiment
from ..experiment_toml import save_experiment
from .form import ALL_TRIALS, Place, TrialTexts, describe_place, next_trial_name
from .held import MAX_TRIALS, Change, HeldTexts, checked_source, together
from .saving import free_target, suggested_path

__all__ = ["MAX_TRIALS", "Change", "ReadingsState", "together"]


class ReadingsState(HeldTexts):
    """The texts typed into the readings panel and what follows from them.

    Parameters
    ----------
    source : Experiment or str
        A record, the name of a ready experiment, or the text of an experiment file.
    history : History, optional
        Shared with other states, so that they are undone together; one of its own if left out.

    Attributes
    ----------
    history : History
        The changes that can be undone.
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

    def load(self, source: Experiment | str, *, name: str = "") -> None:
        """Show another experiment; :meth:`undo` brings back what was typed before.

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
        experiment, name = checked_source(source, name)
        self.history.record(f"opened {name or experiment.title}")
        self._open(experiment, name)
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
        """Take over the least and the largest fraction of the product that is recovered.

        Parameters
        ----------
        low, high : str, optional
            As typed: ``0.95`` or ``95 %``; None leaves the text as it is.
        """
        for part, text in (("recovery_low", low), ("recovery_high", high)):
            if text is not None:
                self._set_field(part, text)

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
                self._begin(Place(part, name=name), f"typed {name}, {part}")
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
        self._begin(None, "added a trial")
        if self._removed:
            trials.append(self._removed.pop())
        else:
            readings = {row.name: "" for row in self.form.rows if not row.shared}
            trials.append(TrialTexts(next_trial_name(trials), trials[-1].group, readings))
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
        self._begin(None, f"removed {self.form.trials[-1].name}")
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
        target = free_target(path, self._saved, replace_file=replace_file)
        save_experiment(self.outcome.experiment, target)
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
