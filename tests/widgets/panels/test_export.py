"""What a panel shows, as a page that needs nothing else."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path
from typing import Any

import ipywidgets
import pytest

from stoichkit import experiments
from stoichkit.decision.statement import verdict_sentences
from stoichkit.errors import DataFileError
from stoichkit.widgets.kit.controls import Choice, Field, LiveText, Slider, close_tree, heading
from stoichkit.widgets.panels.balance import balance_panel
from stoichkit.widgets.panels.causes import causes_panel
from stoichkit.widgets.panels.classroom import class_panel
from stoichkit.widgets.panels.export import export_panel, panel_page
from stoichkit.widgets.panels.plan import plan_panel
from stoichkit.widgets.panels.readings import readings_panel
from stoichkit.widgets.panels.toolkit import toolkit
from stoichkit.widgets.panels.worked import worked_panel
from tests.widgets.pages import tree


def class_shown(name: str) -> ipywidgets.Widget:
    panel = class_panel(name)
    panel.state.open_invented()
    return panel


def toolkit_shown(name: str) -> ipywidgets.Widget:
    return toolkit(name, autosave=False)


MAKERS = {
    "readings": readings_panel,
    "balance": balance_panel,
    "plan": plan_panel,
    "causes": causes_panel,
    "class": class_shown,
    "worked": worked_panel,
    "toolkit": toolkit_shown,
}
VOID = {"meta", "br", "img", "input", "hr", "link"}


class Reader(HTMLParser):
    """Collects the elements of a page, and checks that every one is closed in its place."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.feed(page)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] != "style":
            self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())

    def tags(self, name: str) -> list[dict[str, str | None]]:
        return [attributes for tag, attributes in self.found if tag == name]


@pytest.fixture
def box() -> Iterator[Any]:
    """Return a function that puts widgets into a box, which is closed afterwards."""
    made = []

    def boxed(*widgets: ipywidgets.Widget) -> ipywidgets.VBox:
        made.append(ipywidgets.VBox(list(widgets)))
        return made[-1]

    yield boxed
    for one in made:
        close_tree(one)


@pytest.mark.parametrize("name", MAKERS)
def test_a_panel_becomes_a_page_that_needs_nothing_else(name: str) -> None:
    panel = MAKERS[name]("copper-silver")
    page = panel_page(panel)
    panel.close()
    read = Reader(page)
    assert [len(read.tags(tag)) for tag in ("h1", "main", "html")] == [1, 1, 1]
    assert re.search(r"<head>.*<title>[^<]+</title>.*</head>", page, re.DOTALL)
    for control in ("script", "button", "input", "textarea", "select", "link", "iframe", "form"):
        assert read.tags(control) == [], control
    assert not re.search(r"(?:src|href|url\()\s*=?\s*[\"']?(?:https?:)?//", page)
    policy = [m["content"] for m in read.tags("meta") if "http-equiv" in m]
    assert policy
    assert str(policy[0]).startswith("default-src 'none'")
    pictures = [s for s in read.tags("svg") if s.get("role") == "img"]
    assert pictures or name == "worked"
    assert all(len(str(picture["aria-label"])) > 40 for picture in pictures)
    assert read.tags("table")
    assert "cannot be shown" not in read.text
    assert str(Path.cwd()) not in page
    assert "save" not in read.text.lower().split()


@pytest.mark.parametrize("name", experiments.names())
def test_the_page_says_what_the_panel_says(name: str) -> None:
    panel = readings_panel(name)
    read = Reader(panel_page(panel))
    evidence = panel.state.evidence
    panel.close()
    assert " ".join(verdict_sentences(evidence).split()) in read.text
    for candidate in evidence.candidates:
        assert candidate in read.text
    for trial in evidence.experiment.trials:
        assert trial.name in read.text
    levels = [int(tag[1]) for tag, _ in read.found if re.fullmatch("h[1-6]", tag)]
    assert levels[0] == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))


def test_readings_stand_in_a_table_as_typed() -> None:
    panel = readings_panel("copper-silver")
    page = panel_page(panel)
    panel.close()
    table = page[page.index('<table class="stoichkit-typed">') :]
    table = table[: table.index("</table>")]
    rows = [re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row) for row in table.split("<tr>")[1:]]
    plain = [[re.sub(r"<[^>]+>", "", cell) for cell in row] for row in rows]
    assert plain[0] == ["Reading", "bench 1", "bench 2", "bench 3", "bench 4"]
    assert plain[1] == ["wire before, g", "2.94", "3.19", "3.14", "2.95"]
    assert len(plain) == 5


def test_typed_text_is_shown_and_not_obeyed(box: Any) -> None:
    area = LiveText(role="alert", text="<script>alert(1)</script>")
    field = Field("<i>label</i>", "<b>text</b>", lambda _: None, area)
    choice = ipywidgets.Dropdown(options=["<u>one</u>"], description="choice <")
    label = ipywidgets.Label("a < b")
    page = panel_page(box(area, field.box, choice, label), title="<h1>")
    for tag in ("<script", "<i>", "<b>", "<u>"):
        assert tag not in page
    for text in ("&lt;script&gt;", "&lt;b&gt;text&lt;/b&gt;", "&lt;u&gt;one", "a &lt; b"):
        assert text in page
    Reader(page)


def test_a_refusal_stays_beside_its_text() -> None:
    panel = readings_panel("copper-silver")
    (field,) = (
        w for w in tree(panel) if getattr(w, "description", "") == "bench 1: wire before, g"
    )
    field.value = "12 <eggs>"
    read = Reader(panel_page(panel))
    panel.close()
    assert "12 <eggs> Not used:" in read.text
    assert "Not updated: bench 1, wire before." in read.text


def test_each_kind_of_control_is_written_as_text(box: Any) -> None:
    slider = Slider("readability", [0.001, 0.01, 0.1], 0.01, lambda _: None, unit="g")
    refused = Slider("amount", [1.0, 2.0], 1.0, lambda _: None, unit="g")
    refused.type_text("9")
    parts = box(
        slider,
        refused,
        Choice("trial", [("all of them", ""), ("the first", "1")], "1"),
        ipywidgets.Checkbox(value=True, description="invented", indent=False),
        ipywidgets.FloatText(1.5, description="factor"),
        ipywidgets.RadioButtons(options=["a", "b"], value="b", description="which"),
        ipywidgets.SelectMultiple(options=["c", "d"], value=("c", "d"), description="some"),
        ipywidgets.Text("", description="nothing typed"),
        ipywidgets.Button(description="press"),
        ipywidgets.HTML("<p>seen</p>"),
        ipywidgets.HTML("<p>hidden</p>", layout={"display": "none"}),
    )
    read = Reader(panel_page(parts))
    for words in (
        "readability 0.01 g",
        "amount 9 Not used:",
        "trial the first",
        "invented yes",
        "factor 1.5",
        "which b",
        "some c, d",
        "nothing typed (empty)",
        "seen",
    ):
        assert words in read.text, words
    assert "press" not in read.text
    assert "hidden" not in read.text
    assert len(read.tags("dl")) == 1


def test_the_open_tab_and_every_fold_are_shown(box: Any) -> None:
    tabs = ipywidgets.Tab([ipywidgets.Label("first words"), ipywidgets.Label("second words")])
    tabs.titles = ("one", "two")
    tabs.selected_index = 1
    folds = ipywidgets.Accordion([ipywidgets.Label("third words")])
    folds.titles = ("three",)
    text = Reader(panel_page(box(tabs, folds))).text
    assert "two second words three third words" in text
    assert "first words" not in text
    titled = ipywidgets.Tab([ipywidgets.HTML("<h2>Own title</h2><p>words</p>")], titles=("tab",))
    titled.selected_index = 0
    assert "<h1>Own title</h1>" in panel_page(box(titled))


def test_headings_with_nothing_below_are_left_out(box: Any) -> None:
    save = ipywidgets.Button(description="Save")
    text = Reader(
        panel_page(box(heading("Kept"), ipywidgets.Label("words"), heading("Gone"), save))
    )
    assert "Kept" in text.text
    assert "Gone" not in text.text


def test_a_part_that_cannot_be_shown_is_named(box: Any) -> None:
    assert "cannot be shown here: Output" in panel_page(box(ipywidgets.Output()))


def test_a_file_is_written_whole_and_none_is_replaced_unasked(tmp_path: Path) -> None:
    panel = readings_panel("tin-oxide")
    path = export_panel(panel, tmp_path / "tin.html")
    assert path.read_text("utf-8") == panel_page(panel)
    path.write_text("mine", "utf-8")
    with pytest.raises(DataFileError, match="of that name already"):
        export_panel(panel, path)
    assert path.read_text("utf-8") == "mine"
    export_panel(panel, path, replace=True, title="Tin", language="de")
    page = path.read_text("utf-8")
    assert '<html lang="de">' in page
    assert "<h1>Tin</h1>" in page
    with pytest.raises(DataFileError, match=r"ends in \.html"):
        export_panel(panel, tmp_path / "tin.pdf")
    with pytest.raises(DataFileError, match="cannot be written"):
        export_panel(panel, tmp_path / "nowhere" / "tin.html")
    panel.close()
