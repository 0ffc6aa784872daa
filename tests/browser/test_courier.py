"""Fields in a bare page with a kernel that answers late or with an old state."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from stoichkit.widgets.kit.controls import Choice, Slider, TextField

pytestmark = pytest.mark.browser

MODEL = """async ([source, state]) => {
  const heard = {};
  const model = {
    sent: [],
    get: (name) => state[name],
    set(name, value) {
      const given = typeof name === "string" ? { [name]: value } : name;
      const changed = Object.keys(given).filter((n) => state[n] !== given[n]);
      Object.assign(state, given);
      for (const n of changed) for (const call of heard[`change:${n}`] ?? []) call();
    },
    on(name, call) { (heard[name] ??= new Set()).add(call); },
    off(name, call) { heard[name]?.delete(call); },
    send(message) { model.sent.push(message); },
  };
  const address = URL.createObjectURL(new Blob([source], { type: "text/javascript" }));
  const widget = (await import(address)).default;
  const place = document.createElement("div");
  document.body.replaceChildren(place);
  widget.render({ model, el: place });
  window.model = model;
  window.told = (state) => { model.set(state); return Promise.resolve(); };
}"""


@pytest.fixture
def page(browser: Any) -> Iterator[Any]:
    opened = browser.new_page()
    yield opened
    opened.close()


def show(page: Any, widget: Any) -> None:
    state = {
        name: value
        for name, value in widget.get_state().items()
        if isinstance(value, str | int | bool | list)
    }
    page.evaluate(MODEL, [widget._esm, state])
    widget.close()


def told(page: Any, **state: object) -> None:
    page.evaluate("(state) => window.told(state)", state)


def sent(page: Any) -> list[dict[str, Any]]:
    return list(page.evaluate("() => window.model.sent"))


def test_an_older_state_does_not_replace_what_is_typed(page: Any) -> None:
    show(page, TextField(description="mass, g", value="1.34"))
    field = page.get_by_role("textbox", name="mass, g")
    field.fill("3,14")
    told(page, value="1.34 ", taken=0)  # read before the message was taken
    assert field.input_value() == "3,14"
    told(page, taken=1, below="a comma will do")
    assert field.input_value() == "3,14"
    told(page, value="2.00")  # as after undo
    assert field.input_value() == "2.00"


def test_a_state_older_than_an_answer_is_asked_for_again(page: Any) -> None:
    show(page, TextField(description="mass, g", value="1.34"))
    field = page.get_by_role("textbox", name="mass, g")
    field.fill("3,14")
    told(page, taken=1, below="Not used: odd")
    told(page, value="1.34", taken=0, below="")
    assert field.input_value() == "3,14"
    assert sent(page) == [{"typed": "3,14", "number": 1}, {"again": True, "number": 2}]
    told(page, value="3,14", taken=2, below="Not used: odd")
    assert page.get_by_text("Not used: odd").is_visible()
    told(page, value="2.00")
    assert field.input_value() == "2.00"


def test_only_the_newest_text_follows_while_the_kernel_is_busy(page: Any) -> None:
    show(page, TextField(description="mass, g", value=""))
    page.get_by_role("textbox", name="mass, g").press_sequentially("1.25")
    assert sent(page) == [{"typed": "1", "number": 1}]
    told(page, taken=1)
    assert sent(page)[1:] == [{"typed": "1.25", "number": 2}]


def test_the_kernel_may_change_what_was_typed(page: Any) -> None:
    show(page, TextField(description="mass, g", value=""))
    field = page.get_by_role("textbox", name="mass, g")
    field.fill("1.2.5")
    told(page, value="1.25", taken=1)
    assert field.input_value() == "1.25"


def test_a_slider_stays_where_it_was_put(page: Any) -> None:
    show(page, Slider("readability", [0.001, 0.01, 0.1, 1.0], 0.01, lambda _: None, unit="g"))
    handle = page.get_by_role("slider", name="readability", exact=True)
    handle.focus()
    for _ in range(2):
        page.keyboard.press("ArrowRight")
    told(page, position=1, field="0.01 ", spoken="", taken=0)
    assert (handle.input_value(), handle.get_attribute("aria-valuetext")) == ("3", "1 g")
    told(page, field="0.1", taken=1)
    assert handle.get_attribute("aria-valuetext") == "1 g"
    number = sent(page)[-1]["number"]
    told(page, field="1", taken=number)
    assert page.get_by_role("textbox").input_value() == "1"
    told(page, position=0, field="0.002", spoken="0.002 g")
    assert (handle.input_value(), handle.get_attribute("aria-valuetext")) == ("0", "0.002 g")


def test_what_is_chosen_is_kept_and_goes_before_a_button(page: Any) -> None:
    show(page, Choice("Trial", [("All", ""), ("One", "1"), ("Two", "2")]))
    page.evaluate(
        """() => {
          const panel = document.createElement("div");
          panel.className = "stoichkit-panel";
          panel.innerHTML = "<button>Go</button>";
          panel.firstChild.addEventListener("click", () => window.model.sent.push("clicked"));
          document.body.append(panel);
        }"""
    )
    trial = page.get_by_role("combobox", name="Trial")
    trial.select_option("2")
    page.get_by_role("button", name="Go").click()
    assert sent(page) == [{"chosen": "2", "number": 1}]
    told(page, value="1", taken=0)
    assert trial.input_value() == "2"
    told(page, taken=1)
    assert sent(page) == [{"chosen": "2", "number": 1}, "clicked"]
    told(page, value="1")
    assert trial.input_value() == "1"
