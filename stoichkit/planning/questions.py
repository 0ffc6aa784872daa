"""The inverse questions of planning: what is the least that makes a lab conclusive?

Each answer carries the chances at the answer and one step short of it, so that it can be checked,
or says that nothing is enough and which shared source stands in the way.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache

from ..measurement.displays import Balance
from ..uncertainty import entry
from ..uncertainty.sources import budget_of
from .design import with_readability
from .plan import MOST_TRIALS, OperatingCharacteristic, Plan, nominal_lab, operating_characteristic

RECOVERY = "recovery allowance"
"""What stands in the way where what may be recovered makes one candidate like another."""
_READABILITIES_G = (1.0, 0.1, 0.01, 0.001, 0.0001, 0.00001)


@dataclass(frozen=True, slots=True, eq=False)
class Answer:
    """Answer to one planning question.

    Attributes
    ----------
    question : str
        ``"amount"``, ``"trials"``, ``"balance"`` or ``"recovery"``.
    value : float
        The answer, in ``unit``; nan when nothing is enough.
    unit : str
    target : float
        Chance of a right conclusion asked for, for every candidate.
    at : OperatingCharacteristic
        At the answer, or, when nothing is enough, at the best that was tried.
    short : OperatingCharacteristic or None
        One step short of the answer, where the target is missed; None if there is no such step.
    limiting : str
        Source that contributes most to the variance at ``at``, over the trials together;
        ``"recovery allowance"`` where what may be recovered makes one candidate like another.
    limiting_share : float
        Its part of the variance, 0 to 1.
    shared_share : float
        Part of the variance from sources shared by all trials, which more trials do not reduce.
    """

    question: str
    value: float
    unit: str
    target: float
    at: OperatingCharacteristic
    short: OperatingCharacteristic | None
    limiting: str
    limiting_share: float
    shared_share: float

    @property
    def reached(self) -> bool:
        """Whether anything tried reaches the target."""
        return not math.isnan(self.value)


def smallest_amount(plan: Plan, *, target: float = 0.9) -> Answer:
    """Return the smallest amount to react, in g (mol of electrons), that reaches the target.

    Parameters
    ----------
    plan : Plan
        Its own amount does not matter.
    target : float
        Chance of a right conclusion for every candidate, 0.05 to 0.999.

    Returns
    -------
    Answer

    Raises
    ------
    ModelError
        If the target cannot be used.

    Notes
    -----
    Where the consumed species is weighed the answer is a whole number of display steps of that
    balance, looked at one by one up to a hundred and 1 % apart beyond, to 1 kg; elsewhere amounts
    are looked at 1 % apart. Amounts are doubled from the smallest until the target is met and then
    halved in between, so the answer is the same whatever amount the plan began with.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> plan = Plan(experiment=experiments.load("copper-silver"), consumed_mol=0.001, trials=3)
    >>> answer = smallest_amount(plan)
    >>> 0.02 < answer.value < 0.06, answer.at.right >= 0.9 > answer.short.right
    (True, True)
    """
    target = _target(plan, target)
    sizes = sizes_of(plan)
    name = "mol" if math.isnan(plan.consumed_mass_g) else "g"
    factor = 1.0 if name == "mol" else plan.consumed_mass_g / plan.consumed_mol

    @cache
    def at(index: int) -> OperatingCharacteristic:
        return operating_characteristic(replace(plan, consumed_mol=sizes[index] / factor))

    found = first_enough(sizes, lambda index: at(index).right >= target)
    if found is None:
        return _answer("amount", math.nan, name, target, at(len(sizes) - 1), None)
    short = at(found - 1) if found else None
    return _answer("amount", sizes[found], name, target, at(found), short)


def sizes_of(plan: Plan, *, parts: int = 1) -> list[float]:
    """Return the amounts to look at, in g (mol of electrons), rising.

    ``parts``: into how many the display steps are cut, where a mass need not be a whole number.

    >>> from stoichkit import experiments
    >>> sizes_of(Plan(experiment=experiments.load("copper-silver"), consumed_mol=1.0))[:3]
    [0.01, 0.02, 0.03]
    """
    unit = plan.consumed_mass_g / plan.consumed_mol
    in_grams = not math.isnan(unit)
    step = _display_step(plan) if in_grams else 0.0
    if step:
        return [n * step / parts for n in _whole_steps(_MOST_G * parts / step)]
    return _geometric(unit if in_grams else 1.0)


def first_enough(sizes: Sequence[float], enough: Callable[[int], bool]) -> int | None:
    """Return the place of the first of some rising sizes that is enough; None if none is.

    Sizes are doubled from the first until one is, and then halved in between.

    >>> first_enough([1.0, 2.0, 3.0, 4.0, 5.0], lambda place: place >= 3)
    3
    """
    first = last = 0  # from here on: missed at the first and met at the last
    while not enough(last):
        if last == len(sizes) - 1:
            return None
        first = last
        last = min(bisect_left(sizes, 2 * sizes[last]), len(sizes) - 1)
    while last - first > 1:
        middle = (first + last) // 2
        first, last = (first, middle) if enough(middle) else (middle, last)
    return last


_MOST_G, _LEAST, _MOST_MOL = 1000.0, 1e-7, 10.0
_FINE = 100
"""Display steps beyond which amounts are looked at 1 % apart."""


def _whole_steps(most: float) -> list[int]:
    """Return whole numbers of display steps, one by one and then 1 % apart.

    >>> _whole_steps(103)[-4:], _whole_steps(1000)[-2:]
    ([100, 101, 102, 103], [987, 996])
    """
    found = [1]
    while (following := found[-1] + max(1, found[-1] // _FINE)) <= most:
        found.append(following)
    return found


def _geometric(per_mol: float) -> list[float]:
    """Return amounts 1 % apart, in the unit of the question, the same for every plan."""
    count = round(math.log(_MOST_MOL / _LEAST) / math.log(1.01))
    return [per_mol * _LEAST * 1.01**i for i in range(count + 1)]


def fewest_trials(plan: Plan, *, target: float = 0.9, most: int = MOST_TRIALS) -> Answer:
    """Return the fewest trials that reach the target.

    Parameters
    ----------
    plan : Plan
    target : float
        Chance of a right conclusion for every candidate, 0.05 to 0.999.
    most : int
        Most trials that are tried, 1 to 64.

    Returns
    -------
    Answer
        Where no number of trials is enough it says so, with the chance it levels off at.

    Raises
    ------
    ModelError
        If the target or ``most`` cannot be used.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> plan = Plan(experiment=experiments.load("copper-silver"), consumed_mol=0.0005)
    >>> answer = fewest_trials(plan)
    >>> answer.value, answer.at.right >= 0.9 > answer.short.right
    (4.0, True)
    """
    target = _target(plan, target)
    most = entry.whole("most", most, least=1, most=MOST_TRIALS)

    def at(trials: int) -> OperatingCharacteristic:
        return operating_characteristic(replace(plan, trials=trials))

    low, high = 0, 1
    found = at(1)
    best = found
    short = None
    while found.right < target and high < most:
        low, short = high, found
        high = min(2 * high, most)
        found = at(high)
        best = max(best, found, key=lambda o: o.right)
    if found.right < target:
        return _answer("trials", math.nan, "trials", target, best, None)
    while high - low > 1:
        middle = (low + high) // 2
        here = at(middle)
        if here.right >= target:
            high, found = middle, here
        else:
            low, short = middle, here
    return _answer("trials", float(high), "trials", target, found, short)


def coarsest_balance(
    plan: Plan, *, target: float = 0.9, readabilities_g: Sequence[float] = _READABILITIES_G
) -> Answer:
    """Return the coarsest balance among those offered that reaches the target, by its step in g.

    Parameters
    ----------
    plan : Plan
    target : float
        Chance of a right conclusion for every candidate, 0.05 to 0.999.
    readabilities_g : sequence of float
        Display steps of the balances at hand, g, above 0.

    Raises
    ------
    ModelError
        If the target or a display step cannot be used, or nothing is weighed.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> plan = Plan(experiment=experiments.load("copper-silver"), consumed_mol=0.002)
    >>> coarsest_balance(plan).value
    0.01
    """
    target = _target(plan, target)
    steps = entry.array("readabilities_g", readabilities_g, ndim=(1,), above=0)
    offered = sorted(steps.tolist(), reverse=True)
    short = None
    found = None
    for step in offered:
        changed = replace(plan, experiment=with_readability(plan.experiment, step))
        found = operating_characteristic(changed)
        if found.right >= target:
            return _answer("balance", step, "g", target, found, short)
        short = found
    assert found is not None
    return _answer("balance", math.nan, "g", target, found, None)


def largest_recovery(plan: Plan, *, target: float = 0.9, side: str = "both") -> Answer:
    """Return the largest recovery allowance that still reaches the target, as a half-width.

    Parameters
    ----------
    plan : Plan
        Its own recovery allowance is replaced.
    target : float
    side : str
        ``"both"``: [1 − w, 1 + w]; ``"losses"``: [1 − w, 1]; ``"gains"``: [1, 1 + w].

    Raises
    ------
    ModelError
        If the target or the side cannot be used.

    Notes
    -----
    Steps of 0.005, up to 0.5.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> plan = Plan(experiment=experiments.load("copper-silver"), consumed_mol=0.005)
    >>> answer = largest_recovery(plan, side="losses")
    >>> answer.reached, answer.value >= 0.4
    (True, True)
    """
    target = _target(plan, target)
    entry.choice("side", side, ("both", "losses", "gains"))

    def at(width: float) -> OperatingCharacteristic:
        low = 1 - width if side != "gains" else 1.0
        high = 1 + width if side != "losses" else 1.0
        allowed = replace(plan.experiment, recovery=(low, high))
        return operating_characteristic(replace(plan, experiment=allowed))

    grain, most = 0.005, 100
    found = at(0.0)
    if found.right < target:
        return _answer("recovery", math.nan, "", target, found, None)
    low, high = 0, most
    short = at(grain * most)
    if short.right >= target:
        return _answer("recovery", grain * most, "", target, short, None)
    while high - low > 1:
        middle = (low + high) // 2
        here = at(grain * middle)
        if here.right >= target:
            low, found = middle, here
        else:
            high, short = middle, here
    return _answer("recovery", grain * low, "", target, found, short)


def _target(plan: Plan, target: float) -> float:
    """Return the chance asked for if it can be, of what is a plan."""
    entry.record("plan", plan, Plan)
    return entry.number("target", target, least=0.05, most=0.999)


def _display_step(plan: Plan) -> float:
    """Return the display step of the balance that weighs the consumed species; 0 if none does."""
    experiment = plan.experiment
    instrument = experiment.instruments[experiment.consumed.span.instrument]
    return instrument.readability_g if isinstance(instrument, Balance) else 0.0


def _answer(
    question: str,
    value: float,
    unit: str,
    target: float,
    at: OperatingCharacteristic,
    short: OperatingCharacteristic | None,
) -> Answer:
    """Add which source stands in the way: the recovery, if it makes one candidate like another."""
    plan = replace(at.plan, trials=max(at.plan.trials, 2))  # with one trial nothing is shared
    name, experiment = at.hardest, plan.experiment
    recovered = min(at.over_recovery[name], key=lambda pair: pair[1].right)[0]
    own = next(c.ratio for c in experiment.candidates if c.name == name)
    low, high = experiment.recovery
    tested = recovered * float(own)
    if any(low * float(c.ratio) <= tested <= high * float(c.ratio)
           for c in experiment.candidates if c.ratio != own):  # fmt: skip
        return Answer(question, value, unit, target, at, short, RECOVERY, 1.0, 1.0)
    linear = nominal_lab(plan, name, recovered)
    parts = linear.parts(tested, 1.0)
    total: dict[str, float] = {}
    shared = 0.0
    shares = {id(line.source): line.share for line in budget_of(parts)}
    for (source, _), is_shared in zip(parts, linear.shared, strict=True):
        share = shares.get(id(source), 0.0)
        label = source.label.rsplit(", trial ", 1)[0]
        total[label] = total.get(label, 0.0) + share
        shared += share if is_shared else 0.0
    limiting = max(total, key=lambda label: total[label], default="")
    return Answer(
        question, value, unit, target, at, short, limiting, total.get(limiting, 0.0), shared
    )
