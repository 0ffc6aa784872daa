"""Instruments, and the amounts of substance that follow from their readings."""

from __future__ import annotations

from .._common import loaded_when_used

__getattr__, __dir__, __all__ = loaded_when_used(
    __name__,
    {
        "base": "AmountModel Care Instrument Portion Role Setting Span Step",
        "displays": "Ammeter Balance Barometer Display Meter Thermometer Timer",
        "glassware": "Burette GraduatedCylinder Pipette VolumetricFlask published_tolerance",
        "weighing": "ConstantMass MassByDifference Precipitate SumOfMasses",
        "concentration": "KnownConcentration PreparedSolution SolutionVolume TitratedSolution",
        "routes": "Routes",
        "registry": "register unregister",
        "gas_and_charge": "ElectricCharge GasVolume water_density_g_per_mL "
        "water_vapour_pressure_kPa",
    },
)
