"""Pictures of one page of each kind: for the docs, or at desktop, phone and print size and in grey, for eyes.

python tests/browser/screenshots.py REPORTS TARGET          all sizes, for whoever looks at the pages
python tests/browser/screenshots.py REPORTS TARGET --docs   one picture a kind, as docs/pages.md shows them
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.browser.chromium import open_browser
from tests.browser.sites import Pages

SIZES = {"desktop": (1280, 900), "phone": (375, 800)}
GREY = "document.documentElement.style.filter = 'grayscale(1)'"
# Name of the picture: how the page's name begins, and what stands at the head of the picture.
PICTURED = {
    "front": ("index", "h1"), "month": ("month-", "#sheet"), "incident": ("incident-", "#strip"),
    "transports": ("transports", "h1"), "case": ("case.", "h1"), "outlook": ("outlook", "h1"), "parts": ("parts", "h1"),
    "recording": ("recording", "h1"), "care": ("care", "h1"), "together": ("together", "h1"),
    "machine": ("machine-", "h1"), "reel": ("reel-", "h1"), "reels": ("reels.", "h1"), "find": ("find.", "h1"),
    "patterns": ("patterns", "h1"), "clocks": ("clocks", "h1"), "lines": ("lines-", "h1"),
    "quality": ("data-quality", "h1"), "definitions": ("definitions", "h1"),
}  # fmt: skip
WIDTH, HEIGHT = 1180, 900


def picture(reports: Pages, target: Path) -> None:
    """Write one picture of each kind of page."""
    with open_browser(WIDTH, HEIGHT) as browser:
        page = browser.new_page()
        for name, (begins, head) in PICTURED.items():
            path = next(path for path in reports.one_of_each_kind() if path.name.startswith(begins))
            page.goto(path.as_uri())
            page.evaluate("head => document.querySelector(head).scrollIntoView()", head)
            page.screenshot(path=target / f"{name}.png")


def look(reports: Pages, target: Path) -> None:
    """Write every size of one page of each kind."""
    for size, (width, height) in SIZES.items():
        with open_browser(width, height) as browser:
            page = browser.new_page()
            for path in reports.one_of_each_kind():
                page.goto(path.as_uri())
                page.screenshot(path=target / f"{path.stem}-{size}.png", full_page=True)
                if size == "desktop":
                    page.pdf(path=target / f"{path.stem}.pdf", format="A4", prefer_css_page_size=True)
                    page.evaluate(GREY)
                    page.screenshot(path=target / f"{path.stem}-grey.png", full_page=True)


def main() -> None:
    """Write the pictures and print their names."""
    reports, target = Pages(Path(sys.argv[1]).resolve()), Path(sys.argv[2]).resolve()
    target.mkdir(parents=True, exist_ok=True)
    (picture if "--docs" in sys.argv else look)(reports, target)
    print(*sorted(path.name for path in target.iterdir()), sep="\n")


if __name__ == "__main__":
    main()
