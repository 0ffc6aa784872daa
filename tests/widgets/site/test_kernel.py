"""What runs behind the page without a server: texts in, texts out, waiting for packages."""

from __future__ import annotations

import asyncio
import json
import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from stoichkit.experiments.address import fragment_of
from stoichkit.experiments.practice_labs import practice
from stoichkit.widgets.kit.work import Breath, NotYet, Stopped, Work, arrived
from stoichkit.widgets.site.kernel import ANY, Arriving, Kernel
from stoichkit.widgets.view.every import SCREENS, LateScreen
from stoichkit.widgets.view.frame import IDLE_S
from tests.widgets.view.protocol import wrong

EVERYTHING_SHOWN = """
import json, sys, tempfile
from pathlib import Path

asked = []

class Watch:
    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] == "matplotlib":
            asked.append(name)
            raise ModuleNotFoundError(name)

sys.meta_path.insert(0, Watch())
from stoichkit.widgets.site.kernel import ANY, Arriving, Kernel
from stoichkit.widgets.view.every import SCREENS

said, done, files = [], [], []

def heard(kind, text):
    if kind == "answer":
        said.append(json.loads(text))
        files.extend(said[-1]["files"])

def blocks(value):
    if isinstance(value, dict):
        yield value
        value = list(value.values())
    if isinstance(value, list):
        for one in value:
            yield from blocks(one)

def do(name, **arguments):
    action = {"page": "p", "number": len(done) + 1, "name": name, "arguments": arguments}
    done.append(action)
    kernel.act(json.dumps(action))

with tempfile.TemporaryDirectory() as place:
    kernel = Kernel(heard, Path(place))
    kernel.open("lab=copper-silver")
    kernel.lab.classroom.open_invented()
    do("ready")
    pictures = 0
    for key in SCREENS:
        said.clear()
        do("show", id=key)
        for block in list(blocks(said)):
            if block.get("kind") == "picture" and block["saves"]:
                pictures += 1
                for kind in ("svg", "png"):
                    do("set", id=block["id"] + ":save", to=kind)
            elif block.get("kind") == "button" and block["id"].endswith("download"):
                do("press", id=block["id"])
    kernel.close()
print(json.dumps([asked, pictures, len(files)]))
"""

REHEARSED = """
import json, os, sys, tempfile
from pathlib import Path
from stoichkit import experiments
from stoichkit.widgets.site.kernel import Kernel, rehearse

before, finders = dict(os.environ), list(sys.meta_path)
rehearse()
same, loaded = dict(os.environ) == before, set(sys.modules)
said = []
with tempfile.TemporaryDirectory() as place:
    kernel = Kernel(lambda kind, text: said.append(kind), Path(place), expected={"*": "The rest"})
    for fragment in ("", *(f"lab={name}" for name in experiments.names())):
        kernel.open(fragment)
        kernel.act('{"page": "p", "number": 1, "name": "ready", "arguments": {}}')
    kernel.arriving.here("*")
    sys.meta_path.remove(kernel.arriving)
    kernel.close()
new = sorted(set(sys.modules) - loaded)
print(json.dumps([same, sys.meta_path == finders, "waits" not in said, new]))
"""

SCATTERED = ["2.94", "2.70", "0.75", "1.16"]


class Told:
    """A kernel with all that it has said."""

    def __init__(self, folder: Path, **how: Any) -> None:
        self.said: list[tuple[str, Any]] = []
        self.number = 0
        self.kernel = Kernel(self._said, folder, base="https://page.test/lab/", **how)

    def _said(self, kind: str, text: str) -> None:
        value = json.loads(text)
        if kind == "answer":
            assert wrong("answer", value) == []
        self.said.append((kind, value))

    def do(self, name: str, **arguments: Any) -> None:
        self.number += 1
        action = {"page": "p", "number": self.number, "name": name, "arguments": arguments}
        self.kernel.act(json.dumps(action))

    def all(self, kind: str) -> list[Any]:
        return [value for said, value in self.said if said == kind]

    def text(self) -> str:
        return json.dumps(self.all("answer"), ensure_ascii=False)

    def kept(self) -> dict[str, Any]:
        found: dict[str, Any] = {}
        for one in self.all("kept"):
            found |= one
        return {name: value for name, value in found.items() if value is not None}


@pytest.fixture
def opened(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[..., Told]]:
    for name in ("STOICHKIT_SESSION", "JPY_SESSION_NAME"):
        monkeypatch.setenv(name, os.environ.get(name, ""))
    made: list[Told] = []
    before = list(sys.meta_path)

    def one(fragment: str = "", *, kept: str = "{}", screen: str = "", **how: Any) -> Told:
        told = Told(tmp_path / str(len(made)), **how)
        made.append(told)
        told.kernel.give_back(kept)
        told.kernel.open(fragment, screen)
        told.do("ready")
        return told

    yield one
    sys.meta_path[:] = before
    for told in made:
        told.kernel.close()
    arrived()


def test_a_lab_is_shown_with_all_screens_and_the_others_are_made_when_shown(
    opened: Callable[..., Told],
) -> None:
    told = opened("lab=tin-oxide")
    assert told.all("opened") == [{"title": "Which oxide does tin form?", "problem": ""}]
    layout = told.all("answer")[0]["layout"]
    assert [key for key, _ in layout["tabs"]] == list(SCREENS)
    late = told.kernel.frame.screens["plan"]
    assert isinstance(late, LateScreen)
    assert "made" not in vars(late)
    for key in SCREENS:
        told.do("show", id=key)
        screen = told.kernel.frame.screens[key]
        assert isinstance(screen, LateScreen)
        assert screen.title == screen.made.title
        assert screen.made.frame is told.kernel.frame
    assert "beside the notebook" not in told.text()


def test_what_was_typed_comes_back_in_another_process(opened: Callable[..., Told]) -> None:
    first = opened("lab=tin-oxide")
    first.do("cells", id="sheet", row=0, column=0, to=[["17,5x"]])
    kept = first.kept()
    assert len(kept) == 1
    assert "17,5x" in json.dumps(kept)
    again = opened("lab=tin-oxide", kept=json.dumps(kept))
    assert "17,5x" in again.text()
    assert "is back." in again.text()
    other = opened("lab=tin-oxide", kept=json.dumps(kept), session="2")
    assert "17,5x" not in other.text()
    assert "in another session (this page), which is still running" in other.text()
    assert "17,5x" not in opened("lab=copper-silver", kept=json.dumps(kept)).text()


def test_a_link_shows_its_lab_and_a_reload_what_was_opened_after_it(
    opened: Callable[..., Told],
) -> None:
    first = opened("lab=tin-oxide")
    first.do("set", id="start", to="hydrate-heating")
    kept = json.dumps(first.kept())
    title = "Which oxide does tin form?"
    again = opened("lab=tin-oxide", kept=kept, screen="readings")
    assert again.all("opened")[0]["title"] != title
    linked = opened("lab=tin-oxide", kept=kept)
    assert linked.all("opened")[0]["title"] == title
    linked.do("press", id="undo")
    assert linked.kernel.lab.experiment.title == again.all("opened")[0]["title"]


@pytest.mark.parametrize(
    "kept",
    [
        "", "[]", "null", '{"typed-a-b.json": 3}', '{"../typed-x.json": ["x", 1]}',
        '{"typed-../x.json": ["x", 1]}', '{"typed-x.json": ["{", 1]}', '{"typed-x.json": ["x"]}',
    ],
)  # fmt: skip
def test_damaged_texts_of_the_browser_do_no_harm(
    opened: Callable[..., Told], kept: str, tmp_path: Path
) -> None:
    told = opened("lab=tin-oxide", kept=kept)
    assert "single out" in told.text()
    assert {path.parent.name for path in tmp_path.rglob("*.json*")} <= {"0"}


def test_an_address_that_names_nothing_changes_nothing(opened: Callable[..., Told]) -> None:
    told = opened("lab=tin-oxide")
    told.do("cells", id="sheet", row=0, column=0, to=[["17.56"]])
    told.kernel.open("lab=<script>alert(1)</script>")
    said = told.all("opened")[-1]
    assert said["title"] == "Which oxide does tin form?"
    assert "There is no ready experiment of that name." in said["problem"]
    assert told.kernel.lab.readings.form.trials[0].readings["crucible"] == "17.56"
    assert opened("rubbish").all("opened")[0]["title"] == "Copper wire in silver nitrate"


def test_a_practice_lab_opens_where_it_is_asked_about(opened: Callable[..., Told]) -> None:
    told = opened("practice=86CAU28")
    assert told.all("answer")[0]["layout"]["screen"] == "study"
    assert "86CAU28" in told.kernel.address()
    assert opened("practice=86CAU28", screen="plan").all("answer")[0]["layout"]["screen"] == "plan"


def test_the_link_is_of_what_is_typed(opened: Callable[..., Told]) -> None:
    told = opened("lab=tin-oxide")
    assert "https://page.test/lab/#lab=tin-oxide" in told.text()
    assert "Save beside the notebook" not in told.text()
    told.do("cells", id="sheet", row=0, column=0, to=[["17.56"]])
    lab = told.kernel.lab.readings.experiment
    assert told.kernel.address() == f"https://page.test/lab/#{fragment_of(lab)}"
    assert told.kernel.address() in json.dumps(told.all("answer")[-3:])
    told.do("cells", id="sheet", row=0, column=0, to=[["x"]])
    assert "No link yet: correct 1, crucible first." in told.text()


def test_a_part_that_needs_what_is_on_its_way_says_so_and_follows(
    opened: Callable[..., Told],
) -> None:
    """SciPy stands for it: a class, or a plan, needs it; here the module is not even there."""
    sys.modules.pop("no_such_package", None)
    told = opened(expected={"no_such_package": "The package"})
    screen = told.kernel.frame.screens["readings"]
    assert isinstance(screen, LateScreen)
    plain = screen.made.could

    def needs(make: Any) -> Any:
        try:
            import no_such_package  # noqa: F401
        except ModuleNotFoundError:
            return plain(make)
        raise AssertionError

    screen.made.could = needs
    told.do("left", id="")
    assert "The package is still being loaded; this follows by itself." in told.text()
    told.said.clear()
    told.kernel.arrived("no_such_package")
    assert "could" in told.all("answer")[-1]["regions"] or told.all("answer")[-1]["settled"]
    assert not told.kernel.expects("no_such_package")
    assert "still being loaded" not in told.text()


def test_an_action_that_needs_what_is_on_its_way_is_held_and_done_once(
    opened: Callable[..., Told],
) -> None:
    told = opened("lab=tin-oxide", expected={"no_such_package": "The package"})
    readings = told.kernel.lab.readings
    trials = len(readings.form.trials)

    def follows(_: Any) -> None:
        try:
            import no_such_package  # noqa: F401
        except ModuleNotFoundError:
            return

    readings.subscribe(follows)
    answers = len(told.all("answer"))
    told.do("press", id="add")
    told.do("cells", id="sheet", row=0, column=0, to=[["17.57"]])
    assert len(told.all("answer")) == answers, "neither is answered yet"
    assert told.all("waits") == ["The package is still being loaded; this follows by itself."]
    assert len(readings.form.trials) == trials
    assert not told.kernel.lab.history.can_undo
    told.kernel.arrived("no_such_package")
    assert told.all("waits")[-1] == ""
    assert len(readings.form.trials) == trials + 1
    assert readings.form.trials[0].readings["crucible"] == "17.57"
    assert told.all("answer")[-1]["seen"] == {"p": told.number}
    assert told.kernel.lab.history.undo_words.startswith("typed crucible")


def test_a_screen_that_is_on_its_way_is_shown_when_it_is_here(
    opened: Callable[..., Told], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Meanwhile the one before stays, and the rest of it follows in time."""
    module = "stoichkit.widgets.view.plan"
    told = opened("lab=tin-oxide")
    told.kernel.arriving.names[ANY] = "The rest"
    sys.meta_path.insert(0, told.kernel.arriving)
    plan = told.kernel.frame.screens["plan"]
    assert isinstance(plan, LateScreen)
    vars(plan).pop("made", None)
    failed: list[Any] = []

    async def visit() -> None:
        asyncio.get_running_loop().set_exception_handler(lambda _, what: failed.append(what))
        told.do("ready")
        before = told.number
        told.do("show", id="plan")
        told.kernel.frame.changed()
        await asyncio.sleep(IDLE_S + 0.2)
        assert all(one["layout"]["screen"] == "readings" for one in told.all("answer"))
        assert told.all("answer")[-1]["settled"]
        assert told.all("answer")[-1]["seen"] == {"p": before}, "it is not done yet"
        assert told.all("waits") == ["The rest is still being loaded; this follows by itself."]
        monkeypatch.undo()
        told.kernel.arrived(ANY)
        assert told.all("answer")[-1]["layout"]["screen"] == "plan"
        assert told.all("answer")[-1]["seen"] == {"p": told.number}

    monkeypatch.delitem(sys.modules, module, raising=False)
    asyncio.run(visit())
    assert failed == []


NEEDS_SCIPY = practice(4, level=1).id
COMING = {"scipy": "SciPy"}
LATE = "SciPy is still being loaded; this follows by itself."


@pytest.fixture
def no_scipy(monkeypatch: pytest.MonkeyPatch) -> None:
    """SciPy is looked for anew, as in a process that has not loaded it."""
    for name in [one for one in sys.modules if one.partition(".")[0] == "scipy"]:
        monkeypatch.delitem(sys.modules, name)


def scipy_arrives(told: Told, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.undo()  # what this process had loaded is there again
    told.kernel.arrived("scipy")


@pytest.mark.usefixtures("no_scipy")
def test_a_first_lab_that_needs_what_is_on_its_way_opens_when_it_is_here(
    opened: Callable[..., Told], monkeypatch: pytest.MonkeyPatch
) -> None:
    told = opened(f"practice={NEEDS_SCIPY}", expected=COMING)
    assert told.said == [("waits", LATE)]
    assert told.kernel.waits
    scipy_arrives(told, monkeypatch)
    assert not told.kernel.waits
    assert [kind for kind, _ in told.said[:3]] == ["waits", "opened", "waits"]
    assert told.all("waits")[-1] == ""
    assert NEEDS_SCIPY in told.all("opened")[0]["title"]
    assert told.all("answer")[-1]["seen"] == {"p": told.number}


@pytest.mark.usefixtures("no_scipy")
def test_a_lab_stays_while_the_next_one_waits(
    opened: Callable[..., Told], monkeypatch: pytest.MonkeyPatch
) -> None:
    told = opened("lab=tin-oxide", expected=COMING)
    told.said.clear()
    told.kernel.open(f"practice={NEEDS_SCIPY}")
    assert told.said == [("waits", LATE)]
    assert told.kernel.lab.experiment.title == "Which oxide does tin form?"
    told.do("ready")
    assert told.all("answer") == [], "it is meant for the lab that is to come"
    scipy_arrives(told, monkeypatch)
    assert NEEDS_SCIPY in told.kernel.lab.experiment.title
    assert told.all("answer")[-1]["seen"] == {"p": told.number}
    assert told.all("waits") == [LATE, ""]


def test_a_lab_stays_while_the_screen_of_the_next_one_is_on_its_way(
    opened: Callable[..., Told], monkeypatch: pytest.MonkeyPatch
) -> None:
    told = opened("lab=tin-oxide")
    before = told.kernel.lab
    told.kernel.arriving.names[ANY] = "The rest"
    sys.meta_path.insert(0, told.kernel.arriving)
    monkeypatch.delitem(sys.modules, "stoichkit.widgets.view.study", raising=False)
    told.said.clear()
    told.kernel.open("lab=copper-silver", "study")
    assert told.kernel.lab is before
    assert told.said == [("waits", "The rest is still being loaded; this follows by itself.")]
    monkeypatch.undo()
    told.kernel.arrived(ANY)
    assert told.kernel.lab is not before
    assert told.kernel.frame.shown == "study"


def test_an_error_of_another_kind_is_told_as_it_is(
    opened: Callable[..., Told], monkeypatch: pytest.MonkeyPatch
) -> None:
    told = opened("lab=tin-oxide", expected={"no_such_package": "The package"})

    def breaks(*_: Any, **__: Any) -> None:
        raise RuntimeError("a fault of our own")

    monkeypatch.setattr("stoichkit.widgets.site.kernel.LabState", breaks)
    with pytest.raises(RuntimeError, match="a fault of our own"):
        told.kernel.open("lab=copper-silver")


def test_an_address_that_names_nothing_leaves_what_is_held(opened: Callable[..., Told]) -> None:
    told = opened("lab=tin-oxide", expected={"no_such_package": "The package"})
    late = ["on its way"]

    def follows(_: Any) -> None:
        if late:
            raise NotYet(late[0])

    told.kernel.lab.readings.subscribe(follows)
    told.do("cells", id="sheet", row=0, column=0, to=[["17.57"]])
    told.kernel.open("rubbish")
    late.clear()
    told.kernel.arrived("no_such_package")
    assert told.kernel.lab.readings.form.trials[0].readings["crucible"] == "17.57"


def test_any_module_may_be_on_its_way() -> None:
    coming = Arriving({ANY: "The rest", "no_such_package": "The package"})
    with pytest.raises(NotYet, match="The rest is still being loaded"):
        coming.find_spec("colorsys")
    coming.here(ANY)
    assert coming.find_spec("colorsys") is None
    with pytest.raises(NotYet, match="The package is still being loaded"):
        coming.find_spec("no_such_package.part")


def test_a_rehearsal_loads_what_a_first_answer_needs_and_leaves_nothing() -> None:
    """Whichever ready lab is opened first."""
    done = subprocess.run(
        [sys.executable, "-c", REHEARSED], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout) == [True, True, True, []]


def test_another_lab_while_an_action_is_held(opened: Callable[..., Told]) -> None:
    told = opened("lab=tin-oxide", expected={"no_such_package": "The package"})

    def follows(_: Any) -> None:
        raise NotYet("on its way")

    told.kernel.lab.readings.subscribe(follows)
    told.do("cells", id="sheet", row=0, column=0, to=[["17.57"]])
    told.kernel.open("lab=copper-silver")
    told.do("ready")
    assert told.all("answer")[-1]["seen"] == {"p": told.number}
    assert told.all("waits")[-1] == ""


# Long work without threads


def without_threads(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: Any, **__: Any) -> None:
        raise RuntimeError("can't start new thread")

    monkeypatch.setattr("threading.Thread.start", refuse)


def test_work_without_threads_lets_what_is_shown_go_out_first(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    without_threads(monkeypatch)
    said: list[str] = []

    async def run() -> None:
        work = Work()
        work.start(lambda _: "found", done=said.append, failed=print)
        said.append("begun")
        assert work.running
        await asyncio.sleep(0.05)
        assert not work.running

    asyncio.run(run())
    assert said == ["begun", "found"]


def test_work_without_threads_is_stopped_where_others_get_their_turn(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    without_threads(monkeypatch)
    said: list[Any] = []

    async def run() -> None:
        work = Work()

        def task(report: Callable[[str], None]) -> str:
            for i in range(5):
                report(f"step {i}")
            return "found"

        def turn() -> None:
            if len(said) == 2:
                work.stop()

        monkeypatch.setattr(Breath, "take", staticmethod(turn))
        work.start(task, done=said.append, failed=said.append, progress=said.append)
        await asyncio.sleep(0.05)

    asyncio.run(run())
    assert said == ["step 0", "step 1"]
    assert issubclass(Stopped, Exception)


def test_no_screen_draws_with_matplotlib() -> None:
    """So the site may leave it out: every screen, picture and file is made where it is not."""
    done = subprocess.run(
        [sys.executable, "-c", EVERYTHING_SHOWN], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    asked, pictures, files = json.loads(done.stdout)
    assert asked == []
    assert pictures >= 3
    assert files >= 2 * pictures
