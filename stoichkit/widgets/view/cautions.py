"""Cautions of a lab, on every screen that shows one."""

from __future__ import annotations

from ...experiments.record import Experiment
from .blocks import Block, details, document, words


def cautions_blocks(lab: Experiment, *, opened: bool = False) -> list[Block]:
    """Return eye protection in view, and the rest of the cautions to be opened.

    >>> from stoichkit import experiments
    >>> [block["kind"] for block in cautions_blocks(experiments.load("tin-oxide"))]
    ['words', 'details']
    """
    from ...bench.cautions import EYES, lab_safety

    section = lab_safety(lab).section()
    parts = [document(part, titled=False) for part in section.parts if part != EYES]
    return [words(EYES, "warning"), details("Cautions and waste of this lab", parts, opened=opened)]
