"""What a plan comes to, as the panel “Plan a lab” shows it: chances, answers, map."""

from __future__ import annotations

import html

import ipywidgets

from ..answer_sentences import answer_sentences, sample_cost_sentence
from ..design_grid import DesignMap
from ..plan_sentences import chances_table, hardest_sentence, setting_sentence, wrong_sentence
from ..planning import OperatingCharacteristic, Plan
from ..planning_questions import Answer
from ..plots.design import curves_alt_text, design_data, map_alt_text
from ..plots.design_scenes import curves_scene, map_scene
from ..plots.planning import chances_alt_text, chances_data, chances_scene
from .fields import LiveText, heading
from .plan_figures import Figures
from .plan_html import picture_svg, table_html
from .plan_tasks import SampleCost

__all__ = ["PlanResults"]

_WIDTH, _MAP, _CURVES = 480.0, 330.0, 290.0
_MOST_ANSWERS = 12


class PlanResults:
    """Chances, answers and map of a plan.

    Attributes
    ----------
    box : ipywidgets.VBox
        The verdict on the plan, the table and the bars.
    answers : ipywidgets.HTML
        Answers to what was asked, the newest first.
    maps : ipywidgets.Box
        The map and the curves.
    verdict, status : LiveText
        Whether the plan is enough, and whether that is what the figures as typed come to.
    """

    def __init__(self) -> None:
        self.verdict = LiveText(look="stoichkit-verdict")
        self.status = LiveText(look="stoichkit-status")
        self.answers = ipywidgets.HTML(layout={"width": "100%"})
        self._table, self._bars = ipywidgets.HTML(), ipywidgets.HTML()
        self._map, self._curves = ipywidgets.HTML(), ipywidgets.HTML()
        self._words = ipywidgets.HTML()
        pictures = ipywidgets.Box([self._map, self._curves])
        pictures.add_class("stoichkit-columns")
        self.maps = ipywidgets.VBox([self._words, pictures])
        self._said: list[str] = []
        self.box = ipywidgets.VBox(
            [heading("Is the plan enough?"), self.verdict, self.status, self._table, self._bars]
        )

    def clear(self) -> None:
        """Show nothing, for another experiment."""
        self._said = []
        for pane in (self.answers, self._table, self._bars, self._map, self._curves, self._words):
            pane.value = ""
        self.verdict.text = "The chances are being worked out …"

    def wait(self, figures: Figures) -> None:
        """Say that the chances of these figures are being worked out; forget an older map."""
        for pane in (self._map, self._curves, self._words):
            pane.value = ""
        self.verdict.look = "stoichkit-verdict stoichkit-stale"
        self.status.text = f"Being worked out: {setting_sentence(figures.plan)}"

    def show_chances(self, found: OperatingCharacteristic, target: float) -> None:
        """Show the chance of each verdict for each candidate taken as true."""
        self.verdict.look = "stoichkit-verdict"
        self.verdict.text = hardest_sentence(found, target)
        self.status.text = f"Up to date: {setting_sentence(found.plan)} {wrong_sentence(found)}"
        table = chances_table(found.chances.items(), target)
        self._table.value = table_html(table, "Chance of each verdict")
        data = chances_data(found.chances.items(), target)
        self._bars.value = picture_svg(
            chances_scene(data, _WIDTH), chances_alt_text(data), "Chance of each verdict"
        )

    def add_answer(self, plan: Plan, answer: Answer) -> None:
        """Show an answer to a question about a plan above those before it."""
        self._add(plan, answer_sentences(answer))

    def add_cost(self, plan: Plan, cost: SampleCost) -> None:
        """Show what a coarser balance costs."""
        self._add(plan, sample_cost_sentence(cost.fine, cost.coarse, cost.fine_g, cost.coarse_g))

    def _add(self, plan: Plan, words: str) -> None:
        asked = f"Asked of: {setting_sentence(plan)}"
        item = f"<li>{html.escape(words)}<br><small>{html.escape(asked)}</small></li>"
        self._said = [item, *(said for said in self._said if said != item)][:_MOST_ANSWERS]
        self.answers.value = f"<ul>{''.join(self._said)}</ul>"

    def show_map(
        self, found: DesignMap, plan: Plan, marked_g: tuple[float, ...], step_g: float
    ) -> None:
        """Show the map and the curves of the balances at hand."""
        planned = (plan.consumed_mass_g, step_g)
        data = design_data(found, plan.experiment, marked_g=marked_g, planned=planned)
        self._words.value = f"<p>{html.escape(data.words)}</p>"
        title = "Chance of a right conclusion over masses and balances"
        self._map.value = picture_svg(map_scene(data, _WIDTH, _MAP), map_alt_text(data), title)
        self._curves.value = picture_svg(
            curves_scene(data, _WIDTH, _CURVES), curves_alt_text(data), title
        )
