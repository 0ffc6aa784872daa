"""The file of a class and how its columns are matched to the readings of an experiment.

The file is read once and never written; nothing chosen by hand is lost when it cannot be used.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, replace
from enum import StrEnum
from pathlib import Path
from typing import Any

from .. import experiments
from ..classcolumns import Preview, match_columns
from ..classfile import MAX_BYTES, read_table
from ..classheader import GROUP, TRIAL, clean_text
from ..classtable import TextTable, column_letter
from ..errors import DataFileError, ExperimentError
from ..experiment import Experiment
from .evaluation import Refusal, refusal_of
from .state import Change, ReadingsState

__all__ = ["AUTOMATIC", "ClassChange", "ClassFile"]

AUTOMATIC = "automatic"
"""The choice of a column that leaves the matching to the headers."""
_LOOKED_AT = 60
_MOST_SHOWN = 40


class ClassChange(StrEnum):
    """What subscribers are told has changed."""

    RECORD = "the experiment may be another"
    FILE = "another file was opened"
    MATCHING = "columns, sheet or codes were chosen"
    RESULT = "the class was worked out"
    VIEW = "another order, part or number of groups is shown"
    GROUP = "another group was chosen"


class ClassFile:
    """A class file with its matching; told to subscribers when either changes.

    Parameters
    ----------
    source : ReadingsState, Experiment or str
        See :class:`.class_state.ClassState`, which describes the attributes too.
    """

    def __init__(self, source: ReadingsState | Experiment | str) -> None:
        if not isinstance(source, ReadingsState):
            source = ReadingsState(source)
        self.readings = source
        self.experiment = source.experiment
        self._record = _record_of(self.experiment)
        self._subscribers: list[Callable[[ClassChange], None]] = []
        self._content: bytes | None = None
        self._text: TextTable | None = None
        self._no_sheet: DataFileError | None = None
        self.path: Path | None = None
        self.invented = False
        self.file_name, self.sheet, self.codes = "", "", False
        self.choices: dict[str, str | None] = {}
        self.preview: Preview | None = None
        self.refusal: Refusal | None = None
        self.stop_following = source.subscribe(self._readings_changed)

    def forget(self) -> None:
        """Forget what followed from another matching."""

    def renamed(self) -> None:
        """Forget which groups were chosen, as they go by other names."""

    # Telling

    def subscribe(self, callback: Callable[[ClassChange], None]) -> Callable[[], None]:
        """Have a function called after each change; the function returned ends that."""
        self._subscribers.append(callback)

        def stop() -> None:
            if callback in self._subscribers:
                self._subscribers.remove(callback)

        return stop

    def _tell(self, change: ClassChange) -> None:
        for callback in tuple(self._subscribers):
            callback(change)

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

    # The file

    @property
    def opened(self) -> bool:
        """Whether there is a file."""
        return self._text is not None

    def open_bytes(self, content: bytes, name: str = "") -> None:
        """Open the content of a CSV or XLSX file.

        Raises
        ------
        DataFileError
            If it cannot be read; nothing has changed then.
        """
        self._open(content, name)

    def open_path(self, text: str) -> None:
        """Open a CSV or XLSX file by its path; ``~`` is the home folder.

        Raises
        ------
        DataFileError
            If it cannot be read; nothing has changed then.
        """
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
        """Open the file of the invented class that comes with the experiment.

        Raises
        ------
        ExperimentError
            If none comes with it.
        """
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
        text = replace(read_table(content), source=name)
        self._content, self._text = content, text
        self.file_name, self.path, self.invented = name, path, invented
        self.sheet, self.choices, self._no_sheet = "", {}, None
        self.renamed()
        self._match()
        self._tell(ClassChange.FILE)

    def set_sheet(self, text: str) -> None:
        """Take over the name of the sheet of a workbook; "" for the first with cells."""
        if text == self.sheet:
            return
        self.sheet, self._no_sheet = text, None
        if self._content is None:
            return
        try:
            table = read_table(self._content, sheet=text.strip() or None)
        except DataFileError as error:
            self._no_sheet = error
        else:
            self._text = replace(table, source=self.file_name)
        self._match()
        self._tell(ClassChange.MATCHING)

    def set_codes(self, codes: bool) -> None:
        """Take over whether groups go by codes instead of names."""
        if codes != self.codes:
            self.codes = codes
            self.renamed()
            self._match()
            self._tell(ClassChange.MATCHING)

    # The matching

    @property
    def fields(self) -> tuple[str, ...]:
        """What columns can hold: "group", "trial" and the readings."""
        return (GROUP, TRIAL, *(r.name for r in self.experiment.roles() if r.needs_reading))

    def columns(self) -> tuple[tuple[str, str], ...]:
        """Return letter and label of every column of the file that holds text."""
        if self.preview is not None:
            return tuple((c.letter, c.label) for c in self.preview.matched)
        if self._text is None:
            return ()
        rows = self._text.rows[:_LOOKED_AT]
        heads = next((row for row in rows if sum(map(bool, map(str.strip, row))) > 1), ())
        found = []
        for index in range(max(map(len, rows), default=0)):
            letter = column_letter(index)
            head = clean_text(heads[index])[:_MOST_SHOWN] if index < len(heads) else ""
            found.append((letter, f"{letter} ({head})" if head else letter))
        return tuple(found)

    def set_column(self, field: str, choice: str | None) -> None:
        """Take over which column holds a reading, the group or the trial.

        Parameters
        ----------
        field : str
            One of :attr:`fields`.
        choice : str or None
            Letter of the column, None for no column, :data:`AUTOMATIC` for that of its header.

        Raises
        ------
        DataFileError
            If there is no such field or column.
        """
        known = self.fields
        if field not in known:
            raise DataFileError("There is no such field.", given=field, allowed=", ".join(known))
        letters = [letter for letter, _ in self.columns()]
        if choice not in (None, AUTOMATIC, *letters):
            raise DataFileError("There is no such column.", given=choice, allowed=str(letters))
        if choice == self.choices.get(field, AUTOMATIC):
            return
        self.choices.pop(field, None)
        if choice != AUTOMATIC:
            self.choices[field] = choice
        self._match()
        self._tell(ClassChange.MATCHING)

    def _match(self) -> None:
        """Match the columns anew, and forget what followed from another matching."""
        self.forget()
        self.refusal = None
        if self._text is None:
            return
        try:
            if self._no_sheet is not None:
                raise self._no_sheet
            self._check_choices()
            self.preview = match_columns(self._text, self.experiment, self._chosen())
        except DataFileError as error:
            self.preview, self.refusal = None, refusal_of(error)
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
        rows = () if self._text is None else self._text.rows[:_LOOKED_AT]
        heads = {clean_text(cell).casefold() for row in rows for cell in row}
        names: dict[str, str | None] = {}
        for field, letter in self.choices.items():
            if letter is not None and letter.casefold() in heads and self.preview is not None:
                own = [c.header for c in self.preview.matched if c.letter == letter and c.header]
                names[field] = own[0] if own else letter
            else:
                names[field] = letter
        return names


def _record_of(experiment: Experiment) -> tuple[Any, ...]:
    """Return all of a record but its trials, to see whether anything of it has changed."""
    names = (field.name for field in fields(experiment) if field.name != "trials")
    return tuple(getattr(experiment, name) for name in names)


def _content(path: Path) -> bytes:
    """Return the content of a file; one that cannot be read is refused in the reader's words."""
    try:
        if path.is_file() and path.stat().st_size <= MAX_BYTES:
            return path.read_bytes()
    except OSError:
        pass  # the reader says why
    read_table(path)
    return path.read_bytes()
