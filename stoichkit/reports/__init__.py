"""Documents for people: lab, class, group, worked solution, self-study."""

from __future__ import annotations

from .._common import loaded_when_used

__getattr__, __dir__, __all__ = loaded_when_used(
    __name__,
    {
        "lab": "lab_report_html lab_report_markdown report_markdown report_text write_lab_report",
        "classroom": "class_report_html class_report_markdown class_report_text group_report_html "
        "group_report_markdown group_report_text write_class_report write_group_report",
        "worked": "conclusion_paragraph worked_document worked_solution write_worked_solution",
        "study": "lesson",
        "question": "Feedback Mistake Question check",
        "gallery": "Comparison comparison_table",
    },
)
