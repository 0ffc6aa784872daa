"""All ready labs worked out: run by the tests here, and in the browser, to be compared."""

from __future__ import annotations

CODE = """
import json
from stoichkit import assess, experiments
from stoichkit.decision.statement import verdict_sentences
from stoichkit.decision.trust import trust_sentences

def figures(name):
    lab = experiments.load(name)
    evidence = assess(lab)
    chances = evidence.chances
    return {
        "kind": str(evidence.verdict.kind),
        "single": list(evidence.verdict.candidates),
        "candidates": {
            one.candidate.name: [
                one.discrepancy_mol, one.standard_uncertainty_mol, one.p_value,
                one.relative_likelihood, one.compatible,
            ]
            for one in evidence.candidates.values()
        },
        "set": [[one.low, one.high] for one in evidence.ratio_set.intervals],
        "chances": None if chances is None else [dict(chances.by_candidate), chances.none],
        "sentences": [
            verdict_sentences(evidence), evidence.diagnosis.sentence, *trust_sentences(evidence)
        ],
    }

found = json.dumps({name: figures(name) for name in experiments.names()})
found
"""
