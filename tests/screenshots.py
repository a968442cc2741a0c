"""Pictures of a map page, taken in Chromium: `python tests/screenshots.py map.html map.png [width height]`."""

import shutil
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


@contextmanager
def chromium() -> Iterator[object]:
    """A browser of the system, closed at the end."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=shutil.which("chromium"), args=list(FLAGS))
        try:
            yield browser
        finally:
            browser.close()


def screenshot(page: Path, picture: Path, *, width: int = 1280, height: int = 800) -> None:
    """Write a PNG of one page at one size of window."""
    with chromium() as browser:
        tab = browser.new_page(viewport={"width": width, "height": height}, device_scale_factor=1)
        tab.goto(page.resolve().as_uri())
        tab.wait_for_selector("html.mounted")
        tab.screenshot(path=str(picture))


if __name__ == "__main__":
    sizes = [int(number) for number in sys.argv[3:5]] or [1280, 800]
    screenshot(Path(sys.argv[1]), Path(sys.argv[2]), width=sizes[0], height=sizes[1])
