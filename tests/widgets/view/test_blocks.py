"""Blocks of a screen: what their controls call, and which places they refuse."""

from __future__ import annotations

from typing import Any

import pytest

from stoichkit.classroom.columns import Column, Preview, known_unit
from stoichkit.classroom.tables import Problem
from stoichkit.decision.statement import Standing
from stoichkit.errors import ModelError
from stoichkit.plots.look import INK
from stoichkit.plots.scene import Ellipse, Line, Mark, Polygon, Scene, Words
from stoichkit.widgets.view import blocks
from stoichkit.widgets.view.blocks import Builder, _among
from stoichkit.widgets.view.classroom import HIDDEN, preview_table, problem_table


def test_a_place_is_one_of_those_there_are() -> None:
    called: list[int] = []
    pick = _among(3, called.append)
    for place in (0, 2):
        pick(place)
    for place in (-1, 3):
        with pytest.raises(ModelError, match="no such place"):
            pick(place)
    assert called == [0, 2]


@pytest.mark.parametrize("grows", [True, False])
def test_cells_of_a_sheet_are_filled_where_they_are(grows: bool) -> None:
    """Below the last row only where the sheet grows; never beyond the last column."""
    make = Builder()
    typed: list[Any] = []
    names: list[Any] = []
    block = make.sheet(
        "s", "Readings", [{"label": "a"}, {"label": "b"}], [{"name": "1"}, {"name": "2"}],
        lambda *what: typed.append(what), renamed=lambda *what: names.append(what), grows=grows,
    )  # fmt: skip
    fill: Any = make.handlers[block["id"]]
    fill(1, 1, [["x"]])
    assert typed == [(1, 1, [["x"]])]
    with pytest.raises(ModelError, match="no such cell"):
        fill(0, 2, [["x"]])
    if grows:
        fill(2, 0, [["y"]])
        assert typed[-1] == (2, 0, [["y"]])
    else:
        with pytest.raises(ModelError, match="no such cell"):
            fill(2, 0, [["y"]])
    assert block["grows"] is grows
    rename: Any = make.handlers[block["names"]]
    rename(1, 0, [["second"]])
    assert names == [(1, "second")]
    assert make.actions[block["id"]] == make.actions[block["names"]] == "cells"
    bare = make.sheet("t", "", [], [], lambda *_: None)
    assert (bare["names"], bare["grows"], bare["result"]) == ("", True, "")


def test_rows_of_a_table_can_be_chosen_where_wished() -> None:
    make = Builder()
    called: list[int] = []
    plain = make.table("T", ["h"], [["a"], ["b"]], name="plain")
    assert (plain["id"], plain["selected"], plain["prose"]) == ("", -1, False)
    assert "plain" not in make.handlers
    table = make.table("T", ["h"], [["a"], ["b"]], name="t", chosen=called.append, selected=1)
    assert (table["id"], table["selected"]) == ("t", 1)
    pick: Any = make.handlers["t"]
    pick(1)
    assert called == [1]
    with pytest.raises(ModelError, match="0 to 1"):
        pick(2)


def test_only_what_is_offered_is_chosen() -> None:
    make = Builder()
    called: list[str] = []
    make.choice("c", "Sheet", "1", [("1", "Monday"), ("2", "Tuesday")], called.append)
    choose: Any = make.handlers["c"]
    choose("2")
    with pytest.raises(ModelError, match="not offered"):
        choose("Tuesday")
    assert called == ["2"]


def test_what_a_picture_lets_one_do() -> None:
    scene = Scene(9.0, 6.0, ())
    make = Builder()
    bare = make.picture("p", "Title", "Alt", scene)
    assert [bare[name] for name in ("moves", "saves", "sizes", "picks")] == [False] * 4
    assert make.handlers == {}
    full = make.picture(
        "q", "Title", "Alt", scene, moved=lambda *_: None, saved=lambda _: None,
        sized=lambda _: None, picks=True,
    )  # fmt: skip
    assert [full[name] for name in ("moves", "saves", "sizes", "picks")] == [True] * 4
    assert {**make.actions} == {"q:move": "move", "q:save": "set", "q:width": "pick"}


def test_items_of_a_picture_are_turned_upside_down() -> None:
    """A page counts y from above: in a picture 6 high, 1 from below is 5 from above."""
    items = (
        Line(((0.0, 1.0), (9.0, 6.0)), dashes=(2.0, 1.0)), Words(2.0, 1.0, "a", angle=30.0),
        Polygon(((0.0, 0.0), (1.0, 0.0), (0.0, 6.0)), INK),
        Ellipse((3.0, 1.0), (1.0, 0.5), (0.25, 0.75), INK, 1.0), Mark(4.0, 1.0, "dot", INK, 5.0),
    )  # fmt: skip
    data = blocks.scene_data(Scene(9.0, 6.0, items))
    line, text, area, ellipse, mark = data["items"]
    assert (line["at"], line["dashes"]) == ([0.0, 5.0, 9.0, 0.0], [2.0, 1.0])
    assert (text["at"], text["angle"]) == ([2.0, 5.0], -30.0)
    assert area["at"] == [0.0, 6.0, 1.0, 6.0, 0.0, 0.0]
    assert ellipse["at"] == [3.0, 5.0, 1.0, -0.5, 0.25, -0.75]
    assert (mark["is"], mark["at"]) == ("dot", [4.0, 5.0])


def test_the_size_of_a_picture_is_told_to_a_tenth_of_a_point() -> None:
    data = blocks.scene_data(Scene(466.6666, 285.1234, ()))
    assert (data["width"], data["height"]) == (466.7, 285.1)


def test_the_bar_of_a_candidate_is_no_longer_than_the_whole() -> None:
    def share(p_value: float) -> float:
        standing = Standing("tin", "fits", "1.00", "likeliest", p_value=p_value)
        return float(blocks.candidate_row(standing, fits=True)["share"])

    assert [share(p) for p in (-0.1, 0.0, 0.4, 1.0, 1.1)] == [0.0, 0.0, 0.4, 1.0, 1.0]


def test_two_hundred_problems_of_a_file_are_listed_and_the_rest_counted() -> None:
    def table(number: int) -> list[Any]:
        odd = [Problem(n, "", f"Odd {n}.", "x" if n == 1 else "") for n in range(1, number + 1)]
        return problem_table(Builder(), odd)

    (all_,) = table(200)
    assert (len(all_["rows"]), all_["caption"]) == (200, "")
    assert all_["rows"][0] == ["row 1", "Odd 1. Given: x.", "–"]
    assert table(201)[1]["text"] == "1 more place is in the list of rows that can be saved."
    some, note = table(203)
    assert (len(some["rows"]), some["caption"]) == (200, "The first 200")
    assert note["text"] == "3 more places are in the list of rows that can be saved."


def test_the_first_rows_of_a_file_are_shown_in_part() -> None:
    """Forty columns, and sixty characters of a cell; with codes only readings."""

    def preview(columns: int) -> Preview:
        matched = [Column(0, "group", "group"), Column(1, "paper / g", "paper", known_unit("mg"))]
        matched += [Column(n, f"h{n}") for n in range(2, columns)]
        sample = (("red", "2.94", "y" * 61), ("",))
        return Preview("f", "CSV", 1, 0, tuple(matched[:columns]), (), sample)

    def table(columns: int, *, codes: bool = False) -> dict[str, Any]:
        return preview_table(Builder(), preview(columns), codes=codes)

    assert table(40)["caption"] == "First rows of the file"
    assert table(41)["caption"].endswith("; 1 more column is not shown")
    many = table(42)
    assert many["caption"] == "First rows of the file; 2 more columns are not shown"
    assert len(many["header"]) == 41
    three = table(3)
    assert three["header"] == ["Column", "A (group)", "B (paper / g)", "C (h2)"]
    assert three["rows"] == [
        ["taken for", "group", "paper (1 mg = 0.001 g)", "not used"],
        ["row 2", "red", "2.94", "y" * 60], ["row 3", "", "", ""],
    ]  # fmt: skip
    coded = table(3, codes=True)
    assert coded["header"][3] == "C"
    assert coded["rows"][1:] == [
        ["row 2", HIDDEN, "2.94", HIDDEN], ["row 3", "", "", ""],
    ]  # fmt: skip
