"""Readings that students and forum users published, each with the page it was read on.

They are real readings, not examples of good work: with the last digit of the display as the only
uncertainty, half of them fit no candidate at all.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files

from .fields import NumberText, from_tables
from .record import Experiment


@dataclass(frozen=True, slots=True, kw_only=True)
class StudentSet:
    """One published set of readings.

    Attributes
    ----------
    key : str
        A letter.
    page : str
        The page it was published on.
    status : str
        ``"read"`` or ``"memory"``: whether the readings were read on that page.
    printed : str
        What the page concludes, "" if nothing.
    accepted : str
        The textbook answer (from memory), as named among the candidates.
    note : str
        How the readings here differ from those printed, "" if they do not.
    experiment : Experiment
        The readings, with instruments that have a readability and no repeatability.
    """

    key: str
    page: str
    status: str
    printed: str
    accepted: str
    note: str
    experiment: Experiment


@lru_cache(maxsize=1)
def student_sets() -> tuple[StudentSet, ...]:
    """Return all published sets in the order of their letters.

    Source: ``data/student_data.toml``; see ``data/README.md``.

    Examples
    --------
    >>> found = student_sets()[4]
    >>> found.key, found.page, found.accepted
    ('e', 'jiskha 1349936538', 'CuSO4·5H2O')
    >>> found.experiment.trials[0].readings["before"]
    ('15.67',)
    """
    text = (files("stoichkit") / "data" / "student_data.toml").read_text(encoding="utf-8")
    tables = tomllib.loads(text, parse_float=NumberText)
    return tuple(
        StudentSet(
            key=one["key"],
            page=one["page"],
            status=one["status"],
            printed=one["printed"],
            accepted=one["accepted"],
            note=one.get("note", ""),
            experiment=Experiment(**from_tables(one["record"])),
        )
        for one in tables["sets"]
    )
