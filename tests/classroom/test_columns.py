"""Which column is which reading: by header or letter, in which unit, or asked for."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from stoichkit import experiments
from stoichkit.classroom.columns import (
    Preview,
    clean_text,
    converted,
    known_unit,
    match_row,
    score_of,
    split_header,
)
from stoichkit.classroom.data import load_class, preview_class
from stoichkit.errors import DataFileError, ReadingError
from stoichkit.measurement.base import Role
from stoichkit.text.sheets import neutralised
from tests.classfiles import csv_bytes

LAB = experiments.load("copper-silver")
READINGS = ("wire before", "wire after", "paper", "paper + silver")


@pytest.mark.parametrize(
    ("header", "used"),
    [
        ("Wire Before,WIRE AFTER,Paper,paper and silver", True),
        ("wire_before (g),wire-after (g),paper [g],paper+silver [g]", True),
        ("wire befor,wire aftr,papr,paper + silvr", True),
        ("mass 1,mass 2,mass 3,mass 4", False),
        ("wire before / mL,wire after,paper,paper + silver", False),
        ("wire before / stones,wire after,paper,paper + silver", False),
    ],
)
def test_headers_are_recognised_or_asked_for(header: str, used: bool) -> None:
    content = f"Bench,{header}\nred,2.94,2.82,0.75,1.15\n".encode()
    if used:
        data = load_class(content, LAB)
        assert data.groups["red"].trials[0].readings["paper + silver"] == ("1.15",)
        close = "befor," in header
        assert bool(data.preview.questions) == close
        assert any("was taken for" in p.text for p in data.problems) == close
    else:
        with pytest.raises(DataFileError, match=r"No column was found|names a reading"):
            load_class(content, LAB)


def test_columns_can_be_given_by_header_or_letter() -> None:
    content = b"who,m1,m2,m3,m4\nred,2.94,2.82,0.75,1.15\n"
    columns = {"group": "who", "wire before": "m1", "wire after": "C", "paper": "m3",
               "paper + silver": "E"}  # fmt: skip
    data = load_class(content, LAB, columns=columns)
    assert data.groups["red"].trials[0].readings["wire after"] == ("2.82",)
    assert preview_class(content, LAB, columns=columns).columns["paper"] == ("D",)
    bare = b"red,2.94,2.82,0.75,1.15\nblue,3.14,3.03,0.73,1.12\n"
    letters = dict(zip(("group", *READINGS), "ABCDE", strict=True))
    data = load_class(bare, LAB, columns=letters)
    assert data.uses == {"used": 2}
    confirmed = preview_class(csv_bytes(), LAB).columns
    assert load_class(csv_bytes(), LAB, columns=confirmed).names == ("red", "blue", "green")


@pytest.mark.parametrize(
    ("columns", "words"),
    [
        ({"wire befor": "B"}, "Did you mean"),
        ({"paper": "nowhere"}, "no column of this name"),
        ({"paper": ""}, "not named"),
        ({"paper": ["C", "D"]}, "which is one number"),
        ({"paper": None}, "No column was found"),
        ({"paper": "B", "wire before": "B"}, "given twice"),
    ],
)
def test_a_wrong_mapping_is_refused(columns: dict, words: str) -> None:
    with pytest.raises(DataFileError, match=words):
        load_class(csv_bytes(), LAB, columns=columns)


@pytest.mark.parametrize(
    ("header", "parts"),
    [
        ("wire before / g", ("wire before", "g")),
        ("wire before (g)", ("wire before", "g")),
        ("wire before [mg]", ("wire before", "mg")),
        ("wire before, kg", ("wire before", "kg")),
        ("time in min", ("time", "min")),
        ("T (in °C)", ("T", "°C")),
        ("wire before (clean)", ("wire before (clean)", "")),
        ("wire in beaker", ("wire in beaker", "")),
        ("mass / stones", ("mass", "stones")),
        ("volume/cm³", ("volume", "cm³")),
    ],
)
def test_units_in_headers(header: str, parts: tuple[str, str]) -> None:
    assert split_header(header) == parts


@pytest.mark.parametrize(
    ("text", "unit", "out"),
    [
        ("2940", "mg", "2.940"),
        ("2,94", "kg", "2940"),
        ("0.0254", "L", "25.4"),
        ("1008", "hPa", "100.8"),
        ("295.0", "K", "21.85"),
        ("1.5", "min", "90.0"),
        ("0.1", "oz", "2.83"),
        ("380", "mA", "0.380"),
    ],
)
def test_conversions(text: str, unit: str, out: str) -> None:
    """The ounce is exactly 28.349523125 g (international avoirdupois pound, from memory)."""
    known = known_unit(unit)
    assert known is not None
    assert converted(text, known) == out


def test_pressure_units_agree_with_the_library() -> None:
    from stoichkit.measurement.displays import (
        kPa_from_atm,
        kPa_from_hPa,
        kPa_from_mmHg,
        kPa_from_torr,
    )

    for symbol, ours in (
        ("atm", kPa_from_atm), ("hPa", kPa_from_hPa), ("mmHg", kPa_from_mmHg),
        ("torr", kPa_from_torr),
    ):  # fmt: skip
        unit = known_unit(symbol)
        assert unit is not None
        assert float(unit.factor) == pytest.approx(ours(1.0), rel=1e-10)


@given(st.text(max_size=30))
@example(" =2+3")
@example("＝2+3")
@settings(max_examples=200, deadline=None)
def test_text_is_neutralised_and_found_again(text: str) -> None:
    safe = neutralised(text)
    assert not safe.lstrip(" ").startswith(("=", "+", "-", "@", "\t", "\r"))
    if text.isprintable():
        assert clean_text(safe) == clean_text(text)


def test_a_row_below_the_head_may_be_longer_than_all_of_it() -> None:
    """Rows are looked at in pairs for a header of two; the last of them has one below it."""
    lab = experiments.load("copper-silver")
    rows = ["group,wire before", *["red,2.94"] * 28, "x,wire", "p,q,r,s,t"]
    content = "\n".join(rows).encode()
    assert preview_class(content, lab).matched
    with pytest.raises(DataFileError, match="No column was found"):
        load_class(content, lab)


ROLES = {
    "wire before": Role(name="wire before", instrument="b", quantity="mass", unit="g"),
    "wire after": Role(name="wire after", instrument="b", quantity="mass", unit="g", repeated=True),
    "room temperature": Role(name="room temperature", instrument="t", quantity="T", unit="°C"),
}


def matched(*headers: str, **given: tuple[str, ...] | None) -> list[tuple[str, str]]:
    """Return field and way of each column."""
    named = {name.replace("_", " "): where for name, where in given.items()}
    return [(c.field, c.how) for c in match_row(headers, ROLES, named)]


def test_a_header_is_matched_word_for_word_or_alike() -> None:
    assert matched("wire before", "Wire_Before", "group", "Run no.") == [
        ("wire before", "exact"), ("", ""), ("group", "exact"), ("trial", "same words"),
    ]  # fmt: skip
    assert matched("Wire  BEFORE / g", "wire-after [g]") == [
        ("wire before", "same words"), ("wire after", "same words"),
    ]  # fmt: skip


def test_only_repeated_readings_may_be_numbered() -> None:
    for numbered in ("wire after 1", "wire after #2", "wire after (3rd)", "wire after, no 4"):
        assert (
            matched(numbered, "wire after 9") == [("wire after", "same words")] * 2
            or matched(numbered, "wire after 9") == [("wire after", "exact")] * 2
        )
    assert matched("wire before", "wire before 2")[1] == ("", "")
    assert matched("wire after", "wire after 123")[1] != ("wire after", "exact")


def test_the_first_word_for_a_group_counts() -> None:
    assert matched("name", "bench")[1][0] == "group"
    assert matched("name", "bench")[0][0] == ""
    assert matched("#", "attempt") == [("", ""), ("trial", "exact")]


def test_what_is_given_stands_before_what_is_written() -> None:
    assert matched("wire before", "x", wire_before=("x",)) == [("", ""), ("wire before", "given")]
    assert matched("group", "wire before", group=None) == [("", ""), ("wire before", "exact")]
    both = matched("x", "y", "wire after", wire_after=("x", "y"))
    assert both == [("wire after", "given"), ("wire after", "given"), ("", "")]


def test_a_header_written_nearly_so_is_asked_about() -> None:
    """Four fifths of the letters: “wire befor” has 10 of the 10.5 between them and the name."""
    (near,) = match_row(["wire befor"], ROLES, {})
    assert (near.field, near.how) == ("wire before", "close")
    assert near.question == "Column A (“wire befor”) was taken for “wire before”: is it?"
    (far,) = match_row(["wire b"], ROLES, {})  # 2 · 6 / 17 = 0.71
    assert (far.field, far.question) == ("", "")
    (digits,) = match_row(["1234567"], ROLES, {})
    assert (digits.field, digits.question) == ("", "")
    alike_ = {name: replace(ROLES["wire before"], name=name) for name in ("flask one", "flask ore")}
    (either,) = match_row(["flask oxe"], alike_, {})
    assert either.field == ""
    assert either.question.startswith("Column A (“flask oxe”) could be “flask ")
    assert either.question.endswith(": which?")


def test_a_unit_that_cannot_be_converted_is_asked_for() -> None:
    mass, heat = match_row(["wire before / mg", "room temperature [K]"], ROLES, {})
    assert mass.unit is not None
    assert (mass.field, mass.unit.symbol) == ("wire before", "mg")
    assert heat.unit is not None
    assert heat.unit.words == "number in K − 273.15 = reading in °C"
    assert mass.unit.words == "1 mg = 0.001 g"
    (odd,) = match_row(["wire before / mL"], ROLES, {})
    assert (odd.field, odd.how, odd.unit) == ("", "", None)
    assert odd.question == (
        "Column A (“wire before / mL”) is in mL, which cannot be turned into g: in which unit is "
        "“wire before”?"
    )


def test_how_well_a_row_serves_as_the_header() -> None:
    """Four for a reading as it is named, one for one nearly so, one each for group and trial."""

    def score(*headers: str) -> int:
        return score_of(tuple(match_row(headers, ROLES, {})), ROLES)

    assert score("wire before", "wire after") == 8
    assert score("group", "trial", "wire before") == 6
    assert score("wire befor", "x") == 1
    assert score("group", "trial") == 0
    assert score("2.94", "2.82") == 0
    assert score_of(tuple(match_row(["2.94"], ROLES, {"wire before": ("A",)})), ROLES) == 0


def test_columns_and_their_letters() -> None:
    columns = tuple(match_row(["group", "wire after 1", "", "wire after 2", "note"], ROLES, {}))
    found = Preview("f.csv", "CSV", 3, 4, columns, ("wire before",), ())
    assert found.columns == {"group": ("A",), "wire after": ("B", "D")}
    assert [c.letter for c in found.of("wire after")] == ["B", "D"]
    assert [c.label for c in columns] == ["A (group)", "B (wire after 1)", "C",
                                          "D (wire after 2)", "E (note)"]  # fmt: skip
    assert replace(columns[0], place="row 7").label == "row 7 (group)"
    assert found.first_row == 5
    assert replace(found, units_row=0).first_row == 4
    assert str(found).splitlines() == [
        "f.csv (CSV), header in row 3", "  A (group) -> group", "  B (wire after 1) -> wire after",
        "  C -> not used", "  D (wire after 2) -> wire after", "  E (note) -> not used",
        "  missing: wire before",
    ]  # fmt: skip


def test_a_row_of_units_below_the_header() -> None:
    rows = ["group,wire before,wire after,paper,paper + silver"]
    body = "red,2940,2.82,0.75,1.15"
    for units, read in (
        ("-,mg,g,g,g", True), (",[mg],,in g,", True), ("unit,(mg),g,g,g", True),
        ("red,2930,2.81,0.74,1.14", False), (",mg,stones,g,g", False), (",,,,", False),
    ):  # fmt: skip
        found = preview_class("\n".join([*rows, units, body]).encode(), LAB)
        assert (found.units_row, found.first_row) == ((2, 3) if read else (0, 2)), units
        (first,) = found.of("wire before")
        assert (first.unit is not None and first.unit.symbol) == ("mg" if read else False)


def test_a_table_without_a_header_begins_where_the_numbers_do() -> None:
    letters = dict(zip(("group", *READINGS), "ABCDE", strict=True))
    text = "our class\nof Monday\nred,2.94,2.82,0.75,1.15\nblue,3.14,3.03,0.73,1.12\n"
    found = preview_class(text.encode(), LAB, columns=letters)
    assert (found.header_row, found.first_row) == (2, 3)
    top = preview_class(text.encode().split(b"\n", 2)[2], LAB, columns=letters)
    assert (top.header_row, top.first_row) == (0, 1)


@pytest.mark.parametrize(
    ("text", "unit", "out"),
    [
        ("2e3", "mg", "2"), ("2e3", "min", "120000"), ("3e2", "K", "26.85"),
        ("1e3", "mmHg", "133.32"), ("760", "torr", "101.325"), ("1.013", "bar", "101.3"),
        ("12", "dL", "1200"), ("-5", "K", "-278.15"), ("1", "oz", "28.35"),
        ("2.50", "lb", "1133.98"),
        ("0.5", "MPa", "500"), ("2", "atm", "202.65"), ("250", "µL", "0.250"),
        ("1,5", "h", "5400.0"),
        ("1." + "0" * 27, "mg", "0.001" + "0" * 27),
    ],
)  # fmt: skip
def test_how_many_digits_a_converted_number_has(text: str, unit: str, out: str) -> None:
    """As typed where the factor is a power of ten or whole, else two digits more.

    0 °C is 273.15 K, a pound 453.59237 g, an atmosphere 101.325 kPa (exact, from memory).
    """
    known = known_unit(unit)
    assert known is not None
    assert converted(text, known) == out


def test_a_number_has_thirty_decimals_at_most() -> None:
    milligram = known_unit("mg")
    assert milligram is not None
    with pytest.raises(ReadingError, match="too many decimals"):
        converted("1." + "0" * 28, milligram)


@pytest.mark.parametrize("above", ["paper,Monday", "group,trial,wire before,wire after,paper"])
def test_the_header_is_the_row_that_names_most(above: str) -> None:
    text = f"{above}\ngroup,trial,{','.join(READINGS)}\nred,1,2.94,2.82,0.75,1.15\n"
    assert preview_class(text.encode(), LAB).header_row == 2
    assert load_class(text.encode(), LAB).names == ("red",)


@pytest.mark.parametrize(
    "above", ["our class\nof Monday\n", "our class of Monday\n", "group,wire before,,,\n"]
)
def test_rows_above_the_numbers_may_be_shorter(above: str) -> None:
    """A title is no header by which the cells of a row are counted."""
    letters = dict(zip(("group", *READINGS), "ABCDE", strict=True))
    body = "red,2.94,2.82,0.75,1.15\nblue,3.14,3.03,0.73,1.12\n"
    data = load_class(f"{above}{body}".encode(), LAB, columns=letters)
    assert data.names == ("red", "blue")
    assert data.uses["used"] == 2


def test_a_last_column_without_a_heading_may_be_given_by_its_letter() -> None:
    """Else a number beyond the header is taken for a decimal comma gone astray."""
    text = f"group,{','.join(READINGS[:3])},\nred,2.94,2.82,0.75,1.15\n"
    data = load_class(text.encode(), LAB, columns={"paper + silver": "E"})
    assert data.groups["red"].trials[0].readings["paper + silver"] == ("1.15",)
    beyond = f"group,{','.join(READINGS)},,\nred,2.94,2.82,0.75,1.15,,7\nblue,3.14,3.03,0.73,1.12\n"
    kept = load_class(beyond.encode(), LAB)
    assert kept.names == ("blue",)
    assert any("more cells than the header" in problem.text for problem in kept.problems)
