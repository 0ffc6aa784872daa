"""What the panel “What the balance can tell” holds: a plan, its simulated labs, its chances.

Plain Python without Jupyter.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

from ...decision.evidence import assess
from ...errors import ModelError
from ...experiments.record import Experiment
from ...measurement.displays import Balance
from ...planning.design import with_readability
from ...planning.plan import Plan
from ...planning.sentences import (
    amount_label,
    consumed_molar_mass,
    meaning_sentence,
    setting_sentence,
)
from ...planning.simulation import SimulatedLabs, simulate_labs
from ..kit.history import History
from ..kit.telling import Telling
from ..kit.work import Report, silent
from .labs import AT_HAND_G, LABS, Row, compared, truths_of
from .plan import typical_amount
from .readings import read_source

READABILITIES_G = (
    *(float(f"{digit}e{power}") for power in (-4, -3, -2, -1) for digit in (1, 2, 5)),
    1.0,
)
"""Display steps that the slider offers, g."""
_SPREAD = 0.1


@dataclass(frozen=True, slots=True)
class Chosen:
    """All that is chosen in the panel; see :class:`BalanceState`."""

    base: Experiment
    name: str
    truth: str
    readability_g: float
    repeatability_steps: float
    amount: float
    trials: int
    stops: tuple[float, ...]


def amount_stops(typical: float) -> tuple[float, ...]:
    """Return amounts from a hundredth of a typical one to ten times it, evenly on a log scale.

    >>> stops = amount_stops(0.1)
    >>> stops[0], stops[-1], len(stops)
    (0.001, 1.0, 121)
    """
    low = math.log10(typical) - 2
    return tuple(float(f"{10 ** (low + i / 40):.3g}") for i in range(121))


class BalanceState(Telling[bool]):
    """The plan chosen in the panel and what follows from it.

    >>> state = BalanceState("copper-silver")
    >>> state.set_readability(0.1)
    >>> state.labs.counts.not_told_apart > 300
    True
    """

    base: Experiment
    name: str
    truth: str
    readability_g: float
    repeatability_steps: float
    amount: float
    trials: int
    stops: tuple[float, ...]

    def __init__(
        self,
        source: Experiment | str = "copper-silver",
        *,
        name: str = "",
        history: History | None = None,
    ) -> None:
        super().__init__()
        self._labs: SimulatedLabs | None = None
        self.simulations = 0
        self.history = History() if history is None else history
        self._take(_first(*read_source(source, name)))
        self.history.join("balance", self.chosen, self.restore)

    def load(self, source: Experiment | str, *, name: str = "") -> None:
        """Begin with another experiment: less than its usual amount, its own balance.

        The candidate taken as true is the one nearest to its readings.
        """
        chosen = _first(*read_source(source, name))
        self.history.record(f"opened {chosen.name or chosen.base.title}")
        self._take(chosen)
        self._changed(loaded=True)

    def follow(self, base: Experiment) -> None:
        """Go on with the same lab after its record was changed; keep what can be kept.

        The balance is taken from the record if it was changed there; the candidate taken as true
        stays if it is still one.

        >>> state = BalanceState("copper-silver")
        >>> state.set_amount(0.2)
        >>> state.follow(with_readability(state.base, 0.1))
        >>> state.readability_g, state.amount
        (0.1, 0.2)
        """
        first = _first(base, self.name)
        balance = _balance(self.base) != _balance(base)
        self._take(
            replace(
                self.chosen(),
                base=base,
                truth=self.truth if self.truth in truths_of(base) else first.truth,
                readability_g=first.readability_g if balance else self.readability_g,
                repeatability_steps=(
                    first.repeatability_steps if balance else self.repeatability_steps
                ),
            )
        )
        self._changed(loaded=True)

    def chosen(self) -> Chosen:
        """Return all that is chosen."""
        return Chosen(**{name: getattr(self, name) for name in Chosen.__slots__})

    def restore(self, chosen: Chosen) -> None:
        """Bring back what was chosen."""
        loaded = chosen.base != self.base
        self._take(chosen)
        self._changed(loaded=loaded)

    def _take(self, chosen: Chosen) -> None:
        for name in Chosen.__slots__:
            setattr(self, name, getattr(chosen, name))

    @property
    def amount_label(self) -> str:
        """Label of the amount, without its unit."""
        text = amount_label(self.base).rpartition(",")[0]
        return text[:1].upper() + text[1:]

    @property
    def amount_unit(self) -> str:
        """Unit of the amount: g, or mmol for electrons."""
        return amount_label(self.base).rpartition(", ")[2]

    def set_truth(self, name: str) -> None:
        """Take another candidate as true, or that nothing reacted."""
        names = truths_of(self.base)
        if name not in names:
            raise ModelError("There is no such candidate.", given=name, allowed=", ".join(names))
        self._set("chose the candidate that is true", truth=name)

    def set_readability(self, value_g: float) -> None:
        """Choose the display step of the balances, in g, 0.00001 to 10."""
        self._set("set the readability", readability_g=_checked("readability", value_g, 1e-5, 10.0))

    def set_repeatability(self, steps: float) -> None:
        """Choose the repeatability in display steps, 0 (digits only) to 10."""
        value = _checked("repeatability in steps", steps, 0.0, 10.0)
        self._set("set the repeatability", repeatability_steps=value)

    def set_amount(self, value: float) -> None:
        """Choose the amount to react in each trial, in g (mmol for electrons); above 0."""
        self._set("set the amount", amount=_checked("amount to react", value, 1e-9, 1e6))

    def set_trials(self, number: float) -> None:
        """Choose the number of trials, 1 to 16."""
        if number != int(number):
            raise ModelError("The number of trials is not whole.", given=number)
        self._set(
            "set the number of trials", trials=int(_checked("number of trials", number, 1, 16))
        )

    def _set(self, words: str, **values: Any) -> None:
        if all(getattr(self, name) == value for name, value in values.items()):
            return
        self.history.record(words, key=("balance", *values))
        for name, value in values.items():
            setattr(self, name, value)
        self._changed()

    def _changed(self, *, loaded: bool = False) -> None:
        self._labs = None
        self._tell(loaded)

    def plan_on(self, readability_g: float) -> Plan:
        """Return the plan on a balance read to another step, g."""
        experiment = with_readability(self.base, readability_g)
        for name, instrument in experiment.instruments.items():
            if isinstance(instrument, Balance):
                noise = self.repeatability_steps * readability_g
                experiment = experiment.with_instrument(
                    name, replace(instrument, repeatability_g=noise)
                )
        return Plan(
            experiment=experiment,
            consumed_mol=self.amount / consumed_molar_mass(self.base),
            trials=self.trials,
            spread=_SPREAD,
        )

    @property
    def plan(self) -> Plan:
        """The plan as it is chosen."""
        return self.plan_on(self.readability_g)

    @property
    def labs(self) -> SimulatedLabs:
        """Simulated labs of the plan, the same luck for every plan; kept until it changes."""
        if self._labs is None:
            self.simulations += 1
            self._labs = simulate_labs(self.plan, self.truth, labs=LABS)
        return self._labs

    @property
    def sentence(self) -> str:
        """What the labs mean."""
        return meaning_sentence(self.labs)

    @property
    def setting(self) -> str:
        """What is planned."""
        return setting_sentence(self.plan)

    @property
    def compared_g(self) -> tuple[float, ...]:
        """Display steps to be compared: of the chosen balance and of those at hand, g."""
        return tuple(sorted({self.readability_g, *AT_HAND_G}, reverse=True))

    def comparison(self, report: Report = silent) -> tuple[Row, ...]:
        """Return counts and exact chances of the same true masses on several balances.

        >>> rows = BalanceState("copper-silver").comparison()
        >>> [row.readability_g for row in rows]
        [0.1, 0.01, 0.001]
        """
        steps = sorted(self.compared_g, key=lambda s: s != self.readability_g)
        return compared({step: self.plan_on(step) for step in steps}, self.truth, report)


def _checked(what: str, value: float, low: float, high: float) -> float:
    if not (math.isfinite(value) and low <= value <= high):
        raise ModelError(f"The {what} cannot be used.", given=value, allowed=f"{low:g} to {high:g}")
    return float(value)


def _balance(experiment: Experiment) -> Balance:
    for instrument in experiment.instruments.values():
        if isinstance(instrument, Balance):
            return instrument
    raise ModelError(
        "This experiment has no balance.",
        fix="Choose one in which something is weighed.",
    )


def _first(base: Experiment, name: str) -> Chosen:
    """Return what is chosen at first: less than the usual amount, the balance of the record."""
    balance = _balance(base)
    typical = 0.4 * typical_amount(base)
    return Chosen(
        base,
        name,
        truth=assess(base).nearest.name if base.trials else base.candidates[0].name,
        readability_g=balance.readability_g,
        repeatability_steps=float(f"{balance.repeatability / balance.readability_g:.3g}"),
        amount=float(f"{typical:.2g}"),
        trials=1,
        stops=amount_stops(float(f"{typical:.1g}")),
    )
