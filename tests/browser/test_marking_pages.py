"""Pages of marking in Chromium: blanks saved without scripts, half a sheet for each group."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from stoichkit import assess_class, experiments, load_class
from stoichkit.classroom import MarkKind, mark_class
from stoichkit.decision.evidence import assess
from stoichkit.reports.feedback import feedback_pages
from stoichkit.reports.hand_in import hand_in_page
from tests.classfiles import csv_bytes
from tests.faults.test_hostile import active_parts
from tests.reports.test_lab_report import PAPER_MM

LAB = experiments.load("copper-silver")
ONE = ["red", "1", "2.94", "2.82", "0.75", "1.15"]
HALF_MM = {"A4": (297 - 30) / 2, "Letter": (279.4 - 30) / 2}


def test_what_is_typed_into_a_page_is_saved_by_the_browser(browser: Any, tmp_path: Path) -> None:
    """Typed with keys alone, saved as a single file and as the page that is shown."""
    data = load_class(csv_bytes([ONE]), LAB)
    html = hand_in_page(assess(data.groups["red"]), name="red", blank=True).html()
    assert active_parts(html.replace('contenteditable="true"', "")) == []
    file = tmp_path / "blank.html"
    file.write_text(html, "utf-8")
    tab = browser.new_page(java_script_enabled=False)
    tab.goto(file.as_uri())
    for name, typed in (
        ("m(Cu), mass of Cu, g, trial 1", "0.12"),
        ("mole ratio n(Ag) / n(Cu), trial 1", "1.96 "),
        ("Conclusion", "single out copper(II)"),
    ):
        tab.get_by_role("textbox", name=name, exact=True).focus()
        tab.keyboard.type(typed)
    single = tab.context.new_cdp_session(tab).send("Page.captureSnapshot")["data"]
    for saved in (single.encode(), tab.content().encode()):
        marks = mark_class(saved, data).groups["red"]
        kinds = {mark.judgement.item: mark.kind for mark in marks.marks}
        for item in ("m(Cu)", "ratio", "conclusion"):
            assert kinds[item] is MarkKind.RIGHT, item
        assert kinds["n(Cu)"] is MarkKind.EMPTY
    tab.close()


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_every_group_has_half_a_sheet(browser: Any, tmp_path: Path, paper: str) -> None:
    """The longest texts that there can be: many lost points, long names, a conclusion in full."""
    head = "group,m(Cu),n(Cu),m(Ag),n(Ag),ratio,mean ratio,conclusion,percent yield"
    name = "<script>alert(1)</script> " + "y" * 50
    rows = [[name, str(n), *ONE[2:]] for n in range(1, 4)] + [["blue", "1", *ONE[2:]]]
    typed = f"{head}\n{name},9,9,9,9,9,9,{'copper(I) ' * 30},9\n"
    data = load_class(csv_bytes(rows), LAB)
    page = feedback_pages(mark_class(typed.encode(), data), result=assess_class(data))
    html = page.html()
    assert active_parts(html) == []
    file = tmp_path / "feedback.html"
    file.write_text(html, "utf-8")
    width_mm, height_mm = PAPER_MM[paper]
    size = {"width": int((width_mm - 28) / 25.4 * 96), "height": int((height_mm - 30) / 25.4 * 96)}
    tab = browser.new_page(viewport=size)
    tab.emulate_media(media="print")
    tab.goto(file.as_uri())
    heights = tab.evaluate(
        "() => [...document.querySelectorAll('.kept')].map(s => s.getBoundingClientRect().height)"
    )
    tab.close()
    assert len(heights) == 2
    assert max(heights) / 96 * 25.4 <= HALF_MM[paper]
