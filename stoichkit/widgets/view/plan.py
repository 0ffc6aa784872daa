"""The screen “Plan”: what a lab to be done would tell, what would be enough, the bench plan."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

from ...decision.evidence import Evidence
from ...errors import ExperimentError
from ...planning.design import DesignMap
from ...planning.following import NextTrials, next_trials
from ...planning.plan import OperatingCharacteristic, Plan
from ...planning.questions import Answer
from ...planning.sentences import (
    answer_sentences,
    chances_table,
    hardest_sentence,
    meaning_sentence,
    sample_cost_sentence,
    setting_sentence,
    single_answer_sentence,
    step_text,
    wrong_sentence,
)
from ...planning.simulation import SimulatedLabs
from ...plots.labs import LabsPicture
from ...plots.planning import ChancesPicture, CurvesPicture, MapPicture
from ...plots.writing import number
from ...reports.sections import next_section
from ...text.wording import capitalised
from ..kit.work import Report
from ..state.lab import LabState
from ..state.labs import Row, comparison_table
from ..state.plan import QUESTIONS, SampleCost
from .blocks import (
    Block,
    Builder,
    answer_card,
    bullets,
    details,
    document,
    heading,
    plain_table,
    row,
    words,
)
from .cautions import cautions_blocks
from .drawn import Drawn, spot
from .frame import Frame, Region
from .room import RoomPart, figure
from .task import Task

_PAUSE_S = 0.4
"""Chances are worked out when typing has rested for so long."""
_MOST_ANSWERS = 12
_GROUPS = (
    ("The lab still to be done", ("amount", "trials", "spread", "target")),
    ("Balance and product", ("readability", "repeatability", "recovery_low", "recovery_high")),
)
_ELSEWHERE = ("excess",)
_FILES = (
    (".html", "Bench plan (to print)", "text/html"),
    (".md", "Bench plan (Markdown)", "text/markdown"),
    ("-cards.html", "Bench cards (to print)", "text/html"),
    ("-stock.html", "Stock card (to print)", "text/html"),
    ("-labels.html", "Labels (to print)", "text/html"),
    (".csv", "Blank data sheet (CSV)", "text/csv"),
    (
        ".xlsx",
        "Blank data sheet (XLSX)",
        "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    ),
)


@dataclass(frozen=True, slots=True, eq=False)
class _Said:
    """An answer to a question, and what it was asked of."""

    words: str
    plan: Plan
    answer: Answer | None


class PlanScreen:
    """Plan a lab: chances, what is enough, the map, labs on several balances, bench plan.

    >>> lab = LabState("copper-silver", autosave=False)
    >>> [one.name for one in PlanScreen(lab).regions()][:3]
    ['plan-verdict', 'plan-figures', 'plan-room']
    """

    key, title = "plan", "Plan"

    def __init__(self, lab: LabState, frame: Frame | None = None) -> None:
        self.lab, self.frame = lab, frame
        self.state, self.labs = lab.kit.plan, lab.labs
        tell = self._changed
        self._chances: Task[OperatingCharacteristic] = Task("chances", tell, delay_s=_PAUSE_S)
        self._asked: Task[Any] = Task("asked", tell)
        self._map: Task[tuple[DesignMap, tuple[float, ...]]] = Task("map", tell)
        self._labs: Task[SimulatedLabs] = Task("labs", tell, delay_s=0.05)
        self._rows: Task[tuple[Row, ...]] = Task("rows", tell, delay_s=_PAUSE_S)
        self._next: Task[NextTrials] = Task("next", tell)
        self._answers: list[_Said] = []
        self._shows_bench = False
        self._of = self.state.base
        self._room = RoomPart(lab, tell, self._lab, lambda: self.frame)
        self._bars = Drawn("chances")
        self._area, self._curves = Drawn("map", (330.0, 400.0)), Drawn("curves", (290.0, 340.0))
        self._dots = Drawn("labs", (330.0, 400.0))

    def regions(self) -> Sequence[Region]:
        """Return the regions, in their order."""
        return (
            Region("plan-verdict", "left", self.verdict),
            Region("plan-figures", "left", self.figures),
            Region("plan-room", "left", self._room.figures),
            Region("plan-asked", "left", self.asked),
            Region("plan-next", "left", self.next),
            Region("plan-chances", "right", self.chances, 1),
            Region("plan-map", "right", self.map, 1),
            Region("plan-look", "right", self.look),
            Region("plan-labs", "right", self.simulated, 1),
            Region("plan-rows", "right", self.compared, 1),
            Region("plan-setups", "wide", self._room.setups),
            Region("plan-bench", "wide", self.bench),
            Region("plan-document", "wide", self.bench_document, 2),
            Region("plan-cautions", "wide", self.cautions, 1),
        )

    def close(self) -> None:
        """Stop what is being worked out."""
        for task in (self._chances, self._asked, self._map, self._labs, self._rows, self._next):
            task.forget()
        self._room.close()

    def _changed(self) -> None:
        if self.frame is not None:
            self.frame.changed()

    # The figures

    def figures(self, make: Builder) -> list[Block]:
        """Show the figures of the plan, and the instruments it takes for granted."""
        blocks: list[Block] = []
        for title, names in _GROUPS:
            blocks.append(heading(title))
            blocks.append(row(*(self._field(make, name) for name in names), even=True))
            if "amount" in names:
                blocks += self._weighed(make)
        lab = self.state.base
        said = [one.describe() for one in self.state.figures.plan.experiment.instruments.values()]
        about = " ".join(lab.about.split())
        if about:
            said.append(about)
        return [*blocks, details("Instruments in use, and the scenario", [bullets(said)])]

    def _weighed(self, make: Builder) -> list[Block]:
        """Offer amount and trials of the readings, where the plan is of others."""
        state, evidence = self.state, self.lab.readings.evidence
        if evidence is None:
            return []
        found = state.of_readings(evidence)
        if all(state.texts[name] == text for name, text in found.items()):
            return []
        unit = state.label("amount").rpartition(", ")[2]
        number = int(found["trials"])
        trials = "one trial" if number == 1 else f"{number} trials"
        label = f"Plan what was weighed: {found['amount']} {unit}, {trials}"
        return [row(make.button("weighed", label, partial(state.take_readings, evidence)))]

    def _begin_anew(self) -> None:
        """Forget what was found for another lab."""
        lab = self.state.base
        if (lab.consumed, lab.produced) != (self._of.consumed, self._of.produced):
            self.close()
            self._answers.clear()
            self._shows_bench = False
        self._of = lab

    def _field(self, make: Builder, name: str) -> Block:
        return figure(make, self.state, name)

    # Is it enough?

    def verdict(self, make: Builder) -> list[Block]:
        """Say whether the plan is enough for the candidate that is hardest to tell."""
        self._begin_anew()
        state, figures = self.state, self.state.figures
        more: list[Block] = []
        if state.refusals:
            self._chances.stop("", again=False)
            name, refusal = next(iter(state.refusals.items()))
            more.append(words(f"Waits for {state.label(name)}. {refusal}", "refusal"))
        else:
            self._chances.want(figures.plan, state.characteristic)
        found = self._found
        if found is None:
            headline, look = "The chances of this plan are being worked out …", "waits"
        else:
            headline, look = hardest_sentence(found, figures.target), "current"
            said = (
                setting_sentence(found.plan),
                wrong_sentence(found),
                single_answer_sentence(found),
            )
            more.append(words(" ".join(said), "note"))
            if not self._current:
                look = "waits"
        more += self._chances.blocks(make)
        return [answer_card(headline, look, more)]

    @property
    def _found(self) -> OperatingCharacteristic | None:
        """The chances that were worked out last."""
        return self._chances.result

    @property
    def _current(self) -> bool:
        """Whether the chances are those of the figures as they stand."""
        found = self._found
        return (
            found is not None
            and not self.state.refusals
            and (found.plan == self.state.figures.plan)
        )

    def chances(self, make: Builder) -> list[Block]:
        """Show the chance of each verdict for each candidate taken as true."""
        found, target = self._found, self.state.figures.target
        if found is None:
            return []
        picture = ChancesPicture.of(found.chances.items(), target)
        low, high = found.plan.experiment.recovery
        table = chances_table(
            found.chances.items(), target, average=found.average if low < high else None
        )
        block = self._bars.block(make, picture, self.frame, self._lab())
        return [
            heading(picture.title),
            {**block, "stale": not self._current},
            details("The same as a table", [plain_table(table, make)]),
        ]

    def _lab(self) -> str:
        return self.state.name or "lab"

    # Questions

    def asked(self, make: Builder) -> list[Block]:
        """Show the questions of planning, how far one is, and the answers."""
        figures = self.state.figures
        if self._asked.running and self._asked.key != (figures.plan, figures.target):
            self._asked.stop("Stopped, because the plan has changed.", again=False)
        blocks = [
            heading("What would be enough?"),
            words("Each question changes one figure and keeps the others as typed above. It may "
                  "take a while, and can be stopped.", "note"),
        ]  # fmt: skip
        weighed = not math.isnan(self.state.balance_g)
        buttons = [
            make.button(f"ask:{key}", capitalised(label), partial(self._ask, key))
            for key, label in QUESTIONS.items()
            if weighed or key != "balance"
        ]
        if weighed:
            buttons.append(make.button("ask:cost", "What a coarser balance costs", self._ask_cost))
        blocks += [row(*buttons), *self._asked.blocks(make)]
        for i, one in enumerate(self._answers):
            blocks.append(words(one.words, "strong"))
            blocks.append(words(f"Asked of: {setting_sentence(one.plan)}", "note"))
            if one.answer is not None and one.answer.reached:
                use = partial(self.state.take, one.answer)
                spoken = f"Use in the plan: {one.words}"
                blocks.append(
                    row(make.button(f"use:{i}", "Use it in the plan", use, spoken=spoken))
                )
        return blocks

    def _ask(self, question: str) -> None:
        plan = self.state.figures.plan

        def said(found: Answer) -> None:
            self._add(_Said(answer_sentences(found), plan, found))

        self._begin(partial(self.state.answer, question), said)

    def _ask_cost(self) -> None:
        plan = self.state.figures.plan

        def said(cost: SampleCost) -> None:
            text = sample_cost_sentence(cost.fine, cost.coarse, cost.fine_g, cost.coarse_g)
            self._add(_Said(text, plan, None))

        self._begin(self.state.sample_cost, said)

    def _begin(self, task: Callable[[Report], Any], done: Callable[[Any], object]) -> None:
        """Begin to look for an answer; only one is looked for at a time."""
        if self.state.refusals:
            raise ExperimentError(
                "Nothing is worked out while a figure is not used.",
                fix="Correct the fields marked as not used.",
            )
        figures = self.state.figures
        self._asked.start((figures.plan, figures.target), task, done=done)

    def _add(self, said: _Said) -> None:
        """Show an answer above those before it."""
        others = [a for a in self._answers if (a.words, a.plan) != (said.words, said.plan)]
        self._answers = [said, *others][:_MOST_ANSWERS]

    # The map

    def map(self, make: Builder) -> list[Block]:
        """Show the map of masses and balances with the plan on it."""
        state = self.state
        key, plan = state.map_key, state.figures.plan
        blocks = [heading("Other masses, other balances")]
        found = self._map.result if self._map.found_for == key else None
        if found is not None and not _inside(found[0], plan, state.balance_g):
            found = None
        if math.isnan(plan.consumed_mass_g) or math.isnan(state.balance_g):
            return []
        if found is None and not state.refusals and self._current:
            if state.map_is_quick:
                if not self._map.running and not self._map.problem:
                    self._draw()
            elif not self._map.running:
                said = (
                    "The chance of a right conclusion over masses and balances. For this way of "
                    "measuring it takes minutes, and can be stopped."
                )
                blocks += [
                    words(said, "note"),
                    row(make.button("draw", "Draw the map", self._draw)),
                ]
        blocks += self._map.blocks(make)
        if self._map.result is None or self._map.found_for != key:
            return blocks
        design, marked = self._map.result
        planned = (plan.consumed_mass_g, state.balance_g)
        lab = plan.experiment
        area = MapPicture.of(design, lab, marked_g=marked, planned=planned)
        curves = CurvesPicture.of(design, lab, marked_g=marked, planned=planned)
        spots = [
            spot(f"balance {i}", f"Read to {step_text(step)}: {number(mass)} g of {area.species} "
                 f"is enough", (math.log10(mass), math.log10(step)))
            for i, (step, mass) in enumerate(area.marked)
            if not math.isnan(mass)
        ]  # fmt: skip
        here = f"This plan: {number(planned[0])} g on a balance read to {step_text(planned[1])}"
        spots.append(
            spot("plan", here, (math.log10(planned[0]), math.log10(planned[1])), drag=True)
        )
        block = self._area.block(
            make, area, self.frame, self._lab(), spots=spots, moved=self._moved, picks=True,
            hint="Click a place of the map to plan it; or drag the plan, or move it with the arrow "
            "keys. Each balance of the room has a dot: the least mass that is enough on it.",
        )  # fmt: skip
        return [
            *blocks,
            words(area.words),
            block,
            details(
                "The same as curves", [self._curves.block(make, curves, self.frame, self._lab())]
            ),
        ]

    def _draw(self) -> None:
        marked = self.state.marked_g

        def task(report: Report) -> tuple[DesignMap, tuple[float, ...]]:
            return self.state.design(report), marked

        self._map.start(self.state.map_key, task)

    def _moved(self, name: str, x: float, y: float) -> None:
        mass, step = 10.0 ** min(max(x, -6.0), 6.0), 10.0 ** min(max(y, -6.0), 2.0)
        if name == "plan":
            self.state.move(mass, step)
        else:  # the dot of a balance: exactly the least that is enough on it
            there = min(self.state.marked_g, key=lambda one: abs(math.log(one / step)))
            self.state.take_design(mass, there, "took a design from the map")

    # What the balance can tell

    def look(self, make: Builder) -> list[Block]:
        """Show what is taken as true, and the balance that is looked at."""
        labs = self.labs
        truths = [(name, name) for name in labs.truths]
        blocks = [
            heading("What the balance can tell"),
            row(make.choice("labs-truth", "Taken as true", labs.truth, truths, labs.set_truth)),
        ]
        steps = labs.steps_g
        if steps:
            own = steps.index(self.state.balance_g)
            shown = [f"{step_text(s)}{' (plan)' if i == own else ''}" for i, s in enumerate(steps)]
            blocks.append(
                make.step(
                    "labs-step", "A balance that reads to", steps.index(labs.step_g), shown,
                    lambda to: labs.set_step(steps[to]), own=own,
                )
            )  # fmt: skip
        return blocks

    def simulated(self, make: Builder) -> list[Block]:
        """Show simulated labs of the plan on the balance that is looked at."""
        if not self.state.refusals:
            self._labs.want((self.labs.looked_at, self.labs.truth), lambda _: self.labs.simulate())
        found = self._labs.result
        blocks = [] if self._labs.running else self._labs.blocks(make)
        if found is None:
            return blocks
        picture = LabsPicture.of(found)
        old = self._labs.found_for != (self.labs.looked_at, self.labs.truth)
        block = self._dots.block(make, picture, self.frame, self._lab())
        return [
            words(meaning_sentence(found), "strong"),
            words(setting_sentence(found.plan), "note"),
            {**block, "stale": old or bool(self.state.refusals)},
            *blocks,
        ]

    def compared(self, make: Builder) -> list[Block]:
        """Show the same true masses on several balances, counted and exact."""
        labs = self.labs
        if not labs.steps_g:
            return []
        key = tuple(labs.plan_on(step) for step in labs.compared_g), labs.truth
        if self._current and not self._map.running:
            self._rows.want(key, labs.comparison)
        blocks = self._rows.blocks(make)
        if self._rows.result is not None:
            table = comparison_table(self._rows.result, self._rows.found_for[1])
            old = self._rows.found_for != key
            looks = ["faint" if old else ""] * len(table.rows)
            blocks.append(make.table(table.caption, table.header, table.rows, looks=looks))
        return blocks

    # After the readings

    def next(self, make: Builder) -> list[Block]:
        """Show what further trials would come to after the readings that are there."""
        evidence = self.lab.evidence
        if evidence is None:
            return []
        blocks = [heading("After these readings: how many more trials?")]
        if tried := self.lab.whatif.sentence:
            blocks.append(words(tried, "note"))
        key = evidence, self.state.figures.target
        if self._next.key is not None and self._next.key != key:
            self._next.forget()
        if not self._next.running and self._next.result is None:
            said = "More trials alike, with more of the reactant, or on a finer balance."
            blocks.append(words(said, "note"))
            blocks.append(row(make.button("next", "Work it out", self._ask_next)))
        blocks += self._next.blocks(make)
        if self._next.result is not None:
            blocks.append(document(next_section(self._next.result, title=""), titled=False))
        return blocks

    def _ask_next(self) -> None:
        evidence, target = self.lab.evidence, self.state.figures.target
        if evidence is not None:
            self._next.start((evidence, target), partial(_following, evidence, target))

    # Bench plan and data sheet

    def bench(self, make: Builder) -> list[Block]:
        """Show what can be printed and handed out."""
        label = "Hide the bench plan" if self._shows_bench else "Show the bench plan"
        files = [
            make.button(f"file{ending}", text, partial(self._save, ending, kind))
            for ending, text, kind in _FILES
        ]
        return [
            heading("To print: bench plan, cards, labels, data sheet"),
            row(*(self._field(make, name) for name in _ELSEWHERE)),
            row(make.button("bench", label, self._toggle_bench), *files),
        ]

    def _toggle_bench(self) -> None:
        self._shows_bench = not self._shows_bench

    def _save(self, ending: str, kind: str) -> None:
        name, data = self.state.file(ending, self._found if self._current else None)
        if self.frame is not None:
            self.frame.hand_over(name, kind, data)

    def bench_document(self, make: Builder) -> list[Block]:
        """Show the bench plan of the figures as they stand."""
        del make
        if not self._shows_bench:
            return []
        if self.state.refusals:
            return [words("The bench plan waits for the figures above.", "note")]
        return [document(self.state.bench(self._found if self._current else None))]

    def cautions(self, make: Builder) -> list[Block]:
        """Show what to take care of, and who has the last word; a bench plan has both."""
        del make
        if self._shows_bench and not self.state.refusals:
            return []
        return [heading("Cautions"), *cautions_blocks(self.state.base, opened=True)]


def _following(evidence: Evidence, target: float, report: Report) -> NextTrials:
    report("Simulating labs that go on …")
    return next_trials(evidence, target=target)


def _inside(found: DesignMap, plan: Plan, step_g: float) -> bool:
    """Return whether a plan lies on a map."""
    masses, steps = found.masses_g, found.readabilities_g
    mass = plan.consumed_mass_g
    return bool(masses[0] <= mass <= masses[-1] and steps[0] * 0.9 <= step_g <= steps[-1] * 1.1)
