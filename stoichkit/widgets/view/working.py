"""The screen “Working”: every calculation step by step, the conclusion in words, what is kept."""

from __future__ import annotations

from collections.abc import Sequence

from ...decision.statement import statement_of
from ...decision.verdict import VerdictKind
from ..state.lab import LabState
from ..state.worked import ALL, KINDS, STYLES
from .blocks import Block, Builder, answer_card, copying, document, heading, row, source, words
from .frame import Frame, Region

_OLDER = "This is older: it is from before something was typed that cannot be used."


class WorkingScreen:
    """The worked solution of a lab."""

    key, title = "working", "Working"

    def __init__(self, lab: LabState, frame: Frame | None = None) -> None:
        self.lab, self.frame = lab, frame
        self.state = lab.worked

    def regions(self) -> Sequence[Region]:
        """Return the regions, in their order."""
        return (
            Region("conclusion", "left", self.conclusion),
            Region("diagnosis", "left", self.diagnosis, 2),
            Region("choices", "left", self.choices),
            Region("keeping", "left", self.keeping),
            Region("solution", "right", self.solution, 1),
        )

    def conclusion(self, make: Builder) -> list[Block]:
        """Show the verdict and the conclusion in words."""
        del make
        state, evidence = self.state, self.state.evidence
        blocks = [] if self.state.status() == "Up to date." else [self._status()]
        if evidence is None:
            return [*blocks, words("There is no conclusion yet.")]
        unjudged = evidence.verdict.kind is VerdictKind.CANNOT_BE_JUDGED
        look = "waits" if not state.current else "unjudged" if unjudged else "current"
        tried = "Of the readings as typed, not of what is tried instead."
        inner = [words(tried, "note")] if self.lab.whatif.active else []
        text = state.conclusion()
        return [
            *blocks,
            answer_card(statement_of(evidence).headline, look, inner),
            heading("Conclusion in words"),
            words(text),
            copying("Copy the conclusion", text),
        ]

    def _status(self) -> Block:
        return words(self.state.status(), "note" if self.state.current else "refusal")

    def diagnosis(self, make: Builder) -> list[Block]:
        """Say in one line what limits the answer."""
        del make
        evidence = self.state.evidence
        if evidence is None or not self.state.current:
            return []
        return [words(evidence.diagnosis.sentence, "diagnosis")]

    def choices(self, make: Builder) -> list[Block]:
        """Show which trial and which candidate are worked through, and how it is written."""
        state = self.state
        state.fit()
        trials = [*((name, f"Trial {name}") for name in state.trials), (ALL, "All trials")]
        candidates = [(ALL, "Those that fit"), *((n, n) for n in state.candidates)]
        return [
            heading("Step by step"),
            row(
                make.choice("trial", "Trial", state.trial, trials, state.choose_trial),
                make.choice(
                    "yield", "Percent yield of", state.yield_of, candidates, state.choose_yield
                ),
                make.choice("style", "Shown as", state.style, STYLES.items(), state.choose_style),
            ),
        ]

    def solution(self, make: Builder) -> list[Block]:
        """Show the worked solution, formatted or as a text to be copied."""
        del make
        state, page = self.state, self.state.document()
        if page is None:
            return []
        older = [] if state.current else [words(_OLDER, "refusal")]
        if state.style == "html":
            return [*older, copying("Copy as plain text", page.text()), document(page)]
        name, text = f"Worked solution, {STYLES[state.style]}", page.written(state.style)
        return [*older, copying(f"Copy the {STYLES[state.style]}", text), source(name, text)]

    # What is kept

    def keeping(self, make: Builder) -> list[Block]:
        """Offer the worked solution, the report and the page to hand in as files."""
        state = self.state
        beside = [
            make.button("keep:write", "Save beside the notebook", self._write),
            make.tick("keep:replace", "It may replace a file", state.replace, state.may_replace),
        ]
        return [
            heading("Keep"),
            row(
                make.choice("kind", "What", state.kind, KINDS.items(), state.choose_kind),
                make.field(
                    "keep:path", "Name of the file", self._path, state.name, width=28,
                    note=f"ends in {state.endings}", enter="keep:download",
                ),
            ),
            row(
                make.button("keep:download", "Download", self._download, look="main"),
                *(() if self.lab.apart else beside),
            ),
        ]  # fmt: skip

    @property
    def _path(self) -> str:
        return self.state.path or self.state.suggested(self.state.kind)

    def _download(self) -> None:
        data = self.state.written(self.state.kind, self._path)
        if self.frame is not None:
            self.frame.hand_over(self._path, "application/octet-stream", data)

    def _write(self) -> None:
        written = self.state.save(self.state.kind, self._path, replace=self.state.replace)
        if self.frame is not None:
            self.frame.say(f"Saved: {written}", "good")
