"""The screen “Class”: a file, how it is read, the verdict of the class, each group, what is saved.

What is slow is worked out by :class:`ClassState` beside all else; here is shown how it stands.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import Any, TypeVar

from ... import experiments
from ...classroom.choices import Decision, DecisionKind
from ...classroom.columns import GROUP, TRIAL, Preview
from ...classroom.line import class_diagnosis, group_diagnosis
from ...classroom.questions import Question, QuestionKind
from ...classroom.result import ClassResult
from ...classroom.review import Repair, first_repairs
from ...classroom.sentences import (
    balances_sentence,
    class_verdict_sentences,
    file_sentence,
    groups_sentence,
    waiting_sentence,
)
from ...classroom.statement import groups_text, statement_of_class
from ...classroom.tables import Problem
from ...classroom.trust import class_trust_sentences
from ...decision.verdict import VerdictKind
from ...errors import StoichkitError
from ...plots.decision import DecisionPicture
from ...reports.classroom import (
    class_report,
    class_verdict_section,
    group_report,
    look_at_section,
    slip_lines,
)
from ...reports.following import TITLE as FOLLOWING
from ...reports.following import ClassFollowing, class_following, following_section
from ...reports.review import decision_table, side_by_side
from ...reports.sections import ratio_section, verdict_section, yield_section
from ...text.parts import Bullets, Part, Section, Strong
from ...text.wording import capitalised, more_are, symbol
from ...uncertainty.readings import parse_number
from ..kit.work import Report
from ..state.class_files import KINDS, MARKS, class_content, class_target, saveable, write_class
from ..state.classroom import AUTOMATIC, ClassChange, ClassState, GroupTable, Together
from ..state.form import refusal_of
from ..state.lab import LabState
from ..state.review import with_repairs, without_repair
from .blocks import (
    Block,
    Builder,
    answer_card,
    bullets,
    candidate_list,
    candidate_row,
    details,
    document,
    heading,
    row,
    words,
)
from .drawn import Drawn, spot
from .frame import Frame, Region
from .marks import MarksRegion
from .task import Task

HIDDEN = "(hidden)"
MOST_PROBLEMS = 200
T = TypeVar("T")
_NONE = ""
_MOST_COLUMNS = 40
_MOST_CELL = 60
_MOST_SPOTS = 40
_MOST_ASKED = 12
_ABOUT = {
    QuestionKind.AVERAGE: "averages", QuestionKind.COPY: "copies", QuestionKind.SCALE: "units",
    QuestionKind.HIDDEN: "what is hidden", QuestionKind.SPELLING: "spellings",
    QuestionKind.COLUMN: "columns", QuestionKind.ORDER: "the order of columns",
    QuestionKind.SHEET: "sheets", QuestionKind.BALANCE: "balances",
}  # fmt: skip
_NO_INITIALS = (
    "While codes stand for names, initials are kept here but left out of all that is shown and "
    "handed out."
)
_MOST_REPAIRS = 40
_WORDS = {GROUP: "Group", TRIAL: "Trial"}
_DIFFER = {
    "": "differ as the lab says",
    "unknown": "differ by an unknown amount",
    "none": "alike but for the readings",
}
_ABOVE = ("Verdict of the class", "Groups to look at", "Group by group", "The file")
"""Sections of the report that are shown elsewhere on the screen."""
_LINE = "Straight line and blank"
_TYPES = {
    ".html": ("a page to print (HTML)", "text/html"),
    ".md": ("Markdown", "text/markdown"),
    ".txt": ("plain text", "text/plain"),
    ".tex": ("LaTeX", "application/x-tex"),
    ".csv": ("table (CSV)", "text/csv"),
    ".toml": ("choices (TOML)", "application/toml"),
    ".xlsx": (
        "workbook (XLSX)",
        "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    ),
}


class ClassScreen:
    """The results of a class."""

    key, title = "class", "Class"

    def __init__(self, lab: LabState, frame: Frame | None = None) -> None:
        self.lab, self.frame = lab, frame
        self._state: ClassState | None = None
        self._keeping_up = False
        self._stop: Callable[[], object] = lambda: None
        self._groups = Drawn("groups-beside-candidates")
        self._straight = Drawn("straight-line", (260.0, 380.0))
        self._amounts = Drawn("amounts-of-group", (250.0, 330.0))
        self._held: dict[str, tuple[tuple[Any, ...], Any]] = {}
        self._saving: Task[Any] = Task("hand", self._show)
        self._next: Task[ClassFollowing] = Task("next", self._show)
        self._report: Task[tuple[Section, ...]] = Task("together", self._show)
        self._report_asked = False
        self._marked = MarksRegion(self._show, self._hand_over)
        self._typed: dict[str, str] = {}
        self._kind, self._endings = "report", {n: kind.endings[0] for n, kind in KINDS.items()}
        self._marks, self._path, self._replace = next(iter(MARKS)), "", False

    @property
    def state(self) -> ClassState:
        """The class of the lab, made when it is first shown."""
        if self._state is None:
            self._state = self.lab.classroom
            self._stop = self._state.subscribe(self._told)
        return self._state

    def close(self) -> None:
        """Follow the class no longer, and stop what is being written."""
        self._stop()
        self._saving.forget()
        self._next.forget()
        self._report.forget()
        self._marked.close()

    def _told(self, change: ClassChange) -> None:
        """Send what came of work that nobody waited for."""
        if change in (ClassChange.WORK, ClassChange.RESULT):
            self._show()

    def _show(self) -> None:
        if self.frame is not None and not self._keeping_up and self.frame.shown == self.key:
            self.frame.changed()

    def regions(self) -> Sequence[Region]:
        """Return the regions, in their order."""
        self._keeping_up = True
        try:
            self.state.keep_up()
        finally:
            self._keeping_up = False
        return (
            Region("file", "left", self.file),
            Region("reading", "left", self.reading),
            Region("questions", "left", self.questions),
            Region("problems", "left", self.problems, 1),
            Region("verdict", "right", self.verdict),
            Region("candidates", "right", self.candidates),
            Region("picture", "right", self.picture, 2),
            Region("look", "right", self.look_at, 1),
            Region("review", "wide", self.review),
            Region("groups", "wide", self.groups),
            Region("group", "wide", self.group, 1),
            Region("aside", "wide", self.more_of_group, 2),
            Region("together", "wide", self.together, 1),
            Region("next", "wide", self.next),
            Region("marks", "wide", self.marks),
            Region("hand", "wide", self.hand_out),
        )

    # The file

    def _has_invented(self) -> bool:
        """Say whether there is an invented class of this lab."""
        return self.lab.classroom.readings.name in experiments.class_names()

    def file(self, make: Builder) -> list[Block]:
        """Show which file is open, or how one is opened."""
        state = self.state
        opening = [
            words(
                "One row a trial, below a header; one column names the group. The file is only "
                "read, where Python runs, and nothing in it is sent anywhere else.",
                "note",
            ),
            make.file("class-file", "A CSV or XLSX file", ".csv,.xlsx,.txt,.tsv", self._upload),
        ]
        if not self.lab.apart:
            path = row(
                make.field(
                    "class-path", "Or its path", state.path_text, state.set_path_text, width=34,
                    note="in full, or beside the notebook; also for large files",
                ),
                make.button("class-open", "Open this path", self._open_path),
            )  # fmt: skip
            opening.append(path)
        if self._has_invented():
            opening.append(
                row(make.button("invented", "Open the invented class", state.open_invented))
            )
        if not state.opened:
            return [heading("File of the class"), *opening]
        choosing = [
            words("What was chosen about a file before: columns, sheets, answers.", "note"),
            make.file("class-choices", "A file of choices (TOML)", ".toml", self._choices),
        ]
        name = "a file, its name not shown" if state.codes else state.file_name or "a file"
        layout = f" ({state.preview.layout})" if state.preview is not None else ""
        return [
            heading("File of the class"),
            words(f"Open: {name}{layout}."),
            words(_kept_words(state), "note"),
            row(make.button("close", "Close the file", state.close_file)),
            details("Open another file", opening),
            details("Open the choices made about it", choosing),
        ]

    def _open_path(self) -> None:
        self.state.open_path(self.state.path_text)

    def _choices(self, _name: str, content: bytes) -> None:
        self.state.open_choices(content)

    def _upload(self, name: str, content: bytes) -> None:
        self.state.open_bytes(content, name)

    # How it is read

    def reading(self, make: Builder) -> list[Block]:
        """Show which column is which, codes, variation, and the first rows."""
        state = self.state
        if not state.opened:
            return []
        lists = [self._column(make, field) for field in state.fields]
        found: list[Block] = [heading("How it is read")]
        if state.refusal is not None:
            found += [words(str(state.refusal), "refusal"), row(*lists)]
        preview = state.preview
        if state.sheet or (preview is not None and "XLSX" in preview.layout):
            note = "empty: all that hold readings"
            found.append(
                make.field(
                    "sheet",
                    "Sheet of the workbook",
                    state.sheet,
                    state.set_sheet,
                    note=note,
                    width=24,
                )
            )
        chips = []
        if state.refusal is None:
            by_hand = len(state.choices)
            said = f"{by_hand} chosen by hand" if by_hand else "by their headers"
            chips.append(make.chip("chip:columns", "Columns", said, lists))
        chips.append(self._variation(make))
        codes = make.tick(
            "codes", "Codes G01, G02, … instead of names", state.codes, state.set_codes
        )
        found += [row(*chips), codes]
        if preview is not None:
            first = preview_table(make, preview, codes=state.codes)
            whole = state.refusal is None
            found.append(details(first["caption"], [{**first, "caption": ""}]) if whole else first)
        lab = state.experiment
        used = lab.instruments_in_words()
        names = ", ".join(c.name for c in lab.candidates)
        found.append(details("Read as which lab", [
            words(f"{lab.title}. Candidates: {names}."), bullets(used),
        ]))  # fmt: skip
        return found

    def _column(self, make: Builder, field: str) -> Block:
        state, preview = self.state, self.state.preview
        own = preview.of(field) if preview is not None else ()
        by_header = "by its header"
        if field not in state.choices and preview is not None:
            by_header += f": {', '.join(c.label for c in own) or 'none'}"
        used = {c.letter for c in preview.matched if c.field} if preview is not None else set()
        columns = [
            (letter, letter if state.codes and letter not in used else label)
            for letter, label in state.columns()
        ]
        units = {role.name: f", {role.unit}" for role in state.experiment.roles()}
        chosen = state.choices.get(field, AUTOMATIC)

        def choose(to: str) -> None:
            state.set_column(field, None if to == _NONE else to)

        return make.choice(
            f"column:{field}",
            _WORDS.get(field, f"{field}{units.get(field, '')}"),
            _NONE if chosen is None else chosen,
            [(AUTOMATIC, by_header), *columns, (_NONE, "– no column –")],
            choose,
        )

    def _variation(self, make: Builder) -> Block:
        state, refusal = self.state, self.state.variation_refusal
        text = state.variation.strip()
        field = make.field(
            "variation", "By how much groups truly differ", state.variation, state.set_variation,
            refusal=refusal, width=16,
            note="empty: as the lab says, else unknown; 1.5 %; unknown; none",
        )  # fmt: skip
        said = _DIFFER.get(text.casefold(), f"differ by {text}")
        return make.chip("chip:variation", "Groups", said, [field], refused=refusal is not None)

    def questions(self, make: Builder) -> list[Block]:
        """Show what a person must say about the file, with a button for each answer."""
        state = self.state
        if not state.opened or not state.asked:
            return []
        open_ones = [one for one in state.asked if not self._given(one) and not one.default]
        rest = [one for one in state.asked if one not in open_ones]
        rows = sum(len(one.rows) for one in open_ones)
        found: list[Block] = [heading("Questions about the file")]
        if open_ones:
            many = "1 question is" if len(open_ones) == 1 else f"{len(open_ones)} questions are"
            said = f"{many} open. The rows they are about ({rows}) wait and are not counted."
            found.append(words(said, "warning"))
        by_kind: dict[str, list[Question]] = {}
        for one in open_ones:
            by_kind.setdefault(f"{one.kind} {one.answers}", []).append(one)
        for alike in by_kind.values():
            if len(alike) > 1:
                found.append(row(words(f"All {len(alike)} on {_ABOUT[alike[0].kind]}:"), *(
                    make.button(
                        f"all:{alike[0].kind}:{text}", f"All: {text}",
                        partial(state.answer, {one.key: text for one in alike}),
                    )
                    for text in alike[0].answers
                )))  # fmt: skip
            for one in alike[:_MOST_ASKED]:
                found += self._question(make, one)
            if len(alike) > _MOST_ASKED:
                found.append(
                    words(f"{more_are(len(alike) - _MOST_ASKED, 'question')} like these.", "note")
                )
        if rest:
            inner = [block for one in rest[:_MOST_ASKED] for block in self._question(make, one)]
            many = "1 question" if len(rest) == 1 else f"{len(rest)} questions"
            found.append(details(f"{many} answered, or taken for now", inner))
        return found

    def _given(self, asked: Question) -> str:
        return self.state.answers.get(asked.key, asked.answer if self.state.found else "")

    def _question(self, make: Builder, asked: Question) -> list[Block]:
        given = self._given(asked)
        taken = given or asked.default
        where = f"{capitalised(asked.where)}. " if asked.where else ""
        buttons = [
            make.button(
                f"answer:{asked.key}:{text}",
                capitalised(text),
                partial(self.state.answer, {asked.key: text}),
                enabled=text != given,
                look="quiet" if text == taken else "plain",
                spoken=f"{capitalised(text)}: {asked.text}",
            )
            for text in asked.answers
        ]
        if asked.key in self.state.answers:
            back = partial(self.state.answer, {asked.key: ""})
            buttons.append(make.button(f"back:{asked.key}", "Take the answer back", back))
        said = f" Answer: {given}." if given else f" Taken for now: {taken}." if taken else ""
        return [words(asked.text), words(f"{where}{asked.changes}{said}", "note"), row(*buttons)]

    def problems(self, make: Builder) -> list[Block]:
        """Show what became of the rows of the file."""
        result = self.state.result
        if result is None:
            return []
        found = result.data.problems
        said = [words(file_sentence(result), "note")]
        if balances := balances_sentence(result.data):
            said.append(words(balances, "note"))
        if not found:
            return [*said, words("There is nothing to look at in it.", "note")]
        some = "1 place" if len(found) == 1 else f"{len(found)} places"
        return [*said, details(f"{some} to look at in the file", problem_table(make, found))]

    # The verdict

    def verdict(self, make: Builder) -> list[Block]:
        """Show the verdict of the class, or what it waits for, and how far the work is."""
        state, result = self.state, self.state.result
        found: list[Block] = []
        last = state.last if result is None and state.opened else None
        if last is not None:
            refusal = state.refusal or state.variation_refusal
            look, headline = "waits", class_verdict_sentences(last)
            if refusal is not None:
                found.append(words(refusal.problem, "refusal"))
            found.append(words("This is of the file as it was read before.", "note"))
        elif result is not None:
            verdict = result.verdict
            cannot = verdict is None or verdict.verdict.kind is VerdictKind.CANNOT_BE_JUDGED
            line = class_diagnosis(result)
            look = "unjudged" if cannot else "current"
            headline, rest = class_verdict_sentences(result), ""
            if verdict is None:
                headline, _, rest = headline.partition(". ")
                found.append(words(rest))
            found.append(words(line.sentence, "warning" if line.mistyped else "diagnosis"))
            if len(result.evidence) != 1:
                found.append(words(groups_sentence(result), "note"))
        elif not state.opened:
            other = ", or the invented one" if self._has_invented() else ""
            look, headline = "none", f"Open the file of a class{other}."
        else:
            refusal = state.refusal or state.variation_refusal
            look, headline = "waits", "There is no verdict yet."
            if refusal is not None:
                found.append(words(refusal.problem, "refusal"))
            elif state.found is not None:
                waiting = waiting_sentence(state.found.data)
                found.append(words(f"{waiting} Answer below how the file is read.", "warning"))
        blocks: list[Block] = [answer_card(headline, look, found)]
        if state.working:
            blocks.append(make.progress(state.status, "stop", state.stop_work))
        elif state.status:
            again = make.button("again", "Work it out again", state.work_again)
            blocks.append(row(words(state.status, "status"), again))
        return blocks

    def candidates(self, make: Builder) -> list[Block]:
        """Show how well each candidate fits the class."""
        del make
        state = self.state
        result = state.result or (state.last if state.opened else None)
        if result is None or result.verdict is None:
            return []
        standings = statement_of_class(result.verdict).standings
        rows = [candidate_row(one, fits=one.status == "fits") for one in standings.values()]
        return [candidate_list(rows, stale=state.result is None)]

    def look_at(self, make: Builder) -> list[Block]:
        """Show what an instructor should look at, and how far the verdict goes."""
        del make
        result = self.state.result
        if result is None or self.state.together is None:
            return []
        found = [document(look_at_section(result))]
        further = _further(class_verdict_section(result, trust=False), result)
        if further:
            found.append(details("How far this goes", [document(Section("", further))]))
        return found

    def review(self, make: Builder) -> list[Block]:
        """Show the repairs that the readings suggest, what was decided, and what comes of it."""
        state = self.state
        found = None if state.found is None else state.found.review
        by_hand = self._by_hand(make)
        if found is None:
            return by_hand
        blocks: list[Block] = [
            heading("Repairs and decisions"),
            row(
                make.field("review-reason", "Why", state.reason, self._type_reason, width=30,
                           note="kept with what is accepted"),
                make.field("review-initials", "Initials", state.initials, self._type_initials,
                           width=8),
                make.button("accept-all", "Accept all repairs", self._accept_all),
                make.button("take-back", "Take all decisions back", partial(state.decide, ())),
            ),
        ]  # fmt: skip
        if state.codes:
            blocks.append(words(_NO_INITIALS, "note"))
        for place, one in enumerate(found.repairs[:_MOST_REPAIRS]):
            said = f"{_one_line(one.where)}: {one.words} ({one.slip.kind})"
            if one.accepted(found.decisions):
                back = partial(self._take_back, one)
                button = make.button(f"back:{place}", f"Take repair {place + 1} back", back)
                blocks.append(row(words(f"{said}. Accepted."), button))
            else:
                accept = partial(self._accept, (one,))
                button = make.button(f"accept:{place}", f"Accept repair {place + 1}", accept)
                blocks.append(row(words(f"{said}."), button))
        parts = (decision_table(found.decisions),) if found.decisions else ()
        return [*blocks, document(Section("", (side_by_side(found), *parts))), *by_hand]

    def _by_hand(self, make: Builder) -> list[Block]:
        """Offer to set a trial of the group chosen aside, or to correct one of its readings."""
        state = self.state
        if state.found is None or state.group not in state.found.data.names:
            return []
        trials = {t.name: t for t in state.found.data.groups[state.group].trials}
        hand = self._typed
        trial = hand.get("trial", "") if hand.get("trial") in trials else next(iter(trials))
        readings = trials[trial].readings
        name = hand.get("reading", "") if hand.get("reading") in readings else next(iter(readings))
        typed = readings[name][-1]

        def decide(kind: DecisionKind, **more: str) -> None:
            self.state.decide((*self.state.decided, Decision(
                state.group, trial, kind, reason=state.reason.strip(),
                initials=state.initials.strip(), **more,
            )))  # fmt: skip

        def correct() -> None:
            text = hand.get("text", "").strip()
            parse_number(text, name)  # refuses what is none
            decide(DecisionKind.CORRECTED, reading=name, typed=typed, corrected=text)
            hand["text"] = ""

        return [details(f"Set a trial of {_one_line(state.group)} aside, or correct a reading", [
            row(
                make.choice("hand-trial", "Trial", trial, [(t, t) for t in trials],
                            partial(hand.__setitem__, "trial")),
                make.button("hand-aside", "Set this trial aside",
                            partial(decide, DecisionKind.SET_ASIDE)),
            ),
            row(
                make.choice("hand-reading", "Reading", name, [(n, n) for n in readings],
                            partial(hand.__setitem__, "reading")),
                make.field("hand-text", "Should read", hand.get("text", ""),
                           partial(hand.__setitem__, "text"), width=10, note=f"typed: {typed}"),
                make.button("hand-correct", "Correct this reading", correct),
            ),
            words("The file stays as it was typed; why and initials are kept with it.", "note"),
        ])]  # fmt: skip

    def _type_reason(self, text: str) -> None:
        self.state.reason = text

    def _type_initials(self, text: str) -> None:
        self.state.initials = text

    def _accept(self, repairs: Sequence[Repair]) -> None:
        state = self.state
        state.decide(with_repairs(state.decided, repairs, state.reason, state.initials))

    def _take_back(self, repair: Repair) -> None:
        self.state.decide(without_repair(self.state.decided, repair))

    def _accept_all(self) -> None:
        if self.state.found is not None and self.state.found.review is not None:
            self._accept(first_repairs(self.state.found.review.repairs))

    # Pictures

    def picture(self, make: Builder) -> list[Block]:
        """Show the groups beside the candidates."""
        together = self.state.together
        if together is None:
            return []
        return [self._groups.block(make, together.groups, self.frame, "class")]

    def _once(self, name: str, of: tuple[Any, ...], build: Callable[[], T]) -> T:
        """Build something anew only if what it is of is another."""
        held = self._held.get(name)
        if held is None or not _same(held[0], of):
            held = self._held[name] = (of, build())
        found: T = held[1]
        return found

    # The groups

    def groups(self, make: Builder) -> list[Block]:
        """Show the groups as a table, from which one is chosen."""
        state = self.state
        table, result = state.table, state.result
        if table is None or result is None:
            return []
        found = [
            heading("Groups"),
            row(
                make.choice("order", "Order", state.order, [(o, o) for o in GroupTable.ORDERS],
                            state.set_order),
                make.field("part", "Only names that hold", state.part, state.set_part, width=18),
            ),
        ]  # fmt: skip
        names = state.groups_shown()
        total = len(table.names(state.order, state.part))
        if not names:
            return [*found, words("No group has a name that holds this text.", "note")]
        lines = [table.line(name) for name in names]
        header = ["Group", "Trials", "By itself", _ratio(result), "Best p", "Yield", "Look at"]
        sets = any(line.ratio_set for line in lines)
        header[4:4] = ["Not excluded"] if sets else []
        rows, looks = [], []
        for line in lines:
            cells = [line.trials, line.verdict, line.ratio, line.p, line.percent_yield]
            cells[3:3] = [line.ratio_set] if sets else []
            rows.append([_one_line(line.name), *(c or "–" for c in (*cells, line.remarks))])
            look = "warning" if line.remarks else ""
            looks.append(look if line.name in result.groups else "faint")
        count = f"{len(rows)} of {total} groups" if len(rows) < total else groups_text(total)
        place = names.index(state.group) if state.group in names else -1
        found.append(
            make.table(f"{count}, {state.order}", header, rows, name="pick",
                       chosen=partial(self._pick, names), selected=place, looks=looks)
        )  # fmt: skip
        if len(rows) < total:
            found.append(row(make.button("more", "Show more groups", state.show_more)))
        return found

    def _pick(self, names: Sequence[str], place: int) -> None:
        self.state.set_group(names[place])

    def group(self, make: Builder) -> list[Block]:
        """Show what the readings of one group say."""
        state, result, name = self.state, self.state.result, self.state.group
        if result is None or not name:
            return []
        shown = state.groups_shown()
        listed = shown if name in shown else (name, *shown)
        found = [
            heading("One group"),
            make.choice("group", "Group", name, [(n, _one_line(n)) for n in listed],
                        state.set_group, bare=True),
        ]  # fmt: skip
        why_not = result.evidence.not_assessed.get(name)
        if why_not is not None:
            return [*found, words(f"{_one_line(name)} was not assessed: {why_not}", "warning")]
        found += self._once("group", (result, name), lambda: _group_blocks(result, name))
        evidence = result.group(name)
        plot = self._once("plot", (evidence,), lambda: DecisionPicture.of(evidence, cells=True))
        return [*found, self._amounts.block(make, plot, self.frame, "class")]

    def more_of_group(self, make: Builder) -> list[Block]:
        """Show what stands behind it, for those who ask."""
        del make
        result, name = self.state.result, self.state.group
        if result is None or not name or name in result.evidence.not_assessed:
            return []
        return self._once("more", (result, name), lambda: _more_blocks(result, name))

    def together(self, make: Builder) -> list[Block]:
        """Show the class together, once asked for: trust, pooled, straight line, outlook, rules."""
        result, together, task = self.state.result, self.state.together, self._report
        if result is None or together is None:
            return []
        found = [heading("The class together")]
        if self._report_asked:
            task.want(result, partial(_sections_together, result))
        else:
            said = (
                "What would overturn the verdict, the groups pooled in the usual ways, the "
                "straight line and blank, what more groups or other instruments would add, and "
                "what is assumed. It takes a second or two."
            )
            show = make.button("together", "Show the class together", self._ask_together)
            found += [words(said, "note"), row(show)]
        found += task.blocks(make)
        for section in task.result or () if task.found_for is result else ():
            blocks = [document(Section("", section.parts))]
            if section.title == _LINE and together.line is not None:
                blocks.append(self._line(make, together))
            found.append(details(section.title, blocks))
        return found

    def _ask_together(self) -> None:
        """Have it worked out, also of what is read of the class from now on."""
        self._report_asked = True

    def _line(self, make: Builder, together: Together) -> Block:
        line = together.line
        assert line is not None
        spots = [
            spot(
                s.name,
                f"{s.name}: {s.consumed_mmol:.3g} mmol {line.consumed} used up, "
                f"{s.produced_mmol:.3g} mmol {line.produced} made",
                (s.consumed_mmol, s.produced_mmol),
            )
            for s in line.spots
        ]
        few = spots if len(spots) <= _MOST_SPOTS else ()
        hint = "Point at a group to see its amounts." if few else ""
        return self._straight.block(make, line, self.frame, "class", spots=few, hint=hint)

    # While the class is at work

    def next(self, make: Builder) -> list[Block]:
        """Show what more groups, and more trials of those that do not conclude, would add."""
        result, task = self.state.result, self._next
        if result is None:
            task.forget()
            return []
        if task.key is not None and task.key is not result:
            task.forget()
        found = [heading(FOLLOWING)]
        if not task.running and task.result is None:
            said = (
                "How sure the class is by now, and how many more trials, and of what kind, would "
                "let each group conclude that does not by itself. About a second for each."
            )
            found += [words(said, "note"), row(make.button("next", "Work it out", self._ask_next))]
        found += task.blocks(make)
        if task.result is not None:
            found.append(document(following_section(task.result, title=""), titled=False))
        return found

    def _ask_next(self) -> None:
        result = self.state.result
        if result is not None:
            groups = self.lab.kit.plan.figures.groups
            self._next.start(result, partial(_following, result, groups))

    @property
    def _asked_next(self) -> ClassFollowing | None:
        """What more trials would add to this result, where it was asked for."""
        return self._next.result if self._next.found_for is self.state.result else None

    # Answers

    def marks(self, make: Builder) -> list[Block]:
        """Show how students' answers are opened, and their marks."""
        return self._marked.blocks(make, self.state)

    def _hand_over(self, name: str, kind: str, content: bytes) -> None:
        if self.frame is not None:
            self.frame.hand_over(name, kind, content)

    # What is handed out

    def hand_out(self, make: Builder) -> list[Block]:
        """Show what can be saved, in which form, and where."""
        state = self.state
        if state.result is None and state.found is None:
            return []
        kind, ending = KINDS[self._kind], self._endings[self._kind]
        controls = [
            make.choice("kind", "What", self._kind, [(n, k.words) for n, k in KINDS.items()],
                        self._choose_kind),
            make.choice("ending", "As", ending, [(e, _TYPES[e][0]) for e in kind.endings],
                        self._choose_ending),
        ]  # fmt: skip
        if ending == ".csv" and self._kind in ("results", "key"):
            marks = [(one, one) for one in MARKS]
            controls.append(make.choice("marks", "Marks", self._marks, marks, self._choose_marks))
        controls.append(make.button("hand", "Hand to the browser", self._hand, look="main"))
        found = [heading("Hand out"), row(*controls)]
        if self._kind == "codes":
            said = (
                "This file says which name each code stands for. Keep it apart from everything "
                "that is handed on, where only you can read it."
                if state.codes
                else "There is no key: the groups go by their names. Tick the codes above first."
            )
            found.append(words(said, "warning"))
        if self._kind == "group" and state.group:
            found.append(words(f"The group chosen is {_one_line(state.group)}.", "note"))
        path = self._path or Path(kind.name).with_suffix(ending).name
        refusal, note = None, ""
        try:
            note = f"Full name: {class_target(state, self._kind, path, replace=True)}"
        except StoichkitError as error:
            refusal = refusal_of(error)
        found.append(
            details(
                "Save it where Python runs",
                [
                    make.field("target", "Save as", path, self._type_path, refusal=refusal,
                               note=note, width=44),
                    make.tick("class-replace", "A file of this name may be replaced", self._replace,
                              self._tick_replace),
                    row(make.button("class-write", "Save", self._write)),
                ],
            )
        )  # fmt: skip
        return [*found, *self._saving.blocks(make)]

    def _choose_kind(self, kind: str) -> None:
        self._kind = kind
        self._saving.forget()

    def _choose_ending(self, ending: str) -> None:
        self._endings[self._kind] = ending

    def _choose_marks(self, marks: str) -> None:
        self._marks = marks

    def _type_path(self, text: str) -> None:
        self._path = text
        self._saving.forget()

    def _tick_replace(self, on: bool) -> None:
        self._replace = on

    def _hand(self) -> None:
        state, kind, ending, marks = (
            self.state, self._kind, self._endings[self._kind], self._marks
        )  # fmt: skip
        more = self._asked_next

        def written(report: Report) -> tuple[str, bytes]:
            return class_content(state, kind, ending, marks=marks, report=report, following=more)

        def done(found: tuple[str, bytes]) -> None:
            name, content = found
            self._hand_over(name, _TYPES[ending][1], content)

        if kind != "choices":
            saveable(state)
        self._saving.start(None, written, done=done)

    def _write(self) -> None:
        state, kind, marks, replace = self.state, self._kind, self._marks, self._replace
        path = self._path or Path(KINDS[kind].name).with_suffix(self._endings[kind]).name
        more = self._asked_next

        def written(report: Report) -> Path:
            return write_class(
                state, kind, path, marks=marks, replace=replace, report=report, following=more
            )

        def done(target: Path) -> None:
            self._saving.words = f"Saved: {target}"

        class_target(state, kind, path, replace=replace)
        self._saving.start(None, written, done=done)


def _following(result: ClassResult, groups: int, report: Report) -> ClassFollowing:
    """Return what more groups and trials would add; the room may have more benches than are in."""

    def told(done: int, total: int) -> None:
        report(f"Simulating groups that go on, {done + 1} of {total} …")

    more = groups if groups > len(result.evidence) else None
    return class_following(result, groups=more, progress=told)


def _sections_together(result: ClassResult, report: Report) -> tuple[Section, ...]:
    """Return what the report says of the class as a whole that is shown nowhere else."""

    def told(done: int, total: int) -> None:
        report(f"Ratios that group {done} of {total} does not exclude …")

    report("Putting the class together …")
    found = class_report(result, pictures=False, progress=told).sections
    trust = " ".join(class_trust_sentences(result))
    first = (Section("What would overturn the verdict of the class", (trust,)),) if trust else ()
    return (*first, *(section for section in found if section.title not in _ABOVE))


# What is shown, as blocks


def preview_table(make: Builder, preview: Preview, *, codes: bool = False) -> Block:
    """Return the first rows of a file below what each column is taken for.

    With ``codes`` whatever may name a person is hidden.
    """
    columns = preview.matched[:_MOST_COLUMNS]
    readings = [c.field not in ("", GROUP, TRIAL) for c in columns]
    taken = []
    for column in columns:
        unit = f" ({column.unit.words})" if column.unit and not column.unit.same else ""
        taken.append(f"{column.field or 'not used'}{unit}")
    rows = [["taken for", *taken]]
    for number, cells in enumerate(preview.sample, preview.first_row):
        padded = [*cells, *[""] * len(columns)][: len(columns)]
        shown = [
            HIDDEN if codes and cell.strip() and not seen else cell.strip()[:_MOST_CELL]
            for cell, seen in zip(padded, readings, strict=True)
        ]
        rows.append([f"row {number}", *shown])
    head = [c.letter if codes and not c.field else c.label[:_MOST_CELL] for c in columns]
    more = len(preview.matched) - len(columns)
    caption = "First rows of the file" + (f"; {more_are(more, 'column')} not shown" if more else "")
    return make.table(caption, ["Column", *head], rows, prose=True)


def problem_table(make: Builder, problems: Sequence[Problem]) -> list[Block]:
    """Return what a person should look at in a file, and what was done about it."""
    rows = []
    for p in problems[:MOST_PROBLEMS]:
        given = f" Given: {p.given}." if p.given else ""
        allowed = f" Allowed: {p.allowed}." if p.allowed else ""
        rows.append([p.place, f"{p.text}{given}{allowed}", _for_screen(p.done) or "–"])
    more = len(problems) - len(rows)
    caption = f"The first {len(rows)}" if more else ""
    found = [make.table(caption, ["Where", "What is odd", "What was done"], rows, prose=True)]
    if more:
        found.append(
            words(f"{more_are(more, 'place')} in the list of rows that can be saved.", "note")
        )
    return found


def _for_screen(text: str) -> str:
    """Name the controls of the screen instead of arguments of a function."""
    return text.replace("confirm or correct it in the choices", "confirm or correct it above")


def _kept_words(state: ClassState) -> str:
    """Say what of the file is kept for a restart of the kernel."""
    if state.invented:
        return "It opens again after a restart."
    if state.path is not None:
        return "After a restart it is read again from its path; nothing in it is kept elsewhere."
    if state.is_kept:
        return (
            "Its content, names and all, is kept for a restart in a file that only you can read. "
            "Open it by its path if it shall not be."
        )
    return "It is too large to be kept for a restart. Open it by its path to have it come back."


def _ratio(result: ClassResult) -> str:
    lab = result.experiment
    return f"{symbol(lab.produced.species)}/{symbol(lab.consumed.species)}"


def _further(section: Section, result: ClassResult) -> tuple[Part, ...]:
    """Return what the section on the verdict says beyond what stands above it."""
    said = (class_diagnosis(result).sentence, groups_sentence(result))
    return tuple(p for p in section.parts if not isinstance(p, Strong) and p not in said)


def _group_blocks(result: ClassResult, name: str) -> list[Block]:
    """Return the verdict of a group, its slips, ratio and yield."""
    evidence, slips = result.group(name), slip_lines(result, name)
    none = "No slip was found beside the other trials of the class."
    title, line = f"{_one_line(name)}: verdict", group_diagnosis(result, name)
    sections = (
        verdict_section(evidence, title=title, diagnosis=line, trust=False),
        Section("Slips in the readings", (Bullets(slips) if slips else none,)),
        ratio_section(evidence, pictures=False),
        yield_section(evidence),
    )
    return [document(one) for one in sections]


_SHOWN = ("Verdict", "Slips in the readings", "Mole ratio", "Yield")


def _more_blocks(result: ClassResult, name: str) -> list[Block]:
    """Return the rest of the report on a group, each section to be opened."""
    found = group_report(result, name, pictures=False)
    return [
        details(section.title, [document(Section("", section.parts))])
        for section in found.sections
        if section.title not in _SHOWN
    ]


def _same(one: tuple[Any, ...], other: tuple[Any, ...]) -> bool:
    """Whether two are of the same objects, or of equal texts and numbers."""
    return len(one) == len(other) and all(
        a is b or (isinstance(a, str | float) and a == b) for a, b in zip(one, other, strict=True)
    )


def _one_line(name: str) -> str:
    return " ".join(name.split())[:80] or "(no name)"
