"""What a page is made of: paragraphs, headings, lists, tables, equations, pictures and fields.

Parts hold plain text only; the writer of each form makes it harmless there. The one exception is
the SVG of a picture, which comes from :mod:`stoichkit.plots`.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from ..chemistry.formula import Formula, parse_formula
from ..errors import FormulaError, ModelError

_SYMBOL = re.compile(r"^([A-Za-zΔ]+)\((.+)\)$")


@dataclass(frozen=True, slots=True)
class Strong:
    """A paragraph that is to be read first."""

    text: str


@dataclass(frozen=True, slots=True)
class Subheading:
    """A heading within a section."""

    text: str


@dataclass(frozen=True, slots=True)
class Bullets:
    """A list of sentences."""

    items: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """A table of plain text, with a caption or "" for none; its first column names the rows.

    >>> Table(("a", "b"), (("1",),))
    Traceback (most recent call last):
    stoichkit.errors.ModelError: A row is not as long as the header. Given: ('1',). Allowed: 2
    cells.
    """

    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    caption: str = ""

    def __post_init__(self) -> None:
        for row in self.rows:
            if len(row) != len(self.header):
                raise ModelError(
                    "A row is not as long as the header.",
                    given=row,
                    allowed=f"{len(self.header)} cells",
                )


@dataclass(frozen=True, slots=True)
class Token:
    """One piece of a formula: ``kind`` is ``"name"``, ``"symbol"``, ``"number"`` or ``"sign"``.

    >>> Token("name", "paper + silver").words, Token("symbol", "n(H2O)").species[1].unicode()
    ('“paper + silver”', 'H₂O')
    """

    kind: str
    text: str

    @property
    def words(self) -> str:
        """The text, in quotes if it is the name of a reading that holds a sign of its own."""
        signs = self.kind == "name" and any(c in "+−-×/=" for c in self.text)
        return f"“{self.text}”" if signs else self.text

    @property
    def species(self) -> tuple[str, Formula] | None:
        """Letters and formula of a symbol such as n(H2O); None for other tokens."""
        match = _SYMBOL.match(self.text) if self.kind == "symbol" else None
        try:
            return None if match is None else (match[1], parse_formula(match[2]))
        except FormulaError:
            return None


@dataclass(frozen=True, slots=True)
class Equation:
    """A chain of equal expressions, with a remark after it.

    Attributes
    ----------
    sides : tuple of tuple of Token
        What is equal to what.
    remark : str
        Plain text: what is calculated, its figures and its uncertainty.
    """

    sides: tuple[tuple[Token, ...], ...]
    remark: str = ""

    def written(self, write: Callable[[Token], str]) -> list[str]:
        """Write each side by a function for tokens, spaces between them but not inside brackets.

        >>> side = tuple(Token("sign", text) for text in ("2", "/", "(", "a", "+", "b", ")"))
        >>> Equation((side,)).written(lambda token: token.text)
        ['2 / (a + b)']
        """
        sides = (" ".join(map(write, side)) for side in self.sides)
        return [side.replace("( ", "(").replace(" )", ")") for side in sides]


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture with its description.

    Attributes
    ----------
    svg : str
        An ``svg`` element with ``role="img"`` and an ``aria-label``, as :mod:`stoichkit.plots`
        writes it; it is put into the page as it is.
    alt_text : str
        The description, shown in its place where there are no pictures.
    caption : str
        A line below the picture; "" for none.
    file : str
        Path, relative to the document, or address of the same picture, which Markdown refers
        to; "" for none.

    Raises
    ------
    ModelError
        If the SVG is not an ``svg`` element with a description.
    """

    svg: str
    alt_text: str
    caption: str = ""
    file: str = ""

    def __post_init__(self) -> None:
        if not self.svg.startswith("<svg ") or "aria-label=" not in self.svg.partition(">")[0]:
            raise ModelError(
                "This is not a picture for a page.",
                given=self.svg[:40],
                allowed="an svg element with a description",
                fix="Use the functions of stoichkit.plots that return SVG.",
            )

    @property
    def words(self) -> str:
        """What stands in the place of the picture where there are none."""
        return " ".join(filter(None, ("Picture.", self.caption, self.alt_text)))


ANSWER_GROUP = "group"
"""The item of a field for the name or code of a group."""


@dataclass(frozen=True, slots=True)
class Field:
    """A line to be filled in, on the screen or on paper, with what stands in it already.

    Attributes
    ----------
    label, value : str
    item, trial : str
        What the line is for, where it is read again from a page that was saved: such a field is
        text that can be edited, which a browser saves; "" for one that is printed only.

    >>> Field("Name").words, Field("Name", "Bench 2").words
    ('Name: ____________________', 'Name: Bench 2')
    """

    label: str
    value: str = ""
    item: str = ""
    trial: str = ""

    @property
    def words(self) -> str:
        """The line where nothing can be typed."""
        return f"{self.label}: {self.value or 20 * '_'}"


Part = str | Strong | Subheading | Bullets | Table | Equation | Picture | Field
"""A paragraph (str), or one of the other parts."""


@dataclass(frozen=True, slots=True)
class Section:
    """A heading with the parts below it, at least one."""

    title: str
    parts: tuple[Part, ...]


def one_line(text: str, unknown: str = "\N{REPLACEMENT CHARACTER}") -> str:
    """Put text on one line and replace characters that act on a terminal or a page.

    >>> one_line("a  b\\n\\x1b[2J", "?")
    'a b ?[2J'
    """
    line = " ".join(text.split())
    return line if line.isprintable() else "".join(c if c.isprintable() else unknown for c in line)
