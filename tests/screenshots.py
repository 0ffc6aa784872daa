"""Make the pictures of the screens for the documentation, in headless Chromium.

    python -m tests.screenshots            # writes notebooks/pictures/*.png

Each is the top of a screen of the toolkit on an invented lab, with few colours to keep it small.
"""

from __future__ import annotations

import io
import sys
import tempfile
from pathlib import Path
from typing import Any

from tests.browser.harness import ROOT, Pages, running_browser, running_server

FOLDER = ROOT / "notebooks" / "pictures"
NAMES = {"Readings": "verdict", "Why": "causes", "Plan": "plan", "Class": "class",
         "Working": "worked", "Study": "study"}  # fmt: skip
"""Title of a screen, and what its picture is called."""
WIDTH, HEIGHT = 1440, 900
SETTLE_MS = 4000
CODE = "from stoichkit.widgets import toolkit\n\ntoolkit(autosave=False)"
SCREEN = ".stoichkit"


def reduced(png: bytes) -> bytes:
    """Return a picture with 128 colours at two thirds of its size."""
    from PIL import Image

    picture = Image.open(io.BytesIO(png)).convert("RGB")
    size = (picture.width * 2 // 3, picture.height * 2 // 3)
    small = picture.resize(size, Image.Resampling.LANCZOS)
    out = io.BytesIO()
    small.quantize(128, dither=Image.Dither.NONE).save(out, "PNG", optimize=True)
    return out.getvalue()


def prepare(page: Any, name: str) -> None:
    """Bring a screen into the state that is to be seen."""
    if name == "class":
        page.locator(SCREEN).get_by_role("button", name="Open the invented class").click()
        page.get_by_text("Together the 9 groups").first.wait_for()
    page.wait_for_timeout(SETTLE_MS)


def main() -> int:
    from playwright import sync_api

    FOLDER.mkdir(exist_ok=True)
    with (
        tempfile.TemporaryDirectory() as home,
        running_server(Path(home)) as server,
        running_browser(sync_api) as browser,
    ):
        pages = Pages(server, browser)
        page = pages.open("pictures.ipynb", code=CODE, width=WIDTH, height=2600)
        page.locator(f"{SCREEN} .page.settled").wait_for()
        for title, name in NAMES.items():
            page.locator(SCREEN).get_by_role("button", name=title, exact=True).click()
            prepare(page, name)
            box = page.locator(SCREEN).bounding_box()
            clip = {**box, "height": min(box["height"], HEIGHT)}
            data = reduced(page.screenshot(clip=clip))
            (FOLDER / f"{name}.png").write_bytes(data)
            print(f"{name}.png: {len(data):,} bytes")
        pages.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
