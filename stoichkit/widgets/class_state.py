"""What the panel “Class” holds: a file, how its columns are matched, what was worked out of it.

Plain Python without Jupyter. The slow part, :meth:`ClassState.work_out`, changes nothing here, so
that it can run beside a panel.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from ..class_result import ClassResult, assess_class_data
from ..classdata import ClassData, load_class
from ..errors import DataFileError, ExperimentError
from ..experiment import Experiment
from .class_file import AUTOMATIC, ClassChange, ClassFile
from .class_table import GroupTable
from .state import ReadingsState
from .work import Report, silent

__all__ = ["AUTOMATIC", "ClassChange", "ClassState", "Found"]

_EVERY_S = 0.1


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """What was worked out of a file.

    Attributes
    ----------
    result : ClassResult
        Without any name if codes were asked for.
    key : ClassData or None
        The data with the key from codes to names; None without codes.
    """

    result: ClassResult
    key: ClassData | None


class ClassState(ClassFile):
    """A class file, its matching to an experiment, and what follows from both.

    Parameters
    ----------
    source : ReadingsState, Experiment or str
        The state whose experiment holds for every group: its ways of measuring, instruments and
        candidates, not its readings. Or what a state can be made of.

    Attributes
    ----------
    readings : ReadingsState
    experiment : Experiment
        The record of that state when it was last looked at.
    file_name : str
        Name of the file; "" without one.
    path : pathlib.Path or None
        Where it was opened; None for one that was handed over.
    invented : bool
        Whether it is the file of the invented class.
    sheet : str
        Sheet of a workbook as typed; "" for the first with cells.
    choices : dict of str to (str or None)
        Column chosen by hand for a reading, "group" or "trial", by its letter; None for no
        column. What is not here is matched by its header.
    codes : bool
        Whether groups go by codes instead of names.
    preview : Preview or None
        The matching in use; None if there is none.
    refusal : Refusal or None
        Why the file, as it is matched, cannot be worked out.
    found : Found or None
        What was worked out of the file as it is matched now; None until it is.
    table : GroupTable or None
        The groups of that, to be put in order.
    order, part : str
        Order of the groups shown, and text that their names must hold.
    shown : int
        How many groups are shown at most.
    group : str
        The group looked at closely; "" without any.

    Examples
    --------
    >>> state = ClassState("copper-silver")
    >>> state.open_invented()
    >>> state.preview.columns["paper"], state.refusal
    (('E',), None)
    >>> state.take(state.work_out())
    >>> state.result.verdict.verdict.candidates, state.group
    (('copper(II)',), 'plum')
    >>> state.set_column("trial", "E")
    >>> state.refusal.problem, state.result
    ('No column was found for “paper”.', None)
    """

    found: Found | None
    table: GroupTable | None

    def __init__(self, source: ReadingsState | Experiment | str = "copper-silver") -> None:
        super().__init__(source)
        self.found = self.table = None
        self.order, self.part, self.shown, self.group = GroupTable.ORDERS[0], "", 0, ""

    def forget(self) -> None:
        """Forget what followed from another matching."""
        self.found = self.table = None

    def renamed(self) -> None:
        """Forget which groups were chosen, as they go by other names."""
        self.part, self.group = "", ""

    # Working it out

    @property
    def ready(self) -> bool:
        """Whether there is something to be worked out."""
        return self.opened and self.refusal is None and self.found is None

    def work_out(
        self, report: Report = silent, stopping: Callable[[], bool] = lambda: False
    ) -> Found:
        """Load the rows as they are matched and work out what the class says.

        Parameters
        ----------
        report : callable
            Called with what is being done, ten times a second at the most; may raise to stop.
        stopping : callable
            Asked after every group whether to stop and return what is done by then.

        Raises
        ------
        DataFileError
            If there is no file, or no row can be used.
        ModelError
            If no group can be assessed.
        """
        if self._content is None or self.refusal is not None:
            problem = "No file is open." if self.refusal is None else self.refusal.problem
            raise DataFileError(problem, fix="Open a file, or correct how its columns are matched.")
        report("Reading the rows …")
        data = load_class(
            self._content,
            self.experiment,
            columns=self._chosen(),
            codes=self.codes,
            sheet=self.sheet.strip() or None,
        )
        data = replace(data, source=self.file_name)
        said, last = 0.0, -1

        def progress(done: int, total: int) -> bool:
            nonlocal said, last
            now, groups = time.monotonic(), total - 2
            if now - said >= _EVERY_S or (done >= groups and done != last):
                said, last = now, done
                together = "Looking for slips, and putting the groups together …"
                report(f"Group {done} of {groups} …" if done < groups else together)
            return stopping()

        result = assess_class_data(data, progress=progress)
        if not len(result.evidence) and not stopping():
            name, reason = next(iter(result.evidence.not_assessed.items()))
            raise DataFileError(f"No group can be assessed. {name}: {reason}")
        result = replace(result, data=data.without_key())
        return Found(result, data if self.codes else None)

    def take(self, found: Found) -> None:
        """Show what was worked out."""
        self.found, self.table = found, GroupTable(found.result)
        self.shown = GroupTable.STEP
        if self.group not in found.result.evidence.names:
            self.group = self.table.first_to_look_at
        self._tell(ClassChange.RESULT)

    @property
    def result(self) -> ClassResult | None:
        """What was worked out of the file as it is matched now."""
        return None if self.found is None else self.found.result

    # Looking at it

    def groups_shown(self) -> tuple[str, ...]:
        """Return the names of the groups that are shown, in their order."""
        if self.table is None:
            return ()
        return self.table.names(self.order, self.part)[: self.shown]

    def set_order(self, order: str) -> None:
        """Take over the order of the groups, one of :attr:`GroupTable.ORDERS`."""
        if order not in GroupTable.ORDERS:
            allowed = ", ".join(GroupTable.ORDERS)
            raise ExperimentError("There is no such order.", given=order, allowed=allowed)
        self._view(order=order, shown=GroupTable.STEP)

    def set_part(self, text: str) -> None:
        """Show only groups whose names hold a text; "" for all."""
        self._view(part=text, shown=GroupTable.STEP)

    def show_more(self) -> None:
        """Show more groups."""
        self._view(shown=self.shown + GroupTable.STEP)

    def _view(self, **values: Any) -> None:
        for name, value in values.items():
            setattr(self, name, value)
        self._tell(ClassChange.VIEW)

    def set_group(self, name: str) -> None:
        """Look at one group closely.

        Raises
        ------
        ExperimentError
            If there is no such group.
        """
        if self.table is None or name not in self.table:
            raise ExperimentError("There is no such group.", given=name)
        if name != self.group:
            self.group = name
            self._tell(ClassChange.GROUP)
