"""The screen “Class”: what goes out for what is opened, chosen and saved, without a page."""

from __future__ import annotations

import asyncio
import base64
import csv
import io
import json
import os
from collections import defaultdict
from collections.abc import Callable, Iterator
from pathlib import Path
from statistics import fmean
from types import SimpleNamespace
from typing import Any

import openpyxl
import pytest

from stoichkit import assess_class, experiments
from stoichkit.reports.classroom import class_report
from stoichkit.widgets.state import classroom as states
from stoichkit.widgets.state.class_files import KINDS
from stoichkit.widgets.state.classroom import GroupTable
from stoichkit.widgets.state.lab import LabState
from stoichkit.widgets.view import classroom as screens
from stoichkit.widgets.view.classroom import HIDDEN, ClassScreen
from stoichkit.widgets.view.frame import Frame
from stoichkit.widgets.view.head import Head
from stoichkit.widgets.view.readings import ReadingsScreen
from tests import clocks
from tests.classfiles import HEADER, ROWS, class_bytes, csv_bytes, xlsx_bytes

NAMES = ("amber", "coral", "fern", "heron", "indigo", "lilac", "plum", "slate", "teal")
CU, AG = 63.546, 107.868
"""Standard atomic weights (IUPAC), from memory."""


class Page:
    """A page that keeps what was sent, as the real one does."""

    def __init__(self, name: str = "copper-silver", **more: Any) -> None:
        self.lab = LabState(name, **{"autosave": False, **more})
        self.screen, head = ClassScreen(self.lab), Head(self.lab)
        readings = ReadingsScreen(self.lab)
        self.frame = Frame(
            [self.screen, readings], head=head.region, send=self.receive,
            left=self.lab.history.settle,
        )  # fmt: skip
        self.screen.frame = head.frame = readings.frame = self.frame
        self.regions: dict[str, Any] = {}
        self.files: list[tuple[str, bytes]] = []
        self.said = ""
        self.number = self.answers = 0
        self.do("ready")

    def receive(self, answer: dict[str, Any]) -> None:
        self.answers += 1
        json.dumps(answer)
        self.regions |= answer["regions"]
        self.files += [(f["name"], base64.b64decode(f["base64"])) for f in answer["files"]]
        self.said = answer["said"]["text"] or self.said

    def do(self, action: str, **arguments: Any) -> None:
        self.number += 1
        self.said = ""
        self.frame.act({"page": "p", "number": self.number, "name": action, "arguments": arguments})

    def press(self, name: str) -> None:
        self.do("press", id=name)

    def set(self, name: str, to: str) -> None:
        self.do("set", id=name, to=to)

    def upload(self, content: bytes, name: str = "class.csv") -> None:
        self.do("file", id="class-file", name=name, base64=base64.b64encode(content).decode())

    @property
    def headline(self) -> str:
        return str(next(b for b in walk(self.regions["verdict"]) if "headline" in b)["headline"])

    @property
    def table(self) -> dict[str, Any]:
        return next(b for b in walk(self.regions["groups"]) if b["kind"] == "table")

    @property
    def text(self) -> str:
        """All that is on the screen, with what is not opened."""
        return json.dumps(self.regions, ensure_ascii=False)

    def control(self, name: str) -> dict[str, Any]:
        blocks = [b for region in self.regions.values() for b in walk(region)]
        return next(b for b in blocks if b.get("id") == name)


def walk(blocks: list[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    for one in blocks:
        yield one
        yield from walk(one.get("blocks", []))


@pytest.fixture
def page() -> Page:
    return Page()


@pytest.fixture
def shown(page: Page) -> Page:
    page.press("invented")
    return page


# Opening and reading a file


def test_it_opens_empty(page: Page) -> None:
    assert page.headline == "Open the file of a class, or the invented one."
    assert page.regions["groups"] == page.regions["hand"] == page.regions["picture"] == []
    page.press("class-open")
    assert "No file is named." in page.said


def test_a_lab_without_an_invented_class_is_not_told_to_open_one() -> None:
    page = Page("tin-oxide")
    assert page.headline == "Open the file of a class."
    assert "Open the invented class" not in json.dumps(page.regions)


def test_the_invented_class_is_shown_whole(shown: Page) -> None:
    alone = assess_class(experiments.class_file(), "copper-silver")
    assert shown.said == ""
    shown.press("together")
    assert shown.headline == (
        "Together the 9 groups single out copper(II). Copper(I) is excluded (p < 0.0001)."
    )
    rows = next(b for b in shown.regions["candidates"] if b["kind"] == "candidates")["rows"]
    tested = alone.verdict.candidates
    assert [(r["name"], r["share"], r["standing"]) for r in rows] == [
        (name, c.p_value, "fits" if c.p_value >= 0.05 else "excluded") for name, c in tested.items()
    ]
    assert [r["p"] for r in rows] == ["p < 0.0001", f"p = {tested['copper(II)'].p_value:.2f}"]
    for words in (
        "20 rows: 17 used, 2 set aside, 1 header", "The cell is empty.", "two digits may be",
        "Paule-Mandel", "the line meets the axis", "More groups: not needed", "plum: verdict",
        "It hangs on no few groups: 7 of 9", "Read this verdict with care",
        "What this group should have calculated", "Worked solution", "Cautions",
    ):  # fmt: skip
        assert words in shown.text
    titles = [b["title"] for r in shown.regions.values() for b in walk(r) if b["kind"] == "picture"]
    assert len(titles) == 3
    paper = shown.control("column:paper")["options"][0]
    assert paper == ["automatic", "by its header: E (paper / g)"]
    assert not any(b["kind"] == "progress" for b in walk(shown.regions["verdict"]))


def test_the_table_says_what_the_readings_give(shown: Page) -> None:
    """Ratios of mean amounts and yields, by hand from the masses of the file."""
    masses: dict[str, list[tuple[float, float]]] = defaultdict(list)
    for row in csv.DictReader(io.StringIO(experiments.class_file().decode())):
        try:
            a, b, c, d = (float(row[f"{name} / g"]) for name in
                          ("wire before", "wire after", "paper", "paper + silver"))  # fmt: skip
        except (TypeError, ValueError):
            continue
        masses[row["group"]].append(((a - b) / CU, (d - c) / AG))
    header, rows = shown.table["header"], shown.table["rows"]
    assert header[3] == "n(Ag)/n(Cu)"
    assert [row[0] for row in rows] == list(NAMES) == list(masses)
    for name, trials, verdict, ratio, _, _, percent, _ in rows:
        found = fmean(b for _, b in masses[name]) / fmean(a for a, _ in masses[name])
        assert float(ratio) == pytest.approx(found, abs=0.0051)
        assert int(trials) == len(masses[name])
        if verdict == "copper(II) singled out":
            assert float(percent.removesuffix(" %")) == pytest.approx(50 * found, abs=0.06)
    place = header.index("Not excluded")
    not_excluded = {row[0]: row[place] for row in rows}
    assert not_excluded["plum"] == "every ratio"  # it can tell nothing
    low, high = map(float, not_excluded["teal"].split(" to "))
    assert low < float(rows[8][3]) < high
    assert rows[6][-1] == "stands out, slip?"
    assert shown.table["looks"][6] == "warning"
    assert shown.table["selected"] == 6


def test_a_column_is_put_right(page: Page) -> None:
    page.upload(csv_bytes(header=("group", "trial", "before", *HEADER[3:])))
    assert "No column was found for “wire before”." in page.text
    assert page.headline == "There is no verdict yet."
    assert page.regions["groups"] == []
    page.set("column:wire before", "C")
    assert "single out copper(II)" in page.headline
    assert page.control("column:wire before")["value"] == "C"
    page.set("column:paper", "C")
    assert "Column C is chosen for" in page.text
    assert page.control("column:paper")["value"] == "C"
    page.set("column:paper", "Z")
    assert "This is not offered here." in page.said


def test_a_workbook_has_a_sheet_to_choose(page: Page) -> None:
    page.upload(csv_bytes())
    with pytest.raises(StopIteration):
        page.control("sheet")
    page.upload(xlsx_bytes(), "class.xlsx")
    page.set("sheet", "Second")
    assert "There is no sheet of that name." in page.text
    assert page.control("sheet")["text"] == "Second"
    page.set("sheet", "Sheet")
    assert "single out" in page.headline


def test_what_cannot_be_read_leaves_the_class_as_it_is(shown: Page, tmp_path: Path) -> None:
    shown.upload(b"%PDF-1.4 nothing")
    assert "PDF" in shown.said
    shown.set("class-path", "no such file.csv")
    shown.press("class-open")
    assert "There is no such file." in shown.said
    assert shown.control("class-path")["text"] == "no such file.csv"
    assert shown.headline.startswith("Together the 9 groups")
    path = tmp_path / "mine.csv"
    path.write_bytes(csv_bytes())
    shown.set("class-path", str(path))
    shown.press("class-open")
    assert shown.headline.startswith("Together the 3 groups")
    shown.press("close")
    assert shown.regions["groups"] == []
    assert shown.control("class-file")["kind"] == "file"


def test_codes_leave_no_name_anywhere(page: Page) -> None:
    called = {"red": "Quillon", "blue": "Zorah", "green": "Ynezia"}
    rows = [(called[row[0]], *row[1:], "Adalind") for row in ROWS]
    rows.append(("Quillon", "3", "2.9x", "2.82", "0.75", "1.15", "Adalind"))
    names = (*called.values(), "Adalind")
    page.upload(csv_bytes(rows, (*HEADER, "what Adalind said")), "tuesday of Adalind.csv")
    page.press("together")
    assert all(name in page.text for name in names)
    page.set("part", "Quill")
    page.do("tick", id="codes", to=True)
    assert not [name for name in names if name[:5] in page.text]
    assert HIDDEN in page.text
    assert [row[0] for row in page.table["rows"]] == ["G01", "G02", "G03"]
    for name in page.lab.classroom.result.evidence.names:
        page.set("group", name)
        assert not [name for name in names if name[:5] in page.text]
    page.upload(b"nobody\nAdalind,1\n", "x.csv")
    assert "Adalind" not in page.text
    assert "No row of the file names a reading" in page.text


# Variation between groups


def test_how_much_groups_differ_decides_as_stated(shown: Page) -> None:
    assert shown.control("variation")["label"] == "By how much groups truly differ"

    def p_values() -> list[float]:
        rows = next(b for b in shown.regions["candidates"] if b["kind"] == "candidates")["rows"]
        return [row["share"] for row in rows]

    for text in ("unknown", "4 %", "none"):
        shown.set("variation", text)
        alone = assess_class(experiments.class_file(), "copper-silver", variation=text)
        wanted = [c.p_value for c in alone.verdict.candidates.values()]
        assert p_values() == wanted, text
    shown.set("variation", "a lot")
    field = shown.control("variation")
    assert field["text"] == "a lot"
    assert "does not say how much the groups differ" in field["refusal"]
    assert shown.control("chip:variation")["refused"]
    card = shown.regions["verdict"][0]  # the last one, greyed
    assert card["look"] == "waits"
    assert "as it was read before" in json.dumps(card)


# Groups


def test_groups_are_put_in_order_found_and_chosen(shown: Page) -> None:
    shown.set("order", GroupTable.ORDERS[2])
    ratios = [float(row[3]) for row in shown.table["rows"]]
    assert ratios == sorted(ratios)
    shown.do("pick", id="pick", to=8)
    assert "amber: verdict" in shown.text
    assert shown.table["selected"] == 8
    assert shown.control("group")["value"] == "amber"
    shown.set("group", "teal")
    assert "teal: verdict" in shown.text
    shown.set("part", "SLA")
    assert [row[0] for row in shown.table["rows"]] == ["slate"]
    assert shown.table["selected"] == -1
    assert [value for value, _ in shown.control("group")["options"]] == ["teal", "slate"]
    shown.set("part", "nobody")
    assert "No group has a name that holds this text." in shown.text
    shown.set("part", "")
    shown.do("pick", id="pick", to=9)
    assert "There is no such place." in shown.said


def test_a_large_class_is_shown_200_at_a_time(page: Page, monkeypatch: pytest.MonkeyPatch) -> None:
    assert GroupTable.STEP == 200
    monkeypatch.setattr(GroupTable, "STEP", 5)
    page.press("invented")
    assert page.table["caption"].startswith("5 of 9 groups")
    page.press("more")
    assert page.table["caption"] == "9 groups, as in the file"
    with pytest.raises(StopIteration):
        page.control("more")


def test_one_group_alone_and_one_that_cannot_be_assessed(page: Page) -> None:
    page.upload(csv_bytes(ROWS[:2]))
    assert page.headline == "There is no verdict of the class as a whole"
    assert "By itself red singles out" in page.text
    said = json.dumps(page.regions["verdict"])
    assert said.count("By itself red singles out") == 1  # not once more as of all groups
    assert page.table["caption"] == "1 group, as in the file"
    assert page.regions["candidates"] == []
    assert len(page.table["rows"]) == 1
    assert "Straight line" not in page.text
    page.upload(csv_bytes(ROWS[:4]))
    assert "Each by itself: " in json.dumps(page.regions["verdict"])
    assert " of 2 groups single" in json.dumps(page.regions["verdict"])


# What is handed out


@pytest.mark.parametrize("kind", KINDS)
def test_each_thing_is_handed_over_in_each_form(shown: Page, kind: str) -> None:
    shown.do("tick", id="codes", to=True)
    shown.set("kind", kind)
    assert ("Keep it apart" in shown.text) == (kind == "codes")
    for ending, _ in shown.control("ending")["options"]:
        shown.set("ending", ending)
        shown.press("hand")
        name, content = shown.files[-1]
        assert name == Path(KINDS[kind].name).with_suffix(ending).name
        assert f"{name} was handed to the browser" in shown.said
        if ending == ".xlsx":
            book = openpyxl.load_workbook(io.BytesIO(content), read_only=True)
            content = "\n".join(str(c) for r in book.worksheets[0].values for c in r).encode()
        text = content.decode("utf-8-sig")
        wanted = {"results": "copper(II)", "key": "wire before", "report": "Copper wire in",
                  "group": "Copper wire in", "rows": "set aside", "codes": "plum",
                  "choices": "format = 1"}  # fmt: skip
        assert wanted[kind] in text
        assert ("plum" in text) == (kind == "codes")
    assert len(shown.files) == len(KINDS[kind].endings)


def test_results_handed_over_hold_no_formula_and_the_marks_chosen(page: Page) -> None:
    rows = [("=HYPERLINK(1)" if row[0] == "red" else row[0], *row[1:]) for row in ROWS]
    page.upload(csv_bytes(rows))
    page.set("kind", "results")
    page.set("ending", ".csv")
    page.set("marks", page.control("marks")["options"][1][0])
    page.press("hand")
    read = list(csv.reader(page.files[-1][1].decode("utf-8-sig").splitlines(), delimiter=";"))
    assert read[1][0] == "'=HYPERLINK(1)"
    assert read[1][6].startswith("2,")


def test_the_class_together_is_worked_out_when_asked_for_and_follows_the_file(
    page: Page, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = []

    def counted(result: Any, **more: Any) -> Any:
        asked.append(result)
        return class_report(result, **more)

    monkeypatch.setattr(screens, "class_report", counted)
    page.press("invented")
    assert not asked
    assert "Paule-Mandel" not in page.text
    said = json.dumps(page.regions["together"])
    assert "what more groups or other instruments would add" in said
    page.press("together")
    assert asked == [page.lab.classroom.result]
    assert "It hangs on no few groups: 7 of 9" in json.dumps(page.regions["together"])
    page.set("order", GroupTable.ORDERS[2])
    assert len(asked) == 1
    page.upload(csv_bytes())
    assert asked[1:] == [page.lab.classroom.result]
    assert "7 of 9" not in json.dumps(page.regions["together"])
    assert "Paule-Mandel" in json.dumps(page.regions["together"])
    page.press("close")
    assert page.regions["together"] == []


def test_a_key_to_codes_needs_codes(shown: Page) -> None:
    shown.set("kind", "codes")
    said = "There is no key: the groups go by their names. Tick the codes above first."
    assert said in shown.text
    shown.press("hand")
    assert "no key to write" in shown.text
    assert shown.files == []


def test_files_are_saved_by_path_and_not_replaced(shown: Page, tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    shown.set("kind", "results")
    shown.set("target", str(path))
    shown.press("class-write")
    assert f"Saved: {path}" in shown.text
    path.write_text("mine")
    shown.press("class-write")
    assert "A file of this name exists already; it was not changed." in shown.said
    assert path.read_text() == "mine"
    shown.do("tick", id="class-replace", to=True)
    shown.press("class-write")
    assert path.read_text("utf-8-sig").startswith("group,trials")
    shown.set("target", "a.docx")
    assert "ends in" in shown.control("target")["refusal"]


def test_the_class_file_is_never_replaced(page: Page, tmp_path: Path) -> None:
    path = tmp_path / "class.csv"
    path.write_bytes(csv_bytes())
    page.set("class-path", str(path))
    page.press("class-open")
    page.set("kind", "results")
    page.set("target", str(path))
    page.do("tick", id="class-replace", to=True)
    assert "which is never written" in page.control("target")["refusal"]
    page.press("class-write")
    assert "which is never written" in page.said
    assert path.read_bytes() == csv_bytes()


def test_pictures_are_as_wide_as_there_is_room_and_saved(shown: Page) -> None:
    shown.press("together")
    for name in ("groups-beside-candidates", "straight-line", "amounts-of-group"):
        picture = shown.control(name)
        assert picture["sizes"]
        assert picture["alt"]
        shown.do("pick", id=f"{name}:width", to=450)
        assert shown.control(name)["width"] == 300
        assert min(i["size"] for i in picture["items"] if i["is"] == "words") * 1.5 >= 12
        shown.do("set", id=f"{name}:save", to="svg")
        file, content = shown.files[-1]
        assert file == f"class-{name}.svg"
        assert content.startswith(b"<?xml")
    for width_px, heights in ((1100, (380, 330)), (320, (260, 250))):  # planes stay within limits
        for name, height in zip(("straight-line", "amounts-of-group"), heights, strict=True):
            shown.do("pick", id=f"{name}:width", to=width_px)
            assert shown.control(name)["height"] == height
    line = shown.control("straight-line")
    alone = assess_class(experiments.class_file(), "copper-silver").evidence
    assert [(s["x"], s["y"]) for s in line["spots"]] == [
        (pytest.approx(1e3 * a), pytest.approx(1e3 * b))
        for a, b in zip(alone.n_consumed_mol, alone.n_produced_mol, strict=True)
    ]


# In the background


async def until(condition: Callable[[], bool]) -> None:
    end = asyncio.get_running_loop().time() + 60
    while not condition():
        assert asyncio.get_running_loop().time() < end
        await asyncio.sleep(0.01)


def hydrates(page: Page, groups: int) -> bytes:
    names = [r.name for r in page.lab.readings.experiment.roles() if r.needs_reading]
    typed = page.lab.readings.experiment.trials[0].readings
    lines = [",".join(["group", *names])]
    lines += [",".join([f"g{i}", *(typed[n][-1] for n in names)]) for i in range(groups)]
    return "\n".join(lines).encode()


def progress(page: Page) -> str:
    found = [b["words"] for b in walk(page.regions["verdict"]) if b["kind"] == "progress"]
    return found[0] if found else ""


def test_long_work_shows_progress_lets_one_type_and_stops_with_what_is_done() -> None:
    async def main() -> Page:
        page = Page("hydrate-heating")
        page.upload(hydrates(page, 2000))
        await until(lambda: progress(page).startswith("Group "))
        assert progress(page).endswith("of 2000 …")
        page.set("class-path", "typed meanwhile")
        assert page.control("class-path")["text"] == "typed meanwhile"
        page.press("stop")
        await until(lambda: not progress(page) and "Stopped: " in page.text)
        return page

    page = clocks.run(main)
    result = page.lab.classroom.result
    assert result is not None
    done = len(result.evidence)
    assert 0 < done < 2000
    assert f"Stopped: {2000 - done} groups were not assessed." in page.text
    assert page.control("again")["label"] == "Work it out again"


def test_what_belongs_to_another_file_is_not_shown() -> None:
    async def main() -> Page:
        page = Page("copper-silver")
        page.press("invented")
        await until(lambda: page.lab.classroom.working and progress(page) != "")
        page.upload(csv_bytes())
        await until(lambda: bool(page.regions.get("picture")))
        return page

    assert clocks.run(main).headline.startswith("Together the 3 groups")


def test_what_is_of_another_matching_is_not_taken() -> None:
    async def main() -> Page:
        page = Page("copper-silver")
        page.press("invented")
        await until(lambda: page.lab.classroom.working and progress(page) != "")
        page.do("show", id="readings")
        page.lab.classroom.set_column("trial", None)
        await until(lambda: not page.lab.classroom.working)
        assert page.lab.classroom.result is None
        page.do("show", id="class")
        await until(lambda: page.lab.classroom.together is not None)
        return page

    result = clocks.run(main).lab.classroom.result
    assert result is not None
    assert "trial" not in result.data.preview.columns


def test_who_looks_elsewhere_is_not_told_how_far_the_work_is() -> None:
    async def main() -> int:
        page = Page("hydrate-heating")
        page.upload(hydrates(page, 400))
        await until(lambda: progress(page).startswith("Group "))
        page.do("show", id="readings")
        await asyncio.sleep(0.6)  # what was put off is sent
        before, said = page.answers, page.lab.classroom.status
        await until(lambda: page.lab.classroom.status != said)
        page.lab.classroom.stop_work()
        await until(lambda: not page.lab.classroom.working)
        return page.answers - before

    assert clocks.run(main) == 0


def test_nothing_is_worked_out_where_the_class_is_not_shown() -> None:
    page = Page()
    page.do("show", id="readings")
    page.lab.classroom.open_invented()
    page.do("ready")
    assert page.lab.classroom.result is None
    page.do("show", id="class")
    assert page.headline.startswith("Together the 9 groups")


def test_what_fails_is_said(page: Page, monkeypatch: pytest.MonkeyPatch) -> None:
    page.upload(csv_bytes([("red", "1", "x", "y", "z", "?")]))
    assert "Not worked out: No row of the file can be used" in page.text

    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(states, "assess_class", broken)
    page.press("invented")
    assert "something went wrong that should not have" in page.text
    monkeypatch.undo()
    page.press("again")
    assert page.headline.startswith("Together the 9 groups")


# Undo, and what outlives a restart


def test_file_columns_and_settings_are_undone_and_looking_is_not(shown: Page) -> None:
    shown.set("group", "teal")
    shown.set("order", GroupTable.ORDERS[1])
    shown.set("column:trial", "")
    shown.upload(csv_bytes(), "second.csv")
    shown.set("variation", "1")
    shown.set("variation", "1 %")
    shown.do("left", id="variation")
    shown.do("tick", id="codes", to=True)
    history = shown.lab.history
    for words in (
        "chose codes or names", "typed how much groups differ", "opened a class file",
        "chose the column of trial", "opened the invented class",
    ):  # fmt: skip
        assert history.undo_words == words
        shown.press("undo")
    assert shown.regions["groups"] == []
    assert not history.can_undo
    shown.press("redo")
    shown.press("redo")
    assert shown.control("column:trial")["value"] == ""
    assert len(shown.table["rows"]) == 9
    shown.press("redo")
    assert len(shown.table["rows"]) == 3
    shown.press("redo")
    assert shown.control("variation")["text"] == "1 %"


def test_another_lab_is_followed_and_comes_back_with_its_columns(shown: Page) -> None:
    shown.set("column:trial", "")
    shown.set("column:paper", "E")
    shown.do("set", id="start", to="tin-oxide")
    assert "No column was found" in shown.text or "No row of the file" in shown.text
    shown.press("undo")
    assert shown.lab.classroom.choices == {"trial": None, "paper": "E"}
    assert shown.headline.startswith("Together the 9 groups")


def test_readings_typed_leave_the_class_alone_and_instruments_do_not(shown: Page) -> None:
    result = shown.lab.classroom.result
    shown.lab.readings.set_reading(0, "wire before", "2.95")
    shown.do("ready")
    assert shown.lab.classroom.result is result
    shown.lab.readings.set_balance(readability_g="0.1")
    shown.do("ready")
    alone = shown.lab.classroom.result
    assert alone is not result
    assert alone is not None
    assert alone.experiment.instruments["balance"].readability_g == 0.1  # type: ignore[union-attr]


def again(page: Page, folder: Path) -> Page:
    page.lab.close()
    return Page("copper-silver", autosave=True, folder=folder)


def kept(folder: Path) -> str:
    return "".join(path.read_text() for path in folder.glob("*.json"))


def test_a_file_opened_by_its_path_comes_back_and_its_names_are_kept_nowhere(
    tmp_path: Path,
) -> None:
    path, folder = tmp_path / "class.csv", tmp_path / "kept"
    path.write_bytes(csv_bytes(header=("group", "trial", "before", *HEADER[3:])))
    page = Page(autosave=True, folder=folder)
    page.set("class-path", str(path))
    page.press("class-open")
    page.set("column:wire before", "C")
    page.set("variation", "2 %")
    page.do("tick", id="codes", to=True)
    page.do("tick", id="codes", to=False)
    page.set("group", "green")
    page.set("part", "gre")
    text = kept(folder)
    assert str(path) in text
    assert "green" not in text
    assert "blue" not in text
    assert "bytes" not in text
    found = again(page, folder)
    assert found.headline == page.headline
    assert found.control("column:wire before")["value"] == "C"
    assert found.control("variation")["text"] == "2 %"
    assert found.lab.history.undo_words == "restored what was typed"
    path.unlink()
    gone = again(found, folder)
    assert "could not be restored" in gone.text
    assert gone.control("class-path")["text"] == str(path)


def test_a_file_uploaded_comes_back_up_to_a_size(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = Page(autosave=True, folder=tmp_path)
    page.upload(csv_bytes(), "monday.csv")
    page.do("tick", id="codes", to=True)
    assert "is kept for a restart" in page.text
    found = again(page, tmp_path)
    assert [row[0] for row in found.table["rows"]] == ["G01", "G02", "G03"]
    found.do("tick", id="codes", to=False)
    assert "Open: monday.csv" in found.text
    found.press("close")
    newest = max(tmp_path.glob("*.json"), key=lambda path: path.stat().st_mtime_ns)
    assert "bytes" not in newest.read_text()
    monkeypatch.setattr(states, "MOST_KEPT", 10)
    states._packed.cache_clear()
    found.upload(csv_bytes(ROWS[:4]), "large.csv")
    assert "too large to be kept" in found.text
    assert again(found, tmp_path).regions["groups"] == []
    states._packed.cache_clear()


@pytest.mark.parametrize(
    "tables",
    [
        None, [], {"bytes": "?"}, {"bytes": "AAAA"}, {"path": "\0"}, {"columns": {"paper": "Q"}},
        {"invented": True, "columns": {"no such": "A", "paper": "ZZ", "trial": 3}},
        {"invented": True, "sheet": 3, "variation": 2},
    ],
)  # fmt: skip
def test_damaged_tables_are_refused_or_passed_over(tables: Any) -> None:
    lab = LabState("copper-silver", autosave=False)
    lab.kit._waiting = {"class": tables}
    found = lab.classroom
    assert found.choices == {}
    assert bool(lab.kit.notes) == (
        isinstance(tables, dict) and bool(tables.keys() & {"bytes", "path"})
    )


def test_the_invented_class_comes_back(tmp_path: Path) -> None:
    page = Page(autosave=True, folder=tmp_path)
    page.press("invented")
    assert "amber" not in kept(tmp_path)
    assert again(page, tmp_path).headline.startswith("Together the 9 groups")


def test_a_class_of_hundreds_is_read_too(page: Page) -> None:
    page.upload(class_bytes(60))
    page.press("together")
    picture = page.control("groups-beside-candidates")
    assert "no names" in picture["alt"]
    assert page.control("straight-line")["spots"] == []
    assert len(page.table["rows"]) == 60
    assert os.linesep not in page.headline


def test_what_more_trials_would_add_is_worked_out_when_asked_for(shown: Page) -> None:
    shown.lab.kit.plan.set("groups", "12")
    assert "9 groups are in" not in json.dumps(shown.regions["next"])
    shown.press("next")
    said = json.dumps(shown.regions["next"], ensure_ascii=False)
    assert "9 groups are in: the class concludes with a chance of 0.97" in said
    assert "when all 12 are in" in said
    assert "Plum: 1 more trial on a balance that reads to 0.001 g" in said
    shown.press("hand")
    assert "9 groups are in: the class concludes" in shown.files[-1][1].decode()
    shown.press("close")
    assert shown.regions["next"] == []


def test_the_group_that_is_looked_at_is_told_and_counted_from_one(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The work tells how many are done: with none of two done the first is looked at."""

    def looked_at(_: Any, *, groups: int | None, progress: Callable[[int, int], None]) -> None:
        assert groups is None  # as many as are in: nothing more is asked
        progress(0, 2)
        progress(1, 2)

    told: list[str] = []
    monkeypatch.setattr(screens, "class_following", looked_at)
    nine: Any = SimpleNamespace(evidence=range(9))
    screens._following(nine, 9, told.append)
    assert told == [f"Simulating groups that go on, {n} of 2 …" for n in (1, 2)]


# Decisions


def test_repairs_and_decisions_by_hand_change_the_verdict_and_can_be_undone(page: Page) -> None:
    """Blue's paper and product in each other's place; red's first trial set aside by hand."""
    swapped = [(*row[:4], row[5], row[4]) if row[0] == "blue" else row for row in ROWS]
    page.upload(csv_bytes(swapped))
    assert "cannot be judged" in page.headline
    page.set("review-initials", "EK")
    page.press("accept-all")
    assert page.headline.startswith("Together the 3 groups single out copper(II)")
    page.set("hand-trial", "1")
    page.press("hand-aside")
    made = page.lab.classroom.decisions[-1]
    assert (made.trial, str(made.kind), made.initials) == ("1", "set aside", "EK")
    assert "set aside" in json.dumps(page.regions["review"], ensure_ascii=False)
    number = len(page.lab.classroom.decisions)
    page.set("hand-text", "1.x")
    page.press("hand-correct")
    assert len(page.lab.classroom.decisions) == number
    assert page.said
    assert page.control("hand-text")["text"] == "1.x"
    page.lab.history.undo()
    assert len(page.lab.classroom.decisions) == number - 1
    page.press("take-back")
    assert page.lab.classroom.decisions == ()
    assert "cannot be judged" in page.headline


def test_a_mistake_alike_in_all_trials_is_accepted_taken_back_and_told(page: Page) -> None:
    alike = [(*row[:4], row[5], row[4]) for row in ROWS]
    page.upload(csv_bytes(alike))
    assert "cannot be judged" in page.headline
    said = json.dumps(page.regions["review"], ensure_ascii=False)
    assert "all groups, all 5 trials alike: paper + silver 0.75 → 1.15" in said
    page.set("review-initials", "EK")
    assert page.control("accept:0")["label"] == "Accept repair 1"
    page.press("accept:0")
    assert page.control("back:0")["label"] == "Take repair 1 back"
    assert page.headline.startswith("Together the 3 groups single out copper(II)")
    assert len(page.lab.classroom.decisions) == 10
    assert {one.initials for one in page.lab.classroom.decisions} == {"EK"}
    assert "initials are kept here" not in json.dumps(page.regions["review"])
    page.press("hand")
    report = page.files[-1][1].decode()
    assert "The verdict side by side" in report
    assert report.count("corrected: paper + silver") == 5
    page.press("back:0")
    assert page.lab.classroom.decisions == ()
    assert "cannot be judged" in page.headline
    page.lab.history.undo()
    assert len(page.lab.classroom.decisions) == 10
