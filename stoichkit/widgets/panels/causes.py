"""The panel “Causes”: a thin skin over a :class:`CausesState`."""

from __future__ import annotations

from functools import partial
from typing import Any

import ipywidgets

from ...decision.sentences import verdict_sentences
from ...diagnosis.sentences import causes_paragraph, drying_sentence
from ...experiments.record import Experiment
from ...plots.causes import CombinationPicture, EffectsPicture
from ...plots.render import svg
from ...text.html import escaped
from ..kit.controls import Choice, Field, LiveText, Panel, columns, guarded, halves, heading
from ..kit.work import Rest, Work
from ..state.causes import CausesChange, CausesState, Findings, find, together
from ..state.readings import ReadingsState
from .html import (
    effects_html,
    slips_html,
    spot_tests_html,
    stability_html,
    verdict_look,
    yields_html,
)

_PAUSE_S = 0.3
"""Causes are worked out when typing has rested for so long."""
_LINES = 6
_SLIPS_FIRST = (
    "Look at the slips above first: what follows is worked out from the readings as typed."
)


class CausesPanel(Panel):
    """See slips, yields, what effects would have to amount to, dryness and potentials."""

    def __init__(self, state: CausesState | ReadingsState) -> None:
        self.state = state if isinstance(state, CausesState) else CausesState(state)
        self.verdict = LiveText(look="stoichkit-verdict")
        self.status = LiveText(look="stoichkit-status")
        self.summary = LiveText(look="stoichkit-status")
        self.dry = LiveText(look="stoichkit-status")
        self._lab, self._slips, self._yields = (ipywidgets.HTML() for _ in range(3))
        self._bars, self._plane = ipywidgets.HTML(), ipywidgets.HTML()
        self._effects = ipywidgets.HTML(layout={"width": "100%"})
        self._effects.add_class("stoichkit-effects")
        self._pairs, self._odd = ipywidgets.HTML(), ipywidgets.HTML()
        self._redox, self._tests = ipywidgets.HTML(), ipywidgets.HTML()
        self._work = Work()
        self._found: Findings | None = None
        self._filling = False
        self._make_controls()
        parts = [self._lab, self.verdict, self.status, *self._sections()]
        super().__init__("Causes", lambda: self.state.readings.form.title, *parts)
        self.rest: Rest[CausesChange] = Rest(self._follow, together)
        self._stops += [self._work.stop, self.state.subscribe(self.rest)]
        if not isinstance(state, CausesState):
            self._stops.append(self.state.stop)
        guarded(self.message, self._follow)(CausesChange.LOADED)

    # Controls

    def _make_controls(self) -> None:
        state = self.state
        self.candidate = self._pick("Candidate", self._choose)
        self.effect_a = self._pick("First effect", self._combine)
        self.effect_b = self._pick("Second effect", self._combine)
        self.balance = self._pick("Balance they were made on", self._weigh_on)
        self.residue = Field(
            "Salt that poor washing would leave",
            "",
            self._unless_filling(state.set_residue),
            self.message,
            note="a formula such as AgNO3; may stay empty",
            on_leave=state.readings.history.settle,
        )
        self.weighings = Field(
            "Weighings while drying: min and g, one a line",
            "",
            self._unless_filling(state.set_weighings),
            self.message,
            lines=_LINES,
            note="such as 10 1.571; time spent drying, weighed when cold",
            on_leave=state.readings.history.settle,
        )

    def _pick(self, words: str, call: Any) -> Choice:
        pick = Choice(words, [])
        pick.observe(guarded(self.message, self._unless_filling(call)), names="value")
        return pick

    def _unless_filling(self, call: Any) -> Any:
        def answer(change: Any) -> None:
            if not self._filling:
                call(change)

        return answer

    def _sections(self) -> list[ipywidgets.Widget]:
        aside = ipywidgets.VBox(
            [
                heading("Is the candidate stable?"),
                ipywidgets.HTML(
                    "<p>This is independent of the readings: it stands beside the verdict and is "
                    "not part of it.</p>"
                ),
                self._redox,
                heading("Spot tests that would confirm it"),
                self._tests,
            ]
        )
        aside.add_class("stoichkit-aside")
        return [
            heading("Slips: readings that cannot be right as typed"),
            self._slips,
            heading("Yield"),
            self._yields,
            heading("Effects: what each would have to amount to"),
            halves([self.candidate], [self.residue.box]),
            self.summary,
            columns(self._bars, ipywidgets.VBox([self.effect_a, self.effect_b, self._plane])),
            self._pairs,
            self._effects,
            heading("Drying to constant mass"),
            halves([self.weighings.box], [self.balance, self.dry, self._odd]),
            aside,
        ]

    # What the controls do

    def _choose(self, change: Any) -> None:
        self.state.choose(change["new"])

    def _combine(self, change: Any) -> None:
        a, b = self.effect_a.value, self.effect_b.value
        if a == b:  # the other one gives way
            a, b = (a, change["old"]) if change["owner"] is self.effect_a else (change["old"], b)
        self.state.combine(a, b)

    def _weigh_on(self, change: Any) -> None:
        self.state.set_balance(change["new"])

    # What follows from a change

    def _follow(self, change: CausesChange) -> None:
        """Show the state: refusals and drying at once, causes as soon as they are worked out."""
        if change is CausesChange.LOADED:
            self._fill()
        if change is CausesChange.DRYING:
            self._show_drying()
            return
        self.residue.refuse(self.state.residue_refusal)
        if change is not CausesChange.CHOICE:
            self._show_drying()
            self._show_verdict()
        question = self.state.question
        if question is None:
            self._work.stop()
            self._clear()
            self.status.text = "Type readings first: causes follow from them."
            return
        known = self._found
        if known is not None and known.answers(question):
            self._say_up_to_date()
            return
        self.status.text = "Being worked out …"
        self._work.start(
            partial(find, question, known=known),
            done=guarded(self.message, self._show),
            failed=guarded(self.message, self._fail),
            progress=self._say,
            delay_s=_PAUSE_S if change is CausesChange.READINGS else 0.0,
        )

    def _say(self, words: str) -> None:
        self.status.text = words

    def _fail(self, error: Exception) -> None:
        self.status.text = f"The causes could not be worked out; those shown are older. {error}"
        raise error

    def _say_up_to_date(self) -> None:
        state = self.state
        if state.verdict_current:
            self.status.text = "Up to date."
            return
        place, refusal = next(iter(state.readings.outcome.refusals.items()))
        self.status.text = (
            f"Not updated: {state.readings.describe(place)}. {refusal} What is shown is from "
            "before that."
        )

    def _show_verdict(self) -> None:
        state = self.state
        evidence = state.evidence
        self.verdict.look = verdict_look(evidence, current=state.verdict_current)
        self.verdict.text = (
            "There is no verdict yet." if evidence is None else verdict_sentences(evidence)
        )
        record = state.experiment
        words = " The readings are invented." if record.invented else ""
        self._lab.value = f"<p><strong>{escaped(record.title)}</strong>.{words}</p>"

    def _show(self, found: Findings) -> None:
        """Show what was found."""
        self._found = found
        question = found.question
        self._options(found)
        self._slips.value = slips_html(found.slips, question.evidence)
        self._yields.value = yields_html(found.yields, question.evidence)
        first = f"{_SLIPS_FIRST} " if found.slips else ""
        self.summary.text = f"{first}{causes_paragraph(found.causes)}"
        self._show_effects(found)
        self._redox.value = stability_html(found.redox)
        self._tests.value = spot_tests_html(found.tests)
        self._say_up_to_date()

    def _show_effects(self, found: Findings) -> None:
        self._effects.value = effects_html(found.causes)
        if found.causes:
            bars = EffectsPicture.of(found.causes)
            self._bars.value = svg(bars, title=f"Effects on {bars.candidate}")
        else:
            self._bars.value = ""
        if found.combination is None:
            self._plane.value = ""
            self._pairs.value = "<p>Two effects cannot be combined in this kind of lab.</p>"
            return
        pair = CombinationPicture.of(found.combination)
        title = f"Two effects together on {pair.candidate}"
        self._plane.value = svg(pair, title=title)
        self._pairs.value = f"<p>Two effects together: {escaped(pair.words)}</p>"

    def _clear(self) -> None:
        """Show nothing of what was found."""
        self._found = None
        for pane in (
            self._slips,
            self._yields,
            self._bars,
            self._plane,
            self._effects,
            self._pairs,
            self._redox,
            self._tests,
        ):
            pane.value = ""
        self.summary.text = ""

    def _show_drying(self) -> None:
        outcome = self.state.drying
        self.weighings.refuse(outcome.refusal)
        found = outcome.found
        self.dry.text = "" if found is None else drying_sentence(found)
        self._odd.value = "".join(f"<p>{escaped(one)}</p>" for one in outcome.questions)

    # Filling

    def _fill(self) -> None:
        """Fill every field anew with another lab."""
        state, choices = self.state, self.state.choices
        self._clear()
        self._filling = True
        try:
            self.residue.show(choices.residue)
            self.weighings.show(choices.weighings)
            self.candidate.offer([(name, name) for name in state.candidates], state.candidate)
            self.balance.offer([(name, name) for name in state.balances], state.balance)
        finally:
            self._filling = False

    def _options(self, found: Findings) -> None:
        """Offer what can be chosen for what was found."""
        question = found.question
        effects = [(cause.effect.name, cause.effect.key) for cause in found.causes]
        names = [(name, name) for name in question.evidence.candidates]
        self._filling = True
        try:
            self.candidate.offer(names, question.candidate)
            for pick, key in zip((self.effect_a, self.effect_b), question.pair, strict=True):
                pick.offer(effects, key)
        finally:
            self._filling = False


def causes_panel(
    experiment_or_state: Experiment | ReadingsState | str = "copper-silver",
) -> CausesPanel:
    """Return the panel “Causes” for a notebook.

    What is given and refused is as for :func:`readings_panel`; ``close()`` closes all of it.

    Examples
    --------
    >>> panel = causes_panel("copper-silver")
    >>> panel.summary.text[:42]
    'copper(I) does not fit as the readings sta'
    >>> panel.close()
    """
    if isinstance(experiment_or_state, ReadingsState):
        return CausesPanel(experiment_or_state)
    return CausesPanel(ReadingsState(experiment_or_state))
