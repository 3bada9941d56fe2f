"""Pages on paper, A4 and Letter: each sheet named and numbered, no heading alone at its foot, no picture cut."""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from unicodedata import normalize

import pytest
from playwright.sync_api import BrowserContext, Page
from pypdf import PageObject, PdfReader

from tests.browser.chromium import find_chromium
from tests.browser.sites import Pages

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(find_chromium() is None, reason="no Chromium on this machine; .ci/run installs one"),
]
FOOT = 46  # points: the lower margin of 16 mm
HEADINGS = "[...document.querySelectorAll('main h2, main h3')].map(e => e.textContent)"
# Of each picture in sight: its words, and the words of its caption. A label without room is there, unseen.
PICTURES = """() => [...document.querySelectorAll("main figure")].filter(e => e.getClientRects().length).map(e => [
    [...e.querySelectorAll("svg text")].filter(t => t.checkVisibility({checkOpacity: true})).map(t => t.textContent),
    (e.querySelector("figcaption") || e).textContent,
])"""


def letters(text: str) -> str:
    """The letters and digits of a text alone: a printed line may end anywhere, and an fi may be one letter there."""
    return re.sub(r"\W+", "", normalize("NFKC", text))


@dataclass(frozen=True)
class Printed:
    """A sheet of paper: its text, and the lowest line between its margins."""

    text: str
    last: str


def printed(page: Page, paper: str) -> list[Printed]:
    """The sheets of the page that is open."""
    reader = PdfReader(BytesIO(page.pdf(format=paper, prefer_css_page_size=True)))
    return [_sheet(one) for one in reader.pages]


def _sheet(paper: PageObject) -> Printed:
    lines: dict[int, str] = defaultdict(str)

    def place(text: str, placed: list[float], own: list[float], *_: object) -> None:
        height = placed[1] * own[4] + placed[3] * own[5] + placed[5]
        if text.strip() and height > FOOT:
            lines[round(height)] += text

    text = paper.extract_text(visitor_text=place)
    return Printed(text, lines[min(lines)] if lines else "")


def alone_at_the_foot(page: Page, sheets: list[Printed]) -> list[str]:
    """Headings that stand lowest on a sheet that is not the last."""
    headings = {letters(text) for text in page.evaluate(HEADINGS)}
    return [sheet.last for sheet in sheets[:-1] if re.sub(r"^\d+", "", letters(sheet.last)) in headings]


@pytest.mark.parametrize(("name", "paper"), [("sample", "A4"), ("german", "Letter")])
def test_pages_print(sites: dict[str, Pages], browser: BrowserContext, name: str, paper: str) -> None:
    page = browser.new_page()
    for path in sites[name].one_of_each_kind():
        if path.name.startswith("lines"):
            continue  # tables alone, hundreds of sheets of them
        page.goto(path.as_uri())
        sheets = printed(page, paper)
        for number, sheet in enumerate(sheets, start=1):
            assert letters("Tallmyrhamn tape room") in letters(sheet.text), (path.name, number)
            assert re.search(rf"{number} (?:of|von) {len(sheets)}\b", sheet.text), (path.name, number)
        assert alone_at_the_foot(page, sheets) == [], path.name
        check_pictures(page, sheets, path)
    page.close()


def check_pictures(page: Page, sheets: list[Printed], path: Path) -> None:
    """All words of a picture, and its caption, stand on one sheet."""
    page.emulate_media(media="print")
    pictures = page.evaluate(PICTURES)
    page.emulate_media(media="null")
    told = [letters(sheet.text) for sheet in sheets]
    for words, caption in pictures:
        wanted = {letters(word) for word in words} | {letters(caption)[:60]}
        assert any(all(word in sheet for word in wanted) for sheet in told), (path.name, caption[:80])


def test_a_heading_at_the_foot_and_a_cut_picture_are_noticed(sites: dict[str, Pages], browser: BrowserContext) -> None:
    page = browser.new_page()
    month = sorted(sites["sample"].folder.glob("month-*.html"))[-1]
    page.goto(month.as_uri())
    page.evaluate("document.querySelector('#compared').style.breakAfter = 'page'")
    assert len(alone_at_the_foot(page, printed(page, "A4"))) == 1
    page.goto((sites["sample"].folder / "clocks.html").as_uri())
    page.evaluate("document.querySelector('figcaption').style.breakBefore = 'page'")
    page.evaluate("document.querySelector('figure').style.breakInside = 'auto'")
    with pytest.raises(AssertionError):
        check_pictures(page, printed(page, "A4"), month)
    page.close()
