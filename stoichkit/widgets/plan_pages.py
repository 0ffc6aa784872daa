"""The same plans as pages that read well without a kernel, for below the panels."""

from __future__ import annotations

import html
from collections.abc import Iterable

from ..answer_sentences import answer_sentences, sample_cost_sentence
from ..plan_sentences import (
    chances_table,
    hardest_sentence,
    meaning_sentence,
    setting_sentence,
    step_text,
    wrong_sentence,
)
from ..plots.design import curves_alt_text, design_data, map_alt_text
from ..plots.design_scenes import curves_scene, map_scene
from ..plots.labs import labs_alt_text, labs_data
from ..plots.labs_scene import labs_scene
from ..plots.planning import chances_alt_text, chances_data, chances_scene
from ..simulation import simulate_labs
from .balance_state import LABS, BalanceState
from .plan_html import comparison_html, picture_img, table_html
from .plan_state import PlanState

__all__ = ["balances_page", "plan_page"]


def balances_page(state: BalanceState) -> str:
    """Show the same true masses through several balances, as HTML.

    Parameters
    ----------
    state : BalanceState

    Returns
    -------
    str
        A heading, sentence and picture for each balance, and the table.

    Examples
    --------
    >>> balances_page(BalanceState("copper-silver")).count("<img alt=")
    3
    """
    parts = []
    for step in state.compared_g:
        labs = simulate_labs(state.plan_on(step), state.truth, labs=LABS)
        data = labs_data(labs)
        heading = f"A balance that reads to {step_text(step)}"
        parts.append(f"<h3>{heading}</h3><p>{html.escape(meaning_sentence(labs))}</p>")
        parts.append(picture_img(labs_scene(data, 480.0, 390.0), labs_alt_text(data), heading))
    parts.append(comparison_html(state.comparison(), state.truth))
    parts.insert(0, f"<p>{html.escape(setting_sentence(state.plan))}</p>")
    return "".join(parts)


def plan_page(state: PlanState, *, questions: Iterable[str] = ("amount", "trials")) -> str:
    """Show the chances of a plan, answers and the map, as HTML.

    Parameters
    ----------
    state : PlanState
    questions : iterable of str
        Of ``"amount"``, ``"trials"``, ``"balance"`` and ``"recovery"``.

    Returns
    -------
    str

    Examples
    --------
    >>> page = plan_page(PlanState("copper-silver"), questions=["trials"])
    >>> page.count("<img alt="), page.count("<table>")
    (3, 1)
    """
    figures = state.figures
    plan, target = figures.plan, figures.target
    found = state.characteristic()
    bars = chances_data(found.chances.items(), target)
    said = [answer_sentences(state.answer(question)) for question in questions]
    cost = state.sample_cost()
    said.append(sample_cost_sentence(cost.fine, cost.coarse, cost.fine_g, cost.coarse_g))
    parts = [
        f"<p>{html.escape(setting_sentence(plan))}</p>",
        f"<p><strong>{html.escape(hardest_sentence(found, target))}</strong> "
        f"{html.escape(wrong_sentence(found))}</p>",
        table_html(chances_table(found.chances.items(), target), "Chance of each verdict"),
        picture_img(chances_scene(bars, 480.0), chances_alt_text(bars), "Chance of each verdict"),
        f"<ul>{''.join(f'<li>{html.escape(words)}</li>' for words in said)}</ul>",
    ]
    data = design_data(
        state.design(),
        plan.experiment,
        marked_g=state.marked_g,
        planned=(plan.consumed_mass_g, state.balance_g),
    )
    parts.append(f"<p>{html.escape(data.words)}</p>")
    parts.append(picture_img(map_scene(data, 480.0, 330.0), map_alt_text(data), "Map"))
    parts.append(picture_img(curves_scene(data, 480.0, 290.0), curves_alt_text(data), "Curves"))
    return "".join(parts)
