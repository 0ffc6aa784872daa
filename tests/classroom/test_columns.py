"""Which column is which reading: by header or letter, in which unit, or asked for."""

from __future__ import annotations

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from stoichkit import experiments
from stoichkit.classroom.columns import clean_text, converted, known_unit, split_header
from stoichkit.classroom.data import load_class, preview_class
from stoichkit.errors import DataFileError
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
