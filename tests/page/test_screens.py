"""Working and Study in the page: by keyboard alone; what is copied is what is shown."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from stoichkit.reports.worked import worked_solution

from .live import Live
from .test_look import show

pytestmark = pytest.mark.browser
Opens = Callable[..., Live]


def test_two_questions_by_keyboard(live: Opens) -> None:
    """Type, Enter, Enter: the next question is there to be typed in."""
    one = live()
    show(one, "study")
    press, write = one.page.keyboard.press, one.page.keyboard.type
    one.page.locator('[data-control="study:0"]').focus()
    write("-0,12")
    press("Enter")
    one.settle()
    said = one.page.locator(".r-question p[role=status]")
    assert "Not yet. The sign is wrong" in said.inner_text()
    assert one.focused() == "study:0"
    press("Home")
    press("Delete")
    press("Enter")  # no answer has come: what was typed is checked all the same
    one.settle()
    assert said.inner_text().endswith("Right.")
    assert one.focused() == "study:next"
    press("Enter")
    one.settle()
    assert one.focused() == "study:1"
    assert "molar mass" in one.text(".r-question h2")
    write("63.546 g/mol")
    press("Enter")
    one.settle()
    assert one.text(".r-course caption") == "2 of 14 answered."
    one.page.get_by_role("button", name="13. The verdict").focus()
    press("Enter")
    one.settle()
    assert one.focused() == "study:12:0"
    press("Space")
    one.settle()
    assert one.page.get_by_role("checkbox").first.is_checked()


@pytest.mark.parametrize("secure", [True, False])
def test_what_is_copied_is_the_file(live: Opens, secure: bool) -> None:
    one = live()
    show(one, "working")
    one.page.get_by_role("combobox", name="Shown as").select_option("latex")
    one.settle()
    assert one.lab is not None
    assert one.lab.evidence is not None
    expected = worked_solution(one.lab.evidence, trial="bench 1").latex()
    assert one.page.locator("pre.source").inner_text().strip() == expected.strip()
    one.page.evaluate(
        """(secure) => {
          window.copied = null;
          const clipboard = { writeText: async (text) => { window.copied = text; } };
          Object.defineProperty(navigator, "clipboard", { value: secure ? clipboard : undefined });
          Object.defineProperty(window, "isSecureContext", { value: secure });
          document.addEventListener("copy", () => {
            window.copied = document.activeElement.value;
          });
        }""",
        secure,
    )
    one.page.get_by_role("button", name="Copy the LaTeX source").click()
    one.page.get_by_text("Copied.").wait_for()
    assert one.page.evaluate("() => window.copied") == expected
