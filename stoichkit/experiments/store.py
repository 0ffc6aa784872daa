"""Experiment files: reading and writing the record as TOML and JSON."""

from __future__ import annotations

import os
import stat
from typing import TYPE_CHECKING

from .._common import check_ending, write_whole
from ..errors import DataFileError, ExperimentError
from ..uncertainty import entry
from .fields import MAX_BYTES, _check_size, from_tables, toml_tables
from .parts import relocated
from .record import Experiment

if TYPE_CHECKING:
    from pathlib import Path


def parse_experiment(text: str, path: str = "") -> Experiment:
    """Read an experiment from the text of a TOML file.

    Parameters
    ----------
    text : str
        At most 1,000,000 bytes as UTF-8, with the fields that ``stoichkit/experiments/FORMAT.md``
        explains. Readings are numbers or, to allow a decimal comma, texts; both keep their last
        zeros.
    path : str, optional
        Name of the file, for messages.

    Returns
    -------
    Experiment

    Raises
    ------
    ExperimentError
        If the text is not TOML (with the line) or a field is not known, missing or wrong;
        ``field`` is its dotted path, in which trials and other lists count from 1.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> text = experiments.read("copper-silver")
    >>> parse_experiment(text).title
    'Copper wire in silver nitrate'
    >>> parse_experiment(text.replace('"paper" =', '"papr" ='), "lab.toml")
    Traceback (most recent call last):
    stoichkit.errors.ExperimentError: lab.toml, trials[1].papr: No amount uses a reading
    of this name. Given: 0.75. Allowed: wire before, ... Did you mean “paper”?
    """
    entry.text("path", path, error=ExperimentError)
    try:
        tables = toml_tables(text)
        return Experiment(**from_tables(tables))
    except ExperimentError as error:
        if path and not error.path:
            raise relocated(error, path=path) from None
        raise


def load_experiment(path: str | os.PathLike[str]) -> Experiment:
    """Read an experiment from a TOML file.

    Parameters
    ----------
    path : str or path-like
        File in UTF-8; its fields are those of :func:`parse_experiment`.

    Returns
    -------
    Experiment

    Raises
    ------
    ExperimentError
        If the file cannot be read or is faulty; ``path`` and ``field`` say where.

    Examples
    --------
    >>> import tempfile
    >>> from stoichkit import experiments
    >>> lab = experiments.load("tin-oxide")
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = save_experiment(lab, f"{folder}/mine.toml")
    ...     load_experiment(file) == lab
    True
    """
    name = _name_of(path)
    try:
        if stat.S_ISFIFO(os.stat(name).st_mode):
            raise ExperimentError("This is a pipe, not a file.", path=name, allowed="a TOML file")
        with open(name, "rb") as file:
            data = file.read(MAX_BYTES + 1)
            size = os.fstat(file.fileno()).st_size
    except (OSError, ValueError) as error:  # a name that no file can have is a ValueError
        raise ExperimentError(
            f"The file cannot be read: {getattr(error, 'strerror', None) or error}.",
            path=name,
            fix="Check the name and the folder.",
        ) from error
    return experiment_in(data, name, size=size)


def experiment_in(data: bytes, name: str, *, size: int = 0) -> Experiment:
    """Return the experiment that the bytes of a file hold, of which there may be more.

    >>> from stoichkit import experiments
    >>> experiment_in(experiments.read("tin-oxide").encode(), "mine").title
    'Which oxide does tin form?'
    """
    try:
        _check_size(max(len(data), size))
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise ExperimentError(
            "The file is not text in UTF-8.",
            path=name,
            field=f"line {line}",
            fix="Save it again as UTF-8.",
        ) from error
    except ExperimentError as error:
        raise relocated(error, path=name) from None
    return parse_experiment(text, name)


def save_experiment(
    experiment: Experiment, path: str | os.PathLike[str], *, replace: bool = False
) -> Path:
    """Write an experiment to a TOML file, whole or not at all.

    Parameters
    ----------
    experiment : Experiment
    path : str or path-like
        Name of the file.
    replace : bool
        Whether a file of that name may be replaced; it stays as it is until the new one is whole.

    Returns
    -------
    pathlib.Path
        The file written.

    Raises
    ------
    ExperimentError
        If there is a file of that name, it cannot be written, or would be too large to be read
        again.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> save_experiment(experiments.load("tin-oxide"), "no such folder/lab.toml")
    Traceback (most recent call last):
    stoichkit.errors.ExperimentError: ...lab.toml: The file cannot be written: No such file...
    """
    name, replace = _name_of(path), entry.flag("replace", replace, error=ExperimentError)
    entry.record("experiment", experiment, Experiment, error=ExperimentError)
    data = experiment.to_toml().encode("utf-8")
    try:
        _check_size(len(data))
        return write_whole(name, data, replace=replace)
    except ExperimentError as error:
        raise relocated(error, path=name) from None
    except DataFileError as error:
        raise ExperimentError(error.problem, path=name, fix=error.fix) from error


def _name_of(path: object) -> str:
    """Return the name of a file as text."""
    try:
        check_ending(path, ())  # type: ignore[arg-type]
    except DataFileError as error:
        raise relocated(error, field="path") from None
    return os.fspath(path)  # type: ignore[call-overload, no-any-return]
