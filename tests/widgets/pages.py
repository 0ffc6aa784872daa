"""What stands in a panel, and messages from its page as a kernel hands them over."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any


def tree(widget: Any) -> Iterator[Any]:
    """Yield a widget and all that stands in it."""
    yield widget
    for child in getattr(widget, "children", ()):
        yield from tree(child)


def receive(widget: Any, content: Any) -> None:
    """Have a widget receive a message that its page has sent."""
    data = {"method": "custom", "content": content}
    widget.comm.handle_msg({"content": {"data": data}, "buffers": []})
