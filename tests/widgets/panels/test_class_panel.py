"""The panel “Class” is a thin skin: it shows the state, hides no error, leaves nothing behind."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

ipywidgets = pytest.importorskip("ipywidgets", reason="ipywidgets is not installed")

from ipywidgets.widgets.widget import _instances

from stoichkit.widgets.kit.controls import (
    Choice,
    LiveText,
    TextField,
)
from stoichkit.widgets.panels.classroom import ClassPanel, class_panel
from stoichkit.widgets.state.classroom import (
    ClassState,
    GroupTable,
)
from stoichkit.widgets.state.readings import ReadingsState
from tests import clocks
from tests.classfiles import HEADER, ROWS, csv_bytes, xlsx_bytes
from tests.widgets.pages import tree

CONTROLS = (
    ipywidgets.Button,
    ipywidgets.Checkbox,
    ipywidgets.Dropdown,
    ipywidgets.FileUpload,
    ipywidgets.ToggleButton,
    Choice,
    TextField,
)


def control(panel: Any, description: str) -> Any:
    found = [w for w in tree(panel) if getattr(w, "description", None) == description]
    assert len(found) == 1, f"{len(found)} controls called {description}"
    return found[0]


def press(panel: Any, description: str) -> None:
    button = control(panel, description)
    button.click()


def upload(panel: Any, content: bytes, name: str = "class.csv") -> None:
    file = {
        "name": name,
        "type": "",
        "size": len(content),
        "content": memoryview(content),
        "last_modified": datetime.now(UTC),
    }
    control(panel, "Open a CSV or XLSX file").set_trait("value", (file,))


def shown(panel: Any) -> str:
    return " ".join(
        w.text if isinstance(w, LiveText) else str(w.value)
        for w in tree(panel)
        if isinstance(w, (LiveText, ipywidgets.HTML))
    )


@pytest.fixture
def panel() -> Iterator[ClassPanel]:
    made = class_panel("copper-silver")
    yield made
    made.close()


def test_every_control_has_a_name_and_opens_empty(panel: ClassPanel) -> None:
    controls = [w for w in tree(panel) if isinstance(w, CONTROLS)]
    assert len(controls) > 12
    assert all(w.description.strip() for w in controls)
    assert panel.results.verdict.text == "Open the file of a class, or load the invented one."
    assert panel.results.rest.layout.display == "none"
    assert "Panel “Class” on “Copper wire in silver nitrate”" in repr(panel)


def test_the_invented_class_is_shown_whole(panel: ClassPanel) -> None:
    press(panel, "Load the invented class")
    assert panel.message.text == ""
    assert panel.results.status.text == "Up to date."
    assert panel.results.rest.layout.display is None
    text = shown(panel)
    for words in (
        "Together the 9 groups single out copper(II).",
        "The cell is empty.",
        "stands out",
        "two digits may be transposed",
        "Paule-Mandel",
        "Blank: the line meets the axis",
        "More groups: not needed",
        "plum: verdict",
    ):
        assert words in text
    assert text.count('role="img"') == 3
    assert control(panel, "Group").value == "plum"
    assert control(panel, "Column of paper, g").value == "automatic"
    assert control(panel, "Column of paper, g").options[0][0] == "E (paper / g), by its header"


def test_a_column_is_corrected(panel: ClassPanel) -> None:
    upload(panel, csv_bytes(header=("group", "trial", "before", *HEADER[3:])))
    assert "No column was found for “wire before”" in panel.results.status.text
    assert panel.results.rest.layout.display == "none"
    assert "before" in panel.results.preview.value
    control(panel, "Column of wire before, g").value = "C"
    assert panel.results.status.text == "Up to date."
    assert "single out copper(II)" in panel.results.verdict.text
    assert control(panel, "Column of wire before, g").value == "C"
    control(panel, "Column of paper, g").value = "C"
    assert "Column C is chosen for" in panel.results.status.text
    assert control(panel, "Column of paper, g").value == "C"


def test_a_workbook_has_a_sheet_to_choose(panel: ClassPanel) -> None:
    assert control(panel, "Sheet of the workbook").layout.display == "none"
    upload(panel, xlsx_bytes(), "class.xlsx")
    sheet = control(panel, "Sheet of the workbook")
    assert sheet.layout.display is None
    sheet.value = "Second"
    assert "There is no sheet of that name." in panel.results.status.text
    assert sheet.value == "Second"
    sheet.value = "Sheet"
    assert panel.results.status.text == "Up to date."


def test_a_file_that_cannot_be_read_leaves_the_class_as_it_is(panel: ClassPanel) -> None:
    press(panel, "Load the invented class")
    upload(panel, b"%PDF-1.4 nothing")
    assert "PDF" in panel.message.text
    assert "Together the 9 groups" in panel.results.verdict.text
    control(panel, "Path of a file").value = "no such file.csv"
    press(panel, "Open this path")
    assert "There is no such file." in panel.message.text
    assert control(panel, "Path of a file").value == "no such file.csv"


def test_codes_take_the_names_off_the_panel(panel: ClassPanel) -> None:
    press(panel, "Load the invented class")
    control(panel, "Worked solution").value = True
    control(panel, "Answer key").value = True
    assert "What this group should have calculated" in panel.results.detail.value
    assert "Trial 1" in panel.results.detail.value
    control(panel, "Codes G01, G02, … instead of names").value = True
    text = shown(panel) + str(control(panel, "Group").options)
    assert "G07: verdict" in text
    for name in ("plum", "amber", "teal", "fern"):
        assert name not in text


def test_groups_in_order_by_part_and_one_closely(panel: ClassPanel) -> None:
    press(panel, "Load the invented class")
    control(panel, "Order of the groups").value = GroupTable.ORDERS[2]
    table = panel.results.groups.value
    assert table.index('row">plum') < table.index('row">coral') < table.index('row">amber')
    assert "Not excluded" in table
    control(panel, "Only groups whose name holds").value = "SLA"
    assert "1 of 1" not in panel.results.groups.value
    assert "amber" not in panel.results.groups.value
    assert [value for _, value in control(panel, "Group").options] == ["plum", "slate"]
    control(panel, "Group").value = "slate"
    assert "slate: verdict" in panel.results.detail.value
    control(panel, "Only groups whose name holds").value = "nobody"
    assert "No group has a name that holds this text." in panel.results.groups.value


def test_more_groups_are_shown_when_asked(
    panel: ClassPanel, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(GroupTable, "STEP", 5)
    press(panel, "Load the invented class")
    assert "5 of 9 groups" in panel.results.groups.value
    assert not panel.results.more.disabled
    press(panel, "Show more groups")
    assert "9 groups, as in the file" in panel.results.groups.value
    assert panel.results.more.disabled


def test_files_are_saved_and_not_replaced(panel: ClassPanel, tmp_path: Path) -> None:
    press(panel, "Save")
    assert "There is nothing to save yet." in panel.message.text
    press(panel, "Load the invented class")
    for kind, name in (
        ("results", "a.csv"),
        ("results", "a.xlsx"),
        ("key", "key.xlsx"),
        ("report", "class.html"),
        ("group", "group.html"),
    ):
        control(panel, "What to save").value = kind
        control(panel, "Save as").value = str(tmp_path / name)
        press(panel, "Save")
        assert panel.message.text == ""
        assert f"Saved: {tmp_path / name}" in shown(panel)
        assert (tmp_path / name).stat().st_size > 100
    before = (tmp_path / "group.html").read_bytes()
    press(panel, "Save")
    assert "A file of this name exists already; it was not changed." in panel.message.text
    assert "Not saved." in shown(panel)
    assert (tmp_path / "group.html").read_bytes() == before
    control(panel, "A file of this name may be replaced").value = True
    press(panel, "Save")
    assert panel.message.text == ""
    control(panel, "Save as").value = "a.docx"
    assert control(panel, "Save as").refused
    assert "plum" in before.decode()


def test_a_name_is_proposed_until_one_is_typed(panel: ClassPanel) -> None:
    assert control(panel, "Save as").value == "class-report.html"
    control(panel, "What to save").value = "key"
    assert control(panel, "Save as").value == "answer-key.xlsx"
    control(panel, "Save as").value = "mine.csv"
    control(panel, "What to save").value = "results"
    assert control(panel, "Save as").value == "mine.csv"


def test_another_experiment_opened_elsewhere_is_followed() -> None:
    readings = ReadingsState("copper-silver")
    panel = ClassPanel(readings, chooser=False)
    assert not [w for w in tree(panel) if isinstance(w, ipywidgets.Dropdown)]
    press(panel, "Load the invented class")
    readings.load("tin-oxide")
    assert "Not worked out" in panel.results.status.text
    press(panel, "Load the invented class")
    assert "No invented class comes with this experiment." in panel.message.text
    readings.load("copper-silver")
    assert panel.results.status.text == "Up to date."
    panel.close()


def test_an_experiment_chosen_here_is_opened_in_all(panel: ClassPanel) -> None:
    control(panel, "Ready experiment (invented readings)").value = "tin-oxide"
    assert panel.state.readings.name == "tin-oxide"
    assert "Column of the group" not in [getattr(w, "description", "") for w in tree(panel)]


def test_a_resting_panel_shows_nothing_until_it_wakes(panel: ClassPanel) -> None:
    panel.rest.sleep()
    panel.state.open_invented()
    panel.state.readings.set_balance(readability_g="0.1")
    assert panel.results.preview.value == ""
    panel.rest.wake()
    assert panel.results.status.text == "Up to date."
    assert panel.state.experiment.instruments["balance"].readability_g == 0.1  # type: ignore[union-attr]
    assert "cannot tell" in panel.results.groups.value


async def until(condition: Callable[[], bool]) -> None:
    end = asyncio.get_running_loop().time() + 60
    while not condition():
        assert asyncio.get_running_loop().time() < end
        await asyncio.sleep(0.01)


def test_long_work_shows_progress_and_stops_with_what_is_done() -> None:
    async def main() -> tuple[str, str, int]:
        panel = ClassPanel(ClassState("hydrate-heating"))
        state = panel.state
        names = [role.name for role in state.experiment.roles() if role.needs_reading]
        typed = state.experiment.trials[0].readings
        lines = [",".join(["group", *names])]
        lines += [",".join([f"g{i}", *(typed[n][-1] for n in names)]) for i in range(2000)]
        upload(panel, "\n".join(lines).encode())
        await until(lambda: panel.results.status.text.startswith("Group "))
        said = panel.results.status.text
        press(panel, "Stop")
        await until(lambda: panel.results.status.text.startswith("Stopped: "))
        result = state.result
        assert result is not None
        done = panel.results.status.text
        panel.close()
        return said, done, len(result.evidence)

    said, done, count = clocks.run(main)
    assert said.endswith("of 2000 …")
    assert 0 < count < 2000
    assert done.startswith(f"Stopped: {2000 - count} groups were not assessed.")


def test_a_result_that_comes_while_resting_is_shown_on_waking() -> None:
    async def main() -> str:
        panel = ClassPanel(ClassState("copper-silver"))
        press(panel, "Load the invented class")
        panel.rest.sleep()
        await until(lambda: panel.results.status.text == "Up to date.")
        panel.rest.wake()
        text = shown(panel)
        panel.close()
        return text

    text = clocks.run(main)
    assert "Together the 9 groups" in text
    assert "Paule-Mandel" in text


def test_close_leaves_no_widget_behind() -> None:
    before = set(_instances)
    panel = class_panel("copper-silver")
    press(panel, "Load the invented class")
    readings = panel.state.readings
    upload(panel, csv_bytes(ROWS))
    panel.close()
    assert set(_instances) == before
    readings.load("tin-oxide")  # nobody listens any more
    assert panel.results.status.text == "Up to date."
