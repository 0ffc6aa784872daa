"""The screen “Readings”: what was weighed, the sheet, the answer beside it, the picture.

What is shown a moment after the verdict is imported then.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import partial

from ...decision.evidence import Evidence
from ...decision.sentences import (
    allowed_words,
    asked_again_sentence,
    assumption_sentences,
    caveat_sentence,
    compound_sentence,
    look_sentence,
    ratio_sentence,
    second_opinion_sentence,
    warning_sentences,
    yield_sentence,
)
from ...decision.statement import statement_of, terms_used
from ...decision.verdict import CaveatKind, VerdictKind
from ...decision.yields import yield_for
from ...plots.decision import DecisionPicture
from ...plots.writing import shown_species
from ...text.wording import plus_minus, reaction_text
from ...uncertainty.sources import nominal, standard_uncertainty
from ..state.form import ALL_TRIALS, Form, Place
from ..state.lab import LabState
from ..state.whatif import STEPS_G, step_text
from .blocks import (
    Block,
    Builder,
    answer_card,
    bullets,
    candidate_list,
    candidate_row,
    cell,
    details,
    heading,
    plain_table,
    row,
    words,
)
from .cautions import cautions_blocks
from .drawn import Drawn, spot
from .frame import Frame, Region
from .own import own_blocks

_MOST_EQUATIONS = 6
_HINT = (
    "Point at a trial to see its amounts; drag it, or move it with the arrow keys, to ask what if."
)
_MOST_RATIOS = 60


class ReadingsScreen:
    """Readings, verdict and picture of a lab."""

    key, title = "readings", "Readings"

    def __init__(self, lab: LabState, frame: Frame | None = None) -> None:
        self.lab, self.frame = lab, frame
        self._amounts = Drawn("picture", (250.0, 285.0), share=0.62, file="amounts", most_px=1200)
        self._picture: tuple[Evidence, DecisionPicture] | None = None

    def regions(self) -> Sequence[Region]:
        """Return the regions, in their order."""
        left = (
            Region("lab", "left", self.what_was_weighed),
            Region("sheet", "left", self.sheet),
            Region("chips", "left", self.settings),
            Region("slips", "left", self.slips, 2),
            Region("cautions", "left", self.cautions, 2),
        )
        own = self.lab.own.open  # its readings come when it is known what is weighed
        return (
            *(left[:1] if own else left),
            Region("verdict", "right", self.verdict),
            Region("candidates", "right", self.candidates, 1),
            Region("picture", "right", self.picture, 1),
            Region("step", "right", self.step),
            Region("could", "right", self.could, 2),
            Region("why", "right", self.why, 2),
            Region("more", "right", self.more, 2),
        )

    # What was weighed

    def what_was_weighed(self, make: Builder) -> list[Block]:
        """Show the lab in a sentence, the candidates, and their equations."""
        if self.lab.own.open:
            return own_blocks(make, self.lab.own)
        lab, state = self.lab.readings.base, self.lab.readings
        consumed = shown_species(lab.consumed.species)
        produced = shown_species(lab.produced.species)
        field = make.field(
            "candidates",
            "Candidates, one a line",
            state.form.candidates,
            state.set_candidates,
            refusal=state.outcome.refusals.get(Place("candidates")),
            lines=max(2, min(8, state.form.candidates.count("\n") + 1)),
            note="name = ratio n(produced)/n(consumed), an equation, or a formula",
        )
        blocks = [
            heading("What was weighed"),
            words(f"{consumed} was used up; it made {produced}. Which of these formed?"),
            field,
        ]
        written = [f"{c.name}: {reaction_text(c.equation)}" for c in lab.candidates if c.equation]
        if written:
            blocks.append(words("  ·  ".join(written[:_MOST_EQUATIONS]), "note"))
        if self.lab.own.used:
            change = make.button("own:change", "Change what was weighed", self.lab.own.change)
            blocks.append(row(change))
        return blocks

    # The sheet

    def sheet(self, make: Builder) -> list[Block]:
        """Show the readings as a sheet, and those that serve all trials above it."""
        state, form = self.lab.readings, self.lab.whatif.form
        refusals = state.outcome.refusals
        marks, typed = self.lab.whatif.marks, state.form
        suspects = self._suspects() if not refusals else {}

        def one(trial: int, name: str, text: str, lines: int) -> Block:
            what_if = (trial, name) in marks
            texts = typed.shared if trial == ALL_TRIALS else typed.trials[trial].readings
            note = suspects.get((trial, name), "")
            refusal = refusals.get(Place("reading", trial, name))
            return cell(
                text,
                refusal=refusal if text.strip() else None,  # an empty one is not wrong yet
                mark="what if" if what_if else "suspect" if note else "",
                note=f"typed: {texts[name]}" if what_if else note,
                lines=lines,
            )

        blocks: list[Block] = []
        shared = [r for r in form.rows if r.shared]
        if shared:
            cells = [one(ALL_TRIALS, r.name, form.shared[r.name], int(r.several)) for r in shared]
            blocks.append(
                make.sheet(
                    "shared",
                    "Readings that serve all trials",
                    [{"label": r.name, "unit": r.unit} for r in shared],
                    [{"name": "all trials", "cells": cells, "result": "", "refusal": ""}],
                    lambda _, column, texts: state.set_reading(
                        ALL_TRIALS, shared[column].name, texts[0][0] if texts[0] else ""
                    ),
                    grows=False,
                )
            )
        rows = [r for r in form.rows if not r.shared]
        ratios = self._ratios()
        lines = []
        for i, trial in enumerate(form.trials):
            refusal = refusals.get(Place("trial", i))
            lines.append(
                {
                    "name": trial.name,
                    "cells": [one(i, r.name, trial.readings[r.name], int(r.several)) for r in rows],
                    "result": "" if refusal else ratios.get(trial.name, ""),
                    "refusal": "" if refusal is None else str(refusal),
                }
            )
        units = {r.unit for r in rows if r.unit}
        same = f", {next(iter(units))}" if len(units) == 1 else ""
        made, used = shown_species(state.base.produced.species), shown_species(
            state.base.consumed.species
        )  # fmt: skip
        blocks += [
            heading(f"Readings{same}"),
            words(
                "As the display shows them, with all zeros; a decimal comma will do. A block from "
                "a spreadsheet can be pasted. Repeated weighings of one thing: 21.26; 21.17",
                "note",
            ),
            make.sheet(
                "sheet",
                "Readings",
                [{"label": r.heading, "unit": "" if same else r.unit} for r in rows],
                lines,
                lambda i, column, texts: state.set_cells(i, column, texts),
                renamed=state.rename_trial,
                result=f"n({made})/n({used})",
            ),
            row(
                make.button("add", "Add a trial", state.add_trial),
                make.button("drop", "Remove the last", state.remove_trial),
            ),
        ]
        left_out = state.outcome.left_out
        if left_out and not refusals:
            blocks.append(words(f"Nothing is typed yet for {', '.join(left_out)}.", "note"))
        return blocks

    def _ratios(self) -> dict[str, str]:
        """Return the mole ratio of each trial with its standard uncertainty."""
        evidence = self.lab.evidence
        if evidence is None or self.lab.waits:
            return {}
        found: dict[str, str] = {}
        for trial, (a, b) in zip(evidence.experiment.trials, evidence.amounts, strict=True):
            if len(found) >= _MOST_RATIOS or not nominal(a):
                continue
            ratio = b / a
            u = standard_uncertainty(ratio)
            if u < abs(nominal(ratio)):
                found[trial.name] = plus_minus(nominal(ratio), u)
            else:
                found[trial.name] = "not told from zero"
        return found

    def _suspects(self) -> dict[tuple[int, str], str]:
        """Return the cells that a slip names, with what it says; nothing that was not found yet."""
        names = {t.name: i for i, t in enumerate(self.lab.readings.form.trials)}
        return {
            (names.get(slip.trial, ALL_TRIALS), name): f"may be {' and '.join(slip.corrected)}"
            if slip.corrected
            else slip.kind.value
            for slip in self.lab.slips_known
            for name in slip.readings
        }

    # Settings that open in place

    def settings(self, make: Builder) -> list[Block]:
        """Show instruments, recovery, variation and coverage as settings that open in place."""
        state = self.lab.readings
        form, refusals = state.form, state.outcome.refusals
        blocks: list[Block] = []
        for name, texts in form.balances.items():
            places = [Place(part, name=name) for part in ("readability", "repeatability")]
            repeats = texts.repeatability_g.strip()
            stated = f"repeats to {repeats} g" if repeats else "repeatability not stated"
            blocks.append(
                make.chip(
                    f"chip:{name}",
                    name.capitalize(),
                    f"reads to {texts.readability_g.strip() or '?'} g, {stated}",
                    [
                        make.field(
                            f"{name}:step", "Display step, g", texts.readability_g,
                            partial(self._step, name),
                            refusal=refusals.get(places[0]), width=8,
                        ),
                        make.field(
                            f"{name}:repeat", "Repeatability, g", texts.repeatability_g,
                            partial(self._repeat, name),
                            refusal=refusals.get(places[1]), width=8,
                            note="empty: not stated, half a step is assumed",
                        ),
                        *self._another(make, name, first=name == next(iter(form.balances))),
                    ],
                    refused=any(place in refusals for place in places),
                )
            )  # fmt: skip
        blocks += [self._recovery(make, form), self._variation(make, form)]
        blocks += [self._coverage(make, form), self._title(make, form)]
        others = [
            one.describe()
            for name, one in state.experiment.instruments.items()
            if name not in form.balances
        ]
        found = [row(*blocks)]
        if others:
            found.append(details("Other instruments", [bullets(others)]))
        return found

    def _another(self, make: Builder, name: str, *, first: bool) -> list[Block]:
        """Offer another balance for some of the trials, or to remove one that was added."""
        state = self.lab.readings
        if first and state.can_add_balance:
            add = make.button(f"{name}:another", "Another balance", state.add_balance, look="quiet")
            return [add]
        if name in state.added_balances:
            gone = partial(state.remove_balance, name)
            return [make.button(f"{name}:gone", f"Remove {name}", gone, look="quiet")]
        return []

    def _step(self, name: str, text: str) -> None:
        self.lab.readings.set_balance(name, readability_g=text)

    def _repeat(self, name: str, text: str) -> None:
        self.lab.readings.set_balance(name, repeatability_g=text)

    def _recovery(self, make: Builder, form: Form) -> Block:
        state, refusals = self.lab.readings, self.lab.readings.outcome.refusals
        low, high = form.recovery_low.strip(), form.recovery_high.strip()
        text = "all recovered" if low == high == "1" else f"{low} to {high} recovered"
        places = [Place("recovery_low"), Place("recovery_high")]
        return make.chip(
            "chip:recovery",
            "Product",
            text,
            [
                make.field(
                    "recovery:low", "Least fraction recovered", form.recovery_low,
                    lambda text: state.set_recovery(low=text), refusal=refusals.get(places[0]),
                    width=8,
                ),
                make.field(
                    "recovery:high", "Largest fraction", form.recovery_high,
                    lambda text: state.set_recovery(high=text), refusal=refusals.get(places[1]),
                    width=8, note="above 1: water or residue weighed with it",
                ),
            ],
            refused=any(place in refusals for place in places),
        )  # fmt: skip

    def _variation(self, make: Builder, form: Form) -> Block:
        refusal = self.lab.readings.outcome.refusals.get(Place("variation"))
        text = form.variation.strip()
        shown = "alike but for the readings"
        if text.casefold() == "unknown":
            shown = "may differ, by how much is unknown"
        elif text:
            shown = f"differ by {text}"
        field = make.field(
            "variation", "By how much trials truly differ", form.variation,
            self.lab.readings.set_variation, refusal=refusal, width=16,
            note="empty: not at all; 1.5 %; 1.5 % from 8 trials; unknown",
        )  # fmt: skip
        return make.chip("chip:variation", "Trials", shown, [field], refused=refusal is not None)

    def _coverage(self, make: Builder, form: Form) -> Block:
        refusal = self.lab.readings.outcome.refusals.get(Place("coverage"))
        field = make.field(
            "coverage", "Coverage probability", form.coverage, self.lab.readings.set_coverage,
            refusal=refusal, width=8, note="0.95 or 95 %",
        )  # fmt: skip
        return make.chip(
            "chip:coverage", "Coverage", form.coverage.strip(), [field],
            refused=refusal is not None,
        )  # fmt: skip

    def _title(self, make: Builder, form: Form) -> Block:
        state = self.lab.readings
        refusal = state.outcome.refusals.get(Place("title"))
        blocks = [
            make.field("title", "Title", form.title, state.set_title, refusal=refusal, width=40),
            make.tick("invented", "The readings are invented", form.invented, state.set_invented),
        ]
        about = " ".join(state.base.about.split())
        if about:
            blocks.append(words(about, "note"))
        return make.chip("chip:title", "About", "title and scenario", blocks,
                         refused=refusal is not None)  # fmt: skip

    # The answer

    def verdict(self, make: Builder) -> list[Block]:
        """Show the verdict and what it waits for."""
        evidence, tried = self.lab.evidence, self.lab.whatif
        outcome = self.lab.readings.outcome
        more: list[Block] = []
        if evidence is None:
            headline, look = "There is no verdict yet.", "none"
        else:
            headline = statement_of(evidence).headline
            unjudged = evidence.verdict.kind is VerdictKind.CANNOT_BE_JUDGED
            look = "unjudged" if unjudged else "current"
        for place, refusal in list(outcome.refusals.items())[:1]:
            look = "waits"
            others = len(outcome.refusals) - 1
            rest = f" {others} more cannot be used." if others else ""
            old = " Below is the answer from before that." if evidence else ""
            text = f"Waits for {self.lab.readings.describe(place)}. {refusal}{rest}{old}"
            more.append(words(text, "refusal"))
        if said := tried.sentence:
            look = "what if"
            more.insert(0, words(said, "strong"))
            more.append(row(make.button("back", "Back to the readings as typed", tried.back)))
        if evidence is not None and not outcome.refusals:
            cover = f"Of the candidates listed; {100 * evidence.coverage:g} % coverage."
            extra = [
                cover,
                look_sentence(evidence),
                second_opinion_sentence(evidence),
                asked_again_sentence(evidence, self.lab.readings.earlier_looks),
            ]
            more.append(words(" ".join(filter(None, extra)), "note"))
        return [answer_card(headline, look, more)]

    def candidates(self, make: Builder) -> list[Block]:
        """Show the candidates as rows: how well each fits, and the yield if it is true."""
        del make
        evidence = self.lab.evidence
        if evidence is None:
            return []
        standings = statement_of(evidence).standings
        rows = [
            candidate_row(
                one, fits=not one.excluded, percent_yield=_short_yield(evidence, one.name)
            )
            for one in standings.values()
        ]
        return [candidate_list(rows, stale=bool(self.lab.waits))]

    def picture(self, make: Builder) -> list[Block]:
        """Show the amounts plane, each trial as the cell that its displays cannot tell apart."""
        evidence = self.lab.evidence
        if evidence is None:
            return []
        if self._picture is None or self._picture[0] is not evidence:
            self._picture = evidence, DecisionPicture.of(evidence, cells=True)
        found = self._picture[1]
        drags = len(found.trials) <= _MOST_RATIOS
        spots = [
            spot(trial.name, f"{trial.name}: {one}", one.place, drag=drags)
            for trial, one in zip(evidence.experiment.trials, found.trials, strict=True)
        ]
        if found.mean is not None:
            spots.append(spot("", f"mean: {found.mean}", found.mean.place))
        block = self._amounts.block(
            make, found, self.frame, self.lab.readings.name or "lab", spots=spots,
            moved=self._moved, hint=_HINT, title=evidence.experiment.title,
        )  # fmt: skip
        return [{**block, "stale": bool(self.lab.waits)}]

    def _moved(self, trial: str, x: float, y: float) -> None:
        self.lab.whatif.move(trial, x, y)

    def step(self, make: Builder) -> list[Block]:
        """Show the control for the step of the balance."""
        tried, own = self.lab.whatif, self.lab.whatif.own_step
        if math.isnan(own) or self.lab.evidence is None:
            return []
        steps = [step_text(step) for step in STEPS_G]
        mine = step_text(own)
        if mine not in steps:
            steps = sorted({*steps, mine}, key=float)
        place = steps.index(tried.tried.step or mine)
        shown = [f"{step} g{' (mine)' if step == mine else ''}" for step in steps]

        def moved(to: int) -> None:
            tried.set_step(steps[to] if steps[to] != mine else "")

        return [
            make.step(
                "step", "What if the balance read to", place, shown, moved, own=steps.index(mine)
            )
        ]

    def could(self, make: Builder) -> list[Block]:
        """Say what a finer balance could have told."""
        del make
        said = self.lab.whatif.could_tell()
        return [words(said, "note")] if said else []

    # Why, and how far it can be trusted

    def why(self, make: Builder) -> list[Block]:
        """Say in one line what limits the answer, in one what would overturn it."""
        from ...decision.trust import trust_sentences

        del make
        evidence = self.lab.evidence
        if evidence is None or self.lab.waits:
            return []
        found = [words(evidence.diagnosis.sentence, "diagnosis")]
        found += [words(text, "trust") for text in trust_sentences(evidence)]
        warnings = warning_sentences(evidence, evidence.diagnosis)
        return found + [words(text, "warning") for text in warnings]

    def more(self, make: Builder) -> list[Block]:
        """Show what stands behind it, for those who ask."""
        from ...decision.trust import chance_table, fault_table, prior_sentence
        from ...reports.sections import budget_table, candidate_table, limiting_sentence

        evidence = self.lab.evidence
        if evidence is None or self.lab.waits:
            return []
        table = candidate_table(evidence)
        said = " ".join([ratio_sentence(evidence), allowed_words(evidence)])
        terms = [str(term) for term in terms_used(" ".join((*table.header, said, "p, fits")))]
        yields = [
            f"{yield_sentence(evidence, name)} {compound_sentence(evidence, name)}".strip()
            for name in evidence.verdict.candidates or (evidence.nearest.name,)
        ]
        trust: list[Block] = []
        if chances := chance_table(evidence):
            trust = [
                plain_table(fault_table(evidence), make),
                plain_table(chances, make),
                words(prior_sentence(evidence), "note"),
            ]
        assumed = [
            caveat_sentence(one, evidence)
            for one in evidence.warnings
            if one.kind is CaveatKind.ASSUMPTION
        ]
        blocks = [
            details(
                "Figures behind it",
                [plain_table(table, make), words(ratio_sentence(evidence)), bullets(yields),
                 bullets(terms)],
            ),
        ]  # fmt: skip
        if trust:
            blocks.append(details("What would overturn it, and how probable each is", trust))
        if evidence.budget:
            blocks.append(
                details(
                    "Which reading limits it",
                    [words(limiting_sentence(evidence)), plain_table(budget_table(evidence), make)],
                )
            )
        blocks.append(
            details("What it assumes", [bullets([*assumed, *assumption_sentences(evidence)])])
        )
        return blocks

    def slips(self, make: Builder) -> list[Block]:
        """Name the readings that look mistyped, with a look at them corrected."""
        from ...diagnosis.sentences import slip_sentence

        state = self.lab.readings
        if self.lab.waits or state.evidence is None:
            return []
        lab = state.experiment
        found = self.lab.slips()
        blocks: list[Block] = []
        for i, slip in enumerate(found[:6]):
            said = words(slip_sentence(slip, trials=len(lab.trials)), "warning")
            blocks.append(said)
            if slip.corrected:
                show = partial(self.lab.whatif.show_corrected, slip)
                blocks.append(row(make.button(f"slip:{i}", "Show corrected", show)))
        return blocks

    def cautions(self, make: Builder) -> list[Block]:
        """Show what to take care of in this lab."""
        del make
        return cautions_blocks(self.lab.readings.base)


def _short_yield(evidence: Evidence, name: str) -> str:
    """Write the yield of a candidate in a few characters; "" where no one figure tells it."""
    if evidence.verdict.kind is VerdictKind.CANNOT_BE_JUDGED:
        return ""
    text = compound_sentence(evidence, name)
    if text:  # “Of SnO2 itself the yield by mass is 99.99 %; …”
        return f"yield {text.partition(' is ')[2].partition(' %')[0]} % of {name}"
    found = yield_for(evidence, name)
    if not found.resolved or math.isinf(found.interval[1]):
        return ""
    low, high = found.interval
    places = 0 if high - low > 2 else 1
    return f"yield {found.estimate:.{places}f} %"
