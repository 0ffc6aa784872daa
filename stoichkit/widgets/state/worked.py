"""What the screen of the worked solution holds, without Jupyter.

It works on a shared :class:`.ReadingsState`: while something typed there cannot be used, the last
good solution stays, and says that it is older.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from ..._common import check_ending
from ...decision.evidence import Evidence
from ...errors import ExperimentError
from ...experiments.record import Experiment
from ...reports.hand_in import hand_in_page
from ...reports.lab import lab_report
from ...reports.worked import conclusion_paragraph, worked_solution
from ...text.document import FORMS, Document, form_of
from ..kit.saving import free_target
from ..kit.telling import Telling
from .readings import Change, ReadingsState

ALL = ""
"""Choice of all trials, or of the candidates that fit."""
STYLES = {
    "html": "Formatted",
    "latex": "LaTeX source",
    "markdown": "Markdown",
    "text": "Plain text",
}
"""Style to its name in the screen."""
KINDS = {
    "worked": "Worked solution",
    "report": "Report of the lab",
    "hand-in": "Page to hand in",
}
"""What can be saved, to its name."""
_ENDINGS = {
    "worked": (".html", ".md", ".txt", ".tex"),
    "report": (".html", ".md"),
    "hand-in": (".html", ".md", ".txt", ".tex"),
}
_PART = "worked"


class WorkedState(Telling[None]):
    """Which trial, candidate and style are shown, and what is saved.

    >>> state = WorkedState("copper-silver")
    >>> state.choose_trial("bench 2")
    >>> state.readings.set_reading(0, "wire before", "2,94 g")
    >>> state.current, "Trial bench 2" in state.solution()
    (False, True)
    """

    def __init__(self, source: ReadingsState | Experiment | str = "copper-silver") -> None:
        super().__init__()
        self.readings = source if isinstance(source, ReadingsState) else ReadingsState(source)
        self.style = "html"
        self.yield_of = ALL
        self.trial = next(iter(self.trials), ALL)
        self.kind, self.path, self.replace = "worked", "", False
        self._saved: set[Path] = set()
        self.readings.subscribe(self._follow)
        self.readings.history.join(_PART, lambda: self.chosen, self.restore)

    def _follow(self, change: Change) -> None:
        if change is Change.FORM and not self.readings.history.restoring:
            self.begin()

    @property
    def evidence(self) -> Evidence | None:
        """Evidence of the readings, or from before something was typed that is refused."""
        return self.readings.evidence

    @property
    def current(self) -> bool:
        """Whether what is shown is that of the texts as they stand."""
        return self.readings.outcome.current

    @property
    def trials(self) -> tuple[str, ...]:
        """Names of the trials that can be worked through."""
        if self.evidence is None:
            return ()
        return tuple(one.name for one in self.evidence.experiment.trials)

    @property
    def candidates(self) -> tuple[str, ...]:
        """Names of the candidates."""
        return () if self.evidence is None else tuple(self.evidence.candidates)

    @property
    def chosen(self) -> tuple[str, str, str, str, str, bool]:
        """What is chosen: trial, yield, style; what is saved, under which name, and over what."""
        return self.trial, self.yield_of, self.style, self.kind, self.path, self.replace

    def restore(self, chosen: tuple[str, str, str, str, str, bool]) -> None:
        """Bring back what was chosen."""
        self.trial, self.yield_of, self.style, self.kind, self.path, self.replace = chosen
        self.fit()
        self._tell(None)

    def tables(self) -> dict[str, Any]:
        """Return what is chosen, to be written as JSON; a file is never replaced unasked."""
        names = ("trial", "yield_of", "style", "kind", "path")
        return dict(zip(names, self.chosen, strict=False))

    def restore_tables(self, tables: object) -> None:
        """Bring back what was written; what is none of it is left out."""
        if not isinstance(tables, Mapping):
            return
        texts = {n: t for n, t in tables.items() if isinstance(t, str)}
        style, kind = texts.get("style"), texts.get("kind")
        self.restore(
            (
                texts.get("trial", self.trial),
                texts.get("yield_of", ALL),
                style if style in STYLES else self.style,
                kind if kind in KINDS else self.kind,
                texts.get("path", ""),
                False,
            )
        )

    def begin(self) -> None:
        """Choose anew for another experiment: its first trial, and the candidates that fit."""
        self.trial, self.yield_of = next(iter(self.trials), ALL), ALL
        self.path, self.replace = "", False

    def fit(self) -> None:
        """Give up choices that are no longer there."""
        if self.trial not in (ALL, *self.trials):
            self.trial = next(iter(self.trials), ALL)
        if self.yield_of not in (ALL, *self.candidates):
            self.yield_of = ALL

    def choose_trial(self, name: str) -> None:
        """Choose a trial by name, or :data:`ALL`."""
        self._choose("trial", _one_of(name, (ALL, *self.trials), "trial"), "chose the trial shown")

    def choose_yield(self, name: str) -> None:
        """Choose the candidate whose yield is worked out, or :data:`ALL`."""
        known = _one_of(name, (ALL, *self.candidates), "candidate")
        self._choose("yield_of", known, "chose the yield shown")

    def choose_style(self, name: str) -> None:
        """Choose one of :data:`STYLES`."""
        self._choose("style", _one_of(name, tuple(STYLES), "style"), "chose how it is shown")

    def choose_kind(self, name: str) -> None:
        """Choose what is saved, one of :data:`KINDS`; its name is then suggested anew."""
        self._choose("kind", _one_of(name, tuple(KINDS), "document"), "chose what is saved")
        self.path = ""

    def name(self, path: str) -> None:
        """Take over the name of the file as typed; "" for the one suggested."""
        self._choose("path", path, "typed the name of a file", key=(_PART, "path"))

    def may_replace(self, on: bool) -> None:
        """Say whether a file of that name may be replaced."""
        self._choose("replace", on, "said whether a file may be replaced")

    def _choose(self, part: str, value: str | bool, words: str, *, key: Any = None) -> None:
        if getattr(self, part) != value:
            self.readings.history.record(words, key=key)
            setattr(self, part, value)
            self._tell(None)

    def conclusion(self) -> str:
        """Return the conclusion paragraph; "" while there is no evidence."""
        return "" if self.evidence is None else conclusion_paragraph(self.evidence)

    def document(self) -> Document | None:
        """Return the worked solution; None while there is no evidence."""
        if self.evidence is None:
            return None
        return worked_solution(
            self.evidence, trial=self.trial or None, yield_of=self.yield_of or None
        )

    def solution(self) -> str:
        """Return the worked solution in the style chosen; "" while there is no evidence."""
        document = self.document()
        return "" if document is None else document.written(self.style)

    def status(self) -> str:
        """Say whether what is shown is that of the texts as they stand, and why not."""
        outcome = self.readings.outcome
        if outcome.refusals:
            place, refusal = next(iter(outcome.refusals.items()))
            kept = " What is shown is from before that." if outcome.evidence else ""
            return f"Not updated: {self.readings.describe(place)}. {refusal}{kept}"
        if outcome.left_out:
            names = ", ".join(outcome.left_out)
            return f"Up to date. Left out, because nothing is typed there: {names}."
        return "Up to date."

    def save(self, kind: str, path: str, *, replace: bool = False) -> Path:
        """Write one of :data:`KINDS`; nothing while something typed cannot be used."""
        document = self._made(kind)
        target = free_target(
            path, self._saved, replace=replace, endings=_ENDINGS[kind], bare=".html"
        )
        document.save(target, replace=replace or target in self._saved)
        self._saved.add(target)
        return target

    def written(self, kind: str, path: str) -> bytes:
        """Return one of :data:`KINDS` as a file of that name holds it.

        >>> b"documentclass" in WorkedState("tin-oxide").written("worked", "mine.tex")[:20]
        True
        """
        document = self._made(kind)
        return document.written(form_of(check_ending(path, _ENDINGS[kind]))).encode()

    def _made(self, kind: str) -> Document:
        _one_of(kind, tuple(KINDS), "document")
        evidence = self._usable()
        if kind == "report":
            return lab_report(evidence)
        if kind == "hand-in":
            return hand_in_page(evidence)
        document = self.document()
        assert document is not None
        return document

    def suggested(self, kind: str) -> str:
        """Return a name for a file of one of :data:`KINDS`; its ending is of the style shown.

        >>> WorkedState("tin-oxide").suggested("report")
        'tin-oxide-report.html'
        """
        stem = Path(self.readings.name).stem or "lab"
        ending = FORMS[self.style][0] if kind == "worked" else ".html"
        return f"{stem}-{kind}{ending}"

    @property
    def endings(self) -> str:
        """What the name of a file of what is chosen ends in."""
        *others, last = _ENDINGS[self.kind]
        return f"{', '.join(others)} or {last}"

    def _usable(self) -> Evidence:
        if self.evidence is None or not self.current:
            raise ExperimentError(
                "Nothing is saved while something typed cannot be used.",
                fix="Correct the fields marked as not used; what is shown here is older.",
            )
        return self.evidence


def _one_of(name: str, allowed: tuple[str, ...], what: str) -> str:
    if name not in allowed:
        raise ExperimentError(
            f"There is no such {what}.", given=name, allowed=", ".join(filter(None, allowed))
        )
    return name
