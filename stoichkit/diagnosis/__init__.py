"""After the lab: why is it off, and by how much?"""

from __future__ import annotations

from .._common import loaded_when_used

__getattr__, __dir__, __all__ = loaded_when_used(
    __name__,
    {
        "effects": "Effect catalogue effect_named effects_for",
        "causes": "Cause Combination causes_for combine",
        "slips": "Slip SlipKind find_slips",
        "constant_mass": "Drying drying",
        "stability": "RedoxFinding SpotTest cell couple redox_findings spot_tests suggested_tests",
        "sentences": "cause_sentence causes_paragraph combination_sentence drying_sentence "
        "no_slip_sentence redox_sentences slip_sentence spot_test_sentence",
    },
)
