"""The record of what was worked through: levels, topics, the next lab, and its limits."""

from __future__ import annotations

import json

import pytest

from stoichkit.errors import ModelError
from stoichkit.experiments.practice_labs import KINDS, practice
from stoichkit.reports.progress import LabDone, Progress


def done(number: int = 1, level: int = 3, **how: object) -> LabDone:
    given = {"questions": 14, "answered": 14, **how}
    return LabDone(practice(number, level=level).id, level, **given)  # type: ignore[arg-type]


def test_a_lab_is_finished_when_all_questions_are_answered() -> None:
    assert LabDone("x", 1, questions=2, answered=2).finished
    assert not LabDone("x", 1, questions=2, answered=1).finished
    assert not LabDone("x").finished
    assert LabDone("x", missed=(("a", 2), ("b", 3))).misses == 5
    twice = LabDone("x", missed=(("b", 1),)).with_missed("b").with_missed("a")
    assert twice.missed == (("a", 1), ("b", 2))


@pytest.mark.parametrize(
    ("level", "missed", "hints", "then"),
    [
        (3, 0, 0, 4), (3, 1, 0, 4), (3, 0, 1, 4), (3, 1, 1, 3), (3, 2, 0, 3),
        (3, 7, 0, 3), (3, 4, 3, 3), (3, 8, 0, 2), (3, 5, 3, 2),  # more than half of 14
        (5, 0, 0, 5), (1, 9, 0, 1), (2, 9, 0, 1), (4, 0, 0, 5),
    ],
)  # fmt: skip
def test_the_next_level(level: int, missed: int, hints: int, then: int) -> None:
    how = {"missed": (("upside down", missed),) if missed else (), "hints": hints}
    assert Progress((done(1, level, **how),)).level == then


def test_the_last_lab_with_a_level_decides() -> None:
    hard, easy = done(1, 4), done(2, 2, hints=3)
    assert Progress((hard, easy)).level == 2
    assert Progress((easy, hard)).level == 5
    own = LabDone("Copper wire", 0, 14, 14)  # of no level
    assert Progress((easy, hard, own, done(3, 1, answered=2))).level == 5


def test_topics_are_those_of_the_last_five_labs() -> None:
    labs = [done(n, missed=(("upside down", 1), ("subscripts", n))) for n in range(1, 7)]
    topics = Progress(tuple(labs)).topics
    assert topics == {"molar masses": 2 + 3 + 4 + 5 + 6, "from masses to the mole ratio": 5}
    assert list(topics) == ["molar masses", "from masses to the mole ratio"]


def test_a_lab_that_was_done_is_not_offered_again() -> None:
    first = Progress().next_lab(7)
    assert (first.level, first.scene in KINDS) == (1, False)
    second = Progress((LabDone(first.id, 1, 14, 3),)).next_lab(7, KINDS[0])
    assert second.id != first.id
    assert Progress().next_lab(0).level == 1
    with pytest.raises(ModelError):
        Progress().next_lab(-1)


def test_the_summary_counts() -> None:
    one = Progress((done(1),)).summary()
    assert one.opening == ("1 lab worked through to the end. Next level: 4 of 5.",)
    labs = (
        LabDone("Copper wire", 0, 14, 3, 2, (("subscripts", 1),), "right"),
        done(2, 3, predicted="wrong"), done(4, 3, predicted="right"),
    )  # fmt: skip
    three = Progress(labs).summary()
    assert three.opening == (
        "2 labs worked through to the end, 1 begun. Next level: 4 of 5.",
        "2 of 3 predictions of the balance were right.",
    )
    text = three.text()
    assert "molar masses: 1 time\n" in text
    assert "Missed in the last labs, most often first:" in text
    row = next(line for line in text.splitlines() if "Copper wire" in line)
    assert row.split()[2:] == ["–", "3", "of", "14", "1", "2"]
    assert "Nothing was missed in the last labs." in one.text()
    assert not Progress().summary().sections
    assert Progress().summary().opening == (
        "0 labs worked through to the end. Next level: 1 of 5.",
    )


def test_the_summary_lists_the_last_twelve() -> None:
    labs = tuple(LabDone(f"lab {n:02d}", 0, 5, 5) for n in range(1, 14))
    text = Progress(labs).summary().text()
    assert "lab 01" not in text
    assert "lab 02" in text
    assert "lab 13" in text


def changed(**change: object) -> str:
    whole = json.loads(Progress((LabDone("Copper wire", 0, 14, 3, 1),)).to_json())
    whole["labs"][0] |= change
    return json.dumps(whole)


@pytest.mark.parametrize(
    ("good", "bad"),
    [
        ({"lab": "x" * 200}, {"lab": "x" * 201}), ({"hints": 10_000}, {"hints": 10_001}),
        ({"questions": 10_000}, {"questions": 10_001}), ({"answered": 14}, {"answered": 15}),
        ({"missed": {"subscripts": 10_000}}, {"missed": {"subscripts": 10_001}}),
        ({"missed": {"subscripts": 1}}, {"missed": {"subscripts": 0}}),
        ({"missed": {"a number without a known reason": 1}}, {"missed": {"bad luck": 1}}),
        ({"hints": 0}, {"hints": -1}), ({"predicted": ""}, {"predicted": "yes"}),
        ({"lab": "x"}, {"lab": ["x"]}), ({"lab": "x"}, {"lab": ""}), ({}, {"level": True}),
        ({}, {"missed": {"subscripts": True}}), ({}, {"level": 6}), ({}, {"level": 1}),
    ],
)  # fmt: skip
def test_the_limits_of_a_record(good: dict[str, object], bad: dict[str, object]) -> None:
    (lab,) = Progress.from_json(changed(**good)).labs
    assert {"lab": lab.lab, "hints": lab.hints, "missed": dict(lab.missed)}.items() >= {
        name: value for name, value in good.items() if name in ("lab", "hints", "missed")
    }.items()
    with pytest.raises(ModelError):
        Progress.from_json(changed(**bad))


def test_how_many_labs_a_record_holds() -> None:
    """Two thousand; one more pushes the first out, and is refused in a file."""
    full = Progress(tuple(LabDone(f"lab {n}") for n in range(2000)))
    assert Progress.from_json(full.to_json()) == full
    more = full.with_lab(LabDone("another"))
    assert (len(more.labs), more.labs[0].lab, more.labs[-1].lab) == (2000, "lab 1", "another")
    again = full.with_lab(LabDone("lab 0", hints=1))
    assert (len(again.labs), again.labs[-1].hints) == (2000, 1)
    too_many = json.loads(full.to_json())
    too_many["labs"].append({**too_many["labs"][0], "lab": "another"})
    with pytest.raises(ModelError, match="at most 2000"):
        Progress.from_json(json.dumps(too_many))


def test_a_record_has_a_million_characters_at_most() -> None:
    text = changed()
    room = 1_000_000 - len(text)
    assert Progress.from_json(text + " " * room).labs
    with pytest.raises(ModelError, match="too long"):
        Progress.from_json(text + " " * (room + 1))


def test_a_record_can_be_read_by_people() -> None:
    text = Progress((LabDone("Grüner Draht", 0, 5, 5),)).to_json()
    assert '"lab": "Grüner Draht"' in text
    assert text.endswith("}\n")
