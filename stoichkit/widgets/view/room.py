"""The part of the screen “Plan” about the room: its benches and balances, and set-ups for it."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from functools import partial
from pathlib import Path

from ...bench.room import ORDERS, SetupComparison, drying_sentences, setup_sentences
from ...errors import ExperimentError
from ...text.wording import capitalised
from ..state.lab import LabState
from ..state.plan import Figures, PlanState
from .blocks import Block, Builder, bullets, details, heading, row, words
from .frame import Frame
from .task import Task

_NOTES = {
    "spread": "10 %, or 0 for exactly this amount",
    "target": "0.9 or 90 %",
    "repeatability": "empty: half the readability is assumed; 0: digits only",
    "recovery_low": "1: nothing is lost",
    "balances": "0.1; 0.01: 2 is one to 0.1 g at each bench and two to 0.01 g",
    "minutes": "empty: not asked",
}
_AS_IT_COMES = "as they come"
_FILES = (
    (".csv", "Table of set-ups (CSV)", "text/csv"),
    (
        ".xlsx",
        "Set-ups and orders (XLSX)",
        "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    ),
    (".html", "Set-ups to print (HTML)", "text/html"),
)


def figure(make: Builder, state: PlanState, name: str) -> Block:
    """Return the field of a figure of a plan."""
    return make.field(
        f"plan:{name}",
        state.label(name),
        state.texts[name],
        partial(state.set, name),
        refusal=state.refusals.get(name),
        note=_NOTES.get(name, ""),
    )


class RoomPart:
    """The room, and the table of set-ups, from which one is taken as the plan.

    Parameters
    ----------
    lab : LabState
    tell : callable
        Called whenever there is something new to be shown.
    name : callable
        Returns what the names of files begin with.
    frame : callable
        Returns the frame that shows the screen, None if none does.
    """

    def __init__(
        self,
        lab: LabState,
        tell: Callable[[], object],
        name: Callable[[], str],
        frame: Callable[[], Frame | None],
    ) -> None:
        self.state, self._frame, self._name = lab.kit.plan, frame, name
        self._task: Task[SetupComparison] = Task("setups", tell)
        self._by = _AS_IT_COMES

    def close(self) -> None:
        """Stop what is being worked out, and forget it."""
        self._task.forget()

    def figures(self, make: Builder) -> list[Block]:
        """Show the benches and the balances of the room."""
        names = ["groups", "minutes"]
        if self.state.figures.room is not None:
            names.insert(1, "balances")
        fields = (figure(make, self.state, name) for name in names)
        return [heading("The room"), row(*fields, even=True)]

    def setups(self, make: Builder) -> list[Block]:
        """Show set-ups for the room side by side."""
        state, task = self.state, self._task
        if state.figures.room is None:
            return []
        if task.running and task.key != state.figures:
            task.stop("Stopped, because the plan has changed.", again=False)
        blocks = [
            heading("Set-ups for the room"),
            words("The least mass on each kind of balance with which a bench concludes, and with "
                  "which the class together does; what to order, what is left over, and how long "
                  "it takes with the queue at the balances. It may take a while, and can be "
                  "stopped.", "note"),
        ]  # fmt: skip
        if not task.running:
            label = "Compare set-ups" if task.result is None else "Compare them anew"
            blocks.append(row(make.button("setups", label, self._ask)))
        blocks += task.blocks(make)
        if task.result is not None:
            blocks += self._found(make, task.result, task.found_for)
        return blocks

    def _ask(self) -> None:
        if self.state.refusals:
            raise ExperimentError(
                "Nothing is worked out while a figure is not used.",
                fix="Correct the fields marked as not used.",
            )
        self._task.start(self.state.figures, self.state.setups)

    def _found(self, make: Builder, result: SetupComparison, of: Figures) -> list[Block]:
        found = result if self._by == _AS_IT_COMES else result.sorted(self._by)
        old = of != self.state.figures
        blocks: list[Block] = []
        if old:
            blocks.append(words("The plan or the room has changed since: these are the set-ups of "
                                "the figures before.", "status"))  # fmt: skip
        said = [*setup_sentences(found), *found.without]
        blocks += [words(said[0], "strong"), bullets(said[1:])] if said else []
        orders = [(_AS_IT_COMES, _AS_IT_COMES), *ORDERS.items()]
        blocks.append(row(make.choice("setups-by", "Order", self._by, orders, self._sort)))
        chances, taken = found.tables()
        looks = ["faint" if old else ""] * len(found.setups)
        blocks.append(
            make.table(f"{chances.caption}; choose one to take it as the plan", chances.header,
                       chances.rows, name="setup", chosen=partial(self._take, found), looks=looks,
                       selected=self._selected(found))
        )  # fmt: skip
        blocks.append(make.table(taken.caption, taken.header, taken.rows, looks=looks))
        if notes := list(drying_sentences(found)):
            blocks += [words("Drying and time", "strong"), bullets(notes)]
        orders_said = [
            f"{capitalised(one.name)}: {'; '.join(o.words for o in one.orders)}."
            for one in found.setups
        ]
        blocks.append(details("What to order for each", [bullets(orders_said)]))
        page = found.document()
        blocks.append(
            details("What the chances and the minutes assume",
                    [words(p) for s in page.sections for p in s.parts[1:]
                     if s.title in ("Chances", "Orders, waste and time") and isinstance(p, str)])
        )  # fmt: skip
        files = [
            make.button(f"setups{ending}", label, partial(self._save, found, ending, kind))
            for ending, label, kind in _FILES
        ]
        return [*blocks, row(*files)]

    def _selected(self, found: SetupComparison) -> int:
        """Return which set-up is the plan as it stands; −1 for none."""
        plan = self.state.figures.plan
        for place, one in enumerate(found.setups):
            if len(one.found.groups) == 1 and one.plan == plan:
                return place
        return -1

    def _sort(self, by: str) -> None:
        self._by = by

    def _take(self, found: SetupComparison, place: int) -> None:
        self.state.take_setup(found.setups[place])

    def _save(self, found: SetupComparison, ending: str, kind: str) -> None:
        frame = self._frame()
        if frame is None:
            return
        name = f"my-{self._name()}-setups{ending}"
        with tempfile.TemporaryDirectory() as folder:
            data = found.save(Path(folder) / name).read_bytes()
        frame.hand_over(name, kind, data)
