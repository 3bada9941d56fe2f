"""The front of the transports' pages: every other page's answer stands on it, and what each counts."""

from __future__ import annotations

import re
from html import unescape

from tests.render.conftest import Rendered

OTHERS = ("case.html", "outlook.html", "recording.html", "parts.html", "care.html", "together.html")


def plain(html: str) -> str:
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", html)).split())


def test_the_first_paragraph_of_every_page_stands_on_the_front(rendered: Rendered) -> None:
    front = rendered.text("transports.html")
    for name in OTHERS:
        opening = re.search(r'<div class="spoken">\s*<p>(.*?)</p>', rendered.text(name), re.S)
        assert opening, name
        assert plain(opening[1]) in plain(front), name
        assert f'<dt><a href="{name}">' in front


def test_each_page_says_what_the_front_says_it_counts(rendered: Rendered) -> None:
    told = plain(rendered.text("transports.html"))
    switches = rendered.store.value("select count(*) from core_switches where is_protect")
    events = rendered.store.value("select count(*) from core_recoveries")
    assert f"{switches} protect switch" in told
    assert f"{events} event" in told
    counted = rendered.figures["transports"]["recording"]["faults"]["counted_count"]
    assert f"{counted} fault" in told
    assert f"{counted} fault" in plain(rendered.text("recording.html"))
