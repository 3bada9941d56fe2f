"""A month's sheet in a real browser: one page of paper in small rooms and large, and light enough to be mailed."""

from __future__ import annotations

from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from unicodedata import normalize

import pytest
from playwright.sync_api import BrowserContext
from pypdf import PdfReader

from pipeline.flow import run_site
from tests.browser.chromium import find_chromium, open_browser
from tests.finished_room import Finished, quiet
from tests.long_room import write_long_room

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(find_chromium() is None, reason="no Chromium on this machine; .ci/run installs one"),
]
MOST_PAGE, MOST_SHEET = 500_000, 60_000
LAST_WORDS = "No remedy is called a success on a quiet month."


@pytest.fixture(scope="module")
def browser() -> Iterator[BrowserContext]:
    with open_browser() as opened:
        yield opened


@pytest.fixture(scope="module")
def large(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Fourteen pairs, 26 months, months of the broadcast calendar."""
    site = write_long_room(tmp_path_factory.mktemp("large") / "site", pairs=14, months="broadcast")
    return run_site(site, narrate=quiet).index.parent


def check_sheet(page_file: Path, browser: BrowserContext) -> None:
    html = page_file.read_text(encoding="utf-8")
    start, end = html.index('<div class="review">'), html.index('<h2 id="compared">')
    assert len(html.encode()) <= MOST_PAGE
    assert len(html[start:end].encode()) <= MOST_SHEET
    page = browser.new_page()
    page.goto(page_file.as_uri())
    for paper in ("A4", "Letter"):
        printed = PdfReader(BytesIO(page.pdf(format=paper))).pages
        texts = [normalize("NFKC", sheet.extract_text()) for sheet in printed]  # an fi may be one letter there
        # The head, every picture's caption and the last line of the sheet: all on the second page, and on no other.
        for words in ("The sheet", "Figure 1.", "Figure 4.", "Open tickets, oldest first", LAST_WORDS):
            assert words in texts[1], (paper, words)
        assert "Against the room's own past" in texts[2], paper
    page.close()


def test_the_sheet_is_one_page_of_paper(finished: Finished, browser: BrowserContext) -> None:
    check_sheet(finished.reports / "month-2031-03.html", browser)


def test_the_sheet_of_a_large_room_is_one_page_too(large: Path, browser: BrowserContext) -> None:
    check_sheet(large / "month-2031-01.html", browser)
    html = (large / "month-2031-01.html").read_text(encoding="utf-8")
    assert "The month is that of the broadcast calendar: 30 December 2030 to 26 January 2031." in html


@pytest.mark.parametrize("width", [320, 375, 1280])
def test_no_page_of_a_month_is_wider_than_the_screen(large: Path, browser: BrowserContext, width: int) -> None:
    page = browser.new_page()
    page.set_viewport_size({"width": width, "height": 900})
    page.goto((large / "month-2031-01.html").as_uri())
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    page.close()
