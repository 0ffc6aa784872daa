"""The table ``[variation]`` of an experiment file: read, written back, and refused with reasons."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from stoichkit import experiments
from stoichkit.errors import ExperimentError
from stoichkit.experiments import Experiment, Trial, Variation, load_experiment, parse_experiment
from stoichkit.experiments.fields import _between_value
from stoichkit.experiments.record import Experiment as Record


def with_table(lines: str) -> str:
    """Return the file of a ready lab with a table of variation above its instruments."""
    text = experiments.read("copper-silver")
    at = text.index("[instruments.")
    return f"{text[:at]}[variation]\n{lines}\n\n{text[at:]}"


@pytest.mark.parametrize(
    ("lines", "expected"),
    [
        ('relative = "1.5 %"', Variation(relative=0.015)),
        ('relative = "1,5%"', Variation(relative=0.015)),
        ("relative = 0.015", Variation(relative=0.015)),
        ('relative = "0.015"', Variation(relative=0.015)),
        ('relative = "50 %"', Variation(relative=0.5)),
        ("relative = 0.02\nfrom_trials = 8", Variation(relative=0.02, from_trials=8)),
        ("relative = 0.02\nunknown = false", Variation(relative=0.02)),
        ("unknown = true", Variation(unknown=True)),
    ],
)
def test_a_file_says_how_much_the_trials_differ(lines: str, expected: Variation) -> None:
    lab = parse_experiment(with_table(lines))

    assert lab.variation == expected
    assert parse_experiment(lab.to_toml()) == lab
    assert Experiment.from_json(lab.to_json()) == lab
    written = json.loads(lab.to_json())["variation"]
    assert written.get("unknown", False) is expected.unknown
    assert ("relative" in written) is not expected.unknown


def test_a_percentage_is_a_hundredth() -> None:
    lab = parse_experiment(with_table('relative = "2 %"'))
    assert lab.variation == Variation(relative=0.02)


def test_a_file_that_says_nothing_writes_nothing() -> None:
    lab = experiments.load("copper-silver")

    assert lab.variation is None
    assert "variation" not in lab.to_toml()
    assert "variation" not in json.loads(lab.to_json())


@pytest.mark.parametrize(
    ("lines", "field", "parts"),
    [
        (
            "relative = 0.02\nunknown = true",
            "variation",
            ("stated and said to be unknown", "relative = 0.02, unknown = true", "one of the two"),
        ),
        (
            "from_trials = 8\nunknown = true",
            "variation",
            ("stated and said to be unknown", "from_trials = 8, unknown = true"),
        ),
        (
            "from_trials = 8",
            "variation.relative",
            ("neither stated nor said to be unknown", "from_trials = 8", "unknown = true"),
        ),
        ("", "variation.relative", ("neither stated nor said to be unknown", "Leave the whole")),
        ("unknown = false", "variation.relative", ("neither stated nor said to be unknown",)),
        ("relative = 0", "variation.relative", ("neither stated nor said to be unknown",)),
        ('relative = "1.5"', "variation.relative", ("up to 0.5", 'Did you mean "1.5 %"?')),
        ("relative = 3", "variation.relative", ("Given: 3", 'Did you mean "3 %"?')),
        ("relative = 0.51", "variation.relative", ("Given: 0.51", "up to 0.5")),
        ("relative = -0.01", "variation.relative", ("Given: -0.01", "up to 0.5")),
        ('relative = "60 %"', "variation.relative", ("Given: 60 %", "up to 0.5")),
        ('relative = "a lot"', "variation.relative", ("is not a number", "a lot")),
        ('relative = "%"', "variation.relative", ("is empty",)),
        ("relative = true", "variation.relative", ("not a number",)),
        ("relative = [0.01]", "variation.relative", ("text or a number",)),
        (
            "relative = 0.02\nfrom_trials = 1",
            "variation.from_trials",
            ("Given: 1", "2 to 10"),
        ),
        ("relative = 0.02\nfrom_trials = 2.5", "variation.from_trials", ("whole number", "2.5")),
        ('relative = 0.02\nfrom_trials = "8"', "variation.from_trials", ("whole number",)),
        ('unknown = "yes"', "variation.unknown", ("neither true nor false", "yes")),
        ("relatve = 0.02", "variation.relatve", ("not known", "Did you mean “relative”?")),
    ],
)
def test_what_cannot_be_used_is_refused_with_its_place(
    tmp_path: Path, lines: str, field: str, parts: tuple[str, ...]
) -> None:
    file = tmp_path / "lab.toml"
    file.write_text(with_table(lines), encoding="utf-8")
    with pytest.raises(ExperimentError) as caught:
        load_experiment(file)

    assert caught.value.field == field
    assert caught.value.path is not None
    assert caught.value.path.endswith("lab.toml")
    for part in parts:
        assert part in str(caught.value)


@pytest.mark.parametrize("value", ["0.02", "2 %", 0.02, [0.02], True])
def test_a_single_value_is_not_the_table(value: Any) -> None:
    text = experiments.read("copper-silver")
    at = text.index("[instruments.")
    with pytest.raises(ExperimentError, match=r"variation: This is not a table of fields.*\[var"):
        parse_experiment(f"{text[:at]}variation = {json.dumps(value)}\n\n{text[at:]}")


@pytest.mark.parametrize("value", [Decimal("0.02"), np.float64(0.02), np.array(0.02), "2 %"])
def test_numbers_of_every_kind_are_the_same(value: Any) -> None:
    found = Variation(relative=value, from_trials=np.int64(8))  # type: ignore[arg-type]

    assert found == Variation(relative=0.02, from_trials=8)
    assert type(found.relative) is float
    assert found.dof == 7.0
    assert math.isinf(Variation(relative=value).dof)


def test_a_record_takes_only_a_variation() -> None:
    lab = experiments.load("copper-silver")
    with pytest.raises(ExperimentError, match="variation: This is not a variation"):
        replace(lab, variation=0.02)  # type: ignore[arg-type]
    assert isinstance(replace(lab, variation=Variation(unknown=True)), Record)


def test_a_vessel_said_to_be_the_same_is_asked_about_when_it_is_not() -> None:
    """0.75 g and 0.70 g on a balance that repeats to 0.005 g: 7 standard deviations apart."""
    base = experiments.load("copper-silver")
    same = replace(base, produced=replace(base.produced, same_vessel=("paper",)))
    rows = [{**trial.readings, "paper": "0.70"} for trial in base.trials]
    alike = same.with_trials(Trial(str(i), row) for i, row in enumerate(rows))
    assert not [q for q in alike.questions() if q.reading == "paper"]
    assert [q.text for q in same.questions() if q.reading == "paper"] == [
        "It weighs 0.70 g to 0.75 g, more apart than the balance explains: is it the same thing?"
    ]
    with pytest.raises(ExperimentError, match="named twice"):
        replace(base.produced, same_vessel=("paper", "paper"))


def test_how_groups_differ_is_written_as_briefly_as_it_was_said() -> None:
    assert _between_value(Variation(relative=0.02)) == 0.02
    assert _between_value(Variation(unknown=True)) == "unknown"
    assert _between_value("2 %") == "2 %"
    assert _between_value(Variation(relative=0.02, from_trials=5)) == {
        "relative": 0.02, "from_trials": 5,
    }  # fmt: skip
