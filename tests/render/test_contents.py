"""The contents at the head of every page: short, grouped by year, the page one is on marked, targets that exist."""

from __future__ import annotations

import re

from pipeline.render.contents import by_year, contents
from pipeline.render.language import speaking
from tests.render.conftest import Rendered

TWO_YEARS = [f"{year}-{month:02d}" for year in (2030, 2031) for month in range(1, 13)]


def test_months_stand_under_their_year_in_short() -> None:
    ((first, january), (second, one)) = by_year(["2030-12", "2031-03"])
    assert (first, second) == ("2030", "2031")
    assert (january[0].text, january[0].full, january[0].href) == ("Dec", "December 2030", "month-2030-12.html")
    assert (one[0].text, one[0].full) == ("Mar", "March 2031")


def test_two_years_are_one_line_of_two_groups() -> None:
    room, months, ground = contents(TWO_YEARS, "lines.html")
    assert [(year, len(entries)) for year, entries in months.groups] == [("2030", 12), ("2031", 12)]
    # 12 names of three letters and the year: a line a year of fewer than 60 signs.
    assert all(len(f"{year}: {' '.join(entry.text for entry in own)}") < 60 for year, own in months.groups)
    assert [entry.text for entry in room.groups[0][1]][:2] == ["Front page", "Transports"]
    assert ground.groups[0][1][0].href == "lines.html"


def test_no_months_and_no_lists_leave_no_empty_line() -> None:
    lines = contents([], None)
    assert len(lines) == 2
    assert not [entry for line in lines for _, own in line.groups for entry in own if entry.href == "lines.html"]


def test_a_short_name_is_part_of_the_full_one_in_each_language() -> None:
    # WCAG 2.2, 2.5.3: who says what they see is understood.
    for tag, locale in (("en", "en-GB"), ("de", "de-DE")):
        with speaking(tag, locale):
            entries = [entry for _, own in by_year(TWO_YEARS) for entry in own]
        assert not [entry for entry in entries if entry.text.rstrip(".") not in entry.full], tag


def test_every_page_marks_itself_once_or_is_not_of_the_contents(rendered: Rendered) -> None:
    listed = {
        entry.href for line in contents(["2031-02", "2031-03"], "lines.html") for _, own in line.groups for entry in own
    }
    for name, html in rendered.html.items():
        current = re.findall(r'<a href="([^"]+)" aria-current="page"', html)
        assert current == ([name] if name in listed else []), name
        nav = html[html.index('<nav class="sheets"') : html.index("</header>")]
        assert set(re.findall(r'href="([^"]+)"', nav)) == listed, name


def test_the_way_past_the_contents_comes_first(rendered: Rendered) -> None:
    for name, html in rendered.html.items():
        body = html[html.index("<body>") :]
        assert body.index('<a class="skip" href="#text">') < body.index("<header>") < body.index('<main id="text">'), (
            name
        )
