"""Notebook panels over plain state objects; ipywidgets is imported when a panel is made.

`ReadingsState` and everything else below it work without Jupyter.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from .form import Place
from .state import Change, ReadingsState

if TYPE_CHECKING:
    from ..experiment import Experiment
    from .verdict_panel import ReadingsPanel

__all__ = ["Change", "Place", "ReadingsState", "readings_panel"]


def readings_panel(experiment_or_name: Experiment | str | None = None) -> ReadingsPanel:
    """Return the panel “Readings and verdict” for a notebook.

    Parameters
    ----------
    experiment_or_name : Experiment or str, optional
        A record, the name of a ready experiment, or the text of an experiment file; the ready
        experiment ``"copper-silver"`` if left out.

    Returns
    -------
    ReadingsPanel
        A widget; its ``state`` is a :class:`ReadingsState`, and ``close()`` closes all of it.

    Raises
    ------
    ExperimentError
        If there is no such experiment, or the text is faulty.

    Examples
    --------
    >>> panel = readings_panel("tin-oxide")
    >>> panel.state.evidence.verdict.kind.value
    'singled_out'
    >>> panel.close()
    """
    from .verdict_panel import ReadingsPanel

    source = "copper-silver" if experiment_or_name is None else experiment_or_name
    return ReadingsPanel(ReadingsState(source))
