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
from .courier import COURIER, Couriered
from .evaluation import Refusal
from .turns import TURN

__all__ = [
    "Field",
    "LiveText",
    "TextField",
    "close_tree",
    "guarded",
    "heading",
    "style_sheet",
]

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
      const seek = () => {
        const typing = document.activeElement?.matches("input[type=text], textarea");
        if (!line.hidden && !typing) line.scrollIntoView({ block: "nearest" });
      };
      const changed = () => {
        show();
        if (model.get("role") === "alert") requestAnimationFrame(seek);
      };
      model.on("change:text", changed);
      model.on("change:look", show);
      el.append(line);
      show();
      return () => { model.off("change:text", changed); model.off("change:look", show); };
    }
    export default { render };
    """

    text = traitlets.Unicode("").tag(sync=True)
    role = traitlets.Unicode("status").tag(sync=True)
    look = traitlets.Unicode("").tag(sync=True)


def guarded(
    area: LiveText, function: Callable[..., object], *, clear: bool = True
) -> Callable[..., None]:
    """Return a callback that shows any error in a message area instead of losing it.

    Callbacks take turns, whichever thread they are called in.

    Parameters
    ----------
    area : LiveText
        Shows the message.
    function : callable
    clear : bool
        Whether the area is emptied when the call succeeds.
    """

    def call(*arguments: Any) -> None:
        with TURN:
            answer(*arguments)

    def answer(*arguments: Any) -> None:
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
            if clear:
                area.text = ""

    return call


class TextField(Couriered):
    """A labelled text field with a line below it for a note or for why the text is refused.

    Each keystroke is sent, but only the newest text while the kernel is busy. A button pressed
    next waits until the text has arrived, so that none acts on an older text.

    Parameters
    ----------
    description : str
        Label and accessible name.
    value : str
    rows : int
        0 for one line, otherwise the height of a field for several lines.
    label_hidden : bool
        Whether only screen readers get the label.
    below : str
        Plain text below the field.
    refused : bool
        Whether that says why the text is not used.
    on_leave : callable, optional
        Called when the focus has left the field after something was typed.
    """

    _esm = (
        COURIER
        + """
    function render({ model, el }) {
      const number = Math.random().toString(36).slice(2);
      const several = model.get("rows") > 0;
      const label = document.createElement("label");
      const field = document.createElement(several ? "textarea" : "input");
      const below = document.createElement("p");
      if (!several) field.type = "text";
      field.id = `stoichkit-text-${number}`;
      label.htmlFor = field.id;
      below.id = `stoichkit-below-${number}`;
      field.autocomplete = "off";
      field.spellcheck = false;
      el.classList.add("stoichkit-field");
      el.append(label, field, below);
      const messages = courier(model);
      let touched = false;
      const show = () => {
        label.textContent = model.get("description");
        el.classList.toggle("stoichkit-cell", model.get("label_hidden"));
        el.classList.toggle("stoichkit-labelled", !model.get("label_hidden"));
        if (several) field.rows = model.get("rows");
      };
      const fill = () => {
        if (messages.stale()) model.set("value", field.value);
        else if (field.value !== model.get("value")) field.value = model.get("value");
      };
      const tell = () => {
        const text = model.get("below"), refused = model.get("refused");
        below.textContent = text;
        below.hidden = text === "";
        below.className = refused ? "stoichkit-refusal" : "stoichkit-note";
        el.classList.toggle("stoichkit-refused", refused);
        field.setAttribute("aria-invalid", String(refused));
        if (text) field.setAttribute("aria-describedby", below.id);
        else field.removeAttribute("aria-describedby");
      };
      field.addEventListener("input", () => {
        touched = true;
        model.set("value", field.value);
        messages.put({ typed: field.value });
      });
      const leave = () => {
        if (touched) messages.end({ typed: field.value, left: true });
        touched = false;
      };
      field.addEventListener("change", leave);
      field.addEventListener("blur", leave);
      field.addEventListener("keydown", (event) => event.stopPropagation());
      const events = [
        ["change:description", show], ["change:label_hidden", show], ["change:rows", show],
        ["change:value", fill], ["change:below", tell], ["change:refused", tell],
      ];
      for (const [name, call] of events) model.on(name, call);
      show(); fill(); tell();
      return () => {
        messages.stop();
        for (const [name, call] of events) model.off(name, call);
      };
    }
    export default { render };
    """
    )

    description = traitlets.Unicode("").tag(sync=True)
    value = traitlets.Unicode("").tag(sync=True, echo_update=False)
    """Not sent back: an echo of a moment ago would replace what is typed now."""
    rows = traitlets.Int(0).tag(sync=True)
    label_hidden = traitlets.Bool(False).tag(sync=True)
    below = traitlets.Unicode("").tag(sync=True)
    refused = traitlets.Bool(False).tag(sync=True)

    def __init__(self, *, on_leave: Callable[[], object] | None = None, **values: Any) -> None:
        self._on_leave = on_leave
        super().__init__(layout={"width": "100%"}, **values)

    def _take_message(self, content: dict[str, Any]) -> None:
        """Take what is typed; the focus may have left the field."""
        typed = content.get("typed")
        if not isinstance(typed, str):
            return
        if typed != self.value:
            self.set_state({"value": typed})  # not sent back
        if content.get("left") and self._on_leave is not None:
            self._on_leave()


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
    on_leave : callable, optional
        Called when the focus has left the field after something was typed.

    Attributes
    ----------
    input, box : TextField
        The field, to be put into a panel.

    Examples
    --------
    >>> heard = []
    >>> field = Field("mass, g", "1.2", heard.append, LiveText(role="alert"))
    >>> field.input.value = "1.25"
    >>> field.refuse(Refusal("The mass is odd."))
    >>> heard, field.input.below
    (['1.25'], 'Not used: The mass is odd.')
    >>> field.box.close()
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
        on_leave: Callable[[], object] | None = None,
    ) -> None:
        self.note = note
        self.input = self.box = TextField(
            value=value,
            description=description,
            rows=lines,
            label_hidden=label_hidden,
            on_leave=on_leave,
        )
        self.refuse(None)
        call = guarded(area, on_change)
        self.input.observe(lambda change: call(change["new"]), names="value")

    def show(self, text: str) -> None:
        """Show a text that was not typed here; the callback is called if it is another one."""
        if self.input.value != text:
            self.input.value = text

    def refuse(self, refusal: Refusal | None, *, whole: bool = True) -> None:
        """Say below the field why its text is not used; None if it is.

        Parameters
        ----------
        refusal : Refusal or None
        whole : bool
            False where there is room for the first sentence only.
        """
        if refusal is None:
            text = self.note
        else:
            text = f"Not used: {refusal if whole else refusal.problem}"
        if self.input.below != text or self.input.refused != (refusal is not None):
            with self.input.hold_sync():
                self.input.below, self.input.refused = text, refusal is not None


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
