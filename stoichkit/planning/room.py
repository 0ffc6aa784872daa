"""A room of benches: what each bench and all together can conclude, on the balances there are."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cache, cached_property

from .._common import FrozenMap
from ..chemistry.formula import parse_formula
from ..errors import ModelError
from ..experiments.parts import Prior
from ..uncertainty import entry
from ..uncertainty.readings import parse_number
from .classes import MOST_GROUPS, Groups, class_characteristic
from .design import with_readability
from .plan import OperatingCharacteristic, Plan, operating_characteristic
from .questions import first_enough, sizes_of, smallest_amount

EACH, TOGETHER = "each bench", "the class together"
AIMS = (EACH, TOGETHER)
"""What a smallest amount is looked for: that a bench concludes, or that the class does."""
_CLASSES = 2000
_PARTS = 10
"""Into how many a display step is cut where the mass of a class is looked for."""


@dataclass(frozen=True, slots=True)
class Balances:
    """Balances of one kind in a room.

    Attributes
    ----------
    readability_g : float
        Display step, g; 1e-6 to 100.
    number : int, optional
        How many there are, 1 to 60; None for one at each bench.

    Examples
    --------
    >>> Balances(0.01, 2).words, Balances(0.1).words
    ('2 that read to 0.01 g', 'one a bench that reads to 0.1 g')
    """

    readability_g: float
    number: int | None = None

    def __post_init__(self) -> None:
        step = entry.number("readability_g", self.readability_g, least=1e-6, most=100)
        number = self.number
        if number is not None:
            number = entry.whole("number of balances", number, least=1, most=MOST_GROUPS)
        entry.kept(self, readability_g=step, number=number)

    @classmethod
    def of(cls, text: str) -> Balances:
        """Read balances as typed: their step in g, and how many after a colon.

        Raises
        ------
        ModelError
            If it cannot be read.

        Examples
        --------
        >>> Balances.of("0.01: 2"), Balances.of("0,1")
        (Balances(readability_g=0.01, number=2), Balances(readability_g=0.1, number=None))
        """
        step, colon, number = entry.text("balances", text).partition(":")
        value = parse_number(step, "step of a balance").value
        number = number.strip()
        if colon and not (number.isascii() and number.isdigit()):
            raise ModelError(
                "It is not said how many balances there are.",
                given=text,
                allowed="0.01:2 for two that read to 0.01 g; 0.01 for one at each bench",
            )
        return cls(value, int(number) if colon else None)

    @property
    def typed(self) -> str:
        """How they are typed; see :meth:`of`."""
        step = f"{self.readability_g:.9f}".rstrip("0").rstrip(".")
        return step if self.number is None else f"{step}: {self.number}"

    @property
    def words(self) -> str:
        """How many, and what they read to."""
        step = f"{self.readability_g:.9f}".rstrip("0").rstrip(".")
        if self.number is None:
            return f"one a bench that reads to {step} g"
        return f"{self.number} that read{'s' if self.number == 1 else ''} to {step} g"


@dataclass(frozen=True, slots=True)
class Room:
    """The room of a class.

    Attributes
    ----------
    benches : int
        Benches, a group at each; 1 to 60.
    balances : tuple of Balances
        A number stands for balances of that step, one at each bench.
    minutes : float, optional
        Minutes there are; None if that is not asked.
    stock_g : mapping of str to float
        What is in stock, g, by formula.

    Raises
    ------
    ModelError
        If a figure cannot be used, or two kinds of balance read to the same step.

    Examples
    --------
    >>> room = Room(12, [0.1, Balances(0.01, 2)], minutes=50)
    >>> [room.number_of(one) for one in room.balances], room.shared_out()
    ([12, 2], (10, 2))
    """

    benches: int
    balances: tuple[Balances, ...]
    minutes: float | None = None
    stock_g: Mapping[str, float] = FrozenMap()

    def __post_init__(self) -> None:
        benches = entry.whole("benches", self.benches, least=1, most=MOST_GROUPS)
        kinds = tuple(
            one if isinstance(one, Balances) else Balances(one)
            for one in entry.listed("balances", self.balances)
        )
        steps = [one.readability_g for one in kinds]
        if not kinds or len(set(steps)) < len(steps):
            raise ModelError(
                "The balances of the room cannot be used.",
                given=", ".join(f"{step:g} g" for step in steps) or "none",
                allowed="one kind or more, each with a step of its own",
            )
        minutes = self.minutes
        if minutes is not None:
            minutes = entry.number("minutes", minutes, above=0, most=10_000)
        stock = {}
        for formula, mass in entry.mapping("stock_g", self.stock_g, "{formula: g}").items():
            plain = parse_formula(formula).plain()
            stock[plain] = entry.number(f"stock of {formula}", mass, least=0)
        entry.kept(self, benches=benches, balances=kinds, minutes=minutes, stock_g=FrozenMap(stock))

    def number_of(self, kind: Balances) -> int:
        """Return how many balances of a kind there are; no more than benches are of use."""
        return self.benches if kind.number is None else min(kind.number, self.benches)

    def shared_out(self) -> tuple[int, ...]:
        """Return how many benches weigh on each kind if all balances are in use.

        In proportion to how many there are, so that the queues are of one length; each kind has one
        bench at least where there are enough. The largest parts left over are rounded up.
        """
        numbers = [self.number_of(kind) for kind in self.balances]
        total = sum(numbers)
        exact = [self.benches * n / total for n in numbers]
        found = [max(math.floor(e + 1e-9), 1 if self.benches >= len(numbers) else 0) for e in exact]
        order = sorted(range(len(exact)), key=lambda i: found[i] - exact[i])
        for i in range(self.benches - sum(found)):
            found[order[i % len(order)]] += 1
        while sum(found) > self.benches:
            found[found.index(max(found))] -= 1
        return tuple(found)


@dataclass(frozen=True, eq=False)
class RoomPlan:
    """A plan that every bench of a room does, and what comes of it.

    The benches are taken to be independent of each other. They share instruments and atomic
    weights, which matters little beside the readings; the chance for the class together allows for
    it (:func:`stoichkit.planning.class_chances` says what that assumes).

    Attributes
    ----------
    groups : tuple of Groups
        The benches on each kind of balance.
    each : tuple of OperatingCharacteristic
        Of one bench on each kind.
    together : OperatingCharacteristic or None
        Of the class; None with one bench.
    """

    groups: tuple[Groups, ...]
    each: tuple[OperatingCharacteristic, ...]
    together: OperatingCharacteristic | None

    @property
    def plan(self) -> Plan:
        """The plan of the first benches."""
        return self.groups[0].plan

    @property
    def benches(self) -> int:
        """Number of benches."""
        return sum(one.number for one in self.groups)

    @cached_property
    def concluding(self) -> float:
        """How many benches conclude, on average, for the candidate that is hardest to tell."""
        return min(
            math.fsum(g.number * o.chances[name].right
                      for g, o in zip(self.groups, self.each, strict=True))
            for name in self.each[0].chances
        )  # fmt: skip

    @property
    def bench_concludes(self) -> float:
        """Chance that a bench concludes; the average over the benches."""
        return self.concluding / self.benches

    @cached_property
    def all_conclude(self) -> float:
        """Chance that every single bench concludes, for the hardest candidate."""
        return min(
            math.prod(o.chances[name].right ** g.number
                      for g, o in zip(self.groups, self.each, strict=True))
            for name in self.each[0].chances
        )  # fmt: skip

    @property
    def class_concludes(self) -> float:
        """Chance that the class together concludes, for the hardest candidate; nan with one."""
        return math.nan if self.together is None else self.together.right

    @property
    def wrong(self) -> float:
        """Largest chance that a bench names a wrong candidate."""
        return max(found.wrong for found in self.each)

    @property
    def right_of_single(self) -> float:
        """Part of the benches that single out a candidate which name the true one.

        As :attr:`stoichkit.planning.OperatingCharacteristic.right_of_single`, over all benches.
        """
        prior = self.plan.experiment.prior or Prior()
        shares = prior.shares(self.each[0].over_recovery)
        right, wrong = (
            math.fsum(
                share * g.number * getattr(o.average[name], part)
                for name, share in shares.items()
                for g, o in zip(self.groups, self.each, strict=True)
            )
            for part in ("right", "wrong")
        )
        return right / (right + wrong) if right + wrong > 0 else math.nan


def room_plan(groups: Iterable[Groups], *, classes: int = _CLASSES) -> RoomPlan:
    """Return what comes of a plan that the benches of a room do.

    Parameters
    ----------
    groups : iterable of Groups
        The benches on each kind of balance.
    classes : int
        Classes simulated for the chance that all together conclude.

    Returns
    -------
    RoomPlan

    Raises
    ------
    ModelError
        If the benches do not plan the same lab, or an amount cannot be varied.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> plan = Plan(experiment=experiments.load("copper-silver"), consumed_mol=0.0011)
    >>> found = room_plan([Groups(plan, 12)], classes=200)
    >>> round(found.bench_concludes, 2), round(found.concluding, 1), round(found.all_conclude, 2)
    (0.95, 11.4, 0.56)
    """
    kinds = tuple(entry.listed("groups", groups, Groups))
    if not kinds:
        raise ModelError("There are no benches.", allowed="one or more")
    classes = entry.whole("classes", classes, least=100, most=100_000)
    several = sum(one.number for one in kinds) > 1
    return RoomPlan(
        kinds,
        tuple(operating_characteristic(one.plan) for one in kinds),
        class_characteristic(kinds, classes=classes) if several else None,
    )


def groups_in(room: Room, plan: Plan, kind: Balances | None = None) -> tuple[Groups, ...]:
    """Return the benches of a room on one kind of balance, or on all in use.

    >>> from stoichkit import experiments
    >>> plan = Plan(experiment=experiments.load("copper-silver"), consumed_mol=0.002)
    >>> [(one.number, one.plan.experiment.instruments["balance"].readability_g)
    ...  for one in groups_in(Room(12, [0.1, Balances(0.01, 2)]), plan)]
    [(10, 0.1), (2, 0.01)]
    """
    entry.record("room", room, Room)
    entry.record("plan", plan, Plan)
    if kind is not None:
        entry.record("kind", kind, Balances)
    kinds = room.balances if kind is None else (kind,)
    numbers = room.shared_out() if kind is None else (room.benches,)
    return tuple(
        Groups(replace(plan, experiment=with_readability(plan.experiment, k.readability_g)), n)
        for k, n in zip(kinds, numbers, strict=True)
        if n
    )


def smallest_in_room(
    groups: Iterable[Groups],
    *,
    aim: str = EACH,
    target: float = 0.9,
    classes: int = _CLASSES,
    progress: Callable[[float], object] | None = None,
) -> float:
    """Return the smallest amount, in g (mol of electrons), with which the aim is reached.

    Parameters
    ----------
    groups : iterable of Groups
        The benches on each kind of balance; their amount does not matter.
    aim : str
        ``"each bench"``: that a bench concludes, on the coarsest balance in use; ``"the class
        together"``.
    target : float
        Chance asked for, 0.05 to 0.999.
    classes : int
        Classes simulated at each amount.
    progress : callable, optional
        Called with each amount for a class before it is tried; what it raises stops the search.

    Returns
    -------
    float
        Whole display steps of the coarsest balance in use for each bench, tenths of them for the
        class, whose benches are averaged; nan where nothing is enough.

    Raises
    ------
    ModelError
        As for :func:`room_plan`, or if there is no such aim.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> plan = Plan(experiment=experiments.load("copper-silver-coarse"), consumed_mol=1.0)
    >>> found = [smallest_in_room([Groups(plan, 12)], aim=aim, classes=500) for aim in AIMS]
    >>> found[1] < found[0]
    True
    """
    entry.choice("aim", aim, AIMS)
    classes = entry.whole("classes", classes, least=100, most=100_000)
    if progress is not None:
        entry.function("progress", progress, "progress(amount)")
    target = entry.number("target", target, least=0.05, most=0.999)
    kinds = tuple(entry.listed("groups", groups, Groups))
    if not kinds:
        raise ModelError("There are no benches.", allowed="one or more")
    sized = [sizes_of(one.plan, parts=_PARTS) for one in kinds]
    coarsest = max(range(len(kinds)), key=lambda i: sized[i][0])
    if aim == EACH:
        return smallest_amount(kinds[coarsest].plan, target=target).value
    first = kinds[0].plan
    unit = first.consumed_mass_g / first.consumed_mol
    unit = 1.0 if math.isnan(unit) else unit
    sizes = sized[coarsest]

    @cache
    def enough(place: int) -> bool:
        if progress is not None:
            progress(sizes[place])
        there = [Groups(replace(g.plan, consumed_mol=sizes[place] / unit), g.number) for g in kinds]
        return class_characteristic(there, classes=classes).right >= target

    place = first_enough(sizes, enough)
    return math.nan if place is None else sizes[place]
