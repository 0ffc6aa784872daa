"""A read-only mapping, tables, a file written whole or not at all, late names, a near word.

What a first verdict does not need is imported inside the functions that do.
"""

from __future__ import annotations

import csv
import errno
import os
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from importlib import import_module
from pathlib import Path
from stat import S_ISDIR, S_ISFIFO, S_ISREG, S_ISSOCK
from typing import Any, TypeVar

from .errors import DataFileError, StoichkitError

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


def nearest(word: object, known: Iterable[str]) -> str | None:
    """Return the sentence suggesting the nearest known word, or None.

    >>> nearest("redability_g", ["readability_g", "capacity_g"])
    'Did you mean “readability_g”?'
    """
    import difflib

    close = difflib.get_close_matches(str(word), list(known), n=1)
    return f"Did you mean “{close[0]}”?" if close else None


def data_table(name: str) -> list[dict[str, str]]:
    """Return the rows of a table of ``stoichkit/data`` by the names of its columns.

    >>> data_table("elements.csv")[0]["name"]
    'hydrogen'
    """
    import pkgutil

    content = pkgutil.get_data("stoichkit", f"data/{name}") or b""
    return list(csv.DictReader(content.decode("utf-8").splitlines()))


def check_ending(path: str | os.PathLike[str], endings: Sequence[str]) -> Path:
    """Return a path if its name ends in one of these, in capitals or not; none allows all.

    >>> check_ending("class.HTML", (".html", ".md")).suffix
    '.HTML'
    >>> check_ending("class.pdf", (".html", ".md"))
    Traceback (most recent call last):
    stoichkit.errors.DataFileError: The ending of the file name says no format. Given: class.pdf.
    Allowed: a name that ends in .html or .md. For paper or PDF, write .html and print it from a
    browser.
    """
    try:
        target = Path(path)
    except TypeError:
        raise DataFileError(
            "`path` is not the name of a file.",
            given="None" if path is None else path,
            allowed="text, or a pathlib.Path",
        ) from None
    if endings and target.suffix.lower() not in endings:
        *first, last = endings
        raise DataFileError(
            "The ending of the file name says no format.",
            given=target.name,
            allowed=f"a name that ends in {', '.join(first)}{' or ' if first else ''}{last}",
            fix="For paper or PDF, write .html and print it from a browser."
            if ".html" in endings
            else None,
        )
    return target


def check_place(
    path: str | os.PathLike[str], *, replace: bool = False, endings: Sequence[str] = ()
) -> Path:
    """Return a path if :func:`write_whole` may write there, before long work begins.

    Nothing is written. Parameters and errors are those of :func:`write_whole`.

    Examples
    --------
    >>> check_place("sheet.csv", endings=(".csv",)).name
    'sheet.csv'
    >>> check_place(".", replace=True)
    Traceback (most recent call last):
    stoichkit.errors.DataFileError: This is a folder, not a file. Given: .. Allowed: a new name, or
    that of a file. Choose another name.
    """
    target = check_ending(path, endings)
    if type(replace).__name__ not in ("bool", "bool_"):
        raise DataFileError(
            "`replace` is neither true nor false.",
            given="None" if replace is None else replace,
            allowed="True or False",
        )
    with _saying(target):
        kind = _kind(target)
        if kind not in ("", "file"):
            raise DataFileError(
                f"This is a {kind}, not a file.",
                given=str(target),
                allowed="a new name, or that of a file",
                fix="Choose another name.",
            )
        if kind and not replace:
            raise FileExistsError
        folder = os.path.dirname(os.path.realpath(target))
        os.stat(folder)  # says what is wrong if it is not there
        if not os.access(folder, os.W_OK | os.X_OK):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
    return target


def write_whole(
    path: str | os.PathLike[str],
    data: bytes,
    *,
    replace: bool = False,
    endings: Sequence[str] = (),
    private: bool = False,
) -> Path:
    """Write a file whole or not at all; one that was there stays as it is until the end.

    The bytes go to a temporary file in the same folder and to the disk, and then take the name.
    A link to a file is followed: the link stays and that file is replaced. Anything else than a
    file, and a link to it or to nothing, is refused whatever ``replace`` says.

    Parameters
    ----------
    path : str or path-like
    data : bytes
    replace : bool
        Whether a file of that name may be replaced; it keeps its permissions.
    endings : sequence of str
        What the name may end in, in small letters with the dot; anything if left out.
    private : bool
        Only its owner may read the file, also if the one it replaces was open to others.

    Returns
    -------
    pathlib.Path
        The file written.

    Raises
    ------
    DataFileError
        If the name has another ending, there is a file of that name or something that is no
        file, or it cannot be written.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     sheet = write_whole(f"{folder}/sheet.csv", b"a,b")
    ...     write_whole(sheet, b"c,d", replace=True).read_text()
    'c,d'
    >>> write_whole("no such folder/sheet.csv", b"")
    Traceback (most recent call last):
    stoichkit.errors.DataFileError: The file cannot be written: No such file or directory. Given:
    no such folder/sheet.csv. Check the name, the folder and its permissions.
    """
    target = check_place(path, replace=replace, endings=endings)
    with _saying(target):
        place = Path(os.path.realpath(target))
        import secrets

        temporary = place.with_name(f".{secrets.token_hex(8)}.part")
        kept = place.stat().st_mode & 0o777 if place.exists() and not private else None
        mode = 0o600 if private or kept is not None else 0o666
        try:
            with open(temporary, "xb", opener=lambda name, how: os.open(name, how, mode)) as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            if kept is not None:
                temporary.chmod(kept)
            if replace:
                os.replace(temporary, place)
            else:
                _take_free_name(temporary, place)
        finally:
            temporary.unlink(missing_ok=True)
        with suppress(OSError):  # the file is there; not every system can sync a folder
            _sync_folder(place.parent)
    return target


def _kind(path: Path) -> str:
    """Say what is there, links followed; "" for nothing."""
    try:
        mode = path.stat().st_mode
    except FileNotFoundError:
        return "link that leads nowhere" if path.is_symlink() else ""
    kinds = {S_ISREG: "file", S_ISDIR: "folder", S_ISFIFO: "pipe", S_ISSOCK: "socket"}
    return next((kind for is_it, kind in kinds.items() if is_it(mode)), "device")


def _take_free_name(temporary: Path, place: Path) -> None:
    """Give a finished file its name, unless another file has taken it meanwhile."""
    try:
        os.link(temporary, place)
    except FileExistsError:
        raise
    except (AttributeError, OSError):  # no hard links in this file system, or none at all
        place.touch(exist_ok=False)
        try:
            os.replace(temporary, place)
        except BaseException:
            place.unlink(missing_ok=True)
            raise


def _sync_folder(folder: Path) -> None:
    """Have the disk keep the name too."""
    number = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(number)
    finally:
        os.close(number)


@contextmanager
def _saying(target: Path) -> Iterator[None]:
    """Say of what the system refuses what to do next."""
    try:
        yield
    except StoichkitError:
        raise
    except FileExistsError:
        raise DataFileError(
            "There is a file of that name already.",
            given=str(target),
            fix="Choose another name, or replace it on purpose (replace=True, --force).",
        ) from None
    except (OSError, ValueError) as error:  # a name that no file can have is a ValueError
        raise DataFileError(
            f"The file cannot be written: {getattr(error, 'strerror', None) or error}.",
            given=str(target),
            fix="Check the name, the folder and its permissions.",
        ) from error


_NOTEBOOK = ("anywidget", "traitlets", "ipywidgets", "IPython")


def _missing(error: ModuleNotFoundError) -> ModuleNotFoundError:
    """Say which extra brings a package that is not installed; other errors stay as they are.

    >>> print(_missing(ModuleNotFoundError("No module named 'anywidget'", name="anywidget")))
    The screens need the package anywidget, which is not installed. Install it and the rest that
    notebooks need with: pip install "stoichkit[notebook]"
    """
    package = (error.name or "").partition(".")[0]
    if package not in _NOTEBOOK:
        return error
    return ModuleNotFoundError(
        f"The screens need the package {package}, which is not installed. Install it and the rest "
        'that notebooks need with: pip install "stoichkit[notebook]"',
        name=error.name,
    )


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
        try:
            module = import_module(f"{package}.{module_of[name]}")
        except ModuleNotFoundError as error:
            raise _missing(error) from error
        value = getattr(module, name)
        setattr(sys.modules[package], name, value)
        return value

    public = sorted(module_of)
    return get, lambda: public, public


_SUPPLIED: dict[str, Callable[[], Callable[..., Any]]] = {}


def supply(name: str, load: Callable[[], Callable[..., Any]]) -> None:
    """Offer a function of an upper room to the lower ones, which may not import it.

    Only the package itself, which knows every room, supplies anything.

    >>> supply("a test", lambda: len)
    >>> supplied("a test")("abc")
    3
    """
    _SUPPLIED[name] = load


def supplied(name: str) -> Callable[..., Any]:
    """Return a function that :func:`supply` offered; it is loaded when first used."""
    return _SUPPLIED[name]()
