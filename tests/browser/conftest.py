"""A browser, and the pages of the invented rooms in it."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import BrowserContext

from tests.browser.chromium import open_browser
from tests.browser.sites import Pages
from tests.finished_room import Finished


@pytest.fixture(scope="module")
def browser() -> Iterator[BrowserContext]:
    with open_browser() as opened:
        yield opened


@pytest.fixture(scope="session")
def sites(finished: Finished, finished_second: Finished, finished_german: Finished) -> dict[str, Pages]:
    """The pages of the invented room, of the room of foreign files, and of the first one in German."""
    rooms = {"sample": finished, "second": finished_second, "german": finished_german}
    return {name: Pages(room.reports) for name, room in rooms.items()}
