"""How probable each candidate is: by hand, against scipy, and what an experiment states before."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import integrate, stats

from stoichkit import assess, experiments, load_experiment, parse_experiment
from stoichkit.decision.chances import chances_of
from stoichkit.decision.trust import chance_sentence, chance_table, out_of, prior_sentence
from stoichkit.errors import ExperimentError
from stoichkit.experiments.parts import Prior
from stoichkit.measurement.displays import Balance

from ..labs import REVERSED, lab

CLOSE = [(3.12, 2.65, 0.71, 1.98), (2.95, 2.48, 0.70, 1.96)]
"""About 1.57 silver for each copper, on a balance to 0.1 g."""


def rough(**fields):
    return lab(CLOSE, Balance(readability_g=0.01, repeatability_g=0.15), **fields)


def test_two_candidates_by_hand():
    # 0.95 / 2 × 6 = 2.85 and 0.95 / 2 × 2 = 0.95 for the candidates, 0.05 × 4 = 0.2 for none
    found = chances_of({"a": 6.0, "b": 2.0}, {"a": 1.0, "b": 2.0}, lambda _: 4.0, (1.4, 0.2))
    assert found.by_candidate == pytest.approx({"a": 2.85 / 4, "b": 0.95 / 4})
    assert found.none == pytest.approx(0.2 / 4)


def test_against_a_direct_integration():
    """Normal errors, two trials: likelihoods by scipy, none of them by its adaptive integration."""
    found = assess(rough())
    made, used = (1.27 + 1.26) / 2 / 107.8682, 0.47 / 63.546
    # four readings a trial, two trials; rounding of 0.01 g adds 0.01²/12 to each
    u = 0.15 * math.sqrt(1 + (0.01 / 0.15) ** 2 / 12)
    u_made, u_used = (u * math.sqrt(2 / 2) / m for m in (107.8682, 63.546))

    def density(ratio):
        spread = math.hypot(u_made, ratio * u_used)
        return stats.norm.pdf(made - ratio * used, scale=spread)

    def of_log(x):
        return density(math.exp(x))

    other = integrate.quad(of_log, math.log(0.5), math.log(4.0), epsabs=0, epsrel=1e-9)[0]
    parts = [0.475 * density(1), 0.475 * density(2), 0.05 * other / math.log(8)]
    one, two, none = (part / sum(parts) for part in parts)
    assert found.chances.by_candidate["copper(I)"] == pytest.approx(one, rel=2e-3)
    assert found.chances.by_candidate["copper(II)"] == pytest.approx(two, rel=2e-3)
    assert found.chances.none == pytest.approx(none, rel=2e-3)


def test_none_with_a_recovery_is_the_same_as_drawn_at_random():
    """A true ratio, evenly on a logarithmic scale, times a recovery: 200,000 of them."""
    rng = np.random.default_rng(3)
    recovery, ratios = (0.6, 1.0), {"a": 1.0, "b": 2.0}
    measured = np.exp(rng.uniform(math.log(0.5), math.log(4.0), 200_000))
    measured *= rng.uniform(*recovery, 200_000)
    expected = 0.05 * stats.norm.pdf(measured, 0.5, 0.1).mean()  # near the lower end
    found = chances_of(
        dict.fromkeys(ratios, 1.0),
        ratios,
        lambda r: stats.norm.pdf(r, 0.5, 0.1),
        (0.5, 0.8),
        recovery,
    )
    assert found.none == pytest.approx(expected / (expected + 0.95), rel=0.02)


def test_they_add_up_and_are_hidden_where_nothing_can_be_judged():
    for name in experiments.names():
        found = assess(experiments.load(name)).chances
        assert math.fsum([*found.by_candidate.values(), found.none]) == pytest.approx(1)
    nothing = assess(lab(REVERSED))
    assert nothing.chances is None
    assert chance_table(nothing) is None
    assert chance_sentence(nothing) == prior_sentence(nothing) == ""


def test_odds_follow_the_weights_and_the_verdict_does_not():
    plain, other = assess(rough()), assess(rough(prior=Prior({"copper(II)": 3}, none=0)))
    odds, changed = (
        e.chances.by_candidate["copper(II)"] / e.chances.by_candidate["copper(I)"]
        for e in (plain, other)
    )
    assert changed == pytest.approx(3 * odds)
    assert other.chances.none == 0
    assert other.verdict == plain.verdict
    zero = assess(rough(prior=Prior({"copper(I)": 0})))
    assert zero.chances.by_candidate["copper(I)"] == 0


def test_words_say_which_prior_was_used():
    stated = assess(rough(prior=Prior({"copper(II)": 3}, none=0.2)))
    assert prior_sentence(stated) == (
        "Before the readings the experiment states 20 % for copper(I), 60 % for copper(II) and "
        "20 % for none of them."
    )
    assert chance_table(stated).rows[0][:2] == ("copper(I)", "20 %")
    only = assess(rough(prior=Prior(none=0.2)))
    assert prior_sentence(only).endswith("20 % for none of them, as the experiment states.")


def test_words_for_none_and_for_numbers():
    wet = assess(lab([(3.12, 2.65, 0.71, 2.70)] * 2, Balance(readability_g=0.01)))
    assert wet.verdict.kind.value == "none_fits"
    assert "would be right to say that none" in chance_sentence(wet)
    for chance in np.linspace(0.001, 0.999, 400):
        words = out_of(float(chance)).removeprefix("about ").replace(",", "")
        part, whole = (int(n) for n in words.split(" in "))
        assert abs(part / whole - chance) <= max(min(chance, 1 - chance) / 8, 0.0005) + 1e-12


def test_the_prior_is_written_and_read():
    stated = rough(prior=Prior({"copper(II)": 3, "copper(I)": 0.5}, none=0.02))
    assert parse_experiment(stated.to_toml()) == stated
    assert type(stated).from_json(stated.to_json()) == stated
    assert "[prior.weights]" in stated.to_toml()
    assert rough().prior is None
    assert "prior" not in rough().to_toml()


def test_other_candidates_leave_out_weights_of_those_gone():
    stated = rough(prior=Prior({"copper(II)": 3}, none=0.02))
    only = stated.with_candidates(stated.candidates[:1])
    assert only.prior == Prior(none=0.02)


@pytest.mark.parametrize(
    ("table", "field", "given", "allowed"),
    [
        ('[prior.weights]\n"copper(III)" = 2', 'prior.weights."copper(III)"', "copper(III)",
         "copper(I), copper(II)"),
        ('[prior.weights]\n"copper(I)" = -1', 'prior.weights."copper(I)"', "-1", "0 or more"),
        ('[prior.weights]\n"copper(I)" = 0\n"copper(II)" = 0', "prior.weights", "copper(I) = 0",
         "above 0"),
        ("[prior]\nnone = 1", "prior.none", "1", "from 0 to below 1"),
        ("[prior]\nnone = -0.1", "prior.none", "-0.1", "from 0 to below 1"),
        ("[prior]\nweights = 3", "prior.weights", "3", "name of a candidate"),
        ("[prior]\nnon = 0.1", "prior.non", "", "none, weights"),
        ("prior = 3", "prior", "3", "none, weights"),
    ],
)  # fmt: skip
def test_a_faulty_prior_is_refused_with_its_place(tmp_path, table, field, given, allowed):
    text = rough().to_toml()
    text = f"{table}\n{text}" if table.startswith("prior") else f"{text}\n{table}\n"
    path = tmp_path / "mine.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ExperimentError) as caught:
        load_experiment(path)
    error = caught.value
    assert error.field.startswith(field)
    assert "mine.toml" in str(error)
    assert given in str(error.given or "")
    assert allowed in error.allowed
    assert error.fix


def test_a_prior_is_no_number_and_fits_its_candidates():
    with pytest.raises(ExperimentError, match="not a prior"):
        rough(prior=0.05)
    with pytest.raises(ExperimentError, match="no such candidate"):
        replace(rough(), prior=Prior({"gold": 1}))
