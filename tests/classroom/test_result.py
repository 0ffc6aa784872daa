"""The one entry: a path, bytes or loaded data say the same, and what is missing is said."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import stoichkit
from stoichkit import experiments
from stoichkit.classroom import assess_class, load_class
from stoichkit.classroom.evidence import evidence_of_groups
from stoichkit.errors import DataFileError, ModelError
from stoichkit.measurement.displays import Balance
from tests.classfiles import ROWS, csv_bytes
from tests.labs import ROLES, lab

LAB = experiments.load("copper-silver")


def test_a_path_its_content_and_loaded_data_say_the_same(tmp_path: Path) -> None:
    file = tmp_path / "class.csv"
    file.write_bytes(csv_bytes())
    data = load_class(csv_bytes(), LAB)
    expected = evidence_of_groups(data)

    for found in (
        assess_class(file, "copper-silver"),
        assess_class(str(file), LAB),
        assess_class(csv_bytes(), LAB),
        assess_class(data),
    ):
        assert found.evidence.names == expected.names == ("red", "blue", "green")
        np.testing.assert_array_equal(found.evidence.p_value, expected.p_value)
        assert found.verdict is not None
        assert found.verdict.verdict.candidates == ("copper(II)",)
    assert stoichkit.assess_class is assess_class
    wide = assess_class(data, coverage=0.9999)
    assert wide.evidence.coverage == 0.9999 == wide.verdict.coverage  # type: ignore[union-attr]


def test_codes_leave_no_key_in_the_result() -> None:
    data = load_class(csv_bytes(), LAB, codes=True)
    for found in (assess_class(data), assess_class(csv_bytes(), LAB, codes=True)):
        assert found.coded
        assert found.evidence.names == ("G01", "G02", "G03")
        assert not found.data.key
        assert not found.groups["G01"].experiment.title.count("red")
    assert dict(data.key) == {"G01": "red", "G02": "blue", "G03": "green"}
    assert not assess_class(load_class(csv_bytes(), LAB)).coded


def test_columns_are_given_once() -> None:
    odd = [*ROWS[0], "0.7"]
    content = csv_bytes([odd, odd], ["group", "trial", "one", "two", "three", "four", "x"])
    columns = {"wire before": "C", "wire after": "D", "paper": "E", "paper + silver": "F"}
    found = assess_class(content, LAB, columns=columns)
    assert found.evidence.names == ("red",)
    data = load_class(content, LAB, columns=columns)
    for more in ({"columns": columns}, {"codes": True}, {"sheet": "1"}, {"experiment": LAB}):
        with pytest.raises(ModelError, match="loaded already"):
            assess_class(data, **more)  # type: ignore[arg-type]


def test_what_is_missing_is_said() -> None:
    with pytest.raises(ModelError, match="which experiment"):
        assess_class(csv_bytes())
    with pytest.raises(DataFileError, match="not a file"):
        assess_class([LAB], LAB)  # type: ignore[arg-type]
    with pytest.raises(ModelError, match="coverage"):
        assess_class(csv_bytes(), LAB, coverage=1.0)


def test_more_groups_are_looked_out_for_where_there_is_a_rival() -> None:
    two = assess_class(csv_bytes(), LAB)
    assert two.outlook is not None
    assert two.outlook.target == 0.9  # as far below the coverage as 0.9 is below 0.95
    low = assess_class(csv_bytes(), LAB, coverage=0.8).outlook
    assert low is not None
    assert low.target == 0.75
    only = lab([(3.0, 2.9, 0.7, 1.0)], Balance(readability_g=0.01), {"a": "2"})
    header = ("group", "trial", *ROLES)
    assert assess_class(csv_bytes(header=header), only).outlook is None
