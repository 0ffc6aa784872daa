"""What a page is made of, and how it is written for people."""

from __future__ import annotations

from .._common import loaded_when_used

__getattr__, __dir__, __all__ = loaded_when_used(
    __name__,
    {
        "document": "Bullets Section Table",
        "equations": "Equation",
        "html": "CaptionedTable PageSection Picture Strong Subheading html_page",
        "sheets": "Sheet write_sheets",
    },
)
