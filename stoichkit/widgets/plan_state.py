"""What the panel “Plan a lab” holds: the typed figures, the last good plan, what is refused.

Plain Python without Jupyter. The long calculations are methods that take a function to report to,
so that they can run beside a panel and be stopped.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from ..atomic_file import write_whole
from ..bench import BenchPlan, bench_plan
from ..datasheet import write_datasheet
from ..design_grid import DesignMap
from ..errors import ExperimentError, ModelError
from ..experiment import Experiment
from ..instruments import Balance
from ..plan_sentences import setting_sentence
from ..planning import OperatingCharacteristic
from ..planning_questions import Answer
from .evaluation import Refusal
from .plan_figures import FIELDS, Figures, first_texts, label_of_figure, read_figures
from .plan_tasks import SampleCost, answer, characteristic, design, sample_cost
from .saving import free_target, target_path
from .source import read_source
from .undo import History
from .work import Report, silent

__all__ = ["PlanState", "PlanTexts"]

_AT_HAND_G = (0.1, 0.01, 0.001)
_OF_THE_RECORD = ("readability", "repeatability", "recovery_low", "recovery_high")


@dataclass(frozen=True, slots=True)
class PlanTexts:
    """All that the panel holds.

    Attributes
    ----------
    base : Experiment
    name : str
    texts : tuple of (str, str)
        Names and texts of the figures.
    figures : Figures
        The last that could be read.
    """

    base: Experiment
    name: str
    texts: tuple[tuple[str, str], ...]
    figures: Figures


class PlanState:
    """The texts typed into the panel and the plan they make.

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
    base : Experiment
        The record that was loaded.
    name : str
        Name of the ready experiment, "" for another.
    texts : dict of str to str
        Every figure as typed, by the names in :data:`.plan_figures.FIELDS`.
    refusals : dict of str to Refusal
        Why a text cannot be used; empty if all can.
    figures : Figures
        Those of the texts, or from before the first refusal.

    Raises
    ------
    ExperimentError
        If there is no such experiment, or the text is faulty.

    Examples
    --------
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
        self._subscribers: list[Callable[[bool], None]] = []
        self._saved: set[Path] = set()
        self._open(*read_source(source, name))
        self.history = History() if history is None else history
        self.history.join("plan", self.held, self.restore)

    def subscribe(self, callback: Callable[[bool], None]) -> Callable[[], None]:
        """Have a function called after each change; the function returned ends that.

        It is told whether another experiment was loaded.
        """
        self._subscribers.append(callback)

        def stop() -> None:
            if callback in self._subscribers:
                self._subscribers.remove(callback)

        return stop

    def load(self, source: Experiment | str, *, name: str = "") -> None:
        """Begin with another experiment, its usual amount, trials and balance.

        Raises
        ------
        ExperimentError
            If there is no such experiment, or the text is faulty; nothing has changed then.
        """
        base, name = read_source(source, name)
        self.history.record(f"opened {name or base.title}")
        self._open(base, name)
        self._tell(loaded=True)

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
        self._tell(loaded=True)

    def held(self) -> PlanTexts:
        """Return all that is held, as a value that does not change with the state."""
        return PlanTexts(self.base, self.name, tuple(self.texts.items()), self.figures)

    def restore(self, held: PlanTexts) -> None:
        """Bring back what was held."""
        loaded = held.base != self.base
        self.base, self.name, self.figures = held.base, held.name, held.figures
        self.texts = dict(held.texts)
        self._read()
        self._tell(loaded=loaded)

    def label(self, name: str) -> str:
        """Return the label of a figure.

        >>> PlanState("copper-silver").label("amount")
        'Mass of Cu to react in each trial, g'
        """
        return label_of_figure(name, self.base)

    def set(self, name: str, text: str) -> None:
        """Take over what is typed for a figure.

        Raises
        ------
        ExperimentError
            If there is no such figure.
        """
        if name not in self.texts:
            raise ExperimentError("There is no such figure.", given=name, allowed=", ".join(FIELDS))
        if self.texts[name] == text:
            return
        self.history.record(f"typed {self.label(name)}", key=("plan", name))
        self.texts[name] = text
        self._read()
        self._tell()

    def _read(self) -> None:
        """Read all texts; keep the figures from before where one is refused."""
        figures, self.refusals = read_figures(self.texts, self.base)
        if figures is not None:
            self.figures = figures

    def _tell(self, *, loaded: bool = False) -> None:
        for callback in tuple(self._subscribers):
            callback(loaded)

    @property
    def balance_g(self) -> float:
        """Readability of the balance, g; nan without one."""
        for instrument in self.figures.plan.experiment.instruments.values():
            if isinstance(instrument, Balance):
                return instrument.readability_g
        return math.nan

    @property
    def marked_g(self) -> tuple[float, ...]:
        """Balances at hand: that of the plan and the usual ones, g."""
        own = () if math.isnan(self.balance_g) else (self.balance_g,)
        return tuple(sorted({*_AT_HAND_G, *own}))

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

    def bench(self, found: OperatingCharacteristic | None = None) -> BenchPlan:
        """Return the bench plan, with the chances if they are those of this plan."""
        figures = self.figures
        if found is None or found.plan != figures.plan:
            return bench_plan(figures.plan, excess=figures.excess, groups=figures.groups)
        return bench_plan(
            figures.plan,
            excess=figures.excess,
            groups=figures.groups,
            chances={name: one.right for name, one in found.chances.items()},
            chances_text=setting_sentence(figures.plan),
        )

    def save(
        self,
        kind: str,
        path: str,
        *,
        found: OperatingCharacteristic | None = None,
        replace_file: bool = False,
    ) -> Path:
        """Write the bench plan or the blank data sheet, whole or not at all.

        Parameters
        ----------
        kind : str
            ``"plan"`` (a name that ends in .html or .md) or ``"sheet"`` (.csv or .xlsx).
        path : str
            Name of the file, see :func:`.saving.target_path`.
        found : OperatingCharacteristic, optional
            Chances to be shown in the plan.
        replace_file : bool
            Whether a file that this state has not written itself may be replaced.

        Returns
        -------
        pathlib.Path
            Full name of the file written.

        Raises
        ------
        ExperimentError
            If a figure cannot be used, the name ends in something else, or the file exists.
        """
        if self.refusals:
            name, refusal = next(iter(self.refusals.items()))
            raise ExperimentError(
                f"This plan cannot be saved yet: {self.label(name)}: {refusal}",
                fix="Correct the figures marked as not used.",
            )
        endings = {"plan": (".html", ".md"), "sheet": (".csv", ".xlsx")}[kind]
        target = target_path(path)
        if target.suffix.lower() not in endings:
            raise ExperimentError(
                "This cannot be the name of such a file.",
                given=target.name,
                allowed=f"a name that ends in {' or '.join(endings)}",
            )
        target = free_target(path, self._saved, replace_file=replace_file)
        if kind == "sheet":
            plan = self.figures.plan
            write_datasheet(plan.experiment, target, groups=self.figures.groups, trials=plan.trials)
        else:
            made = self.bench(found)
            html = target.suffix.lower() == ".html"
            write_whole(target, (made.to_html() if html else made.to_markdown()).encode())
        self._saved.add(target)
        return target

    def suggested(self, kind: str) -> str:
        """Return a name for a file: ``"plan"`` or ``"sheet"``.

        >>> PlanState("tin-oxide").suggested("sheet")
        'my-tin-oxide-sheet.csv'
        """
        ending = {"plan": "plan.html", "sheet": "sheet.csv"}[kind]
        return f"my-{self.name or 'lab'}-{ending}"
