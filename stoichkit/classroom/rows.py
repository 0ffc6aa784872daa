"""Whose reading each row of a class file holds, or why it was not used, or what it waits for."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal

import numpy as np
from numpy.typing import NDArray

from ..experiments.record import MAX_TRIALS, Experiment
from ..measurement.base import Instrument, Role
from ..text.sheets import undefused
from ..uncertainty.readings import parse_number
from . import questions as asking
from .balances import Balances, balance_column
from .cells import Cells, Remark, read_cells, remarks_on
from .choices import AnswerGiven
from .columns import GROUP, TRIAL, Column, Unit, clean_text, number_and_unit
from .names import all_usable, codes_of, distinct, is_usable, plain_names, usable_name
from .questions import Question, QuestionKind, mark_of, plain_name, rows_text
from .records import ClassRows, Part, RowUse, Span, answered
from .tables import Problem, place_in_words

_SET_ASIDE = "The row was set aside."
_ANSWER_IT = "The row waits for an answer."
_MOST_BALANCES = 6


def read_rows(
    parts: Sequence[Part],
    experiment: Experiment,
    *,
    codes: bool = False,
    answers: Mapping[str, AnswerGiven] | None = None,
) -> ClassRows:
    """Sort out the rows of tables whose columns are matched; no row is lost, none repaired."""
    rows = _Rows(parts, experiment, hide_names=codes, answers=answers or {})
    for part in parts:
        rows.note_the_columns(part)
    rows.read_cells()
    rows.find_groups()
    rows.ask_about_rows()
    rows.name_trials()
    rows.check_what_is_read_once()
    rows.keep_waiting()
    rows.drop_empty_groups()
    rows.ask_about_readings()
    return rows.sorted_out(codes=codes)


class _Rows:
    """The rows below the headers while they are sorted out, counted from 0 through all parts."""

    def __init__(
        self,
        parts: Sequence[Part],
        experiment: Experiment,
        *,
        hide_names: bool,
        answers: Mapping[str, AnswerGiven],
    ) -> None:
        self.parts, self.experiment = parts, experiment
        self.hide_names, self.answers = hide_names, answers
        self.own = all(part.own for part in parts)
        self.roles = {role.name: role for role in experiment.roles() if role.needs_reading}
        self.problems: list[Problem] = []
        self.questions: list[Question] = [one for part in parts for one in part.asked]
        # what the cells hold
        self.readings: dict[str, Cells] = {}
        self.faults: dict[int, list[Problem]] = {}
        self.filled = np.zeros(0, dtype=np.bool_)
        self.group_cells: list[str] = []
        self.trial_cells: list[str] = []
        self.has_groups: list[bool] = []  # by part
        self.has_trials: list[bool] = []
        count = 0
        for part in parts:
            part.start = count
            count += part.count
            for name, has, cells in (
                (GROUP, self.has_groups, self.group_cells),
                (TRIAL, self.has_trials, self.trial_cells),
            ):
                columns = part.preview.of(name)
                has.append(bool(columns))
                found = part.column(columns[0].index) if columns else [""] * part.count
                cells += [undefused(one) for one in found] if part.own else _cleaned(found)
        # what becomes of them
        self.summaries: dict[int, tuple[str, str]] = {}  # rows whose label may say it is a mean
        self.names: list[str] = []
        self.group_of = np.full(count, -1, dtype=np.intp)
        self.trials = [""] * count
        self.uses = [RowUse.USED] * count
        self.reasons: dict[int, str] = {}
        self.held: dict[int, tuple[RowUse, str]] = {}
        self.balances: dict[int, str] = {}
        self.weighed = Balances.of(experiment)
        self.named: tuple[str, ...] = ()  # all groups, those that are left out too
        self.named_of = self.group_of  # place of the group of each row among them; -1 for others
        self.coded_trials: dict[tuple[str, str], str] = {}

    def _part(self, index: int) -> Part:
        return next(part for part in reversed(self.parts) if part.start <= index)

    def _origin(self, index: int) -> tuple[Part, int | None, str]:
        """Return where a row stands in the file."""
        part = self._part(index)
        place = part.preview.first_row - 1 + index - part.start
        return part, *part.shaped.origin(place)

    def _words(self, index: int) -> str:
        part, row, which = self._origin(index)
        return place_in_words(part.sheet, row, which)

    def _tell(
        self,
        index: int | Part | None,
        text: str,
        *,
        column: str = "",
        given: str = "",
        allowed: str = "",
        done: str = _SET_ASIDE,
    ) -> None:
        """List a problem of a row, of a sheet, or of the file."""
        sheet, row, which = "", None, ""
        if isinstance(index, Part):
            sheet = index.sheet
        elif index is not None:
            part, row, which = self._origin(index)
            sheet = part.sheet
        self.problems.append(Problem(row, column, text, given, allowed, done, sheet, which))

    def _set_aside(self, index: int, reason: str, text: str = "", **more: str) -> None:
        """Take a row out of use, and say so unless it is said already."""
        self.group_of[index] = -1
        self.uses[index] = RowUse.SET_ASIDE
        self.reasons[index] = reason
        if text:
            self._tell(index, text, **more)

    def _shown(self, text: str) -> str:
        """Return text that may name a person, on one line, or "" if names are hidden."""
        return "" if self.hide_names else " ".join(text.split())[:80]

    def _number_shown(self, text: str) -> str:
        """Return what a cell of numbers holds; with codes only if no name can be in it."""
        letters = sum(c.isalpha() for c in text)
        plain = letters <= 1 or number_and_unit(text) is not None
        return text if plain or not self.hide_names else ""

    def _named(self, name: str) -> str:
        return f", {self._shown(name)}" if self._shown(name) else ""

    def _label(self, column: Column) -> str:
        """Return letter and header of a column; with codes the header may hold a name."""
        if not self.hide_names:
            return column.label
        return f"{column.letter} ({column.field})" if column.field else column.letter

    def note_the_columns(self, part: Part) -> None:
        """Say what was decided about the file as a whole and about its columns."""
        matched = part.preview.matched
        letters = {column.letter: column for column in matched}
        for problem in part.shaped.table.problems:
            column = letters.get(problem.column)
            if problem.row is None and problem.column:
                if column is None or column.field in ("", GROUP, TRIAL):
                    continue  # how a column without readings stores its numbers
                self.problems.append(replace(problem, column=self._label(column), sheet=part.sheet))
            else:
                label = problem.column if column is None else self._label(column)
                given = self._shown(problem.given)
                self.problems.append(replace(problem, column=label, given=given, sheet=part.sheet))
        if part.unread:
            return
        if part.preview.shape and part.preview.shape != "no header":
            self._tell(part, f"The table stands otherwise: {part.preview.shape}.",
                       done="It was read as one row a trial.")  # fmt: skip
        answered = {one.key for one in part.asked if one.answer}
        for column in matched:
            unit = column.unit
            if column.question and f"column:{part.prefix}{column.letter}" not in answered:
                done = "It was used so" if column.field else "The column was not used"
                done += "; confirm or correct it in the choices."
                question = column.question
                if self.hide_names and column.header:
                    question = question.replace(f" (“{column.header}”)", "")
                self._tell(part, question, column=self._label(column), done=done)
            elif not column.field:
                filled = sum(map(bool, part.column(column.index)))
                if filled and (column.header or part.preview.header_row):
                    self._tell(
                        part,
                        "The column is not a reading of this experiment.",
                        column=self._label(column),
                        given=f"text in {filled} rows",
                        done="It was not used.",
                    )
            if column.field and unit is not None and not unit.same:
                self._tell(
                    part,
                    "The column is in another unit.",
                    column=self._label(column),
                    given=unit.symbol,
                    done=f"Its numbers were converted: {unit.words}.",
                )
        place = self.parts.index(part)
        if not self.has_groups[place]:
            done = "one group" if self.has_trials[place] else "a group of its own for each row"
            self._tell(part, "No column names the groups.", done=f"Read as {done}.")

    def read_cells(self) -> None:
        """Read the columns of readings; note the faults of each row, and whether it has text."""
        several = len(self.parts) > 1
        filled = []
        for part in self.parts:
            filled.append(np.zeros(part.count, dtype=np.bool_))
            if part.unread:
                texts = (any(map(str.strip, part.row(index))) for index in part.places)
                filled[-1] |= np.fromiter(texts, np.bool_, part.count)
            for name, role in self.roles.items():
                found = None if part.unread else self._read_role(part, name, role, filled[-1])
                if several:
                    found = Cells.empty(part.count) if found is None else found
                    before = self.readings.get(name)
                    self.readings[name] = found if before is None else before.followed_by(found)
                elif found is not None:
                    self.readings[name] = found
        self.filled = np.concatenate([self.filled, *filled])
        for name in [n for n, c in self.readings.items() if several and np.isnan(c.values).all()]:
            del self.readings[name]

    def _read_role(
        self, part: Part, name: str, role: Role, filled: NDArray[np.bool_]
    ) -> Cells | None:
        """Read the columns of one reading; note which rows have text in them."""
        columns, found = part.preview.of(name), None
        faulty: set[int] = set()

        def fault(column: Column, f: Remark) -> None:
            _, row, which = self._origin(part.start + f.row)
            problem = Problem(
                row, self._label(column), f.text, self._number_shown(f.given), f.allowed,
                _SET_ASIDE, part.sheet, which,
            )  # fmt: skip
            self.faults.setdefault(part.start + f.row, []).append(problem)

        for column in columns:
            cells = part.column(column.index)
            one = read_cells(cells, role, column.unit)
            filled |= ~np.isnan(one.values)
            for row in np.flatnonzero(~filled).tolist():
                filled[row] = bool(cells[row])
            for f in one.faults:
                fault(column, f)
                faulty.add(f.row)
            for r in one.remarks:
                self._tell(
                    part.start + r.row,
                    r.text,
                    column=self._label(column),
                    given=r.given,
                    done="The number was used.",
                )
            found = one if found is None else found.then(one, role)
        if found is not None:
            found.faults, found.remarks = [], []  # told, and they may hold names
        needed = not role.optional and name not in self.experiment.shared_readings
        if found is not None and needed:
            allowed = f"{role.quantity} in {role.unit}"
            for index in np.flatnonzero(np.isnan(found.values)).tolist():
                if index not in faulty:
                    fault(columns[0], Remark(index, "The cell is empty.", "", allowed))
        return found

    def find_groups(self) -> None:
        """Give each row its use and its group.

        An empty group cell takes the name above it, as in a sheet where only the first row of a
        group carries the name. Rows with faults, without readings, and rows of means and totals
        are set aside.
        """
        self._find_summaries()
        variants: dict[int, dict[str, int]] = {}
        index_of: dict[str, int] = {}
        known: dict[str, int] = {}
        owners = self._owners()
        used = [owner for owner in owners if owner is not None]
        written = list(dict.fromkeys(used))
        plain = written if self.own else plain_names(written)
        if len({*plain}) == len(written):
            self.names = written
            known = dict(zip(written, range(len(written)), strict=True))
        else:  # some are written alike
            first = dict(zip(reversed(owners), reversed(range(len(owners))), strict=True))
            for owner, name in zip(written, plain, strict=True):
                group = index_of.setdefault(name, len(self.names))
                if group < len(self.names) and self._apart(first[owner], group, owner):
                    group = len(self.names)
                if group == len(self.names):
                    self.names.append(owner)
                else:
                    variants.setdefault(group, {})[owner] = first[owner]
                known[owner] = group
        where = np.array([owner is not None for owner in owners], dtype=np.bool_)
        lone = len(self.names) == len(used)  # every group has one row
        self.group_of[where] = np.arange(len(used)) if lone else [known[owner] for owner in used]
        for group, others in variants.items():
            same = {" ".join(w.split()).casefold() for w in (self.names[group], *others)}
            how = "" if len(same) == 1 else " They differ in characters that are hardly seen."
            self._tell(
                None,
                f"A group is written in several ways.{how}",
                given=self._shown(", ".join(sorted({self.names[group], *others}))),
                done=f"Read as one group{self._named(self.names[group])}.",
            )
        if not (self.own and all(map(is_usable, self.names))):
            self.names = distinct(self.names)

    def _apart(self, index: int, group: int, owner: str) -> bool:
        """Ask whether another spelling is the same group; return whether it is said not to be."""
        part, row, _ = self._origin(index)
        named = "" if self.hide_names else f", “{usable_name(owner)}” and “{self.names[group]}”"
        asked = self._ask(
            f"spelling:{part.prefix}{row or self._words(index)}",
            QuestionKind.SPELLING,
            f"Two groups are written almost alike{named}: are they one group?",
            [index],
            "Their trials are counted together, or as two groups.",
            (asking.ONE_GROUP, asking.APART),
            default=asking.ONE_GROUP,
        )
        return asked.taken == asking.APART

    def _find_summaries(self) -> None:
        """Find rows of which some text says that they are averages, totals or the like."""
        for part in self.parts:
            if part.unread:
                continue
            free = [c for c in part.preview.matched if not c.field]
            columns = [part.column(c.index) for c in free]
            end = part.start + part.count
            named = (self.group_cells[part.start : end], self.trial_cells[part.start : end])
            for cells, label in (*((c, True) for c in named), *((c, False) for c in columns)):
                words = asking.summaries(cells)
                if not words:
                    continue
                for place, cell in enumerate(cells):
                    word = words.get(cell)
                    printed = part.own and named[0][place] and named[1][place]
                    if word and self.filled[part.start + place] and not printed:
                        found = word if label else "hint"
                        self.summaries.setdefault(part.start + place, (found, cell))

    def _owners(self) -> list[str | None]:
        """Return the group of each row in use as its cell has it; None for other rows."""
        owners: list[str | None] = [None] * len(self.filled)
        for part, has_groups, has_trials in zip(
            self.parts, self.has_groups, self.has_trials, strict=True
        ):
            self._owners_of(part, owners, has_groups=has_groups, has_trials=has_trials)
        return owners

    def _owners_of(
        self, part: Part, owners: list[str | None], *, has_groups: bool, has_trials: bool
    ) -> None:
        current, gap, above = "", False, None
        taken_over: list[int] = []
        header = _header_of(part)
        clean = self._clean_rows(part, len(header)) if has_groups else np.zeros(part.count, bool)
        here = slice(part.start, part.start + part.count)
        kept = zip(self.group_cells[here], clean.tolist(), strict=True)
        owners[here] = [cell if has else None for cell, has in kept]
        for place in np.flatnonzero(~clean).tolist():
            index = part.start + place
            if place and clean[place - 1]:
                current, gap = self.group_cells[index - 1], False
                above = self._origin(index - 1)[1] if part.shaped.origins else None
            group = self.group_cells[index]
            cells = part.row(index)
            if not self.filled[index]:
                gap = self._without_readings(index, cells)
                current = group or current
                continue
            if part.unread:
                self.uses[index] = RowUse.WAITING
                self.reasons[index] = part.asked[0].text if part.asked else ""
                continue
            if self._holds_no_trial(index, cells, header):
                continue
            if not has_groups:
                current = "all" if has_trials else self._words(index)
            elif group:
                current = group
            elif not current:
                self._set_aside(
                    index, "no group", "The row has no group, and none stands above it."
                )
                continue
            else:
                row = self._origin(index)[1]
                if above is None or row is None or row != above:  # else another trial of that row
                    taken_over.append(index)
                if gap:
                    self._tell(
                        index,
                        "The group cell is empty after a blank row: is it still the same group?",
                        done=f"The row was counted to the group above{self._named(current)}.",
                    )
            gap, above = False, self._origin(index)[1] if part.shaped.origins else None
            if index in self.faults:
                self.problems += self.faults[index]
                self._set_aside(index, self.faults[index][0].text)
                continue
            owners[index] = current
        if taken_over:
            shown = ", ".join(self._short(index) for index in taken_over[:20])
            more = f" and {len(taken_over) - 20} more" if len(taken_over) > 20 else ""
            self._tell(
                part,
                "Group cells are empty.",
                given=f"rows {shown}{more}",
                done="Each of these rows was counted to the group named above it.",
            )

    def _clean_rows(self, part: Part, width: int) -> NDArray[np.bool_]:
        """Say which rows have readings and a group of their own, and nothing that is odd."""
        here = slice(part.start, part.start + part.count)
        clean = self.filled[here] & (not part.unread) & _filled(self.group_cells[here])
        if width:
            clean &= part.lengths <= width
        for index in (*self.faults, *self.summaries):
            if index in part.places:
                clean[index - part.start] = False
        return clean

    def _short(self, index: int) -> str:
        _, row, which = self._origin(index)
        return str(row) if row is not None else which

    def _without_readings(self, index: int, row: Sequence[str]) -> bool:
        """Record a row without readings; say whether it is blank."""
        cells = list(filter(None, _stripped(row)))
        if not cells:
            self.uses[index] = RowUse.BLANK
            return True
        self._set_aside(
            index, "no reading", "The row holds no reading.", given=self._shown(" | ".join(cells))
        )
        return False

    def _holds_no_trial(self, index: int, cells: Sequence[str], header: tuple[str, ...]) -> bool:
        """Set aside a row that is no trial: a repeated header, a mean, a row out of line."""
        width = len(header)
        if index in self.faults and width and _stripped(cells)[:width] == header:
            self.uses[index] = RowUse.HEADER
            return True
        summary = self.summaries.get(index)
        if summary is not None and summary[0] == "sure":
            self._set_aside(
                index,
                "mean, total or the like",
                "The row looks like a mean, a total or the like.",
                given=summary[1],
                done="The row was set aside; if this is a group, give it another name.",
            )
            return True
        if width and any(cell.strip()[:1].isdigit() for cell in cells[width:]):
            self._set_aside(
                index,
                "more cells than the header",
                "The row has more cells than the header.",
                given=self._shown(" | ".join(cells)),
                allowed=f"{width} cells",
                done="The row was set aside. Are its decimal commas also the marks between cells? "
                "Then save the sheet with semicolons or tabs.",
            )
            return True
        return False

    # Questions

    def _ask(
        self,
        key: str,
        kind: QuestionKind,
        text: str,
        indexes: Sequence[int],
        changes: str,
        answers: tuple[str, ...],
        *,
        default: str = "",
    ) -> Question:
        """Return a question about rows with the answer that the choices give, and keep it."""
        part = self._part(indexes[0]) if len(indexes) else self.parts[0]
        rows = [row or 0 for row in (self._origin(index)[1] for index in indexes)]
        asked = answered(
            Question(key, kind, text, tuple(dict.fromkeys(filter(None, rows))), changes, answers,
                     default=default, sheet=part.sheet),
            self.answers,
        )  # fmt: skip
        self.questions.append(asked)
        return asked

    def _hold(self, asked: Question, indexes: Sequence[int], leave: str, reason: str) -> None:
        """Keep rows back while a question is open, or set them aside where the answer says so."""
        for index in indexes:
            if asked.waits:
                self.held[index] = (RowUse.WAITING, asked.text)
            elif asked.taken == leave and self.held.get(index, (RowUse.SET_ASIDE,))[0] is not (
                RowUse.WAITING
            ):
                self.held[index] = (RowUse.SET_ASIDE, reason)

    def ask_about_rows(self) -> None:
        """Ask what is not certain about rows; those under an open question are held back."""
        self._ask_about_parts()
        self._ask_about_scale()
        self._ask_about_hidden()
        self._ask_about_copies()
        self._ask_about_averages()
        for part in self.parts:
            self._ask_about_balances(part)

    def _in_use(self, part: Part) -> list[int]:
        """Return the rows of a part in use."""
        used = np.flatnonzero(self.group_of[part.start : part.start + part.count] >= 0)
        return (used + part.start).tolist()

    def _ask_about_parts(self) -> None:
        for part in self.parts:
            for asked in part.asked:
                if asked.waits:
                    for index in self._in_use(part):
                        self.held[index] = (RowUse.WAITING, asked.text)

    def _texts(self, index: int) -> list[object]:
        return [column.texts[index] for column in self.readings.values()]

    def _ask_about_scale(self) -> None:
        """Ask about readings a thousand times off; an answer converts them."""
        for name, column in self.readings.items():
            role = self.roles[name]
            instrument = self.experiment.instruments[role.instrument]
            most = np.inf if instrument.capacity is None else instrument.capacity
            typed = [size for size in self._usual(name) if size]
            usual = float(np.median(typed)) if typed else float("nan")
            values = np.where(self.group_of >= 0, column.values, np.nan)
            words, rows = asking.thousandfold(values, usual, most)
            if not words:
                continue
            indexes = rows.tolist()
            part = self._part(indexes[0])
            first = part.preview.of(name)
            label = f"Column {self._label(first[0])}" if first else name
            whole = len(indexes) == np.count_nonzero(np.isfinite(values))
            key = f"scale:{part.prefix}{first[0].letter if first else name}"
            key += "" if whole else f":{mark_of(indexes)}"
            text = str(column.texts[indexes[0]])
            asked = self._ask(
                key,
                QuestionKind.SCALE,
                f"{label} is about a thousand times off, such as {self._number_shown(text)} for "
                f"“{name}” in {role.unit}: is it another unit, or a comma between thousands?",
                indexes,
                "The numbers are used as typed, or a thousand times smaller or larger.",
                (words, asking.AS_TYPED),
            )
            if asked.answer == words:
                factor = Decimal("1e-3") if words == asking.SMALLER else Decimal("1e3")
                column.rescale(indexes, Unit(words, role.unit, factor), role)
            else:
                self._hold(asked, indexes, "", "")

    def _usual(self, name: str) -> Iterator[float]:
        """Yield how large a reading is in the record of the lab."""
        own = (trial.readings.get(name, ()) for trial in self.experiment.trials)
        for typed in (*own, self.experiment.shared_readings.get(name, ())):
            yield from (abs(parse_number(text).value) for text in typed[-1:])

    def _ask_about_hidden(self) -> None:
        for part in self.parts:
            hidden = part.shaped.table.hidden_rows
            if not hidden:
                continue
            first = part.preview.first_row
            indexes = [
                index
                for index in self._in_use(part)
                if (self._origin(index)[1] or first + index - part.start) in hidden
            ]
            if indexes:
                asked = self._ask(
                    f"hidden:{part.prefix}rows",
                    QuestionKind.HIDDEN,
                    "Rows are hidden in the sheet: are they trials of this class?",
                    indexes,
                    "Hidden rows are used like the others, or left out.",
                    (asking.USE_ANSWER, asking.LEAVE_ANSWER),
                )
                self._hold(asked, indexes, asking.LEAVE_ANSWER, "hidden in the sheet")

    def _ask_about_copies(self) -> None:
        """Ask about rows that repeat others, a block of them together."""
        groups = self.group_of.copy()
        groups[list(self.held)] = -1
        found = asking.copies(
            {n: c.values for n, c in self.readings.items()}, groups, self.trial_cells
        )
        blocks: list[list[int]] = []
        for index in sorted(found):
            if blocks and index == blocks[-1][-1] + 1:
                blocks[-1].append(index)
            else:
                blocks.append([index])
        for block in blocks:
            part, row, _ = self._origin(block[0])
            like = sorted({self._origin(found[i])[1] or 0 for i in block})
            many = "repeats" if len(block) == 1 else "repeat"
            rows = [r for r in (self._origin(i)[1] for i in block) if r]
            named = rows_text(rows) or self._words(block[0])
            place = row or self._words(block[0])
            asked = self._ask(
                f"copy:{part.prefix}{place}:{mark_of(self._texts(block[0]))}",
                QuestionKind.COPY,
                f"{named[0].upper()}{named[1:]} {many} {rows_text(like) or 'others'} in group, "
                "trial and every reading: pasted twice, or trials of their own?",
                block,
                "A copy is set aside; a trial of its own is used.",
                (asking.COPY_ANSWER, asking.TRIAL_ANSWER),
            )
            self._hold(asked, block, asking.COPY_ANSWER, "a copy of another row")

    def _ask_about_averages(self) -> None:
        """Ask about rows that are the means of others, or whose label may say so."""
        groups = self.group_of.copy()
        groups[list(self.held)] = -1
        if np.count_nonzero(groups >= 0) < 2:
            return
        hinted = np.zeros(len(groups), dtype=bool)
        for index in self.summaries:
            hinted[index] = True
        for part, has in zip(self.parts, self.has_trials, strict=True):
            if has:
                cells = self.trial_cells[part.start : part.start + part.count]
                empty = ~_filled(cells)
                if 0 < empty.sum() < len(empty):
                    hinted[part.start : part.start + len(cells)] |= empty
        decimals = {n: c.decimals for n, c in self.readings.items()}
        for column in decimals.values():
            used = column[groups >= 0]
            hinted |= column > np.median(used)
        found = asking.averages(
            {n: c.values for n, c in self.readings.items()}, decimals, groups, hinted
        )
        labelled = {i: s for i, s in self.summaries.items() if groups[i] >= 0}
        for index in sorted({*found, *(i for i, s in labelled.items() if s[0] == "maybe")}):
            of, label = found.get(index), labelled.get(index)
            if of and label and label[0] == "maybe":
                self._set_aside(
                    index,
                    "mean, total or the like",
                    f"The row is the mean of {of}, and its label says so.",
                    given=self._shown(label[1]),
                )
                continue
            part, row, which = self._origin(index)
            place = f"{row}{f'.{which}' if which else ''}" if row else which
            where = self._words(index)
            why = (
                f"holds the means of {of} to the digits typed" if of
                else "has a label that may stand for an average or total"
            )  # fmt: skip
            asked = self._ask(
                f"average:{part.prefix}{place}:{mark_of(self._texts(index))}",
                QuestionKind.AVERAGE,
                f"{where[0].upper()}{where[1:]} {why}: is it an average, or a trial?",
                [index],
                "An average is set aside; a trial is used.",
                (asking.AVERAGE_ANSWER, asking.TRIAL_ANSWER),
            )
            self._hold(asked, [index], asking.AVERAGE_ANSWER, "mean, total or the like")

    def _ask_about_balances(self, part: Part) -> None:
        """Take each row to be weighed on the balance that a column names; ask what that is."""
        for column in () if part.unread else part.preview.matched:
            found, unit = balance_column(column.header)
            if column.field or not found:
                continue
            named = self._balances_named(part, column)
            kinds: dict[str, str] = {}
            for text in named.values():
                kinds.setdefault(plain_name(text), text)
            meant = {plain: self.weighed.named(text, unit) for plain, text in kinds.items()}
            for plain, text in kinds.items() if len(kinds) == 1 else ():
                if self.weighed.may_be_that_of_the_lab(text, unit):
                    meant[plain] = meant[plain] or self.weighed.base
            self._note_balances(part, column, {i: meant[plain_name(t)] for i, t in named.items()})
            unknown = {i: t for i, t in named.items() if meant[plain_name(t)] is None}
            shown = [text for plain, text in kinds.items() if meant[plain] is None]
            shown = shown[:_MOST_BALANCES]
            if not unknown:
                continue
            given = ", ".join(f"“{self._number_shown(s)}”" for s in shown)
            only = () if len(shown) == 1 else tuple(f"only {n}" for n in range(1, len(shown) + 1))
            many = "another balance" if len(shown) == 1 else f"{len(shown)} balances"
            asked = self._ask(
                f"balance:{part.prefix}{column.letter}",
                QuestionKind.BALANCE,
                f"Column {self._label(column)} names {many} ({given}): were all these rows weighed "
                "on one like that of the lab?",
                list(unknown),
                "These rows are judged with the balance of the lab, or left out, or only those of "
                "one balance are used (by its place in that list). A name of a balance of the lab, "
                "or a step such as 0.01 g, needs no question.",
                (asking.AS_RECORD, *only, asking.LEAVE_ANSWER),
            )
            if asked.waits:
                self._hold(asked, list(unknown), "", "")
            elif asked.answer != asking.AS_RECORD:
                kept = ""
                if asked.answer != asking.LEAVE_ANSWER:
                    kept = plain_name(shown[int(asked.answer.removeprefix("only ")) - 1])
                others = [i for i, text in unknown.items() if plain_name(text) != kept]
                self._hold(asked, others, asked.answer, "weighed on another balance")

    def _balances_named(self, part: Part, column: Column) -> dict[int, str]:
        """Return what a column says of each row; an empty cell is like that above in its group."""
        cells, above = part.column(column.index), dict[int, str]()
        named = {}
        for index in self._in_use(part):
            group, text = int(self.group_of[index]), cells[index - part.start]
            if text:
                above[group] = self.balances[index] = text
            if group in above:
                named[index] = above[group]
        return named

    def _note_balances(self, part: Part, column: Column, meant: Mapping[int, str | None]) -> None:
        """Keep which rows were weighed on other balances than that of the lab, and say so."""
        used = {i: name for i, name in meant.items() if name not in (None, self.weighed.base)}
        if not used:
            return
        self.weighed.used |= {i: name for i, name in used.items() if name}
        counts = Counter(name for name in meant.values() if name)
        self._tell(
            part,
            "The column says which balance a row was weighed on.",
            column=self._label(column),
            given=", ".join(f"{name}: {rows} rows" for name, rows in counts.items()),
            done="Each row is judged with its balance; one that the lab does not have is taken to "
            "err as many steps as the lab's own.",
        )

    # Trials and groups

    def name_trials(self) -> None:
        """Name the trials as their cells do, or else number them; names in a group all differ.

        Rows that are held back keep their names and numbers, so that an answer renames no other.
        """
        self._name_trials()
        self.named, self.named_of = tuple(self.names), self.group_of.copy()

    def _name_trials(self) -> None:
        clean = self._clean_trials()
        if clean.all():
            return
        taken: dict[int, set[str]] = {}
        for index, group in enumerate(self.group_of.tolist()):
            if group < 0 or clean[group]:
                continue
            names = taken.setdefault(group, set())
            if len(names) >= MAX_TRIALS:
                self._set_aside(
                    index,
                    "too many trials",
                    "The group has too many trials.",
                    given=self._shown(self.names[group]),
                    allowed=f"up to {MAX_TRIALS}",
                )
                continue
            cell = self.trial_cells[index]
            typed = "" if self.hide_names else cell
            kept = self.own and is_usable(typed)
            name = typed if typed and kept else usable_name(typed) or str(len(names) + 1)
            if name in names:
                new = f"{name[:60]} ({self._words(index)})"
                while new in names:
                    new += "*"
                if typed and index not in self.held:
                    self._tell(
                        index,
                        "The group has a trial of this name already.",
                        given=self._shown(typed),
                        done=f"The row was used as trial “{new}”. Is it a copy?",
                    )
                name = new
            names.add(name)
            self.trials[index] = name
            if self.hide_names:
                plain = usable_name(cell) if cell else name
                self.coded_trials.setdefault((self.names[group], plain), name)

    def _clean_trials(self) -> NDArray[np.bool_]:
        """Take the names of trials from their cells in the groups in which that is simple.

        Returns which groups that is, shape (groups,).
        """
        used = np.flatnonzero(self.group_of >= 0)
        groups, count = self.group_of[used], len(self.names)
        if self.hide_names or not len(used):
            return np.zeros(count, dtype=np.bool_)
        every = len(used) == len(self.trials)
        cells = self.trial_cells if every else [self.trial_cells[i] for i in used.tolist()]
        kinds = list(dict.fromkeys(cells))
        if kinds == [""]:
            cells = list(map(str, _counted(groups).tolist()))
            kinds = list(dict.fromkeys(cells))
        if not all_usable(kinds):
            return np.zeros(count, dtype=np.bool_)
        place = dict(zip(kinds, range(len(kinds)), strict=True))
        key = groups * len(kinds) + [place[cell] for cell in cells]
        _, first = np.unique(key, return_index=True)
        repeated = np.ones(len(key), dtype=np.bool_)
        repeated[first] = False
        clean = np.bincount(groups, minlength=count) <= MAX_TRIALS
        clean[groups[repeated]] = False
        if every and clean.all():
            self.trials = list(cells)
            return clean
        for index, group, name in zip(used.tolist(), groups.tolist(), cells, strict=True):
            if clean[group]:
                self.trials[index] = name
        return clean

    def check_what_is_read_once(self) -> None:
        """Set aside rows whose value differs from the first of their group, where it must not."""
        for name, column in self.readings.items():
            if not self.roles[name].once:
                continue
            first: dict[int, float] = {}
            for index, group in enumerate(self.group_of.tolist()):
                value = float(column.values[index])
                if group < 0 or np.isnan(value) or index in self.held:
                    continue
                if first.setdefault(group, value) != value:
                    self._set_aside(
                        index,
                        "another value of what is read once",
                        "This is read once for all trials of a group, but the row has another "
                        "value.",
                        column=self._label_of(name, index),
                        given=str(column.texts[index]),
                        allowed=f"{first[group]:g}, as in the first row of the group",
                    )

    def _label_of(self, name: str, index: int) -> str:
        columns = self._part(index).preview.of(name)
        return self._label(columns[-1]) if columns else name

    def keep_waiting(self) -> None:
        """Take rows that are held back out of use, and say why."""
        told: set[str] = set()
        for index, (use, reason) in self.held.items():
            if self.group_of[index] < 0:
                continue
            self.group_of[index] = -1
            self.uses[index], self.reasons[index] = use, reason
            if use is RowUse.SET_ASIDE:
                self._tell(index, f"The row is {reason}, by the answer given.")
            elif reason not in told:
                told.add(reason)
                many = sum(one == (use, reason) for one in self.held.values())
                done = _ANSWER_IT if many == 1 else f"{many} rows wait for an answer."
                self._tell(index, reason, done=done)

    def drop_empty_groups(self) -> None:
        """Leave out groups whose rows were all set aside or wait; their codes stay theirs."""
        kept = np.bincount(self.group_of[self.group_of >= 0], minlength=len(self.names)) > 0
        if not kept.all():
            new = np.append(np.cumsum(kept) - 1, -1)
            self.group_of = new[self.group_of]
            self.names = [name for name, keep in zip(self.names, kept, strict=True) if keep]

    def ask_about_readings(self) -> None:
        """Ask about readings in use that the instrument cannot show, or not so."""
        used = self.group_of >= 0
        for name, column in self.readings.items():
            role = self.roles[name]
            for instrument, rows in self._read_on(role, used):
                for q in remarks_on(column, rows, instrument):
                    label = self._label_of(name, q.row)
                    done = "It was used as typed."
                    self._tell(q.row, q.text, column=label, given=q.given, done=done)

    def _read_on(
        self, role: Role, used: NDArray[np.bool_]
    ) -> Iterator[tuple[Instrument, NDArray[np.bool_]]]:
        """Yield the instruments that a reading was made on, each with its rows in use."""
        other = self.weighed.used if role.instrument == self.weighed.base else {}
        rest = used.copy()
        rest[list(other)] = False
        yield self.experiment.instruments[role.instrument], rest
        for name in dict.fromkeys(other.values()):
            own = np.zeros_like(used)
            own[[i for i, one in other.items() if one == name]] = True
            yield self.weighed.balance(name), own & used

    def sorted_out(self, *, codes: bool) -> ClassRows:
        """Return what was found, under codes or names."""
        left = set(self.names)
        coded = (
            {c: name for c, name in codes_of(self.named).items() if name in left} if codes else {}
        )
        spans = tuple(
            Span(p.sheet, tuple(_uses_above(p)), p.start, p.count, p.shaped.origins)
            for p in self.parts
        )
        order = {part.sheet: place for place, part in enumerate(self.parts)}
        return ClassRows(
            spans=spans,
            group_of=self.group_of,
            trials=self.trials,
            readings=self.readings,
            groups=tuple(coded if codes else self.names),
            uses=self.uses,
            reasons=self.reasons,
            problems=sorted(self.problems, key=lambda p: (order.get(p.sheet, 0), p.row or 0)),
            questions=tuple(self.questions),
            balances={} if codes else self.balances,
            weighed=self.weighed,
            key=coded,
            coded_trials=self.coded_trials,
            named=() if codes else self.named,
            named_of=self.named_of,
        )


def _filled(cells: list[str]) -> NDArray[np.bool_]:
    """Say which cells hold something."""
    if "" not in cells:
        return np.ones(len(cells), dtype=np.bool_)
    return np.array([cell != "" for cell in cells], dtype=np.bool_)


def _cleaned(cells: list[str]) -> list[str]:
    """Return cells as headers are cleaned; most columns need none."""
    joined = ",".join(cells)
    if joined.isascii() and not any(mark in joined for mark in ("'", "  ", "\t", "\r", "\n")):
        return cells
    return [clean_text(cell) if cell else "" for cell in cells]


def _header_of(part: Part) -> tuple[str, ...]:
    """Return the header; () where it names fewer columns than are used, as a title does."""
    number = part.preview.header_row
    header = _stripped(part.shaped.table.rows[number - 1]) if number else ()
    while header and not header[-1]:
        header = header[:-1]
    used = [column.index for column in part.preview.matched if column.field]
    return header if len(header) > max(used) else ()


def _uses_above(part: Part) -> Iterator[RowUse]:
    """Yield the uses of the rows before the first one below the header."""
    preview = part.preview
    known = {preview.header_row: RowUse.HEADER, preview.units_row: RowUse.UNITS}
    joined = preview.header_row - 1 if "header of two rows" in preview.shape else 0
    for number, row in enumerate(part.shaped.table.rows[: preview.first_row - 1], 1):
        if joined and number == joined:
            yield RowUse.HEADER
        else:
            filled = any(_stripped(row))
            yield known.get(number) or (RowUse.ABOVE if filled else RowUse.BLANK)


def _stripped(cells: Sequence[str]) -> tuple[str, ...]:
    return tuple(cell.strip() for cell in cells)


def _counted(groups: NDArray[np.intp]) -> NDArray[np.intp]:
    """Return the number, from 1, of each row within its group."""
    order = np.argsort(groups, kind="stable")
    sizes = np.bincount(groups)
    number = np.empty(len(groups), dtype=np.intp)
    number[order] = np.arange(len(groups)) - (np.cumsum(sizes) - sizes)[groups[order]] + 1
    return number
