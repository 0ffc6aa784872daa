"""A class: files in, every row accounted for, one verdict, files out."""

from __future__ import annotations

from .._common import loaded_when_used

__getattr__, __dir__, __all__ = loaded_when_used(
    __name__,
    {
        "choices": "AnswerGiven Choices Decision DecisionKind choices_path load_choices "
        "parse_choices save_choices",
        "data": "ClassData load_class preview_class",
        "evidence": "ClassEvidence",
        "result": "ClassResult assess_class",
        "verdict": "ClassVerdict class_verdict",
        "pooled": "pooled_ratios",
        "outlook": "class_outlook",
        "amounts": "ClassAmounts amounts_of class_line scatter_test",
        "export": "export_answer_key export_answer_sheet export_code_key export_grades "
        "export_results export_rows",
        "items": "Item items_of",
        "judging": "Judgement MarkKind",
        "marking": "ClassMarks GroupMarks Mark mark_class",
        "review": "Repair Review decided review_class suggested_repairs",
        "rubric": "Rubric load_rubric",
        "overturning": "ClassFault",
        "trust": "class_trust_sentences",
        "line": "class_diagnosis group_diagnosis",
        "sentences": "class_verdict_sentences groups_sentence",
    },
)
