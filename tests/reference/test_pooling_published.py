"""Pooling against published tables and statsmodels.

Data and printed results of five sources, each named beside its check. All data and tables were
read, as quoted in public test suites that reuse them, unless a check says otherwise.
"""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from digits import like

from stoichkit.uncertainty.pooling import METHODS, outlying, pool

# R. DerSimonian and R. Kacker, Contemp. Clin. Trials 28 (2007) 105-114, counts of events
TREATED = np.array([[5, 5, 12, 69, 9, 313], [156, 303, 565, 1570, 103, 4659]], dtype=float)
CONTROL = np.array([[8, 17, 9, 94, 11, 352], [74, 303, 477, 1565, 105, 4650]], dtype=float)
# W. Viechtbauer, J. Educ. Behav. Stat. 30 (2005) 261-293, p. 271
TEN = [-0.581, 0.530, 0.771, 1.031, 0.553, 0.295, 0.078, 0.573, -0.176, -0.232]
TEN_V = [0.023, 0.052, 0.060, 0.115, 0.095, 0.203, 0.200, 0.211, 0.051, 0.040]
# S.-L. T. Normand, Stat. Med. 18 (1999) 321-359, Tables III and VII, percentage points
SIX = [2.8026, 0.0000, 1.9711, 1.7961, 3.5334, 4.4031]
SIX_V = [17.7575, 37.5657, 8.1323, 10.8998, 8.0114, 6.1320]
# R. C. Paule and J. Mandel, J. Res. Natl. Bur. Stand. 87 (1982) 377-385
CADMIUM = [27.044, 26.022, 26.340, 26.787, 26.796]
CADMIUM_V = [0.003, 0.076, 0.464, 0.003, 0.014]
# key comparison of PCB 105: seven laboratories
PCB = [10.21, 10.9, 10.94, 10.58, 10.81, 9.62, 10.8]
PCB_U = [0.381, 0.250, 0.130, 0.410, 0.445, 0.196, 0.093]
# J. Hearn et al., Metrologia 45 (2008) 08001: lead in wine, mg/kg
LEAD = [2.893, 2.936, 2.940, 2.960, 2.980, 3.000, 3.001, 3.070, 3.130]
LEAD_U = [0.020657, 0.0125, 0.0165, 0.033333, 0.100503, 0.05, 0.068, 0.085, 0.06]
# M. G. Vangel and A. L. Rukhin, Biometrics 55 (1999) 129-136: dietary fibre in apples
FIBRE = [12.46, 13.035, 12.44, 12.87, 13.42, 12.08, 13.18, 14.335, 12.23]
FIBRE_S = [0.028, 0.233, 0.325, 0.071, 0.339, 0.325, 0.099, 0.064, 0.212]


def odds_ratios() -> tuple[np.ndarray, np.ndarray]:
    """Return the log odds ratios of the trials of aspirin and their variances."""
    cells = np.array([TREATED[0], TREATED[1] - TREATED[0], CONTROL[0], CONTROL[1] - CONTROL[0]])
    a, b, c, d = cells
    return np.log(a * d / (b * c)), (1 / cells).sum(axis=0)


@pytest.mark.parametrize(
    ("method", "tau", "mu", "se"),
    [
        ("paule-mandel", "0.3681", "-0.3811", "0.2060"),
        ("dersimonian-laird", "0.2323", "-0.3240", "0.1540"),
    ],
)
def test_dersimonian_and_kacker_tables_3_and_4(method: str, tau: str, mu: str, se: str) -> None:
    """All four printed decimals agree."""
    y, v = odds_ratios()
    found = pool(y, v, method=method, interval="normal")

    assert like(tau, found.tau) == tau
    assert like(mu, found.mean) == mu
    assert like(se, found.standard_uncertainty) == se


@pytest.mark.parametrize(
    ("method", "tau_squared", "i_squared", "h_squared"),
    [
        ("dersimonian-laird", "0.2768", "80.4447", "5.1137"),
        ("paule-mandel", "0.1920", "74.0511", "3.8537"),  # printed as empirical Bayes
    ],
)
def test_viechtbauer_page_271(
    method: str, tau_squared: str, i_squared: str, h_squared: str
) -> None:
    """All printed decimals agree."""
    found = pool(TEN, TEN_V, method=method)

    assert like(tau_squared, found.tau_squared) == tau_squared
    assert like(i_squared, 100 * found.i_squared) == i_squared
    assert like(h_squared, found.h_squared) == h_squared


@pytest.mark.parametrize("method", ["common", "dersimonian-laird"])
def test_normand_tables_3_and_7(method: str) -> None:
    """Mean 2.9444, 95 % interval 0.3831 to 5.5058, no variance between sets.

    All printed digits agree but the last of the upper limit: 5.50575 from the printed data.
    """
    found = pool(SIX, SIX_V, method=method, interval="normal")
    low, high = found.interval

    assert like("2.9444", found.mean) == "2.9444"
    assert like("0.3831", low) == "0.3831"
    assert high == pytest.approx(5.5058, abs=1e-4)
    assert found.tau_squared == 0
    assert found.i_squared == 0


@pytest.mark.parametrize(
    ("estimates", "variances", "method", "mean", "se", "tau_squared"),
    [
        pytest.param(
            [201.533, 216.55], [0.154**2 / 6, 0.25**2 / 2], "paule-mandel",
            "209.04059", "7.50850", "112.73754", id="Paule and Mandel, second example",
        ),
        pytest.param(
            CADMIUM, CADMIUM_V, "paule-mandel",
            "26.712129", "0.171137", "0.105219", id="heat of vaporization of cadmium",
        ),
        pytest.param(
            PCB, np.square(PCB_U), "dersimonian-laird",
            "10.557083", "0.197073", "0.197837", id="PCB 105, DerSimonian-Laird",
        ),
        pytest.param(
            PCB, np.square(PCB_U), "paule-mandel",
            "10.557736", "0.191625", "0.183857", id="PCB 105, Paule-Mandel",
        ),
        pytest.param(
            FIBRE, np.square(FIBRE_S) / 2, "paule-mandel",
            "12.904237", "0.235545", "0.475622", id="fibre in apples, Paule-Mandel",
        ),
        pytest.param(
            FIBRE, np.square(FIBRE_S) / 2, "dersimonian-laird",
            "12.900545", "0.298259", "0.776536", id="fibre in apples, DerSimonian-Laird",
        ),
    ],
)  # fmt: skip
def test_interlaboratory_data(
    estimates: list[float],
    variances: list[float],
    method: str,
    mean: str,
    se: str,
    tau_squared: str,
) -> None:
    """Published data; the results were computed apart from this package, not printed there."""
    found = pool(estimates, variances, method=method, interval="normal")

    assert like(mean, found.mean) == mean
    assert like(se, found.standard_uncertainty) == se
    assert like(tau_squared, found.tau_squared) == tau_squared


def test_amlodipine_with_the_interval_of_hartung_and_knapp() -> None:
    """Eight trials of J. Hartung and G. Knapp, Stat. Med. 20 (2001) 1771-1782; data from memory.

    Printed with them, also from memory: 0.1619 (0.0986 to 0.2252) with a common effect, 0.1589
    (0.0710 to 0.2467) with that of DerSimonian and Laird. That all digits agree shows that the
    data are the printed ones. Their own interval follows here by hand from the formula of the
    paper, with t = 2.365 for 7 degrees of freedom (JCGM 100:2008, Table G.2: 2.36).
    """
    n, mean, variance = np.array([
        [46, 30, 75, 12, 32, 31, 27, 46],
        [0.2316, 0.2811, 0.1894, 0.0930, 0.1622, 0.1837, 0.6612, 0.1366],
        [0.2254, 0.1441, 0.1981, 0.1389, 0.0961, 0.1246, 0.7060, 0.1211],
    ])  # fmt: skip
    n_0, mean_0, variance_0 = np.array([
        [48, 26, 72, 12, 34, 31, 27, 47],
        [-0.0027, 0.0270, 0.0443, 0.2277, 0.0056, 0.0943, -0.0057, -0.0057],
        [0.0007, 0.1139, 0.4972, 0.0488, 0.0955, 0.1734, 0.9891, 0.1291],
    ])  # fmt: skip
    y, v = mean - mean_0, variance / n + variance_0 / n_0

    for method, printed in (
        ("common", ("0.1619", "0.0986", "0.2252")),
        ("dersimonian-laird", ("0.1589", "0.0710", "0.2467")),
    ):
        found = pool(y, v, method=method, interval="normal")
        values = (found.mean, *found.interval)
        assert tuple(like(p, x) for p, x in zip(printed, values, strict=True)) == printed
    adjusted = pool(y, v, method="dersimonian-laird", interval="hartung-knapp")
    w = 1 / (v + adjusted.tau_squared)
    middle = np.sum(w * y) / w.sum()
    half = 2.365 * np.sqrt(np.sum(w * (y - middle) ** 2) / (7 * w.sum()))
    assert adjusted.interval == pytest.approx((middle - half, middle + half), abs=2e-4)


def test_lead_in_wine_agrees_with_the_reference_value() -> None:
    """Reference value 2.99 mg/kg, expanded uncertainty 0.06; another estimator was used there."""
    for method, mean, se in (
        ("paule-mandel", "2.9685", "0.0227"),
        ("dersimonian-laird", "2.9588", "0.0174"),
    ):
        found = pool(LEAD, np.square(LEAD_U), method=method, interval="normal")
        assert like(mean, found.mean) == mean
        assert like(se, found.standard_uncertainty) == se
        assert abs(found.mean - 2.99) < 0.06


def test_results_left_out_of_the_reference_value_stand_out() -> None:
    """1.620 (u 0.044) and 7.710 (u 0.99) were excluded there: each is flagged beside the nine."""
    for value, u in ((1.620, 0.044), (7.710, 0.99)):
        found = outlying(pool([*LEAD, value], np.square([*LEAD_U, u])))
        assert found.groups == (9,)
    assert outlying(pool(LEAD, np.square(LEAD_U))).groups == ()


def test_maximum_likelihood_of_fibre_in_apples_is_near() -> None:
    """Printed by maximum likelihood: mean 12.90585, se 0.2234490, variance 0.4262122."""
    found = pool(FIBRE, np.square(FIBRE_S) / 2)

    assert found.mean == pytest.approx(12.90585, abs=0.01)
    assert found.standard_uncertainty == pytest.approx(0.2234490, rel=0.1)
    assert found.tau_squared == pytest.approx(0.4262122, rel=0.15)


@pytest.mark.parametrize("data", ["aspirin", "ten", "six", "cadmium", "pcb", "lead", "fibre"])
def test_statsmodels(data: str) -> None:
    """statsmodels.stats.meta_analysis.combine_effects agrees to 7 digits."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from statsmodels.stats.meta_analysis import combine_effects

    y, v = {
        "aspirin": odds_ratios(),
        "ten": (TEN, TEN_V),
        "six": (SIX, SIX_V),
        "cadmium": (CADMIUM, CADMIUM_V),
        "pcb": (PCB, np.square(PCB_U)),
        "lead": (LEAD, np.square(LEAD_U)),
        "fibre": (FIBRE, np.square(FIBRE_S) / 2),
    }[data]
    y, v = np.asarray(y, dtype=float), np.asarray(v, dtype=float)
    for method, theirs in (("paule-mandel", "iterated"), ("dersimonian-laird", "chi2")):
        options = {"atol": 1e-9} if theirs == "iterated" else {}
        if data == "six" and theirs == "chi2":
            continue  # a negative variance between sets is kept there; it is 0 here
        peer = combine_effects(y, v, method_re=theirs, use_t=False, **options)
        plain = pool(y, v, method=method, interval="normal")
        adjusted = pool(y, v, method=method)
        common = pool(y, v, method="common", interval="normal")

        assert plain.tau_squared == pytest.approx(peer.tau2, rel=1e-7, abs=1e-10)
        assert plain.mean == pytest.approx(peer.mean_effect_re, rel=1e-7)
        assert plain.standard_uncertainty == pytest.approx(peer.sd_eff_w_re, rel=1e-7)
        assert adjusted.standard_uncertainty == pytest.approx(peer.sd_eff_w_re_hksj, rel=1e-7)
        assert plain.q == pytest.approx(peer.q, rel=1e-9)
        assert common.mean == pytest.approx(peer.mean_effect_fe, rel=1e-9)
        assert common.standard_uncertainty == pytest.approx(peer.sd_eff_w_fe, rel=1e-9)
        assert common.i_squared == pytest.approx(max(peer.i2, 0.0), rel=1e-7, abs=1e-12)
        assert plain.weights == pytest.approx(peer.weights_rel_re, rel=1e-7)
        ours = [*common.interval, *plain.interval]
        assert ours == pytest.approx([*peer.conf_int()[0], *peer.conf_int()[1]], rel=1e-7)
        with_t = combine_effects(y, v, method_re=theirs, use_t=True, **options)
        assert [*adjusted.interval] == pytest.approx([*with_t.conf_int()[3]], rel=1e-7)
    assert set(METHODS) == {"paule-mandel", "dersimonian-laird", "common"}
