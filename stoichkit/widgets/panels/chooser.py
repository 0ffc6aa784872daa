"""Controls to open and to save an experiment: the place where a lab is chosen."""

from __future__ import annotations

import tomllib
from functools import lru_cache
from typing import Any

import ipywidgets

from ... import experiments
from ...errors import ExperimentError
from ...experiments.fields import MAX_BYTES
from ..kit.controls import Choice, Field, LiveText, button, guarded, row
from ..kit.saving import target_path
from ..state.form import refusal_of
from ..state.readings import ReadingsState

ANY_FILE = ""
"""Value of the choice for an experiment that is not a ready one."""


@lru_cache(maxsize=1)
def _ready() -> tuple[tuple[str, str], ...]:
    names = experiments.names()
    titles = (str(tomllib.loads(experiments.read(name))["title"]) for name in names)
    return tuple((f"{title} ({name})", name) for title, name in zip(titles, names, strict=True))


def ready_choice() -> Choice:
    """Return a list of the ready experiments, with a line for one of the user's own."""
    options = [*_ready(), ("– an experiment of your own –", ANY_FILE)]
    return Choice("Ready experiment (invented readings)", options, ANY_FILE)


class ExperimentChooser:
    """Opens a ready experiment, a file, or a text that is pasted."""

    def __init__(
        self, state: ReadingsState, area: LiveText, more: tuple[ipywidgets.Widget, ...] = ()
    ) -> None:
        self._state, self._area = state, area
        self.choice = ready_choice()
        self._upload = ipywidgets.FileUpload(
            accept=".toml", multiple=False, description="Open a TOML file"
        )
        self._upload.observe(guarded(area, self._open_file), names="value")
        self._pasted = Field("Text of an experiment file", "", lambda _: None, area, lines=6)
        self._paste = ipywidgets.ToggleButton(description="Paste a TOML text")
        self._paste.observe(guarded(area, self._show_paste), names="value")
        self._paste_box = ipywidgets.VBox(
            [self._pasted.box, row(button("Open this text", self._area, self._open_text))],
            layout={"display": "none"},
        )
        open_ready = button("Open the ready experiment", self._area, self._open_ready)
        buttons = row(open_ready, self._upload, self._paste, *more)
        self.box = ipywidgets.VBox([self.choice, buttons, self._paste_box])

    def follow(self) -> None:
        """Show which experiment is open."""
        name = self._state.name
        self.choice.value = name if name in experiments.names() else ANY_FILE

    def _open_ready(self) -> None:
        if self.choice.value == ANY_FILE:
            raise ExperimentError("Choose a ready experiment from the list first.")
        self._state.load(self.choice.value)

    def _open_file(self, change: Any) -> None:
        if not change["new"]:
            return
        file = change["new"][0]
        data = bytes(file["content"])
        self._upload.value = ()
        if len(data) > MAX_BYTES:
            raise ExperimentError(
                "The file is too large to be an experiment record.",
                path=file["name"],
                given=f"{len(data):,} bytes",
                allowed=f"at most {MAX_BYTES:,} bytes",
            )
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError as error:
            raise ExperimentError(
                "The file is not text in UTF-8.", path=file["name"], fix="Save it again as UTF-8."
            ) from error
        self._state.load(f"{text}\n", name=file["name"])

    def _show_paste(self, change: Any) -> None:
        self._paste_box.layout.display = None if change["new"] else "none"

    def _open_text(self) -> None:
        self._state.load(f"{self._pasted.input.value}\n", name="")


class ExperimentKeeper:
    """Saves the experiment file."""

    def __init__(self, state: ReadingsState, area: LiveText) -> None:
        self._state = state
        self._path = Field("Save as", "", self._show_target, area)
        self._replace = ipywidgets.Checkbox(
            description="A file of this name may be replaced", indent=False
        )
        self.button = button("Save experiment file", area, self._save)
        self._saved = LiveText()
        self.parts = [self._path.box, self._replace, row(self.button), self._saved]

    def follow(self, *, loaded: bool) -> None:
        """Forget what was saved; suggest another name for another experiment."""
        if loaded:
            self._path.show(self._state.suggested_path)
            self._replace.value = False
        self._saved.text = ""

    def _save(self) -> None:
        self._saved.text = ""
        written = self._state.save(self._path.input.value, replace=self._replace.value)
        self._saved.text = f"Saved: {written}"

    def _show_target(self, text: str) -> None:
        """Say which file is meant, so that what is saved where is seen beforehand."""
        self._saved.text = ""
        try:
            self._path.note = f"Full name: {target_path(text)}"
            self._path.refuse(None)
        except ExperimentError as error:
            self._path.refuse(refusal_of(error))
