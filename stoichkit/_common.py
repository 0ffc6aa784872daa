"""A read-only mapping, tables of data, a file written whole or not at all, names loaded late.

What a first verdict does not need is imported inside the functions that do.
"""

from __future__ import annotations

import csv
import os
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping
from importlib import import_module
from typing import TYPE_CHECKING, Any, TypeVar

from .errors import DataFileError

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["FrozenMap", "data_table", "loaded_when_used", "write_whole"]

K = TypeVar("K")
V = TypeVar("V")


class FrozenMap(Mapping[K, V]):
    """A read-only mapping, equal to any mapping with the same items.

    Parameters
    ----------
    items : mapping or iterable of (key, value)
        Copied; later changes to it do not show here.

    Examples
    --------
    >>> tare = FrozenMap({"beaker": "50.12"})
    >>> tare["beaker"], len(tare), tare == {"beaker": "50.12"}
    ('50.12', 1, True)
    >>> tare["beaker"] = "0"
    Traceback (most recent call last):
    TypeError: 'FrozenMap' object does not support item assignment
    """

    __slots__ = ("_items",)
    _items: dict[K, V]

    def __init__(self, items: Mapping[K, V] | Iterable[tuple[K, V]] = ()) -> None:
        self._items = dict(items)

    def __getitem__(self, key: K) -> V:
        return self._items[key]

    def __iter__(self) -> Iterator[K]:
        return iter(self._items)

    def __len__(self) -> int:
        return len(self._items)

    def __hash__(self) -> int:
        return hash(frozenset(self._items.items()))

    def __repr__(self) -> str:
        return f"FrozenMap({self._items!r})"


def data_table(name: str) -> list[dict[str, str]]:
    """Return the rows of a table of ``stoichkit/data`` by the names of its columns.

    >>> data_table("elements.csv")[0]["name"]
    'hydrogen'
    """
    import pkgutil

    content = pkgutil.get_data("stoichkit", f"data/{name}") or b""
    return list(csv.DictReader(content.decode("utf-8").splitlines()))


def write_whole(path: str | os.PathLike[str], data: bytes, *, replace: bool = True) -> Path:
    """Write a file whole or not at all; one that was there stays as it is until the end.

    Parameters
    ----------
    path : str or path-like
    data : bytes
    replace : bool
        Whether a file that is there may be replaced.

    Returns
    -------
    pathlib.Path
        The file written.

    Raises
    ------
    DataFileError
        If it cannot be written, or a file of that name exists.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     write_whole(f"{folder}/sheet.csv", b"a,b").read_text()
    'a,b'
    >>> write_whole("no such folder/sheet.csv", b"")
    Traceback (most recent call last):
    stoichkit.errors.DataFileError: The file cannot be written: No such file or directory. Given:
    no such folder/sheet.csv. Check the name, the folder and its permissions.
    """
    import secrets
    from pathlib import Path

    target = Path(path)
    if target.exists() and not replace:
        raise DataFileError(
            "A file of this name exists already; it was not changed.",
            given=str(target),
            fix="Choose another name, or allow the file to be replaced (replace=True).",
        )
    try:
        place = target.resolve()
        temporary = place.with_name(f".{secrets.token_hex(8)}.part")
        try:
            with open(temporary, "xb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            if place.exists():
                temporary.chmod(place.stat().st_mode & 0o777)
            os.replace(temporary, place)
        finally:
            temporary.unlink(missing_ok=True)
    except OSError as error:
        raise DataFileError(
            f"The file cannot be written: {error.strerror or error}.",
            given=str(target),
            fix="Check the name, the folder and its permissions.",
        ) from error
    return target


def loaded_when_used(
    package: str, home: Mapping[str, str]
) -> tuple[Callable[[str], Any], Callable[[], list[str]], list[str]]:
    """Return ``__getattr__``, ``__dir__`` and ``__all__`` of a package that loads names when used.

    Parameters
    ----------
    package : str
        The ``__name__`` of the package.
    home : mapping of str to str
        For each of its modules the public names in it, with spaces between them.

    Examples
    --------
    >>> get, names, public = loaded_when_used("stoichkit.chemistry", {"elements": "molar_mass"})
    >>> get("molar_mass").__name__, public
    ('molar_mass', ['molar_mass'])
    """
    module_of = {name: module for module, names in home.items() for name in names.split()}

    def get(name: str) -> Any:
        if name not in module_of:
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        value = getattr(import_module(f"{package}.{module_of[name]}"), name)
        setattr(sys.modules[package], name, value)
        return value

    public = sorted(module_of)
    return get, lambda: public, public
