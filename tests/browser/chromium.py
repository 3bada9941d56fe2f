"""Opens report pages in the system's Chromium, headless and cut off from everything but the page's own files."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager

from playwright.sync_api import BrowserContext, sync_playwright

NAMES = ("chromium", "chromium-browser", "google-chrome")
QUIET = [
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-sandbox",  # CI runs as root
]


def find_chromium() -> str | None:
    """The path of a Chromium on this machine, or None."""
    return next((path for name in NAMES if (path := shutil.which(name))), None)


@contextmanager
def open_browser(width: int = 1280, height: int = 900, *, java_script: bool = True) -> Iterator[BrowserContext]:
    """A fresh browser profile with a window of this size in CSS pixels."""
    with tempfile.TemporaryDirectory() as profile, sync_playwright() as playwright:
        context = playwright.chromium.launch_persistent_context(
            profile,
            executable_path=find_chromium(),
            args=QUIET,
            headless=True,
            java_script_enabled=java_script,
            viewport={"width": width, "height": height},
        )
        try:
            yield context
        finally:
            context.close()
