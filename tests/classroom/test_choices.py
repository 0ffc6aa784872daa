"""The file of choices: what it holds comes back, and nothing else gets in."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stoichkit import experiments, load_class
from stoichkit.classroom import choices as module
from stoichkit.classroom.choices import (
    AnswerGiven,
    Choices,
    Decision,
    DecisionKind,
    choices_path,
    load_choices,
    parse_choices,
    save_choices,
)
from stoichkit.errors import DataFileError
from tests.classfiles import HEADER, ROWS, csv_bytes

FULL = """format = 1

[columns]
"wire before" = "C"
paper = ["paper / g"]
trial = []

[sheets]
read = ["Monday", "Tuesday"]
leave = ["Notes"]

[sheets.columns.Tuesday]
paper = "F"

[answers]
"mean:7" = "mean"

[answers."spelling:red"]
answer = "one group"
initials = "EK"

[[decisions]]
group = "red"
trial = "1"
kind = "corrected"
reading = "wire before"
typed = "2.49"
corrected = "2.94"
reason = "digits swapped"
initials = "EK"

[[decisions]]
group = "red"
trial = "2"
kind = "set aside"
"""


def test_everything_is_read_and_written_as_it_was(tmp_path: Path) -> None:
    found = parse_choices(FULL)
    assert dict(found.columns) == {
        "wire before": ("C",), "paper": ("paper / g",), "trial": None,
    }  # fmt: skip
    assert found.columns_of("Tuesday")["paper"] == ("F",)
    assert found.columns_of("Monday")["paper"] == ("paper / g",)
    assert found.sheets == ("Monday", "Tuesday")
    assert found.left_out == ("Notes",)
    assert found.answers["mean:7"] == AnswerGiven("mean")
    assert found.answers["spelling:red"] == AnswerGiven("one group", "EK")
    first, second = found.decisions
    assert first == Decision(
        "red", "1", DecisionKind.CORRECTED, "wire before", "2.49", "2.94", "digits swapped", "EK"
    )
    assert second.identity == ("red", "2")
    assert second.kind is DecisionKind.SET_ASIDE
    path = save_choices(found, choices_path(tmp_path / "class.csv"))
    assert path.name == "class.choices.toml"
    assert load_choices(path) == found


_SEEN = st.characters(blacklist_categories=("Cc", "Cs", "Cf", "Cn", "Co", "Zl", "Zp"))
NAMES = st.text(_SEEN, min_size=1, max_size=12).filter(lambda t: t.strip() and t.isprintable())
TRIALS = st.lists(st.tuples(NAMES, NAMES), unique=True, max_size=6)


@given(st.dictionaries(NAMES, NAMES), TRIALS)
@settings(max_examples=60, deadline=None)
def test_any_printable_text_survives(
    answers: dict[str, str], trials: list[tuple[str, str]]
) -> None:
    decisions = tuple(Decision(g, t, DecisionKind.USED, reason=g) for g, t in trials)
    made = Choices(answers=answers, decisions=decisions)
    assert parse_choices(made.to_toml()) == made


def test_names_joined_differently_are_different_trials() -> None:
    one, other = Decision("a b", "c", "used"), Decision("a", "b c", "set aside")
    assert Choices(decisions=(one, other)).decisions == (one, other)


REFUSED = {
    "unknown table": ('[colums]\npaper="E"', "no field of this name.*colums.*Did you mean"),
    "unknown word": ('[[decisions]]\ngroup="a"\ntrial="1"\nkind="used"\nreson="x"', "reson"),
    "unknown sheet word": ('[sheets]\nonly=["a"]', "only.*read, leave, columns"),
    "number for text": ("[columns]\npaper = 5", "a header or a letter"),
    "number in a list": ("[columns]\npaper = [5]", "not text"),
    "text for a list": ('[sheets]\nread = "Monday"', "a list of names"),
    "table for a list": ("decisions = 3", "a list of tables"),
    "list for a table": ("answers = []", "a table, headed"),
    "true as answer": ("[answers]\nx = true", "text in quotes"),
    "answer missing": ('[answers.x]\ninitials = "E"', "no answer"),
    "kind unknown": ('[[decisions]]\ngroup="a"\ntrial="1"\nkind="ignored"', "set aside"),
    "kind missing": ('[[decisions]]\ngroup="a"\ntrial="1"', "no kind"),
    "group empty": ('[[decisions]]\ngroup=" "\ntrial="1"\nkind="used"', "group"),
    "nothing corrected": ('[[decisions]]\ngroup="a"\ntrial="1"\nkind="corrected"', "which reading"),
    "not said to what": ('[[decisions]]\ngroup="a"\ntrial="1"\nkind="corrected"\nreading="paper"',
                         "what was typed"),
    "corrected but used": ('[[decisions]]\ngroup="a"\ntrial="1"\nkind="used"\ncorrected="3"',
                           "not corrected"),
    "decided twice": ('[[decisions]]\ngroup="a"\ntrial="1"\nkind="used"\n'
                      '[[decisions]]\ngroup="a"\ntrial="1"\nkind="set aside"', "same trial"),
    "sheet twice": ('[sheets]\nread=["a","a"]', "each name once"),
    "sheet read and left": ('[sheets]\nread=["a"]\nleave=["a"]', "both read and left out"),
    "other format": ("format = 2", "another format"),
    "format as truth": ("format = true", "another format"),
    "not TOML": ("columns = ", "not TOML"),
    "control character": ('[answers]\nx = "a\\u0007"', "cannot be shown"),
    "reversing mark": ('[answers]\nx = "a\\u202Eb"', "cannot be shown"),
    "line break": ('[answers]\nx = "a\\nb"', "cannot be shown"),
    "too long": (f'[answers]\nx = "{"a" * 201}"', "too long"),
    "too deep": ("x = " + "[" * 3000, "nested|not TOML|no field"),
    "too large": ("#" * (module.MAX_BYTES + 1), "too large"),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_wrong_is_refused_and_said(name: str) -> None:
    text, words = REFUSED[name]
    with pytest.raises(DataFileError, match=rf"(?s)class\.choices\.toml.*({words})"):
        parse_choices(text, "class.choices.toml")


def test_what_is_no_file_of_choices(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.toml")
    (tmp_path / "latin.toml").write_bytes(b'[answers]\nx = "\xfc"')
    for name, words in (("pipe.toml", "not a file"), ("latin.toml", "line 2"), ("no", "No such")):
        with pytest.raises(DataFileError, match=words):
            load_choices(tmp_path / name)
    with pytest.raises(DataFileError, match="not a file"):
        load_choices(tmp_path)
    with pytest.raises(DataFileError, match="no format"):
        save_choices(Choices(), tmp_path / "class.csv")


def test_only_the_owner_reads_what_may_hold_names(tmp_path: Path) -> None:
    path = tmp_path / "class.choices.toml"
    old = os.umask(0o022)
    try:
        save_choices(Choices(), path)
        assert stat.S_IMODE(path.stat().st_mode) == 0o644
        save_choices(Choices(), path, replace=True, private=True)
        assert stat.S_IMODE(path.stat().st_mode) == 0o600
    finally:
        os.umask(old)


def test_the_reader_takes_the_columns_and_keeps_the_decisions() -> None:
    header = [*HEADER[:4], "first", "second"]
    content = csv_bytes(ROWS, header)
    decision = Decision("red", "1", "set aside", reason="spilled")
    chosen = Choices({"paper": "E", "paper + silver": "second"}, decisions=(decision,))
    data = load_class(content, experiments.load("copper-silver"), choices=chosen)
    assert data.groups["red"].trials[0].readings["paper"] == ("0.75",)
    assert data.choices.decisions == (decision,)
    assert len(data.groups["red"].trials) == 2  # carried, not applied
