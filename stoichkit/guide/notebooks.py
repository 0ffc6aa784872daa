"""The notebooks that come with the package, to be copied where they can be changed."""

from __future__ import annotations

import os
from importlib.resources import files
from pathlib import Path

from .._common import check_ending, check_place, write_whole
from ..errors import DataFileError
from ..uncertainty import entry


def _folder() -> Path:
    """Return where the notebooks are: inside the installed package, or beside a checkout."""
    package = Path(str(files("stoichkit")))
    for place in (package / "notebooks", package.parent / "notebooks"):
        if any(place.glob("*.ipynb")):
            return place
    raise DataFileError(
        "The notebooks did not come with this package.",
        fix="Install it from a wheel or work in a checkout.",
    )


def notebook_names() -> tuple[str, ...]:
    """Return the names of the notebooks, sorted.

    >>> "self-study.ipynb" in notebook_names()
    True
    """
    return tuple(sorted(path.name for path in _folder().glob("*.ipynb")))


def copy_notebooks(
    folder: str | os.PathLike[str] = ".", *, replace: bool = False
) -> tuple[Path, ...]:
    """Copy the notebooks into a folder.

    Parameters
    ----------
    folder : str or path-like
        It is made if it is not there.
    replace : bool
        Whether notebooks of the same name may be replaced; they may hold someone's work.

    Returns
    -------
    tuple of pathlib.Path
        The files written.

    Raises
    ------
    DataFileError
        If a notebook of that name is there already, or cannot be written; nothing is copied in
        the first case.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     len(copy_notebooks(folder)) == len(notebook_names())
    True
    """
    target, source = check_ending(folder, ()), _folder()
    replace = entry.flag("replace", replace, error=DataFileError)
    try:
        target.mkdir(parents=True, exist_ok=True)
        texts = {name: (source / name).read_bytes() for name in notebook_names()}
    except (OSError, ValueError) as error:  # a name that no folder can have is a ValueError
        raise DataFileError(
            f"The folder cannot be used: {getattr(error, 'strerror', None) or error}.",
            given=str(target),
            fix="Check the name and its permissions.",
        ) from error
    for name in texts:
        check_place(target / name, replace=replace)
    return tuple(write_whole(target / name, data, replace=replace) for name, data in texts.items())
