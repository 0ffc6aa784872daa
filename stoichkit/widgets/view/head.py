"""What stands above every screen: the lab, undo, opening and saving."""

from __future__ import annotations

from ... import experiments
from ..state.lab import LabState
from .blocks import Block, Builder, heading, row, words
from .frame import Frame, Region


class Head:
    """Title, opening, saving, undo and redo."""

    def __init__(self, lab: LabState, frame: Frame | None = None) -> None:
        self.lab, self.frame = lab, frame

    @property
    def region(self) -> Region:
        """The region of the head."""
        return Region("head", "head", self.blocks)

    def blocks(self, make: Builder) -> list[Block]:
        """Show the title and what can be done with the whole lab."""
        state, history = self.lab.readings, self.lab.history
        title = state.form.title.strip() or "No title"
        ready = [("", "Start from …"), *((n, _title(n)) for n in experiments.names())]
        undo, redo = history.undo_words, history.redo_words
        parts: list[Block] = [heading(title, 2)]
        if state.form.invented:
            parts.append({"kind": "words", "text": "invented readings", "role": "badge"})
        parts += [
            make.button("new", "New lab", self._new, look="main"),
            make.choice("start", "Start from a ready lab", "", ready, self._start, bare=True),
            make.button(
                "undo", "Undo", self._undo, enabled=bool(undo), spoken=undo and f"Undo: {undo}"
            ),
            make.button(
                "redo", "Redo", self._redo, enabled=bool(redo), spoken=redo and f"Redo: {redo}"
            ),
            make.button("save", "Save the lab", self._save),
        ]
        return [row(*parts), *self._kept(make)]

    def _kept(self, make: Builder) -> list[Block]:
        """Say what was kept of earlier work, and offer what another session typed."""
        kit = self.lab.kit
        found: list[Block] = []
        if kit.restored:
            said = f"What was typed by {kit.restored} is back."
            afresh = make.button("afresh", "Start afresh", kit.start_afresh, look="quiet")
            found.append(row(words(said, "note"), afresh))
        if kit.offered:
            found.append(
                row(
                    words(kit.offered, "note"),
                    make.button("restore", "Restore it", kit.restore_offered),
                    make.button("leave", "Leave it", kit.leave_offered),
                )
            )
        return found + [words(text, "note") for text in kit.notes[-2:]]

    def _new(self) -> None:
        self.lab.own.begin()
        if self.frame is not None and "readings" in self.frame.screens:
            self.frame.show("readings")
            self.frame.focus = "own:metal"

    def _start(self, name: str) -> None:
        if name:
            self.lab.own.forget()
            self.lab.own.cancel()
            self.lab.readings.load(name)

    def _undo(self) -> None:
        self.lab.history.undo()

    def _redo(self) -> None:
        self.lab.history.redo()

    def _save(self) -> None:
        """Hand over the experiment file of what is typed."""
        text = self.lab.readings.to_toml()
        if self.frame is not None:
            name = self.lab.readings.suggested_path
            self.frame.hand_over(name, "application/toml", text.encode())
            self.frame.say(f"{name} was handed to the browser: its downloads have it.", "good")


def _title(name: str) -> str:
    return name.replace("-", " ")
