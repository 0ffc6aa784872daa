"""The screen “Study”: the questions of a lab one by one, checked, with hints."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from ...chemistry.elements import molar_mass_value
from ...decision.statement import verdict_sentences
from ...decision.trust import trust_sentences
from ...errors import ModelError, StoichkitError
from ...experiments.record import Experiment
from ...planning.telling import plan_of, step_of
from ...plots.cells import CellsPicture
from ...reports.question import FeedbackKind
from ...text.wording import species_text
from ..state.lab import LabState
from ..state.study import Answered, Guess
from .blocks import Block, Builder, bullets, details, document, heading, row, words
from .cautions import cautions_blocks
from .drawn import Drawn
from .frame import Frame, Region

_LOOK = {
    FeedbackKind.RIGHT: "good",
    FeedbackKind.FIGURES: "good",
    FeedbackKind.MISTAKE: "warning",
    FeedbackKind.WRONG: "warning",
    FeedbackKind.UNREAD: "plain",
}
_KINDS = (
    ("", "any"),
    ("weighed", "all weighed"),
    ("gas", "gas collected"),
    ("titration", "titration"),
    ("charge", "plating by charge"),
)


class StudyScreen:
    """Self-study: from raw readings to the verdict."""

    key, title = "study", "Study"

    def __init__(self, lab: LabState, frame: Frame | None = None) -> None:
        self.lab, self.frame = lab, frame
        self.state = lab.study
        self._id = self._kind = ""
        self._drawn = Drawn("study:way", (280.0, 340.0), file="amounts")
        self._pictures: dict[str, tuple[object, CellsPicture]] = {}
        self._consumed: tuple[Experiment, float] | None = None

    def regions(self) -> Sequence[Region]:
        """Return the regions, in their order."""
        return (
            Region("practice", "left", self.practice),
            Region("predict", "left", self.predict),
            Region("question", "left", self.question),
            Region("end", "left", self.end, 2),
            Region("way", "left", self.way, 1),
            Region("asked-about", "right", self.asked_about),
            Region("course", "right", self.course),
            Region("progress", "right", self.progress, 1),
        )

    def still_regions(self) -> Sequence[Region]:
        """Return what a saved notebook shows: the lab and how far it is, no answers."""
        return (
            Region("asked-about", "right", self.asked_about),
            Region("course", "right", self.course),
            Region("summary", "right", self.summary),
        )

    @property
    def still_words(self) -> str:
        """What a saved notebook says in one line, without an answer."""
        return f"{self.state.experiment.title}: {self.state.progress}."

    # Which lab

    def practice(self, make: Builder) -> list[Block]:
        """Offer practice labs without end, by their ids or by what was missed."""
        lab = self.state.practice
        record = self.state.progress_record
        said = "none is open" if lab is None else f"{lab.id}, level {lab.level} of 5"
        return [
            row(
                make.button(
                    "study:new", "Next practice lab", self._next,
                    look="main" if self.state.finished else "plain",
                ),
                make.choice("study:kind", "Kind", self._kind, _KINDS, self._choose_kind),
                make.field(
                    "study:id", "Id of a lab", self._id, self._type_id, width=9,
                    enter="study:open", bare=False,
                ),
                make.button("study:open", "Open", self._open_id),
            ),
            words(f"Practice lab: {said}. Next level: {record.level} of 5.", "note"),
        ]  # fmt: skip

    def _choose_kind(self, kind: str) -> None:
        self._kind = kind

    def _type_id(self, text: str) -> None:
        self._id = text

    def _open_id(self) -> None:
        self.state.open_practice(self._id)
        self._id = ""
        self._begin()

    def _next(self) -> None:
        self.state.next_lab(kind=self._kind)
        self._begin()

    def _begin(self) -> None:
        if self.frame is not None:
            self.frame.focus = "study:guess" if self.state.hidden else "study:0"

    # Predict

    def predict(self, make: Builder) -> list[Block]:
        """Ask, before the readings are looked at, whether this balance will tell."""
        state, lab = self.state, self.state.experiment
        said = state.prediction
        if said.made or said.left_out or not state.steps_g or not state.answers:
            return []
        names = "; ".join(f"{species_text(c.name)} requires {c.ratio}" for c in lab.candidates[:6])
        if len(lab.candidates) > 6:
            names += f"; and {len(lab.candidates) - 6} more"
        picture = self._planned()
        blocks = [
            words(f"Moles of {species_text(lab.produced.species)} for one mole of "
                  f"{species_text(lab.consumed.species)}: {names}."),
            words(self._design()),
            make.choice(
                "study:guess", "Will these readings single out the right one?", said.guess,
                [("", "– choose –"), *((one, one) for one in Guess)], state.guess,
            ),
            make.step(
                "study:place", "Place the step at which they part",
                state.steps_g.index(state.placed_g),
                [f"{step:g} g" for step in state.steps_g], state.place,
                note="the coarsest step of the balance with which nearly all such labs would tell",
            ),
            *([self._drawn.block(make, picture, self.frame, "practice")] if picture else []),
            row(
                make.button(
                    "study:predict", "This is my prediction", self._hand_in,
                    enabled=bool(said.guess), look="main",
                ),
                make.button("study:skip", "Look without predicting", self._skip, look="quiet"),
            ),
        ]  # fmt: skip
        if state.hidden:
            return [heading("Before you look", 2), *blocks]
        return [details("Before you look: will this balance tell?", blocks)]

    def _design(self) -> str:
        state = self.state
        lab, found = state.practice, state.experiment
        mol = lab.consumed_mol if lab is not None else self._consumed_mol(found)
        if found.consumed.species != "e-":
            grams = mol * molar_mass_value(found.consumed.species)
            mass = f" About {grams:.2g} g of {species_text(found.consumed.species)} reacts in each."
        else:
            mass = f" About {1000 * mol:.2g} mmol of electrons pass in each."
        trials = len(found.trials)
        return (
            f"{trials} trial{'' if trials == 1 else 's'} with a balance that shows steps of "
            f"{step_of(found):g} g.{mass}"
        )

    def _consumed_mol(self, lab: Experiment) -> float:
        """Return how much reacts in each trial, worked out once for the same readings."""
        if self._consumed is None or self._consumed[0] != lab:
            self._consumed = lab, plan_of(lab).consumed_mol
        return self._consumed[1]

    def _planned(self) -> CellsPicture | None:
        state = self.state
        lab = state.practice
        about = (state.experiment, state.placed_g)
        kept = self._pictures.get("planned")
        if kept is not None and kept[0] == about:
            return kept[1]
        try:
            picture = CellsPicture.planned(
                state.experiment, step_g=state.placed_g,
                consumed_mol=None if lab is None else lab.consumed_mol,
            )  # fmt: skip
        except StoichkitError:
            return None
        self._pictures["planned"] = about, picture
        return picture

    def _hand_in(self) -> None:
        self.state.predict()
        self._go(self.state.at)

    def _skip(self) -> None:
        self.state.leave_prediction_out()
        self._go(self.state.at)

    # The way from readings to candidates

    def way(self, make: Builder) -> list[Block]:
        """Draw the cells of the readings, then the fan of their ratios, then the candidates."""
        state, evidence = self.state, self.lab.readings.evidence
        if state.hidden or not state.answers or evidence is None:
            return []
        if (
            not state.prediction.made
            and not state.prediction.left_out
            and state.steps_g
            and (state.practice is not None)
        ):
            return []
        topic = state.answers[state.at].question.topic
        fan = topic in ("What the instruments can resolve", "The verdict") or state.finished
        rays = topic == "The verdict" or state.finished
        if topic in ("Consumed", "Produced") and not state.finished:
            return []
        kept = self._pictures.get("way")
        about = (evidence, fan, rays)
        if kept is None or kept[0] != about:
            kept = about, CellsPicture.of(evidence, fan=fan, rays=rays)
            self._pictures["way"] = kept
        picture = kept[1]
        title = "What the readings leave open"
        return [heading(title), self._drawn.block(make, picture, self.frame, "study")]

    # The question

    def question(self, make: Builder) -> list[Block]:
        """Show one question, with what was said about its answer."""
        state = self.state
        if state.hidden and state.answers:
            return []
        if not state.answers:
            return [
                words("There is nothing to ask about yet.", "strong"),
                words(state.problem, "refusal"),
            ]
        at, one = state.at, state.answers[state.at]
        said = one.feedback
        last = at == len(state.answers) - 1
        before, _, asked = (
            one.question.words.rpartition(". ")
            if one.question.several
            else ("", "", one.question.words)
        )
        return [
            words(f"Question {at + 1} of {len(state.answers)} · {one.question.topic}", "note"),
            *([words(f"{before}.")] if before else []),
            heading(asked, 2),
            *self._entry(make, at, one),
            row(
                make.button("study:check", "Check", partial(self._check, at), look="main"),
                make.button(
                    "study:hint", "Hint", partial(state.hint, at), enabled=one.more_hints
                ),
                make.button("study:back", "Back", partial(self._go, at - 1), enabled=at > 0),
                make.button("study:next", "Next", partial(self._go, at + 1), enabled=not last),
            ),
            words("" if said is None else said.words, _LOOK[said.kind] if said else "plain",
                  spoken=True),
            *([bullets(one.shown_hints)] if one.hints else []),
        ]  # fmt: skip

    def _entry(self, make: Builder, at: int, one: Answered) -> list[Block]:
        """Return what the answer is typed in, or chosen from."""
        question = one.question
        if question.several:
            ticks = [
                make.tick(
                    f"study:{at}:{i}", choice, choice in one.chosen,
                    partial(self.state.tick, at, choice),
                )
                for i, choice in enumerate(question.choices)
            ]  # fmt: skip
            return [*ticks, words("Tick none if none is.", "note")]
        typed = partial(self.state.type, at)
        if question.choices:
            offered = [("", "– choose –"), *((c, c) for c in question.choices)]
            value = one.text if one.text in question.choices else ""
            return [make.choice(f"study:{at}", "Your conclusion", value, offered, typed)]
        unit = f", {question.unit}" if question.unit else ""
        sure = question.uncertainty is not None
        return [
            make.field(
                f"study:{at}", f"Your answer{unit}", one.text, typed, width=18,
                enter="study:check", note="value ± uncertainty, such as 2.1 ± 0.2" if sure
                else "a number with its unit, or a calculation such as 2.94 − 2.82",
            )
        ]  # fmt: skip

    def _check(self, at: int) -> None:
        right = self.state.check(at).accepted
        if right and self.frame is not None and at < len(self.state.answers) - 1:
            self.frame.focus = "study:next"

    def _go(self, to: int) -> None:
        self.state.go(to)
        if self.frame is not None:
            several = self.state.answers[to].question.several
            self.frame.focus = f"study:{to}:0" if several else f"study:{to}"

    # How far it is

    def course(self, make: Builder) -> list[Block]:
        """Show all questions, and which of them are answered."""
        state = self.state
        if not state.answers:
            return []
        rows = [
            (f"{i + 1}. {one.question.topic}", _standing(one))
            for i, one in enumerate(state.answers)
        ]
        return [
            make.table(
                f"{state.progress}.", ("Question", "Answer"), rows, name="study:course",
                chosen=self._go, selected=state.at,
            )
        ]  # fmt: skip

    def end(self, make: Builder) -> list[Block]:
        """Say at the end what the readings tell, what limits that, and what would overturn it."""
        del make
        evidence = self.lab.readings.evidence
        if not self.state.finished or evidence is None:
            return []
        return [
            heading("All answered"),
            words(verdict_sentences(evidence), "strong"),
            *self._truth(),
            *(words(text) for text in self.state.compared()),
            words(evidence.diagnosis.sentence, "diagnosis"),
            *(words(text, "trust") for text in trust_sentences(evidence)),
        ]

    def _truth(self) -> list[Block]:
        """Tell what the readings of a practice lab were drawn from, and what was planted."""
        lab, evidence = self.state.practice, self.lab.readings.evidence
        if lab is None or evidence is None:
            return []
        truth = species_text(lab.truth)
        found = [words(f"The truth: the readings were drawn from {truth}.", "strong")]
        kept = evidence.candidates[lab.truth].compatible
        if lab.fault is not None:
            found.append(words(f"A fault was planted. {lab.fault.words}"))
            if not kept:
                found.append(
                    words("So the truth is excluded: no balance helps against such a fault.")
                )
        elif not kept:
            found.append(
                words(
                    "No fault was planted, and yet the truth is excluded: that happens in up to "
                    f"{100 * (1 - evidence.coverage):.2g} labs of 100."
                )
            )
        return found

    # What was done so far

    def progress(self, make: Builder) -> list[Block]:
        """Sum up what was worked through, to be saved and gone on with."""
        record = self.state.progress_record
        keeper = make.kept(
            "study:kept",
            "stoichkit.progress",
            record.to_json() if record.labs else "",
            self.state.keep_progress,
        )
        page = (
            [document(record.summary(), titled=False)]
            if record.labs
            else [words("Nothing is written down yet.", "note")]
        )
        return [
            keeper,
            details("What was worked through", [
                *page,
                row(
                    make.button("study:save", "Save progress", self._save_progress,
                                enabled=bool(record.labs)),
                    make.file("study:load", "Go on with saved progress", ".json",
                              self._load_progress),
                ),
            ]),
        ]  # fmt: skip

    def summary(self, make: Builder) -> list[Block]:
        """Show what was worked through, to be read."""
        del make
        record = self.state.progress_record
        return [document(record.summary())] if record.labs else []

    def _save_progress(self) -> None:
        if self.frame is not None:
            data = self.state.progress_record.to_json().encode()
            self.frame.hand_over("stoichkit-progress.json", "application/json", data)

    def _load_progress(self, name: str, data: bytes) -> None:
        try:
            text = data.decode("utf-8")
        except UnicodeDecodeError:
            raise ModelError(
                "The file is no text.", given=name, fix="Choose the JSON file that was saved here."
            ) from None
        self.state.load_progress(text)

    # What it is about

    def asked_about(self, make: Builder) -> list[Block]:
        """Show the lab: its scenario, readings and instruments."""
        lab = self.state.experiment
        blocks = [heading("The lab")]
        if lab.invented:
            blocks.append(words("The readings are invented.", "strong"))
        if lab.about.strip():
            blocks.append(words(" ".join(lab.about.split())))
        if self.state.hidden:
            blocks.append(words("The readings are shown after your prediction.", "note"))
        else:
            header, rows = readings_table(lab)
            blocks.append(make.table("Readings", header, rows))
        in_use = bullets(lab.instruments_in_words())
        blocks.append(details("Instruments in use", [in_use], opened=True))
        return [*blocks, *cautions_blocks(lab)]


def _standing(one: Answered) -> str:
    if one.solved:
        return "answered" if one.hints <= len(one.question.hints) else "answered, after the answer"
    if one.feedback is not None:
        return "not yet"
    return "typed, not checked" if one.text.strip() else "–"


def readings_table(lab: Experiment) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Return the readings of a lab as a table with one column a trial: its header and its rows.

    >>> from stoichkit import experiments
    >>> header, rows = readings_table(experiments.load("tin-oxide"))
    >>> header, rows[0]
    (('Reading', '1', '2', '3', '4'), ('crucible, g', '17.561', '17.897', '17.659', '17.593'))
    """
    units = {role.name: role.unit for role in lab.roles()}
    rows = [
        (f"{name}, {units[name]} (all trials)", *(len(lab.trials) * ("; ".join(texts),)))
        for name, texts in lab.shared_readings.items()
    ]
    own = dict.fromkeys(name for trial in lab.trials for name in trial.readings)
    rows += [
        (f"{name}, {units[name]}", *("; ".join(t.readings.get(name, ())) for t in lab.trials))
        for name in own
    ]
    return ("Reading", *(trial.name for trial in lab.trials)), rows
