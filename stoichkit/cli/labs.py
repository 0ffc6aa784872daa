"""Commands about one lab: demonstration, test, weighed, new, worked, next."""

from __future__ import annotations

import argparse
import os
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from .._common import check_place
from ..errors import DataFileError, ModelError
from .common import (
    HANDED_IN,
    PICTURES,
    add_common,
    assessed,
    check_places,
    form_asked,
    put,
    save_picture,
)

if TYPE_CHECKING:
    from ..experiments.record import Experiment

_DEMO = "copper-silver"
_FILE = "experiment in TOML, - for standard input, or a ready one"
_COARSE = "copper-silver-coarse"
DEMO_PICTURE = Path("stoichkit-demo") / f"{_DEMO}.svg"


def add_parsers(commands: Any) -> None:
    """Add the commands to the subparsers of an argument parser."""
    test = commands.add_parser("test", help="test the candidates of an experiment file")
    test.set_defaults(run=run_test)
    test.add_argument("file", metavar="FILE", help=_FILE)
    test.add_argument("--picture", metavar="PATH", type=Path, help="draw to this .png or .svg")
    test.add_argument(
        "--hand-in",
        metavar="PATH",
        type=Path,
        help="write claim, evidence and reasoning to this .html, to add a name and print",
    )
    add_common(test, "the report")

    weighed = commands.add_parser(
        "weighed", help="test what was weighed, typed here: no file is needed"
    )
    weighed.set_defaults(run=run_weighed)
    weighed.add_argument(
        "--consumed",
        action="append",
        required=True,
        metavar="Fe=BEFORE,AFTER",
        help="what was used up, and its mass in g before and after; one mass if weighed alone. "
        "Again for each further trial",
    )
    weighed.add_argument(
        "--produced",
        action="append",
        required=True,
        metavar="Cu=EMPTY,FULL",
        help="what was made, and the mass in g of its empty paper or vessel and with it; one mass "
        "if weighed alone. Again for each further trial",
    )
    weighed.add_argument(
        "--states",
        default="",
        metavar="LIST",
        help="oxidation states that may have formed, such as 2,3 or Fe2+,Fe3+; the usual ones, "
        "and neighbours, if left out",
    )
    weighed.add_argument(
        "--candidates",
        default="",
        metavar="LIST",
        help="in their place mole ratios made/used or equations, with semicolons between",
    )
    weighed.add_argument(
        "--ion", default="", metavar="ION", help="ion in the solution, such as Cu2+ or CuSO4"
    )
    weighed.add_argument(
        "--balance",
        action="append",
        metavar="G",
        help="step of the balance, g; 0.01 if left out. Again for each trial if they were weighed "
        "on different ones",
    )
    weighed.add_argument(
        "--repeatability", metavar="G", help="scatter of the balance, g; half a step if left out"
    )
    weighed.add_argument("--title", default="", metavar="TEXT", help="title of the lab")
    weighed.add_argument(
        "--save", metavar="PATH", type=Path, help="write the lab to this file, for other commands"
    )
    add_common(weighed, "the report")

    new = commands.add_parser(
        "new", help="ask for a lab of any kind and its readings, save it and show the verdict"
    )
    new.set_defaults(run=run_new)
    new.add_argument(
        "--save", metavar="PATH", type=Path, help="file to write; asked for if left out"
    )
    new.add_argument("--force", action="store_true", help="replace a file that is there")
    new.set_defaults(output=None, coverage=None)

    worked = commands.add_parser("worked", help="work out an experiment file step by step")
    worked.set_defaults(run=run_worked)
    worked.add_argument("file", metavar="FILE", help=_FILE)
    worked.add_argument("--trial", metavar="NAME", help="the one trial to work through")
    worked.add_argument("--yield-of", metavar="CANDIDATE", help="whose percent yield to work out")
    add_common(worked, "the worked solution")

    following = commands.add_parser(
        "next", help="say how many more trials, and of what kind, would settle the answer"
    )
    following.set_defaults(run=run_next)
    following.add_argument("file", metavar="FILE", help=_FILE)
    following.add_argument(
        "--target", type=float, help="chance of a right answer, 0.05 to 0.999; 0.9 if left out"
    )
    following.add_argument("--most", type=int, help="most further trials; 6 if left out")
    following.add_argument(
        "--times",
        dest="larger_by",
        type=float,
        help="how many times the amounts, for larger trials; 2 if left out",
    )
    following.add_argument(
        "--readability",
        dest="finer_g",
        metavar="G",
        type=float,
        help="display step of a finer balance, g; a tenth of the one used if left out",
    )
    add_common(following, "it")


def run_demo(options: argparse.Namespace) -> None:
    """Show a ready lab with its verdict, table and budget, and what a coarser balance does.

    The picture of an earlier demonstration is drawn anew; one at a place of the user's own is
    replaced only with ``--force``.
    """
    from ..decision.evidence import assess
    from ..decision.statement import verdict_sentences
    from ..experiments import load
    from ..reports.sections import budget_table, candidate_table, cautions_section
    from ..text.plain import text_part

    picture: Path | None = None if options.no_picture else options.demo_picture or DEMO_PICTURE
    replace = options.demo_force or options.demo_picture is None
    if picture == DEMO_PICTURE:
        picture.parent.mkdir(exist_ok=True)
    check_places({}, {"--picture": (picture, PICTURES)}, replace=replace)
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
        save_picture(evidence, picture, replace=replace)
        print(f"Picture: {picture}")
    print("Cautions")
    for part in cautions_section(evidence.experiment, short=True).parts:
        print(text_part(part))
    print("\nNext: python -m stoichkit new asks for a lab of your own and its readings, or")
    print(f"      python -m stoichkit copy {_DEMO} my-lab.toml, change the readings, then")
    print("      python -m stoichkit test my-lab.toml")


def run_test(options: argparse.Namespace) -> None:
    """Test the candidates of an experiment file, and write the report."""
    from ..reports.hand_in import hand_in_page
    from ..reports.lab import lab_report

    picture: Path | None = options.picture
    outputs = {
        "--picture": (picture, PICTURES),
        "--hand-in": (options.hand_in, HANDED_IN),
        "--output": (options.output, ()),
    }
    check_places({"FILE": options.file}, outputs, replace=options.force)
    form = form_asked(options)
    evidence = assessed(options)
    if picture is not None:
        save_picture(evidence, picture, replace=options.force)
    if options.hand_in is not None:
        hand_in_page(evidence).save(options.hand_in, replace=options.force)
    report = lab_report(evidence, picture_file=_seen_from(options.output, picture))
    put(report.written(form), options)


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
    from ..experiments.own import weighed
    from ..experiments.own_slots import items_of

    outputs = {"--save": (options.save, ()), "--output": (options.output, ())}
    check_places({}, outputs, replace=options.force)
    form = form_asked(options)
    steps = options.balance or ["0.01"]
    lab = weighed(
        _weighings(options.consumed, "--consumed"),
        _weighings(options.produced, "--produced"),
        states=items_of(options.states),
        candidates=items_of(options.candidates),
        ion=options.ion,
        balance_g=steps[0] if len(steps) == 1 else steps,
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
    from ..experiments.dialogue import asked

    check_places({}, {"--save": (options.save, ())}, replace=options.force)
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
    """Save a lab, and write its report; without readings yet, its cautions."""
    from ..bench.cautions import lab_safety
    from ..decision.evidence import assess
    from ..experiments.store import save_experiment
    from ..reports.lab import lab_report
    from ..text.document import Document

    if options.save is not None:
        save_experiment(lab, options.save, replace=options.force)
    if not lab.trials:
        print(f"Saved as {options.save}, without readings yet.")
        print(f"Next: type them into the file, then python -m stoichkit test {options.save}\n")
        print(Document(lab.title, (), (lab_safety(lab).section(),)).text().strip())
        return
    evidence = assess(lab, coverage=options.coverage)
    put(lab_report(evidence).written(form), options)
    if options.save is not None and options.output is None and form == "text":
        print(f"\nSaved as {options.save}.")


def run_worked(options: argparse.Namespace) -> None:
    """Write the worked solution of an experiment file."""
    from ..reports.worked import worked_solution

    outputs = {"--output": (options.output, ())}
    check_places({"FILE": options.file}, outputs, replace=options.force)
    form = form_asked(options)
    solution = worked_solution(assessed(options), trial=options.trial, yield_of=options.yield_of)
    put(solution.written(form), options)


def run_next(options: argparse.Namespace) -> None:
    """Write how many more trials, and of what kind, would settle the answer."""
    from ..planning.following import next_trials
    from ..reports.lab import next_report

    outputs = {"--output": (options.output, ())}
    check_places({"FILE": options.file}, outputs, replace=options.force)
    form = form_asked(options)
    given = {
        name: getattr(options, name)
        for name in ("target", "most", "larger_by", "finer_g")
        if getattr(options, name) is not None
    }
    put(next_report(next_trials(assessed(options), **given)).written(form), options)
