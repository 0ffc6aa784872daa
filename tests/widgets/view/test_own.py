"""A lab of one's own in the screen: few inputs, any way of measuring, nothing left behind."""

from __future__ import annotations

import pytest

from stoichkit.experiments.own import ways

from .test_readings import Page, texts, walk


def fill(page: Page, **slots: str) -> int:
    """Fill slots in; return how many inputs that took."""
    for name, text in slots.items():
        page.do("set", id=f"own:{name.replace('__', '.')}", to=text)
    return len(slots)


def test_iron_in_copper_sulfate_takes_six_inputs_beside_the_readings() -> None:
    page = Page()
    page.do("press", id="new")
    inputs = 1 + fill(page, metal="Fe", product="Cu", states="2, 3", balance__readability_g="0.1")
    page.do("press", id="own:use")
    assert inputs + 1 <= 8
    assert [c["label"] for c in page.sheet["columns"]] == [
        "Fe before", "Fe after", "paper", "paper + Cu",
    ]  # fmt: skip
    assert page.verdict["headline"] == "There is no verdict yet."
    page.cells(
        0, 0, ["7.3", "6.2", "53.4", "54.7"], ["7.2", "6.1", "53.2", "54.4"],
        ["7.4", "6.3", "53.5", "54.8"],
    )  # fmt: skip
    # 1.1 g / 55.845 g/mol = 19.70 mmol; 1.3 g / 63.546 g/mol = 20.46 mmol: ratio 1.04
    assert page.sheet["rows"][0]["result"].startswith("1.04 ")
    rows = page.block("candidates", "candidates")["rows"]
    assert {one["name"]: one["fits"] for one in rows} == {"iron(II)": True, "iron(III)": False}


def test_what_is_typed_is_said_back_with_equations_and_refused_beside_it() -> None:
    page = Page()
    page.do("press", id="new")
    fill(page, metal="iron", product="Cu", states="Fe2+, III")
    said = texts(page.regions["lab"])
    assert "iron(II), Fe²⁺; iron(III), Fe³⁺" in said
    assert "2 Fe + 3 Cu²⁺ → 2 Fe³⁺ + 3 Cu" in said
    fill(page, metal="rust")
    assert "This is not a metal" in texts(page.regions["lab"])
    page.do("press", id="own:use")
    assert "not complete yet" in page.said
    assert page.lab.readings.name == "copper-silver"


def test_offered_candidates_are_added_and_then_no_longer_offered() -> None:
    page = Page()
    page.do("press", id="new")
    fill(page, metal="Fe", product="Cu")

    def offered() -> list[str]:
        found = walk(page.regions["lab"])
        return [one["label"] for one in found if str(one.get("id")).startswith("own:states:")]

    assert offered()[0] == "+ iron(II), Fe²⁺"
    page.do("press", id="own:states:0")
    assert "+ iron(II), Fe²⁺" not in offered()
    assert page.lab.own.sentence.text("states")


@pytest.mark.parametrize("way", [way.key for way in ways()])
def test_every_way_is_drawn_and_says_what_is_missing(way: str) -> None:
    page = Page()
    page.do("press", id="new")
    page.do("set", id="own:way", to=way)
    found = page.lab.own.understood
    blocks = list(walk(page.regions["lab"]))
    assert page.block("lab", "sentence")["parts"]
    ids = {one.get("id") for one in blocks} | {
        part.get("id") for one in blocks for part in one.get("parts", [])
    }
    assert {f"own:{slot.name}" for slot in page.lab.own.way.slots} <= ids
    assert found.experiment is not None or found.missing


def test_another_state_keeps_the_readings_another_metal_does_not() -> None:
    page = Page()
    page.do("press", id="new")
    fill(page, metal="Fe", product="Cu", states="2, 3")
    page.do("press", id="own:use")
    page.cells(0, 0, ["7.30", "6.20", "53.40", "54.70"])
    page.do("press", id="own:change")
    fill(page, states="2")
    page.do("press", id="own:use")
    assert [c["text"] for c in page.sheet["rows"][0]["cells"]] == ["7.30", "6.20", "53.40", "54.70"]
    page.do("press", id="own:change")
    fill(page, metal="Zn", states="2")
    page.do("press", id="own:use")
    assert page.sheet["columns"][0]["label"] == "Zn before"
    assert page.sheet["rows"][0]["cells"][0]["text"] == ""
    page.do("press", id="undo")  # the sentence is open again
    page.do("press", id="own:cancel")
    assert page.sheet["columns"][0]["label"] == "Fe before"
    assert page.sheet["rows"][0]["cells"][0]["text"] == "7.30"


def test_cancelling_leaves_the_lab_and_keeps_the_sentence() -> None:
    page = Page()
    page.do("press", id="new")
    fill(page, metal="Mg")
    page.do("press", id="own:cancel")
    assert page.sheet["rows"][0]["cells"][0]["text"] == "2.94"
    page.do("press", id="new")
    assert page.lab.own.sentence.text("metal") == "Mg"
