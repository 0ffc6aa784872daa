"""What people chose about a class file, in a small TOML file beside the untouched data.

Which column and which sheet is which, the answers to questions about rows, and what was decided
of single trials. The data file itself is never written.
"""

from __future__ import annotations

import os
import stat
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path, PurePath
from typing import Any, TypeAlias

from .._common import FrozenMap, nearest, write_whole
from ..errors import DataFileError, ExperimentError
from ..experiments.fields import toml_tables, write_toml
from ..uncertainty import entry

FORMAT = 1
ENDING = ".choices.toml"
MAX_BYTES = 1_000_000
_MOST = 10_000
_LONGEST = 200
_LONGEST_REASON = 1000
_INITIALS = 20
Places: TypeAlias = Mapping[str, tuple[str, ...] | None]
"""Reading, "group" or "trial" to the headers or letters of its columns; None for no column."""


class DecisionKind(StrEnum):
    """What was decided of a trial."""

    USED = "used"
    SET_ASIDE = "set aside"
    CORRECTED = "corrected"


@dataclass(frozen=True, slots=True)
class Decision:
    """What a person decided of one trial, known by its group and its trial as a pair.

    Attributes
    ----------
    group, trial : str
        Names as :class:`ClassData` has them; the code of the group is understood in its place.
    kind : DecisionKind
    reading : str
        Which reading was corrected; needed for a correction.
    typed, corrected : str
        The reading as the file has it, and as it should have been; needed for a correction.
    reason, initials : str
        Why, and who decided.

    Raises
    ------
    DataFileError
        If a text cannot be used, or a correction does not say what was corrected.

    Examples
    --------
    >>> made = Decision("red", "2", "corrected", "paper", typed="7.0", corrected="0.70")
    >>> made.kind, made.identity
    (<DecisionKind.CORRECTED: 'corrected'>, ('red', '2'))
    >>> Decision("red", "2", "corrected")
    Traceback (most recent call last):
    stoichkit.errors.DataFileError: A correction does not say which reading it corrects. Given:
    trial 2 of red. Allowed: reading, typed and corrected. Add what is missing.
    """

    group: str
    trial: str
    kind: DecisionKind
    reading: str = ""
    typed: str = ""
    corrected: str = ""
    reason: str = ""
    initials: str = ""

    def __post_init__(self) -> None:
        for name in ("group", "trial"):
            _line(name, getattr(self, name), empty=False)
        for name in ("reading", "typed", "corrected"):
            _line(name, getattr(self, name))
        _line("reason", self.reason, most=_LONGEST_REASON)
        _line("initials", self.initials, most=_INITIALS)
        kinds = [str(kind) for kind in DecisionKind]
        kind = DecisionKind(entry.choice("kind", self.kind, kinds, error=DataFileError))
        entry.kept(self, kind=kind)
        which = f"trial {self.trial} of {self.group}"
        if kind is DecisionKind.CORRECTED:
            if not (self.reading and self.typed and self.corrected):
                raise DataFileError(
                    "A correction does not say which reading it corrects."
                    if not self.reading
                    else "A correction does not say what was typed and what it should be.",
                    given=which,
                    allowed="reading, typed and corrected",
                    fix="Add what is missing.",
                )
        elif self.corrected:
            raise DataFileError(
                "A corrected reading is given for a trial that is not corrected.",
                given=f"{which}, {kind}",
                allowed="kind “corrected”, or no corrected reading",
                fix="Change the kind, or leave the corrected reading out.",
            )

    @property
    def identity(self) -> tuple[str, str]:
        """Group and trial: which trial it is about. Never join them, names may hold any mark."""
        return self.group, self.trial


@dataclass(frozen=True, slots=True)
class AnswerGiven:
    """The answer chosen to a question about a class file, and who chose it.

    >>> AnswerGiven("mean", "EK").initials
    'EK'
    """

    answer: str
    initials: str = ""

    def __post_init__(self) -> None:
        _line("answer", self.answer, empty=False)
        _line("initials", self.initials, most=_INITIALS)


@dataclass(frozen=True, slots=True)
class Choices:
    """What was chosen about a class file.

    Attributes
    ----------
    columns : mapping
        Reading name, "group" or "trial" to the header or letter of its column, or to several for
        a repeated reading; None for no column. Given as text or list, kept as a tuple.
    sheet_columns : mapping
        The same for single sheets of a workbook, by the name of the sheet; goes before
        ``columns`` there.
    sheets : tuple of str
        Sheets to read; empty for those that look like readings.
    left_out : tuple of str
        Sheets not to read.
    answers : mapping of str to AnswerGiven
        Key of a question to the answer chosen; plain text becomes one without initials.
    decisions : tuple of Decision
        What was decided of single trials. The reader carries them and applies none.

    Raises
    ------
    DataFileError
        If a text or a type cannot be used, or two choices contradict each other.

    Examples
    --------
    >>> chosen = Choices(columns={"paper": "E"}, answers={"mean:7": "mean"})
    >>> chosen.columns["paper"], chosen.answers["mean:7"].answer
    (('E',), 'mean')
    >>> Choices(sheets=("Monday",), left_out=("Monday",))
    Traceback (most recent call last):
    stoichkit.errors.DataFileError: A sheet is both read and left out. Given: Monday. Allowed: each
    sheet in one of the two. Take it out of one of the lists.
    """

    columns: Places = field(default_factory=FrozenMap)
    sheet_columns: Mapping[str, Places] = field(default_factory=FrozenMap)
    sheets: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()
    answers: Mapping[str, AnswerGiven] = field(default_factory=FrozenMap)
    decisions: tuple[Decision, ...] = ()

    def __post_init__(self) -> None:
        sheets, left_out = _names("sheets", self.sheets), _names("left_out", self.left_out)
        both = sorted({*sheets} & {*left_out})
        if both:
            raise DataFileError(
                "A sheet is both read and left out.",
                given=", ".join(both),
                allowed="each sheet in one of the two",
                fix="Take it out of one of the lists.",
            )
        by_sheet = {
            _line("sheet", sheet, empty=False): _places(f"columns of {sheet}", places)
            for sheet, places in _mapping("sheet_columns", self.sheet_columns).items()
        }
        answers = {
            _line("question", key, empty=False): _answer(key, value)
            for key, value in _mapping("answers", self.answers).items()
        }
        decisions = entry.listed("decisions", self.decisions, Decision, error=DataFileError)
        _most("decisions", decisions)
        _check_decisions(decisions)
        entry.kept(
            self,
            columns=_places("columns", self.columns),
            sheet_columns=FrozenMap(by_sheet),
            sheets=sheets,
            left_out=left_out,
            answers=FrozenMap(answers),
            decisions=decisions,
        )

    def __bool__(self) -> bool:
        return any(getattr(self, name) for name in self.__slots__)

    def columns_of(self, sheet: str) -> Places:
        """Return the columns chosen for one sheet, "" for a file without sheets.

        >>> chosen = Choices({"paper": "E"}, sheet_columns={"Friday": {"paper": "F"}})
        >>> chosen.columns_of("Friday")["paper"], chosen.columns_of("Monday")["paper"]
        (('F',), ('E',))
        """
        return FrozenMap({**self.columns, **self.sheet_columns.get(sheet, {})})

    def to_toml(self) -> str:
        """Return them as :func:`load_choices` reads them.

        >>> print(Choices({"paper": "E", "trial": None}, left_out=("Notes",)).to_toml())
        format = 1
        <BLANKLINE>
        [columns]
        paper = "E"
        trial = []
        <BLANKLINE>
        [sheets]
        leave = ["Notes"]
        <BLANKLINE>
        """
        tables: dict[str, Any] = {"format": FORMAT}
        if self.columns:
            tables["columns"] = _written(self.columns)
        sheets: dict[str, Any] = {}
        if self.sheets:
            sheets["read"] = list(self.sheets)
        if self.left_out:
            sheets["leave"] = list(self.left_out)
        if self.sheet_columns:
            sheets["columns"] = {s: _written(p) for s, p in self.sheet_columns.items()}
        if sheets:
            tables["sheets"] = sheets
        if self.answers:
            tables["answers"] = {
                key: {"answer": one.answer, "initials": one.initials}
                if one.initials
                else one.answer
                for key, one in self.answers.items()
            }
        if self.decisions:
            tables["decisions"] = [
                {name: str(text) for name in _DECISION if (text := getattr(one, name))}
                for one in self.decisions
            ]
        return write_toml(tables)


_DECISION = Decision.__slots__
_TABLES = ("format", "columns", "sheets", "answers", "decisions")


def choices_path(path: str | os.PathLike[str]) -> Path:
    """Return the usual place of the choices beside a class file.

    >>> choices_path("lab/class.xlsx").name
    'class.choices.toml'
    """
    place = Path(_name_of(path))
    if not place.name:
        raise DataFileError("This is not the name of a file.", given=place, allowed="a path")
    return place.with_name(f"{place.stem}{ENDING}")


def parse_choices(text: str, path: str = "") -> Choices:
    """Read choices from the text of a TOML file; ``path`` is its name for messages.

    Raises
    ------
    DataFileError
        If the text is not TOML, or a field is not known or wrong.

    Examples
    --------
    >>> parse_choices('format = 1\\n[columns]\\npaper = "E"\\ntrial = []').columns["trial"] is None
    True
    >>> parse_choices('format = 1\\n[colums]\\npaper = "E"', "class.choices.toml")
    Traceback (most recent call last):
    stoichkit.errors.DataFileError: class.choices.toml: The choices have no field of this name.
    Given: colums. Allowed: format, columns, sheets, answers, decisions. Did you mean “columns”?
    """
    entry.text("text", text, error=DataFileError)
    entry.text("path", path, error=DataFileError)
    try:
        _check_size(len(text.encode("utf-8", "surrogatepass")))
        return _read(toml_tables(text))
    except (DataFileError, ExperimentError) as error:
        raise _in_file(error, path) from None


def load_choices(path: str | os.PathLike[str]) -> Choices:
    """Read the choices beside a class file from a TOML file in UTF-8.

    Raises
    ------
    DataFileError
        If the file cannot be read, or a field is not known or wrong.

    Examples
    --------
    >>> import tempfile
    >>> chosen = Choices(decisions=(Decision("red", "2", "set aside", reason="spilled"),))
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     load_choices(save_choices(chosen, f"{folder}/class.choices.toml")) == chosen
    True
    """
    name = _name_of(path)
    try:
        if not stat.S_ISREG(os.stat(name).st_mode):
            raise DataFileError("This is not a file.", given=name, allowed="a TOML file")
        with open(name, "rb") as file:
            data = file.read(MAX_BYTES + 1)
    except DataFileError:
        raise
    except (OSError, ValueError) as error:  # a name that no file can have is a ValueError
        raise DataFileError(
            f"The choices cannot be read: {getattr(error, 'strerror', None) or error}.",
            given=name,
            fix="Check the name and the folder.",
        ) from error
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        if len(data) <= MAX_BYTES:
            raise DataFileError(
                "The choices are not text in UTF-8.",
                given=f"line {data[: error.start].count(10) + 1} of {PurePath(name).name}",
                fix="Save the file again as UTF-8.",
            ) from error
        text = data.decode("utf-8", "replace")
    return parse_choices(text, PurePath(name).name)


def save_choices(
    choices: Choices,
    path: str | os.PathLike[str],
    *,
    replace: bool = False,
    private: bool = False,
) -> Path:
    """Write choices to a TOML file, whole or not at all.

    Parameters
    ----------
    choices : Choices
    path : path
        Ends in .toml.
    replace : bool
        Whether a file of that name may be replaced.
    private : bool
        Whether only its owner may read it, as where codes stand for names.

    Raises
    ------
    DataFileError
        If there is a file of that name, or it cannot be written.

    Examples
    --------
    >>> save_choices(Choices(), "no such folder/class.choices.toml")
    Traceback (most recent call last):
    stoichkit.errors.DataFileError: The file cannot be written: No such file or directory. Given:
    no such folder/class.choices.toml. Check the name, the folder and its permissions.
    """
    entry.record("choices", choices, Choices, error=DataFileError)
    data = choices.to_toml().encode("utf-8")
    _check_size(len(data))
    private = entry.flag("private", private, error=DataFileError)
    return write_whole(path, data, replace=replace, endings=(".toml",), private=private)


# From tables of TOML


def _read(tables: Mapping[str, Any]) -> Choices:
    _known("The choices have", tables, _TABLES)
    if type(tables.get("format", FORMAT)) is not int or tables.get("format", FORMAT) != FORMAT:
        raise DataFileError(
            "The choices are in another format.",
            given=f"format = {tables['format']}",
            allowed=f"format = {FORMAT}",
            fix="Read them with the version of stoichkit that wrote them.",
        )
    sheets = _table("sheets", tables.get("sheets", {}))
    _known("“sheets” has", sheets, ("read", "leave", "columns"))
    by_sheet = _table("sheets.columns", sheets.get("columns", {}))
    decisions = tables.get("decisions", [])
    if not isinstance(decisions, list):
        raise _wrong("decisions", decisions, "a list of tables, each headed [[decisions]]")
    return Choices(
        columns=_places("columns", _table("columns", tables.get("columns", {}))),
        sheet_columns={s: _table(f"sheets.columns.{s}", p) for s, p in by_sheet.items()},
        sheets=_list("sheets.read", sheets.get("read", [])),
        left_out=_list("sheets.leave", sheets.get("leave", [])),
        answers=_answers(_table("answers", tables.get("answers", {}))),
        decisions=tuple(_decision(n, one) for n, one in enumerate(decisions, 1)),
    )


def _answers(table: Mapping[str, Any]) -> dict[str, AnswerGiven]:
    found = {}
    for key, value in table.items():
        if isinstance(value, Mapping):
            _known(f"The answer to “{key}” has", value, ("answer", "initials"))
            if "answer" not in value:
                raise _wrong(f"answers.{key}", "no answer", "answer = …, with initials if wanted")
            found[key] = AnswerGiven(**{n: _plain(n, text) for n, text in value.items()})
        else:
            found[key] = AnswerGiven(_plain(f"answers.{key}", value))
    return found


def _decision(number: int, value: Any) -> Decision:
    where = f"decisions[{number}]"
    table = _table(where, value)
    _known(f"“{where}” has", table, _DECISION)
    missing = [name for name in ("group", "trial", "kind") if name not in table]
    if missing:
        raise _wrong(where, f"no {' and no '.join(missing)}", "group, trial and kind")
    texts = {name: _plain(f"{where}.{name}", text) for name, text in table.items()}
    try:
        return Decision(**texts)  # type: ignore[arg-type]  # the kind is checked there
    except DataFileError as error:
        raise _in_file(error, where) from None


def _table(name: str, value: Any) -> Mapping[str, Any]:
    if not isinstance(value, Mapping):
        raise _wrong(name, value, f"a table, headed [{name}]")
    return value


def _list(name: str, value: Any) -> tuple[Any, ...]:
    if not isinstance(value, list):
        raise _wrong(name, value, 'a list of names, such as ["Monday"]')
    return tuple(value)


def _plain(name: str, value: Any) -> str:
    if type(value) is not str:
        raise _wrong(name, value, "text in quotes")
    return value


def _wrong(name: str, value: object, allowed: str) -> DataFileError:
    return DataFileError(f"“{name}” cannot be used.", given=value, allowed=allowed)


def _known(what: str, table: Mapping[str, Any], known: tuple[str, ...]) -> None:
    for name in table:
        if name not in known:
            raise DataFileError(
                f"{what} no field of this name.",
                given=name,
                allowed=", ".join(known),
                fix=nearest(name, known) or "Correct the name, or take the line out.",
            )


def _in_file(error: DataFileError | ExperimentError, path: str) -> DataFileError:
    place = error.field if isinstance(error, ExperimentError) else None
    where = ", ".join(part for part in (path, place) if part)
    problem = f"{where}: {error.problem}" if where else error.problem
    return DataFileError(problem, given=error.given, allowed=error.allowed, fix=error.fix)


def _check_size(size: int) -> None:
    if size > MAX_BYTES:
        raise DataFileError(
            "The choices are too large.",
            given=f"{size:,} bytes or more",
            allowed=f"up to {MAX_BYTES:,} bytes",
            fix="Check that this is the file of choices, not the data.",
        )


def _name_of(path: object) -> str:
    if not isinstance(path, (str, os.PathLike)):
        raise DataFileError("`path` is not the name of a file.", given=path, allowed="a path")
    return os.fsdecode(path)


# What a text may hold


def _line(name: str, value: object, *, empty: bool = True, most: int = _LONGEST) -> str:
    """Return text on one line that can be shown as it is, or refuse it."""
    text = entry.text(name, value, empty=empty, error=DataFileError)
    if len(text) > most:
        raise DataFileError(
            f"“{name}” is too long.", given=text, allowed=f"up to {most} characters"
        )
    odd = next((c for c in text if not c.isprintable()), "")
    if odd:
        raise DataFileError(
            f"“{name}” holds a character that cannot be shown.",
            given=f"{text.encode('unicode_escape').decode('ascii')}",
            allowed="text on one line, without control characters",
            fix="Type the text again.",
        )
    return text


def _names(name: str, value: object) -> tuple[str, ...]:
    if isinstance(value, str):
        raise _wrong(name, value, 'a list of names, such as ["Monday"]')
    found = entry.listed(name, value, error=DataFileError)
    _most(name, found)
    lines = tuple(_line(name, one, empty=False) for one in found)
    if len({*lines}) < len(lines):
        twice = next(one for place, one in enumerate(lines) if one in lines[:place])
        raise _wrong(name, f"{twice} twice", "each name once")
    return lines


def _mapping(name: str, value: object) -> Mapping[Any, Any]:
    found = entry.mapping(name, value, "a mapping from names", error=DataFileError)
    _most(name, found)
    return found


def _most(name: str, found: Mapping[Any, Any] | tuple[Any, ...]) -> None:
    if len(found) > _MOST:
        raise DataFileError(f"“{name}” has too many entries.", given=len(found),
                            allowed=f"up to {_MOST:,}")  # fmt: skip


def _places(name: str, value: object) -> Places:
    """Return columns with every value a tuple or None; an empty list says there is none."""
    found: dict[str, tuple[str, ...] | None] = {}
    for reading, where in _mapping(name, value).items():
        _line(name, reading, empty=False)
        if where is not None and not isinstance(where, str | list | tuple):
            raise _wrong(f"{name}.{reading}", where, "a header or a letter, or a list of them")
        several = [where] if isinstance(where, str) else (where or ())
        columns = tuple(_line(f"{name}.{reading}", one, empty=False) for one in several)
        found[reading] = columns or None
    return FrozenMap(found)


def _written(places: Places) -> dict[str, str | list[str]]:
    return {n: w[0] if w and len(w) == 1 else list(w or ()) for n, w in places.items()}


def _answer(key: str, value: object) -> AnswerGiven:
    if isinstance(value, AnswerGiven):
        return value
    return AnswerGiven(entry.text(f"the answer to {key}", value, error=DataFileError))


def _check_decisions(decisions: tuple[Decision, ...]) -> None:
    """Refuse two decisions on one trial that say the same thing twice, or contradict each other."""
    seen: set[tuple[str, str, str]] = set()
    for one in decisions:
        about = one.reading if one.kind is DecisionKind.CORRECTED else ""
        place = (*one.identity, about)
        if place in seen:
            raise DataFileError(
                "Two decisions are about the same trial"
                + (" and reading." if about else ", to be used or set aside."),
                given=f"trial {one.trial} of {one.group}" + (f", {about}" if about else ""),
                allowed="one of them",
                fix="Take one of the two out.",
            )
        seen.add(place)
