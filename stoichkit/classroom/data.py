"""The readings of a class: groups and trials from a file, matched to those of an experiment.

Steps, a module each: cells as text (``tables``), how a table stands in a sheet (``shapes``), which
column holds which reading (``columns``), which sheets are read (``sheets``), whose readings each
row holds (``rows``), what a person must say first (``questions``).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from .._common import FrozenMap
from ..errors import DataFileError, ModelError
from ..experiments.parts import Trial
from ..experiments.record import Experiment
from ..measurement.displays import Balance
from ..uncertainty import entry
from ..uncertainty.sources import Floats
from .cells import Typed, several
from .choices import Choices, Decision
from .columns import FIX_COLUMNS, ColumnMap, Preview
from .deciding import with_decisions
from .names import codes_of
from .privacy import NOBODY, KeptNames, without_names
from .questions import Question
from .records import ClassRows, Part, RowRecord, RowUse
from .rows import read_rows
from .sheets import parts_of, preview_of
from .tables import MAX_BYTES, FileSource, Problem, TextTable, read_sheets

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
    entry.record("experiment", experiment, Experiment, error=DataFileError)
    choices = _choices(choices)
    tables = read_sheets(path_or_bytes, sheet=sheet, max_bytes=max_bytes)
    try:
        parts, notes = parts_of(tables, experiment, columns, choices, codes=codes)
    except DataFileError:
        if not codes:
            raise
        allowed = [role.name for role in experiment.roles() if role.needs_reading]
        raise DataFileError(  # what was given are cells of the file
            "The columns of the file are not those of this experiment, or not chosen rightly.",
            allowed=f"a column for each of {', '.join(allowed)}",
            fix=f"Read it without codes to see why. {FIX_COLUMNS}",
        ) from None
    rows = read_rows(parts, experiment, codes=codes, answers=choices.answers)
    rows.problems[:0] = notes
    waiting = rows.uses.count(RowUse.WAITING)
    if not rows.groups and not waiting:
        raise _nothing(tables, rows)
    asked = {one.key for one in rows.questions}
    for key in choices.answers:
        if key not in asked:
            rows.problems.append(
                Problem(None, "", "The choices answer a question that is not asked of this file.",
                        given="" if codes else key, done="The answer was not used.")
            )  # fmt: skip
    main = parts[0].preview
    kept = _coded(choices, rows, rows.problems) if codes else _uncoded(choices, rows)
    return ClassData(
        experiment=experiment,
        source="" if codes else tables[0].source,
        layout=_layout(parts, codes=codes),
        preview=_without_names(main) if codes else main,
        names=rows.groups,
        problems=tuple(rows.problems),
        questions=rows.questions,
        key=FrozenMap(rows.key),
        names_kept=KeptNames(rows.key, experiment) if codes else NOBODY,
        choices=kept,
        _rows=rows,
    )


def _layout(parts: Sequence[Part], *, codes: bool) -> str:
    """Say how the file was read; with codes without the names of sheets."""
    read = [part for part in parts if not part.unread]
    table = read[0].shaped.table
    if not table.sheet or (len(read) == 1 and not codes):
        return table.layout
    if codes:
        numbers = [str(part.shaped.table.number) for part in read]
        return f"XLSX, sheet {' and '.join(numbers)}"
    return f"XLSX, sheets {' and '.join(f'“{part.shaped.table.sheet}”' for part in read)}"


def _coded(choices: Choices, rows: ClassRows, told: list[Problem]) -> Choices:
    """Return the decisions under codes; nothing else of the choices, which may hold names.

    A decision may name a group or its code.
    """
    code_of = {name: code for code, name in rows.key.items()}
    found = []
    for number, one in enumerate(choices.decisions, 1):
        group, trial = one.identity
        if group in code_of:
            trial = rows.coded_trials.get((group, trial), trial)
            group = code_of[group]
        elif group not in rows.key:
            told.append(
                Problem(None, "", "A decision is about a group that is not in the file.",
                        given=f"decision {number} of {len(choices.decisions)}, {one.kind}",
                        done="It was left out.")
            )  # fmt: skip
            continue
        reason = without_names(one.reason, rows.key)
        found.append(replace(one, group=group, trial=trial, reason=reason, initials=""))
    return Choices(decisions=tuple(found))


def _uncoded(choices: Choices, rows: ClassRows) -> Choices:
    """Return choices whose decisions name groups; those that name codes are understood."""
    if not choices.decisions:
        return choices
    found = []
    codes = codes_of(rows.named)
    for one in choices.decisions:
        name = codes.get(one.group)
        if name is not None:
            one = replace(one, group=name, trial=rows.trial_behind(name, one.trial))
        found.append(one)
    return replace(choices, decisions=tuple(found))


def _choices(choices: Choices | None) -> Choices:
    if choices is None:
        return Choices()
    return entry.record("choices", choices, Choices, error=DataFileError)


def _without_names(preview: Preview) -> Preview:
    """Return a preview without cells and headers; those of columns in use are their fields."""
    matched = (replace(c, header=c.field, question="") for c in preview.matched)
    return replace(preview, source="", layout="", sheet="", sample=(), matched=tuple(matched))


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
    entry.record("experiment", experiment, Experiment, error=DataFileError)
    tables = read_sheets(path_or_bytes, sheet=sheet, max_bytes=max_bytes)
    return preview_of(tables, experiment, columns, _choices(choices))


def _nothing(tables: Sequence[TextTable], rows: ClassRows) -> DataFileError:
    shown = [str(problem) for problem in rows.problems if problem.row is not None]
    return DataFileError(
        "No row of the file can be used.",
        given=f"{sum(len(table.rows) for table in tables)} rows",
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
        Groups with at least one trial in use, in the order of the file; codes if asked for. None
        while all rows wait for answers.
    problems : tuple of Problem
        What a person should look at, by row.
    questions : tuple of Question
        What is not certain about the file, with the answers given; rows under an open one wait.
    key : mapping of str to str
        Code to name as in the file; empty unless codes were asked for. Nothing else here shows
        a name then, no export writes the key, and no pickle holds it.
    choices : Choices
        What was chosen about the file, with the decisions on single trials.
    applied : tuple of Decision
        Those that these readings have in them; :func:`stoichkit.assess_class` applies them.
    names_kept : KeptNames
        The names that the codes stand for: all that is made of it is searched for them before it
        is written.

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
    questions: tuple[Question, ...]
    key: Mapping[str, str] = field(repr=False)
    choices: Choices = field(repr=False)
    _rows: ClassRows = field(repr=False)
    applied: tuple[Decision, ...] = ()
    names_kept: KeptNames = field(default=NOBODY, repr=False)

    def __getstate__(self) -> dict[str, Any]:
        return self.names_kept.state_of(self.without_key())

    @cached_property
    def groups(self) -> Mapping[str, Experiment]:
        """The experiment of each group by its name, made when first asked for."""
        return MadeWhenAsked(self.names, self._record)

    @cached_property
    def rows(self) -> tuple[RowRecord, ...]:
        """What became of every row of the file: used, set aside with a reason, waiting, blank."""
        return tuple(self._rows.records())

    @cached_property
    def uses(self) -> Mapping[str, int]:
        """How many rows of the file were used, set aside, blank and so on."""
        return FrozenMap(self._rows.counts())

    @property
    def open_questions(self) -> tuple[Question, ...]:
        """The questions that rows wait for.

        >>> from stoichkit import experiments
        >>> text = "group,trial,wire before,wire after,paper,paper + silver\\n"
        >>> text += "red,1,2.94,2.82,0.75,1.15\\n" * 2
        >>> data = load_class(text.encode(), experiments.load("copper-silver"))
        >>> [(one.kind.value, one.rows, one.answers) for one in data.open_questions]
        [('copy', (3,), ('a copy', 'a trial'))]
        >>> data.waiting, dict(data.uses)
        (1, {'header': 1, 'used': 1, 'waiting': 1})
        """
        return tuple(one for one in self.questions if one.waits)

    @property
    def waiting(self) -> int:
        """How many rows wait for an answer."""
        return self.uses.get(RowUse.WAITING, 0)

    @property
    def balances(self) -> Mapping[tuple[str, str], str]:
        """What a column of the file says of the balance of each trial in use; empty without one."""
        rows = self._rows
        return FrozenMap(
            {
                (self.names[rows.group_of[index]], rows.trials[index]): text
                for index, text in rows.balances.items()
                if rows.group_of[index] >= 0
            }
        )

    @cached_property
    def weighed_on(self) -> tuple[str | None, ...]:
        """The balance of each group where a column names it; "" the lab's own, None several.

        >>> from stoichkit import experiments
        >>> text = "group,wire before,wire after,paper,paper + silver,balance\\n"
        >>> text += "red,2.94,2.82,0.75,1.15,0.01 g\\nblue,2.9,2.7,0.8,1.5,1 dg\\n"
        >>> data = load_class(text.encode(), experiments.load("copper-silver"))
        >>> data.weighed_on, data.groups["blue"].instruments["balance"].readability_g
        (('', 'balance 0.1 g'), 0.1)
        """
        found: list[str | None] = [""] * len(self.names)
        order, start = self._order
        used, owner = self._rows.weighed.used, self._rows.group_of
        for group in {int(owner[row]) for row in used if owner[row] >= 0}:
            rows = order[start[group] : start[group + 1]].tolist()
            kinds = {*self._rows.weighed.of_rows(rows)}
            found[group] = kinds.pop() if len(kinds) == 1 else None
        return tuple(found)

    def balance(self, name: str) -> Balance:
        """Return a balance that a column of the file names; "" for that of the experiment."""
        return self._rows.weighed.balance(name)

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
        >>> text += "red,2.94,2.82,0.75,1.15\\nred,3.19,3.09,0.70,1.06\\n"
        >>> text += "blue,2.94,2.82,0.75,1.15\\n"
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

    def choices_kept(self, choices: Choices) -> Choices:
        """Return choices about this file as they may be kept beside it: with codes without names.

        Columns are then named by their letters, and decisions name codes.

        Raises
        ------
        DataFileError
            If the name of a sheet or another text in them holds a name that a code stands for.

        Examples
        --------
        >>> from stoichkit import experiments
        >>> text = "group,wire before,wire after,paper,paper + silver\\nred,2.94,2.8,0.75,1.15\\n"
        >>> made = Choices({"paper": "paper"}, decisions=[Decision("red", "1", "used")])
        >>> data = load_class(text.encode(), experiments.load("copper-silver"), codes=True)
        >>> kept = data.choices_kept(made)
        >>> kept.decisions[0].group, kept.columns["paper"]
        ('G01', ('D',))
        """
        entry.record("choices", choices, Choices, error=DataFileError)
        if not self.key:
            return choices
        columns = {}
        for name, headers in choices.columns.items():
            letters = tuple(column.letter for column in self.preview.of(name))
            columns[name] = letters if headers and letters else headers
        kept = replace(
            choices, columns=columns, decisions=_coded(choices, self._rows, []).decisions
        )
        self.names_kept.check(kept.to_toml())
        return kept

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
        return replace(self, key=FrozenMap(), _rows=replace(self._rows, key={}, coded_trials={}))

    def _record(self, group: int) -> Experiment:
        """Return the experiment of one group."""
        order, start = self._order
        rows = order[start[group] : start[group + 1]].tolist()
        record, weighed_on = self._rows.weighed.record(self._rows.weighed.of_rows(rows))
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
            Trial(
                self._rows.trials[row], {n: several(t) for n, t in readings.items()},
                instruments=own,
            )
            for row, readings, own in zip(rows, by_row, weighed_on, strict=True)
        )  # fmt: skip
        return replace(record, trials=trials, shared_readings=shared)


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


def decided_rows(data: ClassData) -> ClassData:
    """Return the data with the decisions of its choices applied; see ``classroom.review``."""
    if data.applied == data.choices.decisions:
        return data
    rows = with_decisions(data._rows, data.choices.decisions)
    return replace(data, names=rows.groups, _rows=rows, applied=data.choices.decisions)


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
