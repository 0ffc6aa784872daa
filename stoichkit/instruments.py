"""Instruments by name: what measures mass, volume, temperature, pressure, current and time."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

from .balance import Balance
from .errors import InstrumentError
from .glassware import Pipette, VolumetricFlask
from .graduated import Burette, GraduatedCylinder
from .instrument_base import Instrument, nearest
from .meters import Ammeter, Barometer, Thermometer, Timer
from .pressure_units import kPa_from_atm, kPa_from_hPa, kPa_from_mmHg, kPa_from_torr

__all__ = [
    "KINDS",
    "Ammeter",
    "Balance",
    "Barometer",
    "Burette",
    "GraduatedCylinder",
    "Instrument",
    "Pipette",
    "Thermometer",
    "Timer",
    "VolumetricFlask",
    "instrument_fields",
    "kPa_from_atm",
    "kPa_from_hPa",
    "kPa_from_mmHg",
    "kPa_from_torr",
    "make_instrument",
]

KINDS: dict[str, type[Instrument]] = {
    "balance": Balance,
    "cylinder": GraduatedCylinder,
    "pipette": Pipette,
    "burette": Burette,
    "flask": VolumetricFlask,
    "thermometer": Thermometer,
    "barometer": Barometer,
    "ammeter": Ammeter,
    "timer": Timer,
}
"""Every kind of instrument, by the word that names it in an experiment file."""


def make_instrument(kind: str, **values: object) -> Instrument:
    """Make an instrument from the name of its kind and its figures.

    Parameters
    ----------
    kind : str
        One of :data:`KINDS`.
    **values
        Fields of that kind; those left out keep their defaults.

    Returns
    -------
    Instrument

    Raises
    ------
    InstrumentError
        If the kind or a field is not known (the message suggests the nearest), or a figure
        cannot be used.

    Examples
    --------
    >>> make_instrument("balance", readability_g=0.001).describe()
    'A balance reading to 0.001 g, repeatability 0.0005 g.'
    >>> make_instrument("balance", readibility_g=0.001)
    Traceback (most recent call last):
    stoichkit.errors.InstrumentError: A balance has no field of that name. Given: readibility_g.
    Allowed: readability_g, ... Did you mean “readability_g”?
    """
    made = KINDS.get(kind) if isinstance(kind, str) else None
    if made is None:
        raise InstrumentError(
            "That kind of instrument is not known.",
            given=kind,
            allowed=", ".join(KINDS),
            fix=nearest(kind, list(KINDS)),
        )
    known = [field.name for field in fields(made)]  # type: ignore[arg-type]
    for name in values:
        if name not in known:
            article = "An" if made.noun[0] in "aeiou" else "A"
            raise InstrumentError(
                f"{article} {made.noun} has no field of that name.",
                given=name,
                allowed=", ".join(known),
                fix=nearest(name, known),
            )
    return made(**values)


def instrument_fields(instrument: Instrument) -> dict[str, Any]:
    """Return the kind and every stated figure of an instrument, for saving.

    Fields left at their default are left out; ``make_instrument(**instrument_fields(x))``
    gives an instrument equal to ``x``.

    Raises
    ------
    InstrumentError
        If the object is not one of :data:`KINDS`.

    Examples
    --------
    >>> instrument_fields(Balance(readability_g=0.1, repeatability_g=0.0))
    {'kind': 'balance', 'readability_g': 0.1, 'repeatability_g': 0.0}
    """
    for kind, made in KINDS.items():
        if type(instrument) is made:
            stated = {
                field.name: getattr(instrument, field.name)
                for field in fields(made)  # type: ignore[arg-type]
                if getattr(instrument, field.name) != field.default
            }
            return {"kind": kind, **stated}
    raise InstrumentError("That is not an instrument.", given=instrument, allowed=", ".join(KINDS))
