"""The experiment record: what was measured and with what, the readings, the candidates."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from .._common import FrozenMap
from ..chemistry.candidates import Candidate
from ..errors import ExperimentError, StoichkitError
from ..measurement.base import AmountModel, Instrument, Role, Setting, show
from ..uncertainty import entry
from ..uncertainty.readings import ErrorPool
from ..uncertainty.sources import Number
from .candidate_spec import CandidateSpec
from .checks import (
    assumptions_of,
    check_head,
    check_readings,
    checked_candidates,
    checked_coverage,
    checked_instruments,
    checked_items,
    checked_looks,
    checked_order,
    checked_prior,
    checked_recovery,
    checked_shared,
    checked_variation,
    questions_about,
    read_quantity,
    roles_of,
    vessel_question,
)
from .fields import parse_json, to_json, to_toml
from .looks import Looks
from .parts import (
    Between,
    Caution,
    Prior,
    Question,
    Trial,
    Variation,
    checked_between,
    field_path,
    relocated,
    texts_of,
    trials_of,
    with_changed_reading,
)

MAX_TRIALS = 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class Experiment:
    """One laboratory investigation: readings, instruments, amount models and candidates.

    The record holds what was written and read, never a computed number; amounts are worked
    out anew from the typed readings each time they are asked for.

    Parameters
    ----------
    title : str
        One line.
    consumed, produced : amount model
        How the amounts consumed and produced follow from the readings.
    instruments : mapping of str to Instrument
        By the names that the amount models use.
    candidates : tuple of Candidate
        At least one; ratios are n_produced / n_consumed.
    trials : tuple of Trial
        None while there are no readings yet: such a lab can be planned and saved, not judged.
    about : str
        The scenario.
    invented : bool
        Whether the readings are invented.
    candidate_spec : CandidateSpec, optional
        How the candidates were written down; made from ``candidates`` if left out.
    recovery : (float, float)
        Least and largest fraction of the product that is recovered and weighed as product;
        0 < least <= largest <= 10. Below 1: losses; above 1: water or residue. Each trial's may
        be anything in between.
    variation : Variation, optional
        How much the trials truly differ; if left out the readings decide as if they did not.
    between_groups : str or Variation, optional
        How much the groups of a class truly differ, beyond that: ``"1.5 %"``, ``"unknown"`` or
        ``"none"``; if left out, a stated variation between trials is all, else it is unknown.
    prior : Prior, optional
        What is thought of the candidates before the readings; all alike, and 5 % for none of
        them, if left out. It has no say in the verdict.
    coverage : float
        Coverage probability of the verdict, 0.5 to 0.9999.
    looks : Looks, optional
        How often the verdict is asked for while trials are added; once if left out. Over all
        looks planned the coverage holds together.
    shared_readings : mapping of str to str or sequence of str
        Readings that serve all trials, as typed.
    order : tuple of str
        Names of readings in the order they are made, each once; that in which the trials list
        them if left out.
    cautions : tuple of Caution
    notes : tuple of str

    Raises
    ------
    ExperimentError
        If the record is incomplete or contradicts itself; ``field`` names the place.

    Examples
    --------
    >>> from stoichkit.measurement.weighing import MassByDifference
    >>> from stoichkit.chemistry.candidates import plain_ratios
    >>> from stoichkit.measurement.displays import Balance
    >>> lab = Experiment(
    ...     title="Copper in silver nitrate",
    ...     consumed=MassByDifference(
    ...         species="Cu", heavier="wire before", lighter="wire after"),
    ...     produced=MassByDifference(species="Ag", heavier="paper + silver", lighter="paper"),
    ...     instruments={"balance": Balance(readability_g=0.01)},
    ...     candidates=plain_ratios({"copper(I)": "1", "copper(II)": "2"}),
    ...     trials=[Trial("1", {"wire before": "3.12", "wire after": "2.65",
    ...                         "paper": "0.71", "paper + silver": "2.30"})],
    ... )
    >>> lab.reading_names()
    ('wire before', 'wire after', 'paper', 'paper + silver')
    >>> (n_copper, n_silver), = lab.amounts()
    >>> print(f"{(n_silver / n_copper).nominal_value:.2f}")
    1.99
    """

    title: str
    consumed: AmountModel
    produced: AmountModel
    instruments: Mapping[str, Instrument]
    candidates: tuple[Candidate, ...]
    trials: tuple[Trial, ...]
    about: str = ""
    invented: bool = False
    candidate_spec: CandidateSpec | None = None
    recovery: tuple[float, float] = (1.0, 1.0)
    variation: Variation | None = None
    between_groups: Between = None
    prior: Prior | None = None
    coverage: float = 0.95
    looks: Looks | None = None
    shared_readings: Mapping[str, tuple[str, ...]] = FrozenMap()
    order: tuple[str, ...] = ()
    cautions: tuple[Caution, ...] = ()
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        check_head(self.title, self.about, self.invented, (self.consumed, self.produced))
        candidates, spec = checked_candidates(
            self.candidates, self.candidate_spec, self.consumed.species, self.produced.species
        )
        checked = {
            "invented": bool(self.invented),
            "recovery": checked_recovery(self.recovery),
            "variation": checked_variation(self.variation),
            "between_groups": checked_between(self.between_groups),
            "prior": checked_prior(self.prior, candidates),
            "coverage": checked_coverage(self.coverage),
            "looks": checked_looks(self.looks),
            "notes": texts_of(self.notes, "notes"),
            "cautions": checked_items(self.cautions, Caution, "cautions", 0, 100),
            "instruments": checked_instruments(self.instruments),
            "candidates": candidates,
            "candidate_spec": spec,
            "shared_readings": checked_shared(self.shared_readings),
            "trials": checked_items(self.trials, Trial, "trials", 0, MAX_TRIALS),
        }
        for name, value in checked.items():
            object.__setattr__(self, name, value)
        check_readings(self.roles(), self.shared_readings, self.trials, self.instruments)
        object.__setattr__(self, "order", checked_order(self.order, self.roles()))
        for side in ("consumed", "produced"):
            model = getattr(self, side)
            if len(model.ways) > 1:
                object.__setattr__(self, side, self._weighted(model))

    def _weighted(self, model: AmountModel) -> AmountModel:
        """Return several routes with their weights; without where the readings give no amount."""
        if not self.trials:
            return model
        pool = ErrorPool()
        try:
            return model.weighted(self.quantities(self.trials[0], pool), pool)
        except StoichkitError:
            return model  # said where the amounts are asked for

    def roles(self) -> tuple[Role, ...]:
        """Return what each reading and each filling of glassware is, without repeats.

        Raises
        ------
        ExperimentError
            If an instrument is not in the record or reads in the wrong unit, or one reading
            is said to come from two instruments.

        Examples
        --------
        >>> from stoichkit import experiments
        >>> experiments.load("copper-plating").roles()[1].unit
        's'
        """
        return roles_of(self.consumed, self.produced, self.instruments)

    def reading_names(self) -> tuple[str, ...]:
        """Return the names of the readings in the order they are made at the bench.

        That is ``order`` where it is stated, else the order in which the record lists them:
        shared readings, then those of the trials. Before there is a trial all that are needed
        are named.

        >>> from stoichkit import experiments
        >>> experiments.load("hydrate-heating").reading_names()
        ('crucible', 'crucible + crystals', 'crucible + residue')
        """
        names = dict.fromkeys((*self.order, *self.shared_readings))
        for trial in self.trials:
            names.update(dict.fromkeys(trial.readings))
        if not self.trials:
            needed = (role.name for role in self.roles() if role.needs_reading)
            names.update(dict.fromkeys(needed))
        elif self.order:
            read = {*self.shared_readings}.union(*(trial.readings for trial in self.trials))
            names = dict.fromkeys(name for name in names if name in read)
        return tuple(names)

    def example(self) -> Trial:
        """Return the first trial; before there is one, what the instruments usually show.

        Planning begins from it: the readings that follow the amounts are changed, the others
        (vessels, room conditions) stay.

        >>> from stoichkit import experiments
        >>> lab = experiments.load("magnesium-gas").with_trials([])
        >>> dict(lab.example().readings)
        {'ribbon': ('0',), 'gas volume': ('0',)}
        """
        if self.trials:
            return self.trials[0]
        by_name = {role.name: role for role in self.roles()}
        own = {
            name: (show(self.instruments[by_name[name].instrument].usual),)
            for name in self.reading_names()
            if name not in self.shared_readings and not by_name[name].once
        }
        return Trial("an example", FrozenMap(own))

    def coverage_each(self, coverage: float | None = None) -> float:
        """Return the coverage probability of one look, so that over all planned it is ``coverage``.

        That of the experiment if left out; without planned looks it is that itself.

        >>> from dataclasses import replace
        >>> from stoichkit import experiments
        >>> lab = experiments.load("copper-silver")
        >>> lab.coverage_each(), replace(lab, looks=Looks(planned=5)).coverage_each()
        (0.95, 0.9842)
        """
        whole = self.coverage if coverage is None else coverage
        if self.looks is None or self.looks.planned is None:
            return whole
        return 1 - self.looks.level(1 - whole, self.variation)

    def setting(self, side: str) -> Setting:
        """Return where the amount ``"consumed"`` or ``"produced"`` stands in this lab.

        >>> from stoichkit import experiments
        >>> experiments.load("copper-silver").setting("produced").other.species
        'Cu'
        """
        other = self.consumed if side == "produced" else self.produced
        return Setting(
            side=side, other=other, order=self.reading_names(), instruments=self.instruments
        )

    def quantities(self, trial: Trial, pool: ErrorPool) -> dict[str, Number]:
        """Return the readings of one trial as numbers with their error sources.

        Parameters
        ----------
        trial : Trial
            One of ``trials``.
        pool : ErrorPool
            Shared sources of this assessment. The same pool gives the same sources again.

        Returns
        -------
        dict of str to uncertain number
            By reading name, in the unit of the instrument; of repeated readings the last, of those
            averaged the mean.

        Raises
        ------
        ExperimentError
            If the trial is not one of this record.

        Examples
        --------
        >>> from stoichkit import experiments
        >>> lab, pool = experiments.load("copper-silver"), ErrorPool()
        >>> first = lab.quantities(lab.trials[0], pool)
        >>> sorted(first) == sorted(lab.reading_names())
        True
        """
        if trial not in (self.trials or (self.example(),)):
            raise ExperimentError(
                "This trial is not in the record.",
                field="trials",
                given=trial.name,
                allowed=", ".join(one.name for one in self.trials),
            )
        first = next((t.name for t in self.trials if t.group == trial.group), trial.name)
        return {
            role.name: pool.shared(
                ("reading", owner, role.name),
                partial(read_quantity, role, texts, owner, self.instruments, pool, first=first),
            )
            for role, texts, owner in self._readings_of(trial)
        }

    def repeats(self, name: str) -> int:
        """Return of how many readings a value of the first trial is the mean; 1 for most.

        Examples
        --------
        >>> from stoichkit import experiments
        >>> experiments.load("copper-silver").repeats("paper")
        1
        """
        role = next((role for role in self.roles() if role.name == name), None)
        if role is None or not role.averaged:
            return 1
        texts = self.shared_readings.get(name) or self.example().readings.get(name, ())
        return max(len(texts), 1)

    def roles_in(self, trial: Trial) -> tuple[Role, ...]:
        """Return the roles with the instruments of one trial, which may have its own.

        What serves all trials (a shared reading, a stock solution) is read on those of the record.

        Examples
        --------
        >>> from stoichkit.measurement.displays import Balance
        >>> from stoichkit import experiments
        >>> lab = experiments.load("tin-oxide").with_instrument("fine", Balance(readability_g=1e-3))
        >>> own = Trial("fine", lab.trials[0].readings, instruments={"balance": "fine"})
        >>> {role.instrument for role in lab.with_trials([*lab.trials, own]).roles_in(own)}
        {'fine'}
        """
        if not trial.instruments:
            return self.roles()
        return tuple(
            role
            if role.once or role.name in self.shared_readings
            else replace(role, instrument=trial.instruments.get(role.instrument, role.instrument))
            for role in self.roles()
        )

    def read_on(self, name: str) -> tuple[str, ...]:
        """Return the instruments that a reading was made on, over all trials, the coarsest first.

        Raises
        ------
        ExperimentError
            If there is no such reading.

        Examples
        --------
        >>> from stoichkit import experiments
        >>> experiments.load("copper-silver").read_on("paper")
        ('balance',)
        """
        roles = {role.name: role for role in self.roles()}
        role = roles.get(entry.text("name", name, error=ExperimentError))
        if role is None:
            raise ExperimentError("There is no such reading.", given=name, allowed=", ".join(roles))
        usual = role.instrument
        if role.once or name in self.shared_readings or not self.trials:
            return (usual,)
        found = dict.fromkeys(trial.instruments.get(usual, usual) for trial in self.trials)
        return tuple(sorted(found, key=lambda one: -self.instruments[one].readability))

    def instruments_in_words(self) -> tuple[str, ...]:
        """Describe each instrument in a sentence, and which trials were read on others.

        >>> from stoichkit import experiments
        >>> experiments.load("tin-oxide").instruments_in_words()
        ('A balance reading to 0.001 g, ...',)
        """
        said = [one.describe() for one in self.instruments.values()]
        own: dict[tuple[str, str], list[str]] = {}
        for trial in self.trials:
            for pair in trial.instruments.items():
                own.setdefault(pair, []).append(trial.name)
        for (name, other), names in own.items():
            word = "Trial" if len(names) == 1 else "Trials"
            said.append(f"{word} {', '.join(names)}: read on “{other}” in place of “{name}”.")
        return tuple(said)

    def _readings_of(self, trial: Trial) -> Iterator[tuple[Role, tuple[str, ...], str]]:
        """Yield each role with its typed texts and the trial it belongs to ("" for all)."""
        for role in self.roles_in(trial):
            shared = role.once or role.name in self.shared_readings
            texts = (self.shared_readings if shared else trial.readings).get(role.name, ())
            if texts or not role.needs_reading:
                yield role, texts, "" if shared else trial.name

    def amounts(self, pool: ErrorPool | None = None) -> list[tuple[Number, Number]]:
        """Return the amounts consumed and produced in each trial, in mol.

        Parameters
        ----------
        pool : ErrorPool, optional
            Shared sources of this assessment; a new one if left out.

        Raises
        ------
        ExperimentError
            If readings are physically impossible; ``field`` names the trial.

        Examples
        --------
        >>> from stoichkit import experiments
        >>> n_magnesium, n_hydrogen = experiments.load("magnesium-gas").amounts()[0]
        >>> print(f"{1000 * n_hydrogen:.3f} mmol")
        1.262+/-0.004 mmol
        """
        return self.amounts_by(self.consumed, self.produced, pool)

    def amounts_by(
        self, consumed: AmountModel, produced: AmountModel, pool: ErrorPool | None = None
    ) -> list[tuple[Number, Number]]:
        """Return the same by other ways from the same readings, such as one of several routes.

        Examples
        --------
        >>> from stoichkit import experiments
        >>> lab = experiments.load("copper-silver")
        >>> (one, other), *_ = lab.amounts_by(lab.consumed, lab.consumed)
        >>> (one - other).std_dev
        0.0
        """
        for name, model in (("consumed", consumed), ("produced", produced)):
            if not isinstance(model, AmountModel):
                raise ExperimentError("This is not an amount model.", field=name, given=model)
        pool = ErrorPool() if pool is None else pool
        found = []
        for index, trial in enumerate(self.trials, start=1):
            values = self.quantities(trial, pool)
            try:
                pair = (consumed.amount(values, pool), produced.amount(values, pool))
            except StoichkitError as error:
                raise relocated(error, field=field_path("trials", index)) from error
            found.append(pair)
        return found

    def assumptions(self) -> tuple[str, ...]:
        """Return, as sentences, what was assumed about the instruments because it was not stated.

        Only instruments that a reading uses count; each sentence begins with the name of its
        instrument where that is not its kind.

        >>> from stoichkit import experiments
        >>> experiments.load("copper-plating").assumptions()
        ('The repeatability of the timer was not stated; 0.5 s is assumed (half the ...).',)
        """
        own = (role for t in self.trials if t.instruments for role in self.roles_in(t))
        everything = (*self.roles(), *own)
        return assumptions_of(everything, self.instruments)

    def questions(self) -> tuple[Question, ...]:
        """Return what looks odd about the readings, and heating that may not be finished.

        Examples
        --------
        >>> from stoichkit import experiments
        >>> lab = experiments.load("copper-silver")
        >>> odd = lab.with_reading(lab.trials[0].name, "wire before", "3.1")
        >>> len(odd.questions()) - len(lab.questions())
        1
        """
        found: dict[Question, None] = {}
        for trial in self.trials:
            typed = {entry[0].name: entry for entry in self._readings_of(trial)}
            for name in (*self.shared_readings, *trial.readings):
                role, texts, owner = typed[name]
                asked = questions_about(role, texts, self.instruments[role.instrument])
                found.update(dict.fromkeys(Question(owner, name, text) for text in asked))
        ways = (*self.consumed.ways, *self.produced.ways)
        empty = {name for way in ways for name in way.empty_vessels}
        for role in self.roles():
            if role.same_vessel and role.name in empty:
                for group in dict.fromkeys(trial.group for trial in self.trials):
                    read = (t.readings.get(role.name) for t in self.trials if t.group == group)
                    last = [one[-1] for one in read if one]
                    balance = self.instruments[self.read_on(role.name)[0]]
                    text = vessel_question(role.name, last, balance)
                    if text:
                        found[Question("", role.name, text)] = None
        return tuple(found)

    def with_reading(self, trial: str, name: str, text: str | Iterable[str]) -> Experiment:
        """Return a record with one reading changed.

        Parameters
        ----------
        trial : str
            Name of the trial; "" for a reading that all trials share.
        name : str
            Name of the reading.
        text : str or iterable of str
            What was read, as typed.

        Raises
        ------
        ExperimentError
            If there is no such trial or reading, or the text is not a number.

        Examples
        --------
        >>> from stoichkit import experiments
        >>> lab = experiments.load("tin-oxide").with_reading("1", "crucible", "17,650")
        >>> lab.trials[0].readings["crucible"]
        ('17,650',)
        """
        if not entry.text("trial", trial, error=ExperimentError):
            shared: Any = {**self.shared_readings, name: text}
            return replace(self, shared_readings=shared)
        return replace(self, trials=with_changed_reading(self.trials, trial, name, text))

    def with_trials(self, trials: Iterable[Trial]) -> Experiment:
        """Return a record with other trials.

        >>> from stoichkit import experiments
        >>> lab = experiments.load("tin-oxide")
        >>> len(lab.with_trials(lab.trials[:2]).trials)
        2
        """
        return replace(self, trials=entry.listed("trials", trials, Trial, error=ExperimentError))

    def with_readings(
        self, readings: Mapping[str, Iterable[str | Iterable[str]]], *, names: Iterable[str] = ()
    ) -> Experiment:
        """Return a record with trials made of columns of readings, in place of those it has.

        Parameters
        ----------
        readings : mapping of str to list of str
            By the name of the reading what was read in each trial, as typed; a list in the place
            of a text where a reading is made several times. "" where an optional one is left out.
        names : list of str, optional
            Names of the trials; "1", "2" and so on if left out.

        Raises
        ------
        ExperimentError
            If the columns are not equally long, a reading is missing or not known, or a text is
            not a number.

        Examples
        --------
        >>> from stoichkit import experiments
        >>> lab = experiments.load("copper-silver").with_readings({
        ...     "wire before": ["2.94", "3.10"], "wire after": ["2.82", "3.00"],
        ...     "paper": ["0.75", "0.70"], "paper + silver": ["1.15", "1.04"]})
        >>> [trial.name for trial in lab.trials], lab.trials[1].readings["wire before"]
        (['1', '2'], ('3.10',))
        """
        return replace(self, trials=trials_of(readings, names, self.reading_names()))

    def with_instrument(self, name: str, instrument: Instrument) -> Experiment:
        """Return a record with one instrument replaced or added.

        >>> from stoichkit import experiments
        >>> from stoichkit.measurement.displays import Balance
        >>> lab = experiments.load("copper-silver")
        >>> lab.with_instrument("balance", Balance(readability_g=0.1)).instruments["balance"]
        Balance(readability_g=0.1, ...)
        """
        return replace(self, instruments={**self.instruments, name: instrument})

    def with_candidates(self, candidates: Iterable[Candidate] | CandidateSpec) -> Experiment:
        """Return a record with other candidates, finished or as they are written down.

        Weights of candidates that are no longer among them are left out of the prior.

        >>> from stoichkit import experiments
        >>> spec = CandidateSpec("formulas", {"list": ["SnO", "Sn2O3", "SnO2"]})
        >>> [c.name for c in experiments.load("tin-oxide").with_candidates(spec).candidates]
        ['SnO', 'Sn2O3', 'SnO2']
        """
        if isinstance(candidates, CandidateSpec):
            try:
                built = candidates.build(self.consumed.species, self.produced.species)
            except ExperimentError as error:
                raise relocated(error, field="candidates") from error
            return self._of(built, candidates)
        listed = entry.listed("candidates", candidates, Candidate, error=ExperimentError)
        return self._of(listed, None)

    def _of(self, candidates: tuple[Candidate, ...], spec: CandidateSpec | None) -> Experiment:
        prior = self.prior and self.prior.among(c.name for c in candidates)
        return replace(self, candidates=candidates, candidate_spec=spec, prior=prior)

    def to_toml(self) -> str:
        """Write the record as TOML; :func:`parse_experiment` reads it back, equal.

        >>> from stoichkit import experiments
        >>> print(experiments.load("copper-silver").to_toml().splitlines()[1])
        title = "Copper wire in silver nitrate"
        """
        return to_toml(self)

    def to_json(self) -> str:
        """Write the record as JSON with the same fields as the TOML form.

        >>> from stoichkit import experiments
        >>> lab = experiments.load("copper-silver")
        >>> Experiment.from_json(lab.to_json()) == lab
        True
        """
        return to_json(self)

    @staticmethod
    def from_json(text: str) -> Experiment:
        """Read a record that :meth:`to_json` wrote.

        Raises
        ------
        ExperimentError
            If the text is not JSON, or the record is faulty; ``field`` names the place.

        Examples
        --------
        >>> Experiment.from_json('{"title": "tin"}')
        Traceback (most recent call last):
        stoichkit.errors.ExperimentError: instruments: This field is missing.
        """
        return Experiment(**parse_json(text))
