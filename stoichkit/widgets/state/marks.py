"""The answers of a class on the screen “Class”, without Jupyter: opened, marked, handed out.

Answers are only read, and nothing of them is kept for a restart.
"""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory

from ...classroom.data import decided_rows
from ...classroom.export import export_grades
from ...classroom.marking import ClassMarks, GroupMarks, mark_class
from ...classroom.rubric import Rubric
from ...errors import DataFileError, ModelError
from ...reports.feedback import feedback_pages
from ..kit.work import Report, silent
from .classroom import ClassState, Found

HANDED_OUT = {
    "grades": ("Grades (XLSX)", "grades.xlsx"),
    "csv": ("Grades (CSV)", "grades.csv"),
    "feedback": ("Feedback by group (HTML)", "feedback.html"),
}
"""What can be handed out of marks: its words, and the name of the file."""


class MarksState:
    """Answers that came back, and their marks.

    Parameters
    ----------
    state : ClassState
        The class whose readings they are judged against, with what was decided of them.

    Examples
    --------
    >>> state = ClassState("copper-silver")
    >>> state.open_invented()
    >>> state.take(state.work_out())
    >>> marks = MarksState(state)
    >>> marks.open("answers.csv", b"group,m(Cu),conclusion\\nteal,0.09,copper(II)\\n")
    >>> marks.take(marks.work_out())
    >>> marks.marks.groups["teal"].points, marks.header()[:3]
    (2.0, ('Group', 'm(Cu)', 'n(Cu)'))
    """

    def __init__(self, state: ClassState) -> None:
        self.state = state
        self.files: tuple[tuple[str, bytes], ...] = ()
        self.rubric: Rubric | None = None
        self.group = ""
        self._marks: tuple[Found | None, ClassMarks] | None = None

    def open(self, name: str, content: bytes) -> None:
        """Add an answer sheet (CSV, XLSX) or a page that was handed in."""
        self.files = (*(one for one in self.files if one[0] != name), (name, content))
        self._marks = None

    def open_rubric(self, _name: str, content: bytes) -> None:
        """Take over a rubric, in the place of one point an item."""
        try:
            text = content.decode("utf-8-sig")
        except UnicodeDecodeError:
            raise DataFileError("The rubric is not text in UTF-8.", allowed="TOML") from None
        self.rubric = Rubric.parse(text)
        self._marks = None

    def close_files(self) -> None:
        """Put the answers and their marks away."""
        self.files, self.rubric, self._marks, self.group = (), None, None, ""

    @property
    def marks(self) -> ClassMarks | None:
        """The marks of the answers and the readings as they stand now."""
        if self._marks is None or self._marks[0] is not self.state.found:
            return None
        return self._marks[1]

    def work_out(self, report: Report = silent) -> tuple[Found | None, ClassMarks]:
        """Mark the answers; nothing here is changed, so that it can run beside all else."""
        found = self.state.found
        if found is None or not self.files:
            raise ModelError("There is nothing to mark yet.", fix="Open the answers of a class.")

        def told(done: int, total: int) -> None:
            report(f"Marking group {done} of {total} …")

        contents = [content for _, content in self.files]
        data = decided_rows(found.data)
        return found, mark_class(contents, data, rubric=self.rubric, progress=told)

    def take(self, found: tuple[Found | None, ClassMarks]) -> None:
        """Show marks that were worked out."""
        self._marks = found
        groups = found[1].groups
        if self.group not in groups:
            shown = (name for name, one in groups.items() if one.handed_in)
            self.group = next(shown, next(iter(groups), ""))

    def header(self) -> tuple[str, ...]:
        """Return the header of the table of marks."""
        items = () if self.marks is None else self.marks.items
        return ("Group", *(item.key for item in items), "Points", "Out of", "Look at")

    def rows(self) -> list[tuple[str, ...]]:
        """Return a row for each group: its points item by item."""
        if self.marks is None:
            return []
        keys = [item.key for item in self.marks.items]
        return [
            (name, *(_points(group, key) for key in keys), _number(group.points),
             _number(group.out_of), " ".join(group.remarks) or "–")
            for name, group in self.marks.groups.items()
        ]  # fmt: skip

    def answers(self) -> list[tuple[str, ...]]:
        """Return a row for each answer of the group chosen."""
        group = None if self.marks is None else self.marks.groups.get(self.group)
        return [] if group is None else [
            (one.judgement.item, one.judgement.trial or "–", one.judgement.typed or "–",
             one.judgement.answer or "–", str(one.kind), _number(one.points),
             one.judgement.words or "–")
            for one in group.marks
        ]  # fmt: skip

    def handed_out(self, kind: str) -> tuple[str, bytes]:
        """Return name and content of the grade file or the feedback."""
        marks = self.marks
        if marks is None:
            raise ModelError("There are no marks yet.", fix="Open the answers of a class.")
        name = HANDED_OUT[kind][1]
        with TemporaryDirectory() as folder:
            place = Path(folder) / name
            if kind == "feedback":
                feedback_pages(marks, result=self.state.result).save(place)
            else:
                export_grades(marks, place)
            return name, place.read_bytes()


def _points(group: GroupMarks, key: str) -> str:
    found = group.of(key)
    if not any(one.out_of for one in found):
        return "not asked"
    return _number(sum(one.points for one in found))


def _number(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")
