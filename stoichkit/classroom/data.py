"""The readings of a class: groups and trials from a file, matched to those of an experiment.

Three steps, a module each: cells as text (``tables``), which column holds which reading
(``columns``), whose readings each row holds (``rows``).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from .._common import FrozenMap
from ..errors import DataFileError, ModelError
from ..experiments.parts import Trial
from ..experiments.record import Experiment
from ..uncertainty import entry
from ..uncertainty.sources import Floats
from .choices import Choices
from .columns import COLUMNS_ALLOWED, ColumnMap, Preview, match_columns
from .rows import ClassRows, RowRecord, Typed, read_rows, several
from .tables import MAX_BYTES, FileSource, Problem, TextTable, read_table

V = TypeVar("V")


def load_class(
    path_or_bytes: FileSource,
    experiment: Experiment,
    *,
    columns: ColumnMap | None = None,
    codes: bool = False,
    sheet: str | None = None,
    max_bytes: int = MAX_BYTES,
    choices: Choices | None = None,
) -> ClassData:
    """Load the readings of a class from a CSV or XLSX file, one row a trial.

    Parameters
    ----------
    path_or_bytes : path or bytes
        The file, or its content; it is only read.
    experiment : Experiment
        Models, instruments and candidates of every group; its own trials do not matter.
    columns : mapping, optional
        Reading name, "group" or "trial" to the header or the letter of its column, where the
        proposal of :func:`preview_class` is wrong.
    codes : bool
        Whether groups are called G01, G02, ... in the order of the file instead of by name.
    sheet : str, optional
        Sheet of an XLSX file; the first with cells if left out.
    max_bytes : int
        Largest file that is read, bytes.
    choices : Choices, optional
        What was chosen about the file, see :func:`stoichkit.classroom.load_choices`; ``columns``
        goes before the columns in it.

    Returns
    -------
    ClassData
        Rows that cannot be used are set aside and listed, never repaired by guess.

    Raises
    ------
    DataFileError
        If the file cannot be read, a reading has no column, or no row can be used.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> text = '''bench,run,wire before [mg],wire after [mg],paper / g,paper + silver / g
    ... red,1,2940,2820,0.75,1.15
    ... red,2,3010,,0.75,1.10'''
    >>> data = load_class(text.encode(), experiments.load("copper-silver"))
    >>> data.groups["red"].trials[0].readings["wire before"], dict(data.uses)
    (('2.940',), {'header': 1, 'used': 1, 'set aside': 1})
    >>> print(data.problems[-1])
    Row 3, column D (wire after [mg]): The cell is empty. Allowed: mass in g. The row was set
    aside.
    """
    codes = entry.flag("codes", codes)
    choices = _choices(choices)
    table = read_table(path_or_bytes, sheet=sheet, max_bytes=max_bytes)
    preview = match_columns(table, experiment, _merged(columns, choices))
    if preview.missing:
        raise _missing(preview)
    rows = read_rows(table, preview, experiment, codes=codes)
    if not rows.groups:
        raise _nothing(table, rows)
    return ClassData(
        experiment=experiment,
        source=table.source,
        layout=table.layout,
        preview=_without_names(preview) if codes else preview,
        names=rows.groups,
        problems=tuple(rows.problems),
        key=FrozenMap(rows.key),
        choices=choices,
        _rows=rows,
    )


def _choices(choices: Choices | None) -> Choices:
    if choices is None:
        return Choices()
    return entry.record("choices", choices, Choices, error=DataFileError)


def _merged(columns: ColumnMap | None, choices: Choices) -> ColumnMap:
    """Return the columns given, and those chosen for what is not given."""
    if columns is None:
        return choices.columns
    given = entry.mapping("columns", columns, COLUMNS_ALLOWED, error=DataFileError)
    return {**choices.columns, **given}


def _without_names(preview: Preview) -> Preview:
    """Return a preview without cells, and without headers of columns that have no use."""
    matched = (c if c.field else replace(c, header="") for c in preview.matched)
    return replace(preview, sample=(), matched=tuple(matched))


def preview_class(
    path_or_bytes: FileSource,
    experiment: Experiment,
    *,
    columns: ColumnMap | None = None,
    sheet: str | None = None,
    max_bytes: int = MAX_BYTES,
    choices: Choices | None = None,
) -> Preview:
    """Propose which column of a class file holds which reading, for a person to confirm.

    Parameters
    ----------
    path_or_bytes, experiment, columns, sheet, max_bytes, choices
        As for :func:`load_class`.

    Returns
    -------
    Preview
        Columns taken for each reading, what is missing, and what is to be confirmed.

    Raises
    ------
    DataFileError
        As for :func:`load_class`, except that readings may be missing.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> text = "bench,wire befor,wire after,paper\\nred,2.94,2.82,0.75\\n"
    >>> print(preview_class(text.encode(), experiments.load("copper-silver")))
    table (CSV, UTF-8, separated by commas), header in row 1
      A (bench) -> group
      B (wire befor) -> wire before
      C (wire after) -> wire after
      D (paper) -> paper
      missing: paper + silver
      ? Column B (“wire befor”) was taken for “wire before”: is it?
    """
    table = read_table(path_or_bytes, sheet=sheet, max_bytes=max_bytes)
    return match_columns(table, experiment, _merged(columns, _choices(choices)))


def _missing(preview: Preview) -> DataFileError:
    free = [column.label for column in preview.matched if not column.field and column.header]
    return DataFileError(
        f"No column was found for {', '.join(f'“{name}”' for name in preview.missing)}.",
        given=f"columns not used: {', '.join(free) or 'none'}",
        allowed="a column for each reading",
        fix=" ".join([*preview.questions, "Give it by header or letter: columns={…}."]),
    )


def _nothing(table: TextTable, rows: ClassRows) -> DataFileError:
    shown = [str(problem) for problem in rows.problems if problem.row is not None]
    return DataFileError(
        "No row of the file can be used.",
        given=f"{len(table.rows)} rows",
        fix=f"First problem: {shown[0]}" if shown else "Fill in readings below the header.",
    )


@dataclass(frozen=True, eq=False)
class ClassData:
    """The readings of all groups of a class, as loaded from a file.

    Attributes
    ----------
    experiment : Experiment
        The record whose models, instruments and candidates hold for every group.
    source, layout : str
        Name of the file and how it was read; "" for bytes.
    preview : Preview
        The matching of columns that was used; its sample is empty when names are coded.
    names : tuple of str
        Groups with at least one trial in use, in the order of the file; codes if asked for.
    problems : tuple of Problem
        What a person should look at, by row.
    key : mapping of str to str
        Code to name as in the file; empty unless codes were asked for. Nothing else here holds
        a name then, and no export writes the key.
    choices : Choices
        What was chosen about the file; its decisions are carried here and not yet applied.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> text = '''Group;Trial;wire before / g;wire after / g;paper / g;paper + silver / g
    ... red;1;2,94;2,82;0,75;1,15
    ... ;2;3,19;3,09;0,70;1,06
    ... blue;1;3,14;3,03;0,73;1,12'''
    >>> data = load_class(text.encode(), experiments.load("copper-silver"))
    >>> data.names, data.groups["red"].trials[1].readings["paper"]
    (('red', 'blue'), ('0,70',))
    """

    experiment: Experiment
    source: str
    layout: str
    preview: Preview
    names: tuple[str, ...]
    problems: tuple[Problem, ...]
    key: Mapping[str, str] = field(repr=False)
    choices: Choices = field(repr=False)
    _rows: ClassRows = field(repr=False)

    @cached_property
    def groups(self) -> Mapping[str, Experiment]:
        """The experiment of each group by its name, made when first asked for."""
        return MadeWhenAsked(self.names, self._record)

    @cached_property
    def rows(self) -> tuple[RowRecord, ...]:
        """What became of every row of the file: each is used, set aside with a reason, or blank."""
        return tuple(map(self._rows.record, range(1, len(self._rows.uses) + 1)))

    @cached_property
    def uses(self) -> Mapping[str, int]:
        """How many rows of the file were used, set aside, blank and so on."""
        return FrozenMap(Counter(str(use) for use in self._rows.uses))

    @cached_property
    def trial_counts(self) -> NDArray[np.intp]:
        """Number of trials of each group, shape (groups,)."""
        used = self._rows.group_of[self._rows.group_of >= 0]
        return np.bincount(used, minlength=len(self.names))

    @cached_property
    def _order(self) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """Row indices sorted by group, and where each group begins."""
        order = np.argsort(self._rows.group_of, kind="stable")
        order = order[np.count_nonzero(self._rows.group_of < 0) :]
        return order, np.concatenate([[0], np.cumsum(self.trial_counts)])

    def blocks(self) -> tuple[ClassArrays, ...]:
        """Return the readings as arrays, one block for each number of trials.

        >>> from stoichkit import experiments
        >>> lab = experiments.load("copper-silver")
        >>> text = "group,wire before,wire after,paper,paper + silver\\n"
        >>> text += "red,2.94,2.82,0.75,1.15\\n" * 2 + "blue,2.94,2.82,0.75,1.15\\n"
        >>> [(b.groups, b.trials) for b in load_class(text.encode(), lab).blocks()]
        [(('blue',), 1), (('red',), 2)]
        """
        counts = self.trial_counts
        return tuple(self._block(np.flatnonzero(counts == n)) for n in np.unique(counts))

    def _block(self, groups: NDArray[np.intp]) -> ClassArrays:
        where, columns = self._where(groups), self._rows.readings
        return ClassArrays(
            tuple(self.names[g] for g in groups.tolist()),
            FrozenMap({name: c.values[where] for name, c in columns.items()}),
            FrozenMap({name: c.decimals[where] for name, c in columns.items()}),
        )

    def _where(self, groups: NDArray[np.intp]) -> NDArray[np.intp]:
        """Return the rows of groups with equally many trials, shape (groups, trials)."""
        order, start = self._order
        return order[start[groups][:, None] + np.arange(self.trial_counts[groups[0]])]

    def table(self, reading: str, groups: NDArray[np.intp]) -> Floats:
        """Return one reading of groups, by place, with equally many trials: (groups, trials)."""
        return self._rows.readings[reading].values[self._where(groups)]

    def arrays(self) -> ClassArrays:
        """Return the readings as arrays of shape (groups, trials).

        Raises
        ------
        ModelError
            If the groups have different numbers of trials; see :meth:`blocks`.

        Examples
        --------
        >>> from stoichkit import experiments
        >>> lab = experiments.load("copper-silver")
        >>> text = "group,wire before,wire after,paper,paper + silver\\nred,2.94,2.8,0.75,1.15\\n"
        >>> read = load_class(text.encode(), lab).arrays()
        >>> read.values["wire after"].tolist(), read.decimals["wire after"].tolist()
        ([[2.8]], [[1]])
        """
        found = self.blocks()
        if len(found) != 1:
            raise ModelError(
                "The groups have different numbers of trials, so they do not fit one table.",
                given=f"{self.trial_counts.min()} to {self.trial_counts.max()} trials",
                fix="Use blocks(), one table for each number of trials.",
            )
        return found[0]

    def without_key(self) -> ClassData:
        """Return the data without the key from codes to names, to be handed on.

        >>> from stoichkit import experiments
        >>> lab = experiments.load("copper-silver")
        >>> text = "group,wire before,wire after,paper,paper + silver\\nred,2.94,2.8,0.75,1.15\\n"
        >>> data = load_class(text.encode(), lab, codes=True)
        >>> dict(data.key), dict(data.without_key().key)
        ({'G01': 'red'}, {})
        """
        if not self.key:
            return self
        return replace(self, key=FrozenMap(), _rows=replace(self._rows, key={}))

    def _record(self, group: int) -> Experiment:
        """Return the experiment of one group."""
        order, start = self._order
        rows = order[start[group] : start[group + 1]].tolist()
        shared = dict(self.experiment.shared_readings)
        once = {role.name for role in self.experiment.roles() if role.once}
        by_row: list[dict[str, Typed]] = [{} for _ in rows]
        order_of = {name: i for i, name in enumerate(self.experiment.reading_names())}
        columns = self._rows.readings
        for name in sorted(columns, key=lambda name: order_of.get(name, len(order_of))):
            column = columns[name]
            texts = [column.texts[row] for row in rows]
            base = shared.get(name)
            if base is not None:
                given = {text for text in texts if text}
                if len(given) == 1 and (all(texts) or name in once):
                    shared[name] = several(given.pop())
                    continue
                if not given:
                    continue
                del shared[name]
                texts = [text or base for text in texts]
            for readings, text in zip(by_row, texts, strict=True):
                if text:
                    readings[name] = text
        trials = tuple(
            Trial(self._rows.trials[row], {n: several(t) for n, t in readings.items()})
            for row, readings in zip(rows, by_row, strict=True)
        )
        return replace(self.experiment, trials=trials, shared_readings=shared)


@dataclass(frozen=True, slots=True, eq=False)
class ClassArrays:
    """The readings of groups with equally many trials, as arrays.

    Attributes
    ----------
    groups : tuple of str
        Names of the groups, in the order of the first axis.
    values : mapping of str to ndarray, shape (groups, trials)
        By the name of the reading, in the unit of its instrument; of repeated readings the last,
        nan where an optional reading was not made.
    decimals : mapping of str to ndarray of int, same shape
        Decimals typed.
    """

    groups: tuple[str, ...]
    values: Mapping[str, Floats]
    decimals: Mapping[str, NDArray[np.int64]]

    @property
    def trials(self) -> int:
        """Trials of each group."""
        return int(next(iter(self.values.values())).shape[1])


class MadeWhenAsked(Mapping[str, V]):
    """A mapping from names to what is made for the place of each when it is first asked for."""

    def __init__(self, names: Iterable[str], make: Callable[[int], V]) -> None:
        self._place = {name: i for i, name in enumerate(names)}
        self._make = make
        self._made: dict[str, V] = {}

    def __getitem__(self, name: str) -> V:
        if name not in self._made:
            self._made[name] = self._make(self._place[name])
        return self._made[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._place)

    def __len__(self) -> int:
        return len(self._place)
