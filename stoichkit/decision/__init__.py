"""Which candidates do these readings exclude?"""

from __future__ import annotations

from .._common import loaded_when_used

__getattr__, __dir__, __all__ = loaded_when_used(
    __name__,
    {
        "evidence": "CandidateEvidence Evidence assess",
        "verdict": "Caveat CaveatKind Diagnosis DiagnosisKind Reason Verdict VerdictKind "
        "evidence_grade",
        "statement": "Standing Statement Term statement_of terms_used verdict_sentences",
        "arrays": "WeighedRatios WeighingEvidence assess_weighings weighed_ratios",
        "yields": "PercentError PercentYield percent_error percent_yield yield_for",
        "chances": "Chances",
        "overturning": "Fault FaultKind",
        "trust": "chance_sentence chance_table close_sentence fault_table overturning_sentence "
        "prior_sentence trust_sentences",
        "answers": "AnswerLine answer_lines",
        "sentences": "asked_again_sentence assumption_sentences caveat_sentence grouped_budget "
        "look_sentence ratio_sentence recovery_sentence second_opinion_sentence yield_sentence",
    },
)
