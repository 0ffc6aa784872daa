"""One model of a page, and how it is written: plain text, Markdown, HTML, LaTeX, or as data."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any, assert_never

from .._common import check_ending, write_whole
from ..errors import DataFileError, ModelError
from .html import html_heading, html_kept, html_page, html_part
from .latex import (
    equation_latex,
    latex_document,
    latex_heading,
    latex_part,
    math_document,
    math_heading,
    math_part,
)
from .parts import Bullets, Equation, Field, Part, Picture, Section, Strong, Subheading, Table
from .plain import equation_sides, markdown_heading, markdown_part, text_heading, text_part

FORMS = {
    "text": (".txt",),
    "markdown": (".md",),
    "html": (".html", ".htm"),
    "latex": (".tex",),
    "json": (".json",),
}
"""Each form in which a document is written, with the endings of its files."""


def form_of(path: str | os.PathLike[str]) -> str:
    """Return the form that the ending of a file's name stands for.

    Raises
    ------
    DataFileError
        If it stands for none.

    Examples
    --------
    >>> form_of("lab.tex")
    'latex'
    >>> form_of("lab.pdf")
    Traceback (most recent call last):
    stoichkit.errors.DataFileError: A document cannot be written in this form. Given: lab.pdf.
    Allowed: a name that ends in .txt, .md, .html, .htm, .tex or .json. For paper or PDF, write
    .html and print it from a browser.
    """
    target = check_ending(path, ())
    for form, endings in FORMS.items():
        if target.suffix.lower() in endings:
            return form
    *others, last = (ending for endings in FORMS.values() for ending in endings)
    raise DataFileError(
        "A document cannot be written in this form.",
        given=target.name,
        allowed=f"a name that ends in {', '.join(others)} or {last}",
        fix="For paper or PDF, write .html and print it from a browser.",
    )


@dataclass(frozen=True, slots=True, repr=False)
class Document:
    """A page: a title, opening paragraphs, and sections. Every form has the same content.

    Text of users never acts in any form. Pictures are drawn in HTML and described elsewhere.

    Attributes
    ----------
    title : str
    opening : tuple of str
        Paragraphs between the title and the first section.
    sections : tuple of Section
    check : callable, optional
        Called with every text that is written of it, in any form, before anybody has it; it raises
        an error to refuse.

    Examples
    --------
    >>> page = Document("Title", ("Words.",), (Section("First", (Bullets(("a", "b")),)),))
    >>> print(page.text())
    Title
    =====
    <BLANKLINE>
    Words.
    <BLANKLINE>
    First
    -----
    <BLANKLINE>
    - a
    - b
    <BLANKLINE>
    >>> page
    <Document “Title”, sections: First>
    """

    title: str
    opening: tuple[str, ...]
    sections: tuple[Section, ...]
    check: Callable[[str], object] | None = field(default=None, compare=False)

    def __getstate__(self) -> list[Any]:
        self._checked(json.dumps(self.data(), ensure_ascii=False))
        return [getattr(self, one.name) for one in fields(self)]

    def _checked(self, text: str) -> str:
        if self.check is not None:
            self.check(text)
        return text

    def __repr__(self) -> str:
        titles = "; ".join(section.title for section in self.sections)
        return f"<{type(self).__name__} “{self.title}”, sections: {titles}>"

    def _repr_html_(self) -> str:
        """Show the document in a notebook, below its headings; ``$`` is no formula there."""
        blocks = self._blocks(
            lambda text, level: html_heading(text, level + 1), lambda p: html_part(p, level=4)
        )
        body = self._checked("\n".join(blocks))
        return f'<article class="mathjax_ignore tex2jax_ignore">\n{body}\n</article>'

    def _blocks(
        self, heading: Callable[[str, int], str], part: Callable[[Part], str]
    ) -> Iterator[str]:
        """Yield everything in its order, as two functions write it."""
        yield heading(self.title, 1)
        yield from map(part, self.opening)
        for section in self.sections:
            yield heading(section.title, 2)
            yield from map(part, section.parts)

    def text(self) -> str:
        """Write plain text, at most 88 columns wide, in which nothing acts on a terminal."""
        return self._checked("\n\n".join(self._blocks(text_heading, text_part)) + "\n")

    def markdown(self) -> str:
        """Write Markdown.

        >>> print(Document("a_b", (), (Section("First", (Strong("x < y"),)),)).markdown())
        # a&#95;b
        <BLANKLINE>
        ## First
        <BLANKLINE>
        **x &lt; y**
        <BLANKLINE>
        """
        return self._checked("\n\n".join(self._blocks(markdown_heading, markdown_part)) + "\n")

    def html(self) -> str:
        """Write one HTML page that loads nothing and prints on A4 and Letter paper.

        >>> table = Table(("who", "how many"), (("<b>", "2"),), "Marks")
        >>> page = Document("Title", ("Words.",), (Section("First", (table,)),)).html()
        >>> page.count("<caption>Marks</caption>"), "&lt;b&gt;" in page, "<b>" in page
        (1, True, False)
        """
        blocks = [html_heading(self.title, 1), *map(html_part, self.opening)]
        for section in self.sections:
            parts = "\n".join([html_heading(section.title, 2), *map(html_part, section.parts)])
            blocks.append(html_kept(parts) if section.kept else parts)
        return self._checked(html_page(self.title, "\n".join(blocks)))

    def latex(self) -> str:
        """Write a LaTeX document, which needs only packages of every LaTeX installation."""
        return self._checked(latex_document("\n\n".join(self._blocks(latex_heading, latex_part))))

    def math(self) -> str:
        """Write one displayed formula, words and all, for ``IPython.display.Latex``."""
        return self._checked(math_document(" \\\\\n".join(self._blocks(math_heading, math_part))))

    def data(self) -> dict[str, Any]:
        """Return dicts, lists and strings, for a page that is drawn elsewhere.

        Returns
        -------
        dict
            ``title``: str; ``opening``: list of str; ``sections``: list of dicts with ``title``
            and ``parts``. Each part is a dict with its ``kind``:

            * ``"paragraph"``, ``"strong"`` (to be read first), ``"subheading"``: ``text``
            * ``"list"``: ``items``, list of str
            * ``"table"``: ``caption``; ``header``, list of str; ``rows``, list of lists of str as
              long as the header, the first cell naming the row
            * ``"equation"``: ``sides``, list of str, equal to each other; ``latex``, the same
              as one formula; ``remark``
            * ``"picture"``: ``svg``, an element with its description; ``alt_text``; ``caption``;
              ``file``, "" for none
            * ``"field"``: ``label``; ``value``, "" if it is to be filled in

            Every string but ``svg`` and ``latex`` is plain text, to be escaped where it is shown.

        Examples
        --------
        >>> Document("Title", (), (Section("First", ("x", Bullets(("a",)))),)).data()["sections"]
        [{'title': 'First', 'parts': [{'kind': 'paragraph', 'text': 'x'}, {'kind': 'list', ...}]}]
        """
        return {
            "title": self.title,
            "opening": list(self.opening),
            "sections": [
                {"title": section.title, "parts": [_part_data(part) for part in section.parts]}
                for section in self.sections
            ],
        }

    def written(self, form: str) -> str:
        """Write the document in one of :data:`FORMS`.

        Raises
        ------
        ModelError
            If there is no such form.

        Examples
        --------
        >>> Document("Title", (), ()).written("markdown")
        '# Title\\n'
        """
        match form:
            case "text":
                return self.text()
            case "markdown":
                return self.markdown()
            case "html":
                return self.html()
            case "latex":
                return self.latex()
            case "json":
                return self._checked(json.dumps(self.data(), ensure_ascii=False, indent=1) + "\n")
        raise ModelError("There is no such form.", given=form, allowed=", ".join(FORMS))

    def save(self, path: str | os.PathLike[str], *, replace: bool = False) -> Path:
        """Write the document to a file, whole or not at all.

        Parameters
        ----------
        path : str or path-like
            Its ending decides the form: ``.txt``, ``.md``, ``.html`` or ``.htm``, ``.tex``,
            ``.json``.
        replace : bool
            Whether a file that is there may be replaced.

        Returns
        -------
        pathlib.Path
            The file written.

        Raises
        ------
        StoichkitError
            If the name ends in something else, a file of that name exists, or it cannot be
            written.

        Examples
        --------
        >>> import tempfile
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     Document("Title", (), ()).save(f"{folder}/page.md").read_text()
        '# Title\\n'
        """
        text = self.written(form_of(path))
        return write_whole(path, text.encode("utf-8"), replace=replace)


def _part_data(part: Part) -> dict[str, Any]:
    """Return a part as a dict."""
    match part:
        case str(text):
            return {"kind": "paragraph", "text": text}
        case Strong(text):
            return {"kind": "strong", "text": text}
        case Subheading(text):
            return {"kind": "subheading", "text": text}
        case Bullets(items):
            return {"kind": "list", "items": list(items)}
        case Table(header, rows, caption):
            cells = [list(row) for row in rows]
            return {"kind": "table", "caption": caption, "header": list(header), "rows": cells}
        case Equation(_, remark):
            sides, latex = equation_sides(part), equation_latex(part)
            return {"kind": "equation", "sides": sides, "latex": latex, "remark": remark}
        case Field(label, value):
            return {"kind": "field", "label": label, "value": value}
        case Picture(svg, alt_text, caption, file):
            return {
                "kind": "picture", "svg": svg, "alt_text": alt_text, "caption": caption,
                "file": file,
            }  # fmt: skip
        case _:
            assert_never(part)
