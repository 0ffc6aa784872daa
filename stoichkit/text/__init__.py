"""What a page is made of, and how it is written for people."""

from __future__ import annotations

from .._common import loaded_when_used

__getattr__, __dir__, __all__ = loaded_when_used(
    __name__,
    {
        "document": "Document form_of",
        "parts": "Bullets Equation Picture Section Strong Subheading Table",
        "plain": "markdown_part text_part",
        "sheets": "Sheet write_sheets",
    },
)
