"""Which column of a class file holds which reading, in which unit; for a person to confirm."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import lru_cache
from typing import TypeAlias

from .._common import nearest
from ..errors import DataFileError, ReadingError
from ..experiments.record import Experiment
from ..measurement.base import Role
from ..measurement.registry import KINDS
from ..text.sheets import header_of_own, undefused
from ..uncertainty import entry
from ..uncertainty.readings import parse_number
from .tables import TextTable, column_letter

ColumnMap: TypeAlias = Mapping[str, str | Sequence[str] | None]
"""Reading name, "group" or "trial" to the header or the letter of its column; None for none."""
FIX_COLUMNS = (
    "Say which column it is in the choices of the file ([columns] paper = “E”, --choices), or with "
    "--column paper=E."
)
COLUMNS_ALLOWED = "{reading: header or letter of its column}"
GROUP, TRIAL = "group", "trial"
EXACT, ALIKE, NEAR, GIVEN = "exact", "same words", "close", "given"
_SCORE = {EXACT: 4, ALIKE: 4, NEAR: 1, GIVEN: 4}
_LOOKED_AT = 60
_WORDS = {
    GROUP: ("group", "group name", "group no", "group number", "lab group", "bench", "bench no",
            "gruppe", "groupe", "grupo", "gruppo",
            "team", "pair", "table", "station", "students", "student", "names", "name"),
    TRIAL: ("trial", "trial no", "trial number", "run", "run no", "repeat", "replicate",
            "attempt", "versuch", "essai", "ensayo",
            "prova", "measurement", "no", "number", "#"),
}  # fmt: skip
_CLOSE = 0.8
_CLEARLY = 0.05
_NUMBERED = re.compile(r"(.+?)[\s,.#(]+(?:no )?[0-9]{1,2}(?:st|nd|rd|th)?\)?")
_DEFUSED = re.compile(r"'(?=[\t\r]|\s*[=+\-@＝＋－＠])")


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a class file and what it is taken for.

    Attributes
    ----------
    index : int
        From 0.
    header : str
    field : str
        Name of the reading, "group", "trial", or "" for a column that is not used.
    unit : Unit or None
        Unit written in the header, for readings.
    how : str
        ``"exact"``, ``"same words"``, ``"close"`` or ``"given"``; "" for a column not used.
    question : str
        What a person should confirm; "" for nothing.
    place : str
        What it is called where it is no column of the sheet: ``"row 3"``, ``"C, G"``.
    """

    index: int
    header: str
    field: str = ""
    unit: Unit | None = None
    how: str = ""
    question: str = ""
    place: str = ""

    @property
    def letter(self) -> str:
        """Letter of the column in a spreadsheet, or what else it is called there."""
        return self.place or column_letter(self.index)

    @property
    def label(self) -> str:
        """Letter and header, as problems name the column."""
        return f"{self.letter} ({self.header})" if self.header else self.letter


@dataclass(frozen=True, slots=True)
class Preview:
    """The proposed matching of columns, to be confirmed or overridden before loading.

    Attributes
    ----------
    source, layout : str
        See :class:`stoichkit.classroom.tables.TextTable`.
    header_row : int
        Row of the header as a spreadsheet numbers it; 0 where there is none.
    units_row : int
        Row of units below the header; 0 where there is none.
    matched : tuple of Column
        All columns from the left.
    missing : tuple of str
        Readings every trial needs that no column holds.
    sample : tuple of tuple of str
        The first five rows below the header.
    sheet : str
        Its sheet, in a workbook.
    shape : str
        How the table stands in the file, where it is not one row a trial below one header.
    """

    source: str
    layout: str
    header_row: int
    units_row: int
    matched: tuple[Column, ...]
    missing: tuple[str, ...]
    sample: tuple[tuple[str, ...], ...]
    sheet: str = ""
    shape: str = ""

    @property
    def first_row(self) -> int:
        """First row that may hold readings."""
        return max(self.header_row, self.units_row) + 1

    @property
    def questions(self) -> tuple[str, ...]:
        """What a person should confirm."""
        return tuple(column.question for column in self.matched if column.question)

    @property
    def columns(self) -> dict[str, tuple[str, ...]]:
        """The matching as letters of columns; change it and give it to ``load_class``."""
        found: dict[str, tuple[str, ...]] = {}
        for column in self.matched:
            if column.field:
                found[column.field] = (*found.get(column.field, ()), column.letter)
        return found

    def of(self, field: str) -> tuple[Column, ...]:
        """Return the columns that hold one reading, the group or the trial."""
        return tuple(column for column in self.matched if column.field == field)

    def __str__(self) -> str:
        lines = [f"{self.source or 'table'} ({self.layout}), header in row {self.header_row}"]
        for c in self.matched:
            unit = f", {c.unit.words}" if c.unit and not c.unit.same else ""
            lines.append(f"  {c.label} -> {c.field or 'not used'}{unit}")
        lines += [f"  missing: {name}" for name in self.missing]
        return "\n".join([*lines, *(f"  ? {text}" for text in self.questions)])


def match_columns(
    table: TextTable, experiment: Experiment, columns: ColumnMap | None = None
) -> Preview:
    """Find the header and match its columns to the readings of an experiment.

    Its own trials do not matter. ``columns`` is what a person says: reading name, "group" or
    "trial" to the header or the letter of a column (several for a repeated reading), None for a
    column that is not there. A DataFileError says if no row names a reading, or it names what
    is not there.
    """
    entry.record("experiment", experiment, Experiment, error=DataFileError)
    columns = {} if columns is None else columns
    roles = {role.name: role for role in experiment.roles() if role.needs_reading}
    given = _checked(columns, roles)
    best = () if given else _own_columns(table, roles)
    best_score, header = 0, header_of_own(table.rows)
    for index, row in enumerate(() if best else table.rows[:_LOOKED_AT]):
        if len([cell for cell in row if cell.strip()]) < min(2, len(roles)):
            continue
        found = tuple(match_row(row, roles, given))
        score = score_of(found, roles)
        if score > best_score:
            best, best_score, header = found, score, index
        if best_score >= _SCORE[EXACT] * len(roles) + 2:
            break
    if not best:
        best, header = _without_header(table, roles, given)
    _check_given(given, best)
    best = _widened(best, table)
    units, best = _units_row(table.rows[header + 1 : header + 2], best, roles)
    needed = [r.name for r in roles.values() if not r.optional]
    have = {column.field for column in best}
    start = header + 1 + units
    return Preview(
        table.source,
        table.layout,
        header + 1,
        (header + 2) if units else 0,
        best,
        tuple(n for n in needed if n not in have and n not in experiment.shared_readings),
        table.rows[start : start + 5],
        table.sheet,
    )


def _own_columns(table: TextTable, roles: Mapping[str, Role]) -> tuple[Column, ...]:
    """Return the columns of a data sheet of ours by their places; none if it is for another lab."""
    at = header_of_own(table.rows)
    found = []
    for index, cell in enumerate(table.rows[at] if at else ()):
        header = undefused(cell.strip())
        name, _, symbol = header.rpartition(" / ")
        stem = _NUMBERED.fullmatch(name)
        names = (name, stem[1] if stem else "")
        field = (GROUP, TRIAL)[index] if index < 2 else next((n for n in names if n in roles), "")
        unit = known_unit(symbol) if field in roles else None
        if field in roles and (unit is None or unit.base != roles[field].unit):
            return ()
        found.append(Column(index, header, field, unit, EXACT if field else ""))
    have = {column.field for column in found}
    return tuple(found) if have >= {n for n, r in roles.items() if not r.optional} else ()


def _checked(columns: ColumnMap, roles: Mapping[str, Role]) -> dict[str, tuple[str, ...] | None]:
    """Return the mapping a person gave, with every value a tuple or None."""
    found: dict[str, tuple[str, ...] | None] = {}
    columns = entry.mapping("columns", columns, COLUMNS_ALLOWED, error=DataFileError)
    for field, where in columns.items():
        if field not in roles and field not in (GROUP, TRIAL):
            known = [GROUP, TRIAL, *roles]
            raise DataFileError(
                "There is no reading of this name to match a column to.",
                given=field,
                allowed=", ".join(known),
                fix=nearest(field, known),
            )
        names = where
        if where is not None:
            several = [where] if isinstance(where, str) else where
            names = entry.listed(f"the columns of {field}", several, error=DataFileError)
        if names is not None and (
            not names or not all(isinstance(one, str) and one.strip() for one in names)
        ):
            raise DataFileError(
                f"The column for “{field}” is not named.",
                given=where,
                allowed="its header or its letter, or None for no column",
            )
        one_number = field not in roles or not roles[field].takes_several
        if names is not None and len(names) > 1 and one_number:
            raise DataFileError(
                f"Several columns are given for “{field}”, which is one number.",
                given=", ".join(names),
                allowed="one column",
            )
        found[field] = None if names is None else tuple(names)
    return found


def match_row(
    row: Sequence[str], roles: Mapping[str, Role], given: Mapping[str, tuple[str, ...] | None]
) -> Iterator[Column]:
    """Match one row as if it were the header."""
    headers = [clean_text(cell) for cell in row]
    taken: dict[int, tuple[str, str]] = {}
    for field, names in given.items():
        for name in names or ():
            index = _column_named(name, headers)
            if index is not None and index not in taken:
                taken[index] = (field, GIVEN)
    free = [field for field in (*roles, GROUP, TRIAL) if field not in given]

    def take(index: int, field: str, how: str) -> None:
        taken[index] = (field, how)
        if not (field in roles and roles[field].takes_several):
            free.remove(field)

    parts = [(header, split_header(header)[0]) for header in headers]
    for how, written in ((EXACT, str), (ALIKE, alike)):
        for index, names in enumerate(parts):
            plain = [written(name) for name in names]
            for field in [f for f in free if f in roles]:
                stem = _NUMBERED.fullmatch(plain[1]) if roles[field].takes_several else None
                if index not in taken and written(field) in (*plain, stem[1] if stem else None):
                    take(index, field, how)
    for field in (GROUP, TRIAL):
        for word in _WORDS[field]:
            where = [i for i, p in enumerate(parts) if i not in taken and alike(p[0]) == word]
            if where and field in free:
                take(where[0], field, EXACT if headers[where[0]] == word else ALIKE)
    questions = {}
    for _, index, field, second in _close(parts, taken, free):
        if index in taken or field not in free:
            continue
        if second:
            questions[index] = (
                f"Column {column_letter(index)} (“{headers[index]}”) could be “{field}” or "
                f"“{second}”: which?"
            )
            continue
        take(index, field, NEAR)
        questions[index] = (
            f"Column {column_letter(index)} (“{headers[index]}”) was taken for “{field}”: is it?"
        )
    for index, header in enumerate(headers):
        field, how = taken.get(index, ("", ""))
        column = Column(index, header, field, None, how, questions.get(index, ""))
        yield (
            _with_unit(column, roles[field], split_header(header)[1]) if field in roles else column
        )


def _column_named(name: str, headers: Sequence[str]) -> int | None:
    """Return the column of that header, or else of that letter."""
    wanted = clean_text(name)
    for written in (str, alike):
        for index, header in enumerate(headers):
            if header and written(wanted) in (written(header), written(split_header(header)[0])):
                return index
    letters = [column_letter(index) for index in range(len(headers))]
    letter = name.strip().upper()
    return letters.index(letter) if letter in letters else None


def _close(
    parts: Sequence[tuple[str, str]], taken: Mapping[int, object], free: Sequence[str]
) -> list[tuple[float, int, str, str]]:
    """Return close matches, best first; the last item names a field that is as close, or ""."""
    found = []
    for index, (_, name) in enumerate(parts):
        if index in taken or not re.search(r"[^\W\d_]", name):
            continue
        matcher = difflib.SequenceMatcher(None, "", alike(name))
        ranked = []
        for field in free:
            matcher.set_seq1(alike(field))
            ranked.append((matcher.ratio(), field))
        ranked.sort(reverse=True)
        if ranked and ranked[0][0] >= _CLOSE:
            ratio, field = ranked[0]
            near = len(ranked) > 1 and ranked[1][0] > ratio - _CLEARLY
            found.append((ratio, index, field, ranked[1][1] if near else ""))
    return sorted(found, key=lambda item: (-item[0], item[1]))


def _with_unit(column: Column, role: Role, text: str) -> Column:
    """Return the column with the unit of its header, or not used if that cannot be converted."""
    if not text:
        return column
    unit = known_unit(text)
    if unit is not None and unit.base == role.unit:
        return replace(column, unit=unit)
    if alike(column.header) == alike(role.name):
        return column
    return replace(
        column,
        field="",
        how="",
        question=f"Column {column.letter} (“{column.header}”) is in {text}, which cannot be turned "
        f"into {role.unit}: in which unit is “{role.name}”?",
    )


def score_of(columns: Sequence[Column], roles: Mapping[str, Role]) -> int:
    """Return how well a row serves as the header; 0 where it names no reading."""
    readings = [c for c in columns if c.field in roles and c.header]
    if not readings or any(is_number(c.header) for c in readings):
        return 0
    return sum(_SCORE[c.how] for c in readings) + sum(c.field in (GROUP, TRIAL) for c in columns)


def _without_header(
    table: TextTable, roles: Mapping[str, Role], given: Mapping[str, tuple[str, ...] | None]
) -> tuple[tuple[Column, ...], int]:
    """Use the letters a person gave, and begin at the first row with numbers in those columns."""
    width = table.rows.width
    letters = [column_letter(index) for index in range(width)]
    where = {
        letters.index(name.strip().upper()): field
        for field, names in given.items()
        for name in names or ()
        if name.strip().upper() in letters
    }
    numeric = [index for index, field in where.items() if field in roles]
    for start, row in enumerate(table.rows[:_LOOKED_AT] if numeric else ()):
        if all(index < len(row) and is_number(row[index]) for index in numeric):
            header = [clean_text(c) for c in table.rows[start - 1]] if start else []
            header += [""] * (width - len(header))
            return tuple(
                Column(i, header[i], where.get(i, ""), None, GIVEN if i in where else "")
                for i in range(width)
            ), start - 1
    shown = next((row for row in table.rows if len([c for c in row if c.strip()]) > 1), ())
    raise DataFileError(
        "No row of the file names a reading of this experiment.",
        given=" | ".join(" ".join(cell.split()) for cell in shown) or "no cells",
        allowed=f"a header row with {', '.join(roles)}",
        fix=FIX_COLUMNS,
    )


def _check_given(given: Mapping[str, tuple[str, ...] | None], found: Sequence[Column]) -> None:
    for field, names in given.items():
        here = sum(column.field == field and column.how == GIVEN for column in found)
        if names is not None and here < len(names):
            headers = [column.header for column in found if column.header]
            raise DataFileError(
                f"There is no column of this name for “{field}”, or it is given twice.",
                given=", ".join(names),
                allowed=", ".join(headers)[:300] or None,
                fix=nearest(names[0], headers) or "Give its header or its letter.",
            )


def _widened(columns: tuple[Column, ...], table: TextTable) -> tuple[Column, ...]:
    """Add the columns to the right of the header in which some row has text."""
    wider = range(len(columns), table.rows.width)
    return (*columns, *(Column(index, "") for index in wider))


def _units_row(
    below: Sequence[Sequence[str]], columns: tuple[Column, ...], roles: Mapping[str, Role]
) -> tuple[bool, tuple[Column, ...]]:
    """Take the units from a row of nothing else below the header."""
    cells = [_unit_cell(cell) for cell in below[0]] if below else []
    filled = [cell for cell in cells if cell]
    if not filled or any(known_unit(cell) is None for cell in filled):
        return False, columns
    return True, tuple(
        _with_unit(column, roles[column.field], cells[column.index])
        if column.field in roles and column.index < len(cells)
        else column
        for column in columns
    )


_NO_UNIT = {"-", "–", "—", "/", "unit", "units", "einheit", "einheiten", "unité", "unidad", "1"}


def _unit_cell(cell: str) -> str:
    """Return what a cell of a row of units says; "" where it names none."""
    plain = re.sub(r"^(?:in|/)\s+", "", cell.strip().strip("()[]").strip(), flags=re.IGNORECASE)
    return "" if plain.casefold() in _NO_UNIT else plain


def clean_text(text: str) -> str:
    """Return a header on one line, without the mark that keeps a spreadsheet from acting on it."""
    plain = text.strip()
    if plain.startswith("'"):
        plain = _DEFUSED.sub("", plain, count=1)
    return " ".join(plain.split())


def alike(text: str) -> str:
    """Return a name without differences of writing: capitals, spaces, "and" for "+"."""
    words = re.sub(r"[\s_]+", " ", text.casefold()).strip(" .:*")
    words = re.sub(r"\s*(?:\+|&|\band\b|\bwith\b)\s*", " + ", words)
    return re.sub(r"\s*-\s*", " ", words)


def is_number(text: str) -> bool:
    """Say whether a cell holds a number."""
    try:
        parse_number(text)
    except ValueError:
        return False
    return True


# Units as class files write them: split from a header, told apart, and turned into ours.


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit a class file may use for readings that are kept in another one."""

    symbol: str  # as it is written
    base: str  # unit of the readings: "g", "mL", "°C", "kPa", "A" or "s"
    factor: Decimal  # reading in the base unit = number × factor + offset
    offset: Decimal = Decimal(0)

    @property
    def same(self) -> bool:
        """Whether numbers stay as they are."""
        return self.factor == 1 and not self.offset

    @property
    def words(self) -> str:
        """How numbers in this unit are turned into readings."""
        if self.offset:
            sign = "−" if self.offset < 0 else "+"
            return f"number in {self.symbol} {sign} {abs(self.offset)} = reading in {self.base}"
        return f"1 {self.symbol} = {self.factor:f} {self.base}"


# The ounce and the pound are exact by definition (international avoirdupois, from memory), the
# conventional millimetre of mercury as in pressure_units.
_TABLE = {
    "g": "g=1 gram=1 grams=1 gr.=1 mg=1e-3 cg=1e-2 dg=0.1 kg=1e3 µg=1e-6 μg=1e-6 ug=1e-6 "
    "oz=28.349523125 lb=453.59237",
    "mL": "mL=1 cm3=1 cm³=1 cm^3=1 cc=1 ccm=1 L=1e3 litre=1e3 liter=1e3 dm3=1e3 dm³=1e3 "
    "cL=10 dL=100 µL=1e-3 μL=1e-3 uL=1e-3",
    "°C": "°C=1 ℃=1 degC=1 C=1 celsius=1",
    "kPa": "kPa=1 hPa=0.1 Pa=1e-3 mbar=0.1 bar=100 MPa=1e3 atm=101.325 mmHg=0.133322387415 "
    "torr=0.133322368421",
    "A": "A=1 amp=1 ampere=1 mA=1e-3",
    "s": "s=1 sec=1 secs=1 second=1 seconds=1 ms=1e-3 min=60 mins=60 minute=60 minutes=60 h=3600 "
    "hour=3600 hours=3600",
}
_UNITS: dict[str, Unit] = {}
for _base, _line in _TABLE.items():
    for _entry in _line.split():
        _symbol, _factor = _entry.split("=")
        _UNITS[_symbol.casefold()] = Unit(_symbol, _base, Decimal(_factor))
_UNITS["k"] = Unit("K", "°C", Decimal(1), Decimal("-273.15"))
_ENDINGS = (
    re.compile(r"(?P<name>.*\S)\s*/\s*(?P<unit>[^/()\[\]]+)", re.DOTALL),
    re.compile(r"(?P<name>.*\S)\s*[(\[]\s*(?:in\s+)?(?P<unit>[^()\[\]]+)[)\]]", re.DOTALL),
    re.compile(r"(?P<name>.*\S)\s*,\s*(?:in\s+)?(?P<unit>[^,]+)", re.DOTALL),
    re.compile(r"(?P<name>.*\S)\s+in\s+(?P<unit>\S+)", re.DOTALL),
)
_NUMBER_UNIT = re.compile(r"([-+−–]?\s*[0-9.,]*[0-9][.,]?(?:[eE][+-]?[0-9]+)?)\s*([^\d\s.,]\S*)")


def known_unit(text: str) -> Unit | None:
    """Return the unit of that name, or None; capitals do not matter.

    >>> known_unit("ML").base, known_unit("furlong") is None
    ('mL', True)
    """
    plain = " ".join(text.split())
    plain = plain.replace("° C", "°C").replace("deg C", "degC").replace("mm Hg", "mmHg")
    own = (one.unit for one in KINDS.values() if one.unit.casefold() == plain.casefold())
    return _UNITS.get(plain.casefold()) or next((Unit(u, u, Decimal(1)) for u in own), None)


@lru_cache(maxsize=4096)
def split_header(header: str) -> tuple[str, str]:
    """Split a column header into the name of the reading and its unit.

    The unit stands behind a slash, in brackets, behind a comma or behind "in"; behind a slash
    and in square brackets any text counts as a unit, elsewhere only a known one.

    >>> [split_header(text) for text in ("wire before / g", "wire before [mg]", "flask (1)")]
    [('wire before', 'g'), ('wire before', 'mg'), ('flask (1)', '')]
    """
    text = " ".join(header.split())
    for number, pattern in enumerate(_ENDINGS):
        match = pattern.fullmatch(text)
        if match is None:
            continue
        name, unit = match["name"].strip(), match["unit"].strip()
        must_be = number == 0 or text.endswith("]")
        if known_unit(unit) is not None or (must_be and re.search(r"[^\W\d_]|°", unit)):
            return name, unit
    return text, ""


def number_and_unit(text: str) -> tuple[str, Unit] | None:
    """Split a cell such as "2.94 g" into the number and its unit, or return None.

    >>> number_and_unit("294 mg")[0], number_and_unit("2.94"), number_and_unit("2.9O")
    ('294', None, None)
    """
    match = _NUMBER_UNIT.fullmatch(text.strip())
    unit = known_unit(match[2]) if match else None
    return (match[1], unit) if match and unit else None


def converted(text: str, unit: Unit) -> str:
    """Write a number in the base unit, with the typed digits where the factor is a power of ten.

    For other factors two more digits than were typed are kept.

    >>> converted("2940", known_unit("mg")), converted("294,50", known_unit("K"))
    ('2.940', '21.35')
    >>> converted("742.5", known_unit("mmHg")), converted("1.5", known_unit("min"))
    ('98.9919', '90.0')
    """
    if unit.same:
        return text
    reading = parse_number(text)
    plain = text.strip().replace(",", ".").translate(str.maketrans("−–﹣", "---"))
    value = Decimal(plain) * unit.factor + unit.offset
    power = unit.factor.as_tuple()
    exact = not unit.offset and power.digits in ((1,), (1, 0), (1, 0, 0))
    places = reading.decimals - unit.factor.adjusted()
    if exact or (unit.factor == int(unit.factor) and not unit.offset):
        places = max(places, 0) if exact else max(reading.decimals, 0)
    elif unit.offset:
        places = max(reading.decimals, -int(unit.offset.as_tuple().exponent))
    else:
        places = max(places, 0) + 2
    if places > 30:
        raise ReadingError("The number has too many decimals.", given=text, allowed="up to 30")
    return f"{value:.{places}f}"
