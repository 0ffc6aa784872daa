"""The exceptions stoichkit raises: what was given, what is allowed, what to do next."""

from __future__ import annotations

from dataclasses import dataclass

_SHOWN = 60
_LONGEST = 600


def short(value: object) -> str:
    """Show a value of any length in at most about sixty characters.

    >>> short(10**5000), short("a" * 99)[-3:]
    ('a value of type int that cannot be shown', 'aa…')
    """
    try:
        text = value if isinstance(value, str) else repr(value)
    except ValueError:  # Python writes no whole number of so many digits
        text = f"a value of type {type(value).__name__} that cannot be shown"
    text = " ".join(text.split())
    return text if len(text) <= _SHOWN else f"{text[: _SHOWN - 1]}…"


def _cut(problem: str) -> str:
    """Leave out the middle of a sentence that a long name has made unreadable."""
    if len(problem) <= _LONGEST:
        return problem
    return f"{problem[: _LONGEST // 2]} … {problem[-_LONGEST // 2 :]}"


class StoichkitError(ValueError):
    """Something given to stoichkit cannot be used; the message says what and what would do.

    Parameters
    ----------
    problem : str
        One sentence: what is wrong.
    given, allowed, fix : optional
        What was given, what is allowed, what to do next. Each is kept as an attribute of
        the same name and appended to the message.

    Examples
    --------
    >>> print(StoichkitError("The mass is negative.", given="-1.2 g", allowed="0 g or more"))
    The mass is negative. Given: -1.2 g. Allowed: 0 g or more.
    """

    def __init__(
        self,
        problem: str,
        *,
        given: object = None,
        allowed: object = None,
        fix: str | None = None,
    ) -> None:
        self.problem = problem = _cut(problem)
        self.given = given
        self.allowed = allowed
        self.fix = fix
        parts = [problem]
        if given is not None:
            parts.append(f"Given: {short(given)}.")
        if allowed is not None:
            parts.append(f"Allowed: {allowed}.")
        if fix is not None:
            parts.append(fix)
        super().__init__(" ".join(parts))


class FormulaError(StoichkitError):
    """A chemical formula cannot be read; ``position`` counts characters from 0."""

    def __init__(
        self,
        problem: str,
        *,
        position: int | None = None,
        given: object = None,
        allowed: object = None,
        fix: str | None = None,
    ) -> None:
        self.position = position
        super().__init__(problem, given=given, allowed=allowed, fix=fix)


class EquationError(StoichkitError):
    """A chemical equation cannot be read, or cannot be balanced in exactly one way."""


class InstrumentError(StoichkitError):
    """An instrument is described in a way that cannot be right."""


class ReadingError(StoichkitError):
    """A reading is not a number, or not one that the instrument can show."""


class ModelError(StoichkitError):
    """A calculation is asked for that these data or settings do not define."""


class ExperimentError(StoichkitError):
    """An experiment record is incomplete or contradicts itself; ``field`` names the place."""

    def __init__(
        self,
        problem: str,
        *,
        path: str | None = None,
        field: str | None = None,
        given: object = None,
        allowed: object = None,
        fix: str | None = None,
    ) -> None:
        self.path = path
        self.field = field
        place = ", ".join(part for part in (path, field) if part)
        super().__init__(
            f"{place}: {problem}" if place else problem, given=given, allowed=allowed, fix=fix
        )
        self.problem = problem  # without the place, so that it can be moved to another


class DataFileError(StoichkitError):
    """A table of readings (CSV, XLSX) cannot be used as a whole."""


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why a field cannot be used.

    Attributes
    ----------
    problem : str
        One sentence, short enough to stand beside the field.
    advice : str
        What was given, what is allowed and what to do, "" if there is nothing to add.
    """

    problem: str
    advice: str = ""

    def __str__(self) -> str:
        return f"{self.problem} {self.advice}".strip()

    @classmethod
    def of(cls, error: StoichkitError) -> Refusal:
        """Return an error as a refusal, without the name of the field that it stands beside.

        >>> Refusal.of(ExperimentError("It is empty.", field="title", fix="Type one line."))
        Refusal(problem='It is empty.', advice='Type one line.')
        """
        problem = error.problem
        if isinstance(error, ExperimentError):
            place = ", ".join(part for part in (error.path, error.field) if part)
            problem = problem.removeprefix(f"{place}: ")
        plain = StoichkitError("", given=error.given, allowed=error.allowed, fix=error.fix)
        return cls(problem, str(plain).strip())
