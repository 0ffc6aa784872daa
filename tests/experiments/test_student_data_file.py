"""The published student readings: as they were printed, with the ratios calculated before.

The ratios and their standard uncertainties from resolution alone were calculated from the printed
readings by simulation, apart from this library; see ``reference/test_student_data.py``, whose
docstring names the pages.
"""

from __future__ import annotations

import pytest

from stoichkit.decision.evidence import assess
from stoichkit.experiments.published import StudentSet, student_sets
from stoichkit.uncertainty.sources import standard_uncertainty

FOUND = {
    # ratio, standard uncertainty, candidates that fit
    "a": ("0.8959", "0.0003", ()),
    "b": ("1.224", "0.022", ()),
    "c": ("0.993", "0.012", ("CuO",)),
    "d": ("1.013", "0.030", ("MgO",)),
    "e": ("6.86", "0.18", ("CuSO4·7H2O",)),
    "f": ("1.688", "0.003", ()),
    "g": ("4.872", "0.001", ()),
    "h": ("2.340", "0.0015", ()),
    "i": ("6.997", "0.002", ("MgSO4·7H2O",)),
    "j": ("7.022", "0.023", ("MgSO4·7H2O",)),
    "k": ("1.961", "0.002", ()),
    "l": ("1.766", "0.005", ()),
    "n": ("0.493", "0.007", ("Cu2O",)),
    "o": ("0.983", "", ("magnesium(II)",)),
}
SETS = {one.key: one for one in student_sets()}
DERIVED = {"j", "l"}
"""Sets with a reading that is the sum or difference of two printed ones: another uncertainty."""


def test_all_sets_are_there_and_name_their_page() -> None:
    assert SETS.keys() == FOUND.keys()
    for one in SETS.values():
        assert one.page
        assert one.status == "read"
        assert one.accepted in {c.name for c in one.experiment.candidates}
        assert not one.experiment.invented
    assert all(SETS[key].note for key in DERIVED)


@pytest.mark.parametrize("one", SETS.values(), ids=SETS)
def test_ratio_and_verdict(one: StudentSet) -> None:
    ratio, u, fitting = FOUND[one.key]
    evidence = assess(one.experiment)

    assert evidence.ratio == pytest.approx(
        float(ratio), abs=0.55 * 10.0 ** -len(ratio.split(".")[1])
    )
    assert evidence.verdict.candidates == fitting
    if u and one.key not in DERIVED:
        unit = 10.0 ** -len(u.split(".")[1])
        found = standard_uncertainty(evidence.n_produced / evidence.n_consumed)
        assert found == pytest.approx(float(u), abs=0.55 * unit)
