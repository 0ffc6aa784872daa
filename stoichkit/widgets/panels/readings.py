"""Panel “readings”.

The table of typed readings: rows in the order they are made, one column a trial.

The picture of the evidence as inline SVG in a pane whose value is replaced.

What the readings say, as a panel shows it: the verdict first, the picture after the table.

The panel “Readings and verdict”: a thin skin over a :class:`ReadingsState`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial

import ipywidgets

from ...decision.evidence import Evidence
from ...decision.sentences import (
    asked_again_sentence,
    look_sentence,
    second_opinion_sentence,
)
from ...decision.statement import verdict_sentences
from ...errors import ExperimentError, StoichkitError
from ...experiments.record import Experiment
from ...planning.following import NextTrials, next_trials
from ...plots.result import live_svg
from ...reports.lab import lab_report
from ...reports.sections import next_section
from ...text.html import escaped
from ..kit.controls import (
    Field,
    LiveText,
    Panel,
    close_tree,
    columns,
    guarded,
    halves,
    heading,
    row,
)
from ..kit.work import Later, Report, Rest, Work
from ..state.form import ALL_TRIALS, Outcome, Place, Row
from ..state.readings import Change, ReadingsState, together
from .chooser import ExperimentChooser, ExperimentKeeper
from .html import (
    about_html,
    assumptions_html,
    budget_html,
    candidates_html,
    instruments_html,
    parts_html,
    trust_html,
    verdict_look,
    warnings_html,
    words_html,
)


class ReadingsTable:
    """Text fields for the readings of every trial, or for those that serve all trials.

    The tab key walks down the readings of one trial, then goes on to the next. Only the
    columns that changed are made or closed when trials are added or removed.
    """

    def __init__(self, state: ReadingsState, area: LiveText, *, shared: bool) -> None:
        self._state, self._area, self._shared = state, area, shared
        self._fields: dict[Place, Field] = {}
        self._notes: list[ipywidgets.HTML] = []
        self.box = ipywidgets.GridBox(
            layout={
                "grid_auto_flow": "column",
                "grid_template_columns": "minmax(9em, max-content)",
                "grid_auto_columns": "minmax(6.5em, 12em)",
                "grid_gap": "2px 8px",
                "width": "100%",
            }
        )
        self.box.add_class("stoichkit-readings")

    @property
    def rows(self) -> tuple[Row, ...]:
        """The readings shown."""
        return tuple(row for row in self._state.form.rows if row.shared == self._shared)

    def rebuild(self) -> list[ipywidgets.Widget]:
        """Make all fields anew for another experiment; return the widgets no longer used."""
        old = list(self.box.children)
        self._fields, self._notes = {}, []
        rows = self.rows
        self.box.layout.grid_template_rows = f"repeat({len(rows) + 2}, auto)"
        self.box.layout.display = None if rows else "none"
        corner = "For all trials" if self._shared else "Reading"
        labels = [_head(corner), *(_label(row.label) for row in rows), _label("")]
        self.box.children = (*labels, *self._new_columns())
        return old

    def fit(self) -> list[ipywidgets.Widget]:
        """Add or drop columns at the end; return the widgets no longer used."""
        height = len(self.rows) + 2
        wanted = height * (1 + self._wanted())
        old = list(self.box.children[wanted:])
        if old:
            self.box.children = self.box.children[:wanted]
            self._notes = self._notes[: self._wanted()]
            self._fields = {p: f for p, f in self._fields.items() if p.trial < self._wanted()}
        elif added := self._new_columns():
            self.box.children = (*self.box.children, *added)
        return old

    def show(self, outcome: Outcome) -> None:
        """Show each text, whether it is refused, and below each trial what holds."""
        form = self._state.form
        for place, field in self._fields.items():
            texts = form.shared if self._shared else form.trials[place.trial].readings
            field.show(texts[place.name])
            field.refuse(outcome.refusals.get(place), whole=False)
        if self._shared:
            return
        for index, note in enumerate(self._notes):
            name = self._state.form.trials[index].name
            refusal = outcome.refusals.get(Place("trial", index))
            if refusal is not None:
                text = f'<p class="stoichkit-refusal">Not used: {escaped(str(refusal))}</p>'
            elif name in outcome.left_out:
                text = '<p class="stoichkit-note">Empty, left out</p>'
            else:
                text = ""
            if note.value != text:
                note.value = text

    def _wanted(self) -> int:
        return 1 if self._shared else len(self._state.form.trials)

    def _new_columns(self) -> list[ipywidgets.Widget]:
        """Make the columns that are not there yet."""
        added: list[ipywidgets.Widget] = []
        for index in range(len(self._notes), self._wanted()):
            if self._shared:
                added += self._column(ALL_TRIALS, "all trials", self._state.form.shared)
            else:
                trial = self._state.form.trials[index]
                added += self._column(index, trial.name, trial.readings)
        return added

    def _column(self, index: int, name: str, texts: Mapping[str, str]) -> list[ipywidgets.Widget]:
        column: list[ipywidgets.Widget] = [_head("" if self._shared else name)]
        for one in self.rows:
            field = Field(
                f"{name}: {one.label}",
                texts.get(one.name, ""),
                partial(self._state.set_reading, index, one.name),
                self._area,
                lines=2 if one.several else 0,
                label_hidden=True,
                on_leave=self._state.history.settle,
            )
            self._fields[Place("reading", index, one.name)] = field
            column.append(field.box)
        self._notes.append(ipywidgets.HTML())
        return [*column, self._notes[-1]]


def _head(text: str) -> ipywidgets.HTML:
    return ipywidgets.HTML(f'<div class="stoichkit-head">{escaped(text)}</div>')


def _label(text: str) -> ipywidgets.HTML:
    return ipywidgets.HTML(f'<div class="stoichkit-name">{escaped(text)}</div>')


class PicturePane:
    """A pane with the amounts plane and the ratio set.

    The SVG has ``role="img"`` and its description as ``aria-label``; it is sharp at any size,
    and drawn without matplotlib in about a millisecond.
    """

    def __init__(self, *, width_px: int = 620) -> None:
        self.width_px = width_px
        self.pane = ipywidgets.HTML(layout={"width": "100%"})
        self._shown: Evidence | None = None

    def show(self, evidence: Evidence | None) -> None:
        """Draw the evidence, unless it is the one shown already."""
        if evidence is self._shown:
            return
        self._shown = evidence
        self.pane.value = "" if evidence is None else live_svg(evidence, width_px=self.width_px)


class ResultView:
    """Verdict, table, picture, budget, warnings and assumptions of a state."""

    def __init__(self) -> None:
        self.verdict = LiveText(look="stoichkit-verdict")
        self.diagnosis = LiveText(look="stoichkit-note")
        self.second = LiveText(look="stoichkit-note")
        self.status = LiveText(look="stoichkit-status")
        self.picture = PicturePane()
        self._table, self._budget = ipywidgets.HTML(), ipywidgets.HTML()
        self._warnings, self._assumptions = ipywidgets.HTML(), ipywidgets.HTML()
        self.trust = ipywidgets.VBox()
        """What takes longer than typing may, and is worked out when asked for."""
        self._words = ipywidgets.HTML()
        self.box = ipywidgets.VBox(
            [
                heading("Verdict"),
                self.verdict,
                self.diagnosis,
                self.second,
                self.status,
                self.trust,
                heading("Warnings"),
                self._warnings,
                self._table,
                self._words,
                self.picture.pane,
            ]
        )
        assumed = ipywidgets.VBox([heading("What the verdict assumes"), self._assumptions])
        self.more = columns(self._budget, assumed)

    def show_verdict(self, state: ReadingsState) -> None:
        """Show the verdict, and whether it is that of the texts as they stand."""
        outcome = state.outcome
        evidence = outcome.evidence
        words = "There is no verdict yet." if evidence is None else verdict_sentences(evidence)
        self.verdict.text = words
        self.verdict.look = verdict_look(evidence, current=outcome.current)
        said = []
        if evidence is not None:
            said = [look_sentence(evidence), second_opinion_sentence(evidence)]
            said.append(asked_again_sentence(evidence, state.earlier_looks))
        self.second.text = " ".join(filter(None, said))
        self.status.text = _status(state)

    def show_rest(self, evidence: Evidence | None) -> None:
        """Show what takes longer: the picture first, then the tables and lists."""
        self.picture.show(evidence)
        if evidence is None:
            panes = (self._table, self._words, self._warnings, self._budget, self._assumptions)
            for pane in panes:
                pane.value = ""
            self.diagnosis.text = ""
            return
        self.diagnosis.text = evidence.diagnosis.sentence
        self._warnings.value = warnings_html(evidence)
        self._table.value = candidates_html(evidence)
        self._words.value = words_html(evidence)
        self._budget.value = budget_html(evidence)
        self._assumptions.value = assumptions_html(evidence)


def _status(state: ReadingsState) -> str:
    """Say whether the verdict is that of the texts as they stand."""
    outcome = state.outcome
    if outcome.refusals:
        place, refusal = next(iter(outcome.refusals.items()))
        more = len(outcome.refusals) - 1
        others = f" {more} more field{'s' if more > 1 else ''} not used." if more else ""
        kept = " The verdict is the one from before that." if outcome.evidence else ""
        return f"Not updated: {state.describe(place)}. {refusal}{others}{kept}"
    if outcome.left_out:
        names = ", ".join(outcome.left_out)
        return f"Up to date. Left out, because nothing is typed there: {names}."
    return "Up to date."


class ReadingsPanel(Panel):
    """Type readings, candidates and instruments; see which candidates they exclude."""

    def __init__(self, state: ReadingsState, *, chooser: bool = True) -> None:
        self.state = state
        self._results = ResultView()
        self._about, self._instruments = ipywidgets.HTML(), ipywidgets.HTML()
        self._report = ipywidgets.HTML()
        self._chooser = ExperimentChooser(state, self.message) if chooser else None
        self._keeper = ExperimentKeeper(state, self.message) if chooser else None
        self._shared = ReadingsTable(state, self.message, shared=True)
        self._table = ReadingsTable(state, self.message, shared=False)
        self._fields: dict[Place, Field] = {}
        self._balances = ipywidgets.VBox(layout={"width": "100%"})
        self._later, self._work = Later(), Work()
        self._following, self._progress = ipywidgets.HTML(), LiveText(look="stoichkit-status")
        self._trust = ipywidgets.HTML()
        self._invented = ipywidgets.Checkbox(description="The readings are invented", indent=False)
        self._invented.observe(
            self._guard(lambda change: state.set_invented(change["new"])), names="value"
        )
        self._results.trust.children = (
            row(self._button("How far can it be trusted?", self._show_trust)),
            self._trust,
        )
        inputs = ipywidgets.VBox([*self._opening(), *self._entry()])
        more, keeping = self._results.more, self._keeping()
        both = columns(inputs, self._results.box)
        ahead = self._ahead()
        super().__init__(
            "Readings and verdict", lambda: state.form.title, both, more, *ahead, *keeping
        )
        self.rest = Rest(self._follow, together)
        self._stops += [self._later.stop, self._work.stop, state.subscribe(self.rest)]
        self._follow(Change.FORM)

    # Controls

    def _opening(self) -> list[ipywidgets.Widget]:
        chooser = [] if self._chooser is None else [self._chooser.box]
        return [heading("Experiment"), *chooser, self._about]

    def _entry(self) -> list[ipywidgets.Widget]:
        state = self.state
        candidates = self._add_field(
            Place("candidates"),
            "Candidates, one a line",
            state.set_candidates,
            lines=4,
            note="name = ratio n(produced)/n(consumed), such as 3/2; an equation; or a formula",
        )
        coverage = self._add_field(
            Place("coverage"), "Coverage probability", state.set_coverage, note="0.95 or 95 %"
        )
        low = self._add_field(
            Place("recovery_low"),
            "Least fraction of the product recovered",
            lambda text: state.set_recovery(low=text),
            note="1: nothing is lost",
        )
        high = self._add_field(
            Place("recovery_high"),
            "Largest fraction (above 1: water or residue)",
            lambda text: state.set_recovery(high=text),
        )
        buttons = row(
            self._button("Add a trial", state.add_trial),
            self._button("Remove the last trial", state.remove_trial),
        )
        hint = ipywidgets.HTML(
            '<p class="stoichkit-note">Type what the display shows, with all its zeros; a decimal '
            "comma will do. Repeated weighings of one thing: 21.26; 21.17; 21.18</p>"
        )
        return [
            heading("Readings"),
            hint,
            self._shared.box,
            self._table.box,
            buttons,
            halves(
                [heading("Candidates"), candidates.box, coverage.box],
                [heading("Instruments"), self._balances, self._instruments],
            ),
            heading("Recovery of the product"),
            halves([low.box], [high.box]),
        ]

    def _ahead(self) -> list[ipywidgets.Widget]:
        ask = row(self._button("What would more trials bring?", self._ask_following))
        return [heading("What next"), ask, self._progress, self._following]

    def _keeping(self) -> list[ipywidgets.Widget]:
        title = self._add_field(Place("title"), "Title", self.state.set_title)
        parts = [] if self._keeper is None else self._keeper.parts
        show = row(self._button("Show report", self._show_report))
        return [heading("Keep"), title.box, self._invented, *parts, show, self._report]

    def _add_field(
        self,
        place: Place,
        label: str,
        change: Callable[[str], None],
        *,
        value: str = "",
        lines: int = 0,
        note: str = "",
    ) -> Field:
        field = Field(
            label,
            value,
            change,
            self.message,
            lines=lines,
            note=note,
            on_leave=self.state.history.settle,
        )
        self._fields[place] = field
        return field

    # What the controls do

    def _set_readability(self, name: str, text: str) -> None:
        self.state.set_balance(name, readability_g=text)

    def _set_repeatability(self, name: str, text: str) -> None:
        self.state.set_balance(name, repeatability_g=text)

    def _ask_following(self) -> None:
        evidence = self._current_evidence("More trials need a form that can be used.")
        self._following.value, self._progress.text = "", "Working …"

        def task(report: Report) -> NextTrials:
            del report  # it has no steps
            return next_trials(evidence)

        def done(found: NextTrials) -> None:
            self._following.value = parts_html(next_section(found).parts)
            self._progress.text = "Done."

        def failed(error: Exception) -> None:
            self._progress.text = f"There is no answer. {error}"
            if not isinstance(error, StoichkitError):
                raise error

        self._work.start(
            task, done=guarded(self.message, done), failed=guarded(self.message, failed)
        )

    def _current_evidence(self, problem: str) -> Evidence:
        evidence = self.state.evidence
        if evidence is None or not self.state.outcome.current:
            raise ExperimentError(problem, fix="Correct the fields marked as not used.")
        return evidence

    def _show_report(self) -> None:
        evidence = self._current_evidence("A report needs a form that can be used.")
        text = escaped(lab_report(evidence).markdown())
        self._report.value = (
            "<h3>Report (Markdown)</h3>"
            f'<pre tabindex="0" role="region" aria-label="Report as Markdown text">{text}</pre>'
        )

    def _show_trust(self) -> None:
        evidence = self._current_evidence("There is no verdict on what is typed.")
        self._trust.value = trust_html(evidence)

    # What follows from a change of the state

    def _follow(self, change: Change) -> None:
        """Show the state: the verdict at once, the refusals, then the slower parts."""
        outcome = self.state.outcome
        self._work.stop()  # what more trials would bring is about the readings before
        self._following.value = self._progress.text = ""
        self._results.show_verdict(self.state)
        self._show_texts()
        if change is Change.FORM:
            self._fill()
        elif change is Change.TRIALS:
            for widget in self._table.fit():
                close_tree(widget)
        self._shared.show(outcome)
        self._table.show(outcome)
        for place, field in self._fields.items():
            field.refuse(outcome.refusals.get(place))
        if self._keeper is not None:
            self._keeper.follow(loaded=change is Change.FORM)
        self._later(guarded(self.message, partial(self._show_rest, outcome), clear=False))

    def _show_rest(self, outcome: Outcome) -> None:
        self._results.show_rest(outcome.evidence)
        self._instruments.value = instruments_html(outcome.experiment)
        self._report.value = self._trust.value = ""

    def _show_texts(self) -> None:
        """Show the texts of the state where they were not typed here, as after undo."""
        form = self.state.form
        for place, field in self._fields.items():
            if not place.name:
                field.show(getattr(form, place.part))
            elif place.name in form.balances:  # else these fields are about to be made anew
                field.show(getattr(form.balances[place.name], f"{place.part}_g"))
        if self._invented.value != form.invented:
            self._invented.value = form.invented

    def _fill(self) -> None:
        """Make the fields anew that depend on the experiment."""
        form = self.state.form
        if self._chooser is not None:
            self._chooser.follow()
        self._about.value = about_html(self.state.experiment)
        self._fields[Place("candidates")].input.rows = min(form.candidates.count("\n") + 2, 14)
        old = [*self._shared.rebuild(), *self._table.rebuild(), *self._fill_balances()]
        for widget in old:
            close_tree(widget)

    def _fill_balances(self) -> list[ipywidgets.Widget]:
        old = list(self._balances.children)
        self._fields = {p: f for p, f in self._fields.items() if not p.name}
        rows = []
        for name, texts in self.state.form.balances.items():
            step = self._add_field(
                Place("readability", name=name),
                f"{name}: readability, g",
                partial(self._set_readability, name),
                value=texts.readability_g,
            )
            spread = self._add_field(
                Place("repeatability", name=name),
                f"{name}: repeatability, g",
                partial(self._set_repeatability, name),
                value=texts.repeatability_g,
                note="empty: half the readability is assumed; 0: digits only",
            )
            rows.append(row(step.box, spread.box))
        self._balances.children = rows
        return old


def readings_panel(experiment_or_name: Experiment | str = "copper-silver") -> ReadingsPanel:
    """Return the panel “Readings and verdict” for a notebook.

    Parameters
    ----------
    experiment_or_name : Experiment or str
        A record, the name of a ready experiment, or the text of an experiment file.

    Returns
    -------
    ReadingsPanel
        A widget; its ``state`` is a :class:`.ReadingsState`, and ``close()`` closes all of it.

    Raises
    ------
    ExperimentError
        If there is no such experiment, or the text is faulty.

    Examples
    --------
    >>> panel = readings_panel("tin-oxide")
    >>> panel.state.evidence.verdict.kind.value
    'singled_out'
    >>> panel.close()
    """
    return ReadingsPanel(ReadingsState(experiment_or_name))
