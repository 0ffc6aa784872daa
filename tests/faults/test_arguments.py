"""Whatever is given for an argument, what comes is a result or a refusal that can be read.

Every argument of every public function is replaced by values that people give by mistake: numbers
of the wrong kind, arrays with masked elements, texts, dates, records of another type. A value of
the wrong kind is refused with a StoichkitError, never counted as something else; what is a number
or an array in any spelling gives the same result as the float.
"""

from __future__ import annotations

import dataclasses
import importlib
import inspect
import math
from collections.abc import Iterator, Mapping
from datetime import datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from uncertainties import ufloat

import stoichkit
from stoichkit.errors import StoichkitError

from .calls import CALLS, UNCHECKED, Axes, Figure, drawn

NESTED: list[Any] = []
NESTED.append(NESTED)
MASKED = {
    "masked": np.ma.masked,
    "masked number": np.ma.array(1.0, mask=True),
    "masked list": np.ma.array([1.0, 2.0], mask=[False, True]),
    "masked list of 3": np.ma.array([1.0, 2.0, 3.0], mask=[False, True, False]),
    "masked list of 4": np.ma.array([1.0, 2.0, 3.0, 4.0], mask=[False, True, False, False]),
    "masked in a list": [1.0, np.ma.masked],
    "list of masked": [np.ma.array([1.0, 2.0], mask=[False, True])] * 2,
}
"""Data that are hidden: using them is worse than any error."""
WRONG: dict[str, Any] = {
    "None": None, "nothing": "", "word": "abc", "half a letter": "\ud800", "zero byte": "a\0b",
    "bytes": b"x", "true": True, "object": object(), "empty list": [], "empty dict": {},
    "set": {1.0}, "function": lambda *_, **__: 1.0, "nan": math.nan, "inf": math.inf,
    "-inf": -math.inf,
    "huge": 10**400, "unwritable": 10**5000, "huge fraction": Fraction(10**400),
    "decimal nan": Decimal("NaN"), "signalling nan": Decimal("sNaN"), "complex": 1 + 2j,
    "date": datetime(2026, 1, 1), "time": timedelta(1), "numpy date": np.datetime64("2026-01-01"),
    "numpy time": np.timedelta64(5, "s"), "uncertain": ufloat(1.0, 0.1),
    "truths": np.array([True, False]), "complexes": np.array([1j, 2.0]),
    "objects": np.array([object(), None], dtype=object), "words": np.array(["1", "2"]),
    "dates": np.array(["2025", "2026"], dtype="M8[Y]"), "ragged": [[1.0], [1.0, 2.0]],
    "cube": np.ones((2, 2, 2)), "empty array": np.array([]), "uncertains": [ufloat(1, 0.1)] * 2,
    "truth in a list": [True, 1.0], "nan in a list": [math.nan, 1.0],
    "huge in a list": [10**400, 1], "nested": NESTED, **MASKED,
}  # fmt: skip
TEXTS = {"nothing", "word", "half a letter", "zero byte"}
EMPTY = {"empty list", "empty dict", "empty array"}
HEAVY = {"planning.largest_recovery", "planning.smallest_amount"}
"""Right arguments take seconds; wrong ones are refused at once."""
ENOUGH = {"widgets"}
"""Of panels only the argument that names an experiment is looked at."""
PANDAS = {"table", "missing", "no time"}
"""Kinds of wrong values that only pandas has."""
USED: dict[str, set[str]] = {
    "decision.evidence_grade likelihood_ratio": {"inf"},
    "uncertainty.student_p x": {"inf", "-inf", "cube"},
    "uncertainty.student_p reach": {"cube"},
    "uncertainty.student_p scale": {"cube"},
    "uncertainty.error_source dof": {"inf"},
    "uncertainty.uncertain_value dof": {"inf"},
    "uncertainty.monte_carlo seed": {"huge", "unwritable"},
    "planning.simulate_labs seed": {"huge", "unwritable"},
    "decision.grouped_budget most": {"huge", "unwritable"},
    "diagnosis.slip_sentence trials": {"huge", "unwritable"},
    "classroom.load_class max_bytes": {"huge", "unwritable"},
    "classroom.preview_class max_bytes": {"huge", "unwritable"},
    "bench.write_datasheet groups": {"words"},
    "bench.write_datasheet trials": {"words"},
    "chemistry.hydrate_series waters": {"set", "words"},
    "chemistry.oxidation_states states": {"set", "words"},
    "classroom.ClassAmounts role_of": {"empty dict"},
    "experiments.weighed states": {"set", "words"},
    "measurement.water_density_g_per_mL temperature_C": {"uncertain"},
    "measurement.water_vapour_pressure_kPa temperature_C": {"uncertain"},
    "text.markdown_part part": TEXTS,
    "text.text_part part": TEXTS,
    "uncertainty.parse_number what": {*WRONG, *PANDAS},  # shown only in a refusal
} | {
    f"uncertainty.{name} value": {"nan", "inf", "-inf", "uncertain"}
    for name in (
        "nominal", "standard_uncertainty", "format_number", "budget", "contributions",
        "distribution_of", "compare_first_order",
    )
}  # fmt: skip
"""Values that an argument takes although they look wrong."""


def called(key: str) -> Any:
    room, *names = key.split(".")
    found = importlib.import_module(f"stoichkit.{room}")
    for name in names:
        found = getattr(found, name)
    return found


def right_arguments(key: str) -> dict[str, Any]:
    """Return every argument with a value that is right, also those that may be left out."""
    given = {
        name: drawn(value) if value in (Axes, Figure) else value
        for name, value in CALLS[key].items()
        if not isinstance(value, np.ndarray)
    }
    parameters = inspect.signature(called(key)).parameters.values()
    return {p.name: given.get(p.name, p.default) for p in parameters if p.kind != p.VAR_KEYWORD}


def answer(key: str, given: dict[str, Any]) -> Any:
    function, given = called(key), dict(given)
    several = [
        given.pop(p.name)
        for p in inspect.signature(function).parameters.values()
        if p.kind == p.VAR_POSITIONAL
    ]
    found = function(*several, **given)
    if key.startswith("widgets.") and hasattr(found, "close"):
        found.close()
    return found


def may_be_used(key: str, name: str, right: Any, default: Any, wrong: str) -> bool:
    """Say whether a value that looks wrong is none for this argument."""
    if wrong in USED.get(f"{key} {name}", ()):
        return True
    if wrong == "None":
        return default is None or right is None
    if wrong in MASKED:
        return False
    if isinstance(right, str):
        return wrong in TEXTS
    if isinstance(right, bool):
        return wrong == "true"
    if isinstance(right, list | tuple) and all(isinstance(one, str) for one in right):
        return wrong in EMPTY | {"words"}
    if isinstance(right, list | tuple | Mapping):
        return wrong in EMPTY
    if callable(right):
        return wrong == "function"
    return False


@pytest.fixture
def _in_a_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "lab.toml").write_text(stoichkit.experiments.read("copper-silver"), "utf-8")
    (tmp_path / "chosen.toml").write_text("format = 1", "utf-8")


def check_wrong(key: str, wrong: Mapping[str, Any]) -> None:
    right = right_arguments(key)
    parameters = inspect.signature(called(key)).parameters
    if key not in HEAVY:
        answer(key, right)
    faults = []
    for name in right:
        if key.split(".")[0] in ENOUGH and name not in CALLS[key]:
            continue
        for kind, value in wrong.items():
            try:
                answer(key, {**right, name: value})
            except StoichkitError as refusal:
                said = str(refusal)
                if not 20 <= len(said) < 2000 or (kind == "object" and "Given: " not in said):
                    faults.append(f"{name}={kind}: {refusal}")
            except Exception as error:  # noqa: BLE001
                faults.append(f"{name}={kind}: {type(error).__name__}: {error}")
            else:
                if not may_be_used(key, name, right[name], parameters[name].default, kind):
                    faults.append(f"{name}={kind} was used")
    assert not faults, "\n".join(faults)


@pytest.mark.usefixtures("_in_a_folder")
@pytest.mark.parametrize("key", CALLS)
def test_any_argument_is_used_or_refused(key: str) -> None:
    check_wrong(key, WRONG)


def test_every_public_name_is_tried_or_has_a_reason() -> None:
    """Records that only hold what they are given are made by functions, which are tried."""
    for room in (p.parent.name for p in Path(stoichkit.__file__).parent.glob("*/__init__.py")):
        module = importlib.import_module(f"stoichkit.{room}")
        for name in module.__all__:
            found, key = getattr(module, name), f"{room}.{name}"
            if inspect.isclass(found) and not hasattr(found, "__post_init__"):
                continue
            if callable(found):
                assert (key in CALLS) != (key in UNCHECKED), key
    public = [getattr(stoichkit, name) for name in stoichkit.__all__]
    in_rooms = [called(key) for key in CALLS]
    for found in public:
        if inspect.isfunction(found):
            assert found in in_rooms, found


@pytest.mark.usefixtures("_in_a_folder")
@pytest.mark.parametrize("key", CALLS)
def test_what_a_table_of_pandas_lacks_is_refused(key: str) -> None:
    """A missing value, truth values, texts, dates; a column of one number is no number."""
    pandas = pytest.importorskip("pandas")
    check_wrong(
        key,
        {
            "masked": pandas.Series([1.0, None], dtype="Float64"),
            "masked number": pandas.Series([1.0, None], dtype=object),
            "missing": pandas.NA,
            "truths": pandas.Series([True, False]),
            "dates": pandas.Series(pandas.to_datetime(["2025-01-01", "2026-01-01"])),
            "table": pandas.DataFrame([[1.0, True], [2.0, False]]),
            "no time": pandas.NaT,
        },
    )


EXACT = {
    "chemistry.hydrate_series waters", "chemistry.oxidation_states states", "bench.Supply units",
    "measurement.GasVolume factor", "measurement.Precipitate factor",
    "measurement.SolutionVolume factor", "measurement.TitratedSolution factor",
}  # fmt: skip
"""Whole numbers or exact ratios."""


def is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def is_table(value: object) -> bool:
    """Say whether a value is a list of numbers, or of such lists."""
    return (
        isinstance(value, list | tuple)
        and bool(value)
        and all(is_number(one) or is_table(one) for one in value)
    )


def each(value: Any, convert: Any) -> Any:
    """Convert every number of nested lists."""
    return [each(one, convert) for one in value] if is_table(value) else convert(value)


def spelled(key: str, value: Any) -> Iterator[tuple[str, Any]]:
    """Yield other ways to write the same number or array."""
    if is_number(value) and key in EXACT:
        yield from {"int64": np.int64(value), "array": np.array(value)}.items()
        return
    if is_number(value):
        yield from {
            "Decimal": Decimal(value), "Fraction": Fraction(value), "float64": np.float64(value),
            "float32": np.float32(value), "array": np.array(value),
        }.items()  # fmt: skip
        if value == int(value):
            yield "int", int(value)
            yield "int64", np.int64(value)
        return
    yield "tuple", tuple(value)
    yield "array", np.array(value)
    if key not in EXACT:
        yield "Decimals", each(value, Decimal)
        yield "Fractions", np.array(each(value, Fraction), dtype=object)
        yield "float64s", each(value, np.float64)
        yield "float32s", np.array(value, dtype=np.float32)
        yield "nothing masked", np.ma.array(value)
        yield "big-endian", np.array(value, dtype=">f8")


def of_pandas(key: str, value: Any) -> Iterator[tuple[str, Any]]:
    pandas = pytest.importorskip("pandas")
    if is_table(value) and is_table(value[0]):
        yield "DataFrame", pandas.DataFrame(value)
    elif is_table(value):
        yield "Series", pandas.Series(value, index=range(7, 7 + len(value)))
        if key not in EXACT:
            yield "nullable", pandas.Series(value, dtype="Float64")


def seen(found: Any) -> Any:
    """Return what a result holds, floats to the last bit, in a form that can be compared."""
    if is_number(found):  # an int is kept, so that a saved file stays as it is
        return float(found).hex() if found == float(found) else found
    if isinstance(found, np.ndarray):
        return found.shape, found.tobytes()
    if hasattr(found, "nominal_value"):
        return seen(found.nominal_value), seen(found.std_dev)
    if isinstance(found, Mapping):
        return {str(key): seen(value) for key, value in found.items()}
    if isinstance(found, list | tuple):
        return [seen(one) for one in found]
    if dataclasses.is_dataclass(found):
        return {f.name: seen(getattr(found, f.name)) for f in dataclasses.fields(found)}
    if isinstance(found, str | int | Fraction | bytes | None):
        return found
    return type(found).__name__


def check_same(key: str, ways: Any) -> None:
    if key in HEAVY or key.split(".")[0] in ENOUGH:
        return
    right = right_arguments(key)
    faults = []
    for name, value in right.items():
        if not (is_number(value) and math.isfinite(value)) and not is_table(value):
            continue
        for kind, written in ways(f"{key} {name}", value):
            # what float32 cannot hold is another number
            plain = value
            if kind in ("float32", "float32s"):
                plain = each(np.asarray(written, dtype=float).tolist(), float)
                plain = value if plain == value else plain
            try:
                same = seen(answer(key, {**right, name: written}))
            except Exception as error:  # noqa: BLE001
                faults.append(f"{name} as {kind}: {type(error).__name__}: {error}")
            else:
                if same != seen(answer(key, {**right, name: plain})):
                    faults.append(f"{name} as {kind}: another result")
    assert not faults, "\n".join(faults)


@pytest.mark.usefixtures("_in_a_folder")
@pytest.mark.parametrize("key", CALLS)
def test_a_number_in_any_spelling_gives_the_same_result(key: str) -> None:
    check_same(key, spelled)


@pytest.mark.usefixtures("_in_a_folder")
@pytest.mark.parametrize("key", CALLS)
def test_columns_and_tables_of_pandas_are_arrays(key: str) -> None:
    pytest.importorskip("pandas")
    check_same(key, of_pandas)


def test_columns_of_a_table_are_trials() -> None:
    """What is hidden in one trial of one group is found, and named by its place."""
    pandas = pytest.importorskip("pandas")
    before = [[3.12, 2.95], [2.87, 2.90]]
    after = [[2.65, 2.48], [2.40, 2.43]]
    paper, silver = [[0.71, 0.70]] * 2, [[2.30, 2.29]] * 2
    settings = {
        "consumed": "Cu", "produced": "Ag", "candidates": {"copper(I)": 1, "copper(II)": 2},
        "balance": stoichkit.Balance(readability_g=0.01),
    }  # fmt: skip
    tables = [pandas.DataFrame(t, columns=["trial 1", "trial 2"]) for t in (before, after)]
    found = stoichkit.assess_weighings(*tables, paper, silver, **settings)
    plain = stoichkit.assess_weighings(before, after, paper, silver, **settings)
    assert (found.p_value == plain.p_value).all()
    hidden = np.ma.masked_equal(before, 2.90)
    with pytest.raises(stoichkit.errors.ReadingError, match=r"masked.*\[1, 1\]"):
        stoichkit.assess_weighings(hidden, after, paper, silver, **settings)
