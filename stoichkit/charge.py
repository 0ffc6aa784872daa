"""The outer parts of a formula: surrounding spaces, the charge at its end, the state label."""

from __future__ import annotations

import re
from typing import NoReturn

from .errors import FormulaError

__all__ = ["CHARGE_FORMS", "SIGNS", "STATES", "SUPERSCRIPTS", "refuse", "split_formula"]

STATES = ("s", "l", "g", "aq")
"""State labels: solid, liquid, gas, dissolved in water."""
SIGNS = "+-−–"
"""Plus, hyphen, minus sign and en dash."""
SUPERSCRIPTS = "⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻"
CHARGE_FORMS = "one charge at the end, like Fe^3+, SO4^2-, Fe{3+} or NH4^+"
_FROM_SUPERSCRIPT = str.maketrans(SUPERSCRIPTS, "0123456789+-")
_MARKED_CHARGE = re.compile(rf"(\^\{{|\^|\{{)([0-9]*)([{re.escape(SIGNS)}])([0-9]*)(\}}?)")
_RAISED_CHARGE = re.compile(rf"([0-9]*)([{re.escape(SIGNS)}])([0-9]*)")
_SYMBOL = re.compile("[A-Z][a-z]?")


def refuse(
    text: str, position: int, problem: str, allowed: str, fix: str | None = None
) -> NoReturn:
    """Raise a FormulaError that names the character, counted from 1."""
    raise FormulaError(
        f"{problem} (character {position + 1}).",
        position=position,
        given=text,
        allowed=allowed,
        fix=fix,
    )


def split_formula(text: str) -> tuple[int, int, int, str]:
    """Return where the body of a formula starts and ends, its charge and its state.

    >>> split_formula("SO4^2-(aq)")
    (0, 3, -2, 'aq')
    """
    end = len(text.rstrip())
    start = end - len(text[:end].lstrip())
    if start == end:
        raise FormulaError("The formula is empty.", position=0, given=text, allowed="like Fe2O3")
    state = ""
    if text[end - 1] == ")":
        for label in STATES:
            if text.endswith(f"({label})", start, end):
                state = label
                end = len(text[: end - len(label) - 2].rstrip())
                break
    if end <= start:
        raise FormulaError("A state label stands alone.", position=start, given=text)
    marks = [at for at in (text.find("^", start, end), text.find("{", start, end)) if at >= 0]
    if marks:
        end, charge = _marked_charge(text, min(marks), end)
    elif text[end - 1] in SUPERSCRIPTS:
        end, charge = _raised_charge(text, start, end)
    elif text[end - 1] in SIGNS:
        if text[end - 2] in SUPERSCRIPTS and end - 2 >= start:
            end, charge = _raised_charge(text, start, end)
        else:
            end, charge = _bare_charge(text, start, end)
    else:
        charge = 0
    if end <= start:
        raise FormulaError("A charge stands alone.", position=start, given=text)
    return start, end, charge, state


def _charge_number(text: str, position: int, before: str, sign: str, after: str) -> int:
    digits = before or after
    if (before and after) or digits.startswith("0") or len(digits) > 2:
        refuse(text, position, "The charge cannot be read", f"{CHARGE_FORMS}, 1 to 99")
    number = int(digits or 1)
    return number if sign == "+" else -number


def _marked_charge(text: str, mark: int, end: int) -> tuple[int, int]:
    """Read ``^3+``, ``^{3+}``, ``{3+}`` or ``{+3}`` from the mark on; return (body end, charge)."""
    match = _MARKED_CHARGE.fullmatch(text, mark, end)
    if match is None or ("{" in match[1]) != bool(match[5]):
        refuse(text, mark, "The charge cannot be read", CHARGE_FORMS)
    return mark, _charge_number(text, mark, match[2], match[3], match[4])


def _raised_charge(text: str, start: int, end: int) -> tuple[int, int]:
    """Read a charge in superscript characters; an ordinary sign may close it."""
    low = end - 1
    while low > start and text[low - 1] in SUPERSCRIPTS:
        low -= 1
    match = _RAISED_CHARGE.fullmatch(text[low:end].translate(_FROM_SUPERSCRIPT))
    if match is None:
        refuse(text, low, "The charge cannot be read", CHARGE_FORMS)
    return low, _charge_number(text, low, match[1], match[2], match[3])


def _bare_charge(text: str, start: int, end: int) -> tuple[int, int]:
    """Read a sign at the end, unless a number before it might belong to the charge."""
    body, sign = text[start : end - 1], "+" if text[end - 1] == "+" else "-"
    stem = body.rstrip("0123456789")
    digits = body[len(stem) :]
    if stem.endswith(tuple(SIGNS)):
        refuse(text, end - 2, "The charge cannot be read", CHARGE_FORMS)
    # NH4+ and NO3- have one usual reading; Fe3+, O2-, VO2+ and SO42- have two.
    alone = _SYMBOL.fullmatch(stem) is not None
    if digits and (alone or len(digits) > 1 or (sign == "+" and digits in "123")):
        lower = digits[:-1]
        raise FormulaError(
            "The charge can be read in two ways.",
            position=end - 1 - len(digits),
            given=text,
            allowed=f"{stem[-40:]}{lower}^{digits[-1]}{sign} or {stem[-40:]}{digits}^{sign}",
            fix="Write the one you mean.",
        )
    return end - 1, 1 if sign == "+" else -1
