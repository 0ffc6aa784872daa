"""What the causes panel holds: the lab shared with the readings panel, and what is chosen here.

Plain Python without Jupyter. The readings are not copied: they stay in the
:class:`.ReadingsState`, which other panels may share.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import IntEnum
from typing import Any

from ..balance import Balance
from ..effects import effects_for
from ..errors import FormulaError, ModelError
from ..evidence import Evidence
from ..experiment import Experiment
from ..formula import parse_formula
from .causes_findings import Question, usual_candidate
from .drying_text import DryingOutcome, weighed
from .evaluation import Refusal, refusal_of
from .state import Change, ReadingsState

__all__ = ["CausesChange", "CausesState", "Choices", "together"]


_PART = "causes"
"""Name under which the choices are remembered in the history."""


class CausesChange(IntEnum):
    """What subscribers are told has changed, the most far-reaching last."""

    DRYING = 0
    CHOICE = 1
    READINGS = 2
    LOADED = 3


def together(one: CausesChange, other: CausesChange) -> CausesChange:
    """Return the change that stands for both.

    >>> together(CausesChange.DRYING, CausesChange.CHOICE).name
    'READINGS'
    """
    return one if one is other else max(one, other, CausesChange.READINGS)


@dataclass(frozen=True, slots=True)
class Choices:
    """What is typed and chosen for one lab, exactly as typed.

    Attributes
    ----------
    candidate : str
        "" until one is chosen.
    residue : str
        Formula of the salt that poor washing would leave.
    pair : (str, str)
        Keys of the two effects to be combined; empty until they are chosen.
    weighings : str
        Lines of time in min and mass in g.
    balance : str
        Name of the balance they were made on; "" for the first one.
    """

    candidate: str = ""
    residue: str = ""
    pair: tuple[str, str] = ("", "")
    weighings: str = ""
    balance: str = ""


class CausesState:
    """The lab, the chosen candidate and effects, and the typed weighings of the drying.

    Parameters
    ----------
    readings : ReadingsState, Experiment or str
        The state to be shared, or what a new one is made of.

    Attributes
    ----------
    readings : ReadingsState
    choices : Choices
        Change it through the methods, which tell the subscribers. Another experiment brings
        fresh choices; undoing that in the history of the readings brings the old ones back.

    Raises
    ------
    ExperimentError
        If there is no such experiment, or the text is faulty.

    Examples
    --------
    >>> state = CausesState("copper-silver")
    >>> state.candidate, state.verdict_current
    ('copper(I)', True)
    >>> state.set_residue("AgNO_3!")
    >>> state.residue_refusal is not None, state.choices.residue, state.residue
    (True, 'AgNO_3!', '')
    """

    def __init__(self, readings: ReadingsState | Experiment | str = "copper-silver") -> None:
        self.readings = readings if isinstance(readings, ReadingsState) else ReadingsState(readings)
        self.choices = Choices()
        self._subscribers: list[Callable[[CausesChange], None]] = []
        self._good_residue = ""
        self._stop = self.readings.subscribe(self._follow)
        self.readings.history.join(_PART, lambda: self.choices, self.restore)

    def stop(self) -> None:
        """Stop listening to the readings, and leave their history."""
        self._stop()
        self.readings.history.leave(_PART)

    def subscribe(self, callback: Callable[[CausesChange], None]) -> Callable[[], None]:
        """Have a function called after each change; the function returned ends that."""
        self._subscribers.append(callback)

        def stop() -> None:
            if callback in self._subscribers:
                self._subscribers.remove(callback)

        return stop

    # The lab

    @property
    def evidence(self) -> Evidence | None:
        """Evidence of the readings; see :attr:`.ReadingsState.evidence`."""
        return self.readings.evidence

    @property
    def experiment(self) -> Experiment:
        """The record that the evidence is of."""
        return self.readings.experiment

    @property
    def verdict_current(self) -> bool:
        """Whether the evidence is that of the texts as they stand."""
        return self.readings.outcome.current

    @property
    def candidates(self) -> tuple[str, ...]:
        """Names of the candidates that can be chosen."""
        return () if self.evidence is None else tuple(self.evidence.candidates)

    @property
    def candidate(self) -> str:
        """The chosen candidate; :func:`.usual_candidate` until one is chosen; "" if none is."""
        if self.choices.candidate in self.candidates:
            return self.choices.candidate
        return usual_candidate(self.evidence) if self.evidence is not None else ""

    @property
    def effects(self) -> tuple[tuple[str, str], ...]:
        """Key and name of the effects that can occur in this lab."""
        return tuple((one.key, one.name) for one in effects_for(self.experiment))

    @property
    def question(self) -> Question | None:
        """What there is to be found; None while there is no evidence."""
        if self.evidence is None:
            return None
        return Question(
            evidence=self.evidence,
            candidate=self.candidate,
            residue=self.residue,
            pair=self.choices.pair,
        )

    def choose(self, candidate: str) -> None:
        """Take another candidate.

        Raises
        ------
        ModelError
            If there is no such candidate.
        """
        if candidate not in self.candidates:
            raise ModelError(
                "There is no such candidate.", given=candidate, allowed=", ".join(self.candidates)
            )
        self._change(CausesChange.CHOICE, f"chose {candidate}", candidate=candidate)

    def combine(self, key_a: str, key_b: str) -> None:
        """Take two other effects to be combined.

        Raises
        ------
        ModelError
            If one does not occur in this lab, or both are the same; nothing has changed then.
        """
        keys = [key for key, _ in self.effects]
        for key in (key_a, key_b):
            if key not in keys:
                raise ModelError(
                    "There is no such effect in this lab.", given=key, allowed=", ".join(keys)
                )
        if key_a == key_b:
            raise ModelError("Both effects are the same.", fix="Choose two different ones.")
        self._change(CausesChange.CHOICE, "chose two effects", pair=(key_a, key_b))

    # The residue

    def set_residue(self, text: str) -> None:
        """Take over the formula of the salt as typed; an empty one is none in particular."""
        self._change(CausesChange.CHOICE, "typed the residue", residue=text)

    @property
    def residue(self) -> str:
        """The last formula typed that could be used."""
        return self._good_residue

    @property
    def residue_refusal(self) -> Refusal | None:
        """Why the formula typed cannot be used; None if it can."""
        try:
            self._residue_formula()
        except FormulaError as error:
            return refusal_of(error)
        return None

    def _residue_formula(self) -> str:
        typed = self.choices.residue.strip()
        if not typed:
            return ""
        formula = parse_formula(typed)
        if formula.charge:
            raise FormulaError(
                "The formula has a charge, and a salt has none.",
                given=typed,
                fix="Type all of its ions, such as AgNO3.",
            )
        return typed

    # Drying

    @property
    def balances(self) -> tuple[str, ...]:
        """Names of the balances of this lab."""
        instruments = self.experiment.instruments.items()
        return tuple(name for name, one in instruments if isinstance(one, Balance))

    @property
    def balance(self) -> str:
        """The balance chosen for drying; the first one until one is chosen, "" without any."""
        if self.choices.balance in self.balances:
            return self.choices.balance
        return next(iter(self.balances), "")

    def set_weighings(self, text: str) -> None:
        """Take over the lines of time and mass as typed; see :func:`.read_weighings`."""
        self._change(CausesChange.DRYING, "typed the drying", weighings=text)

    def set_balance(self, name: str) -> None:
        """Take another balance for the drying.

        Raises
        ------
        ModelError
            If this lab has no such balance.
        """
        if name not in self.balances:
            raise ModelError(
                "There is no balance of that name.",
                given=name,
                allowed=", ".join(self.balances) or None,
            )
        self._change(CausesChange.DRYING, f"chose {name} for the drying", balance=name)

    @property
    def drying(self) -> DryingOutcome:
        """What the weighings typed say about dryness.

        >>> state = CausesState("tin-oxide")
        >>> state.set_weighings("0 1.842; 10 1.571")
        >>> print(state.drying.refusal.problem)
        Line 1: this is not a time and a mass.
        """
        balance = self.experiment.instruments.get(self.balance)
        found = balance if isinstance(balance, Balance) else None
        return weighed(self.choices.weighings, found)

    # Changes

    def restore(self, choices: Choices) -> None:
        """Bring back what was typed and chosen."""
        self.choices, self._good_residue = choices, ""
        self._keep_residue()
        self._tell(CausesChange.LOADED)

    def _change(self, change: CausesChange, words: str, **fields: Any) -> None:
        """Take over a field unless it is as it was; texts typed on are one step to undo."""
        changed = replace(self.choices, **fields)
        if changed == self.choices:
            return
        typed = fields.keys() & {"residue", "weighings"}
        self.readings.history.record(words, key=(_PART, *typed) if typed else None)
        self.choices = changed
        self._keep_residue()
        self._tell(change)

    def _keep_residue(self) -> None:
        if self.residue_refusal is None:
            self._good_residue = self._residue_formula()

    def _follow(self, change: Change) -> None:
        """Pass a change of the readings on; another lab has choices of its own."""
        if change is Change.FORM:
            self.restore(Choices())
        else:
            self._tell(CausesChange.READINGS)

    def _tell(self, change: CausesChange) -> None:
        for callback in tuple(self._subscribers):
            callback(change)
