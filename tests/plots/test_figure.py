"""Figures and files: every picture can be drawn, descriptions travel along, pyplot stays away."""

from __future__ import annotations

import io
import subprocess
import sys
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import matplotlib as mpl
import pytest
from matplotlib.figure import Figure
from PIL import Image

from stoichkit.errors import DataFileError, ModelError
from stoichkit.plots.budget import BudgetPicture
from stoichkit.plots.decision import DecisionPicture
from stoichkit.plots.ratio import RatioPicture
from stoichkit.plots.render import draw, svg
from stoichkit.plots.result import ResultPicture, png_bytes, result_figure, save_picture
from stoichkit.plots.scene import Ellipse, Line, Mark, Polygon, Words

from .cases import KINDS, NAMES, evidence, pictures

SVG = "{http://www.w3.org/2000/svg}"


@pytest.mark.parametrize("kind", KINDS)
def test_both_ways_draw_the_same_picture(kind: str) -> None:
    """Every word, line, area and mark, and the words in the same places."""
    picture = pictures()[kind]
    scene = picture.scene()
    figure = Figure(figsize=(scene.width / 72, scene.height / 72), dpi=96)
    ax = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    draw(ax, picture)
    root = ElementTree.fromstring(svg(picture, height=scene.height))
    written = list(root.iter(f"{SVG}text"))
    counted = {
        found: sum(isinstance(item, found) for item in scene.items)
        for found in (Words, Line, Polygon, Ellipse, Mark)
    }
    assert len(ax.texts) == len(written) == counted[Words]
    assert len(ax.lines) == counted[Line] + counted[Mark]
    assert len(ax.patches) == counted[Polygon] + counted[Ellipse]
    assert len(list(root.iter(f"{SVG}polyline"))) == counted[Line]
    assert len(list(root.iter(f"{SVG}polygon"))) == counted[Polygon]
    curved = [len(list(root.iter(f"{SVG}{tag}"))) for tag in ("path", "circle")]
    assert sum(curved) == counted[Ellipse] + counted[Mark]
    for drawn, element in zip(ax.texts, written, strict=True):
        assert drawn.get_text() == element.text
        x, y = drawn.get_transform().transform(drawn.get_position()) * 72 / 96
        place = float(element.get("x", "nan")), float(element.get("y", "nan"))
        assert (x, scene.height - y) == pytest.approx(place, abs=0.06)


@pytest.mark.parametrize("name", NAMES)
def test_every_case_can_be_drawn(name: str) -> None:
    picture = Image.open(io.BytesIO(png_bytes(result_figure(evidence(name)), dpi=48)))
    assert picture.size[0] == 320
    greys = picture.convert("L").tobytes()
    assert min(greys) < 60
    assert max(greys) == 255
    assert picture.convert("RGBA").getchannel("A").getextrema() == (255, 255)


def test_figure_fits_a_page_and_640_pixels() -> None:
    for name in NAMES:
        width, height = result_figure(evidence(name)).get_size_inches()
        assert width * 96 == pytest.approx(640)
        # A4 is 11.7 inches high; names beyond all measure may take the margins too
        assert height < (11.2 if name == "hostile" else 10.5), name


def test_bare_axes_are_in_data_coordinates() -> None:
    data = DecisionPicture.of(evidence("copper-silver"))
    figure = Figure(figsize=(5.0, 4.0), dpi=96)
    ax = figure.add_subplot()
    draw(ax, data)
    assert data.mean is not None
    diamonds = [m for m in ax.lines if m.get_marker() == "D"]
    places = [m.get_transform().transform(m.get_xydata())[0] for m in diamonds]
    expected = ax.transData.transform((data.mean.consumed_mmol, data.mean.produced_mmol))
    assert any(place == pytest.approx(expected, abs=0.01) for place in places)


def test_ratio_and_budget_can_be_drawn_on_bare_axes() -> None:
    found = evidence("open")
    figure = Figure(figsize=(6.0, 6.0))
    upper, lower = figure.subplots(2, 1)
    draw(upper, RatioPicture.of(found))
    draw(lower, BudgetPicture.of(found))
    assert upper.texts
    assert lower.patches
    low, high = upper.get_xlim()
    assert low < 0 < RatioPicture.of(found).end < high


def test_png_carries_title_and_description(tmp_path: Path) -> None:
    found = evidence("hydrate-heating")
    path = save_picture(found, tmp_path / "a.PNG", dpi=96)
    with Image.open(path) as picture:
        assert picture.format == "PNG"
        text = picture.info
    assert text["Title"] == found.experiment.title
    assert text["Description"] == ResultPicture.of(found).alt_text
    assert "H₂O" in text["Description"]


def test_svg_file_carries_title_and_description(tmp_path: Path) -> None:
    found = evidence("hostile")
    path = save_picture(found, str(tmp_path / "a.svg"))
    root = ElementTree.parse(path).getroot()
    assert root.findtext(f"{SVG}title") == found.experiment.title
    assert root.findtext(f"{SVG}desc") == ResultPicture.of(found).alt_text


def test_other_forms_are_refused(tmp_path: Path) -> None:
    with pytest.raises(DataFileError, match=r"ends in \.png or \.svg"):
        save_picture(evidence("open"), tmp_path / "a.jpg")
    with pytest.raises(ModelError, match="30 to 1200"):
        save_picture(evidence("open"), tmp_path / "a.png", dpi=5)
    assert not list(tmp_path.iterdir())


def test_whole_description_has_all_three_pictures() -> None:
    text = ResultPicture.of(evidence("copper-silver")).alt_text
    for start in ("Amounts plane.", "Line of mole ratios", "Bars:"):
        assert start in text


def test_settings_of_the_user_do_not_change_the_picture() -> None:
    plain = png_bytes(result_figure(evidence("copper-silver")), dpi=48)
    theirs: Any = {
        "figure.autolayout": True,
        "savefig.transparent": True,
        "savefig.bbox": "tight",
        "lines.scale_dashes": False,
        "axes.facecolor": "black",
        "text.color": "white",
    }
    with mpl.rc_context(theirs):
        changed = png_bytes(result_figure(evidence("copper-silver")), dpi=48)
    assert changed == plain


def test_pyplot_is_never_imported_and_matplotlib_only_to_draw(tmp_path: Path) -> None:
    code = """
import sys
from stoichkit import experiments
from stoichkit.decision.evidence import assess
from stoichkit import plots
found = assess(experiments.load("copper-silver"))
plots.live_svg(found)
plots.ResultPicture.of(found).alt_text
plots.save_picture(found, sys.argv[1])
assert "matplotlib" not in sys.modules
plots.png_bytes(plots.result_figure(found))
assert "matplotlib" in sys.modules
assert "matplotlib.pyplot" not in sys.modules
"""
    subprocess.run([sys.executable, "-c", code, str(tmp_path / "a.svg")], check=True)
