"""WCAG 2.2 AA as far as axe-core can tell, contrast that survives a grey printer, and a walk by keyboard alone."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import axe_playwright_python
import pytest
from playwright.sync_api import BrowserContext, Page

from tests.browser.chromium import find_chromium
from tests.browser.sites import Pages

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(find_chromium() is None, reason="no Chromium on this machine; .ci/run installs one"),
]
AXE = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text(encoding="utf-8")
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
# Without `preload` it fetches no style sheet again, which the pages' own policy would refuse.
RUN = """([rules, contrast]) => axe.run(document, {
    runOnly: {type: "tag", values: rules}, resultTypes: ["violations"], preload: false,
    rules: {"color-contrast": {enabled: contrast}},
})"""
# Colours as a grey printer gives them: the luma of ITU-R BT.601, weights from memory. Contrast as in WCAG 2.2.
LEAST_GREY_CONTRAST = """() => {
    const grey = text => {
        const [r, g, b] = text.match(/[\\d.]+/g).map(Number);
        const luma = (0.299 * r + 0.587 * g + 0.114 * b) / 255;
        return luma <= 0.04045 ? luma / 12.92 : ((luma + 0.055) / 1.055) ** 2.4;
    };
    const behind = element => {
        for (let at = element; at; at = at.parentElement) {
            const fill = getComputedStyle(at).backgroundColor;
            if (fill !== "rgba(0, 0, 0, 0)") return grey(fill);
        }
        return 1;
    };
    let least = 21;
    for (const element of document.querySelectorAll("main *, header *, footer *")) {
        if (element.closest("svg")) continue;
        const own = [...element.childNodes].some(node => node.nodeType === 3 && node.textContent.trim());
        if (!own || !element.getClientRects().length) continue;
        const pair = [grey(getComputedStyle(element).color), behind(element)].sort((a, b) => b - a);
        least = Math.min(least, (pair[0] + 0.05) / (pair[1] + 0.05));
    }
    return least;
}"""
FOCUSED = """() => {
    const at = document.activeElement, box = at.getBoundingClientRect(), style = getComputedStyle(at);
    return {
        place: [...document.querySelectorAll("*")].indexOf(at), name: at.tagName, href: at.getAttribute("href") || "",
        label: at.getAttribute("aria-label") || at.textContent.trim(),
        seen: box.width > 0 && box.bottom > 0 && box.top < innerHeight,
        marked: style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2,
    };
}"""
FOCUSABLE = "document.querySelectorAll('a[href], button, input, [tabindex=\"0\"], summary').length"


def findings(page: Page, path: Path, *, contrast: bool) -> list[str]:
    """What axe-core has against a page."""
    page.goto(path.as_uri())
    page.evaluate(AXE)
    found: dict[str, Any] = page.evaluate(RUN, [RULES, contrast])
    return [f"{path.name}: {rule['id']}: {rule['nodes'][0]['html'][:120]}" for rule in found["violations"]]


@pytest.mark.parametrize("name", ["sample", "second"])
def test_axe_finds_nothing_on_any_page(sites: dict[str, Pages], browser: BrowserContext, name: str) -> None:
    """Axe judges elements, not what they say: of pages with the same ones in the same places one, and every tenth."""
    page = browser.new_page()
    paths = sorted({*sites[name].unlike(), *sites[name].all()[::10]})
    assert [found for path in paths for found in findings(page, path, contrast=False)] == []
    page.close()


@pytest.mark.parametrize("name", ["sample", "german"])
@pytest.mark.parametrize("width", [320, 1280])
def test_axe_finds_no_poor_contrast_on_any_kind_of_page(
    sites: dict[str, Pages], browser: BrowserContext, name: str, width: int
) -> None:
    """All pages have one style sheet, so one of each kind tells for its kind; lists of lines are left out."""
    page = browser.new_page()
    page.set_viewport_size({"width": width, "height": 900})
    kinds = [path for path in sites[name].one_of_each_kind() if not path.name.startswith("lines")]
    assert [found for path in kinds for found in findings(page, path, contrast=True)] == []
    page.close()


def test_axe_finds_what_is_wrong(sites: dict[str, Pages], browser: BrowserContext) -> None:
    page = browser.new_page()
    page.goto((sites["sample"].folder / "index.html").as_uri())
    page.evaluate("document.documentElement.removeAttribute('lang')")
    page.evaluate(AXE)
    assert [rule["id"] for rule in page.evaluate(RUN, [RULES, False])["violations"]] == ["html-has-lang"]
    page.close()


def test_words_stand_out_in_grey(sites: dict[str, Pages], browser: BrowserContext) -> None:
    page = browser.new_page()
    for path in sites["sample"].one_of_each_kind():
        page.goto(path.as_uri())
        assert page.evaluate(LEAST_GREY_CONTRAST) >= 4.5, path.name
    page.close()


def test_an_incident_is_walked_by_keyboard_alone(sites: dict[str, Pages], browser: BrowserContext) -> None:
    """Tab goes through everything in the order of the page, each stop in sight and marked; the first skips ahead."""
    page = browser.new_page()
    incident = max(sites["sample"].folder.glob("incident-*.html"), key=lambda path: path.stat().st_size)
    page.goto(incident.as_uri())
    page.keyboard.press("Tab")
    first = page.evaluate(FOCUSED)
    assert first["href"] == "#text"
    stops = [first]
    for _ in range(page.evaluate(FOCUSABLE)):
        page.keyboard.press("Tab")
        stops.append(page.evaluate(FOCUSED))
        if stops[-1]["name"] == "BODY":
            break
    walked = [stop for stop in stops if stop["name"] != "BODY"]
    assert len(walked) > 30
    assert [stop["place"] for stop in walked] == sorted(stop["place"] for stop in walked)
    assert [stop for stop in walked if not (stop["seen"] and stop["marked"] and stop["label"])] == []
    page.goto(incident.as_uri())
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    inside = page.evaluate("document.querySelector('main').contains(document.activeElement)")
    assert inside
    page.close()


def test_nothing_moves_for_those_who_ask_for_stillness(sites: dict[str, Pages], browser: BrowserContext) -> None:
    page = browser.new_page()
    page.emulate_media(reduced_motion="reduce")
    for path in sites["sample"].one_of_each_kind():
        page.goto(path.as_uri())
        moving = (
            "document.getAnimations().length + (getComputedStyle(document.documentElement).scrollBehavior === 'smooth')"
        )
        assert page.evaluate(moving) == 0, path.name
    page.close()
