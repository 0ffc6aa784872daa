"""The versions of packages with which the whole run passed last.

    python -m tests.packaging.tested_with            # write tests/packaging/tested-with.txt anew
    pip install -c tests/packaging/tested-with.txt -e ".[notebook,test]"   # install those

pyproject.toml has lower bounds alone: an upper one would keep a lab from installing beside newer
packages that work. Where a newer one does not, this file says which did.
"""

from __future__ import annotations

import re
import sys
import tomllib
from collections.abc import Iterator
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

ROOT = Path(__file__).parents[2]
FILE = Path(__file__).with_name("tested-with.txt")


def named() -> Iterator[str]:
    """Yield the packages that pyproject.toml names for use, notebooks and tests."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    extras = project["optional-dependencies"]
    for line in (*project["dependencies"], *extras["notebook"], *extras["test"]):
        yield re.split(r"[><=!~\[ ]", line)[0]


def installed() -> str:
    """Return the versions installed here, one a line, with that of Python above."""
    found = {}
    for name in named():
        try:
            found[name.lower()] = f"{name}=={version(name)}"
        except PackageNotFoundError:
            continue  # one that this Python cannot have, such as a browser's driver
    python = ".".join(map(str, sys.version_info[:2]))
    return "\n".join([f"# Python {python}", *(found[key] for key in sorted(found))]) + "\n"


if __name__ == "__main__":
    FILE.write_text(installed(), "utf-8")
    sys.stdout.write(installed())
