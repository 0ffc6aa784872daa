"""Panel “plan”.

What a plan comes to, as the panel “Plan a lab” shows it: chances, answers, map.

The panel “Plan a lab”: a thin skin over a :class:`PlanState`.

The same plans as pages that read well without a kernel, for below the panels.
"""

from __future__ import annotations

import operator
from collections.abc import Callable, Iterable
from functools import partial
from typing import Any

import ipywidgets

from ... import experiments
from ...errors import ExperimentError
from ...experiments.record import Experiment
from ...planning.design import DesignMap
from ...planning.plan import OperatingCharacteristic, Plan
from ...planning.questions import Answer
from ...planning.sentences import (
    answer_sentences,
    chances_table,
    hardest_sentence,
    meaning_sentence,
    sample_cost_sentence,
    setting_sentence,
    single_answer_sentence,
    step_text,
    wrong_sentence,
)
from ...planning.simulation import simulate_labs
from ...plots.labs import LabsPicture
from ...plots.planning import ChancesPicture, CurvesPicture, MapPicture
from ...plots.render import svg
from ...text.html import escaped, html_list, html_part
from ..kit.controls import Field, LiveText, Panel, columns, guarded, halves, heading, row
from ..kit.work import Report, Rest, Work
from ..state.balance import LABS, BalanceState
from ..state.plan import FIELDS, QUESTIONS, Figures, PlanState, SampleCost
from .chooser import ANY_FILE, ready_choice
from .html import (
    about_html,
    bench_html,
    cautions_html,
    comparison_html,
    instruments_html,
    picture_img,
)

_MOST_ANSWERS = 12


class PlanResults:
    """Chances, answers and map of a plan."""

    def __init__(self) -> None:
        self.verdict = LiveText(look="stoichkit-verdict")
        self.status = LiveText(look="stoichkit-status")
        self.answers = ipywidgets.HTML(layout={"width": "100%"})
        self._table, self._bars = ipywidgets.HTML(), ipywidgets.HTML()
        self._map, self._curves = ipywidgets.HTML(), ipywidgets.HTML()
        self._words = ipywidgets.HTML()
        pictures = columns(self._map, self._curves)
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
        self.status.text = " ".join(
            (
                f"Up to date: {setting_sentence(found.plan)}",
                wrong_sentence(found),
                single_answer_sentence(found),
            )
        )
        low, high = found.plan.experiment.recovery
        average = found.average if low < high else None
        self._table.value = html_part(chances_table(found.chances.items(), target, average=average))
        self._bars.value = svg(ChancesPicture.of(found.chances.items(), target))

    def add_answer(self, plan: Plan, answer: Answer) -> None:
        """Show an answer to a question about a plan above those before it."""
        self._add(plan, answer_sentences(answer))

    def add_cost(self, plan: Plan, cost: SampleCost) -> None:
        """Show what a coarser balance costs."""
        self._add(plan, sample_cost_sentence(cost.fine, cost.coarse, cost.fine_g, cost.coarse_g))

    def _add(self, plan: Plan, words: str) -> None:
        asked = f"Asked of: {setting_sentence(plan)}"
        item = f"<li>{escaped(words)}<br><small>{escaped(asked)}</small></li>"
        self._said = [item, *(said for said in self._said if said != item)][:_MOST_ANSWERS]
        self.answers.value = f"<ul>{''.join(self._said)}</ul>"

    def show_map(
        self, found: DesignMap, plan: Plan, marked_g: tuple[float, ...], step_g: float
    ) -> None:
        """Show the map and the curves of the balances at hand."""
        planned = (plan.consumed_mass_g, step_g)
        title = "Chance of a right conclusion over masses and balances"
        area = MapPicture.of(found, plan.experiment, marked_g=marked_g, planned=planned)
        curves = CurvesPicture.of(found, plan.experiment, marked_g=marked_g, planned=planned)
        self._words.value = f"<p>{escaped(area.words)}</p>"
        self._map.value = svg(area, title=title)
        self._curves.value = svg(curves, title=title)


_PAUSE_S = 0.4
"""Chances are worked out when typing has rested for so long."""
_NOTES = {
    "spread": "10 %, or 0 for exactly this amount",
    "target": "0.9 or 90 %",
    "repeatability": "empty: half the readability is assumed; 0: digits only",
    "recovery_low": "1: nothing is lost",
}
_GROUPS = (
    ("The lab", ("amount", "trials", "spread", "target")),
    ("Instruments and product", ("readability", "repeatability", "recovery_low", "recovery_high")),
)


class PlanPanel(Panel):
    """Plan a lab: chances, what is least enough, map, bench plan and data sheet."""

    def __init__(self, state: PlanState, *, chooser: bool = True) -> None:
        self.state = state
        self.progress = LiveText(look="stoichkit-status")
        self.results = PlanResults()
        self.fields = {name: self._field(name) for name in FIELDS}
        self._chances, self._asked = Work(), Work()
        self._found: OperatingCharacteristic | None = None
        self._shown: tuple[Plan, float] | None = None
        self._filling = False
        self._about, self._instruments = ipywidgets.HTML(), ipywidgets.HTML()
        self._cautions = ipywidgets.HTML()
        self._bench = ipywidgets.HTML(layout={"width": "100%"})
        self._saved = LiveText()
        self._choice = ready_choice() if chooser else None
        self._make_controls()
        left = ipywidgets.VBox(
            [
                heading("Experiment"),
                *([] if self._choice is None else [self._choice]),
                self._about,
                *self._entry(),
                self._instruments,
            ]
        )
        parts = [columns(left, self.results.box), *self._asking(), *self._keeping()]
        super().__init__("Plan a lab", lambda: self.state.base.title, *parts)
        self.rest = Rest(
            guarded(self.message, self._follow, clear=False), operator.or_, self._pause
        )
        self._stops += [self._chances.stop, self._asked.stop, state.subscribe(self.rest)]
        guarded(self.message, self._follow)(True)

    # Controls

    def _field(self, name: str) -> Field:
        return Field(
            self.state.label(name),
            self.state.texts[name],
            partial(self._typed, name),
            self.message,
            note=_NOTES.get(name, ""),
            on_leave=self.state.history.settle,
        )

    def _make_controls(self) -> None:
        if self._choice is not None:
            self._choice.observe(guarded(self.message, self._open), names="value")
        self._plan_path = Field("Save the bench plan as", "", self._forget_saved, self.message,
                                note="ends in .html (to print) or .md")  # fmt: skip
        self._sheet_path = Field("Save the blank data sheet as", "", self._forget_saved,
                                 self.message, note="ends in .csv or .xlsx")  # fmt: skip
        self._replace = ipywidgets.Checkbox(
            description="Files of these names may be replaced", indent=False
        )

    def _entry(self) -> list[ipywidgets.Widget]:
        parts = []
        for title, names in _GROUPS:
            pairs = [halves(*(self.fields[n].box for n in names[i : i + 2])) for i in (0, 2)]
            parts += [heading(title), *pairs]
        return parts

    def _asking(self) -> list[ipywidgets.Widget]:
        buttons = [
            self._button(f"Find the {words}", partial(self._ask, question))
            for question, words in QUESTIONS.items()
        ]
        return [
            heading("What would be enough?"),
            ipywidgets.HTML(
                '<p class="stoichkit-note">Each question changes one figure and keeps the others '
                "as typed above. It may take a while, and can be stopped.</p>"
            ),
            row(
                *buttons,
                self._button("What a coarser balance costs", self._ask_cost),
                self._button("Draw the map", self._ask_map),
                self._button("Stop", self._stop_asking),
            ),
            self.progress,
            self.results.answers,
            self.results.maps,
        ]

    def _keeping(self) -> list[ipywidgets.Widget]:
        return [
            heading("Cautions"),
            self._cautions,
            heading("Bench plan and data sheet"),
            halves(self.fields["groups"].box, self.fields["excess"].box),
            row(self._button("Show the bench plan", self._show_bench)),
            halves(self._plan_path.box, self._sheet_path.box),
            self._replace,
            row(
                self._button("Save the bench plan", partial(self._save, "plan")),
                self._button("Save the data sheet", partial(self._save, "sheet")),
            ),
            self._saved,
            self._bench,
        ]

    # What the controls do

    def _typed(self, name: str, text: str) -> None:
        if not self._filling:
            self.state.set(name, text)

    def _open(self, change: Any) -> None:
        if change["new"] != ANY_FILE and not self._filling:
            self.state.load(change["new"])

    def _ask(self, question: str) -> None:
        show = partial(self.results.add_answer, self.state.figures.plan)
        self._begin(partial(self.state.answer, question), show)

    def _ask_cost(self) -> None:
        show = partial(self.results.add_cost, self.state.figures.plan)
        self._begin(self.state.sample_cost, show)

    def _ask_map(self) -> None:
        plan, marked, step = self.state.figures.plan, self.state.marked_g, self.state.balance_g
        self._begin(
            self.state.design, lambda found: self.results.show_map(found, plan, marked, step)
        )

    def _begin(self, task: Callable[[Report], Any], show: Callable[[Any], object]) -> None:
        """Start a long task; only one runs at a time."""
        if self.state.refusals:
            raise ExperimentError(
                "Nothing is worked out while a figure is not used.",
                fix="Correct the fields marked as not used.",
            )

        def done(result: Any) -> None:
            show(result)
            self.progress.text = "Done."

        self.progress.text = "Working …"
        self._asked.start(
            task,
            done=guarded(self.message, done),
            failed=guarded(self.message, self._failed),
            progress=self._say,
        )

    def _say(self, words: str) -> None:
        self.progress.text = words

    def _failed(self, error: Exception) -> None:
        self.progress.text = f"There is no answer. {error}"
        raise error

    def _stop_asking(self) -> None:
        running = self._asked.running
        self._asked.stop()
        self.progress.text = "Stopped." if running else "Nothing is being worked out."

    def _show_bench(self) -> None:
        self._bench.value = bench_html(self.state.bench(self._found))

    def _forget_saved(self, _: str) -> None:
        self._saved.text = ""

    def _save(self, kind: str) -> None:
        self._saved.text = ""
        path = (self._plan_path if kind == "plan" else self._sheet_path).input.value
        written = self.state.save(kind, path, found=self._found, replace=self._replace.value)
        self._saved.text = f"Saved: {written}"

    # What follows from a change of the state

    def _follow(self, loaded: bool) -> None:
        """Show the state: refusals at once, chances as soon as they are worked out."""
        state = self.state
        if loaded:
            self._fill()
        for name, field in self.fields.items():
            field.show(state.texts[name])
            field.refuse(state.refusals.get(name))
        if state.refusals:
            name, refusal = next(iter(state.refusals.items()))
            self._chances.stop()
            self._shown = None if self._found is None else self._shown
            self.results.verdict.look = "stoichkit-verdict stoichkit-stale"
            self.results.status.text = f"Not updated: {state.label(name)}. {refusal}"
            return
        self._instruments.value = instruments_html(state.figures.plan.experiment)
        self._bench.value = ""
        self._saved.text = ""
        figures = state.figures
        if not loaded and self._shown == (figures.plan, figures.target):
            self._say_up_to_date()
            return
        self._shown = (figures.plan, figures.target)
        self._found = None
        if self._asked.running:
            self._asked.stop()
            self.progress.text = "Stopped, because the plan has changed."
        self.results.wait(state.figures)
        self._chances.start(
            state.characteristic,
            done=guarded(self.message, self._show_chances),
            failed=guarded(self.message, self._no_chances),
            progress=self._say_chances,
            delay_s=_PAUSE_S,
        )

    def _pause(self) -> bool | None:
        """Stop what is worked out unasked; False has it worked out again."""
        if not self._chances.running:
            return None
        self._chances.stop()
        self._shown = None
        return False

    def _say_up_to_date(self) -> None:
        """Take back a refusal after which the plan is what it was."""
        if self._found is not None:
            self._show_chances(self._found)

    def _show_chances(self, found: OperatingCharacteristic) -> None:
        self._found = found
        self.results.show_chances(found, self.state.figures.target)

    def _say_chances(self, words: str) -> None:
        self.results.status.text = words

    def _no_chances(self, error: Exception) -> None:
        self.results.status.text = f"The chances could not be worked out. {error}"
        raise error

    def _fill(self) -> None:
        """Fill every field anew with another experiment."""
        state = self.state
        self._filling = True
        try:
            if self._choice is not None:
                known = state.name in experiments.names()
                self._choice.value = state.name if known else ANY_FILE
            for name, field in self.fields.items():
                field.input.description = state.label(name)
                field.input.value = state.texts[name]
        finally:
            self._filling = False
        self._about.value = about_html(state.base)
        self._cautions.value = cautions_html(state.base)
        self._plan_path.input.value = state.suggested("plan")
        self._sheet_path.input.value = state.suggested("sheet")
        self._replace.value = False
        self.progress.text = ""
        self.results.clear()


def plan_panel(experiment_or_name: Experiment | str = "copper-silver") -> PlanPanel:
    """Return the panel “Plan a lab” for a notebook.

    What is given and refused is as for :func:`readings_panel`; ``close()`` closes all of it.

    Examples
    --------
    >>> panel = plan_panel("copper-silver")
    >>> panel.results.verdict.text[:7]
    'Enough:'
    >>> panel.close()
    """
    return PlanPanel(PlanState(experiment_or_name))


def balances_page(state: BalanceState) -> str:
    """Show the same true masses through several balances, as HTML.

    >>> balances_page(BalanceState("copper-silver")).count("<img alt=")
    3
    """
    parts = []
    for step in state.compared_g:
        labs = simulate_labs(state.plan_on(step), state.truth, labs=LABS)
        heading = f"A balance that reads to {step_text(step)}"
        parts.append(f"<h3>{heading}</h3><p>{escaped(meaning_sentence(labs))}</p>")
        parts.append(picture_img(LabsPicture.of(labs), heading))
    parts.append(comparison_html(state.comparison(), state.truth))
    parts.insert(0, f"<p>{escaped(setting_sentence(state.plan))}</p>")
    return "".join(parts)


def plan_page(state: PlanState, *, questions: Iterable[str] = ("amount", "trials")) -> str:
    """Show the chances of a plan, answers and the map, as HTML.

    >>> page = plan_page(PlanState("copper-silver"), questions=["trials"])
    >>> page.count("<img alt="), page.count("<table>")
    (3, 1)
    """
    figures = state.figures
    plan, target = figures.plan, figures.target
    found = state.characteristic()
    bars = ChancesPicture.of(found.chances.items(), target)
    said = [answer_sentences(state.answer(question)) for question in questions]
    cost = state.sample_cost()
    said.append(sample_cost_sentence(cost.fine, cost.coarse, cost.fine_g, cost.coarse_g))
    parts = [
        f"<p>{escaped(setting_sentence(plan))}</p>",
        f"<p><strong>{escaped(hardest_sentence(found, target))}</strong> "
        f"{escaped(wrong_sentence(found))} {escaped(single_answer_sentence(found))}</p>",
        html_part(chances_table(found.chances.items(), target)),
        picture_img(bars, bars.title),
        html_list(said),
    ]
    planned = (plan.consumed_mass_g, state.balance_g)
    design, marked_g = state.design(), state.marked_g
    area = MapPicture.of(design, plan.experiment, marked_g=marked_g, planned=planned)
    curves = CurvesPicture.of(design, plan.experiment, marked_g=marked_g, planned=planned)
    parts.append(f"<p>{escaped(area.words)}</p>")
    parts += [picture_img(area, "Map"), picture_img(curves, "Curves")]
    return "".join(parts)
