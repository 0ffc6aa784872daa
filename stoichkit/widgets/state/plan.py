"""What the screen “Plan” holds: the typed figures, the last good plan, what is refused.

Plain Python without Jupyter. The long calculations take a function to report to, so that they can
run beside a screen, say how far they are, and be stopped.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from ...bench.cards import bench_cards, labels, stock_card
from ...bench.datasheet import datasheet_bytes
from ...bench.plan import BenchPlan, bench_plan
from ...bench.room import Setup, SetupComparison, compare_setups, setup_of
from ...decision.evidence import Evidence, assess
from ...errors import ExperimentError, ModelError, Refusal, StoichkitError
from ...experiments.record import Experiment
from ...measurement.displays import Balance
from ...planning.design import DesignMap, design_map, with_readability
from ...planning.outcomes import Chances
from ...planning.plan import OperatingCharacteristic, Plan, chances, over_recovery
from ...planning.questions import (
    Answer,
    coarsest_balance,
    fewest_trials,
    largest_recovery,
    smallest_amount,
)
from ...planning.room import Balances, Room, groups_in
from ...planning.sentences import (
    amount_label,
    amount_text,
    consumed_molar_mass,
    setting_sentence,
    step_text,
    three_digits,
)
from ...text.document import form_of
from ...uncertainty.readings import parse_number
from ...uncertainty.sources import nominal
from ..kit.history import History
from ..kit.telling import Telling
from ..kit.work import Report, silent
from .form import EMPTY_TRIALS, refusal_of
from .readings import read_source
from .whatif import STEPS_G

FIELDS = (
    "amount",
    "trials",
    "spread",
    "target",
    "readability",
    "repeatability",
    "recovery_low",
    "recovery_high",
    "excess",
    "groups",
    "balances",
    "minutes",
)
"""Names of the figures, in the order of the screen."""
_AT_HAND_G = (0.1, 0.01, 0.001)
"""Balances of a room of which nothing else is said, g."""
_PERCENT = re.compile(r"(.*?)\s*%\s*")


@dataclass(frozen=True, slots=True)
class Figures:
    """The figures of a plan, read from the texts."""

    plan: Plan
    target: float
    excess: float
    groups: int
    room: Room | None
    """None where nothing is weighed."""


def typical_amount(base: Experiment) -> float:
    """Return how much reacts in a trial, in g (mmol of electrons): by the readings, else a guess.

    The guess for a lab without readings, or in which nothing reacted, is fifty steps of its
    balance.

    >>> from stoichkit import experiments
    >>> from dataclasses import replace
    >>> lab = experiments.load("copper-silver")
    >>> round(typical_amount(lab), 3), typical_amount(replace(lab, trials=()))
    (0.113, 0.5)
    """
    amount = _weighed(assess(base)) if base.trials else 0.0
    if amount > _LIMITS["amount"][0]:
        return amount
    balance = _balance_of(base)
    return 0.5 if balance is None else 50 * balance.readability_g


def _weighed(found: Evidence) -> float:
    """Return how much reacted in a trial, in g (mmol of electrons)."""
    return abs(nominal(found.n_consumed)) * consumed_molar_mass(found.experiment)


def first_texts(base: Experiment) -> dict[str, str]:
    """Return the figures of an experiment as texts: its usual amount, trials and balance.

    >>> from stoichkit import experiments
    >>> first_texts(experiments.load("copper-silver"))["amount"]
    '0.11'
    """
    amount = typical_amount(base)
    balance = _balance_of(base)
    stated = None if balance is None else balance.repeatability_g
    low, high = base.recovery
    return {
        "amount": _two_digits(amount),
        "trials": str(min(len(base.trials), 64) or EMPTY_TRIALS),
        "spread": "10 %",
        "target": "0.9",
        "readability": "" if balance is None else _short(balance.readability_g),
        "repeatability": "" if stated is None else _short(stated),
        "recovery_low": _short(low),
        "recovery_high": _short(high),
        "excess": "1.2",
        "groups": "6",
        "balances": "" if balance is None else _at_hand(balance.readability_g),
        "minutes": "",
    }


def _two_digits(amount: float) -> str:
    return _short(float(f"{amount:.2g}"))


def _at_hand(own_g: float) -> str:
    """Return the usual balances and that of the record as typed, one at each bench."""
    steps = sorted({*_AT_HAND_G, own_g}, reverse=True)
    return "; ".join(map(_short, steps))


def label_of_figure(name: str, base: Experiment) -> str:
    """Return the label of a figure."""
    text = amount_label(base)
    return {
        "amount": text[:1].upper() + text[1:],
        "trials": "Trials of each group",
        "spread": "Each amount is met to within",
        "target": "Target: chance of a right conclusion",
        "readability": "Readability of the balance, g",
        "repeatability": "Repeatability of the balance, g",
        "recovery_low": "Least fraction of the product recovered",
        "recovery_high": "Largest fraction (above 1: water or residue)",
        "excess": "Reagents in excess, times over",
        "groups": "Benches, a group at each",
        "balances": "Balances: step in g, and how many",
        "minutes": "Minutes there are",
    }[name]


def read_figures(
    texts: Mapping[str, str], base: Experiment
) -> tuple[Figures | None, dict[str, Refusal]]:
    """Read all texts of a plan.

    >>> from stoichkit import experiments
    >>> lab = experiments.load("copper-silver")
    >>> texts = first_texts(lab)
    >>> read_figures(texts, lab)[0].plan.trials
    4
    >>> print(read_figures({**texts, "spread": "10"}, lab)[1]["spread"])
    This figure cannot be used. Given: 10. Allowed: 0 to 90 %.
    """
    weighed = _balance_of(base) is not None
    refusals: dict[str, Refusal] = {}
    numbers: dict[str, float] = {}
    kinds: tuple[Balances, ...] = ()
    for name in FIELDS:
        optional = name in ("repeatability", "minutes") or (name == "readability" and not weighed)
        try:
            if name == "balances":
                kinds = _balances(texts[name]) if weighed else ()
                continue
            numbers[name] = _number(name, texts[name], optional)
        except StoichkitError as error:
            refusals[name] = refusal_of(error)
    if refusals:
        return None, refusals
    low, high = numbers["recovery_low"], numbers["recovery_high"]
    if low > high:
        advice = f"Allowed: {low:g} or more."
        return None, {"recovery_high": Refusal("The largest fraction is below the least.", advice)}
    try:
        experiment = replace(base, recovery=(low, high))
        for name, instrument in experiment.instruments.items():
            if isinstance(instrument, Balance):
                experiment = experiment.with_instrument(name, _changed(instrument, numbers))
        plan = Plan(
            experiment=experiment,
            consumed_mol=numbers["amount"] / consumed_molar_mass(base),
            trials=int(numbers["trials"]),
            spread=numbers["spread"],
        )
    except StoichkitError as error:
        return None, {"amount": refusal_of(error)}
    groups, minutes = int(numbers["groups"]), numbers["minutes"]
    room = Room(groups, kinds, None if math.isnan(minutes) else minutes) if kinds else None
    return Figures(plan, numbers["target"], numbers["excess"], groups, room), {}


def _balances(text: str) -> tuple[Balances, ...]:
    """Read the balances of a room, with semicolons between."""
    kinds = tuple(Balances.of(one) for one in text.split(";") if one.strip())
    return Room(1, kinds).balances


def _balance_of(experiment: Experiment) -> Balance | None:
    found = (i for i in experiment.instruments.values() if isinstance(i, Balance))
    return next(found, None)


def _changed(balance: Balance, numbers: Mapping[str, float]) -> Balance:
    step, noise = numbers["readability"], numbers["repeatability"]
    return replace(
        balance,
        readability_g=step,
        repeatability_g=None if math.isnan(noise) else noise,
        linearity_g=balance.linearity_g * step / balance.readability_g,
    )


def _number(name: str, text: str, optional: bool) -> float:
    """Read one text; nan where it may be empty and is."""
    low, high, words = _LIMITS[name]
    if optional and not text.strip():
        return math.nan
    match = _PERCENT.fullmatch(text)
    value = parse_number(match[1] if match else text, "figure").value
    if match:
        value /= 100
    whole = name in ("trials", "groups")
    if not low <= value <= high or (whole and value != int(value)):
        raise ModelError("This figure cannot be used.", given=text, allowed=words)
    return value


_LIMITS = {
    "amount": (1e-9, 1e6, "above 0"),
    "trials": (1, 64, "a whole number, 1 to 64"),
    "spread": (0.0, 0.9, "0 to 90 %"),
    "target": (0.05, 0.999, "0.05 to 0.999"),
    "readability": (1e-6, 100.0, "0.000001 to 100 g"),
    "repeatability": (0.0, 100.0, "0 to 100 g, or empty: half the readability is assumed"),
    "recovery_low": (0.05, 10.0, "0.05 to 10"),
    "recovery_high": (0.05, 10.0, "0.05 to 10"),
    "excess": (1.0, 20.0, "1 to 20"),
    "groups": (1, 60, "a whole number, 1 to 60"),
    "minutes": (1.0, 10_000.0, "1 to 10000, or empty: not asked"),
}


def _short(value: float) -> str:
    """Write a number without a power of ten."""
    text = f"{value:.9f}".rstrip("0").rstrip(".")
    return text or "0"


QUESTIONS = {
    "amount": "smallest amount",
    "trials": "fewest trials",
    "balance": "coarsest balance",
    "recovery": "largest recovery allowance",
}
_ASK: dict[str, Callable[..., Answer]] = {
    "amount": smallest_amount,
    "trials": fewest_trials,
    "balance": coarsest_balance,
    "recovery": largest_recovery,
}
_STEPS_G = (0.0001, 1.0)
_SETTLED = 0.004


@dataclass(frozen=True, slots=True, kw_only=True)
class _WatchedPlan(Plan):
    """A plan that tells whenever a plan is derived from it or worked out.

    The questions of planning try one plan after another; this is how they can be stopped between
    two of them.
    """

    watch: Callable[[Plan], None] = field(compare=False, repr=False)

    def __post_init__(self) -> None:
        Plan.__post_init__(self)
        self.watch(self)

    def expected_readings(
        self, truth: str, *, fixed: bool = False, recovered: float | None = None
    ) -> dict[str, float]:
        self.watch(self)
        return Plan.expected_readings(self, truth, fixed=fixed, recovered=recovered)


def _watched(plan: Plan, watch: Callable[[Plan], None]) -> _WatchedPlan:
    return _WatchedPlan(
        experiment=plan.experiment,
        consumed_mol=plan.consumed_mol,
        trials=plan.trials,
        spread=plan.spread,
        watch=watch,
    )


def _plain(found: OperatingCharacteristic) -> OperatingCharacteristic:
    """Return a result whose plan is watched no more."""
    p = found.plan
    plan = Plan(
        experiment=p.experiment, consumed_mol=p.consumed_mol, trials=p.trials, spread=p.spread
    )
    return OperatingCharacteristic(plan, found.over_recovery)


def characteristic(plan: Plan, report: Report) -> OperatingCharacteristic:
    """Return the chance of each verdict for each candidate taken as true.

    >>> from stoichkit import experiments
    >>> said = []
    >>> plan = Plan(experiment=experiments.load("copper-silver"), consumed_mol=0.002)
    >>> characteristic(plan, said.append).right > 0.9, said[0]
    (True, 'Chances if copper(I) is true (1 of 2) …')
    """
    names = [c.name for c in plan.experiment.candidates]
    found: dict[str, tuple[tuple[float, Chances], ...]] = {}
    for number, name in enumerate(names, start=1):
        each = []
        for recovered in plan.recoveries:
            report(f"Chances if {name} is true ({number} of {len(names)}) …")
            each.append((recovered, chances(plan, name, recovered=recovered)))
        found[name] = tuple(each)
    return OperatingCharacteristic(plan, found)


def answer(plan: Plan, question: str, target: float, report: Report) -> Answer:
    """Answer a planning question.

    >>> from stoichkit import experiments
    >>> said = []
    >>> plan = Plan(experiment=experiments.load("copper-silver"), consumed_mol=0.002)
    >>> answer(plan, "trials", 0.9, said.append).value, said[0]
    (1.0, 'Looking for the fewest trials: 1 trial, 0.127 g of Cu, read to 0.01 g …')
    """

    def watch(tried: Plan) -> None:
        report(f"Looking for the {QUESTIONS[question]}: {_tried(tried)} …")

    found = _ASK[question](_watched(plan, watch), target=target)
    short = None if found.short is None else _plain(found.short)
    return replace(found, at=_plain(found.at), short=short)


def _tried(plan: Plan) -> str:
    trials = f"{plan.trials} trial{'s' if plan.trials > 1 else ''}"
    steps = [
        step_text(i.readability_g)
        for i in plan.experiment.instruments.values()
        if isinstance(i, Balance)
    ]
    low, high = plan.experiment.recovery
    allowed = "" if (low, high) == (1.0, 1.0) else f", recovery {low:g} to {high:g}"
    balance = f", read to {steps[0]}" if steps else ""
    return f"{trials}, {amount_text(plan)}{balance}{allowed}"


@dataclass(frozen=True, slots=True, eq=False)
class SampleCost:
    """The smallest amount on the balance of a plan and on one ten times coarser."""

    fine: Answer
    coarse: Answer
    fine_g: float
    coarse_g: float


def sample_cost(plan: Plan, fine_g: float, target: float, report: Report) -> SampleCost:
    """Return what a ten times coarser balance costs in sample."""
    coarse_g = float(f"{10 * fine_g:.6g}")
    coarse = replace(
        plan,
        experiment=with_readability(plan.experiment, coarse_g),
        consumed_mol=10 * plan.consumed_mol,
    )
    return SampleCost(
        answer(plan, "amount", target, report),
        answer(coarse, "amount", target, report),
        fine_g,
        coarse_g,
    )


def design(plan: Plan, target: float, marked_g: tuple[float, ...], report: Report) -> DesignMap:
    """Return the chance of a right conclusion over reacting masses and balances.

    Weighings of two substances by themselves take a fraction of a second; other labs are worked
    out on a coarser grid, balance by balance, the coarsest first.
    """
    mass = plan.consumed_mass_g
    report("Working out the map …")
    quick = _separate_weighings(plan.experiment) and plan.experiment.variation is None
    low, high = (min(*_STEPS_G, *marked_g), max(*_STEPS_G, *marked_g))
    if math.isnan(mass):
        mass = 1.0  # electrons: the design map says why there is none
        quick = True
    if quick:
        steps = _with_marks(np.geomspace(low, high, 49), marked_g)
        masses = np.geomspace(min(mass / 3, marked_g[0] / 2), max(3 * mass, 30 * marked_g[-1]), 101)
        return design_map(
            plan.experiment,
            masses_g=masses,
            readabilities_g=steps,
            trials=plan.trials,
            spread=plan.spread,
            target=target,
        )
    steps = np.array(sorted({0.1, 0.01, 0.001, *marked_g}))
    masses = np.geomspace(mass / 100, mass * 10, 16)
    rows = []
    for number, step in enumerate(steps[::-1], start=1):
        words = f"Map: balance read to {step_text(float(step))}, {number} of {steps.size}"
        rows.append(_row(plan, float(step), masses, report, words))
    each = np.array(rows[::-1])  # (r, m, candidates, recoveries)
    return DesignMap.of(masses, steps, each.transpose(2, 3, 0, 1), target, plan.trials)


def _separate_weighings(experiment: Experiment) -> bool:
    """Return whether both substances are weighed and share no reading."""
    models = (experiment.consumed, experiment.produced)
    if not all(model.weighs_species for model in models):
        return False
    names = [role.name for model in models for role in model.roles()]
    return len(set(names)) == len(names)


def _with_marks(steps: np.ndarray, marked_g: tuple[float, ...]) -> np.ndarray:
    """Move the nearest of the steps onto each mark."""
    steps = steps.copy()
    for mark in marked_g:
        steps[int(np.argmin(np.abs(np.log(steps / mark))))] = mark
    return steps


def _row(
    plan: Plan, step_g: float, masses: np.ndarray, report: Report, words: str
) -> list[list[list[float]]]:
    """Return the chances on one balance, rising masses, until they settle.

    Each is a list over candidates of those at each recovery.
    """
    mol_per_g = plan.consumed_mol / plan.consumed_mass_g
    found: list[list[list[float]]] = []
    for number, mass in enumerate(masses, start=1):
        least = [min(map(min, each)) for each in found[-2:]]
        if len(least) > 1 and min(least) > 0.9 and abs(least[1] - least[0]) < _SETTLED:
            found.append(found[-1])
            continue
        changed = with_readability(plan.experiment, step_g)
        cell = replace(plan, experiment=changed, consumed_mol=float(mass) * mol_per_g)
        each = []
        for one in changed.candidates:
            report(f"{words}; mass {number} of {masses.size} …")
            each.append([c.right for _, c in over_recovery(cell, one.name)])
        found.append(each)
    return found


USUAL_STEPS_G = tuple(map(float, STEPS_G))
"""Display steps of usual balances, g."""
_PAPER = {"-cards.html": bench_cards, "-stock.html": stock_card, "-labels.html": labels}
_OF_THE_RECORD = ("readability", "repeatability", "recovery_low", "recovery_high", "balances")


@dataclass(frozen=True, slots=True)
class PlanTexts:
    """All that the screen holds."""

    base: Experiment
    name: str
    texts: tuple[tuple[str, str], ...]
    figures: Figures


class PlanState(Telling[bool]):
    """The texts typed into the screen and the plan they make.

    >>> state = PlanState("copper-silver")
    >>> state.set("trials", "four")
    >>> list(state.refusals), state.texts["trials"], state.figures.plan.trials
    (['trials'], 'four', 4)
    >>> state.set("trials", "2")
    >>> state.refusals, state.figures.plan.trials
    ({}, 2)
    """

    base: Experiment
    name: str
    texts: dict[str, str]
    refusals: dict[str, Refusal]
    figures: Figures

    def __init__(
        self,
        source: Experiment | str = "copper-silver",
        *,
        name: str = "",
        history: History | None = None,
    ) -> None:
        super().__init__()
        self._open(*read_source(source, name))
        self.history = History() if history is None else history
        self.history.join("plan", self.held, self.restore)

    def load(self, source: Experiment | str, *, name: str = "") -> None:
        """Begin with another experiment, its usual amount, trials and balance."""
        base, name = read_source(source, name)
        self.history.record(f"opened {name or base.title}")
        self._open(base, name)
        self._tell(True)

    def _open(self, base: Experiment, name: str) -> None:
        self.base, self.name = base, name
        self.texts = first_texts(base)
        self._read()

    def follow(self, base: Experiment) -> None:
        """Go on with the same lab after its record was changed; keep what can be kept.

        Figures of the instruments and of the product are taken from the record if they were
        changed there.

        Examples
        --------
        >>> state = PlanState("copper-silver")
        >>> state.set("amount", "0.2")
        >>> from dataclasses import replace
        >>> state.follow(replace(state.base, recovery=(0.9, 1.0)))
        >>> state.texts["recovery_low"], state.texts["amount"]
        ('0.9', '0.2')
        """
        old, new = first_texts(self.base), first_texts(base)
        self.base = base
        for name in _OF_THE_RECORD:
            if old[name] != new[name]:
                self.texts[name] = new[name]
        self._read()
        self._tell(True)

    def held(self) -> PlanTexts:
        """Return all that is held, as a value that does not change with the state."""
        return PlanTexts(self.base, self.name, tuple(self.texts.items()), self.figures)

    def restore(self, held: PlanTexts) -> None:
        """Bring back what was held."""
        loaded = held.base != self.base
        self.base, self.name, self.figures = held.base, held.name, held.figures
        self.texts = dict(held.texts)
        self._read()
        self._tell(loaded)

    def label(self, name: str) -> str:
        """Return the label of a figure.

        >>> PlanState("copper-silver").label("amount")
        'Mass of Cu to react in each trial, g'
        """
        return label_of_figure(name, self.base)

    def take(self, found: Answer) -> None:
        """Take the answer to a question into the plan, as one step that can be undone.

        >>> state = PlanState("copper-silver")
        >>> state.set("amount", "0.02")
        >>> state.take(state.answer("amount")); state.texts["amount"]
        '0.03'
        """
        if not found.reached:
            raise ModelError("This question has no answer that could be used in the plan.")
        plan = found.at.plan
        mass = plan.consumed_mol * consumed_molar_mass(self.base)
        balance = _balance_of(plan.experiment)
        low, high = plan.experiment.recovery
        texts = {
            "amount": {"amount": three_digits(mass, up=True)},
            "trials": {"trials": str(plan.trials)},
            "balance": {} if balance is None else self._read_to(balance.readability_g),
            "recovery": {"recovery_low": _short(low), "recovery_high": _short(high)},
        }[found.question]
        self._change(texts, f"used the {QUESTIONS[found.question]}")

    def of_readings(self, found: Evidence) -> dict[str, str]:
        """Return amount and trials of readings, as texts of the plan; none if nothing reacted.

        >>> state = PlanState("copper-silver")
        >>> state.of_readings(assess(state.base))
        {'amount': '0.11', 'trials': '4'}
        """
        amount = _weighed(found)
        if amount <= _LIMITS["amount"][0]:
            return {}
        trials = min(len(found.experiment.trials), 64)
        return {"amount": _two_digits(amount), "trials": str(trials)}

    def take_readings(self, found: Evidence) -> None:
        """Plan the lab that the readings are of, as one step that can be undone.

        >>> state = PlanState("copper-silver")
        >>> state.set("amount", "3")
        >>> state.take_readings(assess(state.base)); state.texts["amount"]
        '0.11'
        """
        self._change(self.of_readings(found), "took what was weighed into the plan")

    def move(self, mass_g: float, step_g: float) -> None:
        """Move the plan to about this mass and to the nearest balance of the room.

        What is moved straight up or down goes on to the next step, however little it is moved.

        >>> state = PlanState("copper-silver")
        >>> state.move(0.2345, 0.12); state.texts["amount"], state.texts["readability"]
        ('0.23', '0.1')
        >>> state.texts["repeatability"]
        '0.05'
        >>> state.move(0.23, 0.09); state.texts["readability"]
        '0.01'
        """
        now, plan = self.balance_g, self.figures.plan
        if math.isclose(mass_g, plan.consumed_mass_g, rel_tol=1e-9) and step_g != now:
            up = step_g > now
            beyond = [s for s in self.marked_g if (s > now if up else s < now)]
            step = (min(beyond) if up else max(beyond)) if beyond else now
        else:
            step = min(self.marked_g, key=lambda s: abs(math.log(s / step_g)))
        mass = min(max(float(f"{mass_g:.2g}"), 1e-4), 1e4)
        texts = {"amount": _short(mass), **self._read_to(step)}
        self._change(texts, "moved the plan on the map", key=("plan", "moved"))

    def take_design(self, mass_g: float, step_g: float, words: str) -> None:
        """Take a mass, rounded up, and a balance into the plan, as one step that can be undone.

        >>> state = PlanState("copper-silver")
        >>> state.take_design(0.69651, 0.1, "took a design")
        >>> [state.texts[name] for name in ("amount", "readability")]
        ['0.697', '0.1']
        """
        texts = {"amount": three_digits(mass_g, up=True), **self._read_to(step_g)}
        self._change(texts, words)

    def take_setup(self, found: Setup) -> None:
        """Take a set-up into the plan; of several balances in use the one of most benches."""
        most = max(found.found.groups, key=lambda one: one.number).plan
        balance = _balance_of(most.experiment)
        mass = most.consumed_mol * consumed_molar_mass(self.base)
        step = math.nan if balance is None else balance.readability_g
        self.take_design(mass, step, "took a set-up")

    def _read_to(self, step_g: float) -> dict[str, str]:
        """Return the texts of a balance read to another step, as :meth:`.Balance.read_to` does."""
        balance = _balance_of(self.figures.plan.experiment)
        stated = None if balance is None else balance.read_to(step_g).repeatability_g
        repeats = "" if stated is None else _short(float(f"{stated:.6g}"))
        return {"readability": _short(step_g), "repeatability": repeats}

    def _change(self, texts: Mapping[str, str], words: str, *, key: object = None) -> None:
        """Set several texts as one step, unless they are as they were."""
        if all(self.texts[name] == text for name, text in texts.items()):
            return
        self.history.record(words, key=key)
        self.texts |= texts
        self._read()
        self._tell(False)

    def set(self, name: str, text: str) -> None:
        """Take over what is typed for a figure."""
        if name not in self.texts:
            raise ExperimentError("There is no such figure.", given=name, allowed=", ".join(FIELDS))
        self._change({name: text}, f"typed {self.label(name)}", key=("plan", name))

    def _read(self) -> None:
        """Read all texts; keep the figures from before where one is refused."""
        figures, self.refusals = read_figures(self.texts, self.base)
        if figures is not None:
            self.figures = figures

    @property
    def balance_g(self) -> float:
        """Readability of the balance, g; nan without one."""
        for instrument in self.figures.plan.experiment.instruments.values():
            if isinstance(instrument, Balance):
                return instrument.readability_g
        return math.nan

    @property
    def marked_g(self) -> tuple[float, ...]:
        """Balances at hand: that of the plan and those of the room, g."""
        own = () if math.isnan(self.balance_g) else (self.balance_g,)
        room = self.figures.room
        there = () if room is None else (kind.readability_g for kind in room.balances)
        return tuple(sorted({*there, *own}))

    def setups(self, report: Report = silent) -> SetupComparison:
        """Return what the room could do with this lab, the plan as it stands first.

        >>> state = PlanState("copper-silver")
        >>> state.set("balances", "0.01: 2"); state.set("groups", "3")
        >>> [one.aim for one in state.setups().setups]
        ['this plan', 'each bench', 'the class together']
        """
        figures, room = self.figures, self.figures.room
        if room is None:
            raise ModelError(
                "Nothing is weighed in this experiment.",
                fix="Ask for the smallest amount or the fewest trials.",
            )
        plan, own = figures.plan, []
        report("Working out the plan in this room …")
        kind = next((k for k in room.balances if k.readability_g == self.balance_g), None)
        if kind is not None:
            groups = groups_in(room, plan, kind)
            own = [setup_of(room, groups, aim="this plan", excess=figures.excess)]
        found = compare_setups(
            room, [plan.experiment], trials=[plan.trials], target=figures.target,
            spread=plan.spread, excess=figures.excess, progress=report,
        )  # fmt: skip
        return replace(found, setups=(*own, *found.setups))

    def characteristic(self, report: Report = silent) -> OperatingCharacteristic:
        """Return the chance of each verdict; see :func:`.plan_tasks.characteristic`."""
        return characteristic(self.figures.plan, report)

    def answer(self, question: str, report: Report = silent) -> Answer:
        """Answer a planning question; see :func:`.plan_tasks.answer`."""
        if question == "balance":
            self._need_balance()
        return answer(self.figures.plan, question, self.figures.target, report)

    def sample_cost(self, report: Report = silent) -> SampleCost:
        """Return what a ten times coarser balance costs; see :func:`.plan_tasks.sample_cost`."""
        self._need_balance()
        return sample_cost(self.figures.plan, self.balance_g, self.figures.target, report)

    def _need_balance(self) -> None:
        if math.isnan(self.balance_g):
            raise ModelError(
                "Nothing is weighed in this experiment.",
                fix="Ask for the smallest amount or the fewest trials.",
            )

    def design(self, report: Report = silent) -> DesignMap:
        """Return the map of balances and masses; see :func:`.plan_tasks.design`."""
        return design(self.figures.plan, self.figures.target, self.marked_g, report)

    @property
    def map_is_quick(self) -> bool:
        """Whether the map takes a fraction of a second, not minutes.

        >>> PlanState("copper-silver").map_is_quick, PlanState("magnesium-gas").map_is_quick
        (True, False)
        """
        lab = self.figures.plan.experiment
        weighed = not math.isnan(self.figures.plan.consumed_mass_g)
        return weighed and lab.variation is None and _separate_weighings(lab)

    @property
    def map_key(self) -> object:
        """What a map depends on: all of the plan but its mass and the step of its balance."""
        figures, lab = self.figures, self.figures.plan.experiment
        room = () if figures.room is None else figures.room.balances
        balance = _balance_of(lab)
        steps = None if balance is None else balance.read_to(1.0).repeatability_g
        return (
            lab.consumed, lab.produced, lab.candidates, lab.recovery, lab.coverage, lab.variation,
            figures.plan.trials, figures.plan.spread, figures.target,
            None if steps is None else round(steps, 6),
            tuple(sorted(kind.readability_g for kind in room)),
        )  # fmt: skip

    def bench(self, found: OperatingCharacteristic | None = None) -> BenchPlan:
        """Return the bench plan, with the chances if they are those of this plan."""
        figures = self.figures
        if found is None or found.plan != figures.plan:
            return bench_plan(figures.plan, excess=figures.excess, groups=figures.groups)
        low, high = figures.plan.experiment.recovery
        worst = "" if low == high else " The chances are those at the worst of what is recovered."
        return bench_plan(
            figures.plan,
            excess=figures.excess,
            groups=figures.groups,
            chances={name: one.right for name, one in found.chances.items()},
            chances_text=f"{setting_sentence(figures.plan)}{worst}",
        )

    def _need_figures(self) -> None:
        if self.refusals:
            name, refusal = next(iter(self.refusals.items()))
            raise ExperimentError(
                f"This plan cannot be saved yet: {self.label(name)}: {refusal}",
                fix="Correct the figures marked as not used.",
            )

    def file(self, ending: str, found: OperatingCharacteristic | None = None) -> tuple[str, bytes]:
        """Return name and contents of the bench plan (.html, .md) or data sheet (.csv, .xlsx).

        ``-cards.html``, ``-stock.html`` and ``-labels.html`` are bench cards, stock card, labels.

        >>> name, data = PlanState("tin-oxide").file(".md")
        >>> name, data.decode().splitlines()[0]
        ('my-tin-oxide-plan.md', '# Bench plan: Which oxide does tin form?')
        >>> name, data = PlanState("tin-oxide").file("-cards.html")
        >>> name, data.decode().count('class="card"')
        ('my-tin-oxide-cards.html', 6)
        """
        self._need_figures()
        stem = f"my-{self.name or 'lab'}"
        if ending in (".csv", ".xlsx"):
            plan, groups = self.figures.plan, self.figures.groups
            data = datasheet_bytes(plan.experiment, ending, groups=groups, trials=plan.trials)
            return f"{stem}-sheet{ending}", data
        if ending in _PAPER:
            return f"{stem}{ending}", _PAPER[ending](self.bench(found)).html().encode()
        form = form_of(f"plan{ending}")
        return f"{stem}-plan{ending}", self.bench(found).written(form).encode()
