"""The rubric: how many points each item earns, and what is taken off; a small file to edit."""

from __future__ import annotations

import os
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from .._common import FrozenMap, nearest, write_whole
from ..errors import DataFileError, ModelError
from ..uncertainty import entry
from .items import CONCLUSION, Item

_MOST_BYTES = 50_000
_MOST_POINTS = 1000.0
_PARTS = {
    "carried_forward": "part of the points for a step that is right after an earlier error",
    "another_unit": "part of the points for a number that is right in another unit",
    "known_mistake": "part of the points for a mistake that has a name, such as a ratio upside "
    "down",
    "figures_off": "part of the points taken off for too many or too few figures",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Rubric:
    """How answers earn points.

    Parameters
    ----------
    points : mapping of str to float
        Points of each item by its key, 0 to 1000; of an item that is asked of each trial the
        trials share them evenly. An item that is not listed is not marked.
    carried_forward, another_unit, known_mistake : float
        Part of the points, 0 to 1, for a step that is right after an earlier error, a number
        that is right in another unit, and a mistake that has a name.
    figures_off : float
        Part of the points, 0 to 1, taken off for too many or too few figures.
    title : str

    Raises
    ------
    ModelError
        If a number cannot be used, or no item earns points.

    Examples
    --------
    >>> rubric = Rubric(points={"ratio": 2, "conclusion": 3})
    >>> rubric.total, rubric.carried_forward
    (5.0, 1.0)
    >>> Rubric.parse(rubric.toml()) == rubric
    True
    """

    points: Mapping[str, float]
    carried_forward: float = 1.0
    another_unit: float = 0.5
    known_mistake: float = 0.0
    figures_off: float = 0.25
    title: str = ""

    def __post_init__(self) -> None:
        entry.text("title", self.title)
        given = entry.mapping("points", self.points, "{item: points}")
        points = {
            str(key): entry.number(f"points of “{key}”", value, least=0, most=_MOST_POINTS)
            for key, value in given.items()
        }
        if not any(points.values()):
            raise ModelError("No item earns points.", allowed="points above 0 for one or more")
        object.__setattr__(self, "points", FrozenMap(points))
        for name in _PARTS:
            part = entry.number(name, getattr(self, name), least=0, most=1)
            object.__setattr__(self, name, part)

    @property
    def total(self) -> float:
        """Points of a group to which everything is asked, and that has everything right."""
        return sum(self.points.values())

    @classmethod
    def for_items(cls, items: Iterable[Item], *, title: str = "") -> Rubric:
        """Return a rubric to begin with: one point an item, two for the conclusion.

        >>> Rubric.for_items([Item("ratio", "", "", True), Item("conclusion", "", "", False)]).total
        3.0
        """
        found = entry.listed("items", items, Item)
        points = {item.key: 2.0 if item.key == CONCLUSION else 1.0 for item in found}
        return cls(points=points, title=title)

    def check(self, items: Iterable[Item]) -> None:
        """Refuse a rubric that names an item which nobody is asked for.

        >>> Rubric(points={"ration": 1}).check([Item("ratio", "", "", True)])
        Traceback (most recent call last):
        stoichkit.errors.ModelError: The rubric gives points for what nobody is asked for. Given:
        ration. Allowed: ratio. Did you mean “ratio”?
        """
        known = [item.key for item in items]
        for key in self.points:
            if key not in known:
                raise ModelError(
                    "The rubric gives points for what nobody is asked for.",
                    given=key,
                    allowed=", ".join(known),
                    fix=nearest(key, known),
                )

    @classmethod
    def parse(cls, text: str, path: str = "") -> Rubric:
        """Read a rubric from the text of a TOML file; nothing that is not known is passed over.

        Raises
        ------
        DataFileError
            If it is not TOML, or a field is not known, missing or wrong.

        Examples
        --------
        >>> Rubric.parse('[points]\\nratio = "two"\\n')
        Traceback (most recent call last):
        stoichkit.errors.DataFileError: Rubric, points.ratio: This is not a number. Given: two.
        Allowed: 0 to 1000.
        """
        where = f"Rubric {path}".strip()
        if len(entry.text("text", text, error=DataFileError).encode("utf-8", "replace")) > (
            _MOST_BYTES
        ):
            raise DataFileError(
                f"{where}: The file is too large.", allowed=f"up to {_MOST_BYTES:,} bytes"
            )
        try:
            tables = tomllib.loads(text.removeprefix("\ufeff"))
        except (ValueError, RecursionError) as error:
            raise DataFileError(
                f"{where}: This is not TOML: {error}.",
                fix="Check quotes, brackets and equals signs in that line and the one before; "
                "a name that is not made of letters and figures alone stands in quotes.",
            ) from error
        return cls(**_checked(tables, where))

    def toml(self) -> str:
        """Write the rubric as the text of a TOML file, with what each line means."""
        lines = [f"title = {_quoted(self.title)}"] if self.title else []
        lines += [f"{name} = {getattr(self, name):g}  # {said}" for name, said in _PARTS.items()]
        lines += ["", "[points]  # of each item; the trials of a group share them evenly"]
        lines += [f"{_quoted(key)} = {value:g}" for key, value in self.points.items()]
        return "\n".join(lines) + "\n"

    def save(self, path: str | os.PathLike[str], *, replace: bool = False) -> Path:
        """Write the rubric to a TOML file, whole or not at all.

        Raises
        ------
        DataFileError
            If there is a file of that name, or it cannot be written.
        """
        return write_whole(path, self.toml().encode("utf-8"), replace=replace)


def load_rubric(path: str | os.PathLike[str]) -> Rubric:
    """Read a rubric from a TOML file.

    Raises
    ------
    DataFileError
        If the file cannot be read or is faulty; the message names the place.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = Rubric(points={"ratio": 1}).save(f"{folder}/rubric.toml")
    ...     load_rubric(file).total
    1.0
    """
    try:
        with open(path, "rb") as file:
            content = file.read(_MOST_BYTES + 1)
        text = content.decode("utf-8")
    except (OSError, ValueError, TypeError) as error:
        why = getattr(error, "strerror", None) or error
        raise DataFileError(
            f"The rubric cannot be read: {why}.", given=path, fix="Check the name and the folder."
        ) from error
    return Rubric.parse(text, Path(path).name)


def _checked(tables: Mapping[str, Any], where: str) -> dict[str, Any]:
    """Return the fields of a rubric, or refuse what cannot be used by its place."""
    known = ("title", *_PARTS, "points")
    for name in tables:
        if name not in known:
            raise DataFileError(
                f"{where}: A rubric has no field of this name.",
                given=name,
                allowed=", ".join(known),
                fix=nearest(name, known),
            )
    points = tables.get("points")
    if not isinstance(points, dict) or not points:
        raise DataFileError(
            f"{where}: No item has points.",
            allowed="a table [points] with a line for each item, such as ratio = 1",
        )
    title = tables.get("title", "")
    if not isinstance(title, str):
        raise DataFileError(f"{where}, title: This is not text.", given=title)
    found: dict[str, Any] = {"title": title}
    for name in _PARTS:
        if name in tables:
            found[name] = _number(tables[name], f"{where}, {name}", 1.0)
    found["points"] = {
        key: _number(value, f"{where}, points.{key}", _MOST_POINTS) for key, value in points.items()
    }
    try:
        Rubric(**found)
    except ModelError as error:
        raise DataFileError(f"{where}: {error}") from error
    return found


def _number(value: object, where: str, most: float) -> float:
    allowed = f"0 to {most:g}"
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise DataFileError(f"{where}: This is not a number.", given=value, allowed=allowed)
    if not 0 <= value <= most:
        raise DataFileError(f"{where}: The number is out of range.", given=value, allowed=allowed)
    return float(value)


def _quoted(text: str) -> str:
    """Write text as a TOML string."""
    plain = "".join(c if c.isprintable() else " " for c in text)
    return '"' + plain.replace("\\", "\\\\").replace('"', '\\"') + '"'
