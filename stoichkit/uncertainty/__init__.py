"""Numbers with labelled error sources, and what follows from them exactly."""

from __future__ import annotations

from .._common import loaded_when_used

__getattr__, __dir__, __all__ = loaded_when_used(
    __name__,
    {
        "sources": "Contribution Shape Source UncertainNumber budget contributions error_source "
        "format_number nominal standard_uncertainty uncertain_value",
        "readings": "ErrorPool Reading parse_number",
        "distribution": "SumDistribution distribution_of student_p",
        "montecarlo": "Comparison MonteCarlo compare_first_order monte_carlo propagate",
        "ratio_set": "Interval RatioSet",
        "pooling": "Outlying Pooled leave_one_out outlying pool",
        "straight_line": "Line fit_line",
    },
)
