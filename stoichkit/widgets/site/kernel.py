"""The screens behind a web worker: texts come in, texts go out, what is typed is kept outside.

``worker.js`` loads Python, makes one :class:`Kernel`, and hands it what the page sends. Nothing
here needs a browser.
"""

from __future__ import annotations

import gc
import json
import os
import sys
import tempfile
from collections.abc import Callable, Mapping, Sequence
from functools import _lru_cache_wrapper
from importlib.machinery import ModuleSpec
from pathlib import Path
from types import ModuleType
from typing import Any

from ... import experiments
from ...errors import StoichkitError
from ...experiments.address import fragment_of, lab_in
from ...experiments.practice_labs import practice_of
from ...experiments.record import Experiment
from ..kit.work import NotYet, arrived
from ..state.lab import LabState
from ..view.every import SCREENS, LateScreen
from ..view.frame import Frame
from ..view.head import Head

START = "copper-silver"
"""The ready lab that a page shows whose address names none."""
_OWNER = "this page"
ANY = "*"
_ABSENT = dict.fromkeys(("scipy", "sympy", "openpyxl", "matplotlib"), "It")


class Arriving:
    """Knows which packages are on their way: to import one of them is :class:`.NotYet`.

    Examples
    --------
    >>> coming = Arriving({"no_such_package": "The package"})
    >>> sys.meta_path.insert(0, coming)
    >>> try:
    ...     import no_such_package.part
    ... except NotYet as reason:
    ...     print(reason)
    The package is still being loaded; this follows by itself.
    >>> coming.here("no_such_package")
    >>> sys.meta_path.remove(coming)

    The name :data:`ANY` stands for every module that is not loaded yet.
    """

    def __init__(self, names: Mapping[str, str]) -> None:
        self.names = dict(names)

    def find_spec(
        self, name: str, path: Sequence[str] | None = None, target: ModuleType | None = None
    ) -> ModuleSpec | None:
        """Refuse a package that is on its way; know nothing of others."""
        del path, target
        said = self.names.get(ANY) or self.names.get(name.partition(".")[0])
        if said is not None:
            raise NotYet(f"{said} is still being loaded; this follows by itself.")
        return None

    def here(self, name: str) -> None:
        """A package has arrived, or will not come."""
        self.names.pop(name, None)


class Kernel:
    """One lab with all its screens, for one page.

    Parameters
    ----------
    send : callable
        Is given a kind and a JSON text: "answer" for the page as ``page/protocol.md`` says it,
        "kept" what is to be kept by the browser, "opened" which lab is shown, "waits" why an
        action is not answered yet ("" when it is).
    folder : Path
        Where files of typed texts lie while Python runs.
    session : str
        Name of the page among those that are open in this browser.
    base : str
        Address of the page without what stands after ``#``.
    expected : mapping of str to str
        Packages that arrive later, and what they are called in sentences.

    Examples
    --------
    >>> import tempfile
    >>> sent = []
    >>> with tempfile.TemporaryDirectory() as place:
    ...     kernel = Kernel(lambda kind, text: sent.append(kind), Path(place))
    ...     kernel.open("lab=tin-oxide")
    ...     done = kernel.act('{"page": "p", "number": 1, "name": "ready", "arguments": {}}')
    ...     title = kernel.lab.experiment.title
    ...     kernel.close()
    >>> title, done, sent[:2]
    ('Which oxide does tin form?', True, ['opened', 'answer'])
    """

    lab: LabState
    frame: Frame

    def __init__(
        self,
        send: Callable[[str, str], object],
        folder: Path,
        *,
        session: str = "1",
        base: str = "",
        expected: Mapping[str, str] | None = None,
    ) -> None:
        self._send, self._folder, self._base = send, folder, base
        self._known: dict[str, int] = {}
        self._held: list[str] = []
        self._before: list[str] = []
        self._wanted: tuple[str, str] | None = None
        self._waits_said = ""
        self._opened = False
        self._address: tuple[Experiment, str, str] | None = None
        os.environ["STOICHKIT_SESSION"] = f"page {session}"
        os.environ["JPY_SESSION_NAME"] = _OWNER
        self.arriving = Arriving(expected or {})
        if self.arriving.names:
            sys.meta_path.insert(0, self.arriving)

    # What the browser keeps

    def give_back(self, kept: str) -> None:
        """Take over what the browser has kept: a JSON table of names to text and time."""
        try:
            tables = json.loads(kept)
        except ValueError:
            return
        self._folder.mkdir(parents=True, exist_ok=True)
        for name, value in tables.items() if isinstance(tables, dict) else ():
            match value:
                case [str(text), int(seconds) | float(seconds)] if _is_ours(name):
                    path = self._folder / name
                    path.write_text(text, "utf-8")
                    os.utime(path, (seconds, seconds))
                    self._known[name] = path.stat().st_mtime_ns

    def keep(self) -> None:
        """Have the browser keep what was typed since the last time."""
        if not self._opened:
            return
        try:
            self.lab.kit.flush()
        except NotYet:
            return
        here = {
            path.name: path.stat().st_mtime_ns
            for path in self._folder.glob("typed-*.json")
            if _is_ours(path.name)
        }
        changed: dict[str, Any] = {
            name: [(self._folder / name).read_text("utf-8"), at / 1e9]
            for name, at in here.items()
            if self._known.get(name) != at
        }
        changed |= dict.fromkeys(self._known.keys() - here.keys())
        if changed:
            self._known = here
            self._send("kept", json.dumps(changed, ensure_ascii=False))

    # The lab

    @property
    def waits(self) -> bool:
        """Whether a lab is to be shown that needs what is on its way."""
        return self._wanted is not None

    def open(self, fragment: str = "", screen: str = "") -> None:
        """Show the lab that an address names, with what was typed into it before.

        An address that names none changes nothing but for a sentence that says so. ``screen`` is
        that of a page that is opened again: then all is as it was left. A lab that needs what is on
        its way is shown when that is here; what the page asks for meanwhile is done after it.
        """
        self._before += self._held
        self._held = []
        self._try(fragment, screen)

    def _try(self, fragment: str, screen: str) -> None:
        self._wanted = fragment, screen
        try:
            self._open(fragment, screen)
        except NotYet as reason:
            self._say_waits(str(reason))
        else:
            self._wanted = None
            if not self._held:
                self._say_waits("")

    def _say_waits(self, why: str) -> None:
        if why != self._waits_said:
            self._waits_said = why
            self._send("waits", json.dumps(why))

    def _open(self, fragment: str, screen: str) -> None:
        problem, source = "", None
        try:
            source = lab_in(fragment) if fragment else START
        except StoichkitError as error:
            problem = str(error)
        if source is None and not self._opened:
            source = START
        if source is not None:
            self._show(*self._made(source, fragment, screen))
            self._let_go()
        else:
            self._held = self._before + self._held
            self._before.clear()
            if screen in self.frame.screens:
                self.frame.show(screen)
        title = self.lab.experiment.title
        self._send("opened", json.dumps({"title": title, "problem": problem}))

    def _made(self, source: Experiment | str, fragment: str, screen: str) -> tuple[LabState, str]:
        """Return the states of a lab, and the screen to be shown; the lab before is left alone."""
        lab = LabState(source, folder=self._folder)
        try:
            if fragment and not screen:
                _follow_link(lab, source)
            if screen not in SCREENS:
                screen = "" if practice_of(lab.experiment) is None else "study"
        except NotYet:
            lab.close()
            raise
        return lab, screen

    def _let_go(self) -> None:
        """Answer what was held for another lab, so that the page waits for it no longer."""
        before, self._before = self._before, []
        for action in before:
            self.frame.act({**json.loads(action), "name": "left"})

    def _show(self, lab: LabState, screen: str) -> None:
        lab.apart = True
        made = [LateScreen(lab, key) for key in SCREENS]
        head = Head(lab, address=self.address)
        frame = Frame(
            made, head=head.region, send=self._answer, after=self._after, left=lab.history.settle
        )
        head.frame = frame
        for one in made:
            one.frame = frame
        if screen:
            try:
                frame.show(screen)
            except NotYet:
                lab.close()
                raise
        self.close()
        self.lab, self.frame, self._opened = lab, frame, True

    def address(self) -> str:
        """Return the address that opens the lab as it is typed.

        >>> kernel = Kernel(print, Path("."), base="page")
        >>> kernel.lab = LabState("tin-oxide", autosave=False)
        >>> kernel.address()
        'page#lab=tin-oxide'
        """
        lab, name = self.lab.readings.experiment, self.lab.readings.name
        if self._address is None or self._address[:2] != (lab, name):
            self._address = lab, name, f"{self._base}#{fragment_of(lab, name)}"
        return self._address[2]

    def close(self) -> None:
        """End the lab that is shown; what was typed is kept."""
        if self._opened:
            self.frame.close()
            self.lab.close()
            self.keep()
            self._opened = False

    # What the page does

    def act(self, action: str) -> bool:
        """Do what the page asks for; one that needs what is on its way is held until it is here.

        Returns whether it was done, and what was typed handed over to be kept.
        """
        if self._held or self.waits:
            self._held.append(action)
            return False
        try:
            with self.lab.history.whole(NotYet):
                self.frame.act(json.loads(action))
        except NotYet as reason:
            self._held.append(action)
            self._say_waits(str(reason))
            return False
        return True

    def expects(self, name: str) -> bool:
        """Whether a package is still on its way."""
        return name in self.arriving.names

    def arrived(self, name: str) -> None:
        """Go on with all that waited for a package."""
        self.arriving.here(name)
        waited = self._wanted
        if waited is not None:
            self._try(*waited)
        held, self._held = self._held, []
        if not self.waits:
            self._say_waits("")
        for action in held:
            self.act(action)
        arrived()
        if self._opened and (waited is None or self.waits):
            self.frame.changed()

    def _answer(self, answer: dict[str, Any]) -> None:
        self._send("answer", json.dumps(answer, ensure_ascii=False))

    def _after(self) -> None:
        self.lab.tell()
        self.keep()


def _follow_link(lab: LabState, source: Experiment | str) -> None:
    """Show the lab of a link, where another one was opened after it; undo brings that back."""
    wanted = experiments.load(source) if isinstance(source, str) else source
    if lab.readings.base != wanted:
        lab.kit.start_afresh()


def rehearse() -> None:
    """Do once, for nobody, what a page begins with, so that all that needs is loaded.

    Every ready lab is opened; what was worked out is kept of the last alone, which is typed in.

    >>> rehearse()
    """
    before = dict(os.environ)
    others = [f"lab={name}" for name in experiments.names() if name != START]
    with tempfile.TemporaryDirectory() as folder:
        kernel = Kernel(lambda *_: None, Path(folder), expected=_ABSENT)
        try:
            for fragment in others:
                kernel.open(fragment)
                _rehearse(kernel, "ready", {})
            _forget()
            kernel.open()
            _rehearse(kernel, "ready", {})
            for mass in ("2.95", "2.96"):
                _rehearse(kernel, "cells", {"id": "sheet", "row": 0, "column": 0, "to": [[mass]]})
        finally:
            kernel.close()
            sys.meta_path.remove(kernel.arriving)
            os.environ.clear()
            os.environ.update(before)


def _rehearse(kernel: Kernel, name: str, arguments: dict[str, Any]) -> None:
    kernel.act(json.dumps({"page": "", "number": 1, "name": name, "arguments": arguments}))


def _forget() -> None:
    """Empty what our functions keep of what they have worked out."""
    own = __name__.partition(".")[0]
    for one in gc.get_objects():
        if isinstance(one, _lru_cache_wrapper) and one.__module__.partition(".")[0] == own:
            one.cache_clear()


def _is_ours(name: object) -> bool:
    """Whether a file that the browser has kept may be written: a plain name of a typed text."""
    return (
        isinstance(name, str)
        and name.startswith("typed-")
        and name.endswith(".json")
        and name.replace("-", "").replace(".", "").isalnum()
        and name.isascii()
    )
