"""Pictures of one page of each kind at desktop, phone and print size, and in greyscale: for eyes, not for asserting.

python tests/browser/screenshots.py REPORTS [TARGET]
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.browser.chromium import open_browser

SIZES = {"desktop": (1280, 900), "phone": (375, 800)}
GREY = "document.documentElement.style.filter = 'grayscale(1)'"


def one_of_each_kind(reports: Path) -> list[Path]:
    """One page a kind: the last month, the longest page of an incident and of lists, and the single pages."""
    months = sorted(reports.glob("month-*.html"))[-1:]
    longest = [
        max(pages, key=lambda path: (path.stat().st_size, path.name))
        for pages in (list(reports.glob("incident-*.html")), list(reports.glob("lines-*.html")))
        if pages
    ]
    several = ("month-", "incident-", "lines-")
    singles = [path for path in sorted(reports.glob("*.html")) if not path.name.startswith(several)]
    return [*singles, *months, *longest]


def main() -> None:
    """Write PNG and PDF files to the target folder and print their names."""
    reports = Path(sys.argv[1]).resolve()
    target = Path(sys.argv[2] if len(sys.argv) > 2 else reports / "pictures").resolve()
    target.mkdir(parents=True, exist_ok=True)
    for size, (width, height) in SIZES.items():
        with open_browser(width, height) as browser:
            page = browser.new_page()
            for path in one_of_each_kind(reports):
                page.goto(path.as_uri())
                page.screenshot(path=target / f"{path.stem}-{size}.png", full_page=True)
                if size == "desktop":
                    page.pdf(path=target / f"{path.stem}.pdf", format="A4", prefer_css_page_size=True)
                    page.evaluate(GREY)
                    page.screenshot(path=target / f"{path.stem}-grey.png", full_page=True)
    print(*sorted(path.name for path in target.iterdir()), sep="\n")


if __name__ == "__main__":
    main()
