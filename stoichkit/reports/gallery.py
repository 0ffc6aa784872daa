"""Published numbers beside ours: a gallery of worked examples."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from ..errors import ModelError
from ..text.parts import Table
from ..uncertainty import entry

_NUMBER = re.compile(r"[+-]?[0-9]+(?:\.[0-9]*)?(?:e[+-]?[0-9]{1,3})?", re.ASCII)
_HEAD = ("What", "Printed", "Ours", "Agreement", "Source")


@dataclass(frozen=True, slots=True)
class Comparison:
    """One printed number with the one calculated here.

    Attributes
    ----------
    what : str
        The quantity, with its unit.
    printed : str
        As printed, with all its digits.
    ours : float
        Calculated here, in the unit of the printed number.
    source : str
        Document, and table, example or page; whether it was read or is from memory.
    note : str
        What explains a difference.

    Raises
    ------
    ModelError
        If the printed number is not a number, or ours is not finite.

    Examples
    --------
    >>> one = Comparison("percent yield, %", "77.3", 77.291, "Example 4.13, read")
    >>> one.agrees, one.matching, one.rounded
    (True, 3, '77.3')
    """

    what: str
    printed: str
    ours: float
    source: str
    note: str = ""

    def __post_init__(self) -> None:
        entry.texts(what=self.what, printed=self.printed, source=self.source, note=self.note)
        if not _NUMBER.fullmatch(self._plain):
            raise ModelError(
                "The printed number is not a number.", given=self.printed, allowed="1.3e42, −0.48"
            )
        entry.kept(self, ours=entry.number("ours", self.ours))

    @property
    def _plain(self) -> str:
        return self.printed.replace("−", "-").lower()

    @property
    def _place(self) -> int:
        mantissa, _, power = self._plain.partition("e")
        return len(mantissa.partition(".")[2]) - int(power or 0)

    @property
    def rounded(self) -> str:
        """Ours with as many decimals as the printed number.

        >>> Comparison("log10 K", "1.3e42", 1.38e42, "").rounded
        '1.4e42'
        """
        mantissa, mark, power = self._plain.partition("e")
        if mark:
            places = len(mantissa.partition(".")[2])
            return f"{self.ours / 10.0 ** int(power):.{places}f}e{power}"
        return f"{self.ours:.{max(self._place, 0)}f}"

    @property
    def agrees(self) -> bool:
        """Whether ours lies within half a unit of the last printed digit."""
        printed = float(self._plain)
        half = 0.5 * 10.0**-self._place
        return abs(self.ours - printed) <= half * (1 + 1e-9)

    @property
    def matching(self) -> int:
        """How many significant digits agree, at most those printed."""
        printed = float(self._plain)
        if not printed:
            return 0
        figures = math.floor(math.log10(abs(printed))) + 1 + self._place
        if self.agrees:
            return max(figures, 1)
        return max(math.floor(-math.log10(abs(self.ours / printed - 1))), 0)


def comparison_table(title: str, rows: Sequence[Comparison]) -> Table:
    """Return the comparisons as a table of a page.

    Examples
    --------
    >>> table = comparison_table("Yields", [Comparison("yield, %", "77.3", 77.291, "4.13, read")])
    >>> table.rows
    (('yield, %', '77.3', '77.3', 'all 3 digits', '4.13, read'),)
    """
    entry.text("title", title)
    rows = entry.listed("rows", rows, Comparison)
    return Table(
        _HEAD,
        tuple((r.what, r.printed, r.rounded, _agreement(r), r.source) for r in rows),
        f"{title}: {sum(r.agrees for r in rows)} of {len(rows)} in all printed digits",
    )


def _agreement(row: Comparison) -> str:
    if row.agrees:
        words = f"all {row.matching} digits" if row.matching > 1 else "its one digit"
    else:
        words = f"{row.matching} digit{'s' if row.matching != 1 else ''}"
    return f"{words}; {row.note}" if row.note else words
