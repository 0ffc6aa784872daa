"""What names, choices and rubrics of a class may be: on both sides of each limit."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from stoichkit.classroom.choices import Choices, load_choices, parse_choices
from stoichkit.classroom.items import Item
from stoichkit.classroom.names import (
    all_usable,
    codes_of,
    distinct,
    is_usable,
    plain_names,
    usable_name,
)
from stoichkit.classroom.questions import plain_name
from stoichkit.classroom.rubric import Rubric, load_rubric
from stoichkit.classroom.trust import _groups_sentence
from stoichkit.errors import DataFileError, ModelError

LONG = "x" * 80


@pytest.mark.parametrize(
    ("text", "name"),
    [
        (LONG, LONG), (LONG + "x", "x" * 79 + "…"), ("x" * 40 + " " + "y" * 39,) * 2,
        ("x" * 40 + " " + "y" * 40, "x" * 40 + " " + "y" * 38 + "…"),
        ("x" * 78 + " yz", "x" * 78 + "…"), (" red \t one ", "red one"), ("a\x07b", "a\ufffdb"),
        ("\x07" * 81, "\ufffd" * 79 + "…"), ("", ""),
    ],
)  # fmt: skip
def test_a_name_has_eighty_characters_on_one_line(text: str, name: str) -> None:
    assert usable_name(text) == name
    assert is_usable(name)
    assert all_usable([name]) == bool(name)


def test_names_that_cannot_stay_as_they_are() -> None:
    for odd in ("x" * 81, " a", "a ", "a  b", "a\x07", ""):
        assert not all_usable(["red", odd])
    assert all_usable(["red", "blue one"])
    assert all_usable([LONG])
    assert not is_usable(LONG + "x")
    assert not is_usable("a\x07")


def test_names_written_alike_are_numbered_from_two() -> None:
    assert distinct(["red", "blue"]) == ["red", "blue"]
    assert distinct(["red ", " red", "red\t"]) == ["red", "red (2)", "red (3)"]
    long = distinct([LONG + "a", LONG + "b"])
    assert long == ["x" * 79 + "…", "x" * 68 + " (2)"]
    assert distinct(["a ", "a (2)", " a"]) == ["a", "a (2)", "a (3)"]


def test_plain_names_of_many_are_those_of_each() -> None:
    for names in (["Red One", "red1 2", "1 2 3"], ["Grün", "grün"], [], ["a\tb", "A B"]):
        assert plain_names(names) == [plain_name(name) for name in names]


@pytest.mark.parametrize(
    ("names", "codes"),
    [
        (["red"], ["G01"]), (["a"] * 99, None), ([f"n{i}" for i in range(100)], None),
        (["g7", "x"], ["K01", "K02"]), (["g7", "k1"], ["Q01", "Q02"]),
        (["g7", "k1", "q2"], ["GKQ01", "GKQ02", "GKQ03"]), (["green", "G"], ["G01", "G02"]),
    ],
)  # fmt: skip
def test_codes_are_no_names(names: list[str], codes: list[str] | None) -> None:
    found = codes_of(names)
    assert list(found.values()) == names
    if codes is None:
        width = 2 if len(names) < 100 else 3
        codes = [f"G{n:0{width}d}" for n in range(1, len(names) + 1)]
    assert list(found) == codes


def test_how_much_choices_may_hold(tmp_path: Path) -> None:
    """Lines of 200 characters, a million bytes; a byte that is no character is told."""
    assert Choices(sheets=("x" * 200,)).sheets
    with pytest.raises(DataFileError, match="up to 200 characters"):
        Choices(sheets=("x" * 201,))
    with pytest.raises(DataFileError, match="control characters"):
        Choices(sheets=("a\x07",))
    with pytest.raises(DataFileError, match="Monday twice"):
        Choices(sheets=("Monday", "Tuesday", "Monday"))
    assert Choices(columns={f"c{n}": "A" for n in range(10_000)}).columns
    with pytest.raises(DataFileError, match="up to 10,000"):
        Choices(columns={f"c{n}": "A" for n in range(10_001)})
    text = Choices(sheets=("Monday",)).to_toml()
    full = text + "#" * (1_000_000 - len(text.encode()))
    assert parse_choices(full) is not None
    with pytest.raises(DataFileError, match="too large"):
        parse_choices(full + "#")
    place = tmp_path / "c.toml"
    place.write_bytes(text.encode() + b"# one\n# two\n# \xff\n")
    line = text.count("\n") + 3
    with pytest.raises(DataFileError, match=rf"line {line} of c\.toml"):
        load_choices(place)
    place.write_bytes(full.encode() + b"#")
    with pytest.raises(DataFileError, match="too large"):
        load_choices(place)
    place.write_bytes(full.encode())
    assert load_choices(place) == parse_choices(full)


def test_how_much_a_rubric_may_hold(tmp_path: Path) -> None:
    """Points up to 1000, parts of them up to 1, fifty thousand bytes."""
    assert Rubric(points={"ratio": 1000}, known_mistake=1.0).total == 1000
    for wrong in ({"points": {"ratio": 1000.1}}, {"points": {"ratio": -1}}, {"points": {"a": 0}},
                  {"points": {"a": 1}, "figures_off": 1.01},
                  {"points": {"a": 1}, "carried_forward": -0.01}):  # fmt: skip
        with pytest.raises(ModelError):
            Rubric(**wrong)
    for good, bad in (("ratio = 1000", "ratio = 1000.1"), ("ratio = 0.5", "ratio = -0.5"),
                      ("ratio = 1", "ratio = true")):  # fmt: skip
        assert Rubric.parse(f"[points]\n{good}\n").total > 0
        with pytest.raises(DataFileError, match="Allowed: 0 to 1000"):
            Rubric.parse(f"[points]\n{bad}\n")
    with pytest.raises(DataFileError, match="Allowed: 0 to 1"):
        Rubric.parse("figures_off = 1.1\n[points]\nratio = 1\n")
    text = "[points]\nratio = 1\n"
    full = text + "#" * (50_000 - len(text))
    place = tmp_path / "r.toml"
    place.write_text(full, "utf-8")
    assert load_rubric(place) == Rubric.parse(text)
    place.write_text(full + "#", "utf-8")
    with pytest.raises(DataFileError, match="too large"):
        load_rubric(place)


def test_a_rubric_to_begin_with() -> None:
    plain = Rubric.for_items([Item("m", "", "g", True), Item("conclusion", "", "", False)])
    assert dict(plain.points) == {"m": 1.0, "conclusion": 2.0}
    assert (plain.carried_forward, plain.another_unit, plain.known_mistake, plain.figures_off) == (
        1.0, 0.5, 0.0, 0.25,
    )  # fmt: skip
    assert "another_unit = 0.5  #" in plain.toml()
    assert '"conclusion" = 2' in plain.toml()


@pytest.mark.parametrize(
    ("names", "groups", "words"),
    [
        ((), 9, "It hangs on no few groups: it stays as those that speak for it most are left"),
        (("red",), 9, "It hangs on one group: without red the others "),
        (("red",), 1, "It hangs on one group: without red the others "),
        (("red", "blue"), 4, "It hangs on 2 of 4 groups: without red and blue the others "),
        (("red", "blue"), 3, "It hangs on no few groups: 2 of 3 would have to be left out before"),
    ],
)
def test_on_how_many_groups_a_verdict_hangs(
    names: tuple[str, ...], groups: int, words: str
) -> None:
    """More than half of them are no few."""
    verdict: Any = SimpleNamespace(
        hangs_on=names, without_those=SimpleNamespace(candidates=("copper(I)", "copper(II)")),
        groups=range(groups), candidates={"copper(I)": 1, "copper(II)": 2},
    )  # fmt: skip
    assert _groups_sentence(verdict).startswith(words)
