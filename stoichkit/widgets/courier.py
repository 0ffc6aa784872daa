"""How what is typed or moved reaches the kernel: the newest only, in order, before any button.

The messages of a widget may be handled by two threads of the kernel, and may wait while it is busy.
So each is numbered: the page sends the next one when the last was taken, only the newest of those
that had to wait, and holds the click on a button back until all of them were taken. The kernel
leaves out what arrives after something newer.

A page that has just met its kernel asks for the state of all widgets, and the answer may have been
read before the newest message was taken. What it says of a field is then older than what stands in
it: the page knows by the number and keeps what was typed.
"""

from __future__ import annotations

from typing import Any

import anywidget
import traitlets

from .turns import TURN

__all__ = ["COURIER", "Couriered"]

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
    """A widget whose page sends numbered messages; see :data:`COURIER`.

    Attributes
    ----------
    taken : int
        Number of the last message that was taken.
    """

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
