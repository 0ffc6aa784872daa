"""The sentence of a lab of one's own, asked question by question, and then its readings.

Whoever calls it gives the two ends of the conversation, so that nothing here knows a terminal.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from ..errors import ExperimentError, Refusal, StoichkitError
from ..measurement.base import Role
from .own import Sentence, Way, suggestions, understood, ways
from .own_slots import Slot
from .parts import Trial
from .record import Experiment

_MOST_SHOWN = 8
_MOST_LISTED = 4
_YES = ("", "y", "yes")


def asked(ask: Callable[[str], str], tell: Callable[[str], None]) -> Experiment:
    """Ask for a lab and its readings; a text that cannot be used is refused and asked for again.

    Parameters
    ----------
    ask : callable
        Shows a question and returns the answer without its line end; raises EOFError where there is
        none any more.
    tell : callable
        Shows a line.

    Returns
    -------
    Experiment
        With the trials typed until an empty line, or the end of the input, in the place of the
        first reading of a trial; there may be none.

    Raises
    ------
    ExperimentError
        If the input ends before the lab is complete.

    Examples
    --------
    >>> answers = iter(
    ...     ["1", "Fe", "", "Cu", "", "", "2, 3", "", "", "7.30", "6.20", "1.40", "2.66"])
    >>> lab = asked(lambda question: next(answers, ""), lambda line: None)
    >>> lab.title, dict(lab.trials[0].readings)["paper"]
    ('Iron in a solution of Cu²⁺', ('1.40',))
    """
    try:
        lab = _lab(ask, tell)
        return _with_readings(lab, ask, tell)
    except EOFError:
        raise ExperimentError(
            "The input ended before the lab was complete.", fix="Nothing was written."
        ) from None


def _lab(ask: Callable[[str], str], tell: Callable[[str], None]) -> Experiment:
    way = _way(ask, tell)
    sentence = Sentence(way.key)
    for slot in (part for part in way.parts if isinstance(part, Slot)):
        sentence = _slot(sentence, slot, ask, tell)
    for equation in understood(sentence).equations:
        tell(f"  {equation}")
    sentence = _instruments(sentence, way, ask, tell)
    (title,) = (part for part in way.heading if isinstance(part, Slot))
    sentence = _slot(sentence, title, ask, tell)
    lab = understood(sentence).experiment
    assert lab is not None, "every slot was read"
    return lab


def _way(ask: Callable[[str], str], tell: Callable[[str], None]) -> Way:
    tell("What was done?")
    for number, way in enumerate(ways(), start=1):
        tell(f"  {number}  {way.name}")
    while True:
        answer = ask("Number [1]: ").strip() or "1"
        found = [
            way for n, way in enumerate(ways(), start=1) if answer in (str(n), way.key, way.name)
        ]
        if found:
            return found[0]
        _refuse(Refusal("This is none of them.", f"Allowed: 1 to {len(ways())}."), tell)


def _slot(
    sentence: Sentence, slot: Slot, ask: Callable[[str], str], tell: Callable[[str], None]
) -> Sentence:
    """Ask for one slot until what is typed can be used, and say what it was read as."""
    offered = suggestions(sentence, slot.name)
    label = f"{slot.label[0].upper()}{slot.label[1:]}"
    question = f"{label}: "
    if slot.kind == "choice":
        tell(label)
        for number, one in enumerate(offered, start=1):
            tell(f"  {number}  {one.label}")
        question = "Number [1]: "
    elif offered:
        some = " / ".join(one.label for one in offered[:_MOST_SHOWN])
        tell(f"{label}, such as {some}{' / ...' if len(offered) > _MOST_SHOWN else ''}")
    if slot.kind != "choice" and (slot.default or slot.optional):
        question = f"{label} [{slot.default or _if_empty(sentence, slot)}]: "
    while True:
        answer = ask(question).strip()
        if slot.kind == "choice" and answer.isdecimal() and 0 < int(answer) <= len(offered):
            answer = offered[int(answer) - 1].text
        tried = sentence.with_text(slot.name, answer) if answer else sentence
        said = understood(tried).slots[slot.name]
        if said.missing:
            _refuse(Refusal("This is needed."), tell)
        elif said.refusal:
            _refuse(said.refusal, tell)
        else:
            note = f" ({said.note})" if said.note else ""
            if said.items:
                tell(f"  = {', '.join(said.items)}{note}")
            return tried


def _if_empty(sentence: Sentence, slot: Slot) -> str:
    """Say what an empty slot would be read as."""
    said = understood(sentence).slots[slot.name]
    items = (
        said.items if len(said.items) <= _MOST_LISTED else (said.items[0], "...", said.items[-1])
    )
    return ", ".join(items) or "leave it out"


def _instruments(
    sentence: Sentence, way: Way, ask: Callable[[str], str], tell: Callable[[str], None]
) -> Sentence:
    """Show the instruments, and ask for their figures if they are others."""
    figures = [part for line in way.instruments for part in line if isinstance(part, Slot)]
    said = understood(sentence).slots
    for slot in figures:
        for item in said[slot.name].items:
            tell(f"  {item}")
    if ask("Are these your instruments? [yes] ").strip().lower() in _YES:
        return sentence
    for slot in figures:
        sentence = _slot(sentence, slot, ask, tell)
    return sentence


def _with_readings(
    lab: Experiment, ask: Callable[[str], str], tell: Callable[[str], None]
) -> Experiment:
    roles = {role.name: role for role in lab.roles()}
    asked_for = [roles[n] for n in lab.reading_names() if n not in lab.shared_readings]
    tell("Readings as the instruments show them, with all zeros. An empty line ends.")
    while True:
        number = len(lab.trials) + 1
        readings = _trial(f"Trial {number}", asked_for, ask, tell)
        if not readings:
            return lab
        try:
            trial = Trial(str(number), readings)  # type: ignore[arg-type]
            lab.with_trials([trial]).amounts()  # refuses what is physically impossible
            lab = lab.with_trials([*lab.trials, trial])
        except StoichkitError as error:
            _refuse(Refusal.of(error), tell)
            tell(f"  Trial {number} once more.")
            continue
        for question in lab.questions():
            if question.trial == trial.name:
                tell(f"  {question}")


def _trial(
    name: str, roles: list[Role], ask: Callable[[str], str], tell: Callable[[str], None]
) -> dict[str, list[str]]:
    """Ask for the readings of one trial; none if the first is left empty, or there is no more."""
    found: dict[str, list[str]] = {}
    for role in roles:
        several = ", with ; between if weighed again" if role.takes_several else ""
        while True:
            try:
                answer = ask(f"{name}, {role.name}, {role.unit}{several}: ").strip()
            except EOFError:
                if found:
                    raise
                return {}
            if not answer and (role is roles[0] or role.optional):
                break
            parts = [part.strip() for part in re.split(";", answer) if part.strip()]
            try:
                if len(parts) > 1 and not role.takes_several:
                    raise ExperimentError("This reading is made once.", given=answer)
                if not parts:
                    raise ExperimentError("This reading is missing.", allowed="a number")
                Trial("1", {role.name: parts})  # type: ignore[dict-item]
            except StoichkitError as error:
                _refuse(Refusal.of(error), tell)
                continue
            found[role.name] = parts
            break
        if not found:
            return {}
    return found


def _refuse(refusal: Refusal, tell: Callable[[str], None]) -> None:
    tell(f"  Not taken: {refusal}")
