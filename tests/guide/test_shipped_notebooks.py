"""Notebooks are copied whole, and never over someone's work unless allowed."""

from __future__ import annotations

import inspect
import json
import re
from pathlib import Path

import pytest

import stoichkit
from stoichkit.errors import DataFileError
from stoichkit.guide.notebooks import copy_notebooks, notebook_names

ROOT = Path(__file__).parents[2]


def test_all_notebooks_are_copied(tmp_path: Path) -> None:
    written = copy_notebooks(tmp_path / "new" / "folder")
    assert [path.name for path in written] == list(notebook_names())
    for path in written:
        assert path.read_bytes() == (ROOT / "notebooks" / path.name).read_bytes()


def test_work_is_not_replaced_unless_allowed(tmp_path: Path) -> None:
    mine = tmp_path / notebook_names()[-1]
    mine.write_text("my work", "utf-8")
    with pytest.raises(DataFileError, match="of that name already"):
        copy_notebooks(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == [mine.name]
    copy_notebooks(tmp_path, replace=True)
    assert mine.read_text("utf-8") != "my work"


def test_a_folder_that_cannot_be_made_is_said(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x", "utf-8")
    with pytest.raises(DataFileError, match="folder cannot be used"):
        copy_notebooks(tmp_path / "file" / "below")


def test_notebooks_import_from_nothing_deeper_than_a_room() -> None:
    """What people learn from a notebook must be an address that stays."""
    for name in notebook_names():
        cells = json.loads((ROOT / "notebooks" / name).read_text("utf-8"))["cells"]
        code = "\n".join("".join(c["source"]) for c in cells if c["cell_type"] == "code")
        for module in re.findall(r"(?:from|import) (stoichkit[\w.]*)", code):
            room = module.removeprefix("stoichkit").lstrip(".")
            assert not room or room in stoichkit.__all__, f"{name}: {module}"


def test_the_top_of_the_package_is_short() -> None:
    names = [n for n in stoichkit.__all__ if not inspect.ismodule(getattr(stoichkit, n))]
    assert len(names) <= 35
