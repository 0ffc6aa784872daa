"""The folder of the page without a server: what is in it, and what is refused."""

from __future__ import annotations

import hashlib
import io
import json
import re
import zipfile
import zlib
from pathlib import Path
from typing import Any

import pytest

from stoichkit import __main__ as command
from stoichkit.errors import DataFileError
from stoichkit.widgets.site import build as b
from stoichkit.widgets.site.build import build_site

FILES = Path(b.__file__).parent
MEMORY = b._memory
WHEELS = {
    "numpy": ("2.0.2", []),
    "scipy": ("1.14.1", ["numpy", "openblas"]),
    "openblas": ("0.3.26", []),
    "pandas": ("2.2.3", ["numpy"]),
}


@pytest.fixture
def pyodide(tmp_path: Path) -> Path:
    """A folder that looks like a distribution; nothing in it runs."""
    folder = tmp_path / "pyodide"
    folder.mkdir()
    for name in (*b.RUNTIME, "pyodide.asm.js"):
        (folder / name).write_bytes(name.encode() * 100)
    packages = {}
    for name, (version, depends) in WHEELS.items():
        wheel = folder / f"{name}-{version}-wasm32.whl"
        wheel.write_bytes(f"wheel of {name}".encode())
        digest = hashlib.sha256(wheel.read_bytes()).hexdigest()
        packages[name] = {"name": name, "version": version, "depends": depends,
                          "file_name": wheel.name, "sha256": digest}  # fmt: skip
    write_lock(folder, {"info": {"python": "3.12.7"}, "packages": packages})
    return folder


def write_lock(folder: Path, lock: dict[str, Any]) -> None:
    (folder / b.LOCK).write_text(json.dumps(lock), "utf-8")


def read_lock(folder: Path) -> Any:
    return json.loads((folder / b.LOCK).read_text("utf-8"))


@pytest.fixture(autouse=True)
def small(monkeypatch: pytest.MonkeyPatch) -> None:
    """SymPy takes seconds to pack, and nothing of this distribution runs."""
    monkeypatch.setattr(b, "LATER_PURE", {b.OPTIONAL: b.LATER_PURE[b.OPTIONAL]})

    def refuse(*_: Any) -> bytes:
        raise b._NotWritten("nothing runs")

    monkeypatch.setattr(b, "_memory", refuse)


def listed(site: Path) -> dict[str, str]:
    line = (site / "service-worker.js").read_text("utf-8").partition("\n")[0]
    return dict(json.loads(line.removeprefix(b.LIST).rstrip(";")))


def test_only_what_is_needed_is_in_it(pyodide: Path, tmp_path: Path) -> None:
    made = build_site(tmp_path / "deep" / "site", pyodide)
    names = {p.relative_to(made.folder).as_posix() for p in made.folder.rglob("*") if p.is_file()}
    wheels = {f"pyodide/{n}-{WHEELS[n][0]}-wasm32.whl" for n in ("numpy", "scipy", "openblas")}
    assert names == {
        *b.PAGE, "worker.js", "memory.js", "service-worker.js", "stoichkit.zip",
        "openpyxl.zip", "pyodide/pyodide.asm.js.deflated",
        "pyodide/pyodide.mjs", "pyodide/pyodide.asm.js", "pyodide/pyodide.asm.wasm.deflated",
        "pyodide/python_stdlib.zip", "pyodide/pyodide-lock.json", *wheels,
    }  # fmt: skip
    assert set(read_lock(made.folder / "pyodide")["packages"]) == {"numpy", "scipy", "openblas"}
    wasm = (made.folder / "pyodide" / "pyodide.asm.wasm.deflated").read_bytes()
    assert zlib.decompress(wasm) == (pyodide / "pyodide.asm.wasm").read_bytes()
    sizes = {name: (made.folder / name).stat().st_size for name in names}
    late = {*wheels, "openpyxl.zip"} - {"pyodide/numpy-2.0.2-wasm32.whl"}
    glue = zlib.decompress((made.folder / "pyodide/pyodide.asm.js.deflated").read_bytes())
    assert glue == (pyodide / "pyodide.asm.js").read_bytes()
    assert made.all_bytes == sum(sizes.values())
    assert made.first_bytes == made.all_bytes - sum(
        sizes[name] for name in {*late, "service-worker.js", "pyodide/pyodide.asm.js"}
    )
    html = (made.folder / "index.html").read_text("utf-8")
    told = int(re.search(r'data-bytes="(\d+)"', html)[1])  # type: ignore[index]
    assert told == made.first_bytes - sum(sizes[name] for name in b.PAGE)


def test_with_a_memory_the_first_answer_needs_no_library(
    pyodide: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def written(source: Path, archives: Any) -> bytes:
        assert source == pyodide
        own, numpy = archives
        assert b"stoichkit/widgets/site/kernel.py" in own
        assert numpy == b"wheel of numpy"
        return b"memory"

    monkeypatch.setattr(b, "_memory", written)
    made = build_site(tmp_path / "site", pyodide)
    assert made.notes == ()
    assert (made.folder / b.MEMORY).read_bytes() == b"memory"
    needed = [*b.PAGE, "worker.js", "memory.js", b.MEMORY, "pyodide/pyodide.mjs",
              "pyodide/pyodide.asm.js.deflated", "pyodide/pyodide.asm.wasm.deflated",
              "pyodide/pyodide-lock.json"]  # fmt: skip
    assert made.first_bytes == sum((made.folder / name).stat().st_size for name in needed)
    kept = listed(made.folder)
    assert {b.MEMORY, "stoichkit.zip", "pyodide/python_stdlib.zip"} < set(kept)
    deflated = re.search(
        r"^self\.DEFLATED = (.+);$", (made.folder / "service-worker.js").read_text("utf-8"), re.M
    )
    assert json.loads(deflated[1]) == ["pyodide/pyodide.asm.js"]  # type: ignore[index]
    build_site(tmp_path / "site", pyodide, replace=True)


def test_why_there_is_no_memory_is_said(
    pyodide: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(b, "_memory", MEMORY)
    folder = tmp_path / "bin"
    folder.mkdir()
    monkeypatch.setenv("PATH", str(folder))
    made = build_site(tmp_path / "a", pyodide)
    assert made.notes == (f"{b.NO_MEMORY} (Node.js is not installed here).",)
    node = folder / "node"
    node.write_text("#!/bin/sh\necho 'at x' >&2; echo 'Error: it broke' >&2; exit 1\n", "utf-8")
    node.chmod(0o755)
    made = build_site(tmp_path / "b", pyodide)
    assert made.notes == (f"{b.NO_MEMORY} (Error: it broke).",)
    node.write_text('#!/bin/sh\nprintf written > "$3"\n', "utf-8")
    made = build_site(tmp_path / "c", pyodide)
    assert made.notes == ()
    assert zlib.decompress((made.folder / b.MEMORY).read_bytes()) == b"written"


def test_the_archive_holds_the_package_its_data_and_licences(pyodide: Path, tmp_path: Path) -> None:
    made = build_site(tmp_path / "site", pyodide)
    with zipfile.ZipFile(made.folder / "stoichkit.zip") as archive:
        names = set(archive.namelist())
    wanted = {"stoichkit/widgets/site/kernel.py", "stoichkit/data/elements.csv",
              "stoichkit/experiments/tin-oxide.toml", "uncertainties/core.py"}  # fmt: skip
    assert wanted <= names
    assert any(name.startswith("uncertainties/LICEN") for name in names)
    assert not [n for n in names if n.endswith((".js", ".ipynb", ".pyc", ".so")) or "/cli/" in n]
    with zipfile.ZipFile(made.folder / "openpyxl.zip") as archive:
        assert {"openpyxl/__init__.py", "et_xmlfile/__init__.py"} <= set(archive.namelist())


def test_the_version_follows_the_content(pyodide: Path, tmp_path: Path) -> None:
    first = build_site(tmp_path / "a", pyodide)
    assert build_site(tmp_path / "b", pyodide).version == first.version
    for name, digest in listed(first.folder).items():
        data = (first.folder / name).read_bytes()
        assert hashlib.sha256(data).hexdigest().startswith(digest), name
    assert list(listed(first.folder))[: len(b.PAGE)] == list(b.PAGE)
    (pyodide / "pyodide.mjs").write_bytes(b"another edition")
    changed = build_site(tmp_path / "c", pyodide)
    assert changed.version != first.version
    differ = {n for n, d in listed(changed.folder).items() if listed(first.folder).get(n) != d}
    assert differ == {"pyodide/pyodide.mjs", "index.html"}, "the bar knows another size"


def test_a_site_is_replaced_on_purpose_and_nothing_else(pyodide: Path, tmp_path: Path) -> None:
    site = tmp_path / "site"
    build_site(site, pyodide)
    with pytest.raises(DataFileError, match="There is a site in this folder already"):
        build_site(site, pyodide)
    (site / "mine.txt").write_text("mine", "utf-8")
    lock = read_lock(pyodide)
    wheel = lock["packages"]["scipy"]["file_name"]
    (pyodide / wheel).rename(pyodide / f"newer-{wheel}")
    lock["packages"]["scipy"]["file_name"] = f"newer-{wheel}"
    write_lock(pyodide, lock)
    build_site(site, pyodide, replace=True)
    assert (site / "mine.txt").read_text("utf-8") == "mine"
    assert (site / "pyodide" / f"newer-{wheel}").is_file()
    assert not (site / "pyodide" / wheel).exists()
    other = tmp_path / "other"
    other.mkdir()
    (other / "mine.txt").write_text("mine", "utf-8")
    with pytest.raises(DataFileError, match="not empty"):
        build_site(other, pyodide, replace=True)
    with pytest.raises(DataFileError, match="a file, not a folder"):
        build_site(other / "mine.txt", pyodide, replace=True)


def test_what_is_missing_is_said_all_of_it_before_anything_is_written(
    pyodide: Path, tmp_path: Path
) -> None:
    (pyodide / "pyodide.asm.js").unlink()
    (pyodide / "python_stdlib.zip").unlink()
    (pyodide / "openblas-0.3.26-wasm32.whl").unlink()
    with pytest.raises(DataFileError) as said:
        build_site(tmp_path / "site", pyodide)
    for name in ("pyodide.asm.mjs", "python_stdlib.zip", "openblas-0.3.26-wasm32.whl", "whole"):
        assert name in str(said.value)
    assert not (tmp_path / "site").exists()


def test_a_distribution_that_is_damaged_or_too_old_is_refused(
    pyodide: Path, tmp_path: Path
) -> None:
    (pyodide / "numpy-2.0.2-wasm32.whl").write_bytes(b"half")
    with pytest.raises(DataFileError, match=r"numpy-2\.0\.2.*again"):
        build_site(tmp_path / "site", pyodide)
    lock = read_lock(pyodide)
    lock["packages"]["numpy"]["version"] = "1.26.4"
    write_lock(pyodide, lock)
    with pytest.raises(DataFileError, match=r"numpy of .* Given: 1\.26\. Allowed: 2\.0 or newer"):
        build_site(tmp_path / "site", pyodide)
    for broken in ({}, {"info": {}, "packages": {}}, [], {"info": {"python": 3}, "packages": []}):
        (pyodide / b.LOCK).write_text(json.dumps(broken), "utf-8")
        with pytest.raises(DataFileError, match="cannot be read"):
            build_site(tmp_path / "site", pyodide)
    with pytest.raises(DataFileError, match="There is no Pyodide distribution here"):
        build_site(tmp_path / "site", tmp_path)


def test_the_lower_bounds_are_those_of_the_package() -> None:
    project = (FILES.parents[2] / "pyproject.toml").read_text("utf-8")
    for name, least in b.LEAST.items():
        assert f'"{name}>={".".join(map(str, least))}"' in project
    assert f'requires-python = ">={".".join(map(str, b.PYTHON))}"' in project


def test_a_package_that_is_not_here_is_said(
    pyodide: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(b, "LATER_PURE", {b.OPTIONAL: ("no_such_package",)})
    made = build_site(tmp_path / "site", pyodide)
    assert made.notes[0] == b.NO_WORKBOOKS
    with zipfile.ZipFile(io.BytesIO((made.folder / b.OPTIONAL).read_bytes())) as archive:
        assert archive.namelist() == []
    monkeypatch.setattr(b, "OWN", ("no_such_package",))
    with pytest.raises(DataFileError, match="pip install no_such_package"):
        build_site(tmp_path / "other", pyodide)


def test_the_command_takes_relative_paths(
    pyodide: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Any
) -> None:
    monkeypatch.chdir(tmp_path)
    assert command.main(["site", "out/site", "--pyodide", pyodide.name]) == 0
    assert "of which the first answer needs" in capsys.readouterr().out
    assert (tmp_path / "out" / "site" / "index.html").is_file()
    assert command.main(["site", "out/site", "--pyodide", "pyodide"]) == 2
    assert "already" in capsys.readouterr().err
    assert command.main(["site", "out/site", "--pyodide", "pyodide", "--force"]) == 0


def test_the_command_for_links(capsys: Any) -> None:
    assert command.main(["link", "tin-oxide", "--site", "https://page.test/lab/#old"]) == 0
    assert capsys.readouterr().out == "https://page.test/lab/#lab=tin-oxide\n"
    assert command.main(["link", "86cau28"]) == 0
    assert capsys.readouterr().out == "#practice=86CAU28\n"
    assert command.main(["link", "no-such-lab"]) == 2


def test_no_host_is_named_and_no_handler_stands_in_the_page() -> None:
    for path in (*FILES.glob("*.js"), *FILES.glob("*.html"), *FILES.glob("*.css")):
        text = path.read_text("utf-8")
        assert not re.findall(r"https?://|//[\w-]+\.\w{2,}", text), path.name
        assert not re.findall(r"innerHTML|insertAdjacent|document\.write|\beval\(", text), path.name
    html = (FILES / "index.html").read_text("utf-8")
    assert not re.findall(r"\son\w+=|\sstyle=|<style|javascript:", html)
    policy = re.search(r'Content-Security-Policy" content="([^"]+)"', html)[1]  # type: ignore[index]
    assert policy.startswith("default-src 'none'; script-src 'self';")
    assert "unsafe" not in policy
    assert all(src.split()[1:] for src in policy.split("; "))
    assert not re.findall(r'(?:src|href)="/', html), "it works in a sub-folder"
