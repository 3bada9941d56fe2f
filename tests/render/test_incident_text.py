"""The text of an incident: it says what its page says, points at lines it shows, and holds only signs that print."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from typing import Any

import pytest

from pipeline.render.incident_text import MOST_LINES, WIDTH, incident_data, incident_text
from pipeline.render.incidents import incident_sheets
from pipeline.render.reading import Reading
from pipeline.render.sheet import Sheet
from pipeline.render.shown import Window
from pipeline.render.window import render_window
from tests.render.conftest import Rendered
from tests.render.small_room import PERSON, SETTINGS, at


@pytest.fixture(scope="module")
def sheets(reading: Reading) -> list[Sheet]:
    return list(incident_sheets(reading))


def block(text: str, heading: str) -> str:
    """The lines below a heading as one."""
    return " ".join(text.split(f"\n\n{heading}\n")[1].split("\n\n", maxsplit=1)[0].split())


def test_it_says_what_happened_with_the_numbers_of_its_lines(sheets: list[Sheet], reading: Reading) -> None:
    text = incident_text(sheets[0], reading)
    assert text.startswith("Room <of> & tests: 10 February 2031, 20:19:58: channel One\n")
    # T1's clock is 2 s fast: its loss at 19:20:00 UTC was at 20:19:58 local, and protect came 14 s later.
    assert "14 s of air lost." in text
    account, lines = block(text, "What happened"), block(text, "The lines behind it")
    assert "T1, on air, logged picture lost" in account
    number = re.search(r"logged picture lost\. \[([\d, ]+)\]", account)
    assert number is not None
    shown = dict(re.findall(r"(?:^| )(\d+) (?:≈ )?[\d:.-]+ (?:[\d:.]+ )?\([^)]*\) (.*?\(.*?, line \d+)", lines))
    cited = set(re.findall(r"\d+", number.group(1)))
    assert cited <= set(shown)
    assert any("T1: picture lost (events.csv, line 10" in shown[one] for one in cited)
    assert "10 February 2031" in text
    assert "the data go to 31 March 2031 at 13:59:58 CEST" in " ".join(text.split())


def test_every_number_in_it_is_a_line_it_shows(sheets: list[Sheet], reading: Reading) -> None:
    for sheet in sheets:
        text = incident_text(sheet, reading)
        told, lines = text.split("\n\nThe lines behind it\n")
        shown = {int(number) for number in re.findall(r"^ {2} *(\d+)  ", lines, re.MULTILINE)}
        cited = {
            int(number)
            for group in re.findall(r"\[([\d, ]+)\]", " ".join(told.split()))
            for number in group.split(", ")
        }
        assert cited
        assert cited <= shown


def test_its_lines_are_short_and_its_letters_print(sheets: list[Sheet], reading: Reading) -> None:
    for sheet in sheets:
        text = incident_text(sheet, reading)
        assert all(line.isprintable() for line in text.split("\n"))
        assert all(len(line) <= WIDTH or " " not in line.strip() for line in text.split("\n"))
        assert PERSON not in text


def test_signs_that_steer_a_terminal_are_left_out(sheets: list[Sheet], reading: Reading) -> None:
    """ESC (U+001B), CSI (U+009B), BEL (U+0007) and the bidi override U+202E: control and format letters of Unicode."""
    wicked = "a\x1b[31mb\x9b2Jc\x07d\u202ee\nf"
    row: dict[str, Any] = {**sheets[0].context["lines"][0], "what": wicked, "source": wicked, "file": wicked}
    sheet = replace(sheets[0], title=wicked, context={**sheets[0].context, "headline": wicked, "lines": [row]})
    text = incident_text(sheet, reading)
    assert not {"\x1b", "\x9b", "\x07", "\u202e"} & set(text)
    assert "d e f" in " ".join(text.split())


def test_lines_are_bounded_but_never_those_the_account_rests_on(sheets: list[Sheet], reading: Reading) -> None:
    context = sheets[0].context
    first = context["lines"][0]
    many = [
        {**first, "file": "more.csv", "line": number, "number": number, "at_utc": context["incident"]["started_at_utc"]}
        for number in range(1000, 1000 + 3 * MOST_LINES)
    ]
    sheet = replace(sheets[0], context={**context, "lines": [*context["lines"], *many], "left_out": 7})
    text = incident_text(sheet, reading)
    shown = re.findall(r"^ {2} *(\d+)  ", text.split("\n\nThe lines behind it\n")[1], re.MULTILINE)
    assert len(shown) == MOST_LINES
    assert {str(context["numbers"][ref]) for one in context["accounts"][0]["sentences"] for ref in one.lines} <= set(
        shown
    )
    hidden = len(context["lines"]) + 3 * MOST_LINES - MOST_LINES
    assert f"{hidden} lines more on the page, and 7 lines further away on none." in text


def test_the_same_as_values(sheets: list[Sheet], reading: Reading) -> None:
    data = json.loads(json.dumps(incident_data(sheets[0], reading), allow_nan=False))
    assert (data["incident"], data["channel"], data["lost_s"]) == ("20310210-191958-one", "One", 14.0)
    assert data["started_at_utc"] == "2031-02-10T19:19:58Z"
    assert data["as_of_utc"] == "2031-03-31T11:59:58Z"  # T1 cleaned at 12:00:00 by a clock 2 s fast
    (part,) = data["parts"]
    places = {(line["file"], line["line"]) for line in data["lines"]}
    assert {(ref["file"], ref["line"]) for said in part["sentences"] for ref in said["lines"]} <= places
    text = " ".join(incident_text(sheets[0], reading).split())
    plain = re.sub(r" \[[\d, ]+\]", "", text)
    assert all(" ".join(said["text"].split()) in plain for said in part["sentences"])
    assert data["not_known"] == list(sheets[0].not_known)


def test_a_time_that_is_no_incident_tells_the_air(rendered: Rendered) -> None:
    window = Window("window-a", "Two", at("02-11 19:02:00"), at("02-11 19:03:00"))
    page = render_window(rendered.store, SETTINGS, rendered.figures, window)
    text = " ".join(incident_text(page.sheet, page.reading).split())
    assert "11 February 2031, 20:02:00 to 20:03:00: channel Two" in text
    assert "This is no incident but a time that was asked for: 1 min of channel Two. No interruption," in text
    assert "20:00:00 to 20:30:00 T3: covered" in text  # B1 has 30 min on Two, both machines in step before it
    assert "The moments" not in text
    data = incident_data(page.sheet, page.reading)
    assert (data["incident"], data["parts"], data["moments"]) == (None, [], [])
    assert [(row["feed"], row["state"]) for row in data["air"]] == [("T3", "covered")]


def test_a_time_that_events_touch_tells_them_and_names_their_incident(rendered: Rendered) -> None:
    window = Window("window-a", "Two", at("03-09 20:10:30"), at("03-09 20:40:00"))
    page = render_window(rendered.store, SETTINGS, rendered.figures, window)
    text = " ".join(incident_text(page.sheet, page.reading).split())
    assert "One event of the channel touches it and is told whole: 48 s of air lost." in text
    assert "Incidents within 15 min of it: 20310309-201000-two (2031-03-09 21:10:00)." in text
    assert incident_data(page.sheet, page.reading)["parts"][0]["incident"] == "20310309-201000-two"
