"""Headers, scores and units of single columns, on cases worked out by hand."""

from __future__ import annotations

from typing import Any

import pytest

from stoichkit import experiments
from stoichkit.classroom.columns import (
    Column,
    Preview,
    _close,
    _unit_cell,
    alike,
    clean_text,
    converted,
    is_number,
    known_unit,
    match_columns,
    match_row,
    number_and_unit,
    score_of,
    split_header,
)
from stoichkit.classroom.tables import CellRows, TextTable
from stoichkit.errors import DataFileError, ReadingError
from stoichkit.measurement.registry import KINDS

LAB = experiments.load("copper-silver")
ROLES: Any = {role.name: role for role in LAB.roles()}
NAMES = list(ROLES)
READINGS = ("2.90", "2.80", "0.90", "0.70")


def table(*rows: tuple[str, ...]) -> TextTable:
    return TextTable("a.csv", "CSV", CellRows.of(rows))


def matched(*headers: str) -> list[tuple[str, str]]:
    return [(one.field, one.how) for one in match_row(headers, ROLES, {})]


# Headers


def test_the_readings_of_the_lab() -> None:
    assert NAMES == ["wire before", "wire after", "paper + silver", "paper"]


def test_a_header_is_exact_alike_or_close() -> None:
    assert matched("group", "trial", *NAMES) == [
        ("group", "exact"), ("trial", "exact"), *((name, "exact") for name in NAMES),
    ]  # fmt: skip
    assert matched("Bench", "No.", "WIRE BEFORE", "paper and silver") == [
        ("group", "same words"), ("trial", "same words"), ("wire before", "same words"),
        ("paper + silver", "same words"),
    ]  # fmt: skip
    assert matched("wire befor", "notes") == [("wire before", "close"), ("", "")]


def test_four_fifths_of_the_letters_are_close() -> None:
    """The ratio is 2 · matching / all letters: “paper” and “pape” 8/9, “pap” 6/8, “paperxy”
    10/12 = 0.83, “paperxyz” 10/13 = 0.77.
    """

    def found(name: str) -> list[tuple[float, int, str, str]]:
        return _close([(name, name)], {}, ["paper"])

    assert found("pape") == [(pytest.approx(8 / 9), 0, "paper", "")]
    assert found("paperxy") == [(pytest.approx(10 / 12), 0, "paper", "")]
    assert found("pap") == found("paperxyz") == found("1234") == []
    assert _close([("pape", "pape")], {0: "taken"}, ["paper"]) == []
    # “pxper” lies 8/10 from both: which of them is asked
    assert _close([("pxper", "pxper")], {}, ["paper", "piper"])[0][2:] == ("piper", "paper")
    # “papers” 10/11 = 0.91 and 8/11 = 0.73: clear enough
    assert _close([("papers", "papers")], {}, ["paper", "piper"])[0][2:] == ("paper", "")


def test_the_best_match_is_taken_first() -> None:
    parts = [("pape", "pape"), ("papers", "papers"), ("papers", "papers")]
    assert [one[1] for one in _close(parts, {}, ["paper"])] == [1, 2, 0]
    assert matched("pape", "papers") == [("", ""), ("paper", "close")]


def test_a_header_scores_four_a_reading_and_one_for_group_and_trial() -> None:
    def score(*headers: str) -> int:
        return score_of(tuple(match_row(headers, ROLES, {})), ROLES)

    assert score("wire before") == 4
    assert score("group", "trial", *NAMES) == 4 * 4 + 2
    assert score("wire befor") == 1
    assert score("group", "trial") == 0
    numbers = (
        Column(0, "2.90", "paper", None, "given"),
        Column(1, "paper", "paper", None, "exact"),
    )
    assert score_of(numbers, ROLES) == 0


def preview(*rows: tuple[str, ...]) -> Preview:
    return match_columns(table(*rows), LAB)


def test_the_header_is_found_below_what_stands_above_it() -> None:
    header = ("group", *NAMES)
    found = preview(("Class 3", ""), (), header, ("", "g", "g", "mg", "g"), ("red", *READINGS))
    assert (found.header_row, found.units_row, found.first_row) == (3, 4, 5)
    assert [one.unit.symbol for one in found.matched if one.unit] == ["g", "g", "mg", "g"]
    assert found.sample == (("red", *READINGS),)
    none = preview(header, ("red", *READINGS))
    assert (none.header_row, none.units_row, none.first_row) == (1, 0, 2)


def test_a_header_stands_in_the_first_sixty_rows() -> None:
    header = ("group", *NAMES)
    above = [("x", "y")] * 59
    assert preview(*above, header, ("red", *READINGS)).header_row == 60
    with pytest.raises(DataFileError, match="No row of the file names a reading"):
        preview(*above, ("x", "y"), header, ("red", *READINGS))


def test_five_rows_are_shown_and_what_is_missing_named() -> None:
    rows = [(f"g{n}", *READINGS[:3]) for n in range(7)]
    found = preview(("group", *NAMES[:3]), *rows)
    assert found.sample == tuple(rows[:5])
    assert found.missing == ("paper",)


def test_the_better_of_two_headers_counts_and_the_first_of_equals() -> None:
    some, header = ("paper", "notes"), ("group", *NAMES)
    assert preview(some, header, ("red", *READINGS)).header_row == 2
    assert preview(header, some, ("red", *READINGS)).header_row == 1
    assert preview(header, header, ("red", *READINGS)).header_row == 1


def test_text_beyond_the_header_has_a_column() -> None:
    found = preview(("group", *NAMES), ("red", *READINGS, "late"))
    assert [one.letter for one in found.matched] == ["A", "B", "C", "D", "E", "F"]
    assert (found.matched[5].header, found.matched[5].label) == ("", "F")
    assert found.matched[1].label == "B (wire before)"
    assert found.columns == {
        "group": ("A",), **dict(zip(NAMES, (("B",), ("C",), ("D",), ("E",)), strict=True)),
    }  # fmt: skip


def test_letters_of_a_person_stand_in_for_a_header() -> None:
    where = {"group": "A", **dict(zip(NAMES, "bcde", strict=True))}
    rows = (("Day", "one", "two", "three", "four"), ("red", *READINGS), ("blue", *READINGS))
    found = match_columns(table(*rows), LAB, where)
    assert (found.header_row, found.first_row) == (1, 2)
    assert [(one.field, one.how) for one in found.matched] == [
        ("group", "given"), *((name, "given") for name in NAMES),
    ]  # fmt: skip
    assert [one.header for one in found.matched] == ["Day", "one", "two", "three", "four"]
    bare = match_columns(table(*rows[1:]), LAB, where)
    assert (bare.header_row, bare.first_row) == (0, 1)
    with pytest.raises(DataFileError, match="no column of this name for “paper”"):
        match_columns(table(("group", *NAMES), ("red", *READINGS)), LAB, {"paper": "Z"})


def test_a_row_of_numbers_below_a_title_begins_the_table() -> None:
    where = {"group": "A", **dict(zip(NAMES, "BCDE", strict=True))}
    title, odd, row = ("Day",), ("red", "2.90", "x", "0.90", "0.70"), ("red", *READINGS)
    found = match_columns(table(title, row, row), LAB, where)
    assert (found.header_row, found.first_row) == (1, 2)
    assert [one.header for one in found.matched] == ["Day", "", "", "", ""]
    assert [one.how for one in found.matched] == ["given"] * 5
    found = match_columns(table(title, ("late",), row), LAB, where)
    assert (found.header_row, found.matched[0].header) == (2, "late")
    assert match_columns(table(title, odd[:1], row), LAB, where).first_row == 3


def test_a_row_of_units_holds_nothing_else() -> None:
    header = ("group", *NAMES)
    assert preview(header, ("", "g", "mg", "", "-"), ("red", *READINGS)).units_row == 2
    assert preview(header, ("", "g", "x", "g", "g"), ("red", *READINGS)).units_row == 0
    assert preview(header, ("", "", "", "", ""), ("red", *READINGS)).units_row == 0


def test_of_two_readings_as_close_a_person_is_asked() -> None:
    """“wire befter”: 2 · 9 / 21 = 0.857 of “wire after”, 2 · 9 / 22 = 0.818 of “wire before”."""
    (found,) = match_row(["wire befter"], ROLES, {})
    assert found.field == ""
    assert found.question == (
        "Column A (“wire befter”) could be “wire after” or “wire before”: which?"
    )
    (taken,) = match_row(["wire befor"], ROLES, {})
    assert taken.question == "Column A (“wire befor”) was taken for “wire before”: is it?"


def test_every_unit_of_an_instrument_is_known() -> None:
    for kind in KINDS.values():
        unit = known_unit(kind.unit)
        assert unit is not None
        assert (unit.base, unit.same) == (kind.unit, True)
    assert known_unit("furlong") is None


def test_headers_are_cleaned_and_compared() -> None:
    assert clean_text("  wire \n before ") == "wire before"
    assert clean_text("'=a") == "=a"
    assert clean_text("'a") == "'a"
    assert clean_text("'=a'=b") == "=a'=b"
    assert alike(" Paper  & Silver: ") == alike("paper+silver") == "paper + silver"
    assert alike("mass-loss") == "mass loss"
    assert [is_number(text) for text in ("2.90", "2,90", "-1e-3", "", "2.9O", "g")] == [
        True, True, True, False, False, False,
    ]  # fmt: skip


# Units


@pytest.mark.parametrize(
    ("header", "name", "unit"),
    [
        ("paper / g", "paper", "g"), ("paper [mg]", "paper", "mg"), ("paper (g)", "paper", "g"),
        ("paper (in g)", "paper", "g"), ("paper, g", "paper", "g"), ("paper in kg", "paper", "kg"),
        ("paper (dry)", "paper (dry)", ""), ("paper, dry", "paper, dry", ""),
        ("paper / furlong", "paper", "furlong"), ("paper [dry]", "paper", "dry"),
        ("paper / 2", "paper / 2", ""), ("paper [2]", "paper [2]", ""), ("paper", "paper", ""),
    ],
)  # fmt: skip
def test_a_unit_is_split_from_its_header(header: str, name: str, unit: str) -> None:
    assert split_header(header) == (name, unit)


def test_a_cell_of_a_row_of_units() -> None:
    assert [_unit_cell(text) for text in ("(g)", "[mL]", "in g", "/ g", " g ")] == [
        "g", "mL", "g", "g", "g",
    ]  # fmt: skip
    assert {_unit_cell(text) for text in ("-", "—", "unit", "Units", "1", "", "()")} == {""}


def test_a_number_with_its_unit() -> None:
    def split(text: str) -> tuple[str, str] | None:
        found = number_and_unit(text)
        return found and (found[0], found[1].symbol)

    assert split("2.94 g") == ("2.94", "g")
    assert split("−2,94mg") == ("−2,94", "mg")
    assert split("1e-3 kg") == ("1e-3", "kg")
    assert split("25 °C") == ("25", "°C")
    assert split("2.94 x") is split("g") is split("2.94") is None


@pytest.mark.parametrize(
    ("typed", "unit", "text"),
    [
        ("294", "mg", "0.294"), ("294", "cg", "2.94"), ("2.9", "dg", "0.29"), ("2.9", "kg", "2900"),
        ("2.9041", "kg", "2904.1"), ("5", "µg", "0.000005"), ("5", "L", "5000"), ("5", "cL", "50"),
        ("5.25", "dL", "525"), ("250", "µL", "0.250"), ("1013.2", "hPa", "101.32"),
        ("101325", "Pa", "101.325"), ("1.013", "bar", "101.3"), ("0.1", "MPa", "100"),
        ("2", "atm", "202.65"), ("1.5", "h", "5400.0"), ("1.5", "min", "90.0"),
        ("273.15", "K", "0.00"), ("300", "K", "26.85"), ("250.5", "mA", "0.2505"),
    ],
)  # fmt: skip
def test_numbers_are_turned_into_readings(typed: str, unit: str, text: str) -> None:
    """Prefixes of the SI; 1 bar = 100 kPa, 1 atm = 101.325 kPa, 0 °C = 273.15 K (from memory).

    Powers of ten keep the digits typed; of other factors two decimals more than needed are kept.
    """
    known = known_unit(unit)
    assert known is not None
    assert converted(typed, known) == text


def test_avoirdupois_masses_are_exact() -> None:
    """1 lb = 453.59237 g, 1 oz is its sixteenth, 28.349523125 g (from memory)."""
    pound, ounce = known_unit("lb"), known_unit("oz")
    assert pound is not None
    assert ounce is not None
    assert pound.factor == 16 * ounce.factor
    assert float(converted("1.000", pound)) == pytest.approx(453.592, abs=0.001)
    assert float(converted("1.000", ounce)) == pytest.approx(28.3495, abs=0.001)


def test_a_unit_says_how_it_is_turned() -> None:
    kelvin, milligram, gram = known_unit("K"), known_unit("mg"), known_unit("gram")
    assert kelvin is not None
    assert milligram is not None
    assert gram is not None
    assert kelvin.words == "number in K − 273.15 = reading in °C"
    assert milligram.words == "1 mg = 0.001 g"
    assert (kelvin.same, milligram.same, gram.same) == (False, False, True)


def test_thirty_decimals_are_the_most() -> None:
    """A milligram is three more decimals than were typed."""
    milligram = known_unit("mg")
    assert milligram is not None
    assert converted("1." + "0" * 27, milligram) == "0.001" + "0" * 27
    with pytest.raises(ReadingError, match="up to 30"):
        converted("1." + "0" * 28, milligram)
