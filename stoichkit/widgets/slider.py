"""A labelled slider with a number field beside it, both native controls that have a name.

The sliders of ipywidgets have no accessible name whatever their description says, so this is a
small widget of its own: a range input and a text field, each with its label.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable, Sequence
from typing import Any

import traitlets

from ..errors import ModelError, StoichkitError
from ..readings import parse_number
from .courier import COURIER, Couriered

__all__ = ["Slider", "nearest_stop"]

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

    Parameters
    ----------
    label : str
        Visible label and accessible name.
    stops : sequence of float
        Values at the positions of the slider, rising, two or more.
    value : float
        Between the first and the last.
    on_change : callable
        Called with the value after the user has changed it; a refusal it raises stands beside
        the field.
    unit : str
    whole : bool
        Whether only whole numbers are allowed.
    on_leave : callable, optional
        Called when the handle was let go.

    Examples
    --------
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
