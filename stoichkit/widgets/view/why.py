"""The screen “Why”: slips first, then what else could have shifted the readings, and how far."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from ...decision.evidence import Evidence
from ...decision.verdict import VerdictKind
from ...diagnosis.sentences import (
    causes_paragraph,
    check_sentence,
    drying_sentence,
    effects_table,
    no_slip_sentence,
    redox_sentence,
    slip_sentence,
    spot_test_sentence,
)
from ...diagnosis.slips import Slip
from ...diagnosis.stability import LIMITS
from ...plots.causes import CombinationPicture, EffectsPicture
from ...text.wording import capitalised, joined, more_are
from ..state.causes import Findings, find
from ..state.lab import LabState
from .blocks import Block, Builder, bullets, details, heading, row, words
from .drawn import Drawn, spot
from .frame import Frame, Region
from .readings import ReadingsScreen
from .task import Task

_PAUSE_S = 0.3
"""Causes are worked out when typing has rested for so long."""
_UNSEEN = (
    "A slip cannot be seen when it moves every trial alike, stays within the noise, or is made "
    "equally in two readings that are subtracted."
)
_MOST_SLIPS = 40


class WhyScreen:
    """What most likely stands behind a verdict.

    >>> lab = LabState("copper-silver", autosave=False)
    >>> screen = WhyScreen(lab)
    >>> [one.name for one in screen.regions()][:3]
    ['why-verdict', 'why-slips', 'why-yields']
    """

    key, title = "why", "Why"

    def __init__(self, lab: LabState, frame: Frame | None = None) -> None:
        self.lab, self.frame = lab, frame
        self.state = lab.kit.causes
        self._answer = ReadingsScreen(lab)
        self._work: Task[Findings] = Task("why", self._changed, delay_s=_PAUSE_S)
        self._unfolded: Evidence | None = None
        self._bars, self._plane = Drawn("effects"), Drawn("two-effects", (330.0, 380.0))

    def regions(self) -> Sequence[Region]:
        """Return the regions, in their order; none for what this lab cannot have."""
        found = [
            Region("why-verdict", "left", self._answer.verdict),
            Region("why-slips", "left", self.slips, 2),
            Region("why-yields", "left", self.yields, 1),
            Region("why-ask", "right", self.asked),
            Region("why-effects", "right", self.effects, 1),
            Region("why-pair", "right", self.pair, 1),
            Region("why-table", "wide", self.table, 1),
            Region("why-stable", "wide", self.stability, 1),
        ]
        if self.state.dries:
            found.insert(3, Region("why-drying", "left", self.drying))
        return found

    def close(self) -> None:
        """Stop what is being worked out."""
        self._work.forget()

    def _changed(self) -> None:
        if self.frame is not None:
            self.frame.changed()

    # Slips

    def slips(self, make: Builder) -> list[Block]:
        """Name the readings that look mistyped, each with a look at it corrected."""
        typed = self.lab.readings.evidence
        blocks = [heading("Slips: readings that cannot be right as typed")]
        if typed is None:
            return [*blocks, words("Type readings first: what is wrong follows from them.")]
        found = self.lab.slips()
        for i, slip in enumerate(found[:_MOST_SLIPS]):
            blocks.append(words(slip_sentence(slip, trials=len(typed.amounts)), "warning"))
            if slip.corrected:
                blocks.append(row(self._look(make, f"slip:{i}", "Show corrected", slip)))
        more = len(found) - _MOST_SLIPS
        if more > 0:
            blocks.append(words(f"{more_are(more, 'slip')} like these.", "note"))
        first = _first_of_each_trial(found)
        if len(first) > 1:
            blocks.append(row(self._look(make, "slip:all", "Show all of them corrected", *first)))
        evidence = self.lab.evidence
        if found:
            note = (
                "To show a reading corrected changes nothing that was typed. Correct it in the "
                "sheet only if the notebook shows that it was mistyped."
            )
            blocks.append(words(note, "note"))
        else:
            said = no_slip_sentence(typed.verdict)
            blocks += [words(said), words(_UNSEEN, "note")]
        if evidence is not None and not evidence.diagnosis.mistyped:
            blocks.append(words(evidence.diagnosis.sentence, "diagnosis"))
        return blocks

    def _look(self, make: Builder, name: str, label: str, *slips: Slip) -> Block:
        """Return the button that shows slips corrected, or the one that leads back."""
        tried = self.lab.whatif
        if tried.shows_corrected(*slips):
            return make.button(name, "Back to the readings as typed", tried.back)
        where = f"{label}: {slips[0].trial or 'all trials'}, {joined(list(slips[0].readings))}"
        spoken = where if len(slips) == 1 else ""
        return make.button(name, label, partial(tried.show_corrected, *slips), spoken=spoken)

    # Yield

    def yields(self, make: Builder) -> list[Block]:
        """Say the percent yield for each candidate."""
        del make
        found = self._found()
        if found is None:
            return []
        evidence = found.question.evidence
        judged = evidence.verdict.kind is not VerdictKind.CANNOT_BE_JUDGED
        blocks = [heading("Yield")]
        for name, said in found.yields:
            fits = judged and evidence.candidates[name].compatible
            blocks.append(words(said, "strong" if fits else "plain"))
        return [*blocks, words(_kept(evidence), "note")]

    # Effects

    def asked(self, make: Builder) -> list[Block]:
        """Show the candidate that is to be made to fit, and how far the work is."""
        state = self.state
        blocks = [heading("Effects: what each would have to amount to")]
        question = state.question
        if question is None:
            self._work.forget()
            return [*blocks, words("Type readings first: causes follow from them.")]
        controls = [
            make.choice(
                "why-candidate",
                "What would make this candidate fit?",
                state.candidate,
                [(name, name) for name in state.candidates],
                state.choose,
            )
        ]
        if state.leaves_salt:
            controls.append(
                make.field(
                    "why-residue",
                    "Salt that poor washing would leave, such as AgNO3; may stay empty",
                    state.choices.residue,
                    state.set_residue,
                    refusal=state.residue_refusal,
                )
            )
        known = self._work.result
        if known is not None and not _same_lab(known.question.evidence, question.evidence):
            self._work.forget()
            known = None
        if known is None or not known.answers(question):
            key = question.evidence, question.candidate, question.residue, question.pair
            self._work.want(key, partial(find, question, known=known))
        blocks.append(row(*controls))
        if self.lab.waits:
            said = f"This is from before {self.lab.waits} was typed, which cannot be used."
            blocks.append(words(said, "note"))
        return [*blocks, *self._work.blocks(make)]

    def _found(self) -> Findings | None:
        """Return what was found, also for the question before while a new one is worked on."""
        return self._work.result if self.state.question is not None else None

    def _shown(self) -> Findings | None:
        """Return what was found unless slips have to be looked at first."""
        found = self._found()
        if found is None or not found.causes:
            return None
        folded = found.diagnosis.mistyped and self._unfolded is not found.question.evidence
        return None if folded else found

    def _unfold(self) -> None:
        found = self._found()
        self._unfolded = None if found is None else found.question.evidence

    def effects(self, make: Builder) -> list[Block]:
        """Show as bars what each effect would have to amount to."""
        found = self._found()
        if found is None:
            return []
        if self._shown() is None and found.causes:
            said = (
                "Look at the slips first: effects are worked out from the readings as they stand, "
                "and are folded away until these are right."
            )
            show = make.button("why-unfold", "Show the effects all the same", self._unfold)
            return [words(said, "warning"), row(show)]
        blocks = [words(causes_paragraph(found.causes), "strong")]
        if not found.causes:
            return blocks
        picture = EffectsPicture.of(found.causes)
        spots = [
            spot(bar.name, f"{bar.name}: {bar.words}", at)
            for bar, at in zip(picture.bars, picture.places(self._bars.width), strict=True)
        ]
        hint = "Point at a bar to read its amount."
        block = self._bars.block(make, picture, self.frame, self._lab(), spots=spots, hint=hint)
        return [*blocks, self._stale(block, found)]

    def pair(self, make: Builder) -> list[Block]:
        """Show which amounts of two effects together make the candidate fit."""
        found = self._shown()
        if found is None or found.combination is None:
            return []
        options = [(cause.effect.key, cause.effect.name) for cause in found.causes]
        shown = found.question.pair
        picks = [
            make.choice(
                f"why-effect:{place}",
                label,
                shown[place],
                options,
                partial(self.state.pick, place, shown=shown),
            )
            for place, label in enumerate(("First effect", "Second effect"))
        ]
        picture = CombinationPicture.of(found.combination)
        ends = [
            spot(f"end {i}", f"{a:.3g} {picture.units[0]} of {picture.names[0]} and {b:.3g} "
                 f"{picture.units[1]} of {picture.names[1]}", (a, b))
            for i, (a, b) in enumerate(picture.line)
        ]  # fmt: skip
        hint = "Point at an end of the line to read both amounts." if ends else ""
        block = self._plane.block(make, picture, self.frame, self._lab(), spots=ends, hint=hint)
        return [
            heading("Two effects together"),
            row(*picks),
            words(picture.words),
            self._stale(block, found),
        ]

    def table(self, make: Builder) -> list[Block]:
        """List all effects with amounts, and how to check each."""
        found = self._shown()
        if found is None:
            return []
        table = effects_table(found.causes)
        looks = ["" if cause.possible else "faint" for cause in found.causes]
        checks = [
            f"{capitalised(cause.effect.name)}: {check_sentence(cause)}" for cause in found.causes
        ]
        return [
            heading("Every effect that can occur in such a lab"),
            make.table(table.caption, table.header, table.rows, looks=looks, prose=True),
            details("What each does, and how to check it at the bench", [bullets(checks)]),
        ]

    def _stale(self, block: Block, found: Findings) -> Block:
        question = self.state.question
        old = bool(self.lab.waits) or question is None or not found.answers(question)
        return {**block, "stale": old}

    def _lab(self) -> str:
        return self.lab.readings.name or "lab"

    # Drying

    def drying(self, make: Builder) -> list[Block]:
        """Show the weighings typed while something dried, and what they say."""
        state = self.state
        outcome = state.drying
        blocks = [
            heading("Drying to constant mass"),
            make.field(
                "why-weighings",
                "Weighings while drying: min and g, one a line",
                state.choices.weighings,
                state.set_weighings,
                refusal=outcome.refusal,
                note="such as 10 1.571; time spent drying, weighed when cold",
                lines=max(4, min(10, state.choices.weighings.count("\n") + 2)),
            ),
        ]
        if len(state.balances) > 1:
            balances = [(name, name) for name in state.balances]
            blocks.append(
                make.choice("why-balance", "Balance they were made on", state.balance, balances,
                            state.set_balance)
            )  # fmt: skip
        if outcome.found is not None:
            blocks.append(words(drying_sentence(outcome.found), "status"))
        return [*blocks, *(words(one, "warning") for one in outcome.questions)]

    # Beside the verdict

    def stability(self, make: Builder) -> list[Block]:
        """Say what potentials and spot tests tell, which the readings do not."""
        del make
        found = self._found()
        if found is None:
            return []
        blocks: list[Block] = []
        if found.redox:
            blocks += [
                heading("Is the candidate stable?"),
                words("This is independent of the readings: it stands beside the verdict and is "
                      "not part of it.", "note"),
                bullets(redox_sentence(one) for one in found.redox),
                details("How far this can be trusted", [bullets([*LIMITS, _sources(found)])]),
            ]  # fmt: skip
        if found.tests:
            blocks += [
                heading("Spot tests that would confirm it"),
                bullets(spot_test_sentence(name, test) for name, test in found.tests),
                words("Wear eye protection and gloves, work where the air is drawn off, and "
                      "collect the waste. The safety data sheet, local rules and the person in "
                      "charge have the last word.", "warning"),
            ]  # fmt: skip
        return blocks


def _same_lab(one: Evidence, other: Evidence) -> bool:
    """Return whether two lots of readings are of the same things, with the same candidates."""
    a, b = one.experiment, other.experiment
    return (a.consumed, a.produced, a.candidates) == (b.consumed, b.produced, b.candidates)


def _first_of_each_trial(slips: Sequence[Slip]) -> list[Slip]:
    """Return the first correction of each trial."""
    first: dict[str, Slip] = {}
    for slip in slips:
        if slip.corrected:
            first.setdefault(slip.trial, slip)
    return list(first.values())


def _kept(evidence: Evidence) -> str:
    """Say which of the yields count."""
    if evidence.verdict.kind is VerdictKind.CANNOT_BE_JUDGED:
        return "None of these candidates is judged; see the verdict."
    if not any(one.compatible for one in evidence.candidates.values()):
        return "The readings exclude all of these candidates."
    return "In bold: candidates that the readings do not exclude."


def _sources(found: Findings) -> str:
    """Say where the potentials are from."""
    couples = {c for one in found.redox for c in (one.cell.cathode, one.cell.anode)}
    status = {"memory": "from memory"}
    said = {f"{one.source} ({status.get(one.status, one.status)})" for one in couples}
    return f"Potentials: {joined(sorted(said))}."
