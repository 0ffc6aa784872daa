"""Parts of a page as LaTeX, and as one formula for a notebook; text of users never acts."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Callable
from typing import assert_never

from .parts import (
    Bullets,
    Equation,
    Field,
    Part,
    Picture,
    Strong,
    Subheading,
    Table,
    Token,
    one_line,
)
from .plain import text_widths

_POWER = re.compile(r" × 10([⁻⁰¹²³⁴⁵⁶⁷⁸⁹]+)")
_NUMBER = re.compile(r"[−(]?[0-9][0-9.,/)]*( |$)")
_LATEX = {
    "\\": r"\textbackslash{}", "{": r"\{", "}": r"\}", "$": r"\$", "&": r"\&", "#": r"\#",
    "%": r"\%", "_": r"\_", "~": r"\textasciitilde{}", "^": r"\textasciicircum{}",
    "<": r"\textless{}", ">": r"\textgreater{}", "|": r"\textbar{}", '"': r"\textquotedbl{}",
    "−": r"\ensuremath{-}", "±": r"\ensuremath{\pm}", "×": r"\ensuremath{\times}",
    "→": r"\ensuremath{\rightarrow}", "·": r"\ensuremath{\cdot}", "°": r"\ensuremath{^\circ}",
    "µ": r"\ensuremath{\mu}", "≥": r"\ensuremath{\geq}", "≤": r"\ensuremath{\leq}",
    "≈": r"\ensuremath{\approx}", "“": "``", "”": "''", "–": "--", "…": r"\ldots{}",
    "χ": r"\ensuremath{\chi}", "τ": r"\ensuremath{\tau}", "Δ": r"\ensuremath{\Delta}",
    "□": r"\fbox{\phantom{0}}", "`": r"\textasciigrave{}", "'": r"\textquotesingle{}",
}  # fmt: skip
_PIECES = re.compile("([⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻]+|[₀₁₂₃₄₅₆₇₈₉]+)")
_RAISED = "⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻"
_PLAIN = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻₀₁₂₃₄₅₆₇₈₉", "0123456789+-0123456789")
_MATH_WIDTH = 90
_SIGNS = {"×": r"\times ", "−": "-", "/": "/", "·": r"\cdot "}
_HEADINGS = ("section", "subsection", "subsubsection")
_PREAMBLE = r"""\documentclass[11pt]{article}
\usepackage[T1]{fontenc}
\usepackage{textcomp}
\usepackage{amsmath}
\usepackage{array}
\usepackage{longtable}
\usepackage[margin=20mm]{geometry}
\setlength{\parindent}{0pt}
\setlength{\parskip}{4pt}
\setlength{\LTleft}{0pt}
\newcolumntype{P}[1]{>{\raggedright\arraybackslash}p{#1}}
\raggedright
\begin{document}
"""
_ROOM = 84
"""Characters of a table that fit between the margins at its natural widths."""


def latex_document(body: str) -> str:
    """Write a whole document, which needs only packages of every LaTeX installation."""
    return f"{_PREAMBLE}\n{body}\n\n\\end{{document}}\n"


def escaped_latex(text: str) -> str:
    r"""Write text so that LaTeX shows it as it stands and runs none of it.

    >>> print(escaped_latex(r"50 % of \input{x} & Cu²⁺"))
    50 \% of \textbackslash{}input\{x\} \& Cu\ensuremath{^{2+}}
    """
    return "".join(
        rf"\ensuremath{{{script}}}" if (script := _script(piece)) else "".join(
            _LATEX.get(c, c) for c in piece
        )
        for piece in _PIECES.split(one_line(text, "?"))
    )  # fmt: skip


def _script(piece: str) -> str:
    """Write superscripts or subscripts as a formula does; "" for other text."""
    plain = piece.translate(_PLAIN)
    return "" if plain == piece else f"{'^' if piece[0] in _RAISED else '_'}{{{plain}}}"


def latex_heading(text: str, level: int) -> str:
    r"""Write a heading of level 1 to 3.

    >>> print(latex_heading("50 %", 2))
    \subsection*{50 \%}
    """
    return rf"\{_HEADINGS[level - 1]}*{{{escaped_latex(text)}}}"


def latex_part(part: Part) -> str:
    r"""Write a part as a piece of a document; a picture as its description in a frame.

    >>> print(latex_part(Bullets(("a_b",))))
    \begin{itemize}
    \item {}a\_b
    \end{itemize}
    """
    match part:
        case str(text):
            return escaped_latex(text)
        case Strong(text):
            return rf"\textbf{{{escaped_latex(text)}}}"
        case Subheading(text):
            return latex_heading(text, 3)
        case Bullets(items):
            lines = "\n".join(rf"\item {{}}{escaped_latex(item)}" for item in items)
            return f"\\begin{{itemize}}\n{lines}\n\\end{{itemize}}"
        case Equation():
            return f"\\[ {equation_latex(part)} \\]\n{escaped_latex(part.remark)}".rstrip()
        case Field():
            return escaped_latex(part.words)
        case Picture():
            words = escaped_latex(part.words)
            return rf"\fbox{{\parbox{{0.96\linewidth}}{{\raggedright {words}}}}}"
        case Table():
            return _table(part)
        case _:
            assert_never(part)


def _table(table: Table) -> str:
    """Write a table that may go over several pages; where it is too wide, cells are broken."""
    rows = [[one_line(cell) for cell in row] for row in (table.header, *table.rows)]
    natural = [max(len(cell) for cell in column) for column in zip(*rows, strict=True)]
    columns = "l" * len(natural)
    if sum(natural) + 2 * len(natural) > _ROOM:
        widths = text_widths(rows)
        room = f"\\dimexpr\\linewidth-{2 * len(widths)}\\tabcolsep\\relax"
        shares = (f"{0.999 * width / sum(widths):.3f}" for width in widths)
        columns = "".join(f"P{{{share}{room}}}" for share in shares)
    head, *body = (_row(row) for row in rows)
    caption = rf"\textbf{{{escaped_latex(table.caption)}}}\nopagebreak" if table.caption else ""
    lines = (rf"\begin{{longtable}}{{{columns}}}", head, r"\hline\endhead", *body)
    return "\n".join(filter(None, (caption, *lines, r"\end{longtable}")))


def _row(cells: list[str]) -> str:
    """Write a row, which must not begin with what could belong to the end of the row before."""
    row = " & ".join(map(escaped_latex, cells))
    return ("{}" if row[:1] in ("[", "*") else "") + row + r" \\"


def equation_latex(equation: Equation) -> str:
    r"""Write an equation as a formula, without its remark.

    >>> print(equation_latex(Equation(((Token("symbol", "n(Cu)"),), (Token("number", "2 mol"),)))))
    n(\mathrm{Cu}) = 2\,\text{mol}
    """
    return " = ".join(" ".join(_token(t, _text) for t in side) for side in equation.sides)


def _text(text: str) -> str:
    """Write words within a formula of a document."""
    return rf"\text{{{escaped_latex(text)}}}"


def _token(token: Token, worded: Callable[[str], str]) -> str:
    """Write a token within a formula, words by the function given."""
    species = token.species
    if species:
        return rf"{species[0]}({species[1].latex()})"
    if token.kind == "sign":
        return _SIGNS.get(token.text, escaped_latex(token.text))
    if token.kind == "number" and _NUMBER.match(token.text):
        number, _, unit = _POWER.sub(
            lambda m: rf"\times10^{{{m[1].translate(_PLAIN)}}}", token.text
        ).partition(" ")
        shown = number.replace("−", "-").replace(",", "{,}")
        return shown + (rf"\,{worded(unit)}" if unit else "")
    if token.kind == "symbol" and re.fullmatch("[A-Za-z][0-9]*", token.text):
        return token.text[0] + (f"_{{{token.text[1:]}}}" if token.text[1:] else "")
    return rf"{worded(token.words)}\;"


# One formula for a notebook, where LaTeX outside of formulas is not known


def math_document(rows: str) -> str:
    """Write rows as one displayed formula."""
    return f"$$\\begin{{array}}{{l}}\n{rows}\n\\end{{array}}$$\n"


def math_heading(text: str, level: int) -> str:
    """Write a heading as a row, with space above it where it is not the title."""
    return (r"\\ " if level > 1 else "") + _math_words(text, "textbf")


def math_part(part: Part) -> str:
    r"""Write a part as rows of a formula, words as ``\text`` and fractions upright."""
    match part:
        case Subheading(text):
            return math_heading(text, 3)
        case Bullets(items):
            return " \\\\\n".join(_math_lines(f"• {item}") for item in items)
        case Table(header, rows, caption):
            cells = [" & ".join(map(_math_words, row)) for row in (header, *rows)]
            body = r" \\ ".join(cells).replace(r" \\ ", r" \\ \hline ", 1)
            table = rf"\begin{{array}}{{{'l' * len(header)}}} {body} \end{{array}}"
            return f"{_math_lines(f'{caption}:')} \\\\\n{table}" if caption else table
        case Equation(sides, remark):
            chain = rf"\displaystyle {' = '.join(map(_math_side, sides))}"
            return f"{chain} \\\\\n{_math_lines(remark, 'small')}" if remark else chain
        case Picture() | Field():
            return _math_lines(part.words)
        case str(text) | Strong(text):
            return _math_lines(text)
        case _:
            assert_never(part)


def _math_lines(text: str, size: str = "") -> str:
    """Break a paragraph into rows."""
    rows = map(_math_words, textwrap.wrap(one_line(text, "?"), _MATH_WIDTH))
    return " \\\\\n".join(rf"\quad\{size}{row}" if size else row for row in rows)


def _math_words(text: str, command: str = "text") -> str:
    """Write words within a formula; what acts there stands outside the command for words."""
    out = []
    for piece in re.split("(%)", one_line(text, "?")):
        for run in _PIECES.split(piece):
            if run == "%":  # begins a comment even among words
                out.append(r"\%")
            elif script := _script(run):
                out.append(f"{{}}{script}")
            elif run:
                words = re.sub(r"([\\{}$])", r"\\\1", run)
                out.append(rf"\{command}{{{words}}}")
    return "".join(out)


def _math_side(side: tuple[Token, ...]) -> str:
    """Write one side of an equation, a quotient upright."""
    written = [_token(token, _math_words) for token in side]
    if len(side) == 3 and side[1] == Token("sign", "/"):
        return rf"\dfrac{{{written[0]}}}{{{written[2]}}}"
    return " ".join(written)
