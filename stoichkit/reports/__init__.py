"""Documents for people: lab, page to hand in, class, group, feedback, worked, self-study."""

from __future__ import annotations

from .._common import loaded_when_used

__getattr__, __dir__, __all__ = loaded_when_used(
    __name__,
    {
        "lab": "lab_report next_report",
        "classroom": "class_report group_report",
        "following": "ClassFollowing class_following following_sentences",
        "hand_in": "hand_in_page",
        "feedback": "feedback_pages",
        "review": "decision_table side_by_side",
        "worked": "conclusion_paragraph worked_solution",
        "study": "lesson",
        "progress": "LabDone Progress",
        "question": "Feedback Mistake Question check now_you",
        "gallery": "Comparison comparison_table",
    },
)
