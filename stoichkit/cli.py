"""What each command does; :mod:`stoichkit.__main__` reads their options.

Imports stand inside the functions: a command waits for nothing that it does not need.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ._common import check_place, write_whole
from .errors import DataFileError, ModelError

if TYPE_CHECKING:
    from .classroom.data import ClassData
    from .classroom.evidence import Progress
    from .classroom.result import ClassResult
    from .decision.evidence import Evidence
    from .experiments.record import Experiment

_DEMO = "copper-silver"
_COARSE = "copper-silver-coarse"
DEMO_PICTURE = Path("stoichkit-demo") / f"{_DEMO}.svg"
_PICTURES = (".svg", ".png")
_HANDED_IN = (".html", ".htm")
_PAGES = (".txt", ".md", ".html", ".htm", ".tex", ".json")


def run_demo(options: argparse.Namespace) -> None:
    """Show a ready lab with its verdict, table and budget, and what a coarser balance does.

    The picture of an earlier demonstration is drawn anew; one at a place of the user's own is
    replaced only with ``--force``.
    """
    from .decision.evidence import assess
    from .decision.statement import verdict_sentences
    from .experiments import load
    from .reports.sections import budget_table, candidate_table
    from .text.plain import text_part

    picture: Path | None = None if options.no_picture else options.demo_picture or DEMO_PICTURE
    replace = options.demo_force or options.demo_picture is None
    if picture == DEMO_PICTURE:
        picture.parent.mkdir(exist_ok=True)
    _check_places({}, {"--picture": (picture, _PICTURES)}, replace=replace)
    evidence = assess(load(_DEMO))
    print(f"{evidence.experiment.title}: a demonstration with invented readings\n")
    print(text_part(verdict_sentences(evidence)))
    print(text_part(evidence.diagnosis.sentence), end="\n\n")
    print(text_part(candidate_table(evidence)), end="\n\n")
    print(text_part(budget_table(evidence)), end="\n\n")
    coarse = assess(load(_COARSE))
    print("The same lab on a balance that shows 0.1 g instead of 0.01 g:")
    print(text_part(verdict_sentences(coarse)))
    print(text_part(coarse.diagnosis.sentence), end="\n\n")
    if picture is not None:
        _save_picture(evidence, picture, replace=replace)
        print(f"Picture: {picture}")
    print("Next: python -m stoichkit new asks for a lab of your own and its readings, or")
    print(f"      python -m stoichkit copy {_DEMO} my-lab.toml, change the readings, then")
    print("      python -m stoichkit test my-lab.toml")


def run_test(options: argparse.Namespace) -> None:
    """Test the candidates of an experiment file, and write the report."""
    from .reports.hand_in import hand_in_page
    from .reports.lab import lab_report

    picture: Path | None = options.picture
    outputs = {
        "--picture": (picture, _PICTURES),
        "--hand-in": (options.hand_in, _HANDED_IN),
        "--output": (options.output, ()),
    }
    _check_places({"FILE": options.file}, outputs, replace=options.force)
    form = _form(options)
    evidence = _assessed(options)
    if picture is not None:
        _save_picture(evidence, picture, replace=options.force)
    if options.hand_in is not None:
        hand_in_page(evidence).save(options.hand_in, replace=options.force)
    report = lab_report(evidence, picture_file=_seen_from(options.output, picture))
    _put(report.written(form), options)


def _seen_from(output: Path | None, picture: Path | None) -> str:
    """Return the path of a picture relative to the report; "" for none."""
    if picture is None:
        return ""
    try:
        return os.path.relpath(picture, output.parent if output is not None else Path())
    except ValueError:  # another drive
        return picture.resolve().as_uri()


def run_weighed(options: argparse.Namespace) -> None:
    """Test what was weighed, as typed on the command line, and save it for everything else."""
    from .experiments.own import weighed
    from .experiments.own_slots import items_of

    outputs = {"--save": (options.save, ()), "--output": (options.output, ())}
    _check_places({}, outputs, replace=options.force)
    form = _form(options)
    lab = weighed(
        _weighings(options.consumed, "--consumed"),
        _weighings(options.produced, "--produced"),
        states=items_of(options.states),
        candidates=items_of(options.candidates),
        ion=options.ion,
        balance_g=options.balance,
        repeatability_g=options.repeatability,
        title=options.title,
    )
    _judged_and_saved(lab, options, form)


def _weighings(texts: Sequence[str], option: str) -> dict[str, list[list[str]]]:
    """Return the substance and its readings, trial by trial, from texts like “Fe=7.3,6.2”."""
    found: dict[str, list[list[str]]] = {}
    for text in texts:
        species, equals, typed = text.partition("=")
        if not equals or not species.strip():
            raise ModelError(
                f"{option} does not name a substance and its readings.",
                given=text,
                allowed="Fe=7.3,6.2, or with decimal commas Fe=7,3;6,2",
            )
        readings = typed.split(";" if ";" in typed else ",")
        found.setdefault(species.strip(), []).append([one.strip() for one in readings])
    return found


def run_new(options: argparse.Namespace) -> None:
    """Ask for a lab and its readings on the terminal, save it and show the verdict."""
    from .experiments.dialogue import asked

    _check_places({}, {"--save": (options.save, ())}, replace=options.force)
    lab = asked(_ask, print)
    if options.save is None:
        options.save = _asked_place(options.force)
    _judged_and_saved(lab, options, "text")


def _ask(question: str) -> str:
    try:
        return input(question)
    except UnicodeDecodeError as error:
        raise ModelError(
            "What was typed is not text in the encoding of this terminal.",
            fix="Nothing was written. Set PYTHONIOENCODING=utf-8, or type plain letters.",
        ) from error


def _asked_place(replace: bool) -> Path:
    """Ask for the name of a file until one can be written."""
    while True:
        try:
            place = Path(_ask("Save as [my-lab.toml]: ").strip() or "my-lab.toml")
        except EOFError:
            raise ModelError(
                "The input ended before the file had a name.",
                fix="Nothing was written. Give the name with --save.",
            ) from None
        try:
            return check_place(place, replace=replace)
        except DataFileError as error:
            print(f"  Not taken: {error}")


def _judged_and_saved(lab: Experiment, options: argparse.Namespace, form: str) -> None:
    """Save a lab with the usual cautions for its reagents, and write its report."""
    from dataclasses import replace

    from .bench.plan import bench_plan
    from .decision.evidence import assess
    from .experiments.store import save_experiment
    from .reports.lab import lab_report

    lab = replace(lab, cautions=bench_plan(lab, reacting_mol=0.001).cautions)
    if options.save is not None:
        save_experiment(lab, options.save, replace=options.force)
    if not lab.trials:
        print(f"Saved as {options.save}, without readings yet.")
        print(f"Next: type them into the file, then python -m stoichkit test {options.save}")
        return
    evidence = assess(lab, coverage=options.coverage)
    _put(lab_report(evidence).written(form), options)
    if options.save is not None and options.output is None and form == "text":
        print(f"\nSaved as {options.save}.")


def run_worked(options: argparse.Namespace) -> None:
    """Write the worked solution of an experiment file."""
    from .reports.worked import worked_solution

    outputs = {"--output": (options.output, ())}
    _check_places({"FILE": options.file}, outputs, replace=options.force)
    form = _form(options)
    solution = worked_solution(_assessed(options), trial=options.trial, yield_of=options.yield_of)
    _put(solution.written(form), options)


def run_next(options: argparse.Namespace) -> None:
    """Write how many more trials, and of what kind, would settle the answer."""
    from .planning.following import next_trials
    from .reports.lab import next_report

    outputs = {"--output": (options.output, ())}
    _check_places({"FILE": options.file}, outputs, replace=options.force)
    form = _form(options)
    given = {
        name: getattr(options, name)
        for name in ("target", "most", "larger_by", "finer_g")
        if getattr(options, name) is not None
    }
    _put(next_report(next_trials(_assessed(options), **given)).written(form), options)


def _form(options: argparse.Namespace) -> str:
    """Return the form asked for, that of the output's ending, or plain text."""
    from .text.document import form_of

    asked: str | None = options.format
    return asked or (form_of(options.output) if options.output is not None else "text")


def _assessed(options: argparse.Namespace) -> Evidence:
    from .decision.evidence import assess

    return assess(named_experiment(options.file), coverage=options.coverage)


def _put(text: str, options: argparse.Namespace) -> None:
    """Print a text, or write it to a file."""
    if options.output is None:
        print(text, end="")
    else:
        write_whole(options.output, text.encode("utf-8"), replace=options.force)


def run_formula(options: argparse.Namespace) -> None:
    """Print what each formula was read as."""
    from .chemistry.spoken import understood

    for formula in options.formulas:
        print(f"{formula}: {understood(formula)}")


def run_list(options: argparse.Namespace) -> None:
    """List the ready experiments."""
    del options
    from .experiments import load, names
    from .text.parts import Table
    from .text.plain import text_part

    rows = []
    for name in names():
        experiment = load(name)
        readings = "invented" if experiment.invented else "as recorded"
        rows.append((name, experiment.title, str(len(experiment.candidates)), readings))
    print(text_part(Table(("Name", "What it is", "Candidates", "Readings"), tuple(rows))))


def run_copy(options: argparse.Namespace) -> None:
    """Copy a ready experiment to a file."""
    from .experiments import read

    text = read(options.name)
    target: Path = options.destination
    if target.is_dir():
        target = target / f"{options.name}.toml"
    write_whole(target, text.encode("utf-8"), replace=options.force)
    print(f"Copied to {target}")


def _check_places(
    inputs: Mapping[str, str | Path | None],
    outputs: Mapping[str, tuple[Path | None, Sequence[str]]],
    *,
    replace: bool,
) -> None:
    """Refuse before any work to write over an input, one file twice, or a file that is there.

    Inputs and outputs go by their names on the command line; an output has the endings allowed.
    """
    seen = {_identity(path): name for name, path in inputs.items() if path is not None}
    for name, (path, endings) in outputs.items():
        if path is None:
            continue
        other = seen.setdefault(_identity(path), name)
        if other != name:
            raise ModelError(
                f"{other} and {name} are the same file.", given=str(path), fix="Give another name."
            )
        check_place(path, replace=replace, endings=endings)


def _identity(path: str | Path) -> object:
    """Return what two names of one file have in common, whether it is there or not."""
    try:
        found = os.stat(path)
    except OSError:
        return os.path.normcase(os.path.realpath(path))
    return found.st_dev, found.st_ino


def _save_picture(evidence: Evidence, path: Path, *, replace: bool) -> None:
    from .plots.result import save_picture

    save_picture(evidence, path, replace=replace)


def run_notebooks(options: argparse.Namespace) -> None:
    """Copy the notebooks that come with the package."""
    from .guide.notebooks import copy_notebooks

    for path in copy_notebooks(options.folder, replace=options.force):
        print(path)


def run_guide(options: argparse.Namespace) -> None:
    """Print a page of the guide, or the names of all."""
    from .guide import page, pages

    print("\n".join(pages()) if options.page is None else page(options.page).rstrip())


_LARGE = 50
"""Classes of more groups tell their progress."""


def add_class_parser(subparsers: Any) -> argparse.ArgumentParser:
    """Add the command to the subparsers of an argument parser, and return its parser.

    Examples
    --------
    >>> parser = argparse.ArgumentParser()
    >>> _ = add_class_parser(parser.add_subparsers())
    >>> parser.parse_args(["class", "class.csv", "--experiment", "copper-silver"]).codes
    False
    """
    parser: argparse.ArgumentParser = subparsers.add_parser(
        "class", help="assess the file of a class (CSV or XLSX), group by group and together"
    )
    parser.add_argument(
        "file",
        metavar="FILE",
        nargs="?",
        type=Path,
        help="readings, one row a trial; the invented class of the experiment if left out",
    )
    parser.add_argument(
        "--experiment",
        required=True,
        metavar="NAME_OR_FILE",
        help="a ready experiment, or an experiment file in TOML",
    )
    parser.add_argument("--coverage", type=float, help="coverage probability, 0.5 to 0.9999")
    parser.add_argument(
        "--variation",
        metavar="SIZE",
        help="how much the groups truly differ: a percentage (standard deviation of the product "
        "from group to group), unknown, or none (by nothing but their readings); what the "
        "experiment says if left out, else unknown",
    )
    parser.add_argument(
        "--out",
        metavar="PATH",
        type=Path,
        help="write the report to this .html, .md, .txt, .tex or .json; shown as text if left out",
    )
    parser.add_argument("--group", metavar="NAME", help="report and answer key of one group only")
    parser.add_argument("--codes", action="store_true", help="call groups G01, G02, ... by codes")
    parser.add_argument(
        "--code-key", metavar="PATH", type=Path, help="which code is which group, to keep apart"
    )
    parser.add_argument(
        "--results", metavar="PATH", type=Path, help="results of each group (.csv, .xlsx, .html)"
    )
    parser.add_argument(
        "--key", metavar="PATH", type=Path, help="answer key of each group (.csv, .xlsx, .html)"
    )
    parser.add_argument("--note", default="", metavar="TEXT", help="a line below the title")
    parser.add_argument("--force", action="store_true", help="replace files that are there")
    return parser


def run_class(arguments: argparse.Namespace) -> None:
    """Do what the command line asks for; nothing is written if any name cannot be used.

    Parameters
    ----------
    arguments : argparse.Namespace
        As the parser of :func:`add_class_parser` returns it.

    Raises
    ------
    StoichkitError
        If the file, the experiment, a group or a place to write to cannot be used.
    """
    from .classroom.data import load_class
    from .classroom.export import export_answer_key, export_code_key, export_results
    from .classroom.result import assess_class
    from .experiments.parts import checked_between
    from .reports.classroom import class_report, group_report
    from .text.sheets import ENDINGS

    if arguments.code_key is not None and not arguments.codes:
        raise ModelError("There is no key to codes without codes.", fix="Add --codes.")
    force = arguments.force
    outputs = {
        "--out": (arguments.out, _PAGES),
        "--results": (arguments.results, ENDINGS),
        "--key": (arguments.key, ENDINGS),
        "--code-key": (arguments.code_key, ENDINGS),
    }
    inputs = {"FILE": arguments.file, "--experiment": arguments.experiment}
    _check_places(inputs, outputs, replace=force)
    between = checked_between(arguments.variation, "--variation")
    experiment = named_experiment(arguments.experiment)
    source, note = _source(arguments)
    data = load_class(source, experiment, codes=arguments.codes)
    assessing, told = _progress(data, "assessed"), _progress(data, "in the report")
    result = assess_class(data, coverage=arguments.coverage, variation=between, progress=assessing)
    group: str | None = arguments.group
    written: list[Path] = []
    if group is None:
        report = class_report(result, note=note, progress=told)
    else:
        report = group_report(result, group, note=note)
    if arguments.out is not None:
        written.append(report.save(arguments.out, replace=force))
    if arguments.results is not None:
        written.append(export_results(result.evidence, arguments.results, replace=force))
    if arguments.key is not None:
        groups = None if group is None else (group,)
        written.append(export_answer_key(data, arguments.key, replace=force, groups=groups))
    if arguments.code_key is not None:
        written.append(export_code_key(data, arguments.code_key, replace=force))
    sys.stdout.write(report.text() if arguments.out is None else _short(result))
    for path in written:
        sys.stdout.write(f"Written: {path}\n")


def _short(result: ClassResult) -> str:
    from .classroom.line import class_diagnosis
    from .classroom.sentences import class_verdict_sentences, groups_sentence
    from .text.plain import text_part

    said = [class_verdict_sentences(result), class_diagnosis(result).sentence]
    if len(result.evidence) != 1:  # else it is said already
        said.append(groups_sentence(result))
    return "".join(f"{text_part(one)}\n" for one in said)


def named_experiment(name: str) -> Experiment:
    """Return the experiment of a file, or the ready one of that name if there is no such file."""
    from .experiments import load, names
    from .experiments.store import load_experiment

    ready = name in names() and not Path(name).exists()
    return load(name) if ready else load_experiment(name)


def _source(arguments: argparse.Namespace) -> tuple[Path | bytes, str]:
    """Return the file of the class, or the invented one, and the note below the title."""
    from .experiments import class_file

    if arguments.file is not None:
        return arguments.file, arguments.note
    return class_file(arguments.experiment), arguments.note or (
        "The readings are invented, for practice."
    )


def _progress(data: ClassData, what: str) -> Progress | None:
    """Return what tells the progress of a large class on stderr, at each tenth."""
    if len(data.names) <= _LARGE:
        return None
    last = 0

    def told(done: int, total: int) -> None:
        nonlocal last
        tenth = 10 * done // max(total, 1)
        if tenth != last:
            last = tenth
            sys.stderr.write(f"{10 * tenth} % of {len(data.names)} groups {what}\n")
            sys.stderr.flush()

    return told
