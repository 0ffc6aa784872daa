"""The page to hand in: claim, evidence and reasoning, with lines for name and date.

Or the same page with blanks in the place of all that a group shall work out itself. They can be
filled in without scripts: a browser saves what was typed with the page ("Save page as", complete or
as a single file), and :func:`stoichkit.classroom.mark_class` reads it from there.
"""

from __future__ import annotations

from collections.abc import Iterator

from ..classroom.items import CONCLUSION, MEAN, PERCENT, RATIO, Item, items_of
from ..decision.evidence import Evidence
from ..decision.sentences import (
    compound_sentence,
    look_sentence,
    ratio_sentence,
    second_opinion_sentence,
    warning_sentences,
    yield_sentence,
    yield_words,
)
from ..decision.statement import statement_of
from ..decision.trust import close_sentence, overturning_sentence
from ..experiments.record import Experiment
from ..plots.render import svg
from ..plots.result import ResultPicture
from ..text.document import Document
from ..text.parts import (
    ANSWER_GROUP,
    Bullets,
    Field,
    Part,
    Picture,
    Section,
    Strong,
    Subheading,
    Table,
)
from ..text.wording import joined, more_are, p_text, symbol
from ..uncertainty import entry
from .sections import cautions_section, limiting_sentence, ratio_text, words_section
from .worked import as_read, conclusion_paragraph, trial_ratios, worked_in_short

_MOST_TRIALS = 40
_MOST_YIELDS = 3
_WIDTH, _HEIGHT = 350.0, 410.0
"""Points of the picture: its letters are then as large on the page as those of a table."""


def hand_in_page(
    evidence: Evidence,
    *,
    name: str = "",
    date: str = "",
    title: str | None = None,
    blank: bool = False,
) -> Document:
    """Return one page to hand in, laid out as claim, evidence and reasoning.

    Parameters
    ----------
    evidence : Evidence
    name, date : str
        What stands in the two lines at the top; what is left out can be typed into the page, or
        written on paper.
    title : str, optional
        That of the experiment if left out.
    blank : bool
        Whether claim, calculated values and reasoning are left blank, to be worked out and typed
        by those who hand it in; the readings stand in the page.

    Returns
    -------
    Document
        Save it as ``.html``: one file without scripts that loads nothing, to be filled in and
        printed on A4 or Letter paper. The other forms have the same content.

    Raises
    ------
    ModelError
        If evidence or texts are none.

    Examples
    --------
    >>> from stoichkit import assess, experiments
    >>> page = hand_in_page(assess(experiments.load("copper-silver")), name="Bench 2")
    >>> [section.title for section in page.sections]
    ['Handed in by', 'Claim', 'Evidence', 'Reasoning', 'Words used', 'Cautions']
    >>> 'Name <input type="text" autocomplete="off" value="Bench 2">' in page.html()
    True
    """
    experiment = entry.record("evidence", evidence, Evidence).experiment
    entry.texts(name=name, date=date, title="" if title is None else title)
    if entry.flag("blank", blank):
        return _blank_page(experiment, name, date, title or experiment.title)
    sections = [
        Section("Claim", (Strong(statement_of(evidence).headline),)),
        Section("Evidence", tuple(_evidence(evidence))),
        Section("Reasoning", tuple(_reasoning(evidence))),
    ]
    words = words_section(sections)
    return Document(
        title or experiment.title,
        ("The readings are invented, for practice.",) if experiment.invented else (),
        (
            Section("Handed in by", (Field("Name", name), Field("Date", date))),
            *sections,
            *([words] if words else []),
            cautions_section(experiment, short=True),
        ),
    )


def _blank_page(experiment: Experiment, name: str, date: str, title: str) -> Document:
    """Return the page with the readings, and a field for everything that is worked out of them."""
    items = items_of(experiment)
    once = {item.key: item for item in items if not item.by_trial}
    working: list[Part] = []
    for trial in experiment.trials[:_MOST_TRIALS]:
        working.append(Subheading(f"Trial {trial.name}"))
        working += [_field(item, trial.name) for item in items if item.by_trial]
    if MEAN in once:
        working += [Subheading("All trials together"), _field(once[MEAN])]
    names = joined([candidate.name for candidate in experiment.candidates], "or")
    instruments = tuple(one.describe() for one in experiment.instruments.values())
    return Document(
        title,
        (
            *(("The readings are invented, for practice.",) if experiment.invented else ()),
            "Work out what is asked and type it beside its name. Then save this page from the "
            "browser, complete or as a single file, and hand the file in; or print it and write.",
        ),
        (
            Section("Handed in by", (Field("Name or code", name, ANSWER_GROUP),
                                     Field("Date", date, "date"))),
            Section("Readings", (*_readings(experiment), Bullets(instruments))),
            Section("Working", tuple(working)),
            Section(
                "Claim",
                (
                    f"What may have formed: {names}. Say what the readings do: single out X, "
                    "cannot tell X from Y, or fit none. That one is the nearest is no conclusion.",
                    _field(once[CONCLUSION]),
                    _field(once[PERCENT]),
                ),
            ),
        ),
    )  # fmt: skip


def _field(item: Item, trial: str = "") -> Field:
    """Return the field of an item."""
    label = item.words if item.key in (MEAN, CONCLUSION, PERCENT) else f"{item.key}, {item.words}"
    label = {MEAN: f"mole ratio {item.words}", CONCLUSION: "conclusion"}.get(item.key, label)
    label = item.words if item.key == RATIO else label
    unit = f", {item.unit}" if item.unit else ""
    return Field(f"{label[:1].upper()}{label[1:]}{unit}" if trial == "" else f"{label}{unit}",
                 item=item.key, trial=trial)  # fmt: skip


def _evidence(evidence: Evidence) -> Iterator[Part]:
    """Yield what was read, the ratios, the candidates, and the picture."""
    experiment = evidence.experiment
    yield from _readings(experiment, trial_ratios(evidence))
    instruments = experiment.instruments_in_words()
    if instruments:
        yield Bullets(instruments)
    yield ratio_sentence(evidence)
    yield _candidate_table(evidence)
    for one in (evidence.verdict.candidates or (evidence.nearest.name,))[:_MOST_YIELDS]:
        yield f"{yield_sentence(evidence, one)} {compound_sentence(evidence, one)}".strip()
    picture = ResultPicture.of(evidence, budget=False)
    yield Picture(svg(picture, width=_WIDTH, height=_HEIGHT), picture.alt_text)


def _readings(experiment: Experiment, ratios: tuple[str, ...] = ()) -> Iterator[Part]:
    """Yield the table of readings, how many trials it leaves out, and what all trials share."""
    yield _readings_table(experiment, ratios)
    if (more := len(experiment.trials) - _MOST_TRIALS) > 0:
        yield f"{more_are(more, 'trial')} judged but not in this table."
    if shared := _shared(experiment):
        yield f"The same in every trial: {joined(shared)}."


def _readings_table(experiment: Experiment, ratios: tuple[str, ...]) -> Table:
    """Return the readings of each trial as they were typed, with its mole ratio if it is given."""
    trials = experiment.trials
    roles = [r for r in experiment.roles() if any(t.readings.get(r.name) for t in trials)]
    made, used = symbol(experiment.produced.species), symbol(experiment.consumed.species)
    header = ("Trial", *(f"{role.name}, {role.unit}" for role in roles))
    rows = [
        (one.name, *(as_read(r, one.readings.get(r.name, ())) for r in roles)) for one in trials
    ]
    if not ratios:
        return Table(header, tuple(rows[:_MOST_TRIALS]), "Readings")
    with_ratio = [(*row, ratio) for row, ratio in zip(rows, ratios, strict=True)]
    caption = "Readings, and the mole ratio of each trial"
    return Table((*header, f"{made}/{used}"), tuple(with_ratio[:_MOST_TRIALS]), caption)


def _shared(experiment: Experiment) -> list[str]:
    """Return the readings that serve all trials, in words."""
    found = ((r, experiment.shared_readings.get(r.name, ())) for r in experiment.roles())
    return [f"{role.name} {as_read(role, texts)} {role.unit}" for role, texts in found if texts]


def _candidate_table(evidence: Evidence) -> Table:
    """Return ratio, p, standing and yield of each candidate, in the order given."""
    experiment, standings = evidence.experiment, statement_of(evidence).standings
    made, used = symbol(experiment.produced.species), symbol(experiment.consumed.species)
    cover = f"{100 * evidence.coverage:g} % coverage"
    rows = tuple(
        (
            one.name,
            ratio_text(one.candidate.ratio),
            p_text(one.p_value, evidence.coverage),
            standings[one.name].status,
            yield_words(evidence, one.name),
        )
        for one in evidence.candidates.values()
    )
    header = ("Candidate", f"{made}/{used}", "p", "Verdict", "Percent yield (what fits)")
    return Table(header, rows, f"Candidates, tested at {cover}")


def _reasoning(evidence: Evidence) -> Iterator[Part]:
    """Yield the working, what limits it, what is off, what would overturn it, the conclusion."""
    yield Subheading("From readings to mole ratio")
    yield from worked_in_short(evidence)
    yield Subheading("What limits it")
    yield limiting_sentence(evidence)
    yield evidence.diagnosis.sentence
    yield from filter(None, (look_sentence(evidence), second_opinion_sentence(evidence)))
    if warnings := warning_sentences(evidence, evidence.diagnosis):
        yield Bullets(tuple(warnings))
    if over := f"{close_sentence(evidence)} {overturning_sentence(evidence)}".strip():
        yield Subheading("What would overturn it")
        yield over
    yield Subheading("Conclusion")
    yield conclusion_paragraph(evidence)
