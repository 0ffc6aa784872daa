"""The sentence that says what was weighed, with a control for each slot."""

from __future__ import annotations

from functools import partial

from ...experiments.own import suggestions
from ...experiments.own_slots import Slot
from ..state.own import OwnLab
from .blocks import Block, Builder, details, heading, row, said, sentence, words

_MOST_OFFERED = 8


def own_blocks(make: Builder, own: OwnLab) -> list[Block]:
    """Show the sentence, what it was understood as, its equations and its instruments."""
    found = own.understood
    ways = [(way.key, way.name) for way in own.ways]
    blocks = [
        heading("A lab of your own"),
        make.choice("own:way", "What is measured", own.sentence.way, ways, own.choose),
        sentence(*(_part(make, own, part) for part in own.way.parts)),
    ]
    lists = [slot for slot in own.way.slots if slot.kind == "list"]
    for slot in lists:
        blocks += _offered(make, own, slot)
    for name, read in found.slots.items():
        if read.refusal is not None:
            blocks.append(words(f"{_label(own, name)}: {said(read.refusal)}", "refusal"))
    for slot in lists:
        read = found.slots[slot.name]
        if read.items:
            note = f" ({read.note})" if read.note else ""
            blocks.append(words(f"Candidates: {'; '.join(read.items)}{note}.", "note"))
    if found.equations:
        blocks.append(words("  ·  ".join(found.equations[:6]), "note"))
    first, *others = (
        sentence(*(_part(make, own, part) for part in line)) for line in own.way.instruments
    )
    blocks.append(first)
    if others:
        blocks.append(details("Other instruments", others))
    blocks.append(sentence(*(_part(make, own, part) for part in own.way.heading)))
    missing = ", ".join(_label(own, name) for name in found.missing)
    if missing and not found.refusals:
        blocks.append(words(f"Still to be filled in: {missing}.", "note"))
    begin = "Go on with this" if own.used else "Begin with this lab"
    blocks.append(
        row(
            make.button("own:use", begin, own.use, look="main"),
            make.button("own:cancel", "Cancel", own.cancel),
        )
    )
    return blocks


def _part(make: Builder, own: OwnLab, part: str | Slot) -> str | Block:
    """Return words, or the control of a slot."""
    if isinstance(part, str):
        return part
    name, text = f"own:{part.name}", own.sentence.text(part.name)
    typed = partial(own.set, part.name)
    offered = [(one.text, one.label) for one in suggestions(own.sentence, part.name)]
    read = own.understood.slots.get(part.name)
    if part.kind == "choice":
        return make.choice(name, part.label, text, offered, typed, bare=True)
    shown = [] if part.kind == "list" else offered
    wide = {"list": 22, "text": 10}.get(part.kind, 10)
    if part.name == "title":
        wide = 32
    block = make.field(
        name, part.label, text, typed, options=shown, width=wide, bare=True,
        refusal=None if read is None else read.refusal,
    )  # fmt: skip
    return {**block, "refusal": "", "refused": bool(block["refusal"])}


def _offered(make: Builder, own: OwnLab, slot: Slot) -> list[Block]:
    """Offer the items of a list that are not in it yet."""
    text = own.sentence.text(slot.name)
    taken = own.understood.slots[slot.name].items if text.strip() else ()
    offered = [s for s in suggestions(own.sentence, slot.name) if s.label not in taken]

    def add(item: str) -> None:
        own.set(slot.name, ", ".join(filter(None, (text.strip().rstrip(","), item))))

    buttons = [
        make.button(f"own:{slot.name}:{i}", f"+ {one.label}", partial(add, one.text), look="quiet")
        for i, one in enumerate(offered[:_MOST_OFFERED])
    ]
    return [row(*buttons)] if buttons else []


def _label(own: OwnLab, name: str) -> str:
    return next((slot.label for slot in own.way.slots if slot.name == name), name)
