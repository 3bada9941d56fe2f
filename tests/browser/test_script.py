"""The pages' one script in a real browser: it helps to look closer, sends nothing, and is missed by no page."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Locator, Page

from pipeline.evidence import open_evidence
from pipeline.measure import measure_site
from pipeline.render import render_reports
from tests.browser.chromium import find_chromium, open_browser
from tests.finished_room import Finished
from tests.render.small_room import HOSTILE, SETTINGS, open_room

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(find_chromium() is None, reason="no Chromium on this machine; .ci/run installs one"),
]
FOUND = "#find-list li"


@pytest.fixture(scope="module")
def reports(finished: Finished) -> Path:
    return finished.reports


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The pages of the small room, whose names try to break a page."""
    out = tmp_path_factory.mktemp("small")
    with open_room() as store:
        figures = measure_site(store, SETTINGS)
        evidence = open_evidence(store, figures, shows_persons=False)
        render_reports(store, SETTINGS, figures, out, evidence=evidence)
    return out


@pytest.fixture(scope="module")
def browser() -> Iterator[BrowserContext]:
    with open_browser() as opened:
        yield opened


@contextmanager
def opened(browser: BrowserContext, path: Path) -> Iterator[Page]:
    """A page from disk; nothing may be said on its console and nothing asked for outside its folder."""
    page = browser.new_page()
    said: list[str] = []
    asked: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("request", lambda request: asked.append(request.url))
    page.goto(path.as_uri())
    yield page
    page.close()
    assert said == []
    assert all(url.startswith(path.parent.as_uri()) for url in asked)


def edge(of: Locator, name: str) -> float:
    return float(of.get_attribute(name) or "nan")


def longest_incident(reports: Path) -> Path:
    return max(reports.glob("incident-*.html"), key=lambda path: (path.stat().st_size, path.name))


def test_words_are_found_in_any_order_without_accents_or_capitals(reports: Path, browser: BrowserContext) -> None:
    with opened(browser, reports / "find.html") as page:
        page.fill("#find-words", "an OSTER")
        texts = page.locator(FOUND).all_inner_texts()
        assert texts
        assert all("Öster om ån" in text for text in texts)
        assert page.locator("#find [role=status]").inner_text() == f"{len(texts)} entries are found."
        assert page.locator("#find-register").is_hidden()
        page.fill("#find-words", "vt1 no such thing")
        assert page.locator("#find [role=status]").inner_text() == "Nothing is found."
        page.fill("#find-words", "machine-less words nobody wrote")
        assert page.locator(FOUND).count() == 0


def test_what_is_found_is_walked_with_the_keyboard(reports: Path, browser: BrowserContext) -> None:
    with opened(browser, reports / "find.html") as page:
        page.focus("#find-words")
        page.keyboard.type("vt3")
        count = page.locator(FOUND).count()
        assert count > 3
        page.keyboard.press("ArrowDown")
        page.keyboard.press("ArrowDown")
        assert page.evaluate("document.activeElement === document.querySelectorAll('#find-list a')[1]")
        page.keyboard.press("ArrowUp")
        page.keyboard.press("ArrowUp")
        assert page.evaluate("document.activeElement.id") == "find-words"
        page.keyboard.press("Escape")
        assert page.input_value("#find-words") == ""
        assert page.locator(FOUND).count() == 0
        assert page.locator("#find-register").is_visible()
        page.keyboard.type("machine vt3")
        page.keyboard.press("ArrowDown")
        page.keyboard.press("Enter")
        page.wait_for_url("**/machine-vt3.html")


def test_more_than_can_be_shown_are_counted(reports: Path, browser: BrowserContext) -> None:
    with opened(browser, reports / "find.html") as page:
        page.fill("#find-words", "reel")
        assert page.locator(FOUND).count() == 200
        said = page.locator("#find [role=status]").inner_text()
        assert said.endswith("entries are found; the first 200 are shown.")


def test_hostile_names_stay_text(small: Path, browser: BrowserContext) -> None:
    with opened(browser, small / "find.html") as page:
        page.on("dialog", lambda dialog: pytest.fail(dialog.message))
        page.fill("#find-words", "alert")
        texts = page.locator(FOUND).all_inner_texts()
        assert any(HOSTILE in text for text in texts)
        assert any("<img src=x onerror=alert(2)>" in text for text in texts)
        assert page.locator("#find-list img, #find-list script").count() == 0


def test_a_strip_is_read_out_by_the_keyboard(reports: Path, browser: BrowserContext) -> None:
    with opened(browser, longest_incident(reports)) as page:
        place = page.locator("[data-strip]").first
        slider, said = place.locator("input[type=range]"), place.locator("[role=status]")
        first = said.inner_text()
        assert "Selector: " in first
        assert "Air: " in first
        slider.focus()
        page.keyboard.press("ArrowRight")
        assert said.inner_text() != first
        assert said.inner_text().startswith(str(slider.get_attribute("aria-valuetext")))
        page.keyboard.press("Home")
        begin = place.evaluate("place => JSON.parse(place.dataset.strip).lanes[1].spans[0][2]")
        assert f"Air: {begin}" in said.inner_text()
        lines = place.locator(".hairline")
        assert lines.count() == 2  # of the wide strip and of the narrow one
        assert edge(lines.last, "x1") == edge(place.locator("svg").last, "data-left")
        page.keyboard.press("End")
        assert edge(lines.last, "x1") == edge(place.locator("svg").last, "data-right")


def test_a_strip_leads_from_change_to_change_and_grows(reports: Path, browser: BrowserContext) -> None:
    with opened(browser, longest_incident(reports)) as page:
        place = page.locator("[data-strip]").first
        said, strip = place.locator("[role=status]"), place.locator("svg.strip:visible")
        place.get_by_role("slider").focus()
        page.keyboard.press("Home")
        before = said.inner_text()
        place.get_by_role("button", name="Change after").press("Enter")
        after = said.inner_text()
        assert after.partition(". ")[2] != before.partition(". ")[2]
        place.get_by_role("button", name="Change before").press("Enter")
        assert said.inner_text() == before
        width = strip.evaluate("svg => svg.getBoundingClientRect().width")
        place.get_by_role("slider").press("+")
        assert strip.evaluate("svg => svg.getBoundingClientRect().width") == pytest.approx(2 * width, rel=0.02)
        assert page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") <= 0
        place.get_by_role("button", name="Smaller (−)").press("Enter")
        assert strip.evaluate("svg => svg.getBoundingClientRect().width") == pytest.approx(width, rel=0.02)


def test_a_strip_follows_the_pointer(reports: Path, browser: BrowserContext) -> None:
    with opened(browser, longest_incident(reports)) as page:
        place = page.locator("[data-strip]").first
        strip = place.locator("svg.strip:visible")
        strip.scroll_into_view_if_needed()
        box = strip.bounding_box()
        assert box is not None
        texts = []
        for part in (0.3, 0.6, 0.9):
            page.mouse.move(box["x"] + part * box["width"], box["y"] + 20)
            texts.append(place.locator("[role=status]").inner_text())
        times = [text.partition(". ")[0] for text in texts]
        assert times == sorted(times)
        assert len(set(times)) == 3


def test_a_run_chart_is_read_out_month_by_month(reports: Path, browser: BrowserContext) -> None:
    with opened(browser, sorted(reports.glob("month-*.html"))[-1]) as page:
        place = page.locator("[data-run]").first
        slider, said = place.get_by_role("slider"), place.locator("[role=status]")
        assert said.inner_text().startswith("April 2031: ")
        slider.focus()
        page.keyboard.press("ArrowLeft")
        assert said.inner_text().startswith("March 2031: ")
        assert "limits" in said.inner_text()
        assert slider.get_attribute("aria-valuetext") == said.inner_text()
        marks = place.locator("[data-point]")
        assert marks.count() == 3
        box = marks.first.bounding_box()
        assert box is not None
        page.mouse.move(box["x"] + 3, box["y"] + 3)
        assert said.inner_text().startswith("February 2031: ")


def test_without_a_script_every_page_is_whole(reports: Path, browser: BrowserContext) -> None:
    names = ["find.html", longest_incident(reports).name, "month-2031-04.html", "machine-vt1.html", "reels.html"]
    page = browser.new_page()
    page.route("**/*.js", lambda route: route.abort())
    for name in names:
        page.goto((reports / name).as_uri())
        assert page.locator("#find, .look, .readout, .hairline").filter(visible=True).count() == 0, name
        assert page.locator("main").inner_text().count("\n") > 20, name
    page.goto((reports / "find.html").as_uri())
    assert page.locator("#find-register").is_visible()
    assert page.locator("#find-register a").count() > 500
    page.close()


def test_nothing_of_the_script_is_printed(reports: Path, browser: BrowserContext) -> None:
    for path in (reports / "find.html", longest_incident(reports)):
        with opened(browser, path) as page:
            page.emulate_media(media="print")
            assert page.locator("#find, .look, .readout, .hairline").filter(visible=True).count() == 0, path.name
