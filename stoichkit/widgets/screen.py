"""The screens in a notebook: one widget over the states, and what a saved notebook shows.

The page (``page/``, bundled into ``static/``) draws what :class:`.view.frame.Frame` sends and sends
back what is done; nothing else travels.
"""

from __future__ import annotations

import base64
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import anywidget
import traitlets

from ..decision.statement import verdict_sentences
from ..experiments.record import Experiment
from ..plots.decision import DecisionPicture
from ..plots.render import svg
from ..reports.sections import candidate_table
from ..text.html import escaped, html_part
from .kit.work import TURN, Later
from .state.lab import LabState
from .view.frame import Frame, Region, Screen, new_name
from .view.head import Head
from .view.readings import ReadingsScreen

STATIC = Path(__file__).parent / "static"
_STILL_S = 1.0


class LabScreen(anywidget.AnyWidget):
    """Screens of one lab in a notebook.

    Attributes
    ----------
    experiment : Experiment
        The record that the answer is of; can be observed.
    evidence : Evidence or None
    verdict : Verdict or None
    lab : LabState
        What all screens share.
    """

    _esm = STATIC / "page.js"
    _css = STATIC / "page.css"
    key = traitlets.Unicode("").tag(sync=True)
    experiment = traitlets.Any(None, allow_none=True)
    evidence = traitlets.Any(None, allow_none=True)
    verdict = traitlets.Any(None, allow_none=True)

    def __init__(self, lab: LabState, make: Callable[[LabState], tuple[Sequence[Any], Any]],
                 *, still: bool = True) -> None:  # fmt: skip
        super().__init__(key=new_name())
        self.lab = lab
        screens, head = make(lab)
        self.frame = Frame(
            screens,
            head=head.region if head is not None else None,
            send=self._send_answer,
            after=self._after,
            left=lab.history.settle,
        )
        for one in (*screens, head):
            if one is not None:
                one.frame = self.frame
        self._still: Any = None
        self._wants_still = still
        self._draw_still = Later(_STILL_S)
        self._stop = lab.subscribe(self._told)
        self._mine = False
        self.on_msg(self._received)
        self._share()

    # Messages

    def _send_answer(self, answer: dict[str, Any]) -> None:
        self.send(answer)

    def _received(self, _: Any, content: Any, buffers: Any) -> None:
        del buffers
        self.frame.act(content)

    def _after(self) -> None:
        self._mine = True
        try:
            self.lab.tell()
        finally:
            self._mine = False

    def _told(self, _: None) -> None:
        self._share()
        self._draw_still(self._renew_still)
        if not self._mine:
            self.frame.changed()

    def _share(self) -> None:
        outcome = self.lab.outcome
        if self.evidence is not outcome.evidence:
            self.experiment, self.evidence = outcome.experiment, outcome.evidence
            self.verdict = self.lab.verdict

    # What a saved notebook shows

    def _repr_mimebundle_(self, **more: Any) -> Any:
        bundle = super()._repr_mimebundle_(**more)
        data = bundle[0] if isinstance(bundle, tuple) else bundle
        if data is not None:
            data["text/plain"] = self.words
        return bundle

    @property
    def words(self) -> str:
        """The answer as plain text."""
        if self.lab.evidence is None:
            return "There is no verdict yet."
        title = self.lab.experiment.title
        return f"{title}: {verdict_sentences(self.lab.evidence)}"

    def _ipython_display_(self) -> None:
        _show(self._repr_mimebundle_()[0], raw=True)
        if self._wants_still:
            self._still = _show(_html(self.still_html()), display_id=True)

    def still_html(self) -> str:
        """Return the answer as HTML that needs neither scripts nor a kernel."""
        inside = "<p>There is no verdict yet.</p>"
        evidence = self.lab.evidence
        if evidence is not None:
            picture = DecisionPicture.of(evidence, cells=True)
            drawn = base64.b64encode(svg(picture).encode()).decode()
            inside = (
                f"<p><strong>{escaped(verdict_sentences(evidence))}</strong></p>"
                f"{html_part(candidate_table(evidence))}"
                f'<img src="data:image/svg+xml;base64,{drawn}" alt="{escaped(picture.alt_text)}" '
                'style="max-width:100%;background:#fff">'
            )
        title = escaped(self.lab.experiment.title)
        return (
            f'<div data-stoichkit-still="{escaped(self.key)}"><h3>{title}</h3>{inside}'
            "<p><em>This is how the screen stood. To go on, run the cell above again: what was "
            "typed comes back.</em></p></div>"
        )

    def _renew_still(self) -> None:
        if self._still is not None:
            with TURN:
                self._still.update(_html(self.still_html()))

    def close(self) -> None:
        """End the widget; what was typed is written."""
        self._stop()
        self._draw_still.stop()
        self.frame.close()
        super().close()


def _show(*things: Any, **how: Any) -> Any:
    from IPython import display

    return display.display(*things, **how)


def _html(text: str) -> Any:
    from IPython import display

    return display.HTML(text)


def lab_screen(source: Experiment | str = "copper-silver", **more: Any) -> LabScreen:
    """Return the screens of a lab."""

    def make(lab: LabState) -> tuple[Sequence[Screen], Head]:
        return [ReadingsScreen(lab)], Head(lab)

    return LabScreen(LabState(source, **more), make)


__all__ = ["LabScreen", "Region", "lab_screen"]
