"""The state of “Class”: files, matching, codes, results, order, saving; without Jupyter."""

from __future__ import annotations

import csv
import math
import threading
from pathlib import Path

import numpy as np
import pytest

from stoichkit import experiments
from stoichkit.classroom import assess_class
from stoichkit.classroom.evidence import STOPPED
from stoichkit.errors import DataFileError, ExperimentError, ModelError
from stoichkit.uncertainty.ratio_set import Interval, RatioSet
from stoichkit.widgets.kit.work import Stopped
from stoichkit.widgets.state.class_files import KINDS, MARKS, class_target, write_class
from stoichkit.widgets.state.classroom import (
    AUTOMATIC,
    ClassChange,
    ClassState,
    GroupTable,
    _stretches,
    ratio_sets,
)
from stoichkit.widgets.state.readings import ReadingsState
from tests.classfiles import HEADER, ROWS, csv_bytes, xlsx_bytes

HOSTILE = '<img src=x onerror="alert(1)">'


def opened(content: bytes | None = None, name: str = "class.csv") -> ClassState:
    state = ClassState("copper-silver")
    if content is None:
        state.open_invented()
    else:
        state.open_bytes(content, name)
    return state


def worked(content: bytes | None = None, *, codes: bool = False) -> ClassState:
    state = opened(content)
    state.set_codes(codes)
    state.take(state.work_out())
    return state


def many(count: int, trials: int = 1) -> bytes:
    """Return an invented class of so many groups whose ratios scatter about 2."""
    random = np.random.default_rng(7)
    rows = []
    for i in range(count):
        for t in range(trials):
            m = random.uniform(0.05, 0.2)
            silver = m / 63.546 * 2 * 107.868
            masses = (3.1, 3.1 - m, 0.7, 0.7 + silver)
            shown = (f"{x + random.normal(0, 0.005):.2f}" for x in masses)
            rows.append((f"team {i:04d}", str(t + 1), *shown))
    return csv_bytes(rows)


# Opening


def test_it_begins_without_a_file() -> None:
    state = ClassState("copper-silver")
    assert not state.opened
    assert not state.ready
    assert state.columns() == ()
    assert state.groups_shown() == ()
    with pytest.raises(DataFileError, match="No file is open"):
        state.work_out()


def test_the_invented_class_gives_what_the_library_gives() -> None:
    state = worked()
    alone = assess_class(experiments.class_file(), "copper-silver")
    assert state.result is not None
    np.testing.assert_array_equal(state.result.evidence.p_value, alone.evidence.p_value)
    assert state.result.verdict.verdict == alone.verdict.verdict
    assert state.group == "plum"
    assert state.invented
    assert state.result.data.problems == alone.data.problems


def test_no_invented_class_for_another_experiment() -> None:
    state = ClassState("tin-oxide")
    with pytest.raises(ExperimentError, match="No invented class"):
        state.open_invented()
    assert not state.opened


def test_a_path_is_read_once_and_never_written(tmp_path: Path) -> None:
    path = tmp_path / "class.csv"
    path.write_bytes(csv_bytes())
    state = ClassState("copper-silver")
    state.open_path(f"  {path} ")
    before = path.stat().st_mtime_ns
    state.take(state.work_out())
    assert state.file_name == "class.csv"
    assert path.read_bytes() == csv_bytes()
    assert path.stat().st_mtime_ns == before
    path.unlink()
    state.set_codes(True)
    state.take(state.work_out())  # from what was read
    assert state.result is not None


@pytest.mark.parametrize("text", ["", "  ", "no such folder/class.csv", "/", "a\0b"])
def test_a_path_that_cannot_be_read_changes_nothing(text: str) -> None:
    state = worked()
    with pytest.raises(DataFileError):
        state.open_path(text)
    assert state.file_name.startswith("copper-silver")
    assert state.result is not None


def test_a_file_of_another_kind_changes_nothing() -> None:
    state = worked()
    with pytest.raises(DataFileError, match="PDF"):
        state.open_bytes(b"%PDF-1.7 ...", "class.pdf")
    assert state.result is not None


def test_a_sheet_of_a_workbook_is_chosen_and_a_wrong_one_refused() -> None:
    state = opened(xlsx_bytes(), "class.xlsx")
    assert state.preview is not None
    state.set_sheet("Sheet")
    assert state.refusal is None
    state.set_sheet("Other")
    assert state.refusal is not None
    assert "no sheet of that name" in state.refusal.problem
    state.set_codes(True)  # the refusal is not forgotten by another change
    assert state.refusal is not None
    state.set_sheet("")
    assert state.refusal is None
    state.take(state.work_out())
    assert state.result is not None


# Matching


def test_a_column_is_chosen_by_hand() -> None:
    state = opened(csv_bytes(header=("who", "trial", "before", *HEADER[3:])))
    assert state.refusal is not None
    assert state.refusal.problem == "No column was found for “wire before”."
    assert not state.ready
    state.set_column("wire before", "C")
    assert state.ready
    state.set_column("group", "A")
    state.take(state.work_out())
    assert state.result is not None
    assert state.result.evidence.names == ("red", "blue", "green")
    state.set_column("wire before", AUTOMATIC)
    assert state.refusal is not None
    assert state.result is None


def test_without_any_header_columns_are_chosen_by_letter() -> None:
    state = opened(csv_bytes(header=ROWS[0], rows=ROWS[1:]))
    assert state.refusal is None
    assert state.preview is not None
    assert state.preview.shape == "no header"  # whose order is asked about
    assert [letter for letter, _ in state.columns()] == list("ABCDEF")
    for field, letter in zip(state.fields, "ABCDFE", strict=True):
        state.set_column(field, letter)
    assert state.fields[-1] == "paper"
    assert state.refusal is None
    state.take(state.work_out())
    assert state.result is not None
    assert state.result.evidence.names == ("red", "blue", "green")
    assert state.result.evidence.trials.tolist() == [2, 2, 1]


def test_one_column_for_two_readings_is_refused_and_the_choices_are_kept() -> None:
    state = opened()
    state.set_column("paper", "C")
    assert state.refusal is not None  # “wire before” has lost its column
    state.set_column("wire before", "C")
    assert state.refusal is not None
    assert state.refusal.problem == "Column C is chosen for “paper” and for “wire before”."
    assert state.choices == {"paper": "C", "wire before": "C"}
    state.set_column("paper", "E")
    assert state.refusal is None


def test_a_letter_that_is_also_a_header_means_the_letter() -> None:
    header = ("group", "trial", "b", "wire after / g", "paper / g", "paper + silver / g", "C")
    rows = [(*row, "9.99") for row in ROWS]
    state = opened(csv_bytes(rows, header))
    state.set_column("wire before", "C")
    assert state.preview is not None
    assert state.preview.columns["wire before"] == ("C",)
    state.take(state.work_out())
    assert state.result is not None
    assert state.result.data.groups["red"].trials[0].readings["wire before"] == ("2.94",)


def test_no_column_for_the_trial() -> None:
    state = opened()
    state.set_column("trial", None)
    assert state.preview is not None
    assert "trial" not in state.preview.columns
    with pytest.raises(DataFileError, match="no such column"):
        state.set_column("trial", "Q")
    with pytest.raises(DataFileError, match="no such field"):
        state.set_column("colour", "A")


# Following the experiment


def test_typed_readings_leave_the_class_alone_but_instruments_do_not() -> None:
    readings = ReadingsState("copper-silver")
    state = ClassState(readings)
    state.open_invented()
    state.take(state.work_out())
    assert state.result is not None
    before = state.result.evidence.counts["not_told_apart"]
    heard: list[ClassChange] = []
    state.subscribe(heard.append)
    readings.set_reading(0, "wire before", "2.95")
    assert heard == [ClassChange.RECORD]
    assert not state.follow_record()
    assert state.result is not None
    readings.set_balance(readability_g="0.1")
    assert state.follow_record()
    assert state.result is None
    state.take(state.work_out())
    assert state.result is not None
    assert state.result.evidence.counts["not_told_apart"] > before


def test_another_experiment_keeps_the_file_and_says_what_is_missing() -> None:
    readings = ReadingsState("copper-silver")
    state = ClassState(readings)
    state.open_invented()
    state.set_column("paper", "E")
    readings.load("hydrate-heating")
    assert state.follow_record()
    assert state.opened
    assert state.refusal is not None
    assert state.choices == {}
    readings.load("copper-silver")
    assert state.follow_record()
    assert state.refusal is None


# Codes


# Working it out


def test_the_search_for_slips_in_a_large_class_can_be_stopped() -> None:
    state = opened(many(1100))
    said: list[str] = []
    asked: list[int] = []

    def stopping() -> bool:
        asked.append(1)
        return len(asked) >= 20

    found = state.work_out(said.append, stopping)
    assert len(found.result.evidence) == 1100
    assert "stopped" in found.result.no_verdict
    assert len(asked) == 20
    assert len(said) < 20


def test_it_runs_beside_a_panel_in_a_thread() -> None:
    state = opened()
    found = []
    thread = threading.Thread(target=lambda: found.append(state.work_out()))
    thread.start()
    thread.join(60)
    assert state.result is None  # nothing changes before it is taken
    state.take(found[0])
    assert state.result is not None


def test_no_row_can_be_used() -> None:
    state = opened(csv_bytes([("red", "1", "x", "y", "z", "?")]))
    with pytest.raises(DataFileError, match="No row of the file can be used"):
        state.work_out()


# Order and part


def test_groups_are_put_in_order_and_found_by_name() -> None:
    state = worked()
    table = state.table
    assert table is not None
    assert state.result is not None
    evidence = state.result.evidence
    best = dict(zip(evidence.names, evidence.p_value.max(axis=1).tolist(), strict=True))
    ratio = dict(zip(evidence.names, evidence.ratio.tolist(), strict=True))
    state.set_order(GroupTable.ORDERS[1])
    assert list(state.groups_shown()) == sorted(best, key=best.__getitem__)
    state.set_order(GroupTable.ORDERS[2])
    assert list(state.groups_shown()) == sorted(ratio, key=ratio.__getitem__)
    state.set_order(GroupTable.ORDERS[3])
    assert list(state.groups_shown()) == sorted(ratio, key=ratio.__getitem__, reverse=True)
    state.set_order(GroupTable.ORDERS[0])
    assert state.groups_shown() == evidence.names
    state.set_part("SLA")
    assert state.groups_shown() == ("slate",)
    with pytest.raises(ExperimentError, match="no such order"):
        state.set_order("by luck")
    with pytest.raises(ExperimentError, match="no such group"):
        state.set_group("nobody")


@pytest.mark.parametrize(
    ("ends", "words"),
    [
        ([(0.0, math.inf)], "every ratio"), ([(0.5, math.inf)], "0.50 or more"),
        ([(1.0, math.inf)], "1.0 or more"), ([], "none"),
        ([(0.0, 0.5), (2.0, math.inf)], "0.00 to 0.50; 2.0 or more"),
    ],
)  # fmt: skip
def test_ratios_that_are_not_excluded_in_words(ends: list[tuple[float, float]], words: str) -> None:
    """Two digits of the width, or of the lower end where there is no upper one."""
    assert _stretches(RatioSet(tuple(Interval(*one) for one in ends), 0.95), ()) == words


def test_a_large_class_shows_200_groups_and_more_when_asked() -> None:
    state = worked(many(450))
    assert len(state.groups_shown()) == 200
    state.show_more()
    assert len(state.groups_shown()) == 400
    state.show_more()
    assert len(state.groups_shown()) == 450
    state.set_part("team 00")
    assert len(state.groups_shown()) == 100
    assert ratio_sets(state.result) == {}  # too many for the picture too


def test_a_row_says_verdict_ratio_set_yield_and_slips() -> None:
    state = worked()
    assert state.table is not None
    assert state.result is not None
    state.table.ratio_sets = ratio_sets(state.result)
    plum, teal = state.table.line("plum"), state.table.line("teal")
    assert plum.remarks == "stands out, slip?"
    assert plum.ratio_set == "every ratio"
    assert teal.verdict == "singles out copper(II)"
    low, high = (float(end) for end in teal.ratio_set.split(" to "))
    found = state.result.group("teal").ratio_set
    assert low == pytest.approx(found.low, abs=0.006)
    assert high == pytest.approx(found.high, abs=0.006)
    percent = 100 * float(teal.ratio) / 2
    assert float(teal.percent_yield.removesuffix(" %")) == pytest.approx(percent, abs=0.3)


# Saving


@pytest.mark.parametrize("kind", KINDS)
def test_each_kind_is_written_once_and_replaced_only_if_ticked(kind: str, tmp_path: Path) -> None:
    state = worked(codes=kind == "codes")
    for ending in KINDS[kind].endings:
        path = tmp_path / f"a{ending}"
        written = write_class(state, kind, str(path))
        assert written == path
        size = path.stat().st_size
        assert size > (10 if kind == "choices" else 50)
        path.write_text("mine", "utf-8")
        with pytest.raises(ExperimentError, match="exists already"):
            write_class(state, kind, str(path))
        assert path.read_text("utf-8") == "mine"
        write_class(state, kind, str(path), replace=True)
        assert path.stat().st_size == size
    with pytest.raises(DataFileError, match="ends in"):
        write_class(state, kind, str(tmp_path / "a.odt"))


def test_the_class_file_is_never_replaced(tmp_path: Path) -> None:
    path = tmp_path / "class.csv"
    path.write_bytes(csv_bytes())
    state = ClassState("copper-silver")
    state.open_path(str(path))
    state.take(state.work_out())
    (tmp_path / "link.csv").symlink_to(path)
    for name in ("class.csv", "./class.csv", "link.csv"):
        with pytest.raises(DataFileError, match="file of the class"):
            class_target(state, "results", str(tmp_path / name), replace=True)
    assert path.read_bytes() == csv_bytes()


def test_marks_of_csv_files(tmp_path: Path) -> None:
    state = worked()
    path = write_class(state, "results", str(tmp_path / "a.csv"), marks=list(MARKS)[1])
    rows = list(csv.reader(path.read_text("utf-8-sig").splitlines(), delimiter=";"))
    assert rows[0][:2] == ["group", "trials"]
    assert "," in rows[1][4]


def test_reports_with_codes_hold_no_name(tmp_path: Path) -> None:
    state = worked(codes=True)
    for kind in ("results", "key", "report", "group", "rows"):
        ending = ".csv" if kind == "rows" else ".html"
        text = write_class(state, kind, str(tmp_path / f"{kind}{ending}")).read_text("utf-8-sig")
        assert "plum" not in text
        assert "amber" not in text
    key = write_class(state, "codes", str(tmp_path / "codes.csv")).read_text("utf-8-sig")
    assert "G07,plum" in key


def test_nothing_is_saved_before_there_is_a_result(tmp_path: Path) -> None:
    state = opened()
    with pytest.raises(ModelError, match="nothing to save yet"):
        write_class(state, "results", str(tmp_path / "a.csv"))
    state.take(state.work_out())
    with pytest.raises(ModelError, match="no key to write"):
        write_class(state, "codes", str(tmp_path / "a.csv"))
    assert list(tmp_path.iterdir()) == []


def test_writing_a_report_can_be_stopped(tmp_path: Path) -> None:
    state = worked()

    def refuse(words: str) -> None:
        raise Stopped(words)

    with pytest.raises(Stopped):
        write_class(state, "report", str(tmp_path / "a.html"), report=refuse)
    assert list(tmp_path.iterdir()) == []


def test_progress_is_told_and_it_can_be_stopped_at_a_group() -> None:
    tin = ReadingsState("tin-oxide")
    state = ClassState(tin)
    names = [role.name for role in state.experiment.roles() if role.needs_reading]
    trial = state.experiment.trials[0]
    lines = [",".join(["group", *names])]
    typed = {**state.experiment.shared_readings, **trial.readings}
    lines += [",".join([f"g{i}", *(typed[n][-1] for n in names)]) for i in range(12)]
    state.open_bytes("\n".join(lines).encode(), "tin.csv")
    said: list[str] = []
    asked: list[int] = []

    def stopping() -> bool:
        asked.append(1)
        return len(asked) >= 5

    found = state.work_out(said.append, stopping)
    state.take(found)
    assert said[0] == "Reading the rows …"
    assert len(found.result.evidence) == 5
    assert list(found.result.evidence.not_assessed.values()) == [STOPPED] * 7
    assert found.result.verdict is None

    def refuse(words: str) -> None:
        raise Stopped(words)

    with pytest.raises(Stopped):
        state.work_out(refuse)
