"""Pages to read: how the verdict is reached, the limits of the tool, what each number means.

>>> pages()
('how-the-verdict-is-reached', 'limits', 'what-each-number-means')
"""

from __future__ import annotations

from importlib.resources import files

from .._common import loaded_when_used
from ..errors import DataFileError
from ..uncertainty import entry

__getattr__, _, _LOADED = loaded_when_used(__name__, {"notebooks": "copy_notebooks"})
__all__ = [*_LOADED, "page", "pages"]


def __dir__() -> list[str]:
    return sorted(__all__)


def pages() -> tuple[str, ...]:
    """Return the names of the pages, sorted."""
    found = files(__name__).iterdir()
    return tuple(sorted(f.name.removesuffix(".md") for f in found if f.name.endswith(".md")))


def page(name: str) -> str:
    """Return the text of a page, in Markdown.

    Parameters
    ----------
    name : str
        One of :func:`pages`.

    Raises
    ------
    DataFileError
        If there is no such page.

    Examples
    --------
    >>> page("limits").splitlines()[0]
    '# Limits of this tool'
    """
    if entry.text("name", name, error=DataFileError) not in pages():
        raise DataFileError(
            "There is no page of that name.", given=name, allowed=", ".join(pages())
        )
    return (files(__name__) / f"{name}.md").read_text(encoding="utf-8")
