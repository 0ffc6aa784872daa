"""Ready experiments with invented readings, one TOML file each, to try out and to start from.

Beside some lies the file of an invented class, as an instructor would have it.
"""

from __future__ import annotations

import pkgutil
from contextlib import suppress
from typing import TYPE_CHECKING

from .._common import loaded_when_used, nearest
from ..errors import ExperimentError
from ..uncertainty import entry

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable

    from .record import Experiment

__getattr__, _, _LOADED = loaded_when_used(
    __name__,
    {
        "record": "Experiment",
        "looks": "Looks",
        "own": "Said Sentence Understood Way suggestions understood unweighed ways weighed",
        "own_slots": "Slot Suggestion",
        "parts": "Caution Prior Question Trial Variation",
        "store": "load_experiment parse_experiment save_experiment",
        "published": "StudentSet student_sets",
        "practice_labs": "FaultKind PlantedFault PracticeLab practice practice_of",
    },
)
__all__ = [*_LOADED, "class_file", "class_names", "load", "names", "path", "read"]


def __dir__() -> list[str]:
    return sorted(__all__)


_CLASS = "-class.csv"


def names() -> tuple[str, ...]:
    """Return the names of the ready experiments in alphabetical order.

    >>> "copper-silver" in names()
    True
    """
    return _names(".toml")


def _names(ending: str) -> tuple[str, ...]:
    """Return the names of the files of this package with an ending, without it."""
    from importlib.resources import files

    found = (entry.name for entry in files(__name__).iterdir() if entry.name.endswith(ending))
    return tuple(sorted(name.removesuffix(ending) for name in found))


def path(name: str) -> Traversable:
    """Return where the file of a ready experiment is; it may lie inside an archive.

    Raises
    ------
    ExperimentError
        If there is none of that name.

    Examples
    --------
    >>> path("tin-oxide").name
    'tin-oxide.toml'
    """
    from importlib.resources import files

    _check_known(name, names(), "There is no ready experiment of that name.")
    return files(__name__) / f"{name}.toml"


def _check_known(name: object, known: tuple[str, ...], problem: str) -> None:
    if entry.text("name", name, error=ExperimentError) not in known:
        allowed, fix = ", ".join(known), nearest(name, known)
        raise ExperimentError(problem, given=name, allowed=allowed, fix=fix)


def read(name: str) -> str:
    """Return the text of a ready experiment, to be changed and saved under another name.

    Raises
    ------
    ExperimentError
        If there is none of that name.

    Examples
    --------
    >>> "[[trials]]" in read("tin-oxide")
    True
    """
    if isinstance(name, str) and name.islower() and name.replace("-", "").isalnum():
        # listing the folder would take as long as the assessment
        with suppress(OSError):
            return (pkgutil.get_data(__name__, f"{name}.toml") or b"").decode("utf-8")
    return path(name).read_text(encoding="utf-8")


def load(name: str) -> Experiment:
    """Return a ready experiment.

    Raises
    ------
    ExperimentError
        If there is none of that name.

    Examples
    --------
    >>> load("hydrate-heating").invented
    True
    """
    from .store import parse_experiment

    return parse_experiment(read(name), f"{name}.toml")


def class_names() -> tuple[str, ...]:
    """Return the names of the ready experiments that come with the file of an invented class.

    >>> class_names()
    ('copper-silver',)
    """
    return _names(_CLASS)


def class_file(name: str = "copper-silver") -> bytes:
    """Return the content of the file of an invented class, with the faults such files have.

    Parameters
    ----------
    name : str
        One of :func:`class_names`.

    Raises
    ------
    ExperimentError
        If there is no class file for that experiment.

    Examples
    --------
    >>> class_file().decode().splitlines()[0]
    'group,trial,wire before / g,wire after / g,paper / g,paper + silver / g'
    """
    _check_known(name, class_names(), "There is no invented class for that experiment.")
    return pkgutil.get_data(__name__, f"{name}{_CLASS}") or b""
