"""Experiment files: reading and writing the record as TOML and JSON."""

from __future__ import annotations

import json
import os
import re
import stat
import tomllib
from pathlib import Path
from typing import Any, NoReturn

from .atomic_file import write_whole
from .errors import DataFileError, ExperimentError
from .experiment import Experiment
from .experiment_fields import NumberText, from_tables, to_tables
from .experiment_parts import relocated
from .toml_text import write_toml

__all__ = [
    "MAX_BYTES",
    "load_experiment",
    "parse_experiment",
    "parse_json",
    "save_experiment",
    "to_json",
    "to_toml",
]

MAX_BYTES = 1_000_000
"""Largest experiment file that is read."""

_LINE = re.compile(r" ?\(at (?:line (\d+), column (\d+)|end of document)\)")
_LONG_KEY = re.compile(
    r"""(?<![\w-])(?:(?:[\w-]+|"[^"\n]*"|'[^'\n]*')[ \t]*\.[ \t]*){20}""", re.ASCII
)
_COMMA = re.compile(r"=\s*[+-]?[0-9]+,[0-9]+\s*(#.*)?$")


def parse_experiment(text: str, path: str = "") -> Experiment:
    """Read an experiment from the text of a TOML file.

    Parameters
    ----------
    text : str
        At most 1,000,000 bytes as UTF-8. Fields, in any order (all of them with examples in
        ``stoichkit/experiments/FORMAT.md``):

        ``title``, ``about``, ``invented``, ``coverage``, ``recovery``, ``notes``, ``format``
            What the experiment is called and is about; whether its readings are invented;
            coverage probability; least and largest fraction of product recovered; remarks.
        ``[instruments.NAME]``
            One table for each instrument: ``kind`` ("balance", "burette", …) and its figures.
        ``[consumed]``, ``[produced]``
            How each amount is measured: ``kind`` ("mass by difference", "solution", "gas over
            water", "gas", "charge", "precipitate"), ``species`` and the names of the readings.
        ``[candidates.equations]``, ``[candidates.oxidation_states]``, ``[candidates.hydrate]``,
        ``[candidates.formulas]`` or ``[candidates.ratios]``
            Exactly one of them: the possible products.
        ``[shared]``
            Readings that serve all trials.
        ``[[trials]]``
            One for each trial: ``name``, perhaps ``group``, and its readings by name.
        ``[[cautions]]``
            ``subject``, ``statements`` (GHS), ``advice``, ``source``.

        Readings are numbers or, to allow a decimal comma, texts; both keep their last zeros.
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
    try:
        tables = _toml_tables(text)
        return from_tables(tables)
    except ExperimentError as error:
        if path and not error.path:
            raise relocated(error, path=path) from None
        raise


def _toml_tables(text: str) -> dict[str, Any]:
    """Parse TOML, with what it says about a fault put in our words."""
    if not isinstance(text, str):
        raise ExperimentError("An experiment is read from text.", given=text)
    _check_size(len(text.encode("utf-8", "surrogatepass")))
    if found := _LONG_KEY.search(text):  # tomllib takes quadratic time over such a name
        raise ExperimentError(
            "A name has too many parts with dots between them.",
            field=f"line {text.count(chr(10), 0, found.start()) + 1}",
            given=found[0],
            allowed="at most 20",
            fix="Write a name that has dots in it in quotes.",
        )
    try:
        return tomllib.loads(text.removeprefix("\ufeff"), parse_float=NumberText)
    except tomllib.TOMLDecodeError as error:
        _refuse_toml(text, error)
    except RecursionError:
        raise ExperimentError("Lists or tables are nested too deeply.") from None
    except ValueError as error:
        raise ExperimentError(f"A number in the file cannot be read: {error}.") from error


def _refuse_toml(text: str, error: tomllib.TOMLDecodeError) -> NoReturn:
    message = str(error)
    found = _LINE.search(message)
    lines = text.splitlines() or [""]
    number = int(found[1]) if found and found[1] else len(lines)
    line = lines[min(number, len(lines)) - 1]
    fix = "Check quotes, brackets and equals signs in this line and the one before."
    if _COMMA.search(line):
        fix = 'A number with a decimal comma stands in quotes: "1,50".'
    elif "Cannot overwrite" in message or "twice" in message:
        fix = "A name may be given once in each table."
    raise ExperimentError(
        f"This is not TOML: {_LINE.sub('', message)}.",
        field=f"line {number}",
        given=line.strip() or None,
        fix=fix,
    ) from error


def _check_size(size: int) -> None:
    if size > MAX_BYTES:
        raise ExperimentError(
            "The file is too large to be an experiment record.",
            given=f"{size:,} bytes",
            allowed=f"at most {MAX_BYTES:,} bytes",
            fix="Keep class data with many groups in a table (CSV or XLSX).",
        )


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
    name = os.fspath(path)
    try:
        if stat.S_ISFIFO(os.stat(name).st_mode):
            raise ExperimentError(
                "This is a pipe, not a file.", path=str(name), allowed="a TOML file"
            )
        with open(name, "rb") as file:
            data = file.read(MAX_BYTES + 1)
            size = os.fstat(file.fileno()).st_size
    except OSError as error:
        raise ExperimentError(
            f"The file cannot be read: {error.strerror or error}.",
            path=str(name),
            fix="Check the name and the folder.",
        ) from error
    try:
        _check_size(max(len(data), size))
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise ExperimentError(
            "The file is not text in UTF-8.",
            path=str(name),
            field=f"line {line}",
            fix="Save it again as UTF-8.",
        ) from error
    except ExperimentError as error:
        raise relocated(error, path=str(name)) from None
    return parse_experiment(text, str(name))


def save_experiment(experiment: Experiment, path: str | os.PathLike[str]) -> Path:
    """Write an experiment to a TOML file, whole or not at all.

    The text goes to a temporary file in the same folder, which then takes the name; a file
    that was there before stays as it is until that moment.

    Parameters
    ----------
    experiment : Experiment
    path : str or path-like
        Name of the file.

    Returns
    -------
    pathlib.Path
        The file written.

    Raises
    ------
    ExperimentError
        If the file cannot be written, or would be too large to be read again.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> save_experiment(experiments.load("tin-oxide"), "no such folder/lab.toml")
    Traceback (most recent call last):
    stoichkit.errors.ExperimentError: ...lab.toml: The file cannot be written: No such file...
    """
    data = experiment.to_toml().encode("utf-8")
    try:
        _check_size(len(data))
        return write_whole(path, data)
    except ExperimentError as error:
        raise relocated(error, path=os.fspath(path)) from None
    except DataFileError as error:
        raise ExperimentError(error.problem, path=os.fspath(path), fix=error.fix) from error


def to_toml(experiment: Experiment) -> str:
    """Write the record as TOML; see :meth:`Experiment.to_toml`.

    >>> from stoichkit import experiments
    >>> to_toml(experiments.load("tin-oxide")).startswith("format = 1")
    True
    """
    return write_toml(to_tables(experiment))


def to_json(experiment: Experiment) -> str:
    """Write the record as JSON; see :meth:`Experiment.to_json`.

    >>> from stoichkit import experiments
    >>> to_json(experiments.load("tin-oxide")).splitlines()[1]
    '  "format": 1,'
    """
    return json.dumps(to_tables(experiment), ensure_ascii=False, indent=2) + "\n"


def parse_json(text: str) -> Experiment:
    """Read a record that :func:`to_json` wrote; see :meth:`Experiment.from_json`.

    >>> from stoichkit import experiments
    >>> parse_json(to_json(experiments.load("tin-oxide"))).title
    'Which oxide does tin form?'
    """
    if not isinstance(text, str):
        raise ExperimentError("An experiment is read from text.", given=text)
    _check_size(len(text.encode("utf-8", "surrogatepass")))
    try:
        tables = json.loads(
            text,
            parse_float=NumberText,
            parse_constant=_refuse_constant,
            object_pairs_hook=_pairs,
        )
    except json.JSONDecodeError as error:
        raise ExperimentError(
            f"This is not JSON: {error.msg}.", field=f"line {error.lineno}"
        ) from error
    except RecursionError:
        raise ExperimentError("Lists or tables are nested too deeply.") from None
    except ExperimentError:
        raise
    except ValueError as error:
        raise ExperimentError(f"A number in the text cannot be read: {error}.") from error
    return from_tables(tables)


def _refuse_constant(word: str) -> NoReturn:
    raise ExperimentError("This is not a finite number.", given=word)


def _pairs(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Return one JSON object, refusing a name given twice."""
    table = dict(pairs)
    if len(table) < len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise ExperimentError("A name is given twice in one table.", given=twice)
    return table
