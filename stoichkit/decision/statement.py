"""What a verdict says: one record from which headline, table, picture and conclusion are written.

That of a class is made of the same parts (`stoichkit.classroom.statement`). A candidate has one
standing, and every place where a verdict is shown takes its words from here, so that none of them
can say more, or less, than another. Nothing is escaped: a renderer does that.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from ..text.wording import capitalised, joined, p_clause, p_text, species_text, symbol
from ..uncertainty import entry
from .evidence import Evidence
from .verdict import CaveatKind, Reason, Verdict, VerdictKind, evidence_grade

_MOST_NAMED = 3
_NARROW = 3.0
"""An excluded candidate less than so many times less likely than one that fits is so narrowly."""
_LESS_LIKELY = {
    "not worth more than a bare mention": "about as likely",
    "positive": "3 to 20 times less likely",
    "strong": "20 to 150 times less likely",
    "very strong": "more than 150 times less likely",
}
_TERMS = (
    (
        "p", r"\bp[ ,:;)]",
        "if a candidate is true, the chance that readings are off by at least as much as these",
    ),
    (
        "coverage", r"\bcoverage\b",
        "how safe an exclusion is: at 95 % a candidate that is true is excluded in at most 5 of "
        "100 labs",
    ),
    (
        "fits", r"\bfits?\b",
        "readings like these are not unusual if that candidate is true; that does not show that "
        "it is",
    ),
    (
        "excluded", r"\bexcluded\b",
        "readings like these would be so unusual if that candidate were true that it is ruled out",
    ),
    (
        "discrepancy", r"\b[Dd]iscrepancy\b",
        "by how much the amount made differs from what a candidate gives; near zero for the true "
        "one",
    ),
    (
        "relative likelihood", r"\b[Rr]elative likelihood\b",
        "how well a candidate foretells these readings beside the one that does so best, from 0 "
        "to 1",
    ),
    (
        "standard uncertainty", r"\bstandard uncertaint|±",
        "what stands after ±: about two in three results lie no farther than that from the truth",
    ),
    (
        "share of the variance", r"\bvariance\b",
        "how much of what is uncertain comes from one source; all of them make 100 %",
    ),
    (
        "repeatability", r"\brepeatability\b",
        "how much readings of the same thing differ from each other",
    ),
    (
        "Student t", r"\bStudent t\b",
        "a way to judge by how much the trials differ from each other, whatever the cause",
    ),
    (
        "percent yield", r"\bpercent yield\b",
        "what was measured as product, as a part of what the reactant used up can give",
    ),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Term:
    """A term of statistics or of the trade, and one sentence of help for it."""

    name: str
    help: str

    def __str__(self) -> str:
        return f"{self.name}: {self.help}."


def terms_used(text: str) -> tuple[Term, ...]:
    """Return the terms that a text uses, each with its sentence of help.

    >>> [term.name for term in terms_used("copper(I) is excluded (p = 0.01)")]
    ['p', 'excluded']
    >>> print(terms_used("p = 0.01")[0])
    p: if a candidate is true, the chance that readings are off by at least as much as these.
    """
    text = entry.text("text", text)
    return tuple(Term(name, said) for name, pattern, said in _TERMS if re.search(pattern, text))


@dataclass(frozen=True, slots=True)
class Standing:
    """What the readings let one say of one candidate, in the words used everywhere.

    Attributes
    ----------
    name : str
    status : str
        ``"fits"``, ``"excluded"``, ``"narrowly excluded"`` or ``"not judged"``.
    likelihood : str
        How likely it makes the readings beside the likeliest candidate that fits; "–" where
        nothing is compared.
    p : str
        Its p-value as a clause, such as ``"p = 0.42"``.
    p_value : float
    """

    name: str
    status: str
    likelihood: str
    p: str
    p_value: float

    @property
    def excluded(self) -> bool:
        """Whether the readings exclude it, narrowly or not."""
        return self.status.endswith("excluded")


@dataclass(frozen=True, slots=True)
class Statement:
    """A verdict in words: the same for headline, table, picture, alternative text, conclusion.

    Attributes
    ----------
    kind : VerdictKind
    lead, rest : str
        What stands before and after the names in the few words of a picture's title.
    names : tuple of str
        The candidates that the verdict names.
    headline : str
        The verdict in one to three sentences.
    claim : str
        What a conclusion claims.
    standings : mapping of str to Standing
        Of every candidate, in the order given.
    """

    kind: VerdictKind
    lead: str
    names: tuple[str, ...]
    rest: str
    headline: str
    claim: str
    standings: dict[str, Standing]

    @property
    def title(self) -> str:
        """The verdict in a few words."""
        return f"{self.lead}{joined(self.names) if self.names else ''}{self.rest}"


def statement_of(evidence: Evidence) -> Statement:
    """Return what a verdict says, in words.

    >>> from stoichkit import assess, experiments
    >>> found = statement_of(assess(experiments.load("copper-silver")))
    >>> found.title, found.standings["copper(I)"].status, found.claim
    ('Singled out: copper(II)', 'excluded', 'Of the candidates considered only copper(II) agrees
    with the readings; copper(I) is excluded.')
    """
    entry.record("evidence", evidence, Evidence)
    unless = "trials truly differ" if evidence.doubted else ""
    return said_of(evidence.verdict, _headline(evidence), standings_of(evidence), unless)


def said_of(
    verdict: Verdict, headline: str, standings: dict[str, Standing], unless: str = ""
) -> Statement:
    """Return the record of a verdict of a lab or a class; ``unless`` is what would undo it.

    >>> from stoichkit.decision.verdict import verdict_of
    >>> said_of(verdict_of([("SnO", True)], 0.95), "", {"SnO": Standing("SnO", "fits", "–", "", 1)})
    ... # doctest: +ELLIPSIS
    Statement(kind=<VerdictKind.SINGLED_OUT: 'singled_out'>, lead='Fits: ', names=('SnO',), ...
    """
    lead, names, rest = _title(verdict, tuple(standings), unless and f", unless the {unless}")
    return Statement(
        kind=verdict.kind,
        lead=lead,
        names=names,
        rest=rest,
        headline=headline,
        claim=_claim(verdict, tuple(standings)),
        standings=standings,
    )


def standings_of(evidence: Evidence) -> dict[str, Standing]:
    """Return the standing of every candidate, in the order given.

    >>> from stoichkit import assess, experiments
    >>> for one in standings_of(assess(experiments.load("copper-silver"))).values():
    ...     print(one.name, "|", one.status, "|", one.likelihood, "|", one.p)
    copper(I) | excluded | more than 150 times less likely | p < 0.0001
    copper(II) | fits | likeliest | p = 0.44
    """
    tested = list(entry.record("evidence", evidence, Evidence).candidates.values())
    judged = evidence.verdict.kind is not VerdictKind.CANNOT_BE_JUDGED
    best = max((c.relative_likelihood for c in tested if c.compatible), default=0.0)
    found = {}
    for c in tested:
        status, words = "fits" if c.compatible else "excluded", "–"
        if judged and best > 0 and len(tested) > 1:
            times = best / c.relative_likelihood if c.relative_likelihood > 0 else float("inf")
            if not c.compatible and times < _NARROW:
                status = "narrowly excluded"
            words = _LESS_LIKELY[evidence_grade(max(times, 1.0))]
            if c.compatible and c.relative_likelihood == best:
                words = "likeliest"
        clause = p_clause(c.p_value, evidence.coverage)
        status = status if judged else "not judged"
        found[c.name] = Standing(c.name, status, words, clause, c.p_value)
    return found


def _title(
    verdict: Verdict, candidates: tuple[str, ...], unless: str
) -> tuple[str, tuple[str, ...], str]:
    """Return the title of a picture: before the names, the names, and after them."""
    names, only = verdict.candidates, len(candidates) == 1
    if only:
        unless = f", the only candidate given{unless}"
    match verdict.kind:
        case VerdictKind.CANNOT_BE_JUDGED:
            about = joined(list(verdict.about[:2]) or ["a reading"])
            below = verdict.reason is Reason.BELOW_ZERO
            what = f"{about} below zero" if below else f"mass still changing at {about}"
            return f"Cannot be judged: {what}", (), ""
        case VerdictKind.NONE_FITS if only:
            return "Does not fit: ", candidates, unless
        case VerdictKind.NONE_FITS:
            return f"None of the candidates fits{unless}", (), ""
        case VerdictKind.SINGLED_OUT:
            return "Fits: " if only else "Singled out: ", names, unless
        case VerdictKind.NOT_TOLD_APART if verdict.reason is Reason.NOTHING_REACTED:
            return "Nothing shows that anything reacted; ", names, " alone fits"
        case VerdictKind.NOT_TOLD_APART:
            return "Not told apart: ", names, unless


def verdict_sentences(evidence: Evidence) -> str:
    """Say what the readings let one say about the candidates, and which they exclude.

    >>> from stoichkit import assess, experiments
    >>> verdict_sentences(assess(experiments.load("copper-silver")))
    'These readings single out copper(II). Copper(I) is excluded (p < 0.0001).'
    """
    return _headline(entry.record("evidence", evidence, Evidence))


def _headline(evidence: Evidence) -> str:
    verdict, all_names = evidence.verdict, list(evidence.candidates)
    names = list(verdict.candidates)
    if verdict.reason is not None:
        return reason_sentences(verdict, evidence)
    doubt, nearest = _doubt(evidence), evidence.nearest
    clause = p_clause(nearest.p_value, evidence.coverage)
    if verdict.kind is VerdictKind.NONE_FITS:
        more = ""
        if nothing_shown(evidence):
            made = symbol(evidence.experiment.produced.species)
            more = (
                f" These readings do not show that anything reacted, since {made} is not told "
                "apart from zero."
            )
        if len(all_names) == 1:
            return f"The only candidate given, {nearest.name}, does not fit ({clause}).{more}"
        first = doubt or "None of the candidates fits."
        return f"{first} The nearest is {nearest.name} ({clause}).{more}"
    if len(all_names) == 1:
        return (
            f"These readings fit {names[0]} ({clause}). It is the only candidate given, so "
            "nothing could be excluded: add the candidates it is to be told from."
        )
    standings = standings_of(evidence)
    if doubt:
        return f"{doubt} {excluded_sentence(standings, evidence.coverage, 'By the readings, ')}"
    first = f"These readings {concluded(names, len(all_names))}."
    return f"{first} {excluded_sentence(standings, evidence.coverage)}"


def _claim(verdict: Verdict, candidates: tuple[str, ...]) -> str:
    """Return what a conclusion claims; nothing where nothing can be judged."""
    names = list(verdict.candidates)
    out = [name for name in candidates if name not in names]
    if verdict.kind is VerdictKind.CANNOT_BE_JUDGED:
        return "No product is claimed and none is excluded."
    if verdict.kind is VerdictKind.NONE_FITS:
        if len(candidates) == 1:
            return f"The only candidate considered, {out[0]}, does not agree with the readings."
        return "None of the candidates considered agrees with the readings."
    if len(candidates) == 1:
        return f"{capitalised(names[0])}, the only candidate considered, agrees with the readings."
    others = joined(out) if 0 < len(out) <= _MOST_NAMED else f"the other {len(out)}"
    if verdict.reason is Reason.NOTHING_REACTED:
        return (
            f"Of the candidates considered only {names[0]} agrees with the readings, but nothing "
            "shows that anything reacted."
        )
    verb = "is" if len(out) == 1 else "are"
    if verdict.kind is VerdictKind.SINGLED_OUT:
        return (
            f"Of the candidates considered only {names[0]} agrees with the readings; {others} "
            f"{verb} excluded."
        )
    told = f"The readings agree with {joined(names)} and do not tell them apart."
    return f"{told} {capitalised(f'{others} {verb} excluded.')}" if out else told


def nothing_shown(evidence: Evidence) -> bool:
    """Return whether the warnings say that nothing shows that anything reacted.

    >>> from stoichkit import assess, experiments
    >>> nothing_shown(assess(experiments.load("copper-silver")))
    False
    """
    warnings = entry.record("evidence", evidence, Evidence).warnings
    return any(one.kind is CaveatKind.NOTHING_SHOWN for one in warnings)


def _doubt(evidence: Evidence) -> str:
    """Say both opinions where the scatter of the trials alone leaves more open; "" elsewhere."""
    second = evidence.second_opinion
    if second is None or not evidence.doubted:
        return ""
    total = len(evidence.candidates)
    return (
        f"If the trials differ by nothing but their readings, these "
        f"{concluded(evidence.verdict.candidates, total)}; judged by the scatter of the trials "
        f"alone, they {concluded(second.candidates, total)}."
    )


def concluded(names: Sequence[str], total: int, *, one: bool = False) -> str:
    """Say what readings do, or ``one`` lab does, that leave these of so many candidates.

    >>> concluded(["SnO", "SnO2"], 3), concluded([], 3)
    ('cannot tell SnO from SnO2', 'fit none of the candidates')
    >>> concluded(["SnO"], 3, one=True)
    'singles out SnO'
    """
    if not names:
        return "fits no candidate" if one else "fit none of the candidates"
    if len(names) == 1:
        return f"{'single' if total > 1 else 'fit'}{'s' * one}{' out' * (total > 1)} {names[0]}"
    if len(names) == 2:
        return f"cannot tell {names[0]} from {names[1]}"
    return f"cannot tell {joined(list(names))} apart"


def would(found: str, *, still: bool = False) -> str:
    """Say that other readings would conclude something, in the words of what they conclude.

    >>> would("single out SnO"), would("cannot tell SnO from SnO2", still=True)
    ('would single out SnO', 'could still not tell SnO from SnO2')
    """
    again = "still " * still
    if found.startswith("cannot"):
        return f"could {again}not{found.removeprefix('cannot')}"
    return f"would {again}{found}"


def reason_sentences(verdict: Verdict, evidence: Evidence | None = None) -> str:
    """Say why a verdict is not simply what the compatible candidates make it.

    >>> from stoichkit.decision.verdict import verdict_of
    >>> found = verdict_of([("iron(II)", True)], 0.95, reason=Reason.BELOW_ZERO, about=("Fe",))
    >>> print(reason_sentences(found))
    These readings cannot be judged: the amount of Fe comes out below zero, beyond what the
    instruments explain. Check which reading is subtracted from which.
    """
    about = joined(list(verdict.about) or ["a reading"])
    if verdict.reason is Reason.BELOW_ZERO:
        return (
            f"These readings cannot be judged: {below_zero_clause(verdict)}. Check which reading "
            "is subtracted from which."
        )
    if verdict.reason is Reason.NOTHING_REACTED:
        (name,) = verdict.candidates
        standings = {} if evidence is None else standings_of(evidence)
        out = any(one.excluded for one in standings.values())
        more = f" {excluded_sentence(standings, verdict.coverage)}" if out else ""
        return (
            "These readings do not show that anything reacted: they could be those of a lab in "
            f"which nothing did. Of the candidates only {name} fits.{more}"
        )
    still = f"These readings cannot be judged: the mass was still changing at {about}"
    if evidence is not None and not any(c.compatible for c in evidence.candidates.values()):
        still += ". As it stands none of the candidates fits, but that does not count yet"
    else:
        still += ", and what is left to go would change which candidates fit"
    return (
        f"{still}: it may not have reached its end, or may have passed it (decomposition, "
        "spattering). Heat, cool and weigh again until two weighings agree."
    )


def below_zero_clause(verdict: Verdict) -> str:
    """Say, as a part of a sentence, which amounts are below zero.

    >>> from stoichkit.decision.verdict import verdict_of
    >>> below_zero_clause(verdict_of([], 0.95, reason=Reason.BELOW_ZERO, about=("Cu", "H2O")))
    'the amounts of Cu and H₂O come out below zero, beyond what the instruments explain'
    """
    pieces = [one.partition(" ") for one in verdict.about]  # a trial may stand after the species
    about = joined(
        [species_text(name) + gap + trial for name, gap, trial in pieces] or ["a substance"]
    )
    comes = f"amounts of {about} come" if len(verdict.about) > 1 else f"amount of {about} comes"
    return f"the {comes} out below zero, beyond what the instruments explain"


def excluded_sentence(standings: dict[str, Standing], coverage: float, lead: str = "") -> str:
    """Say which candidates are excluded; ``lead`` begins the sentence.

    >>> excluded_sentence({"SnO": Standing("SnO", "excluded", "–", "p = 0.01", 0.01)}, 0.95)
    'SnO is excluded (p = 0.01).'
    """
    first = str if lead else capitalised
    excluded = [one for one in standings.values() if one.excluded]
    if not excluded:
        return "No candidate is excluded."
    narrow = [one.name for one in excluded if one.status.startswith("narrowly")]
    if len(excluded) <= _MOST_NAMED:
        clauses = [f"{one.p}{', narrowly' if one.name in narrow else ''}" for one in excluded]
        if len(excluded) == 1:
            return lead + first(f"{excluded[0].name} is excluded ({clauses[0]}).")
        named = [f"{one.name} ({clause})" for one, clause in zip(excluded, clauses, strict=True)]
        return lead + first(f"{joined(named)} are excluded.")
    largest = p_text(max(one.p_value for one in excluded), coverage)
    bound = f"each with p {largest}" if largest.startswith("<") else f"p at most {largest}"
    closely = f", {joined(narrow)} narrowly" if narrow else ""
    return lead + first(f"the other {len(excluded)} candidates are excluded ({bound}{closely}).")
