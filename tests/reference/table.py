"""Tables of independent values, and what is read of them."""

from __future__ import annotations

import csv
from pathlib import Path

_HERE = Path(__file__).parent / "tables"


def rows(name: str) -> list[dict[str, str]]:
    """Return the rows of a table; each must name where it is from."""
    with (_HERE / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        found = list(csv.DictReader(file))
    assert found, name
    assert all(row["source"].strip() for row in found), f"{name}: a row without a source"
    return found
