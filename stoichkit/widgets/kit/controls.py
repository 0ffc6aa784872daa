"""Field, slider, list, message and the numbered messages between page and kernel.

How what is typed or moved reaches the kernel: the newest only, in order, before any button.

The messages of a widget may be handled by two threads of the kernel, and may wait while it is busy.
So each is numbered: the page sends the next one when the last was taken, only the newest of those
that had to wait, and holds the click on a button back until all of them were taken. The kernel
leaves out what arrives after something newer.

A page that has just met its kernel asks for the state of all widgets, and the answer may have been
read before the newest message was taken. What it says of a field is then older than what stands in
it: the page knows by the number and keeps what was typed.

Building blocks of the panels: labelled fields with room for a refusal, spoken messages, closing.

Every control has a description, which is its accessible name; every callback passes through
:func:`guarded`, so that no error vanishes in the kernel.

A list to choose from that works by keyboard in a notebook.

JupyterLab takes the arrow keys and letters away from the stock list and moves on to another cell;
here they stay in the list. What is chosen reaches the kernel before a button pressed next.

A labelled slider with a number field beside it, both native controls that have a name.

The sliders of ipywidgets have no accessible name whatever their description says, so this is a
small widget of its own: a range input and a text field, each with its label.
"""

from __future__ import annotations

import logging
import math
from bisect import bisect_left
from collections.abc import Callable, Iterable, Sequence
from functools import cached_property
from importlib.resources import files
from typing import Any

import anywidget
import ipywidgets
import traitlets

from ...errors import ModelError, Refusal, StoichkitError
from ...text.html import escaped
from ...uncertainty.readings import parse_number
from .work import TURN

COURIER = """
const LONGEST_MS = 3000;
const shared = (globalThis.stoichkitCouriers ??= { underway: new Set(), held: null });
if (!shared.listening) {
  shared.listening = true;
  shared.release = () => {
    const button = shared.held;
    if (!button) return;
    clearTimeout(shared.patience);
    shared.held = null;
    shared.released = button;
    button.click();
    shared.released = null;
  };
  document.addEventListener("click", (event) => {
    const button = event.target.closest?.(".stoichkit-panel button");
    if (!button || shared.underway.size === 0 || shared.released === button) return;
    event.stopImmediatePropagation();
    event.preventDefault();
    shared.held = button;
    clearTimeout(shared.patience);
    shared.patience = setTimeout(shared.release, LONGEST_MS);
  }, true);
}
function courier(model) {
  const key = {};
  let number = model.get("taken"), acknowledged = number, waits = null;
  const send = (what) => {
    number = Math.max(number, model.get("taken")) + 1;
    waits = null;
    shared.underway.add(key);
    model.send({ ...what, number });
  };
  const next = () => {
    if (model.get("taken") < number) return;
    if (waits) { send(waits); return; }
    shared.underway.delete(key);
    if (shared.underway.size === 0) shared.release();
  };
  const taken = () => {
    if (model.get("taken") < acknowledged) {
      model.set("taken", acknowledged);
      send({ again: true });
      return;
    }
    acknowledged = model.get("taken");
    queueMicrotask(next); // once all that came with it was looked at
  };
  model.on("change:taken", taken);
  return {
    put(what) { if (shared.underway.has(key)) waits = what; else send(what); },
    end(what) { send(what); },
    stale() { return model.get("taken") < number; },
    stop() {
      model.off("change:taken", taken);
      shared.underway.delete(key);
      if (shared.underway.size === 0) shared.release();
    },
  };
}
"""
"""Script to stand before that of a widget: ``courier(model)`` has ``put`` for what may be replaced
by something newer, ``end`` for what must arrive now, and ``stale`` says whether what the kernel
told is older than what was sent."""


class Couriered(anywidget.AnyWidget):
    """A widget whose page sends numbered messages; see :data:`COURIER`."""

    taken = traitlets.Int(0).tag(sync=True)

    def __init__(self, **values: Any) -> None:
        super().__init__(**values)
        self.on_msg(self._arrived)

    def _arrived(self, _: Any, content: Any, __: Any) -> None:
        number = content.get("number") if isinstance(content, dict) else None
        if not isinstance(number, int):
            return
        with TURN, self.hold_sync():  # what follows from the message is told with its number
            if number <= self.taken:
                return
            try:
                if not content.get("again"):
                    self._take_message(content)
            finally:
                self.taken = number
            if content.get("again"):
                self.send_state()

    def _take_message(self, content: dict[str, Any]) -> None:
        """Take one message from the page over."""
        raise NotImplementedError


_logger = logging.getLogger(__name__)


class LiveText(anywidget.AnyWidget):
    """A line of text that screen readers announce when it changes.

    The element stays in the page and only its text changes, which an HTML pane cannot do.
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
        """Say below the field why its text is not used; None if it is."""
        if refusal is None:
            text = self.note
        else:
            text = f"Not used: {refusal if whole else refusal.problem}"
        if self.input.below != text or self.input.refused != (refusal is not None):
            with self.input.hold_sync():
                self.input.below, self.input.refused = text, refusal is not None


def heading(text: str) -> ipywidgets.HTML:
    """Return a heading within a panel."""
    return ipywidgets.HTML(f"<h3>{escaped(text)}</h3>")


def button(words: str, area: LiveText, action: Callable[[], object]) -> ipywidgets.Button:
    """Return a button; what goes wrong when it is pressed is said in an area."""
    made = ipywidgets.Button(description=words)
    made.on_click(guarded(area, lambda _: action()))
    return made


def columns(*boxes: ipywidgets.Widget, look: str = "stoichkit-columns") -> ipywidgets.Box:
    """Return boxes side by side where there is room."""
    return ipywidgets.Box(boxes).add_class(look)


def row(*widgets: ipywidgets.Widget) -> ipywidgets.Box:
    """Return widgets beside each other, on several lines where there is no room."""
    return columns(*widgets, look="stoichkit-row")


def halves(*parts: ipywidgets.Widget | list[ipywidgets.Widget]) -> ipywidgets.Box:
    """Return widgets, or lists of them, in columns of equal width where there is room."""
    boxes = (ipywidgets.VBox(part if isinstance(part, list) else [part]) for part in parts)
    return columns(*boxes, look="stoichkit-halves")


class Panel(ipywidgets.VBox):  # type: ignore[misc]
    """A panel of a notebook under its name, with a line for what goes wrong.

    Parameters
    ----------
    name : str
    subject : callable
        Returns the title of the lab that it shows.
    parts : widgets

    What is in ``_stops`` is called when the panel is closed, before all that is in it closes.
    """

    def __init__(self, name: str, subject: Callable[[], str], *parts: ipywidgets.Widget) -> None:
        self._name, self._subject = name, subject
        self._stops: list[Callable[[], object]] = []
        title = ipywidgets.HTML(f"<h2>{escaped(name)}</h2>")
        super().__init__([style_sheet(), title, self.message, *parts])
        self.add_class("stoichkit-panel")

    @cached_property
    def message(self) -> LiveText:
        """Where it says what goes wrong."""
        return LiveText(role="alert", look="stoichkit-alert")

    def _button(self, words: str, action: Callable[[], object]) -> ipywidgets.Button:
        return button(words, self.message, action)

    def _guard(self, function: Callable[[Any], object]) -> Callable[..., None]:
        return guarded(self.message, function)

    def __repr__(self) -> str:
        return (
            f"Panel “{self._name}” on “{self._subject()}”: run this cell in a notebook to use it."
        )

    def close(self) -> None:
        """Close the panel with everything in it, and stop what it is working out."""
        for stop in self._stops:
            stop()
        close_tree(self)


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


class Choice(Couriered):
    """A labelled native list with one value chosen.

    >>> choice = Choice("Trial", [("All trials", ""), ("Trial 1", "1")])
    >>> choice.value
    ''
    >>> choice.offer([("Trial 2", "2")], "2")
    >>> choice.value
    '2'
    >>> choice.close()
    """

    _esm = (
        COURIER
        + """
    function render({ model, el }) {
      const label = document.createElement("label");
      const list = document.createElement("select");
      list.id = `stoichkit-choice-${Math.random().toString(36).slice(2)}`;
      label.htmlFor = list.id;
      const messages = courier(model);
      const show = () => {
        if (messages.stale()) model.set("value", list.value);
        label.textContent = model.get("description");
        list.replaceChildren(...model.get("options").map(([words, value]) => {
          const option = document.createElement("option");
          option.textContent = words;
          option.value = value;
          return option;
        }));
        list.value = model.get("value");
      };
      list.addEventListener("change", () => {
        model.set("value", list.value);
        messages.end({ chosen: list.value });
      });
      list.addEventListener("keydown", (event) => event.stopPropagation());
      const events = ["change:description", "change:options", "change:value"];
      for (const name of events) model.on(name, show);
      el.classList.add("stoichkit-choice");
      el.append(label, list);
      show();
      return () => {
        messages.stop();
        for (const name of events) model.off(name, show);
      };
    }
    export default { render };
    """
    )

    description = traitlets.Unicode("").tag(sync=True)
    options = traitlets.List(traitlets.List(traitlets.Unicode())).tag(sync=True)
    value = traitlets.Unicode("").tag(sync=True, echo_update=False)

    def __init__(
        self, description: str, options: Iterable[tuple[str, str]], value: str | None = None
    ) -> None:
        pairs = [list(pair) for pair in options]
        first = pairs[0][1] if pairs else ""
        super().__init__(
            description=description, options=pairs, value=first if value is None else value
        )

    def offer(self, options: Iterable[tuple[str, str]], value: str) -> None:
        """Offer other options, with one of them chosen."""
        with self.hold_sync():
            self.set_trait("options", [list(pair) for pair in options])
            self.value = value

    def _take_message(self, content: dict[str, Any]) -> None:
        """Take what is chosen, unless it is no longer offered; the list then shows what is."""
        chosen = content.get("chosen")
        if not isinstance(chosen, str) or chosen == self.value:
            return
        if chosen in (value for _, value in self.options):
            self.set_state({"value": chosen})  # not sent back
        else:
            self.send_state("value")

    @traitlets.validate("value")
    def _offered(self, proposal: Any) -> str:
        values = [value for _, value in self.options]
        if values and proposal["value"] not in values:
            raise ModelError(
                "This cannot be chosen.",
                given=proposal["value"],
                allowed=", ".join(words for words, _ in self.options),
            )
        return str(proposal["value"])


_SCRIPT = (
    COURIER
    + """
function render({ model, el }) {
  const number = Math.random().toString(36).slice(2);
  const make = (tag, look, parent) => {
    const part = document.createElement(tag);
    part.className = look;
    parent.append(part);
    return part;
  };
  el.classList.add("stoichkit-slider");
  const head = make("label", "stoichkit-slider-label", el);
  const line = make("div", "stoichkit-slider-line", el);
  const range = make("input", "stoichkit-slider-range", line);
  const field = make("input", "stoichkit-slider-field", line);
  const unit = make("span", "stoichkit-slider-unit", line);
  const refusal = make("p", "stoichkit-refusal", el);
  range.type = "range"; range.min = "0"; range.step = "1";
  range.id = `stoichkit-range-${number}`; head.htmlFor = range.id;
  field.type = "text"; field.inputMode = "decimal"; field.autocomplete = "off";
  refusal.id = `stoichkit-refusal-${number}`;
  refusal.setAttribute("role", "alert");
  const messages = courier(model);
  const place = () => {
    range.max = String(Math.max(model.get("texts").length - 1, 0));
    if (messages.stale()) model.set("position", Number(range.value));
    else range.value = String(model.get("position"));
    speak();
  };
  const speak = () => {
    const text = model.get("texts")[Number(range.value)] ?? "";
    range.setAttribute("aria-valuetext", model.get("spoken") || text);
  };
  const show = () => {
    head.textContent = model.get("label");
    unit.textContent = model.get("unit");
    field.setAttribute("aria-label", `${model.get("label")}, as a number`);
  };
  let sent = null;
  const fill = () => {
    if (messages.stale()) return;
    const editing = document.activeElement === field;
    if (!editing || sent === null || field.value === sent) {
      const all = editing && field.value !== "" &&
        field.selectionStart === 0 && field.selectionEnd === field.value.length;
      field.value = model.get("field");
      if (all) field.select();
    }
    speak();
  };
  const refuse = () => {
    const words = model.get("refusal");
    refusal.textContent = words;
    refusal.hidden = words === "";
    el.classList.toggle("stoichkit-refused", words !== "");
    field.setAttribute("aria-invalid", String(words !== ""));
    if (words) field.setAttribute("aria-describedby", refusal.id);
    else field.removeAttribute("aria-describedby");
  };
  range.addEventListener("input", () => {
    model.set({ position: Number(range.value), spoken: "" });
    messages.put({ position: Number(range.value) });
    speak();
  });
  range.addEventListener("change", () =>
    messages.end({ position: Number(range.value), left: true }));
  const typed = () => {
    if (field.value === model.get("field") && !model.get("refusal")) return;
    sent = field.value;
    messages.end({ text: sent });
  };
  field.addEventListener("change", typed);
  field.addEventListener("keydown", (event) => {
    event.stopPropagation();
    if (event.key === "Enter") typed();
  });
  range.addEventListener("keydown", (event) => event.stopPropagation());
  const events = [
    ["change:texts", place], ["change:position", place], ["change:label", show],
    ["change:unit", show], ["change:field", fill], ["change:spoken", speak],
    ["change:refusal", refuse],
  ];
  for (const [name, call] of events) model.on(name, call);
  show(); place(); fill(); refuse();
  return () => {
    messages.stop();
    for (const [name, call] of events) model.off(name, call);
  };
}
export default { render };
"""
)
_LOOK = """
.stoichkit-slider { width: 100%; margin: 3px 0 5px; }
.stoichkit-slider-label { display: block; color: #1a1a1a; font-size: 14px; line-height: 1.4; }
.stoichkit-slider-line { display: flex; align-items: center; gap: 8px; padding: 0 4px; }
.stoichkit-slider-range { flex: 1 1 120px; min-width: 60px; height: 24px; margin: 0;
  accent-color: #0072b2; }
.stoichkit-slider-range:focus-visible { outline: 2px solid #0072b2; outline-offset: 2px; }
.stoichkit-slider-field { flex: 0 0 82px; width: 82px; padding: 3px 6px; }
.stoichkit-slider-unit { flex: 0 0 auto; min-width: 34px; color: #1a1a1a; font-size: 13px; }
"""


def nearest_stop(stops: Sequence[float], value: float) -> int:
    """Return the position of the stop nearest to a value, by ratio if all are above 0.

    >>> nearest_stop([0.1, 0.2, 0.5, 1.0], 0.4)
    2
    """

    def distance(i: int) -> float:
        if stops[0] > 0 and value > 0:
            return abs(math.log(stops[i] / value))
        return abs(stops[i] - value)

    after = min(bisect_left(stops, value), len(stops) - 1)
    return min((max(after - 1, 0), after), key=distance)


class Slider(Couriered):
    """A slider over given values, with a field for any number between the first and the last.

    Only its newest position is sent while the kernel is busy, so nothing queues up behind a
    dragged handle.

    >>> heard = []
    >>> slider = Slider("readability", [0.001, 0.01, 0.1], 0.01, heard.append, unit="g")
    >>> slider.position = 2
    >>> slider.type_text("0,05")
    >>> slider.type_text("5")
    >>> heard, slider.value, slider.field, slider.refusal[:9]
    ([0.1, 0.05], 0.05, '5', 'Not used:')
    >>> slider.close()
    """

    _esm = _SCRIPT
    _css = _LOOK

    label = traitlets.Unicode("").tag(sync=True)
    unit = traitlets.Unicode("").tag(sync=True)
    texts = traitlets.List(traitlets.Unicode()).tag(sync=True)
    spoken = traitlets.Unicode("").tag(sync=True)  # a value between two positions, else empty
    position = traitlets.Int(0).tag(sync=True, echo_update=False)
    field = traitlets.Unicode("").tag(sync=True)
    refusal = traitlets.Unicode("").tag(sync=True)

    def __init__(
        self,
        label: str,
        stops: Sequence[float],
        value: float,
        on_change: Callable[[float], object],
        *,
        unit: str = "",
        whole: bool = False,
        on_leave: Callable[[], object] | None = None,
    ) -> None:
        self._stops = tuple(stops)
        self._on_leave = on_leave
        self._on_change = on_change
        self._whole = whole
        self._setting = False
        self.value = value
        super().__init__(label=label, unit=unit)
        self.set_stops(stops, value, label=label, unit=unit)
        self.observe(self._moved, names="position")

    def set_stops(
        self, stops: Sequence[float], value: float, *, label: str = "", unit: str = ""
    ) -> None:
        """Replace the values without telling the callback."""
        self._stops = tuple(stops)
        self.label, self.unit = label or self.label, unit or self.unit
        with self._quietly():
            self.texts = [self._said(stop) for stop in self._stops]
            self._show(value, move=True)

    def show(self, value: float) -> None:
        """Show a value that was chosen elsewhere, without telling the callback."""
        if value != self.value:
            with self._quietly():
                self._show(value, move=True)

    def _quietly(self) -> _Quiet:
        return _Quiet(self)

    def _said(self, value: float) -> str:
        return f"{_plain(value)} {self.unit}".strip()

    def _show(self, value: float, *, move: bool) -> None:
        self.value = value
        if move:
            self.position = nearest_stop(self._stops, value)
        self.field, self.refusal = _plain(value), ""
        self.spoken = "" if value == self._stops[self.position] else self._said(value)

    def _moved(self, change: Any) -> None:
        if self._setting:
            return
        position = min(max(change["new"], 0), len(self._stops) - 1)
        self._take(self._stops[position], _plain(self._stops[position]), move=False)

    def _take_message(self, content: dict[str, Any]) -> None:
        """Take the position of the handle, or what is typed beside it."""
        text, position = content.get("text"), content.get("position")
        if isinstance(text, str):
            self.type_text(text)
        elif isinstance(position, int) and position != self.position:
            self.set_state({"position": position})  # not sent back
        if content.get("left") and self._on_leave is not None:
            self._on_leave()

    def type_text(self, text: str) -> None:
        """Take over what is typed into the field; nothing typed is lost or changed silently."""
        self.field = text
        try:
            value = self._number(text)
        except StoichkitError as error:
            self.refusal = f"Not used: {error}"
            return
        self._take(value, text, move=True)

    def _number(self, text: str) -> float:
        value = parse_number(text, "value").value
        low, high = self._stops[0], self._stops[-1]
        kind = "a whole number from" if self._whole else "from"
        if not low <= value <= high or (self._whole and value != int(value)):
            raise ModelError(
                "This number cannot be used.",
                given=text,
                allowed=f"{kind} {_plain(low)} to {_plain(high)} {self.unit}".strip(),
            )
        return float(value)

    def _take(self, value: float, text: str, *, move: bool) -> None:
        try:
            self._on_change(value)
        except StoichkitError as error:
            self.field = text
            self.refusal = f"Not used: {error}"
            return
        with self._quietly():
            self._show(value, move=move)


class _Quiet:
    """While this is entered, a change of position is not taken for one by the user."""

    def __init__(self, slider: Slider) -> None:
        self.slider = slider

    def __enter__(self) -> None:
        self.slider._setting = True

    def __exit__(self, *_: object) -> None:
        self.slider._setting = False


def _plain(value: float) -> str:
    """Write a number with up to six significant digits and no power of ten."""
    if value == 0 or (value == int(value) and abs(value) < 1e6):
        return str(int(value))
    decimals = max(5 - math.floor(math.log10(abs(value))), 0)
    return f"{value:.{decimals}f}".rstrip("0").rstrip(".")
