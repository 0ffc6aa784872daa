"""The region “Answers and marks” of the screen “Class”."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

from ..state.classroom import ClassState
from ..state.marks import HANDED_OUT, MarksState
from .blocks import Block, Builder, details, heading, row, words
from .task import Task

_MOST_PROBLEMS = 20
_TYPES = {
    "grades": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "csv": "text/csv",
    "feedback": "text/html",
}


class MarksRegion:
    """Where students' answers are opened, marked and handed out.

    ``changed`` shows the screen anew; ``hand`` hands a file to the browser.
    """

    def __init__(
        self, changed: Callable[[], object], hand: Callable[[str, str, bytes], object]
    ) -> None:
        self._hand, self._state = hand, None
        self._work: Task[Any] = Task("marks", changed)

    _state: MarksState | None

    def of(self, state: ClassState) -> MarksState:
        """Return the answers that belong to a class."""
        if self._state is None or self._state.state is not state:
            self._state = MarksState(state)
        return self._state

    def close(self) -> None:
        """Stop what is being marked."""
        self._work.forget()

    def blocks(self, make: Builder, state: ClassState) -> list[Block]:
        """Show how answers are opened, and what they are."""
        if state.result is None:
            return []
        marks = self.of(state)
        found: list[Block] = [
            heading("Answers and marks"),
            words(
                "What the groups worked out from their readings: the answer sheet filled in, or "
                "pages handed in, one after another. They are only read, and not kept.", "note",
            ),
            row(
                make.file("answers", "Answers (CSV, XLSX or HTML)",
                          ".csv,.xlsx,.txt,.tsv,.html,.htm,.mhtml,.mht",
                          partial(self._open, marks)),
                make.file("rubric", "A rubric (TOML), if points are not one an item", ".toml",
                          partial(self._open_rubric, marks)),
            ),
        ]  # fmt: skip
        if not marks.files:
            return found
        names = "answers, their names not shown" if state.codes else ", ".join(
            name or "answers" for name, _ in marks.files
        )  # fmt: skip
        away = make.button("answers-away", "Put the answers away", partial(self._away, marks))
        found.append(row(words(f"Open: {names}."), away))
        if marks.marks is None:
            self._work.want((state.found, marks.files, marks.rubric), marks.work_out)
            if self._work.result is not None and self._work.result[0] is state.found:
                marks.take(self._work.result)
        found += self._work.blocks(make)
        if marks.marks is None:
            return found
        rows, chosen = marks.rows(), list(marks.marks.groups)
        found.append(
            make.table("Points item by item", marks.header(), rows, name="marked",
                       chosen=lambda place: setattr(marks, "group", chosen[place]),
                       selected=chosen.index(marks.group))
        )  # fmt: skip
        header = ("Item", "Trial", "Typed", "Right answer", "Judged", "Points", "Remark")
        answers = make.table(f"Answers of {marks.group}", header, marks.answers(), prose=True)
        found.append(answers)
        if marks.marks.problems:
            said = [words(str(one), "note") for one in marks.marks.problems[:_MOST_PROBLEMS]]
            found.append(details(f"{len(marks.marks.problems)} places to look at", said))
        found.append(row(*(
            make.button(f"hand-{kind}", label, partial(self._hand_out, marks, kind))
            for kind, (label, _) in HANDED_OUT.items()
        )))  # fmt: skip
        return found

    def _open(self, marks: MarksState, name: str, content: bytes) -> None:
        marks.open(name, content)
        self._work.forget()

    def _open_rubric(self, marks: MarksState, name: str, content: bytes) -> None:
        marks.open_rubric(name, content)
        self._work.forget()

    def _away(self, marks: MarksState) -> None:
        marks.close_files()
        self._work.forget()

    def _hand_out(self, marks: MarksState, kind: str) -> None:
        name, content = marks.handed_out(kind)
        self._hand(name, _TYPES[kind], content)
