"""From readings to amounts of substance: every way to measure one, and what they share."""

from __future__ import annotations

from collections.abc import Iterable

from .amount_base import (
    FARADAY_C_PER_MOL,
    GAS_CONSTANT_J_PER_MOL_K,
    AmountModel,
    Role,
    Step,
)
from .amount_fields import CONCENTRATIONS, MODELS, from_fields, to_fields
from .amount_models import Charge, GasVolume
from .concentrations import KnownConcentration, PreparedSolution, SolutionVolume
from .errors import ModelError
from .weighed_amounts import ConstantMass, MassByDifference, Precipitate, constant_mass

__all__ = [
    "CONCENTRATIONS",
    "FARADAY_C_PER_MOL",
    "GAS_CONSTANT_J_PER_MOL_K",
    "MODELS",
    "AmountModel",
    "Charge",
    "ConstantMass",
    "GasVolume",
    "KnownConcentration",
    "MassByDifference",
    "Precipitate",
    "PreparedSolution",
    "Role",
    "SolutionVolume",
    "Step",
    "constant_mass",
    "from_fields",
    "main_reading",
    "to_fields",
    "vessel_groups",
]


def vessel_groups(models: Iterable[AmountModel]) -> dict[str, str]:
    """Return, for each weighing, the name of the vessel it shares with others.

    Groups of several models that have a weighing in common are joined: in a hydrate lab the
    crucible empty, with hydrate and with residue are one group.

    Examples
    --------
    >>> water = MassByDifference(species="H2O", heavier="hydrate", lighter="residue")
    >>> salt = MassByDifference(species="CuSO4", heavier="residue", lighter="empty")
    >>> vessel_groups([water, salt])
    {'hydrate': 'residue', 'residue': 'residue', 'empty': 'residue'}
    """
    parent: dict[tuple[str, str], tuple[str, str]] = {}

    def root(node: tuple[str, str]) -> tuple[str, str]:
        while parent.setdefault(node, node) != node:
            node = parent[node]
        return node

    weighings: list[str] = []
    for model in models:
        for role in model.roles():
            if role.vessel_group:
                first = root(("vessel", role.vessel_group))
                other = root(("weighing", role.name))
                if other[0] == "vessel":
                    first, other = other, first
                parent[other] = first
                weighings.append(role.name)
    return {name: root(("weighing", name))[1] for name in weighings}


def main_reading(model: AmountModel) -> str:
    """Return the name of the reading that grows with the amount.

    Raises
    ------
    ModelError
        If the amount is fixed by a pipette.

    Examples
    --------
    >>> main_reading(MassByDifference(species="Cu", heavier="before", lighter="after"))
    'before'
    """
    for field in ("heavier", "final", "time"):
        name = getattr(model, field, "")
        if name:
            return str(name)
    raise ModelError(
        f"The amount of {model.species} cannot be varied: no reading follows it.",
        fix="Plan with a burette instead of a pipette for this volume.",
    )
