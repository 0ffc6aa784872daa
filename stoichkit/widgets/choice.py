"""A list to choose from that works by keyboard in a notebook.

JupyterLab takes the arrow keys and letters away from the stock list and moves on to another cell;
here they stay in the list. What is chosen reaches the kernel before a button pressed next.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import traitlets

from ..errors import ModelError
from .courier import COURIER, Couriered

__all__ = ["Choice"]


class Choice(Couriered):
    """A labelled native list with one value chosen.

    Parameters
    ----------
    description : str
        Label and accessible name.
    options : iterable of (str, str)
        What is shown, and the value that stands for it; values differ.
    value : str, optional
        The first one if left out.

    Examples
    --------
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
