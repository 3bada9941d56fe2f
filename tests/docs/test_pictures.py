"""The pictures of the docs: one of every kind of page, as the script makes them, each with words in its place."""

from __future__ import annotations

import re
import struct

import pytest

from tests.browser.screenshots import HEIGHT, PICTURED, WIDTH
from tests.browser.sites import SEVERAL
from tests.docs.commands import ROOT
from tests.finished_room import Finished

SHOWN = re.compile(r"!\[([^]]+)\]\((?:docs/)?pictures/(\w+)\.png\)")
TAKEN = re.compile("|".join(begins for begins, _ in PICTURED.values()))


def test_every_picture_is_shown_with_words_and_has_its_size() -> None:
    shown = dict(reversed(pair) for pair in SHOWN.findall((ROOT / "docs" / "pages.md").read_text(encoding="utf-8")))
    assert set(shown) == set(PICTURED) == {path.stem for path in (ROOT / "docs" / "pictures").glob("*.png")}
    for name in shown:
        head = (ROOT / "docs" / "pictures" / f"{name}.png").read_bytes()[:24]
        assert struct.unpack(">II", head[16:]) == (WIDTH, HEIGHT)  # PNG, third edition, 11.2.1: IHDR


def test_the_readme_shows_real_pages() -> None:
    assert len(SHOWN.findall((ROOT / "README.md").read_text(encoding="utf-8"))) >= 2


@pytest.mark.slow
def test_every_kind_of_page_is_pictured(finished: Finished) -> None:
    told = {
        "lines.html",
        "lines-files",
        "case-",
        "find-",
        "reels-",
    }  # continued, or lists and sheets of a page that is pictured
    for path in finished.reports.glob("*.html"):
        assert TAKEN.match(path.name) or path.name.startswith((*told, *SEVERAL)), path.name
