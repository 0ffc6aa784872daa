"""What stands above every screen: the lab, undo, opening and saving."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from ... import experiments
from ...errors import DataFileError, ExperimentError
from ..state.lab import LabState
from .blocks import Block, Builder, copying, heading, row, words
from .frame import Frame, Region

_MOST_BYTES = 1_000_000


class Head:
    """Title, opening, saving, undo and redo.

    ``address`` makes the address of a page that opens the lab as it is typed; where there is one,
    there is no notebook that a file could be saved beside.
    """

    def __init__(
        self,
        lab: LabState,
        frame: Frame | None = None,
        *,
        address: Callable[[], str] | None = None,
    ) -> None:
        self.lab, self.frame, self.address = lab, frame, address
        self.text, self.path, self.replace = "", "", False

    @property
    def region(self) -> Region:
        """The region of the head."""
        return Region("head", "head", self.blocks)

    def blocks(self, make: Builder) -> list[Block]:
        """Show the title and what can be done with the whole lab."""
        state, history = self.lab.readings, self.lab.history
        undo, redo = history.undo_words, history.redo_words
        parts: list[Block] = [heading(state.form.title.strip() or "No title", 2)]
        if state.form.invented:
            parts.append(words("invented readings", "badge"))
        parts += [
            make.button("new", "New lab", self._new, look="main"),
            self._open(make),
            self._keep(make),
            make.button("hand-in", "Page to hand in", self._hand_in),
            make.button(
                "undo", "Undo", self._undo, enabled=bool(undo), spoken=undo and f"Undo: {undo}"
            ),
            make.button(
                "redo", "Redo", self._redo, enabled=bool(redo), spoken=redo and f"Redo: {redo}"
            ),
        ]
        return [row(*parts), *self._kept(make)]

    # Opening

    def _open(self, make: Builder) -> Block:
        ready = [("", "choose …"), *((n, n.replace("-", " ")) for n in experiments.names())]
        return make.chip(
            "open",
            "",
            "Open",
            [
                make.choice("start", "A ready lab", "", ready, self._start),
                make.file("upload", "A file of yours (.toml)", ".toml", self._given),
                make.field("text", "Or the text of one", self.text, self._typed, lines=3),
                make.button("read", "Open this text", self._read, enabled=bool(self.text.strip())),
            ],
        )

    def _new(self) -> None:
        self.lab.own.begin()
        if self.frame is not None and "readings" in self.frame.screens:
            self.frame.show("readings")

    def _start(self, name: str) -> None:
        if name:
            self._load(name)

    def _given(self, name: str, data: bytes) -> None:
        if len(data) > _MOST_BYTES:
            raise DataFileError(
                "This file is too large for an experiment.",
                given=f"{len(data)} bytes",
                allowed=f"up to {_MOST_BYTES}",
            )
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError as error:
            raise DataFileError(
                "This file is no text.", given=name, allowed="an experiment file in UTF-8"
            ) from error
        self._load(text, name)

    def _typed(self, text: str) -> None:
        self.text = text

    def _read(self) -> None:
        self._load(f"{self.text}\n")
        self.text = ""

    def _load(self, source: str, name: str = "") -> None:
        self.lab.readings.load(source, name=name)
        self.lab.own.forget()

    # Saving

    def _keep(self, make: Builder) -> Block:
        name = self.path or self.lab.readings.suggested_path
        named = make.field("path", "Name of the experiment file", name, self._named, width=28)
        download = make.button("download", "Download", self._download)
        if self.address is not None:
            return make.chip(
                "save", "", "Save, share", [named, download, *self._link(self.address)]
            )
        return make.chip(
            "save",
            "",
            "Save",
            [
                named,
                make.tick("replace", "It may replace a file", self.replace, self._may),
                make.button("write", "Save beside the notebook", self._write),
                download,
            ],
        )

    def _link(self, address: Callable[[], str]) -> list[Block]:
        if self.lab.waits:
            return [words(f"No link yet: correct {self.lab.waits} first.", "note")]
        note = "Whoever opens the link has this lab with its readings; it is sent to no server."
        return [copying("Copy the link to this lab", address()), words(note, "note")]

    def _named(self, text: str) -> None:
        self.path = text

    def _may(self, on: bool) -> None:
        self.replace = on

    def _write(self) -> None:
        state = self.lab.readings
        path = state.save(self.path or state.suggested_path, replace=self.replace)
        self._say(f"Saved: {path}")

    def _download(self) -> None:
        """Hand over the experiment file of what is typed."""
        text = self.lab.readings.to_toml()
        name = self.path or self.lab.readings.suggested_path
        if self.frame is not None:
            self.frame.hand_over(name, "application/toml", text.encode())

    def _hand_in(self) -> None:
        """Hand over claim, evidence and reasoning as one page with fields for name and date."""
        from ...reports.hand_in import hand_in_page

        evidence = self.lab.readings.evidence
        if evidence is None or self.lab.waits:
            raise ExperimentError(
                "There is no page to hand in yet.",
                fix="Correct the fields marked as not used; the page is of what is typed.",
            )
        name = f"{Path(self.lab.readings.name).stem or 'lab'}-hand-in.html"
        if self.frame is not None:
            data = hand_in_page(evidence).html().encode()
            self.frame.hand_over(name, "text/html", data, " Type your name into it, and print it.")

    def _say(self, text: str) -> None:
        if self.frame is not None:
            self.frame.say(text, "good")

    # History

    def _undo(self) -> None:
        self.lab.history.undo()

    def _redo(self) -> None:
        self.lab.history.redo()

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
