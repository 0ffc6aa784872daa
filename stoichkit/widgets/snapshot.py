"""How the readings stand at one moment, kept apart from what changes; to JSON and back."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from functools import lru_cache
from typing import Any, TypeVar

from ..errors import ExperimentError
from ..experiment import Experiment
from .form import BalanceTexts, Form, TrialTexts, form_of

__all__ = ["Snapshot", "snapshot_from", "snapshot_tables"]

MOST = 1000
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Snapshot:
    """All that a readings panel holds.

    Attributes
    ----------
    base : Experiment
        The record that was loaded.
    name : str
    form : Form
        The texts; nothing changes this copy.
    good : Form or None
        The last texts that could all be used, None if those of the record.
    removed : tuple of TrialTexts
        Trials that were removed last.
    """

    base: Experiment
    name: str
    form: Form
    good: Form | None = None
    removed: tuple[TrialTexts, ...] = ()


@lru_cache(maxsize=4)
def _json_of(base: Experiment) -> str:
    return base.to_json()


def snapshot_tables(snapshot: Snapshot) -> dict[str, Any]:
    """Return a snapshot as tables, lists and texts that JSON can hold.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> import json
    >>> lab = experiments.load("tin-oxide")
    >>> before = Snapshot(lab, "tin-oxide", form_of(lab))
    >>> snapshot_from(json.loads(json.dumps(snapshot_tables(before)))) == before
    True
    """
    return {
        "experiment": _json_of(snapshot.base),
        "name": snapshot.name,
        "form": _form_tables(snapshot.form),
        "good": None if snapshot.good is None else _form_tables(snapshot.good),
        "removed": [asdict(one) for one in snapshot.removed],
    }


def _form_tables(form: Form) -> dict[str, Any]:
    tables = asdict(form)
    del tables["rows"]  # they follow from the experiment
    return tables


def snapshot_from(tables: Any) -> Snapshot:
    """Return the snapshot that tables stand for, checked down to every text.

    Raises
    ------
    ExperimentError
        If they are not those of a snapshot.
    """
    top = _table(tables)
    base = Experiment.from_json(_text(top.get("experiment")))
    good = top.get("good")
    return Snapshot(
        base,
        _text(top.get("name")),
        _form(top.get("form"), base),
        None if good is None else _form(good, base),
        tuple(_trial(one, form_of(base)) for one in _list(top.get("removed"))),
    )


def _form(value: Any, base: Experiment) -> Form:
    """Return a form with the fields of the record and the texts of a table."""
    found, tables = form_of(base), _table(value)
    trials = [_trial(one, found) for one in _list(tables.get("trials"))]
    balances = _same_names(tables.get("balances"), found.balances, _balance)
    if not trials or not isinstance(tables.get("invented"), bool):
        raise _damaged("trials, and whether they are invented")
    return Form(
        title=_text(tables.get("title")),
        invented=tables["invented"],
        candidates=_text(tables.get("candidates")),
        coverage=_text(tables.get("coverage")),
        recovery_low=_text(tables.get("recovery_low")),
        recovery_high=_text(tables.get("recovery_high")),
        rows=found.rows,
        balances=balances,
        shared=_same_names(tables.get("shared"), found.shared, _text),
        trials=trials,
    )


def _trial(value: Any, form: Form) -> TrialTexts:
    tables = _table(value)
    names = {row.name: "" for row in form.rows if not row.shared}
    readings = _same_names(tables.get("readings"), names, _text)
    return TrialTexts(_text(tables.get("name")), _text(tables.get("group")), readings)


def _balance(value: Any) -> BalanceTexts:
    tables = _table(value)
    return BalanceTexts(_text(tables.get("readability_g")), _text(tables.get("repeatability_g")))


def _same_names(value: Any, wanted: Mapping[str, object], read: Callable[[Any], T]) -> dict[str, T]:
    tables = _table(value)
    if set(tables) != set(wanted):
        raise _damaged(", ".join(wanted))
    return {name: read(tables[name]) for name in wanted}


def _table(value: Any) -> dict[str, Any]:
    if not isinstance(value, dict) or len(value) > MOST:
        raise _damaged("a table")
    return value


def _list(value: Any) -> list[Any]:
    if not isinstance(value, list) or len(value) > MOST:
        raise _damaged("a list")
    return value


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise _damaged("a text")
    return value


def _damaged(allowed: str) -> ExperimentError:
    return ExperimentError("What was kept of the typed texts is damaged.", allowed=allowed)
