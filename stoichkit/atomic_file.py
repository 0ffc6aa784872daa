"""Writing a file whole or not at all."""

from __future__ import annotations

import os
import secrets
from pathlib import Path

from .errors import DataFileError

__all__ = ["write_whole"]


def write_whole(path: str | os.PathLike[str], data: bytes) -> Path:
    """Write a file whole or not at all; one that was there stays as it is until the end.

    Parameters
    ----------
    path : str or path-like
    data : bytes

    Returns
    -------
    pathlib.Path
        The file written.

    Raises
    ------
    DataFileError
        If it cannot be written.

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
    target = Path(path)
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
