"""What a class says, as pieces of HTML for the panel and for pages that read well without it."""

from __future__ import annotations

from collections.abc import Mapping

from ..class_report_parts import class_sections, slip_lines
from ..class_result import ClassResult
from ..classevidence import Progress
from ..layout import Bullets
from ..page import PageSection, Strong
from ..report_parts import (
    candidates_section,
    causes_section,
    pictures_section,
    verdict_section,
    worked_section,
    yield_section,
)
from .class_html import answers_html, paragraph, parts_html, section_html

__all__ = ["CLASS_PARTS", "class_page", "class_parts", "group_html"]

CLASS_PARTS = (
    "verdict", "look at", "pictures", "groups", "pooled", "line", "outlook", "file", "assumptions",
)  # fmt: skip
"""Names of the pieces that :func:`class_parts` returns, in their order."""
_WHERE = {
    "Verdict of the class": "verdict",
    "Groups to look at": "look at",
    "The groups beside the candidates": "pictures",
    "Group by group": "groups",
    "The groups pooled": "pooled",
    "Straight line and blank": "line",
    "What more groups or other instruments would add": "outlook",
    "The file": "file",
    "What the verdict of the class assumes": "assumptions",
    "Cautions": "assumptions",
}
_LAST = "assumptions"


def class_parts(
    result: ClassResult, *, static: bool = False, progress: Progress | None = None
) -> Mapping[str, str]:
    """Return the sections of the report on a class as pieces of HTML.

    Parameters
    ----------
    result : ClassResult
    static : bool
        Whether they are for a page without a kernel: pictures as ``img`` elements, and the
        verdict, which a panel announces elsewhere, included.
    progress : callable, optional
        Called with the number of groups done and of all; may raise to stop.

    Returns
    -------
    mapping of str to str
        By the names in :data:`CLASS_PARTS`; "" for what the class has not.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> from stoichkit.class_result import assess_class_file
    >>> found = class_parts(assess_class_file(experiments.class_file(), "copper-silver"))
    >>> "stands out" in found["look at"], found["pictures"].count('role="img"')
    (True, 1)
    """
    found = dict.fromkeys(CLASS_PARTS, "")
    for section in class_sections(result, progress=progress):
        where = _WHERE.get(section.title, _LAST)
        if where == "verdict":
            parts = [p for p in section.parts if static or not isinstance(p, Strong)]
            found[where] += parts_html(parts, static=static)
        else:
            found[where] += section_html(section, static=static)
    return found


def class_page(result: ClassResult, *names: str) -> str:
    """Return pieces of the report on a class as HTML that reads well without a kernel.

    Parameters
    ----------
    result : ClassResult
    *names : str
        Some of :data:`CLASS_PARTS`; all of them if left out.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> from stoichkit.class_result import assess_class_file
    >>> found = assess_class_file(experiments.class_file(), "copper-silver")
    >>> class_page(found, "verdict")[:47]
    '<p><strong>Together the 9 groups single out cop'
    """
    found = class_parts(result, static=True)
    return "".join(found[name] for name in names or CLASS_PARTS)


def group_html(
    result: ClassResult,
    name: str,
    *,
    worked: bool = False,
    answers: bool = False,
    static: bool = False,
) -> str:
    """Show one group of a class: verdict, slips, ratio set, candidates, yield, causes.

    Parameters
    ----------
    result : ClassResult
    name : str
        Of a group, assessed or not.
    worked, answers : bool
        Whether to add the worked solution and the answer key.
    static : bool
        Whether it is for a page without a kernel.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> from stoichkit.class_result import assess_class_file
    >>> found = assess_class_file(experiments.class_file(), "copper-silver")
    >>> "may be transposed" in group_html(found, "plum")
    True
    """
    not_assessed = result.evidence.not_assessed.get(name)
    if not_assessed is not None:
        return paragraph(f"{name} was not assessed: {not_assessed}")
    evidence = result.group(name)
    slips = slip_lines(result, name)
    none = "No slip was found beside the other trials of the class."
    words = (
        verdict_section(evidence, title=f"{name}: verdict"),
        PageSection("Slips in the readings", (Bullets(slips) if slips else none,)),
        yield_section(evidence),
    )
    left = "".join(section_html(section, static=static) for section in words)
    right = section_html(pictures_section(evidence), static=static)
    more = [candidates_section(evidence), causes_section(evidence)]
    more += [worked_section(evidence)] if worked else []
    text = f'<div class="stoichkit-columns"><div>{left}</div><div>{right}</div></div>'
    text += "".join(section_html(s, static=static) for s in more if s is not None)
    if answers:
        text += "<h4>Answer key</h4>" + answers_html(evidence.experiment)
    return text
