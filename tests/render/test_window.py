"""One page alone: to the letter what it is among all; or a stretch of time on a channel with a hostile name."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.render.filling import fill, page_environment
from pipeline.render.incidents import incident_sheets
from pipeline.render.reading import Reading
from pipeline.render.shown import Window
from pipeline.render.window import add_page, render_window
from tests.render.conftest import Rendered
from tests.render.small_room import HOSTILE, PERSON, SETTINGS, at
from tests.render.test_pages import Tags


def stretch(channel: str, begins: str, ends: str) -> Window:
    return Window("window-20310309-201000-two", channel, at(begins), at(ends))


@pytest.mark.parametrize("place", [0, 1, 2])
def test_an_incidents_page_is_the_one_among_all(rendered: Rendered, reading: Reading, place: int) -> None:
    sheet = list(incident_sheets(reading))[place]
    row = reading.incidents[place]
    window = Window(row["incident"], row["channel"], row["started_at_utc"], row["ended_at_utc"])
    page = render_window(rendered.store, SETTINGS, rendered.figures, window)
    assert page.sheet.name == sheet.name
    assert page.html == fill(page_environment(reading), sheet)


def test_a_stretch_tells_the_events_that_touch_it(rendered: Rendered) -> None:
    page = render_window(
        rendered.store, SETTINGS, rendered.figures, stretch("Two", "03-09 20:10:30", "03-09 20:40:00")
    ).html.replace("\u00a0", " ")
    assert "48 s of air lost" in page  # 8 s unlocked and 40 s on standby
    assert 'href="incident-20310309-201000-two.html"' in page


def test_a_stretch_with_no_event_says_so_and_still_shows_air_and_lines(rendered: Rendered) -> None:
    page = render_window(rendered.store, SETTINGS, rendered.figures, stretch("Two", "02-11 19:02:00", "02-11 19:03:00"))
    html = page.html.replace("\u00a0", " ")
    assert "No interruption, no protect switch and no rescue" in html
    assert ">covered<" in html
    assert "T3" in html
    assert "lock" in html  # T3 locked 26 s before air at 19:00, within the ten minutes before 19:02
    assert html.count("<svg") >= 1


@pytest.mark.parametrize("channel", [HOSTILE, '"><img src=x onerror=alert(2)>', "{{ 7 * 7 }}", "\u202egnp.\u0000", ""])
def test_a_hostile_channel_stays_a_word(rendered: Rendered, channel: str) -> None:
    quiet = stretch(channel, "02-11 19:02:00", "02-11 19:03:00")
    page = render_window(rendered.store, SETTINGS, rendered.figures, quiet)
    tags = Tags(page.html)
    assert not {tag for tag, _ in tags.found} & {"img", "iframe", "object", "form"}
    assert [attributes for tag, attributes in tags.found if tag == "script"] == [
        {"src": "assets/airhours.js", "defer": None}
    ]
    assert not [key for _, attributes in tags.found for key in attributes if key.startswith("on")]
    assert "49" not in page.sheet.title
    assert PERSON not in page.html
    assert len(tags.ids) == len(set(tags.ids))


def test_a_page_brings_the_style_only_where_there_is_none(rendered: Rendered, tmp_path: Path) -> None:
    page = render_window(rendered.store, SETTINGS, rendered.figures, stretch("Two", "02-11 19:02:00", "02-11 19:03:00"))
    assert add_page(tmp_path, page) == tmp_path / "window-20310309-201000-two.html"
    style = tmp_path / "assets" / "airhours.css"
    assert style.read_bytes() == (rendered.out / "assets" / "airhours.css").read_bytes()
    style.write_text("mine", encoding="utf-8")
    add_page(tmp_path, page)
    assert style.read_text(encoding="utf-8") == "mine"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["assets", "window-20310309-201000-two.html"]
