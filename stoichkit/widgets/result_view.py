"""What the readings say, as a panel shows it: the verdict first, the picture after the table."""

from __future__ import annotations

import ipywidgets

from ..evidence import Evidence
from ..sentences import verdict_sentences
from .fields import LiveText, heading
from .picture import PicturePane
from .result_html import assumptions_html, budget_html, candidates_html, warnings_html
from .state import ReadingsState

__all__ = ["ResultView"]


class ResultView:
    """Verdict, table, picture, budget, warnings and assumptions of a state.

    Attributes
    ----------
    box : ipywidgets.VBox
        The verdict with its warnings, table and picture.
    more : ipywidgets.Box
        The budget and what is assumed.
    verdict, status : LiveText
        The verdict, and whether it is that of the texts as they stand.
    """

    def __init__(self) -> None:
        self.verdict = LiveText(look="stoichkit-verdict")
        self.status = LiveText(look="stoichkit-status")
        self.picture = PicturePane()
        self._table, self._budget = ipywidgets.HTML(), ipywidgets.HTML()
        self._warnings, self._assumptions = ipywidgets.HTML(), ipywidgets.HTML()
        self.box = ipywidgets.VBox(
            [
                heading("Verdict"),
                self.verdict,
                self.status,
                heading("Warnings"),
                self._warnings,
                self._table,
                self.picture.pane,
            ]
        )
        assumed = ipywidgets.VBox([heading("What the verdict assumes"), self._assumptions])
        self.more = ipywidgets.Box([self._budget, assumed])
        self.more.add_class("stoichkit-columns")

    def show_verdict(self, state: ReadingsState) -> None:
        """Show the verdict, and whether it is that of the texts as they stand."""
        outcome = state.outcome
        evidence = outcome.evidence
        words = "There is no verdict yet." if evidence is None else verdict_sentences(evidence)
        self.verdict.text = words
        self.verdict.look = "stoichkit-verdict" + ("" if outcome.current else " stoichkit-stale")
        self.status.text = _status(state)

    def show_rest(self, evidence: Evidence | None) -> None:
        """Show what takes longer: the picture first, then the tables and lists."""
        self.picture.show(evidence)
        if evidence is None:
            for pane in (self._table, self._warnings, self._budget, self._assumptions):
                pane.value = ""
            return
        self._warnings.value = warnings_html(evidence)
        self._table.value = candidates_html(evidence)
        self._budget.value = budget_html(evidence)
        self._assumptions.value = assumptions_html(evidence)


def _status(state: ReadingsState) -> str:
    """Say whether the verdict is that of the texts as they stand."""
    outcome = state.outcome
    if outcome.refusals:
        place, refusal = next(iter(outcome.refusals.items()))
        more = len(outcome.refusals) - 1
        others = f" {more} more field{'s' if more > 1 else ''} not used." if more else ""
        kept = " The verdict is the one from before that." if outcome.evidence else ""
        return f"Not updated: {state.describe(place)}. {refusal}{others}{kept}"
    if outcome.left_out:
        names = ", ".join(outcome.left_out)
        return f"Up to date. Left out, because nothing is typed there: {names}."
    return "Up to date."
