"""Write a formula out from its parts: plain text, Unicode, HTML and TeX.

Every function takes the body of a formula (symbols, brackets, numbers, dots), its charge number
and its state label, and trusts that the formula parser has accepted the body.
"""

from __future__ import annotations

import html
import re
from collections.abc import Callable

__all__ = ["write_html", "write_latex", "write_plain", "write_unicode"]

_TO_ASCII = str.maketrans("₀₁₂₃₄₅₆₇₈₉", "0123456789")
_TO_SUBSCRIPT = str.maketrans("0123456789", "₀₁₂₃₄₅₆₇₈₉")
_TO_SUPERSCRIPT = str.maketrans("0123456789+-", "⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻")
_PIECE = re.compile(r"([0-9₀-₉]+)|([·•⋅∙.*])|([^0-9₀-₉·•⋅∙.* ]+)")


def _join(
    body: str, *, subscript: Callable[[str], str], symbols: Callable[[str], str], dot: str = "·"
) -> str:
    """Write the body; a number at the start or after a dot is a multiplier on the line."""
    out = []
    on_line = True
    for digits, found_dot, letters in _PIECE.findall(body):
        if digits:
            number = digits.translate(_TO_ASCII)
            out.append(number if on_line else subscript(number))
        else:
            out.append(dot if found_dot else symbols(letters))
        on_line = bool(found_dot)
    return "".join(out)


def _charge(charge: int) -> str:
    """Return the charge as ``2+``, ``-`` or nothing."""
    if not charge:
        return ""
    return f"{abs(charge) if abs(charge) > 1 else ''}{'+' if charge > 0 else '-'}"


def _state(state: str) -> str:
    return f"({state})" if state else ""


def write_plain(body: str, charge: int, state: str) -> str:
    """Write with plain digits, ``^`` before the charge and U+00B7 for the dot.

    >>> write_plain("CuSO₄*5H₂O", 0, ""), write_plain("SO4", -2, ""), write_plain("e", -1, "")
    ('CuSO4·5H2O', 'SO4^2-', 'e-')
    """
    mark = "^" if charge and body != "e" else ""
    return f"{_join(body, subscript=str, symbols=str)}{mark}{_charge(charge)}{_state(state)}"


def write_unicode(body: str, charge: int, state: str) -> str:
    """Write with subscript and superscript characters.

    >>> write_unicode("Cr2O7", -2, "aq")
    'Cr₂O₇²⁻(aq)'
    """
    written = _join(body, subscript=lambda number: number.translate(_TO_SUBSCRIPT), symbols=str)
    return f"{written}{_charge(charge).translate(_TO_SUPERSCRIPT)}{_state(state)}"


def write_html(body: str, charge: int, state: str) -> str:
    """Write with ``sub`` and ``sup`` elements; letters are escaped.

    >>> write_html("Fe2O3", 0, "s")
    'Fe<sub>2</sub>O<sub>3</sub>(s)'
    """
    written = _join(body, subscript=lambda number: f"<sub>{number}</sub>", symbols=html.escape)
    raised = _charge(charge).replace("-", "−")
    return f"{written}{f'<sup>{raised}</sup>' if raised else ''}{html.escape(_state(state))}"


def write_latex(body: str, charge: int, state: str) -> str:
    r"""Write as upright TeX mathematics without dollar signs.

    >>> print(write_latex("[Fe(CN)6]", -3, "aq"))
    \mathrm{[Fe(CN)_{6}]^{3-}\,(aq)}
    """
    written = _join(body, subscript=lambda number: f"_{{{number}}}", symbols=str, dot=r"\cdot ")
    raised = f"^{{{_charge(charge)}}}" if charge else ""
    label = rf"\,{_state(state)}" if state else ""
    return rf"\mathrm{{{written}{raised}{label}}}"
