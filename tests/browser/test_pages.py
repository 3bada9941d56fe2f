"""The pages of the invented room in a real browser, as a reader opens them from disk."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext

from pipeline.flow import run_site
from tests.browser.chromium import find_chromium, open_browser
from tests.browser.screenshots import one_of_each_kind
from tests.test_flow import copy_room, quiet

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(find_chromium() is None, reason="no Chromium on this machine; .ci/run installs one"),
]
NARROW = 320
WIDER_THAN_THE_PAGE = "document.documentElement.scrollWidth - document.documentElement.clientWidth"


@pytest.fixture(scope="module")
def reports(tmp_path_factory: pytest.TempPathFactory) -> Path:
    site = copy_room(tmp_path_factory.mktemp("browser") / "site")
    return run_site(site, narrate=quiet).index.parent


@pytest.fixture(scope="module")
def browser() -> Iterator[BrowserContext]:
    with open_browser() as opened:
        yield opened


def test_every_page_opens_from_disk_asks_for_nothing_and_says_nothing(reports: Path, browser: BrowserContext) -> None:
    page = browser.new_page()
    said: list[str] = []
    asked: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("request", lambda request: asked.append(request.url))
    pages = sorted(reports.glob("*.html"))
    assert len(pages) > 100
    for path in pages:
        page.goto(path.as_uri())
        assert page.title(), path.name
        assert page.locator("h1").count() == 1, path.name
    page.close()
    assert said == []
    assert all(url.startswith(reports.as_uri()) for url in asked)


def test_every_link_leads_to_a_page_and_a_place_that_exist(reports: Path, browser: BrowserContext) -> None:
    page = browser.new_page()
    places: dict[str, set[str]] = {}
    links: set[tuple[str, str]] = set()
    for path in sorted(reports.glob("*.html")):
        page.goto(path.as_uri())
        places[path.name] = set(page.evaluate("[...document.querySelectorAll('[id]')].map(e => e.id)"))
        hrefs = page.evaluate("[...document.querySelectorAll('a[href]')].map(e => e.getAttribute('href'))")
        links |= {(path.name, href) for href in hrefs}
    page.close()
    assert links
    for origin, href in links:
        name, _, place = href.partition("#")
        target = name or origin
        assert target in places or (reports / target).is_file(), (origin, href)
        assert not place or place in places[target], (origin, href)


def test_no_page_is_wider_than_a_small_phone(reports: Path, browser: BrowserContext) -> None:
    page = browser.new_page()
    page.set_viewport_size({"width": NARROW, "height": 640})
    for path in one_of_each_kind(reports):
        page.goto(path.as_uri())
        assert page.evaluate(WIDER_THAN_THE_PAGE) <= 0, path.name
    page.close()


def test_pages_print_to_a4(reports: Path, browser: BrowserContext, tmp_path: Path) -> None:
    page = browser.new_page()
    for path in one_of_each_kind(reports):
        page.goto(path.as_uri())
        written = page.pdf(format="A4", prefer_css_page_size=True)
        assert written.startswith(b"%PDF"), path.name
    page.close()
