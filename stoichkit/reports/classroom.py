"""The report on a class, and that on one of its groups, from the verdict to the details."""

from __future__ import annotations

import math
from collections.abc import Iterator

from ..classroom.amounts import joined
from ..classroom.evidence import Progress
from ..classroom.line import class_diagnosis, group_diagnosis
from ..classroom.pooled import pooled_ratios
from ..classroom.questions import Question
from ..classroom.result import ClassResult
from ..classroom.review import Review
from ..classroom.sentences import (
    allowance_text,
    balances_sentence,
    basis_sentence,
    blank_sentences,
    by_route_sentence,
    class_assumptions,
    class_caveat_sentence,
    class_ratio_sentence,
    class_route_sentences,
    class_verdict_sentences,
    file_sentence,
    groups_sentence,
    heterogeneity_sentence,
    leave_one_out_sentence,
    line_sentence,
    not_assessed_sentences,
    outlook_sentences,
    outlying_rule,
    outlying_sentence,
    ratio_tested,
)
from ..classroom.statement import (
    by_itself,
    groups_text,
    opinions_sentence,
    statement_of_class,
)
from ..classroom.trust import class_trust_sentences
from ..classroom.verdict import ClassCaveatKind, ClassVerdict
from ..decision.answers import ACCEPTED, AnswerLine, answer_lines
from ..decision.evidence import assess
from ..decision.statement import reason_sentences
from ..decision.verdict import Reason, VerdictKind
from ..decision.yields import yield_for
from ..diagnosis.sentences import no_slip_sentence, slip_sentence
from ..errors import ModelError
from ..experiments.record import Experiment
from ..plots.class_groups import MOST_SETS, ClassGroupsPicture, GroupRow
from ..plots.class_line import ClassLinePicture
from ..plots.render import svg
from ..text.document import Document
from ..text.parts import Bullets, Part, Picture, Section, Strong, Table
from ..text.wording import more_are, names_text, p_text, plus_minus, shown_range, symbol, two_digits
from ..uncertainty import entry
from .following import ClassFollowing, following_section
from .review import decisions_section
from .sections import (
    assumptions_section,
    budget_section,
    candidates_section,
    causes_section,
    cautions_section,
    ratio_section,
    ratio_text,
    trust_section,
    verdict_section,
    yield_section,
)
from .worked import worked_section

_MOST_PROBLEMS = 60
_MOST_EXPLAINED = 3


def class_report(
    result: ClassResult,
    *,
    title: str | None = None,
    note: str = "",
    pictures: bool = True,
    progress: Progress | None = None,
    following: ClassFollowing | None = None,
    review: Review | None = None,
) -> Document:
    """Return the report on a class.

    Parameters
    ----------
    result : ClassResult
        For a report without names make it with ``codes=True``.
    title : str, optional
        That of the experiment if left out.
    note : str
        A paragraph below the title, such as a date or that the readings are invented.
    pictures : bool
        Whether there are pictures; they are drawn in HTML and described in the other forms.
    progress : callable, optional
        Called with the number of groups done and of all; return True to stop.
    following : ClassFollowing, optional
        What more trials would do for the groups that do not conclude, to be told as well:
        :func:`stoichkit.reports.class_following`, which takes a little while.
    review : Review, optional
        Whose verdicts are put side by side; see :func:`stoichkit.classroom.review_class`.

    Returns
    -------
    Document
        Save it as ``.txt``, ``.md``, ``.html`` (one page to print), ``.tex`` or ``.json``.

    Raises
    ------
    ModelError
        If it was stopped.

    Examples
    --------
    >>> from stoichkit import assess_class, experiments
    >>> report = class_report(assess_class(experiments.class_file(), "copper-silver"))
    >>> report.sections[0].parts[0].text
    'Together the 9 groups single out copper(II). Copper(I) is excluded (p < 0.0001).'
    >>> page = report.html()
    >>> page[:15], page.count("<h1>"), page.count('role="img"')
    ('<!DOCTYPE html>', 1, 2)
    """
    entry.record("result", result, ClassResult)
    entry.texts(title="" if title is None else title, note=note)
    entry.flags(pictures=pictures)
    if review is not None:
        entry.record("review", review, Review)
    if progress is not None:
        entry.function("progress", progress, "progress(done, total)")
    if following is not None:
        entry.record("following", following, ClassFollowing)
    opening = [note] if note.strip() else []
    if result.coded:
        opening.append("Groups go by codes; no names are in this report.")
    return Document(
        title or f"{result.experiment.title}: report on a class",
        tuple(opening),
        tuple(_class_sections(result, pictures, progress, following, review)),
        result.data.names_kept.check if result.coded else None,
    )


def _class_sections(
    result: ClassResult,
    pictures: bool,
    progress: Progress | None,
    following: ClassFollowing | None,
    review: Review | None,
) -> Iterator[Section]:
    """Yield the sections in the order in which a tired reader needs them."""
    rows = ClassGroupsPicture.of(result, progress=_stopping(progress))
    yield class_verdict_section(result)
    yield look_at_section(result)
    if result.data.applied or review is not None:
        yield decisions_section(result.data.applied, review)
    if pictures:
        picture = Picture(svg(rows), rows.alt_text)
        yield Section("The groups beside the candidates", (picture,))
    yield Section("Group by group", tuple(_table(result, rows)))
    verdict = result.verdict
    if verdict is not None:
        yield Section("The groups pooled", tuple(_pooled(result, verdict)))
        yield Section("Straight line and blank", tuple(_line(result, verdict, pictures)))
    causes = _causes(result)
    if causes is not None:
        yield causes
    if result.outlook is not None:
        mistyped = class_diagnosis(result).mistyped
        said = tuple(outlook_sentences(result.outlook, instruments=not mistyped))
        yield Section("What more groups or other instruments would add", (Bullets(said),))
    if following is not None:
        yield following_section(following)
    yield Section("The file", tuple(_file(result)))
    if verdict is not None:
        assumed = Bullets(tuple(class_assumptions(verdict, result.experiment)))
        yield Section("What the verdict of the class assumes", (assumed,))
    yield cautions_section(result.experiment)


def _stopping(progress: Progress | None) -> Progress | None:
    """Make progress that raises an error when it is to stop."""
    if progress is None:
        return None

    def told(done: int, total: int) -> None:
        if progress(done, total) is True:
            raise ModelError(
                "The report was stopped before it was finished; nothing was written.",
                given=f"{done} of {total} groups done",
            )

    return told


def class_verdict_section(result: ClassResult, *, trust: bool = True) -> Section:
    """Return the verdict of the class, its ratio, and with what care to read it.

    With ``trust`` also what would overturn it, which takes longest to work out.
    """
    parts: list[Part] = [
        Strong(class_verdict_sentences(result)),
        class_diagnosis(result).sentence,
    ]
    if len(result.evidence) != 1:  # else it is said already
        parts.append(groups_sentence(result))
    verdict = result.verdict
    if verdict is not None and verdict.verdict.kind is not VerdictKind.CANNOT_BE_JUDGED:
        if not verdict.opinions_differ and (said_twice := opinions_sentence(verdict)):
            parts.append(said_twice)
        parts.append(class_ratio_sentence(verdict, result.experiment))
        if trust:
            parts.append(" ".join(class_trust_sentences(result)))
        said = [
            class_caveat_sentence(caveat, result)
            for caveat in verdict.caveats
            if caveat.kind is not ClassCaveatKind.OUTLYING  # among the groups to look at
        ]
        parts += ["Read this verdict with care:", Bullets(tuple(said))] if said else []
    return Section("Verdict of the class", tuple(parts))


def slip_lines(result: ClassResult, name: str) -> tuple[str, ...]:
    """Return the slips of one group in words, without its name."""
    return tuple(slip_sentence(slip) for slip in result.slips.get(name, ()))


def look_at_section(result: ClassResult) -> Section:
    """Return what an instructor should look at, the most urgent first."""
    said: list[str] = []
    for name in result.slips:
        said += [f"{name}, {line[:1].lower()}{line[1:]}" for line in slip_lines(result, name)]
    said += [slip_sentence(slip) for slip in result.shared_slips]
    if result.verdict is not None:
        said += [outlying_sentence(result, name) for name in result.verdict.outlying]
    evidence = result.evidence
    kinds = dict(zip(evidence.names, evidence.kinds, strict=True))
    said += _cannot_be_judged(result)
    none = [name for name, kind in kinds.items() if kind == "none_fits"]
    if none:
        for name in none[:_MOST_EXPLAINED]:
            found = group_diagnosis(result, name)
            if not found.mistyped:  # which is said above
                said.append(f"{name}: no candidate fits. {found.sentence}")
        said.append(
            f"No candidate fits {names_text(none)}: the report of a group says more. At the "
            f"coverage asked for, up to {100 * (1 - evidence.coverage):.3g} % of groups without a "
            "fault fit none either."
        )
    said += not_assessed_sentences(result)
    if said:
        return Section("Groups to look at", (Bullets(tuple(said)),))
    return Section(
        "Groups to look at",
        (
            "None: no slip was found, and a candidate fits."
            if len(evidence) == 1
            else "None: no slip was found, no group stands out, and a candidate fits every group.",
        ),
    )


def _cannot_be_judged(result: ClassResult) -> Iterator[str]:
    """Yield which groups cannot be judged and why; each by itself if they are few."""
    evidence = result.evidence
    cannot = str(VerdictKind.CANNOT_BE_JUDGED)
    names = [n for n, kind in zip(evidence.names, evidence.kinds, strict=True) if kind == cannot]
    if len(names) > _MOST_EXPLAINED:
        yield (
            f"{len(names)} groups cannot be judged, because an amount is below zero or a mass was "
            f"still changing: {names_text(names)}. Look at the report of the group."
        )
        return
    for name in names:
        why = reason_sentences(result.group(name).verdict)
        yield f"{name}: {why[:1].lower()}{why[1:]}"


def _best(result: ClassResult) -> str:
    """Return the candidate that the class supports most."""
    verdict = result.verdict
    if verdict is not None and verdict.verdict.kind is not VerdictKind.CANNOT_BE_JUDGED:
        tested = verdict.candidates
        return max(tested, key=lambda name: tested[name].p_value)
    most = int(result.evidence.compatible.sum(axis=0).argmax())
    return result.evidence.candidates[most]


def _table(result: ClassResult, rows: ClassGroupsPicture) -> Iterator[Part]:
    """Return a row for each group, if they are not too many."""
    if len(rows.rows) > MOST_SETS:
        yield (
            f"The table of {len(rows.rows)} groups is left out here; save the results to a "
            "spreadsheet to have it."
        )
        return
    evidence = result.evidence
    best = _best(result)
    by_name = {row.name: row for row in rows.rows}
    marks = [ray.ratio for ray in rows.rays]
    fitting = dict(zip(evidence.names, evidence.fitting, strict=True))
    reasons = dict(zip(evidence.names, evidence.reasons, strict=True))
    trials = dict(zip(evidence.names, evidence.trials.tolist(), strict=True))
    ratio = f"{symbol(result.experiment.produced.species)}/"
    ratio += symbol(result.experiment.consumed.species)
    header = (
        "Group", "Trials", "By itself", ratio, "Not excluded", f"Yield if {best}", "Look at",
    )  # fmt: skip
    cells = tuple(
        (
            row.name,
            str(trials[row.name]),
            by_itself(fitting[row.name], reasons[row.name], len(evidence.candidates)),
            "–" if math.isnan(row.ratio) else f"{row.ratio:.2f}",
            _stretches(row, marks),
            _yield(result, row.name, best),
            row.remark or "–",
        )
        for row in (by_name[name] for name in evidence.names)
    )
    yield Table(header, cells, f"{groups_text(len(cells))}, in the order of the file")
    percent = 100 * result.evidence.coverage
    yield (
        f"Not excluded, and the range of the yield: at {percent:g} % coverage, from the readings "
        "of the group alone. A yield whose range holds 100 % is not off."
    )


def _stretches(row: GroupRow, marks: list[float]) -> str:
    """Write the ratios that a group does not exclude."""
    said = []
    for low, high in row.intervals:
        a, b = shown_range(low, high, marks)
        if low <= 0 and not b:
            said.append("every ratio")
        else:
            said.append(f"{a} to {b}" if b else f"{a} or more")
    return "; ".join(said) or "none"


def _yield(result: ClassResult, name: str, candidate: str) -> str:
    """Write the percent yield of a group with its range."""
    try:
        found = yield_for(result.groups[name], candidate)
    except ModelError:
        return "none possible"
    low, high = found.interval
    if not found.resolved:
        return f"{low:.0f} % or more" if math.isinf(high) else "not defined"
    a, b = shown_range(low, high, [100.0])
    places = len(a.partition(".")[2])
    return (
        f"{found.estimate:.{places}f} % ({a} to {b})" if b else f"{found.estimate:.0f} % (no limit)"
    )


def _pooled(result: ClassResult, verdict: ClassVerdict) -> Iterator[Part]:
    """Return the exact tests on the pooled groups, and the usual ways of pooling."""
    yield basis_sentence(verdict)
    yield heterogeneity_sentence(verdict)
    yield from class_route_sentences(verdict, result.experiment)
    allowed = allowance_text(verdict)
    at = ("Tested at",) if allowed else ()
    header = ("Candidate", "Ratio", *at, "p, readings", "p, scatter", "p, slope", "Verdict")
    standings = statement_of_class(verdict).standings
    rows = []
    for tested in verdict.candidates.values():
        ps = (tested.p_common, tested.p_scatter, tested.p_slope)
        shown = ["–" if math.isnan(p) else p_text(p, verdict.coverage) for p in ps]
        size = ratio_text(tested.candidate.ratio)
        status = standings[tested.name].status
        rows.append((tested.name, size, *(ratio_tested(tested) for _ in at), *shown, status))
    cover = f"{100 * verdict.coverage:g} %"
    yield Table(header, tuple(rows), f"The candidates, tested on the class at {cover}")
    yield (
        "p, readings: all trials tested by what their readings explain; p, scatter: by the scatter "
        "of the groups alone (Student t); p, slope: the straight line."
        + (f" Tested at: the ratio as measured that agrees best, with {allowed}." if at else "")
    )
    if routes := by_route_sentence(verdict):
        yield routes
    yield from _ways(verdict, cover)
    yield leave_one_out_sentence(verdict)
    yield outlying_rule(verdict)


def _ways(verdict: ClassVerdict, cover: str) -> Iterator[Part]:
    """Return the mole ratio of the class as the usual ways of pooling give it."""
    found = pooled_ratios(verdict)
    if not found:
        return
    header = ("Way of pooling", "Mole ratio", f"{cover} interval", "τ", "I²")
    rows = []
    for one in found:
        low, high = shown_range(*one.interval)
        rows.append(
            (
                one.way,
                plus_minus(one.ratio, one.standard_uncertainty),
                f"{low} to {high}",
                two_digits(one.tau),
                f"{100 * one.i_squared:.0f} %",
            )
        )
    yield Table(header, tuple(rows), "The mole ratio of the class, pooled in the usual ways")
    yield (
        "τ: standard deviation between the groups; I²: its part of the variance. Errors that the "
        "groups share are kept apart and added once. The intervals are to first order; the verdict "
        "rests on the exact tests above."
    )


def _line(result: ClassResult, verdict: ClassVerdict, pictures: bool) -> Iterator[Part]:
    """Return the straight line through the groups, and the blank."""
    if verdict.verdict.reason is Reason.BELOW_ZERO:
        yield "Not drawn: an amount is below zero, which is no blank. Put its reading right first."
        return
    yield line_sentence(verdict)
    if verdict.line is not None:
        yield blank_sentences(verdict.blank, result.experiment)
    if pictures:
        line = ClassLinePicture.of(result)
        yield Picture(svg(line), line.alt_text)


def _causes(result: ClassResult) -> Section | None:
    """Return what could explain that no candidate fits the class; None if one does."""
    verdict = result.verdict
    if verdict is None or verdict.verdict.kind is not VerdictKind.NONE_FITS:
        return None
    together = joined({name: result.data.groups[name] for name in verdict.groups})
    tested = verdict.candidates
    nearest = sorted(tested, key=lambda name: -tested[name].p_value)[:_MOST_EXPLAINED]
    title = "What could explain the discrepancy, if it is alike in all groups"
    evidence = assess(together, coverage=verdict.coverage)
    return causes_section(evidence, names=nearest, title=title, diagnosis=class_diagnosis(result))


def _file(result: ClassResult) -> Iterator[Part]:
    """Return what was odd in the file."""
    yield file_sentence(result)
    if balances := balances_sentence(result.data):
        yield balances
    if result.data.questions:
        yield Table(
            ("Where", "Question", "What the answer changes", "Answer"),
            tuple((q.where or "file", q.text, q.changes, _given(q)) for q in result.data.questions),
            "What is to be answered about the file",
        )
    problems = result.data.problems
    if not problems:
        yield "Nothing in it was odd."
        return
    header = ("Where", "What is odd", "Given", "Allowed", "What was done")
    rows = tuple(
        (p.place, p.text, p.given or "–", p.allowed or "–", p.done or "–")
        for p in problems[:_MOST_PROBLEMS]
    )
    yield Table(header, rows, "What to look at in the file")
    if (more := len(problems) - _MOST_PROBLEMS) > 0:
        yield f"{more_are(more, 'problem')} not listed here."


def _given(asked: Question) -> str:
    """Say which answer was given, or what is done without one."""
    if asked.answer:
        return asked.answer
    if asked.default:
        return f"none yet; taken for now: {asked.default}"
    return f"none yet, its rows wait: {' or '.join(asked.answers)}?"


def group_report(
    result: ClassResult,
    group: str,
    *,
    title: str | None = None,
    note: str = "",
    pictures: bool = True,
    answers: bool = True,
) -> Document:
    """Return the report on one group of a class, which names no other group.

    Parameters
    ----------
    result : ClassResult
    group : str
    title : str, optional
        The experiment and the group if left out.
    note, pictures
        As for :func:`class_report`.
    answers : bool
        Whether to include the worked solution and the answer key.

    Raises
    ------
    ModelError
        If there is no such group, or it could not be assessed.

    Examples
    --------
    >>> from stoichkit import assess_class, experiments
    >>> found = assess_class(experiments.class_file(), "copper-silver")
    >>> page = group_report(found, "plum").html()
    >>> "two digits may be transposed" in page, "teal" in page
    (True, False)
    """
    entry.texts(title="" if title is None else title, note=note)
    entry.flags(pictures=pictures, answers=answers)
    entry.text("group", group)
    evidence = entry.record("result", result, ClassResult).group(group)
    found = group_diagnosis(result, group)
    sections = (
        verdict_section(evidence, diagnosis=found),
        Section("Slips in the readings", tuple(_slips(result, group))),
        candidates_section(evidence),
        ratio_section(evidence, pictures=pictures),
        trust_section(evidence),
        yield_section(evidence),
        causes_section(evidence, diagnosis=found),
        budget_section(evidence, pictures=pictures, diagnosis=found),
        Section("Beside the class", tuple(_beside(result, group))),
        worked_section(evidence) if answers else None,
        Section("Answer key", (_key(evidence.experiment), Bullets(ACCEPTED))) if answers else None,
        assumptions_section(evidence),
        cautions_section(evidence.experiment),
    )
    return Document(
        title or f"{result.experiment.title}: group {group}",
        (note,) if note.strip() else (),
        tuple(section for section in sections if section is not None),
        result.data.names_kept.check if result.coded else None,
    )


def _slips(result: ClassResult, group: str) -> Iterator[Part]:
    """Return the slips of a group, or that none was found."""
    said = slip_lines(result, group)
    if said:
        yield Bullets(said)
    else:
        verdict = result.group(group).verdict
        yield no_slip_sentence(verdict, beside="the other trials of the class")


def _beside(result: ClassResult, group: str) -> Iterator[Part]:
    """Return the verdict of the class, and whether the group stands out."""
    yield class_verdict_sentences(result)
    verdict = result.verdict
    if verdict is None:
        return
    yield class_ratio_sentence(verdict, result.experiment)
    if group in verdict.outlying:
        yield outlying_sentence(result, group)
    else:
        yield "This group does not stand out from the others."


def _key(experiment: Experiment) -> Table:
    """Return what a group should have calculated, and what to accept."""
    header = ("Trial", "Quantity", "Calculation", "Answer", "Accepted", "Unit")
    rows = tuple(_answer(line) for line in answer_lines(experiment))
    return Table(header, rows, "What this group should have calculated from its own readings")


def _answer(line: AnswerLine) -> tuple[str, ...]:
    """Return a row of the answer key."""
    if line.note or math.isnan(line.value):
        return (line.trial, line.words or "–", line.note or "–", "–", "–", line.unit or "–")
    answer = line.answer or f"{line.value:.6g}"
    low, high = shown_range(line.low, line.high, [line.value])
    accepted = answer if line.exact else f"{low} to {high}"
    return (
        line.trial,
        f"{line.words} {line.symbol}",
        line.formula or "given",
        answer,
        accepted,
        line.unit or "–",
    )
