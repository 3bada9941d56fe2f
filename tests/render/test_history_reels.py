"""The pages of reels: which playing an event belongs to, faults against what is expected, what the list holds."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from pipeline.render.history_links import make_links
from pipeline.render.history_reel_words import (
    Reel,
    against,
    common,
    elsewhere,
    happened,
    label,
    opening,
    played,
    recordist,
)
from pipeline.render.history_reels import list_sheets, neighbours, plain, playings
from pipeline.render.reading import Reading
from pipeline.render.words import Local
from tests.render.conftest import Rendered
from tests.render.small_room import SETTINGS, at

LOCAL = Local(SETTINGS.zone)
ROW: dict[str, Any] = {
    "reel": "K1", "is_told": True, "is_labelled": True, "programme": "Moss", "show_name": "part 1",
    "recorded_on": "T3", "recorded_at_utc": at("01-05 10:00:00"), "recordist_no": 2, "recorded_by": None,
    "bookings_count": 2, "plays_count": 2, "last_at_utc": at("02-02 10:00:00"), "faults_count": 3, "played_h": 2.0,
    "expected": 0.6,
}  # fmt: skip


def booking(machine: str, start: str, end: str, **more: Any) -> dict[str, Any]:
    row = {"machine": machine, "role": "air", "started_at_utc": at(start), "ended_at_utc": at(end), "is_ahead": False}
    return row | more


def fault(machine: str, when: str, what: str, **more: Any) -> dict[str, Any]:
    return {"machine": machine, "at_utc": at(when), "what": what, "incident": None, "is_common": False} | more


def part(machine: str, when: str) -> dict[str, Any]:
    return {
        "machine": machine, "started_at_utc": at(when), "incident": "X", "recovery_no": 1, "interruption_no": 1,
        "kind": None, "is_healed": True,
    }  # fmt: skip


def test_an_event_belongs_to_the_booking_it_began_in_and_a_fault_to_the_one_that_ran_up_to_it() -> None:
    bookings = [
        booking("T1", "02-01 10:00:00", "02-01 11:00:00"),
        booking("T1", "02-01 11:00:00", "02-01 12:00:00"),
        booking("T2", "02-01 10:00:00", "02-01 12:00:00"),
        booking("T1", "02-01 12:00:00", "02-01 13:00:00", role="record"),
        booking("T1", "09-01 12:00:00", "09-01 13:00:00", is_ahead=True),
    ]
    found = playings(bookings, [part("T1", "02-01 11:00:00")], [fault("T1", "02-01 11:00:00", "unlock")])
    # At 11:00:00 on T1: the event begins the second booking, the fault ends the first. Neither is T2's.
    assert [(len(one.events), len(one.faults)) for one in found] == [(0, 1), (1, 0), (0, 0)]
    assert [row["into"] for row in happened(found[1])] == ["0 s"]
    assert happened(found[0])[0]["words"].endswith(", off air")
    assert happened(found[0])[0]["into"] == "1 h"


def test_a_fault_that_was_an_event_is_told_once() -> None:
    bookings = [booking("T1", "02-01 10:00:00", "02-01 11:00:00")]
    found = playings(bookings, [part("T1", "02-01 10:30:00")], [fault("T1", "02-01 10:30:00", "unlock", incident="X")])
    assert (len(found[0].events), len(found[0].faults)) == (1, 0)


def test_faults_are_held_against_what_the_players_would_bring() -> None:
    # Garwood limits of 3 are 0.6187 and 8.7673 (published tables); over 0.6: 1.03 and 14.6. 3 / 0.6 = 5.
    told = against(3, 0.6, 541)
    assert told.startswith(
        "3 faults in its playing, where the rates of its players would bring 0.60: 5.00 times as many"
    )
    assert "limits 1.03 to 14.6" in told
    assert "of 541 reels played some stand out so by chance alone" in told
    # 3 against 2.5: 0.25 to 3.51 hold 1.
    assert against(3, 2.5, 541).endswith("Chance alone easily gives that.")
    # None against 5: the upper limit of 0 is −ln 0.025 = 3.689; over 5 it is 0.74, below 1.
    assert "for a single reel" in against(0, 5.0, 541).lower()


@pytest.mark.parametrize(
    ("faults", "players", "told"),
    [
        (
            [fault("T1", "02-01 10:00:00", "unlock"), fault("T2", "02-02 10:00:00", "unlock")],
            [],
            "The same fault came on more than one machine, which speaks for the tape:",
        ),
        (
            [fault("T1", "02-01 10:00:00", "unlock"), fault("T1", "02-02 10:00:00", "picture lost")],
            [{"machine": "T2", "played_h": 1.5}, {"machine": "T1", "played_h": 1.0}],
            "No fault came on two machines alike; T2 played it for 1.50 h without one.",
        ),
        (
            [fault("T1", "02-01 10:00:00", "unlock")],
            [{"machine": "T1", "played_h": 1.0}],
            "No other machine played it without a fault, so player and tape cannot be told apart by it alone.",
        ),
    ],
)
def test_whether_the_fault_came_elsewhere_is_said(faults: Any, players: Any, told: str) -> None:
    assert elsewhere(Reel(ROW, faults=tuple(faults), players=players)).startswith(told)


def test_faults_on_both_copies_are_told_apart() -> None:
    both = [fault("T1", "02-01 10:00:00", "unlock", is_common=True), fault("T1", "02-02 10:00:00", "unlock")]
    assert common(Reel(ROW, faults=tuple(both))) == [
        "1 fault began on both copies at once, which speaks for the recording or the feed, and does not count."
    ]


def test_a_label_is_told_without_a_name() -> None:
    assert label(Reel(ROW), LOCAL) == (
        "K1 is labelled: Moss; part 1; recorded on T3, on 5 January 2031, by recordist 2."
    )
    assert recordist({**ROW, "recorded_by": "crew a"}) == "crew a"
    assert recordist({**ROW, "recordist_no": None}) == "not recorded"
    assert label(Reel({**ROW, "is_labelled": False}), LOCAL) == "K1 has no label. It was booked for Moss."


def test_an_id_that_nothing_knows_may_be_another_one() -> None:
    assert plain("KO3O6-1A") == plain("K0306-1A") == plain("k0306-iA") == "K0306-1A"
    told = label(Reel({**ROW, "reel": "KO3O6-1A"}, alike=("K0306-1A",)), LOCAL)
    assert told.endswith("With O taken for 0, and I or L for 1, it may be K0306-1A.")


def test_a_reel_that_was_never_played_says_so() -> None:
    assert played(Reel(ROW)) == "It was not played while these logs were written."
    assert opening(Reel({**ROW, "faults_count": 0}), LOCAL)[1:] == ["No ticket names it."]


def test_neighbours_are_those_recorded_next_on_the_same_machine() -> None:
    reels = [{"reel": f"K{number}"} for number in range(9)]
    found = [row["reel"] for row in neighbours(reels, {"reel": "K2"})]
    assert found == ["K0", "K1", "K3", "K4", "K5", "K6", "K7"]
    assert neighbours(reels, {"reel": "elsewhere"}) == []


def test_a_page_tells_every_playing(rendered: Rendered) -> None:
    text = rendered.text("reel-k0101-air.html")
    # Booked on air: A1 and A2 on T1, B1 and B2 on T3, B3 on the machine with the hostile name.
    assert "It was played 5 times on T1, T3 and Z9" in text
    assert text.count('href="machine-t1.html"') == 3  # in two playings and machine by machine
    assert "K0101-air has no label. It was booked for Moss." in text


def test_the_list_holds_every_reel_in_parts(reading: Reading) -> None:
    many = [{**ROW, "reel": f"R{number:04}"} for number in range(1201)]
    links = make_links([], [row["reel"] for row in many], [])
    large = replace(reading, site={**reading.site, "reels": many}, links=links)
    sheets = list(list_sheets(large))
    assert [sheet.name for sheet in sheets] == ["reels.html", "reels-2.html", "reels-3.html"]
    assert [len(sheet.context["rows"]) for sheet in sheets] == [500, 500, 201]
    assert [page["first"] for page in sheets[0].context["pages"]] == ["R0000", "R0500", "R1000"]
    assert [page["last"] for page in sheets[0].context["pages"]] == ["R0499", "R0999", "R1200"]


def test_there_is_a_list_even_without_a_reel(reading: Reading) -> None:
    (sheet,) = list_sheets(replace(reading, site={**reading.site, "reels": []}))
    assert sheet.context["told"] == ["No reel is named: neither by a booking nor by a label nor on a ticket."]
