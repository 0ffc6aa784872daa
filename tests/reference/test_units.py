"""Every unit that a header, a cell, an answer or a slip may be in, against the SI and NIST SP 811.

Sources: BIPM, The International System of Units, 9th edition (2019), tables 2, 4, 5, 7 and 8; NIST
Special Publication 811 (2008), appendix B; both from memory. Each row of ``tables/units.csv`` names
its place. Where ``scipy.constants`` (general reference library) has the unit, the table is compared
with it too. A unit without a row fails: add it to the table from a source, not from the code.
"""

from __future__ import annotations

from decimal import Decimal

import pytest
import scipy.constants as nist

from stoichkit.bench.datasheet import read_header
from stoichkit.classroom import columns
from stoichkit.classroom.columns import converted, known_unit, number_and_unit, split_header
from stoichkit.decision.answers import AnswerLine
from stoichkit.decision.formulas import CONSTANTS
from stoichkit.decision.typed import _SPELLED, FACTORS, MistakeKind, mistakes_of, read_answer
from stoichkit.diagnosis.slips import _KELVIN, UNITS
from stoichkit.errors import ReadingError, StoichkitError
from stoichkit.experiments.own_slots import number
from stoichkit.measurement import displays
from stoichkit.measurement.gas_and_charge import ZERO_CELSIUS_K
from stoichkit.measurement.registry import KINDS
from tests.reference.table import rows

TABLE = {
    (r["base"], r["unit"]): (Decimal(r["factor"]), Decimal(r["offset"])) for r in rows("units")
}
READ = ("g", "mL", "°C", "kPa", "A", "s")
"""Units that readings are kept in."""
OUTSIDE = {
    ("g", "oz"): nist.oz * 1000, ("g", "lb"): nist.lb * 1000, ("mL", "L"): nist.liter * 1e6,
    ("kPa", "atm"): nist.atm / 1000, ("kPa", "bar"): nist.bar / 1000,
    ("kPa", "torr"): nist.torr / 1000, ("s", "min"): nist.minute, ("s", "h"): nist.hour,
    ("g", "mg"): nist.milli, ("g", "kg"): nist.kilo, ("g", "µg"): nist.micro,
    ("mL", "cL"): nist.centi * 1000, ("mL", "dL"): nist.deci * 1000,
    ("mL", "µL"): nist.micro * 1000, ("kPa", "hPa"): nist.hecto / 1000,
    ("kPa", "MPa"): nist.mega / 1000, ("mol", "µmol"): nist.micro, ("mol", "mmol"): nist.milli,
}  # fmt: skip


def greek(text: str) -> str:
    """Return a text with the micro sign of the table for the Greek letter mu."""
    return text.replace("\u03bc", "\u00b5")


@pytest.mark.parametrize("unit", OUTSIDE, ids=lambda unit: unit[1])
def test_the_table_agrees_with_a_reference_library(unit: tuple[str, str]) -> None:
    assert float(TABLE[unit][0]) == pytest.approx(OUTSIDE[unit], rel=1e-11)
    assert float(-TABLE["°C", "K"][1]) == nist.zero_Celsius


def test_every_unit_of_a_class_file_has_a_row() -> None:
    """In each way of writing: no unit is known that the table does not have."""
    known = {(unit.base, greek(unit.symbol)) for unit in columns._UNITS.values()}
    typed = {
        (base, greek(e.split("=")[0])) for base, t in columns._TABLE.items() for e in t.split()
    }
    assert known <= set(TABLE)
    assert typed <= set(TABLE)
    assert {kind.unit for kind in KINDS.values()} == set(READ)


@pytest.mark.parametrize(
    ("base", "unit"), [(b, u) for b, u in TABLE if b in READ and not u.startswith("milligram")]
)
def test_a_unit_in_a_header_and_in_a_cell(base: str, unit: str) -> None:
    factor, offset = TABLE[base, unit]
    found = known_unit(unit)
    assert found is not None
    assert (found.base, found.factor, found.offset) == (base, factor, offset)
    for text in (f"mass / {unit}", f"mass [{unit}]"):
        assert split_header(text) == ("mass", unit)
    cell = number_and_unit(f"7.50 {unit}")
    assert cell is not None
    assert cell[1] == found
    there = Decimal(converted("7.50", found))
    assert float(there) == pytest.approx(7.5 * float(factor) + float(offset), rel=2e-4, abs=1e-9)
    back = (there - offset) / factor  # the other direction
    assert float(back) == pytest.approx(7.5, rel=2e-4)
    if offset:
        assert found.words == "number in K − 273.15 = reading in °C"
    else:
        said = found.words.split()
        assert said[:3] == ["1", found.symbol, "="]
        assert (Decimal(said[3]), said[4]) == (factor, base)


@pytest.mark.parametrize(
    ("typed", "unit", "shown"),
    [
        # worked by hand: exact powers of ten keep the digits that were typed
        ("2940", "mg", "2.940"), ("1.25", "cL", "12.5"), ("0.5", "dL", "50"),
        ("0.101", "MPa", "101"), ("1013.2", "hPa", "101.32"), ("1.0", "L", "1000"),
        ("250", "mA", "0.250"), ("1.5", "min", "90.0"), ("294.15", "K", "21.00"),
        ("750", "µL", "0.750"), ("1.000", "atm", "101.325"), ("1.01", "bar", "101"),
    ],
)  # fmt: skip
def test_conversions_worked_by_hand(typed: str, unit: str, shown: str) -> None:
    found = known_unit(unit)
    assert found is not None
    text = converted(typed, found)
    assert float(text) == float(shown)
    if unit != "atm":  # whose factor is no power of ten: two digits more are kept
        assert text == shown


@pytest.mark.parametrize("base", FACTORS)
def test_every_unit_of_an_answer(base: str) -> None:
    for unit, factor in FACTORS[base].items():
        plain = {"ml": "mL", "l": "L"}.get(unit, unit)
        assert Decimal(repr(factor)) == TABLE[base, plain][0], unit
        reading, found, name = read_answer(f"7.5 {unit}", base)
        assert (reading.value, name) == (7.5, unit)
        assert found == float(TABLE[base, plain][0])
    for other in FACTORS:
        if other != base and not FACTORS[base].keys() & FACTORS[other].keys():
            with pytest.raises(ReadingError):
                read_answer(f"7.5 {next(iter(FACTORS[other]))}", base)


def test_every_unit_spelled_out_in_an_answer() -> None:
    for word, unit in _SPELLED.items():
        base = "%" if unit == "%" else "mol" if unit.endswith("mol") else "g"
        assert TABLE[base, word] == TABLE[base, unit], word


def test_every_unit_that_a_slip_may_be_in() -> None:
    """To the digits that are written there, which are at least eight."""
    for base, units in UNITS.items():
        for unit, factor in units:
            right = TABLE[base, unit][0]
            assert abs(Decimal(factor) / right - 1) < Decimal("5e-8"), unit
    assert -TABLE["°C", "K"][1] == _KELVIN


OTHER = [(base, unit) for (base, unit), how in TABLE.items() if how != (1, 0)]


@pytest.mark.parametrize(("base", "unit"), OTHER)
def test_what_takes_one_unit_only_refuses_the_others(base: str, unit: str) -> None:
    """A slot of a sentence and the header of our own sheet: never the number without its unit."""
    slot = number("reading", "reading", base)
    assert slot.read(f"7.5 {base}", {}).value == slot.read("7.5", {}).value == "7.5"
    with pytest.raises(StoichkitError):
        slot.read(f"7.5 {unit}", {})
    if base in READ:
        assert read_header(f"reading / {base}") == ("reading", base)
        with pytest.raises(StoichkitError):
            read_header(f"reading / {unit}")


def test_zero_degrees_celsius_wherever_it_stands() -> None:
    zero = float(-TABLE["°C", "K"][1])
    assert zero == ZERO_CELSIUS_K == CONSTANTS["273.15 K"]
    line = AnswerLine("1", "T", "temperature", "", 294.65, "K", 0.1, 5, 294.6, 294.7)
    (celsius,) = (m for m in mistakes_of(line, []) if m.kind is MistakeKind.CELSIUS)
    assert celsius.value == pytest.approx(294.65 - zero)


@pytest.mark.parametrize("unit", ["torr", "mmHg", "atm", "hPa"])
def test_every_function_that_turns_a_pressure_into_kilopascals(unit: str) -> None:
    turn = getattr(displays, f"kPa_from_{unit}")
    assert turn(750.0) == pytest.approx(750 * float(TABLE["kPa", unit][0]), rel=1e-11)
    every = {name for name in vars(displays) if name.startswith("kPa_from_")}
    assert every == {f"kPa_from_{u}" for u in ("torr", "mmHg", "atm", "hPa")}
