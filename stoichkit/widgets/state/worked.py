"""What the panel of the worked solution holds, without Jupyter.

It works on a shared :class:`.ReadingsState`: while something typed there cannot be used, the last
good solution stays, and says that it is older.
"""

from __future__ import annotations

from pathlib import Path

from ...decision.evidence import Evidence
from ...errors import ExperimentError
from ...experiments.record import Experiment
from ...reports.lab import lab_report
from ...reports.worked import conclusion_paragraph, worked_solution
from ...text.document import Document
from ..kit.saving import free_target
from .readings import ReadingsState

ALL = ""
"""Choice of all trials, or of the candidates that fit."""
STYLES = {
    "html": "Formatted",
    "latex": "LaTeX source",
    "markdown": "Markdown",
    "text": "Plain text",
}
"""Style to its name in the panel."""


class WorkedState:
    """Which trial, candidate and style are shown, and what is saved.

    >>> state = WorkedState("copper-silver")
    >>> state.choose_trial("bench 2")
    >>> state.readings.set_reading(0, "wire before", "2,94 g")
    >>> state.current, "Trial bench 2" in state.solution()
    (False, True)
    """

    def __init__(self, source: ReadingsState | Experiment | str = "copper-silver") -> None:
        self.readings = source if isinstance(source, ReadingsState) else ReadingsState(source)
        self.style = "html"
        self.yield_of = ALL
        self.trial = self.trials[0] if self.trials else ALL
        self._saved: set[Path] = set()

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

    def begin(self) -> None:
        """Choose anew for another experiment: its first trial, and the candidates that fit."""
        self.trial, self.yield_of = next(iter(self.trials), ALL), ALL

    def fit(self) -> None:
        """Give up choices that are no longer there."""
        if self.trial not in (ALL, *self.trials):
            self.trial = next(iter(self.trials), ALL)
        if self.yield_of not in (ALL, *self.candidates):
            self.yield_of = ALL

    def choose_trial(self, name: str) -> None:
        """Choose a trial by name, or :data:`ALL`."""
        self.trial = _one_of(name, (ALL, *self.trials), "trial")

    def choose_yield(self, name: str) -> None:
        """Choose the candidate whose yield is worked out, or :data:`ALL`."""
        self.yield_of = _one_of(name, (ALL, *self.candidates), "candidate")

    def choose_style(self, name: str) -> None:
        """Choose one of :data:`STYLES`."""
        self.style = _one_of(name, tuple(STYLES), "style")

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

    def save_report(self, path: str, *, replace: bool = False) -> Path:
        """Write the report of the lab; the name ends in .html or .md."""
        evidence = self._usable()
        target = self._target(path, replace, (".html", ".md"))
        lab_report(evidence).save(target, replace=replace or target in self._saved)
        self._saved.add(target)
        return target

    def save_solution(self, path: str, *, replace: bool = False) -> Path:
        """Write the worked solution; the name ends in .html, .md, .txt or .tex.

        Parameters and errors are those of :meth:`save_report`.
        """
        self._usable()
        target = self._target(path, replace, (".html", ".md", ".txt", ".tex"))
        document = self.document()
        assert document is not None
        document.save(target, replace=replace or target in self._saved)
        self._saved.add(target)
        return target

    def suggested(self, kind: str) -> str:
        """Return a name for a file: ``"report"`` or ``"worked"``.

        >>> WorkedState("tin-oxide").suggested("report")
        'tin-oxide-report.html'
        """
        stem = Path(self.readings.name).stem or "lab"
        return f"{stem}-{kind}.html"

    def _usable(self) -> Evidence:
        if self.evidence is None or not self.current:
            raise ExperimentError(
                "Nothing is saved while something typed cannot be used.",
                fix="Correct the fields marked as not used; what is shown here is older.",
            )
        return self.evidence

    def _target(self, path: str, replace: bool, endings: tuple[str, ...]) -> Path:
        return free_target(path, self._saved, replace=replace, endings=endings, bare=".html")


def _one_of(name: str, allowed: tuple[str, ...], what: str) -> str:
    if name not in allowed:
        raise ExperimentError(
            f"There is no such {what}.", given=name, allowed=", ".join(filter(None, allowed))
        )
    return name
