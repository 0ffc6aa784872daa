"""Building blocks of the panels: labelled fields with room for a refusal, spoken messages, closing.

Every control has a description, which is its accessible name; every callback passes through
:func:`guarded`, so that no error vanishes in the kernel.
"""

from __future__ import annotations

import html
import logging
from collections.abc import Callable
from importlib.resources import files
from typing import Any

import anywidget
import ipywidgets
import traitlets

from ..errors import StoichkitError
from .evaluation import Refusal

__all__ = ["Field", "LiveText", "close_tree", "guarded", "heading", "style_sheet"]

_logger = logging.getLogger(__name__)


class LiveText(anywidget.AnyWidget):
    """A line of text that screen readers announce when it changes.

    The element stays in the page and only its text changes, which an HTML pane cannot do.

    Parameters
    ----------
    text : str
        Plain text; markup in it is shown, not obeyed.
    role : str
        ``"status"`` waits for a pause, ``"alert"`` interrupts.
    look : str
        CSS class of the text.
    """

    _esm = """
    function render({ model, el }) {
      const line = document.createElement("p");
      line.setAttribute("role", model.get("role"));
      line.setAttribute("aria-live", model.get("role") === "alert" ? "assertive" : "polite");
      const show = () => {
        line.textContent = model.get("text");
        line.className = model.get("look");
        line.hidden = model.get("text") === "" && model.get("role") === "alert";
      };
      model.on("change:text", show);
      model.on("change:look", show);
      el.append(line);
      show();
      return () => { model.off("change:text", show); model.off("change:look", show); };
    }
    export default { render };
    """

    text = traitlets.Unicode("").tag(sync=True)
    role = traitlets.Unicode("status").tag(sync=True)
    look = traitlets.Unicode("").tag(sync=True)


def guarded(area: LiveText, function: Callable[..., object]) -> Callable[..., None]:
    """Return a callback that shows any error in a message area instead of losing it.

    Parameters
    ----------
    area : LiveText
        Shows the message; emptied when the call succeeds.
    function : callable
    """

    def call(*arguments: Any) -> None:
        try:
            function(*arguments)
        except StoichkitError as error:
            area.text = str(error)
        except Exception as error:
            _logger.exception("A callback of a panel failed.")
            area.text = (
                f"stoichkit failed here ({type(error).__name__}: {error}). What you typed is "
                "kept; the verdict shown may be an older one."
            )
        else:
            area.text = ""

    return call


class Field:
    """A text field with its label, and a line below it that says why a text is refused.

    Parameters
    ----------
    description : str
        Label and accessible name.
    value : str
    on_change : callable
        Called with the text after every change.
    area : LiveText
        Shows errors of the callback.
    lines : int
        0 for one line, otherwise the height of a field for several lines.
    label_hidden : bool
        Whether only screen readers get the label, because a table shows it.
    note : str
        Plain text below the field while nothing is refused.

    Attributes
    ----------
    input : ipywidgets.Text or ipywidgets.Textarea
    box : ipywidgets.VBox
        To be put into a panel.
    """

    def __init__(
        self,
        description: str,
        value: str,
        on_change: Callable[[str], object],
        area: LiveText,
        *,
        lines: int = 0,
        label_hidden: bool = False,
        note: str = "",
    ) -> None:
        kind: Any = ipywidgets.Textarea if lines else ipywidgets.Text
        self.input = kind(
            value=value,
            description=description,
            description_allow_html=False,
            continuous_update=True,
            style={"description_width": "initial"},
            layout={"width": "100%"},
        )
        if lines:
            self.input.rows = lines
        self.note = note
        self.message = ipywidgets.HTML(layout={"width": "100%"})
        self.box = ipywidgets.VBox([self.input, self.message], layout={"width": "100%"})
        self.box.add_class("stoichkit-field")
        self.box.add_class("stoichkit-cell" if label_hidden else "stoichkit-labelled")
        self.refuse(None)
        call = guarded(area, on_change)
        self.input.observe(lambda change: call(change["new"]), names="value")

    def refuse(self, refusal: Refusal | None, *, whole: bool = True) -> None:
        """Say below the field why its text is not used; None if it is.

        Parameters
        ----------
        refusal : Refusal or None
        whole : bool
            False where there is room for the first sentence only.
        """
        if refusal is None:
            text = f'<p class="stoichkit-note">{html.escape(self.note)}</p>' if self.note else ""
            self.box.remove_class("stoichkit-refused")
        else:
            words = str(refusal) if whole else refusal.problem
            text = f'<p class="stoichkit-refusal">Not used: {html.escape(words)}</p>'
            self.box.add_class("stoichkit-refused")
        if self.message.value != text:
            self.message.value = text
            self.message.layout.display = None if text else "none"


def heading(text: str) -> ipywidgets.HTML:
    """Return a heading within a panel."""
    return ipywidgets.HTML(f"<h3>{html.escape(text)}</h3>")


def close_tree(widget: ipywidgets.Widget) -> None:
    """Close a widget with all its children, layouts and styles."""
    for child in getattr(widget, "children", ()):
        close_tree(child)
    for name in ("layout", "style"):
        part = getattr(widget, name, None)
        if isinstance(part, ipywidgets.Widget):
            part.close()
    widget.unobserve_all()
    ipywidgets.Widget.close(widget)


def style_sheet() -> ipywidgets.HTML:
    """Return the look of the panels: opaque white, so that a dark page does not swallow text."""
    text = (files(__package__) / "panel.css").read_text("utf-8")
    return ipywidgets.HTML(f"<style>{text}</style>", layout={"display": "none"})
