"""What labs of a plan would find: simulated on its balance, on another, and on several.

Plain Python without Jupyter. There is one set of figures: those of the plan.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from functools import lru_cache
from typing import Any

from ...decision.evidence import assess
from ...errors import ModelError, StoichkitError
from ...experiments.record import Experiment
from ...planning.design import with_readability
from ...planning.outcomes import Chances
from ...planning.plan import NOTHING, Plan, chances
from ...planning.sentences import chance_text, step_text
from ...planning.simulation import Counts, SimulatedLabs, simulate_labs
from ...text.parts import Table
from ..kit.telling import Telling
from ..kit.work import Report, silent
from .plan import USUAL_STEPS_G, PlanState

LABS = 400
_PART = "labs"


@dataclass(frozen=True, slots=True)
class Row:
    """The same true masses on one balance."""

    readability_g: float
    counts: Counts
    chances: Chances


def truths_of(base: Experiment) -> tuple[str, ...]:
    """Return what may be taken as true: a candidate, or that nothing reacted.

    >>> from stoichkit import experiments
    >>> truths_of(experiments.load("copper-silver"))
    ('copper(I)', 'copper(II)', 'nothing reacted')
    """
    return tuple(dict.fromkeys([*(c.name for c in base.candidates), NOTHING]))


def compared(plans: Mapping[float, Plan], truth: str, report: Report = silent) -> tuple[Row, ...]:
    """Return counts and exact chances of plans by the step of their balance, the first first."""
    rows: list[Row] = []
    for step, plan in plans.items():
        said = f"Working out the exact chances, balance {len(rows) + 1} of {len(plans)} …"
        report(said)
        counts = simulate_labs(plan, truth, labs=LABS).counts
        report(said)
        rows.append(Row(step, counts, chances(plan, truth)))
    return tuple(sorted(rows, key=lambda row: -row.readability_g))


def comparison_table(rows: Sequence[Row], truth: str) -> Table:
    """Return simulated labs beside exact chances, a row for each balance.

    >>> rows = [Row(0.1, Counts(10, 0, 390, 0), Chances(0.02, 0.0, 0.97, 0.01))]
    >>> comparison_table(rows, "SnO2").rows[0][:3]
    ('0.1 g', '10; 0.02', '390; 0.97')
    """
    parts = ["right", "not_told_apart", "none_fits", "wrong"]
    header = ["balance reads to", f"{truth} singled out", "not told apart", "none fits", "wrong"]
    if any(row.counts.cannot_be_judged for row in rows):
        parts.append("cannot_be_judged")
        header.append("cannot be judged")
    cells = tuple(
        (
            step_text(row.readability_g),
            *(
                f"{getattr(row.counts, part)}; {chance_text(getattr(row.chances, part))}"
                for part in parts
            ),
        )
        for row in rows
    )
    total = rows[0].counts.labs if rows else LABS
    caption = (
        f"The same true masses on several balances; in each cell: of {total} simulated labs; "
        "exact chance"
    )
    return Table(tuple(header), cells, caption)


@lru_cache(maxsize=8)
def usual_truth(base: Experiment) -> str:
    """Return the candidate nearest to the readings of a record; its first one without readings.

    >>> from stoichkit import experiments
    >>> usual_truth(experiments.load("copper-silver"))
    'copper(II)'
    """
    try:
        return assess(base).nearest.name
    except StoichkitError:
        return base.candidates[0].name


@dataclass(frozen=True, slots=True)
class Choices:
    """What is taken as true, and the step of the balance; "" for what is usual."""

    truth: str = ""
    step: str = ""


class LabsState(Telling[None]):
    """Labs of the plan: which candidate is true in them, and what balance they have.

    >>> state = LabsState(PlanState("copper-silver"))
    >>> state.truth, state.step_g, state.simulate().counts.right > 380
    ('copper(II)', 0.01, True)
    >>> state.plan.set("trials", "1"); state.set_step(0.1)
    >>> state.simulate().counts.not_told_apart > 300, state.plan.texts["readability"]
    (True, '0.01')
    """

    def __init__(self, plan: PlanState) -> None:
        super().__init__()
        self.plan = plan
        self.choices = Choices()
        self._base = plan.base
        plan.history.join(_PART, lambda: self.choices, self.restore)
        plan.subscribe(self._follow)

    def _follow(self, loaded: bool) -> None:
        """Another lab is looked at with its own balance."""
        base = self.plan.base
        if loaded and (base.consumed, base.produced) != (self._base.consumed, self._base.produced):
            self._base = base
            if not self.plan.history.restoring:
                self.choices = Choices()

    @property
    def truths(self) -> tuple[str, ...]:
        """What may be taken as true."""
        return truths_of(self.plan.base)

    @property
    def truth(self) -> str:
        """What is taken as true: what was chosen, or else the candidate nearest to the readings."""
        chosen = self.choices.truth
        return chosen if chosen in self.truths else usual_truth(self.plan.base)

    @property
    def steps_g(self) -> tuple[float, ...]:
        """Steps of balances that can be looked at, in the room or not, g; none without weighing."""
        own = self.plan.balance_g
        return () if own != own else tuple(sorted({*USUAL_STEPS_G, *self.plan.marked_g}))

    @property
    def step_g(self) -> float:
        """Step of the balance that is looked at, g; nan where nothing is weighed."""
        own, chosen = self.plan.balance_g, self.choices.step
        return float(chosen) if chosen and float(chosen) in self.steps_g else own

    def set_truth(self, name: str) -> None:
        """Take another candidate as true, or that nothing reacted."""
        if name not in self.truths:
            allowed = ", ".join(self.truths)
            raise ModelError("There is no such candidate.", given=name, allowed=allowed)
        self._set("chose the candidate that is true", truth=name)

    def set_step(self, step_g: float) -> None:
        """Look at the labs on another balance; the step of the plan's own leads back to it."""
        if step_g not in self.steps_g:
            allowed = ", ".join(map(step_text, self.steps_g))
            raise ModelError("There is no such step.", given=step_g, allowed=allowed)
        text = "" if step_g == self.plan.balance_g else repr(step_g)
        self._set("looked at another balance", key=(_PART, "step"), step=text)

    def _set(self, words: str, *, key: object = None, **values: Any) -> None:
        changed = replace(self.choices, **values)
        if changed != self.choices:
            self.plan.history.record(words, key=key)
            self.restore(changed)

    def restore(self, choices: Choices) -> None:
        """Bring back what was chosen."""
        self.choices = choices
        self._tell(None)

    def tables(self) -> dict[str, str]:
        """Return what is chosen, to be kept."""
        return asdict(self.choices)

    def restore_tables(self, tables: object) -> None:
        """Bring back what was kept, as far as it can still be chosen.

        >>> state = LabsState(PlanState("copper-silver"))
        >>> state.restore_tables({"truth": "copper(I)", "step": "0.15"}); state.choices
        Choices(truth='copper(I)', step='')
        """
        kept = tables if isinstance(tables, Mapping) else {}
        known = {"truth": set(self.truths), "step": {repr(one) for one in self.steps_g}}
        texts = {name: kept[name] for name in known if kept.get(name) in known[name]}
        self.restore(Choices(**texts))

    def plan_on(self, step_g: float) -> Plan:
        """Return the plan on a balance read to another step, g."""
        plan = self.plan.figures.plan
        if step_g != step_g or step_g == self.plan.balance_g:
            return plan
        return replace(plan, experiment=with_readability(plan.experiment, step_g))

    @property
    def looked_at(self) -> Plan:
        """The plan on the balance that is looked at."""
        return self.plan_on(self.step_g)

    def simulate(self) -> SimulatedLabs:
        """Return simulated labs, the same luck for every plan."""
        return simulate_labs(self.looked_at, self.truth, labs=LABS)

    @property
    def compared_g(self) -> tuple[float, ...]:
        """Steps to be compared: of the balance looked at, of the plan's, and of the room's."""
        if not self.steps_g:
            return ()
        return tuple(dict.fromkeys([self.step_g, self.plan.balance_g, *self.plan.marked_g]))

    def comparison(self, report: Report = silent) -> tuple[Row, ...]:
        """Return counts and exact chances of the same true masses on several balances."""
        return compared({step: self.plan_on(step) for step in self.compared_g}, self.truth, report)
