"""What compares recorded answers must see a change, and only that."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from uncertainties import ufloat

from stoichkit.errors import StoichkitError
from tests.recorded import Record, same, tried


@dataclass
class Part:
    mass_g: float
    notes: tuple[str, ...] = ("a", "b")

    @property
    def twice_g(self) -> float:
        return 2 * self.mass_g

    @property
    def refused(self) -> float:
        raise StoichkitError("There is none.", fix="Weigh it.")


@pytest.fixture
def record(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Record:
    monkeypatch.delenv("STOICHKIT_UPDATE_GOLDEN", raising=False)
    return Record(tmp_path / "test_recorded.py")


def test_a_record_is_written_with_its_properties_and_refusals(record: Record) -> None:
    assert record.lines({"part": Part(1 / 3)}) == [
        "part: Part(mass_g: 0.3333333333, notes: [a, b], "
        "refused: StoichkitError: There is none. Weigh it., twice_g: 0.6666666667)"
    ]
    assert record.lines(Part(1.0, ("a" * 300, "b"))) == [
        "Part",
        "  mass_g: 1",
        "  notes:",
        f"    - {'a' * 300}",
        "    - b",
        "  refused: StoichkitError: There is none. Weigh it.",
        "  twice_g: 2",
    ]


def test_arrays_and_numbers_with_uncertainty(record: Record) -> None:
    assert record.lines(ufloat(1, 0.5)) == ["1 ± 0.5"]
    assert record.lines(np.array([1.0, np.nan, -0.0])) == ["(3,) [1, nan, 0]"]
    many = np.arange(50.0)
    assert record.lines(many) != record.lines(many[::-1])


def test_last_digits_of_what_is_worked_out_may_differ() -> None:
    assert same("p = 0.1234567891", "p = 0.1234567892")
    assert not same("p = 0.1234567891", "p = 0.1234567991")
    assert not same("p = 0.05", "p = 0.0501")
    assert not same("2 trials", "3 trials")
    assert not same("1.23456789 g", "1.23456789 mg")
    assert not same("a", "a\nb")


def test_a_changed_answer_fails_and_a_new_one_must_be_recorded(
    record: Record, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(AssertionError, match="not recorded"):
        record.check("one", lambda: 1)
    monkeypatch.setenv("STOICHKIT_UPDATE_GOLDEN", "1")
    for name, answer in (("one", 1.5), ("two", "first\nsecond")):
        with pytest.raises(pytest.skip.Exception):
            record.check(name, lambda answer=answer: answer)  # type: ignore[misc]
    monkeypatch.delenv("STOICHKIT_UPDATE_GOLDEN")
    record.check("one", lambda: 1.5)
    record.check("two", lambda: "first\nsecond")
    with pytest.raises(AssertionError):
        record.check("one", lambda: 1.25)
    record.holds_only(["one", "two"])
    with pytest.raises(AssertionError):
        record.holds_only(["one"])


def test_what_is_not_a_refusal_is_not_swallowed() -> None:
    assert tried(int, "3") == 3
    with pytest.raises(ZeroDivisionError):
        tried(lambda: 1 / 0)
