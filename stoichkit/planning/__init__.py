"""Before the lab: the chance of each verdict, and what would make it conclusive."""

from __future__ import annotations

from .._common import loaded_when_used

__getattr__, __dir__, __all__ = loaded_when_used(
    __name__,
    {
        "outcomes": "Chances",
        "plan": "OperatingCharacteristic Plan chances operating_characteristic over_recovery",
        "classes": "Groups class_chances class_characteristic",
        "room": "Balances Room RoomPlan groups_in room_plan smallest_in_room",
        "design": "DesignMap design_map with_readability",
        "telling": "Foretold foretold",
        "following": "FurtherTrials NextTrials next_trials",
        "questions": "Answer coarsest_balance fewest_trials largest_recovery smallest_amount",
        "simulation": "SimulatedLabs simulate_labs",
        "sentences": "answer_sentences chances_table hardest_sentence map_sentence "
        "meaning_sentence next_sentences next_table setting_sentence single_answer_sentence "
        "wrong_sentence",
    },
)
