"""What a person must say about the rows of a class file before they are pooled.

Averages among the trials, rows pasted twice, numbers a thousand times off. Here it is found by
content alone; whose rows they are is known to ``rows``. What the numbers could be by chance is
not asked about.
"""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from ..uncertainty.sources import Floats
from .tables import place_in_words

YES, NO = "yes", "no"
TRIAL_ANSWER, AVERAGE_ANSWER = "a trial", "an average"
COPY_ANSWER = "a copy"
USE_ANSWER, LEAVE_ANSWER = "use", "leave out"
READ_ANSWER = "read"
ONE_GROUP, APART = "one group", "groups apart"
AS_TYPED, SMALLER, LARGER = "as typed", "1000 times smaller", "1000 times larger"
AS_RECORD = "as the record says"
_MOST_LISTED = 8


class QuestionKind(StrEnum):
    """What a question is about."""

    AVERAGE = "average"
    COPY = "copy"
    SCALE = "scale"
    HIDDEN = "hidden"
    SPELLING = "spelling"
    COLUMN = "column"
    ORDER = "order"
    SHEET = "sheet"
    BALANCE = "balance"


@dataclass(frozen=True, slots=True)
class Question:
    """What is not certain about a class file, and what each answer would change.

    Attributes
    ----------
    key : str
        By which an answer in the choices is found; it holds no text of the file.
    kind : QuestionKind
    text : str
        One or two sentences ending in a question mark.
    rows : tuple of int
        Rows it concerns, as a spreadsheet numbers them.
    changes : str
        One sentence: what the answer changes.
    answers : tuple of str
        The answers possible.
    answer : str
        The one given; "" for none.
    default : str
        What is done until somebody answers; "" where the rows wait.
    sheet : str
        Sheet, where a workbook has several.

    Examples
    --------
    >>> asked = Question("copy:3", QuestionKind.COPY, "A copy?", (3,), "…", ("a trial", "a copy"))
    >>> asked.waits, asked.where
    (True, 'row 3')
    """

    key: str
    kind: QuestionKind
    text: str
    rows: tuple[int, ...]
    changes: str
    answers: tuple[str, ...]
    answer: str = ""
    default: str = ""
    sheet: str = ""

    @property
    def waits(self) -> bool:
        """Whether its rows are not pooled until it is answered."""
        return not self.answer and not self.default

    @property
    def taken(self) -> str:
        """The answer given, or what is done without one; "" while its rows wait."""
        return self.answer or self.default

    @property
    def where(self) -> str:
        """The rows in words."""
        return place_in_words(self.sheet, None, rows_text(self.rows))


def rows_text(rows: Sequence[int]) -> str:
    """Name rows, runs of them together.

    >>> rows_text([7]), rows_text([2, 3, 4, 9]), rows_text([])
    ('row 7', 'rows 2 to 4, 9', '')
    """
    if not len(rows):
        return ""
    runs: list[list[int]] = []
    for row in rows:
        if runs and row == runs[-1][-1] + 1:
            runs[-1] = [runs[-1][0], row]
        elif not runs or row != runs[-1][-1]:
            runs.append([row])
    said = [f"{run[0]} to {run[1]}" if len(run) > 1 else f"{run[0]}" for run in runs]
    more = f" and {len(said) - _MOST_LISTED} more" if len(said) > _MOST_LISTED else ""
    many = "rows" if len(rows) > 1 else "row"
    return f"{many} {', '.join(said[:_MOST_LISTED])}{more}"


def mark_of(texts: Iterable[object]) -> str:
    """Return a short mark of readings, so that an answer goes with them and not with a row only."""
    joined = "\x1f".join(map(str, texts)).encode("utf-8", "surrogatepass")
    return hashlib.blake2s(joined, digest_size=2).hexdigest()


# Names that differ only in what nobody sees

_BETWEEN_DIGITS = re.compile(r"(?<=\d)\s+(?=\d)")
_UNSEEN = {"Cf", "Zs", "Cc", "Zl", "Zp"}


def plain_name(name: str) -> str:
    """Return a name without differences that a reader hardly sees.

    Capitals, spaces, characters that are not shown, and how accents are stored do not count.

    >>> plain_name("Zoe\u0308  K.") == plain_name("zo\u00eb\u200bk.")
    True
    """
    found = name.casefold()
    if not name.isascii():
        found = unicodedata.normalize("NFKC", unicodedata.normalize("NFD", name)).casefold()
        found = "".join(" " if c.isspace() else c for c in found)
    elif name.isalnum():
        return found
    found = _BETWEEN_DIGITS.sub("\x00", found)  # “1 1” is not “11”
    return "".join(c for c in found if c == "\x00" or unicodedata.category(c) not in _UNSEEN)


# Words for an average

_SURE = {
    "average", "averages", "avg", "avg.", "aver", "ave", "mean", "means", "median", "ø", "⌀", "∅",
    "x̄", "x̅", "mittel", "mittelwert", "mittelwerte", "durchschnitt", "schnitt", "moyenne",
    "moyennes", "media", "promedio", "médiane", "mediana", "gemiddelde", "medel", "medelvärde",
    "średnia", "průměr", "keskiarvo", "gjennomsnitt", "gennemsnit", "átlag", "среднее", "ortalama",
    "rsd", "s.d.", "sd", "st dev", "standard deviation", "std", "std dev", "stdev", "total",
    "totals", "subtotal", "standardabweichung", "summe", "gesamt", "somme", "écart-type",
}  # fmt: skip
_ALSO_NAMES = {"count", "max", "maximum", "min", "minimum", "range", "sum", "mode", "stabw", "md"}


def summary_word(label: str) -> str:
    """Say what a label says of its row: "sure" for an average or total, "maybe", or "".

    >>> [summary_word(label) for label in ("Ø red", "Mean:", "Max", "bench 3", "mittelwert")]
    ['maybe', 'sure', 'maybe', '', 'sure']
    """
    if not label:
        return ""
    plain = label.casefold().strip(" .:;*()[]=_-")
    if plain in _SURE or f"{plain}." in _SURE:
        return "sure"
    if plain in _ALSO_NAMES:
        return "maybe"
    words = {w.casefold() for w in re.split(r"[\s_/,;:()\[\].\-–]+", label) if w}
    return "maybe" if words & _SURE else ""


def summaries(cells: Sequence[str]) -> dict[str, str]:
    """Return the texts among cells that may name an average, with what :func:`summary_word` says.

    >>> summaries(["red", "Mean", "blue"])
    {'Mean': 'sure'}
    """
    together = "\n".join({cell.strip("0123456789") for cell in {*cells}}).casefold()
    if not any(word in together for word in _SURE | _ALSO_NAMES):
        return {}
    found = {cell: summary_word(cell) for cell in {*cells}}
    return {cell: word for cell, word in found.items() if word}


# Averages by content

_EXPECTED = 0.02
_LENIENT = 50.0


def averages(
    values: Mapping[str, Floats],
    decimals: Mapping[str, NDArray[np.int64]],
    groups: NDArray[np.intp],
    hinted: NDArray[np.bool_],
) -> dict[int, str]:
    """Return rows whose readings are the means of other rows, to the digits typed, and of which.

    Tried is the mean of the other rows of the group, of the rows of one group just above, and of
    all rows above. How often a row would be so near by chance follows from the scatter of the
    rows and the step; what would happen in one of fifty files is not reported. A row that is
    ``hinted`` at, as by a missing trial number, needs less.

    Parameters
    ----------
    values, decimals : mapping of str to ndarray, shape (rows,)
        By reading; nan where there is none.
    groups : ndarray of int, shape (rows,)
        Place of the group of each row; −1 for rows that are not in use.
    hinted : ndarray of bool, shape (rows,)
    """
    used = np.flatnonzero(groups >= 0)
    names = [n for n in values if np.isfinite(values[n][used]).all()] if len(used) > 2 else []
    if len(names) < 2:
        return {}
    table = np.stack([values[n][used] for n in names])
    step = 10.0 ** -np.stack([decimals[n][used] for n in names]).astype(float)
    owner, hint = groups[used], hinted[used]
    limit = np.where(hint, _LENIENT, 1.0) * _EXPECTED / max(len(used), 10)
    found: dict[int, str] = {}
    free = np.ones(len(used), dtype=bool)

    def note(which: NDArray[np.intp], words: str) -> None:
        for place in which.tolist():
            if free[place]:
                free[place] = False
                found[int(used[place])] = words

    note(_of_own_group(table, step, owner, limit), "the other rows of its group")
    note(_of_group_above(table, step, owner, limit), "the rows of the group above it")
    note(_of_all_above(table, step, free, limit), "all rows above it")
    flagged = np.flatnonzero(~free)
    if len(flagged) > 1:
        for place in np.flatnonzero(free).tolist():
            before = flagged[flagged < place]
            if len(before) > 1 and _near(
                table[:, before].mean(1), table[:, before].std(1), table[:, place], step[:, place],
                limit[place], len(before)
            ):  # fmt: skip
                note(np.array([place]), "the averages above it")
            if place > flagged[-1] + 50:
                break
    return found


def _near(
    mean: Floats, spread: Floats, row: Floats, step: Floats, limit: float, count: int
) -> bool:
    """Say whether a row is a mean to its digits, and hardly by chance."""
    if (np.abs(row - mean) > step * (0.5 + 1e-6)).any():
        return False
    return bool(_chance(spread * np.sqrt(count / max(count - 1, 1)), step).prod() < limit)


def _chance(spread: Floats, step: Floats) -> Floats:
    """Return how often one more reading would be within half a step of the mean."""
    with np.errstate(divide="ignore", invalid="ignore"):
        chance = 0.4 * step / spread
    return np.where(spread > 0, np.minimum(chance, 1.0), 1.0)


def _of_own_group(
    table: Floats, step: Floats, owner: NDArray[np.intp], limit: Floats
) -> NDArray[np.intp]:
    count = np.bincount(owner)[owner]
    total = np.stack([np.bincount(owner, weights=row)[owner] for row in table])
    square = np.stack([np.bincount(owner, weights=row**2)[owner] for row in table])
    others = np.maximum(count - 1, 1)
    return _fitting(total - table, square - table**2, others, table, step, limit, count > 2)


def _of_group_above(
    table: Floats, step: Floats, owner: NDArray[np.intp], limit: Floats
) -> NDArray[np.intp]:
    """Return rows that begin a run, or are one, and are the mean of the run of one group above."""
    starts = np.flatnonzero(np.r_[True, owner[1:] != owner[:-1]])
    lengths = np.diff(np.r_[starts, len(owner)])
    before = np.r_[0, lengths[:-1]]
    rows = starts[before > 1]
    sums = np.pad(table.cumsum(1), ((0, 0), (1, 0)))
    squares = np.pad((table**2).cumsum(1), ((0, 0), (1, 0)))
    count = before[before > 1]
    total = sums[:, rows] - sums[:, rows - count]
    square = squares[:, rows] - squares[:, rows - count]
    fits: NDArray[np.intp] = _fitting(
        total, square, count, table[:, rows], step[:, rows], limit[rows], np.ones(len(rows), bool)
    )
    found: NDArray[np.intp] = rows[fits]
    return found


def _of_all_above(
    table: Floats, step: Floats, free: NDArray[np.bool_], limit: Floats
) -> NDArray[np.intp]:
    kept = np.where(free, table, 0.0)
    count = free.cumsum() - free
    total, square = kept.cumsum(1) - kept, (kept**2).cumsum(1) - kept**2
    return _fitting(total, square, np.maximum(count, 1), table, step, limit, count > 1)


def _fitting(
    total: Floats,
    square: Floats,
    count: NDArray[np.intp],
    row: Floats,
    step: Floats,
    limit: Floats,
    asked: NDArray[np.bool_],
) -> NDArray[np.intp]:
    """Return the places of rows that are means of others with that sum and sum of squares."""
    mean = total / count
    # the sums of large files lose digits
    slack = step * (0.5 + 1e-6) + 1e-12 * np.abs(total)
    near = np.flatnonzero(asked & (np.abs(row - mean) <= slack).all(0))
    if not len(near):
        return near
    many = count[near]
    scatter = np.maximum(square[:, near] / many - mean[:, near] ** 2, 0.0)
    spread = np.sqrt(scatter * many / np.maximum(many - 1, 1))
    spread = np.where(spread < 1e-7 * np.abs(mean[:, near]), 0.0, spread)
    hardly = _chance(spread, step[:, near]).prod(0) < limit[near]
    found: NDArray[np.intp] = near[hardly]
    return found


# Copies


def copies(
    values: Mapping[str, Floats], groups: NDArray[np.intp], trials: Sequence[str]
) -> dict[int, int]:
    """Return rows that repeat an earlier row of their group, readings and trial, and which one."""
    used = np.flatnonzero(groups >= 0)
    columns = [groups[used], *(np.nan_to_num(c[used], nan=np.inf) for c in values.values())]
    mixed = np.zeros(len(used))  # alike wherever rows are: few others need be looked at
    for column in columns:
        mixed = np.e * mixed + np.where(np.isinf(column), -1.0, column)
    _, back, count = np.unique(mixed, return_inverse=True, return_counts=True)
    first: dict[tuple[object, ...], int] = {}
    found = {}
    for place in np.flatnonzero(count[back] > 1).tolist():
        row = int(used[place])
        like = first.setdefault((trials[row], *(column[place] for column in columns)), row)
        if like != row:
            found[row] = like
    return found


# A thousand times off

_DECADES = 0.45  # of a factor of 1000: between 355 and 2818


def thousandfold(values: Floats, usual: float, most: float) -> tuple[str, NDArray[np.intp]]:
    """Say which readings are a thousand times off, and whether they should be smaller or larger.

    Compared is with the middle of the column; where a whole column is off, with the ``usual``
    reading of the lab, or else with the ``most`` that its instrument can show.

    >>> thousandfold(np.array([2.94, 3010.0, 2.95]), float("nan"), 200.0)
    ('1000 times smaller', array([1]))
    >>> thousandfold(np.array([2940.0, 3010.0, 2950.0]), 2.9, 200.0)[0]
    '1000 times smaller'
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        size = np.log10(np.abs(values))
    seen = np.isfinite(size)
    if not seen.any():
        return "", np.zeros(0, dtype=np.intp)
    middle = float(np.median(size[seen]))
    whole = middle - np.log10(usual) if usual > 0 else np.nan
    if np.isnan(whole) and middle > np.log10(most) and middle - 3 <= np.log10(most):
        whole = 3.0
    for sign, words in ((1, SMALLER), (-1, LARGER)):
        if abs(whole - sign * 3) < _DECADES:
            return words, np.flatnonzero(seen)
    for sign, words in ((1, SMALLER), (-1, LARGER)):
        off = seen & (np.abs(size - middle - sign * 3) < _DECADES)
        if off.any() and off.sum() * 2 < seen.sum():
            return words, np.flatnonzero(off)
    return "", np.zeros(0, dtype=np.intp)
