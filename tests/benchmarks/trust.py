"""How far a verdict can be trusted, against the verdict itself: nothing until it is asked for."""

from __future__ import annotations

from functools import partial

from stoichkit import assess, experiments
from stoichkit.decision.evidence import Evidence

from .measure import Row, best, show

LABS = ("copper-silver", "tin-oxide", "copper-plating", "acid-titration", "magnesium-gas",
        "hydrate-heating")  # fmt: skip


def asked(evidence: Evidence) -> None:
    """Work out, anew, what would overturn a verdict, and how probable each candidate is."""
    for name in ("overturned_by", "chances"):
        evidence.__dict__.pop(name, None)
        getattr(evidence, name)


def rows() -> list[Row]:
    """Time the verdict, and what is worked out when it is asked for; ms."""
    out = []
    for name in LABS:
        experiment = experiments.load(name)
        evidence = assess(experiment)
        mine, theirs = best(partial(asked, evidence), partial(assess, experiment))
        label = f"{name}: what would overturn it and its chances, asked for"
        out.append(Row(label, "assess", mine * 1e3, theirs * 1e3, 150, limit=True, unit="ms"))
    return out


def main() -> str:
    return show("How far to trust a verdict", rows())


if __name__ == "__main__":
    print(main())
