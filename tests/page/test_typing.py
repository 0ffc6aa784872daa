"""Typing in the page: nothing is lost, whatever the answers do; the sheet is a sheet."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from .live import Live

pytestmark = pytest.mark.browser
Opens = Callable[..., Live]


def typed(live: Live, row: int, column: int) -> str:
    assert live.lab is not None
    form = live.lab.readings.form
    names = [one.name for one in form.rows if not one.shared]
    return form.trials[row].readings[names[column]]


def test_typing_fast_loses_nothing_while_answers_are_late_and_out_of_step(live: Opens) -> None:
    one = live()
    cell = one.cell(0, 0)
    cell.fill("")
    one.settle()
    cell.focus()
    late: list[Any] = []
    for letter in "2.9412345":
        one.page.keyboard.type(letter)
        one.take()
        late += one.waiting
        one.waiting.clear()
        if len(late) > 4:  # the newer of two comes first
            newer, older = late[-1], late[-4]
            late = [x for x in late if x is not newer and x is not older]
            one.deliver(newer, older)
    assert cell.input_value() == "2.9412345"
    one.deliver(*reversed(late))
    one.settle()
    assert cell.input_value() == "2.9412345"
    assert typed(one, 0, 0) == "2.9412345"
    numbers = [action["number"] for action in one.actions]
    assert numbers == sorted(set(numbers))


def test_an_older_answer_never_overwrites_newer_text(live: Opens) -> None:
    one = live()
    cell, headline = one.cell(0, 0), one.page.locator(".headline")
    cell.fill("2.95")
    one.take()
    first = one.waiting[:]
    one.waiting.clear()
    cell.fill("x")
    one.deliver(*first)
    assert cell.input_value() == "x"
    one.take()
    second = one.waiting[:]
    one.waiting.clear()
    one.deliver(*second)
    assert one.text(".verdict").count("Waits for bench 1, wire before.") == 1
    before = headline.inner_text()
    one.deliver(*first)  # once more: a carrier may keep no order
    assert cell.input_value() == "x"
    assert cell.get_attribute("aria-invalid") == "true"
    assert one.text(".verdict").count("Waits for bench 1, wire before.") == 1
    assert headline.inner_text() == before


def test_only_the_newest_text_of_one_cell_waits(live: Opens) -> None:
    one = live()
    start = len(one.actions)
    one.cell(0, 0).focus()
    one.page.keyboard.press("Control+A")
    one.page.keyboard.type("2.957")
    one.cell(1, 1).fill("3.08")
    one.cell(1, 1).fill("3.07")
    one.settle()
    sent = [a["arguments"]["to"][0][0] for a in one.actions[start:] if a["name"] == "cells"]
    assert sent == ["2", "2.957", "3.07"]
    assert (typed(one, 0, 0), typed(one, 1, 1)) == ("2.957", "3.07")


PASTE = """([cell, text]) => {
  const data = new DataTransfer();
  data.setData("text/plain", text);
  const event = new ClipboardEvent("paste", { clipboardData: data, bubbles: true,
    cancelable: true });
  return document.querySelector(`[data-control="${cell}"]`).dispatchEvent(event);
}"""


def test_a_block_of_a_spreadsheet_fills_cells_and_adds_trials(live: Opens) -> None:
    one = live()
    one.cell(3, 2).focus()
    text = "0,71\t1,14\r\n0.72\t1.15\r\n<b>\t=1+1\r\n"
    assert not one.page.evaluate(PASTE, ["sheet 3 2", text])
    one.settle()
    cells = [[one.cell(r, c).input_value() for c in (0, 2, 3)] for r in (3, 4, 5)]
    assert cells == [["2.95", "0,71", "1,14"], ["", "0.72", "1.15"], ["", "<b>", "=1+1"]]
    assert one.page.get_by_role("textbox", name="Name of trial 6").input_value() == "bench 6"
    undo = one.page.locator('[data-control="undo"]')
    assert undo.get_attribute("aria-label") == "Undo: pasted 6 readings"
    undo.click()
    one.settle()
    assert one.cell(4, 0).count() == 0
    assert one.cell(3, 2).input_value() == "0.70"
    wide = "\t".join("12345")
    assert not one.page.evaluate(PASTE, ["sheet 0 2", wide])
    one.settle()
    assert "The block is wider than the sheet." in one.text(".said")
    assert one.page.evaluate(PASTE, ["sheet 0 2", "0.7"])  # one text: the field's own way


def test_arrows_enter_and_tab_move_in_the_sheet(live: Opens) -> None:
    one = live()
    press = one.page.keyboard.press
    one.cell(0, 0).focus()
    places = []
    for key in ("ArrowDown", "ArrowRight", "Enter", "Shift+Enter", "ArrowUp", "ArrowLeft", "Tab",
                "Shift+Tab"):  # fmt: skip
        press(key)
        places.append(one.focused().removeprefix("sheet "))
    assert places == ["1 0", "1 1", "2 1", "1 1", "0 1", "0 0", "0 1", "0 0"]
    press("ArrowUp")
    assert one.focused() == "sheet 0 0"
    one.cell(0, 1).focus()
    press("End")  # the caret moves within the text before it leaves
    press("ArrowLeft")
    assert one.focused() == "sheet 0 1"
    press("Home")
    press("ArrowLeft")
    assert one.focused() == "sheet 0 0"
    one.settle()
    assert [typed(one, r, 0) for r in range(4)] == ["2.94", "3.19", "3.14", "2.95"]


def test_enter_below_the_last_row_adds_one_that_can_be_typed_in_at_once(live: Opens) -> None:
    """No answer has come yet when the next reading is typed."""
    one = live()
    one.cell(3, 3).focus()
    for text in ("Enter", "2", ".", "9", "Tab", "2", ".", "8", "Enter", "5"):
        one.page.keyboard.press(text)
    assert one.focused() == "sheet 5 0"
    one.settle()
    assert one.cell(3, 3).input_value() == "1.13"
    assert [typed(one, 4, c) for c in range(4)] == ["2.9", "2.8", "", ""]
    assert typed(one, 5, 0) == "5"
    assert one.page.locator("tbody tr").count() == 6
    assert one.focused() == "sheet 5 0"


def test_a_refused_cell_keeps_its_text_and_says_why(live: Opens) -> None:
    one = live()
    one.cell(2, 1).fill("3,o3 g")
    one.settle()
    cell = one.cell(2, 1)
    assert cell.input_value() == "3,o3 g"
    assert cell.get_attribute("aria-invalid") == "true"
    said = one.page.locator("tr.why")
    assert said.inner_text().startswith("wire after: The reading is not a number. Given: 3,o3 g.")
    assert said.locator("td").get_attribute("id") == cell.get_attribute("aria-describedby")
    assert "Waits for bench 3, wire after." in one.text(".verdict")
    assert one.page.locator(".picture.stale").count() == 1
    cell.fill("3,03")
    one.settle()
    assert one.page.locator("td.refused").count() == 0
    assert one.page.locator(".stale").count() == 0


def test_python_can_move_the_focus_and_say_that_it_is_done(live: Opens) -> None:
    one = live()
    one.frame.focus = "sheet 1 2"
    one.frame.changed()
    one.settle()
    assert one.focused() == "sheet 1 2"
    assert one.page.locator(".page.settled").count() == 1
    one.cell(0, 0).fill("2.9")
    assert one.page.locator(".page.settled").count() == 0
    one.settle()
    assert one.page.locator(".page.settled").count() == 1


def test_silence_of_python_is_said(live: Opens) -> None:
    one = live()
    one.page.clock.install()
    one.cell(0, 0).fill("2.9")
    one.page.clock.run_for(7000)
    assert "Python does not answer." in one.text(".said")
    assert one.cell(0, 0).input_value() == "2.9"
    one.settle()
    assert "Python does not answer." not in one.text(".said")
