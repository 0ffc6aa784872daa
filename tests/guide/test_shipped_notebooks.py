"""Notebooks are copied whole, and never over someone's work unless allowed."""

from __future__ import annotations

from pathlib import Path

import pytest

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
