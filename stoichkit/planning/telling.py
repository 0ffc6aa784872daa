"""How often a design would have told, at its own display step and at coarser and finer ones."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

from ..errors import ModelError
from ..experiments.record import Experiment
from ..measurement.displays import Balance
from ..uncertainty import entry
from ..uncertainty.sources import nominal
from .design import with_readability
from .plan import MOST_TRIALS, Plan, chances

STEPS_G = (0.0001, 0.0002, 0.0005, 0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5)
"""Display steps of balances, g."""
NEARLY_ALWAYS, ONE_OF_TWO = 0.9, 0.5


@dataclass(frozen=True)
class Foretold:
    """How often labs of one design come to the right conclusion, by the step of the balance.

    Each step is worked out when it is asked for.

    Attributes
    ----------
    plan : Plan
        The design with its own balance.
    step_g : float
        Its step, g.
    steps_g : tuple of float
        Steps worth comparing, g, rising.
    """

    plan: Plan
    step_g: float
    steps_g: tuple[float, ...]

    def told(self, step_g: float) -> float:
        """Return the share of labs that single out the truth, averaged over the candidates."""
        return _told(self.plan, step_g)

    @property
    def share(self) -> float:
        """The share at the step that is used."""
        return self.told(self.step_g)

    @cached_property
    def coarsest_g(self) -> float:
        """The coarsest of the steps at which nearly all labs tell; nan if there is none."""
        at = self.steps_g.index(self.step_g)
        if self.share >= NEARLY_ALWAYS:
            while at + 1 < len(self.steps_g) and self.told(self.steps_g[at + 1]) >= NEARLY_ALWAYS:
                at += 1
            return self.steps_g[at]
        while at > 0:
            at -= 1
            if self.told(self.steps_g[at]) >= NEARLY_ALWAYS:
                return self.steps_g[at]
        return math.nan


@lru_cache(maxsize=256)
def _told(plan: Plan, step_g: float) -> float:
    lab = plan.experiment
    changed = replace(
        plan, experiment=lab if step_g == step_of(lab) else with_readability(lab, step_g)
    )
    return math.fsum(chances(changed, one.name).right for one in lab.candidates) / len(
        lab.candidates
    )


def plan_of(experiment: Experiment, consumed_mol: float | None = None) -> Plan:
    """Return the design of a lab that was done: its trials, and the amount that reacted.

    Raises
    ------
    ModelError
        If nothing above zero reacted, or there are too many trials.
    """
    if consumed_mol is None:
        amounts = [nominal(a) for a, _ in experiment.amounts()]
        consumed_mol = math.fsum(amounts) / len(amounts) if amounts else 0.0
    else:
        consumed_mol = entry.number("consumed_mol", consumed_mol, above=0)
    if consumed_mol <= 0:
        raise ModelError("No amount above zero reacted, so that there is nothing to foretell.")
    trials = min(len(experiment.trials), MOST_TRIALS)
    return Plan(experiment=experiment, consumed_mol=consumed_mol, trials=trials, spread=0.15)


def step_of(experiment: Experiment) -> float:
    """Return the coarsest display step of the balances of a lab, g; nan without a balance.

    >>> from stoichkit import experiments
    >>> step_of(experiments.load("tin-oxide"))
    0.001
    """
    balances = (one for one in experiment.instruments.values() if isinstance(one, Balance))
    return max((one.readability_g for one in balances), default=math.nan)


def steps_around(experiment: Experiment) -> tuple[float, ...]:
    """Return the display steps worth comparing: the lab's own, and some to both sides.

    >>> from stoichkit import experiments
    >>> steps_around(experiments.load("copper-silver"))
    (0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1)
    """
    own = step_of(experiment)
    if math.isnan(own):
        return ()
    nearest = min(range(len(STEPS_G)), key=lambda i: abs(math.log(STEPS_G[i] / own)))
    around = [*STEPS_G[max(nearest - 3, 0) : nearest + 4]]
    around[around.index(STEPS_G[nearest])] = own
    return tuple(around)


def foretold(experiment: Experiment, consumed_mol: float | None = None) -> Foretold:
    """Return how often a lab of this design would tell, by the step of its balances.

    Parameters
    ----------
    experiment : Experiment
    consumed_mol : float, optional
        Amount meant to react in each trial, mol; the mean of the readings if left out.

    Raises
    ------
    ModelError
        If nothing is weighed, or nothing above zero reacted.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> found = foretold(experiments.load("copper-silver"), 0.002)
    >>> found.share > 0.9, found.told(0.1) < 0.5
    (True, True)
    """
    entry.record("experiment", experiment, Experiment)
    steps = steps_around(experiment)
    if not steps:
        raise ModelError("Nothing is weighed in this lab.", given=experiment.title)
    return Foretold(plan_of(experiment, consumed_mol), step_of(experiment), steps)
