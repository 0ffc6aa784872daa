"""SVG: well formed, escaped, labelled, without ids and without matplotlib."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree

import pytest

from stoichkit.plots.decision import DecisionPicture
from stoichkit.plots.look import BODY, SMALL
from stoichkit.plots.ratio import RatioPicture
from stoichkit.plots.render import svg
from stoichkit.plots.result import ResultPicture, live_svg

from .cases import KINDS, NAMES, evidence, pictures

SVG = "{http://www.w3.org/2000/svg}"


@pytest.mark.parametrize("name", NAMES)
def test_live_picture_is_well_formed_and_describes_itself(name: str) -> None:
    data = DecisionPicture.of(evidence(name))
    root = ElementTree.fromstring(live_svg(evidence(name)))
    assert root.tag == f"{SVG}svg"
    assert root.get("role") == "img"
    label = root.get("aria-label") or ""
    assert label.startswith(data.alt_text)
    assert "Line of mole ratios" in label
    assert root.findtext(f"{SVG}title") == data.headline
    written = {text.text for text in root.iter(f"{SVG}text")}
    labels = {ray.label for ray in data.rays}
    assert labels <= written or (name == "sixty" and len(labels & written) >= 20)


def test_live_picture_has_an_opaque_background_and_legible_words() -> None:
    root = ElementTree.fromstring(live_svg(evidence("copper-silver"), width_px=640))
    background = root.find(f"{SVG}rect")
    assert background is not None
    assert background.get("fill") == "#ffffff"
    pixels = 640 / float((root.get("viewBox") or "").split()[2])
    sizes = {float(text.get("font-size") or 0) * pixels for text in root.iter(f"{SVG}text")}
    assert min(sizes) >= 10.5
    assert min(BODY, SMALL) * pixels >= 10.5


@pytest.mark.parametrize("document", [False, True])
def test_hostile_names_and_titles_stay_text(document: bool) -> None:
    picture, title = ResultPicture.of(evidence("hostile")), '"><script>alert("1")</script>'
    text = svg(picture, title=title, document=document)
    assert "<b>" not in text
    assert "&lt;b&gt;" in text
    assert "&amp;lt;img" in text
    assert "<script" not in text
    assert "-->" not in text
    root = ElementTree.fromstring(text.encode())
    assert root.findtext(f"{SVG}title") == title
    assert root.get("aria-label") == picture.alt_text


@pytest.mark.parametrize("kind", KINDS)
def test_every_picture_is_labelled_opaque_and_can_share_a_page(kind: str) -> None:
    picture = pictures()[kind]
    root = ElementTree.fromstring(svg(picture))
    assert root.get("role") == "img"
    assert root.get("aria-label") == picture.alt_text
    assert root.findtext(f"{SVG}title") == picture.title
    first = next(element for element in root if element.tag != f"{SVG}title")
    assert (first.tag, first.get("fill")) == (f"{SVG}rect", "#ffffff")
    assert not any({"id", "href"} & set(element.attrib) for element in root.iter())
    assert "url(" not in svg(picture)


def test_a_document_declares_its_encoding_and_describes_itself() -> None:
    picture = ResultPicture.of(evidence("hydrate-heating"))
    text = svg(picture, document=True)
    assert text.startswith('<?xml version="1.0" encoding="utf-8"?>\n<svg xmlns=')
    root = ElementTree.fromstring(text.encode())
    assert root.findtext(f"{SVG}desc") == picture.alt_text
    assert "H₂O" in picture.alt_text


def test_size_and_title_can_be_asked_for() -> None:
    picture = DecisionPicture.of(evidence("eight"))
    root = ElementTree.fromstring(svg(picture, width=400.0, height=300.0, width_px=800, title="t"))
    assert root.get("viewBox") == "0 0 400 300.0"
    assert (root.get("width"), root.get("height")) == ("800", "600")
    assert root.findtext(f"{SVG}title") == "t"


def test_same_data_give_the_same_picture() -> None:
    found = evidence("copper-silver")
    picture = ResultPicture(DecisionPicture.of(found), RatioPicture.of(found))
    assert svg(picture) == live_svg(found)


def test_svg_needs_no_matplotlib(tmp_path: Path) -> None:
    """Every picture as SVG, and a saved file, in a Python that has no matplotlib."""
    code = """
import sys

class Absent:
    def find_spec(self, name, path=None, target=None):
        if name.split(".")[0] == "matplotlib":
            raise ModuleNotFoundError("No module named 'matplotlib'", name="matplotlib")

sys.meta_path.insert(0, Absent())
from stoichkit import plots
from tests.plots.cases import KINDS, evidence, pictures
for kind in KINDS:
    assert plots.svg(pictures()[kind]).endswith("</svg>"), kind
lab = evidence("copper-silver")
assert plots.live_svg(lab).endswith("</svg>")
assert plots.save_picture(lab, sys.argv[1]).read_text("utf-8").endswith("</svg>\\n")
try:
    plots.result_figure(lab)
except ModuleNotFoundError:
    print("absent")
"""
    done = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path / "a.svg")],
        check=True,
        capture_output=True,
        text=True,
        cwd=Path(__file__).parents[2],
    )
    assert done.stdout == "absent\n"
