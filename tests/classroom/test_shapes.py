"""Tables that stand otherwise: trials side by side, headers of two rows, turned, without a header.

Red: 2.94 and 2.82 g of wire, 0.75 and 1.15 g of paper; blue: 3.14, 3.03, 0.73, 1.12 (invented).
"""

from __future__ import annotations

import contextlib
from dataclasses import replace

import pytest

from stoichkit import experiments
from stoichkit.classroom.shapes import Shaped, _bare, _filled, _tagged, shaped
from stoichkit.classroom.tables import read_table
from stoichkit.errors import DataFileError
from stoichkit.measurement.base import Role

LAB = experiments.load("copper-silver")
READINGS = ("wire before", "wire after", "paper", "paper + silver")
RED, BLUE = ("2.94", "2.82", "0.75", "1.15"), ("3.14", "3.03", "0.73", "1.12")
MADE = ("wire before", "wire after", "paper + silver", "paper")
"""The order of the columns of a table that is made: that of the experiment."""
SIDE = "trials side by side in one row"


def made(cells: tuple[str, ...]) -> tuple[str, ...]:
    return (*cells[:2], cells[3], cells[2])


def table_of(*lines: str) -> Shaped:
    return shaped(read_table("\n".join(lines).encode()), LAB)


def numbered(number: object) -> str:
    return ",".join(f"{name} {number}" for name in READINGS)


def test_trials_side_by_side_become_rows() -> None:
    found = table_of(
        f"bench,{numbered(1)},{numbered(2)},note",
        f"red,{','.join(RED)},{','.join(BLUE)},clean",
        f"teal,{','.join(BLUE)},,,,,",
        "plum,,,,,,,,,late",
    )
    assert found.preview.shape == SIDE
    assert found.table.rows[0] == ("bench", "note", "trial", *MADE)
    assert found.table.rows[1:] == (
        ("red", "clean", "1", *made(RED)), ("red", "clean", "2", *made(BLUE)),
        ("teal", "", "1", *made(BLUE)),
        ("plum", "late"),
    )  # fmt: skip
    assert [found.origin(n) for n in range(5)] == [
        (1, ""), (2, "trial 1"), (2, "trial 2"), (3, "trial 1"), (4, ""),
    ]  # fmt: skip
    assert found.preview.columns == {
        "group": ("A",), "trial": ("trials",), "wire before": ("B, F",), "wire after": ("C, G",),
        "paper": ("D, H",), "paper + silver": ("E, I",),
    }  # fmt: skip
    assert [n for n, one in enumerate(found.preview.matched) if not one.field] == [1]


def test_what_only_one_trial_was_read_gets_its_column() -> None:
    """The room is read once for all labs, and by this bench with its first trial."""
    lab = experiments.load("magnesium-gas")
    names = ["ribbon 1", "gas volume 1", "room temperature 1", "ribbon 2", "gas volume 2"]
    text = f"bench,{','.join(names)}\nred,0.0412,41.3,22.5,0.0398,40.1\n"
    found = shaped(read_table(text.encode()), lab)
    assert found.table.rows[1:] == (
        ("red", "1", "0.0412", "41.3", "22.5"), ("red", "2", "0.0398", "40.1", ""),
    )  # fmt: skip


def test_letters_and_units_of_trials_side_by_side() -> None:
    head = ",".join(f"{name} (a) / mg,{name} (b) / mg" for name in READINGS)
    found = table_of(f"bench,{head}", "red," + ",".join(f"{one},{one}" for one in RED))
    assert found.table.rows[0][2:] == tuple(f"{name} / mg" for name in MADE)
    assert [found.origin(n)[1] for n in (1, 2)] == ["a", "b"]
    unit = found.preview.of("paper")[0].unit
    assert unit is not None
    assert unit.symbol == "mg"


def test_cells_beyond_the_header_are_kept_as_a_row_of_their_own() -> None:
    found = table_of(
        f"bench,{numbered(1)},{numbered(2)}", f"red,{','.join(RED)},{','.join(BLUE)},7,8"
    )
    assert found.table.rows[3] == ("red", "", "", "", "", "", "7", "8")
    assert found.origin(3) == (2, "beyond the header")


@pytest.mark.parametrize(
    "head",
    [
        f"bench,{','.join(READINGS)}",  # one trial
        f"bench,{numbered(1)},wire before 2,paper 2",  # the second lacks readings
        f"bench,{numbered(1)},{numbered(2).replace('paper 2', 'paper 2 / mg')}",  # two units
        f"bench,{numbered(1)},{numbered(1)}",  # one number twice
        f"bench,trial,{numbered(1)},{numbered(2)}",  # it has a row a trial
    ],
)
def test_what_is_not_side_by_side_is_left_as_it_stands(head: str) -> None:
    body = "red," + ",".join([*RED, *BLUE])
    with contextlib.suppress(DataFileError):
        assert table_of(head, body).preview.shape != SIDE


@pytest.mark.parametrize(
    ("upper", "lower"),
    [
        (",trial 1,,,,trial 2,,,", f"bench,{','.join(READINGS)},{','.join(READINGS)}"),
        (f"bench,{',,'.join(READINGS)},", ",1,2,1,2,1,2,1,2"),
    ],
)
def test_trials_side_by_side_below_a_header_of_two_rows(upper: str, lower: str) -> None:
    """The upper row may name the trials and the lower the readings, or the other way round."""
    paired = [one for pair in zip(RED, BLUE, strict=True) for one in pair]
    cells = paired if upper.startswith("bench") else [*RED, *BLUE]
    if upper.startswith("bench"):
        lower = lower.replace("1", "no 1").replace("2", "no 2")
    found = table_of(upper, lower, f"red,{','.join(cells)}")
    assert found.preview.shape == f"{SIDE}, below a header of two rows"
    (first, second) = found.table.rows[2:]
    assert (first[-4:], second[-4:]) == (made(RED), made(BLUE))
    assert found.origin(2)[0] == 3


def test_a_header_of_two_rows_is_joined() -> None:
    found = table_of(
        "Monday", "bench,wire,,paper,paper + silver", ",before,after,,", f"red,{','.join(RED)}"
    )
    assert found.preview.shape == "a header of two rows"
    assert found.preview.header_row == 3
    assert found.table.rows[1] == ()
    assert found.table.rows[2] == ("bench", *READINGS)
    assert found.table.rows[3] == ("red", *RED)
    assert found.origin(3) == (4, "")
    assert [c.letter for c in found.preview.matched] == list("ABCDE")


def test_a_table_turned_round() -> None:
    lines = ["bench,red,blue"]
    lines += [f"{name},{a},{b}" for name, a, b in zip(READINGS, RED, BLUE, strict=True)]
    found = table_of(*lines)
    assert found.preview.shape == "turned round: one column a trial"
    assert found.table.rows == (("bench", *READINGS), ("red", *RED), ("blue", *BLUE))
    assert [found.origin(n) for n in range(3)] == [(None, f"column {c}") for c in "ABC"]
    assert found.preview.columns["paper"] == ("row 4",)
    late = table_of(*(f"x,y,z,u,{line}" for line in lines))
    assert late.preview.shape == "turned round: one column a trial"
    sixth = table_of(*(f"x,y,z,u,v,{line}" for line in lines))
    assert "turned round" not in sixth.preview.shape


def test_a_table_without_a_header_is_read_by_the_order_of_its_columns() -> None:
    plain = table_of(f"red,{','.join(RED)}", f"blue,{','.join(BLUE)}")
    assert plain.no_header
    assert plain.preview.shape == "no header"
    assert plain.preview.columns == dict(
        zip(("group", *READINGS), [(c,) for c in "ABCDE"], strict=True)
    )
    with_trial = table_of(f"red,1,{','.join(RED)}", f"red,2,{','.join(BLUE)}")
    assert with_trial.preview.columns["trial"] == ("B",)
    assert with_trial.preview.columns["wire before"] == ("C",)
    behind = table_of(f"{','.join(RED)},red", f"{','.join(BLUE)},blue")
    assert "group" not in behind.preview.columns
    for odd in (f"red,1.5,{','.join(RED)}", "red,2.94,2.82,0.75", f"red,1,2,{','.join(RED)}"):
        with pytest.raises(DataFileError):
            table_of(odd)


def test_nine_tenths_of_a_column_must_be_numbers() -> None:
    """Ten rows, of which one cell of the first reading is no number, or two."""
    roles = {name: Role(name=name, instrument="b", quantity="m", unit="g") for name in READINGS}
    rows = [["red", *RED] for _ in range(10)]
    rows[3][1] = "lost"
    one = read_table("\n".join(map(",".join, rows)).encode())
    assert _bare(one, roles, READINGS) == dict(zip(("group", *READINGS), "ABCDE", strict=True))
    rows[5][1] = "lost"
    two = read_table("\n".join(map(",".join, rows)).encode())
    assert _bare(two, roles, READINGS) is None
    assert _bare(one, dict(list(roles.items())[:1]), READINGS) is None


@pytest.mark.parametrize(
    ("header", "found"),
    [
        ("wire before", ("wire before", "", "")), ("wire before / mg", ("wire before", "", "mg")),
        ("wire before 2", ("wire before", "2", "")), ("trial 3: paper", ("paper", "3", "")),
        ("paper + silver, run #4 [mg]", ("paper + silver", "4", "mg")),
        ("paper [mg] 2", ("", "", "")), ("paper / mg 2", ("paper", "2", "mg")),
        ("b) paper", ("paper", "b", "")), ("paper 1234", ("", "", "")), ("paper bag", ("", "", "")),
        ("newspaper", ("", "", "")), ("note", ("", "", "")), ("", ("", "", "")),
    ],
)  # fmt: skip
def test_a_header_is_split_into_reading_trial_and_unit(
    header: str, found: tuple[str, str, str]
) -> None:
    roles = {name: Role(name=name, instrument="b", quantity="m", unit="g") for name in READINGS}
    assert _tagged(header, roles) == found


@pytest.mark.parametrize(
    ("merged", "index", "filled"),
    [
        ((), 0, "a a a b b"),  # nothing is merged: each is carried on
        (((0, 0, 0, 1),), 0, "a a - b -"), (((0, 0, 0, 2), (0, 3, 0, 4)), 0, "a a a b b"),
        (((0, 3, 0, 9),), 0, "a - - b b"),  # beyond the cells that there are
        (((0, 0, 1, 0),), 0, "a a a b b"),  # one column wide: that carries nothing on
        (((1, 0, 2, 1),), 0, "a a a b b"), (((1, 0, 2, 1),), 1, "a a - b -"),
        (((1, 0, 2, 1),), 2, "a a - b -"), (((1, 0, 2, 1),), 3, "a a a b b"),
    ],
)  # fmt: skip
def test_merged_cells_of_an_upper_header(
    merged: tuple[tuple[int, int, int, int], ...], index: int, filled: str
) -> None:
    table = replace(read_table(b"a\n"), merged=merged)
    found = _filled(["a", "", "", "b", ""], index, table)
    assert " ".join(one or "-" for one in found) == filled


def test_what_is_hidden_in_a_turned_table_stays_hidden() -> None:
    """Column C, counted from 0 the second, is row 3 then; row 2 is the column behind the first."""
    lines = ["bench,red,blue"]
    lines += [f"{name},{a},{b}" for name, a, b in zip(READINGS, RED, BLUE, strict=True)]
    table = replace(
        read_table("\n".join(lines).encode()),
        hidden_columns=frozenset({2}), hidden_rows=frozenset({2}),
    )  # fmt: skip
    found = shaped(table, LAB)
    assert found.table.hidden_rows == {3}
    assert found.table.hidden_columns == {1}
    assert found.preview.columns["wire before"] == ("row 2",)
    assert [c.letter for c in found.preview.matched] == [f"row {n}" for n in range(1, 6)]


def test_a_table_of_two_readings_needs_no_header_and_of_one_it_does() -> None:
    roles = {name: Role(name=name, instrument="b", quantity="m", unit="g") for name in READINGS}
    table = read_table(b"red,2.94,2.82\nblue,3.14,3.03\n")
    two = dict(list(roles.items())[:2])
    assert _bare(table, two, READINGS[:2]) == {"group": "A", READINGS[0]: "B", READINGS[1]: "C"}
    one = dict(list(roles.items())[:1])
    assert _bare(read_table(b"red,2.94\nblue,3.14\n"), one, READINGS[:1]) is None


def test_columns_are_counted_in_the_longest_row() -> None:
    """The first row of readings lacks its last, which the second has."""
    found = table_of(f"red,{','.join(RED[:3])}", f"blue,{','.join(BLUE)}")
    assert found.preview.columns["paper + silver"] == ("E",)
