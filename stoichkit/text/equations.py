"""A worked solution in plain text, Markdown, HTML or LaTeX; text of users never acts as markup."""

from __future__ import annotations

import html
import re
import textwrap
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from ..chemistry.formula import Formula, parse_formula
from ..errors import FormulaError, ModelError
from .document import Bullets, Section, Table, escaped_markdown, markdown_document, text_document

__all__ = [
    "STYLES",
    "Equation",
    "Token",
    "WorkedSection",
    "equation_html",
    "equation_text",
    "escaped_latex",
    "rendered",
]


@dataclass(frozen=True, slots=True)
class Token:
    """One piece of a formula: ``kind`` is ``"name"``, ``"symbol"``, ``"number"`` or ``"sign"``."""

    kind: str
    text: str


STYLES = ("text", "markdown", "html", "latex", "math")
"""``"latex"`` is a piece of a document; ``"math"`` is one displayed formula for a notebook."""
_SYMBOL = re.compile(r"^([A-Za-zΔ]+)\((.+)\)$")
_POWER = re.compile(r" × 10([⁻⁰¹²³⁴⁵⁶⁷⁸⁹]+)")
_FROM_POWERS = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁻", "0123456789-")
_LATEX = {
    "\\": r"\textbackslash{}", "{": r"\{", "}": r"\}", "$": r"\$", "&": r"\&", "#": r"\#",
    "%": r"\%", "_": r"\_", "~": r"\textasciitilde{}", "^": r"\textasciicircum{}",
    "<": r"\textless{}", ">": r"\textgreater{}", "|": r"\textbar{}", '"': r"\textquotedbl{}",
    "−": r"\ensuremath{-}", "±": r"\ensuremath{\pm}", "×": r"\ensuremath{\times}",
    "→": r"\ensuremath{\rightarrow}", "·": r"\ensuremath{\cdot}", "°": r"\ensuremath{^\circ}",
    "µ": r"\ensuremath{\mu}", "≥": r"\ensuremath{\geq}", "“": "``", "”": "''", "–": "--",
    "χ": r"\ensuremath{\chi}", "Δ": r"\ensuremath{\Delta}", "²": r"\ensuremath{^2}",
    "`": r"\textasciigrave{}", "'": r"\textquotesingle{}",
}  # fmt: skip
_RAISED = re.compile("[⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻]+")
_LOWERED = re.compile("[₀₁₂₃₄₅₆₇₈₉]+")
_PLAIN = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻₀₁₂₃₄₅₆₇₈₉", "0123456789+-0123456789")
_MATH_WIDTH = 90
_SIGNS = {"×": r"\times ", "−": "-", "/": "/", "·": r"\cdot "}


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


@dataclass(frozen=True, slots=True)
class WorkedSection:
    """A heading with paragraphs, lists, tables and equations below it."""

    title: str
    parts: tuple[str | Bullets | Table | Equation, ...]


def rendered(
    style: str, title: str, opening: Iterable[str], sections: Iterable[WorkedSection]
) -> str:
    """Write a worked solution.

    Parameters
    ----------
    style : str
        One of :data:`STYLES`. HTML and LaTeX are pieces to be put into a page or document;
        the LaTeX needs ``amsmath``, and ``textcomp`` in old installations. ``"math"`` is for
        ``IPython.display.Latex``, which shows formulas but not the rest of LaTeX.

    Raises
    ------
    ModelError
        If the style is not known.

    Examples
    --------
    >>> print(rendered("html", "a < b", [], [WorkedSection("One", ("x",))]))
    <article class="worked-solution">
    <h1>a &lt; b</h1>
    <h2>One</h2>
    <p>x</p>
    </article>
    <BLANKLINE>
    """
    if style not in STYLES:
        raise ModelError("This style is not known.", given=style, allowed=", ".join(STYLES))
    opening, sections = list(opening), list(sections)
    if style == "html":
        return _html(title, opening, sections)
    if style == "latex":
        return _latex(title, opening, sections)
    if style == "math":
        return _math(title, opening, sections)
    plain = [Section(s.title, tuple(_in_text(p) for p in s.parts)) for s in sections]
    if style == "text":
        return text_document(title, opening, plain)
    return markdown_document(title, [escaped_markdown(text) for text in opening], plain)


def _in_text(part: str | Bullets | Table | Equation) -> str | Bullets | Table:
    return equation_text(part) if isinstance(part, Equation) else part


def equation_text(equation: Equation) -> str:
    """Write an equation with its remark as plain text.

    >>> side = (Token("symbol", "n(H2O)"),)
    >>> equation_text(Equation((side, (Token("number", "2 mol"),)), "(as stated)"))
    'n(H₂O) = 2 mol (as stated)'
    """
    chain = " = ".join(_spaced(_text_token(t) for t in side) for side in equation.sides)
    return f"{chain} {equation.remark}".strip()


def _spaced(words: Iterable[str]) -> str:
    """Join with spaces, but none inside brackets."""
    return " ".join(words).replace("( ", "(").replace(" )", ")")


def _text_token(token: Token) -> str:
    species = _species(token)
    if species:
        return f"{species[0]}({species[1].unicode()})"
    return _quoted(token)


def _quoted(token: Token) -> str:
    """Put the name of a reading in quotes where it holds a sign of its own."""
    if token.kind == "name" and any(c in "+−-×/=" for c in token.text):
        return f"“{token.text}”"
    return token.text


def _species(token: Token) -> tuple[str, Formula] | None:
    """Return (letters, formula) of a symbol such as n(H2O); None for other tokens."""
    match = _SYMBOL.match(token.text) if token.kind == "symbol" else None
    if match is None:
        return None
    try:
        return match[1], parse_formula(match[2])
    except FormulaError:
        return None


def _html(title: str, opening: list[str], sections: list[WorkedSection]) -> str:
    lines = ['<article class="worked-solution">', f"<h1>{_e(title)}</h1>"]
    lines += [f"<p>{_e(text)}</p>" for text in opening]
    for section in sections:
        lines.append(f"<h2>{_e(section.title)}</h2>")
        lines += [_html_part(part) for part in section.parts]
    return "\n".join([*lines, "</article>"]) + "\n"


def _e(text: str) -> str:
    line = " ".join(text.split())
    return html.escape("".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in line))


def _html_part(part: str | Bullets | Table | Equation) -> str:
    if isinstance(part, str):
        return f"<p>{_e(part)}</p>"
    if isinstance(part, Bullets):
        items = "".join(f"<li>{_e(item)}</li>" for item in part.items)
        return f"<ul>{items}</ul>"
    if isinstance(part, Table):
        head = "".join(f'<th scope="col">{_e(cell)}</th>' for cell in part.header)
        rows = "".join(
            f'<tr><th scope="row">{_e(row[0])}</th>'
            f"{''.join(f'<td>{_e(cell)}</td>' for cell in row[1:])}</tr>"
            for row in part.rows
        )
        return f"<table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"
    return equation_html(part)


def equation_html(equation: Equation) -> str:
    """Write an equation with its remark as a paragraph, each side in a ``span`` to be kept whole.

    >>> equation_html(Equation(((Token("symbol", "n(Cu)"),), (Token("number", "2 mol"),)), "(<)"))
    '<p class="equation"><span><i>n</i>(Cu)</span> <span>= 2 mol</span> <small>(&lt;)</small></p>'
    """
    sides = [_spaced(_html_token(t) for t in side) for side in equation.sides]
    chain = " ".join(f"<span>{'= ' if i else ''}{side}</span>" for i, side in enumerate(sides))
    remark = f" <small>{_e(equation.remark)}</small>" if equation.remark else ""
    return f'<p class="equation">{chain}{remark}</p>'


def _html_token(token: Token) -> str:
    species = _species(token)
    if species:
        return f"<i>{_e(species[0])}</i>({species[1].html()})"
    quantity = token.kind == "symbol" and not token.text[:1].isdigit()  # 273.15 K is none
    return f"<i>{_e(token.text)}</i>" if quantity else _e(_quoted(token))


def _latex(title: str, opening: list[str], sections: list[WorkedSection]) -> str:
    blocks = [rf"\section*{{{escaped_latex(title)}}}", *(escaped_latex(t) for t in opening)]
    for section in sections:
        blocks.append(rf"\subsection*{{{escaped_latex(section.title)}}}")
        blocks += [_latex_part(part) for part in section.parts]
    return "\n\n".join(blocks) + "\n"


def escaped_latex(text: str) -> str:
    r"""Write text so that LaTeX shows it as it stands and runs none of it.

    >>> print(escaped_latex(r"50 % of \input{x} & Cu²⁺"))
    50 \% of \textbackslash{}input\{x\} \& Cu\ensuremath{^{2+}}
    """
    line = " ".join(text.split())
    line = "".join(c if c.isprintable() else "?" for c in line)
    pieces = re.split("([⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻]+|[₀₁₂₃₄₅₆₇₈₉]+)", line)
    out = []
    for piece in pieces:
        plain = piece.translate(_PLAIN)
        if _RAISED.fullmatch(piece):
            out.append(rf"\ensuremath{{^{{{plain}}}}}")
        elif _LOWERED.fullmatch(piece):
            out.append(rf"\ensuremath{{_{{{plain}}}}}")
        else:
            out.append("".join(_LATEX.get(c, c) for c in piece))
    return "".join(out)


def _latex_part(part: str | Bullets | Table | Equation) -> str:
    if isinstance(part, str):
        return escaped_latex(part)
    if isinstance(part, Bullets):
        items = "\n".join(rf"\item {{}}{escaped_latex(item)}" for item in part.items)
        return f"\\begin{{itemize}}\n{items}\n\\end{{itemize}}"
    if isinstance(part, Table):
        columns = "l" * len(part.header)
        cells = [[escaped_latex(cell) for cell in row] for row in (part.header, *part.rows)]
        rows = [" & ".join(row) for row in cells]
        rows.insert(1, r"\hline")
        body = "\n".join(row if row == r"\hline" else rf"{row} \\" for row in rows)
        return f"\\begin{{tabular}}{{{columns}}}\n{body}\n\\end{{tabular}}"
    chain = " = ".join(" ".join(_latex_token(t) for t in side) for side in part.sides)
    return f"\\[ {chain} \\]\n{escaped_latex(part.remark)}".rstrip()


def _math(title: str, opening: list[str], sections: list[WorkedSection]) -> str:
    r"""Write everything as the rows of one displayed array, words as ``\text``."""
    rows = [_math_text(title, "textbf"), *(row for t in opening for row in _math_lines(t))]
    for section in sections:
        rows.append(rf"\\ {_math_text(section.title, 'textbf')}")
        for part in section.parts:
            rows += _math_part(part)
    body = " \\\\\n".join(rows)
    return f"$$\\begin{{array}}{{l}}\n{body}\n\\end{{array}}$$\n"


def _math_text(text: str, command: str = "text") -> str:
    """Write words within a formula; what acts there stands outside the command for words."""
    line = " ".join(text.split()) if text.strip() else text
    line = "".join(c if c.isprintable() else "?" for c in line)
    out = []
    for piece in re.split("([⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻]+|[₀₁₂₃₄₅₆₇₈₉]+|%)", line):
        plain = piece.translate(_PLAIN)
        if piece == "%":  # begins a comment
            out.append(r"\%")
        elif _RAISED.fullmatch(piece):
            out.append(f"{{}}^{{{plain}}}")
        elif _LOWERED.fullmatch(piece):
            out.append(f"{{}}_{{{plain}}}")
        elif piece:
            escaped = re.sub(r"([\\{}$])", r"\\\1", piece)
            out.append(rf"\{command}{{{escaped}}}")
    return "".join(out)


def _math_lines(text: str) -> list[str]:
    return [_math_text(line) for line in textwrap.wrap(" ".join(text.split()), _MATH_WIDTH)]


def _math_part(part: str | Bullets | Table | Equation) -> list[str]:
    if isinstance(part, str):
        return _math_lines(part)
    if isinstance(part, Bullets):
        return [row for item in part.items for row in _math_lines(f"• {item}")]
    if isinstance(part, Table):
        cells = [[_math_text(cell) for cell in row] for row in (part.header, *part.rows)]
        body = r" \\ ".join(" & ".join(row) for row in cells).replace(r" \\ ", r" \\ \hline ", 1)
        return [rf"\begin{{array}}{{{'l' * len(part.header)}}} {body} \end{{array}}"]
    chain = " = ".join(_math_side(side) for side in part.sides)
    return [rf"\displaystyle {chain}", *(rf"\quad\small{row}" for row in _math_lines(part.remark))]


def _math_side(side: tuple[Token, ...]) -> str:
    written = [_latex_token(token, _math_text) for token in side]
    if len(side) == 3 and side[1] == Token("sign", "/"):
        return rf"\dfrac{{{written[0]}}}{{{written[2]}}}"
    return " ".join(written)


def _latex_text(text: str) -> str:
    return rf"\text{{{escaped_latex(text)}}}"


def _latex_token(token: Token, worded: Callable[[str], str] = _latex_text) -> str:
    species = _species(token)
    if species:
        return rf"{species[0]}({species[1].latex()})"
    if token.kind == "sign":
        return _SIGNS.get(token.text, escaped_latex(token.text))
    if token.kind == "number":
        number, _, unit = _POWER.sub(
            lambda m: rf"\times10^{{{m[1].translate(_FROM_POWERS)}}}", token.text
        ).partition(" ")
        shown = number.replace("−", "-").replace(",", "{,}")
        return shown + (rf"\,{worded(unit)}" if unit else "")
    if token.kind == "symbol" and re.fullmatch("[A-Za-z][0-9]*", token.text):
        return token.text[0] + (f"_{{{token.text[1:]}}}" if token.text[1:] else "")
    return rf"{worded(_quoted(token))}\;"
