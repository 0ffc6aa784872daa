"""Class data: columns are matched, rows accounted for, faults located."""

from __future__ import annotations

import pickle
import random
from collections import Counter
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stoichkit import experiments
from stoichkit.classroom.data import ClassData, load_class
from stoichkit.classroom.records import RowUse
from stoichkit.errors import DataFileError, ModelError, StoichkitError
from stoichkit.experiments.record import Experiment
from tests.classfiles import HEADER, ROWS, check_accounts, csv_bytes, xlsx_bytes

LAB = experiments.load("copper-silver")
BROKEN = Path(__file__).parent / "broken"
READINGS = ("wire before", "wire after", "paper", "paper + silver")


def load_or_refuse(content: bytes, lab: Experiment = LAB) -> ClassData | None:
    try:
        data = load_class(content, lab)
    except StoichkitError:
        return None
    check_accounts(content, data, lab)
    return data


# --- what people write ---------------------------------------------------------------------


@pytest.mark.parametrize("mark", [",", ";", "\t"])
@pytest.mark.parametrize("decimal", [".", ","])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_typed_digits_are_kept(mark: str, decimal: str, encoding: str) -> None:
    content = csv_bytes(mark=mark, decimal=decimal, encoding=encoding)
    data = load_class(content, LAB)
    check_accounts(content, data, LAB)
    assert data.names == ("red", "blue", "green")
    typed = data.groups["red"].trials[1].readings["paper"]
    assert typed == (f"0{decimal}70",)
    assert data.problems == ()
    with pytest.raises(ModelError, match="different numbers of trials"):
        data.arrays()
    blocks = {block.trials: block for block in data.blocks()}
    assert blocks[2].groups == ("red", "blue")
    assert blocks[2].values["wire before"].tolist() == [[2.94, 3.19], [3.14, 2.95]]
    assert (blocks[2].decimals["wire before"] == 2).all()


def test_a_workbook_gives_the_same_as_a_text_file() -> None:
    text, book = load_class(csv_bytes(), LAB), load_class(xlsx_bytes(), LAB)
    assert book.names == text.names
    assert all(book.groups[n] == text.groups[n] for n in text.names)
    assert book.problems == ()


def test_repeated_readings_may_fill_columns_or_one_cell() -> None:
    lab = experiments.load("tin-oxide")
    wide = (
        b"group,crucible,crucible + tin,crucible + oxide 1,crucible + oxide 2,crucible + oxide 3\n"
        b"red,17.561,18.204,18.386,18.378,18.377\nblue,17.561,18.204,18.386,18.378,\n"
    )
    data = load_class(wide, lab)
    check_accounts(wide, data, lab)
    repeats = [data.groups[n].trials[0].readings["crucible + oxide"] for n in ("red", "blue")]
    assert repeats == [("18.386", "18.378", "18.377"), ("18.386", "18.378")]
    assert data.arrays().values["crucible + oxide"].tolist() == [[18.377], [18.378]]
    cell = b"group,crucible,crucible + tin,crucible + oxide\nred,17.561,18.204,18.386; 18.377\n"
    one = load_class(cell, lab).groups["red"]
    assert one.trials[0].readings["crucible + oxide"] == ("18.386", "18.377")


def test_shared_readings_may_be_in_the_file_or_not() -> None:
    lab = experiments.load("magnesium-gas")
    plain = b"group,ribbon,gas volume\nred,0.031,31.46\nblue,0.035,35.98\n"
    assert load_class(plain, lab).groups["red"].shared_readings == lab.shared_readings
    own = (
        b"group,ribbon,gas volume,room temperature / K,room pressure / mbar\n"
        b"red,0.031,31.46,294.5,1008\nred,0.031,31.46,294.5,1009\nblue,0.035,35.98,,\n"
    )
    data = load_class(own, lab)
    check_accounts(own, data, lab)
    red = data.groups["red"]
    assert red.shared_readings["room temperature"] == ("21.35",)
    assert [t.readings["room pressure"] for t in red.trials] == [("100.8",), ("100.9",)]
    assert data.groups["blue"].shared_readings == lab.shared_readings
    assert any("294.5" not in p.given and "K" in p.given for p in data.problems)


def test_codes_replace_names_everywhere_but_in_the_key() -> None:
    rows = [
        ("Zora Quill", "run of Zora", "2.94", "2.82", "0.75", "1.15"),
        ("zora  quill", "x", "3.19", "3.09", "0.70", "1.06"),
        ("", "y", "3.14", "3.O3", "0.73", "1.12"),
        ("Zora Quill was ill", "", "", "", "", ""),
        ("Abel Fenn", "1", "2.95", "2.83", "0.70", "1.13"),
    ]
    rows = [(*row, "ill") for row in rows]
    content = csv_bytes(rows, (*HEADER, "what Quill said"))
    data = load_class(content, LAB, codes=True)
    check_accounts(content, data, LAB)
    assert data.names == ("G01", "G02")
    assert any(p.place == "column G" for p in data.problems)
    assert data.key == {"G01": "Zora Quill", "G02": "Abel Fenn"}
    shown = f"{data!r} {data.problems} {data.rows} {dict(data.groups.items())} {data.preview}"
    shown += str(vars(data.without_key()))
    for name in ("Zora", "zora", "Fenn", "Quill"):
        assert name not in shown
    assert b"Zora" not in pickle.dumps(data.without_key())


# --- broken files --------------------------------------------------------------------------

EXPECTED = {
    # file: (uses, groups, words of a problem and its row; or words of the refusal)
    "letter_in_number.csv": ("used 2, set aside 1", "red blue", (3, "not a number")),
    "decimal_commas_between_commas.csv": ("used 1, set aside 1", "blue", (2, "more cells")),
    "stray_quote.csv": ("used 3", "red blue", (2, "quotation mark")),
    "thousands.csv": ("used 1, set aside 1", "red", (3, "more than one decimal mark")),
    "means_and_notes.csv": ("used 3, set aside 2, blank 3, above the header 1", "red blue",
                            (6, "mean, a total")),
    "header_twice.csv": ("used 2, header 2", "red blue", None),
    "same_trial_twice.csv": ("used 1, waiting 1", "red", (3, "pasted twice")),
    "missing_cells.csv": ("used 2, set aside 4", "red blue", (3, "cell is empty")),
    "wrong_unit.csv": "in mL",
    "no_readings.csv": "names a reading",
    "only_header.csv": "No row of the file",
    "latin.csv": ("used 2", "Grün", (None, "Windows-1252")),
    "units_below.csv": ("used 2, units 1", "red blue", (4, "unit stands behind")),
    "two_spellings.csv": ("used 2", "Red", (None, "written in several ways")),
    "group_after_gap.csv": ("used 2, set aside 1, blank 1", "red", (5, "after a blank row")),
}  # fmt: skip


def test_the_folder_of_broken_files_is_complete() -> None:
    assert {p.name for p in BROKEN.glob("*.csv")} == set(EXPECTED)


@pytest.mark.parametrize("name", EXPECTED)
def test_hand_made_faults(name: str) -> None:
    expected = EXPECTED[name]
    content = (BROKEN / name).read_bytes()
    if isinstance(expected, str):
        with pytest.raises(DataFileError, match=expected):
            load_class(content, LAB)
        return
    data = load_class(BROKEN / name, LAB)
    check_accounts(content, data, LAB)
    uses, groups, problem = expected
    wanted = {part.rpartition(" ")[0]: int(part.rpartition(" ")[2]) for part in uses.split(", ")}
    assert Counter(data.uses) == Counter({"header": 1} | wanted)
    assert data.names == tuple(groups.split())
    if problem is not None:
        assert any(p.row == problem[0] and problem[1] in p.text for p in data.problems)


SPOILT = [
    "", " ", "2.9O", "2,9,4", "1.234,5", "2.94.1", "abc", "=B2+C2", "#DIV/0!", "#REF!", "n/a",
    "-", "?", "2.94 mL", "1e999", "2 94", "２.94", "2.94g2", "--3", "1e-400", "∞", "nan", "inf",
    "2.9\n4", "0x10", "1_000", "2.94\x00", "9" * 60, "'2.94'", "<b>2</b>", "2024-02-01",
]  # fmt: skip


@pytest.mark.parametrize("spoilt", SPOILT)
@pytest.mark.parametrize("column", range(2, 6))
def test_one_spoilt_reading_costs_one_row_and_is_located(spoilt: str, column: int) -> None:
    """Over 100 files: each keeps its other rows, with their digits, and names row and column."""
    rows = [list(row) for row in ROWS]
    rows[2][column] = spoilt
    content = csv_bytes(rows)
    data = load_class(content, LAB)
    check_accounts(content, data, LAB)
    assert data.rows[3].use is RowUse.SET_ASIDE
    assert any(p.row == 4 and p.column.startswith("ABCDEF"[column]) for p in data.problems)
    assert data.uses["used"] == len(ROWS) - 1
    kept = [ROWS[i] for i in (0, 1, 3, 4)]
    trials = [trial for group in data.groups.values() for trial in group.trials]
    assert [tuple(t.readings[n][0] for n in READINGS) for t in trials] == [r[2:] for r in kept]


@pytest.mark.parametrize("seed", range(300))
def test_damaged_text_files(seed: int) -> None:
    """300 files with bytes changed, left out, doubled or put in."""
    random_ = random.Random(seed)
    content = bytearray(csv_bytes(mark=random_.choice(",;\t"), decimal=random_.choice(".,")))
    for _ in range(random_.randint(1, 12)):
        place = random_.randrange(len(content))
        match random_.randrange(5):
            case 0:
                content[place] = random_.randrange(256)
            case 1:
                del content[place : place + random_.randint(1, 8)]
            case 2:
                content[place:place] = content[place : place + 20]
            case 3:
                content[place:place] = random_.choice([b'"', b"\n", b",", b"\x00", b"\xff", b";"])
            case _:
                del content[max(place, 20) :]
    load_or_refuse(bytes(content))


@pytest.mark.parametrize("seed", range(120))
def test_damaged_workbooks(seed: int) -> None:
    """120 workbooks with bytes changed or cut off."""
    random_ = random.Random(seed)
    content = bytearray(xlsx_bytes())
    if seed % 4 == 0:
        del content[random_.randrange(30, len(content)) :]
    else:
        for _ in range(random_.randint(1, 30)):
            content[random_.randrange(len(content))] = random_.randrange(256)
    load_or_refuse(bytes(content))


CELLS = st.one_of(
    st.sampled_from([*SPOILT, "red", "Mean", "total", "1", "2.90", "0,75", "wire before", "'=1"]),
    st.text(max_size=8),
    st.decimals(0, 100, places=2).map(str),
)


@given(st.lists(st.lists(CELLS, max_size=8), max_size=8), st.sampled_from(",;\t"))
@settings(max_examples=120, deadline=None)
def test_any_cells_below_a_header(rows: list[list[str]], mark: str) -> None:
    """120 tables of made-up cells."""
    good = [list(row) for row in ROWS]
    content = csv_bytes([*good, *rows], mark=mark).replace(b"\r", b"")
    data = load_or_refuse(content)
    assert data is not None
    for record, row in zip(data.rows[1:6], ROWS, strict=True):
        assert record.use is RowUse.USED
        (trial,) = [t for t in data.groups[record.group].trials if t.name == record.trial]
        assert tuple(trial.readings[name][0] for name in READINGS) == row[2:]


@given(st.lists(st.lists(CELLS, min_size=3, max_size=6), min_size=1, max_size=6))
@settings(max_examples=40, deadline=None)
def test_any_workbook(rows: list[list[str]]) -> None:
    """40 workbooks of made-up cells."""
    clean = [["".join(c for c in cell if c.isprintable()) for cell in row] for row in rows]
    load_or_refuse(xlsx_bytes([*ROWS, *clean]))


# --- other layouts -------------------------------------------------------------------------


def test_no_group_column() -> None:
    rows = [row[2:] for row in ROWS]
    data = load_class(csv_bytes(rows, HEADER[2:]), LAB)
    assert data.names == tuple(f"row {n}" for n in range(2, 7))
    data = load_class(csv_bytes([row[1:] for row in ROWS[1:3]], HEADER[1:]), LAB)
    assert data.names == ("all",)
    assert any("No column names the groups" in p.text for p in data.problems)


def test_unused_columns_and_odd_decimals_are_said() -> None:
    content = csv_bytes(
        [
            ("red", "ann", "2.9", "2.82", "0.75", "1.150"),
            ("blue", "", "3.005", "250", "0.7", "-1.12"),
        ],
        ("group", "helper", *HEADER[2:]),
    )
    data = load_class(content, LAB)
    said = {(p.row, p.column[:1]): p.text for p in data.problems}
    assert "not a reading" in said[None, "B"]
    assert "fewer decimals" in said[2, "C"]
    assert "more decimals" in said[2, "F"]
    assert "not a whole number of steps" in said[3, "C"]
    assert any("beyond the capacity" in p.text for p in data.problems if p.row == 3)
    assert any("negative" in p.text for p in data.problems if p.row == 3)


def test_long_and_odd_names_stay_apart() -> None:
    names = ["x" * 100 + end for end in "abc"] + ["a\x07b", "=1+1", "'=1+1"]
    rows = [(name, "1", *ROWS[0][2:5], f"1.1{n}") for n, name in enumerate(names)]
    data = load_class(csv_bytes(rows), LAB)
    assert len(set(data.names)) == 5
    assert max(map(len, data.names)) <= 80
    assert data.names[-1] == "=1+1"
    assert len(data.groups["=1+1"].trials) == 2


def test_too_many_trials_are_set_aside() -> None:
    rows = [("red", "", "2.94", "2.82", "0.75", f"{1 + n / 1000:.3f}") for n in range(1003)]
    data = load_class(csv_bytes(rows), LAB)
    assert data.uses == {"header": 1, "used": 1000, "set aside": 3}
    assert len(data.groups["red"].trials) == 1000


@pytest.mark.parametrize("name", experiments.names())
@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_a_filled_data_sheet_gives_back_the_experiment(name: str, kind: str) -> None:
    """Headers as the blank data sheet writes them: "reading / unit"; readings as typed."""
    lab = experiments.load(name)
    names = [n for n in lab.reading_names() if n not in lab.shared_readings]
    units = {role.name: role.unit for role in lab.roles()}
    header = ("group", "trial", *(f"{n} / {units[n]}" for n in names))
    rows = [("red", t.name, *("; ".join(t.readings[n]) for n in names)) for t in lab.trials]
    if kind == "csv":
        content = csv_bytes(rows, header, encoding="utf-8-sig")
        data = load_class(content, lab)
        assert data.groups["red"] == lab
    else:
        data = load_class(xlsx_bytes(rows, header, number_format="0.000"), lab)
        loaded = data.groups["red"]
        assert loaded.reading_names() == tuple(lab.shared_readings) + tuple(names)
        for ours, theirs in zip(loaded.trials, lab.trials, strict=True):
            for n in names:
                assert float(ours.readings[n][-1]) == float(theirs.readings[n][-1])
