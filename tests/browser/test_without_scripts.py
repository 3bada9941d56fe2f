"""The pages with scripts switched off: complete."""

from __future__ import annotations

import pytest

from tests.browser.chromium import find_chromium, open_browser
from tests.browser.sites import Pages, words_of

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(find_chromium() is None, reason="no Chromium on this machine; .ci/run installs one"),
]


def test_without_scripts_a_page_says_all_it_says(sites: dict[str, Pages]) -> None:
    """What a page shows with scripts switched off holds every word of its text, and nothing in it waits for one."""
    with open_browser(java_script=False) as browser:
        page = browser.new_page()
        for path in sites["sample"].one_of_each_kind():
            page.goto(path.as_uri())
            main = path.read_text(encoding="utf-8").partition("<main")[2].partition("</main>")[0].partition(">")[2]
            assert words_of(page.locator("main").inner_html()) == words_of(main), path.name
            hidden = page.locator("main [hidden]")
            for place in range(hidden.count()):
                assert hidden.nth(place).locator("table, figure, h2, h3, li").count() == 0, path.name
            assert page.locator("main h2").first.is_visible(), path.name
        page.close()
