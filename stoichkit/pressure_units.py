"""Pressure in kilopascals from the other units found on barometers."""

from __future__ import annotations

from .uncertain import Number

__all__ = ["kPa_from_atm", "kPa_from_hPa", "kPa_from_mmHg", "kPa_from_torr"]


def kPa_from_torr(pressure_torr: Number) -> Number:
    """Turn torr into kilopascals: 760 torr is 101.325 kPa exactly.

    >>> round(kPa_from_torr(745), 3)
    99.325
    """
    return pressure_torr * (101.325 / 760)


def kPa_from_mmHg(pressure_mmHg: Number) -> Number:
    """Turn conventional millimetres of mercury into kilopascals: 0.133322387415 kPa each.

    The factor (13 595.1 kg/m³ × 9.80665 m/s² × 1 mm) is from memory, recomputed.

    >>> round(kPa_from_mmHg(742.5), 3)
    98.992
    """
    return pressure_mmHg * 0.133322387415


def kPa_from_atm(pressure_atm: Number) -> Number:
    """Turn standard atmospheres into kilopascals: 101.325 kPa each, exactly.

    >>> kPa_from_atm(1)
    101.325
    """
    return pressure_atm * 101.325


def kPa_from_hPa(pressure_hPa: Number) -> Number:
    """Turn hectopascals (millibars) into kilopascals: 0.1 kPa each, exactly.

    >>> kPa_from_hPa(1000)
    100.0
    """
    return pressure_hPa / 10
