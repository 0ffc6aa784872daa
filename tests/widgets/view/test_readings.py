"""The screen “Readings”: what goes out for what is typed, without a page."""

from __future__ import annotations

import base64
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

import stoichkit
from stoichkit import assess, experiments
from stoichkit.decision.statement import statement_of
from stoichkit.widgets.state.lab import LabState
from stoichkit.widgets.state.readings import snapshot_from, snapshot_tables
from stoichkit.widgets.view import readings
from stoichkit.widgets.view.blocks import Builder
from stoichkit.widgets.view.frame import Frame
from stoichkit.widgets.view.head import Head
from stoichkit.widgets.view.readings import ReadingsScreen


class Page:
    """A page that keeps what was sent, as the real one does."""

    def __init__(self, name: str = "copper-silver") -> None:
        self.lab = LabState(name, autosave=False)
        screen, head = ReadingsScreen(self.lab), Head(self.lab)
        self.frame = Frame(
            [screen], head=head.region, send=self.receive, left=self.lab.history.settle
        )
        screen.frame = head.frame = self.frame
        self.regions: dict[str, Any] = {}
        self.files: list[dict[str, str]] = []
        self.said = ""
        self.number = 0
        self.do("ready")

    def receive(self, answer: dict[str, Any]) -> None:
        self.regions |= answer["regions"]
        self.files += answer["files"]
        self.said = answer["said"]["text"] or self.said

    def do(self, action: str, **arguments: Any) -> None:
        self.number += 1
        self.said = ""
        self.frame.act({"page": "p", "number": self.number, "name": action, "arguments": arguments})

    def cells(self, row: int, column: int, *texts: list[str]) -> None:
        self.do("cells", id="sheet", row=row, column=column, to=list(texts))

    def block(self, region: str, kind: str) -> dict[str, Any]:
        return next(one for one in walk(self.regions[region]) if one.get("kind") == kind)

    @property
    def sheet(self) -> dict[str, Any]:
        return next(one for one in walk(self.regions["sheet"]) if one.get("id") == "sheet")

    @property
    def verdict(self) -> dict[str, Any]:
        return self.block("verdict", "verdict")


def walk(blocks: list[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    for one in blocks:
        yield one
        yield from walk(one.get("blocks", []))


def texts(blocks: list[dict[str, Any]]) -> str:
    return " ".join(one.get("text", "") for one in walk(blocks))


@pytest.fixture
def page() -> Page:
    return Page()


@pytest.mark.parametrize("name", experiments.names())
def test_headline_rows_and_picture_are_of_one_record(name: str) -> None:
    page = Page(name)
    evidence = assess(experiments.load(name))
    said = statement_of(evidence)
    assert page.verdict["headline"] == said.headline
    rows = page.block("candidates", "candidates")["rows"]
    assert {one["name"]: one["standing"] for one in rows} == {
        k: v.status for k, v in said.standings.items()
    }
    assert [one["share"] for one in rows] == pytest.approx(
        [c.p_value for c in evidence.candidates.values()]
    )
    picture = page.block("picture", "picture")
    assert said.names == () or all(n in picture["alt"] for n in said.names)
    assert {spot["name"] for spot in picture["spots"] if spot["drag"]} == {
        t.name for t in evidence.experiment.trials
    }


def test_ratios_beside_the_rows_are_those_worked_out_by_hand(page: Page) -> None:
    # (1.15 - 0.75)/107.868 / ((2.94 - 2.82)/63.546) = 1.964
    assert page.sheet["rows"][0]["result"].startswith("1.96 ")
    assert page.sheet["result"] == "n(Ag)/n(Cu)"


def test_typing_changes_the_answer_and_keeps_the_text(page: Page) -> None:
    page.cells(0, 0, ["2,95 "])
    assert page.sheet["rows"][0]["cells"][0]["text"] == "2,95 "
    assert page.lab.evidence.experiment.trials[0].readings["wire before"] == ("2,95",)


def test_a_refused_cell_keeps_its_text_and_the_answer_waits(page: Page) -> None:
    before = page.verdict["headline"]
    page.cells(0, 0, ["2.9x"])
    cell = page.sheet["rows"][0]["cells"][0]
    assert cell["text"] == "2.9x"
    assert "letters" in cell["refusal"]
    assert page.verdict["look"] == "waits"
    assert page.verdict["headline"] == before
    assert "Waits for bench 1, wire before" in texts(page.regions["verdict"][0]["blocks"])
    assert page.block("candidates", "candidates")["stale"]
    assert page.block("picture", "picture")["stale"]
    assert page.sheet["rows"][0]["result"] == ""
    page.cells(0, 0, ["2.94"])
    assert page.verdict["look"] == "current"
    assert not page.block("picture", "picture")["stale"]


def test_a_block_is_pasted_and_the_sheet_grows(page: Page) -> None:
    page.cells(3, 0, ["2.90", "2.78", "0.70", "1.10"], ["2,91", "2,79", "0,71", "1,11"])
    assert len(page.sheet["rows"]) == 5
    assert page.sheet["rows"][4]["name"] == "bench 5"
    assert [c["text"] for c in page.sheet["rows"][4]["cells"]] == ["2,91", "2,79", "0,71", "1,11"]
    assert len(page.lab.evidence.amounts) == 5
    page.do("press", id="undo")
    assert len(page.sheet["rows"]) == 4
    assert page.sheet["rows"][3]["cells"][0]["text"] == "2.95"


def test_a_block_that_does_not_fit_changes_nothing(page: Page) -> None:
    page.cells(0, 3, ["1", "2"])
    assert "wider than the sheet" in page.said
    assert page.sheet["rows"][0]["cells"][3]["text"] == "1.15"
    page.cells(199, 0, ["1"], ["2"])
    assert "too many trials" in page.said


def test_two_hundred_trials_are_taken(page: Page) -> None:
    rows = [["2.94", "2.82", "0.75", "1.15"]] * 200
    page.cells(0, 0, *rows)
    assert len(page.sheet["rows"]) == 200
    assert page.verdict["look"] == "current"


def test_up_to_sixty_trials_have_ratios_beside_them_and_can_be_dragged(
    page: Page, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Looked at with four for sixty, the trials of the lab, which takes a tenth of the time."""
    assert readings._MOST_RATIOS == 60
    monkeypatch.setattr(readings, "_MOST_RATIOS", 4)
    page.do("ready")  # the page is made anew
    assert [s["drag"] for s in page.block("picture", "picture")["spots"] if s["name"]] == [True] * 4
    assert all(one["result"] for one in page.sheet["rows"])
    page.cells(4, 0, ["2.94", "2.82", "0.75", "1.15"])
    spots = page.block("picture", "picture")["spots"]
    assert [s["drag"] for s in spots if s["name"]] == [False] * 5
    assert [bool(one["result"]) for one in page.sheet["rows"]] == [True] * 4 + [False]


def test_the_picture_is_up_to_1200_pixels_wide_and_stays_within_its_heights(page: Page) -> None:
    """Three CSS pixels are two points: 1200 are 800 points, 320 (the least) are 213.3."""
    for width_px, size in ((1300, (800, 285)), (1200, (800, 285)), (300, (213.3, 250))):
        page.do("pick", id="picture:width", to=width_px)
        picture = page.block("picture", "picture")
        assert (picture["width"], picture["height"]) == size


def test_the_field_of_candidates_has_two_to_eight_lines() -> None:
    lab = LabState("copper-silver", autosave=False)
    screen = ReadingsScreen(lab)
    for candidates, lines in ((1, 2), (3, 3), (9, 8)):
        lab.readings.set_candidates("\n".join(f"c{n} = {n}" for n in range(1, candidates + 1)))
        (field,) = (b for b in screen.what_was_weighed(Builder()) if b["kind"] == "field")
        assert field["lines"] == lines


def test_what_is_looked_at_is_said_before_what_is_refused(page: Page) -> None:
    step = page.block("step", "step")
    page.do("step", id="step", to=step["words"].index("0.1 g"))
    page.cells(0, 0, ["x"])
    said = [one["role"] for one in walk(page.regions["verdict"]) if one["kind"] == "words"]
    assert said[:2] == ["strong", "refusal"]


def test_the_two_newest_notes_of_the_lab_are_shown(page: Page) -> None:
    page.lab.kit.notes += ["first note", "second note", "third note"]
    page.do("left")
    said = [one.get("text") for one in walk(page.regions["head"]) if one.get("role") == "note"]
    assert said == ["second note", "third note"]


def test_settings_open_in_place_and_are_refused_there(page: Page) -> None:
    page.do("set", id="balance:step", to="0.1")
    assert page.lab.evidence.experiment.instruments["balance"].readability == 0.1
    page.do("set", id="balance:step", to="zero")
    chip = next(c for c in walk(page.regions["chips"]) if c.get("id") == "chip:balance")
    assert chip["refused"]
    assert page.verdict["look"] == "waits"


def test_variation_can_be_typed(page: Page) -> None:
    page.do("set", id="variation", to="unknown")
    assert page.lab.experiment.variation.unknown
    chip = next(c for c in walk(page.regions["chips"]) if c.get("id") == "chip:variation")
    assert chip["text"] == "may differ, by how much is unknown"
    page.do("set", id="variation", to="2 % from 8 trials")
    assert page.lab.experiment.variation.relative == 0.02
    assert page.lab.experiment.variation.from_trials == 8
    page.do("set", id="variation", to="-1")
    assert page.verdict["look"] == "waits"
    page.do("set", id="variation", to="")
    assert page.lab.experiment.variation is None


def test_another_balance_is_tried_and_left_again(page: Page) -> None:
    step = page.block("step", "step")
    assert step["words"][step["value"]] == "0.01 g (mine)"
    page.do("step", id="step", to=step["words"].index("0.1 g"))
    assert page.verdict["look"] == "what if"
    assert page.sheet["rows"][0]["cells"][0] == {
        "text": "2.9", "refusal": "", "mark": "what if", "note": "typed: 2.94", "lines": 0,
    }  # fmt: skip
    page.do("press", id="back")
    assert page.verdict["look"] == "current"
    assert page.sheet["rows"][0]["cells"][0]["text"] == "2.94"


def test_a_finer_balance_says_what_it_could_have_told() -> None:
    page = Page("copper-silver-coarse")
    words = page.block("step", "step")["words"]
    page.do("step", id="step", to=words.index("0.01 g"))
    assert page.verdict["look"] == "current"
    assert "Of labs with these amounts on it" in texts(page.regions["could"])


def test_a_trial_is_dragged_and_one_undo_brings_it_back(page: Page) -> None:
    for x in (1.9, 1.95, 2.0):
        page.do("move", id="picture:move", spot="bench 1", x=x, y=4.0)
    assert page.sheet["rows"][0]["cells"][1]["mark"] == "what if"
    assert page.sheet["rows"][0]["cells"][1]["text"] == "2.81"
    page.do("press", id="undo")
    assert page.sheet["rows"][0]["cells"][1]["mark"] == ""
    assert page.sheet["rows"][0]["cells"][1]["text"] == "2.82"


def test_a_slip_is_named_marked_and_shown_corrected(page: Page) -> None:
    page.cells(2, 0, ["1.34"])
    assert "3.14" in texts(page.regions["slips"])
    page.do("press", id="slip:0")
    assert page.sheet["rows"][2]["cells"][0]["text"] == "3.14"
    assert page.verdict["headline"].startswith("These readings single out copper(II)")
    page.do("press", id="back")
    assert page.sheet["rows"][2]["cells"][0]["text"] == "1.34"
    assert page.sheet["rows"][2]["cells"][0]["mark"] == "suspect"


def test_the_lab_and_the_picture_are_handed_over(page: Page) -> None:
    page.do("press", id="download")
    page.do("set", id="picture:save", to="svg")
    names = [one["name"] for one in page.files]
    assert names == ["my-copper-silver.toml", "copper-silver-amounts.svg"]
    page.cells(0, 0, ["2.9x"])
    page.do("press", id="download")
    assert "cannot be saved yet" in page.said
    assert len(page.files) == 2


def test_undo_and_redo_say_what_they_would_do(page: Page) -> None:
    page.cells(0, 0, ["2.95"])
    head = [one for one in walk(page.regions["head"]) if one.get("id") == "undo"]
    assert head[0]["spoken"] == "Undo: typed wire before, bench 1"
    page.do("press", id="undo")
    page.do("press", id="redo")
    assert page.sheet["rows"][0]["cells"][0]["text"] == "2.95"


def test_a_lab_is_opened_from_a_list_a_file_and_a_text(page: Page) -> None:
    page.do("set", id="start", to="tin-oxide")
    assert page.lab.readings.name == "tin-oxide"
    data = experiments.load("hydrate-heating").to_toml()
    page.do("file", id="upload", name="mine.toml", base64=base64.b64encode(data.encode()).decode())
    assert page.lab.readings.name == "mine.toml"
    assert page.lab.readings.experiment == experiments.load("hydrate-heating")
    page.do("set", id="text", to=experiments.load("magnesium-gas").to_toml())
    page.do("press", id="read")
    assert page.lab.readings.experiment == experiments.load("magnesium-gas")
    page.do("press", id="undo")
    assert page.lab.readings.name == "mine.toml"


@pytest.mark.parametrize("data", [b"\xff\xfe", b"not a lab", b"x" * 1_000_001])
def test_a_file_that_is_no_lab_is_refused_and_changes_nothing(page: Page, data: bytes) -> None:
    page.do("file", id="upload", name="x.toml", base64=base64.b64encode(data).decode())
    assert page.said
    assert page.lab.readings.name == "copper-silver"


def test_the_lab_is_saved_beside_the_notebook(
    page: Page, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    page.do("set", id="path", to="mine.toml")
    page.do("press", id="write")
    assert "Saved: " in page.said
    assert stoichkit.load_experiment(tmp_path / "mine.toml") == experiments.load("copper-silver")
    (tmp_path / "other.toml").write_text("kept")
    page.do("set", id="path", to="other.toml")
    page.do("press", id="write")
    assert "exists already" in page.said
    assert (tmp_path / "other.toml").read_text() == "kept"


def test_the_page_to_hand_in_is_of_what_is_typed(page: Page) -> None:
    page.do("press", id="hand-in")
    (made,) = page.files
    html = base64.b64decode(made["base64"]).decode()
    assert made["name"] == "copper-silver-hand-in.html"
    assert page.verdict["headline"].split(".")[0] in html
    assert "<script" not in html
    page.cells(0, 0, ["2.9x"])
    page.do("press", id="hand-in")
    assert "no page to hand in yet" in page.said
    assert len(page.files) == 1


def test_trials_are_weighed_on_balances_of_their_own(page: Page) -> None:
    """Another balance brings a column that takes its name, its number or its step."""
    page.do("press", id="balance:another")
    assert page.sheet["columns"][-1] == {"label": "weighed on", "unit": ""}
    assert page.lab.history.can_undo
    page.do("set", id="balance 2:step", to="0.001")
    for typed in ("2", "Balance 2", "0.001", "0,001 g"):
        page.cells(0, 4, [typed])
        assert dict(page.lab.readings.experiment.trials[0].instruments) == {"balance": "balance 2"}
    page.cells(0, 4, ["the blue one"])
    refused = page.sheet["rows"][0]["cells"][4]
    assert refused["text"] == "the blue one"
    assert "There is no balance of this name. Allowed: 1 or balance, 2 or balance 2." in str(
        refused["refusal"]
    )
    assert page.lab.waits
    page.cells(0, 4, [""])
    assert dict(page.lab.readings.experiment.trials[0].instruments) == {}
    page.do("press", id="balance 2:gone")
    assert len(page.sheet["columns"]) == 4
    page.lab.history.undo()
    assert page.lab.readings.form.balances["balance 2"].readability_g == "0.001"


def test_a_kept_lab_brings_back_the_balance_of_each_trial(page: Page) -> None:
    page.do("press", id="balance:another")
    page.cells(1, 4, ["2"])
    kept = snapshot_tables(page.lab.readings.snapshot())
    other = Page("tin-oxide")
    other.lab.readings.restore(snapshot_from(json.loads(json.dumps(kept))))
    assert dict(other.lab.readings.experiment.trials[1].instruments) == {"balance": "balance 2"}
    page.do("press", id="add")
    assert page.sheet["rows"][-1]["cells"][4]["text"] == ""
    assert page.lab.readings.outcome.left_out == ("bench 5",)
