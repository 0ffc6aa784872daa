"""State of the screen “Class”, without Jupyter.

The file of a class and how its columns are matched to the readings of an experiment.

The file is read once and never written; nothing chosen by hand is lost when it cannot be used.

The groups of a class as a table: put in order, filtered, a part of it shown.

What the screen “Class” holds: a file, how its columns are matched, what was worked out of it.

The slow part, :meth:`ClassState.work_out`, changes nothing here, so that it can run beside all
else; :meth:`ClassState.keep_up` has that done.

What is undone is what decides the result: file, sheet, columns, codes, variation. How the groups
are looked at is not. Kept for a restart is the path of a file, not what is in it; of a file that
came without a path its bytes, up to a size.
"""

from __future__ import annotations

import base64
import binascii
import logging
import math
import threading
import time
import zlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from enum import StrEnum
from functools import lru_cache, partial
from pathlib import Path
from typing import Any, ClassVar

import numpy as np

from ... import experiments
from ...classroom.choices import AnswerGiven, Choices, Decision, parse_choices
from ...classroom.columns import FIX_COLUMNS, GROUP, TRIAL, Preview, clean_text
from ...classroom.data import ClassData, load_class
from ...classroom.evidence import STOPPED
from ...classroom.questions import Question
from ...classroom.result import ClassResult, assess_class
from ...classroom.review import Review
from ...classroom.sheets import preview_of
from ...classroom.statement import by_itself
from ...classroom.tables import MAX_BYTES, TextTable, column_letter, read_sheets
from ...errors import DataFileError, ExperimentError, Refusal, StoichkitError
from ...experiments.parts import Between, checked_between
from ...experiments.record import Experiment
from ...plots.class_groups import MOST_SETS, ClassGroupsPicture
from ...plots.class_line import ClassLinePicture
from ...text.wording import p_text, shown_range
from ...uncertainty.ratio_set import RatioSet
from ..kit.telling import Telling
from ..kit.work import Report, Work, silent
from .form import refusal_of
from .readings import Change, ReadingsState
from .review import decisions_back, kept_decisions, reviewed

AUTOMATIC = "automatic"
"""The choice of a column that leaves the matching to the headers."""
_LOOKED_AT = 60
_MOST_SHOWN = 40
MOST_KEPT = 500_000
"""Bytes of a file without a path, packed, up to which it is kept for a restart."""
_logger = logging.getLogger(__name__)


class ClassChange(StrEnum):
    """What subscribers are told has changed."""

    RECORD = "the experiment may be another"
    FILE = "another file was opened"
    MATCHING = "columns, sheet, codes or variation were chosen"
    WORK = "the work is farther, or has ended"
    RESULT = "the class was worked out"
    VIEW = "another order, part or number of groups is shown"
    GROUP = "another group was chosen"


_HELD = (
    "_content", "_tables", "_no_sheet", "path", "invented", "file_name", "path_text", "sheet",
    "codes", "variation", "loaded", "decisions",
)  # fmt: skip
"""What is remembered of a class file for undo, besides the columns chosen."""


class ClassFile(Telling[ClassChange]):
    """A class file with its matching; told to subscribers when either changes."""

    def __init__(self, source: ReadingsState | Experiment | str) -> None:
        if not isinstance(source, ReadingsState):
            source = ReadingsState(source)
        self.readings = source
        self.experiment = source.experiment
        self._record = _record_of(self.experiment)
        super().__init__()
        self._content: bytes | None = None
        self._tables: tuple[TextTable, ...] = ()
        self._no_sheet: DataFileError | None = None
        self.path: Path | None = None
        self.invented = False
        self.file_name, self.sheet, self.codes = "", "", False
        self.path_text = self.variation = ""
        self.choices: dict[str, str | None] = {}
        self.answers: dict[str, str] = {}
        self.loaded = Choices()  # what a file of choices held besides columns, answers, decisions
        self.decisions: tuple[Decision, ...] = ()
        self.reason = self.initials = ""
        self.preview: Preview | None = None
        self.refusal: Refusal | None = None
        self.variation_refusal: Refusal | None = None
        self._stop = source.subscribe(self._readings_changed)
        self.history = source.history
        self.history.join("class", self.snapshot, self.restore)

    def stop_following(self) -> None:
        """Follow the readings and their history no longer."""
        self._stop()
        self.history.leave("class")

    def forget(self) -> None:
        """Forget what followed from another matching."""

    def renamed(self) -> None:
        """Forget which groups were chosen, as they go by other names."""

    # Telling

    def _readings_changed(self, change: Change) -> None:
        del change
        self._tell(ClassChange.RECORD)

    def follow_record(self) -> bool:
        """Take over the experiment of the readings; return whether anything of it has changed.

        It is worked out here and not at every keystroke, as nobody may be looking.
        """
        experiment = self.readings.experiment
        record = _record_of(experiment)
        if record == self._record:
            return False
        self.experiment, self._record = experiment, record
        known = self.fields
        self.choices = {name: at for name, at in self.choices.items() if name in known}
        self._match()
        return True

    # Undo

    def snapshot(self) -> tuple[Any, ...]:
        """Return file and matching, as a value that does not change with the state."""
        held = tuple(getattr(self, name) for name in _HELD)
        return held, tuple(self.choices.items()), tuple(self.answers.items())

    def restore(self, snapshot: tuple[Any, ...]) -> None:
        """Bring back file and matching."""
        held, choices, answers = snapshot
        before = self._content, self.codes
        for name, value in zip(_HELD, held, strict=True):
            setattr(self, name, value)
        self.choices = {}
        self.experiment = self.readings.experiment
        self._record = _record_of(self.experiment)
        if (self._content, self.codes) != before:
            self.renamed()
        self._match()  # by the headers first, as letters are understood beside them
        self.choices, self.answers = dict(choices), dict(answers)
        self._match()
        self._tell(ClassChange.FILE)

    # What is kept for a restart

    def kept(self) -> dict[str, Any]:
        """Return what is kept for a restart, as JSON holds it; see :meth:`give_back`.

        >>> state = ClassState("copper-silver")
        >>> state.open_bytes(experiments.class_file(), "monday.csv")
        >>> again = ClassState("copper-silver")
        >>> again.give_back(state.kept())
        >>> again.file_name, again.ready
        ('monday.csv', True)
        """
        found: dict[str, Any] = {}
        if self.invented:
            found["invented"] = True
        elif self.path is not None:
            found["path"] = str(self.path)
        elif self._content is not None and (text := _packed(self._content)):
            found |= {"name": self.file_name, "bytes": text}
        return {
            **found, "path_text": self.path_text, "sheet": self.sheet, "codes": self.codes,
            "columns": dict(self.choices), "variation": self.variation,
            "answers": dict(self.answers), "choices": self.loaded.to_toml() if self.loaded else "",
            "decisions": kept_decisions(self.decisions),
        }  # fmt: skip

    @property
    def is_kept(self) -> bool:
        """Whether the file that is open will be there after a restart."""
        return self.invented or self.path is not None or bool(_packed(self._content or b""))

    def give_back(self, kept: Any) -> None:
        """Open what was kept, as part of the step under way; a file at a path is read anew.

        Raises
        ------
        StoichkitError
            If the file is not there any more; what does not depend on it is brought back.
        """
        if not isinstance(kept, Mapping):
            return
        texts = {n: text for n, text in kept.items() if isinstance(text, str)}
        self.path_text = texts.get("path_text") or texts.get("path", "")
        self.variation, self.codes = texts.get("variation", ""), kept.get("codes") is True
        self._match()
        with self.history.as_one():
            if kept.get("invented") is True:
                self.open_invented()
            elif "path" in texts:
                self.open_path(texts["path"])
            elif "bytes" in texts:
                self.open_bytes(_unpacked(texts["bytes"]), texts.get("name", ""))
            self.set_sheet(texts.get("sheet", ""))
            answers = kept.get("answers")
            if self.opened and isinstance(answers, Mapping):
                self.answers = {k: a for k, a in answers.items() if isinstance(a, str)}
            if self.opened and texts.get("choices"):
                self.loaded = parse_choices(texts["choices"])
            columns = kept.get("columns")
            if self.opened and isinstance(columns, Mapping):
                known, letters = self.fields, {letter for letter, _ in self.columns()}
                self.choices = {f: c for f, c in columns.items()
                                if f in known and (c is None or c in letters)}  # fmt: skip
                self.decisions = decisions_back(kept.get("decisions"))
                self._match()
                self._tell(ClassChange.MATCHING)

    # The file

    @property
    def opened(self) -> bool:
        """Whether there is a file."""
        return bool(self._tables)

    def open_bytes(self, content: bytes, name: str = "") -> None:
        """Open the content of a CSV or XLSX file."""
        self._open(content, name)

    def set_path_text(self, text: str) -> None:
        """Take over the path as it is typed; :meth:`open_path` opens it."""
        if text != self.path_text:
            self.history.record("typed the path of a class file", key="class path")
            self.path_text = text
            self._tell(ClassChange.VIEW)

    def open_path(self, text: str) -> None:
        """Open a CSV or XLSX file by its path; ``~`` is the home folder."""
        if not text.strip():
            raise DataFileError(
                "No file is named.", allowed="the path of a CSV or XLSX file", fix="Type it first."
            )
        try:
            path = Path(text.strip()).expanduser()
        except RuntimeError as error:
            raise DataFileError(f"There is no such folder: {error}.", given=text) from error
        self._open(_content(path), path.name, path=path)

    def open_invented(self) -> None:
        """Open the file of the invented class that comes with the experiment."""
        name, known = self.readings.name, experiments.class_names()
        if name not in known:
            raise ExperimentError(
                "No invented class comes with this experiment.",
                given=name or "an experiment of your own",
                allowed=", ".join(known),
                fix="Open a ready experiment that has one, or a file of your own.",
            )
        file_name = f"{name}-class.csv (invented)"
        self._open(experiments.class_file(name), file_name, invented=True)

    def _open(
        self, content: bytes, name: str, *, path: Path | None = None, invented: bool = False
    ) -> None:
        tables = _sourced(read_sheets(content), name)
        self.history.record("opened the invented class" if invented else "opened a class file")
        self._content, self._tables = content, tables
        self.file_name, self.path, self.invented = name, path, invented
        self.sheet, self.choices, self._no_sheet, self.decisions = "", {}, None, ()
        self.answers, self.loaded = {}, Choices()
        self.renamed()
        self._match()
        self._tell(ClassChange.FILE)

    def close_file(self) -> None:
        """Put the file away; nothing of it is kept for a restart from then on."""
        if not self.opened:
            return
        self.history.record("closed the class file")
        self._content = self._no_sheet = self.path = None
        self._tables, self.answers, self.loaded = (), {}, Choices()
        self.invented, self.file_name, self.sheet, self.choices = False, "", "", {}
        self.decisions = ()
        self.renamed()
        self._match()
        self._tell(ClassChange.FILE)

    def set_sheet(self, text: str) -> None:
        """Take over the name of the sheet of a workbook; "" for all that hold readings."""
        if text == self.sheet:
            return
        self.history.record("typed the sheet of the class file", key="class sheet")
        self.sheet, self._no_sheet = text, None
        if self._content is None:
            return
        try:
            tables = read_sheets(self._content, sheet=text.strip() or None)
        except DataFileError as error:
            self._no_sheet = error
        else:
            self._tables = _sourced(tables, self.file_name)
        self._match()
        self._tell(ClassChange.MATCHING)

    def set_codes(self, codes: bool) -> None:
        """Take over whether groups go by codes instead of names."""
        if codes != self.codes:
            self.history.record("chose codes or names")
            self.codes = codes
            self.renamed()
            self._match()
            self._tell(ClassChange.MATCHING)

    def set_variation(self, text: str) -> None:
        """Take over how much groups truly differ: "", "1.5 %", "unknown" or "none"."""
        if text != self.variation:
            self.history.record("typed how much groups differ", key="class variation")
            self.variation = text
            self._match()
            self._tell(ClassChange.MATCHING)

    def decide(self, decisions: Sequence[Decision]) -> None:
        """Take over what was decided of single trials."""
        if tuple(decisions) != self.decisions:
            self.history.record("decided on trials of the class")
            self.decisions = tuple(decisions)
            self._match()
            self._tell(ClassChange.MATCHING)

    @property
    def between(self) -> Between:
        """How much groups truly differ; None for what the lab says of it."""
        return checked_between(self.variation.strip() or None)

    # The matching

    @property
    def fields(self) -> tuple[str, ...]:
        """What columns can hold: "group", "trial" and the readings."""
        return (GROUP, TRIAL, *(r.name for r in self.experiment.roles() if r.needs_reading))

    def columns(self) -> tuple[tuple[str, str], ...]:
        """Return letter and label of every column of the file that holds text."""
        if self.preview is not None:
            return tuple((c.letter, c.label) for c in self.preview.matched)
        if not self._tables:
            return ()
        rows = self._tables[0].rows[:_LOOKED_AT]
        heads = next((row for row in rows if sum(map(bool, map(str.strip, row))) > 1), ())
        found = []
        for index in range(max(map(len, rows), default=0)):
            letter = column_letter(index)
            head = clean_text(heads[index])[:_MOST_SHOWN] if index < len(heads) else ""
            found.append((letter, f"{letter} ({head})" if head else letter))
        return tuple(found)

    def set_column(self, field: str, choice: str | None) -> None:
        """Take over which column holds a reading, the group or the trial."""
        known = self.fields
        if field not in known:
            raise DataFileError("There is no such field.", given=field, allowed=", ".join(known))
        letters = [letter for letter, _ in self.columns()]
        if choice not in (None, AUTOMATIC, *letters):
            raise DataFileError("There is no such column.", given=choice, allowed=str(letters))
        if choice == self.choices.get(field, AUTOMATIC):
            return
        self.history.record(f"chose the column of {field}")
        self.choices.pop(field, None)
        if choice != AUTOMATIC:
            self.choices[field] = choice
        self._match()
        self._tell(ClassChange.MATCHING)

    # Answers and choices

    def answer(self, answers: Mapping[str, str]) -> None:
        """Take over answers to questions about the file by their keys; "" takes one back."""
        changed = {k: a for k, a in answers.items() if self.answers.get(k, "") != a}
        if not changed:
            return
        self.history.record("answered a question about the class file")
        self.answers = {k: a for k, a in {**self.answers, **changed}.items() if a}
        self._match()
        self._tell(ClassChange.MATCHING)

    def class_choices(self) -> Choices:
        """Return what is chosen about the file, as it can be saved beside it."""
        given = {**self.loaded.answers, **{k: AnswerGiven(a) for k, a in self.answers.items()}}
        own = {n: None if at is None else (at,) for n, at in self._chosen().items()}
        columns = {**self.loaded.columns, **own}
        return replace(self.loaded, columns=columns, answers=given, decisions=self.decisions)

    def open_choices(self, content: bytes) -> None:
        """Take over the content of a file of choices, in place of those made here."""
        try:
            text = content.decode("utf-8-sig")
        except UnicodeDecodeError:
            raise DataFileError(
                "The choices are not text in UTF-8.", allowed="a file of choices in TOML"
            ) from None
        found = parse_choices(text)
        self.history.record("opened a file of choices")
        self.loaded, self.decisions = replace(found, decisions=()), found.decisions
        self.choices, self.answers = {}, {}
        self._match()
        self._tell(ClassChange.MATCHING)

    def _match(self) -> None:
        """Match the columns anew, and forget what followed from another matching."""
        self.forget()
        self.refusal = self.variation_refusal = None
        try:
            _ = self.between
        except ExperimentError as error:
            self.variation_refusal = refusal_of(error)
        if not self._tables:
            self.preview = None
            return
        try:
            if self._no_sheet is not None:
                raise self._no_sheet
            self._check_choices()
            self.preview = preview_of(
                self._tables, self.experiment, self._chosen(), self.class_choices()
            )
        except DataFileError as error:
            self.preview, self.refusal = None, refusal_of(error)
            if error.fix and FIX_COLUMNS in error.fix:
                advice = self.refusal.advice.replace(FIX_COLUMNS, "Choose the columns below.")
                self.refusal = Refusal(self.refusal.problem, advice)
            if self.codes and error is not self._no_sheet:  # what was given are cells of the file
                self.refusal = Refusal(error.problem, "Choose the columns below.")
            return
        if self.preview.missing:
            names = ", ".join(f"“{name}”" for name in self.preview.missing)
            self.refusal = Refusal(
                f"No column was found for {names}.", "Choose it below, from the list of its name."
            )

    def _check_choices(self) -> None:
        owner: dict[str, str] = {}
        for field, letter in self.choices.items():
            if letter is not None and owner.setdefault(letter, field) != field:
                raise DataFileError(
                    f"Column {letter} is chosen for “{owner[letter]}” and for “{field}”.",
                    allowed="one use for each column",
                )

    def _chosen(self) -> dict[str, str | None]:
        """Return the choices in the words of the matching, in which a header goes before a letter.

        A column whose letter is the header of another is named by its own header.
        """
        rows = self._tables[0].rows[:_LOOKED_AT] if self._tables else ()
        heads = {clean_text(cell).casefold() for row in rows for cell in row}
        names: dict[str, str | None] = {}
        for field, letter in self.choices.items():
            if letter is not None and letter.casefold() in heads and self.preview is not None:
                own = [c.header for c in self.preview.matched if c.letter == letter and c.header]
                names[field] = own[0] if own else letter
            else:
                names[field] = letter
        return names


def _sourced(tables: Sequence[TextTable], name: str) -> tuple[TextTable, ...]:
    return tuple(replace(table, source=name) for table in tables)


def _record_of(experiment: Experiment) -> tuple[Any, ...]:
    """Return all of a record but its trials, to see whether anything of it has changed."""
    names = (field.name for field in fields(experiment) if field.name != "trials")
    return tuple(getattr(experiment, name) for name in names)


@lru_cache(maxsize=1)
def _packed(content: bytes) -> str:
    """Return a file as text, smaller than it was; "" if it is too large to be kept."""
    packed = zlib.compress(content)
    return base64.b64encode(packed).decode() if len(packed) <= MOST_KEPT else ""


def _unpacked(text: str) -> bytes:
    try:
        unpacker = zlib.decompressobj()
        content = unpacker.decompress(base64.b64decode(text, validate=True), MAX_BYTES)
    except (binascii.Error, zlib.error, ValueError) as error:
        raise DataFileError("What was kept of a class file is damaged.") from error
    return content


def _content(path: Path) -> bytes:
    """Return the content of a file; one that cannot be read is refused in the reader's words."""
    try:
        if path.is_file() and path.stat().st_size <= MAX_BYTES:
            return path.read_bytes()
    except OSError:
        pass  # the reader says why
    read_sheets(path)
    return path.read_bytes()


@dataclass(frozen=True, slots=True)
class GroupLine:
    """One group as a row of the table, as text."""

    name: str
    trials: str
    verdict: str
    ratio: str
    ratio_set: str
    p: str
    percent_yield: str
    remarks: str


class GroupTable:
    """The groups of a class, to be put in order.

    >>> from stoichkit import experiments
    >>> from stoichkit.classroom import assess_class
    >>> table = GroupTable(assess_class(experiments.class_file(), "copper-silver"))
    >>> table.names("mole ratio, smallest first", "")[:2], table.names("as in the file", "AL")
    (('plum', 'coral'), ('coral', 'teal'))
    >>> line = table.line("plum")
    >>> line.verdict, line.ratio, line.remarks
    ('cannot tell copper(I) from copper(II)', '1.50', 'stands out, slip?')
    >>> table.first_to_look_at
    'plum'
    """

    ORDERS: ClassVar[tuple[str, ...]] = (
        "as in the file",
        "p of the best candidate, smallest first",
        "mole ratio, smallest first",
        "mole ratio, largest first",
    )
    STEP: ClassVar[int] = 200
    """So many groups are shown at first, and more each time more are asked for."""

    def __init__(self, result: ClassResult) -> None:
        self.result = result
        self.ratio_sets: Mapping[str, str] = {}
        self._index = {name: i for i, name in enumerate(result.evidence.names)}

    def __contains__(self, name: str) -> bool:
        return name in self._index or name in self.result.evidence.not_assessed

    @property
    def first_to_look_at(self) -> str:
        """A group that stands out, has a slip, cannot be judged or fits none; else the first."""
        evidence = self.result.evidence
        verdict = self.result.verdict
        for name in (*(verdict.outlying if verdict is not None else ()), *self.result.slips):
            return str(name)
        for wanted in ("cannot_be_judged", "none_fits"):
            if wanted in evidence.kinds:
                return evidence.names[evidence.kinds.index(wanted)]
        return next(iter(evidence.names), "")

    def names(self, order: str, part: str) -> tuple[str, ...]:
        """Return the names of the groups in an order, those that were not assessed last."""
        evidence = self.result.evidence
        keys = {
            self.ORDERS[1]: evidence.p_value.max(axis=1) if len(evidence) else np.zeros(0),
            self.ORDERS[2]: evidence.ratio,
            self.ORDERS[3]: -evidence.ratio,
        }
        listed = list(evidence.names)
        if order in keys:
            listed = [evidence.names[i] for i in np.argsort(keys[order], kind="stable").tolist()]
        listed += evidence.not_assessed
        wanted = part.strip().casefold()
        return tuple(name for name in listed if wanted in name.casefold())

    def line(self, name: str) -> GroupLine:
        """Return the row of one group."""
        evidence = self.result.evidence
        if name not in self._index:
            reason = evidence.not_assessed[name]
            return GroupLine(name, "", "not assessed", "", "", "", "", reason)
        i = self._index[name]
        fitting = evidence.fitting[i]
        ratio = float(evidence.ratio[i])
        yields = {
            candidate: f"{percent:.1f} %"
            for candidate, percent, fits in zip(
                evidence.candidates,
                evidence.percent_yield[i].tolist(),
                evidence.compatible[i].tolist(),
                strict=True,
            )
            if fits and math.isfinite(percent)
        }
        shown = [text if len(yields) == 1 else f"{text} ({one})" for one, text in yields.items()]
        return GroupLine(
            name=name,
            trials=str(int(evidence.trials[i])),
            verdict=by_itself(fitting, evidence.reasons[i], len(evidence.candidates)),
            ratio="" if math.isnan(ratio) else f"{ratio:#.3g}".rstrip("."),
            ratio_set=self.ratio_sets.get(name, ""),
            p=p_text(float(evidence.p_value[i].max()), evidence.coverage),
            percent_yield=", ".join(shown),
            remarks=", ".join(self._remarks(name)),
        )

    def _remarks(self, name: str) -> list[str]:
        verdict = self.result.verdict
        words = ["stands out"] if verdict is not None and name in verdict.outlying else []
        return [*words, "slip?"] if name in self.result.slips else words


def ratio_sets(result: ClassResult) -> Mapping[str, str]:
    """Return the ratios that each group does not exclude, in words.

    They are worked out for classes up to the size whose picture shows them.

    >>> from stoichkit import experiments
    >>> from stoichkit.classroom import assess_class
    >>> found = ratio_sets(assess_class(experiments.class_file(), "copper-silver"))
    >>> found["plum"], found["teal"]
    ('every ratio', '1.86 to 2.21')
    """
    names = result.evidence.names
    if len(names) > MOST_SETS:
        return {}
    marks = [float(c.ratio) for c in result.experiment.candidates]
    return {name: _stretches(result.groups[name].ratio_set, marks) for name in names}


def _stretches(found: RatioSet, marks: Sequence[float]) -> str:
    said = []
    for piece in found.intervals:
        a, b = shown_range(piece.low, piece.high, marks)
        said.append(f"{a} to {b}" if b else "every ratio" if piece.low <= 0 else f"{a} or more")
    return "; ".join(said) or "none"


_EVERY_S = 0.1


_PAUSE_S = 0.3


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """What was worked out of a file."""

    result: ClassResult | None  # None while all rows wait for answers
    key: ClassData | None
    data: ClassData
    review: Review | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Together:
    """What takes longer to work out of a result: pictures, ratios of each group."""

    groups: ClassGroupsPicture
    line: ClassLinePicture | None
    ratio_sets: Mapping[str, str]

    @classmethod
    def of(cls, result: ClassResult, report: Report = silent) -> Together:
        """Work it out, and say how far it is."""

        def progress(done: int, total: int) -> None:
            report(f"Ratios that group {done} of {total} does not exclude …")

        report("Putting the class together …")
        groups = ClassGroupsPicture.of(result, progress=progress)
        line = None if result.verdict is None else ClassLinePicture.of(result)
        return cls(groups, line, ratio_sets(result))


class ClassState(ClassFile):
    """A class file, its matching to an experiment, and what follows from both.

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
    last: ClassResult | None  # of another matching of the file, until there is a new one
    table: GroupTable | None
    together: Together | None

    def __init__(self, source: ReadingsState | Experiment | str = "copper-silver") -> None:
        super().__init__(source)
        self.found = self.last = self.table = self.together = None
        self.asked: tuple[Question, ...] = ()
        self.order, self.part, self.shown, self.group = GroupTable.ORDERS[0], "", 0, ""
        self.status = ""  # how far the work is, or how it ended
        self._work, self._stopping = Work(), threading.Event()
        self._matched = self._begun = 0

    def forget(self) -> None:
        """Forget what followed from another matching; the last result stays to be looked at."""
        if self.result is not None:
            self.last = self.result
        self.found = self.table = self.together = None
        self._matched += 1

    def renamed(self) -> None:
        """Forget what another file said, and which groups were chosen."""
        self.part, self.group = "", ""
        self.found = self.last = None
        self.asked = ()

    # Working it out

    @property
    def ready(self) -> bool:
        """Whether there is something to be worked out."""
        refused = self.refusal or self.variation_refusal
        return self.opened and refused is None and self.found is None

    def work_out(
        self, report: Report = silent, stopping: Callable[[], bool] = lambda: False
    ) -> Found:
        """Load the rows as they are matched and work out what the class says."""
        if self._content is None or self.refusal is not None:
            problem = "No file is open." if self.refusal is None else self.refusal.problem
            raise DataFileError(problem, fix="Open a file, or correct how its columns are matched.")
        between = self.between
        report("Reading the rows …")
        data = load_class(
            self._content,
            self.experiment,
            columns=self._chosen(),
            codes=self.codes,
            sheet=self.sheet.strip() or None,
            choices=self.class_choices(),
        )
        data = replace(data, source="" if self.codes else self.file_name)
        if not data.names:
            return Found(None, data if self.codes else None, data)
        said, last = 0.0, -1

        def progress(done: int, total: int) -> bool:
            nonlocal said, last
            now, groups = time.monotonic(), total - 2
            if now - said >= _EVERY_S or (done >= groups and done != last):
                said, last = now, done
                together = "Looking for slips, and putting the groups together …"
                report(f"Group {done} of {groups} …" if done < groups else together)
            return stopping()

        result = assess_class(data, variation=between, progress=progress)
        if not len(result.evidence) and not stopping():
            name, reason = next(iter(result.evidence.not_assessed.items()))
            raise DataFileError(f"No group can be assessed. {name}: {reason}")
        found = reviewed(data, result, between) if result.verdict and not stopping() else None
        return Found(result, data if self.codes else None, data, found)

    def take(self, found: Found) -> None:
        """Show what was worked out."""
        self.found, self.last, self.asked = found, None, found.data.questions
        self.table = None if found.result is None else GroupTable(found.result)
        self.shown = GroupTable.STEP
        if found.result is None or self.table is None:
            self.group = ""
        elif self.group not in found.result.evidence.names:
            self.group = self.table.first_to_look_at
        self._tell(ClassChange.RESULT)

    def decide(self, decisions: Sequence[Decision]) -> None:
        """Take over what was decided, with what codes keep off the screen.

        That is the initials, and what was decided of groups that are not in the file.
        """
        data = None if self.found is None else self.found.data
        if data is not None and data.key and decisions:
            known = {*data.key, *data.key.values()}
            shown = [one for one in self.decisions if one.group in known]
            given = dict(zip(data.choices.decisions, shown, strict=True))
            others = (one for one in self.decisions if one.group not in known)
            decisions = (*(given.get(one, one) for one in decisions), *others)
        super().decide(decisions)

    @property
    def decided(self) -> tuple[Decision, ...]:
        """What was decided, under the names or codes that are shown."""
        return self.decisions if self.found is None else self.found.data.choices.decisions

    @property
    def result(self) -> ClassResult | None:
        """What was worked out of the file as it is matched now."""
        return None if self.found is None else self.found.result

    # Beside all else

    @property
    def working(self) -> bool:
        """Whether something is being worked out."""
        return self._work.running

    def keep_up(self) -> None:
        """Follow the lab, and begin to work out what is not worked out yet, once a matching.

        It runs beside all else; subscribers are told how far it is. To be called where the class
        is shown, so that nothing is worked out that nobody looks at.

        >>> state = ClassState("copper-silver")
        >>> state.open_invented()
        >>> state.keep_up()
        >>> state.result.verdict.verdict.candidates, state.together.groups.named, state.status
        (('copper(II)',), True, '')
        """
        self.follow_record()
        if self._begun != self._matched:
            self._work.stop()
            self._begun, self.status = self._matched, ""
            if self.ready:
                self._begin()

    def work_again(self) -> None:
        """Work it out again, as after it was stopped."""
        self.found = self.table = self.together = None
        self._work.stop()
        if self.ready:
            self._begin()

    def stop_work(self) -> None:
        """Stop at the next group and show what is done by then."""
        if not self._work.running:
            return
        if self.found is None:
            self._stopping.set()
            self._say("Stopping after this step …")
        else:
            self._work.stop()
            self._say("Stopped: the pictures and the class together were not worked out.")

    def close(self) -> None:
        """Follow nothing any more, and stop the work."""
        self._work.stop()
        self.stop_following()

    def _begin(self) -> None:
        self._stopping = threading.Event()
        self.status = "Being worked out …"
        self._work.start(
            partial(self.work_out, stopping=self._stopping.is_set),
            done=partial(self._worked_out, self._matched),
            failed=self._failed,
            progress=self._say,
            delay_s=_PAUSE_S,
        )

    def _worked_out(self, matched: int, found: Found) -> None:
        if matched != self._matched:  # it is of another matching, and will be done anew
            return
        self.status = "The pictures and the class together are being worked out …"
        self.take(found)
        if found.result is None:
            self._say("")
            return
        self._work.start(
            partial(Together.of, found.result),
            done=partial(self._put_together, found),
            failed=self._failed,
            progress=self._say,
        )

    def _put_together(self, found: Found, together: Together) -> None:
        if found is not self.found or self.table is None:
            return
        self.together, self.table.ratio_sets = together, together.ratio_sets
        assert found.result is not None
        left = sum(why == STOPPED for why in found.result.evidence.not_assessed.values())
        stopped = f"Stopped: {left} groups were not assessed. Slips are not all looked for."
        self._say(stopped if self._stopping.is_set() else "")

    def _failed(self, error: Exception) -> None:
        if isinstance(error, StoichkitError):
            self._say(f"Not worked out: {error}")
        else:
            _logger.error("a class could not be worked out", exc_info=error)
            self._say("Not worked out: something went wrong that should not have. The details are "
                      "in the log.")  # fmt: skip

    def _say(self, words: str) -> None:
        self.status = words
        self._tell(ClassChange.WORK)

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
        """Look at one group closely."""
        if self.table is None or name not in self.table:
            raise ExperimentError("There is no such group.", given=name)
        if name != self.group:
            self.group = name
            self._tell(ClassChange.GROUP)
