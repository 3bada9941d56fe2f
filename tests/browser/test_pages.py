"""The pages in a real browser, from disk, as a reader opens them: nothing asked for, nothing said, every link good."""

from __future__ import annotations

import pytest
from playwright.sync_api import BrowserContext

from tests.browser.chromium import find_chromium
from tests.browser.sites import Pages

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(find_chromium() is None, reason="no Chromium on this machine; .ci/run installs one"),
]
WIDTHS = (320, 375, 1280, 3840)
WIDER_THAN_THE_PAGE = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
IDS = "[...document.querySelectorAll('[id]')].map(e => e.id)"
LINKS = "[...document.querySelectorAll('a[href]')].map(e => e.getAttribute('href'))"
HEAVIEST = 500_000  # bytes


@pytest.mark.parametrize("name", ["sample", "second", "german"])
def test_every_page_opens_from_disk_and_every_link_leads_somewhere(
    sites: dict[str, Pages], browser: BrowserContext, name: str
) -> None:
    """No request leaves the folder, nothing is said on the console, no page is heavy, and no link leads nowhere."""
    folder = sites[name].folder
    said: list[str] = []
    asked: list[str] = []
    places: dict[str, set[str]] = {}
    links: set[tuple[str, str]] = set()
    page = browser.new_page()
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("request", lambda request: asked.append(request.url))
    for path in sites[name].all():
        page.goto(path.as_uri())
        assert page.title(), path.name
        assert page.locator("h1").count() == 1, path.name
        assert path.stat().st_size <= HEAVIEST, path.name
        ids = page.evaluate(IDS)
        places[path.name] = set(ids)
        assert len(places[path.name]) == len(ids), path.name
        links |= {(path.name, href) for href in page.evaluate(LINKS)}
    page.close()
    assert said == []
    assert len(asked) > len(places) > 20
    assert all(url.startswith(folder.as_uri()) for url in asked)
    for origin, href in sorted(links):
        target, _, place = href.partition("#")
        target = target or origin
        assert target in places or (folder / target).is_file(), (origin, href)
        assert not place or place in places[target], (origin, href)


@pytest.mark.parametrize("width", WIDTHS)
def test_no_page_is_wider_than_its_window(sites: dict[str, Pages], browser: BrowserContext, width: int) -> None:
    page = browser.new_page()
    page.set_viewport_size({"width": width, "height": 900})
    for path in [*sites["sample"].one_of_each_kind(), *sites["german"].one_of_each_kind()]:
        page.goto(path.as_uri())
        assert page.evaluate(WIDER_THAN_THE_PAGE) <= 0, path
    page.close()
