"""Set-ups for a room side by side: chances, what to order, what is left over, minutes.

A set-up is a reactant, a balance, trials a bench and a mass; :func:`compare_setups` looks for the
smallest mass with which a bench, or the class together, concludes. Times at the bench are common
practice, no source, and can be stated (:class:`Times`).
"""

from __future__ import annotations

import heapq
import math
import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

from ..chemistry.elements import molar_mass_value
from ..chemistry.formula import parse_formula
from ..errors import ModelError
from ..experiments.own import unweighed
from ..experiments.record import Experiment
from ..measurement.base import PRACTICE
from ..measurement.displays import Balance
from ..planning.classes import Groups
from ..planning.plan import Plan
from ..planning.room import (
    AIMS,
    EACH,
    Balances,
    Room,
    RoomPlan,
    groups_in,
    room_plan,
    smallest_in_room,
)
from ..planning.sentences import chance_text, consumed_molar_mass, step_text, three_digits
from ..text.document import Document
from ..text.parts import Bullets, Part, Section, Strong, Table
from ..text.sheets import Sheet, write_sheets
from ..text.wording import joined, species_text
from ..uncertainty import entry
from .expectations import care_of
from .reagent_data import cautions_for
from .reagents import reagents_of, round_up
from .supply import RESERVE, Lab, Reagent, Supply, needs_of, supplies_by_species

OVEN, ACETONE, NEXT_DAY = "in the oven", "rinsed with acetone", "weighed the next day"
_MOST_SETUPS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Times:
    """Minutes that the parts of a session take; common practice, no source.

    Attributes
    ----------
    weighing : float
        One reading of a balance, with walking up to it.
    beginning, reacting, collecting, ending : float
        Handing out and cautions; the reaction; filtering and washing; clearing up.
    oven, acetone : float
        Until the product is dry and cool: in an oven at 105 °C, or rinsed with acetone and left in
        the draught of a hood.

    Examples
    --------
    >>> Times(weighing=2).weighing
    2.0
    """

    weighing: float = 1.0
    beginning: float = 5.0
    reacting: float = 15.0
    collecting: float = 5.0
    ending: float = 5.0
    oven: float = 45.0
    acetone: float = 10.0

    def __post_init__(self) -> None:
        for name in self.__slots__:
            given = entry.number(name, getattr(self, name), least=0, most=10_000)
            object.__setattr__(self, name, given)


def queue_minutes(
    benches: int, balances: int, before: float, between: float, after: float
) -> float:
    """Return when the last bench has weighed for the second time.

    All benches come at once; each holds a balance for its weighings before the reaction, works,
    and comes back for those after it. Whoever comes first is served first, on whichever balance is
    free.

    Parameters
    ----------
    benches, balances : int
    before, between, after : float
        Minutes of the weighings of a bench before, of the work between, of the weighings after.

    Examples
    --------
    >>> queue_minutes(12, 12, 2, 30, 2), queue_minutes(12, 1, 2, 30, 2)
    (34.0, 56.0)
    """
    benches = entry.whole("benches", benches, least=1, most=1000)
    balances = entry.whole("balances", balances, least=1, most=1000)
    before, between, after = (
        entry.number(name, value, least=0, most=1e6)
        for name, value in (("before", before), ("between", between), ("after", after))
    )
    free = [0.0] * balances
    coming: list[tuple[float, int, int]] = [(0.0, 0, bench) for bench in range(benches)]
    heapq.heapify(coming)
    last = 0.0
    while coming:
        at, visit, bench = heapq.heappop(coming)
        done = max(at, heapq.heappop(free)) + (after if visit else before)
        heapq.heappush(free, done)
        last = max(last, done)
        if not visit:
            heapq.heappush(coming, (done + between, 1, bench))
    return last


@dataclass(frozen=True, slots=True)
class Timing:
    """How long the session takes.

    Attributes
    ----------
    minutes : mapping of str to float
        From beginning to end with the queue at the balances, by how the product is dried; one way
        where nothing is dried. With the last, weighing is on another day: the minutes of the first.
    next_day : float
        Minutes of weighing on the other day; 0 where nothing is dried.
    drying : str
        The first way that fits the time there is; the oven, or "" where nothing is dried, if that
        is not asked; "none" where no way fits.
    """

    minutes: Mapping[str, float]
    next_day: float
    drying: str

    @property
    def fits(self) -> bool:
        """Whether a way of drying fits the time there is."""
        return self.drying != "none"

    @property
    def needed(self) -> float:
        """Minutes of the way that is taken; of the shortest where none fits."""
        return self.minutes[self.drying] if self.fits else min(self.minutes.values())


def _visits(experiment: Experiment) -> tuple[int, int]:
    """Return how many readings of a trial are made on a balance before the reaction, and after.

    >>> from stoichkit import experiments
    >>> _visits(experiments.load("copper-silver"))
    (2, 2)
    """
    order = experiment.reading_names()
    weighed = {
        role.name
        for role in experiment.roles()
        if isinstance(experiment.instruments.get(role.instrument), Balance)
        and role.name not in experiment.shared_readings
    }
    later = set()
    for model in (experiment.consumed, experiment.produced):
        own = [n for n in order if n in {r.name for r in model.roles()} and n in weighed]
        if own and (model is experiment.produced or model.loses_mass(order)):
            later.add(own[-1])
    return len(weighed - later), len(later)


def timing_of(room: Room, found: RoomPlan, times: Times) -> Timing:
    """Return how long the session of a room takes; the trials of a bench go side by side."""
    experiment, trials = found.plan.experiment, found.plan.trials
    before, after = (n * trials * times.weighing for n in _visits(experiment))
    by_step = {kind.readability_g: kind for kind in room.balances}

    def session(between: float, after: float) -> float:
        longest = max(
            queue_minutes(
                g.number, room.number_of(by_step[_step_of(g.plan)]), before, between, after
            )
            for g in found.groups
        )
        return times.beginning + longest + times.ending

    work = times.reacting + times.collecting
    dried = bool(care_of(experiment)[0])
    if not dried:
        minutes = {"": session(work, after)}
    else:
        minutes = {
            OVEN: session(work + times.oven, after),
            ACETONE: session(work + times.acetone, after),
            NEXT_DAY: session(work, 0.0),
        }
        if not _rinsed(experiment):
            del minutes[ACETONE]
    next_day = 0.0
    if dried:
        next_day = max(
            math.ceil(g.number / room.number_of(by_step[_step_of(g.plan)])) * after
            for g in found.groups
        )
    limit = math.inf if room.minutes is None else room.minutes
    drying = next((way for way, needed in minutes.items() if needed <= limit), "none")
    return Timing(minutes, next_day, drying)


def _rinsed(experiment: Experiment) -> bool:
    """Return whether what is dried is a metal, which acetone does not dissolve."""
    counts = parse_formula(experiment.produced.substance).counts
    return len(counts) == 1 and experiment.produced.weighed


def _step_of(plan: Plan) -> float:
    balances = plan.experiment.instruments.values()
    return next(one.readability_g for one in balances if isinstance(one, Balance))


@dataclass(frozen=True, slots=True)
class Order:
    """What to order of one reagent for the class, with a reserve of a tenth.

    Attributes
    ----------
    name, formula : str
    mass_g : float
        Of the solid, or of the solute of a solution; nan where it is not weighed out.
    volume_mL : float
        Of the solution; nan for a solid.
    in_stock : bool or None
        Whether the stock of the room is enough; None where none is stated.
    """

    name: str
    formula: str
    mass_g: float
    volume_mL: float
    in_stock: bool | None = None

    @property
    def words(self) -> str:
        """What to order, in words."""
        volume = "" if math.isnan(self.volume_mL) else f"{self.volume_mL:.0f} mL"
        mass = "" if math.isnan(self.mass_g) else f"{three_digits(self.mass_g, up=True)} g"
        amount = (
            f"{volume} ({mass} of {species_text(self.formula)})"
            if volume and mass
            else volume or mass
        )
        lacking = "; more than is in stock" if self.in_stock is False else ""
        return f"{self.name}: {amount or 'as the procedure says'}{lacking}"


def orders_of(room: Room, reagents: Iterable[Reagent], runs: int) -> tuple[Order, ...]:
    """Return what to order of some reagents for so many trials.

    The volume is that of the bench plan; a solute is weighed out for it.
    """
    found = []
    for reagent in reagents:
        mass = volume = math.nan
        if reagent.volume_mL is not None:
            volume = round_up(RESERVE * runs * reagent.volume_mL)
            if reagent.concentration_mol_per_L and reagent.formula:
                moles = volume / 1000 * reagent.concentration_mol_per_L
                mass = moles * molar_mass_value(reagent.formula)
        elif reagent.mass_g is not None:
            mass = RESERVE * runs * reagent.mass_g
        elif not reagent.formula or reagent.formula == "e-":
            continue
        stock = (
            room.stock_g.get(parse_formula(reagent.formula).plain()) if reagent.formula else None
        )
        enough = None if stock is None or math.isnan(mass) else mass <= stock * (1 + 1e-9)
        found.append(Order(reagent.name, reagent.formula, mass, volume, enough))
    return tuple(found)


@dataclass(frozen=True, slots=True, eq=False)
class Setup:
    """One set-up for a room, and all that comes of it.

    Attributes
    ----------
    reactant : str
        Formula.
    aim : str
        What the mass was looked for: ``"each bench"`` or ``"the class together"``.
    found : RoomPlan
    orders : tuple of Order
        The reactant first.
    waste_mL, waste_g : float
        Used solutions; solids left (what did not react, and the most that can be made).
    timing : Timing
    """

    reactant: str
    aim: str
    found: RoomPlan
    orders: tuple[Order, ...]
    waste_mL: float
    waste_g: float
    timing: Timing

    @property
    def plan(self) -> Plan:
        """The plan of the first benches."""
        return self.found.plan

    @property
    def mass_g(self) -> float:
        """Mass to react in each trial, g (nan for electrons)."""
        return self.plan.consumed_mass_g

    @property
    def balance(self) -> str:
        """The balances in use, in words."""
        groups = self.found.groups
        if len(groups) == 1:
            return step_text(_step_of(groups[0].plan))
        return joined([f"{g.number} benches to {step_text(_step_of(g.plan))}" for g in groups])

    @property
    def name(self) -> str:
        """Reactant, aim, balance and trials, in words."""
        return f"{species_text(self.reactant)} for {self.aim}, {self.balance}, {_trials(self)}"

    @property
    def minutes(self) -> float:
        """Minutes of the session."""
        return self.timing.needed

    @property
    def order_g(self) -> float:
        """Mass of the reactant to order, g."""
        return self.orders[0].mass_g if self.orders else math.nan

    @property
    def order_mL(self) -> float:
        """Volume of solutions to order, mL; 0 without any."""
        return math.fsum(o.volume_mL for o in self.orders if not math.isnan(o.volume_mL))


def _trials(one: Setup) -> str:
    return f"{one.plan.trials} trial{'s' if one.plan.trials > 1 else ''} a bench"


_SORTED: Mapping[str, tuple[str, Callable[[Setup], Any]]] = {
    "reactant": ("reactant", lambda s: s.reactant),
    "mass": ("least mass first", lambda s: s.mass_g),
    "bench": ("likeliest that a bench concludes", lambda s: -s.found.bench_concludes),
    "class": ("likeliest that the class concludes", lambda s: -s.found.class_concludes),
    "wrong": ("fewest wrong answers first", lambda s: s.found.wrong),
    "order": ("least of the reactant to order", lambda s: s.order_g),
    "waste": ("least waste first", lambda s: (s.waste_mL, s.waste_g)),
    "minutes": ("quickest first", lambda s: s.minutes),
}
ORDERS: Mapping[str, str] = {key: words for key, (words, _) in _SORTED.items()}
"""By what set-ups can be sorted, and the words for it."""


@dataclass(frozen=True, slots=True, eq=False)
class SetupComparison:
    """Set-ups for a room side by side.

    Attributes
    ----------
    room : Room
    target : float
    setups : tuple of Setup
    without : tuple of str
        Those for which nothing is enough, in sentences.

    Examples
    --------
    >>> found = compare_setups(Room(12, [0.1], minutes=50), ["Fe"], "CuSO4.5H2O", states=[2, 3])
    >>> [(one.aim, round(one.mass_g, 2)) for one in found.sorted("mass").setups]
    [('the class together', 0.31), ('each bench', 1.1)]
    """

    room: Room
    target: float
    setups: tuple[Setup, ...]
    without: tuple[str, ...] = ()

    def sorted(self, by: str) -> SetupComparison:
        """Return the same in another order, by one of ``ORDERS``."""
        entry.choice("by", by, tuple(_SORTED))
        return replace(self, setups=tuple(sorted(self.setups, key=_SORTED[by][1])))

    @property
    def header(self) -> tuple[str, ...]:
        """Head of the table."""
        return (
            "Reactant", "Enough for", "Mass a trial, g", "Balance", "Trials a bench",
            "A bench concludes", f"Benches that do, of {self.room.benches}", "All benches do",
            "The class together does", "A bench is wrong", "Right of 100 single answers",
            "Reactant to order, g", "Solutions to order, mL", "Used solutions, mL",
            "Solids left, g", "Minutes", "Dried",
        )  # fmt: skip

    def cells(self) -> list[tuple[str | float, ...]]:
        """Return a row for each set-up, numbers as numbers."""
        return [
            (
                one.reactant, one.aim, one.mass_g, one.balance, one.plan.trials,
                one.found.bench_concludes, one.found.concluding, one.found.all_conclude,
                one.found.class_concludes, one.found.wrong, 100 * one.found.right_of_single,
                one.order_g, one.order_mL, one.waste_mL, one.waste_g, one.minutes,
                one.timing.drying if one.timing.fits else "no way fits",
            )
            for one in self.setups
        ]  # fmt: skip

    def tables(self) -> tuple[Table, Table]:
        """Return the set-ups as two tables: the chances, then what they take."""
        head = self.header
        shown = [_written(one, self.target) for one in self.setups]
        first = tuple(row[:11] for row in shown)
        second = tuple((*row[:4], *row[11:]) for row in shown)
        return (
            Table(head[:11], first, "Set-ups: chances"),
            Table((*head[:4], *head[11:]), second, "Set-ups: orders, waste and time"),
        )

    def document(self) -> Document:
        """Return it as a document, with what to conclude first."""
        benches = "1 bench" if self.room.benches == 1 else f"{self.room.benches} benches"
        return Document(
            f"Set-ups for a room of {benches}",
            (_room_words(self.room),),
            tuple(_sections(self)),
        )

    def _repr_html_(self) -> str:
        return self.document()._repr_html_()

    def save(self, path: str | os.PathLike[str], *, replace: bool = False) -> Path:
        """Save the table (.csv, .xlsx), or the document (.html, .md, .txt, .tex, .json).

        Raises
        ------
        DataFileError
            If the ending cannot be used, there is such a file, or it cannot be written.
        """
        if Path(path).suffix.casefold() in (".csv", ".xlsx"):
            sheets = [Sheet("Set-ups", self.header, self.cells()), *self._order_sheets()]
            return write_sheets(path, sheets, replace=replace)
        return self.document().save(path, replace=replace)

    def _order_sheets(self) -> Iterator[Sheet]:
        rows: list[tuple[str | float, ...]] = [
            (one.reactant, one.aim, one.balance, one.plan.trials, o.name, o.mass_g, o.volume_mL)
            for one in self.setups
            for o in one.orders
        ]
        head = ("Reactant", "Enough for", "Balance", "Trials a bench", "Reagent", "g", "mL")
        yield Sheet("Orders", head, rows)


def _written(one: Setup, target: float) -> tuple[str, ...]:
    found = one.found
    together = found.class_concludes
    single = found.right_of_single
    return (
        species_text(one.reactant),
        one.aim,
        "–" if math.isnan(one.mass_g) else three_digits(one.mass_g, up=True),
        one.balance,
        str(one.plan.trials),
        chance_text(found.bench_concludes, target),
        f"{found.concluding:.1f}",
        chance_text(found.all_conclude, target),
        "–" if math.isnan(together) else chance_text(together, target),
        chance_text(found.wrong),
        "–" if math.isnan(single) else _of_hundred(100 * single),
        "–" if math.isnan(one.order_g) else three_digits(one.order_g, up=True),
        f"{one.order_mL:.0f}",
        f"{one.waste_mL:.0f}",
        f"{one.waste_g:.3g}",
        f"{one.minutes:.0f}",
        (one.timing.drying or "not dried") if one.timing.fits else "no way fits",
    )


def _of_hundred(value: float) -> str:
    return "over 99.9" if value >= 99.95 else f"{value:.1f}" if value > 99 else f"{value:.0f}"


def _room_words(room: Room) -> str:
    kinds = joined([kind.words for kind in room.balances])
    time = "" if room.minutes is None else f" There are {room.minutes:g} minutes."
    return f"Balances: {kinds}.{time}"


def _sections(found: SetupComparison) -> Iterator[Section]:
    said = tuple(setup_sentences(found))
    parts: list[Part] = [Strong(said[0]), Bullets(said[1:])] if said else []
    if found.without:
        parts.append(Bullets(found.without))
    yield Section("What it comes to", tuple(parts) or ("Nothing was compared.",))
    if found.setups:
        yield Section("Chances", (found.tables()[0], *_CHANCES_NOTE))
        yield Section("Orders, waste and time", (found.tables()[1], _TIME_NOTE))
        orders = tuple(
            f"{one.name}: "
            + "; ".join(o.words for o in one.orders) + "."
            for one in found.setups
        )  # fmt: skip
        yield Section("What to order, with a tenth in reserve", (Bullets(orders),))
        if notes := tuple(drying_sentences(found)):
            yield Section("Drying and time", (Bullets(notes),))
    yield Section("Cautions", tuple(_cautions(found)))


_CHANCES_NOTE = (
    "Chances are those of a right conclusion for the candidate that is hardest to tell, at the "
    "worst of what may be recovered. The benches are taken to be independent of each other, and "
    "to differ by nothing but their readings; the class is judged by the readings and by the "
    "scatter of its groups, whichever excludes less.",
)
_TIME_NOTE = (
    "Minutes: from handing out to clearing up, with the queue at the balances, the trials of a "
    f"bench side by side ({PRACTICE}; state your own with Times)."
)


def setup_sentences(found: SetupComparison) -> Iterator[str]:
    """Say what the set-ups come to: first what to choose, then what often surprises.

    >>> found = compare_setups(Room(12, [0.1]), ["Fe"], "CuSO4.5H2O", states=[2, 3])
    >>> print(next(iter(setup_sentences(found))))
    For the class together to conclude with a chance of 0.9 or more, the least that will do is
    0.31 g of Fe a trial on a balance that reads to 0.1 g.
    """
    fitting = [one for one in found.setups if one.timing.fits] or list(found.setups)
    for aim in reversed(AIMS):
        some = [one for one in fitting if one.aim == aim and not math.isnan(one.mass_g)]
        if not some:
            continue
        best = min(some, key=lambda one: one.mass_g * one.plan.trials)
        who = "For a bench by itself" if aim == EACH else "For the class together"
        trials = "a trial" if best.plan.trials == 1 else f"in each of {best.plan.trials} trials"
        single = len(best.found.groups) == 1
        where = f"on a balance that reads to {best.balance}" if single else f"with {best.balance}"
        text = (
            f"{who} to conclude with a chance of {found.target:g} or more, the least that will do "
            f"is {three_digits(best.mass_g, up=True)} g of {species_text(best.reactant)} {trials} "
            f"{where}."
        )
        if aim == EACH and best.found.benches > 1:
            text += (
                f" Then {best.found.concluding:.1f} of {best.found.benches} benches conclude on "
                "average; that every one does has a chance of "
                f"{chance_text(best.found.all_conclude)}."
            )
        yield text
    yield from _saved(found)


def _saved(found: SetupComparison) -> Iterator[str]:
    """Say how much less is used up where the class concludes together."""
    by_key: dict[tuple[str, str, int], dict[str, Setup]] = {}
    for one in found.setups:
        key = one.reactant, one.balance, one.plan.trials
        by_key.setdefault(key, {})[one.aim] = one
    for (reactant, balance, _), pair in by_key.items():
        if set(AIMS) <= set(pair):
            each, together = pair[AIMS[0]], pair[AIMS[1]]
            less = 1 - together.waste_mL / each.waste_mL if each.waste_mL else 0.0
            what = "used solution"
            if not each.waste_mL and each.waste_g:
                less, what = 1 - together.waste_g / each.waste_g, "solids left over"
            if less > 0.05:
                alone = chance_text(together.found.bench_concludes)
                yield (
                    f"{species_text(reactant)} on {balance}, {_trials(each)}: if only the class "
                    f"together has to conclude, there is {100 * less:.0f} % less {what}; a bench "
                    f"by itself then concludes with a chance of {alone}."
                )


def drying_sentences(found: SetupComparison) -> Iterator[str]:
    """Say where drying does not fit the time, what does, and with which caution.

    >>> room = Room(12, [0.1], minutes=50)
    >>> found = compare_setups(room, ["Fe"], "CuSO4.5H2O", states=[2, 3])
    >>> print(next(iter(drying_sentences(found))))
    Fe, 0.1 g, 1 trial a bench: dried in the oven it takes 79 minutes in all, and there are 50.
    Rinsed with acetone it takes 44.
    """
    limit = found.room.minutes
    if limit is None:
        return
    rinsed = False
    alike = {(one.reactant, one.balance, one.plan.trials): one for one in reversed(found.setups)}
    for one in reversed(alike.values()):
        timing = one.timing
        name = f"{species_text(one.reactant)}, {one.balance}, {_trials(one)}"
        usual = next(iter(timing.minutes))
        if timing.drying == usual:
            continue
        how = f"dried {usual} it takes" if usual else "it takes"
        text = f"{name}: {how} {timing.minutes[usual]:.0f} minutes in all, and there are {limit:g}."
        if timing.drying == ACETONE:
            rinsed = True
            yield f"{text} Rinsed with acetone it takes {timing.needed:.0f}."
        elif timing.drying == NEXT_DAY:
            yield (
                f"{text} Leave the product to dry and weigh it the next day: "
                f"{timing.needed:.0f} minutes now, and {timing.next_day:.0f} of weighing then."
            )
        else:
            yield (
                f"{text} Nothing else fits either: the quickest takes {timing.needed:.0f}. Fewer "
                "trials, more balances or two sessions would help."
            )
    if rinsed:
        yield (
            "Acetone is highly flammable, and its vapour makes drowsy: no flames, hot plates or "
            "sparks anywhere near; in the hood or with good ventilation; small bottles only; "
            "nothing wet with it goes into an oven."
        )


def _cautions(found: SetupComparison) -> Iterator[Part]:
    seen: dict[str, str] = {}
    for one in found.setups:
        wanted = [o.formula for o in one.orders if o.formula]
        if one.timing.drying == ACETONE:
            wanted.append("C3H6O")
        for formula in wanted:
            known = cautions_for(formula)
            if known.known and known.name not in seen:
                listed = "; ".join(known.statements) or "no hazard statements listed"
                seen[known.name] = f"{known.name}: {listed}. {' '.join(known.precautions)}".strip()
    if seen:
        yield Bullets(tuple(seen.values()))
    yield (
        "Everybody in the room wears eye protection. The safety data sheets, local rules and the "
        "person in charge have the last word."
    )


def compare_setups(
    room: Room,
    labs: Iterable[str | Experiment],
    bath: str = "",
    *,
    states: Iterable[int | str] = (),
    candidates: Iterable[str] = (),
    trials: Iterable[int] = (1,),
    target: float = 0.9,
    spread: float = 0.1,
    excess: float = 1.2,
    bath_mol_per_L: float = 0.1,
    times: Times | None = None,
    supplies: Iterable[Supply] = (),
    progress: Callable[[str], object] | None = None,
) -> SetupComparison:
    """Compare what a room could do: reactants, balances and trials, at the smallest mass enough.

    Parameters
    ----------
    room : Room
    labs : iterable of str or Experiment
        What is used up: metals, or salts without a bath (:func:`stoichkit.experiments.unweighed`).
        Or experiments, with trials or without; their balances are read to the steps of the room.
    bath : str
        Formula of the salt whose solution the metals are put into, such as "CuSO4.5H2O".
    states, candidates
        As for :func:`stoichkit.experiments.unweighed`.
    trials : iterable of int
        Trials a bench, 1 to 16 each.
    target : float
        Chance of a right conclusion asked for, 0.05 to 0.999.
    spread : float
        Within which each mass is met, relative, 0 to 0.9.
    excess : float
        Reagents in excess, times over, 1 to 20.
    bath_mol_per_L : float
        Concentration of the bath.
    times : Times, optional
        Minutes that the parts of the session take.
    supplies : iterable of Supply
        What other reactants come from.
    progress : callable, optional
        Called with a sentence before each set-up, and for a class before each mass that is tried;
        what it raises stops the work.

    Returns
    -------
    SetupComparison
        For each reactant and number of trials: every kind of balance by itself, for both aims, and
        with several kinds all of them in use at once, for the class together.

    Raises
    ------
    ModelError, ExperimentError
        If something cannot be used.

    Notes
    -----
    Chances for a bench are worked out, those for the class simulated with 2000 classes from a fixed
    seed (standard error up to 0.011; 0.007 at 0.9). What they assume:
    :func:`stoichkit.planning.class_chances`, :class:`stoichkit.planning.RoomPlan`.

    Examples
    --------
    >>> found = compare_setups(Room(12, [0.1]), ["Fe"], "CuSO4.5H2O", states=[2, 3])
    >>> each = found.setups[0]
    >>> round(each.found.bench_concludes, 2), round(each.found.all_conclude, 2)
    (0.93, 0.41)
    >>> [order.words for order in each.orders]
    ['iron, Fe: 17.5 g', 'copper(II) sulfate solution, 0.1 mol/L: 5300 mL (133 g of CuSO₄·5H₂O)']
    """
    entry.record("room", room, Room)
    counts = [entry.whole("trials", n, least=1, most=16) for n in entry.listed("trials", trials)]
    given = entry.listed("labs", labs, str, Experiment)
    target = entry.number("target", target, least=0.05, most=0.999)
    times = Times() if times is None else entry.record("times", times, Times)
    excess = entry.number("excess", excess, least=1, most=20)
    spread = entry.number("spread", spread, least=0, most=0.9)
    strength = entry.number("bath_mol_per_L", bath_mol_per_L, above=0, most=20)
    states = entry.listed("states", states)
    candidates = entry.listed("candidates", candidates, str)
    supplies = entry.listed("supplies", supplies, Supply)
    entry.text("bath", bath)
    if progress is not None:
        entry.function("progress", progress, "progress(words)")
    records = [
        unweighed(one, bath, states=states, candidates=candidates) if isinstance(one, str) else one
        for one in given
    ]
    kinds: list[Balances | None] = [*room.balances]
    kinds += [None] if len(kinds) > 1 and room.benches > 1 else []
    number = len(records) * len(counts) * (len(room.balances) + len(kinds))
    if not records or not counts or number > _MOST_SETUPS:
        raise ModelError(
            "These set-ups cannot be compared.", given=f"{number} set-ups",
            allowed=f"a reactant and a number of trials or more, {_MOST_SETUPS} set-ups at most",
        )  # fmt: skip
    setups: list[Setup] = []
    without: list[str] = []
    for record in records:
        own = _with_bath(supplies, record, bath, strength)
        name = species_text(record.consumed.species)
        for count in counts:
            plan = Plan(experiment=record, consumed_mol=1e-3, trials=count, spread=spread)
            for kind in kinds:
                groups = groups_in(room, plan, kind)
                for aim in AIMS if kind is not None else AIMS[1:]:
                    if room.benches == 1 and aim != EACH:
                        continue
                    on = "all balances in use" if kind is None else step_text(kind.readability_g)
                    each = f"{count} trial{'s' if count > 1 else ''} a bench"
                    where = f"{name} for {aim}, {on}, {each}"
                    if progress is not None:
                        progress(f"Looking for the smallest mass: {where} …")
                    tried = None if progress is None else partial(_tried, progress, where)
                    mass = smallest_in_room(groups, aim=aim, target=target, progress=tried)
                    if math.isnan(mass):
                        without.append(f"{where}: no amount reaches a chance of {target:g}.")
                        continue
                    setups.append(
                        setup_of(room, at_mass(groups, mass), aim=aim, excess=excess, times=times,
                                 supplies=own)
                    )  # fmt: skip
    return SetupComparison(room, target, tuple(setups), tuple(without))


def _tried(progress: Callable[[str], object], where: str, amount: float) -> None:
    progress(f"Looking for the smallest mass: {where}, {three_digits(amount)} g …")


def at_mass(groups: Iterable[Groups], mass_g: float) -> tuple[Groups, ...]:
    """Return the same benches with another mass to react; mol of electrons."""
    found = []
    for g in groups:
        electrons = g.plan.experiment.consumed.species == "e-"
        unit = 1.0 if electrons else consumed_molar_mass(g.plan.experiment)
        found.append(Groups(replace(g.plan, consumed_mol=mass_g / unit), g.number))
    return tuple(found)


def setup_of(
    room: Room,
    groups: Sequence[Groups],
    *,
    aim: str = EACH,
    excess: float = 1.2,
    times: Times | None = None,
    supplies: Iterable[Supply] = (),
) -> Setup:
    """Return all that comes of one plan in a room, such as one that is already chosen.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> room = Room(6, [0.01], minutes=60)
    >>> plan = Plan(experiment=experiments.load("copper-silver"), consumed_mol=0.002)
    >>> one = setup_of(room, groups_in(room, plan))
    >>> one.reactant, round(one.order_g, 2), one.timing.drying
    ('Cu', 19.45, 'rinsed with acetone')
    """
    entry.record("room", room, Room)
    entry.text("aim", aim)
    excess = entry.number("excess", excess, least=1, most=20)
    if times is not None:
        entry.record("times", times, Times)
    found = room_plan(groups)
    plan, experiment = found.plan, found.plan.experiment
    runs = found.benches * plan.trials
    stated = supplies_by_species(supplies)
    known = [
        n for n in (needs_of(c, experiment.consumed.species) for c in experiment.candidates) if n
    ]
    lab = Lab(experiment=experiment, consumed_mol=plan.consumed_mol, excess=excess, runs=runs)
    reagents = reagents_of(lab, known, stated)
    waste_mL = runs * math.fsum(r.volume_mL for r in reagents if r.volume_mL is not None)
    waste_g = runs * _solids_left_g(plan, reagents)
    return Setup(
        experiment.consumed.species, aim, found, orders_of(room, reagents, runs), waste_mL, waste_g,
        timing_of(room, found, Times() if times is None else times),
    )  # fmt: skip


def _solids_left_g(plan: Plan, reagents: Iterable[Reagent]) -> float:
    """Return the solids that one trial leaves: those taken that do not react, and the product."""
    experiment = plan.experiment
    solids = math.fsum(r.mass_g for r in reagents if r.mass_g is not None)
    reacting = 0.0 if math.isnan(plan.consumed_mass_g) else plan.consumed_mass_g
    most = max(float(c.ratio) for c in experiment.candidates)
    product = experiment.produced.expected_mass_g(most * plan.consumed_mol) or 0.0
    if not experiment.produced.weighed:
        product = 0.0
    return max(solids - reacting, 0.0) + product


def _with_bath(
    supplies: Sequence[Supply], record: Experiment, bath: str, concentration: float
) -> tuple[Supply, ...]:
    """Return the supplies with the bath as the source of the ion that the metal made comes from."""
    if not bath.strip():
        return tuple(supplies)
    ions = {
        species
        for c in record.candidates
        for need in [needs_of(c, record.consumed.species)]
        if need is not None
        for species in need.partners
        if parse_formula(species).charge
        and record.produced.species in parse_formula(species).counts
    }
    named = {one.species for one in supplies}
    units = parse_formula(bath).counts.get(record.produced.species, 1)
    return (
        *supplies,
        *(
            Supply(species=i, solute=bath, units=units, concentration_mol_per_L=concentration)
            for i in ions
            if i not in named
        ),
    )
