"""Make the pictures of the panels for the documentation, in headless Chromium.

    python -m tests.screenshots            # writes notebooks/pictures/*.png

Each is the top of a panel of the toolkit on an invented lab, with few colours to keep it small.
"""

from __future__ import annotations

import io
import sys
import tempfile
from pathlib import Path
from typing import Any

from tests.browser.figures import KIT, TABS, choose_tab, open_kit, wait_for_text
from tests.browser.harness import ROOT, Pages, running_browser, running_server

FOLDER = ROOT / "notebooks" / "pictures"
NAMES = ("verdict", "balance", "plan", "causes", "class", "worked")
WIDTH, HEIGHT = 1240, 940
SETTLE_MS = 4000


def reduced(png: bytes) -> bytes:
    """Return a picture with 64 colours at two thirds of its size."""
    from PIL import Image

    picture = Image.open(io.BytesIO(png)).convert("RGB")
    size = (picture.width * 2 // 3, picture.height * 2 // 3)
    small = picture.resize(size, Image.Resampling.LANCZOS)
    out = io.BytesIO()
    small.quantize(64, dither=Image.Dither.NONE).save(out, "PNG", optimize=True)
    return out.getvalue()


def prepare(page: Any, name: str) -> None:
    """Bring a panel into the state that is to be seen."""
    if name == "class":
        page.locator(KIT).get_by_role("button", name="Load the invented class").first.click()
        wait_for_text(page, "Together the 9 groups")
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
        page = open_kit(pages, Path(home), width=WIDTH, height=2600)
        for tab, name in zip(TABS, NAMES, strict=True):
            choose_tab(page, tab)
            prepare(page, name)
            box = page.locator(KIT).bounding_box()
            clip = {**box, "height": min(box["height"], HEIGHT)}
            data = reduced(page.screenshot(clip=clip))
            (FOLDER / f"{name}.png").write_bytes(data)
            print(f"{name}.png: {len(data):,} bytes")
        pages.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
