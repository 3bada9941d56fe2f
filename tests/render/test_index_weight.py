"""The front page of a large room: two years of months and more incidents than it shows, and still a light page."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace

import pytest

from pipeline.render.filling import fill, page_environment
from pipeline.render.index import MOST_INCIDENTS, index_sheet
from pipeline.render.language import speaking
from pipeline.render.lines_names import FigureLinks, key_of_group
from pipeline.render.reading import Reading

MOST_BYTES = 500_000
MONTHS = [f"{year}-{month:02d}" for year in (2030, 2031) for month in range(1, 13)]
INCIDENTS = 340


def large(reading: Reading) -> Reading:
    """The small room's first month and incident over and over, each under a name of its own."""
    incident, month = reading.incidents[0], reading.figures["months"][0]
    name = incident["incident"]
    names = [f"{name}-{number:03d}" for number in range(INCIDENTS)]
    return replace(
        reading,
        figures={**reading.figures, "months": [{**month, "month": one} for one in MONTHS]},
        incidents=[{**incident, "incident": one} for one in names],
        parts=[{**part, "incident": one} for one in names for part in reading.shown[name]],
        shown=dict.fromkeys(names, reading.shown[name]),
        around={table: dict.fromkeys(names, reading.of_incident(table, name)) for table in reading.around},
    )


@pytest.fixture(scope="module", params=[("en", "en-GB"), ("de", "de-DE")], ids=["English", "German"])
def page(reading: Reading, request: pytest.FixtureRequest) -> Iterator[str]:
    """The page with every figure a link to its list, as heavy as it gets."""
    room = large(reading)
    groups = [room.figures["total"], *room.figures["months"]]
    pages = {key_of_group(group): f"lines-month-{key_of_group(group)[0]}.html" for group in groups}
    links = FigureLinks(
        pages, dict.fromkeys(pages, frozenset({*room.figures["total"], "continuity_bounds", "unprotected"}))
    )
    with speaking(*request.param):
        yield fill(page_environment(room, links), index_sheet(room))


def test_it_weighs_less_than_the_bound(page: str) -> None:
    assert len(page.encode()) <= MOST_BYTES
    assert page.count("hatch-lost") > MOST_INCIDENTS  # each with all there is to draw
    assert page.count('<svg class="pair"') == MOST_INCIDENTS


def test_the_newest_are_shown_and_the_rest_is_said_to_be_elsewhere(page: str, reading: Reading) -> None:
    shown = re.findall(r'href="incident-[^"]*-(\d{3})\.html"', page)
    assert shown == [f"{number:03d}" for number in range(INCIDENTS - 1, INCIDENTS - 1 - MOST_INCIDENTS, -1)]
    assert re.search(r"<p>[^<]*\b300\b[^<]*\b340\b", page)


def test_two_years_of_months_are_two_groups_of_the_contents(page: str) -> None:
    nav = page[page.index('<nav class="sheets"') : page.index("</nav>")]
    assert nav.count('<li class="year">') == 2
    assert len(re.findall(r'href="month-\d{4}-\d\d\.html"', nav)) == 24
