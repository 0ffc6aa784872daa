"""The panel “What the balance can tell”: a thin skin over a :class:`BalanceState`."""

from __future__ import annotations

import operator
from typing import Any

import ipywidgets

from ... import experiments
from ...experiments.record import Experiment
from ...plots.labs import LabsPicture
from ...plots.render import svg
from ...text.html import escaped
from ..kit.controls import Choice, LiveText, Panel, Slider, columns, guarded, heading
from ..kit.work import Rest, Work
from ..state.balance import READABILITIES_G, BalanceState, Row, truths_of
from .chooser import ANY_FILE, ready_choice
from .html import about_html, comparison_html

_PAUSE_S = 0.2
"""Exact chances are worked out when the controls have rested for so long."""
_REPEATABILITIES = tuple(i / 20 for i in range(61))


class BalancePanel(Panel):
    """See the same true masses through balances of different readability."""

    def __init__(self, state: BalanceState, *, chooser: bool = True) -> None:
        self.state = state
        self.sentence = LiveText(look="stoichkit-verdict")
        self.status = LiveText(look="stoichkit-status")
        self.picture = ipywidgets.HTML(layout={"width": "100%"})
        self.table = ipywidgets.HTML(layout={"width": "100%"})
        self._about, self._setting = ipywidgets.HTML(), ipywidgets.HTML()
        self._work = Work()
        self._filling = False
        self._choice = ready_choice() if chooser else None
        self._make_controls()
        controls = ipywidgets.VBox(
            [
                heading("Experiment"),
                *([] if self._choice is None else [self._choice]),
                self._about,
                heading("The lab"),
                self._truth,
                self.readability,
                self.repeatability,
                self.amount,
                self.trials,
                ipywidgets.HTML(
                    '<p class="stoichkit-note">Arrow keys move a slider; any number in its range '
                    "can be typed beside it. Each amount is met to within 10 %.</p>"
                ),
            ]
        )
        shown = ipywidgets.VBox(
            [heading("What such labs can tell"), self.sentence, self._setting, self.picture]
        )
        below = ipywidgets.VBox([self.table, self.status])
        super().__init__(
            "What the balance can tell", lambda: state.base.title, columns(controls, shown), below
        )
        self.rest = Rest(
            guarded(self.message, self._follow, clear=False), operator.or_, self._pause
        )
        self._stops += [self._work.stop, state.subscribe(self.rest)]
        guarded(self.message, self._follow)(True)

    def _make_controls(self) -> None:
        state = self.state
        self._truth = Choice("The candidate that is true", [(state.truth, state.truth)])
        if self._choice is not None:
            self._choice.observe(guarded(self.message, self._open), names="value")
        self._truth.observe(guarded(self.message, self._choose), names="value")
        self.readability = Slider(
            "Readability of the balance",
            READABILITIES_G,
            state.readability_g,
            state.set_readability,
            unit="g",
            on_leave=state.history.settle,
        )
        self.repeatability = Slider(
            "Repeatability of the balance, in display steps",
            _REPEATABILITIES,
            state.repeatability_steps,
            state.set_repeatability,
            unit="steps",
            on_leave=state.history.settle,
        )
        self.amount = Slider(
            state.amount_label,
            state.stops,
            state.amount,
            state.set_amount,
            unit=state.amount_unit,
            on_leave=state.history.settle,
        )
        self.trials = Slider(
            "Trials in each lab",
            range(1, 17),
            state.trials,
            state.set_trials,
            whole=True,
            on_leave=state.history.settle,
        )

    def _open(self, change: Any) -> None:
        if change["new"] != ANY_FILE and not self._filling:
            self.state.load(change["new"])

    def _choose(self, change: Any) -> None:
        if change["new"] and not self._filling:
            self.state.set_truth(change["new"])

    def _follow(self, loaded: bool) -> None:
        """Show the state: sentence and picture at once, exact chances when there is time."""
        if loaded:
            self._fill()
        else:
            self._show_chosen()
        self.sentence.text = self.state.sentence
        self._setting.value = f"<p>{escaped(self.state.setting)}</p>"
        self.picture.value = svg(LabsPicture.of(self.state.labs))
        self.status.text = "The table is being worked out …"
        self._work.start(
            self.state.comparison,
            done=guarded(self.message, self._compare),
            failed=guarded(self.message, self._fail),
            progress=self._progress,
            delay_s=_PAUSE_S,
        )

    def _pause(self) -> bool | None:
        """Stop what is worked out unasked; False has it worked out again."""
        running = self._work.running
        self._work.stop()
        return False if running else None

    def _show_chosen(self) -> None:
        """Show what was chosen elsewhere, as after undo."""
        state = self.state
        self._filling = True
        try:
            self._truth.value = state.truth
        finally:
            self._filling = False
        self.readability.show(state.readability_g)
        self.repeatability.show(state.repeatability_steps)
        self.amount.show(state.amount)
        self.trials.show(state.trials)

    def _compare(self, rows: tuple[Row, ...]) -> None:
        self.table.value = comparison_html(rows, self.state.truth)
        self.status.text = "The table is that of the settings above."

    def _progress(self, words: str) -> None:
        self.status.text = words

    def _fail(self, error: Exception) -> None:
        self.status.text = f"The table could not be worked out; it may be older. {error}"
        raise error

    def _fill(self) -> None:
        """Fill the controls anew with another experiment."""
        state = self.state
        self._filling = True
        try:
            if self._choice is not None:
                known = state.name in experiments.names()
                self._choice.value = state.name if known else ANY_FILE
            self._truth.offer([(name, name) for name in truths_of(state.base)], state.truth)
        finally:
            self._filling = False
        self._about.value = about_html(state.base)
        self.readability.set_stops(READABILITIES_G, state.readability_g)
        self.repeatability.set_stops(_REPEATABILITIES, state.repeatability_steps)
        self.amount.set_stops(
            state.stops, state.amount, label=state.amount_label, unit=state.amount_unit
        )
        self.trials.set_stops(range(1, 17), state.trials)
        self.table.value = ""


def balance_panel(experiment_or_name: Experiment | str = "copper-silver") -> BalancePanel:
    """Return the panel “What the balance can tell” for a notebook.

    What is given and refused is as for :func:`readings_panel`; ``close()`` closes all of it.

    Examples
    --------
    >>> panel = balance_panel("copper-silver-coarse")
    >>> panel.state.readability_g
    0.1
    >>> panel.close()
    """
    return BalancePanel(BalanceState(experiment_or_name))
