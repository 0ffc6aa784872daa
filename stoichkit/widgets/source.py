"""What an experiment can be opened from: a record, a name, or the text of a file."""

from __future__ import annotations

from .. import experiments
from ..experiment import Experiment
from ..experiment_toml import parse_experiment

__all__ = ["read_source"]


def read_source(source: Experiment | str, name: str = "") -> tuple[Experiment, str]:
    """Return an experiment and the name it goes by.

    Parameters
    ----------
    source : Experiment or str
        A record, the name of a ready experiment, or the text of an experiment file.
    name : str
        Name of the file that the text comes from.

    Returns
    -------
    (Experiment, str)
        The record; the name of the ready experiment, or ``name``.

    Raises
    ------
    ExperimentError
        If there is no such experiment, or the text is faulty.

    Examples
    --------
    >>> read_source("tin-oxide")[1]
    'tin-oxide'
    """
    if isinstance(source, Experiment):
        return source, name
    if "\n" in source or "=" in source:
        return parse_experiment(source, name), name
    return experiments.load(source.strip()), source.strip()
