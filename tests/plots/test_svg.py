"""SVG: well formed, escaped, labelled, and no two ids alike on a page."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest

from stoichkit.plots.decision import decision_alt_text, decision_data, draw_decision
from stoichkit.plots.ratio import ratio_data
from stoichkit.plots.result import live_svg, picture_svg, result_figure, svg_of
from stoichkit.plots.scene import BODY, SMALL

from .cases import NAMES, evidence

SVG = "{http://www.w3.org/2000/svg}"


@pytest.mark.parametrize("name", NAMES)
def test_live_picture_is_well_formed_and_describes_itself(name: str) -> None:
    data = decision_data(evidence(name))
    root = ElementTree.fromstring(live_svg(evidence(name)))
    assert root.tag == f"{SVG}svg"
    assert root.get("role") == "img"
    label = root.get("aria-label") or ""
    assert label.startswith(decision_alt_text(data))
    assert "Line of mole ratios" in label
    assert root.findtext(f"{SVG}title") == data.headline
    written = {text.text for text in root.iter(f"{SVG}text")}
    labels = {ray.label for ray in data.rays}
    assert labels <= written or (name == "sixty" and len(labels & written) >= 20)
    assert not any("id" in element.attrib for element in root.iter())


def test_live_picture_has_an_opaque_background_and_legible_words() -> None:
    root = ElementTree.fromstring(live_svg(evidence("copper-silver"), width_px=640))
    background = root.find(f"{SVG}rect")
    assert background is not None
    assert background.get("fill") == "#ffffff"
    pixels = 640 / float((root.get("viewBox") or "").split()[2])
    sizes = {float(text.get("font-size") or 0) * pixels for text in root.iter(f"{SVG}text")}
    assert min(sizes) >= 10.5
    assert min(BODY, SMALL) * pixels >= 10.5


def test_hostile_names_stay_text() -> None:
    text = live_svg(evidence("hostile"))
    assert "<b>" not in text
    assert "&lt;b&gt;" in text
    assert "&amp;lt;img" in text
    figure = svg_of(result_figure(evidence("hostile")), '"><script>alert("1")</script>')
    assert "<script" not in figure
    assert "-->" not in figure
    root = ElementTree.fromstring(figure)
    assert root.get("aria-label") == '"><script>alert("1")</script>'


@pytest.mark.parametrize("name", ["copper-silver", "hydrate-heating", "open"])
def test_figure_as_svg_is_labelled_and_opaque(name: str) -> None:
    root = ElementTree.fromstring(svg_of(result_figure(evidence(name)), "what it shows"))
    assert root.get("role") == "img"
    assert root.get("aria-label") == "what it shows"
    assert root.findtext(f"{SVG}desc") == "what it shows"
    first = next(e for e in root.iter(f"{SVG}path"))
    assert "#ffffff" in (first.get("style") or first.get("fill") or "")


def test_two_svgs_on_a_page_share_no_id_and_all_references_resolve() -> None:
    figure = result_figure(evidence("copper-silver"))
    pictures = [svg_of(figure, "one"), svg_of(figure, "two")]
    ids = [set(re.findall(r'\bid="([^"]+)"', picture)) for picture in pictures]
    assert ids[0]
    assert not ids[0] & ids[1]
    for picture, own in zip(pictures, ids, strict=True):
        references = set(re.findall(r'(?:href="#|url\(#)([^")]+)', picture))
        assert references
        assert references <= own


def test_function_that_draws_can_be_given_instead_of_a_figure() -> None:
    data = decision_data(evidence("eight"))
    text = svg_of(lambda ax: draw_decision(ax, data), "plane", title="t", size_pt=(400.0, 300.0))
    root = ElementTree.fromstring(text)
    assert root.get("viewBox") == "0 0 400 300"
    assert root.findtext(f"{SVG}title") == "t"


def test_same_data_give_the_same_picture() -> None:
    found = evidence("copper-silver")
    assert picture_svg(decision_data(found), ratio_data(found)) == live_svg(found)
