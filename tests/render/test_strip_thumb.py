"""The paired strip in a table's cell: worked by hand, never calmer than the logs, never above its bytes."""

from __future__ import annotations

import re
from datetime import datetime, timedelta

from pipeline.render.language import speaking
from pipeline.render.reading import Reading, Row
from pipeline.render.strip_scene import Axis, Scene
from pipeline.render.strip_thumb import MOST_BYTES, Pair, draw_pair, pair_of, pair_says, thumb, thumb_drawer
from tests.render.conftest import Rendered

BEGAN = datetime.fromisoformat("2031-05-01T20:00:00")


def span(start_s: float, end_s: float, **more: object) -> Row:
    """A row that lasts between two times after the beginning."""
    times = {"started_at_utc": BEGAN + timedelta(seconds=start_s), "ended_at_utc": BEGAN + timedelta(seconds=end_s)}
    return {**times, **more}


def scene(names: tuple[str, ...], feeds: list[Row], spans: list[Row], states: list[Row]) -> Scene:
    return Scene(
        channel="One", machines=names, roles=dict.fromkeys(names, "air"), feeds=feeds, spans=spans, states=states,
        not_known=[], motions=[], offsets=[], events=[], tickets=[], maintenance=[], keys=(), tolerance_s=0.04,
    )  # fmt: skip


def pair(one: Scene, above: str | None, below: str | None, seconds: float = 150.0) -> Pair:
    """One SVG unit a second, unless said otherwise."""
    return Pair(one, Axis(BEGAN, BEGAN + timedelta(seconds=seconds)), above, below)


def test_a_forced_switch_of_the_small_room(reading: Reading) -> None:
    # T1 was lost at 19:19:58 (its clock is 2 s fast), T2 taken at 19:20:12: 14 s, with 15 s around it 44 s on 150
    # units. Lost begins at 15 / 44 × 150 = 51.1 and ends at 29 / 44 × 150 = 98.9: the steps 51 to 98, so a bar from 51
    # to 99. T1 stays lost, T2 is good throughout, and from the take on T1 no longer covers T2: exposed from 99. The way
    # is read in the middle of a step: that of step 98 is before the take, so it changes over at 99.
    incident = reading.incidents[0]
    drawn = str(thumb_drawer(reading)(incident))
    assert '<path fill="url(#hatch-covered)" d="M0 3H51v6H0zM0 17H150v6H0z"/>' in drawn
    assert '<path fill="url(#hatch-exposed)" d="M99 11H150v4H99z"/>' in drawn
    assert '<path fill="url(#hatch-lost)" d="M51 3H150v6H51zM51 11H99v4H51z"/>' in drawn
    assert drawn.endswith('<path class="way" d="M0 1H99V25H150"/></svg>')
    said = "above T1, below T2; covered 15 s; exposed 15 s; lost 14 s; programme moves between them"
    assert f'role="img" aria-label="{said}"' in drawn
    assert thumb_drawer(reading)(incident["incident"]) == drawn
    assert thumb_drawer(reading)("no such") == ""


def test_where_no_protect_is_booked_the_lower_lane_is_empty(reading: Reading) -> None:
    # T3 alone fed channel Two; for 40 s the selector was on standby, so the way is broken there.
    incident = reading.incidents[2]
    found = pair_of(reading, incident, reading.shown[incident["incident"]])
    assert (found.above, found.below) == ("T3", None)
    drawn = str(thumb_drawer(reading)(incident))
    assert "M0 17" not in drawn
    way = re.search(r'class="way" d="([^"]+)"', drawn)
    assert way is not None
    assert way[1].count("M") == 2
    assert "V25" not in way[1]
    assert "only T3, no other machine" in drawn
    assert "programme on neither for a time" in drawn


def test_a_loss_too_short_for_its_place_is_drawn_too_long_and_never_left_out() -> None:
    spans = [span(0, 70.2, state="covered"), span(70.2, 70.3, state="lost"), span(70.3, 150, state="covered")]
    drawn = str(draw_pair(pair(scene((), [], spans, []), None, None), 1, 20))
    # A tenth of a second in the step from 70 to 71.
    assert '<path fill="url(#hatch-lost)" d="M70 11H71v4H70z"/>' in drawn
    # In steps of 30 it takes the whole of the third, from 60 to 90.
    assert 'd="M60 11H90v4H60z"/>' in str(draw_pair(pair(scene((), [], spans, []), None, None), 30, 20))


def test_what_is_not_known_is_a_crossed_gap_and_a_stopped_machine_a_line() -> None:
    states = [{"machine": "A", **span(0, 60, state="not good")}, {"machine": "A", **span(60, 100, state="good")}]
    one = scene(("A",), [], [span(0, 50, state="unknown")], states)
    stopped = {"machine": "A", "at_utc": BEGAN - timedelta(seconds=9), "event": "stop"}
    drawn = str(draw_pair(pair(Scene(**{**one.__dict__, "motions": [stopped]}), "A", None), 1, 20))
    assert '<path class="low" d="M0 6H60"/>' in drawn
    assert 'fill="url(#hatch-covered)" d="M60 3H100v6H60z"' in drawn
    # No word of A after 100 s, and none of who fed air before 50 s.
    assert 'fill="url(#hatch-not-known)" d="M100 3H150v6H100zM0 11H50v4H0z"' in drawn


def test_it_stays_below_its_bytes_whatever_happened() -> None:
    # Every second another state and another source, and names that swell when escaped.
    names = ('"<&>"' * 20, "'" * 90)
    words = ("lost", "exposed", "covered", "unproved", "unknown")
    feeds = [span(at, at + 1, feed=names[at % 2]) for at in range(150)]
    spans = [span(at, at + 1, state=words[at % 5]) for at in range(150)]
    states = [
        {"machine": name, **span(at, at + 1, state="good" if (at + place) % 2 else "not good")}
        for place, name in enumerate(names)
        for at in range(0, 150, 2)
    ]
    for tag, locale in (("en", "en-GB"), ("de", "de-DE")):
        with speaking(tag, locale):
            drawn = thumb(pair(scene(names, feeds, spans, states), *names))
        assert len(drawn.encode()) <= MOST_BYTES, tag
        assert "hatch-lost" in drawn, tag
        assert "<&" not in drawn, tag


def test_the_words_give_each_state_its_time_inside_the_picture() -> None:
    # 20 s before the picture begins are not counted: 30 − 20 = 10 s of covered air; then 5 s lost, 4 s not known.
    spans = [span(-20, 10, state="covered"), span(10, 15, state="lost"), span(15, 19, state="unknown")]
    told = pair_says(pair(scene(("A", "B"), [], spans, []), "A", "B"), 20)
    assert told == "above A, below B; covered 10 s; lost 5 s; not known 4 s"


def test_every_pair_in_a_page_is_a_picture_with_words(rendered: Rendered) -> None:
    pictures = re.findall(r'<svg class="pair" role="img" aria-label="([^"]+)"', rendered.html["index.html"])
    assert len(pictures) == 3
    assert all(len(words) > 30 for words in pictures)
