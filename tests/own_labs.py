"""Labs of one's own, entered by keyboard alone, in a page of whatever host.

All figures are invented; the masses follow from the molar masses.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from stoichkit.experiments.own import way_named, ways

HEAD = ".stoichkit .headline"
MOST_INPUTS = 8
FOCUSED = """() => {
  const e = document.activeElement;
  return e.getAttribute("aria-label") || e.labels?.[0]?.textContent || e.innerText || "";
}"""


@dataclass(frozen=True)
class Lab:
    """What is filled in, by the label of the control, the readings, the answer."""

    name: str
    way: str
    slots: tuple[tuple[str, str], ...]
    readings: tuple[tuple[str, ...], ...]
    answer: str = ""


LABS = (
    Lab(
        "iron in copper sulfate",
        "",
        (
            ("metal used up", "Fe"),
            ("metal made", "Cu"),
            ("oxidation states that may have formed", "2, 3"),
            ("readability of the balance, g", "0.1"),
        ),
        (
            ("7.3", "6.2", "53.4", "54.7"),
            ("7.2", "6.1", "53.2", "54.4"),
            ("7.4", "6.3", "53.5", "54.8"),
        ),
        answer="single out iron(II)",
    ),
    Lab(
        "blue vitriol heated",
        "hydrate",
        (("salt without its water", "CuSO4"), ("waters for each formula unit", "3, 5")),
        (("20.00", "22.50", "21.60"), ("19.85", "22.40", "21.48"), ("20.10", "22.70", "21.76")),
        answer="single out CuSO4·5H2O",
    ),
    Lab(
        "tin burned",
        "oxide",
        (
            ("metal", "Sn"),
            ("oxides that may have formed", "SnO, SnO2"),
            ("readability of the balance, g", "0.001"),
        ),
        (
            ("17.500", "18.100", "18.262"),
            ("17.510", "18.160", "18.335"),
            ("17.480", "18.180", "18.369"),
        ),
        answer="single out SnO2",
    ),
    Lab(
        "magnesium in acid",
        "gas",
        (
            ("substance used up", "Mg"),
            ("room temperature", "22.0"),
            ("room pressure", "101.3"),
            ("oxidation states, mole ratios or equations", "1, 2"),
            ("readability of the balance, g", "0.001"),
        ),
        (("0.030", "30.7"), ("0.032", "32.7"), ("0.034", "34.8")),
        answer="single out magnesium(II)",
    ),
    Lab(
        "copper plated",
        "plating",
        (
            ("metal plated", "Cu"),
            ("oxidation states of the ion discharged", "1, 2"),
            ("readability of the balance, g", "0.001"),
        ),
        (
            ("0.50", "1800.00", "9.100", "9.396"),
            ("0.50", "1500.00", "8.950", "9.197"),
            ("0.60", "1200.00", "9.020", "9.257"),
        ),
        answer="single out copper(II)",
    ),
    Lab(
        "oxalic acid titrated",
        "titration",
        (
            ("substance titrated", "H2C2O4.2H2O"),
            ("what the titrant provides", "NaOH"),
            ("concentration", "0.1000"),
            ("what may be true: mole ratios, equations or formulas", "1, 2"),
            ("readability of the balance, g", "0.001"),
        ),
        (("0.126", "0.00", "19.99"), ("0.130", "0.50", "21.12"), ("0.120", "1.00", "20.04")),
        answer="single out 2 NaOH per H2C2O4·2H2O",
    ),
)


def tab_to(page: Any, label: str, most: int = 60) -> None:
    """Press Tab until the control of that label has the focus."""
    seen = []
    for _ in range(most):
        page.keyboard.press("Tab")
        here = page.evaluate(FOCUSED).strip()
        if here == label:
            return
        seen.append(here)
    raise AssertionError(f"{label!r} is not reached by Tab; there are {seen}")


def enter(page: Any, lab: Lab, wait: Callable[[str], object]) -> list[str]:
    """Enter a lab and its readings by keyboard; return what was pressed and filled in.

    ``wait`` lets Python answer and returns when an element is there.
    """
    page.locator(".stoichkit .top button").first.focus()
    page.keyboard.press("Enter")
    inputs = [f"press “{page.evaluate(FOCUSED).strip()}”"]
    wait(".stoichkit .r-lab .sentence")
    if lab.way:
        tab_to(page, "What is measured")
        name = way_named(lab.way).name
        page.keyboard.press("Home")
        for _ in range(place_of(lab.way)):
            page.keyboard.press("ArrowDown")
        assert page.evaluate("() => document.activeElement.value") == lab.way
        inputs.append(f"What is measured: {name}")
        wait(f".stoichkit [aria-label='{lab.slots[0][0]}']")
    for label, text in lab.slots:
        tab_to(page, label)
        page.keyboard.press("Control+A")
        page.keyboard.type(text)
        inputs.append(f"{label}: {text}")
    tab_to(page, "Begin with this lab")
    page.keyboard.press("Enter")
    inputs.append("press “Begin with this lab”")
    said = ".stoichkit .said .refusal"
    wait(f".stoichkit .r-sheet [aria-label='Readings'] [data-at='0:0'], {said}")
    assert page.locator(said).all_inner_texts() == []
    type_readings(page, lab)
    return inputs


def place_of(way: str) -> int:
    """Return how far down the list a way of measuring stands."""
    return [one.key for one in ways()].index(way)


def type_readings(page: Any, lab: Lab) -> None:
    """Type the readings with Tab between them and Enter at the end of a row."""
    sheet = page.locator(".stoichkit [role='group'][aria-label='Readings']")
    sheet.locator("[data-at='0:0']").focus()
    for i, row in enumerate(lab.readings):
        for j, text in enumerate(row):
            page.keyboard.type(text)
            if j + 1 < len(row):
                page.keyboard.press("Tab")
        if i + 1 < len(lab.readings):
            for _ in range(2):  # past the name of the next trial
                page.keyboard.press("Tab")
