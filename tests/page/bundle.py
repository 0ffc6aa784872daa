"""Bundle the page into the files that are installed, or check that they are what it makes.

    python -m tests.page.bundle            # write stoichkit/widgets/static/
    python -m tests.page.bundle --check    # compare

Needs esbuild of one version (``npm install --no-save esbuild@0.28.2``): ``ESBUILD`` names its file,
otherwise ``node_modules`` beside the package is searched.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "stoichkit" / "widgets" / "page"
SITE = ROOT / "stoichkit" / "widgets" / "site"
STATIC = ROOT / "stoichkit" / "widgets" / "static"
VERSION = "0.28.2"
SWITCHES = ("--bundle", "--format=esm", "--minify", "--charset=utf8", "--log-level=warning")


def tool(name: str) -> Path | None:
    """Return where a program of npm is, None if it is not there."""
    named = os.environ.get(name.upper())
    path = Path(named) if named else ROOT / "node_modules" / ".bin" / name
    return path if path.is_file() else None


def bundled(source: str | Path, *switches: str) -> bytes:
    """Return a module with all that it imports."""
    esbuild = tool("esbuild")
    if esbuild is None:
        raise SystemExit(f"esbuild is not there: npm install --no-save esbuild@{VERSION}")
    found = subprocess.run([esbuild, "--version"], capture_output=True, text=True, check=True)
    if found.stdout.strip() != VERSION:
        raise SystemExit(f"esbuild {VERSION} is needed, this is {found.stdout.strip()}")
    command = [esbuild, str(source), *SWITCHES, *switches]
    return subprocess.run(command, cwd=PAGE, capture_output=True, check=True).stdout


def built() -> dict[str, bytes]:
    """Return what is to be installed: file name to content."""
    return {
        "page.js": bundled("widget.js"),
        "site.js": bundled(SITE / "site.js"),
        "page.css": (PAGE / "page.css").read_bytes(),
    }


def stale() -> list[str]:
    """Return the installed files that are not what the sources make."""
    return [
        name
        for name, content in built().items()
        if not (STATIC / name).is_file() or (STATIC / name).read_bytes() != content
    ]


def main(argv: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__, prog="python -m tests.page.bundle")
    parser.add_argument("--check", action="store_true")
    if parser.parse_args(argv).check:
        found = stale()
        if found:
            print(f"not what the sources make: {', '.join(found)}; run python -m tests.page.bundle")
        return bool(found)
    STATIC.mkdir(exist_ok=True)
    for name, content in built().items():
        (STATIC / name).write_bytes(content)
        print(f"{STATIC.relative_to(ROOT) / name}: {len(content)} bytes")
    return 0


if __name__ == "__main__":
    sys.exit(main())
