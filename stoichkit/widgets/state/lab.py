"""One lab that all screens share: what was typed, what is tried instead, and what is shown.

Plain Python without Jupyter. Whatever shows a part of it is told after each change. What a first
verdict does not need is imported when it is asked for.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from ...decision.evidence import Evidence
from ...decision.verdict import Verdict
from ...experiments.record import Experiment
from ..kit.telling import Telling
from .form import Outcome
from .own import OwnLab
from .toolkit import ToolkitState
from .whatif import WhatIf

if TYPE_CHECKING:
    from ...diagnosis.slips import Slip
    from .classroom import ClassState
    from .labs import LabsState
    from .study import StudyState
    from .worked import WorkedState


S = TypeVar("S", bound=Telling[Any])


class LabState(Telling[None]):
    """The states of all screens on one lab.

    >>> lab = LabState("copper-silver", autosave=False)
    >>> lab.readings.set_reading(0, "wire before", "2.9x")
    >>> lab.waits, lab.evidence.verdict.candidates
    ('bench 1, wire before', ('copper(II)',))
    """

    def __init__(
        self,
        source: Experiment | str = "copper-silver",
        *,
        autosave: bool = True,
        folder: str | Path | None = None,
    ) -> None:
        super().__init__()
        self.kit = ToolkitState(source, autosave=autosave, folder=folder)
        self.readings = self.kit.readings
        self.history = self.kit.history
        self.apart = False  # whether there is no folder that people can reach, as in a browser
        self.whatif = WhatIf(self.readings)
        self.own = OwnLab(self.readings)
        self.kit.look_at(lambda: self.outcome)
        self._slips: tuple[Experiment, tuple[Slip, ...]] | None = None

    @cached_property
    def classroom(self) -> ClassState:
        """The class of the lab; made, with what was kept of it, when it is first asked for.

        >>> LabState("copper-silver", autosave=False).classroom.opened
        False
        """
        from .classroom import ClassState

        state = ClassState(self.readings)
        return self._keeping("class", state, state.kept, state.give_back)

    @cached_property
    def labs(self) -> LabsState:
        """What labs of the plan would find."""
        from .labs import LabsState

        state = LabsState(self.kit.plan)
        return self._keeping("labs", state, state.tables, state.restore_tables)

    @cached_property
    def worked(self) -> WorkedState:
        """What of the worked solution is shown."""
        from .worked import WorkedState

        state = WorkedState(self.readings)
        return self._keeping("worked", state, state.tables, state.restore_tables)

    @cached_property
    def study(self) -> StudyState:
        """The questions of self-study with their answers."""
        from .study import StudyState

        state = StudyState(self.readings)
        return self._keeping("study", state, state.tables, state.restore_tables)

    def _keeping(
        self, name: str, state: S, take: Callable[[], Any], give: Callable[[Any], object]
    ) -> S:
        """Have what a state holds kept for a restart; return the state."""
        self.kit.keep(name, take, give)
        state.subscribe(lambda _: self.kit.changed())
        return state

    def tell(self) -> None:
        """Tell all who show a part of this that something may have changed."""
        self._tell(None)

    def close(self) -> None:
        """Write what is left to be written; the states stop following each other."""
        self.whatif.stop()
        self.kit.close()
        if "classroom" in vars(self):
            self.classroom.close()

    @property
    def outcome(self) -> Outcome:
        """What is shown: of the readings as typed, or of what is tried instead."""
        return self.whatif.outcome

    @property
    def evidence(self) -> Evidence | None:
        """Evidence of what is shown; from before the field was touched that is now refused."""
        return self.outcome.evidence

    @property
    def experiment(self) -> Experiment:
        """The record that the evidence is of."""
        return self.outcome.experiment

    @property
    def verdict(self) -> Verdict | None:
        """The verdict that is shown."""
        return None if self.evidence is None else self.evidence.verdict

    @property
    def waits(self) -> str:
        """What the answer waits for: the first field that cannot be used; "" for nothing."""
        refusals = self.readings.outcome.refusals
        return self.readings.describe(next(iter(refusals))) if refusals else ""

    def slips(self) -> tuple[Slip, ...]:
        """Return the readings that look mistyped; found once for each record."""
        from ...diagnosis.line import slips_of

        lab = self.readings.experiment
        if self._slips is None or self._slips[0] is not lab:
            self._slips = lab, slips_of(lab)
        return self._slips[1]

    @property
    def slips_known(self) -> tuple[Slip, ...]:
        """The slips that were looked for already, which takes longer than typing may."""
        known = self._slips
        return known[1] if known is not None and known[0] is self.readings.experiment else ()
