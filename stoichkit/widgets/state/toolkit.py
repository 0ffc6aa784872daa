"""What the toolkit holds: one experiment in all screens, one history, one file of typed texts.

Plain Python without Jupyter. The readings stand in the middle; the plan follows their record.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping
from dataclasses import asdict
from datetime import datetime
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..._common import check_ending
from ...errors import StoichkitError
from ...experiments.record import Experiment
from ...uncertainty import entry
from ..kit.history import History
from ..kit.saving import FOLDER, Autosave, Earlier, key_of, said_time
from .form import Outcome
from .readings import Change, ReadingsState, read_source, snapshot_from, snapshot_tables

if TYPE_CHECKING:
    from .causes import CausesState
    from .plan import PlanState

_RECORD = (
    "consumed", "produced", "instruments", "candidates", "recovery", "variation", "coverage",
    "looks",
)  # fmt: skip
_MODELS = ("consumed", "produced")


class ToolkitState:
    """The states of all screens on one experiment.

    >>> state = ToolkitState("copper-silver", autosave=False)
    >>> state.readings.set_balance(readability_g="0.1")
    >>> state.plan.texts["readability"]
    '0.1'
    >>> state.plan.load("tin-oxide")
    >>> state.readings.name
    'tin-oxide'
    >>> state.history.undo(), state.readings.name, state.plan.texts["readability"]
    ('opened tin-oxide', 'copper-silver', '0.1')
    """

    def __init__(
        self,
        source: Experiment | str = "copper-silver",
        *,
        autosave: bool = True,
        folder: str | Path | None = None,
    ) -> None:
        autosave = entry.flag("autosave", autosave)
        folder = None if folder is None else check_ending(folder, ())
        self._source = read_source(source)
        self.history = History()
        self.readings = ReadingsState(self._source[0], history=self.history)
        self.readings.name = self._source[1]
        self.notes: list[str] = []
        self.restored = ""
        self._saver: Autosave | None = None
        self._earlier: Earlier | None = None
        self._said: list[Callable[[], object]] = []
        self._kept: dict[str, tuple[Callable[[], Any], Callable[[Any], object]]] = {}
        self._waiting: dict[str, Any] = {}
        self._looked_at: Callable[[], Outcome] | None = None
        self.readings.subscribe(self._follow)
        self.history.subscribe(self._align)
        if autosave:
            self._start_saving(Path.cwd() / FOLDER if folder is None else Path(folder))

    @cached_property
    def plan(self) -> PlanState:
        """The plan of the lab; made when it is first asked for, and following it from then on."""
        from .plan import PlanState

        state = PlanState(self.readings.base, name=self.readings.name, history=self.history)
        vars(self)["plan"] = state
        self._align(opened=True)
        state.subscribe(lambda loaded: self._opened() if loaded else self.changed())
        return state

    @cached_property
    def causes(self) -> CausesState:
        """What could explain the lab; made when it is first asked for."""
        from .causes import CausesState

        state = CausesState(self.readings)
        vars(self)["causes"] = state
        if self._looked_at is not None:
            state.look_at(self._looked_at)
        self.keep("causes", self._causes_tables, self._restore_causes)
        state.subscribe(lambda _: self.changed())
        return state

    def look_at(self, outcome: Callable[[], Outcome]) -> None:
        """Have the causes be about an outcome that may be another one than that of the readings."""
        self._looked_at = outcome

    def subscribe(self, callback: Callable[[], object]) -> None:
        """Have a function called when there is something new in ``notes``."""
        self._said.append(callback)

    @property
    def offered(self) -> str:
        """When and where another session typed what can be restored; "" if there is nothing."""
        found = None if self._earlier is None else self._earlier.offered
        return "" if found is None else found.words(datetime.now())

    def restore_offered(self) -> None:
        """Bring back what another session typed, as one step that can be undone."""
        if self._earlier is not None and self._earlier.offered is not None:
            self._earlier.restore()
            self._show_restored()
            self.changed()

    def leave_offered(self) -> None:
        """Leave alone what another session typed."""
        if self._earlier is not None:
            self._earlier.leave()

    def start_afresh(self) -> None:
        """Open the experiment as it was at first; what was restored can be brought back by undo."""
        experiment, name = self._source
        self.restored = ""
        self.readings.load(experiment, name=name)

    def keep(self, name: str, take: Callable[[], Any], give: Callable[[Any], object]) -> None:
        """Have what else is typed kept in the file, and give back what was found there."""
        self._kept[name] = (take, give)
        if name in self._waiting:
            self._give(give, self._waiting.pop(name))

    def changed(self) -> None:
        """Have what is typed written into the file soon."""
        if self._saver is not None:
            self._saver.changed()

    def flush(self) -> None:
        """Have what is typed written now."""
        if self._saver is not None:
            self._saver.flush()

    def close(self) -> None:
        """Write what is left to be written; the states stop following each other."""
        if "causes" in vars(self):
            self.causes.stop()
        if self._saver is not None:
            self._saver.close()

    # One experiment everywhere

    def _follow(self, change: Change) -> None:
        if not self.history.restoring:
            self._align(opened=change is Change.FORM)
        self.changed()

    def _align(self, opened: bool = False) -> None:
        """Have the plan follow the record of the readings."""
        if self.history.restoring or "plan" not in vars(self):
            return
        lab, name = self.readings.experiment, self.readings.name
        with self.history.as_one():
            if opened or not _same(_MODELS, self.plan.base, lab):
                self.plan.load(lab, name=name)
            elif not _same(_RECORD, self.plan.base, lab):
                self.plan.follow(lab)

    def _opened(self) -> None:
        """Open everywhere what was opened in the plan."""
        if not self.history.restoring and not self.history.grouped:
            with self.history.as_one():
                self.readings.load(self.plan.base, name=self.plan.name)
        self.changed()

    # The file of what was typed

    def _start_saving(self, folder: Path) -> None:
        experiment, name = self._source
        text = name or hashlib.sha256(experiment.to_json().encode()).hexdigest()
        key = key_of(text)
        self._earlier = Earlier(folder, key, self._differs, self._restore, self._say)
        self._show_restored()
        self._saver = Autosave(folder, key, self._tables, self._say)

    def _say(self, words: str) -> None:
        self.notes.append(words)
        for callback in tuple(self._said):
            callback()

    def _tables(self) -> dict[str, Any]:
        return {
            "readings": snapshot_tables(self.readings.snapshot()),
            "plan": dict(self.plan.texts) if "plan" in vars(self) else {},
            "more": {**self._waiting, **{name: take() for name, (take, _) in self._kept.items()}},
        }

    def _differs(self, tables: Mapping[str, Any]) -> bool:
        """Whether there is something to restore; refuse tables that cannot be restored."""
        snapshot_from(tables.get("readings"))
        more = tables.get("more")
        used = {"plan": tables.get("plan"), **(more if isinstance(more, dict) else {})}
        for name in ("plan", "causes"):  # made, if they were used before, to be compared
            if used.get(name):
                getattr(self, name)
        return _typed(tables) != _typed(json.loads(json.dumps(self._tables())))

    def _restore(self, tables: Mapping[str, Any]) -> None:
        """Bring back what was typed, as one step that can be undone."""
        snapshot = snapshot_from(tables.get("readings"))
        more = tables.get("more")
        self._waiting = dict(more) if isinstance(more, dict) else {}
        self.history.record("restored what was typed")
        with self.history.as_one():
            self.readings.restore(snapshot)
            self._restore_plan(tables.get("plan"))
            for name in self._waiting.keys() & self._kept.keys():
                self._give(self._kept[name][1], self._waiting.pop(name))

    def _show_restored(self) -> None:
        found = None if self._earlier is None else self._earlier.restored
        self.restored = "" if found is None else said_time(found.saved, datetime.now())

    def _causes_tables(self) -> dict[str, Any]:
        return asdict(self.causes.choices)

    def _restore_causes(self, tables: Any) -> None:
        """Bring back the texts of the causes; the two effects are a pair of texts."""
        if not isinstance(tables, Mapping):
            return
        known: dict[str, Any] = {n: text for n, text in tables.items() if isinstance(text, str)}
        pair = tables.get("pair")
        if isinstance(pair, list) and len(pair) == 2 and all(isinstance(one, str) for one in pair):
            known["pair"] = tuple(pair)
        from .causes import Choices

        texts = {name: known[name] for name in Choices.__slots__ if name in known}
        self.causes.restore(Choices(**texts))

    def _restore_plan(self, texts: Any) -> None:
        for name, text in texts.items() if isinstance(texts, Mapping) else ():
            if name in self.plan.texts and isinstance(text, str):
                self.plan.set(name, text)

    def _give(self, give: Callable[[Any], object], value: Any) -> None:
        """Bring a part back; say so if it cannot be used."""
        try:
            give(value)
        except StoichkitError as error:
            self.notes.append(f"A part of what was typed earlier could not be restored: {error}")


def _same(fields: tuple[str, ...], one: Experiment, other: Experiment) -> bool:
    return one is other or all(getattr(one, name) == getattr(other, name) for name in fields)


def _typed(tables: Mapping[str, Any]) -> dict[str, Any]:
    """Return tables without what only says which texts were used last."""
    readings = tables.get("readings")
    return {
        **tables,
        "readings": {k: v for k, v in readings.items() if k not in ("good", "removed")}
        if isinstance(readings, Mapping)
        else None,
    }
