"""The frame of all screens: a view goes out, actions come in, in one order.

A screen is a list of regions, each a function that returns blocks. After each action the regions
that have changed are sent, the quick ones at once and the slow ones a moment later; what has not
changed is not sent again. Nothing here knows Jupyter. See ``page/protocol.md``.
"""

from __future__ import annotations

import base64
import binascii
import json
import logging
import secrets
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Any, Protocol

from ...errors import ModelError, StoichkitError
from ..kit.work import TURN, Later, NotYet
from .blocks import Block, Builder, words

_logger = logging.getLogger(__name__)
MOST_TEXT = 1_000_000
_BROKEN = (
    "Something went wrong that should not have. What you typed is still there; the details are in "
    "the log."
)
IDLE_S = 0.35
"""How long nobody has done anything before the slowest regions are worked out."""
MOST_BYTES = 30_000_000
MOST_PAGES = 20
"""Pages whose actions are remembered: those that did something last."""
Answer = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Region:
    """A part of a screen: where it stands, and what it is made of.

    ``place`` is "head", "left", "right" or "wide". ``when`` it is worked out: 0 at once, 1 a moment
    later, 2 when nobody has done anything for a while.
    """

    name: str
    place: str
    build: Callable[[Builder], list[Block]]
    when: int = 0


class Screen(Protocol):
    """One of the screens in a frame."""

    key: str
    title: str
    frame: Frame | None

    def regions(self) -> Sequence[Region]:
        """Return the regions, in their order."""


@dataclass(frozen=True, slots=True)
class File:
    """A file to be handed over by the page."""

    name: str
    kind: str
    data: bytes


class Frame:
    """Several screens in one frame, and what was sent of them.

    Parameters
    ----------
    screens : sequence of Screen
        At least one; the first is shown.
    head : Region, optional
        What stands above all of them.
    send : callable
        What answers are given to.
    after : callable
        Called after each action, so that others who show the same are told.
    left : callable
        Called when a field is left, which ends a step that can be undone.

    Examples
    --------
    >>> class Hello:
    ...     key, title, name = "hello", "Hello", "you"
    ...     def regions(self):
    ...         return [Region("all", "left", self.build)]
    ...     def build(self, make):
    ...         return [make.field("name", "Name", self.name, self.typed)]
    ...     def typed(self, text):
    ...         self.name = text
    >>> sent = []
    >>> frame = Frame([Hello()], send=sent.append)
    >>> frame.act({"page": "a", "number": 1, "name": "ready", "arguments": {}})
    >>> frame.act({"page": "a", "number": 2, "name": "set", "arguments": {"id": "name", "to": "x"}})
    >>> sent[-1]["seen"], sent[-1]["regions"]["all"][0]["text"]
    ({'a': 2}, 'x')
    """

    def __init__(
        self,
        screens: Sequence[Screen],
        *,
        head: Region | None = None,
        send: Callable[[Answer], object] = lambda _: None,
        after: Callable[[], object] = lambda: None,
        left: Callable[[], object] = lambda: None,
    ) -> None:
        self.screens = {one.key: one for one in screens}
        self.shown = screens[0].key
        self.send, self.after, self.left = send, after, left
        self._head = head
        self._soon, self._idle = Later(), Later(IDLE_S)
        self._seen: dict[str, int] = {}
        self._sent: dict[str, str] = {}
        self._layout = ""
        self._made_by: dict[str, Builder] = {}
        self._files: list[File] = []
        self.said: tuple[str, str] = ("", "")
        self.focus = ""

    # What others ask for

    def say(self, text: str, role: str = "status") -> None:
        """Have a sentence shown above everything until the next action."""
        self.said = (text, role)

    def hand_over(self, name: str, kind: str, data: bytes, then: str = "") -> None:
        """Have the page offer a file to be saved, and say so with what to do ``then``."""
        self._files.append(File(name, kind, data))
        self.say(f"{name} was handed to the browser, which keeps it among its downloads.{then}",
                 "good")  # fmt: skip

    def show(self, key: str) -> None:
        """Show another screen; the one before stays if that is :class:`.NotYet`."""
        if key not in self.screens:
            raise ModelError("There is no such screen.", given=key, allowed=", ".join(self.screens))
        self.screens[key].regions()
        self.shown = key

    def changed(self) -> None:
        """Send what has changed without having been asked; nothing if that is :class:`.NotYet`."""
        with TURN, suppress(NotYet):
            self._answer()

    def close(self) -> None:
        """Send nothing any more."""
        self._soon.stop()
        self._idle.stop()
        for one in self.screens.values():
            getattr(one, "close", lambda: None)()  # what a screen still works out is stopped
        self.send = lambda _: None

    # Actions

    def act(self, message: object) -> None:
        """Do what the page asks for, and answer.

        :class:`.NotYet` is raised, and nothing answered, if the action needs what is on its way.
        """
        with TURN:
            page, number, name, arguments = _checked(message)
            self.said = ("", "")
            try:
                self._do(name, arguments)
            except StoichkitError as error:
                self.say(str(error), "refusal")
            except NotYet:
                raise
            except Exception:
                _logger.exception("an action of the page failed")
                self.say(_BROKEN, "refusal")
            if page:
                self._seen[page] = max(number, self._seen.pop(page, 0))
                while len(self._seen) > MOST_PAGES:
                    self._seen.pop(next(iter(self._seen)))
            self._answer()
            self.after()

    def _do(self, name: str, arguments: Mapping[str, Any]) -> None:
        if name == "ready":
            self._sent.clear()
            self._layout = ""
            return
        if name == "show":
            self.show(_text(arguments.get("id")))
            return
        if name == "left":
            self.left()
            return
        key = _text(arguments.get("id"))
        made = next((one for one in self._made_by.values() if key in one.handlers), None)
        if made is None:
            if key.endswith(":width"):  # told by the page itself, of what was left meanwhile
                return
            raise ModelError("This control is no longer there.", fix="Use what is shown now.")
        if made.actions[key] not in ("", name):
            raise ModelError("The page asked for something that cannot be done.", given=name)
        made.handlers[key](*_values(name, arguments))

    # Answers

    def _answer(self) -> None:
        self.send(self._made(0))
        if any(one.when for one in self.regions()):
            self._soon(self._rest)

    def _rest(self) -> None:
        self._send_changed(1)
        if any(one.when > 1 for one in self.regions()):
            self._idle(lambda: self._send_changed(2))

    def _send_changed(self, when: int) -> None:
        answer = self._made(when)
        if answer["regions"] or answer["files"] or answer["settled"]:
            self.send(answer)

    def regions(self) -> list[Region]:
        """Return the regions of the screen that is shown, with the head."""
        head = [] if self._head is None else [self._head]
        return [*head, *self.screens[self.shown].regions()]

    def _made(self, when: int) -> Answer:
        """Return what has changed of the regions that are worked out by then."""
        regions = self.regions()
        layout = {"screen": self.shown, "places": [[one.place, one.name] for one in regions]}
        text = json.dumps(layout)
        if text != self._layout:
            known = {one.name for one in regions}
            self._sent = {n: t for n, t in self._sent.items() if n in known and n == "head"}
            self._made_by = {n: made for n, made in self._made_by.items() if n in known}
            self._layout = text
        changed: dict[str, list[Block]] = {}
        for region in regions:
            if region.when > when:
                continue
            make = Builder()
            try:
                blocks = region.build(make)
            except StoichkitError as error:
                blocks = [words(str(error), "refusal")]
            except NotYet as reason:
                blocks = [words(str(reason), "status")]
            except Exception:
                _logger.exception("a part of the page failed")
                blocks = [words(f"This part cannot be shown. {_BROKEN}", "refusal")]
            self._made_by[region.name] = make
            written = json.dumps(blocks, ensure_ascii=False)
            if self._sent.get(region.name) != written:
                self._sent[region.name] = written
                changed[region.name] = blocks
        files = [
            {"name": f.name, "type": f.kind, "base64": base64.b64encode(f.data).decode()}
            for f in self._files
        ]
        self._files.clear()
        focus, self.focus = self.focus, ""
        return {
            "seen": dict(self._seen),
            "layout": {**layout, "tabs": [[one.key, one.title] for one in self.screens.values()]},
            "regions": changed,
            "said": {"text": self.said[0], "role": self.said[1]},
            "files": files,
            "focus": focus,
            "settled": all(one.when <= when for one in regions),
        }


def new_name() -> str:
    """Return a name that no other page has."""
    return secrets.token_hex(6)


def _checked(message: object) -> tuple[str, int, str, Mapping[str, Any]]:
    """Return page, number, name and arguments of an action; refuse what is none."""
    if not isinstance(message, Mapping):
        return "", 0, "nothing", {}
    page, number, name = (message.get(key) for key in ("page", "number", "name"))
    arguments = message.get("arguments")
    page = _text(page) if isinstance(page, str) and len(page) < 100 else ""
    if not isinstance(number, int) or isinstance(number, bool) or number >= 2**53:
        number = 0
    name = _text(name) if isinstance(name, str) else "nothing"
    return page, number, name, arguments if isinstance(arguments, Mapping) else {}


def _values(name: str, arguments: Mapping[str, Any]) -> tuple[Any, ...]:
    """Return what a control's function is called with, checked."""
    to = arguments.get("to")
    match name:
        case "press":
            return ()
        case "set" if isinstance(to, str) and len(to) <= MOST_TEXT:
            return (_text(to),)
        case "tick" if isinstance(to, bool):
            return (to,)
        case "step" | "pick" if _whole(to):
            return (to,)
        case "cells":
            row, column = arguments.get("row"), arguments.get("column")
            if _whole(row) and _whole(column) and _matrix(to):
                return row, column, [[_text(cell) for cell in line] for line in to or ()]
        case "move":
            x, y, spot = arguments.get("x"), arguments.get("y"), arguments.get("spot")
            if _finite(x) and _finite(y) and isinstance(spot, str):
                return _text(spot), float(x), float(y)  # type: ignore[arg-type]
        case "file":
            text, given = arguments.get("name"), arguments.get("base64")
            if isinstance(text, str) and isinstance(given, str) and len(given) < MOST_BYTES * 1.4:
                try:
                    return _text(text[:200]), base64.b64decode(given, validate=True)
                except binascii.Error:
                    pass
    raise ModelError("The page asked for something that cannot be done.", given=name)


def _text(value: object) -> str:
    """Return a text without half characters, which cannot be sent back."""
    return value.encode("utf-8", "replace").decode() if isinstance(value, str) else ""


def _whole(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and 0 <= value < 100_000


def _finite(value: object) -> bool:
    number = isinstance(value, int | float) and not isinstance(value, bool)
    return number and abs(value) < 1e9  # type: ignore[arg-type]


def _matrix(value: object) -> bool:
    return (
        isinstance(value, list)
        and 0 < len(value) <= 2000
        and all(
            isinstance(row, list)
            and 0 < len(row) <= 200
            and all(isinstance(cell, str) and len(cell) <= 10_000 for cell in row)
            for row in value
        )
    )
